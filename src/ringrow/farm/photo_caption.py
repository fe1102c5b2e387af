"""What the words of a photo say of a place, before anybody asks which machine they mean."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from ringrow.farm.place_terms import DROP, PLACE_TERMS, bare_letters, side_said
from ringrow.farm.readers.cells import plain_words

if TYPE_CHECKING:
    from collections.abc import Iterable

    from ringrow.equipment.lateral_move import Hand
    from ringrow.farm.flag_model import Spot
    from ringrow.farm.readers.guess import Around

AGREE_M = 30.0
"""Words and position agree within this and three sigma: people stand off to get all into a picture. [m]"""

_NUMBERED = {
    "pivot": r"(?:pivote|pivot|maquina|machine|p)",
    "move": r"(?:move|avance|m)",
    **PLACE_TERMS,
}
_COMMON = ("pivot", "pivote", "machine", "maquina", "lateral", "linear", "move", "avance", "frontal")


@dataclass(frozen=True, slots=True, kw_only=True)
class Caption:
    """What a caption says of a place.

    Parameters
    ----------
    plain : str
        Its words in small letters without accents, a blank at both ends.
    pivot, move, tower, span, outlet : int or None, default None
        Numbers said of each.
    drop : int or None, default None
        Drops past (positive) or before (negative) a tower.
    lateral, station : int or None, default None
        Numbers said of each; a station is in the farm's length unit.
    side : str, default ""
        ``left`` or ``right``, that which stands nearest the tower or span; empty when not said.
    """

    plain: str
    pivot: int | None = None
    move: int | None = None
    tower: int | None = None
    span: int | None = None
    outlet: int | None = None
    drop: int | None = None
    lateral: int | None = None
    station: int | None = None
    side: Hand | str = ""

    def on_machine(self) -> bool:
        """Return whether a part of a machine is named.

        Returns
        -------
        bool
            True for a tower, span or outlet.
        """
        return any(value is not None for value in (self.tower, self.span, self.outlet))

    def names(self, name: str) -> bool:
        """Return whether a whole name stands among the words.

        Parameters
        ----------
        name : str
            Such as ``Windmill pivot``.

        Returns
        -------
        bool
            False for an empty name too.
        """
        return bool(name) and f" {plain_words(name)} " in self.plain


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """What became of a caption's words.

    Parameters
    ----------
    spot : GroundSpot, MachineSpot, MoveSpot, DripSpot, WellSpot or None, default None
        The place; None when they name none.
    around : str, default ""
        What that place lies on, for the guess of the kind.
    remarks : tuple of str, default ()
        What is shown of it.
    """

    spot: Spot | None = None
    around: Around = ""
    remarks: tuple[str, ...] = field(default=())


def read_caption(text: str) -> Caption:
    """Return what a caption says of a place.

    Parameters
    ----------
    text : str
        Words of a photo, English or Spanish.

    Returns
    -------
    Caption
        Its numbers and words.

    Examples
    --------
    >>> said = read_caption("Avance frontal izquierda torre 3 llanta")
    >>> said.side, said.tower
    ('left', 3)
    """
    plain = bare_letters(text.replace("_", " "))
    found = {}
    for name, word in _NUMBERED.items():
        # Three digits at most, a station apart: P1000412 is a camera's counter, not a machine.
        most = 5 if name == "station" else 4 if name == "lateral" else 3
        found[name] = re.search(rf"(?<![a-z]){word}[\s.#-]{{0,2}}(\d{{1,{most}}})(?!\d)", plain)
    drop = DROP.search(plain)
    return Caption(
        plain=f" {plain_words(plain)} ",
        drop=int(drop[1]) if drop else None,
        side=side_said(plain, found["tower"] or found["span"]),
        **{name: int(match[1]) if match else None for name, match in found.items()},
    )


def named_machine(names: Iterable[str], caption: Caption) -> str | None:
    """Return the one machine whose name stands in the words, or whose own word of it does.

    Parameters
    ----------
    names : iterable of str
        Names of all machines of a farm.
    caption : Caption
        The words.

    Returns
    -------
    str or None
        The name; None when none is named, or several.

    Examples
    --------
    >>> named_machine(["Windmill pivot", "Ditch lateral"], read_caption("ditch left T3 gearbox"))
    'Ditch lateral'
    """
    names = list(names)
    whole = [name for name in names if caption.names(name)]
    if len(whole) == 1:
        return whole[0]
    own: dict[str, list[str]] = {}
    for name in names:
        for word in plain_words(name).split():
            if word not in _COMMON and len(word) > 2:
                own.setdefault(word, []).append(name)
    found = {owners[0] for word, owners in own.items() if len(owners) == 1 and f" {word} " in caption.plain}
    return found.pop() if len(found) == 1 else None

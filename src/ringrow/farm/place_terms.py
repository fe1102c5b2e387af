"""Words for places on machines and tape as people write them, English and Spanish, without accents."""

from __future__ import annotations

import re
import unicodedata
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ringrow.equipment.lateral_move import Hand

PLACE_TERMS: dict[str, str] = {
    "tower": r"(?:tower|torre|t)",
    "span": r"(?:span|tramo)",
    "outlet": r"(?:outlet|salida)",
    "lateral": r"(?:lateral|linea|line|l)",
    "station": r"(?:station|estacion|sta|st)",
}
"""Pattern of the word that stands before a number, by what is numbered."""

DROP = re.compile(r"(?<![a-z])(?:drop|bajante)\s?([+-]\d{1,2})(?!\d)")
"""A drop past or before a tower."""

_SIDE = re.compile(r"(?<![a-z])(?:(left|izquierd[ao]|izq)|(right|derech[ao]|der))(?![a-z])")


def bare_letters(text: str) -> str:
    """Return a text in small letters without accents; all else stays.

    Parameters
    ----------
    text : str
        Any text.

    Returns
    -------
    str
        Such as the patterns of this module are for.

    Examples
    --------
    >>> bare_letters("Tramo 4: LÍNEA rota")
    'tramo 4: linea rota'
    """
    bare = unicodedata.normalize("NFKD", text.casefold())
    return "".join(letter for letter in bare if not unicodedata.combining(letter))


def side_said(plain: str, part: re.Match[str] | None) -> Hand | str:
    """Return the side of a lateral move's cart that words name.

    Parameters
    ----------
    plain : str
        Words as `bare_letters` gives them.
    part : re.Match or None
        Where a tower or span is named; the side nearest it counts, the first of two as near.

    Returns
    -------
    str
        ``left`` or ``right``; empty when none is named, or both and no tower.

    Examples
    --------
    >>> words = "left t3, right rear tire"
    >>> side_said(words, re.search("t3", words)), side_said(words, None)
    ('left', '')
    """
    said = list(_SIDE.finditer(plain))
    if part is None:
        sides = {"left" if each[1] else "right" for each in said}
        return sides.pop() if len(sides) == 1 else ""
    gaps = [max(part.start() - each.end(), each.start() - part.end()) for each in said]
    if not gaps:
        return ""
    return "left" if said[gaps.index(min(gaps))][1] else "right"

"""Parts that machines, zones and wells used in earlier years, as the season log tells.

The table of parts by kind of flag says what a fault usually needs. What was really used on the
same machine or zone in years before is known where crews said so (``flag set --parts``); a
system of which nobody said anything is not guessed at.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ringrow.farm.adding_up import PARTS, is_parts_value, standing
from ringrow.farm.folding import by_field
from ringrow.handoff.flag_table import system_of
from ringrow.handoff.languages import _
from ringrow.handoff.number_words import one_line

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from ringrow.farm.events import Event
    from ringrow.farm.flag_model import LocatedFlag


@dataclass(frozen=True, slots=True, kw_only=True)
class EarlierPart:
    """A part that a machine, zone or well used in earlier years.

    Parameters
    ----------
    where : str
        The machine, drip block with its zone, or well.
    part : str
        What was used, as it was first said.
    quantity : int
        How many in all those years together. [-]
    years : tuple of int
        The years, rising. [-]
    """

    where: str
    part: str
    quantity: int
    years: tuple[int, ...]


def place_of_use(flag: LocatedFlag) -> str:
    """Return the machine, zone or well that a flag's parts are used on.

    Parameters
    ----------
    flag : LocatedFlag
        The flag.

    Returns
    -------
    str
        Such as ``Windmill pivot`` or ``Elevator drip, North zone``; empty for a flag on none.
    """
    system = system_of(flag) or ""
    zone = flag.drip.zone if flag.drip is not None and flag.drip.name == system else None
    return f"{system}, {zone}" if zone else system


def earlier_parts(
    everything: Iterable[LocatedFlag],
    events: Iterable[Event],
    wanted: Iterable[LocatedFlag],
    *,
    year: int,
) -> tuple[EarlierPart, ...]:
    """Return what the places of some flags used in the years before one.

    Parameters
    ----------
    everything : iterable of LocatedFlag
        All flags of the log, fixed ones above all.
    events : iterable of Event
        Events of the log.
    wanted : iterable of LocatedFlag
        Flags that are about to be worked on.
    year : int
        The year that is no earlier one; a visit belongs to the year it was said in, UTC. [-]

    Returns
    -------
    tuple of EarlierPart
        By place, then by part; nothing for a place of which the log knows nothing.
    """
    places = {place_of_use(flag) for flag in wanted} - {""}
    used = {
        id_: where for flag in everything if (where := place_of_use(flag)) in places for id_ in flag.state.ids
    }
    rows: dict[tuple[str, str], Counter[int]] = {}
    names: dict[str, str] = {}
    for id_, fields in by_field(events).items():
        if id_ not in used:
            continue
        for event in standing(fields.get(PARTS, ())):
            if event.when.year >= year or not is_parts_value(event.value):
                continue
            for row in event.value:
                name = " ".join(row["part"].split())
                names.setdefault(name.casefold(), name)
                rows.setdefault((used[id_], name.casefold()), Counter())[event.when.year] += row["quantity"]
    return tuple(
        EarlierPart(
            where=where, part=names[key], quantity=sum(by_year.values()), years=tuple(sorted(by_year))
        )
        for (where, key), by_year in sorted(rows.items())
    )


def earlier_lines(parts: Sequence[EarlierPart]) -> list[str]:
    """Return what was used in earlier years, one line a place.

    Parameters
    ----------
    parts : sequence of EarlierPart
        As `earlier_parts` gives them.

    Returns
    -------
    list of str
        Such as ``Elevator drip, North zone, used here in earlier years: 3 x coupling (2026, 2027)``.

    Examples
    --------
    >>> part = EarlierPart(where="Creek pivot", part="tire", quantity=2, years=(2026, 2027))
    >>> earlier_lines([part])
    ['Creek pivot, used here in earlier years: 2 x tire (2026, 2027)']
    """
    lines = []
    for where in dict.fromkeys(part.where for part in parts):
        said = [
            f"{part.quantity} x {one_line(part.part)} ({', '.join(map(str, part.years))})"
            for part in parts
            if part.where == where
        ]
        text = _("{place}, used here in earlier years: {parts}")
        lines.append(text.format(place=one_line(where), parts="; ".join(said)))
    return lines

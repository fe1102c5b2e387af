"""Flags set before a machine was rebuilt: they must not point at new hardware.

A rebuild stands in the machine's own file, beside the new spans and outlets that make it needed:
``[[pivot.rebuilt]]`` with a day and what is new. So a flag set before that day keeps its distance
along the pipe, as it was worked out then, and loses the outlet number, which is another now.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, time, timedelta, timezone
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from ringrow.farm.flag_model import LocatedFlag, MachineSpot, MoveSpot

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from datetime import date, tzinfo

    from ringrow.equipment.rebuild import Rebuild
    from ringrow.farm.flag_model import FlagState
    from ringrow.farm.model import Farm

_SOLAR_DEG_PER_H = 15.0


def day_zone(farm: Farm) -> tzinfo:
    """Return the zone by which a farm's days begin and end.

    Parameters
    ----------
    farm : Farm
        The farm.

    Returns
    -------
    tzinfo
        Its stated time zone; else the sun's, in whole hours, at its first field.

    Examples
    --------
    >>> from pathlib import Path
    >>> from ringrow.farm.model import Farm
    >>> from ringrow.units import US
    >>> day_zone(Farm(folder=Path(), name="A", units=US, time_zone="America/Chicago")).key
    'America/Chicago'
    """
    if farm.time_zone is not None:
        return ZoneInfo(farm.time_zone)
    lon = farm.fields[0].frame.lon if farm.fields else 0.0
    return timezone(timedelta(hours=round(lon / _SOLAR_DEG_PER_H)))


def rebuilds_before(rebuilt: Iterable[Rebuild], when: datetime, *, kind: str, zone: tzinfo) -> int:
    """Return how often the part of a machine that a flag speaks of had been renewed before a time.

    Parameters
    ----------
    rebuilt : iterable of Rebuild
        The machine's rebuilds.
    when : datetime
        When the flag was set.
    kind : str
        Its kind.
    zone : tzinfo
        Zone of the days.

    Returns
    -------
    int
        Number of rebuilds; one counts from midnight of its day. [-]
    """
    return sum(_start(each.day, zone) <= when for each in rebuilt if each.renews(kind))


def rebuilt_since(rebuilt: Iterable[Rebuild], when: datetime, *, kind: str, zone: tzinfo) -> date | None:
    """Return the first day after a flag was set from which its machine is not what it was.

    Parameters
    ----------
    rebuilt : iterable of Rebuild
        The machine's rebuilds.
    when : datetime
        When the flag was set.
    kind : str
        Its kind.
    zone : tzinfo
        Zone of the days.

    Returns
    -------
    date or None
        The day; None when the hardware is still the same.
    """
    days = [each.day for each in rebuilt if each.renews(kind) and _start(each.day, zone) > when]
    return min(days, default=None)


def _start(day: date, zone: tzinfo) -> datetime:
    return datetime.combine(day, time(), tzinfo=zone)


def farm_rebuilds(farm: Farm) -> dict[str, tuple[Rebuild, ...]]:
    """Return the rebuilds of a farm's machines by the names they go by.

    Parameters
    ----------
    farm : Farm
        The farm.

    Returns
    -------
    dict of str to tuple of Rebuild
        Only machines that were rebuilt; a towed one under its own name and its points'.
    """
    found: dict[str, tuple[Rebuild, ...]] = {}
    for field in farm.fields:
        for pivot in field.pivots:
            found |= {name: pivot.rebuilt for name in (pivot.name, pivot.machine) if name and pivot.rebuilt}
        found |= {move.name: move.rebuilt for move in field.lateral_moves if move.rebuilt}
    return found


def spots_as_set(
    states: Sequence[FlagState], rebuilds: Mapping[str, Sequence[Rebuild]], *, zone: tzinfo
) -> list[FlagState]:
    """Return flags whose machine was rebuilt since with the distance they were set at alone.

    Parameters
    ----------
    states : sequence of FlagState
        Flags.
    rebuilds : mapping of str to sequence of Rebuild
        Rebuilds by machine.
    zone : tzinfo
        Zone of the days.

    Returns
    -------
    list of FlagState
        The same flags; what was named (tower, drop, span, outlet) stays in their words and no
        longer finds a place on the machine.
    """
    return [_as_set(state, rebuilds, zone) for state in states]


def _as_set(state: FlagState, rebuilds: Mapping[str, Sequence[Rebuild]], zone: tzinfo) -> FlagState:
    spot = state.spot
    if not isinstance(spot, MachineSpot | MoveSpot):
        return state
    own = rebuilds.get(spot.pivot if isinstance(spot, MachineSpot) else spot.move, ())
    if rebuilt_since(own, state.set_at, kind=state.kind, zone=zone) is None:
        return state
    if isinstance(spot, MoveSpot):
        return replace(state, spot=replace(spot, tower=None, span=None))
    if spot.distance_m is None:
        return state
    return replace(state, spot=replace(spot, tower=None, drop=None, span=None, outlet=None))


def rebuilt_flags(
    flags: Sequence[LocatedFlag], rebuilds: Mapping[str, Sequence[Rebuild]], *, zone: tzinfo
) -> list[LocatedFlag]:
    """Return flags with the day their machine was rebuilt since, and no outlet number of the new one.

    Parameters
    ----------
    flags : sequence of LocatedFlag
        Flags with their places.
    rebuilds : mapping of str to sequence of Rebuild
        Rebuilds by machine.
    zone : tzinfo
        Zone of the days.

    Returns
    -------
    list of LocatedFlag
        In their order.
    """
    return [_rebuilt(flag, rebuilds, zone) for flag in flags] if rebuilds else list(flags)


def _rebuilt(flag: LocatedFlag, rebuilds: Mapping[str, Sequence[Rebuild]], zone: tzinfo) -> LocatedFlag:
    machine = flag.pivot or flag.move
    if machine is None or flag.kind.on != "machine":
        return flag
    own = rebuilds.get(machine.name, ())
    day = rebuilt_since(own, flag.state.set_at, kind=flag.kind.name, zone=zone)
    if day is None:
        return flag
    pivot = flag.pivot
    if pivot is not None:
        pivot = replace(pivot, outlet=None, outlet_range=None, outlet_chance=None)
    return replace(flag, pivot=pivot, rebuilt=day)

"""Breakdowns in season, said and corrected: when a system stopped, where it stood, which tower.

A breakdown is one record. What it cost is not stored.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

from ringrow.errors import PlaceError, SeasonError
from ringrow.farm.events import MAX_NOTE, parse_when, when_text
from ringrow.farm.flags import checked_text
from ringrow.farm.machine_spots import Said, pivot_named, said_azimuth_deg
from ringrow.farm.put_away import find_system
from ringrow.farm.records import fold_records, record_event

if TYPE_CHECKING:
    from collections.abc import Iterable

    from ringrow.farm.flags import Stamp
    from ringrow.farm.model import Farm
    from ringrow.farm.records import Record
    from ringrow.farm.season import Season

BREAKDOWN = "breakdown"
"""Type of the records."""
DIRECTIONS: tuple[str, ...] = ("forward", "reverse")
"""Ways a machine may be started again."""

_AHEAD = timedelta(days=1)
_LEAST_PREFIX = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class SaidBreakdown:
    """What somebody says about a breakdown; None leaves it as it was.

    Parameters
    ----------
    stopped, restarted : datetime or None, default None
        When it stopped; when it ran again.
    azimuth_deg, panel_deg : float or None, default None
        True azimuth at which it stood, or what the panel showed. [deg]
    tower : int or None, default None
        The tower that stopped it.
    direction : str or None, default None
        Which way it was started again.
    why : str or None, default None
        What it was.
    flow_lps : float or None, default None
        Flow it would have put on, where the farm's files do not say. [L/s]
    """

    stopped: datetime | None = None
    restarted: datetime | None = None
    azimuth_deg: float | None = None
    panel_deg: float | None = None
    tower: int | None = None
    direction: str | None = None
    why: str | None = None
    flow_lps: float | None = None


def add_breakdown(season: Season, farm: Farm, system: str, said: SaidBreakdown, *, stamp: Stamp) -> Record:
    """Keep that a system broke down.

    Parameters
    ----------
    season : Season
        Open log.
    farm : Farm
        The farm.
    system : str
        Name of a machine, drip block or well.
    said : SaidBreakdown
        What is said; when it stopped is needed.
    stamp : Stamp
        Who says so and when.

    Returns
    -------
    Record
        The breakdown.

    Raises
    ------
    PlaceError
        If there is no such system, or it has no such tower, azimuth or panel.
    SeasonError
        If a time or direction cannot be, the system stood already at that time, or the log cannot be
        written.
    """
    if said.stopped is None:
        message = "breakdown: found no time at which it stopped; allowed: --stopped with a date and time"
        raise SeasonError(message)
    value = _changed({"system": _name_of(farm, system, said)}, said, farm)
    _check(value, stamp)
    event = record_event(BREAKDOWN, value, stamp=stamp)
    with season.writing():
        _check_alone(value, fold_records(season.events()))
        season.append([event])
    return next(record for record in fold_records([event]))


def change_breakdown(season: Season, farm: Farm, ref: str, said: SaidBreakdown, *, stamp: Stamp) -> Record:
    """Correct a breakdown, or say that the system runs again.

    Parameters
    ----------
    season : Season
        Open log.
    farm : Farm
        The farm.
    ref : str
        The first four or more characters of its id; or the name of a system of which exactly one
        breakdown is open.
    said : SaidBreakdown
        What is said now; the rest stays.
    stamp : Stamp
        Who says so and when.

    Returns
    -------
    Record
        The breakdown as it is now.

    Raises
    ------
    PlaceError
        If the machine has no such tower, azimuth or panel.
    SeasonError
        If no breakdown or more than one is meant, a time or direction cannot be, the system stood
        already at that time, or the log cannot be written.
    """
    with season.writing():
        events = season.events()
        records = fold_records(events)
        record = find_breakdown(records, ref)
        value = _changed(record.value, said, farm)
        _check(value, stamp)
        # What two logs brought together can be put right one breakdown at a time.
        others = [each for each in records if each.id != record.id and not _overlap(each.value, record.value)]
        _check_alone(value, others)
        seen = [event for event in events if event.flag == record.id]
        event = record_event(BREAKDOWN, value, stamp=stamp, subject=record.id, seen=seen)
        season.append([event])
    return next(each for each in fold_records([*seen, event]))


def remove_breakdown(season: Season, ref: str, *, stamp: Stamp) -> Record:
    """Take back that there was a breakdown; what was said stays in the log.

    Parameters
    ----------
    season : Season
        Open log.
    ref : str
        As for `change_breakdown`.
    stamp : Stamp
        Who says so and when.

    Returns
    -------
    Record
        What was taken back.

    Raises
    ------
    SeasonError
        If no breakdown or more than one is meant, or the log cannot be written.
    """
    with season.writing():
        events = season.events()
        record = find_breakdown(fold_records(events), ref)
        seen = [event for event in events if event.flag == record.id]
        season.append(
            [replace(record_event(BREAKDOWN, {}, stamp=stamp, subject=record.id, seen=seen), value=None)]
        )
    return record


def find_breakdown(records: Iterable[Record], ref: str) -> Record:
    """Return the breakdown that a person means.

    Parameters
    ----------
    records : iterable of Record
        Records of the season, of any type.
    ref : str
        The first four or more characters of its id; or the name of a system of which exactly one
        breakdown is open.

    Returns
    -------
    Record
        The breakdown.

    Raises
    ------
    SeasonError
        If none or more than one is meant.
    """
    own = [record for record in records if record.type == BREAKDOWN]
    text = ref.strip().casefold()
    by_id = [record for record in own if len(text) >= _LEAST_PREFIX and record.id.startswith(text)]
    named = [record for record in own if str(record.value.get("system", "")).casefold() == text]
    standing = [record for record in named if "restarted" not in record.value]
    found = by_id or standing or (named if len(named) == 1 else [])
    if len(found) == 1:
        return found[0]
    listed = "; ".join(f"{each.id[:8]} {each.value.get('system')}" for each in (found or named or own)[:8])
    message = (
        f'breakdown "{ref[:40]}": found {len(found)}; allowed: the first {_LEAST_PREFIX} or more characters '
        f"of the id of one ({listed or 'there are none'}), or a system with one open breakdown"
    )
    raise SeasonError(message)


def _name_of(farm: Farm, name: str, said: SaidBreakdown) -> str:
    system = find_system(farm, name)
    point = system.name_meant(name)
    if point == system.name and len(system.names) > 1 and said.panel_deg is not None:
        # What a panel shows means an azimuth only at the point where the machine stands.
        return pivot_named(farm, system.name, Said(panel_deg=said.panel_deg)).name
    return point


def _changed(before: dict[str, Any], said: SaidBreakdown, farm: Farm) -> dict[str, Any]:
    value = {key: item for key, item in before.items() if key != "type"}
    if said.stopped is not None:
        value["stopped"] = when_text(said.stopped)
    if said.restarted is not None:
        value["restarted"] = when_text(said.restarted)
    if said.azimuth_deg is not None or said.panel_deg is not None:
        value |= _stood(value["system"], said, farm)
    if said.tower is not None:
        value["tower"] = _tower(value["system"], said.tower, farm)
    if said.direction is not None:
        value["direction"] = said.direction
    if said.why is not None:
        value["why"] = checked_text(said.why, what="why", longest=MAX_NOTE)
    if said.flow_lps is not None:
        if not 0 < said.flow_lps < math.inf:
            message = f"flow: found {said.flow_lps:g} L/s; allowed: above 0"
            raise PlaceError(message)
        value["flow_lps"] = said.flow_lps
    return value


def _stood(system: str, said: SaidBreakdown, farm: Farm) -> dict[str, float]:
    pivots = {pivot.name: pivot for each in farm.fields for pivot in each.pivots}
    if system not in pivots:
        message = f'azimuth or panel of "{system}": allowed for a pivot, or a point of a towed one'
        raise PlaceError(message)
    angles = Said(azimuth_deg=said.azimuth_deg, panel_deg=said.panel_deg)
    return {"azimuth_deg": float(said_azimuth_deg(pivots[system], angles) or 0.0)}


def _tower(system: str, tower: int, farm: Farm) -> int:
    counts = {
        name: len(pivot.spans_m) + (pivot.corner_arm is not None)
        for each in farm.fields
        for pivot in each.pivots
        for name in (pivot.name, pivot.machine)
    }
    counts |= {
        move.name: max(len(move.left.spans_m), len(move.right.spans_m))
        for each in farm.fields
        for move in each.lateral_moves
    }
    most = counts.get(system, 0)
    if not 1 <= tower <= most:
        message = f'tower of "{system}": found {tower}; allowed: ' + (
            f"1 to {most}" if most else "none, it has no towers"
        )
        raise PlaceError(message)
    return tower


def _check(value: dict[str, Any], stamp: Stamp) -> None:
    stopped, restarted = parse_when(value["stopped"]), value.get("restarted")
    for name, when in (("stopped", stopped), ("restarted", parse_when(restarted) if restarted else None)):
        if when is not None and when > stamp.when + _AHEAD:
            message = f"{name}: found {when_text(when)[:16]}Z, after today; allowed: a time that was"
            raise SeasonError(message)
    if restarted and parse_when(restarted) < stopped:
        message = (
            f"restarted: found {restarted[:16]}Z, before it stopped at {value['stopped'][:16]}Z; "
            "allowed: the same time or later"
        )
        raise SeasonError(message)
    if "direction" in value and not restarted:
        message = "direction: found one without a time of restart; allowed: both, or neither"
        raise SeasonError(message)


def _check_alone(value: dict[str, Any], records: Iterable[Record]) -> None:
    """Check that a system does not stand twice at one time: its hours down would count twice."""
    for other in records:
        if other.type != BREAKDOWN or not _overlap(other.value, value):
            continue
        until = other.value.get("restarted")
        stood = f"from {other.value['stopped'][:16]}Z " + (f"to {until[:16]}Z" if until else "until now")
        message = (
            f'breakdown of "{value["system"]}": found another, {other.id[:8]}, {stood}; allowed: times that '
            "do not overlap; correct or restart that one (breakdown set, breakdown restart), or take it back "
            "(breakdown remove)"
        )
        raise SeasonError(message)


def _overlap(one: dict[str, Any], other: dict[str, Any]) -> bool:
    if one.get("system") != other.get("system"):
        return False
    first, second = _stood_between(one), _stood_between(other)
    return first is not None and second is not None and first[0] < second[1] and second[0] < first[1]


def _stood_between(value: dict[str, Any]) -> tuple[datetime, datetime] | None:
    """Return from when to when a system stood; None for a record that makes no sense."""
    try:
        begin = parse_when(value["stopped"])
        end = value.get("restarted")
        return begin, datetime.max.replace(tzinfo=UTC) if end is None else parse_when(end)
    except (KeyError, SeasonError, AttributeError, TypeError):
        return None

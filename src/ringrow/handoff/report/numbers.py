"""What the report shows, gathered once for charts, tables, page and PDF."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from ringrow.farm.again import Repeat, Stops, repeats, stops
from ringrow.farm.breakdown_list import together
from ringrow.farm.flag_times import flag_times
from ringrow.farm.history import (
    FixTime,
    KindMonths,
    TouchedStep,
    faults_only,
    months_by_kind,
    times_to_fix,
    touched_steps,
)
from ringrow.farm.systems import local_time
from ringrow.handoff.flag_table import system_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from datetime import tzinfo

    from ringrow.coverage.field import FieldLayout
    from ringrow.farm.breakdown_list import Breakdown
    from ringrow.farm.events import Event
    from ringrow.farm.flag_model import LocatedFlag
    from ringrow.farm.model import Farm


@dataclass(frozen=True, slots=True, kw_only=True)
class SystemHistory:
    """What befell one machine, drip block, well or field's ground.

    Parameters
    ----------
    name : str
        The system; empty for ground that belongs to none.
    closed, open : int
        Flags that were closed; flags that are open. [-]
    breakdowns : int
        How often it broke down. [-]
    hours : float
        Hours down. [h]
    volume_m3 : float or None
        Water not put on; None when one breakdown's is not known. [m3]
    """

    name: str
    closed: int
    open: int
    breakdowns: int
    hours: float
    volume_m3: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """Everything the report shows.

    Parameters
    ----------
    farm : Farm
        The farm.
    layouts : tuple of FieldLayout
        Its fields, laid out.
    zone : tzinfo
        Zone by which days, months and years begin.
    now : datetime
        When the report was made.
    year : int or None
        The one year that is shown; None for all.
    years : tuple of int
        Years in which flags of it were set, rising; where there are none, those of its breakdowns.
    flags : tuple of LocatedFlag
        Its flags, those that were no fault left out.
    not_faults : int
        How many flags were no fault. [-]
    months : tuple of KindMonths
        Flags by kind and month.
    touched : tuple of TouchedStep
        Ground touched by open flags over time; in one year, those set before it among them.
    fixes : tuple of FixTime
        Time to fix by kind.
    systems : tuple of SystemHistory
        By system, most flags first.
    repeats : tuple of Repeat
        Places and parts that came back, of all years.
    stops : tuple of Stops
        Systems that keep stopping, of all years.
    """

    farm: Farm
    layouts: tuple[FieldLayout, ...]
    zone: tzinfo
    now: datetime
    year: int | None
    years: tuple[int, ...]
    flags: tuple[LocatedFlag, ...]
    not_faults: int
    months: tuple[KindMonths, ...]
    touched: tuple[TouchedStep, ...]
    fixes: tuple[FixTime, ...]
    systems: tuple[SystemHistory, ...]
    repeats: tuple[Repeat, ...]
    stops: tuple[Stops, ...]


def gather(
    farm: Farm,
    layouts: Sequence[FieldLayout],
    flags: Sequence[LocatedFlag],
    events: Iterable[Event],
    downs: Sequence[Breakdown],
    *,
    zone: tzinfo,
    now: datetime,
    year: int | None = None,
) -> Report:
    """Return what the report shows.

    Parameters
    ----------
    farm : Farm
        The farm.
    layouts : sequence of FieldLayout
        Its fields, laid out.
    flags : sequence of LocatedFlag
        Every flag of the log, joined ones once.
    events : iterable of Event
        The log's events.
    downs : sequence of Breakdown
        Every breakdown.
    zone : tzinfo
        Zone by which days, months and years begin.
    now : datetime
        When the report is made.
    year : int or None, default None
        Only flags set and breakdowns begun in this year; None for all. What came back is of all
        years either way.

    Returns
    -------
    Report
        The numbers.
    """
    chosen = [flag for flag in flags if year in (None, local_time(flag.state.set_at, zone).year)]
    faults = faults_only(chosen)
    everything = faults if year is None else faults_only(flags)
    times = flag_times([flag.state for flag in everything], events)
    since, until = _told(year, zone, now)
    own_downs = [down for down in downs if year in (None, local_time(down.stopped, zone).year)]
    return Report(
        farm=farm,
        layouts=tuple(layouts),
        zone=zone,
        now=now,
        year=year,
        years=_years([flag.state.set_at for flag in faults] or [down.stopped for down in own_downs], zone),
        flags=tuple(faults),
        not_faults=len(chosen) - len(faults),
        months=tuple(months_by_kind(faults, zone=zone)),
        touched=tuple(touched_steps(everything, times, until=until, since=since)),
        fixes=tuple(times_to_fix(faults, times, now=now)),
        systems=tuple(systems(faults, own_downs)),
        repeats=tuple(repeats(flags, layouts, zone=zone)),
        stops=tuple(stops(downs)),
    )


def _told(year: int | None, zone: tzinfo, now: datetime) -> tuple[datetime | None, datetime]:
    """Return from when to when ground touched is told: the whole log, or one year as far as it has come."""
    if year is None:
        return None, now
    # The last moment of the year, not the first of the next.
    end = datetime(year + 1, 1, 1, tzinfo=zone) - timedelta(microseconds=1)
    return datetime(year, 1, 1, tzinfo=zone), min(now, end)


def _years(moments: Iterable[datetime], zone: tzinfo) -> tuple[int, ...]:
    return tuple(sorted({local_time(moment, zone).year for moment in moments}))


def systems(flags: Iterable[LocatedFlag], downs: Iterable[Breakdown]) -> list[SystemHistory]:
    """Return what befell each system.

    Parameters
    ----------
    flags : iterable of LocatedFlag
        Flags; ground under a machine counts for that machine.
    downs : iterable of Breakdown
        Breakdowns.

    Returns
    -------
    list of SystemHistory
        Most flags first, then most hours down, then by name.
    """
    by_name: dict[str, tuple[list[LocatedFlag], list[Breakdown]]] = {}
    for flag in flags:
        by_name.setdefault(system_of(flag) or "", ([], []))[0].append(flag)
    for down in downs:
        by_name.setdefault(down.system, ([], []))[1].append(down)
    rows = [_system(name, own, stopped) for name, (own, stopped) in by_name.items()]
    return sorted(rows, key=lambda row: (-(row.closed + row.open), -row.hours, row.name))


def _system(name: str, flags: Sequence[LocatedFlag], downs: Sequence[Breakdown]) -> SystemHistory:
    hours, volume_m3 = together(downs)
    still = sum(flag.state.status == "open" for flag in flags)
    return SystemHistory(
        name=name,
        closed=len(flags) - still,
        open=still,
        breakdowns=len(downs),
        hours=hours,
        volume_m3=volume_m3,
    )

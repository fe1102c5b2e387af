"""The plan of the first walk: zones to fill, machines to walk meanwhile, when to come back.

A zone of buried tape is filled and left on until water has had time to show; that takes most of a
day, in which a crew walks the machines. A well fills one zone at a time. What is planned here is
one crew's timetable over as many days as it takes.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import numpy as np

from ringrow.coverage.crop_ways import RouteSpot
from ringrow.coverage.route_ways import DRIVE_M_S, MPH_M_S, WALK_M_S, straight_ways
from ringrow.coverage.zone_reading import WAIT_H
from ringrow.coverage.zone_water import block_water
from ringrow.errors import PlaceError
from ringrow.geometry.visit_order import visit_order

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ringrow.coverage.field import DripLayout, FieldLayout
    from ringrow.farm.flag_model import LocatedFlag
    from ringrow.farm.model import Farm

Act = Literal["open", "walk", "look", "swap", "close"]

VALVE_MIN = 10.0
"""Opening, closing or swapping valves [min]: our assumption, no source."""
TOWER_MIN = 3.0
"""Looking at one tower [min]: our assumption, no source."""
PASS_M = 30.48
"""A zone is looked over in passes 100 ft apart [m]: our assumption, no source."""
LOOK_M_S = 4 * MPH_M_S
"""Speed of looking a zone over, 4 mph [m/s]: our assumption, no source."""
_DAY_MIN = 24 * 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ZoneJob:
    """A zone to fill and to look over.

    Parameters
    ----------
    well : str
        Well that fills it; empty when none is said to.
    drip, zone, valve : str
        Its block, its name, its valve.
    fill_min : float or None
        Least time to fill its tape; None when it is not known. [min]
    look_min : float
        Time to look it over. [min]
    """

    well: str
    drip: str
    zone: str
    valve: str
    fill_min: float | None
    look_min: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StartUpStep:
    """One line of the timetable.

    Parameters
    ----------
    act : {"open", "walk", "look", "swap", "close"}
        Open a valve, walk a machine, look a zone over, swap valves, close the last valve.
    at_min, until_min : float
        When it starts and ends, minutes after midnight of the first day. [min]
    way_m : float
        Way to it from the step before, or from the start of that day. [m]
    system : str
        The machine, or the block of the zone.
    zone : ZoneJob or None, default None
        The zone; where valves are swapped, the one that is filled next.
    closes : ZoneJob or None, default None
        Where valves are swapped, the zone that is shut.
    due_min : float or None, default None
        For a valve that is opened: when water may show. [min]
    """

    act: Act
    at_min: float
    until_min: float
    way_m: float
    system: str
    zone: ZoneJob | None = None
    closes: ZoneJob | None = None
    due_min: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StartUpPlan:
    """The timetable of the first walk.

    Parameters
    ----------
    steps : tuple of StartUpStep
        In their order.
    wait_h : float
        Hours given to water to show. [h]
    at_min, until_min : float
        When a working day starts and ends, minutes after midnight. [min]
    drive_m_s, walk_m_s : float
        Speeds. [m/s]
    unserved : tuple of str
        Drip blocks that no well is said to water.
    not_filled : tuple of str
        Zones whose time to fill is not known, by block and name.
    first_fix : tuple of LocatedFlag
        Open flags that are unsafe or stop water at wells and blocks that are to be filled.
    """

    steps: tuple[StartUpStep, ...]
    wait_h: float
    at_min: float
    until_min: float
    drive_m_s: float
    walk_m_s: float
    unserved: tuple[str, ...]
    not_filled: tuple[str, ...]
    first_fix: tuple[LocatedFlag, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Machine:
    name: str
    lon: float
    lat: float
    walk_min: float


@dataclass(slots=True, kw_only=True)
class _Day:
    """The crew's clock and place."""

    at_min: float
    until_min: float
    way_m: np.ndarray
    drive_m_s: float
    clock: float
    here: int = 0

    def way_to(self, place: int) -> float:
        return float(self.way_m[self.here, place]) / self.drive_m_s / 60.0

    def begin(self, place: int, minutes: float, *, not_before: float = 0.0) -> tuple[float, float]:
        """Return when work at a place can start, and the way to it."""
        ready = max(self.clock + self.way_to(place), not_before)
        day = ready // _DAY_MIN
        same_day = day == self.clock // _DAY_MIN
        fresh = day * _DAY_MIN + self.at_min + self._from_home(place)
        if ready + minutes <= day * _DAY_MIN + self.until_min and (same_day or ready >= fresh):
            way = self.way_m[self.here if same_day else 0, place]
            return ready, float(way)
        # What fills more than a whole day is begun in the morning all the same.
        if ready > fresh or (ready == fresh and minutes <= self.until_min - self.at_min):
            fresh += _DAY_MIN
        return max(fresh, not_before), float(self.way_m[0, place])

    def _from_home(self, place: int) -> float:
        return float(self.way_m[0, place]) / self.drive_m_s / 60.0


def plan_start_up(
    farm: Farm,
    layouts: Sequence[FieldLayout],
    flags: Sequence[LocatedFlag],
    *,
    start_lonlat: tuple[float, float] | None,
    at_min: float = 390.0,
    until_min: float = 1140.0,
    wait_h: float | None = None,
    drive_m_s: float = DRIVE_M_S,
    walk_m_s: float = WALK_M_S,
) -> StartUpPlan:
    """Return one crew's timetable of the first walk.

    Each well starts with the zone that fills soonest, so that the first look comes soonest; the
    next zone of a well is opened when the one before has been looked over. In between machines
    are walked, dry, in the order of the shortest way.

    Parameters
    ----------
    farm : Farm
        The farm, whose wells say what they serve.
    layouts : sequence of FieldLayout
        Its fields.
    flags : sequence of LocatedFlag
        Its flags.
    start_lonlat : tuple of float or None
        Longitude and latitude of where each day starts; None = the first well or machine. [deg]
    at_min, until_min : float, default 6:30 and 19:00
        When a working day starts and ends, minutes after midnight. [min]
    wait_h : float or None, default None
        Hours given to water to show once the tape is full; None = 12. [h]
    drive_m_s, walk_m_s : float, default 8 and 2.5 mph
        Speeds, above 0. [m/s]

    Returns
    -------
    StartUpPlan
        The timetable.

    Raises
    ------
    PlaceError
        If there is nothing to walk or fill, the day ends before it starts, or the wait cannot be.
    DomainError
        If a speed cannot be.
    """
    wait = WAIT_H if wait_h is None else wait_h
    if not 0 <= wait <= 1000:
        message = f"--wait: found {wait:g} h; allowed: 0 to 1,000"
        raise PlaceError(message)
    if not at_min < until_min:
        message = "working day: found an end (--until) that is not later than its start (--at)"
        raise PlaceError(message)
    if not walk_m_s > 0:
        message = f"--walk: found {walk_m_s:g} m/s; allowed: above 0"
        raise PlaceError(message)
    supplies, unserved = _supplies(farm, layouts)
    machines = _machines(layouts, walk_m_s)
    if not supplies and not machines:
        message = "route --start-up: this farm has no machine and no drip zone; allowed: one or more"
        raise PlaceError(message)
    spots = _spots(supplies, machines, farm, layouts, start_lonlat)
    ways = straight_ways(layouts, spots[0], spots[1:], drive_m_s=drive_m_s)
    way_m = ways.ways.travel_s * drive_m_s
    day = _Day(at_min=at_min, until_min=until_min, way_m=way_m, drive_m_s=drive_m_s, clock=at_min)
    steps = _timetable(day, supplies, machines, wait)
    fills = [job for jobs in supplies.values() for job in jobs]
    return StartUpPlan(
        steps=tuple(steps),
        wait_h=wait,
        at_min=at_min,
        until_min=until_min,
        drive_m_s=drive_m_s,
        walk_m_s=walk_m_s,
        unserved=tuple(unserved),
        not_filled=tuple(f"{job.drip}, {job.zone}" for job in fills if job.fill_min is None),
        first_fix=_first_fix(flags, fills),
    )


def _supplies(farm: Farm, layouts: Sequence[FieldLayout]) -> tuple[dict[str, list[ZoneJob]], list[str]]:
    """Return the zones of each well, soonest full first; a block without a well stands for itself."""
    serves = {system: well.name for well in farm.wells for system in well.serves}
    supplies: dict[str, list[ZoneJob]] = {}
    unserved = []
    for layout in layouts:
        for block in layout.drip:
            well = serves.get(block.name, "")
            if not well:
                unserved.append(block.name)
            supplies.setdefault(well or f" {block.name}", []).extend(_jobs(block, well))
    for jobs in supplies.values():
        jobs.sort(key=lambda job: float("inf") if job.fill_min is None else job.fill_min)
    return supplies, unserved


def _jobs(block: DripLayout, well: str) -> list[ZoneJob]:
    return [
        ZoneJob(
            well=well,
            drip=block.name,
            zone=water.zone.name,
            valve=water.zone.valve,
            fill_min=water.fill_min,
            look_min=water.area_m2 / PASS_M / LOOK_M_S / 60.0,
        )
        for water in block_water(block)
        if water.pieces
    ]


def _machines(layouts: Sequence[FieldLayout], walk_m_s: float) -> list[_Machine]:
    """Return pivots and lateral moves; a towed machine once, at its first point."""
    found: dict[str, _Machine] = {}
    for layout in layouts:
        rows = [
            (pivot.pivot.machine or pivot.name, pivot.pivot.x_m, pivot.pivot.y_m, pivot.pivot.spans_m)
            for pivot in layout.pivots
        ]
        for move in layout.lateral_moves:
            x, y = move.move.path_m[0]
            spans = [span for wing in (move.move.left, move.move.right) for span in wing.spans_m]
            rows.append((move.name, x, y, tuple(spans)))
        for name, x, y, spans_m in rows:
            lon, lat = layout.field.frame.to_lonlat(x, y)
            minutes = TOWER_MIN * len(spans_m) + 2 * sum(spans_m) / walk_m_s / 60.0
            machine = _Machine(name=name, lon=float(lon), lat=float(lat), walk_min=minutes)
            found.setdefault(name, machine)
    return list(found.values())


def _spots(
    supplies: dict[str, list[ZoneJob]],
    machines: list[_Machine],
    farm: Farm,
    layouts: Sequence[FieldLayout],
    start_lonlat: tuple[float, float] | None,
) -> list[RouteSpot]:
    """Return the start, then where valves are turned, then machines, then blocks by name."""
    middles = _middles(layouts)
    wells = {well.name: RouteSpot(lon=well.lon, lat=well.lat) for well in farm.wells}
    valves = [wells.get(name) or middles[name.strip()] for name in supplies]
    stands = [RouteSpot(lon=machine.lon, lat=machine.lat) for machine in machines]
    rest = [*valves, *stands, *middles.values()]
    start = rest[0] if start_lonlat is None else RouteSpot(lon=start_lonlat[0], lat=start_lonlat[1])
    return [start, *rest]


def _middles(layouts: Sequence[FieldLayout]) -> dict[str, RouteSpot]:
    found = {}
    for layout in layouts:
        for block in layout.drip:
            middle = block.ground.representative_point()
            lon, lat = layout.field.frame.to_lonlat(middle.x, middle.y)
            found[block.name] = RouteSpot(lon=float(lon), lat=float(lat))
    return found


def _timetable(
    day: _Day, supplies: dict[str, list[ZoneJob]], machines: list[_Machine], wait_h: float
) -> list[StartUpStep]:
    valves = list(range(1, len(supplies) + 1))
    stands = list(range(valves[-1] + 1 if valves else 1, len(supplies) + len(machines) + 1))
    blocks = {
        name: at
        for at, name in enumerate(
            dict.fromkeys(job.drip for jobs in supplies.values() for job in jobs),
            len(supplies) + len(machines) + 1,
        )
    }
    queues = [list(jobs) for jobs in supplies.values()]
    steps: list[StartUpStep] = []
    running: dict[int, StartUpStep] = {}
    for valve in _order(day, valves):
        if queues[valve - 1]:
            running[valve] = _turn(day, steps, valve, queues[valve - 1].pop(0), wait_h)
    left = [(place, machines[place - stands[0]]) for place in _order(day, stands)]
    while left or running:
        valve = min(running, key=lambda at: running[at].due_min or 0.0, default=0)
        look = running[valve].zone if valve else None
        begins = (
            day.begin(blocks[look.drip], look.look_min, not_before=running[valve].due_min or 0.0)[0]
            if look
            else float("inf")
        )
        chosen = next((one for one in left if _ends(day, *one) <= begins), None)
        if chosen is not None:
            left.remove(chosen)
            _do(day, steps, chosen[0], chosen[1].walk_min, act="walk", system=chosen[1].name)
        elif look is not None:
            due = running.pop(valve).due_min or 0.0
            place = blocks[look.drip]
            _do(day, steps, place, look.look_min, act="look", system=look.drip, zone=look, not_before=due)
            if queues[valve - 1]:
                running[valve] = _turn(day, steps, valve, queues[valve - 1].pop(0), wait_h, closes=look)
            else:
                _do(day, steps, valve, VALVE_MIN, act="close", system=look.drip, zone=look)
    return steps


def _order(day: _Day, places: list[int]) -> list[int]:
    held = [0, *places]
    (tour,) = visit_order(day.way_m[np.ix_(held, held)] / day.drive_m_s, np.zeros(len(held)))
    return [held[at] for at in tour]


def _ends(day: _Day, place: int, machine: _Machine) -> float:
    return day.begin(place, machine.walk_min)[0] + machine.walk_min


def _turn(
    day: _Day,
    steps: list[StartUpStep],
    valve: int,
    job: ZoneJob,
    wait_h: float,
    *,
    closes: ZoneJob | None = None,
) -> StartUpStep:
    """Open a valve, or swap it for the one before; return the step, which says when to come back."""
    _do(day, steps, valve, VALVE_MIN, act="swap" if closes else "open", system=job.drip, zone=job)
    due = steps[-1].until_min + (job.fill_min or 0.0) + 60.0 * wait_h
    steps[-1] = replace(steps[-1], due_min=due, closes=closes)
    return steps[-1]


def _do(
    day: _Day,
    steps: list[StartUpStep],
    place: int,
    minutes: float,
    *,
    act: Act,
    system: str,
    zone: ZoneJob | None = None,
    not_before: float = 0.0,
) -> None:
    at, way_m = day.begin(place, minutes, not_before=not_before)
    steps.append(
        StartUpStep(act=act, at_min=at, until_min=at + minutes, way_m=way_m, system=system, zone=zone)
    )
    day.clock, day.here = at + minutes, place


def _first_fix(flags: Sequence[LocatedFlag], fills: Sequence[ZoneJob]) -> tuple[LocatedFlag, ...]:
    """Return open flags that should be seen to before water is let in."""
    wells, blocks = {job.well for job in fills if job.well}, {job.drip for job in fills}
    return tuple(
        flag
        for flag in flags
        if flag.state.status == "open"
        and flag.flag_class in {"unsafe", "stops"}
        and (flag.well in wells or (flag.drip is not None and flag.drip.name in blocks))
    )

"""The crew's route: which flags to go to, in which order, how far it is and how long it takes."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from ringrow.coverage.crop_ways import RouteSpot
from ringrow.coverage.field import LateralMoveLayout
from ringrow.coverage.route_ways import DRIVE_M_S, WALK_M_S, crop_ways, straight_ways
from ringrow.errors import PlaceError
from ringrow.farm.flag_model import MachineSpot, MoveSpot
from ringrow.geometry.visit_order import visit_order
from ringrow.handoff.languages import N_

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from ringrow.coverage.field import FieldLayout, PivotLayout
    from ringrow.coverage.route_ways import RouteWays
    from ringrow.farm.flag_model import LocatedFlag

    _Machines = dict[str, tuple[FieldLayout, PivotLayout | LateralMoveLayout]]

Crop = Literal["down", "up"]

WORK_MIN: dict[str, float] = {
    "leak": 45, "wet-spot": 30, "burrow": 20, "rut": 30, "washout": 45, "rock": 10, "loose-part": 5,
    "sprinkler": 10, "drop": 15, "regulator": 15, "span-leak": 45, "tire": 45, "wheel": 30, "gearbox": 90,
    "driveline": 45, "alignment": 30, "tower-box": 45, "cover": 15, "wiring": 60, "collector-ring": 90,
    "structure": 60, "end-gun": 30, "booster": 45,
    "power-unit": 60, "battery": 20, "fuel-supply": 45, "drive-shaft": 60, "pump": 90, "panel": 60,
    "filter": 30, "valve": 45, "air-vent": 20, "flush-valve": 20, "header-leak": 60, "meter": 30, "nest": 20,
}  # fmt: skip
"""Minutes of work at a stop by kind of flag: our assumption, no source."""
OTHER_MIN = 20.0
"""Minutes of work at a flag of any other kind [min]: our assumption, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RouteStop:
    """A flag that a crew goes to.

    Parameters
    ----------
    flag : LocatedFlag
        The flag.
    spot : RouteSpot
        Where the crew stops for it.
    work_min : float
        Time of work there. [min]
    note : str, default ""
        What is not known of the place, in plain words.
    """

    flag: LocatedFlag
    spot: RouteSpot
    work_min: float
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RouteLeg:
    """The way to a stop, or back to the start.

    Parameters
    ----------
    stop : RouteStop or None
        The stop it leads to; None for the way back.
    driven_m, walked_m : float
        Lengths of what is driven and of what is walked. [m]
    arrive_min, leave_min : float
        Minutes since the crew left the start. [min]
    lonlat : ndarray, shape (n, 2)
        Longitude and latitude along the way. [deg]
    """

    stop: RouteStop | None
    driven_m: float
    walked_m: float
    arrive_min: float
    leave_min: float
    lonlat: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CrewRoute:
    """One crew's round.

    Parameters
    ----------
    crew : int
        Number of the crew, 1 and up.
    legs : tuple of RouteLeg
        One a stop, and the way back; empty for a crew with nothing to do.
    """

    crew: int
    legs: tuple[RouteLeg, ...]

    @property
    def stops(self) -> tuple[RouteStop, ...]:
        """The stops in their order."""
        return tuple(leg.stop for leg in self.legs if leg.stop is not None)

    @property
    def driven_m(self) -> float:
        """What is driven, the way back included [m]."""
        return sum(leg.driven_m for leg in self.legs)

    @property
    def walked_m(self) -> float:
        """What is walked, the way back included [m]."""
        return sum(leg.walked_m for leg in self.legs)

    @property
    def work_min(self) -> float:
        """Time of work at all stops [min]."""
        return sum(stop.work_min for stop in self.stops)

    @property
    def total_min(self) -> float:
        """From leaving the start to being back [min]."""
        return self.legs[-1].arrive_min if self.legs else 0.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FarmRoute:
    """The rounds of all crews.

    Parameters
    ----------
    start_lonlat : tuple of float
        Where they start and end, longitude and latitude. [deg]
    start_words : str
        What that place is.
    crop : {"down", "up"}
        Whether ways go straight or keep out of the crop.
    crews : tuple of CrewRoute
        One a crew.
    left_out : tuple of LocatedFlag
        Flags whose place is not known.
    drive_m_s, walk_m_s : float
        Speeds. [m/s]
    assumed : tuple of str
        What the route rests on that nobody stated.
    """

    start_lonlat: tuple[float, float]
    start_words: str
    crop: Crop
    crews: tuple[CrewRoute, ...]
    left_out: tuple[LocatedFlag, ...]
    drive_m_s: float
    walk_m_s: float
    assumed: tuple[str, ...] = field(default=())


def route_stops(
    layouts: Sequence[FieldLayout], flags: Sequence[LocatedFlag], *, work_min: float | None = None
) -> tuple[list[RouteStop], list[LocatedFlag]]:
    """Return where crews stop for flags.

    Parameters
    ----------
    layouts : sequence of FieldLayout
        The farm's fields.
    flags : sequence of LocatedFlag
        The flags.
    work_min : float or None, default None
        Time of work at every stop; None = by kind of flag. [min]

    Returns
    -------
    stops : list of RouteStop
        One a flag that has a place. A machine that stood at an unknown azimuth is looked for where it
        is parked, else from its pivot point.
    left_out : list of LocatedFlag
        The others.

    Raises
    ------
    PlaceError
        If `work_min` is below 0 or not finite.
    """
    if work_min is not None and not 0 <= work_min < math.inf:
        message = f"minutes of work at a stop: found {work_min:g}; allowed: a number of 0 or more"
        raise PlaceError(message)
    machines: _Machines = {}
    for layout in layouts:
        machines |= {pivot.name: (layout, pivot) for pivot in layout.pivots}
        machines |= {move.name: (layout, move) for move in layout.lateral_moves}
    stops, left_out = [], []
    for flag in flags:
        found = _spot(flag, machines)
        if found is None:
            left_out.append(flag)
            continue
        minutes = WORK_MIN.get(flag.kind.name, OTHER_MIN) if work_min is None else work_min
        stops.append(RouteStop(flag=flag, spot=found[0], work_min=minutes, note=found[1]))
    return stops, left_out


def plan_route(
    layouts: Sequence[FieldLayout],
    stops: Sequence[RouteStop],
    *,
    start_lonlat: tuple[float, float] | None,
    start_words: str = N_("the gate"),
    crews: int = 1,
    crop: Crop = "down",
    unsafe_first: bool = False,
    left_out: Sequence[LocatedFlag] = (),
    drive_m_s: float = DRIVE_M_S,
    walk_m_s: float = WALK_M_S,
) -> FarmRoute:
    """Return the rounds of one or several crews, from a start over all stops and back.

    Parameters
    ----------
    layouts : sequence of FieldLayout
        The farm's fields.
    stops : sequence of RouteStop
        Where to go.
    start_lonlat : tuple of float or None
        Longitude and latitude of the start; None = the first stop. [deg]
    start_words : str, default "the gate"
        What that place is.
    crews : int, default 1
        How many crews; their times are balanced. [-]
    crop : {"down", "up"}, default "down"
        ``down``: straight, round ground that is not farmed. ``up``: along edges, rows and tracks.
    unsafe_first : bool, default False
        Whether each crew goes to unsafe flags before all others.
    left_out : sequence of LocatedFlag, default ()
        Flags without a place, to be named in the answer.
    drive_m_s, walk_m_s : float, default 8 and 2.5 mph
        Speeds, above 0. [m/s]

    Returns
    -------
    FarmRoute
        The rounds.

    Raises
    ------
    PlaceError
        If there is no stop.
    DomainError
        If the number of crews or a speed cannot be, or no way is found.
    """
    if not stops:
        message = (
            "route: found no flag with a place to go to; allowed: one or more; "
            "set a flag, or choose another status or field"
        )
        raise PlaceError(message)
    if start_lonlat is None:
        start_lonlat, start_words = (stops[0].spot.lon, stops[0].spot.lat), N_("the first stop")
    start, spots = RouteSpot(lon=start_lonlat[0], lat=start_lonlat[1]), [stop.spot for stop in stops]
    if start_words == "the first stop":
        start = spots[0]
    if crop == "up":
        ways = crop_ways(layouts, start, spots, drive_m_s=drive_m_s, walk_m_s=walk_m_s)
    else:
        ways = straight_ways(layouts, start, spots, drive_m_s=drive_m_s)
    work_s = np.array([0.0, *(60.0 * stop.work_min for stop in stops)])
    ahead = np.array([False, *(unsafe_first and stop.flag.flag_class == "unsafe" for stop in stops)])
    tours = visit_order(ways.ways.travel_s, work_s, crews=crews, ahead=ahead)
    return FarmRoute(
        start_lonlat=start_lonlat,
        start_words=start_words,
        crop=crop,
        crews=tuple(_crew(number, tour, ways, stops) for number, tour in enumerate(tours, 1)),
        left_out=tuple(left_out),
        drive_m_s=drive_m_s,
        walk_m_s=walk_m_s,
        assumed=_assumed(crop, start_words, _roads_stated(layouts, spots)),
    )


def _crew(number: int, tour: list[int], ways: RouteWays, stops: Sequence[RouteStop]) -> CrewRoute:
    legs, here, clock = [], 0, 0.0
    for there in [*tour, 0] if tour else []:
        lonlat, driven_m, walked_m = ways.line(here, there)
        stop = stops[there - 1] if there else None
        clock += float(ways.ways.travel_s[here, there]) / 60.0
        leave = clock + (stop.work_min if stop else 0.0)
        legs.append(
            RouteLeg(
                stop=stop,
                driven_m=driven_m,
                walked_m=walked_m,
                arrive_min=clock,
                leave_min=leave,
                lonlat=lonlat,
            )
        )
        here, clock = there, leave
    return CrewRoute(crew=number, legs=tuple(legs))


def _roads_stated(layouts: Sequence[FieldLayout], spots: Sequence[RouteSpot]) -> set[bool]:
    """Return whether the roads to the pivots that stops are on are stated: true, false or both."""
    stated = {laid.name: bool(laid.pivot.road_m) for layout in layouts for laid in layout.pivots}
    return {stated[spot.pivot] for spot in spots if spot.pivot in stated}


def _assumed(crop: Crop, start_words: str, roads_stated: set[bool]) -> tuple[str, ...]:
    texts = []
    if start_words == "the first stop":
        texts.append(N_("farm.toml gives no gate: the route starts and ends at its first stop"))
    if crop == "down":
        texts.append(
            N_(
                "the ground is bare: ways are straight and driven, round ponds, yards and other ground that "
                "is not farmed; roads, fences, ditches and banks are not known"
            )
        )
        return tuple(texts)
    if roads_stated == {True}:
        up = N_(
            "the crop is up: field edges, open ground between fields and the stated roads to pivot points "
            "are driven, rows and wheel tracks are walked"
        )
    elif True in roads_stated:
        up = N_(
            "the crop is up: field edges, open ground between fields and roads to pivot points are driven, "
            "rows and wheel tracks are walked; a road that no field file states (pivot_road) is taken as "
            "straight from the edge nearest the start"
        )
    else:
        up = N_(
            "the crop is up: field edges, open ground between fields and a straight road from the edge "
            "nearest the start to each pivot point are driven, rows and wheel tracks are walked"
        )
    texts.append(up)
    texts.append(N_("the last steps from a row or wheel track to the flag go straight; fences are not known"))
    return tuple(texts)


def _spot(flag: LocatedFlag, machines: _Machines) -> tuple[RouteSpot, str] | None:
    if flag.lon is None or flag.lat is None:
        return _unknown_azimuth(flag, machines)
    free = RouteSpot(lon=flag.lon, lat=flag.lat)
    if flag.pivot is not None and flag.pivot.name in machines:
        layout, _ = machines[flag.pivot.name]
        return replace(free, field=layout.field.name, pivot=flag.pivot.name), ""
    if flag.move is not None and flag.move.name in machines:
        layout, _ = machines[flag.move.name]
        return replace(free, field=layout.field.name, move=flag.move.name), ""
    if flag.drip is not None and flag.drip.lateral is not None and flag.field is not None:
        drip = flag.drip
        return replace(free, field=flag.field, drip=drip.name, lateral=drip.lateral or 0), ""
    if flag.place is not None and flag.place.field is not None:
        place = flag.place
        pivot = next((pivot.name for pivot in place.pivots if pivot.inside), "")
        move = next((move.name for move in place.lateral_moves if move.inside), "")
        return replace(free, field=place.field, pivot=pivot, move=move), ""
    return free, ""


def _unknown_azimuth(flag: LocatedFlag, machines: _Machines) -> tuple[RouteSpot, str] | None:
    """Return where to look for a machine that stood nobody knows where."""
    name, distance = _said_machine(flag)
    if name not in machines:
        return None
    layout, machine = machines[name]
    note = N_("where the machine stands is not known: from its pivot point along the machine")
    if isinstance(machine, LateralMoveLayout):
        note = N_("where the machine stands is not known: from the start of its path")
        x, y = machine.move.path_m[0]
    else:
        pivot = machine.pivot
        if pivot.parked_deg is None:
            distance = 0.0
        else:
            note = N_("taken as standing where it is parked")
        angle = math.radians((pivot.parked_deg or 0.0) + pivot.convergence_deg)
        x, y = pivot.x_m + distance * math.sin(angle), pivot.y_m + distance * math.cos(angle)
    lon, lat = layout.field.frame.to_lonlat(x, y)
    found = RouteSpot(lon=float(lon), lat=float(lat), field=layout.field.name)
    on_move = isinstance(machine, LateralMoveLayout)
    return (replace(found, move=name) if on_move else replace(found, pivot=name)), note


def _said_machine(flag: LocatedFlag) -> tuple[str, float]:
    """Return the machine a flag is on, and its distance from the pivot point where that is known."""
    if flag.pivot is not None:
        return flag.pivot.name, flag.pivot.distance_m
    if flag.move is not None:
        return flag.move.name, 0.0
    spot = flag.state.spot
    if isinstance(spot, MachineSpot):
        return spot.pivot, 0.0
    return (spot.move if isinstance(spot, MoveSpot) else ""), 0.0


def route_geometry(crew: CrewRoute) -> Any:
    """Return a crew's whole way as one line.

    Parameters
    ----------
    crew : CrewRoute
        The crew, with at least one stop.

    Returns
    -------
    shapely LineString
        Longitude and latitude. [deg]
    """
    from shapely import LineString

    points = np.vstack([leg.lonlat for leg in crew.legs])
    moved = np.append(True, np.any(np.abs(np.diff(points, axis=0)) > 1e-9, axis=1))
    kept = points[moved]
    return LineString(kept if len(kept) > 1 else np.vstack([kept, kept]))

"""Where flags are on the farm: ground, machine, tape, well."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import shapely

from ringrow.coverage.accuracy import Accuracy
from ringrow.coverage.field import LateralMoveLayout
from ringrow.coverage.locate import drip_place_at, locate_many, move_place_at, pivot_place_at, pivot_places
from ringrow.coverage.locate_arms import farthest_m
from ringrow.coverage.locate_moves import move_places, move_xy
from ringrow.coverage.locate_pivots import distances_m, pipe_end_m, pivot_place_list
from ringrow.coverage.places import LateralMovePlace, PivotPlace
from ringrow.errors import PlaceError
from ringrow.farm.flag_checks import checked_flags
from ringrow.farm.flag_model import DripSpot, GroundSpot, LocatedFlag, MachineSpot, MoveSpot, WellSpot
from ringrow.farm.machine_spots import distance_on_m
from ringrow.farm.move_spots import offset_on_m
from ringrow.farm.names import find_named
from ringrow.farm.parked import line_xy, parked_flags
from ringrow.farm.readers.rows import PointFile, PointRow, refuse_far
from ringrow.farm.rebuilds import day_zone, farm_rebuilds, rebuilt_flags, spots_as_set
from ringrow.geometry.laterals import point_at

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from ringrow.coverage.field import DripLayout, FieldLayout, PivotLayout
    from ringrow.coverage.places import DripPlace, Place
    from ringrow.equipment.kinds import FlagKind
    from ringrow.farm.flag_model import FlagState
    from ringrow.farm.model import Farm
    from ringrow.farm.readers.guess import Around

__all__ = [
    "AT_WELL_M",
    "check_near",
    "farm_lonlat",
    "kind_named",
    "kind_of",
    "locate_flags",
    "parked_flags",
    "surroundings_of",
]

AT_WELL_M = 30.0
"""Works flagged by position within this distance of a well or pivot point sit at it. [m]"""

# A place said by lateral and station, or a surveyed well, is not blurred like a phone's fix.
_SAID = Accuracy(radius_m=0.1, kind="r95")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Resolved:
    """What a spot says by itself, before asking what lies at its position."""

    lon: float | None = None
    lat: float | None = None
    accuracy: Accuracy = _SAID
    field: str | None = None
    pivot: PivotPlace | None = None
    move: LateralMovePlace | None = None
    drip: DripPlace | None = None
    well: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Systems:
    """Systems of the farm by name, each with its field; towed machines with the field of each point."""

    pivots: dict[str, tuple[FieldLayout, PivotLayout]]
    machines: dict[str, list[tuple[FieldLayout, PivotLayout]]]
    moves: dict[str, tuple[FieldLayout, LateralMoveLayout]]
    drips: dict[str, tuple[FieldLayout, DripLayout]]


def _systems(layouts: Sequence[FieldLayout]) -> _Systems:
    machines: dict[str, list[tuple[FieldLayout, PivotLayout]]] = {}
    for layout in layouts:
        for laid in layout.pivots:
            if laid.pivot.machine:
                machines.setdefault(laid.pivot.machine, []).append((layout, laid))
    return _Systems(
        pivots={laid.name: (layout, laid) for layout in layouts for laid in layout.pivots},
        machines=machines,
        moves={laid.name: (layout, laid) for layout in layouts for laid in layout.lateral_moves},
        drips={laid.name: (layout, laid) for layout in layouts for laid in layout.drip},
    )


def farm_lonlat(farm: Farm) -> list[tuple[float, float]]:
    """Return places on a farm: the middle of each field, wells, the gate.

    Parameters
    ----------
    farm : Farm
        The farm.

    Returns
    -------
    list of tuple of float
        Longitude and latitude, WGS 84. [deg]
    """
    fields = [(field.frame.lon, field.frame.lat) for field in farm.fields]
    wells = [(well.lon, well.lat) for well in farm.wells]
    return [*fields, *wells, *([farm.gate] if farm.gate else [])]


def locate_flags(
    farm: Farm, layouts: Sequence[FieldLayout], states: Sequence[FlagState]
) -> list[LocatedFlag]:
    """Return flags with their places on the farm.

    A flag on the ground is where it was set. A machine part flagged by position belongs to
    the pivot that wets the place (the nearest such), else to the lateral move that does, else to
    the nearest machine whose reach comes within three sigma of it. A machine part said by name is
    on that machine; it has a position only when it is known where the machine stood. Each flag
    carries the ground it touches, whose wheels will meet it, and what speaks against its place.
    One set before its machine was rebuilt keeps its distance along the pipe and gets no outlet
    number of the new hardware.

    Parameters
    ----------
    farm : Farm
        The farm.
    layouts : sequence of FieldLayout
        Its fields with wetted ground, in their order.
    states : sequence of FlagState
        Flags.

    Returns
    -------
    list of LocatedFlag
        In the order of `states`. A flag whose machine, block or well is no longer on the
        farm keeps its words but has no place.
    """
    systems, rebuilds, zone = _systems(layouts), farm_rebuilds(farm), day_zone(farm)
    spots = [_resolve(farm, state, systems) for state in spots_as_set(states, rebuilds, zone=zone)]
    placed = [index for index, spot in enumerate(spots) if spot.lon is not None]
    places: dict[int, Place] = {}
    if placed:
        found = locate_many(
            layouts,
            np.array([spots[index].lon for index in placed], float),
            np.array([spots[index].lat for index in placed], float),
            accuracy=[spots[index].accuracy for index in placed],
        )
        places = dict(zip(placed, found, strict=True))
    kinds = [kind_of(farm, state) for state in states]
    reached = _reached(
        layouts,
        spots,
        [
            index
            for index in placed
            if kinds[index].on == "machine" and _by_position(states[index]) and not _wets(places[index])
        ],
    )
    near = _nearest_well(farm, [(spot.lon, spot.lat) for spot in spots])
    located = [
        _located(state, kind, spot, places.get(index), reached=reached.get(index), well=near[index])
        for index, (state, kind, spot) in enumerate(zip(states, kinds, spots, strict=True))
    ]
    return checked_flags(farm, layouts, rebuilt_flags(located, rebuilds, zone=zone))


def kind_named(farm: Farm, name: str) -> FlagKind:
    """Return the kind of flag that a person typed.

    Parameters
    ----------
    farm : Farm
        The farm, whose kinds count.
    name : str
        Such as ``gearbox``.

    Returns
    -------
    FlagKind
        The kind.

    Raises
    ------
    PlaceError
        If this farm has no such kind.
    """
    return find_named(farm.kinds, name.strip().replace("_", "-").replace(" ", "-"), what="flag kind", most=80)


def check_near(farm: Farm, *, lat: float, lon: float, option: str = "--at") -> None:
    """Check that a position typed for a flag or a start lies near the farm.

    Parameters
    ----------
    farm : Farm
        The farm.
    lat, lon : float
        The position, WGS 84. [deg]
    option : str, default "--at"
        What it was typed behind, for the message.

    Raises
    ------
    PlaceError
        If it lies farther than 50 km from everything on the farm.
    """
    typed = PointRow(what="place", lat=lat, lon=lon)
    checked = refuse_far(PointFile(file="", form="", rows=(typed,)), farm_lonlat(farm))
    if checked.refused:
        message = f"{option}: {checked.refused[0].why}"
        raise PlaceError(message)


def kind_of(farm: Farm, state: FlagState) -> FlagKind:
    """Return a flag's kind.

    Parameters
    ----------
    farm : Farm
        The farm, whose kinds count.
    state : FlagState
        The flag.

    Returns
    -------
    FlagKind
        One that this farm does not know has its own name and the words of ``other-ground``.
    """
    known = farm.kinds.get(state.kind)
    return known or replace(farm.kinds["other-ground"], name=state.kind)


def surroundings_of(farm: Farm, layouts: Sequence[FieldLayout], rows: Sequence[PointRow]) -> list[Around]:
    """Return what each point of a file lies on or at, as far as it helps to guess its kind.

    Parameters
    ----------
    farm : Farm
        The farm.
    layouts : sequence of FieldLayout
        Its fields.
    rows : sequence of PointRow
        Points; one without a place lies on nothing.

    Returns
    -------
    list of str
        ``well``, ``drip``, ``pivot`` or empty, one for each point.
    """
    answers: list[Around] = [""] * len(rows)
    placed = [index for index, row in enumerate(rows) if row.lon is not None]
    if not placed:
        return answers
    pairs = [(rows[index].lon, rows[index].lat) for index in placed]
    lon, lat = np.array(pairs, float).T
    places = locate_many(layouts, lon, lat, accuracy=farm.accuracy)
    for index, place, well in zip(placed, places, _nearest_well(farm, pairs), strict=True):
        answers[index] = _around(place, well)
    return answers


def _around(place: Place, well: str | None) -> Around:
    if well is not None:
        return "well"
    if any(drip.inside for drip in place.drip):
        return "drip"
    return "pivot" if _wets(place) else ""


def _resolve(farm: Farm, state: FlagState, systems: _Systems) -> _Resolved:
    spot = state.spot
    if isinstance(spot, GroundSpot):
        return _Resolved(lon=spot.lon, lat=spot.lat, accuracy=spot.accuracy)
    if isinstance(spot, MachineSpot) and spot.pivot in systems.pivots:
        return _on_machine(*systems.pivots[spot.pivot], spot)
    if isinstance(spot, MachineSpot) and spot.pivot in systems.machines:
        return _on_towed(systems.machines[spot.pivot], spot)
    if isinstance(spot, MoveSpot) and spot.move in systems.moves:
        return _on_move(*systems.moves[spot.move], spot)
    if isinstance(spot, DripSpot) and spot.drip in systems.drips:
        return _on_tape(*systems.drips[spot.drip], spot)
    if isinstance(spot, WellSpot):
        found = next((well for well in farm.wells if well.name == spot.well), None)
        if found is None:
            return _Resolved(well=spot.well)
        return _Resolved(lon=found.lon, lat=found.lat, well=found.name)
    return _Resolved()


def _on_machine(layout: FieldLayout, laid: PivotLayout, spot: MachineSpot) -> _Resolved:
    pivot, distance = laid.pivot, distance_on_m(laid.pivot, spot)
    if distance is None:
        return _Resolved(field=layout.field.name)
    distance = min(distance, pipe_end_m(pivot))
    place = pivot_place_at(laid, distance, spot.azimuth_deg)
    if spot.azimuth_deg is None and distance > 0:
        return _Resolved(field=layout.field.name, pivot=place)
    lon, lat = layout.field.frame.to_lonlat(*line_xy(laid, distance, spot.azimuth_deg or 0.0))
    return _Resolved(lon=float(lon), lat=float(lat), field=layout.field.name, pivot=place)


def _on_towed(points: Sequence[tuple[FieldLayout, PivotLayout]], spot: MachineSpot) -> _Resolved:
    """Return a spot said on a towed machine: at the point where it is known to stand, else on no point."""
    standing = [point for point in points if point[1].pivot.parked_deg is not None]
    if len(standing) == 1:
        return _on_machine(*standing[0], spot)
    # Its spans are the same wherever it stands; an azimuth says nothing without a point.
    resolved = _on_machine(*points[0], replace(spot, azimuth_deg=None))
    pivot = None if resolved.pivot is None else replace(resolved.pivot, name=spot.pivot)
    return _Resolved(field=resolved.field, pivot=pivot)


def _on_move(layout: FieldLayout, laid: LateralMoveLayout, spot: MoveSpot) -> _Resolved:
    travel = None if spot.travel_m is None else min(spot.travel_m, float(laid.path.starts_m[-1]))
    place = move_place_at(laid, spot.side, offset_on_m(laid.move, spot), travel_m=travel)
    at = move_xy(laid, place)
    if at is None:
        return _Resolved(field=layout.field.name, move=place)
    lon, lat = layout.field.frame.to_lonlat(*at)
    return _Resolved(lon=float(lon), lat=float(lat), field=layout.field.name, move=place)


def _on_tape(layout: FieldLayout, laid: DripLayout, spot: DripSpot) -> _Resolved:
    try:
        x, y = point_at(laid.grid, spot.lateral, spot.station_m)
        place = drip_place_at(laid, spot.lateral, spot.station_m)
    except PlaceError:
        # The block was laid out anew since: the flag is still listed, under its words.
        return _Resolved(field=layout.field.name)
    lon, lat = layout.field.frame.to_lonlat(x, y)
    return _Resolved(lon=float(lon), lat=float(lat), field=layout.field.name, drip=place)


def _by_position(state: FlagState) -> bool:
    return isinstance(state.spot, GroundSpot)


def _wets(place: Place) -> bool:
    """Tell whether a machine that walks wets a place."""
    return any(pivot.inside for pivot in place.pivots) or any(move.inside for move in place.lateral_moves)


def _reached(
    layouts: Sequence[FieldLayout], spots: Sequence[_Resolved], wanted: Sequence[int]
) -> dict[int, PivotPlace | LateralMovePlace]:
    """Return, for machine flags that no machine wets, the nearest one whose water is within 3 sigma."""
    best: dict[int, PivotPlace | LateralMovePlace] = {}
    if not wanted:
        return best
    lon = np.array([spots[index].lon for index in wanted], float)
    lat = np.array([spots[index].lat for index in wanted], float)
    sigma = np.array([spots[index].accuracy.sigma_m for index in wanted])
    nearest = np.full(len(wanted), np.inf)
    for layout in layouts:
        x, y = layout.field.frame.to_xy(lon, lat)
        machines: list[PivotLayout | LateralMoveLayout] = [*layout.pivots, *layout.lateral_moves]
        for laid in machines:
            # Flags away from the machine are dropped before anything is worked out for them.
            near = np.flatnonzero(_away_m(laid, x, y) <= 3 * sigma)
            for at, place in zip(near.tolist(), _seen(laid, x[near], y[near], sigma[near]), strict=True):
                distance = place.distance_m if isinstance(place, PivotPlace) else place.offset_m
                if distance < nearest[at]:
                    nearest[at], best[wanted[at]] = distance, place
    return best


def _away_m(
    laid: PivotLayout | LateralMoveLayout, x: NDArray[np.float64], y: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return how far beyond a machine's reach points lie; a part circle reaches all round its point."""
    if isinstance(laid, LateralMoveLayout):
        return np.asarray(shapely.distance(laid.wetted, shapely.points(x, y)))
    pivot = laid.pivot
    reach = max(pivot.base_radius_m + farthest_m(laid), pivot.gun_radius_m or 0.0)
    return np.asarray(distances_m(pivot, x, y) - reach)


def _seen(
    laid: PivotLayout | LateralMoveLayout,
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    sigma: NDArray[np.float64],
) -> Sequence[PivotPlace | LateralMovePlace]:
    if not len(x):
        return []
    if isinstance(laid, LateralMoveLayout):
        return move_places(laid, x, y)
    return pivot_place_list(laid, pivot_places(laid, x, y, sigma))


def _nearest_well(farm: Farm, lonlat: Sequence[tuple[float | None, float | None]]) -> list[str | None]:
    """Return for each place the well within `AT_WELL_M` of it."""
    names: list[str | None] = [None] * len(lonlat)
    if not lonlat:
        return names
    lon, lat = np.array(lonlat, float).T
    least: NDArray[np.float64] = np.full(len(lonlat), AT_WELL_M)
    for well in farm.wells:
        # Plane distance on a sphere: within 0.5 % at 30 m, any latitude a farm lies at.
        north = np.radians(lat - well.lat) * 6_371_000.0
        east = np.radians(lon - well.lon) * 6_371_000.0 * math.cos(math.radians(well.lat))
        away = np.hypot(east, north)
        for index in np.flatnonzero(away <= least).tolist():
            least[index], names[index] = away[index], well.name
    return names


def _located(
    state: FlagState,
    kind: FlagKind,
    spot: _Resolved,
    place: Place | None,
    *,
    reached: PivotPlace | LateralMovePlace | None,
    well: str | None,
) -> LocatedFlag:
    machine, drip = spot.pivot or spot.move, spot.drip
    by_position = _by_position(state) and place is not None
    at_well = well if kind.on == "works" and by_position else None
    if by_position and place is not None and at_well is None:
        machine = _machine_of(kind, place, reached)
        drip = _tape_of(place) if kind.on != "machine" and machine is None else None
    # A machine stands in its own field also where its arm reaches over the neighbour's.
    field = spot.field or (place.field if place and spot.well is None else None)
    return LocatedFlag(
        state=state,
        kind=kind,
        flag_class=state.flag_class or kind.flag_class,
        field=field,
        lon=spot.lon,
        lat=spot.lat,
        place=place,
        pivot=machine if isinstance(machine, PivotPlace) else None,
        drip=drip,
        well=spot.well or at_well,
        move=machine if isinstance(machine, LateralMovePlace) else None,
    )


def _machine_of(
    kind: FlagKind, place: Place, reached: PivotPlace | LateralMovePlace | None
) -> PivotPlace | LateralMovePlace | None:
    if kind.on == "machine":
        wet: list[PivotPlace | LateralMovePlace] = [pivot for pivot in place.pivots if pivot.inside]
        return next(iter(wet + [move for move in place.lateral_moves if move.inside]), reached)
    if kind.on == "works":
        return next((pivot for pivot in place.pivots if pivot.distance_m <= AT_WELL_M), None)
    return None


def _tape_of(place: Place) -> DripPlace | None:
    """Return the block a ground flag most probably belongs to; None away from tape."""
    inside = next((drip for drip in place.drip if drip.inside), None)
    return inside or next((drip for drip in place.drip if drip.candidates and drip.elsewhere < 0.5), None)

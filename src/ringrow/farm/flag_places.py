"""Where flags are on the farm: ground, machine, tape, well."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from ringrow.coverage.accuracy import Accuracy
from ringrow.coverage.locate import drip_place_at, locate_many, pivot_place_at, pivot_places
from ringrow.coverage.locate_pivots import pivot_place_list
from ringrow.errors import PlaceError
from ringrow.farm.flag_model import DripSpot, GroundSpot, LocatedFlag, MachineSpot, WellSpot
from ringrow.farm.machine_spots import distance_on_m
from ringrow.farm.names import find_named
from ringrow.farm.readers.rows import PointFile, PointRow, refuse_far
from ringrow.geometry.laterals import point_at

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from ringrow.coverage.field import DripLayout, FieldLayout, PivotLayout
    from ringrow.coverage.places import DripPlace, PivotPlace, Place
    from ringrow.equipment.kinds import FlagKind
    from ringrow.farm.flag_model import FlagState
    from ringrow.farm.model import Farm
    from ringrow.farm.readers.guess import Around

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
    drip: DripPlace | None = None
    well: str | None = None


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
    the pivot that wets the place (the nearest such), else to the nearest one whose reach
    comes within three sigma of it. A machine part said by name is on that machine; it has a
    position only when it is known where the machine stood.

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
    pivots = {laid.pivot.name: (layout, laid) for layout in layouts for laid in layout.pivots}
    drips = {laid.block.name: (layout, laid) for layout in layouts for laid in layout.drip}
    spots = [_resolve(farm, state, pivots, drips) for state in states]
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
    return [
        _located(state, kind, spot, places.get(index), reached=reached.get(index), well=near[index])
        for index, (state, kind, spot) in enumerate(zip(states, kinds, spots, strict=True))
    ]


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


def check_near(farm: Farm, *, lat: float, lon: float) -> None:
    """Check that a position typed for a flag lies near the farm.

    Parameters
    ----------
    farm : Farm
        The farm.
    lat, lon : float
        The position, WGS 84. [deg]

    Raises
    ------
    PlaceError
        If it lies farther than 50 km from everything on the farm.
    """
    typed = PointRow(what="place", lat=lat, lon=lon)
    checked = refuse_far(PointFile(file="", form="", rows=(typed,)), farm_lonlat(farm))
    if checked.refused:
        message = f"--at: {checked.refused[0].why}"
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


def _resolve(
    farm: Farm,
    state: FlagState,
    pivots: dict[str, tuple[FieldLayout, PivotLayout]],
    drips: dict[str, tuple[FieldLayout, DripLayout]],
) -> _Resolved:
    spot = state.spot
    if isinstance(spot, GroundSpot):
        return _Resolved(lon=spot.lon, lat=spot.lat, accuracy=spot.accuracy)
    if isinstance(spot, MachineSpot) and spot.pivot in pivots:
        return _on_machine(*pivots[spot.pivot], spot)
    if isinstance(spot, DripSpot) and spot.drip in drips:
        return _on_tape(*drips[spot.drip], spot)
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
    distance = min(distance, pivot.length_m)
    place = pivot_place_at(laid, distance, spot.azimuth_deg)
    if spot.azimuth_deg is None and distance > 0:
        return _Resolved(field=layout.field.name, pivot=place)
    bearing = math.radians((spot.azimuth_deg or 0.0) + pivot.convergence_deg)
    lon, lat = layout.field.frame.to_lonlat(
        pivot.x_m + distance * math.sin(bearing), pivot.y_m + distance * math.cos(bearing)
    )
    return _Resolved(lon=float(lon), lat=float(lat), field=layout.field.name, pivot=place)


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
    return any(pivot.inside for pivot in place.pivots)


def _reached(
    layouts: Sequence[FieldLayout], spots: Sequence[_Resolved], wanted: Sequence[int]
) -> dict[int, PivotPlace]:
    """Return, for machine flags that no pivot wets, the nearest pivot whose reach is within 3 sigma."""
    best: dict[int, PivotPlace] = {}
    if not wanted:
        return best
    lon = np.array([spots[index].lon for index in wanted], float)
    lat = np.array([spots[index].lat for index in wanted], float)
    sigma = np.array([spots[index].accuracy.sigma_m for index in wanted])
    for layout in layouts:
        x, y = layout.field.frame.to_xy(lon, lat)
        for laid in layout.pivots:
            pivot = laid.pivot
            reach = max(pivot.base_radius_m, pivot.gun_radius_m or 0.0) + 3 * sigma
            # Flags away from the machine are dropped before anything is worked out for them.
            near = np.flatnonzero(np.hypot(x - pivot.x_m, y - pivot.y_m) <= reach)
            places = (
                pivot_place_list(laid, pivot_places(laid, x[near], y[near], sigma[near])) if len(near) else []
            )
            for at, place in zip(near.tolist(), places, strict=True):
                index = wanted[at]
                if index not in best or place.distance_m < best[index].distance_m:
                    best[index] = place
    return best


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
    reached: PivotPlace | None,
    well: str | None,
) -> LocatedFlag:
    pivot, drip = spot.pivot, spot.drip
    by_position = _by_position(state) and place is not None
    at_well = well if kind.on == "works" and by_position else None
    if by_position and place is not None and at_well is None:
        pivot = _machine_of(kind, place, reached)
        drip = _tape_of(place) if kind.on != "machine" and pivot is None else None
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
        pivot=pivot,
        drip=drip,
        well=spot.well or at_well,
    )


def _machine_of(kind: FlagKind, place: Place, reached: PivotPlace | None) -> PivotPlace | None:
    if kind.on == "machine":
        return next((pivot for pivot in place.pivots if pivot.inside), reached)
    if kind.on == "works":
        return next((pivot for pivot in place.pivots if pivot.distance_m <= AT_WELL_M), None)
    return None


def _tape_of(place: Place) -> DripPlace | None:
    """Return the block a ground flag most probably belongs to; None away from tape."""
    inside = next((drip for drip in place.drip if drip.inside), None)
    return inside or next((drip for drip in place.drip if drip.candidates and drip.elsewhere < 0.5), None)

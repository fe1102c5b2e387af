"""The features of one field: its ground, its systems and their parts, its dry pieces."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from ringrow.coverage.acres import field_acres
from ringrow.coverage.pivot_layout import bent_track
from ringrow.handoff.drip_features import end_line_features, lateral_features
from ringrow.handoff.feature_group import FeatureGroup, feature_id, to_lonlat
from ringrow.handoff.machine_features import (
    arc_pairs,
    arm_features,
    bend_features,
    lateral_move_features,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from shapely.geometry.base import BaseGeometry

    from ringrow.coverage.acres import FieldAcres
    from ringrow.coverage.field import DripLayout, Field, FieldLayout, PivotLayout
    from ringrow.equipment.pivot import Pivot
    from ringrow.units import UnitSystem

TRACK_CHORD_ERROR_M = 0.01
"""Largest distance between a drawn wheel track and the circle it stands for [m]."""


def field_features(
    layout: FieldLayout, units: UnitSystem, *, laterals: bool = True, acres: FieldAcres | None = None
) -> Iterator[FeatureGroup]:
    """Yield the features of one field.

    Parameters
    ----------
    layout : FieldLayout
        The field, laid out.
    units : UnitSystem
        Units of lengths and areas among the properties.
    laterals : bool, default True
        Whether every lateral is a feature.
    acres : FieldAcres or None, default None
        The field's acres, if already worked out.

    Yields
    ------
    FeatureGroup
        Boundary, exclusions, what guns keep off, then each system with its parts, then dry ground.
    """
    acres = acres or field_acres(layout)
    yield _boundary(layout.field, acres, units)
    yield from _exclusions(layout.field, units)
    yield from _keep_off(layout.field)
    irrigated = {system.name: system.irrigated_m2 for system in acres.systems}
    for pivot in layout.pivots:
        yield from _pivot(layout.field, pivot, irrigated[pivot.pivot.name], units)
    for move in layout.lateral_moves:
        yield from lateral_move_features(layout.field, move, irrigated[move.name], units)
    for drip in layout.drip:
        yield _drip(layout.field, drip, irrigated[drip.block.name], units)
        yield from end_line_features(layout.field, drip, units)
        if laterals:
            yield from lateral_features(layout.field, drip, units)
    yield from _dry(layout.field, acres, units)


def tower_track(pivot: Pivot, radius_m: float) -> BaseGeometry:
    """Return the wheel track of a tower: a closed line, or a part circle's arc, on through its bends.

    Parameters
    ----------
    pivot : Pivot
        The machine.
    radius_m : float
        Distance of the tower from the pivot point. [m]

    Returns
    -------
    shapely LineString
        Vertices lie on the circle, chords within 0.01 m of it. [m]

    Examples
    --------
    >>> from ringrow.equipment.pivot import Pivot
    >>> pivot = Pivot(name="P1", x_m=0, y_m=0, spans_m=(100.0,))
    >>> track = tower_track(pivot, 100.0)
    >>> track.is_closed, round(track.length, 1)
    (True, 628.3)
    """
    sweep_deg = 360.0 if pivot.sector is None else pivot.sector.sweep_deg
    start_deg = pivot.convergence_deg + (0.0 if pivot.sector is None else pivot.sector.start_deg)
    step_rad = 2.0 * np.arccos(max(0.0, 1.0 - TRACK_CHORD_ERROR_M / radius_m))
    count = max(8, int(np.ceil(np.radians(sweep_deg) / step_rad)))
    bearing = np.radians(start_deg + sweep_deg * np.arange(count + 1) / count)
    if pivot.sector is None:
        bearing[-1] = bearing[0]
    x = pivot.x_m + radius_m * np.sin(bearing)
    y = pivot.y_m + radius_m * np.cos(bearing)
    arc = np.column_stack([x, y])
    # Bends are walked on past the stop, and on past the start walking the other way.
    before, after = bent_track(pivot, "start", radius_m)[:0:-1], bent_track(pivot, "stop", radius_m)[1:]
    return shapely.LineString(np.vstack([before, arc, after]))


def _area(units: UnitSystem, shape: BaseGeometry) -> float:
    return float(units.from_m2(shape.area))


def _one(kind: str, field: Field, name: str, shape: BaseGeometry, **properties: Any) -> FeatureGroup:
    return FeatureGroup(
        kind=kind,
        ids=[feature_id(kind, field.name, name)],
        shapes=to_lonlat(field.frame, [shape]),
        shared={"field": field.name, "name": name, **properties},
    )


def _boundary(field: Field, acres: FieldAcres, units: UnitSystem) -> FeatureGroup:
    shares = {
        units.key("acres"): units.from_m2(field.boundary.area),
        units.key("excluded_acres"): units.from_m2(acres.excluded_m2),
        units.key("farmable_acres"): units.from_m2(acres.farmable_m2),
        units.key("irrigated_acres"): units.from_m2(acres.irrigated_m2),
        units.key("dry_acres"): units.from_m2(acres.dry_m2),
    }
    return _one("boundary", field, field.name, field.boundary, **shares, notes=field.notes)


def _exclusions(field: Field, units: UnitSystem) -> Iterator[FeatureGroup]:
    parts = shapely.get_parts(field.exclusions)
    parts = parts[shapely.area(parts) > 0]
    if len(parts):
        numbers = list(range(1, len(parts) + 1))
        yield FeatureGroup(
            kind="exclusion",
            ids=[feature_id("exclusion", field.name, "exclusion", number) for number in numbers],
            shapes=to_lonlat(field.frame, parts),
            shared={"field": field.name, "name": "exclusion"},
            columns={"number": numbers, units.key("acres"): units.from_m2(1.0) * shapely.area(parts)},
        )


def _keep_off(field: Field) -> Iterator[FeatureGroup]:
    parts = shapely.get_parts(field.keep_off)
    parts = parts[~shapely.is_empty(parts)]
    if len(parts):
        numbers = list(range(1, len(parts) + 1))
        yield FeatureGroup(
            kind="keep-off",
            ids=[feature_id("keep-off", field.name, "keep off", number) for number in numbers],
            shapes=to_lonlat(field.frame, parts),
            shared={"field": field.name, "name": "keep off"},
            columns={"number": numbers},
        )


def _wetted(
    field: Field,
    name: str,
    system: str,
    shape: BaseGeometry,
    irrigated_m2: float,
    units: UnitSystem,
    **properties: Any,
) -> FeatureGroup:
    return _one(
        "wetted-area",
        field,
        name,
        shape,
        system=system,
        **{
            units.key("acres"): _area(units, shape),
            units.key("irrigated_acres"): units.from_m2(irrigated_m2),
        },
        **properties,
    )


def _drip(field: Field, drip: DripLayout, irrigated_m2: float, units: UnitSystem) -> FeatureGroup:
    block = drip.block
    return _wetted(
        field,
        block.name,
        "drip",
        drip.wetted,
        irrigated_m2,
        units,
        heading_deg=block.heading_deg,
        curved=block.guide_m is not None,
        **{
            units.key("lateral_spacing_in"): units.from_m_small(block.spacing_m),
            units.key("depth_in"): None if block.depth_m is None else units.from_m_small(block.depth_m),
        },
        notes=block.notes,
    )


def _pivot(
    field: Field, layout: PivotLayout, irrigated_m2: float, units: UnitSystem
) -> Iterator[FeatureGroup]:
    pivot = layout.pivot
    yield _wetted(field, pivot.name, "pivot", layout.wetted, irrigated_m2, units)
    yield _one(
        "pivot-base", field, pivot.name, layout.base, **{units.key("acres"): _area(units, layout.base)}
    )
    if not layout.gun.is_empty:
        gun_acres = {units.key("acres"): _area(units, layout.gun)}
        arcs = {"gun_azimuths_deg": arc_pairs(layout.gun_arcs)}
        yield _one("end-gun-ring", field, pivot.name, layout.gun, **gun_acres, **arcs)
    yield _one(
        "pivot-point",
        field,
        pivot.name,
        shapely.Point(pivot.x_m, pivot.y_m),
        towers=len(pivot.spans_m),
        **{
            units.key("length_ft"): units.from_m(pivot.length_m),
            units.key("base_radius_ft"): units.from_m(pivot.base_radius_m),
        },
        panel_zero_deg=pivot.panel_zero_deg,
        machine=pivot.machine or None,
        notes=pivot.notes,
    )
    if pivot.road_m:
        road = shapely.LineString(pivot.road_m)
        length = {units.key("length_ft"): units.from_m(road.length)}
        yield _one("pivot-road", field, pivot.name, road, **length)
    yield _tracks(field, pivot, units)
    yield from arm_features(field, layout, units)
    yield from bend_features(field, layout, units)


def _tracks(field: Field, pivot: Pivot, units: UnitSystem) -> FeatureGroup:
    radii_m = pivot.tower_radii_m
    tracks = [tower_track(pivot, radius_m) for radius_m in radii_m]
    towers = list(range(1, len(radii_m) + 1))
    return FeatureGroup(
        kind="tower-track",
        ids=[feature_id("tower-track", field.name, pivot.name, tower) for tower in towers],
        shapes=to_lonlat(field.frame, tracks),
        shared={"field": field.name, "name": pivot.name},
        columns={
            "tower": towers,
            units.key("radius_ft"): [units.from_m(radius_m) for radius_m in radii_m],
            units.key("length_ft"): [units.from_m(track.length) for track in tracks],
        },
    )


def _dry(field: Field, acres: FieldAcres, units: UnitSystem) -> Iterator[FeatureGroup]:
    if acres.dry_pieces:
        names = [piece.name for piece in acres.dry_pieces]
        lon, lat = zip(*((piece.lon, piece.lat) for piece in acres.dry_pieces), strict=True)
        yield FeatureGroup(
            kind="dry-piece",
            ids=[feature_id("dry-piece", field.name, name) for name in names],
            shapes=to_lonlat(field.frame, [piece.shape for piece in acres.dry_pieces]),
            shared={"field": field.name},
            columns={
                "name": names,
                "corner": [piece.corner for piece in acres.dry_pieces],
                units.key("acres"): [_area(units, piece.shape) for piece in acres.dry_pieces],
                "label_lon": lon,
                "label_lat": lat,
            },
        )
    if not acres.edge_strips.is_empty:
        strips = acres.edge_strips
        yield _one("edge-strips", field, "edge strips", strips, **{units.key("acres"): _area(units, strips)})

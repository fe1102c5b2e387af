"""Features of machines that do more than turn: corner arms, bends, lateral moves."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from ringrow.coverage.arm_table import arm_rows
from ringrow.coverage.lateral_move_layout import tower_path
from ringrow.coverage.pivot_layout import bent_ground, bent_pipe
from ringrow.handoff.feature_group import FeatureGroup, feature_id, to_lonlat

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray
    from shapely import LineString
    from shapely.geometry.base import BaseGeometry

    from ringrow.coverage.field import Field, LateralMoveLayout, PivotLayout
    from ringrow.equipment.pivot import Sector
    from ringrow.units import UnitSystem

PATH_ERROR_M = 0.01
"""Largest distance between a wheel path as written and as worked out [m]."""


def arm_features(field: Field, layout: PivotLayout, units: UnitSystem) -> Iterator[FeatureGroup]:
    """Yield the features of a corner arm.

    Parameters
    ----------
    field : Field
        Its field.
    layout : PivotLayout
        A machine, laid out.
    units : UnitSystem
        Units of lengths and areas among the properties.

    Yields
    ------
    FeatureGroup
        Its sweep, its gun's ground, the wheel path with the station of every vertex, and points
        on the path where the table has a row; nothing without an arm.
    """
    arm, name = layout.corner_arm, layout.name
    if arm is None:
        return
    acres = units.key("acres")
    yield _one("corner-arm-sweep", field, name, arm.swept, **{acres: units.from_m2(arm.swept.area)})
    if not arm.gun.is_empty:
        gun = {
            acres: units.from_m2(arm.gun.area),
            "gun_azimuths_deg": arc_pairs(arm.gun_arcs),
            "on": "corner arm",
        }
        yield _one("end-gun-ring", field, name, arm.gun, **gun)
    yield wheel_path_feature(field, layout, units)
    rows = arm_rows(layout)
    panel = layout.pivot.panel_zero_deg
    yield FeatureGroup(
        kind="arm-station",
        ids=[feature_id("arm-station", field.name, name, number + 1) for number in range(len(rows))],
        shapes=to_lonlat(field.frame, shapely.points([(row.x_m, row.y_m) for row in rows])),
        shared={"field": field.name, "name": name},
        columns={
            units.key("station_ft"): [units.from_m(row.station_m) for row in rows],
            "azimuth_deg": [row.azimuth_deg for row in rows],
            "panel_deg": [None if panel is None else (row.azimuth_deg - panel) % 360.0 for row in rows],
            "hinge_deg": [row.angle_deg for row in rows],
            "mark": [row.mark or None for row in rows],
        },
    )


def arc_pairs(arcs: tuple[Sector, ...] | str) -> list[list[float]]:
    """Return where a gun runs as pairs of azimuths.

    Parameters
    ----------
    arcs : tuple of Sector or "full"
        Its arcs.

    Returns
    -------
    list of list of float
        Start and stop of each arc, true azimuths clockwise; 0 and 360 for the whole turn. [deg]

    Examples
    --------
    >>> arc_pairs("full")
    [[0.0, 360.0]]
    """
    if isinstance(arcs, str):
        return [[0.0, 360.0]]
    return [[arc.start_deg, arc.stop_deg] for arc in arcs]


def wheel_path_feature(field: Field, layout: PivotLayout, units: UnitSystem) -> FeatureGroup:
    """Return the path of a corner arm's steered wheels as one line.

    Parameters
    ----------
    field : Field
        Its field.
    layout : PivotLayout
        A machine with a corner arm, laid out.
    units : UnitSystem
        Units of the stations.

    Returns
    -------
    FeatureGroup
        A line within 0.01 m of the path; ``stations_ft`` (or ``_m``) holds the distance of every
        vertex from its start. Without features when there is no arm.
    """
    if layout.corner_arm is None:
        return FeatureGroup(kind="arm-wheel-path", ids=[], shapes=np.empty(0, dtype=object))
    line, stations = thinned_path(layout.corner_arm.wheel_path)
    length = {units.key("length_ft"): units.from_m(layout.corner_arm.wheel_path.length)}
    listed = {units.key("stations_ft"): [units.from_m(station) for station in stations.tolist()]}
    return _one("arm-wheel-path", field, layout.name, line, **length, **listed)


def thinned_path(path: LineString) -> tuple[BaseGeometry, NDArray[np.float64]]:
    """Return a path with no more vertices than it needs, and how far along the whole path each lies.

    Parameters
    ----------
    path : shapely LineString
        The path. [m]

    Returns
    -------
    line : shapely LineString
        The path within 0.01 m; its vertices are vertices of `path`. [m]
    stations : ndarray, shape (n,)
        Distance of each vertex from the start along `path`. [m]

    Examples
    --------
    >>> import shapely
    >>> thinned_path(shapely.LineString([(0, 0), (1, 0.001), (2, 0), (2, 5)]))[1].round(3)
    array([0., 2., 7.])
    """
    line = shapely.simplify(path, PATH_ERROR_M)
    all_xy, kept_xy = shapely.get_coordinates(path), shapely.get_coordinates(line)
    walked = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(all_xy, axis=0).T))])
    at, stations = -1, []
    for vertex in kept_xy:
        # Vertices are kept in order, so each is the next equal one.
        at += 1 + int(np.argmax((all_xy[at + 1 :] == vertex).all(axis=1)))
        stations.append(walked[at])
    return line, np.array(stations)


def bend_features(field: Field, layout: PivotLayout, units: UnitSystem) -> Iterator[FeatureGroup]:
    """Yield the features of a machine's bends: ground, and where pipe and towers stand at their end.

    Parameters
    ----------
    field : Field
        Its field.
    layout : PivotLayout
        A machine, laid out.
    units : UnitSystem
        Units of areas among the properties.

    Yields
    ------
    FeatureGroup
        For each end of the sector that has bends: ``bend``, ``bent-pipe`` and ``tower`` points.
    """
    pivot = layout.pivot
    for end in ("start", "stop"):
        if not any(bend.at == end for bend in pivot.bends):
            continue
        ground = bent_ground(pivot, "start" if end == "start" else "stop")
        points = bent_pipe(pivot, "start" if end == "start" else "stop")
        shared = {"field": field.name, "name": pivot.name, "at": end}
        yield _one(
            "bend", field, pivot.name, ground, end, at=end, **{units.key("acres"): units.from_m2(ground.area)}
        )
        first = min(bend.tower for bend in pivot.bends if bend.at == end)
        yield _one("bent-pipe", field, pivot.name, shapely.LineString(points), end, at=end, first_tower=first)
        towers = list(range(1, len(pivot.spans_m) + 1))
        yield FeatureGroup(
            kind="tower",
            ids=[feature_id("tower", field.name, pivot.name, f"bent at {end}", tower) for tower in towers],
            shapes=to_lonlat(field.frame, shapely.points(points[1:-1])),
            shared=shared,
            columns={"tower": towers},
        )


def lateral_move_features(
    field: Field, layout: LateralMoveLayout, irrigated_m2: float, units: UnitSystem
) -> Iterator[FeatureGroup]:
    """Yield the features of a lateral-move machine.

    Parameters
    ----------
    field : Field
        Its field.
    layout : LateralMoveLayout
        The machine, laid out.
    irrigated_m2 : float
        Farmable ground it wets. [m2]
    units : UnitSystem
        Units of lengths and areas among the properties.

    Yields
    ------
    FeatureGroup
        Wetted ground, the cart's path with the travel distance of its corners, and the wheel
        track of every tower, numbered from the cart on each side.
    """
    move, path = layout.move, layout.path
    areas = {
        units.key("acres"): units.from_m2(layout.wetted.area),
        units.key("irrigated_acres"): units.from_m2(irrigated_m2),
    }
    yield _one("wetted-area", field, move.name, layout.wetted, system=layout.kind, **areas, notes=move.notes)
    yield _one(
        "cart-path",
        field,
        move.name,
        shapely.LineString(path.corners_m),
        **{
            units.key("length_ft"): units.from_m(float(path.starts_m[-1])),
            units.key("stations_ft"): [units.from_m(start) for start in path.starts_m.tolist()],
        },
    )
    yield _tracks(field, layout, units)


def _tracks(field: Field, layout: LateralMoveLayout, units: UnitSystem) -> FeatureGroup:
    move = layout.move
    rows = [
        (side, tower, offset_m, tower_path(layout.path, offset_m if side == "right" else -offset_m))
        for side, wing in (("left", move.left), ("right", move.right))
        for tower, offset_m in enumerate(wing.tower_offsets_m, 1)
    ]
    return FeatureGroup(
        kind="tower-track",
        ids=[feature_id("tower-track", field.name, move.name, side, tower) for side, tower, _, _ in rows],
        shapes=to_lonlat(field.frame, [row[3] for row in rows]),
        shared={"field": field.name, "name": move.name},
        columns={
            "side": [row[0] for row in rows],
            "tower": [row[1] for row in rows],
            units.key("offset_ft"): [units.from_m(row[2]) for row in rows],
            units.key("length_ft"): [units.from_m(row[3].length) for row in rows],
        },
    )


def _one(
    kind: str, field: Field, name: str, shape: BaseGeometry, *parts: str, **properties: Any
) -> FeatureGroup:
    return FeatureGroup(
        kind=kind,
        ids=[feature_id(kind, field.name, name, *parts)],
        shapes=to_lonlat(field.frame, [shape]),
        shared={"field": field.name, "name": name, **properties},
    )

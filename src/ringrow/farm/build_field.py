"""One field from its file: boundary, exclusions, systems; sound parts are built although others are not."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import shapely

from ringrow.coverage.field import Field
from ringrow.coverage.tillage import tillage_near
from ringrow.farm.build_drip import build_drip
from ringrow.farm.build_moves import build_move, check_path
from ringrow.farm.build_pivots import Surroundings, build_machine, pivot_name, scaled
from ringrow.farm.check_pivots import check_parked, check_pivot_place, check_pivot_sense, check_reading
from ringrow.farm.farm_names import field_name
from ringrow.farm.faults import number_words
from ringrow.farm.lines import keep_off_shape, line_points
from ringrow.farm.pivot_roads import pivot_roads
from ringrow.farm.rules import number
from ringrow.farm.schema import DripTable
from ringrow.farm.schema_base import At, KeepOffTable, ShapeTable
from ringrow.farm.schema_machines import LateralMoveTable, PivotTable, PlaceTable
from ringrow.farm.shapes import drawn, frame_about, ground, outline_drawn
from ringrow.farm.structure import fit_parts
from ringrow.units import FOOT_M

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from ringrow.equipment.drip import DripBlock
    from ringrow.equipment.lateral_move import LateralMove
    from ringrow.equipment.pivot import Pivot
    from ringrow.farm.rules import Desk
    from ringrow.farm.schema import DefaultsTable, LineTable
    from ringrow.farm.shapes import Drawn, Shelf
    from ringrow.frame import Frame
    from ringrow.units import UnitSystem

COVERED = 0.999
"""Exclusions that leave less than one part in a thousand of a field leave no field."""


def build_field(raw: dict[str, Any], *, shelf: Shelf, defaults: DefaultsTable, desk: Desk) -> Field | None:
    """Return a field in metres, noting every fault of its shapes and systems on the way.

    Parameters
    ----------
    raw : dict
        Plain data of the field's file; what misfits the schema is noted already.
    shelf : Shelf
        Files of the farm.
    defaults : DefaultsTable
        The farm's own defaults.
    desk : Desk
        Where faults go.

    Returns
    -------
    Field or None
        The field; None when its boundary cannot be used.
    """
    features, key = _boundary_drawn(raw, shelf, desk)
    frame = frame_about(features, key=key, desk=desk) if features else None
    boundary = ground(features, frame=frame, key=key, desk=desk) if features and frame else None
    if frame is None or boundary is None:
        return None
    exclusions = _exclusions(raw, boundary, frame, shelf, desk)
    keep_off = _keep_off(raw, boundary, frame, shelf, desk)
    around = Surroundings(
        frame=frame,
        units=desk.units[0],
        defaults=defaults,
        setback=number(raw, "setback"),
        min_arc=number(raw, "min_arc"),
        keeps_off=not keep_off.is_empty,
    )
    pivots = _pivots(raw, boundary, around, shelf, desk)
    drip = _drip_blocks(raw, boundary, frame, shelf, defaults, desk)
    units = desk.units[0]
    field = Field(
        name=field_name(raw),
        frame=frame,
        boundary=boundary,
        exclusions=exclusions,
        setback_m=_stated(raw, "setback", defaults.setback, 0.0) * units.length_m,
        neck_m=_neck_m(raw, defaults, units),
        min_arc_deg=_stated(raw, "min_arc", defaults.min_arc, 5.0),
        keep_off=keep_off,
        boundary_se_m=scaled(number(raw, "boundary_se"), units.length_m),
        tillage_depth_m=scaled(number(raw, "tillage_depth"), units.small_m),
        pivots=tuple(pivots),
        lateral_moves=tuple(_lateral_moves(raw, boundary, around, shelf, desk)),
        drip=tuple(_points_named(block, pivots) for block in drip),
        access=_words(raw, "access"),
        legal=_words(raw, "legal"),
        notes=_words(raw, "notes"),
        crop=_words(raw, "crop").strip(),
    )
    _check_tillage(field, desk)
    return field


def _points_named(block: DripBlock, pivots: list[Pivot]) -> DripBlock:
    """Return a block with every towed machine in its ``not`` list written as its points."""
    names: list[str] = []
    for name in block.not_under:
        at_points = [pivot.name for pivot in pivots if pivot.machine == name]
        names += [other for other in at_points or [name] if other not in names]
    return replace(block, not_under=tuple(names))


def _check_tillage(field: Field, desk: Desk) -> None:
    units = desk.units[0]
    for near in tillage_near(field):
        tape, depth = (
            f"{number_words(round(units.from_m_small(x), 1))} {units.small}"
            for x in (near.tape_depth_m, near.tillage_depth_m)
        )
        found = f"{depth}, where the tape of {near.block} lies {tape} deep"
        clear = "4 in" if units.name == "us" else "100 mm"
        allowed = f"{clear} of ground left over the tape (common practice, no source)"
        desk.warning("tillage_depth", found, allowed, "work shallower, or look at the depths")


def _keep_off(
    raw: dict[str, Any], boundary: BaseGeometry, frame: Frame, shelf: Shelf, desk: Desk
) -> BaseGeometry:
    shapes: list[BaseGeometry] = []
    for position, table in enumerate(fit_parts(KeepOffTable, raw.get("keep_off"), units=desk.units), 1):
        key = f"keep_off[{position}]"
        if table is None or desk.findings.touches(desk.file, key):
            continue
        shape = keep_off_shape(table, key=key, boundary=boundary, shelf=shelf, frame=frame, desk=desk)
        shapes += [shape] if shape is not None else []
    return shapely.union_all(shapes) if shapes else shapely.Polygon()


def _stated(raw: dict[str, Any], key: str, default: float | None, otherwise: float) -> float:
    """Return the field's own number, else the farm's, else ours."""
    own = number(raw, key)
    return own if own is not None else default if default is not None else otherwise


def _neck_m(raw: dict[str, Any], defaults: DefaultsTable, units: UnitSystem) -> float:
    ours_m = 50 * FOOT_M if units.name == "us" else 15.0
    return _stated(raw, "neck", defaults.neck, ours_m / units.length_m) * units.length_m


def _words(raw: dict[str, Any], key: str) -> str:
    return raw[key] if isinstance(raw.get(key), str) else ""


def _boundary_drawn(raw: dict[str, Any], shelf: Shelf, desk: Desk) -> tuple[list[Drawn] | None, str]:
    if "boundary" in raw:
        table = fit_parts(ShapeTable, [raw["boundary"]], units=desk.units)[0]
        sound = table is not None and not desk.findings.touches(desk.file, "boundary")
        return (drawn(table, key="boundary", shelf=shelf, desk=desk) if sound and table else None), "boundary"
    corners = fit_parts(At, raw.get("outline"), units=desk.units)
    if not corners or desk.findings.touches(desk.file, "outline"):
        return None, "outline"
    return outline_drawn([at for at in corners if at], key="outline", desk=desk), "outline"


def _exclusions(
    raw: dict[str, Any], boundary: BaseGeometry, frame: Frame, shelf: Shelf, desk: Desk
) -> BaseGeometry:
    tables = fit_parts(ShapeTable, raw.get("exclusions"), units=desk.units)
    grounds: list[BaseGeometry] = []
    for position, table in enumerate(tables, 1):
        key = f"exclusions[{position}]"
        if table is None or desk.findings.touches(desk.file, key):
            continue
        features = drawn(table, key=key, shelf=shelf, desk=desk)
        excluded = ground(features, frame=frame, key=key, desk=desk) if features else None
        if excluded is not None:
            grounds.append(excluded)
            _check_exclusion(excluded, boundary, key, desk)
    union: BaseGeometry = shapely.union_all(grounds) if grounds else shapely.Polygon()
    if len(grounds) > 1 and not desk.findings.touches(desk.file, "exclusions"):
        _check_something_left(union, boundary, "exclusions", desk)
    return union


def _check_exclusion(excluded: BaseGeometry, boundary: BaseGeometry, key: str, desk: Desk) -> None:
    units = desk.units[0]
    near = [part for part in shapely.get_parts(excluded) if part.intersects(boundary)]
    if not near:
        hint = "pick the right feature with where, or take it out"
        desk.warning(key, "an exclusion that does not touch the field", "ground inside the boundary", hint)
        return
    largest = max(near, key=lambda part: part.area)
    if largest.area > boundary.area:
        sizes = [number_words(round(units.from_m2(shape.area), 2)) for shape in (largest, boundary)]
        found = f"an exclusion of {sizes[0]} {units.area}, bigger than the field ({sizes[1]} {units.area})"
        desk.fault(key, found, "ground inside the boundary", "are boundary and exclusion mixed up?")
        return
    _check_something_left(excluded, boundary, key, desk)


def _check_something_left(excluded: BaseGeometry, boundary: BaseGeometry, key: str, desk: Desk) -> None:
    if excluded.intersection(boundary).area > COVERED * boundary.area:
        found = "exclusions that cover the whole field"
        desk.fault(key, found, "exclusions that leave ground to farm", "pick the right feature with where")


def _pivots(
    raw: dict[str, Any], boundary: BaseGeometry, around: Surroundings, shelf: Shelf, desk: Desk
) -> list[Pivot]:
    pivots: list[Pivot] = []
    tables = fit_parts(PivotTable, raw.get("pivot"), units=desk.units)
    for position, table in enumerate(tables, 1):
        key = f"pivot[{position}]"
        if table is None or desk.findings.touches(desk.file, key):
            continue
        machine = build_machine(table, name=pivot_name(table, field_name(raw), position), around=around)
        _check_machine(table, machine, boundary, around.frame, key, desk)
        roads = pivot_roads(table, machine, boundary, key=key, shelf=shelf, frame=around.frame, desk=desk)
        pivots += [replace(pivot, road_m=road) for pivot, road in zip(machine, roads, strict=True)]
    return pivots


def _check_machine(
    table: PivotTable, machine: tuple[Pivot, ...], boundary: BaseGeometry, frame: Frame, key: str, desk: Desk
) -> None:
    stands: list[tuple[str, str, At, PivotTable | PlaceTable]] = [
        (where := f"{key}.points[{number}]", where, place, place)
        for number, place in enumerate(table.points or (), 1)
    ]
    if table.point is not None:
        stands = [(f"{key}.point", key, table.point, table)]
    for (where, stem, at, own), pivot in zip(stands, machine, strict=True):
        check_pivot_place(at, boundary, frame=frame, key=where, desk=desk)
        if own.panel_reading is not None:
            check_reading(at, own.panel_reading, pivot, key=f"{stem}.panel_reading", desk=desk)
        parked = "parked" if own.parked is not None else "parked_panel"
        check_parked(pivot, key=f"{stem}.{parked}", desk=desk)
    check_pivot_sense(machine[0], table, key=key, desk=desk)


def _lateral_moves(
    raw: dict[str, Any], boundary: BaseGeometry, around: Surroundings, shelf: Shelf, desk: Desk
) -> list[LateralMove]:
    moves = []
    tables = fit_parts(LateralMoveTable, raw.get("lateral_move"), units=desk.units)
    for position, table in enumerate(tables, 1):
        key = f"lateral_move[{position}]"
        if table is None or desk.findings.touches(desk.file, key):
            continue
        path = f"{key}.path"
        path_m = line_points(table.path, key=path, shelf=shelf, frame=around.frame, desk=desk)
        if path_m is not None and check_path(path_m, boundary, key=path, desk=desk):
            name = table.name or f"{field_name(raw)} lateral move {position}"
            moves.append(build_move(table, name=name, path_m=path_m, around=around))
    return moves


def _drip_blocks(
    raw: dict[str, Any],
    boundary: BaseGeometry,
    frame: Frame,
    shelf: Shelf,
    defaults: DefaultsTable,
    desk: Desk,
) -> list[DripBlock]:
    blocks = []
    tables = fit_parts(DripTable, raw.get("drip"), units=desk.units)
    for position, table in enumerate(tables, 1):
        key = f"drip[{position}]"
        if table is None or desk.findings.touches(desk.file, key):
            continue
        area = _drip_area(table, boundary, frame, shelf, key, desk)
        if area is None:
            continue
        line_m = None
        if table.line is not None:
            line_m = _guide_points(table.line, f"{key}.line", shelf, frame, desk)
            if line_m is None:
                continue
        name = table.name or f"{field_name(raw)} drip {position}"
        block = build_drip(
            table,
            name=name,
            key=key,
            area=area,
            units=desk.units[0],
            defaults=defaults,
            desk=desk,
            line_m=line_m,
        )
        blocks += [block] if block else []
    return blocks


def _guide_points(
    line: LineTable, key: str, shelf: Shelf, frame: Frame, desk: Desk
) -> NDArray[np.float64] | None:
    if line.from_ is not None and line.to is not None:
        return line_points([line.from_, line.to], key=key, shelf=shelf, frame=frame, desk=desk)
    if line.path is not None:
        return line_points(line.path, key=f"{key}.path", shelf=shelf, frame=frame, desk=desk)
    return line_points(line, key=key, shelf=shelf, frame=frame, desk=desk)


def _drip_area(
    table: DripTable, boundary: BaseGeometry, frame: Frame, shelf: Shelf, key: str, desk: Desk
) -> BaseGeometry | None:
    if not isinstance(table.area, ShapeTable):
        return boundary
    features = drawn(table.area, key=f"{key}.area", shelf=shelf, desk=desk)
    area = ground(features, frame=frame, key=f"{key}.area", desk=desk) if features else None
    if area is None:
        return None
    outside = area.difference(boundary).area
    if outside >= area.area * (1 - 1e-9):
        desk.fault(
            f"{key}.area", "an area outside the field", "ground inside the boundary", "pick the right feature"
        )
        return None
    if outside > 0.01 * area.area:
        units = desk.units[0]
        found = f"{number_words(round(units.from_m2(outside), 2))} {units.area} of it outside the boundary"
        desk.warning(f"{key}.area", found, "ground inside the boundary", "look at both on a map")
    return area

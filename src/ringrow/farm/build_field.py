"""One field from its file: boundary, exclusions, systems; sound parts are built although others are not."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import shapely

from ringrow.coverage.field import Field
from ringrow.farm.build_drip import build_drip
from ringrow.farm.build_pivots import build_pivot, check_pivot_place, check_pivot_sense, pivot_name
from ringrow.farm.farm_names import field_name
from ringrow.farm.faults import number_words
from ringrow.farm.rules import number
from ringrow.farm.schema import At, DripTable, PivotTable, ShapeTable
from ringrow.farm.shapes import drawn, frame_about, ground, outline_drawn
from ringrow.farm.structure import fit_parts
from ringrow.units import FOOT_M

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from ringrow.equipment.drip import DripBlock
    from ringrow.equipment.pivot import Pivot
    from ringrow.farm.rules import Desk
    from ringrow.farm.schema import DefaultsTable
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
    pivots = _pivots(raw, boundary, frame, defaults, desk)
    drip = _drip_blocks(raw, boundary, frame, shelf, defaults, desk)
    units = desk.units[0]
    return Field(
        name=field_name(raw),
        frame=frame,
        boundary=boundary,
        exclusions=exclusions,
        setback_m=_stated(raw, "setback", defaults.setback, 0.0) * units.length_m,
        neck_m=_neck_m(raw, defaults, units),
        min_arc_deg=_stated(raw, "min_arc", defaults.min_arc, 5.0),
        pivots=tuple(pivots),
        drip=tuple(drip),
        notes=raw["notes"] if isinstance(raw.get("notes"), str) else "",
    )


def _stated(raw: dict[str, Any], key: str, default: float | None, otherwise: float) -> float:
    """Return the field's own number, else the farm's, else ours."""
    own = number(raw, key)
    return own if own is not None else default if default is not None else otherwise


def _neck_m(raw: dict[str, Any], defaults: DefaultsTable, units: UnitSystem) -> float:
    ours_m = 50 * FOOT_M if units.name == "us" else 15.0
    return _stated(raw, "neck", defaults.neck, ours_m / units.length_m) * units.length_m


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
    raw: dict[str, Any], boundary: BaseGeometry, frame: Frame, defaults: DefaultsTable, desk: Desk
) -> list[Pivot]:
    pivots = []
    tables = fit_parts(PivotTable, raw.get("pivot"), units=desk.units)
    for position, table in enumerate(tables, 1):
        key = f"pivot[{position}]"
        if table is None or desk.findings.touches(desk.file, key):
            continue
        pivot = build_pivot(
            table,
            name=pivot_name(table, field_name(raw), position),
            frame=frame,
            units=desk.units[0],
            defaults=defaults,
            setback=number(raw, "setback"),
            min_arc=number(raw, "min_arc"),
        )
        check_pivot_place(table, boundary, frame=frame, key=key, desk=desk)
        check_pivot_sense(pivot, key=key, desk=desk)
        pivots.append(pivot)
    return pivots


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
        name = table.name or f"{field_name(raw)} drip {position}"
        block = build_drip(
            table,
            name=name,
            key=key,
            area=area,
            frame=frame,
            units=desk.units[0],
            defaults=defaults,
            desk=desk,
        )
        blocks += [block] if block else []
    return blocks


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

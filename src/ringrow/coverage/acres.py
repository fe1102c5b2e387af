"""Acres of a field: farmable, irrigated, dry, watered twice, watered where it should not be.

Ground is worked out first (`field_cover`), as shapes in the field's frame; the numbers
(`field_acres`) are areas of those shapes. Everything is an overlay of valid polygons in plain
doubles: GEOS's overlay moves corners by rounding alone, so nothing is snapped to a grid, and
the parts of a whole add up to it within 1e-9.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely import Polygon

from ringrow.coverage.field import FieldLayout, PivotLayout
from ringrow.coverage.uncertainty import area_errors
from ringrow.geometry.pieces import DryPieces, dry_pieces
from ringrow.geometry.ring_repair import polygons_only

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from shapely.geometry.base import BaseGeometry

    from ringrow.coverage.field import SystemKind
    from ringrow.coverage.uncertainty import AreaErrors
    from ringrow.frame import Frame
    from ringrow.geometry.pieces import DryPiece


@dataclass(frozen=True, slots=True, kw_only=True)
class SystemCover:
    """The ground of one system.

    Parameters
    ----------
    name : str
        The pivot or drip block.
    kind : {"pivot", "lateral move", "drip"}
        What it is.
    wetted : shapely geometry
        All ground it wets, not cut at the boundary. [m]
    within : shapely Polygon or MultiPolygon
        What of that is farmable, ground shared with other systems included. [m]
    end_gun : shapely Polygon, MultiPolygon or None
        What of `within` its end gun alone wets, past its base; None without a gun. [m]
    corner_arm : shapely Polygon, MultiPolygon or None
        What of `within` its corner arm wets past its base, the arm's gun not counted; None without
        an arm. [m]
    assumed : tuple of str
        What its numbers rest on that nobody stated.
    """

    name: str
    kind: SystemKind
    wetted: BaseGeometry
    within: BaseGeometry
    end_gun: BaseGeometry | None
    corner_arm: BaseGeometry | None
    assumed: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldCover:
    """A field cut into irrigated and dry ground, as shapes in its frame.

    `irrigated` and `dry` make up the farmable ground; the dry pieces with their strips make
    up `dry`; the two oversprays make up all wetted ground that is not farmable.

    Parameters
    ----------
    layout : FieldLayout
        The field with every system's wetted ground.
    irrigated : shapely Polygon or MultiPolygon
        Farmable ground that at least one system wets. [m]
    dry : shapely Polygon or MultiPolygon
        Farmable ground that none wets. [m]
    overlap : shapely Polygon or MultiPolygon
        Farmable ground that two or more systems wet. [m]
    overspray_outside, overspray_excluded : shapely Polygon or MultiPolygon
        Wetted ground outside the boundary; on exclusions inside it. [m]
    systems : tuple of SystemCover
        Pivots, then lateral moves, then drip blocks, in file order.
    pieces : DryPieces
        The pieces of dry ground, and its edge strips.
    """

    layout: FieldLayout
    irrigated: BaseGeometry
    dry: BaseGeometry
    overlap: BaseGeometry
    overspray_outside: BaseGeometry
    overspray_excluded: BaseGeometry
    systems: tuple[SystemCover, ...]
    pieces: DryPieces


@dataclass(frozen=True, slots=True, kw_only=True)
class SystemAcres:
    """The areas of one system.

    Parameters
    ----------
    name : str
        The pivot or drip block.
    kind : {"pivot", "lateral move", "drip"}
        What it is.
    wetted_m2 : float
        All ground it wets. [m2]
    irrigated_m2 : float
        What of that is farmable, ground shared with other systems included. [m2]
    end_gun_m2 : float or None
        Farmable ground its end gun adds to its base, and to its corner arm; None without a gun. [m2]
    corner_arm_m2 : float or None
        Farmable ground its corner arm adds to its base, the arm's gun not counted; None without
        an arm. [m2]
    assumed : tuple of str
        What its numbers rest on that nobody stated.
    """

    name: str
    kind: SystemKind
    wetted_m2: float
    irrigated_m2: float
    end_gun_m2: float | None
    corner_arm_m2: float | None
    assumed: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineAcres:
    """What a machine that is towed between points wets in all.

    Parameters
    ----------
    name : str
        The machine.
    points : tuple of str
        Names of its points, each one a system.
    wetted_m2 : float
        Ground it wets from one point or another, counted once. [m2]
    irrigated_m2 : float
        What of that is farmable. [m2]
    """

    name: str
    points: tuple[str, ...]
    wetted_m2: float
    irrigated_m2: float


@dataclass(frozen=True, slots=True, kw_only=True)
class DryGround:
    """One row of dry ground: a piece, or the edge strips together.

    Parameters
    ----------
    name : str
        ``NE corner``, ``dry 3`` or ``edge strips``.
    corner : str or None
        Compass names of the field corners it takes; None without one.
    area_m2 : float
        Its area. [m2]
    lon, lat : float
        Its pole of inaccessibility, the inside point farthest from its edge. [deg]
    shape : shapely Polygon or MultiPolygon
        Its ground in the field's frame. [m]
    """

    name: str
    corner: str | None
    area_m2: float
    lon: float
    lat: float
    shape: BaseGeometry


@dataclass(frozen=True, slots=True, kw_only=True)
class Areas:
    """The areas that fields and whole farms have alike; all in square metres.

    Parameters
    ----------
    field_m2 : float
        Ground inside the boundary. [m2]
    excluded_m2 : float
        Exclusions inside the boundary. [m2]
    farmable_m2 : float
        Boundary less exclusions. [m2]
    irrigated_m2, dry_m2 : float
        Farmable ground that some system wets, and that none wets; they sum to farmable. [m2]
    overlap_m2 : float
        Farmable ground that two or more systems wet, counted once. [m2]
    overspray_m2 : float
        Wetted ground that is not farmable: the two below together. [m2]
    overspray_outside_m2, overspray_excluded_m2 : float
        Wetted ground outside the boundary; on exclusions inside it. [m2]
    """

    field_m2: float
    excluded_m2: float
    farmable_m2: float
    irrigated_m2: float
    dry_m2: float
    overlap_m2: float
    overspray_m2: float
    overspray_outside_m2: float
    overspray_excluded_m2: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldAcres(Areas):
    """The areas of one field, its systems and its dry pieces.

    Parameters
    ----------
    name : str
        The field.
    neck_m : float
        Dry ground narrower than this counts as edge strips. [m]
    systems : tuple of SystemAcres
        Pivots, then lateral moves, then drip blocks, in file order.
    dry_pieces : tuple of DryGround
        Pieces of dry ground, clockwise from north; edge strips are not among them.
    edge_strips_row : DryGround or None
        What is left of dry ground, as one row; None when nothing is.
    assumed : tuple of str
        What the field's numbers rest on that nobody stated, each with its system's name.
    machines : tuple of MachineAcres, default ()
        Machines that are towed between points, in file order; each point is a system of its own.
    errors : AreaErrors or None, default None
        How sure the areas are; None when it was not worked out.
    """

    name: str
    neck_m: float
    systems: tuple[SystemAcres, ...]
    dry_pieces: tuple[DryGround, ...]
    edge_strips_row: DryGround | None
    assumed: tuple[str, ...]
    machines: tuple[MachineAcres, ...] = ()
    errors: AreaErrors | None = None

    @property
    def edge_strips(self) -> BaseGeometry:
        """Shape of the edge strips in the field's frame [m]; empty when there are none."""
        return Polygon() if self.edge_strips_row is None else self.edge_strips_row.shape

    @property
    def dry_rows(self) -> tuple[DryGround, ...]:
        """The dry pieces and, last, the edge strips; together all dry ground."""
        return self.dry_pieces if self.edge_strips_row is None else (*self.dry_pieces, self.edge_strips_row)


def field_cover(layout: FieldLayout) -> FieldCover:
    """Return a field cut into irrigated and dry ground, with what is wetted twice or in vain.

    Parameters
    ----------
    layout : FieldLayout
        The field with every system's wetted ground.

    Returns
    -------
    FieldCover
        Shapes in the field's frame.
    """
    field, farmable = layout.field, layout.farmable
    systems = _system_covers(layout)
    wetted = shapely.union_all([system.wetted for system in systems])
    dry = polygons_only(farmable - wetted)
    return FieldCover(
        layout=layout,
        irrigated=polygons_only(farmable & wetted),
        dry=dry,
        overlap=_wetted_twice(systems),
        overspray_outside=polygons_only(wetted - field.boundary),
        overspray_excluded=polygons_only(polygons_only(wetted & field.boundary) & field.exclusions),
        systems=systems,
        pieces=dry_pieces(dry, field.boundary, neck_m=field.neck_m),
    )


def _system_covers(layout: FieldLayout) -> tuple[SystemCover, ...]:
    wetted = np.array([system.wetted for system in layout.systems], dtype=object)
    within = shapely.intersection(wetted, layout.farmable)
    return tuple(
        SystemCover(
            name=system.name,
            kind=system.kind,
            wetted=system.wetted,
            within=polygons_only(ground),
            end_gun=_end_gun(system, layout.farmable) if isinstance(system, PivotLayout) else None,
            corner_arm=_corner_arm(system, layout.farmable) if isinstance(system, PivotLayout) else None,
            assumed=system.assumed,
        )
        for system, ground in zip(layout.systems, within, strict=True)
    )


def _end_gun(layout: PivotLayout, farmable: BaseGeometry) -> BaseGeometry | None:
    arm = layout.corner_arm
    if arm is not None and layout.pivot.corner_arm is not None:
        # The arm's gun ground comes without what base and arm wet.
        return polygons_only(arm.gun & farmable) if layout.pivot.corner_arm.end_gun else None
    if layout.pivot.end_gun is None:
        return None
    return polygons_only(polygons_only(layout.gun & farmable) - layout.base)


def _corner_arm(layout: PivotLayout, farmable: BaseGeometry) -> BaseGeometry | None:
    if layout.corner_arm is None:
        return None
    return polygons_only(polygons_only(layout.corner_arm.swept & farmable) - layout.base)


def _machine_acres(layout: FieldLayout) -> tuple[MachineAcres, ...]:
    """Return the acres of each towed machine's points together."""
    names = dict.fromkeys(pivot.pivot.machine for pivot in layout.pivots if pivot.pivot.machine)
    found = []
    for name in names:
        points = [pivot for pivot in layout.pivots if pivot.pivot.machine == name]
        wetted = shapely.union_all([point.wetted for point in points])
        within = polygons_only(wetted & layout.farmable)
        found.append(
            MachineAcres(
                name=name,
                points=tuple(point.name for point in points),
                wetted_m2=float(wetted.area),
                irrigated_m2=float(within.area),
            )
        )
    return tuple(found)


def _wetted_twice(systems: Sequence[SystemCover]) -> BaseGeometry:
    grounds = np.array([system.within for system in systems], dtype=object)
    if len(grounds) < 2:
        return Polygon()
    pairs = shapely.STRtree(grounds).query(grounds, predicate="intersects")
    one, other = pairs[:, pairs[0] < pairs[1]]
    shared = shapely.intersection(grounds[one], grounds[other])
    # Pairs that only touch meet in lines and points, which a union of mixed kinds would refuse.
    return polygons_only(shapely.union_all([polygons_only(shape) for shape in shared]))


def field_acres(layout: FieldLayout | FieldCover) -> FieldAcres:
    """Return the areas of a field, its systems and its dry pieces.

    Parameters
    ----------
    layout : FieldLayout or FieldCover
        The field with every system's wetted ground, or already cut into irrigated and dry.

    Returns
    -------
    FieldAcres
        Areas in square metres, horizontal, on the WGS 84 ellipsoid; with the shapes and
        positions of dry pieces. Irrigated and dry sum to farmable within 1e-9.

    Examples
    --------
    >>> from ringrow.coverage.field import Field
    >>> from ringrow.coverage.layout import lay_out
    >>> from ringrow.equipment.pivot import Pivot
    >>> from ringrow.frame import Frame
    >>> from ringrow.units import ACRE_M2, FOOT_M
    >>> half = 1320 * FOOT_M
    >>> field = Field(
    ...     name="Windmill quarter",
    ...     frame=Frame(lon=-101.5, lat=36.75),
    ...     boundary=shapely.box(-half, -half, half, half),
    ...     pivots=(Pivot(name="Windmill pivot", x_m=0, y_m=0, spans_m=(half,)),),
    ... )
    >>> acres = field_acres(lay_out(field))
    >>> round(acres.irrigated_m2 / ACRE_M2, 2), round(acres.dry_m2 / ACRE_M2, 2)
    (125.66, 34.34)
    >>> [piece.name for piece in acres.dry_pieces]
    ['NE corner', 'SE corner', 'SW corner', 'NW corner']
    """
    cover = field_cover(layout) if isinstance(layout, FieldLayout) else layout
    field = cover.layout.field
    outside, excluded = cover.overspray_outside.area, cover.overspray_excluded.area
    rows = _dry_rows(cover.pieces, field.frame)
    pieces = len(cover.pieces.pieces)
    return FieldAcres(
        name=field.name,
        errors=area_errors(cover.layout),
        field_m2=float(field.boundary.area),
        excluded_m2=float((field.boundary & field.exclusions).area),
        farmable_m2=float(cover.layout.farmable.area),
        irrigated_m2=float(cover.irrigated.area),
        dry_m2=float(cover.dry.area),
        overlap_m2=float(cover.overlap.area),
        overspray_m2=float(outside + excluded),
        overspray_outside_m2=float(outside),
        overspray_excluded_m2=float(excluded),
        neck_m=field.neck_m,
        systems=tuple(_system_acres(system) for system in cover.systems),
        dry_pieces=rows[:pieces],
        edge_strips_row=rows[pieces] if len(rows) > pieces else None,
        assumed=tuple(f"{system.name}: {text}" for system in cover.systems for text in system.assumed),
        machines=_machine_acres(cover.layout),
    )


def _system_acres(system: SystemCover) -> SystemAcres:
    return SystemAcres(
        name=system.name,
        kind=system.kind,
        wetted_m2=float(system.wetted.area),
        irrigated_m2=float(system.within.area),
        end_gun_m2=None if system.end_gun is None else float(system.end_gun.area),
        corner_arm_m2=None if system.corner_arm is None else float(system.corner_arm.area),
        assumed=system.assumed,
    )


def _dry_rows(pieces: DryPieces, frame: Frame) -> tuple[DryGround, ...]:
    rows: tuple[DryPiece, ...] = pieces.rows
    lon, lat = frame.to_lonlat([row.x_m for row in rows], [row.y_m for row in rows])
    return tuple(
        DryGround(
            name=row.name,
            corner=row.corner,
            area_m2=row.area_m2,
            lon=float(lon[i]),
            lat=float(lat[i]),
            shape=row.geometry,
        )
        for i, row in enumerate(rows)
    )


def total_acres(field_areas: Iterable[Areas]) -> Areas:
    """Return the areas of several fields together.

    Parameters
    ----------
    field_areas : iterable of Areas
        Areas of single fields, such as `FieldAcres`.

    Returns
    -------
    Areas
        Their sums; all 0 for none. Water thrown from one field onto another is overspray
        still. [m2]

    Examples
    --------
    >>> total_acres([]).dry_m2
    0.0
    """
    several = list(field_areas)
    sums = {item.name: float(sum(getattr(areas, item.name) for areas in several)) for item in fields(Areas)}
    return Areas(**sums)

"""Fields in metres for tests of routes: plain squares whose ways can be worked out by hand."""

from __future__ import annotations

from typing import Any

import shapely

from ringrow.coverage.crop_ways import RouteSpot
from ringrow.coverage.field import Field, FieldLayout
from ringrow.coverage.layout import lay_out
from ringrow.equipment.drip import DripBlock
from ringrow.equipment.lateral_move import LateralMove, Wing
from ringrow.equipment.pivot import Pivot, Sector
from ringrow.frame import Frame

FRAME = Frame(lon=-101.5, lat=36.75)


def drip_field(*, exclusions: Any = None) -> FieldLayout:
    """Square of 400 m about (0, 0); lateral k runs east at y = 199 - 2 (k - 1), headland 10 m."""
    area = shapely.box(-200, -200, 200, 200)
    block = DripBlock(
        name="Tape",
        area=area,
        heading_deg=90,
        spacing_m=2.0,
        number_from_deg=0,
        header_deg=270,
        headland_m=10,
    )
    return lay_out(
        Field(
            name="Drip field",
            frame=FRAME,
            boundary=area,
            exclusions=exclusions or shapely.Polygon(),
            drip=(block,),
        )
    )


def pivot_field(
    *, west: float = -420.0, sector: Sector | None = None, road: tuple[tuple[float, float], ...] = ()
) -> FieldLayout:
    """Square of 840 m; pivot point in its middle, towers at 100, 200, 300 and 400 m."""
    middle = west + 420.0
    pivot = Pivot(
        name="Circle",
        x_m=middle,
        y_m=0.0,
        spans_m=(100.0, 100.0, 100.0, 100.0),
        throw_m=10,
        sector=sector,
        road_m=road,
    )
    boundary = shapely.box(west, -420, west + 840, 420)
    return lay_out(Field(name="Pivot field", frame=FRAME, boundary=boundary, pivots=(pivot,)))


def spot(x: float, y: float, **reached: Any) -> RouteSpot:
    """A stop at a place of the frame."""
    lon, lat = FRAME.to_lonlat(x, y)
    return RouteSpot(lon=float(lon), lat=float(lat), **reached)


def row_spot(x: float, lateral: int, *, off: float = 0.0) -> RouteSpot:
    """A stop on a lateral of the drip field, or beside it."""
    return spot(x, 199.0 - 2.0 * (lateral - 1) + off, field="Drip field", drip="Tape", lateral=lateral)


def circle_spot(x: float, y: float) -> RouteSpot:
    """A stop reached by the wheel tracks of the pivot field."""
    return spot(x, y, field="Pivot field", pivot="Circle")


def move_field() -> FieldLayout:
    """Square of 840 m; a cart's path up its middle from y = -400 to 400, towers every 100 m, three a side."""
    wing = Wing(spans_m=(100.0, 100.0, 100.0), throw_m=10)
    move = LateralMove(name="Ditch", path_m=((0.0, -400.0), (0.0, 400.0)), left=wing, right=wing)
    boundary = shapely.box(-420, -420, 420, 420)
    return lay_out(Field(name="Move field", frame=FRAME, boundary=boundary, lateral_moves=(move,)))

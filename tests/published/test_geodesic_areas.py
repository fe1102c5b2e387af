"""Areas of whole farms' shapes against geodesic areas of the same polygons.

Sources
-------
geographiclib (C. F. F. Karney, *Algorithms for geodesics*, Journal of Geodesy 87, 2013): every shape
the acres are measured on, taken back to longitude and latitude, must have the area it gives. The
sample farm's many corners go through PROJ's own geodesics, that method in C by the same author.
Rows G20, G23, G24, G25 and G28 of the reference values are exact formulas or derived with
geographiclib, and said to be derived.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
import shapely
from geographiclib.geodesic import Geodesic
from pyproj import Geod
from shapely import orient_polygons

from ringrow.coverage.acres import field_cover
from ringrow.coverage.field import Field
from ringrow.coverage.layout import lay_out
from ringrow.equipment.drip import DripBlock
from ringrow.equipment.pivot import EndGun, Pivot, Sector
from ringrow.farm.load import load_farm
from ringrow.frame import Frame
from ringrow.units import ACRE_M2, FOOT_M

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from shapely.geometry.base import BaseGeometry

SIDE_M = 2640 * FOOT_M


def geodesic_m2(shape: BaseGeometry, frame: Frame) -> float:
    """Area by geographiclib of a shape in a frame, ring by ring."""
    total = 0.0
    for part in shapely.get_parts(frame.unproject(shape)):
        for ring, sign in [(part.exterior, 1), *((hole, -1) for hole in part.interiors)]:
            polygon = Geodesic.WGS84.Polygon()
            for lon, lat in ring.coords[:-1]:
                polygon.AddPoint(lat, lon)
            total += sign * abs(polygon.Compute()[2])
    return total


def proj_m2(shape: BaseGeometry, frame: Frame) -> float:
    """Area by PROJ of a shape in a frame."""
    return abs(Geod(ellps="WGS84").geometry_area_perimeter(orient_polygons(frame.unproject(shape)))[0])


def assert_geodesic(field: Field, measure: Callable[[BaseGeometry, Frame], float] = geodesic_m2) -> None:
    """Every shape of a field's acres has the geodesic area of the same shape, to 1e-6."""
    cover = field_cover(lay_out(field))
    shapes = {
        "boundary": field.boundary,
        "farmable": cover.layout.farmable,
        "irrigated": cover.irrigated,
        "dry": cover.dry,
        "overlap": cover.overlap,
        "overspray outside": cover.overspray_outside,
        "overspray on exclusions": cover.overspray_excluded,
        **{f"wetted by {system.name}": system.wetted for system in cover.systems},
        **{f"within, {system.name}": system.within for system in cover.systems},
        **{row.name: row.geometry for row in cover.pieces.rows},
    }
    for name, shape in shapes.items():
        geodesic = measure(shape, field.frame)
        # geographiclib itself is good to 0.1 m2 per 10,000 km2 and far better here; 0.001 m2 is
        # let pass so that hair-thin slivers are not compared by their ratio.
        assert shape.area == pytest.approx(geodesic, rel=1e-6, abs=1e-3), name


@pytest.mark.parametrize(("lon", "lat"), [(-101.5, 36.75), (172, -45), (20, 69)])
def test_a_field_with_everything(lon: float, lat: float) -> None:
    field = Field(
        name="F",
        frame=Frame(lon=lon, lat=lat),
        boundary=shapely.box(-SIDE_M, -SIDE_M / 2, SIDE_M, SIDE_M / 2),
        exclusions=shapely.box(-60, -300, -20, 200),
        pivots=(
            Pivot(name="W", x_m=-400, y_m=0, spans_m=(50.0,) * 7, end_gun=EndGun(reach_m=40), throw_m=8),
            Pivot(name="E", x_m=300, y_m=20, spans_m=(60.0,) * 6, sector=Sector(start_deg=20, stop_deg=310)),
        ),
        drip=(
            DripBlock(
                name="D",
                area=shapely.box(400, -400, 800, 400),
                heading_deg=37,
                spacing_m=1.524,
                number_from_deg=300,
                header_deg=217,
                not_under=("E",),
            ),
        ),
    )
    assert_geodesic(field)


def test_the_sample_farm(sample_farm: Path) -> None:
    """By PROJ's geodesics, the same method in C: thousands of corners along the corner arm's ground."""
    for field in load_farm(sample_farm).fields:
        assert_geodesic(field, measure=proj_m2)


@pytest.mark.parametrize(
    ("row", "lat", "sector", "inner_ft", "outer_ft", "acres"),
    [
        ("G20, derived from 360 chords", 36.5, None, 0, 1320, 125.663706),
        ("G24, exact sector", 41, Sector(start_deg=0, stop_deg=90), 0, 1320, 31.415927),
        ("G25, exact sector", 41, Sector(start_deg=0, stop_deg=270), 0, 1320, 94.247780),
        ("G28, exact ring", 41, None, 1100, 1280, 30.896655),
    ],
)
def test_circles_sectors_and_rings(
    row: str, lat: float, sector: Sector | None, inner_ft: float, outer_ft: float, acres: float
) -> None:
    """Irrigated ground, and geographiclib's area of the polygon drawn for it, against the exact acres."""
    yard = shapely.Polygon()
    if inner_ft:
        # The inside of the ring is left out, drawn by the same rule as a machine's own circle.
        inner = Pivot(name="In", x_m=0, y_m=0, spans_m=(inner_ft * FOOT_M,))
        square = shapely.box(-SIDE_M, -SIDE_M, SIDE_M, SIDE_M)
        yard = (
            lay_out(Field(name="I", frame=Frame(lon=-98, lat=lat), boundary=square, pivots=(inner,)))
            .pivots[0]
            .wetted
        )
    field = Field(
        name="F",
        frame=Frame(lon=-98, lat=lat),
        boundary=shapely.box(-SIDE_M, -SIDE_M, SIDE_M, SIDE_M),
        exclusions=yard,
        pivots=(Pivot(name="P", x_m=0, y_m=0, spans_m=(outer_ft * FOOT_M,), sector=sector),),
    )
    irrigated = field_cover(lay_out(field)).irrigated
    assert irrigated.area / ACRE_M2 == pytest.approx(acres, rel=1e-7), row
    assert geodesic_m2(irrigated, field.frame) / ACRE_M2 == pytest.approx(acres, rel=1e-7), row

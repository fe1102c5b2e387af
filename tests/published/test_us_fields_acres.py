"""Published acres of real fields, worked out again through a field's own frame.

Sources
-------
us_fields.gpkg: USDA National Agricultural Statistics Service, *Crop Sequence Boundaries
2017-2024*, a cut of 98 fields in New Mexico; column CSBACRES, published with the data. The
ratio of its Shape_Area (m2, EPSG:5070) to CSBACRES is 4,046.86 throughout: their acre is rounded
and 0.9 ppm larger than the international acre of 4,046.8564224 m2.
otago_irrigated.gpkg: Otago Regional Council, *Irrigated land area*, 2020; column area_ha.
bahia_fields.gpkg: Oldoni et al., *LEM+ data set*, 2019-20; it publishes no areas, so the figures
for it below were worked out with geographiclib from its coordinates and are derived.

All three lie in the data folder beside the project.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pyogrio
import pytest
import shapely
from geographiclib.geodesic import Geodesic

from ringrow.coverage.acres import FieldAcres, field_acres
from ringrow.coverage.field import Field
from ringrow.coverage.layout import lay_out
from ringrow.frame import Frame, to_lonlat_from_crs
from ringrow.geometry.repair import Mended, mend
from ringrow.units import ACRE_M2

if TYPE_CHECKING:
    from pathlib import Path

    import numpy as np

CSB_ACRE_M2 = 4046.86


def read(path: Path) -> tuple[dict[str, np.ndarray[Any, Any]], np.ndarray[Any, Any]]:
    """Columns, and shapes in longitude and latitude."""
    meta, _, shapes, columns = pyogrio.raw.read(path)
    return dict(zip(meta["fields"], columns, strict=True)), to_lonlat_from_crs(
        shapely.from_wkb(shapes), meta["crs"]
    )


def through_the_frame(shape: shapely.geometry.base.BaseGeometry) -> tuple[Frame, Mended, FieldAcres]:
    """Mend a boundary in its own frame and work out its acres, as for a field without machines."""
    frame = Frame.about(shape)
    mended = mend(frame.project(shape))
    field = Field(name="F", frame=frame, boundary=mended.geometry)
    return frame, mended, field_acres(lay_out(field))


def geodesic_m2(shape: shapely.geometry.base.BaseGeometry) -> float:
    """Area by geographiclib, ring by ring."""
    total = 0.0
    for part in shapely.get_parts(shape):
        for ring, sign in [(part.exterior, 1), *((hole, -1) for hole in part.interiors)]:
            polygon = Geodesic.WGS84.Polygon()
            for lon, lat in ring.coords[:-1]:
                polygon.AddPoint(lat, lon)
            total += sign * abs(polygon.Compute()[2])
    return total


@pytest.fixture(scope="module")
def us_fields(outside_data: Path) -> list[tuple[str, float, float, Frame, Mended, FieldAcres]]:
    columns, shapes = read(outside_data / "us_fields.gpkg")
    return [
        (str(name), float(acres), float(area), *through_the_frame(shape))
        for name, acres, area, shape in zip(
            columns["CSBID"], columns["CSBACRES"], columns["Shape_Area"], shapes, strict=True
        )
    ]


def test_csbacres_of_every_field(us_fields: list[Any]) -> None:
    """CSBACRES of all 98 rows, to 1e-6 (rows G40 and G44 hold the sums of the uncut file)."""
    assert len(us_fields) == 98
    for name, published, _, _, _, acres in us_fields:
        assert acres.field_m2 / CSB_ACRE_M2 == pytest.approx(published, rel=1e-6), name
        assert acres.farmable_m2 == pytest.approx(acres.field_m2, rel=1e-12)
        assert acres.dry_m2 == pytest.approx(acres.field_m2, rel=1e-9)


def test_csbacres_sum(us_fields: list[Any]) -> None:
    """Sum of CSBACRES over the 98 fields, to 1e-8: errors of single fields do not add up."""
    published = sum(row[1] for row in us_fields)
    assert sum(row[5].field_m2 for row in us_fields) / CSB_ACRE_M2 == pytest.approx(published, rel=1e-8)


def test_csbid_351724000000001(us_fields: list[Any]) -> None:
    """Row G41: CSBACRES 2.777993; 2.777996 international acres (derived)."""
    (acres,) = [row[5] for row in us_fields if row[0] == "351724000000001"]
    assert acres.field_m2 / CSB_ACRE_M2 == pytest.approx(2.777993, abs=5e-7)
    assert acres.field_m2 / ACRE_M2 == pytest.approx(2.777996, abs=5e-7)


def test_frame_area_against_geographiclib(us_fields: list[Any]) -> None:
    """Row G44, derived: the worst field of the uncut file differs by 0.0020 ppm."""
    worst = max(
        abs(row[5].field_m2 / geodesic_m2(row[3].unproject(row[4].geometry)) - 1) for row in us_fields
    )
    assert worst < 2.5e-9


def test_broken_rings_are_mended_and_said(us_fields: list[Any]) -> None:
    """Row G45: rings of the rows ending 016, 018 and 055 touch themselves (030 is cut out of the file)."""
    broken = {row[0][-3:]: row[4] for row in us_fields if row[4].changes}
    assert sorted(broken) == ["016", "018", "055"]
    for mended in broken.values():
        assert len(mended.changes) == 1
        assert "The outline of part 1" not in mended.changes[0]
        assert "touches itself near" in mended.changes[0]
        assert mended.area_after_m2 == pytest.approx(mended.area_before_m2, rel=1e-6)


def test_bahia_circles(outside_data: Path) -> None:
    """Row G48, derived: circles 3 and 23 hold 237.72431 and 361.72650 ac."""
    columns, shapes = read(outside_data / "bahia_fields.gpkg")
    by_id = {
        str(name): through_the_frame(shape)[2] for name, shape in zip(columns["id"], shapes, strict=True)
    }
    assert by_id["3"].field_m2 == pytest.approx(962_036.15, abs=0.05)
    assert by_id["3"].field_m2 / ACRE_M2 == pytest.approx(237.72431, abs=1e-5)
    assert by_id["23"].field_m2 == pytest.approx(1_463_855.20, abs=0.05)
    assert by_id["23"].field_m2 / ACRE_M2 == pytest.approx(361.72650, abs=1e-5)


def test_bahia_fields_against_geographiclib(outside_data: Path) -> None:
    """Row G52: all fields valid as drawn; each area, and the sum, as geographiclib's of the same vertices."""
    _, shapes = read(outside_data / "bahia_fields.gpkg")
    total, total_geodesic = 0.0, 0.0
    for shape in shapes:
        _, mended, acres = through_the_frame(shape)
        assert mended.changes == ()
        geodesic = geodesic_m2(shape)
        # Sides of these fields run up to 5 km from the frame's origin.
        assert acres.field_m2 == pytest.approx(geodesic, rel=1e-6)
        total, total_geodesic = total + acres.field_m2, total_geodesic + geodesic
    assert total == pytest.approx(total_geodesic, rel=1e-7)


def test_otago_area_ha_is_planar(outside_data: Path) -> None:
    """Row G47: published area_ha is the area in map metres (NZTM), 1,388 to 1,960 ppm above the true one."""
    columns, shapes = read(outside_data / "otago_irrigated.gpkg")
    assert len(shapes) == 100
    ratios = []
    for published_ha, shape in zip(columns["area_ha"], shapes, strict=True):
        _, mended, acres = through_the_frame(shape)
        assert mended.changes == ()
        ratios.append(1 - acres.field_m2 / 10_000 / published_ha)
    assert min(ratios) * 1e6 == pytest.approx(1388, abs=0.5)
    assert max(ratios) * 1e6 == pytest.approx(1960, abs=0.5)

"""Circles, sectors and rings as polygons: on the ellipsoid, and how many vertices they need.

Sources
-------
Rows G20 to G28: derived with geographiclib (Karney, J. Geodesy 87, 43-55, 2013), which stands here
as the outside route; closed forms on the plane beside them.
Rows P01 to P16: derived, inscribed regular polygon n sin(2 pi / n) r2 / 2 and Point.buffer of
the shapely library, which makes the same polygon.
Nothing in this file is published; each row is worked out and says so.
"""

import math

import numpy as np
import pytest
import shapely
from geographiclib.geodesic import Geodesic
from shapely import Point

from ringrow.frame import Frame
from ringrow.geometry.arcs import (
    area_preserving_radius,
    base_and_ring,
    circle_polygon,
    sector_polygon,
)
from ringrow.units import ACRE_M2, FOOT_M

FRAME = Frame(lon=-98.0, lat=41.0)
R = 1320.0


def geodesic_m2(polygon, frame=FRAME):
    """Area by geographiclib of a polygon taken back to longitude and latitude."""
    area = 0.0
    for number, ring in enumerate([polygon.exterior, *polygon.interiors]):
        measured = Geodesic.WGS84.Polygon()
        for lon, lat in shapely.get_coordinates(frame.unproject(ring))[:-1]:
            measured.AddPoint(lat, lon)
        area += abs(measured.Compute(False, True)[2]) * (-1 if number else 1)
    return area


@pytest.mark.parametrize(
    ("lat", "lon", "radius_ft", "vertices", "polygon_m2"),
    [
        pytest.param(36.5, -101.9, 1320.0, 360, 508_517.1578, id="G20"),
        pytest.param(41.0, -98.0, 1290.0, 256, 485_641.3021, id="G23"),
    ],
)
def test_circle_on_the_ellipsoid(lat, lon, radius_ft, vertices, polygon_m2):
    """Derived: the inscribed polygon's area, and the true circle's within 1e-6 where ours stands."""
    frame = Frame(lon=lon, lat=lat)
    inscribed = vertices / (2 * math.pi) * math.sin(2 * math.pi / vertices)
    circle_m2 = geodesic_m2(circle_polygon(0, 0, radius_ft * FOOT_M), frame)
    assert circle_m2 == pytest.approx(polygon_m2 / inscribed, rel=2e-9)
    assert circle_m2 == pytest.approx(math.pi * (radius_ft * FOOT_M) ** 2, rel=1e-8)


@pytest.mark.parametrize(
    ("stop_deg", "exact_acres"),
    [pytest.param(90.0, 31.415927, id="G24"), pytest.param(270.0, 94.247780, id="G25")],
)
def test_sector_on_the_ellipsoid(stop_deg, exact_acres):
    """Derived: sectors of 1,320 ft at 41 N 98 W, exact acres on the plane."""
    sector = sector_polygon(0, 0, R * FOOT_M, 0.0, stop_deg)
    assert geodesic_m2(sector) / ACRE_M2 == pytest.approx(exact_acres, abs=5e-7)


def test_g28_ring_on_the_ellipsoid():
    """G28, derived: ring 1,100 to 1,280 ft, 30.896655 ac."""
    ring = base_and_ring(0, 0, 1100 * FOOT_M, 1280 * FOOT_M, arcs_deg="full").ring
    assert geodesic_m2(ring) / ACRE_M2 == pytest.approx(30.896655, abs=5e-7)


@pytest.mark.parametrize(("x_m", "y_m"), [(0, 0), (2500, -1800), (-3000, 3000)])
@pytest.mark.parametrize("radius_m", [60.0, 402.336, 804.672])
def test_pivots_anywhere_in_a_frame_agree_with_geographiclib(x_m, y_m, radius_m):
    """Design: areas within 1e-6 of geographiclib on the same polygon, up to 4.5 km from the origin."""
    shapes = base_and_ring(
        x_m, y_m, radius_m, radius_m + 30, limits_deg=(20.0, 310.0), arcs_deg=[(20.0, 71.0)]
    )
    for polygon in (shapes.base, shapes.ring, shapes.wetted):
        assert geodesic_m2(polygon) == pytest.approx(polygon.area, rel=2e-7)


POLYGON_ROWS = [
    pytest.param(4, 5_334_300.9004, 139_610.1392, 25.363, id="P01"),
    pytest.param(8, 5_438_806.0333, 35_105.0063, 6.356, id="P02"),
    pytest.param(16, 5_465_122.0899, 8_788.9497, 1.590, id="P03"),
    pytest.param(64, 5_473_361.4820, 549.5576, 0.099, id="P05"),
    pytest.param(128, 5_473_773.6471, 137.3925, 0.025, id="P07"),
    pytest.param(1501, 5_473_910.0405, 0.9991, 0.0002, id="P09"),
]


def vertex_radius(n):
    return area_preserving_radius(R, np.linspace(0.0, 360.0, n + 1))


def deficit(n, radius=R):
    """What an inscribed n-gon falls short by, from our radius: areas go with its square."""
    return math.pi * radius**2 * (1 - (R / vertex_radius(n)) ** 2)


@pytest.mark.parametrize(("quad_segs", "area_ft2", "deficit_ft2", "sagitta_ft"), POLYGON_ROWS)
def test_what_an_inscribed_polygon_lacks(quad_segs, area_ft2, deficit_ft2, sagitta_ft):
    """Derived: area, deficit and sagitta of a buffer of 1,320 ft, and the radius that makes them good."""
    n = 4 * quad_segs
    assert deficit(n) == pytest.approx(deficit_ft2, abs=0.00005 if n < 6000 else 0.0001)
    assert math.pi * R**2 - deficit(n) == pytest.approx(area_ft2, abs=0.0001)
    bare = Point(0, 0).buffer(R, quad_segs=quad_segs)
    assert bare.area == pytest.approx(area_ft2, abs=0.0001)
    assert bare.area * (vertex_radius(n) / R) ** 2 == pytest.approx(math.pi * R**2, rel=1e-12)
    digits = 0.00005 if sagitta_ft < 0.001 else 0.0005
    assert R * (1 - math.cos(math.pi / n)) == pytest.approx(sagitta_ft, abs=digits)


@pytest.mark.parametrize(
    ("goal_ft2", "needed"),
    [
        pytest.param(lambda r: 1.0, {660: 3001, 1320: 6002, 2640: 12003, 5280: 24006}, id="P10"),
        pytest.param(lambda r: 1e-4 * math.pi * r**2, dict.fromkeys((660, 1320, 2640, 5280), 257), id="P11"),
        pytest.param(lambda r: 435.6, {660: 144, 1320: 288, 2640: 576, 5280: 1151}, id="P13"),
    ],
)
def test_vertices_an_inscribed_polygon_needs(goal_ft2, needed):
    """Derived: the smallest number of vertices that meets each goal; one fewer does not."""
    for radius_ft, n in needed.items():
        assert deficit(n, radius_ft) < goal_ft2(radius_ft) <= deficit(n - 1, radius_ft)


@pytest.mark.parametrize(("radius_ft", "n"), [(660, 181), (1320, 256), (2640, 361), (5280, 511)])
def test_p15_vertices_for_a_sagitta(radius_ft, n):
    """P15, derived: vertices for 0.1 ft of sagitta; our 0.01 m at a tenth as many metres is alike."""
    polygon = circle_polygon(0, 0, radius_ft / 10)
    assert len(polygon.exterior.coords) - 1 == n


@pytest.mark.parametrize(
    ("n", "radius_ft"), [(64, 1321.060978), (128, 1320.265101), (256, 1320.066266), (360, 1320.033509)]
)
def test_p16_area_preserving_radius(n, radius_ft):
    """P16, derived: r' for n vertices at 1,320 ft."""
    assert vertex_radius(n) == pytest.approx(radius_ft, abs=5e-7)

"""Circles, sectors and rings as polygons: areas, vertices, fit of base and ring."""

import math

import numpy as np
import pytest
import shapely
from shapely import Point

from ringrow.errors import GeometryError
from ringrow.geometry.arcs import (
    CHORD_ERROR_M,
    arc_bearings,
    base_and_ring,
    circle_polygon,
    outline_polygons,
    sector_polygon,
    sector_polygons,
    vertex_step_deg,
)

RADII_M = [0.5, 3.0, 39.624, 402.336, 804.672, 1609.344]


def distances(polygon, x=0.0, y=0.0):
    """Distances of the outer ring's vertices and of its chords' middles from a point."""
    points = shapely.get_coordinates(polygon.exterior) - [x, y]
    middles = (points[1:] + points[:-1]) / 2
    return np.hypot(*points.T), np.hypot(*middles.T)


@pytest.mark.parametrize("radius_m", RADII_M)
def test_circle_has_the_circles_area_and_keeps_the_chord_error(radius_m):
    polygon = circle_polygon(100.0, -50.0, radius_m)
    assert polygon.area == pytest.approx(math.pi * radius_m**2, rel=1e-12)
    vertices, middles = distances(polygon, 100.0, -50.0)
    assert vertices.max() - radius_m <= CHORD_ERROR_M
    assert radius_m - middles.min() <= CHORD_ERROR_M
    # The sagitta of the polygon's own chords too.
    assert vertices.max() - middles.min() <= CHORD_ERROR_M


@pytest.mark.parametrize("radius_m", RADII_M)
@pytest.mark.parametrize("sweep_deg", [1e-5, 0.3, 5.0, 90.0, 180.0, 270.0, 359.9, 359.99999])
def test_sector_has_the_sectors_area_and_square_stops(radius_m, sweep_deg):
    start, stop = 350.0, (350.0 + sweep_deg) % 360.0
    polygon = sector_polygon(20.0, 10.0, radius_m, start, stop)
    swept = (stop - start) % 360.0
    assert polygon.is_valid
    assert polygon.area == pytest.approx(math.radians(swept) / 2 * radius_m**2, rel=1e-11, abs=1e-8)
    points = shapely.get_coordinates(polygon)
    assert points[-2].tolist() == [20.0, 10.0]
    for point, bearing in ((points[0], start), (points[-3], stop)):
        east, north = point - [20.0, 10.0]
        assert math.degrees(math.atan2(east, north)) % 360 == pytest.approx(bearing % 360, abs=1e-10)


def test_a_quarter_circle_by_hand():
    """Radius 10 m, north to east: pi 100 / 4, reaching from (0, 0) to 10 m east and north."""
    quarter = sector_polygon(0.0, 0.0, 10.0, 0.0, 90.0)
    assert quarter.area == pytest.approx(25 * math.pi, rel=1e-12)
    assert quarter.bounds == pytest.approx((0, 0, 10, 10), abs=CHORD_ERROR_M)


def test_uneven_breaks_keep_the_area():
    breaks = [0.0001, 33.0, 33.0001, 171.5, 180.2, 299.0]
    polygon = sector_polygon(0.0, 0.0, 402.0, 300.0, 200.0, breaks_deg=breaks)
    assert polygon.area == pytest.approx(math.radians(260) / 2 * 402.0**2, rel=1e-12)


def test_breaks_become_vertices_and_those_off_the_arc_do_not():
    bearings = arc_bearings(402.0, 300.0, 100.0, breaks_deg=[359.3, 10.7, 200.0, 300.0, 40.0])
    assert bearings[0] == 300.0
    assert bearings[-1] == 400.0
    assert np.abs(bearings - 359.3).min() < 1e-12
    assert np.abs(bearings - 370.7).min() < 1e-12
    assert (np.diff(bearings) > 0).all()
    assert np.diff(bearings).max() <= float(vertex_step_deg(402.0))


def test_breaks_closer_than_rounding_are_one_vertex():
    bearings = arc_bearings(10.0, 0.0, 4.0, breaks_deg=[1.0, 1.0 + 1e-12, 4.0 - 1e-12, 1e-12])
    assert np.diff(bearings).min() > 0.1


@pytest.mark.parametrize("radius_m", [0.0, -1.0, math.nan])
def test_radius_must_be_above_zero(radius_m):
    with pytest.raises(GeometryError, match=rf"radius: found {radius_m}; allowed: above 0 m"):
        circle_polygon(0, 0, radius_m)
    with pytest.raises(GeometryError, match=rf"radius: found {radius_m}; allowed: above 0 m"):
        base_and_ring(0, 0, radius_m, limits_deg=(10.0, 20.0))


@pytest.mark.parametrize("build", [sector_polygon, lambda *a: base_and_ring(*a[:3], limits_deg=a[3:])])
def test_start_may_not_be_stop(build):
    with pytest.raises(GeometryError, match="found start and stop both 20 degrees; allowed: two different"):
        build(0, 0, 10, 20.0, 380.0)


ARCS = [
    (None, [(350.0, 80.0)]),
    (None, [(10.0, 12.0), (100.123, 217.77), (300.0, 5.0)]),
    (None, [(0.0, 180.0), (180.0, 359.0)]),
    (None, [(45.0, 44.9)]),
    ((20.0, 310.0), [(20.0, 71.0)]),
    ((20.0, 310.0), [(20.0, 310.0)]),
    ((300.0, 60.0), [(310.0, 350.0), (355.0, 60.0)]),
    ((10.0, 9.99), [(10.0, 9.99)]),
    ((10.0, 10.5), [(10.1, 10.4)]),
]


@pytest.mark.parametrize(("limits", "arcs"), ARCS)
def test_base_and_ring_fit_without_a_sliver(limits, arcs):
    shapes = base_and_ring(30.0, -70.0, 402.336, 431.597, limits_deg=limits, arcs_deg=arcs)
    sweep = 360.0 if limits is None else (limits[1] - limits[0]) % 360.0
    on = sum((stop - start) % 360.0 for start, stop in arcs)
    assert shapes.base.area == pytest.approx(math.radians(sweep) / 2 * 402.336**2, rel=1e-11)
    assert shapes.ring.area == pytest.approx(math.radians(on) / 2 * (431.597**2 - 402.336**2), rel=1e-9)
    wetted = shapes.wetted
    assert shapes.ring.is_valid
    assert wetted.is_valid
    assert wetted.geom_type == "Polygon"
    assert len(wetted.interiors) == 0
    assert wetted.area == pytest.approx(shapes.base.area + shapes.ring.area, rel=1e-12)
    assert shapely.intersection(shapes.base, shapes.ring).area == 0.0


@pytest.mark.parametrize(("limits", "arcs"), ARCS)
def test_ring_runs_through_the_bases_own_vertices(limits, arcs):
    shapes = base_and_ring(30.0, -70.0, 402.336, 431.597, limits_deg=limits, arcs_deg=arcs)
    base = {tuple(point) for point in shapely.get_coordinates(shapes.base).tolist()}
    ring = shapely.get_coordinates(shapes.ring)
    inner = ring[np.hypot(*(ring - [30.0, -70.0]).T) < 410.0]
    assert len(inner) >= 2
    assert {tuple(point) for point in inner.tolist()} <= base


def test_full_ring_is_a_true_annulus():
    shapes = base_and_ring(0.0, 0.0, 100.0, 120.0, arcs_deg="full")
    assert shapes.ring.area == pytest.approx(math.pi * (120.0**2 - 100.0**2), rel=1e-12)
    assert len(shapes.ring.interiors) == 1
    assert shapes.wetted.area == pytest.approx(math.pi * 120.0**2, rel=1e-12)
    assert len(shapes.wetted.interiors) == 0


def test_a_gun_on_all_of_a_sector_is_the_sectors_ring():
    shapes = base_and_ring(0.0, 0.0, 100.0, 120.0, limits_deg=(20.0, 110.0), arcs_deg="full")
    assert shapes.ring.area == pytest.approx(math.pi / 4 * (120.0**2 - 100.0**2), rel=1e-11)


@pytest.mark.parametrize("gun_m", [None, 100.0, 90.0])
def test_a_gun_that_reaches_no_farther_adds_nothing(gun_m):
    shapes = base_and_ring(0.0, 0.0, 100.0, gun_m, arcs_deg=[(10.0, 50.0)])
    assert shapes.ring.is_empty
    assert shapes.wetted is shapes.base


def test_gun_arcs_are_cut_to_the_sector():
    cut = base_and_ring(0.0, 0.0, 100.0, 120.0, limits_deg=(20.0, 90.0), arcs_deg=[(80.0, 120.0)])
    assert cut.ring.area == pytest.approx(math.radians(10) / 2 * (120.0**2 - 100.0**2), rel=1e-9)


def test_gun_arcs_that_meet_or_overlap_are_one_ring():
    apart = base_and_ring(0.0, 0.0, 100.0, 120.0, arcs_deg=[(20.0, 71.0), (71.0, 100.0), (90.0, 130.0)])
    assert apart.ring.geom_type == "Polygon"
    assert apart.ring.area == pytest.approx(math.radians(110) / 2 * (120.0**2 - 100.0**2), rel=1e-9)


def test_many_sectors_at_once_are_each_the_single_one():
    x, y = np.array([0.0, 900.0, -5.0]), np.array([0.0, 50.0, 7.0])
    radius = np.array([402.0, 60.0, 250.0])
    start, sweep = np.array([0.0, 350.0, 20.0]), np.array([360.0, 100.0, 290.0])
    many = sector_polygons(x, y, radius, start, sweep)
    single = [
        circle_polygon(x[0], y[0], radius[0]),
        sector_polygon(x[1], y[1], radius[1], 350.0, 90.0),
        sector_polygon(x[2], y[2], radius[2], 20.0, 310.0),
    ]
    assert shapely.is_valid(many).all()
    for one, other in zip(many, single, strict=True):
        assert shapely.hausdorff_distance(one, other) < 1e-9
        assert one.area == pytest.approx(other.area, rel=1e-12)


def test_bulk_takes_one_value_for_all_and_nothing_at_all():
    assert shapely.area(sector_polygons([0, 10], 0, 5, 0, 360)) == pytest.approx([25 * math.pi] * 2)
    empty = np.array([])
    assert sector_polygons(empty, empty, empty, empty, empty).shape == (0,)


def test_outline_with_guns_equals_base_and_ring():
    outline = outline_polygons(
        [0.0, 500.0],
        [0.0, 0.0],
        [0, 0, 0, 1, 1],
        [402.0, 431.0, 402.0, 300.0, 320.0],
        [20.0, 80.0, 150.0, 0.0, 270.0],
        [60.0, 70.0, 160.0, 270.0, 90.0],
    )
    part = base_and_ring(0, 0, 402.0, 431.0, limits_deg=(20.0, 310.0), arcs_deg=[(80.0, 150.0)]).wetted
    full = base_and_ring(500.0, 0, 300.0, 320.0, arcs_deg=[(270.0, 360.0)]).wetted
    assert shapely.is_valid(outline).all()
    for one, other in zip(outline, (part, full), strict=True):
        assert one.area == pytest.approx(other.area, rel=1e-12)
        assert shapely.hausdorff_distance(one, other) < CHORD_ERROR_M


@pytest.mark.parametrize(
    ("pivot", "radius", "sweep", "words"),
    [
        ([0], [0.0], [360.0], r"radius of arc 0: found 0\.0; allowed: above 0 m"),
        ([0], [5.0], [0.0], r"sweep of arc 0: found 0\.0; allowed: above 0 degrees"),
        (
            [0, 0],
            [5.0, 6.0],
            [300.0, 61.0],
            "arcs of pivot 0: found 2 arcs turning 361 degrees; allowed: one or more",
        ),
        ([], [], [], "arcs of pivot 0: found 0 arcs"),
    ],
)
def test_outlines_refuse_what_cannot_be(pivot, radius, sweep, words):
    with pytest.raises(GeometryError, match=words):
        outline_polygons([0.0], [0.0], np.array(pivot, int), radius, np.zeros(len(radius)), sweep)


def test_a_bare_buffer_would_fail_these_checks():
    """The check has teeth: a 64-vertex buffer of 402.336 m is 1,600 ppm short and misses by half a metre."""
    bare = Point(0, 0).buffer(402.336)
    assert bare.area < math.pi * 402.336**2 * (1 - 1.5e-3)
    assert 402.336 - distances(bare)[1].min() > 0.4

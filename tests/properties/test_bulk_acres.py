"""Exact areas of circles and sectors in polygons, between polygons that lie inside and outside the arc.

A polygon with its vertices on the arc lies within the circle, one whose sides touch it lies around it;
what a field shares with the circle lies between what it shares with the two (general library: shapely).
The bound is strict, whatever the field: concave, with holes, in parts.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import assume, given
from hypothesis import strategies as st
from shapely import Polygon

from ringrow.coverage.bulk_acres import BulkPivots, bulk_acres
from ringrow.frame import Frame
from ringrow.geometry.cut_areas import cut_areas_m2, edge_areas_m2, polygon_edges

SIDES = 3_600


@st.composite
def fields(draw: st.DrawFn) -> Polygon:
    """A star-shaped field, convex or not, less a few smaller ones: holes, bays and split ground."""

    def star(x: float, y: float, least: float, most: float) -> Polygon:
        n = draw(st.integers(3, 12))
        radii = np.array(draw(st.lists(st.floats(least, most), min_size=n, max_size=n)))
        angles = draw(st.floats(0, 6.28)) + 2 * math.pi * np.arange(n) / n
        return Polygon(np.column_stack([x + radii * np.sin(angles), y + radii * np.cos(angles)]))

    ground = star(0.0, 0.0, 150.0, 700.0)
    for _ in range(draw(st.integers(0, 3))):
        ground = ground.difference(star(draw(st.floats(-500, 500)), draw(st.floats(-500, 500)), 20.0, 150.0))
    assume(not ground.is_empty)
    return ground


places = st.floats(-900.0, 900.0)
radii_m = st.floats(40.0, 600.0)


def bounds_m2(ground: Polygon, x: float, y: float, radius: float, start: float, sweep: float) -> np.ndarray:
    """Shared areas of the polygon inside the arc and the one around it."""
    # A circle closes with its first vertex itself: one a crumb beside it makes the polygon invalid.
    turned = np.radians(start + sweep * np.arange(SIDES + (sweep < 360)) / SIDES)
    # Four millionths of a metre for the rounding of vertices.
    reaches = radius - 4e-6, (radius + 4e-6) / math.cos(math.radians(sweep) / SIDES / 2)
    centre = [] if sweep == 360 else [(x, y)]
    shapes = [
        Polygon([*np.column_stack([x + r * np.sin(turned), y + r * np.cos(turned)]), *centre])
        for r in reaches
    ]
    return shapely.area(shapely.intersection(ground, shapes))


def exact_m2(ground: Polygon, x: float, y: float, radius: float, start: float, sweep: float) -> float:
    edges = polygon_edges([ground])
    return float(cut_areas_m2(edges, [0], [x], [y], [radius], start_deg=[start], sweep_deg=[sweep])[0])


@given(
    fields(),
    places,
    places,
    radii_m,
    st.floats(0, 359.9),
    st.sampled_from([360.0, 180.0]) | st.floats(1, 359),
)
def test_between_a_polygon_inside_the_arc_and_one_around_it(ground, x, y, radius, start, sweep):
    inside, around = bounds_m2(ground, x, y, radius, start, sweep)
    exact = exact_m2(ground, x, y, radius, start, sweep)
    assert inside - 1e-5 <= exact <= around + 1e-5
    assert around - inside < 5.0  # the bound says something: five square metres of up to 113 ha


@given(fields(), places, places, radii_m, st.lists(st.floats(0, 360), min_size=1, max_size=4))
def test_sectors_of_a_turn_add_up_to_the_circle(ground, x, y, radius, cuts):
    ends = [0.0, *sorted(cuts), 360.0]
    sweeps = np.diff(ends)
    used = sweeps > 0
    count = int(used.sum())
    parts = cut_areas_m2(
        polygon_edges([ground]),
        np.zeros(count, int),
        np.full(count, x),
        np.full(count, y),
        np.full(count, radius),
        start_deg=np.array(ends[:-1])[used],
        sweep_deg=sweeps[used],
    )
    assert parts.sum() == pytest.approx(exact_m2(ground, x, y, radius, 0, 360), abs=1e-6)


@given(fields(), radii_m, st.floats(0, 359), st.just(360.0) | st.floats(1, 359), st.data())
def test_circle_about_or_through_a_corner(ground, radius, start, sweep, data):
    corners = shapely.get_coordinates(ground)
    about, through = (corners[data.draw(st.integers(0, len(corners) - 1))] for _ in range(2))
    reach = math.dist(about, through)
    for size in {radius, reach} - {0.0}:
        inside, around = bounds_m2(ground, *about, size, start, sweep)
        exact = exact_m2(ground, *about, size, start, sweep)
        assert inside - 1e-5 <= exact <= around + 1e-5


@given(st.floats(10, 600), st.floats(0.01, 400), st.floats(0, 359), st.floats(1, 360))
def test_apart_within_and_touching(radius, gap, start, sweep):
    full = math.radians(sweep) / 2 * radius**2
    touching = shapely.box(-radius, -radius, radius, radius)
    wide = touching.buffer(gap, join_style="mitre")
    for ground in (touching, wide):
        assert exact_m2(ground, 0, 0, radius, start, sweep) == pytest.approx(full, rel=1e-12)
    beside = shapely.box(radius, -radius, 3 * radius, radius)
    for ground in (beside, shapely.transform(beside, lambda xy: xy + np.array([gap, 0.0]))):
        assert exact_m2(ground, 0, 0, radius, start, sweep) == pytest.approx(0, abs=1e-9 * radius**2)
    holed = wide.difference(touching)
    assert exact_m2(holed, 0, 0, radius, start, sweep) == pytest.approx(0, abs=1e-9 * radius**2)


@given(st.lists(fields(), min_size=1, max_size=4), st.data())
def test_many_at_once_are_each_alone_however_their_rings_run(grounds, data):
    turned = [shapely.reverse(ground) if data.draw(st.booleans()) else ground for ground in grounds]
    edges = polygon_edges(turned)
    assert edge_areas_m2(edges) == pytest.approx(shapely.area(grounds), abs=1e-6)
    index = np.array(data.draw(st.lists(st.integers(0, len(grounds) - 1), min_size=1, max_size=6)))
    x, radius = np.linspace(-200, 200, len(index)), np.linspace(100, 500, len(index))
    sweep = np.where(index % 2 == 0, 360.0, 200.0)
    together = cut_areas_m2(edges, index, x, -x, radius, start_deg=30.0, sweep_deg=sweep)
    alone = [
        exact_m2(grounds[k], a, -a, r, 30.0, s) for k, a, r, s in zip(index, x, radius, sweep, strict=True)
    ]
    assert together == pytest.approx(alone, abs=1e-6)


@given(
    st.lists(
        st.tuples(st.floats(-300, 300), st.floats(-300, 300), st.floats(50, 350)), min_size=1, max_size=4
    ),
    st.floats(-60, 60),
)
def test_ground_that_several_machines_wet_counts_once(circles, lat):
    """Union of fine circles, cut to the field (shapely), in the field's frame from the projection library."""
    frame = Frame(lon=-101.5, lat=lat)
    square = shapely.box(-400, -400, 400, 400)
    lon, at_lat = frame.to_lonlat([x for x, _, _ in circles], [y for _, y, _ in circles])
    count = len(circles)
    nothing = np.full(count, np.nan)
    pivots = BulkPivots(
        lon=lon,
        lat=at_lat,
        base_m=np.array([radius for _, _, radius in circles]),
        gun_m=nothing,
        gun_auto=np.zeros(count, bool),
        setback_m=np.zeros(count),
        start_deg=nothing,
        stop_deg=nothing,
    )
    found = bulk_acres(pivots, [frame.unproject(square)])
    discs = [shapely.Point(x, y).buffer(radius, quad_segs=1_000) for x, y, radius in circles]
    expected = shapely.intersection(shapely.union_all(discs), square).area
    # Bound: 4,000 vertices lose 4e-7 of a disc; a frame agrees to 0.1 ppm; crumbs where shared ground is cut.
    assert found.field_irrigated_m2[0] == pytest.approx(expected, rel=2e-6, abs=1.0)
    assert found.field_m2[0] == pytest.approx(640_000, rel=1e-7)

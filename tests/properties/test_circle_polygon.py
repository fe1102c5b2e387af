"""Wetted ground cut to a field, against the exact area of circle or sector and polygon.

The exact area is Green's theorem, written out here and sharing nothing with the program: a field is the
signed sum, over its edges, of triangles to the pivot point; what of a triangle lies within the
arc is a triangle where the edge runs inside the circle and a sector where it runs outside.
"""

import math
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import Polygon

from ringrow.geometry.arcs import base_and_ring, circle_polygon, outline_polygons, vertex_step_deg


def exact_m2(ground, x, y, arcs):
    """Exact area of ground within arcs of (start_deg, sweep_deg, radius); sweeps from start to start."""
    ground = shapely.orient_polygons(ground)
    rings = [ring for part in shapely.get_parts(ground) for ring in (part.exterior, *part.interiors)]
    total = 0.0
    for ring in rings:
        points = shapely.get_coordinates(ring) - [x, y]
        for p, q in pairwise(points):
            total += edge_m2(p, q, arcs)
    return total


def edge_m2(p, q, arcs):
    """Signed area that the triangle of pivot point, p and q shares with the arcs."""
    cuts = {0.0, 1.0}
    for _, _, radius in arcs:
        cuts.update(t for t in circle_cuts(p, q, radius) if 0 < t < 1)
    for start, sweep, _ in arcs:
        for bearing in (start, start + sweep):
            cuts.update(t for t in ray_cuts(p, q, math.radians(bearing)) if 0 < t < 1)
    knots = sorted(cuts)
    total = 0.0
    for a, b in pairwise(knots):
        one, two, middle = (p + t * (q - p) for t in (a, b, (a + b) / 2))
        radius = radius_at(middle, arcs)
        cross = one[0] * two[1] - one[1] * two[0]
        if radius == 0.0:
            continue
        if np.hypot(*middle) <= radius:
            total += cross / 2
        else:
            total += radius**2 / 2 * math.atan2(cross, float(one @ two))
    return total


def circle_cuts(p, q, radius):
    d = q - p
    a, b, c = d @ d, 2 * p @ d, p @ p - radius**2
    under = b * b - 4 * a * c
    return [] if under <= 0 or a == 0 else [(-b + sign * math.sqrt(under)) / (2 * a) for sign in (-1, 1)]


def ray_cuts(p, q, angle):
    ray = np.array([math.sin(angle), math.cos(angle)])
    side = [ray[0] * v[1] - ray[1] * v[0] for v in (p, q)]
    return [] if side[0] == side[1] else [side[0] / (side[0] - side[1])]


def radius_at(point, arcs):
    bearing = math.degrees(math.atan2(point[0], point[1]))
    held = [radius for start, sweep, radius in arcs if sweep >= 360 or (bearing - start) % 360 < sweep]
    return held[0] if held else 0.0


def allowed_m2(ground, x, y, *radii):
    """Largest error that cutting a polygon of arcs, in place of the arcs, can bring.

    Between two vertices polygon and arc enclose lobes of 0.016 r2 d3 (d the step): one inside the arc, half
    of one outside at each end. They cancel but where an edge of the ground cuts through them, at
    most two lobes each time it meets the arc, and a straight edge meets an arc at most twice.
    """
    allowed = 1e-6
    edges = [ring for part in shapely.get_parts(ground) for ring in (part.exterior, *part.interiors)]
    for radius in radii:
        step = math.radians(float(vertex_step_deg(radius)))
        for ring in edges:
            for p, q in pairwise(shapely.get_coordinates(ring)):
                near = shapely.distance(shapely.linestrings([p, q]), shapely.Point(x, y))
                far = max(math.hypot(*(p - [x, y])), math.hypot(*(q - [x, y])))
                meets = near <= radius * (1 + step**2 / 8) and far >= radius * (1 - step**2 / 8)
                allowed += 4 * 0.0161 * radius**2 * step**3 * meets
    return allowed


@st.composite
def fields(draw):
    """A star-shaped field, convex or not, less a few smaller ones: holes, bays and split ground."""

    def star(middle_x, middle_y, least, most):
        n = draw(st.integers(3, 12))
        radii = draw(st.lists(st.floats(least, most), min_size=n, max_size=n))
        turn = draw(st.floats(0, 6.28))
        angles = turn + 2 * math.pi * np.arange(n) / n
        return Polygon(
            np.column_stack([middle_x + radii * np.sin(angles), middle_y + radii * np.cos(angles)])
        )

    ground = star(0.0, 0.0, 150.0, 700.0)
    for _ in range(draw(st.integers(0, 3))):
        ground = ground.difference(star(draw(st.floats(-500, 500)), draw(st.floats(-500, 500)), 20.0, 150.0))
    return ground


places = st.floats(-400.0, 400.0)
radii_m = st.floats(40.0, 600.0)


@given(fields(), places, places, radii_m)
def test_full_circle(ground, x, y, radius):
    exact = exact_m2(ground, x, y, [(0.0, 360.0, radius)])
    wetted = shapely.intersection(ground, circle_polygon(x, y, radius)).area
    assert abs(wetted - exact) <= allowed_m2(ground, x, y, radius)


@given(fields(), places, places, radii_m, st.floats(0, 359.9), st.floats(0.5, 359.5))
def test_part_circle(ground, x, y, radius, start, sweep):
    exact = exact_m2(ground, x, y, [(start, sweep, radius)])
    base = base_and_ring(x, y, radius, limits_deg=(start, start + sweep)).base
    wetted = shapely.intersection(ground, base).area
    assert abs(wetted - exact) <= allowed_m2(ground, x, y, radius)


@given(fields(), places, places, radii_m, st.floats(5, 60), st.floats(0, 359), st.floats(1, 300), st.data())
def test_part_circle_with_end_gun(ground, x, y, radius, reach, start, sweep, data):
    gun_start = start + data.draw(st.floats(0.0, 0.5)) * sweep
    gun_sweep = data.draw(st.floats(0.1, 0.9)) * (start + sweep - gun_start)
    # Gun arc first: where arcs meet, the exact formula takes the first that holds the bearing.
    arcs = [(gun_start, gun_sweep, radius + reach), (start, sweep, radius)]
    exact = exact_m2(ground, x, y, arcs)
    shapes = base_and_ring(
        x,
        y,
        radius,
        radius + reach,
        limits_deg=(start, start + sweep),
        arcs_deg=[(gun_start, gun_start + gun_sweep)],
    )
    for cut in (shapes.wetted, *outlined(x, y, radius, reach, start, sweep, gun_start, gun_sweep)):
        wetted = shapely.intersection(ground, cut).area
        assert abs(wetted - exact) <= allowed_m2(ground, x, y, radius, radius + reach)
    parts = shapely.area(shapely.intersection(ground, [shapes.base, shapes.ring])).sum()
    assert parts == pytest.approx(shapely.intersection(ground, shapes.wetted).area, abs=1e-6)


def outlined(x, y, radius, reach, start, sweep, gun_start, gun_sweep):
    starts = np.array([start, gun_start, gun_start + gun_sweep])
    sweeps = np.append(np.diff(starts), start + sweep - starts[-1])
    used = sweeps > 1e-9
    radii = np.array([radius, radius + reach, radius])
    return outline_polygons([x], [y], np.zeros(used.sum(), int), radii[used], starts[used], sweeps[used])


@given(st.floats(1.0, 2000.0), st.floats(-4000, 4000), st.floats(0, 360), st.floats(0.01, 359.9))
def test_a_sector_turned_and_moved_keeps_its_area(radius, x, start, sweep):
    base = base_and_ring(x, -x, radius, limits_deg=(start, start + sweep)).base
    turned = math.radians((start + sweep - start) % 360)
    assert base.area == pytest.approx(turned / 2 * radius**2, rel=1e-8)
    assert base.is_valid


@given(
    st.floats(0, 359.9),
    st.floats(30.0, 359.9),
    st.lists(st.tuples(st.floats(0, 0.999), st.floats(0.001, 0.4)), max_size=6),
)
def test_any_gun_arcs_fit_their_base_without_slivers(start, sweep, shares):
    arcs = [(start + a * sweep, start + min(a + w, 1.0) * sweep) for a, w in shares]
    shapes = base_and_ring(10.0, 20.0, 402.0, 431.0, limits_deg=(start, start + sweep), arcs_deg=arcs)
    wetted = shapes.wetted
    assert wetted.is_valid
    assert wetted.geom_type == "Polygon"
    assert len(wetted.interiors) == 0
    assert wetted.area == pytest.approx(shapes.base.area + shapes.ring.area, rel=1e-11)
    on = sum(width * sweep for width in _merged(shares))
    exact = math.radians(on) / 2 * (431.0**2 - 402.0**2)
    assert shapes.ring.area == pytest.approx(exact, rel=1e-6, abs=1e-6)


def _merged(shares):
    """Widths of the union of intervals (share of the sector), by sweeping over their ends."""
    covered, reach = [], 0.0
    for first, last in sorted((a, min(a + w, 1.0)) for a, w in shares):
        begin = max(first, reach)
        if last > begin:
            covered.append(last - begin)
            reach = last
    return covered


def test_exact_formula_by_hand():
    """A square half in the circle: quarter circle of 10 m in the square from (0, 0) to (20, 20)."""
    square = shapely.box(0, 0, 20, 20)
    assert exact_m2(square, 0, 0, [(0, 360, 10.0)]) == pytest.approx(25 * math.pi)
    assert exact_m2(square, 0, 0, [(0, 45, 10.0)]) == pytest.approx(12.5 * math.pi)
    assert exact_m2(square, 10, 10, [(0, 360, 50.0)]) == pytest.approx(400)
    corners = exact_m2(square, 10, 10, [(0, 360, 12.0)])
    angle = math.acos(10 / 12)
    segment = 144 * (angle - math.sin(angle) * math.cos(angle))
    assert corners == pytest.approx(144 * math.pi - 4 * segment)


def test_within_one_millionth_on_300_fields():
    """Design: areas within 1e-6 of exact; seeded fields of 4 to 16 vertices, circles of 60 to 600 m."""
    random = np.random.default_rng(36751015)
    worst = 0.0
    for _ in range(300):
        n = int(random.integers(4, 17))
        angles = np.sort(random.uniform(0, 2 * math.pi, n))
        reach = random.uniform(200, 650, n)
        ground = Polygon(np.column_stack([reach * np.sin(angles), reach * np.cos(angles)]))
        if not ground.is_valid:
            continue
        ground = ground.difference(shapely.box(50, 60, 180, 110))
        x, y = random.uniform(-100, 100, 2)
        radius = random.uniform(60, 600)
        exact = exact_m2(ground, x, y, [(0, 360, radius)])
        wetted = shapely.intersection(ground, circle_polygon(x, y, radius)).area
        worst = max(worst, abs(wetted - exact) / (math.pi * radius**2))
    assert 0 < worst < 1e-6

"""Repair: always a valid shape, twice = once, never more ground than the outline could hold."""

from __future__ import annotations

from itertools import pairwise

import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import MultiPolygon, Polygon

from ringrow.errors import GeometryError
from ringrow.geometry.repair import Mended, mend

coordinates = st.one_of(
    st.integers(-20, 20).map(float), st.floats(-4500, 4500, allow_nan=False, allow_infinity=False)
)
rings = st.lists(st.tuples(coordinates, coordinates), min_size=3, max_size=12)
polygons = st.builds(Polygon, rings, st.lists(rings, max_size=2))
shapes = st.one_of(polygons, st.lists(polygons, min_size=2, max_size=3).map(MultiPolygon))


def try_to_mend(shape: Polygon | MultiPolygon) -> Mended | None:
    """Return the mended shape; None for one that holds no ground, the only reason to refuse here."""
    try:
        return mend(shape)
    except GeometryError as error:
        if "of ground; allowed: 0.01 m2" not in str(error):
            raise
        return None


@given(shapes)
def test_mended_shapes_are_valid_and_stay_as_they_are(shape: Polygon | MultiPolygon) -> None:
    once = try_to_mend(shape)
    if once is None:
        return
    assert once.geometry.is_valid
    assert once.geometry.geom_type in ("Polygon", "MultiPolygon")
    twice = mend(once.geometry)
    assert twice.changes == ()
    assert twice.geometry is once.geometry


@given(shapes)
def test_a_change_is_never_silent(shape: Polygon | MultiPolygon) -> None:
    once = try_to_mend(shape)
    if once is None or once.changes:
        return
    assert once.geometry is shape
    assert shape.is_valid
    assert once.area_before_m2 == once.area_after_m2


@given(shapes)
def test_mended_ground_lies_within_the_hull_of_what_was_drawn(shape: Polygon | MultiPolygon) -> None:
    once = try_to_mend(shape)
    if once is not None:
        # Crossing points are rounded to doubles: a hair of 1e-6 m is allowed for.
        hull = shapely.buffer(shapely.convex_hull(shape), 1e-6, quad_segs=2)
        assert hull.covers(once.geometry)


@given(rings)
def test_area_before_is_the_even_odd_area(ring: list[tuple[float, float]]) -> None:
    """Against the symmetric difference of all triangles fanned out from the first vertex."""
    once = try_to_mend(Polygon(ring))
    if once is None:
        return
    ground: shapely.geometry.base.BaseGeometry = Polygon()
    for one, other in pairwise(ring[1:]):
        triangle = Polygon([ring[0], one, other])
        if triangle.is_valid:
            ground = ground.symmetric_difference(triangle)
    assert abs(ground.area - once.area_before_m2) <= 1e-6 * max(1.0, shapely.convex_hull(Polygon(ring)).area)

"""Repair: always a valid shape, twice = once, never more ground than the outline could hold."""

from __future__ import annotations

from itertools import combinations, pairwise

import numpy as np
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import MultiPolygon, Polygon

from ringrow.errors import GeometryError
from ringrow.geometry.repair import Mended, mend

# Any double, for soundness; whole nanometres where areas and hulls are compared, because the
# independent route below has no answer for corners 1e-300 m apart.
whole = st.integers(-20, 20).map(float)
any_double = st.one_of(whole, st.floats(-4500, 4500))
coordinates = st.one_of(whole, st.floats(-4500, 4500).map(lambda value: round(value, 9)))


def shapes_of(numbers: st.SearchStrategy[float]) -> st.SearchStrategy[Polygon | MultiPolygon]:
    """Return polygons and multipolygons of random rings, with random rings as holes."""
    ring = st.lists(st.tuples(numbers, numbers), min_size=3, max_size=12)
    polygons = st.builds(Polygon, ring, st.lists(ring, max_size=2))
    return st.one_of(polygons, st.lists(polygons, min_size=2, max_size=3).map(MultiPolygon))


rings = st.lists(st.tuples(coordinates, coordinates), min_size=3, max_size=12)
shapes = shapes_of(coordinates)


def try_to_mend(shape: Polygon | MultiPolygon) -> Mended | None:
    """Return the mended shape; None for one that holds no ground, the only reason to refuse here."""
    try:
        return mend(shape)
    except GeometryError as error:
        if "of ground; allowed: 0.01 m2" not in str(error):
            raise
        return None


@given(shapes_of(any_double))
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
        # Corners of a rebuilt shape move to a grid of 2 micrometres, at most 1.42 micrometres.
        hull = shapely.buffer(shapely.convex_hull(shape), 1.6e-6, quad_segs=8)
        assert hull.covers(once.geometry)


def scanline_area(ring: list[tuple[float, float]]) -> float:
    """Return the even-odd area of a ring by lines across it.

    Between two heights with a corner or a crossing, the length of a line inside the ring
    changes evenly, so that its length half way up times the step is exact.
    """
    points = np.array([*ring, ring[0]])
    (x1, y1), (x2, y2) = points[:-1].T, points[1:].T
    heights = [*y1]
    for i, j in combinations(range(len(x1)), 2):
        turn = (x2[i] - x1[i]) * (y2[j] - y1[j]) - (y2[i] - y1[i]) * (x2[j] - x1[j])
        if turn:
            along = ((x1[j] - x1[i]) * (y2[j] - y1[j]) - (y1[j] - y1[i]) * (x2[j] - x1[j])) / turn
            heights.append(y1[i] + along * (y2[i] - y1[i]))
    area = 0.0
    for low, high in pairwise(np.clip(np.sort(heights), y1.min(), y1.max())):
        middle = (low + high) / 2
        meets = (y1 > middle) != (y2 > middle)
        x = np.sort(x1[meets] + (middle - y1[meets]) / (y2 - y1)[meets] * (x2 - x1)[meets])
        area += (high - low) * float((x[1::2] - x[::2]).sum())
    return area


@given(rings)
def test_area_before_is_the_even_odd_area(ring: list[tuple[float, float]]) -> None:
    once = try_to_mend(Polygon(ring))
    if once is not None:
        hull = shapely.convex_hull(Polygon(ring))
        assert abs(scanline_area(ring) - once.area_before_m2) <= 1e-9 * (hull.area + hull.length)

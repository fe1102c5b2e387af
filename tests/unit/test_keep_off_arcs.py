"""Arcs on which a pipe end keeps away from roads, houses and wires; what two sets of arcs share."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, MultiPoint, Point, Polygon, box

from ringrow.errors import GeometryError
from ringrow.geometry.angles import shared_arcs
from ringrow.geometry.gun_arcs import TOUCH_M, arcs_clear_of


def bad_arc(half: float, middle: float = 0.0) -> tuple[float, float]:
    """The arc that is left when `half` degrees each side of `middle` are out of bounds."""
    return ((middle + half) % 360, (middle - half) % 360)


def test_nothing_to_keep_off_is_full() -> None:
    assert arcs_clear_of(Polygon(), 0, 0, 100, 50) == "full"
    assert arcs_clear_of(Point(0, 151), 0, 0, 100, 50) == "full"


def test_touching_is_allowed() -> None:
    assert arcs_clear_of(Point(0, 150), 0, 0, 100, 50) == "full"
    assert arcs_clear_of(LineString([(-500, 150), (500, 150)]), 0, 0, 100, 50) == "full"
    assert arcs_clear_of(Point(0, 150 - 1e-3), 0, 0, 100, 50) != "full"


def test_a_house_as_a_point() -> None:
    """Law of cosines: the pipe end of 100 m comes within 50 m of a point 120 m away."""
    half = math.degrees(math.acos((100**2 + 120**2 - 50**2) / (2 * 100 * 120)))
    assert arcs_clear_of(Point(120, 0), 0, 0, 100, 50) == (pytest.approx(bad_arc(half, 90)),)


def test_a_straight_wire() -> None:
    half = math.degrees(math.acos((130 - 50) / 100))
    assert arcs_clear_of(LineString([(-500, 130), (500, 130)]), 0, 0, 100, 50) == (
        pytest.approx(bad_arc(half)),
    )


def test_a_wire_that_ends_counts_by_its_end() -> None:
    """It ends due north, so its end counts on the west side and its line on the east side."""
    east = math.degrees(math.acos((130 - 50) / 100))
    west = math.degrees(math.acos((100**2 + 130**2 - 50**2) / (2 * 100 * 130)))
    arcs = arcs_clear_of(LineString([(0, 130), (500, 130)]), 0, 0, 100, 50)
    assert arcs == (pytest.approx((east, 360 - west)),)


def test_inside_a_pond_nothing_is_clear() -> None:
    assert arcs_clear_of(box(-900, -900, 900, 900), 0, 0, 100, 50) == ()
    # Only the ground matters, not how near its edge lies.
    assert arcs_clear_of(box(-900, -900, 900, 900), 0, 0, 100, 0) == ()


def test_points_lines_and_polygons_together() -> None:
    together = shapely.geometrycollections(
        [Point(120, 0), MultiPoint([(-120, 0)]), LineString([(-500, 130), (500, 130)])]
    )
    arcs = arcs_clear_of(together, 0, 0, 100, 50)
    assert len(arcs) == 3
    assert arcs[0][0] == pytest.approx(math.degrees(math.acos(0.8)))


def test_within_a_sector() -> None:
    wire = LineString([(-500, 130), (500, 130)])
    half = math.degrees(math.acos(0.8))
    assert arcs_clear_of(wire, 0, 0, 100, 50, limits_deg=(300, 90)) == (
        (300, pytest.approx(360 - half)),
        (pytest.approx(half), 90),
    )
    assert arcs_clear_of(Polygon(), 0, 0, 100, 50, limits_deg=(300, 90)) == ((300, 90),)


@pytest.mark.parametrize(("radius", "distance"), [(0, 50), (100, -1), (math.nan, 50)])
def test_impossible_numbers_are_refused(radius: float, distance: float) -> None:
    with pytest.raises(GeometryError, match=r"pipe end: found .*; allowed: above 0 m, 0 m or more"):
        arcs_clear_of(Point(0, 0), 0, 0, radius, distance)


@given(seed=st.integers(0, 100_000), distance=st.floats(0, 80))
def test_arcs_equal_a_dense_scan(seed: int, distance: float) -> None:
    rng = np.random.default_rng(seed)
    shapes = shapely.geometrycollections(
        [
            Point(*rng.uniform(-250, 250, 2)),
            LineString(rng.uniform(-300, 300, (rng.integers(2, 6), 2))),
            box(*(low := rng.uniform(-300, 200, 2)), *(low + rng.uniform(5, 100, 2))),
        ]
    )
    arcs = arcs_clear_of(shapes, 10, -20, 150, distance)
    turn = np.arange(0, 360, 0.37) + rng.uniform(0, 0.3)
    ends = shapely.points(10 + 150 * np.sin(np.radians(turn)), -20 + 150 * np.cos(np.radians(turn)))
    away = shapely.distance(shapes, ends) - distance
    said = np.ones(len(turn), bool)
    if arcs != "full":
        inside = [((turn - start) % 360) <= (stop - start) % 360 for start, stop in arcs]
        said = np.any(inside, axis=0) if inside else np.zeros(len(turn), bool)
    sure = np.abs(away) > 10 * TOUCH_M
    assert (said[sure] == (away[sure] > 0)).all()


@pytest.mark.parametrize(
    ("one", "other", "expected"),
    [
        ("full", "full", "full"),
        ("full", ((300, 20),), ((300, 20),)),
        (((300, 20),), (), ()),
        (((300, 20), (40, 90)), ((10, 50),), ((10, 20), (40, 50))),
        (((350, 340),), ((330, 10),), ((330, 340), (350, 10))),
        (((10, 20),), ((20, 30),), ()),
        (((10, 20),), ((10, 20),), ((10, 20),)),
    ],
)
def test_what_arcs_share(one: object, other: object, expected: object) -> None:
    assert shared_arcs(one, other) == expected  # type: ignore[arg-type]
    assert shared_arcs(other, one) == expected  # type: ignore[arg-type]


@given(seed=st.integers(0, 100_000))
def test_shared_arcs_equal_both(seed: int) -> None:
    rng = np.random.default_rng(seed)
    sets = []
    for _ in range(2):
        ends = np.sort(rng.uniform(0, 360, 2 * rng.integers(1, 4)))
        sets.append(tuple(zip(np.roll(ends, 1)[::2].tolist(), np.roll(ends, 1)[1::2].tolist(), strict=True)))
    turn = rng.uniform(0, 360, 400)

    def holds(arcs: object) -> np.ndarray:
        return np.any([((turn - a) % 360) < (b - a) % 360 for a, b in arcs] or [turn < 0], axis=0)

    assert (holds(shared_arcs(*sets)) == (holds(sets[0]) & holds(sets[1]))).all()

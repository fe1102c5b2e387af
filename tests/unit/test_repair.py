"""Open repair of broken polygons: a zoo of shapes, each with its area by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from shapely import GeometryCollection, LineString, MultiPolygon, Point, Polygon

from ringrow.errors import GeometryError
from ringrow.geometry.repair import mend, mend_rings
from ringrow.geometry.ring_repair import polygons_only

SQUARE = [(0, 0), (10, 0), (10, 10), (0, 10)]

# name: shape, area drawn by the even-odd rule, area after, a piece of each sentence expected
ZOO = {
    "bow-tie": (
        Polygon([(0, 0), (10, 10), (10, 0), (0, 10)]),
        50,
        50,
        ["outline crosses itself near (5, 5)"],
    ),
    "spike outward": (
        Polygon([(0, 0), (10, 0), (10, 5), (20, 5), (10, 5), (10, 10), (0, 10)]),
        100,
        100,
        ["out and back on itself near (20, 5)"],
    ),
    "spike inward": (
        Polygon([(0, 0), (10, 0), (10, 5), (4, 5), (10, 5), (10, 10), (0, 10)]),
        100,
        100,
        ["out and back on itself near (4, 5)"],
    ),
    "hole reached through a slit": (
        Polygon([*SQUARE, (0, 5), (3, 5), (3, 7), (6, 7), (6, 3), (3, 3), (3, 5), (0, 5)]),
        88,
        88,
        ["runs twice along the same line near (0, 5)"],
    ),
    # Ringed twice is not ringed, by the even-odd rule; nobody means that, so the repair keeps it.
    "outline drawn twice": (Polygon([*SQUARE, *SQUARE]), 0, 100, ["runs twice along the same line"]),
    # The lobe 4..6 x 0..10 is ringed twice: even-odd leaves it out (112), the repair keeps it (132).
    "loop over its own ground": (
        Polygon([(0, 0), (10, 0), (10, 10), (4, 10), (4, -4), (6, -4), (6, 14), (0, 14)]),
        112,
        132,
        ["crosses itself near (4, 0), (6, 0), (6, 10)"],
    ),
    "outline touches itself": (
        Polygon([(0, 0), (10, 0), (5, 5), (10, 10), (0, 10), (5, 5)]),
        50,
        50,
        ["touches itself near (5, 5); it was split there"],
    ),
    "overlapping parts": (
        MultiPolygon([shapely.box(0, 0, 10, 10), shapely.box(5, 5, 15, 15)]),
        150,
        175,
        ["Parts 1 and 2 overlap near (7.5, 7.5) by 25 m2"],
    ),
    "part inside a part": (
        MultiPolygon([shapely.box(0, 0, 10, 10), shapely.box(4, 4, 6, 6)]),
        96,
        100,
        ["Parts 1 and 2 overlap near (5, 5) by 4 m2"],
    ),
    "parts that share an edge": (
        MultiPolygon([shapely.box(0, 0, 10, 10), shapely.box(10, 0, 20, 10)]),
        200,
        200,
        ["Parts 1 and 2 share an edge near (10, 0)"],
    ),
    "hole outside": (
        Polygon(SQUARE, [[(20, 20), (25, 20), (25, 25)]]),
        112.5,
        100,
        ["Hole 1 near (23.75, 22.5) lies outside; it was dropped"],
    ),
    "hole across the outline": (
        Polygon(SQUARE, [[(8, 4), (12, 4), (12, 6), (8, 6)]]),
        100,
        96,
        ["Hole 1 reaches outside near (11, 5)"],
    ),
    "holes that overlap": (
        Polygon(SQUARE, [[(2, 4), (6, 4), (6, 6), (2, 6)], [(4, 2), (5, 2), (5, 8), (4, 8)]]),
        90,
        88,
        ["Hole 2 overlaps another hole near (4.5, 5)"],
    ),
    "hole along the outline": (
        Polygon(SQUARE, [[(2, 0), (6, 0), (6, 6), (2, 6)]]),
        76,
        76,
        ["Rings run along each other near"],
    ),
    "part that is all hole": (
        MultiPolygon([Polygon(SQUARE, [SQUARE]), shapely.box(20, 0, 30, 10)]),
        100,
        100,
        ["Hole 1 of part 1 leaves no ground of its part near (5, 5)"],
    ),
    "hole filed under the wrong part": (
        MultiPolygon([Polygon(SQUARE, [[(22, 2), (24, 2), (24, 6), (22, 6)]]), shapely.box(20, 0, 30, 10)]),
        192,
        192,
        ["Hole 1 of part 1 near (23, 4) lies in part 2"],
    ),
    "hole that crosses itself": (
        Polygon(SQUARE, [[(2, 2), (6, 6), (6, 2), (2, 6)]]),
        92,
        92,
        ["Hole 1 crosses itself near (4, 4)"],
    ),
    "repeated vertices": (
        Polygon([(0, 0), (0, 0), (10, 0), (10, 10), (10, 10), (0, 10)]),
        100,
        100,
        ["2 repeated vertices were taken out near (0, 0), (10, 10)"],
    ),
    "vertex a ten-millionth beside another": (
        Polygon([(0, 0), (10, 0), (10, 10), (10, 10 + 1e-7), (0, 10)]),
        100,
        100,
        ["A repeated vertex was taken out near (10, 10)"],
    ),
    "part without area": (
        MultiPolygon([shapely.box(0, 0, 10, 10), Polygon([(20, 0), (30, 0), (25, 0)])]),
        100,
        100,
        ["outline of part 2 runs out and back", "outline of part 2 near (20, 0) holds no ground"],
    ),
    "part of two corners": (
        MultiPolygon([shapely.box(0, 0, 10, 10), Polygon([(20, 0), (30, 0), (30, 0), (20, 0)])]),
        100,
        100,
        ["outline of part 2 near (20, 0) has fewer than three corners", "A repeated vertex"],
    ),
    "points and lines beside": (
        GeometryCollection([shapely.box(0, 0, 10, 10), Point(3, 3), LineString([(0, 0), (3, 3)])]),
        100,
        100,
        ["A point near (3, 3) was dropped", "A line near (0, 0) was dropped"],
    ),
}


@pytest.mark.parametrize("name", ZOO)
def test_zoo_is_mended_and_said(name: str) -> None:
    shape, before, after, expected = ZOO[name]
    mended = mend(shape)
    assert mended.geometry.is_valid
    assert mended.geometry.geom_type in ("Polygon", "MultiPolygon")
    assert mended.area_before_m2 == pytest.approx(before, rel=1e-6)
    assert mended.area_after_m2 == pytest.approx(after, rel=1e-6)
    assert mended.area_after_m2 == mended.geometry.area
    assert len(mended.changes) == len(expected)
    for sentence, words in zip(mended.changes, expected, strict=True):
        assert words in sentence
        assert " near (" in sentence
        assert sentence.endswith(".")


@pytest.mark.parametrize("name", ZOO)
def test_zoo_mended_twice_is_mended_once(name: str) -> None:
    once = mend(ZOO[name][0])
    twice = mend(once.geometry)
    assert twice.changes == ()
    assert twice.geometry is once.geometry


@pytest.mark.parametrize(
    "shape",
    [
        shapely.box(0, 0, 10, 10),
        Polygon(SQUARE, [[(4, 4), (6, 4), (6, 6), (4, 6)]]),
        # a hole that touches the outline at one point is sound
        Polygon(SQUARE, [[(0, 5), (3, 4), (3, 6)]]),
        MultiPolygon([shapely.box(0, 0, 10, 10), shapely.box(20, 0, 30, 10)]),
        # an island in a hole
        MultiPolygon([Polygon(SQUARE, [[(2, 2), (8, 2), (8, 8), (2, 8)]]), shapely.box(4, 4, 6, 6)]),
        Polygon(SQUARE[::-1]),
    ],
)
def test_sound_shapes_come_back_as_they_were(shape: Polygon) -> None:
    mended = mend(shape)
    assert mended.changes == ()
    assert mended.geometry is shape
    assert mended.area_before_m2 == mended.area_after_m2 == shape.area


def test_heights_are_left_away_without_a_word() -> None:
    mended = mend(Polygon([(0, 0, 900), (10, 0, 901), (10, 10, 902), (0, 10, 900)]))
    assert not mended.geometry.has_z
    assert mended.changes == ()


def test_collection_of_one_sound_polygon_comes_back_as_that_polygon() -> None:
    assert mend(GeometryCollection([shapely.box(0, 0, 3, 3)])).geometry.equals(shapely.box(0, 0, 3, 3))


def test_input_is_not_changed() -> None:
    shape = ZOO["bow-tie"][0]
    text = shape.wkt
    mend(shape)
    assert shape.wkt == text


def test_places_are_worded_by_the_caller() -> None:
    changes = mend(ZOO["bow-tie"][0], place_words=lambda x, y: f"{x + 36:.0f} N {y - 101:.0f}").changes
    assert changes == ("The outline crosses itself near 41 N -96; every loop is kept as ground.",)


def test_many_crossings_are_listed_short() -> None:
    # A zigzag over its own base line crosses it at every step.
    zigzag = [(x, 5 if x % 2 else -5) for x in range(1, 20)]
    (sentence,) = mend(Polygon([(0, 0), (20, 0), *reversed(zigzag)])).changes
    assert "more places" in sentence


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf, 2e7])
def test_numbers_that_are_none_are_refused(bad: float) -> None:
    ring = [(0, 0), (10, 0), (bad, 10)]
    with pytest.raises(GeometryError, match=r"the outline: found \(\S+, 10\) at vertex 3; allowed: numbers"):
        mend_rings([[ring]])


@pytest.mark.filterwarnings("ignore:invalid value encountered:RuntimeWarning")
def test_nan_inside_a_shape_is_refused() -> None:
    with pytest.raises(GeometryError, match=r"found \(nan, 1\) at vertex 2"):
        mend(Polygon([(0, 0), (math.nan, 1), (3, 3)]))


@pytest.mark.parametrize(
    "shape",
    [
        Polygon([(0, 0), (10, 0), (5, 0)]),
        Polygon([(0, 0), (10, 10), (0, 0), (10, 10)]),
        Polygon([(3, 3), (3, 3), (3, 3), (3, 3)]),
        Polygon(SQUARE, [SQUARE]),
    ],
)
def test_collapsed_shapes_are_refused(shape: Polygon) -> None:
    with pytest.raises(GeometryError, match=r"found 0 m2 of ground; allowed: 0\.01 m2 or more"):
        mend(shape)


def test_degrees_are_refused() -> None:
    """A quarter section in degrees is 0.00005 of a square unit; no ground is so small."""
    with pytest.raises(GeometryError, match="coordinates are degrees where metres are needed"):
        mend(shapely.box(-101.509, 36.75, -101.5, 36.757))


@pytest.mark.parametrize(
    ("shape", "found"),
    [(None, "nothing"), (Polygon(), "nothing"), (Point(1, 2), "Point"), (LineString(SQUARE), "LineString")],
)
def test_what_is_no_polygon_is_refused(shape: Polygon | None, found: str) -> None:
    with pytest.raises(GeometryError, match=f"shape: found {found}; allowed: "):
        mend(shape)


def test_open_rings_are_closed_and_said() -> None:
    mended = mend_rings([[SQUARE, [(4, 4), (6, 4), (6, 6), (4, 6)]]])
    assert mended.area_after_m2 == pytest.approx(96)
    assert [sentence.split(" was open near ")[0] for sentence in mended.changes] == ["The outline", "Hole 1"]


def test_closed_rings_need_no_word() -> None:
    mended = mend_rings([[[*SQUARE, SQUARE[0]]]])
    assert mended.changes == ()
    assert mended.area_after_m2 == 100


def test_rings_with_heights_and_as_arrays() -> None:
    ring = np.array([(0, 0, 5), (10, 0, 5), (10, 10, 5), (0, 10, 5), (0, 0, 5)])
    assert mend_rings([[ring]]).area_after_m2 == 100


@pytest.mark.parametrize("ring", [[("a", "b")], [(1,)], 5.0])
def test_rings_that_are_no_positions_are_refused(ring: object) -> None:
    with pytest.raises(GeometryError, match=r"the outline: found .*; allowed: a list of positions"):
        mend_rings([[ring]])


def test_polygons_only_keeps_polygons() -> None:
    two = GeometryCollection([shapely.box(0, 0, 1, 1), Point(5, 5), shapely.box(2, 0, 3, 1)])
    assert polygons_only(two).area == 2
    assert polygons_only(Point(1, 1)).is_empty
    assert polygons_only(GeometryCollection([two, LineString([(0, 0), (1, 1)])])).geom_type == "MultiPolygon"

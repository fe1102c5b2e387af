"""Laterals along curves against brute force: the distance to every piece, every lateral's own strip."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import norm

from effort import effort
from plain_distance import distances_m
from ringrow.coverage.chances import LAYING_SIGMA_M, lateral_chances
from ringrow.errors import DomainError
from ringrow.geometry.curved_laterals import lay_curved_laterals
from ringrow.geometry.laterals import lateral_lines, lateral_strips, nearest_pieces, point_at
from ringrow.geometry.parallel_curves import CURVE_ERROR_M
from ringrow.geometry.strips import strips_union

AREA = shapely.Polygon([(-200, -180), (190, -200), (210, 30), (60, 60), (50, 220), (-190, 190)])
TAKEN = shapely.union_all(
    [
        shapely.Point(110, -120).buffer(50, quad_segs=32),
        shapely.Polygon([(-200, 100), (-40, -10), (-35, 0), (-190, 120)]),
        shapely.box(-120, -100, -60, -60),
    ]
)
GROUND = AREA.difference(TAKEN)


def lay(guide, **more):
    return lay_curved_laterals(
        AREA, GROUND, guide_m=guide, **{"number_from_deg": 0, "header_deg": 270, "spacing_m": 6.1, **more}
    )


def assert_equals_brute_force(grid, x, y):
    """Compare with the distance from every point to every piece; the winner's by shapely as well."""
    near, places, lines = nearest_pieces(grid, x, y), shapely.points(x, y), lateral_lines(grid)
    best = np.full(len(x), np.inf)
    for line in lines:
        best = np.minimum(best, distances_m(line, x, y))
    assert near.distance_m == pytest.approx(best, abs=1e-8)
    assert shapely.distance(places, lines[near.piece]) == pytest.approx(best, abs=1e-8)
    assert (near.lateral == grid.piece_lateral[near.piece]).all()
    assert (near.letter == grid.piece_letter[near.piece]).all()
    assert (np.abs(near.offset_m) <= near.distance_m + 1e-8).all()
    return near


@pytest.mark.parametrize(
    ("guide", "more"),
    [
        ([(-260, -20), (-100, 30), (80, 30), (260, -10)], {"headland_m": 6}),
        ([(-260, 60), (0, 0), (250, 100)], {"number_from_deg": 180}),  # a drawn corner of 35 degrees
        ([(-150, 0), (-60, 25), (20, 33), (90, 30), (180, 4)], {"header_deg": 80, "first_lateral_m": 0}),
    ],
)
def test_10_000_places_on_in_gaps_past_ends_and_outside(guide, more) -> None:
    grid = lay(guide, **more)
    assert grid.pieces_per_lateral.max() >= 2
    rng = np.random.default_rng(20261125)
    x = np.concatenate([rng.uniform(-230, 240, 8_000), rng.uniform(-1500, 1500, 2_000)])
    y = np.concatenate([rng.uniform(-230, 250, 8_000), rng.uniform(-1500, 1500, 2_000)])
    near = assert_equals_brute_force(grid, x, y)
    # The station leads back to the piece's nearest point.
    for index in range(0, len(x), 211):
        place = point_at(grid, int(near.lateral[index]), float(near.station_m[index]))
        assert np.hypot(place[0] - x[index], place[1] - y[index]) == pytest.approx(
            near.distance_m[index], abs=1e-6
        )
    # Across, toward higher numbers: as the distance from the line says it.
    beside = np.abs(near.distance_m - np.abs(near.offset_m)) < 1e-9
    c = grid.across_m(x, y) - grid.piece_across_m[near.piece]
    clear = beside & (np.abs(near.offset_m) > 0.01)
    assert (np.sign(c) == np.sign(near.offset_m))[clear].all()


@pytest.mark.parametrize("number_from_deg", [0, 180])
@pytest.mark.parametrize("bow_m", [-60, 60])
@pytest.mark.parametrize("corners", [3, 4])
def test_a_line_of_few_corners_numbers_from_the_side_it_was_told(
    corners: int, bow_m: float, number_from_deg: float
) -> None:
    """Lines that bow to either side: lateral 1 at that side, and no number that misses the block."""
    x = np.linspace(-250, 250, corners)
    bow = np.where(np.abs(x) < 250, bow_m, 0)
    for guide in (np.column_stack([x, bow]), np.column_stack([x, bow])[::-1]):
        grid = lay_curved_laterals(
            AREA, AREA, guide_m=guide, number_from_deg=number_from_deg, header_deg=270, spacing_m=6.1
        )
        assert not np.isnan(grid.station_zero_m).any()
        assert strips_union(grid, AREA).area > 0.98 * AREA.area
        first, last = (shapely.centroid(lateral_lines(grid)[at]).y for at in (0, -1))
        assert (first > last) == (number_from_deg == 0)


def test_a_driven_line_that_is_not_smooth() -> None:
    """A point every 2 m with 3 cm of scatter: curves keep their distance, folds are cut off."""
    rng = np.random.default_rng(7)
    turn = np.radians(np.linspace(-25, 25, 221))
    radius = 500 + rng.normal(0, 0.03, turn.size)
    guide = np.column_stack([radius * np.sin(turn), radius * np.cos(turn) - 480])
    grid = lay(guide, spacing_m=1.524)
    lines = lateral_lines(grid)
    places = shapely.points(shapely.get_coordinates(shapely.segmentize(lines[::10], 1.0)))
    row = np.repeat(
        np.arange(len(lines))[::10], shapely.get_num_coordinates(shapely.segmentize(lines[::10], 1.0))
    )
    away = shapely.distance(places, grid.guide)
    level = np.abs(grid.piece_across_m[row] - grid.guide_across_m)
    assert away == pytest.approx(level, abs=1.01 * CURVE_ERROR_M)
    x, y = rng.uniform(-230, 240, 500), rng.uniform(-230, 250, 500)
    assert_equals_brute_force(grid, x, y)
    assert lines[100].is_simple


guides = st.tuples(
    st.lists(st.floats(-0.35, 0.35), min_size=1, max_size=6),
    st.lists(st.floats(20, 120), min_size=7, max_size=7),
    st.floats(-60, 60),
)


@settings(deadline=None, max_examples=effort(60))
@given(guide=guides, spacing=st.floats(3, 30), seed=st.integers(0, 1000))
def test_any_gentle_line(guide, spacing, seed) -> None:
    turn, steps, shift = guide
    heading = np.cumsum([0.0, *turn])
    each = np.array(steps)[: len(heading), None] * np.column_stack([np.cos(heading), np.sin(heading)])
    points = np.concatenate([[(0.0, 0.0)], np.cumsum(each, axis=0)])
    points += (-points[:, 0].mean(), shift - points[:, 1].mean())
    try:
        grid = lay(points, spacing_m=spacing)
    except DomainError:
        return  # bends too sharp for the block: tested by hand
    if not len(grid.piece_lateral):
        return
    rng = np.random.default_rng(seed)
    x, y = rng.uniform(-300, 300, 60), rng.uniform(-300, 300, 60)
    assert_equals_brute_force(grid, x, y)
    # Every number meets the block, which is in one piece, but one that only touches a corner of it.
    level = grid.first_m + np.arange(grid.count) * grid.spacing_m
    inner = (level > 0.01) & (level < grid.block_width_m - 0.01)
    assert not np.isnan(grid.station_zero_m[inner]).any()
    # Every place of the block lies within the width, and the strips stay on the ground.
    c = grid.across_m(*shapely.get_coordinates(AREA).T)
    assert c.min() >= -1e-6
    assert c.max() <= grid.block_width_m + 1e-6
    wetted = strips_union(grid, GROUND)
    assert wetted.difference(GROUND).area < 1e-6
    whole = shapely.union_all(lateral_strips(grid), grid_size=1e-7).intersection(GROUND)
    assert wetted.area == pytest.approx(whole.area, abs=1e-5 * max(whole.length, 1.0))


def test_chances_are_the_normal_law_over_strips_along_the_curve() -> None:
    grid = lay([(-260, -20), (-100, 30), (80, 30), (260, -10)], spacing_m=2.0)
    rng = np.random.default_rng(3)
    x, y = rng.uniform(-200, 200, 40), rng.uniform(-180, 180, 40)
    sigma = 1.7
    found = lateral_chances(grid, x, y, sigma)
    spread = np.hypot(sigma, LAYING_SIGMA_M)
    lines = lateral_lines(grid)
    for index in range(len(x)):
        place = shapely.Point(x[index], y[index])
        want = np.zeros(grid.count + 1)
        for lateral in range(1, grid.count + 1):
            own = lines[grid.piece_lateral == lateral]
            whole = grid.lines[lateral - 1]
            foot = whole.project(place)
            ends = [(whole.project(shapely.get_point(line, 0)), whole.project(shapely.get_point(line, -1)))
                    for line in own]  # fmt: skip
            if any(low - 3 * spread <= foot <= high + 3 * spread for low, high in ends):
                d = whole.distance(place)
                want[lateral] = norm.cdf((d + 1) / spread) - norm.cdf((d - 1) / spread)
        assert found.elsewhere[index] == pytest.approx(1 - want.sum(), abs=1e-3)
        for lateral, chance in zip(found.lateral[index], found.chance[index], strict=True):
            if lateral:
                assert chance == pytest.approx(want[lateral], abs=1e-3)

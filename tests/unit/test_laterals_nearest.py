"""The nearest piece of tape and its emitter, worked by hand."""

import math

import numpy as np
import pytest
import shapely

from ringrow.errors import DomainError
from ringrow.geometry.laterals import emitters_at, emitters_in_pieces, lay_laterals, nearest_pieces

BLOCK = shapely.box(0, 0, 100, 30)
POND = shapely.box(40, 12, 60, 30)
EAST = {"heading_deg": 90, "number_from_deg": 0, "header_deg": 270, "spacing_m": 10}


@pytest.fixture
def grid():
    """Laterals at y = 25, 15, 5; the first two cut from x = 40 to 60."""
    return lay_laterals(BLOCK, BLOCK.difference(POND), **EAST)


def at(grid, x, y):
    near = nearest_pieces(grid, x, y)
    return (
        int(near.lateral[0]),
        int(near.letter[0]),
        float(near.offset_m[0]),
        float(near.station_m[0]),
        float(near.distance_m[0]),
    )


def test_beside_the_tape_the_offset_is_positive_toward_higher_numbers(grid) -> None:
    assert at(grid, 10, 24) == pytest.approx((1, 0, 1, 10, 1), abs=1e-12)
    assert at(grid, 10, 26) == pytest.approx((1, 0, -1, 10, 1), abs=1e-12)
    assert at(grid, 70, 17) == pytest.approx((2, 1, -2, 70, 2), abs=1e-12)


def test_in_a_gap_the_nearest_end_or_the_nearest_lateral_below_wins(grid) -> None:
    assert at(grid, 43, 26) == pytest.approx((1, 0, -1, 40, math.hypot(3, 1)), abs=1e-12)
    assert at(grid, 57, 26) == pytest.approx((1, 1, -1, 60, math.hypot(3, 1)), abs=1e-12)
    assert at(grid, 50, 14) == pytest.approx((3, 0, -9, 50, 9), abs=1e-12)


def test_past_the_ends_and_outside_the_block(grid) -> None:
    assert at(grid, 103, 21) == pytest.approx((1, 1, 4, 100, 5), abs=1e-12)
    assert at(grid, -30, 65) == pytest.approx((1, 0, -40, 0, 50), abs=1e-12)
    assert at(grid, 50, -5) == pytest.approx((3, 0, 10, 50, 10), abs=1e-12)


def test_far_from_all_tape(grid) -> None:
    assert at(grid, 100 + 3000, 25 + 4000) == pytest.approx((1, 1, -4000, 100, 5000), abs=1e-12)


def test_halfway_between_two_laterals_the_lower_number_wins(grid) -> None:
    assert at(grid, 20, 20)[:1] == (1,)
    assert at(grid, 20, 10)[:1] == (2,)
    assert at(grid, 20, 20 - 1e-12)[:1] == (1,)
    assert at(grid, 20, 20 - 1e-6)[:1] == (2,)


def test_halfway_along_a_gap_the_piece_nearer_the_header_wins() -> None:
    gap = lay_laterals(BLOCK, BLOCK.difference(shapely.box(40, 0, 60, 30)), **EAST)
    assert at(gap, 50, 25)[:2] == (1, 0)
    assert at(gap, 50 + 1e-6, 25)[:2] == (1, 1)


def test_a_lower_number_wins_a_tie_over_a_gap() -> None:
    """At (50, 15) lateral 2 is gone; laterals 1 and 3 are both 10 m away."""
    gone = lay_laterals(BLOCK, BLOCK.difference(shapely.box(0, 12, 100, 18)), **EAST)
    assert at(gone, 50, 15)[0] == 1
    assert at(gone, 50, 14.9)[0] == 3


def test_far_ties_go_to_the_lower_number_too() -> None:
    """Tape north and south of a gap 600 m wide, 60 laterals from either side."""
    block = shapely.box(0, 0, 100, 900)
    two = lay_laterals(block, block.difference(shapely.box(0, 150, 100, 750)), **EAST)
    assert at(two, 50, 450)[0] == 15
    assert at(two, 50, 450 - 1e-6)[0] == 76


def test_without_tape_there_is_no_answer() -> None:
    bare = lay_laterals(BLOCK, shapely.Polygon(), **EAST)
    near = nearest_pieces(bare, [1.0, 2.0], [3.0, 4.0])
    assert near.lateral.tolist() == [0, 0]
    assert near.piece.tolist() == [-1, -1]
    assert near.letter.tolist() == [-1, -1]
    assert np.isnan([near.offset_m, near.station_m, near.distance_m]).all()
    assert emitters_at(bare, near, 0.5).tolist() == [0, 0]


def test_a_place_that_is_not_finite_has_no_answer_and_spoils_no_other(grid) -> None:
    near = nearest_pieces(grid, [np.nan, 10, np.inf], [5, 24, 5])
    assert near.lateral.tolist() == [0, 1, 0]
    assert near.distance_m[1] == 1
    assert np.isnan(near.station_m[[0, 2]]).all()


def test_no_places_give_empty_arrays(grid) -> None:
    near = nearest_pieces(grid, [], [])
    assert near.lateral.shape == near.distance_m.shape == (0,)


def test_emitters_sit_half_a_spacing_from_station_0_and_run_on_through_gaps(grid) -> None:
    lowest, highest = emitters_in_pieces(grid, 3)
    # Stations 1.5, 4.5, ... 37.5 | 40.5 to 58.5 in the gap | 61.5 ... 97.5.
    assert lowest.tolist() == [1, 21, 1, 21, 1]
    assert highest.tolist() == [13, 33, 13, 33, 33]


def test_the_nearest_emitter_stays_on_the_nearest_piece(grid) -> None:
    near = nearest_pieces(grid, [2.9, 3.1, 39.9, 60, 3, 100], [25] * 6)
    assert emitters_at(grid, near, 3).tolist() == [1, 2, 13, 21, 1, 33]


def test_headland_moves_station_0_and_with_it_the_emitters() -> None:
    set_back = lay_laterals(BLOCK, BLOCK, **EAST, headland_m=10)
    near = nearest_pieces(set_back, [10.2, 90], [25, 25])
    assert emitters_at(set_back, near, 0.5).tolist() == [1, 160]


def test_a_piece_too_short_for_an_emitter_has_none() -> None:
    ground = shapely.union_all([shapely.box(0, 0, 40, 30), shapely.box(44, 0, 45, 30)])
    short = lay_laterals(BLOCK, ground, **EAST)
    near = nearest_pieces(short, [44.5], [25])
    assert near.letter.tolist() == [1]
    assert emitters_at(short, near, 3).tolist() == [0]


@pytest.mark.parametrize("spacing", [0, -1, float("nan")])
def test_emitter_spacing_that_cannot_be(grid, spacing) -> None:
    with pytest.raises(DomainError, match=r"emitter spacing: found .* m; allowed: above 0"):
        emitters_at(grid, nearest_pieces(grid, [1], [1]), spacing)

"""Laterals laid by hand on small blocks: numbering, stations, headlands, pieces, guidance lines."""

import numpy as np
import pytest
import shapely
from shapely import affinity

from ringrow.errors import DomainError, PlaceError
from ringrow.geometry.laterals import (
    lateral_count,
    lateral_lengths_m,
    lateral_lines,
    lay_laterals,
    piece_name,
    point_at,
)
from ringrow.units import FOOT_M, INCH_M

BLOCK = shapely.box(0, 0, 100, 30)
EAST = {"heading_deg": 90, "number_from_deg": 0, "header_deg": 270, "spacing_m": 10}


def as_text(grid):
    return [shapely.to_wkt(line, rounding_precision=6) for line in lateral_lines(grid)]


def ends(grid):
    return [[tuple(map(float, xy)) for xy in line.coords] for line in lateral_lines(grid)]


def test_half_a_spacing_from_the_north_edge_and_station_0_in_the_west() -> None:
    grid = lay_laterals(BLOCK, BLOCK, **EAST)
    assert ends(grid) == [[(0, 25), (100, 25)], [(0, 15), (100, 15)], [(0, 5), (100, 5)]]
    assert grid.count == 3


@pytest.mark.parametrize(
    ("number_from", "first_y"), [(0, 25), (45, 25), (300, 25), (180, 5), (135, 5), (225, 5)]
)
def test_numbering_starts_at_the_edge_toward_number_from(number_from, first_y) -> None:
    grid = lay_laterals(BLOCK, BLOCK, **{**EAST, "number_from_deg": number_from})
    assert ends(grid)[0][0][1] == first_y


@pytest.mark.parametrize("number_from", [90, 60, 120])
def test_numbering_from_the_east_when_laterals_run_north(number_from) -> None:
    grid = lay_laterals(
        BLOCK, BLOCK, heading_deg=0, number_from_deg=number_from, header_deg=180, spacing_m=40
    )
    assert ends(grid) == [[(80, 0), (80, 30)], [(40, 0), (40, 30)], [(0, 0), (0, 30)]]


@pytest.mark.parametrize("heading", [90, 270])
@pytest.mark.parametrize(("header", "station_0_x"), [(270, 0), (225, 0), (90, 100), (45, 100)])
def test_station_0_lies_at_the_header_end_whichever_way_the_heading_points(
    heading, header, station_0_x
) -> None:
    grid = lay_laterals(BLOCK, BLOCK, **{**EAST, "heading_deg": heading, "header_deg": header})
    x, y = point_at(grid, 2, 0)
    assert (x, y) == (station_0_x, 15)


def test_a_quarter_section_with_lines_60_inches_apart() -> None:
    """160 acres, half a mile each way: 2,640 ft / 5 ft = 528 laterals of 2,640 ft, exact arithmetic."""
    side_m = 2640 * FOOT_M
    quarter = shapely.box(0, 0, side_m, side_m)
    grid = lay_laterals(quarter, quarter, **{**EAST, "spacing_m": 60 * INCH_M})
    assert grid.count == 528
    assert len(grid.piece_lateral) == 528
    assert lateral_lengths_m(grid) / FOOT_M == pytest.approx(np.full(528, 2640.0), rel=1e-12)
    assert grid.spacing_m * lateral_lengths_m(grid).sum() == pytest.approx(quarter.area, rel=1e-12)
    assert grid.first_m + 527.5 * grid.spacing_m == pytest.approx(side_m, rel=1e-12)


def test_a_hole_cuts_laterals_into_a_b_c_that_keep_their_number() -> None:
    ponds = shapely.union_all([shapely.box(20, 12, 30, 18), shapely.box(60, 12, 65, 30)])
    grid = lay_laterals(BLOCK, BLOCK.difference(ponds), **EAST)
    assert grid.piece_lateral.tolist() == [1, 1, 2, 2, 2, 3]
    assert grid.piece_letter.tolist() == [0, 1, 0, 1, 2, 0]
    assert grid.piece_start_m.tolist() == [0, 65, 0, 30, 65, 0]
    assert grid.piece_stop_m.tolist() == [60, 100, 20, 60, 100, 100]
    assert grid.pieces_per_lateral.tolist() == [2, 3, 1]


def test_letters_count_from_the_header_end() -> None:
    pond = shapely.box(20, 0, 30, 30)
    grid = lay_laterals(BLOCK, BLOCK.difference(pond), **{**EAST, "header_deg": 90})
    assert ends(grid)[:2] == [[(100, 25), (30, 25)], [(20, 25), (0, 25)]]


def test_a_number_without_tape_keeps_its_number() -> None:
    middle = shapely.box(0, 12, 100, 18)
    grid = lay_laterals(BLOCK, BLOCK.difference(middle), **EAST)
    assert grid.count == 3
    assert grid.piece_lateral.tolist() == [1, 3]
    assert lateral_lengths_m(grid).tolist() == [100, 0, 100]
    assert grid.station_zero_m.tolist() == [0, 0, 0]


def test_headland_is_taken_at_the_two_outer_ends_only() -> None:
    pond = shapely.box(40, 0, 60, 30)
    grid = lay_laterals(BLOCK, BLOCK.difference(pond), **EAST, headland_m=9)
    assert ends(grid)[:2] == [[(9, 25), (40, 25)], [(60, 25), (91, 25)]]


def test_station_counts_from_the_block_and_not_from_the_first_tape() -> None:
    yard = shapely.box(0, 20, 25, 30)
    grid = lay_laterals(BLOCK, BLOCK.difference(yard), **EAST, headland_m=5)
    assert grid.piece_start_m[0] == 25
    assert point_at(grid, 1, 20) == (25, 25)


def test_headlands_that_meet_leave_no_tape() -> None:
    grid = lay_laterals(BLOCK, BLOCK, **EAST, headland_m=50)
    assert grid.count == 3
    assert len(grid.piece_lateral) == 0


def test_slanted_ends_give_every_lateral_its_own_station_0() -> None:
    triangle = shapely.Polygon([(0, 0), (100, 0), (100, 100)])
    grid = lay_laterals(triangle, triangle, **{**EAST, "spacing_m": 50})
    assert ends(grid) == [[(75, 75), (100, 75)], [(25, 25), (100, 25)]]
    assert grid.station_zero_m - grid.station_zero_m[1] == pytest.approx([50, 0], abs=1e-12)


def test_the_numbering_edge_lies_at_the_outermost_corner() -> None:
    leaning = shapely.Polygon([(0, 0), (100, 0), (100, 30), (0, 20)])
    grid = lay_laterals(leaning, leaning, **EAST)
    assert [line[0][1] for line in ends(grid)] == [25, 15, 5]


def test_two_parts_of_a_block_are_numbered_through() -> None:
    parts = shapely.union_all([shapely.box(0, 20, 40, 30), shapely.box(60, 0, 100, 10)])
    grid = lay_laterals(parts, parts, **EAST)
    assert ends(grid) == [[(0, 25), (40, 25)], [(60, 5), (100, 5)]]
    assert grid.piece_lateral.tolist() == [1, 3]
    assert np.isnan(grid.station_zero_m).tolist() == [False, True, False]


def test_parts_side_by_side_are_pieces_of_one_lateral() -> None:
    parts = shapely.union_all([shapely.box(0, 0, 40, 30), shapely.box(60, 0, 100, 30)])
    grid = lay_laterals(parts, parts, **EAST, headland_m=5)
    assert ends(grid)[:2] == [[(5, 25), (40, 25)], [(60, 25), (95, 25)]]


def test_first_lateral_is_measured_from_the_numbering_edge() -> None:
    grid = lay_laterals(BLOCK, BLOCK, **EAST, first_lateral_m=2)
    assert [line[0][1] for line in ends(grid)] == [28, 18, 8]


def test_laterals_on_both_edges_of_the_block_are_inside_it() -> None:
    grid = lay_laterals(BLOCK, BLOCK, **EAST, first_lateral_m=0)
    assert [line[0][1] for line in ends(grid)] == [30, 20, 10, 0]
    assert lateral_lengths_m(grid).tolist() == [100] * 4


def test_laterals_on_the_edges_of_a_turned_block_are_inside_it() -> None:
    for turn in range(1, 90, 7):
        block = affinity.rotate(BLOCK, -turn, origin=(700, 300))
        grid = lay_laterals(
            block,
            block,
            heading_deg=90 + turn,
            number_from_deg=turn,
            header_deg=270 + turn,
            spacing_m=10,
            first_lateral_m=0,
        )
        assert grid.count == 4
        assert lateral_lengths_m(grid) == pytest.approx([100] * 4, abs=1e-9)


def test_a_lateral_along_the_edge_of_a_pond_keeps_its_tape() -> None:
    pond = shapely.box(40, 10, 60, 15)
    grid = lay_laterals(BLOCK, BLOCK.difference(pond), **EAST)
    assert grid.piece_lateral.tolist() == [1, 2, 3]


def test_a_lateral_through_the_tip_of_a_pond_is_not_cut() -> None:
    pond = shapely.Polygon([(40, 10), (60, 10), (50, 15)])
    grid = lay_laterals(BLOCK, BLOCK.difference(pond), **EAST)
    assert grid.piece_lateral.tolist() == [1, 2, 3]


def test_a_lateral_that_only_touches_a_corner_of_the_block_holds_no_tape() -> None:
    peak = shapely.Polygon([(0, 0), (100, 0), (50, 30)])
    grid = lay_laterals(peak, peak, **EAST, first_lateral_m=0)
    assert grid.count == 4
    assert grid.piece_lateral.tolist() == [2, 3, 4]


def test_a_corner_on_a_lateral_is_counted_once() -> None:
    bent = shapely.Polygon([(0, 0), (100, 0), (90, 15), (100, 30), (0, 30), (10, 15)])
    grid = lay_laterals(bent, bent, **EAST)
    assert ends(grid)[1] == [(10, 15), (90, 15)]


def test_scraps_under_a_millimetre_are_no_tape_and_such_gaps_do_not_cut() -> None:
    scrap = shapely.box(120, 0, 120.0009, 30)
    slit = shapely.box(50, 0, 50.0009, 30)
    ground = shapely.union_all([BLOCK, scrap]).difference(slit)
    grid = lay_laterals(shapely.box(0, 0, 200, 30), ground, **EAST)
    assert ends(grid)[0] == [(0, 25), (100, 25)]
    assert len(grid.piece_lateral) == 3


@pytest.mark.parametrize(
    ("line_y", "first_m"), [(28, 2), (18, 2), (-12, 2), (400, 10), (30, 10), (20, 10), (23, 7)]
)
def test_one_lateral_lies_on_the_guidance_line(line_y, first_m) -> None:
    grid = lay_laterals(BLOCK, BLOCK, **EAST, line_point_m=(37, line_y))
    assert grid.first_m == pytest.approx(first_m, abs=1e-9)


def test_first_lateral_wins_over_the_guidance_line() -> None:
    grid = lay_laterals(BLOCK, BLOCK, **EAST, line_point_m=(37, 28), first_lateral_m=3)
    assert grid.first_m == 3


@pytest.mark.parametrize("first_lateral", [None, 0, 3, 30])
def test_the_count_alone_equals_the_count_of_the_grid(first_lateral) -> None:
    grid = lay_laterals(BLOCK, BLOCK, **EAST, first_lateral_m=first_lateral)
    alone = lateral_count(
        BLOCK, heading_deg=90, number_from_deg=0, spacing_m=10, first_lateral_m=first_lateral
    )
    assert alone == grid.count


def test_a_first_lateral_beyond_the_block_leaves_none() -> None:
    grid = lay_laterals(BLOCK, BLOCK, **EAST, first_lateral_m=31)
    assert grid.count == 0
    assert as_text(grid) == []


def test_empty_ground_and_empty_area() -> None:
    bare = lay_laterals(BLOCK, shapely.Polygon(), **EAST)
    assert (bare.count, len(bare.piece_lateral)) == (3, 0)
    assert lateral_lengths_m(bare).tolist() == [0, 0, 0]
    nothing = lay_laterals(shapely.Polygon(), shapely.Polygon(), **EAST)
    assert nothing.count == 0
    assert nothing.pieces_per_lateral.tolist() == []


@pytest.mark.parametrize("spacing", [0, -1, float("nan"), float("inf")])
def test_spacing_that_cannot_be(spacing) -> None:
    with pytest.raises(DomainError, match=r"spacing: found .* m between laterals; allowed: above 0"):
        lay_laterals(BLOCK, BLOCK, **{**EAST, "spacing_m": spacing})


@pytest.mark.parametrize("first_lateral", [-0.1, float("nan")])
def test_first_lateral_that_cannot_be(first_lateral) -> None:
    with pytest.raises(DomainError, match=r"first lateral: found .* m from the numbering edge; allowed: 0"):
        lay_laterals(BLOCK, BLOCK, **EAST, first_lateral_m=first_lateral)


@pytest.mark.parametrize("headland", [-1, float("nan"), float("inf")])
def test_headland_that_cannot_be(headland) -> None:
    with pytest.raises(DomainError, match=r"headland: found .* m; allowed: 0 or more"):
        lay_laterals(BLOCK, BLOCK, **EAST, headland_m=headland)


def test_a_spacing_in_the_wrong_unit_is_refused_before_it_fills_memory() -> None:
    with pytest.raises(DomainError, match=r"found 1e-06 m on a block 30 m wide, .* look at the unit"):
        lay_laterals(BLOCK, BLOCK, **{**EAST, "spacing_m": 1e-6})


def test_names_of_pieces_run_on_past_z() -> None:
    names = [piece_name(letter) for letter in range(26 * 27 + 1)]
    assert names[:3] == ["a", "b", "c"]
    assert (names[25], names[26], names[701], names[702]) == ("z", "aa", "zz", "aaa")
    assert len(set(names)) == len(names)


def test_no_piece_has_a_number_below_0() -> None:
    with pytest.raises(PlaceError, match="piece of a lateral: found number -1; allowed: 0 or more"):
        piece_name(-1)


def test_a_station_in_a_gap_lies_on_the_line_of_the_lateral() -> None:
    pond = shapely.box(40, 0, 60, 30)
    grid = lay_laterals(BLOCK, BLOCK.difference(pond), **EAST, headland_m=10)
    assert point_at(grid, 1, 40) == (50, 25)


def test_a_station_rounded_past_the_end_is_the_end() -> None:
    grid = lay_laterals(BLOCK, BLOCK, **EAST)
    assert point_at(grid, 1, 100.0005) == (100, 25)
    assert point_at(grid, 1, -0.0005) == (0, 25)


@pytest.mark.parametrize("lateral", [0, -1, 4])
def test_a_lateral_that_is_not_on_the_block(lateral) -> None:
    grid = lay_laterals(BLOCK, BLOCK, **EAST)
    with pytest.raises(PlaceError, match=f"lateral: found {lateral}; allowed: 1 to 3"):
        point_at(grid, lateral, 10)


def test_no_lateral_on_a_block_without_any() -> None:
    grid = lay_laterals(BLOCK, BLOCK, **EAST, first_lateral_m=31)
    with pytest.raises(PlaceError, match="lateral: found 1; allowed: none, the block holds no lateral"):
        point_at(grid, 1, 10)


def test_a_lateral_without_tape_has_no_stations() -> None:
    grid = lay_laterals(BLOCK, BLOCK.difference(shapely.box(0, 12, 100, 18)), **EAST)
    with pytest.raises(PlaceError, match="lateral: found 2, a number without tape; allowed: a lateral that"):
        point_at(grid, 2, 10)


@pytest.mark.parametrize("station", [-0.01, 80.01, float("nan")])
def test_a_station_beyond_the_ends(station) -> None:
    grid = lay_laterals(BLOCK, BLOCK, **EAST, headland_m=10)
    with pytest.raises(
        PlaceError, match=r"station on lateral 1: found .* allowed: 0 to 80.00 m \(262.5 ft\)"
    ):
        point_at(grid, 1, station)

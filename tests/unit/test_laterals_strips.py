"""The ground that strips cover together, by hand."""

import pytest
import shapely
from shapely import affinity

from ringrow.geometry.laterals import lateral_strips, lay_laterals
from ringrow.geometry.strips import GROWN_M, strips_union

BLOCK = shapely.box(0, 0, 100, 30)
EAST = {"heading_deg": 90, "number_from_deg": 0, "header_deg": 270, "spacing_m": 10}


def test_strips_that_tile_a_block_are_the_block_itself() -> None:
    grid = lay_laterals(BLOCK, BLOCK, **EAST)
    wetted = strips_union(grid, BLOCK)
    assert wetted.equals(BLOCK)
    assert shapely.get_num_coordinates(wetted) == 5


def test_the_same_for_a_block_turned_and_far_from_the_origin() -> None:
    for turn in range(0, 360, 17):
        block = affinity.translate(affinity.rotate(BLOCK, -turn, origin=(0, 0)), 3000, -2500)
        grid = lay_laterals(
            block,
            block,
            heading_deg=90 + turn,
            number_from_deg=turn,
            header_deg=270 + turn,
            spacing_m=10,
        )
        assert strips_union(grid, block).equals(block)


def test_half_a_strip_stays_dry_where_the_spacing_does_not_fit() -> None:
    block = shapely.box(0, 0, 100, 34)
    grid = lay_laterals(block, block, **EAST)
    dry = block.difference(strips_union(grid, block))
    assert dry.area == pytest.approx(400, abs=1e-5)
    assert dry.bounds == pytest.approx((0, 0, 100, 4), abs=1e-7)


def test_headlands_stay_dry() -> None:
    grid = lay_laterals(BLOCK, BLOCK, **EAST, headland_m=9)
    wetted = strips_union(grid, BLOCK)
    assert wetted.symmetric_difference(shapely.box(9, 0, 91, 30)).area < 100 * GROWN_M


def test_a_lateral_on_the_edge_wets_only_the_half_inside() -> None:
    grid = lay_laterals(BLOCK, BLOCK, **EAST, first_lateral_m=0)
    assert strips_union(grid, BLOCK).equals(BLOCK)


def test_flat_ends_leave_teeth_along_a_slanted_edge() -> None:
    """Each strip of a 45 degree edge misses, and is cut by, a triangle of half a spacing: 5 * 5 / 2."""
    block = shapely.Polygon([(0, 0), (100, 0), (70, 30), (0, 30)])
    grid = lay_laterals(block, block, **EAST)
    dry = block.difference(strips_union(grid, block))
    assert dry.area == pytest.approx(3 * 12.5, abs=1e-5)


def test_strips_branch_round_a_pond() -> None:
    pond = shapely.box(40, 10, 60, 20)
    ground = BLOCK.difference(pond)
    wetted = strips_union(lay_laterals(BLOCK, ground, **EAST), ground)
    assert wetted.equals(ground)
    assert len(wetted.interiors) == 1


def test_a_pond_between_two_laterals_is_cut_out_of_their_strips() -> None:
    ground = BLOCK.difference(shapely.box(40, 9, 60, 11))
    grid = lay_laterals(BLOCK, ground, **EAST)
    assert len(grid.piece_lateral) == 3
    assert strips_union(grid, ground).equals(ground)


def test_strips_that_meet_at_a_corner_only() -> None:
    ground = shapely.union_all([shapely.box(0, 20, 50, 30), shapely.box(50, 10, 100, 20)])
    grid = lay_laterals(BLOCK, ground, **EAST)
    wetted = strips_union(grid, ground)
    assert wetted.is_valid
    assert wetted.area == pytest.approx(1000, abs=1e-9)


def test_without_tape_nothing_is_wet() -> None:
    grid = lay_laterals(BLOCK, shapely.Polygon(), **EAST)
    assert strips_union(grid, BLOCK).is_empty


def test_the_rectangles_themselves_are_not_cut() -> None:
    grid = lay_laterals(BLOCK, BLOCK, **EAST, first_lateral_m=0)
    strips = lateral_strips(grid)
    assert shapely.area(strips).tolist() == [1000] * 4
    assert strips[0].bounds == (0, 25, 100, 35)

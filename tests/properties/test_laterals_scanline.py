"""Laterals over any ground: the scanline against one shapely intersection a lateral, and what must stay."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import assume, given
from hypothesis import strategies as st
from shapely import affinity

from ringrow.geometry.laterals import lateral_lengths_m, lateral_lines, lateral_strips, lay_laterals
from ringrow.geometry.strips import GROWN_M, strips_union

CORNER_CLEARANCE_M = 1e-5
BEARINGS = st.floats(0, 359.999)


@st.composite
def grounds(draw, *, whole=False):
    """Concave ground up to 200 m across with up to two holes; all corners on whole metres if asked."""
    spokes = draw(st.integers(4, 14))
    radii = draw(st.lists(st.floats(20, 100), min_size=spokes, max_size=spokes))
    turns = 2 * np.pi * np.arange(spokes) / spokes
    corners = np.column_stack([radii * np.cos(turns), radii * np.sin(turns)])
    ground = shapely.Polygon(np.rint(corners) if whole else corners)
    for _ in range(draw(st.integers(0, 2))):
        x, y = draw(st.integers(-60, 60)), draw(st.integers(-60, 60))
        wide, high = draw(st.integers(1, 40)), draw(st.integers(1, 40))
        hole = shapely.box(x, y, x + wide, y + high)
        if not whole:
            hole = affinity.rotate(hole, draw(st.floats(0, 90)))
        ground = ground.difference(hole)
    assume(ground.is_valid and ground.area > 50)
    return ground


@st.composite
def lays(draw):
    """Ways to lay laterals, number_from clear of the heading."""
    heading = draw(BEARINGS)
    return {
        "heading_deg": heading,
        "number_from_deg": heading + draw(st.sampled_from([-1, 1])) * draw(st.floats(15, 165)),
        "header_deg": heading + draw(st.sampled_from([0, 180])) + draw(st.floats(-75, 75)),
        "spacing_m": draw(st.floats(1, 20)),
        "first_lateral_m": draw(st.none() | st.floats(0, 20)),
        "headland_m": draw(st.sampled_from([0.0, 7.0])),
    }


def cut_by_shapely(grid, lateral, ground):
    """Runs of one lateral over ground by shapely's own intersection; gaps and runs under 1 mm are none."""
    c = grid.first_m + (lateral - 1) * grid.spacing_m
    line = shapely.LineString(grid.points(np.array([-1000.0, 1000.0]), np.array([c, c])))
    parts = shapely.get_parts(shapely.intersection(line, ground))
    along = [
        sorted(grid.coordinates(*np.array(part.coords).T)[0])
        for part in parts
        if part.geom_type == "LineString" and not part.is_empty
    ]
    joined = []
    for start, *_, stop in sorted(along):
        if joined and start - joined[-1][1] <= 1e-3:
            joined[-1][1] = max(stop, joined[-1][1])
        else:
            joined.append([start, stop])
    return [run for run in joined if run[1] - run[0] >= 1e-3]


def pieces_by_shapely(grid, lateral, area, ground, headland_m):
    """The same lateral's pieces of tape, by the definition."""
    block = cut_by_shapely(grid, lateral, area)
    if not block:
        return []
    low, high = block[0][0] + headland_m, block[-1][1] - headland_m
    cut = [[max(a, low), min(b, high)] for a, b in cut_by_shapely(grid, lateral, ground)]
    return [run for run in cut if run[1] - run[0] >= 1e-3]


def pieces_of(grid, lateral):
    mine = grid.piece_lateral == lateral
    return np.column_stack([grid.piece_start_m[mine], grid.piece_stop_m[mine]])


@given(area=grounds(), hole=grounds(), lay=lays())
def test_scanline_equals_one_shapely_intersection_a_lateral(area, hole, lay) -> None:
    ground = area.difference(affinity.scale(hole, 0.3, 0.3))
    grid = lay_laterals(area, ground, **lay)
    vertices = np.vstack([shapely.get_coordinates(area), shapely.get_coordinates(ground)])
    corner_c = grid.coordinates(*vertices.T)[1]
    for lateral in range(1, grid.count + 1):
        c = grid.first_m + (lateral - 1) * grid.spacing_m
        if np.abs(corner_c - c).min() < CORNER_CLEARANCE_M:
            continue  # a line that grazes a corner: shapely's answer turns on rounding, see the next test
        expected = pieces_by_shapely(grid, lateral, area, ground, lay["headland_m"])
        found = pieces_of(grid, lateral)
        assert len(found) == len(expected)
        assert found.ravel() == pytest.approx(np.ravel(expected), abs=1e-7)


@given(
    ground=grounds(whole=True), turn=st.sampled_from([0, 90, 180, 270]), spacing=st.sampled_from([1, 2, 5])
)
def test_laterals_on_corners_and_along_edges_equal_shapely_too(ground, turn, spacing) -> None:
    """All corners on whole metres, all laterals too: shapely's intersection is exact, touching included."""
    grid = lay_laterals(
        ground,
        ground,
        heading_deg=turn,
        number_from_deg=turn + 90,
        header_deg=turn,
        spacing_m=spacing,
        first_lateral_m=0,
    )
    for lateral in range(1, grid.count + 1):
        expected = cut_by_shapely(grid, lateral, ground)
        found = pieces_of(grid, lateral)
        assert len(found) == len(expected)
        assert found.ravel() == pytest.approx(np.ravel(expected), abs=1e-9)


@given(area=grounds(), lay=lays())
def test_tape_lies_on_the_ground_one_spacing_apart(area, lay) -> None:
    grid = lay_laterals(area, area, **lay)
    lines = lateral_lines(grid)
    assert len(lines) == len(grid.piece_lateral)
    if len(lines) == 0:
        return
    # Half a millimetre wider, since gaps under a millimetre do not cut the tape.
    inside = shapely.length(shapely.intersection(lines, area.buffer(5.1e-4, quad_segs=4)))
    assert inside == pytest.approx(shapely.length(lines), abs=1e-6)
    s, c = grid.coordinates(*shapely.get_coordinates(lines).T)
    assert c == pytest.approx(
        grid.first_m + np.repeat(grid.piece_lateral - 1, 2) * lay["spacing_m"], abs=1e-9
    )
    assert (s[1::2] > s[::2]).all()
    heading = np.radians(lay["heading_deg"])
    assert abs(grid.along @ np.array([np.sin(heading), np.cos(heading)])) == pytest.approx(1, abs=1e-12)


@given(area=grounds(), lay=lays())
def test_the_header_end_and_the_numbering_edge_lie_where_they_were_said_to(area, lay) -> None:
    grid = lay_laterals(area, area, **lay)
    toward_header, toward_edge = (
        np.array([math.sin(math.radians(lay[key])), math.cos(math.radians(lay[key]))])
        for key in ("header_deg", "number_from_deg")
    )
    assert toward_header @ grid.along < 0
    assert toward_edge @ grid.across < 0
    c = grid.coordinates(*shapely.get_coordinates(area).T)[1]
    assert c.min() == pytest.approx(0, abs=1e-9)
    assert grid.first_m + (grid.count - 1) * grid.spacing_m <= c.max() + 1e-5
    assert grid.first_m + grid.count * grid.spacing_m > c.max()


@given(area=grounds(), lay=lays(), turn=BEARINGS, east=st.floats(-3000, 3000), north=st.floats(-3000, 3000))
def test_turning_and_shifting_block_and_bearings_changes_no_station(area, lay, turn, east, north) -> None:
    grid = lay_laterals(area, area, **lay)
    moved_area = affinity.translate(affinity.rotate(area, -turn, origin=(0, 0)), east, north)
    bearings = {key: lay[key] + turn for key in ("heading_deg", "number_from_deg", "header_deg")}
    moved = lay_laterals(moved_area, moved_area, **{**lay, **bearings})
    assert moved.count == grid.count
    assert lateral_lengths_m(moved) == pytest.approx(lateral_lengths_m(grid), abs=1e-6)
    assert lateral_lengths_m(moved).sum() == pytest.approx(lateral_lengths_m(grid).sum(), abs=1e-6)


@given(area=grounds(), lay=lays(), inches=st.floats(0, 1))
def test_with_a_guidance_line_one_lateral_lies_on_it(area, lay, inches) -> None:
    x, y = 30 * inches, -20.0
    grid = lay_laterals(area, area, **{**lay, "first_lateral_m": None}, line_point_m=(x, y))
    assert 0 < grid.first_m <= grid.spacing_m
    c = float(grid.coordinates(x, y)[1])
    laterals_off = (c - grid.first_m) / grid.spacing_m
    assert laterals_off == pytest.approx(round(laterals_off), abs=2e-6)


@given(area=grounds(), hole=grounds(), lay=lays())
def test_wetted_ground_is_the_strips_cut_to_the_ground(area, hole, lay) -> None:
    """Strips do not overlap, so the areas of each, cut alone, add up to the union's."""
    ground = area.difference(affinity.scale(hole, 0.3, 0.3))
    grid = lay_laterals(area, ground, **lay)
    wetted = strips_union(grid, ground)
    assert wetted.is_valid
    alone = shapely.intersection(lateral_strips(grid), ground)
    grown = GROWN_M * shapely.length(shapely.boundary(alone)).sum()
    assert wetted.area == pytest.approx(shapely.area(alone).sum(), abs=2 * grown + 1e-9 * ground.area)
    assert wetted.area + ground.difference(wetted).area == pytest.approx(ground.area, rel=1e-9)

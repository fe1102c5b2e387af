"""The nearest tape in closed form against the distance to every piece of the real geometry."""

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from plain_distance import distances_m
from ringrow.geometry.laterals import (
    emitters_at,
    emitters_in_pieces,
    lateral_lines,
    lay_laterals,
    nearest_pieces,
    point_at,
)

TIE_M = 1e-6


def ragged_block():
    """An L-shaped block of 400 m with a pond, a waterway and a pivot's circle cut out, headings askew."""
    area = shapely.Polygon([(-200, -180), (190, -200), (210, 30), (40, 60), (30, 220), (-190, 190)])
    taken = shapely.union_all(
        [
            shapely.Point(110, -120).buffer(70, quad_segs=32),
            shapely.Polygon([(-200, 100), (-40, -10), (-35, 0), (-190, 120)]),
            shapely.box(-120, -100, -60, -60),
            shapely.box(-20, -160, 20, -90),
        ]
    )
    return lay_laterals(
        area,
        area.difference(taken),
        heading_deg=67,
        number_from_deg=340,
        header_deg=250,
        spacing_m=3.7,
        headland_m=6,
    )


def assert_equals_brute_force(grid, x, y):
    """Compare with the distance from every point to every piece; the winner's by shapely as well."""
    near = nearest_pieces(grid, x, y)
    x, y = np.asarray(x, float), np.asarray(y, float)
    places, lines = shapely.points(x, y), lateral_lines(grid)
    best, second = np.full(len(x), np.inf), np.full(len(x), np.inf)
    piece = np.zeros(len(x), int)
    for number, line in enumerate(lines):
        distance = distances_m(line, x, y)
        better = distance < best
        second = np.where(better, best, np.minimum(second, distance))
        best, piece = np.where(better, distance, best), np.where(better, number, piece)
    assert near.distance_m == pytest.approx(best, abs=1e-9)
    assert shapely.distance(places, lines[near.piece]) == pytest.approx(best, abs=1e-9)
    clear = second - best > TIE_M
    assert (near.piece == piece)[clear].all()
    assert (near.lateral == grid.piece_lateral[near.piece]).all()
    assert (near.letter == grid.piece_letter[near.piece]).all()
    return near, clear


def test_100_000_places_on_in_gaps_past_ends_and_outside() -> None:
    grid = ragged_block()
    assert grid.pieces_per_lateral.max() >= 3
    rng = np.random.default_rng(20261125)
    x = np.concatenate([rng.uniform(-230, 240, 70_000), rng.uniform(-1500, 1500, 30_000)])
    y = np.concatenate([rng.uniform(-230, 250, 70_000), rng.uniform(-1500, 1500, 30_000)])
    near, clear = assert_equals_brute_force(grid, x, y)
    assert clear.mean() > 0.99
    # The station and the offset, held against the real geometry as well.
    lines = lateral_lines(grid)[near.piece]
    foot = shapely.line_interpolate_point(lines, shapely.line_locate_point(lines, shapely.points(x, y)))
    sample = slice(0, None, 97)
    for lateral, station, point in zip(
        near.lateral[sample], near.station_m[sample], foot[sample], strict=True
    ):
        assert point_at(grid, int(lateral), float(station)) == pytest.approx((point.x, point.y), abs=1e-6)
    c = grid.coordinates(x, y)[1]
    assert near.offset_m == pytest.approx(c - grid.piece_across_m[near.piece], abs=1e-9)


@st.composite
def small_grids(draw):
    """Blocks of a few laterals on whole metres, boxes cut out of them: many exact ties."""
    wide, high = draw(st.integers(5, 60)), draw(st.integers(5, 60))
    area = shapely.box(0, 0, wide, high)
    ground = area
    for _ in range(draw(st.integers(0, 4))):
        x, y = draw(st.integers(0, 50)), draw(st.integers(0, 50))
        ground = ground.difference(
            shapely.box(x, y, x + draw(st.integers(1, 30)), y + draw(st.integers(1, 30)))
        )
    return lay_laterals(
        area,
        ground,
        heading_deg=draw(st.sampled_from([0, 90, 37.5])),
        number_from_deg=135,
        header_deg=draw(st.sampled_from([60, 240])),
        spacing_m=draw(st.sampled_from([0.5, 2, 3])),
        headland_m=draw(st.sampled_from([0, 2])),
    )


places = st.lists(st.tuples(st.integers(-80, 140), st.integers(-80, 140)), min_size=1, max_size=30)


@given(grid=small_grids(), xy=places)
def test_small_blocks_full_of_ties_equal_brute_force(grid, xy) -> None:
    x, y = np.array(xy, float).T
    if len(grid.piece_lateral) == 0:
        assert nearest_pieces(grid, x, y).lateral.tolist() == [0] * len(x)
        return
    near, _ = assert_equals_brute_force(grid, x, y)
    # No lower-numbered piece is as near.
    distance = shapely.distance(shapely.points(x, y)[:, None], lateral_lines(grid)[None, :])
    lowest = np.argmax(distance <= distance.min(axis=1)[:, None] + 1e-10, axis=1)
    assert near.piece.tolist() == lowest.tolist()


@given(grid=small_grids(), xy=places)
def test_one_place_at_a_time_gives_the_same_answers(grid, xy) -> None:
    x, y = np.array(xy, float).T
    together = nearest_pieces(grid, x, y)
    alone = [nearest_pieces(grid, each_x, each_y) for each_x, each_y in zip(x, y, strict=True)]
    assert together.piece.tolist() == [int(one.piece[0]) for one in alone]
    np.testing.assert_array_equal(together.station_m, [one.station_m[0] for one in alone])


@given(grid=small_grids(), xy=places, spacing=st.sampled_from([0.3, 0.5, 1.7]))
def test_the_nearest_emitter_of_the_piece(grid, xy, spacing) -> None:
    x, y = np.array(xy, float).T
    near = nearest_pieces(grid, x, y)
    lowest, highest = emitters_in_pieces(grid, spacing)
    for emitter, piece, station in zip(
        emitters_at(grid, near, spacing), near.piece, near.station_m, strict=True
    ):
        there = range(lowest[piece], highest[piece] + 1) if piece >= 0 else range(0)
        if len(there) == 0:
            assert emitter == 0
            continue
        off = [abs((n - 0.5) * spacing - station) for n in there]
        assert emitter in there
        assert off[there.index(emitter)] == pytest.approx(min(off), abs=1e-5)

"""Laterals along a curve, by hand: numbering, stations, pieces, arcs, corners, and what is refused."""

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from ringrow.coverage.chances import lateral_chances
from ringrow.coverage.drip_layout import block_lateral_count, lay_out_drip
from ringrow.coverage.locate_drip import drip_place_at, drip_places
from ringrow.equipment.drip import DripBlock, Tape, Zone
from ringrow.errors import DomainError, PlaceError
from ringrow.geometry.curved_laterals import curved_count, lay_curved_laterals
from ringrow.geometry.laterals import (
    emitters_in_pieces,
    lateral_lengths_m,
    lateral_lines,
    lateral_strips,
    lay_laterals,
    nearest_pieces,
    point_at,
)
from ringrow.geometry.parallel_curves import CURVE_ERROR_M, offset_side
from ringrow.geometry.strips import strips_union


def arc(radius_m: float, start_deg: float, stop_deg: float, count: int = 121) -> np.ndarray:
    """Points on a circle about the origin, clockwise from north."""
    turn = np.radians(np.linspace(start_deg, stop_deg, count))
    return radius_m * np.column_stack([np.sin(turn), np.cos(turn)])


BLOCK = shapely.Polygon([(-100, -80), (310, -60), (300, 150), (90, 190), (-90, 170)])
TAKEN = shapely.union_all([shapely.box(40, 20, 90, 70), shapely.Point(200, 60).buffer(35)])


def both_ways(heading_deg: float, number_from_deg: float, **more):
    """The same straight laterals twice: as a straight block, and along a 'curve' of five points."""
    ground = BLOCK.difference(TAKEN)
    u = np.array([np.sin(np.radians(heading_deg)), np.cos(np.radians(heading_deg))])
    middle = np.array([70.0, 33.0])
    guide = [tuple(middle + u * s) for s in (-90, -30, 0.5, 60, 75)]
    header = {"header_deg": heading_deg + 180, "number_from_deg": number_from_deg, **more}
    straight = lay_laterals(BLOCK, ground, heading_deg=heading_deg, line_point_m=tuple(middle), **header)
    curved = lay_curved_laterals(BLOCK, ground, guide_m=guide, **header)
    return straight, curved, ground


@pytest.mark.parametrize(
    ("heading", "number_from", "more"),
    [
        (90, 0, {"spacing_m": 3}),
        (90, 180, {"spacing_m": 3, "headland_m": 4}),
        (37.5, 300, {"spacing_m": 7.7, "first_lateral_m": 2}),
        (211, 120, {"spacing_m": 11, "first_lateral_m": 0, "headland_m": 9}),
    ],
)
def test_a_curve_that_is_straight_gives_the_answers_of_the_straight_block(heading, number_from, more) -> None:
    """Everything to a millionth of a metre: laterals, pieces, stations, places, chances, ground."""
    straight, curved, ground = both_ways(heading, number_from, **more)
    assert curved.count == straight.count
    assert curved.first_m == pytest.approx(straight.first_m, abs=1e-6)
    assert curved.piece_lateral.tolist() == straight.piece_lateral.tolist()
    assert curved.piece_letter.tolist() == straight.piece_letter.tolist()
    assert curved.pieces_per_lateral.max() > 1
    row = straight.piece_lateral - 1
    for name in ("piece_start_m", "piece_stop_m"):
        one = getattr(straight, name) - straight.station_zero_m[row]
        assert getattr(curved, name) - curved.station_zero_m[row] == pytest.approx(one, abs=1e-6)
    assert lateral_lengths_m(curved) == pytest.approx(lateral_lengths_m(straight), abs=2e-6)
    for lines in zip(lateral_lines(straight), lateral_lines(curved), strict=True):
        assert shapely.hausdorff_distance(*lines) < 1e-6
    for shapes in zip(lateral_strips(straight), lateral_strips(curved), strict=True):
        assert shapely.hausdorff_distance(*shapes) < 1e-6
    assert strips_union(curved, ground).area == pytest.approx(strips_union(straight, ground).area, rel=1e-7)

    rng = np.random.default_rng(4)
    x, y = rng.uniform(-400, 600, 4000), rng.uniform(-400, 500, 4000)
    one, two = nearest_pieces(straight, x, y), nearest_pieces(curved, x, y)
    assert (one.piece == two.piece).mean() > 0.999  # but for ties
    same = one.piece == two.piece
    assert one.distance_m == pytest.approx(two.distance_m, abs=1e-6)
    assert one.offset_m[same] == pytest.approx(two.offset_m[same], abs=1e-6)
    assert one.station_m[same] == pytest.approx(two.station_m[same], abs=1e-6)
    for lateral, station in zip(one.lateral[:50], one.station_m[:50], strict=True):
        assert point_at(curved, int(lateral), float(station)) == pytest.approx(
            point_at(straight, int(lateral), float(station)), abs=1e-6
        )
    near = slice(0, 200)
    one, two = (
        lateral_chances(straight, x[near], y[near], 2.0),
        lateral_chances(curved, x[near], y[near], 2.0),
    )
    assert one.listed.tolist() == two.listed.tolist()
    assert one.chance == pytest.approx(two.chance, abs=1e-6)
    assert one.elsewhere == pytest.approx(two.elsewhere, abs=1e-6)


def test_an_arc_gives_concentric_arcs() -> None:
    """A guidance line on a circle of 400 m: each lateral on its own circle, inside and outside of it."""
    count = 721
    block = shapely.box(240, -130, 610, 130)
    half = np.radians(90 / (count - 1) / 2)
    grid = lay_curved_laterals(
        block, block, guide_m=arc(400, 45, 135, count), number_from_deg=270, header_deg=0, spacing_m=10
    )
    assert grid.count >= 36
    on_line = round((grid.guide_across_m - grid.first_m) / 10) + 1
    assert grid.first_m + (on_line - 1) * 10 == pytest.approx(grid.guide_across_m, abs=1e-6)
    for lateral, line in zip(grid.piece_lateral, lateral_lines(grid), strict=True):
        off = (lateral - on_line) * 10
        radius = np.hypot(*shapely.get_coordinates(shapely.segmentize(line, 0.3)).T)
        # The line's own chords lie inside its circle by up to their sagitta; curves are drawn to 1 mm.
        assert radius.min() >= 400 * np.cos(half) + off - 1e-9
        assert radius.max() <= 400 + off + CURVE_ERROR_M if off >= 0 else 400 / np.cos(half) + off
        # And their length is the arc's.
        ends = shapely.get_coordinates(line)[[0, -1]]
        swept = np.diff(np.arctan2(ends[:, 0], ends[:, 1]))[0]
        assert shapely.length(line) == pytest.approx((400 + off) * swept, abs=2e-3)
    # Numbered outward from the west, stations clockwise from the north end.
    assert (np.diff(grid.piece_across_m) >= 0).all()
    assert point_at(grid, on_line, 0) == pytest.approx((np.sqrt(400**2 - 130**2), 130), abs=1e-3)


def test_strips_of_an_arc_are_ring_sectors() -> None:
    """Half a spacing each side along the curve: area = spacing x length of tape, and no slit between."""
    block = shapely.Polygon([*arc(500, 60, 120, 601), *arc(300, 120, 60, 601)])
    grid = lay_curved_laterals(
        block, block, guide_m=arc(400, 60, 120, 601), number_from_deg=90, header_deg=0,
        spacing_m=20, first_lateral_m=10,
    )  # fmt: skip
    strips, lengths = lateral_strips(grid), shapely.length(lateral_lines(grid))
    assert grid.count == 10
    assert shapely.area(strips) == pytest.approx(lengths * 20, rel=1e-6)
    wetted = strips_union(grid, block)
    assert wetted.geom_type == "Polygon"
    assert not wetted.interiors
    assert wetted.area == pytest.approx(np.radians(60) / 2 * (500**2 - 300**2), rel=2e-5)


def test_number_from_and_header_settle_the_side_and_the_end() -> None:
    block = shapely.box(300, -100, 460, 100)
    more = {"guide_m": arc(380, 60, 120), "spacing_m": 20, "first_lateral_m": 10}
    first = {}
    for number_from in (90, 270):
        for header in (0, 180):
            for points in (1, -1):
                grid = lay_curved_laterals(
                    block, block, number_from_deg=number_from, header_deg=header,
                    **{**more, "guide_m": more["guide_m"][::points]},
                )  # fmt: skip
                first[number_from, header, points] = point_at(grid, 3, 0)
    for (number_from, header, points), (x, y) in first.items():
        assert (x > 380) == (number_from == 90)
        assert (y > 0) == (header == 0)
        # The direction in which the line was driven makes no difference.
        assert (x, y) == pytest.approx(first[number_from, header, -points], abs=1e-6)


def test_a_drawn_corner_is_round_outside_and_a_corner_inside() -> None:
    corner = [(0, 0), (100, 0), (100, 100)]
    side = offset_side(corner, turn=1, farthest_m=50)
    round_xy = side.curves([50.0]).xy
    assert np.hypot(*(round_xy[1:-1] - (100, 0)).T) == pytest.approx(50, abs=1.01 * CURVE_ERROR_M)
    inside = offset_side(corner, turn=-1, farthest_m=50).curves([50.0, 20.0])
    assert inside.curve.tolist() == [0, 0, 0, 1, 1, 1]
    assert inside.xy.tolist() == [[0, 50], [50, 50], [50, 100], [0, 20], [80, 20], [80, 100]]


def test_curve_runs_on_straight_beyond_its_ends() -> None:
    """The line covers a third of the block; past it laterals follow its end tangents."""
    block = shapely.box(0, 0, 300, 60)
    guide = [(100, 30), (150, 40), (200, 30)]
    grid = lay_curved_laterals(block, block, guide_m=guide, number_from_deg=0, header_deg=270, spacing_m=100)
    (line,) = lateral_lines(grid)
    assert shapely.get_coordinates(line) == pytest.approx(np.array([(0, 10), (150, 40), (300, 10)]), abs=1e-6)
    assert lateral_lengths_m(grid) == pytest.approx([2 * np.hypot(150, 30)], abs=1e-5)


def test_pieces_headlands_and_emitters() -> None:
    block = shapely.box(300, -100, 460, 100)
    pond = shapely.box(370, -20, 390, 20)
    grid = lay_curved_laterals(
        block, block.difference(pond), guide_m=arc(380, 60, 120, 1201), number_from_deg=90, header_deg=0,
        spacing_m=20, headland_m=5,
    )  # fmt: skip
    cut = round((grid.guide_across_m - grid.first_m) / 20) + 1
    first, second = np.flatnonzero(grid.piece_lateral == cut)
    assert grid.piece_letter[[first, second]].tolist() == [0, 1]
    zero = grid.station_zero_m[cut - 1]
    # On the circle of 380 m: from y = 100 to y = -100, 5 m of headland, the pond from 20 to -20.
    angle = np.arcsin(np.array([100, 20, -20, -100]) / 380)
    expected = 380 * (angle[0] - angle) - 5
    stations = np.array([grid.piece_start_m[first], grid.piece_stop_m[first], grid.piece_start_m[second],
                         grid.piece_stop_m[second]]) - zero  # fmt: skip
    assert stations == pytest.approx([0, expected[1], expected[2], expected[3] - 5], abs=5e-3)
    lowest, highest = emitters_in_pieces(grid, 0.6)
    assert lowest[second] == np.ceil(expected[2] / 0.6 + 0.5)
    assert highest[first] == np.floor(expected[1] / 0.6 + 0.5)
    # Half way along a gap the station still has a place; past the end it has none.
    x, y = point_at(grid, cut, float((expected[1] + expected[2]) / 2))
    assert (x, y) == pytest.approx((380, 0), abs=2e-3)
    with pytest.raises(PlaceError, match=rf"station on lateral {cut}: found 400.00 m .* allowed: 0 to "):
        point_at(grid, cut, 400)


def test_a_guide_beside_the_block_and_one_lateral_on_it() -> None:
    """The line need not run through the block; the spacing counts from it all the same."""
    block = shapely.box(0, 0, 100, 20)
    guide = [(-50, 33), (50, 33), (150, 33)]
    grid = lay_curved_laterals(block, block, guide_m=guide, number_from_deg=180, header_deg=90, spacing_m=6)
    # From the line at 33: 27, 21 are outside; 15, 9, 3 inside; number 1 is the southernmost.
    assert grid.count == 3
    assert [point_at(grid, k, 0)[1] for k in (1, 2, 3)] == pytest.approx([3, 9, 15], abs=1e-6)
    assert point_at(grid, 1, 0)[0] == pytest.approx(100, abs=1e-6)
    assert curved_count(block, guide_m=guide, number_from_deg=180, spacing_m=6) == 3


def test_a_bend_tighter_than_the_block_is_refused_with_radius_and_distance() -> None:
    block = shapely.box(-100, -150, 260, 150)
    with pytest.raises(
        DomainError, match=r"bend with a radius of 200 m \(656 ft\) and laterals 20\d m .* would fold up"
    ):
        lay_curved_laterals(
            block, block, guide_m=arc(200, 45, 135), number_from_deg=90, header_deg=0, spacing_m=5
        )
    # The same block out of reach of the bend's centre is laid.
    outer = shapely.box(30, -150, 260, 150)
    grid = lay_curved_laterals(
        outer, outer, guide_m=arc(200, 45, 135), number_from_deg=90, header_deg=0, spacing_m=5
    )
    assert grid.count > 40


@pytest.mark.parametrize(
    ("guide", "message"),
    [
        ([(0, 0), (0, 0)], "one place only"),
        ([(0, 0), (100, 0), (50, 50), (50, -50)], "crosses itself"),
        ([(0, 0), (100, 0), (100, 50), (-50, 40)], "crosses itself, or would if it ran on straight"),
    ],
)
def test_lines_that_cannot_be_followed(guide, message) -> None:
    block = shapely.box(0, -10, 100, 10)
    with pytest.raises(DomainError, match=message):
        lay_curved_laterals(block, block, guide_m=guide, number_from_deg=0, header_deg=90, spacing_m=5)


def test_a_line_that_comes_back_beside_itself_is_refused() -> None:
    """A horseshoe of 60 m: laterals 35 m inside it would cross those from the other arm."""
    guide = [(-300, 0), (0, 0), (40, 150), (70, 150), (110, 0), (400, 0)]
    block = shapely.box(-50, -50, 160, 149)
    with pytest.raises(DomainError, match=r"comes back to within \d+ m|would fold up"):
        lay_curved_laterals(block, block, guide_m=guide, number_from_deg=0, header_deg=270, spacing_m=5)


@pytest.mark.parametrize(
    ("more", "message"),
    [
        ({"spacing_m": 0}, "spacing: found 0 m"),
        ({"spacing_m": 0.0001}, r"20,000; look at the unit"),
        ({"first_lateral_m": -1}, "first lateral: found -1 m"),
        ({"headland_m": -1}, "headland: found -1 m"),
    ],
)
def test_lengths_that_cannot_be(more, message) -> None:
    block = shapely.box(0, 0, 100, 20)
    with pytest.raises(DomainError, match=message):
        lay_curved_laterals(
            block, block, guide_m=[(0, 0), (50, 5), (100, 0)], number_from_deg=0, header_deg=90,
            **{"spacing_m": 5, **more},
        )  # fmt: skip


def test_empty_area_and_ground() -> None:
    guide = [(0, 0), (50, 5), (100, 0)]
    more = {"guide_m": guide, "number_from_deg": 0, "header_deg": 90, "spacing_m": 5}
    nothing = lay_curved_laterals(shapely.Polygon(), shapely.Polygon(), **more)
    assert nothing.count == 0
    assert len(lateral_lines(nothing)) == 0
    block = shapely.box(0, 0, 100, 20)
    dry = lay_curved_laterals(block, shapely.Polygon(), **more)
    assert dry.count > 0
    assert len(dry.piece_lateral) == 0
    assert strips_union(dry, block).is_empty
    assert len(lateral_strips(dry)) == 0
    assert nearest_pieces(dry, [1.0], [2.0]).lateral.tolist() == [0]


def block_along(guide, area=BLOCK, **more) -> DripBlock:
    return DripBlock(
        name="Hill", area=area, heading_deg=90, spacing_m=6, number_from_deg=0, header_deg=270,
        guide_m=tuple(map(tuple, guide)), line_point_m=tuple(guide[0]), **more,
    )  # fmt: skip


class Plain:
    """A field as far as a drip block needs one."""

    exclusions = TAKEN


def test_a_block_along_a_curve_laid_out_and_asked() -> None:
    guide = [(-80, 20), (60, 60), (150, 65), (290, 30)]
    block = block_along(
        guide,
        tape=Tape(emitter_spacing_m=0.6),
        zones=(Zone(name="A", first=1, last=12), Zone(name="B", first=13, last=40)),
    )
    layout = lay_out_drip(Plain(), block, under=shapely.Polygon())
    grid = layout.grid
    assert block_lateral_count(block) == grid.count
    assert layout.wetted.difference(layout.ground).area < 1e-6
    place = drip_place_at(layout, 14, 40.0)
    assert (place.zone, place.lateral, place.station_m) == ("B", 14, pytest.approx(40, abs=1e-6))
    assert place.offset_m == pytest.approx(0, abs=1e-6)
    assert place.emitter in (67, 68)
    # A metre toward higher numbers: south of the line, square to it.
    (x, y), (x2, y2) = point_at(grid, 14, 40.0), point_at(grid, 14, 41.0)
    aside = drip_places(layout, [x + (y2 - y)], [y - (x2 - x)])
    assert aside.offset_m == pytest.approx([1.0], abs=1e-3)
    assert aside.lateral.tolist() == [14]
    assert aside.station_m == pytest.approx([40.0], abs=1e-3)


def test_a_fold_names_the_block() -> None:
    block = DripBlock(
        name="Hill", area=shapely.box(-100, -40, 70, 40), heading_deg=180, spacing_m=6, number_from_deg=90,
        header_deg=0, guide_m=tuple(map(tuple, arc(60, 45, 135))),
    )  # fmt: skip
    with pytest.raises(
        DomainError, match='drip block "Hill": guidance line: found a bend with a radius of 60 m'
    ):
        lay_out_drip(Plain(), block, under=shapely.Polygon())


@given(
    turn=st.lists(st.floats(-0.5, 0.5), min_size=1, max_size=12),
    steps=st.lists(st.floats(3, 40), min_size=13, max_size=13),
    distance=st.floats(0.01, 60),
    side=st.sampled_from([1, -1]),
)
def test_offset_curves_keep_their_distance(turn, steps, distance, side) -> None:
    """Every place on an offset curve is that far from the line, to 1 mm, where the line is not folded."""
    heading = np.cumsum([0.0, *turn])
    each = np.array(steps)[: len(heading), None] * np.column_stack([np.cos(heading), np.sin(heading)])
    line = np.cumsum(each, axis=0)
    line = np.concatenate([line[:1] - (1000.0, 0.0), line])
    line[-1] += 1000.0 * np.array([np.cos(heading[-1]), np.sin(heading[-1])])
    whole = shapely.LineString(line)
    curve = shapely.LineString(offset_side(line, turn=side, farthest_m=60).curves([distance]).xy)
    trial = shapely.get_coordinates(shapely.segmentize(curve, 1.0))[1:-1]
    away = shapely.distance(shapely.points(trial), whole)
    assert away.max() <= distance + 1.01 * CURVE_ERROR_M
    if abs(heading).max() < 1.2:  # no part of it comes back beside another
        assert away.min() >= distance - 1e-6
        library = shapely.offset_curve(whole, -side * distance, quad_segs=64)
        assert shapely.hausdorff_distance(shapely.segmentize(curve, 1.0), library) < 1.0 + 0.02 * distance

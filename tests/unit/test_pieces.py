"""Dry pieces: shapes whose pieces, names and areas can be worked out by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from shapely import MultiPolygon, Polygon

from ringrow.errors import DomainError
from ringrow.geometry.arcs import circle_polygon
from ringrow.geometry.pieces import DryPieces, dry_pieces, field_corners

NECK_M = 15.24
HALF_M = 402.336  # half a quarter section's side: 1,320 ft


def names_of(pieces: DryPieces) -> list[str]:
    return [row.name for row in pieces.rows]


def assert_closes(pieces: DryPieces, dry: shapely.geometry.base.BaseGeometry) -> None:
    assert sum(row.area_m2 for row in pieces.rows) == pytest.approx(dry.area, rel=1e-9)
    shapes = [row.geometry for row in pieces.rows]
    assert shapely.union_all(shapes).symmetric_difference(dry).area <= 1e-9 * dry.area
    for row in pieces.rows:
        assert row.area_m2 == row.geometry.area


def test_four_corners_of_a_quarter_section() -> None:
    """Each corner less its round tip and the two thin ends beside the circle: exact plane geometry."""
    square = shapely.box(-HALF_M, -HALF_M, HALF_M, HALF_M)
    dry = square - circle_polygon(0, 0, HALF_M)
    pieces = dry_pieces(dry, square, neck_m=NECK_M)
    assert names_of(pieces) == ["NE corner", "SE corner", "SW corner", "NW corner", "edge strips"]
    assert_closes(pieces, dry)
    big, small = HALF_M, NECK_M / 2
    corner = big**2 * (1 - math.pi / 4)
    tip = small**2 * (1 - math.pi / 4)
    # Between a line, the big circle on it and the small one that touches both.
    turn = math.acos((big - small) / (big + small))
    thin_end = (big + small) * math.sqrt(big * small) - (big**2 * turn + small**2 * (math.pi - turn)) / 2
    for piece in pieces.pieces:
        # The circle is drawn with chords 0.01 m off at most, along 2 x 150 m of its edge near the ends.
        assert piece.area_m2 == pytest.approx(corner - tip - 2 * thin_end, rel=1e-5)
        # The largest circle in the corner touches both sides and the big circle.
        radius = big * (math.sqrt(2) - 1) / (math.sqrt(2) + 1)
        assert (abs(piece.x_m), abs(piece.y_m)) == pytest.approx((big - radius, big - radius), abs=0.05)


def test_without_a_neck_every_connected_part_is_a_piece() -> None:
    square = shapely.box(-HALF_M, -HALF_M, HALF_M, HALF_M)
    dry = square - circle_polygon(0, 0, HALF_M * 1.001)
    pieces = dry_pieces(dry, square, neck_m=0)
    assert names_of(pieces) == ["NE corner", "SE corner", "SW corner", "NW corner"]
    assert pieces.strips is None
    assert_closes(pieces, dry)
    assert pieces.pieces[0].area_m2 == pytest.approx(max(part.area for part in dry.geoms), rel=1e-9)


DUMBBELL = shapely.union_all(
    [shapely.box(0, 0, 100, 200), shapely.box(100, 95, 200, 105), shapely.box(200, 0, 300, 200)]
)


def test_a_narrow_corridor_parts_two_rooms() -> None:
    pieces = dry_pieces(DUMBBELL, shapely.box(0, 0, 300, 200), neck_m=20)
    assert names_of(pieces) == ["NE+SE corner", "SW+NW corner", "edge strips"]
    # A room is left with its four corners rounded to 10 m, in chords at most 1 mm inside their
    # 63 m of arc; the corridor is all strip.
    for piece in pieces.pieces:
        assert piece.area_m2 == pytest.approx(100 * 200 - 4 * (1 - math.pi / 4) * 10**2, abs=0.063)
    assert_closes(pieces, DUMBBELL)


def test_a_corridor_wider_than_the_neck_joins_them() -> None:
    pieces = dry_pieces(DUMBBELL, shapely.box(0, 0, 300, 200), neck_m=8)
    assert names_of(pieces) == ["NE+SE+SW+NW corner", "edge strips"]
    assert_closes(pieces, DUMBBELL)


def test_ground_reached_by_two_parts_goes_to_the_lower_number() -> None:
    """A wall with a gap of 18 m between two round ends: a disc of 10 m pokes into it from both sides."""
    boundary = shapely.box(-100, 0, 100, 100)
    wall = shapely.buffer(shapely.linestrings([[(0, -9), (0, 36)], [(0, 64), (0, 109)]]), 5, quad_segs=64)
    dry = boundary - shapely.union_all(wall)
    pieces = dry_pieces(dry, boundary, neck_m=20)
    east, west = pieces.pieces
    assert (east.x_m > 0, west.x_m < 0) == (True, True)
    # The disc touches both ends (radius 5, centres 28 m apart) with its centre this far off the wall.
    reach = 10 - math.sqrt(15**2 - 14**2)
    assert reach > 4
    assert east.geometry.bounds[0] == pytest.approx(-reach, abs=0.01)
    assert east.geometry.covers(shapely.box(-reach + 0.1, 49.9, 0, 50.1))
    assert (east.geometry & west.geometry).area == pytest.approx(0, abs=1e-9)
    assert_closes(pieces, dry)


def test_pieces_are_numbered_clockwise_from_north() -> None:
    islands = {"N": (0, 300), "E": (300, 0), "S": (0, -300), "W": (-300, 0)}
    squares = [shapely.box(x - 50, y - 50, x + 50, y + 50) for x, y in islands.values()]
    # Filed in another order, and the first dead north, where rounding could make it the last.
    dry = MultiPolygon([squares[2], squares[1], squares[3], squares[0]])
    pieces = dry_pieces(dry, shapely.box(-1000, -1000, 1000, 1000), neck_m=10)
    assert names_of(pieces) == ["dry 1", "dry 2", "dry 3", "dry 4", "edge strips"]
    assert [piece.corner for piece in pieces.pieces] == [None] * 4
    poles = [(piece.x_m, piece.y_m) for piece in pieces.pieces]
    assert np.array(poles) == pytest.approx(np.array(list(islands.values()), dtype=float), abs=0.05)


def test_an_unnamed_piece_keeps_its_clockwise_number() -> None:
    boundary = shapely.box(0, 0, 1000, 1000)
    dry = MultiPolygon([shapely.box(800, 800, 1000, 1000), shapely.box(400, 100, 500, 200)])
    assert names_of(dry_pieces(dry, boundary, neck_m=10)) == ["NE corner", "dry 2", "edge strips"]


def test_equal_names_are_numbered_by_falling_area() -> None:
    """A ditch to the very corner leaves two dry pieces at it."""
    boundary = shapely.box(0, 0, 1000, 1000)
    upper = Polygon([(600, 700), (999.5, 1000), (600, 1000)])
    lower = Polygon([(500, 600), (1000, 999.5), (1000, 600)])
    pieces = dry_pieces(MultiPolygon([upper, lower]), boundary, neck_m=0.5)
    named = {piece.name: piece.area_m2 for piece in pieces.pieces}
    assert set(named) == {"NE corner 1", "NE corner 2"}
    assert named["NE corner 1"] == pytest.approx(lower.area, rel=1e-3)
    assert named["NE corner 2"] == pytest.approx(upper.area, rel=1e-3)


def test_a_piece_along_the_north_side_reads_clockwise() -> None:
    boundary = shapely.box(0, 0, 800, 800)
    pieces = dry_pieces(shapely.box(0, 700, 800, 800), boundary, neck_m=NECK_M)
    assert names_of(pieces) == ["NW+NE corner", "edge strips"]
    assert pieces.pieces[0].corner == "NW+NE"


@pytest.mark.parametrize("interior_deg", [20.0, 45.0, 90.0, 130.0])
def test_a_corner_is_named_however_sharp(interior_deg: float) -> None:
    """Round growth stops short of a corner by (1/sin(a/2) - 1) x neck/2; the name allows for it."""
    a = math.radians(interior_deg)
    field = Polygon([(0, 0), (600, 0), (600 * math.cos(a), 600 * math.sin(a))])
    pieces = dry_pieces(field, field, neck_m=NECK_M)
    corners = {(corner.x_m, corner.y_m): corner.name for corner in field_corners(field)}
    assert corners[0.0, 0.0] in pieces.pieces[0].corner.split("+")
    gap = (1 / math.sin(a / 2) - 1) * NECK_M / 2
    assert pieces.pieces[0].geometry.distance(shapely.Point(0, 0)) == pytest.approx(gap, abs=0.002)


def test_a_wet_corner_is_nobodys() -> None:
    """The tip of the corner is wetted: dry ground 8 m from a sharp corner does not take it."""
    field = Polygon([(0, 0), (600, 0), (600, 160)])
    dry = field - shapely.box(-1, -1, 60, 60)
    pieces = dry_pieces(dry, field, neck_m=NECK_M)
    assert "W" not in pieces.pieces[0].corner.split("+")
    assert [corner.name for corner in field_corners(field)].count("W") == 1


def test_what_is_narrow_everywhere_is_edge_strips() -> None:
    strip = shapely.box(0, 0, 800, 15)
    pieces = dry_pieces(strip, shapely.box(0, 0, 800, 800), neck_m=NECK_M)
    assert names_of(pieces) == ["edge strips"]
    assert pieces.pieces == ()
    assert pieces.strips is not None
    assert pieces.strips.area_m2 == 15 * 800
    assert shapely.box(0, 0, 800, 15).contains(shapely.Point(pieces.strips.x_m, pieces.strips.y_m))


def test_a_strip_as_wide_as_the_neck_and_a_little_is_a_piece() -> None:
    pieces = dry_pieces(shapely.box(0, 0, 800, NECK_M + 0.1), shapely.box(0, 0, 800, 800), neck_m=NECK_M)
    assert names_of(pieces) == ["SE+SW corner", "edge strips"]


def test_no_dry_ground_no_rows() -> None:
    assert dry_pieces(Polygon(), shapely.box(0, 0, 10, 10), neck_m=NECK_M).rows == ()


@pytest.mark.parametrize("neck_m", [-1.0, math.nan, math.inf])
def test_impossible_necks_are_refused(neck_m: float) -> None:
    with pytest.raises(DomainError, match=rf"neck: found {neck_m} m; allowed: 0 m or more"):
        dry_pieces(shapely.box(0, 0, 10, 10), shapely.box(0, 0, 10, 10), neck_m=neck_m)


def corner_names(boundary: shapely.geometry.base.BaseGeometry) -> list[str]:
    return [corner.name for corner in field_corners(boundary)]


def test_corners_do_not_depend_on_where_the_ring_starts() -> None:
    ring = shapely.get_coordinates(shapely.segmentize(shapely.box(0, 0, 800, 600), 100))[:-1]
    expected = field_corners(shapely.box(0, 0, 800, 600))
    for shift in range(len(ring)):
        assert field_corners(Polygon(np.roll(ring, shift, axis=0))) == expected


def test_a_boundary_driven_with_jitter_has_its_four_corners() -> None:
    ring = shapely.get_coordinates(shapely.segmentize(shapely.box(0, 0, 800, 600), 5))[:-1]
    jitter = np.random.default_rng(1).normal(0, 1.0, ring.shape)
    assert corner_names(Polygon(ring + jitter)) == ["NE", "SE", "SW", "NW"]


def test_a_round_field_has_no_corners() -> None:
    circle = circle_polygon(0, 0, HALF_M)
    assert field_corners(circle) == ()
    ring = circle - circle_polygon(0, 0, 300)
    assert names_of(dry_pieces(ring, circle, neck_m=NECK_M))[0] == "dry 1"


def test_a_turn_of_45_degrees_is_a_corner_and_one_of_40_is_none() -> None:
    def regular(sides: int) -> Polygon:
        turn = np.radians(np.arange(sides) * 360 / sides)
        return Polygon(np.column_stack([400 * np.sin(turn), 400 * np.cos(turn)]))

    assert corner_names(regular(8)) == ["N", "NE", "E", "SE", "S", "SW", "W", "NW"]
    assert corner_names(regular(9)) == []


def test_an_inward_corner_counts_too() -> None:
    ell = shapely.box(0, 0, 800, 800) - shapely.box(500, 500, 800, 800)
    assert len(field_corners(ell)) == 6
    (inward,) = [corner for corner in field_corners(ell) if corner.interior_deg > 180]
    assert (inward.x_m, inward.y_m, inward.interior_deg) == pytest.approx((500, 500, 270))


def test_a_piece_names_a_compass_point_once() -> None:
    """The three corners of the notch in the north-east all bear north-east."""
    ell = shapely.box(0, 0, 800, 800) - shapely.box(600, 600, 800, 800)
    north_east = [corner.name for corner in field_corners(ell)]
    assert north_east.count("NE") == 3
    dry = ell & shapely.box(500, 500, 800, 800)
    assert names_of(dry_pieces(dry, ell, neck_m=5)) == ["NE corner", "edge strips"]


def test_both_parts_of_a_boundary_in_two_have_corners() -> None:
    two = MultiPolygon([shapely.box(0, 0, 400, 400), shapely.box(500, 0, 900, 400)])
    assert len(field_corners(two)) == 8
    assert field_corners(Polygon()) == ()

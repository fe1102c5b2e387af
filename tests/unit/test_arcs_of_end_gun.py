"""Where an end gun may run: cases a reader can work out by hand.

The closed formulas are elementary geometry, worked out here.
"""

import math

import numpy as np
import pytest
import shapely
from shapely import MultiPolygon, Point, Polygon, box

from ringrow.errors import GeometryError
from ringrow.geometry.gun_arcs import clear_arcs

SQUARE = box(-1320.0, -1320.0, 1320.0, 1320.0)
STOP = math.degrees(math.acos(1320 / 1416))


def approx(arcs):
    return [pytest.approx(arc, abs=1e-9) for arc in arcs]


def test_square_fence_stops_the_gun_on_each_side():
    """Circle of 1,416 ft against a fence 1,320 ft away: acos(1320/1416) either side of square."""
    expected = [(quarter + STOP, quarter + 90 - STOP) for quarter in (0, 90, 180, 270)]
    assert list(clear_arcs(SQUARE, 0, 0, 1320, 1416)) == approx(expected)


def test_setback_moves_the_fence_in():
    stop = math.degrees(math.acos((1320 - 30) / 1416))
    expected = [(quarter + stop, quarter + 90 - stop) for quarter in (0, 90, 180, 270)]
    assert list(clear_arcs(SQUARE, 0, 0, 1280, 1416, setback_m=30)) == approx(expected)


def test_fence_past_the_gun_leaves_the_whole_circle():
    assert clear_arcs(SQUARE, 0, 0, 1200, 1319) == "full"


def test_touching_the_fence_is_allowed():
    assert clear_arcs(SQUARE, 0, 0, 1200, 1320) == "full"
    assert clear_arcs(SQUARE, 0, 0, 1200, 1290, setback_m=30) == "full"
    assert clear_arcs(SQUARE, 0, 0, 1200, 1320 + 9e-7) == "full"
    assert clear_arcs(SQUARE, 0, 0, 1200, 1320.01) != "full"


def test_fence_within_the_base_everywhere_leaves_nothing():
    assert clear_arcs(Point(0, 0).buffer(50), 0, 0, 60, 80) == ()
    assert clear_arcs(Polygon(), 0, 0, 60, 80) == ()
    assert clear_arcs(MultiPolygon(), 0, 0, 60, 80, setback_m=3) == ()


def test_a_yard_inside_the_ring_blocks_by_its_corners():
    """A yard due east, 10 m to either side: corners (105, +-10) are the ones that stop the ray."""
    ground = box(-500, -500, 500, 500).difference(box(105, -10, 115, 10))
    half = math.degrees(math.atan2(10, 105))
    assert list(clear_arcs(ground, 0, 0, 100, 120)) == approx([(90 + half, 90 - half)])


def test_setback_goes_round_a_corner_as_a_circle():
    """A thin post at (110, 0) with a setback of 5 m: the tangent to its corner's circle."""
    ground = box(-500, -500, 500, 500).difference(Polygon([(110, 0), (111, -0.1), (111, 0.1)]))
    start, stop = clear_arcs(ground, 0, 0, 100, 120, setback_m=5)[0]
    # The nearest post corner is (110, 0); the back corners stand 0.1 m aside, 111 m out.
    far = math.degrees(math.asin(5 / math.hypot(111, 0.1)) + math.atan2(0.1, 111))
    near = math.degrees(math.asin(5 / 110))
    assert (start - 90, 90 - stop) == pytest.approx((max(near, far),) * 2, abs=1e-9)


def test_setback_circle_met_by_the_segments_end():
    """A corner at (130, 0), beyond the gun's 120 m: law of cosines for a setback of 15 m."""
    ground = box(-500, -500, 500, 500).difference(Polygon([(130, 0), (200, -1), (200, 1)]))
    half = math.degrees(math.acos((120**2 + 130**2 - 15**2) / (2 * 120 * 130)))
    assert list(clear_arcs(ground, 0, 0, 100, 120, setback_m=15)) == approx([(90 + half, 90 - half)])


def test_a_yard_within_the_base_is_no_matter():
    ground = SQUARE.difference(box(100, 100, 200, 200))
    assert clear_arcs(ground, 0, 0, 1000, 1100) == "full"
    assert clear_arcs(ground, 0, 0, 1000, 1100, setback_m=30) == "full"


def test_an_edge_along_the_ray():
    """A field from bearing 10 to 100 as a wedge about the pivot point: its sides are rays."""
    wedge = Polygon(
        [(0, 0), *((400 * math.sin(math.radians(a)), 400 * math.cos(math.radians(a))) for a in (10, 55, 100))]
    )
    assert list(clear_arcs(wedge, 0, 0, 100, 120)) == approx([(10, 100)])


def test_an_arc_across_north_is_one_arc():
    ground = SQUARE.difference(box(-1000, -1000, 1000, -990))
    arcs = clear_arcs(ground, 0, 0, 980, 1010)
    assert len(arcs) == 1
    start, stop = arcs[0]
    assert start > 180 > stop


def test_limits_cut_arcs_and_come_back_exactly():
    arcs = clear_arcs(SQUARE, 0, 0, 1320, 1416, limits_deg=(33.3, 300.1), min_arc_deg=0)
    assert arcs[0] == (33.3, pytest.approx(90 - STOP))
    assert arcs[-1] == (pytest.approx(270 + STOP), 300.1)
    assert clear_arcs(SQUARE, 0, 0, 1000, 1100, limits_deg=(350.7, 10.1)) == ((350.7, 10.1),)
    assert clear_arcs(SQUARE, 0, 0, 1320, 1416, limits_deg=(355, 5)) == ()


def test_limits_across_north_keep_turning_order():
    arcs = clear_arcs(SQUARE, 0, 0, 1320, 1416, limits_deg=(300, 60))
    assert list(arcs) == approx([(300, 360 - STOP), (STOP, 60)])


def test_short_arcs_are_dropped_and_gaps_never_closed():
    arcs = clear_arcs(SQUARE, 0, 0, 1320, 1416, min_arc_deg=90 - 2 * STOP)
    assert len(arcs) == 4
    assert clear_arcs(SQUARE, 0, 0, 1320, 1416, min_arc_deg=90 - 2 * STOP + 1e-6) == ()
    # A post 2 cm wide is a gap of 0.01 degrees, and stays one.
    ground = box(-500, -500, 500, 500).difference(box(105, -0.01, 115, 0.01))
    half = math.degrees(math.atan2(0.01, 105))
    assert list(clear_arcs(ground, 0, 0, 100, 120)) == approx([(90 + half, 90 - half)])


def test_two_fields_side_by_side_and_a_pivot_in_neither():
    ground = MultiPolygon([box(100, -30, 200, 30), box(-200, -30, -100, 30)])
    half = math.degrees(math.asin(30 / 150))
    arcs = clear_arcs(ground, 0, 0, 120, 150)
    assert list(arcs) == approx([(90 - half, 90 + half), (270 - half, 270 + half)])


def test_position_ring_order_and_repeated_vertices_do_not_matter():
    here = clear_arcs(SQUARE, 0, 0, 1320, 1416, setback_m=12)
    away = shapely.transform(SQUARE, lambda xy: xy + np.array([2000.0, -1500.0]))
    assert list(clear_arcs(away, 2000, -1500, 1320, 1416, setback_m=12)) == approx(here)
    assert list(clear_arcs(shapely.reverse(SQUARE), 0, 0, 1320, 1416, setback_m=12)) == approx(here)
    corners = shapely.get_coordinates(SQUARE)
    doubled = Polygon(np.repeat(corners, 2, axis=0))
    assert list(clear_arcs(doubled, 0, 0, 1320, 1416, setback_m=12)) == approx(here)
    densified = shapely.segmentize(SQUARE, 7.0)
    assert list(clear_arcs(densified, 0, 0, 1320, 1416, setback_m=12)) == approx(here)


def test_the_ground_given_is_left_as_it_was():
    ground = box(0, 0, 500, 500)
    before = shapely.to_wkb(ground)
    clear_arcs(ground, 250, 250, 240, 260)
    assert shapely.to_wkb(ground) == before


@pytest.mark.parametrize(("inner", "outer"), [(100, 100), (120, 100), (-1, 10), (math.nan, 10)])
def test_radii_must_make_a_ring(inner, outer):
    with pytest.raises(
        GeometryError, match=rf"gun ring: found radii {inner} and {outer} m; allowed: 0 or more"
    ):
        clear_arcs(SQUARE, 0, 0, inner, outer)


def test_setback_may_not_be_negative():
    with pytest.raises(GeometryError, match="setback: found -1 m; allowed: 0 m or more"):
        clear_arcs(SQUARE, 0, 0, 10, 20, setback_m=-1)

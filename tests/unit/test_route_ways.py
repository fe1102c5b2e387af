"""Ways of a crew, worked out by hand: straight round a pond, along edges, rows, roads and wheel tracks."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from ringrow.coverage.field import Field
from ringrow.coverage.layout import lay_out
from ringrow.coverage.route_ways import DRIVE_M_S, WALK_M_S, crop_ways, straight_ways
from ringrow.equipment.pivot import Sector
from ringrow.errors import DomainError
from route_fields import FRAME, circle_spot, drip_field, move_field, pivot_field, row_spot, spot

CM = 0.01


def test_bare_ground_is_crossed_straight_and_driven() -> None:
    ways = straight_ways([drip_field()], spot(-200, -200), [spot(100, 200)])
    lonlat, driven_m, walked_m = ways.line(0, 1)
    assert (driven_m, walked_m) == (pytest.approx(500, abs=CM), 0.0)
    assert len(lonlat) == 2
    assert ways.ways.travel_s[0, 1] == pytest.approx(500 / DRIVE_M_S, abs=0.01)


def test_a_square_pond_is_gone_round_by_its_corners() -> None:
    pond = shapely.box(-30, -40, 30, 40)
    ways = straight_ways([drip_field(exclusions=pond)], spot(-60, 0), [spot(60, 0), spot(-60, 90)])
    # Two hypotenuses of 30 and 40, and the pond's side of 60.
    assert ways.line(0, 1)[1] == pytest.approx(160, abs=0.05)
    assert ways.line(0, 2)[1] == pytest.approx(90, abs=CM)
    assert len(ways.line(0, 1)[0]) == 4


def test_a_stop_in_a_yard_is_driven_to_across_the_yard() -> None:
    yard = shapely.box(-30, -40, 30, 40)
    ways = straight_ways([drip_field(exclusions=yard)], spot(-60, 0), [spot(0, 0)])
    assert ways.line(0, 1)[1] == pytest.approx(60, abs=CM)


def test_rows_are_entered_from_the_nearer_headland() -> None:
    ways = crop_ways(
        [drip_field()], spot(-200, -200), [row_spot(-100, 51), row_spot(100, 51), row_spot(150, 76)]
    )
    # Lateral 51 lies 299 m up the west edge; in from there 100 m.
    assert ways.line(0, 1)[1:] == (pytest.approx(299, abs=CM), pytest.approx(100, abs=CM))
    # Along the same lateral; then out at the east end, 50 m down the edge and in again.
    assert ways.line(1, 2)[1:] == (0.0, pytest.approx(200, abs=CM))
    assert ways.line(2, 3)[1:] == (pytest.approx(50, abs=CM), pytest.approx(150, abs=CM))
    assert ways.ways.travel_s[0, 1] == pytest.approx(299 / DRIVE_M_S + 100 / WALK_M_S, abs=0.02)


def test_a_flag_beside_its_lateral_is_reached_across_half_a_spacing() -> None:
    ways = crop_ways([drip_field()], spot(-200, -200), [row_spot(-100, 51, off=0.8)])
    assert ways.line(0, 1)[2] == pytest.approx(100.8, abs=CM)


def test_a_row_behind_a_pond_is_reached_from_the_other_side_or_round_the_pond() -> None:
    # The pond cuts lateral 51 between x = -100 and 100; the flag stands 10 m west of its east shore.
    pond = shapely.box(-100, 60, 100, 140)
    ways = crop_ways([drip_field(exclusions=pond)], spot(-200, 99), [row_spot(110, 51)])
    _, driven_m, walked_m = ways.line(0, 1)
    # In along the row 100 m, round the pond 39 + 200 + 39 m, on 10 m: 388 m on foot takes longer than
    # the edge, 101 + 400 + 101 m driven, and 90 m in from the east.
    on_foot, round_edge = 388 / WALK_M_S, 602 / DRIVE_M_S + 90 / WALK_M_S
    assert on_foot > round_edge
    assert (driven_m, walked_m) == (pytest.approx(602, abs=CM), pytest.approx(90, abs=CM))


def test_a_tower_is_reached_by_road_and_wheel_track() -> None:
    ways = crop_ways(
        [pivot_field()], spot(0, -420), [circle_spot(200, 0), circle_spot(230, 0), circle_spot(0, 20)]
    )
    quarter = 200 * math.pi / 2
    assert ways.line(0, 1)[1:] == (pytest.approx(220, abs=CM), pytest.approx(quarter, abs=CM))
    # Ground 30 m outside that track: the last steps go along the radius.
    assert ways.line(0, 2)[1:] == (pytest.approx(220, abs=CM), pytest.approx(quarter + 30, abs=CM))
    # Nearer to the pivot point than to any track.
    assert ways.line(0, 3)[1:] == (pytest.approx(420, abs=CM), pytest.approx(20, abs=CM))


BENT_ROAD = ((-420.0, 100.0), (-100.0, 100.0), (-100.0, 0.0), (0.0, 0.0))


@pytest.mark.parametrize(
    "road", [BENT_ROAD, ((-700.0, 100.0), *BENT_ROAD[1:])], ids=["from the edge", "from outside"]
)
def test_a_stated_road_is_driven_as_far_as_it_meets_the_track(road: tuple[tuple[float, float], ...]) -> None:
    ways = crop_ways([pivot_field(road=road)], spot(0, -420), [circle_spot(0, 200), circle_spot(0, 5)])
    # Round the edge, 420 west and 520 north; the road meets the track of 200 m at x = -sqrt(200^2 - 100^2),
    # which is at bearing 300: a sixth of the turn from the stop.
    lonlat, driven_m, walked_m = ways.line(0, 1)
    assert driven_m == pytest.approx(420 + 520 + 420 - math.sqrt(200**2 - 100**2), abs=CM)
    assert walked_m == pytest.approx(200 * math.pi / 3, abs=CM)
    x, y = FRAME.to_xy(*lonlat.T)
    assert np.hypot(x + 420, y - 100).min() < CM
    # To the pivot point along all of the bent road, then on foot.
    assert ways.line(0, 2)[1:] == (pytest.approx(940 + 320 + 100 + 100, abs=CM), pytest.approx(5, abs=CM))


def test_a_stated_road_that_ends_inside_the_field_is_joined_to_the_nearest_edge() -> None:
    ways = crop_ways(
        [pivot_field(road=((-300.0, 0.0), (0.0, 0.0)))], spot(-420, -420), [circle_spot(-100, 0)]
    )
    assert ways.line(0, 1)[1:] == (pytest.approx(420 + 120 + 200, abs=CM), pytest.approx(0, abs=CM))


def test_a_part_circle_is_entered_along_its_side() -> None:
    sector = Sector(start_deg=0, stop_deg=90)
    at = 200 / math.sqrt(2)
    ways = crop_ways([pivot_field(sector=sector)], spot(0, -420), [circle_spot(at, at)])
    # By road to the pivot point, out along the side of the sector, an eighth of a turn along the track.
    walked = 200 + 200 * math.pi / 4
    assert ways.line(0, 1)[1:] == (pytest.approx(420, abs=CM), pytest.approx(walked, abs=0.05))


def test_a_part_circle_is_not_walked_where_its_machine_does_not_walk() -> None:
    sector = Sector(start_deg=10, stop_deg=350)
    near_stop, near_start = math.radians(340), math.radians(20)
    one = circle_spot(300 * math.sin(near_start), 300 * math.cos(near_start))
    other = circle_spot(300 * math.sin(near_stop), 300 * math.cos(near_stop))
    lonlat, _, walked_m = crop_ways([pivot_field(sector=sector)], spot(0, -420), [one, other]).line(1, 2)
    # 40 degrees apart across the gap; what is walked goes down one side and up the other, or all round.
    assert walked_m == pytest.approx(2 * 300 * math.radians(10) + 2 * 300, abs=0.1)
    x, y = FRAME.to_xy(lonlat[:, 0], lonlat[:, 1])
    gap = (np.degrees(np.abs(np.arctan2(x, y))) < 9) & (np.hypot(x, y) > 1)
    assert not gap.any()


def test_a_lateral_move_is_reached_along_its_towers_tracks() -> None:
    reached = {"field": "Move field", "move": "Ditch"}
    stops = [spot(-200, 0, **reached), spot(230, 0, **reached), spot(10, -100, **reached)]
    ways = crop_ways([move_field()], spot(0, -420), stops)
    # Along the edge to the second tower's track on the left, and up it.
    assert ways.line(0, 1)[1:] == (pytest.approx(200, abs=CM), pytest.approx(420, abs=CM))
    # On the right 30 m outside that track; and beside the cart's own path.
    assert ways.line(0, 2)[1:] == (pytest.approx(200, abs=CM), pytest.approx(450, abs=CM))
    assert ways.line(0, 3)[1:] == (pytest.approx(0, abs=CM), pytest.approx(330, abs=CM))


def test_another_field_is_gone_round() -> None:
    wall = Field(name="Wheat", frame=FRAME, boundary=shapely.box(-500, -100, -300, 100))
    ways = crop_ways([drip_field(), lay_out(wall)], spot(-700, 0), [row_spot(-150, 100)])
    # Lateral 100 at y = 1: past a corner of the wheat to the west edge, then 50 m in.
    driven = math.hypot(200, 100) + 200 + math.hypot(100, 99)
    assert ways.line(0, 1)[1] == pytest.approx(driven, abs=0.1)
    assert ways.line(0, 1)[2] == pytest.approx(50, abs=CM)


@pytest.mark.parametrize("speed", [0.0, -1.0, math.inf, math.nan])
def test_speeds_that_cannot_be(speed: float) -> None:
    with pytest.raises(DomainError, match=r"speed of a crew: found .*; allowed: above 0"):
        straight_ways([], spot(0, 0), [spot(1, 0)], drive_m_s=speed)


def test_stops_too_far_apart() -> None:
    with pytest.raises(
        DomainError, match=r"stops .* km apart; allowed: up to 600 km; look for a flag or start"
    ):
        straight_ways([], spot(0, 0), [spot(900_000, 0)])

"""Holes near wheel tracks: whose wheels meet them and where the machine then stands."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely import box

from ringrow.coverage.field import Field
from ringrow.coverage.lateral_move_layout import lay_out_lateral_move
from ringrow.coverage.locate_moves import move_places
from ringrow.coverage.locate_pivots import pivot_place_list, pivot_places
from ringrow.coverage.pivot_layout import bent_track, lay_out_pivot
from ringrow.coverage.wheel_tracks import TrackMeeting, move_meetings, pivot_meetings
from ringrow.equipment.corner_arm import Bend, CornerArm
from ringrow.equipment.kinds import FLAG_KINDS
from ringrow.equipment.lateral_move import LateralMove, Wing
from ringrow.equipment.pivot import Pivot, Sector
from ringrow.frame import Frame
from ringrow.units import FOOT_M

SQUARE = box(-450, -450, 450, 450)
PLAIN = Pivot(name="P1", x_m=10.0, y_m=-20.0, convergence_deg=0.2, spans_m=(60.0,) * 6, panel_zero_deg=90.0)


def meetings(
    pivot: Pivot, x: float, y: float, kind: str = "burrow", sigma_m: float = 0.0
) -> tuple[TrackMeeting, ...]:
    field = Field(name="F", frame=Frame(lon=-101.5, lat=36.75), boundary=SQUARE, pivots=(pivot,))
    layout = lay_out_pivot(field, pivot, SQUARE)
    place = pivot_place_list(layout, pivot_places(layout, [x], [y], 1.0))[0]
    return pivot_meetings(layout, place, FLAG_KINDS[kind], x_m=x, y_m=y, sigma_m=sigma_m)


def at(pivot: Pivot, distance_m: float, azimuth_deg: float) -> tuple[float, float]:
    turn = math.radians(azimuth_deg + pivot.convergence_deg)
    return pivot.x_m + distance_m * math.sin(turn), pivot.y_m + distance_m * math.cos(turn)


def test_wheels_of_tower_3_meet_a_burrow_on_their_track() -> None:
    (met,) = meetings(PLAIN, *at(PLAIN, 180.5, 118.5))
    assert (met.system, met.wheels, met.tower, met.sure) == ("P1", "tower", 3, True)
    assert met.azimuth_deg == pytest.approx(118.5, abs=1e-9)
    assert met.panel_deg == pytest.approx(28.5, abs=1e-9)
    assert met.offset_m == pytest.approx(0.5, abs=1e-9)


@pytest.mark.parametrize(
    ("offset_ft", "sigma_ft", "sure"),
    [(2.99, 0, True), (3.01, 0, None), (-2.99, 0, True), (3.01, 2, False), (3.9, 2, False), (3.93, 2, None)],
)
def test_near_is_three_feet_or_what_the_fix_can_tell(
    offset_ft: float, sigma_ft: float, sure: bool | None
) -> None:
    """1.96 x 2 ft is 3.92 ft."""
    met = meetings(PLAIN, *at(PLAIN, 180.0 + offset_ft * FOOT_M, 10.0), sigma_m=sigma_ft * FOOT_M)
    assert [each.sure for each in met] == ([] if sure is None else [sure])


def test_only_what_a_wheel_can_meet_counts() -> None:
    spot = at(PLAIN, 180.0, 10.0)
    assert meetings(PLAIN, *spot, kind="leak") == ()
    assert len(meetings(PLAIN, *spot, kind="rut")) == 1
    part = replace(PLAIN, sector=Sector(start_deg=20, stop_deg=200))
    assert meetings(part, *spot) == ()
    assert meetings(replace(PLAIN, panel_zero_deg=None), *spot)[0].panel_deg is None


@pytest.mark.parametrize("end", ["start", "stop"])
@pytest.mark.parametrize("tower", [3, 5])
def test_on_the_drawn_track_through_a_bend_the_tower_is_named(end: str, tower: int) -> None:
    pivot = replace(
        PLAIN,
        sector=Sector(start_deg=300, stop_deg=60),
        bends=(Bend(tower=2, at=end, sweep_deg=50), Bend(tower=4, at=end, sweep_deg=40)),
    )
    track = bent_track(pivot, end, pivot.tower_radii_m[tower - 1])
    x, y = track[len(track) // 2]
    (met,) = meetings(pivot, float(x), float(y))
    assert (met.tower, met.sure) == (tower, True)
    assert met.bend is not None
    assert (met.bend.at, met.azimuth_deg) == (end, 300 if end == "start" else 60)
    assert met.offset_m < 0.011


@pytest.mark.parametrize("side", ["trailing", "leading"])
@pytest.mark.parametrize("sector", [None, Sector(start_deg=40, stop_deg=250)])
def test_the_steered_wheels_of_an_arm_are_met_on_their_path(side: str, sector: Sector | None) -> None:
    arm = CornerArm(length_m=80.0, overhang_m=10.0, side=side, fold_deg=90.0, open_deg=165.0)
    pivot = replace(PLAIN, corner_arm=arm, sector=sector)
    field = Field(name="F", frame=Frame(lon=-101.5, lat=36.75), boundary=SQUARE, pivots=(pivot,))
    layout = lay_out_pivot(field, pivot, SQUARE)
    assert layout.corner_arm is not None
    path = layout.corner_arm.wheel_path
    for share in np.linspace(0.05, 0.95, 7):
        point = shapely.line_interpolate_point(path, share, normalized=True)
        met = [each for each in meetings(pivot, point.x, point.y) if each.wheels == "arm"]
        assert len(met) == 1
        assert met[0].tower is None
        # Stand the main pipe at the azimuth it names: the wheels are a hinge's length away.
        hinge = at(pivot, 360.0, met[0].azimuth_deg)
        assert math.hypot(point.x - hinge[0], point.y - hinge[1]) == pytest.approx(80.0, abs=0.05)


def test_no_tower_walks_where_only_the_arm_reaches() -> None:
    arm = CornerArm(length_m=80.0, overhang_m=10.0, side="trailing", fold_deg=90.0, open_deg=165.0)
    pivot = replace(PLAIN, corner_arm=arm, sector=Sector(start_deg=40, stop_deg=250))
    assert [each.wheels for each in meetings(pivot, *at(pivot, 360.4, 39.0), sigma_m=2.0)] == []
    assert [each.tower for each in meetings(pivot, *at(pivot, 360.4, 41.0), sigma_m=2.0)] == [6]


def test_towers_and_cart_of_a_lateral_move() -> None:
    move = LateralMove(
        name="L1", path_m=((0.0, 0.0), (0.0, 400.0)), left=Wing(spans_m=(50.0, 50.0)), right=Wing()
    )
    layout = lay_out_lateral_move(move)

    def met(x: float, y: float, sigma_m: float = 0.0) -> list[tuple]:
        (place,) = move_places(layout, [x], [y])
        return [
            (each.wheels, each.tower, each.side, each.travel_m, each.sure)
            for each in move_meetings(place, FLAG_KINDS["washout"], sigma_m=sigma_m)
        ]

    assert met(-99.5, 120.0) == [("tower", 2, "left", 120.0, True)]
    assert met(-48.0, 120.0) == []
    assert met(-48.0, 120.0, sigma_m=1.5) == [("tower", 1, "left", 120.0, False)]
    assert met(-0.5, 30.0) == [("cart", None, None, 30.0, True)]
    assert met(-100.0, 401.0) == []

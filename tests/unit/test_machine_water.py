"""Pivots and lateral moves: outlets add up, the pipe loses what its reaches lose, blanks say why."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely

from ringrow.coverage.field import Field, LateralMoveLayout, PivotLayout
from ringrow.coverage.machine_water import ChartRow, lateral_move_water, pivot_water
from ringrow.coverage.pivot_layout import lay_out_pivot
from ringrow.equipment.corner_arm import CornerArm
from ringrow.equipment.lateral_move import LateralMove, Wing
from ringrow.equipment.pivot import EndGun, Pivot, Sector
from ringrow.errors import DomainError
from ringrow.frame import Frame
from ringrow.geometry.travel import travel_ground, travel_path
from ringrow.units import FOOT_M, GALLON_L, INCH_M, PSI_KPA
from ringrow.water.constants import KPA_PER_M
from ringrow.water.friction import hazen_williams_loss_m
from ringrow.water.orifice import orifice_flow_lps

GROUND = shapely.box(-900, -900, 900, 900)
PIVOT = Pivot(
    name="P1",
    x_m=0,
    y_m=0,
    spans_m=(60.0,) * 6,
    overhang_m=15,
    throw_m=8,
    outlets_m=tuple(np.arange(3.0, 375, 3.0).tolist()),
    flow_lps=50.0,
    pressure_kpa=250.0,
    pipe_bore_m=0.162,
    top_speed_m_per_h=200.0,
)


def laid(pivot: Pivot = PIVOT, **change) -> PivotLayout:
    pivot = replace(pivot, **change)
    field = Field(name="F1", frame=Frame(lon=-101.5, lat=36.75), boundary=GROUND, pivots=(pivot,))
    return lay_out_pivot(field, pivot, GROUND)


def test_depth_hours_and_a_day_by_hand() -> None:
    water = pivot_water(laid(), timer_pct=50)
    area = math.pi * 383**2
    hours = 2 * math.pi * 360 / 200 / 0.5
    assert water.area_m2 == pytest.approx(area)
    assert water.hours == pytest.approx(hours)
    assert water.depth_mm == pytest.approx(50 * hours * 3600 / area)
    assert water.daily_mm == pytest.approx(50 * 86_400 / area)
    assert water.peak_mm_per_h == pytest.approx(4 / math.pi * 3600 * 2 * 50 / (383 * 16))
    half = pivot_water(laid(sector=Sector(start_deg=0, stop_deg=180)), speed_m_per_h=100)
    assert half.hours == pytest.approx(math.pi * 360 / 100)
    assert half.depth_mm == pytest.approx(50 * half.hours * 3600 / (area / 2))


def test_outlets_share_the_flow_by_ring_and_add_up() -> None:
    water = pivot_water(laid())
    flows = np.array([outlet.design_lps for outlet in water.outlets])
    assert flows.sum() == pytest.approx(50.0)
    assert flows[50] == pytest.approx(50 * (154.5**2 - 151.5**2) / 383**2)
    gun = EndGun(reach_m=29, flow_lps=6.0, arcs="always")
    with_gun = pivot_water(laid(end_gun=gun))
    assert sum(outlet.design_lps for outlet in with_gun.outlets) == pytest.approx(44.0)
    assert with_gun.gun_depth_mm == pytest.approx(
        6 * with_gun.hours * 3600 / (math.pi * (404**2 - 383**2)), rel=1e-6
    )


def test_gun_without_a_flow_waters_its_ring_as_deep_as_the_rest() -> None:
    water = pivot_water(laid(end_gun=EndGun(reach_m=29, arcs="always")))
    assert water.gun_lps == pytest.approx(50 * (404**2 - 383**2) / 404**2)
    assert any("end gun flow not stated" in text for text in water.assumed)
    assert water.why["gun_depth_mm"] == "flow of the end gun not stated"
    inner = sum(outlet.design_lps for outlet in water.outlets) / (math.pi * 383**2)
    assert inner == pytest.approx(water.gun_lps / (math.pi * (404**2 - 383**2)))


def test_gun_on_part_of_the_turn_has_that_part_of_the_hours() -> None:
    arcs = (Sector(start_deg=0, stop_deg=90),)
    part, whole = (
        pivot_water(laid(end_gun=EndGun(reach_m=29, flow_lps=6.0, arcs=a))) for a in (arcs, "always")
    )
    assert part.gun_area_m2 == pytest.approx(whole.gun_area_m2 / 4)
    assert part.gun_depth_mm == pytest.approx(whole.gun_depth_mm)


@pytest.mark.parametrize("gun_lps", [0.0, 6.0])
def test_pipe_loses_what_its_reaches_lose(gun_lps: float) -> None:
    """A thousand reaches, each with the flow still in it, by Hazen-Williams."""
    gun = EndGun(reach_m=29, flow_lps=gun_lps) if gun_lps else None
    water = pivot_water(laid(end_gun=gun))
    at = (np.arange(1000) + 0.5) * 0.375
    left = 50 - (50 - gun_lps) * (at / 383) ** 2
    loss = hazen_williams_loss_m(left, bore_m=0.162, length_m=0.375).cumsum() * KPA_PER_M
    assert water.pipe_loss_kpa == pytest.approx(loss[-1], rel=1e-4)
    assert water.end_kpa == pytest.approx(250 - loss[-1], rel=1e-4)
    for outlet in water.outlets[::20]:
        through = np.interp(outlet.distance_m, at + 0.1875, loss)
        assert outlet.pressure_kpa == pytest.approx(250 - through, rel=1e-3)


def test_bore_passes_the_design_flow_at_the_nozzle() -> None:
    for regulator_kpa, nozzle_kpa in ((None, None), (69.0, 69.0), (500.0, None)):
        outlet = pivot_water(laid(regulator_kpa=regulator_kpa)).outlets[100]
        pressure = outlet.pressure_kpa if nozzle_kpa is None else nozzle_kpa
        assert orifice_flow_lps(outlet.bore_m, pressure, discharge=0.97) == pytest.approx(outlet.design_lps)


def test_open_drop_is_many_shares_at_the_pressure_of_its_place() -> None:
    """N11, derived: at 20 psi 45 to 60 gpm through 3/4 in."""
    outlet = pivot_water(laid(pressure_kpa=20 * PSI_KPA, pipe_bore_m=None)).outlets[-1]
    assert outlet.open_low_lps * 60 / GALLON_L == pytest.approx(45.0, abs=0.1)
    assert outlet.open_high_lps * 60 / GALLON_L == pytest.approx(60.1, abs=0.1)
    assert outlet.open_high_lps > outlet.design_lps
    assert outlet.pressure_kpa is None


def test_chart_wins() -> None:
    chart = [
        ChartRow(outlet="A", distance_m=100.0, nozzle="12", flow_lps=0.4),
        ChartRow(outlet="B", distance_m=200.0, nozzle="24"),
    ]
    water = pivot_water(laid(), chart=chart)
    assert [(o.outlet, o.nozzle, o.distance_m) for o in water.outlets] == [
        ("A", "12", 100.0),
        ("B", "24", 200.0),
    ]
    assert water.outlets[0].design_lps == 0.4
    assert water.outlets[1].design_lps == pytest.approx(50 * (383**2 - 150**2) / 383**2)
    with pytest.raises(DomainError, match="is it the chart of another machine"):
        pivot_water(laid(), chart=[ChartRow(outlet="A", distance_m=500.0, nozzle="")])


@pytest.mark.parametrize(
    ("change", "key", "words"),
    [
        ({"flow_lps": None}, "daily_mm", "flow not stated"),
        ({"flow_lps": None}, "outlet flows", "flow not stated"),
        ({"pressure_kpa": None}, "end_kpa", "pressure at the pivot point not stated"),
        ({"pressure_kpa": None}, "outlet pressures", "pressure at the pivot point not stated"),
        ({"pipe_bore_m": None}, "pipe_loss_kpa", "bore of the machine's pipe not stated"),
        ({"pipe_bore_m": 0.05}, "end_kpa", "lose more than all the pressure"),
        ({"top_speed_m_per_h": None}, "hours", "give --speed"),
        ({"throw_m": 0.0}, "peak_mm_per_h", "throw of the sprinklers not stated"),
        ({"outlets_m": ()}, "outlets", "no sprinkler chart given"),
        ({"end_gun": EndGun(reach_m=5.0)}, "gun_lps", "flow of the end gun not stated"),
        ({"end_gun": EndGun(reach_m=5.0, flow_lps=1.0)}, "gun_depth_mm", "waters no ground"),
    ],
)
def test_blanks_say_why(change: dict, key: str, words: str) -> None:
    water = pivot_water(laid(**change))
    assert words in water.why[key]
    assert getattr(water, key, None) in (None, ())


def test_corner_arm_leaves_the_shares_open() -> None:
    arm = CornerArm(length_m=80, side="trailing", fold_deg=90, open_deg=165)
    bare = replace(
        laid(overhang_m=0.0), pivot=replace(PIVOT, overhang_m=0.0, corner_arm=arm, outlets_m=(9.0,))
    )
    water = pivot_water(bare)
    assert "changes with its angle" in water.why["gun_lps"]
    assert water.outlets[0].design_lps is None
    assert water.daily_mm > 0


def test_settings_out_of_range_are_refused() -> None:
    with pytest.raises(DomainError, match="found timer 120 %"):
        pivot_water(laid(top_speed_m_per_h=None), timer_pct=120)
    with pytest.raises(DomainError, match="speed_m_per_h 0"):
        pivot_water(laid(), speed_m_per_h=0.0)
    with pytest.raises(DomainError, match="takes less than the machine"):
        pivot_water(laid(pipe_bore_m=None, end_gun=EndGun(reach_m=29, flow_lps=60.0)))


def test_what_the_farm_did_not_say_is_passed_on() -> None:
    told = pivot_water(laid(assumed=("throw taken as 0 ft", "panel zero taken as 0 deg"))).assumed
    assert told[0] == "throw taken as 0 ft"
    assert not any("panel zero" in text for text in told)


def test_lateral_move_by_hand() -> None:
    wing = Wing(spans_m=(50.0, 50.0), throw_m=5.0)
    move = LateralMove(name="L1", path_m=((0, 0), (400, 0)), left=wing, right=wing, flow_lps=40.0)
    path = travel_path(move.path_m)
    ground = travel_ground(path, left_m=wing.reach_m, right_m=wing.reach_m)
    water = lateral_move_water(LateralMoveLayout(move=move, path=path, wetted=ground))
    assert water.area_m2 == pytest.approx(400 * 210)
    assert water.daily_mm == pytest.approx(40 * 86_400 / (400 * 210))
    assert "same per length" in water.why["outlets"]
    none = lateral_move_water(LateralMoveLayout(move=replace(move, flow_lps=None), path=path, wetted=ground))
    assert (none.daily_mm, none.why["daily_mm"]) == (None, "flow not stated")


def test_a_full_size_machine_in_its_own_units() -> None:
    """A23 and D09 in one: 6 gpm per acre is 0.318 in a day, whatever the radius."""
    radius = 1300 * FOOT_M
    acres = math.pi * radius**2 / 4046.8564224
    pivot = Pivot(name="P", x_m=0, y_m=0, spans_m=(radius,), flow_lps=6 * acres * GALLON_L / 60)
    water = pivot_water(laid(pivot))
    assert water.daily_mm / 25.4 == pytest.approx(0.318, abs=0.0005)
    assert INCH_M * 1000 == 25.4

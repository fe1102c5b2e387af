"""More water numbers against printed figures: tape, pivots, diagnosis, test conditions.

Sources stand beside each row. TOFG = UC Santa Cruz, Teaching Organic Farming and Gardening, unit
1.5; PSU = Penn State drip tape table; UCB = UC Cooperative Extension, application rates, 2017;
CH153 = UF/IFAS Circular 1495; MSU = Mississippi State form F804; NEB = Nebraska G888, table I;
VIC = Victorian Resources Online 4.2.2.1; HI = Hydraulic Institute data library; KB = Keller and
Bliesner 1990 (from memory); KS = Kansas State SDI monitoring figure (from memory). Rows marked
derived are worked out from exact units or algebra and are not published numbers.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from ringrow.coverage.catch_cans import Can, catch_result
from ringrow.coverage.zone_reading import WAIT_H
from ringrow.errors import DomainError
from ringrow.handoff.catch_words import LEAST_DEPTH_MM, LEAST_MOUTH_M
from ringrow.units import ACRE_M2, FOOT_M, GALLON_L, INCH_M, PSI_KPA
from ringrow.water.constants import KPA_PER_M
from ringrow.water.diagnosis import diagnose, direction, flow_limit_pct
from ringrow.water.emitters import (
    application_rate_mm_per_h,
    emitter_flow_lps,
    hours_for_depth,
    label_emitter_lps,
)
from ringrow.water.friction import hazen_williams_loss_m, pivot_lateral_factor
from ringrow.water.orifice import open_drop, orifice_flow_lps
from ringrow.water.pivot_water import (
    daily_depth_mm,
    gun_share_lps,
    peak_rate_mm_per_h,
    pipe_losses_kpa,
)
from ringrow.water.uniformity import low_quarter_du_pct
from ringrow.water.volumes import pipe_volume_l

GPM_LPS = GALLON_L / 60
GPH_LPS = GALLON_L / 3600


@pytest.mark.parametrize(("label_gpm", "spacing_in", "gph"), [(0.45, 12, 0.27), (0.67, 8, 0.268)])
def test_zf7_zf9_emitters_behind_a_label(label_gpm: float, spacing_in: float, gph: float) -> None:
    """PSU: 0.45 gpm is 27 gph per 100 ft (seen), so 0.27 at 12 in; ZF9 0.268 at 8 in (derived)."""
    emitter = label_emitter_lps(label_gpm * GPM_LPS / (100 * FOOT_M), spacing_in * INCH_M)
    assert emitter / GPH_LPS == pytest.approx(gph, abs=0.0005)


def test_zf16_four_tapes() -> None:
    """TOFG prints 50.1 gph from 133 emitters; 8 in apart there are 150, and the label's own 44.4 gph."""
    emitter = label_emitter_lps(0.74 * GPM_LPS / (100 * FOOT_M), 8 * INCH_M)
    assert 150 * emitter / GPH_LPS == pytest.approx(44.4, abs=0.05)


def test_zf11_zf12_hours_for_an_inch_on_an_acre() -> None:
    """TOFG: 163.5 gpm (9,810 gph, seen) puts an inch on an acre in 2.768 h, printed cut to 2.76."""
    rate = application_rate_mm_per_h(163.5 * GPM_LPS, ACRE_M2)
    assert math.floor(hours_for_depth(rate) * 100) / 100 == 2.76
    assert pytest.approx(9810, abs=0.5) == 163.5 * GPM_LPS * 3600 / GALLON_L


def test_zf15_gallons_for_an_inch_on_100_square_feet() -> None:
    """TOFG prints 62.31 from 8.33 x 7.48 (seen); exact 62.34."""
    assert pytest.approx(62.34, abs=0.005) == 100 * FOOT_M**2 * 25.4 / GALLON_L
    assert pytest.approx(62.31, rel=0.001) == 100 * FOOT_M**2 * 25.4 / GALLON_L


def test_zf18_zf19_constants_of_rate() -> None:
    """Derived: 231 q/(Se Sl), gph and inches; 96.25 gpm/ft2."""
    per_emitter = application_rate_mm_per_h(1 * GPH_LPS, 1 * INCH_M * INCH_M) / 25.4
    assert per_emitter == pytest.approx(231, abs=0.5)
    assert application_rate_mm_per_h(1 * GPM_LPS, FOOT_M**2) / 25.4 == pytest.approx(96.25, abs=0.005)


def test_zf20_depth_in_a_part_hour() -> None:
    """UCB: 0.27 in/h for 45 min is 0.2 in (seen)."""
    assert hours_for_depth(0.27 * 25.4, depth_mm=0.2025 * 25.4) == pytest.approx(0.75)


def test_zf26_flow_of_an_acre() -> None:
    """Derived: 8,712 ft of tape an acre at 0.45 gpm per 100 ft is 39.2 gpm."""
    assert pytest.approx(39.2, abs=0.05) == 8712 * FOOT_M * (0.45 / (100 * FOOT_M))


def test_hy1_hazen_williams_constant() -> None:
    """Manual of the general library wntr: 10.667 in SI (seen)."""
    loss = hazen_williams_loss_m(1000.0, bore_m=1.0, length_m=1.0, roughness=1.0)
    assert float(loss) == pytest.approx(10.667, abs=0.0005)


def test_n04_orifice_constant() -> None:
    """HI: q gpm = 29.84 Cd d2 sqrt(P), d inches, P psi (29.82 and 29.83 are printed elsewhere)."""
    assert orifice_flow_lps(INCH_M, PSI_KPA, discharge=1.0) / GPM_LPS == pytest.approx(29.84, abs=0.02)


def test_n08_n10_n11_an_open_drop_stays_under_the_theoretical_flow() -> None:
    """HI prints 53.0 and 92.0 gpm for a perfect 3/4 in opening (seen); N11 derived: 45 to 60 at 20 psi."""
    for psi, most in ((10, 53.0), (30, 92.0)):
        assert open_drop(psi * PSI_KPA).high_lps / GPM_LPS == pytest.approx(0.8 * most, rel=0.003)
    drop = open_drop(20 * PSI_KPA)
    assert drop.low_lps / GPM_LPS == pytest.approx(45.0, abs=0.1)
    assert drop.high_lps / GPM_LPS == pytest.approx(60.1, abs=0.1)


def test_k04_worn_bore() -> None:
    """Derived: 5 % more bore passes 10.25 % more."""
    more = orifice_flow_lps(1.05 * INCH_M, PSI_KPA) / orifice_flow_lps(INCH_M, PSI_KPA)
    assert 100 * (more - 1) == pytest.approx(10.25, abs=0.005)


def test_p03_average_rate_in_the_strip() -> None:
    """Derived: 96.25 x 2Q/(R w) with 800 gpm, 1,300 ft, 50 ft wide is 2.37 in/h; the peak is 4/pi of it."""
    peak = peak_rate_mm_per_h(800 * GPM_LPS, 1300 * FOOT_M, 25 * FOOT_M)
    assert peak * math.pi / 4 / 25.4 == pytest.approx(2.37, abs=0.005)


def test_f05_f06_pipe_of_a_pivot() -> None:
    """F06 (derived): 17.5 psi at full flow; F01 0.548 and, with a gun's ring to 1,380 ft, F05 0.582."""
    pipe = {"flow_lps": 800 * GPM_LPS, "bore_m": 6.407 * INCH_M, "length_m": 1300 * FOOT_M}
    plain = pipe_losses_kpa([1300 * FOOT_M], **pipe, base_radius_m=1300 * FOOT_M)
    whole = hazen_williams_loss_m(pipe["flow_lps"], bore_m=pipe["bore_m"], length_m=pipe["length_m"])
    whole_kpa = float(whole) * KPA_PER_M
    assert whole_kpa / PSI_KPA == pytest.approx(17.5, abs=0.05)
    assert float(plain[0]) / whole_kpa == pytest.approx(0.548, abs=0.0005)
    gun = gun_share_lps(800 * GPM_LPS, base_radius_m=1300.0, gun_radius_m=1380.0)
    with_gun = pipe_losses_kpa([1300 * FOOT_M], **pipe, gun_lps=gun, base_radius_m=1300 * FOOT_M)
    assert float(with_gun[0]) / whole_kpa == pytest.approx(0.582, abs=0.0005)
    factor = pivot_lateral_factor(length_m=1300, wetted_radius_m=1380)
    assert float(with_gun[0]) == pytest.approx(factor * whole_kpa, rel=1e-9)


@pytest.mark.parametrize(("psi", "printed_ft"), [(35, 15), (85, 37)])
def test_f12_f14_rise_that_takes_a_tenth_of_the_flow(psi: float, printed_ft: float) -> None:
    """NEB prints 15 and 37 ft (seen)."""
    rise_kpa = printed_ft * FOOT_M * KPA_PER_M
    flow = emitter_flow_lps(psi * PSI_KPA - rise_kpa, flow_lps=1.0, at_pressure_kpa=psi * PSI_KPA)
    half_foot = 0.5 * FOOT_M * KPA_PER_M / (psi * PSI_KPA) / 2 / 0.9
    assert float(flow) == pytest.approx(0.9, abs=half_foot)


def test_f10_feet_of_head_in_a_psi() -> None:
    """MSU: 2.31 ft (seen)."""
    assert pytest.approx(2.31, abs=0.005) == PSI_KPA / KPA_PER_M / FOOT_M


def test_d01_d04_d05_units_of_capacity() -> None:
    """CH153: 27,154 gal in an acre-inch (seen); 452.57 gpm-hours (derived); Utah: 449 gpm in a ft3/s."""
    acre_inch_l = ACRE_M2 * 25.4
    assert acre_inch_l / GALLON_L == pytest.approx(27_154, abs=0.5)
    assert acre_inch_l / 3600 / GPM_LPS == pytest.approx(452.57, abs=0.005)
    assert pytest.approx(449, abs=0.5) == FOOT_M**3 * 1000 / GPM_LPS


def test_d13_d14_capacity_of_a_machine() -> None:
    """VIC: 24 mm with 12 mm/day takes 48 h; usual range 8 to 20 mm/day, worked out 5.9 to 14.8 gpm/ac."""
    assert hours_for_depth(12 / 24, depth_mm=24) == pytest.approx(48)
    assert daily_depth_mm(5.94 * GPM_LPS, ACRE_M2) == pytest.approx(8, abs=0.02)
    assert daily_depth_mm(14.84 * GPM_LPS, ACRE_M2) == pytest.approx(20, abs=0.02)


def test_d27_d28_system_flow_constants() -> None:
    """KB ch. 14, from memory: Q = R2 d/(30.6 T) and, metric, R2 d/(1,146 T)."""
    circle = math.pi * (1300 * FOOT_M) ** 2
    flow = 1300**2 * 0.3 / (30.64 * 22)
    assert daily_depth_mm(flow * GPM_LPS, circle, hours_per_day=22) / 25.4 == pytest.approx(0.3, rel=0.001)
    metric = 400**2 * 11.6 / (1146 * 22)
    assert daily_depth_mm(metric, math.pi * 400**2, hours_per_day=22) == pytest.approx(11.6, rel=0.0005)


@pytest.mark.parametrize(
    ("signs", "change", "finding"),
    [
        ((1, -1, -1), "sudden", "break"),  # DG4
        ((-1, 1, 1), "sudden", "sudden clogging"),  # DG5
        ((-1, -1, -1), "sudden", "supply"),  # DG6
        ((-1, 1, 1), "gradual", "slow clogging"),  # DG7
        ((1, None, None), None, "high flow"),  # DG1, CH153 (seen)
        ((1, 1, 0), None, "high flow"),
        ((1, 0, -1), None, "break"),
        ((-1, 0, 1), None, "clogging"),
        ((-1, 0, 0), None, "unclear"),
        ((-1, None, 1), None, "unclear"),
        ((0, 0, 0), None, "nothing seen"),
        ((0, None, None), None, "nothing seen"),
        ((0, 0, -1), None, "unclear"),
    ],
)
def test_dg_rows_of_diagnosis(signs: tuple, change: str | None, finding: str) -> None:
    """DG4 to DG7 KS, from memory; DG1 CH153, seen; the rest follows our own rule of what is left open."""
    assert diagnose(*signs, change=change) == finding


def test_dg8_no_alarm_percentage_of_our_own() -> None:
    """No threshold is published: without the user's limit or the meter's error there is none."""
    assert flow_limit_pct(None, meter_error_pct=None) is None
    assert flow_limit_pct(5.0, meter_error_pct=2.0) == 5.0
    assert flow_limit_pct(1.0, meter_error_pct=2.0) == 2.0
    with pytest.raises(DomainError, match="a limit above 0"):
        flow_limit_pct(0.0, meter_error_pct=None)
    with pytest.raises(DomainError, match="found a limit of -1"):
        direction(1, 1, limit=-1)


def test_wait_is_common_practice() -> None:
    """DG10: no published surfacing time was found; twelve hours is common practice, no source."""
    assert WAIT_H == 12.0


def test_u15_u16_conditions_of_a_test() -> None:
    """Stamper 2016 (seen): mouth at least 2.5 in, mean depth at least 0.60 in."""
    assert pytest.approx(2.5 * INCH_M) == LEAST_MOUTH_M
    assert pytest.approx(0.60 * 25.4) == LEAST_DEPTH_MM


def test_u07_even_scatter_links_cu_and_du() -> None:
    """NRCS pairs CU 85 with DU 76 (from memory), for normal scatter: 100 - 1.59 (100 - CU)."""
    from scipy.stats import norm

    depth = 10 + 10 * 0.15 / 0.79788 * norm.ppf((np.arange(4000) + 0.5) / 4000)
    cans = [Can(name=str(n), distance_m=None, depth_mm=float(d)) for n, d in enumerate(depth)]
    result = catch_result(cans)
    assert result.cu_pct == pytest.approx(85, abs=0.1)
    assert result.du_pct == pytest.approx(76, abs=0.5)


def test_u10_one_plugged_outlet() -> None:
    """Michigan State letter (seen): zero at 250 ft with low neighbours at 240 and 260 ft."""
    caught = {220: 0.6, 230: 0.62, 240: 0.3, 250: 0.0, 260: 0.3, 270: 0.6, 280: 0.61}
    cans = [Can(name=f"{ft}", distance_m=ft * FOOT_M, depth_mm=d * 25.4) for ft, d in caught.items()]
    assert [can.name for can in catch_result(cans).dry] == ["250"]


def test_un10_a_constructed_row_of_catches() -> None:
    """Derived: sixteen catches with mean 30.0; the low quarter 26 27 28 29 over the mean."""
    caught = [31, 30, 32, 29, 31, 28, 30, 33, 27, 31, 30, 29, 32, 26, 30, 31]
    assert np.mean(caught) == pytest.approx(30.0, abs=0.05)
    assert low_quarter_du_pct(caught) == pytest.approx(100 * (26 + 27 + 28 + 29) / 4 / 30.0)


def test_vo8_water_in_a_zone() -> None:
    """Derived: 100 quarter-mile laterals of 7/8 in hold 4,123 gal."""
    assert pipe_volume_l(0.875 * INCH_M, 132_000 * FOOT_M) / GALLON_L == pytest.approx(4123, abs=0.5)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: label_emitter_lps(0.0, 1.0), "tape label"),
        (lambda: hours_for_depth(0.0), "rate above 0"),
        (lambda: gun_share_lps(1.0, base_radius_m=2.0, gun_radius_m=1.0), "no less than it"),
        (
            lambda: pipe_losses_kpa([2.0], flow_lps=1, bore_m=0.1, length_m=1, base_radius_m=1),
            "distances within the pipe",
        ),
        (
            lambda: pipe_losses_kpa([1.0], flow_lps=1, gun_lps=1, bore_m=0.1, length_m=1, base_radius_m=1),
            "takes less than all",
        ),
        (lambda: open_drop(-1.0), "pressure 0 or more"),
    ],
)
def test_numbers_out_of_range(call, message: str) -> None:
    with pytest.raises(DomainError, match=message):
        call()

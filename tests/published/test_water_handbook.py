"""Water formulas against printed tables, worked examples and exact integrals.

Sources stand beside each row: PSU = Penn State drip tape table; NJ = N.J. Administrative Code
7:9A-9.7, hole discharge table; HI = Hydraulic Institute engineering data library; SCR = sprinkler
sheet "scr23", table 3; UGA = Univ. of Georgia C 911; MSU = Mississippi State form F804; TX = Texas
B-6096 (from memory); MIL = MIL-HDBK-1164, table 1; UCFL = UC ANR flushing page. Rows marked
derived are worked out from exact geometry or algebra and are not published numbers.
"""

from __future__ import annotations

import math

import fluids
import numpy as np
import pytest

from ringrow.errors import DomainError
from ringrow.units import ACRE_M2, FOOT_M, GALLON_L, INCH_M, PSI_KPA
from ringrow.water.constants import KPA_PER_M
from ringrow.water.emitters import (
    application_rate_mm_per_h,
    emission_uniformity_pct,
    emitter_flow_lps,
    flow_variation_pct,
)
from ringrow.water.friction import (
    darcy_weisbach_loss_m,
    friction_factor,
    hazen_williams_loss_m,
    multiple_outlet_factor,
    pivot_lateral_factor,
)
from ringrow.water.orifice import nozzle_bore_m, orifice_flow_lps
from ringrow.water.pivot_water import (
    daily_depth_mm,
    depth_per_turn_mm,
    outlet_flows_lps,
    peak_rate_mm_per_h,
    turn_hours,
)
from ringrow.water.uniformity import christiansen_cu_pct, heermann_hein_cu_pct, low_quarter_du_pct
from ringrow.water.volumes import flush_flow_lps, least_fill_min, pipe_volume_l

GPM_LPS = GALLON_L / 60
GPH_LPS = GALLON_L / 3600


def gpm(lps: float) -> float:
    return lps / GPM_LPS


@pytest.mark.parametrize(("label_gpm", "printed_h"), [(0.34, 7.6), (0.51, 5.1), (1.34, 1.9)])
def test_zf2_zf4_zf6_hours_for_an_inch(label_gpm: float, printed_h: float) -> None:
    """PSU, seen: hours for one inch on a 2.5 ft wide strip of 100 ft (27,154 gal over 17,424 ft/ac)."""
    rate = application_rate_mm_per_h(label_gpm * GPM_LPS, 100 * 2.5 * FOOT_M**2)
    assert 25.4 / rate == pytest.approx(printed_h, abs=0.05)


def test_zf9_zf16_emitter_behind_a_label() -> None:
    """PSU 0.67 gpm/100 ft at 8 in: 0.268 gph (derived); 0.74 gives 44.4 gph, not the printed 50.1."""
    emitters = 100 * 12 / 8
    assert 0.67 * 60 / emitters == pytest.approx(0.268, abs=0.0005)
    assert pytest.approx(44.4, abs=0.05) == 0.74 * 60


def test_zf24_zf25_quarter_mile_zone() -> None:
    """Derived: 290.4 gpm on 660,000 ft2 is 0.04235 in/h and 19.17 gpm/ac."""
    area_m2 = 660_000 * FOOT_M**2
    assert application_rate_mm_per_h(290.4 * GPM_LPS, area_m2) / 25.4 == pytest.approx(0.04235, abs=1e-6)
    assert 290.4 / (area_m2 / ACRE_M2) == pytest.approx(19.17, abs=0.005)


def test_pr5_hy14_emitter_equation() -> None:
    """Derived: 0.22 gpm/100 ft at 8 psi gives 0.269 at 12; 20 % less pressure is 10.6 % less flow."""
    assert float(emitter_flow_lps(12, flow_lps=0.22, at_pressure_kpa=8)) == pytest.approx(0.269, abs=0.0005)
    flows = emitter_flow_lps([80.0, 100.0], flow_lps=1, at_pressure_kpa=100)
    assert flow_variation_pct(flows) == pytest.approx(10.6, abs=0.05)


def test_hy23_keller_karmeli() -> None:
    """Derived from the formula (from memory): CV 0.07, n 4, qmin/qavg 0.90 is 86.0 %."""
    assert emission_uniformity_pct([0.9, 1.1], cv=0.07, emitters_per_plant=4) == pytest.approx(86.0, abs=0.05)


def test_hy3_blasius_and_laminar_against_fluids() -> None:
    """HY3: 0.03164 at Re 10,000, doc examples of the general library fluids; and its laminar line."""
    assert float(friction_factor(10_000)) == pytest.approx(0.03164, abs=5e-6)
    assert float(friction_factor(10_000)) == pytest.approx(fluids.friction.Blasius(10_000), rel=1e-4)
    assert float(friction_factor(1_000)) == pytest.approx(fluids.friction.friction_laminar(1_000), rel=1e-12)


def test_hy10_hy13_tape_friction() -> None:
    """HY10 recomputed: J = 0.1314 Q^1.75 / D^4.75 ft per 100 ft at 20 C (from memory 0.133, about 18 C)."""
    loss_ft = darcy_weisbach_loss_m(2 * GPM_LPS, bore_m=0.875 * INCH_M, length_m=100 * FOOT_M) / FOOT_M
    assert float(loss_ft) == pytest.approx(0.1314 * 2**1.75 / 0.875**4.75, rel=0.003)


@pytest.mark.parametrize(
    ("outlets", "exponent", "printed"), [(10, 1.852, 0.402), (10**6, 1.852, 0.351), (20, 1.75, 0.389)]
)
def test_hy5_hy7_hy8_christiansen(outlets: int, exponent: float, printed: float) -> None:
    """Christiansen 1942, from memory."""
    assert multiple_outlet_factor(outlets, exponent=exponent) == pytest.approx(printed, abs=0.0005)


@pytest.mark.parametrize("outlets", [2, 5, 20, 100])
def test_christiansen_against_the_exact_sum(outlets: int) -> None:
    """Exact: sum of (k/N)^m over reaches, divided by N."""
    exact = sum((k / outlets) ** 1.852 for k in range(1, outlets + 1)) / outlets
    assert multiple_outlet_factor(outlets) == pytest.approx(exact, rel=0.002)


@pytest.mark.parametrize(("exponent", "printed"), [(1.852, 0.548), (1.9, 0.543), (2.0, 0.533)])
def test_f01_f02_f03_pivot_factor(exponent: float, printed: float) -> None:
    """Derived: exact integral of (1 - x^2)^n."""
    assert pivot_lateral_factor(exponent=exponent) == pytest.approx(printed, abs=0.0005)


def test_f04_f05_f06_pivot_losses() -> None:
    """F04 0.555 with outlets counted (from memory); F05 with a gun 0.582 (derived); F06 40.4 ft (derived)."""
    at = (np.arange(50) + 0.5) / 50
    left = np.array([(at[k:]).sum() for k in range(50)]) / at.sum()
    assert float((left**1.852).mean()) == pytest.approx(0.555, abs=0.005)
    assert pivot_lateral_factor(length_m=1300, wetted_radius_m=1380) == pytest.approx(0.582, abs=0.0005)
    loss = hazen_williams_loss_m(800 * GPM_LPS, bore_m=6.407 * INCH_M, length_m=1300 * FOOT_M, roughness=140)
    assert float(loss) / FOOT_M == pytest.approx(40.4, abs=0.05)
    assert float(loss) * KPA_PER_M / PSI_KPA == pytest.approx(17.5, abs=0.05)


@pytest.mark.parametrize(
    ("diameter_in", "psi", "printed_gpm", "tolerance"),
    [(0.25, 10, 5.9, 0.05), (0.75, 10, 53.0, 0.15), (0.75, 30, 92.0, 0.15)],
)
def test_n05_n08_n10_theoretical_nozzle(
    diameter_in: float, psi: float, printed_gpm: float, tolerance: float
) -> None:
    """HI discharge table, coefficient 1, seen."""
    flow = orifice_flow_lps(diameter_in * INCH_M, psi * PSI_KPA, discharge=1.0)
    assert gpm(flow) == pytest.approx(printed_gpm, abs=tolerance)


@pytest.mark.parametrize(("diameter_in", "psi", "printed_gpm"), [(3 / 16, 40, 6.41), (7 / 32, 55, 10.30)])
def test_n12_n15_straight_bore_nozzle(diameter_in: float, psi: float, printed_gpm: float) -> None:
    """SCR table 3, seen; coefficient 0.97 is within 2 %; and back to the bore."""
    flow = orifice_flow_lps(diameter_in * INCH_M, psi * PSI_KPA, discharge=0.97)
    assert gpm(flow) == pytest.approx(printed_gpm, rel=0.02)
    bore = nozzle_bore_m(printed_gpm * GPM_LPS, psi * PSI_KPA)
    assert bore / INCH_M == pytest.approx(diameter_in, rel=0.01)


def test_n11_open_drop() -> None:
    """Derived: an open 3/4 in drop at 20 psi passes 45 to 60 gpm for coefficients 0.6 to 0.8."""
    low, high = (gpm(orifice_flow_lps(0.75 * INCH_M, 20 * PSI_KPA, discharge=cd)) for cd in (0.6, 0.8))
    assert low == pytest.approx(45.0, abs=0.1)
    assert high == pytest.approx(60.1, abs=0.1)


@pytest.mark.parametrize(("diameter_in", "head_ft", "printed_gpm"), [(0.25, 3, 1.28), (0.375, 4, 3.31)])
def test_lk1_lk3_hole_table(diameter_in: float, head_ft: float, printed_gpm: float) -> None:
    """NJ table, seen (3.31 is cut from 3.316): 11.79 d2 sqrt(h) is a coefficient of 0.6004."""
    flow = orifice_flow_lps(diameter_in * INCH_M, head_ft * FOOT_M * KPA_PER_M, discharge=11.79 / 19.636)
    assert gpm(flow) == pytest.approx(printed_gpm, abs=0.0065)


def test_lk7_lk8_holes() -> None:
    """Derived: 1/8 in at 10 psi, coefficient 0.60, 0.88 gpm; 1/4 in, 0.75, 4.42 gpm."""
    assert gpm(orifice_flow_lps(INCH_M / 8, 10 * PSI_KPA)) == pytest.approx(0.88, abs=0.005)
    assert gpm(orifice_flow_lps(INCH_M / 4, 10 * PSI_KPA, discharge=0.75)) == pytest.approx(4.42, abs=0.006)


def test_fl1_fl3_flush() -> None:
    """UCFL prints 1 gpm for 5/8 in (seen); 2.45 gpm for 1 in (derived)."""
    assert gpm(flush_flow_lps(0.625 * INCH_M)) == pytest.approx(1, abs=0.5)
    assert gpm(flush_flow_lps(INCH_M)) == pytest.approx(2.45, abs=0.005)


@pytest.mark.parametrize(("bore_in", "printed_gal"), [(4, 0.65), (8, 2.61), (12, 5.88)])
def test_vo1_vo3_vo4_gallons_per_foot(bore_in: float, printed_gal: float) -> None:
    """MIL-HDBK-1164, table 1, seen."""
    assert pipe_volume_l(bore_in * INCH_M, FOOT_M) / GALLON_L == pytest.approx(printed_gal, abs=0.005)


def test_vo5_vo7_vo8_tape_volume() -> None:
    """Derived: 100 ft of 5/8 in 1.59 gal, of 1-3/8 in 7.71; 100 quarter-mile 7/8 in laterals 4,123 gal."""
    assert pipe_volume_l(0.625 * INCH_M, 100 * FOOT_M) / GALLON_L == pytest.approx(1.59, abs=0.005)
    assert pipe_volume_l(1.375 * INCH_M, 100 * FOOT_M) / GALLON_L == pytest.approx(7.71, abs=0.005)
    zone = pipe_volume_l(0.875 * INCH_M, 132_000 * FOOT_M)
    assert zone / GALLON_L == pytest.approx(4123, abs=0.5)
    assert least_fill_min(zone, 290.4 * GPM_LPS) == pytest.approx(4123.34 / 290.4, rel=1e-4)


def test_d16_d19_d20_inches_per_turn() -> None:
    """TX, from memory: 1,290 ft pivot (120 ac)."""
    area = math.pi * (1290 * FOOT_M) ** 2
    for flow, hours, printed in ((400, 12, 0.09), (1000, 96, 1.77), (1100, 120, 2.43)):
        assert depth_per_turn_mm(flow * GPM_LPS, hours, area) / 25.4 == pytest.approx(printed, abs=0.005)


def test_d09_d15_d24_d25_capacity() -> None:
    """D09, D15 inputs seen, result worked out; D24, D25 Texas table from memory."""
    for per_acre, printed, tolerance in ((6, 0.318, 0.0005), (3, 0.16, 0.005), (5, 0.27, 0.005)):
        assert daily_depth_mm(per_acre * GPM_LPS, ACRE_M2) / 25.4 == pytest.approx(printed, abs=tolerance)
    assert daily_depth_mm(73.6, math.pi * 400**2, hours_per_day=22) == pytest.approx(11.60, abs=0.005)


def test_d21_d22_d29_d30_turns() -> None:
    """D21, D22 Texas table from memory; D29 timer (seen in words); D30 times seen, speeds worked out."""
    assert turn_hours(1275 * FOOT_M, 667 * FOOT_M) == pytest.approx(12, abs=0.02)
    assert turn_hours(1275 * FOOT_M, 334 * FOOT_M) == pytest.approx(24, abs=0.08)
    assert turn_hours(100, 100, timer_pct=50) == pytest.approx(2 * turn_hours(100, 100))
    assert turn_hours(100, 100, sweep_deg=90) == pytest.approx(turn_hours(100, 100) / 4)


def test_n01_n03_outlets() -> None:
    """N01: outlets add up to the machine's flow; N03 (inputs seen, spacing chosen): 1.104 L/s at 400 m."""
    flows = outlet_flows_lps(np.arange(3, 401, 3.0), flow_lps=73.6, base_radius_m=400.5)
    assert flows.sum() == pytest.approx(73.6)
    assert pytest.approx(1.104, abs=0.0005) == 2 * 400 * 3 * 73.6 / 400**2
    ring = outlet_flows_lps([397.0, 400.0, 403.0], flow_lps=73.6, base_radius_m=404.5)
    assert ring[1] == pytest.approx(2 * 400 * 3 * 73.6 / 404.5**2, rel=1e-9)


def test_p01_p04_p05_peak_rate() -> None:
    """P01 MSU form F804 (seen, 122.5); P05 Utah lecture eq. 275 (seen): AR mm/min = r D / (7.5 T w)."""
    rate = peak_rate_mm_per_h(800 * GPM_LPS, 1300 * FOOT_M, 26 * FOOT_M) / 25.4
    assert rate * 1300 * 26 / 800 == pytest.approx(122.5, abs=0.06)
    flow = 11.60 / 22 / 3600 * math.pi * 400**2  # D gross over T hours on the circle
    assert peak_rate_mm_per_h(flow, 400, 10) / 60 == pytest.approx(400 * 11.60 / (7.5 * 22 * 20), rel=0.001)


def test_u01_u06_uniformity() -> None:
    """U01 equal cans 100; U06 half at 0.8, half at 1.2: CU 80, low quarter 80 (algebra)."""
    assert heermann_hein_cu_pct([1, 2, 3], [5, 5, 5]) == pytest.approx(100)
    assert christiansen_cu_pct([0.8] * 4 + [1.2] * 4) == pytest.approx(80)
    assert low_quarter_du_pct([0.8] * 4 + [1.2] * 4) == pytest.approx(80)


def test_heermann_hein_equals_ground_by_ground() -> None:
    """Each can as many equal cans as its ring has area gives the plain coefficient."""
    distance, depth = np.array([10, 20, 30, 40]), np.array([9.0, 12.0, 8.0, 11.0])
    assert heermann_hein_cu_pct(distance, depth) == pytest.approx(
        christiansen_cu_pct(np.repeat(depth, distance))
    )
    assert low_quarter_du_pct(depth, distances_m=distance) == pytest.approx(
        low_quarter_du_pct(np.repeat(depth, distance)), rel=1e-9
    )


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: emitter_flow_lps(1, flow_lps=0, at_pressure_kpa=1), "flow and pressure above 0"),
        (lambda: application_rate_mm_per_h(1, 0), "area above 0"),
        (lambda: flow_variation_pct([]), "found no flow"),
        (lambda: emission_uniformity_pct([1], cv=-1), "cv 0 or more"),
        (lambda: hazen_williams_loss_m(1, bore_m=0, length_m=1), "both above 0"),
        (lambda: darcy_weisbach_loss_m(1, bore_m=0, length_m=1), "bore 0 m"),
        (lambda: multiple_outlet_factor(0), "found 0 outlets"),
        (lambda: pivot_lateral_factor(length_m=2, wetted_radius_m=1), "no more than the wetted radius"),
        (lambda: orifice_flow_lps(-1, 1), "bore and pressure 0 or more"),
        (lambda: nozzle_bore_m(1, 0), "pressure above 0"),
        (lambda: pipe_volume_l(-1, 1), "allowed: 0 or more"),
        (lambda: least_fill_min(1, 0), "flow above 0"),
        (lambda: flush_flow_lps(-1), "allowed: 0 or more"),
        (lambda: outlet_flows_lps([2, 1], flow_lps=1, base_radius_m=3), "rising distances within it"),
        (lambda: depth_per_turn_mm(0, 1, 1), "found flow_lps 0"),
        (lambda: turn_hours(1, 1, timer_pct=120), "found timer 120 %"),
        (lambda: daily_depth_mm(1, 1, hours_per_day=25), "found 25 hours"),
        (lambda: peak_rate_mm_per_h(1, 1, 0), "found throw_m 0"),
        (lambda: heermann_hein_cu_pct([0, 1], [1, 1]), "one distance above 0 a can"),
        (lambda: christiansen_cu_pct([1]), "two or more"),
    ],
)
def test_numbers_out_of_range_are_refused(call, message: str) -> None:
    with pytest.raises(DomainError, match=message):
        call()

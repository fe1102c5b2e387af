"""Statistics of satellite positions: circular normal error, strips, evenly spaced drops.

Sources
-------
[NAS] National Academies, *The Global Positioning System: A Shared National Asset*, 1995, accuracy
    appendix (seen): CEP = 0.589 (sigma_N + sigma_E); 2 drms holds 98 %, 95.5 to 98.2 % by ellipse.
[GNSS] A GNSS glossary page on RMS, CEP and their ratios (seen, secondary): 2.08, 1.2, 2.4.
[EPE] US National Park Service GPS page (seen): horizontal error = HDOP x user range error, as drms.
Rows called derived follow from the definitions; they test the arithmetic and are not published.
Row numbers are those of the check values from which the rows were taken. Tolerance is half of
the last digit printed there, unless stated.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from scipy.integrate import quad

from ringrow.coverage.accuracy import DEFAULT_ACCURACY, KINDS, Accuracy, parse_accuracy
from ringrow.coverage.chances import lateral_chances, outlet_chances, strip_chance
from ringrow.geometry.laterals import lay_laterals

R95_EXACT = math.sqrt(-2 * math.log(0.05))


def rayleigh_share(radius_over_sigma: float) -> float:
    """Share of a circular normal error within a radius."""
    return 1 - math.exp(-(radius_over_sigma**2) / 2)


def test_e01_cep_derived() -> None:
    """E01, derived: CEP = sqrt(2 ln 2) sigma = 1.177410 sigma, kept to 4 decimals."""
    assert math.sqrt(2 * math.log(2)) == pytest.approx(1.177410, abs=5e-7)
    assert KINDS["cep"] == pytest.approx(1.177410, abs=5e-5)


def test_e01_cep_from_axis_sigmas_published() -> None:
    """E01, [NAS]: CEP = 0.589 (sigma_N + sigma_E) = 1.178 sigma when both are equal."""
    sigma = Accuracy(radius_m=1.178, kind="cep").sigma_m
    assert 0.589 * (sigma + sigma) == pytest.approx(1.178, abs=1e-3)


def test_e02_drms_derived() -> None:
    """E02, derived: drms = 1.414214 sigma and holds 63.212 %."""
    assert KINDS["rms"] == pytest.approx(1.414214, abs=5e-5)
    assert 100 * rayleigh_share(KINDS["rms"]) == pytest.approx(63.212, abs=5e-3)


def test_e03_r68_derived() -> None:
    """E03, derived: the radius of 68 % is 1.509592 sigma, of 68.27 % 1.515173 sigma."""
    assert KINDS["r68"] == pytest.approx(1.509592, abs=5e-5)
    assert rayleigh_share(KINDS["r68"]) == pytest.approx(0.68, abs=5e-5)
    assert rayleigh_share(1.515173) == pytest.approx(0.6827, abs=5e-5)


def test_e05_r95_derived() -> None:
    """E05, derived: the radius of 95 % is 2.447747 sigma."""
    assert pytest.approx(2.447747, abs=5e-7) == R95_EXACT
    assert KINDS["r95"] == pytest.approx(2.447747, abs=5e-5)
    assert rayleigh_share(KINDS["r95"]) == pytest.approx(0.95, abs=1e-5)


def test_e07_two_drms_published() -> None:
    """E07, [NAS]: twice drms holds 98 % of a circular error; derived 2.828427 sigma, 98.168 %."""
    assert 100 * rayleigh_share(2 * KINDS["rms"]) == pytest.approx(98, abs=0.5)
    assert 100 * rayleigh_share(2 * KINDS["rms"]) == pytest.approx(98.168, abs=1e-3)


def test_e08_ratios_published() -> None:
    """E08, [GNSS]: R95 / CEP 2.08, drms / CEP 1.2, 2 drms / CEP 2.4; derived to six decimals."""
    assert KINDS["r95"] / KINDS["cep"] == pytest.approx(2.08, abs=5e-3)
    assert KINDS["rms"] / KINDS["cep"] == pytest.approx(1.2, abs=5e-2)
    assert 2 * KINDS["rms"] / KINDS["cep"] == pytest.approx(2.4, abs=5e-2)
    # Our factors have four decimals: 5e-5 in either term of the ratio.
    assert KINDS["r95"] / KINDS["cep"] == pytest.approx(2.078925, abs=1.5e-4)
    assert KINDS["rms"] / KINDS["cep"] == pytest.approx(1.201122, abs=1e-4)


def test_e10_drms_from_dilution_published_formula() -> None:
    """E10, [EPE] formula, derived figures: HDOP 1.0, 5 m -> drms 5.0, sigma 3.5355, R95 8.6541 m."""
    sigma = parse_accuracy("5 m rms").sigma_m
    # 5e-5 in the factor of rms is 1.2e-4 m in sigma here.
    assert sigma == pytest.approx(3.5355, abs=2e-4)
    assert sigma * R95_EXACT == pytest.approx(8.6541, abs=5e-4)


def test_e14_default_is_16_ft_and_said_to_be_assumed() -> None:
    """E14, from memory: phones are good to some 4.9 m (16 ft); no percentile is agreed."""
    assert DEFAULT_ACCURACY.radius_m == pytest.approx(4.9, abs=0.05)
    assert DEFAULT_ACCURACY.assumed


def test_e16_a_phone_that_reports_68_percent_derived() -> None:
    """E16, derived from a phone's log: 3.49 m at 68 % -> sigma 2.31 m = 7.6 ft, R95 5.66 m."""
    sigma = parse_accuracy("3.49 m r68").sigma_m
    assert sigma == pytest.approx(2.31, abs=5e-3)
    assert sigma / 0.3048 == pytest.approx(7.6, abs=5e-2)
    assert sigma * R95_EXACT == pytest.approx(5.66, abs=5e-3)


STRIPS = {
    "E20": (10, 2, 0, 0.987581),
    "E21": (10, 2, 5, 0.500000),
    "E22": (10, 5, 0, 0.682689),
    "E23": (60, 10, 0, 0.997300),
    "E24": (60, 10, 25, 0.691462),
    "E27": (180, 15, 70, 0.908789),
}


@pytest.mark.parametrize(("width", "sigma", "offset", "expected"), STRIPS.values(), ids=STRIPS)
def test_strip_rows_derived(width: float, sigma: float, offset: float, expected: float) -> None:
    """E20 to E27, derived: chance that the true point lies in a strip."""
    assert strip_chance(offset, width, sigma) == pytest.approx(expected, abs=5e-7)


@pytest.mark.parametrize(("width", "sigma", "offset", "expected"), STRIPS.values(), ids=STRIPS)
def test_strip_rows_by_numerical_integration(
    width: float, sigma: float, offset: float, expected: float
) -> None:
    """The same rows by integrating the normal density with scipy's general quadrature."""
    density, _ = quad(
        lambda y: math.exp(-((y - offset) ** 2) / (2 * sigma**2)) / (sigma * math.sqrt(2 * math.pi)),
        -width / 2,
        width / 2,
    )
    assert density == pytest.approx(expected, abs=5e-7)
    assert strip_chance(offset, width, sigma) == pytest.approx(density, abs=1e-12)


@pytest.mark.parametrize(
    ("width_over_sigma", "share"), [(3.919928, 0.95), (5.151659, 0.99), (1.348980, 0.50)]
)
def test_e28_width_of_a_centred_strip_derived(width_over_sigma: float, share: float) -> None:
    """E28, derived: how wide a centred strip must be."""
    assert strip_chance(0.0, width_over_sigma, 1.0) == pytest.approx(share, abs=5e-7)


DROPS = {
    "E30": (7.5, 1.0, 0.999823, 1.000000),
    "E31": (7.5, 3.0, 0.788700, 0.999823),
    "E32": (7.5, 6.5, 0.436009, 0.916507),
    "E35": (17.5, 10.0, 0.618426, 0.991335),
}


@pytest.mark.parametrize(("spacing", "sigma", "right", "within_one"), DROPS.values(), ids=DROPS)
def test_drop_rows_derived(spacing: float, sigma: float, right: float, within_one: float) -> None:
    """E30 to E35, derived: the fix beside a true drop, ft; nearest drop right, and within one."""
    found = outlet_chances(spacing * np.arange(1, 100), [spacing * 50], sigma)
    assert found.outlet[0] == 50
    assert found.chance[0] == pytest.approx(right, abs=5e-7)
    assert strip_chance(0.0, 3 * spacing, sigma) == pytest.approx(within_one, abs=5e-7)


@pytest.mark.parametrize(("spacing", "sigma", "right", "within_one"), DROPS.values(), ids=DROPS)
def test_drop_rows_as_the_run_that_is_named(
    spacing: float, sigma: float, right: float, within_one: float
) -> None:
    """A run is named as soon as the nearest drop alone, or with one on each side, does not hold 0.95."""
    found = outlet_chances(spacing * np.arange(1, 100), [spacing * 50], sigma)
    count = int(found.last[0] - found.first[0]) + 1
    assert (count == 1) is (right >= 0.95)
    assert (count <= 3) is (within_one >= 0.95)


def test_a_span_is_safe_to_name_from_a_phone_derived() -> None:
    """A span of 60 ft or wider holds 97 % or more of fixes at its middle, sigma 6.5 ft; one drop does not."""
    sigma_ft = DEFAULT_ACCURACY.sigma_m / 0.3048
    assert strip_chance(0.0, 60.0, sigma_ft) >= 0.97
    assert strip_chance(0.0, 10.0, sigma_ft) < 0.95


def test_laterals_share_strips_as_the_rows_say() -> None:
    """E22 on real laterals: spacing 10 m, sigma 5 m together with the laying spread."""
    block = shapely.box(0, 0, 100, 400)
    grid = lay_laterals(block, block, heading_deg=90, number_from_deg=0, header_deg=270, spacing_m=10)
    fix = math.sqrt(5.0**2 - (1.3 * 0.0254) ** 2)
    found = lateral_chances(grid, [50.0], [205.0], fix)
    assert found.lateral[0, 0] == 20
    assert found.chance[0, 0] == pytest.approx(0.682689, abs=5e-7)

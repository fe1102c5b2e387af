"""Volts at a motor, against what motor standards give.

NEMA MG 1, *Motors and Generators*, condensed edition of 2011, clause 12.44.1: running at rated
load within 10 % of rated voltage at rated frequency, and within 5 % of rated frequency at rated
voltage. Read in the extract beside the project's reference values (rows S01, S02), not in the
standard itself. Unbalance: the worked example of three lines, 460, 467 and 450 V (row S05, a
teaching page that follows NEMA MG 1).
"""

from __future__ import annotations

from pathlib import Path

import pytest

from ringrow.equipment.pivot import Pivot
from ringrow.equipment.well import Well
from ringrow.farm.model import Farm
from ringrow.farm.readings import limits_of, voltage_unbalance_pct
from ringrow.units import PSI_KPA, US

FARM = Farm(folder=Path(), name="F", units=US)


@pytest.mark.parametrize(("plate_v", "low_v", "high_v"), [(460, 414, 506), (480, 432, 528)])
def test_row_s01_voltage_band(plate_v: float, low_v: float, high_v: float) -> None:
    well = Well(name="W", lon=-101.5, lat=36.75, plate_v=plate_v)
    limits = limits_of(FARM, well, "volts")
    assert limits.low == pytest.approx(low_v, abs=0.5)
    assert limits.high == pytest.approx(high_v, abs=0.5)
    assert limits.source == "standard"


def test_row_s02_frequency_band() -> None:
    limits = limits_of(FARM, Well(name="W", lon=-101.5, lat=36.75, plate_hz=60), "hertz")
    assert limits.low == pytest.approx(57, abs=0.5)
    assert limits.high == pytest.approx(63, abs=0.5)


def test_row_s05_unbalance_example() -> None:
    """Printed: mean 459 V, 1.96 %. The largest departure, 9 V of 459, is the line of 450 V."""
    assert voltage_unbalance_pct((460.0, 467.0, 450.0)) == pytest.approx(1.96, abs=0.005)
    assert voltage_unbalance_pct((460.0, 467.0, 450.0)) == pytest.approx(100 * 9 / 459)


def test_row_s12_pressure_at_the_end() -> None:
    """Nebraska Extension checklist (AgUpdate, 19 February 2021): at least 5 psi over the regulators."""
    pivot = Pivot(name="P", x_m=0, y_m=0, spans_m=(50.0,), regulator_kpa=20 * PSI_KPA)
    limits = limits_of(FARM, pivot, "end-pressure")
    assert limits.low is not None
    assert limits.low / PSI_KPA == pytest.approx(25)
    assert limits.high is None

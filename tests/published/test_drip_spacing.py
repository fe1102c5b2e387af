"""Lateral spacing and length of tape against the literature and exact unit definitions.

Sources
-------
[KS03] Lamm and Trooien, "Subsurface drip irrigation for corn production: a review of 10 years of
research in Kansas", Irrigation Science 22:195-200, 2003, abstract.
[BENT] Mubarak, twin-row drip sweet corn, Open Agriculture Journal 14, 2020, abstract.
Rows marked derived follow from unit definitions alone (43,560 square feet to the acre, 12 inches to
the foot, 10,000 square metres to the hectare) and are not published figures.
"""

import pytest
import shapely

from ringrow.coverage.drip_layout import tape_totals
from ringrow.geometry.laterals import lay_laterals
from ringrow.units import FOOT_M, INCH_M


def tape_m(side_m: float, spacing_m: float) -> float:
    """Tape on a square block, laterals half a spacing from the edge."""
    block = shapely.box(0, 0, side_m, side_m)
    grid = lay_laterals(block, block, heading_deg=90, number_from_deg=0, header_deg=270, spacing_m=spacing_m)
    return tape_totals(grid).length_m


def test_sp1_one_lateral_to_two_rows_of_corn_30_in_apart() -> None:
    """[KS03]: rows 0.76 m (30 in) apart, economic lateral spacing printed 1.5 m, one to two rows."""
    block = shapely.box(0, 0, 100, 100)
    grid = lay_laterals(
        block, block, heading_deg=90, number_from_deg=0, header_deg=270, spacing_m=2 * 30 * INCH_M
    )
    assert grid.piece_across_m[1] - grid.piece_across_m[0] == pytest.approx(1.5, abs=0.05)


@pytest.mark.parametrize(
    ("spacing_in", "feet_per_acre"),
    [
        pytest.param(60, 8712, id="SP2"),
        pytest.param(80, 6534, id="SP4"),
        pytest.param(30, 17424, id="SP5"),
        pytest.param(44, 11880, id="SP6"),
    ],
)
def test_derived_length_of_lateral_per_acre(spacing_in, feet_per_acre) -> None:
    """Derived: 43,560 * 12 / spacing, here laid out on ten acres, 660 ft by 660 ft."""
    feet = tape_m(660 * FOOT_M, spacing_in * INCH_M) / FOOT_M
    assert feet / 10 == pytest.approx(feet_per_acre, abs=0.5)


def test_derived_sp9_length_of_lateral_per_hectare() -> None:
    """Derived: 10,000 / 1.5, here laid out on nine hectares, 300 m by 300 m."""
    assert tape_m(300, 1.5) / 9 == pytest.approx(6667, abs=0.5)


def test_sp10_saving_of_lateral_at_150_cm_against_75_cm() -> None:
    """[BENT]: one lateral to two rows 75 cm apart saves 50 % of the lateral."""
    saving_pct = 100 * (1 - tape_m(300, 1.5) / tape_m(300, 0.75))
    assert saving_pct == pytest.approx(50, abs=0.5)

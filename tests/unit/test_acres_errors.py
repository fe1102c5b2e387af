"""The errors of acres reach the table and the JSON values, and only where the farm states some."""

from __future__ import annotations

from dataclasses import replace

import pytest
from shapely import box

from ringrow.coverage.acres import field_acres
from ringrow.coverage.field import Field
from ringrow.coverage.layout import lay_out
from ringrow.equipment.pivot import Pivot
from ringrow.frame import Frame
from ringrow.handoff.acres_table import acres_record, acres_table
from ringrow.units import ACRE_M2, METRIC, US

FIELD = Field(
    name="North",
    frame=Frame(lon=-101.5, lat=36.75),
    boundary=box(-400, -400, 400, 400),
    pivots=(Pivot(name="P1", x_m=0, y_m=0, spans_m=(300.0,), radius_se_m=1.0),),
    boundary_se_m=2.0,
)


def test_errors_are_standard_errors_in_json_and_1_96_of_them_for_people() -> None:
    """A square of 800 m whose corners are good to 2 m: 2 x 1/2 x sqrt(4 x 2) x 800 = 2,262.7 m2."""
    acres = field_acres(lay_out(FIELD))
    record = acres_record("Farm", [acres], US)["fields"][0]
    assert record["field_se_acres"] * ACRE_M2 == pytest.approx(2262.7, abs=0.1)
    assert record["irrigated_se_acres"] * ACRE_M2 == pytest.approx(2 * 3.14159265 * 300, rel=1e-4)
    assert acres_record("Farm", [acres], METRIC)["fields"][0]["dry_se_ha"] > 0
    table = acres_table([acres], US, width=None)
    assert "Give or take, acres (95 of 100)" in table
    assert f"{1.96 * record['field_se_acres']:.2f}" in table


def test_nothing_stated_nothing_shown() -> None:
    pivot = replace(FIELD.pivots[0], radius_se_m=None)
    acres = field_acres(lay_out(replace(FIELD, boundary_se_m=None, pivots=(pivot,))))
    record = acres_record("Farm", [acres], US)["fields"][0]
    assert record["field_se_acres"] is None
    assert record["irrigated_se_acres"] is None
    assert "Give or take" not in acres_table([acres], US, width=None)

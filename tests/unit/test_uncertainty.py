"""Errors of acres against simulation: shaken corners and radii, area worked out anew each time."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely import Polygon, box

from ringrow.coverage.field import Field
from ringrow.coverage.layout import lay_out
from ringrow.coverage.uncertainty import area_errors
from ringrow.equipment.pivot import EndGun, Pivot, Sector
from ringrow.frame import Frame
from ringrow.geometry.outline import area_se_m2

FRAME = Frame(lon=-101.5, lat=36.75)
CORNERS = np.array(
    [[-420, -400], [60, -430], [410, -390], [380, 30], [405, 410], [-100, 395], [-410, 420]], float
)
PIVOT = Pivot(name="P1", x_m=0, y_m=0, spans_m=(130.0,) * 3, throw_m=5)


def field_of(corners: np.ndarray, pivot: Pivot, **more: object) -> Field:
    return Field(name="F", frame=FRAME, boundary=Polygon(corners), pivots=(pivot,), **more)


def areas(field: Field) -> np.ndarray:
    layout = lay_out(field)
    wet = shapely.area(layout.farmable & shapely.union_all([system.wetted for system in layout.systems]))
    farmable = layout.farmable.area
    return np.array([field.boundary.area, farmable, wet, farmable - wet])


def test_whole_boundary_follows_the_formula() -> None:
    errors = area_errors(lay_out(field_of(CORNERS, PIVOT, boundary_se_m=1.2)))
    assert errors.field_se_m2 == pytest.approx(area_se_m2(CORNERS, sigma_m=1.2), rel=1e-12)
    assert errors.farmable_se_m2 == pytest.approx(errors.field_se_m2, rel=1e-6)


def test_radius_on_an_open_circle() -> None:
    """Inside farmable ground all round: sigma times the circumference."""
    pivot = replace(PIVOT, spans_m=(100.0,), radius_se_m=0.8)
    errors = area_errors(lay_out(field_of(CORNERS, pivot)))
    assert errors.irrigated_se_m2 == pytest.approx(0.8 * 2 * math.pi * 105, rel=1e-4)
    assert errors.dry_se_m2 == errors.irrigated_se_m2
    assert errors.field_se_m2 is None


def test_nothing_stated_nothing_said() -> None:
    errors = area_errors(lay_out(field_of(CORNERS, PIVOT)))
    assert errors.irrigated_se_m2 is None
    assert errors.dry_se_m2 is None


@pytest.mark.parametrize("sector", [None, Sector(start_deg=30, stop_deg=250)])
def test_errors_agree_with_simulation(sector: Sector | None) -> None:
    """800 farms with shaken corners (0.9 m) and radius (0.7 m): spread of each area within 8 %.

    The machine waters past the fence on some sides, so wet and dry parts of the boundary both count.
    """
    rng = np.random.default_rng(4)
    pivot = replace(PIVOT, spans_m=(140.0,) * 3, sector=sector, radius_se_m=0.7)
    field = field_of(CORNERS, pivot, boundary_se_m=0.9, exclusions=box(-60, 200, 40, 260))
    drawn = []
    for _ in range(800):
        shaken = CORNERS + rng.normal(0, 0.9, CORNERS.shape)
        grown = replace(pivot, throw_m=pivot.throw_m + float(rng.normal(0, 0.7)))
        drawn.append(areas(replace(field, boundary=Polygon(shaken), pivots=(grown,))))
    spread = np.std(drawn, axis=0)
    errors = area_errors(lay_out(field))
    stated = [errors.field_se_m2, errors.farmable_se_m2, errors.irrigated_se_m2, errors.dry_se_m2]
    assert stated == pytest.approx(spread.tolist(), rel=0.08)


def test_gun_ring_counts_with_its_own_edge() -> None:
    pivot = Pivot(
        name="P1", x_m=0, y_m=0, spans_m=(100.0,), end_gun=EndGun(reach_m=30, arcs="always"), radius_se_m=1.0
    )
    errors = area_errors(lay_out(field_of(CORNERS, pivot)))
    assert errors.irrigated_se_m2 == pytest.approx(2 * math.pi * 130, rel=1e-4)


def test_ground_another_machine_wets_does_not_count() -> None:
    inner = Pivot(name="P1", x_m=0, y_m=0, spans_m=(80.0,), radius_se_m=1.0)
    outer = Pivot(name="P2", x_m=0, y_m=0, spans_m=(200.0,))
    layout = lay_out(Field(name="F", frame=FRAME, boundary=Polygon(CORNERS), pivots=(inner, outer)))
    assert area_errors(layout).irrigated_se_m2 == pytest.approx(0.0, abs=1e-6)

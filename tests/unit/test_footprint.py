"""What a fault on a pivot touches; ring acres worked out from geometry (row K07 of the check values)."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
import shapely
from shapely import Polygon, box

from ringrow.coverage.field import Field
from ringrow.coverage.footprint import annulus, footprint, track_meeting
from ringrow.coverage.pivot_layout import lay_out_pivot
from ringrow.coverage.places import PivotPlace
from ringrow.equipment.kinds import FLAG_KINDS
from ringrow.equipment.pivot import EndGun, Pivot, Sector
from ringrow.frame import Frame
from ringrow.units import ACRE_M2, FOOT_M

PIVOT = Pivot(
    name="P1",
    x_m=0,
    y_m=0,
    spans_m=(182 * FOOT_M,) * 7,
    overhang_m=20 * FOOT_M,
    throw_m=6 * FOOT_M,
    outlets_m=tuple(distance * FOOT_M for distance in range(10, 1291, 10)),
    end_gun=EndGun(reach_m=30),
)
SQUARE = box(-600, -600, 600, 600)


def place_at(
    distance_ft: float, *, span: int | None, outlet: int | None, offset_ft: float = 30
) -> PivotPlace:
    return PivotPlace(
        name="P1",
        distance_m=distance_ft * FOOT_M,
        azimuth_deg=40.0,
        panel_deg=40.0,
        span=span,
        part="span" if span else "overhang",
        tower=1,
        tower_offset_m=offset_ft * FOOT_M,
        outlet=outlet,
        outlet_range=None,
        outlet_chance=None,
        inside=True,
    )


def layout_of(pivot: Pivot):
    field = Field(name="F", frame=Frame(lon=-101.5, lat=36.75), boundary=SQUARE, pivots=(pivot,))
    return lay_out_pivot(field, pivot, SQUARE)


@pytest.mark.parametrize(("distance_ft", "acres"), [(1250, 1.80), (200, 0.29)])
def test_k07_outlet_rings(distance_ft: float, acres: float) -> None:
    """Derived: 2 pi r w, w 10 ft: 1.80 ac at 1,250 ft, 0.29 ac at 200 ft."""
    found = footprint(
        layout_of(PIVOT),
        place_at(distance_ft, span=2, outlet=int(distance_ft / 10)),
        FLAG_KINDS["sprinkler"],
        flag_class="acres",
        farmable=SQUARE,
    )
    assert found is not None
    assert found.effect == "dry"
    assert found.area_m2 / ACRE_M2 == pytest.approx(acres, abs=0.005)
    assert found.assumed == ()


def test_unknown_outlets_are_assumed_aloud() -> None:
    pivot = replace(PIVOT, outlets_m=())
    found = footprint(
        layout_of(pivot),
        place_at(1250, span=7, outlet=None),
        FLAG_KINDS["drop"],
        flag_class="acres",
        farmable=SQUARE,
    )
    assert found is not None
    assert found.area_m2 / ACRE_M2 == pytest.approx(1.80, abs=0.005)
    assert "10 ft" in found.assumed[0]


def test_a_gearbox_stops_the_whole_machine() -> None:
    layout = layout_of(PIVOT)
    found = footprint(
        layout,
        place_at(900, span=5, outlet=90),
        FLAG_KINDS["gearbox"],
        flag_class="stops",
        farmable=SQUARE,
    )
    assert found is not None
    assert found.effect == "stopped"
    assert found.area_m2 == pytest.approx(layout.wetted.area, rel=1e-12)


def test_span_leak_wets_its_span_on_a_part_circle() -> None:
    """Exact: (r2^2 - r1^2) theta / 2 of span 3."""
    pivot = replace(PIVOT, sector=Sector(start_deg=20, stop_deg=110))
    found = footprint(
        layout_of(pivot),
        place_at(450, span=3, outlet=45),
        FLAG_KINDS["span-leak"],
        flag_class="wastes",
        farmable=SQUARE,
    )
    assert found is not None
    assert found.effect == "wet"
    inner, outer = 364 * FOOT_M, 546 * FOOT_M
    assert found.area_m2 == pytest.approx(math.pi / 4 * (outer**2 - inner**2), rel=1e-6)


def test_bad_gun_leaves_its_ring_dry() -> None:
    layout = layout_of(PIVOT)
    found = footprint(
        layout,
        place_at(1290, span=None, outlet=129),
        FLAG_KINDS["end-gun"],
        flag_class="acres",
        farmable=SQUARE,
    )
    assert found is not None
    assert found.area_m2 == pytest.approx(layout.gun.area, rel=1e-9)


def test_no_gun_no_ring_and_covers_touch_no_ground() -> None:
    layout = layout_of(replace(PIVOT, end_gun=None))
    place = place_at(1290, span=None, outlet=129)
    assert footprint(layout, place, FLAG_KINDS["booster"], flag_class="acres", farmable=SQUARE) is None
    assert footprint(layout, place, FLAG_KINDS["cover"], flag_class="unsafe", farmable=SQUARE) is None


def test_only_farmable_ground_counts() -> None:
    half = box(-600, -600, 600, 0)
    found = footprint(
        layout_of(PIVOT),
        place_at(1250, span=7, outlet=125),
        FLAG_KINDS["drop"],
        flag_class="acres",
        farmable=half,
    )
    assert found is not None
    assert found.area_m2 / ACRE_M2 == pytest.approx(0.90, abs=0.005)
    assert shapely.covers(half.buffer(1e-9), found.shape)


@pytest.mark.parametrize(("inner", "outer"), [(0.0, 50.0), (20.0, 50.0)])
@pytest.mark.parametrize("sector", [None, Sector(start_deg=300, stop_deg=60)])
def test_annulus_is_exact(inner: float, outer: float, sector: Sector | None) -> None:
    ring = annulus(replace(PIVOT, sector=sector), inner, outer)
    share = 1.0 if sector is None else sector.sweep_deg / 360
    assert isinstance(ring, Polygon)
    assert ring.area == pytest.approx(share * math.pi * (outer**2 - inner**2), rel=1e-6)


def test_wheels_meet_a_burrow_on_their_track() -> None:
    near = place_at(545, span=3, outlet=54, offset_ft=-1)
    meeting = track_meeting(near, FLAG_KINDS["burrow"])
    assert meeting is not None
    assert (meeting.tower, meeting.azimuth_deg) == (1, 40.0)
    assert track_meeting(place_at(545, span=3, outlet=54, offset_ft=-9), FLAG_KINDS["burrow"]) is None
    assert track_meeting(near, FLAG_KINDS["leak"]) is None
    assert track_meeting(replace(near, inside=False), FLAG_KINDS["rut"]) is None

"""What a fault on a machine touches; ring acres worked out from geometry (row K07 of the check values)."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
import shapely
from shapely import Polygon, box

from ringrow.coverage.field import Field
from ringrow.coverage.footprint import annulus, footprint, move_footprint, stopped_ground, stops
from ringrow.coverage.lateral_move_layout import lay_out_lateral_move
from ringrow.coverage.locate_moves import move_place_at
from ringrow.coverage.locate_pivots import pivot_place_at
from ringrow.coverage.pivot_layout import lay_out_pivot
from ringrow.coverage.places import PivotPlace
from ringrow.equipment.corner_arm import Bend, CornerArm
from ringrow.equipment.kinds import FLAG_KINDS
from ringrow.equipment.lateral_move import LateralMove, Wing
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


def bent_pivot(at: str) -> Pivot:
    return Pivot(
        name="P1",
        x_m=0,
        y_m=0,
        spans_m=(60.0,) * 4,
        overhang_m=10.0,
        throw_m=5.0,
        sector=Sector(start_deg=0, stop_deg=90),
        bends=(Bend(tower=1, at=at, sweep_deg=60.0), Bend(tower=3, at=at, sweep_deg=90.0)),
    )


@pytest.mark.parametrize("at", ["start", "stop"])
@pytest.mark.parametrize(("span", "exact"), [
    # Span 1 stays put; spans 2 and 3 walk on about tower 1, span 4 about towers 1 and 3 in turn.
    (1, math.pi / 4 * 60**2),
    (3, math.pi / 4 * (180**2 - 120**2) + math.radians(60) / 2 * (120**2 - 60**2)),
    (4, math.pi / 4 * (240**2 - 180**2) + math.radians(60) / 2 * (180**2 - 120**2) + math.pi / 4 * 60**2),
])  # fmt: skip
def test_a_span_leak_walks_on_through_the_bends(at: str, span: int, exact: float) -> None:
    """Exact: sectors of rings about the pivot point and about the towers it bends at."""
    layout = layout_of(bent_pivot(at))
    place = pivot_place_at(layout, 60.0 * span - 30.0)
    found = footprint(layout, place, FLAG_KINDS["span-leak"], flag_class="wastes", farmable=SQUARE)
    assert found is not None
    assert found.area_m2 == pytest.approx(exact, rel=1e-6)
    assert (found.inner_m, found.outer_m) == (60.0 * (span - 1), 60.0 * span)


def test_all_spans_together_touch_what_a_machine_with_bends_waters() -> None:
    layout = layout_of(replace(bent_pivot("stop"), throw_m=0.0))
    shapes = []
    for distance in (30.0, 90.0, 150.0, 210.0, 245.0):
        place = pivot_place_at(layout, distance)
        found = footprint(layout, place, FLAG_KINDS["span-leak"], flag_class="wastes", farmable=SQUARE)
        assert found is not None
        shapes.append(found.shape)
    apart = shapely.symmetric_difference(shapely.union_all(shapes), layout.wetted)
    # Chords of neighbouring arcs differ by a centimetre at most.
    assert apart.area < 0.01 * 2 * shapely.length(layout.wetted)


def arm_layout_of(gun: EndGun | None = None):
    arm = CornerArm(
        length_m=80.0, overhang_m=12.0, throw_m=4.0, side="trailing", fold_deg=90.0, open_deg=179.99,
        end_gun=gun,
    )  # fmt: skip
    pivot = Pivot(name="P1", x_m=0, y_m=0, spans_m=(60.0,) * 5, corner_arm=arm)
    return layout_of(pivot)


def test_an_outlet_on_an_open_arm_leaves_a_ring_of_the_law_of_cosines() -> None:
    """Derived: always open at 179.99 deg, s = 47 to 53 m from the hinge lies within 1 mm of 347 to 353 m."""
    layout = arm_layout_of()
    place = pivot_place_at(layout, 350.0)
    found = footprint(layout, place, FLAG_KINDS["drop"], flag_class="acres", farmable=SQUARE)
    assert found is not None
    half = 5 * FOOT_M
    assert found.area_m2 == pytest.approx(math.pi * ((350 + half) ** 2 - (350 - half) ** 2), rel=1e-4)
    assert "strip taken as 10 ft" in found.assumed[0]
    leak = footprint(layout, place, FLAG_KINDS["span-leak"], flag_class="wastes", farmable=SQUARE)
    assert leak is not None
    assert leak.area_m2 == pytest.approx(math.pi * (392.0**2 - 300.0**2), rel=1e-4)


def test_the_gun_of_an_arm_leaves_its_own_ground_dry() -> None:
    layout = arm_layout_of(EndGun(reach_m=30.0, arcs="always"))
    place = pivot_place_at(layout, 392.0)
    found = footprint(layout, place, FLAG_KINDS["end-gun"], flag_class="acres", farmable=SQUARE)
    assert found is not None
    assert found.area_m2 == pytest.approx(math.pi * (422.0**2 - 396.0**2), rel=1e-3)
    bare = footprint(arm_layout_of(), place, FLAG_KINDS["end-gun"], flag_class="acres", farmable=SQUARE)
    assert bare is None


MOVE = LateralMove(
    name="L1",
    path_m=((-200.0, -300.0), (-200.0, 100.0), (100.0, 100.0)),
    left=Wing(spans_m=(50.0, 50.0), overhang_m=8.0, throw_m=4.0),
    right=Wing(spans_m=(50.0,), throw_m=4.0),
)


def test_faults_on_a_lateral_move_touch_strips() -> None:
    """Exact: two legs of 400 and 300 m, and a quarter turn to the right about the corner."""
    layout = lay_out_lateral_move(MOVE)

    def touched(name: str, side: str, offset_m: float, flag_class: str):
        place = move_place_at(layout, side, offset_m)
        return move_footprint(layout, place, FLAG_KINDS[name], flag_class=flag_class, farmable=SQUARE)

    drop = touched("drop", "left", 70.0, "acres")
    assert drop is not None
    width = 10 * FOOT_M
    assert drop.area_m2 == pytest.approx(width * 700 + math.pi / 4 * (2 * 70.0 * width), rel=1e-5)
    assert (drop.effect, drop.assumed) == ("dry", ("outlets not known: strip taken as 10 ft (3.05 m) wide",))
    leak = touched("span-leak", "left", 70.0, "wastes")
    assert leak is not None
    assert (leak.effect, leak.inner_m, leak.outer_m) == ("wet", 50.0, 100.0)
    assert leak.area_m2 == pytest.approx(50 * 700 + math.pi / 4 * (100**2 - 50**2), rel=1e-5)
    gearbox = touched("gearbox", "right", 50.0, "stops")
    assert gearbox is not None
    assert gearbox.area_m2 == pytest.approx(layout.wetted.area, rel=1e-9)
    assert touched("cover", "left", 50.0, "unsafe") is None


@pytest.mark.parametrize(
    ("kind", "flag_class", "stopped"),
    [
        ("gearbox", "stops", True),
        ("gearbox", "unsafe", True),
        ("gearbox", "later", False),
        ("cover", "unsafe", False),
        ("cover", "stops", True),
        ("panel", "unsafe", True),
        ("flush-valve", "wastes", False),
    ],
)
def test_what_stops_a_machine(kind: str, flag_class: str, stopped: bool) -> None:
    assert stops(FLAG_KINDS[kind], flag_class) == stopped


def test_ground_of_several_fields_is_added_up() -> None:
    found = stopped_ground([(box(0, 0, 10, 10), box(0, 0, 5, 5)), (box(0, 0, 4, 4), box(-9, -9, 9, 9))])
    assert found.area_m2 == pytest.approx(25 + 16)
    assert found.shape.is_empty

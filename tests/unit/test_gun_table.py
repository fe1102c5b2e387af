"""The gun table: arcs, ground gained and given up, stated arcs that throw amiss; exact plane geometry."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
import shapely
from shapely import LineString, Point, box

from ringrow.coverage.field import Field
from ringrow.coverage.gun_table import GunTable, gun_table, gun_tables
from ringrow.coverage.layout import lay_out
from ringrow.equipment.corner_arm import Bend, CornerArm
from ringrow.equipment.pivot import EndGun, Pivot, Sector
from ringrow.frame import Frame
from ringrow.geometry.arcs import circle_polygon
from ringrow.handoff.gun_table import gun_record, gun_text
from ringrow.handoff.machine_warnings import machine_warnings
from ringrow.units import ACRE_M2, METRIC, US

R, GUN_R = 400.0, 440.0
FENCE = box(-R, -R, R, R)
STOP = math.degrees(math.acos(R / GUN_R))


def pivot(arcs: object = "auto", *, wetted_m: float | None = None, **parts: object) -> Pivot:
    """Pipe of 400 m without throw, a gun that reaches 40 m past it."""
    gun = EndGun(reach_m=GUN_R - R, arcs=arcs, wetted_radius_m=wetted_m)  # type: ignore[arg-type]
    settings = {"name": "Windmill pivot", "x_m": 0.0, "y_m": 0.0, "spans_m": (200.0, 200.0)}
    return Pivot(**{**settings, "end_gun": gun, **parts})  # type: ignore[arg-type]


def field(machine: Pivot, **parts: object) -> Field:
    ground = {"boundary": FENCE, **parts}
    return Field(name="Quarter", frame=Frame(lon=-101.5, lat=36.75), pivots=(machine,), **ground)  # type: ignore[arg-type]


def table_of(it: Field) -> GunTable:
    layout = lay_out(it)
    table = gun_table(layout, layout.pivots[0])
    assert table is not None
    return table


def ring_m2(degrees: float) -> float:
    return math.radians(degrees) / 2 * (GUN_R**2 - R**2)


def turned(arcs: tuple[Sector, ...] | str) -> list[tuple[float, float]]:
    assert not isinstance(arcs, str)
    return [(arc.start_deg, arc.stop_deg) for arc in arcs]


def ends(table: GunTable) -> list[tuple[float | None, float | None]]:
    return [(arc.start_deg, arc.stop_deg) for arc in table.arcs]


def test_auto_arcs_in_a_square() -> None:
    table = table_of(field(pivot()))
    assert ends(table)[0] == pytest.approx((STOP, 90 - STOP))
    sweep = 90 - 2 * STOP
    assert [arc.sweep_deg for arc in table.arcs] == pytest.approx([sweep] * 4)
    assert table.turn_pct == pytest.approx(4 * sweep / 3.6)
    assert table.gained_m2 == pytest.approx(ring_m2(4 * sweep), rel=1e-6)
    assert sum(arc.gained_m2 for arc in table.arcs) == pytest.approx(table.gained_m2)
    assert (table.setting, table.setback_m2, table.keep_off_m2, table.throws) == ("auto", 0, 0, ())


def test_ground_given_up_to_the_setback() -> None:
    """With 12 m of setback each arc ends where the gun comes within 12 m of the fence."""
    table = table_of(field(pivot(), setback_m=12.0))
    shorter = math.degrees(math.acos((R - 12) / GUN_R))
    assert ends(table)[0] == pytest.approx((shorter, 90 - shorter))
    assert table.setback_m2 == pytest.approx(8 * ring_m2(shorter - STOP), rel=1e-5)
    assert table.keep_off_m2 == 0


def test_the_full_wetted_radius_keeps_off_a_wire_that_the_reach_would_not_touch() -> None:
    """A wire 60 m past the pipe end in the NE corner's middle; the gun wets 40 m, throws 70 m."""
    house = Point(460 * math.sin(math.radians(45)), 460 * math.cos(math.radians(45)))
    wide = box(-600, -600, 600, 600)
    it = field(pivot(wetted_m=70.0), boundary=wide, keep_off=house)
    half = math.degrees(math.acos((R**2 + 460**2 - 70**2) / (2 * R * 460)))
    table = table_of(it)
    assert ends(table) == [pytest.approx((45 + half, 45 - half))]
    assert table.keep_off_m2 == pytest.approx(ring_m2(2 * half), rel=1e-6)
    assert table.setback_m2 == 0
    assert not table.full_radius_assumed
    # Nobody states the radius: reach / 0.75 = 53.3 m, which the house lies beyond.
    assumed = table_of(field(pivot(), boundary=wide, keep_off=house))
    assert assumed.full_radius_assumed
    assert assumed.full_radius_m == pytest.approx(40 / 0.75)
    assert ends(assumed) == [(None, None)]
    assert assumed.turn_pct == 100


def test_what_guns_keep_off_may_lie_outside_the_boundary() -> None:
    road = LineString([(410, -900), (410, 900)])
    table = table_of(field(pivot(wetted_m=60.0), keep_off=road))
    half = math.degrees(math.acos((410 - 60) / R))
    middle_east = [arc for arc in table.arcs if arc.start_deg < 180]  # type: ignore[operator]
    sweep = 90 - 2 * STOP
    assert half > STOP
    assert [arc.sweep_deg for arc in middle_east] == pytest.approx([90 - STOP - half] * 2)
    assert table.keep_off_m2 == pytest.approx(2 * ring_m2(sweep - (90 - STOP - half)), rel=1e-5)


def test_arcs_cut_short_are_dropped_and_listed() -> None:
    post = Point(430 * math.sin(math.radians(30)), 430 * math.cos(math.radians(30)))
    table = table_of(field(pivot(wetted_m=45.0), keep_off=post))
    (short,) = table.dropped
    assert short.start_deg == pytest.approx(STOP)
    assert short.sweep_deg < 5
    assert len(table.arcs) == 4
    none = table_of(field(pivot(wetted_m=45.0), keep_off=post, min_arc_deg=0.1))
    assert (len(none.arcs), none.dropped) == (5, ())


def test_stated_arcs_outside_the_boundary_are_told_with_their_ground() -> None:
    """Exact: the circle segment beyond a straight fence 400 m away."""
    table = table_of(field(pivot((Sector(start_deg=45, stop_deg=135),))))
    segment = GUN_R**2 * math.acos(R / GUN_R) - R * math.sqrt(GUN_R**2 - R**2)
    (throw,) = table.throws
    assert (throw.start_deg, throw.stop_deg) == (45, 135)
    assert throw.outside_m2 == pytest.approx(segment, rel=1e-4)
    assert (throw.excluded_m2, throw.guarded, throw.guarded_m2) == (0, (), 0)
    assert table.gained_m2 == pytest.approx(ring_m2(90) - segment, rel=1e-4)
    assert (table.setback_m2, table.keep_off_m2) == (None, None)


def test_stated_arcs_over_an_exclusion() -> None:
    yard = circle_polygon(290, 290, 8)
    table = table_of(field(pivot((Sector(start_deg=30, stop_deg=60),)), exclusions=yard))
    (throw,) = table.throws
    inside = shapely.intersection(yard, circle_polygon(0, 0, GUN_R) - circle_polygon(0, 0, R)).area
    assert throw.excluded_m2 == pytest.approx(inside, rel=1e-3)
    assert throw.outside_m2 == pytest.approx(0, abs=1)


def test_stated_arcs_within_reach_of_a_wire() -> None:
    wire = LineString([(-900, 450), (900, 450)])
    wide = box(-600, -600, 600, 600)
    half = math.degrees(math.acos((450 - 70) / R))
    table = table_of(field(pivot("always", wetted_m=70.0), boundary=wide, keep_off=wire))
    (throw,) = table.throws
    assert turned(throw.guarded) == [pytest.approx((360 - half, half))]
    assert throw.guarded_m2 == pytest.approx(ring_m2(2 * half), rel=1e-6)
    stated = (Sector(start_deg=350, stop_deg=5), Sector(start_deg=90, stop_deg=100))
    (throw,) = table_of(field(pivot(stated, wetted_m=70.0), boundary=wide, keep_off=wire)).throws
    assert throw.guarded == (Sector(start_deg=350, stop_deg=5),)


def test_within_a_sector_shares_are_of_its_own_turn() -> None:
    wire = LineString([(-900, 450), (900, 450)])
    sector = Sector(start_deg=270, stop_deg=90)
    machine = pivot("always", wetted_m=70.0, sector=sector)
    table = table_of(field(machine, boundary=box(-600, -600, 600, 600), keep_off=wire))
    assert table.turn_pct == pytest.approx(100)
    half = math.degrees(math.acos(380 / R))
    assert turned(table.throws[0].guarded) == [pytest.approx((360 - half, half))]


def test_sound_stated_arcs_are_not_warned_of() -> None:
    table = table_of(field(pivot((Sector(start_deg=40, stop_deg=50),))))
    assert table.throws == ()


def test_bends_lie_inside_the_base_radius_and_take_nothing_from_the_gun() -> None:
    sector = Sector(start_deg=0, stop_deg=350)
    wide = box(-700, -700, 700, 700)
    bend = Bend(tower=1, at="stop", sweep_deg=180)
    it = field(pivot("always", sector=sector, bends=(bend,)), boundary=wide)
    layout = lay_out(it).pivots[0]
    assert shapely.intersection(layout.gun, layout.bends).area < 0.5
    assert table_of(it).gained_m2 == pytest.approx(ring_m2(350), rel=1e-9)


ARM = CornerArm(
    length_m=80,
    overhang_m=10,
    throw_m=5,
    side="trailing",
    fold_deg=80,
    open_deg=165,
    end_gun=EndGun(reach_m=30),
)


def armed(arcs: object = "auto") -> Pivot:
    gun = replace(ARM.end_gun, arcs=arcs)  # type: ignore[type-var]
    return Pivot(
        name="Creek pivot", x_m=0, y_m=0, spans_m=(175.0, 175.0), corner_arm=replace(ARM, end_gun=gun)
    )


def test_the_gun_of_a_corner_arm_has_a_table_too() -> None:
    it = field(armed(), setback_m=10.0, keep_off=LineString([(-600, -385), (600, -385)]))
    layout = lay_out(it)
    (table,) = gun_tables(layout)
    assert table.on_arm
    assert table.gained_m2 == pytest.approx(layout.pivots[0].corner_arm.gun.area, rel=1e-6)  # type: ignore[union-attr]
    assert table.keep_off_m2 is not None
    assert table.keep_off_m2 > 50
    assert table.setback_m2 is not None
    assert table.setback_m2 > 0


def test_stated_arcs_of_an_arms_gun_are_checked() -> None:
    """Always on, in a square that the arm opens into only at its corners, it throws over all four fences."""
    table = table_of(field(armed("always"), keep_off=Point(0, 420)))
    (throw,) = table.throws
    assert (throw.start_deg, throw.stop_deg) == (None, None)
    assert throw.outside_m2 > 1000
    assert len(throw.guarded) == 1


def test_without_a_gun_there_is_no_table() -> None:
    plain = Pivot(name="P", x_m=0, y_m=0, spans_m=(300.0,))
    assert gun_tables(lay_out(field(plain))) == ()


# What is printed and what goes out as JSON.


def test_text_holds_every_number_once_in_both_kinds_of_degrees() -> None:
    table = table_of(field(pivot(panel_zero_deg=90.0), setback_m=12.0))
    text = gun_text([table], US, width=None, without=["Creek pivot"])
    assert "Windmill pivot (Quarter): end gun at the pipe end" in text
    start = math.degrees(math.acos((R - 12) / GUN_R))
    row = next(line for line in text.splitlines() if line.startswith(f"{start:.1f} "))
    assert row.split()[:4] == [
        f"{start:.1f}",
        f"{90 - start:.1f}",
        f"{start + 270:.1f}",
        f"{360 - start:.1f}",
    ]
    assert f"{table.gained_m2 / ACRE_M2:.2f}" in text
    assert f"Given up to the setback of 39 ft: {table.setback_m2 / ACRE_M2:.2f} acres" in text  # type: ignore[operator]
    assert "(assumed: reach / 0.75)" in text
    assert "Not in this table: wind" in text
    assert "the gun's fan" in text
    assert "No end gun: Creek pivot." in text


def test_a_panel_without_an_angle_is_said() -> None:
    table = table_of(field(pivot(panel_zero_deg=None)))
    assert "There is no angle on this panel." in gun_text([table], US, width=None)
    record = gun_record("Farm", [table], US)["guns"][0]
    assert record["arcs"][0]["start_panel_deg"] is None
    assert record["arcs"][0]["start_deg"] == pytest.approx(STOP)


def test_warnings_are_printed_with_acres() -> None:
    it = field(
        pivot("always", wetted_m=70.0), keep_off=Point(0, 450), exclusions=circle_polygon(290, 290, 20)
    )
    table = table_of(it)
    text = gun_text([table], US, width=None)
    (throw,) = table.throws
    outside = f"throws {throw.outside_m2 / ACRE_M2:.2f} acres outside the boundary"
    assert f"WARNING: on all of its turn it {outside}" in text
    half = math.degrees(math.acos((R**2 + 450**2 - 70**2) / (2 * R * 450)))
    at = f"{360 - half:.1f} to {half:.1f}"
    assert f"acres on exclusions, reaches something to keep off at {at} (" in text
    (line,) = machine_warnings([lay_out(it)], US)
    assert line.startswith("Windmill pivot, end gun: WARNING: on all of its turn it throws")


def test_a_gun_that_runs_nowhere_says_so() -> None:
    table = table_of(field(pivot(), min_arc_deg=80))
    text = gun_text([table], US, width=None)
    assert "It runs nowhere." in text
    assert "Left out, shorter than 80 deg: 24.6 to 65.4, " in text
    assert table.gained_m2 == 0


def test_narrow_terminals_wrap_words_and_keep_numbers_whole() -> None:
    table = table_of(field(pivot("always", name="A very long name of a pivot " * 4)))
    lines = gun_text([table], US, width=80).splitlines()
    assert max(map(len, lines)) <= 80


def test_record_of_a_metric_farm_is_in_metres_and_hectares() -> None:
    table = table_of(field(pivot(wetted_m=70.0), setback_m=12.0))
    record = gun_record("Farm", [table], METRIC)
    (gun,) = record["guns"]
    assert gun["reach_m"] == pytest.approx(40)
    assert gun["wetted_radius_m"] == 70
    assert gun["setback_m"] == 12
    assert gun["given_up_setback_ha"] == pytest.approx(table.setback_m2 / 1e4)  # type: ignore[operator]
    assert gun["arcs"][0]["gained_ha"] == pytest.approx(table.arcs[0].gained_m2 / 1e4)
    assert not [key for key in (*gun, *gun["arcs"][0]) if key.endswith(("_ft", "acres"))]
    assert any("wind" in text for text in record["not_modelled"])

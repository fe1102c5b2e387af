"""What follows from where flags are, on a farm with a bit of everything, built by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
import shapely
from shapely import box

from ringrow.coverage.accuracy import Accuracy
from ringrow.coverage.field import Field, FieldLayout
from ringrow.coverage.layout import lay_out
from ringrow.equipment.corner_arm import Bend, CornerArm
from ringrow.equipment.drip import DripBlock
from ringrow.equipment.lateral_move import LateralMove, Wing
from ringrow.equipment.pivot import Pivot, Sector
from ringrow.equipment.well import Well
from ringrow.farm.flag_model import FlagState, GroundSpot, LocatedFlag, MachineSpot, MoveSpot, WellSpot
from ringrow.farm.flag_places import locate_flags, surroundings_of
from ringrow.farm.model import Farm
from ringrow.farm.readers.rows import PointRow
from ringrow.frame import Frame
from ringrow.handoff.fault_words import flag_notes
from ringrow.handoff.flag_history import flag_sheet
from ringrow.handoff.flag_table import by_class, flag_record, system_of
from ringrow.handoff.place_words import flag_words
from ringrow.units import METRIC, US

if TYPE_CHECKING:
    from collections.abc import Sequence

FRAME = Frame(lon=-101.5, lat=36.75)
FIX = Accuracy(radius_m=5.0, kind="r95")
NOON = datetime(2026, 4, 2, 18, tzinfo=UTC)


def pivot(name: str, x: float, y: float, **more: Any) -> Pivot:
    plain: dict[str, Any] = {"spans_m": (50.0,) * 4, "overhang_m": 10.0, "throw_m": 5.0}
    return Pivot(name=name, x_m=x, y_m=y, convergence_deg=FRAME.convergence_deg(x, y), **(plain | more))


HOME = Field(
    name="Home",
    frame=FRAME,
    boundary=box(-1200, -600, 1200, 600),
    pivots=(
        pivot("Plain", -900, 0, top_speed_m_per_h=209.43951023931953, panel_zero_deg=90.0),
        pivot(
            "Part", -400, 0, sector=Sector(start_deg=0, stop_deg=180),
            bends=(Bend(tower=2, at="stop", sweep_deg=60),),
        ),
        pivot("Tow at point 1", 100, 300, machine="Tow"),
        pivot("Tow at point 2", 100, -300, machine="Tow"),
        pivot(
            "Arm", 800, 0, overhang_m=0.0, throw_m=0.0,
            corner_arm=CornerArm(length_m=60.0, overhang_m=8.0, side="trailing", fold_deg=90, open_deg=165),
        ),
    ),
)  # fmt: skip
DITCH = Field(
    name="Ditch",
    frame=FRAME,
    boundary=box(-1200, -1400, 1200, -700),
    lateral_moves=(
        LateralMove(
            name="Move", path_m=((-500.0, -1000.0), (-100.0, -1000.0)),
            left=Wing(spans_m=(50.0, 50.0), overhang_m=8.0, throw_m=4.0), right=Wing(spans_m=(50.0,)),
        ),
    ),
    drip=(
        DripBlock(
            name="Tape", area=box(200, -1000, 600, -900), heading_deg=90.0, spacing_m=2.0,
            number_from_deg=0.0, header_deg=270.0,
        ),
    ),
)  # fmt: skip
WELLS = (
    Well(name="Big well", lon=-101.4, lat=36.75, serves=("Plain", "Move", "Tape")),
    Well(name="Tow well", lon=-101.4, lat=36.76, serves=("Tow",)),
    Well(name="Idle well", lon=-101.4, lat=36.77),
)
FARM = Farm(folder=Path(), name="Test farm", units=METRIC, wells=WELLS, fields=(HOME, DITCH))
LAYOUTS = [lay_out(HOME), lay_out(DITCH)]


def xy(x: float, y: float, *, accuracy: Accuracy = FIX, timed: bool = False) -> GroundSpot:
    lon, lat = FRAME.to_lonlat(x, y)
    return GroundSpot(lon=float(lon), lat=float(lat), accuracy=accuracy, timed=timed)


def on(name: str, distance: float, azimuth: float, *, timed: bool = False) -> GroundSpot:
    """A fix on a pivot: so far out, on a true azimuth."""
    (machine,) = (each for each in HOME.pivots if each.name == name)
    line = shapely.affinity.rotate(
        shapely.LineString([(0, 0), (0, distance)]), -(azimuth + machine.convergence_deg), origin=(0, 0)
    )
    end = line.coords[-1]
    return xy(machine.x_m + end[0], machine.y_m + end[1], timed=timed)


def state(number: int, kind: str, spot: Any, **changes: Any) -> FlagState:
    plain: dict[str, Any] = {
        "id": f"00000000-0000-4000-8000-{number:012d}",
        "number": number,
        "kind": kind,
        "status": "open",
        "name": "",
        "note": "",
        "spot": spot,
        "flag_class": None,
        "set_at": NOON,
        "set_by": "",
    }
    return FlagState(**(plain | changes))


def located(states: Sequence[FlagState], layouts: Sequence[FieldLayout] = LAYOUTS) -> list[LocatedFlag]:
    return locate_flags(FARM, layouts, states)


def one(kind: str, spot: Any, **changes: Any) -> LocatedFlag:
    return located([state(1, kind, spot, **changes)])[0]


def area(*names: str) -> float:
    """Ground that systems wet, by shapely's union alone."""
    total = 0.0
    for layout in LAYOUTS:
        shapes = [laid.wetted for laid in layout.systems if laid.name in names]
        total += shapely.intersection(layout.farmable, shapely.union_all(shapes)).area
    return total


def test_a_well_that_stops_carries_all_it_serves() -> None:
    flag = one("pump", WellSpot(well="Big well"))
    assert flag.footprint is not None
    assert flag.footprint.effect == "stopped"
    assert flag.footprint.area_m2 == pytest.approx(area("Plain", "Move", "Tape"), rel=1e-9)
    assert one("meter", WellSpot(well="Big well")).footprint is None
    assert one("pump", WellSpot(well="Idle well")).footprint is None
    assert one("pump", WellSpot(well="Gone well")).footprint is None
    assert one("panel", WellSpot(well="Big well")).footprint == flag.footprint


def test_a_towed_machine_counts_where_it_is_else_everywhere() -> None:
    said = MachineSpot(pivot="Tow at point 1", said="tower 2", tower=2)
    at_one = one("gearbox", said)
    assert at_one.footprint is not None
    assert at_one.footprint.area_m2 == pytest.approx(area("Tow at point 1"), rel=1e-9)
    anywhere = one("gearbox", MachineSpot(pivot="Tow", said="tower 2", tower=2))
    assert anywhere.footprint is not None
    assert anywhere.footprint.area_m2 == pytest.approx(area("Tow at point 1", "Tow at point 2"), rel=1e-9)
    assert (anywhere.lon, anywhere.field, system_of(anywhere)) == (None, "Home", "Tow")
    assert flag_words(anywhere, METRIC) == "Tow: tower 2, 100.0 m from the pivot point"
    well = one("pump", WellSpot(well="Tow well"))
    assert well.footprint is not None
    assert well.footprint.area_m2 == pytest.approx(anywhere.footprint.area_m2, rel=1e-9)


def test_a_towed_machine_known_to_stand_counts_there() -> None:
    pivots = [replace(p, parked_deg=45.0) if p.name == "Tow at point 2" else p for p in HOME.pivots]
    layouts = [lay_out(replace(HOME, pivots=tuple(pivots))), LAYOUTS[1]]
    for spot in (MachineSpot(pivot="Tow", said="tower 2", tower=2), WellSpot(well="Tow well")):
        (flag,) = located([state(1, "gearbox" if isinstance(spot, MachineSpot) else "pump", spot)], layouts)
        assert flag.footprint is not None
        assert flag.footprint.area_m2 == pytest.approx(area("Tow at point 2"), rel=1e-9)
    (flag,) = located(
        [state(1, "drop", MachineSpot(pivot="Tow", said="x", tower=2, azimuth_deg=45.0))], layouts
    )
    assert flag.pivot is not None
    assert flag.pivot.name == "Tow at point 2"
    assert flag.lon is not None


def test_an_outlet_of_a_towed_machine_of_unknown_whereabouts_touches_no_known_ground() -> None:
    assert one("drop", MachineSpot(pivot="Tow", said="tower 2", tower=2)).footprint is None


def test_acres_of_a_part_and_of_a_class_set_for_this_flag_alone() -> None:
    drop = one("drop", on("Plain", 150.0, 33.0))
    assert drop.footprint is not None
    assert drop.footprint.effect == "dry"
    assert one("drop", on("Plain", 150.0, 33.0), flag_class="stops").footprint.area_m2 == pytest.approx(  # type: ignore[union-attr]
        area("Plain"), rel=1e-9
    )
    assert one("gearbox", on("Plain", 150.0, 33.0), flag_class="later").footprint is None
    assert one("cover", on("Plain", 150.0, 33.0)).footprint is None
    assert one("leak", xy(300.0, -950.0)).footprint is None


def test_a_hole_that_stops_a_machine_carries_its_ground() -> None:
    rut = one("rut", on("Plain", 100.3, 33.0), flag_class="stops")
    assert rut.footprint is not None
    assert rut.footprint.area_m2 == pytest.approx(area("Plain"), rel=1e-9)
    assert rut.pivot is None
    assert one("rut", on("Plain", 125.0, 33.0), flag_class="stops").footprint is None


def test_a_burrow_on_a_track_names_the_wheels() -> None:
    flag = one("burrow", on("Plain", 100.5, 118.5))
    assert [(met.tower, met.sure) for met in flag.meets] == [(2, True)]
    assert flag_notes(flag, METRIC) == ["wheels of tower 2 meet it at azimuth 118.5 (panel 28.5)"]
    maybe = one("burrow", on("Plain", 103.0, 118.5))
    assert flag_notes(maybe, METRIC) == ["wheels of tower 2 may meet it at azimuth 118.5 (panel 28.5)"]
    assert one("burrow", on("Plain", 125.0, 118.5)).meets == ()
    record = flag_record(flag, US)
    assert record["wheels_meet"][0]["tower"] == 2
    assert record["wheels_meet"][0]["words"].startswith("wheels of tower 2 meet it at")


def test_two_machines_whose_wheels_meet_it_are_both_named() -> None:
    twice = replace(HOME, pivots=(HOME.pivots[0], pivot("Other", -700.0, 0.0)))
    (flag,) = located([state(1, "rut", xy(-800.0, 0.3))], [lay_out(twice)])
    assert sorted(note.split(" at ")[0] for note in flag_notes(flag, METRIC)) == [
        "Other: wheels of tower 2 meet it",
        "Plain: wheels of tower 2 meet it",
    ]


def walk(*steps: tuple[str, float, float, float | None]) -> list[LocatedFlag]:
    """Flags by name of pivot, azimuth, distance, minutes after noon; None = no known time."""
    return located(
        [
            state(
                number,
                "gearbox",
                on(name, distance, azimuth, timed=minutes is not None),
                set_at=NOON + timedelta(minutes=minutes or 0),
            )
            for number, (name, azimuth, distance, minutes) in enumerate(steps, 1)
        ]
    )


def test_a_flag_no_walk_can_have_passed_is_in_doubt() -> None:
    """60 degrees an hour, a degree a minute."""
    flags = walk(("Plain", 40, 190, 0), ("Plain", 45, 140, 6), ("Plain", 120, 150, 8), ("Plain", 52, 100, 14))
    assert [flag.doubt is not None for flag in flags] == [False, False, True, False]
    text = flag_record(flags[2], US)["doubt"]
    assert "probably a fault on the ground or the wrong pivot" in text
    assert "by flag 2" in text
    assert text in flag_notes(flags[2], US)
    assert text in flag_sheet(flags[2], [], US)
    assert flag_record(flags[0], US)["doubt"] is None


def test_typed_in_flags_have_no_time_of_their_own() -> None:
    flags = walk(("Plain", 40, 190, None), ("Plain", 120, 150, None), ("Plain", 40, 190, 0))
    assert [flag.doubt for flag in flags] == [None, None, None]


def test_what_was_no_fault_proves_nothing() -> None:
    states = [
        state(1, "gearbox", on("Plain", 190, 40, timed=True)),
        state(2, "gearbox", on("Plain", 190, 120, timed=True), status="not-a-fault"),
    ]
    assert [flag.doubt for flag in located(states)] == [None, None]


def test_a_round_over_midnight_in_greenwich_is_one_round() -> None:
    """At 101.5 W the sun is 6 h 46 min behind: 23:55 and 00:05 UTC are one afternoon."""
    evening = datetime(2026, 4, 2, 23, 55, tzinfo=UTC)
    states = [
        state(1, "gearbox", on("Plain", 190, 40, timed=True), set_at=evening),
        state(2, "gearbox", on("Plain", 190, 120, timed=True), set_at=evening + timedelta(minutes=10)),
    ]
    assert all(flag.doubt is not None for flag in located(states))
    day_later = [
        states[0],
        state(2, "gearbox", on("Plain", 190, 120, timed=True), set_at=evening + timedelta(hours=24)),
    ]
    assert not any(flag.doubt for flag in located(day_later))


def test_bends_and_arms_say_nothing_about_the_main_pipe() -> None:
    # 30 degrees past the stop about tower 2: south of the pivot point, turned on to the west.
    bent = xy(-400 - 70 * 0.5, -100 - 70 * 0.8660254, timed=True)
    states = [
        state(1, "tire", bent),
        state(2, "tire", on("Part", 190, 20, timed=True)),
        state(3, "tire", on("Arm", 240, 20, timed=True)),
        state(4, "tire", on("Arm", 190, 170, timed=True)),
    ]
    flags = located(states)
    assert flags[0].pivot is not None
    assert flags[0].pivot.bend is not None
    # 170 m along the pipe.
    assert flags[0].pivot.tower == 3
    assert flags[2].pivot is not None
    assert flags[2].pivot.arm is not None
    assert [flag.doubt for flag in flags] == [None] * 4
    assert "into the bend" in flag_words(flags[0], METRIC)
    assert "corner arm" in flag_words(flags[2], METRIC)
    assert flag_record(flags[0], US)["bend"]["at"] == "stop"
    assert flag_record(flags[2], US)["arm"]["along_ft"] > 0


def test_where_a_part_circle_never_walks_a_machine_flag_is_in_doubt() -> None:
    flag = one("gearbox", on("Part", 150, 300))
    assert flag.pivot is not None
    assert flag.doubt is not None
    assert flag.doubt.reason == "sector"
    assert (flag.doubt.other_deg, round(flag.doubt.apart_deg, 6)) == (0.0, 60.0)
    assert one("gearbox", on("Part", 190, 359)).doubt is None


def test_a_machine_part_on_a_lateral_move() -> None:
    flag = one("tire", xy(-300.0, -900.5))
    assert flag.move is not None
    assert (flag.pivot, system_of(flag), flag.field) == (None, "Move", "Ditch")
    assert flag_words(flag, METRIC) == (
        "Move: left tower 2, 0.5 m inside its wheel track, 99.5 m from the cart, travel 200.0 m"
    )
    record = flag_record(flag, METRIC)
    assert (record["side"], record["tower"], record["part"]) == ("left", 2, "span")
    assert record["travel_m"] == pytest.approx(200.0, abs=1e-6)
    assert record["cart_m"] == pytest.approx(99.5, abs=1e-6)
    assert record["touched_ha"] == pytest.approx(area("Move") / 1e4, rel=1e-9)
    # Just past the wet end it is still this machine's.
    near = one("tire", xy(-300.0, -1000 + 112 + 3))
    assert near.move is not None
    assert not near.move.inside
    assert one("tire", xy(-300.0, -1000 + 112 + 9)).move is None


def test_a_place_said_on_a_lateral_move() -> None:
    said = MoveSpot(move="Move", said="left tower 2", side="left", offset_m=100, tower=2, travel_m=150.0)
    flag = one("tire", said)
    assert flag.lon is not None
    x, y = FRAME.to_xy(flag.lon, flag.lat)
    assert (float(x), float(y)) == (pytest.approx(-350, abs=1e-6), pytest.approx(-900, abs=1e-6))
    assert flag_words(flag, METRIC) == "Move: left tower 2, 100.0 m from the cart, travel 150.0 m"
    unknown = one("drop", MoveSpot(move="Move", said="left span 1", side="left", offset_m=25, span=1))
    assert (unknown.lon, unknown.field) == (None, "Ditch")
    assert unknown.footprint is not None
    assert unknown.footprint.area_m2 == pytest.approx(400 * 3.048, rel=1e-9)
    assert flag_notes(unknown, METRIC) == [
        "leaves 0.12 ha dry (outlets not known: strip taken as 10 ft (3.05 m) wide)"
    ]
    gone = one("tire", MoveSpot(move="Gone move", said="left tower 2", side="left", offset_m=100, tower=2))
    assert (gone.lon, gone.move, system_of(gone)) == (None, None, "Gone move")
    assert flag_words(gone, METRIC) == "no place known"


def test_ground_under_a_lateral_move_names_it() -> None:
    flag = one("burrow", xy(-300.0, -949.6))
    assert (flag.move, system_of(flag)) == (None, "Move")
    assert flag_words(flag, METRIC) == (
        "Ditch, wet: 200.0 m along Move's path, 50.4 m left of the cart, 0.4 m outside the track of tower 1"
    )
    assert flag_notes(flag, METRIC) == ["wheels of tower 1 left meet it at travel 200.0 m"]
    assert (flag_record(flag, METRIC)["side"], flag_record(flag, METRIC)["tower"]) == ("left", 1)


def test_the_list_goes_by_class_then_ground_touched() -> None:
    flags = located(
        [
            state(1, "drop", on("Plain", 50, 10)),
            state(2, "gearbox", on("Part", 150, 20)),
            state(3, "gearbox", on("Plain", 150, 10)),
            state(4, "rock", xy(0, 0)),
            state(5, "drop", on("Plain", 195, 10)),
            state(6, "cover", on("Plain", 195, 10)),
        ]
    )
    assert [flag.state.number for flag in by_class(flags)] == [6, 3, 2, 5, 1, 4]


def test_a_point_under_a_lateral_move_is_guessed_to_be_on_a_machine() -> None:
    spots = [xy(-300.0, -950.0), xy(0.0, -1300.0)]
    rows = [PointRow(what="row", lat=spot.lat, lon=spot.lon) for spot in spots]
    assert surroundings_of(FARM, LAYOUTS, rows) == ["pivot", ""]

"""Machines where they stand now, and their flags there; positions against geodesics."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from geographiclib.geodesic import Geodesic
from shapely import box

from ringrow.coverage.accuracy import Accuracy
from ringrow.coverage.field import Field
from ringrow.coverage.layout import lay_out
from ringrow.equipment.corner_arm import CornerArm
from ringrow.equipment.pivot import Pivot, Sector
from ringrow.errors import PlaceError
from ringrow.farm.flag_model import FlagState, GroundSpot, LocatedFlag, MachineSpot
from ringrow.farm.flag_places import locate_flags, parked_flags
from ringrow.farm.model import Farm
from ringrow.farm.parked import machine_line, not_standing, parked_lines, read_parked
from ringrow.frame import Frame
from ringrow.handoff.fault_words import flag_notes
from ringrow.handoff.flag_table import flag_record, line_record, line_sentence
from ringrow.handoff.place_words import flag_words
from ringrow.units import METRIC

FRAME = Frame(lon=-101.5, lat=36.75)


def pivot(name: str, x: float, y: float, **more: Any) -> Pivot:
    plain: dict[str, Any] = {"spans_m": (50.0,) * 4, "overhang_m": 10.0, "throw_m": 5.0}
    return Pivot(name=name, x_m=x, y_m=y, convergence_deg=FRAME.convergence_deg(x, y), **(plain | more))


ARM = CornerArm(length_m=60.0, overhang_m=8.0, side="trailing", fold_deg=90, open_deg=165)
FIELD = Field(
    name="Home",
    frame=FRAME,
    boundary=box(-1300, -700, 1300, 700),
    pivots=(
        pivot("Plain", -900, 0, parked_deg=41.0, panel_zero_deg=90.0),
        pivot("Part", -400, 0, sector=Sector(start_deg=20, stop_deg=180), panel_zero_deg=None),
        pivot("Tow at point 1", 100, 300, machine="Tow", panel_zero_deg=90.0),
        pivot("Tow at point 2", 100, -300, machine="Tow", parked_deg=180.0),
        pivot("Arm", 800, 0, overhang_m=0.0, throw_m=0.0, corner_arm=ARM),
    ),
)
FARM = Farm(folder=Path(), name="Test farm", units=METRIC, fields=(FIELD,))
LAYOUTS = [lay_out(FIELD)]


def laid(name: str):
    return next(each for each in LAYOUTS[0].pivots if each.name == name)


def geodesic(name: str, azimuth: float, distance: float) -> tuple[float, float]:
    machine = laid(name).pivot
    lon, lat = FRAME.to_lonlat(machine.x_m, machine.y_m)
    there = Geodesic.WGS84.Direct(float(lat), float(lon), azimuth, distance)
    return there["lat2"], there["lon2"]


def off_m(lat: float | None, lon: float | None, there: tuple[float, float]) -> float:
    assert lat is not None
    assert lon is not None
    return Geodesic.WGS84.Inverse(lat, lon, *there)["s12"]


def located(*spots: Any, kind: str = "gearbox", **changes: Any) -> list[LocatedFlag]:
    states = [
        FlagState(
            id=f"00000000-0000-4000-8000-{number:012d}", number=number, kind=kind, status="open", name="",
            note="", spot=spot, flag_class=None, set_at=datetime(2026, 4, 2, 18, tzinfo=UTC), set_by="",
            **changes,
        )
        for number, spot in enumerate(spots, 1)
    ]  # fmt: skip
    return locate_flags(FARM, LAYOUTS, states)


def fix(name: str, azimuth: float, distance: float, *, timed: bool = False) -> GroundSpot:
    lat, lon = geodesic(name, azimuth, distance)
    return GroundSpot(lon=lon, lat=lat, accuracy=Accuracy(radius_m=5, kind="r95"), timed=timed)


def test_every_tower_is_where_geographiclib_puts_it() -> None:
    line = machine_line(LAYOUTS[0], laid("Plain"), 400.0)
    assert (line.name, line.field, line.azimuth_deg, line.panel_deg) == ("Plain", "Home", 40.0, 310.0)
    assert [(point.what, point.tower, point.distance_m) for point in line.points] == [
        ("pivot point", None, 0.0),
        *[("tower", number, 50.0 * number) for number in range(1, 5)],
        ("pipe end", None, 210.0),
    ]
    for point in line.points:
        assert off_m(point.lat, point.lon, geodesic("Plain", 40.0, point.distance_m)) < 1e-4
    assert machine_line(LAYOUTS[0], laid("Part"), 30.0).panel_deg is None
    assert line_sentence(line) == "Plain stands at azimuth 40.0 (panel 310.0)"
    record = line_record(line, METRIC)
    assert record["points"][3] == {
        "what": "tower", "tower": 3, "pipe_m": 150.0, "lat": line.points[3].lat, "lon": line.points[3].lon,
    }  # fmt: skip


def test_a_corner_arm_stands_a_length_from_its_hinge() -> None:
    line = machine_line(LAYOUTS[0], laid("Arm"), 77.0)
    hinge, wheels, end = line.points[4:]
    assert [point.what for point in (hinge, wheels, end)] == ["tower", "arm wheels", "arm end"]
    assert off_m(wheels.lat, wheels.lon, (hinge.lat, hinge.lon)) == pytest.approx(60.0, abs=1e-4)
    assert off_m(end.lat, end.lon, (hinge.lat, hinge.lon)) == pytest.approx(68.0, abs=1e-4)


def test_machine_flags_go_where_the_machine_stands_and_keep_where_they_were_set() -> None:
    flags = located(fix("Plain", 120.0, 150.7), MachineSpot(pivot="Plain", said="tower 2", tower=2))
    moved = parked_flags(FARM, LAYOUTS, flags, {})
    assert off_m(moved[0].lat, moved[0].lon, geodesic("Plain", 41.0, 150.7)) < 1e-3
    assert (moved[0].set_lat, moved[0].set_lon) == (flags[0].lat, flags[0].lon)
    assert off_m(moved[1].lat, moved[1].lon, geodesic("Plain", 41.0, 100.0)) < 1e-3
    assert (moved[1].set_lat, moved[1].set_lon) == (None, None)
    assert moved[0].pivot is not None
    assert flags[0].pivot is not None
    assert moved[0].pivot.azimuth_deg == pytest.approx(41.0, abs=1e-9)
    assert (moved[0].pivot.tower, moved[0].pivot.tower_offset_m) == (3, flags[0].pivot.tower_offset_m)
    assert moved[0].place is not None
    assert moved[0].place.irrigated
    assert moved[0].footprint == flags[0].footprint
    assert "azimuth 41.0 (panel 311.0)" in flag_words(moved[0], METRIC)
    assert f"set at {flags[0].lat:.7f}, {flags[0].lon:.7f}" in flag_notes(moved[0], METRIC)[-1]
    record = flag_record(moved[0], METRIC)
    assert (record["set_lat"], record["set_lon"]) == (flags[0].lat, flags[0].lon)


def test_what_is_said_now_wins_over_the_farms_files() -> None:
    flags = located(fix("Plain", 120.0, 150.0), fix("Part", 60.0, 100.0))
    moved = parked_flags(FARM, LAYOUTS, flags, {"Plain": 200.0, "Part": 21.0})
    assert off_m(moved[0].lat, moved[0].lon, geodesic("Plain", 200.0, 150.0)) < 1e-3
    assert off_m(moved[1].lat, moved[1].lon, geodesic("Part", 21.0, 100.0)) < 1e-3


def test_a_towed_machine_takes_its_flags_along() -> None:
    said = MachineSpot(pivot="Tow at point 1", said="tower 3", tower=3, azimuth_deg=10.0)
    flags = located(fix("Tow at point 1", 300.0, 55.0), said)
    moved = parked_flags(FARM, LAYOUTS, flags, {})
    assert off_m(moved[0].lat, moved[0].lon, geodesic("Tow at point 2", 180.0, 55.0)) < 1e-3
    assert off_m(moved[1].lat, moved[1].lon, geodesic("Tow at point 2", 180.0, 150.0)) < 1e-3
    assert [flag.pivot and flag.pivot.name for flag in moved] == ["Tow at point 2"] * 2
    # A machine that stands at point 2 leaves the ground of point 2 dry.
    assert flags[0].footprint is not None
    assert moved[0].footprint is not None
    back = parked_flags(FARM, LAYOUTS, flags, {"Tow at point 1": 0.0})
    assert [flag.pivot and flag.pivot.name for flag in back] == ["Tow at point 1"] * 2


def test_a_flag_on_a_corner_arm_goes_with_the_arm() -> None:
    (flag,) = located(MachineSpot(pivot="Arm", said="wheels", tower=5, distance_m=260.0))
    assert flag.lat is None
    (moved,) = parked_flags(FARM, LAYOUTS, [flag], {"Arm": 77.0})
    wheels = machine_line(LAYOUTS[0], laid("Arm"), 77.0).points[5]
    assert off_m(moved.lat, moved.lon, (wheels.lat, wheels.lon)) < 1e-3
    assert moved.pivot is not None
    assert moved.pivot.arm is not None
    assert moved.pivot.arm.azimuth_deg == 77.0


def test_ground_flags_and_machines_that_stand_nowhere_known_stay() -> None:
    rut, part = located(fix("Plain", 120.0, 150.0), kind="rut")[0], located(fix("Part", 60.0, 100.0))[0]
    assert parked_flags(FARM, LAYOUTS, [rut, part], {}) == [rut, part]
    assert not_standing(LAYOUTS, [rut, part, part], {}) == ["Part"]
    assert not_standing(LAYOUTS, [rut, part], {"Part": 30.0}) == []


def test_what_cannot_be_on_the_machine_is_not_put_there() -> None:
    flags = located(
        fix("Plain", 120.0, 150.0, timed=True),
        fix("Plain", 41.0, 150.0, timed=True),
        fix("Plain", 41.0, 100.0, timed=True),
    )
    assert [flag.doubt is not None for flag in flags] == [True, False, False]
    moved = parked_flags(FARM, LAYOUTS, flags, {"Plain": 90.0})
    assert moved[0] == flags[0]
    assert moved[1].set_lat is not None


def test_a_doubt_stays_with_a_flag_that_may_have_been_walked_away_from() -> None:
    (flag,) = located(fix("Plain", 120.0, 150.0))
    assert flag.doubt is not None
    (moved,) = parked_flags(FARM, LAYOUTS, [flag], {})
    assert moved.doubt == flag.doubt
    assert off_m(moved.lat, moved.lon, geodesic("Plain", 41.0, 150.0)) < 1e-3


def test_lines_of_all_machines_that_stand_somewhere() -> None:
    names = [(line.name, line.azimuth_deg) for line in parked_lines(LAYOUTS, {"Tow at point 1": 5.0})]
    assert names == [("Plain", 41.0), ("Tow at point 1", 5.0)]
    twice = [replace(p, parked_deg=10.0) if p.machine else p for p in FIELD.pivots]
    layouts = [lay_out(replace(FIELD, pivots=tuple(twice)))]
    # It cannot stand at both its points: nobody knows.
    assert [line.name for line in parked_lines(layouts, {})] == ["Plain"]


def test_where_machines_stand_as_people_say_it() -> None:
    said = ["plain=41.5", "Tow at point 1=panel:300", "Part=19.5"]
    assert read_parked(FARM, said) == {"Plain": 41.5, "Tow at point 1": 30.0, "Part": 19.5}
    assert read_parked(FARM, ["Tow=12"]) == {"Tow at point 2": 12.0}
    assert read_parked(FARM, []) == {}


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("Plain", r'--parked: found "Plain"; allowed: "NAME=AZIMUTH" or "NAME=panel:DEGREES"'),
        ("=41", 'found "=41"; allowed'),
        ("Plan=41", r'--parked pivot: found "Plan"; allowed: .*; nearest: "Plain"'),
        ("Plain=north", r'--parked "Plain": found "north"; allowed: 0 or more and below 360 degrees'),
        ("Plain=360", 'found "360"; allowed'),
        ("Plain=nan", 'found "nan"; allowed'),
        ("Part=panel:40", 'found "panel:40"; allowed: an azimuth, its panel shows no angle'),
        ("Part=300", "found azimuth 300.0; allowed: 20 clockwise to 180, where it walks"),
    ],
)
def test_what_cannot_be_said_says_why(text: str, message: str) -> None:
    with pytest.raises(PlaceError, match=message):
        read_parked(FARM, [text])


def test_a_towed_machine_of_unknown_whereabouts_wants_its_point() -> None:
    nowhere = tuple(replace(p, parked_deg=None) for p in FIELD.pivots)
    farm = replace(FARM, fields=(replace(FIELD, pivots=nowhere),))
    with pytest.raises(PlaceError, match=r'found "Tow", which is towed .*: one of "Tow at point 1", "Tow at'):
        read_parked(farm, ["Tow=12"])

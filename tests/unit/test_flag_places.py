"""Where flags are on a farm: positions against geographiclib, belonging by hand."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from geographiclib.geodesic import Geodesic
from shapely import box

from ringrow.coverage.accuracy import Accuracy
from ringrow.coverage.field import Field
from ringrow.coverage.layout import lay_out
from ringrow.equipment.drip import DripBlock
from ringrow.equipment.pivot import Pivot
from ringrow.equipment.well import Well
from ringrow.errors import PlaceError
from ringrow.farm.flag_model import DripSpot, FlagState, GroundSpot, LocatedFlag, MachineSpot, WellSpot
from ringrow.farm.flag_places import check_near, kind_named, locate_flags, surroundings_of
from ringrow.farm.model import Farm
from ringrow.farm.readers.rows import PointRow
from ringrow.frame import Frame
from ringrow.handoff.flag_table import by_class, flag_record, flag_sentence, flag_table, system_of
from ringrow.units import METRIC, US

FRAME = Frame(lon=-101.5, lat=36.75)
X_M, Y_M = -500.0, 120.0
# A pivot of 150 m reach in the west of a field, a drip block in its east.
FIELD = Field(
    name="Split quarter",
    frame=FRAME,
    boundary=box(-800.0, -300.0, 300.0, 400.0),
    pivots=(
        Pivot(
            name="West pivot",
            x_m=X_M,
            y_m=Y_M,
            convergence_deg=FRAME.convergence_deg(X_M, Y_M),
            spans_m=(50.0, 50.0),
            overhang_m=40.0,
            throw_m=10.0,
            panel_zero_deg=90.0,
        ),
    ),
    drip=(
        DripBlock(
            name="East drip",
            area=box(0.0, 0.0, 200.0, 100.0),
            heading_deg=90.0,
            spacing_m=2.0,
            number_from_deg=0.0,
            header_deg=270.0,
        ),
    ),
)
WELL = Well(
    name="Home well",
    lon=float(FRAME.to_lonlat(250.0, -100.0)[0]),
    lat=float(FRAME.to_lonlat(250.0, -100.0)[1]),
)
FARM = Farm(
    folder=Path(), name="Test farm", units=METRIC, wells=(WELL,), fields=(FIELD,), gate=(-101.49, 36.75)
)
LAYOUTS = [lay_out(FIELD)]
FIX = Accuracy(radius_m=5.0, kind="r95")


def at(x: float, y: float, accuracy: Accuracy = FIX) -> GroundSpot:
    lon, lat = FRAME.to_lonlat(x, y)
    return GroundSpot(lon=float(lon), lat=float(lat), accuracy=accuracy)


def locate(kind: str, spot: Any, **changes: Any) -> LocatedFlag:
    plain: dict[str, Any] = {
        "id": "00000000-0000-4000-8000-000000000001",
        "number": 1,
        "kind": kind,
        "status": "open",
        "name": "",
        "note": "",
        "spot": spot,
        "flag_class": None,
        "set_at": datetime(2026, 4, 2, tzinfo=UTC),
        "set_by": "",
    }
    (flag,) = locate_flags(FARM, LAYOUTS, [FlagState(**{**plain, **changes})])
    return flag


def test_a_tower_with_a_known_azimuth_is_where_geographiclib_puts_it() -> None:
    flag = locate("tire", MachineSpot(pivot="West pivot", said="tower 2", tower=2, azimuth_deg=41.0))
    assert flag.lon is not None
    assert flag.lat is not None
    lon, lat = FRAME.to_lonlat(X_M, Y_M)
    there = Geodesic.WGS84.Direct(float(lat), float(lon), 41.0, 100.0)
    off = Geodesic.WGS84.Inverse(flag.lat, flag.lon, there["lat2"], there["lon2"])["s12"]
    assert off < 1e-4
    assert flag.pivot is not None
    assert (flag.pivot.tower, flag.pivot.azimuth_deg, flag.pivot.panel_deg) == (2, 41.0, 311.0)
    assert flag.field == "Split quarter"


def test_a_tower_without_an_azimuth_has_a_place_on_the_machine_but_no_position() -> None:
    flag = locate("tire", MachineSpot(pivot="West pivot", said="tower 2", tower=2))
    assert (flag.lon, flag.lat, flag.place) == (None, None, None)
    assert flag.pivot is not None
    assert (flag.pivot.tower, flag.pivot.tower_offset_m, flag.pivot.distance_m) == (2, 0.0, 100.0)
    assert flag.pivot.azimuth_deg is None
    assert flag.field == "Split quarter"


def test_the_pivot_point_itself_has_a_position_whatever_the_azimuth() -> None:
    flag = locate("collector-ring", MachineSpot(pivot="West pivot", said="pivot point", distance_m=0.0))
    assert flag.lon is not None
    x, y = FRAME.to_xy(flag.lon, flag.lat)
    assert (float(x), float(y)) == (pytest.approx(X_M, abs=1e-6), pytest.approx(Y_M, abs=1e-6))


def test_a_machine_part_by_position_belongs_to_the_pivot_that_wets_the_place() -> None:
    flag = locate("gearbox", at(X_M + 51.0, Y_M))
    assert flag.pivot is not None
    assert (flag.pivot.name, flag.pivot.tower) == ("West pivot", 1)
    assert flag.pivot.tower_offset_m == pytest.approx(1.0, abs=1e-6)
    assert flag.drip is None


@pytest.mark.parametrize(("beyond_m", "belongs"), [(-0.5, True), (6.0, True), (6.3, False)])
def test_past_the_water_a_machine_part_belongs_within_three_sigma(beyond_m: float, belongs: bool) -> None:
    # R95 of 5 m is a sigma of 2.0427 m: three of them are 6.128 m past the reach of 150 m.
    flag = locate("structure", at(X_M, Y_M - 150.0 - beyond_m))
    assert (flag.pivot is not None) == belongs
    assert flag.field == "Split quarter"


def test_also_outside_every_field_a_machine_part_belongs_within_three_sigma() -> None:
    pivot = Pivot(name="Edge pivot", x_m=-650.0, y_m=Y_M, spans_m=(150.0,))
    layouts = [lay_out(Field(name="F", frame=FRAME, boundary=FIELD.boundary, pivots=(pivot,)))]
    farm = Farm(folder=Path(), name="T", units=US, fields=(layouts[0].field,))
    state = locate("structure", at(-803.0, Y_M)).state
    (flag,) = locate_flags(farm, layouts, [state])
    assert flag.field is None
    assert flag.pivot is not None
    assert flag.pivot.name == "Edge pivot"


def test_a_ground_flag_on_tape_is_placed_along_it() -> None:
    flag = locate("leak", at(60.0, 98.8))
    assert flag.drip is not None
    assert (flag.drip.name, flag.drip.lateral, flag.pivot) == ("East drip", 1, None)
    assert flag.drip.station_m == pytest.approx(60.0, abs=1e-6)
    # Edge at 100 m, lateral 1 a metre inside it: 98.8 m lies 0.2 m toward higher numbers.
    assert flag.drip.offset_m == pytest.approx(0.2, abs=1e-6)


def test_a_ground_flag_on_dry_ground_belongs_to_no_system() -> None:
    flag = locate("rock", at(-100.0, -200.0))
    assert (flag.pivot, flag.drip, flag.well, flag.field) == (None, None, None, "Split quarter")
    assert system_of(flag) is None
    assert flag_record(flag, US)["irrigated"] is False


def test_a_ground_flag_under_a_pivot_keeps_the_ground_and_names_the_pivot() -> None:
    flag = locate("rut", at(X_M, Y_M - 100.0))
    record = flag_record(flag, US)
    assert flag.pivot is None
    assert (record["system"], record["tower"], record["irrigated"]) == ("West pivot", 2, True)
    assert record["distance_ft"] == pytest.approx(100.0 / 0.3048, abs=1e-5)


def test_a_place_said_on_tape_has_a_position() -> None:
    flag = locate("leak", DripSpot(drip="East drip", lateral=3, station_m=40.0))
    assert flag.lon is not None
    x, y = FRAME.to_xy(flag.lon, flag.lat)
    assert (float(x), float(y)) == (pytest.approx(40.0, abs=1e-6), pytest.approx(95.0, abs=1e-6))
    record = flag_record(flag, METRIC)
    assert (record["lateral"], record["station_m"], record["elsewhere"]) == (3, pytest.approx(40.0), 0.0)
    assert record["candidates"] == [{"lateral": 3, "chance": 1.0}]


def test_works_said_or_found_at_a_well_sit_at_it() -> None:
    said = locate("pump", WellSpot(well="Home well"))
    assert (said.well, said.field, said.lon, said.lat) == ("Home well", None, WELL.lon, WELL.lat)
    found = locate("battery", at(250.0, -71.0))
    assert (found.well, found.field) == ("Home well", "Split quarter")
    assert locate("battery", at(250.0, -69.0)).well is None
    assert locate("rock", at(250.0, -100.0)).well is None


def test_works_at_a_pivot_point_sit_at_the_pivot() -> None:
    flag = locate("panel", at(X_M + 3.0, Y_M))
    assert flag.pivot is not None
    assert flag.pivot.name == "West pivot"


@pytest.mark.parametrize(
    "spot",
    [
        MachineSpot(pivot="Gone pivot", said="tower 2", tower=2),
        DripSpot(drip="Gone drip", lateral=1, station_m=0.0),
        DripSpot(drip="East drip", lateral=999, station_m=0.0),
        WellSpot(well="Gone well"),
        None,
    ],
)
def test_a_flag_whose_place_is_gone_is_still_listed(spot: Any) -> None:
    flag = locate("leak", spot)
    assert (flag.lon, flag.pivot, flag.drip, flag.place) == (None, None, None, None)
    record = flag_record(flag, US)
    assert record["number"] == 1
    assert flag_sentence(flag, US).startswith("flag 1: leak (wastes), open; ")


def test_a_kind_the_farm_does_not_know_has_the_words_of_other_ground() -> None:
    flag = locate("coyote den", at(0.0, 0.0))
    assert (flag.kind.name, flag.kind.words, flag.flag_class) == (
        "coyote den",
        "something else on the ground",
        "later",
    )


def test_the_class_of_a_flag_may_differ_from_its_kind() -> None:
    flags = [locate("rock", at(0, 0), number=1), locate("rock", at(0, 0), number=2, flag_class="unsafe")]
    assert [flag.state.number for flag in by_class(flags)] == [2, 1]


def test_the_record_has_the_keys_of_the_output_in_the_farms_units() -> None:
    expected = [
        *("id", "number", "kind", "on", "status", "class", "field", "lat", "lon", "name", "note"),
        *("set_at", "set_by", "clashes", "parts", "photo_files", "ground_flag", "place", "system"),
        *("distance_ft", "azimuth_deg", "panel_deg"),
        *("span", "tower", "tower_offset_ft", "outlet", "outlet_range", "outlet_chance", "zone"),
        *("lateral", "piece", "offset_in", "station_ft", "emitter", "candidates", "elsewhere"),
        *("irrigated", "farmable", "pipe_ft", "bend", "arm", "part", "side", "cart_ft", "travel_ft"),
        *("touches", "touched_acres", "touched_assumed", "wheels_meet", "doubt", "set_lat", "set_lon"),
        *("rebuilt", "joined"),
    ]
    flag = locate("rock", at(0, 0))
    assert list(flag_record(flag, US)) == expected
    metric = {"offset_in": "offset_mm", "touched_acres": "touched_ha"}
    renamed = [metric.get(key, key.removesuffix("_ft") + "_m" * key.endswith("_ft")) for key in expected]
    assert list(flag_record(flag, METRIC)) == renamed


def test_the_table_fits_eighty_columns_and_takes_text_as_text() -> None:
    note = "[red]=cmd|x\n\x1b[2Jlong " + "words " * 40
    flag = locate("rut", at(X_M, Y_M - 100.0), note=note)
    table = flag_table([flag], US, width=80)
    assert max(len(line) for line in table.splitlines()) <= 80
    assert "[red]=cmd|x" in table
    assert "\x1b" not in table
    plain = flag_table([flag], US, width=None).splitlines()
    assert len(plain) == 2
    assert plain[0].split() == [
        *("No.", "Class", "Kind", "Status", "Touches", "Where", "What", "was", "said"),
    ]
    assert "\x1b" not in plain[1]


def test_what_a_point_lies_on_is_told_for_guessing() -> None:
    spots = [at(X_M, Y_M), at(60.0, 50.0), at(250.0, -100.0), at(-100.0, -200.0)]
    rows = [PointRow(what="row", lat=spot.lat, lon=spot.lon) for spot in spots]
    rows.append(PointRow(what="row", lat=None, lon=None))
    assert surroundings_of(FARM, LAYOUTS, rows) == ["pivot", "drip", "well", "", ""]
    assert surroundings_of(FARM, LAYOUTS, rows[-1:]) == [""]


def test_a_position_far_from_the_farm_is_refused() -> None:
    check_near(FARM, lat=36.8, lon=-101.4)
    with pytest.raises(
        PlaceError, match=r"--at: found 36.750000, 101.500000, .* km from the farm; allowed: within 50 km"
    ):
        check_near(FARM, lat=36.75, lon=101.5)
    north = Farm(folder=Path(), name="North farm", units=US, gate=(60.0, 20.0))
    with pytest.raises(PlaceError, match="latitude and longitude look swapped"):
        check_near(north, lat=60.0, lon=20.0)
    # A farm without any place of its own cannot tell far from near.
    check_near(Farm(folder=Path(), name="Bare farm", units=US), lat=60.0, lon=20.0)


def test_kinds_are_named_as_people_type_them() -> None:
    assert kind_named(FARM, "Tower_box").name == "tower-box"
    with pytest.raises(
        PlaceError, match=r'flag kind: found "gearbx"; allowed: "leak".*"other-works"; nearest: "gearbox"'
    ):
        kind_named(FARM, "gearbx")

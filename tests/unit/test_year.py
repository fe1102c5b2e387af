"""A year's acres and water: sums, depth by hand, what is missing, and a geometry that stays as it was.

One acre-inch is 43,560 ft2 x 1/12 ft, and a cubic foot is 1,728 in3 of which 231 make a gallon: 27,154 gal
(UF/IFAS CH153, printed to the gallon).
"""

from __future__ import annotations

import csv
import json
from datetime import UTC, datetime
from itertools import count
from typing import TYPE_CHECKING, Any

import pytest
from geographiclib.geodesic import Geodesic

from farms import CENTRE, DRIP, FARM_TOML, OUTLINE, PIVOT, rectangle, write_farm
from phones import few_fields
from ringrow.coverage.layout import lay_out
from ringrow.errors import FileError, PlaceError
from ringrow.farm.load import load_farm
from ringrow.farm.records import Record
from ringrow.farm.year import year_report
from ringrow.handoff.year_files import check_year_folder, write_year
from ringrow.handoff.year_table import missing_words, year_csv, year_page, year_record, year_text

if TYPE_CHECKING:
    from pathlib import Path

    from ringrow.coverage.field import FieldLayout
    from ringrow.farm.model import Farm
    from ringrow.farm.year import YearReport

GAL_PER_ACRE_INCH = 43_560 / 12 * 1728 / 231
GALLON_M3 = 231 * 0.0254**3
EAST_OUTLINE = (
    OUTLINE.replace("-101.5,", "-101.49,").replace("-101.491", "-101.481").replace("-101.5 ", "-101.49 ")
)


def field(name: str, outline: str, system: str, crop: str) -> str:
    return f'name = "{name}"\ncrop = "{crop}"\n{outline}{system}'


def well(name: str, *serves: str) -> str:
    named = ", ".join(f'"{each}"' for each in serves)
    return f'[[well]]\nname = "{name}"\nat = {{ lat = 36.753, lon = -101.495 }}\nserves = [{named}]\n'


def two_fields(folder: Path, top: str = FARM_TOML) -> Farm:
    """Two fields, one a circle and one of tape with a circle beside it."""
    east = PIVOT.replace(str(CENTRE[1]), "-101.4855") + DRIP
    fields = {
        "a": field("West", OUTLINE, PIVOT, "corn"),
        "b": field("East", EAST_OUTLINE, east, "Corn"),
    }
    return load_farm(write_farm(folder, top, fields))


WELLS = well("W1", "West pivot 1") + well("W2", "East pivot 1", "East drip 1")


@pytest.fixture(scope="module")
def farm(tmp_path_factory: pytest.TempPathFactory) -> Farm:
    """Two fields, each with a well."""
    return two_fields(tmp_path_factory.mktemp("year") / "farm", FARM_TOML + WELLS)


_ids = count()


def meter(system: str, volume_m3: float, day: str, kind: str = "well") -> Record:
    return Record(
        id=f"00000000-0000-4000-8000-{next(_ids):012x}",
        type="reading",
        value={
            "type": "reading",
            "system": system,
            "kind": kind,
            "item": "meter",
            "volume_m3": volume_m3,
            "at": day,
        },
        when=datetime(2028, 1, 5, tzinfo=UTC),
        who="Ana",
        source="test",
    )


_laid: list[tuple[Farm, list[FieldLayout]]] = []


def laid_out(farm: Farm) -> list[FieldLayout]:
    """Return the fields of a farm laid out, once for all tests of one farm."""
    known = next((layouts for each, layouts in _laid if each is farm), None)
    if known is None:
        known = [lay_out(each) for each in farm.fields]
        _laid.append((farm, known))
    return known


def report_of(farm: Farm, *records: Record, **options: Any) -> YearReport:
    return year_report(farm, laid_out(farm), records, year=2027, **options)


READINGS = (
    meter("W1", 1000.0, "2027-04-01T08:00:00Z"),
    meter("W1", 400_000.0, "2027-07-01T08:00:00Z"),
    meter("W1", 801_000.0, "2027-10-01T08:00:00Z"),
    meter("W2", 5000.0, "2027-04-01T08:00:00Z"),
    meter("W2", 905_000.0, "2027-10-01T08:00:00Z"),
)


def test_fields_crops_and_wells_add_up_to_the_farm_and_depth_is_volume_over_acres(farm: Farm) -> None:
    record = year_record(report_of(farm, *READINGS), farm.units)
    for rows in ("fields", "crops", "wells"):
        for key in ("acres", "volume_gal"):
            assert sum(row[key] for row in record[rows]) == pytest.approx(record["total"][key], rel=1e-12)
    assert [row["crop"] for row in record["crops"]] == ["corn"]
    assert record["crops"][0]["fields"] == ["West", "East"]
    west = record["fields"][0]
    assert west["volume_gal"] == pytest.approx(800_000 / GALLON_M3, rel=1e-12)
    for row in (*record["fields"], *record["wells"], record["total"]):
        assert row["depth_in"] == pytest.approx(
            row["volume_gal"] / row["acres"] / GAL_PER_ACRE_INCH, rel=1e-9
        )
    assert pytest.approx(27_154, abs=0.5) == GAL_PER_ACRE_INCH
    first = record["wells"][0]
    assert (first["meter_start_day"], first["meter_end_day"]) == ("2027-04-01", "2027-10-01")
    assert first["meter_end_gal"] - first["meter_start_gal"] == pytest.approx(first["volume_gal"])


def _geodesic_m2(polygon: list[list[list[float]]]) -> tuple[float, float]:
    """Area of a polygon's rings, and how much of it the seven decimals of its corners can move."""
    total = slack = 0.0
    for ring in polygon:
        outline = Geodesic.WGS84.Polygon()
        for lon, lat in ring[:-1]:
            outline.AddPoint(lat, lon)
        # Holes run clockwise and count against the outer ring.
        _, around_m, area_m2 = outline.Compute(False, True)
        total += area_m2
        slack += around_m * 0.5e-7 * 111_320
    return total, slack


def test_the_frozen_geometry_holds_the_acres_and_later_edits_do_not_change_it(
    tmp_path: Path,
) -> None:
    """Areas of the written polygons by geographiclib, independent of our frames."""
    farm = two_fields(tmp_path / "farm", FARM_TOML + WELLS)
    layouts = laid_out(farm)
    report = report_of(farm, *READINGS)
    written = write_year(farm, layouts, report, tmp_path / "out", open_flags=3)
    frozen = json.loads((tmp_path / "out" / "year-2027.geojson").read_text("utf-8"))
    watered = [each for each in frozen["features"] if each["id"].startswith("watered:")]
    for feature, row in zip(watered, written.record["fields"], strict=True):
        shape = feature["geometry"]
        parts = shape["coordinates"] if shape["type"] == "MultiPolygon" else [shape["coordinates"]]
        areas = [_geodesic_m2(part) for part in parts]
        slack = sum(each for _, each in areas) / 4046.8564224
        assert sum(area for area, _ in areas) / 4046.8564224 == pytest.approx(row["acres"], abs=slack)
    saved = json.loads((tmp_path / "out" / "year-2027.json").read_text("utf-8"))
    assert saved["geometry"]["sha256"] == written.digest
    assert saved["open_flags"] == 3
    before = {path.name: path.read_bytes() for path in (tmp_path / "out").iterdir()}
    assert sorted(before) == ["year-2027.csv", "year-2027.geojson", "year-2027.html", "year-2027.json"]
    file = farm.folder / "fields" / "a.toml"
    file.write_text(file.read_text("utf-8").replace("overhang = 40", "overhang = 10"), "utf-8")
    changed = load_farm(farm.folder)
    assert report_of(changed).total.area_m2 < report.total.area_m2
    assert {path.name: path.read_bytes() for path in (tmp_path / "out").iterdir()} == before
    again = write_year(farm, layouts, report, tmp_path / "twice", open_flags=3)
    assert again.digest == written.digest
    with pytest.raises(FileError, match=r'year-2027.html" is already there; say --overwrite'):
        check_year_folder(tmp_path / "out", 2027, overwrite=False)


def test_a_field_whose_ground_is_a_rectangle_has_the_rectangles_acres(tmp_path: Path) -> None:
    """Tape over a whole rectangle: its acres by geographiclib, less the rows' remainder at the far edge."""
    farm = load_farm(write_farm(tmp_path, FARM_TOML, {"b": field("Tape", OUTLINE, DRIP, "corn")}))
    (outline,) = rectangle(-101.5, 36.75, -101.491, 36.7572)["coordinates"]
    full_m2, _ = _geodesic_m2([outline])
    assert report_of(farm).total.area_m2 == pytest.approx(full_m2, rel=3e-3)


def test_what_readings_do_not_tell_is_left_open_and_said(farm: Farm) -> None:
    none = report_of(farm, READINGS[0], meter("W2", 1.0, "2026-12-01T18:00:00Z"))
    first = year_record(none, farm.units)["wells"][0]
    assert (first["meter_start_day"], first["meter_end_day"], first["meter_end_gal"]) == (
        "2027-04-01",
        None,
        None,
    )
    assert (none.total.volume_m3, none.total.depth_mm, none.metered_m3) == (None, None, 0.0)
    said = missing_words(none, farm.units)
    assert "Missing: only one meter reading of W1 in 2027: it takes two." in said
    assert "Missing: no meter reading of W2 in 2027." in said
    back = report_of(farm, *READINGS, meter("W1", 20.0, "2027-11-01T18:00:00Z"))
    assert "Missing: the meter of W1 went back in 2027: a new one, or past its last digit." in missing_words(
        back, farm.units
    )
    assert back.fields[0].water.volume_m3 is None
    assert back.metered_m3 == 900_000.0
    assert "The meters that do tell it add up to 729.6 acre-feet." in missing_words(back, farm.units)
    moved = report_of(farm, *READINGS, meter("W1", 900.0, "2026-11-01T18:00:00Z"))
    assert any(
        "W1 moved between 2026-11-01 and 2027-04-01" in line for line in missing_words(moved, farm.units)
    )
    assert moved.fields[0].water.volume_m3 == 800_000.0


def test_the_evening_of_the_last_day_is_still_that_year(farm: Farm) -> None:
    """101.5 W is about seven hours behind UTC: 03:00 UTC on New Year's Day is an evening before."""
    report = report_of(farm, *READINGS[:3], meter("W1", 901_000.0, "2028-01-01T03:00:00Z"))
    assert report.meters[0].readings[-1].day == "2027-12-31"
    assert report.fields[0].water.volume_m3 == 900_000.0


def test_a_well_of_two_fields_tells_neither_unless_the_machines_have_meters(tmp_path: Path) -> None:
    toml = FARM_TOML + well("W1", "West pivot 1", "East pivot 1", "East drip 1")
    shared = two_fields(tmp_path, toml)
    readings = READINGS[:3]
    report = report_of(shared, *readings)
    assert [row.water.volume_m3 for row in report.fields] == [None, None]
    assert report.fields[0].water.gaps == (("shared", "W1"),)
    # One crop, so crop and farm are known although the fields are not.
    assert report.crops[0].water.volume_m3 == report.total.volume_m3 == 800_000.0
    own = [meter("West pivot 1", v, d, "pivot") for v, d in ((10.0, "2027-04-02"), (310_010.0, "2027-09-30"))]
    told = report_of(shared, *readings, *own)
    assert told.fields[0].water.volume_m3 == 310_000.0
    assert told.fields[1].water.volume_m3 is None


def test_water_is_added_from_wells_and_machines_whichever_tell_it(tmp_path: Path) -> None:
    """East has a circle on a well of its own and tape that no well is said to serve, with a meter."""
    toml = FARM_TOML + well("W1", "West pivot 1") + well("W2", "East pivot 1")
    mixed = two_fields(tmp_path, toml)
    tape = [meter("East drip 1", v, d, "drip") for v, d in ((5.0, "2027-04-02"), (70_005.0, "2027-09-30"))]
    untold = report_of(mixed, *READINGS, *tape[:1])
    assert (untold.total.volume_m3, untold.metered_m3) == (None, 1_700_000.0)
    assert untold.fields[1].water.gaps == (("no meter", "East drip 1"),)
    told = report_of(mixed, *READINGS, *tape)
    assert [row.water.volume_m3 for row in told.fields] == [800_000.0, 970_000.0]
    assert told.total.volume_m3 == told.metered_m3 == 1_770_000.0


def test_a_well_with_the_name_of_a_machine_has_its_own_meter(tmp_path: Path) -> None:
    named = well("East pivot 1", "East pivot 1", "East drip 1")
    alike = two_fields(tmp_path, FARM_TOML + named)
    readings = [meter("East pivot 1", v, d) for v, d in ((1.0, "2027-04-02"), (9.0, "2027-09-30"))]
    other = [meter("East pivot 1", v, d, "pivot") for v, d in ((70.0, "2027-04-02"), (75.0, "2027-09-30"))]
    row = year_record(report_of(alike, *readings, *other), alike.units)["wells"][0]
    assert row["meter_start_gal"] == pytest.approx(1.0 / GALLON_M3)
    assert row["volume_m3"] == 8.0


def test_a_meter_that_counted_while_all_it_serves_stood_is_said(farm: Farm) -> None:
    report = report_of(farm, *READINGS, idle=["West pivot 1"])
    assert report.total.volume_m3 == 900_000.0
    words = "The meter of W1 counted 648.6 acre-feet, but nothing that it serves is said to have run"
    assert any(line.startswith(words) for line in missing_words(report, farm.units))
    assert pytest.approx(648.6, abs=0.05) == 800_000 / (43_560 * 0.3048**3)


def test_days_say_whose_they_are(farm: Farm, tmp_path: Path) -> None:
    assert "begin at midnight of UTC-07:00, whole hours by the sun" in year_text(
        report_of(farm), farm.units, width=None
    )
    zoned = two_fields(tmp_path, FARM_TOML + 'time_zone = "America/Chicago"\n')
    assert year_record(report_of(zoned), zoned.units)["notes"][-1] == (
        "Days, and so the year, begin at midnight of America/Chicago."
    )


def test_a_system_that_did_not_run_waters_nothing(farm: Farm) -> None:
    ran, rested = report_of(farm), report_of(farm, idle=["east drip 1"])
    assert rested.idle == ("East drip 1",)
    assert rested.fields[0] == ran.fields[0]
    assert rested.fields[1].of == ("East pivot 1",)
    assert rested.fields[1].water.area_m2 == pytest.approx(ran.fields[0].water.area_m2, rel=1e-6)
    assert any(line.startswith("Said not to have run") for line in missing_words(rested, farm.units))
    with pytest.raises(PlaceError, match='--idle: found the well "W1"; allowed: machines and drip blocks'):
        report_of(farm, idle=["W1"])
    with pytest.raises(PlaceError, match="year: found 20277; allowed: 1900 to 2200"):
        year_report(farm, [], [], year=20277)


def test_a_towed_machine_may_have_run_at_one_point_alone(tmp_path: Path) -> None:
    """Its two circles do not overlap, so they share its ground; the well's water is its water either way."""
    towed = load_farm(few_fields(tmp_path / "farm", "80_"))
    whole, east, west, none = (
        report_of(towed, idle=idle)
        for idle in ([], ["Tow pivot west"], ["tow pivot EAST"], ["Tow pivot west", "Tow pivot east"])
    )
    assert east.total.area_m2 + west.total.area_m2 == pytest.approx(whole.total.area_m2, rel=1e-9)
    assert east.fields[0].of == whole.fields[0].of == ("Tow pivot",)
    assert west.idle == ("Tow pivot east",)
    assert none.total.area_m2 == report_of(towed, idle=["Tow pivot"]).total.area_m2 == 0.0
    assert (none.fields[0].of, none.wells[-1].of) == ((), ())


def test_table_page_and_text_hold_names_as_data(tmp_path: Path) -> None:
    name = "=1+1<script>alert(1)</script>"
    farm = load_farm(write_farm(tmp_path, FARM_TOML, {"b": field(name, OUTLINE, DRIP, "<b>corn")}))
    report = report_of(farm)
    rows = list(csv.reader(year_csv(report, farm.units).lstrip("\ufeff").splitlines()))
    assert rows[1][2] == f"'{name}"
    assert {len(row) for row in rows} == {14}
    page = year_page(report, farm.units, geometry="g.geojson", digest="0" * 64, open_flags=2)
    assert "<script" not in page
    assert "<b>corn" not in page
    assert "default-src 'none'" in page
    assert "2 flags are open and carry over" in page
    assert name in year_text(report, farm.units, width=None)

"""``ringrow survey``: pieces printed and put into field files, JSON, messages, exit codes."""

from __future__ import annotations

import json
import math
import re
import tomllib
from typing import TYPE_CHECKING

import numpy as np
import pytest
from click.testing import CliRunner, Result
from geographiclib.geodesic import Geodesic

from farms import OUTLINE, write_farm
from ringrow.cli.main import cli
from ringrow.farm.load import load_farm
from survey_sims import LAT, LON, gga, gpx, places, ring

if TYPE_CHECKING:
    from pathlib import Path

FOOT_M = 0.3048
CIRCLE_KEYS = {
    *("lat", "lon", "radius_ft", "center_se_ft", "radius_se_ft", "arc_deg", "rms_ft"),
    *("semi_major_ft", "semi_minor_ft", "points", "outliers"),
}


def survey(*words: str | Path) -> Result:
    return CliRunner().invoke(cli, ["survey", *(str(word) for word in words)])


def answer(*words: str | Path) -> dict:
    result = survey(*words, "--json")
    assert result.exit_code == 0, result.output
    return json.loads(result.stdout)


def refused(*words: str | Path) -> str:
    result = survey(*words)
    assert result.exit_code == 1, result.output
    assert result.stdout == ""
    return result.stderr


def metres(one: tuple[float, float], lat: float, lon: float) -> float:
    return float(Geodesic.WGS84.Inverse(one[1], one[0], lat, lon)["s12"])


def at(place: tuple[float, float]) -> str:
    return f"{place[1]:.7f}, {place[0]:.7f}"


@pytest.fixture
def drive(tmp_path: Path) -> Path:
    """A drive of the last wheel track, 381 m out, a fix good to 1 m in each axis."""
    return gpx(tmp_path / "last.gpx", tracks=[ring(381.0, sweep=300, count=240, noise_m=1.0)])


@pytest.fixture
def field(tmp_path: Path) -> Path:
    """A field file with a pivot nobody measured, comments in it."""
    text = (
        f'# mine\nname = "Home field"   # the home place\n{OUTLINE}\n# the old machine\n[[pivot]]\n'
        'name = "Home pivot"\n'
        f"point = {{ lat = {LAT}, lon = {LON} }}   # off the map\n"
        "towers = 7  # counted\nlast_tower = 1240\noverhang = 40\nthrow = 20\n\n"
        "[pivot.end_gun]\nreach = 90 # ft\n"
    )
    farm = write_farm(tmp_path / "farm", fields={"home": text}, shapes={"note.txt": "x"})
    return farm / "fields" / "home.toml"


# --- circle ------------------------------------------------------------------------------------


def test_json_has_exactly_the_stated_keys(drive: Path) -> None:
    record = answer("circle", drive)
    assert set(record) == {"schema", "circles"}
    (circle,) = record["circles"]
    assert set(circle) == CIRCLE_KEYS
    assert circle["radius_ft"] == pytest.approx(381 / FOOT_M, abs=4 * circle["radius_se_ft"])
    assert metres((LON, LAT), circle["lat"], circle["lon"]) < 4 * circle["center_se_ft"] * FOOT_M
    assert circle["points"] == 240
    assert circle["arc_deg"] == pytest.approx(300, abs=0.5)
    metric = answer("circle", drive, "--units", "metric")["circles"][0]
    assert set(metric) == {key.replace("_ft", "_m") for key in CIRCLE_KEYS}
    assert metric["radius_m"] == pytest.approx(circle["radius_ft"] * FOOT_M)


def test_stdout_is_toml_with_facts_as_comments(drive: Path) -> None:
    result = survey("circle", drive, "--towers", "7", "--pivot", "North pivot")
    assert result.exit_code == 0
    (pivot,) = tomllib.loads(result.stdout)["pivot"]
    assert pivot["name"] == "North pivot"
    assert pivot["towers"] == 7
    assert pivot["last_tower"] == pytest.approx(1250, abs=3)
    assert "# radius 1,2" in result.stdout
    assert "Positions taken as good to 16 ft (r95" in result.stderr
    assert "assumed, nobody stated it" in result.stderr


def test_the_printed_piece_goes_into_a_farm(drive: Path, tmp_path: Path) -> None:
    piece = survey("circle", drive, "--towers", "7").stdout
    farm = write_farm(tmp_path / "farm", fields={"home": f'name = "Home"\n{OUTLINE}\n{piece}'})
    (field,) = load_farm(farm).fields
    assert sum(field.pivots[0].spans_m) == pytest.approx(381, abs=1)


def test_three_typed_places_suffice() -> None:
    spots = ring(400.0, sweep=240, count=3)
    typed = [word for spot in spots for word in ("--at", at(spot))]
    (circle,) = answer("circle", *typed)["circles"]
    assert circle["radius_ft"] == pytest.approx(400 / FOOT_M, abs=0.05)
    assert circle["radius_se_ft"] > 1, "places read off a phone are not exact"
    assert circle["semi_major_ft"] is None


def test_error_is_never_said_smaller_than_the_stated_accuracy_gives(drive: Path) -> None:
    rough, fine = (
        answer("circle", drive, "--accuracy", text)["circles"][0]["radius_se_ft"]
        for text in ("50 ft", "1 ft")
    )
    assert rough > 3 * fine


def test_concentric_tracks_give_all_towers(tmp_path: Path) -> None:
    radii = [55.0, 110.0, 165.0, 215.0]
    tracks = [ring(r, start=50 * n, sweep=200, count=90, noise_m=0.5) for n, r in enumerate(radii)]
    result = survey(
        "circle", gpx(tmp_path / "all.gpx", tracks=tracks[2:]), gpx(tmp_path / "b.gpx", tracks=tracks[:2])
    )
    assert result.exit_code == 0
    assert "machine 1: 4 tracks taken as 4 wheel tracks about one centre" in result.stderr
    (pivot,) = tomllib.loads(result.stdout)["pivot"]
    assert pivot["spans"] == pytest.approx([span / FOOT_M for span in (55, 55, 55, 50)], abs=2)


def test_segments_of_one_wheel_track_are_one_circle(tmp_path: Path) -> None:
    parts = [ring(380.0, start=start, sweep=100, count=60, noise_m=0.7) for start in (0, 130)]
    result = survey("circle", gpx(tmp_path / "cut.gpx", segments=parts), "--json")
    (circle,) = json.loads(result.stdout)["circles"]
    assert circle["points"] == 120
    assert "2 tracks taken as one wheel track" in result.stderr


def test_a_missing_tower_gives_no_spans(tmp_path: Path) -> None:
    tracks = [ring(radius, sweep=300, count=90, noise_m=0.5) for radius in (55.0, 380.0)]
    result = survey("circle", gpx(tmp_path / "two.gpx", tracks=tracks))
    (pivot,) = tomllib.loads(result.stdout)["pivot"]
    assert "spans" not in pivot
    assert "not every tower has its wheel track here" in result.stderr
    assert "# add towers = N (count them)" in result.stdout


def test_two_machines_are_told_apart(tmp_path: Path, field: Path) -> None:
    there = [(lon + 0.009, lat) for lon, lat in ring(380.0, count=90, noise_m=0.5)]
    file = gpx(tmp_path / "two.gpx", tracks=[ring(380.0, count=90, noise_m=0.5), there])
    result = survey("circle", file)
    assert result.exit_code == 0
    assert "2 machines: their centres lie too far apart to be one" in result.stderr
    assert len(tomllib.loads(result.stdout)["pivot"]) == 2
    before = field.read_bytes()
    assert "found 2 machines; allowed with --into: one" in refused("circle", file, "--into", field)
    assert field.read_bytes() == before


@pytest.mark.parametrize(
    ("radius", "sweep", "message"),
    [
        (381.0, 25, r"found a radius known to .* %.*allowed: 2 % or better.*drive a longer arc, half a turn"),
        (3.0, 300, r"cover 300 deg of the turn: drive it with a better receiver"),
    ],
)
def test_short_arcs_are_refused(tmp_path: Path, radius: float, sweep: float, message: str) -> None:
    file = gpx(tmp_path / "short.gpx", tracks=[ring(radius, sweep=sweep, count=12)])
    assert re.search(message, refused("circle", file))


def test_badly_known_centre_is_refused(tmp_path: Path) -> None:
    """Radius good to 2 % of 700 m, centre not to 30 ft."""
    file = gpx(tmp_path / "far.gpx", tracks=[ring(700.0, sweep=60, count=12)])
    text = refused("circle", file, "--accuracy", "9 m rms")
    assert "allowed: 2 % or better" in text or "allowed: 30 ft or better" in text
    wide = gpx(tmp_path / "wide.gpx", tracks=[ring(1200.0, sweep=110, count=12)])
    assert "found a centre known to" in refused("circle", wide, "--accuracy", "40 ft")


def test_some_refused_some_taken(tmp_path: Path, drive: Path) -> None:
    short = gpx(tmp_path / "short.gpx", tracks=[places([0, 100, 200], [900, 901, 903])])
    result = survey("circle", drive, short)
    assert result.exit_code == 0
    assert "not taken: short.gpx: track 1: found points on a nearly straight line" in result.stderr


def test_a_track_that_is_no_circle_is_refused(outside_data: Path) -> None:
    text = refused("circle", outside_data / "around-visnjan-with-car.gpx")
    assert "allowed: a drive that follows a circle" in text
    text = refused("circle", outside_data / "us_fields.gpkg")
    assert "this is no pivot's circle" in text


def test_wrong_usage() -> None:
    assert survey("circle").exit_code == 2
    result = survey("circle", "x.gpkg", "--where", "id")
    assert result.exit_code == 2
    assert 'found "id"; allowed: COLUMN=VALUE' in result.stderr
    assert survey("line", "x.gpx", "--rows", "1", "--laterals", "1").exit_code == 2


# --- into --------------------------------------------------------------------------------------


def test_simulated_machine_round_trip(drive: Path, field: Path) -> None:
    """Drive round a machine, survey it, write it, load the farm: same radius, same point."""
    before = field.read_text()
    result = survey("circle", drive, "--into", field, "--overwrite", "--pivot", "Home pivot")
    assert result.exit_code == 0, result.output
    after = field.read_text()
    (loaded,) = load_farm(field.parent.parent).fields
    pivot = loaded.pivots[0]
    assert sum(pivot.spans_m) == pytest.approx(381, abs=0.6)
    assert pivot.radius_se_m is not None
    lon, lat = (float(value) for value in loaded.frame.to_lonlat(pivot.x_m, pivot.y_m))
    assert metres((LON, LAT), lat, lon) < 1.0
    assert 'pivot "Home pivot": last_tower: was 1240, now 12' in result.stderr
    assert 'pivot "Home pivot": radius_se: now ' in result.stderr
    kept = (
        "# mine",
        "# the home place",
        "# the old machine",
        "# off the map",
        "towers = 7  # counted",
        "reach = 90 # ft",
    )
    assert [text for text in kept if text not in after] == []
    changed = {line for line in after.splitlines() if line not in before.splitlines()}
    assert {line.split(" =")[0] for line in changed} == {"point", "last_tower", "radius_se"}
    assert sorted(path.name for path in field.parent.parent.parent.iterdir()) == ["farm", "last.gpx"]


def test_differing_values_need_overwrite(drive: Path, field: Path) -> None:
    before = field.read_bytes()
    result = survey("circle", drive, "--into", field)
    assert result.exit_code == 1
    assert "found other values there already" in result.stderr
    assert 'pivot "Home pivot": last_tower: was 1240, now 12' in result.stderr
    assert "--overwrite to replace them; the file is left as it was" in result.stderr
    assert field.read_bytes() == before


def test_the_same_again_changes_nothing(drive: Path, field: Path) -> None:
    assert survey("circle", drive, "--into", field, "--overwrite").exit_code == 0
    before = field.read_bytes()
    result = survey("circle", drive, "--into", field)
    assert result.exit_code == 0
    assert "nothing changes: it says so already" in result.stderr
    assert field.read_bytes() == before


def test_stated_spans_are_compared_not_replaced(drive: Path, tmp_path: Path) -> None:
    farm = write_farm(tmp_path / "farm")
    field = farm / "fields" / "home.toml"
    result = survey("circle", drive, "--into", field, "--overwrite")
    assert result.exit_code == 0, result.output
    assert "spans in the file sum to 1,230.0 ft, the survey says 1,2" in result.stderr
    assert "they differ by" in result.stderr
    (pivot,) = tomllib.loads(field.read_text())["pivot"]
    assert pivot["spans"] == [180, 180, 180, 180, 180, 180, 150]
    assert "last_tower" not in pivot


def test_wetted_edge_takes_overhang_and_throw_off(tmp_path: Path, field: Path) -> None:
    edge = gpx(tmp_path / "edge.gpx", tracks=[ring((1250 + 60) * FOOT_M, count=120, noise_m=0.3)])
    result = survey("circle", edge, "--of", "wetted-edge", "--into", field, "--overwrite")
    assert "last tower = wetted edge less overhang 40 ft and throw 20 ft" in result.stderr
    assert tomllib.loads(field.read_text())["pivot"][0]["last_tower"] == pytest.approx(1250, abs=1)


def test_new_machine_beside_another(drive: Path, field: Path) -> None:
    text = refused("circle", drive, "--into", field, "--pivot", "Home pivt", "--towers", "7")
    assert 'found no machine "Home pivt"; allowed: one of "Home pivot", or --new to add it' in text
    assert 'did you mean "Home pivot"?' in text
    result = survey("circle", drive, "--into", field, "--pivot", "Second", "--towers", "7", "--new")
    assert result.exit_code == 0, result.output
    assert [p.name for p in load_farm(field.parent.parent).fields[0].pivots] == ["Home pivot", "Second"]
    text = refused("circle", drive, "--into", field, "--pivot", "Second", "--towers", "7", "--new")
    assert 'found a machine "Second" already' in text
    text = refused("circle", drive, "--into", field)
    assert 'found 2 machines; allowed: one, or say which: --pivot with one of "Home pivot", "Second"' in text


def test_a_result_with_faults_is_not_written(drive: Path, tmp_path: Path) -> None:
    farm = write_farm(tmp_path / "farm", fields={"bare": f'name = "Bare"\n{OUTLINE}'})
    field = farm / "fields" / "bare.toml"
    before = field.read_bytes()
    text = refused_into(drive, field)
    assert "with this piece the farm has faults" in text
    assert "towers" in text
    assert field.read_bytes() == before
    result = survey("circle", drive, "--into", field, "--towers", "7", "--pivot", "First")
    assert result.exit_code == 0
    assert 'new pivot "First": towers: now 7' in result.stderr
    assert load_farm(farm).fields[0].pivots[0].name == "First"


def refused_into(drive: Path, field: Path) -> str:
    result = survey("circle", drive, "--into", field)
    assert result.exit_code == 1
    return result.stderr


def test_units_and_accuracy_come_from_the_farm(drive: Path, tmp_path: Path) -> None:
    toml = 'name = "M"\nunits = "metric"\n[defaults]\naccuracy = "1 m rms"\n'
    pivot = f"[[pivot]]\npoint = {{ lat = {LAT}, lon = {LON} }}\ntowers = 7\nlast_tower = 370\n"
    text = f'name = "F"\n{OUTLINE}\n{pivot}'
    farm = write_farm(tmp_path / "farm", farm_toml=toml, fields={"f": text})
    result = survey("circle", drive, "--into", farm / "fields" / "f.toml", "--overwrite")
    assert result.exit_code == 0, result.output
    assert "Positions taken as good to 100 cm (rms" in result.stderr
    assert tomllib.loads((farm / "fields" / "f.toml").read_text())["pivot"][0]["last_tower"] == pytest.approx(
        381, abs=0.6
    )


@pytest.mark.parametrize(
    ("place", "message"),
    [
        ("elsewhere.toml", "found no field file of a farm; allowed: FARM/fields/NAME.toml"),
        (
            "farm/fields/hom.toml",
            'found no such file; allowed: one of "home.toml"; did you mean "home.toml"?',
        ),
        ("farm/fields/broken.toml", "found broken TOML"),
        ("farm/fields/latin.toml", "found a letter that is not UTF-8"),
    ],
)
def test_wrong_field_files(drive: Path, field: Path, tmp_path: Path, place: str, message: str) -> None:
    if "broken" in place:
        (tmp_path / place).write_text("name = \n")
    if "latin" in place:
        (tmp_path / place).write_bytes(b'name = "A\xf1o"\n')
    assert message in refused("circle", drive, "--into", tmp_path / place)


def test_towed_machine_keeps_its_points(drive: Path, tmp_path: Path) -> None:
    pivot = (
        '[[pivot]]\nname = "Towed"\nspans = [180, 180]\n'
        f"points = [{{ lat = {LAT}, lon = {LON} }}, {{ lat = {LAT}, lon = -101.4935 }}]\n"
    )
    farm = write_farm(tmp_path / "farm", fields={"home": f'name = "Home"\n{OUTLINE}\n{pivot}'})
    load_farm(farm)
    result = survey("circle", drive, "--into", farm / "fields" / "home.toml", "--overwrite")
    assert result.exit_code == 1
    assert "this machine is towed between several" in result.stderr


# --- towers ------------------------------------------------------------------------------------

SPANS = (55.0, 56.0, 54.0, 50.0)


def pin_file(path: Path, azimuth: float = 70.0, names: tuple[str, ...] = ()) -> Path:
    radii = np.concatenate([[0.0], np.cumsum(SPANS)])
    spots = [Geodesic.WGS84.Direct(LAT, LON, azimuth, radius) for radius in radii]
    return gpx(path, pins=[(spot["lon2"], spot["lat2"]) for spot in spots], names=names)


def test_towers_give_spans_azimuth_and_panel_zero(tmp_path: Path) -> None:
    machine = answer("towers", pin_file(tmp_path / "pins.gpx"), "--panel-shows", "214", "--units", "metric")[
        "machine"
    ]
    assert machine["spans_m"] == pytest.approx(SPANS, abs=0.001)
    assert machine["azimuth_deg"] == pytest.approx(70.0, abs=1e-4)
    assert machine["panel_zero_deg"] == pytest.approx((70 - 214) % 360, abs=1e-4)
    assert machine["last_tower_m"] == pytest.approx(215, abs=0.002)
    assert machine["last_tower_se_m"] == pytest.approx(16 * FOOT_M / 2.4477 * math.sqrt(2), rel=1e-6)
    assert [tower["tower"] for tower in machine["towers"]] == [1, 2, 3, 4]


def test_towers_into_a_field(tmp_path: Path, field: Path) -> None:
    result = survey(
        "towers", pin_file(tmp_path / "pins.gpx"), "--panel-shows", "214", "--into", field, "--overwrite"
    )
    assert result.exit_code == 0, result.output
    assert "the first pin taken as the pivot point" in result.stderr
    assert 'pivot "Home pivot": last_tower: was 1240, now left out' in result.stderr
    assert 'pivot "Home pivot": towers: was 7, now left out' in result.stderr
    assert "# panel shows 214.0: its zero is azimuth 216.0" in result.stdout
    (pivot,) = load_farm(field.parent.parent).fields[0].pivots
    assert pivot.spans_m == pytest.approx(SPANS, abs=0.02)
    assert pivot.panel_zero_deg == pytest.approx(216.0, abs=0.05)


def test_a_pin_named_pivot_is_the_point_wherever_it_stands(tmp_path: Path) -> None:
    radii = np.concatenate([np.cumsum(SPANS), [0.0]])
    spots = [Geodesic.WGS84.Direct(LAT, LON, 250.0, radius) for radius in radii]
    file = gpx(
        tmp_path / "p.gpx",
        pins=[(spot["lon2"], spot["lat2"]) for spot in spots],
        names=("T1", "T2", "T3", "T4", "Pivot point"),
    )
    result = survey("towers", file, "--json")
    machine = json.loads(result.stdout)["machine"]
    assert (machine["lat"], machine["lon"]) == pytest.approx((LAT, LON), abs=1e-6)
    assert machine["azimuth_deg"] == pytest.approx(250, abs=1e-3)
    assert 'pin "Pivot point" taken as the pivot point' in result.stderr
    known = survey("towers", file, "--pivot-point", at((LON, LAT)), "--json")
    assert "left out: the pivot point was given" in known.stderr
    assert json.loads(known.stdout)["machine"]["last_tower_se_ft"] < machine["last_tower_se_ft"]


def test_bad_pins_are_refused(tmp_path: Path) -> None:
    spots = places([0, 0, 0], [0, 50, 50.3])
    assert "one pin a tower" in refused("towers", gpx(tmp_path / "a.gpx", pins=spots))
    spots = places([0, 0, 60, 0], [0, 50, 100, 150])
    assert "off the line through the others" in refused("towers", gpx(tmp_path / "b.gpx", pins=spots))
    assert "found recorded tracks but no single points" in refused(
        "towers", gpx(tmp_path / "c.gpx", tracks=[ring(300, count=90)])
    )


# --- line --------------------------------------------------------------------------------------


def passes(path: Path, numbers: tuple[int, ...], spacing_m: float = 1.524, heading: float = 92.0) -> Path:
    turn = math.radians(heading)
    along = np.linspace(-150, 150, 31)
    tracks = [
        places(
            along * math.sin(turn) + number * spacing_m * math.cos(turn),
            along * math.cos(turn) - number * spacing_m * math.sin(turn),
        )
        for number in numbers
    ]
    return gpx(path, tracks=tracks)


def test_line_heading_and_spacing(tmp_path: Path) -> None:
    file = passes(tmp_path / "p.gpx", (1, 40, 120))
    line = answer("line", file, "--laterals", "1,40,120", "--rows-per-lateral", "2")["line"]
    assert line["heading_deg"] == pytest.approx(92, abs=1e-3)
    assert line["lateral_spacing_in"] == pytest.approx(60, abs=0.01)
    assert line["row_spacing_in"] == pytest.approx(30, abs=0.005)
    assert line["numbers"] == [1, 40, 120]
    assert line["lateral_spacing_se_in"] < 2


def test_rows_give_heading_and_row_spacing(tmp_path: Path) -> None:
    file = passes(tmp_path / "p.gpx", (1, 81), spacing_m=0.762)
    result = survey("line", file, "--rows", "1,81", "--rows-per-lateral", "2")
    (drip,) = tomllib.loads(result.stdout)["drip"]
    assert drip["heading"] == pytest.approx(92, abs=1e-3)
    assert drip["row_spacing"] == pytest.approx(30, abs=0.01)
    assert drip["rows_per_lateral"] == 2
    assert "line" not in drip


def test_points_named_by_lateral(tmp_path: Path) -> None:
    table = tmp_path / "ends.csv"
    west = places([-150] * 2, [0.0, -100 * 1.524])
    east = places([150] * 2, [0.0, -100 * 1.524])
    rows = [
        f"{number} {side},{spot[1]:.8f},{spot[0]:.8f}"
        for side, spots in (("west", west), ("east", east))
        for number, spot in zip((1, 101), spots, strict=True)
    ]
    table.write_text("name,lat,lon\n" + "\n".join(rows) + "\n")
    result = survey("line", table, "--laterals", "1,101", "--json")
    assert json.loads(result.stdout)["line"]["lateral_spacing_in"] == pytest.approx(60, abs=0.05)
    assert "points parted by the number in their names" in result.stderr


def test_tracks_that_cannot_be_counted_are_not(tmp_path: Path) -> None:
    file = passes(tmp_path / "p.gpx", (1, 2, 3))
    result = survey("line", file)
    assert result.exit_code == 0
    assert "spacing not told: with positions this good the tracks cannot be counted" in result.stderr
    assert "# add row_spacing = N (in from one crop row to the next)" in result.stdout
    near = survey("line", file, "--laterals", "1,2,3")
    assert "would be known to" in near.stderr
    assert "(one sigma); drive laterals farther apart" in near.stderr
    good = answer("line", file, "--accuracy", "0.1 ft")["line"]
    assert good["lateral_spacing_in"] == pytest.approx(60, abs=0.01)
    assert good["numbers"] == [0, 1, 2]


def test_planted_spacing_is_held_against_the_measured(tmp_path: Path) -> None:
    file = passes(tmp_path / "p.gpx", (1, 2, 12))
    fine = ("--accuracy", "0.1 ft", "--rows-per-lateral", "2", "--row-spacing")
    agreed = survey("line", file, *fine, "30")
    assert "rows measured 30.00 ± " in agreed.stderr
    assert "stated 30: they agree" in agreed.stderr
    assert tomllib.loads(agreed.stdout)["drip"][0]["row_spacing"] == 30
    assert "stated 29: look at them again" in survey("line", file, *fine, "29").stderr


def test_line_into_a_field(tmp_path: Path) -> None:
    block = "[[drip]]\nheading = 90   # guessed\nrow_spacing = 30\nrows_per_lateral = 2\n"
    text = f'name = "Block"\n{OUTLINE}\n{block}'
    farm = write_farm(tmp_path / "farm", fields={"block": text})
    field = farm / "fields" / "block.toml"
    file = passes(tmp_path / "p.gpx", (1, 100), heading=91.0)
    assert "heading: was 90, now left out" in refused_line(file, field)
    result = survey("line", file, "--laterals", "1,100", "--into", field, "--overwrite")
    assert result.exit_code == 0, result.output
    assert "rows measured 30.0" in result.stderr
    (drip,) = load_farm(farm).fields[0].drip
    assert drip.heading_deg == pytest.approx(91.0, abs=2e-3)
    assert drip.spacing_m == pytest.approx(1.524)


def refused_line(file: Path, field: Path) -> str:
    result = survey("line", file, "--laterals", "1,100", "--into", field)
    assert result.exit_code == 1
    return result.stderr


def test_bad_passes_are_refused(tmp_path: Path, outside_data: Path) -> None:
    text = refused("line", outside_data / "around-visnjan-with-car.gpx")
    assert "from a straight line; allowed: one straight pass a track" in text
    crossed = gpx(
        tmp_path / "x.gpx", tracks=[places(range(0, 300, 10), [0] * 30), places([0] * 30, range(0, 300, 10))]
    )
    assert "deg off the others; allowed: passes along the laterals" in refused("line", crossed)
    file = passes(tmp_path / "p.gpx", (1, 2))
    assert "found 3 numbers for 2 tracks" in refused("line", file, "--laterals", "1,2,3")
    assert "allowed: whole numbers from 1 with commas" in refused("line", file, "--rows", "1,a")
    one = gpx(tmp_path / "one.gpx", tracks=[places([0], [0])])
    assert "found one point; allowed: two or more along a lateral" in refused("line", one)
    uneven = passes(tmp_path / "u.gpx", (0, 10, 24), spacing_m=2.0)
    assert "whole multiples of one spacing" in refused("line", uneven, "--accuracy", "0.1 ft")


# --- outline -----------------------------------------------------------------------------------


def round_trip(noise_m: float = 0.3) -> list[tuple[float, float]]:
    rng = np.random.default_rng(31)
    side = np.arange(0, 400, 5.0)
    flat = np.zeros_like(side)
    x = np.concatenate([np.zeros(30), side, flat + 400, 400 - side, flat, side[:12]])
    y = np.concatenate([np.zeros(30), flat, side, flat + 400, 400 - side, flat[:12]])
    x, y = x + rng.normal(0, noise_m, len(x)) - 200, y + rng.normal(0, noise_m, len(y)) - 200
    return places(x, y)


def test_outline_acres_and_error(tmp_path: Path) -> None:
    file = gpx(tmp_path / "round.gpx", tracks=[round_trip()])
    record = answer("outline", file, "--accuracy", "1 m rms")["outline"]
    acres = 160_000 / 4046.8564224
    assert record["acres"] == pytest.approx(acres, abs=1.96 * record["se_acres"])
    corners = [(corner["lat"], corner["lon"]) for corner in record["outline"]]
    reach = [Geodesic.WGS84.Inverse(*corners[n - 2], *corners[n])["s12"] for n in range(len(corners))]
    stated = 0.5 / math.sqrt(2) * math.sqrt(sum(length**2 for length in reach)) / 4046.8564224
    assert record["se_acres"] == pytest.approx(stated, rel=1e-4)
    assert record["overlap_ft"] > 100
    polygon = Geodesic.WGS84.Polygon()
    for corner in record["outline"]:
        polygon.AddPoint(corner["lat"], corner["lon"])
    assert record["acres"] == pytest.approx(abs(polygon.Compute()[2]) / 4046.8564224, rel=1e-5)
    result = survey("outline", file)
    assert " acres, " in result.stdout.splitlines()[0]
    assert "± " in result.stdout.splitlines()[0]
    assert "outline" in tomllib.loads(result.stdout)


def test_outline_into_a_field_and_a_new_one(tmp_path: Path, field: Path) -> None:
    file = gpx(tmp_path / "round.gpx", tracks=[round_trip()])
    text = survey("outline", file, "--into", field)
    assert text.exit_code == 1
    assert "outline: was a list of 4, now a list of " in text.stderr
    result = survey("outline", file, "--into", field, "--overwrite", "--accuracy", "1 m rms")
    assert result.exit_code == 0, result.output
    (loaded,) = load_farm(field.parent.parent).fields
    assert loaded.boundary.area == pytest.approx(160_000, rel=5e-3)
    assert loaded.boundary_se_m == pytest.approx(1 / math.sqrt(2), abs=0.02)
    fresh = field.parent / "70_north_forty.toml"
    north = gpx(tmp_path / "north.gpx", tracks=[[(lon, lat + 0.01) for lon, lat in round_trip()]])
    assert survey("outline", north, "--into", fresh).exit_code == 0
    assert [own.name for own in load_farm(field.parent.parent).fields] == ["North forty", "Home field"]


def test_outline_as_geojson_in_the_farm(tmp_path: Path, field: Path) -> None:
    file = gpx(tmp_path / "round.gpx", tracks=[round_trip()])
    shape = field.parent.parent / "shapes" / "home.geojson"
    words = ("outline", file, "-o", shape, "--into", field)
    result = survey(*words, "--overwrite")
    assert result.exit_code == 0, result.output
    plain = tomllib.loads(field.read_text())
    assert plain["boundary"] == {"file": "shapes/home.geojson"}
    assert "outline" not in plain
    assert load_farm(field.parent.parent).fields[0].boundary.area == pytest.approx(160_000, rel=5e-3)
    document = json.loads(shape.read_text())
    assert document["features"][0]["properties"]["field"] == "Home field"
    assert "already there; say --overwrite" in refused(*words)


def test_outline_joins_segments_and_wants_one_drive(tmp_path: Path) -> None:
    drive = round_trip()
    cut = gpx(tmp_path / "cut.gpx", segments=[drive[:150], drive[153:]])
    result = survey("outline", cut)
    assert result.exit_code == 0, result.output
    assert "2 segments joined by straight lines" in result.stderr
    two = gpx(tmp_path / "two.gpx", tracks=[drive, drive])
    assert "found 2 drives (of two.gpx: track 1; two.gpx: track 2); allowed: one" in refused("outline", two)
    assert survey("outline", two, "--track", "track 2").exit_code == 0
    assert 'found "east" in the names of 0 drives (of two' in refused("outline", two, "--track", "east")


def test_outlines_that_are_none(tmp_path: Path) -> None:
    straight = gpx(tmp_path / "s.gpx", tracks=[places(range(0, 500, 5), [0] * 100)])
    assert "comes back near where it began" in refused("outline", straight)
    wide = gpx(tmp_path / "w.gpx", tracks=[places([0, 9000, 9000, 0], [0, 0, 9000, 9000])])
    assert "km from their middle" in refused("outline", wide)


def test_a_log_drives_round_too(tmp_path: Path) -> None:
    path = tmp_path / "round.nmea"
    lines = [
        gga(*spot, f"{10 + n // 3600:02d}{n % 3600 // 60:02d}{n % 60:02d}.00")
        for n, spot in enumerate(round_trip())
    ]
    path.write_text("\n".join(lines))
    assert answer("outline", path)["outline"]["acres"] == pytest.approx(160_000 / 4046.8564224, rel=5e-3)

"""The flag commands on the sample farm: output, exit codes, messages."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any, get_args

import pytest
from click.testing import CliRunner, Result
from geographiclib.geodesic import Geodesic

from phones import few_fields
from ringrow.cli import flag_options, flag_set
from ringrow.cli.main import cli
from ringrow.equipment.kinds import CLASSES, FLAG_KINDS, STATUSES
from ringrow.equipment.lateral_move import Hand
from ringrow.farm.flags import UNDOABLE
from ringrow.farm.load import load_farm
from ringrow.farm.season import read_states
from ringrow.farm.spot_values import WHEELS


def run(*arguments: Any) -> Result:
    return CliRunner().invoke(cli, ["flag", *map(str, arguments)])


def good(*arguments: Any) -> Result:
    result = run(*arguments)
    assert result.exit_code == 0, result.output
    return result


def flags_of(*arguments: Any) -> list[dict[str, Any]]:
    plain = json.loads(good(*arguments, "--json").stdout)
    assert plain["schema"] == 1
    flags: list[dict[str, Any]] = plain["flags"]
    return flags


@pytest.fixture
def farm(tmp_path: Path) -> Path:
    """The sample farm without its corner arm and what no flag here is on: quick to read."""
    return few_fields(tmp_path / "two_windmill_farm", "10_", "20_", "40_", "80_", "90_")


@pytest.fixture
def machines(farm: Path) -> Path:
    """Of the sample farm a pivot, the towed machine and the lateral move: quick to read."""
    for path in (farm / "fields").glob("*.toml"):
        if not path.name.startswith(("10_", "80_", "90_")):
            path.unlink()
    (farm / "farm.toml").write_text('name = "Two Windmill Farm"\n', encoding="utf-8")
    return farm


@pytest.fixture(scope="module")
def walked(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The fields of the sample farm that its three walkers walked, with the flags they brought, made once."""
    folder = few_fields(
        tmp_path_factory.mktemp("walked") / "two_windmill_farm",
        *("10_", "20_", "30_", "40_", "50_", "60_", "80_"),
    )
    good("import", folder, *sorted(path for path in (folder / "flags").iterdir() if path.is_file()))
    return folder


@pytest.fixture(scope="module")
def listed(walked: Path) -> list[dict[str, Any]]:
    """All its flags, as the list gives them."""
    return flags_of("list", walked)


@pytest.fixture
def full(walked: Path, tmp_path: Path) -> Path:
    """A copy of it, free to be changed."""
    return Path(shutil.copytree(walked, tmp_path / "walked_farm"))


def test_choices_are_those_of_the_kinds_and_spots() -> None:
    assert (flag_options.CLASSES, flag_options.STATUSES, flag_options.WHEELS) == (CLASSES, STATUSES, WHEELS)
    assert set(flag_options.SIDES) == set(get_args(Hand))
    assert tuple(name.replace("-", "_") for name in flag_set.UNDOABLE) == UNDOABLE


@pytest.mark.parametrize("command", ["add", "import", "set"])
def test_the_help_names_every_kind(command: str) -> None:
    words = good(command, "--help").stdout.replace(",", " ").split()
    assert set(FLAG_KINDS) <= set(words)


def test_an_empty_season_lists_nothing(farm: Path) -> None:
    result = good("list", farm)
    assert result.stdout == ""
    # On a slow machine what is being done is said before.
    assert result.stderr.splitlines()[-1] == "no flags in this season yet"
    assert flags_of("list", farm) == []
    assert not (farm / "season.db").exists()


def test_a_tower_as_people_say_it(farm: Path) -> None:
    result = good(
        *("add", farm, "--kind", "tire", "--pivot", "windmill pivot", "--tower", 5),
        *("--wheel", "outer-trailing", "--note", "flat", "--by", "Walker"),
    )
    assert result.stdout.startswith("flag 1: tire (stops), open; Windmill pivot: tower 5")
    (flag,) = flags_of("list", farm)
    assert (flag["system"], flag["tower"], flag["tower_offset_ft"]) == (
        "Windmill pivot",
        5,
        pytest.approx(0.0),
    )
    # Five spans of 182 ft, as the sample farm's file says.
    assert flag["distance_ft"] == pytest.approx(910.0, abs=1e-9)
    assert (flag["lat"], flag["lon"], flag["set_by"], flag["note"]) == (None, None, "Walker", "flat")


def test_a_drop_past_a_tower(farm: Path) -> None:
    (flag,) = flags_of(
        "add", farm, "--kind", "sprinkler", "--pivot", "Windmill pivot", "--tower", 5, "--drop", "+3"
    )
    # Outlets at 10 + 9.5 k ft: the first three past 910 ft are 912.5, 922 and 931.5 ft.
    assert flag["distance_ft"] == pytest.approx(931.5, abs=1e-6)
    assert flag["outlet"] == 98
    (before,) = flags_of(
        "add", farm, "--kind", "drop", "--pivot", "Windmill pivot", "--tower", 5, "--drop", "-1"
    )
    assert before["distance_ft"] == pytest.approx(903.0, abs=1e-6)


def test_a_lateral_and_its_row_are_one_place(farm: Path) -> None:
    where = ("--drip", "Elevator drip", "--station", 600)
    (by_lateral,) = flags_of("add", farm, "--kind", "leak", *where, "--lateral", 43)
    result = good("add", farm, "--kind", "leak", *where, "--row", 85, "--json")
    assert result.stderr == "row 85 is served by lateral 43\n"
    (by_row,) = json.loads(result.stdout)["flags"]
    for flag in (by_lateral, by_row):
        assert (flag["lateral"], flag["zone"], flag["elsewhere"]) == (43, "North zone", 0.0)
        assert flag["station_ft"] == pytest.approx(600.0, abs=1e-6)
    assert (by_row["lat"], by_row["lon"]) == (by_lateral["lat"], by_lateral["lon"])


def test_a_well_and_a_position(farm: Path) -> None:
    (well,) = flags_of("add", farm, "--kind", "pump", "--well", "home WELL")
    assert (well["system"], well["field"], well["on"]) == ("Home well", None, "works")
    (ground,) = flags_of(
        "add",
        farm,
        "--kind",
        "burrow",
        "--at",
        "36.7520190, -101.4961852",
        "--accuracy",
        "3 m r68",
        "--class",
        "unsafe",
    )
    assert (ground["field"], ground["class"], ground["number"]) == ("Windmill quarter", "unsafe", 2)


@pytest.mark.parametrize(
    ("options", "message"),
    [
        (["--kind", "gearbx", "--well", "Home well"], r'flag kind: found "gearbx"; .*nearest: "gearbox"'),
        (["--kind", "tire", "--tower", "5"], r'pivot: no name given; allowed: "Windmill pivot"'),
        (["--kind", "tire", "--pivot", "Windmil pivot", "--tower", "5"], r'nearest: "Windmill pivot"'),
        (["--kind", "tire", "--pivot", "Windmill pivot", "--tower", "9"], r"found 9; allowed: 1 to 7"),
        (["--kind", "tire", "--well", "Home well"], r'flag kind "tire": sits on a machine; allowed: --pivot'),
        (
            ["--kind", "rut", "--pivot", "Windmill pivot", "--tower", "5"],
            r'"rut": stays on the ground .*--azimuth',
        ),
        (["--kind", "rut", "--at", "-101.5, 36.75"], r"are the two swapped\?"),
        (["--kind", "rut", "--at", "48, 12"], r"km from the farm; allowed: within 50 km"),
        (["--kind", "rut", "--at", "36.752, -101.49", "--accuracy", "good"], r'accuracy: found "good"'),
        (
            ["--kind", "leak", "--drip", "Elevator drip", "--lateral", "43", "--station", "6000"],
            r"found 6000 ft; allowed: 0 \(header end\) to",
        ),
        (
            ["--kind", "leak", "--drip", "Elevator drip", "--lateral", "9999", "--station", "6"],
            r"found 9999; allowed: 1 to",
        ),
        (["--kind", "pump", "--well", "Far well"], r'well: found "Far well"; allowed: "Home well"'),
    ],
)
def test_what_cannot_be_set_says_why_and_writes_nothing(farm: Path, options: list[str], message: str) -> None:
    result = run("add", farm, *options)
    assert result.exit_code == 1
    assert result.stdout == ""
    assert re.search(message, result.stderr), result.stderr
    assert not (farm / "season.db").exists()


@pytest.mark.parametrize(
    ("options", "message"),
    [
        (["--kind", "leak"], "found no place; give one of --at"),
        (["--kind", "leak", "--well", "Home well", "--at", "1, 2"], "found --at and --well; give one of"),
        (["--kind", "leak", "--accuracy", "3 m"], "found --accuracy alone; give --at beside it"),
        (
            ["--kind", "leak", "--drip", "Elevator drip", "--lateral", "3"],
            "give --lateral (or --row) and --station",
        ),
        (["--well", "Home well"], "Missing option '--kind'"),
    ],
)
def test_options_that_do_not_go_together_are_wrong_usage(
    farm: Path, options: list[str], message: str
) -> None:
    result = run("add", farm, *options)
    assert result.exit_code == 2
    assert message in " ".join(result.stderr.split())


def test_the_only_pivot_and_block_need_no_name(farm: Path) -> None:
    for path in (farm / "fields").glob("*.toml"):
        if not path.name.startswith(("10_", "40_")):
            path.unlink()
    (farm / "farm.toml").write_text('name = "Two Windmill Farm"\n', encoding="utf-8")
    (tire,) = flags_of("add", farm, "--kind", "tire", "--tower", 2)
    assert tire["system"] == "Windmill pivot"
    (leak,) = flags_of("add", farm, "--kind", "leak", "--lateral", 2, "--station", 10)
    assert leak["system"] == "Elevator drip"
    (gun,) = flags_of("add", farm, "--kind", "end-gun", "--pivot", "Windmill pivot")
    # Six spans of 182 ft, one of 158 ft, 34 ft of overhang.
    assert gun["distance_ft"] == pytest.approx(1284.0, abs=1e-6)


def test_importing_the_walkers_files_twice_changes_nothing(full: Path) -> None:
    files = sorted(path for path in (full / "flags").iterdir() if path.is_file())
    before, states = (full / "season.db").read_bytes(), read_states(full / "season.db")
    plain = json.loads(good("import", full, *files, "--json").stdout)
    assert [file["file"] for file in plain["files"]] == [file.name for file in files]
    for file in plain["files"]:
        assert file["already_there"] == len(file["points"])
        assert (file["new"], file["edited"], file["refused"]) == (0, 0, 0)
    assert read_states(full / "season.db") == states
    assert (full / "season.db").read_bytes() == before


def test_an_import_says_what_came_in_what_was_refused_and_what_was_guessed(
    farm: Path, tmp_path: Path
) -> None:
    table = tmp_path / "points.csv"
    table.write_text(
        "Y,X,Remarks\n36.752,-101.4961,gopher\n-101.4961,36.752,rut\n36.75,-10,x\n", encoding="utf-8"
    )
    result = good("import", farm, table, "--by", "Office", "--dry-run")
    lines = result.stdout.splitlines()
    assert lines[0] == "points.csv: 3 points: 1 new, 2 refused"
    assert lines[1] == '  row 2: new flag; burrow (guessed from "gopher" in the note)'
    assert lines[2].startswith("  row 3: refused; found latitude -101.4961, longitude 36.752")
    assert lines[2].endswith("latitude and longitude look swapped")
    assert "km from the farm" in lines[3]
    assert 'lat = "Y" (guessed), lon = "X" (guessed), note = "Remarks" (guessed)' in result.stderr
    assert result.stderr.endswith("dry run: nothing was written\n")
    assert not (farm / "season.db").exists()
    stated = good("import", farm, table, "--columns", "lat=Y,lon=X", "--kind", "rock", "--by", "Office")
    assert "row 2: new flag 1; rock (as you said)" in stated.stdout
    assert read_states(farm / "season.db")[0].set_by == "Office"


def test_a_file_that_cannot_be_used_stops_all_of_them(farm: Path, tmp_path: Path) -> None:
    broken = tmp_path / "broken.gpx"
    broken.write_text("<gpx><wpt", encoding="utf-8")
    result = run("import", farm, farm / "flags" / "handheld_walker_1.gpx", broken)
    assert result.exit_code == 1
    assert "broken.gpx: found no well-formed XML" in result.stderr
    assert not (farm / "season.db").exists()


def test_the_list_is_sorted_by_class_then_ground_touched_then_number(
    walked: Path, listed: list[dict[str, Any]]
) -> None:
    assert len(listed) == len(read_states(walked / "season.db")) > 20
    keys = [
        (CLASSES.index(flag["class"]), -(flag["touched_acres"] or 0.0), flag["number"]) for flag in listed
    ]
    assert keys == sorted(keys)
    assert all(flag["place"] for flag in listed)


@pytest.mark.parametrize(
    ("options", "key", "value"),
    [
        (["--field", "windmill quarter"], "field", "Windmill quarter"),
        (["--system", "Elevator drip"], "system", "Elevator drip"),
        (["--system", "North well"], "system", "North well"),
        (["--kind", "tire"], "kind", "tire"),
        (["--class", "unsafe"], "class", "unsafe"),
        (["--status", "open"], "status", "open"),
    ],
)
def test_filters_keep_what_they_name_and_all_of_it(
    walked: Path, listed: list[dict[str, Any]], options: list[str], key: str, value: str
) -> None:
    kept = flags_of("list", walked, *options)
    assert kept
    assert kept == [flag for flag in listed if flag[key] == value]


def test_an_unknown_name_in_a_filter_is_refused(farm: Path) -> None:
    for option, name, near in (
        ("--field", "Windmil quarter", "Windmill quarter"),
        ("--system", "Hom well", "Home well"),
        ("--kind", "tires", "tire"),
    ):
        result = run("list", farm, option, name)
        assert result.exit_code == 1
        assert f'nearest: "{near}"' in result.stderr


def test_plain_lines_have_one_line_a_flag(walked: Path, listed: list[dict[str, Any]]) -> None:
    result = good("list", walked, "--status", "open")
    lines = result.stdout.splitlines()
    count = sum(flag["status"] == "open" for flag in listed)
    assert len(lines) == count + 1
    assert result.stderr.splitlines()[-1] == f"{count} of {count} flags"


def test_setting_and_showing(full: Path) -> None:
    result = good("set", full, 3, 4, "--status", "fixed", "--note", "new one", "--by", "Crew")
    assert [line.split(";")[0] for line in result.stdout.splitlines()] == [
        "flag 3: sprinkler (acres), fixed",
        "  leaves 1.1 acres dry",
        "flag 4: burrow (wastes), fixed",
    ]
    again = good("set", full, 3, "--status", "fixed")
    assert again.stderr.splitlines()[-1] == "flag 3: status was so already"
    shown = good("show", full, 3).stdout
    assert "note: new one" in shown
    assert 'Crew: status = "fixed"  [flag set]' in shown
    plain = json.loads(good("show", full, 3, "--json").stdout)
    assert plain["flags"][0]["number"] == 3
    assert {event["field"] for event in plain["events"]} >= {"spot", "kind", "status", "note"}
    by_id = flags_of("show", full, plain["flags"][0]["id"][:8])
    assert by_id == plain["flags"]


def test_kind_and_class_can_be_changed_and_put_back(full: Path) -> None:
    (flag,) = flags_of("set", full, 3, "--kind", "drop", "--class", "stops")
    assert (flag["kind"], flag["class"]) == ("drop", "stops")
    (back,) = flags_of("set", full, 3, "--class", "as-kind")
    assert back["class"] == FLAG_KINDS["drop"].flag_class


def test_what_cannot_be_changed_says_why(full: Path) -> None:
    result = run("set", full, 3, 999, "--status", "checked")
    assert result.exit_code == 1
    assert 'flag "999": not in this season; allowed: a number from 1 to' in result.stderr
    assert read_states(full / "season.db")[2].status == "open"
    assert run("set", full, 3).exit_code == 2
    assert run("set", full, 3, "--status", "gone").exit_code == 2
    (full / "season.db").unlink()
    missing = run("show", full, 1)
    assert missing.exit_code == 1
    assert "no season log there; it begins with a first flag or round" in missing.stderr


def test_a_damaged_log_is_one_clear_line(full: Path) -> None:
    (full / "season.db").write_bytes(b"not a database" * 50)
    result = run("list", full)
    assert result.exit_code == 1
    assert "the season log is damaged" in result.stderr
    assert len(result.stderr.splitlines()) == 1


def test_hostile_words_do_not_steer_the_terminal(farm: Path) -> None:
    note = "<script>\n=1+1\x1b[2J[bold]"
    good("add", farm, "--kind", "pump", "--well", "Home well", "--note", note)
    assert flags_of("list", farm)[0]["note"] == note
    for command in (("list", farm), ("show", farm, 1)):
        text = good(*command).stdout
        assert "\x1b" not in text
        assert "<script> =1+1" in text


def test_setting_and_listing_load_no_heavy_library(farm: Path) -> None:
    script = (
        "import sys\n"
        "from ringrow.cli.main import cli\n"
        "farm = sys.argv[1]\n"
        "words = ['flag', 'add', farm, '--kind', 'pump', '--well', 'Home well']\n"
        "cli(words, standalone_mode=False)\n"
        "cli(['flag', 'list', farm], standalone_mode=False)\n"
        "print(*sorted({'pandas', 'geopandas', 'folium'} & set(sys.modules)), file=sys.stderr)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", script, str(farm)], capture_output=True, text=True, check=True
    )
    assert done.stdout.count("Home well") == 2
    assert done.stderr.splitlines()[-1] == ""


def test_an_exported_farm_comes_back_as_the_flags_it_was(full: Path, tmp_path: Path) -> None:
    good("add", full, "--kind", "tire", "--pivot", "Windmill pivot", "--tower", 5)
    out = tmp_path / "all.geojson"
    exported = CliRunner().invoke(cli, ["export", str(full), "-o", str(out)])
    assert exported.exit_code == 0, exported.output
    before = read_states(full / "season.db")
    result = good("import", full, out)
    assert result.stdout == f"all.geojson: {len(before)} points: {len(before)} already there\n"
    assert read_states(full / "season.db") == before


def test_a_place_on_a_lateral_move(machines: Path) -> None:
    (flag,) = flags_of(
        *("add", machines, "--kind", "tire", "--move", "ditch lateral", "--side", "left"),
        *("--tower", 3, "--travel", 850),
    )
    assert (flag["system"], flag["side"], flag["tower"], flag["field"]) == (
        *("Ditch lateral", "left", 3),
        "Ditch field",
    )
    assert flag["cart_ft"] == pytest.approx(510, abs=1e-6)
    assert flag["travel_ft"] == pytest.approx(850, abs=1e-6)
    assert flag["touches"] == "stopped"
    assert flag["touched_acres"] > 50
    # The same place asked back says the same.
    at = f"{flag['lat']:.9f}, {flag['lon']:.9f}"
    result = CliRunner().invoke(cli, ["where", str(machines), "--at", at, "--json"])
    (seen,) = json.loads(result.stdout)["lateral_moves"]
    assert (seen["name"], seen["side"], seen["tower"], seen["inside"]) == ("Ditch lateral", "left", 3, True)
    assert seen["travel_ft"] == pytest.approx(850, abs=0.01)
    assert seen["cart_ft"] == pytest.approx(510, abs=0.01)
    words = CliRunner().invoke(cli, ["where", str(machines), "--at", at]).stdout
    assert "Ditch lateral (wets this place)\n  travel 850 ft from the start of its path" in words
    listed = good("list", machines, "--system", "Ditch lateral").stdout
    assert "Ditch lateral: left tower 3, 510 ft from the cart, travel 850 ft" in listed


@pytest.mark.parametrize(
    ("options", "code", "message"),
    [
        (["--move", "Ditch lateral", "--tower", "1"], 1, "side of .* not said; allowed: left or right"),
        (["--move", "Dich lateral", "--side", "left", "--tower", "1"], 1, 'nearest: "Ditch lateral"'),
        (["--move", "Ditch lateral", "--side", "left", "--tower", "9"], 1, "found 9; allowed: 1 to 3"),
        (["--side", "left", "--pivot", "Creek pivot", "--tower", "1"], 2, "found --pivot and --move"),
        (["--move", "Ditch lateral", "--azimuth", "4"], 2, "found --pivot and --move"),
    ],
)
def test_what_cannot_be_on_a_lateral_move(
    machines: Path, options: list[str], code: int, message: str
) -> None:
    result = run("add", machines, "--kind", "tire", *options)
    assert result.exit_code == code
    assert re.search(message, " ".join(result.stderr.split())), result.stderr


def test_a_ground_fault_on_a_lateral_move_wants_the_travel(machines: Path) -> None:
    place = ["--move", "Ditch lateral", "--side", "left", "--tower", 1]
    result = run("add", machines, "--kind", "rut", *place)
    assert result.exit_code == 1
    assert "stays on the ground while the machine walks on; allowed: --at, or --travel" in result.stderr
    good("add", machines, "--kind", "rut", *place, "--travel", 300)


def test_a_towed_machine_by_its_name_and_by_a_point(machines: Path) -> None:
    (tow,) = flags_of("add", machines, "--kind", "gearbox", "--pivot", "Tow pivot", "--tower", 2)
    (west,) = flags_of("add", machines, "--kind", "gearbox", "--pivot", "Tow pivot west", "--tower", 2)
    # The farm's files say that it stands at the east point.
    assert (tow["system"], west["system"]) == ("Tow pivot east", "Tow pivot west")
    listed = flags_of("list", machines, "--system", "Tow pivot")
    assert {flag["number"] for flag in listed} == {1, 2}
    assert [flag["number"] for flag in flags_of("list", machines, "--system", "Tow pivot west")] == [2]
    parked = flags_of("list", machines, "--system", "Tow pivot", "--parked")
    assert {flag["system"] for flag in parked} == {"Tow pivot east"}
    assert [flag["lat"] for flag in parked] == [pytest.approx(parked[0]["lat"], abs=1e-9)] * 2


def test_machine_flags_where_machines_stand(walked: Path, listed: list[dict[str, Any]]) -> None:
    set_there = {flag["number"]: flag for flag in listed}
    result = good("list", walked, "--parked", "Windmill pivot=panel:10", "--parked", "--json")
    plain = json.loads(result.stdout)
    lines = {line["name"]: line for line in plain["machines"]}
    assert lines.keys() == {"Windmill pivot", "Tow pivot east"}
    assert (lines["Windmill pivot"]["azimuth_deg"], lines["Windmill pivot"]["panel_deg"]) == (100.0, 10.0)
    assert len(lines["Windmill pivot"]["points"]) == 1 + 7 + 1
    moved = [flag for flag in plain["flags"] if flag["set_lat"] is not None]
    assert moved
    for flag in moved:
        before = set_there[flag["number"]]
        assert (flag["set_lat"], flag["set_lon"]) == (before["lat"], before["lon"])
        assert (flag["system"], flag["azimuth_deg"]) == ("Windmill pivot", pytest.approx(100.0))
        assert flag["tower"] == before["tower"]
    for flag in plain["flags"]:
        if flag["set_lat"] is None:
            assert flag["lat"] == set_there[flag["number"]]["lat"] or set_there[flag["number"]]["lat"] is None
    assert "Windmill pivot stands at azimuth 100.0 (panel 10.0)\n" in result.stderr
    assert "Creek pivot: not known where it stands; its flags are where they were set\n" in result.stderr
    words = good("list", walked, "--parked", "Windmill pivot=100").stdout
    assert "shown where its machine stands; set at" in words


def test_parked_says_what_it_cannot_read(farm: Path) -> None:
    result = run("list", farm, "--parked", "Windmill pivot")
    assert result.exit_code == 1
    assert 'found "Windmill pivot"; allowed: "NAME=AZIMUTH"' in result.stderr


def test_a_flag_from_another_machine_is_named(machines: Path) -> None:
    """Two fixes 10 minutes apart across the circle: no machine walks so fast."""
    fields = load_farm(machines).fields
    (pivot, frame) = next((p, f.frame) for f in fields for p in f.pivots if p.name == "Windmill pivot")
    lon, lat = map(float, frame.to_lonlat(pivot.x_m, pivot.y_m))
    rows = []
    for tower, azimuth, minute in ((5, 41.0, 0), (4, 44.0, 5), (6, 214.0, 10)):
        at = Geodesic.WGS84.Direct(lat, lon, azimuth, pivot.tower_radii_m[tower - 1])
        rows.append((f"tower {tower}", at["lat2"], at["lon2"], f"2026-04-02T13:{minute:02d}:00Z"))
    table = machines / "round.csv"
    lines = [f"{name},{lat},{lon},{time},gearbox" for name, lat, lon, time in rows]
    table.write_text("\n".join(["name,lat,lon,time,kind", *lines]) + "\n", encoding="utf-8")
    good("import", machines, table)
    flags = {flag["name"]: flag for flag in flags_of("list", machines)}
    assert {flag["system"] for flag in flags.values()} == {"Windmill pivot"}
    assert [flags[name]["doubt"] is None for name, *_ in rows] == [True, True, False]
    assert "probably a fault on the ground or the wrong pivot" in flags["tower 6"]["doubt"]
    assert "probably a fault on the ground or the wrong pivot" in good("show", machines, 3).stdout
    assert "probably a fault on the ground or the wrong pivot" in good("list", machines).stdout

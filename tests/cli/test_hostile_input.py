"""Hostile files through the commands themselves: one clear message, bounded memory, nothing half-done."""

from __future__ import annotations

import json
import resource
import zipfile
from dataclasses import replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import pytest
from click.testing import CliRunner, Result

from ringrow.cli.main import cli
from ringrow.farm.season_files import dump_lines
from season_logs import make_event

if TYPE_CHECKING:
    from pathlib import Path

HEADER = "name,lat,lon,time,note\n"


def run(*words: object) -> Result:
    return CliRunner().invoke(cli, [str(word) for word in words])


def import_(farm: Path, path: Path) -> Result:
    return run("flag", "import", farm, path)


def refused(done: Result, *says: str) -> None:
    assert done.exit_code == 1, done.output
    assert "Traceback" not in done.output
    assert isinstance(done.exception, SystemExit)
    assert len(done.output) < 2_000
    for words in says:
        assert words in done.output


def one_flag_kept(farm: Path) -> bool:
    """Whether the log holds just the flag that was set before, whole."""
    listed = json.loads(run("flag", "list", farm, "--json").stdout)["flags"]
    return [(flag["kind"], flag["note"]) for flag in listed] == [("nest", "first")]


FARM = """
name = "Small Farm"
time_zone = "America/Chicago"
[[well]]
name = "Home well"
at = { lat = 36.752, lon = -101.501 }
"""
FIELD = """
name = "Windmill quarter"
outline = [
  { lat = 36.748, lon = -101.508 }, { lat = 36.755, lon = -101.508 },
  { lat = 36.755, lon = -101.499 }, { lat = 36.748, lon = -101.499 },
]
"""


@pytest.fixture
def farm(tmp_path: Path) -> Path:
    """A farm of one field with one flag."""
    folder = tmp_path / "farm"
    (folder / "fields").mkdir(parents=True)
    (folder / "farm.toml").write_text(FARM)
    (folder / "fields" / "windmill.toml").write_text(FIELD)
    added = run("flag", "add", folder, "--kind", "nest", "--well", "Home well", "--note", "first")
    assert added.exit_code == 0, added.output
    return folder


def test_a_table_of_two_gigabytes_is_refused_by_its_size_alone(farm, tmp_path) -> None:
    path = tmp_path / "huge.csv"
    with path.open("wb") as file:
        file.write(HEADER.encode())
        file.truncate(2 * 1024**3)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    refused(import_(farm, path), "huge.csv", "allowed")
    # In kilobytes; the file never came into memory.
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before < 100_000
    assert one_flag_kept(farm)


def test_a_boundary_of_a_million_vertices_is_refused_or_read_within_bounds(tmp_path) -> None:
    teeth = ["[-101.50,36.75],[-101.49,36.75]", "[-101.50,36.76],[-101.49,36.76]"] * 250_000
    path = tmp_path / "round.geojson"
    path.write_text(
        '{"type":"Feature","properties":{"name":"Round"},"geometry":{"type":"Polygon","coordinates":[['
        + ",".join([*teeth, "[-101.50,36.75]"])
        + "]]}}"
    )
    done = run("new", tmp_path / "new", "--boundary", path)
    refused(done, "round.geojson", "vertices", "allowed")
    assert not (tmp_path / "new").exists()


@pytest.mark.parametrize(
    ("place", "says"),
    [
        ("90,-101.5", "from the farm"),
        ("-90,0", "from the farm"),
        ("36.75,180", "from the farm"),
        ("36.75,-180", "from the farm"),
        ("91,-101.5", "latitude"),
        ("36.75,181", "longitude"),
        ("1e999,0", "found"),
        ("nan,nan", "found"),
    ],
)
def test_places_that_cannot_be_on_the_farm_are_named_row_by_row(farm, tmp_path, place, says) -> None:
    path = tmp_path / "walk.csv"
    path.write_text(
        f"{HEADER}leak,{place},2027-04-02T08:00:00Z,x\nrut,36.7512,-101.5034,2027-04-02T08:01:00Z,y\n"
    )
    done = import_(farm, path)
    assert "Traceback" not in done.output
    assert says in done.output
    kinds = [flag["kind"] for flag in json.loads(run("flag", "list", farm, "--json").stdout)["flags"]]
    assert sorted(kinds) == ["nest", "rut"]


@pytest.mark.parametrize(
    "when", ["0000-00-00", "9999-12-31T23:59:59Z", "1900-01-01", "99999999999999", "soon"]
)
def test_absurd_dates_lose_no_flag_and_are_said(farm, tmp_path, when) -> None:
    path = tmp_path / "walk.csv"
    path.write_text(f"{HEADER}rut,36.7512,-101.5034,{when},y\n")
    done = import_(farm, path)
    assert done.exit_code == 0, done.output
    assert len(json.loads(run("flag", "list", farm, "--json").stdout)["flags"]) == 2
    assert run("season", "check", farm).exit_code == 0


@pytest.mark.parametrize("command", [("flag", "import"), ("bulk",), ("round", "import"), ("water", "catch")])
def test_a_table_whose_first_line_never_ends_is_refused(farm, tmp_path, command) -> None:
    path = tmp_path / "line.csv"
    path.write_text("wet " * 50_000)
    needs_farm = command[0] in ("flag", "round")
    refused(
        run(*command, *([farm] if needs_farm else []), path),
        "line.csv",
        "its first line is no row of a table",
    )


def test_a_file_name_longer_than_any_file_is_a_fault(farm) -> None:
    (farm / "shapes").mkdir()
    long = f"shapes/{'y' * 300}.geojson"
    (farm / "fields" / "windmill.toml").write_text(
        f'name = "Windmill quarter"\nboundary = {{ file = "{long}" }}\n'
    )
    refused(
        run("acres", farm), "windmill.toml: boundary.file: found", "cannot be looked for (File name too long)"
    )


def test_a_clock_that_was_never_set_dates_no_flag(farm, tmp_path) -> None:
    path = tmp_path / "walk.csv"
    path.write_text(f"{HEADER}rut,36.7512,-101.5034,0001-01-01T00:00:00Z,y\n")
    assert (
        "time 0001-01-01T00:00:00.000000Z lies before the year 2000 and was left out"
        in import_(farm, path).output
    )
    assert "0 odd" in run("season", "check", farm).output


def test_a_log_with_dates_at_the_ends_of_time_is_still_read_by_every_command(farm, tmp_path) -> None:
    """Such a log may come by a merge or a dump, and an event is never changed."""
    events = [
        make_event(4 * number, field="spot", value={"on": "well", "well": "Home well"}, when=when)
        for number, when in enumerate((datetime.min, datetime.max), 1)
    ]
    dump = tmp_path / "ends.jsonl"
    dump.write_text(
        "\n".join(dump_lines([replace(event, when=event.when.replace(tzinfo=UTC)) for event in events]))
    )
    assert "2 events added" in run("season", "load", farm, dump).output
    report = ["report", farm, "-o", tmp_path / "report.html"]
    commands = [report, ["again", farm], ["ready", farm]]
    for words in commands:
        done = run(*words)
        assert done.exit_code == 0, (words, done.output, done.exception)
    assert "2 odd" in run("season", "check", farm).output


@pytest.mark.parametrize("coding", ["utf-16", "utf-8-sig", "latin-1", "cp1252"])
def test_a_table_of_another_encoding_is_read_with_its_letters(farm, tmp_path, coding) -> None:
    path = tmp_path / "walk.csv"
    path.write_bytes(f"{HEADER}rut,36.7512,-101.5034,2027-04-02,señal\n".encode(coding))
    assert import_(farm, path).exit_code == 0
    notes = [flag["note"] for flag in json.loads(run("flag", "list", farm, "--json").stdout)["flags"]]
    assert "señal" in notes


def test_a_member_that_climbs_out_of_its_archive_is_never_written(farm, tmp_path) -> None:
    path = tmp_path / "walk.kmz"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("../../climbed.kml", "<kml/>")
        archive.writestr("/absolute.kml", "<kml/>")
    done = import_(farm, path)
    assert "walk.kmz: 0 points" in done.output
    assert not list(tmp_path.rglob("*climbed*"))
    assert not list(tmp_path.parent.glob("*climbed*"))
    assert one_flag_kept(farm)


@pytest.mark.parametrize("file", ["../../outside.geojson", "/etc/hostname", "shapes/../../outside.geojson"])
def test_a_path_in_a_farm_file_that_leaves_the_farm_is_a_fault(farm, file) -> None:
    field = farm / "fields" / "windmill.toml"
    field.write_text(f'name = "Windmill quarter"\nboundary = {{ file = "{file}" }}\n')
    done = run("check", farm)
    refused(done, "boundary.file", file)


@pytest.mark.parametrize("ending", [".gpx", ".kml", ".geojson", ".csv", ".jpg", ".kmz", ".gpkg", ".nmea"])
@pytest.mark.parametrize(
    "content", [b"", b"\x00" * 5_000, b"{[<" * 2_000, b"PK\x03\x04", b"\xff\xd8\xff\xe1\xff\xff"]
)
def test_files_that_are_not_what_they_say_change_nothing(farm, tmp_path, ending, content) -> None:
    path = tmp_path / f"what{ending}"
    path.write_bytes(content)
    before = (farm / "season.db").read_bytes()
    done = import_(farm, path)
    refused(done, f"what{ending}")
    assert (farm / "season.db").read_bytes() == before

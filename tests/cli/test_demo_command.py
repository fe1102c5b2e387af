"""The demo: the whole job on the sample farm, from an empty folder."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from ringrow.cli.main import cli


@pytest.fixture(scope="module")
def ran(tmp_path_factory: pytest.TempPathFactory) -> tuple[Result, Path]:
    folder = tmp_path_factory.mktemp("demo") / "farm"
    return CliRunner().invoke(cli, ["demo", str(folder)]), folder


def test_demo_succeeds_and_says_what_it_read_on_stderr(ran: tuple[Result, Path]) -> None:
    result, folder = ran
    assert result.exit_code == 0, result.output
    assert f"files in {folder}" in result.stderr
    assert "handheld_walker_1.gpx: 11 new" in result.stderr
    assert "handheld_walker_1_saved_again.gpx: 11 already there" in result.stderr
    assert "kitchen_table_walker_3.csv: 8 new" in result.stderr
    assert "phone_walker_2.geojson: 8 new" in result.stderr


def test_demo_prints_every_field_with_its_acres(ran: tuple[Result, Path]) -> None:
    result, _ = ran
    for name in ("Windmill quarter", "Creek quarter", "Twin half section", "Elevator quarter"):
        assert name in result.stdout
    assert "156.0" in result.stdout
    assert "acres" in result.stdout


def test_demo_prints_every_flag_with_its_place(ran: tuple[Result, Path]) -> None:
    result, _ = ran
    rows = re.findall(r"^\s*(\d+)\s+(?:unsafe|stops|wastes|acres|later)\s", result.stdout, re.M)
    assert sorted(map(int, rows)) == list(range(1, 28))
    assert "tower 5" in result.stdout
    assert "lateral" in result.stdout
    assert "Draw well" in result.stdout


def test_demo_ends_with_the_path_of_the_map(ran: tuple[Result, Path]) -> None:
    result, folder = ran
    last = result.stdout.rstrip().split("\n")[-1]
    page = Path(last.rpartition(": ")[2])
    assert page == folder / "farm.html"
    assert page.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")


def test_demo_writes_geojson_with_every_flag(ran: tuple[Result, Path]) -> None:
    _, folder = ran
    features = json.loads((folder / "farm.geojson").read_text(encoding="utf-8"))["features"]
    assert (
        sum(feature["id"].startswith("flag") or "number" in feature["properties"] for feature in features)
        >= 27
    )


def test_demo_does_not_overwrite(ran: tuple[Result, Path]) -> None:
    _, folder = ran
    before = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    result = CliRunner().invoke(cli, ["demo", str(folder)])
    assert result.exit_code == 1
    assert "already there" in result.output
    assert "--overwrite" in result.output
    assert {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()} == before


def test_demo_again_with_overwrite_brings_nothing_in_twice(ran: tuple[Result, Path], tmp_path: Path) -> None:
    first, folder = ran
    shutil.copytree(folder, tmp_path / "farm")
    again = CliRunner().invoke(cli, ["demo", str(tmp_path / "farm"), "--overwrite"])
    assert again.exit_code == 0, again.output
    assert re.search(r"\d+ new", again.stderr) is None
    assert again.stdout == first.stdout.replace(str(folder), str(tmp_path / "farm"))


def test_demo_in_metric_units(tmp_path: Path) -> None:
    result = CliRunner().invoke(cli, ["demo", str(tmp_path / "farm"), "--units", "metric"])
    assert result.exit_code == 0, result.output
    assert " ha" in result.stdout
    assert re.search(r"\d m from the pivot point", result.stdout)
    assert not re.search(r"\d ft from the pivot point", result.stdout)
    # 156.03 acres are 63.14 ha, by hand.
    assert "63.1" in result.stdout


def test_demo_where_a_map_is_in_the_way_writes_nothing(tmp_path: Path) -> None:
    folder = tmp_path / "farm"
    folder.mkdir()
    (folder / "farm.html").write_text("mine")
    result = CliRunner().invoke(cli, ["demo", str(folder)])
    assert result.exit_code == 1
    assert "farm.html" in result.output
    assert [path.name for path in folder.iterdir()] == ["farm.html"]

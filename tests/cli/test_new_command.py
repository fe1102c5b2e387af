"""``ringrow new``: what it writes, prints and refuses."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest
from click.testing import CliRunner

from ringrow.cli import options
from ringrow.cli.main import cli

if TYPE_CHECKING:
    from pathlib import Path

TWO = {
    "type": "FeatureCollection",
    "features": [
        {
            "type": "Feature",
            "properties": {"FIELD": name},
            "geometry": {
                "type": "Polygon",
                "coordinates": [
                    [[x, 36.75], [x + 0.004, 36.75], [x + 0.004, 36.757], [x, 36.757], [x, 36.75]]
                ],
            },
        }
        for name, x in (("West", -101.5), ("East", -101.495))
    ],
}


@pytest.fixture
def boundary(tmp_path: Path) -> Path:
    """A file of two fields."""
    path = tmp_path / "two.geojson"
    path.write_text(json.dumps(TWO))
    return path


def run(*words: str | Path) -> tuple[int, str, str]:
    """Run a command; return exit code, stdout and stderr."""
    done = CliRunner().invoke(cli, [str(word) for word in words])
    return done.exit_code, done.stdout, done.stderr


def test_acres_of_each_field_are_printed(boundary: Path, tmp_path: Path) -> None:
    code, out, err = run("new", tmp_path / "farm", "--boundary", boundary)
    assert code == 0
    # 0.004 by 0.007 degrees at 36.75 N, some 357 by 777 m: geodesic area on WGS 84 by pyproj, 277,471 m2.
    assert [line.split() for line in out.splitlines()] == [
        ["field", "acres", "file"],
        ["West", "68.56", "fields/01_west.toml"],
        ["East", "68.56", "fields/02_east.toml"],
        ["total", "137.13"],
    ]
    assert f"Started {tmp_path / 'farm'}." in err
    assert run("check", tmp_path / "farm")[0] == 0


def test_json_in_metric_units(boundary: Path, tmp_path: Path) -> None:
    _, out, _ = run("new", tmp_path / "farm", "--boundary", boundary, "--units", "metric", "--json")
    record = json.loads(out)
    assert [row["field"] for row in record["fields"]] == ["West", "East"]
    assert record["total"]["field_ha"] == pytest.approx(55.494, abs=0.001)


def test_without_a_file_an_example_is_started(tmp_path: Path) -> None:
    code, out, _ = run("new", tmp_path / "farm")
    assert code == 0
    assert "Example field  158.68  fields/01_example_field.toml" in out
    assert (
        run("check", tmp_path / "farm")[1]
        == "farm: 1 field, 0 pivots, 0 drip blocks; no fault, 0 warnings.\n"
    )


def test_table_on_a_terminal(boundary: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(options, "on_terminal", lambda: True)
    _, out, _ = run("new", tmp_path / "farm", "--boundary", boundary)
    assert "West" in out
    assert "68.56" in out


def test_what_is_there_stays_without_overwrite(boundary: Path, tmp_path: Path) -> None:
    run("new", tmp_path / "farm")
    code, out, err = run("new", tmp_path / "farm", "--boundary", boundary)
    assert (code, out) == (1, "")
    assert "found a folder with files in it" in err
    assert run("new", tmp_path / "farm", "--boundary", boundary, "--overwrite")[0] == 0
    assert sorted(path.name for path in (tmp_path / "farm" / "fields").iterdir()) == [
        "01_west.toml",
        "02_east.toml",
    ]


@pytest.mark.parametrize("option", ["--name-field", "--layer", "--crs"])
def test_options_of_a_file_need_a_file(option: str, tmp_path: Path) -> None:
    code, _, err = run("new", tmp_path / "farm", option, "x")
    assert code == 2
    assert f"{option} needs --boundary FILE." in err
    assert not (tmp_path / "farm").exists()


def test_unreadable_file_is_one_message(tmp_path: Path) -> None:
    (tmp_path / "a.shp").write_bytes(b"rubbish")
    code, out, err = run("new", tmp_path / "farm", "--boundary", tmp_path / "a.shp")
    assert (code, out) == (1, "")
    assert err.startswith(
        f"Error: {tmp_path / 'a.shp'}: found a shapefile without a.shx and a.dbf; allowed: all parts"
    )
    assert "Traceback" not in err
    assert not (tmp_path / "farm").exists()


def test_names_come_from_the_column_that_is_said(boundary: Path, tmp_path: Path) -> None:
    code, _, err = run("new", tmp_path / "farm", "--boundary", boundary, "--name-field", "FELD")
    assert code == 1
    assert 'no column "FELD"; allowed: one of "FIELD"; did you mean "FIELD"?' in err

"""``ringrow export`` by every ending: what is written, said, refused and brought back."""

from __future__ import annotations

import csv
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path
from typing import TYPE_CHECKING

import fiona
import pytest
from click.testing import CliRunner

from phones import few_fields
from ringrow.cli.main import cli
from ringrow.farm.season import open_season

if TYPE_CHECKING:
    from click.testing import Result

    from ringrow.farm.events import Event

ENDINGS = (".geojson", ".gpkg", ".gpx", ".kml", ".kmz", ".csv", ".zip")


def run(*args: str | Path) -> Result:
    return CliRunner().invoke(cli, [str(arg) for arg in args])


@pytest.fixture(scope="module")
def flagged(project: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The sample farm with a flag on each kind of place."""
    # The fields those places are on: the rest would only cost time.
    folder = few_fields(tmp_path_factory.mktemp("flagged") / "farm", "10_", "30_", "40_")
    for args in (
        ("--kind", "gearbox", "--pivot", "Windmill pivot", "--tower", "5", "--note", "=2+2"),
        ("--kind", "leak", "--drip", "Elevator drip", "--lateral", "43", "--station", "600"),
        ("--kind", "panel", "--well", "Home well", "--note", "línea 1\nlínea 2"),
        ("--kind", "burrow", "--at", "36.7601234, -101.5012345"),
    ):
        assert run("flag", "add", folder, *args).exit_code == 0
    return folder


@pytest.fixture
def farm(flagged: Path, tmp_path: Path) -> Path:
    """A copy of it, free to be changed."""
    return Path(shutil.copytree(flagged, tmp_path / "farm"))


def events_of(farm: Path) -> list[Event]:
    with open_season(farm / "season.db") as season:
        return list(season.events())


@pytest.mark.parametrize("ending", ENDINGS)
def test_one_file_is_written_and_said(farm: Path, tmp_path: Path, ending: str) -> None:
    out = tmp_path / "out"
    out.mkdir()
    result = run("export", farm, "-o", out / f"farm{ending}")
    assert result.exit_code == 0
    assert result.stdout == ""
    lines = result.stderr.splitlines()
    flags = 3 if ending == ".gpx" else 4
    assert any(
        line.startswith(f"Wrote {out / f'farm{ending}'}: ") and f"{flags} flag" in line for line in lines
    )
    assert [item.name for item in out.iterdir()] == [f"farm{ending}"]
    assert (out / f"farm{ending}").stat().st_mode & 0o777 == 0o666 & ~umask()


def umask() -> int:
    code = "import os; print(os.umask(0))"
    return int(subprocess.run([sys.executable, "-c", code], capture_output=True, check=True).stdout)


@pytest.mark.parametrize("ending", [".geojson", ".gpkg", ".gpx", ".kml", ".kmz", ".csv"])
def test_it_comes_back_without_change(farm: Path, tmp_path: Path, ending: str) -> None:
    path = tmp_path / f"back{ending}"
    assert run("export", farm, "-o", path).exit_code == 0
    before = events_of(farm)
    result = run("flag", "import", farm, path)
    assert result.exit_code == 0
    flags = 3 if ending == ".gpx" else 4
    assert f"{flags} points: {flags} already there" in result.output
    assert events_of(farm) == before


@pytest.mark.parametrize("ending", [".gpkg", ".gpx", ".kmz", ".csv", ".zip"])
def test_a_file_that_is_there_stays_without_overwrite(farm: Path, tmp_path: Path, ending: str) -> None:
    path = tmp_path / f"a{ending}"
    path.write_text("mine", encoding="utf-8")
    result = run("export", farm, "-o", path)
    assert result.exit_code == 1
    assert "is already there; say --overwrite" in result.stderr
    assert path.read_text(encoding="utf-8") == "mine"
    assert run("export", farm, "-o", path, "--overwrite").exit_code == 0
    assert path.read_bytes() != b"mine"
    assert sorted(item.name for item in tmp_path.iterdir() if item.is_file()) == [path.name]


def test_one_field_alone(farm: Path, tmp_path: Path) -> None:
    result = run("export", farm, "-o", tmp_path / "one.gpkg", "--field", "windmill QUARTER")
    assert result.exit_code == 0
    with fiona.open(tmp_path / "one.gpkg", layer="boundaries") as source:
        assert [feature.properties["name"] for feature in source] == ["Windmill quarter"]
    with fiona.open(tmp_path / "one.gpkg", layer="flags") as source:
        assert [feature.properties["kind"] for feature in source] == ["gearbox", "panel"]
    run("export", farm, "-o", tmp_path / "one.csv", "--field", "Windmill quarter")
    with (tmp_path / "one.csv").open(encoding="utf-8-sig", newline="") as stream:
        assert [row["kind"] for row in csv.DictReader(stream)] == ["gearbox", "panel"]


def test_unknown_field_writes_nothing(farm: Path, tmp_path: Path) -> None:
    result = run("export", farm, "-o", tmp_path / "a.kmz", "--field", "Windmil quarter")
    assert result.exit_code == 1
    assert 'nearest: "Windmill quarter"' in result.stderr
    assert not (tmp_path / "a.kmz").exists()


def test_a_bare_shapefile_is_refused_with_the_way_out(farm: Path, tmp_path: Path) -> None:
    result = run("export", farm, "-o", tmp_path / "farm.shp")
    assert result.exit_code == 1
    assert (
        'found "farm.shp"; allowed: one .zip file for all shapefiles of a farm; say "farm.zip"'
        in result.stderr
    )


def test_limits_of_shapefiles_are_told(farm: Path, tmp_path: Path) -> None:
    result = run("export", farm, "-o", tmp_path / "farm.zip")
    assert result.stderr.splitlines()[-1].startswith(
        "Shapefiles are an old, narrow format: column names of 10"
    )
    with zipfile.ZipFile(tmp_path / "farm.zip") as archive:
        assert {"columns.csv", "flags.shp", "flags.dbf", "flags.shx", "flags.prj"} <= set(archive.namelist())


def test_flags_that_gpx_cannot_hold_are_named(farm: Path, tmp_path: Path) -> None:
    result = run("export", farm, "-o", tmp_path / "crew.gpx")
    assert result.stderr.splitlines()[-2:] == [
        "1 flag without a position left out, because a waypoint needs one:",
        "  1 gearbox: Windmill pivot: tower 5, 910 ft from the pivot point",
    ]


@pytest.mark.parametrize("ending", [".gpx", ".csv", ".geojson"])
def test_no_export_draws_a_map_or_loads_tables(farm: Path, tmp_path: Path, ending: str) -> None:
    code = (
        "import sys; from click.testing import CliRunner; from ringrow.cli.main import cli;"
        f"CliRunner().invoke(cli, ['export', {str(farm)!r}, '-o', {str(tmp_path / f'a{ending}')!r}]);"
        "print(sorted({'folium', 'pandas', 'geopandas', 'lxml'} & set(sys.modules)))"
    )
    shown = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert (tmp_path / f"a{ending}").exists()
    assert shown.strip() == "[]"

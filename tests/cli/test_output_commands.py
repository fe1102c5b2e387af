"""``ringrow map`` and ``ringrow export``: what is written, said and refused."""

from __future__ import annotations

import json
import subprocess
import sys
from typing import TYPE_CHECKING

import pytest
from click.testing import CliRunner

from phones import few_fields
from ringrow.cli.main import cli

if TYPE_CHECKING:
    from pathlib import Path

    from click.testing import Result


def run(*args: str | Path) -> Result:
    return CliRunner().invoke(cli, [str(arg) for arg in args])


@pytest.fixture
def few(tmp_path: Path) -> Path:
    """Two fields of the sample farm, since drawing all ten takes its time."""
    return few_fields(tmp_path / "two_windmill_farm", "10_", "40_")


@pytest.fixture
def farm_with_flags(few: Path) -> Path:
    return _flagged(few)


def _flagged(farm: Path) -> Path:
    for args in (
        ("--kind", "gearbox", "--pivot", "Windmill pivot", "--tower", "5"),
        ("--kind", "leak", "--drip", "Elevator drip", "--lateral", "43", "--station", "600"),
        ("--kind", "panel", "--well", "Home well"),
    ):
        assert run("flag", "add", farm, *args).exit_code == 0
    return farm


def test_map_writes_one_page_and_says_so(farm_with_flags: Path, tmp_path: Path) -> None:
    path = tmp_path / "crew.html"
    result = run("map", farm_with_flags, "-o", path)
    assert result.exit_code == 0
    assert result.stdout == ""
    assert result.stderr.splitlines()[-1].startswith(f"Wrote {path}: 2 fields, 3 flags, ")
    text = path.read_text(encoding="utf-8")
    assert text.count("<tr data-flag=") == 3
    assert "tower 5" in text


def test_map_of_a_farm_without_a_season(sample_farm: Path, tmp_path: Path) -> None:
    result = run("map", sample_farm, "-o", tmp_path / "m.html")
    assert result.exit_code == 0
    assert "0 flags" in result.stderr
    assert not (sample_farm / "season.db").exists()


def test_export_writes_every_kind(sample_farm: Path, tmp_path: Path) -> None:
    path = tmp_path / "farm.geojson"
    result = run("export", _flagged(sample_farm), "-o", path)
    assert result.exit_code == 0
    assert result.stdout == ""
    assert "3 flag)" in result.stderr
    features = json.loads(path.read_text(encoding="utf-8"))["features"]
    kinds = {feature["properties"]["feature"] for feature in features}
    assert kinds == {
        *("boundary", "exclusion", "wetted-area", "pivot-base", "end-gun-ring", "pivot-point", "tower-track"),
        *("lateral", "header", "flush-line", "dry-piece", "edge-strips", "well", "gate", "flag"),
        *("corner-arm-sweep", "arm-wheel-path", "arm-station", "bend", "bent-pipe", "tower", "cart-path"),
        *("keep-off", "pivot-road"),
    }


def test_export_of_flags(farm_with_flags: Path, tmp_path: Path) -> None:
    """Ids are the flags' own; a machine flag whose azimuth nobody said has no geometry, but its place."""
    path = tmp_path / "farm.geojson"
    run("export", farm_with_flags, "-o", path)
    listed = json.loads(run("flag", "list", farm_with_flags, "--json").stdout)["flags"]
    features = json.loads(path.read_text(encoding="utf-8"))["features"]
    flags = {f["id"]: f for f in features if f["properties"]["feature"] == "flag"}
    assert set(flags) == {flag["id"] for flag in listed}
    by_number = {f["properties"]["number"]: f for f in flags.values()}
    assert by_number[1]["geometry"] is None
    assert by_number[1]["properties"]["tower"] == 5
    assert "tower 5" in by_number[1]["properties"]["place"]
    assert by_number[1]["properties"]["title"] == "Flag 1: gearbox leaking or bad"
    lon, lat = by_number[2]["geometry"]["coordinates"]
    said = next(flag for flag in listed if flag["number"] == 2)
    assert (lon, lat) == (round(said["lon"], 7), round(said["lat"], 7))


def test_export_of_one_field(farm_with_flags: Path, tmp_path: Path) -> None:
    path = tmp_path / "one.geojson"
    result = run("export", farm_with_flags, "-o", path, "--field", "windmill QUARTER")
    assert result.exit_code == 0
    properties = [f["properties"] for f in json.loads(path.read_text(encoding="utf-8"))["features"]]
    assert {p["field"] for p in properties if "field" in p and p["feature"] != "flag"} == {"Windmill quarter"}
    assert [p["kind"] for p in properties if p["feature"] == "flag"] == ["gearbox", "panel"]


@pytest.mark.parametrize(
    ("command", "name", "allowed"),
    [
        ("map", "crew.pdf", "allowed: a name that ends in .html, .htm"),
        ("map", "crew", "allowed: a name that ends in .html, .htm"),
        ("export", "farm.dxf", "allowed: a name that ends in .geojson, .gpkg, .gpx, .kml, .kmz, .csv, .zip"),
        ("export", "geojson", "allowed: a name that ends in .geojson"),
    ],
)
def test_other_endings_are_refused(
    sample_farm: Path, tmp_path: Path, command: str, name: str, allowed: str
) -> None:
    result = run(command, sample_farm, "-o", tmp_path / name)
    assert result.exit_code == 1
    assert f'output file: found "{name}"; {allowed}' in result.stderr
    assert not (tmp_path / name).exists()


@pytest.mark.parametrize(("command", "name"), [("map", "a.html"), ("export", "a.geojson")])
def test_a_file_that_is_there_stays(sample_farm: Path, tmp_path: Path, command: str, name: str) -> None:
    path = tmp_path / name
    path.write_text("mine", encoding="utf-8")
    result = run(command, sample_farm, "-o", path)
    assert result.exit_code == 1
    assert "is already there; say --overwrite" in result.stderr
    assert path.read_text(encoding="utf-8") == "mine"
    assert run(command, sample_farm, "-o", path, "--overwrite").exit_code == 0
    assert path.read_text(encoding="utf-8") != "mine"
    assert sorted(item.name for item in tmp_path.iterdir() if item.is_file()) == [name]


def test_unknown_field_names_the_nearest(sample_farm: Path, tmp_path: Path) -> None:
    result = run("export", sample_farm, "-o", tmp_path / "a.geojson", "--field", "Windmil quarter")
    assert result.exit_code == 1
    assert 'field: found "Windmil quarter"' in result.stderr
    assert 'nearest: "Windmill quarter"' in result.stderr
    assert not (tmp_path / "a.geojson").exists()


@pytest.mark.parametrize(("command", "name"), [("map", "a.html"), ("export", "a.geojson")])
def test_a_bad_farm_writes_nothing(sample_farm: Path, tmp_path: Path, command: str, name: str) -> None:
    (sample_farm / "farm.toml").write_text("name = 3", encoding="utf-8")
    result = run(command, sample_farm, "-o", tmp_path / name)
    assert result.exit_code == 1
    assert "farm.toml" in result.stderr
    assert "Traceback" not in result.output
    assert not (tmp_path / name).exists()


@pytest.mark.parametrize("command", ["map", "export"])
def test_output_must_be_named(sample_farm: Path, command: str) -> None:
    result = run(command, sample_farm)
    assert result.exit_code == 2
    assert "Missing option '-o'" in result.stderr


@pytest.mark.parametrize("command", ["map", "export"])
def test_help_shows_an_example_and_imports_nothing_heavy(command: str) -> None:
    code = (
        "import sys; from click.testing import CliRunner; from ringrow.cli.main import cli;"
        f"print(CliRunner().invoke(cli, ['{command}', '--help']).output);"
        "heavy = {'folium', 'numpy', 'shapely', 'pyproj', 'pandas', 'pydantic', 'rich', 'branca'};"
        "print('heavy:', sorted(heavy & set(sys.modules)))"
    )
    shown = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert f"ringrow {command} my-farm -o my-farm." in shown
    assert shown.splitlines()[-1] == "heavy: []"


def test_export_does_not_import_folium(sample_farm: Path, tmp_path: Path) -> None:
    code = (
        "import sys; from click.testing import CliRunner; from ringrow.cli.main import cli;"
        f"CliRunner().invoke(cli, ['export', {str(sample_farm)!r}, '-o', {str(tmp_path / 'a.geojson')!r}]);"
        "print(sorted({'folium', 'pandas', 'geopandas'} & set(sys.modules)))"
    )
    shown = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert (tmp_path / "a.geojson").exists()
    assert shown.strip() == "[]"


def test_map_draws_machines_where_they_stand(sample_farm: Path, tmp_path: Path) -> None:
    """By the farm's files alone, and by what was said on top of them."""
    path = tmp_path / "crew.html"
    result = run("map", sample_farm, "-o", path, "--parked")
    assert result.exit_code == 0
    assert "Tow pivot east stands here, at azimuth 180.0 (panel 270.0)." in result.stderr
    said = ("--parked", "Windmill pivot=41.3", "--parked", "creek pivot=panel:214")
    result = run("map", sample_farm, *said, "-o", path, "--overwrite")
    assert result.exit_code == 0
    assert "Windmill pivot stands here, at azimuth 41.3 (panel 311.3)." in result.stderr
    assert "Creek pivot stands here" in result.stderr
    assert "Tow pivot east stands here" in result.stderr
    assert 'class="standing"' in path.read_text(encoding="utf-8")


def test_map_with_no_machine_known_to_stand_says_so(sample_farm: Path, tmp_path: Path) -> None:
    fields = sample_farm / "fields" / "80_tow_eighty.toml"
    text = fields.read_text(encoding="utf-8")
    assert ", parked = 180" in text
    fields.write_text(text.replace(", parked = 180", ""), encoding="utf-8")
    result = run("map", sample_farm, "-o", tmp_path / "crew.html", "--parked")
    assert result.exit_code == 0
    assert "No machine is drawn where it stands: none has parked in its field's file" in result.stderr


@pytest.mark.parametrize(
    ("said", "message"),
    [
        ("Windmill pivot", 'found "Windmill pivot"; allowed: "NAME=AZIMUTH" or "NAME=panel:DEGREES"'),
        ("Windmil pivot=3", '--parked pivot: found "Windmil pivot"'),
        ("Windmill pivot=400", '--parked "Windmill pivot": found "400"; allowed: 0 or more and below 360'),
    ],
)
def test_a_machine_cannot_stand_just_anywhere(
    sample_farm: Path, tmp_path: Path, said: str, message: str
) -> None:
    result = run("map", sample_farm, "-o", tmp_path / "crew.html", "--parked", said)
    assert result.exit_code == 1
    assert message in result.stderr
    assert not (tmp_path / "crew.html").exists()


def page_flags(path: Path) -> list[dict[str, object]]:
    """Return the flags of a written map as its script gets them."""
    text = path.read_text(encoding="utf-8")
    data = text.split('<script type="application/json" id="data">', 1)[1].split("</script>", 1)[0]
    found: list[dict[str, object]] = json.loads(data)["flags"]
    return found


def test_map_by_route_has_the_stops_of_route(farm_with_flags: Path, tmp_path: Path) -> None:
    assert run("flag", "set", farm_with_flags, "2", "--status", "fixed").exit_code == 0
    plain, routed = tmp_path / "plain.html", tmp_path / "routed.html"
    assert run("map", farm_with_flags, "-o", plain).exit_code == 0
    assert all("stop" not in flag for flag in page_flags(plain))
    assert run("map", farm_with_flags, "-o", routed, "--route").exit_code == 0
    found = {flag["stop"]: flag["number"] for flag in page_flags(routed) if "stop" in flag}
    told = json.loads(run("route", farm_with_flags, "--json").stdout)["route"]
    numbers = [stop["flag"] for stop in told["crews"][0]["stops"]]
    assert [found[stop] for stop in sorted(found)] == numbers
    assert set(numbers) == {1, 3}


def test_map_by_route_of_a_farm_without_flags(sample_farm: Path, tmp_path: Path) -> None:
    assert run("map", sample_farm, "-o", tmp_path / "m.html", "--route").exit_code == 0
    assert page_flags(tmp_path / "m.html") == []

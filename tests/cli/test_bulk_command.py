"""``ringrow bulk``: what it prints, writes and refuses."""

from __future__ import annotations

import csv
import json
from typing import TYPE_CHECKING

import fiona
import pytest
from click.testing import CliRunner, Result

from ringrow.cli.main import cli

if TYPE_CHECKING:
    from pathlib import Path

ROWS = (
    "Name,Lat,Lon,Radius (ft),Gun reach,Arcs,Flow",
    "West pivot,36.7608313,-101.4954377,1302,,,800",
    "East pivot,36.7608313,-101.4869890,1220,,,690",
    '"=HYPERLINK(""x"")",36.7536708,-101.4954381,1302,60,,',
    "Wrong,36.7,-101.5,wide,,,",
    "Alone,36.9,-101.5,1302,60,,",
)


def run(*arguments: object) -> Result:
    return CliRunner().invoke(cli, ["bulk", *map(str, arguments)])


@pytest.fixture
def table(tmp_path: Path) -> Path:
    path = tmp_path / "pivots.csv"
    path.write_text("\n".join(ROWS) + "\n", encoding="utf-8")
    return path


@pytest.fixture
def fields(project: Path) -> Path:
    return project / "sample_fields" / "two_windmill_farm" / "shapes" / "fields.geojson"


def test_totals_are_printed_and_everything_taken_is_said(table: Path, fields: Path) -> None:
    result = run(table, "--boundaries", fields)
    assert result.exit_code == 0
    assert "Fields with a pivot in them                              2   468.08" in result.stdout
    assert "Pivots in no field                                       1   122.26" in result.stdout
    assert "West pivot" not in result.stdout
    assert 'radius = "Radius (ft)" in ft (guessed)' in result.stderr
    assert 'names of fields = "field" (guessed)' in result.stderr
    assert 'row 5: radius: found "wide"; allowed: a number, or nothing' in result.stderr
    alone = run(table)
    assert "Wetted by all pivots" in alone.stdout
    assert "Fields" not in alone.stdout


def test_json_has_totals_rows_and_what_was_refused(table: Path, fields: Path) -> None:
    us = json.loads(run(table, "--boundaries", fields, "--json").stdout)
    assert (us["schema"], us["totals"]["pivots"], us["totals"]["rows_refused"]) == (1, 4, 1)
    assert us["refused"] == [{"row": "row 5", "why": 'radius: found "wide"; allowed: a number, or nothing'}]
    west, east, gunned, alone = us["rows"]
    assert (west["field"], west["overlaps"], east["overlaps"]) == (
        "Twin half section",
        ["East pivot"],
        ["West pivot"],
    )
    assert west["irrigated_acres"] == pytest.approx(122.26, abs=0.005)  # `ringrow acres` of the sample farm
    assert west["field_irrigated_acres"] == west["field_acres"] - west["dry_acres"]
    assert gunned["irrigated_acres"] > 122.26
    assert 'end gun arcs taken as "auto"' in gunned["assumed"]
    assert (alone["field"], alone["irrigated_acres"], alone["gun_radius_ft"]) == (None, None, None)
    assert alone["notes"] == [
        "no field holds the pivot point",
        "end gun left out: without a field nobody knows where it may run",
    ]
    metric = json.loads(run(table, "--boundaries", fields, "--json", "--units", "metric").stdout)
    assert metric["rows"][0]["wetted_ha"] == pytest.approx(west["wetted_acres"] * 0.40468564224)
    assert metric["rows"][0]["flow_lps"] == 800  # a column without a unit is in the units asked for
    assert {"lps_per_ha", "radius_m", "dry_ha"} <= metric["rows"][0].keys()


@pytest.mark.parametrize("ending", [".csv", ".geojson", ".gpkg", ".json"])
def test_rows_are_written_whole_and_never_over_a_file(
    tmp_path: Path, table: Path, fields: Path, ending: str
) -> None:
    out = tmp_path / f"acres{ending}"
    command = (table, "--boundaries", fields, "-o", out)
    assert run(*command).exit_code == 0
    if ending == ".csv":
        rows = list(csv.DictReader(out.read_text("utf-8-sig").splitlines()))
        names = [row["name"] for row in rows]
        irrigated = float(rows[0]["irrigated (acres)"])
        assert names[2] == '\'=HYPERLINK("x")'
    elif ending == ".json":
        record = json.loads(out.read_text("utf-8"))
        names, irrigated = [row["name"] for row in record["rows"]], record["rows"][0]["irrigated_acres"]
        assert record["totals"]["pivots"] == 4
    else:
        with fiona.open(out) as source:
            found = list(source)
        names = [feature["properties"]["name"] for feature in found]
        irrigated = found[0]["properties"]["irrigated_acres"]
        assert found[0]["geometry"]["coordinates"] == pytest.approx((-101.4954377, 36.7608313), abs=1e-9)
    assert len(names) == 4
    assert irrigated == pytest.approx(122.26, abs=0.005)
    before = out.read_bytes()
    again = run(*command)
    assert (again.exit_code, "is already there; say --overwrite" in again.output) == (1, True)
    assert out.read_bytes() == before
    assert run(*command, "--overwrite").exit_code == 0
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(["pivots.csv", out.name])


def test_what_cannot_be_leaves_nothing_behind(tmp_path: Path, table: Path, fields: Path) -> None:
    over = run(table, "-o", table, "--overwrite")
    assert (over.exit_code, "which is read; allowed: another name" in over.output) == (1, True)
    kind = run(table, "-o", tmp_path / "acres.xlsx")
    assert (kind.exit_code, "allowed: a name that ends in .csv, .geojson, .gpkg, .json" in kind.output) == (
        1,
        True,
    )
    table.write_text("lat,lon,radius\n95,-101,400\n36,-101,no\n", encoding="utf-8")
    none = run(table, "-o", tmp_path / "acres.csv")
    assert none.exit_code == 1
    assert "found no row that can be used; allowed: one row a pivot" in none.output
    assert "row 2: " in none.stderr
    assert "row 3: " in none.stderr
    assert not (tmp_path / "acres.csv").exists()
    alone = run(table, "--name-field", "field")
    assert (alone.exit_code, "are about --boundaries FILE; say it too" in alone.output) == (2, True)
    assert run(table, "--boundaries", fields, "--units", "chains").exit_code == 2
    lost = run(tmp_path / "none.csv")
    assert (lost.exit_code, "cannot be read" in lost.output) == (1, True)
    shape = run(table, "--boundaries", tmp_path / "none.gpkg")
    assert (shape.exit_code, "none.gpkg: found a file that cannot be opened" in shape.output) == (1, True)


def test_many_refused_rows_are_counted(tmp_path: Path) -> None:
    path = tmp_path / "pivots.csv"
    path.write_text("lat,lon,radius\n36,-101,400\n" + "36,-101,x\n" * 230, encoding="utf-8")
    result = run(path)
    assert result.exit_code == 0
    assert result.stderr.count("radius: found") == 200
    assert "and 30 more rows; --json lists them all" in result.stderr


def test_a_layer_and_a_coordinate_system_may_be_stated(
    tmp_path: Path, table: Path, sample_farm: Path
) -> None:
    farm = tmp_path / "farm.gpkg"
    assert CliRunner().invoke(cli, ["export", str(sample_farm), "-o", str(farm)]).exit_code == 0
    several = run(table, "--boundaries", farm)
    assert (several.exit_code, "layer" in several.output) == (1, True)
    result = run(table, "--boundaries", farm, "--layer", "boundaries", "--name-field", "field")
    assert "Fields with a pivot in them                              2   468.08" in result.stdout, (
        result.output
    )
    bare = tmp_path / "bare.geojson"
    text = (sample_farm / "shapes" / "fields.geojson").read_text("utf-8")
    bare.write_text(text, encoding="utf-8")
    wrong = run(table, "--boundaries", bare, "--crs", "EPSG:nothing")
    assert (wrong.exit_code, 'found crs "EPSG:nothing"' in wrong.output) == (1, True)


@pytest.mark.parametrize("ending", [".csv", ".geojson", ".gpkg", ".json"])
def test_names_that_cannot_be_written_do_no_harm(tmp_path: Path, ending: str) -> None:
    """Half a letter, control characters, line breaks: in names of pivots, of fields, in a refused cell."""

    def feature(name: str, lon: float, radius: object) -> dict[str, object]:
        place = {"type": "Point", "coordinates": [lon, 36.75]}
        return {"type": "Feature", "properties": {"name": name, "radius": radius}, "geometry": place}

    table, fields, out = tmp_path / "p.geojson", tmp_path / "f.geojson", tmp_path / f"o{ending}"
    rows = [feature("a\ud800b\x07\nc", -101.5, 900), feature("", -101.4, "\ud800")]
    table.write_text(json.dumps({"type": "FeatureCollection", "features": rows}))
    ring = [[-101.51, 36.74], [-101.49, 36.74], [-101.49, 36.76], [-101.51, 36.76], [-101.51, 36.74]]
    ground = {"type": "Polygon", "coordinates": [ring]}
    field = {"type": "Feature", "properties": {"name": "f\udfff"}, "geometry": ground}
    fields.write_text(json.dumps({"type": "FeatureCollection", "features": [field]}))
    result = run(table, "--boundaries", fields, "-o", out, "--json")
    assert result.exit_code == 0, result.output
    row = json.loads(result.stdout)["rows"][0]
    assert (row["name"], row["field"]) == ("ab c", "f")
    assert out.stat().st_size > 0

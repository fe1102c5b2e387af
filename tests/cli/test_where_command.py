"""``ringrow where`` on the sample farm: words, JSON, mistakes, speed of starting."""

from __future__ import annotations

import json
import subprocess
import sys
from typing import TYPE_CHECKING

import pytest
from click.testing import CliRunner, Result
from geographiclib.geodesic import Geodesic

from ringrow.cli.main import cli
from ringrow.coverage.layout import lay_out
from ringrow.farm.load import load_farm

if TYPE_CHECKING:
    from pathlib import Path

FOOT_M = 0.3048


def where(farm: Path, *options: str) -> Result:
    return CliRunner().invoke(cli, ["where", str(farm), *options])


def answer(farm: Path, at: str, *options: str) -> dict:
    result = where(farm, "--at", at, *options, "--json")
    assert result.exit_code == 0, result.output
    return json.loads(result.stdout)


def place_from(farm: Path, name: str, x_m: float, y_m: float) -> str:
    """``LAT, LON`` of a place in the frame of one field of the farm."""
    (field,) = (field for field in load_farm(farm).fields if field.name == name)
    lon, lat = field.frame.to_lonlat(x_m, y_m)
    return f"{float(lat):.9f}, {float(lon):.9f}"


@pytest.fixture
def metric_farm(sample_farm: Path) -> Path:
    """A one-field farm in metric units."""
    (sample_farm / "farm.toml").write_text('name = "Metric farm"\nunits = "metric"\n')
    for file in (sample_farm / "fields").glob("*.toml"):
        file.unlink()
    (sample_farm / "fields" / "north.toml").write_text(
        'name = "North"\n'
        "outline = [{lat=36.75, lon=-101.5}, {lat=36.757, lon=-101.5}, {lat=36.757, lon=-101.491}, "
        "{lat=36.75, lon=-101.491}]\n"
        "[[drip]]\nheading = 90\nrow_spacing = 750\nrows_per_lateral = 2\n"
    )
    return sample_farm


def test_words_for_a_pivot(sample_farm: Path) -> None:
    result = where(sample_farm, "--at", "36.7536, -101.4940")
    assert result.exit_code == 0
    lines = result.stdout.splitlines()
    assert lines[0] == "Windmill quarter: wet ground (irrigated)"
    assert "assumed, nobody stated it" in lines[1]
    assert "Windmill pivot (wets this place)" in lines
    assert "  under span 3" in lines
    assert result.stderr == ""


def test_distance_and_azimuth_agree_with_a_geodesic(sample_farm: Path) -> None:
    """From the pivot point in the field's file, by geographiclib; 0.01 ft and 1e-4 degrees."""
    (pivot,) = answer(sample_farm, "36.7550, -101.4940")["pivots"]
    line = Geodesic.WGS84.Inverse(36.7536708, -101.4954381, 36.7550, -101.4940)
    assert pivot["distance_ft"] == pytest.approx(line["s12"] / FOOT_M, abs=0.01)
    assert pivot["azimuth_deg"] == pytest.approx(line["azi1"] % 360, abs=1e-4)
    assert pivot["panel_deg"] == pytest.approx((line["azi1"] - 90) % 360, abs=1e-4)


def test_json_keys_for_a_pivot(sample_farm: Path) -> None:
    record = answer(sample_farm, "36.7536, -101.4940")
    assert record["schema"] == 1
    assert (record["field"], record["farmable"], record["irrigated"]) == ("Windmill quarter", True, True)
    assert record["at"] == {"lat": 36.7536, "lon": -101.494}
    assert record["accuracy"]["kind"] == "r95"
    assert record["accuracy"]["assumed"] is True
    (pivot,) = record["pivots"]
    design_keys = {
        "name", "distance_ft", "azimuth_deg", "panel_deg", "span", "part", "tower", "tower_offset_ft",
        "outlet", "outlet_range", "outlet_chance", "inside",
    }  # fmt: skip
    assert design_keys <= set(pivot)
    assert pivot["tower_offset_ft"] == pytest.approx(pivot["distance_ft"] - 182 * pivot["tower"], abs=1e-9)
    assert (record["drip"], record["nearest_field"]) == ([], None)


def test_json_keys_for_drip(sample_farm: Path) -> None:
    """A place 0.1 m past lateral 43 toward higher numbers, 200 m east of the frame's middle."""
    farm = load_farm(sample_farm)
    (field,) = (field for field in farm.fields if field.name == "Elevator quarter")
    (laid,) = lay_out(field).drip
    grid = laid.grid
    x, y = grid.points([200.0], [grid.first_m + 42 * grid.spacing_m + 0.1])[0]
    record = answer(sample_farm, place_from(sample_farm, "Elevator quarter", float(x), float(y)))
    (drip,) = record["drip"]
    assert {
        "name", "zone", "lateral", "piece", "offset_in", "station_ft", "emitter", "candidates", "elsewhere",
    } <= set(drip)  # fmt: skip
    assert (drip["name"], drip["zone"], drip["lateral"]) == ("Elevator drip", "North zone", 43)
    assert drip["offset_in"] == pytest.approx(0.1 / 0.0254, abs=0.01)
    assert drip["station_ft"] == pytest.approx((200.0 - grid.station_zero_m[42]) / FOOT_M, abs=0.01)
    assert drip["candidates"][0]["lateral"] == 43
    # "The nearest line is right about three times in ten" from a phone.
    assert 0.25 < drip["candidates"][0]["chance"] < 0.35
    assert sum(each["chance"] for each in drip["candidates"]) >= 0.95


def test_accuracy_narrows_the_candidates(sample_farm: Path) -> None:
    at = place_from(sample_farm, "Elevator quarter", 100.0, 150.0)
    by_phone = answer(sample_farm, at)["drip"][0]["candidates"]
    by_survey = answer(sample_farm, at, "--accuracy", "0.02 m r95")
    assert len(by_phone) >= 5
    assert len(by_survey["drip"][0]["candidates"]) <= 2
    assert by_survey["accuracy"] | {"sigma_ft": None} == {
        "radius_ft": pytest.approx(0.02 / FOOT_M), "kind": "r95", "sigma_ft": None, "assumed": False,
    }  # fmt: skip


@pytest.mark.parametrize(
    "at",
    [
        "36.7536 N, 101.4940 W",
        "36 45 12.96 N, 101 29 38.4 W",
        "36° 45.216' N, 101° 29.64' W",
        "36.7536 -101.4940",
        "36,7536; -101,4940",
    ],
)
def test_other_ways_of_writing_the_place(sample_farm: Path, at: str) -> None:
    assert where(sample_farm, "--at", at).stdout == where(sample_farm, "--at", "36.7536, -101.4940").stdout


def test_a_place_that_starts_with_a_minus(sample_farm: Path) -> None:
    result = where(sample_farm, "--at", "-36.7536, 101.4940")
    assert result.exit_code == 0
    assert result.stdout.startswith("Outside every field.")


def test_outside_every_field_says_how_far_and_which_way(sample_farm: Path) -> None:
    """From the northwest; the distance by geographiclib to the nearest corner in the farm's shapes."""
    record = answer(sample_farm, "36.83, -101.58")
    shapes = json.loads((sample_farm / "shapes" / "fields.geojson").read_text())
    distances = [
        (Geodesic.WGS84.Inverse(36.83, -101.58, lat, lon), feature["properties"]["field"])
        for feature in shapes["features"]
        for lon, lat in feature["geometry"]["coordinates"][0]
    ]
    line, name = min(distances, key=lambda pair: pair[0]["s12"])
    assert (record["field"], record["pivots"], record["drip"]) == (None, [], [])
    nearest = record["nearest_field"]
    # From so far the nearest point of the nearest field is a corner of it.
    assert nearest["field"] == name
    assert nearest["distance_ft"] == pytest.approx(line["s12"] / FOOT_M, abs=0.1)
    assert nearest["azimuth_deg"] == pytest.approx(line["azi1"] % 360, abs=1e-3)
    words = where(sample_farm, "--at", "36.83, -101.58").stdout
    assert words.startswith(f"Outside every field. The nearest field is {name}, its boundary ")
    assert "miles to the southeast" in words


def test_a_missing_minus_is_asked_about_on_stderr(sample_farm: Path) -> None:
    result = where(sample_farm, "--at", "36.7536, 101.4940", "--json")
    assert result.exit_code == 0
    assert result.stderr == 'Far from the farm: was "36.7536, -101.494" meant?\n'
    assert json.loads(result.stdout)["field"] is None


def test_metric_farm_speaks_metres(metric_farm: Path) -> None:
    record = answer(metric_farm, "36.7533, -101.4955", "--accuracy", "5")
    (drip,) = record["drip"]
    assert {"offset_mm", "station_m"} <= set(drip)
    assert record["accuracy"]["radius_m"] == 5.0
    result = where(metric_farm, "--at", "36.7533, -101.4955")
    assert "from the header end" in result.stdout
    assert " ft" not in result.stdout


@pytest.mark.parametrize(
    ("options", "message"),
    [
        (["--at", "-101.494, 36.7536"], 'are the two swapped? Try "36.7536, -101.494"'),
        (["--at", "somewhere"], 'Error: place: found "somewhere"; allowed: latitude, then longitude'),
        (
            ["--at", "36.7536, -101.494", "--accuracy", "good"],
            'Error: accuracy: found "good"; allowed: a number',
        ),
    ],
)
def test_mistakes_get_one_message(sample_farm: Path, options: list[str], message: str) -> None:
    result = where(sample_farm, *options)
    assert result.exit_code == 1
    assert message in result.stderr
    assert result.stdout == ""
    assert "Traceback" not in result.stderr


def test_a_missing_folder_gets_one_message(tmp_path: Path) -> None:
    result = where(tmp_path / "nowhere", "--at", "36.7, -101.5")
    assert result.exit_code == 1
    assert "nowhere" in result.stderr
    assert "Traceback" not in result.stderr


def test_without_a_place_it_is_wrong_usage(sample_farm: Path) -> None:
    result = where(sample_farm)
    assert result.exit_code == 2
    assert "--at" in result.stderr


def test_help_shows_an_example_and_both_ways_of_writing() -> None:
    result = CliRunner().invoke(cli, ["where", "--help"])
    assert result.exit_code == 0
    assert 'ringrow where my-farm --at "36.7512, -101.5034"' in result.stdout
    assert "latitude first" in result.stdout


def test_no_table_library_is_loaded(sample_farm: Path) -> None:
    """Neither pandas nor geopandas nor folium, which take half a second to import."""
    program = (
        "import sys; from ringrow.cli.main import cli\n"
        "try: cli(['where', sys.argv[1], '--at', '36.7536, -101.4940'])\n"
        "except SystemExit as stop: assert stop.code == 0\n"
        "print(sorted({'pandas', 'geopandas', 'folium'} & set(sys.modules)))"
    )
    ran = subprocess.run(
        [sys.executable, "-c", program, str(sample_farm)], capture_output=True, text=True, check=True
    )
    assert ran.stdout.splitlines()[-1] == "[]"

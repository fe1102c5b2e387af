"""``ringrow gun``, ``ringrow arm`` and what other commands tell of such machines, from farm files on."""

from __future__ import annotations

import json
import math
import re
from itertools import pairwise
from typing import TYPE_CHECKING

import fiona
import geojson_validator
import gpxpy
import pytest
import shapely
from click.testing import CliRunner, Result
from geographiclib.geodesic import Geodesic

from farms import CENTRE, FARM_TOML, OUTLINE, write_farm
from ringrow.cli.main import cli

if TYPE_CHECKING:
    from pathlib import Path

LAT, LON = CENTRE
# North-east of the pivot point, some 100 ft past the pipe end.
HOUSE = (LAT + 0.0027, LON + 0.00335)
ARM = f"""[[pivot]]
name = "Creek pivot"
point = {{ lat = {LAT}, lon = {LON} }}
spans = [190, 190, 190, 190, 190, 200]
panel_zero = 90
[pivot.corner_arm]
length = 262
overhang = 40
throw = 15
side = "trailing"
fold = 80
open = 165
[pivot.corner_arm.end_gun]
reach = 90
"""
ARM_FIELD = f'name = "Creek field"\nsetback = 10\n{OUTLINE}\n{ARM}'
GUN_FIELD = f"""name = "Windmill field"
setback = 20
keep_off = [{{ point = {{ lat = {HOUSE[0]}, lon = {HOUSE[1]} }} }}]
{OUTLINE}
[[pivot]]
name = "Windmill pivot"
point = {{ lat = {LAT}, lon = {LON} }}
spans = [180, 180, 180, 180, 180, 180, 150]
overhang = 40
throw = 20
panel_zero = "none"
[pivot.end_gun]
reach = 100
wetted_radius = 130
"""
TOWED = f"""name = "Sand field"
{OUTLINE}
[[pivot]]
name = "Sandhill pivot"
points = [
  {{ lat = {LAT}, lon = {LON - 0.001} }},
  {{ lat = {LAT}, lon = {LON + 0.001}, name = "East stand" }},
]
spans = [180, 180]
throw = 10
[pivot.end_gun]
reach = 60
arcs = "always"
[[lateral_move]]
name = "Ditch lateral"
path = [{{ lat = {LAT + 0.0025}, lon = {LON - 0.003} }}, {{ lat = {LAT + 0.0025}, lon = {LON + 0.003} }}]
left = {{ spans = [150, 150], throw = 8 }}
right = {{ spans = [150] }}
"""
BENT = f"""name = "Bent field"
{OUTLINE}
[[pivot]]
name = "Bent pivot"
point = {{ lat = {LAT}, lon = {LON} }}
spans = [180, 180, 180, 180]
throw = 10
sector = {{ start = 20, stop = 200 }}
[[pivot.bend]]
tower = 2
at = "stop"
sweep = 70
"""


@pytest.fixture
def farm(tmp_path: Path) -> Path:
    fields = {"creek": ARM_FIELD, "windmill": GUN_FIELD, "sand": TOWED, "bent": BENT}
    return write_farm(tmp_path / "farm", FARM_TOML, fields)  # type: ignore[arg-type]


def run(*words: object) -> Result:
    return CliRunner().invoke(cli, [*map(str, words)])


def answer(*words: object) -> dict:
    result = run(*words, "--json")
    assert result.exit_code == 0, result.output
    return json.loads(result.stdout)


def test_gun_json(farm: Path) -> None:
    record = answer("gun", farm)
    assert list(record) == ["schema", "farm", "guns", "not_modelled"]
    guns = {gun["pivot"]: gun for gun in record["guns"]}
    assert len(guns) == 4
    wind = guns["Windmill pivot"]
    assert (wind["on"], wind["setting"], wind["wetted_radius_ft"]) == ("pipe end", "auto", pytest.approx(130))
    assert wind["given_up_keep_off_acres"] > 0
    assert wind["given_up_setback_acres"] > 0
    assert wind["arcs"][0]["start_panel_deg"] is None
    assert guns["Creek pivot"]["on"] == "corner arm"
    for gun in record["guns"]:
        for arc in gun["arcs"]:
            if arc["start_deg"] is not None:
                sweep = (arc["stop_deg"] - arc["start_deg"]) % 360
                assert arc["sweep_deg"] == pytest.approx(sweep)
                if arc["start_panel_deg"] is not None:
                    zero = (arc["start_deg"] - arc["start_panel_deg"]) % 360
                    assert zero in (pytest.approx(90), pytest.approx(0))


def test_gun_keeps_off_a_house_by_geodesics(farm: Path) -> None:
    """By geographiclib: where arcs end at a house the pipe end stands the full wetted radius from it."""
    (gun,) = answer("gun", farm, "--pivot", "windmill PIVOT")["guns"]
    toward = Geodesic.WGS84.Inverse(LAT, LON, *HOUSE)["azi1"]
    ends = [end for arc in gun["arcs"] for end in (arc["start_deg"], arc["stop_deg"])]
    for end in sorted(ends, key=lambda end: abs(end - toward))[:2]:
        pipe = Geodesic.WGS84.Direct(LAT, LON, end, (6 * 180 + 150 + 40) * 0.3048)
        away = Geodesic.WGS84.Inverse(pipe["lat2"], pipe["lon2"], *HOUSE)["s12"]
        assert away == pytest.approx(130 * 0.3048, abs=1e-3)


def test_gun_table_names_what_it_leaves_out(farm: Path) -> None:
    result = run("gun", farm)
    assert result.exit_code == 0
    for words in ("Windmill pivot (Windmill field): end gun at the pipe end", "at the end of the corner arm"):
        assert words in result.stdout
    assert "There is no angle on this panel." in result.stdout
    assert "No end gun: Bent pivot." in result.stdout
    assert "Not in this table: wind" in result.stdout


def test_a_towed_machine_is_asked_for_by_its_name_or_a_points(farm: Path) -> None:
    points = [gun["pivot"] for gun in answer("gun", farm, "--pivot", "Sandhill pivot")["guns"]]
    assert len(points) == 2
    assert [gun["pivot"] for gun in answer("gun", farm, "--pivot", points[1])["guns"]] == [points[1]]
    machine = {gun["machine"] for gun in answer("gun", farm, "--pivot", "Sandhill pivot")["guns"]}
    assert machine == {"Sandhill pivot"}


def test_unknown_pivot_is_told_the_names(farm: Path) -> None:
    for command in ("gun", "arm"):
        result = run(command, farm, "--pivot", "Windmil pivot")
        assert result.exit_code == 1
        assert 'pivot: found "Windmil pivot"' in result.stderr
        assert 'nearest: "Windmill pivot"' in result.stderr


def test_farm_without_pivots_says_so(tmp_path: Path) -> None:
    bare = write_farm(tmp_path / "bare", FARM_TOML, {"home": f'name = "Home field"\n{OUTLINE}'})
    assert run("gun", bare).stdout == "No pivots.\n"
    assert run("arm", bare).stdout == "No corner arms.\n"
    refused = run("arm", bare, "-o", tmp_path / "wheels.gpx")
    assert refused.exit_code == 1
    assert "found no corner arm to write" in refused.stderr
    assert not (tmp_path / "wheels.gpx").exists()
    assert answer("gun", bare)["guns"] == []
    assert answer("arm", bare)["arms"] == []


def test_arm_json(farm: Path) -> None:
    (arm,) = answer("arm", farm)["arms"]
    assert (arm["pivot"], arm["field"], arm["side"]) == ("Creek pivot", "Creek field", "trailing")
    assert arm["hinge_ft"] == pytest.approx(1150)
    assert arm["reach_ft"] == pytest.approx(317)
    assert (arm["fold_deg"], arm["open_deg"], arm["open_rate"]) == (80, 165, 3)
    assert arm["folded_out"] == []
    assert 30 < arm["corner_arm_acres"] < 60
    assert any("3 deg" in text or "opening rate" in text.lower() for text in arm["assumed"])
    rows = arm["rows"]
    assert [row["azimuth_deg"] for row in rows if row["mark"] is None] == [10.0 * k for k in range(36)]
    for row in rows:
        assert row["panel_deg"] == pytest.approx((row["azimuth_deg"] - 90) % 360)
        assert 80 <= row["hinge_deg"] <= 165
        # Law of cosines on the globe: pivot point to wheels over hinge and angle.
        away = Geodesic.WGS84.Inverse(LAT, LON, row["lat"], row["lon"])["s12"] / 0.3048
        phi = math.radians(row["hinge_deg"])
        assert away == pytest.approx(math.sqrt(1150**2 + 262**2 - 2 * 1150 * 262 * math.cos(phi)), abs=1e-3)


def test_arm_table(farm: Path) -> None:
    result = run("arm", farm)
    assert "Creek pivot (Creek field): corner arm, trailing" in result.stdout
    assert result.stdout.count("fully open") == 4
    assert "folds to 80 deg, opens to 165 deg, at most 3 deg per degree of the main pipe." in result.stdout
    assert re.search(r"The arm adds \d\d\.\d\d acres, its gun \d\.\d\d more\.", result.stdout)
    row = next(line for line in result.stdout.splitlines() if line.startswith("100.0 "))
    assert row.split()[1] == "10.0"


def test_wheel_path_as_gpx_is_read_by_others(farm: Path, tmp_path: Path) -> None:
    """Two general readers, gpxpy and GDAL, find the same track; its length by geographiclib."""
    path = tmp_path / "wheels.gpx"
    result = run("arm", farm, "-o", path)
    assert result.exit_code == 0
    assert f"Wrote {path}: 1 track, " in result.stderr
    (arm,) = answer("arm", farm)["arms"]
    book = gpxpy.parse(path.read_text(encoding="utf-8"))
    (track,) = book.tracks
    assert track.name == "Creek pivot: wheels of the corner arm"
    points = [(point.latitude, point.longitude) for point in track.segments[0].points]
    assert points[0] == points[-1]
    legs = [Geodesic.WGS84.Inverse(*one, *other)["s12"] for one, other in pairwise(points)]
    # Vertices within a centimetre of the path, coordinates to a centimetre.
    assert sum(legs) / 0.3048 == pytest.approx(arm["wheel_path_ft"], rel=2e-4)
    assert len(book.waypoints) == len(arm["rows"])
    assert book.waypoints[0].description.startswith("Creek pivot: azimuth 0.0, hinge ")
    with fiona.open(path, layer="tracks") as layer:
        (feature,) = list(layer)
        assert len(feature["geometry"]["coordinates"][0]) == len(points)
    with fiona.open(path, layer="waypoints") as layer:
        assert len(list(layer)) == len(arm["rows"])


def test_wheel_path_as_geojson_has_its_stations(farm: Path, tmp_path: Path) -> None:
    path = tmp_path / "wheels.geojson"
    assert run("arm", farm, "-o", path).exit_code == 0
    found = json.loads(path.read_text(encoding="utf-8"))
    assert geojson_validator.validate_structure(found, check_crs=True) == {}
    kinds = [feature["properties"]["feature"] for feature in found["features"]]
    assert {"corner-arm-sweep", "end-gun-ring", "arm-wheel-path", "arm-station"} == set(kinds)
    line = found["features"][kinds.index("arm-wheel-path")]
    stations = line["properties"]["stations_ft"]
    assert len(stations) == len(line["geometry"]["coordinates"])
    assert stations[0] == 0
    assert stations == sorted(stations)
    assert stations[-1] == pytest.approx(line["properties"]["length_ft"])


def test_nothing_is_overwritten_and_endings_are_checked(farm: Path, tmp_path: Path) -> None:
    path = tmp_path / "wheels.gpx"
    path.write_text("mine", encoding="utf-8")
    refused = run("arm", farm, "-o", path)
    assert refused.exit_code == 1
    assert "already there; say --overwrite" in refused.stderr
    assert path.read_text(encoding="utf-8") == "mine"
    assert run("arm", farm, "-o", path, "--overwrite").exit_code == 0
    other = run("arm", farm, "-o", tmp_path / "wheels.txt")
    assert other.exit_code == 1
    assert "allowed: a name that ends in .gpx, .geojson" in other.stderr


def test_acres_of_all_kinds_of_machine(farm: Path) -> None:
    record = answer("acres", farm)
    fields = {field["field"]: field for field in record["fields"]}
    (arm,) = fields["Creek field"]["systems"]
    assert arm["corner_arm_acres"] == pytest.approx(answer("arm", farm)["arms"][0]["corner_arm_acres"])
    base = math.pi * 1150**2 / 43560
    assert arm["irrigated_acres"] == pytest.approx(base + arm["corner_arm_acres"] + arm["end_gun_acres"])
    sand = fields["Sand field"]
    assert [system["kind"] for system in sand["systems"]] == ["pivot", "pivot", "lateral move"]
    (machine,) = sand["machines"]
    assert machine["name"] == "Sandhill pivot"
    assert machine["points"] == [system["name"] for system in sand["systems"][:2]]
    both = [system["wetted_acres"] for system in sand["systems"][:2]]
    assert both == pytest.approx([math.pi * 420**2 / 43560] * 2)
    assert max(both) < machine["together_wetted_acres"] < sum(both)
    lateral = sand["systems"][2]
    assert lateral["wetted_acres"] == pytest.approx(
        (308 + 150)
        * Geodesic.WGS84.Inverse(LAT + 0.0025, LON - 0.003, LAT + 0.0025, LON + 0.003)["s12"]
        / 0.3048
        / 43560,
        rel=1e-5,
    )
    (bent,) = fields["Bent field"]["systems"]
    assert bent["wetted_acres"] == pytest.approx(
        (math.pi / 2 * 730**2 + math.radians(70) / 2 * 370**2) / 43560, rel=1e-4
    )
    text = run("acres", farm).stdout
    assert "Sandhill pivot, 2 points together" in text
    assert "Corner arm" in text


def test_acres_warns_of_stated_arcs_on_stderr(tmp_path: Path) -> None:
    field = GUN_FIELD.replace("wetted_radius = 130\n", 'wetted_radius = 130\narcs = "always"\n')
    farm = write_farm(tmp_path / "farm", FARM_TOML, {"home": field})
    result = run("acres", farm)
    assert result.exit_code == 0
    assert "Windmill pivot, end gun: WARNING: on all of its turn it throws" in result.stderr
    assert "reaches something to keep off at" in result.stderr
    assert "WARNING" not in result.stdout


def test_export_draws_bends_with_towers_and_lateral_moves_with_tracks(farm: Path, tmp_path: Path) -> None:
    path = tmp_path / "farm.geojson"
    assert run("export", farm, "-o", path).exit_code == 0
    found = json.loads(path.read_text(encoding="utf-8"))
    assert geojson_validator.validate_structure(found, check_crs=True) == {}
    ids = [feature["id"] for feature in found["features"]]
    assert len(ids) == len(set(ids))
    by_kind: dict[str, list[dict]] = {}
    for feature in found["features"]:
        by_kind.setdefault(feature["properties"]["feature"], []).append(feature)
    (bend,) = by_kind["bend"]
    assert bend["id"] == "bend:Bent%20field/Bent%20pivot/stop"
    towers = [tower["geometry"]["coordinates"] for tower in by_kind["tower"]]
    assert [tower["properties"]["tower"] for tower in by_kind["tower"]] == [1, 2, 3, 4]
    # Two spans along azimuth 200, then two along 270: by geographiclib.
    knee = Geodesic.WGS84.Direct(LAT, LON, 200, 360 * 0.3048)
    last = Geodesic.WGS84.Direct(knee["lat2"], knee["lon2"], 270, 360 * 0.3048)
    assert towers[1] == pytest.approx([knee["lon2"], knee["lat2"]], abs=2e-7)
    assert towers[3] == pytest.approx([last["lon2"], last["lat2"]], abs=2e-7)
    tracks = [t for t in by_kind["tower-track"] if t["properties"]["name"] == "Ditch lateral"]
    sides = [(track["properties"]["side"], track["properties"]["tower"]) for track in tracks]
    assert sides == [("left", 1), ("left", 2), ("right", 1)]
    cart = next(f for f in by_kind["cart-path"])
    assert cart["properties"]["stations_ft"][-1] == pytest.approx(cart["properties"]["length_ft"])
    # It travels east, so its left is north.
    assert tracks[1]["geometry"]["coordinates"][0][1] > cart["geometry"]["coordinates"][0][1]
    assert tracks[2]["geometry"]["coordinates"][0][1] < cart["geometry"]["coordinates"][0][1]
    for kind in ("corner-arm-sweep", "bend"):
        assert shapely.from_geojson(json.dumps(by_kind[kind][0]["geometry"])).is_valid


def test_map_of_such_machines_is_written(farm: Path, tmp_path: Path) -> None:
    path = tmp_path / "farm.html"
    assert run("map", farm, "-o", path).exit_code == 0
    assert "Ditch lateral" in path.read_text(encoding="utf-8")


def test_export_of_one_field_keeps_the_well_of_a_towed_machine(farm: Path, tmp_path: Path) -> None:
    wells = '[[well]]\nname = "Sand well"\nat = { lat = 36.9, lon = -101.49 }\nserves = ["Ditch lateral"]\n'
    (farm / "farm.toml").write_text(FARM_TOML + wells, encoding="utf-8")
    path = tmp_path / "sand.geojson"
    assert run("export", farm, "--field", "Sand field", "-o", path).exit_code == 0
    assert '"Sand well"' in path.read_text(encoding="utf-8")

"""``ringrow route`` from farm files on: stops, crews, files, messages."""

from __future__ import annotations

import json
import math
from typing import TYPE_CHECKING, Any

import fiona
import geojson_validator
import gpxpy
import pytest
from click.testing import CliRunner, Result
from geographiclib.geodesic import Geodesic

from farms import CENTRE, DRIP, EAST, FARM_TOML, FIELD, OUTLINE, write_farm
from ringrow.cli.main import cli

if TYPE_CHECKING:
    from pathlib import Path

LAT, LON = CENTRE
GATE = (36.7495, -101.4955)
WITH_GATE = FARM_TOML + f"gate = {{ lat = {GATE[0]}, lon = {GATE[1]} }}\n"


def run(*args: Any) -> Result:
    return CliRunner().invoke(cli, [str(arg) for arg in args])


def good(*args: Any) -> str:
    result = run(*args)
    assert result.exit_code == 0, result.output
    return result.stdout


def answer(*args: Any) -> Any:
    return json.loads(good(*args, "--json"))["route"]


@pytest.fixture
def farm(tmp_path: Path) -> Path:
    """One circle, gate to the south of it, three flags in a row northward."""
    folder = write_farm(tmp_path / "farm", WITH_GATE)
    for north, kind in ((0.0020, "burrow"), (-0.0020, "rut"), (0.0, "rock")):
        good("flag", "add", folder, "--at", f"{LAT + north}, {LON}", "--kind", kind)
    return folder


def test_stops_in_a_row_are_gone_to_in_a_row(farm: Path) -> None:
    route = answer("route", farm, "--minutes", 10)
    (crew,) = route["crews"]
    assert [stop["flag"] for stop in crew["stops"]] in ([2, 3, 1], [1, 3, 2])
    there = Geodesic.WGS84.Inverse(*GATE, LAT + 0.0020, LON)["s12"]
    assert crew["distance_ft"] == pytest.approx(2 * there / 0.3048, abs=0.1)
    assert crew["walked_ft"] == 0
    assert crew["total_min"] == pytest.approx(30 + 2 * there / (8 * 0.44704) / 60, abs=0.01)
    assert route["start"] == {"what": "the gate", "lat": GATE[0], "lon": GATE[1]}
    assert route["cautions"][-1] == "Local codes and licensed people come first."


def test_table_says_clock_and_total(farm: Path) -> None:
    text = good("route", farm, "--minutes", 10, "--at", "6:30")
    first, *rest = text.splitlines()
    assert first.startswith("Route: 3 stops, 0.8 miles, 0 h 36 min, of it 0 h 30 min at the stops")
    assert any("back at the start" in line and " 7:0" in line for line in rest)
    assert "CAUTION: Machines parked, power locked off and tested by a qualified person" in text


def test_several_crews_share_all_stops(farm: Path, tmp_path: Path) -> None:
    """Twelve flags on a ring about the pivot point and the fixture's three, for three crews."""
    rows = [
        f"{LAT + 0.002 * math.sin(turn):.6f},{LON + 0.0025 * math.cos(turn):.6f},{kind}"
        for turn, kind in zip(range(12), ("rut", "tire", "sprinkler") * 4, strict=True)
    ]
    (tmp_path / "walk.csv").write_text("\n".join(["lat,lon,kind", *rows]), encoding="utf-8")
    good("flag", "import", farm, tmp_path / "walk.csv")
    good("flag", "set", farm, 5, "--status", "fixed")
    listed = json.loads(good("flag", "list", farm, "--json"))["flags"]
    for crop in ("down", "up"):
        route = answer("route", farm, "--crews", 3, "--crop", crop)
        numbers = [stop["flag"] for crew in route["crews"] for stop in crew["stops"]]
        wanted = {flag["number"] for flag in listed if flag["status"] == "open"}
        assert sorted(numbers) + route["left_out"] == sorted(wanted)
        assert len(route["crews"]) == 3
        times = [crew["total_min"] for crew in route["crews"]]
        assert max(times) <= 1.15 * min(times)
        assert (sum(crew["walked_ft"] for crew in route["crews"]) > 0) == (crop == "up")


def test_unsafe_first(farm: Path) -> None:
    good("flag", "add", farm, "--at", f"{LAT + 0.0030}, {LON}", "--kind", "wiring")
    (crew,) = answer("route", farm, "--unsafe-first")["crews"]
    assert crew["stops"][0]["kind"] == "wiring"


def test_a_machine_standing_nobody_knows_where_is_looked_for_at_its_point(farm: Path) -> None:
    good("flag", "add", farm, "--pivot", "Home field pivot 1", "--tower", 5, "--kind", "tire")
    for crop in ("down", "up"):
        stops = answer("route", farm, "--crop", crop)["crews"][0]["stops"]
        (tire,) = [stop for stop in stops if stop["kind"] == "tire"]
        assert (tire["lat"], tire["lon"]) == (pytest.approx(LAT, abs=1e-8), pytest.approx(LON, abs=1e-8))
        assert "not known" in tire["note"]


def test_a_parked_machine_is_looked_for_where_it_is_parked(tmp_path: Path) -> None:
    folder = write_farm(tmp_path / "farm", WITH_GATE, {"home": FIELD + "parked = 90\n"})
    good("flag", "add", folder, "--pivot", "Home field pivot 1", "--tower", 5, "--kind", "tire")
    (stop,) = answer("route", folder)["crews"][0]["stops"]
    line = Geodesic.WGS84.Inverse(LAT, LON, stop["lat"], stop["lon"])
    assert line["s12"] == pytest.approx(900 * 0.3048, abs=0.01)
    assert line["azi1"] == pytest.approx(90, abs=0.001)


def test_a_lateral_move_standing_nobody_knows_where(sample_farm: Path) -> None:
    good(
        "flag",
        "add",
        sample_farm,
        "--move",
        "Ditch lateral",
        "--tower",
        2,
        "--side",
        "left",
        "--kind",
        "tire",
    )
    for crop in ("down", "up"):
        (stop,) = answer("route", sample_farm, "--crop", crop)["crews"][0]["stops"]
        assert "from the start of its path" in stop["note"]


def test_rows_of_tape_with_the_crop_up(tmp_path: Path) -> None:
    folder = write_farm(tmp_path / "farm", WITH_GATE, {"home": f'name = "Tape field"\n{OUTLINE}\n{DRIP}'})
    good(
        "flag",
        "add",
        folder,
        "--drip",
        "Tape field drip 1",
        "--lateral",
        200,
        "--station",
        600,
        "--kind",
        "leak",
    )
    (crew,) = answer("route", folder, "--crop", "up")["crews"]
    assert crew["stops"][0]["leg_walked_ft"] == pytest.approx(600, abs=0.1)
    assert crew["walked_ft"] == pytest.approx(1200, abs=0.2)


def test_start_elsewhere_and_nowhere(farm: Path, tmp_path: Path) -> None:
    route = answer("route", farm, "--from", f"{LAT}, {LON}")
    assert (route["start"]["lat"], route["start"]["lon"]) == (LAT, LON)
    folder = write_farm(tmp_path / "no_gate")
    good("flag", "add", folder, "--at", f"{LAT}, {LON}", "--kind", "rock")
    route = answer("route", folder, "--crop", "up")
    assert route["start"]["what"] == "the first stop"
    assert any("farm.toml gives no gate" in text for text in route["assumed"])
    assert route["crews"][0]["distance_ft"] == pytest.approx(0, abs=1e-6)


def test_gpx_is_read_by_others(farm: Path, tmp_path: Path) -> None:
    path = tmp_path / "crews.gpx"
    route = answer("route", farm, "--crews", 2, "--crop", "up", "-o", path)
    book = gpxpy.parse(path.read_text(encoding="utf-8"))
    assert book.version == "1.1"
    for crew, written, track in zip(route["crews"], book.routes, book.tracks, strict=True):
        held = [(point.latitude, point.longitude) for point in written.points]
        assert held[0] == held[-1] == GATE
        stops = [(stop["lat"], stop["lon"]) for stop in crew["stops"]]
        assert held[1:-1] == [pytest.approx(stop, abs=1e-7) for stop in stops]
        assert track.length_2d() / 0.3048 == pytest.approx(crew["distance_ft"], rel=0.005)
    with fiona.open(path, layer="routes") as layer:
        assert len(list(layer)) == 2


def test_geojson_is_valid(farm: Path, tmp_path: Path) -> None:
    path = tmp_path / "crews.geojson"
    route = answer("route", farm, "-o", path)
    whole = json.loads(path.read_text(encoding="utf-8"))
    assert geojson_validator.validate_structure(whole) == {}
    kinds = [
        feature["properties"].get("feature") or feature["id"].split(":")[0] for feature in whole["features"]
    ]
    assert [kind.split(":")[0] for kind in kinds] == ["route", "route-stop", "route-stop", "route-stop"]
    assert len(whole["features"]) == 1 + len(route["crews"][0]["stops"])
    assert run("route", farm, "-o", path).exit_code == 1
    assert run("route", farm, "-o", path, "--overwrite").exit_code == 0


def test_cautions_go_by_the_work_and_name_its_flags(farm: Path) -> None:
    good("flag", "add", farm, "--kind", "tire", "--tower", 2, "--azimuth", 30)
    cautions = answer("route", farm)["cautions"]
    jacking = next(text for text in cautions if text.startswith("Jacking"))
    assert jacking.endswith(
        "before a hand goes under. Power locked off: a tower that starts walks off the jack. (flag 4)"
    )
    digging = next(text for text in cautions if text.startswith("Before you dig"))
    assert digging.endswith("(flag 1)")
    assert not any(text.startswith("Batteries") for text in cautions)
    assert next(text for text in cautions if text.startswith("Alone out there")).endswith("alone.")


def test_a_stated_road_to_the_pivot_point_is_gone_along(tmp_path: Path) -> None:
    assumed = []
    for name, road in (("none", ""), ("east", f"pivot_road = [{{ lat = {LAT}, lon = {EAST} }}]\n")):
        folder = write_farm(tmp_path / name, WITH_GATE, {"home": FIELD + road})
        good("flag", "add", folder, "--kind", "tire", "--tower", 2, "--azimuth", 90)
        route = answer("route", folder, "--crop", "up")
        assumed.append(" ".join(route["assumed"]))
        stop = route["crews"][0]["stops"][0]
        # The tower stands on the road from the east, so nothing is walked; from the south a quarter turn is.
        assert (stop["leg_walked_ft"] < 1) == bool(road)
    assert "a straight road from the edge nearest the start to each pivot point" in assumed[0]
    assert "the stated roads to pivot points are driven" in assumed[1]


def test_start_up_of_the_sample_farm(sample_farm: Path) -> None:
    plan = json.loads(good("route", sample_farm, "--start-up", "--at", "6:30", "--json"))["start_up"]
    opened = [step for step in plan["steps"] if step["do"] in {"open", "swap"}]
    assert sorted(step["valve"] for step in opened) == ["C1", "C2", "V1", "V2"]
    assert {step["well"] for step in opened} == {"Elevator well"}
    assert len([step for step in plan["steps"] if step["do"] == "walk"]) == 10
    assert "First walk" in good("route", sample_farm, "--start-up")


@pytest.mark.parametrize(
    ("args", "code", "message"),
    [
        (("--status", "fixed"), 1, "found no flag with a place to go to"),
        (("--crews", "0"), 1, "crews: found 0; allowed: 1 to 50"),
        (("--from", "yard"), 1, "yard"),
        (("--from", "10, 10"), 1, "--from: "),
        (("--minutes", "-5"), 1, "minutes of work at a stop: found -5; allowed: a number of 0 or more"),
        (("--drive", "0"), 1, "--drive: found 0 mph; allowed: a speed above 0"),
        (("--drive", "nan"), 1, "--drive: found nan mph"),
        (("--crop", "up", "--walk", "-1"), 1, "--walk: found -1 mph; allowed: a speed above 0"),
        (("--walk", "2"), 2, "--walk: only with --crop up or --start-up"),
        (("--field", "Nowhere"), 1, 'field: found "Nowhere"'),
        (("-o", "crews.pdf"), 1, "allowed: a name that ends in .gpx, .geojson"),
        (("--wait", "5"), 2, "--wait, --until: only with --start-up"),
        (("--start-up", "-o", "plan.gpx"), 2, "--output: not with --start-up"),
        (("--start-up", "--crews", "1", "--crop", "down"), 2, "--crews, --crop: not with --start-up"),
        (("--start-up", "--field", "Home field"), 2, "--field: not with --start-up"),
    ],
)
def test_what_cannot_be_is_said_in_one_message(
    farm: Path, args: tuple[str, ...], code: int, message: str
) -> None:
    result = run("route", farm, *args)
    assert result.exit_code == code, result.output
    assert message in result.output
    assert "Traceback" not in result.output

"""``ringrow water``: tables, JSON by the design, charts, readings, cans, messages."""

from __future__ import annotations

import json
import re
from datetime import datetime
from typing import TYPE_CHECKING

import pytest
from click.testing import CliRunner, Result
from defusedxml.ElementTree import parse
from icalendar import Calendar

from ringrow.cli.main import cli

if TYPE_CHECKING:
    from pathlib import Path

ZONE_KEYS = {
    *("name", "laterals", "lateral_ft", "emitters", "acres", "nominal_gpm", "expected_gpm"),
    *("rate_in_per_h", "rate_in_per_h_expected", "volume_gal", "fill_min", "fill_min_expected"),
    *("eu_pct", "flow_variation_pct", "hours_per_inch", "flush_gpm", "flush_end_gpm", "why", "assumed"),
}
CANS = "can,distance_ft,depth_in\n" + "".join(
    f"{n},{10 * n},{depth}\n" for n, depth in enumerate([0.8, 0.7, 0.3, 0, 0.3, 0.7, "", 0.8], 1)
)


def run(*words: object) -> Result:
    return CliRunner().invoke(cli, ["water", *map(str, words)])


def record(*words: object) -> dict:
    result = run(*words, "--json")
    assert result.exit_code == 0, result.output
    return json.loads(result.stdout)


def zone_words(farm: Path, *words: object) -> tuple[object, ...]:
    return ("zone", farm, "--drip", "Elevator drip", "--zone", "North zone", *words)


def test_show_may_be_left_out(sample_farm: Path) -> None:
    short = run(sample_farm, "--system", "Draw pivot")
    assert short.exit_code == 0
    assert short.stdout == run("show", sample_farm, "--system", "Draw pivot").stdout
    assert run("--json", sample_farm).exit_code == 0
    assert "Usage" in run().output


def test_json_has_the_keys_of_the_design(sample_farm: Path) -> None:
    systems = record(sample_farm)["systems"]
    kinds = {system["name"]: system["kind"] for system in systems}
    assert kinds["Elevator drip"] == "drip"
    assert kinds["Windmill pivot"] == "pivot"
    drip = next(system for system in systems if system["name"] == "Elevator drip")
    assert [zone["name"] for zone in drip["zones"]] == ["North zone", "South zone"]
    for zone in drip["zones"]:
        assert zone.keys() >= ZONE_KEYS
        assert zone["nominal_gpm"] == pytest.approx(zone["emitters"] * 0.16 / 60 * (10 / 8) ** 0.5)
        assert zone["fill_min"] == pytest.approx(zone["volume_gal"] / zone["nominal_gpm"])
        assert zone["rate_in_per_h"] == pytest.approx(
            zone["nominal_gpm"] * 60 * 231 / (zone["acres"] * 43_560 * 144)
        )
        assert zone["expected_gpm"] < zone["nominal_gpm"]
    pivot = next(system for system in systems if system["name"] == "Windmill pivot")
    assert pivot["gpm_per_acre"] == pytest.approx(780 / pivot["acres"])
    assert pivot["in_per_day"] == pytest.approx(780 * 1440 * 231 / (pivot["acres"] * 43_560 * 144))
    assert pivot["day_stopped_gal"] == pytest.approx(780 * 1440)
    assert set(pivot["outlets"][0]) >= {"outlet", "distance_ft", "design_gpm"}
    # Design §6: (flow - gun flow) x ring area / base circle area, from midpoint to midpoint.
    third = pivot["outlets"][2]
    assert third["distance_ft"] == pytest.approx(29.0)
    base_ft = 182 * 6 + 158 + 34 + 18
    share = (33.75**2 - 24.25**2) / base_ft**2
    assert third["design_gpm"] == pytest.approx((780 - pivot["gun_gpm"]) * share)
    assert pivot["hours"] is None
    assert "speed" in pivot["why"]["hours"]


def test_metric_farm_has_metric_keys(sample_farm: Path) -> None:
    toml = sample_farm / "farm.toml"
    toml.write_text(
        toml.read_text(encoding="utf-8").replace('units = "us"', 'units = "metric"'), encoding="utf-8"
    )
    for path in (sample_farm / "fields").glob("*.toml"):
        if "twin" not in path.name:
            path.unlink()
    field = sample_farm / "fields" / "30_twin_half_section.toml"
    text = re.sub(r"spans = \[.*\]", "spans = [50, 50, 50]", field.read_text(encoding="utf-8"))
    field.write_text(
        text.replace("flow = 800", "flow = 50")
        .replace("flow = 690", "flow = 44")
        .replace("reach = 96", "reach = 45"),
        encoding="utf-8",
    )
    farm = toml.read_text(encoding="utf-8")
    farm = re.sub(r"serves = \[.*\]", "serves = []", farm)
    toml.write_text(farm, encoding="utf-8")
    systems = record(sample_farm)["systems"]
    assert {"ha", "flow_lps", "lps_per_ha", "mm_per_day", "end_kpa"} <= set(systems[0])
    assert not [key for key in systems[0] if key.endswith(("_gpm", "_ft", "_psi", "_in", "acres"))]
    printed = run(sample_farm).stdout
    assert "L/s per hectare" in printed
    assert " gpm" not in printed


def test_table_of_a_pivot(sample_farm: Path) -> None:
    result = run(sample_farm, "--system", "Windmill pivot", "--timer", 40, "--speed", 800)
    assert result.exit_code == 0
    assert "Windmill quarter: Windmill pivot, pivot" in result.stdout
    hours = 2 * 3.14159265 * 1250 / 800 / 0.4
    assert re.search(rf"Hours a turn, timer 40 % +{hours:.1f}\n", result.stdout)
    assert "the mark its neighbours have" in result.stdout
    assert "Bore" not in result.stdout
    listed = run(sample_farm, "--system", "Windmill pivot", "--outlets").stdout
    assert "the owner's table. Bores are worked out, not to order by." in listed
    assert len(re.findall(r"^\d+ +- ", listed, re.M)) == 135


def test_chart_of_one_pivot_wins(sample_farm: Path, tmp_path: Path) -> None:
    chart = tmp_path / "chart.csv"
    chart.write_text("outlet,distance,nozzle,flow\n1,10,#6,0.7\n2,600,#24,5.1\n", encoding="utf-8")
    unnamed = run(sample_farm, "--chart", chart)
    assert unnamed.exit_code == 1
    assert "--system, the pivot of this chart: no name given" in unnamed.output
    (system,) = record(sample_farm, "--chart", chart, "--system", "windmill pivot")["systems"]
    assert [(o["outlet"], o["nozzle"], o["design_gpm"]) for o in system["outlets"]] == [
        (1, "#6", pytest.approx(0.7)),
        (2, "#24", pytest.approx(5.1)),
    ]
    drip = run(sample_farm, "--chart", chart, "--system", "Elevator drip")
    assert drip.exit_code == 1
    assert 'found "Elevator drip"' in drip.output


def test_charts_are_written_once(sample_farm: Path, tmp_path: Path) -> None:
    folder = tmp_path / "charts"
    result = run(sample_farm, "--plot", folder)
    assert result.exit_code == 0
    names = sorted(path.name for path in folder.iterdir())
    assert "elevator-drip-north-zone-pressure.svg" in names
    assert "windmill-pivot-outlets.svg" in names
    for path in folder.iterdir():
        assert parse(path).getroot().tag.endswith("svg")
    again = run(sample_farm, "--plot", folder)
    assert again.exit_code == 1
    assert "--overwrite" in again.output
    assert run(sample_farm, "--plot", folder, "--overwrite").exit_code == 0


def test_zone_reading_table_and_json(sample_farm: Path, tmp_path: Path) -> None:
    calendar = tmp_path / "walk.ics"
    words = zone_words(
        sample_farm,
        *("--flow", 1000, "--inlet", 10, "--flush-line", 7, "--meter-error", 2, "--limit", 5),
        *("--on-since", "2027-03-13 18:00", "--read-at", "2027-03-14 06:40"),
    )
    result = run(*words, "--calendar", calendar)
    assert result.exit_code == 0, result.output
    assert "looks like a break" in result.stdout
    assert "(limit 5 %)" in result.stdout
    assert "worth walking from Sun 14 Mar 06:52" in result.stdout
    (event,) = Calendar.from_ical(calendar.read_bytes()).walk("VEVENT")
    assert event["dtstart"].dt == datetime(2027, 3, 14, 6, 52)
    zone = record(*words)["zone"]
    assert (zone["name"], zone["drip"], zone["finding"]) == ("North zone", "Elevator drip", "break")
    assert zone["off_pct"] == pytest.approx(100 * (1000 / zone["design_gpm"] - 1))
    assert zone["look_at"] == "2027-03-14T06:52"
    again = run(*words, "--calendar", calendar)
    assert again.exit_code == 1
    assert "already there" in again.output


def test_time_of_day_is_the_last_one(sample_farm: Path) -> None:
    words = ("--flow", 940, "--on-since", "18:00", "--read-at", "2027-03-14 06:40", "--wait", 10)
    zone = record(*zone_words(sample_farm, *words))["zone"]
    assert (zone["on_since"], zone["look_at"]) == ("2027-03-13T18:00", "2027-03-14T04:52")
    assert (zone["limit_pct"], zone["finding"]) == (None, None)


def test_zone_messages(sample_farm: Path, tmp_path: Path) -> None:
    lost = run("zone", sample_farm, "--drip", "Elevator drip", "--flow", 5)
    assert lost.exit_code == 1
    assert 'zone of "Elevator drip": no name given; allowed: "North zone", "South zone"' in lost.output
    early = run(*zone_words(sample_farm, "--flow", 5, "--calendar", tmp_path / "a.ics"))
    assert early.exit_code == 2
    assert "needs --on-since" in early.output
    assert "found flow -0.315451 L/s" in run(*zone_words(sample_farm, "--flow", -5)).output


def test_system_that_is_not_there(sample_farm: Path) -> None:
    result = run(sample_farm, "--system", "Windmil pivot")
    assert result.exit_code == 1
    assert 'nearest: "Windmill pivot"' in result.output


def test_catch_cans(tmp_path: Path) -> None:
    path, plot = tmp_path / "cans.csv", tmp_path / "cans.svg"
    path.write_text(CANS, encoding="utf-8")
    result = run("catch", path, "--plot", plot)
    assert result.exit_code == 0, result.output
    assert "Uniformity CU, Heermann and Hein (by distance), %" in result.stdout
    assert "Left out, no depth read: 7." in result.stdout
    assert "4 at 40 ft caught nothing" in result.stdout
    assert parse(plot).getroot().tag.endswith("svg")
    found = record("catch", path, "--gun-from", 75)["catch"]
    assert found["cu"] == "Heermann-Hein"
    assert found["left_out"] == [
        {"can": "7", "why": "no depth read"},
        {"can": "8", "why": "under the end gun"},
    ]
    distance, depth = [10, 20, 30, 40, 50, 60], [0.8, 0.7, 0.3, 0, 0.3, 0.7]
    mean = sum(r * d for r, d in zip(distance, depth, strict=True)) / sum(distance)
    off = sum(r * abs(d - mean) for r, d in zip(distance, depth, strict=True))
    assert found["cu_pct"] == pytest.approx(100 * (1 - off / (mean * sum(distance))))
    assert found["mean_in"] == pytest.approx(mean)
    again = run("catch", path, "--plot", plot)
    assert (again.exit_code, "already there" in again.output) == (1, True)


def test_catch_messages(tmp_path: Path) -> None:
    path = tmp_path / "cans.csv"
    path.write_text("distance,ml\n10,5\n", encoding="utf-8")
    assert "--mouth" in run("catch", path).output
    assert "found 1 that count" in run("catch", path, "--mouth", 3).output


def test_tillage_near_the_tape_is_warned_of(sample_farm: Path) -> None:
    path = sample_farm / "fields" / "40_elevator_quarter.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("\n[[drip]]", "tillage_depth = 9\n\n[[drip]]", 1), encoding="utf-8")
    result = run(sample_farm, "--system", "Elevator drip")
    assert result.exit_code == 0, result.output
    assert "tillage at 9 in is within 4 in of the tape of Elevator drip at 12 in" in result.stderr

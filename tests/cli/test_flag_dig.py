"""A hole is kept beside its wet spot; five of them teach the farm how far it has to dig from the water."""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING

import pytest
from click.testing import CliRunner
from geographiclib.geodesic import Geodesic

from phones import few_fields
from ringrow.cli.main import cli

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture
def sample_farm(tmp_path: Path) -> Path:
    """The fields of the sample farm that are dug on here."""
    return few_fields(tmp_path / "two_windmill_farm", "30_", "40_")


def run(*words: str) -> str:
    result = CliRunner().invoke(cli, list(words))
    assert result.exit_code == 0, result.output
    return result.stdout


def add_leak(farm: Path, *, lateral: int, station: float) -> str:
    words = ("--drip", "Elevator drip", "--lateral", str(lateral), "--station", str(station))
    return re.search(r"flag (\d+)", run("flag", "add", str(farm), "--kind", "leak", *words))[1]


def dig(farm: Path, number: str, *, lateral: int, station: float) -> str:
    return run(
        "flag",
        "dig",
        str(farm),
        number,
        "--drip",
        "Elevator drip",
        "--lateral",
        str(lateral),
        "--station",
        str(station),
    )


def test_hole_is_kept_beside_the_wet_spot(sample_farm: Path) -> None:
    number = add_leak(sample_farm, lateral=104, station=650)
    said = dig(sample_farm, number, lateral=105, station=662)
    assert "lateral 105, station 662 ft" in said
    record = json.loads(run("flag", "show", str(sample_farm), number, "--json"))
    assert record["flags"][0]["lateral"] == 104
    assert record["dig_point"]["lateral"] == 105
    spot, hole = record["flags"][0], record["dig_point"]
    apart = Geodesic.WGS84.Inverse(spot["lat"], spot["lon"], hole["lat"], hole["lon"])["s12"] / 0.3048
    assert hole["away_ft"] == pytest.approx(apart, abs=0.01)
    # One lateral over (60 in) and 12 ft along.
    assert hole["away_ft"] == pytest.approx((5**2 + 12**2) ** 0.5, abs=0.01)
    shown = run("flag", "show", str(sample_farm), number)
    assert "Hole found" in shown
    assert "13 ft from the wet spot" in shown
    assert "To dig" not in shown


def test_a_hole_lies_on_the_flags_own_block_and_can_be_taken_back(tmp_path: Path) -> None:
    farm = few_fields(tmp_path / "two_blocks", "40_", "50_")
    number = add_leak(farm, lateral=104, station=650)
    where = ("--lateral", "104", "--station", "662")
    assert "lateral 104, station 662 ft" in run("flag", "dig", str(farm), number, *where)
    run("flag", "undo", str(farm), number, "dig", "--who", "Ana")
    shown = run("flag", "show", str(farm), number)
    assert "Hole found" not in shown
    assert "Ana: dig point = none  [flag undo]" in shown
    away = run("flag", "add", str(farm), "--kind", "burrow", "--at", "36.7700, -101.4945")
    result = CliRunner().invoke(cli, ["flag", "dig", str(farm), re.search(r"flag (\d+)", away)[1], *where])
    assert (result.exit_code, 'allowed: "Elevator drip", "Corner drip"' in result.output) == (1, True)


def test_open_leak_says_where_to_dig(sample_farm: Path) -> None:
    shown = run("flag", "show", str(sample_farm), add_leak(sample_farm, lateral=104, station=650))
    assert "Start at the water." in shown
    assert "Small print" in shown
    assert "holes lay within" not in shown


def test_five_holes_teach_the_farm(sample_farm: Path) -> None:
    """Distances 2, 4, 6, 8 and 10 ft along the lateral: half within 6 ft, the middle half 4 to 8 ft."""
    for feet in (2, 4, 6, 8, 10):
        number = add_leak(sample_farm, lateral=50 + feet, station=500)
        if feet == 10:
            # Four holes teach nothing yet.
            assert "holes lay within" not in run("flag", "show", str(sample_farm), number)
        dig(sample_farm, number, lateral=50 + feet, station=500 + feet)
    shown = run("flag", "show", str(sample_farm), add_leak(sample_farm, lateral=20, station=500))
    assert "half of 5 holes lay within 6 ft of the water, the middle half 4 ft to 8 ft away" in shown


def test_same_hole_twice_changes_nothing_and_a_better_one_replaces_it(sample_farm: Path) -> None:
    number = add_leak(sample_farm, lateral=104, station=650)
    for station in (662, 662, 664):
        dig(sample_farm, number, lateral=104, station=station)
    record = json.loads(run("flag", "show", str(sample_farm), number, "--json"))
    digs = [event for event in record["events"] if event["field"] == "dig"]
    assert len(digs) == 2
    assert digs[1]["parents"] == [digs[0]["id"]]
    assert record["dig_point"]["away_ft"] == pytest.approx(14, abs=0.01)


def test_no_hole_on_a_machine(sample_farm: Path) -> None:
    said = run("flag", "add", str(sample_farm), "--kind", "tire", "--pivot", "West pivot", "--tower", "3")
    number = re.search(r"flag (\d+)", said)[1]
    result = CliRunner().invoke(cli, ["flag", "dig", str(sample_farm), number, "--at", "36.7612, -101.4975"])
    assert result.exit_code == 1
    assert "belongs to a flag on the ground or on tape" in result.output


def test_one_way_of_saying_where(sample_farm: Path) -> None:
    number = add_leak(sample_farm, lateral=104, station=650)
    for words in ([], ["--at", "36.76, -101.48", "--lateral", "3", "--station", "4"]):
        result = CliRunner().invoke(cli, ["flag", "dig", str(sample_farm), number, *words])
        assert result.exit_code == 2
        assert "give --at, or --lateral" in result.output

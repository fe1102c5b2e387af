"""``ringrow reading``: one number, judged, with the source shown."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import pytest
from click.testing import CliRunner, Result

from ringrow.cli import reading as reading_commands
from ringrow.cli.main import cli
from ringrow.farm.reading_kinds import READING_KINDS

if TYPE_CHECKING:
    from pathlib import Path


def run(*arguments: Any) -> Result:
    return CliRunner().invoke(cli, ["reading", *map(str, arguments)])


def good(*arguments: Any) -> Result:
    result = run(*arguments)
    assert result.exit_code == 0, result.output
    return result


def readings(*arguments: Any) -> list[dict[str, Any]]:
    told = json.loads(good(*arguments, "--json").stdout)
    assert told["schema"] == 1
    listed: list[dict[str, Any]] = told["readings"]
    return listed


@pytest.fixture
def farm(sample_farm: Path) -> Path:
    """Of the sample farm one pivot and its well, with a plate: quick to read."""
    for path in (sample_farm / "fields").glob("*.toml"):
        if not path.name.startswith("10_"):
            path.unlink()
    (sample_farm / "farm.toml").write_text(
        'name = "Two Windmill Farm"\ntime_zone = "America/Chicago"\n'
        '[[well]]\nname = "Home well"\npower = "electric"\nplate_volts = 460\n'
        'at = { lat = 36.7536695, lon = -101.4909377 }\nserves = ["Windmill pivot"]\n',
        encoding="utf-8",
    )
    return sample_farm


def test_every_kind_stands_in_the_help() -> None:
    text = run("add", "--help").output
    assert all(kind in text for kind in READING_KINDS)
    assert reading_commands.reading.help is not None


def test_volts_against_the_plate(farm: Path) -> None:
    result = good("add", farm, "Home well", "volts", "478", "V", "--who", "Ana")
    assert result.stdout == (
        "Home well: volts 478 V: good, 414 V to 506 V\n"
        "  plate 460 V, 10 % either way: NEMA MG 1, clause 12.44.1\n"
    )
    assert "The panel door stays shut" in result.stderr
    (low,) = readings("add", farm, "Home well", "volts", "400", "V")
    assert (low["ok"], low["why"], low["read_v"], low["stated_v"]) == (False, "below", 400, 460)
    assert "NEMA MG 1" in low["source"]
    assert [each["read_v"] for each in readings("list", farm, "--open")] == [400]
    good("add", farm, "Home well", "volts", "470", "V")
    assert readings("list", farm, "--open") == []
    assert len(readings("list", farm)) == 3


def test_json_says_how_the_system_now_stands(farm: Path) -> None:
    told = json.loads(good("add", farm, "Home well", "volts", "400", "V", "--json").stdout)
    (system,) = told["systems"]
    assert (system["name"], system["kind"], system["ready"]) == ("Home well", "well", False)
    assert [each["item"] for each in system["waiting"] if each["what"] == "reading"] == ["volts"]
    assert isinstance(system["owed"], list)


def test_balance_is_a_qualified_persons(farm: Path) -> None:
    result = run("add", farm, "Home well", "line-volts", "460", "467", "450", "V")
    assert result.exit_code == 1
    assert "no farmhand is asked to do that" in result.stderr
    assert not (farm / "season.db").exists()
    taken = good("add", farm, "Home well", "line-volts", "460", "467", "450", "V", "--by-qualified")
    assert "1.96 % out of balance" in taken.stdout
    assert "Only a qualified person probes a panel." in taken.stderr


def test_not_judged_without_a_number(farm: Path) -> None:
    result = good("add", farm, "Windmill pivot", "volts", "471 V", "--idle")
    assert "471 V, idle; not judged: no plate volts in the farm's files" in result.stdout
    assert "walking nor idle" in run("add", farm, "Windmill pivot", "volts", "471 V").stderr


def test_a_list_shows_what_was_judged_against_what(farm: Path) -> None:
    good("add", farm, "Windmill pivot", "pressure", "31", "psi", "--at", "2026-03-14", "--who", "Eva")
    good("add", farm, "Home well", "meter", "1,234,500", "gal")
    good("add", farm, "Home well", "temperature", "-5", "F")
    text = good("list", farm).stdout
    assert "2026-03-14   Windmill pivot   pressure      31 psi: good, 28.8 psi to 35.2 psi" in text
    assert "1,234,500 gal; kept; there is nothing to judge it against" in text
    assert "-5 °F" in text
    assert "  design 32 psi, 10 % either way: our choice" in text
    assert [each["item"] for each in readings("list", farm, "--item", "meter")] == ["meter"]
    assert [each["kind"] for each in readings("list", farm, "--system", "windmill pivot")] == ["pivot"]


def test_a_reading_is_corrected_and_taken_back(farm: Path) -> None:
    (first,) = readings("add", farm, "Home well", "volts", "47", "V")
    (second,) = readings("add", farm, "Home well", "volts", "470", "V", "--correct", first["id"][:8])
    assert second["id"] == first["id"]
    assert [each["read_v"] for each in readings("list", farm)] == [470]
    assert "as it was said before" in good("undo", farm, first["id"][:8]).stdout
    assert [each["read_v"] for each in readings("list", farm)] == [47]


def test_spanish(farm: Path) -> None:
    result = good("add", farm, "Home well", "volts", "400", "V", "--language", "es")
    assert "400 V: muy bajo, cuando menos 414 V" in result.stdout
    assert "La puerta del tablero se queda cerrada" in result.stderr


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["Home well", "volts", "high"], 'volts: found "high"; allowed: one number and the unit'),
        (["Home well", "pressure", "30"], 'pressure: found "30" without a unit'),
        (["Gone well", "volts", "478", "V"], 'system: found "Gone well"; allowed: "Home well"'),
        (["Home well", "volt", "478", "V"], 'reading of a well: found "volt"; allowed: "volts"'),
        (["Home well", "volts", "478", "V", "--zone", "N"], 'zone: found "N" for a reading of the whole'),
        (
            ["Home well", "volts", "478", "V", "--at", "3/14/26"],
            'at: found "3/14/26"; allowed: year-month-day',
        ),
        (["Home well", "volts", "478", "V", "--at", "2072-01-01"], "which is still to come"),
        (["Home well", "volts", "478", "V", "--valking"], 'volts: found the unit "V --valking"'),
    ],
)
def test_what_cannot_be_is_said(farm: Path, arguments: list[str], message: str) -> None:
    result = run("add", farm, *arguments)
    assert result.exit_code == 1
    assert message in result.stderr


def test_without_a_season_log(farm: Path) -> None:
    assert readings("list", farm) == []
    assert "no such reading was kept yet" in good("list", farm).stderr
    assert run("undo", farm, "abcd").exit_code == 1

"""``ringrow ready`` and ``ringrow fill`` on the sample farm."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest
from click.testing import CliRunner

from phones import few_fields
from ringrow.cli.main import cli

if TYPE_CHECKING:
    from pathlib import Path

    from click.testing import Result


@pytest.fixture
def farm(tmp_path: Path) -> Path:
    """Of the sample farm one block of tape, one pivot, and a machine that is towed: quick to lay out."""
    return few_fields(tmp_path / "farm", "40_", "60_", "80_")


def run(*arguments: object) -> Result:
    return CliRunner().invoke(cli, [str(argument) for argument in arguments])


def test_the_board_follows_a_spring(farm: Path, tmp_path: Path) -> None:
    run("put-away", "done", farm, "Draw pivot", "drained")
    assert run("round", "start", farm, "--name", "Spring").exit_code == 0
    run("round", "look", farm, "Draw well", "--nothing-seen", "--item", "starts=yes")
    run(
        *("round", "look", farm, "Draw pivot", "--nothing-seen"),
        *("--item", "forward=yes", "--item", "reverse=yes"),
    )
    run("reading", "add", farm, "Draw pivot", "volts", "478 V", "--walking")
    filled = run("fill", farm, "Elevator drip", "--zone", "north ZONE", "--since", "2190-03-01 17:40")
    assert filled.exit_code == 1
    assert "which is still to come; allowed: now or before" in filled.output
    page = tmp_path / "ready.html"
    told = run("ready", farm, "-o", page, "--json")
    record = json.loads(told.stdout)
    assert record["schema"] == 1
    assert page.read_text("utf-8").startswith("<!doctype html>")
    systems = {each["name"]: each for each in record["systems"]}
    draw = systems["Draw pivot"]
    assert [line["what"] for line in draw["waiting"]] == ["put-away"]
    assert (draw["kind"], draw["ready"], draw["state"]) == ("pivot", False, "waiting")
    assert "Tow pivot" in systems, "a towed machine is one machine"
    run("put-away", "back", farm, "Draw pivot", "--all")
    again = json.loads(run("ready", farm, "--json").stdout)
    assert [each["name"] for each in again["systems"] if each["ready"]] == ["Draw pivot"]
    assert [each["name"] for each in again["wells"] if each["ready"]] == ["Draw well"]
    refused = run("ready", farm, "-o", page)
    assert (refused.exit_code, "is already there; say --overwrite" in refused.output) == (1, True)
    spanish = run("ready", farm, "--language", "es").stdout
    assert "Draw pivot: Nada pendiente que impida la primera agua" in spanish


def test_a_fill_says_until_when_to_wait(farm: Path) -> None:
    said = run("fill", farm, "Elevator drip", "--zone", "North zone", "--wait", "8")
    assert said.exit_code == 0, said.output
    assert said.stdout.startswith("Elevator drip: North zone has water since ")
    assert ": waits until " in said.stdout
    board = json.loads(run("ready", farm, "--json").stdout)
    block = next(each for each in board["systems"] if each["name"] == "Elevator drip")
    assert [line["zone"] for line in block["waiting"] if line["what"] == "zone"] == ["North zone"]
    before = run("fill", farm, "Elevator drip", "--zone", "North zone", "--since", "2026-01-01 06:00")
    assert (before.exit_code, "kept; water went on again later than that" in before.stderr) == (0, True)
    undone = run("fill", farm, "Elevator drip", "--zone", "North zone", "--undo", "--language", "es")
    assert undone.stdout.startswith(
        "North zone: se quitó; como antes: North zone tiene agua desde 2026-01-01"
    )
    both = run("fill", farm, "Elevator drip", "--zone", "North zone", "--undo", "--wait", "8")
    clock = run("fill", farm, "Elevator drip", "--zone", "North zone", "--since", "25:00")
    assert (clock.exit_code, '--since: found "25:00"; allowed: a time such as 17:40' in clock.output) == (
        2,
        True,
    )
    assert (both.exit_code, "without --since and --wait" in both.output) == (2, True)

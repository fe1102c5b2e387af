"""What was last said of a flag is taken back by a new event; nothing leaves the history."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest
from click.testing import CliRunner

from phones import few_fields
from ringrow.cli.main import cli

if TYPE_CHECKING:
    from pathlib import Path


def run(*words: str, code: int = 0) -> str:
    result = CliRunner().invoke(cli, list(words))
    assert result.exit_code == code, result.output
    # A slow machine says on stderr what it is doing; that is no part of an answer.
    return result.stdout if code == 0 else result.output


def shown(farm: Path) -> dict:
    return json.loads(run("flag", "show", str(farm), "1", "--json"))


@pytest.fixture
def sample_farm(tmp_path: Path) -> Path:
    """One field of the sample farm is enough here."""
    return few_fields(tmp_path / "two_windmill_farm", "10_")


def test_undo_and_undo_again(sample_farm: Path) -> None:
    run("flag", "add", str(sample_farm), "--kind", "rut", "--at", "36.7537, -101.4985", "--note", "deep")
    run("flag", "set", str(sample_farm), "1", "--status", "fixed")
    undone = CliRunner().invoke(cli, ["flag", "undo", str(sample_farm), "1", "status"])
    assert "open" in undone.stdout
    assert undone.stderr.endswith('Taken back: status of flag 1, "fixed"; now "open"\n')
    assert shown(sample_farm)["flags"][0]["status"] == "open"
    run("flag", "undo", str(sample_farm), "1", "status")
    assert shown(sample_farm)["flags"][0]["status"] == "fixed"
    assert [event["value"] for event in shown(sample_farm)["events"] if event["field"] == "status"][-3:] == [
        "fixed",
        "open",
        "fixed",
    ]
    run("flag", "undo", str(sample_farm), "1", "note")
    assert shown(sample_farm)["flags"][0]["note"] == ""


def test_nothing_to_take_back(sample_farm: Path) -> None:
    run("flag", "add", str(sample_farm), "--kind", "rut", "--at", "36.7537, -101.4985")
    assert "nothing was said about this field" in run("flag", "undo", str(sample_farm), "1", "class", code=1)
    assert "found only the kind it was set with" in run("flag", "undo", str(sample_farm), "1", "kind", code=1)
    run("flag", "set", str(sample_farm), "1", "--kind", "washout")
    run("flag", "undo", str(sample_farm), "1", "kind")
    assert shown(sample_farm)["flags"][0]["kind"] == "rut"

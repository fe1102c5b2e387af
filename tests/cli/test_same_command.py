"""``ringrow same``: list, join, take apart; every listing shows a joined flag once."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from click.testing import CliRunner

from farms import write_farm
from ringrow.cli.main import cli

if TYPE_CHECKING:
    from pathlib import Path

AT = "36.7540, -101.4950"


def run(*arguments: str) -> str:
    result = CliRunner().invoke(cli, arguments)
    assert result.exit_code == 0, result.output
    return result.stdout


def test_join_and_take_apart(tmp_path: Path) -> None:
    farm = str(write_farm(tmp_path))
    for number in range(2):
        run("flag", "add", farm, "--kind", "burrow", "--at", AT, "--note", f"hole {number}")
    listed = run("same", farm)
    assert "1, 2" in listed
    assert "almost certain" in listed
    assert "10 % of flags mark again" in listed
    proposals = json.loads(run("same", farm, "--json"))
    assert proposals["proposals"][0]["chance"] > 0.99
    joined = run("same", farm, "--merge", "1", "2", "--by", "Walker")
    assert "flag 1: burrow" in joined
    assert "the same fault as flag 2" in joined
    flags = json.loads(run("flag", "list", farm, "--json"))["flags"]
    assert [(flag["number"], flag["joined"], flag["note"]) for flag in flags] == [(1, [2], "hole 0; hole 1")]
    history = run("flag", "show", farm, "2")
    assert history.count("hole 0") >= 1
    assert history.count('note = "hole 1"') == 1
    target = tmp_path / "out.geojson"
    run("export", farm, "-o", str(target))
    ids = [feature["id"] for feature in json.loads(target.read_text(encoding="utf-8"))["features"]]
    assert sum(flag["id"] in ids for flag in flags) == 1
    assert "flag 2: burrow" in run("same", farm, "--split", "2")
    assert len(json.loads(run("flag", "list", farm, "--json"))["flags"]) == 2


def test_a_pair_that_was_not_proposed_is_joined_and_said_to_be_odd(tmp_path: Path) -> None:
    farm = str(write_farm(tmp_path))
    for kind in ("burrow", "burrow", "rock"):
        run("flag", "add", farm, "--kind", kind, "--at", AT)
    ids = [flag["id"] for flag in json.loads(run("flag", "list", farm, "--json"))["flags"]]
    odd = CliRunner().invoke(cli, ["same", farm, "--merge", "1", "3"])
    assert (odd.exit_code, "to take it back: ringrow same FARM --split 3" in odd.stderr) == (0, True)
    run("same", farm, "--split", "3")
    # Named by its id, a proposed pair is known as one.
    like = CliRunner().invoke(cli, ["same", farm, "--merge", ids[0][:8], "2"])
    assert (like.exit_code, "note" in like.stderr) == (0, False)


def test_nothing_to_join_and_wrong_use(tmp_path: Path) -> None:
    farm = str(write_farm(tmp_path))
    quiet = CliRunner().invoke(cli, ["same", farm])
    assert "no two flags of like kind" in quiet.stderr
    both = CliRunner().invoke(cli, ["same", farm, "--merge", "1", "2", "--split", "1"])
    assert (both.exit_code, "give one of them" in both.output) == (2, True)
    missing = CliRunner().invoke(cli, ["same", farm, "--split", "1"])
    assert (missing.exit_code, "no season log" in missing.output) == (1, True)

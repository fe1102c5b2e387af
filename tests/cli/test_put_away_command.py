"""``ringrow put-away``: what it prints, keeps and refuses."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from click.testing import CliRunner

from ringrow.cli.main import cli

if TYPE_CHECKING:
    from pathlib import Path

    from click.testing import Result


def run(*arguments: object) -> Result:
    return CliRunner().invoke(cli, [str(argument) for argument in arguments])


def test_fall_and_spring_of_a_machine(sample_farm: Path) -> None:
    said = run(
        "put-away",
        "done",
        sample_farm,
        "windmill PIVOT",
        "drained",
        "parked",
        "--panel",
        "312",
        "--by",
        "Ana",
    )
    assert said.stdout == "Windmill pivot: put away: drained, parked.\n"
    listed = json.loads(run("put-away", "list", sample_farm, "--system", "Windmill pivot", "--json").stdout)
    rows = {row["item"]: row for row in listed["items"]}
    # Its panel shows 0 when it points east: 312 + 90 - 360.
    assert rows["parked"]["azimuth_deg"] == 42.0
    assert rows["drained"]["by"] == "Ana"
    assert rows["power-off"]["done_at"] is None
    assert run("put-away", "back", sample_farm, "Windmill pivot", "drained").exit_code == 0
    text = run("put-away", "list", sample_farm, "--system", "Windmill pivot").stdout
    assert "  [ ] drained: Pipe drained" in text
    assert "  [x] parked: " in text
    assert text.endswith("Local codes and licensed people come first.\n")
    undone = run("put-away", "undo", sample_farm, "Windmill pivot", "drained")
    assert undone.stdout == "Windmill pivot: drained is put away now.\n"
    again = run("put-away", "back", sample_farm, "Creek pivot", "drained")
    assert "nothing changed; what you named was brought back already or never put away" in again.stdout
    twice = run("put-away", "done", sample_farm, "Windmill pivot", "drained")
    assert twice.stdout == "Windmill pivot: nothing changed; what you named was put away already.\n"


def test_the_list_speaks_spanish(sample_farm: Path) -> None:
    text = run("put-away", "list", sample_farm, "--system", "Home well", "--language", "es").stdout
    assert "[ ] drained: Bomba, columna y tubería vaciadas, purgas abiertas" in text


def test_what_is_refused(sample_farm: Path) -> None:
    unknown = run("put-away", "done", sample_farm, "Windmil pivot", "drained")
    assert (unknown.exit_code, 'nearest: "Windmill pivot"' in unknown.output) == (1, True)
    neither = run("put-away", "done", sample_farm, "Windmill pivot")
    assert (neither.exit_code, "say which ITEMs, or --all" in neither.output) == (2, True)
    both = run("put-away", "done", sample_farm, "Windmill pivot", "parked", "--panel", "1", "--azimuth", "2")
    assert (both.exit_code, "give one of them" in both.output) == (2, True)
    block = run("put-away", "done", sample_farm, "Elevator drip", "drained", "--panel", "10")
    assert (block.exit_code, "has no panel zero of its own" in block.output) == (1, True)
    long = run("put-away", "done", sample_farm, "Elevator drip", "drained", "--by", "x" * 201)
    assert (long.exit_code, "--by: found 201 characters" in long.output) == (1, True)
    assert not (sample_farm / "season.db").exists()


def test_back_needs_items_or_all(sample_farm: Path) -> None:
    run("put-away", "done", sample_farm, "Home well", "--all")
    assert "say which ITEMs, or --all" in run("put-away", "back", sample_farm, "Home well").output
    said = run("put-away", "back", sample_farm, "Home well", "--all", "--note", "new gasket")
    assert said.stdout == "Home well: brought back: power-off, drained, discharge-open.\n"

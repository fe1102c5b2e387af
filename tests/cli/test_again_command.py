"""``ringrow again``: tables and JSON of what comes back."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from click.testing import CliRunner

from farms import write_farm
from made_season import MACHINE, write_season
from ringrow.cli.main import cli

if TYPE_CHECKING:
    from pathlib import Path


def test_again_as_table_and_json(tmp_path: Path) -> None:
    farm = str(write_season(tmp_path))
    table = CliRunner().invoke(cli, ["again", farm])
    assert table.exit_code == 0, table.output
    assert f"{MACHINE}: tower 5" in table.stdout
    found = json.loads(CliRunner().invoke(cli, ["again", farm, "--json"]).stdout)
    assert {row["like"] for row in found["places"]} == {"leak", "gearbox"}
    assert [(row["system"], row["tower"], row["count"]) for row in found["stops"]] == [(MACHINE, 5, 2)]


def test_nothing_came_back(tmp_path: Path) -> None:
    quiet = CliRunner().invoke(cli, ["again", str(write_farm(tmp_path))])
    assert (quiet.exit_code, quiet.stdout) == (0, "")
    assert "nothing came back so far" in quiet.stderr

"""``ringrow breakdown``: add, restart, correct, list, take back; the zone is said each time."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from click.testing import CliRunner

from farms import FARM_TOML, OUTLINE, PIVOT, write_farm
from ringrow.cli.clock import ComputerZone
from ringrow.cli.main import cli

if TYPE_CHECKING:
    from pathlib import Path

    from click.testing import Result


def two_pivots(folder: Path, top: str = "") -> str:
    windmill = f'name = "Windmill quarter"\n{OUTLINE}\n{PIVOT}name = "Windmill pivot"\nflow = 780\n'
    creek = f'name = "Creek quarter"\n{OUTLINE}\n{PIVOT}name = "Creek pivot"\nflow = 560\n'
    fields = {"a": windmill, "b": creek.replace("36.7", "36.8")}
    return str(write_farm(folder, top + FARM_TOML, fields))


def run(*arguments: str, code: int = 0) -> Result:
    result = CliRunner().invoke(cli, ["breakdown", *arguments])
    assert result.exit_code == code, result.output
    return result


def test_a_breakdown_from_stop_to_restart(tmp_path: Path) -> None:
    farm = two_pivots(tmp_path, 'time_zone = "America/Chicago"\n')
    assert "no breakdowns" in run("list", farm).stderr
    stopped = run(
        *("add", farm, "Windmill pivot", "--stopped", "2026-07-03 14:10", "--panel", "212", "--tower", "5")
    )
    assert "stopped: taken as 2026-07-03 14:10 (UTC-05:00, America/Chicago)" in stopped.stderr
    assert "still stopped after" in stopped.stdout
    again = run(
        *("restart", farm, "Windmill pivot", "--at", "2026-07-04T12:30Z"),
        *("--direction", "reverse", "--why", "gearbox"),
    )
    assert "after 17.3 h; restarted in reverse" in again.stdout
    run("add", farm, "Creek pivot", "--stopped", "2026-07-05 06:00")
    rows = json.loads(run("list", farm, "--json").stdout)["breakdowns"]
    assert [(row["system"], row["open"]) for row in rows] == [
        ("Creek pivot", True),
        ("Windmill pivot", False),
    ]
    assert rows[1]["not_put_on_gal"] / rows[1]["hours"] / 60 == rows[1]["flow_gpm"] == 780
    assert len(json.loads(run("list", farm, "--open", "--json").stdout)["breakdowns"]) == 1
    assert "Creek pivot" in run("list", farm).stdout
    run("set", farm, rows[0]["id"][:8], "--tower", "2")
    assert "taken back" in run("remove", farm, "Creek pivot").stdout
    assert len(json.loads(run("list", farm, "--json").stdout)["breakdowns"]) == 1


def test_wrong_use_is_told(tmp_path: Path) -> None:
    farm = two_pivots(tmp_path)
    wrong = run("add", farm, "Windmil", "--stopped", "2026-07-03 14:10", code=1)
    assert "Windmill pivot" in wrong.output
    bad = run("add", farm, "Windmill pivot", "--stopped", "yesterday", code=1)
    assert 'stopped: found "yesterday"' in bad.output
    run("add", farm, "Windmill pivot", "--stopped", "2026-07-03 14:10")
    flow = run("add", farm, "Creek pivot", "--stopped", "2026-07-03 14:10", "--flow", "-3", code=2)
    assert "-3.0 is not in the range x>0" in flow.output
    assert "nothing to change" in run("set", farm, "Windmill pivot", code=2).output


def test_the_computers_zone_there_and_back() -> None:
    zone = ComputerZone()
    moment = datetime(2027, 7, 3, 19, 10, tzinfo=UTC)
    assert moment.astimezone(zone).astimezone(UTC) == moment
    assert (str(zone), zone.tzname(None), zone.dst(None)) == (
        "this computer's zone",
        "this computer's zone",
        None,
    )

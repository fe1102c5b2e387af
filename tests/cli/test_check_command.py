"""``ringrow check``: what it prints, in which form, and its exit code."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest
from click.testing import CliRunner

from ringrow.cli import options
from ringrow.cli.main import cli
from ringrow.farm.explain import key_rows

if TYPE_CHECKING:
    from pathlib import Path

BAD_FIELD = 'name = "Home"\noutline = [{ lat = 36.75, lon = -101.5 }]\n\n[[pivot]]\nspans = [-5]\n'
BOW_TIE = (
    'name = "Home"\noutline = [{ lat = 36.75, lon = -101.5 }, { lat = 36.757, lon = -101.49 }, '
    "{ lat = 36.757, lon = -101.5 }, { lat = 36.75, lon = -101.49 }]\n"
)


def farm(folder: Path, field: str, top: str = 'name = "F"\n') -> Path:
    """Write a farm of one field."""
    (folder / "fields").mkdir()
    (folder / "farm.toml").write_text(top)
    (folder / "fields" / "home.toml").write_text(field)
    return folder


def run(*words: str | Path) -> tuple[int, str, str]:
    """Run a command; return exit code, stdout and stderr."""
    done = CliRunner().invoke(cli, [str(word) for word in words])
    return done.exit_code, done.stdout, done.stderr


def test_sample_farm_is_right(sample_farm: Path) -> None:
    code, out, _ = run("check", sample_farm)
    assert code == 0
    assert out == (
        "Two Windmill Farm: 10 fields, 9 pivots at 10 points, 1 lateral move, 2 drip blocks; "
        "no fault, 0 warnings.\n"
    )


def test_faults_are_plain_lines_with_full_paths(tmp_path: Path) -> None:
    path = farm(tmp_path, BAD_FIELD) / "fields" / "home.toml"
    code, out, err = run("check", tmp_path)
    assert code == 1
    assert out.splitlines() == [
        f"FAULT {path}: outline: found a list of 1; allowed: a list of 3 or more, at most 20000, "
        "each a table with lat, lon",
        f"FAULT {path}: pivot[1].spans[1]: found -5; allowed: a number of ft, above 0 and at most 400",
        f"FAULT {path}: pivot[1].point: found nothing; allowed: point or points; "
        "stand at the pivot point with a phone, or read it off the map; points = [...] for a towed machine",
        "3 faults, 0 warnings.",
    ]
    assert "Lists are counted from 1: pivot[2].spans[3] is the third span of the second pivot." in err


def test_json_has_the_keys_of_the_design(tmp_path: Path) -> None:
    code, out, _ = run("check", farm(tmp_path, BAD_FIELD), "--json")
    record = json.loads(out)
    assert code == 1
    assert list(record) == ["schema", "faults", "warnings", "repairs"]
    assert record["faults"][1] == {
        "file": "fields/home.toml",
        "key": "pivot[1].spans[1]",
        "found": "-5",
        "allowed": "a number of ft, above 0 and at most 400",
        "hint": "",
    }


@pytest.mark.parametrize(("units", "unit"), [("us", "acres"), ("metric", "ha")])
def test_repairs_say_what_changed_and_how_much_area_moved(units: str, unit: str, tmp_path: Path) -> None:
    folder = farm(tmp_path, BOW_TIE, f'name = "F"\nunits = "{units}"\n')
    code, out, _ = run("check", folder)
    assert code == 0
    assert "outline: The outline crosses itself near 36.75" in out
    assert f" {unit} as drawn, " in out
    assert out.splitlines()[0].endswith("(+0.0000)")
    (repair,) = json.loads(run("check", folder, "--json")[1])["repairs"]
    assert repair[f"before_{unit}"] == pytest.approx(repair[f"after_{unit}"], rel=1e-6)


def test_on_a_terminal_each_part_has_its_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(options, "on_terminal", lambda: True)
    code, out, _ = run("check", farm(tmp_path, BAD_FIELD))
    assert code == 1
    assert "FAULT fields/home.toml  pivot[1].spans[1]\n    found    -5\n    allowed  a number of ft" in out


def test_folder_that_is_not_there(tmp_path: Path) -> None:
    code, out, _ = run("check", tmp_path / "none")
    assert code == 1
    assert out.startswith(f"FAULT {tmp_path / 'none'}: found nothing at this path; allowed: a farm's folder")


def test_farm_is_needed_unless_keys_are_asked_for() -> None:
    code, _, err = run("check")
    assert code == 2
    assert "Missing argument 'FARM'" in err


def test_explain_shows_every_key_of_the_schema() -> None:
    code, out, _ = run("check", "--explain")
    assert code == 0
    shown = {line.split()[0] for line in out.splitlines() if line and not line.startswith("[]")}
    assert {row.key for row in key_rows()} <= shown
    line = next(line for line in out.splitlines() if line.startswith("pivot[].overhang "))
    assert line.split()[1:5] == ["ft", "/", "m", "optional"]


def test_explain_as_json_carries_units_and_ranges() -> None:
    rows = {row["key"]: row for row in json.loads(run("check", "--explain", "--json")[1])["keys"]}
    assert rows["drip[].row_spacing"]["us"] == "in"
    assert rows["drip[].row_spacing"]["metric"] == "mm"
    assert rows["drip[].row_spacing"]["needed"] == "required"
    assert rows["pivot[].spans"]["needed"] == "this or towers and last_tower"
    assert rows["pivot[].spans"]["allowed"].endswith("each a number of ft, above 0 and at most 400")


def test_explain_fits_a_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(options, "on_terminal", lambda: True)
    monkeypatch.setenv("COLUMNS", "100")
    _, out, _ = run("check", "--explain")
    assert max(len(line) for line in out.splitlines()) <= 100
    assert "pivot[].end_gun.wetted_radius" in out

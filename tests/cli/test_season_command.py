"""The season commands on the sample farm: output, exit codes, messages."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import pytest
from click.testing import CliRunner, Result

from ringrow.cli.main import cli
from ringrow.farm.season import read_states

if TYPE_CHECKING:
    from pathlib import Path


def run(*arguments: Any) -> Result:
    return CliRunner().invoke(cli, list(map(str, arguments)))


def good(*arguments: Any) -> Result:
    result = run("season", *arguments)
    assert result.exit_code == 0, result.output
    return result


def add_nest(farm: Path) -> None:
    assert run("flag", "add", farm, "--kind", "nest", "--well", "Home well").exit_code == 0


@pytest.fixture
def farm(sample_farm: Path) -> Path:
    """The sample farm with three flags."""
    for _ in range(3):
        add_nest(sample_farm)
    return sample_farm


def break_log(farm: Path) -> None:
    log = farm / "season.db"
    log.write_bytes(log.read_bytes().replace(b"nest", b"best", 1))


def test_backup_and_restore_bring_the_log_back(farm: Path, tmp_path: Path) -> None:
    copy = tmp_path / "copy.db"
    result = good("backup", farm, "-o", copy)
    assert result.stdout == ""
    assert result.stderr == f"Wrote {copy}: 6 events, read back and the same.\n"
    before = read_states(farm / "season.db")
    add_nest(farm)
    result = good("restore", farm, copy)
    assert result.stderr == (
        f"Restored {farm}/season.db: 6 events.\nThe log that was there is kept as "
        f"{farm}/season.before-restore-1.db.\n"
    )
    assert read_states(farm / "season.db") == before
    result = good("restore", farm, farm / "season.before-restore-1.db", "--merge")
    assert result.stderr == "2 events added (1 new flag), 6 already there.\n"
    assert len(read_states(farm / "season.db")) == 4


def test_backup_without_a_name_is_dated_and_never_the_same_twice(farm: Path) -> None:
    good("backup", farm)
    good("backup", farm)
    names = sorted(file.name for file in farm.glob("season.backup-*"))
    assert len(names) == 2
    assert names[0].removesuffix(".db") in names[1] or names[1].removesuffix(".db") in names[0]


def test_nothing_is_replaced_unasked(farm: Path, tmp_path: Path) -> None:
    for command, name in (("backup", "x.db"), ("dump", "x.jsonl"), ("salvage", "x.db")):
        target = tmp_path / name
        target.write_text("mine")
        result = run("season", command, farm, "-o", target)
        assert result.exit_code == 1
        assert "is already there; say --overwrite" in result.stderr
        assert target.read_text() == "mine"
        good(command, farm, "-o", target, "--overwrite")
        assert target.read_bytes() != b"mine"
    result = run("season", "backup", farm, "-o", tmp_path / "x.txt")
    assert 'found "x.txt"; allowed: a name that ends in .db' in result.stderr


def test_a_dump_comes_back_on_another_farm_folder(farm: Path, tmp_path: Path) -> None:
    printed = good("dump", farm).stdout
    lines = printed.splitlines()
    assert [list(json.loads(line)) for line in lines] == [
        ["field", "flag", "id", "parents", "source", "value", "when", "who"]
    ] * 6
    assert good("dump", farm, "-o", tmp_path / "d.jsonl").stderr == f"Wrote {tmp_path}/d.jsonl: 6 events.\n"
    assert (tmp_path / "d.jsonl").read_text() == printed
    before = {state.id for state in read_states(farm / "season.db")}
    (farm / "season.db").unlink()
    assert (
        good("load", farm, tmp_path / "d.jsonl").stderr == "6 events added (3 new flags), 0 already there.\n"
    )
    assert (
        good("load", farm, tmp_path / "d.jsonl").stderr == "0 events added (0 new flags), 6 already there.\n"
    )
    assert {state.id for state in read_states(farm / "season.db")} == before
    assert good("dump", farm).stdout == printed


def test_check_of_a_sound_log(farm: Path) -> None:
    result = good("check", farm)
    assert result.stdout == f"{farm}/season.db: 6 events sound, 3 flags; 0 faults, 0 odd.\n"
    assert json.loads(good("check", farm, "--json").stdout) == {
        "schema": 1,
        "file": str(farm / "season.db"),
        "sound": True,
        "events": 6,
        "flags": 3,
        "damage": [],
        "oddities": [],
    }


def test_a_damaged_log_is_noticed_everywhere_and_says_what_to_do(farm: Path, tmp_path: Path) -> None:
    copy, saved = tmp_path / "copy.db", tmp_path / "saved.db"
    good("backup", farm, "-o", copy)
    break_log(farm)
    broken = (farm / "season.db").read_bytes()
    for arguments in (
        ("flag", "list", farm),
        ("flag", "add", farm, "--kind", "nest", "--well", "Home well"),
        ("flag", "set", farm, "1", "--status", "fixed"),
        ("map", farm, "-o", tmp_path / "x.html"),
        ("export", farm, "-o", tmp_path / "x.geojson"),
        ("season", "backup", farm),
        ("season", "dump", farm),
        ("season", "restore", farm, copy, "--merge"),
    ):
        result = run(*arguments)
        assert result.exit_code == 1, arguments
        assert "season log is damaged" in result.stderr, arguments
        assert "put back a backup (ringrow season restore)" in result.stderr, arguments
        assert "Traceback" not in result.output
        assert result.stderr.count("Error") == 1
    assert (farm / "season.db").read_bytes() == broken
    assert not (tmp_path / "x.html").exists()
    result = run("season", "check", farm)
    assert result.exit_code == 1
    assert "damaged: event " in result.stdout
    assert f"{farm}/season.db: 5 events can be read, 3 flags; 1 fault, 0 odd." in result.stdout
    found = json.loads(run("season", "check", farm, "--json").stdout)
    assert (found["sound"], len(found["damage"]), found["damage"][0]["what"]) == (False, 1, "damage")
    result = good("salvage", farm, "-o", saved)
    assert result.stdout.startswith("lost: event ")
    assert f"Wrote {saved}: 5 events saved, 1 known to be lost." in result.stderr
    assert len(json.loads(good("salvage", farm, "-o", saved, "--overwrite", "--json").stdout)["lost"]) == 1
    assert (farm / "season.db").read_bytes() == broken
    good("restore", farm, saved)
    good("restore", farm, copy, "--merge")
    assert "6 events sound" in good("check", farm).stdout
    assert (farm / "season.before-restore-1.db").read_bytes() == broken


def test_no_log_and_no_farm_are_said(sample_farm: Path, tmp_path: Path) -> None:
    for command in ("check", "dump", "backup"):
        result = run("season", command, sample_farm)
        assert result.exit_code == 1
        assert "no season log there; it begins with a first flag or round" in result.stderr
    dump = tmp_path / "d.jsonl"
    dump.write_text("")
    for command in ("load", "restore"):
        result = run("season", command, tmp_path, dump)
        assert result.exit_code == 1
        assert "where there is no farm.toml; allowed: a farm's folder" in result.stderr
    assert not (tmp_path / "season.db").exists()

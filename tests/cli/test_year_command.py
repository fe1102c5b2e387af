"""``ringrow year``: what it prints, writes and refuses."""

from __future__ import annotations

import errno
import json
import os
from hashlib import sha256
from typing import TYPE_CHECKING

from click.testing import CliRunner

from farms import FARM_TOML, write_farm
from ringrow.cli.main import cli

if TYPE_CHECKING:
    from pathlib import Path

    import pytest


def test_a_year_is_printed_written_and_not_written_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    farm = write_farm(tmp_path / "farm", f'{FARM_TOML}units = "metric"\n')
    home = farm / "fields" / "home.toml"
    home.write_text(home.read_text("utf-8").replace("180", "55").replace("150]", "45]"), "utf-8")
    out = tmp_path / "water-2027"
    command = ["year", str(farm), "2027"]
    printed = CliRunner().invoke(cli, command)
    assert printed.exit_code == 0, printed.output
    assert "Watered, ha" in printed.stdout
    assert "Missing: no well is said to serve Home field pivot 1" in printed.stdout
    written = CliRunner().invoke(cli, [*command, "-o", str(out), "--json"])
    digest = sha256((out / "year-2027.geojson").read_bytes()).hexdigest()
    assert f"SHA-256 {digest}" in written.stderr
    record = json.loads(written.stdout)
    assert record["geometry"] == {"file": "year-2027.geojson", "sha256": digest}
    assert record["fields"][0]["volume_l"] is None
    again = CliRunner().invoke(cli, [*command, "-o", str(out)])
    assert (again.exit_code, "is already there; say --overwrite" in again.output) == (1, True)
    assert CliRunner().invoke(cli, [*command, "-o", str(out), "--overwrite"]).exit_code == 0
    file = CliRunner().invoke(cli, [*command, "-o", str(home)])
    assert (file.exit_code, "a file; allowed: a folder, new or there" in file.output) == (1, True)
    lost = CliRunner().invoke(cli, [*command, "-o", str(tmp_path / "no" / "where")])
    assert (lost.exit_code, "there is no folder" in lost.output) == (1, True)
    assert CliRunner().invoke(cli, ["year", str(farm), "soon"]).exit_code == 2

    def full(_handle: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    filled = CliRunner().invoke(cli, [*command, "-o", str(tmp_path / "full")])
    assert filled.exit_code == 1
    assert 'full" could not be written (No space left on device)' in filled.output
    assert sorted(path.name for path in tmp_path.iterdir()) == ["farm", "water-2027"]

"""The command itself: our errors in one line and exit 1, wrong usage exit 2, JSON without NaN."""

from __future__ import annotations

import json
import math
import subprocess
import sys
from typing import TYPE_CHECKING

import click
import numpy as np
import pytest
from click.testing import CliRunner

import ringrow
from ringrow.cli import options
from ringrow.cli.main import cli

if TYPE_CHECKING:
    from pathlib import Path


def test_version() -> None:
    result = CliRunner().invoke(cli, ["--version"])
    assert result.output == f"ringrow, version {ringrow.__version__}\n"


@pytest.mark.parametrize("command", [["acres"], ["check"], ["flag", "list"]])
def test_a_folder_that_is_no_farm_is_one_plain_message(command: list[str], tmp_path: Path) -> None:
    result = CliRunner().invoke(cli, [*command, str(tmp_path)])
    assert result.exit_code == 1
    assert "farm.toml" in result.output
    assert "Traceback" not in result.output


def test_a_file_name_cannot_steer_the_terminal(sample_farm: Path, tmp_path: Path) -> None:
    path = tmp_path / "\x1b[31mred\x07.csv"
    result = CliRunner().invoke(cli, ["flag", "import", str(sample_farm), str(path)], color=True)
    assert "?[31mred?.csv: found no such file" in result.output
    path.write_text("name,lat,lon\nrut,36.7536,-101.4954\n", encoding="utf-8")
    result = CliRunner().invoke(cli, ["flag", "import", str(sample_farm), str(path)], color=True)
    assert "?[31mred?.csv: comma between columns" in result.output
    assert not set(result.output) & {"\x1b", "\x07"}


@pytest.mark.parametrize(
    "command", [["acres"], ["new"], ["demo"], ["new", "farm", "--boundary"], ["water", "catch"], ["bulk"]]
)
def test_a_name_that_no_file_can_have_is_one_plain_message(command: list[str], tmp_path: Path) -> None:
    result = CliRunner().invoke(cli, [*command, str(tmp_path / f"{'y' * 300}.csv")])
    assert result.exit_code == 1
    assert "File name too long" in result.output
    assert isinstance(result.exception, SystemExit)
    assert len(result.output) < 600


def test_an_unknown_option_is_a_wrong_usage() -> None:
    assert CliRunner().invoke(cli, ["acres", "--jsn"]).exit_code == 2


def test_a_reader_that_goes_away_leaves_no_traceback(sample_farm: Path) -> None:
    """As `ringrow acres FARM | head -1` does."""
    command = (
        f'"{sys.executable}" -c "from ringrow.cli.main import cli; cli()" acres "{sample_farm}" | head -1'
    )
    done = subprocess.run(["bash", "-c", command], capture_output=True, text=True, check=True)
    assert done.stdout == "Fields, acres\n"
    assert "Traceback" not in done.stderr


def test_json_holds_null_for_what_is_not_finite(capsys: pytest.CaptureFixture[str]) -> None:
    payload = {"a": math.nan, "b": [math.inf, 1.5], "c": {"d": np.float64("nan"), "e": np.int64(3)}, "f": "ñ"}
    options.show_json(payload)
    out = capsys.readouterr().out
    assert json.loads(out) == {"schema": 1, "a": None, "b": [None, 1.5], "c": {"d": None, "e": 3}, "f": "ñ"}
    assert "ñ" in out


def test_shared_options_say_what_they_do() -> None:
    @click.command()
    @options.farm_argument
    @options.json_option
    @options.overwrite_option
    @options.field_option
    @options.units_option
    def command(**said: object) -> None:
        click.echo(json.dumps({name: str(value) for name, value in said.items()}))

    result = CliRunner().invoke(command, ["a", "--json", "--field", "North", "--units", "metric"])
    assert json.loads(result.output) == {
        "farm": "a",
        "as_json": "True",
        "overwrite": "False",
        "field_name": "North",
        "units": "metric",
    }

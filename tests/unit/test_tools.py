"""The tools of the check path, each as one test, so that one command runs everything."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
BIN = Path(sys.executable).parent


def run(*command: str) -> None:
    """Run a tool in the project folder; on failure show what it said."""
    done = subprocess.run(
        [str(BIN / command[0]), *command[1:]],
        cwd=ROOT,
        capture_output=True,
        text=True,
        stdin=subprocess.DEVNULL,
        check=False,
    )
    if done.returncode:
        pytest.fail(f"{' '.join(command[:3])}\n{done.stdout}\n{done.stderr}", pytrace=False)


def test_ruff_finds_nothing() -> None:
    run("ruff", "check", "src", "tests")


def test_every_file_is_formatted() -> None:
    run("ruff", "format", "--check", "src", "tests")


def test_types_hold() -> None:
    run("mypy")


def test_imports_go_down_the_layers() -> None:
    run("lint-imports")


def test_docstrings_match_signatures() -> None:
    files = sorted(str(path.relative_to(ROOT)) for path in (ROOT / "src").rglob("*.py"))
    assert files
    run("numpydoc", "lint", *files)

"""Start-up against importing click alone, in one run on one machine. Target: within 3 times."""

from __future__ import annotations

import statistics
import subprocess
import sys
import time

import pytest

from ringrow.cli.reference import walk_commands

ROUNDS = 9
HELP = "import sys; from ringrow.cli.main import cli; cli(sys.argv[1:])"


def median_s(*arguments: str) -> float:
    """Median wall time of a fresh interpreter [s]."""
    times = []
    for _ in range(ROUNDS):
        begin = time.perf_counter()
        subprocess.run([sys.executable, *arguments], check=True, stdout=subprocess.DEVNULL)
        times.append(time.perf_counter() - begin)
    return statistics.median(times)


@pytest.fixture(scope="module")
def click_alone_s() -> float:
    """The baseline: an interpreter that imports click and stops."""
    return median_s("-c", "import click")


@pytest.mark.parametrize("path", [path for path, _ in walk_commands()])
def test_help_comes_within_three_times_click_alone(path: str, click_alone_s: float) -> None:
    ratio = median_s("-c", HELP, *path.split()[1:], "--help") / click_alone_s
    assert ratio <= 3.0

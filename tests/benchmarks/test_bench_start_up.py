"""Start-up of every ``--help`` against importing click alone. Target: within 3 times.

What keeps it there, that no command imports a heavy library before it runs, is part of the normal
run: tests/cli/test_start_up.py.
"""

from __future__ import annotations

import subprocess
import sys
from typing import TYPE_CHECKING, Any

import pytest

from ringrow.cli.reference import walk_commands

if TYPE_CHECKING:
    from collections.abc import Callable

GROUP = "help, a fresh interpreter"
WITHIN = 1 / 3
HELP = "import sys; from ringrow.cli.main import cli; cli(sys.argv[1:])"


def fresh_python(*arguments: str) -> None:
    """Run a fresh interpreter to its end."""
    subprocess.run([sys.executable, *arguments], check=True, stdout=subprocess.DEVNULL)


def test_click_alone(timed: Callable[..., Any]) -> None:
    timed(fresh_python, "-c", "import click", group=GROUP, way="baseline", rounds=9)


@pytest.mark.parametrize("path", [path for path, _ in walk_commands()])
def test_help(timed: Callable[..., Any], path: str) -> None:
    arguments = ("-c", HELP, *path.split()[1:], "--help")
    timed(fresh_python, *arguments, group=GROUP, way=path, target=WITHIN, rounds=9)

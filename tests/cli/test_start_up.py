"""Help comes at once: no command pulls a heavy library in before it runs."""

from __future__ import annotations

import json
import subprocess
import sys

HEAVY = (
    "branca",
    "fiona",
    "folium",
    "geopandas",
    "gpxpy",
    "matplotlib",
    "numpy",
    "pandas",
    "pydantic",
    "pynmea2",
    "pyogrio",
    "pyproj",
    "pyvrp",
    "rich",
    "scipy",
    "shapely",
    "sqlite3",
    "tomlkit",
)

_EVERY_HELP = """
import json, sys
from click.testing import CliRunner
from ringrow.cli.main import cli
from ringrow.cli.reference import walk_commands

asked = 0
for path, _ in walk_commands():
    assert CliRunner().invoke(cli, [*path.split()[1:], "--help"]).exit_code == 0
    asked += 1
json.dump({"asked": asked, "modules": sorted({name.split(".")[0] for name in sys.modules})}, sys.stdout)
"""


def test_help_of_every_command_imports_no_heavy_library() -> None:
    done = subprocess.run(
        [sys.executable, "-c", _EVERY_HELP], capture_output=True, text=True, check=True, timeout=60
    )
    answer = json.loads(done.stdout)
    assert answer["asked"] >= 9
    assert set(HEAVY) & set(answer["modules"]) == set()

"""The layers: what the architecture page says is what the import contract holds, and purity below cli."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
import tomllib
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
SOURCE = ROOT / "src" / "ringrow"

# Reading the clock, the environment or the network, by the name it is called under.
IMPURE = {
    "date.today",
    "datetime.now",
    "datetime.today",
    "datetime.utcnow",
    "os.environ",
    "os.getenv",
    "socket.socket",
    "time.monotonic",
    "time.perf_counter",
    "time.time",
    "urllib.request",
}


def _layers_of_contract() -> list[set[str]]:
    contracts = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["importlinter"]["contracts"]
    lines = next(contract["layers"] for contract in contracts if contract["type"] == "layers")
    return [set(re.split(r"\s*[|:]\s*", line)) for line in lines]


def test_architecture_page_lists_the_layers_of_the_import_contract_in_order() -> None:
    rows = re.findall(r"^\| (`ringrow\..*?) \|", (ROOT / "docs" / "architecture.md").read_text(), re.M)
    listed = [name for row in rows for name in re.findall(r"`(ringrow\.\w+)`", row)]
    contract = _layers_of_contract()
    assert sorted(listed) == sorted(set().union(*contract))
    depth = {name: level for level, names in enumerate(contract) for name in names}
    assert [depth[name] for name in listed] == sorted(depth[name] for name in listed)


def test_every_package_and_module_of_the_program_is_in_a_layer() -> None:
    there = {
        f"ringrow.{path.stem}"
        for path in SOURCE.iterdir()
        if (path.suffix == ".py" or (path / "__init__.py").exists()) and path.stem != "__init__"
    }
    assert there == set().union(*_layers_of_contract())


def _dotted(node: ast.expr) -> str:
    if isinstance(node, ast.Attribute):
        return f"{_dotted(node.value)}.{node.attr}"
    return node.id if isinstance(node, ast.Name) else ""


def test_nothing_below_the_command_line_reads_clock_environment_or_network() -> None:
    found = []
    for path in SOURCE.rglob("*.py"):
        if path.relative_to(SOURCE).parts[0] == "cli":
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            name = _dotted(node) if isinstance(node, ast.Attribute) else ""
            if any(name == impure or name.endswith(f".{impure}") for impure in IMPURE):
                found.append(f"{path.relative_to(SOURCE)}:{node.lineno} {name}")
    assert found == []


def test_command_modules_import_nothing_heavy_at_the_top() -> None:
    allowed = {"click", "ringrow"}
    heavy = []
    for path in (SOURCE / "cli").glob("*.py"):
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            names = (
                [alias.name for alias in node.names]
                if isinstance(node, ast.Import)
                else [node.module or ""]
                if isinstance(node, ast.ImportFrom)
                else []
            )
            for name in names:
                top = name.split(".")[0]
                if top not in allowed and top not in sys.stdlib_module_names:
                    heavy.append(f"{path.name}: {name}")
                if name.startswith("ringrow.") and name.split(".")[1] not in {"cli", "errors"}:
                    heavy.append(f"{path.name}: {name}")
    assert heavy == []


def test_only_the_agreed_names_stand_at_the_top_of_the_project() -> None:
    listed = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False
    ).stdout.split("\n")
    visible = {line.split("/")[0] for line in listed if line and not line.startswith(".")}
    if not visible:
        visible = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")}
    assert visible <= {
        "README.md",
        "DEVELOPERS.md",
        "pyproject.toml",
        "src",
        "tests",
        "sample_fields",
        "docs",
    }

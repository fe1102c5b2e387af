"""One name, symbol, unit and meaning per quantity: public signatures against docs/conventions.md."""

from __future__ import annotations

import inspect
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from numpydoc.docscrape import NumpyDocString

PAGE = Path(__file__).resolve().parents[2] / "docs" / "conventions.md"
NUMBER = re.compile(r"\b(float|int|ArrayLike|NDArray\[np\.(float64|int64|intp|int_|uint8)\])")

# Numbers as they stand in farm files, pixels of the map's page, points of a sheet: see the page's rules.
LEFT_OUT = (
    "ringrow.farm.schema",
    "ringrow.handoff.map.",
    "ringrow.handoff.sheets.",
    "ringrow.handoff.report.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One row of the names table."""

    symbol: str
    unit: str
    meaning: str


def _table(heading: str) -> list[list[str]]:
    section = PAGE.read_text(encoding="utf-8").split(f"## {heading}\n")[1].split("\n## ")[0]
    lines = [line for line in section.split("\n") if line.startswith("| ")]
    return [[cell.strip() for cell in line.strip("|").split(" | ")] for line in lines[1:]]


@pytest.fixture(scope="module")
def suffixes() -> dict[str, str]:
    """Unit behind each suffix."""
    return {cells[0].strip("`"): cells[1] for cells in _table("Unit suffixes")}


@pytest.fixture(scope="module")
def names() -> dict[str, Row]:
    """Every listed name."""
    found: dict[str, Row] = {}
    for cells in _table("Names"):
        symbol, unit, meaning = cells[1:]
        for name in re.findall(r"`(\w+)`", cells[0]):
            assert name not in found, f"{name} is listed twice: one name, one meaning"
            found[name] = Row(symbol=symbol, unit=unit, meaning=meaning)
    return found


def numbers_of(thing: Any) -> list[str]:
    """Names of a function's or class's parameters that take numbers."""
    try:
        parameters = inspect.signature(thing).parameters.values()
    except ValueError:
        return []
    return [parameter.name for parameter in parameters if NUMBER.search(str(parameter.annotation))]


def documented_parameters(thing: Any) -> dict[str, str]:
    """Words behind each documented parameter, those of base classes included."""
    sources = reversed(thing.__mro__[:-1]) if inspect.isclass(thing) else (thing,)
    return {
        name.strip(): " ".join(entry.desc)
        for source in sources
        for entry in NumpyDocString(inspect.cleandoc(source.__doc__ or ""))["Parameters"]
        for name in entry.name.split(",")
    }


@pytest.fixture(scope="module")
def used(public_api: list[tuple[str, Any]]) -> dict[str, list[str]]:
    """Where each name of a number is used."""
    found: dict[str, list[str]] = {}
    for path, thing in public_api:
        if path.startswith(LEFT_OUT):
            continue
        for name in numbers_of(thing):
            found.setdefault(name, []).append(path)
    return found


def _suffix(name: str, suffixes: dict[str, str]) -> str | None:
    return max((tail for tail in suffixes if name.endswith(tail)), key=len, default=None)


def test_every_number_in_a_public_signature_is_on_the_page(
    used: dict[str, list[str]], names: dict[str, Row]
) -> None:
    assert {name: places[:3] for name, places in used.items() if name not in names} == {}


def test_no_name_on_the_page_has_gone(used: dict[str, list[str]], names: dict[str, Row]) -> None:
    assert sorted(set(names) - set(used)) == []


def test_the_suffix_is_the_unit(names: dict[str, Row], suffixes: dict[str, str]) -> None:
    wrong = {
        name: (row.unit, suffixes[tail])
        for name, row in names.items()
        if (tail := _suffix(name, suffixes)) and row.unit != suffixes[tail]
    }
    assert wrong == {}


def test_every_row_says_unit_and_meaning(names: dict[str, Row]) -> None:
    assert [name for name, row in names.items() if not (row.unit and row.symbol and row.meaning)] == []


def test_every_number_with_a_suffix_names_that_unit_in_its_docstring(
    public_api: list[tuple[str, Any]], suffixes: dict[str, str]
) -> None:
    silent = []
    for path, thing in public_api:
        if path.startswith(LEFT_OUT):
            continue
        documented = documented_parameters(thing)
        for name in numbers_of(thing):
            tail = _suffix(name, suffixes)
            inside = re.findall(r"\[([^\]]*)\]", documented.get(name, ""))
            if tail and not any(suffixes[tail] in text for text in inside):
                silent.append(f"{path}: {name} should say [{suffixes[tail]}]")
    assert silent == []

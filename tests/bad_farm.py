"""What tests of bad farms share: a row that says what is wrong, and the one fault it must give."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import pytest

from farms import (
    CENTRE,
    EAST,
    FARM_TOML,
    FIELD,
    NORTH,
    OUTLINE,
    SOUTH,
    WEST,
    collection,
    rectangle,
    write_farm,
)
from ringrow.errors import FarmFileError, Fault
from ringrow.farm.load import load_farm

if TYPE_CHECKING:
    from pathlib import Path


HEAD = f'name = "Home field"\n{OUTLINE}\n'
AT = f"point = {{ lat = {CENTRE[0]}, lon = {CENTRE[1]} }}\n"
ZONES = '[[drip.zone]]\nname = "North"\nlaterals = {}\n[[drip.zone]]\nname = "South"\nlaterals = {}\n'


@dataclass(frozen=True)
class Bad:
    """One bad farm: what it holds, and the one fault it must give."""

    name: str
    key: str
    found: str
    allowed: str
    hint: str = "^$"
    file: str = "fields/home.toml"
    home: str | bytes = FIELD
    farm: str = FARM_TOML
    more: dict[str, str | bytes] = field(default_factory=dict)
    shapes: dict[str, str | bytes] = field(default_factory=dict)


def bounded(extra: str = "", file: str = "a.geojson", **more: str) -> str:
    """Return a field whose boundary comes from a file."""
    return f'name = "Home field"\nboundary = {{ file = "shapes/{file}"{extra} }}\n'


def pivot(**keys: str) -> str:
    """Return a field with one pivot, keys replaced, added or (empty) left out."""
    given = {"point": AT.split(" = ", 1)[1].strip(), "spans": "[180, 180]", **keys}
    return f"{HEAD}[[pivot]]\n" + "".join(f"{key} = {value}\n" for key, value in given.items() if value)


def drip(extra: str = "", **keys: str) -> str:
    """Return a field with one drip block, keys replaced, added or (empty) left out."""
    given = {"heading": "90", "row_spacing": "30", "rows_per_lateral": "2", **keys}
    rows = "".join(f"{key.strip('_')} = {value}\n" for key, value in given.items() if value)
    return f"{HEAD}[[drip]]\n{rows}{extra}"


def two(**properties: list[str]) -> str:
    """Return a file of two features side by side."""
    middle = (WEST + EAST) / 2
    west, east = rectangle(WEST, SOUTH, middle, NORTH), rectangle(middle, SOUTH, EAST, NORTH)
    return collection((west, {"field": "West"}), (east, {"field": "East"}))


def the_fault(folder: Path) -> Fault:
    """Return the one fault of a farm that must have exactly one."""
    with pytest.raises(FarmFileError) as caught:
        load_farm(folder)
    assert len(caught.value.faults) == 1, str(caught.value)
    return caught.value.faults[0]


def check_bad(bad: Bad, folder: Path) -> None:
    """Check that a bad farm gives the one fault of its row, word for word where it matters."""
    fault = the_fault(write_farm(folder, bad.farm, {"home": bad.home, **bad.more}, bad.shapes))
    assert (fault.file, fault.key) == (bad.file, bad.key)
    assert re.search(bad.found, fault.found), fault
    assert re.search(bad.allowed, fault.allowed), fault
    assert re.search(bad.hint, fault.hint), fault

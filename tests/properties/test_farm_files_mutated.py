"""Whatever stands in a farm's files, the answer is a farm or faults in plain words, never a crash."""

from __future__ import annotations

import copy
import datetime as dt
import tomllib
from pathlib import Path
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from effort import effort
from ringrow.farm.build_field import build_field
from ringrow.farm.farm_names import check_names
from ringrow.farm.faults import Findings
from ringrow.farm.rules import Desk, check_farm
from ringrow.farm.rules_field import check_field
from ringrow.farm.schema import DefaultsTable, FarmFile, FieldFile
from ringrow.farm.shapes import Shelf
from ringrow.farm.structure import fit
from ringrow.units import METRIC, US

SAMPLE = Path(__file__).resolve().parents[2] / "sample_fields" / "two_windmill_farm"
FARM = tomllib.loads((SAMPLE / "farm.toml").read_text(encoding="utf-8"))
FIELDS = [
    tomllib.loads(path.read_text(encoding="utf-8")) for path in sorted((SAMPLE / "fields").glob("*.toml"))
]
KEYS = [
    "name",
    "boundary",
    "outline",
    "file",
    "spans",
    "towers",
    "sector",
    "start",
    "zone",
    "laterals",
    "lat",
    "x",
    "\0x",
]

leaves = st.one_of(
    st.booleans(),
    st.integers(),
    st.sampled_from([0, -1, 1, 7, 90, 360, 1e-9, 1e12, 10**400, 2**63]),
    st.floats(),
    st.text(max_size=6),
    st.sampled_from(["auto", "always", "boundary", "north", "shapes/fields.geojson", "..", "/"]),
    st.just(dt.date(2026, 5, 1)),
)
values = st.recursive(
    leaves,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.sampled_from(KEYS), inner, max_size=3),
    max_leaves=6,
)


def places(data: Any, path: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    """Return the path of every value in plain data."""
    if isinstance(data, dict | list):
        items = data.items() if isinstance(data, dict) else enumerate(data)
        return [found for key, item in items for found in [(*path, key), *places(item, (*path, key))]]
    return []


@st.composite
def mutated(draw: st.DrawFn, whole: dict[str, Any]) -> dict[str, Any]:
    """Return plain data in which up to four values were replaced, taken out or added to."""
    data = copy.deepcopy(whole)
    for _ in range(draw(st.integers(1, 4))):
        path = draw(st.sampled_from(places(data) or [("name",)]))
        parent: Any = data
        for part in path[:-1]:
            parent = parent[part]
        action = draw(st.sampled_from(["replace", "drop", "add"]))
        if action == "drop" and isinstance(parent, dict):
            parent.pop(path[-1], None)
        elif action == "add" and isinstance(parent, dict):
            parent[draw(st.sampled_from(KEYS))] = draw(values)
        else:
            parent[path[-1]] = draw(values)
    return data


@settings(max_examples=effort(300))
@given(data=st.sampled_from(FIELDS).flatmap(mutated), units=st.sampled_from([(US,), (METRIC,), (US, METRIC)]))
def test_field_files(data: dict[str, Any], units: Any) -> None:
    findings = Findings()
    before = repr(data)
    desk = Desk(file="fields/a.toml", units=units, findings=findings)
    table = fit(FieldFile, data, file="fields/a.toml", units=units, findings=findings)
    check_field(data, desk)
    check_names({}, {"fields/a.toml": data}, findings)
    field = build_field(
        data, shelf=Shelf(folder=SAMPLE), defaults=DefaultsTable.model_validate({}), desk=desk
    )
    assert repr(data) == before
    assert (table is not None and field is not None) or findings.faults
    for fault in findings.faults + findings.warnings:
        assert fault.found
        assert fault.allowed
        assert "\n" not in str(fault)
    if field is not None:
        assert field.boundary.is_valid
        assert field.boundary.area > 0


@given(data=mutated(FARM))
def test_farm_file(data: dict[str, Any]) -> None:
    findings = Findings()
    table = fit(FarmFile, data, file="farm.toml", units=(US,), findings=findings)
    check_farm(data, Desk(file="farm.toml", units=(US,), findings=findings))
    check_names(data, dict.fromkeys(["fields/a.toml"]), findings)
    assert table is not None or findings.faults

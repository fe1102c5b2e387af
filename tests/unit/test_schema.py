"""The schema of farm files: ranges, words, hints, and the table that explains it."""

from __future__ import annotations

import pytest
from pydantic import ValidationError

from ringrow.farm.explain import key_rows
from ringrow.farm.faults import Findings, key_path, listing, meant, nearest, number_words, shown
from ringrow.farm.schema import FarmFile, FieldFile, PivotTable
from ringrow.farm.schema_rules import Quantity
from ringrow.farm.schema_words import allowed_words, keys_at, slot_at
from ringrow.farm.structure import fit, fit_parts
from ringrow.units import METRIC, US

DESIGN_FIELD_KEYS = {
    "": "name boundary outline exclusions setback pivot drip",
    "boundary": "file where",
    "pivot": "name point spans towers last_tower overhang throw panel_zero flow pressure outlets "
    "notes end_gun sector",
    "pivot.point": "lat lon",
    "pivot.outlets": "first spacing",
    "pivot.end_gun": "reach wetted_radius arcs",
    "pivot.sector": "start stop",
    "drip": "name area not heading line row_spacing rows_per_lateral first_lateral number_from header "
    "headland depth tape zone",
    "drip.line": "from to",
    "drip.tape": "inside_diameter emitter_spacing emitter_flow at_pressure exponent cv flow_per_100ft",
    "drip.zone": "name laterals valve pressure",
}


def as_loc(path: str) -> tuple[str | int, ...]:
    """Return a dotted path as a location, lists entered at their first row."""
    loc: list[str | int] = []
    for part in filter(None, path.split(".")):
        loc.append(part)
        if part in ("pivot", "drip", "zone"):
            loc.append(0)
    return tuple(loc)


@pytest.mark.parametrize("table", DESIGN_FIELD_KEYS)
def test_every_key_of_the_design_is_there(table: str) -> None:
    assert set(DESIGN_FIELD_KEYS[table].split()) <= set(keys_at(FieldFile, as_loc(table)))


def test_keys_of_farm_toml() -> None:
    assert {"name", "units", "language", "gate", "well", "defaults"} <= set(keys_at(FarmFile, ()))
    wanted = {
        "name",
        "at",
        "power",
        "serves",
        "shutoffs",
        "notes",
        "plate_volts",
        "plate_hertz",
        "battery_volts",
    }
    assert wanted == set(keys_at(FarmFile, ("well", 0)))


@pytest.mark.parametrize(
    ("kind", "us", "metric", "factor"),
    [
        ("length", "ft", "m", 0.3048),
        ("small", "in", "mm", 25.4),
        ("flow", "gpm", "L/s", 0.0630902),
        ("emitter", "gph", "L/h", 3.785412),
        ("pressure", "psi", "kPa", 6.894757),
    ],
)
def test_units_of_each_kind(kind: str, us: str, metric: str, factor: float) -> None:
    """Factors between the unit systems: NIST SP 811 (from memory)."""
    quantity = Quantity(kind=kind, above=0)
    assert (quantity.unit(US), quantity.unit(METRIC)) == (us, metric)
    assert quantity.factor(US) / quantity.factor(METRIC) == pytest.approx(factor, rel=1e-6)


def test_limits_hold_at_their_edge() -> None:
    span = Quantity(kind="length", above=0, most=400 * 0.3048)
    assert span.holds(400, US)
    assert not span.holds(400.001, US)
    assert not span.holds(0, US)
    assert span.holds(121.92, METRIC)
    assert not span.holds(122, METRIC)
    azimuth = Quantity(kind="angle", least=0, below=360)
    assert azimuth.holds(0, US)
    assert not azimuth.holds(360, US)
    assert span.allowed(METRIC) == "a number of m, above 0 and at most 121.9"


def test_keys_needed_are_those_of_the_design() -> None:
    needed = {row.key for row in key_rows() if row.file == "fields/*.toml" and row.needed == "required"}
    assert {key for key in needed if key.count(".") == 0} == {"name"}
    assert {key for key in needed if key.startswith("pivot[].") and key.count(".") == 1} == set()
    assert {row.needed for row in key_rows() if row.key == "pivot[].point"} == {"this or points"}
    moves = {key for key in needed if key.startswith("lateral_move[].") and key.count(".") == 1}
    assert moves == {"lateral_move[].path"}
    drip = {key for key in needed if key.startswith("drip[].") and key.count(".") == 1}
    assert drip == {"drip[].row_spacing", "drip[].rows_per_lateral"}


def test_every_key_is_explained() -> None:
    rows = key_rows()
    assert [row.key for row in rows if not row.meaning or not row.allowed] == []
    assert len({(row.file, row.key) for row in rows}) == len(rows)


def test_words_for_what_is_allowed() -> None:
    arcs = slot_at(FieldFile, ("pivot", 0, "end_gun", "arcs"))
    assert arcs is not None
    assert allowed_words(arcs, US).startswith(
        '"auto" or "always" or a list of 1 or more, each a table with start'
    )
    towers = slot_at(FieldFile, ("pivot", 0, "towers"))
    assert towers is not None
    assert allowed_words(towers, US) == "a whole number from 1 to 60"
    assert slot_at(FieldFile, ("pivot", 0, "spans", 3, "x")) is None


def test_sound_rows_are_kept_beside_a_bad_one() -> None:
    good = {"point": {"lat": 1, "lon": 2}, "spans": [100]}
    rows = fit_parts(PivotTable, [good, {"spans": ["100 ft"]}, 7], units=(US,))
    assert [row is not None for row in rows] == [True, False, False]
    assert fit_parts(PivotTable, "text", units=(US,)) == []


def test_tables_are_frozen_and_data_stays_as_it_was() -> None:
    data = {"name": " Home ", "boundary": {"file": "a.shp"}}
    findings = Findings()
    table = fit(FieldFile, data, file="x", units=(US,), findings=findings)
    assert findings.faults == []
    assert table is not None
    assert table.name == "Home"
    assert data == {"name": " Home ", "boundary": {"file": "a.shp"}}
    with pytest.raises(ValidationError, match="frozen"):
        table.name = "Other"  # type: ignore[misc]


def test_whole_numbers_are_numbers_but_no_fraction_is_whole() -> None:
    findings = Findings()
    row = {"point": {"lat": 1, "lon": 2}, "towers": 7.5, "last_tower": 1200}
    fit(FieldFile, {"name": "a", "pivot": [row]}, file="x", units=(US,), findings=findings)
    (fault,) = findings.faults
    assert (fault.key, fault.found, fault.allowed) == (
        "pivot[1].towers",
        "7.5",
        "a whole number from 1 to 60",
    )


def test_key_paths_count_from_one() -> None:
    assert key_path(("drip", 0, "zone", 11, "laterals", 1)) == "drip[1].zone[12].laterals[2]"
    assert key_path(()) == ""


def test_findings_know_what_lies_below_a_key() -> None:
    findings = Findings()
    findings.fault("a", "pivot[1].spans[2]", "x", "y")
    assert findings.touches("a", "pivot[1]")
    assert findings.touches("a", "pivot[1].spans")
    assert not findings.touches("a", "pivot[11]")
    assert not findings.touches("b", "pivot[1]")


def test_words_for_values() -> None:
    import datetime as dt

    assert shown(dt.date(2026, 5, 1)) == "the date or time 2026-05-01"
    assert shown({}) == "an empty table"
    assert shown("x" * 80) == f'"{"x" * 60}..."'
    assert shown(-101.4955123) == "-101.4955123"
    assert number_words(10**15) == "a whole number of 16 digits"
    assert listing([]) == "nothing"


def test_nearest_spelling() -> None:
    assert nearest("Row Spacing", ["row_spacing", "spans"]) == "row_spacing"
    assert meant("zzz", ["row_spacing"]) == ""

"""Readings: numbers with their units, and how they are judged."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from ringrow.coverage.layout import lay_out
from ringrow.coverage.zone_water import block_water
from ringrow.errors import DomainError, PlaceError
from ringrow.farm.load import load_farm
from ringrow.farm.model import Farm, Tolerances
from ringrow.farm.reading_kinds import READING_KINDS, in_shown_unit, number_of, reading_named
from ringrow.farm.readings import JudgedReading, judge, open_items
from ringrow.farm.records import Record
from ringrow.farm.system_checks import things_of
from ringrow.handoff.languages import speaking
from ringrow.handoff.reading_words import MISSING_WORDS, judged_words, reading_record, source_words
from ringrow.units import GALLON_L, METRIC, PSI_KPA, US

SAMPLE = Path(__file__).resolve().parents[2] / "sample_fields" / "two_windmill_farm"
NOON = datetime(2026, 3, 14, 12, tzinfo=UTC)


@pytest.fixture(scope="module")
def farm() -> Farm:
    """The sample farm with volts on the plates of one well and one pivot."""
    loaded = load_farm(SAMPLE)
    wells = tuple(replace(w, plate_v=460.0) if w.name == "Home well" else w for w in loaded.wells)
    return replace(loaded, wells=wells)


def read(system: str, item: str, *, hours: float = 0, id_: str = "", **value: Any) -> Record:
    when = NOON + timedelta(hours=hours)
    said = {"type": "reading", "system": system, "item": item, **value}
    return Record(
        id=id_ or f"{system}-{item}-{hours}", type="reading", value=said, when=when, who="Ana", source="t"
    )


def one(farm: Farm, *records: Record) -> JudgedReading:
    (judged,) = judge(farm, records)
    return judged


# --- numbers and units


@pytest.mark.parametrize(
    ("item", "text", "kept", "tolerance"),
    [
        # NIST Special Publication 811 (2008), appendix B.8: gpm, psi; bar exact.
        ("flow", "1 gpm", 0.06309020, 5e-9),
        ("flow", "3.6 m3/h", 1.0, 1e-12),
        ("pressure", "1 psi", 6.894757, 5e-7),
        ("pressure", "2.5 bar", 250.0, 1e-12),
        ("pressure", "-3 kPa", -3.0, 0),
        ("depth", "1 in", 25.4, 1e-12),
        # An acre-inch is 43,560 / 12 = 3,630 cubic feet, 27,154 gallons in every irrigation handbook.
        ("meter", "1 ac-in", 3630 * 0.3048**3, 1e-9),
        ("meter", "412.6 acre-feet", 412.6 * 43_560 * 0.3048**3, 1e-9),
        ("meter", "100 ft3", 2.8316846592, 1e-12),
        ("meter", "27,154 gal", 102.79, 0.005),
        ("meter", "500 L", 0.5, 1e-12),
        ("temperature", "212 F", 100.0, 1e-9),
        ("temperature", "-40 °F", -40.0, 1e-9),
        ("temperature", "-40 °C", -40.0, 1e-9),
        ("volts", "478", 478.0, 0),
        ("volts", "478V", 478.0, 0),
    ],
)
def test_a_number_is_kept_in_its_unit(item: str, text: str, kept: float, tolerance: float) -> None:
    (value,) = number_of(text, READING_KINDS[item])
    assert value == pytest.approx(kept, abs=tolerance)


def test_units_go_there_and_back() -> None:
    for kind in READING_KINDS.values():
        for unit, _factor in kind.quantity.factors:
            if kind.count == 1:
                (kept,) = number_of(f"7.5 {unit}", kind)
                assert in_shown_unit(kept, unit, kind.quantity) == pytest.approx(7.5)


@pytest.mark.parametrize(
    ("item", "text", "message"),
    [
        ("pressure", "32", r'pressure: found "32" without a unit; allowed: kPa, psi, bar'),
        ("pressure", "32 V", r'pressure: found the unit "V"; allowed: kPa, psi, bar'),
        ("volts", "high", r'volts: found "high"; allowed: one number and the unit, such as 478 V'),
        ("volts", "460 467 V", r'volts: found "460 467 V"; allowed: one number'),
        ("line-volts", "460 V", r'line-volts: found "460 V"; allowed: three numbers, line to line'),
        ("volts", "47800 V", r"volts: found 47800 V; allowed: 0 to 1000 V"),
        ("pressure", "900 psi", r"pressure: found 900 psi; allowed: -14.5038 to 290.075 psi"),
        ("flow", "36,5 gpm", r'flow: found "36,5 gpm"; allowed: one number'),
        ("volts", "1e5 V", r'volts: found the unit "e5 V"; allowed: V'),
        ("volts", "nan", r'volts: found "nan"'),
        ("volts", "", r'volts: found ""'),
    ],
)
def test_a_number_that_cannot_be_is_refused(item: str, text: str, message: str) -> None:
    with pytest.raises(DomainError, match=message):
        number_of(text, READING_KINDS[item])


def test_a_reading_that_a_system_has_not_is_refused() -> None:
    with pytest.raises(PlaceError, match='reading of a drip: found "volts"; allowed: "filter-loss"'):
        reading_named("volts", "drip")


# --- judging


@pytest.mark.parametrize(
    ("volts", "ok", "why"),
    [
        (414, True, "within"),
        (413.9, False, "below"),
        (506, True, "within"),
        (506.1, False, "above"),
        (0, False, "below"),
    ],
)
def test_volts_are_held_against_the_plate(farm: Farm, volts: float, ok: bool, why: str) -> None:
    """460 V on the plate gives 414 to 506 V: 10 % of 460 is 46."""
    judged = one(farm, read("Home well", "volts", voltage_v=volts))
    assert (judged.ok, judged.why) == (ok, why)


def test_nothing_is_judged_without_a_number(farm: Farm) -> None:
    judged = one(farm, read("Shelter well", "volts", voltage_v=200))
    assert (judged.ok, judged.why, judged.limits.missing) == (None, "no-number", "plate_volts")
    assert judged_words(judged, US) == "not judged: no plate volts in the farm's files"
    assert source_words(judged, US) == ""


def test_every_missing_number_has_words(farm: Farm) -> None:
    """Each system of a farm that states nothing, each kind of reading it may have."""
    bare = replace(
        farm,
        wells=tuple(replace(well, plate_v=None) for well in farm.wells),
        fields=tuple(
            replace(
                field,
                pivots=tuple(replace(p, flow_lps=None, pressure_kpa=None) for p in field.pivots),
                lateral_moves=tuple(
                    replace(m, flow_lps=None, pressure_kpa=None) for m in field.lateral_moves
                ),
                drip=tuple(replace(block, tape=None) for block in field.drip),
            )
            for field in farm.fields
        ),
    )
    records = [
        read(system.name, kind.id, **{kind.quantity.key: [460] * 3 if kind.count > 1 else 10})
        for system, _thing in things_of(bare)
        for kind in READING_KINDS.values()
        if system.kind in kind.on
    ]
    judged = judge(bare, records)
    assert len(judged) == len(records)
    assert all(each.ok is None for each in judged if each.item != "zone-pressure")
    for each in judged:
        if each.why == "no-number":
            assert each.limits.missing in MISSING_WORDS
        for language in ("en", "es"):
            with speaking(language):
                assert judged_words(each, US)
    json.dumps([reading_record(each, METRIC) for each in judged])


def test_flow_and_pressure_are_held_against_the_design(farm: Farm) -> None:
    """Windmill pivot: 780 gpm, 32 psi; 10 % of them are 78 and 3.2."""
    gpm = GALLON_L / 60
    cases = (("flow", "flow_lps", gpm, 780), ("pressure", "pressure_kpa", PSI_KPA, 32))
    for item, key, factor, design in cases:
        for share, ok in ((0.901, True), (0.899, False), (1.099, True), (1.101, False)):
            judged = one(farm, read("Windmill pivot", item, **{key: design * share * factor}))
            assert (judged.ok, judged.limits.source) == (ok, "ours"), (item, share)
        assert source_words(judged, US).endswith("10 % either way: our choice")


def test_a_farm_states_its_own_tolerance(farm: Farm) -> None:
    own = replace(farm, tolerances=Tolerances(flow_share=0.05, filter_loss_kpa=7 * PSI_KPA))
    judged = one(own, read("Windmill pivot", "flow", flow_lps=780 * 0.94 * GALLON_L / 60))
    assert (judged.ok, judged.limits.source) == (False, "farm")
    assert source_words(judged, US) == "stated 780 gpm, 5 % either way: as farm.toml says"
    loss = one(own, read("Elevator drip", "filter-loss", pressure_kpa=8 * PSI_KPA))
    assert judged_words(loss, US) == "8 psi: too high, at most 7 psi"


def test_a_zone_is_held_against_its_own_flow_and_pressure(farm: Farm) -> None:
    """The zone's expected flow is that of the water tables, which have tests of their own."""
    field = next(field for field in farm.fields if any(b.name == "Elevator drip" for b in field.drip))
    (laid,) = lay_out(field).drip
    north = next(water for water in block_water(laid) if water.zone.name == "North zone")
    assert north.expected is not None
    for share, ok in ((0.95, True), (0.85, False), (1.15, False)):
        flow = read("Elevator drip", "zone-flow", zone="North zone", flow_lps=share * north.expected.flow_lps)
        assert one(farm, flow).ok is ok
    pressure = north.zone.pressure_kpa
    assert pressure is not None
    judged = one(farm, read("Elevator drip", "zone-pressure", zone="North zone", pressure_kpa=0.8 * pressure))
    assert (judged.ok, judged.why) == (False, "below")
    nowhere = one(farm, read("Elevator drip", "zone-pressure", zone="Gone", pressure_kpa=pressure))
    assert nowhere.ok is None


def test_balance_counts_only_by_a_qualified_person(farm: Farm) -> None:
    lines = {"line_voltages_v": [460, 467, 450]}
    lay = one(farm, read("Home well", "line-volts", **lines))
    assert (lay.ok, lay.why) == (None, "not-qualified")
    assert judged_words(lay, US).startswith("not judged: line volts count only when a qualified person")
    skilled = one(farm, read("Home well", "line-volts", qualified=True, **lines))
    assert (skilled.ok, skilled.why) == (False, "unbalanced")
    assert "1.96 % out of balance, more than 1 %" in judged_words(skilled, US)
    even = one(farm, read("Home well", "line-volts", qualified=True, line_voltages_v=[460, 462, 461]))
    assert even.ok is True
    # 500, 450, 450: mean 466.7, the largest departure 33.3, 7.1 %: above 5 % a motor stays off.
    worst = one(farm, read("Home well", "line-volts", qualified=True, line_voltages_v=[500, 450, 450]))
    assert (worst.ok, worst.why) == (False, "stop")
    low = one(farm, read("Home well", "line-volts", qualified=True, line_voltages_v=[400, 401, 400]))
    assert (low.ok, low.why) == (False, "below")


def test_battery_and_end_pressure_have_a_least_value(farm: Farm) -> None:
    own = replace(farm, wells=tuple(replace(well, battery_v=24.0) for well in farm.wells))
    # 12.4 V of 12 at rest is 24.8 of 24.
    assert one(own, read("North well", "battery-volts", voltage_v=24.8)).ok is True
    weak = one(own, read("North well", "battery-volts", voltage_v=24.7))
    assert judged_words(weak, US) == "24.7 V: too low, at least 24.8 V"


def test_walking_and_idle_are_two_things_and_the_last_word_stands(farm: Farm) -> None:
    records = [
        read("Home well", "volts", hours=0, walking=False, voltage_v=520),
        read("Home well", "volts", hours=1, walking=True, voltage_v=470),
        read("Home well", "flow", hours=2, flow_lps=40),
    ]
    assert [each.record.id for each in open_items(farm, records)] == ["Home well-volts-0"]
    again = [*records, read("Home well", "volts", hours=3, walking=False, voltage_v=500)]
    assert open_items(farm, again) == []
    assert open_items(farm, reversed(again)) == []


def test_the_stated_time_counts(farm: Farm) -> None:
    early = read("Home well", "volts", hours=5, voltage_v=520, at="2026-03-01T12:00:00Z")
    later = read("Home well", "volts", hours=0, voltage_v=470)
    judged = judge(farm, [early, later])
    assert [each.values for each in judged] == [(520.0,), (470.0,)]
    assert [each.latest for each in judged] == [False, True]


@pytest.mark.parametrize(
    "value",
    [
        {"voltage_v": "478"},
        {"voltage_v": True},
        {"voltage_v": [478]},
        {"voltage_v": {}},
        {"voltage_v": 1e300},
        {"voltage_v": -1},
        {},
        {"voltage_v": 478, "system": ["Home well"]},
        {"voltage_v": 478, "system": "Gone well"},
        {"voltage_v": 478, "item": {"a": 1}},
        {"voltage_v": 478, "kind": "pivot"},
        {"line_voltages_v": [0, 0, 0], "item": "line-volts"},
        {"line_voltages_v": 460, "item": "line-volts"},
        {"pressure_kpa": 200, "item": "filter-loss"},
    ],
    ids=str,
)
def test_what_makes_no_sense_in_a_record_is_passed_over(farm: Farm, value: dict[str, Any]) -> None:
    said = {"type": "reading", "system": "Home well", "item": "volts", **value}
    record = Record(id="r", type="reading", value=said, when=NOON, who="", source="")
    assert judge(farm, [record]) == []


def test_odd_words_beside_a_good_number_do_no_harm(farm: Farm) -> None:
    odd = {"voltage_v": 478, "walking": "yes", "zone": 7, "at": "soon", "said": None, "qualified": "yes"}
    judged = one(farm, read("Home well", "volts", **odd))
    assert (judged.ok, judged.walking, judged.zone, judged.when, judged.said) == (True, None, "", NOON, "")
    json.dumps(reading_record(judged, US))


def test_json_keys_end_in_the_farms_units(farm: Farm) -> None:
    judged = one(farm, read("Windmill pivot", "pressure", pressure_kpa=32 * PSI_KPA))
    us, metric = reading_record(judged, US), reading_record(judged, METRIC)
    assert us["read_psi"] == pytest.approx(32)
    assert us["least_psi"] == pytest.approx(28.8)
    assert us["most_psi"] == pytest.approx(35.2)
    assert us["stated_psi"] == pytest.approx(32)
    assert metric["read_kpa"] == pytest.approx(32 * PSI_KPA)
    assert "read_psi" not in metric

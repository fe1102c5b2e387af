"""Rounds: what was looked at, what not yet, what failed, as the records of a log leave it."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ringrow.equipment.checklists import ITEMS
from ringrow.farm.flags import Stamp
from ringrow.farm.load import inspect_farm, load_farm
from ringrow.farm.model import Farm, StatedCheck
from ringrow.farm.records import Record, fold_records, record_event
from ringrow.farm.rounds import RoundBook, SystemRound, book_in_zone, round_book
from ringrow.farm.systems import farm_systems
from ringrow.handoff.languages import speaking
from ringrow.handoff.round_record import book_record
from ringrow.handoff.round_table import bad_lines, not_yet_lines, round_text, system_text
from ringrow.handoff.round_words import ITEM_CAUTIONS, ITEM_WORDS, checklist_of
from ringrow.units import US

if TYPE_CHECKING:
    from collections.abc import Sequence

SAMPLE = Path(__file__).resolve().parents[2] / "sample_fields" / "two_windmill_farm"
START = datetime(2026, 3, 1, 15, tzinfo=UTC)
ROUND_ID = "11111111-1111-4111-8111-111111111111"
TOWERS = ("tires", "gearboxes", "drive-shafts", "boxes-and-covers", "sprinklers-and-drops")


@pytest.fixture(scope="module")
def farm() -> Farm:
    return load_farm(SAMPLE)


@pytest.fixture(scope="module")
def small(farm: Farm) -> Farm:
    """The sample's first field alone."""
    return replace(farm, fields=farm.fields[:1], wells=())


def a_round(*, hours: float = 0, id_: str = ROUND_ID, **value: Any) -> Record:
    said = {"type": "round", "name": "Spring", **value}
    return Record(
        id=id_, type="round", value=said, when=START + timedelta(hours=hours), who="Ana", source="t"
    )


def look(on: str, *, hours: float = 1, who: str = "Ben", **value: Any) -> Record:
    said = {"type": "look", "system": on, "round": ROUND_ID, **value}
    when = START + timedelta(hours=hours)
    return Record(id=f"look-{on}-{hours}", type="look", value=said, when=when, who=who, source="t")


def of(book: RoundBook, system: str) -> SystemRound:
    return next(each for each in book.systems if each.system.name == system)


def missing(found: SystemRound) -> dict[str, tuple[str, ...]]:
    return {state.item.id: state.missing for state in found.missing}


# --- checklists


def ids(farm: Farm, system: str) -> list[str]:
    own = next(each for each in farm_systems(farm) if each.name == system)
    return [item["id"] for item in checklist_of(own, farm)]


def test_only_what_a_system_has_is_asked(farm: Farm) -> None:
    assert set(ids(farm, "Home well")) == {"starts", "belts-and-guards", "nests", "volts"}
    engine = {"starts", "battery", "oil", "coolant", "belts-and-guards", "fuel-supply", "nests"}
    assert set(ids(farm, "North well")) == engine
    assert "gun" in ids(farm, "Windmill pivot")
    assert "gun" not in ids(farm, "Creek pivot")
    assert "corner-arm" in ids(farm, "Corner pivot")
    assert "corner-arm" not in ids(farm, "Windmill pivot")
    assert "gun" not in ids(farm, "Ditch lateral")
    assert "pump" in ids(farm, "Elevator drip")


def test_a_well_whose_power_nobody_stated_is_asked_what_both_have(farm: Farm) -> None:
    bare = replace(farm, wells=tuple(replace(well, power="") for well in farm.wells))
    assert ids(bare, "Home well") == ["starts", "belts-and-guards", "nests"]


def test_a_towed_machine_is_one_and_a_corner_arm_has_one_wheel_more(farm: Farm) -> None:
    names = [each.name for each in farm_systems(farm)]
    assert names.count("Tow pivot") == 1
    (own,) = (each for each in farm_systems(farm) if each.name == "Corner pivot")
    tires = next(item for item in checklist_of(own, farm) if item["id"] == "tires")
    pivot = next(p for field in farm.fields for p in field.pivots if p.name == "Corner pivot")
    assert len(tires["parts"]) == len(pivot.spans_m) + 1


def test_every_item_has_words_in_both_languages(farm: Farm) -> None:
    every = {item.id for items in ITEMS.values() for item in items}
    assert every <= ITEM_WORDS.keys()
    assert ITEM_CAUTIONS.keys() <= ITEM_WORDS.keys()
    with speaking("es"):
        spanish = [item["words"] for each in farm_systems(farm) for item in checklist_of(each, farm)]
    assert not {word for word in spanish if word in set(ITEM_WORDS.values())}


def test_a_checklist_is_plain_data_that_says_how_a_number_is_kept(farm: Farm) -> None:
    own = next(each for each in farm_systems(farm) if each.name == "Windmill pivot")
    items = {item["id"]: item for item in json.loads(json.dumps(checklist_of(own, farm)))}
    assert items["volts"]["key"] == "voltage_v"
    assert items["volts"]["state"] is True
    assert "door stays shut" in items["volts"]["caution"]
    assert "holds the start" in items["forward"]["caution"]
    assert items["pressure"]["unit"] == "psi"
    assert items["pressure"]["units"]["bar"] == 100
    assert items["tires"]["parts"] == [str(number) for number in range(1, 8)]
    assert items["forward"]["parts"] == []


def test_a_farm_leaves_out_words_anew_and_adds(farm: Farm) -> None:
    rows = (
        StatedCheck(item="nests", kind="well", leave_out=True),
        StatedCheck(item="tires", kind="pivot", words="Tires at 20 psi"),
        StatedCheck(item="lightning-rod", system="Windmill pivot", words="Lightning rod tight"),
        StatedCheck(item="cable-ties", kind="pivot", words="Cable ties", how="try", per="tower"),
        StatedCheck(item="end-pressure", system="Windmill pivot"),
        StatedCheck(item="air-vents", kind="drip", words="Air vents", per="zone"),
    )
    own = replace(farm, checklist=rows)
    assert "nests" not in ids(own, "North well")
    assert ids(own, "Windmill pivot")[-3:] == ["lightning-rod", "cable-ties", "end-pressure"]
    assert "lightning-rod" not in ids(own, "Creek pivot")
    system = next(each for each in farm_systems(own) if each.name == "Windmill pivot")
    items = {item["id"]: item for item in checklist_of(system, own)}
    assert items["tires"]["words"] == "Tires at 20 psi"
    assert items["cable-ties"]["how"] == "try"
    assert len(items["cable-ties"]["parts"]) == 7
    assert items["end-pressure"]["how"] == "read"


SMALL = 'name = "F"\n[[well]]\nname = "W"\nat = { lat = 36.75, lon = -101.5 }\n'
FIELD = """
name = "N"
outline = [
  { lat = 36.745, lon = -101.505 }, { lat = 36.745, lon = -101.495 }, { lat = 36.755, lon = -101.495 },
]
[[pivot]]
name = "P"
point = { lat = 36.748, lon = -101.498 }
spans = [150]
"""


def faults(folder: Path, rows: str) -> tuple[list[str], list[str]]:
    (folder / "fields").mkdir(exist_ok=True)
    (folder / "farm.toml").write_text(SMALL + rows, encoding="utf-8")
    (folder / "fields" / "n.toml").write_text(FIELD, encoding="utf-8")
    found = inspect_farm(folder).findings
    return [str(fault) for fault in found.faults], [str(fault) for fault in found.warnings]


@pytest.mark.parametrize(
    ("row", "message"),
    [
        ('item = "nests"', "checklist[1].kind: found nothing; allowed: kind or system"),
        ('item = "nest"\nkind = "well"\nleave_out = true', 'did you mean "nests"?'),
        ('item = "nests"\nkind = "well"', "checklist[1].words: found nothing; allowed: other words for it"),
        ('item = "nests"\nkind = "well"\nwords = "N"\nhow = "try"', "the item is one of ours"),
        ('item = "rods"\nkind = "well"', "checklist[1].words: found nothing; allowed: what is looked at"),
        ('item = "rods"\nkind = "well"\nwords = "R"\nper = "tower"', '"system" for a well'),
        ('item = "rods"\nsystem = "Q"\nwords = "R"', 'checklist[1].system: found "Q", which is no machine'),
        ('item = "Rods"\nkind = "well"\nwords = "R"', "small letters, digits and hyphens"),
        ('item = "rods"\nkind = "well"\nwords = "R"\nhow = "read"', '"look" or "try"'),
    ],
)
def test_rows_that_cannot_be_are_faults(tmp_path: Path, row: str, message: str) -> None:
    found, _ = faults(tmp_path, f"[[checklist]]\n{row}\n")
    assert any(message in each for each in found), found


def test_a_new_item_that_looks_like_one_of_ours_is_a_warning(tmp_path: Path) -> None:
    found, warned = faults(tmp_path, '[[checklist]]\nitem = "tyres"\nkind = "pivot"\nwords = "Tyres"\n')
    assert not found
    assert any('did you mean "tires"?' in each for each in warned)


def test_plates_and_tolerances_come_from_the_files(tmp_path: Path) -> None:
    plates = "plate_volts = 460\nplate_hertz = 60\nbattery_volts = 12\n"
    found, _ = faults(tmp_path, plates + "[tolerances]\nflow = 0.05\nfilter_loss = 7\n")
    assert not found
    own = load_farm(tmp_path)
    assert (own.wells[0].plate_v, own.wells[0].plate_hz, own.wells[0].battery_v) == (460, 60, 12)
    assert own.tolerances.flow_share == 0.05
    assert own.tolerances.filter_loss_kpa == pytest.approx(48.26, abs=0.005)
    found, _ = faults(tmp_path, "plate_volts = 46\n[tolerances]\nflow = 10\n")
    assert any("well[1].plate_volts: found 46" in each for each in found)
    assert any("10 % is written 0.10" in each for each in found)


# --- what a round has seen


def test_before_the_first_round_nothing_is_seen(farm: Farm) -> None:
    book = round_book(farm, [])
    assert book.current is None
    assert all(len(each.missing) == len(each.items) for each in book.systems)


def test_towers_that_were_not_named_stay_missing(farm: Farm) -> None:
    book = round_book(farm, [a_round(), look("Windmill pivot", towers=["1", "2", "3"], nothing_seen=True)])
    left = missing(of(book, "Windmill pivot"))
    assert {left[item] for item in TOWERS} == {("4", "5", "6", "7")}
    rest = look("Windmill pivot", hours=2, towers=["4", "5", "6", "7"], nothing_seen=True)
    book = round_book(
        farm, [a_round(), look("Windmill pivot", towers=["1", "2", "3"], nothing_seen=True), rest]
    )
    assert not set(TOWERS) & missing(of(book, "Windmill pivot")).keys()


def test_nothing_seen_settles_neither_tries_nor_readings(farm: Farm) -> None:
    book = round_book(farm, [a_round(), look("Windmill pivot", nothing_seen=True)])
    left = missing(of(book, "Windmill pivot"))
    assert left.keys() == {"volts", "forward", "reverse", "gun", "flow", "pressure"}


def test_who_looked_at_towers_has_not_looked_at_the_whole_machine(farm: Farm) -> None:
    own = replace(farm, checklist=(StatedCheck(item="rod", kind="pivot", words="Rod"),))
    towers = look("Windmill pivot", towers=[str(n) for n in range(1, 8)], nothing_seen=True)
    assert "rod" in missing(of(round_book(own, [a_round(), towers]), "Windmill pivot"))
    whole = look("Windmill pivot", nothing_seen=True)
    assert "rod" not in missing(of(round_book(own, [a_round(), whole]), "Windmill pivot"))


def test_a_try_that_failed_says_what_is_to_become_of_it_until_it_works(farm: Farm) -> None:
    failed = {
        "answer": "bad", "said": "no", "why": "relay burnt", "next": "new relay", "whose": "electrician",
        "needed_by": "2026-04-01",
    }  # fmt: skip
    records = [a_round(), look("Draw pivot", items={"reverse": failed})]
    found = of(round_book(farm, records), "Draw pivot")
    ((item, part),) = found.failed
    assert item.id == "reverse"
    assert part.failed is not None
    assert (part.failed.why, part.failed.whose, part.failed.needed_by) == (
        "relay burnt", "electrician", "2026-04-01",
    )  # fmt: skip
    (line,) = bad_lines(found, US)
    assert "whose: the electrician; needed by: 2026-04-01" in line
    works = look("Draw pivot", hours=3, items={"reverse": {"answer": "good"}})
    assert not of(round_book(farm, [*records, works]), "Draw pivot").failed


def test_what_nobody_said_of_a_failed_try_is_named(farm: Farm) -> None:
    records = [a_round(), look("Draw pivot", items={"reverse": {"answer": "bad", "said": "no"}})]
    (line,) = bad_lines(of(round_book(farm, records), "Draw pivot"), US)
    assert "why: not said; next step: not said; whose: not said; needed by: not said" in line


def test_a_reading_settles_its_item_and_one_outside_is_not_good(farm: Farm) -> None:
    def reading(hours: float, **value: Any) -> Record:
        said = {"type": "reading", "system": "Windmill pivot", **value}
        when = START + timedelta(hours=hours)
        return Record(id=f"r{hours}", type="reading", value=said, when=when, who="Eva", source="t")

    records = [
        a_round(),
        reading(1, item="pressure", pressure_kpa=100.0),
        reading(2, item="volts", voltage_v=470, walking=True),
        reading(-48, item="flow", flow_lps=49.2),
    ]
    found = of(round_book(farm, records), "Windmill pivot")
    states = {state.item.id: state.answer for state in found.items}
    assert (states["pressure"], states["volts"], states["flow"]) == ("bad", "read", None)
    # A reading of the day before, noted without an hour, belongs to the round.
    records.append(reading(-20, item="flow", flow_lps=49.2))
    states = {s.item.id: s.answer for s in of(round_book(farm, records), "Windmill pivot").items}
    assert states["flow"] == "good"


def test_a_reading_that_names_its_round_belongs_to_it(farm: Farm) -> None:
    """As those of a table do, which may be dated days before the round was started here."""
    flow = {"type": "reading", "system": "Windmill pivot", "item": "flow", "flow_lps": 49.2}
    early = START - timedelta(days=3)
    for round_id, answer in ((ROUND_ID, "good"), ("gone", None)):
        record = Record(
            id="r", type="reading", value={**flow, "round": round_id}, when=early, who="Eva", source="t"
        )
        found = of(round_book(farm, [a_round(), record]), "Windmill pivot")
        assert {state.item.id: state.answer for state in found.items}["flow"] == answer


def test_of_two_looks_of_one_day_the_one_said_later_stands(farm: Farm) -> None:
    noon = "2026-03-01T18:00:00Z"
    for first, second in (("z", "a"), ("a", "z")):
        good = look("Draw pivot", hours=30, at=noon, items={"reverse": {"answer": "good"}})
        bad = look("Draw pivot", hours=20, at=noon, items={"reverse": {"answer": "bad"}})
        book = round_book(farm, [a_round(), replace(good, id=first), replace(bad, id=second)])
        assert not of(book, "Draw pivot").failed


def test_idle_and_walking_are_two_states_of_volts_alone(farm: Farm) -> None:
    def reading(hours: float, **value: Any) -> Record:
        said = {"type": "reading", "system": "Windmill pivot", **value}
        when = START + timedelta(hours=hours)
        return Record(id=f"r{hours}", type="reading", value=said, when=when, who="Eva", source="t")

    low = reading(1, item="flow", flow_lps=40.0)
    again = reading(2, item="flow", flow_lps=49.2, walking=True)
    assert len(round_book(farm, [a_round(), low]).open_readings) == 1
    assert not round_book(farm, [a_round(), low, again]).open_readings


def test_readings_outside_the_checklist_and_before_the_round_stay_open(farm: Farm) -> None:
    """A pressure of last fall, and volts of a line that no checklist asks for."""
    own = replace(farm, wells=tuple(replace(well, plate_v=460.0) for well in farm.wells))

    def reading(system: str, hours: float, **value: Any) -> Record:
        said = {"type": "reading", "system": system, **value}
        when = START + timedelta(hours=hours)
        return Record(id=f"{system} {hours}", type="reading", value=said, when=when, who="Eva", source="t")

    lines = {"item": "line-volts", "line_voltages_v": [460, 467, 450], "qualified": True}
    records = [
        a_round(),
        reading("Home well", 1, **lines),
        reading("Windmill pivot", -3000, item="pressure", pressure_kpa=100.0),
        reading("Creek pivot", 2, item="pressure", pressure_kpa=100.0),
    ]
    book = round_book(own, records)
    assert [each.system for each in book.outside(of(book, "Home well"))] == ["Home well"]
    assert [each.item for each in book.outside(of(book, "Windmill pivot"))] == ["pressure"]
    assert book.outside(of(book, "Creek pivot")) == ()
    text = round_text(book, {}, US, width=None)
    assert "  Home well: line-volts: 460, 467, 450 V: 1.96 % out of balance" in text
    assert text.count("Creek pivot: pressure") == 1
    assert len(book_record(book, {}, US)["open_readings"]) == 3


def test_the_open_round_counts_else_the_last(farm: Farm) -> None:
    first = a_round(ended="2026-03-09T00:00:00Z")
    second = a_round(hours=24 * 300, id_="22222222-2222-4222-8222-222222222222", name="Fall")
    assert round_book(farm, [first]).current is not None
    book = round_book(farm, [second, first, look("Windmill pivot", nothing_seen=True)])
    assert book.current is not None
    assert book.current.name == "Fall"
    assert [each.name for each in book.rounds] == ["Spring", "Fall"]
    assert not of(book, "Windmill pivot").looks
    earlier = round_book(farm, [second, first, look("Windmill pivot", nothing_seen=True)], round_id=ROUND_ID)
    assert len(of(earlier, "Windmill pivot").looks) == 1


def test_a_round_that_two_copies_of_the_log_started_is_one(farm: Farm) -> None:
    twin = a_round(hours=5, id_="33333333-3333-4333-8333-333333333333", name="spring")
    there = look("Windmill pivot", towers=["1"], nothing_seen=True)
    here = look("Creek pivot", hours=8, nothing_seen=True)
    here.value["round"] = twin.id
    for records in ([a_round(), twin, there, here], [here, twin, there, a_round()]):
        book = round_book(farm, records)
        assert book.current is not None
        assert book.current.started == START
        assert of(book, "Windmill pivot").looks
        assert of(book, "Creek pivot").looks


def test_a_look_without_a_round_goes_by_its_time(farm: Farm) -> None:
    loose = look("Windmill pivot", nothing_seen=True)
    del loose.value["round"]
    assert of(round_book(farm, [a_round(), loose]), "Windmill pivot").looks
    before = look("Windmill pivot", hours=-48, nothing_seen=True)
    del before.value["round"]
    assert not of(round_book(farm, [a_round(), before]), "Windmill pivot").looks


@pytest.mark.parametrize(
    "value",
    [
        {"system": ["Windmill pivot"]},
        {"system": "Gone"},
        {"towers": "1-3", "nothing_seen": "yes"},
        {"items": ["forward"]},
        {"items": {"forward": "good"}},
        {"items": {"forward": {"answer": "perfect"}}},
        {"items": {"strange": {"answer": "bad"}}},
        {"except": "tower 5", "items": 3},
        {"towers": [1, 2, None], "zones": {}},
        {"round": ["x"], "kind": {}},
    ],
    ids=str,
)
def test_what_makes_no_sense_in_a_look_settles_nothing(farm: Farm, value: dict[str, Any]) -> None:
    book = round_book(farm, [a_round(ended=5), look("Windmill pivot", **value)])
    found = of(book, "Windmill pivot")
    assert len(found.missing) == len(found.items)
    text = round_text(book, {}, US, width=None)
    assert "Windmill pivot" in text
    json.dumps(book_record(book, {}, US))


def test_odd_texts_in_a_look_are_only_text(farm: Farm) -> None:
    odd = {
        "items": {"forward": {"answer": "bad", "said": 7, "why": ["x"], "whose": "nobody\x1b[31m"}},
        "except": [{"said": 5, "flag": None}, "x", {}],
        "note": "one\ntwo \x1b[0m",
        "at": "whenever",
    }
    last = look("Windmill pivot", hours=2, at="9999-12-31T23:59:59Z", nothing_seen=True)
    book = round_book(farm, [a_round(), look("Windmill pivot", who="[red]A\nB", **odd), last])
    book = book_in_zone(book, timezone(timedelta(hours=12)))
    text = round_text(book, {}, US, width=90) + system_text(of(book, "Windmill pivot"), US, width=90)
    assert "\x1b" not in text
    assert "[red]A B" in text
    json.dumps(book_record(book, {}, US))


def test_lists_speak_the_crews_language(farm: Farm) -> None:
    book = round_book(farm, [a_round(), look("Windmill pivot", towers=["1"], nothing_seen=True)])
    with speaking("es"):
        assert "Ronda Spring: empezada el 2026-03-01 por Ana, abierta" in round_text(book, {}, US, width=None)
        assert not_yet_lines(of(book, "Creek pivot")) == ["Creek pivot: nada todavía"]
        assert "persona calificada abre un tablero" in system_text(of(book, "Windmill pivot"), US, width=None)


def _events() -> Sequence[Any]:
    count = iter(range(1, 1000))

    def stamp(hours: int) -> Stamp:
        return Stamp(
            when=START + timedelta(hours=hours),
            who="Ana",
            source="t",
            new_id=lambda: f"00000000-0000-4000-8000-{next(count):012d}",
        )

    first = record_event("round", {"name": "Spring"}, stamp=stamp(0))
    towers = {"system": "Windmill pivot", "round": first.flag, "nothing_seen": True}
    seen = record_event("look", {**towers, "towers": ["1", "2"]}, stamp=stamp(1))
    again = record_event("look", {**towers, "towers": ["1"]}, stamp=stamp(2), subject=seen.flag, seen=[seen])
    bad = {**towers, "items": {"forward": {"answer": "bad", "said": "no"}}}
    failed = record_event("look", bad, stamp=stamp(3))
    volts = {"system": "Windmill pivot", "item": "pressure", "pressure_kpa": 150.0}
    return [first, seen, again, failed, record_event("reading", volts, stamp=stamp(4))]


EVENTS = _events()


@given(order=st.lists(st.integers(0, len(EVENTS) - 1), max_size=12))
def test_order_and_repetition_of_events_change_nothing(small: Farm, order: list[int]) -> None:
    """Two logs joined either way show the same round."""
    shuffled = list(dict.fromkeys([*order, *range(len(EVENTS))]))
    straight = book_record(round_book(small, fold_records(EVENTS)), {}, US)
    mixed = book_record(round_book(small, fold_records([EVENTS[at] for at in shuffled])), {}, US)
    assert mixed == straight

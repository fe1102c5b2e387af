"""What the map page gets to walk a round: the same limits and items as the commands, and what stands."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from ringrow.coverage.layout import lay_out
from ringrow.farm.flags import Stamp
from ringrow.farm.load import load_farm
from ringrow.farm.readings import judge
from ringrow.farm.records import fold_records, record_event
from ringrow.farm.rounds import round_book
from ringrow.farm.system_checks import parts_for, things_of
from ringrow.handoff.map.round_data import round_data
from ringrow.handoff.round_table import round_text

if TYPE_CHECKING:
    from ringrow.farm.events import Event
    from ringrow.farm.model import Farm

SAMPLE = Path(__file__).resolve().parents[2] / "sample_fields" / "two_windmill_farm"
NOON = datetime(2026, 3, 14, 12, tzinfo=UTC)
FIELDS = ("Windmill quarter", "Elevator quarter", "Ditch field")


@pytest.fixture(scope="module")
def farm() -> Farm:
    """Three fields of the sample farm, one of each kind of system."""
    loaded = load_farm(SAMPLE)
    return replace(loaded, fields=tuple(field for field in loaded.fields if field.name in FIELDS))


def data(farm: Farm, events: list[Event]) -> dict[str, Any]:
    # As the page gets it: numbers and texts, nothing that JSON does not know.
    return json.loads(json.dumps(round_data(farm, [lay_out(field) for field in farm.fields], events)))


def said(type_: str, *, hours: float = 0, seen: list[Event] | None = None, **value: Any) -> Event:
    stamp = Stamp(when=NOON + timedelta(hours=hours), who="Ana", source="t")
    subject = seen[0].flag if seen else None
    return record_event(type_, value, stamp=stamp, subject=subject, seen=seen or [])


def test_every_reading_has_the_limits_it_is_judged_by(farm: Farm) -> None:
    page = data(farm, [])
    readings = []
    for system in page["systems"]:
        for item in (page["items"][index] for index in system["items"]):
            for zone in system["limits"].get(item["id"], {}):
                value = {
                    "system": system["name"],
                    "kind": system["kind"].replace("_", " "),
                    "item": item["id"],
                }
                value |= {item["key"]: 1.0, "walking": True} | ({"zone": zone} if zone else {})
                readings.append(said("reading", **value))
    judged = judge(farm, fold_records(readings))
    limits = {
        (each["name"], item, zone): found
        for each in page["systems"]
        for item, zones in each["limits"].items()
        for zone, found in zones.items()
    }
    assert {each.item for each in judged} >= {
        "volts",
        "flow",
        "pressure",
        "zone-flow",
        "zone-pressure",
        "filter-loss",
    }
    assert len(judged) == len(readings) == len(limits)
    for each in judged:
        found = limits[each.system, each.item, each.zone]
        assert (found.get("low"), found.get("high")) == (each.limits.low, each.limits.high)
        assert ("missing" in found) == bool(each.limits.missing)
        assert bool(found.get("source")) == (each.ok is not None)


def test_towers_and_zones_come_as_the_checklist_asks_them(farm: Farm) -> None:
    systems = {each["name"]: each for each in data(farm, [])["systems"]}
    for system, thing in things_of(farm):
        found = systems[system.name]
        towers = [f"{side} {n + 1}".strip() for side, count in found["towers"] for n in range(count)]
        assert tuple(towers) == parts_for(thing, "tower")
        assert tuple(found["zones"]) == parts_for(thing, "zone")


def test_a_corrected_look_names_the_events_that_stand(farm: Farm) -> None:
    started = said("round", name="Spring")
    look = said("look", hours=1, system="Windmill pivot", kind="pivot", round=started.flag, nothing_seen=True)
    twice = [
        said(
            "look",
            hours=hours,
            seen=[look],
            system="Windmill pivot",
            kind="pivot",
            round=started.flag,
            note=note,
        )
        for hours, note in ((2, "a"), (3, "b"))
    ]
    gone = said("look", hours=1, system="No such pivot", kind="pivot", nothing_seen=True)
    page = data(farm, [started, look, *twice, gone])
    (record,) = page["records"]
    # The later stands first; a correction made on the page has to name both.
    assert [(id_, value["note"]) for id_, _ms, value in record["heads"]] == [
        (twice[1].id, "b"),
        (twice[0].id, "a"),
    ]
    assert record["ms"] == (NOON + timedelta(hours=1)).timestamp() * 1000
    assert page["round"]["open"] is True


def test_a_round_ends_where_the_next_of_another_name_begins(farm: Farm) -> None:
    """A day before either start (the program's own rule); a copy of the same round is no other."""
    spring = said("round", name="Spring", hours=0, ended="2026-03-20T00:00:00Z")
    copy = said("round", name="spring", hours=5)
    page = data(farm, [spring, copy])
    assert page["round"]["ids"] == sorted([spring.flag, copy.flag])
    assert page["round"]["from_ms"] == (NOON - timedelta(days=1)).timestamp() * 1000
    assert page["round"]["until_ms"] is None
    assert data(farm, [])["round"] is None


def test_two_corrections_are_named_until_one_settles_them(farm: Farm) -> None:
    started = said("round", name="Spring")
    look = said("look", hours=1, system="Home well", kind="well", nothing_seen=True)
    good = said(
        "look", hours=2, seen=[look], system="Home well", kind="well", items={"oil": {"answer": "good"}}
    )
    low = {"oil": {"answer": "bad", "said": "low"}}
    bad = said("look", hours=3, seen=[look], system="Home well", kind="well", items=low)
    book = round_book(farm, fold_records([started, look, good, bad]))
    text = round_text(book, {}, farm.units, width=None)
    assert f"Home well: a look; the other says: oil=good [{look.flag[:8]}]" in text
    settled = said("look", hours=4, seen=[look, good, bad], system="Home well", kind="well", items=low)
    book = round_book(farm, fold_records([started, look, good, bad, settled]))
    assert "two ways" not in round_text(book, {}, farm.units, width=None)

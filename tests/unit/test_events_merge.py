"""Events: heads, clashes, what is shown, and what is refused in events from files."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from ringrow.errors import SeasonError
from ringrow.farm.events import Event, content_id, event_from_json, event_to_json, parse_when
from ringrow.farm.flag_model import Clash, FlagState, GroundSpot
from ringrow.farm.folding import fold, heads

WHEN = datetime(2026, 4, 2, 13, 5, tzinfo=UTC)
FLAG = "00000000-0000-4000-8000-000000000001"


def nested(levels: int) -> Any:
    value: Any = 1
    for _ in range(levels):
        value = [value]
    return value


def uid(number: int) -> str:
    return f"00000000-0000-4000-8000-{number:012d}"


def said(
    number: int, value: Any, *, field: str = "status", minutes: int = 0, parents: tuple[int, ...] = ()
) -> Event:
    return Event(
        id=uid(number),
        flag=FLAG,
        field=field,
        value=value,
        when=WHEN + timedelta(minutes=minutes),
        who=f"walker {number}",
        source="test",
        parents=tuple(uid(parent) for parent in parents),
    )


def state_of(*events: Event) -> FlagState:
    (state,) = fold(events, {FLAG: 1})
    return state


def test_a_later_word_that_saw_the_earlier_one_wins_without_a_clash() -> None:
    state = state_of(said(11, "open"), said(12, "fixed", minutes=5, parents=(11,)))
    assert (state.status, state.clashes) == ("fixed", ())


def test_a_word_that_saw_the_other_wins_though_its_clock_runs_behind() -> None:
    assert state_of(said(11, "open"), said(12, "fixed", minutes=-500, parents=(11,))).status == "fixed"


def test_two_who_did_not_see_each_other_clash_and_the_later_is_shown() -> None:
    start = said(11, "open")
    state = state_of(
        start, said(12, "fixed", minutes=9, parents=(11,)), said(13, "not-a-fault", minutes=4, parents=(11,))
    )
    assert state.status == "fixed"
    assert state.clashes == (Clash(field="status", values=("fixed", "not-a-fault")),)


def test_at_the_same_moment_the_higher_id_is_shown() -> None:
    assert state_of(said(13, "fixed"), said(12, "checked")).status == "fixed"


def test_the_same_word_twice_is_no_clash() -> None:
    assert state_of(said(12, "fixed"), said(13, "fixed", minutes=1)).clashes == ()


def test_a_word_that_saw_both_settles_the_clash() -> None:
    state = state_of(
        said(12, "fixed"), said(13, "checked", minutes=1), said(14, "open", minutes=2, parents=(12, 13))
    )
    assert (state.status, state.clashes) == ("open", ())


def test_a_parent_that_is_not_here_does_no_harm() -> None:
    assert state_of(said(12, "fixed", parents=(99,))).status == "fixed"


def test_events_that_name_each_other_or_themselves_do_not_vanish() -> None:
    ring = [said(12, "fixed", parents=(13,)), said(13, "checked", minutes=1, parents=(12,))]
    assert [event.id for event in heads(ring)] == [uid(13), uid(12)]
    assert state_of(said(12, "fixed", parents=(12,))).status == "fixed"


def test_fields_of_a_later_version_are_kept_and_leave_the_state_alone() -> None:
    state = state_of(said(11, "open"), said(12, {"hours": [2]}, field="work"))
    assert (state.status, state.kind, state.spot) == ("open", "other-ground", None)


def test_set_at_is_when_the_place_was_set_not_the_oldest_clock() -> None:
    spot = {"on": "ground", "lon": -101.5, "lat": 36.75, "accuracy_m": 4.0, "accuracy_kind": "r95"}
    state = state_of(said(11, spot, field="spot"), said(12, "x", field="note", minutes=-9_000))
    assert (state.set_at, state.set_by) == (WHEN, "walker 11")
    assert isinstance(state.spot, GroundSpot)


def test_an_event_comes_back_equal_from_json() -> None:
    event = said(12, "Ñandú 💧\n=1+1", field="note", parents=(11,))
    assert event_from_json(json.loads(json.dumps(event_to_json(event)))) == event


def test_the_id_made_from_content_changes_with_any_word_of_it() -> None:
    one = said(12, "wet", field="note")
    others = [
        said(12, "wet ", field="note"),
        said(12, "wet", field="name"),
        said(12, "wet", field="note", minutes=1),
        said(12, "wet", field="note", parents=(11,)),
    ]
    assert len({content_id(event) for event in [one, *others]}) == 5
    # The id an event carries is no part of its content.
    assert content_id(
        Event(**{**{k: getattr(one, k) for k in Event.__slots__}, "id": uid(77)})
    ) == content_id(one)


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"id": "7"}, r"id: found '7'; allowed: a UUID"),
        ({"flag": None}, r"flag: found None; allowed: text up to 200"),
        ({"when": "yesterday"}, r'time: found "yesterday"; allowed: ISO 8601'),
        ({"when": "9999-12-31T23:59:59-12:00"}, r'time: found "9999-12-31T23:59:59-12:00"'),
        ({"who": "x" * 201}, r"who: found .*; allowed: text up to 200"),
        ({"parents": "none"}, r"parents: found 'none'; allowed: a list of event ids"),
        ({"parents": [3]}, r"id: found 3; allowed: a UUID"),
        ({"field": "status", "value": "gone"}, r"status: found 'gone'; allowed: open, fixed, checked"),
        ({"field": "class", "value": "worst"}, r"class: found 'worst'; allowed: unsafe, stops, .* or null"),
        ({"field": "kind", "value": 3}, r"kind: found 3; allowed: text up to 200"),
        ({"field": "note", "value": "x" * 10_001}, r"allowed: text up to 10,000 characters"),
        ({"field": "spot", "value": "here"}, r'spot: found here; allowed: an object with "on"'),
        (
            {"field": "spot", "value": {"on": "ground", "accuracy_kind": "cm"}},
            r"accuracy_kind: found cm; allowed: r95",
        ),
        (
            {
                "field": "spot",
                "value": {"on": "ground", "lat": 91, "lon": 0, "accuracy_m": 4, "accuracy_kind": "r95"},
            },
            r"spot lat: found 91; allowed: a number from -90 to 90",
        ),
        (
            {"field": "spot", "value": {"on": "machine", "pivot": "P1", "said": "somewhere"}},
            r"found no tower, span, outlet or distance_m; allowed: one of them",
        ),
        (
            {
                "field": "spot",
                "value": {"on": "machine", "pivot": "P1", "said": "t", "tower": 1, "wheel": "left"},
            },
            r"spot wheel: found left; allowed: inner-leading",
        ),
        (
            {"field": "spot", "value": {"on": "drip", "drip": "B", "lateral": 0, "station_m": 1}},
            r"spot lateral: found 0; allowed: a whole number of 1 or more",
        ),
        ({"field": "work", "value": float("inf")}, r"work: found inf; allowed: plain JSON up to 100,000"),
        ({"field": "work", "value": "x" * 100_000}, r"allowed: plain JSON up to 100,000 characters"),
        ({"field": "work", "value": nested(21)}, r"work: found .*; allowed: plain JSON .* 20 levels deep"),
        (
            {
                "field": "spot",
                "value": {"on": "ground", "lat": 10**400, "lon": 0, "accuracy_m": 4, "accuracy_kind": "r95"},
            },
            r"spot lat: found 1000.*; allowed: a number from -90 to 90",
        ),
        ({"field": "parts", "value": "coupling"}, r"found 'coupling'; allowed: null or a list of up to 100"),
        (
            {"field": "parts", "value": [{"part": "clamp", "quantity": 0}]},
            r"a whole number from 1 to 100,000",
        ),
        ({"field": "parts", "value": [{"part": "clamp", "quantity": True}]}, r"parts: found .*; allowed"),
        (
            {"field": "parts", "value": [{"part": " ", "quantity": 1}]},
            r"a part \(text up to 200 characters\)",
        ),
        ({"field": "parts", "value": [{"part": "x", "quantity": 1}] * 101}, r"a list of up to 100 objects"),
        (
            {"field": "ground_flag", "value": "gone"},
            r"ground_flag: found 'gone'; allowed: set, pulled or null",
        ),
        ({"field": "dig", "value": {"on": "well", "well": "Home"}}, r"allowed: a place on the ground or on"),
        ({"field": "dig", "value": "here"}, r'found here; allowed: an object with "on"'),
        (
            {"field": "spot", "value": {"on": "well", "well": ["Home"]}},
            r"spot well: found \['Home'\]; allowed: text up to 200",
        ),
    ],
)
def test_a_broken_event_of_a_file_is_refused(changes: dict[str, Any], message: str) -> None:
    plain = event_to_json(said(12, "wet", field="note"))
    with pytest.raises(SeasonError, match=message):
        event_from_json({**plain, **changes})


def test_an_event_with_a_part_missing_is_refused() -> None:
    plain = event_to_json(said(12, "wet", field="note"))
    del plain["parents"]
    with pytest.raises(SeasonError, match=r"allowed: an object with field, flag, id, parents"):
        event_from_json(plain)
    with pytest.raises(SeasonError, match=r"event: found list; allowed: an object"):
        event_from_json([])


def test_times_are_brought_to_utc() -> None:
    assert parse_when("2026-04-02T08:05:00-05:00") == WHEN
    assert parse_when("2026-04-02T13:05:00") == WHEN

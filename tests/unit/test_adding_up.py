"""Parts and photos add up over visits; a visit is taken back by name; the order of merging is nothing."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ringrow.errors import SeasonError
from ringrow.farm.adding_up import parse_parts, standing
from ringrow.farm.events import Event
from ringrow.farm.flag_model import Clash, DripSpot, FlagState, UsedPart
from ringrow.farm.folding import fold
from ringrow.farm.undo import undo_event

WHEN = datetime(2026, 4, 2, 13, 5, tzinfo=UTC)
FLAG = "00000000-0000-4000-8000-000000000001"
COUPLINGS = [{"part": "coupling", "quantity": 2}]
CLAMPS = [{"part": "clamp", "quantity": 4}, {"part": "Coupling ", "quantity": 1}]


def uid(number: int) -> str:
    return f"00000000-0000-4000-8000-{number:012d}"


def said(number: int, value: Any, *parents: int, field: str = "parts") -> Event:
    return Event(
        id=uid(number),
        flag=FLAG,
        field=field,
        value=value,
        when=WHEN + timedelta(minutes=number),
        who="Ana",
        source="test",
        parents=tuple(uid(parent) for parent in parents),
    )


def state_of(*events: Event) -> FlagState:
    (state,) = fold(events, {FLAG: 1})
    return state


def used(*events: Event) -> dict[str, int]:
    return {part.part: part.quantity for part in state_of(*events).parts}


def test_visits_add_up_whether_they_saw_each_other_or_not() -> None:
    for second in (said(12, CLAMPS, 11), said(12, CLAMPS)):
        assert used(said(11, COUPLINGS), second) == {"coupling": 3, "clamp": 4}
        assert state_of(said(11, COUPLINGS), second).clashes == ()


def test_the_same_visit_twice_counts_twice_but_the_same_event_once() -> None:
    assert used(said(11, COUPLINGS), said(12, COUPLINGS)) == {"coupling": 4}
    assert used(said(11, COUPLINGS), said(11, COUPLINGS)) == {"coupling": 2}


def test_a_null_takes_back_what_it_names_and_a_second_one_brings_it_back() -> None:
    visits = [said(11, COUPLINGS), said(12, CLAMPS, 11)]
    assert used(*visits, said(13, None, 12)) == {"coupling": 2}
    assert used(*visits, said(13, None, 12), said(14, None, 13)) == {"coupling": 3, "clamp": 4}
    assert used(*visits, said(13, None, 11)) == {"clamp": 4, "Coupling": 1}


def test_two_who_take_back_the_same_visit_take_it_back_once() -> None:
    visits = [said(11, COUPLINGS), said(12, CLAMPS)]
    assert used(*visits, said(13, None, 12), said(14, None, 12)) == {"coupling": 2}
    # One of them takes his word back; the other's still holds.
    assert used(*visits, said(13, None, 12), said(14, None, 12), said(15, None, 14)) == {"coupling": 2}


def test_undo_takes_back_the_last_visit_alone() -> None:
    events = [said(11, COUPLINGS), said(12, CLAMPS)]
    undone = undo_event(events, id_=uid(20), when=WHEN + timedelta(hours=1), who="", source="undo")
    assert (undone.value, undone.parents) == (None, (uid(12),))
    again = undo_event([*events, undone], id_=uid(21), when=WHEN + timedelta(hours=2), who="", source="undo")
    assert used(*events, undone, again) == used(*events)


def test_takers_in_a_ring_hold_and_a_null_that_names_nothing_does_nothing() -> None:
    ring = [said(13, None, 11, 14), said(14, None, 13), said(11, COUPLINGS)]
    assert used(*ring) == {}
    assert used(said(11, COUPLINGS), said(12, None), said(13, None, 13)) == {"coupling": 2}


def test_a_value_of_a_later_version_adds_nothing_and_breaks_nothing() -> None:
    assert used(said(11, COUPLINGS), said(12, {"cost": 7})) == {"coupling": 2}
    assert state_of(said(11, {"on": "moon"}, field="dig")).dig is None


@given(
    st.lists(st.tuples(st.integers(0, 3), st.lists(st.integers(0, 11), max_size=3)), min_size=1, max_size=12),
    st.randoms(use_true_random=False),
)
def test_any_order_and_repetition_of_a_merge_leaves_the_same_total(
    visits: list[tuple[int, list[int]]], chance: Any
) -> None:
    events = [
        said(number, [{"part": "clamp", "quantity": count}] if count else None, *parents)
        for number, (count, parents) in enumerate(visits)
    ]
    mixed = events * 2
    chance.shuffle(mixed)
    assert standing(mixed) == standing(events)
    assert state_of(*mixed) == state_of(*events)


@given(st.integers(1, 9))
def test_a_chain_of_takers_counts_by_parity(chain: int) -> None:
    """Independent route: a visit with one taker after another counts when their number is even."""
    events = [said(0, COUPLINGS), *(said(number, None, number - 1) for number in range(1, chain + 1))]
    assert bool(used(*events)) == (chain % 2 == 0)


def test_the_flag_in_the_ground_clashes_as_a_status_does() -> None:
    both = [said(11, "set", field="ground_flag"), said(12, "pulled", 11, field="ground_flag")]
    assert (state_of(*both).ground_flag, state_of(*both).clashes) == ("pulled", ())
    other = state_of(*both, said(13, "set", 11, field="ground_flag"))
    assert other.clashes == (Clash(field="ground_flag", values=("set", "pulled")),)
    assert state_of(said(11, "fixed", field="status")).ground_flag is None


def test_the_hole_and_the_photos_are_part_of_the_state() -> None:
    photo = {"file": f"photos/{FLAG}.jpg"}
    hole = {"on": "drip", "drip": "B", "lateral": 4, "station_m": 12.5}
    state = state_of(
        said(11, photo, field="photo"),
        said(12, {"file": "/etc/x"}, field="photo"),
        said(13, hole, field="dig"),
    )
    assert state.photos == (f"photos/{FLAG}.jpg",)
    assert state.dig == DripSpot(drip="B", lateral=4, station_m=12.5)
    assert state_of(said(11, photo, field="photo"), said(12, None, 11, field="photo")).photos == ()


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("2x coupling 1-3/8 in", {"coupling 1-3/8 in": 2}),
        ("3 X clamp ;; 12 V battery", {"clamp": 3, "12 V battery": 1}),
        ("10\u00d7 cople", {"cople": 10}),
        ("2x4 brace", {"2x4 brace": 1}),
    ],
)
def test_parts_as_people_say_them(text: str, parts: dict[str, int]) -> None:
    assert {row["part"]: row["quantity"] for row in parse_parts(text)} == parts


@pytest.mark.parametrize(
    "text", ["", " ; ", "2x", "clamp; 2 x ", "0x clamp", "200000x clamp", "x" * 201, ";".join(["a"] * 101)]
)
def test_parts_that_cannot_be(text: str) -> None:
    with pytest.raises(
        SeasonError, match=r'parts: found ".*"; allowed: up to 100 parts such as "2x coupling'
    ):
        parse_parts(text)


def test_a_part_is_a_name_and_a_count() -> None:
    assert state_of(said(11, COUPLINGS)).parts == (UsedPart(part="coupling", quantity=2),)

"""Merging logs is union: any order, any repetition, any clocks give the same flags."""

from __future__ import annotations

import tempfile
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from hypothesis import given
from hypothesis import strategies as st

from ringrow.farm.events import Event, event_from_json, event_to_json
from ringrow.farm.folding import fold, heads
from ringrow.farm.season import open_season

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ringrow.farm.flag_model import FlagState

START = datetime(2026, 4, 1, tzinfo=UTC)
VALUES = {
    "status": ["open", "fixed", "checked", "not-a-fault"],
    "note": ["", "wet", "wet and soft"],
    "kind": ["leak", "burrow"],
    "work": [{"hours": 2}, [1, None]],
    "parts": [None, [{"part": "tube", "quantity": 1}], [{"part": "Tube", "quantity": 2}]],
    "ground_flag": ["set", "pulled"],
    "spot": [None, {"on": "well", "well": "Home well"}],
}


def uid(number: int) -> str:
    return f"00000000-0000-4000-8000-{number:012d}"


@st.composite
def logs(draw: st.DrawFn) -> list[Event]:
    """Events of a few flags, each of which may have seen any others, by clocks that are wrong."""
    events = []
    for number in range(draw(st.integers(1, 12))):
        field = draw(st.sampled_from(sorted(VALUES)))
        events.append(
            Event(
                id=uid(number),
                flag=uid(1000 + draw(st.integers(0, 2))),
                field=field,
                value=draw(st.sampled_from(VALUES[field])),
                when=START + timedelta(minutes=draw(st.integers(-3, 3))),
                who=draw(st.sampled_from(["", "one", "two"])),
                source="test",
                parents=tuple(
                    sorted({uid(parent) for parent in draw(st.lists(st.integers(0, 14), max_size=3))})
                ),
            )
        )
    return events


def unnumbered(states: Sequence[FlagState]) -> list[FlagState]:
    """States without their local number, which is no part of what is merged."""
    return sorted((replace(state, number=0) for state in states), key=lambda state: state.id)


@given(st.data(), logs())
def test_any_order_and_repetition_of_files_gives_the_same_flags(
    data: st.DataObject, events: list[Event]
) -> None:
    expected = unnumbered(fold(events, {}))
    order = data.draw(st.permutations([*events, *data.draw(st.lists(st.sampled_from(events), max_size=5))]))
    cut = data.draw(st.integers(0, len(order)))
    with tempfile.TemporaryDirectory() as folder, open_season(Path(folder) / "s.db", create=True) as season:
        for part in (order[:cut], order[cut:], order[:cut]):
            with season.writing():
                season.append(part)
        assert unnumbered(season.states()) == expected
        assert {event.id for event in season.events()} == {event.id for event in events}
        # Numbers: one each, from 1 up, without a gap.
        assert sorted(season.numbers().values()) == list(range(1, len(expected) + 1))


@given(logs())
def test_every_event_comes_back_equal_from_json(events: list[Event]) -> None:
    assert [event_from_json(event_to_json(event)) for event in events] == events


@given(logs())
def test_what_is_shown_is_a_head_and_nothing_newer_stands(events: list[Event]) -> None:
    for flag in {event.flag for event in events}:
        for field in {event.field for event in events if event.flag == flag}:
            own = [event for event in events if (event.flag, event.field) == (flag, field)]
            standing = heads(own)
            # Brute force over pairs: a head is named by no other; when all are named, all stand.
            unnamed = [one for one in own if not any(one.id in two.parents for two in own if two is not one)]
            assert {event.id for event in standing} == {event.id for event in (unnamed or own)}
            assert all((standing[0].when, standing[0].id) >= (event.when, event.id) for event in standing)

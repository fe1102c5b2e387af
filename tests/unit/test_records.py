"""Records in the season log: said, corrected, taken back, merged; never a flag."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from itertools import count, permutations

import pytest

from ringrow.errors import SeasonError
from ringrow.farm.events import check_value
from ringrow.farm.flags import Stamp
from ringrow.farm.folding import fold, is_record
from ringrow.farm.records import fold_records, record_event
from ringrow.farm.season import open_season

START = datetime(2026, 4, 1, 12, tzinfo=UTC)
_ids = count(1)


def stamp(minutes: int = 0, who: str = "Ana") -> Stamp:
    return Stamp(
        when=START + timedelta(minutes=minutes),
        who=who,
        source="test",
        new_id=lambda: f"00000000-0000-4000-8000-{next(_ids):012d}",
    )


def test_a_record_is_said_corrected_and_taken_back() -> None:
    first = record_event("reading", {"system": "Windmill pivot", "volts": 476}, stamp=stamp())
    second = record_event(
        "reading",
        {"system": "Windmill pivot", "volts": 467},
        stamp=stamp(5),
        subject=first.flag,
        seen=[first],
    )
    (record,) = fold_records([second, first])
    assert (record.type, record.value["volts"], record.when, record.clashes) == ("reading", 467, START, ())
    gone = record_event("reading", {}, stamp=stamp(9), subject=first.flag, seen=[first, second])
    taken_back = type(gone)(**{name: getattr(gone, name) for name in gone.__slots__} | {"value": None})
    assert fold_records([first, second, taken_back]) == []


def test_two_corrections_that_did_not_see_each_other_clash_in_any_order() -> None:
    first = record_event("reading", {"volts": 476}, stamp=stamp())
    one = record_event("reading", {"volts": 467}, stamp=stamp(5), subject=first.flag, seen=[first])
    two = record_event("reading", {"volts": 470}, stamp=stamp(6), subject=first.flag, seen=[first])
    folded = {str(fold_records(order)) for order in permutations([first, one, two])}
    assert len(folded) == 1
    (record,) = fold_records([two, one, first])
    assert record.value["volts"] == 470
    assert record.clashes == ({"volts": 467, "type": "reading"},)


def test_a_record_is_no_flag_takes_no_number_and_cannot_hide_a_flag(tmp_path) -> None:
    event = record_event("reading", {"volts": 476}, stamp=stamp())
    with open_season(tmp_path / "season.db", create=True) as season:
        with season.writing():
            appended = season.append([event])
        assert (appended.added, appended.new_flags, season.numbers()) == (1, (), {})
        assert season.states() == []
        assert [record.id for record in fold_records(season.events())] == [event.flag]
    assert fold([event], {}) == []
    assert not is_record({"record", "status"})


@pytest.mark.parametrize("value", [{}, {"type": ""}, {"type": 7}, {"type": "x" * 201}, [], "reading", 3])
def test_a_record_of_no_type_is_refused(value: object) -> None:
    event = record_event("reading", {}, stamp=stamp())
    broken = type(event)(**{name: getattr(event, name) for name in event.__slots__} | {"value": value})
    with pytest.raises(SeasonError, match="an object with a type"):
        check_value(broken)

"""What a round has seen, as plain data under the keys of the JSON output."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ringrow.farm.events import when_text
from ringrow.handoff.reading_words import judged_words, reading_record
from ringrow.handoff.round_words import item_words

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from ringrow.equipment.checklists import CheckItem
    from ringrow.farm.flag_model import FlagState
    from ringrow.farm.rounds import ItemState, Look, PartState, Round, RoundBook, SystemRound
    from ringrow.units import UnitSystem


def round_record(round_: Round | None) -> dict[str, Any] | None:
    """Return a round as plain data.

    Parameters
    ----------
    round_ : Round or None
        The round.

    Returns
    -------
    dict or None
        Id, name, when and by whom it was started, when it was ended.
    """
    if round_ is None:
        return None
    return {
        "id": round_.id,
        "name": round_.name,
        "started": when_text(round_.started),
        "who": round_.who,
        "ended": None if round_.ended is None else when_text(round_.ended),
    }


def book_record(book: RoundBook, states: Mapping[str, FlagState], units: UnitSystem) -> dict[str, Any]:
    """Return what a round has seen as plain data.

    Parameters
    ----------
    book : RoundBook
        The round.
    states : mapping of str to FlagState
        Flags by UUID.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    dict
        ``round``, ``systems``, and ``open_readings``: those outside their limits, also from before it.
    """
    return {
        "round": round_record(book.current),
        "systems": [system_record(found, states, units) for found in book.systems],
        "open_readings": [reading_record(each, units) for each in book.open_readings],
    }


def system_record(found: SystemRound, states: Mapping[str, FlagState], units: UnitSystem) -> dict[str, Any]:
    """Return how a system stands in a round as plain data.

    Parameters
    ----------
    found : SystemRound
        The system in the round.
    states : mapping of str to FlagState
        Flags by UUID.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    dict
        Name, kind, items, what is missing, what failed, looks, exceptions, readings.
    """
    return {
        "name": found.system.name,
        "kind": found.system.kind,
        "looked_at": [{"when": when_text(when), "who": who} for when, who in found.looked_at],
        "items": [_item_record(state) for state in found.items],
        "missing": [{"item": state.item.id, "parts": _named(state.missing)} for state in found.missing],
        "failed": [_failed_record(item, part, units) for item, part in found.failed],
        "looks": [look_record(look, states) for look in found.looks],
        "readings": [reading_record(each, units) for each in found.readings],
    }


def _named(parts: Sequence[str]) -> list[str]:
    return [part for part in parts if part]


def _item_record(state: ItemState) -> dict[str, Any]:
    return {
        "item": state.item.id,
        "words": item_words(state.item.id, state.item.words),
        "how": state.item.how,
        "per": state.item.per,
        "answer": state.answer,
        "parts": [
            {
                "part": part.part or None,
                "answer": part.answer,
                "said": part.said,
                "when": None if part.when is None else when_text(part.when),
                "who": part.who,
                "record": part.record or None,
            }
            for part in state.parts
        ],
    }


def _failed_record(item: CheckItem, part: PartState, units: UnitSystem) -> dict[str, Any]:
    failed = part.failed
    return {
        "item": item.id,
        "part": part.part or None,
        "said": judged_words(part.reading, units) if part.reading else part.said,
        "why": failed.why or None if failed else None,
        "next": failed.next_step or None if failed else None,
        "whose": failed.whose or None if failed else None,
        "needed_by": failed.needed_by or None if failed else None,
        "when": None if part.when is None else when_text(part.when),
        "who": part.who,
        "record": part.record,
    }


def look_record(look: Look, states: Mapping[str, FlagState]) -> dict[str, Any]:
    """Return a look as plain data.

    Parameters
    ----------
    look : Look
        The look.
    states : mapping of str to FlagState
        Flags by UUID.

    Returns
    -------
    dict
        What it says, and the flags it set with their numbers and status.
    """
    return {
        "id": look.id,
        "when": when_text(look.when),
        "who": look.who,
        "parts": list(look.parts),
        "items": look.answers,
        "nothing_seen": look.nothing_seen,
        "except": [
            {
                "said": said,
                "flag": flag,
                "number": states[flag].number if flag in states else None,
                "status": states[flag].status if flag in states else None,
            }
            for said, flag in look.exceptions
        ],
        "note": look.note,
        "clashes": list(look.clashes),
    }

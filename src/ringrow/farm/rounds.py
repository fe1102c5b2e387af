"""Rounds: one walk over everything, kept by exception, and what it has and has not seen.

A round, and each look at a system in it, is a record in the season log. A look says "good" of
many items at once and names what was not; what was never said stays missing.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import TYPE_CHECKING, Any

from ringrow.farm.readings import judge, time_of
from ringrow.farm.round_model import (
    Answer,
    Failed,
    ItemState,
    Look,
    PartState,
    Round,
    RoundBook,
    SystemRound,
    book_in_zone,
    round_in_zone,
)
from ringrow.farm.system_checks import items_of, parts_for, things_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from datetime import datetime

    from ringrow.equipment.checklists import CheckItem
    from ringrow.farm.model import Farm
    from ringrow.farm.readings import JudgedReading
    from ringrow.farm.records import Record

__all__ = [
    "ANSWERS",
    "EARLY",
    "LOOK",
    "ROUND",
    "WHOSE",
    "Answer",
    "Failed",
    "ItemState",
    "Look",
    "PartState",
    "Round",
    "RoundBook",
    "SystemRound",
    "book_in_zone",
    "look_of",
    "round_book",
    "round_in_zone",
    "rounds_of",
]

ROUND, LOOK = "round", "look"
"""Types of the records."""
WHOSE: tuple[str, ...] = ("us", "dealer", "electrician", "well-driller", "supplier")
"""Whose the next step can be when a try failed."""
ANSWERS: tuple[str, ...] = ("good", "bad", "none")
"""What can be said of an item: it is good, it is not, there is none of it here."""
EARLY = timedelta(days=1)
"""A reading up to this long before a round was started counts in it: days have no hour in a notebook."""


def round_book(farm: Farm, records: Iterable[Record], *, round_id: str | None = None) -> RoundBook:
    """Return what a round has seen of a farm and what not.

    Parameters
    ----------
    farm : Farm
        The farm.
    records : iterable of Record
        Records of its season log; what makes no sense is passed over.
    round_id : str or None, default None
        UUID of the round; None for the open one, or the one that was started last.

    Returns
    -------
    RoundBook
        Of every system the items that are due, what was said of them by whom and when, what is
        missing and what failed. Of what was said twice the later stands.
    """
    known = list(records)
    rounds = rounds_of(known)
    current = _chosen(rounds, round_id)
    looks = [] if current is None else _looks_in(known, current, rounds)
    judged = judge(farm, known)
    readings = [] if current is None else _readings_in(judged, current, rounds)
    systems = []
    for system, thing in things_of(farm):
        own = tuple(look for look in looks if look.system in system.names and look.kind in ("", system.kind))
        read = tuple(each for each in readings if each.system == system.name and each.kind == system.kind)
        items = tuple(
            _item_state(item, parts_for(thing, item.per), own, read) for item in items_of(farm, system, thing)
        )
        systems.append(SystemRound(system=system, items=items, looks=own, readings=read))
    return RoundBook(
        current=current,
        rounds=tuple(rounds),
        systems=tuple(systems),
        open_readings=tuple(
            each
            for each in judged
            if each.latest and each.ok is False and _before_the_next(each.when, current, rounds)
        ),
    )


def rounds_of(records: Iterable[Record]) -> list[Round]:
    """Return every round of a log.

    Parameters
    ----------
    records : iterable of Record
        Records of the log.

    Returns
    -------
    list of Round
        By the time they were started.
    """
    rounds = []
    for record in records:
        name = record.value.get("name")
        if record.type == ROUND and isinstance(name, str):
            ended = _moment(record, "ended")
            rounds.append(
                Round(id=record.id, name=name, started=time_of(record), who=record.who, ended=ended)
            )
    return sorted(rounds, key=lambda each: (each.started, each.id))


def _moment(record: Record, key: str) -> datetime | None:
    from ringrow.errors import SeasonError
    from ringrow.farm.events import parse_when

    text = record.value.get(key)
    if not isinstance(text, str):
        return None
    try:
        return parse_when(text)
    except SeasonError:
        return record.when


def _chosen(rounds: Sequence[Round], round_id: str | None) -> Round | None:
    if round_id is not None:
        return next((each for each in rounds if each.id == round_id), None)
    still_open = [each for each in rounds if each.ended is None] or list(rounds)
    if not still_open:
        return None
    # Two copies of a log that were joined may each have started the same round.
    name = still_open[-1].name.casefold()
    return replace(
        still_open[-1], started=min(each.started for each in rounds if each.name.casefold() == name)
    )


def _looks_in(records: Iterable[Record], current: Round, rounds: Sequence[Round]) -> list[Look]:
    looks = [(look_of(record), record) for record in records if record.type == LOOK]
    found = [
        (look, record.when)
        for look, record in looks
        if look is not None and _belongs(record, look.when, current, rounds)
    ]
    # Two looks dated the same day are both of its noon: the one that was said later stands.
    return [look for look, _said in sorted(found, key=lambda pair: (pair[0].when, pair[1], pair[0].id))]


def _readings_in(
    readings: Iterable[JudgedReading], current: Round, rounds: Sequence[Round]
) -> list[JudgedReading]:
    return [each for each in readings if _belongs(each.record, each.when, current, rounds)]


def _belongs(record: Record, when: datetime, current: Round, rounds: Sequence[Round]) -> bool:
    """Return whether a record was said in a round: as it says itself, else by its time."""
    names = {each.id: each.name.casefold() for each in rounds}
    home = names.get(_text(record.value, "round"))
    return _falls_in(when, current, rounds) if home is None else home == current.name.casefold()


def _falls_in(when: datetime, current: Round, rounds: Sequence[Round]) -> bool:
    """Return whether a moment belongs to a round: from a day before it starts until the next one does."""
    return current.started - EARLY <= when and _before_the_next(when, current, rounds)


def _before_the_next(when: datetime, current: Round | None, rounds: Sequence[Round]) -> bool:
    if current is None:
        return True
    own = current.name.casefold()
    later = [
        each.started for each in rounds if each.started > current.started and each.name.casefold() != own
    ]
    return not later or when < min(later) - EARLY


def look_of(record: Record) -> Look | None:
    """Return the look that a record describes.

    Parameters
    ----------
    record : Record
        A record, its value not trusted.

    Returns
    -------
    Look or None
        The look; None when it names no system.
    """
    value = record.value
    if record.type != LOOK or not isinstance(value.get("system"), str):
        return None
    parts = (*_texts(value.get("towers")), *_texts(value.get("zones")))
    answers = value.get("items")
    told = answers.items() if isinstance(answers, dict) else ()
    exceptions = value.get("except")
    return Look(
        id=record.id,
        system=value["system"],
        kind=str(value.get("kind", "")),
        when=time_of(record),
        who=record.who,
        parts=parts,
        answers={
            item: answer
            for item, answer in told
            if isinstance(answer, dict) and answer.get("answer") in ANSWERS
        },
        nothing_seen=value.get("nothing_seen") is True,
        exceptions=tuple(
            (str(each.get("said", "")), str(each.get("flag", "")))
            for each in (exceptions if isinstance(exceptions, list) else [])
            if isinstance(each, dict)
        ),
        note=_text(value, "note"),
        clashes=record.clashes,
    )


def _texts(value: Any) -> tuple[str, ...]:
    return tuple(each for each in value if isinstance(each, str)) if isinstance(value, list) else ()


def _text(value: Mapping[str, Any], key: str) -> str:
    text = value.get(key)
    return text if isinstance(text, str) else ""


def _item_state(
    item: CheckItem, parts: Sequence[str], looks: Sequence[Look], readings: Sequence[JudgedReading]
) -> ItemState:
    if item.how == "read":
        return ItemState(item=item, parts=tuple(_read_part(item, part, readings) for part in parts))
    return ItemState(item=item, parts=tuple(_looked_part(item, part, looks) for part in parts))


def _read_part(item: CheckItem, part: str, readings: Sequence[JudgedReading]) -> PartState:
    own = [each for each in readings if each.item == item.id and each.zone == part and each.latest]
    if not own:
        own = [each for each in readings if each.item == item.id and each.zone == part][-1:]
    if not own:
        return PartState(part=part, answer=None)
    # Idle and walking are both read: the one outside speaks.
    reading = next((each for each in own if each.ok is False), own[-1])
    answer: Answer = "read" if reading.ok is None else "good" if reading.ok else "bad"
    return PartState(
        part=part,
        answer=answer,
        said=reading.said,
        when=reading.when,
        who=reading.who,
        record=reading.record.id,
        reading=reading,
    )


def _looked_part(item: CheckItem, part: str, looks: Sequence[Look]) -> PartState:
    for look in reversed(looks):
        said = look.answers.get(item.id)
        if look.parts and part and part not in look.parts:
            continue
        # Who has looked at towers has not looked at what is asked of the whole machine.
        seen = look.nothing_seen and item.how == "look" and (bool(part) or not look.parts)
        if said is not None or seen:
            told = said or {"answer": "good"}
            answer: Answer = told["answer"]
            failed = _failed(told) if answer == "bad" else None
            return PartState(
                part=part,
                answer=answer,
                said=_text(told, "said"),
                when=look.when,
                who=look.who,
                record=look.id,
                failed=failed,
            )
    return PartState(part=part, answer=None)


def _failed(told: Mapping[str, Any]) -> Failed:
    return Failed(
        why=_text(told, "why"),
        next_step=_text(told, "next"),
        whose=_text(told, "whose"),
        needed_by=_text(told, "needed_by"),
    )

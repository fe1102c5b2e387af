"""Rounds: one walk over everything, kept by exception, and what it has and has not seen.

A round, and each look at a system in it, is a record in the season log. A look says "good" of
many items at once and names what was not; what was never said stays missing.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import timedelta
from typing import TYPE_CHECKING, Any, Literal

from ringrow.farm.readings import judge, time_of
from ringrow.farm.system_checks import items_of, parts_for, things_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from datetime import datetime, tzinfo

    from ringrow.equipment.checklists import CheckItem
    from ringrow.farm.model import Farm
    from ringrow.farm.readings import JudgedReading
    from ringrow.farm.records import Record
    from ringrow.farm.systems import FarmSystem

ROUND, LOOK = "round", "look"
"""Types of the records."""
WHOSE: tuple[str, ...] = ("us", "dealer", "electrician", "well-driller", "supplier")
"""Whose the next step can be when a try failed."""
ANSWERS: tuple[str, ...] = ("good", "bad", "none")
"""What can be said of an item: it is good, it is not, there is none of it here."""
EARLY = timedelta(days=1)
"""A reading up to this long before a round was started counts in it: days have no hour in a notebook."""

Answer = Literal["good", "bad", "none", "read"]
"""How an item stands: as said of it, or read and not judged."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Round:
    """One walk over everything.

    Parameters
    ----------
    id : str
        UUID of its record.
    name : str
        What it is called.
    started : datetime
        When, UTC.
    who : str
        Who started it.
    ended : datetime or None, default None
        When it was ended, UTC; None while it is open.
    """

    id: str
    name: str
    started: datetime
    who: str
    ended: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Failed:
    """What is to become of a try that failed; a part that nobody has said is empty.

    Parameters
    ----------
    why, next_step : str, default ""
        Why it failed; what is done next.
    whose : str, default ""
        Whose that is, one of `WHOSE`.
    needed_by : str, default ""
        Date by which it is needed, year-month-day.
    """

    why: str = ""
    next_step: str = ""
    whose: str = ""
    needed_by: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PartState:
    """How one item of one tower, zone or system stands in a round.

    Parameters
    ----------
    part : str
        Tower or zone; empty for the system as a whole.
    answer : {"good", "bad", "none", "read"} or None
        What was last said of it; None when nobody has looked.
    said : str, default ""
        The words it was said in, or what was read.
    when : datetime or None, default None
        When, UTC.
    who : str, default ""
        Who.
    record : str, default ""
        Id of the record that says so.
    failed : Failed or None, default None
        For what is not good: what is to become of it.
    reading : JudgedReading or None, default None
        For an item that is read: the reading.
    """

    part: str
    answer: Answer | None
    said: str = ""
    when: datetime | None = None
    who: str = ""
    record: str = ""
    failed: Failed | None = None
    reading: JudgedReading | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ItemState:
    """How one item of a checklist stands in a round.

    Parameters
    ----------
    item : CheckItem
        The item.
    parts : tuple of PartState
        Each tower or zone, or the system as a whole.
    """

    item: CheckItem
    parts: tuple[PartState, ...]

    @property
    def missing(self) -> tuple[str, ...]:
        """Towers or zones nobody has looked at; one empty name for the system as a whole."""
        return tuple(state.part for state in self.parts if state.answer is None)

    @property
    def bad(self) -> tuple[PartState, ...]:
        """What is not good."""
        return tuple(state for state in self.parts if state.answer == "bad")

    @property
    def answer(self) -> Answer | None:
        """Bad if any part is; else None while any part is missing; else as its parts say."""
        if self.bad:
            return "bad"
        return None if self.missing else next((state.answer for state in self.parts), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """One look at a system.

    Parameters
    ----------
    id, system, kind : str
        UUID of its record; name and kind of the system.
    when : datetime
        When, UTC.
    who : str
        Who.
    parts : tuple of str
        Towers or zones it was limited to; empty for the whole system.
    answers : dict of str to dict
        What it says of each item, as its record has it.
    nothing_seen : bool
        Whether everything else that is looked at was good.
    exceptions : tuple of tuple of str
        Words of each exception and the UUID of its flag.
    note : str
        Anything else that was said.
    clashes : tuple of dict, default ()
        What stands against it: two people corrected it without seeing each other's correction.
    """

    id: str
    system: str
    kind: str
    when: datetime
    who: str
    parts: tuple[str, ...]
    answers: dict[str, dict[str, Any]]
    nothing_seen: bool
    exceptions: tuple[tuple[str, str], ...]
    note: str
    clashes: tuple[dict[str, Any] | None, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SystemRound:
    """How one system stands in a round.

    Parameters
    ----------
    system : FarmSystem
        The system.
    items : tuple of ItemState
        Its checklist.
    looks : tuple of Look
        Looks at it in this round, by time.
    readings : tuple of JudgedReading
        Readings of it in this round, by time.
    """

    system: FarmSystem
    items: tuple[ItemState, ...]
    looks: tuple[Look, ...]
    readings: tuple[JudgedReading, ...]

    @property
    def missing(self) -> tuple[ItemState, ...]:
        """Items of which something is not yet looked at, tried or read."""
        return tuple(state for state in self.items if state.missing)

    @property
    def failed(self) -> tuple[tuple[CheckItem, PartState], ...]:
        """What was looked at, tried or read and is not good."""
        return tuple((state.item, part) for state in self.items for part in state.bad)

    @property
    def looked_at(self) -> tuple[tuple[datetime, str], ...]:
        """When and by whom something was said of it, by time."""
        looks = {(look.when, look.who) for look in self.looks}
        return tuple(sorted(looks | {(reading.when, reading.who) for reading in self.readings}))


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundBook:
    """Everything said in one round.

    Parameters
    ----------
    current : Round or None
        The round: the open one, else the one that was started last; None before the first.
    rounds : tuple of Round
        Every round, by the time it was started.
    systems : tuple of SystemRound
        Every system of the farm; without a round nothing of it is seen yet.
    open_readings : tuple of JudgedReading, default ()
        Readings outside their limits that no later one has put right, also from before the round.
    """

    current: Round | None
    rounds: tuple[Round, ...]
    systems: tuple[SystemRound, ...]
    open_readings: tuple[JudgedReading, ...] = ()

    def outside(self, found: SystemRound) -> tuple[JudgedReading, ...]:
        """Return open readings of a system that its checklist does not show.

        Parameters
        ----------
        found : SystemRound
            One of `systems`.

        Returns
        -------
        tuple of JudgedReading
            By time.
        """
        shown = {part.record for _item, part in found.failed}
        own = (found.system.name, found.system.kind)
        return tuple(
            each
            for each in self.open_readings
            if (each.system, each.kind) == own and each.record.id not in shown
        )


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
        open_readings=tuple(each for each in judged if each.latest and each.ok is False),
    )


def book_in_zone(book: RoundBook, zone: tzinfo) -> RoundBook:
    """Return a round book whose times are those of a zone, for people to read.

    Parameters
    ----------
    book : RoundBook
        The book.
    zone : tzinfo
        The farm's zone.

    Returns
    -------
    RoundBook
        The same moments.
    """
    systems = tuple(
        replace(
            found,
            looks=tuple(replace(look, when=look.when.astimezone(zone)) for look in found.looks),
            readings=tuple(replace(each, when=each.when.astimezone(zone)) for each in found.readings),
        )
        for found in book.systems
    )
    current = None if book.current is None else round_in_zone(book.current, zone)
    return replace(book, current=current, systems=systems)


def round_in_zone(round_: Round, zone: tzinfo) -> Round:
    """Return a round whose times are those of a zone, for people to read.

    Parameters
    ----------
    round_ : Round
        The round.
    zone : tzinfo
        The farm's zone.

    Returns
    -------
    Round
        The same moments.
    """
    ended = None if round_.ended is None else round_.ended.astimezone(zone)
    return replace(round_, started=round_.started.astimezone(zone), ended=ended)


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
    looks = [(look_of(record), _text(record.value, "round")) for record in records if record.type == LOOK]
    names = {each.id: each.name.casefold() for each in rounds}
    own = current.name.casefold()
    found = [
        look
        for look, home in looks
        if look is not None
        and (names[home] == own if home in names else _falls_in(look.when, current, rounds))
    ]
    return sorted(found, key=lambda look: (look.when, look.id))


def _readings_in(
    readings: Iterable[JudgedReading], current: Round, rounds: Sequence[Round]
) -> list[JudgedReading]:
    return [each for each in readings if _falls_in(each.when, current, rounds)]


def _falls_in(when: datetime, current: Round, rounds: Sequence[Round]) -> bool:
    """Return whether a moment belongs to a round: from a day before it starts until the next one does."""
    own = current.name.casefold()
    later = [
        each.started for each in rounds if each.started > current.started and each.name.casefold() != own
    ]
    return current.started - EARLY <= when and not (later and when >= min(later) - EARLY)


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

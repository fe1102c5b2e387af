"""What a round has seen: the round, looks at systems, and how each item of a checklist stands."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Literal

from ringrow.farm.systems import local_time

if TYPE_CHECKING:
    from datetime import datetime, tzinfo

    from ringrow.equipment.checklists import CheckItem
    from ringrow.farm.readings import JudgedReading
    from ringrow.farm.systems import FarmSystem

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
        Whose that is, such as ``dealer``.
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
            looks=tuple(replace(look, when=local_time(look.when, zone)) for look in found.looks),
            readings=tuple(replace(each, when=local_time(each.when, zone)) for each in found.readings),
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
    ended = None if round_.ended is None else local_time(round_.ended, zone)
    return replace(round_, started=local_time(round_.started, zone), ended=ended)

"""Entries of a round: what one line, or one row of a table, says of a system.

An entry is checked in full before anything is written, so that a table comes in whole or not
at all.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, tzinfo
from typing import TYPE_CHECKING, Any

from ringrow.errors import PlaceError, SeasonError
from ringrow.farm.events import MAX_NAME, MAX_NOTE, parse_when, when_text
from ringrow.farm.flags import checked_text
from ringrow.farm.names import find_named
from ringrow.farm.reading_kinds import number_of, reading_named
from ringrow.farm.readings import READING
from ringrow.farm.round_words import (
    parse_answer,
    parse_day,
    parse_exception,
    parse_moment,
    parse_parts,
    parse_whose,
)
from ringrow.farm.rounds import EARLY, LOOK
from ringrow.farm.system_checks import items_of, parts_for, things_of
from ringrow.farm.systems import by_every_name

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import datetime

    from ringrow.coverage.field import FieldLayout
    from ringrow.farm.model import Farm
    from ringrow.farm.round_words import ExceptionFlag
    from ringrow.farm.system_checks import Thing
    from ringrow.farm.systems import FarmSystem

_TOLD = {"next": "next step", "needed_by": "needed by"}
MOST_EXCEPTIONS = 50
"""Most exceptions of one entry."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """What is said of one system at one time.

    Parameters
    ----------
    type : {"look", "reading"}
        Type of the record.
    system : FarmSystem
        The system.
    value : dict
        Value of the record, without its round and the ids of flags.
    flags : tuple of ExceptionFlag, default ()
        Flags that it sets.
    """

    type: str
    system: FarmSystem
    value: dict[str, Any]
    flags: tuple[ExceptionFlag, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SaidOfLook:
    """What a person said of a system, in their own words; what was not said is empty.

    Parameters
    ----------
    towers, zones : str, default ""
        Towers or zones it is limited to.
    nothing_seen : bool, default False
        Whether everything else that is looked at was good.
    items : tuple of tuple of str, default ()
        Pairs of an item, or several between commas, and what was said of it.
    exceptions : tuple of str, default ()
        What was not good; then the rest was.
    why, next_step, whose, needed_by : str, default ""
        Of what was tried and failed; where nothing was, of what was looked at and is not good.
    note : str, default ""
        Anything else.
    at : str, default ""
        When, as written.
    """

    towers: str = ""
    zones: str = ""
    nothing_seen: bool = False
    items: tuple[tuple[str, str], ...] = ()
    exceptions: tuple[str, ...] = ()
    why: str = ""
    next_step: str = ""
    whose: str = ""
    needed_by: str = ""
    note: str = ""
    at: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SaidOfReading:
    """What a person read, in their own words.

    Parameters
    ----------
    item : str
        Kind of reading.
    number : str
        Number and unit.
    unit : str, default ""
        Unit where the number has none.
    zone : str, default ""
        Zone it was read of.
    walking : bool or None, default None
        Whether the machine was walking.
    qualified : bool, default False
        Whether a qualified person read it.
    note : str, default ""
        Anything else.
    at : str, default ""
        When, as written.
    """

    item: str
    number: str
    unit: str = ""
    zone: str = ""
    walking: bool | None = None
    qualified: bool = False
    note: str = ""
    at: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundDesk:
    """What entries are checked against.

    Parameters
    ----------
    farm : Farm
        The farm.
    layouts : sequence of FieldLayout
        Its fields, as far as they are laid out.
    things : dict of str to tuple
        System, and what it is made of, by every name it goes by.
    zone : tzinfo
        The farm's zone, for times that name none.
    now : datetime or None, default None
        The moment, UTC; then what is said of the future is refused, row by row of a table.
    """

    farm: Farm
    layouts: Sequence[FieldLayout]
    things: dict[str, tuple[FarmSystem, Thing]]
    zone: tzinfo
    now: datetime | None = None


def round_desk(
    farm: Farm, layouts: Sequence[FieldLayout], *, zone: tzinfo = UTC, now: datetime | None = None
) -> RoundDesk:
    """Return what entries are checked against.

    Parameters
    ----------
    farm : Farm
        The farm.
    layouts : sequence of FieldLayout
        Its fields, as far as they are laid out: all for a table, none for one line.
    zone : tzinfo, default UTC
        The farm's zone, for times that name none.
    now : datetime or None, default None
        The moment, UTC; None where what is said of the future is refused when it is kept.

    Returns
    -------
    RoundDesk
        A well that has the name of a machine goes by that name with ``(well)`` behind it.
    """
    things = by_every_name((pair[0], pair) for pair in things_of(farm))
    return RoundDesk(farm=farm, layouts=layouts, things=things, zone=zone, now=now)


def look_entry(desk: RoundDesk, name: str, said: SaidOfLook) -> Entry:
    """Return the entry of a look at a system.

    Parameters
    ----------
    desk : RoundDesk
        The farm.
    name : str
        The system.
    said : SaidOfLook
        What was said.

    Returns
    -------
    Entry
        The entry, checked in full.

    Raises
    ------
    PlaceError
        If a system, tower, zone, item, answer, exception or date cannot be, or nothing was said.
    SeasonError
        If a text is too long, or the time is still to come.
    """
    farm = desk.farm
    system, thing = find_named(desk.things, name or "?", what="system")
    if not (said.items or said.nothing_seen or said.exceptions):
        message = (
            f'look at "{system.name}": found nothing said of it; allowed: --nothing-seen, --item ITEM=ANSWER '
            "or --except"
        )
        raise PlaceError(message)
    if len(said.exceptions) > MOST_EXCEPTIONS:
        message = f"exceptions: found {len(said.exceptions)}; allowed: up to {MOST_EXCEPTIONS} in one line"
        raise PlaceError(message)
    answers = _answers(farm, system, thing, said)
    towers = parse_parts(said.towers, thing, "tower", system=system.name) if said.towers else ()
    zones = parse_parts(said.zones, thing, "zone", system=system.name) if said.zones else ()
    tower = towers[0] if len(towers) == 1 else ""
    flags = tuple(
        parse_exception(text, farm, desk.layouts, system, thing, tower=tower) for text in said.exceptions
    )
    value: dict[str, Any] = {"system": system.name, "kind": system.kind}
    value |= {"towers": list(towers)} if towers else {}
    value |= {"zones": list(zones)} if zones else {}
    value |= {"items": answers} if answers else {}
    # "Except" says that the rest was good.
    value |= {"nothing_seen": True} if said.nothing_seen or flags else {}
    value |= _common(desk, system, said.note, said.at)
    return Entry(type=LOOK, system=system, value=value, flags=flags)


def _answers(farm: Farm, system: FarmSystem, thing: Thing, said: SaidOfLook) -> dict[str, dict[str, Any]]:
    items = {item.id: item for item in items_of(farm, system, thing)}
    own = {id_: id_ for id_ in items}
    answers: dict[str, dict[str, Any]] = {}
    for names, text in said.items:
        for name in names.split(","):
            id_ = find_named(own, name.strip() or "?", what=f'item of "{system.name}"', most=len(own))
            if items[id_].how == "read":
                message = f"{id_}: is read, not looked at; say the number with: ringrow reading add"
                raise PlaceError(message)
            answers[id_] = parse_answer(text, item=id_)
    failed = _failed(said)
    bad = [id_ for id_, answer in answers.items() if answer["answer"] == "bad"]
    if failed and not bad:
        told = ", ".join(_TOLD.get(key, key) for key in failed)
        message = f"{told}: found without an item that is not good; allowed: beside --item ITEM=no"
        raise PlaceError(message)
    # Why an engine does not start is not why its oil is low.
    for id_ in [id_ for id_ in bad if items[id_].how == "try"] or bad:
        answers[id_] |= failed
    return answers


def _failed(said: SaidOfLook) -> dict[str, str]:
    """Return what is to become of a try that failed, as far as it was said."""
    told = {
        "why": checked_text(said.why.strip(), what="why", longest=MAX_NOTE),
        "next": checked_text(said.next_step.strip(), what="next step", longest=MAX_NOTE),
        "whose": parse_whose(said.whose) if said.whose.strip() else "",
        "needed_by": parse_day(said.needed_by, what="needed by") if said.needed_by.strip() else "",
    }
    return {key: text for key, text in told.items() if text}


def _common(desk: RoundDesk, system: FarmSystem, note: str, at: str) -> dict[str, str]:
    value = {"note": checked_text(note.strip(), what="note", longest=MAX_NOTE)} if note.strip() else {}
    value |= {"at": when_text(parse_moment(at, what="at", zone=desk.zone))} if at.strip() else {}
    if desk.now is not None:
        check_past(value, what=f'"{system.name}"', now=desk.now)
    return value


def check_past(value: Mapping[str, Any], *, what: str, now: datetime) -> None:
    """Refuse what is said of the future: it would outlive every later word.

    Parameters
    ----------
    value : mapping of str to object
        Value of a record.
    what : str
        What it is about, for the message.
    now : datetime
        The moment, UTC; a day more is let pass, since a day alone is taken as its noon.

    Raises
    ------
    SeasonError
        If its time is still to come.
    """
    at = value.get("at")
    if isinstance(at, str) and parse_when(at) > now + EARLY:
        message = (
            f"at: found {at[:10]} for {what}, which is still to come; allowed: up to today, {now:%Y-%m-%d}"
        )
        raise SeasonError(message)


def reading_entry(desk: RoundDesk, name: str, said: SaidOfReading) -> Entry:
    """Return the entry of a reading.

    Parameters
    ----------
    desk : RoundDesk
        The farm.
    name : str
        The system.
    said : SaidOfReading
        What was read.

    Returns
    -------
    Entry
        The entry, checked in full.

    Raises
    ------
    PlaceError
        If a system, zone or kind of reading cannot be, or line volts were not read by a qualified person.
    DomainError
        If a number or its unit cannot be.
    SeasonError
        If a text is too long, or the time is still to come.
    """
    system, thing = find_named(desk.things, name or "?", what="system")
    kind = reading_named(said.item, system.kind)
    if kind.count > 1 and not said.qualified:
        message = (
            f"{kind.id}: are probed inside an open panel, and no farmhand is asked to do that; found no "
            "--by-qualified; allowed: a reading that a qualified person (an electrician) took, said so with "
            "--by-qualified; the meter on the closed door is read as: volts"
        )
        raise PlaceError(message)
    if kind.id == "volts" and said.walking is None and system.kind != "well":
        message = (
            f'volts of "{system.name}": found neither walking nor idle; allowed: --walking or --idle, since '
            "the motors pull the volts down"
        )
        raise PlaceError(message)
    values = number_of(said.number, kind, unit=said.unit)
    text = said.number.strip()
    text = (
        text
        if any(sign.isalpha() or sign == "°" for sign in text) or not said.unit
        else f"{text} {said.unit}"
    )
    value: dict[str, Any] = {"system": system.name, "kind": system.kind, "item": kind.id}
    value[kind.quantity.key] = list(values) if kind.count > 1 else values[0]
    value["said"] = checked_text(text, what="reading", longest=MAX_NAME)
    value |= {} if said.walking is None else {"walking": said.walking}
    value |= {"qualified": True} if said.qualified else {}
    value |= _zone(thing, said.zone, system, by_zone=kind.by_zone)
    value |= _common(desk, system, said.note, said.at)
    return Entry(type=READING, system=system, value=value)


def _zone(thing: Thing, zone: str, system: FarmSystem, *, by_zone: bool) -> dict[str, str]:
    known = parts_for(thing, "zone")
    if not by_zone or not known:
        if zone.strip():
            message = f'zone: found "{zone[:40]}" for a reading of the whole "{system.name}"; leave it out'
            raise PlaceError(message)
        return {}
    return {"zone": find_named({name: name for name in known}, zone.strip(), what=f'zone of "{system.name}"')}

"""Keeping rounds, looks and readings in the season log; all of an entry lands, or nothing."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from ringrow.errors import SeasonError
from ringrow.farm.events import MAX_NAME, RECORD, clean_text, when_text
from ringrow.farm.flags import checked_text, first_events
from ringrow.farm.folding import by_field, is_record
from ringrow.farm.records import fold_records, record_event
from ringrow.farm.round_entries import check_past
from ringrow.farm.rounds import LOOK, ROUND, Round, rounds_of
from ringrow.farm.spot_values import spot_to_json
from ringrow.farm.undo import undo_event

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from ringrow.farm.events import Event
    from ringrow.farm.flags import Stamp
    from ringrow.farm.round_entries import Entry
    from ringrow.farm.round_words import ExceptionFlag
    from ringrow.farm.season import Season

_LEAST_PREFIX = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """What became of an entry.

    Parameters
    ----------
    id : str
        UUID of its record.
    flags : tuple of str
        UUIDs of the flags it set, in the order of its exceptions.
    new : bool, default True
        False when the log had it already.
    """

    id: str
    flags: tuple[str, ...]
    new: bool = True


def start_round(season: Season, name: str, *, stamp: Stamp, at: datetime | None = None) -> Round:
    """Start a round; it is on disk when this returns.

    Parameters
    ----------
    season : Season
        Open log.
    name : str
        What it is called, such as ``Spring 2027``.
    stamp : Stamp
        Who starts it and when.
    at : datetime or None, default None
        When it was started; None for now.

    Returns
    -------
    Round
        The round.

    Raises
    ------
    SeasonError
        If the name is empty, too long or taken, the time is still to come, another round is open, or
        the log cannot be written.
    """
    name = " ".join(checked_text(name, what="name of a round", longest=80).split())
    if not name:
        message = 'name of a round: found nothing; allowed: up to 80 letters, such as "Spring 2027"'
        raise SeasonError(message)
    value: dict[str, Any] = {"name": name}
    value |= {"at": when_text(at)} if at is not None else {}
    check_past(value, what=f'round "{name}"', now=stamp.when)
    event = record_event(ROUND, value, stamp=_clean(stamp))
    with season.writing():
        rounds = rounds_of(fold_records(season.events()))
        standing = next((each for each in rounds if each.ended is None), None)
        if standing is not None:
            message = (
                f'round "{_shown(standing.name)}" is still open; end it first with: ringrow round end, '
                "or go on in it"
            )
            raise SeasonError(message)
        if any(each.name.casefold() == name.casefold() for each in rounds):
            message = f'name of a round: found "{name}", which there is already; allowed: a name of its own'
            raise SeasonError(message)
        season.append([event])
        known = rounds_of(fold_records(season.events()))
    return next(each for each in known if each.id == event.flag)


def end_round(season: Season, *, stamp: Stamp) -> Round:
    """End the round that is open; it can be taken back.

    Parameters
    ----------
    season : Season
        Open log.
    stamp : Stamp
        Who ends it and when.

    Returns
    -------
    Round
        The round.

    Raises
    ------
    SeasonError
        If no round is open or the log cannot be written.
    """
    stamp = _clean(stamp)
    with season.writing():
        events = season.events()
        current, records = open_round(events), fold_records(events)
        # Two copies of a log that were joined may each have started the same round; it ends once.
        name = current.name.casefold()
        twins = {
            each.id for each in rounds_of(records) if each.ended is None and each.name.casefold() == name
        }
        for record in records:
            if record.id in twins:
                own = [event for event in events if event.flag == record.id]
                value = {**record.value, "ended": when_text(stamp.when), "ended_by": stamp.who}
                season.append([record_event(ROUND, value, stamp=stamp, subject=record.id, seen=own)])
        known = rounds_of(fold_records(season.events()))
    return next(each for each in known if each.id == current.id)


def open_round(events: Sequence[Event]) -> Round:
    """Return the round that is open.

    Parameters
    ----------
    events : sequence of Event
        Events of the log.

    Returns
    -------
    Round
        The one that was started last.

    Raises
    ------
    SeasonError
        If none is open.
    """
    standing = [each for each in rounds_of(fold_records(events)) if each.ended is None]
    if not standing:
        message = 'round: found none open; start one with: ringrow round start FARM --name "Spring 2027"'
        raise SeasonError(message)
    return standing[-1]


def round_id_for(entries: Sequence[Entry], events: Sequence[Event]) -> str:
    """Return the id of the round in which entries are said.

    Parameters
    ----------
    entries : sequence of Entry
        Entries; looks need a round that is open, readings do not.
    events : sequence of Event
        Events of the log.

    Returns
    -------
    str
        UUID of the round that is open; empty for readings when none is.

    Raises
    ------
    SeasonError
        If there is a look and no round is open.
    """
    if any(each.type == LOOK for each in entries):
        return open_round(events).id
    standing = [each for each in rounds_of(fold_records(events)) if each.ended is None]
    return standing[-1].id if standing else ""


def find_round(rounds: Sequence[Round], name: str) -> Round:
    """Return the round of a name.

    Parameters
    ----------
    rounds : sequence of Round
        Every round.
    name : str
        Its name, or the first characters of its id.

    Returns
    -------
    Round
        The round.

    Raises
    ------
    SeasonError
        If there is none.
    """
    plain = " ".join(name.casefold().split())
    for each in rounds:
        if each.name.casefold() == plain or (len(plain) >= _LEAST_PREFIX and each.id.startswith(plain)):
            return each
    allowed = ", ".join(f'"{_shown(each.name)}"' for each in rounds[-12:]) or "none was started yet"
    message = f'round: found "{name[:60]}"; allowed: {allowed}'
    raise SeasonError(message)


def _shown(name: str) -> str:
    """Return a name, which may have come from another log, as it can stand in a message."""
    return "".join(letter for letter in name if letter.isprintable())[:60]


def keep_entries(
    season: Season,
    entries: Sequence[Entry],
    *,
    stamps: Sequence[Stamp],
    subjects: Sequence[str] | None = None,
    correct: str | None = None,
) -> list[Kept]:
    """Keep looks, readings and the flags they set; all of them or, on an error, none.

    Parameters
    ----------
    season : Season
        Open log.
    entries : sequence of Entry
        Entries, checked; looks, and readings of a table, go to the round that is open; a reading
        alone goes by its time, and what is corrected stays where it was.
    stamps : sequence of Stamp
        Who says each of them and when.
    subjects : sequence of str or None, default None
        UUIDs of their records, for entries of a table that may come in again: one that the log
        has already is left alone. None for new ones.
    correct : str or None, default None
        First characters of the id of the record that the only entry takes the place of.

    Returns
    -------
    list of Kept
        One for each entry.

    Raises
    ------
    SeasonError
        If no round is open for a look, a time is still to come, the record to be corrected is not
        there or speaks of something else, a text is too long, or the log cannot be written.
    """
    kept = []
    with season.writing():
        events = season.events()
        round_id = "" if correct is not None else round_id_for(entries, events)
        known = {event.flag for event in events}
        for number, (entry, stamp) in enumerate(zip(entries, stamps, strict=True)):
            check_past(entry.value, what=f'"{entry.system.name}"', now=stamp.when)
            subject = None if subjects is None else subjects[number]
            if subject in known:
                kept.append(Kept(id=str(subject), flags=(), new=False))
                continue
            seen: list[Event] = []
            if correct is not None:
                subject, seen = find_record(events, correct, types=(entry.type,))
            home = round_id if entry.type == LOOK or subjects is not None else ""
            kept.append(_keep(season, entry, home, subject, seen, stamp=_clean(stamp)))
    return kept


def _keep(
    season: Season, entry: Entry, round_id: str, subject: str | None, seen: list[Event], *, stamp: Stamp
) -> Kept:
    former: dict[str, Any] = next((each.value for each in fold_records(seen)), {})
    # A correction says what was said, not when or in which round, unless it says that too.
    value = {key: former[key] for key in ("round", "at") if key in former} | entry.value
    if round_id:
        value["round"] = round_id
    flags = tuple(stamp.new_id() for _ in entry.flags)
    for flag, exception in zip(flags, entry.flags, strict=True):
        season.append(_flag_events(flag, exception, entry, stamp=stamp))
    # What a corrected look had set are flags of their own by now, and stay named.
    named = list(former["except"]) if isinstance(former.get("except"), list) else []
    named += [{"said": each.said, "flag": flag} for each, flag in zip(entry.flags, flags, strict=True)]
    value |= {"except": named} if named else {}
    event = record_event(entry.type, value, stamp=stamp, subject=subject, seen=seen)
    season.append([event])
    return Kept(id=event.flag, flags=flags)


def _flag_events(flag: str, exception: ExceptionFlag, entry: Entry, *, stamp: Stamp) -> list[Event]:
    values = {
        "spot": spot_to_json(exception.spot),
        "kind": exception.kind,
        "note": checked_text(f"{entry.system.name}: {exception.said}", what="exception", longest=2000),
    }
    return first_events(flag, values, when=stamp.when, who=stamp.who, source=stamp.source)


def _clean(stamp: Stamp) -> Stamp:
    who = checked_text(stamp.who, what="who", longest=MAX_NAME)
    return replace(stamp, who=who, source=clean_text(stamp.source)[:MAX_NAME])


def find_record(events: Sequence[Event], ref: str, *, types: Sequence[str]) -> tuple[str, list[Event]]:
    """Return the record that a person means, also one that was taken back.

    Parameters
    ----------
    events : sequence of Event
        Events of the log.
    ref : str
        At least the first four characters of its id.
    types : sequence of str
        Types it may have.

    Returns
    -------
    subject : str
        Its UUID.
    own : list of Event
        Its events.

    Raises
    ------
    SeasonError
        If no such record, or more than one, fits.
    """
    text = ref.strip().lower()
    found = {
        subject: fields[RECORD]
        for subject, fields in by_field(events).items()
        if is_record(fields)
        and len(text) >= _LEAST_PREFIX
        and subject.startswith(text)
        and any(isinstance(each.value, dict) and each.value.get("type") in types for each in fields[RECORD])
    }
    if len(found) == 1:
        return next(iter(found.items()))
    what = " or ".join(types)
    if found:
        message = f'{what} "{ref[:40]}": the ids of {len(found)} begin so; give more of the id'
        raise SeasonError(message)
    message = (
        f'{what} "{ref[:40]}": not in this season; allowed: the first {_LEAST_PREFIX} or more characters of '
        "an id, as shown when it was kept and by --json"
    )
    raise SeasonError(message)


def undo_record(season: Season, ref: str, *, types: Sequence[str], stamp: Stamp) -> tuple[Any, Any]:
    """Take back what was last said in a record; taken back twice, it stands again.

    Parameters
    ----------
    season : Season
        Open log.
    ref : str
        First characters of its id.
    types : sequence of str
        Types it may have.
    stamp : Stamp
        Who takes it back and when.

    Returns
    -------
    before, after : object
        Its value before and after; None where it is taken back as a whole.

    Raises
    ------
    SeasonError
        If there is no such record or the log cannot be written.
    """
    stamp = _clean(stamp)
    with season.writing():
        subject, own = find_record(season.events(), ref, types=types)
        standing = {each.id: each.value for each in fold_records(own)}
        event = undo_event(own, id_=stamp.new_id(), when=stamp.when, who=stamp.who, source=stamp.source)
        season.append([event])
    return standing.get(subject), event.value

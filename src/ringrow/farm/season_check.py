"""What is wrong with a season log, and what is odd in it; and saving what a damaged one still holds."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

from ringrow.errors import SeasonError
from ringrow.farm.events import EARLIEST, KNOWN_FIELDS, check_value, when_text
from ringrow.farm.season import Season, event_of_row, read_rows
from ringrow.farm.season_disk import connect, file_faults, lay_out_log, log_exists, no_log, plain_errors
from ringrow.farm.season_pages import read_pages
from ringrow.farm.whole_files import placed_whole

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import datetime
    from pathlib import Path

    from ringrow.farm.events import Event

_MOST_FAULTS = 100
_AHEAD = timedelta(days=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing found in a season log.

    Parameters
    ----------
    what : str
        ``damage``, ``number``, ``value``, ``parent``, ``field`` or ``clock``.
    text : str
        What was found, in words.
    event, flag, field : str, default ""
        The event it is about; empty when it is about the file.
    """

    what: str
    text: str
    event: str = ""
    flag: str = ""
    field: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LogReport:
    """What a look through a season log found.

    Parameters
    ----------
    events : int
        Events whose content matches their fingerprint.
    flags : int
        Flags that they speak of.
    damage : tuple of Finding
        What is broken; empty when the log can be used.
    oddities : tuple of Finding
        What is whole but worth knowing.
    """

    events: int
    flags: int
    damage: tuple[Finding, ...]
    oddities: tuple[Finding, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Salvage:
    """What was saved from a damaged log.

    Parameters
    ----------
    events : tuple of Event
        Every event that is whole, by time.
    lost : tuple of Finding
        What else the file shows it held.
    numbers : dict of str to int
        Local numbers of flags that could be read.
    """

    events: tuple[Event, ...]
    lost: tuple[Finding, ...]
    numbers: dict[str, int]


def check_log(path: Path, *, now: datetime) -> LogReport:
    """Look through a season log: file, rows, numbers, parents, kinds of event, clocks.

    Parameters
    ----------
    path : Path
        The file; it is not changed.
    now : datetime
        The present moment, UTC: an event may not lie ahead of it.

    Returns
    -------
    LogReport
        All that was found.

    Raises
    ------
    SeasonError
        If there is no log, it is locked, or it belongs to another program or a newer version.
    """
    if not log_exists(path):
        raise no_log(path)
    damage = _file_damage(path)
    if damage:
        saved = salvaged(path)
        flags = {event.flag for event in saved.events}
        return LogReport(
            events=len(saved.events),
            flags=len(flags),
            damage=(*damage, *saved.lost),
            oddities=tuple(_oddities(saved.events, now=now)),
        )
    with plain_errors(path):
        connection = connect(path)
        try:
            rows = read_rows(connection)
            numbers = dict(connection.execute("SELECT flag, number FROM flag_number").fetchall())
        finally:
            connection.close()
    read = [(row, event_of_row(row)) for row in rows]
    events = [event for _, event in read if event is not None]
    broken = [_broken(row) for row, event in read if event is None]
    return LogReport(
        events=len(events),
        flags=len({event.flag for event in events}),
        damage=tuple(broken),
        oddities=(*_number_faults(events, numbers), *_oddities(events, now=now)),
    )


def _file_damage(path: Path) -> list[Finding]:
    try:
        with plain_errors(path):
            connection = connect(path)
            try:
                faults = file_faults(connection, path, at_most=_MOST_FAULTS)
            finally:
                connection.close()
    except SeasonError as error:
        if "damaged" not in str(error):
            raise
        faults = [str(error)]
    for fault in faults:
        if "some other program" in fault or "newer ringrow" in fault:
            message = f"{path}: {fault}"
            raise SeasonError(message)
    return [Finding(what="damage", text=fault) for fault in faults]


def _broken(row: Sequence[object]) -> Finding:
    id_, flag, field = (str(part) for part in row[:3])
    text = f'event {id_} ("{field}" of flag {flag}) does not match its fingerprint'
    return Finding(what="damage", text=text, event=id_, flag=flag, field=field)


def _number_faults(events: Sequence[Event], numbers: Mapping[str, int]) -> list[Finding]:
    flags = {event.flag for event in events}
    return [
        Finding(what="number", text=f"flag {flag} has no number in this log", flag=flag)
        for flag in sorted(flags - set(numbers))
    ]


def _oddities(events: Sequence[Event], *, now: datetime) -> list[Finding]:
    return [
        *_odd_values(events),
        *_missing_parents(events),
        *_unknown_fields(events),
        *_odd_clocks(events, now=now),
    ]


def _odd_values(events: Sequence[Event]) -> list[Finding]:
    found = []
    for event in events:
        try:
            check_value(event)
        except SeasonError as error:
            found.append(_about(event, "value", str(error)))
    return found


def _missing_parents(events: Sequence[Event]) -> list[Finding]:
    there = {event.id for event in events}
    return [
        _about(
            event,
            "parent",
            f'event {event.id} ("{event.field}" of flag {event.flag}) was said in answer to event {parent}, '
            "which is not in this log: another copy of the log, or a phone's file, has not been merged yet",
        )
        for event in events
        for parent in event.parents
        if parent not in there
    ]


def _unknown_fields(events: Sequence[Event]) -> list[Finding]:
    counts = Counter(event.field for event in events if event.field not in KNOWN_FIELDS)
    return [
        Finding(
            what="field",
            text=f'{count:,} event{"s" if count > 1 else ""} about "{field}", which this version does not '
            "know; kept as they are",
            field=field,
        )
        for field, count in sorted(counts.items())
    ]


def _odd_clocks(events: Sequence[Event], *, now: datetime) -> list[Finding]:
    by_id = {event.id: event for event in events}
    found = []
    for event in events:
        name = f'event {event.id} ("{event.field}" of flag {event.flag})'
        seen = [by_id[parent] for parent in event.parents if parent in by_id]
        if event.when > now + _AHEAD:
            found.append(_about(event, "clock", f"{name} is dated {when_text(event.when)}, which lies ahead"))
        elif event.when < EARLIEST:
            found.append(
                _about(event, "clock", f"{name} is dated {when_text(event.when)}, before the year 2000")
            )
        elif any(event.when < parent.when for parent in seen):
            text = (
                f"{name} is dated before an event that it answers: some clock was wrong; "
                "their order follows from the answers"
            )
            found.append(_about(event, "clock", text))
    return found


def _about(event: Event, what: str, text: str) -> Finding:
    return Finding(what=what, text=text, event=event.id, flag=event.flag, field=event.field)


def salvaged(path: Path) -> Salvage:
    """Return every event that a damaged log still holds whole, and name the rest.

    Parameters
    ----------
    path : Path
        The file, in any state; it is not changed.

    Returns
    -------
    Salvage
        What could be read, and what the file shows that could not.

    Raises
    ------
    SeasonError
        If the file cannot be read at all.
    """
    try:
        found = read_pages(path.read_bytes())
    except OSError as error:
        message = f"{path}: the season log cannot be read ({error.strerror})"
        raise SeasonError(message) from error
    events: dict[str, Event] = {}
    broken: dict[str, Finding] = {}
    for row in found.rows:
        event = event_of_row(row)
        if event is None:
            broken[str(row[0])] = _broken(row)
        else:
            events[event.id] = event
    flags = {event.flag for event in events.values()} | set(found.numbers)
    flags |= {flag for flag, _ in found.fields.values()}
    for id_, at in found.labels.items():
        if id_ not in flags and id_ not in events and id_ not in broken:
            flag, field = found.fields.get(at, ("", ""))
            name = f'event {id_} ("{field}" of flag {flag})' if flag else f"event {id_}"
            text = f"{name} could not be read"
            broken[id_] = Finding(what="damage", text=text, event=id_, flag=flag, field=field)
    lost = [finding for id_, finding in broken.items() if id_ not in events]
    return Salvage(
        events=tuple(sorted(events.values(), key=lambda event: (event.when, event.id))),
        lost=tuple(sorted(lost, key=lambda finding: (finding.flag, finding.event))),
        numbers=_numbers(found.numbers, {flag: found.labels[flag] for flag in flags & set(found.labels)}),
    )


def _numbers(stated: Mapping[str, int], indexed: Mapping[str, int]) -> dict[str, int]:
    """Return numbers of flags on which table and index do not disagree, each used once."""
    agreed = {**indexed, **stated}
    sure = {flag: number for flag, number in agreed.items() if indexed.get(flag, number) == number}
    counts = Counter(sure.values())
    return {flag: number for flag, number in sure.items() if number > 0 and counts[number] == 1}


def salvage_log(path: Path, target: Path, *, overwrite: bool) -> Salvage:
    """Write every event that can be read to a new log; the damaged one stays as it is.

    Parameters
    ----------
    path : Path
        The damaged log.
    target : Path
        The new log.
    overwrite : bool
        Whether `target` may be replaced.

    Returns
    -------
    Salvage
        What was saved and what was not.

    Raises
    ------
    SeasonError
        If nothing can be read, or two logs are one file.
    FileError
        If `target` is there already or cannot be written.
    """
    if target.exists() and path.exists() and target.samefile(path):
        message = f"{target}: that is the damaged log itself; allowed: another file name"
        raise SeasonError(message)
    saved = salvaged(path)
    if not saved.events:
        message = f"{path}: no event could be read from it; nothing was written"
        raise SeasonError(message)
    with placed_whole(target, overwrite=overwrite) as part:
        lay_out_log(part, shown=target)
        with plain_errors(target):
            connection = connect(part)
        try:
            season = Season(path=target, connection=connection)
            with season.writing():
                season.keep_numbers(saved.numbers)
                season.append(saved.events, from_log=True)
        finally:
            connection.close()
    return saved

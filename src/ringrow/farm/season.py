"""The season log: ``season.db``, an SQLite file of events that are only ever added.

A roll-back journal, not a write-ahead log: a farm folder is copied and synced while open,
and a copy that misses the write-ahead file would miss its last events. An event is on
disk, with its folder entry, before the call that adds it returns.
"""

from __future__ import annotations

import json
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from ringrow.errors import SeasonError
from ringrow.farm.events import RECORD, Event, canonical, check_value, digest, parse_when, when_text
from ringrow.farm.folding import fold
from ringrow.farm.same_fault import joined_states
from ringrow.farm.season_disk import (
    BUSY_S,
    KEEP,
    SCHEMA,
    connect,
    log_exists,
    no_log,
    plain_errors,
    prepare,
    start_log,
)

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Iterator, Mapping, Sequence
    from pathlib import Path

    from ringrow.farm.flag_model import FlagState

__all__ = [
    "BUSY_S",
    "SCHEMA",
    "SEASON_FILE",
    "Appended",
    "Season",
    "open_season",
    "read_events",
    "read_states",
]

SEASON_FILE = "season.db"
"""Name of the log in a farm's folder."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Appended:
    """What became of events that were handed to the log.

    Parameters
    ----------
    added, already : int
        Events that were new; events that were there with the same content.
    new_flags : tuple of str
        Flags that entered this log, in the order of their numbers.
    """

    added: int
    already: int
    new_flags: tuple[str, ...]


@dataclass(slots=True, kw_only=True)
class Season:
    """An open season log; made by `open_season`.

    Parameters
    ----------
    path : Path
        The file.
    connection : sqlite3.Connection
        Connection in autocommit mode.
    checked : bool, default False
        Whether every event was seen to match its fingerprint since the log was opened.
    """

    path: Path
    connection: sqlite3.Connection
    checked: bool = False

    @contextmanager
    def writing(self) -> Iterator[None]:
        """Hold the only write lock for a block; all of it lands on disk, or nothing.

        A block inside a block is part of it: nothing lands before the outer one ends.

        Yields
        ------
        None
            The block runs inside one transaction.

        Raises
        ------
        SeasonError
            If another program holds the lock for too long, the disk refuses, or an event that
            is there does not match its fingerprint.
        """
        if self.connection.in_transaction:
            yield
            return
        with plain_errors(self.path):
            self.connection.execute("BEGIN IMMEDIATE")
            try:
                # A damaged log is left as it is: what is added to it would have to be saved from it.
                if not self.checked:
                    self.events()
                yield
                self.connection.execute("COMMIT")
            except BaseException:
                # A failed COMMIT (full disk) may have rolled back by itself.
                if self.connection.in_transaction:
                    self.connection.execute("ROLLBACK")
                raise

    def append(self, events: Sequence[Event], *, from_log: bool = False) -> Appended:
        """Add events inside a `writing` block; those already there are left alone.

        Parameters
        ----------
        events : sequence of Event
            Events from anywhere, in any order, any of them more than once.
        from_log : bool, default False
            Whether they stood in a season log before: a value that this version does not know is
            then no fault, for a newer version may have written it.

        Returns
        -------
        Appended
            What was new and what was there.

        Raises
        ------
        SeasonError
            If an id is there already with different content, a known field has a value it cannot
            have, or no `writing` block is open.
        """
        if not self.connection.in_transaction:
            message = f"{self.path}: events can only be added inside a writing block"
            raise SeasonError(message)
        new_flags: list[str] = []
        added = 0
        for event in events:
            if not from_log:
                check_value(event)
            if self._is_there(event):
                continue
            self.connection.execute("INSERT INTO event VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)", _row(event))
            added += 1
            if event.field == RECORD:
                # A record is no flag and takes no number.
                continue
            entered = self.connection.execute(
                "INSERT INTO flag_number (flag) SELECT ? WHERE NOT EXISTS "
                "(SELECT 1 FROM flag_number WHERE flag = ?)",
                (event.flag, event.flag),
            )
            new_flags += [event.flag] if entered.rowcount else []
        return Appended(added=added, already=len(events) - added, new_flags=tuple(new_flags))

    def keep_numbers(self, numbers: Mapping[str, int]) -> None:
        """Give flags the local numbers they had in another copy of this log, inside a `writing` block.

        Parameters
        ----------
        numbers : mapping of str to int
            Number of each flag. One that is taken here, and a flag that has a number here, are left out.
        """
        self.connection.executemany(
            "INSERT OR IGNORE INTO flag_number (flag, number) VALUES (?, ?)",
            list(numbers.items()),
        )

    def _is_there(self, event: Event) -> bool:
        found = self.connection.execute("SELECT digest FROM event WHERE id = ?", (event.id,)).fetchone()
        if found is not None and found[0] != digest(event):
            message = (
                f'event {event.id} ("{event.field}" of flag {event.flag}): found two different contents '
                "under one id; allowed: one; a file was changed by hand, nothing was taken from it"
            )
            raise SeasonError(message)
        return found is not None

    def events(self, *, flag: str | None = None) -> list[Event]:
        """Return the events of the log, or of one flag, in the order they came in.

        Parameters
        ----------
        flag : str or None, default None
            UUID of one flag; None for all.

        Returns
        -------
        list of Event
            Every event.

        Raises
        ------
        SeasonError
            If an event's content does not match its fingerprint.
        """
        with plain_errors(self.path):
            rows = read_rows(self.connection, flag=flag)
            events = [_event(row, self.path) for row in rows]
            self.checked = self.checked or flag is None
            return events

    def numbers(self) -> dict[str, int]:
        """Return the local number of every flag."""
        with plain_errors(self.path):
            return dict(self.connection.execute("SELECT flag, number FROM flag_number").fetchall())

    def states(self) -> list[FlagState]:
        """Return every flag as its events leave it, by number; flags that mark one fault as one."""
        events = self.events()
        return joined_states(fold(events, self.numbers()), events)


@contextmanager
def open_season(path: Path, *, create: bool = False, busy_s: float = BUSY_S) -> Iterator[Season]:
    """Open a season log for a block and close it after.

    Parameters
    ----------
    path : Path
        The file, usually ``season.db`` in the farm's folder.
    create : bool, default False
        Whether to start an empty log when there is none.
    busy_s : float, default 10
        How long to wait for another writer. [s]

    Yields
    ------
    Season
        The open log.

    Raises
    ------
    SeasonError
        If the file is missing, damaged, locked, not ours, of a newer schema, or its folder
        cannot be written.
    """
    if not log_exists(path):
        if not create:
            raise no_log(path)
        start_log(path)
    with plain_errors(path):
        connection = connect(path, busy_s=busy_s)
    try:
        with plain_errors(path):
            prepare(connection, path)
        yield Season(path=path, connection=connection)
    finally:
        connection.close()


def read_states(path: Path) -> list[FlagState]:
    """Return every flag of a season log; none when there is no log yet.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    list of FlagState
        By number.

    Raises
    ------
    SeasonError
        If the log cannot be read whole.
    """
    if not log_exists(path):
        return []
    with open_season(path) as season:
        return season.states()


def read_events(path: Path) -> list[Event]:
    """Return every event of a season log; none when there is no log yet.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    list of Event
        In the order they came in.

    Raises
    ------
    SeasonError
        If the log cannot be read whole.
    """
    if not log_exists(path):
        return []
    with open_season(path) as season:
        return season.events()


def _row(event: Event) -> tuple[str, ...]:
    return (
        event.id,
        event.flag,
        event.field,
        canonical(event.value),
        when_text(event.when),
        event.who,
        event.source,
        canonical(list(event.parents)),
        digest(event),
    )


def read_rows(connection: sqlite3.Connection, *, flag: str | None = None) -> list[tuple[Any, ...]]:
    """Return the rows of a log, or of one flag, as stored and in the order they came in.

    Parameters
    ----------
    connection : sqlite3.Connection
        Connection to the log.
    flag : str or None, default None
        UUID of one flag; None for all.

    Returns
    -------
    list of tuple
        Id, flag, field, value, time, who, source, parents and fingerprint of each event.
    """
    return connection.execute(
        "SELECT id, flag, field, value, at, who, source, parents, digest FROM event "
        "WHERE ?1 IS NULL OR flag = ?1 ORDER BY rowid",
        (flag,),
    ).fetchall()


def event_of_row(row: Sequence[Any]) -> Event | None:
    """Return the event that a row holds; None when it does not match its fingerprint.

    Parameters
    ----------
    row : sequence
        What `read_rows` returns, not trusted.

    Returns
    -------
    Event or None
        The event.
    """
    id_, flag, field, value, at, who, source, parents, fingerprint = row
    try:
        event = Event(
            id=id_,
            flag=flag,
            field=field,
            value=json.loads(value),
            when=parse_when(at),
            who=who,
            source=source,
            parents=tuple(json.loads(parents)),
        )
        return event if digest(event) == fingerprint else None
    except (ValueError, TypeError, AttributeError, RecursionError, SeasonError):
        return None


def _event(row: Sequence[Any], path: Path) -> Event:
    event = event_of_row(row)
    if event is None:
        message = (
            f'{path}: event {row[0]} ("{row[2]}" of flag {row[1]}) does not match its fingerprint: '
            f"the season log is damaged; {KEEP}"
        )
        raise SeasonError(message)
    return event

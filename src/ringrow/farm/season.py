"""The season log: ``season.db``, an SQLite file of events that are only ever added.

A roll-back journal, not a write-ahead log: a farm folder is copied and synced while open,
and a copy that misses the write-ahead file would miss its last events. An event is on
disk, with its folder entry, before the call that adds it returns.
"""

from __future__ import annotations

import json
import sqlite3
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from ringrow.errors import SeasonError
from ringrow.farm.events import Event, canonical, check_value, digest, fold, parse_when, when_text

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence
    from pathlib import Path

    from ringrow.farm.flag_model import FlagState

SEASON_FILE = "season.db"
"""Name of the log in a farm's folder."""

BUSY_S = 10.0
"""How long a writer waits for another to finish. [s]"""

# "rrow" in ASCII: tells our file from any other SQLite file (header bytes 68 to 71).
_APPLICATION_ID = 0x72726F77

# One script per schema number, never edited once released: the file's user_version says how many have run.
MIGRATIONS: tuple[tuple[str, ...], ...] = (
    (
        """
        CREATE TABLE event (
            id TEXT PRIMARY KEY NOT NULL,
            flag TEXT NOT NULL,
            field TEXT NOT NULL,
            value TEXT NOT NULL,
            at TEXT NOT NULL,
            who TEXT NOT NULL,
            source TEXT NOT NULL,
            parents TEXT NOT NULL,
            digest TEXT NOT NULL
        ) STRICT
        """,
        "CREATE INDEX event_by_flag ON event (flag, field)",
        """
        CREATE TABLE flag_number (
            number INTEGER PRIMARY KEY AUTOINCREMENT,
            flag TEXT NOT NULL UNIQUE
        ) STRICT
        """,
        """
        CREATE TRIGGER event_is_never_changed BEFORE UPDATE ON event
        BEGIN SELECT RAISE(ABORT, 'events are never changed'); END
        """,
        """
        CREATE TRIGGER event_is_never_removed BEFORE DELETE ON event
        BEGIN SELECT RAISE(ABORT, 'events are never removed'); END
        """,
        f"PRAGMA application_id = {_APPLICATION_ID}",
    ),
)
SCHEMA = len(MIGRATIONS)
"""Schema number that this version writes and reads."""


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
    """

    path: Path
    connection: sqlite3.Connection

    @contextmanager
    def writing(self) -> Iterator[None]:
        """Hold the only write lock for a block; all of it lands on disk, or nothing.

        Yields
        ------
        None
            The block runs inside one transaction.

        Raises
        ------
        SeasonError
            If another program holds the lock for too long, or the disk refuses.
        """
        with _plain_errors(self.path):
            self.connection.execute("BEGIN IMMEDIATE")
            try:
                yield
                self.connection.execute("COMMIT")
            except BaseException:
                # A failed COMMIT (full disk) may have rolled back by itself.
                if self.connection.in_transaction:
                    self.connection.execute("ROLLBACK")
                raise

    def append(self, events: Sequence[Event]) -> Appended:
        """Add events inside a `writing` block; those already there are left alone.

        Parameters
        ----------
        events : sequence of Event
            Events from anywhere, in any order, any of them more than once.

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
            check_value(event)
            if self._is_there(event):
                continue
            self.connection.execute("INSERT INTO event VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)", _row(event))
            entered = self.connection.execute(
                "INSERT INTO flag_number (flag) SELECT ? WHERE NOT EXISTS "
                "(SELECT 1 FROM flag_number WHERE flag = ?)",
                (event.flag, event.flag),
            )
            new_flags += [event.flag] if entered.rowcount else []
            added += 1
        return Appended(added=added, already=len(events) - added, new_flags=tuple(new_flags))

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
        with _plain_errors(self.path):
            rows = self.connection.execute(
                "SELECT id, flag, field, value, at, who, source, parents, digest FROM event "
                "WHERE ?1 IS NULL OR flag = ?1 ORDER BY rowid",
                (flag,),
            ).fetchall()
            return [_event(row, self.path) for row in rows]

    def numbers(self) -> dict[str, int]:
        """Return the local number of every flag."""
        with _plain_errors(self.path):
            return dict(self.connection.execute("SELECT flag, number FROM flag_number").fetchall())

    def states(self) -> list[FlagState]:
        """Return every flag as its events leave it, by number."""
        return fold(self.events(), self.numbers())


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
    if not create and not path.is_file():
        message = f"{path}: no season log there; set a first flag with: ringrow flag add"
        raise SeasonError(message)
    with _plain_errors(path):
        mode = "rwc" if create else "rw"
        connection = sqlite3.connect(
            f"{path.resolve().as_uri()}?mode={mode}", uri=True, timeout=busy_s, isolation_level=None
        )
    try:
        with _plain_errors(path):
            _prepare(connection, path)
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
    if not path.exists():
        return []
    with open_season(path) as season:
        return season.states()


def _prepare(connection: sqlite3.Connection, path: Path) -> None:
    connection.execute("PRAGMA trusted_schema = OFF")
    connection.execute("PRAGMA synchronous = EXTRA")
    _check_sound(connection, path)
    # A new file is in this mode already; a file that some tool turned into write-ahead mode is turned back.
    if connection.execute("PRAGMA journal_mode").fetchone()[0] != "delete":
        connection.execute("PRAGMA journal_mode = DELETE")
    if _version(connection) < SCHEMA:
        _migrate(connection)


def _version(connection: sqlite3.Connection) -> int:
    return int(connection.execute("PRAGMA user_version").fetchone()[0])


def _check_sound(connection: sqlite3.Connection, path: Path) -> None:
    verdict = connection.execute("PRAGMA quick_check(1)").fetchone()[0]
    if verdict != "ok":
        message = f"{path}: the season log is damaged ({verdict}); {_KEEP}"
        raise SeasonError(message)
    # One read transaction: a new log that another process is just laying out is seen empty or whole.
    connection.execute("BEGIN")
    version = _version(connection)
    ours = connection.execute("PRAGMA application_id").fetchone()[0] == _APPLICATION_ID
    tables = connection.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
    connection.execute("COMMIT")
    if version > SCHEMA:
        message = (
            f"{path}: found a season log of schema {version}; allowed: up to {SCHEMA}; "
            "it was written by a newer ringrow, so update this one"
        )
        raise SeasonError(message)
    if not ours and (version or tables):
        message = f"{path}: found a database of some other program; allowed: a ringrow season log"
        raise SeasonError(message)


def _migrate(connection: sqlite3.Connection) -> None:
    connection.execute("BEGIN IMMEDIATE")
    try:
        # Asked again under the lock: another process may just have done it.
        for script in MIGRATIONS[_version(connection) :]:
            for statement in script:
                connection.execute(statement)
        connection.execute(f"PRAGMA user_version = {SCHEMA}")
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise


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


def _event(row: Iterable[Any], path: Path) -> Event:
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
        sound = digest(event) == fingerprint
    except (ValueError, TypeError, SeasonError):
        sound = False
    if not sound:
        message = (
            f'{path}: event {id_} ("{field}" of flag {flag}) does not match its fingerprint: '
            f"the season log is damaged; {_KEEP}"
        )
        raise SeasonError(message)
    return event


_KEEP = "keep the file as it is and put back a copy, or move it aside to start a new log"


@contextmanager
def _plain_errors(path: Path) -> Iterator[None]:
    """Turn what SQLite raises into one clear message."""
    try:
        yield
    except sqlite3.DatabaseError as error:
        message = f"{path}: {_explain(error)}"
        raise SeasonError(message) from error


def _explain(error: sqlite3.DatabaseError) -> str:
    # Primary result codes of https://www.sqlite.org/rescode.html; extended codes keep theirs in the low byte.
    code = (getattr(error, "sqlite_errorcode", None) or 0) & 0xFF
    if code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        return "another program is writing to the season log; try again when it is done"
    if code in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB):
        return f"the season log is damaged ({error}); {_KEEP}"
    if code == sqlite3.SQLITE_FULL:
        return "the disk is full; nothing was written"
    if code in (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_PERM):
        return "the season log or its folder cannot be written; nothing was changed"
    if code == sqlite3.SQLITE_CANTOPEN:
        return "the season log cannot be opened: its folder is missing or may not be written"
    return f"the season log cannot be used ({error})"

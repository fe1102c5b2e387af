"""The file of a season log: its schema, whether it is sound, and what to say when it is not."""

from __future__ import annotations

import sqlite3
from contextlib import contextmanager
from functools import cache
from typing import TYPE_CHECKING

from ringrow.errors import FileError, SeasonError
from ringrow.farm.whole_files import placed_whole

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

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


KEEP = (
    "keep the file as it is, put back a backup (ringrow season restore) or save what can be read "
    "(ringrow season salvage); ringrow season check says more"
)
"""What to do with a damaged log, for messages."""


@contextmanager
def plain_errors(path: Path) -> Iterator[None]:
    """Turn what SQLite raises inside a block into one clear message.

    Parameters
    ----------
    path : Path
        File that the block works on.

    Yields
    ------
    None
        The block runs.

    Raises
    ------
    SeasonError
        If SQLite raises.
    """
    try:
        yield
    except sqlite3.DatabaseError as error:
        message = f"{path}: {_explain(error)}"
        raise SeasonError(message) from error
    except UnicodeDecodeError as error:
        # SQLite quotes its broken schema in its own message, which then cannot be read as text.
        message = f"{path}: the season log is damaged (its schema cannot be read); {KEEP}"
        raise SeasonError(message) from error


def _explain(error: sqlite3.DatabaseError) -> str:
    # Primary result codes of https://www.sqlite.org/rescode.html; extended codes keep theirs in the low byte.
    code = (getattr(error, "sqlite_errorcode", None) or 0) & 0xFF
    if code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        return "another program is writing to the season log; try again when it is done"
    # Our statements are right; when one is refused, the file does not hold what it should.
    if code in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_ERROR):
        return f"the season log is damaged ({error}); {KEEP}"
    if code == sqlite3.SQLITE_FULL:
        return "the disk is full; nothing was written"
    if code == sqlite3.SQLITE_IOERR:
        return f"the disk or folder refuses to be read or written ({error}); nothing was changed"
    if code in (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_PERM):
        return "the season log or its folder cannot be written; nothing was changed"
    if code == sqlite3.SQLITE_CANTOPEN:
        return "the season log cannot be opened: its folder is missing or may not be written"
    return f"the season log cannot be used ({error})"


def no_log(path: Path) -> SeasonError:
    """Return the error of a farm of which nothing was said yet.

    Parameters
    ----------
    path : Path
        Where its log would be.

    Returns
    -------
    SeasonError
        What to do about it.
    """
    begin = "it begins with a first flag or round: ringrow flag add, ringrow round start"
    return SeasonError(f"{path}: no season log there; {begin}")


def log_exists(path: Path) -> bool:
    """Return whether there is a season log, damaged or not.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    bool
        Whether the file is there.

    Raises
    ------
    SeasonError
        If the folder may not be looked into, or only the log's journal is there: then the log
        was moved away, and a new one beside that journal would be spoiled by it.
    """
    try:
        if path.exists():
            return True
        journal = path.with_name(f"{path.name}-journal")
        orphan = journal.exists()
    except OSError as error:
        message = f"{path}: the season log cannot be opened ({error.strerror})"
        raise SeasonError(message) from error
    if orphan:
        message = (
            f"{path}: its journal {journal.name} is there without it; put {path.name} back beside the "
            "journal, or move the journal away"
        )
        raise SeasonError(message)
    return False


def connect(path: Path, *, busy_s: float = BUSY_S) -> sqlite3.Connection:
    """Open the file of a log that is there, without looking at what is in it.

    Parameters
    ----------
    path : Path
        The file.
    busy_s : float, default 10
        How long to wait for another writer. [s]

    Returns
    -------
    sqlite3.Connection
        Connection in autocommit mode.
    """
    connection = sqlite3.connect(
        f"{path.resolve().as_uri()}?mode=rw", uri=True, timeout=busy_s, isolation_level=None
    )
    # Text that a flipped byte made impossible must reach the fingerprint, which then names the event.
    connection.text_factory = lambda raw: raw.decode("utf-8", "replace")
    return connection


def start_log(path: Path) -> None:
    """Make an empty log in one step: nobody sees it half laid out, or as an empty file.

    Parameters
    ----------
    path : Path
        The file.

    Raises
    ------
    SeasonError
        If its folder cannot be written.
    """
    try:
        with placed_whole(path, overwrite=False) as part:
            lay_out_log(part, shown=path)
    except FileError as error:
        # Another process was quicker: its log is as good.
        if not log_exists(path):
            message = (
                f"{path}: a season log cannot be started: its folder is missing or may not be written, "
                f"or the disk is full ({error})"
            )
            raise SeasonError(message) from error


def lay_out_log(path: Path, *, shown: Path) -> None:
    """Turn an empty file into a log without events.

    Parameters
    ----------
    path : Path
        An empty file that nobody else uses.
    shown : Path
        Name that the log will have, for a message.

    Raises
    ------
    SeasonError
        If the disk refuses.
    """
    with plain_errors(shown):
        connection = connect(path)
        try:
            _migrate(connection)
        finally:
            connection.close()


def prepare(connection: sqlite3.Connection, path: Path) -> None:
    """Set up a connection, check the file and bring it to this version's schema.

    Parameters
    ----------
    connection : sqlite3.Connection
        Connection in autocommit mode.
    path : Path
        The file.

    Raises
    ------
    SeasonError
        If the file is not a whole log of this version or an older one.
    """
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
    # Between two processes' transactions the file may look any way; the check sees one moment.
    connection.execute("BEGIN")
    faults = file_faults(connection, path, at_most=1)
    connection.execute("COMMIT")
    if faults:
        message = f"{path}: {faults[0]}"
        raise SeasonError(message)


def file_faults(connection: sqlite3.Connection, path: Path, *, at_most: int) -> list[str]:
    """Return what is wrong with the file of a log, before any event is looked at.

    Parameters
    ----------
    connection : sqlite3.Connection
        Connection to it.
    path : Path
        The file.
    at_most : int
        How many faults of the database's own check to list. [-]

    Returns
    -------
    list of str
        Sentences that also say what to do; empty when the file is whole and ours.
    """
    if path.stat().st_size == 0:
        return [f"the season log is an empty file: what it held is lost or was never written; {KEEP}"]
    version = _version(connection)
    ours = connection.execute("PRAGMA application_id").fetchone()[0] == _APPLICATION_ID
    layout = _layout(connection)
    if not layout:
        return [f"the season log is damaged (there is no table in it); {KEEP}"]
    if not (ours or {name for _, name, _ in layout} >= _LAYOUT_NAMES):
        return ["found a database of some other program; allowed: a ringrow season log"]
    if version > SCHEMA:
        return [
            f"found a season log of schema {version}; allowed: up to {SCHEMA}; "
            "it was written by a newer ringrow, so update this one"
        ]
    wrong = [] if ours else ["its mark as a season log is missing"]
    if not expected_layout(version) <= layout or version < 1:
        wrong.append(f"its tables are not those of schema {version}")
    rows = connection.execute(f"PRAGMA integrity_check({at_most})").fetchall()
    wrong += [text for (text,) in rows if text != "ok"]
    return [f"the season log is damaged ({text}); {KEEP}" for text in wrong]


_LAYOUT_NAMES = {"event", "flag_number"}


def _layout(connection: sqlite3.Connection) -> frozenset[tuple[str, str, str]]:
    rows = connection.execute("SELECT type, name, sql FROM sqlite_master WHERE sql IS NOT NULL").fetchall()
    # Blanks do not count: some versions of SQLite keep those behind a statement, some do not.
    return frozenset((kind, name, " ".join(sql.split())) for kind, name, sql in rows)


@cache
def expected_layout(version: int) -> frozenset[tuple[str, str, str]]:
    """Return the tables, indexes and triggers that a log of some schema holds.

    Parameters
    ----------
    version : int
        Schema number; 0 is a file before its first script.

    Returns
    -------
    frozenset of tuple
        Type, name and SQL text of each.
    """
    connection = sqlite3.connect(":memory:", isolation_level=None)
    try:
        for script in MIGRATIONS[:version]:
            for statement in script:
                connection.execute(statement)
        return _layout(connection)
    finally:
        connection.close()


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

"""Season logs for tests: one as the first version of the schema wrote it, and ways to break files."""

from __future__ import annotations

import sqlite3
import uuid
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

from ringrow.farm.events import Event
from ringrow.farm.season import open_season

if TYPE_CHECKING:
    from pathlib import Path

WHEN = datetime(2026, 4, 2, 13, 5, tzinfo=UTC)

# Written out, not taken from the program: this is what lies on disks since schema 1.
_SCHEMA_1 = """
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
;CREATE INDEX event_by_flag ON event (flag, field);
        CREATE TABLE flag_number (
            number INTEGER PRIMARY KEY AUTOINCREMENT,
            flag TEXT NOT NULL UNIQUE
        ) STRICT
;
"""
_TRIGGERS_1 = (
    """
        CREATE TRIGGER event_is_never_changed BEFORE UPDATE ON event
        BEGIN SELECT RAISE(ABORT, 'events are never changed'); END
        """,
    """
        CREATE TRIGGER event_is_never_removed BEFORE DELETE ON event
        BEGIN SELECT RAISE(ABORT, 'events are never removed'); END
        """,
)
FLAG_1 = "00000000-0000-4000-8000-0000000000f1"
ROWS_1 = (
    (
        "00000000-0000-4000-8000-0000000000e1",
        FLAG_1,
        "spot",
        '{"on":"well","well":"Home well"}',
        "2026-04-02T13:05:00.000000Z",
        "Walker",
        "flag add",
        "[]",
        "55e564d71b61ebe6a0c780d9fd807cae",
    ),
    (
        "00000000-0000-4000-8000-0000000000e2",
        FLAG_1,
        "status",
        '"fixed"',
        "2026-04-03T09:00:00.000001Z",
        "",
        "flag set",
        '["00000000-0000-4000-8000-0000000000e1"]',
        "c1b690f1e96a1d6b8f66a7bb5bd7b517",
    ),
)


def write_schema_1(path: Path) -> Path:
    """Write a log as the first version left it, flag number 7."""
    raw = sqlite3.connect(path, isolation_level=None)
    raw.executescript(_SCHEMA_1)
    for trigger in _TRIGGERS_1:
        raw.execute(trigger)
    raw.executemany("INSERT INTO event VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)", ROWS_1)
    raw.execute("INSERT INTO flag_number VALUES (7, ?)", (FLAG_1,))
    # "rrow" in ASCII, as the file format's application id.
    raw.execute(f"PRAGMA application_id = {int.from_bytes(b'rrow', 'big')}")
    raw.execute("PRAGMA user_version = 1")
    raw.close()
    return path


def make_event(number: int, **changes: Any) -> Event:
    """Return a note; events of four numbers in a row speak of one flag, each having seen the one before."""
    plain: dict[str, Any] = {
        "id": str(uuid.UUID(int=number, version=4)),
        "flag": str(uuid.UUID(int=10**6 + number // 4, version=4)),
        "field": "note",
        "value": f"note {number}",
        "when": WHEN + timedelta(minutes=number),
        "who": "Walker",
        "source": "test",
        "parents": (str(uuid.UUID(int=number - 1, version=4)),) if number % 4 else (),
    }
    return Event(**{**plain, **changes})


def write_log(path: Path, events: list[Event]) -> Path:
    """Write a log of these events."""
    with open_season(path, create=True) as season, season.writing():
        season.append(events)
    return path


def some_events(count: int) -> list[Event]:
    """Return events of every length: some notes run over several pages."""
    long = {5: 9_000, 11: 4_100, 30: 3_990}
    return [
        make_event(number, value=f"note {number} " + "wet " * (long.get(number, 40) // 4))
        for number in range(count)
    ]

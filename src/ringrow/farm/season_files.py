"""Copies of a season log: backup and restore, and the log as lines of JSON."""

from __future__ import annotations

import json
import shutil
import tempfile
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from ringrow.errors import FileError, SeasonError
from ringrow.farm.events import canonical, digest, event_from_json, event_to_json
from ringrow.farm.season import Appended, Season, open_season
from ringrow.farm.season_disk import (
    MIGRATIONS,
    SCHEMA,
    connect,
    log_exists,
    plain_errors,
)
from ringrow.farm.whole_files import placed_whole

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from ringrow.farm.events import Event

MAX_LINE = 2_000_000
"""Longest line of a dump that is read [characters]."""
MAX_DUMP_BYTES = 500_000_000
"""Largest dump that is read [bytes]: about a million events."""

# What every SQLite file begins with, https://www.sqlite.org/fileformat2.html.
_DATABASE = b"SQLite format 3\0"


@dataclass(frozen=True, slots=True, kw_only=True)
class Restored:
    """What a restore did.

    Parameters
    ----------
    events, added : int
        Events in the log now; how many of them it did not hold before.
    aside : Path or None
        Where the log that was there is kept; None when nothing was replaced.
    """

    events: int
    added: int
    aside: Path | None


def back_up(path: Path, target: Path, *, overwrite: bool = False) -> int:
    """Copy a log whole, while others may be writing to it, and read the copy back.

    Parameters
    ----------
    path : Path
        The log.
    target : Path
        The copy.
    overwrite : bool, default False
        Whether a file that is there may be replaced.

    Returns
    -------
    int
        Events in the copy.

    Raises
    ------
    SeasonError
        If the log is damaged or the copy does not hold what the log holds.
    FileError
        If the copy cannot be written, is there already, or would replace the log itself.
    """
    if target.exists() and path.exists() and target.samefile(path):
        message = f'"{target}" is the season log itself; allowed: another file name'
        raise FileError(message)
    with open_season(path) as season, placed_whole(target, overwrite=overwrite) as part:
        return _copy(season, part, shown=target)


def _copy(season: Season, part: Path, *, shown: Path) -> int:
    with plain_errors(shown), closing(connect(part)) as copy:
        season.connection.backup(copy)
    with open_season(part) as again:
        there = {event.id: digest(event) for event in again.events()}
    # Whoever wrote since the copy began only added: what the log holds now includes all of the copy.
    here = {event.id: digest(event) for event in season.events()}
    if any(here.get(id_) != found for id_, found in there.items()):
        message = f"{shown}: the copy does not hold what the season log holds; nothing was kept of it"
        raise SeasonError(message)
    return len(there)


@contextmanager
def opened_copy(path: Path) -> Iterator[Season]:
    """Open a private copy of a backup, checked whole, so that the backup itself is never touched.

    Parameters
    ----------
    path : Path
        The backup.

    Yields
    ------
    Season
        The copy, brought to this version's schema.

    Raises
    ------
    SeasonError
        If the backup is damaged, of another program or of a newer schema.
    FileError
        If it is missing or cannot be read.
    """
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / "copy.db"
        try:
            _check_beginning(path)
            shutil.copyfile(path, copy)
            for tail in ("-journal", "-wal"):
                with suppress(FileNotFoundError):
                    shutil.copyfile(f"{path}{tail}", f"{copy}{tail}")
        except OSError as error:
            message = f'backup "{path}": cannot be read ({error.strerror}); allowed: a copy of a season log'
            raise FileError(message) from error
        try:
            with open_season(copy) as season:
                season.events()
                yield season
        except SeasonError as error:
            message = str(error).replace(str(copy), f'backup "{path}"')
            raise SeasonError(message) from error


def _check_beginning(path: Path) -> None:
    """Refuse what does not begin as a log does, before all of it is copied."""
    with path.open("rb") as stream:
        begins = stream.read(len(_DATABASE))
    if begins.startswith(b"{"):
        message = f'backup "{path}": that is a dump; bring it in with: ringrow season load'
        raise SeasonError(message)
    if begins not in (_DATABASE, b""):
        message = (
            f'backup "{path}": found no copy of a season log, or one whose beginning is damaged; '
            "allowed: a file as ringrow season backup writes it"
        )
        raise SeasonError(message)


def restore(path: Path, backup: Path) -> Restored:
    """Put a backup in the place of a log; the log that was there is kept aside.

    A sound log is refilled in one transaction under its write lock: no other program's event can
    fall between the copy kept aside and the new content. A damaged one is replaced as a file.

    Parameters
    ----------
    path : Path
        The log; need not be there.
    backup : Path
        The backup.

    Returns
    -------
    Restored
        What was done.

    Raises
    ------
    SeasonError
        If the backup is not whole, ours and of a known schema, or the log is locked; nothing is changed then.
    FileError
        If a file cannot be read or written; nothing is changed then.
    """
    _refuse_itself(path, backup)
    with opened_copy(backup) as source:
        if not log_exists(path):
            with placed_whole(path, overwrite=False) as part:
                count = _copy(source, part, shown=path)
            return Restored(events=count, added=count, aside=None)
        try:
            with open_season(path) as season:
                return _refill(season, source)
        except SeasonError as error:
            if not _is_damage(error):
                raise
        return _replace(path, source)


def _refuse_itself(path: Path, backup: Path) -> None:
    if path.exists() and backup.exists() and backup.samefile(path):
        message = f'backup "{backup}": that is the season log itself; allowed: a copy of a season log'
        raise SeasonError(message)


def _is_damage(error: SeasonError) -> bool:
    return "the season log is damaged" in str(error) or "the season log is an empty file" in str(error)


def _refill(season: Season, source: Season) -> Restored:
    before = {event.id for event in season.events()}
    events, numbers = source.events(), source.numbers()
    with season.writing():
        aside = _keep_aside(season)
        run = season.connection.execute
        # What is dropped is wiped: a later salvage must not find it again.
        run("PRAGMA secure_delete = ON")
        last = run("SELECT max(seq) FROM sqlite_sequence").fetchone()[0] or 0
        for table in ("event", "flag_number"):
            run(f"DROP TABLE {table}")
        for script in MIGRATIONS[:SCHEMA]:
            for statement in script:
                run(statement)
        season.keep_numbers(numbers)
        season.append(events, from_log=True)
        # A number that stands on some crew's sheet is not given to another flag.
        last = max([last, *numbers.values()])
        run("DELETE FROM sqlite_sequence WHERE name = 'flag_number'")
        run("INSERT INTO sqlite_sequence (name, seq) VALUES ('flag_number', ?)", (last,))
    added = sum(event.id not in before for event in events)
    return Restored(events=len(events), added=added, aside=aside)


def _keep_aside(season: Season) -> Path:
    aside = _free_name(season.path)
    # A second connection: the lock is held by the first, and readers may still read.
    with (
        placed_whole(aside, overwrite=False) as part,
        plain_errors(aside),
        closing(connect(season.path)) as reader,
        closing(connect(part)) as copy,
    ):
        reader.backup(copy)
    return aside


def _replace(path: Path, source: Season) -> Restored:
    aside = _free_name(path)
    with placed_whole(aside, overwrite=False) as part:
        shutil.copyfile(path, part)
    journal = path.with_name(f"{path.name}-journal")
    if journal.exists():
        with placed_whole(aside.with_name(f"{aside.name}-journal"), overwrite=False) as part:
            shutil.copyfile(journal, part)
    with placed_whole(path, overwrite=True) as part:
        count = _copy(source, part, shown=path)
        # The damaged log's journal would spoil the new file.
        journal.unlink(missing_ok=True)
    return Restored(events=count, added=count, aside=aside)


def _free_name(path: Path) -> Path:
    number = 1
    while (aside := path.with_name(f"{path.stem}.before-restore-{number}{path.suffix}")).exists():
        number += 1
    return aside


def merge_log(path: Path, backup: Path) -> Appended:
    """Add every event of another copy of a log to a log: union by id.

    Parameters
    ----------
    path : Path
        The log; started when there is none.
    backup : Path
        The other log.

    Returns
    -------
    Appended
        What was new and what was there.

    Raises
    ------
    SeasonError
        If either log is damaged, or one id stands for two contents; nothing is changed then.
    FileError
        If the other log cannot be read.
    """
    _refuse_itself(path, backup)
    with opened_copy(backup) as source:
        events = source.events()
        with open_season(path, create=True) as season, season.writing():
            return season.append(events, from_log=True)


def dump_lines(events: Iterable[Event]) -> Iterator[str]:
    """Yield a log as lines of JSON, one event a line, the same for the same events anywhere.

    Parameters
    ----------
    events : iterable of Event
        Events in any order.

    Yields
    ------
    str
        A line without its line end: by time, flag, field, id; keys sorted; ASCII.
    """
    ordered = sorted(events, key=lambda event: (event.when, event.flag, event.field, event.id))
    for event in ordered:
        yield canonical(event_to_json(event))


def load_lines(path: Path, dump: Path) -> Appended:
    """Bring a dump into a log: all of its events or, on an error, none.

    Parameters
    ----------
    path : Path
        The log; started when there is none.
    dump : Path
        Lines as `dump_lines` gives them, in any order, any of them more than once; blank lines are left out.

    Returns
    -------
    Appended
        What was new and what was there.

    Raises
    ------
    SeasonError
        If a line is no event, or the log is damaged; the line is named.
    FileError
        If the dump cannot be read.
    """
    # Read whole before the log is touched: a bad file must not start one.
    events = list(_read_lines(dump))
    with open_season(path, create=True) as season, season.writing():
        return season.append(events, from_log=True)


def _read_lines(dump: Path) -> Iterator[Event]:
    number = 0
    try:
        size = dump.stat().st_size
        if size > MAX_DUMP_BYTES:
            message = f"{dump}: found {size / 1e6:,.0f} MB; allowed: up to {MAX_DUMP_BYTES / 1e6:,.0f} MB"
            raise FileError(f"{message}; split it, by lines, into several dumps and load one after another")
        with dump.open(encoding="utf-8-sig") as stream:
            while line := stream.readline(MAX_LINE + 1):
                number += 1
                if line.strip():
                    yield _event_of_line(line, f"{dump}: line {number}")
    except UnicodeDecodeError as error:
        message = f"{dump}: after line {number}: found bytes that are not UTF-8 text; allowed: a season dump"
        raise SeasonError(message) from error
    except OSError as error:
        if isinstance(error, FileError):
            raise
        message = f'dump "{dump}": cannot be read ({error.strerror}); allowed: a file of season dump'
        raise FileError(message) from error


def _event_of_line(line: str, where: str) -> Event:
    if len(line) > MAX_LINE:
        message = f"{where}: found more than {MAX_LINE:,} characters; allowed: one event a line"
        raise SeasonError(message)
    try:
        return event_from_json(json.loads(line))
    except (ValueError, RecursionError) as error:
        message = f"{where}: found {line.strip()[:60]!r}; allowed: one event a line, as season dump writes it"
        raise SeasonError(message) from error
    except SeasonError as error:
        message = f"{where}: {error}"
        raise SeasonError(message) from error

"""``ringrow season``: copies of the season log, its dump, and what to do when it is damaged."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from ringrow.cli import options
from ringrow.cli.options import how_many

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from ringrow.farm.season_check import Finding

_LOG = "season.db"


def _output_option(
    metavar: str, *, required: bool, text: str
) -> Callable[[options.CommandT], options.CommandT]:
    return click.option(
        "-o",
        "--output",
        "path",
        required=required,
        metavar=metavar,
        type=click.Path(path_type=Path),
        help=text,
    )


@click.group()
def season() -> None:
    """Keep the season log safe: season.db, every flag and change ever said on this farm.

    \b
    Example:
        ringrow season backup my-farm -o /media/stick/my-farm.db
        ringrow season check my-farm
    """  # noqa: D301 - the marks keep the example's lines apart


@season.command()
@options.farm_argument
@_output_option(
    "FILE.db", required=False, text="File to write; default season.backup-DATE.db in the farm's folder."
)
@options.overwrite_option
def backup(farm: Path, path: Path | None, *, overwrite: bool) -> None:
    """Copy the season log whole and read the copy back, also while others write to it.

    A copy in the farm's own folder does not help when the disk fails: put one elsewhere with -o.

    \b
    Example:
        ringrow season backup my-farm
        ringrow season backup my-farm -o /media/stick/my-farm.db --overwrite
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.farm.season_files import back_up
    from ringrow.handoff.files import check_target

    target = path or _dated_name(farm)
    check_target(target, endings=(".db",), overwrite=overwrite)
    with options.progress("Copying the season log"):
        count = back_up(farm / _LOG, target, overwrite=overwrite)
    options.say(f"Wrote {target}: {how_many(count, 'event')}, read back and the same.")


def _dated_name(farm: Path) -> Path:
    from datetime import UTC, datetime

    stem = f"season.backup-{datetime.now(UTC):%Y-%m-%d}"
    name, number = farm / f"{stem}.db", 1
    while name.exists():
        number += 1
        name = farm / f"{stem}-{number}.db"
    return name


@season.command()
@options.farm_argument
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--merge", is_flag=True, help="Add the backup's events to the log instead of replacing it.")
def restore(farm: Path, file: Path, *, merge: bool) -> None:
    """Put the backup FILE in the place of the season log, after checking it.

    The log that was there, damaged or not, is kept beside it as season.before-restore-1.db (2, 3, ...).
    With --merge nothing is replaced: events that the log lacks are added, so two copies that went
    separate ways become one.

    \b
    Example:
        ringrow season restore my-farm /media/stick/my-farm.db
        ringrow season restore my-farm office-copy.db --merge
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.farm import season_files

    _check_folder(farm)
    with options.progress("Checking and restoring the backup"):
        if merge:
            joined = season_files.merge_log(farm / _LOG, file)
        else:
            done = season_files.restore(farm / _LOG, file)
    if merge:
        options.say(_added(joined.added, joined.already, len(joined.new_flags)))
        return
    options.say(f"Restored {farm / _LOG}: {how_many(done.events, 'event')}.")
    if done.aside:
        options.say(f"The log that was there is kept as {done.aside}.")


@season.command()
@options.farm_argument
@_output_option("FILE.jsonl", required=False, text="File to write; default: print.")
@options.overwrite_option
def dump(farm: Path, path: Path | None, *, overwrite: bool) -> None:
    """Print the season log as sorted lines of JSON, one event a line.

    The same events give the same lines on any machine, and new events mostly stand at the end:
    fit for version control. Flag numbers are labels of this log alone and are not in it.

    \b
    Example:
        ringrow season dump my-farm -o my-farm.jsonl
        ringrow season dump my-farm | wc -l
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.farm.season import open_season
    from ringrow.farm.season_files import dump_lines
    from ringrow.handoff.files import check_target, open_whole

    if path:
        check_target(path, endings=(".jsonl",), overwrite=overwrite)
    with options.progress("Reading the season log"), open_season(farm / _LOG) as log:
        events = log.events()
    if not path:
        for line in dump_lines(events):
            click.echo(line)
        return
    with open_whole(path) as stream:
        stream.writelines(f"{line}\n" for line in dump_lines(events))
    options.say(f"Wrote {path}: {how_many(len(events), 'event')}.")


@season.command()
@options.farm_argument
@click.argument("file", type=click.Path(path_type=Path))
def load(farm: Path, file: Path) -> None:
    """Bring the events of a dump into the season log: all of them or, on a fault, none.

    Events that are there already are left alone, so loading twice changes nothing.

    \b
    Example:
        ringrow season load my-farm my-farm.jsonl
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.farm.season_files import load_lines

    _check_folder(farm)
    with options.progress("Loading the dump"):
        done = load_lines(farm / _LOG, file)
    options.say(_added(done.added, done.already, len(done.new_flags)))


@season.command()
@options.farm_argument
@options.json_option
def check(farm: Path, *, as_json: bool) -> None:
    """Look through the season log and name what is damaged or odd; nothing is changed.

    Damage (exit code 1): the file, its tables, events that do not match their fingerprint.
    Oddities (exit code 0): answers to events that are not here yet, kinds of event that a newer
    version wrote, dates that cannot be or clocks that ran behind.

    \b
    Example:
        ringrow season check my-farm
        ringrow season check my-farm --json
    """  # noqa: D301 - the marks keep the example's lines apart
    from dataclasses import asdict
    from datetime import UTC, datetime

    from ringrow.farm.season_check import check_log

    with options.progress("Looking through the season log"):
        report = check_log(farm / _LOG, now=datetime.now(UTC))
    if as_json:
        options.show_json(
            {
                "file": str(farm / _LOG),
                "sound": not report.damage,
                "events": report.events,
                "flags": report.flags,
                "damage": [asdict(finding) for finding in report.damage],
                "oddities": [asdict(finding) for finding in report.oddities],
            }
        )
    else:
        _list("damaged", report.damage)
        _list("odd", report.oddities)
        good = "can be read" if report.damage else "sound"
        click.echo(
            f"{farm / _LOG}: {how_many(report.events, 'event')} {good}, {how_many(report.flags, 'flag')}; "
            f"{how_many(len(report.damage), 'fault')}, {len(report.oddities)} odd."
        )
    if report.damage:
        raise SystemExit(1)


@season.command()
@options.farm_argument
@_output_option("NEW.db", required=True, text="New season log to write.")
@options.overwrite_option
@options.json_option
def salvage(farm: Path, path: Path, *, overwrite: bool, as_json: bool) -> None:
    """Save what can be read of a damaged season log to a new one, and list the rest.

    Each page of the file is searched for events, whatever became of its tables and indexes; an event
    counts only when it matches its fingerprint. The damaged log stays as it is.

    \b
    Example:
        ringrow season salvage my-farm -o saved.db
        ringrow season restore my-farm saved.db
    """  # noqa: D301 - the marks keep the example's lines apart
    from dataclasses import asdict

    from ringrow.farm.season_check import salvage_log
    from ringrow.handoff.files import check_target

    check_target(path, endings=(".db",), overwrite=overwrite)
    with options.progress("Searching the season log"):
        saved = salvage_log(farm / _LOG, path, overwrite=overwrite)
    if as_json:
        options.show_json({"saved": len(saved.events), "lost": [asdict(finding) for finding in saved.lost]})
    else:
        _list("lost", saved.lost)
    options.say(
        f"Wrote {path}: {how_many(len(saved.events), 'event')} saved, {len(saved.lost)} known to be lost. "
        f"To use it: ringrow season restore {farm} {path}"
    )


def _check_folder(farm: Path) -> None:
    from ringrow.errors import FileError

    if not (farm / "farm.toml").is_file():
        message = f'farm: found "{farm}", where there is no farm.toml; allowed: a farm\'s folder'
        raise FileError(message)


def _list(word: str, findings: Sequence[Finding]) -> None:
    for finding in findings:
        click.echo(f"{word}: {finding.text}")


def _added(added: int, already: int, flags: int) -> str:
    return f"{how_many(added, 'event')} added ({how_many(flags, 'new flag')}), {already:,} already there."

"""``ringrow ready`` and ``ringrow fill``: who is ready for first water, and zones that wait."""

from __future__ import annotations

from contextlib import suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import click

from ringrow.cli import options

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ringrow.coverage.field import FieldLayout
    from ringrow.farm.flag_model import LocatedFlag
    from ringrow.farm.model import Farm
    from ringrow.farm.ready import ReadyBoard


@click.command()
@options.farm_argument
@click.option(
    "-o",
    "--output",
    "path",
    metavar="FILE.html",
    type=click.Path(path_type=Path),
    help="Also write the board as a page to print.",
)
@options.language_option
@options.overwrite_option
@options.json_option
def ready(farm: Path, path: Path | None, language: str | None, *, overwrite: bool, as_json: bool) -> None:
    """Print who is ready for first water: each machine, drip block and well, and what is waiting.

    Waiting: open flags that are unsafe or stop a machine or well, what was tried and failed and whose
    turn it is, readings outside their limits, what nobody has looked at in this round, zones that were
    filled and have to wait, and what was put away and not brought back. Apart from that it lists what
    is owed at first water: repairs made dry, and items that take water. Ready means that nothing
    is open that stops first water. It never means safe to start.

    \b
    Example:
        ringrow ready my-farm
        ringrow ready my-farm -o ready.html --language es
        ringrow ready my-farm --json
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.farm.flag_places import locate_flags
    from ringrow.farm.season import SEASON_FILE, read_states
    from ringrow.handoff.files import check_target, open_whole
    from ringrow.handoff.ready_page import ready_page
    from ringrow.handoff.ready_table import ready_record, ready_text

    if path is not None:
        check_target(path, endings=(".html", ".htm"), overwrite=overwrite)
    loaded, layouts = options.read_farm(farm)
    with options.progress("Looking at what is waiting"):
        flags = locate_flags(loaded, layouts, read_states(farm / SEASON_FILE))
        board = read_board(loaded, layouts, flags)
    if path is not None:
        with options.crew_language(loaded, language), open_whole(path) as stream:
            stream.write(ready_page(board, loaded.units))
        options.say(f"Wrote {path}.")
    with options.crew_language(loaded, language, as_json=as_json):
        if as_json:
            options.show_json(ready_record(board, loaded.units))
        else:
            click.echo(ready_text(board, loaded.units, width=options.width()))


def read_board(farm: Farm, layouts: Sequence[FieldLayout], flags: Sequence[LocatedFlag]) -> ReadyBoard:
    """Return the board of a farm as it stands now, told in the farm's time zone."""
    from ringrow.cli.clock import farm_clock
    from ringrow.farm.read_records import read_records
    from ringrow.farm.ready import ready_board
    from ringrow.farm.season import SEASON_FILE

    records = read_records(farm.folder / SEASON_FILE)
    return ready_board(farm, layouts, flags, records, now=datetime.now(farm_clock(farm)))


@click.command()
@options.farm_argument
@click.argument("drip", metavar="[DRIP]", required=False)
@click.option("--zone", metavar="NAME", help="The zone; left out when the block has one or none.")
@click.option(
    "--since",
    metavar="TIME",
    help='When the water went on, by the clock of the farm: "17:40" or "2027-03-13 17:40"; else now.',
)
@click.option("--wait", "wait_h", type=float, metavar="HOURS", help="Hours given to water to show; else 12.")
@click.option("--undo", is_flag=True, help="Take back the last time that zone was filled.")
@click.option("--by", "--who", "by", default="", metavar="WHO", help="Who says so.")
@options.language_option
def fill(
    farm: Path,
    drip: str | None,
    zone: str | None,
    since: str | None,
    wait_h: float | None,
    by: str,
    language: str | None,
    *,
    undo: bool,
) -> None:
    """Say that water was let into a zone of DRIP; prints until when it has to wait.

    `ringrow ready` shows the zone as waiting until it has been walked after the wait
    (`ringrow round look ... --item walked-after-the-wait=yes`). A time later in the day than now is
    yesterday's.

    \b
    Example:
        ringrow fill my-farm "Elevator drip" --zone "North zone" --since 17:40
        ringrow fill my-farm "Elevator drip" --zone "North zone" --undo
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.cli.clock import farm_clock
    from ringrow.farm.events import MAX_NAME
    from ringrow.farm.fills import fills_of, say_filled, undo_fill
    from ringrow.farm.flags import Stamp, checked_text
    from ringrow.farm.read_records import read_records
    from ringrow.farm.season import SEASON_FILE, open_season
    from ringrow.handoff.ready_words import fill_words, undone_words

    if undo and (since is not None or wait_h is not None):
        message = "--undo takes back what was said: give it without --since and --wait"
        raise click.UsageError(message)
    who = checked_text(by.strip(), what="--by", longest=MAX_NAME)
    stamp = Stamp(when=datetime.now(UTC), who=who, source="fill")
    loaded, layouts = options.read_farm(farm)
    now = stamp.when.astimezone(farm_clock(loaded))
    went_on = _local(since, now)
    if undo:
        with open_season(farm / SEASON_FILE) as season:
            where, stands = undo_fill(season, layouts, drip=drip, zone=zone, stamp=stamp)
        with options.crew_language(loaded, language):
            click.echo(f"{where}: {undone_words(stands, now)}")
        return
    with open_season(farm / SEASON_FILE, create=True) as season:
        record = say_filled(season, layouts, drip=drip, zone=zone, since=went_on, stamp=stamp, wait_h=wait_h)
    fills = fills_of(layouts, read_records(farm / SEASON_FILE))
    # Said of a time before the last fill, it is kept, and the last fill still stands.
    own = [each for each in fills if each.record == record]
    with options.crew_language(loaded, language):
        for each in own:
            click.echo(f"{each.drip}: {fill_words(each, now)}")
    if not own:
        options.say(
            "kept; water went on again later than that, and the later time stands. Where that was wrong, "
            "take it back with --undo"
        )


def _local(since: str | None, now: datetime) -> datetime:
    """Return a time as typed, in the zone of `now`; a clock time alone is the last one that was."""
    if since is None:
        return now
    for form in ("%Y-%m-%d %H:%M", "%Y-%m-%dT%H:%M"):
        with suppress(ValueError):
            return datetime.strptime(since.strip(), form).replace(tzinfo=now.tzinfo)
    try:
        clock = datetime.strptime(since.strip(), "%H:%M").time()
    except ValueError as error:
        message = f'--since: found "{since[:40]}"; allowed: a time such as 17:40, or 2027-03-13 17:40'
        raise click.UsageError(message) from error
    today = now.replace(hour=clock.hour, minute=clock.minute, second=0, microsecond=0)
    return today if today <= now else today - timedelta(days=1)

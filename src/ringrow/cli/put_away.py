"""``ringrow put-away``: the fall list, and its reverse in spring."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING

import click

from ringrow.cli import options

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from ringrow.farm.flags import Stamp
    from ringrow.farm.model import Farm
    from ringrow.farm.systems import FarmSystem


def _by_option(command: options.CommandT) -> options.CommandT:
    return click.option("--by", "--who", "by", default="", metavar="WHO", help="Who says so.")(command)


@click.group("put-away")
def put_away() -> None:
    """Put the farm away in the fall, item by item, and bring it back in spring.

    Each item that is put away becomes a line of the spring: `ringrow ready` shows it as waiting
    until it is said to be brought back.

    \b
    Example:
        ringrow put-away list my-farm
        ringrow put-away done my-farm "Windmill pivot" drained parked --panel 312 --note "out of the wind"
        ringrow put-away back my-farm "Windmill pivot" drained
    """  # noqa: D301 - the marks keep the example's lines apart


@put_away.command("list")
@options.farm_argument
@click.option("--system", "name", metavar="NAME", help="Only this machine, drip block or well.")
@options.language_option
@options.json_option
def list_(farm: Path, name: str | None, language: str | None, *, as_json: bool) -> None:
    """Print what is put away and what is not, system by system.

    \b
    Example:
        ringrow put-away list my-farm
        ringrow put-away list my-farm --system "Home well" --json
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.farm.load import load_farm
    from ringrow.farm.put_away import find_system, put_away_lines
    from ringrow.farm.read_records import read_records
    from ringrow.farm.season import SEASON_FILE
    from ringrow.handoff.put_away_words import put_away_record, put_away_text

    loaded = load_farm(farm)
    lines = put_away_lines(loaded, read_records(farm / SEASON_FILE))
    if name is not None:
        system = find_system(loaded, name)
        lines = [line for line in lines if line.system == system]
    with options.crew_language(loaded, language, as_json=as_json):
        if as_json:
            options.show_json(put_away_record(loaded, lines))
        else:
            click.echo(put_away_text(loaded, lines, width=options.width()))


@put_away.command()
@options.farm_argument
@click.argument("system")
@click.argument("items", metavar="[ITEM]...", nargs=-1)
@click.option("--all", "everything", is_flag=True, help="Every item of its list.")
@click.option(
    "--azimuth", type=float, metavar="DEG", help="With parked: true azimuth at which a pivot stands."
)
@click.option("--panel", type=float, metavar="DEG", help="With parked: what its panel shows.")
@click.option(
    "--note", default="", metavar="TEXT", help="What to know in spring: what for, where the cap lies."
)
@_by_option
def done(
    farm: Path,
    system: str,
    items: tuple[str, ...],
    azimuth: float | None,
    panel: float | None,
    note: str,
    by: str,
    *,
    everything: bool,
) -> None:
    """Say that items of SYSTEM (a machine, drip block or well) are put away.

    `ringrow put-away list` names the items. Said again, with another note, an item is corrected.

    \b
    Example:
        ringrow put-away done my-farm "Windmill pivot" drained --by Ana
        ringrow put-away done my-farm "Windmill pivot" parked --azimuth 45 --note "out of the wind"
        ringrow put-away done my-farm "Home well" --all
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.farm.load import load_farm
    from ringrow.farm.put_away import do_items, find_system, item_names
    from ringrow.farm.season import SEASON_FILE, open_season

    if everything == bool(items):
        message = "say which ITEMs, or --all"
        raise click.UsageError(message)
    if azimuth is not None and panel is not None:
        message = "--azimuth and --panel: give one of them"
        raise click.UsageError(message)
    loaded = load_farm(farm)
    chosen = find_system(loaded, system)
    stands = azimuth if panel is None else _from_panel(loaded, chosen, panel)
    wanted = item_names(loaded, chosen) if everything else items
    stamp = _stamp(by)
    with open_season(farm / SEASON_FILE, create=True) as season:
        changed = do_items(season, loaded, chosen, wanted, stamp=stamp, note=note, azimuth_deg=stands)
    _say(chosen, changed, "put away", other="what you named was put away already")


@put_away.command()
@options.farm_argument
@click.argument("system")
@click.argument("items", metavar="[ITEM]...", nargs=-1)
@click.option("--all", "everything", is_flag=True, help="Everything of it that is put away.")
@click.option("--note", default="", metavar="TEXT", help="Anything to keep with it.")
@_by_option
def back(farm: Path, system: str, items: tuple[str, ...], note: str, by: str, *, everything: bool) -> None:
    """Say that items of SYSTEM were brought back: closed, put on, filled again.

    \b
    Example:
        ringrow put-away back my-farm "Windmill pivot" drained end-open --by Ana
        ringrow put-away back my-farm "Home well" --all
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.farm.load import load_farm
    from ringrow.farm.put_away import bring_back, find_system
    from ringrow.farm.season import SEASON_FILE, open_season

    if everything == bool(items):
        message = "say which ITEMs, or --all"
        raise click.UsageError(message)
    loaded = load_farm(farm)
    chosen = find_system(loaded, system)
    with open_season(farm / SEASON_FILE) as season:
        changed = bring_back(season, loaded, chosen, items, stamp=_stamp(by), note=note)
    _say(chosen, changed, "brought back", other="what you named was brought back already or never put away")


@put_away.command()
@options.farm_argument
@click.argument("system")
@click.argument("item")
@_by_option
def undo(farm: Path, system: str, item: str, by: str) -> None:
    """Take back what was last said of an ITEM of SYSTEM; the log keeps both.

    \b
    Example:
        ringrow put-away undo my-farm "Windmill pivot" drained
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.farm.load import load_farm
    from ringrow.farm.put_away import find_system, undo_item
    from ringrow.farm.season import SEASON_FILE, open_season

    loaded = load_farm(farm)
    chosen = find_system(loaded, system)
    with open_season(farm / SEASON_FILE) as season:
        name, stands = undo_item(season, loaded, chosen, item, stamp=_stamp(by))
    click.echo(f"{chosen.name}: {name} is {'put away' if stands else 'not put away'} now.")


def _from_panel(farm: Farm, system: FarmSystem, panel_deg: float) -> float:
    """Return the true azimuth at which a pivot's panel shows a number."""
    from ringrow.errors import PlaceError

    pivots = [pivot for field in farm.fields for pivot in field.pivots if pivot.name in system.names]
    zeros = {pivot.panel_zero_deg for pivot in pivots}
    zero = next(iter(zeros)) if len(zeros) == 1 else None
    if zero is None:
        message = (
            f'--panel: "{system.name}" has no panel zero of its own to count from; allowed: --azimuth, '
            "or a pivot with panel_zero"
        )
        raise PlaceError(message)
    return (zero + panel_deg) % 360.0


def _stamp(by: str) -> Stamp:
    from ringrow.farm.events import MAX_NAME
    from ringrow.farm.flags import Stamp, checked_text

    who = checked_text(by.strip(), what="--by", longest=MAX_NAME)
    return Stamp(when=datetime.now(UTC), who=who, source="put-away")


def _say(system: FarmSystem, changed: Sequence[str], words: str, *, other: str) -> None:
    if changed:
        click.echo(f"{system.name}: {words}: {', '.join(changed)}.")
    else:
        click.echo(f"{system.name}: nothing changed; {other}.")

"""``ringrow breakdown``: what stopped in season, for how long, and the water not put on."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import click

from ringrow.cli import flag_options, options

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from ringrow.farm.breakdowns import SaidBreakdown
    from ringrow.farm.model import Farm

_DIRECTIONS = ("forward", "reverse")


@click.group()
def breakdown() -> None:
    """Keep breakdowns in season: when a system stopped, where, how long, and the water not put on.

    Times are local: in the time_zone of farm.toml, else of this computer; which one was taken
    is said each time. A time with an offset, such as 2027-07-03T14:10-05:00, counts as it is.

    \b
    Example:
        ringrow breakdown add my-farm "Windmill pivot" --stopped "2027-07-03 14:10" --panel 212 --tower 5
        ringrow breakdown restart my-farm "Windmill pivot" --at "2027-07-04 07:30" --direction reverse
        ringrow breakdown list my-farm
    """  # noqa: D301 - the marks keep the example's lines apart


def _place_options(command: Callable[..., Any]) -> Callable[..., Any]:
    for option in reversed(
        (
            click.option("--panel", type=float, metavar="DEG", help="What the panel shows where it stopped."),
            click.option("--azimuth", type=float, metavar="DEG", help="True azimuth there, instead."),
            click.option("--tower", type=int, metavar="N", help="The tower that stopped it."),
            click.option("--restarted", metavar="TIME", help="When it ran again."),
            click.option("--direction", type=click.Choice(_DIRECTIONS), help="Which way it was restarted."),
            click.option("--why", metavar="WORDS", help="What it was."),
            click.option(
                "--flow",
                type=click.FloatRange(min=0, min_open=True),
                help="Flow it would have put on, gpm or L/s, if the farm states none.",
            ),
        )
    ):
        command = option(command)
    return command


@breakdown.command()
@options.farm_argument
@click.argument("system")
@click.option("--stopped", metavar="TIME", required=True, help='When it stopped, "2027-07-03 14:10".')
@_place_options
@flag_options.by_option
@options.json_option
def add(farm: Path, system: str, by: str, *, as_json: bool, **said: Any) -> None:
    """Keep that SYSTEM (a machine, drip block or well) broke down.

    \b
    Example:
        ringrow breakdown add my-farm "Windmill pivot" --stopped "2027-07-03 14:10" --panel 212 --tower 5
        ringrow breakdown add my-farm "Home well" --stopped "2027-07-05 06:00" --flow 800 --why "pump"
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.farm.breakdowns import add_breakdown
    from ringrow.farm.load import load_farm
    from ringrow.farm.season import SEASON_FILE, open_season

    loaded = load_farm(farm)
    words = _said(loaded, said)
    with open_season(farm / SEASON_FILE, create=True) as season:
        record = add_breakdown(
            season, loaded, system, words, stamp=flag_options.stamp_now(by, "breakdown add")
        )
    _show_one(loaded, record.id, as_json=as_json)


@breakdown.command("set")
@options.farm_argument
@click.argument("which")
@click.option("--stopped", metavar="TIME", help="When it stopped.")
@_place_options
@flag_options.by_option
@options.json_option
def set_(farm: Path, which: str, by: str, *, as_json: bool, **said: Any) -> None:
    """Correct a breakdown; what was said before stays in the log.

    WHICH is the start of its id as the list shows it, or the name of a system with one open
    breakdown.

    \b
    Example:
        ringrow breakdown set my-farm 3f2a91c4 --tower 6 --why "gearbox"
    """  # noqa: D301 - the marks keep the example's lines apart
    if all(value is None for value in said.values()):
        message = "nothing to change: give --stopped, --restarted, --panel, --tower or another option"
        raise click.UsageError(message)
    _change(farm, which, said, by, "breakdown set", as_json=as_json)


@breakdown.command()
@options.farm_argument
@click.argument("which")
@click.option("--at", "restarted", metavar="TIME", required=True, help="When it ran again.")
@click.option("--direction", type=click.Choice(_DIRECTIONS), help="Which way it was restarted.")
@click.option("--why", metavar="WORDS", help="What it was.")
@flag_options.by_option
@options.json_option
def restart(farm: Path, which: str, by: str, *, as_json: bool, **said: Any) -> None:
    """Say that a system runs again.

    WHICH is the name of the system, or the start of the breakdown's id.

    \b
    Example:
        ringrow breakdown restart my-farm "Windmill pivot" --at "2027-07-04 07:30" --direction reverse
    """  # noqa: D301 - the marks keep the example's lines apart
    _change(farm, which, said, by, "breakdown restart", as_json=as_json)


@breakdown.command()
@options.farm_argument
@click.argument("which")
@flag_options.by_option
def remove(farm: Path, which: str, by: str) -> None:
    """Take back that there was a breakdown; what was said stays in the log.

    \b
    Example:
        ringrow breakdown remove my-farm 3f2a91c4
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.farm.breakdowns import remove_breakdown
    from ringrow.farm.season import SEASON_FILE, open_season

    with open_season(farm / SEASON_FILE) as season:
        record = remove_breakdown(season, which, stamp=flag_options.stamp_now(by, "breakdown remove"))
    click.echo(f"breakdown {record.id[:8]} of {record.value.get('system')} taken back")


@breakdown.command("list")
@options.farm_argument
@click.option("--open", "only_open", is_flag=True, help="Only what still stands.")
@options.language_option
@options.json_option
def list_(farm: Path, language: str | None, *, only_open: bool, as_json: bool) -> None:
    """List breakdowns by what they cost a day, open ones first.

    \b
    Example:
        ringrow breakdown list my-farm
        ringrow breakdown list my-farm --open --json
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.cli.clock import farm_clock
    from ringrow.farm.breakdown_list import breakdowns
    from ringrow.farm.read_records import read_records
    from ringrow.farm.season import SEASON_FILE
    from ringrow.handoff.breakdown_table import breakdown_record, breakdown_table

    loaded, layouts = options.read_farm(farm)
    records = read_records(farm / SEASON_FILE)
    found = breakdowns(loaded, layouts, records, now=datetime.now(UTC))
    downs = [down for down in found if not only_open or down.restarted is None]
    if as_json:
        options.show_json({"breakdowns": [breakdown_record(down, loaded.units) for down in downs]})
        return
    if not downs:
        options.say("no breakdowns" if not only_open else "nothing stands")
        return
    with options.crew_language(loaded, language):
        table = breakdown_table(downs, loaded.units, farm_clock(loaded), width=options.width())
    click.echo(table)


def _said(farm: Farm, said: dict[str, Any]) -> SaidBreakdown:
    """Return what was said in SI, telling how its times were taken."""
    from ringrow.cli.clock import farm_clock
    from ringrow.farm.breakdowns import SaidBreakdown
    from ringrow.farm.local_time import parse_local

    times: dict[str, datetime] = {}
    for name in ("stopped", "restarted"):
        if said.get(name) is not None:
            taken = parse_local(said[name], zone=farm_clock(farm), what=name)
            options.say(f"{name}: taken as {taken.taken}")
            times[name] = taken.when
    flow = said.get("flow")
    return SaidBreakdown(
        **times,
        azimuth_deg=said.get("azimuth"),
        panel_deg=said.get("panel"),
        tower=said.get("tower"),
        direction=said.get("direction"),
        why=said.get("why"),
        flow_lps=None if flow is None else flow * farm.units.flow_lps,
    )


def _change(farm: Path, which: str, said: dict[str, Any], by: str, source: str, *, as_json: bool) -> None:
    from ringrow.farm.breakdowns import change_breakdown
    from ringrow.farm.load import load_farm
    from ringrow.farm.season import SEASON_FILE, open_season

    loaded = load_farm(farm)
    words = _said(loaded, said)
    with open_season(farm / SEASON_FILE) as season:
        record = change_breakdown(season, loaded, which, words, stamp=flag_options.stamp_now(by, source))
    _show_one(loaded, record.id, as_json=as_json)


def _show_one(farm: Farm, id_: str, *, as_json: bool) -> None:
    from ringrow.cli.clock import farm_clock
    from ringrow.coverage.layout import lay_out
    from ringrow.farm.breakdown_list import breakdowns
    from ringrow.farm.read_records import read_records
    from ringrow.farm.season import SEASON_FILE
    from ringrow.handoff.breakdown_table import breakdown_lines, breakdown_record

    layouts = [lay_out(field) for field in farm.fields]
    found = breakdowns(farm, layouts, read_records(farm.folder / SEASON_FILE), now=datetime.now(UTC))
    down = next(each for each in found if each.record.id == id_)
    if as_json:
        options.show_json({"breakdowns": [breakdown_record(down, farm.units)]})
        return
    lines = breakdown_lines(down, farm.units, farm_clock(farm))
    click.echo("\n  ".join([f"breakdown {down.record.id[:8]}: {lines[0]}", *lines[1:]]))

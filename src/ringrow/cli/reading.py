"""``ringrow reading``: numbers read off meters and gauges, judged against the farm's own."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import click

from ringrow.cli import options
from ringrow.cli.clock import farm_clock
from ringrow.cli.round import at_option, records_of, stamp_of, undo_sentence, who_option

if TYPE_CHECKING:
    from pathlib import Path

    from ringrow.farm.model import Farm
    from ringrow.farm.systems import FarmSystem

_READINGS_HELP = """\b
    Readings and their units:
      well, pivot, lateral move   volts, line-volts (V), amps (A), hertz (Hz),
                                  flow (gpm, L/s, m3/h), pressure (psi, kPa, bar)
      well                        battery-volts (V)
      pivot                       end-pressure (psi, kPa, bar)
      drip                        filter-loss, zone-pressure (psi, kPa, bar), zone-flow (gpm, L/s)
      machines and drip           depth (in, mm)
      all                         hours (h), temperature (°F, °C),
                                  meter (gal, L, m3, ac-in, ac-ft, ft3)
"""


@click.group()
def reading() -> None:
    """Keep readings of meters and gauges, and judge them against what the farm's files state.

    A reading outside its tolerance is an open item until it is read again. Without a number to
    hold it against, a reading is kept and not judged.

    \b
    Example:
        ringrow reading add my-farm "Home well" volts 478 V
        ringrow reading list my-farm
    """  # noqa: D301 - the marks keep the example's lines apart


# A temperature may be below zero: "-5" is no option.
@reading.command(epilog=_READINGS_HELP, context_settings={"ignore_unknown_options": True})
@options.farm_argument
@click.argument("system")
@click.argument("item", metavar="READING")
@click.argument("number", nargs=-1, required=True, metavar="NUMBER... UNIT")
@click.option("--walking/--idle", default=None, help="Of volts: whether the machine was walking.")
@click.option("--zone", default="", metavar="NAME", help="Of a drip block: which zone.")
@click.option(
    "--by-qualified", "qualified", is_flag=True, help="A qualified person (an electrician) read it."
)
@click.option("--note", default="", help="Anything else.")
@click.option("--correct", metavar="ID", help="Take the place of the reading of this id.")
@who_option
@at_option
@options.language_option
@options.json_option
def add(
    farm: Path,
    system: str,
    item: str,
    number: tuple[str, ...],
    walking: bool | None,  # noqa: FBT001 - click hands it over by name
    zone: str,
    note: str,
    correct: str | None,
    who: str,
    at_text: str,
    language: str | None,
    *,
    qualified: bool,
    as_json: bool,
) -> None:
    """Keep one reading and judge it.

    The panel door stays shut: volts are read on the meter in the closed door. Line volts are a
    qualified person's to read, and are kept only with --by-qualified.

    \b
    Example:
        ringrow reading add my-farm "Home well" volts 478 V --who Ana
        ringrow reading add my-farm "Windmill pivot" volts 471 V --walking
        ringrow reading add my-farm "Windmill pivot" pressure 31 psi --at 2027-03-14
        ringrow reading add my-farm "Elevator drip" zone-flow 930 gpm --zone "North zone"
        ringrow reading add my-farm "Home well" line-volts 460 467 450 V --by-qualified --who Electrician
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.farm.load import load_farm
    from ringrow.farm.readings import judge
    from ringrow.farm.round_entries import SaidOfReading, reading_entry, round_desk
    from ringrow.farm.round_log import keep_entries
    from ringrow.farm.season import SEASON_FILE, open_season
    from ringrow.handoff.reading_words import reading_lines, reading_record
    from ringrow.handoff.round_words import item_caution

    loaded = load_farm(farm)
    said = SaidOfReading(
        item=item,
        number=" ".join(number),
        zone=zone,
        walking=walking,
        qualified=qualified,
        note=note,
        at=at_text,
    )
    entry = reading_entry(round_desk(loaded, (), zone=farm_clock(loaded)), system, said)
    with open_season(farm / SEASON_FILE, create=True) as season:
        kept = keep_entries(season, [entry], stamps=[stamp_of(who, "reading add")], correct=correct)
    judged = [each for each in judge(loaded, records_of(farm)) if each.record.id == kept[0].id]
    with options.crew_language(loaded, language, as_json=as_json):
        if as_json:
            told = {"readings": [reading_record(each, loaded.units) for each in judged]}
            options.show_json(told | {"systems": _ready(loaded, entry.system)})
            return
        for each in judged:
            for line in reading_lines(each, loaded.units):
                click.echo(line)
            options.say(f"id {each.record.id[:8]}")
        caution = item_caution(entry.value["item"])
        if caution:
            options.say(caution)


def _ready(farm: Farm, system: FarmSystem) -> list[dict[str, Any]]:
    """Return the system as the ready board has it with this reading."""
    from ringrow.cli.ready import read_board
    from ringrow.coverage.layout import lay_out
    from ringrow.farm.flag_places import locate_flags
    from ringrow.farm.season import SEASON_FILE, read_states
    from ringrow.handoff.ready_table import ready_record

    layouts = [lay_out(field) for field in farm.fields]
    flags = locate_flags(farm, layouts, read_states(farm.folder / SEASON_FILE))
    told = ready_record(read_board(farm, layouts, flags), farm.units)
    systems: list[dict[str, Any]] = [*told["systems"], *told["wells"]]
    return [each for each in systems if (each["name"], each["kind"]) == (system.name, system.kind)]


@reading.command("list")
@options.farm_argument
@click.option("--system", metavar="NAME", help="Only of this machine, drip block or well.")
@click.option("--item", metavar="READING", help="Only readings of this kind.")
@click.option("--open", "only_open", is_flag=True, help="Only those outside that no later one has put right.")
@options.language_option
@options.json_option
def list_(
    farm: Path, system: str | None, item: str | None, language: str | None, *, only_open: bool, as_json: bool
) -> None:
    """List readings by time, each judged.

    \b
    Example:
        ringrow reading list my-farm --open
        ringrow reading list my-farm --system "Home well" --json
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.farm.load import load_farm
    from ringrow.farm.names import find_named
    from ringrow.farm.reading_kinds import READING_KINDS
    from ringrow.farm.readings import judge
    from ringrow.farm.round_entries import round_desk
    from ringrow.farm.systems import local_time
    from ringrow.handoff.reading_words import reading_record, reading_table

    loaded = load_farm(farm)
    readings = judge(loaded, records_of(farm))
    if system:
        own, _thing = find_named(round_desk(loaded, ()).things, system, what="system")
        readings = [each for each in readings if (each.system, each.kind) == (own.name, own.kind)]
    if item:
        kind = find_named(READING_KINDS, item, what="reading", most=len(READING_KINDS))
        readings = [each for each in readings if each.item == kind.id]
    if only_open:
        readings = [each for each in readings if each.latest and each.ok is False]
    with options.crew_language(loaded, language, as_json=as_json):
        if as_json:
            options.show_json({"readings": [reading_record(each, loaded.units) for each in readings]})
        elif readings:
            shown = [replace(each, when=local_time(each.when, farm_clock(loaded))) for each in readings]
            click.echo(reading_table(shown, loaded.units, width=options.width()))
    if not readings:
        options.say("no such reading was kept yet")


@reading.command()
@options.farm_argument
@click.argument("id", metavar="ID")
@who_option
def undo(farm: Path, id: str, who: str) -> None:  # noqa: A002 - the name of the argument
    """Take back what was last said in a reading; taken back twice, it stands again.

    ID is the first four or more characters of its id.

    \b
    Example:
        ringrow reading undo my-farm 3f9a01c2
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.farm.readings import READING
    from ringrow.farm.round_log import undo_record
    from ringrow.farm.season import SEASON_FILE, open_season

    with open_season(farm / SEASON_FILE) as season:
        before, after = undo_record(season, id, types=(READING,), stamp=stamp_of(who, "reading undo"))
    click.echo(undo_sentence(before, after))

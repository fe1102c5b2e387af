"""``ringrow flag list`` and ``ringrow flag show``: flags with their places, and all about one."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from ringrow.cli import flag_options, options

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from ringrow.coverage.field import FieldLayout
    from ringrow.farm.flag_model import LocatedFlag
    from ringrow.farm.model import Farm
    from ringrow.farm.parked import MachineLine


@click.command("list")
@options.farm_argument
@click.option(
    "--status", "statuses", multiple=True, type=click.Choice(flag_options.STATUSES), help="Only these."
)
@click.option("--kind", "kinds", multiple=True, metavar="KIND", help="Only flags of this kind.")
@options.field_option
@click.option("--system", metavar="NAME", help="Only flags of this machine, drip block or well.")
@click.option(
    "--class", "classes", multiple=True, type=click.Choice(flag_options.CLASSES), help="Only these."
)
@click.option(
    "--parked",
    multiple=True,
    is_flag=False,
    flag_value="",
    metavar='["NAME=AZIMUTH"]',
    help="Show machine flags where their machines stand now: as the farm's files say, or at the azimuth "
    "given here; NAME=panel:214 for what the panel shows.",
)
@options.language_option
@options.json_option
def list_(
    farm: Path,
    statuses: tuple[str, ...],
    kinds: tuple[str, ...],
    field_name: str | None,
    system: str | None,
    classes: tuple[str, ...],
    parked: tuple[str, ...],
    language: str | None,
    *,
    as_json: bool,
) -> None:
    """List flags with their places: by class, then by the ground they touch.

    A machine walks on after it was flagged. With --parked its flags are listed where it
    stands now, for the crew; where they were set is kept beside it.

    \b
    Example:
        ringrow flag list my-farm --status open
        ringrow flag list my-farm --parked "Windmill pivot=41.5" --parked "East pivot=panel:214"
        ringrow flag list my-farm --field "Windmill quarter" --class stops --json
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.farm.flag_places import kind_named, locate_flags
    from ringrow.farm.names import find_named
    from ringrow.farm.season import SEASON_FILE, read_states
    from ringrow.handoff.flag_table import by_class, flag_record, flag_table, line_record, system_of

    loaded, layouts = options.read_farm(farm)
    states = read_states(farm / SEASON_FILE)
    known = {state.kind: state.kind for state in states}
    chosen_kinds = {known.get(kind) or kind_named(loaded, kind).name for kind in kinds}
    fields = {field.name: field.name for field in loaded.fields}
    field = find_named(fields, field_name, what="field") if field_name else None
    chosen_systems = _chosen_systems(loaded, system)
    everything = locate_flags(loaded, layouts, states)
    lines: list[MachineLine] = []
    if parked:
        everything, lines = _parked(loaded, layouts, everything, [text for text in parked if text])
    flags = [
        located
        for located in by_class(everything)
        if (not statuses or located.state.status in statuses)
        and (not chosen_kinds or located.state.kind in chosen_kinds)
        and (not classes or located.flag_class in classes)
        and (field is None or located.field == field)
        and (not chosen_systems or system_of(located) in chosen_systems)
    ]
    if as_json:
        machines = {"machines": [line_record(line, loaded.units) for line in lines]} if parked else {}
        options.show_json({"flags": [flag_record(located, loaded.units) for located in flags], **machines})
        return
    if flags:
        with options.crew_language(loaded, language):
            table = flag_table(flags, loaded.units, width=options.width())
        click.echo(table)
    options.say(f"{len(flags)} of {len(states)} flags" if states else "no flags in this season yet")


@click.command()
@options.farm_argument
@click.argument("number")
@options.language_option
@options.json_option
def show(farm: Path, number: str, language: str | None, *, as_json: bool) -> None:
    """Show all about one flag: its place, its words, everything that was ever said.

    NUMBER is the flag's number, or the first four or more characters of its id.

    \b
    Example:
        ringrow flag show my-farm 7
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.farm.dig_points import dig_points, own_record
    from ringrow.farm.events import event_to_json
    from ringrow.farm.flag_places import locate_flags
    from ringrow.farm.flags import find_flag
    from ringrow.farm.leak_hints import flag_leak_hint
    from ringrow.farm.photo_store import photo_lines
    from ringrow.farm.season import SEASON_FILE, open_season
    from ringrow.handoff.dig_words import dig_line, dig_record
    from ringrow.handoff.flag_history import flag_sheet
    from ringrow.handoff.flag_table import flag_record
    from ringrow.handoff.leak_words import leak_lines, leak_record

    loaded, layouts = options.read_farm(farm)
    with open_season(farm / SEASON_FILE) as season:
        states, everything = season.states(), season.events()
    state = find_flag(states, number)
    events = [event for event in everything if event.flag in state.ids]
    # What speaks against a flag lies in the others of its round.
    located = next(flag for flag in locate_flags(loaded, layouts, states) if flag.state.id == state.id)
    holes = dig_points(loaded, layouts, states)
    hint = flag_leak_hint(located, loaded, layouts, record=own_record(holes.values()))
    hole = holes.get(state.id)
    if as_json:
        options.show_json(
            {
                "flags": [flag_record(located, loaded.units)],
                "dig": None if hint is None else leak_record(hint, loaded.units),
                "dig_point": None if hole is None else dig_record(hole, loaded.units),
                "events": [event_to_json(event) for event in events],
            }
        )
        return
    photos = photo_lines(events, folder=farm)
    with options.crew_language(loaded, language):
        told = [] if hole is None else [dig_line(hole, loaded.units)]
        if hint is not None and hole is None and state.status == "open":
            told = leak_lines(hint, loaded.units)
        sheet = flag_sheet(located, events, loaded.units, photos=photos, dig=told)
    click.echo(sheet)


def _chosen_systems(farm: Farm, name: str | None) -> set[str]:
    """Return the names that ``--system`` stands for: a towed machine is all its points."""
    from ringrow.farm.names import find_named

    if not name:
        return set()
    points = {pivot.name: pivot.machine for field in farm.fields for pivot in field.pivots}
    names = [*points, *(machine for machine in points.values() if machine)]
    names += [move.name for field in farm.fields for move in field.lateral_moves]
    names += [block.name for field in farm.fields for block in field.drip]
    names += [well.name for well in farm.wells]
    found = find_named({each: each for each in names}, name, what="system")
    return {found, *(point for point, machine in points.items() if machine == found)}


def _parked(
    farm: Farm, layouts: Sequence[FieldLayout], flags: list[LocatedFlag], texts: Sequence[str]
) -> tuple[list[LocatedFlag], list[MachineLine]]:
    """Return flags with those of machines where they stand, and say which stand where."""
    from ringrow.farm.parked import not_standing, parked_flags, parked_lines, read_parked
    from ringrow.handoff.flag_table import line_sentence

    overrides = read_parked(farm, texts)
    lines = parked_lines(layouts, overrides)
    for line in lines:
        options.say(line_sentence(line))
    for name in not_standing(layouts, flags, overrides):
        options.say(f"{name}: not known where it stands; its flags are where they were set")
    return parked_flags(farm, layouts, flags, overrides), lines

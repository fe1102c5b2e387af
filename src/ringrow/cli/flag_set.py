"""``ringrow flag set``, ``dig`` and ``undo``: what became of a flag."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from ringrow.cli import flag_options, flag_spots, options

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from ringrow.coverage.field import FieldLayout
    from ringrow.farm.flags import Change
    from ringrow.farm.model import Farm
    from ringrow.units import UnitSystem

UNDOABLE = ("status", "note", "kind", "class", "ground-flag", "parts", "photo", "dig")
"""Fields that ``flag undo`` takes back; a test holds them to those of the season log."""


@click.command()
@options.farm_argument
@click.argument("number")
@click.option("--at", "at_text", metavar='"LAT, LON"', help="The hole, as a phone shows it.")
@click.option("--accuracy", metavar='"16 ft r95"', help="How good that position is.")
@click.option("--drip", metavar="NAME", help="On this drip block, where not on the flag's own.")
@click.option("--lateral", type=int, metavar="N", help="On lateral N.")
@click.option("--row", type=int, metavar="N", help="On crop row N from the numbering edge, instead.")
@click.option("--station", type=float, help="So far along it from the header end, ft or m.")
@flag_options.by_option
def dig(farm: Path, number: str, *, by: str, **said: Any) -> None:
    """Say where the hole behind a flag was: the wet spot stays, the hole is kept beside it.

    NUMBER is the flag's number, or the first four or more characters of its id. Once five
    holes are known, the dig hint says how far they lay from their wet spots on this farm.

    \b
    Example:
        ringrow flag dig my-farm 12 --lateral 104 --station 663
        ringrow flag dig my-farm 12 --at "36.7621, -101.4812" --accuracy "1 ft r95"
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.farm.dig_points import dig_points, set_dig_point
    from ringrow.farm.season import SEASON_FILE, open_season
    from ringrow.handoff.dig_words import dig_line

    if flag_spots.given(said, "at_text") == flag_spots.given(said, "lateral", "row", "station"):
        message = "give --at, or --lateral (or --row) and --station"
        raise click.UsageError(message)
    loaded, layouts = options.read_farm(farm)
    on_tape = not flag_spots.given(said, "at_text")
    if on_tape and said["drip"] is None:
        said["drip"] = _block_of(loaded, layouts, number)
    spot: Any = (
        flag_spots.drip_spot(loaded, layouts, said) if on_tape else flag_spots.ground_spot(loaded, said)
    )
    with open_season(farm / SEASON_FILE) as season:
        state = set_dig_point(season, number, spot, stamp=flag_options.stamp_now(by, "flag dig"))
        (state,) = flag_options.states_again(season, [state])
    hole = dig_points(loaded, layouts, [state])[state.id]
    click.echo(f"flag {state.number}: {dig_line(hole, loaded.units)}")


def _block_of(farm: Farm, layouts: Sequence[FieldLayout], number: str) -> str | None:
    """Return the drip block that a flag lies on; None away from tape."""
    from ringrow.farm.flag_places import locate_flags
    from ringrow.farm.flags import find_flag
    from ringrow.farm.season import SEASON_FILE, read_states

    state = find_flag(read_states(farm.folder / SEASON_FILE), number)
    drip = locate_flags(farm, layouts, [state])[0].drip
    return None if drip is None else drip.name


@click.command("set", epilog=flag_options.KINDS_HELP)
@options.farm_argument
@click.argument("numbers", nargs=-1, required=True, metavar="NUMBER...")
@click.option(
    "--status",
    type=click.Choice(flag_options.STATUSES),
    help="fixed: somebody says so; checked: seen to hold.",
)
@click.option("--note", help="What is known now; replaces the note, the old one stays in the history.")
@click.option("--kind", metavar="KIND", help="What is wrong; the kinds stand below.")
@flag_options.class_option(reset=True)
@click.option(
    "--parts",
    "parts_texts",
    multiple=True,
    metavar='"2x NAME"',
    help="Parts this visit used; they add to those of earlier visits. Several: again, or a semicolon.",
)
@click.option(
    "--ground-flag/--pulled", default=None, help="The flag in the ground was set there, or was taken out."
)
@flag_options.photo_option
@flag_options.by_option
@options.json_option
def set_(
    farm: Path,
    numbers: tuple[str, ...],
    status: str | None,
    note: str | None,
    kind: str | None,
    flag_class: str | None,
    parts_texts: tuple[str, ...],
    photo: Path | None,
    by: str,
    *,
    ground_flag: bool | None,
    as_json: bool,
) -> None:
    """Change flags: status, note, kind, class, flag in the ground; add parts used or a photo.

    Setting a field also settles a clash in it.

    NUMBER is a flag's number, or the first four or more characters of its id. Several
    flags change together or, when one is not known, not at all.

    \b
    Example:
        ringrow flag set my-farm 7 --status fixed --note "new tube" --who Ana
        ringrow flag set my-farm 12 --status fixed --parts "2x coupling 1-3/8 in" --pulled --who Ana
        ringrow flag set my-farm 3 8 12 --status checked
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.farm.adding_up import parse_parts
    from ringrow.farm.flag_places import kind_named
    from ringrow.farm.flags import find_flag, set_flags
    from ringrow.farm.photo_store import writing_photos
    from ringrow.farm.season import SEASON_FILE, open_season

    loaded, layouts = options.read_farm(farm)
    changes: dict[str, Any] = {"status": status, "note": note}
    changes["kind"] = kind_named(loaded, kind).name if kind else None
    changes["parts"] = [part for text in parts_texts for part in parse_parts(text)] or None
    changes["ground_flag"] = None if ground_flag is None else "set" if ground_flag else "pulled"
    changes = {field: value for field, value in changes.items() if value is not None}
    if flag_class is not None:
        changes["class"] = None if flag_class == flag_options.KIND_CLASS else flag_class
    if not changes and photo is None:
        message = (
            "nothing to change: give --status, --note, --kind, --class, --parts, --ground-flag, --pulled "
            "or --photo"
        )
        raise click.UsageError(message)
    picture = flag_options.read_picture(photo)
    stamp = flag_options.stamp_now(by, "flag set")
    with open_season(farm / SEASON_FILE) as season:
        with writing_photos(season) as wanted:
            before = season.states()
            touched = [find_flag(before, ref) for ref in numbers]
            done = set_flags(season, numbers, changes, stamp=stamp) if changes else []
            given = flag_options.give(season, touched, picture, wanted, stamp)
        states = flag_options.states_again(season, touched)
    flag_options.say_given(states, picture, given)
    for change in done:
        if not change.changed:
            options.say(f"flag {change.number}: {change.field} was so already")
    flag_options.show_flags(loaded, layouts, states, as_json=as_json)


@click.command()
@options.farm_argument
@click.argument("number")
@click.argument("field", type=click.Choice(UNDOABLE))
@flag_options.by_option
@options.json_option
def undo(farm: Path, number: str, field: str, by: str, *, as_json: bool) -> None:
    """Take back what was last said of a flag's FIELD; the history keeps both.

    NUMBER is the flag's number, or the first four or more characters of its id. Of parts and
    photos the last visit and the last photo are taken back; dig is the hole that was found.
    Taken back twice, it shows the first again.

    \b
    Example:
        ringrow flag undo my-farm 7 status
        ringrow flag undo my-farm 7 parts
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.farm.flags import undo_field
    from ringrow.farm.season import SEASON_FILE, open_season
    from ringrow.farm.undo import UNDO_SOURCE

    loaded, layouts = options.read_farm(farm)
    field = field.replace("-", "_")
    with open_season(farm / SEASON_FILE) as season:
        change = undo_field(season, number, field, stamp=flag_options.stamp_now(by, UNDO_SOURCE))
        states = [state for state in season.states() if state.number == change.number]
    options.say(f"Taken back: {_taken_back(change, loaded.units)}")
    flag_options.show_flags(loaded, layouts, states, as_json=as_json)


def _taken_back(change: Change, units: UnitSystem) -> str:
    from ringrow.handoff.flag_history import value_words

    of = f"{change.field.replace('_', ' ')} of flag {change.number}"
    if change.field in ("parts", "photo", "dig"):
        return f"what was last said of {of}; it has {'others' if change.after else 'none'} now"
    before, after = (value_words(change.field, value, units) for value in (change.before, change.after))
    return f"{of}, {before}; now {after}"

"""What the flag commands share: options, the list of kinds, showing flags that changed."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ringrow.cli import options

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from ringrow.coverage.field import FieldLayout
    from ringrow.farm.flag_model import FlagState, LocatedFlag
    from ringrow.farm.flags import Stamp
    from ringrow.farm.model import Farm
    from ringrow.farm.readers.photos import Photo
    from ringrow.farm.season import Season

CLASSES = ("unsafe", "stops", "wastes", "acres", "later")
STATUSES = ("open", "fixed", "checked", "not-a-fault")
WHEELS = ("inner-leading", "inner-trailing", "outer-leading", "outer-trailing")
SIDES = ("left", "right")
KIND_CLASS = "as-kind"

# Read with the command line, so that no command has to import the list for its help.
KINDS_HELP = """\b
    Kinds of flag (a farm may add its own):
      ground   leak, wet-spot, burrow, rut, washout, rock, loose-part, other-ground
      machine  sprinkler, drop, regulator, span-leak, tire, wheel, gearbox,
               driveline, alignment, tower-box, cover, wiring, collector-ring,
               structure, end-gun, booster, other-machine
      works    power-unit, battery, fuel-supply, drive-shaft, pump, panel, filter,
               valve, air-vent, flush-valve, header-leak, meter, nest, other-works
"""


def by_option(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add ``--by`` or ``--who``: the person who says it."""
    return click.option("--by", "--who", "by", default="", metavar="WHO", help="Who says so.")(command)


def photo_option(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add ``--photo FILE``."""
    kept = "A photo (JPEG, PNG) of it; a small copy is kept in the farm's folder."
    return click.option("--photo", type=click.Path(path_type=Path), metavar="FILE", help=kept)(command)


def class_option(*, reset: bool) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """Add ``--class``; with `reset` also the way back to the class of the kind."""
    choices = [*CLASSES, KIND_CLASS] if reset else list(CLASSES)
    text = "How much this one matters, when not as its kind does." + (
        f" {KIND_CLASS} goes back to that." if reset else ""
    )
    return click.option("--class", "flag_class", type=click.Choice(choices), help=text)


def read_picture(path: Path | None) -> Photo | None:
    """Return the photo that ``--photo`` names, read before anything is written."""
    from ringrow.farm.readers.photos import read_photo

    return None if path is None else read_photo(path)


def give(
    season: Season,
    states: Sequence[FlagState],
    photo: Photo | None,
    wanted: dict[str, bytes],
    stamp: Stamp,
) -> list[str]:
    """Give flags a photo inside a block of `writing_photos`; return the ids of those that had it not."""
    from ringrow.farm.photo_store import give_photo

    if photo is None:
        return []
    return give_photo(season, [state.id for state in states], photo, wanted=wanted, stamp=stamp)


def say_given(states: Sequence[FlagState], photo: Photo | None, given: Sequence[str]) -> None:
    """Say which flags got a photo and which had it."""
    if photo is None:
        return
    for state in states:
        words = "kept" if state.id in given else "was there already"
        options.say(f"flag {state.number}: photo {photo.name} {words}")


def states_again(season: Season, states: Sequence[FlagState]) -> list[FlagState]:
    """Return flags as the log has them now."""
    wanted = {state.id for state in states}
    return [state for state in season.states() if state.id in wanted]


def stamp_now(by: str, source: str) -> Stamp:
    """Return who says something now, by which command."""
    from ringrow.farm.flags import Stamp

    return Stamp(when=datetime.now(UTC), who=by.strip(), source=source)


def show_flags(
    farm: Farm, layouts: Sequence[FieldLayout], states: Sequence[FlagState], *, as_json: bool
) -> None:
    """Print flags after a change, one line each with what speaks against them, or as JSON."""
    from ringrow.farm.flag_places import locate_flags
    from ringrow.farm.season import SEASON_FILE, read_states
    from ringrow.handoff.fault_words import flag_notes
    from ringrow.handoff.flag_table import flag_record, flag_sentence

    # What speaks against a flag lies in the others of its round.
    wanted = {state.id for state in states}
    everything = locate_flags(farm, layouts, read_states(farm.folder / SEASON_FILE))
    located: list[LocatedFlag] = [flag for flag in everything if flag.state.id in wanted]
    if as_json:
        options.show_json({"flags": [flag_record(each, farm.units) for each in located]})
        return
    for each in located:
        click.echo(flag_sentence(each, farm.units))
        for note in flag_notes(each, farm.units):
            click.echo(f"  {note}")

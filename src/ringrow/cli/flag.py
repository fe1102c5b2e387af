"""``ringrow flag``: set, bring in, look at and change flags."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from ringrow.cli import flag_import, flag_look, flag_options, flag_set, flag_spots, options

if TYPE_CHECKING:
    from pathlib import Path


@click.group()
def flag() -> None:
    """Set, bring in, look at and change flags: what is wrong, and where.

    A flag on the ground stays at its latitude and longitude. A flag on a machine rides on
    it: tower 5, or so far from the pivot point. Every change is kept, with who and when.

    \b
    Example:
        ringrow flag import my-farm walk.gpx
        ringrow flag list my-farm --status open
    """  # noqa: D301 - the marks keep the example's lines apart


@flag.command(epilog=flag_options.KINDS_HELP)
@options.farm_argument
@click.option("--kind", required=True, metavar="KIND", help="What is wrong; the kinds stand below.")
@click.option("--at", "at_text", metavar='"LAT, LON"', help="On the ground, as a phone shows it.")
@click.option("--accuracy", metavar='"16 ft r95"', help="How good that position is.")
@click.option("--pivot", metavar="NAME", help="On this pivot; the farm's only pivot needs no name.")
@click.option("--move", metavar="NAME", help="On this lateral move.")
@click.option(
    "--side", type=click.Choice(flag_options.SIDES), help="Which side of its cart, looking along its travel."
)
@click.option("--travel", type=float, help="How far along its path the cart stood, ft or m.")
@click.option("--tower", type=int, metavar="N", help="At tower N, 1 nearest the pivot point or the cart.")
@click.option("--drop", type=int, metavar="+N", help="N drops past (+) or before (-) that tower.")
@click.option("--wheel", type=click.Choice(flag_options.WHEELS), help="Which wheel of that tower.")
@click.option("--span", type=int, metavar="N", help="On span N, 1 at the pivot point or the cart.")
@click.option("--outlet", type=int, metavar="N", help="At outlet N, 1 nearest the pivot point.")
@click.option(
    "--distance", type=float, help="So far from the pivot point or the cart, along the pipe, ft or m."
)
@click.option("--azimuth", type=float, help="True azimuth at which the machine stood, degrees.")
@click.option("--panel", type=float, help="What the panel showed, degrees, instead of --azimuth.")
@click.option("--drip", metavar="NAME", help="On this drip block; the farm's only one needs no name.")
@click.option("--lateral", type=int, metavar="N", help="At lateral N.")
@click.option("--row", type=int, metavar="N", help="At crop row N from the numbering edge, instead.")
@click.option("--station", type=float, help="So far along it from the header end, ft or m.")
@click.option("--well", metavar="NAME", help="At this well.")
@click.option("--name", default="", help="A short name.")
@click.option("--note", default="", help="What was seen.")
@click.option("--ground-flag", is_flag=True, help="A flag on a wire was set in the ground there.")
@flag_options.photo_option
@flag_options.class_option(reset=False)
@flag_options.by_option
@options.json_option
def add(
    farm: Path,
    kind: str,
    flag_class: str | None,
    photo: Path | None,
    *,
    ground_flag: bool,
    as_json: bool,
    **said: Any,
) -> None:
    """Set one flag: on the ground, on a pivot or lateral move, on drip tape or at a well.

    \b
    Example:
        ringrow flag add my-farm --kind burrow --at "36.7512, -101.5034" --ground-flag
        ringrow flag add my-farm --kind tire --pivot "Windmill pivot" --tower 5 --wheel outer-trailing
        ringrow flag add my-farm --kind sprinkler --tower 5 --drop +3 --who Walker
        ringrow flag add my-farm --kind tire --move "Ditch move" --side left --tower 3 --travel 850
        ringrow flag add my-farm --kind leak --drip "Elevator drip" --lateral 43 --station 600
        ringrow flag add my-farm --kind cover --tower 3 --photo IMG_0412.jpg
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.farm.flag_places import kind_named
    from ringrow.farm.flags import NewFlag, add_flag, check_place
    from ringrow.farm.photo_store import writing_photos
    from ringrow.farm.season import SEASON_FILE, open_season

    loaded, layouts = options.read_farm(farm)
    kind_found = kind_named(loaded, kind)
    spot = flag_spots.spot(loaded, layouts, said, kind=kind_found.name)
    check_place(kind_found, spot)
    new = NewFlag(
        kind=kind_found.name,
        spot=spot,
        name=said["name"],
        note=said["note"],
        flag_class=flag_class,
        ground_flag="set" if ground_flag else None,
    )
    picture = flag_options.read_picture(photo)
    stamp = flag_options.stamp_now(said["by"], "flag add")
    with open_season(farm / SEASON_FILE, create=True) as season:
        with writing_photos(season) as wanted:
            state = add_flag(season, new, stamp=stamp)
            given = flag_options.give(season, [state], picture, wanted, stamp)
        (state,) = flag_options.states_again(season, [state])
    flag_options.say_given([state], picture, given)
    flag_options.show_flags(loaded, layouts, [state], as_json=as_json)


flag.add_command(flag_import.import_)
flag.add_command(flag_look.list_)
flag.add_command(flag_look.show)
flag.add_command(flag_set.dig)
flag.add_command(flag_set.set_)
flag.add_command(flag_set.undo)

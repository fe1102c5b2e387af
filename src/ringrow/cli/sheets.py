"""``ringrow sheets``: what the crew takes along on paper."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from ringrow.cli import options
from ringrow.cli.flag_options import STATUSES
from ringrow.cli.options import how_many

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ringrow.coverage.field import FieldLayout
    from ringrow.farm.flag_model import LocatedFlag
    from ringrow.farm.model import Farm
    from ringrow.farm.ready import ReadyBoard
    from ringrow.handoff.route import Crop
    from ringrow.handoff.sheets.pages import Paper


@click.command()
@options.farm_argument
@click.option(
    "-o",
    "--output",
    "path",
    required=True,
    metavar="FILE.pdf",
    type=click.Path(path_type=Path),
    help="File to write.",
)
@options.field_option
@click.option(
    "--paper",
    type=click.Choice(["letter", "a4"]),
    default="letter",
    show_default=True,
    help="Size of the sheets.",
)
@click.option(
    "--png",
    "pictures",
    metavar="DIR",
    type=click.Path(path_type=Path, file_okay=False),
    help="Also write each page as a picture into this folder.",
)
@click.option(
    "--status",
    "statuses",
    multiple=True,
    type=click.Choice(STATUSES),
    default=["open"],
    show_default=True,
    help="Flags of this status; may be given again.",
)
@click.option(
    "--by",
    "order",
    type=click.Choice(["class", "route"]),
    default="class",
    show_default=True,
    help="Order of the stops: what matters first, or as one crew goes to them from the gate.",
)
@click.option(
    "--crop",
    type=click.Choice(["down", "up"]),
    help="With --by route: bare ground (the default), or along edges, rows and tracks.",
)
@click.option(
    "--ready/--no-ready",
    "with_board",
    default=None,
    help="A cover that says who is ready for first water; left out, once a round has been started.",
)
@options.language_option
@options.overwrite_option
def sheets(
    farm: Path,
    path: Path,
    field_name: str | None,
    paper: Paper,
    pictures: Path | None,
    statuses: tuple[str, ...],
    order: str,
    crop: Crop | None,
    language: str | None,
    *,
    with_board: bool | None,
    overwrite: bool,
) -> None:
    """Write the crew's sheets as one PDF to print: what to bring, then each field with its map.

    Each field that has flags gets its map with numbered flags, how to get there, notes, cautions
    for the work, a table of stops with what to shut, what to bring and room to write, and where
    to dig at leaks. What the same machines and zones used in earlier years stands on the first.

    \b
    Example:
        ringrow sheets my-farm -o crew.pdf
        ringrow sheets my-farm -o north.pdf --field "North 80" --paper a4 --png pictures
        ringrow sheets my-farm -o crew.pdf --by route --crop up
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.farm.dig_points import dig_points
    from ringrow.farm.flag_places import locate_flags
    from ringrow.farm.season import SEASON_FILE, read_events, read_states
    from ringrow.handoff.earlier_parts import earlier_parts
    from ringrow.handoff.features import one_field
    from ringrow.handoff.files import check_target, write_whole
    from ringrow.handoff.sheets.extras import Extras
    from ringrow.handoff.sheets.pages import make_sheets

    if crop is not None and order != "route":
        message = "--crop: only with --by route"
        raise click.UsageError(message)
    check_target(path, endings=(".pdf",), overwrite=overwrite)
    loaded, layouts = options.read_farm(farm)
    with options.progress("Drawing the sheets"):
        everything = flags = locate_flags(loaded, layouts, read_states(farm / SEASON_FILE))
        board = _board(loaded, layouts, everything, field_name, with_board=with_board)
        holes = dig_points(loaded, layouts, [flag.state for flag in everything])
        if field_name is not None:
            loaded, layouts, flags = one_field(loaded, layouts, flags, field_name)
        chosen = [flag for flag in flags if flag.state.status in statuses]
        extras = Extras(
            route=_route(loaded, layouts, chosen, crop or "down") if order == "route" else (),
            earlier=earlier_parts(
                everything, read_events(farm / SEASON_FILE), chosen, year=datetime.now(UTC).year
            ),
            holes=holes,
        )
        with options.crew_language(loaded, language):
            made = make_sheets(loaded, layouts, chosen, paper=paper, extras=extras, board=board)
        if pictures is not None:
            from ringrow.handoff.sheets.pictures import older_pictures, write_pictures

            drawn = write_pictures(made.pdf, pictures, path.stem, overwrite=overwrite)
        write_whole(path, made.pdf)
    total = sum(made.pages.values())
    parts = ", ".join(f"{name} {count}" for name, count in made.pages.items())
    options.say(f"Wrote {path}: {how_many(total, 'page')} for {how_many(len(chosen), 'flag')} ({parts}).")
    if pictures is not None:
        options.say(f"Wrote {how_many(len(drawn), 'picture')} into {pictures}.")
        older = older_pictures(pictures, path.stem, drawn)
        if older:
            names = ", ".join(each.name for each in older)
            options.say(f"Not of these sheets, left from before: {names}. Send none of them.")


def _board(
    farm: Farm,
    layouts: Sequence[FieldLayout],
    flags: Sequence[LocatedFlag],
    field_name: str | None,
    *,
    with_board: bool | None,
) -> ReadyBoard | None:
    """Return the board for the cover: of one field where one was named; None for no cover."""
    from ringrow.cli.ready import read_board
    from ringrow.farm.ready import board_of_field

    if with_board is False:
        return None
    board = read_board(farm, layouts, flags)
    if board.round is None and not with_board:
        return None
    return board if field_name is None else board_of_field(board, field_name)


def _route(
    farm: Farm, layouts: Sequence[FieldLayout], flags: Sequence[LocatedFlag], crop: Crop
) -> tuple[str, ...]:
    """Return the flags in the order in which one crew goes to them; none when none has a place."""
    from ringrow.handoff.route import plan_route, route_stops

    stops, _ = route_stops(layouts, flags)
    if not stops:
        return ()
    (crew,) = plan_route(layouts, stops, start_lonlat=farm.gate, crop=crop).crews
    return tuple(stop.flag.state.id for stop in crew.stops)

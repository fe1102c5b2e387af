"""``ringrow sheets``: what the crew takes along on paper."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from ringrow.cli import options

if TYPE_CHECKING:
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
    type=click.Choice(["open", "fixed", "checked", "not-a-fault"]),
    default=["open"],
    show_default=True,
    help="Flags of this status; may be given again.",
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
    language: str | None,
    *,
    overwrite: bool,
) -> None:
    """Write the crew's sheets as one PDF to print: what to bring, then each field with its map.

    Each field that has flags gets its map with numbered flags, how to get there, notes, cautions
    for the work, and a table of stops with what to shut, what to bring and room to write.

    \b
    Example:
        ringrow sheets my-farm -o crew.pdf
        ringrow sheets my-farm -o north.pdf --field "North 80" --paper a4 --png pictures
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.farm.flag_places import locate_flags
    from ringrow.farm.season import SEASON_FILE, read_states
    from ringrow.handoff.features import one_field
    from ringrow.handoff.files import check_target, write_whole
    from ringrow.handoff.sheets.pages import make_sheets

    check_target(path, endings=(".pdf",), overwrite=overwrite)
    loaded, layouts = options.read_farm(farm)
    with options.progress("Drawing the sheets"):
        flags = locate_flags(loaded, layouts, read_states(farm / SEASON_FILE))
        if field_name is not None:
            loaded, layouts, flags = one_field(loaded, layouts, flags, field_name)
        chosen = [flag for flag in flags if flag.state.status in statuses]
        with options.crew_language(loaded, language):
            made = make_sheets(loaded, layouts, chosen, paper=paper)
        if pictures is not None:
            from ringrow.handoff.sheets.pictures import write_pictures

            drawn = write_pictures(made.pdf, pictures, path.stem, overwrite=overwrite)
        write_whole(path, made.pdf)
    total = sum(made.pages.values())
    parts = ", ".join(f"{name} {count}" for name, count in made.pages.items())
    options.say(f"Wrote {path}: {_count(total, 'page')} for {_count(len(chosen), 'flag')} ({parts}).")
    if pictures is not None:
        options.say(f"Wrote {_count(len(drawn), 'picture')} into {pictures}.")


def _count(number: int, word: str) -> str:
    return f"{number:,} {word}" if number == 1 else f"{number:,} {word}s"

"""``ringrow year``: a year's acres and water for an office or district."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from ringrow.cli import options

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ringrow.coverage.field import FieldLayout
    from ringrow.farm.model import Farm
    from ringrow.farm.year import YearReport


@click.command()
@options.farm_argument
@click.argument("year", type=int)
@click.option(
    "-o",
    "--output",
    "path",
    metavar="DIR",
    type=click.Path(path_type=Path),
    help="Folder to write: page, table, JSON and the year's geometry.",
)
@click.option(
    "--idle",
    multiple=True,
    metavar="NAME",
    help="A machine, a point of a towed one, or a drip block that did not run; may be given again.",
)
@options.overwrite_option
@options.json_option
def year(
    farm: Path, year: int, path: Path | None, idle: tuple[str, ...], *, overwrite: bool, as_json: bool
) -> None:
    """Print a YEAR's acres watered by field, crop and well, meter start and end, volume and depth.

    Volume comes from meter readings alone (`ringrow reading add`); what they do not tell is left
    empty, with the reason. With -o a folder is written for an office or district: year-2027.html,
    .csv and .json, and year-2027.geojson, a frozen copy of the geometry that the acres rest on; later
    edits of the farm do not change it. Flags that are open stay open.

    \b
    Example:
        ringrow year my-farm 2027
        ringrow year my-farm 2027 -o water-2027 --idle "Creek pivot"
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.farm.read_records import read_records
    from ringrow.farm.season import SEASON_FILE
    from ringrow.farm.year import year_report
    from ringrow.handoff.year_files import check_year_folder
    from ringrow.handoff.year_table import year_record, year_text

    if path is not None:
        check_year_folder(path, year, overwrite=overwrite)
    loaded, layouts = options.read_farm(farm)
    with options.progress("Working out the year"):
        report = year_report(loaded, layouts, read_records(farm / SEASON_FILE), year=year, idle=idle)
    units = loaded.units
    record = _write(loaded, layouts, report, path) if path else year_record(report, units)
    if as_json:
        options.show_json(record)
    else:
        click.echo(year_text(report, units, width=options.width()))


def _write(farm: Farm, layouts: Sequence[FieldLayout], report: YearReport, folder: Path) -> dict[str, object]:
    from ringrow.farm.season import SEASON_FILE, read_states
    from ringrow.handoff.year_files import write_year

    open_flags = sum(state.status == "open" for state in read_states(farm.folder / SEASON_FILE))
    with options.progress("Writing the year"):
        written = write_year(farm, layouts, report, folder, open_flags=open_flags)
    options.say(f"Wrote {', '.join(path.name for path in written.paths)} into {folder}.")
    options.say(f"Geometry of {report.year}: SHA-256 {written.digest}")
    return written.record

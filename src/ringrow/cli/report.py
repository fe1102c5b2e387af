"""``ringrow report``: the history in pictures."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from ringrow.cli import options

if TYPE_CHECKING:
    from typing import Literal

    from ringrow.coverage.field import FieldLayout
    from ringrow.farm.model import Farm
    from ringrow.handoff.report.numbers import Report


@click.command()
@options.farm_argument
@click.option(
    "-o",
    "--output",
    "path",
    required=True,
    metavar="FILE.html|FILE.pdf",
    type=click.Path(path_type=Path),
    help="File to write.",
)
@click.option("--year", type=click.IntRange(1950, 2199), metavar="YEAR", help="Only flags set in this year.")
@click.option(
    "--paper",
    type=click.Choice(["letter", "a4"]),
    default="letter",
    show_default=True,
    help="Size of a PDF's pages.",
)
@options.language_option
@options.overwrite_option
def report(
    farm: Path,
    path: Path,
    year: int | None,
    paper: Literal["letter", "a4"],
    language: str | None,
    *,
    overwrite: bool,
) -> None:
    """Write what was flagged as charts and tables: one HTML file that needs no network, or a PDF.

    Flags by kind and month, ground touched over time, time to fix (flags still open counted for
    as long as they have waited), flags and breakdowns by machine, and a map of what came back.

    \b
    Example:
        ringrow report my-farm -o season.html
        ringrow report my-farm -o season.pdf --year 2027 --paper a4
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.handoff.files import check_target, write_whole

    check_target(path, endings=(".html", ".pdf"), overwrite=overwrite)
    loaded, layouts = options.read_farm(farm)
    with options.progress("Drawing the report"):
        numbers = _numbers(loaded, layouts, year)
        with options.crew_language(loaded, language):
            if path.suffix.lower() == ".pdf":
                from ringrow.handoff.report.pdf import report_pdf

                write_whole(path, report_pdf(numbers, paper=paper))
            else:
                from ringrow.handoff.report.page import report_page

                write_whole(path, report_page(numbers).encode("utf-8"))
    count = len(numbers.flags)
    options.say(f"Wrote {path}: {count:,} {'flag' if count == 1 else 'flags'}.")


def _numbers(farm: Farm, layouts: list[FieldLayout], year: int | None) -> Report:
    from ringrow.cli.clock import farm_clock
    from ringrow.farm.breakdown_list import breakdowns
    from ringrow.farm.flag_places import locate_flags
    from ringrow.farm.records import fold_records
    from ringrow.farm.season import SEASON_FILE, open_season
    from ringrow.farm.season_disk import log_exists
    from ringrow.handoff.report.numbers import gather

    path, now = farm.folder / SEASON_FILE, datetime.now(UTC)
    states, events = [], []
    if log_exists(path):
        with open_season(path) as season:
            states, events = season.states(), season.events()
    return gather(
        farm,
        layouts,
        locate_flags(farm, layouts, states),
        events,
        breakdowns(farm, layouts, fold_records(events), now=now),
        zone=farm_clock(farm),
        now=now,
        year=year,
    )

"""``ringrow again``: what comes back over the years."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING

import click

from ringrow.cli import options

if TYPE_CHECKING:
    from pathlib import Path


@click.command()
@options.farm_argument
@options.language_option
@options.json_option
def again(farm: Path, language: str | None, *, as_json: bool) -> None:
    """List places and machine parts flagged in more than one year, and systems that keep stopping.

    On the ground, flags of like kind within their joint accuracy are one place. On a machine the
    tower or outlet counts, wherever it stood; parts are not followed over a rebuild, which is
    dated in the machine's file ([[pivot.rebuilt]]).

    \b
    Example:
        ringrow again my-farm
        ringrow again my-farm --json
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.cli.clock import farm_clock
    from ringrow.farm.again import repeats, stops
    from ringrow.farm.breakdown_list import breakdowns
    from ringrow.farm.flag_places import locate_flags
    from ringrow.farm.read_records import read_records
    from ringrow.farm.season import SEASON_FILE, read_states
    from ringrow.handoff.again_table import again_text, repeat_record, stops_record

    loaded, layouts = options.read_farm(farm)
    path, zone = farm / SEASON_FILE, farm_clock(loaded)
    found = repeats(locate_flags(loaded, layouts, read_states(path)), layouts, zone=zone)
    stopped = stops(breakdowns(loaded, layouts, read_records(path), now=datetime.now(UTC)))
    if as_json:
        options.show_json(
            {
                "places": [repeat_record(each, loaded.units) for each in found],
                "stops": [stops_record(each, loaded.units) for each in stopped],
            }
        )
        return
    if found or stopped:
        with options.crew_language(loaded, language):
            text = again_text(found, stopped, loaded.units, zone, width=options.width())
        click.echo(text)
    else:
        options.say("nothing came back so far")

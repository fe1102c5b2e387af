"""``ringrow demo``: the whole job on the sample farm."""

from __future__ import annotations

import shlex
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from ringrow.cli import options

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ringrow.coverage.field import FieldLayout
    from ringrow.farm.flag_model import LocatedFlag
    from ringrow.farm.model import Farm


@click.command()
@click.argument("folder", metavar="[DIR]", type=click.Path(path_type=Path), default="two_windmill_farm")
@options.units_option
@options.overwrite_option
def demo(folder: Path, units: str, *, overwrite: bool) -> None:
    """Copy the sample farm to DIR (default: two_windmill_farm) and run the whole job on it.

    Brings in the sample's flag files, prints acres and flags with their places, and writes
    a map and a GeoJSON file into DIR. The farm's own files are in US units; --units says
    what is printed. A season log that is already in DIR is kept.

    \b
    Example:
        ringrow demo
        ringrow demo trial --units metric
    """  # noqa: D301 - the marks keep the example's lines apart
    from dataclasses import replace

    from ringrow.coverage.acres import field_acres
    from ringrow.farm.sample import copy_sample
    from ringrow.handoff.acres_table import acres_table
    from ringrow.handoff.files import check_target
    from ringrow.handoff.flag_table import flag_table
    from ringrow.units import get_units

    page, shapes = (folder / f"{folder.resolve().name}{ending}" for ending in (".html", ".geojson"))
    # A new folder holds nothing that could be lost; one that is there is looked at first.
    for path in (page, shapes) if folder.is_dir() else ():
        check_target(path, endings=(path.suffix,), overwrite=overwrite)
    written = copy_sample(folder, overwrite=overwrite)
    options.say(f"Copied the sample farm: {len(written)} files in {folder}")
    farm, layouts = options.read_farm(folder)
    farm = replace(farm, units=get_units(units))
    flags = _bring_in(farm, layouts)
    click.echo(acres_table([field_acres(layout) for layout in layouts], farm.units, width=options.width()))
    click.echo("\n" + flag_table(flags, farm.units, width=options.width()) + "\n")
    _write(farm, layouts, flags, page=page, shapes=shapes)
    click.echo(f"GeoJSON: {shapes}")
    click.echo(f"Map, opens in any browser without a network: {page}")
    farm_words = shlex.quote(str(folder))
    options.say(f'Next: ringrow where {farm_words} --at "36.7537, -101.4985"; ringrow flag list {farm_words}')


def _bring_in(farm: Farm, layouts: Sequence[FieldLayout]) -> list[LocatedFlag]:
    """Import the sample's flag files, say what came in, and return the flags, worst first."""
    from collections import Counter

    from ringrow.farm.flag_places import locate_flags
    from ringrow.farm.flags import Stamp
    from ringrow.farm.sample import import_sample_flags
    from ringrow.farm.season import SEASON_FILE, read_states
    from ringrow.handoff.flag_table import by_class

    stamp = Stamp(when=datetime.now(UTC), who="", source="demo")
    with options.progress("Reading the flag files"):
        plans = import_sample_flags(farm, layouts, stamp=stamp)
    for name, plan in plans.items():
        tally = Counter(outcome.result for outcome in plan.outcomes)
        options.say(f"flags/{name}: " + ", ".join(f"{count} {result}" for result, count in tally.items()))
    return by_class(locate_flags(farm, layouts, read_states(farm.folder / SEASON_FILE)))


def _write(
    farm: Farm, layouts: Sequence[FieldLayout], flags: Sequence[LocatedFlag], *, page: Path, shapes: Path
) -> None:
    """Write the map and the GeoJSON file."""
    from ringrow.farm.season import SEASON_FILE, read_events
    from ringrow.handoff.features import farm_features
    from ringrow.handoff.files import open_whole
    from ringrow.handoff.geojson import write_geojson

    with options.progress("Drawing the map"):
        from ringrow.handoff.map.page import map_page

        write_geojson(farm_features(farm, layouts, flags), shapes)
        with open_whole(page) as stream:
            stream.write(map_page(farm, layouts, flags, events=read_events(farm.folder / SEASON_FILE)))

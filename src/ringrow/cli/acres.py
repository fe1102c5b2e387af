"""``ringrow acres``: what is watered and what is dry."""

from __future__ import annotations

import shutil
from typing import TYPE_CHECKING

import click

from ringrow.cli import options

if TYPE_CHECKING:
    from pathlib import Path


@click.command()
@options.farm_argument
@options.field_option
@options.json_option
def acres(farm: Path, field_name: str | None, *, as_json: bool) -> None:
    """Print the acres of each field: farmable, irrigated, dry, and which dry corner is which.

    Irrigated and dry add up to farmable. Water that lands outside the boundary or on an
    exclusion is listed as overspray. What had to be assumed stands below the tables.

    \b
    Example:
        ringrow acres my-farm
        ringrow acres my-farm --field "Windmill quarter" --json
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.coverage.acres import field_acres
    from ringrow.coverage.layout import lay_out
    from ringrow.farm.load import load_farm
    from ringrow.farm.names import find_named
    from ringrow.handoff import acres_table
    from ringrow.handoff.machine_warnings import machine_warnings

    with options.progress("Working out the acres"):
        loaded = load_farm(farm)
        chosen = loaded.fields
        if field_name is not None:
            chosen = (find_named({field.name: field for field in chosen}, field_name, what="field"),)
        layouts = [lay_out(field) for field in chosen]
        areas = [field_acres(layout) for layout in layouts]
        warnings = machine_warnings(layouts, loaded.units)
    for line in [*acres_table.notices(loaded), *warnings]:
        options.say(line)
    if as_json:
        options.show_json(acres_table.acres_record(loaded.name, areas, loaded.units))
        return
    width = shutil.get_terminal_size().columns if options.on_terminal() else None
    click.echo(acres_table.acres_table(areas, loaded.units, width=width))

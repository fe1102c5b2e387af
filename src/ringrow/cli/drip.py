"""``ringrow drip``: what drip blocks hold, zone by zone."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from ringrow.cli import options

if TYPE_CHECKING:
    from pathlib import Path


@click.command()
@options.farm_argument
@click.option("--drip", "name", metavar="NAME", help="Only the drip block of this name.")
@options.json_option
def drip(farm: Path, name: str | None, *, as_json: bool) -> None:
    """Print the laterals, tape, emitters and acres of each drip block and zone.

    Under each table the counts are closed: laterals times spacing against the block's width, tape
    times spacing against its acres, and what the edges take of both.

    \b
    Example:
        ringrow drip my-farm
        ringrow drip my-farm --drip "Elevator drip" --json
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.coverage.drip_totals import drip_totals
    from ringrow.farm.names import find_named
    from ringrow.handoff.drip_table import drip_record, drip_text

    loaded, layouts = options.read_farm(farm)
    blocks = {each.name: (layout, each) for layout in layouts for each in layout.drip}
    chosen = blocks.values() if name is None else [find_named(blocks, name, what="drip block")]
    with options.progress("Adding up the tape"):
        totals = [drip_totals(block, field_name=layout.field.name) for layout, block in chosen]
    if as_json:
        options.show_json(drip_record(loaded.name, totals, loaded.units))
        return
    click.echo(drip_text(totals, loaded.units, width=options.width()))

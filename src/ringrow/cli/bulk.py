"""``ringrow bulk``: acres of any number of pivots from one table."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from ringrow.cli import options
from ringrow.errors import FileError

if TYPE_CHECKING:
    from ringrow.farm.bulk_fields import BulkFields
    from ringrow.farm.bulk_table import BulkTable
    from ringrow.handoff.bulk_files import BulkReport
    from ringrow.units import UnitSystem


@dataclass(frozen=True, slots=True, kw_only=True)
class _Source:
    """Where the fields come from."""

    path: Path
    name_field: str | None
    layer: str | None
    crs: str | None


@click.command()
@click.argument("table", type=click.Path(path_type=Path))
@click.option(
    "--boundaries",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Field boundaries, any vector file; left out, only what each pivot wets.",
)
@click.option("--name-field", metavar="COLUMN", help="Column of FILE with the fields' names.")
@click.option("--layer", metavar="NAME", help="Layer of FILE, where it has several.")
@click.option(
    "--crs", metavar="CRS", help='Coordinate system of FILE, where it does not say it: "EPSG:26914".'
)
@click.option(
    "--column",
    "stated",
    multiple=True,
    metavar="ROLE=NAME",
    help="Column of TABLE that plays a role, such as radius=R_wet; may be repeated.",
)
@click.option(
    "-o",
    "--output",
    "path",
    metavar="OUT",
    type=click.Path(path_type=Path),
    help="File to write, one row a pivot: .csv, .geojson, .gpkg or .json.",
)
@options.units_option
@options.overwrite_option
@options.json_option
def bulk(
    table: Path,
    boundaries: Path | None,
    name_field: str | None,
    layer: str | None,
    crs: str | None,
    stated: tuple[str, ...],
    path: Path | None,
    units: str,
    *,
    overwrite: bool,
    as_json: bool,
) -> None:
    """Work out the acres of every pivot in TABLE: watered, dry, sprayed past the field's edge.

    TABLE is a CSV or TSV file, or a GeoPackage, shapefile or GeoJSON of points; one row a pivot,
    any number: pivot point (lat, lon), and of the machine radius (wetted), or length, or last_tower or
    spans, with overhang and throw. If wanted name, start and stop (part circle), gun (reach past the
    pipe end), arcs (auto or always), setback, flow. Columns are guessed from their names and always
    said. Each pivot is matched to the polygon that holds its point. Totals are printed, rows go to
    OUT. A row that cannot be used is named; the others are done.

    \b
    Example:
        ringrow bulk pivots.csv --boundaries fields.gpkg -o acres.csv
        ringrow bulk pivotes.csv --units metric --column radius=R1 -o acres.gpkg
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.handoff.bulk_files import (
        bulk_record,
        bulk_text,
        check_bulk_target,
        refused_lines,
        write_bulk,
    )
    from ringrow.units import get_units

    if boundaries is None and (name_field, layer, crs) != (None, None, None):
        message = "--name-field, --layer and --crs are about --boundaries FILE; say it too"
        raise click.UsageError(message)
    if path is not None:
        sources = [table] if boundaries is None else [table, boundaries]
        check_bulk_target(path, sources=sources, overwrite=overwrite)
    farm_units = get_units(units)
    source = None
    if boundaries is not None:
        source = _Source(path=boundaries, name_field=name_field, layer=layer, crs=crs)
    report = _report(table, source, stated, farm_units)
    for line in refused_lines(report):
        options.say(line)
    if not len(report):
        message = f"{table}: found no row that can be used; allowed: one row a pivot, under a row of names"
        raise FileError(message)
    if path is not None:
        with options.progress(f"Writing {len(report):,} rows"):
            write_bulk(report, path)
        options.say(f"Wrote {len(report):,} rows to {path}")
    if as_json:
        options.show_json(bulk_record(report))
    else:
        click.echo(bulk_text(report, farm_units, width=options.width()))


def _report(table: Path, source: _Source | None, stated: tuple[str, ...], units: UnitSystem) -> BulkReport:
    from ringrow.coverage.bulk_acres import bulk_acres
    from ringrow.handoff.bulk_files import bulk_report

    pivots, fields = _read(table, source, stated, units)
    with options.progress(f"Working out {len(pivots.names):,} pivots"):
        acres = bulk_acres(pivots.pivots, () if fields is None else fields.shapes)
        return bulk_report(pivots, acres, units, field_names=None if fields is None else fields.names)


def _read(
    table: Path, source: _Source | None, stated: tuple[str, ...], units: UnitSystem
) -> tuple[BulkTable, BulkFields | None]:
    from ringrow.farm.bulk_cells import parse_stated
    from ringrow.farm.bulk_fields import read_bulk_fields
    from ringrow.farm.bulk_table import read_bulk_table
    from ringrow.handoff.number_words import one_line

    columns = parse_stated(stated)
    with options.progress(f"Reading {table.name}"):
        pivots = read_bulk_table(table, units=units, stated=columns)
    for text in pivots.said:
        options.say(one_line(f"{pivots.file}: {text}"))
    if source is None:
        return pivots, None
    with options.progress(f"Reading {source.path.name}"):
        fields = read_bulk_fields(
            source.path, name_field=source.name_field, layer=source.layer, crs=source.crs
        )
    for text in fields.said:
        options.say(one_line(f"{source.path.name}: {text}"))
    return pivots, fields

"""The commands ``new`` and ``check``: start a farm's folder, and find what is wrong in one."""

from __future__ import annotations

from dataclasses import asdict, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ringrow.cli import options
from ringrow.cli.options import how_many

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ringrow.errors import Fault
    from ringrow.farm.explain import KeyRow
    from ringrow.farm.load import Inspection
    from ringrow.farm.model import Farm
    from ringrow.farm.new import NewFarm


@click.command()
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
@click.option(
    "--boundary",
    "boundary_file",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Vector file with one polygon per field: GeoJSON, shapefile, GeoPackage, KML, ...",
)
@click.option("--name-field", metavar="COL", help="Column of FILE that holds the fields' names.")
@click.option("--layer", metavar="NAME", help="Layer of FILE, where it has several.")
@click.option("--crs", metavar="CRS", help='Coordinate system of a FILE that does not say it: "EPSG:26914".')
@options.units_option
@options.overwrite_option
@options.json_option
def new(
    *,
    folder: Path,
    boundary_file: Path | None,
    name_field: str | None,
    layer: str | None,
    crs: str | None,
    units: str,
    overwrite: bool,
    as_json: bool,
) -> None:
    """Start a farm's folder DIR, with one commented field file per polygon of FILE.

    Without --boundary the folder holds an invented example field to change. With
    --overwrite, farm.toml, fields/ and the copied boundaries of a farm that is there are
    replaced; flags and everything else stay.

    \b
    Example:
        ringrow new my-farm --boundary fields.shp --name-field FIELD
    """  # noqa: D301 - the marks keep the example's lines apart
    for option, value in (("--name-field", name_field), ("--layer", layer), ("--crs", crs)):
        if value is not None and boundary_file is None:
            message = f"{option} needs --boundary FILE."
            raise click.UsageError(message)
    from ringrow.farm.new import new_farm

    started = new_farm(
        folder,
        boundary_file=boundary_file,
        layer=layer,
        crs=crs,
        name_field=name_field,
        units=units,
        overwrite=overwrite,
    )
    _show_new(started, as_json=as_json)


def _show_new(started: NewFarm, *, as_json: bool) -> None:
    units = started.units
    total = sum(field.area_m2 for field in started.fields)
    for remark in started.remarks:
        options.say(remark)
    for field in started.fields:
        for change in field.changes:
            moved = f"{_signed(units.from_m2(field.moved_m2))} {units.area}"
            options.say(f'"{field.name}" mended: {change} ({moved} in all)')
    options.say(
        f"Started {started.folder}. Next: open the files in {started.folder / 'fields'}, add your machines,"
    )
    options.say(f"then run: ringrow check {started.folder}")
    if as_json:
        rows = [
            {"field": f.name, "file": f.file, units.key("field_acres"): units.from_m2(f.area_m2)}
            for f in started.fields
        ]
        options.show_json(
            {
                "folder": str(started.folder),
                "fields": rows,
                "total": {units.key("field_acres"): units.from_m2(total)},
                "remarks": list(started.remarks),
            }
        )
        return
    rows_shown = [(f.name, f"{units.from_m2(f.area_m2):,.2f}", f.file) for f in started.fields]
    _table(
        ("field", units.area, "file"), [*rows_shown, ("total", f"{units.from_m2(total):,.2f}", "")], right=1
    )


@click.command()
@click.argument("farm", required=False, type=click.Path(path_type=Path))
@click.option("--explain", is_flag=True, help="Print every key with its units and meaning; needs no FARM.")
@options.json_option
def check(*, farm: Path | None, explain: bool, as_json: bool) -> None:
    """Find every fault in the files of FARM in one run.

    Faults stop the farm from being used and give exit code 1; warnings and mended shapes do
    not. Lists are counted from 1: pivot[2].spans[3] is the third span of the second pivot.

    \b
    Example:
        ringrow check my-farm
        ringrow check --explain
    """  # noqa: D301 - the marks keep the example's lines apart
    if explain:
        _explain(as_json=as_json)
        return
    if farm is None:
        message = "Missing argument 'FARM': the farm's folder."
        raise click.UsageError(message)
    from ringrow.farm.load import inspect_farm

    inspection = inspect_farm(farm)
    if as_json:
        options.show_json(_check_record(inspection))
    else:
        _show_check(farm, inspection)
    if inspection.findings.faults:
        raise click.exceptions.Exit(1)


def _check_record(inspection: Inspection) -> dict[str, Any]:
    units = inspection.units
    findings = inspection.findings
    return {
        "faults": [asdict(fault) for fault in findings.faults],
        "warnings": [asdict(warning) for warning in findings.warnings],
        "repairs": [
            {
                "file": repair.file,
                "key": repair.key,
                "changes": list(repair.changes),
                units.key("before_acres"): units.from_m2(repair.area_before_m2),
                units.key("after_acres"): units.from_m2(repair.area_after_m2),
            }
            for repair in findings.repairs
        ],
    }


def _show_check(farm: Path, inspection: Inspection) -> None:
    findings = inspection.findings
    _show_list("FAULT", findings.faults, farm)
    _show_list("warning", findings.warnings, farm)
    _show_repairs(farm, inspection)
    if inspection.farm is not None:
        systems = _counted(inspection.farm)
        click.echo(
            f"{inspection.farm.name}: {systems}; no fault, {how_many(len(findings.warnings), 'warning')}."
        )
        return
    from ringrow.farm.faults import COUNTED_FROM_ONE

    click.echo(f"{how_many(len(findings.faults), 'fault')}, {how_many(len(findings.warnings), 'warning')}.")
    options.say(f"{COUNTED_FROM_ONE} Every key: ringrow check --explain")


def _counted(farm: Farm) -> str:
    """Return how many fields and systems a farm has; a towed machine is one pivot at several points."""
    pivots = [pivot for field in farm.fields for pivot in field.pivots]
    machines = len({pivot.machine or pivot.name for pivot in pivots})
    moves = sum(len(field.lateral_moves) for field in farm.fields)
    parts = [
        how_many(len(farm.fields), "field"),
        how_many(machines, "pivot") + (f" at {len(pivots)} points" if machines < len(pivots) else ""),
        *([how_many(moves, "lateral move")] if moves else []),
        how_many(sum(len(field.drip) for field in farm.fields), "drip block"),
    ]
    return ", ".join(parts)


def _show_list(word: str, faults: list[Fault], farm: Path) -> None:
    for fault in faults:
        if not options.on_terminal():
            click.echo(f"{word} {replace(fault, file=_full_path(farm, fault.file))}")
            continue
        said = fault.words
        key = said.pop("key")
        click.echo(click.style(f"{word} {fault.file}", bold=True) + (f"  {key}" if key else ""))
        for name, words in said.items():
            if words:
                click.echo(f"    {name:8} {words}")


def _full_path(farm: Path, file: str) -> str:
    return file if file == str(farm) else str(farm.absolute() / file)


def _show_repairs(farm: Path, inspection: Inspection) -> None:
    units = inspection.units
    for repair in inspection.findings.repairs:
        place = repair.file if options.on_terminal() else _full_path(farm, repair.file)
        before, after = units.from_m2(repair.area_before_m2), units.from_m2(repair.area_after_m2)
        areas = f"{before:.4f} {units.area} as drawn, {after:.4f} after ({_signed(after - before)})"
        click.echo(f"mended {place}: {repair.key}: {' '.join(repair.changes)} {areas}")


def _signed(area: float) -> str:
    return f"{round(area, 4) + 0.0:+.4f}"


def _explain(*, as_json: bool) -> None:
    from ringrow.farm.explain import key_rows

    rows = key_rows()
    if as_json:
        options.show_json({"keys": [asdict(row) for row in rows]})
        return
    for file in dict.fromkeys(row.file for row in rows):
        click.echo(f"\n{file}")
        shown = [
            (row.key, _both_units(row.us, row.metric), row.needed, _meaning(row))
            for row in rows
            if row.file == file
        ]
        _table(("key", "us / metric", "needed", "meaning: allowed (in us units)"), shown)
    click.echo("\n[] is a list of tables: pivot[].spans stands under [[pivot]]. Messages count lists from 1.")


def _meaning(row: KeyRow) -> str:
    """Return meaning and range; what is allowed in a table stands in the rows below it."""
    said = "a table" in row.allowed or "text in quotes" in row.allowed or row.allowed in row.meaning
    return row.meaning if said else f"{row.meaning}: {row.allowed}"


def _both_units(us: str, metric: str) -> str:
    return us if us == metric else f"{us} / {metric}"


def _table(head: tuple[str, ...], rows: Sequence[tuple[str, ...]], *, right: int | None = None) -> None:
    """Print a table: drawn to the width of a terminal, else plain lines with full text."""
    if options.on_terminal():
        from rich.console import Console
        from rich.table import Table
        from rich.text import Text

        table = Table(box=None, pad_edge=False, header_style="bold")
        for column, title in enumerate(head):
            table.add_column(title, justify="right" if column == right else "left", no_wrap=column == 0)
        for row in rows:
            table.add_row(*(Text(cell) for cell in row))
        Console().print(table)
        return
    widths = [max(len(row[column]) for row in (head, *rows)) for column in range(len(head) - 1)]
    for row in (head, *rows):
        cells = [
            cell.rjust(width) if column == right else cell.ljust(width)
            for column, (cell, width) in enumerate(zip(row, widths, strict=False))
        ]
        click.echo("  ".join([*cells, row[-1]]).rstrip())

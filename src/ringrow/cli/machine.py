"""``ringrow gun`` and ``ringrow arm``: where end guns run and corner arms stand."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from ringrow.cli import options

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ringrow.coverage.field import FieldLayout, PivotLayout
    from ringrow.units import UnitSystem

    Machines = Sequence[tuple[FieldLayout, PivotLayout]]

_ENDINGS = (".gpx", ".geojson")

_pivot_option = click.option(
    "--pivot", "name", metavar="NAME", help="Only this pivot, or all points of this towed machine."
)


@click.command()
@options.farm_argument
@_pivot_option
@options.json_option
def gun(farm: Path, name: str | None, *, as_json: bool) -> None:
    """Print where each end gun runs: start and stop, in true degrees and on the panel.

    With it stands what the gun gains, what it gives up to the setback and to the roads, houses,
    power lines and stock water it keeps off, and which stated arcs throw where they should not.

    \b
    Example:
        ringrow gun my-farm
        ringrow gun my-farm --pivot "Windmill pivot" --json
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.coverage.gun_table import gun_table
    from ringrow.handoff.gun_table import gun_record, gun_text

    with options.progress("Working out where the guns run"):
        loaded, layouts = options.read_farm(farm)
        chosen = _chosen(layouts, name)
        found = [(machine, gun_table(layout, machine)) for layout, machine in chosen]
    tables = [table for _, table in found if table is not None]
    if as_json:
        options.show_json(gun_record(loaded.name, tables, loaded.units))
        return
    without = [machine.name for machine, table in found if table is None]
    text = gun_text(tables, loaded.units, width=options.width(), without=without)
    click.echo(text or "No pivots.")


@click.command()
@options.farm_argument
@_pivot_option
@options.json_option
@click.option(
    "-o",
    "--output",
    "path",
    metavar="FILE.gpx|.geojson",
    type=click.Path(path_type=Path),
    help="Write the path of the steered wheels to this file.",
)
@options.overwrite_option
def arm(farm: Path, name: str | None, path: Path | None, *, as_json: bool, overwrite: bool) -> None:
    """Print how far each corner arm is open at every azimuth, and write the path of its wheels.

    The table has a row every 10 degrees and wherever the arm begins to open or fold. The path
    goes to a GPX file (a track, with a waypoint for every row) or to GeoJSON (a line with the
    station of every vertex, the swept ground, a point for every row).

    \b
    Example:
        ringrow arm my-farm
        ringrow arm my-farm -o wheels.gpx
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.handoff.arm_table import arm_record, arm_text
    from ringrow.handoff.files import check_target

    if path is not None:
        check_target(path, endings=_ENDINGS, overwrite=overwrite)
    with options.progress("Working out the corner arms"):
        loaded, layouts = options.read_farm(farm)
        arms = [pair for pair in _chosen(layouts, name) if pair[1].corner_arm is not None]
    if path is not None:
        _write(arms, path, loaded.units)
    if as_json:
        options.show_json(arm_record(loaded.name, arms, loaded.units))
        return
    click.echo(arm_text(arms, loaded.units, width=options.width()))


def _write(arms: Machines, path: Path, units: UnitSystem) -> None:
    from ringrow.errors import PlaceError
    from ringrow.handoff.arm_table import write_arm_gpx
    from ringrow.handoff.geojson import write_geojson
    from ringrow.handoff.machine_features import arm_features

    if not arms:
        message = f'wheel path: found no corner arm to write to "{path}"; allowed: a machine with one'
        raise PlaceError(message)
    if path.suffix.lower() == ".gpx":
        counts = write_arm_gpx(arms, path, units)
    else:
        groups = (group for layout, machine in arms for group in arm_features(layout.field, machine, units))
        counts = write_geojson(groups, path).counts
    parts = [f"{count:,} {kind.removesuffix('s') if count == 1 else kind}" for kind, count in counts.items()]
    options.say(f"Wrote {path}: {', '.join(parts)}.")


def _chosen(layouts: Sequence[FieldLayout], name: str | None) -> list[tuple[FieldLayout, PivotLayout]]:
    """Return the pivots of a name, or all points of a towed machine of that name; all without a name."""
    from ringrow.farm.names import find_named

    pairs = [(layout, machine) for layout in layouts for machine in layout.pivots]
    if name is None:
        return pairs
    named: dict[str, list[tuple[FieldLayout, PivotLayout]]] = {}
    for layout, machine in pairs:
        for key in {machine.name, machine.pivot.machine or machine.name}:
            named.setdefault(key, []).append((layout, machine))
    return find_named(named, name, what="pivot")

"""``ringrow flag import``: flags from files of points and from photos."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ringrow.cli import flag_options, options

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ringrow.farm.import_model import ImportPlan
    from ringrow.farm.model import Farm
    from ringrow.farm.readers.rows import PointFile


@click.command("import", epilog=flag_options.KINDS_HELP)
@options.farm_argument
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="FILE...")
@click.option(
    "--columns", metavar='"lat=Y,lon=X,note=Remarks"', help="Which columns are what, where guessing fails."
)
@click.option("--kind", metavar="KIND", help="Kind of every point in these files.")
@flag_options.by_option
@click.option("--dry-run", is_flag=True, help="Only say what would come in.")
@options.json_option
def import_(
    farm: Path,
    files: tuple[Path, ...],
    columns: str | None,
    kind: str | None,
    by: str,
    *,
    dry_run: bool,
    as_json: bool,
) -> None:
    """Bring in flags from files of points, and from photos.

    Takes waypoints of GPX and NMEA, CSV tables, GeoJSON, KML, KMZ, GeoPackage, shapefile
    (in any coordinate system), JPEG and PNG photos and folders of them: one flag a photo.

    Importing a file twice changes nothing. Columns, kinds and places are read from their
    words, English or Spanish, such as "P3 T5 gearbox" in a photo's caption or name, and
    every guess is shown. A point far from the farm is refused.

    \b
    Example:
        ringrow flag import my-farm walk.gpx table.csv
        ringrow flag import my-farm points.csv --columns "lat=Y,lon=X,note=Remarks" --dry-run
        ringrow flag import my-farm photos-of-monday
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.farm.flag_import import import_files, settle_kinds
    from ringrow.farm.flag_places import farm_lonlat, kind_named, surroundings_of
    from ringrow.farm.photo_words import settle_photos
    from ringrow.farm.readers import read_points
    from ringrow.farm.readers.columns import parse_columns
    from ringrow.farm.season import SEASON_FILE

    loaded, layouts = options.read_farm(farm)
    all_kind = kind_named(loaded, kind).name if kind else None
    stated = parse_columns(columns) if columns else None
    homes = farm_lonlat(loaded)
    ready = []
    with options.progress("Reading the files"):
        for path in files:
            file = read_points(path, unit=loaded.units.length, stated=stated, farm_lonlat=homes)
            around = surroundings_of(loaded, layouts, file.rows)
            rows = settle_kinds(file, kinds=loaded.kinds, around=around, all_kind=all_kind)
            ready.append((file, settle_photos(loaded, layouts, rows)))
        plans, numbers = import_files(
            farm / SEASON_FILE,
            ready,
            accuracy=loaded.accuracy,
            stamp=flag_options.stamp_now(by, "flag import"),
            dry_run=dry_run,
        )
    read = [file for file, _ in ready]
    if as_json:
        options.show_json(_import_record(read, plans, numbers, dry_run=dry_run, farm=loaded))
    else:
        for file, plan in zip(read, plans, strict=True):
            _show_import(file, plan, numbers, farm=loaded)
    if dry_run and not as_json:
        options.say("dry run: nothing was written")
    _fail_if_all_refused(read)


def _fail_if_all_refused(files: Sequence[PointFile]) -> None:
    """Make files of which not one point was taken a fault, so that a script notices."""
    from ringrow.errors import FileError

    if any(file.refused for file in files) and not any(file.rows for file in files):
        count = sum(len(file.refused) for file in files)
        points = "the only point" if count == 1 else f"all {count:,} points"
        message = (
            f"{', '.join(file.file for file in files)}: {points} refused; why stands above; nothing came in"
        )
        raise FileError(message)


def _show_import(file: PointFile, plan: ImportPlan, numbers: dict[str, int], *, farm: Farm) -> None:
    from ringrow.handoff.import_words import import_lines

    for line in file.said:
        options.say(f"{file.file}: {line}")
    for line in import_lines(file, plan, numbers, farm.units):
        click.echo(line)


def _import_record(
    files: Sequence[PointFile],
    plans: Sequence[ImportPlan],
    numbers: dict[str, int],
    *,
    dry_run: bool,
    farm: Farm,
) -> dict[str, Any]:
    from ringrow.handoff.import_words import import_record

    return {
        "dry_run": dry_run,
        "files": [
            import_record(file, plan, numbers, farm.units) for file, plan in zip(files, plans, strict=True)
        ],
    }

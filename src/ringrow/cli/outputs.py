"""``ringrow map`` and ``ringrow export``: files for the crew and for other programs."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from ringrow.cli import options
from ringrow.cli.options import how_many

if TYPE_CHECKING:
    from collections.abc import Callable

    from ringrow.coverage.field import FieldLayout
    from ringrow.farm.flag_model import LocatedFlag
    from ringrow.farm.model import Farm
    from ringrow.farm.parked import MachineLine

_MAP_ENDINGS = (".html", ".htm")
_AS_WRITTEN = "\0as the farm's files say"


def _output_option(example: str) -> Callable[[options.CommandT], options.CommandT]:
    return click.option(
        "-o",
        "--output",
        "path",
        required=True,
        metavar=example,
        type=click.Path(path_type=Path),
        help="File to write.",
    )


@click.command("map")
@options.farm_argument
@_output_option("FILE.html")
@click.option(
    "--parked",
    "parked",
    multiple=True,
    is_flag=False,
    flag_value=_AS_WRITTEN,
    metavar="[NAME=AZIMUTH]",
    help="Draw machines where they stand now, flags on them too: by the farm's files, and by "
    '"NAME=AZIMUTH" or "NAME=panel:DEGREES" for what the panel shows. Repeat for several.',
)
@options.language_option
@click.option(
    "--photo",
    "photo",
    type=click.Path(path_type=Path),
    metavar="FILE.tif",
    help="Put an aerial photo (GeoTIFF) under the live map, cut to the fields; needs the extra imagery.",
)
@click.option(
    "--route",
    "by_route",
    is_flag=True,
    help="Let the list be put in the order of one crew's route from the gate over all open flags; takes "
    "some seconds for a hundred flags.",
)
@options.overwrite_option
def map_(
    farm: Path,
    path: Path,
    parked: tuple[str, ...],
    language: str | None,
    photo: Path | None,
    *,
    by_route: bool,
    overwrite: bool,
) -> None:
    """Write the farm's map with its flags as one file a phone can open without a network.

    The file shows fields, watered and dry ground, towers, drip laterals, wells and numbered
    flags with their places in words. It fetches nothing. Where scripts are off, drawn maps
    and the list of flags are still there; printed, it gives those too.

    \b
    Example:
        ringrow map my-farm -o my-farm.html
        ringrow map my-farm -o my-farm.html --overwrite
        ringrow map my-farm -o crew.html --parked "North pivot=41" --parked "Creek pivot=panel:214"
        ringrow map my-farm -o crew.html --parked
        ringrow map my-farm -o mapa.html --language es
        ringrow map my-farm -o crew.html --route --photo aerial.tif
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.handoff.files import check_target, open_whole

    check_target(path, endings=_MAP_ENDINGS, overwrite=overwrite)
    with options.progress("Drawing the map"):
        loaded, layouts, flags = _read(farm, field_name=None)

        from ringrow.farm.parked import parked_flags, parked_lines, read_parked
        from ringrow.farm.season import SEASON_FILE, read_events
        from ringrow.handoff.map.page import map_page
        from ringrow.handoff.map.photo import farm_photos, photo_remarks
        from ringrow.handoff.map.stops import stop_order

        events = read_events(farm / SEASON_FILE)
        standing: list[MachineLine] = []
        if parked:
            said = read_parked(loaded, [text for text in parked if text != _AS_WRITTEN])
            standing = parked_lines(layouts, said)
            flags = parked_flags(loaded, layouts, flags, said)
        photos = [] if photo is None else farm_photos(photo, layouts)
        stops = stop_order(layouts, flags, start_lonlat=loaded.gate) if by_route else ()
        with options.crew_language(loaded, language):
            page = map_page(
                loaded, layouts, flags, standing=standing, photos=photos, stops=stops, events=events
            )
        with open_whole(path) as stream:
            stream.write(page)
    size = f"{path.stat().st_size / 1000:,.0f} kB"
    options.say(f"Wrote {path}: {how_many(len(layouts), 'field')}, {how_many(len(flags), 'flag')}, {size}.")
    if photo is not None:
        for remark in photo_remarks(photos, layouts):
            options.say(remark)
    if parked:
        _say_standing(standing)


def _say_standing(standing: list[MachineLine]) -> None:
    from ringrow.handoff.map.ways import standing_words

    for line in standing:
        options.say(f"{standing_words(line)}.")
    if not standing:
        options.say(
            "No machine is drawn where it stands: none has parked in its field's file; "
            'say --parked "NAME=AZIMUTH".'
        )


@click.command()
@options.farm_argument
@_output_option("FILE.EXT")
@options.field_option
@options.language_option
@options.overwrite_option
def export(farm: Path, path: Path, field_name: str | None, language: str | None, *, overwrite: bool) -> None:
    """Write the farm for other people's tools; the ending of the file says which.

    \b
    .geojson    everything, one feature each, for anything
    .gpkg       everything in layers with looks, for a desktop GIS
    .kml, .kmz  everything in folders, for a globe viewer
    .zip        everything as shapefiles, for what reads nothing newer
    .gpx        flags, wells and gate as waypoints, for a handheld or phone
    .csv        the table of flags, for a spreadsheet

    Longitude and latitude are WGS 84 with seven decimals. Flags come back through flag
    import from all of these but the shapefiles.

    \b
    Example:
        ringrow export my-farm -o my-farm.geojson
        ringrow export my-farm -o crew.gpx
        ringrow export my-farm --field "North 80" -o north.gpkg --overwrite
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.farm.events import RECORD
    from ringrow.farm.season import SEASON_FILE, read_events
    from ringrow.handoff.export import check_export, export_farm

    check_export(path, overwrite=overwrite)
    with options.progress("Writing the export"):
        loaded, layouts, flags = _read(farm, field_name=field_name)
        events = read_events(farm / SEASON_FILE)
        if field_name is not None:
            # What is said about systems is said about the whole farm.
            events = [event for event in events if event.field != RECORD]
        with options.crew_language(loaded, language):
            report = export_farm(loaded, layouts, flags, path, events=events)
    total = sum(report.counts.values())
    parts = ", ".join(f"{count:,} {kind}" for kind, count in report.counts.items())
    options.say(f"Wrote {path}: {how_many(total, 'feature')}" + (f" ({parts})." if parts else "."))
    for remark in report.remarks:
        options.say(remark)


def _read(folder: Path, *, field_name: str | None) -> tuple[Farm, list[FieldLayout], list[LocatedFlag]]:
    """Return the farm, its fields laid out and its flags, or those of one field."""
    from ringrow.coverage.layout import lay_out
    from ringrow.farm.flag_places import locate_flags
    from ringrow.farm.load import load_farm
    from ringrow.farm.season import SEASON_FILE, read_states
    from ringrow.handoff.features import one_field

    farm = load_farm(folder)
    layouts = [lay_out(field) for field in farm.fields]
    flags = locate_flags(farm, layouts, read_states(folder / SEASON_FILE))
    return one_field(farm, layouts, flags, field_name) if field_name is not None else (farm, layouts, flags)

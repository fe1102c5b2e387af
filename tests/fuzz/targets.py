"""What is fuzzed: each reader of files from outside, and the endings it takes."""

from __future__ import annotations

import shutil
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib.util import find_spec
from typing import TYPE_CHECKING

import shapely

from farms import write_farm
from fuzz import seeds as whole
from ringrow.coverage.accuracy import DEFAULT_ACCURACY
from ringrow.coverage.bulk_acres import bulk_acres
from ringrow.coverage.catch_cans import catch_result
from ringrow.equipment.kinds import FLAG_KINDS
from ringrow.errors import FarmFileError, RingrowError
from ringrow.farm.bulk_fields import read_bulk_fields
from ringrow.farm.bulk_table import read_bulk_table
from ringrow.farm.flag_import import plan_import, settle_kinds
from ringrow.farm.flags import Stamp
from ringrow.farm.folding import fold
from ringrow.farm.load import inspect_farm
from ringrow.farm.new import new_farm
from ringrow.farm.readers.open import read_points
from ringrow.farm.readers.photos import read_photo, small_copy
from ringrow.farm.records import fold_records
from ringrow.farm.round_sheet import read_sheet, sheet_stamps, sheet_subjects
from ringrow.farm.season import open_season
from ringrow.farm.season_check import check_log, salvaged
from ringrow.farm.season_files import load_lines, merge_log, restore
from ringrow.farm.tracks import read_tracks
from ringrow.farm.vectors import read_layer
from ringrow.farm.water_files import read_cans, read_chart
from ringrow.units import US

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from ringrow.farm.load import Inspection

NOW = datetime(2026, 11, 25, tzinfo=UTC)
STAMP = Stamp(when=NOW, who="", source="file")


@dataclass(frozen=True, kw_only=True)
class Target:
    """A reader: the ending its files get, and what reads one."""

    name: str
    ending: str
    read: Callable[[Path], object]
    seeds: Callable[[Path], list[bytes]]
    zipped: bool = False


def points(path: Path) -> object:
    """Read points and plan their import, as `ringrow flag import` does before it writes."""
    file = read_points(path)
    ready = settle_kinds(file, kinds=FLAG_KINDS, around=[frozenset()] * len(file.rows))
    plan = plan_import(file, ready, known=(), accuracy=DEFAULT_ACCURACY, stamp=STAMP)
    return fold(plan.events, {}), fold_records(plan.events)


def photo(path: Path) -> object:
    """Read a photo's place and make its small copy."""
    found = read_photo(path)
    return found, small_copy(path.name, path.read_bytes())


def pivots(path: Path) -> object:
    """Read a table of many pivots and work out what each wets in a field about the first."""
    table = read_bulk_table(path, units=US).pivots
    return bulk_acres(table, shapely.box(table.lon - 0.01, table.lat - 0.01, table.lon, table.lat + 0.01)[:1])


def layer(path: Path) -> object:
    return read_layer(path)


def drawing(path: Path) -> object:
    """Read shapes of a kind of file that says no coordinate system."""
    return read_layer(path, crs="EPSG:4326")


def fields(path: Path) -> object:
    """Read the fields of a table of many pivots."""
    return read_bulk_fields(path)


def started(path: Path) -> object:
    """Start a farm on the boundaries of a file, and read it back: what is written must be right."""
    folder = path.parent / "started"
    shutil.rmtree(folder, ignore_errors=True)
    new_farm(folder, boundary_file=path)
    return whole_farm(folder)


def whole_farm(folder: Path) -> Inspection:
    """Read a farm; refused when it has a fault, every one of which says what is wrong in a few words."""
    found = inspect_farm(folder)
    for fault in found.findings.faults:
        assert 0 < len(str(fault)) < 2_000
    if found.farm is None:
        raise FarmFileError(tuple(found.findings.faults[:1]))
    return found


def farm(path: Path) -> object:
    """Read a farm whose one field file is the broken one."""
    folder = path.parent / "farm"
    if not folder.exists():
        write_farm(folder, fields={})
        shutil.copytree(whole.SAMPLE / "shapes", folder / "shapes")
    shutil.copyfile(path, folder / "fields" / "one.toml")
    return whole_farm(folder)


def farm_toml(path: Path) -> object:
    """Read a farm whose own file is the broken one."""
    folder = path.parent / "farm_toml"
    if not folder.exists():
        write_farm(folder, farm_toml="")
    shutil.copyfile(path, folder / "farm.toml")
    return whole_farm(folder)


def round_sheet(path: Path) -> object:
    """Read a table of a round that was filled in, as `ringrow round import` does before it writes."""
    rows, _ = read_sheet(path, whole.desk())
    return sheet_subjects(rows, "round"), sheet_stamps(rows, STAMP)


def chart(path: Path) -> object:
    return read_chart(path, US)


def cans(path: Path) -> object:
    """Read catch cans and work out how even they are."""
    return catch_result(read_cans(path, US, mouth_m=0.1))


def aerial(path: Path) -> object:
    """Put an aerial photo under a field."""
    from ringrow.handoff.map.photo import field_photos

    return field_photos(path, {"Windmill quarter": whole.PHOTO_FIELD})


def dump(path: Path) -> object:
    """Load a dump into an empty log."""
    log = path.parent / "season.db"
    log.unlink(missing_ok=True)
    loaded = load_lines(log, path)
    with open_season(log) as season:
        return loaded, season.states(), fold_records(season.events())


def backup(path: Path) -> object:
    """Restore a broken backup to a log, and merge it into the log that came of it."""
    log = path.parent / "restored" / "season.db"
    shutil.rmtree(log.parent, ignore_errors=True)
    log.parent.mkdir()
    shutil.copyfile(whole.sound_log(), log)
    before = log.read_bytes()
    try:
        return merge_log(log, path), restore(log, path)
    except RingrowError:
        assert log.read_bytes() == before, "a backup was refused, and yet the log changed"
        raise


def log(path: Path) -> object:
    """Check and salvage a damaged log."""
    try:
        check_log(path, now=NOW)
    finally:
        saved = salvaged(path)
    return saved


def _both(*makers: Callable[[Path], list[bytes]]) -> Callable[[Path], list[bytes]]:
    return lambda folder: [seed for make in makers for seed in make(folder)]


def _points() -> list[Target]:
    return [
        Target(name="gpx", ending=".gpx", read=points, seeds=whole.exported(".gpx")),
        Target(name="kml", ending=".kml", read=points, seeds=_both(whole.placemarks, whole.exported(".kml"))),
        Target(
            name="kmz",
            ending=".kmz",
            read=points,
            seeds=_both(whole.zipped_placemarks, whole.exported(".kmz")),
            zipped=True,
        ),
        Target(
            name="geojson",
            ending=".geojson",
            read=points,
            seeds=_both(whole.exported(".geojson"), whole.phone),
        ),
        Target(name="csv", ending=".csv", read=points, seeds=whole.exported(".csv")),
        Target(name="nmea", ending=".nmea", read=points, seeds=whole.waypoints),
        Target(
            name="gpkg", ending=".gpkg", read=points, seeds=_both(whole.points_layer, whole.exported(".gpkg"))
        ),
        Target(name="shapefile", ending=".zip", read=points, seeds=whole.shapefile, zipped=True),
        Target(name="photo", ending=".jpg", read=photo, seeds=whole.photos),
    ]


def _shapes() -> list[Target]:
    drawn = whole.drawn
    return [
        Target(name="track-gpx", ending=".gpx", read=read_tracks, seeds=lambda _: whole.outside(".gpx")),
        Target(name="track-nmea", ending=".nmea", read=read_tracks, seeds=lambda _: whole.outside(".nmea")),
        Target(name="track-csv", ending=".csv", read=read_tracks, seeds=whole.exported(".csv")),
        Target(name="track-geojson", ending=".geojson", read=read_tracks, seeds=drawn(".geojson")),
        Target(name="boundary", ending=".geojson", read=layer, seeds=whole.exported(".geojson")),
        Target(
            name="boundary-kml",
            ending=".kml",
            read=layer,
            seeds=_both(whole.placemarks, whole.exported(".kml")),
        ),
        Target(
            name="boundary-kmz",
            ending=".kmz",
            read=layer,
            seeds=_both(whole.zipped_placemarks, whole.exported(".kmz")),
            zipped=True,
        ),
        Target(name="boundary-gpkg", ending=".gpkg", read=layer, seeds=drawn(".gpkg")),
        Target(name="boundary-shapefile", ending=".zip", read=layer, seeds=drawn(".zip"), zipped=True),
        Target(name="boundary-dxf", ending=".dxf", read=drawing, seeds=drawn(".dxf")),
        Target(name="boundary-fgb", ending=".fgb", read=layer, seeds=drawn(".fgb")),
        Target(name="boundary-gml", ending=".gml", read=layer, seeds=drawn(".gml")),
        Target(name="boundary-mif", ending=".mif", read=layer, seeds=drawn(".mif")),
        Target(name="boundary-sqlite", ending=".sqlite", read=layer, seeds=drawn(".sqlite")),
        Target(name="boundary-gmt", ending=".gmt", read=layer, seeds=drawn(".gmt")),
        Target(name="boundary-topojson", ending=".topojson", read=layer, seeds=drawn(".topojson")),
        Target(name="boundary-esrijson", ending=".json", read=layer, seeds=drawn(".json")),
        Target(name="boundary-lines", ending=".geojsonl", read=layer, seeds=drawn(".geojsonl")),
        Target(name="new-farm", ending=".geojson", read=started, seeds=drawn(".geojson")),
        Target(name="bulk-fields", ending=".geojson", read=fields, seeds=drawn(".geojson")),
    ]


def _own() -> list[Target]:
    return [
        Target(name="pivots", ending=".csv", read=pivots, seeds=whole.pivots),
        Target(name="pivots-geojson", ending=".geojson", read=pivots, seeds=whole.pivot_points),
        Target(name="chart", ending=".csv", read=chart, seeds=whole.charts),
        Target(name="cans", ending=".csv", read=cans, seeds=whole.can_rows),
        Target(name="round-sheet", ending=".csv", read=round_sheet, seeds=whole.round_sheets),
        Target(name="farm", ending=".toml", read=farm, seeds=whole.field_files),
        Target(name="farm-toml", ending=".toml", read=farm_toml, seeds=whole.farm_files),
        Target(name="dump", ending=".jsonl", read=dump, seeds=whole.dumps),
        Target(name="log", ending=".db", read=log, seeds=whole.logs),
        Target(name="backup", ending=".db", read=backup, seeds=whole.logs),
        # The raster library comes with ringrow[imagery] alone.
        *(
            [Target(name="aerial", ending=".tif", read=aerial, seeds=whole.aerials)]
            if find_spec("rasterio")
            else []
        ),
    ]


TARGETS: dict[str, Target] = {target.name: target for target in (*_points(), *_shapes(), *_own())}


def try_file(target: Target, data: bytes, path: Path) -> str:
    """Read a file of these bytes; return what came of it, ``read`` or the name of our own error.

    Any other error is let out: it is what is looked for.
    """
    path.write_bytes(data)
    try:
        target.read(path)
    except RingrowError as error:
        message = str(error)
        assert message.strip(), "an error without words"
        assert len(message) < 5_000, f"a message of {len(message)} characters"
        return type(error).__name__
    return "read"

"""What is fuzzed: each reader of files from outside, the endings it takes, and whole files to start from."""

from __future__ import annotations

import atexit
import io
import json
import shutil
import tempfile
import zipfile
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache, reduce
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import shapely
from PIL import Image

from ringrow.coverage.accuracy import DEFAULT_ACCURACY
from ringrow.coverage.bulk_acres import bulk_acres
from ringrow.equipment.kinds import FLAG_KINDS
from ringrow.errors import RingrowError
from ringrow.farm.bulk_table import read_bulk_table
from ringrow.farm.flag_import import plan_import, settle_kinds
from ringrow.farm.flags import Stamp
from ringrow.farm.folding import fold
from ringrow.farm.load import inspect_farm
from ringrow.farm.readers.open import read_points
from ringrow.farm.readers.photos import read_photo, small_copy
from ringrow.farm.records import fold_records
from ringrow.farm.season import open_season
from ringrow.farm.season_check import check_log, salvaged
from ringrow.farm.season_files import load_lines
from ringrow.farm.tracks import read_tracks
from ringrow.farm.vectors import read_layer
from ringrow.units import US
from season_logs import some_events, write_log

if TYPE_CHECKING:
    from collections.abc import Callable

SAMPLE = Path(__file__).resolve().parents[2] / "sample_fields" / "two_windmill_farm"
DATA = Path(__file__).resolve().parents[3] / "shared" / "data"
NOW = datetime(2026, 11, 25, tzinfo=UTC)
LARGEST_SEED = 60_000


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
    stamp = Stamp(when=NOW, who="", source=path.name)
    plan = plan_import(file, ready, known=(), accuracy=DEFAULT_ACCURACY, stamp=stamp)
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


def farm(path: Path) -> object:
    """Read a farm whose one field file is the broken one."""
    folder = path.parent / "farm"
    if not folder.exists():
        shutil.copytree(SAMPLE, folder, ignore=shutil.ignore_patterns("fields", "season.db*", "flags"))
        (folder / "fields").mkdir()
    shutil.copyfile(path, folder / "fields" / "one.toml")
    return inspect_farm(folder)


def dump(path: Path) -> object:
    """Load a dump into an empty log."""
    log = path.parent / "season.db"
    log.unlink(missing_ok=True)
    loaded = load_lines(log, path)
    with open_season(log) as season:
        return loaded, season.states(), fold_records(season.events())


def log(path: Path) -> object:
    """Check and salvage a damaged log."""
    try:
        check_log(path, now=NOW)
    finally:
        saved = salvaged(path)
    return saved


@cache
def _flagged() -> Path:
    """Return a copy of the sample farm with its flags, made once."""
    from click.testing import CliRunner

    from ringrow.cli.main import cli

    copy = Path(tempfile.mkdtemp()) / "sample"
    shutil.copytree(SAMPLE, copy)
    atexit.register(shutil.rmtree, copy.parent, ignore_errors=True)
    for file in sorted((copy / "flags").iterdir()):
        CliRunner().invoke(cli, ["flag", "import", str(copy), str(file)])
    return copy


def _exported(ending: str) -> Callable[[Path], list[bytes]]:
    def make(folder: Path) -> list[bytes]:
        from click.testing import CliRunner

        from ringrow.cli.main import cli

        target = folder / f"seed{ending}"
        CliRunner().invoke(cli, ["export", str(_flagged()), "--field", "Windmill quarter", "-o", str(target)])
        return [target.read_bytes(), *_own(ending), *_outside(ending)]

    return make


def _own(ending: str) -> list[bytes]:
    files = sorted((SAMPLE / "flags").glob(f"*{ending}")) + sorted((SAMPLE / "shapes").glob(f"*{ending}"))
    return [file.read_bytes() for file in files]


def _outside(ending: str) -> list[bytes]:
    return [
        file.read_bytes() for file in sorted(DATA.glob(f"*{ending}")) if file.stat().st_size < LARGEST_SEED
    ]


def _photos(folder: Path) -> list[bytes]:
    image = Image.fromarray(np.random.default_rng(1).integers(0, 255, (24, 32, 3)).astype(np.uint8))
    gps = {1: "N", 2: (36.0, 45.0, 4.2), 3: "W", 4: (101.0, 30.0, 12.0), 7: (14.0, 3.0, 1.0), 31: 5.0}
    seeds = []
    for form in ("JPEG", "PNG", "WEBP", "TIFF"):
        exif = Image.Exif()
        exif.update({0x010E: "P3 T5 gearbox", 0x0112: 6, 0x0132: "2027:04:02 08:00:00"})
        exif.get_ifd(0x8825).update(gps | {29: "2027:04:02"})
        exif.get_ifd(0x8769).update({0x9286: b"ASCII\0\0\0note", 0x9011: "-05:00"})
        buffer = io.BytesIO()
        image.save(buffer, form, exif=exif)
        seeds.append(buffer.getvalue())
    return seeds


def _waypoints(folder: Path) -> list[bytes]:
    bodies = [f"GPWPL,36{minute:07.4f},N,10130.0000,W,LEAK {minute:.0f}" for minute in (45.0, 45.3, 46.1)]
    sums = [reduce(lambda check, letter: check ^ ord(letter), body, 0) for body in bodies]
    lines = [f"${body}*{check:02X}\r\n" for body, check in zip(bodies, sums, strict=True)]
    return ["".join(lines).encode(), *_outside(".nmea")]


def _shapefile(folder: Path) -> list[bytes]:
    import geopandas
    import shapely

    inner = folder / "shapes"
    inner.mkdir(exist_ok=True)
    places = shapely.points([[-101.503, 36.751], [-101.504, 36.752]])
    table = geopandas.GeoDataFrame(
        {"name": ["leak", "rut"], "note": ["at the riser", ""]}, geometry=places, crs="EPSG:4326"
    )
    table.to_file(inner / "flags.shp", encoding="utf-8")
    return [pack([(file.name, file.read_bytes()) for file in sorted(inner.iterdir())])]


def _fields(folder: Path) -> list[bytes]:
    return [file.read_bytes() for file in sorted((SAMPLE / "fields").iterdir())]


def _dumps(folder: Path) -> list[bytes]:
    from ringrow.farm.season_files import dump_lines

    return ["\n".join(dump_lines(some_events(12))).encode()]


def _logs(folder: Path) -> list[bytes]:
    path = write_log(folder / "seed.db", some_events(40))
    return [path.read_bytes()]


def _phone(folder: Path) -> list[bytes]:
    from ringrow.farm.events import event_to_json

    by_flag: dict[str, list[dict[str, object]]] = {}
    for event in some_events(8):
        by_flag.setdefault(event.flag, []).append(event_to_json(event))
    features = [
        {"type": "Feature", "id": flag, "geometry": None, "properties": {"events": events}}
        for flag, events in by_flag.items()
    ]
    record = "6b1f0e6a-2f0c-4c5e-9f0a-3a1f3b0c9d11"
    features[0]["properties"]["events"].append(  # type: ignore[index]
        {**features[0]["properties"]["events"][0], "field": "spot", "id": record, "value": {"well": "Home"}}  # type: ignore[index]
    )
    whole = {
        "type": "FeatureCollection",
        "properties": {"ringrow": {"schema": 1, "map_id": record, "device": "phone"}},
        "features": features,
    }
    return [json.dumps(whole).encode()]


def _pivots(folder: Path) -> list[bytes]:
    return [(SAMPLE / "bulk" / "pivots.csv").read_bytes()]


def _both(*makers: Callable[[Path], list[bytes]]) -> Callable[[Path], list[bytes]]:
    return lambda folder: [seed for make in makers for seed in make(folder)]


TARGETS: dict[str, Target] = {
    target.name: target
    for target in (
        Target(name="gpx", ending=".gpx", read=points, seeds=_exported(".gpx")),
        Target(name="kml", ending=".kml", read=points, seeds=_exported(".kml")),
        Target(name="kmz", ending=".kmz", read=points, seeds=_exported(".kmz"), zipped=True),
        Target(name="geojson", ending=".geojson", read=points, seeds=_both(_exported(".geojson"), _phone)),
        Target(name="csv", ending=".csv", read=points, seeds=_exported(".csv")),
        Target(name="pivots", ending=".csv", read=pivots, seeds=_pivots),
        Target(name="nmea", ending=".nmea", read=points, seeds=_waypoints),
        Target(name="gpkg", ending=".gpkg", read=points, seeds=_exported(".gpkg")),
        Target(name="shapefile", ending=".zip", read=points, seeds=_shapefile, zipped=True),
        Target(name="photo", ending=".jpg", read=photo, seeds=_photos),
        Target(name="track-gpx", ending=".gpx", read=read_tracks, seeds=lambda _: _outside(".gpx")),
        Target(name="track-nmea", ending=".nmea", read=read_tracks, seeds=lambda _: _outside(".nmea")),
        Target(name="boundary", ending=".geojson", read=layer, seeds=_exported(".geojson")),
        Target(name="boundary-kml", ending=".kml", read=layer, seeds=_exported(".kml")),
        Target(name="farm", ending=".toml", read=farm, seeds=_fields),
        Target(name="dump", ending=".jsonl", read=dump, seeds=_dumps),
        Target(name="log", ending=".db", read=log, seeds=_logs),
    )
}


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


def pack(members: list[tuple[str, bytes]]) -> bytes:
    """Return a zip file of these members."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in members:
            archive.writestr(name, data)
    return buffer.getvalue()


def unpack(data: bytes) -> list[tuple[str, bytes]]:
    """Return the members of a zip file."""
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        return [(name, archive.read(name)) for name in archive.namelist()]

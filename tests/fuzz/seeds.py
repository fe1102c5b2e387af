"""Whole files of every kind to start from, by what is to be broken."""

from __future__ import annotations

import atexit
import csv
import io
import json
import shutil
import tempfile
import zipfile
from functools import cache, reduce
from pathlib import Path
from typing import TYPE_CHECKING

import geopandas
import numpy as np
import shapely
from PIL import Image

from farms import collection
from phones import few_fields
from ringrow.coverage.layout import lay_out
from ringrow.farm.load import load_farm
from ringrow.farm.round_entries import round_desk
from ringrow.farm.round_sheet import blank_rows
from ringrow.handoff.round_sheet_file import write_sheet
from season_logs import some_events, write_log

if TYPE_CHECKING:
    from collections.abc import Callable

    from ringrow.farm.round_entries import RoundDesk

SAMPLE = Path(__file__).resolve().parents[2] / "sample_fields" / "two_windmill_farm"
DATA = Path(__file__).resolve().parents[3] / "shared" / "data"
LARGEST_SEED = 60_000
PHOTO_FIELD = (-101.504, 36.750, -101.496, 36.757)
"""West, south, east and north edge of the ground that `aerials` show [deg]."""

# Every table that farm.toml may hold, for the farm of `farms.write_farm`.
_FARM_FILE = """name = "Test farm"
units = "us"
language = "es"
time_zone = "America/Chicago"
gate = { lat = 36.75, lon = -101.5 }
[[well]]
name = "Home well"
at = { lat = 36.7536, lon = -101.4955 }
power = "electric"
serves = ["Home field pivot 1"]
plate_volts = 460
plate_hertz = 60
battery_volts = 12
shutoffs = "Disconnect on the pole."
[[contact]]
name = "Electrician"
phone = "580-555-0142"
[defaults]
accuracy = "12 ft r95"
setback = 30
throw = 12
[[kind]]
name = "badger"
on = "ground"
class = "acres"
words = "badger hole"
[[part]]
kind = "leak"
part = "gasket 6 in"
quantity = 2
[[put_away]]
item = "tarp"
kind = "pivot"
words = "tarp over the panel"
back = "tarp off"
[[checklist]]
item = "lights"
kind = "pivot"
words = "lights on the panel"
how = "try"
per = "system"
[tolerances]
volts = 0.1
filter_loss = 5
"""


_KML = """<?xml version="1.0" encoding="UTF-8"?>
<kml xmlns="http://www.opengis.net/kml/2.2"><Document><name>walk</name>
<Schema id="s" name="flags"><SimpleField name="kind" type="string"/></Schema>
<Folder><Placemark id="a"><name>leak at the riser</name>
<description><![CDATA[<b>drips</b> &amp; runs]]></description>
<TimeStamp><when>2027-03-14T13:05:00-05:00</when></TimeStamp>
<ExtendedData><Data name="accuracy"><value>12 ft r95</value></Data>
<SchemaData schemaUrl="#s"><SimpleData name="kind">leak</SimpleData></SchemaData></ExtendedData>
<Point><coordinates>-101.503,36.751,880</coordinates></Point></Placemark>
<Placemark><name>field &#241;</name><MultiGeometry><Polygon><outerBoundaryIs><LinearRing><coordinates>
-101.5,36.75 -101.491,36.75 -101.491,36.7572 -101.5,36.7572 -101.5,36.75
</coordinates></LinearRing></outerBoundaryIs>
<innerBoundaryIs><LinearRing><coordinates>-101.498,36.752 -101.497,36.752 -101.497,36.753 -101.498,36.752
</coordinates></LinearRing></innerBoundaryIs></Polygon><Point><coordinates>-101.495,36.753</coordinates></Point>
</MultiGeometry></Placemark></Folder></Document></kml>
"""


@cache
def flagged() -> Path:
    """Return the sample farm's first field with all its flags, made once."""
    from click.testing import CliRunner

    from ringrow.cli.main import cli

    copy = few_fields(Path(tempfile.mkdtemp()) / "sample", "10_")
    atexit.register(shutil.rmtree, copy.parent, ignore_errors=True)
    for file in sorted((copy / "flags").iterdir()):
        CliRunner().invoke(cli, ["flag", "import", str(copy), str(file)])
    return copy


def exported(ending: str) -> Callable[[Path], list[bytes]]:
    def make(folder: Path) -> list[bytes]:
        from click.testing import CliRunner

        from ringrow.cli.main import cli

        target = folder / f"seed{ending}"
        CliRunner().invoke(cli, ["export", str(flagged()), "-o", str(target)], catch_exceptions=False)
        return [target.read_bytes(), *_own(ending), *outside(ending)]

    return make


def _own(ending: str) -> list[bytes]:
    files = sorted((SAMPLE / "flags").glob(f"*{ending}")) + sorted((SAMPLE / "shapes").glob(f"*{ending}"))
    return [file.read_bytes() for file in files]


def outside(ending: str) -> list[bytes]:
    return [
        file.read_bytes() for file in sorted(DATA.glob(f"*{ending}")) if file.stat().st_size < LARGEST_SEED
    ]


def photos(folder: Path) -> list[bytes]:
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


def waypoints(folder: Path) -> list[bytes]:
    bodies = [f"GPWPL,36{minute:07.4f},N,10130.0000,W,LEAK {minute:.0f}" for minute in (45.0, 45.3, 46.1)]
    sums = [reduce(lambda check, letter: check ^ ord(letter), body, 0) for body in bodies]
    lines = [f"${body}*{check:02X}\r\n" for body, check in zip(bodies, sums, strict=True)]
    return ["".join(lines).encode(), *outside(".nmea")]


def placemarks(folder: Path) -> list[bytes]:
    """Return a small KML file: an export is too large for an engine that changes a byte at a time."""
    return [_KML.encode()]


def zipped_placemarks(folder: Path) -> list[bytes]:
    return [pack([("doc.kml", _KML.encode()), ("files/photo.jpg", b"")])]


def points_layer(folder: Path) -> list[bytes]:
    path = folder / "points.gpkg"
    _two_points().to_file(path, driver="GPKG")
    return [path.read_bytes()]


def _two_points() -> geopandas.GeoDataFrame:
    places = shapely.points([[-101.503, 36.751], [-101.504, 36.752]])
    columns = {"name": ["leak", "rut"], "note": ["at the riser", ""]}
    return geopandas.GeoDataFrame(columns, geometry=places, crs="EPSG:4326")


def shapefile(folder: Path) -> list[bytes]:
    inner = folder / "shapes"
    inner.mkdir(exist_ok=True)
    _two_points().to_file(inner / "flags.shp", encoding="utf-8")
    return [pack([(file.name, file.read_bytes()) for file in sorted(inner.iterdir())])]


def field_files(folder: Path) -> list[bytes]:
    return [file.read_bytes() for file in sorted((SAMPLE / "fields").iterdir())]


def dumps(folder: Path) -> list[bytes]:
    from ringrow.farm.season_files import dump_lines

    return ["\n".join(dump_lines(some_events(12))).encode()]


def logs(folder: Path) -> list[bytes]:
    path = write_log(folder / "seed.db", some_events(40))
    return [path.read_bytes()]


def phone(folder: Path) -> list[bytes]:
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


def pivots(folder: Path) -> list[bytes]:
    return [(SAMPLE / "bulk" / "pivots.csv").read_bytes()]


def farm_files(folder: Path) -> list[bytes]:
    return [_FARM_FILE.encode()]


def pivot_points(folder: Path) -> list[bytes]:
    row = {
        "Pivot": "Windmill pivot",
        "Spans (ft)": "182 182 158",
        "Throw (ft)": "18",
        "Start": 108,
        "Stop": 2,
    }
    points = [(-101.4954381, 36.7536708), (-101.4865397, 36.7536708)]
    return [collection(*[({"type": "Point", "coordinates": list(at)}, row) for at in points]).encode()]


def charts(folder: Path) -> list[bytes]:
    rows = [f"{number},{number * 8.5},#{number % 9 + 8},{number * 0.3:.1f}" for number in range(1, 30)]
    metric = "Salida;Distancia (m);Boquilla\n1;2,5;8\n2;5,25;9\n"
    return [
        "\r\n".join(["Outlet,Distance (ft),Nozzle,Flow (gpm)", *rows]).encode(),
        metric.encode("utf-8-sig"),
    ]


def can_rows(folder: Path) -> list[bytes]:
    rows = [f"{number},{number * 10},{0.5 + number % 3 * 0.1:.1f}" for number in range(1, 40)]
    volumes = "can;ml\nA;120\nB;-\nC;99,5\n"
    return ["\n".join(["can,distance_ft,depth_in", *rows]).encode(), volumes.encode()]


@cache
def small_farm() -> Path:
    """Return a farm of a pivot, drip and a well, made once."""
    folder = Path(tempfile.mkdtemp())
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    return few_fields(folder / "farm", "10_", "40_")


@cache
def desk() -> RoundDesk:
    """Return what tables of rounds are checked against."""
    farm = load_farm(small_farm())
    return round_desk(farm, [lay_out(field) for field in farm.fields])


def round_sheets(folder: Path) -> list[bytes]:
    """Return the table as `ringrow round sheet` writes it, filled in."""
    path = folder / "seed.csv"
    write_sheet(blank_rows(load_farm(small_farm())), path)
    with path.open(encoding="utf-8-sig", newline="") as stream:
        rows = list(csv.DictReader(stream))
    for row in rows:
        row["Answer"] = _answer(row)
        row["Who"], row["When"] = "Ana", "2027-03-14 13:05"
        row["Walking or idle"] = "walking" if row["Item"] == "volts" else ""
    rows[1] |= {"Answer": "no", "Why": "relay burnt", "Next step": "new relay", "Whose": "electrician",
                "Needed by": "2027-04-01", "Note": "asked twice"}  # fmt: skip
    text = io.StringIO(newline="")
    table = csv.DictWriter(text, fieldnames=list(rows[0]))
    table.writeheader()
    table.writerows(rows)
    return [text.getvalue().encode("utf-8-sig")]


def _answer(row: dict[str, str]) -> str:
    if not row["Item"]:
        return "nothing seen"
    return f"{460 if row['Unit'] == 'V' else 40} {row['Unit']}" if row["Unit"] else "yes"


@cache
def sound_log() -> Path:
    """Return a log of a few events, made once."""
    folder = Path(tempfile.mkdtemp())
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    return write_log(folder / "season.db", some_events(5))


_DRIVERS = {
    ".gpkg": "GPKG",
    ".fgb": "FlatGeobuf",
    ".gml": "GML",
    ".mif": "MapInfo File",
    ".sqlite": "SQLite",
    ".gmt": "OGR_GMT",
    ".geojson": "GeoJSON",
    ".geojsonl": "GeoJSONSeq",
    ".zip": "ESRI Shapefile",
}


def drawn(ending: str) -> Callable[[Path], list[bytes]]:
    """Return what makes a file of two fields, one with a hole, one in two parts."""

    def make(folder: Path) -> list[bytes]:
        by_hand = {".dxf": _dxf, ".topojson": _topojson, ".json": _esrijson}.get(ending)
        if by_hand is not None:
            return [by_hand().encode()]
        inner = folder / f"drawn{ending}"
        inner.mkdir(exist_ok=True)
        path = inner / ("fields.shp" if ending == ".zip" else f"fields{ending}")
        _write(path, _DRIVERS[ending])
        if ending == ".zip":
            return [pack([(file.name, file.read_bytes()) for file in sorted(inner.iterdir())])]
        return [path.read_bytes()]

    return make


def _write(path: Path, driver: str) -> None:
    import fiona

    home, hole = (
        shapely.box(-101.5, 36.75, -101.491, 36.7572),
        shapely.box(-101.498, 36.752, -101.497, 36.753),
    )
    two = shapely.MultiPolygon(
        [shapely.box(-101.49, 36.75, -101.485, 36.757), shapely.box(-101.484, 36.75, -101.48, 36.757)]
    )
    shapes = {"Home": shapely.MultiPolygon([home.difference(hole)]), "Año dos": two}
    schema = {"geometry": "MultiPolygon", "properties": {"name": "str", "acres": "float"}}
    with fiona.open(path, "w", driver=driver, crs="EPSG:4326", schema=schema) as sink:
        for name, shape in shapes.items():
            sink.write({"type": "Feature", "geometry": shapely.geometry.mapping(shape),
                        "properties": {"name": name, "acres": 155.2}})  # fmt: skip


def _dxf() -> str:
    corners = ((-101.5, 36.75), (-101.491, 36.75), (-101.491, 36.7572), (-101.5, 36.7572))
    pairs: list[tuple[int, object]] = [
        (0, "SECTION"),
        (2, "HEADER"),
        (9, "$ACADVER"),
        (1, "AC1015"),
        (0, "ENDSEC"),
    ]
    pairs += [(0, "SECTION"), (2, "ENTITIES")]
    pairs += [(0, "LWPOLYLINE"), (8, "fields"), (90, 4), (70, 1)]
    pairs += [pair for x, y in corners for pair in ((10, x), (20, y))]
    pairs += [(0, "POLYLINE"), (8, "fields"), (66, 1), (70, 1)]
    pairs += [
        pair
        for x, y in corners
        for pair in ((0, "VERTEX"), (8, "fields"), (10, x + 0.01), (20, y), (30, 0.0))
    ]
    pairs += [(0, "SEQEND"), (0, "ENDSEC"), (0, "EOF")]
    return "".join(f"{code}\n{value}\n" for code, value in pairs)


def _topojson() -> str:
    arc = [[0, 0], [9000, 0], [0, 7200], [-9000, 0], [0, -7200]]
    return json.dumps(
        {
            "type": "Topology",
            "transform": {"scale": [1e-6, 1e-6], "translate": [-101.5, 36.75]},
            "objects": {
                "fields": {
                    "type": "GeometryCollection",
                    "geometries": [{"type": "Polygon", "arcs": [[0]], "properties": {"name": "Home"}}],
                }
            },
            "arcs": [arc],
        }
    )


def _esrijson() -> str:
    ring = [[-101.5, 36.75], [-101.5, 36.7572], [-101.491, 36.7572], [-101.491, 36.75], [-101.5, 36.75]]
    return json.dumps(
        {
            "geometryType": "esriGeometryPolygon",
            "spatialReference": {"wkid": 4326},
            "fields": [{"name": "name", "type": "esriFieldTypeString", "length": 20}],
            "features": [{"attributes": {"name": "Home"}, "geometry": {"rings": [ring]}}],
        }
    )


def aerials(folder: Path) -> list[bytes]:
    """Return a small tiled photo, one of 16 bits with nothing in a corner, and one squeezed as JPEG."""
    import rasterio
    from rasterio.transform import from_bounds

    west, south, east, north = PHOTO_FIELD
    seeds = []
    for kind, squeezed in (("uint8", "deflate"), ("uint16", "lzw"), ("uint8", "jpeg")):
        values = np.random.default_rng(7).integers(0, 255, (3, 64, 64)).astype(kind)
        values[:, :8, :8] = 0
        shape = {"driver": "GTiff", "width": 64, "height": 64, "count": 3, "dtype": kind, "nodata": 0}
        tiles = {"tiled": True, "blockxsize": 16, "blockysize": 16, "compress": squeezed}
        place = from_bounds(west, south, east, north, 64, 64)
        path = folder / f"seed-{kind}-{squeezed}.tif"
        with rasterio.open(path, "w", crs="EPSG:4326", transform=place, **shape, **tiles) as file:
            file.write(values)
        seeds.append(path.read_bytes())
    return seeds


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

"""Vector files of every kind come in as the same ground: right axes, no heights, limits kept."""

from __future__ import annotations

import json
import math
import sqlite3
import subprocess
import sys
import tracemalloc
import zipfile
from contextlib import closing
from typing import TYPE_CHECKING

import fiona
import numpy as np
import pyproj
import pytest
import shapely

from farms import CENTRE, EAST, HOME, NORTH, SOUTH, WEST, collection, rectangle, write_farm
from ringrow.errors import GeometryError
from ringrow.farm import read_library, vectors
from ringrow.farm.faults import ShapeError
from ringrow.farm.load import load_farm
from ringrow.farm.vectors import polygons_of, read_layer, select
from ringrow.frame import geodesic_area_m2

if TYPE_CHECKING:
    from pathlib import Path

SQUARE = shapely.box(WEST, SOUTH, EAST, NORTH)
SCHEMA = {"geometry": "Polygon", "properties": {"field": "str", "number": "int"}}


def put(path: Path, driver: str, *, crs: str | None = "EPSG:4326", layer: str | None = None) -> Path:
    """Write the square with fiona, in a coordinate system of choice."""
    ring = np.asarray(HOME["coordinates"][0])
    if crs not in (None, "EPSG:4326"):
        x, y = pyproj.Transformer.from_crs(4326, crs, always_xy=True).transform(ring[:, 0], ring[:, 1])
        ring = np.column_stack([x, y])
    shape = {"type": "Polygon", "coordinates": [ring.tolist()]}
    named = {} if layer is None else {"layer": layer}
    with fiona.open(path, "w", driver=driver, crs=crs, schema=SCHEMA, **named) as sink:
        sink.write({"type": "Feature", "geometry": shape, "properties": {"field": "Año", "number": 3}})
    return path


def same(shape: object, *, tolerance: float = 1e-7) -> bool:
    """Return whether a shape is the square, within about 1 cm."""
    return bool(shapely.equals_exact(shapely.normalize(shape), shapely.normalize(SQUARE), tolerance))


@pytest.mark.parametrize(
    ("name", "driver"),
    [
        ("a.shp", "ESRI Shapefile"),
        ("a.gpkg", "GPKG"),
        ("a.fgb", "FlatGeobuf"),
        ("a.gml", "GML"),
        ("a.tab", "MapInfo File"),
        ("a.mif", "MapInfo File"),
        ("a.geojsonl", "GeoJSONSeq"),
        ("a.sqlite", "SQLite"),
        ("a.gmt", "OGR_GMT"),
        ("a.geojson", "GeoJSON"),
    ],
)
def test_every_kind_gives_the_same_ground(name: str, driver: str, tmp_path: Path) -> None:
    layer = read_layer(put(tmp_path / name, driver))
    assert same(layer.geometries[0], tolerance=2e-6 if "MapInfo" in driver else 1e-7)
    assert layer.columns["field"] == ["Año"]


@pytest.mark.parametrize("crs", ["EPSG:26914", "EPSG:5070", "EPSG:3857", "EPSG:2268", "EPSG:4269"])
def test_every_system_is_transformed(crs: str, tmp_path: Path) -> None:
    """UTM, Albers, web map, state plane in US survey feet, NAD 83 degrees: written by pyproj, read by us."""
    layer = read_layer(put(tmp_path / "a.gpkg", "GPKG", crs=crs))
    assert same(
        layer.geometries[0], tolerance=2e-5 if crs in ("EPSG:2268", "EPSG:4269", "EPSG:26914") else 1e-7
    )


def test_axes_stay_east_north_where_the_system_says_north_first(outside_data: Path) -> None:
    """EPSG:2193 names north first; the area stated by the council must come out (area_ha, 2020)."""
    layer = read_layer(outside_data / "otago_irrigated.gpkg")
    west, south, east, north = shapely.total_bounds(layer.geometries)
    assert 166 < west < east < 172
    assert -47 < south < north < -44
    hectares = np.array([geodesic_area_m2(shape) / 1e4 for shape in layer.geometries])
    # The council's hectares are those of the map grid: ground area times the grid's areal scale there.
    centres = shapely.centroid(layer.geometries)
    scale = pyproj.Proj("EPSG:2193").get_factors(shapely.get_x(centres), shapely.get_y(centres)).areal_scale
    # Largest difference seen 3.3e-6: the scale changes a little inside a field.
    assert np.abs(hectares * scale / np.array(layer.columns["area_ha"]) - 1).max() < 5e-6


def test_published_acres_come_out_of_the_real_boundaries(outside_data: Path) -> None:
    """USDA crop sequence boundaries state CSBACRES at 4,046.86 m2; Albers is equal-area."""
    layer = read_layer(outside_data / "us_fields.gpkg")
    valid = shapely.is_valid(layer.geometries)
    acres = np.array([geodesic_area_m2(shape) for shape in layer.geometries[valid]]) / 4046.86
    published = np.array(layer.columns["CSBACRES"])[valid]
    assert np.abs(acres / published - 1).max() < 5e-6


def test_kml_and_kmz_are_read_from_all_folders(tmp_path: Path) -> None:
    ring = " ".join(f"{x},{y},1234" for x, y in HOME["coordinates"][0])
    mark = (
        "<Placemark><name>{}</name><Polygon><outerBoundaryIs><LinearRing><coordinates>"
        f"{ring}</coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark>"
    )
    body = "".join(f"<Folder><name>{name}</name>{mark.format(name)}</Folder>" for name in ("North", "South"))
    text = (
        f'<?xml version="1.0"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document>{body}</Document></kml>'
    )
    (tmp_path / "a.kml").write_text(text)
    with zipfile.ZipFile(tmp_path / "a.kmz", "w") as archive:
        archive.writestr("doc.kml", text)
    for name in ("a.kml", "a.kmz"):
        layer = read_layer(tmp_path / name)
        assert layer.columns["Name"] == ["North", "South"]
        assert [same(shape) for shape in layer.geometries] == [True, True]
        assert not shapely.has_z(layer.geometries).any()
        assert read_layer(tmp_path / name, layer="South").columns["Name"] == ["South"]


def test_zipped_shapefile(tmp_path: Path) -> None:
    put(tmp_path / "a.shp", "ESRI Shapefile")
    with zipfile.ZipFile(tmp_path / "fields.zip", "w") as archive:
        for path in tmp_path.glob("a.*"):
            archive.write(path, f"inner/{path.name}")
    assert same(read_layer(tmp_path / "fields.zip").geometries[0])


def test_track_that_closes_is_an_outline(tmp_path: Path) -> None:
    points = "".join(f'<trkpt lat="{y}" lon="{x}"/>' for x, y in HOME["coordinates"][0])
    (tmp_path / "a.gpx").write_text(
        '<gpx version="1.1" creator="t" xmlns="http://www.topografix.com/GPX/1/1"><trk><name>walk</name>'
        f"<trkseg>{points}</trkseg></trk></gpx>"
    )
    polygons, remarks = polygons_of(read_layer(tmp_path / "a.gpx").geometries[0])
    assert same(polygons[0])
    assert remarks == ["a line taken as an outline, its ends lie 0.0 m apart"]


def test_track_that_does_not_close_is_left_out(outside_data: Path) -> None:
    layer = read_layer(outside_data / "around-visnjan-with-car.gpx")
    polygons, remarks = polygons_of(layer.geometries[0])
    assert polygons == []
    assert "its ends lie" in remarks[0]


def test_closing_gap_is_ten_metres() -> None:
    step = 1.0 / 111_195
    near, far = ([(0, 0), (0, 1e-3), (1e-3, 1e-3), (gap * step, 0)] for gap in (9, 11))
    assert len(polygons_of(shapely.LineString(near))[0]) == 1
    assert polygons_of(shapely.LineString(far))[0] == []


def test_heights_are_left_away(tmp_path: Path) -> None:
    ring = [[x, y, 900.0] for x, y in HOME["coordinates"][0]]
    (tmp_path / "a.geojson").write_text(collection(({"type": "Polygon", "coordinates": [ring]}, {})))
    shape = read_layer(tmp_path / "a.geojson").geometries[0]
    assert not shape.has_z
    assert same(shape)


def test_older_geojson_names_its_system(tmp_path: Path) -> None:
    path = put(tmp_path / "a.gpkg", "GPKG", crs="EPSG:26914")
    with fiona.open(path) as source:
        shape = next(iter(source)).geometry.__geo_interface__
    crs = {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::26914"}}
    (tmp_path / "a.geojson").write_text(collection((shape, {}), crs=crs))
    assert same(read_layer(tmp_path / "a.geojson").geometries[0], tolerance=2e-5)
    named = {"type": "name", "properties": {"name": "urn:ogc:def:crs:OGC:1.3:CRS84"}}
    (tmp_path / "b.geojson").write_text(collection((HOME, {}), crs=named))
    assert same(read_layer(tmp_path / "b.geojson").geometries[0])


def test_single_feature_and_bare_geometry_are_geojson_too(tmp_path: Path) -> None:
    (tmp_path / "a.json").write_text(
        json.dumps({"type": "Feature", "geometry": HOME, "properties": {"a": 1}})
    )
    (tmp_path / "b.json").write_text("\ufeff" + json.dumps(HOME), encoding="utf-8")
    assert read_layer(tmp_path / "a.json").columns == {"a": [1]}
    assert same(read_layer(tmp_path / "b.json").geometries[0])


def test_layers_must_be_told_apart(tmp_path: Path) -> None:
    path = put(tmp_path / "a.gpkg", "GPKG", layer="north")
    put(path, "GPKG", layer="south")
    with pytest.raises(ShapeError, match=r'found a file with 2 layers; allowed: one of "north", "south"'):
        read_layer(path)
    with pytest.raises(ShapeError, match=r'layer "sout".*did you mean "south"'):
        read_layer(path, layer="sout")
    assert len(read_layer(path, layer="south").geometries) == 1


def test_latin_letters_of_an_old_table(tmp_path: Path) -> None:
    schema = {"geometry": "Polygon", "properties": {"field": "str"}}
    with fiona.open(
        tmp_path / "a.shp", "w", driver="ESRI Shapefile", crs="EPSG:4326", schema=schema, encoding="CP1252"
    ) as sink:
        sink.write({"type": "Feature", "geometry": HOME, "properties": {"field": "Cañón"}})
    assert (tmp_path / "a.cpg").read_text() in ("1252", "CP1252")
    assert read_layer(tmp_path / "a.shp").columns["field"] == ["Cañón"]


@pytest.mark.parametrize(
    "name",
    [
        "a.shp",
        "a.gpkg",
        "a.fgb",
        "a.gml",
        "a.kml",
        "a.kmz",
        "a.zip",
        "a.dxf",
        "a.tab",
        "a.gpx",
        "a.topojson",
        "a.sqlite",
    ],
)
@pytest.mark.parametrize("content", [b"", b"hello, this is no map at all\n" * 40])
def test_files_of_rubbish_give_one_clear_message(name: str, content: bytes, tmp_path: Path) -> None:
    (tmp_path / name).write_bytes(content)
    for ending in (".shx", ".dbf"):
        (tmp_path / f"a{ending}").write_bytes(content)
    with pytest.raises(ShapeError, match=r"^found .*; allowed: ") as caught:
        read_layer(tmp_path / name)
    assert "\n" not in str(caught.value)


def test_files_cut_off_anywhere_are_refused_or_read(tmp_path: Path) -> None:
    """A cut file may still hold whole features; it must never end in anything but our own error."""
    for name, driver in (
        ("a.gpkg", "GPKG"),
        ("a.fgb", "FlatGeobuf"),
        ("a.gml", "GML"),
        ("a.geojson", "GeoJSON"),
    ):
        whole = put(tmp_path / name, driver).read_bytes()
        refused = 0
        for share in np.linspace(0, 0.99, 12):
            (tmp_path / name).write_bytes(whole[: int(share * len(whole))])
            try:
                read_layer(tmp_path / name)
            except ShapeError:
                refused += 1
        assert refused >= 6, name


def test_entities_are_refused(tmp_path: Path) -> None:
    bomb = '<?xml version="1.0"?><!DOCTYPE kml [<!ENTITY a "aaaa">]><kml xmlns="http://www.opengis.net/kml/2.2">&a;</kml>'
    (tmp_path / "a.kml").write_text(bomb)
    with zipfile.ZipFile(tmp_path / "a.kmz", "w") as archive:
        archive.writestr("doc.kml", bomb)
    for name in ("a.kml", "a.kmz"):
        with pytest.raises(ShapeError, match="document type or entities"):
            read_layer(tmp_path / name)


@pytest.mark.parametrize("ending", ["kml", "gml", "gpx"])
def test_an_encoding_that_nobody_knows_is_refused(ending: str, tmp_path: Path) -> None:
    (tmp_path / f"a.{ending}").write_text(f'<?xml version="1.0" encoding="utf-nan"?><{ending}/>')
    with pytest.raises(ShapeError, match=r"found broken XML \(unknown encoding: utf-nan\)"):
        read_layer(tmp_path / f"a.{ending}")


@pytest.mark.parametrize(
    ("geometry", "crs", "says"),
    [
        (
            '{"type": "Point", "coordinates": [%s, 36.75]}' % ("9" * 400),
            "null",
            "a coordinate that is no number",
        ),
        ('{"type": ["Polygon"], "coordinates": []}', "null", "a geometry of type a list of 1 whose"),
        ('{"type": {}, "coordinates": []}', "null", "a geometry of type an empty table whose"),
        (
            '{"type": "MultiPolygon", "coordinates": [[], [[[1, 2], [2, 3], [3, 3], [1, 2]]]]}',
            "null",
            "feature 1 that is no shape",
        ),
        ('{"type": "%s", "coordinates": []}' % ("x" * 9_000), "null", "a geometry of type x{39}… whose"),
        ("null", '{"properties": {"name": "EPSG:\\ud800"}}', "a crs member that names nothing"),
    ],
)
def test_geojson_of_impossible_parts_is_refused_in_few_words(
    geometry: str, crs: str, says: str, tmp_path: Path
) -> None:
    feature = f'{{"type": "Feature", "properties": {{}}, "geometry": {geometry}}}'
    text = f'{{"type": "FeatureCollection", "crs": {crs}, "features": [{feature}]}}'
    (tmp_path / "a.geojson").write_text(text)
    with pytest.raises(ShapeError, match=says) as caught:
        read_layer(tmp_path / "a.geojson")
    assert len(str(caught.value)) < 300


@pytest.mark.parametrize(("ending", "driver"), [("gpkg", "GPKG"), ("sqlite", "SQLite")])
def test_a_damaged_database_never_reaches_the_library(ending: str, driver: str, tmp_path: Path) -> None:
    """The library crashes the whole program on some: fuzzing found names of tables that are no text."""
    path = put(tmp_path / f"a.{ending}", driver)
    data = path.read_bytes()
    path.write_bytes(data[:100] + data[100:].replace(b"CREATE TABLE", b"CREATE\x87TABLE"))
    with pytest.raises(ShapeError, match=f"found a file that does not open as {driver}"):
        read_layer(path)


def test_content_cannot_choose_the_reader(tmp_path: Path) -> None:
    """A virtual layer that points at another file is not followed, whatever its own name."""
    secret = put(tmp_path / "secret.gpkg", "GPKG", layer="secret")
    text = (
        f'<OGRVRTDataSource><OGRVRTLayer name="secret"><SrcDataSource>{secret}</SrcDataSource></OGRVRTLayer>'
        "</OGRVRTDataSource>"
    )
    for name in ("a.gml", "a.gpx", "a.kml", "a.gpkg", "a.shp", "a.tab", "a.topojson", "a.geojsonl"):
        for ending in (".shx", ".dbf", ""):
            (tmp_path / (f"a{ending}" if ending else name)).write_text(text)
        try:
            layer = read_layer(
                tmp_path / name, layer="secret" if name in ("a.gml", "a.kml", "a.gpkg") else None
            )
        except ShapeError:
            continue
        assert len(layer.geometries) == 0, name


def test_zip_bombs_are_refused_by_their_unpacked_size(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(vectors, "FILE_BYTES", 3_000_000)
    with zipfile.ZipFile(tmp_path / "a.kmz", "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("doc.kml", b" " * 20_000_000)
    assert (tmp_path / "a.kmz").stat().st_size < 100_000
    with pytest.raises(ShapeError, match=r"a file of 20 MB; allowed: at most 3 MB"):
        read_layer(tmp_path / "a.kmz")


def test_a_zip_bomb_that_states_a_small_size_is_not_unpacked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(vectors, "FILE_BYTES", 3_000_000)
    with zipfile.ZipFile(tmp_path / "a.kmz", "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("doc.kml", b" " * 60_000_000)
    small = (1_000).to_bytes(4, "little")
    # Sizes stand 22 bytes into a member's own header and 24 into its entry at the end (zip 4.3.7, 4.3.12).
    data = bytearray((tmp_path / "a.kmz").read_bytes())
    for mark, at in ((b"PK\x03\x04", 22), (b"PK\x01\x02", 24)):
        begins = data.index(mark) + at
        data[begins : begins + 4] = small
    (tmp_path / "a.kmz").write_bytes(data)
    tracemalloc.start()
    with pytest.raises(ShapeError, match="a KMZ file that cannot be unpacked"):
        read_layer(tmp_path / "a.kmz")
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert most < 10_000_000


def test_largest_file_is_stated(tmp_path: Path) -> None:
    path = tmp_path / "a.geojson"
    with path.open("wb") as file:
        file.truncate(vectors.FILE_BYTES + 1_000_000)
    with pytest.raises(ShapeError, match=r"a file of 101 MB; allowed: at most 100 MB; cut out the fields"):
        read_layer(path)


def test_vertices_of_a_file_are_limited(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for module in (vectors, read_library):
        monkeypatch.setattr(module, "FILE_VERTICES", 100)
    turn = np.linspace(0, 2 * math.pi, 200)
    ring = np.column_stack([CENTRE[1] + 0.004 * np.cos(turn), CENTRE[0] + 0.003 * np.sin(turn)])
    ring[-1] = ring[0]
    shape = {"type": "Polygon", "coordinates": [ring.tolist()]}
    (tmp_path / "a.geojson").write_text(collection((shape, {})))
    with fiona.open(
        tmp_path / "a.gpkg",
        "w",
        driver="GPKG",
        crs="EPSG:4326",
        schema={"geometry": "Polygon", "properties": {}},
    ) as sink:
        sink.write({"type": "Feature", "geometry": shape, "properties": {}})
    for name in ("a.geojson", "a.gpkg"):
        with pytest.raises(ShapeError, match=r"found .*; allowed: at most \d+ features and \d+ vertices"):
            read_layer(tmp_path / name)


ARC = "<gml:Arc><gml:posList>0 0 1 1 2 0</gml:posList></gml:Arc>"
CURVED_GML = f"""<ogr:FeatureCollection xmlns:ogr="http://ogr.maptools.org/" xmlns:gml="http://www.opengis.net/gml">
<gml:featureMember><ogr:a><ogr:g><gml:Polygon srsName="EPSG:4326"><gml:exterior><gml:Ring>
<gml:curveMember><gml:Curve><gml:segments>{ARC}</gml:segments></gml:Curve></gml:curveMember></gml:Ring></gml:exterior></gml:Polygon>
</ogr:g></ogr:a></gml:featureMember></ogr:FeatureCollection>"""


def test_curves_are_refused(tmp_path: Path) -> None:
    path = put(tmp_path / "a.gpkg", "GPKG")
    with closing(sqlite3.connect(path)) as database:
        database.execute("update gpkg_geometry_columns set geometry_type_name = 'CURVEPOLYGON'")
        database.commit()
    (tmp_path / "a.gml").write_text(CURVED_GML)
    (tmp_path / "a.dxf").write_text(
        "0\nSECTION\n2\nENTITIES\n0\nCIRCLE\n10\n0.0\n20\n0.0\n40\n1.0\n0\nENDSEC\n0\nEOF\n"
    )
    for name, kind in (("a.gpkg", "CURVEPOLYGON"), ("a.gml", "Arc"), ("a.dxf", "CIRCLE")):
        with pytest.raises(
            ShapeError, match=rf"found curves \({kind}\); allowed: polygons with straight edges; convert"
        ):
            read_layer(tmp_path / name)


@pytest.mark.parametrize(
    ("name", "driver"),
    [("a.gml", "GML"), ("a.gpkg", "GPKG"), ("a.shp", "ESRI Shapefile"), ("a.sqlite", "SQLite")],
)
def test_reading_writes_nothing_beside_the_file(name: str, driver: str, tmp_path: Path) -> None:
    put(tmp_path / name, driver)
    (tmp_path / "a.xsd").unlink(missing_ok=True)
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    read_layer(tmp_path / name)
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before


def test_where_takes_the_union_and_reads_numbers_as_people_do(tmp_path: Path) -> None:
    middle = (WEST + EAST) / 2
    west, east = rectangle(WEST, SOUTH, middle, NORTH), rectangle(middle, SOUTH, EAST, NORTH)
    (tmp_path / "a.geojson").write_text(
        collection(
            (west, {"crop": "corn", "number": 3.0}), (east, {"crop": "corn", "number": "4"}), (None, {})
        )
    )
    layer = read_layer(tmp_path / "a.geojson")
    assert select(layer, None).tolist() == [0, 1, 2]
    assert select(layer, {"crop": "corn"}).tolist() == [0, 1]
    assert select(layer, {"crop": "corn", "number": 3}).tolist() == [0]
    assert select(layer, {"number": 4}).tolist() == [1]
    home = 'name = "H"\nboundary = { file = "shapes/a.geojson", where = { crop = "corn" } }\n'
    farm = load_farm(
        write_farm(
            tmp_path / "farm", fields={"h": home}, shapes={"a.geojson": (tmp_path / "a.geojson").read_text()}
        )
    )
    boundary = farm.fields[0].boundary
    assert boundary.geom_type == "Polygon"
    assert geodesic_area_m2(farm.fields[0].frame.unproject(boundary)) == pytest.approx(
        geodesic_area_m2(SQUARE), rel=1e-6
    )


@pytest.mark.parametrize("where", [{"crop": "x" * 9_000}, {"x" * 9_000: "corn"}], ids=["value", "column"])
def test_what_was_asked_for_is_not_quoted_at_length(tmp_path: Path, where: dict[str, str]) -> None:
    path = tmp_path / "a.geojson"
    path.write_text(collection((HOME, {"crop": "y" * 9_000})), encoding="utf-8")
    with pytest.raises(ShapeError, match=r"found no .*; allowed: one of ") as refused:
        select(read_layer(path), where)
    assert len(str(refused.value)) + len(refused.value.key) < 400


def test_stated_system_against_the_files_own(tmp_path: Path) -> None:
    with pytest.raises(ShapeError, match="for a file that says its own; allowed: no crs"):
        read_layer(put(tmp_path / "a.gpkg", "GPKG"), crs="EPSG:26914")
    (tmp_path / "a.kml").write_text(
        '<kml xmlns="http://www.opengis.net/kml/2.2"><Placemark><Point><coordinates>1,2</coordinates></Point>'
        "</Placemark></kml>"
    )
    with pytest.raises(ShapeError, match=r"\.kml is always WGS 84; leave crs out"):
        read_layer(tmp_path / "a.kml", crs="EPSG:4326")


def test_problem_of_a_shape_is_one_of_our_errors() -> None:
    assert issubclass(ShapeError, GeometryError)


def test_geojson_needs_no_large_library(tmp_path: Path) -> None:
    """Reading what most farms hold loads neither fiona nor pyogrio; a fresh interpreter tells."""
    farm = write_farm(
        tmp_path,
        fields={"h": 'name = "H"\nboundary = { file = "shapes/a.geojson" }\n'},
        shapes={"a.geojson": collection((HOME, {}))},
    )
    code = (
        "import sys, pathlib\nfrom ringrow.farm.load import load_farm\n"
        f"load_farm(pathlib.Path({str(farm)!r}))\n"
        "print(sorted({'fiona', 'pyogrio', 'pandas', 'geopandas', 'folium', 'rich'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"

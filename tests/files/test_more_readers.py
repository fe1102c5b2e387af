"""Points from KML, KMZ, GeoPackage, shapefile and NMEA: what comes in, what is left out, hostile files."""

from __future__ import annotations

import io
import math
import random
import re
import zipfile
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any
from xml.sax.saxutils import escape

import geopandas
import pytest
import shapely
from geographiclib.geodesic import Geodesic
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ringrow.equipment.kinds import FLAG_KINDS
from ringrow.errors import FileError, RingrowError
from ringrow.farm.flag_import import flag_ids
from ringrow.farm.readers import PointFile, read_points
from ringrow.farm.readers.guess import guess_kind
from ringrow.farm.readers.rows import MAX_BYTES, order_in_file
from ringrow.farm.vectors import read_layer

if TYPE_CHECKING:
    from pathlib import Path

HOME = [(-101.5, 36.75)]
OWN = "5d6cf4c3-0d0b-5c0e-9b5b-7a3f0c6f2a11"
KML = f"""<?xml version="1.0" encoding="UTF-8"?>
<kml xmlns="http://www.opengis.net/kml/2.2"><Document><Folder>
 <NetworkLink><Link><href>http://127.0.0.1:9/other.kml</href></Link></NetworkLink>
 <Placemark><name>Fuga 3</name>
  <description><![CDATA[<b>hole</b> &amp; mud<script>alert(1)</script><br>wet]]></description>
  <TimeStamp><when>2026-04-02T08:05:00-05:00</when></TimeStamp>
  <Style><IconStyle><Icon><href>http://127.0.0.1:9/pin.png</href></Icon></IconStyle></Style>
  <ExtendedData><Data name="Precision (m)"><value>4 r68</value></Data></ExtendedData>
  <Point><coordinates>-101.5,36.75,950</coordinates></Point></Placemark>
 <Placemark><name>two</name><MultiGeometry><Point><coordinates>
   -101.5001,36.7501 </coordinates></Point><Point><coordinates>-101.5002,36.7502,0</coordinates></Point>
   <LineString><coordinates>-101,36 -101,37</coordinates></LineString></MultiGeometry></Placemark>
 <Placemark><name>outline</name><Polygon><outerBoundaryIs><LinearRing><coordinates>0,0 1,1 0,1 0,0
   </coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark>
 <Placemark><name>swapped</name><Point><coordinates>36.75,-101.5</coordinates></Point></Placemark>
 <Placemark><name>none</name><Point><coordinates></coordinates></Point></Placemark>
 <Placemark><name>ours</name><ExtendedData><Data name="id"><value>{OWN}</value></Data></ExtendedData>
  <Point><coordinates>-101.5,36.7509</coordinates></Point></Placemark>
</Folder></Document></kml>"""


def read(folder: Path, name: str, data: str | bytes, **options: Any) -> PointFile:
    path = folder / name
    path.write_bytes(data.encode() if isinstance(data, str) else data)
    return read_points(path, **options)


def kmz(*members: tuple[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in members:
            archive.writestr(name, content)
    return out.getvalue()


# --- KML and KMZ


def test_placemarks_come_in_with_words_time_and_accuracy(tmp_path: Path) -> None:
    found = read(tmp_path, "walk.kml", KML)
    first = found.rows[0]
    assert (first.lat, first.lon, first.name, first.note) == (36.75, -101.5, "Fuga 3", "hole & mud wet")
    assert first.time == datetime(2026, 4, 2, 13, 5, tzinfo=UTC)
    assert first.accuracy is not None
    assert (first.accuracy.radius_m, first.accuracy.kind) == (4.0, "r68")
    assert guess_kind({"name": first.name}, kinds=FLAG_KINDS).kind == "leak"


def test_several_points_of_a_placemark_come_apart(tmp_path: Path) -> None:
    rows = read(tmp_path, "walk.kml", KML).rows
    assert [row.what for row in rows[1:3]] == ["placemark 2, point 1", "placemark 2, point 2"]
    assert [(row.lon, row.lat) for row in rows[1:3]] == [(-101.5001, 36.7501), (-101.5002, 36.7502)]


def test_lines_areas_and_links_are_left_out_aloud(tmp_path: Path) -> None:
    said = " | ".join(read(tmp_path, "walk.kml", KML).said)
    assert "left out: 1 area, 1 line (only points become flags)" in said
    assert "left out: 1 link to other files or the network (never followed)" in said


def test_a_placemark_that_cannot_be_is_refused_by_number(tmp_path: Path) -> None:
    refused = {row.what: row.why for row in read(tmp_path, "walk.kml", KML).refused}
    assert "latitude and longitude look swapped" in refused["placemark 4"]
    assert refused["placemark 5"].startswith("no place")


def test_our_own_id_comes_back(tmp_path: Path) -> None:
    assert read(tmp_path, "walk.kml", KML).rows[-1].id == OWN


def test_a_kmz_is_the_same_points_as_its_kml(tmp_path: Path) -> None:
    plain = read(tmp_path, "walk.kml", KML)
    zipped = read(tmp_path, "walk.kmz", kmz(("files/a.png", b"x"), ("doc.kml", KML.encode())))
    assert zipped.rows == plain.rows
    assert flag_ids(zipped.form, zipped.rows) == flag_ids(plain.form, plain.rows)


def test_names_of_a_kmz_lead_nowhere(tmp_path: Path) -> None:
    found = read(tmp_path, "walk.kmz", kmz(("../../evil.kml", KML.encode()), ("b.kml", b"<kml/>")))
    assert len(found.rows) == 4
    assert "left out: 1 more KML document in the KMZ" in found.said
    assert [path.name for path in tmp_path.iterdir()] == ["walk.kmz"]


@pytest.mark.parametrize(
    ("name", "data", "message"),
    [
        ("a.kml", "<kml><Placemark>", "no well-formed XML .* cut off"),
        ("a.kml", "<gpx/>", "root is 'gpx'; allowed: kml"),
        ("a.kml", '<!DOCTYPE k [<!ENTITY a "b">]><kml>&a;</kml>', "document type or entities"),
        ("a.kml", '<!DOCTYPE k SYSTEM "http://127.0.0.1:9/x.dtd"><kml/>', "document type or entities"),
        ("a.kml", "<kml>" + "<Folder>" * 100, "nested deeper than 60"),
        ("a.kml", "<kml>" + "<Placemark/>" * 20_001 + "</kml>", "more than 20,000 points"),
        ("a.kml", "<kml><Placemark>" + "<Point/>" * 20_001 + "</Placemark></kml>", "more than 20,000 points"),
        ("a.kmz", b"PK\x03\x04 no zip", "KMZ that cannot be unpacked .* cut off"),
        ("a.kmz", kmz(("a.txt", b"")), "1 files and 0 KML documents; allowed: one KML document"),
    ],
)
def test_hostile_and_broken_kml_is_one_message(
    tmp_path: Path, name: str, data: str | bytes, message: str
) -> None:
    with pytest.raises(FileError, match=message):
        read(tmp_path, name, data)


def described(text: str) -> str:
    return re.sub(r"<!\[CDATA\[.*?\]\]>", lambda _: escape(text), KML, count=1)


@pytest.mark.parametrize(
    ("description", "note"),
    [
        ("<b>drips</b> &amp; runs<br/>at&nbsp;riser", "drips & runs at riser"),
        ("at x<!-- no <b>tag</b> --> y<script>if (a<b) go()</script><STYLE>p{}</STYLE >z", "at x y z"),
        ("<p>a < b, 5 < 6 ft", "a < b, 5 < 6 ft"),
        ("runs <b", "runs <b"),
        # The standard library's parser fails on this one, which fuzzing found.
        ("<![<CDATA[<b>drips", "<![<CDATA[ drips"),
        ("<![CDATA[kept]]>", "<![CDATA[kept]]>"),
    ],
)
def test_words_of_a_description_that_is_a_web_page(tmp_path: Path, description: str, note: str) -> None:
    data = described(description)
    assert note in read(tmp_path, "walk.kml", data).rows[0].note


@pytest.mark.parametrize("word", ["<a ", "<!--", '<a b="', "</", "<script>", "<![CDATA["])
def test_a_description_of_tags_that_never_close_is_no_trap(tmp_path: Path, word: str) -> None:
    """A parser that looks for the end from each beginning would need hours for these."""
    found = read(tmp_path, "walk.kml", described(word * 200_000))
    usual = read(tmp_path, "usual.kml", KML)
    assert len(found.rows) + len(found.refused) == len(usual.rows) + len(usual.refused)
    assert all("up to" in row.why for row in found.refused if row not in usual.refused)


def test_a_library_that_quotes_half_the_file_is_cut_short(tmp_path: Path) -> None:
    """A member whose own header says that its name is 60,000 letters long."""
    broken = bytearray(kmz(("doc.kml", random.Random(7).randbytes(80_000))))
    # PKWARE's APPNOTE 4.3.7: the length of the name stands at byte 26 of a local header.
    broken[26:28] = (60_000).to_bytes(2, "little")
    with pytest.raises(FileError, match="cannot be unpacked") as refused:
        read(tmp_path, "long.kmz", bytes(broken))
    assert len(str(refused.value)) < 600
    (tmp_path / "boundary.kmz").write_bytes(bytes(broken))
    with pytest.raises(RingrowError, match="cannot be") as refused_shape:
        read_layer(tmp_path / "boundary.kmz")
    assert len(str(refused_shape.value)) < 800


def test_a_zip_bomb_is_never_unpacked(tmp_path: Path) -> None:
    bomb = kmz(("doc.kml", b" " * (MAX_BYTES + 1)))
    assert len(bomb) < 100_000
    with pytest.raises(FileError, match="more than 20 MB once unpacked"):
        read(tmp_path, "bomb.kmz", bomb)


def test_a_kmz_that_lies_about_its_size_is_one_message(tmp_path: Path) -> None:
    honest = bytearray(kmz(("doc.kml", b" " * (MAX_BYTES + 1))))
    # The central directory's uncompressed size (APPNOTE 4.3.12, offset 24): said to be ten bytes.
    at = honest.rindex(b"PK\x01\x02") + 24
    honest[at : at + 4] = (10).to_bytes(4, "little")
    with pytest.raises(FileError, match=r"cannot be unpacked|no well-formed XML|once unpacked"):
        read(tmp_path, "liar.kmz", bytes(honest))


# --- GeoPackage and shapefile


def table(crs: int) -> geopandas.GeoDataFrame:
    shapes = [
        shapely.Point(-101.5, 36.75),
        shapely.MultiPoint([(-101.501, 36.751), (-101.502, 36.752)]),
    ]
    columns = {"Nombre": ["Tuza", "b"], "Notas": ["por el camino", None], "fecha": ["2026-04-02 13:05", None]}
    return geopandas.GeoDataFrame(columns, geometry=shapes, crs=4326).to_crs(crs)


@pytest.mark.parametrize("crs", [4326, 26914, 3857, 2267, 5070])
def test_points_of_any_coordinate_system_come_home(tmp_path: Path, crs: int) -> None:
    table(crs).to_file(tmp_path / "a.gpkg")
    found = read_points(tmp_path / "a.gpkg", farm_lonlat=HOME)
    assert [row.what for row in found.rows] == ["feature 1", "feature 2, point 1", "feature 2, point 2"]
    for row, (lon, lat) in zip(
        found.rows, [(-101.5, 36.75), (-101.501, 36.751), (-101.502, 36.752)], strict=True
    ):
        assert Geodesic.WGS84.Inverse(lat, lon, row.lat, row.lon)["s12"] < 1e-6
    assert found.rows[0].name == "Tuza"
    assert found.rows[0].note == "por el camino"
    assert found.rows[0].time == datetime(2026, 4, 2, 13, 5, tzinfo=UTC)
    assert guess_kind({"name": "Tuza"}, kinds=FLAG_KINDS).kind == "burrow"


def test_web_map_metres_come_home_by_their_formula(tmp_path: Path) -> None:
    """EPSG guidance note 7-2, popular visualisation pseudo-Mercator: sphere of 6,378,137 m (from memory)."""
    radius = 6_378_137.0
    x = radius * math.radians(-101.5)
    y = radius * math.log(math.tan(math.pi / 4 + math.radians(36.75) / 2))
    geopandas.GeoDataFrame(geometry=[shapely.Point(x, y)], crs=3857).to_file(tmp_path / "a.gpkg")
    (row,) = read_points(tmp_path / "a.gpkg").rows
    assert (row.lon, row.lat) == (pytest.approx(-101.5, abs=1e-9), pytest.approx(36.75, abs=1e-9))


def test_all_layers_of_a_geopackage_are_read(tmp_path: Path) -> None:
    table(4326).to_file(tmp_path / "a.gpkg", layer="leaks")
    table(26914).to_file(tmp_path / "a.gpkg", layer="ruts")
    area = geopandas.GeoDataFrame(geometry=[shapely.box(0, 0, 1, 1)], crs=4326)
    area.to_file(tmp_path / "a.gpkg", layer="areas")
    found = read_points(tmp_path / "a.gpkg")
    assert [row.what for row in found.rows][3:] == ["feature 3", "feature 4, point 1", "feature 4, point 2"]
    assert 'layer "leaks" holds points' in found.said
    assert "left out: 1 area (only points become flags)" in found.said


def test_a_shapefile_and_its_zip_are_the_same_points(tmp_path: Path) -> None:
    # Both kinds of shape in one shapefile are not allowed; many-point ones hold one point too.
    shapes = table(26914).explode().reset_index(drop=True)
    shapes.to_file(tmp_path / "a.shp")
    with zipfile.ZipFile(tmp_path / "b.zip", "w") as archive:
        for part in tmp_path.glob("a.*"):
            archive.write(part, part.name)
    plain, zipped = read_points(tmp_path / "a.shp"), read_points(tmp_path / "b.zip")
    assert len(plain.rows) == 3
    assert zipped.rows == plain.rows
    assert flag_ids(zipped.form, zipped.rows) == flag_ids(plain.form, plain.rows)


def test_a_shapefile_without_its_coordinate_system_is_refused(tmp_path: Path) -> None:
    table(26914).explode().to_file(tmp_path / "a.shp")
    (tmp_path / "a.prj").unlink()
    with pytest.raises(FileError, match=r"does not say its coordinate system.*copy its .prj file"):
        read_points(tmp_path / "a.shp")


def test_a_shapefile_without_its_parts_is_refused(tmp_path: Path) -> None:
    table(26914).explode().to_file(tmp_path / "a.shp")
    (tmp_path / "a.dbf").unlink()
    with pytest.raises(FileError, match=r"a shapefile without a\.dbf"):
        read_points(tmp_path / "a.shp")


@pytest.mark.parametrize("name", ["a.gpkg", "a.shp", "a.zip"])
def test_a_vector_file_that_is_none_is_one_message(tmp_path: Path, name: str) -> None:
    with pytest.raises(FileError, match=re.escape(str(tmp_path / name))):
        read(tmp_path, name, b"nothing of the kind")
    with pytest.raises(FileError, match="no such file"):
        read_points(tmp_path / f"missing{name}")


def test_a_damaged_database_never_reaches_the_library(tmp_path: Path) -> None:
    # Text that is none in a table's own words makes the reading library crash, not raise.
    table(4326).to_file(tmp_path / "a.gpkg")
    whole = (tmp_path / "a.gpkg").read_bytes()
    (tmp_path / "a.gpkg").write_bytes(whole.replace(b"CREATE TRIGGER", b"CREATE TRI\xffGER"))
    with pytest.raises(FileError, match=r"does not open as GPKG .*copy it anew"):
        read_points(tmp_path / "a.gpkg")


@pytest.mark.parametrize("prj", [b"GEOGCS[", b'PROJCS["x",GEOGCS["y"]', b"\xff\xfe\x00"])
def test_a_coordinate_system_that_is_none_is_one_message(tmp_path: Path, prj: bytes) -> None:
    table(26914).explode().to_file(tmp_path / "a.shp")
    (tmp_path / "a.prj").write_bytes(prj)
    with pytest.raises(FileError, match=r"a\.shp: found a file that does not (open as|say its)"):
        read_points(tmp_path / "a.shp")


# --- NMEA


def sentence(body: str) -> str:
    # NMEA 0183: exclusive or of all characters between $ and *.
    total = 0
    for letter in body:
        total ^= ord(letter)
    return f"${body}*{total:02X}"


def test_waypoints_of_a_log_come_in_once(tmp_path: Path) -> None:
    mark = sentence("GPWPL,3645.0000,N,10130.0000,W,LEAK 1")
    south = sentence("GPWPL,3645.6000,S,10130.0000,E,x")
    fix = sentence("GPGGA,120000,3645.0,N,10130.0,W,1,8,1,900,M,0,M,,")
    found = read(tmp_path, "walk.log", "\r\n".join([fix, mark, south, mark]))
    assert [(row.lat, row.lon, row.name) for row in found.rows] == [
        (36.75, -101.5, "LEAK 1"),
        (pytest.approx(-36.76, abs=1e-9), 101.5, "x"),
    ]
    assert found.said[0].startswith("left out: 1 position sentences of a walk")


def test_the_fixes_of_a_walk_are_no_flags(tmp_path: Path) -> None:
    fix = sentence("GPRMC,120000,A,3645.0,N,10130.0,W,0,0,020426,,")
    with pytest.raises(FileError, match=r"2 position sentences of a walk and no waypoint .*ringrow survey"):
        read(tmp_path, "walk.nmea", f"{fix}\n{fix}\n")
    with pytest.raises(FileError, match="no position and no waypoint"):
        read(tmp_path, "walk.nmea", "")


def test_a_text_file_of_sentences_is_a_log(tmp_path: Path) -> None:
    found = read(tmp_path, "walk.txt", sentence("GPWPL,3645.0000,N,10130.0000,W,a"))
    assert found.form == "nmea"
    assert read(tmp_path, "table.txt", "lat,lon\n36.75,-101.5\n").form == "csv"


@pytest.mark.parametrize(
    ("line", "why"),
    [
        (sentence("GPWPL,3645.0,N,10130.0,W,a")[:-2] + "00", "wrong or missing checksum"),
        (sentence("GPWPL,3645.0,,10130.0,W,a"), "without latitude, longitude or their N, S, E, W"),
        (sentence("GPWPL,9945.0,N,10130.0,W,a"), "latitude -90 to 90"),
        (sentence("GPWPL,x,N,y,W,a"), "."),
    ],
)
def test_a_broken_waypoint_is_refused_by_line(tmp_path: Path, line: str, why: str) -> None:
    found = read(tmp_path, "walk.log", f"{line}\n")
    assert found.rows == ()
    assert found.refused[0].what == "line 1"
    assert re.search(why, found.refused[0].why)


def test_points_sort_as_they_stand_in_the_file() -> None:
    names = ["feature 10", "feature 2, point 11", "feature 2, point 3"]
    assert sorted(names, key=order_in_file) == ["feature 2, point 3", "feature 2, point 11", "feature 10"]


# --- cut off anywhere, and bytes changed


@pytest.fixture(scope="module")
def wholes(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    folder = tmp_path_factory.mktemp("whole")
    table(26914).to_file(folder / "a.gpkg")
    log = "\n".join(sentence(f"GPWPL,3645.{at:04d},N,10130.0000,W,n{at}") for at in range(20))
    return {
        "a.kml": KML.encode(),
        "a.kmz": kmz(("doc.kml", KML.encode())),
        "a.gpkg": (folder / "a.gpkg").read_bytes(),
        "a.log": log.encode(),
    }


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(name=st.sampled_from(["a.kml", "a.kmz", "a.gpkg", "a.log"]), data=st.data())
def test_a_broken_file_raises_only_our_own_error(
    tmp_path: Path, wholes: dict[str, bytes], name: str, data: st.DataObject
) -> None:
    whole = bytearray(wholes[name])
    end = data.draw(st.integers(0, len(whole)))
    for _ in range(data.draw(st.integers(0, 3))):
        whole[data.draw(st.integers(0, len(whole) - 1))] = data.draw(st.integers(0, 255))
    try:
        found = read(tmp_path, name, bytes(whole[:end]))
    except FileError:
        return
    assert all(row.lat is not None and -90 <= row.lat <= 90 for row in found.rows)

"""GeoPackage, shapefiles and the table of flags: by the standard's own requirements, and read by others.

Outside references: OGC 12-128 (GeoPackage; requirement numbers beside the checks), asked of the file
with SQLite alone; readers GDAL through fiona and through pyogrio (two builds of it); RFC 4180.
The validator of the GDAL utilities finds no fault in the same file either; it cannot be installed as
a dependency, because it asks for a build of GDAL that it does not need. A desktop GIS took up the looks
of every layer by itself and drew them, which was looked at once; the tests hold the table it reads.
"""

from __future__ import annotations

import csv
import errno
import json
import os
import re
import sqlite3
import zipfile
from contextlib import closing
from pathlib import Path
from typing import Any

import fiona
import numpy as np
import pyogrio
import pyogrio.raw
import pytest
import shapely
import shapely.geometry
from lxml import etree

from exported import HOSTILE, Book, book, ground, hostile_book, plan_of
from ringrow.errors import FileError
from ringrow.farm.readers.own import plain_cell
from ringrow.handoff import export_shapefile
from ringrow.handoff.export import SHAPEFILE_NOTE
from ringrow.handoff.export_csv import write_csv
from ringrow.handoff.export_layers import LAYERS, Layer, sort_into_layers
from ringrow.handoff.export_shapefile import TEXT_BYTES, short_names, write_shapefiles
from ringrow.handoff.feature_group import FeatureGroup
from ringrow.handoff.features import farm_features
from ringrow.handoff.gis_styles import LOOKS
from ringrow.units import METRIC, US

ROOT = Path(__file__).resolve().parents[2]
SAMPLE = ROOT / "sample_fields" / "two_windmill_farm"


@pytest.fixture(scope="module")
def farm() -> Book:
    """The sample farm with hostile flags."""
    return hostile_book(SAMPLE)


@pytest.fixture(scope="module")
def layers(farm: Book) -> dict[str, Layer]:
    """Its features sorted into layers."""
    found, _ = sort_into_layers(farm_features(farm.farm, farm.layouts, farm.flags))
    return {layer.name: layer for layer in found}


@pytest.fixture(scope="module")
def gpkg(farm: Book, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The farm as a GeoPackage."""
    path = tmp_path_factory.mktemp("gpkg") / "farm.gpkg"
    farm.export(path)
    return path


@pytest.fixture(scope="module")
def shapefiles(farm: Book, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The farm as shapefiles, unpacked."""
    folder = tmp_path_factory.mktemp("shp")
    farm.export(folder / "farm.shp.zip")
    with zipfile.ZipFile(folder / "farm.shp.zip") as archive:
        archive.extractall(folder)
    return folder


def ask(path: Path, question: str, *values: Any) -> list[tuple[Any, ...]]:
    with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as database:
        return list(database.execute(question, values))


def same(one: Any, two: Any) -> bool:
    """Whether two shapes are the same but for a single part packed as several."""
    if one is None or two is None:
        return one is two
    return bool(shapely.equals_exact(one.normalize(), two.normalize(), tolerance=0)) or bool(
        shapely.equals_exact(
            shapely.geometrycollections(shapely.get_parts(one)).normalize(),
            shapely.geometrycollections(shapely.get_parts(two)).normalize(),
            tolerance=0,
        )
    )


# --- Layers


def test_every_feature_is_in_one_layer(farm: Book, layers: dict[str, Layer]) -> None:
    kinds = [g.kind for g in farm_features(farm.farm, farm.layouts, farm.flags) for _ in g.ids]
    found = [kind for layer in layers.values() for kind in layer.columns["feature"]]
    assert sorted(found) == sorted(kinds)
    assert set(layers) <= set(LAYERS) == set(LOOKS)
    assert {
        "boundaries",
        "exclusions",
        "wetted",
        "tracks",
        "laterals",
        "dry_pieces",
        "flags",
        "wells",
    } <= set(layers)
    assert layers["tracks"].columns["feature"].count("pivot-road") == 2


def test_a_layer_has_the_columns_of_all_its_features() -> None:
    square, line = shapely.box(0, 0, 1, 1), shapely.LineString([(0, 0), (1, 1)])

    def group(kind: str, *shapes: Any, **columns: Any) -> FeatureGroup:
        array = np.empty(len(shapes), dtype=object)
        array[:] = shapes
        return FeatureGroup(
            kind=kind, ids=[f"{kind}:{n}" for n in range(len(shapes))], shapes=array, columns=columns
        )

    groups = [
        group("wetted-area", square, a=[1]),
        group("wetted-area", square, square, b=[None, [1, 2]], none=[None, None]),
        group("keep-off", square, line, shapely.Point(1, 2), number=[1, 2, 3]),
        group("never-seen", line),
    ]
    found = {layer.name: layer for layer in sort_into_layers(groups)[0]}
    assert list(found) == ["wetted", "tracks", "keep_off_areas", "keep_off_lines", "keep_off_points"]
    assert found["wetted"].columns == {
        "feature": ["wetted-area"] * 3,
        "id": ["wetted-area:0", "wetted-area:0", "wetted-area:1"],
        "a": [1, None, None],
        "b": [None, None, "[1, 2]"],
    }
    assert found["keep_off_lines"].columns["number"] == [2]
    assert [found[name].shape for name in found] == [
        "Polygon",
        "LineString",
        "Polygon",
        "LineString",
        "Point",
    ]


# --- GeoPackage


def test_requirements_of_the_file(gpkg: Path) -> None:
    """Requirements 1, 2, 6, 7: SQLite 3, application id, integrity, foreign keys."""
    assert gpkg.read_bytes()[:16] == b"SQLite format 3\0"
    assert ask(gpkg, "pragma application_id") == [(0x47504B47,)]
    assert ask(gpkg, "pragma user_version") == [(10200,)]
    assert ask(gpkg, "pragma integrity_check") == [("ok",)]
    assert ask(gpkg, "pragma foreign_key_check") == []


def test_requirements_of_the_coordinate_systems(gpkg: Path) -> None:
    """Requirements 10, 11, 12, 146: the three systems are there, contents and geometry columns agree."""
    there = dict(
        ask(gpkg, "select srs_id, organization || ':' || organization_coordsys_id from gpkg_spatial_ref_sys")
    )
    assert there[4326].lower() == "epsg:4326"
    assert {-1, 0, 4326} <= there.keys()
    pairs = ask(
        gpkg,
        "select c.srs_id, g.srs_id from gpkg_contents c join gpkg_geometry_columns g using (table_name)",
    )
    assert set(pairs) == {(4326, 4326)}


def test_requirements_of_the_contents(gpkg: Path, layers: dict[str, Layer]) -> None:
    """Requirements 13, 15, 18, 21, 22: each table listed once, times in ISO 8601, one geometry column."""
    rows = ask(gpkg, "select table_name, data_type, last_change from gpkg_contents")
    assert {name for name, kind, _ in rows if kind == "features"} == set(layers)
    assert [name for name, kind, _ in rows if kind == "attributes"] == ["layer_styles"]
    assert all(re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z", changed) for *_, changed in rows)
    tables = {name for (name,) in ask(gpkg, "select name from sqlite_master where type = 'table'")}
    assert {name for name, *_ in rows} <= tables
    columns = ask(gpkg, "select table_name, count(*) from gpkg_geometry_columns group by 1")
    assert dict(columns) == dict.fromkeys(layers, 1)


def test_requirements_of_the_shapes(gpkg: Path) -> None:
    """Requirements 19, 31, 32: blobs begin with GP, every shape is of its table's one kind."""
    for table, column, kind in ask(
        gpkg, "select table_name, column_name, geometry_type_name from gpkg_geometry_columns"
    ):
        assert kind in ("POINT", "LINESTRING", "MULTIPOLYGON")
        for (blob,) in ask(gpkg, f'select "{column}" from "{table}" where "{column}" is not null'):  # noqa: S608
            assert blob[:2] == b"GP"
            envelope = {0: 0, 1: 32, 2: 48, 3: 48, 4: 64}[(blob[3] >> 1) & 7]
            assert shapely.from_wkb(blob[8 + envelope :]).geom_type.upper() == kind


def test_requirements_of_keys_and_indexes(gpkg: Path, layers: dict[str, Layer]) -> None:
    """Requirements 29, 75 to 78: a whole number as key; the index of shapes is declared and full."""
    declared = ask(gpkg, "select table_name from gpkg_extensions where extension_name = 'gpkg_rtree_index'")
    assert {name for (name,) in declared} == set(layers)
    for table, layer in layers.items():
        keys = [row for row in ask(gpkg, f'pragma table_info("{table}")') if row[5]]
        assert [(row[2], row[5]) for row in keys] == [("INTEGER", 1)]
        column = ask(gpkg, "select column_name from gpkg_geometry_columns where table_name = ?", table)[0][0]
        indexed = ask(gpkg, f'select count(*) from "rtree_{table}_{column}"')  # noqa: S608
        assert indexed == [(sum(shape is not None for shape in layer.shapes),)]


def test_extents_hold_the_shapes(gpkg: Path, layers: dict[str, Layer]) -> None:
    for name, *extent in ask(gpkg, "select table_name, min_x, min_y, max_x, max_y from gpkg_contents"):
        if name in layers:
            assert extent == pytest.approx(shapely.total_bounds(layers[name].shapes).tolist(), abs=1e-12)


def test_fiona_reads_back_what_was_written(gpkg: Path, layers: dict[str, Layer]) -> None:
    assert set(fiona.listlayers(gpkg)) == {*layers, "layer_styles"}
    for name, layer in layers.items():
        with fiona.open(gpkg, layer=name) as source:
            assert source.crs.to_epsg() == 4326
            features = list(source)
        assert len(features) == len(layer)
        for index, feature in enumerate(features):
            shape = None if feature.geometry is None else shapely.geometry.shape(feature.geometry)
            assert same(shape, layer.shapes[index])
            for title, values in layer.columns.items():
                if title != "set_at":
                    assert as_written(feature.properties[title], values[index]) == values[index]


def as_written(found: Any, expected: Any) -> Any:
    """Take back what a table cannot tell apart: whole numbers in a column of numbers, true and 1."""
    if isinstance(expected, bool):
        return bool(found)
    if isinstance(expected, int) and isinstance(found, float):
        return int(found)
    return found


def test_pyogrio_reads_back_what_was_written(gpkg: Path, layers: dict[str, Layer]) -> None:
    for name, layer in layers.items():
        meta, _, shapes, columns = pyogrio.raw.read(gpkg, layer=name)
        assert meta["crs"] == "EPSG:4326"
        assert all(same(one, two) for one, two in zip(shapely.from_wkb(shapes), layer.shapes, strict=True))
        assert list(meta["fields"]) == list(layer.columns)
        ids = columns[list(meta["fields"]).index("id")]
        assert ids.tolist() == list(layer.columns["id"])


def test_times_are_times_in_utc(gpkg: Path) -> None:
    (kind,) = [row[2] for row in ask(gpkg, "pragma table_info('flags')") if row[1] == "set_at"]
    assert kind == "DATETIME"
    stored = {text for (text,) in ask(gpkg, "select set_at from flags")}
    assert stored == {"2026-04-02T13:05:07.123Z"}


def test_looks_are_there_for_each_layer(gpkg: Path, layers: dict[str, Layer]) -> None:
    rows = ask(
        gpkg, "select f_table_name, f_geometry_column, styleQML, styleSLD, useAsDefault from layer_styles"
    )
    geometry = dict(ask(gpkg, "select table_name, column_name from gpkg_geometry_columns"))
    assert {name: column for name, column, *_ in rows} == geometry
    assert {name for name, *_ in rows} == set(layers)
    for _, _, qml, sld, default in rows:
        assert default == 1
        assert etree.fromstring(qml).tag == "qgis"
        assert etree.fromstring(sld).tag == "{http://www.opengis.net/sld}StyledLayerDescriptor"
        assert "http" not in qml
        assert re.findall(r'http[^"]*', sld) == ["http://www.opengis.net/sld", "http://www.opengis.net/ogc"]


def test_flags_look_by_their_status(gpkg: Path) -> None:
    ((qml, sld),) = ask(gpkg, "select styleQML, styleSLD from layer_styles where f_table_name = 'flags'")
    found = etree.fromstring(qml)
    assert found.find("renderer-v2").get("attr") == "status"
    assert [c.get("value") for c in found.iter("category")] == ["open", "fixed", "checked", "not-a-fault"]
    shapes = [o.get("value") for o in found.iter("Option") if o.get("name") == "name"]
    assert shapes == ["triangle", "diamond", "circle", "square"]
    assert found.find("labeling/settings/text-style").get("fieldName") == "number"
    literals = etree.fromstring(sld).iter("{http://www.opengis.net/ogc}Literal")
    assert [literal.text for literal in literals] == ["open", "fixed", "checked", "not-a-fault"]


def test_geopackage_comes_back_as_the_same_flags(farm: Book, gpkg: Path) -> None:
    plan = plan_of(gpkg, farm)
    assert plan.events == ()
    assert [outcome.result for outcome in plan.outcomes] == ["already there"] * len(farm.flags)


def test_a_geopackage_of_a_farm_without_flags(tmp_path: Path) -> None:
    book(SAMPLE, []).export(tmp_path / "a.gpkg")
    assert "flags" not in fiona.listlayers(tmp_path / "a.gpkg")


# --- Shapefiles


def test_each_layer_is_a_shapefile(shapefiles: Path, layers: dict[str, Layer]) -> None:
    for name, layer in layers.items():
        for ending in (".shp", ".shx", ".dbf", ".prj", ".cpg"):
            assert (shapefiles / f"{name}{ending}").is_file()
        assert (shapefiles / f"{name}.cpg").read_text() == "UTF-8"
        with fiona.open(shapefiles / f"{name}.shp") as source:
            assert source.crs.to_epsg() == 4326
            features = list(source)
        assert len(features) == len(layer)
        titles = list(features[0].properties)
        assert all(len(title) <= 10 for title in titles)
        for index, feature in enumerate(features):
            shape = None if feature.geometry is None else shapely.geometry.shape(feature.geometry)
            assert same(shape, layer.shapes[index])
            for title, values in zip(titles, layer.columns.values(), strict=True):
                check_cell(feature.properties[title], values[index])


def check_cell(found: Any, value: Any) -> None:
    if isinstance(value, bool):
        assert found == ("yes" if value else "no")
    elif isinstance(value, str):
        # A table of the format cannot tell an empty text from none; readers cut blanks at the ends.
        expected = value.encode()[:TEXT_BYTES].decode(errors="ignore").strip(" ")
        assert (found or "").strip(" ") == expected
    elif value is None:
        assert found is None
    else:
        assert found == pytest.approx(value, abs=1e-12, rel=1e-12)


def test_columns_file_gives_the_full_names(shapefiles: Path, layers: dict[str, Layer]) -> None:
    with (shapefiles / "columns.csv").open(encoding="utf-8-sig", newline="") as stream:
        rows = list(csv.DictReader(stream))
    for name, layer in layers.items():
        own = {row["column"]: row["full name"] for row in rows if row["layer"] == name}
        assert list(own.values()) == list(layer.columns)
        assert list(own) == pyogrio.read_info(shapefiles / f"{name}.shp")["fields"].tolist()


def test_short_names_are_never_the_same() -> None:
    names = [f"a_very_long_name_{n}" for n in range(25)] + ["A_VERY_LON"]
    short = short_names(names)
    assert len({name.casefold() for name in short}) == len(names)
    assert all(0 < len(name) <= 10 for name in short)


def test_long_texts_are_cut_between_letters_and_counted(tmp_path: Path) -> None:
    note = "ñ" * 200
    report = book(SAMPLE, [(ground(36.76, -101.5), "rock", "", note)]).export(tmp_path / "a.zip")
    cut = "1 text of tracks.stations_ft cut to 254 bytes; 1 text of flags.note cut to 254 bytes"
    assert f"Cut to fit: {cut}." in report.remarks
    assert report.remarks[-1] == SHAPEFILE_NOTE
    with zipfile.ZipFile(tmp_path / "a.zip") as archive:
        archive.extractall(tmp_path)
    with fiona.open(tmp_path / "flags.shp") as source:
        assert next(iter(source)).properties["note"] == "ñ" * 127


def test_a_shapefile_too_large_is_refused(
    farm: Book, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(export_shapefile, "MAX_FILE_BYTES", 5_000)
    with pytest.raises(FileError, match=r"\.(shp|dbf)\" would be .* GB; allowed: up to .*; write one field"):
        farm.export(tmp_path / "a.zip")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("name", ["a.zip", "a.gpkg", "a.kmz", "a.csv", "a.gpx"])
def test_a_disk_that_fills_up_leaves_the_old_file(
    farm: Book, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    def full(_handle: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    (tmp_path / name).write_text("old", encoding="utf-8")
    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(FileError, match=r"could not be written \(No space left on device"):
        farm.export(tmp_path / name)
    assert [item.name for item in tmp_path.iterdir()] == [name]
    assert (tmp_path / name).read_text(encoding="utf-8") == "old"


def test_the_same_farm_gives_the_same_texts_and_shapes(farm: Book, shapefiles: Path, tmp_path: Path) -> None:
    farm.export(tmp_path / "again.zip")
    with zipfile.ZipFile(tmp_path / "again.zip") as archive:
        for name in archive.namelist():
            # The table's head holds the day it was written.
            skip = 4 if name.endswith(".dbf") else 0
            assert archive.read(name)[skip:] == (shapefiles / name).read_bytes()[skip:]


def test_an_empty_farm_of_shapefiles(tmp_path: Path) -> None:
    assert write_shapefiles([], tmp_path / "a.zip") == ()
    with zipfile.ZipFile(tmp_path / "a.zip") as archive:
        assert archive.namelist() == ["columns.csv"]


# --- The table of flags


@pytest.fixture(scope="module")
def table(farm: Book, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The table of flags."""
    path = tmp_path_factory.mktemp("csv") / "flags.csv"
    farm.export(path)
    return path


def test_bytes_as_spreadsheets_want_them(table: Path) -> None:
    data = table.read_bytes()
    assert data.startswith(b"\xef\xbb\xbf")
    first = data.split(b"\r\n")[0].decode("utf-8-sig")
    assert first.startswith('"number","kind","class"')
    assert '"distance (ft)","azimuth (deg)"' in first


def test_no_cell_begins_a_formula(table: Path) -> None:
    """However the file is cut: at commas as meant, or at semicolons, tabs, bars and line ends."""
    text = table.read_text(encoding="utf-8-sig")
    cells = [cell for row in csv.reader(text.splitlines(keepends=True)) for cell in row]
    pieces = [piece for cell in cells for piece in re.split(r"[;|\t\r\n]", cell)]
    number = re.compile(r"-?\d+(\.\d+)?(e-?\d+)?")
    begun = [
        p for p in pieces if p.strip()[:1] in ("=", "+", "-", "@") and p.strip() and not number.fullmatch(p)
    ]
    assert begun == []


def test_texts_come_back_letter_for_letter(farm: Book, table: Path) -> None:
    with table.open(encoding="utf-8-sig", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert [plain_cell(row["note"]) for row in rows] == list(HOSTILE)
    assert [plain_cell(row["kind"]) for row in rows] == [flag.state.kind for flag in farm.flags]
    assert [row["id"] for row in rows] == [flag.state.id for flag in farm.flags]


def test_places_and_numbers(farm: Book, table: Path) -> None:
    with table.open(encoding="utf-8-sig", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert (rows[0]["lat (deg)"], rows[0]["lon (deg)"]) == ("", "")
    assert (rows[3]["lat (deg)"], rows[3]["lon (deg)"]) == ("36.7512346", "-101.5034877")
    assert rows[1]["lateral"] == "43"
    assert float(rows[1]["station (ft)"]) == pytest.approx(180 / 0.3048, abs=1e-4)
    assert rows[1]["candidates"] == "43 100%"


def test_headings_follow_the_units(farm: Book, tmp_path: Path) -> None:
    write_csv(farm.flags, tmp_path / "m.csv", METRIC)
    first = (tmp_path / "m.csv").read_text(encoding="utf-8-sig").splitlines()[0]
    assert '"distance (m)"' in first
    assert '"offset (mm)"' in first
    assert "(ft)" not in first
    assert write_csv([], tmp_path / "none.csv", US) == 0


def test_table_comes_back_as_the_same_flags(farm: Book, table: Path) -> None:
    plan = plan_of(table, farm)
    assert plan.events == ()
    assert [outcome.result for outcome in plan.outcomes] == ["already there"] * len(farm.flags)


def test_a_table_that_a_spreadsheet_saved_again(farm: Book, table: Path, tmp_path: Path) -> None:
    """Semicolons, no byte order mark, Windows-1252 and a changed status: one edit and no more."""
    with table.open(encoding="utf-8-sig", newline="") as stream:
        rows = list(csv.reader(stream))
    rows = [row for row in rows if not any(ord(letter) > 0xFF for cell in row for letter in cell)]
    at = rows[0].index("status")
    changed = next(row for row in rows[1:] if row[at] == "open")
    changed[at] = "checked"
    saved = tmp_path / "saved.csv"
    with saved.open("w", encoding="cp1252", newline="") as stream:
        csv.writer(stream, delimiter=";").writerows(rows)
    plan = plan_of(saved, farm)
    assert [(event.field, event.value) for event in plan.events] == [("status", "checked")]
    assert plan.events[0].flag == changed[rows[0].index("id")]


def test_apostrophes_of_others_stay(tmp_path: Path) -> None:
    """Only a row with an id of ours was marked by us."""
    farm = book(SAMPLE, [])
    path = tmp_path / "theirs.csv"
    path.write_text("lat,lon,note\n36.76,-101.5,'=x\n", encoding="utf-8")
    plan = plan_of(path, farm)
    assert [event.value for event in plan.events if event.field == "note"] == ["'=x"]


def test_lists_are_json_in_layers(layers: dict[str, Layer]) -> None:
    row = layers["flags"].columns["number"].index(2)
    assert json.loads(layers["flags"].columns["candidates"][row]) == [{"lateral": 43, "chance": 1.0}]

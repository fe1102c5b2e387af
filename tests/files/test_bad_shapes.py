"""Bad boundaries and exclusions: files, paths, systems and shapes that cannot be a field."""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING

import fiona
import pytest
import shapely

from bad_farm import HEAD, Bad, bounded, check_bad, the_fault, two
from farms import (
    EAST,
    HOME,
    NORTH,
    OUTLINE,
    SOUTH,
    WEST,
    collection,
    rectangle,
    write_farm,
)
from ringrow.farm.load import load_farm

if TYPE_CHECKING:
    from pathlib import Path


BAD = [
    Bad(
        "boundary that is only a path",
        "boundary",
        '"shapes/a.shp"',
        "a table with file",
        r'write \{ file = "shapes/a\.shp" \}',
        home='name = "a"\nboundary = "shapes/a.shp"\n',
    ),
    Bad(
        "no boundary",
        "boundary",
        "nothing",
        "boundary or outline",
        "such as boundary = ",
        home='name = "Home field"\n',
    ),
    Bad(
        "boundary and outline",
        "outline",
        "boundary and outline",
        "one of them",
        "take one out",
        home=bounded() + OUTLINE,
        shapes={"a.geojson": collection((HOME, {}))},
    ),
    Bad(
        "outline of two corners",
        "outline",
        "a list of 2",
        "3 or more",
        home='name = "a"\noutline = [{ lat = 36, lon = -101 }, { lat = 36, lon = -101.1 }]\n',
    ),
    Bad(
        "outline of one corner three times",
        "outline",
        "1 different corners",
        "three or more",
        "add the missing",
        home='name = "a"\noutline = [' + "{ lat = 36, lon = -101 }, " * 3 + "]\n",
    ),
    Bad(
        "outline without ground",
        "outline",
        "without ground",
        "some area",
        ".",
        home='name = "a"\noutline = [{ lat = 36, lon = -101 }, '
        "{ lat = 36.01, lon = -101 }, { lat = 36.02, lon = -101 }]\n",
    ),
    Bad(
        "outline swapped",
        "outline[1].lat",
        "-101.5",
        "-89 and at most 89",
        "swapped",
        home='name = "a"\noutline = [{ lat = -101.5, lon = 36 }, '
        "{ lat = 36, lon = -101 }, { lat = 36.01, lon = -101 }]\n",
    ),
    Bad(
        "on the 180th meridian",
        "outline",
        r"reaches \d+\.\d km from its centre",
        "at most 4.5 km",
        "180th meridian is written as two",
        home='name = "a"\noutline = [{ lat = -16.5, lon = 179.998 }, { lat = -16.5, lon = -179.998 }, '
        "{ lat = -16.503, lon = -179.998 }]\n",
    ),
    Bad(
        "one corner in the other hemisphere",
        "outline",
        r"reaches \d+\.\d km from its centre",
        "at most 4.5 km",
        "corners right",
        home=f'name = "a"\n{OUTLINE.replace("-101.491", "101.491", 1)}',
    ),
    Bad(
        "boundary too large",
        "boundary",
        r"reaches \d+\.\d km",
        "at most 4.5 km",
        "split a larger field",
        home=bounded(),
        shapes={"a.geojson": collection((rectangle(-101.5, 36.7, -101.3, 36.9), {}))},
    ),
    Bad(
        "file not there",
        "boundary.file",
        r'"shapes/fieds\.geojson", which is not there',
        "inside the farm folder",
        'did you mean "shapes/fields.geojson"',
        home=bounded(file="fieds.geojson"),
        shapes={"fields.geojson": "{}"},
    ),
    Bad(
        "path out of the folder",
        "boundary.file",
        r'"shapes/\.\./\.\./a\.geojson", which leaves',
        "inside the farm folder",
        "copy the file",
        home=bounded(file="../../a.geojson"),
    ),
    Bad(
        "absolute path",
        "boundary.file",
        '"/etc/passwd", which leaves the folder',
        "inside the farm folder",
        "copy the file",
        home='name = "a"\nboundary = { file = "/etc/passwd" }\n',
    ),
    Bad(
        "drive letter",
        "boundary.file",
        "leaves the folder",
        "inside the farm folder",
        "copy the file",
        home="name = \"a\"\nboundary = { file = 'C:\\farm\\a.shp' }\n",
    ),
    Bad(
        "web address",
        "boundary.file",
        "leaves the folder",
        "inside the farm folder",
        "copy the file",
        home='name = "a"\nboundary = { file = "https://example.org/a.geojson" }\n',
    ),
    Bad(
        "a folder for a file",
        "boundary.file",
        '"shapes", which is a folder',
        "a file",
        "name the file in it",
        home='name = "a"\nboundary = { file = "shapes" }\n',
        shapes={"a.geojson": "{}"},
    ),
    Bad(
        "ending nobody reads",
        "boundary.file",
        r'ending in "\.geojsn"',
        r"\.gpkg",
        r'did you mean "\.geojson"',
        home=bounded(file="a.geojsn"),
        shapes={"a.geojsn": "{}"},
    ),
    Bad(
        "empty file",
        "boundary.file",
        "an empty file",
        "with polygons",
        "copy it again",
        home=bounded(),
        shapes={"a.geojson": ""},
    ),
    Bad(
        "file cut off",
        "boundary.file",
        "stops being JSON at line 1",
        "whole GeoJSON",
        "cut off",
        home=bounded(),
        shapes={"a.geojson": collection((HOME, {}))[:-20]},
    ),
    Bad(
        "no features",
        "boundary.file",
        r"no polygon \(nothing\)",
        "polygons",
        "draw",
        home=bounded(),
        shapes={"a.geojson": collection()},
    ),
    Bad(
        "points only",
        "boundary.file",
        r"no polygon \(Point\)",
        "polygons",
        "as an area",
        home=bounded(),
        shapes={"a.geojson": collection(({"type": "Point", "coordinates": [WEST, SOUTH]}, {}))},
    ),
    Bad(
        "NaN in the file",
        "boundary.file",
        "no number",
        "finite",
        "draw",
        home=bounded(),
        shapes={"a.geojson": collection((rectangle(float("nan"), SOUTH, EAST, NORTH), {}))},
    ),
    Bad(
        "file with latitude first",
        "boundary.file",
        r"longitude 36\.75, latitude -101\.5",
        "-180 to 180",
        "look swapped",
        home=bounded(),
        shapes={"a.geojson": collection((rectangle(SOUTH, WEST, NORTH, EAST), {}))},
    ),
    Bad(
        "metres that call themselves GeoJSON",
        "boundary.file",
        "longitude 634000, latitude 4068000",
        "-180 to 180",
        "add crs",
        home=bounded(),
        shapes={"a.geojson": collection((rectangle(634000, 4068000, 634800, 4068800), {}))},
    ),
    Bad(
        "coordinate system nobody knows",
        "boundary.crs",
        '"EPSG:99999"',
        "that PROJ knows",
        "EPSG:26914",
        home=bounded(', crs = "EPSG:99999"'),
        shapes={"a.geojson": collection((HOME, {}))},
    ),
    Bad(
        "where that matches nothing",
        "boundary.where.field",
        "no feature with field = Wst",
        'one of "East", "West"',
        'did you mean "West"',
        home=bounded(', where = { field = "Wst" }'),
        shapes={"a.geojson": two()},
    ),
    Bad(
        "where on a column that is not there",
        "boundary.where.feild",
        'no column "feild"',
        'one of "field"',
        'did you mean "field"',
        home=bounded(', where = { feild = "West" }'),
        shapes={"a.geojson": two()},
    ),
    Bad(
        "layer of a GeoJSON",
        "boundary.layer",
        'layer "x"',
        "GeoJSON has none",
        "leave layer out",
        home=bounded(', layer = "x"'),
        shapes={"a.geojson": two()},
    ),
    Bad(
        "where beside outline",
        "exclusions[1].where",
        "where beside outline",
        "only with file",
        "take it out",
        home=f"{HEAD}exclusions = [{{ {OUTLINE.replace(chr(10), ' ').strip()}, where = {{ a = 1 }} }}]\n",
    ),
    Bad(
        "exclusions not in a list",
        "exclusions",
        "a table",
        "a list of",
        r"a list in \[ \]",
        home=f'{HEAD}exclusions = {{ file = "shapes/a.geojson" }}\n',
    ),
    Bad(
        "exclusion bigger than the field",
        "exclusions[1]",
        r"bigger than the field \(\d+",
        "inside the boundary",
        "mixed up",
        home=f'{HEAD}exclusions = [{{ file = "shapes/a.geojson" }}]\n',
        shapes={"a.geojson": collection((rectangle(WEST, SOUTH, EAST, NORTH + 0.001), {}))},
    ),
    Bad(
        "exclusion that is the field",
        "exclusions[1]",
        "cover the whole field",
        "leave ground",
        "right feature",
        home=f'{HEAD}exclusions = [{{ file = "shapes/a.geojson" }}]\n',
        shapes={"a.geojson": collection((HOME, {}))},
    ),
    Bad(
        "exclusions that together are the field",
        "exclusions",
        "cover the whole field",
        "leave ground",
        "right feature",
        home=f'{HEAD}exclusions = [{{ file = "shapes/a.geojson", where = {{ field = "West" }} }}, '
        f'{{ file = "shapes/a.geojson", where = {{ field = "East" }} }}]\n',
        shapes={"a.geojson": two()},
    ),
]


@pytest.mark.parametrize("bad", BAD, ids=lambda bad: bad.name)
def test_bad_farm(bad: Bad, tmp_path: Path) -> None:
    check_bad(bad, tmp_path)


def test_rows_have_names_of_their_own() -> None:
    assert len({bad.name for bad in BAD}) == len(BAD) >= 30


def shapefile(folder: Path, *, parts: str = "shp shx dbf prj") -> None:
    """Write a shapefile of the home rectangle and keep only some of its parts."""
    folder.mkdir(parents=True, exist_ok=True)
    schema = {"geometry": "Polygon", "properties": {"field": "str"}}
    with fiona.open(folder / "a.shp", "w", driver="ESRI Shapefile", crs="EPSG:4326", schema=schema) as sink:
        sink.write({"type": "Feature", "geometry": HOME, "properties": {"field": "West"}})
    for path in list(folder.iterdir()):
        if path.suffix[1:] not in parts.split():
            path.unlink()


def test_shapefile_without_its_projection_file(tmp_path: Path) -> None:
    shapefile(tmp_path / "shapes", parts="shp shx dbf")
    fault = the_fault(write_farm(tmp_path, fields={"home": bounded(file="a.shp")}))
    assert fault.key == "boundary.file"
    assert "does not say its coordinate system" in fault.found
    assert ".prj" in fault.hint
    assert "crs = " in fault.hint


def test_stated_system_stands_in_for_a_missing_one(tmp_path: Path) -> None:
    shapefile(tmp_path / "shapes", parts="shp shx dbf")
    farm = load_farm(write_farm(tmp_path, fields={"home": bounded(', crs = "EPSG:4326"', file="a.shp")}))
    assert farm.fields[0].frame.lon == pytest.approx((WEST + EAST) / 2)


def test_shapefile_without_its_index(tmp_path: Path) -> None:
    shapefile(tmp_path / "shapes", parts="shp dbf prj")
    fault = the_fault(write_farm(tmp_path, fields={"home": bounded(file="a.shp")}))
    assert fault.found == "a shapefile without a.shx"
    assert "side by side" in fault.hint


def test_link_that_leaves_the_folder(tmp_path: Path) -> None:
    outside = tmp_path / "outside.geojson"
    outside.write_text(collection((HOME, {})))
    farm = write_farm(tmp_path / "farm", fields={"home": bounded()}, shapes={"x": ""})
    (farm / "shapes" / "a.geojson").symlink_to(outside)
    fault = the_fault(farm)
    assert "a link that leaves the folder" in fault.found
    assert "copy the file itself" in fault.hint


def test_shapefile_part_that_is_a_link_out(tmp_path: Path) -> None:
    shapefile(tmp_path / "elsewhere")
    farm = write_farm(tmp_path / "farm", fields={"home": bounded(file="a.shp")})
    shapefile(farm / "shapes", parts="shp shx prj")
    (farm / "shapes" / "a.dbf").symlink_to(tmp_path / "elsewhere" / "a.dbf")
    assert 'a.dbf", a link that leaves the folder' in the_fault(farm).found


def test_bow_tie_is_mended_and_reported_not_refused(tmp_path: Path) -> None:
    corners = [(SOUTH, WEST), (NORTH, EAST), (NORTH, WEST), (SOUTH, EAST)]
    outline = ", ".join(f"{{ lat = {lat}, lon = {lon} }}" for lat, lon in corners)
    farm = load_farm(write_farm(tmp_path, fields={"home": f'name = "Home field"\noutline = [{outline}]\n'}))
    (repair,) = farm.repairs
    assert (repair.file, repair.key) == ("fields/home.toml", "outline")
    assert re.search(r"crosses itself near 36\.7536\d*, -101\.4955", repair.changes[0])
    assert repair.area_after_m2 == pytest.approx(farm.fields[0].boundary.area, rel=1e-12)
    assert farm.fields[0].boundary.is_valid
    # Both triangles of the bow-tie are kept: half of the rectangle.
    whole = shapely.box(*farm.fields[0].boundary.bounds).area
    assert farm.fields[0].boundary.area == pytest.approx(whole / 2, rel=1e-3)


@pytest.mark.parametrize("text", ["[]", '"x"', "null", '{"type": "Topology"}', '{"a": 1}'])
def test_json_that_is_no_geojson(text: str, tmp_path: Path) -> None:
    fault = the_fault(write_farm(tmp_path, fields={"home": bounded()}, shapes={"a.geojson": text}))
    assert fault.key == "boundary.file"
    assert "whole" in fault.allowed


@pytest.mark.parametrize(
    "geometry",
    [
        {"type": "Polygon", "coordinates": [[[0, 0], [1, "x"]]]},
        {"type": "Polygon"},
        {"type": "Circle"},
        {"type": "Polygon", "coordinates": [[[0, 0], [1, 1]]]},
    ],
)
def test_malformed_geometry(geometry: dict[str, object], tmp_path: Path) -> None:
    text = json.dumps(
        {
            "type": "FeatureCollection",
            "features": [{"type": "Feature", "geometry": geometry, "properties": None}],
        }
    )
    fault = the_fault(write_farm(tmp_path, fields={"home": bounded()}, shapes={"a.geojson": text}))
    assert re.search("feature 1", fault.found)

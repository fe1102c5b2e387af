"""A farm started from real and from awkward boundary files passes the check, and so do its examples."""

from __future__ import annotations

import json
import re
import tomllib
from typing import TYPE_CHECKING

import numpy as np
import pytest
import shapely

from farms import EAST, FARM_TOML, HOME, NORTH, SOUTH, WEST, collection, rectangle, write_farm
from ringrow.errors import FileError, GeometryError
from ringrow.farm import new as new_module
from ringrow.farm.load import inspect_farm, load_farm
from ringrow.farm.new import file_name, new_farm
from ringrow.frame import geodesic_area_m2

if TYPE_CHECKING:
    from pathlib import Path

REAL = {"us_fields": 98, "otago_irrigated": 100, "bahia_fields": 98}


def uncomment(folder: Path) -> None:
    """Take the # away from every example line of a new farm, as its first lines say."""
    for path in [folder / "farm.toml", *(folder / "fields").iterdir()]:
        text = path.read_text(encoding="utf-8")
        path.write_text(re.sub(r"^# ", "", text, flags=re.MULTILINE), encoding="utf-8")


@pytest.mark.parametrize("name", REAL)
@pytest.mark.parametrize("units", ["us", "metric"])
def test_real_boundaries_start_a_farm_that_is_right(
    name: str, units: str, outside_data: Path, tmp_path: Path
) -> None:
    started = new_farm(tmp_path / "farm", boundary_file=outside_data / f"{name}.gpkg", units=units)
    found = inspect_farm(tmp_path / "farm").findings
    assert (found.faults, found.warnings, found.repairs) == ([], [], [])
    assert len(started.fields) == len(list((tmp_path / "farm" / "fields").iterdir())) == REAL[name]
    assert started.remarks == ()


@pytest.mark.parametrize("name", REAL)
def test_examples_of_real_fields_are_right_when_the_mark_is_taken_away(
    name: str, outside_data: Path, tmp_path: Path
) -> None:
    new_farm(tmp_path / "farm", boundary_file=outside_data / f"{name}.gpkg")
    uncomment(tmp_path / "farm")
    farm = load_farm(tmp_path / "farm")
    # A pivot, one with an arm, one that bends, one at two points.
    assert {len(field.pivots) for field in farm.fields} == {5}
    assert {len(field.lateral_moves) for field in farm.fields} == {1}
    assert sum(len(field.drip) for field in farm.fields) >= 0.9 * REAL[name]


def test_published_acres_of_new_fields(outside_data: Path, tmp_path: Path) -> None:
    """USDA crop sequence boundaries state acres (CSBACRES, at 4,046.86 m2); mended ones included."""
    started = new_farm(tmp_path / "farm", boundary_file=outside_data / "us_fields.gpkg", name_field="CSBID")
    published = json.loads((tmp_path / "farm" / "shapes" / "boundaries.geojson").read_text())["features"]
    acres = np.array([field.area_m2 / 4046.86 for field in started.fields])
    stated = np.array([feature["properties"]["CSBACRES"] for feature in published])
    # Largest difference seen 2.5e-7.
    assert np.abs(acres / stated - 1).max() < 1e-6


def test_invalid_rings_are_mended_and_said(outside_data: Path, tmp_path: Path) -> None:
    started = new_farm(tmp_path / "farm", boundary_file=outside_data / "us_fields.gpkg")
    mended = [field for field in started.fields if field.changes]
    assert len(mended) == 3
    assert all("touches itself near 3" in field.changes[0] for field in mended)
    assert all(abs(field.moved_m2) < 1.0 for field in mended)


def test_copy_of_the_boundaries_is_good_geojson(outside_data: Path, tmp_path: Path) -> None:
    """RFC 7946: outer rings counter-clockwise, holes clockwise; every polygon valid."""
    new_farm(tmp_path / "farm", boundary_file=outside_data / "us_fields.gpkg")
    text = (tmp_path / "farm" / "shapes" / "boundaries.geojson").read_text()
    shapes = np.array([shapely.geometry.shape(f["geometry"]) for f in json.loads(text)["features"]])
    assert shapely.is_valid(shapes).all()
    parts = shapely.get_parts(shapes)
    assert shapely.is_ccw(shapely.get_exterior_ring(parts)).all()
    assert not any(hole.is_ccw for part in parts for hole in part.interiors)
    coordinates = shapely.get_coordinates(shapes)
    assert np.array_equal(coordinates, coordinates.round(10))


def test_circles_are_recognised_with_centre_and_radius(outside_data: Path, tmp_path: Path) -> None:
    """The data's own note: real circles at ids 3 and 23, drawn in degrees, 1.7 % too long north-south."""
    new_farm(tmp_path / "farm", boundary_file=outside_data / "bahia_fields.gpkg")
    round_ones = {}
    for path in sorted((tmp_path / "farm" / "fields").iterdir()):
        text = path.read_text(encoding="utf-8")
        match = re.search(
            r"looks like a circle of radius ([\d,]+) ft, drawn ([\d.]+) % longer north-south", text
        )
        if match:
            round_ones[tomllib.loads(text)["name"]] = (int(match[1].replace(",", "")), float(match[2]))
    assert {"Field 3", "Field 23"} <= set(round_ones)
    for name in ("Field 3", "Field 23"):
        assert round_ones[name][1] == pytest.approx(1.7, abs=0.15)
        field = next(field for field in load_farm(tmp_path / "farm").fields if field.name == name)
        lonlat = field.frame.unproject(field.boundary)
        assert round_ones[name][0] * 0.3048 == pytest.approx(
            (geodesic_area_m2(lonlat) / np.pi) ** 0.5, abs=0.2
        )


def test_square_is_not_called_a_circle(tmp_path: Path) -> None:
    new_farm(tmp_path / "farm")
    assert "looks like a circle" not in (tmp_path / "farm/fields/01_example_field.toml").read_text()


@pytest.mark.parametrize("units", ["us", "metric"])
def test_example_farm_is_right_with_and_without_its_examples(units: str, tmp_path: Path) -> None:
    (field,) = new_farm(tmp_path / "farm", units=units).fields
    # A rectangle of 0.009 by 0.0072 degrees near 36.75 N: geodesic area of the same four corners.
    assert field.area_m2 == pytest.approx(geodesic_area_m2(shapely.box(WEST, SOUTH, EAST, NORTH)), rel=1e-6)
    assert inspect_farm(tmp_path / "farm").findings.faults == []
    uncomment(tmp_path / "farm")
    farm = load_farm(tmp_path / "farm")
    assert farm.units.name == units
    assert farm.warnings == ()
    assert (len(farm.wells), len(farm.contacts), farm.kinds["fence"].words) == (1, 1, "fence down")
    pivot = farm.fields[0].pivots[0]
    assert farm.fields[0].boundary.contains(
        shapely.Point(pivot.x_m, pivot.y_m).buffer(pivot.base_radius_m * 0.99, 64)
    )


def example_blocks(text: str) -> list[list[int]]:
    """Return the line numbers of each example that starts with a table's heading."""
    lines = text.splitlines()
    starts = [n for n, line in enumerate(lines) if re.match(r"# \[\[(pivot|lateral_move|drip)\]\]", line)]
    return [
        list(range(start, lines.index("", start) if "" in lines[start:] else len(lines))) for start in starts
    ]


@pytest.mark.parametrize("units", ["us", "metric"])
def test_each_example_of_a_machine_is_right_alone(units: str, tmp_path: Path) -> None:
    new_farm(tmp_path / "farm", units=units)
    (path,) = (tmp_path / "farm" / "fields").iterdir()
    text = path.read_text(encoding="utf-8")
    kinds = []
    for block in example_blocks(text):
        lines = text.splitlines()
        for number in block:
            lines[number] = re.sub(r"^# ", "", lines[number])
        path.write_text("\n".join(lines), encoding="utf-8")
        farm = load_farm(tmp_path / "farm")
        assert farm.warnings == ()
        (field,) = farm.fields
        (system, *_) = (*field.pivots, *field.lateral_moves, *field.drip)
        kinds.append(system.name.removeprefix("Example field "))
    assert kinds == [
        "pivot",
        "corner machine",
        "bending pivot",
        "towed pivot at point 1",
        "lateral move",
        "drip",
    ]


ODD = [
    'North "40"',
    'north "40"',
    "Año Nuevo / 7",
    "tab\there\nand line",
    "",
    None,
    12,
    "x" * 200,
    "../../etc/passwd",
    "<script>alert(1)</script>",
    "[[pivot]]",
    "# not a comment",
    "\x7f\x00",
    "日本",
    "back\\slash",
    "CON",
]


def test_odd_names_give_valid_files_with_names_of_their_own(tmp_path: Path) -> None:
    step = (EAST - WEST) / len(ODD)
    features = [
        (rectangle(WEST + n * step, SOUTH, WEST + (n + 0.9) * step, NORTH), {"Name": name})
        for n, name in enumerate(ODD)
    ]
    source = tmp_path / 'a "quoted" file.geojson'
    source.write_text(collection(*features), encoding="utf-8")
    started = new_farm(tmp_path / "farm", boundary_file=source)
    uncomment(tmp_path / "farm")
    farm = load_farm(tmp_path / "farm")
    names = [field.name for field in farm.fields]
    assert names == [field.name for field in started.fields]
    assert names[:8] == [
        'North "40"',
        'north "40" 2',
        "Año Nuevo / 7",
        "tab here and line",
        "Field 5",
        "Field 6",
        "Field 12",
        "x" * 60,
    ]
    assert len({name.casefold() for name in names}) == len(ODD)
    assert 'feature 2 is called "north "40" 2": "north "40"" is taken' in started.remarks
    files = [path.name for path in (tmp_path / "farm" / "fields").iterdir()]
    assert all(re.fullmatch(r"[0-9a-z_]+\.toml", file) for file in files)


def test_what_cannot_be_a_field_is_left_out_and_said(tmp_path: Path) -> None:
    large = rectangle(-101.5, 36.7, -101.3, 36.9)
    flat = {"type": "Polygon", "coordinates": [[[0, 0], [1e-5, 0], [2e-5, 0], [0, 0]]]}
    source = tmp_path / "a.geojson"
    point = {"type": "Point", "coordinates": [0, 0]}
    source.write_text(collection((HOME, {}), (large, {}), (point, {}), (None, {}), (flat, {})))
    started = new_farm(tmp_path / "farm", boundary_file=source)
    assert [field.name for field in started.fields] == ["Field 1"]
    assert [re.sub(r"\d+\.\d km", "X km", remark) for remark in started.remarks[:4]] == [
        '"Field 2" (feature 2) left out: it reaches X km; a field reaches at most X km from its centre',
        '"Field 3" (feature 3): a point left out',
        '"Field 3" (feature 3) left out: it holds no polygon',
        '"Field 4" (feature 4) left out: it holds no polygon',
    ]
    assert started.remarks[4].startswith('"Field 5" (feature 5) left out: ')


def test_file_without_any_field_is_refused(tmp_path: Path) -> None:
    source = tmp_path / "a.geojson"
    source.write_text(collection(({"type": "Point", "coordinates": [0, 0]}, {})))
    with pytest.raises(
        GeometryError, match=r"a\.geojson: found no polygon that can be a field \(.*holds no polygon\)"
    ):
        new_farm(tmp_path / "farm", boundary_file=source)
    assert not (tmp_path / "farm").exists()


def test_missing_file_and_column(tmp_path: Path) -> None:
    with pytest.raises(FileError, match=r"none\.gpkg: found nothing; allowed: a vector file"):
        new_farm(tmp_path / "farm", boundary_file=tmp_path / "none.gpkg")
    source = tmp_path / "a.geojson"
    source.write_text(collection((HOME, {"FIELDNAME": "A"})))
    with pytest.raises(
        GeometryError, match='no column "FIELD_NAME"; allowed: one of "FIELDNAME"; did you mean "FIELDNAME"'
    ):
        new_farm(tmp_path / "farm", boundary_file=source, name_field="FIELD_NAME")
    assert [field.name for field in new_farm(tmp_path / "farm", boundary_file=source).fields] == ["A"]


def test_too_many_features(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(new_module, "FIELDS", 1)
    source = tmp_path / "a.geojson"
    source.write_text(collection((HOME, {}), (HOME, {})))
    with pytest.raises(GeometryError, match="found 2 features; allowed: at most 1 fields"):
        new_farm(tmp_path / "farm", boundary_file=source)


def test_folder_with_files_is_not_touched(tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("mine")
    with pytest.raises(FileError, match=r"found a folder with files in it; .* or say --overwrite"):
        new_farm(tmp_path)
    with pytest.raises(FileError, match=r"no farm\.toml; allowed with --overwrite: a farm's folder"):
        new_farm(tmp_path, overwrite=True)
    with pytest.raises(FileError, match="found a file; allowed: a new or empty folder"):
        new_farm(tmp_path / "notes.txt")
    assert [path.name for path in tmp_path.iterdir()] == ["notes.txt"]


def test_empty_folder_is_filled_in_place(tmp_path: Path) -> None:
    folder = tmp_path / "empty"
    folder.mkdir()
    inode = folder.stat().st_ino
    new_farm(folder)
    assert folder.stat().st_ino == inode
    assert sorted(path.name for path in folder.iterdir()) == ["farm.toml", "fields"]
    assert [path.name for path in tmp_path.iterdir()] == ["empty"]


def test_overwrite_replaces_the_farm_and_keeps_the_rest(tmp_path: Path) -> None:
    farm = write_farm(tmp_path / "farm", shapes={"yards.geojson": "mine"})
    (farm / "season.db").write_bytes(b"log")
    source = farm / "shapes" / "boundaries.geojson"
    source.write_text(collection((HOME, {"name": "New"})))
    new_farm(farm, boundary_file=source, overwrite=True)
    assert [path.name for path in (farm / "fields").iterdir()] == ["01_new.toml"]
    assert (farm / "season.db").read_bytes() == b"log"
    assert (farm / "shapes" / "yards.geojson").read_text() == "mine"
    assert load_farm(farm).fields[0].name == "New"


def test_nothing_is_left_half_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A move that fails half-way puts everything back, and no temporary folder stays."""
    farm = write_farm(tmp_path / "farm", shapes={"yards.geojson": "mine"})
    before = {str(path): path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()}
    real = new_module._items

    def with_a_stumble(built: Path, home: Path) -> list[str]:
        return [*real(built, home), "missing"]

    monkeypatch.setattr(new_module, "_items", with_a_stumble)
    with pytest.raises(FileError, match=r"cannot be written \(No such file or directory\)"):
        new_farm(farm, overwrite=True)
    assert {str(path): path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()} == before
    assert [path.name for path in tmp_path.iterdir()] == ["farm"]
    assert (farm / "farm.toml").read_text() == FARM_TOML


def test_failing_check_leaves_no_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(folder: Path) -> None:
        message = "a fault"
        raise GeometryError(message)

    monkeypatch.setattr(new_module, "load_farm", refuse)
    with pytest.raises(GeometryError, match="a fault"):
        new_farm(tmp_path / "farm")
    assert list(tmp_path.iterdir()) == []


def test_names_of_files() -> None:
    assert file_name("", 1, 2) == "01_field.toml"
    assert file_name("日本", 7, 3) == "007_field.toml"
    assert file_name("A" * 99, 1, 2) == f"01_{'a' * 40}.toml"

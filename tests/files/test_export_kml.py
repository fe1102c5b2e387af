"""KML export: valid against the KML 2.2 schema, read by another library, and back as the same flags.

Outside references: the OGC KML 2.2 schema (ogckml22.xsd as the package fastkml carries it), checked by
fastkml's validator; GDAL's LIBKML reader through pyogrio.
"""

from __future__ import annotations

import re
import zipfile
from dataclasses import replace
from pathlib import Path
from typing import Any

import fastkml.validator
import numpy as np
import pyogrio
import pyogrio.raw
import pytest
import shapely
from lxml import etree

from exported import Book, hostile_book, plan_of
from ringrow.handoff.features import farm_features
from ringrow.handoff.geojson import round_shapes
from ringrow.handoff.map.symbols import FILLS

ROOT = Path(__file__).resolve().parents[2]
SAMPLE = ROOT / "sample_fields" / "two_windmill_farm"
K = {"k": "http://www.opengis.net/kml/2.2"}


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> tuple[Book, Path, Any]:
    """The sample farm with hostile flags as KML and KMZ: the farm, the KML file, its root."""
    farm = hostile_book(SAMPLE)
    path = tmp_path_factory.mktemp("kml") / "farm.kml"
    farm.export(path)
    farm.export(path.with_suffix(".kmz"))
    return farm, path, etree.parse(str(path)).getroot()


def placemark(root: Any, label: str) -> Any:
    return next(m for m in root.iter(f"{{{K['k']}}}Placemark") if m.findtext("k:name", namespaces=K) == label)


def test_valid_against_the_schema(written: Any) -> None:
    assert fastkml.validator.validate(file_to_validate=written[1])


def test_the_schema_sees_faults(written: Any, tmp_path: Path) -> None:
    """The check itself: a wrong element name and parts in the wrong order are refused."""
    text = written[1].read_text(encoding="utf-8")
    wrong = tmp_path / "wrong.kml"
    for before, after in [("Placemark>", "Placemarks>"), ("<styleUrl>", "<nostyle/><styleUrl>")]:
        wrong.write_text(text.replace(before, after), encoding="utf-8")
        with pytest.raises(AssertionError):
            fastkml.validator.validate(file_to_validate=wrong)


def test_nothing_is_fetched(written: Any) -> None:
    """No address but the name of the language itself, no icon, no link."""
    text = written[1].read_text(encoding="utf-8")
    outside = text.replace('xmlns="http://www.opengis.net/kml/2.2"', "").replace("127.0.0.1:9", "")
    assert re.findall(r"<href|NetworkLink|<Link|(?:src|href)=", outside) == []
    styles = written[2].findall("k:Document/k:Style", K)
    assert len(styles) > 10
    assert all(style.find("k:IconStyle/k:Icon", K) is not None for style in styles)
    assert all(len(style.find("k:IconStyle/k:Icon", K)) == 0 for style in styles)


def test_every_style_that_is_named_is_there(written: Any) -> None:
    root = written[2]
    there = {style.get("id") for style in root.iter(f"{{{K['k']}}}Style")}
    named = {element.text for element in root.iter(f"{{{K['k']}}}styleUrl")}
    assert named <= {f"#{name}" for name in there}


def test_a_folder_a_field(written: Any) -> None:
    farm, _, root = written
    folders = {f.findtext("k:name", namespaces=K): f for f in root.findall("k:Document/k:Folder", K)}
    assert list(folders)[: len(farm.layouts)] == [layout.field.name for layout in farm.layouts]
    assert list(folders)[len(farm.layouts) :] == ["Wells and gate", "Other flags"]
    inner = [f.findtext("k:name", namespaces=K) for f in folders["Windmill quarter"].findall("k:Folder", K)]
    assert {"Boundary and ground not farmed", "Watered ground", "Wheel tracks", "Flags"} <= set(inner)
    assert "Roads to pivot points" in inner
    assert inner[-1] == "Flags"


def test_a_flag_is_a_label_and_a_shape_of_its_status(written: Any) -> None:
    mark = placemark(written[2], "4 burrow")
    assert mark.findtext("k:styleUrl", namespaces=K) == "#flag-open"
    point, symbol = list(mark.find("k:MultiGeometry", K))
    assert point.findtext("k:coordinates", namespaces=K) == "-101.5034877,36.7512346"
    corners = symbol.findtext(".//k:coordinates", namespaces=K).split()
    assert len(corners) == 4  # a triangle, closed
    assert placemark(written[2], "3 panel").findtext("k:styleUrl", namespaces=K) == "#flag-fixed"
    style = next(s for s in written[2].iter(f"{{{K['k']}}}Style") if s.get("id") == "flag-open")
    red, green, blue = (FILLS["open"][at : at + 2] for at in (1, 3, 5))
    assert style.findtext("k:PolyStyle/k:color", namespaces=K)[2:] == blue + green + red


def test_a_note_stays_text_in_the_balloon(written: Any) -> None:
    """A viewer shows a description as a web page: what was text must be text there."""
    described = placemark(written[2], "3 panel").findtext("k:description", namespaces=K)
    assert "<script" not in described
    assert "&lt;script&gt;alert(" in described
    assert set(re.findall(r"<[^>]*>", described)) == {"<br/>"}
    balloons = {b.text for b in written[2].iterfind(".//k:BalloonStyle/k:text", K)}
    assert balloons == {"$[description]"}


def test_another_reader_finds_the_same_shapes(written: Any, tmp_path: Path) -> None:
    """Of two fields, because that reader takes the whole file apart anew for each folder."""
    farm, path = written[0], tmp_path / "two.kml"
    layouts = [lay for lay in farm.layouts if lay.field.name in ("Windmill quarter", "Elevator quarter")]
    replace(farm, layouts=layouts).export(path)
    found: dict[str, Any] = {}
    for number in range(len(pyogrio.list_layers(path))):
        meta, _, shapes, columns = pyogrio.raw.read(path, layer=number, force_2d=True)
        ids = columns[list(meta["fields"]).index("id")]
        found |= dict(zip(ids.tolist(), shapely.from_wkb(shapes).tolist(), strict=True))
    expected: dict[str, Any] = {}
    for group in farm_features(farm.farm, layouts, []):
        expected |= dict(zip(group.ids, round_shapes(group.shapes, group.ids).shapes, strict=True))
    assert found.keys() == expected.keys() | {flag.state.id for flag in farm.flags}
    for id_, shape in expected.items():
        assert shapely.equals_exact(found[id_].normalize(), shape.normalize(), tolerance=1e-12)


def test_kmz_holds_the_same_document_alone(written: Any) -> None:
    with zipfile.ZipFile(written[1].with_suffix(".kmz")) as archive:
        assert archive.namelist() == ["doc.kml"]
        assert archive.read("doc.kml") == written[1].read_bytes()


@pytest.mark.parametrize("ending", [".kml", ".kmz"])
def test_back_as_the_same_flags(written: Any, ending: str) -> None:
    farm, path, _ = written
    plan = plan_of(path.with_suffix(ending), farm)
    assert plan.events == ()
    assert [outcome.result for outcome in plan.outcomes] == ["already there"] * len(farm.flags)


def test_coordinates_have_seven_decimals(written: Any) -> None:
    texts = [element.text for element in written[2].iter(f"{{{K['k']}}}coordinates")]
    numbers = re.findall(r"-?\d+(?:\.(\d+))?", " ".join(texts))
    assert max(map(len, numbers)) == 7
    assert not any("e" in text for text in texts)
    lon, lat = np.array([pair.split(",") for text in texts for pair in text.split()], float).T
    assert (lon < -101).all()
    assert (lat > 36).all()


def test_a_machine_of_a_wells_name_is_not_described_as_the_well(written: Any, tmp_path: Path) -> None:
    farm, path = written[0], tmp_path / "named.kml"
    layouts = [lay for lay in farm.layouts if lay.field.name == "Windmill quarter"]
    wells = (replace(farm.farm.wells[0], name="Windmill pivot"), *farm.farm.wells[1:])
    replace(farm, farm=replace(farm.farm, wells=wells), layouts=layouts).export(path)
    said = [
        mark.findtext("k:description", namespaces=K)
        for mark in etree.parse(str(path)).getroot().iter(f"{{{K['k']}}}Placemark")
        if mark.findtext("k:name", namespaces=K) == "Windmill pivot"
    ]
    assert [text.startswith("Well: ") for text in said if "to shut it off" in text] == [True]
    assert len(said) > 1

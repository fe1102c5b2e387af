"""GeoJSON export: RFC 7946 by general validators and by our own assertions, areas by geographiclib.

Outside references: RFC 7946 (section numbers in the tests, from memory), checked by
geojson-validator 0.7 and geojson-pydantic; geodesic areas by geographiclib (an own polygon
routine beside the program's frames).
"""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path
from typing import Any
from urllib.parse import unquote

import geojson_validator
import numpy as np
import pytest
import shapely
from geographiclib.geodesic import Geodesic
from geojson_pydantic import FeatureCollection

from ringrow.coverage.layout import lay_out
from ringrow.errors import FileError, GeometryError
from ringrow.farm.load import load_farm
from ringrow.handoff.feature_group import FeatureGroup, feature_id
from ringrow.handoff.features import farm_features, one_field
from ringrow.handoff.files import check_target, open_whole
from ringrow.handoff.geojson import GeoJsonReport, round_shapes, write_geojson
from ringrow.units import ACRE_M2, FOOT_M, METRIC

ROOT = Path(__file__).resolve().parents[2]
SAMPLE = ROOT / "sample_fields" / "two_windmill_farm"

# The validator's other notes are no faults: more than six decimals, holes, many vertices.
CRITERIA = (
    "inner_and_exterior_ring_intersect",
    "self_intersection",
    "duplicate_nodes",
    "3d_coordinates",
    "outside_lat_lon_boundaries",
    "crosses_antimeridian",
)


@pytest.fixture(scope="module")
def exported(tmp_path_factory: pytest.TempPathFactory) -> tuple[dict[str, Any], GeoJsonReport, str]:
    """The whole sample farm as GeoJSON: parsed, the report, and the text."""
    farm = load_farm(SAMPLE)
    layouts = [lay_out(field) for field in farm.fields]
    path = tmp_path_factory.mktemp("export") / "farm.geojson"
    report = write_geojson(farm_features(farm, layouts, []), path)
    text = path.read_text(encoding="utf-8")
    return json.loads(text), report, text


def write(tmp_path: Path, *groups: FeatureGroup) -> tuple[dict[str, Any], GeoJsonReport]:
    path = tmp_path / "out.geojson"
    report = write_geojson(groups, path)
    return json.loads(path.read_text(encoding="utf-8")), report


def group(*shapes: Any, kind: str = "boundary", **columns: Any) -> FeatureGroup:
    array = np.empty(len(shapes), dtype=object)
    array[:] = shapes
    return FeatureGroup(
        kind=kind, ids=[f"{kind}:{index}" for index in range(len(shapes))], shapes=array, columns=columns
    )


def geodesic_area_m2(geometry: dict[str, Any]) -> float:
    """Area by geographiclib, edge by edge."""
    polygons = geometry["coordinates"] if geometry["type"] == "MultiPolygon" else [geometry["coordinates"]]
    total = 0.0
    for rings in polygons:
        for ring in rings:
            polygon = Geodesic.WGS84.Polygon()
            for lon, lat in ring[:-1]:
                polygon.AddPoint(lat, lon)
            total += polygon.Compute(False, True)[2]
    return total


def rings_of(geometry: dict[str, Any] | None) -> list[list[list[list[float]]]]:
    if geometry is None or "Polygon" not in geometry["type"]:
        return []
    return geometry["coordinates"] if geometry["type"] == "MultiPolygon" else [geometry["coordinates"]]


def signed(ring: list[list[float]]) -> float:
    xy = np.array(ring) - ring[0]
    return float(np.sum(xy[:-1, 0] * xy[1:, 1] - xy[1:, 0] * xy[:-1, 1]))


def positions(geometry: dict[str, Any] | None) -> np.ndarray:
    if geometry is None:
        return np.empty((0, 2))
    return shapely.get_coordinates(shapely.from_geojson(json.dumps(geometry)))


# General validators that know nothing of this program.


def test_structure_by_geojson_validator(exported: Any) -> None:
    assert geojson_validator.validate_structure(exported[0], check_crs=True) == {}


def test_geometries_by_geojson_validator(exported: Any) -> None:
    found = geojson_validator.validate_geometries(exported[0], criteria_problematic=list(CRITERIA))
    assert found["invalid"] == {}
    assert found["problematic"] == {}
    assert found["skipped_validation"] == []


def test_model_by_geojson_pydantic(exported: Any) -> None:
    collection = FeatureCollection(**exported[0])
    assert len(collection.features) == len(exported[0]["features"])


def test_validators_do_catch_faults() -> None:
    """A clockwise ring and a crs member are refused, so that the tests above mean something."""
    ring = [[0, 0], [0, 1], [1, 1], [1, 0], [0, 0]]
    feature = {
        "type": "Feature",
        "properties": {},
        "geometry": {"type": "Polygon", "coordinates": [ring]},
    }
    bad = {"type": "FeatureCollection", "features": [feature], "crs": {"type": "name"}}
    assert geojson_validator.validate_structure(bad, check_crs=True) != {}
    del bad["crs"]
    assert "exterior_not_ccw" in geojson_validator.validate_geometries(bad)["invalid"]


# Rules of RFC 7946 that no validator at hand checks, or not for every feature.


def test_rings_are_right_handed_and_closed(exported: Any) -> None:
    """3.1.6: outer rings counter-clockwise, holes clockwise, first position = last."""
    polygons = [rings for feature in exported[0]["features"] for rings in rings_of(feature["geometry"])]
    assert len(polygons) > 50
    for outer, *holes in polygons:
        assert signed(outer) > 0
        assert all(signed(hole) < 0 for hole in holes)
        assert all(ring[0] == ring[-1] and len(ring) >= 4 for ring in (outer, *holes))


def test_no_position_twice_in_a_row(exported: Any) -> None:
    for feature in exported[0]["features"]:
        for rings in rings_of(feature["geometry"]):
            for ring in rings:
                assert (np.abs(np.diff(np.array(ring), axis=0)).max(axis=1) > 0).all(), feature["id"]


def test_bbox_is_the_extent_of_what_is_written(exported: Any) -> None:
    """5: south-west corner, then north-east corner."""
    every = np.concatenate([positions(feature["geometry"]) for feature in exported[0]["features"]])
    assert exported[0]["bbox"] == [*every.min(axis=0), *every.max(axis=0)]


def test_members(exported: Any) -> None:
    """4 and 7.1: no crs, and no member whose meaning the RFC keeps for other types."""
    assert set(exported[0]) == {"type", "features", "bbox"}
    for feature in exported[0]["features"]:
        assert set(feature) == {"type", "id", "properties", "geometry"}


def test_seven_decimals(exported: Any) -> None:
    coordinates = " ".join(re.findall(r'"coordinates":([\[\]\d.,-]+)', exported[2]))
    pairs = re.findall(r"\[-?\d+\.(\d+),-?\d+\.(\d+)\]", coordinates)
    decimals = [len(text) for pair in pairs for text in pair]
    assert len(decimals) > 10_000
    assert max(decimals) == 7


def test_every_shape_reads_back_valid(exported: Any) -> None:
    shapes = shapely.from_geojson([json.dumps(feature["geometry"]) for feature in exported[0]["features"]])
    assert shapely.is_valid(shapes).all()


def test_longitude_first(exported: Any) -> None:
    """3.1.1: the sample farm lies near 101.5 W, 36.75 N."""
    west, south, east, north = exported[0]["bbox"]
    assert -101.6 < west < east < -101.4
    assert 36.7 < south < north < 36.8


# What is in the file, against counts made another way.


def test_ids_are_unique_and_say_what_they_are(exported: Any) -> None:
    features = exported[0]["features"]
    ids = [feature["id"] for feature in features]
    assert len(set(ids)) == len(ids)
    for feature in features:
        kind, _, path = feature["id"].partition(":")
        parts = [unquote(part) for part in path.split("/")]
        assert kind == feature["properties"]["feature"]
        assert len(parts) >= 2
        assert feature["properties"].get("field", "Two Windmill Farm") == parts[0]


def test_counts_of_kinds(exported: Any) -> None:
    farm = load_farm(SAMPLE)
    layouts = [lay_out(field) for field in farm.fields]
    counts = exported[1].counts
    pivots = [pivot for field in farm.fields for pivot in field.pivots]
    assert counts["boundary"] == len(farm.fields) == 10
    moves = [move for field in farm.fields for move in field.lateral_moves]
    wings = [wing for move in moves for wing in (move.left, move.right)]
    assert counts["tower-track"] == sum(len(pipe.spans_m) for pipe in (*pivots, *wings))
    assert counts["wetted-area"] == len(pivots) + len(moves) + sum(len(field.drip) for field in farm.fields)
    assert counts["lateral"] == sum(
        len(drip.grid.piece_lateral) for layout in layouts for drip in layout.drip
    )
    assert counts["well"] == len(farm.wells)


def test_pieces_of_a_cut_lateral_have_letters(exported: Any) -> None:
    laterals = [f for f in exported[0]["features"] if f["properties"]["feature"] == "lateral"]
    by_number: dict[tuple[str, int], list[Any]] = {}
    for feature in laterals:
        properties = feature["properties"]
        key = (properties["name"], properties["lateral"])
        by_number.setdefault(key, []).append(properties["piece"])
    assert {tuple(pieces) for pieces in by_number.values()} == {(None,), ("a", "b")}


def test_areas_measured_again_within_50_square_feet(exported: Any) -> None:
    """Check values for geodesy, section 2: seven decimals move a quarter section's circle by up to 30 ft2."""
    limit_m2 = 50 * FOOT_M**2
    checked = 0
    for feature in exported[0]["features"]:
        acres = feature["properties"].get("acres")
        if acres is None or feature["geometry"] is None:
            continue
        assert geodesic_area_m2(feature["geometry"]) == pytest.approx(acres * ACRE_M2, abs=limit_m2), feature[
            "id"
        ]
        checked += 1
    assert checked > 60


def test_tower_track_is_a_circle_of_its_radius(exported: Any) -> None:
    """Every vertex of a written track against geographiclib's distance from the pivot point."""
    points = {
        f["properties"]["name"]: f["geometry"]["coordinates"]
        for f in exported[0]["features"]
        if f["properties"]["feature"] == "pivot-point"
    }
    # Tracks of a lateral move have no radius; past the bend at tower 4 outer towers leave their circle.
    tracks = [
        f
        for f in exported[0]["features"]
        if f["properties"]["feature"] == "tower-track"
        and f["properties"]["name"] in points
        and (f["properties"]["name"] != "Shelter pivot" or f["properties"]["tower"] <= 4)
    ]
    assert len(tracks) == 57
    for track in tracks:
        lon, lat = points[track["properties"]["name"]]
        radius_m = track["properties"]["radius_ft"] * FOOT_M
        for x, y in track["geometry"]["coordinates"][::25]:
            far = Geodesic.WGS84.Inverse(lat, lon, y, x)["s12"]
            assert far == pytest.approx(radius_m, abs=0.015)


def test_lateral_lengths(exported: Any) -> None:
    laterals = [f for f in exported[0]["features"] if f["properties"]["feature"] == "lateral"]
    for feature in laterals[::50]:
        (lon1, lat1), (lon2, lat2) = feature["geometry"]["coordinates"]
        length = Geodesic.WGS84.Inverse(lat1, lon1, lat2, lon2)["s12"] / FOOT_M
        assert length == pytest.approx(feature["properties"]["length_ft"], abs=0.06)
        stations = feature["properties"]
        assert stations["stop_station_ft"] - stations["start_station_ft"] == pytest.approx(
            stations["length_ft"]
        )


def test_metric_farm_has_metric_keys(tmp_path: Path) -> None:
    farm = replace(load_farm(SAMPLE), units=METRIC)
    found, _ = write(tmp_path, *farm_features(farm, [lay_out(farm.fields[3])], []))
    names = {name for feature in found["features"] for name in feature["properties"]}
    assert {"ha", "irrigated_ha", "length_m"} <= names
    assert not [name for name in names if name.endswith(("_ft", "_in", "acres"))]


def test_one_field(tmp_path: Path) -> None:
    farm = load_farm(SAMPLE)
    layouts = [lay_out(field) for field in farm.fields]
    alone, kept, flags = one_field(farm, layouts, [], "draw field")
    found, _ = write(tmp_path, *farm_features(alone, kept, flags))
    assert {f["properties"].get("field") for f in found["features"]} == {"Draw field", None}
    wells = [f["properties"]["name"] for f in found["features"] if f["properties"]["feature"] == "well"]
    assert wells == ["Draw well"]


# What rounding may break, and that it is mended.


def test_points_closer_than_a_unit_become_one(tmp_path: Path) -> None:
    square = shapely.Polygon([(0, 0), (1e-3, 0), (1e-3 + 2e-9, 1e-9), (1e-3, 1e-3), (0, 1e-3)])
    found, report = write(tmp_path, group(square))
    ring = found["features"][0]["geometry"]["coordinates"][0]
    assert ring == [[0.0, 0.0], [0.001, 0.0], [0.001, 0.001], [0.0, 0.001], [0.0, 0.0]]
    assert report.mended == ()


def test_a_gap_thinner_than_a_unit_is_mended_and_said(tmp_path: Path) -> None:
    """A spike into a square whose tip comes within 0.02 units of the far edge touches it once rounded."""
    spiked = shapely.Polygon(
        [(0, 0), (10e-7, 0), (10e-7, 10e-7), (5.4e-7, 10e-7), (5e-7, 0.1e-7), (4.6e-7, 10e-7), (0, 10e-7)]
    )
    assert spiked.is_valid
    found, report = write(tmp_path, group(spiked))
    written = shapely.from_geojson(json.dumps(found["features"][0]["geometry"]))
    assert written.is_valid
    assert [mending.feature for mending in report.mended] == ["boundary:0"]
    assert report.mended[0].area_after == pytest.approx(written.area, rel=1e-9)


def test_a_shape_smaller_than_a_unit_has_no_geometry(tmp_path: Path) -> None:
    speck = shapely.Polygon([(0, 0), (1e-9, 0), (0, 1e-9)])
    found, _ = write(tmp_path, group(speck, shapely.Point(3, 4)))
    assert found["features"][0]["geometry"] is None
    assert found["bbox"] == [3.0, 4.0, 3.0, 4.0]


def test_shapes_handed_in_stay_as_they_are() -> None:
    line = shapely.LineString([(0.123456789, 0), (1, 1)])
    shapes = np.array([line], dtype=object)
    round_shapes(shapes, ["a"])
    assert shapes[0] is line
    assert line.coords[0][0] == 0.123456789


def test_shape_round_the_globe_is_refused(tmp_path: Path) -> None:
    wide = shapely.box(-179.9, 10, 179.9, 11)
    with pytest.raises(GeometryError, match=r"boundary:0: found a shape 360 degrees wide; allowed: up to"):
        write(tmp_path, group(wide))
    assert list(tmp_path.iterdir()) == []


# Text and numbers from people reach the file as data.


def test_hostile_text_reads_back_unchanged(tmp_path: Path) -> None:
    notes = ['"}],"x":1', "line\nbreak \u2028 %s %d", "Ñandú </script>", "", None]
    places = [shapely.Point(i, 0) for i in range(len(notes))]
    found, _ = write(tmp_path, group(*places, kind="flag", note=notes))
    assert [feature["properties"]["note"] for feature in found["features"]] == notes


def test_names_with_percent_and_quotes_in_shared_values_and_keys(tmp_path: Path) -> None:
    one = FeatureGroup(
        kind="well",
        ids=[feature_id("well", 'A "b" 100 %s', "x/y")],
        shapes=np.array([shapely.Point(0, 0)], dtype=object),
        shared={"name": 'A "b" 100 %s'},
        columns={"50 %": [1]},
    )
    found, _ = write(tmp_path, one)
    assert found["features"][0]["properties"] == {"feature": "well", "name": 'A "b" 100 %s', "50 %": 1}
    assert found["features"][0]["id"] == "well:A%20%22b%22%20100%20%25s/x%2Fy"


def test_numbers_that_are_not_finite_become_null(tmp_path: Path) -> None:
    values = [1.5, float("nan"), float("inf")]
    deep = [{"a": float("nan")}, [float("-inf")], None]
    places = [shapely.Point(i, 0) for i in range(3)]
    found, _ = write(tmp_path, group(*places, value=values, deep=deep))
    assert [f["properties"]["value"] for f in found["features"]] == [1.5, None, None]
    assert [f["properties"]["deep"] for f in found["features"]] == [{"a": None}, [None], None]


def test_nothing_to_write_is_an_empty_collection(tmp_path: Path) -> None:
    found, report = write(tmp_path)
    assert found == {"type": "FeatureCollection", "features": []}
    assert report.counts == {}


# Written whole or not at all.


def test_failure_leaves_the_old_file_and_no_litter(tmp_path: Path) -> None:
    path = tmp_path / "farm.geojson"
    path.write_text("old", encoding="utf-8")

    def fail() -> None:
        with open_whole(path) as stream:
            stream.write("half")
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        fail()
    assert path.read_text(encoding="utf-8") == "old"
    assert [item.name for item in tmp_path.iterdir()] == ["farm.geojson"]


def test_line_feeds_and_utf8(tmp_path: Path) -> None:
    path = tmp_path / "a.txt"
    with open_whole(path) as stream:
        stream.write("Ñ\n")
    assert path.read_bytes() == "Ñ\n".encode()


def test_folder_that_is_missing(tmp_path: Path) -> None:
    with pytest.raises(FileError, match=r'there is no folder ".*nowhere"'):
        check_target(tmp_path / "nowhere" / "a.geojson", endings=(".geojson",), overwrite=False)


def test_a_folder_in_place_of_a_file(tmp_path: Path) -> None:
    (tmp_path / "a.geojson").mkdir()
    with pytest.raises(FileError, match=r"a\.geojson\", a folder; allowed: a file name"):
        check_target(tmp_path / "a.geojson", endings=(".geojson",), overwrite=True)


def test_a_file_that_cannot_be_made(tmp_path: Path) -> None:
    with (
        pytest.raises(FileError, match=r"cannot be written \(.+\); choose another folder"),
        open_whole(tmp_path / "gone" / "a.txt"),
    ):
        pass  # pragma: no cover - never entered

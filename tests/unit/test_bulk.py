"""Tables of many pivots: columns, units, rows that cannot be, fields, and acres as the farm has them."""

from __future__ import annotations

import json
import math
import re
from typing import TYPE_CHECKING

import fiona
import numpy as np
import pytest
import shapely
from geographiclib.geodesic import Geodesic

from ringrow.coverage.bulk_acres import BulkAcres, BulkPivots, bulk_acres
from ringrow.coverage.field import Field
from ringrow.coverage.pivot_layout import lay_out_pivot
from ringrow.equipment.pivot import EndGun, Pivot, Sector
from ringrow.errors import DomainError, FileError, GeometryError
from ringrow.farm.bulk_cells import parse_stated
from ringrow.farm.bulk_fields import read_bulk_fields
from ringrow.farm.bulk_table import BulkTable, read_bulk_table
from ringrow.farm.load import load_farm
from ringrow.frame import Frame, geodesic_area_m2, own_frames_convergence_deg, own_frames_xy
from ringrow.handoff.bulk_files import bulk_report, bulk_text, check_bulk_target
from ringrow.units import ACRE_M2, FOOT_M, METRIC, US

if TYPE_CHECKING:
    from pathlib import Path

HEAD = "name,lat,lon,radius,throw,last tower,overhang,start,stop,gun reach,arcs,flow"


def table(
    tmp_path: Path, *rows: str, head: str = HEAD, units=US, ending: str = ".csv", stated=()
) -> BulkTable:
    path = tmp_path / f"pivots{ending}"
    path.write_text("\n".join([head, *rows]) + "\n", encoding="utf-8")
    return read_bulk_table(path, units=units, stated=parse_stated(stated))


def pivots(
    lon: object,
    lat: object,
    base_m: object,
    *,
    gun_m=math.nan,
    auto=False,
    setback_m=0.0,
    start=math.nan,
    stop=math.nan,
) -> BulkPivots:
    columns = np.broadcast_arrays(lon, lat, base_m, gun_m, auto, setback_m, start, stop)
    names = ("lon", "lat", "base_m", "gun_m", "gun_auto", "setback_m", "start_deg", "stop_deg")
    return BulkPivots(**dict(zip(names, (np.atleast_1d(column) for column in columns), strict=True)))


def one_field(ground: shapely.Polygon, machine: BulkPivots, frame: Frame) -> BulkAcres:
    return bulk_acres(machine, [frame.unproject(ground)])


# Frames


def test_own_frames_against_the_projection_library_and_geodesics() -> None:
    """PROJ's azimuthal equidistant, and geographiclib: up to 4.5 km, 75 degrees north and south."""
    random = np.random.default_rng(36751015)
    for lon0, lat0 in zip(random.uniform(-180, 180, 40), random.uniform(-75, 75, 40), strict=True):
        frame = Frame(lon=lon0, lat=lat0)
        away, turned = random.uniform(0, 4_500, 5), random.uniform(0, 2 * math.pi, 5)
        lon, lat = frame.to_lonlat(away * np.sin(turned), away * np.cos(turned))
        x, y = own_frames_xy(lon, lat, lon0, lat0)
        expected = frame.to_xy(lon, lat)
        assert np.hypot(x - expected[0], y - expected[1]).max() < 1e-5
        line = Geodesic.WGS84.Inverse(lat0, lon0, lat[0], lon[0])
        assert math.hypot(x[0], y[0]) == pytest.approx(line["s12"], abs=1e-6)
        shift = own_frames_convergence_deg(lon, lat, lon0, lat0)
        assert shift[0] == pytest.approx(frame.convergence_deg(expected[0][0], expected[1][0]), abs=2e-5)


# Acres


def test_the_farm_has_the_same_acres(sample_farm: Path) -> None:
    """Plain circles and part circles of the sample farm through its layouts, to a millionth."""
    farm = load_farm(sample_farm)
    compared = 0
    for field in farm.fields:
        if not shapely.is_empty(field.exclusions):
            continue
        for pivot in field.pivots:
            if pivot.corner_arm or pivot.bends or pivot.end_gun:
                continue
            layout = lay_out_pivot(field, pivot, field.boundary)
            lon, lat = field.frame.to_lonlat(pivot.x_m, pivot.y_m)
            stops = (pivot.sector.start_deg, pivot.sector.stop_deg) if pivot.sector else (math.nan, math.nan)
            machine = pivots(lon, lat, pivot.base_radius_m, start=stops[0], stop=stops[1])
            found = one_field(field.boundary, machine, field.frame)
            assert found.wetted_m2[0] == pytest.approx(layout.wetted.area, rel=1e-9)
            shared = shapely.intersection(layout.wetted, field.boundary).area
            assert found.irrigated_m2[0] == pytest.approx(shared, rel=1e-6)
            compared += 1
    assert compared >= 5


@pytest.mark.parametrize("sector", [None, Sector(start_deg=40, stop_deg=300)], ids=["full", "part"])
def test_an_automatic_gun_runs_where_the_farm_runs_it(sector: Sector | None) -> None:
    ground = shapely.box(-400, -400, 400, 400).difference(shapely.box(250, -40, 400, 40))
    frame = Frame(lon=-101.5, lat=36.75)
    pivot = Pivot(
        name="P1", x_m=20, y_m=-10, spans_m=(350.0,), sector=sector, end_gun=EndGun(reach_m=30), throw_m=5,
        convergence_deg=frame.convergence_deg(20, -10),
    )  # fmt: skip
    field = Field(name="F1", frame=frame, boundary=ground, pivots=(pivot,), setback_m=6.0)
    layout = lay_out_pivot(field, pivot, ground)
    lon, lat = frame.to_lonlat(20, -10)
    stops = (sector.start_deg, sector.stop_deg) if sector else (math.nan, math.nan)
    machine = pivots(lon, lat, 355.0, gun_m=380.0, auto=True, setback_m=6.0, start=stops[0], stop=stops[1])
    found = one_field(ground, machine, frame)
    assert layout.gun.area > 1_000
    assert found.wetted_m2[0] == pytest.approx(layout.wetted.area, rel=1e-6)
    assert found.irrigated_m2[0] == pytest.approx(shapely.intersection(layout.wetted, ground).area, rel=2e-6)
    away = bulk_acres(machine)
    assert (away.gun_left_out[0], away.field_index[0]) == (True, -1)
    assert away.wetted_m2[0] < found.wetted_m2[0]


def test_two_circles_that_overlap_count_their_lens_once() -> None:
    """Lens of two circles of radius r, d apart: 2 r2 acos(d / 2r) - d/2 sqrt(4 r2 - d2) (by hand)."""
    frame, r, d = Frame(lon=-101.5, lat=36.75), 300.0, 500.0
    lon, lat = frame.to_lonlat([-d / 2, d / 2, 0], [0, 0, 2000])
    ground = shapely.box(-700, -400, 700, 400)
    found = bulk_acres(pivots(lon, lat, r), [frame.unproject(ground), shapely.box(0, 0, 1, 1)])
    lens = 2 * r * r * math.acos(d / 2 / r) - d / 2 * math.sqrt(4 * r * r - d * d)
    assert found.shared == ((0, 1),)
    assert found.field_irrigated_m2[0] == pytest.approx(2 * math.pi * r * r - lens, abs=0.02)
    assert found.irrigated_m2[:2] == pytest.approx([math.pi * r * r] * 2, rel=1e-8)
    assert (found.field_index.tolist(), np.isnan(found.field_m2[1])) == ([0, 0, -1], True)
    # Circles that only touch share nothing.
    lon, lat = frame.to_lonlat([-r, r], [0, 0])
    assert bulk_acres(pivots(lon, lat, r), [frame.unproject(ground)]).shared == ()


def test_a_field_too_wide_for_one_frame_is_refused() -> None:
    with pytest.raises(
        GeometryError,
        match=r"field 1: found a corner \d+\.\d km from its middle; allowed: fields within 4.5 km",
    ):
        bulk_acres(pivots(-101.5, 36.5, 400.0), [shapely.box(-102, 36, -101, 37)])


def test_published_acres_of_real_fields(outside_data: Path) -> None:
    """USDA NASS Crop Sequence Boundaries, column CSBACRES of 98 fields (their acre is 4,046.86 m2)."""
    fields = read_bulk_fields(outside_data / "us_fields.gpkg")
    with fiona.open(outside_data / "us_fields.gpkg") as source:
        published = np.array([feature["properties"]["CSBACRES"] for feature in source])
    inside = shapely.get_coordinates(shapely.point_on_surface(fields.shapes))
    found = bulk_acres(pivots(inside[:, 0], inside[:, 1], 4_500.0), fields.shapes)
    assert found.field_m2 / 4046.86 == pytest.approx(published, rel=1e-6)
    # A circle that reaches past every field waters all of it.
    assert found.irrigated_m2 == pytest.approx(found.field_m2, rel=1e-9)
    assert sum("boundary mended" in text for text in fields.said) == 3


def test_real_circles_in_real_fields(outside_data: Path) -> None:
    """Fields of LEM+ (id 3 a drawn pivot circle, 1.7 % longer north-south) against geodesic areas."""
    fields = read_bulk_fields(outside_data / "bahia_fields.gpkg")
    true_m2 = np.array([geodesic_area_m2(shape) for shape in fields.shapes])
    middle = shapely.get_coordinates(shapely.centroid(fields.shapes))
    found = bulk_acres(pivots(middle[:, 0], middle[:, 1], np.sqrt(true_m2 / math.pi)), fields.shapes)
    known = np.isfinite(found.field_m2)
    assert found.field_m2[known] == pytest.approx(true_m2[known], rel=1e-7)
    circle = fields.names.index("3")
    # An ellipse of axes 1.017 to 1 and the circle of its area share all but ln(1.017) / pi.
    share = found.irrigated_m2[circle] / true_m2[circle]
    assert share == pytest.approx(1 - math.log(1.017) / math.pi, abs=2e-3)


# Tables


def test_every_way_to_state_a_machine(tmp_path: Path) -> None:
    found = table(
        tmp_path,
        "A,36.75,-101.5,1300,,,,,,,,",
        "B,36.75,-101.5,,15,1250,30,,,,,800",
        "C,36.75,-101.5,,,1250,,300,60,90,always,",
    )
    assert found.pivots.base_m == pytest.approx(np.array([1300, 1295, 1250]) * FOOT_M)
    assert found.pivots.gun_m[2] == pytest.approx(1340 * FOOT_M)
    assert np.isnan(found.pivots.gun_m[:2]).all()
    assert found.pivots.start_deg[2] == 300
    assert found.flow_lps[1] == pytest.approx(800 * 3.785411784 / 60)
    assert found.assumed == ((), (), ("overhang taken as 0 ft", "throw taken as 0 ft"))
    assert found.refused == ()


def test_spanish_names_units_in_names_decimal_commas_and_a_tab(tmp_path: Path) -> None:
    head = "Pivote\tLatitud\tLongitud\tTramos (m)\tVoladizo\tRadio mojado (pies)\tCaudal (m3/h)"
    found = table(
        tmp_path, "Norte\t36,75\t-101,5\t50 50 48,5\t10,5\t\t180", head=head, units=METRIC, ending=".tsv"
    )
    assert found.names == ("Norte",)
    assert found.pivots.base_m[0] == pytest.approx(159.0)
    assert found.flow_lps[0] == pytest.approx(50.0)
    words = "; ".join(found.said)
    assert 'spans = "Tramos (m)" in m (guessed)' in words
    assert 'radius = "Radio mojado (pies)" in ft (guessed)' in words
    assert 'flow = "Caudal (m3/h)" in m3/h (guessed)' in words


def test_a_stated_column_wins_and_one_column_may_hold_the_place(tmp_path: Path) -> None:
    head = "Pivot point;R1;Radius;Crop"
    found = table(
        tmp_path, "36°45'0\"N 101°30'0\"W;400;999;corn", head=head, units=METRIC, stated=["radius=r1"]
    )
    assert (found.pivots.lat[0], found.pivots.lon[0]) == (36.75, -101.5)
    assert found.pivots.base_m[0] == 400.0
    assert 'radius = "R1" in m' in found.said[-1]
    assert 'left alone: "Radius", "Crop"' in found.said[-1]
    assert found.names == ("row 2",)


MACHINE = "A,36.75,-101.5,"


@pytest.mark.parametrize(
    ("row", "why"),
    [
        ("A,95,-101.5,1300,,,,,,,,", "latitude 95"),
        ("A,,-101.5,1300,,,,,,,,", "no place: found"),
        (MACHINE + "wide,,,,,,,,", 'radius: found "wide"; allowed: a number, or nothing'),
        (
            MACHINE + "-5,,,,,,,,",
            r'radius: found "-5"; allowed: above 0 and up to 6,562 ft; is the unit right\?',
        ),
        (MACHINE + "9000,,,,,,,,", r"is the unit right\?"),
        (MACHINE + ",,,,,,,,", "machine: found no radius, length, last_tower or spans; allowed: one of them"),
        (
            MACHINE + "1300,10,1250,100,,,,,",
            "radius: found 1300 ft, but pipe and throw give 1360 ft; allowed",
        ),
        (MACHINE + "1300,,,,40,,,,", "sector: found one stop of two; allowed: start and stop, or neither"),
        (MACHINE + "1300,,,,40,40,,,", "sector: found start and stop both 40; allowed: two azimuths"),
        (MACHINE + "1300,,,,0,360,,,", 'stop: found "360"; allowed: 0 or more and below 360 degrees; leave'),
        (MACHINE + "1300,,,,,,90,often,", 'arcs: found "often"; allowed: "auto", "always", or nothing'),
        (MACHINE + "1300,,,,,,,,0", 'flow: found "0"; allowed: a number above 0, or nothing'),
        (MACHINE + "1300,,,,,,,,,,x", "found 14 cells under 12 column names; allowed: as many as names"),
    ],
)
def test_a_row_that_cannot_be_is_named_and_the_others_are_done(tmp_path: Path, row: str, why: str) -> None:
    found = table(tmp_path, "Good,36.75,-101.5,1300,,,,,,,,", row, "Also,36.75,-101.4,1300,,,,,,,,")
    assert found.names == ("Good", "Also")
    assert found.numbers == (2, 4)
    assert [refused.what for refused in found.refused] == ["row 3"]
    assert re.search(why, found.refused[0].why)


def test_spans_and_lengths_that_disagree(tmp_path: Path) -> None:
    head = "lat,lon,spans,last tower,length,overhang"
    found = table(
        tmp_path,
        "36.75,-101.5,180 180 x,,,",
        "36.75,-101.5,180 180,500,,",
        '36.75,-101.5,"180,5",,,',
        "36.75,-101.5,180 180,,300,",
        "36.75,-101.5,180 180,361,380,20",
        head=head,
    )
    words = [refused.why for refused in found.refused]
    assert words[0].startswith('spans: found "180 180 x"; allowed: lengths above 0, parted by blanks')
    assert words[1].startswith("last_tower: found 500 ft, but spans of 360 ft together; allowed: the same")
    assert words[3].startswith("length: found 300 ft, but last tower and overhang give 360 ft; allowed")
    assert words[2].startswith('spans: found "180,5"; allowed')
    assert found.numbers == (6,)
    assert found.pivots.base_m[0] == pytest.approx(380 * FOOT_M)


def test_files_and_columns_that_cannot_be(tmp_path: Path) -> None:
    with pytest.raises(
        FileError, match=r"pivots\.csv: found no column for the pivot point \(lat and lon\) among"
    ):
        table(tmp_path, "A,400", head="name,radius")
    with pytest.raises(
        FileError, match=r"no column for the machine .* allowed: say it, such as --column radius=NAME"
    ):
        table(tmp_path, "36,-101", head="lat,lon")
    with pytest.raises(DomainError, match=r'column: found radius="Radios"; allowed: .*; nearest: "Radio 1"'):
        table(tmp_path, "36,-101,5", head="lat,lon,Radio 1", stated=["radius=Radios"])
    with pytest.raises(
        DomainError, match=r'column: found "radus=R"; allowed: role=NAME, .* did you mean "radius"'
    ):
        parse_stated(["radus=R"])
    with pytest.raises(
        FileError, match="found an empty file; allowed: a row of column names and one row a pivot"
    ):
        table(tmp_path, head="")
    with pytest.raises(FileError, match=r'found a file ending in "\.xyz"; allowed: a table'):
        table(tmp_path, ending=".xyz")
    with pytest.raises(FileError, match=r"none\.csv: cannot be read \(.*\); allowed: a table of pivots"):
        read_bulk_table(tmp_path / "none.csv", units=US)
    with pytest.raises(FileError, match=r"is no row of a table \(.*\); is a quote left open\?"):
        table(tmp_path, '"A,36,-101', head="name,lat,lon,radius\n" + '"' + "x" * 140_000)


def test_points_of_a_map_file(tmp_path: Path) -> None:
    path = tmp_path / "pivots.gpkg"
    schema = {"geometry": "Unknown", "properties": {"Nombre": "str", "Radio (m)": "float"}}
    shapes = [shapely.Point(600_000, 4_070_000), shapely.LineString([(0, 0), (1, 1)]), None]
    with fiona.open(path, "w", driver="GPKG", crs="EPSG:26914", schema=schema) as sink:
        for number, shape in enumerate(shapes, start=1):
            geometry = None if shape is None else shapely.geometry.mapping(shape)
            properties = {"Nombre": f"P{number}", "Radio (m)": 400.0}
            sink.write({"type": "Feature", "geometry": geometry, "properties": properties})
    found = read_bulk_table(path, units=US)
    assert (found.names, found.pivots.base_m.tolist(), found.counted) == (("P1",), [400.0], "feature")
    # UTM zone 14 has its middle at 99 W; the point lies 100 km east of it.
    assert found.pivots.lon[0] == pytest.approx(-97.88, abs=0.02)
    assert [refused.what for refused in found.refused] == ["feature 2", "feature 3"]
    assert found.refused[0].why == "found a LineString; allowed: a point"


# Fields


def test_fields_are_named_mended_and_left_out_aloud(tmp_path: Path) -> None:
    def ring(west: float, size: float) -> list[list[float]]:
        return [
            [west, 36.7],
            [west + size, 36.7],
            [west + size, 36.7 + size],
            [west, 36.7 + size],
            [west, 36.7],
        ]

    bow_tie = [[-101.5, 36.7], [-101.49, 36.71], [-101.49, 36.7], [-101.5, 36.71], [-101.5, 36.7]]
    shapes = [
        {"type": "Polygon", "coordinates": [ring(-101.4, 0.01)]},
        {"type": "Polygon", "coordinates": [bow_tie]},
        {"type": "Point", "coordinates": [-101.5, 36.7]},
        {"type": "Polygon", "coordinates": [ring(-101.0, 0.5)]},
    ]
    path = tmp_path / "fields.geojson"
    features = [
        {"type": "Feature", "properties": {"Lote": f"L{n}", "zone": "z"}, "geometry": shape}
        for n, shape in enumerate(shapes)
    ]
    path.write_text(json.dumps({"type": "FeatureCollection", "features": features}))
    found = read_bulk_fields(path)
    words = "\n".join(found.said)
    assert found.names == ("L0", "L1")
    assert shapely.is_valid(found.shapes).all()
    assert 'names of fields = "Lote" (guessed)' in words
    assert "L1: boundary mended: The outline crosses itself" in words
    assert "left out: 1 without a polygon (L2)" in words
    assert "left out: 1 reaching more than 4.5 km from their middle (L3)" in words
    assert read_bulk_fields(path, name_field="ZONE").names == ("z", "z")
    with pytest.raises(DomainError, match=r'name field: found "lotes"; allowed: .*; nearest: "Lote"'):
        read_bulk_fields(path, name_field="lotes")
    path.write_text(json.dumps({"type": "FeatureCollection", "features": features[2:]}))
    with pytest.raises(
        FileError, match="found no polygon that can be used; allowed: a file of field boundaries"
    ):
        read_bulk_fields(path)
    with pytest.raises(FileError, match=r"none\.shp: found a file that cannot be opened"):
        read_bulk_fields(tmp_path / "none.shp")


# Reports


def test_a_report_says_ties_none_and_adds_fields_up_once(tmp_path: Path) -> None:
    frame = Frame(lon=-101.5, lat=36.75)
    big, small = shapely.box(-800, -400, 800, 400), shapely.box(-10, -10, 10, 10)
    lon, lat = frame.to_lonlat([-400, 400, 0, 0], [0, 0, 0, 3_000])
    rows = [f"P{n},{b:.9f},{a:.9f},1000,,,,,,,,700" for n, (a, b) in enumerate(zip(lon, lat, strict=True))]
    found = table(tmp_path, *rows)
    acres = bulk_acres(found.pivots, [frame.unproject(big), frame.unproject(small)])
    report = bulk_report(found, acres, US, field_names=("Big", "Small"))
    assert report.columns["field"] == ["Big", "Big", "Small", None]
    assert report.columns["notes"][2] == ["2 fields hold the pivot point: the smallest is taken"]
    assert report.columns["notes"][3] == ["no field holds the pivot point"]
    circle = math.pi * (1000 * FOOT_M) ** 2 / ACRE_M2
    assert report.columns["wetted_acres"] == pytest.approx([circle] * 4)
    assert report.columns["gpm_per_acre"][0] == pytest.approx(700 / circle)
    totals = report.totals
    assert totals["field_acres"] == pytest.approx((1600 * 800 + 400) / ACRE_M2, rel=1e-7)
    assert totals["irrigated_acres"] == pytest.approx(2 * circle + 400 / ACRE_M2, rel=1e-7)
    assert totals["dry_acres"] == pytest.approx(totals["field_acres"] - totals["irrigated_acres"])
    assert totals["overspray_acres"] == pytest.approx(circle - 400 / ACRE_M2, rel=1e-6)
    assert totals["wetted_without_field_acres"] == pytest.approx(circle)
    assert (totals["fields"], totals["pivots_without_field"], totals["overlapping_pairs"]) == (2, 1, 0)
    assert "Pivot points in more than one field: 1; the smallest is taken." in bulk_text(report, US)
    assert bulk_report(found, bulk_acres(found.pivots), METRIC).totals["dry_ha"] is None


def test_a_file_that_is_read_is_never_written(tmp_path: Path) -> None:
    path = tmp_path / "p.csv"
    path.write_text("x")
    with pytest.raises(
        FileError, match=r'output file: found ".*p\.csv", which is read; allowed: another name'
    ):
        check_bulk_target(path, sources=[path], overwrite=True)

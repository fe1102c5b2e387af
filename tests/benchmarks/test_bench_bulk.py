"""Acres of many pivots in closed form, against a loop of pyproj, buffers and intersections.

Work: quarter sections set over four degrees of latitude and six of longitude near 41 N 98 W, fixed seed;
boundaries and pivot points in longitude and latitude, every pivot told its field. W1: full circles of 1,200
to 1,320 ft. W2: part circles with a gun on all of the turn. Baseline: what a competent user's script
does, pivot by pivot, on the first of them: project boundary and point with one pyproj transformer (UTM),
buffer with the library's default of 64 vertices, cut. Beside it the same job as shapely's vectorised
calls: all sectors built as one array of polygons, one intersection call, a frame for each field.
"""

from __future__ import annotations

import math
import tracemalloc

import numpy as np
import pyproj
import pytest
import shapely
from shapely.geometry import Point, Polygon

from ringrow.coverage.bulk_acres import BulkAcres, BulkPivots, acres_in_fields, bulk_acres
from ringrow.frame import own_frames_xy
from ringrow.geometry.arcs import sector_polygons
from ringrow.geometry.cut_areas import cut_areas_m2, polygon_edges
from ringrow.units import FOOT_M

LOOPED, SHAPED, COUNT = 400, 2_000, 100_000
HALF_M = 1320 * FOOT_M

Work = tuple[BulkPivots, np.ndarray]


def make(*, part: bool) -> Work:
    random = np.random.default_rng(411098)
    lon, lat = (a.ravel()[:COUNT] for a in np.meshgrid(np.linspace(-101, -95, 400), np.linspace(39, 43, 250)))
    north = math.degrees(HALF_M / 6_378_137)
    east = north / np.cos(np.radians(lat))
    squares = shapely.box(lon - east, lat - north, lon + east, lat + north)
    base = random.uniform(1200, 1320, COUNT) * FOOT_M
    start, nothing = random.uniform(0, 360, COUNT), np.full(COUNT, np.nan)
    pivots = BulkPivots(
        lon=lon + random.uniform(-0.1, 0.1, COUNT) * east,
        lat=lat + random.uniform(-0.1, 0.1, COUNT) * north,
        base_m=base,
        gun_m=base + random.uniform(60, 100, COUNT) * FOOT_M if part else nothing,
        gun_auto=np.zeros(COUNT, bool),
        setback_m=np.zeros(COUNT),
        start_deg=start if part else nothing,
        stop_deg=(start + random.uniform(180, 330, COUNT)) % 360 if part else nothing,
    )
    return pivots, squares


@pytest.fixture(scope="module")
def full() -> Work:
    return make(part=False)


@pytest.fixture(scope="module")
def part() -> Work:
    return make(part=True)


def utm() -> pyproj.Transformer:
    return pyproj.Transformer.from_crs(4326, 32614, always_xy=True)


def loop(work: Work, to_utm: pyproj.Transformer) -> list[float]:
    pivots, squares = work
    areas = []
    for i in range(LOOPED):
        lon, lat = squares[i].exterior.xy
        square = Polygon(zip(*to_utm.transform(lon, lat), strict=True))
        x, y = to_utm.transform(pivots.lon[i], pivots.lat[i])
        radius = np.fmax(pivots.base_m[i], pivots.gun_m[i])
        wetted = Point(x, y).buffer(radius)
        start = pivots.start_deg[i]
        if not math.isnan(start):
            sweep = (pivots.stop_deg[i] - start) % 360
            turned = np.radians(np.linspace(start, start + sweep, 9))
            far = 2.5 * radius
            sides = zip(x + far * np.sin(turned), y + far * np.cos(turned), strict=True)
            wetted = wetted.intersection(Polygon([(x, y), *sides]))
        areas.append(wetted.intersection(square).area)
    return areas


def shaped(work: Work) -> np.ndarray:
    pivots, squares = work
    lon, lat = np.arange(0, SHAPED), squares[:SHAPED]
    bounds = shapely.bounds(lat)
    middle = (bounds[:, :2] + bounds[:, 2:]) / 2
    xy, of = shapely.get_coordinates(lat, return_index=True)
    moved = np.column_stack(own_frames_xy(xy[:, 0], xy[:, 1], middle[:, 0], middle[:, 1], index=of))
    ground = shapely.polygons(shapely.linearrings(moved, indices=of))
    x, y = own_frames_xy(pivots.lon[lon], pivots.lat[lon], middle[:, 0], middle[:, 1])
    radius = np.fmax(pivots.base_m, pivots.gun_m)[:SHAPED]
    whole = np.isnan(pivots.start_deg[:SHAPED])
    sweep = np.where(whole, 360.0, (pivots.stop_deg - pivots.start_deg)[:SHAPED] % 360.0)
    circles = sector_polygons(x, y, radius, np.nan_to_num(pivots.start_deg[:SHAPED]), sweep)
    return shapely.area(shapely.intersection(circles, ground))


def in_fields(work: Work) -> BulkAcres:
    pivots, squares = work
    return acres_in_fields(pivots, squares, np.arange(COUNT), np.ones(COUNT, np.int64))


@pytest.mark.parametrize("kind", ["full", "part"])
def test_baseline(kind: str, timed, request: pytest.FixtureRequest) -> None:
    work, group = request.getfixturevalue(kind), f"bulk, {kind} circles"
    assert len(timed(loop, work, utm(), group=group, way="baseline", items=LOOPED)) == LOOPED


@pytest.mark.parametrize("kind", ["full", "part"])
def test_vectorised_shapes(kind: str, timed, request: pytest.FixtureRequest) -> None:
    work, group = request.getfixturevalue(kind), f"bulk, {kind} circles"
    timed(shaped, work, group=group, way="shapely, vectorised", items=SHAPED, rounds=3)


@pytest.mark.parametrize("kind", ["full", "part"])
def test_closed_form(kind: str, timed, request: pytest.FixtureRequest) -> None:
    work, group = request.getfixturevalue(kind), f"bulk, {kind} circles"
    found = timed(in_fields, work, group=group, way="closed form", items=COUNT, target=300, rounds=3)
    # The polygons agree with it: a millionth of a circle, and bearings turned by a little convergence.
    assert found.irrigated_m2[:SHAPED] == pytest.approx(shaped(work), rel=2e-6)


@pytest.mark.parametrize("kind", ["full", "part"])
def test_areas_alone(kind: str, timed, request: pytest.FixtureRequest) -> None:
    """Edges in metres at hand, as after the first question about the same fields."""
    pivots, squares = request.getfixturevalue(kind)
    bounds = shapely.bounds(squares)
    middle = (bounds[:, :2] + bounds[:, 2:]) / 2
    edges = polygon_edges(
        squares, move=lambda x, y, at: own_frames_xy(x, y, middle[:, 0], middle[:, 1], index=at)
    )
    x, y = own_frames_xy(pivots.lon, pivots.lat, middle[:, 0], middle[:, 1])
    radius = np.fmax(pivots.base_m, pivots.gun_m)
    whole = np.isnan(pivots.start_deg)
    turn = {
        "start_deg": np.nan_to_num(pivots.start_deg),
        "sweep_deg": np.where(whole, 360.0, (pivots.stop_deg - pivots.start_deg) % 360.0),
    }

    def areas() -> np.ndarray:
        return cut_areas_m2(edges, np.arange(COUNT), x, y, radius, **turn)

    group = f"bulk, {kind} circles"
    found = timed(areas, group=group, way="areas alone, in metres", items=COUNT, target=300, rounds=3)
    assert found == pytest.approx(in_fields((pivots, squares)).irrigated_m2, rel=1e-6)


def test_reading_the_corners_alone(full: Work, timed) -> None:
    """What taking boxes and corners out of the fields' shapes costs before any area is worked out."""

    def read() -> int:
        shapely.get_type_id(full[1])
        shapely.get_num_interior_rings(full[1])
        shapely.bounds(full[1])
        return len(shapely.get_coordinates(full[1], return_index=True)[0])

    way = "reading the fields' corners alone"
    assert timed(read, group="bulk, full circles", way=way, items=COUNT, rounds=3) == 5 * COUNT


@pytest.mark.parametrize("kind", ["full", "part"])
def test_closed_form_and_finding_the_field(kind: str, timed, request: pytest.FixtureRequest) -> None:
    work, group = request.getfixturevalue(kind), f"bulk, {kind} circles"
    found = timed(bulk_acres, *work, group=group, way="finding the field too", items=COUNT, rounds=3)
    assert (found.field_index == np.arange(COUNT)).all()


def test_closed_form_against_vectorised_shapes(part: Work, timed) -> None:
    """The second target: against shapely's vectorised calls as the baseline."""
    group = "bulk, part circles, against vectorised shapes"
    timed(shaped, part, group=group, way="baseline", items=SHAPED, rounds=3)


def test_closed_form_after_vectorised_shapes(part: Work, timed) -> None:
    group = "bulk, part circles, against vectorised shapes"
    timed(in_fields, part, group=group, way="closed form", items=COUNT, target=45, rounds=3)


def test_memory_on_top_of_the_fields(part: Work, request: pytest.FixtureRequest) -> None:
    """Printed, and held below what would grow with corners times pivots."""
    tracemalloc.start()
    try:
        bulk_acres(*part)
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    line = f"bulk: {peak / 1e6:.0f} MB of arrays at the peak for {COUNT:,} pivots"
    request.config.get_terminal_writer().line(line)
    assert peak < 100e6

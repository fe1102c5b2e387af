"""What is at a place, for many places: against a spatial join and against a search tree of ring lines.

Run with ``pytest tests/benchmarks/test_bench_where.py``; the ratios are printed at the end. Baselines: what a
competent user's script does. Tape: `geopandas.sjoin_nearest` of flags with lateral lines, which gives the
lateral and its distance. Rings: `shapely.STRtree.query_nearest` over the wheel tracks of one pivot, 256
vertices each. Beside the equal job stand our whole answers, which say more than the baselines do.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import geopandas
import numpy as np
import pytest
import shapely

from ringrow.coverage.accuracy import DEFAULT_ACCURACY
from ringrow.coverage.chances import lateral_chances
from ringrow.coverage.field import Field, FieldLayout
from ringrow.coverage.layout import lay_out
from ringrow.coverage.locate import drip_places, locate_many, pivot_places
from ringrow.coverage.locate_pivots import distances_m, nearest_towers
from ringrow.equipment.drip import DripBlock, Tape, Zone
from ringrow.equipment.pivot import EndGun, Pivot
from ringrow.frame import Frame
from ringrow.geometry.laterals import lateral_lines
from ringrow.units import FOOT_M

if TYPE_CHECKING:
    from collections.abc import Callable

HALF_M = 402.336
SQUARE = shapely.box(-HALF_M, -HALF_M, HALF_M, HALF_M)
MANY = 1_000_000
SIGMA_M = DEFAULT_ACCURACY.sigma_m


def drip_field(frame: Frame, heading_deg: float = 90.0) -> FieldLayout:
    """A quarter section of tape 60 in apart round two ponds."""
    block = DripBlock(
        name="Drip",
        area=SQUARE,
        heading_deg=heading_deg,
        spacing_m=1.524,
        number_from_deg=(heading_deg - 90.0) % 360,
        header_deg=(heading_deg + 180.0) % 360,
        headland_m=9.144,
        tape=Tape(emitter_spacing_m=0.6096),
        zones=(Zone(name="North", first=1, last=264), Zone(name="South", first=265, last=800)),
    )
    ponds = shapely.MultiPolygon([shapely.box(-300, -300, -220, -250), shapely.box(100, 200, 160, 300)])
    return lay_out(Field(name="Drip", frame=frame, boundary=SQUARE, exclusions=ponds, drip=(block,)))


def pivot_field() -> FieldLayout:
    """A seven-tower pivot with an end gun and 133 outlets."""
    pivot = Pivot(
        name="Pivot",
        x_m=3.0,
        y_m=-4.0,
        spans_m=tuple(feet * FOOT_M for feet in (182, 182, 182, 182, 182, 182, 158)),
        overhang_m=34 * FOOT_M,
        throw_m=18 * FOOT_M,
        end_gun=EndGun(reach_m=96 * FOOT_M),
        outlets_m=tuple((10 + 9.5 * number) * FOOT_M for number in range(133)),
    )
    frame = Frame(lon=-98.0, lat=41.0)
    return lay_out(Field(name="Pivot", frame=frame, boundary=SQUARE, pivots=(pivot,)))


def flags(count: int, seed: int = 41098) -> tuple[np.ndarray, np.ndarray]:
    x, y = np.random.default_rng(seed).uniform(-HALF_M, HALF_M, (2, count))
    return x, y


def join(lines: np.ndarray, x: np.ndarray, y: np.ndarray) -> geopandas.GeoDataFrame:
    points = geopandas.GeoDataFrame(geometry=geopandas.points_from_xy(x, y))
    return geopandas.sjoin_nearest(points, geopandas.GeoDataFrame(geometry=lines), distance_col="distance_m")


TAPE = "tape: 1 M flags, one field"


@pytest.fixture(scope="module")
def drip() -> FieldLayout:
    return drip_field(Frame(lon=-98.0, lat=41.0))


def test_tape_baseline(timed: Callable, drip: FieldLayout) -> None:
    lines = lateral_lines(drip.drip[0].grid)
    timed(join, lines, *flags(MANY), group=TAPE, way="baseline", items=MANY, rounds=1)


def test_tape_places(timed: Callable, drip: FieldLayout) -> None:
    """Lateral, piece, offset, station, emitter, zone, wet or dry; the join gives lateral and distance."""
    (laid,) = drip.drip
    x, y = flags(MANY)
    found = timed(drip_places, laid, x, y, group=TAPE, way="drip_places, whole answer", items=MANY, rounds=3)
    joined = join(lateral_lines(laid.grid), x[:20_000], y[:20_000])
    joined = joined[~joined.index.duplicated()]
    np.testing.assert_allclose(found.distance_m[:20_000], joined["distance_m"], rtol=0, atol=1e-8)


def test_tape_chances(timed: Callable, drip: FieldLayout) -> None:
    """Candidate laterals with their chances, which the join does not give."""
    grid = drip.drip[0].grid
    timed(
        lateral_chances, grid, *flags(MANY), SIGMA_M, group=TAPE, way="lateral_chances", items=MANY, rounds=2
    )


RINGS = "wheel tracks: flags, one pivot"


@pytest.fixture(scope="module")
def rings() -> FieldLayout:
    return pivot_field()


def tower_tree(layout: FieldLayout) -> shapely.STRtree:
    pivot = layout.pivots[0].pivot
    turn = np.linspace(0, 2 * np.pi, 257)
    circle = np.column_stack([np.sin(turn), np.cos(turn)])
    return shapely.STRtree(
        [shapely.LineString([pivot.x_m, pivot.y_m] + radius * circle) for radius in pivot.tower_radii_m]
    )


def towers_by_tree(tree: shapely.STRtree, x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    (_, tower), distance = tree.query_nearest(shapely.points(x, y), all_matches=False, return_distance=True)
    return tower + 1, distance


def towers_by_radius(layout: FieldLayout, x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    pivot = layout.pivots[0].pivot
    return nearest_towers(pivot, distances_m(pivot, x, y))


def test_rings_baseline(timed: Callable, rings: FieldLayout) -> None:
    count = 20_000
    timed(
        towers_by_tree, tower_tree(rings), *flags(count), group=RINGS, way="baseline", items=count, rounds=3
    )


def test_rings_by_radius(timed: Callable, rings: FieldLayout) -> None:
    x, y = flags(MANY)
    way = "nearest tower and offset"
    tower, offset = timed(
        towers_by_radius, rings, x, y, group=RINGS, way=way, items=MANY, target=350, rounds=5
    )
    by_tree, distance = towers_by_tree(tower_tree(rings), x[:5_000], y[:5_000])
    # The tree's rings are polygons: they run up to 3 cm inside the track.
    differs = tower[:5_000] != by_tree
    assert np.abs(np.abs(offset[:5_000]) - distance)[~differs].max() < 0.04
    assert differs.mean() < 0.002


def test_pivot_places(timed: Callable, rings: FieldLayout) -> None:
    """Distance, azimuth, panel, span, part, tower, outlets with chances, wet or dry."""
    (laid,) = rings.pivots
    way = "pivot_places, whole answer"
    timed(pivot_places, laid, *flags(MANY), SIGMA_M, group=RINGS, way=way, items=MANY, rounds=2)


FARM = "whole answers: 100 fields, 100 flags each"


def test_farm_baseline(timed: Callable) -> None:
    """One join a field, the field already known."""
    lines = lateral_lines(drip_field(Frame(lon=-98.0, lat=41.0), 70.0).drip[0].grid)
    x, y = flags(100)

    def joins() -> list:
        return [join(lines, x, y) for _ in range(100)]

    timed(joins, group=FARM, way="baseline", items=10_000, rounds=1)


def test_farm_locate_many(timed: Callable) -> None:
    """From longitude and latitude to plain objects with candidates; finding the field included."""
    frames = [Frame(lon=-98.0 + 0.012 * (k % 10), lat=41.0 + 0.009 * (k // 10)) for k in range(100)]
    layouts = [drip_field(frame, 1.0 + k) for k, frame in enumerate(frames)]
    lonlat = [frame.to_lonlat(*flags(100, seed=k)) for k, frame in enumerate(frames)]
    lon, lat = np.concatenate([pair[0] for pair in lonlat]), np.concatenate([pair[1] for pair in lonlat])

    def job() -> list:
        return locate_many(layouts, lon, lat, accuracy=DEFAULT_ACCURACY)

    places = timed(job, group=FARM, way="locate_many", items=10_000, rounds=3)
    assert all(place.field == "Drip" for place in places)

"""Acres of many pivots as polygons, against a loop of pyproj, buffers and intersections.

Work: 392 quarter sections in 8 blocks near 41 N 98 W, fixed seed, boundaries and pivot points in
longitude and latitude. W1: full circles of 1,200 to 1,320 ft against their square. W2: part circles
with an end gun on part of the turn. Baseline: what a competent user's script does, pivot by pivot:
project boundary and point with one pyproj transformer (UTM), buffer with the library's default of 64
vertices, cut, add, intersect; the same with as many vertices as our 0.01 m takes beside it. Against
it: a frame for each block, all outlines built as one array of vertices, one intersection call.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import pyproj
import pytest
import shapely
from shapely.geometry import Point, Polygon

from ringrow.frame import Frame
from ringrow.geometry.arcs import outline_polygons, sector_polygons
from ringrow.units import FOOT_M

BLOCKS, SIDE = 8, 7
COUNT = BLOCKS * SIDE**2


@dataclass(frozen=True)
class Work:
    """Pivots and their squares on the globe, with what stands in metres kept for the exact areas."""

    frames: list[Frame]
    outlines: np.ndarray  # squares, longitude and latitude
    lon: np.ndarray
    lat: np.ndarray
    squares: np.ndarray  # the same squares in their block's frame [m]
    x: np.ndarray
    y: np.ndarray
    base: np.ndarray
    gun: np.ndarray
    start: np.ndarray
    sweep: np.ndarray
    gun_start: np.ndarray
    gun_sweep: np.ndarray


@pytest.fixture(scope="module")
def work() -> Work:
    random = np.random.default_rng(411098)
    half = 1320 * FOOT_M
    frames = [Frame(lon=-98.5 + 0.12 * i, lat=40.6 + 0.1 * i) for i in range(BLOCKS)]
    east, north = np.meshgrid(np.arange(SIDE) - SIDE // 2, np.arange(SIDE) - SIDE // 2)
    middle = np.tile((east + 1j * north).ravel() * 2.02 * half, BLOCKS)
    tilt = np.radians(random.uniform(-0.5, 0.5, COUNT))
    angles = np.radians([45, 135, 225, 315])[None, :] + tilt[:, None]
    corners = middle[:, None] + half * math.sqrt(2) * np.exp(1j * angles)
    squares = shapely.polygons(np.stack([corners.real, corners.imag], axis=-1))
    base = random.uniform(1200, 1320, COUNT) * FOOT_M
    sweep = random.uniform(180, 330, COUNT)
    start = random.uniform(0, 360, COUNT)
    share = random.uniform(0.1, 0.4, COUNT)
    x, y = middle.real + random.uniform(-15, 15, COUNT), middle.imag + random.uniform(-15, 15, COUNT)
    blocks = np.split(np.arange(COUNT), BLOCKS)
    placed = [frame.to_lonlat(x[block], y[block]) for frame, block in zip(frames, blocks, strict=True)]
    return Work(
        frames=frames,
        outlines=np.concatenate([f.unproject(squares[b]) for f, b in zip(frames, blocks, strict=True)]),
        lon=np.concatenate([lon for lon, _ in placed]),
        lat=np.concatenate([lat for _, lat in placed]),
        squares=squares,
        x=x,
        y=y,
        base=base,
        gun=base + random.uniform(60, 100, COUNT) * FOOT_M,
        start=start,
        sweep=sweep,
        gun_start=start + share * sweep,
        gun_sweep=share * sweep,
    )


def wedge(x: float, y: float, reach: float, start: float, sweep: float) -> Polygon:
    turned = np.radians(np.linspace(start, start + sweep, 9))
    far = 2.5 * reach
    return Polygon([(x, y), *zip(x + far * np.sin(turned), y + far * np.cos(turned), strict=True)])


def utm() -> pyproj.Transformer:
    return pyproj.Transformer.from_crs(4326, 32614, always_xy=True)


def in_metres(work: Work, i: int, to_utm: pyproj.Transformer) -> tuple[Polygon, float, float]:
    lon, lat = work.outlines[i].exterior.xy
    return Polygon(zip(*to_utm.transform(lon, lat), strict=True)), *to_utm.transform(work.lon[i], work.lat[i])


def loop_full(work: Work, to_utm: pyproj.Transformer, quad_segs: int = 16) -> list[float]:
    areas = []
    for i in range(COUNT):
        square, x, y = in_metres(work, i, to_utm)
        areas.append(Point(x, y).buffer(work.base[i], quad_segs=quad_segs).intersection(square).area)
    return areas


def loop_part(work: Work, to_utm: pyproj.Transformer, quad_segs: int = 16) -> list[float]:
    areas = []
    for i in range(COUNT):
        square, x, y = in_metres(work, i, to_utm)
        gun, point = work.gun[i], Point(x, y)
        disc = point.buffer(work.base[i], quad_segs=quad_segs)
        base = disc.intersection(wedge(x, y, gun, work.start[i], work.sweep[i]))
        far = point.buffer(gun, quad_segs=quad_segs)
        thrown = far.intersection(wedge(x, y, gun, work.gun_start[i], work.gun_sweep[i]))
        areas.append(base.union(thrown).intersection(square).area)
    return areas


def in_frames(work: Work) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    blocks = list(zip(work.frames, np.split(np.arange(COUNT), BLOCKS), strict=True))
    squares = np.concatenate([frame.project(work.outlines[block]) for frame, block in blocks])
    x, y = np.hstack([frame.to_xy(work.lon[block], work.lat[block]) for frame, block in blocks])
    return squares, x, y


def vectorised_full(work: Work) -> np.ndarray:
    squares, x, y = in_frames(work)
    circles = sector_polygons(x, y, work.base, np.zeros(COUNT), np.full(COUNT, 360.0))
    return shapely.area(shapely.intersection(circles, squares))


def outlines(work: Work, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Three arcs a pivot: base, gun, base."""
    before = work.gun_start - work.start
    after = work.sweep - before - work.gun_sweep
    return outline_polygons(
        x,
        y,
        np.repeat(np.arange(COUNT), 3),
        np.stack([work.base, work.gun, work.base], axis=1).ravel(),
        np.stack([work.start, work.gun_start, work.gun_start + work.gun_sweep], axis=1).ravel(),
        np.stack([before, work.gun_sweep, after], axis=1).ravel(),
    )


def vectorised_part(work: Work) -> np.ndarray:
    squares, x, y = in_frames(work)
    return shapely.area(shapely.intersection(outlines(work, x, y), squares))


def exact_m2(work: Work, i: int, arcs: list[tuple[float, float, float]]) -> float:
    """Green's theorem by fine numerical integration: 2 million bearings, area = integral of r2 / 2."""
    corners = shapely.get_coordinates(work.squares[i]) - [work.x[i], work.y[i]]
    total = 0.0
    for start, sweep, radius in arcs:
        turned = np.radians(start + sweep * (np.arange(2_000_000) + 0.5) / 2_000_000)
        sine, cosine = np.sin(turned), np.cos(turned)
        reach = np.full(len(turned), radius)
        for p, q in pairwise(corners):
            # Distance along the ray to the edge's line; the pivot point lies inside a convex square.
            normal = np.array([q[1] - p[1], p[0] - q[0]])
            toward = normal[0] * sine + normal[1] * cosine
            with np.errstate(divide="ignore"):
                ahead = (normal @ p) / toward
            reach = np.where(ahead > 0, np.minimum(reach, ahead), reach)
        total += float((reach**2).mean()) / 2 * math.radians(sweep)
    return total


def part_arcs(work: Work, i: int) -> list[tuple[float, float, float]]:
    before = work.gun_start[i] - work.start[i]
    after = work.sweep[i] - before - work.gun_sweep[i]
    return [
        (work.start[i], before, work.base[i]),
        (work.gun_start[i], work.gun_sweep[i], work.gun[i]),
        (work.gun_start[i] + work.gun_sweep[i], after, work.base[i]),
    ]


def test_w1_baseline(work: Work, timed) -> None:
    areas = timed(loop_full, work, utm(), group="acres W1", way="baseline", items=COUNT)
    assert len(areas) == COUNT


def test_w1_loop_with_our_chord_error(work: Work, timed) -> None:
    """The same loop with as many vertices as 0.01 m of sagitta takes; its area still falls short."""
    way = "loop, 448 vertices"
    areas = timed(loop_full, work, utm(), 112, group="acres W1", way=way, items=COUNT)
    assert len(areas) == COUNT


def test_w1_vectorised(work: Work, timed) -> None:
    areas = timed(vectorised_full, work, group="acres W1", way="outlines, vectorised", items=COUNT)
    for i in range(0, COUNT, 40):
        assert areas[i] == pytest.approx(exact_m2(work, i, [(0.0, 360.0, work.base[i])]), rel=1e-6)


def test_w2_baseline(work: Work, timed) -> None:
    areas = timed(loop_part, work, utm(), group="acres W2", way="baseline", items=COUNT)
    assert len(areas) == COUNT


def test_w2_loop_with_our_chord_error(work: Work, timed) -> None:
    way = "loop, 448 vertices"
    areas = timed(loop_part, work, utm(), 112, group="acres W2", way=way, items=COUNT)
    assert len(areas) == COUNT


def test_w2_vectorised(work: Work, timed) -> None:
    areas = timed(vectorised_part, work, group="acres W2", way="outlines, vectorised", items=COUNT, target=7)
    for i in range(0, COUNT, 40):
        assert areas[i] == pytest.approx(exact_m2(work, i, part_arcs(work, i)), rel=1e-6)


def test_w2_building_alone(work: Work, timed) -> None:
    outline = timed(
        outlines, work, work.x, work.y, group="acres W2", way="building the outlines alone", items=COUNT
    )
    assert shapely.is_valid(outline).all()


def test_w2_cutting_alone(work: Work, timed) -> None:
    """What the library's overlay takes by itself: no way of building outlines can come below it."""
    squares, x, y = in_frames(work)
    outline = outlines(work, x, y)
    way = "the library's intersection alone"
    cut = timed(shapely.intersection, outline, squares, group="acres W2", way=way, items=COUNT)
    assert len(cut) == COUNT

"""Acres of many pivots as polygons, against a loop of projection, buffers and intersections.

Work: quarter sections near 41 N 98 W, fixed seed. W1: full circles of 1,200 to 1,320 ft against their
square. W2: part circles with an end gun on part of the turn. Baseline: what a competent user's
script does: project the pivot point with one pyproj transformer, buffer it with the library's default of
64 vertices, intersect. Squares stand in metres from the start on both sides, so that projection of
boundaries is not what is compared.
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

from ringrow.geometry.arcs import outline_polygons, sector_polygons
from ringrow.units import FOOT_M

COUNT = 400


@dataclass(frozen=True)
class Work:
    """Pivots in frames of their own field: squares, points, radii, arcs."""

    lon: np.ndarray
    lat: np.ndarray
    squares: np.ndarray
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
    tilt = np.radians(random.uniform(-3, 3, COUNT))
    corners = half * math.sqrt(2) * np.exp(1j * (np.radians([45, 135, 225, 315])[None, :] + tilt[:, None]))
    squares = shapely.polygons(np.stack([corners.real, corners.imag], axis=-1))
    base = random.uniform(1200, 1320, COUNT) * FOOT_M
    sweep = random.uniform(180, 330, COUNT)
    start = random.uniform(0, 360, COUNT)
    share = random.uniform(0.1, 0.4, COUNT)
    return Work(
        lon=random.uniform(-98.5, -97.5, COUNT),
        lat=random.uniform(40.5, 41.5, COUNT),
        squares=squares,
        x=random.uniform(-15, 15, COUNT),
        y=random.uniform(-15, 15, COUNT),
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


def transformer(epsg: int) -> pyproj.Transformer:
    return pyproj.Transformer.from_crs(4326, epsg, always_xy=True)


def loop_full(work: Work, to_utm: pyproj.Transformer, quad_segs: int = 16) -> list[float]:
    areas = []
    for i in range(COUNT):
        # The field's place, as a user's script would project it, then its own plane geometry.
        to_utm.transform(work.lon[i], work.lat[i])
        circle = Point(work.x[i], work.y[i]).buffer(work.base[i], quad_segs=quad_segs)
        areas.append(circle.intersection(work.squares[i]).area)
    return areas


def loop_part(work: Work, to_utm: pyproj.Transformer) -> list[float]:
    areas = []
    for i in range(COUNT):
        to_utm.transform(work.lon[i], work.lat[i])
        x, y, gun = work.x[i], work.y[i], work.gun[i]
        point = Point(x, y)
        base = point.buffer(work.base[i]).intersection(wedge(x, y, gun, work.start[i], work.sweep[i]))
        thrown = point.buffer(gun).intersection(wedge(x, y, gun, work.gun_start[i], work.gun_sweep[i]))
        areas.append(base.union(thrown).intersection(work.squares[i]).area)
    return areas


def vectorised_full(work: Work) -> np.ndarray:
    full = np.full(COUNT, 360.0)
    circles = sector_polygons(work.x, work.y, work.base, np.zeros(COUNT), full)
    return shapely.area(shapely.intersection(circles, work.squares))


def outlines(work: Work) -> np.ndarray:
    """Three arcs a pivot: base, gun, base."""
    before = work.gun_start - work.start
    after = work.sweep - before - work.gun_sweep
    return outline_polygons(
        work.x,
        work.y,
        np.repeat(np.arange(COUNT), 3),
        np.stack([work.base, work.gun, work.base], axis=1).ravel(),
        np.stack([work.start, work.gun_start, work.gun_start + work.gun_sweep], axis=1).ravel(),
        np.stack([before, work.gun_sweep, after], axis=1).ravel(),
    )


def vectorised_part(work: Work) -> np.ndarray:
    return shapely.area(shapely.intersection(outlines(work), work.squares))


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
    areas = timed(loop_full, work, transformer(32614), group="acres W1", way="baseline", items=COUNT)
    assert len(areas) == COUNT


def test_w1_loop_with_our_chord_error(work: Work, timed) -> None:
    """The same loop with as many vertices as 0.01 m of sagitta takes; its area still falls short."""
    way = "loop, 448 vertices"
    areas = timed(loop_full, work, transformer(32614), 112, group="acres W1", way=way, items=COUNT)
    assert len(areas) == COUNT


def test_w1_vectorised(work: Work, timed) -> None:
    areas = timed(vectorised_full, work, group="acres W1", way="outlines, vectorised", items=COUNT)
    for i in range(0, COUNT, 40):
        assert areas[i] == pytest.approx(exact_m2(work, i, [(0.0, 360.0, work.base[i])]), rel=1e-6)


def test_w2_baseline(work: Work, timed) -> None:
    areas = timed(loop_part, work, transformer(32614), group="acres W2", way="baseline", items=COUNT)
    assert len(areas) == COUNT


def test_w2_vectorised(work: Work, timed) -> None:
    areas = timed(vectorised_part, work, group="acres W2", way="outlines, vectorised", items=COUNT, target=7)
    for i in range(0, COUNT, 40):
        assert areas[i] == pytest.approx(exact_m2(work, i, part_arcs(work, i)), rel=1e-6)


def test_w2_building_alone(work: Work, timed) -> None:
    outline = timed(outlines, work, group="acres W2", way="building the outlines alone", items=COUNT)
    assert shapely.is_valid(outline).all()

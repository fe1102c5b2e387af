"""Exact end-gun arcs against a vectorised scan of the turn at 1 degree.

Work: 100 concave fields of 14 edges, fixed seed, each with its own pivot point, 1,320 ft to the base and
1,416 ft to the gun. Baseline: 360 segments built and tested in one call each against prepared ground,
shrunk by the setback; its ends are good to a degree. The same scan at 0.1 degree beside it.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from shapely import Polygon

from ringrow.geometry.gun_arcs import clear_arcs
from ringrow.units import FOOT_M

INNER, OUTER = 1320 * FOOT_M, 1416 * FOOT_M
COUNT = 100


@pytest.fixture(scope="module")
def fields() -> list[Polygon]:
    random = np.random.default_rng(411098)
    made = []
    while len(made) < COUNT:
        angles = np.sort(random.uniform(0, 2 * math.pi, 14))
        reach = random.uniform(380, 560, 14)
        field = Polygon(np.column_stack([reach * np.sin(angles), reach * np.cos(angles)]))
        if field.is_valid and np.diff(angles).max() < 2.5:
            made.append(field)
    return made


Spot = tuple[float, float]


@pytest.fixture(scope="module")
def spots() -> list[Spot]:
    random = np.random.default_rng(411099)
    return [tuple(random.uniform(-20, 20, 2)) for _ in range(COUNT)]


def scan(fields: list[Polygon], spots: list[Spot], setback: float, step: float = 1.0) -> list[np.ndarray]:
    turned = np.radians(np.arange(0.0, 360.0, step))
    direction = np.column_stack([np.sin(turned), np.cos(turned)])
    found = []
    for field, spot in zip(fields, spots, strict=True):
        ground = field.buffer(-setback, quad_segs=16) if setback else shapely.normalize(field)
        shapely.prepare(ground)
        segments = shapely.linestrings(np.stack([spot + INNER * direction, spot + OUTER * direction], axis=1))
        clear = shapely.covers(ground, segments)
        found.append(np.flatnonzero(clear != np.roll(clear, 1)) * step)
    return found


def exact(fields: list[Polygon], spots: list[Spot], setback: float) -> list:
    return [
        clear_arcs(field, x, y, INNER, OUTER, setback_m=setback, min_arc_deg=0.0)
        for field, (x, y) in zip(fields, spots, strict=True)
    ]


def group_of(setback_m: float) -> str:
    return f"gun arcs, setback {setback_m:g} m"


@pytest.mark.parametrize("setback_m", [0.0, 9.144])
def test_scan(fields, spots, setback_m, timed) -> None:
    group = group_of(setback_m)
    found = timed(scan, fields, spots, setback_m, group=group, way="baseline", items=COUNT)
    assert len(found) == COUNT


@pytest.mark.parametrize("setback_m", [0.0, 9.144])
def test_fine_scan(fields, spots, setback_m, timed) -> None:
    group = group_of(setback_m)
    found = timed(scan, fields, spots, setback_m, 0.1, group=group, way="scan at 0.1 deg", items=COUNT)
    assert len(found) == COUNT


@pytest.mark.parametrize("setback_m", [0.0, 9.144])
def test_exact(fields, spots, setback_m, timed) -> None:
    group = group_of(setback_m)
    found = timed(exact, fields, spots, setback_m, group=group, way="exact", items=COUNT, target=1)
    ends = [0 if arcs == "full" else 2 * len(arcs) for arcs in found]
    # A scan can only miss ends, by arcs or gaps shorter than its step; it never has more.
    scanned = [len(changes) for changes in scan(fields, spots, setback_m)]
    assert all(few <= many for few, many in zip(scanned, ends, strict=True))

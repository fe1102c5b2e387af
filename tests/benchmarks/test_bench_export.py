"""GeoJSON export against pyogrio in one run, and memory that stays flat.

Run with ``pytest tests/benchmarks``; not part of the normal run.
"""

from __future__ import annotations

import time
import tracemalloc
from typing import TYPE_CHECKING

import geopandas
import numpy as np
import pytest
import shapely

from ringrow.handoff.feature_group import FeatureGroup
from ringrow.handoff.geojson import write_geojson

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

TARGET = 4.0
LINES, POLYGONS, VERTICES = 100_000, 5_000, 257


def best_of(count: int, work: Callable[[], object]) -> float:
    """Return the shortest of some runs [s]."""
    times = []
    for _ in range(count):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def lines() -> np.ndarray:
    """Laterals of two points each, near 36.75 N 101.5 W."""
    rng = np.random.default_rng(1)
    start = np.column_stack([-101.5 + 0.1 * rng.random(LINES), 36.75 + 0.1 * rng.random(LINES)])
    return shapely.linestrings(np.stack([start, start + np.array([0.0089, 0.0001])], axis=1))


def circles() -> np.ndarray:
    """Circles of a quarter section's size."""
    rng = np.random.default_rng(2)
    turn = np.linspace(0, 2 * np.pi, VERTICES)
    lon, lat = -101.5 + rng.random(POLYGONS), 36.75 + rng.random(POLYGONS)
    ring = np.stack([lon[:, None] + 0.0045 * np.cos(turn), lat[:, None] + 0.0036 * np.sin(turn)], axis=2)
    return shapely.polygons(ring)


@pytest.mark.parametrize("make", [lines, circles])
def test_ratio_against_pyogrio(make: Callable[[], np.ndarray], tmp_path: Path) -> None:
    """The same features, the same four properties, RFC 7946 on both sides."""
    shapes = make()
    count = len(shapes)
    numbers = np.arange(count)
    lengths = np.random.default_rng(3).random(count)
    table = geopandas.GeoDataFrame(
        {"field": "North", "name": "block", "lateral": numbers, "length_ft": lengths},
        geometry=shapes,
        crs=4326,
    )
    group = FeatureGroup(
        kind="lateral",
        ids=[f"lateral:North/block/{number}" for number in numbers],
        shapes=shapes,
        shared={"field": "North", "name": "block"},
        columns={"lateral": numbers, "length_ft": lengths},
    )
    ours = best_of(3, lambda: write_geojson([group], tmp_path / "ours.geojson"))
    theirs = best_of(
        3,
        lambda: table.to_file(
            tmp_path / "theirs.geojson", driver="GeoJSON", engine="pyogrio", RFC7946="YES", WRITE_BBOX="YES"
        ),
    )
    print(f"\n{make.__name__}: ours {ours:.2f} s, pyogrio {theirs:.2f} s, ratio {theirs / ours:.1f}")  # noqa: T201
    assert theirs / ours >= TARGET


def test_memory_does_not_grow_with_the_file(tmp_path: Path) -> None:
    """Ten groups need no more memory than one, because each is written and forgotten."""

    def peak(groups: int) -> int:
        def each() -> object:
            for block in range(groups):
                shapes = lines()[:20_000]
                ids = [f"lateral:{block}/{number}" for number in range(len(shapes))]
                yield FeatureGroup(kind="lateral", ids=ids, shapes=shapes)

        tracemalloc.start()
        write_geojson(each(), tmp_path / "flat.geojson")
        _, most = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        return most

    assert peak(10) < 1.3 * peak(1)

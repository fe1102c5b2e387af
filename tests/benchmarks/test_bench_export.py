"""GeoJSON export against pyogrio, features a second; and memory that stays flat.

Work: 100,000 laterals of two points, and 5,000 circles of 257 vertices, with an id and four properties
each; RFC 7946 with bbox on both sides. Baseline: a GeoDataFrame written by pyogrio, the frame made
beforehand.
"""

from __future__ import annotations

import tracemalloc
from typing import TYPE_CHECKING

import geopandas
import numpy as np
import pytest
import shapely

from ringrow.handoff.feature_group import FeatureGroup
from ringrow.handoff.geojson import write_geojson

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

TARGET = 4.0
LINES, POLYGONS, VERTICES = 100_000, 5_000, 257


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
@pytest.mark.parametrize("way", ["baseline", "text joined over columns"])
def test_geojson_export(
    make: Callable[[], np.ndarray], way: str, timed: Callable[..., None], tmp_path: Path
) -> None:
    shapes = make()
    numbers = np.arange(len(shapes))
    lengths = np.random.default_rng(3).random(len(shapes))
    path = tmp_path / "out.geojson"
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

    def baseline() -> None:
        table.to_file(path, driver="GeoJSON", engine="pyogrio", RFC7946="YES", WRITE_BBOX="YES")

    def ours() -> None:
        write_geojson([group], path)

    timed(
        baseline if way == "baseline" else ours,
        group=f"GeoJSON of {len(shapes):,} {make.__name__}",
        way=way,
        items=len(shapes),
        target=TARGET,
        rounds=3,
    )
    assert path.stat().st_size > 1_000_000


def test_memory_does_not_grow_with_the_file(tmp_path: Path) -> None:
    """Ten groups need no more memory than one, because each is written and forgotten."""
    shapes = lines()[:20_000]

    def groups(count: int) -> Iterator[FeatureGroup]:
        for block in range(count):
            ids = [f"lateral:{block}/{number}" for number in range(len(shapes))]
            yield FeatureGroup(kind="lateral", ids=ids, shapes=shapes)

    def peak(count: int) -> int:
        tracemalloc.start()
        write_geojson(groups(count), tmp_path / "flat.geojson")
        _, most = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        return most

    assert peak(10) < 1.5 * peak(1)

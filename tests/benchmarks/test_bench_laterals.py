"""Laying laterals: the scanline against a loop of shapely intersections, in one run.

Run with ``pytest tests/benchmarks/test_bench_laterals.py``; ``-s`` shows the ratios. Geometry objects are
made on both sides; the laterals lie askew, as they mostly do. A ratio is the loop's time over the
scanline's: processor time, so that a busy machine tips neither side, medians of several.
"""

import statistics
import sys
import time

import numpy as np
import pytest
import shapely

from ringrow.geometry.laterals import lateral_lines, lay_laterals
from ringrow.geometry.strips import strips_union

LAY = {"heading_deg": 77, "number_from_deg": 347, "header_deg": 257}
SIDE_M = 804.672


def wavy_block(vertices: int, scatter_m: float = 0.0) -> shapely.Polygon:
    """A round block with five bays, the size of a quarter section; its edge scatters as a GPS track does."""
    turn = np.linspace(0, 2 * np.pi, vertices, endpoint=False)
    scatter = np.random.default_rng(3).normal(0, scatter_m, vertices)
    radius = SIDE_M / 2 * (1 + 0.1 * np.sin(5 * turn)) + scatter
    return shapely.Polygon(np.column_stack([radius * np.cos(turn), radius * np.sin(turn)]))


def with_holes(block: shapely.Polygon) -> shapely.Polygon:
    """The block with six ponds of 30 m radius."""
    spots = np.random.default_rng(6).uniform(-SIDE_M / 4, SIDE_M / 4, (6, 2))
    ponds = shapely.buffer(shapely.points(spots), 30, quad_segs=16)
    return block.difference(shapely.union_all(ponds))


def median_s(work, repeats: int) -> float:
    work()
    taken = []
    for _ in range(repeats):
        begun = time.process_time()
        work()
        taken.append(time.process_time() - begun)
    return statistics.median(taken)


def spacing_for(block: shapely.Polygon, laterals: int) -> float:
    c = lay_laterals(block, block, spacing_m=1, **LAY).coordinates(*shapely.get_coordinates(block).T)[1]
    return float(c.max()) / laterals


def lay_and_draw(block, spacing_m):
    return lateral_lines(lay_laterals(block, block, spacing_m=spacing_m, **LAY))


def loop(block, spacing_m):
    """What a competent user's script does: one line a lateral across the whole block, cut by shapely."""
    grid = lay_laterals(block, block, spacing_m=spacing_m, **LAY)  # for the axes alone
    s, c = grid.coordinates(*shapely.get_coordinates(block).T)
    rows = np.arange(spacing_m / 2, c.max(), spacing_m)
    ends = grid.points(np.array([s.min() - 1.0, s.max() + 1.0])[None, :], rows[:, None])
    return [shapely.LineString(pair).intersection(block) for pair in ends]


@pytest.mark.parametrize(
    ("laterals", "vertices", "scatter_m", "target"),
    [(528, 60, 0, 25), (528, 2000, 1, 100), (5000, 2000, 1, 400)],
)
def test_lateral_grid_against_a_loop_of_intersections(
    benchmark, laterals, vertices, scatter_m, target
) -> None:
    block = wavy_block(vertices, scatter_m)
    spacing_m = spacing_for(block, laterals)
    lines, cut = lay_and_draw(block, spacing_m), loop(block, spacing_m)
    assert len(cut) == laterals
    assert shapely.length(lines).sum() == pytest.approx(shapely.length(cut).sum(), rel=1e-6)
    benchmark(lay_and_draw, block, spacing_m)
    scanline_s = median_s(lambda: lay_and_draw(block, spacing_m), 31)
    loop_s = median_s(lambda: loop(block, spacing_m), 3)
    ratio = loop_s / scanline_s
    benchmark.extra_info["ratio to a loop of intersections"] = round(ratio, 1)
    sys.stdout.write(
        f"\n{laterals} laterals, {vertices} vertices: {scanline_s * 1e3:.2f} ms, "
        f"loop {loop_s * 1e3:.1f} ms, ratio {ratio:.0f} "
        f"(target {target}: {'met' if ratio >= target else 'MISSED'})\n"
    )


def test_a_quarter_section_with_ponds_is_laid_in_milliseconds(benchmark) -> None:
    block = wavy_block(60)
    ground = with_holes(block)
    lay = {**LAY, "spacing_m": 1.524}
    grid = benchmark(lay_laterals, block, ground, **lay)
    assert grid.pieces_per_lateral.max() >= 2
    assert median_s(lambda: lay_laterals(block, ground, **lay), 15) < 0.005


def test_wetted_ground_of_a_quarter_section_with_ponds(benchmark) -> None:
    block = wavy_block(60)
    ground = with_holes(block)
    grid = lay_laterals(block, ground, **LAY, spacing_m=1.524)
    wetted = benchmark(strips_union, grid, ground)
    assert 0 < wetted.area < ground.area
    assert median_s(lambda: strips_union(grid, ground), 5) < 0.3

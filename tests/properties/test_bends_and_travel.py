"""Bends and travelling machines: wetted ground against machines laid down one by one."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from effort import effort
from ringrow.errors import DomainError, GeometryError
from ringrow.geometry.bends import BendTurn, bend_sectors, pipe_course
from ringrow.geometry.travel import travel_ground, travel_path, travel_places


def check_same_ground(shape: object, pipes: list, *, seed: int, reach: float, apart_m: float) -> None:
    """Random points are inside `shape` just when a pipe passes within half the pipes' spacing."""
    rng = np.random.default_rng(seed)
    points = shapely.points(rng.uniform(-reach, reach, (3000, 2)))
    _, distance = shapely.STRtree(pipes).query_nearest(points, return_distance=True, all_matches=False)
    inside = shapely.covers(shape, points)
    assert inside.any()
    assert (distance[inside] <= apart_m).all()
    assert (shapely.distance(shape, points[distance < 1e-6]) <= 0.02).all()
    deep = ~inside & (shapely.distance(shape, points) > apart_m + 0.02)
    assert (distance[deep] > apart_m).all()


@settings(max_examples=effort(15))
@given(
    bearing=st.floats(0, 359.9),
    side=st.sampled_from(["stop", "start"]),
    sweeps=st.lists(st.floats(10, 120), min_size=1, max_size=3),
    seed=st.integers(0, 1000),
)
def test_bends_equal_machines_laid_down(bearing: float, side: str, sweeps: list[float], seed: int) -> None:
    """Walk each bend in small steps, keep the pipe of every step, compare with the union of sectors."""
    turns = [BendTurn(radius_m=60 + 70 * n, sweep_deg=sweep) for n, sweep in enumerate(sweeps)]
    pipes = []
    for index, turn in enumerate(turns):
        knots = [t.radius_m for t in turns[: index + 1]] + [300.0]
        for part in np.linspace(1e-6, turn.sweep_deg, 240):
            walked = [*turns[:index], BendTurn(radius_m=turn.radius_m, sweep_deg=part)]
            course = pipe_course(5, 9, bearing, knots, walked, side=side)
            pipes.append(shapely.LineString(course[-2:]))
    shape = bend_sectors(5, 9, bearing, 300, turns, side=side)
    check_same_ground(shape, pipes, seed=seed, reach=400, apart_m=1.2)


def test_one_bend_has_the_sector_area() -> None:
    """About the tower, radius = what lies past it: exact sector area."""
    shape = bend_sectors(0, 0, 30, 400, [BendTurn(radius_m=250, sweep_deg=70)], side="start")
    assert shape.area == pytest.approx(math.pi * 150**2 * 70 / 360, rel=1e-6)


def test_second_bend_turns_about_a_displaced_tower() -> None:
    turns = [BendTurn(radius_m=100, sweep_deg=90), BendTurn(radius_m=200, sweep_deg=90)]
    course = pipe_course(0, 0, 0, [100, 200, 300], turns, side="stop")
    assert course == pytest.approx(np.array([[0, 100], [100, 100], [100, 0]]), abs=1e-9)


@pytest.mark.parametrize(
    ("turns", "message"),
    [
        ([(200, 50), (100, 50)], "each farther out"),
        ([(100, 50), (100, 50)], "each farther out"),
        ([(500, 50)], "wetted radius of 400 m"),
    ],
)
def test_impossible_bends_are_refused(turns: list[tuple[float, float]], message: str) -> None:
    built = [BendTurn(radius_m=radius, sweep_deg=sweep) for radius, sweep in turns]
    with pytest.raises(DomainError, match=message):
        bend_sectors(0, 0, 0, 400, built, side="stop")


def test_bend_sweep_is_bounded() -> None:
    with pytest.raises(DomainError, match="found sweep 190"):
        BendTurn(radius_m=10, sweep_deg=190)


@settings(max_examples=effort(20))
@given(
    turns=st.lists(st.floats(-80, 80), min_size=0, max_size=2),
    left=st.floats(0, 120),
    right=st.floats(20, 150),
    seed=st.integers(0, 1000),
)
def test_travelled_ground_equals_pipes_laid_down(
    turns: list[float], left: float, right: float, seed: int
) -> None:
    bearings = np.radians(np.cumsum([10.0, *turns]))
    steps = 150 * np.column_stack([np.sin(bearings), np.cos(bearings)])
    corners = np.vstack([[0, 0], np.cumsum(steps, axis=0)])
    path = travel_path(corners)
    pipes = []

    def pipe(at: np.ndarray, heading: float) -> shapely.LineString:
        across = np.array([math.cos(heading), -math.sin(heading)])
        return shapely.LineString([at - left * across, at + right * across])

    for leg, heading in enumerate(bearings):
        pipes += [pipe(corners[leg] + share * steps[leg], heading) for share in np.linspace(0, 1, 300)]
        if leg + 1 < len(bearings):
            pipes += [pipe(corners[leg + 1], angle) for angle in np.linspace(heading, bearings[leg + 1], 300)]
    shape = travel_ground(path, left_m=left, right_m=right)
    check_same_ground(shape, pipes, seed=seed, reach=450, apart_m=0.6)
    rng = np.random.default_rng(seed)
    x, y = rng.uniform(-450, 450, (2, 2000))
    seen = travel_places(path, x, y, left_m=left, right_m=right)
    off_edge = shapely.distance(shapely.boundary(shape), shapely.points(x, y)) > 0.05
    assert (seen.inside == shapely.covers(shape, shapely.points(x, y)))[off_edge].all()
    assert (seen.offset_m[seen.inside] <= right + 1e-9).all()
    assert (seen.offset_m[seen.inside] >= -left - 1e-9).all()


@pytest.mark.parametrize(
    ("corners", "message"),
    [
        ([[0, 0]], "found 1 corners"),
        ([[0, 0], [0, 0]], "0.1 m or more from the next"),
        ([[0, 0], [0, 100], [1, 0]], "found a turn of 179 degrees"),
    ],
)
def test_impossible_paths_are_refused(corners: list[list[float]], message: str) -> None:
    with pytest.raises(GeometryError, match=message):
        travel_path(corners)


def test_a_pipe_needs_a_side() -> None:
    with pytest.raises(GeometryError, match="one above 0 m"):
        travel_ground(travel_path([[0, 0], [0, 100]]), left_m=0, right_m=0)

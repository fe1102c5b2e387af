"""Corner arm: limits against a dense scan, sweep against brute force, rate never exceeded."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Point, Polygon, box

from effort import effort
from ringrow.errors import DomainError
from ringrow.geometry.corner_arm import (
    ArmGeometry,
    arm_course,
    arm_points,
    hinge_points,
    passed_over,
    swept_ground,
)
from ringrow.units import ACRE_M2, FOOT_M

ARM = ArmGeometry(
    x_m=0, y_m=0, hinge_m=300, wheel_m=80, reach_m=100, side="trailing", fold_deg=70, open_deg=170
)
SCAN_DEG = 0.05


def star_field(seed: int, *, hole: bool) -> Polygon:
    """A random concave field round the origin, with a pond when `hole`."""
    rng = np.random.default_rng(seed)
    count = rng.integers(5, 14)
    turn = np.sort(rng.uniform(0, 2 * np.pi, count))
    radius = rng.uniform(330, 560, count)
    field = shapely.make_valid(Polygon(np.column_stack([radius * np.cos(turn), radius * np.sin(turn)])))
    if hole:
        field = field.difference(Point(*rng.uniform(-450, 450, 2)).buffer(20, quad_segs=4))
    return max(shapely.get_parts(field), key=lambda part: part.area)


def scanned_limit(ground: Polygon, arm: ArmGeometry, bearing: float) -> float:
    """Largest angle with every smaller one inside, by trying them a twentieth of a degree apart."""
    angles = np.arange(arm.fold_deg, arm.open_deg + SCAN_DEG / 2, SCAN_DEG)
    pipe = np.full(len(angles), bearing)
    arms = shapely.linestrings(
        np.stack([hinge_points(arm, pipe), arm_points(arm, pipe, angles, along_m=arm.reach_m)], axis=1)
    )
    inside = shapely.covers(ground.buffer(1e-3), arms)
    if not inside[0]:
        return arm.fold_deg
    return float(angles[-1] if inside.all() else angles[np.argmin(inside) - 1])


@settings(max_examples=effort(8))
@given(
    seed=st.integers(0, 10_000),
    side=st.sampled_from(["trailing", "leading"]),
    setback=st.sampled_from([0.0, 10.0]),
)
def test_limit_equals_a_dense_scan(seed: int, side: str, setback: float) -> None:
    ground = star_field(seed, hole=seed % 2 == 0)
    arm = replace(ARM, side=side)
    course = arm_course(ground, arm, setback_m=setback)
    shrunk = ground.buffer(-setback, quad_segs=64) if setback else ground
    for index in range(0, len(course.bearing_deg), 149):
        scanned = scanned_limit(shrunk, arm, course.bearing_deg[index])
        # The scan stops up to one step early; the polygonised setback up to 1 cm of arc early or late.
        assert abs(course.limit_deg[index] - scanned) <= SCAN_DEG + 0.02


@settings(max_examples=effort(8))
@given(seed=st.integers(0, 10_000), rate=st.floats(0.5, 5))
def test_opening_rate_is_never_exceeded_and_the_limit_is_kept(seed: int, rate: float) -> None:
    course = arm_course(star_field(seed, hole=False), replace(ARM, open_rate=rate))
    steps = np.diff(np.append(course.angle_deg, course.angle_deg[0]))
    assert np.abs(steps).max() <= rate * 360 / len(course.bearing_deg) + 1e-9
    assert (course.angle_deg <= course.limit_deg + 1e-9).all()


@settings(max_examples=4)
@given(seed=st.integers(0, 10_000))
def test_sweep_equals_brute_force(seed: int) -> None:
    """Arms laid down ten times as densely cover the same ground, point for point."""
    course = arm_course(star_field(seed, hole=False), ARM)
    fine = np.linspace(0, 360, 10 * len(course.bearing_deg), endpoint=False)
    angle = np.interp(fine, course.bearing_deg, course.angle_deg, period=360)
    segments = shapely.linestrings(
        np.stack([hinge_points(ARM, fine), arm_points(ARM, fine, angle, along_m=ARM.reach_m)], axis=1)
    )
    rng = np.random.default_rng(seed)
    far, turn = rng.uniform(280, 420, 600), rng.uniform(0, 2 * np.pi, 600)
    x, y = far * np.sin(turn), far * np.cos(turn)
    tree = shapely.STRtree(segments)
    _, distance = tree.query_nearest(shapely.points(x, y), return_distance=True, all_matches=False)
    swept = swept_ground(ARM, course)
    ours = shapely.contains_xy(swept, x, y)
    # Neighbouring arms lie up to 0.12 m apart at their ends; on an area of hectares that is far below 0.1 %.
    assert (distance[ours] < 0.08).all()
    assert (shapely.distance(swept, shapely.points(x, y)[distance < 1e-3]) < 0.08).all()
    assert ours.any()


@settings(max_examples=effort(8))
@given(seed=st.integers(0, 10_000), turning=st.sampled_from([0.0, 3.0, 40.0]), steps=st.integers(1, 700))
def test_pieces_cover_what_hulls_of_neighbouring_positions_cover(
    seed: int, turning: float, steps: int
) -> None:
    """A segment on a circle that swings to and fro, until it crosses itself and stands still."""
    rng = np.random.default_rng(seed)
    turn = np.radians(np.cumsum(rng.integers(0, 2, steps + 1) * 0.1))
    swing = turn + turning * np.sin(7 * turn + rng.uniform(0, 6)) * rng.choice([-1, 1])
    inner = 300 * np.column_stack([np.sin(turn), np.cos(turn)])
    outer = inner + 100 * np.column_stack([np.sin(swing), np.cos(swing)])
    hulls = shapely.convex_hull(
        shapely.multipoints(np.hstack([inner[:-1], outer[:-1], outer[1:], inner[1:]]).reshape(-1, 4, 2))
    )
    ours, brute = shapely.union_all(passed_over(inner, outer)), shapely.union_all(hulls)
    assert shapely.symmetric_difference(ours, brute).area <= 1e-9 * brute.area


def test_always_open_is_a_disc() -> None:
    """Law of cosines: the wetted end of an arm held open runs on a circle about the pivot point."""
    course = arm_course(Point(0, 0).buffer(2000), ARM)
    assert course.angle_deg == pytest.approx(ARM.open_deg, abs=1e-9)
    h, t, phi = ARM.hinge_m, ARM.reach_m, math.radians(ARM.open_deg)
    radius = math.sqrt(h * h + t * t - 2 * h * t * math.cos(phi))
    swept = shapely.union_all([swept_ground(ARM, course), Point(0, 0).buffer(h, quad_segs=2000)])
    assert swept.area == pytest.approx(math.pi * radius**2, rel=1e-5)


def test_quarter_section_stays_under_the_quoted_upper_bound() -> None:
    """Row E10: 147 to 154 ac quoted for a quarter section (extension pivot guides, from memory)."""
    half = 1320 * FOOT_M
    arm = ArmGeometry(
        x_m=0,
        y_m=0,
        hinge_m=1250 * FOOT_M,
        wheel_m=262 * FOOT_M,
        reach_m=317 * FOOT_M,
        side="trailing",
        fold_deg=80,
        open_deg=165,
    )
    ground = box(-half, -half, half, half)
    course = arm_course(ground, arm, setback_m=10 * FOOT_M)
    wet = shapely.union_all([swept_ground(arm, course), Point(0, 0).buffer(arm.hinge_m, quad_segs=500)])
    assert wet.area / ACRE_M2 < 154.1
    assert wet.difference(box(-half + 3.048, -half + 3.048, half - 3.048, half - 3.048)).area < 1.0


def test_folded_arm_outside_is_reported() -> None:
    course = arm_course(box(-320, -320, 320, 320), replace(ARM, fold_deg=120))
    assert course.folded_out.any()
    assert not course.folded_out.all()
    assert (course.limit_deg[course.folded_out] == 120).all()


def test_part_circle_has_both_ends() -> None:
    course = arm_course(Point(0, 0).buffer(900), ARM, limits_deg=(300, 60))
    assert course.bearing_deg[0] == 300
    assert course.bearing_deg[-1] == pytest.approx(420)
    assert not course.full_circle


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"fold_deg": 170}, "fold 170, open 170"),
        ({"open_deg": 181}, "open 181"),
        ({"wheel_m": 120}, "wheels 120 m, reach 100 m"),
        ({"open_rate": 0}, "open_rate 0"),
    ],
)
def test_impossible_arms_are_refused(change: dict[str, float], message: str) -> None:
    with pytest.raises(DomainError, match=message):
        replace(ARM, **change)

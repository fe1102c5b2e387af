"""Corner arms on fields: sweep against brute force, gun against a scan, sectors, leaning north."""

from __future__ import annotations

import math
import time
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, Point, Polygon, affinity, box

from effort import effort
from ringrow.coverage.acres import field_acres
from ringrow.coverage.arm_layout import hinge_angles, lay_out_arm
from ringrow.coverage.arm_table import arm_rows, arm_stray
from ringrow.coverage.field import ArmLayout, Field
from ringrow.coverage.layout import lay_out
from ringrow.equipment.corner_arm import CornerArm
from ringrow.equipment.pivot import EndGun, Pivot, Sector
from ringrow.errors import GeometryError
from ringrow.frame import Frame
from ringrow.geometry.corner_arm import arm_points, hinge_points
from ringrow.units import ACRE_M2, FOOT_M

FRAME = Frame(lon=-101.5, lat=36.75)
HALF_M = 1320 * FOOT_M
QUARTER = box(-HALF_M, -HALF_M, HALF_M, HALF_M)
GUN = EndGun(reach_m=100 * FOOT_M)
ARM = CornerArm(
    length_m=262 * FOOT_M,
    overhang_m=40 * FOOT_M,
    throw_m=15 * FOOT_M,
    side="trailing",
    fold_deg=80,
    open_deg=165,
)


def machine(arm: CornerArm = ARM, **parts: object) -> Pivot:
    """Hinge 1,150 ft from the pivot point."""
    settings = {"name": "Creek pivot", "x_m": 0.0, "y_m": 0.0, "spans_m": (1150 / 6 * FOOT_M,) * 6}
    return Pivot(**{**settings, **parts}, corner_arm=arm)  # type: ignore[arg-type]


def field(pivot: Pivot, boundary: Polygon = QUARTER, **parts: object) -> Field:
    return Field(name="Creek quarter", frame=FRAME, boundary=boundary, pivots=(pivot,), **parts)  # type: ignore[arg-type]


def arm_of(it: Field) -> ArmLayout:
    found = lay_out(it).pivots[0].corner_arm
    assert found is not None
    return found


def star(seed: int) -> Polygon:
    """A random field round the pivot point that bulges in and out past the reach of the arm."""
    rng = np.random.default_rng(seed)
    count = int(rng.integers(6, 14))
    turn = np.sort(rng.uniform(0, 2 * np.pi, count))
    radius = rng.uniform(400, 600, count)
    made = shapely.make_valid(Polygon(np.column_stack([radius * np.sin(turn), radius * np.cos(turn)])))
    return max(shapely.get_parts(made), key=lambda part: part.area)


def brute_swept(ground: Polygon, pivot: Pivot, setback_m: float) -> shapely.geometry.base.BaseGeometry:
    """The definition word by word: every angle tried, every azimuth against every other, arms laid down.

    Angles are tried a fifth of a degree apart on a polygon shrunk by the setback, azimuths a half.
    """
    arm = pivot.corner_arm
    assert arm is not None
    shrunk = ground.buffer(-setback_m, quad_segs=64) if setback_m else ground
    allowed = shrunk.buffer(1e-3)
    shapely.prepare(allowed)
    sector = pivot.sector
    start, sweep = (0.0, 360.0) if sector is None else (sector.start_deg, sector.sweep_deg)
    azimuth = start + np.linspace(0, sweep, int(sweep / 0.5) + 1)
    angles = np.arange(arm.fold_deg, arm.open_deg + 1e-9, 0.2)
    limit = np.empty(len(azimuth))
    for at, turned in enumerate(azimuth + pivot.convergence_deg):
        inside = shapely.covers(allowed, segments(pivot, np.full(len(angles), turned), angles))
        stop = int(np.argmin(inside)) if not inside.all() else len(angles)
        limit[at] = angles[max(stop - 1, 0)]
    apart = np.abs(azimuth[:, None] - azimuth[None])
    if sector is None:
        apart = np.minimum(apart, 360 - apart)
    phi = (limit[None] + arm.open_rate * apart).min(axis=1)
    fine = start + np.linspace(0, sweep, int(sweep / 0.02) + 1)
    arms = segments(pivot, fine + pivot.convergence_deg, np.interp(fine, azimuth, phi))
    quads = shapely.get_coordinates(arms).reshape(-1, 4)
    return shapely.union_all(
        shapely.convex_hull(shapely.multipoints(np.hstack([quads[:-1], quads[1:]]).reshape(-1, 4, 2)))
    )


def segments(pivot: Pivot, bearing: np.ndarray, angle: np.ndarray) -> np.ndarray:
    """Arms from hinge to wetted end, by plain trigonometry."""
    arm = pivot.corner_arm
    assert arm is not None
    a, h = np.radians(bearing), pivot.tower_radii_m[-1]
    back = np.radians(bearing + (180 + angle if arm.side == "trailing" else 180 - angle))
    hinge = np.column_stack([pivot.x_m + h * np.sin(a), pivot.y_m + h * np.cos(a)])
    return shapely.linestrings(
        np.stack([hinge, hinge + arm.reach_m * np.column_stack([np.sin(back), np.cos(back)])], axis=1)
    )


@pytest.mark.parametrize(
    ("seed", "side", "setback_m", "sector"),
    [
        (None, "trailing", 3.048, None),
        (None, "leading", 0.0, Sector(start_deg=300, stop_deg=130)),
        (3, "trailing", 0.0, None),
        (8, "leading", 9.144, Sector(start_deg=20, stop_deg=310)),
        (11, "trailing", 9.144, None),
    ],
)
def test_wetted_ground_equals_brute_force(
    seed: int | None, side: str, setback_m: float, sector: Sector | None
) -> None:
    """Within 0.1 % of the machine's wetted ground."""
    ground = QUARTER if seed is None else star(seed)
    pivot = machine(replace(ARM, side=side), sector=sector, convergence_deg=0.4)
    layout = lay_out(field(pivot, ground, setback_m=setback_m)).pivots[0]
    brute = shapely.union(layout.base, brute_swept(ground, pivot, setback_m))
    assert layout.wetted.area == pytest.approx(brute.area, rel=1e-3)
    assert shapely.symmetric_difference(layout.wetted, brute).area < 1e-3 * brute.area


@pytest.mark.parametrize("sector", [None, Sector(start_deg=300, stop_deg=130)])
@pytest.mark.parametrize("side", ["trailing", "leading"])
def test_pipe_and_arm_are_one_ground_without_slivers(side: str, sector: Sector | None) -> None:
    """The hinge's circle is drawn by the same corners on both its sides."""
    layout = lay_out(field(machine(replace(ARM, side=side), sector=sector, convergence_deg=0.4))).pivots[0]
    assert layout.wetted.geom_type == "Polygon"
    assert not layout.wetted.interiors


def test_always_open_is_the_disc_of_the_stated_radius() -> None:
    layout = lay_out(field(machine(), Point(0, 0).buffer(2000))).pivots[0]
    h, t, phi = 1150 * FOOT_M, ARM.reach_m, math.radians(165)
    assert layout.wetted.area == pytest.approx(
        math.pi * (h * h + t * t - 2 * h * t * math.cos(phi)), rel=1e-5
    )


def test_quarter_section_lies_within_what_is_commonly_quoted() -> None:
    """Row E10: about 147 to 154 ac in a quarter section (extension pivot guides, from memory)."""
    acres = field_acres(lay_out(field(machine(), setback_m=3.048))).systems[0]
    assert acres.irrigated_m2 / ACRE_M2 < 154.1
    assert acres.corner_arm_m2 is not None
    base = math.pi * (1150 * FOOT_M) ** 2
    assert acres.corner_arm_m2 + base == pytest.approx(acres.irrigated_m2, rel=1e-6)


@settings(max_examples=effort(15))
@given(seed=st.integers(0, 10_000), setback=st.sampled_from([0.0, 9.144]), rate=st.floats(0.5, 4))
def test_no_water_outside_unless_it_is_reported(seed: int, setback: float, rate: float) -> None:
    ground = star(seed)
    it = field(machine(replace(ARM, open_rate=rate, end_gun=GUN)), ground, setback_m=setback)
    layout = lay_out(it).pivots[0]
    arm = layout.corner_arm
    assert arm is not None
    shrunk = ground.buffer(-setback, quad_segs=64) if setback else ground
    outside = shapely.difference(shapely.union(arm.swept, arm.gun), shrunk)
    stray = arm_stray(layout, it, ground)
    # Positions lie a tenth of a degree apart: between two of them a corner may be cut by a hand.
    assert outside.area - stray.area_m2 < 2e-6 * layout.wetted.area
    assert bool(stray.arcs) == bool(arm.course.folded_out.any())
    steps = np.diff(np.append(arm.course.angle_deg, arm.course.angle_deg[0]))
    assert np.abs(steps).max() <= rate * 360 / len(steps) + 1e-9


def test_a_folded_arm_that_throws_over_the_fence_is_reported() -> None:
    """Folded square to the pipe its end comes sqrt(H2 + T2) from the pivot point."""
    it = field(machine(replace(ARM, fold_deg=90)), box(-355, -400, 400, 400))
    layout = lay_out(it)
    stray = arm_stray(layout.pivots[0], it, layout.farmable)
    far = math.hypot(1150 * FOOT_M, ARM.reach_m)
    assert far > 355
    assert len(stray.arcs) == 1
    # The wetted end leads the pipe by -atan(T / H): it is west when the pipe has passed it by that much.
    middle = (stray.arcs[0].start_deg + stray.arcs[0].sweep_deg / 2) % 360
    assert middle == pytest.approx(270 + math.degrees(math.atan2(ARM.reach_m, 1150 * FOOT_M)), abs=0.2)
    half = math.degrees(math.acos(355 / far))
    assert stray.arcs[0].sweep_deg / 2 == pytest.approx(half, abs=0.2)
    assert 0 < stray.area_m2 < shapely.difference(layout.pivots[0].wetted, layout.farmable).area + 1


def test_true_azimuths_where_north_leans() -> None:
    """Turning the field under a machine by its convergence changes nothing that is told in azimuths."""
    arm = replace(ARM, end_gun=GUN)
    straight = lay_out(field(machine(arm), star(5), setback_m=5.0)).pivots[0]
    leaning = lay_out(
        field(
            machine(arm, convergence_deg=2.0),
            affinity.rotate(star(5), -2.0, origin=(0, 0)),
            setback_m=5.0,
        )
    ).pivots[0]
    assert leaning.wetted.area == pytest.approx(straight.wetted.area, rel=1e-4)
    assert straight.corner_arm is not None
    assert leaning.corner_arm is not None
    for ours, theirs in zip(straight.corner_arm.gun_arcs, leaning.corner_arm.gun_arcs, strict=True):
        assert (theirs.start_deg, theirs.stop_deg) == pytest.approx((ours.start_deg, ours.stop_deg), abs=0.05)
    for one, other in zip(arm_rows(straight), arm_rows(leaning), strict=True):
        assert (other.azimuth_deg, other.angle_deg) == pytest.approx(
            (one.azimuth_deg, one.angle_deg), abs=0.15
        )
        assert other.station_m == pytest.approx(one.station_m, abs=0.5)


def test_sector_limits_bind_the_pipe_and_not_the_arm() -> None:
    """A trailing arm lies behind the pipe: it wets ground before the start, none past the stop."""
    sector = Sector(start_deg=0, stop_deg=90)
    layout = lay_out(field(machine(sector=sector), Point(0, 0).buffer(2000))).pivots[0]
    assert layout.corner_arm is not None
    west = box(-600, -600, 0, 600)
    assert shapely.intersection(layout.corner_arm.swept, west).area > 100
    assert shapely.intersection(layout.wetted, box(-600, -600, 600, -1e-6)).area < 1e-3
    assert layout.base.area == pytest.approx(math.pi / 4 * (1150 * FOOT_M) ** 2, rel=1e-9)


def test_gun_arcs_equal_a_dense_scan() -> None:
    """Every hundredth of a degree the gun's water stays on the ground and its full disc off the wire."""
    wire = LineString([(-600, -440), (600, -440)])
    pond = box(330, 330, 360, 360)
    it = field(machine(replace(ARM, end_gun=GUN)), setback_m=3.048, exclusions=pond, keep_off=wire)
    layout = lay_out(it)
    arm = layout.pivots[0].corner_arm
    assert arm is not None
    turn = np.arange(0, 360, 0.01)
    phi = hinge_angles(arm.course, turn)
    ends = [
        arm_points(arm.arm, turn, phi, along_m=along)
        for along in (ARM.reach_m, 302 * FOOT_M + GUN.reach_m, 302 * FOOT_M)
    ]
    water = shapely.linestrings(np.stack(ends[:2], axis=1))
    shrunk = layout.farmable.buffer(-3.048, quad_segs=64).buffer(1e-4)
    free = shapely.covers(shrunk, water) & (
        shapely.distance(wire, shapely.points(ends[2])) >= GUN.reach_m / 0.75
    )
    inside = [((turn - arc.start_deg) % 360) <= arc.sweep_deg for arc in arm.gun_arcs]
    short = 5.0 / 360
    said = np.any(inside, axis=0)
    assert (free[said]).mean() > 0.9995
    assert (free & ~said).mean() < short
    assert len(arm.gun_arcs) >= 3
    assert shapely.distance(arm.gun, wire) > 0


def test_wheels_walk_the_path_and_stations_are_their_way() -> None:
    layout = lay_out(field(machine(), setback_m=3.048)).pivots[0]
    arm = layout.corner_arm
    assert arm is not None
    rows = arm_rows(layout)
    assert rows[0].azimuth_deg == 0
    assert rows[0].station_m == 0
    assert arm.wheel_path.is_closed
    for row in rows:
        wheels = Point(row.x_m, row.y_m)
        assert arm.wheel_path.distance(wheels) < 1e-3
        assert arm.wheel_path.interpolate(row.station_m).distance(wheels) < 1e-2
        hinge = hinge_points(arm.arm, np.array([row.azimuth_deg]))[0]
        assert Point(hinge).distance(wheels) == pytest.approx(262 * FOOT_M)
    marks = [row.mark for row in rows if row.mark]
    # Once into each of four corners.
    assert marks.count("fully open") == 4
    assert marks.count("starts to fold") == marks.count("starts to open") == 4
    even = [row for row in rows if not row.mark]
    assert len(even) == 36


def test_a_part_circle_has_rows_at_both_ends() -> None:
    layout = lay_out(field(machine(sector=Sector(start_deg=305, stop_deg=62)), setback_m=3.048)).pivots[0]
    rows = arm_rows(layout)
    assert (rows[0].azimuth_deg, rows[-1].azimuth_deg) == (305, 62)
    assert rows[0].station_m == 0
    assert rows[-1].station_m == pytest.approx(layout.corner_arm.wheel_path.length)  # type: ignore[union-attr]


def test_a_field_with_a_corner_arm_is_laid_out_well_under_a_second() -> None:
    it = field(machine(replace(ARM, end_gun=GUN)), star(4), setback_m=3.048)
    lay_out(it)
    began = time.process_time()
    lay_out(it)
    assert time.process_time() - began < 1.0


def test_without_an_arm_there_is_nothing_to_lay_out() -> None:
    plain = Pivot(name="P", x_m=0, y_m=0, spans_m=(300.0,))
    with pytest.raises(GeometryError, match='pivot "P" corner arm: found none; allowed: a machine with'):
        lay_out_arm(field(machine()), plain, QUARTER, QUARTER)
    layout = lay_out(field(plain)).pivots[0]
    assert arm_rows(layout) == ()
    assert arm_stray(layout, field(plain), QUARTER).arcs == ()

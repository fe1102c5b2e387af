"""Places on bends, corner arms and lateral moves against machines walked step by step.

The walked machine is plain trigonometry written here: joints one after another, no shape and no
closed form of the program. What the program says of a point must put the pipe over that point.
"""

from __future__ import annotations

import math
from functools import lru_cache
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from effort import effort
from ringrow.coverage.field import Field
from ringrow.coverage.lateral_move_layout import lay_out_lateral_move
from ringrow.coverage.locate_moves import move_place_at, move_places, move_xy
from ringrow.coverage.locate_pivots import pivot_place_at, pivot_place_list, pivot_places
from ringrow.coverage.pivot_layout import lay_out_pivot
from ringrow.equipment.corner_arm import Bend, CornerArm
from ringrow.equipment.lateral_move import LateralMove, Wing
from ringrow.equipment.pivot import EndGun, Pivot, Sector
from ringrow.frame import Frame

FRAME = Frame(lon=-101.5, lat=36.75)
SPANS = (52.0, 55.0, 48.0, 50.0, 40.0)


def laid(pivot: Pivot, ground=None):
    ground = shapely.box(-900, -900, 900, 900) if ground is None else ground
    field = Field(name="F", frame=FRAME, boundary=ground, pivots=(pivot,), setback_m=5.0)
    return lay_out_pivot(field, pivot, ground)


def seen(layout, x: float, y: float):
    return pivot_place_list(layout, pivot_places(layout, [x], [y], 2.0))[0]


def walk_out(x: float, y: float, bearing_deg: float, metres: float) -> tuple[float, float]:
    turn = math.radians(bearing_deg)
    return x + metres * math.sin(turn), y + metres * math.cos(turn)


def on_bent_pipe(pivot: Pivot, at: str, turned: dict[int, float], pipe_m: float) -> tuple[float, float]:
    """Where a point of the pipe is: each span laid on from the joint before, turned at its bend tower."""
    assert pivot.sector is not None
    azimuth = pivot.sector.stop_deg if at == "stop" else pivot.sector.start_deg
    bearing, sign = azimuth + pivot.convergence_deg, 1 if at == "stop" else -1
    x, y, left = pivot.x_m, pivot.y_m, pipe_m
    for tower, span in enumerate((*pivot.spans_m, 1e9), 1):
        step = min(left, span)
        x, y = walk_out(x, y, bearing, step)
        left -= step
        bearing += sign * turned.get(tower, 0.0)
    return x, y


def bent_machine(*bends: Bend, start: float = 300.0, sweep: float = 150.0) -> Pivot:
    return Pivot(
        name="P1",
        x_m=20.0,
        y_m=-30.0,
        convergence_deg=0.13,
        spans_m=SPANS,
        overhang_m=12.0,
        throw_m=6.0,
        sector=Sector(start_deg=start, stop_deg=(start + sweep) % 360),
        bends=tuple(bends),
        outlets_m=tuple(np.arange(5.0, 257.0, 5.0).tolist()),
    )


@given(
    st.integers(1, 4), st.floats(5, 180), st.floats(0.01, 0.99), st.floats(0.01, 0.999), st.floats(20, 200),
    st.sampled_from(["start", "stop"]),
)  # fmt: skip
def test_a_point_under_one_bend_is_found_on_the_bent_pipe(
    tower: int, sweep: float, share: float, out: float, sector: float, at: str
) -> None:
    pivot = bent_machine(Bend(tower=tower, at=at, sweep_deg=sweep), sweep=sector)
    radius = pivot.tower_radii_m[tower - 1]
    pipe_m = radius + out * (pivot.base_radius_m - radius)
    x, y = on_bent_pipe(pivot, at, {tower: share * sweep}, pipe_m)
    place = seen(laid(pivot), x, y)
    assert place.inside
    turned = (place.azimuth_deg - pivot.sector.start_deg) % 360
    if turned <= sector or turned >= 360 - 1e-6:
        # Walked on so far that it is back on ground the straight machine waters.
        assert place.bend is None
        assert place.pipe_m == place.distance_m
        return
    assert place.bend is not None
    assert (place.bend.at, place.bend.tower) == (at, tower)
    assert place.pipe_m == pytest.approx(pipe_m, abs=1e-6)
    assert place.bend.turned_deg == pytest.approx(share * sweep, abs=1e-5)
    radii = np.array(pivot.tower_radii_m)
    assert abs(place.tower_offset_m) == pytest.approx(np.abs(radii - pipe_m).min(), abs=1e-6)
    assert place.tower_offset_m == pytest.approx(pipe_m - radii[place.tower - 1], abs=1e-6)


@given(st.floats(-300, 300), st.floats(-300, 300))
@settings(max_examples=effort(300))
def test_two_bends_at_each_end_hold_just_the_ground_that_was_laid_out(east: float, north: float) -> None:
    pivot, layout = many_bends()
    x, y = pivot.x_m + east, pivot.y_m + north
    place, point = seen(layout, x, y), shapely.Point(x, y)
    # Chords of the drawn arcs lie within 0.01 m of them.
    if shapely.distance(shapely.boundary(shapely.union(layout.bends, layout.base)), point) < 0.02:
        return
    if shapely.distance(shapely.boundary(layout.base), point) < 0.02:
        return
    in_bend = bool(shapely.covers(layout.bends, point)) and not bool(shapely.covers(layout.base, point))
    assert (place.bend is not None) == in_bend
    if place.bend is not None:
        turned = dict.fromkeys(
            [
                bend.tower
                for bend in pivot.bends
                if bend.at == place.bend.at and bend.tower < place.bend.tower
            ],
            0.0,
        )
        turned |= {b.tower: b.sweep_deg for b in pivot.bends if b.at == place.bend.at and b.tower in turned}
        turned[place.bend.tower] = place.bend.turned_deg
        there = on_bent_pipe(pivot, place.bend.at, turned, place.bend.pipe_m)
        assert there == (pytest.approx(x, abs=1e-6), pytest.approx(y, abs=1e-6))


@lru_cache
def many_bends():
    pivot = bent_machine(
        Bend(tower=1, at="start", sweep_deg=40.0), Bend(tower=3, at="start", sweep_deg=70.0),
        Bend(tower=2, at="stop", sweep_deg=55.0), Bend(tower=4, at="stop", sweep_deg=120.0),
    )  # fmt: skip
    return pivot, laid(pivot)


@lru_cache
def arm_machine(side: str, fold: float, sector: bool):
    arm = CornerArm(
        length_m=80.0, overhang_m=12.0, throw_m=4.0, side=side, fold_deg=fold, open_deg=165.0,
        open_rate=3.0, end_gun=EndGun(reach_m=25.0, arcs="always"),
    )  # fmt: skip
    pivot = Pivot(
        name="P1",
        x_m=10.0,
        y_m=5.0,
        convergence_deg=-0.08,
        spans_m=(60.0,) * 6,
        panel_zero_deg=90.0,
        corner_arm=arm,
        sector=Sector(start_deg=30.0, stop_deg=290.0) if sector else None,
    )
    return pivot, laid(pivot, shapely.box(-395, -395, 395, 395))


def on_arm(pivot: Pivot, layout, bearing_deg: float, along_m: float) -> tuple[float, float]:
    """Main pipe walked out to the hinge, then the arm turned off it; its angle read off the course."""
    course = layout.corner_arm.course
    bearings, angles = course.bearing_deg, course.angle_deg
    if course.full_circle:
        bearings, angles = np.append(bearings, bearings[0] + 360), np.append(angles, angles[0])
    first = float(bearings[0])
    angle = float(np.interp(first + (bearing_deg - first) % 360, bearings, angles))
    back = angle - 180 if pivot.corner_arm.side == "trailing" else 180 - angle
    hinge = walk_out(pivot.x_m, pivot.y_m, bearing_deg, pivot.tower_radii_m[-1])
    return walk_out(*hinge, bearing_deg + back, along_m)


@given(
    st.sampled_from(["trailing", "leading"]), st.sampled_from([60.0, 90.0]), st.booleans(),
    st.floats(0.001, 0.999), st.floats(0.5, 96.0),
)  # fmt: skip
@settings(max_examples=effort(200))
def test_a_point_under_the_arm_is_found_on_it(
    side: str, fold: float, sector: bool, share: float, along: float
) -> None:
    pivot, layout = arm_machine(side, fold, sector)
    sweep, start = (260.0, 30.0 + pivot.convergence_deg) if sector else (360.0, 0.0)
    x, y = on_arm(pivot, layout, start + share * sweep, along)
    place = seen(layout, x, y)
    if shapely.distance(layout.base, shapely.Point(x, y)) < 0.02:
        return
    assert place.arm is not None
    assert (place.part, place.inside) == ("arm", True)
    # Several passages may reach it; the one named is the nearest to the hinge.
    assert place.arm.along_m <= along + 1e-5
    there = on_arm(pivot, layout, place.arm.azimuth_deg + pivot.convergence_deg, place.arm.along_m)
    assert there == (pytest.approx(x, abs=1e-4), pytest.approx(y, abs=1e-4))
    assert place.arm.panel_deg == pytest.approx((place.arm.azimuth_deg - 90) % 360, abs=1e-9)
    if place.arm.along_m > 92.0:
        # Past the pipe end: nothing hangs there.
        return
    again = pivot_place_at(layout, place.pipe_m, place.arm.azimuth_deg)
    assert again.arm is not None
    assert again.arm.angle_deg == pytest.approx(place.arm.angle_deg, abs=1e-6)
    assert again.distance_m == pytest.approx(place.distance_m, abs=1e-4)


@lru_cache
def arm_ground(side: str, sector: bool):
    """A machine, what its pipe and arm wet together, and the edges of that and of the pipe's ground."""
    _, layout = arm_machine(side, 90.0, sector)
    swept = shapely.union(layout.corner_arm.swept, layout.base)
    edges = shapely.union_all([shapely.boundary(swept), shapely.boundary(layout.base)])
    shapely.prepare([swept, layout.base])
    return layout, swept, edges


@given(st.sampled_from(["trailing", "leading"]), st.booleans(), st.floats(-480, 480), st.floats(-480, 480))
@settings(max_examples=effort(300))
def test_the_arm_holds_just_the_ground_it_sweeps(side: str, sector: bool, x: float, y: float) -> None:
    layout, swept, edges = arm_ground(side, sector)
    point = shapely.Point(x, y)
    # Between two positions, a tenth of a degree apart, the swept ground is a flat-sided hull.
    if shapely.distance(edges, point) < 0.05:
        return
    under = bool(shapely.covers(swept, point)) and not bool(shapely.covers(layout.base, point))
    assert (seen(layout, x, y).part == "arm") == under


@lru_cache
def walker(path: tuple[tuple[float, float], ...], left: int, right: int):
    move = LateralMove(
        name="L1",
        path_m=path,
        left=Wing(spans_m=SPANS[:left], overhang_m=10.0, throw_m=5.0),
        right=Wing(spans_m=SPANS[:right], overhang_m=6.0, throw_m=4.0),
    )
    return move, lay_out_lateral_move(move)


PATHS = [
    ((0.0, 0.0), (0.0, 700.0)),
    ((0.0, 0.0), (400.0, 100.0), (500.0, 600.0)),
    ((-300.0, 50.0), (0.0, 0.0), (30.0, -350.0), (400.0, -400.0)),
]


@given(st.sampled_from(PATHS), st.floats(0, 1), st.floats(0.01, 0.99), st.floats(0, 0.999), st.booleans())
@settings(max_examples=effort(200))
def test_a_point_under_a_lateral_move_is_found_on_it(
    path: tuple[tuple[float, float], ...], leg_share: float, along_share: float, out: float, right: bool
) -> None:
    move, layout = walker(path, 5, 3)
    legs = list(pairwise(path))
    (x0, y0), (x1, y1) = legs[min(int(leg_share * len(legs)), len(legs) - 1)]
    bearing = math.degrees(math.atan2(x1 - x0, y1 - y0))
    wing = move.right if right else move.left
    cart = (x0 + along_share * (x1 - x0), y0 + along_share * (y1 - y0))
    x, y = walk_out(*cart, bearing + (90 if right else -90), out * wing.reach_m)
    (place,) = move_places(layout, [x], [y])
    if shapely.distance(shapely.boundary(layout.wetted), shapely.Point(x, y)) > 0.02:
        assert place.inside
    assert place.offset_m <= out * wing.reach_m + 1e-6
    assert (place.travel_m, place.offset_m) == passages_nearest(path, move, x, y)
    towers = np.array(move.wing(place.side).tower_offsets_m)
    assert abs(place.tower_offset_m) == pytest.approx(np.abs(towers - place.offset_m).min(), abs=1e-9)


def passages_nearest(path, move: LateralMove, x: float, y: float):
    """Walk the machine leg by leg, and turn it at each corner; keep the passage nearest the cart."""
    best, walked, before = None, 0.0, None
    for (x0, y0), (x1, y1) in pairwise(path):
        length, bearing = math.hypot(x1 - x0, y1 - y0), math.degrees(math.atan2(x1 - x0, y1 - y0))
        ahead = ((x1 - x0) / length, (y1 - y0) / length)
        along = (x - x0) * ahead[0] + (y - y0) * ahead[1]
        across = (x - x0) * ahead[1] - (y - y0) * ahead[0]
        reach = move.right.reach_m if across > 0 else move.left.reach_m
        if -1e-6 <= along <= length + 1e-6 and abs(across) <= reach + 1e-6:
            best = min(filter(None, (best, (abs(across), walked + along))))
        if before is not None:
            turn = (bearing - before + 180) % 360 - 180
            for hand, reach in ((90.0, move.right.reach_m), (-90.0, move.left.reach_m)):
                away = math.hypot(x - x0, y - y0)
                toward = math.degrees(math.atan2(x - x0, y - y0))
                swept = ((1 if turn > 0 else -1) * (toward - before - hand)) % 360
                if swept <= abs(turn) and away <= reach:
                    best = min(filter(None, (best, (away, walked))))
        walked, before = walked + length, bearing
    assert best is not None
    return pytest.approx(best[1], abs=1e-4), pytest.approx(best[0], abs=1e-4)


@given(st.sampled_from(PATHS), st.floats(0.01, 0.99), st.floats(0, 1), st.sampled_from(["left", "right"]))
def test_a_place_said_on_a_lateral_move_is_where_it_says(
    path: tuple[tuple[float, float], ...], share: float, out: float, side: str
) -> None:
    move, layout = walker(path, 5, 3)
    travel = share * float(layout.path.starts_m[-1])
    said = move_place_at(layout, side, out * move.wing(side).length_m, travel_m=travel)
    at = move_xy(layout, said)
    assert at is not None
    # The same travel stepped off along the path, the pipe square to the leg.
    left, bearing, cart = travel, 0.0, path[0]
    for (x0, y0), (x1, y1) in pairwise(path):
        length, bearing = math.hypot(x1 - x0, y1 - y0), math.degrees(math.atan2(x1 - x0, y1 - y0))
        cart = walk_out(x0, y0, bearing, min(left, length))
        if left <= length:
            break
        left -= length
    there = walk_out(*cart, bearing + (90 if side == "right" else -90), said.offset_m)
    assert at == (pytest.approx(there[0], abs=1e-6), pytest.approx(there[1], abs=1e-6))

"""Bends, lateral moves and towed machines on their field: ground, towers, acres."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
import shapely
from shapely import LineString, Point, affinity, box

from ringrow.coverage.acres import field_acres
from ringrow.coverage.field import Field
from ringrow.coverage.lateral_move_layout import lay_out_lateral_move, tower_path
from ringrow.coverage.layout import lay_out
from ringrow.coverage.pivot_layout import bent_ground, bent_pipe
from ringrow.equipment.corner_arm import Bend
from ringrow.equipment.drip import DripBlock
from ringrow.equipment.lateral_move import LateralMove, Wing
from ringrow.equipment.pivot import EndGun, Pivot, Sector
from ringrow.errors import GeometryError
from ringrow.frame import Frame
from ringrow.geometry.travel import travel_path
from ringrow.handoff.field_features import tower_track

FRAME = Frame(lon=-101.5, lat=36.75)
BIG = box(-900, -900, 900, 900)
SECTOR = Sector(start_deg=20, stop_deg=200)
BENDS = (
    Bend(tower=2, at="stop", sweep_deg=70),
    Bend(tower=4, at="stop", sweep_deg=40),
    Bend(tower=3, at="start", sweep_deg=55),
)


def field(*pivots: Pivot, **parts: object) -> Field:
    return Field(name="Field", **{"frame": FRAME, "boundary": BIG, "pivots": pivots, **parts})  # type: ignore[arg-type]


def bent(**parts: object) -> Pivot:
    """Five spans of 60 m, 10 m of overhang, 5 m of throw, bends at both stops."""
    settings = {"x_m": 12.0, "y_m": -7.0, "spans_m": (60.0,) * 5, "overhang_m": 10.0, "throw_m": 5.0}
    machine = {"name": "Bent pivot", "sector": SECTOR, "bends": BENDS, "convergence_deg": 0.5}
    return Pivot(**{**settings, **machine, **parts})  # type: ignore[arg-type]


def walked(pivot: Pivot, *, step_deg: float = 0.05) -> np.ndarray:
    """Every pipe from pivot point to wetted end, walked joint by joint with plain complex numbers."""
    pipes = []
    centre = complex(pivot.x_m, pivot.y_m)
    radii, reach = pivot.tower_radii_m, pivot.base_radius_m
    for end, sign in (("stop", 1.0), ("start", -1.0)):
        bearing = pivot.convergence_deg + (SECTOR.stop_deg if end == "stop" else SECTOR.start_deg)
        fixed = [(0.0, bearing)]
        for bend in (bend for bend in pivot.bends if bend.at == end):
            for turned in np.arange(0.0, bend.sweep_deg + step_deg / 2, step_deg):
                joints = [*fixed, (radii[bend.tower - 1], fixed[-1][1] + sign * turned)]
                points, at = [centre], centre
                for number, (radius, heading) in enumerate(joints):
                    outer = joints[number + 1][0] if number + 1 < len(joints) else reach
                    at += (outer - radius) * 1j * np.exp(-1j * np.radians(heading))
                    points.append(at)
                pipes.append(LineString([(point.real, point.imag) for point in points]))
            fixed.append((radii[bend.tower - 1], fixed[-1][1] + sign * bend.sweep_deg))
    return np.array(pipes, dtype=object)


def test_bends_equal_pipes_walked_joint_by_joint() -> None:
    pivot = bent()
    layout = lay_out(field(pivot)).pivots[0]
    pipes = walked(pivot)
    rng = np.random.default_rng(7)
    x, y = rng.uniform(-420, 420, (2, 2000))
    points = shapely.points(x, y)
    _, away = shapely.STRtree(pipes).query_nearest(points, return_distance=True, all_matches=False)
    wetted = shapely.union(layout.base, layout.bends)
    ours = shapely.covers(wetted, points)
    # Neighbouring pipes lie at most 0.28 m apart at their ends.
    touched = away < 0.15
    assert (ours[touched] | (shapely.distance(wetted, points[touched]) < 0.15)).all()
    assert (away[shapely.covers(layout.bends, points) & ~shapely.covers(layout.base, points)] < 0.15).all()
    assert layout.bends.area > 1000


def test_one_bend_adds_a_sector_about_its_tower() -> None:
    pivot = bent(bends=(Bend(tower=2, at="stop", sweep_deg=90),), sector=Sector(start_deg=0, stop_deg=90))
    layout = lay_out(field(pivot)).pivots[0]
    assert layout.bends.area == pytest.approx(math.pi / 4 * (315 - 120) ** 2, rel=1e-9)
    # Past the stop nothing else is wet, so that it adds all of it.
    assert layout.wetted.area == pytest.approx(math.pi / 4 * (315**2 + 195**2), rel=1e-6)
    assert field_acres(lay_out(field(pivot))).systems[0].wetted_m2 == pytest.approx(layout.wetted.area)


@pytest.mark.parametrize("start_deg", [0.0, 20.5, 77.7, 141.3, 203.9, 299.1])
def test_bends_and_sector_are_one_ground_without_a_slit(start_deg: float) -> None:
    """Sides along the stop lie on each other to a rounding, whatever the bearing."""
    sector = Sector(start_deg=start_deg, stop_deg=(start_deg + 150) % 360)
    wetted = lay_out(field(bent(sector=sector))).pivots[0].wetted
    assert wetted.geom_type == "Polygon"
    assert not wetted.interiors


def test_the_gun_is_off_during_bends() -> None:
    layout = lay_out(field(bent(end_gun=EndGun(reach_m=40, arcs="always")))).pivots[0]
    assert layout.gun_arcs == (SECTOR,)
    assert layout.gun.area == pytest.approx(math.radians(90) * (350**2 - 315**2), rel=1e-9)
    assert layout.bends.equals(lay_out(field(bent())).pivots[0].bends)


def test_towers_stand_where_the_bends_have_carried_them() -> None:
    pivot = bent()
    for end in ("stop", "start"):
        stands = bent_pipe(pivot, end)  # type: ignore[arg-type]
        assert len(stands) == 7
        assert np.hypot(*np.diff(stands, axis=0).T) == pytest.approx([60, 60, 60, 60, 60, 10])
        last = walked(pivot)[-1 if end == "start" else int(70 / 0.05) + int(40 / 0.05) + 1]
        assert shapely.distance(last, shapely.points(stands)).max() < 1e-6
    # A machine without bends at an end stands straight there.
    straight = bent_pipe(bent(bends=()), "stop")
    turn = np.radians(200.5)
    assert straight[-1] == pytest.approx([12 + 310 * np.sin(turn), -7 + 310 * np.cos(turn)])
    assert bent_ground(bent(bends=())).is_empty


def test_wheel_tracks_run_on_through_the_bends() -> None:
    """From where a tower stands with the bends at the start walked to where those at the stop leave it."""
    pivot = bent()
    for tower, radius in enumerate(pivot.tower_radii_m, 1):
        track = tower_track(pivot, radius)
        ends = [bent_pipe(pivot, "start")[tower], bent_pipe(pivot, "stop")[tower]]
        assert track.coords[0] == pytest.approx(ends[0])
        assert track.coords[-1] == pytest.approx(ends[1])
        way = math.radians(180) * radius
        way += sum(
            math.radians(bend.sweep_deg) * max(0.0, radius - pivot.tower_radii_m[bend.tower - 1])
            for bend in BENDS
        )
        assert track.length == pytest.approx(way, rel=1e-4)


WINGS = {"left": Wing(spans_m=(50.0, 50.0), overhang_m=6.0), "right": Wing(spans_m=(55.0,), throw_m=8.0)}
MOVE = LateralMove(name="Ditch lateral", path_m=((-300, 0), (100, 20), (250, 300)), **WINGS)  # type: ignore[arg-type]


def test_lateral_move_equals_its_pipe_carried_along() -> None:
    """Pipes laid every 5 cm of travel and every 0.05 degrees round the corner."""
    layout = lay_out(field(lateral_moves=(MOVE,))).lateral_moves[0]
    corners = np.array(MOVE.path_m)
    headings = [math.atan2(*(b - a)) for a, b in pairwise(corners)]
    stands = [
        (a + s * (b - a), h)
        for (a, b), h in zip(pairwise(corners), headings, strict=True)
        for s in np.linspace(0, 1, 8001)
    ]
    stands += [(corners[1], h) for h in np.linspace(*headings, 2001)]
    at = np.array([place for place, _ in stands])
    turn = np.array([heading for _, heading in stands])
    right = np.column_stack([np.cos(turn), -np.sin(turn)])
    pipes = shapely.linestrings(np.stack([at - 106 * right, at + 63 * right], axis=1))
    rng = np.random.default_rng(3)
    points = shapely.points(*rng.uniform(-420, 450, (2, 2000)))
    _, away = shapely.STRtree(pipes).query_nearest(points, return_distance=True, all_matches=False)
    ours = shapely.covers(layout.wetted, points)
    assert (away[ours] < 0.1).all()
    assert (shapely.distance(layout.wetted, points[away < 1e-6]) < 0.1).all()
    grid = shapely.points(
        *(axis.ravel() for axis in np.meshgrid(np.arange(-420, 460, 6.0), np.arange(-250, 460, 6.0)))
    )
    _, near = shapely.STRtree(pipes).query_nearest(grid, return_distance=True, all_matches=False)
    assert layout.wetted.area == pytest.approx(36 * (near < 0.1).sum(), rel=0.01)


def test_straight_lateral_move_is_a_rectangle_less_what_is_not_farmed() -> None:
    move = LateralMove(name="L", path_m=((0, 0), (0, 400)), **WINGS)  # type: ignore[arg-type]
    acres = field_acres(lay_out(field(lateral_moves=(move,), exclusions=box(10, 100, 30, 120))))
    (system,) = acres.systems
    assert (system.name, system.kind) == ("L", "lateral move")
    assert system.wetted_m2 == pytest.approx(169 * 400)
    assert system.irrigated_m2 == pytest.approx(169 * 400 - 400)
    assert (system.end_gun_m2, system.corner_arm_m2) == (None, None)
    assert acres.irrigated_m2 + acres.dry_m2 == pytest.approx(acres.farmable_m2, rel=1e-9)


def test_tower_tracks_keep_their_distance_from_the_cart() -> None:
    layout = lay_out_lateral_move(MOVE)
    cart = LineString(MOVE.path_m)
    turn = math.radians(abs(float(np.diff(layout.path.bearings_deg)[0])))
    for offset in (-100.0, -50.0, 55.0):
        track = tower_path(layout.path, offset)
        # The legs, and round the corner an arc about it; chords fall short of it by a hair.
        assert track.length == pytest.approx(cart.length + abs(offset) * turn, abs=0.02)
        assert track.within(layout.wetted.buffer(0.02))
    # The path turns left, so a tower on the right keeps its distance all the way.
    outside = shapely.points(tower_path(layout.path, 55.0).coords)
    assert shapely.distance(cart, outside) == pytest.approx(55.0, abs=1e-6)
    straight = travel_path([[0, 0], [0, 100], [0, 250]])
    assert tower_path(straight, -30.0).equals(LineString([(-30, 0), (-30, 250)]))


def towed(number: int, x_m: float, **parts: object) -> Pivot:
    name = f"Sandhill pivot at point {number}"
    return Pivot(name=name, machine="Sandhill pivot", x_m=x_m, y_m=0.0, spans_m=(200.0,), **parts)  # type: ignore[arg-type]


def test_points_of_a_towed_machine_count_alone_and_together() -> None:
    other = Pivot(name="Other pivot", x_m=0, y_m=600, spans_m=(100.0,))
    acres = field_acres(
        lay_out(field(towed(1, -150), towed(2, 150), other, exclusions=box(-10, -10, 10, 10)))
    )
    lens = 2 * 200**2 * math.acos(150 / 200) - 300 * math.sqrt(200**2 - 150**2)
    (machine,) = acres.machines
    assert (machine.name, machine.points) == (
        "Sandhill pivot",
        ("Sandhill pivot at point 1", "Sandhill pivot at point 2"),
    )
    assert machine.wetted_m2 == pytest.approx(2 * math.pi * 200**2 - lens, rel=1e-6)
    assert machine.irrigated_m2 == pytest.approx(machine.wetted_m2 - 400, rel=1e-6)
    for system in acres.systems[:2]:
        assert system.wetted_m2 == pytest.approx(math.pi * 200**2, rel=1e-9)
    assert acres.overlap_m2 == pytest.approx(lens - 400, rel=1e-4)


def test_a_machine_that_is_not_towed_is_no_group() -> None:
    assert field_acres(lay_out(field(bent()))).machines == ()


def block(*not_under: str) -> DripBlock:
    return DripBlock(
        name="Drip",
        area=BIG,
        heading_deg=90.0,
        spacing_m=30.0,
        number_from_deg=0.0,
        header_deg=270.0,
        not_under=not_under,
    )


def test_tape_keeps_off_every_point_of_a_towed_machine_and_off_a_lateral_move() -> None:
    it = field(
        towed(1, -450), towed(2, 450), drip=(block("Sandhill pivot", "Ditch lateral"),), lateral_moves=(MOVE,)
    )
    layout = lay_out(it)
    for system in (*layout.pivots, *layout.lateral_moves):
        assert shapely.intersection(layout.drip[0].ground, system.wetted).area < 1e-6
    one = lay_out(field(towed(1, -450), towed(2, 450), drip=(block("Sandhill pivot at point 1"),)))
    assert one.drip[0].ground.covers(Point(450, 0))
    assert not one.drip[0].ground.covers(Point(-450, 0))


def test_tape_off_an_unknown_machine_is_refused() -> None:
    with pytest.raises(GeometryError, match=r'"Drip" not: found "Creek pivot"; allowed: .*Sandhill pivot'):
        lay_out(field(towed(1, 0), drip=(block("Creek pivot"),)))


@pytest.mark.parametrize("turn_deg", [0, 13, 47.5, 101, 200.3, 333])
def test_legs_and_corners_of_a_lateral_move_are_one_ground_without_a_slit(turn_deg: float) -> None:
    move = LateralMove(name="Ditch lateral", path_m=((-300, 0), (100, 20), (250, 300), (240, 700)), **WINGS)  # type: ignore[arg-type]
    turned = affinity.rotate(LineString(move.path_m), turn_deg, origin=(0, 0))
    wetted = lay_out_lateral_move(replace(move, path_m=tuple(turned.coords))).wetted
    assert wetted.geom_type == "Polygon"
    assert not wetted.interiors

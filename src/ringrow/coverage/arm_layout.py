"""A corner arm on its field: what it sweeps, where its gun runs, where its wheels walk."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely import LineString, Polygon

from ringrow.coverage.field import ArmLayout
from ringrow.coverage.gun_rules import full_radius_m, sector_limits, split_short, stated_arcs, true_arcs
from ringrow.errors import GeometryError
from ringrow.geometry.angles import within_turn
from ringrow.geometry.corner_arm import ArmGeometry, arm_course, arm_points, passed_over, swept_ground

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import ArrayLike, NDArray
    from shapely.geometry.base import BaseGeometry

    from ringrow.coverage.field import Field
    from ringrow.coverage.gun_rules import Arcs, GunArcs
    from ringrow.equipment.corner_arm import CornerArm
    from ringrow.equipment.pivot import EndGun, Pivot, Sector
    from ringrow.geometry.corner_arm import ArmCourse

    _Test = Callable[[NDArray[np.float64], NDArray[np.float64]], NDArray[np.bool_]]

TOUCH_M = 1e-6
"""Water this close to a limit touches it, which is allowed [m]."""

_HALVINGS = 30


def arm_geometry(pivot: Pivot, arm: CornerArm) -> ArmGeometry:
    """Return a corner arm's measures in its field's frame.

    Parameters
    ----------
    pivot : Pivot
        The machine.
    arm : CornerArm
        Its arm.

    Returns
    -------
    ArmGeometry
        With the hinge at the last tower.
    """
    return ArmGeometry(
        x_m=pivot.x_m,
        y_m=pivot.y_m,
        hinge_m=pivot.tower_radii_m[-1],
        wheel_m=arm.length_m,
        reach_m=arm.reach_m,
        side=arm.side,
        fold_deg=arm.fold_deg,
        open_deg=arm.open_deg,
        open_rate=arm.open_rate,
    )


def lay_out_arm(field: Field, pivot: Pivot, farmable: BaseGeometry, base: BaseGeometry) -> ArmLayout:
    """Return a corner arm worked out over the turn.

    Parameters
    ----------
    field : Field
        The field it stands in, for setback, shortest gun arc and what guns keep off.
    pivot : Pivot
        A machine with a corner arm.
    farmable : shapely Polygon or MultiPolygon
        Ground the arm keeps to: boundary less exclusions. [m]
    base : shapely geometry
        Ground the main pipe wets. [m]

    Returns
    -------
    ArmLayout
        Course, swept ground, gun ground and wheel path.

    Raises
    ------
    GeometryError
        If the machine has no corner arm or the field no farmable ground.

    Notes
    -----
    The course has a position every tenth of a degree; the gun's arcs are found on the same
    positions and their ends drawn in by halving, so an arc or gap under 0.1 degree may be missed.
    """
    if pivot.corner_arm is None or farmable.is_empty:
        message = (
            f'pivot "{pivot.name}" corner arm: found {"none" if pivot.corner_arm is None else "no ground"}; '
            "allowed: a machine with an arm on a field with farmable ground"
        )
        raise GeometryError(message)
    arm = arm_geometry(pivot, pivot.corner_arm)
    course = arm_course(
        farmable, arm, setback_m=field.setback_m, limits_deg=sector_limits(pivot, pivot.convergence_deg)
    )
    swept = swept_ground(arm, course)
    arcs, _ = arm_gun_arcs(field, pivot, farmable, course)
    gun = arm_gun_ground(pivot, course, arcs)
    along = wheel_bearings(pivot, course)
    wheels = arm_points(arm, along, hinge_angles(course, along), along_m=arm.wheel_m)
    if course.full_circle:
        wheels[-1] = wheels[0]
    return ArmLayout(
        arm=arm,
        course=course,
        swept=swept,
        gun=gun if gun.is_empty else gun - swept - base,
        gun_arcs=arcs,
        wheel_path=LineString(wheels),
    )


def hinge_angles(course: ArmCourse, bearing_deg: ArrayLike) -> NDArray[np.float64]:
    """Return the hinge angle at bearings of the main pipe.

    Parameters
    ----------
    course : ArmCourse
        The arm's positions.
    bearing_deg : array_like, shape (n,)
        Frame bearings of the main pipe. [deg]

    Returns
    -------
    ndarray, shape (n,)
        Interior angles, straight between the positions; past the ends of a part circle, as at
        the nearer end. [deg]

    Examples
    --------
    >>> from ringrow.geometry.corner_arm import ArmCourse
    >>> course = ArmCourse(
    ...     bearing_deg=np.array([300.0, 360.0, 420.0]),
    ...     limit_deg=np.full(3, 170.0),
    ...     angle_deg=np.array([90.0, 150.0, 90.0]),
    ...     folded_out=np.zeros(3, bool),
    ...     full_circle=False,
    ... )
    >>> hinge_angles(course, [330, 10])
    array([120., 140.])
    """
    return np.interp(bearings_on(course, bearing_deg), *closed_course(course))


def wheel_bearings(pivot: Pivot, course: ArmCourse) -> NDArray[np.float64]:
    """Return the bearings of the main pipe at the points of the steered wheels' path.

    Parameters
    ----------
    pivot : Pivot
        The machine.
    course : ArmCourse
        Its arm's positions.

    Returns
    -------
    ndarray, shape (n,)
        Frame bearings, rising: from true north once round and back to it, or over the sector. [deg]
    """
    bearing, _ = closed_course(course)
    return bearing - bearing[0] + pivot.convergence_deg if course.full_circle else bearing


def bearings_on(course: ArmCourse, bearing_deg: ArrayLike) -> NDArray[np.float64]:
    """Return bearings counted on from a course's first one, as its own are.

    Parameters
    ----------
    course : ArmCourse
        The arm's positions.
    bearing_deg : array_like, shape (n,)
        Frame bearings, in any turn. [deg]

    Returns
    -------
    ndarray, shape (n,)
        The same from the course's first bearing on; off a part circle, beside its nearer end. [deg]
    """
    first, last = float(course.bearing_deg[0]), float(course.bearing_deg[-1])
    turned = (np.asarray(bearing_deg, float) - first) % 360.0
    if not course.full_circle:
        turned = np.where(turned > (last - first + 360.0) / 2, turned - 360.0, turned)
    return np.asarray(first + turned)


def closed_course(course: ArmCourse) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return a course's bearings and hinge angles, on a full circle with the first again at the end.

    Parameters
    ----------
    course : ArmCourse
        The arm's positions.

    Returns
    -------
    bearing_deg, angle_deg : ndarray, shape (n,)
        Rising frame bearings of the main pipe, and hinge angles. [deg]
    """
    if not course.full_circle:
        return course.bearing_deg, course.angle_deg
    bearing, angle = course.bearing_deg, course.angle_deg
    return np.append(bearing, bearing[0] + 360.0), np.append(angle, angle[0])


def arm_pieces(
    arm: ArmGeometry,
    bearing_deg: NDArray[np.float64],
    angle_deg: NDArray[np.float64],
    *,
    inner_m: float,
    outer_m: float,
) -> NDArray[np.object_]:
    """Return pieces that together are the ground a piece of the arm passes over.

    Parameters
    ----------
    arm : ArmGeometry
        The arm.
    bearing_deg, angle_deg : ndarray, shape (n,)
        Its positions: bearing of the main pipe, hinge angle. [deg]
    inner_m, outer_m : float
        Distances from the hinge between which the piece lies; past the arm's end for its gun. [m]

    Returns
    -------
    ndarray of shapely geometry
        As `ringrow.geometry.corner_arm.passed_over` cuts them. [m]
    """
    ends = [arm_points(arm, bearing_deg, angle_deg, along_m=at) for at in (inner_m, outer_m)]
    return passed_over(*ends)


def arm_gun_arcs(
    field: Field, pivot: Pivot, farmable: BaseGeometry, course: ArmCourse
) -> tuple[GunArcs, tuple[Sector, ...]]:
    """Return where the gun at the end of a corner arm runs, and arcs too short to be worth it.

    Parameters
    ----------
    field : Field
        The field, for setback, shortest gun arc and what guns keep off.
    pivot : Pivot
        A machine with a corner arm.
    farmable : shapely Polygon or MultiPolygon
        Ground that ``auto`` arcs keep to. [m]
    course : ArmCourse
        The arm's positions.

    Returns
    -------
    kept : tuple of Sector or "full"
        True azimuths of the main pipe; empty without a gun or with one that adds no reach.
    dropped : tuple of Sector
        Arcs of ``auto`` under the field's shortest one.
    """
    arm = pivot.corner_arm
    gun = None if arm is None else arm.end_gun
    if arm is None or gun is None or gun.reach_m <= arm.throw_m:
        return (), ()
    if gun.arcs != "auto":
        return stated_arcs(pivot, gun), ()
    test = _both(_on_ground(field, arm, gun, pivot, farmable), _off_guarded(field, arm, gun, pivot))
    return split_short(_arcs_where(pivot, course, test), field.min_arc_deg)


def arm_arcs_off_guarded(field: Field, pivot: Pivot, course: ArmCourse) -> GunArcs:
    """Return where the gun of a corner arm reaches nothing it must keep off, ground and setback aside.

    Parameters
    ----------
    field : Field
        The field, for what guns keep off.
    pivot : Pivot
        A machine with a corner arm.
    course : ArmCourse
        The arm's positions.

    Returns
    -------
    tuple of Sector or "full"
        True azimuths of the main pipe; empty without a gun.
    """
    arm = pivot.corner_arm
    if arm is None or arm.end_gun is None:
        return ()
    test = _off_guarded(field, arm, arm.end_gun, pivot)
    return split_short(_arcs_where(pivot, course, test), 0.0)[0]


def arm_gun_ground(pivot: Pivot, course: ArmCourse, arcs: GunArcs) -> BaseGeometry:
    """Return the ground between the arm's wetted end and its gun's reach, over arcs of the turn.

    Parameters
    ----------
    pivot : Pivot
        A machine with a corner arm.
    course : ArmCourse
        The arm's positions.
    arcs : tuple of Sector or "full"
        True azimuths of the main pipe at which the gun runs.

    Returns
    -------
    shapely geometry
        Union over the arcs; ground that the arm itself wets at another azimuth is not taken off. [m]
    """
    arm = pivot.corner_arm
    if arm is None or arm.end_gun is None or not arcs:
        return Polygon()
    inner_m, outer_m = arm.reach_m, arm.length_m + arm.overhang_m + arm.end_gun.reach_m
    measures = arm_geometry(pivot, arm)
    pieces = [
        arm_pieces(measures, bearing, hinge_angles(course, bearing), inner_m=inner_m, outer_m=outer_m)
        for bearing in _positions(pivot, course, arcs)
    ]
    return shapely.union_all(np.concatenate(pieces))


def _positions(pivot: Pivot, course: ArmCourse, arcs: GunArcs) -> list[NDArray[np.float64]]:
    """Return, for each arc, its ends and the course's bearings between them."""
    bearing, _ = closed_course(course)
    if isinstance(arcs, str):
        return [bearing]
    found = []
    for arc in arcs:
        start = float(bearings_on(course, [arc.start_deg + pivot.convergence_deg])[0])
        turned = np.sort((bearing - start) % 360.0)
        between = turned[(turned > 1e-9) & (turned < arc.sweep_deg - 1e-9)]
        found.append(start + np.concatenate([[0.0], between, [arc.sweep_deg]]))
    return found


def _arcs_where(pivot: Pivot, course: ArmCourse, test: _Test) -> Arcs:
    """Return the true azimuths at which a test of the arm's position holds."""
    bearing, angle = closed_course(course)
    holds = test(bearing, angle)
    if course.full_circle and holds.all():
        return "full"
    change = np.flatnonzero(holds[1:] != holds[:-1])
    low, high = bearing[change], bearing[change + 1]
    for _ in range(_HALVINGS if len(change) else 0):
        middle = (low + high) / 2
        same = test(middle, hinge_angles(course, middle)) == holds[change]
        low, high = np.where(same, middle, low), np.where(same, high, middle)
    # The side on which the test holds, so that an arc never runs past what is allowed.
    ends = np.where(holds[change], low, high).tolist()
    ends = [float(bearing[0])] * bool(holds[0]) + ends + [float(bearing[-1])] * bool(holds[-1])
    runs = list(zip(ends[::2], ends[1::2], strict=True))
    if course.full_circle and len(runs) > 1 and holds[0]:
        runs = [(runs[-1][0], runs[0][1] + 360.0), *runs[1:-1]]
    limits = sector_limits(pivot, pivot.convergence_deg)
    given = {} if limits is None else {float(bearing[0]): limits[0], float(bearing[-1]): limits[1]}
    plain = tuple((given.get(a, a), given.get(b, b)) for a, b in runs)
    arcs = true_arcs(pivot, plain)
    return arcs if limits or arcs == "full" else tuple(sorted(arcs))


def _both(one: _Test, other: _Test) -> _Test:
    return lambda bearing, angle: one(bearing, angle) & other(bearing, angle)


def _on_ground(field: Field, arm: CornerArm, gun: EndGun, pivot: Pivot, farmable: BaseGeometry) -> _Test:
    """Return a test of whether the gun's water stays on farmable ground, its setback kept."""
    measures, edge = arm_geometry(pivot, arm), shapely.boundary(farmable)
    grown = farmable.buffer(TOUCH_M, quad_segs=2)
    shapely.prepare([edge, grown])
    inner_m, outer_m = arm.reach_m, arm.length_m + arm.overhang_m + gun.reach_m

    def test(bearing: NDArray[np.float64], angle: NDArray[np.float64]) -> NDArray[np.bool_]:
        ends = [arm_points(measures, bearing, angle, along_m=at) for at in (inner_m, outer_m)]
        water = shapely.linestrings(np.stack(ends, axis=1))
        inside = shapely.covers(grown, water)
        if field.setback_m > TOUCH_M:
            inside &= ~shapely.dwithin(edge, water, field.setback_m - TOUCH_M)
        return np.asarray(inside)

    return test


def _off_guarded(field: Field, arm: CornerArm, gun: EndGun, pivot: Pivot) -> _Test:
    """Return a test of whether nothing the gun keeps off lies within its full wetted radius."""
    measures = arm_geometry(pivot, arm)
    shapely.prepare(field.keep_off)

    def test(bearing: NDArray[np.float64], angle: NDArray[np.float64]) -> NDArray[np.bool_]:
        end = arm_points(measures, bearing, angle, along_m=arm.length_m + arm.overhang_m)
        near = shapely.dwithin(field.keep_off, shapely.points(end), full_radius_m(gun) - TOUCH_M)
        return ~np.asarray(near)

    return test


def frame_to_true(pivot: Pivot, bearing_deg: float) -> float:
    """Return the true azimuth of a frame bearing at a pivot's point.

    Parameters
    ----------
    pivot : Pivot
        The machine.
    bearing_deg : float
        Frame bearing. [deg]

    Returns
    -------
    float
        True azimuth, 0 <= azimuth < 360. [deg]
    """
    return within_turn(bearing_deg - pivot.convergence_deg)

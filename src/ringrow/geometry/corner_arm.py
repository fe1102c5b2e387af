"""How far a corner arm can open at every azimuth, and the ground it sweeps.

The hinge rides on a circle of radius H about the pivot point. The arm, of wetted length T,
makes the interior angle phi with the main pipe: folded it lies back, at 180 degrees it is
the pipe's straight continuation. Seen from the hinge the arm is a segment that turns about
its end, so the first ground it may not wet is found exactly, edge by edge.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
import shapely
from shapely import Polygon

from ringrow.errors import DomainError

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

Side = Literal["trailing", "leading"]

STEP_DEG = 0.1
"""Azimuths are worked out this far apart; the arm's end moves at most about 1 m between two of them."""

TOUCH_M = 1e-6
"""Touching is allowed: an arm this close to the limit still counts as inside."""

_PAIRS = 100_000
# Pairs of a position and an edge worked out at once: some 100 bytes each.

_STRIP = 256
# Positions joined into one polygon of the swept ground: 26 degrees of the turn.


@dataclass(frozen=True, slots=True, kw_only=True)
class ArmGeometry:
    """Measures of a corner arm on its pivot.

    Parameters
    ----------
    x_m, y_m : float
        Pivot point. [m]
    hinge_m : float
        Radius of the hinge, H. [m]
    wheel_m : float
        Hinge to the steered wheels. [m]
    reach_m : float
        Hinge to the wetted end, T: length, overhang and throw. [m]
    side : {"trailing", "leading"}
        Trailing = the arm lies on the counter-clockwise side of the main pipe, whichever way it walks.
    fold_deg, open_deg : float
        Smallest and largest interior angle, 0 < fold < open <= 180. [deg]
    open_rate : float, default 3
        Degrees the arm opens at most per degree the main pipe turns. [deg/deg]

    Raises
    ------
    DomainError
        If an angle or length cannot be.
    """

    x_m: float
    y_m: float
    hinge_m: float
    wheel_m: float
    reach_m: float
    side: Side
    fold_deg: float
    open_deg: float
    open_rate: float = 3.0

    def __post_init__(self) -> None:
        if not 0 < self.fold_deg < self.open_deg <= 180:
            message = (
                f"corner arm: found fold {self.fold_deg:g}, open {self.open_deg:g} degrees; "
                "allowed: 0 < fold < open <= 180"
            )
            raise DomainError(message)
        if not (self.hinge_m > 0 and 0 < self.wheel_m <= self.reach_m and self.open_rate > 0):
            message = (
                f"corner arm: found hinge {self.hinge_m:g} m, wheels {self.wheel_m:g} m, "
                f"reach {self.reach_m:g} m, open_rate {self.open_rate:g}; "
                "allowed: all above 0, wheels no farther out than the reach"
            )
            raise DomainError(message)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ArmCourse:
    """Where a corner arm stands at each azimuth of the main pipe.

    Parameters
    ----------
    bearing_deg : ndarray, shape (n,)
        Frame bearings of the main pipe, rising from the start of the sector (they may pass 360). [deg]
    limit_deg : ndarray, shape (n,)
        Largest interior angle the ground allows there. [deg]
    angle_deg : ndarray, shape (n,)
        Interior angle the arm takes there, held back by its opening rate. [deg]
    folded_out : ndarray of bool, shape (n,)
        True where even the folded arm wets ground it may not.
    full_circle : bool
        Whether the last position is followed by the first.
    """

    bearing_deg: NDArray[np.float64]
    limit_deg: NDArray[np.float64]
    angle_deg: NDArray[np.float64]
    folded_out: NDArray[np.bool_]
    full_circle: bool


def arm_course(
    ground: BaseGeometry,
    arm: ArmGeometry,
    *,
    setback_m: float = 0.0,
    limits_deg: tuple[float, float] | None = None,
) -> ArmCourse:
    """Return how a corner arm opens and folds over the turn.

    Parameters
    ----------
    ground : shapely Polygon or MultiPolygon
        Ground it may wet. [m]
    arm : ArmGeometry
        The arm.
    setback_m : float, default 0
        The arm's water stays this far inside `ground`. [m]
    limits_deg : tuple of float or None, default None
        Frame bearings (start, stop), clockwise, of a part circle; None = full circle. [deg]

    Returns
    -------
    ArmCourse
        Positions about every tenth of a degree.

    Notes
    -----
    phi_max(A) = the largest phi such that for every phi' from fold to phi the segment from hinge
    to wetted end lies in `ground` shrunk by `setback_m`. phi(A) = min over B of
    phi_max(B) + rate |A - B|, so the arm begins to fold before it must.
    """
    bearing = course_bearings(limits_deg)
    limit, folded_out = _limits(ground, arm, bearing, setback_m)
    angle = _held_back(bearing, limit, arm.open_rate, circular=limits_deg is None)
    return ArmCourse(
        bearing_deg=bearing,
        limit_deg=limit,
        angle_deg=angle,
        folded_out=folded_out,
        full_circle=limits_deg is None,
    )


def course_bearings(limits_deg: tuple[float, float] | None) -> NDArray[np.float64]:
    """Return the bearings of the main pipe at which an arm's position is worked out.

    Parameters
    ----------
    limits_deg : tuple of float or None
        Frame bearings (start, stop), clockwise, of a part circle; None = full circle. [deg]

    Returns
    -------
    ndarray, shape (n,)
        Rising from the start, at most `STEP_DEG` apart; the stop is the last, a full circle's first
        is not repeated. [deg]

    Examples
    --------
    >>> len(course_bearings(None)), len(course_bearings((350.0, 80.0)))
    (3600, 901)
    """
    sweep = 360.0 if limits_deg is None else (limits_deg[1] - limits_deg[0]) % 360.0
    start = 0.0 if limits_deg is None else limits_deg[0]
    count = max(2, int(np.ceil(sweep / STEP_DEG))) + (limits_deg is not None)
    return start + np.linspace(0.0, sweep, count, endpoint=limits_deg is not None)


def hinge_points(arm: ArmGeometry, bearing_deg: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the hinge's position at each bearing of the main pipe.

    Parameters
    ----------
    arm : ArmGeometry
        The machine.
    bearing_deg : ndarray, shape (n,)
        Frame bearings of the main pipe. [deg]

    Returns
    -------
    ndarray, shape (n, 2)
        The hinge, x and y. [m]
    """
    turn = np.radians(bearing_deg)
    return np.column_stack([arm.x_m + arm.hinge_m * np.sin(turn), arm.y_m + arm.hinge_m * np.cos(turn)])


def arm_points(
    arm: ArmGeometry, bearing_deg: NDArray[np.float64], angle_deg: NDArray[np.float64], *, along_m: float
) -> NDArray[np.float64]:
    """Return the position of a point of the arm at each azimuth.

    Parameters
    ----------
    arm : ArmGeometry
        The arm.
    bearing_deg, angle_deg : ndarray, shape (n,)
        Frame bearing of the main pipe; interior angle of the arm. [deg]
    along_m : float
        Distance of the point from the hinge. [m]

    Returns
    -------
    ndarray, shape (n, 2)
        x and y. [m]

    Examples
    --------
    >>> arm = ArmGeometry(
    ...     x_m=0, y_m=0, hinge_m=100, wheel_m=40, reach_m=50, side="trailing", fold_deg=60, open_deg=170
    ... )
    >>> arm_points(arm, np.array([0.0]), np.array([90.0]), along_m=50.0).round(6)
    array([[-50., 100.]])
    """
    turn = np.radians(_arm_bearing(arm, bearing_deg, angle_deg))
    return hinge_points(arm, bearing_deg) + along_m * np.column_stack([np.sin(turn), np.cos(turn)])


def swept_ground(arm: ArmGeometry, course: ArmCourse) -> BaseGeometry:
    """Return the ground the arm itself sweeps: every segment from hinge to wetted end.

    Parameters
    ----------
    arm : ArmGeometry
        The arm.
    course : ArmCourse
        Its positions.

    Returns
    -------
    shapely geometry
        Union of the segments over the turn; the main pipe's circle is not in it. [m]
    """
    hinge = hinge_points(arm, course.bearing_deg)
    end = arm_points(arm, course.bearing_deg, course.angle_deg, along_m=arm.reach_m)
    if course.full_circle:
        hinge, end = np.vstack([hinge, hinge[:1]]), np.vstack([end, end[:1]])
    return shapely.union_all(passed_over(hinge, end))


def passed_over(inner: NDArray[np.float64], outer: NDArray[np.float64]) -> NDArray[np.object_]:
    """Return pieces that together cover the ground a moving segment passes over.

    Between two positions that is the convex hull of both, which also holds the ground where they
    cross. Hulls side by side are drawn as one strip, as joining thousands of them takes long.

    Parameters
    ----------
    inner, outer : ndarray, shape (n, 2)
        The segment's two ends at each position, x and y. [m]

    Returns
    -------
    ndarray of shapely geometry
        Far fewer than n - 1 as a rule; in no particular order, and some may overlap. [m]

    Notes
    -----
    A strip's outline runs out along one end and back along the other. Its quadrilaterals all turn
    the same way round, so where the outline does not cross itself they cover its inside just once.

    Examples
    --------
    >>> turn = np.radians(np.arange(0, 90.05, 0.1))
    >>> end = np.column_stack([np.sin(turn), np.cos(turn)])
    >>> pieces = passed_over(100 * end, 120 * end)
    >>> len(pieces), round(float(shapely.union_all(pieces).area / np.pi), 2)
    (4, 1100.0)
    """
    quads = np.stack([inner[:-1], outer[:-1], outer[1:], inner[1:]], axis=1)
    side = np.diff(quads[:, [0, 1, 2, 3, 0]], axis=1)
    follows = np.roll(side, -1, axis=1)
    turns = side[..., 0] * follows[..., 1] - side[..., 1] * follows[..., 0]
    way = np.where((turns > 0).all(axis=1), 1, np.where((turns < 0).all(axis=1), -1, 0))
    begins = np.union1d(np.flatnonzero(np.diff(way)) + 1, np.arange(0, len(way), _STRIP))
    runs = [run for run in np.split(np.arange(len(way)), begins) if run.size]
    strips = np.array([_strip(inner, outer, run) if way[run[0]] else Polygon() for run in runs], dtype=object)
    whole = ~shapely.is_empty(strips) & shapely.is_valid(strips)
    rest = np.concatenate(
        [np.empty(0, int), *(run for run, kept in zip(runs, whole, strict=True) if not kept)]
    )
    return np.concatenate([strips[whole], shapely.convex_hull(shapely.multipoints(quads[rest]))])


def _strip(inner: NDArray[np.float64], outer: NDArray[np.float64], run: NDArray[np.int64]) -> Polygon:
    """Return the outline of a run of quadrilaterals, from its first position to the one after its last."""
    part = slice(run[0], run[-1] + 2)
    return Polygon(np.vstack([inner[part], outer[part][::-1]]))


def _arm_bearing(
    arm: ArmGeometry, bearing_deg: NDArray[np.float64], angle_deg: NDArray[np.float64]
) -> NDArray[np.float64]:
    if arm.side == "trailing":
        return np.asarray(bearing_deg - 180.0 + angle_deg)
    return np.asarray(bearing_deg + 180.0 - angle_deg)


def _limits(
    ground: BaseGeometry, arm: ArmGeometry, bearing: NDArray[np.float64], setback_m: float
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    hinge = hinge_points(arm, bearing)
    fold = np.full(len(bearing), arm.fold_deg)
    folded = shapely.linestrings(
        np.stack([hinge, arm_points(arm, bearing, fold, along_m=arm.reach_m)], axis=1)
    )
    edge = shapely.boundary(ground)
    shapely.prepare(edge)
    middle = shapely.line_interpolate_point(folded, 0.5, normalized=True)
    shapely.prepare(ground)
    inside = shapely.covers(ground, middle)
    folded_out = ~(inside & (shapely.distance(folded, edge) >= setback_m - TOUCH_M))
    if setback_m <= TOUCH_M:
        folded_out = ~shapely.covers(ground.buffer(TOUCH_M, quad_segs=2), folded)
    room = _room(bearing, ground, arm, setback_m)
    limit = np.where(folded_out, arm.fold_deg, np.minimum(arm.fold_deg + room, arm.open_deg))
    return limit, folded_out


def _room(
    bearing: NDArray[np.float64], ground: BaseGeometry, arm: ArmGeometry, setback_m: float
) -> NDArray[np.float64]:
    """Return how many degrees the arm can open from folded before it meets an edge of the ground."""
    edges = _edges(ground)
    hinge = hinge_points(arm, bearing)
    position, edge = shapely.STRtree(shapely.linestrings(edges)).query(
        shapely.points(hinge), predicate="dwithin", distance=arm.reach_m + setback_m + TOUCH_M
    )
    room = np.full(len(bearing), 360.0)
    for pairs in np.array_split(np.arange(len(edge)), len(edge) // _PAIRS + 1):
        at = position[pairs]
        seen = edges[edge[pairs]] - hinge[at][:, None]
        np.minimum.at(room, at, _turn_to_edge(bearing[at], seen, arm, setback_m))
    return room


def _edges(ground: BaseGeometry) -> NDArray[np.float64]:
    """Return the two ends of every edge of the ground, shape (n, 2, 2) [m]."""
    xy, ring = shapely.get_coordinates(shapely.get_rings(shapely.get_parts(ground)), return_index=True)
    return np.stack([xy[:-1], xy[1:]], axis=1)[ring[1:] == ring[:-1]]


def _turn_to_edge(
    bearing: NDArray[np.float64], edge: NDArray[np.float64], arm: ArmGeometry, setback_m: float
) -> NDArray[np.float64]:
    """Return how many degrees the arm can open at each bearing before it meets one edge there.

    The edge is seen from the hinge, shape (n, 2, 2); 360 where the arm never meets it.
    """
    p, q = edge[:, 0], edge[:, 1]
    reach = arm.reach_m
    touch = np.concatenate(
        [
            _tangents(p, setback_m, reach),
            _tangents(q, setback_m, reach),
            _circle_meets_circle(p, setback_m, reach),
            _circle_meets_circle(q, setback_m, reach),
            _circle_meets_sides(p, q, setback_m, reach),
        ],
        axis=1,
    )
    # Bearings of the near ground all lie within half a turn of the edge's nearest point, so the
    # side met first is the smallest (or largest) lean from it; NaN where an edge is out of reach.
    nearest = _nearest_on_edge(p, q)
    toward = np.degrees(np.arctan2(nearest[:, 0], nearest[:, 1]))
    sign = 1.0 if arm.side == "trailing" else -1.0
    lean = sign * ((touch - toward[:, None] + 180.0) % 360.0 - 180.0)
    entry, far_side = np.fmin.reduce(lean, axis=1), np.fmax.reduce(lean, axis=1)
    folded = _arm_bearing(arm, bearing, np.full(len(bearing), arm.fold_deg))
    ahead = (sign * (toward - folded)) % 360.0
    turn = ahead + entry
    # An edge that the folded arm already touches from its far side is behind it, not ahead.
    behind = (turn < 0) & (ahead + far_side < 1e-9)
    turn = np.where(behind, turn + 360.0, turn)
    turn = np.where(turn > 360.0 - 1e-7, 0.0, turn)
    return np.where(np.isnan(turn), 360.0, np.maximum(turn, 0.0))


def _nearest_on_edge(p: NDArray[np.float64], q: NDArray[np.float64]) -> NDArray[np.float64]:
    along = q - p
    length2 = np.maximum((along**2).sum(axis=-1), 1e-18)
    share = np.clip(-(p * along).sum(axis=-1) / length2, 0.0, 1.0)
    return np.asarray(p + share[..., None] * along)


def _tangents(centre: NDArray[np.float64], radius: float, reach: float) -> NDArray[np.float64]:
    """Return bearings of the two rays from the hinge that touch a circle, NaN when beyond reach."""
    distance = np.hypot(centre[..., 0], centre[..., 1])
    bearing = np.degrees(np.arctan2(centre[..., 0], centre[..., 1]))
    with np.errstate(invalid="ignore", divide="ignore"):
        lean = np.degrees(np.arcsin(radius / distance))
        tangent = np.sqrt(distance**2 - radius**2)
        ok = tangent <= reach
    return np.where(ok[..., None], np.stack([bearing - lean, bearing + lean], axis=-1), np.nan)


def _circle_meets_circle(centre: NDArray[np.float64], radius: float, reach: float) -> NDArray[np.float64]:
    """Return bearings at which the circle of `reach` about the hinge meets a circle, NaN when it does not."""
    distance = np.hypot(centre[..., 0], centre[..., 1])
    bearing = np.degrees(np.arctan2(centre[..., 0], centre[..., 1]))
    with np.errstate(invalid="ignore", divide="ignore"):
        lean = np.degrees(np.arccos((distance**2 + reach**2 - radius**2) / (2 * distance * reach)))
    return np.stack([bearing - lean, bearing + lean], axis=-1)


def _circle_meets_sides(
    p: NDArray[np.float64], q: NDArray[np.float64], setback_m: float, reach: float
) -> NDArray[np.float64]:
    """Return bearings at which the circle of `reach` meets the edge's two parallels at the setback."""
    along = q - p
    length = np.maximum(np.hypot(along[..., 0], along[..., 1]), 1e-12)
    u = along / length[..., None]
    square = np.stack([-u[..., 1], u[..., 0]], axis=-1)
    found = []
    for side in (setback_m, -setback_m):
        base = p + side * square
        # |base + t u| = reach, a quadratic in t with leading coefficient 1.
        b = (base * u).sum(axis=-1)
        c = (base**2).sum(axis=-1) - reach**2
        with np.errstate(invalid="ignore"):
            root = np.sqrt(b**2 - c)
        for t in (-b - root, -b + root):
            point = base + t[..., None] * u
            with np.errstate(invalid="ignore"):
                ok = (t >= 0) & (t <= length)
            found.append(np.where(ok, np.degrees(np.arctan2(point[..., 0], point[..., 1])), np.nan))
    return np.stack(found, axis=-1)


def _held_back(
    bearing: NDArray[np.float64], limit: NDArray[np.float64], rate: float, *, circular: bool
) -> NDArray[np.float64]:
    """Return min over B of limit(B) + rate |A - B|: two running minima, forth and back."""
    turns = 3 if circular else 1
    where = np.concatenate([bearing + 360.0 * turn for turn in range(turns)])
    tall = np.tile(limit, turns)
    forth = np.minimum.accumulate(tall - rate * where) + rate * where
    back = (np.minimum.accumulate((tall + rate * where)[::-1])[::-1]) - rate * where
    # The sums cost a last digit; the arm never opens past what the ground allows.
    held = np.minimum(np.minimum(forth, back), tall)
    middle = len(bearing) if circular else 0
    return np.asarray(held[middle : middle + len(bearing)])

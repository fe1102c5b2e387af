"""Where a point lies on a corner arm: how far along it, and where the machine then stands."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ringrow.coverage.arm_layout import closed_course, hinge_angles
from ringrow.coverage.places import ArmPlace
from ringrow.geometry.angles import azimuth_deg

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import ArrayLike, NDArray

    from ringrow.coverage.field import ArmLayout, PivotLayout

# Points times positions of the arm that are worked at once: some 10 MB an array.
_BLOCK = 1_000_000
_HALVINGS = 30
_SLACK_M = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ArmPlaces:
    """Where n points lie on a corner arm; NaN where it never passes over them.

    Parameters
    ----------
    along_m : ndarray, shape (n,)
        Distance along the arm from its hinge; past the arm's end within reach of its gun. [m]
    bearing_deg : ndarray, shape (n,)
        Frame bearing of the main pipe when the arm lies over the point. [deg]
    angle_deg : ndarray, shape (n,)
        Angle at the hinge then. [deg]
    """

    along_m: NDArray[np.float64]
    bearing_deg: NDArray[np.float64]
    angle_deg: NDArray[np.float64]


def arm_places(layout: PivotLayout, x: ArrayLike, y: ArrayLike) -> ArmPlaces:
    """Return where points lie on a machine's corner arm.

    The hinge, the pivot point and a point of the arm make a triangle: of the three, the distance
    of the point and the hinge angle at a bearing of the main pipe settle how far along the arm it
    would have to lie, and on which bearing from the pivot point. Where that is the point's own
    bearing, the arm lies over it.

    Parameters
    ----------
    layout : PivotLayout
        The machine.
    x, y : array_like, shape (n,)
        Points in the field's frame. [m]

    Returns
    -------
    ArmPlaces
        One entry for each point, in their order; of several passages the one nearest the hinge.

    Notes
    -----
    The arm's course has a position every tenth of a degree and is straight between them; a point
    that it touches for less than that, coming and going, may be missed.
    """
    x, y = np.atleast_1d(np.asarray(x, float)), np.atleast_1d(np.asarray(y, float))
    nothing = np.full(x.shape, np.nan)
    found = ArmPlaces(along_m=nothing, bearing_deg=nothing.copy(), angle_deg=nothing.copy())
    if layout.corner_arm is None:
        return found
    laid, pivot = layout.corner_arm, layout.pivot
    distance = np.hypot(x - pivot.x_m, y - pivot.y_m)
    toward = azimuth_deg(x - pivot.x_m, y - pivot.y_m)
    asked = np.flatnonzero(distance <= laid.arm.hinge_m + farthest_m(layout) + _SLACK_M)
    folds_in = laid.arm.fold_deg < 90.0
    for block in _blocks(asked, len(laid.course.bearing_deg)):
        for root in (1.0, -1.0) if folds_in else (1.0,):
            _passages(laid, farthest_m(layout), distance, toward, block, root, found)
    return found


def arm_place(layout: PivotLayout, places: ArmPlaces, row: int) -> ArmPlace | None:
    """Return one point's answer.

    Parameters
    ----------
    layout : PivotLayout
        The machine.
    places : ArmPlaces
        Its answers.
    row : int
        Which point, from 0.

    Returns
    -------
    ArmPlace or None
        None where the arm never passes over the point.
    """
    along = float(places.along_m[row])
    if layout.corner_arm is None or np.isnan(along):
        return None
    pivot = layout.pivot
    azimuth = (float(places.bearing_deg[row]) - pivot.convergence_deg) % 360.0 % 360.0
    return arm_spot(layout, along, azimuth_deg=azimuth, angle_deg=float(places.angle_deg[row]))


def arm_spot(
    layout: PivotLayout, along_m: float, *, azimuth_deg: float | None, angle_deg: float | None = None
) -> ArmPlace:
    """Return a place named on a corner arm itself.

    Parameters
    ----------
    layout : PivotLayout
        A machine with a corner arm.
    along_m : float
        Distance along the arm from its hinge. [m]
    azimuth_deg : float or None
        True azimuth of the main pipe; None when not known. [deg]
    angle_deg : float or None, default None
        Angle at the hinge; None = as its course has it at that azimuth. [deg]

    Returns
    -------
    ArmPlace
        The place.
    """
    pivot, laid = layout.pivot, layout.corner_arm
    zero = pivot.panel_zero_deg
    if angle_deg is None and azimuth_deg is not None and laid is not None:
        angle_deg = float(hinge_angles(laid.course, [azimuth_deg + pivot.convergence_deg])[0])
    wheels_m = 0.0 if pivot.corner_arm is None else pivot.corner_arm.length_m
    return ArmPlace(
        along_m=along_m,
        wheel_offset_m=along_m - wheels_m,
        pipe_m=pivot.tower_radii_m[-1] + along_m,
        angle_deg=angle_deg,
        azimuth_deg=azimuth_deg,
        panel_deg=None if azimuth_deg is None or zero is None else (azimuth_deg - zero) % 360.0 % 360.0,
    )


def farthest_m(layout: PivotLayout) -> float:
    """Return how far from its hinge a corner arm or the gun at its end wets.

    Parameters
    ----------
    layout : PivotLayout
        The machine.

    Returns
    -------
    float
        Reach from the hinge; 0 without an arm. [m]
    """
    arm = layout.pivot.corner_arm
    if arm is None:
        return 0.0
    gun_m = 0.0 if arm.end_gun is None else arm.length_m + arm.overhang_m + arm.end_gun.reach_m
    return max(arm.reach_m, gun_m)


def _blocks(asked: NDArray[np.int64], positions: int) -> Iterator[NDArray[np.int64]]:
    step = max(1, _BLOCK // positions)
    return (asked[first : first + step] for first in range(0, len(asked), step))


def _passages(
    laid: ArmLayout,
    farthest: float,
    distance: NDArray[np.float64],
    toward: NDArray[np.float64],
    block: NDArray[np.int64],
    root: float,
    found: ArmPlaces,
) -> None:
    """Fill in, for some points, the passage nearest the hinge; `found` is changed."""
    bearing, angle = closed_course(laid.course)
    away = distance[block]
    apart = _apart(laid, away[:, None], toward[block][:, None], bearing, angle, root)
    # The residual jumps by a whole turn on the far side of the circle: that is no passage.
    ahead = apart[:, :-1] >= 0
    change = (ahead != (apart[:, 1:] >= 0)) & (np.abs(apart[:, :-1] - apart[:, 1:]) < 90.0)
    row, at = np.nonzero(change)
    low, high, was = bearing[at], bearing[at + 1], ahead[row, at]
    for _ in range(_HALVINGS if len(row) else 0):
        middle = (low + high) / 2
        here = _apart(laid, away[row], toward[block][row], middle, hinge_angles(laid.course, middle), root)
        same = (here >= 0) == was
        low, high = np.where(same, middle, low), np.where(same, high, middle)
    middle = (low + high) / 2
    inner = hinge_angles(laid.course, middle)
    along = _along(laid, away[row], inner, root)
    good = np.flatnonzero((along >= 0) & (along <= farthest + _SLACK_M))
    # Falling, so that of several passages the one nearest the hinge is written last.
    good = good[np.argsort(-along[good], kind="stable")]
    good = good[~(along[good] >= found.along_m[block[row[good]]])]
    point = block[row[good]]
    found.along_m[point], found.bearing_deg[point] = along[good], middle[good]
    found.angle_deg[point] = inner[good]


def _along(
    laid: ArmLayout, distance: NDArray[np.float64], angle_deg: NDArray[np.float64], root: float
) -> NDArray[np.float64]:
    """Return how far along the arm a point of this distance lies: law of cosines, one of its roots."""
    turn, hinge_m = np.radians(angle_deg), laid.arm.hinge_m
    under = distance**2 - (hinge_m * np.sin(turn)) ** 2
    along = hinge_m * np.cos(turn) + root * np.sqrt(np.maximum(under, 0.0))
    return np.where(under >= 0, along, np.nan)


def _apart(
    laid: ArmLayout,
    distance: NDArray[np.float64],
    toward_deg: NDArray[np.float64],
    bearing_deg: NDArray[np.float64],
    angle_deg: NDArray[np.float64],
    root: float,
) -> NDArray[np.float64]:
    """Return by how much the arm's point of a distance lies clockwise of the place, -180 to 180 [deg]."""
    along, turn = _along(laid, distance, angle_deg, root), np.radians(angle_deg)
    behind = np.degrees(np.arctan2(along * np.sin(turn), laid.arm.hinge_m - along * np.cos(turn)))
    sign = 1.0 if laid.arm.side == "trailing" else -1.0
    return np.asarray((bearing_deg - sign * behind - toward_deg + 180.0) % 360.0 - 180.0)

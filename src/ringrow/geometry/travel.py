"""Machines that walk along a path: a straight pipe carried sideways by a cart or along a ditch."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from ringrow.errors import GeometryError
from ringrow.geometry.angles import azimuth_deg
from ringrow.geometry.arcs import sector_polygon

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray
    from shapely.geometry.base import BaseGeometry

_LAP_M = 1e-6
"""Legs run this far [m] past a corner, onto the ground of its sectors: sides that only touch miss each
other by a rounding, and their union falls apart along a slit."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TravelPath:
    """The path of the cart, with the bearing of each straight leg.

    Parameters
    ----------
    corners_m : ndarray, shape (n, 2)
        Corners of the path in travel order, two or more. [m]
    bearings_deg : ndarray, shape (n - 1,)
        Frame bearing of each leg. [deg]
    starts_m : ndarray, shape (n,)
        Travel distance at each corner, 0 at the first. [m]
    """

    corners_m: NDArray[np.float64]
    bearings_deg: NDArray[np.float64]
    starts_m: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TravelPlaces:
    """Places seen from a travelling machine, one entry a point.

    Parameters
    ----------
    travel_m : ndarray, shape (n,)
        Travel distance of the cart when the pipe passes over the point. [m]
    offset_m : ndarray, shape (n,)
        Distance from the cart along the pipe, positive to the right of travel. [m]
    inside : ndarray of bool, shape (n,)
        Whether the pipe's water reaches the point.
    """

    travel_m: NDArray[np.float64]
    offset_m: NDArray[np.float64]
    inside: NDArray[np.bool_]


def travel_path(corners_m: ArrayLike) -> TravelPath:
    """Return a path from its corners.

    Parameters
    ----------
    corners_m : array_like, shape (n, 2)
        Corners in travel order, two or more, no two neighbours the same. [m]

    Returns
    -------
    TravelPath
        The path.

    Raises
    ------
    GeometryError
        If there are fewer than two corners, a leg has no length, or the path turns back by more
        than 135 degrees, which no machine of this kind can follow.

    Examples
    --------
    >>> travel_path([[0, 0], [0, 100], [50, 100]]).starts_m
    array([  0., 100., 150.])
    """
    corners = np.asarray(corners_m, float).reshape(-1, 2)
    steps = np.diff(corners, axis=0)
    lengths = np.hypot(*steps.T)
    if len(corners) < 2 or not (lengths > 0.1).all():
        message = (
            f"path: found {len(corners)} corners; allowed: two or more, each 0.1 m or more from the next"
        )
        raise GeometryError(message)
    bearings = azimuth_deg(steps[:, 0], steps[:, 1])
    turns = np.abs(_turns(bearings))
    if (turns > 135.0).any():
        message = f"path: found a turn of {turns.max():.0f} degrees; allowed: up to 135 degrees at a corner"
        raise GeometryError(message)
    return TravelPath(
        corners_m=corners, bearings_deg=bearings, starts_m=np.concatenate([[0.0], np.cumsum(lengths)])
    )


def _turns(bearings_deg: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray((np.diff(bearings_deg) + 180.0) % 360.0 - 180.0)


def travel_ground(path: TravelPath, *, left_m: float, right_m: float) -> BaseGeometry:
    """Return the ground wetted by a pipe carried square to the path.

    Along a leg it is a rectangle; at a corner the machine turns about the cart and wets a
    sector on each side.

    Parameters
    ----------
    path : TravelPath
        The cart's path.
    left_m, right_m : float
        Wetted reach to the left and right of travel, 0 or more, one of them above 0. [m]

    Returns
    -------
    shapely geometry
        The wetted ground. [m]

    Raises
    ------
    GeometryError
        If a reach is below 0 or both are 0.

    Examples
    --------
    >>> round(travel_ground(travel_path([[0, 0], [0, 100]]), left_m=30, right_m=50).area)
    8000
    """
    if min(left_m, right_m) < 0 or left_m + right_m <= 0:
        message = (
            f"pipe: found {left_m:g} m left and {right_m:g} m right; allowed: 0 m or more, one above 0 m"
        )
        raise GeometryError(message)
    legs = _leg_rectangles(path, left_m, right_m)
    corners = [
        sector
        for corner, before, turn in zip(
            path.corners_m[1:-1], path.bearings_deg[:-1], _turns(path.bearings_deg), strict=True
        )
        for sector in _corner_sectors(corner, float(before), float(turn), left_m, right_m)
    ]
    return shapely.union_all([*legs, *corners])


def _leg_rectangles(path: TravelPath, left_m: float, right_m: float) -> NDArray[np.object_]:
    turn = np.radians(path.bearings_deg)
    right = np.column_stack([np.cos(turn), -np.sin(turn)])
    begin, end = path.corners_m[:-1].copy(), path.corners_m[1:].copy()
    lap = _LAP_M * np.column_stack([np.sin(turn), np.cos(turn)])
    begin[1:] -= lap[1:]
    end[:-1] += lap[:-1]
    rings = np.stack(
        [begin + right_m * right, end + right_m * right, end - left_m * right, begin - left_m * right], axis=1
    )
    return np.asarray(shapely.polygons(rings))


def _corner_sectors(
    corner: NDArray[np.float64], before_deg: float, turn_deg: float, left_m: float, right_m: float
) -> list[BaseGeometry]:
    if abs(turn_deg) < 1e-9:
        return []
    sectors = []
    for side_deg, reach_m in ((90.0, right_m), (-90.0, left_m)):
        ends = (before_deg + side_deg, before_deg + side_deg + turn_deg)
        first, last = ends if turn_deg > 0 else ends[::-1]
        if reach_m > 0:
            sectors.append(
                sector_polygon(float(corner[0]), float(corner[1]), reach_m, first % 360, last % 360)
            )
    return sectors


def travel_places(
    path: TravelPath, x: ArrayLike, y: ArrayLike, *, left_m: float, right_m: float
) -> TravelPlaces:
    """Return travel distance and place along the pipe for points.

    Parameters
    ----------
    path : TravelPath
        The cart's path.
    x, y : array_like, shape (n,)
        Points. [m]
    left_m, right_m : float
        Wetted reach to the left and right of travel. [m]

    Returns
    -------
    TravelPlaces
        For each point the passage that brings it nearest to the cart, among those whose water
        reaches it; when none does, the nearest point of the path.

    Examples
    --------
    >>> path = travel_path([[0, 0], [0, 100]])
    >>> seen = travel_places(path, [20, -10], [40, 70], left_m=30, right_m=50)
    >>> seen.travel_m, seen.offset_m
    (array([40., 70.]), array([ 20., -10.]))
    """
    point = np.column_stack([np.asarray(x, float).ravel(), np.asarray(y, float).ravel()])
    turn = np.radians(path.bearings_deg)
    ahead = np.column_stack([np.sin(turn), np.cos(turn)])
    from_start = point[:, None, :] - path.corners_m[None, :-1, :]
    length = np.diff(path.starts_m)
    along = (from_start * ahead[None]).sum(axis=2)
    across = from_start[..., 0] * ahead[:, 1] - from_start[..., 1] * ahead[:, 0]
    on_leg = (along >= 0) & (along <= length) & (across <= right_m) & (across >= -left_m)
    legs = (np.clip(along, 0, length) + path.starts_m[:-1], across, on_leg)
    corner_travel, corner_offset, on_corner = _at_corners(path, point, left_m, right_m)
    travel = np.concatenate([legs[0], corner_travel], axis=1)
    offset = np.concatenate([legs[1], corner_offset], axis=1)
    inside = np.concatenate([legs[2], on_corner], axis=1)
    beside = np.abs(along - np.clip(along, 0, length))
    distance = np.concatenate([np.hypot(across, beside), np.abs(corner_offset)], axis=1)
    best = np.where(inside, distance, distance + 1e9).argmin(axis=1)
    row = np.arange(len(point))
    return TravelPlaces(travel_m=travel[row, best], offset_m=offset[row, best], inside=inside[row, best])


def _at_corners(
    path: TravelPath, point: NDArray[np.float64], left_m: float, right_m: float
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.bool_]]:
    """Return travel, offset and inside for the sectors at the path's inner corners."""
    away = point[:, None, :] - path.corners_m[None, 1:-1, :]
    distance = np.hypot(away[..., 0], away[..., 1])
    before, turn = path.bearings_deg[:-1], _turns(path.bearings_deg)
    bearing = azimuth_deg(away[..., 0], away[..., 1])
    sign = np.where(turn < 0, -1.0, 1.0)
    swept_right = (sign * (bearing - before - 90.0)) % 360.0
    swept_left = (sign * (bearing - before + 90.0)) % 360.0
    right = (swept_right <= np.abs(turn)) & (distance <= right_m)
    left = (swept_left <= np.abs(turn)) & (distance <= left_m)
    travel = np.broadcast_to(path.starts_m[1:-1], distance.shape)
    return np.asarray(travel), np.where(left & ~right, -distance, distance), np.asarray(right | left)

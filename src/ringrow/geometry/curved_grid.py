"""Laterals along a curve: lines, strips, stations, and the coordinate across them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from ringrow.geometry.lateral_rows import LateralRows

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray
    from shapely import LineString
    from shapely.geometry.base import BaseGeometry

    from ringrow.geometry.parallel_curves import OffsetSide


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CurvedGrid(LateralRows):
    """Every lateral of a block laid along a curve, and every piece of tape on it.

    The laterals are offset curves of one guidance line, extended straight at both ends. Coordinate
    c of a point is its distance from the numbering edge, the offset curve through the block's
    extreme point; lateral k has ``c = first_m + (k - 1) * spacing_m`` all along. Coordinate s is
    the distance along a lateral's own line from a far-off point before the header end.

    Parameters
    ----------
    first_m, spacing_m : float
        Distance of lateral 1 from the numbering edge; distance between laterals. [m]
    count : int
        Highest lateral number, 0 for none.
    station_zero_m : ndarray, shape (count,)
        Coordinate s at which station 0 of each lateral lies; NaN for a number that never meets the block. [m]
    station_end_m : ndarray, shape (count,)
        Coordinate s of the outer end of each lateral, headland taken off; NaN as above. Below
        `station_zero_m` where the headlands leave nothing. [m]
    piece_lateral : ndarray of int, shape (pieces,)
        Lateral number of each piece of tape, rising; within a lateral from the header end.
    piece_letter : ndarray of int, shape (pieces,)
        0 for a, 1 for b, ... counted within the lateral.
    piece_start_m, piece_stop_m : ndarray, shape (pieces,)
        Coordinates s of each piece's ends, start below stop. [m]
    guide : shapely LineString
        The guidance line from beyond the header end to beyond the far end. [m]
    guide_across_m : float
        Coordinate c of the guidance line itself; may lie outside the block. [m]
    block_width_m : float
        Largest coordinate c in the block. [m]
    higher_ground : shapely geometry
        All ground on the guidance line's side of higher numbers. [m]
    lower, higher : OffsetSide
        Offset curves toward lower and toward higher numbers.
    lines : ndarray of shapely LineString, shape (count,)
        The whole line of each lateral, ends far beyond the block. [m]
    """

    guide: LineString
    guide_across_m: float
    block_width_m: float
    higher_ground: BaseGeometry
    lower: OffsetSide
    higher: OffsetSide
    lines: NDArray[np.object_]

    def across_m(self, x: ArrayLike, y: ArrayLike) -> NDArray[np.float64]:
        """Return coordinate c of points.

        Parameters
        ----------
        x, y : array_like, shape (n,)
            The points. [m]

        Returns
        -------
        ndarray, shape (n,)
            Distance from the numbering edge toward higher numbers. [m]
        """
        x, y = np.asarray(x, float), np.asarray(y, float)
        away = signed_distance_m(self.guide, self.higher_ground, x, y)
        return np.asarray(away + self.guide_across_m)

    def along_m(self, x: ArrayLike, y: ArrayLike, lateral: ArrayLike) -> NDArray[np.float64]:
        """Return coordinate s, on the line of a lateral, of its point nearest to each place.

        Parameters
        ----------
        x, y : array_like, shape (n,)
            The places. [m]
        lateral : array_like of int, shape (n,) or one that fits it
            Lateral numbers, 1 to `count`. [-]

        Returns
        -------
        ndarray, shape (n,)
            Coordinate s. [m]
        """
        places = shapely.points(np.asarray(x, float), np.asarray(y, float))
        return np.asarray(shapely.line_locate_point(self.lines[np.asarray(lateral) - 1], places))


def signed_distance_m(
    guide: LineString, higher_ground: BaseGeometry, x: ArrayLike, y: ArrayLike
) -> NDArray[np.float64]:
    """Return the distance of points from a guidance line, positive toward higher numbers.

    Parameters
    ----------
    guide : shapely LineString
        The line. [m]
    higher_ground : shapely geometry
        Ground on its side of higher numbers. [m]
    x, y : array_like, shape (n,)
        The points. [m]

    Returns
    -------
    ndarray, shape (n,)
        The distance. [m]
    """
    x, y = np.asarray(x, float), np.asarray(y, float)
    away = shapely.distance(shapely.points(x, y), guide)
    shapely.prepare(higher_ground)
    return np.where(shapely.contains_xy(higher_ground, x, y), away, -away)


def level_curves(
    lower: OffsetSide, higher: OffsetSide, away_m: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Return the curves at signed distances from a guidance line.

    Parameters
    ----------
    lower, higher : OffsetSide
        Its offset curves toward lower and toward higher numbers.
    away_m : ndarray, shape (k,)
        Distances, positive toward higher numbers. [m]

    Returns
    -------
    xy : ndarray, shape (n, 2)
        Corners of all curves, one after the other. [m]
    curve : ndarray of int, shape (n,)
        Which curve each belongs to, rising. [-]
    """
    below, above = np.flatnonzero(away_m < 0), np.flatnonzero(away_m >= 0)
    parts = [
        (side.curves(np.abs(away_m[at])), at) for side, at in ((lower, below), (higher, above)) if len(at)
    ]
    if not parts:
        return np.empty((0, 2)), np.empty(0, np.int64)
    xy = np.concatenate([part.xy for part, _ in parts])
    curve = np.concatenate([at[part.curve] for part, at in parts])
    order = np.argsort(curve, kind="stable")
    xy, curve = xy[order], curve[order]
    moved = np.append(True, (curve[1:] != curve[:-1]) | (np.abs(np.diff(xy, axis=0)).max(axis=1) > 1e-9))
    return xy[moved], curve[moved]


def cut_lines(
    lines: NDArray[np.object_], start_m: NDArray[np.float64], stop_m: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Return the part of each line between two distances along it.

    Parameters
    ----------
    lines : ndarray of shapely LineString, shape (n,)
        The lines. [m]
    start_m, stop_m : ndarray, shape (n,)
        Distances along each line, start below stop. [m]

    Returns
    -------
    xy : ndarray, shape (m, 2)
        Corners of the parts, ends first and last. [m]
    part : ndarray of int, shape (m,)
        Which line each corner belongs to, rising. [-]
    """
    xy, line = shapely.get_coordinates(lines, return_index=True)
    step = np.hypot(*np.diff(xy, axis=0, prepend=xy[:1]).T)
    step[np.append(True, line[1:] != line[:-1])] = 0.0
    run = np.cumsum(step)
    first = np.searchsorted(line, np.arange(len(lines)))
    s = run - run[first[line]]
    inside = (s > start_m[line] + 1e-9) & (s < stop_m[line] - 1e-9)
    ends = np.concatenate(
        [shapely.get_coordinates(shapely.line_interpolate_point(lines, at)) for at in (start_m, stop_m)]
    )
    number = np.arange(len(lines))
    part = np.concatenate([number, line[inside], number])
    # Sorted by line, and the start, the corners and the end of each in this order.
    rank = np.concatenate([np.zeros(len(lines)), np.ones(int(inside.sum())), np.full(len(lines), 2.0)])
    order = np.lexsort([rank, part])
    corners = np.concatenate([ends[: len(lines)], xy[inside], ends[len(lines) :]])
    return corners[order], part[order]


def curved_lines(grid: CurvedGrid) -> NDArray[np.object_]:
    """Return the line of each piece of tape along a curve, drawn from its header end.

    Parameters
    ----------
    grid : CurvedGrid
        The laterals.

    Returns
    -------
    ndarray of shapely LineString, shape (pieces,)
        The lines, in the order of the grid's pieces. [m]
    """
    if len(grid.piece_lateral) == 0:
        return np.empty(0, dtype=object)
    xy, part = cut_lines(grid.lines[grid.piece_lateral - 1], grid.piece_start_m, grid.piece_stop_m)
    lines: NDArray[np.object_] = np.asarray(shapely.linestrings(xy, indices=part))
    return lines


def curved_strips(grid: CurvedGrid, *, grown_m: float = 0.0) -> NDArray[np.object_]:
    """Return the ground of each piece of tape along a curve: half a spacing each side, flat ends.

    Parameters
    ----------
    grid : CurvedGrid
        The laterals.
    grown_m : float, default 0
        How much wider on either side, and longer at either end, each band is drawn. [m]

    Returns
    -------
    ndarray of shapely Polygon, shape (pieces,)
        The bands, not cut to any ground, in the order of the grid's pieces. [m]

    Notes
    -----
    The sides are offset curves of the guidance line themselves, so that bands side by side fit.
    """
    if len(grid.piece_lateral) == 0:
        return np.empty(0, dtype=object)
    row = grid.piece_lateral - 1
    level: NDArray[np.float64] = (
        np.arange(grid.count, dtype=np.float64) * grid.spacing_m + grid.first_m - grid.guide_across_m
    )
    half = grid.spacing_m / 2.0 + grown_m
    whole = grid.lines[row]
    ends = [
        shapely.line_interpolate_point(whole, at)
        for at in (grid.piece_start_m - grown_m, grid.piece_stop_m + grown_m)
    ]
    sides = []
    for side in (-half, half):
        xy, curve = level_curves(grid.lower, grid.higher, level + side)
        edge = np.asarray(shapely.linestrings(xy, indices=curve))[row]
        start, stop = (shapely.line_locate_point(edge, end) for end in ends)
        sides.append(cut_lines(edge, start, np.maximum(stop, start)))
    (one, one_part), (two, two_part) = sides
    corners, part = np.concatenate([one, two[::-1]]), np.concatenate([one_part, two_part[::-1]])
    order = np.argsort(part, kind="stable")
    rings = shapely.linearrings(corners[order], indices=part[order])
    strips: NDArray[np.object_] = np.asarray(shapely.polygons(rings))
    broken = ~shapely.is_valid(strips)
    strips[broken] = shapely.make_valid(strips[broken])
    return strips


def place_on_curve(grid: CurvedGrid, lateral: int, s: float) -> tuple[float, float]:
    """Return the place at coordinate s on a lateral's line.

    Parameters
    ----------
    grid : CurvedGrid
        The laterals.
    lateral : int
        Lateral number, 1 to `count`. [-]
    s : float
        Distance along its line. [m]

    Returns
    -------
    x, y : float
        The place in the frame. [m]
    """
    point = shapely.line_interpolate_point(grid.lines[lateral - 1], s)
    return float(point.x), float(point.y)

"""Straight laterals as arrays; lines, strips, lengths and the place of a station of any laterals."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from ringrow.errors import PlaceError
from ringrow.geometry.curved_grid import (
    CurvedGrid,
    curved_lines,
    curved_strips,
    place_on_curve,
)
from ringrow.geometry.lateral_rows import LateralRows
from ringrow.units import FOOT_M

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

_PAST_END_M = 1e-3
"""A station this little past the end [m] is the end: unit conversion and rounding."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LateralGrid(LateralRows):
    """Every straight lateral of a block and every piece of tape on it, as arrays.

    Two axes: `along`, the unit vector from the header end to the far end, and `across`, the
    unit vector from the numbering edge toward higher numbers. A point's coordinates are
    ``s = (p - origin) . along`` and ``c = (p - origin) . across``; `origin` lies on the
    numbering edge, so lateral k runs along ``c = first_m + (k - 1) * spacing_m``.

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
    origin : tuple of float
        x and y of the origin. [m]
    along, across : tuple of float
        Unit vectors (x, y), square to each other. [-]
    """

    origin: tuple[float, float]
    along: tuple[float, float]
    across: tuple[float, float]

    def coordinates(self, x: ArrayLike, y: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return the coordinates s and c of points of the frame.

        Parameters
        ----------
        x, y : array_like, shape (n,)
            The points. [m]

        Returns
        -------
        s, c : ndarray, shape (n,)
            Along the laterals from the header end, and across from the numbering edge. [m]
        """
        dx, dy = np.asarray(x, float) - self.origin[0], np.asarray(y, float) - self.origin[1]
        return dx * self.along[0] + dy * self.along[1], dx * self.across[0] + dy * self.across[1]

    def points(self, s: ArrayLike, c: ArrayLike) -> NDArray[np.float64]:
        """Return points of the frame from coordinates s and c.

        Parameters
        ----------
        s, c : array_like, shape (n,) or shapes that fit each other
            Coordinates along and across. [m]

        Returns
        -------
        ndarray, shape (n, 2)
            x and y of each point, on one more axis at the end. [m]
        """
        s, c = np.asarray(s, float), np.asarray(c, float)
        x = self.origin[0] + s * self.along[0] + c * self.across[0]
        y = self.origin[1] + s * self.along[1] + c * self.across[1]
        return np.stack([x, y], axis=-1)


def lateral_lines(grid: LateralRows) -> NDArray[np.object_]:
    """Return the line of each piece of tape, drawn from its header end.

    Parameters
    ----------
    grid : LateralRows
        The laterals.

    Returns
    -------
    ndarray of shapely LineString, shape (pieces,)
        The lines, in the order of the grid's pieces. [m]

    Examples
    --------
    >>> from ringrow.geometry.laterals import lay_laterals
    >>> block = shapely.box(0, 0, 100, 6)
    >>> grid = lay_laterals(block, block, heading_deg=90, number_from_deg=0, header_deg=90, spacing_m=4)
    >>> [str(line) for line in lateral_lines(grid)]
    ['LINESTRING (100 4, 0 4)', 'LINESTRING (100 0, 0 0)']
    """
    if isinstance(grid, CurvedGrid):
        return curved_lines(grid)
    grid = _straight(grid)
    s = np.column_stack([grid.piece_start_m, grid.piece_stop_m])
    lines: NDArray[np.object_] = shapely.linestrings(grid.points(s, grid.piece_across_m[:, None]))
    return lines


def lateral_strips(grid: LateralRows) -> NDArray[np.object_]:
    """Return the ground of each piece of tape: a flat-ended band half a spacing each side.

    Parameters
    ----------
    grid : LateralRows
        The laterals.

    Returns
    -------
    ndarray of shapely Polygon, shape (pieces,)
        The bands, rectangles where laterals are straight, not cut to any ground, in the order
        of the grid's pieces. [m]

    Examples
    --------
    >>> from ringrow.geometry.laterals import lay_laterals
    >>> block = shapely.box(0, 0, 100, 6)
    >>> grid = lay_laterals(block, block, heading_deg=90, number_from_deg=0, header_deg=270, spacing_m=3)
    >>> [float(strip.area) for strip in lateral_strips(grid)]
    [300.0, 300.0]
    """
    if isinstance(grid, CurvedGrid):
        return curved_strips(grid)
    grid = _straight(grid)
    half = grid.spacing_m / 2.0
    start, stop, c = grid.piece_start_m, grid.piece_stop_m, grid.piece_across_m
    s = np.column_stack([start, stop, stop, start])
    corners = grid.points(s, np.column_stack([c - half, c - half, c + half, c + half]))
    strips: NDArray[np.object_] = shapely.polygons(shapely.linearrings(corners))
    return strips


def lateral_lengths_m(grid: LateralRows) -> NDArray[np.float64]:
    """Return the length of tape on each lateral.

    Parameters
    ----------
    grid : LateralRows
        The laterals.

    Returns
    -------
    ndarray, shape (count,)
        Tape on laterals 1, 2, ...; 0 for a number without tape. [m]

    Examples
    --------
    >>> from ringrow.geometry.laterals import lay_laterals
    >>> block = shapely.box(0, 0, 100, 6)
    >>> grid = lay_laterals(block, block, heading_deg=90, number_from_deg=0, header_deg=270, spacing_m=3)
    >>> lateral_lengths_m(grid)
    array([100., 100.])
    """
    lengths = grid.piece_stop_m - grid.piece_start_m
    return np.bincount(grid.piece_lateral - 1, weights=lengths, minlength=grid.count).astype(np.float64)


def piece_name(letter: int) -> str:
    """Return the name of a piece of a lateral.

    Parameters
    ----------
    letter : int
        Number of the piece from the header end, 0 and up. [-]

    Returns
    -------
    str
        ``a``, ``b``, ... ``z``, ``aa``, ``ab``, ...

    Raises
    ------
    PlaceError
        If `letter` is below 0.

    Examples
    --------
    >>> piece_name(0), piece_name(25), piece_name(26), piece_name(52)
    ('a', 'z', 'aa', 'ba')
    """
    if letter < 0:
        message = f"piece of a lateral: found number {letter}; allowed: 0 or more"
        raise PlaceError(message)
    rest, last = divmod(int(letter), 26)
    return (piece_name(rest - 1) if rest else "") + chr(ord("a") + last)


def point_at(grid: LateralRows, lateral: int, station_m: float) -> tuple[float, float]:
    """Return the place of a station on a lateral.

    Parameters
    ----------
    grid : LateralRows
        The laterals.
    lateral : int
        Lateral number, 1 and up. [-]
    station_m : float
        Distance along the lateral from its header end. It may fall into a gap of the tape;
        the point then lies on the lateral's line all the same. [m]

    Returns
    -------
    x, y : float
        The place in the frame. [m]

    Raises
    ------
    PlaceError
        If there is no such lateral, it holds no tape, or the station lies beyond its ends.

    Examples
    --------
    >>> from ringrow.geometry.laterals import lay_laterals
    >>> block = shapely.box(0, 0, 100, 6)
    >>> grid = lay_laterals(block, block, heading_deg=90, number_from_deg=0, header_deg=270, spacing_m=3)
    >>> point_at(grid, 2, 40)
    (40.0, 1.5)
    """
    if not 1 <= lateral <= grid.count:
        allowed = f"1 to {grid.count}" if grid.count else "none, the block holds no lateral"
        message = f"lateral: found {lateral}; allowed: {allowed}"
        raise PlaceError(message)
    if not np.any(grid.piece_lateral == lateral):
        message = f"lateral: found {lateral}, a number without tape; allowed: a lateral that holds tape"
        raise PlaceError(message)
    zero, end = grid.station_zero_m[lateral - 1], grid.station_end_m[lateral - 1]
    if not -_PAST_END_M <= station_m <= end - zero + _PAST_END_M:
        message = (
            f"station on lateral {lateral}: found {station_m:.2f} m ({station_m / FOOT_M:.1f} ft); "
            f"allowed: 0 to {end - zero:.2f} m ({(end - zero) / FOOT_M:.1f} ft)"
        )
        raise PlaceError(message)
    s = min(max(zero + station_m, zero), end)
    if isinstance(grid, CurvedGrid):
        return place_on_curve(grid, lateral, s)
    x, y = _straight(grid).points(s, grid.first_m + (lateral - 1) * grid.spacing_m)
    return float(x), float(y)


def points_on(grid: LateralRows, lateral: NDArray[np.int64], s: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return places on laterals.

    Parameters
    ----------
    grid : LateralRows
        The laterals.
    lateral : ndarray of int, shape (n,)
        Lateral numbers, 1 to `count`. [-]
    s : ndarray, shape (n,)
        Coordinate along each lateral: station plus the lateral's `station_zero_m`. [m]

    Returns
    -------
    ndarray, shape (n, 2)
        x and y of each place. [m]

    Examples
    --------
    >>> from ringrow.geometry.laterals import lay_laterals
    >>> block = shapely.box(0, 0, 100, 6)
    >>> grid = lay_laterals(block, block, heading_deg=90, number_from_deg=0, header_deg=270, spacing_m=3)
    >>> points_on(grid, np.array([1, 2]), np.array([0.0, 40.0])).tolist()
    [[0.0, 4.5], [40.0, 1.5]]
    """
    if isinstance(grid, CurvedGrid):
        return shapely.get_coordinates(shapely.line_interpolate_point(grid.lines[lateral - 1], s))
    return _straight(grid).points(s, grid.first_m + (lateral - 1) * grid.spacing_m)


def _straight(grid: LateralRows) -> LateralGrid:
    if not isinstance(grid, LateralGrid):
        message = f"laterals: found {type(grid).__name__}; allowed: straight or curved ones"
        raise PlaceError(message)
    return grid

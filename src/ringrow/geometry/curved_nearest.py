"""Which piece of curved tape is nearest to a place, and the ground that curved strips cover.

The nearest lateral follows from a place's distance from the guidance line. Only where the place
lies beside no tape of that lateral, or about half way between two, are the pieces themselves searched.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from ringrow.geometry.curved_grid import curved_lines, curved_strips, cut_lines
from ringrow.geometry.parallel_curves import CURVE_ERROR_M

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from ringrow.geometry.curved_grid import CurvedGrid

GROWN_M = 1e-6
"""Strips are grown by this much [m] before they are joined, so that neighbours overlap and leave no slit."""
_CHUNK = 16
"""Edges of a piece that are searched as one."""
_BLOCK = 65_536


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CurvedNearest:
    """The nearest piece of curved tape of each of n places, as arrays of shape (n,).

    Parameters
    ----------
    piece : ndarray of int
        Index into the grid's piece arrays. [-]
    offset_m : ndarray
        Distance across from that lateral's line, positive toward higher numbers. [m]
    station_m : ndarray
        Station of the piece's point nearest to the place. [m]
    distance_m : ndarray
        Distance to that point. [m]
    """

    piece: NDArray[np.int64]
    offset_m: NDArray[np.float64]
    station_m: NDArray[np.float64]
    distance_m: NDArray[np.float64]


def nearest_on_curves(grid: CurvedGrid, x: NDArray[np.float64], y: NDArray[np.float64]) -> CurvedNearest:
    """Return the nearest piece of tape of each place.

    Parameters
    ----------
    grid : CurvedGrid
        The laterals; they hold at least one piece.
    x, y : ndarray, shape (n,)
        The places, all finite. [m]

    Returns
    -------
    CurvedNearest
        One answer a place; ties go to the lower piece.
    """
    across = grid.across_m(x, y)
    level = (across - grid.first_m) / grid.spacing_m
    row = np.clip(np.ceil(level - 0.5), 0, grid.count - 1).astype(np.int64)
    along = grid.along_m(x, y, row + 1)
    piece = _piece_at(grid, row, along)
    # The next lateral is at least this far off; its curve, like all, is drawn within a millimetre.
    next_m = (1.0 - np.abs(level - row)) * grid.spacing_m - 4.0 * CURVE_ERROR_M
    beside = shapely.distance(shapely.points(x, y), grid.lines[row])
    off = np.flatnonzero((piece < 0) | (beside > next_m))
    if len(off):
        piece[off] = _search(grid, x[off], y[off])
    return _answers(grid, x, y, across, piece)


def _piece_at(grid: CurvedGrid, row: NDArray[np.int64], along: NDArray[np.float64]) -> NDArray[np.int64]:
    """Return the piece of each row that holds a coordinate s; -1 where none does."""
    stride = float(grid.piece_stop_m.max()) + 1.0
    key = grid.piece_lateral * stride + grid.piece_stop_m
    piece = np.minimum(np.searchsorted(key, (row + 1) * stride + along), len(key) - 1)
    held = (grid.piece_lateral[piece] == row + 1) & (grid.piece_start_m[piece] <= along)
    held &= along <= grid.piece_stop_m[piece]
    return np.where(held, piece, -1)


def _answers(
    grid: CurvedGrid,
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    across: NDArray[np.float64],
    piece: NDArray[np.int64],
) -> CurvedNearest:
    row = grid.piece_lateral[piece] - 1
    places = shapely.points(x, y)
    along = grid.along_m(x, y, row + 1)
    beside = shapely.distance(places, grid.lines[row])
    distance = beside.copy()
    past = np.flatnonzero((along < grid.piece_start_m[piece]) | (along > grid.piece_stop_m[piece]))
    if len(past):
        # The line's nearest place is off the piece; the piece's own is not always its end.
        pieces, own = np.unique(piece[past], return_inverse=True)
        xy, part = cut_lines(
            grid.lines[grid.piece_lateral[pieces] - 1], grid.piece_start_m[pieces], grid.piece_stop_m[pieces]
        )
        tape = np.asarray(shapely.linestrings(xy, indices=part))[own]
        distance[past] = shapely.distance(places[past], tape)
        along[past] = grid.piece_start_m[piece[past]] + shapely.line_locate_point(tape, places[past])
    return CurvedNearest(
        piece=piece,
        offset_m=np.copysign(beside, across - grid.piece_across_m[piece]),
        station_m=along - grid.station_zero_m[row],
        distance_m=distance,
    )


def _search(grid: CurvedGrid, x: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.int64]:
    """Return the nearest piece of each place, all pieces searched."""
    chunks, piece_of = _chunks(curved_lines(grid))
    tree = shapely.STRtree(chunks)
    best = np.full(len(x), len(grid.piece_lateral), np.int64)
    for at in range(0, len(x), _BLOCK):
        part = slice(at, at + _BLOCK)
        place, chunk = tree.query_nearest(shapely.points(x[part], y[part]), all_matches=True)
        np.minimum.at(best[part], place, piece_of[chunk])
    return best


def _chunks(lines: NDArray[np.object_]) -> tuple[NDArray[np.object_], NDArray[np.int64]]:
    """Return lines in short lengths, which a tree tells apart better, and the line of each."""
    xy, line = shapely.get_coordinates(lines, return_index=True)
    number = np.arange(len(line)) - np.searchsorted(line, line)
    last = np.append(line[1:] != line[:-1], True)
    chunk = np.cumsum((number % _CHUNK == 0) & ~(last & (number > 0))) - 1
    # The first corner of a length, unless it begins its line, ends the length before it as well.
    shared = np.flatnonzero((number % _CHUNK == 0) & (number > 0) & ~last)
    xy = np.insert(xy, shared, xy[shared], axis=0)
    chunk = np.insert(chunk, shared, chunk[shared] - 1)
    made: NDArray[np.object_] = np.asarray(shapely.linestrings(xy, indices=chunk))
    first = np.searchsorted(chunk, np.arange(len(made)))
    return made, np.insert(line, shared, line[shared])[first]


def curved_union(grid: CurvedGrid, ground: BaseGeometry) -> BaseGeometry:
    """Return the union of all strips along curves, cut to `ground`.

    Parameters
    ----------
    grid : CurvedGrid
        The laterals.
    ground : shapely Polygon or MultiPolygon
        Valid ground the strips are cut to. [m]

    Returns
    -------
    shapely geometry
        The union; empty without tape. [m]

    Notes
    -----
    Strips are 1e-6 m larger all round than half a spacing before they are joined and cut, which
    moves the area by about 1e-6 m times the length of its own edge.
    """
    joined = shapely.union_all(curved_strips(grid, grown_m=GROWN_M))
    return shapely.intersection(joined, ground)

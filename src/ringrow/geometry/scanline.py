"""Where evenly spaced parallel rows run over ground: one scanline for all rows at once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

SNAP_M = 1e-6
"""A corner this close to a row [m] lies on it: far above rounding, far below any tape."""
SHORTEST_M = 1e-3
"""Runs shorter than this [m] are dropped, gaps shorter than this are closed: noise, not ground."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RowLines:
    """Parallel, evenly spaced lines without ends.

    Parameters
    ----------
    origin : tuple of float
        Point (x, y) from which both coordinates count. [m]
    along, across : tuple of float
        Unit vectors (x, y) along the rows and from row to row, square to each other. [-]
    first_m, spacing_m : float
        Coordinate of row 0 across; distance between rows. [m]
    count : int
        Number of rows. [-]
    """

    origin: tuple[float, float]
    along: tuple[float, float]
    across: tuple[float, float]
    first_m: float
    spacing_m: float
    count: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RowRuns:
    """Runs of parallel rows over ground, sorted by row, then along it.

    Parameters
    ----------
    row : ndarray of int, shape (runs,)
        Row of each run, 0 and up. [-]
    start_m, stop_m : ndarray, shape (runs,)
        Coordinates of its ends along the row, start below stop. [m]
    """

    row: NDArray[np.int64]
    start_m: NDArray[np.float64]
    stop_m: NDArray[np.float64]


def runs_over(ground: BaseGeometry, rows: RowLines) -> RowRuns:
    """Return the runs of each row that lie over `ground`, its edges included.

    Every edge of the ground is set against the rows it crosses and the crossings of each
    row are sorted; between the first and second, third and fourth, ... lies ground. A row
    that runs along an edge, or through a corner, counts what lies on either side of it.

    Parameters
    ----------
    ground : shapely Polygon or MultiPolygon
        Valid ground, holes and all. [m]
    rows : RowLines
        The rows.

    Returns
    -------
    RowRuns
        The runs; none for empty ground. Runs under 1 mm are left out, gaps under 1 mm closed.

    Examples
    --------
    >>> square = shapely.box(0, 0, 10, 10).difference(shapely.box(4, 0, 6, 5))
    >>> rows = RowLines(origin=(0, 0), along=(1, 0), across=(0, 1), first_m=2, spacing_m=5, count=2)
    >>> runs = runs_over(square, rows)
    >>> runs.row, runs.start_m, runs.stop_m
    (array([0, 0, 1]), array([0., 6., 0.]), array([ 4., 10., 10.]))
    """
    vertices, ring = shapely.get_coordinates(shapely.get_rings(shapely.get_parts(ground)), return_index=True)
    offset = vertices - rows.origin
    s = offset @ np.asarray(rows.along, float)
    # Across, count in rows: a row then is a whole number.
    level = (offset @ np.asarray(rows.across, float) - rows.first_m) / rows.spacing_m
    whole = np.rint(level)
    touching = np.abs(level - whole) * rows.spacing_m < SNAP_M
    edge = np.flatnonzero(ring[1:] == ring[:-1])
    edges = _Edges(
        s=s,
        level=level,
        counted=np.where(touching, whole, level),
        edge=edge,
        reach_m=2.0 * float(np.abs(s).max(initial=0.0)) + 1.0,
    )
    row, start, stop = _pairs(edges, rows=rows.count, seen_from=np.ceil)
    if touching.any():
        below = _pairs(edges, rows=rows.count, seen_from=_next_up)
        row, start, stop = (np.concatenate(both) for both in zip((row, start, stop), below, strict=True))
        order = np.argsort(row * edges.reach_m + start, kind="stable")
        row, start, stop = row[order], start[order], stop[order]
    return join_runs(row, start, stop, stride_m=edges.reach_m)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Edges:
    """Corners of the ground, and the edges that run from corner `edge` to the next.

    `level` is where a corner lies across, counted in rows; `counted` the same with corners
    close to a row put on it, which settles the rows an edge crosses but moves no crossing.
    ``row * reach_m + s`` sorts by row, then along it.
    """

    s: NDArray[np.float64]
    level: NDArray[np.float64]
    counted: NDArray[np.float64]
    edge: NDArray[np.int64]
    reach_m: float


def _next_up(level: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(np.floor(level) + 1.0)


def _pairs(
    edges: _Edges, *, rows: int, seen_from: Any
) -> tuple[NDArray[np.int64], NDArray[np.float64], NDArray[np.float64]]:
    # An edge from level lo to hi crosses rows seen_from(lo) .. seen_from(hi) - 1. With ceil
    # that is lo <= row < hi: ground just above each row; with floor + 1, lo < row <= hi: just
    # below. Either way every corner is counted once, so crossings pair up.
    bound = np.clip(seen_from(edges.counted), 0, rows).astype(np.int64)
    one, two = bound[edges.edge], bound[edges.edge + 1]
    first, crossed = np.minimum(one, two), np.abs(two - one)
    edge = np.repeat(edges.edge, crossed)
    row = np.arange(len(edge)) + np.repeat(first - (np.cumsum(crossed) - crossed), crossed)
    low, s0 = edges.level[edge], edges.s[edge]
    part = np.clip((row - low) / (edges.level[edge + 1] - low), 0.0, 1.0)
    s = s0 + part * (edges.s[edge + 1] - s0)
    order = np.argsort(row * edges.reach_m + s)
    s, row = s[order], row[order]
    return row[::2], s[::2], s[1::2]


def join_runs(
    row: NDArray[np.int64], start_m: NDArray[np.float64], stop_m: NDArray[np.float64], *, stride_m: float
) -> RowRuns:
    """Return runs with those that meet or overlap within a row made one.

    Parameters
    ----------
    row : ndarray of int, shape (n,)
        Row of each run, rising. [-]
    start_m, stop_m : ndarray, shape (n,)
        Ends of each run, starts rising within a row. [m]
    stride_m : float
        More than the farthest two ends of one row lie apart, and above 0. [m]

    Returns
    -------
    RowRuns
        The runs; those under 1 mm left out, gaps under 1 mm closed.
    """
    # Union of runs within each row: a new run begins where all before it have ended.
    key = row * stride_m
    farthest = np.maximum.accumulate(key + stop_m)
    begins = np.ones(len(row), bool)
    begins[1:] = (key + start_m)[1:] > farthest[:-1] + SHORTEST_M
    at = np.flatnonzero(begins)
    if 0 < len(at) < len(row):
        row, start_m, stop_m = row[at], start_m[at], np.maximum.reduceat(stop_m, at)
    kept = stop_m - start_m >= SHORTEST_M
    return RowRuns(row=row[kept], start_m=start_m[kept], stop_m=stop_m[kept])

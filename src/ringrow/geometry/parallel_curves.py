"""Curves that run beside a guidance line at any distance: one family of offset curves.

The line is a chain of straight edges. On the outside of a turn its offset is an arc about the
corner, on the inside the offsets of both edges cut each other short. An arc is drawn as tangents
to it, a few more edges of no length at the corner. Then every offset curve is a chain of the same
edges moved outward, each of them shrinking or growing evenly with the distance; an edge that has
shrunk to nothing stays away. So the distance at which each edge vanishes is all there is to know,
and any number of curves follow from it without a loop.

The general library's own offset curve is not used here: it thins the line by a share of the
distance first, some cm at a few hundred metres, and by another share for each distance, so that
curves side by side do not keep their distance.
"""

from __future__ import annotations

import heapq
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

CURVE_ERROR_M = 1e-3
"""Largest distance between a drawn curve and the true one [m]."""
_SAME_M = 1e-9
"""Corners nearer than this are one [m]."""
_NEVER = math.inf


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CurveVertices:
    """Corners of many curves, one curve after the other.

    Parameters
    ----------
    curve : ndarray of int, shape (n,)
        Which curve each corner belongs to, rising from 0. [-]
    xy : ndarray, shape (n, 2)
        The corners. [m]
    before, after : ndarray of int, shape (n,)
        The edges of the guidance line whose offsets meet at the corner; -1 at the curves' ends. [-]
    """

    curve: NDArray[np.int64]
    xy: NDArray[np.float64]
    before: NDArray[np.int64]
    after: NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OffsetSide:
    """The offset curves of a line on one of its sides.

    Parameters
    ----------
    point_m : ndarray, shape (m, 2)
        Where each edge begins. [m]
    along : ndarray, shape (m, 2)
        Unit vector along each edge; edges of arcs have a direction and no length. [-]
    normal : ndarray, shape (m, 2)
        Unit vector from each edge outward, to this side. [-]
    vanishes_m : ndarray, shape (m,)
        Distance at which each edge has shrunk to nothing; infinite for those that last. [m]
    source : ndarray of int, shape (m,)
        Edge of the line that each edge is, -1 for edges of arcs. [-]
    end_m : tuple of float
        Where the last edge ends (x, y). [m]
    """

    point_m: NDArray[np.float64]
    along: NDArray[np.float64]
    normal: NDArray[np.float64]
    vanishes_m: NDArray[np.float64]
    source: NDArray[np.int64]
    end_m: tuple[float, float]

    def curves(self, distance_m: ArrayLike) -> CurveVertices:
        """Return the offset curves at distances from the line.

        Parameters
        ----------
        distance_m : array_like, shape (k,)
            Distances to this side, 0 or more. [m]

        Returns
        -------
        CurveVertices
            Corners of every curve, in the direction of the line.
        """
        distance = np.atleast_1d(np.asarray(distance_m, float))
        curve, edge = np.nonzero(self.vanishes_m[None, :] > distance[:, None])
        begins = np.append(True, curve[1:] != curve[:-1])
        before, after = edge[:-1][~begins[1:]], edge[1:][~begins[1:]]
        first, step = _meeting(self.point_m, self.normal, before, after)
        corners = np.empty((len(curve) + len(distance), 2))
        own = np.empty(len(corners), np.int64)
        sides = np.full((2, len(corners)), -1)
        # Each curve has one corner more than edges: the start of its first and the end of its last.
        at = np.arange(len(curve)) + curve
        own[at], own[np.append(at[1:][begins[1:]] - 1, len(corners) - 1)] = curve, np.arange(len(distance))
        inner = at[~begins]
        corners[inner] = first + distance[curve[~begins], None] * step
        sides[0, inner], sides[1, inner] = before, after
        ends = np.flatnonzero(np.append(begins[1:], True))
        corners[at[begins]] = self.point_m[0] + distance[:, None] * self.normal[0]
        corners[at[ends] + 1] = np.asarray(self.end_m) + distance[:, None] * self.normal[-1]
        return CurveVertices(curve=own, xy=corners, before=sides[0], after=sides[1])


def offset_side(line_m: ArrayLike, *, turn: int, farthest_m: float) -> OffsetSide:
    """Return all offset curves of a line on one side.

    Parameters
    ----------
    line_m : array_like, shape (n, 2)
        Corners of the line, each apart from the next, no corner turning right back. [m]
    turn : int
        1 for the side to the right of the line's direction, -1 for the left. [-]
    farthest_m : float
        Largest distance that will be asked for; arcs are drawn finely enough for it. [m]

    Returns
    -------
    OffsetSide
        Edges, arcs' edges among them, and the distance at which each vanishes.

    Notes
    -----
    Parts of the line that come close to each other again far along it are not looked for: the
    curves of such a line cross each other.

    Examples
    --------
    Beside a corner that turns left, right of it an arc, left of it a shorter corner:

    >>> corner = [(0, 0), (10, 0), (10, 10)]
    >>> left = offset_side(corner, turn=-1, farthest_m=5)
    >>> left.curves([2.0]).xy.tolist()
    [[0.0, 2.0], [8.0, 2.0], [8.0, 10.0]]
    """
    line = np.asarray(line_m, float)
    edges = np.diff(line, axis=0)
    direction = np.arctan2(edges[:, 1], edges[:, 0])
    bend = (np.diff(direction) + np.pi) % (2.0 * np.pi) - np.pi
    # To the right, a turn to the left opens an arc.
    opens = np.where(bend * turn > 0.0, np.abs(bend), 0.0)
    finest = 2.0 * math.acos(1.0 / (1.0 + CURVE_ERROR_M / max(farthest_m, CURVE_ERROR_M)))
    between = np.maximum(np.ceil(opens / finest).astype(np.int64) - 1, 0)
    count = np.append(1, between + 1)
    edge = np.repeat(np.arange(len(edges)), count)
    # The edges of an arc stand before the edge that follows it.
    step = np.arange(len(edge)) - np.repeat(np.cumsum(count) - count, count)
    last = step == np.repeat(count, count) - 1
    share = (step + 1) / np.repeat(count, count)
    turned = np.where(
        last, direction[edge], direction[np.maximum(edge - 1, 0)] + share * np.append(0.0, bend)[edge]
    )
    along = np.column_stack([np.cos(turned), np.sin(turned)])
    along[last] = edges / np.hypot(edges[:, 0], edges[:, 1])[:, None]
    normal = turn * np.column_stack([along[:, 1], -along[:, 0]])
    point = line[edge]
    return OffsetSide(
        point_m=point,
        along=along,
        normal=normal,
        vanishes_m=_vanishing(point, along, normal, farthest_m),
        source=np.where(last, edge, -1),
        end_m=(float(line[-1, 0]), float(line[-1, 1])),
    )


def tidy_line(line_m: ArrayLike) -> NDArray[np.float64]:
    """Return a line without corners that repeat the one before or that turn nothing.

    Parameters
    ----------
    line_m : array_like, shape (n, 2)
        Corners of the line. [m]

    Returns
    -------
    ndarray, shape (m, 2)
        The same line; m is 1 for a line without length. [m]

    Examples
    --------
    >>> tidy_line([(0, 0), (5, 0), (5, 0), (10, 0), (10, 5)]).tolist()
    [[0.0, 0.0], [10.0, 0.0], [10.0, 5.0]]
    """
    line = np.asarray(line_m, float)
    line = line[np.append(True, np.hypot(*np.diff(line, axis=0).T) > _SAME_M)]
    if len(line) < 3:
        return line
    edges = np.diff(line, axis=0)
    edges /= np.hypot(edges[:, 0], edges[:, 1])[:, None]
    cross = edges[:-1, 0] * edges[1:, 1] - edges[:-1, 1] * edges[1:, 0]
    ahead = (edges[:-1] * edges[1:]).sum(axis=1) > 0
    return line[np.concatenate(([True], ~(ahead & (np.abs(cross) < 1e-12)), [True]))]


def _meeting(
    point: NDArray[np.float64],
    normal: NDArray[np.float64],
    before: NDArray[np.int64],
    after: NDArray[np.int64],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return where the offsets of two edges meet: at distance 0, and how that moves with the distance."""
    one, two = normal[before], normal[after]
    # Seen from where the second edge begins, on which neighbours meet exactly at distance 0.
    short = (one * (point[before] - point[after])).sum(axis=1)
    cross = one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]
    same = 1.0 + (one * two).sum(axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        back = np.where(np.abs(short) < _SAME_M, 0.0, short / cross)
        step = np.where(same[:, None] > 1e-9, (one + two) / same[:, None], one)
    # The point on the second edge's own line from which the first one's line lies `short` away.
    first = point[after] + back[:, None] * np.column_stack([two[:, 1], -two[:, 0]])
    return first, step


def _vanishing(
    point: NDArray[np.float64],
    along: NDArray[np.float64],
    normal: NDArray[np.float64],
    farthest_m: float,
) -> NDArray[np.float64]:
    """Return the distance at which each edge vanishes, edge by edge in the order of their going."""
    count = len(point)
    vanishes = np.full(count, _NEVER)
    left, right = np.arange(-1, count - 1), np.arange(1, count + 1)

    def when(edge: NDArray[np.int64], now: float) -> NDArray[np.float64]:
        start, start_step = _meeting(point, normal, left[edge], edge)
        stop, stop_step = _meeting(point, normal, edge, right[edge])
        length = ((stop - start) * along[edge]).sum(axis=1)
        growth = ((stop_step - start_step) * along[edge]).sum(axis=1)
        with np.errstate(divide="ignore", invalid="ignore"):
            at = np.where(growth < -1e-15, -length / growth, _NEVER)
        return np.where(np.isfinite(at), np.maximum(at, now), _NEVER)

    inner = np.arange(1, count - 1)
    due = np.full(count, _NEVER)
    if len(inner):
        due[inner] = when(inner, 0.0)
    queue = [(float(due[edge]), int(edge)) for edge in inner if due[edge] <= farthest_m]
    heapq.heapify(queue)
    while queue:
        now, edge = heapq.heappop(queue)
        if vanishes[edge] < _NEVER or now != due[edge]:
            continue
        vanishes[edge] = now
        before, after = left[edge], right[edge]
        right[before], left[after] = after, before
        near = np.array([each for each in (before, after) if 0 < each < count - 1], np.int64)
        if len(near):
            due[near] = when(near, now)
            for each in near:
                if due[each] <= farthest_m:
                    heapq.heappush(queue, (float(due[each]), int(each)))
    return vanishes

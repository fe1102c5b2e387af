r"""Exact areas of circles and sectors cut by polygons, many at once and without building a shape.

By Green's theorem the area that a polygon shares with a circle about a point is a sum over the
polygon's edges: of the triangle between the point and an edge, what lies within the circle is a
triangle where the edge runs inside and a sector where it runs outside. With h the edge's line's
distance from the point, a the position along that line counted from the foot of the point, and b
the edge's ends clipped to the circle,

.. math:: 2 A = \sum h (b_2 - b_1) + r^2 (\angle(a_1, b_1) + \angle(b_2, a_2))

A sector of up to half a turn is the same sum over what of each edge lies between its two straight
sides; those sides run through the point and add nothing. A larger sector is the circle less the
sector that is missing.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from numpy.typing import ArrayLike, NDArray

    Array = NDArray[np.float64]
    Whole = NDArray[np.int64]
    Move = Callable[[Array, Array, Whole], tuple[Array, Array]]

BLOCK_EDGES = 16_384
"""Edges worked at a time [-]: the arrays of one block stay in the processor's cache."""

_FULL_DEG = 360.0
_NO_LENGTH_M = 1e-12


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Edges:
    """Edges of many polygons, the ground on the left of each.

    Parameters
    ----------
    x_m, y_m : ndarray, shape (m,)
        Where each edge starts. [m]
    end_x_m, end_y_m : ndarray, shape (m,)
        Where it ends. [m]
    first_edge : ndarray of int, shape (n + 1,)
        Edges of polygon i are those from ``first_edge[i]`` to before ``first_edge[i + 1]``. [-]
    """

    x_m: NDArray[np.float64]
    y_m: NDArray[np.float64]
    end_x_m: NDArray[np.float64]
    end_y_m: NDArray[np.float64]
    first_edge: NDArray[np.int64]


def polygon_edges(polygons: ArrayLike, *, move: Move | None = None) -> Edges:
    """Return the edges of polygons, holes and parts included, however their rings run.

    Parameters
    ----------
    polygons : array_like of shapely Polygon or MultiPolygon, shape (n,)
        Valid shapes in any plane coordinates. [m]
    move : callable or None, default None
        Called with x and y of corners and the polygon of each, all of shape (k,), for x and y of every
        polygon in coordinates of its own, not mirrored. None leaves them as they are.

    Returns
    -------
    Edges
        Edges in those coordinates; those of no length are left out.

    Examples
    --------
    >>> polygon_edges([shapely.box(0, 0, 2, 1)]).first_edge.tolist()
    [0, 4]
    """
    shapes = np.asarray(polygons, dtype=object)
    # Taking rings out of shapes one by one costs ten times what coordinates alone do.
    plain = (shapely.get_type_id(shapes) == 3) & (shapely.get_num_interior_rings(shapes) == 0)
    simple, others = np.flatnonzero(plain), np.flatnonzero(~plain)
    xy, ring = shapely.get_coordinates(shapes[simple], return_index=True)
    found = _ring_edges(xy, ring, np.ones(len(simple), bool), simple, move)
    if len(others):
        parts, owner = shapely.get_parts(shapes[others], return_index=True)
        rings, part = shapely.get_rings(parts, return_index=True)
        outline = np.append(True, part[1:] != part[:-1]) if len(part) else np.zeros(0, bool)
        xy, ring = shapely.get_coordinates(rings, return_index=True)
        more = _ring_edges(xy, ring, outline, others[owner[part]], move)
        joined = [np.concatenate(pair) for pair in zip(found, more, strict=True)]
        order = np.argsort(joined[-1], kind="stable")
        found = tuple(values[order] for values in joined)
    x, y, end_x, end_y, polygon = found
    first = np.append(0, np.cumsum(np.bincount(polygon, minlength=len(shapes))))
    return Edges(x_m=x, y_m=y, end_x_m=end_x, end_y_m=end_y, first_edge=first.astype(np.int64))


def _ring_edges(
    xy: Array, ring: Whole, outline: NDArray[np.bool_], home: Whole, move: Move | None
) -> tuple[NDArray[Any], ...]:
    """Return starts and ends of the rings' edges and their polygons, the ground on the left of each."""
    if not len(ring):
        return (np.zeros(0), np.zeros(0), np.zeros(0), np.zeros(0), np.zeros(0, np.int64))
    # The last corner of a ring is its first again.
    at = np.flatnonzero(ring[1:] == ring[:-1])
    x, y, ring = xy[at, 0], xy[at, 1], ring[at]
    final = np.flatnonzero(np.append(ring[1:] != ring[:-1], True))
    first = np.append(0, final[:-1] + 1)
    follow = np.arange(1, len(x) + 1)
    follow[final] = first
    polygon = home[ring]
    if move is not None:
        x, y = move(x, y, polygon)
    end_x, end_y = x[follow], y[follow]
    # Areas from each ring's own first corner on: coordinates may be large against the ring.
    size = final - first + 1
    from_x, from_y = np.repeat(x[first], size), np.repeat(y[first], size)
    twice = np.add.reduceat((x - from_x) * (end_y - from_y) - (end_x - from_x) * (y - from_y), first)
    turn = np.repeat((twice > 0) != outline[ring[first]], size)
    if turn.any():
        x, end_x = np.where(turn, end_x, x), np.where(turn, x, end_x)
        y, end_y = np.where(turn, end_y, y), np.where(turn, y, end_y)
    kept = np.abs(x - end_x) + np.abs(y - end_y) > _NO_LENGTH_M
    found = (x, y, end_x, end_y, polygon)
    return found if kept.all() else tuple(values[kept] for values in found)


def edge_areas_m2(edges: Edges) -> NDArray[np.float64]:
    """Return the areas that edges enclose.

    Parameters
    ----------
    edges : Edges
        Edges of n polygons.

    Returns
    -------
    ndarray, shape (n,)
        Area of each polygon, holes taken off; 0 for one without edges. [m2]

    Examples
    --------
    >>> edge_areas_m2(polygon_edges([shapely.box(0, 0, 2, 1)]))
    array([2.])
    """
    twice = edges.x_m * edges.end_y_m - edges.end_x_m * edges.y_m
    return _sums(twice, edges.first_edge) / 2


def cut_areas_m2(
    edges: Edges,
    index: ArrayLike,
    x_m: ArrayLike,
    y_m: ArrayLike,
    radius_m: ArrayLike,
    *,
    start_deg: ArrayLike = 0.0,
    sweep_deg: ArrayLike = _FULL_DEG,
) -> NDArray[np.float64]:
    """Return the areas that circles or sectors share with polygons, exact to rounding.

    Parameters
    ----------
    edges : Edges
        Edges of the polygons.
    index : array_like of int, shape (n,)
        Polygon that each circle is cut by. [-]
    x_m, y_m : array_like, shape (n,)
        Centres, inside or outside their polygons. [m]
    radius_m : array_like, shape (n,)
        Radii. [m]
    start_deg, sweep_deg : array_like, shape (n,), default 0 and 360
        Bearing at which each starts and how far it turns clockwise, above 0 to 360. [deg]

    Returns
    -------
    ndarray, shape (n,)
        Shared area of each. [m2]

    Examples
    --------
    A quarter of a circle of 10 m lies in the square from its centre on:

    >>> square = polygon_edges([shapely.box(0, 0, 20, 20)])
    >>> cut_areas_m2(square, [0, 0], [0, 0], [0, 0], [10, 10], sweep_deg=[360, 45]) / np.pi
    array([25. , 12.5])
    """
    owner = np.asarray(index, np.int64)
    values = (x_m, y_m, radius_m, start_deg, sweep_deg)
    x, y, radius, start, sweep = (np.broadcast_to(np.asarray(v, float), owner.shape) for v in values)
    counts = edges.first_edge[owner + 1] - edges.first_edge[owner]
    areas = np.empty(len(owner))
    for block in _blocks(counts):
        lines = _lines(edges, owner[block], counts[block], x[block], y[block])
        areas[block] = _block_areas(lines, radius[block], start[block], sweep[block])
    return areas


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Lines:
    """Edges as their circles' centres see them: along the edge's line, from the foot of the centre."""

    first_edge: NDArray[np.int64]
    owner: NDArray[np.int64]
    along_x: NDArray[np.float64]
    along_y: NDArray[np.float64]
    height: NDArray[np.float64]
    begin: NDArray[np.float64]
    end: NDArray[np.float64]


def _blocks(counts: NDArray[np.int64]) -> Iterator[slice]:
    """Yield runs of circles that have about `BLOCK_EDGES` edges together, at least one circle each."""
    total = np.cumsum(counts)
    start = 0
    while start < len(counts):
        before = int(total[start] - counts[start])
        stop = max(int(np.searchsorted(total, before + BLOCK_EDGES, side="right")), start + 1)
        yield slice(start, stop)
        start = stop


def _lines(
    edges: Edges,
    polygon: NDArray[np.int64],
    counts: NDArray[np.int64],
    x: NDArray[np.float64],
    y: NDArray[np.float64],
) -> _Lines:
    first = np.append(0, np.cumsum(counts))
    owner = np.repeat(np.arange(len(counts)), counts)
    at = np.arange(first[-1]) + (edges.first_edge[polygon] - first[:-1])[owner]
    from_x, from_y = edges.x_m[at] - x[owner], edges.y_m[at] - y[owner]
    along_x, along_y = edges.end_x_m[at] - edges.x_m[at], edges.end_y_m[at] - edges.y_m[at]
    length = np.sqrt(along_x * along_x + along_y * along_y)
    along_x /= length
    along_y /= length
    begin = from_x * along_x + from_y * along_y
    return _Lines(
        first_edge=first,
        owner=owner,
        along_x=along_x,
        along_y=along_y,
        height=from_x * along_y - from_y * along_x,
        begin=begin,
        end=begin + length,
    )


def _block_areas(
    lines: _Lines, radius: NDArray[np.float64], start: NDArray[np.float64], sweep: NDArray[np.float64]
) -> NDArray[np.float64]:
    areas = np.zeros(len(radius))
    square = radius * radius
    # A sector of more than half a turn is the circle less what is missing.
    whole = sweep > 180.0
    if whole.all():
        areas = _sums(_within(lines.height, lines.begin, lines.end, square[lines.owner]), lines.first_edge)
    elif whole.any():
        at = np.flatnonzero(whole[lines.owner])
        owner = lines.owner[at]
        twice = _within(lines.height[at], lines.begin[at], lines.end[at], square[owner])
        areas = np.asarray(np.bincount(owner, weights=twice, minlength=len(radius)), float)
    part = sweep < _FULL_DEG
    if part.any():
        from_deg = np.where(whole, start + sweep, start)
        turned = np.where(whole, _FULL_DEG - sweep, sweep)
        wedges = _wedge_areas(lines, square, part, np.radians(from_deg), np.radians(from_deg + turned))
        areas = np.where(whole, areas - wedges, wedges)
    return areas / 2


def _wedge_areas(
    lines: _Lines,
    square: NDArray[np.float64],
    part: NDArray[np.bool_],
    start: NDArray[np.float64],
    stop: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Return twice the areas of sectors of up to half a turn; 0 where `part` is not set."""
    chosen = part[lines.owner]
    at = slice(None) if chosen.all() else np.flatnonzero(chosen)
    owner = lines.owner[at]
    sides = (
        _side(lines, at, np.sin(start)[owner], np.cos(start)[owner], -1.0),
        _side(lines, at, np.sin(stop)[owner], np.cos(stop)[owner], 1.0),
    )
    low, high = lines.begin[at], lines.end[at]
    # Only the few edges that are not wholly on the wrong side of a straight side go on.
    touched = np.flatnonzero(
        ((sides[0][0] > 0) | (sides[0][1] > 0)) & ((sides[1][0] > 0) | (sides[1][1] > 0))
    )
    owner, low, high = owner[touched], low[touched], high[touched]
    begin, end = low, high
    for one, two in sides:
        here, there = one[touched], two[touched]
        with np.errstate(divide="ignore", invalid="ignore"):
            crossing = low + (high - low) * (here / (here - there))
        begin = np.where(here < 0, np.maximum(begin, crossing), begin)
        end = np.where(there < 0, np.minimum(end, crossing), end)
    end = np.maximum(begin, end)
    twice = _within(lines.height[at][touched], begin, end, square[owner])
    return np.asarray(np.bincount(owner, weights=twice, minlength=len(part)), float)


def _side(
    lines: _Lines,
    at: slice | NDArray[np.intp],
    sine: NDArray[np.float64],
    cosine: NDArray[np.float64],
    sign: float,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return how far the ends of edges lie on the sector's side of one of its straight sides."""
    along_x, along_y, height = lines.along_x[at], lines.along_y[at], lines.height[at]
    slope = sign * (sine * along_y - cosine * along_x)
    level = -sign * height * (sine * along_x + cosine * along_y)
    return level + slope * lines.begin[at], level + slope * lines.end[at]


def _within(
    height: NDArray[np.float64],
    begin: NDArray[np.float64],
    end: NDArray[np.float64],
    square: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Return twice the signed area that triangles over edges share with circles about their tip."""
    level = height * height
    half = np.sqrt(np.maximum(square - level, 0.0))
    enter = np.minimum(np.maximum(-half, begin), end)
    leave = np.minimum(np.maximum(half, begin), end)
    # Both angles at once: that of the product of two complex numbers.
    one_real, one_imag = level + begin * enter, height * (enter - begin)
    two_real, two_imag = level + leave * end, height * (end - leave)
    angle = np.arctan2(one_real * two_imag + one_imag * two_real, one_real * two_real - one_imag * two_imag)
    result: NDArray[np.float64] = height * (leave - enter) + square * angle
    return result


def _sums(values: NDArray[np.float64], first: NDArray[np.int64]) -> NDArray[np.float64]:
    counts = np.diff(first)
    if not len(values) or (counts == 0).any():
        owner = np.repeat(np.arange(len(counts)), counts)
        return np.asarray(np.bincount(owner, weights=values, minlength=len(counts)), float)
    return np.add.reduceat(values, first[:-1])

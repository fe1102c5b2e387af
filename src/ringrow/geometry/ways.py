"""Ways over ground: a net of places and the ways between them, and the quickest way through it.

Where nothing is in the way, places are joined by straight lines. Round a pond or a yard, the
shortest way turns only at its corners, so corners join the net and every straight line that
crosses nothing closed becomes a way of it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import shapely

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray
    from shapely.geometry.base import BaseGeometry

SLACK_M = 0.01
"""A way may run this deep [m] inside the edge of what is closed: edges are ways."""
_FEW_CORNERS = 40
_GROW_M = 3.0


@dataclass(slots=True, kw_only=True)
class WayNet:
    """A net that is being built: places, and ways between pairs of them, open both ways.

    Parameters
    ----------
    places : list of tuple of float, default empty
        x and y of each place. [m]
    ends : list of tuple of int, default empty
        Positions of the two places of each way.
    length_m : list of float, default empty
        Length of each way. [m]
    walked : list of bool, default empty
        Whether each way is for people on foot alone.
    bent_m : dict of int to ndarray, default empty
        By a way's position: x and y along it, from its first end to its second, where it is not
        straight. [m]
    """

    places: list[tuple[float, float]] = field(default_factory=list)
    ends: list[tuple[int, int]] = field(default_factory=list)
    length_m: list[float] = field(default_factory=list)
    walked: list[bool] = field(default_factory=list)
    bent_m: dict[int, NDArray[np.float64]] = field(default_factory=dict)

    def place(self, x: float, y: float) -> int:
        """Add a place.

        Parameters
        ----------
        x, y : float
            Where it is. [m]

        Returns
        -------
        int
            Its position.
        """
        self.places.append((float(x), float(y)))
        return len(self.places) - 1

    def join(
        self,
        from_place: int,
        to_place: int,
        *,
        on_foot: bool,
        length_m: float | None = None,
        bent_m: NDArray[np.float64] | None = None,
    ) -> None:
        """Add a way between two places.

        Parameters
        ----------
        from_place, to_place : int
            Positions of the places.
        on_foot : bool
            Whether it is for people on foot alone.
        length_m : float or None, default None
            Its length; None = straight. [m]
        bent_m : ndarray, shape (n, 2), default None
            x and y along it, both ends in, where it is not straight. [m]
        """
        (x, y), (to_x, to_y) = self.places[from_place], self.places[to_place]
        self.ends.append((from_place, to_place))
        self.length_m.append(float(np.hypot(to_x - x, to_y - y)) if length_m is None else float(length_m))
        self.walked.append(on_foot)
        if bent_m is not None:
            self.bent_m[len(self.ends) - 1] = bent_m


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class QuickestWays:
    """The quickest ways between places of a net.

    Parameters
    ----------
    net : WayNet
        The net.
    asked : tuple of int
        Positions in the net of the places that were asked about.
    travel_s : ndarray, shape (n, n)
        Time between each two of them; infinite where there is no way. [s]
    reached_from : ndarray of int, shape (n, places)
        On the way from each of them to every place of the net, the place before it.
    way_of : dict of tuple of int to int
        Position of the quickest single way between two places that are joined.
    """

    net: WayNet
    asked: tuple[int, ...]
    travel_s: NDArray[np.float64]
    reached_from: NDArray[np.int64]
    way_of: dict[tuple[int, int], int]

    def line(self, from_place: int, to_place: int) -> tuple[NDArray[np.float64], float, float]:
        """Return the way from one place that was asked about to another.

        Parameters
        ----------
        from_place, to_place : int
            Positions among the places that were asked about.

        Returns
        -------
        xy : ndarray, shape (n, 2)
            x and y along the way, both ends in. [m]
        driven_m, walked_m : float
            Lengths of what is driven and of what is walked. [m]
        """
        here, stops = self.asked[to_place], []
        while here != self.asked[from_place]:
            stops.append(here)
            here = int(self.reached_from[from_place, here])
        parts = [np.array([self.net.places[here]])]
        length = [0.0, 0.0]
        for there in reversed(stops):
            way = self.way_of[min(here, there), max(here, there)]
            length[self.net.walked[way]] += self.net.length_m[way]
            parts.append(self._points(way, here)[1:])
            here = there
        return np.vstack(parts), length[0], length[1]

    def _points(self, way: int, begins: int) -> NDArray[np.float64]:
        one, other = self.net.ends[way]
        points = self.net.bent_m.get(way, np.array([self.net.places[one], self.net.places[other]]))
        return points if begins == one else points[::-1]


def quickest_ways(net: WayNet, asked: Sequence[int], *, drive_m_s: float, walk_m_s: float) -> QuickestWays:
    """Return the quickest ways between some places of a net.

    Parameters
    ----------
    net : WayNet
        The net.
    asked : sequence of int
        Positions of the places.
    drive_m_s, walk_m_s : float
        Speeds on ways that can be driven and on ways that are walked, above 0. [m/s]

    Returns
    -------
    QuickestWays
        Times and ways between each two.

    Examples
    --------
    >>> net = WayNet()
    >>> gate, corner, flag = net.place(0, 0), net.place(0, 30), net.place(40, 30)
    >>> net.join(gate, corner, on_foot=False)
    >>> net.join(corner, flag, on_foot=True)
    >>> ways = quickest_ways(net, [gate, flag], drive_m_s=3, walk_m_s=1)
    >>> float(ways.travel_s[0, 1]), ways.line(0, 1)[1:]
    (50.0, (30.0, 40.0))
    """
    from scipy.sparse import csr_array
    from scipy.sparse.csgraph import dijkstra

    count = len(net.places)
    ends = np.array(net.ends, np.int64).reshape(-1, 2)
    low, high = ends.min(axis=1, initial=count), ends.max(axis=1, initial=0)
    time = np.array(net.length_m) / np.where(np.array(net.walked, bool), walk_m_s, drive_m_s)
    # Of ways between the same two places the quickest counts; a zero would read as no way at all.
    order = np.lexsort((time, high, low))
    kept = order[
        np.append(True, (low[order][1:] != low[order][:-1]) | (high[order][1:] != high[order][:-1]))[
            : len(order)
        ]
    ]
    table = csr_array((np.maximum(time[kept], 1e-9), (low[kept], high[kept])), shape=(count, count))
    found, before = dijkstra(table, directed=False, indices=list(asked), return_predecessors=True)
    way_of = dict(zip(zip(low[kept].tolist(), high[kept].tolist(), strict=True), kept.tolist(), strict=True))
    return QuickestWays(
        net=net,
        asked=tuple(asked),
        travel_s=np.where(np.isfinite(found), np.round(found, 6), np.inf)[:, list(asked)],
        reached_from=before.astype(np.int64),
        way_of=way_of,
    )


def go_round(ground: BaseGeometry) -> list[BaseGeometry]:
    """Return what is closed as polygons of few corners that hold it.

    Parameters
    ----------
    ground : shapely geometry
        Closed ground. [m]

    Returns
    -------
    list of shapely Polygon
        Outlines without holes; one with more than 40 corners is grown by 3 m and drawn with fewer. [m]

    Examples
    --------
    >>> pond = shapely.Point(0, 0).buffer(50, quad_segs=64)
    >>> (outline,) = go_round(pond)
    >>> outline.contains(pond), len(outline.exterior.coords) < 40, bool(outline.area < 1.2 * pond.area)
    (True, True, True)
    """
    parts = [part for part in shapely.get_parts(ground) if shapely.area(part) > 0]
    outlines = [shapely.Polygon(part.exterior) for part in parts if part.geom_type == "Polygon"]
    few = [_fewer(outline) for outline in outlines]
    # Grown outlines may have met: what overlaps is gone round as one.
    return [shapely.Polygon(part.exterior) for part in shapely.get_parts(shapely.union_all(few))]


def _fewer(outline: BaseGeometry) -> BaseGeometry:
    if shapely.get_num_coordinates(outline) <= _FEW_CORNERS:
        return outline
    # Thinning moves an edge by no more than what the outline was grown by.
    grown = outline.buffer(_GROW_M, quad_segs=4, join_style="mitre")
    return shapely.Polygon(grown.exterior).simplify(_GROW_M * 0.99)


def corners(outlines: Sequence[BaseGeometry]) -> NDArray[np.float64]:
    """Return the corners of outlines at which a shortest way may turn: those that point outward.

    Parameters
    ----------
    outlines : sequence of shapely Polygon
        Outlines without holes. [m]

    Returns
    -------
    ndarray, shape (n, 2)
        x and y of each corner. [m]

    Examples
    --------
    >>> corners([shapely.Polygon([(0, 0), (10, 0), (10, 10), (5, 5), (0, 10)])]).tolist()
    [[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]]
    """
    found = [np.empty((0, 2))]
    for outline in outlines:
        ring = shapely.get_coordinates(shapely.orient_polygons(outline).exterior)[:-1]
        into, out = ring - np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0) - ring
        turn = into[:, 0] * out[:, 1] - into[:, 1] * out[:, 0]
        size = np.hypot(*into.T) * np.hypot(*out.T)
        found.append(ring[turn > 1e-6 * size])
    return np.vstack(found)


def clear_pairs(
    xy: ArrayLike, outlines: Sequence[BaseGeometry]
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return the pairs of places whose straight line crosses nothing closed.

    Parameters
    ----------
    xy : array_like, shape (n, 2)
        x and y of the places. [m]
    outlines : sequence of shapely Polygon
        What is closed; a line may run along its edge. [m]

    Returns
    -------
    one, other : ndarray of int
        Positions of the two places of each pair, one < other. A place inside an outline may cross
        that one outline.

    Examples
    --------
    >>> one, other = clear_pairs([(0, 5), (20, 5), (0, 30)], [shapely.box(5, 0, 10, 10)])
    >>> list(zip(one.tolist(), other.tolist()))
    [(0, 2), (1, 2)]
    """
    points = np.asarray(xy, float).reshape(-1, 2)
    one, other = np.triu_indices(len(points), 1)
    ends = np.stack([points[one], points[other]], axis=1)
    low, high = ends.min(axis=1), ends.max(axis=1)
    lines, clear = shapely.linestrings(ends), np.ones(len(one), bool)
    for outline in outlines:
        inside = outline.buffer(-SLACK_M, join_style="mitre", quad_segs=1)
        if inside.is_empty:
            continue
        shapely.prepare(inside)
        west, south, east, north = inside.bounds
        own = shapely.contains_xy(inside, points[:, 0], points[:, 1])
        near = clear & ~own[one] & ~own[other] & (low[:, 0] < east) & (high[:, 0] > west)
        near &= (low[:, 1] < north) & (high[:, 1] > south)
        at = np.flatnonzero(near)
        clear[at[shapely.intersects(inside, lines[at])]] = False
    return one[clear], other[clear]

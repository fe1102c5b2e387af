"""The ground that the strips of evenly spaced laterals cover together.

Neighbouring strips share long edges. Joined as polygons of the frame, turned by the heading,
those edges miss each other by a rounding error; joining thousands of them then leaves slits and
can even lose strips (4 parts in 10,000 of a block with ragged edges). So strips are joined in the
block's own coordinates, where a shared edge is the same number on both sides, and turned after.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely

from ringrow.geometry.curved_grid import CurvedGrid
from ringrow.geometry.curved_nearest import curved_union

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from ringrow.geometry.lateral_grid import LateralGrid

GROWN_M = 1e-8
"""Strips are grown by this much [m] all round before they are cut to the ground, so that a strip
that ends on the ground's own edge is cut by that edge and by no near-copy of it."""


def strips_union(grid: LateralGrid | CurvedGrid, ground: BaseGeometry) -> BaseGeometry:
    """Return the union of all strips of a grid, cut to `ground`.

    Parameters
    ----------
    grid : LateralGrid or CurvedGrid
        The laterals; each piece of tape makes a flat-ended band half a spacing each side.
    ground : shapely Polygon or MultiPolygon
        Valid ground the strips are cut to. [m]

    Returns
    -------
    shapely geometry
        The union; empty without tape. [m]

    Notes
    -----
    Runs of strips that meet one to one are drawn as one staircase, without any overlay; only
    where tape branches round a hole are staircases joined. Strips are 1e-8 m larger all round than
    half a spacing, which moves the area by less than 1e-9 of itself.

    Examples
    --------
    >>> from ringrow.geometry.laterals import lay_laterals
    >>> block = shapely.box(0, 0, 100, 7)
    >>> grid = lay_laterals(block, block, heading_deg=90, number_from_deg=0, header_deg=270, spacing_m=3)
    >>> round(strips_union(grid, block).area, 6)
    600.0
    """
    if len(grid.piece_lateral) == 0:
        return shapely.Polygon()
    if isinstance(grid, CurvedGrid):
        return curved_union(grid, ground)
    joined = shapely.union_all(_staircases(grid))
    turned = shapely.transform(joined, lambda sc: grid.points(sc[:, 0], sc[:, 1]))
    return shapely.intersection(turned, ground)


def _staircases(grid: LateralGrid) -> NDArray[np.object_]:
    """Return one polygon, in coordinates s and c, for each run of strips that meet one to one."""
    # Ends on a grid of the growth itself: ends along one straight edge come out equal.
    start = np.rint(grid.piece_start_m / GROWN_M) * GROWN_M
    stop = np.rint(grid.piece_stop_m / GROWN_M) * GROWN_M
    run, order = _runs_of_strips(grid.piece_lateral, start, stop)
    start, stop, lateral = start[order], stop[order], grid.piece_lateral[order]
    opens = np.append(True, run[order][1:] != run[order][:-1])
    return _draw(grid, start, stop, lateral, opens)


def _runs_of_strips(
    lateral: NDArray[np.int64], start: NDArray[np.float64], stop: NDArray[np.float64]
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return the run of each strip, and the order of strips by run, then across."""
    above = _only_neighbour(lateral, start, stop)
    below = _only_neighbour(-lateral, start, stop)
    piece = np.arange(len(lateral))
    # Linked when each is the other's only neighbour on that side.
    linked = (below >= 0) & (above[below] == piece)
    root = np.where(linked, below, piece)
    while True:
        further = root[root]
        if np.array_equal(further, root):
            return root, np.argsort(root, kind="stable")
        root = further


def _only_neighbour(
    lateral: NDArray[np.int64], start: NDArray[np.float64], stop: NDArray[np.float64]
) -> NDArray[np.int64]:
    """Return the one strip of the next lateral that each strip shares an edge with, else -1."""
    reach = float(max(np.abs(start).max(), np.abs(stop).max())) * 2.0 + 1.0
    # Strips lie apart within a lateral, so this order sorts by start and by stop alike.
    order = np.argsort(lateral * reach + start, kind="stable")
    starts, stops = (lateral * reach + start)[order], (lateral * reach + stop)[order]
    next_row = (lateral + 1) * reach
    first = np.searchsorted(stops, next_row + start, side="right")
    past = np.searchsorted(starts, next_row + stop, side="left")
    neighbour = np.where(past - first == 1, order[np.minimum(first, len(order) - 1)], -1)
    shared = np.minimum(stop, stop[neighbour]) - np.maximum(start, start[neighbour])
    return np.where(shared > GROWN_M, neighbour, -1)


def _draw(
    grid: LateralGrid,
    start: NDArray[np.float64],
    stop: NDArray[np.float64],
    lateral: NDArray[np.int64],
    opens: NDArray[np.bool_],
) -> NDArray[np.object_]:
    """Return the outline of each run: across along the strips' starts, back along their stops."""
    run = np.cumsum(opens) - 1
    strips = np.bincount(run)[run]
    before = np.arange(len(run)) - np.flatnonzero(opens)[run]
    # Each strip has four corners; a run's ring holds all on the starts' side, then all others backward.
    ring_start = 4 * np.flatnonzero(opens)[run]
    place = ring_start + 2 * before
    opposite = ring_start + 4 * strips - 1 - 2 * before
    corners = np.empty((4 * len(run), 2))
    kept = np.empty(4 * len(run), bool)
    for ends, at, turn, outward in ((start, place, 1, -1.0), (stop, opposite, -1, 1.0)):
        low, high, low_kept, high_kept = _levels(grid, outward * ends, lateral, opens)
        s = ends + outward * GROWN_M
        corners[at], corners[at + turn] = np.column_stack([s, low]), np.column_stack([s, high])
        kept[at], kept[at + turn] = low_kept, high_kept
    rings = shapely.linearrings(corners[kept], indices=np.repeat(run, 4)[kept])
    return np.asarray(shapely.polygons(rings))


def _levels(
    grid: LateralGrid, outward: NDArray[np.float64], lateral: NDArray[np.int64], opens: NDArray[np.bool_]
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.bool_], NDArray[np.bool_]]:
    """Return the c of both corners of each strip on one side, and whether the outline turns there.

    `outward` is how far each strip reaches out on that side. Where the next strip reaches out
    farther, its lower edge is bare and is grown downward; where less far, this one's upper edge upward.
    """
    low = grid.first_m + (lateral - 1.5) * grid.spacing_m
    high = grid.first_m + (lateral - 0.5) * grid.spacing_m
    step: NDArray[np.float64] = np.sign(outward[1:] - outward[:-1])
    inner = ~opens[1:]
    high, low = high + GROWN_M, low - GROWN_M
    between = (grid.first_m + (lateral[:-1] - 0.5) * grid.spacing_m) - GROWN_M * step
    high[:-1] = np.where(inner, between, high[:-1])
    low[1:] = np.where(inner, between, low[1:])
    turns = ~inner | (step != 0)
    return np.asarray(low), np.asarray(high), np.append(True, turns), np.append(turns, True)

"""How likely each lateral and each outlet is, seen from one fix that may be feet off.

A fix has a circular normal error of one-axis spread sigma. A strip of ground holds the true
place with the chance that the normal law gives to the strip; strips side by side share it out.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import ndtr, ndtri

from ringrow.coverage.places import Candidate
from ringrow.geometry.laterals import CurvedGrid

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import ArrayLike, NDArray

    from ringrow.geometry.laterals import LateralGrid, LateralRows

LAYING_SIGMA_M = 1.3 * 0.0254
"""Spread of laid tape about its plan, one axis [m]: about 1.3 in, from 192 digs (Bordovsky 2006)."""
HELD = 0.95
"""Chance that a list of laterals or a run of outlets shall hold. [-]"""
LEAST_CHANCE = 0.001
"""A lateral less likely than this is never listed. [-]"""

_TAPE_SIGMAS = 3.0
# Past 8 sigma the normal law leaves 1e-15: nothing that an 8-byte number between 0 and 1 would notice.
_WINDOW_SIGMAS = 8.0
# Cells of one points-by-window table: small enough to stay in the processor's cache.
_BLOCK = 1 << 16


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LateralChances:
    """Laterals that each of n points may belong to, most likely first.

    Parameters
    ----------
    lateral : ndarray of int, shape (n, w)
        Lateral numbers by falling chance; equal chances by rising number; 0 past `listed`.
    chance : ndarray, shape (n, w)
        Chance of each; 0 past `listed`. [-]
    listed : ndarray of int, shape (n,)
        How many laterals it takes to reach 0.95, or how many have 0.001. [-]
    elsewhere : ndarray, shape (n,)
        Chance that the point belongs to no lateral with tape near it. [-]
    """

    lateral: NDArray[np.int64]
    chance: NDArray[np.float64]
    listed: NDArray[np.int64]
    elsewhere: NDArray[np.float64]

    def candidates(self) -> list[tuple[Candidate, ...]]:
        """Return the listed laterals of every point as plain objects, in the points' order."""
        return [
            tuple(
                Candidate(lateral=number, chance=chance)
                for number, chance in zip(numbers[:listed], chances[:listed], strict=True)
            )
            for numbers, chances, listed in zip(
                self.lateral.tolist(), self.chance.tolist(), self.listed.tolist(), strict=True
            )
        ]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OutletChances:
    """The nearest outlet to each of n distances, and the run of outlets that is safe to name.

    Parameters
    ----------
    outlet : ndarray of int, shape (n,)
        Nearest outlet, 1 next to the pivot point; 0 when there are no outlets.
    first, last : ndarray of int, shape (n,)
        Shortest run of outlets around `outlet` that holds 0.95.
    chance : ndarray, shape (n,)
        Chance that `outlet` is the right one; NaN when there are no outlets. [-]
    """

    outlet: NDArray[np.int64]
    first: NDArray[np.int64]
    last: NDArray[np.int64]
    chance: NDArray[np.float64]


def strip_chance(offset_m: ArrayLike, width_m: ArrayLike, sigma_m: ArrayLike) -> NDArray[np.float64]:
    r"""Return the chance that the true place lies in a straight strip.

    .. math:: P = \Phi\left(\frac{d + w/2}{\sigma}\right) - \Phi\left(\frac{d - w/2}{\sigma}\right)

    Parameters
    ----------
    offset_m : array_like
        Distance d of the fix from the strip's centre line, either side. [m]
    width_m : array_like
        Width w of the strip. [m]
    sigma_m : array_like
        One-axis spread of the fix, above 0. [m]

    Returns
    -------
    ndarray
        Chance, 0 to 1. [-]

    Examples
    --------
    A 60 in strip, the fix on its centre line, phone good to 4.9 m at 95 %:

    >>> round(float(strip_chance(0.0, 1.524, 4.9 / 2.447747)), 4)
    0.2965
    """
    offset = np.abs(np.asarray(offset_m, float))
    half = np.asarray(width_m, float) / 2.0
    # Both terms in the lower tail: in the upper one they would cancel to nothing.
    chance: NDArray[np.float64] = ndtr((half - offset) / sigma_m) - ndtr(-(half + offset) / sigma_m)
    return chance


def lateral_chances(
    grid: LateralGrid | CurvedGrid, x: ArrayLike, y: ArrayLike, sigma_m: ArrayLike
) -> LateralChances:
    """Return the laterals each point may belong to, with their chances.

    Only laterals with tape within 3 sigma of the point along the row count. Chances are not
    scaled up to 1: what is left over is `elsewhere`.

    Parameters
    ----------
    grid : LateralGrid or CurvedGrid
        The block's laterals and pieces.
    x, y : array_like, shape (n,)
        Points in the frame of the grid. [m]
    sigma_m : array_like
        One-axis spread of each fix, or one for all. [m]

    Returns
    -------
    LateralChances
        Laterals, chances and the chance of none of them.

    Notes
    -----
    Sigma of the chances, and of the 3 sigma along the row, is the fix's and the laying's
    (`LAYING_SIGMA_M`) together: their squares add. Curved laterals are weighed as straight ones:
    across by the distance from the guidance line, along the row along each lateral's own line.
    """
    x, y, fix = np.broadcast_arrays(np.atleast_1d(x), np.atleast_1d(y), np.asarray(sigma_m, float))
    sigma = np.hypot(fix, LAYING_SIGMA_M)
    if x.size == 0 or grid.piece_lateral.size == 0:
        return _no_laterals(x.size)
    reach = min(int(np.ceil(_WINDOW_SIGMAS * sigma.max() / grid.spacing_m)) + 1, grid.count)
    parts = [
        _window_chances(grid, x[block], y[block], sigma[block], reach=reach)
        for block in _blocks(x.size, 2 * reach + 1)
    ]
    return _joined(parts)


def outlet_chances(outlets_m: ArrayLike, distance_m: ArrayLike, sigma_m: ArrayLike) -> OutletChances:
    """Return the nearest outlet to each distance, its chance, and the run that holds 0.95.

    An outlet's cell reaches half way to its neighbours; the cells of the first and of the
    last outlet are open-ended.

    Parameters
    ----------
    outlets_m : array_like, shape (m,)
        Distances of the outlets from the pivot point, rising; may be empty. [m]
    distance_m : array_like, shape (n,)
        Distances of the fixes from the pivot point. [m]
    sigma_m : array_like
        One-axis spread of each fix, or one for all. [m]

    Returns
    -------
    OutletChances
        Nearest outlet, run and chance of each distance.

    Notes
    -----
    Of runs of equally many outlets the likelier is taken, then the one nearer the pivot
    point. Along the radius the fix's error is taken as normal, which it is beyond a few
    sigma from the pivot point.

    Examples
    --------
    >>> found = outlet_chances([3.0, 6.0, 9.0, 12.0], [6.2], 1.0)
    >>> found.outlet, found.first, found.last, round(float(found.chance[0]), 4)
    (array([2]), array([2]), array([3]), 0.8586)
    """
    outlets = np.asarray(outlets_m, float)
    distance, sigma = np.broadcast_arrays(np.atleast_1d(distance_m), np.asarray(sigma_m, float))
    if outlets.size == 0:
        none = np.zeros(distance.size, np.int64)
        return OutletChances(outlet=none, first=none, last=none, chance=np.full(distance.size, np.nan))
    middles = (outlets[1:] + outlets[:-1]) / 2.0
    edges = np.concatenate(([-np.inf], middles, [np.inf]))
    nearest = np.searchsorted(middles, distance, side="left")
    chance = _between(edges, nearest, nearest, distance, sigma)
    first, last = _shortest_runs(edges, nearest, distance, sigma)
    return OutletChances(outlet=nearest + 1, first=first + 1, last=last + 1, chance=chance)


def _blocks(points: int, width: int) -> Iterator[slice]:
    """Yield slices of points small enough for one points-by-window table each."""
    size = max(1, _BLOCK // width)
    return (slice(start, start + size) for start in range(0, points, size))


def _no_laterals(points: int) -> LateralChances:
    return LateralChances(
        lateral=np.zeros((points, 0), np.int64),
        chance=np.zeros((points, 0)),
        listed=np.zeros(points, np.int64),
        elsewhere=np.ones(points),
    )


def _window_chances(
    grid: LateralGrid | CurvedGrid,
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    sigma: NDArray[np.float64],
    *,
    reach: int,
) -> LateralChances:
    """Weigh the `reach` laterals on either side of each point."""
    across = grid.across_m(x, y) if isinstance(grid, CurvedGrid) else grid.coordinates(x, y)[1]
    middle = np.clip(np.rint((across - grid.first_m) / grid.spacing_m) + 1, 1, grid.count).astype(np.int64)
    number = middle[:, None] + np.arange(-reach, reach + 1)
    there = (number >= 1) & (number <= grid.count)
    number = np.clip(number, 1, grid.count)
    there &= _has_tape(grid, number, _along(grid, x, y, number), _TAPE_SIGMAS * sigma[:, None])
    offset = across[:, None] - (grid.first_m + (number - 1) * grid.spacing_m)
    chance = np.where(there, strip_chance(offset, grid.spacing_m, sigma[:, None]), 0.0)
    return _listed(number, chance)


def _along(
    grid: LateralGrid | CurvedGrid, x: NDArray[np.float64], y: NDArray[np.float64], number: NDArray[np.int64]
) -> NDArray[np.float64]:
    """Return each point's coordinate along laterals `number`; along a curve each has its own."""
    if isinstance(grid, CurvedGrid):
        return grid.along_m(x[:, None], y[:, None], number)
    return grid.coordinates(x, y)[0][:, None]


def _has_tape(
    grid: LateralRows, number: NDArray[np.int64], along: NDArray[np.float64], near_m: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Tell whether lateral `number` has tape within `near_m` of coordinate `along` on it."""
    low, high = along - near_m, along + near_m
    bottom, top = grid.piece_start_m.min() - 1.0, grid.piece_stop_m.max() + 1.0
    # Pieces rise by lateral and then by station, so one sorted key finds the first piece of
    # this lateral that does not end before `low`; `stride` keeps laterals apart in the key.
    stride = top - bottom
    key = grid.piece_lateral * stride + (grid.piece_stop_m - bottom)
    asked = number * stride + (np.clip(low, bottom, top) - bottom)
    piece = np.minimum(np.searchsorted(key, asked, side="left"), key.size - 1)
    ours: NDArray[np.bool_] = grid.piece_lateral[piece] == number
    return ours & (grid.piece_start_m[piece] <= high) & (grid.piece_stop_m[piece] >= low)


def _listed(number: NDArray[np.int64], chance: NDArray[np.float64]) -> LateralChances:
    """Sort each point's laterals by falling chance and cut the list where it is long enough."""
    elsewhere = np.maximum(1.0 - chance.sum(axis=1), 0.0)
    # Rounded, so that two laterals equally far away come by number and not by the last bit.
    order = np.argsort(-np.round(chance, 12), axis=1, kind="stable")
    number, chance = np.take_along_axis(number, order, axis=1), np.take_along_axis(chance, order, axis=1)
    before = np.cumsum(chance, axis=1) - chance
    keep = (chance >= LEAST_CHANCE) & (before < HELD)
    width = int(keep.sum(axis=1).max(initial=0))
    return LateralChances(
        lateral=np.where(keep, number, 0)[:, :width],
        chance=np.where(keep, chance, 0.0)[:, :width],
        listed=keep.sum(axis=1),
        elsewhere=elsewhere,
    )


def _joined(parts: list[LateralChances]) -> LateralChances:
    width = max(part.lateral.shape[1] for part in parts)
    wider = [((0, 0), (0, width - part.lateral.shape[1])) for part in parts]
    return LateralChances(
        lateral=np.concatenate([np.pad(part.lateral, pad) for part, pad in zip(parts, wider, strict=True)]),
        chance=np.concatenate([np.pad(part.chance, pad) for part, pad in zip(parts, wider, strict=True)]),
        listed=np.concatenate([part.listed for part in parts]),
        elsewhere=np.concatenate([part.elsewhere for part in parts]),
    )


def _between(
    edges: NDArray[np.float64],
    first: NDArray[np.int64],
    last: NDArray[np.int64],
    distance: NDArray[np.float64],
    sigma: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Return the chance of cells `first` to `last`, both in."""
    low, high = (edges[first] - distance) / sigma, (edges[last + 1] - distance) / sigma
    # On the far side take both from the upper tail, where small chances keep their digits.
    upper = low > 0
    chance: NDArray[np.float64] = ndtr(np.where(upper, -low, high)) - ndtr(np.where(upper, -high, low))
    return chance


def _shortest_runs(
    edges: NDArray[np.float64],
    nearest: NDArray[np.int64],
    distance: NDArray[np.float64],
    sigma: NDArray[np.float64],
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return first and last cell of the shortest run around `nearest` that holds 0.95."""
    cells = edges.size - 1
    best_first, best_last = np.zeros_like(nearest), np.full_like(nearest, cells - 1)
    best_chance = np.ones(distance.size)
    lowest = np.searchsorted(edges, distance - _WINDOW_SIGMAS * sigma, side="right") - 1
    deepest = int((nearest - np.clip(lowest, 0, cells - 1)).max(initial=0))
    active = np.arange(distance.size)
    for back in range(deepest + 1):
        # A run that starts `back` cells before the nearest one has at least that many more.
        active = active[best_last[active] - best_first[active] >= back]
        middle, at, spread = nearest[active], distance[active], sigma[active]
        first = np.maximum(middle - back, 0)
        below = ndtr((edges[first] - at) / spread)
        # The right end follows from the left one: the first edge past the quantile 0.95 higher.
        enough = at + spread * ndtri(np.minimum(below + HELD, 1.0))
        last = np.clip(np.searchsorted(edges, enough, side="left") - 1, middle, cells - 1)
        chance = np.round(_between(edges, first, last, at, spread), 12)
        count, best_count = last - first, best_last[active] - best_first[active]
        better = (count < best_count) | ((count == best_count) & (chance >= best_chance[active]))
        better &= chance >= HELD
        won = active[better]
        best_first[won], best_last[won], best_chance[won] = first[better], last[better], chance[better]
    return best_first, best_last

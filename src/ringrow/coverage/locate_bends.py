"""Where points lie along a pipe that bends: outer spans that walk on past a stop."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ringrow.coverage.places import BendPlace, StopEnd
from ringrow.geometry.angles import azimuth_deg
from ringrow.geometry.bends import BendTurn, pipe_course

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from ringrow.equipment.pivot import Pivot

ENDS: tuple[StopEnd, StopEnd] = ("start", "stop")
"""Ends of a sector, in the order in which bends are asked."""

# Points on the very edge of a wedge or of the sector belong to it, rounding or not.
_SLACK_DEG = 1e-9
_SLACK_M = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BendPlaces:
    """Where n points lie under outer spans that walk on past a stop.

    Parameters
    ----------
    end : ndarray of int, shape (n,)
        Index into `ENDS`; -1 where no bend passes over the point or the straight machine does.
    tower : ndarray of int, shape (n,)
        The tower they turn about, 0 where none.
    turned_deg : ndarray, shape (n,)
        How far they have walked on about it, NaN where none. [deg]
    pipe_m : ndarray, shape (n,)
        Distance from the pivot point along the bent pipe, NaN where none. [m]
    """

    end: NDArray[np.int64]
    tower: NDArray[np.int64]
    turned_deg: NDArray[np.float64]
    pipe_m: NDArray[np.float64]

    def place(self, row: int) -> BendPlace | None:
        """Return one point's answer.

        Parameters
        ----------
        row : int
            Which point, from 0.

        Returns
        -------
        BendPlace or None
            None where no bend passes over it.
        """
        if self.end[row] < 0:
            return None
        return BendPlace(
            at=ENDS[int(self.end[row])],
            tower=int(self.tower[row]),
            turned_deg=float(self.turned_deg[row]),
            pipe_m=float(self.pipe_m[row]),
        )


def bend_places(pivot: Pivot, x: ArrayLike, y: ArrayLike) -> BendPlaces:
    """Return where points lie under the outer spans of a machine that bends.

    The straight machine has the first word: ground within its sector is not in a bend. Ground
    that more than one bend passes over belongs to the one walked first from the start of the
    sector, then from its stop.

    Parameters
    ----------
    pivot : Pivot
        The machine.
    x, y : array_like, shape (n,)
        Points in the field's frame. [m]

    Returns
    -------
    BendPlaces
        One entry for each point, in their order.

    Examples
    --------
    >>> from ringrow.equipment.corner_arm import Bend
    >>> from ringrow.equipment.pivot import Pivot, Sector
    >>> pivot = Pivot(
    ...     name="P1",
    ...     x_m=0,
    ...     y_m=0,
    ...     spans_m=(100.0, 100.0),
    ...     sector=Sector(start_deg=270, stop_deg=90),
    ...     bends=(Bend(tower=1, at="stop", sweep_deg=90),),
    ... )
    >>> seen = bend_places(pivot, [100.0, 100.0], [-80.0, 80.0])
    >>> seen.place(0)  # the outer span has turned a quarter about tower 1
    BendPlace(at='stop', tower=1, turned_deg=90.0, pipe_m=180.0)
    >>> seen.place(1) is None
    True
    """
    x, y = np.atleast_1d(np.asarray(x, float)), np.atleast_1d(np.asarray(y, float))
    found = BendPlaces(
        end=np.full(x.shape, -1),
        tower=np.zeros(x.shape, np.int64),
        turned_deg=np.full(x.shape, np.nan),
        pipe_m=np.full(x.shape, np.nan),
    )
    free = ~_in_sector(pivot, x, y)
    for index, end in enumerate(ENDS):
        _walk_on(pivot, end, index, x, y, free, found)
    return found


def _in_sector(pivot: Pivot, x: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.bool_]:
    if pivot.sector is None:
        return np.ones(x.shape, bool)
    start = pivot.sector.start_deg + pivot.convergence_deg
    turned = (azimuth_deg(x - pivot.x_m, y - pivot.y_m) - start + _SLACK_DEG) % 360.0
    return np.asarray(turned <= pivot.sector.sweep_deg + 2 * _SLACK_DEG)


def _walk_on(
    pivot: Pivot,
    end: StopEnd,
    index: int,
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    free: NDArray[np.bool_],
    found: BendPlaces,
) -> None:
    """Fill in the points that the bends at one end pass over; `free` and `found` are changed."""
    if pivot.sector is None:
        return
    sign = 1.0 if end == "stop" else -1.0
    azimuth = pivot.sector.stop_deg if end == "stop" else pivot.sector.start_deg
    main = bearing = azimuth + pivot.convergence_deg
    walked: list[BendTurn] = []
    for bend in (each for each in pivot.bends if each.at == end):
        radius = pivot.tower_radii_m[bend.tower - 1]
        centre_x, centre_y = pipe_course(pivot.x_m, pivot.y_m, main, [radius], walked, side=end)[0]
        away = np.hypot(x - centre_x, y - centre_y)
        turned = (sign * (azimuth_deg(x - centre_x, y - centre_y) - bearing) + _SLACK_DEG) % 360.0
        under = free & (away <= pivot.base_radius_m - radius + _SLACK_M)
        under &= turned <= bend.sweep_deg + 2 * _SLACK_DEG
        found.end[under], found.tower[under] = index, bend.tower
        found.turned_deg[under] = np.clip(turned[under] - _SLACK_DEG, 0.0, bend.sweep_deg)
        found.pipe_m[under] = radius + away[under]
        free &= ~under
        walked.append(BendTurn(radius_m=radius, sweep_deg=bend.sweep_deg))
        bearing += sign * bend.sweep_deg

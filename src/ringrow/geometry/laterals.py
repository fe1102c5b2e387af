"""Evenly spaced straight laterals over a block of ground."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LateralGrid:
    """Every lateral of a block and every piece of tape on it, as arrays.

    Two axes: `along`, the unit vector from the header end to the far end, and `across`, the
    unit vector from the numbering edge toward higher numbers. A point's coordinates are
    ``s = (p - origin) . along`` and ``c = (p - origin) . across``; `origin` lies on the
    numbering edge, so lateral k runs along ``c = first_m + (k - 1) * spacing_m``.

    Parameters
    ----------
    origin : tuple of float
        x and y of the origin. [m]
    along, across : tuple of float
        Unit vectors (x, y), square to each other. [-]
    first_m, spacing_m : float
        Distance of lateral 1 from the numbering edge; distance between laterals. [m]
    count : int
        Highest lateral number, 0 for none.
    station_zero_m : ndarray, shape (count,)
        Coordinate s at which station 0 of each lateral lies; NaN for a number that never meets the block. [m]
    station_end_m : ndarray, shape (count,)
        Coordinate s of the outer end of each lateral, headland taken off; NaN as above. [m]
    piece_lateral : ndarray of int, shape (pieces,)
        Lateral number of each piece of tape, rising; within a lateral from the header end.
    piece_letter : ndarray of int, shape (pieces,)
        0 for a, 1 for b, ... counted within the lateral.
    piece_start_m, piece_stop_m : ndarray, shape (pieces,)
        Coordinates s of each piece's ends, start below stop. [m]
    """

    origin: tuple[float, float]
    along: tuple[float, float]
    across: tuple[float, float]
    first_m: float
    spacing_m: float
    count: int
    station_zero_m: NDArray[np.float64]
    station_end_m: NDArray[np.float64]
    piece_lateral: NDArray[np.int64]
    piece_letter: NDArray[np.int64]
    piece_start_m: NDArray[np.float64]
    piece_stop_m: NDArray[np.float64]

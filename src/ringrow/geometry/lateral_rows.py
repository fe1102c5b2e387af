"""What laterals of any shape have in common: their numbers, their stations and their pieces."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LateralRows:
    """Every lateral of a block and every piece of tape on it, as arrays.

    Each lateral has a coordinate s along its own line, from the header end toward the far end; all
    ends of tape are such coordinates. A station is s less the lateral's `station_zero_m`.

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
    """

    first_m: float
    spacing_m: float
    count: int
    station_zero_m: NDArray[np.float64]
    station_end_m: NDArray[np.float64]
    piece_lateral: NDArray[np.int64]
    piece_letter: NDArray[np.int64]
    piece_start_m: NDArray[np.float64]
    piece_stop_m: NDArray[np.float64]

    @property
    def pieces_per_lateral(self) -> NDArray[np.int64]:
        """Pieces of tape on each lateral, shape (count,); 0 for a number without tape."""
        return np.bincount(self.piece_lateral - 1, minlength=self.count).astype(np.int64)

    @property
    def piece_across_m(self) -> NDArray[np.float64]:
        """Distance of each piece from the numbering edge, shape (pieces,) [m]."""
        return np.asarray(self.first_m + (self.piece_lateral - 1) * self.spacing_m)

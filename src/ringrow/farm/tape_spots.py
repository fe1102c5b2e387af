"""Places along drip tape as people say them: lateral or crop row, and station."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from ringrow.errors import PlaceError
from ringrow.farm.flag_model import DripSpot
from ringrow.geometry.laterals import point_at

if TYPE_CHECKING:
    from ringrow.coverage.field import DripLayout
    from ringrow.equipment.drip import DripBlock
    from ringrow.units import UnitSystem


def lateral_of_row(block: DripBlock, row: int) -> int:
    """Return the lateral that serves a crop row.

    Parameters
    ----------
    block : DripBlock
        The block.
    row : int
        Crop row, 1 at the numbering edge.

    Returns
    -------
    int
        Lateral number: with two rows to a lateral, rows 1 and 2 are lateral 1.

    Raises
    ------
    PlaceError
        If `row` is below 1.
    """
    if row < 1:
        message = f'row of "{block.name}": found {row}; allowed: 1 and up, counted from the numbering edge'
        raise PlaceError(message)
    return math.ceil(row / block.rows_per_lateral - 1e-9)


def spot_on_tape(laid: DripLayout, lateral: int, station_m: float, *, units: UnitSystem) -> DripSpot:
    """Return the spot on a block that a person described.

    Parameters
    ----------
    laid : DripLayout
        The block with its laterals.
    lateral : int
        Lateral number.
    station_m : float
        Distance along it from the header end. [m]
    units : UnitSystem
        Units in which messages speak.

    Returns
    -------
    DripSpot
        The spot.

    Raises
    ------
    PlaceError
        If the block has no such lateral, or the lateral does not reach so far.
    """
    grid, name = laid.grid, laid.block.name
    numbers = np.unique(grid.piece_lateral)
    if not len(numbers):
        message = f'drip block "{name}": holds no tape'
        raise PlaceError(message)
    if lateral not in numbers:
        gaps = " (some numbers between have no tape)" if numbers[-1] - numbers[0] + 1 > len(numbers) else ""
        message = (
            f'lateral of "{name}": found {lateral}; allowed: {numbers[0]} to {numbers[-1]} '
            f"from the numbering edge{gaps}"
        )
        raise PlaceError(message)
    last_m = float(grid.station_end_m[lateral - 1] - grid.station_zero_m[lateral - 1])
    # Half a unit of grace, as for distances on a pivot: a wheel reads 1,321 ft on a 1,320.6 ft row.
    if not 0 <= station_m <= last_m + units.length_m / 2:
        message = (
            f'station on lateral {lateral} of "{name}": found {units.from_m(station_m):.0f} {units.length}; '
            f"allowed: 0 (header end) to {units.from_m(last_m):.0f} {units.length}"
        )
        raise PlaceError(message)
    station = min(station_m, last_m)
    point_at(grid, lateral, station)
    return DripSpot(drip=name, lateral=lateral, station_m=station)

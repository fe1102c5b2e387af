"""Laying evenly spaced straight laterals over a block of ground, and numbering them.

Laterals along a curve are laid in `curved_laterals`. What can be asked of either afterwards stands
in `lateral_grid` (lines, strips, stations) and `nearest` (which lateral a place is nearest to);
all of it can be had from here.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import shapely

from ringrow.errors import DomainError
from ringrow.geometry.curved_grid import CurvedGrid
from ringrow.geometry.lateral_grid import (
    LateralGrid,
    lateral_lengths_m,
    lateral_lines,
    lateral_strips,
    piece_name,
    point_at,
    points_on,
)
from ringrow.geometry.lateral_rows import LateralRows
from ringrow.geometry.nearest import NearestPieces, emitters_at, emitters_in_pieces, nearest_pieces
from ringrow.geometry.scanline import SHORTEST_M, SNAP_M, RowLines, RowRuns, runs_over

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

__all__ = [
    "CurvedGrid",
    "LateralGrid",
    "LateralRows",
    "NearestPieces",
    "emitters_at",
    "emitters_in_pieces",
    "lateral_count",
    "lateral_lengths_m",
    "lateral_lines",
    "lateral_strips",
    "lay_laterals",
    "nearest_pieces",
    "piece_name",
    "point_at",
    "points_on",
]

MOST_LATERALS = 1_000_000
"""More laterals than this in one block is a slip of the unit, not a block."""


def lay_laterals(
    area: BaseGeometry,
    ground: BaseGeometry,
    *,
    heading_deg: float,
    number_from_deg: float,
    header_deg: float,
    spacing_m: float,
    first_lateral_m: float | None = None,
    line_point_m: tuple[float, float] | None = None,
    headland_m: float = 0.0,
) -> LateralGrid:
    """Return every lateral of a block, numbered, and every piece of tape on it.

    Laterals are numbered from the edge of `area` that lies farthest toward `number_from_deg`
    and measured from the end that `header_deg` points at. A lateral cut by a hole in
    `ground` keeps its number; its pieces are a, b, c from the header end.

    Parameters
    ----------
    area : shapely Polygon or MultiPolygon
        The block as laid out: gives the numbering edge, the stations and the headlands. [m]
    ground : shapely Polygon or MultiPolygon
        What of `area` holds tape: the block less exclusions and other systems' ground. [m]
    heading_deg : float
        Frame bearing of the laterals. [deg]
    number_from_deg : float
        Frame bearing toward the edge where numbering starts; not along the laterals. [deg]
    header_deg : float
        Frame bearing of the header end seen from the middle of the block. [deg]
    spacing_m : float
        Distance between laterals, above 0. [m]
    first_lateral_m : float or None, default None
        Distance of lateral 1 from the numbering edge, 0 or more. None = half the spacing or,
        with `line_point_m`, what makes one lateral lie on that point. [m]
    line_point_m : tuple of float or None, default None
        A point (x, y) of the guidance line; without effect beside `first_lateral_m`. [m]
    headland_m : float, default 0
        Ground without tape at both outer ends of each lateral. [m]

    Returns
    -------
    LateralGrid
        The laterals; `count` 0 and empty arrays for an empty `area`.

    Raises
    ------
    DomainError
        If `spacing_m` is not above 0, `first_lateral_m` or `headland_m` is below 0, or the
        block would hold more than a million laterals.

    Notes
    -----
    A lateral that runs along an edge of the block is inside it. Pieces under 1 mm are left
    out and gaps under 1 mm do not cut the tape.

    Examples
    --------
    >>> block = shapely.box(0, 0, 100, 9)
    >>> pond = shapely.box(40, 4, 60, 9)
    >>> grid = lay_laterals(block, block.difference(pond), heading_deg=90, number_from_deg=0,
    ...     header_deg=270, spacing_m=3, headland_m=10)
    >>> grid.count, grid.piece_lateral, grid.piece_letter
    (3, array([1, 1, 2, 2, 3]), array([0, 1, 0, 1, 0]))
    >>> grid.piece_start_m
    array([10., 60., 10., 60., 10.])
    """
    rows = _number_rows(
        area,
        heading_deg=heading_deg,
        number_from_deg=number_from_deg,
        header_deg=header_deg,
        spacing_m=spacing_m,
        first_lateral_m=first_lateral_m,
        line_point_m=line_point_m,
    )
    if not 0 <= headland_m < np.inf:
        message = f"headland: found {headland_m} m; allowed: 0 or more"
        raise DomainError(message)
    outer = runs_over(area, rows)
    held = outer if ground is area else runs_over(ground, rows)
    zero, end = _outer_ends(outer, rows.count, headland_m)
    start = np.maximum(held.start_m, zero[held.row])
    stop = np.minimum(held.stop_m, end[held.row])
    kept = stop - start >= SHORTEST_M
    row = held.row[kept]
    return LateralGrid(
        origin=rows.origin,
        along=rows.along,
        across=rows.across,
        first_m=rows.first_m,
        spacing_m=rows.spacing_m,
        count=rows.count,
        station_zero_m=zero,
        station_end_m=end,
        piece_lateral=row + 1,
        piece_letter=np.arange(len(row)) - np.searchsorted(row, row),
        piece_start_m=start[kept],
        piece_stop_m=stop[kept],
    )


def lateral_count(
    area: BaseGeometry,
    *,
    heading_deg: float,
    number_from_deg: float,
    spacing_m: float,
    first_lateral_m: float | None = None,
    line_point_m: tuple[float, float] | None = None,
) -> int:
    """Return how many laterals a block has: the highest lateral number inside it.

    Much cheaper than laying them out; enough to check a range of laterals.

    Parameters
    ----------
    area : shapely Polygon or MultiPolygon
        The block as laid out, before exclusions. [m]
    heading_deg : float
        Frame bearing of the laterals. [deg]
    number_from_deg : float
        Frame bearing toward the edge where numbering starts. [deg]
    spacing_m : float
        Distance between laterals, above 0. [m]
    first_lateral_m : float or None, default None
        Distance of lateral 1 from the numbering edge; None as in `lay_laterals`. [m]
    line_point_m : tuple of float or None, default None
        A point (x, y) of the guidance line. [m]

    Returns
    -------
    int
        Highest lateral number; 0 for an empty `area`. [-]

    Raises
    ------
    DomainError
        As `lay_laterals`.

    Examples
    --------
    A quarter section with lines 60 inches apart:

    >>> quarter = shapely.box(0, 0, 2640 * 0.3048, 2640 * 0.3048)
    >>> lateral_count(quarter, heading_deg=90, number_from_deg=0, spacing_m=1.524)
    528
    """
    rows = _number_rows(
        area,
        heading_deg=heading_deg,
        number_from_deg=number_from_deg,
        header_deg=heading_deg + 180.0,
        spacing_m=spacing_m,
        first_lateral_m=first_lateral_m,
        line_point_m=line_point_m,
    )
    return rows.count


def _number_rows(
    area: BaseGeometry,
    *,
    heading_deg: float,
    number_from_deg: float,
    header_deg: float,
    spacing_m: float,
    first_lateral_m: float | None,
    line_point_m: tuple[float, float] | None,
) -> RowLines:
    _check_spacing(spacing_m, first_lateral_m)
    heading = _unit_vector(heading_deg)
    along = -heading if heading @ _unit_vector(header_deg) > 0 else heading
    normal = np.array([heading[1], -heading[0]])
    across = -normal if normal @ _unit_vector(number_from_deg) > 0 else normal
    vertices = shapely.get_coordinates(area)
    if len(vertices) == 0:
        origin, width_m = np.zeros(2), -1.0
    else:
        c = vertices @ across
        origin = along * (vertices @ along).min() + across * c.min()
        width_m = float(c.max() - c.min())
    first_m = _first_lateral(spacing_m, first_lateral_m, line_point_m, origin=origin, across=across)
    count = max(math.floor((width_m + SNAP_M - first_m) / spacing_m) + 1, 0)
    if count > MOST_LATERALS:
        message = (
            f"spacing: found {spacing_m} m on a block {width_m:.0f} m wide, {count:,} laterals; "
            f"allowed: at most {MOST_LATERALS:,}; look at the unit of the spacing"
        )
        raise DomainError(message)
    return RowLines(
        origin=(float(origin[0]), float(origin[1])),
        along=(float(along[0]), float(along[1])),
        across=(float(across[0]), float(across[1])),
        first_m=first_m,
        spacing_m=float(spacing_m),
        count=count,
    )


def _check_spacing(spacing_m: float, first_lateral_m: float | None) -> None:
    if not 0 < spacing_m < np.inf:
        message = f"spacing: found {spacing_m} m between laterals; allowed: above 0"
        raise DomainError(message)
    if first_lateral_m is not None and not 0 <= first_lateral_m < np.inf:
        message = f"first lateral: found {first_lateral_m} m from the numbering edge; allowed: 0 or more"
        raise DomainError(message)


def _unit_vector(bearing_deg: float) -> NDArray[np.float64]:
    # Whole quarter turns exactly: sin 180 deg in floating point is 1e-16, not 0.
    vector = np.array([np.sin(np.radians(bearing_deg)), np.cos(np.radians(bearing_deg))])
    return np.where(np.abs(vector) < 1e-15, 0.0, vector)


def _first_lateral(
    spacing_m: float,
    first_lateral_m: float | None,
    line_point_m: tuple[float, float] | None,
    *,
    origin: NDArray[np.float64],
    across: NDArray[np.float64],
) -> float:
    if first_lateral_m is not None:
        return float(first_lateral_m)
    if line_point_m is None:
        return spacing_m / 2.0
    first = float((np.asarray(line_point_m) - origin) @ across) % spacing_m
    # A line on the numbering edge itself, give or take rounding: lateral 1 is one spacing in.
    return first if SNAP_M < first < spacing_m - SNAP_M else spacing_m


def _outer_ends(
    outer: RowRuns, count: int, headland_m: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    zero, end = np.full(count, np.nan), np.full(count, np.nan)
    # Of several runs of one row the last one written stays: written backward, that is the first.
    zero[outer.row[::-1]] = outer.start_m[::-1]
    end[outer.row] = outer.stop_m
    return zero + headland_m, end - headland_m

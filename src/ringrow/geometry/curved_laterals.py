"""Laying laterals along a curve: offset curves of one guidance line, numbered and measured.

They follow the rules of straight laterals: numbered from the edge on one side, stations from the
header end, pieces where ground is cut out. The numbering edge is the offset curve through the
block's extreme point, and the guidance line runs on straight beyond both its ends.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from ringrow.errors import DomainError
from ringrow.geometry.curved_grid import CurvedGrid, level_curves, signed_distance_m
from ringrow.geometry.parallel_curves import CURVE_ERROR_M, OffsetSide, offset_side, tidy_line
from ringrow.geometry.scanline import SHORTEST_M, SNAP_M, RowRuns, join_runs
from ringrow.units import FOOT_M

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray
    from shapely import LineString
    from shapely.geometry.base import BaseGeometry

MOST_CURVED = 20_000
"""More curved laterals than this in one block is a slip of the unit, not a block."""
LARGEST_FOLD_DEG = 15.0
"""Where the inside of a bend closes up, a lateral may turn this much at one point and no more [deg]."""
_FAR_M = 80_000.0
"""The guidance line runs on straight for this long: past any field [m]."""
_PLAIN_M = 25_000.0
"""Half the side of the ground that the guidance line parts in two [m]."""
_TRIED = 4000
"""Places along a block's edge, or one every half metre if that is fewer, where the widest is looked for."""
_EDGE_M = 1e-8
"""Ground is grown by this much before curves are cut to it, so that a curve on its edge is in it [m]."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Curve:
    """A guidance line set to run from the header end, with its two sides and the block's extent."""

    line: LineString
    higher_ground: BaseGeometry
    turn: int
    nearest_m: float
    farthest_m: float

    @property
    def width_m(self) -> float:
        return self.farthest_m - self.nearest_m


def lay_curved_laterals(
    area: BaseGeometry,
    ground: BaseGeometry,
    *,
    guide_m: Sequence[tuple[float, float]],
    number_from_deg: float,
    header_deg: float,
    spacing_m: float,
    first_lateral_m: float | None = None,
    headland_m: float = 0.0,
) -> CurvedGrid:
    """Return every lateral of a block laid along a curve, numbered, and every piece of tape on it.

    Each lateral is the offset curve of the guidance line at its distance: arcs about the line's
    corners on the outside of turns, cut short against itself on the inside.

    Parameters
    ----------
    area : shapely Polygon or MultiPolygon
        The block as laid out: gives the numbering edge, the stations and the headlands. [m]
    ground : shapely Polygon or MultiPolygon
        What of `area` holds tape: the block less exclusions and other systems' ground. [m]
    guide_m : sequence of tuple of float
        Points (x, y) of the guidance line, in either direction. [m]
    number_from_deg : float
        Frame bearing toward the side of the line on which numbering starts. [deg]
    header_deg : float
        Frame bearing of the header end: the end of the line it points at. [deg]
    spacing_m : float
        Distance between laterals, above 0. [m]
    first_lateral_m : float or None, default None
        Distance of lateral 1 from the numbering edge, 0 or more. None = what makes one lateral
        lie on the guidance line. [m]
    headland_m : float, default 0
        Ground without tape at both outer ends of each lateral. [m]

    Returns
    -------
    CurvedGrid
        The laterals.

    Raises
    ------
    DomainError
        If a length cannot be, the line has no length, crosses itself or turns back on itself, or its
        offset curves fold up within the block.

    Notes
    -----
    Curves are drawn within 1 mm. A corner of the guidance line stays a corner on its inside; where
    whole stretches of the line are lost there, the laterals beyond may turn by at most 15 degrees
    at one point: that much does no harm to a line from a track, which is never quite smooth.

    Examples
    --------
    Contour rows about a hill, the arc 300 m from its top:

    >>> turn = np.radians(np.linspace(60, 120, 61))
    >>> arc = np.column_stack([300 * np.sin(turn), 300 * np.cos(turn)])
    >>> block = shapely.box(240, -50, 330, 50)
    >>> grid = lay_curved_laterals(block, block, guide_m=arc, number_from_deg=90, header_deg=0,
    ...     spacing_m=10)
    >>> grid.count, round(grid.guide_across_m, 1)
    (9, 33.8)
    """
    _check_lengths(spacing_m, first_lateral_m, headland_m)
    curve = _set_out(area, guide_m, number_from_deg=number_from_deg, header_deg=header_deg)
    first_m = _first(curve, spacing_m, first_lateral_m)
    count = _count(curve.width_m, spacing_m, first_m)
    reach_m = max(abs(curve.nearest_m), abs(curve.farthest_m)) + spacing_m
    corners = shapely.get_coordinates(curve.line)
    lower = offset_side(corners, turn=-curve.turn, farthest_m=reach_m)
    higher = offset_side(corners, turn=curve.turn, farthest_m=reach_m)
    away_m: NDArray[np.float64] = np.arange(count, dtype=np.float64) * spacing_m + first_m + curve.nearest_m
    _check_folds(curve.line, area, lower, higher, away_m)
    xy, number = level_curves(lower, higher, away_m)
    lines = np.asarray(shapely.linestrings(xy, indices=number)) if count else np.empty(0, dtype=object)
    outer = _runs(lines, area)
    held = outer if ground is area else _runs(lines, ground)
    zero, end = _outer_ends(outer, count, headland_m)
    start = np.maximum(held.start_m, zero[held.row])
    stop = np.minimum(held.stop_m, end[held.row])
    kept = stop - start >= SHORTEST_M
    row = held.row[kept]
    return CurvedGrid(
        first_m=first_m,
        spacing_m=float(spacing_m),
        count=count,
        station_zero_m=zero,
        station_end_m=end,
        piece_lateral=row + 1,
        piece_letter=np.arange(len(row)) - np.searchsorted(row, row),
        piece_start_m=start[kept],
        piece_stop_m=stop[kept],
        guide=curve.line,
        guide_across_m=-curve.nearest_m,
        block_width_m=curve.width_m,
        higher_ground=curve.higher_ground,
        lower=lower,
        higher=higher,
        lines=lines,
    )


def curved_count(
    area: BaseGeometry,
    *,
    guide_m: Sequence[tuple[float, float]],
    number_from_deg: float,
    spacing_m: float,
    first_lateral_m: float | None = None,
) -> int:
    """Return how many laterals a block along a curve has, without laying them out.

    Parameters
    ----------
    area : shapely Polygon or MultiPolygon
        The block as laid out, before exclusions. [m]
    guide_m : sequence of tuple of float
        Points (x, y) of the guidance line. [m]
    number_from_deg : float
        Frame bearing toward the side on which numbering starts. [deg]
    spacing_m : float
        Distance between laterals, above 0. [m]
    first_lateral_m : float or None, default None
        Distance of lateral 1 from the numbering edge; None as in `lay_curved_laterals`. [m]

    Returns
    -------
    int
        Highest lateral number; 0 for an empty `area`. [-]

    Raises
    ------
    DomainError
        As `lay_curved_laterals`, folds apart.
    """
    _check_lengths(spacing_m, first_lateral_m, 0.0)
    curve = _set_out(area, guide_m, number_from_deg=number_from_deg, header_deg=None)
    return _count(curve.width_m, spacing_m, _first(curve, spacing_m, first_lateral_m))


def _check_lengths(spacing_m: float, first_lateral_m: float | None, headland_m: float) -> None:
    if not 0 < spacing_m < np.inf:
        message = f"spacing: found {spacing_m} m between laterals; allowed: above 0"
        raise DomainError(message)
    if first_lateral_m is not None and not 0 <= first_lateral_m < np.inf:
        message = f"first lateral: found {first_lateral_m} m from the numbering edge; allowed: 0 or more"
        raise DomainError(message)
    if not 0 <= headland_m < np.inf:
        message = f"headland: found {headland_m} m; allowed: 0 or more"
        raise DomainError(message)


def _set_out(
    area: BaseGeometry,
    guide_m: Sequence[tuple[float, float]],
    *,
    number_from_deg: float,
    header_deg: float | None,
) -> _Curve:
    line = tidy_line(guide_m)
    if len(line) < 2:
        message = "guidance line: found one place only; allowed: two places or more, some way apart"
        raise DomainError(message)
    chord = line[-1] - line[0]
    if header_deg is not None and chord @ _unit(header_deg) > 0:
        line, chord = line[::-1], -chord
    # The side on the right of the line runs toward higher numbers when numbering starts on its left.
    turn = 1 if np.array([chord[1], -chord[0]]) @ _unit(number_from_deg) < 0 else -1
    long_line = shapely.LineString(_extended(line))
    higher = _ground_beside(long_line, line, turn)
    nearest, farthest = _extent(area, long_line, higher)
    return _Curve(line=long_line, higher_ground=higher, turn=turn, nearest_m=nearest, farthest_m=farthest)


def _unit(bearing_deg: float) -> NDArray[np.float64]:
    return np.array([math.sin(math.radians(bearing_deg)), math.cos(math.radians(bearing_deg))])


def _extended(line: NDArray[np.float64]) -> NDArray[np.float64]:
    ends = line.copy()
    for end, inner in ((0, 1), (-1, -2)):
        out = line[end] - line[inner]
        ends[end] = line[end] + out * (_FAR_M / np.hypot(*out))
    return ends


def _ground_beside(line: LineString, stated: NDArray[np.float64], turn: int) -> BaseGeometry:
    """Return all ground on one side of a guidance line; `stated` are its corners before it was extended."""
    corners = shapely.get_coordinates(line)
    middle = corners[1:-1].mean(axis=0) if len(corners) > 2 else corners.mean(axis=0)
    plain = shapely.box(*(middle - _PLAIN_M), *(middle + _PLAIN_M))
    noded = shapely.unary_union([plain.exterior, shapely.intersection(line, plain)])
    parts = shapely.get_parts(shapely.polygonize([noded]))
    if not line.is_simple or len(parts) != 2:
        message = (
            "guidance line: found a line that crosses itself, or would if it ran on straight; "
            "allowed: one that runs through the block once"
        )
        raise DomainError(message)
    # An edge as it was stated: the middle of an extended one may lie past the plain.
    one, two = stated[len(stated) // 2 - 1], stated[len(stated) // 2]
    step = (two - one) / np.hypot(*(two - one))
    # A ray from the middle of one edge to its side tells the parts apart: 0.1 mm is aside enough.
    beside = (one + two) / 2.0 + 1e-4 * turn * np.array([step[1], -step[0]])
    return parts[0] if shapely.contains_xy(parts[0], *beside) else parts[1]


def _extent(area: BaseGeometry, line: LineString, higher: BaseGeometry) -> tuple[float, float]:
    """Return the least and the largest signed distance of a block from the line."""
    if area.is_empty:
        return 0.0, -1.0
    rings = shapely.get_rings(shapely.get_parts(area))
    step_m = max(float(shapely.length(rings).sum()) / _TRIED, 0.5)
    tried, ring = shapely.get_coordinates(shapely.segmentize(rings, step_m), return_index=True)
    away = signed_distance_m(line, higher, *tried.T)
    nearest = -_sharpened(-away, tried, ring, lambda xy: -signed_distance_m(line, higher, *xy.T))
    farthest = _sharpened(away, tried, ring, lambda xy: signed_distance_m(line, higher, *xy.T))
    return nearest, farthest


def _sharpened(
    away: NDArray[np.float64],
    dense: NDArray[np.float64],
    ring: NDArray[np.int64],
    measure: Callable[[NDArray[np.float64]], NDArray[np.float64]],
) -> float:
    """Return the largest distance along rings near the best of many places tried on them."""
    best = int(away.argmax())
    found = float(away[best])
    for other in (best - 1, best + 1):
        if not 0 <= other < len(ring) or ring[other] != ring[best]:
            continue
        low, high = dense[best], dense[other]
        # Zoom in on the best of 21 places, ten times: to a billionth of the step.
        for _ in range(10):
            share = np.linspace(0.0, 1.0, 21)[:, None]
            tried = low + share * (high - low)
            values = measure(tried)
            at = int(values.argmax())
            found = max(found, float(values[at]))
            low, high = tried[max(at - 1, 0)], tried[min(at + 1, 20)]
    return found


def _first(curve: _Curve, spacing_m: float, first_lateral_m: float | None) -> float:
    if first_lateral_m is not None:
        return float(first_lateral_m)
    first = -curve.nearest_m % spacing_m
    return first if SNAP_M < first < spacing_m - SNAP_M else float(spacing_m)


def _count(width_m: float, spacing_m: float, first_m: float) -> int:
    count = max(math.floor((width_m + SNAP_M - first_m) / spacing_m) + 1, 0)
    if count > MOST_CURVED:
        message = (
            f"spacing: found {spacing_m} m on a block {width_m:.0f} m wide, {count:,} curved laterals; "
            f"allowed: at most {MOST_CURVED:,}; look at the unit of the spacing"
        )
        raise DomainError(message)
    return count


def _check_folds(
    line: LineString,
    area: BaseGeometry,
    lower: OffsetSide,
    higher: OffsetSide,
    away_m: NDArray[np.float64],
) -> None:
    """Refuse a line whose offset curves lose a bend of it within the block."""
    for side, distance in ((lower, -away_m[away_m < 0]), (higher, away_m[away_m >= 0])):
        if len(distance):
            _check_side(line, area, side, np.sort(distance))


def _check_side(
    line: LineString, area: BaseGeometry, side: OffsetSide, distance: NDArray[np.float64]
) -> None:
    corners = side.curves(distance)
    inside = shapely.contains_xy(area, *corners.xy.T) & (corners.after >= 0)
    at = np.flatnonzero(inside)
    one, two = corners.before[at], corners.after[at]
    turned = np.degrees(np.arccos(np.clip((side.along[one] * side.along[two]).sum(axis=1), -1.0, 1.0)))
    folded = np.flatnonzero((two > one + 1) & (turned > LARGEST_FOLD_DEG))
    if len(folded):
        worst = folded[0]
        lost = side.vanishes_m[one[worst] + 1 : two[worst]]
        aside_m = float(distance[corners.curve[at[worst]]])
        message = (
            f"guidance line: found a bend with a radius of {_length(float(lost.min()))} and laterals "
            f"{_length(aside_m)} off it on the inside, which would fold up; allowed: a block that "
            "reaches less far into the bend than its radius; draw the line nearer the inside of the bend, "
            "or split the block"
        )
        raise DomainError(message)
    off = distance[corners.curve[at]]
    at, off = at[off > 100 * CURVE_ERROR_M], off[off > 100 * CURVE_ERROR_M]
    shapely.prepare(line)
    places = shapely.points(corners.xy[at])
    crossed = np.flatnonzero(shapely.dwithin(line, places, off - 10 * CURVE_ERROR_M))
    if len(crossed):
        gap_m = 2.0 * float(shapely.distance(line, places[crossed[0]]))
        message = (
            f"guidance line: found a line that comes back to within {_length(gap_m)} of "
            f"itself and laterals {_length(float(off[crossed[0]]))} off it, which would cross; allowed: "
            "a block that lies nearer the line; split the block"
        )
        raise DomainError(message)


def _length(metres: float) -> str:
    return f"{metres:.0f} m ({metres / FOOT_M:.0f} ft)"


def _runs(lines: NDArray[np.object_], ground: BaseGeometry) -> RowRuns:
    """Return the runs of each line over ground, its edges included."""
    nothing = RowRuns(row=np.empty(0, np.int64), start_m=np.empty(0), stop_m=np.empty(0))
    if not len(lines) or ground.is_empty:
        return nothing
    grown = shapely.buffer(ground, _EDGE_M, join_style="mitre", mitre_limit=2.0)
    parts, row = shapely.get_parts(shapely.intersection(lines, grown), return_index=True)
    long_enough = shapely.length(parts) > 0.0
    parts, row = parts[long_enough], row[long_enough]
    if not len(parts):
        return nothing
    ends = np.array([shapely.line_locate_point(lines[row], shapely.get_point(parts, end)) for end in (0, -1)])
    start, stop = ends.min(axis=0), ends.max(axis=0)
    order = np.lexsort([start, row])
    return join_runs(row[order], start[order], stop[order], stride_m=2.0 * float(stop.max()) + 1.0)


def _outer_ends(
    outer: RowRuns, count: int, headland_m: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    zero, end = np.full(count, np.nan), np.full(count, np.nan)
    # Of several runs of one row the last one written stays: written backward, that is the first.
    zero[outer.row[::-1]] = outer.start_m[::-1]
    end[outer.row] = outer.stop_m
    return zero + headland_m, end - headland_m

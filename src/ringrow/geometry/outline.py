"""A field's outline from one drive round it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from ringrow.errors import GeometryError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray
    from shapely import Polygon

STANDSTILL_M = 1.0
"""Points nearer than this to the last one kept say nothing new; a parked receiver wanders."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TrackOutline:
    """A boundary driven round.

    Parameters
    ----------
    polygon : shapely Polygon
        The closed outline. [m]
    area_se_m2 : float
        Standard error of its area from the error of the points. [m2]
    points, spikes : int
        Points given; points left out because they jumped out and back.
    overlap_m : float
        Track driven twice at the closing, cut off. [m]
    closing_gap_m : float
        Straight line that closes the outline. [m]
    longest_gap_m : float
        Longest straight piece between two points of the track. [m]
    """

    polygon: Polygon
    area_se_m2: float
    points: int
    spikes: int
    overlap_m: float
    closing_gap_m: float
    longest_gap_m: float


def outline_from_track(
    x: ArrayLike, y: ArrayLike, *, sigma_m: float, simplify_m: float = 0.5
) -> TrackOutline:
    """Return the outline of a driven track: jitter thinned, overlap at the closing cut, closed.

    Parameters
    ----------
    x, y : array_like, shape (n,)
        The track in the order it was driven. [m]
    sigma_m : float
        One-axis error of a point. [m]
    simplify_m : float, default 0.5
        Points nearer than this to the line between their neighbours are dropped. [m]

    Returns
    -------
    TrackOutline
        The outline with its area's error.

    Raises
    ------
    GeometryError
        If fewer than three points remain, the track ends farther from its start than a fifth of
        its length and than one and a half of its longest step, or it crosses itself other than at
        the closing.

    Notes
    -----
    Standard error of the area: half sigma times the root of the sum of squared distances from
    each point's predecessor to its successor, points taken as independent. Neighbouring
    fixes of one drive share error; thinning to standstill distance softens that, not more.

    Examples
    --------
    >>> corner = np.array([0, 100, 100, 0, 0, 30]), np.array([0, 0, 100, 100, 0, 0])
    >>> round(outline_from_track(*corner, sigma_m=2.0).polygon.area)
    10000
    """
    xy = np.column_stack([np.asarray(x, float), np.asarray(y, float)])
    given = len(xy)
    xy = _moving(xy[np.isfinite(xy).all(axis=1)])
    xy, spikes = _without_spikes(xy)
    if len(xy) < 3:
        message = f"outline: found {len(xy)} usable points; allowed: three or more, driven round the field"
        raise GeometryError(message)
    loop, overlap = _cut_overlap(xy)
    gap = float(np.hypot(*(loop[-1] - loop[0])))
    steps = np.hypot(*np.diff(loop, axis=0).T)
    # Typed corners lie far apart, so the closing side may be as long as the others.
    if gap > max(0.2 * steps.sum(), 1.5 * steps.max()):
        message = (
            f"outline: found the track's end {gap:.0f} m from its start after {steps.sum():.0f} m; allowed: "
            "a drive round the field that comes back near where it began"
        )
        raise GeometryError(message)
    error = area_se_m2(loop, sigma_m=sigma_m)
    polygon = shapely.orient_polygons(shapely.simplify(shapely.Polygon(loop), simplify_m))
    if not polygon.is_valid:
        message = (
            f"outline: found that the track crosses itself ({shapely.is_valid_reason(polygon)}); "
            "allowed: one round; cut the track to the drive round the field"
        )
        raise GeometryError(message)
    return TrackOutline(
        polygon=polygon,
        area_se_m2=error,
        points=given,
        spikes=spikes,
        overlap_m=overlap,
        closing_gap_m=gap,
        longest_gap_m=float(steps.max()),
    )


def area_se_m2(ring: ArrayLike, *, sigma_m: float) -> float:
    """Return the standard error of a polygon's area when every corner has the same error.

    Parameters
    ----------
    ring : array_like, shape (n, 2)
        Corners in order, first one not repeated. [m]
    sigma_m : float
        One-axis standard error of a corner, independent from corner to corner. [m]

    Returns
    -------
    float
        Standard error of the area, 1/2 sigma sqrt(sum |P(i+1) - P(i-1)|^2). [m2]

    Examples
    --------
    >>> area_se_m2([[0, 0], [100, 0], [100, 100], [0, 100]], sigma_m=1.0)
    141.4
    """
    corners = np.asarray(ring, float)
    reach = np.roll(corners, -1, axis=0) - np.roll(corners, 1, axis=0)
    return float(0.5 * sigma_m * np.sqrt((reach**2).sum()))


def _moving(xy: NDArray[np.float64]) -> NDArray[np.float64]:
    kept: list[NDArray[np.float64]] = []
    for point in xy:
        if not kept or np.hypot(*(point - kept[-1])) >= STANDSTILL_M:
            kept.append(point)
    return np.array(kept).reshape(-1, 2)


def _without_spikes(xy: NDArray[np.float64]) -> tuple[NDArray[np.float64], int]:
    """Leave out points that jump away from both neighbours and straight back."""
    if len(xy) < 5:
        return xy, 0
    before, after = xy[1:-1] - xy[:-2], xy[2:] - xy[1:-1]
    out, back = np.hypot(*before.T), np.hypot(*after.T)
    beside = np.hypot(*(xy[2:] - xy[:-2]).T)
    usual = float(np.median(np.concatenate([out, back])))
    cosine = (before * after).sum(axis=1) / (out * back)
    spike = (cosine < -0.9) & (np.minimum(out, back) > 5 * usual) & (beside < np.minimum(out, back))
    keep = np.concatenate([[True], ~spike, [True]])
    return xy[keep], int(spike.sum())


def _cut_overlap(xy: NDArray[np.float64]) -> tuple[NDArray[np.float64], float]:
    """Cut the end of the track that runs along its own beginning again."""
    lengths = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(xy, axis=0).T))])
    half = len(xy) // 2
    # The first return nearest to the start, looking only at the second half of the drive.
    to_start = np.hypot(*(xy[half:] - xy[0]).T)
    reach = max(3 * STANDSTILL_M, 0.02 * lengths[-1])
    near = np.flatnonzero(to_start <= reach)
    if not len(near):
        return xy, 0.0
    run_end = near[0]
    while run_end + 1 < len(to_start) and to_start[run_end + 1] <= to_start[run_end]:
        run_end += 1
    last = half + int(run_end)
    if to_start[run_end] <= STANDSTILL_M:
        return xy[:last], float(lengths[-1] - lengths[last])
    return xy[: last + 1], float(lengths[-1] - lengths[last])

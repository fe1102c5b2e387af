"""Straight things through surveyed points: the towers of a machine, the laterals of a block."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ringrow.errors import GeometryError
from ringrow.geometry.angles import azimuth_deg

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

LEAST_GAP_M = 0.2
"""Laterals nearer to each other than this are taken for one and the same."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TowerFit:
    """Towers of a machine from pins set along its pipe.

    Parameters
    ----------
    x_m, y_m : float
        Pivot point. [m]
    bearing_deg : float
        Frame bearing of the pipe, from the pivot point outward. [deg]
    radii_m, spans_m : tuple of float
        Distance of each tower along the pipe; the spans between them. [m]
    off_line_m : tuple of float
        How far each pin lies off the line, positive to the right looking outward. [m]
    rms_m : float
        Root mean square of `off_line_m`. [m]
    """

    x_m: float
    y_m: float
    bearing_deg: float
    radii_m: tuple[float, ...]
    spans_m: tuple[float, ...]
    off_line_m: tuple[float, ...]
    rms_m: float


def fit_towers(x: ArrayLike, y: ArrayLike, *, pivot_point_m: tuple[float, float] | None = None) -> TowerFit:
    """Return spans and bearing of a machine from pins at its towers.

    Parameters
    ----------
    x, y : array_like, shape (n,)
        Pins, one a tower, in any order; without `pivot_point_m` the first one is the pivot point. [m]
    pivot_point_m : tuple of float or None, default None
        Pivot point (x, y) when it is known better than one pin. [m]

    Returns
    -------
    TowerFit
        Towers in order from the pivot point.

    Raises
    ------
    GeometryError
        If there is no tower pin, two pins fall on one tower, or the pins do not lie on one side of the point.

    Notes
    -----
    The pipe is the straight line through the pivot point that lies closest to all pins (total
    least squares). Span errors are about 1.4 times a pin's own error; driving out along the pipe
    in one go keeps the slow part of the GPS error out of them.

    Examples
    --------
    >>> fit = fit_towers([0, 0, 0.5, 0], [0, 50, 101, 150])
    >>> [round(span) for span in fit.spans_m], round(fit.bearing_deg % 180, 1)
    ([50, 51, 49], 0.2)
    """
    xy = np.column_stack([np.asarray(x, float), np.asarray(y, float)])
    pivot = xy[0] if pivot_point_m is None else np.array(pivot_point_m, float)
    towers = (xy[1:] if pivot_point_m is None else xy) - pivot
    if not len(towers):
        message = "tower survey: found no pin besides the pivot point; allowed: one pin at every tower"
        raise GeometryError(message)
    direction = np.linalg.svd(towers, full_matrices=False)[2][0]
    if (towers @ direction).sum() < 0:
        direction = -direction
    radii = towers @ direction
    order = np.argsort(radii)
    off = towers @ np.array([direction[1], -direction[0]])
    spans = np.diff(radii[order], prepend=0.0)
    if spans.min() < 1.0:
        message = (
            f"tower survey: found pins {spans.min():.1f} m apart along the pipe; "
            "allowed: one pin a tower, all on one side of the pivot point, 1 m or more apart"
        )
        raise GeometryError(message)
    return TowerFit(
        x_m=float(pivot[0]),
        y_m=float(pivot[1]),
        bearing_deg=float(azimuth_deg(direction[0], direction[1])),
        radii_m=tuple(radii[order].tolist()),
        spans_m=tuple(spans.tolist()),
        off_line_m=tuple(off[order].tolist()),
        rms_m=float(np.sqrt((off**2).mean())),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class LateralFit:
    """Guidance line and spacing from points on several laterals or rows.

    Parameters
    ----------
    heading_deg : float
        Frame bearing along the laterals, 0 <= heading < 180. [deg]
    heading_se_deg : float
        Its standard error. [deg]
    point_m : tuple of float
        A point (x, y) on the first line. [m]
    spacing_m : float or None
        Distance between neighbouring laterals; None from a single line. [m]
    spacing_se_m : float or None
        Its standard error; None with two lines or fewer. [m]
    numbers : tuple of int
        Which lateral each track lies on, counted from the first track.
    rms_m : float
        Root mean square distance of the points from the lines. [m]
    """

    heading_deg: float
    heading_se_deg: float
    point_m: tuple[float, float]
    spacing_m: float | None
    spacing_se_m: float | None
    numbers: tuple[int, ...]
    rms_m: float


def fit_laterals(
    tracks: Sequence[tuple[ArrayLike, ArrayLike]], *, numbers: Sequence[int] | None = None
) -> LateralFit:
    """Return the common heading and spacing of parallel lines, each seen as a track of points.

    Parameters
    ----------
    tracks : sequence of (x, y)
        Two or more points on each line. [m]
    numbers : sequence of int or None, default None
        Lateral number of each track when known; None = found from the gaps.

    Returns
    -------
    LateralFit
        Heading, spacing and errors.

    Raises
    ------
    GeometryError
        If no track has two different points, or the gaps fit no even spacing.

    Notes
    -----
    One heading for all tracks, weighted by their length (total least squares about each
    track's own middle). Without numbers the smallest gap is taken for one spacing, and every
    other gap must be a whole number of it to within a quarter.

    Examples
    --------
    >>> fit = fit_laterals([([0, 100], [0, 0]), ([0, 100], [1.5, 1.5]), ([0, 100], [4.5, 4.5])])
    >>> round(fit.heading_deg, 6), round(fit.spacing_m, 6), fit.numbers
    (90.0, 1.5, (0, 1, 3))
    """
    parts = [np.column_stack([np.asarray(x, float), np.asarray(y, float)]) for x, y in tracks]
    centred = np.vstack([part - part.mean(axis=0) for part in parts]) if parts else np.empty((0, 2))
    if len(centred) < 2 or np.hypot(*centred.T).max() < 1.0:
        message = (
            "line survey: found no track with points 1 m or more apart; allowed: a drive along each lateral"
        )
        raise GeometryError(message)
    direction = np.linalg.svd(centred, full_matrices=False)[2][0]
    across = np.array([-direction[1], direction[0]])
    offsets = np.array([float((part @ across).mean()) for part in parts])
    off = np.concatenate([part @ across - offset for part, offset in zip(parts, offsets, strict=True)])
    freedom = max(1, len(centred) - len(parts) - 1)
    sigma = float(np.sqrt((off**2).sum() / freedom))
    found = _numbers_of(offsets) if numbers is None else np.asarray(numbers, int)
    spacing, spacing_se = _spacing(offsets, found)
    return LateralFit(
        heading_deg=float(azimuth_deg(direction[0], direction[1])) % 180.0,
        heading_se_deg=float(np.degrees(sigma / np.sqrt(((centred @ direction) ** 2).sum()))),
        point_m=(float(parts[0][:, 0].mean()), float(parts[0][:, 1].mean())),
        spacing_m=spacing,
        spacing_se_m=spacing_se,
        numbers=tuple(int(number) for number in found - found[0]),
        rms_m=float(np.sqrt((off**2).mean())),
    )


def _numbers_of(offsets: NDArray[np.float64]) -> NDArray[np.int64]:
    gaps = np.diff(np.sort(offsets))
    gaps = gaps[gaps > LEAST_GAP_M]
    if not len(gaps):
        return np.zeros(len(offsets), int)
    steps = (offsets - offsets[0]) / gaps.min()
    whole = np.rint(steps)
    # Let the spacing settle on all gaps before judging them: the smallest one carries most error.
    if (whole**2).sum() > 0:
        settled = float(np.clip((steps * whole).sum() / (whole**2).sum(), 0.95, 1.05))
        steps = steps / settled
        whole = np.rint(steps)
    if np.abs(steps - whole).max() > 0.25:
        message = (
            f"line survey: found gaps of {', '.join(f'{gap:.2f}' for gap in gaps)} m between tracks; "
            "allowed: whole multiples of one spacing; say which laterals were driven"
        )
        raise GeometryError(message)
    return np.asarray(whole, int)


def _spacing(offsets: NDArray[np.float64], numbers: NDArray[np.int64]) -> tuple[float | None, float | None]:
    steps = numbers - numbers.mean()
    if not np.any(steps):
        return None, None
    slope = float((steps * offsets).sum() / (steps**2).sum())
    left = offsets - offsets.mean() - slope * steps
    freedom = len(offsets) - 2
    error = float(np.sqrt((left**2).sum() / freedom / (steps**2).sum())) if freedom > 0 else None
    return abs(slope), error

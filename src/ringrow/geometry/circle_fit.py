"""Circles through surveyed points: geometric least squares with honest errors."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.optimize import least_squares

from ringrow.errors import GeometryError
from ringrow.geometry.angles import azimuth_deg

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

OUTLIER_SIGMAS = 4.0
"""Points farther off than this many robust sigmas are left out."""

HALF_TURN_DEG = 180.0
"""Below this arc an ellipse says nothing about a circle's true shape."""

_SUBSETS = 400
_JUDGES = 2_000
_SEED = 20_260_312


@dataclass(frozen=True, slots=True, kw_only=True)
class CircleFit:
    """A circle through points, or one of several about the same centre.

    Parameters
    ----------
    x_m, y_m, radius_m : float
        Centre and radius. [m]
    center_se_m : float
        Standard error of the centre: root of the sum of both axes' variances. [m]
    radius_se_m : float
        Standard error of the radius. [m]
    arc_deg : float
        Part of the turn the points cover: 360 less the widest gap between them. [deg]
    rms_m : float
        Root mean square distance of the points used from the circle. [m]
    semi_major_m, semi_minor_m : float or None
        Half axes of the ellipse through the same points; None below half a turn or six points. [m]
    major_azimuth_deg : float or None
        Bearing of the longer axis, 0 <= bearing < 180. [deg]
    points, outliers : int
        Points given; points left out as beyond four robust sigmas.
    used : ndarray of bool, shape (points,)
        Which points were used.
    """

    x_m: float
    y_m: float
    radius_m: float
    center_se_m: float
    radius_se_m: float
    arc_deg: float
    rms_m: float
    semi_major_m: float | None
    semi_minor_m: float | None
    major_azimuth_deg: float | None
    points: int
    outliers: int
    used: NDArray[np.bool_]


def fit_circle(x: ArrayLike, y: ArrayLike, *, sigma_m: float | None = None) -> CircleFit:
    """Return the circle that lies closest to the points, bad ones left out.

    Parameters
    ----------
    x, y : array_like, shape (n,)
        Points, three or more. [m]
    sigma_m : float or None, default None
        One-axis error of a point, used for the errors when it is larger than the scatter shows. [m]

    Returns
    -------
    CircleFit
        The circle, its errors and how it was found.

    Raises
    ------
    GeometryError
        If there are fewer than three different points, or they lie on a straight line.

    Notes
    -----
    Minimises the sum of squared distances to the circle (not an algebraic stand-in, which
    shrinks circles seen on a short arc). Points of one drive share slow GPS drift, which the
    scatter does not show; `sigma_m` puts a floor under the errors for that reason.

    Examples
    --------
    >>> turn = np.radians(np.arange(0, 360, 30))
    >>> fit = fit_circle(5 + 100 * np.sin(turn), 7 + 100 * np.cos(turn))
    >>> round(fit.x_m, 6), round(fit.y_m, 6), round(fit.radius_m, 6)
    (5.0, 7.0, 100.0)
    """
    return fit_concentric([(x, y)], sigma_m=sigma_m)[0]


def fit_concentric(
    tracks: Sequence[tuple[ArrayLike, ArrayLike]], *, sigma_m: float | None = None
) -> tuple[CircleFit, ...]:
    """Return one circle per track, all about one common centre.

    Wheel tracks of one machine share the pivot point, so together they fix it better than
    any one of them alone.

    Parameters
    ----------
    tracks : sequence of (x, y)
        Points of each track. [m]
    sigma_m : float or None, default None
        One-axis error of a point; see `fit_circle`. [m]

    Returns
    -------
    tuple of CircleFit
        One per track, in the order given; they share centre and centre error.

    Raises
    ------
    GeometryError
        If a track has fewer than three different points or is straight.
    """
    points = [_clean(x, y, index) for index, (x, y) in enumerate(tracks)]
    xy = np.vstack(points)
    track = np.repeat(np.arange(len(points)), [len(part) for part in points])
    start = _robust_start(points)
    used = _inliers(xy, track, start)
    solution = start
    for _ in range(20):
        solution = _solve(xy[used], track[used], solution)
        again = _inliers(xy, track, solution)
        if np.array_equal(again, used):
            break
        used = again
    return _fits(xy, track, used, solution, sigma_m)


def _clean(x: ArrayLike, y: ArrayLike, index: int) -> NDArray[np.float64]:
    xy = np.column_stack([np.asarray(x, float), np.asarray(y, float)])
    xy = xy[np.isfinite(xy).all(axis=1)]
    different = np.unique(np.round(xy, 6), axis=0)
    if len(different) < 3:
        message = (
            f"circle fit, track {index + 1}: found {len(different)} different points; allowed: three or "
            "more, spread round as much of the circle as you can drive"
        )
        raise GeometryError(message)
    centred = different - different.mean(axis=0)
    spread = np.linalg.svd(centred, compute_uv=False)
    if spread[1] <= 1e-9 * spread[0]:
        message = (
            f"circle fit, track {index + 1}: found points on one straight line; allowed: points on an arc"
        )
        raise GeometryError(message)
    return xy


def _circles_through(triples: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return centre and radius of the circle through each triple, shape (n, 3, 2) to (n, 3)."""
    a, b, c = triples[:, 0], triples[:, 1], triples[:, 2]
    ab, ac = b - a, c - a
    twice_area = 2 * (ab[:, 0] * ac[:, 1] - ab[:, 1] * ac[:, 0])
    with np.errstate(divide="ignore", invalid="ignore"):
        ab2, ac2 = (ab**2).sum(axis=1), (ac**2).sum(axis=1)
        x = (ac[:, 1] * ab2 - ab[:, 1] * ac2) / twice_area
        y = (ab[:, 0] * ac2 - ac[:, 0] * ab2) / twice_area
    return np.column_stack([a[:, 0] + x, a[:, 1] + y, np.hypot(x, y)])


def _robust_start(points: list[NDArray[np.float64]]) -> NDArray[np.float64]:
    """Return (x, y, r1, r2, ...) by least median of squares over random triples of the longest track."""
    longest = max(points, key=len)
    # A logger on the machine writes a day of points; some of them tell as much about the middle.
    longest = longest[:: max(1, len(longest) // _JUDGES)]
    rng = np.random.default_rng(_SEED)
    triples = longest[np.array([rng.choice(len(longest), 3, replace=False) for _ in range(_SUBSETS)])]
    circles = _circles_through(triples)
    circles = circles[np.isfinite(circles).all(axis=1)]
    if not len(circles):
        message = "circle fit: found points on one straight line; allowed: points on an arc"
        raise GeometryError(message)
    off = np.abs(
        np.hypot(longest[None, :, 0] - circles[:, :1], longest[None, :, 1] - circles[:, 1:2]) - circles[:, 2:]
    )
    centre = circles[np.argmin(np.median(off, axis=1)), :2]
    radii = [float(np.median(np.hypot(*(part - centre).T))) for part in points]
    return np.array([*centre, *radii])


def _distances(
    xy: NDArray[np.float64], track: NDArray[np.int64], circle: NDArray[np.float64]
) -> NDArray[np.float64]:
    return np.asarray(np.hypot(xy[:, 0] - circle[0], xy[:, 1] - circle[1]) - circle[2 + track])


def _inliers(
    xy: NDArray[np.float64], track: NDArray[np.int64], circle: NDArray[np.float64]
) -> NDArray[np.bool_]:
    off = np.abs(_distances(xy, track, circle))
    # 1.4826 x median absolute deviation is sigma for normal errors; the floor keeps exact data whole.
    robust_sigma = max(1.4826 * float(np.median(off)), 1e-6 * float(circle[2:].max()))
    keep = off <= OUTLIER_SIGMAS * robust_sigma
    for index in range(len(circle) - 2):
        mine = track == index
        if keep[mine].sum() < 3:
            keep[mine] = True
    return np.asarray(keep)


def _solve(
    xy: NDArray[np.float64], track: NDArray[np.int64], start: NDArray[np.float64]
) -> NDArray[np.float64]:
    def jacobian(circle: NDArray[np.float64]) -> NDArray[np.float64]:
        return _jacobian(xy, track, circle)

    result = least_squares(
        lambda circle: _distances(xy, track, circle),
        start,
        jac=jacobian,
        x_scale="jac",
        xtol=1e-14,
        ftol=1e-14,
        gtol=1e-14,
    )
    return np.asarray(result.x)


def _jacobian(
    xy: NDArray[np.float64], track: NDArray[np.int64], circle: NDArray[np.float64]
) -> NDArray[np.float64]:
    dx, dy = circle[0] - xy[:, 0], circle[1] - xy[:, 1]
    distance = np.maximum(np.hypot(dx, dy), 1e-12)
    slopes = np.zeros((len(xy), len(circle)))
    slopes[:, 0], slopes[:, 1] = dx / distance, dy / distance
    slopes[np.arange(len(xy)), 2 + track] = -1.0
    return slopes


def _fits(
    xy: NDArray[np.float64],
    track: NDArray[np.int64],
    used: NDArray[np.bool_],
    circle: NDArray[np.float64],
    sigma_m: float | None,
) -> tuple[CircleFit, ...]:
    off = _distances(xy[used], track[used], circle)
    freedom = len(off) - len(circle)
    sigma = float(np.sqrt((off**2).sum() / freedom)) if freedom > 0 else 0.0
    sigma = max(sigma, sigma_m or 0.0)
    slopes = _jacobian(xy[used], track[used], circle)
    covariance = sigma**2 * np.linalg.pinv(slopes.T @ slopes)
    center_se = float(np.sqrt(covariance[0, 0] + covariance[1, 1]))
    fits = []
    for index in range(len(circle) - 2):
        mine, kept = track == index, used & (track == index)
        own = off[track[used] == index]
        turn = azimuth_deg(xy[kept, 0] - circle[0], xy[kept, 1] - circle[1])
        arc = arc_covered_deg(turn)
        axes = (
            _axes(xy[kept], circle[[0, 1, 2 + index]]) if arc >= HALF_TURN_DEG and kept.sum() >= 6 else None
        )
        fits.append(
            CircleFit(
                x_m=float(circle[0]),
                y_m=float(circle[1]),
                radius_m=float(circle[2 + index]),
                center_se_m=center_se,
                radius_se_m=float(np.sqrt(covariance[2 + index, 2 + index])),
                arc_deg=arc,
                rms_m=float(np.sqrt((own**2).mean())),
                semi_major_m=None if axes is None else axes[0],
                semi_minor_m=None if axes is None else axes[1],
                major_azimuth_deg=None if axes is None else axes[2],
                points=int(mine.sum()),
                outliers=int(mine.sum() - kept.sum()),
                used=used[mine],
            )
        )
    return tuple(fits)


def arc_covered_deg(bearings_deg: ArrayLike) -> float:
    """Return the part of the turn that bearings cover: 360 less the widest gap [deg].

    Parameters
    ----------
    bearings_deg : array_like, shape (n,)
        Bearings, one or more. [deg]

    Returns
    -------
    float
        Arc covered, 0 for a single bearing. [deg]

    Examples
    --------
    >>> arc_covered_deg([350, 10, 40])
    50.0
    """
    turn = np.sort(np.asarray(bearings_deg, float) % 360.0)
    gaps = np.diff(turn, append=turn[0] + 360.0)
    return float(360.0 - gaps.max())


def _axes(xy: NDArray[np.float64], circle: NDArray[np.float64]) -> tuple[float, float, float] | None:
    """Return half axes and bearing of the longer one of the ellipse closest to the points, if one is."""
    x0, y0, radius = (float(value) for value in circle)

    def off(shape: NDArray[np.float64]) -> NDArray[np.float64]:
        # Quadratic form p u2 + 2 q u v + r v2 = 1 in units of the radius; first-order distance F / |grad F|.
        u, v = (xy[:, 0] - shape[0]) / radius, (xy[:, 1] - shape[1]) / radius
        p, q, r = shape[2:]
        form = p * u**2 + 2 * q * u * v + r * v**2 - 1
        slope = 2 * np.hypot(p * u + q * v, q * u + r * v)
        return np.asarray(radius * form / slope)

    result = least_squares(
        off, [x0, y0, 1.0, 0.0, 1.0], x_scale=[radius, radius, 1, 1, 1], xtol=1e-14, ftol=1e-14, gtol=1e-14
    )
    p, q, r = result.x[2:]
    values, vectors = np.linalg.eigh(np.array([[p, q], [q, r]]))
    if values[0] <= 0:
        # Points that follow no circle may suit a hyperbola best.
        return None
    major, minor = radius / np.sqrt(values[0]), radius / np.sqrt(values[1])
    bearing = float(azimuth_deg(vectors[0, 0], vectors[1, 0])) % 180.0
    # 179.9999999 and 0 are the same axis; say 0.
    return float(major), float(minor), 0.0 if 180.0 - bearing < 1e-6 else bearing

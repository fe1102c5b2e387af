"""What a row of catch cans says: how even, what was left out, which cans stand out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ringrow.errors import DomainError
from ringrow.water.uniformity import christiansen_cu_pct, heermann_hein_cu_pct, low_quarter_du_pct

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

FIX_SHARE = 0.20
"""Departure of one can from the mean that a Michigan evaluation service says to fix [-]."""

LOW_SHARE = 0.80
"""Neighbours of a dry can below this share of the mean count as low [-] (our choice)."""

UNEVEN_SHARE = 0.10
"""Spacings that differ by more than this are called uneven [-] (our choice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Can:
    """One can.

    Parameters
    ----------
    name : str
        Its number or row.
    distance_m : float or None
        Distance from the pivot point. [m]
    depth_mm : float or None
        Depth caught; None when it was not read. [mm]
    """

    name: str
    distance_m: float | None
    depth_mm: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class CatchResult:
    """How even a row of cans is.

    Parameters
    ----------
    cans : tuple of Can
        Cans that count, by distance where they have one.
    left_out : tuple of tuple of str
        Name of each can that does not count, and why.
    weighted : bool
        Whether cans count by distance: Heermann and Hein; else all alike: Christiansen.
    cu_pct, plain_cu_pct, du_pct : float
        Coefficient of uniformity; Christiansen's of the same cans; low-quarter distribution
        uniformity, weighted like the first. [%]
    mean_mm : float
        Mean depth, weighted alike. [mm]
    spacing_m : float or None
        Usual distance between cans. [m]
    uneven : bool
        Whether the cans stand at uneven distances, which the weighting does not allow for.
    off : tuple of Can
        Cans more than 20 % from the mean.
    dry : tuple of Can
        Cans that caught nothing between low neighbours: one stuck or plugged outlet.
    """

    cans: tuple[Can, ...]
    left_out: tuple[tuple[str, str], ...]
    weighted: bool
    cu_pct: float
    plain_cu_pct: float
    du_pct: float
    mean_mm: float
    spacing_m: float | None
    uneven: bool
    off: tuple[Can, ...]
    dry: tuple[Can, ...]


def catch_result(cans: Sequence[Can], *, gun_from_m: float | None = None) -> CatchResult:
    """Return how even a row of cans is.

    Parameters
    ----------
    cans : sequence of Can
        The cans, in any order.
    gun_from_m : float or None, default None
        Leave out cans from this distance outward, under the end gun; None = keep them. [m]

    Returns
    -------
    CatchResult
        Heermann and Hein's coefficient when every can that was read has a distance, else Christiansen's.

    Raises
    ------
    DomainError
        If fewer than two cans count, one stands at distance 0, all are empty, or cans under the
        gun are to be left out of cans without distances.

    References
    ----------
    .. [1] Michigan State University Extension, evaluation letter: cans more than 20 % off; a dry
       can between low neighbours is one stuck or plugged outlet.
    .. [2] ANSI/ASAE S436.1 (scope); J. Stamper, University of Minnesota Extension, 2016.

    Examples
    --------
    >>> cans = [Can(name=str(n), distance_m=10.0 * n, depth_mm=d) for n, d in enumerate([8, 12, 8, 12], 1)]
    >>> result = catch_result(cans)
    >>> round(result.cu_pct, 1), round(result.plain_cu_pct, 1)
    (81.5, 80.0)
    """
    counted, left_out = _sort_out(cans, gun_from_m)
    if len(counted) < 2:
        message = f"catch cans: found {len(counted)} that count; allowed: two or more"
        raise DomainError(message)
    weighted = all(can.distance_m is not None for can in counted)
    depth = np.array([can.depth_mm for can in counted], float)
    distance = np.array([can.distance_m for can in counted], float) if weighted else None
    plain = christiansen_cu_pct(depth)
    weights = np.ones(len(depth)) if distance is None else distance
    mean = float((weights * depth).sum() / weights.sum())
    places = np.sort(np.array([can.distance_m for can in cans if can.distance_m is not None], float))
    steps = np.diff(places) if weighted else np.array([])
    return CatchResult(
        cans=counted,
        left_out=left_out,
        weighted=weighted,
        cu_pct=plain if distance is None else heermann_hein_cu_pct(distance, depth),
        plain_cu_pct=plain,
        du_pct=low_quarter_du_pct(depth, distances_m=distance),
        mean_mm=mean,
        spacing_m=float(np.median(steps)) if steps.size else None,
        uneven=bool(steps.size) and float(np.ptp(steps)) > UNEVEN_SHARE * float(np.median(steps)),
        off=tuple(can for can, d in zip(counted, depth, strict=True) if abs(d - mean) > FIX_SHARE * mean),
        dry=_dry(counted, depth, mean),
    )


def _sort_out(
    cans: Sequence[Can], gun_from_m: float | None
) -> tuple[tuple[Can, ...], tuple[tuple[str, str], ...]]:
    if gun_from_m is not None and not any(can.distance_m is not None for can in cans):
        message = "catch cans: found no distances; allowed: distances, to leave out cans under the end gun"
        raise DomainError(message)
    counted, left_out = [], []
    for can in cans:
        if can.depth_mm is None:
            left_out.append((can.name, "no depth read"))
        elif gun_from_m is not None and (can.distance_m is None or can.distance_m >= gun_from_m):
            left_out.append((can.name, "under the end gun"))
        else:
            counted.append(can)
    if any(can.distance_m is None for can in counted):
        return tuple(counted), tuple(left_out)
    return tuple(sorted(counted, key=lambda can: can.distance_m or 0.0)), tuple(left_out)


def _dry(cans: Sequence[Can], depth: NDArray[np.float64], mean: float) -> tuple[Can, ...]:
    """Return the empty cans between two low neighbours; beyond the outermost can nobody looked."""
    low = np.append(np.append(False, depth < LOW_SHARE * mean), False)
    return tuple(can for n, can in enumerate(cans) if depth[n] == 0 and low[n] and low[n + 2])

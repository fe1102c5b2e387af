"""How even the water falls: catch cans under pivots and along drip."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ringrow.errors import DomainError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray


def _depths(depths: ArrayLike) -> NDArray[np.float64]:
    caught = np.asarray(depths, float)
    if caught.size < 2 or (caught < 0).any() or not caught.sum() > 0:
        message = f"catch: found {caught.size} depths; allowed: two or more, none below 0, not all 0"
        raise DomainError(message)
    return caught


def _weights(caught: NDArray[np.float64], distances_m: ArrayLike) -> NDArray[np.float64]:
    distance = np.asarray(distances_m, float)
    if distance.shape != caught.shape or not (distance > 0).all():
        message = (
            f"catch: found {distance.size} distances for {caught.size} depths; "
            "allowed: one distance above 0 a can"
        )
        raise DomainError(message)
    return distance


def heermann_hein_cu_pct(distances_m: ArrayLike, depths_mm: ArrayLike) -> float:
    r"""Return the uniformity of cans along a pivot, each weighted by its distance.

    A can far out stands for a wider ring of ground.

    .. math:: CU = 100 \left(1 - \frac{\sum r |d - m|}{\sum r d}\right), \qquad m = \frac{\sum r d}{\sum r}

    Parameters
    ----------
    distances_m : array_like, shape (n,)
        Distance of each can from the pivot point, above 0; cans evenly spaced. [m]
    depths_mm : array_like, shape (n,)
        Depth caught, 0 or more. [mm]

    Returns
    -------
    float
        Coefficient of uniformity. [%]

    Raises
    ------
    DomainError
        If there are fewer than two cans, or a number is outside its range.

    References
    ----------
    .. [1] D. F. Heermann, P. R. Hein, *Performance Characteristics of Self-Propelled Center-Pivot
       Sprinkler Irrigation System*, Trans. ASAE 11(1), 1968 (from memory); Utah State lectures, eq. 295.

    Examples
    --------
    >>> heermann_hein_cu_pct([100, 200, 300], [10, 10, 10])
    100.0
    """
    caught = _depths(depths_mm)
    weight = _weights(caught, distances_m)
    mean = (weight * caught).sum() / weight.sum()
    return float(100.0 * (1.0 - (weight * np.abs(caught - mean)).sum() / (weight * caught).sum()))


def christiansen_cu_pct(depths_mm: ArrayLike) -> float:
    """Return the uniformity of cans that all stand for the same area.

    Parameters
    ----------
    depths_mm : array_like, shape (n,)
        Depth caught, 0 or more. [mm]

    Returns
    -------
    float
        100 (1 - sum |d - mean| / sum d). [%]

    Raises
    ------
    DomainError
        If there are fewer than two cans, one is below 0 or all are 0.

    Examples
    --------
    >>> christiansen_cu_pct([8.0, 12.0])
    80.0
    """
    caught = _depths(depths_mm)
    return float(100.0 * (1.0 - np.abs(caught - caught.mean()).sum() / caught.sum()))


def low_quarter_du_pct(depths_mm: ArrayLike, *, distances_m: ArrayLike | None = None) -> float:
    """Return the mean of the driest quarter of the ground over the mean of all of it.

    Parameters
    ----------
    depths_mm : array_like, shape (n,)
        Depth caught, 0 or more. [mm]
    distances_m : array_like or None, default None
        Distance of each can from the pivot point; None = all cans stand for the same area. [m]

    Returns
    -------
    float
        Distribution uniformity of the low quarter. [%]

    Raises
    ------
    DomainError
        If there are fewer than two cans, or a number is outside its range.

    Notes
    -----
    The quarter is a quarter of the ground; the can on its edge counts in part.

    Examples
    --------
    >>> low_quarter_du_pct([8.0, 12.0])
    80.0
    """
    caught = _depths(depths_mm)
    weight = np.ones_like(caught) if distances_m is None else _weights(caught, distances_m)
    order = np.argsort(caught, kind="stable")
    ordered, share = caught[order], weight[order] / weight.sum()
    before = np.concatenate([[0.0], share.cumsum()[:-1]])
    counted = np.clip(0.25 - before, 0.0, share)
    return float(100.0 * (ordered * counted).sum() / 0.25 / (ordered * share).sum())

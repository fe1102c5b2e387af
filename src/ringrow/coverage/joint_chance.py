"""Whether two flags are one fault: what two blurred positions can say about it.

A second flag of like kind is either the fault that a flag before it marked already, or another
fault that may lie anywhere. How much likelier the one makes the distance between the two than the
other is an odds ratio; a stated prior turns it into a chance.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from ringrow.errors import DomainError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

REPEAT_SHARE = 0.1
"""Share of flags taken to mark again what a flag before marked, before looking where they lie [-]: our
choice, no source."""
LEAST_P_VALUE = 0.05
"""Two flags lie within their joint accuracy when fixes of one place lie as far apart this often. [-]"""


def joint_sigma_m(sigma_m: float, other_sigma_m: float) -> float:
    """Return the one-axis spread of the difference between two independent positions.

    Parameters
    ----------
    sigma_m, other_sigma_m : float
        One-axis standard deviation of each. [m]

    Returns
    -------
    float
        Root of the sum of squares. [m]

    Examples
    --------
    >>> joint_sigma_m(3.0, 4.0)
    5.0
    """
    return math.hypot(sigma_m, other_sigma_m)


def ground_p_value(distance_m: float, sigma_m: float) -> float:
    r"""Return how often two fixes of one place on the ground lie at least so far apart.

    .. math:: p = \exp\left(-\frac{d^2}{2 s^2}\right)

    Parameters
    ----------
    distance_m : float
        Distance between the fixes, 0 or more. [m]
    sigma_m : float
        Their joint one-axis spread, above 0. [m]

    Returns
    -------
    float
        Share of pairs, 0 to 1. [-]

    Raises
    ------
    DomainError
        If the spread is not above 0 or the distance below 0.

    Notes
    -----
    Circular normal errors, independent of each other. Two fixes taken within minutes by one phone
    share part of their error and lie nearer together than this says.

    Examples
    --------
    >>> round(ground_p_value(2.4477, 1.0), 3)
    0.05
    """
    _check(distance_m, sigma_m)
    return math.exp(-(distance_m**2) / (2.0 * sigma_m**2))


def pipe_p_value(distance_m: float, sigma_m: float) -> float:
    r"""Return how often two positions of one part along a pipe lie at least so far apart.

    .. math:: p = \mathrm{erfc}\left(\frac{d}{s \sqrt{2}}\right)

    Parameters
    ----------
    distance_m : float
        Distance between them along the pipe, 0 or more. [m]
    sigma_m : float
        Their joint spread along the pipe, above 0. [m]

    Returns
    -------
    float
        Share of pairs, 0 to 1. [-]

    Raises
    ------
    DomainError
        If the spread is not above 0 or the distance below 0.

    Examples
    --------
    >>> round(pipe_p_value(1.96, 1.0), 3)
    0.05
    """
    _check(distance_m, sigma_m)
    return math.erfc(distance_m / (sigma_m * math.sqrt(2.0)))


def ground_odds(distance_m: float, sigma_m: float, *, area_m2: float) -> float:
    r"""Return how much likelier one fault makes a distance than another fault anywhere in a field.

    .. math:: \Lambda = \frac{A}{2 \pi s^2} \exp\left(-\frac{d^2}{2 s^2}\right)

    Parameters
    ----------
    distance_m : float
        Distance between the fixes, 0 or more. [m]
    sigma_m : float
        Their joint one-axis spread, above 0. [m]
    area_m2 : float
        Ground on which another fault of the kind may lie, anywhere alike, above 0. [m2]

    Returns
    -------
    float
        Odds ratio, before any prior. [-]

    Raises
    ------
    DomainError
        If the spread or the area is not above 0, or the distance below 0.

    Notes
    -----
    Faults that come in nests (burrows) lie nearer together than anywhere alike; the odds are then
    too high.

    Examples
    --------
    >>> round(ground_odds(0.0, 1.0, area_m2=2000 * math.pi), 1)
    1000.0
    """
    _check_size(area_m2, "area", "m2")
    return area_m2 / (2.0 * math.pi * sigma_m**2) * ground_p_value(distance_m, sigma_m)


def pipe_odds(distance_m: float, sigma_m: float, *, length_m: float) -> float:
    r"""Return how much likelier one fault makes a distance along a pipe than another anywhere on it.

    .. math:: \Lambda = \frac{L}{\sqrt{2 \pi} s} \exp\left(-\frac{d^2}{2 s^2}\right)

    Parameters
    ----------
    distance_m : float
        Distance between the two along the pipe, 0 or more. [m]
    sigma_m : float
        Their joint spread along it, above 0. [m]
    length_m : float
        Pipe on which another fault of the kind may sit, anywhere alike, above 0. [m]

    Returns
    -------
    float
        Odds ratio, before any prior. [-]

    Raises
    ------
    DomainError
        If the spread or the length is not above 0, or the distance below 0.

    Examples
    --------
    >>> round(pipe_odds(0.0, 1.0, length_m=400.0), 1)
    159.6
    """
    _check(distance_m, sigma_m)
    _check_size(length_m, "length", "m")
    density = math.exp(-(distance_m**2) / (2.0 * sigma_m**2)) / (math.sqrt(2.0 * math.pi) * sigma_m)
    return length_m * density


def same_chances(odds: ArrayLike, *, repeat_share: float = REPEAT_SHARE) -> NDArray[np.float64]:
    r"""Return the chance that a flag marks again what each of the flags before it marked.

    .. math:: P_j = \frac{\rho \Lambda_j / m}{\rho \sum_k \Lambda_k / m + 1 - \rho}

    Parameters
    ----------
    odds : array_like, shape (m,)
        Odds ratio against each flag before it. [-]
    repeat_share : float, default 0.1
        Prior share of flags that mark something again, any of the m alike; above 0, below 1. [-]

    Returns
    -------
    ndarray of float, shape (m,)
        Chance for each; what they leave of 1 is the chance that it is a fault of its own. [-]

    Raises
    ------
    DomainError
        If the share is outside its range or an odds ratio is below 0 or not finite.

    Notes
    -----
    The more flags stand before it, the less any one nearness says: that is the m in the formula.
    Flags before it are taken as m different faults; two of them that are one share its chance
    until they are joined.

    Examples
    --------
    >>> [round(float(chance), 3) for chance in same_chances([9.0])]
    [0.5]
    """
    ratios = np.asarray(odds, float)
    if not 0.0 < repeat_share < 1.0 or not np.all(np.isfinite(ratios)) or np.any(ratios < 0):
        message = (
            f"chance of one fault: found a share of {repeat_share:g} and odds {ratios.tolist()!s:.60}; "
            "allowed: a share between 0 and 1, odds of 0 or more"
        )
        raise DomainError(message)
    if not len(ratios):
        return ratios
    weights = repeat_share * ratios / len(ratios)
    return np.asarray(weights / (weights.sum() + 1.0 - repeat_share))


def _check(distance_m: float, sigma_m: float) -> None:
    if not (sigma_m > 0 and math.isfinite(sigma_m)) or not distance_m >= 0:
        message = (
            f"two positions: found {distance_m:g} m apart with a joint spread of {sigma_m:g} m; "
            "allowed: a distance of 0 or more, a spread above 0"
        )
        raise DomainError(message)


def _check_size(size: float, what: str, unit: str) -> None:
    if not (size > 0 and math.isfinite(size)):
        message = f"{what} of another fault: found {size:g} {unit}; allowed: above 0"
        raise DomainError(message)

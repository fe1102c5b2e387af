"""Head lost to friction in pipe and tape."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
from scipy.integrate import quad

from ringrow.errors import DomainError
from ringrow.water.constants import KINEMATIC_VISCOSITY_M2_S, LAMINAR_REYNOLDS, TURBULENT_REYNOLDS

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

HAZEN_WILLIAMS_EXPONENT = 1.852
GRAVITY_M_S2 = 9.80665


def hazen_williams_loss_m(
    flow_lps: ArrayLike, *, bore_m: float, length_m: float, roughness: float = 140.0
) -> NDArray[np.float64]:
    r"""Return the head a full pipe loses by the Hazen-Williams formula.

    .. math:: h = 10.667 \, L \, q^{1.852} \, C^{-1.852} \, d^{-4.871}

    Parameters
    ----------
    flow_lps : array_like
        Flow, 0 or more. [L/s]
    bore_m, length_m : float
        Inside diameter, above 0; length. [m]
    roughness : float, default 140
        Hazen-Williams C, above 0. [-]

    Returns
    -------
    ndarray
        Head loss. [m of water]

    Raises
    ------
    DomainError
        If bore or roughness is not above 0.

    Notes
    -----
    For water in pipes of some 50 mm and more. In small tubing C = 150 comes out 19 % below
    Blasius; use `darcy_weisbach_loss_m` for tape.

    References
    ----------
    .. [1] EPANET hydraulic model as documented with the general library wntr: K = 10.667 in SI.

    Examples
    --------
    >>> loss = hazen_williams_loss_m(50.47, bore_m=0.16274, length_m=396.24, roughness=140)
    >>> round(float(loss) / 0.3048, 1)  # 800 gpm, 6.407 in, 1,300 ft: feet of head
    40.4
    """
    if not (bore_m > 0 and roughness > 0):
        message = f"pipe: found bore {bore_m:g} m, C {roughness:g}; allowed: both above 0"
        raise DomainError(message)
    flow = np.asarray(flow_lps, float) / 1000.0
    return np.asarray(
        10.667
        * length_m
        * flow**HAZEN_WILLIAMS_EXPONENT
        / (roughness**HAZEN_WILLIAMS_EXPONENT * bore_m**4.871)
    )


def friction_factor(reynolds: ArrayLike) -> NDArray[np.float64]:
    r"""Return the Darcy friction factor of smooth pipe.

    .. math:: f = 64 / Re \quad (Re < 2000), \qquad f = 0.3164 / Re^{0.25} \quad (Re > 3000)

    Parameters
    ----------
    reynolds : array_like
        Reynolds number, above 0. [-]

    Returns
    -------
    ndarray
        Friction factor; between 2,000 and 3,000 a straight line joins the two. [-]

    Notes
    -----
    Blasius holds to about Re 100,000 in smooth pipe; tape runs well below.

    References
    ----------
    .. [1] H. Blasius, 1913, as given by the general library fluids (friction.py).

    Examples
    --------
    >>> float(friction_factor(10_000.0))
    0.03164
    """
    re = np.maximum(np.asarray(reynolds, float), 1e-9)
    laminar, turbulent = 64.0 / re, 0.3164 / re**0.25
    low, high = 64.0 / LAMINAR_REYNOLDS, 0.3164 / TURBULENT_REYNOLDS**0.25
    share = (re - LAMINAR_REYNOLDS) / (TURBULENT_REYNOLDS - LAMINAR_REYNOLDS)
    between = low + (high - low) * share
    return np.where(re <= LAMINAR_REYNOLDS, laminar, np.where(re >= TURBULENT_REYNOLDS, turbulent, between))


def darcy_weisbach_loss_m(
    flow_lps: ArrayLike,
    *,
    bore_m: float,
    length_m: ArrayLike,
    viscosity_m2_s: float = KINEMATIC_VISCOSITY_M2_S,
) -> NDArray[np.float64]:
    r"""Return the head smooth pipe loses by Darcy and Weisbach.

    .. math:: h = f \frac{L}{d} \frac{v^2}{2 g}

    Parameters
    ----------
    flow_lps : array_like
        Flow; a negative flow loses head the other way. [L/s]
    bore_m : float
        Inside diameter, above 0. [m]
    length_m : array_like
        Length. [m]
    viscosity_m2_s : float, default 1.004e-6
        Kinematic viscosity of the water. [m2/s]

    Returns
    -------
    ndarray
        Head loss, with the sign of the flow. [m of water]

    Raises
    ------
    DomainError
        If the bore is not above 0.

    Examples
    --------
    >>> round(float(darcy_weisbach_loss_m(0.1, bore_m=0.022, length_m=100.0)), 3)
    0.582
    """
    if not bore_m > 0:
        message = f"pipe: found bore {bore_m:g} m; allowed: above 0"
        raise DomainError(message)
    flow = np.asarray(flow_lps, float) / 1000.0
    speed = flow / (np.pi / 4 * bore_m**2)
    factor = friction_factor(np.abs(speed) * bore_m / viscosity_m2_s)
    return np.asarray(
        factor * np.asarray(length_m, float) / bore_m * speed * np.abs(speed) / (2 * GRAVITY_M_S2)
    )


def multiple_outlet_factor(outlets: int, *, exponent: float = HAZEN_WILLIAMS_EXPONENT) -> float:
    r"""Return Christiansen's friction factor for a pipe with equal, evenly spaced outlets.

    A lateral that gives off water along its length loses less head than the same pipe carrying
    all the flow to the end. Multiply the full-flow loss by this.

    .. math:: F = \frac{1}{m + 1} + \frac{1}{2N} + \frac{\sqrt{m - 1}}{6N^2}

    Parameters
    ----------
    outlets : int
        Number of outlets, N, at least 1; the first one full spacing from the inlet. [-]
    exponent : float, default 1.852
        Exponent of flow, m, in the head-loss formula, at least 1. [-]

    Returns
    -------
    float
        Loss of the lateral over loss at full flow. [-]

    Raises
    ------
    DomainError
        If `outlets` or `exponent` is below 1.

    References
    ----------
    .. [1] J. E. Christiansen, *Irrigation by Sprinkling*, Bulletin 670, California Agricultural
       Experiment Station, Berkeley, 1942 (from memory).

    Examples
    --------
    >>> multiple_outlet_factor(10)
    0.402
    """
    if outlets < 1 or exponent < 1:
        message = (
            f"multiple outlets: found {outlets} outlets, exponent {exponent:g}; allowed: 1 or more of each"
        )
        raise DomainError(message)
    return 1 / (exponent + 1) + 1 / (2 * outlets) + math.sqrt(exponent - 1) / (6 * outlets**2)


def pivot_lateral_factor(
    *, exponent: float = HAZEN_WILLIAMS_EXPONENT, length_m: float = 1.0, wetted_radius_m: float | None = None
) -> float:
    r"""Return the friction factor of a pivot's lateral, whose outlets grow with distance.

    Flow left at distance r is that of the ground farther out, so it falls with the square of
    the distance.

    .. math:: F = \int_0^1 \left(1 - (k x)^2\right)^m dx, \qquad k = L / R

    Parameters
    ----------
    exponent : float, default 1.852
        Exponent of flow, m, in the head-loss formula, at least 1. [-]
    length_m : float, default 1
        Pipe length, L. [m]
    wetted_radius_m : float or None, default None
        Radius the flow is spread over, R, when an end gun waters past the pipe; None = L. [m]

    Returns
    -------
    float
        Loss of the lateral over loss at full flow: 0.548 for m = 1.852 without a gun. [-]

    Raises
    ------
    DomainError
        If the exponent is below 1, or the wetted radius is less than the length.

    Notes
    -----
    Outlets without number; with 50 outlets 0.554, the handbook's 0.555. The 0.543 often
    quoted belongs to m = 1.9.

    References
    ----------
    .. [1] S. C. Chu, D. L. Moe, *Hydraulics of a Center Pivot System*, Trans. ASAE 15(5), 1972 (from memory).

    Examples
    --------
    >>> pivot_lateral_factor(), pivot_lateral_factor(exponent=1.9), pivot_lateral_factor(exponent=2.0)
    (0.548, 0.543, 0.533)
    """
    radius = length_m if wetted_radius_m is None else wetted_radius_m
    if exponent < 1 or not 0 < length_m <= radius:
        message = (
            f"pivot lateral: found exponent {exponent:g}, length {length_m:g} m, wetted radius {radius:g} m; "
            "allowed: exponent 1 or more, length above 0 and no more than the wetted radius"
        )
        raise DomainError(message)
    k = length_m / radius
    return float(quad(lambda x: (1 - (k * x) ** 2) ** exponent, 0, 1)[0])

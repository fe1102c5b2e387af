"""Emitters and tape: flow at a pressure, uniformity, depth over an area."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ringrow.errors import DomainError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray


def emitter_flow_lps(
    pressure_kpa: ArrayLike, *, flow_lps: float, at_pressure_kpa: float, exponent: float = 0.5
) -> NDArray[np.float64]:
    r"""Return what an emitter gives at a pressure, from what it gives at another.

    The flow of an emitter follows a power of pressure; one known pair fixes the constant.

    .. math:: q = q_0 (P / P_0)^x

    Parameters
    ----------
    pressure_kpa : array_like
        Pressure at the emitter; below 0 counts as 0. [kPa]
    flow_lps, at_pressure_kpa : float
        Flow at the stated pressure, both above 0. [L/s, kPa]
    exponent : float, default 0.5
        Emitter exponent x, 0 to 1: 0 compensating, 0.5 fully turbulent, 1 laminar. [-]

    Returns
    -------
    ndarray
        Flow at each pressure. [L/s]

    Raises
    ------
    DomainError
        If flow or pressure is not above 0 or the exponent is outside 0 to 1.

    References
    ----------
    .. [1] J. Keller, R. D. Bliesner, *Sprinkle and Trickle Irrigation*, 1990 (from memory).

    Examples
    --------
    >>> float(emitter_flow_lps(12.0, flow_lps=0.22, at_pressure_kpa=8.0))
    0.2694
    """
    if not (flow_lps > 0 and at_pressure_kpa > 0 and 0 <= exponent <= 1):
        message = (
            f"emitter: found flow {flow_lps:g} L/s at {at_pressure_kpa:g} kPa, exponent {exponent:g}; "
            "allowed: flow and pressure above 0, exponent 0 to 1"
        )
        raise DomainError(message)
    share = np.maximum(np.asarray(pressure_kpa, float), 0.0) / at_pressure_kpa
    # A compensating emitter (x = 0) still gives nothing without pressure.
    return np.asarray(np.where(share > 0, flow_lps * share**exponent, 0.0))


def label_emitter_lps(flow_lps_per_m: float, emitter_spacing_m: float) -> float:
    """Return the flow of one emitter from the flow printed on the roll.

    Labels state the flow of a length of tape, such as gpm per 100 ft; each emitter gives its
    own spacing's share of it.

    Parameters
    ----------
    flow_lps_per_m : float
        Flow of a metre of tape, above 0. [L/s/m]
    emitter_spacing_m : float
        Distance between emitters, above 0. [m]

    Returns
    -------
    float
        Flow at the label's pressure. [L/s]

    Raises
    ------
    DomainError
        If a number is not above 0.

    Examples
    --------
    >>> gpm_lps, foot_m = 0.0630902, 0.3048
    >>> emitter = label_emitter_lps(0.67 * gpm_lps / (100 * foot_m), 8 * 0.0254)
    >>> round(emitter / gpm_lps * 60, 3)  # 0.67 gpm per 100 ft, 8 in apart: gph
    0.268
    """
    if not (flow_lps_per_m > 0 and emitter_spacing_m > 0):
        message = (
            f"tape label: found {flow_lps_per_m:g} L/s a metre, emitters every {emitter_spacing_m:g} m; "
            "allowed: both above 0"
        )
        raise DomainError(message)
    return flow_lps_per_m * emitter_spacing_m


def hours_for_depth(rate_mm_per_h: float, *, depth_mm: float = 25.4) -> float:
    """Return how long a depth takes to put on.

    Parameters
    ----------
    rate_mm_per_h : float
        Application rate, above 0. [mm/h]
    depth_mm : float, default 25.4
        Depth wanted, 0 or more; one inch when left out. [mm]

    Returns
    -------
    float
        Hours; nothing is added for losses. [h]

    Raises
    ------
    DomainError
        If the rate is not above 0 or the depth below 0.

    Examples
    --------
    >>> round(hours_for_depth(25.4 * 0.0424), 1)
    23.6
    """
    if not rate_mm_per_h > 0 or depth_mm < 0:
        message = (
            f"hours for a depth: found {rate_mm_per_h:g} mm/h, {depth_mm:g} mm; "
            "allowed: rate above 0, depth 0 or more"
        )
        raise DomainError(message)
    return depth_mm / rate_mm_per_h


def application_rate_mm_per_h(flow_lps: float, area_m2: float) -> float:
    """Return the depth a flow puts on an area in an hour.

    Parameters
    ----------
    flow_lps : float
        Flow, 0 or more. [L/s]
    area_m2 : float
        Area it is spread over, above 0. [m2]

    Returns
    -------
    float
        Rate; one litre on one square metre is one millimetre. [mm/h]

    Raises
    ------
    DomainError
        If the flow is below 0 or the area not above 0.

    Examples
    --------
    >>> round(application_rate_mm_per_h(18.3215, 61315.3) / 25.4, 4)  # 290.4 gpm on 660,000 ft2, in/h
    0.0424
    """
    if flow_lps < 0 or not area_m2 > 0:
        message = f"rate: found {flow_lps:g} L/s on {area_m2:g} m2; allowed: flow 0 or more, area above 0"
        raise DomainError(message)
    return flow_lps * 3600.0 / area_m2


def flow_variation_pct(flow_lps: ArrayLike) -> float:
    """Return how far the weakest emitter falls behind the strongest.

    Parameters
    ----------
    flow_lps : array_like, shape (n,)
        Flows along a lateral or over a zone, one or more, the largest above 0. [L/s]

    Returns
    -------
    float
        100 (1 - qmin / qmax). [%]

    Raises
    ------
    DomainError
        If there is no flow.

    Examples
    --------
    >>> flow_variation_pct([0.9, 1.0])
    10.0
    """
    flows = np.asarray(flow_lps, float)
    if not flows.size or not flows.max() > 0:
        message = "flow variation: found no flow; allowed: one or more emitter flows, the largest above 0"
        raise DomainError(message)
    return float(100.0 * (1.0 - flows.min() / flows.max()))


def emission_uniformity_pct(flow_lps: ArrayLike, *, cv: float, emitters_per_plant: float = 1.0) -> float:
    r"""Return the design emission uniformity of Keller and Karmeli.

    How even the water is, counting both pressure loss along the tape and how unlike the
    emitters were made.

    .. math:: EU = 100 \left(1 - 1.27 \frac{CV}{\sqrt{n}}\right) \frac{q_{min}}{q_{avg}}

    Parameters
    ----------
    flow_lps : array_like, shape (n,)
        Emitter flows from pressure alone. [L/s]
    cv : float
        Manufacturing coefficient of variation, 0 or more. [-]
    emitters_per_plant : float, default 1
        Emitters that share a plant, n, 1 or more. [-]

    Returns
    -------
    float
        Emission uniformity. [%]

    Raises
    ------
    DomainError
        If there is no flow, `cv` is below 0 or `emitters_per_plant` below 1.

    Notes
    -----
    Statistical forms printed elsewhere come out 5 to 8 % higher (Barragan and others 2006).

    References
    ----------
    .. [1] J. Keller, D. Karmeli, *Trickle Irrigation Design Parameters*, Trans. ASAE 17(4), 1974;
       ASAE EP405 (from memory).

    Examples
    --------
    >>> emission_uniformity_pct([0.90, 1.00, 1.10], cv=0.07, emitters_per_plant=4)
    86.0
    """
    flows = np.asarray(flow_lps, float)
    if not flows.size or not flows.mean() > 0 or cv < 0 or emitters_per_plant < 1:
        message = (
            f"emission uniformity: found {flows.size} flows, cv {cv:g}, {emitters_per_plant:g} emitters "
            "a plant; allowed: flows above 0, cv 0 or more, emitters 1 or more"
        )
        raise DomainError(message)
    made = 1.0 - 1.27 * cv / np.sqrt(emitters_per_plant)
    return float(100.0 * made * flows.min() / flows.mean())

"""Water of a centre pivot: outlets, depth, hours, rate, capacity."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import hyp2f1

from ringrow.errors import DomainError
from ringrow.water.constants import KPA_PER_M
from ringrow.water.friction import HAZEN_WILLIAMS_EXPONENT, hazen_williams_loss_m

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray


def _check(thing: str, **values: float) -> None:
    bad = {name: value for name, value in values.items() if not value > 0}
    if bad:
        found = ", ".join(f"{name} {value:g}" for name, value in bad.items())
        message = f"{thing}: found {found}; allowed: above 0"
        raise DomainError(message)


def outlet_flows_lps(
    distances_m: ArrayLike, *, flow_lps: float, base_radius_m: float, first_edge_m: float = 0.0
) -> NDArray[np.float64]:
    """Return the design flow of each outlet: its share of the ground under the base circle.

    Farther out an outlet waters a wider ring, so its flow grows with distance.

    Parameters
    ----------
    distances_m : array_like, shape (n,)
        Distances of the outlets from the pivot point, rising. [m]
    flow_lps : float
        Flow of all outlets together: the machine's flow less the end gun's. [L/s]
    base_radius_m : float
        Base radius, no less than the last distance. [m]
    first_edge_m : float, default 0
        Inner edge of the first outlet's ring. [m]

    Returns
    -------
    ndarray, shape (n,)
        Flow of each outlet: flow times ring area over base circle area. [L/s]

    Raises
    ------
    DomainError
        If flow or radius is not above 0 or the distances do not rise within the radius.

    Notes
    -----
    Rings run from midpoint to midpoint, the last one to the base radius. For even spacing S far
    from the ends this is the handbook's q = 2 r S Q / R^2.

    References
    ----------
    .. [1] G. Merkley, R. Allen, Utah State University sprinkle lectures, lecture 13 (flow
       proportional to distance).

    Examples
    --------
    >>> flows = outlet_flows_lps(np.arange(5, 1300, 10.0), flow_lps=800.0, base_radius_m=1300.0)
    >>> round(float(flows.sum()), 6), round(float(flows[-1]), 2)
    (800.0, 12.26)
    """
    distance = np.asarray(distances_m, float)
    _check("outlets", flow_lps=flow_lps, base_radius_m=base_radius_m)
    rising = distance.size > 0 and bool((np.diff(distance) > 0).all())
    if not rising or distance[0] < first_edge_m or distance[-1] > base_radius_m:
        message = (
            f"outlets: found {distance.size} distances that do not rise from {first_edge_m:g} m to the base "
            f"radius of {base_radius_m:g} m; allowed: rising distances within it"
        )
        raise DomainError(message)
    edges = np.concatenate([[first_edge_m], (distance[1:] + distance[:-1]) / 2, [base_radius_m]])
    return np.asarray(flow_lps * np.diff(edges**2) / base_radius_m**2)


def gun_share_lps(flow_lps: float, *, base_radius_m: float, gun_radius_m: float) -> float:
    """Return the flow an end gun takes when it waters its ring as deep as the rest of the circle.

    Parameters
    ----------
    flow_lps : float
        Flow of the machine with the gun on, above 0. [L/s]
    base_radius_m, gun_radius_m : float
        Wetted radius without and with the gun, above 0, the second no less than the first. [m]

    Returns
    -------
    float
        Flow times the ring's share of the whole circle. [L/s]

    Raises
    ------
    DomainError
        If a number is outside its range.

    Examples
    --------
    >>> round(gun_share_lps(800.0, base_radius_m=1300.0, gun_radius_m=1380.0), 1)
    90.1
    """
    _check("end gun", flow_lps=flow_lps, base_radius_m=base_radius_m, gun_radius_m=gun_radius_m)
    if gun_radius_m < base_radius_m:
        message = (
            f"end gun: found a radius of {gun_radius_m:g} m inside the base radius of {base_radius_m:g} m; "
            "allowed: no less than it"
        )
        raise DomainError(message)
    return flow_lps * (1.0 - (base_radius_m / gun_radius_m) ** 2)


def pipe_losses_kpa(
    distances_m: ArrayLike,
    *,
    flow_lps: float,
    gun_lps: float = 0.0,
    bore_m: float,
    length_m: float,
    base_radius_m: float,
    roughness: float = 140.0,
) -> NDArray[np.float64]:
    r"""Return the pressure a pivot's pipe loses between the pivot point and each distance.

    Flow left in the pipe falls with the square of the distance, since each outlet waters a ring.

    .. math:: p(r) = h_{100} \frac{r}{L} \; {}_2F_1\left(-m, \tfrac12; \tfrac32; (r/R)^2\right)

    Parameters
    ----------
    distances_m : array_like, shape (n,)
        Distances from the pivot point, 0 to the pipe length. [m]
    flow_lps : float
        Flow of the machine, above 0. [L/s]
    gun_lps : float, default 0
        What of it goes to the gun at the pipe end, 0 or more and below the flow. [L/s]
    bore_m, length_m, base_radius_m : float
        Inside diameter and length of the pipe; wetted radius without the gun, no less than the
        length. [m]
    roughness : float, default 140
        Hazen-Williams C, above 0. [-]

    Returns
    -------
    ndarray, shape (n,)
        Loss; its last value at the pipe length is the whole pipe's. [kPa]

    Raises
    ------
    DomainError
        If a number is outside its range.

    Notes
    -----
    Exact integral of Hazen-Williams along the pipe, outlets without number, level ground, one
    bore. At the end it is full-flow loss times `pivot_lateral_factor`, 0.548 without throw or gun.

    References
    ----------
    .. [1] S. C. Chu, D. L. Moe, *Hydraulics of a Center Pivot System*, Trans. ASAE 15(5), 1972 (from memory).

    Examples
    --------
    >>> loss = pipe_losses_kpa([0, 396.24], flow_lps=50.47, bore_m=0.16274, length_m=396.24,
    ...                        base_radius_m=396.24)
    >>> (loss / 6.894757).round(1)  # 800 gpm, 6.407 in, 1,300 ft: psi
    array([0. , 9.6])
    """
    distance = np.asarray(distances_m, float)
    _check("pivot pipe", flow_lps=flow_lps, length_m=length_m, base_radius_m=base_radius_m)
    inside = distance.size == 0 or (distance.min() >= 0 and distance.max() <= length_m * (1 + 1e-9))
    if not inside or base_radius_m < length_m or not 0 <= gun_lps < flow_lps:
        message = (
            f"pivot pipe: found length {length_m:g} m, base radius {base_radius_m:g} m, gun {gun_lps:g} of "
            f"{flow_lps:g} L/s; allowed: distances within the pipe, a base radius no less than it, a gun "
            "that takes less than all"
        )
        raise DomainError(message)
    whole = hazen_williams_loss_m(flow_lps, bore_m=bore_m, length_m=1.0, roughness=roughness)
    # Flow left at r is Q (1 - (r/R)^2) with this R; with a gun it lies past the base radius.
    k2 = (1.0 - gun_lps / flow_lps) / base_radius_m**2
    left = distance * hyp2f1(-HAZEN_WILLIAMS_EXPONENT, 0.5, 1.5, k2 * distance**2)
    return np.asarray(whole * left * KPA_PER_M)


def depth_per_turn_mm(flow_lps: float, hours: float, area_m2: float) -> float:
    """Return the gross depth of one turn.

    Parameters
    ----------
    flow_lps : float
        Flow, above 0. [L/s]
    hours : float
        Hours of the turn, above 0. [h]
    area_m2 : float
        Area watered, above 0. [m2]

    Returns
    -------
    float
        Depth, nothing taken off for losses. [mm]

    Raises
    ------
    DomainError
        If a number is not above 0.

    Examples
    --------
    >>> round(depth_per_turn_mm(1000 * 0.0630902, 96.0, math.pi * (1290 * 0.3048) ** 2) / 25.4, 2)
    1.77
    """
    _check("depth per turn", flow_lps=flow_lps, hours=hours, area_m2=area_m2)
    return flow_lps * hours * 3600.0 / area_m2


def turn_hours(
    last_tower_m: float, speed_m_per_h: float, *, timer_pct: float = 100.0, sweep_deg: float = 360.0
) -> float:
    """Return how long the last tower takes to walk its turn.

    Parameters
    ----------
    last_tower_m : float
        Radius of the last tower, above 0. [m]
    speed_m_per_h : float
        Speed of the last tower while its motor runs, above 0. [m/h]
    timer_pct : float, default 100
        Percent timer: share of time the last tower runs, above 0 to 100. [%]
    sweep_deg : float, default 360
        Part of the turn walked, above 0 to 360. [deg]

    Returns
    -------
    float
        Hours. [h]

    Raises
    ------
    DomainError
        If a number is outside its range.

    Examples
    --------
    >>> round(turn_hours(1275 * 0.3048, 667.6 * 0.3048), 1)
    12.0
    """
    _check(
        "turn",
        last_tower_m=last_tower_m,
        speed_m_per_h=speed_m_per_h,
        timer_pct=timer_pct,
        sweep_deg=sweep_deg,
    )
    if timer_pct > 100 or sweep_deg > 360:
        message = (
            f"turn: found timer {timer_pct:g} %, sweep {sweep_deg:g} degrees; allowed: up to 100 %, up to 360"
        )
        raise DomainError(message)
    return 2 * math.pi * last_tower_m * sweep_deg / 360.0 / speed_m_per_h / (timer_pct / 100.0)


def daily_depth_mm(flow_lps: float, area_m2: float, *, hours_per_day: float = 24.0) -> float:
    """Return the depth a machine can put on in a day.

    Parameters
    ----------
    flow_lps : float
        Flow, above 0. [L/s]
    area_m2 : float
        Area watered, above 0. [m2]
    hours_per_day : float, default 24
        Hours it runs, above 0 to 24. [h]

    Returns
    -------
    float
        Gross depth per day. [mm/day]

    Raises
    ------
    DomainError
        If a number is outside its range.

    Examples
    --------
    >>> round(daily_depth_mm(6 * 0.0630902, 4046.856) / 25.4, 3)  # 6 gpm per acre, in/day
    0.318
    """
    if hours_per_day > 24:
        message = f"day: found {hours_per_day:g} hours; allowed: above 0 to 24"
        raise DomainError(message)
    return depth_per_turn_mm(flow_lps, hours_per_day, area_m2)


def peak_rate_mm_per_h(flow_lps: float, radius_m: float, throw_m: float) -> float:
    r"""Return the peak application rate under the outer end of a pivot.

    .. math:: AR = \frac{4}{\pi} \cdot \frac{2 Q}{R \cdot 2 r}

    Parameters
    ----------
    flow_lps : float
        Flow spread over the circle, above 0. [L/s]
    radius_m : float
        Wetted radius, R, above 0. [m]
    throw_m : float
        Throw radius of the sprinklers, r: half the width of the wetted strip, above 0. [m]

    Returns
    -------
    float
        Rate at the peak of an elliptical pattern, 4/pi times the average. [mm/h]

    Raises
    ------
    DomainError
        If a number is not above 0.

    References
    ----------
    .. [1] Mississippi State Univ. Extension form F804: AR = 122.5 Q / (R r), Q in gpm, R and r in
       feet, AR in inches per hour.

    Examples
    --------
    >>> rate = peak_rate_mm_per_h(800 * 0.0630902, 1300 * 0.3048, 26 * 0.3048)
    >>> round(rate / 25.4 * 1300 * 26 / 800, 1)
    122.5
    """
    _check("peak rate", flow_lps=flow_lps, radius_m=radius_m, throw_m=throw_m)
    # Along the outer end the flow per metre of pipe is 2 Q / R; it falls on a strip 2 r wide.
    average = 3600.0 * 2 * flow_lps / (radius_m * 2 * throw_m)
    return 4 / math.pi * average

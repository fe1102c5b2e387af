"""Holes, nozzles and open drops: what passes, and which bore passes it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ringrow.errors import DomainError
from ringrow.water.constants import KPA_PER_M
from ringrow.water.friction import GRAVITY_M_S2

HOLE_DISCHARGE = 0.60
"""Discharge coefficient of a sharp hole [-] (textbook figure for a sharp-edged orifice, from memory)."""

NOZZLE_DISCHARGE = 0.97
"""Discharge coefficient of a straight-bore nozzle [-], fitted to a published nozzle table within 2 %."""

OPEN_DROP_DISCHARGE = (0.6, 0.8)
"""Range of discharge coefficients of an open drop [-] (general range of short tubes, from memory)."""

DROP_BORE_M = 0.75 * 0.0254
"""Bore of a drop [m]: 3/4 in, common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenDrop:
    """What passes a drop whose sprinkler is gone.

    Parameters
    ----------
    low_lps, high_lps : float
        Flow with the lowest and with the highest likely discharge coefficient. [L/s]
    """

    low_lps: float
    high_lps: float


def orifice_flow_lps(bore_m: float, pressure_kpa: float, *, discharge: float = HOLE_DISCHARGE) -> float:
    r"""Return what passes a round hole at a pressure.

    .. math:: q = C_d \frac{\pi}{4} d^2 \sqrt{2 g h}

    Parameters
    ----------
    bore_m : float
        Diameter of the hole, 0 or more. [m]
    pressure_kpa : float
        Pressure behind it over pressure outside, 0 or more. [kPa]
    discharge : float, default 0.60
        Discharge coefficient, above 0 to 1. [-]

    Returns
    -------
    float
        Flow into air; soil around a hole holds it back. [L/s]

    Raises
    ------
    DomainError
        If a number is outside its range.

    References
    ----------
    .. [1] Hydraulic Institute engineering data library, theoretical discharge of nozzles:
       19.636 d2 sqrt(h) gpm with d in inches and h in feet.

    Examples
    --------
    >>> round(orifice_flow_lps(0.00635, 68.9476, discharge=1.0) * 15.8503, 2)  # 1/4 in, 10 psi: gpm
    5.9
    """
    if bore_m < 0 or pressure_kpa < 0 or not 0 < discharge <= 1:
        message = (
            f"orifice: found bore {bore_m:g} m, pressure {pressure_kpa:g} kPa, coefficient {discharge:g}; "
            "allowed: bore and pressure 0 or more, coefficient above 0 to 1"
        )
        raise DomainError(message)
    speed = np.sqrt(2 * GRAVITY_M_S2 * pressure_kpa / KPA_PER_M)
    return float(1000.0 * discharge * np.pi / 4 * bore_m**2 * speed)


def open_drop(pressure_kpa: float, *, bore_m: float = DROP_BORE_M) -> OpenDrop:
    """Return what an open drop passes: its sprinkler missing, or the drop torn off.

    Parameters
    ----------
    pressure_kpa : float
        Pressure at the outlet, 0 or more. [kPa]
    bore_m : float, default 0.01905
        Bore of the open end, 0 or more; 3/4 in when left out. [m]

    Returns
    -------
    OpenDrop
        Lowest and highest flow; what the hose and the pipe lose makes it less.

    Raises
    ------
    DomainError
        If a number is below 0.

    Examples
    --------
    >>> flow = open_drop(20 * 6.894757)
    >>> round(flow.low_lps * 15.8503, 1), round(flow.high_lps * 15.8503, 1)  # 20 psi: gpm
    (45.0, 60.0)
    """
    low, high = (orifice_flow_lps(bore_m, pressure_kpa, discharge=cd) for cd in OPEN_DROP_DISCHARGE)
    return OpenDrop(low_lps=low, high_lps=high)


def nozzle_bore_m(flow_lps: float, pressure_kpa: float, *, discharge: float = NOZZLE_DISCHARGE) -> float:
    """Return the bore of the nozzle that passes a flow at a pressure.

    Parameters
    ----------
    flow_lps : float
        Flow, 0 or more. [L/s]
    pressure_kpa : float
        Pressure at the nozzle, above 0. [kPa]
    discharge : float, default 0.97
        Discharge coefficient, above 0 to 1. [-]

    Returns
    -------
    float
        Diameter. [m]

    Raises
    ------
    DomainError
        If a number is outside its range.

    Examples
    --------
    >>> flow_lps = orifice_flow_lps(0.005, 200.0, discharge=0.97)
    >>> round(nozzle_bore_m(flow_lps, 200.0), 6)
    0.005
    """
    if flow_lps < 0 or not pressure_kpa > 0:
        message = (
            f"nozzle: found flow {flow_lps:g} L/s at {pressure_kpa:g} kPa; "
            "allowed: flow 0 or more, pressure above 0"
        )
        raise DomainError(message)
    return float(np.sqrt(flow_lps / orifice_flow_lps(1.0, pressure_kpa, discharge=discharge)))

"""Water that stands in pipe and tape, how long filling takes, and what flushing needs."""

from __future__ import annotations

import numpy as np

from ringrow.errors import DomainError

FLUSH_SPEED_M_S = 0.3048
"""Speed at the far end that carries silt out [m/s]: 1 ft/s (UC ANR, flushing of row-crop systems)."""


def pipe_volume_l(bore_m: float, length_m: float) -> float:
    """Return the water a pipe holds.

    Parameters
    ----------
    bore_m, length_m : float
        Inside diameter and length, 0 or more. [m]

    Returns
    -------
    float
        Volume. [L]

    Raises
    ------
    DomainError
        If a length is below 0.

    Examples
    --------
    >>> round(pipe_volume_l(0.015875, 30.48) / 3.785412, 2)  # 100 ft of 5/8 in: gallons
    1.59
    """
    if bore_m < 0 or length_m < 0:
        message = f"pipe: found bore {bore_m:g} m, length {length_m:g} m; allowed: 0 or more"
        raise DomainError(message)
    return float(1000.0 * np.pi / 4 * bore_m**2 * length_m)


def least_fill_min(volume_l: float, flow_lps: float) -> float:
    """Return the least time in which a flow fills a volume.

    Parameters
    ----------
    volume_l : float
        Volume, 0 or more. [L]
    flow_lps : float
        Flow into it, above 0. [L/s]

    Returns
    -------
    float
        Minutes. Emitters leak while it fills and air must get out, so it never takes less. [min]

    Raises
    ------
    DomainError
        If the volume is below 0 or the flow not above 0.

    Examples
    --------
    >>> least_fill_min(600.0, 1.0)
    10.0
    """
    if volume_l < 0 or not flow_lps > 0:
        message = f"fill: found {volume_l:g} L at {flow_lps:g} L/s; allowed: volume 0 or more, flow above 0"
        raise DomainError(message)
    return volume_l / flow_lps / 60.0


def flush_flow_lps(bore_m: float, *, speed_m_s: float = FLUSH_SPEED_M_S) -> float:
    """Return the flow that must leave the far end of a lateral to flush it.

    Parameters
    ----------
    bore_m : float
        Inside diameter, 0 or more. [m]
    speed_m_s : float, default 0.3048
        Speed at the end, 0 or more. [m/s]

    Returns
    -------
    float
        Flow at the far end; the emitters' own flow comes on top. [L/s]

    Raises
    ------
    DomainError
        If a number is below 0.

    Examples
    --------
    >>> round(flush_flow_lps(0.0254) * 15.8503, 2)  # 1 in at 1 ft/s: gpm
    2.45
    """
    if bore_m < 0 or speed_m_s < 0:
        message = f"flush: found bore {bore_m:g} m, speed {speed_m_s:g} m/s; allowed: 0 or more"
        raise DomainError(message)
    return pipe_volume_l(bore_m, speed_m_s)

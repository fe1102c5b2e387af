"""What a zone's meter and gauges say together, by published logic; never that there is no leak."""

from __future__ import annotations

from typing import Literal

from ringrow.errors import DomainError

Finding = Literal[
    "nothing seen", "break", "high flow", "clogging", "sudden clogging", "slow clogging", "supply", "unclear"
]
"""What a pattern of readings points at; the words for people stand in `handoff`."""

Change = Literal["sudden", "gradual"]
"""Whether a reading changed from one irrigation to the next, or drifted over several."""


def direction(reading: float, expected: float, *, limit: float) -> int:
    """Return whether a reading lies above, within or below what is expected.

    Parameters
    ----------
    reading, expected : float
        What was read and what was expected, in one unit. [as given]
    limit : float
        How far apart they may lie and still count as equal, 0 or more. [as given]

    Returns
    -------
    int
        1 above, 0 within, -1 below. [-]

    Raises
    ------
    DomainError
        If the limit is below 0.

    Examples
    --------
    >>> direction(260.0, 250.0, limit=5.0), direction(246.0, 250.0, limit=5.0)
    (1, 0)
    """
    if limit < 0:
        message = f"reading: found a limit of {limit:g}; allowed: 0 or more"
        raise DomainError(message)
    return (reading - expected > limit) - (expected - reading > limit)


def flow_limit_pct(limit_pct: float | None, *, meter_error_pct: float | None) -> float | None:
    """Return the difference in flow from which a reading is called high or low.

    No percentage for this is published, so it is the user's own, and never finer than the meter.

    Parameters
    ----------
    limit_pct : float or None
        The user's own limit, above 0; None when none was given. [%]
    meter_error_pct : float or None
        The meter's stated error, 0 or more; None when it is not known. [%]

    Returns
    -------
    float or None
        The larger of both; None when neither is given: then nothing is called. [%]

    Raises
    ------
    DomainError
        If a number is outside its range.

    Examples
    --------
    >>> flow_limit_pct(1.0, meter_error_pct=2.0), flow_limit_pct(None, meter_error_pct=None)
    (2.0, None)
    """
    bad_limit = limit_pct is not None and not limit_pct > 0
    if bad_limit or (meter_error_pct is not None and meter_error_pct < 0):
        message = (
            f"flow limit: found limit {limit_pct} %, meter error {meter_error_pct} %; "
            "allowed: a limit above 0, an error of 0 or more"
        )
        raise DomainError(message)
    given = [value for value in (limit_pct, meter_error_pct) if value is not None]
    return max(given) if given else None


def diagnose(
    flow: int, inlet: int | None, flush_line: int | None, *, change: Change | None = None
) -> Finding:
    """Return what flow and pressures of a zone point at together.

    Parameters
    ----------
    flow : int
        Flow against the zone as designed at its usual pressure: 1 above, 0 within, -1 below. [-]
    inlet, flush_line : int or None
        Pressure at the zone's inlet and in its flush line, likewise; None when not read. [-]
    change : {"sudden", "gradual"} or None, default None
        How it came; None when it is not known.

    Returns
    -------
    str
        The pattern that fits; ``unclear`` when none does.

    Notes
    -----
    Flow up with the flush line down: rodent or mechanical break. Flow down with both pressures
    up: clogging, sudden (biological) or slow. Flow down with both down: filter or supply side.
    Flow up otherwise: break, flush valve, too many zones on, worn outlets.

    References
    ----------
    .. [1] Kansas State SDI monitoring figure, MF-2576 and MF-2590 series (from memory).
    .. [2] Boman, Shukla, UF/IFAS Circular 1495 (CH153): causes of flow above normal.

    Examples
    --------
    >>> diagnose(1, -1, -1), diagnose(-1, 1, 1, change="gradual"), diagnose(0, 0, None)
    ('break', 'slow clogging', 'nothing seen')
    """
    if flow > 0:
        return "break" if flush_line == -1 and inlet in (None, 0, -1) else "high flow"
    if flow < 0:
        return _low_flow(inlet, flush_line, change)
    quiet = inlet in (None, 0) and flush_line in (None, 0)
    return "nothing seen" if quiet else "unclear"


def _low_flow(inlet: int | None, flush_line: int | None, change: Change | None) -> Finding:
    if inlet == flush_line == -1:
        return "supply"
    if inlet is None or flush_line is None or min(inlet, flush_line) < 0 or max(inlet, flush_line) < 1:
        return "unclear"
    if change is None:
        return "clogging"
    return "sudden clogging" if change == "sudden" else "slow clogging"

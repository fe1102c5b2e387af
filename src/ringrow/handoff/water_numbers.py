"""Water quantities in the farm's own units."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ringrow.units import GALLON_L

if TYPE_CHECKING:
    from ringrow.units import UnitSystem


def flow_of(flow_lps: float | None, units: UnitSystem) -> float | None:
    """Return a flow in gpm or L/s.

    Parameters
    ----------
    flow_lps : float or None
        The flow. [L/s]
    units : UnitSystem
        The farm's units.

    Returns
    -------
    float or None
        The same in farm units; None for None. [gpm or L/s]
    """
    return None if flow_lps is None else flow_lps / units.flow_lps


def pressure_of(pressure_kpa: float | None, units: UnitSystem) -> float | None:
    """Return a pressure in psi or kPa.

    Parameters
    ----------
    pressure_kpa : float or None
        The pressure. [kPa]
    units : UnitSystem
        The farm's units.

    Returns
    -------
    float or None
        The same in farm units; None for None. [psi or kPa]
    """
    return None if pressure_kpa is None else pressure_kpa / units.pressure_kpa


def depth_of(depth_mm: float | None, units: UnitSystem) -> float | None:
    """Return a depth of water, or a depth an hour or a day, in inches or mm.

    Parameters
    ----------
    depth_mm : float or None
        The depth. [mm]
    units : UnitSystem
        The farm's units.

    Returns
    -------
    float or None
        The same in farm units; None for None. [in or mm]

    Examples
    --------
    >>> from ringrow.units import US
    >>> depth_of(25.4, US)
    1.0
    """
    return None if depth_mm is None else depth_mm / 1000.0 / units.small_m


def volume_of(volume_l: float | None, units: UnitSystem) -> float | None:
    """Return a volume in US gallons or litres.

    Parameters
    ----------
    volume_l : float or None
        The volume. [L]
    units : UnitSystem
        The farm's units.

    Returns
    -------
    float or None
        The same in farm units; None for None. [gal or L]
    """
    if volume_l is None:
        return None
    return volume_l / GALLON_L if units.name == "us" else volume_l


def flow_per_area(flow_lps: float | None, area_m2: float, units: UnitSystem) -> float | None:
    """Return a flow over an area in gpm per acre or L/s per hectare.

    Parameters
    ----------
    flow_lps : float or None
        The flow. [L/s]
    area_m2 : float
        The area. [m2]
    units : UnitSystem
        The farm's units.

    Returns
    -------
    float or None
        The same in farm units; None for None or for no area. [gpm/acre or L/s/ha]
    """
    if flow_lps is None or not area_m2 > 0:
        return None
    return (flow_lps / units.flow_lps) / units.from_m2(area_m2)


def number_text(value: float | None, digits: int) -> str:
    """Return a number with its thousands parted, or a dash for what is not known.

    Parameters
    ----------
    value : float or None
        The number. [as in the file]
    digits : int
        Digits after the point. [-]

    Returns
    -------
    str
        The number's text.

    Examples
    --------
    >>> number_text(1234.56, 1), number_text(None, 1)
    ('1,234.6', '-')
    """
    # Adding 0.0 turns the -0.0 of a rounded rounding error into 0.0.
    return "-" if value is None else f"{round(value, digits) + 0.0:,.{digits}f}"

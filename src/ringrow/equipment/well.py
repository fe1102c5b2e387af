"""A well: where water comes from, and what has to be shut to work on it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Well:
    """A well with its power unit.

    Parameters
    ----------
    name : str
        Name, unique on the farm.
    lon, lat : float
        Position, WGS 84. [deg]
    power : str, default ""
        ``electric``, ``engine`` or empty when not said.
    serves : tuple of str, default ()
        Names of the systems it waters.
    shutoffs : str, default ""
        Where power, water and fuel are shut, in the owner's words.
    plate_v, plate_hz : float or None, default None
        Volts and frequency on the pump motor's plate. [V, Hz]
    battery_v : float or None, default None
        Volts an engine's battery is built for. [V]
    notes : str, default ""
        What the owner wants the crew to know.
    """

    name: str
    lon: float
    lat: float
    power: str = ""
    serves: tuple[str, ...] = ()
    shutoffs: str = ""
    plate_v: float | None = None
    plate_hz: float | None = None
    battery_v: float | None = None
    notes: str = ""

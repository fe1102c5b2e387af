"""What can be read off a meter or gauge, in which units, and reading a number with its unit."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ringrow.errors import DomainError
from ringrow.farm.names import find_named
from ringrow.units import FOOT_M, GALLON_L, INCH_M, PSI_KPA

if TYPE_CHECKING:
    from ringrow.equipment.checklists import Checked
    from ringrow.units import UnitSystem

_ACRE_INCH_M3 = 43_560 * FOOT_M**2 * INCH_M
_ACRE_FOOT_M3 = 43_560 * FOOT_M**3


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """Something that is measured: its key in records and its units.

    Parameters
    ----------
    key : str
        Key of the number in a record, ending in the unit it is kept in.
    factors : tuple of tuple
        Word of each unit and one of it in the unit of the key; what is kept first. [unit of the key]
    us, metric : str
        Unit in which a farm of US or of metric units sees it.
    least, most : float
        What is believed of it, in the unit of the key (our choice, wide on purpose). [unit of the key]
    """

    key: str
    factors: tuple[tuple[str, float], ...]
    us: str
    metric: str
    least: float
    most: float

    def shown_unit(self, units: UnitSystem) -> str:
        """Return the unit in which a farm sees it.

        Parameters
        ----------
        units : UnitSystem
            The farm's units.

        Returns
        -------
        str
            Such as ``psi``.
        """
        return self.us if units.name == "us" else self.metric


_VOLTS = Quantity(key="voltage_v", factors=(("V", 1.0),), us="V", metric="V", least=0, most=1000)
_LINES = Quantity(key="line_voltages_v", factors=(("V", 1.0),), us="V", metric="V", least=1, most=1000)
_AMPS = Quantity(key="current_a", factors=(("A", 1.0),), us="A", metric="A", least=0, most=2000)
_HERTZ = Quantity(key="frequency_hz", factors=(("Hz", 1.0),), us="Hz", metric="Hz", least=0, most=500)
_PRESSURE = Quantity(
    key="pressure_kpa",
    factors=(("kPa", 1.0), ("psi", PSI_KPA), ("bar", 100.0)),
    us="psi",
    metric="kPa",
    least=-100,
    most=2000,
)
_FLOW = Quantity(
    key="flow_lps",
    factors=(("L/s", 1.0), ("lps", 1.0), ("gpm", GALLON_L / 60), ("m3/h", 1 / 3.6)),
    us="gpm",
    metric="L/s",
    least=0,
    most=1000,
)
_DEPTH = Quantity(
    key="depth_mm", factors=(("mm", 1.0), ("in", INCH_M * 1000)), us="in", metric="mm", least=0, most=1000
)
_HOURS = Quantity(key="time_h", factors=(("h", 1.0),), us="h", metric="h", least=0, most=1_000_000)
# Degrees are turned by a rule of their own, see `in_kept_unit`.
_WARMTH = Quantity(
    key="temperature_c", factors=(("°C", 1.0), ("°F", 5 / 9)), us="°F", metric="°C", least=-60, most=700
)
_METER = Quantity(
    key="volume_m3",
    factors=(
        ("m3", 1.0),
        ("gal", GALLON_L / 1000),
        ("L", 0.001),
        ("ac-in", _ACRE_INCH_M3),
        ("ac-ft", _ACRE_FOOT_M3),
        ("ft3", FOOT_M**3),
    ),
    us="gal",
    metric="m3",
    least=0,
    most=1e9,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingKind:
    """One kind of reading.

    Parameters
    ----------
    id : str
        The word used in files and on the command line, such as ``end-pressure``.
    quantity : Quantity
        What it is a number of.
    on : tuple of str
        Kinds of system it is read at.
    by_zone : bool, default False
        Whether it is read of one zone.
    """

    id: str
    quantity: Quantity
    on: tuple[Checked, ...]
    by_zone: bool = False

    @property
    def count(self) -> int:
        """How many numbers it is: three line voltages, else one."""
        return 3 if self.quantity.key == "line_voltages_v" else 1


_ELECTRIC: tuple[Checked, ...] = ("well", "pivot", "lateral move")
_EVERY: tuple[Checked, ...] = ("well", "pivot", "lateral move", "drip")
_KINDS = (
    ReadingKind(id="volts", quantity=_VOLTS, on=_ELECTRIC),
    ReadingKind(id="line-volts", quantity=_LINES, on=_ELECTRIC),
    ReadingKind(id="amps", quantity=_AMPS, on=_ELECTRIC),
    ReadingKind(id="hertz", quantity=_HERTZ, on=_ELECTRIC),
    ReadingKind(id="battery-volts", quantity=_VOLTS, on=("well",)),
    ReadingKind(id="flow", quantity=_FLOW, on=_ELECTRIC),
    ReadingKind(id="pressure", quantity=_PRESSURE, on=_ELECTRIC),
    ReadingKind(id="end-pressure", quantity=_PRESSURE, on=("pivot",)),
    ReadingKind(id="filter-loss", quantity=_PRESSURE, on=("drip",)),
    ReadingKind(id="zone-flow", quantity=_FLOW, on=("drip",), by_zone=True),
    ReadingKind(id="zone-pressure", quantity=_PRESSURE, on=("drip",), by_zone=True),
    ReadingKind(id="depth", quantity=_DEPTH, on=("pivot", "lateral move", "drip")),
    ReadingKind(id="hours", quantity=_HOURS, on=_EVERY),
    ReadingKind(id="temperature", quantity=_WARMTH, on=_EVERY),
    ReadingKind(id="meter", quantity=_METER, on=_EVERY),
)
READING_KINDS: dict[str, ReadingKind] = {kind.id: kind for kind in _KINDS}
"""Every kind of reading by its word."""

_SAID_UNITS = {
    "v": "V", "volt": "V", "volts": "V", "a": "A", "amp": "A", "amps": "A", "hz": "Hz", "hertz": "Hz",
    "psi": "psi", "kpa": "kPa", "bar": "bar", "gpm": "gpm", "lps": "L/s", "l/s": "L/s", "m3/h": "m3/h",
    "in": "in", "inch": "in", "inches": "in", "mm": "mm", "h": "h", "hr": "h", "hours": "h",
    "c": "°C", "°c": "°C", "f": "°F", "°f": "°F", "gal": "gal", "gallons": "gal", "l": "L", "m3": "m3",
    "m³": "m3", "m³/h": "m3/h", "ac-in": "ac-in", "acre-inches": "ac-in", "ac-ft": "ac-ft",
    "acre-feet": "ac-ft", "ft3": "ft3", "ft³": "ft3",
}  # fmt: skip
_GROUPED = re.compile(r"[+-]?\d{1,3}(,\d{3})+(\.\d+)?")
_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)")


def reading_named(name: str, kind: Checked) -> ReadingKind:
    """Return the kind of reading that a person typed, of those a kind of system has.

    Parameters
    ----------
    name : str
        What was typed.
    kind : {"pivot", "lateral move", "drip", "well"}
        Kind of system.

    Returns
    -------
    ReadingKind
        The kind of reading.

    Raises
    ------
    PlaceError
        If there is none of that name.
    """
    own = {each.id: each for each in READING_KINDS.values() if kind in each.on}
    return find_named(own, name, what=f"reading of a {kind}", most=len(own))


def number_of(text: str, kind: ReadingKind, *, unit: str = "") -> tuple[float, ...]:
    """Return the numbers of a reading in the unit they are kept in.

    Parameters
    ----------
    text : str
        Numbers and unit as written, such as ``478 V`` or ``460 467 450 V``.
    kind : ReadingKind
        What was read.
    unit : str, default ""
        Unit where the text has none; empty = it must, unless there is only one.

    Returns
    -------
    tuple of float
        One number, or three line voltages. [unit of the key]

    Raises
    ------
    DomainError
        If a number, or the unit, is missing or cannot be.

    Examples
    --------
    >>> number_of("2.5 bar", READING_KINDS["pressure"])
    (250.0,)
    >>> number_of("460 467 450 V", READING_KINDS["line-volts"])
    (460.0, 467.0, 450.0)
    """
    match = re.fullmatch(r"(?P<numbers>[\s\d.,+-]*)(?P<unit>[^\d\s.,+-].*)?", text.strip())
    tokens = match["numbers"].replace(", ", " ").split() if match else []
    said = (match["unit"] or "").strip() if match else ""
    values = [_number(token) for token in tokens]
    if len(values) != kind.count or None in values:
        wanted = "one number" if kind.count == 1 else "three numbers, line to line"
        example = f"478 {kind.quantity.us}" if kind.count == 1 else "460 467 450 V"
        message = f'{kind.id}: found "{text[:40]}"; allowed: {wanted} and the unit, such as {example}'
        raise DomainError(message)
    name = _unit(said or unit, kind, text)
    kept = tuple(in_kept_unit(value, name, kind.quantity) for value in values if value is not None)
    for value, number in zip(kept, values, strict=True):
        if not kind.quantity.least <= value <= kind.quantity.most:
            low, high = (
                in_shown_unit(limit, name, kind.quantity)
                for limit in (kind.quantity.least, kind.quantity.most)
            )
            message = f"{kind.id}: found {number:g} {name}; allowed: {low:.6g} to {high:.6g} {name}"
            raise DomainError(message)
    return kept


def _number(token: str) -> float | None:
    plain = token.replace(",", "") if _GROUPED.fullmatch(token) else token
    value = float(plain) if _NUMBER.fullmatch(plain) else math.nan
    return value if math.isfinite(value) else None


def _unit(said: str, kind: ReadingKind, text: str) -> str:
    names = [name for name, _ in kind.quantity.factors]
    if not said and len(names) == 1:
        return names[0]
    name = _SAID_UNITS.get(said.casefold(), said)
    if name not in names:
        found = f'the unit "{said[:20]}"' if said else f'"{text[:40]}" without a unit'
        message = f"{kind.id}: found {found}; allowed: {', '.join(names)}"
        raise DomainError(message)
    return name


def in_kept_unit(value: float, unit: str, quantity: Quantity) -> float:
    """Return a number in the unit its record keeps.

    Parameters
    ----------
    value : float
        The number. [unit]
    unit : str
        Its unit, one of the quantity's.
    quantity : Quantity
        What it measures.

    Returns
    -------
    float
        The number. [unit of the key]

    Examples
    --------
    >>> round(in_kept_unit(212.0, "°F", READING_KINDS["temperature"].quantity), 6)
    100.0
    """
    factor = dict(quantity.factors)[unit]
    return (value - 32.0) * factor if unit == "°F" else value * factor


def in_shown_unit(value: float, unit: str, quantity: Quantity) -> float:
    """Return a number of a record in another unit.

    Parameters
    ----------
    value : float
        The number as kept. [unit of the key]
    unit : str
        Unit wanted, one of the quantity's.
    quantity : Quantity
        What it measures.

    Returns
    -------
    float
        The number. [unit]

    Examples
    --------
    >>> round(in_shown_unit(100.0, "°F", READING_KINDS["temperature"].quantity), 6)
    212.0
    """
    factor = dict(quantity.factors)[unit]
    return value / factor + 32.0 if unit == "°F" else value / factor

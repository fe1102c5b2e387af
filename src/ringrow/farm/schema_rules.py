"""The rules a key of a farm's files can carry: a quantity with unit and range, or a rule for text."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from difflib import get_close_matches
from typing import TYPE_CHECKING, Any
from zoneinfo import available_timezones

from pydantic_core import PydanticCustomError, core_schema

from ringrow.coverage.accuracy import parse_accuracy
from ringrow.errors import DomainError, PlaceError
from ringrow.farm.faults import meant, number_words, shown
from ringrow.geometry.angles import bearing_of_word
from ringrow.units import METRIC, US, UnitSystem

if TYPE_CHECKING:
    from collections.abc import Callable

    from pydantic import GetCoreSchemaHandler, ValidationInfo

_SI = {
    "length": "length_m",
    "small": "small_m",
    "flow": "flow_lps",
    "emitter": "emitter_lps",
    "pressure": "pressure_kpa",
}
_PLAIN_UNITS = {
    "angle": "deg",
    "turn_rate": "deg per deg",
    "volts": "V",
    "hertz": "Hz",
    "share": "-",
    "label_ft": "gpm per 100 ft",
    "label_m": "L/h per m",
}
_PER_HOUR = {"speed": "length"}
BOTH = (US, METRIC)
COMPASS_WORDS = ("north", "northeast", "east", "southeast", "south", "southwest", "west", "northwest")


def _rule(found: str, allowed: str, hint: str = "") -> PydanticCustomError:
    return PydanticCustomError(
        "farm_rule", "{found}; {allowed}; {hint}", {"found": found, "allowed": allowed, "hint": hint}
    )


def _short(limit: float) -> str:
    """Return a limit with four digits that count: limits are round in one unit system only."""
    return number_words(float(f"{limit:.4g}"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """A number with a unit and a range, as an annotation of a key.

    Parameters
    ----------
    kind : str
        ``length`` (ft, m), ``small`` (in, mm), ``flow``, ``emitter``, ``pressure``, ``speed``,
        ``angle``, ``turn_rate``, ``volts``, ``hertz``, ``share``, ``label_ft`` or ``label_m``.
    above, least, below, most : float or None, default None
        Limits in SI: more than, at least, less than, at most. [m, L/s, kPa, m/h, V, Hz, deg or -]
    hint : str, default ""
        What to do when the number is out of range.
    """

    kind: str
    above: float | None = None
    least: float | None = None
    below: float | None = None
    most: float | None = None
    hint: str = ""

    def factor(self, units: UnitSystem) -> float:
        """Return one file unit in SI.

        Parameters
        ----------
        units : UnitSystem
            The farm's units.

        Returns
        -------
        float
            Factor from file to SI. [-]
        """
        kind = _PER_HOUR.get(self.kind, self.kind)
        return float(getattr(units, _SI[kind])) if kind in _SI else 1.0

    def unit(self, units: UnitSystem) -> str:
        """Return the printed word of the unit.

        Parameters
        ----------
        units : UnitSystem
            The farm's units.

        Returns
        -------
        str
            Such as ``ft``; ``-`` for a plain number.
        """
        if self.kind in _PER_HOUR:
            return f"{getattr(units, _PER_HOUR[self.kind])}/h"
        return str(getattr(units, self.kind)) if self.kind in _SI else _PLAIN_UNITS[self.kind]

    def range_words(self, units: UnitSystem) -> str:
        """Return the range in the farm's units, such as ``above 0 and at most 400``.

        Parameters
        ----------
        units : UnitSystem
            The farm's units.

        Returns
        -------
        str
            The limits in words.
        """
        limits = (
            ("above", self.above),
            ("at least", self.least),
            ("below", self.below),
            ("at most", self.most),
        )
        factor = self.factor(units)
        return " and ".join(f"{word} {_short(x / factor)}" for word, x in limits if x is not None)

    def allowed(self, units: UnitSystem) -> str:
        """Return what is allowed, unit and range, in words.

        Parameters
        ----------
        units : UnitSystem
            The farm's units.

        Returns
        -------
        str
            Such as ``a number of ft, above 0 and at most 400``.
        """
        unit = self.unit(units)
        head = "a number" if unit == "-" else f"a number of {unit}"
        return f"{head}, {self.range_words(units)}"

    def holds(self, value: float, units: UnitSystem) -> bool:
        """Return whether a number in file units lies in the range.

        Parameters
        ----------
        value : float
            The number as it stands in the file. [file unit]
        units : UnitSystem
            The farm's units.

        Returns
        -------
        bool
            True when every limit holds.
        """
        x = value * self.factor(units)
        # A limit given in round feet must not fail by a rounding of the conversion.
        slack = 1e-9 * max(1.0, abs(x))
        return (
            (self.above is None or x > self.above)
            and (self.least is None or x >= self.least)
            and (self.below is None or x < self.below)
            and (self.most is None or x <= self.most + slack)
        )

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> core_schema.CoreSchema:
        """Tell pydantic to check the range after the type."""
        return core_schema.with_info_after_validator_function(self._check, handler(source))

    def _check(self, value: float, info: ValidationInfo[Any]) -> float:
        # Where the farm's units are not known, a number is a fault only if it is wrong in both.
        systems: tuple[UnitSystem, ...] = (info.context or {}).get("units", BOTH)
        if not any(self.holds(value, units) for units in systems):
            raise _rule(shown(value), self.allowed(systems[0]), self.hint)
        return value


@dataclass(frozen=True, slots=True, kw_only=True)
class Text:
    """A rule for text (or for text and numbers), as an annotation of a key.

    Parameters
    ----------
    allowed : str
        What is allowed, in words.
    check : callable
        Takes the value, gives back the hint when it is wrong and None when it is right.
    """

    allowed: str
    check: Callable[[Any], str | None]

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> core_schema.CoreSchema:
        """Tell pydantic to check the rule after the type."""
        return core_schema.no_info_after_validator_function(self._check, handler(source))

    def _check(self, value: Any) -> Any:
        hint = self.check(value)
        if hint is not None:
            raise _rule(shown(value), self.allowed, hint)
        return value.strip() if isinstance(value, str) else value


def name_hint(value: str) -> str | None:
    """Return the hint for a name: one line of 1 to 80 letters.

    Parameters
    ----------
    value : str
        What was written.

    Returns
    -------
    str or None
        None when it is right; else a hint, which may be empty.
    """
    return None if value.strip() and len(value) <= 80 and value.isprintable() else ""


def side_hint(value: Any) -> str | None:
    """Return the hint for a side: a compass word, or degrees from 0 to below 360.

    Parameters
    ----------
    value : object
        What was written.

    Returns
    -------
    str or None
        None when it is right; else a hint, which may be empty.
    """
    if isinstance(value, str):
        try:
            bearing_of_word(value)
        except DomainError:
            return meant(value, COMPASS_WORDS)
        return None
    good = isinstance(value, int | float) and not isinstance(value, bool) and 0 <= value < 360
    return None if good else ""


def accuracy_hint(value: str) -> str | None:
    """Return the hint for a stated accuracy.

    Parameters
    ----------
    value : str
        What was written.

    Returns
    -------
    str or None
        None when it is right; else a hint, which may be empty.
    """
    try:
        parse_accuracy(value)
    except PlaceError:
        return ""
    return None


def kind_hint(value: str) -> str | None:
    """Return the hint for the name of a flag kind: small letters, digits and hyphens.

    Parameters
    ----------
    value : str
        What was written.

    Returns
    -------
    str or None
        None when it is right; else a hint, which may be empty.
    """
    plain = value.replace("-", "")
    good = plain.isascii() and plain.isalnum() and value == value.lower() and value[0].isalpha()
    return None if good and len(value) <= 30 else f"write {value.strip().lower().replace(' ', '-')[:30]}"


def day_of(value: Any) -> date | None:
    """Return the day that a farm file states, as a TOML date or as text.

    Parameters
    ----------
    value : object
        What was written.

    Returns
    -------
    date or None
        The day; None when it is no day from 1950 to 2199.

    Examples
    --------
    >>> day_of("2028-03-01"), day_of("3/1/2028")
    (datetime.date(2028, 3, 1), None)
    """
    if isinstance(value, str):
        try:
            value = date.fromisoformat(value) if len(value) == len("2028-03-01") else None
        except ValueError:
            return None
    good = isinstance(value, date) and not isinstance(value, datetime) and 1950 <= value.year < 2200
    return value if good else None


def day_hint(value: Any) -> str | None:
    """Return the hint for a day.

    Parameters
    ----------
    value : object
        What was written.

    Returns
    -------
    str or None
        None when it is right; else a hint, which may be empty.
    """
    if day_of(value) is not None:
        return None
    return "write the day alone, without a time" if isinstance(value, datetime) else ""


def zone_hint(value: str) -> str | None:
    """Return the hint for the name of a time zone.

    Parameters
    ----------
    value : str
        What was written.

    Returns
    -------
    str or None
        None when it is right; else a hint.
    """
    names = available_timezones()
    if value in names:
        return None
    near = get_close_matches(value.strip().replace(" ", "_"), sorted(names), n=1)
    return f"did you mean {near[0]}?" if near else "US Central time is America/Chicago"


def scalar_hint(value: Any) -> str | None:
    """Return the hint for a single value: text, a number, true or false.

    Parameters
    ----------
    value : object
        What was written.

    Returns
    -------
    str or None
        None when it is right; else a hint, which may be empty.
    """
    return None if isinstance(value, str | int | float) else ""

"""Lengths, angles and chances in the words and roundings that people in a field can use."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ringrow.geometry.angles import compass_point

if TYPE_CHECKING:
    from ringrow.coverage.accuracy import Accuracy
    from ringrow.units import UnitSystem

_COMPASS_WORDS = {
    "N": "north", "NE": "northeast", "E": "east", "SE": "southeast",
    "S": "south", "SW": "southwest", "W": "west", "NW": "northwest",
}  # fmt: skip
_KIND_WORDS = {
    "r95": "95 of 100 fixes fall that close",
    "r68": "68 of 100 fixes fall that close",
    "rms": "root mean square error",
    "cep": "half of all fixes fall that close",
}
_MILE_FT = 5280.0


def one_line(text: str) -> str:
    r"""Return a name from a file as one line of printable text.

    Parameters
    ----------
    text : str
        The name.

    Returns
    -------
    str
        The same with blanks for line breaks and without control characters.

    Examples
    --------
    >>> one_line("Windmill\n pivot")
    'Windmill pivot'
    """
    return "".join(letter for letter in " ".join(text.split()) if letter.isprintable())


def length_words(metres: float, units: UnitSystem) -> str:
    """Return a length along the ground: feet to 1 ft, metres to 0.1 m; far ones in miles or km.

    Parameters
    ----------
    metres : float
        The length. [m]
    units : UnitSystem
        The farm's units.

    Returns
    -------
    str
        Number and unit.

    Examples
    --------
    >>> from ringrow.units import METRIC, US
    >>> length_words(381.0, US), length_words(381.0, METRIC), length_words(20_000, US)
    ('1,250 ft', '381.0 m', '12.4 miles')
    """
    length = units.from_m(metres)
    if units.name == "us":
        return _far(length / _MILE_FT, "miles") if length > 2 * _MILE_FT else f"{_whole(length):,} ft"
    return _far(length / 1000, "km") if length > 3000 else f"{round(length, 1) + 0.0:,.1f} m"


def small_words(metres: float, units: UnitSystem) -> str:
    """Return a length across a lateral: inches to 1 in, centimetres to 1 cm.

    Past a yard or a metre it reads as `length_words`.

    Parameters
    ----------
    metres : float
        The length, 0 or more. [m]
    units : UnitSystem
        The farm's units.

    Returns
    -------
    str
        Number and unit.

    Examples
    --------
    >>> from ringrow.units import METRIC, US
    >>> small_words(0.2286, US), small_words(0.2286, METRIC), small_words(9.144, US)
    ('9 in', '23 cm', '30 ft')
    """
    if units.name == "us":
        return f"{_whole(units.from_m_small(metres))} in" if metres <= 0.9144 else length_words(metres, units)
    return f"{_whole(metres * 100)} cm" if metres <= 1.0 else length_words(metres, units)


def azimuth_words(azimuth_deg: float) -> str:
    """Return an azimuth to 0.1 degree, 0.0 to 359.9.

    Parameters
    ----------
    azimuth_deg : float
        The azimuth. [deg]

    Returns
    -------
    str
        The number.

    Examples
    --------
    >>> azimuth_words(41.26), azimuth_words(359.97)
    ('41.3', '0.0')
    """
    return f"{round(azimuth_deg, 1) % 360.0:.1f}"


def compass_words(azimuth_deg: float) -> str:
    """Return the nearest of eight compass points as a word.

    Parameters
    ----------
    azimuth_deg : float
        The azimuth. [deg]

    Returns
    -------
    str
        ``north``, ``northeast``, ...

    Examples
    --------
    >>> compass_words(44.0)
    'northeast'
    """
    return _COMPASS_WORDS[compass_point(azimuth_deg)]


def chance_words(chance: float) -> str:
    """Return a chance in plain words, never finer than it can be trusted.

    Parameters
    ----------
    chance : float
        Chance, 0 to 1. [-]

    Returns
    -------
    str
        Such as ``about 3 in 10``.

    Examples
    --------
    >>> chance_words(0.2965), chance_words(0.96), chance_words(0.999), chance_words(0.02)
    ('about 3 in 10', '19 in 20 or better', 'almost certain', 'less than 1 in 20')
    """
    if chance >= 0.995:
        return "almost certain"
    if chance >= 0.95:
        return "19 in 20 or better"
    if chance < 0.05:
        return "less than 1 in 20"
    # 0.9499 must not be said as 10 in 10.
    return f"about {min(max(round(10 * chance), 1), 9)} in 10"


def accuracy_words(accuracy: Accuracy, units: UnitSystem) -> str:
    """Return how good a position is, by what measure, and who says so.

    Parameters
    ----------
    accuracy : Accuracy
        The accuracy.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    str
        One line.

    Examples
    --------
    >>> from ringrow.coverage.accuracy import DEFAULT_ACCURACY, parse_accuracy
    >>> from ringrow.units import US
    >>> accuracy_words(parse_accuracy("16 ft r95"), US)
    'good to 16 ft (r95: 95 of 100 fixes fall that close)'
    >>> accuracy_words(DEFAULT_ACCURACY, US)
    'good to 16 ft (r95: 95 of 100 fixes fall that close); assumed, nobody stated it'
    """
    radius = accuracy.radius_m
    # A survey receiver is good to inches: "0 ft" would be a lie.
    size = small_words(radius, units) if radius < 3 * units.length_m else length_words(radius, units)
    text = f"good to {size} ({accuracy.kind}: {_KIND_WORDS[accuracy.kind]})"
    return f"{text}; assumed, nobody stated it" if accuracy.assumed else text


def runs_words(numbers: list[int]) -> str:
    """Return whole numbers as runs, rising.

    Parameters
    ----------
    numbers : list of int
        The numbers, in any order.

    Returns
    -------
    str
        Such as ``40 to 43, 45``; empty for none.

    Examples
    --------
    >>> runs_words([43, 42, 45, 40, 41]), runs_words([7])
    ('40 to 43, 45', '7')
    """
    runs: list[tuple[int, int]] = []
    for number in sorted(set(numbers)):
        if runs and number == runs[-1][1] + 1:
            runs[-1] = (runs[-1][0], number)
        else:
            runs.append((number, number))
    return ", ".join(str(low) if low == high else f"{low} to {high}" for low, high in runs)


def _far(length: float, unit: str) -> str:
    return f"{length:,.1f} {unit}" if length < 100 else f"{length:,.0f} {unit}"


def _whole(number: float) -> int:
    """Round half away from zero, as people do; never -0."""
    return int(abs(number) + 0.5) * (-1 if number < 0 else 1)

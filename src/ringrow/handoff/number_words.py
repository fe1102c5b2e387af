"""Lengths, angles and chances in the words and roundings that people in a field can use."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ringrow.geometry.angles import compass_point
from ringrow.handoff.languages import N_, _, counted

if TYPE_CHECKING:
    from ringrow.coverage.accuracy import Accuracy
    from ringrow.units import UnitSystem

_COMPASS_WORDS = {
    "N": N_("north"), "NE": N_("northeast"), "E": N_("east"), "SE": N_("southeast"),
    "S": N_("south"), "SW": N_("southwest"), "W": N_("west"), "NW": N_("northwest"),
}  # fmt: skip
_KIND_WORDS = {
    "r95": N_("95 of 100 fixes fall that close"),
    "r68": N_("68 of 100 fixes fall that close"),
    "rms": N_("root mean square error"),
    "cep": N_("half of all fixes fall that close"),
}
_UNIT_WORDS = {
    "ft": N_("ft"), "in": N_("in"), "miles": N_("miles"), "acres": N_("acres"),
    "gpm": N_("gpm"), "psi": N_("psi"), "mph": N_("mph"),
}  # fmt: skip
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


def unit_words(unit: str) -> str:
    """Return a unit as it is written behind a number; metric ones are the same in every language.

    Parameters
    ----------
    unit : str
        The unit, such as ``ft``.

    Returns
    -------
    str
        What stands behind the number.

    Examples
    --------
    >>> from ringrow.handoff.languages import speaking
    >>> with speaking("es"):
    ...     unit_words("ft"), unit_words("m")
    ('pies', 'm')
    """
    return _(_UNIT_WORDS[unit]) if unit in _UNIT_WORDS else unit


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
        if length > 2 * _MILE_FT:
            return _far(length / _MILE_FT, "miles")
        whole = _whole(length)
        return counted("{length} ft", "{length} ft", whole).format(length=f"{whole:,}")
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
        if metres > 0.9144:
            return length_words(metres, units)
        return f"{_whole(units.from_m_small(metres))} {unit_words('in')}"
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
    return _(_COMPASS_WORDS[compass_point(azimuth_deg)])


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
        return _("almost certain")
    if chance >= 0.95:
        return _("19 in 20 or better")
    if chance < 0.05:
        return _("less than 1 in 20")
    # 0.9499 must not be said as 10 in 10.
    return _("about {n} in 10").format(n=min(max(round(10 * chance), 1), 9))


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
    measure = f"{accuracy.kind}: {_(_KIND_WORDS[accuracy.kind])}"
    if accuracy.assumed:
        return _("good to {size} ({measure}); assumed, nobody stated it").format(size=size, measure=measure)
    return _("good to {size} ({measure})").format(size=size, measure=measure)


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
    return ", ".join(
        str(low) if low == high else _("{low} to {high}").format(low=low, high=high) for low, high in runs
    )


def _far(length: float, unit: str) -> str:
    return f"{length:,.{1 if length < 100 else 0}f} {unit_words(unit)}"


def _whole(number: float) -> int:
    """Round half away from zero, as people do; never -0."""
    return int(abs(number) + 0.5) * (-1 if number < 0 else 1)

"""Azimuths, arcs of a turn and compass names."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

import numpy as np

from ringrow.errors import DomainError

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from numpy.typing import ArrayLike, NDArray

COMPASS: tuple[str, ...] = ("N", "NE", "E", "SE", "S", "SW", "W", "NW")
"""The eight compass points, clockwise from north."""

_WORDS = ("north", "northeast", "east", "southeast", "south", "southwest", "west", "northwest")


def azimuth_deg(dx: ArrayLike, dy: ArrayLike) -> NDArray[np.float64]:
    """Return bearings clockwise from the y axis.

    Parameters
    ----------
    dx, dy : array_like
        East and north components. [m]

    Returns
    -------
    ndarray
        Bearings, 0 <= bearing < 360. [deg]

    Examples
    --------
    >>> azimuth_deg([0, 1, 0, -1], [1, 0, -1, 0])
    array([  0.,  90., 180., 270.])
    """
    bearing = np.degrees(np.arctan2(dx, dy)) % 360.0
    # A tiny negative angle modulo 360 rounds to 360 itself.
    return np.where(bearing >= 360.0, 0.0, bearing)


def compass_point(azimuth: float) -> str:
    """Return the nearest of the eight compass points.

    Parameters
    ----------
    azimuth : float
        Bearing clockwise from north. [deg]

    Returns
    -------
    str
        ``N``, ``NE``, ... ``NW``.

    Examples
    --------
    >>> compass_point(44.0), compass_point(359.0)
    ('NE', 'N')
    """
    return COMPASS[int((azimuth % 360.0) / 45.0 + 0.5) % 8]


def bearing_of_word(word: str) -> float:
    """Return the bearing that a compass word stands for.

    Parameters
    ----------
    word : str
        ``north``, ``northeast``, ... or ``N``, ``NE``, ..., in any case; hyphens and blanks are ignored.

    Returns
    -------
    float
        Bearing clockwise from north. [deg]

    Raises
    ------
    DomainError
        If the word is none of the eight.

    Examples
    --------
    >>> bearing_of_word("South-West")
    225.0
    """
    plain = word.strip().lower().replace("-", "").replace(" ", "")
    for names in (_WORDS, tuple(point.lower() for point in COMPASS)):
        if plain in names:
            return names.index(plain) * 45.0
    message = f'compass word: found "{word}"; allowed: {", ".join(_WORDS)}'
    raise DomainError(message)


def within_turn(bearing: float) -> float:
    """Return a bearing brought into one turn.

    Parameters
    ----------
    bearing : float
        Any bearing. [deg]

    Returns
    -------
    float
        The same bearing, 0 <= bearing < 360. [deg]

    Examples
    --------
    >>> within_turn(-90.0), within_turn(-1e-20)
    (270.0, 0.0)
    """
    # A tiny negative angle modulo 360 rounds to 360 itself.
    return bearing % 360.0 % 360.0


def join_arcs(
    arcs: Iterable[tuple[float, float]], *, limits_deg: tuple[float, float] | None = None
) -> tuple[tuple[float, float], ...] | Literal["full"]:
    """Return arcs of a turn with those that meet or overlap made one, kept to a sector.

    Parameters
    ----------
    arcs : iterable of tuple of float
        Bearings (start, stop), clockwise, two different ones each. [deg]
    limits_deg : tuple of float or None, default None
        Start and stop of the sector to which they are cut, clockwise; None for the whole turn. [deg]

    Returns
    -------
    tuple of tuple of float, or "full"
        Arcs apart from each other, in turning order from the sector's start or from north; ends
        are numbers that were given. ``"full"`` when they fill the whole turn and there is no sector.

    Examples
    --------
    >>> join_arcs([(300, 20), (10, 40), (90, 100)])
    ((90.0, 100.0), (300.0, 40.0))
    >>> join_arcs([(300, 20)], limits_deg=(350, 200))
    ((350.0, 20.0),)
    """
    zero, span = (0.0, 360.0) if limits_deg is None else (limits_deg[0], _sweep(*limits_deg))
    runs: list[list[_End]] = []
    for start, stop in sorted(_cut(arcs, zero, span, limits_deg)):
        if runs and start[0] <= runs[-1][1][0]:
            runs[-1][1] = max(runs[-1][1], stop)
        else:
            runs.append([start, stop])
    # Without a sector the last arc may run on through north and swallow the first ones.
    while limits_deg is None and len(runs) > 1 and runs[-1][1][0] - 360.0 >= runs[0][0][0]:
        turned, bearing = runs.pop(0)[1]
        runs[-1][1] = max(runs[-1][1], (turned + 360.0, bearing))
    if limits_deg is None and runs and runs[-1][1][0] - runs[-1][0][0] >= 360.0:
        return "full"
    return tuple((start[1], stop[1]) for start, stop in runs)


def shared_arcs(
    one: tuple[tuple[float, float], ...] | Literal["full"],
    other: tuple[tuple[float, float], ...] | Literal["full"],
) -> tuple[tuple[float, float], ...] | Literal["full"]:
    """Return what two sets of arcs have in common.

    Parameters
    ----------
    one, other : tuple of tuple of float, or "full"
        Bearings (start, stop), clockwise; arcs of one set apart from each other. [deg]

    Returns
    -------
    tuple of tuple of float, or "full"
        Arcs by rising start; ends are numbers that were given; arcs that only touch share nothing.

    Examples
    --------
    >>> shared_arcs([(300, 20), (40, 90)], [(10, 50)])
    ((10.0, 20.0), (40.0, 50.0))
    >>> shared_arcs("full", [(300, 20)])
    ((300.0, 20.0),)
    """
    if one == "full" or other == "full":
        rest = other if one == "full" else one
        return rest if rest == "full" else tuple(sorted((float(a), float(b)) for a, b in rest))
    found = []
    for start, stop in one:
        for first, last in other:
            begin, sweep = _sweep(start, first), _sweep(start, stop)
            for low in (begin, begin - 360.0):
                high = low + _sweep(first, last)
                if min(high, sweep) - max(low, 0.0) > _SAME_BEARING_DEG:
                    found.append((float(first if low > 0 else start), float(last if high < sweep else stop)))
    return tuple(sorted(found))


_SAME_BEARING_DEG = 1e-9

_End = tuple[float, float]
"""An arc's end: degrees turned from the zero of counting, and the bearing as it was given."""


def _sweep(start: float, stop: float) -> float:
    return within_turn(stop - start)


def _cut(
    arcs: Iterable[tuple[float, float]],
    zero: float,
    span: float,
    limits_deg: tuple[float, float] | None,
) -> Iterator[tuple[_End, _End]]:
    """Yield the parts of arcs within a sector, as ends that sort by degrees turned."""
    for start, stop in arcs:
        first = _sweep(zero, start)
        last = first + _sweep(start, stop)
        if limits_deg is None:
            yield (first, float(start)), (last, float(stop))
            continue
        # An arc that runs past the sector's start comes in again from behind it.
        for low, high in ((first, last), (first - 360.0, last - 360.0)):
            if low < span and high > 0.0:
                begin = (low, float(start)) if low > 0.0 else (0.0, float(limits_deg[0]))
                end = (high, float(stop)) if high < span else (span, float(limits_deg[1]))
                yield begin, end

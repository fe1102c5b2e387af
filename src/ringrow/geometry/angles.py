"""Azimuths, arcs of a turn and compass names."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ringrow.errors import DomainError

if TYPE_CHECKING:
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

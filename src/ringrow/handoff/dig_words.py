"""A hole that was found, in words and as JSON values."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ringrow.handoff.languages import _
from ringrow.handoff.number_words import length_words
from ringrow.handoff.place_words import flag_words

if TYPE_CHECKING:
    from ringrow.farm.dig_points import DigPoint
    from ringrow.units import UnitSystem


def dig_line(point: DigPoint, units: UnitSystem) -> str:
    """Return where a hole was, and how far from its wet spot, in one line.

    Parameters
    ----------
    point : DigPoint
        The hole.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    str
        One line.
    """
    place = flag_words(point.place, units)
    if point.away_m is None:
        return _("Hole found: {place}").format(place=place)
    away = length_words(point.away_m, units)
    return _("Hole found: {place}; {away} from the wet spot").format(place=place, away=away)


def dig_record(point: DigPoint, units: UnitSystem) -> dict[str, Any]:
    """Return where a hole was as plain values under the keys of the JSON output.

    Parameters
    ----------
    point : DigPoint
        The hole.
    units : UnitSystem
        The farm's units; keys end in them.

    Returns
    -------
    dict
        ``lat``, ``lon``, ``drip``, ``lateral``, ``station_ft``, ``away_ft``; None for what is not known.
    """
    drip = point.place.drip
    station = None if drip is None or drip.station_m is None else units.from_m(drip.station_m)
    return {
        "lat": point.place.lat,
        "lon": point.place.lon,
        "drip": None if drip is None else drip.name,
        "lateral": None if drip is None else drip.lateral,
        units.key("station_ft"): station,
        units.key("away_ft"): None if point.away_m is None else units.from_m(point.away_m),
    }

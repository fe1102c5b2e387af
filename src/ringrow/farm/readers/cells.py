"""Values that people write in cells: numbers, positions, times, accuracies, states, plain words."""

from __future__ import annotations

import math
import re
from datetime import UTC, datetime
from typing import TYPE_CHECKING, TypedDict

from ringrow.coverage.accuracy import parse_accuracy
from ringrow.equipment.kinds import STATUSES
from ringrow.errors import PlaceError
from ringrow.farm.coordinates import parse_at
from ringrow.farm.events import MAX_NAME, MAX_NOTE, clean_text
from ringrow.farm.place_terms import bare_letters

if TYPE_CHECKING:
    from collections.abc import Mapping

    from ringrow.coverage.accuracy import Accuracy


_STATUS_WORDS = {
    "open": "open",
    "abierto": "open",
    "abierta": "open",
    "pendiente": "open",
    "fixed": "fixed",
    "arreglado": "fixed",
    "arreglada": "fixed",
    "reparado": "fixed",
    "reparada": "fixed",
    "checked": "checked",
    "revisado": "checked",
    "revisada": "checked",
    "comprobado": "checked",
}


class RowTexts(TypedDict):
    """The texts of a point, fit for storing."""

    name: str
    note: str
    kind_words: str
    symbol: str
    by: str


def plain_words(text: str) -> str:
    """Return lower-case words without accents or punctuation, parted by single blanks.

    Parameters
    ----------
    text : str
        Any text.

    Returns
    -------
    str
        Its plain words.

    Examples
    --------
    >>> plain_words("Válvula_de PURGA (m)")
    'valvula de purga m'
    """
    return re.sub(r"[^0-9a-z]+", " ", bare_letters(text)).strip()


def number(text: str) -> float:
    """Return the number a cell holds; a lone comma is a decimal comma.

    Parameters
    ----------
    text : str
        The cell.

    Returns
    -------
    float
        The number, finite.

    Raises
    ------
    ValueError
        If it is none.

    Examples
    --------
    >>> number(" 36,75 ")
    36.75
    """
    plain = text.strip().replace("\N{MINUS SIGN}", "-").replace("\N{NO-BREAK SPACE}", "").rstrip("°")
    if plain.count(",") == 1 and "." not in plain:
        plain = plain.replace(",", ".")
    value = float(plain)
    if not math.isfinite(value) or "_" in plain:
        message = f"not a number: {text!r:.40}"
        raise ValueError(message)
    return value


def position(lat_text: str, lon_text: str) -> tuple[float, float]:
    """Return the latitude and longitude that two cells hold.

    Parameters
    ----------
    lat_text, lon_text : str
        Decimal degrees, or degrees, minutes and seconds.

    Returns
    -------
    lat, lon : float
        WGS 84. [deg]

    Raises
    ------
    PlaceError
        If either is missing, cannot be read or is out of range.
    """
    if not lat_text.strip() or not lon_text.strip():
        found = f'"{lat_text.strip()}" and "{lon_text.strip()}"'
        message = f"no place: found {found:.60}; allowed: a latitude and a longitude"
        raise PlaceError(message)
    try:
        lat, lon = number(lat_text), number(lon_text)
    except ValueError:
        return parse_at(f"{lat_text.strip()}; {lon_text.strip()}")
    return checked_position(lat, lon)


def checked_position(lat: float, lon: float) -> tuple[float, float]:
    """Return a latitude and longitude that can be.

    Parameters
    ----------
    lat, lon : float
        WGS 84, from a file. [deg]

    Returns
    -------
    lat, lon : float
        The same. [deg]

    Raises
    ------
    PlaceError
        If they are no place on the globe.
    """
    if abs(lat) <= 90 and abs(lon) <= 180:
        return lat, lon
    if abs(lat) <= 180 and abs(lon) <= 90:
        hint = "latitude and longitude look swapped"
    elif abs(lat) > 1000 or abs(lon) > 1000:
        hint = "these look like metres or feet of a map projection; bring degrees of WGS 84"
    else:
        hint = "look at the row again"
    message = (
        f"found latitude {lat:.7g}, longitude {lon:.7g}; "
        f"allowed: latitude -90 to 90, longitude -180 to 180; {hint}"
    )
    raise PlaceError(message)


def read_time(text: str) -> tuple[datetime | None, str]:
    """Return the moment a text names, and a remark when it names none.

    Only forms that cannot be misread are taken: year first. A time without a zone is taken as UTC.

    Parameters
    ----------
    text : str
        The text; empty for no time.

    Returns
    -------
    moment : datetime or None
        UTC; None when there is none.
    remark : str
        Why it was left out; empty when all is well.

    Examples
    --------
    >>> read_time("2026/04/02 13:05")[0].isoformat()
    '2026-04-02T13:05:00+00:00'
    >>> read_time("4/2/26")[1]
    'time "4/2/26" left out: only year-month-day is clear, such as 2026-04-02 13:05'
    """
    plain = text.strip().replace("/", "-").removesuffix(" UTC")
    if not plain:
        return None, ""
    try:
        moment = datetime.fromisoformat(plain)
        return (moment if moment.tzinfo else moment.replace(tzinfo=UTC)).astimezone(UTC), ""
    except (ValueError, OverflowError):
        found = clean_text(text.strip())[:30]
        return None, f'time "{found}" left out: only year-month-day is clear, such as 2026-04-02 13:05'


def read_accuracy(text: str, *, unit: str) -> tuple[Accuracy | None, str]:
    """Return the accuracy a cell states, and a remark when it cannot be read.

    Parameters
    ----------
    text : str
        The cell; empty for none.
    unit : {"ft", "m"}
        Unit of a bare number.

    Returns
    -------
    accuracy : Accuracy or None
        None when there is none.
    remark : str
        Why it was left out; empty when all is well.
    """
    plain = text.strip().replace(",", ".")
    if not plain:
        return None, ""
    try:
        return parse_accuracy(plain, default_unit=unit), ""
    except PlaceError as error:
        return None, f"accuracy left out: {error}"


def read_status(text: str) -> tuple[str, str]:
    """Return the status a cell states, in English or Spanish, and a remark when it is not known.

    Parameters
    ----------
    text : str
        The cell; empty for none.

    Returns
    -------
    status : str
        Status; empty when there is none.
    remark : str
        Why it was left out; empty when all is well.
    """
    words = plain_words(text)
    if not words:
        return "", ""
    for status in STATUSES:
        if words == plain_words(status):
            return status, ""
    if words in _STATUS_WORDS:
        return _STATUS_WORDS[words], ""
    return "", f'status "{clean_text(text.strip())[:30]}" left out: allowed are {", ".join(STATUSES)}'


def texts_of(values: Mapping[str, str]) -> RowTexts:
    """Return a row's name, note, kind words and the like, fit for storing.

    Parameters
    ----------
    values : mapping of str to str
        Text by role.

    Returns
    -------
    RowTexts
        The roles ``name``, ``note``, ``kind_words``, ``symbol``, ``by``; missing ones empty.

    Raises
    ------
    PlaceError
        If a text is too long.
    """
    texts: RowTexts = {
        "name": _text_of(values, "name", longest=MAX_NAME),
        "note": _text_of(values, "note", longest=MAX_NOTE),
        "kind_words": _text_of(values, "kind_words", longest=MAX_NAME),
        "symbol": _text_of(values, "symbol", longest=MAX_NAME),
        "by": _text_of(values, "by", longest=MAX_NAME),
    }
    if texts["note"] == texts["name"]:
        texts["note"] = ""
    return texts


def _text_of(values: Mapping[str, str], role: str, *, longest: int) -> str:
    text = clean_text(values.get(role, "").strip())
    if len(text) > longest:
        message = f"{role.split('_')[0]}: found {len(text):,} characters; allowed: up to {longest:,}"
        raise PlaceError(message)
    return text

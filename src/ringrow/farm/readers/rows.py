"""What every reader of points gives back, and the limits they keep."""

from __future__ import annotations

import math
import re
import unicodedata
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any, TypedDict

import numpy as np

from ringrow.coverage.accuracy import parse_accuracy
from ringrow.equipment.kinds import STATUSES
from ringrow.errors import FileError, PlaceError, RingrowError
from ringrow.farm.coordinates import parse_at
from ringrow.farm.events import MAX_NAME, MAX_NOTE, clean_text

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from ringrow.coverage.accuracy import Accuracy
    from ringrow.farm.events import Event
    from ringrow.farm.readers.carried import CarriedPhoto
    from ringrow.farm.readers.photos import Photo

MAX_BYTES = 20_000_000
"""Largest file of points that is read [bytes]."""
MAX_ROWS = 20_000
"""Most points that one file may hold."""
NEAR_M = 50_000.0
"""A point farther from everything on the farm than this is refused. [m]"""

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


@dataclass(frozen=True, slots=True, kw_only=True)
class PointRow:
    """One point of a file, as it came.

    Parameters
    ----------
    what : str
        Where it stands in the file, such as ``row 5`` or ``waypoint 3``.
    lat, lon : float or None
        WGS 84; None for a record without a place. [deg]
    name, note : str
        Its name; whatever else it says.
    time : datetime or None
        When it was taken, UTC.
    kind_words, symbol : str
        What the file says its kind is; the symbol drawn for it.
    status : str
        A status the file states; empty when none.
    accuracy : Accuracy or None
        Stated accuracy.
    by : str
        Who set it, when the file says so.
    id : str or None
        UUID, when the file carries one.
    events : tuple of Event
        History that came with it.
    remarks : tuple of str
        What could not be read and was left out, in plain words.
    photo : Photo or None
        The photo that the point is.
    carried : tuple of CarriedPhoto, default ()
        Photos of its events that came inside the file.
    told_by_events : bool, default False
        Whether its events say everything, as in a phone's file: its position and words beside
        them are for other tools to show and change nothing.
    """

    what: str
    lat: float | None
    lon: float | None
    name: str = ""
    note: str = ""
    time: datetime | None = None
    kind_words: str = ""
    symbol: str = ""
    status: str = ""
    accuracy: Accuracy | None = None
    by: str = ""
    id: str | None = None
    events: tuple[Event, ...] = ()
    remarks: tuple[str, ...] = ()
    photo: Photo | None = None
    carried: tuple[CarriedPhoto, ...] = ()
    told_by_events: bool = False


class RowTexts(TypedDict):
    """The texts of a point, fit for storing."""

    name: str
    note: str
    kind_words: str
    symbol: str
    by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Refused:
    """A point that was not taken.

    Parameters
    ----------
    what : str
        Where it stands in the file, such as ``row 5``.
    why : str
        Why, and what is allowed.
    """

    what: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PointFile:
    """What a file held.

    Parameters
    ----------
    file : str
        The file's name.
    form : {"gpx", "csv", "geojson", "kml", "vector", "nmea", "photos"}
        Kind of file.
    rows : tuple of PointRow
        Points that could be read, in file order.
    refused : tuple of Refused
        Points that could not.
    said : tuple of str
        What was guessed or left out, to be shown.
    """

    file: str
    form: str
    rows: tuple[PointRow, ...]
    refused: tuple[Refused, ...] = ()
    said: tuple[str, ...] = ()


def read_bytes(path: Path) -> bytes:
    """Return a file's bytes.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    bytes
        All of it.

    Raises
    ------
    FileError
        If it cannot be read, or is larger than `MAX_BYTES`.
    """
    try:
        if not path.is_file():
            message = f"{path}: found no such file; allowed: a file of points"
            raise FileError(message)
        # One byte more than allowed is read, so a file that grows meanwhile cannot slip through.
        with path.open("rb") as stream:
            data = stream.read(MAX_BYTES + 1)
    except OSError as error:
        if isinstance(error, FileError):
            raise
        message = f"{path}: cannot be read ({error.strerror or error})"
        raise FileError(message) from error
    if len(data) > MAX_BYTES:
        message = f"{path}: found more than {MAX_BYTES / 1e6:.0f} MB; allowed: up to that; split the file"
        raise FileError(message)
    return data


def check_count(path: Path, count: int) -> None:
    """Check how many points a file holds.

    Parameters
    ----------
    path : Path
        The file.
    count : int
        Points in it.

    Raises
    ------
    FileError
        If there are more than `MAX_ROWS`.
    """
    if count > MAX_ROWS:
        message = f"{path}: found more than {MAX_ROWS:,} points; allowed: up to that; split the file"
        raise FileError(message)


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
    bare = unicodedata.normalize("NFKD", text.casefold())
    bare = "".join(letter for letter in bare if not unicodedata.combining(letter))
    return re.sub(r"[^0-9a-z]+", " ", bare).strip()


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


def order_in_file(what: str) -> tuple[int, ...]:
    """Return what sorts points as they stand in their file.

    Parameters
    ----------
    what : str
        Where a point stands, such as ``feature 3, point 2``.

    Returns
    -------
    tuple of int
        Its numbers.

    Examples
    --------
    >>> order_in_file("feature 3, point 2")
    (3, 2)
    """
    return tuple(int(digits) for digits in re.findall(r"[0-9]+", what))


def why(error: RingrowError | ValueError) -> str:
    """Return an error's message on one line.

    Parameters
    ----------
    error : RingrowError or ValueError
        The error.

    Returns
    -------
    str
        Its message.
    """
    return " ".join(str(error).split())


def refuse_far(file: PointFile, farm_lonlat: Sequence[tuple[float, float]]) -> PointFile:
    """Return a file's points without those that lie far from the farm.

    Parameters
    ----------
    file : PointFile
        What was read.
    farm_lonlat : sequence of tuple of float
        Longitude and latitude of places on the farm; none = nothing is refused. [deg]

    Returns
    -------
    PointFile
        The same, far points moved to the refused, with a hint when swapping latitude and
        longitude would bring one home.
    """
    if not farm_lonlat or not file.rows:
        return file
    lon = np.array([np.nan if row.lon is None else row.lon for row in file.rows])
    lat = np.array([np.nan if row.lat is None else row.lat for row in file.rows])
    away, swapped = _least_distance_m(lon, lat, farm_lonlat), _least_distance_m(lat, lon, farm_lonlat)
    kept, refused = [], list(file.refused)
    for row, away_m, swapped_m in zip(file.rows, away, swapped, strict=True):
        if not away_m > NEAR_M:
            kept.append(row)
            continue
        found = f"found {row.lat:.6f}, {row.lon:.6f}, {away_m / 1000:,.0f} km from the farm"
        hint = "; latitude and longitude look swapped" if swapped_m <= NEAR_M else ""
        refused.append(Refused(what=row.what, why=f"{found}; allowed: within {NEAR_M / 1000:.0f} km{hint}"))
    return replace(file, rows=tuple(kept), refused=tuple(refused))


def _least_distance_m(lon: Any, lat: Any, farm_lonlat: Sequence[tuple[float, float]]) -> Any:
    # The haversine on a sphere is within 0.6 % of the geodesic: plenty for a limit of 50 km.
    east, north = np.radians(lon), np.radians(lat)
    least = np.full(len(east), np.inf)
    for home_lon, home_lat in np.radians(np.asarray(farm_lonlat, float)):
        half = (
            np.sin((north - home_lat) / 2) ** 2
            + np.cos(north) * np.cos(home_lat) * np.sin((east - home_lon) / 2) ** 2
        )
        least = np.fmin(least, 2 * 6_371_000.0 * np.arcsin(np.sqrt(np.clip(half, 0, 1))))
    return np.where(np.isnan(east), np.nan, least)

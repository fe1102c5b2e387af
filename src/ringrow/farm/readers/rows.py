"""What every reader of points gives back, and the limits they keep."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from ringrow.errors import FileError, RingrowError

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime
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

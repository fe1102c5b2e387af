"""Waypoints from NMEA 0183 logs; the positions of a walk are no flags."""

from __future__ import annotations

import re
from collections import Counter
from typing import TYPE_CHECKING

from ringrow.errors import FileError, RingrowError
from ringrow.farm.readers.cells import checked_position, texts_of
from ringrow.farm.readers.rows import PointFile, PointRow, Refused, check_count, why

if TYPE_CHECKING:
    from pathlib import Path

ENDINGS: tuple[str, ...] = (".nmea", ".nma", ".log")
"""Endings of NMEA logs; text files that hold NMEA sentences are read too."""

_WAYPOINT = re.compile(r"\$[A-Z]{2}WPL,[^$\r\n]*")
_FIX = re.compile(r"\$[A-Z]{2}(?:GGA|RMC|GLL),")
_ANY = re.compile(r"\$[A-Z]{2}[A-Z]{3},")


def is_nmea(data: bytes) -> bool:
    """Return whether a text holds NMEA sentences.

    Parameters
    ----------
    data : bytes
        What a file holds.

    Returns
    -------
    bool
        True when its beginning has a sentence at a line's start.

    Examples
    --------
    >>> is_nmea(b"$GPWPL,3645.000,N,10130.000,W,LEAK*51"), is_nmea(b"lat,lon,note")
    (True, False)
    """
    lines = data[:20_000].decode("ascii", "ignore").splitlines()
    return any(_ANY.match(line.strip()) for line in lines)


def read_nmea(path: Path, data: bytes) -> PointFile:
    """Return the waypoints (WPL sentences) of an NMEA log.

    Parameters
    ----------
    path : Path
        The file, for its name.
    data : bytes
        What it holds.

    Returns
    -------
    PointFile
        Waypoints by their line; positions of the walk itself are left out, and said so.

    Raises
    ------
    FileError
        If it holds no waypoint, or too many.
    """
    rows: list[PointRow] = []
    refused: list[Refused] = []
    seen: Counter[str] = Counter()
    fixes = 0
    for number, line in enumerate(data.decode("ascii", "replace").splitlines(), start=1):
        fixes += _FIX.search(line) is not None
        match = _WAYPOINT.search(line)
        # Receivers send their list of waypoints again and again.
        if match is None or seen[match[0].strip()]:
            continue
        seen[match[0].strip()] += 1
        check_count(path, len(rows) + len(refused) + 1)
        try:
            rows.append(_row(match[0].strip(), what=f"line {number}"))
        except (RingrowError, ValueError) as error:
            refused.append(Refused(what=f"line {number}", why=why(error)))
    if not rows and not refused:
        message = f"{path}: found {_walk(fixes)} and no waypoint (WPL sentence); "
        raise FileError(message + _SURVEY)
    said = (f"left out: {_walk(fixes)} (only waypoints become flags; {_SURVEY})",) if fixes else ()
    return PointFile(file=path.name, form="nmea", rows=tuple(rows), refused=tuple(refused), said=said)


_SURVEY = "positions of a walk are no flags; to measure a machine or field with them: ringrow survey"


def _walk(fixes: int) -> str:
    return f"{fixes:,} position sentences of a walk" if fixes else "no position"


def _row(sentence: str, *, what: str) -> PointRow:
    import pynmea2

    try:
        found = pynmea2.parse(sentence, check=True)
        if not found.lat or not found.lon or not found.lat_dir or not found.lon_dir:
            message = "no place: found a waypoint without latitude, longitude or their N, S, E, W"
            raise ValueError(message)
        # The library knows this sentence's parts, but not that they are a position.
        lat, lon = float(pynmea2.dm_to_sd(found.lat)), float(pynmea2.dm_to_sd(found.lon))
        lat = -lat if found.lat_dir == "S" else lat
        lon = -lon if found.lon_dir == "W" else lon
        name = str(found.waypoint_id or "").strip()
    except pynmea2.ChecksumError as error:
        message = "found a wrong or missing checksum; allowed: a whole sentence"
        raise ValueError(message) from error
    except (pynmea2.ParseError, AttributeError, TypeError, IndexError) as error:
        message = f"found a broken sentence ({str(error)[:60]}); allowed: a whole WPL sentence"
        raise ValueError(message) from error
    lat, lon = checked_position(lat, lon)
    return PointRow(what=what, lat=lat, lon=lon, **texts_of({"name": name}))

"""Choosing the reader for a file of points."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

from ringrow.errors import FileError
from ringrow.farm.readers.geojson import read_geojson
from ringrow.farm.readers.gpx import read_gpx
from ringrow.farm.readers.rows import PointFile, read_bytes, refuse_far
from ringrow.farm.readers.table import read_table

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

READABLE: tuple[str, ...] = (".gpx", ".csv", ".tsv", ".txt", ".geojson", ".json", ".geojson.txt")
"""Endings of files that points are read from."""


def read_points(
    path: Path,
    *,
    unit: str = "ft",
    stated: Mapping[str, str] | None = None,
    farm_lonlat: Sequence[tuple[float, float]] = (),
) -> PointFile:
    """Return the points of a GPX, CSV or GeoJSON file.

    Parameters
    ----------
    path : Path
        The file; its ending says what it is.
    unit : {"ft", "m"}, default "ft"
        Unit of a bare accuracy in a table.
    stated : mapping of str to str or None, default None
        Columns the user states by role.
    farm_lonlat : sequence of tuple of float, default ()
        Places on the farm; points far from all of them are refused. [deg]

    Returns
    -------
    PointFile
        Points, what was refused and why, and what was guessed.

    Raises
    ------
    FileError
        If the file cannot be used at all.
    """
    name = path.name.lower()
    if not name.endswith(READABLE):
        message = f"{path}: found ending {path.suffix or 'none'!r}; allowed: {', '.join(READABLE)}"
        raise FileError(message)
    data = read_bytes(path)
    if name.endswith(".gpx"):
        found = read_gpx(path, data)
        if stated:
            found = replace(found, said=(*found.said, "GPX has no columns: those you stated play no part"))
    elif name.endswith((".geojson", ".json", ".geojson.txt")):
        found = read_geojson(path, data, unit=unit, stated=stated)
    else:
        found = read_table(path, data, unit=unit, stated=stated)
    near = refuse_far(found, farm_lonlat)
    refused = sorted(near.refused, key=lambda row: int(re.sub(r"\D", "", row.what) or 0))
    return replace(near, refused=tuple(refused))

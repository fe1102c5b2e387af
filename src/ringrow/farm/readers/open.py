"""Choosing the reader for a file of points."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from ringrow.errors import FileError
from ringrow.farm.readers.geojson import read_geojson
from ringrow.farm.readers.gpx import read_gpx
from ringrow.farm.readers.kml import read_kml
from ringrow.farm.readers.nmea import ENDINGS as NMEA_ENDINGS
from ringrow.farm.readers.nmea import is_nmea, read_nmea
from ringrow.farm.readers.photos import ENDINGS as PHOTO_ENDINGS
from ringrow.farm.readers.photos import FOREIGN, read_photos
from ringrow.farm.readers.rows import PointFile, order_in_file, read_bytes, refuse_far
from ringrow.farm.readers.table import read_table
from ringrow.farm.readers.vector import ENDINGS as VECTOR_ENDINGS
from ringrow.farm.readers.vector import read_vector

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

READABLE: tuple[str, ...] = (
    *(".gpx", ".csv", ".tsv", ".txt", ".geojson", ".json", ".geojson.txt", ".kml", ".kmz"),
    *VECTOR_ENDINGS,
    *NMEA_ENDINGS,
    *PHOTO_ENDINGS,
)
"""Endings of files that points are read from; a folder is read as a folder of photos."""


def read_points(
    path: Path,
    *,
    unit: str = "ft",
    stated: Mapping[str, str] | None = None,
    farm_lonlat: Sequence[tuple[float, float]] = (),
) -> PointFile:
    """Return the points of a file that people bring.

    Parameters
    ----------
    path : Path
        The file; its ending says what it is. A folder is one of photos.
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
    if not path.is_dir() and not path.name.lower().endswith((*READABLE, *FOREIGN)):
        message = f"{path}: found ending {path.suffix or 'none'!r}; allowed: {', '.join(READABLE)}"
        raise FileError(message)
    near = refuse_far(_read(path, unit=unit, stated=stated), farm_lonlat)
    refused = sorted(near.refused, key=lambda row: order_in_file(row.what))
    return replace(near, refused=tuple(refused))


def _read(path: Path, *, unit: str, stated: Mapping[str, str] | None) -> PointFile:
    name = path.name.lower()
    if path.is_dir() or name.endswith((*PHOTO_ENDINGS, *FOREIGN)):
        return read_photos(path)
    if name.endswith(VECTOR_ENDINGS):
        return read_vector(path, unit=unit, stated=stated)
    data = read_bytes(path)
    if name.endswith((".geojson", ".json", ".geojson.txt")):
        return read_geojson(path, data, unit=unit, stated=stated)
    if name.endswith((".kml", ".kmz")):
        return read_kml(path, data, unit=unit, stated=stated)
    if name.endswith(".gpx"):
        found, form = read_gpx(path, data), "GPX has"
    elif name.endswith(NMEA_ENDINGS) or is_nmea(data):
        found, form = read_nmea(path, data), "NMEA logs have"
    else:
        return read_table(path, data, unit=unit, stated=stated)
    if stated:
        found = replace(found, said=(*found.said, f"{form} no columns: those you stated play no part"))
    return found

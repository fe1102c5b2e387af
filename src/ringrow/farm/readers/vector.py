"""Points from GeoPackages and shapefiles, in whatever coordinate system they are."""

from __future__ import annotations

import json
from collections import Counter
from typing import TYPE_CHECKING, Any

from ringrow.errors import FileError, RingrowError
from ringrow.farm.readers.cells import checked_position, read_accuracy, read_status, read_time, texts_of
from ringrow.farm.readers.columns import guess_columns, without_place
from ringrow.farm.readers.kml import uuid_or_none
from ringrow.farm.readers.own import is_no_flag
from ringrow.farm.readers.rows import PointFile, PointRow, Refused, check_count, why

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from pathlib import Path

    from ringrow.farm.readers.columns import Columns
    from ringrow.farm.vectors import Layer

ENDINGS: tuple[str, ...] = (".gpkg", ".shp", ".zip")
"""Endings of vector files that points are read from; a zip file holds one shapefile."""

_SHAPES = {"LineString": "line", "LinearRing": "line", "Polygon": "area"}
_PARTED = ("MultiLineString", "MultiPolygon", "GeometryCollection", "MultiPoint")


def read_vector(path: Path, *, unit: str, stated: Mapping[str, str] | None = None) -> PointFile:
    """Return the points of a GeoPackage or shapefile.

    Parameters
    ----------
    path : Path
        The file.
    unit : {"ft", "m"}
        Unit of a bare accuracy.
    stated : mapping of str to str or None, default None
        Columns the user states by role.

    Returns
    -------
    PointFile
        Features are counted from 1 through all layers that hold points, several points of one
        feature apart. Lines and areas are left out, and said so.

    Raises
    ------
    FileError
        If it cannot be read, says no coordinate system, or holds too many points.
    """
    from ringrow.farm.faults import ShapeError

    try:
        layers = _layers(path)
    except (ShapeError, OSError) as error:
        if isinstance(error, FileError):
            raise
        message = f"{path}: {error}"
        raise FileError(message) from error
    names = list(dict.fromkeys(name for _, layer in layers for name in layer.columns))
    try:
        columns = without_place(guess_columns(names, stated=stated))
    except RingrowError as error:
        message = f"{path}: {error}"
        raise FileError(message) from error
    found = _Found()
    first = 1
    for name, layer in layers:
        before = len(found.rows) + len(found.refused)
        _take(found, path, layer, columns, first=first, unit=columns.accuracy_unit or unit)
        first += len(layer.geometries)
        if len(layers) > 1 and len(found.rows) + len(found.refused) > before:
            found.said.append(f'layer "{name[:60]}" holds points')
        found.said += layer.remarks
    if columns.index:
        found.said.append(columns.words())
    if columns.index.keys() & {"time", "date"}:
        found.said.append("times without a zone are taken as UTC")
    if found.others:
        found.said.append(f"left out: {found.others} of an exported farm that are no flags")
    if found.left:
        shapes = ", ".join(f"{n} {word}{'s' * (n != 1)}" for word, n in sorted(found.left.items()))
        found.said.append(f"left out: {shapes} (only points become flags)")
    return PointFile(
        file=path.name,
        form="vector",
        rows=tuple(found.rows),
        refused=tuple(found.refused),
        said=tuple(found.said),
    )


class _Found:
    """What was taken so far."""

    def __init__(self) -> None:
        self.rows: list[PointRow] = []
        self.refused: list[Refused] = []
        self.left: Counter[str] = Counter()
        self.others = 0
        self.said: list[str] = []


def _layers(path: Path) -> list[tuple[str, Layer]]:
    """Return the layers of a file with their names."""
    from ringrow.farm.vectors import layer_names, read_layer

    if not path.is_file():
        message = f"{path}: found no such file; allowed: a file of points"
        raise FileError(message)
    if path.suffix.lower() != ".gpkg":
        return [("", read_layer(path))]
    return [(name, read_layer(path, layer=name)) for name in layer_names(path)]


def _take(found: _Found, path: Path, layer: Layer, columns: Columns, *, first: int, unit: str) -> None:
    for at, geometry in enumerate(layer.geometries):
        what = f"feature {first + at}"
        values = {name: _text(cells[at]) for name, cells in layer.columns.items()}
        if is_no_flag(values.get("feature"), values.get("id")):
            found.others += 1
            continue
        points: list[tuple[float | None, float | None]]
        points, left = _points_of(geometry)
        found.left.update(left)
        if geometry is None or geometry.is_empty:
            if values.get("feature") != "flag" or _own_id(values) is None:
                found.refused.append(Refused(what=what, why="no place: found a feature without a point"))
                continue
            # An exported flag on a machine that stood nobody knows where.
            points = [(None, None)]
        for part, (lon, lat) in enumerate(points, start=1):
            check_count(path, len(found.rows) + len(found.refused) + 1)
            several = len(points) > 1
            label = f"{what}, point {part}" if several else what
            try:
                row = _row(values, lon, lat, columns, what=label, unit=unit, alone=not several)
                found.rows.append(row)
            except (RingrowError, ValueError) as error:
                found.refused.append(Refused(what=label, why=why(error)))


def _points_of(geometry: Any) -> tuple[list[tuple[float | None, float | None]], list[str]]:
    """Return the single points of a shape, and words for each part that is none."""
    points: list[tuple[float | None, float | None]] = []
    left: list[str] = []
    waiting = [geometry]
    while waiting:
        part = waiting.pop(0)
        if part is None or part.is_empty:
            continue
        if part.geom_type in _PARTED:
            waiting = [*part.geoms, *waiting]
        elif part.geom_type == "Point":
            points.append((float(part.x), float(part.y)))
        else:
            left.append(_SHAPES.get(part.geom_type, "other shape"))
    return points, left


def _row(
    values: Mapping[str, str],
    lon: float | None,
    lat: float | None,
    columns: Columns,
    *,
    what: str,
    unit: str,
    alone: bool,
) -> PointRow:
    if lat is not None and lon is not None:
        lat, lon = checked_position(lat, lon)
    cells = {role: values.get(columns.names[at], "") for role, at in columns.index.items()}
    time, time_remark = read_time(cells.get("time") or f"{cells.get('date', '')} {cells.get('hour', '')}")
    accuracy, accuracy_remark = read_accuracy(cells.get("accuracy", ""), unit=unit)
    status, status_remark = read_status(cells.get("status", ""))
    return PointRow(
        what=what,
        lat=lat,
        lon=lon,
        time=time,
        accuracy=accuracy,
        status=status,
        id=_own_id(values) if alone else None,
        remarks=tuple(text for text in (time_remark, accuracy_remark, status_remark) if text),
        **texts_of({**cells, "kind_words": cells.get("kind", "")}),
    )


def _own_id(values: Mapping[str, str]) -> str | None:
    found: Iterable[str] = (text for name, text in values.items() if name.casefold() in ("id", "uuid"))
    return next((known for known in map(uuid_or_none, found) if known), None)


def _text(value: Any) -> str:
    if value is None or isinstance(value, dict | list | bytes):
        return ""
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        return str(int(value))
    return (
        value
        if isinstance(value, str)
        else (str(value) if not isinstance(value, bool) else json.dumps(value))
    )

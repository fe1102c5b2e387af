"""GeoJSON as RFC 7946 wants it, written as fast as text can be joined."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from ringrow.errors import GeometryError
from ringrow.handoff.files import open_whole

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence
    from pathlib import Path

    from numpy.typing import NDArray

    from ringrow.handoff.feature_group import FeatureGroup

DECIMALS = 7
"""Decimals of a coordinate: 11 mm of latitude; the finest the program writes."""

BATCH = 2_000
"""Features turned into text at a time, so that memory does not grow with the file."""

_SCALARS = frozenset((str, int, float, bool, type(None)))
_NOT_JSON = {"NaN": "null", "Infinity": "null", "-Infinity": "null"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Mending:
    """A shape that rounding had made invalid, and what mending it moved.

    Parameters
    ----------
    feature : str
        Id of the feature.
    area_before, area_after : float
        Area of the shape in degrees before rounding and as written. [deg2]
    """

    feature: str
    area_before: float
    area_after: float

    @property
    def moved_ppm(self) -> float:
        """Share of the area that moved [ppm]; 0 for a shape without area."""
        if self.area_before == 0:
            return 0.0
        return 1e6 * abs(self.area_after - self.area_before) / self.area_before


@dataclass(frozen=True, slots=True, kw_only=True)
class GeoJsonReport:
    """What was written.

    Parameters
    ----------
    counts : dict of str to int
        Features of each kind.
    mended : tuple of Mending
        Shapes that rounding had made invalid and that were mended.
    """

    counts: dict[str, int]
    mended: tuple[Mending, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Rounded:
    shapes: NDArray[np.object_]
    mended: tuple[Mending, ...]


def write_geojson(groups: Iterable[FeatureGroup], path: Path) -> GeoJsonReport:
    """Write features as one RFC 7946 FeatureCollection, whole or not at all.

    Outer rings run counter-clockwise, there is no ``crs`` member, coordinates have at most
    seven decimals, and ``bbox`` is that of the coordinates as written. It stands at the end,
    because only then it is known.

    Parameters
    ----------
    groups : iterable of FeatureGroup
        Features; taken one group at a time.
    path : Path
        File to write; one that is there is replaced.

    Returns
    -------
    GeoJsonReport
        Counts by kind, and what had to be mended.

    Raises
    ------
    GeometryError
        If a shape spans more than half the globe, as one cut badly at 180 degrees does.
    FileError
        If the file cannot be written.
    """
    counts: dict[str, int] = {}
    mended: list[Mending] = []
    bounds = np.array([np.inf, np.inf, -np.inf, -np.inf])
    with open_whole(path) as stream:
        stream.write('{"type":"FeatureCollection","features":[')
        first = True
        for group, part in _batches(groups):
            rounded = round_shapes(group.shapes[part], group.ids[part])
            stream.write("\n" if first else ",\n")
            stream.write(",\n".join(_feature_texts(group, part, rounded.shapes)))
            first = False
            counts[group.kind] = counts.get(group.kind, 0) + len(rounded.shapes)
            mended.extend(rounded.mended)
            bounds = _grown(bounds, rounded.shapes)
        stream.write("\n]" + _bbox_member(bounds) + "}\n")
    return GeoJsonReport(counts=counts, mended=tuple(mended))


def round_shapes(shapes: NDArray[np.object_], ids: Sequence[str]) -> _Rounded:
    """Return shapes with coordinates of seven decimals, still valid, rings right-handed.

    Parameters
    ----------
    shapes : ndarray of shapely geometry, shape (n,)
        Longitude and latitude; None stays None. [deg]
    ids : sequence of str
        Ids, to name what had to be mended.

    Returns
    -------
    object
        `shapes` as they can be written, and `mended`, one entry a shape that was mended.

    Raises
    ------
    GeometryError
        If a shape spans more than half the globe.
    """
    _refuse_globe_spanning(shapes, ids)
    rounded = _rounded(shapes)
    rounded[shapely.is_empty(rounded)] = None
    # A ring that rounding has drawn together to a line or a point is invalid too.
    bad = np.flatnonzero(~shapely.is_missing(rounded) & ~shapely.is_valid(rounded))
    if len(bad):
        # Slow and thorough, so only where plain rounding broke a shape.
        rounded[bad] = _rounded(shapely.set_precision(shapes[bad], 10.0**-DECIMALS))
    mended = tuple(
        Mending(feature=ids[index], area_before=shapes[index].area, area_after=rounded[index].area)
        for index in bad.tolist()
    )
    rounded[shapely.is_empty(rounded)] = None
    rounded = _without_repeats(rounded)
    if (shapely.get_dimensions(rounded) == 2).any():
        rounded = shapely.orient_polygons(rounded)
    return _Rounded(shapes=rounded, mended=mended)


def _rounded(shapes: NDArray[np.object_]) -> NDArray[np.object_]:
    return np.asarray(
        shapely.transform(shapes, lambda lonlat: np.round(lonlat, DECIMALS) + 0.0), dtype=object
    )


def _without_repeats(shapes: NDArray[np.object_]) -> NDArray[np.object_]:
    lonlat = shapely.get_coordinates(shapes)
    same = np.flatnonzero((lonlat[1:, 0] == lonlat[:-1, 0]) & (lonlat[1:, 1] == lonlat[:-1, 1]))
    if len(same):
        _, owner = shapely.get_coordinates(shapes, return_index=True)
        repeats = np.unique(owner[same + 1][owner[same + 1] == owner[same]])
        shapes[repeats] = shapely.remove_repeated_points(shapes[repeats])
    return shapes


def _refuse_globe_spanning(shapes: NDArray[np.object_], ids: Sequence[str]) -> None:
    west, _, east, _ = np.atleast_2d(shapely.bounds(shapes)).T
    wide = np.flatnonzero(east - west > 180.0)
    if len(wide):
        message = (
            f"feature {ids[int(wide[0])]}: found a shape {float((east - west)[wide[0]]):.0f} degrees wide; "
            "allowed: up to 180; cut it at 180 degrees of longitude"
        )
        raise GeometryError(message)


def _grown(bounds: NDArray[np.float64], shapes: NDArray[np.object_]) -> NDArray[np.float64]:
    west, south, east, north = shapely.total_bounds(shapes)
    return np.array(
        [
            np.fmin(bounds[0], west),
            np.fmin(bounds[1], south),
            np.fmax(bounds[2], east),
            np.fmax(bounds[3], north),
        ]
    )


def _bbox_member(bounds: NDArray[np.float64]) -> str:
    return f',"bbox":{json.dumps(bounds.tolist())}' if np.isfinite(bounds).all() else ""


_Batch = tuple["FeatureGroup", slice]


def _batches(groups: Iterable[FeatureGroup]) -> Iterator[_Batch]:
    for group in groups:
        for start in range(0, len(group), BATCH):
            yield group, slice(start, start + BATCH)


def _template(group: FeatureGroup) -> str:
    """Return the text of one feature with ``%s`` for its id, its own properties and its geometry."""
    shared = _dumps({"feature": group.kind, **group.shared})[1:-1].replace("%", "%%")
    own = "".join("," + _dumps(name).replace("%", "%%") + ":%s" for name in group.columns)
    return f'{{"type":"Feature","id":%s,"properties":{{{shared}{own}}},"geometry":%s}}'


def _column_texts(values: Sequence[Any]) -> list[str]:
    plain = values.tolist() if isinstance(values, np.ndarray) else list(values)
    if not _SCALARS.issuperset(map(type, plain)):
        return [_dumps(value) for value in plain]
    # One call for the whole column; a line feed inside a text is written \\n, so lines are values.
    text = json.dumps(plain, ensure_ascii=False, separators=("\n", ":"))[1:-1]
    lines = text.split("\n")
    if "NaN" in text or "Infinity" in text:
        return [_NOT_JSON.get(line, line) for line in lines]
    return lines


def _dumps(value: Any) -> str:
    plain = _finite(value)
    text = json.dumps(plain, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    try:
        text.encode("utf-8")
    except UnicodeEncodeError:
        # Half a character, which a field of a later version may hold; only as an escape can it be written.
        return json.dumps(plain, allow_nan=False, separators=(",", ":"))
    return text


def _finite(value: Any) -> Any:
    if isinstance(value, dict):
        return {name: _finite(item) for name, item in value.items()}
    if isinstance(value, list | tuple):
        return [_finite(item) for item in value]
    return None if isinstance(value, float) and not np.isfinite(value) else value


def _seven_decimals(text: str | None) -> str:
    """Return the text of a shape with every number at its shortest; ``null`` for no shape.

    One number in a thousand comes as 36.750598599999996 in place of 36.7505986, which is the
    same number in the computer but not seven decimals. Only those hold a run of six 0 or 9.
    """
    if text is None:
        return "null"
    for run in ("000000", "999999"):
        at = text.find(run)
        while at >= 0:
            start = max(text.rfind("[", 0, at), text.rfind(",", 0, at)) + 1
            stop = min(end for end in (text.find("]", at), text.find(",", at)) if end >= 0)
            number = repr(round(float(text[start:stop]), DECIMALS))
            text = text[:start] + number + text[stop:]
            at = text.find(run, start + len(number))
    return text


def _feature_texts(group: FeatureGroup, part: slice, shapes: NDArray[np.object_]) -> list[str]:
    geometries = [
        _seven_decimals(text) if text is None or "000000" in text or "999999" in text else text
        for text in shapely.to_geojson(shapes)
    ]
    own = [_column_texts(values[part]) for values in group.columns.values()]
    template = _template(group)
    return [template % row for row in zip(_column_texts(group.ids[part]), *own, geometries, strict=True)]

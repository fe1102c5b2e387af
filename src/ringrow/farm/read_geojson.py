"""GeoJSON boundaries read without the large libraries: it is what most farms hold."""

from __future__ import annotations

import json
import sys
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from ringrow.errors import shortened
from ringrow.farm.faults import ShapeError, shown

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

_WGS84_NAMES = ("CRS84", "EPSG::4326", "EPSG:4326")
_DEPTH = {"Point": 0, "MultiPoint": 1, "LineString": 1, "MultiLineString": 2, "Polygon": 2, "MultiPolygon": 3}


@dataclass(frozen=True, slots=True, kw_only=True)
class RawFeatures:
    """Features as they stand in a file.

    Parameters
    ----------
    geometries : list
        GeoJSON geometries or shapely ones, in the file's coordinates; None where a feature has none.
    properties : list of dict
        Columns of each feature.
    crs : str or None
        Coordinate system in the file's own words; None or empty when it does not say.
    remarks : tuple of str, default ()
        What will be put right in reading.
    """

    geometries: list[Any]
    properties: list[dict[str, Any]]
    crs: str | None
    remarks: tuple[str, ...] = ()


def read_geojson(path: Path) -> RawFeatures | None:
    """Return the features of a GeoJSON file.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    RawFeatures or None
        Its features; None when it is JSON of another kind, for a general reader to try.

    Raises
    ------
    GeometryError
        If it is no JSON, no text, or a feature is malformed.
    """
    data = _parsed(_text(path))
    if not isinstance(data, dict) or data.get("type") not in (
        "FeatureCollection",
        "Feature",
        *_DEPTH,
        "GeometryCollection",
    ):
        return None
    return _raw(list(_features(data)), _named_crs(data.get("crs")))


def read_geojson_lines(path: Path) -> RawFeatures:
    """Return the features of a file with one GeoJSON feature a line.

    Parameters
    ----------
    path : Path
        The file; a record separator before each line (RFC 8142) may stand or not.

    Returns
    -------
    RawFeatures
        Its features.

    Raises
    ------
    GeometryError
        If a line is no GeoJSON feature.
    """
    features: list[dict[str, Any]] = []
    for number, line in enumerate(_text(path).splitlines(), 1):
        text = line.strip("\x1e \t")
        if text:
            feature = _parsed(text, line=number)
            if not isinstance(feature, dict) or feature.get("type") != "Feature":
                raise ShapeError("file", f"line {number} without a feature", "one GeoJSON feature a line")
            features.append(feature)
    return _raw(features, None)


def _raw(features: list[dict[str, Any]], crs: str | None) -> RawFeatures:
    geometries = [_checked(feature.get("geometry"), number) for number, feature in enumerate(features, 1)]
    still_open = [number for number, geometry in enumerate(geometries, 1) if _has_open_ring(geometry)]
    return RawFeatures(
        geometries=geometries,
        properties=[_properties(feature) for feature in features],
        crs=crs,
        remarks=tuple(
            f"feature {number}: a ring that does not end where it began, closed" for number in still_open
        ),
    )


def _has_open_ring(geometry: dict[str, Any] | None) -> bool:
    if geometry is None or geometry["type"] not in ("Polygon", "MultiPolygon"):
        return False
    coordinates = geometry["coordinates"]
    polygons = coordinates if geometry["type"] == "MultiPolygon" else [coordinates]
    return any(ring[0][:2] != ring[-1][:2] for polygon in polygons for ring in polygon if ring)


def _text(path: Path) -> str:
    try:
        return path.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError as error:
        found = f"a letter that is not UTF-8 at byte {error.start}"
        raise ShapeError("file", found, "GeoJSON in UTF-8", "save the file again as UTF-8") from error


def _parsed(text: str, *, line: int | None = None) -> Any:
    try:
        return json.loads(text)
    except json.JSONDecodeError as error:
        found = f"a file that stops being JSON at line {line or error.lineno} ({error.msg})"
        raise ShapeError("file", found, "whole GeoJSON", "save it again; it may be cut off") from error
    except (RecursionError, ValueError) as error:
        raise ShapeError("file", "JSON that cannot be read", "whole GeoJSON", str(error)[:80]) from error


def _features(data: dict[str, Any]) -> Iterator[dict[str, Any]]:
    if data["type"] == "FeatureCollection":
        features = data.get("features")
        if not isinstance(features, list) or not all(isinstance(feature, dict) for feature in features):
            raise ShapeError("file", "a FeatureCollection without a list of features", "whole GeoJSON")
        yield from features
    elif data["type"] == "Feature":
        yield data
    else:
        yield {"geometry": data, "properties": {}}


def _properties(feature: dict[str, Any]) -> dict[str, Any]:
    properties = feature.get("properties")
    return properties if isinstance(properties, dict) else {}


def _named_crs(crs: Any) -> str | None:
    """Return the name in a ``crs`` member, which older programs wrote; None stands for WGS 84."""
    if not isinstance(crs, dict):
        return None
    properties = crs.get("properties")
    name = properties.get("name") if isinstance(properties, dict) else None
    if not isinstance(name, str) or not name.isprintable():
        raise ShapeError("file", "a crs member that names nothing", "a name such as EPSG:26914")
    return None if name.endswith(_WGS84_NAMES) else name


def _checked(geometry: Any, number: int) -> dict[str, Any] | None:
    if geometry is None:
        return None
    kind = geometry.get("type") if isinstance(geometry, dict) else geometry
    if not isinstance(kind, str):
        kind = shown(kind)
    if kind == "GeometryCollection":
        parts = geometry.get("geometries")
        if isinstance(parts, list):
            return {"type": kind, "geometries": [_checked(part, number) for part in parts if part]}
    elif kind in _DEPTH and _nested(geometry.get("coordinates"), _DEPTH[kind]):
        return {"type": kind, "coordinates": geometry["coordinates"]}
    kind = shortened(kind, longest=40)
    found = f"feature {number} with a geometry of type {kind} whose coordinates do not fit it"
    allowed = "a GeoJSON geometry: Polygon, MultiPolygon, or a closed LineString"
    raise ShapeError("file", found, allowed)


def _nested(coordinates: Any, depth: int) -> bool:
    """Return whether coordinates are lists of lists, `depth` deep, ending in two or more numbers."""
    if not isinstance(coordinates, list):
        return False
    if depth:
        return all(_nested(item, depth - 1) for item in coordinates)
    if len(coordinates) < 2 or not all(
        isinstance(x, int | float) and not isinstance(x, bool) for x in coordinates
    ):
        return False
    # A whole number of JSON may have more digits than a coordinate can hold.
    if not all(abs(x) <= sys.float_info.max for x in coordinates):
        raise ShapeError(
            "file", "a coordinate that is no number", "finite coordinates", "draw that shape again"
        )
    return True

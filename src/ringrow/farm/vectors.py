"""Vector files of any kind, brought to WGS 84 longitude and latitude without heights.

The reader is chosen by the file's ending, never by its content, so that a file cannot send
the reading library to another file or to the network. GeoJSON is read directly, KML and KMZ
by pyogrio, everything else by fiona.
"""

from __future__ import annotations

import itertools
import math
import zipfile
import zlib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from ringrow import frame
from ringrow.errors import GeometryError, shortened
from ringrow.farm.curves import check_database, check_drawing, check_gml
from ringrow.farm.faults import ShapeError, listing, meant, number_words
from ringrow.farm.read_geojson import RawFeatures, read_geojson, read_geojson_lines
from ringrow.farm.read_library import (
    FILE_FEATURES,
    FILE_VERTICES,
    as_shape,
    library_layers,
    read_fiona,
    read_kml,
    too_many,
)

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path
    from xml.etree.ElementTree import Element

    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

FILE_BYTES = 100_000_000
"""Largest vector file [bytes], unpacked size for zipped ones."""
DRIVERS: dict[str, str] = {
    ".shp": "ESRI Shapefile",
    ".gpkg": "GPKG",
    ".fgb": "FlatGeobuf",
    ".gml": "GML",
    ".gpx": "GPX",
    ".dxf": "DXF",
    ".tab": "MapInfo File",
    ".mif": "MapInfo File",
    ".gdb": "OpenFileGDB",
    ".sqlite": "SQLite",
    ".topojson": "TopoJSON",
    ".gmt": "OGR_GMT",
}
"""Reading library's driver by file ending; GeoJSON, KML and zipped shapefiles have readers of their own."""

ENDINGS: tuple[str, ...] = tuple(
    sorted([*DRIVERS, ".geojson", ".geojsonl", ".geojsons", ".json", ".kml", ".kmz", ".zip"])
)
"""File endings that can be read."""

_FIXED_WGS84 = (".kml", ".kmz", ".gpx")
_XML = {".kml": ("kml",), ".gpx": ("gpx",), ".gml": ("FeatureCollection", "ogr_FeatureCollection")}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Layer:
    """One layer of a vector file, in longitude and latitude.

    Parameters
    ----------
    geometries : ndarray of shapely geometry, shape (n,)
        Shapes without heights; None where a feature has none. [deg]
    columns : dict of str to list
        Values by column, each of length n.
    remarks : tuple of str, default ()
        What the reader had to put right, such as rings that were not closed.
    """

    geometries: NDArray[np.object_]
    columns: dict[str, list[Any]]
    remarks: tuple[str, ...] = ()


def read_layer(path: Path, *, layer: str | None = None, crs: str | None = None) -> Layer:
    """Return one layer of a vector file in WGS 84 longitude and latitude.

    Parameters
    ----------
    path : Path
        The file, with an ending of `ENDINGS`.
    layer : str or None, default None
        Layer to read; may be left out when there is one.
    crs : str or None, default None
        Coordinate system of a file that does not say its own.

    Returns
    -------
    Layer
        Its shapes and columns.

    Raises
    ------
    GeometryError
        If the file cannot be read, is too large, says no coordinate system, or holds
        coordinates that are no numbers or lie off the globe.
    """
    ending = path.suffix.lower()
    if ending not in ENDINGS:
        found = f'a file ending in "{path.suffix}"' if path.suffix else "a file without an ending"
        raise ShapeError("file", found, f"a vector file: {', '.join(ENDINGS)}", meant(ending, ENDINGS))
    _check_size(path)
    raw = _read_raw(path, ending, layer)
    geometries = _built(raw)
    source = _source_crs(raw.crs, crs, ending)
    if source is not None:
        geometries = _in_lonlat(geometries, source)
    _check_on_globe(geometries, stated=source)
    names = list(dict.fromkeys(itertools.chain.from_iterable(raw.properties)))
    columns = {name: [properties.get(name) for properties in raw.properties] for name in names}
    return Layer(geometries=geometries, columns=columns, remarks=raw.remarks)


def layer_names(path: Path) -> list[str]:
    """Return the names of the layers of a GeoPackage.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    list of str
        Layers, in the file's order.

    Raises
    ------
    GeometryError
        If the file cannot be read or is too large.
    """
    _check_size(path)
    check_database(path)
    return library_layers(path, DRIVERS[".gpkg"])


def _check_size(path: Path) -> None:
    members = list(path.rglob("*")) if path.is_dir() else [path]
    try:
        size = sum(member.stat().st_size for member in members)
        if path.suffix.lower() in (".zip", ".kmz"):
            with zipfile.ZipFile(path) as archive:
                size = sum(item.file_size for item in archive.infolist())
    except (OSError, zipfile.BadZipFile, RuntimeError, ValueError) as error:
        raise ShapeError(
            "file", f"a file that cannot be opened ({shortened(error)})", "a whole, readable file"
        ) from error
    if size == 0:
        raise ShapeError("file", "an empty file", "a vector file with polygons", "save or copy it again")
    if size > FILE_BYTES:
        found = f"a file of {size / 1e6:.0f} MB"
        hint = "cut out the fields you need with a mapping program"
        raise ShapeError("file", found, f"at most {FILE_BYTES // 10**6} MB", hint)


def _read_raw(path: Path, ending: str, layer: str | None) -> RawFeatures:
    if ending in (".geojson", ".json"):
        if layer is not None:
            raise ShapeError("layer", f'layer "{layer}"', "no layer: GeoJSON has none", "leave layer out")
        raw = read_geojson(path)
        return raw if raw is not None else read_fiona(path, "ESRIJSON", None)
    if ending in (".geojsonl", ".geojsons"):
        return read_geojson_lines(path)
    if ending in _XML:
        document = _check_xml(path.read_bytes(), _XML[ending])
        if ending == ".gml":
            check_gml(document)
    if ending in (".kml", ".kmz"):
        return read_kml(_kml_bytes(path), layer)
    if ending == ".zip":
        return read_fiona(f"/vsizip/{path}/{_zipped_shapefile(path)}", DRIVERS[".shp"], layer)
    if ending == ".shp":
        _check_sidecars(path)
    if ending in (".gpkg", ".sqlite"):
        check_database(path)
    if ending == ".dxf":
        check_drawing(path.read_bytes())
    return read_fiona(path, DRIVERS[ending], layer)


def _check_xml(content: bytes, roots: tuple[str, ...]) -> Element:
    """Refuse broken XML, entities, and documents of another kind, which can blow up or reach out."""
    from xml.etree.ElementTree import ParseError

    from defusedxml import DefusedXmlException
    from defusedxml.ElementTree import fromstring

    try:
        document = fromstring(content, forbid_dtd=True)
    except DefusedXmlException as error:
        found = "XML with a document type or entities"
        raise ShapeError("file", found, "plain XML", "save it again from a mapping program") from error
    except (ParseError, LookupError, ValueError) as error:
        raise ShapeError(
            "file", f"broken XML ({shortened(error)})", "a whole XML file", "it may be cut off"
        ) from error
    root = str(document.tag).rpartition("}")[2]
    if root not in roots:
        raise ShapeError("file", f"XML of another kind ({root[:40]})", f"a document of {' or '.join(roots)}")
    return document


def _check_sidecars(path: Path) -> None:
    parts = {part.suffix.lower() for part in path.parent.iterdir() if part.stem == path.stem}
    missing = [ending for ending in (".shx", ".dbf") if ending not in parts]
    if missing:
        found = f"a shapefile without {' and '.join(path.stem + ending for ending in missing)}"
        raise ShapeError(
            "file", found, "all parts of it: .shp, .shx, .dbf, .prj", "copy them all side by side"
        )


def sidecars(path: Path) -> list[Path]:
    """Return the other files that may be read together with one: those of the same name.

    Parameters
    ----------
    path : Path
        The file named by the farm.

    Returns
    -------
    list of Path
        Files beside it, or inside it where it is a folder.
    """
    if path.is_dir():
        return list(path.rglob("*"))
    return [part for part in path.parent.iterdir() if part.stem == path.stem and part.name != path.name]


def _zipped_shapefile(path: Path) -> str:
    with zipfile.ZipFile(path) as archive:
        names = [name for name in archive.namelist() if name.lower().endswith(".shp")]
    if len(names) != 1:
        found = f"a zip file with {len(names)} shapefiles"
        raise ShapeError("file", found, "a zip file with one shapefile", "unpack it and name the .shp")
    return names[0]


def _kml_bytes(path: Path) -> bytes:
    if path.suffix.lower() == ".kml":
        return path.read_bytes()
    with zipfile.ZipFile(path) as archive:
        names = [name for name in archive.namelist() if name.lower().endswith(".kml")]
        if not names:
            raise ShapeError(
                "file", "a KMZ file without a KML file in it", "a KMZ file with fields drawn in it"
            )
        try:
            # It may hold more than it says: asked for no more than the limit, no more is unpacked.
            with archive.open(names[0]) as stream:
                content = stream.read(FILE_BYTES)
        except (OSError, EOFError, zipfile.BadZipFile, zlib.error, RuntimeError, ValueError) as error:
            found = f"a KMZ file that cannot be unpacked ({shortened(error)})"
            raise ShapeError("file", found, "a whole KMZ file", "it may be cut off or locked") from error
    _check_xml(content, _XML[".kml"])
    return content


def _built(raw: RawFeatures) -> NDArray[np.object_]:
    """Return shapely shapes without heights; a ring of fewer than three corners counts as no shape."""
    if len(raw.geometries) > FILE_FEATURES:
        raise too_many(f"{len(raw.geometries)} features")
    shapes = np.empty(len(raw.geometries), dtype=object)
    for number, geometry in enumerate(raw.geometries):
        shapes[number] = as_shape(geometry, number + 1) if isinstance(geometry, dict) else geometry
    vertices = int(shapely.get_num_coordinates(shapes).sum())
    if vertices > FILE_VERTICES:
        raise too_many(f"{vertices} vertices")
    flat: NDArray[np.object_] = shapely.force_2d(shapes)
    coordinates = shapely.get_coordinates(flat)
    if not np.isfinite(coordinates).all():
        raise ShapeError(
            "file", "a coordinate that is no number", "finite coordinates", "draw that shape again"
        )
    return flat


def _source_crs(own: str | None, stated: str | None, ending: str) -> str | None:
    """Return the coordinate system to convert from; None when it is WGS 84 degrees already."""
    if ending in _FIXED_WGS84:
        if stated is not None:
            found = f'crs "{stated}"'
            raise ShapeError("crs", found, f"no crs: {ending} is always WGS 84", "leave crs out")
        return None
    if own and stated is not None:
        found = f'crs "{stated}" for a file that says its own'
        raise ShapeError("crs", found, "no crs where the file says it", "leave crs out")
    if "json" in ending:
        return own or stated
    if not own and stated is None:
        hint = 'copy its .prj file too, or add crs = "EPSG:..." to this table'
        raise ShapeError("file", "a file that does not say its coordinate system", "a file with one", hint)
    return own or stated


def _in_lonlat(geometries: NDArray[np.object_], crs: str) -> NDArray[np.object_]:
    try:
        moved: NDArray[np.object_] = frame.to_lonlat_from_crs(geometries, crs)
    except GeometryError as error:
        hint = 'such as crs = "EPSG:26914"'
        raise ShapeError("crs", f'crs "{crs[:60]}"', "a coordinate system that PROJ knows", hint) from error
    return moved


def _check_on_globe(geometries: NDArray[np.object_], *, stated: str | None) -> None:
    coordinates = shapely.get_coordinates(geometries)
    off = ~((np.abs(coordinates[:, 0]) <= 180) & (np.abs(coordinates[:, 1]) <= 89))
    if not off.any():
        return
    x, y = (float(value) for value in coordinates[off][0])
    if not (math.isfinite(x) and math.isfinite(y)):
        hint = "the coordinate system stated is not that of the file" if stated else "draw that shape again"
        raise ShapeError("crs", "coordinates that lie nowhere on the globe", "the file's own system", hint)
    found = f"longitude {number_words(x)}, latitude {number_words(y)}"
    if abs(x) <= 89 and abs(y) <= 180:
        hint = "latitude and longitude look swapped; GeoJSON has longitude first"
    else:
        hint = 'if these are metres or feet, add crs = "EPSG:..." to this table'
    raise ShapeError("file", found, "longitude -180 to 180, latitude -89 to 89", hint)


def select(layer: Layer, where: Mapping[str, Any] | None) -> NDArray[np.intp]:
    """Return the positions of features whose columns have the wanted values.

    Parameters
    ----------
    layer : Layer
        The layer.
    where : mapping or None
        Wanted value by column; None for every feature.

    Returns
    -------
    ndarray of int
        Positions, rising.

    Raises
    ------
    GeometryError
        If a column is not there, or no feature has the values.
    """
    keep = np.ones(len(layer.geometries), dtype=bool)
    for column, wanted in (where or {}).items():
        if column not in layer.columns:
            names = list(layer.columns)
            asked = shortened(column, longest=60)
            hint = meant(column, names)
            raise ShapeError(f"where.{asked}", f'no column "{asked}"', f"one of {listing(names)}", hint)
        keep &= np.array([_same(value, wanted) for value in layer.columns[column]], dtype=bool)
        if not keep.any():
            values = sorted({cell_words(value) for value in layer.columns[column] if value is not None})
            found = f"no feature with {column} = {shortened(cell_words(wanted), longest=60)}"
            hint = meant(cell_words(wanted), values)
            raise ShapeError(f"where.{column}", found, f"one of {listing(values)}", hint)
    return np.flatnonzero(keep)


def cell_words(value: Any) -> str:
    """Return a cell of a vector file's table as text, whole numbers without a point.

    Parameters
    ----------
    value : object
        Text, number, date or None.

    Returns
    -------
    str
        The text; empty for None.

    Examples
    --------
    >>> cell_words(3.0), cell_words(" North "), cell_words(None)
    ('3', 'North', '')
    """
    if value is None:
        return ""
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        return str(int(value))
    return str(value).strip()


def _same(value: Any, wanted: Any) -> bool:
    # Text "3" and number 3 are the same to a person who reads a table.
    return value is not None and cell_words(value) == cell_words(wanted)


def polygons_of(geometry: BaseGeometry | None) -> tuple[list[BaseGeometry], list[str]]:
    """Return the polygons in one feature; a closed line counts as an outline.

    Parameters
    ----------
    geometry : shapely geometry or None
        Any shape. [deg]

    Returns
    -------
    polygons : list of Polygon
        Its polygons, as drawn. [deg]
    remarks : list of str
        What was left out or taken as something else.
    """
    polygons: list[BaseGeometry] = []
    remarks: list[str] = []
    for part in single_shapes(geometry):
        if part.geom_type == "Polygon" and not part.is_empty:
            polygons.append(part)
        elif part.geom_type in ("LineString", "LinearRing") and not part.is_empty:
            outline, remark = _closed(part)
            polygons += [outline] if outline is not None else []
            remarks.append(remark)
        elif part.geom_type == "Point":
            remarks.append("a point left out")
    return polygons, remarks


CLOSING_GAP_M = 10.0
"""A line whose ends lie this near [m] is taken as an outline."""


def _closed(line: BaseGeometry) -> tuple[BaseGeometry | None, str]:
    coordinates = shapely.get_coordinates(line)
    gap_m, _ = frame.distance_azimuth(*coordinates[0], *coordinates[-1])
    if gap_m > CLOSING_GAP_M or len(coordinates) < 4:
        return None, f"a line left out, its ends lie {gap_m:.0f} m apart"
    return shapely.Polygon(coordinates), f"a line taken as an outline, its ends lie {gap_m:.1f} m apart"


def single_shapes(geometry: BaseGeometry | None) -> Iterator[BaseGeometry]:
    """Yield the points, lines and polygons of one feature, collections opened.

    Parameters
    ----------
    geometry : shapely geometry or None
        Any shape. [deg]

    Yields
    ------
    shapely geometry
        Single parts, in their order.
    """
    if geometry is None:
        return
    parts = getattr(geometry, "geoms", None)
    if parts is None:
        yield geometry
        return
    for part in parts:
        yield from single_shapes(part)

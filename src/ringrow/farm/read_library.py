"""Vector files through the reading libraries: fiona for most kinds, pyogrio for KML."""

from __future__ import annotations

import logging
import sys
import warnings
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import shapely

from ringrow.farm.faults import ShapeError, listing, meant
from ringrow.farm.read_geojson import RawFeatures

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

FILE_VERTICES = 1_000_000
"""Most vertices read from one layer."""
FILE_FEATURES = 100_000
"""Most features read from one layer."""

# The GML reader otherwise writes what it found out about the file into a file beside it.
_READ_ONLY = {"GML": {"WRITE_GFS": "NO"}}
_LAYERED = ("GPKG", "SQLite", "OpenFileGDB", "GML", "TopoJSON")


@contextmanager
def _quiet() -> Iterator[None]:
    """Keep the reading libraries from also logging and warning of what they raise or leave out."""
    logger = logging.getLogger("fiona")
    level = logger.level
    logger.setLevel(logging.CRITICAL)
    # What fails inside the library's own logging would be printed, trace and all.
    hook = sys.unraisablehook
    sys.unraisablehook = lambda _: None
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            yield
    finally:
        sys.unraisablehook = hook
        logger.setLevel(level)


def read_fiona(path: Path | str, driver: str, layer: str | None) -> RawFeatures:
    """Return the features of one layer, opened by one driver of fiona alone.

    Parameters
    ----------
    path : Path or str
        The file, or a file inside a zip file as GDAL names it.
    driver : str
        The driver's name.
    layer : str or None
        Layer to read; None when there is one.

    Returns
    -------
    RawFeatures
        Features in the file's coordinates.

    Raises
    ------
    GeometryError
        If the file cannot be read or the layer is not there.
    """
    import fiona

    try:
        with _quiet():
            name = _layer_name(str(path), driver, layer)
            with fiona.open(
                str(path), enabled_drivers=[driver], layer=name, **_READ_ONLY.get(driver, {})
            ) as source:
                return _gathered(source)
    except ShapeError:
        raise
    except Exception as error:
        # On broken files the library raises nearly anything, errors of its own inner parts too.
        found = f"a file that does not open as {driver} ({str(error)[:120]})"
        raise ShapeError(
            "file", found, "a whole vector file", "open and save it again, or copy it anew"
        ) from error


def library_layers(path: Path, driver: str) -> list[str]:
    """Return the names of a file's layers.

    Parameters
    ----------
    path : Path
        The file.
    driver : str
        Name of the reading library's driver, which alone is asked.

    Returns
    -------
    list of str
        Layers that hold shapes, in the file's order.

    Raises
    ------
    GeometryError
        If the file cannot be read.
    """
    import fiona

    try:
        with _quiet():
            fiona.open(str(path), enabled_drivers=[driver], **_READ_ONLY.get(driver, {})).close()
            names = [str(name) for name in fiona.listlayers(str(path), **_READ_ONLY.get(driver, {}))]
            return [name for name in names if _has_shapes(str(path), driver, name)]
    except Exception as error:
        # On broken files the library raises nearly anything, errors of its own inner parts too.
        found = f"a file that does not open as {driver} ({str(error)[:120]})"
        hint = "open and save it again, or copy it anew"
        raise ShapeError("file", found, "a whole vector file", hint) from error


def _has_shapes(path: str, driver: str, layer: str) -> bool:
    """Return whether a layer holds shapes; a table of styles or words alone does not."""
    import fiona

    with fiona.open(path, layer=layer, enabled_drivers=[driver], **_READ_ONLY.get(driver, {})) as source:
        return bool(source.schema["geometry"] != "None")


def _layer_name(path: str, driver: str, layer: str | None) -> str | None:
    """Return the layer to open; None for kinds of file that have only one."""
    import fiona

    if driver not in _LAYERED:
        if layer is not None:
            raise ShapeError(
                "layer", f'layer "{layer}"', "no layer: this kind of file has one", "leave layer out"
            )
        return "tracks" if driver == "GPX" else None
    # Listing asks every driver; opened first with this one alone, the file is known to be its own.
    fiona.open(path, enabled_drivers=[driver], **_READ_ONLY.get(driver, {})).close()
    return _choose_layer(fiona.listlayers(path, **_READ_ONLY.get(driver, {})), layer)


def _gathered(source: Any) -> RawFeatures:
    shapes: list[Any] = []
    properties: list[dict[str, Any]] = []
    vertices = 0
    for feature in source:
        shape = as_shape(feature.geometry, len(shapes) + 1)
        vertices += int(shapely.get_num_coordinates(shape))
        if len(shapes) >= FILE_FEATURES or vertices > FILE_VERTICES:
            raise too_many(f"more than {FILE_FEATURES if len(shapes) >= FILE_FEATURES else FILE_VERTICES}")
        shapes.append(shape)
        properties.append(dict(feature.properties))
    return RawFeatures(geometries=shapes, properties=properties, crs=source.crs_wkt or "")


def as_shape(geometry: Any, number: int) -> Any:
    """Return a geometry of a file as a shapely one.

    Parameters
    ----------
    geometry : object
        Geometry as the reader gives it, or None.
    number : int
        Number of its feature, for the message. [-]

    Returns
    -------
    shapely geometry or None
        The shape.

    Raises
    ------
    GeometryError
        If it is no shape, such as a ring of two corners.
    """
    try:
        return shapely.geometry.shape(geometry) if geometry else None
    except (ValueError, TypeError, LookupError, ArithmeticError, shapely.errors.ShapelyError) as error:
        # An empty part within a shape of several is an index out of range to the library.
        found = f"feature {number} that is no shape ({str(error)[:80]})"
        raise ShapeError("file", found, "polygons of three or more corners", "draw it again") from error


def _choose_layer(layers: list[str], layer: str | None) -> str:
    if layer is not None:
        if layer not in layers:
            raise ShapeError("layer", f'layer "{layer}"', f"one of {listing(layers)}", meant(layer, layers))
        return layer
    if len(layers) == 1:
        return layers[0]
    found = f"a file with {len(layers)} layers"
    allowed = f"one of {listing(layers)}" if layers else "a file with a layer of polygons"
    raise ShapeError("layer", found, allowed, 'say which: layer = "..."' if layers else "")


def read_kml(content: bytes, layer: str | None) -> RawFeatures:
    """Return the features of a KML document: of all its folders, or of one.

    Parameters
    ----------
    content : bytes
        The document.
    layer : str or None
        Folder to read; None for all.

    Returns
    -------
    RawFeatures
        Features in longitude and latitude.

    Raises
    ------
    GeometryError
        If the document cannot be read or the folder is not there.
    """
    import pyogrio

    try:
        with _quiet():
            layers = [str(name) for name in pyogrio.list_layers(content)[:, 0]]
            # By number: a document without folders is named anew each time it is opened.
            chosen = range(len(layers)) if layer is None else [layers.index(_choose_layer(layers, layer))]
            tables = [pyogrio.raw.read(content, layer=number, force_2d=True) for number in chosen]
    except ShapeError:
        raise
    except (pyogrio.errors.DataSourceError, pyogrio.errors.DataLayerError, ValueError, RuntimeError) as error:
        found = f"a file that does not open as KML ({str(error)[:120]})"
        raise ShapeError("file", found, "a whole KML file", "save it again") from error
    geometries: list[Any] = []
    properties: list[dict[str, Any]] = []
    for meta, _, shapes, columns in tables:
        if shapes is not None:
            geometries += list(shapely.from_wkb(shapes))
            rows = zip(*(column.tolist() for column in columns), strict=True)
            properties += [dict(zip(meta["fields"].tolist(), row, strict=True)) for row in rows]
    return RawFeatures(geometries=geometries, properties=properties, crs=None)


def too_many(found: str) -> ShapeError:
    """Return the error for a layer that holds too much.

    Parameters
    ----------
    found : str
        What was found.

    Returns
    -------
    ShapeError
        The error, to be raised.
    """
    allowed = f"at most {FILE_FEATURES} features and {FILE_VERTICES} vertices"
    return ShapeError("file", found, allowed, "cut out the fields you need with a mapping program")

"""GeoPackage: every kind of feature as a layer, with looks that a desktop GIS takes up by itself."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from ringrow.errors import FileError, shortened
from ringrow.handoff.export_layers import column_array
from ringrow.handoff.files import whole_file
from ringrow.handoff.gis_styles import layer_qml, layer_sld

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from ringrow.handoff.export_layers import Layer

# Programs of some years ago warn at anything newer; nothing newer is needed.
_VERSION = "1.2"
_TIME_COLUMNS = frozenset({"set_at"})
# GDAL's number for a time in UTC; a quarter of an hour east of it is one more.
_UTC_CODE = 100

# The table that desktop GIS programs look up styles in; it is no part of the standard, so it is listed
# among the contents as a table of attributes.
_STYLES_TABLE = """
CREATE TABLE layer_styles (
    id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
    f_table_catalog TEXT(256),
    f_table_schema TEXT(256),
    f_table_name TEXT(256),
    f_geometry_column TEXT(256),
    styleName TEXT(30),
    styleQML TEXT,
    styleSLD TEXT,
    useAsDefault BOOLEAN,
    description TEXT,
    owner TEXT(30),
    ui TEXT(30),
    update_time DATETIME DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now'))
)
"""


def write_gpkg(layers: Sequence[Layer], path: Path) -> None:
    """Write layers as one GeoPackage with their styles, whole or not at all.

    Parameters
    ----------
    layers : sequence of Layer
        The layers.
    path : Path
        File to write; one that is there is replaced.

    Raises
    ------
    FileError
        If the file cannot be written.
    """
    with whole_file(path) as part:
        for number, layer in enumerate(layers):
            version = {} if number else {"dataset_options": {"VERSION": _VERSION}}
            write_layer(layer, part, driver="GPKG", append=number > 0, times=True, **version)
        with closing(sqlite3.connect(part)) as database, database:
            _write_styles(database, layers)


def write_layer(
    layer: Layer, path: Path, *, driver: str, append: bool = False, times: bool = False, **options: Any
) -> None:
    """Write one layer with a vector file driver.

    Parameters
    ----------
    layer : Layer
        The layer.
    path : Path
        File to write to.
    driver : str
        Name of the driver.
    append : bool, default False
        Whether the file is there and gains a layer.
    times : bool, default False
        Whether columns of times are written as times; else as text.
    **options : object
        Further options of the driver.

    Raises
    ------
    FileError
        If the driver cannot write it.
    """
    from pyogrio.errors import DataLayerError, DataSourceError, FeatureError, FieldError, GeometryError
    from pyogrio.raw import write

    columns = [_column(name, values, times=times) for name, values in layer.columns.items()]
    in_time = [
        name
        for name, values, _ in zip(layer.columns, *zip(*columns, strict=True), strict=True)
        if values.dtype.kind == "M"
    ]
    try:
        write(
            path,
            geometry=shapely.to_wkb(layer.shapes),
            field_data=[values for values, _ in columns],
            fields=list(layer.columns),
            field_mask=[empty if values.dtype.kind in "bi" else None for values, empty in columns],
            layer=layer.name,
            driver=driver,
            crs="EPSG:4326",
            encoding="UTF-8",
            append=append,
            gdal_tz_offsets={name: np.full(len(layer), _UTC_CODE) for name in in_time},
            **_geometry(layer),
            **options,
        )
    except (DataLayerError, DataSourceError, FeatureError, FieldError, GeometryError) as error:
        message = (
            f'output file: layer "{layer.name}" could not be written ({shortened(error)}); is the disk full?'
        )
        raise FileError(message) from error


def _geometry(layer: Layer) -> dict[str, Any]:
    """Return what kind of shape the layer holds: one kind, as the standard wants it."""
    several = {shape.geom_type for shape in layer.shapes if shape is not None} - {layer.shape}
    # Areas come in one part and in several within the same farm, so they are always of several parts.
    multi = layer.shape == "Polygon" or bool(several)
    return {"geometry_type": f"Multi{layer.shape}" if multi else layer.shape, "promote_to_multi": multi}


def _column(name: str, values: Sequence[Any], *, times: bool) -> tuple[Any, Any]:
    if times and name in _TIME_COLUMNS:
        return _times(values), np.array([value is None for value in values])
    return column_array(values)


def _times(values: Sequence[str | None]) -> Any:
    """Return texts of UTC times as times; GeoPackage has them to the millisecond."""
    moments = [
        np.datetime64("NaT") if text is None
        else np.datetime64(datetime.fromisoformat(text).astimezone(UTC).replace(tzinfo=None), "ms")
        for text in values
    ]  # fmt: skip
    return np.array(moments, dtype="datetime64[ms]")


def _write_styles(database: sqlite3.Connection, layers: Sequence[Layer]) -> None:
    database.execute(_STYLES_TABLE)
    database.execute(
        "INSERT INTO gpkg_contents (table_name, data_type, identifier, description) VALUES (?, ?, ?, ?)",
        ("layer_styles", "attributes", "layer_styles", "looks of the layers"),
    )
    geometry_columns = dict(database.execute("SELECT table_name, column_name FROM gpkg_geometry_columns"))
    database.executemany(
        "INSERT INTO layer_styles (f_table_catalog, f_table_schema, f_table_name, f_geometry_column, "
        "styleName, styleQML, styleSLD, useAsDefault, description, owner) "
        "VALUES ('', '', ?, ?, ?, ?, ?, 1, ?, '')",
        [
            (
                layer.name,
                geometry_columns[layer.name],
                "ringrow",
                layer_qml(layer.name, layer.shape),
                layer_sld(layer.name, layer.shape),
                f"looks of {layer.name.replace('_', ' ')}",
            )
            for layer in layers
        ],
    )

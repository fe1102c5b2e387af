"""Features sorted into the layers of a table file: one kind of shape and one set of columns each."""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from ringrow.handoff.geojson import Mending, round_shapes

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

    from ringrow.handoff.feature_group import FeatureGroup

LAYERS: dict[str, tuple[str, ...]] = {
    "boundaries": ("boundary",),
    "exclusions": ("exclusion",),
    "wetted": ("wetted-area",),
    "wetted_parts": ("pivot-base", "end-gun-ring", "corner-arm-sweep", "bend"),
    "dry_pieces": ("dry-piece", "edge-strips"),
    "tracks": ("tower-track", "arm-wheel-path", "cart-path", "bent-pipe", "pivot-road"),
    "keep_off_areas": (),
    "keep_off_lines": (),
    "keep_off_points": (),
    "laterals": ("lateral",),
    "pipes": ("header", "flush-line"),
    "points": ("pivot-point", "tower", "arm-station", "gate"),
    "wells": ("well",),
    "flags": ("flag",),
}
"""Layers in the order they are drawn, and the kinds of feature in each. What guns keep off is a house, a
road or a power line: it goes by the dimension of its shapes."""

SHAPES = ("Point", "LineString", "Polygon")
"""What the shapes of a layer can be, by their dimension."""

_LAYER_OF = {kind: layer for layer, kinds in LAYERS.items() for kind in kinds}
_BY_DIMENSION = {
    "keep-off": ("keep_off_points", "keep_off_lines", "keep_off_areas"),
    "": ("points", "tracks", "wetted_parts"),
}


@dataclass(slots=True, kw_only=True)
class _Growing:
    shapes: list[NDArray[np.object_]] = field(default_factory=list)
    columns: dict[str, list[Any]] = field(default_factory=dict)
    rows: int = 0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Layer:
    """One layer of a table file.

    Parameters
    ----------
    name : str
        Its name.
    shape : {"Point", "LineString", "Polygon"}
        What its shapes are.
    shapes : ndarray of shapely geometry, shape (n,)
        Longitude and latitude with seven decimals; None for a feature without a position. [deg]
    columns : dict of str to list
        n values each; None for what a feature does not have. Lists are JSON text.
    """

    name: str
    shape: str
    shapes: NDArray[np.object_]
    columns: dict[str, list[Any]]

    def __len__(self) -> int:
        return len(self.shapes)


def sort_into_layers(groups: Iterable[FeatureGroup]) -> tuple[list[Layer], tuple[Mending, ...]]:
    """Return features as layers, each with the union of its features' columns.

    Parameters
    ----------
    groups : iterable of FeatureGroup
        Features of a farm.

    Returns
    -------
    layers : list of Layer
        Those with features, in the order of `LAYERS`. A kind that is not named there goes by the
        dimension of its shapes.
    mended : tuple of Mending
        Shapes that rounding had made invalid and that were mended.
    """
    growing: dict[str, _Growing] = {}
    mended: list[Mending] = []
    for group in groups:
        rounded = round_shapes(group.shapes, group.ids)
        mended += rounded.mended
        for name, rows in _rows_by_layer(group.kind, rounded.shapes).items():
            _add(growing.setdefault(name, _Growing()), group.select(rows), rounded.shapes[rows])
    layers = [_layer(name, growing[name]) for name in LAYERS if name in growing]
    return layers, tuple(mended)


def _rows_by_layer(kind: str, shapes: NDArray[np.object_]) -> dict[str, list[int]]:
    """Return which features of a group go to which layer."""
    if kind in _LAYER_OF:
        return {_LAYER_OF[kind]: list(range(len(shapes)))}
    names = _BY_DIMENSION.get(kind, _BY_DIMENSION[""])
    dimensions = np.maximum(shapely.get_dimensions(shapes), 0)
    return {names[at]: np.flatnonzero(dimensions == at).tolist() for at in np.unique(dimensions).tolist()}


def _add(layer: _Growing, group: FeatureGroup, shapes: NDArray[np.object_]) -> None:
    count = len(group)
    own: dict[str, Sequence[Any]] = {
        "feature": [group.kind] * count,
        "id": group.ids,
        **{name: [value] * count for name, value in group.shared.items()},
        **group.columns,
    }
    layer.shapes.append(shapes)
    for name, values in own.items():
        column = layer.columns.setdefault(name, [None] * layer.rows)
        column.extend(_plain(value) for value in values)
    layer.rows += count
    for column in layer.columns.values():
        column.extend([None] * (layer.rows - len(column)))


def _plain(value: Any) -> Any:
    """Return a value that a table can hold: numbers of the standard library, lists as JSON text."""
    if isinstance(value, np.ndarray | np.generic):
        value = value.tolist()
    if isinstance(value, dict | list | tuple):
        return json.dumps(value, ensure_ascii=False) if value else None
    return None if isinstance(value, float) and not np.isfinite(value) else value


def _dimension(shapes: NDArray[np.object_]) -> int:
    return max(0, int(shapely.get_dimensions(shapes).max(initial=-1)))


def _layer(name: str, growing: _Growing) -> Layer:
    shapes = np.concatenate(growing.shapes)
    # A column in which nothing stands tells nobody anything.
    columns = {
        title: values
        for title, values in growing.columns.items()
        if any(value is not None for value in values)
    }
    return Layer(name=name, shape=SHAPES[_dimension(shapes)], shapes=shapes, columns=columns)


def column_array(values: Sequence[Any]) -> tuple[NDArray[Any], NDArray[np.bool_]]:
    """Return a column as one array of one type, and where it is empty.

    Parameters
    ----------
    values : sequence
        Plain values and None.

    Returns
    -------
    values : ndarray, shape (n,)
        Booleans, whole numbers, numbers, or else texts.
    empty : ndarray of bool, shape (n,)
        Where there is no value; `values` holds something harmless there.

    Examples
    --------
    >>> column_array([1, None, 2.5])[0]
    array([1. , nan, 2.5])
    >>> column_array([True, None])[1]
    array([False,  True])
    """
    empty = np.array([value is None for value in values], dtype=bool)
    kinds = {type(value) for value in values if value is not None}
    if kinds == {bool}:
        return np.array([bool(value) for value in values]), empty
    if kinds == {int} and all(abs(value or 0) < 2**63 for value in values):
        return np.array([value or 0 for value in values], dtype=np.int64), empty
    if kinds and kinds <= {int, float}:
        return np.array([np.nan if value is None else float(value) for value in values]), empty
    texts = np.array([None if value is None else _text(value) for value in values], dtype=object)
    return texts, empty


def _text(value: Any) -> str:
    return value if isinstance(value, str) else json.dumps(value)

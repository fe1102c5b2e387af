"""Field boundaries for a table of pivots: any vector file, mended where that is needed, and said."""

from __future__ import annotations

from dataclasses import dataclass
from difflib import get_close_matches
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from ringrow.coverage.bulk_acres import too_far
from ringrow.errors import DomainError, FileError, GeometryError
from ringrow.farm.faults import ShapeError
from ringrow.farm.readers.cells import plain_words
from ringrow.farm.vectors import cell_words, polygons_of, read_layer
from ringrow.frame import REACH_M, Frame
from ringrow.geometry.repair import mend

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from numpy.typing import NDArray

    from ringrow.farm.vectors import Layer

# Our own list, English and Spanish; the first found wins.
_NAMES = (
    *("field", "field name", "name", "campo", "lote", "parcela", "nombre", "nombre del campo"),
    *("label", "id", "field id", "number", "numero", "fid"),
)
_AREAS = (3, 6)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BulkFields:
    """Fields that pivots may stand in.

    Parameters
    ----------
    names : tuple of str
        Name of each; ``field 5`` where there is none.
    shapes : ndarray of shapely Polygon or MultiPolygon, shape (n,)
        Valid boundaries in longitude and latitude, holes being no ground of the field. [deg]
    said : tuple of str
        Where the names come from, what was mended, what was left out.
    """

    names: tuple[str, ...]
    shapes: NDArray[np.object_]
    said: tuple[str, ...]


def read_bulk_fields(
    path: Path, *, name_field: str | None = None, layer: str | None = None, crs: str | None = None
) -> BulkFields:
    """Return the fields of a vector file.

    Parameters
    ----------
    path : Path
        Any vector file of polygons.
    name_field : str or None, default None
        Column that holds the names; None looks for one.
    layer : str or None, default None
        Layer to read; may be left out when there is one.
    crs : str or None, default None
        Coordinate system of a file that does not say its own.

    Returns
    -------
    BulkFields
        Fields in the file's order, without those that cannot be used.

    Raises
    ------
    FileError
        If the file cannot be read, or holds no polygon that can be used.
    DomainError
        If there is no such column.
    """
    try:
        found = read_layer(path, layer=layer, crs=crs)
    except (ShapeError, OSError) as error:
        message = f"{path}: {error}"
        raise FileError(message) from error
    names, said_names = _names(found, name_field)
    said = [*found.remarks, said_names]
    shapes = found.geometries.copy()
    kinds = shapely.get_type_id(shapes)
    for at in np.flatnonzero(~np.isin(kinds, _AREAS)).tolist():
        shapes[at] = _outline(shapes[at])
    empty = shapely.is_missing(shapes) | shapely.is_empty(shapes)
    if empty.any():
        said.append(f"left out: {int(empty.sum())} without a polygon ({_few(names, empty)})")
    for at in np.flatnonzero(~empty & ~shapely.is_valid(shapes)).tolist():
        shapes[at], text = _mended(shapes[at])
        empty[at] = shapes[at] is None
        said.append(f"{names[at]}: {text}")
    wide = np.zeros(len(shapes), bool)
    wide[~empty] = too_far(shapes[~empty])
    if wide.any():
        said.append(
            f"left out: {int(wide.sum())} reaching more than {REACH_M / 1000:g} km from their middle "
            f"({_few(names, wide)}); give fields, not districts"
        )
    kept = np.flatnonzero(~empty & ~wide)
    if not len(kept):
        message = f"{path}: found no polygon that can be used; allowed: a file of field boundaries"
        raise FileError(f"{message} ({'; '.join(said[-2:])})" if said else message)
    return BulkFields(names=tuple(names[at] for at in kept.tolist()), shapes=shapes[kept], said=tuple(said))


def _outline(shape: Any) -> Any:
    """Return the polygons of a collection, or of a closed line; None when there are none."""
    polygons, _ = polygons_of(shape)
    return shapely.multipolygons(polygons) if polygons else None


def _mended(shape: Any) -> tuple[Any, str]:
    frame = Frame.about(shape)
    try:
        mended = mend(frame.project(shape))
    except GeometryError as error:
        return None, f"left out, its boundary cannot be mended ({error})"
    moved = abs(mended.area_after_m2 - mended.area_before_m2)
    text = " ".join(mended.changes) or "The boundary was rebuilt."
    return frame.unproject(mended.geometry), f"boundary mended: {text} {moved:.1f} m2 moved."


def _names(layer: Layer, name_field: str | None) -> tuple[list[str], str]:
    columns = list(layer.columns)
    if name_field is not None:
        folded = [column.casefold() for column in columns]
        if name_field.casefold() not in folded:
            near = get_close_matches(name_field.casefold(), folded, n=1, cutoff=0.5)
            hint = f'; nearest: "{columns[folded.index(near[0])]}"' if near else ""
            listed = ", ".join(f'"{name[:40]}"' for name in columns[:20]) or "none at all"
            message = f'name field: found "{name_field[:40]}"; allowed: a column of the file ({listed}){hint}'
            raise DomainError(message)
        column, guessed = columns[folded.index(name_field.casefold())], ""
    else:
        plain = [plain_words(name) for name in columns]
        found = (columns[plain.index(word)] for word in _NAMES if word in plain)
        column, guessed = next(found, ""), " (guessed)"
    values = layer.columns.get(column) or [None] * len(layer.geometries)
    names = [cell_words(value) or f"field {at}" for at, value in enumerate(values, start=1)]
    said = f'names of fields = "{column}"{guessed}' if column else "fields are named by their number"
    return names, said


def _few(names: Sequence[str], chosen: NDArray[np.bool_]) -> str:
    at = np.flatnonzero(chosen)
    more = f" and {len(at) - 3} more" if len(at) > 3 else ""
    return ", ".join(names[n] for n in at[:3].tolist()) + more

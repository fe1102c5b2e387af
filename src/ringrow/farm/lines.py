"""Lines, places and areas named or drawn in a field file: cart paths, guidance lines, what guns keep off."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from ringrow.farm.faults import ShapeError, number_words
from ringrow.farm.schema_base import FileTable, KeepOffTable
from ringrow.farm.shapes import ground, outline_drawn
from ringrow.farm.vectors import select, single_shapes

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from ringrow.farm.rules import Desk
    from ringrow.farm.schema_base import At
    from ringrow.farm.shapes import Shelf
    from ringrow.frame import Frame

KEEP_OFF_M = 2_000.0
"""What guns keep off must come at least this near to the field [m]; farther away it is a slip."""
LINE_POINTS = 20_000
"""Most points of a line."""


def line_points(
    source: list[At] | FileTable, *, key: str, shelf: Shelf, frame: Frame, desk: Desk
) -> NDArray[np.float64] | None:
    """Return the points of a line drawn in a field file or held by a vector file.

    Parameters
    ----------
    source : list of At, or FileTable
        Points in turn, or the file.
    key : str
        Key path of the line.
    shelf : Shelf
        Files of the farm.
    frame : Frame
        The field's frame.
    desk : Desk
        Where faults go.

    Returns
    -------
    ndarray, shape (n, 2), or None
        x and y in turn, neighbours apart; None when a fault was noted. [m]
    """
    if isinstance(source, FileTable):
        line = _line_of_file(source, key, shelf, desk)
        key = f"{key}.file"
    else:
        line = shapely.LineString([(at.lon, at.lat) for at in source])
    if line is None:
        return None
    points = shapely.get_coordinates(shapely.remove_repeated_points(frame.project(line)))
    if not np.isfinite(points).all():
        desk.fault(key, "a line across the globe", "a line in or near the field", "look at its signs")
        return None
    return points


def _line_of_file(table: FileTable, key: str, shelf: Shelf, desk: Desk) -> BaseGeometry | None:
    shapes = _chosen(table, key, shelf, desk)
    if shapes is None:
        return None
    lines = [shape for shape in shapes if shape.geom_type in ("LineString", "LinearRing")]
    merged = shapely.line_merge(shapely.MultiLineString(lines)) if lines else None
    if merged is None or merged.is_empty:
        kinds = ", ".join(sorted({shape.geom_type for shape in shapes})) or "nothing"
        desk.fault(f"{key}.file", f"no line ({kinds})", "a line", "draw it as a line, or drive it as a track")
        return None
    if merged.geom_type != "LineString":
        found = f"{len(shapely.get_parts(merged))} lines that do not join end to end"
        desk.fault(f"{key}.file", found, "one line", "pick one with where")
        return None
    count = int(shapely.get_num_coordinates(merged))
    if count > LINE_POINTS:
        hint = "simplify it with a mapping program"
        desk.fault(f"{key}.file", f"a line of {count} points", f"at most {LINE_POINTS}", hint)
        return None
    return merged


def _chosen(table: FileTable, key: str, shelf: Shelf, desk: Desk) -> list[BaseGeometry] | None:
    try:
        layer = shelf.layer(table)
        chosen = layer.geometries[select(layer, table.where)]
    except ShapeError as problem:
        where = f"{key}.{problem.key}" if problem.key else key
        desk.fault(where, problem.found, problem.allowed, problem.hint)
        return None
    return [shape for geometry in chosen for shape in single_shapes(geometry) if not shape.is_empty]


def keep_off_shape(
    table: KeepOffTable, *, key: str, boundary: BaseGeometry, shelf: Shelf, frame: Frame, desk: Desk
) -> BaseGeometry | None:
    """Return what a gun may not reach, as far as it lies near the field.

    Parameters
    ----------
    table : KeepOffTable
        The shape as written.
    key : str
        Its key path.
    boundary : shapely geometry
        The field's boundary. [m]
    shelf : Shelf
        Files of the farm.
    frame : Frame
        The field's frame.
    desk : Desk
        Where faults go.

    Returns
    -------
    shapely geometry or None
        Points, lines and polygons within `KEEP_OFF_M` of the field's bounding box; None when a fault was
        noted. [m]
    """
    shapes = _keep_off_drawn(table, key, shelf, desk)
    if shapes is None:
        return None
    places: list[BaseGeometry] = [
        frame.project(shape) for shape in shapes if "Polygon" not in shape.geom_type
    ]
    areas = [shape for shape in shapes if "Polygon" in shape.geom_type]
    if areas:
        mended = ground([areas], frame=frame, key=key, desk=desk)
        if mended is None:
            return None
        places.append(mended)
    return _near_field(places, key, boundary, desk)


def _near_field(
    places: list[BaseGeometry], key: str, boundary: BaseGeometry, desk: Desk
) -> BaseGeometry | None:
    finite = [place for place in places if np.isfinite(shapely.get_coordinates(place)).all()]
    away_m = min((float(boundary.distance(place)) for place in finite), default=np.inf)
    if away_m > KEEP_OFF_M:
        far = f"{number_words(round(away_m / 1000, 1))} km" if np.isfinite(away_m) else "half the globe"
        most = f"{number_words(KEEP_OFF_M / 1000)} km"
        hint = "are signs right, and is it the right feature?"
        desk.fault(key, f"a shape {far} from the field", f"one that comes within {most} of it", hint)
        return None
    west, south, east, north = boundary.bounds
    near = shapely.box(west - KEEP_OFF_M, south - KEEP_OFF_M, east + KEEP_OFF_M, north + KEEP_OFF_M)
    return shapely.union_all([shapely.intersection(place, near) for place in finite])


def _keep_off_drawn(table: KeepOffTable, key: str, shelf: Shelf, desk: Desk) -> list[BaseGeometry] | None:
    if table.point is not None:
        return [shapely.Point(table.point.lon, table.point.lat)]
    if table.line is not None:
        return [shapely.LineString([(at.lon, at.lat) for at in table.line])]
    if table.outline is not None:
        features = outline_drawn(table.outline, key=f"{key}.outline", desk=desk)
        return features[0] if features else None
    shapes: Any = _chosen(table, key, shelf, desk)
    if shapes is not None and not shapes:
        desk.fault(f"{key}.file", "no shape", "points, lines or polygons", "draw it in the file")
        return None
    return shapes

"""Roads to pivot points as field files state them, from the field's edge inward."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely

from ringrow.farm.check_pivots import FAR_M
from ringrow.farm.faults import number_words
from ringrow.farm.lines import line_points
from ringrow.farm.schema_base import FileTable

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from ringrow.equipment.pivot import Pivot
    from ringrow.farm.rules import Desk
    from ringrow.farm.schema_base import At
    from ringrow.farm.schema_machines import PivotTable
    from ringrow.farm.shapes import Shelf
    from ringrow.frame import Frame

INSIDE_M = 30.0
"""How far inside the field a road may begin, or a drawn one end short of the pivot point, without a word [m]:
our choice; a field's edge and a track driven with a phone are seldom better."""
SAME_M = 1.0
"""A road's end this near to the pivot point is the pivot point [m]."""


def pivot_roads(
    table: PivotTable,
    machine: Sequence[Pivot],
    boundary: BaseGeometry,
    *,
    key: str,
    shelf: Shelf,
    frame: Frame,
    desk: Desk,
) -> list[tuple[tuple[float, float], ...]]:
    """Return the roads to the points of a machine, noting what cannot be or is odd.

    Parameters
    ----------
    table : PivotTable
        The machine as written.
    machine : sequence of Pivot
        Its points.
    boundary : shapely geometry
        The field's boundary. [m]
    key : str
        Key path of the machine.
    shelf : Shelf
        Files of the farm.
    frame : Frame
        The field's frame.
    desk : Desk
        Where faults and warnings go.

    Returns
    -------
    list of tuple
        One a point: x and y from the field's edge inward, the pivot point last; empty without a road. [m]
    """
    written = [(f"{key}.points[{at}]", place.pivot_road) for at, place in enumerate(table.points or (), 1)]
    if table.point is not None:
        written = [(key, table.pivot_road)]
    roads: list[tuple[tuple[float, float], ...]] = []
    for (stem, source), pivot in zip(written, machine, strict=True):
        where = f"{stem}.pivot_road"
        points = None if source is None else _points(source, where, shelf, frame, desk)
        roads.append(() if points is None else _road(points, source, pivot, boundary, where, desk))
    return roads


def _points(
    source: list[At] | FileTable, key: str, shelf: Shelf, frame: Frame, desk: Desk
) -> NDArray[np.float64] | None:
    if isinstance(source, FileTable) or len(source) > 1:
        return line_points(source, key=key, shelf=shelf, frame=frame, desk=desk)
    return np.array([frame.to_xy(source[0].lon, source[0].lat)], dtype=float)


def _road(
    points: NDArray[np.float64],
    source: list[At] | FileTable | None,
    pivot: Pivot,
    boundary: BaseGeometry,
    key: str,
    desk: Desk,
) -> tuple[tuple[float, float], ...]:
    centre = np.array([pivot.x_m, pivot.y_m])
    away = np.hypot(*(points - centre).T)
    if away[0] < away[-1]:
        # Drawn or driven from the pivot point outward.
        points, away = points[::-1], away[::-1]
    if away[0] <= SAME_M:
        found, hint = (
            "a road that begins and ends at the pivot point",
            "give where it leaves the field's edge",
        )
        desk.fault(key, found, "a road from the field's edge to the pivot point", hint)
        return ()
    far_m = float(boundary.distance(shapely.MultiPoint(points)))
    if far_m > FAR_M:
        found = f"a road {number_words(round(far_m / 1000))} km from the boundary"
        hint = "west longitudes and south latitudes are negative"
        desk.fault(key, found, "a road in the field, at most 10 km from it", hint)
        return ()
    _check_ends(points, float(away[-1]), source, boundary, key, desk)
    kept = points[:-1] if away[-1] <= SAME_M else points
    return (*((float(x), float(y)) for x, y in kept), (pivot.x_m, pivot.y_m))


def _check_ends(
    points: NDArray[np.float64],
    short_m: float,
    source: list[At] | FileTable | None,
    boundary: BaseGeometry,
    key: str,
    desk: Desk,
) -> None:
    units = desk.units[0]
    first = shapely.Point(points[0])
    inside_m = float(shapely.distance(shapely.boundary(boundary), first)) if boundary.contains(first) else 0.0
    if inside_m > INSIDE_M:
        far = f"{number_words(round(units.from_m(inside_m)))} {units.length}"
        found = f"a road that begins {far} inside the field"
        hint = "its first piece is taken straight to the nearest edge"
        desk.warning(key, found, "a road from the field's edge", hint)
    if isinstance(source, FileTable) and short_m > INSIDE_M:
        short = f"{number_words(round(units.from_m(short_m)))} {units.length}"
        found = f"a road that ends {short} short of the pivot point"
        desk.warning(key, found, "a road to the pivot point", "its last piece is taken straight")

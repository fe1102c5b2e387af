"""Lateral moves from their tables: the cart's path and the pipe on each side, in metres."""

from __future__ import annotations

from typing import TYPE_CHECKING

import shapely

from ringrow.equipment.lateral_move import LateralMove, Wing
from ringrow.errors import GeometryError
from ringrow.farm.build_pivots import or_assumed, rebuilds_of, scaled, spans_in_m
from ringrow.farm.check_pivots import FAR_M
from ringrow.farm.faults import number_words
from ringrow.geometry.travel import travel_path

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from ringrow.farm.build_pivots import Surroundings
    from ringrow.farm.rules import Desk
    from ringrow.farm.schema_machines import LateralMoveTable, WingTable

OUTSIDE_SHARE = 0.01
"""Share of a cart's path that may lie outside the boundary without a word (our choice)."""


def build_move(
    table: LateralMoveTable, *, name: str, path_m: NDArray[np.float64], around: Surroundings
) -> LateralMove:
    """Return a lateral move in its field's frame.

    Parameters
    ----------
    table : LateralMoveTable
        The machine as written.
    name : str
        Its name, default filled in.
    path_m : ndarray, shape (n, 2)
        Corners of the cart's path in travel order. [m]
    around : Surroundings
        The field and farm it stands in.

    Returns
    -------
    LateralMove
        The machine; `assumed` names what was not stated.
    """
    assumed: list[str] = []
    left = _wing(table.left, "left", around, assumed)
    right = _wing(table.right, "right", around, assumed)
    return LateralMove(
        name=name,
        path_m=tuple((float(x), float(y)) for x, y in path_m),
        left=left,
        right=right,
        flow_lps=scaled(table.flow, around.units.flow_lps),
        pressure_kpa=scaled(table.pressure, around.units.pressure_kpa),
        plate_v=table.plate_volts,
        plate_hz=table.plate_hertz,
        rebuilt=rebuilds_of(table),
        notes=table.notes,
        assumed=tuple(assumed),
    )


def _wing(table: WingTable | None, side: str, around: Surroundings, assumed: list[str]) -> Wing:
    if table is None:
        return Wing()
    units = around.units
    spans_m = spans_in_m(table, units, assumed, side=side)
    overhang = or_assumed(table.overhang, f"{side} overhang", None, units, assumed)
    throw = or_assumed(table.throw, f"{side} throw", around.defaults.throw, units, assumed)
    return Wing(spans_m=spans_m, overhang_m=overhang * units.length_m, throw_m=throw * units.length_m)


def check_path(path_m: NDArray[np.float64], boundary: BaseGeometry, *, key: str, desk: Desk) -> bool:
    """Return whether a cart can follow a path; note why not, and a path that leaves the field.

    Parameters
    ----------
    path_m : ndarray, shape (n, 2)
        Corners of the path. [m]
    boundary : shapely geometry
        The field's boundary. [m]
    key : str
        Key path of the path.
    desk : Desk
        Where faults and warnings go.

    Returns
    -------
    bool
        False when a fault was noted.
    """
    try:
        travel_path(path_m)
    except GeometryError as error:
        found = str(error).removeprefix("path: found ").split("; allowed: ")
        hint = "leave out corners that are not there; a track driven back and forth is no path"
        desk.fault(key, found[0], found[-1], hint)
        return False
    line = shapely.LineString(path_m)
    away_m = float(boundary.distance(line))
    if away_m > FAR_M:
        found_far = f"a path {number_words(round(away_m / 1000))} km from the boundary"
        hint = "west longitudes and south latitudes are negative"
        desk.fault(key, found_far, "a path in the field, at most 10 km from it", hint)
        return False
    outside_m = float(line.difference(boundary).length)
    if outside_m > OUTSIDE_SHARE * line.length:
        units = desk.units[0]
        out, whole = (number_words(round(units.from_m(x))) for x in (outside_m, line.length))
        found_out = f"{out} of {whole} {units.length} of the path outside the boundary"
        desk.warning(key, found_out, "a path inside, as a rule", "look at path and boundary on a map")
    return True

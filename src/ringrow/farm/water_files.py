"""What the water commands read from files: a machine's sprinkler chart, a row of catch cans."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from ringrow.coverage.catch_cans import Can
from ringrow.coverage.machine_water import ChartRow
from ringrow.errors import FileError
from ringrow.farm.readers.numbers import read_numbers

if TYPE_CHECKING:
    from pathlib import Path

    from ringrow.units import UnitSystem

_CHART = {
    "outlet": ("outlet", "outlet no", "outlet number", "number", "no", "drop", "salida", "boquilla no"),
    "distance": ("distance", "dist", "radius", "distance from pivot", "distancia"),
    "nozzle": ("nozzle", "nozzle mark", "mark", "size", "nozzle size", "boquilla"),
    "flow": ("flow", "design", "design flow", "caudal"),
}
_CANS = {
    "can": ("can", "can no", "can number", "no", "number", "cup", "collector", "bote"),
    "distance": ("distance", "dist", "radius", "distance from pivot", "distancia"),
    "depth": ("depth", "caught", "catch", "lamina", "profundidad"),
    "volume": ("ml", "volume", "volume ml", "caught ml", "catch ml", "volumen ml"),
}


def read_chart(path: Path, units: UnitSystem) -> tuple[ChartRow, ...]:
    """Return a machine's sprinkler chart from a CSV file.

    Parameters
    ----------
    path : Path
        The file: columns outlet, distance, nozzle and, if the chart has it, flow.
    units : UnitSystem
        Units of columns whose name does not say them.

    Returns
    -------
    tuple of ChartRow
        Outlets by rising distance; nozzle marks are kept as they are written.

    Raises
    ------
    FileError
        If the file cannot be read, lacks a column, or an outlet has no distance.
    """
    table = read_numbers(path, _CHART, needed=("outlet", "distance", "nozzle"))
    rows = []
    for row in table.rows:
        distance_m = table.number(row, "distance", scale=units.length_m)
        if distance_m is None:
            message = f"{path}: row {row.row}: distance: found nothing; allowed: a number, 0 or more"
            raise FileError(message)
        rows.append(
            ChartRow(
                outlet=row.cells.get("outlet", "").strip(),
                distance_m=distance_m,
                nozzle=row.cells.get("nozzle", "").strip(),
                flow_lps=table.number(row, "flow", scale=units.flow_lps),
            )
        )
    if not rows:
        message = f"{path}: found no outlets; allowed: a row for each outlet below the row of names"
        raise FileError(message)
    return tuple(sorted(rows, key=lambda row: row.distance_m))


def read_cans(path: Path, units: UnitSystem, *, mouth_m: float | None = None) -> tuple[Can, ...]:
    """Return a row of catch cans from a CSV file.

    Parameters
    ----------
    path : Path
        The file: a column depth, or ml with the mouth of the cans; distance and can if there.
    units : UnitSystem
        Units of columns whose name does not say them.
    mouth_m : float or None, default None
        Inside diameter of the cans' mouth; needed for volumes. [m]

    Returns
    -------
    tuple of Can
        The cans in the order of the file.

    Raises
    ------
    FileError
        If the file cannot be read, or holds neither depths nor volumes.
    """
    table = read_numbers(path, _CANS, needed=())
    roles = {role for row in table.rows for role in row.cells}
    if not roles & {"depth", "volume"}:
        message = f'{path}: found no column "depth" or "ml"; allowed: columns distance and depth, or ml'
        raise FileError(message)
    if "depth" not in roles and not mouth_m:
        message = f"{path}: found volumes in ml; allowed: with the mouth of the cans, --mouth"
        raise FileError(message)
    cans = []
    for row in table.rows:
        depth_mm = table.number(row, "depth", scale=units.small_m * 1000)
        if "depth" not in roles and mouth_m:
            volume = table.number(row, "volume", scale=1.0)
            # A millilitre is 1,000 mm3, spread over the mouth.
            area_mm2 = math.pi / 4 * (mouth_m * 1000) ** 2
            depth_mm = None if volume is None else volume * 1000 / area_mm2
        cans.append(
            Can(
                name=row.cells.get("can", "").strip() or f"row {row.row}",
                distance_m=table.number(row, "distance", scale=units.length_m),
                depth_mm=depth_mm,
            )
        )
    return tuple(cans)

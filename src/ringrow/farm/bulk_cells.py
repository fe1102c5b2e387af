"""Cells of a table of pivots, column by column, and what the columns mean."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from difflib import get_close_matches
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from ringrow.errors import DomainError, FileError
from ringrow.farm.faults import ShapeError
from ringrow.farm.readers.cells import plain_words
from ringrow.farm.readers.rows import Refused
from ringrow.farm.readers.table import DELIMITERS, decode, likely_delimiter
from ringrow.farm.vectors import ENDINGS, cell_words, read_layer
from ringrow.units import FOOT_M, GALLON_L

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from numpy.typing import NDArray

    from ringrow.units import UnitSystem

TABLE_BYTES = 200_000_000
"""Largest table of text [bytes]."""
TABLE_ROWS = 1_000_000
"""Most rows of a table of text [-]."""

TEXT_ENDINGS: tuple[str, ...] = (".csv", ".tsv", ".txt")
"""Endings of tables of text."""

# Our own list; within a role the first word found in the file wins.
_WORDS: dict[str, tuple[str, ...]] = {
    "name": (
        *("name", "pivot", "pivot name", "machine", "system", "circle", "label", "id", "number"),
        *("nombre", "pivote", "nombre del pivote", "maquina", "equipo", "sistema", "circulo", "numero"),
    ),
    "lat": ("lat", "latitude", "pivot lat", "point lat", "latitud", "y"),
    "lon": ("lon", "long", "lng", "longitude", "pivot lon", "point lon", "longitud", "x"),
    "place": (
        *("lat lon", "lat long", "latitude longitude", "pivot point", "point", "position", "coordinates"),
        *("coordenadas", "posicion", "punto", "punto pivote", "ubicacion"),
    ),
    "last_tower": (
        *("last tower", "last tower distance", "last tower radius", "distance to last tower"),
        *("ultima torre", "distancia ultima torre", "distancia a la ultima torre", "radio ultima torre"),
    ),
    "spans": (
        *("spans", "span lengths", "span list", "tramos", "largo de tramos", "largos de tramos"),
        *("longitud de tramos", "longitudes de tramos"),
    ),
    "length": (
        *("length", "pipe length", "pivot length", "machine length", "system length"),
        *("largo", "longitud del pivote", "largo del pivote", "largo de tubo", "largo del tubo"),
    ),
    "overhang": ("overhang", "overhang length", "voladizo", "volado"),
    "throw": ("throw", "sprinkler throw", "last sprinkler throw", "tiro", "alcance del aspersor"),
    "radius": (
        *("radius", "wetted radius", "wet radius", "irrigated radius"),
        *("radio", "radio mojado", "radio regado", "radio de riego"),
    ),
    "start": (
        *("start", "sector start", "start azimuth", "azimuth start", "start angle", "stop 1", "from"),
        *("inicio", "inicio del sector", "azimut inicial", "azimut de inicio", "desde"),
    ),
    "stop": (
        *("stop", "sector stop", "stop azimuth", "azimuth stop", "end azimuth", "stop angle", "stop 2"),
        *("end", "to", "fin", "fin del sector", "azimut final", "hasta"),
    ),
    "gun": (
        *("gun", "gun reach", "end gun", "end gun reach", "reach"),
        *("canon", "canon final", "alcance canon", "alcance del canon", "alcance"),
    ),
    "arcs": ("arcs", "gun arcs", "end gun arcs", "arcos", "arcos del canon"),
    "setback": ("setback", "gun setback", "retiro", "margen"),
    "flow": ("flow", "flow rate", "pivot flow", "caudal", "gasto", "flujo"),
}
ROLES: tuple[str, ...] = tuple(_WORDS)
"""What a column can mean."""

LENGTHS: tuple[str, ...] = ("last_tower", "spans", "length", "overhang", "throw", "radius", "gun", "setback")
"""Roles that are lengths."""

_LENGTH_UNITS = {
    "ft": FOOT_M, "feet": FOOT_M, "foot": FOOT_M, "pies": FOOT_M, "pie": FOOT_M,
    "m": 1.0, "meters": 1.0, "metres": 1.0, "meter": 1.0, "metros": 1.0, "metro": 1.0,
}  # fmt: skip
_FLOW_UNITS = {
    "gpm": GALLON_L / 60, "lps": 1.0, "l s": 1.0, "m3 h": 1 / 3.6, "m3h": 1 / 3.6, "lpm": 1 / 60,
    "l min": 1 / 60,
}  # fmt: skip
_DEGREES = {"deg": 1.0, "degrees": 1.0, "grados": 1.0, "azimuth": 1.0}


@dataclass(frozen=True, slots=True, kw_only=True)
class RawTable:
    """Cells as text, column by column.

    Parameters
    ----------
    path : Path
        The file.
    counted : {"row", "feature"}
        What `numbers` count: rows as a spreadsheet counts them, or features.
    names : tuple of str
        Names of the columns.
    cells : list of list of str
        One list a column.
    numbers : list of int
        Number of each row. [-]
    lonlat : ndarray, shape (n, 2), or None
        Points of a vector file; None where columns hold the place. [deg]
    refused : list of Refused
        Rows that cannot be used, and why.
    said : list of str
        What was guessed, what was put right.
    """

    path: Path
    counted: str
    names: tuple[str, ...]
    cells: list[list[str]]
    numbers: list[int]
    lonlat: NDArray[np.float64] | None
    refused: list[Refused]
    said: list[str]


@dataclass(frozen=True, slots=True, kw_only=True)
class TableColumns:
    """Which column plays which role.

    Parameters
    ----------
    index : dict of str to int
        Column, counted from 0, of each role.
    scale : dict of str to float
        One unit of each role's numbers in SI: lengths in m, flow in L/s.
    said : str
        What was taken for what.
    """

    index: dict[str, int]
    scale: dict[str, float]
    said: str


def parse_stated(texts: Sequence[str]) -> dict[str, str]:
    """Return the columns that a user states.

    Parameters
    ----------
    texts : sequence of str
        Each a role and a column's name or number from 1, such as ``radius=R wet``.

    Returns
    -------
    dict of str to str
        Column by role.

    Raises
    ------
    DomainError
        If a role is not known or the form is wrong.

    Examples
    --------
    >>> parse_stated(["radius=R wet", "last-tower = 5"])
    {'radius': 'R wet', 'last_tower': '5'}
    """
    stated = {}
    for text in texts:
        role, equals, column = (piece.strip() for piece in text.partition("="))
        role = role.casefold().replace("-", "_").replace(" ", "_")
        if not equals or not column or role not in ROLES:
            near = get_close_matches(role, ROLES, n=1)
            hint = f'; did you mean "{near[0]}"?' if near else ""
            message = (
                f'column: found "{text[:60]}"; allowed: role=NAME, with {", ".join(ROLES)} as the role{hint}'
            )
            raise DomainError(message)
        stated[role] = column
    return stated


def read_text_table(path: Path) -> RawTable:
    """Return the cells of a table of text.

    Parameters
    ----------
    path : Path
        Comma, semicolon, tab or bar between columns; names in the first row that holds anything.

    Returns
    -------
    RawTable
        Its cells; rows with more cells than names are refused.

    Raises
    ------
    FileError
        If it cannot be read, is no text, empty or too large.
    """
    try:
        size = path.stat().st_size
        data = path.read_bytes() if size <= TABLE_BYTES else b""
    except OSError as error:
        message = f"{path}: cannot be read ({error.strerror or error}); allowed: a table of pivots"
        raise FileError(message) from error
    if size > TABLE_BYTES:
        found = f"found {size / 1e6:.0f} MB"
        message = f"{path}: {found}; allowed: up to {TABLE_BYTES / 1e6:.0f} MB; split the table"
        raise FileError(message)
    text, encoding = decode(path, data)
    records, delimiter = _records(path, text)
    if not records:
        message = f"{path}: found an empty file; allowed: a row of column names and one row a pivot"
        raise FileError(message)
    (_, head), *rows = records
    names = tuple(cell.strip() for cell in head)
    refused, kept = [], []
    for at, row in rows:
        if any(cell.strip() for cell in row[len(names) :]):
            found = f"found {len(row)} cells under {len(names)} column names"
            refused.append(Refused(what=f"row {at}", why=f"{found}; allowed: as many as names"))
        else:
            kept.append((at, row + [""] * (len(names) - len(row))))
    return RawTable(
        path=path,
        counted="row",
        names=names,
        cells=[[row[column] for _, row in kept] for column in range(len(names))],
        numbers=[at for at, _ in kept],
        lonlat=None,
        refused=refused,
        said=[f"{DELIMITERS[delimiter]} between columns, text is {encoding}"],
    )


def _records(path: Path, text: str) -> tuple[list[tuple[int, list[str]]], str]:
    """Return the rows that hold anything, each with its number as a spreadsheet counts."""
    first = next((line for line in text.splitlines() if line.strip()), "")
    delimiter = likely_delimiter(path, first)
    records = []
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    try:
        for number_of_row, record in enumerate(reader, start=1):
            if number_of_row > TABLE_ROWS + 1:
                message = f"{path}: found more than {TABLE_ROWS:,} rows; allowed: up to that; split the table"
                raise FileError(message)
            if any(cell.strip() for cell in record):
                records.append((number_of_row, record))
    except csv.Error as error:
        message = f"{path}: line {reader.line_num} is no row of a table ({error}); is a quote left open?"
        raise FileError(message) from error
    return records, delimiter


def read_point_table(path: Path) -> RawTable:
    """Return the columns and points of a vector file.

    Parameters
    ----------
    path : Path
        GeoPackage, shapefile, GeoJSON or another vector file, in any coordinate system.

    Returns
    -------
    RawTable
        Cells as text and the points; features that are no single point are refused.

    Raises
    ------
    FileError
        If it cannot be read.
    """
    if path.suffix.lower() not in ENDINGS:
        found = f'a file ending in "{path.suffix}"' if path.suffix else "a file without an ending"
        allowed = f"a table ({', '.join(TEXT_ENDINGS)}) or a file of points ({', '.join(ENDINGS)})"
        message = f"{path}: found {found}; allowed: {allowed}"
        raise FileError(message)
    try:
        layer = read_layer(path)
    except (ShapeError, OSError) as error:
        message = f"{path}: {error}"
        raise FileError(message) from error
    points = np.array([_single_point(shape) for shape in layer.geometries], dtype=object)
    good = np.array([point is not None for point in points], dtype=bool)
    refused = [
        Refused(what=f"feature {at + 1}", why=f"found {_shape_words(layer.geometries[at])}; allowed: a point")
        for at in np.flatnonzero(~good).tolist()
    ]
    kept = np.flatnonzero(good).tolist()
    return RawTable(
        path=path,
        counted="feature",
        names=tuple(layer.columns),
        cells=[[cell_words(values[at]) for at in kept] for values in layer.columns.values()],
        numbers=[at + 1 for at in kept],
        lonlat=shapely.get_coordinates(points[good]),
        refused=refused,
        said=list(layer.remarks),
    )


def _single_point(shape: Any) -> Any:
    parts = [] if shape is None else list(shapely.get_parts(shape))
    single = len(parts) == 1 and parts[0].geom_type == "Point" and not parts[0].is_empty
    return parts[0] if single else None


def _shape_words(shape: Any) -> str:
    return "no shape" if shape is None or shape.is_empty else f"a {shape.geom_type}"


def bulk_columns(raw: RawTable, stated: Mapping[str, str], units: UnitSystem) -> TableColumns:
    """Return which column plays which role, and one unit of each in SI.

    Parameters
    ----------
    raw : RawTable
        The table.
    stated : mapping of str to str
        Columns the user states by role; they win.
    units : UnitSystem
        Units of columns whose names do not say theirs.

    Returns
    -------
    TableColumns
        The roles found.

    Raises
    ------
    DomainError
        If a stated column is not there.
    FileError
        If there is no column for the place or the machine.
    """
    scale = dict.fromkeys(LENGTHS, units.length_m) | {"flow": units.flow_lps}
    words = [_without_unit(plain_words(name)) for name in raw.names]
    index = {role: _find_stated(raw, role, column) for role, column in stated.items()}
    for role, known in _WORDS.items():
        if role in index or (raw.lonlat is not None and role in ("lat", "lon", "place")):
            continue
        found = (
            at
            for word in known
            for at, (stem, unit) in enumerate(words)
            if stem == word and at not in index.values() and _unit_fits(role, unit)
        )
        at = next(found, None)
        # A column that is called by its unit alone.
        if at is None and role == "flow":
            at = next((n for n, name in enumerate(raw.names) if plain_words(name) in _FLOW_UNITS), None)
        if at is not None:
            index[role] = at
    if {"lat", "lon"} <= index.keys():
        index.pop("place", None)
    for role, at in index.items():
        unit = words[at][1] or plain_words(raw.names[at])
        known_units = _FLOW_UNITS if role == "flow" else _LENGTH_UNITS
        if role in scale and unit in known_units:
            scale[role] = known_units[unit]
    _check_columns(raw, index)
    ordered = {role: index[role] for role in ROLES if role in index}
    return TableColumns(index=ordered, scale=scale, said=_said(raw, ordered, stated, scale))


def _without_unit(words: str) -> tuple[str, str]:
    for unit in (*_FLOW_UNITS, *_LENGTH_UNITS, *_DEGREES):
        if words.endswith(f" {unit}"):
            return words.removesuffix(f" {unit}"), unit
    return words, ""


def _unit_fits(role: str, unit: str) -> bool:
    if not unit:
        return True
    fitting = _FLOW_UNITS if role == "flow" else _LENGTH_UNITS if role in LENGTHS else _DEGREES
    return unit in fitting


def _find_stated(raw: RawTable, role: str, column: str) -> int:
    folded = [name.casefold() for name in raw.names]
    if column.casefold() in folded:
        return folded.index(column.casefold())
    if column.isascii() and column.isdigit() and 1 <= int(column) <= len(raw.names):
        return int(column) - 1
    near = get_close_matches(column.casefold(), folded, n=1, cutoff=0.5)
    hint = f'; nearest: "{raw.names[folded.index(near[0])]}"' if near else ""
    message = f'column: found {role}="{column[:40]}"; allowed: a column of the file ({_listed(raw)}){hint}'
    raise DomainError(message)


def _listed(raw: RawTable) -> str:
    return ", ".join(f'"{name[:40]}"' for name in raw.names[:20]) or "none"


def _check_columns(raw: RawTable, index: Mapping[str, int]) -> None:
    missing = ""
    if raw.lonlat is None and "place" not in index and not {"lat", "lon"} <= index.keys():
        missing = "the pivot point (lat and lon)"
    elif not {"radius", "length", "last_tower", "spans"} & index.keys():
        missing = "the machine (radius, length, last_tower or spans)"
    if missing:
        message = (
            f"{raw.path}: found no column for {missing} among {_listed(raw)}; "
            "allowed: say it, such as --column radius=NAME"
        )
        raise FileError(message)


def _said(
    raw: RawTable, index: Mapping[str, int], stated: Mapping[str, str], scale: Mapping[str, float]
) -> str:
    taken = [
        f'{role} = "{raw.names[at]}"{_unit_said(role, scale)}' + ("" if role in stated else " (guessed)")
        for role, at in index.items()
    ]
    left = [f'"{name}"' for at, name in enumerate(raw.names) if at not in index.values() and name]
    more = f" and {len(left) - 12} more" if len(left) > 12 else ""
    rest = f"; left alone: {', '.join(left[:12])}{more}" if left else ""
    return f"columns: {', '.join(taken)}{rest}"


def _unit_said(role: str, scale: Mapping[str, float]) -> str:
    if role in LENGTHS:
        return f" in {'ft' if scale[role] == FOOT_M else 'm'}"
    if role == "flow":
        names = {GALLON_L / 60: "gpm", 1.0: "L/s", 1 / 3.6: "m3/h", 1 / 60: "L/min"}
        return f" in {names[scale[role]]}"
    return ""

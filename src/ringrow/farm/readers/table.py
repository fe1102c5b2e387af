"""Points from a table of text: comma, semicolon, tab or bar between columns."""

from __future__ import annotations

import csv
import io
from itertools import pairwise
from typing import TYPE_CHECKING

from ringrow.errors import FileError, RingrowError
from ringrow.farm.coordinates import parse_at
from ringrow.farm.readers.cells import position, read_accuracy, read_status, read_time, texts_of
from ringrow.farm.readers.columns import Columns, guess_columns
from ringrow.farm.readers.kml import uuid_or_none
from ringrow.farm.readers.own import plain_cell
from ringrow.farm.readers.rows import MAX_ROWS, PointFile, PointRow, Refused, check_count, why

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

_BOMS = ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"))
DELIMITERS = {",": "comma", ";": "semicolon", "\t": "tab", "|": "bar"}
"""Signs between columns that are understood, with their names."""


def read_table(path: Path, data: bytes, *, unit: str, stated: Mapping[str, str] | None = None) -> PointFile:
    """Return the points of a table of text.

    Parameters
    ----------
    path : Path
        The file, for its name.
    data : bytes
        What it holds.
    unit : {"ft", "m"}
        Unit of a bare accuracy.
    stated : mapping of str to str or None, default None
        Columns the user states by role.

    Returns
    -------
    PointFile
        Rows are counted as a spreadsheet counts them, the row of names being row 1.

    Raises
    ------
    FileError
        If it is no table, has no column for a place, or holds too many rows.
    """
    text, encoding = decode(path, data)
    records, delimiter = split_records(path, text)
    at = next((index for index, record in enumerate(records) if any(cell.strip() for cell in record)), None)
    if at is None:
        message = f"{path}: found an empty file; allowed: a row of column names and rows of points"
        raise FileError(message)
    names = [cell.strip() for cell in records[at]]
    if _looks_like_place(names):
        # No row of names: columns go by their numbers, and the first row is a point.
        names, at = [str(number + 1) for number in range(len(names))], at - 1
    try:
        columns = guess_columns(names, stated=stated)
    except RingrowError as error:
        message = f"{path}: {error}"
        raise FileError(message) from error
    _check_columns(path, columns)
    rows, refused = [], []
    for index, record in enumerate(records[at + 1 :], start=at + 2):
        if not any(cell.strip() for cell in record):
            continue
        try:
            rows.append(_row(record, columns, what=f"row {index}", unit=columns.accuracy_unit or unit))
        except (RingrowError, ValueError) as error:
            refused.append(Refused(what=f"row {index}", why=why(error)))
    said = [f"{DELIMITERS[delimiter]} between columns, text is {encoding}", columns.words()]
    if columns.index.keys() & {"time", "date"}:
        said.append("times without a zone are taken as UTC")
    return PointFile(file=path.name, form="csv", rows=tuple(rows), refused=tuple(refused), said=tuple(said))


def decode(path: Path, data: bytes) -> tuple[str, str]:
    """Return a text file's text and the encoding it was taken for.

    Parameters
    ----------
    path : Path
        The file, for its name.
    data : bytes
        What it holds.

    Returns
    -------
    text : str
        The text without a byte order mark.
    encoding : str
        UTF-8, UTF-16 or Windows-1252.

    Raises
    ------
    FileError
        If it is not text in any of these.
    """
    encoding = next((name for mark, name in _BOMS if data.startswith(mark)), None)
    half = max(len(data[:2000]) // 2, 1)
    if encoding is None and data[1:2000:2].count(0) > 0.4 * half:
        encoding = "utf-16-le"
    elif encoding is None and data[0:2000:2].count(0) > 0.4 * half:
        encoding = "utf-16-be"
    for name in (encoding,) if encoding else ("utf-8", "cp1252"):
        try:
            text = data.decode(name)
        except UnicodeDecodeError:
            continue
        if "\0" not in text:
            shown = "Windows-1252" if name == "cp1252" else name.upper().removesuffix("-SIG")
            return text, shown
    message = f"{path}: found bytes that are no text; allowed: text in UTF-8, UTF-16 or Windows-1252"
    raise FileError(message)


def split_records(path: Path, text: str) -> tuple[list[list[str]], str]:
    """Return the rows of a table of text, cut into cells.

    Parameters
    ----------
    path : Path
        The file, for its name.
    text : str
        What it holds.

    Returns
    -------
    records : list of list of str
        Every row with its cells, empty rows too.
    delimiter : str
        The sign between columns.

    Raises
    ------
    FileError
        If the sign is none of ours, a quote is left open, or there are too many rows.
    """
    lines = text.splitlines()
    first = next((line for line in lines if line.strip()), "")
    if first.strip().casefold().startswith("sep=") and len(first.strip()) == 5:
        # A line that spreadsheets write to name the sign between columns; it counts as a row.
        delimiter = first.strip()[4]
        text = text.replace(first, "", 1)
    else:
        delimiter = likely_delimiter(path, first)
    if delimiter not in DELIMITERS:
        message = f"{path}: found {delimiter!r} between columns; allowed: {', '.join(DELIMITERS.values())}"
        raise FileError(message)
    records: list[list[str]] = []
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    try:
        for record in reader:
            records.append(record)
            # Empty rows and the row of names need not count against the limit; twice it is plenty.
            check_count(path, len(records) - MAX_ROWS)
    except csv.Error as error:
        message = f"{path}: line {reader.line_num} is no row of a table ({error}); is a quote left open?"
        raise FileError(message) from error
    check_count(path, sum(any(record) for record in records) - 1)
    return records, delimiter


def likely_delimiter(path: Path, line: str) -> str:
    """Return the sign that cuts a table's first line into the most cells.

    Parameters
    ----------
    path : Path
        The file, for its name.
    line : str
        The first line that holds anything.

    Returns
    -------
    str
        Comma, semicolon, tab or bar.

    Raises
    ------
    FileError
        If the line is no row of a table.
    """
    try:
        return max(DELIMITERS, key=lambda sign: len(next(csv.reader([line], delimiter=sign), [])))
    except csv.Error as error:
        message = f"{path}: its first line is no row of a table ({error}); allowed: a row of column names"
        raise FileError(message) from error


def _looks_like_place(cells: Sequence[str]) -> bool:
    for one, two in pairwise(cells):
        try:
            position(one, two)
        except (RingrowError, ValueError):
            continue
        # Two whole numbers below each other's limits may be anything; degrees have decimals.
        if any(sign in one + two for sign in ".,°"):
            return True
    return False


def _check_columns(path: Path, columns: Columns) -> None:
    if "place" in columns.index or {"lat", "lon"} <= columns.index.keys():
        return
    listed = ", ".join(f'"{name[:40]}"' for name in columns.names[:20])
    message = (
        f"{path}: found no column of latitude and longitude among {listed}; "
        'allowed: say them, such as --columns "lat=Y,lon=X"'
    )
    raise FileError(message)


def _row(record: Sequence[str], columns: Columns, *, what: str, unit: str) -> PointRow:
    extra = [cell for cell in record[len(columns.names) :] if cell.strip()]
    if extra:
        message = (
            f"found {len(record)} cells under {len(columns.names)} column names; allowed: as many as names; "
            "is a comma both the sign between columns and inside a cell?"
        )
        raise ValueError(message)
    cells = {role: record[at] if at < len(record) else "" for role, at in columns.index.items()}
    own_id = _own_id(record, columns)
    if own_id is not None:
        cells = {role: plain_cell(cell) for role, cell in cells.items()}
    lat: float | None
    lon: float | None
    if own_id is not None and not (cells.get("lat", "").strip() or cells.get("lon", "").strip()):
        # An exported flag on a machine that stood nobody knows where.
        lat = lon = None
    elif "place" in cells:
        lat, lon = parse_at(cells["place"])
    else:
        lat, lon = position(cells["lat"], cells["lon"])
    date = f"{cells.get('date', '')} {cells.get('hour', '')}".strip() if cells.get("date") else ""
    time, time_remark = read_time(cells.get("time") or date)
    accuracy, accuracy_remark = read_accuracy(cells.get("accuracy", ""), unit=unit)
    status, status_remark = read_status(cells.get("status", ""))
    return PointRow(
        what=what,
        lat=lat,
        lon=lon,
        time=time,
        accuracy=accuracy,
        status=status,
        id=own_id,
        remarks=tuple(text for text in (time_remark, accuracy_remark, status_remark) if text),
        **texts_of({**cells, "kind_words": cells.get("kind", "")}),
    )


def _own_id(record: Sequence[str], columns: Columns) -> str | None:
    """Return the UUID in the column ``id`` of an exported table."""
    at = next((at for at, name in enumerate(columns.names) if name.casefold() == "id"), len(record))
    return uuid_or_none(record[at].strip()) if at < len(record) else None

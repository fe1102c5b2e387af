"""Tables of numbers by their column names: sprinkler charts, catch cans."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ringrow.errors import FileError
from ringrow.farm.readers.cells import plain_words
from ringrow.farm.readers.rows import read_bytes
from ringrow.farm.readers.table import decode, split_records
from ringrow.units import FOOT_M, GALLON_L, INCH_M

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

_UNITS = {
    "ft": FOOT_M, "feet": FOOT_M, "m": 1.0, "meters": 1.0, "metres": 1.0,
    "in": INCH_M * 1000, "inch": INCH_M * 1000, "inches": INCH_M * 1000, "mm": 1.0,
    "gpm": GALLON_L / 60, "lps": 1.0, "l s": 1.0,
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class NumberRow:
    """One row of such a table.

    Parameters
    ----------
    row : int
        Number of the row as a spreadsheet counts, the row of names being 1. [-]
    cells : dict of str to str
        Text of each cell by its role; empty where there is none.
    """

    row: int
    cells: dict[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class NumberTable:
    """A table of numbers, columns known by what they mean.

    Parameters
    ----------
    file : str
        The file's name.
    rows : tuple of NumberRow
        Rows that hold anything.
    scales : dict of str to float
        What one unit of a column is in SI (depths in mm, flows in L/s), for columns whose name says it.
    decimal_comma : bool
        Whether a comma in a number is the decimal sign: columns are cut by another sign.
    """

    file: str
    rows: tuple[NumberRow, ...]
    scales: dict[str, float]
    decimal_comma: bool

    def number(self, row: NumberRow, role: str, *, scale: float) -> float | None:
        """Return a number in SI; None for an empty cell or a dash.

        Parameters
        ----------
        row : NumberRow
            The row.
        role : str
            What the column means.
        scale : float
            One unit of the column in SI where its name does not say it. [as given]

        Returns
        -------
        float or None
            The number.

        Raises
        ------
        FileError
            If the cell holds no number, or one below 0.
        """
        text = row.cells.get(role, "").strip()
        if text in {"", "-", "--", "–", "n/a", "NA", "na"}:
            return None
        try:
            value = float(text.replace(",", ".") if self.decimal_comma else text)
        except ValueError:
            value = math.nan
        if not (math.isfinite(value) and value >= 0):
            message = f'{self.file}: row {row.row}: {role}: found "{text[:40]}"; allowed: a number, 0 or more'
            raise FileError(message)
        return value * self.scales.get(role, scale)


def read_numbers(path: Path, words: Mapping[str, Sequence[str]], *, needed: Sequence[str]) -> NumberTable:
    """Return a table of numbers from a CSV file.

    Parameters
    ----------
    path : Path
        The file: comma, semicolon, tab or bar between columns, a row of names on top.
    words : mapping of str to sequence of str
        Names that a column of each role may have, without its unit.
    needed : sequence of str
        Roles that must be there.

    Returns
    -------
    NumberTable
        The table.

    Raises
    ------
    FileError
        If the file cannot be read, is empty, or lacks a needed column.
    """
    text, _ = decode(path, read_bytes(path))
    records, delimiter = split_records(path, text)
    at = next((index for index, record in enumerate(records) if any(cell.strip() for cell in record)), None)
    if at is None:
        message = f"{path}: found an empty file; allowed: a row of column names and rows of numbers"
        raise FileError(message)
    columns, scales = _columns(records[at], words)
    missing = [role for role in needed if role not in columns]
    if missing:
        listed = ", ".join(f'"{name.strip()[:40]}"' for name in records[at][:20])
        message = (
            f"{path}: found no column for {' or '.join(missing)} among {listed}; "
            f"allowed: a row of names on top, such as {', '.join(words)}"
        )
        raise FileError(message)
    rows = tuple(
        NumberRow(
            row=number,
            cells={role: record[column] for role, column in columns.items() if column < len(record)},
        )
        for number, record in enumerate(records[at + 1 :], at + 2)
        if any(cell.strip() for cell in record)
    )
    return NumberTable(file=path.name, rows=rows, scales=scales, decimal_comma=delimiter != ",")


def _columns(
    names: Sequence[str], words: Mapping[str, Sequence[str]]
) -> tuple[dict[str, int], dict[str, float]]:
    columns: dict[str, int] = {}
    scales: dict[str, float] = {}
    for at, name in enumerate(names):
        plain = plain_words(name)
        stem, _, unit = plain.rpartition(" ")
        if unit not in _UNITS:
            stem, unit = plain, ""
        role = next((role for role, known in words.items() if stem in known), None)
        if role is not None and role not in columns:
            columns[role] = at
            if unit:
                scales[role] = _UNITS[unit]
    return columns, scales

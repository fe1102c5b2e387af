"""A table of pivots, one a row, from a spreadsheet's text file or a vector file of points.

Columns are guessed from their names, in English and Spanish, and always said. A row that cannot be
used is named with what was found and what is allowed; the others go on.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from ringrow.coverage.bulk_acres import BulkPivots
from ringrow.errors import RingrowError
from ringrow.farm.bulk_cells import LENGTHS, TEXT_ENDINGS, bulk_columns, read_point_table, read_text_table
from ringrow.farm.coordinates import parse_at
from ringrow.farm.faults import number_words
from ringrow.farm.readers.cells import number, plain_words, position
from ringrow.farm.readers.rows import Refused, why

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from pathlib import Path

    from numpy.typing import NDArray

    from ringrow.farm.bulk_cells import RawTable, TableColumns
    from ringrow.units import UnitSystem

LONGEST_M = 2_000.0
"""No radius, pipe or reach is longer than this [m]: beyond it a unit is wrong."""
AGREE = 0.01
"""Share by which two statements of one length may differ [-]."""

_ARCS = {"auto": "auto", "automatic": "auto", "automatico": "auto", "always": "always", "siempre": "always"}
_EMPTY = frozenset({"", "-", "--", "–", "n/a", "na", "null", "none"})


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BulkTable:
    """The pivots of a table.

    Parameters
    ----------
    file : str
        The file's name.
    counted : {"row", "feature"}
        What the numbers of the rows count: rows as a spreadsheet counts them, or features.
    numbers : tuple of int
        Number of each pivot's row. [-]
    names : tuple of str
        Name of each; ``row 5`` where there is none.
    pivots : BulkPivots
        The machines.
    flow_lps : ndarray, shape (n,)
        Flow at each pivot point; no number where none is stated. [L/s]
    assumed : tuple of tuple of str
        What was taken for what each row leaves out and an answer rests on.
    refused : tuple of Refused
        Rows that cannot be used, and why.
    said : tuple of str
        What was guessed.
    """

    file: str
    counted: str
    numbers: tuple[int, ...]
    names: tuple[str, ...]
    pivots: BulkPivots
    flow_lps: NDArray[np.float64]
    assumed: tuple[tuple[str, ...], ...]
    refused: tuple[Refused, ...]
    said: tuple[str, ...]


def read_bulk_table(path: Path, *, units: UnitSystem, stated: Mapping[str, str] | None = None) -> BulkTable:
    """Return the pivots of a table.

    Parameters
    ----------
    path : Path
        A table of text (`TEXT_ENDINGS`), or a vector file of points.
    units : UnitSystem
        Units of columns whose names do not say theirs.
    stated : mapping of str to str or None, default None
        Columns the user states by role; the others are guessed.

    Returns
    -------
    BulkTable
        Pivots in the order of the rows.

    Raises
    ------
    FileError
        If the file cannot be read as a table, or lacks columns for a place or a machine.
    DomainError
        If a stated column is not in the file.
    """
    raw = read_text_table(path) if path.name.lower().endswith(TEXT_ENDINGS) else read_point_table(path)
    columns = bulk_columns(raw, stated or {}, units)
    rows = _Rows(raw=raw, columns=columns, units=units)
    return _table(rows)


@dataclass(slots=True, kw_only=True)
class _Rows:
    """Rows while they are read: what is wrong with each so far, what is taken for granted."""

    raw: RawTable
    columns: TableColumns
    units: UnitSystem
    faults: dict[int, list[str]] = field(default_factory=dict)
    assumed: list[list[str]] = field(init=False)

    def __post_init__(self) -> None:
        self.assumed = [[] for _ in self.raw.numbers]

    def __len__(self) -> int:
        return len(self.raw.numbers)

    def cells(self, role: str) -> list[str] | None:
        """Return the texts of a role; None where no column plays it."""
        at = self.columns.index.get(role)
        return None if at is None else self.raw.cells[at]

    def refuse(self, at: int, message: str) -> None:
        """Note what is wrong with a row."""
        self.faults.setdefault(at, []).append(message)

    def refuse_where(self, wrong: NDArray[np.bool_], words: Callable[[int], str]) -> None:
        """Note the same of several rows."""
        for at in np.flatnonzero(wrong).tolist():
            self.refuse(at, words(at))

    def assume(self, where: NDArray[np.bool_], text: str) -> None:
        """Note what was taken for granted in several rows."""
        for at in np.flatnonzero(where).tolist():
            self.assumed[at].append(text)


def _table(rows: _Rows) -> BulkTable:
    lon, lat = _places(rows)
    lengths = {role: _lengths(rows, role, zero=role in ("overhang", "throw", "setback")) for role in LENGTHS}
    lengths["spans"] = _spans(rows)
    pipe, base = _radii(rows, lengths)
    gun, auto = _guns(rows, lengths, pipe)
    start, stop = _sector(rows)
    flow = _floats(rows, "flow") * rows.columns.scale["flow"]
    rows.refuse_where(flow <= 0, lambda at: _refusal(rows, "flow", at, "a number above 0, or nothing"))
    kept = np.array([at not in rows.faults for at in range(len(rows))], dtype=bool)
    pivots = BulkPivots(
        lon=lon[kept],
        lat=lat[kept],
        base_m=base[kept],
        gun_m=gun[kept],
        gun_auto=auto[kept],
        setback_m=np.nan_to_num(lengths["setback"])[kept],
        start_deg=start[kept],
        stop_deg=stop[kept],
    )
    raw, at_kept = rows.raw, np.flatnonzero(kept).tolist()
    names = rows.cells("name") or [""] * len(rows)
    bad = [
        Refused(what=f"{raw.counted} {raw.numbers[at]}", why="; also ".join(texts))
        for at, texts in rows.faults.items()
    ]
    return BulkTable(
        file=raw.path.name,
        counted=raw.counted,
        numbers=tuple(raw.numbers[at] for at in at_kept),
        names=tuple(names[at].strip() or f"{raw.counted} {raw.numbers[at]}" for at in at_kept),
        pivots=pivots,
        flow_lps=flow[kept],
        assumed=tuple(tuple(rows.assumed[at]) for at in at_kept),
        refused=tuple(sorted([*raw.refused, *bad], key=lambda row: int(row.what.split()[-1]))),
        said=(*raw.said, rows.columns.said),
    )


def _floats(rows: _Rows, role: str) -> NDArray[np.float64]:
    """Return the numbers of a role as they stand, no number where a cell is empty or refused."""
    cells = rows.cells(role)
    if cells is None:
        return np.full(len(rows), np.nan)
    texts = [cell.strip() for cell in cells]
    try:
        # The way of a clean column, some thirty times quicker than cell by cell.
        values = np.array([float(text) if text else math.nan for text in texts])
        if np.isfinite(values).sum() == sum(map(bool, texts)) and not any("_" in text for text in texts):
            return values
    except ValueError:
        pass
    values = np.full(len(rows), np.nan)
    for at, text in enumerate(texts):
        if text.casefold() in _EMPTY:
            continue
        try:
            values[at] = number(text)
        except ValueError:
            rows.refuse(at, _refusal(rows, role, at, "a number, or nothing"))
    return values


def _refusal(rows: _Rows, role: str, at: int, allowed: str) -> str:
    cells = rows.cells(role)
    text = cells[at].strip()[:40] if cells is not None else ""
    return f'{role}: found "{text}"; allowed: {allowed}'


def _lengths(rows: _Rows, role: str, *, zero: bool) -> NDArray[np.float64]:
    if role == "spans":
        return np.full(len(rows), np.nan)
    values = _floats(rows, role) * rows.columns.scale[role]
    most = f"{rows.units.from_m(LONGEST_M):,.0f} {rows.units.length}"
    low = values < 0 if zero else values <= 0
    allowed = f"{'0' if zero else 'above 0'} and up to {most}; is the unit right?"
    rows.refuse_where(low | (values > LONGEST_M), lambda at: _refusal(rows, role, at, allowed))
    return values


def _places(rows: _Rows) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    if rows.raw.lonlat is not None:
        return rows.raw.lonlat[:, 0], rows.raw.lonlat[:, 1]
    together = rows.cells("place")
    if together is not None:
        return _each_place(rows, lambda at: parse_at(together[at]))
    one, two = rows.cells("lat") or [], rows.cells("lon") or []
    try:
        lat, lon = np.array([float(c) for c in one]), np.array([float(c) for c in two])
    except ValueError:
        lat = lon = np.full(len(rows), np.nan)
    if ((np.abs(lat) <= 89) & (np.abs(lon) <= 180)).all():
        return lon, lat
    return _each_place(rows, lambda at: position(one[at], two[at]))


def _each_place(
    rows: _Rows, read: Callable[[int], tuple[float, float]]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    lonlat = np.zeros((2, len(rows)))
    for at in range(len(rows)):
        try:
            lat, lon = read(at)
        except (RingrowError, ValueError) as error:
            rows.refuse(at, why(error))
            continue
        if abs(lat) > 89:
            rows.refuse(at, f"lat: found {lat:g}; allowed: -89 to 89")
            continue
        lonlat[:, at] = lon, lat
    return lonlat[0], lonlat[1]


def _spans(rows: _Rows) -> NDArray[np.float64]:
    """Return the sums of lists of spans; a list is parted by blanks, commas, semicolons, plus signs."""
    cells, sums = rows.cells("spans"), np.full(len(rows), np.nan)
    for at, cell in enumerate(cells or ()):
        pieces = _pieces(cell)
        if not pieces:
            continue
        try:
            spans = [number(piece) for piece in pieces]
        except ValueError:
            spans = []
        total = sum(spans) * rows.columns.scale["spans"]
        if not spans or min(spans) <= 0 or total > LONGEST_M:
            allowed = 'lengths above 0, parted by blanks, such as "180 180 158"'
            rows.refuse(at, _refusal(rows, "spans", at, allowed))
            continue
        sums[at] = total
    return sums


def _pieces(cell: str) -> list[str]:
    """Return the parts of a list; a comma inside a part is a decimal comma, but where nothing else parts."""
    plain = cell.strip("[]() ").replace(", ", " ").replace(";", " ").replace("+", " ")
    pieces = plain.split()
    if len(pieces) == 1 and "," in plain:
        # "180,5" may be one span or two.
        return plain.split(",") if plain.count(",") > 1 else ["?"]
    return pieces


def _radii(
    rows: _Rows, lengths: Mapping[str, NDArray[np.float64]]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return each pipe's length and the wetted radius without a gun."""
    tower, spans, length, radius = (lengths[role] for role in ("last_tower", "spans", "length", "radius"))
    overhang, throw = lengths["overhang"], lengths["throw"]
    unit = rows.units.length

    def said(value: float) -> str:
        return f"{number_words(round(float(rows.units.from_m(value)), 1))} {unit}"

    def unlike(one: NDArray[np.float64], two: NDArray[np.float64]) -> NDArray[np.bool_]:
        return np.abs(one - two) > AGREE * np.fmax(one, two)

    rows.refuse_where(
        unlike(tower, spans),
        lambda at: (
            f"last_tower: found {said(tower[at])}, but spans of {said(spans[at])} together; "
            "allowed: the same length, or one of the two"
        ),
    )
    last = np.where(np.isnan(tower), spans, tower)
    summed = last + np.nan_to_num(overhang)
    rows.refuse_where(
        unlike(length, np.where(np.isnan(overhang), np.nan, summed)) | (length < last * (1 - AGREE)),
        lambda at: (
            f"length: found {said(length[at])}, but last tower and overhang give {said(summed[at])}; "
            "allowed: the same length, or one of the two"
        ),
    )
    pipe = np.where(np.isnan(length), summed, length)
    thrown = pipe + np.nan_to_num(throw)
    rows.refuse_where(
        unlike(radius, np.where(np.isnan(throw), np.nan, thrown)) | (radius < pipe * (1 - AGREE)),
        lambda at: (
            f"radius: found {said(radius[at])}, but pipe and throw give {said(thrown[at])}; "
            "allowed: the same length, or one of the two; radius is where the water ends"
        ),
    )
    base = np.where(np.isnan(radius), thrown, radius)
    rows.refuse_where(
        np.isnan(base) & _unsaid(rows),
        lambda _: "machine: found no radius, length, last_tower or spans; allowed: one of them",
    )
    zero = f"taken as 0 {unit}"
    no_radius = np.isnan(radius) & np.isfinite(base)
    rows.assume(no_radius & np.isnan(length) & np.isnan(overhang), f"overhang {zero}")
    rows.assume(no_radius & np.isnan(throw), f"throw {zero}")
    pipe = np.where(np.isnan(pipe), radius - np.nan_to_num(throw), pipe)
    return pipe, base


def _unsaid(rows: _Rows) -> NDArray[np.bool_]:
    """Return rows about whose machine nothing wrong was found yet."""
    return np.array([at not in rows.faults for at in range(len(rows))], dtype=bool)


def _guns(
    rows: _Rows, lengths: Mapping[str, NDArray[np.float64]], pipe: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Return each gun's radius and whether it runs by itself wherever its water stays in the field."""
    reach, setback = lengths["gun"], lengths["setback"]
    has = np.isfinite(reach)
    texts = rows.cells("arcs") or [""] * len(rows)
    found = [_ARCS.get(plain_words(text), "") if text.strip() else None for text in texts]
    wrong = np.array([word == "" for word in found], dtype=bool)
    rows.refuse_where(wrong, lambda at: _refusal(rows, "arcs", at, '"auto", "always", or nothing for "auto"'))
    auto = np.array([word != "always" for word in found], dtype=bool)
    unstated = np.array([word is None for word in found], dtype=bool)
    only_radius = np.isnan(lengths["length"]) & np.isnan(lengths["last_tower"]) & np.isnan(lengths["spans"])
    zero = f"taken as 0 {rows.units.length}"
    rows.assume(has & only_radius & np.isnan(lengths["throw"]), f"throw {zero}")
    rows.assume(has & unstated, 'end gun arcs taken as "auto"')
    rows.assume(has & auto & np.isnan(setback), f"setback {zero}")
    return pipe + reach, auto & has


def _sector(rows: _Rows) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    start, stop = _floats(rows, "start"), _floats(rows, "stop")
    azimuth = "0 or more and below 360 degrees; leave both stops empty for a full circle"
    for role, values in (("start", start), ("stop", stop)):
        rows.refuse_where(
            (values < 0) | (values >= 360),
            partial(_refusal, rows, role, allowed=azimuth),
        )
    rows.refuse_where(
        (np.isnan(start) != np.isnan(stop)) & _unsaid(rows),
        lambda _: "sector: found one stop of two; allowed: start and stop, or neither for a full circle",
    )
    rows.refuse_where(
        start == stop,
        lambda at: (
            f"sector: found start and stop both {start[at]:g}; allowed: two azimuths, clockwise from "
            "start to stop, or neither for a full circle"
        ),
    )
    return start, stop

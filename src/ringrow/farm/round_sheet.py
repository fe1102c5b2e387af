"""The table of a round: one row an item to fill in by hand or in a spreadsheet, and back in.

A row that is not filled in says nothing. A table comes in whole or not at all, and coming in
again changes nothing: each row has the id that its own words give it.
"""

from __future__ import annotations

import uuid
from collections import Counter
from dataclasses import dataclass, replace
from datetime import timedelta
from typing import TYPE_CHECKING

from ringrow.errors import FileError, RingrowError, shortened
from ringrow.farm.events import canonical
from ringrow.farm.names import find_named
from ringrow.farm.readers.cells import plain_words
from ringrow.farm.readers.own import plain_cell
from ringrow.farm.readers.rows import read_bytes
from ringrow.farm.readers.table import decode, split_records
from ringrow.farm.reading_kinds import READING_KINDS
from ringrow.farm.round_entries import Entry, SaidOfLook, SaidOfReading, look_entry, reading_entry
from ringrow.farm.round_words import says_nothing_seen
from ringrow.farm.system_checks import items_of, parts_for, things_of

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from ringrow.farm.flags import Stamp
    from ringrow.farm.model import Farm
    from ringrow.farm.round_entries import RoundDesk
    from ringrow.farm.system_checks import Thing
    from ringrow.farm.systems import FarmSystem

COLUMNS: dict[str, tuple[str, ...]] = {
    "system": ("system", "sistema"),
    "item": ("item", "punto"),
    "words": ("what to do", "que hacer"),
    "part": ("tower or zone", "torre o zona"),
    "answer": ("answer", "respuesta"),
    "unit": ("unit", "unidad"),
    "state": ("walking or idle", "andando o parada"),
    "qualified": ("by a qualified person", "por persona calificada"),
    "except": ("except", "excepto"),
    "why": ("why", "por que"),
    "next": ("next step", "siguiente paso"),
    "whose": ("whose", "de quien"),
    "needed_by": ("needed by", "para cuando"),
    "who": ("who", "quien"),
    "when": ("when", "cuando"),
    "note": ("note", "nota"),
}
"""Columns of the table: names of each that are understood, English first."""

_NAMESPACE = uuid.UUID("0b6c1f0e-5f53-5a4e-8a53-0d4bd2e8a6c7")
_STATES = {
    **dict.fromkeys(("walking", "running", "andando", "caminando", "en marcha"), True),
    **dict.fromkeys(("idle", "standing", "stopped", "parada", "parado", "quieta"), False),
}
_YES, _NO = ("yes", "y", "x", "si"), ("", "no", "n")
_MOST_SHOWN = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetRow:
    """One row of a blank table.

    Parameters
    ----------
    system : FarmSystem
        The system.
    item : str
        Id of the item; empty for the row that says nothing was seen of the whole system.
    own_words : str
        The farm's words for it; empty for ours.
    parts : str
        Towers it is asked of, such as ``1-8``; the zone; empty for the system as a whole.
    unit : str
        Unit of an item that is read.
    """

    system: FarmSystem
    item: str
    own_words: str
    parts: str
    unit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetEntry:
    """One row of a table that was filled in.

    Parameters
    ----------
    row : int
        Number of the row as a spreadsheet counts. [-]
    who : str
        Who it says has looked; empty when it does not.
    cells : tuple of str
        Its cells, for the id of its record.
    entry : Entry
        What it says.
    """

    row: int
    who: str
    cells: tuple[str, ...]
    entry: Entry


def blank_rows(farm: Farm) -> list[SheetRow]:
    """Return the rows of a blank table.

    Parameters
    ----------
    farm : Farm
        The farm.

    Returns
    -------
    list of SheetRow
        For each system a row for "nothing seen", then one for each item; one for each zone.
    """
    rows = []
    for system, thing in things_of(farm):
        rows.append(SheetRow(system=system, item="", own_words="", parts="", unit=""))
        for item in items_of(farm, system, thing):
            unit = READING_KINDS[item.id].quantity.shown_unit(farm.units) if item.how == "read" else ""
            for part in _asked_of(thing, item.per):
                row = SheetRow(system=system, item=item.id, own_words=item.words, parts=part, unit=unit)
                rows.append(row)
    return rows


def _asked_of(thing: Thing, per: str) -> tuple[str, ...]:
    parts = parts_for(thing, per)
    if per != "tower":
        return parts
    hands = {part.rpartition(" ")[0] for part in parts}
    runs = {
        hand: [part.rpartition(" ")[2] for part in parts if part.rpartition(" ")[0] == hand] for hand in hands
    }
    return (", ".join(f"{hand} {run[0]}-{run[-1]}".strip() for hand, run in sorted(runs.items())),)


def read_sheet(path: Path, desk: RoundDesk) -> tuple[list[SheetEntry], int]:
    """Return what a table that was filled in says.

    Parameters
    ----------
    path : Path
        The file: comma, semicolon, tab or bar between columns, a row of names on top.
    desk : RoundDesk
        The farm.

    Returns
    -------
    entries : list of SheetEntry
        Rows that say something.
    blank : int
        How many rows do not.

    Raises
    ------
    FileError
        If the file cannot be read, lacks a column, or any row cannot be: the first 20 are named.
    """
    if not path.is_file():
        message = f"{path}: found no such file; allowed: a table as written by ringrow round sheet"
        raise FileError(message)
    text, _ = decode(path, read_bytes(path))
    records, _ = split_records(path, text)
    at = next((index for index, record in enumerate(records) if any(cell.strip() for cell in record)), None)
    if at is None:
        message = f"{path}: found an empty file; allowed: a table as written by ringrow round sheet"
        raise FileError(message)
    columns = _columns(path, records[at])
    entries, faults, blank = [], [], 0
    for number, record in enumerate(records[at + 1 :], at + 2):
        cells = {
            role: plain_cell(record[column]).strip() if column < len(record) else ""
            for role, column in columns.items()
        }
        if not any(cells.get(role) for role in _SAYING):
            blank += any(record)
            continue
        try:
            entry = _entry(desk, cells)
        except RingrowError as error:
            faults.append(f"row {number}: {shortened(error, longest=220)}")
            continue
        entries.append(
            SheetEntry(
                row=number,
                who=cells.get("who", ""),
                cells=tuple(cells[r] for r in sorted(cells)),
                entry=entry,
            )
        )
    if faults:
        rest = f"\nand {len(faults) - _MOST_SHOWN} more" if len(faults) > _MOST_SHOWN else ""
        listed = "\n".join(faults[:_MOST_SHOWN])
        message = f"{path}: nothing was brought in; rows that cannot be: {len(faults)}\n{listed}{rest}"
        raise FileError(message)
    return entries, blank


_SAYING = ("answer", "except", "why", "next", "whose", "needed_by", "note")


def _columns(path: Path, names: Sequence[str]) -> dict[str, int]:
    known = {name: role for role, several in COLUMNS.items() for name in several}
    columns: dict[str, int] = {}
    for index, name in enumerate(names):
        role = known.get(plain_words(name))
        if role is not None:
            columns.setdefault(role, index)
    missing = [COLUMNS[role][0] for role in ("system", "item", "answer") if role not in columns]
    if missing:
        listed = ", ".join(f'"{name.strip()[:40]}"' for name in names[:20])
        message = (
            f"{path}: found no column {' or '.join(missing)} among {listed}; "
            "allowed: a table as written by ringrow round sheet"
        )
        raise FileError(message)
    return columns


def _entry(desk: RoundDesk, cells: dict[str, str]) -> Entry:
    system, thing = find_named(desk.things, cells["system"] or "?", what="system")
    answer = cells["answer"]
    item, is_read = _own_item(desk.farm, system, thing, cells["item"])
    if is_read:
        return reading_entry(desk, cells["system"], _said_of_reading(cells | {"item": item}))
    parts = cells.get("part", "")
    by_zone = system.kind == "drip"
    said = SaidOfLook(
        towers="" if by_zone else parts,
        zones=parts if by_zone else "",
        exceptions=tuple(text.strip() for text in cells.get("except", "").split(";") if text.strip()),
        why=cells.get("why", ""),
        next_step=cells.get("next", ""),
        whose=cells.get("whose", ""),
        needed_by=cells.get("needed_by", ""),
        note=cells.get("note", ""),
        at=cells.get("when", ""),
    )
    if item:
        said = replace(said, items=((item, answer),) if answer else ())
    elif answer:
        if not says_nothing_seen(answer):
            message = f'answer: found "{answer[:40]}" without an item; allowed: nothing seen, or an item'
            raise FileError(message)
        said = replace(said, nothing_seen=True)
    if item and not answer:
        message = f"{item}: found no answer beside it; allowed: yes, no, low, bad: ..., none"
        raise FileError(message)
    return look_entry(desk, cells["system"], said)


def _own_item(farm: Farm, system: FarmSystem, thing: Thing, typed: str) -> tuple[str, bool]:
    """Return the id of an item, capitals aside, and whether it is read; what is no item as typed."""
    how = {
        **dict.fromkeys(READING_KINDS, "read"),
        **{each.id: each.how for each in items_of(farm, system, thing)},
    }
    item = typed.casefold() if typed.casefold() in how else typed
    return item, how.get(item) == "read"


def _said_of_reading(cells: dict[str, str]) -> SaidOfReading:
    for role in ("except", "why", "next", "whose", "needed_by"):
        if cells.get(role):
            message = (
                f"{COLUMNS[role][0]}: found beside a number; allowed: beside what was looked at or tried"
            )
            raise FileError(message)
    state, qualified = (plain_words(cells.get(role, "")) for role in ("state", "qualified"))
    if state and state not in _STATES:
        message = f'walking or idle: found "{cells["state"][:40]}"; allowed: walking, idle'
        raise FileError(message)
    if qualified not in (*_YES, *_NO):
        message = f'by a qualified person: found "{cells["qualified"][:40]}"; allowed: yes, no'
        raise FileError(message)
    return SaidOfReading(
        item=cells["item"],
        number=cells["answer"],
        unit=cells.get("unit", ""),
        zone=cells.get("part", ""),
        walking=_STATES.get(state),
        qualified=qualified in _YES,
        note=cells.get("note", ""),
        at=cells.get("when", ""),
    )


def sheet_stamps(rows: Sequence[SheetEntry], stamp: Stamp) -> list[Stamp]:
    """Return who says each row, and when.

    Parameters
    ----------
    rows : sequence of SheetEntry
        Rows of a table.
    stamp : Stamp
        Who brings it in, and when.

    Returns
    -------
    list of Stamp
        With the name a row gives, where it gives one; each row a moment after the one above it, so
        that of two rows about one thing, on one day, the lower stands.
    """
    return [
        replace(stamp, who=row.who or stamp.who, when=stamp.when + timedelta(microseconds=above))
        for above, row in enumerate(rows)
    ]


def sheet_subjects(rows: Sequence[SheetEntry], round_id: str) -> list[str]:
    """Return the ids of the records of a table's rows: the same whenever it comes in again.

    Parameters
    ----------
    rows : sequence of SheetEntry
        Rows of a table.
    round_id : str
        UUID of the round it belongs to.

    Returns
    -------
    list of str
        UUIDs, from the cells of each row; the second of two equal rows has another.
    """
    seen: Counter[tuple[str, ...]] = Counter()
    subjects = []
    for row in rows:
        seen[row.cells] += 1
        words = canonical([round_id, list(row.cells), seen[row.cells]])
        subjects.append(str(uuid.uuid5(_NAMESPACE, words)))
    return subjects

"""Reading a damaged season log page by page, without its tables, indexes or header.

An event carries its fingerprint, so a row that is found anywhere in the file and matches is an
event, whatever became of the tree that should lead to it. The layout of pages and records is
that of the SQLite file format, https://www.sqlite.org/fileformat2.html.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterator

# A row of events is nine texts, the first two UUIDs of 36 letters: serial type 2 x 36 + 13 = 0x55.
_COLUMNS = 9
_TWO_IDS = b"\x55\x55"
_UUID = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}")
_USUAL_PAGE = 4096
_LEAF_TABLE, _LEAF_INDEX, _INNER_INDEX = 0x0D, 0x0A, 0x02


@dataclass(frozen=True, slots=True, kw_only=True)
class PageRows:
    """What stands in the pages of a log, none of it trusted yet.

    Parameters
    ----------
    rows : tuple of tuple
        Nine texts each, as stored; the same row may come twice.
    labels : dict of str to int
        UUIDs with the whole number beside them: numbers of flags, and places of events in the file.
    fields : dict of int to tuple
        Flag and field of an event, by its place in the file.
    numbers : dict of str to int
        Number of each flag.
    """

    rows: tuple[tuple[str, ...], ...]
    labels: dict[str, int]
    fields: dict[int, tuple[str, str]]
    numbers: dict[str, int]


def read_pages(data: bytes) -> PageRows:
    """Return what the pages of a season log hold, in whatever state the file is.

    Parameters
    ----------
    data : bytes
        The whole file.

    Returns
    -------
    PageRows
        Rows, index entries and numbers that have the right form.
    """
    stated = int.from_bytes(data[16:18], "big")
    sizes = dict.fromkeys([stated, _USUAL_PAGE] if 512 <= stated <= 32_768 else [_USUAL_PAGE])
    # A flipped page size cuts the file up wrongly: the size that shows most is the right one.
    return max((_read(data, size) for size in sizes), key=lambda found: len(found.rows) + len(found.labels))


def _read(data: bytes, size: int) -> PageRows:
    rows: list[tuple[str, ...]] = []
    labels: dict[str, int] = {}
    fields: dict[int, tuple[str, str]] = {}
    numbers: dict[str, int] = {}
    for start in range(0, len(data), size):
        page = data[start : start + size]
        rows += _event_rows(data, page, size)
        for rowid, values in _cells(page, 100 if start == 0 else 0):
            match values:
                case [str(id_), int(at)] if rowid is None and _UUID.fullmatch(id_):
                    labels[id_] = at
                case [str(flag), str(field), int(at)] if rowid is None and _UUID.fullmatch(flag):
                    fields[at] = (flag, field)
                case [None, str(flag)] if rowid is not None and _UUID.fullmatch(flag):
                    numbers[flag] = rowid
                case _:
                    pass
    return PageRows(rows=tuple(rows), labels=labels, fields=fields, numbers=numbers)


def _event_rows(data: bytes, page: bytes, size: int) -> Iterator[tuple[str, ...]]:
    """Yield rows that begin in a page, found by the form of their header alone."""
    at = page.find(_TWO_IDS)
    while at > 0:
        head = page[at - 1]
        types = _types(page[at : at - 1 + head])
        if len(types) == _COLUMNS and all(kind >= 13 and kind % 2 for kind in types):
            lengths = [(kind - 13) // 2 for kind in types]
            record = _payload(data, page, size, at - 1, head + sum(lengths))
            yield tuple(text for text in _texts(record[head:], lengths))
        at = page.find(_TWO_IDS, at + 1)


def _payload(data: bytes, page: bytes, size: int, at: int, length: int) -> bytes:
    """Return a record that starts in a page and runs on through overflow pages when it is long."""
    most = size - 35
    if length <= most:
        return page[at : at + length]
    least = (size - 12) * 32 // 255 - 23
    local = least + (length - least) % (size - 4)
    local = local if local <= most else least
    parts, following = [page[at : at + local]], page[at + local : at + local + 4]
    # No record is longer than its file: a chain of pages that bites its own tail has an end.
    left = min(length, len(data)) - local
    while left > 0 and (number := int.from_bytes(following, "big")) and number * size <= len(data) + size:
        more = data[(number - 1) * size : number * size]
        parts.append(more[4 : 4 + left])
        left, following = left - (size - 4), more[:4]
    return b"".join(parts)


def _texts(body: bytes, lengths: list[int]) -> Iterator[str]:
    at = 0
    for length in lengths:
        yield body[at : at + length].decode("utf-8", "replace")
        at += length


def _cells(page: bytes, head: int) -> Iterator[tuple[int | None, list[Any]]]:
    """Yield row id (None in an index) and values of each short record that a page points to."""
    if len(page) < head + 12 or page[head] not in (_LEAF_TABLE, _LEAF_INDEX, _INNER_INDEX):
        return
    kind = page[head]
    first = head + (12 if kind == _INNER_INDEX else 8)
    count = min(int.from_bytes(page[head + 3 : head + 5], "big"), (len(page) - first) // 2)
    for place in range(first, first + 2 * count, 2):
        at = int.from_bytes(page[place : place + 2], "big") + (4 if kind == _INNER_INDEX else 0)
        length, at = _varint(page, at)
        rowid: int | None = None
        if kind == _LEAF_TABLE:
            rowid, at = _varint(page, at)
        values = _values(page[at : at + length])
        if values:
            yield rowid, values


def _values(record: bytes) -> list[Any]:
    """Return the values of a record that holds nothing but nulls, whole numbers and texts; else none."""
    if not record or record[0] > len(record):
        return []
    values: list[Any] = []
    at = record[0]
    for kind in _types(record[1 : record[0]]):
        length = {0: 0, 1: 1, 2: 2, 3: 3, 4: 4, 5: 6, 6: 8, 8: 0, 9: 0}.get(kind, -1)
        if kind in (0, 8, 9):
            values.append({0: None, 8: 0, 9: 1}[kind])
        elif length > 0:
            values.append(int.from_bytes(record[at : at + length], "big", signed=True))
        elif kind >= 13 and kind % 2:
            length = (kind - 13) // 2
            values.append(record[at : at + length].decode("utf-8", "replace"))
        else:
            return []
        at += length
    return values


def _types(header: bytes) -> list[int]:
    types: list[int] = []
    at = 0
    while at < len(header) and len(types) <= _COLUMNS:
        kind, at = _varint(header, at)
        types.append(kind)
    return types


def _varint(data: bytes, at: int) -> tuple[int, int]:
    """Return a number of one to nine bytes, and where it ends."""
    value = 0
    for place in range(8):
        byte = data[at + place] if at + place < len(data) else 0
        value = value << 7 | byte & 0x7F
        if byte < 0x80:
            return value, at + place + 1
    last = data[at + 8] if at + 8 < len(data) else 0
    return value << 8 | last, at + 9

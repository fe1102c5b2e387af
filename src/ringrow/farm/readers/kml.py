"""Placemarks from KML and KMZ.

A parser that refuses document types and entities keeps nothing but the texts and points of
placemarks; links to other files and the network are counted, never followed. Of a KMZ only
the one KML document in it is unpacked, and no more of it than a file of points may hold.
"""

from __future__ import annotations

import io
import re
import zipfile
import zlib
from collections import Counter
from html import unescape
from typing import TYPE_CHECKING, Any

from ringrow.errors import FileError, PlaceError, RingrowError, SeasonError, shortened
from ringrow.farm.events import uuid_text
from ringrow.farm.readers.cells import position, read_accuracy, read_status, read_time, texts_of
from ringrow.farm.readers.columns import guess_columns, without_place
from ringrow.farm.readers.own import is_no_flag
from ringrow.farm.readers.plain_xml import parse_into
from ringrow.farm.readers.rows import MAX_BYTES, PointFile, PointRow, Refused, check_count, why

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from ringrow.farm.readers.columns import Columns

MAX_DEPTH = 60
"""Deepest nesting of elements that is read."""
MAX_MEMBERS = 5_000
"""Most files that a KMZ may hold."""

_TEXTS = {"name": "name", "description": "description", "when": "when", "begin": "when"}
_SHAPES = {"LineString": "line", "Polygon": "area", "Track": "track", "Model": "model", "LinearRing": ""}
_MAX_DATA = 100
_TAG = re.compile(r"[/!?]?[a-zA-Z]")
_HIDES = re.compile(r"!--|(?:script|style)\b", re.IGNORECASE)


class _Placemarks:
    """Parser target that keeps the texts and points of placemarks and counts the rest."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.root = ""
        self.marks: list[dict[str, Any]] = []
        self.left: Counter[str] = Counter()
        self.links = 0
        self._count = 0
        self._open: list[str] = []
        self._key = ""

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        """Take note of an element that opens."""
        local = tag.rpartition("}")[2]
        self._open.append(local)
        if len(self._open) > MAX_DEPTH:
            message = f"{self.path}: found elements nested deeper than {MAX_DEPTH}; allowed: a plain KML file"
            raise FileError(message)
        if len(self._open) == 1:
            self.root = local
        self.links += local == "NetworkLink"
        if local == "Placemark":
            self.marks.append({"id": attributes.get("id", ""), "points": [], "data": {}})
            check_count(self.path, len(self.marks))
        elif not self.marks or "Placemark" not in self._open:
            return
        elif local == "Point":
            self.marks[-1]["points"].append("")
            self._count += 1
            check_count(self.path, self._count)
        elif local in _SHAPES and "Polygon" not in self._open[:-1]:
            self.left[_SHAPES[local] or "line"] += 1
        elif local in ("Data", "SimpleData"):
            self._key = attributes.get("name", "")

    def end(self, _tag: str) -> None:
        """Take note of an element that closes."""
        self._open.pop()

    def data(self, text: str) -> None:
        """Keep the text of a placemark's own parts."""
        if len(self._open) < 2 or "Placemark" not in self._open:
            return
        mark, local, parent = self.marks[-1], self._open[-1], self._open[-2]
        if local == "coordinates" and parent == "Point":
            mark["points"][-1] += text
        elif local in ("name", "description") and parent == "Placemark":
            mark[local] = mark.get(local, "") + text
        elif local in _TEXTS and parent in ("TimeStamp", "TimeSpan"):
            mark["when"] = mark.get("when", "") + text
        elif ((local == "value" and parent == "Data") or local == "SimpleData") and (
            self._key in mark["data"] or len(mark["data"]) < _MAX_DATA
        ):
            mark["data"][self._key] = mark["data"].get(self._key, "") + text

    def close(self) -> _Placemarks:
        """Give back what was kept."""
        return self


def read_kml(path: Path, data: bytes, *, unit: str, stated: Mapping[str, str] | None = None) -> PointFile:
    """Return the points of a KML or KMZ file.

    Parameters
    ----------
    path : Path
        The file, for its name; one that ends in ``.kmz`` is unpacked.
    data : bytes
        What it holds.
    unit : {"ft", "m"}
        Unit of a bare accuracy.
    stated : mapping of str to str or None, default None
        Extended data the user states by role.

    Returns
    -------
    PointFile
        Placemarks are counted from 1, several points of one apart. Lines, areas and links to
        other files are left out, and said so.

    Raises
    ------
    FileError
        If it is no KML, is cut off, has entities or a document type, or holds too much.
    """
    said: list[str] = []
    if path.suffix.lower() == ".kmz":
        data, inner = _unpack(path, data)
        said += [inner] if inner else []
    found = parse_into(_Placemarks(path), path, data, kind="KML")
    if found.root not in ("kml", "Document", "Folder", "Placemark"):
        message = f"{path}: found an XML file whose root is {found.root[:40]!r}; allowed: kml"
        raise FileError(message)
    names = list(dict.fromkeys(name for mark in found.marks for name in mark["data"]))[:500]
    try:
        columns = without_place(guess_columns(names, stated=stated))
    except RingrowError as error:
        message = f"{path}: {error}"
        raise FileError(message) from error
    rows: list[PointRow] = []
    refused: list[Refused] = []
    others = 0
    for number, mark in enumerate(found.marks, start=1):
        if is_no_flag(mark["data"].get("feature"), mark["data"].get("id")):
            others += 1
            continue
        # An exported flag on a machine that stood nobody knows where has no point, but an id.
        points = mark["points"] or [""] * _is_flag(mark)
        several = len(points) > 1
        for part, place in enumerate(points, start=1):
            what = f"placemark {number}" + (f", point {part}" if several else "")
            try:
                rows.append(_row(mark, place, columns, what=what, unit=unit, alone=not several))
            except (RingrowError, ValueError) as error:
                refused.append(Refused(what=what, why=why(error)))
    said += [columns.words().replace("columns:", "extended data:")] if columns.index else []
    if others:
        said.append(f"left out: {others} of an exported farm that are no flags")
    elif found.left:
        shapes = ", ".join(f"{n} {word}{'s' * (n != 1)}" for word, n in sorted(found.left.items()))
        said.append(f"left out: {shapes} (only points become flags)")
    if found.links:
        word = "link" if found.links == 1 else "links"
        said.append(f"left out: {found.links} {word} to other files or the network (never followed)")
    return PointFile(file=path.name, form="kml", rows=tuple(rows), refused=tuple(refused), said=tuple(said))


def _unpack(path: Path, data: bytes) -> tuple[bytes, str]:
    """Return the document of a KMZ, and a remark when it holds more than one."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            members = archive.infolist()
            names = [item for item in members if item.filename.lower().endswith(".kml")]
            if not names or len(members) > MAX_MEMBERS:
                found = f"{len(members):,} files and {len(names):,} KML documents"
                message = (
                    f"{path}: found a KMZ with {found}; allowed: one KML document, up to {MAX_MEMBERS:,}"
                )
                raise FileError(message)
            # The first one is the document (KML 2.2 reference, KMZ files); what it claims its size
            # to be is not trusted: never more than the limit is unpacked.
            with archive.open(names[0]) as stream:
                content = stream.read(MAX_BYTES + 1)
    except (zipfile.BadZipFile, zlib.error, EOFError, RuntimeError, OSError, ValueError) as error:
        if isinstance(error, RingrowError):
            raise
        said = shortened(error)
        message = f"{path}: found a KMZ that cannot be unpacked ({said}); is the file cut off or locked?"
        raise FileError(message) from error
    if len(content) > MAX_BYTES:
        message = (
            f"{path}: found a document of more than {MAX_BYTES / 1e6:.0f} MB once unpacked; "
            "allowed: up to that; split the file"
        )
        raise FileError(message)
    more = len(names) - 1
    return content, f"left out: {more} more KML document{'s' * (more != 1)} in the KMZ" if more else ""


def _is_flag(mark: dict[str, Any]) -> bool:
    """Return whether a placemark is a flag that this program exported."""
    return mark["data"].get("feature") == "flag" and uuid_or_none(mark["data"].get("id")) is not None


def _row(
    mark: dict[str, Any], place: str, columns: Columns, *, what: str, unit: str, alone: bool
) -> PointRow:
    # Longitude, latitude and perhaps a height, which plays no part.
    own = _is_flag(mark)
    lat: float | None = None
    lon: float | None = None
    if place.strip() or not own:
        numbers = re.split(r"\s*,\s*", place.strip())
        if len(numbers) not in (2, 3):
            message = f"no place: found {place.strip()[:40]!r}; allowed: longitude,latitude"
            raise PlaceError(message)
        lat, lon = position(numbers[1], numbers[0])
    cells = {role: mark["data"].get(columns.names[at], "") for role, at in columns.index.items()}
    time, time_remark = read_time(
        mark.get("when", "") or cells.get("time") or f"{cells.get('date', '')} {cells.get('hour', '')}"
    )
    accuracy, accuracy_remark = read_accuracy(cells.get("accuracy", ""), unit=columns.accuracy_unit or unit)
    status, status_remark = read_status(cells.get("status", ""))
    name = " ".join(mark.get("name", "").split()) or cells.get("name", "")
    note = "; ".join(text for text in (_plain(mark.get("description", "")), cells.get("note", "")) if text)
    if own:
        # Its placemark's name is number and kind, its description the place in words.
        name, note = cells.get("name", ""), cells.get("note", "")
    own_id = uuid_or_none(mark["data"].get("id") or mark["id"]) if alone else None
    return PointRow(
        what=what,
        lat=lat,
        lon=lon,
        time=time,
        accuracy=accuracy,
        status=status,
        id=own_id,
        remarks=tuple(text for text in (time_remark, accuracy_remark, status_remark) if text),
        **texts_of({**cells, "name": name, "note": note, "kind_words": cells.get("kind", "")}),
    )


def uuid_or_none(text: Any) -> str | None:
    """Return the UUID that a file gives a point as its id; other ids are no ids of ours.

    Parameters
    ----------
    text : object
        What stands as the id.

    Returns
    -------
    str or None
        UUID; None when it is none.
    """
    try:
        return uuid_text(text)
    except SeasonError:
        return None


def _plain(text: str) -> str:
    """Return the plain words of a description, which many programs write as a web page.

    Tags become gaps; scripts, styles and comments are left out. Done in one pass over the pieces from
    one ``<`` to the next: the parser of the standard library takes half a minute over 60 kB of tags
    that never close, and fails on a marked section without a name.
    """
    first, *pieces = text.split("<")
    words, until = [first], ""
    for piece in pieces:
        opening = "" if until else _HIDES.match(piece)
        if opening:
            until = "-->" if opening[0] == "!--" else f"</{opening[0].lower()}"
        if until == "-->":
            _, ended, rest = f"<{piece}".partition(until)
        elif until:
            _, ended, rest = piece.partition(">")
            ended = ended if f"<{piece}".lower().startswith(until) else ""
        else:
            _, ended, rest = piece.partition(">")
            if not (ended and _TAG.match(piece)):
                words.append(f"<{piece}")
                continue
        if ended:
            words.append(f" {rest}")
            until = ""
    return " ".join(unescape("".join(words)).split())

"""Putting a surveyed piece into a field file: everything else in it stays, comments too.

The new text is read back by another reader and the farm is checked with it before anybody
writes a byte; a value that differs from what stands there is replaced only when asked.
"""

from __future__ import annotations

import copy
import os
import shutil
import tempfile
import tomllib
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT

from ringrow.coverage.accuracy import DEFAULT_ACCURACY, Accuracy
from ringrow.errors import FileError
from ringrow.farm.faults import listing, meant, one_line
from ringrow.farm.load import inspect_farm
from ringrow.farm.toml_pieces import Piece, quoted_toml, same_value, toml_item, value_words

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from ringrow.frame import Frame
    from ringrow.units import UnitSystem

EXCLUSIVE: dict[str, tuple[tuple[frozenset[str], frozenset[str]], ...]] = {
    "pivot": (
        (frozenset({"spans"}), frozenset({"towers", "last_tower"})),
        (frozenset({"panel_zero"}), frozenset({"panel_reading"})),
    ),
    "drip": ((frozenset({"heading"}), frozenset({"line"})),),
    "": ((frozenset({"outline"}), frozenset({"boundary"})),),
}
"""Keys of each table that stand in for each other: one side or the other, never both."""

_WORDS = {"pivot": "machine", "drip": "drip block"}
_OPTIONS = {"pivot": "--pivot", "drip": "--drip"}


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldHome:
    """A field file in its farm's folder.

    Parameters
    ----------
    folder, path : Path
        The farm's folder; the field file.
    text : str
        What it holds, with plain line feeds.
    raw : dict
        The same as plain data.
    units : UnitSystem
        The farm's units.
    accuracy : Accuracy
        The farm's accuracy of a position.
    frame : Frame or None
        The field's frame; None while the farm has faults.
    crlf, marked : bool, default False
        Whether its lines end in CR LF, and whether it starts with a byte order mark; both are kept.
    """

    folder: Path
    path: Path
    text: str
    raw: dict[str, Any]
    units: UnitSystem
    accuracy: Accuracy
    frame: Frame | None
    crlf: bool = False
    marked: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Edit:
    """A field file with a piece put in, ready to be written.

    Parameters
    ----------
    path : Path
        The field file.
    text : str
        All of its new text, line ends as they were.
    changes : tuple of str
        Every key that changes: was and is; empty when nothing does.
    warnings : tuple of str
        What the farm's check warns of in this file.
    """

    path: Path
    text: str
    changes: tuple[str, ...]
    warnings: tuple[str, ...] = ()


def open_field(path: Path, *, start: bool = False) -> FieldHome:
    """Return a field file with what a survey has to know of its farm.

    Parameters
    ----------
    path : Path
        The file, in the ``fields`` folder of a farm.
    start : bool, default False
        Whether a file that is not there is started, its name taken from the file's.

    Returns
    -------
    FieldHome
        The file and its farm's units, accuracy and frame.

    Raises
    ------
    FileError
        If it is not a field file of a farm, or cannot be read.
    """
    folder = path.parent.parent
    if path.suffix != ".toml" or path.parent.name != "fields" or not (folder / "farm.toml").is_file():
        message = (
            f"{path}: found no field file of a farm; allowed: FARM/fields/NAME.toml beside FARM/farm.toml; "
            "start a farm with: ringrow new DIR"
        )
        raise FileError(message)
    if not path.is_file() and not start:
        known = sorted(child.name for child in path.parent.glob("*.toml"))
        hint = meant(path.name, known)
        message = f"{path}: found no such file; allowed: one of {listing(known)}{'; ' + hint if hint else ''}"
        raise FileError(message)
    whole = _text(path) if path.is_file() else f"name = {quoted_toml(_name_of(path))}\n"
    text = whole.removeprefix("\ufeff").replace("\r\n", "\n")
    raw = _plain(path, text)
    inspection = inspect_farm(folder)
    farm = inspection.farm
    fields = {own.name: own for own in farm.fields} if farm else {}
    own = fields.get(str(raw.get("name")))
    return FieldHome(
        folder=folder,
        path=path,
        text=text,
        raw=raw,
        units=inspection.units,
        accuracy=farm.accuracy if farm else DEFAULT_ACCURACY,
        frame=own.frame if own else None,
        crlf="\r\n" in whole,
        marked=whole.startswith("\ufeff"),
    )


def _text(path: Path) -> str:
    try:
        return path.read_bytes().decode("utf-8")
    except OSError as error:
        message = f"{path}: cannot be read ({error.strerror})"
        raise FileError(message) from error
    except UnicodeDecodeError as error:
        message = f"{path}: found a letter that is not UTF-8; allowed: text in UTF-8; save it again so"
        raise FileError(message) from error


def _plain(path: Path, text: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        message = f"{path}: found broken TOML ({error}); mend it first: ringrow check {path.parent.parent}"
        raise FileError(message) from error


def _name_of(path: Path) -> str:
    words = path.stem.replace("_", " ").replace("-", " ").split()
    plain = " ".join(words[1:] if len(words) > 1 and words[0].isdigit() else words)
    return (plain[:1].upper() + plain[1:])[:60] or "Field"


def table_of(home: FieldHome, table: str, name: str | None) -> dict[str, Any] | None:
    """Return the machine or block of a field file that a survey is about.

    Parameters
    ----------
    home : FieldHome
        The field file.
    table : {"pivot", "drip", ""}
        Kind of table; empty for the field itself.
    name : str or None
        Its name; None for the only one.

    Returns
    -------
    dict or None
        Its keys as they stand; None when the file has none yet.

    Raises
    ------
    FileError
        If the name is not there, or none is stated and there are several.
    """
    if not table:
        return home.raw
    at = _position(home, table, name, new=False)
    return None if at is None else home.raw[table][at]


def _position(home: FieldHome, table: str, name: str | None, *, new: bool) -> int | None:
    """Return which table is meant, from 0; None to add one."""
    tables = home.raw.get(table) or []
    if not isinstance(tables, list) or not all(isinstance(item, dict) for item in tables):
        message = f"{home.path}: {table}: found no list of tables; allowed: [[{table}]]; mend it first"
        raise FileError(message)
    names = [str(item.get("name", "")) for item in tables]
    word, option = _WORDS[table], _OPTIONS[table]
    if name is None:
        if len(tables) > 1:
            message = (
                f"{home.path}: found {len(tables)} {word}s; allowed: one, or say which: {option} with one of "
                f"{listing(names)}"
            )
            raise FileError(message)
        return 0 if tables and not new else None
    if name in names:
        if new:
            message = f'{home.path}: found a {word} "{name}" already; allowed with --new: a new name'
            raise FileError(message)
        return names.index(name)
    if tables and not new:
        hint = meant(name, names)
        message = (
            f'{home.path}: found no {word} "{one_line(name)}"; allowed: one of {listing(names)}, or --new to '
            f"add it{'; ' + hint if hint else ''}"
        )
        raise FileError(message)
    return None


def put_piece(home: FieldHome, piece: Piece, *, overwrite: bool, new: bool = False) -> Edit:
    """Return a field file with a piece put in; nothing is written.

    Parameters
    ----------
    home : FieldHome
        The field file.
    piece : Piece
        What was surveyed.
    overwrite : bool
        Whether values that differ may be replaced.
    new : bool, default False
        Whether a machine or block is added beside those that are there.

    Returns
    -------
    Edit
        The new text, and every change in words.

    Raises
    ------
    FileError
        If a value that is there differs and may not be replaced, or the farm would have faults.
    """
    document = _document(home)
    expected = copy.deepcopy(home.raw)
    target, plain, label = document, expected, ""
    if piece.table:
        at = _position(home, piece.table, piece.name, new=new)
        target, plain, label = _entry(home, document, expected, piece, at)
    _check_points(home, plain, piece, label)
    fresh = {
        key: value
        for key, value in piece.values.items()
        if not (key in plain and same_value(plain[key], value))
    }
    gone = [key for key in _replaced(piece) if key in plain]
    clashes = [
        f"{label}{key}: was {value_words(plain[key])}, now {value_words(value)}"
        for key, value in fresh.items()
        if key in plain
    ]
    clashes += [f"{label}{key}: was {value_words(plain[key])}, now left out" for key in gone]
    if clashes and not overwrite:
        listed = "\n  ".join(clashes)
        message = (
            f"{home.path}: found other values there already:\n  {listed}\n"
            "allowed: the same values, or --overwrite to replace them; the file is left as it was"
        )
        raise FileError(message)
    added = [f"{label}{key}: now {value_words(value)}" for key, value in fresh.items() if key not in plain]
    document = _changed(document, target, fresh, gone)
    for key in gone:
        del plain[key]
    plain.update(fresh)
    text = tomlkit.dumps(document)
    if not clashes and not added:
        return Edit(path=home.path, text=home.text, changes=())
    _check_text(home, text, expected)
    warnings = _check_farm(home, text)
    whole = ("\ufeff" if home.marked else "") + (text.replace("\n", "\r\n") if home.crlf else text)
    return Edit(path=home.path, text=whole, changes=(*clashes, *added), warnings=warnings)


def _document(home: FieldHome) -> tomlkit.TOMLDocument:
    try:
        return tomlkit.parse(home.text)
    except TOMLKitError as error:
        message = (
            f"{home.path}: found TOML that cannot be changed by a program ({error}); put the piece in by hand"
        )
        raise FileError(message) from error


def _entry(
    home: FieldHome, document: tomlkit.TOMLDocument, expected: dict[str, Any], piece: Piece, at: int | None
) -> tuple[Any, dict[str, Any], str]:
    """Return the table a piece goes into, in the document and as plain data; a new one when there is none."""
    tables = document.get(piece.table)
    if at is not None and tables is not None:
        name = expected[piece.table][at].get("name")
        label = f'{piece.table} "{one_line(str(name))}": ' if name else f"{piece.table}[{at + 1}]: "
        return tables[at], expected[piece.table][at], label
    entry: dict[str, Any] = {"name": piece.name} if piece.name else {}
    table = tomlkit.table()
    table.update(entry)
    if tables is None:
        document.add(tomlkit.nl())
        tables = tomlkit.aot()
        tables.append(table)
        document.append(piece.table, tables)
        table = document[piece.table][-1]
    elif isinstance(tables, AoT):
        tables.append(table)
        table = tables[-1]
    else:
        message = (
            f"{home.path}: {piece.table}: found a list in [ ]; allowed here: [[{piece.table}]] tables; "
            "put the piece in by hand"
        )
        raise FileError(message)
    expected.setdefault(piece.table, []).append(entry)
    label = f'new {piece.table} "{one_line(piece.name)}": ' if piece.name else f"new {piece.table}: "
    return table, entry, label


def _check_points(home: FieldHome, plain: Mapping[str, Any], piece: Piece, label: str) -> None:
    if piece.table == "pivot" and "points" in plain and "point" in piece.values:
        message = (
            f"{home.path}: {label}found points = [...]: this machine is towed between several; allowed: "
            "the right one of them changed by hand; the file is left as it was"
        )
        raise FileError(message)


def _replaced(piece: Piece) -> list[str]:
    """Return keys that may not stand beside those of a piece."""
    gone: set[str] = set()
    for one, other in EXCLUSIVE[piece.table]:
        for mine, theirs in ((one, other), (other, one)):
            if mine & piece.values.keys() and not theirs & piece.values.keys():
                gone |= theirs
    return sorted(gone)


def _changed(
    document: tomlkit.TOMLDocument, target: Any, fresh: Mapping[str, Any], gone: list[str]
) -> tomlkit.TOMLDocument:
    """Return the document with keys changed; the field's own new keys go to the top, under its name."""
    for key in gone:
        del target[key]
    late = {key: value for key, value in fresh.items() if target is document and key not in document}
    for key, value in fresh.items():
        if key not in late:
            target[key] = toml_item(value)
    if not late:
        return document
    turned = tomlkit.document()
    for mark, item in document.body:
        turned.append(mark, item)
        if mark is not None and mark.key == "name":
            for key, value in late.items():
                turned.append(key, toml_item(value))
    return turned


def _check_text(home: FieldHome, text: str, expected: dict[str, Any]) -> None:
    """Read the new text with another reader: everything else must be as it was."""
    try:
        read = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        read = None
    if read is None or not same_value(read, expected):
        message = (
            f"{home.path}: the piece cannot be put in without touching other lines of this file, which is "
            "left as it was; put it in by hand"
        )
        raise FileError(message)


def _check_farm(home: FieldHome, text: str) -> tuple[str, ...]:
    """Check the farm as it would be; return the warnings of this file, refuse faults of any."""
    with _beside(home.folder) as copied:
        file = f"fields/{home.path.name}"
        place = copied / file
        # Never write through a link to the real file.
        place.unlink(missing_ok=True)
        place.write_text(text, encoding="utf-8", newline="\n")
        findings = inspect_farm(copied).findings
    if findings.faults:
        listed = "\n  ".join(str(fault) for fault in findings.faults)
        message = (
            f"{home.path}: with this piece the farm has faults:\n  {listed}\n"
            "allowed: a farm that passes ringrow check; the file is left as it was"
        )
        raise FileError(message)
    return tuple(str(warning) for warning in findings.warnings if warning.file == file)


@contextmanager
def _beside(folder: Path) -> Iterator[Path]:
    """Give a copy of a farm made of links, so that it can be checked with one file changed."""
    home = folder.resolve()
    try:
        place = tempfile.TemporaryDirectory(prefix=".ringrow-survey-", dir=home.parent)
    except OSError:
        place = tempfile.TemporaryDirectory(prefix=".ringrow-survey-")
    with place as name:
        copied = Path(name) / home.name
        ignored = shutil.ignore_patterns("season.db*", ".*", "*.html", "*.pdf")
        shutil.copytree(home, copied, copy_function=_link_or_copy, ignore=ignored)
        yield copied


def _link_or_copy(source: str, target: str) -> None:
    try:
        os.link(os.path.realpath(source), target)
    except OSError:
        shutil.copy2(source, target)

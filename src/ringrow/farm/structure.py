"""Reading TOML and fitting it to the schema; every misfit becomes a fault with a hint."""

from __future__ import annotations

import re
import tomllib
from typing import TYPE_CHECKING, Any, TypeVar, get_args, get_origin

from pydantic import BaseModel, ValidationError

from ringrow.farm.faults import Findings, key_path, listing, meant, nearest, shown
from ringrow.farm.schema import FarmFile, FieldFile
from ringrow.farm.schema_base import TAG, ShapeTable, Table
from ringrow.farm.schema_words import Loc, Slot, allowed_words, core_type, keys_at, literals, members, slot_at

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from ringrow.units import UnitSystem

TOML_BYTES = 2_000_000
"""Largest farm or field file [bytes]; written by hand they are a few thousand."""

TableT = TypeVar("TableT", bound=Table)


def read_toml(path: Path, file: str, findings: Findings) -> dict[str, Any] | None:
    """Return a TOML file as plain data, or note why it cannot be read.

    Parameters
    ----------
    path : Path
        The file.
    file : str
        Its name in faults.
    findings : Findings
        Where faults go.

    Returns
    -------
    dict or None
        The data; None when a fault was noted.
    """
    try:
        if path.stat().st_size > TOML_BYTES:
            size = f"a file of {path.stat().st_size / 1e6:.1f} MB"
            findings.fault(file, "", size, "at most 2 MB", "shapes belong in the shapes folder")
            return None
        raw = path.read_bytes()
        return tomllib.loads(raw.decode("utf-8-sig").replace("\r\n", "\n"))
    except OSError as error:
        findings.fault(file, "", f"a file that cannot be read ({error.strerror})", "a readable text file")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        hint = "save it again as UTF-8 in the text editor"
        findings.fault(file, f"line {line}", "a letter that is not UTF-8", "text in UTF-8", hint)
    except tomllib.TOMLDecodeError as error:
        _note_broken(str(error), raw.decode("utf-8-sig"), file, findings)
    except RecursionError:
        findings.fault(file, "", "brackets nested too deep", "tables and lists a few levels deep")
    return None


def _note_broken(message: str, text: str, file: str, findings: Findings) -> None:
    match = re.search(
        r"^(?P<what>.*) \(at (?:line (?P<line>\d+), column (?P<column>\d+)|end of document)\)$", message
    )
    lines = text.splitlines() or [""]
    number = int(match["line"]) if match and match["line"] else len(lines)
    words = lines[min(number, len(lines)) - 1].strip()
    what = match["what"] if match else message
    column = f", column {match['column']}" if match and match["column"] else ""
    found = (
        f"broken TOML at line {number}{column} ({what}): {words[:80]}" if words else f"broken TOML ({what})"
    )
    findings.fault(
        file, f"line {number}", found, "TOML: key = value, text in quotes", _toml_hint(words, what)
    )


def _toml_hint(words: str, what: str) -> str:
    if "overwrite" in what.lower() or "more than once" in what.lower() or "twice" in what.lower():
        return "a key may stand only once in a table"
    if (
        "=" in words
        and re.search(r"=\s*[A-Za-z]", words)
        and not re.search(r"=\s*(true|false|nan|inf)\b", words)
    ):
        return "put text in quotes"
    if re.search(r"\d,\d{3}\b", words):
        return "write numbers without commas: 1250"
    if "\\" in words:
        return "write / between folders, not \\"
    return "look at this line and the one above: a quote, bracket or equals sign is missing or left over"


def fit(
    model: type[TableT], data: dict[str, Any], *, file: str, units: Sequence[UnitSystem], findings: Findings
) -> TableT | None:
    """Return a file's data as the schema's tables, or note every misfit.

    Parameters
    ----------
    model : type
        `FarmFile` or `FieldFile`.
    data : dict
        Plain data from TOML.
    file : str
        The file's name in faults.
    units : sequence of UnitSystem
        The farm's units; both when they are not known.
    findings : Findings
        Where faults go.

    Returns
    -------
    Table or None
        The tables; None when a fault was noted.
    """
    try:
        return model.model_validate(data, context={"units": tuple(units)})
    except ValidationError as error:
        for detail in error.errors(include_url=False):
            _note_misfit(model, data, detail, file, units[0], findings)
    return None


def fit_parts(model: type[TableT], rows: Any, *, units: Sequence[UnitSystem]) -> list[TableT | None]:
    """Return each row of a list of tables on its own, None where it does not fit.

    Rows that are sound can then be looked at further although another row is not.

    Parameters
    ----------
    model : type
        The rows' table.
    rows : object
        A list of plain tables; anything else counts as no rows.
    units : sequence of UnitSystem
        The farm's units; both when they are not known.

    Returns
    -------
    list of Table or None
        One per row.
    """

    def one(row: Any) -> TableT | None:
        try:
            return model.model_validate(row, context={"units": tuple(units)})
        except ValidationError:
            return None

    return [one(row) for row in rows] if isinstance(rows, list) else []


def _note_misfit(
    model: type[Table], data: Any, detail: Any, file: str, units: UnitSystem, findings: Findings
) -> None:
    kind, value = detail["type"], detail["input"]
    loc = _loc(detail["loc"], kind)
    key = key_path(loc)
    if kind == "farm_rule":
        words = detail["ctx"]
        hint = _swap_hint(data, loc) or _full_turn_hint(value, loc) or words["hint"]
        findings.fault(file, key, words["found"], words["allowed"], hint)
    elif kind == "extra_forbidden":
        siblings = keys_at(model, loc[:-1])
        hint = _stray_hint(model, loc, siblings)
        findings.fault(
            file, key, f'an unknown key "{loc[-1]}"', f"the keys {listing(siblings, most=40)}", hint
        )
    elif kind == "missing":
        slot = slot_at(model, loc)
        allowed = allowed_words(slot, units) if slot else "a value"
        findings.fault(file, key, "nothing", allowed, _missing_hint(model, data, loc))
    else:
        slot = slot_at(model, loc)
        allowed = allowed_words(slot, units) if slot else str(detail["msg"])
        findings.fault(file, key, shown(value), allowed, _type_hint(value, slot, str(loc[-1])))


def _loc(loc: Loc, kind: str) -> Loc:
    """Return a location without the tags of unions; an unknown key stays, whatever it looks like."""
    plain = tuple(part for part in loc if not (isinstance(part, str) and part.startswith(TAG)))
    if kind == "extra_forbidden" and str(loc[-1]).startswith(TAG):
        return (*plain, loc[-1])
    return plain


def _swap_hint(data: Any, loc: Loc) -> str:
    table = value_at(data, loc[:-1])
    if not isinstance(table, dict) or loc[-1] not in ("lat", "lon"):
        return ""
    lat, lon = table.get("lat"), table.get("lon")
    numbers = all(isinstance(x, int | float) and not isinstance(x, bool) for x in (lat, lon))
    if numbers and 89 < abs(lat) <= 180 and abs(lon) <= 89:  # type: ignore[arg-type]
        return "latitude and longitude look swapped"
    return ""


def _full_turn_hint(value: Any, loc: Loc) -> str:
    if value != 360:
        return ""
    if "sector" in loc:
        return "leave sector out for a full circle"
    return 'write arcs = "always" for the whole turn' if "arcs" in loc else ""


def _stray_hint(model: type[Table], loc: Loc, siblings: list[str]) -> str:
    name = str(loc[-1])
    for depth in range(len(loc) - 2, -1, -1):
        if isinstance(loc[depth], str) and name in keys_at(model, loc[:depth]):
            heading = _heading(model, loc[: depth + 1])
            return f'"{name}" belongs above {"the first " if heading.startswith("[[") else ""}{heading}'
    for child in siblings:
        if name in keys_at(model, (*loc[:-1], child)) or name in keys_at(model, (*loc[:-1], child, 0)):
            return f'"{name}" belongs under {_heading(model, (*loc[:-1], child))}'
    other, where = (
        (FarmFile, "farm.toml") if model is FieldFile else (FieldFile, "a file of the fields folder")
    )
    if name in keys_at(other, ()):
        return f'"{name}" belongs in {where}'
    return meant(name, siblings)


def _heading(model: type[Table], loc: Loc) -> str:
    names = [part for part in loc if isinstance(part, str)]
    slot = slot_at(model, loc)
    many = slot is not None and get_origin(core_type(slot.annotation)) is list
    return f"[[{'.'.join(names)}]]" if many else f"[{'.'.join(names)}]"


_TOGETHER = {
    "row_spacing": "distance from one crop row to the next",
    "rows_per_lateral": "2 when there is tape in every other row",
    "name": 'name = "..."',
}


def _missing_hint(model: type[Table], data: Any, loc: Loc) -> str:
    table = value_at(data, loc[:-1])
    present = [str(key) for key in table] if isinstance(table, dict) else []
    unknown = [key for key in present if key not in keys_at(model, loc[:-1])]
    close = nearest(str(loc[-1]), unknown)
    return f'is "{close}" meant to be it?' if close else _TOGETHER.get(str(loc[-1]), "")


def _type_hint(value: Any, slot: Slot | None, name: str) -> str:
    core = core_type(slot.annotation) if slot else None
    if isinstance(value, dict) and get_origin(core) is list:
        return (
            f"write [[{name}]] with two brackets, or a list in [ ]"
            if _rows_of_tables(core)
            else "a list in [ ]"
        )
    if isinstance(value, str) and core in (float, int):
        number = re.match(r"\s*-?\d+(\.\d+)?\s*$", value)
        return (
            f"write it without quotes: {value.strip()}"
            if number
            else "write the number alone, without unit or quotes"
        )
    if isinstance(value, str) and get_origin(core) is list and not _rows_of_tables(core):
        return f'write a list: ["{value[:60]}"]'
    if isinstance(value, str) and ShapeTable in {core_type(member) for member in members(core)}:
        return f'write {{ file = "{value[:60]}" }}'
    if isinstance(value, bool) and core in (float, int):
        return "write a number"
    if isinstance(value, int | float) and core is str:
        return f'put it in quotes: "{value}"'
    choices = [str(choice) for choice in literals(core)]
    return meant(value, choices) if isinstance(value, str) and choices else ""


def _rows_of_tables(core: Any) -> bool:
    item = core_type(get_args(core)[0])
    return isinstance(item, type) and issubclass(item, BaseModel)


def value_at(data: Any, loc: Loc) -> Any:
    """Return what stands in plain data at a place, None when nothing does.

    Parameters
    ----------
    data : object
        Plain data from TOML.
    loc : tuple of str and int
        Keys, and list positions from 0.

    Returns
    -------
    object
        The value.
    """
    for part in loc:
        try:
            data = data[part]
        except (KeyError, IndexError, TypeError):
            return None
    return data

"""A table of flags as CSV that a spreadsheet opens without running anything in it."""

from __future__ import annotations

import csv
from typing import TYPE_CHECKING, Any

from ringrow.farm.readers.own import safe_cell
from ringrow.handoff.files import open_whole
from ringrow.handoff.flag_table import flag_record
from ringrow.handoff.geojson import DECIMALS

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from ringrow.farm.flag_model import LocatedFlag
    from ringrow.units import UnitSystem

_KEYS = (
    *("number", "kind", "class", "status", "field", "system", "place", "name", "note"),
    *("lat", "lon", "set_at", "set_by", "id"),
    *("distance_ft", "azimuth_deg", "panel_deg", "span", "tower", "tower_offset_ft"),
    *("outlet", "outlet_range", "outlet_chance"),
    *("zone", "lateral", "piece", "offset_in", "station_ft", "emitter", "candidates", "elsewhere"),
    *("side", "travel_ft", "touches", "touched_acres", "wheels_meet", "doubt", "parts", "ground_flag"),
)
_PLAIN_HEADINGS = {"lat": "lat (deg)", "lon": "lon (deg)"}
_NUMBER_DECIMALS = 4
_UNITS = ("ft", "in", "m", "mm", "deg", "acres", "ha")


def write_csv(flags: Sequence[LocatedFlag], path: Path, units: UnitSystem) -> int:
    """Write flags as a table, whole or not at all.

    UTF-8 with a byte order mark (without one some spreadsheets spoil every accent), commas,
    every text in quotes, CR LF as RFC 4180 has it. A text that a spreadsheet could take for
    a formula has an apostrophe before the sign.

    Parameters
    ----------
    flags : sequence of LocatedFlag
        Flags, one a row; those without a position have empty cells for it.
    path : Path
        File to write; one that is there is replaced.
    units : UnitSystem
        Units of the numbers, named in the headings.

    Returns
    -------
    int
        How many flags.

    Raises
    ------
    FileError
        If the file cannot be written.
    """
    keys = [units.key(key) for key in _KEYS]
    with open_whole(path) as stream:
        stream.write("\ufeff")
        writer = csv.writer(stream, quoting=csv.QUOTE_NONNUMERIC, lineterminator="\r\n")
        writer.writerow([heading(key) for key in keys])
        for flag in flags:
            record = flag_record(flag, units)
            writer.writerow([_cell(key, record.get(key)) for key in keys])
    return len(flags)


def heading(key: str) -> str:
    """Return the heading of a column from its JSON key.

    Parameters
    ----------
    key : str
        Such as ``tower_offset_ft``.

    Returns
    -------
    str
        Words, with the unit in brackets.

    Examples
    --------
    >>> heading("tower_offset_ft"), heading("set_by"), heading("lat")
    ('tower offset (ft)', 'set by', 'lat (deg)')
    """
    stem, _, unit = key.rpartition("_")
    words = f"{stem} ({unit})" if stem and unit in _UNITS else key
    return _PLAIN_HEADINGS.get(key, words.replace("_", " "))


def _cell(key: str, value: Any) -> Any:
    if value is None:
        return ""
    if isinstance(value, float):
        return round(value, DECIMALS if key in ("lat", "lon") else _NUMBER_DECIMALS) + 0.0
    if isinstance(value, list):
        value = _list_words(key, value)
    return safe_cell(value) if isinstance(value, str) else value


def _list_words(key: str, items: list[Any]) -> str:
    if key == "outlet_range":
        return " to ".join(str(number) for number in dict.fromkeys(items))
    if key == "candidates":
        return "; ".join(f"{each['lateral']} {each['chance']:.0%}" for each in items)
    if key == "parts":
        return "; ".join(f"{each['quantity']} x {each['part']}" for each in items)
    return "; ".join(each["words"] for each in items)

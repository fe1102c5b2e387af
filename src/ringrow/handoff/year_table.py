"""A farm's year as JSON values, a table for a spreadsheet, tables people read and a page for an office."""

from __future__ import annotations

import csv
import hashlib
from io import StringIO
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from ringrow.farm.readers.own import safe_cell
from ringrow.handoff.acres_table import area_statement
from ringrow.handoff.export_csv import heading
from ringrow.handoff.feature_group import FeatureGroup, feature_id, to_lonlat
from ringrow.handoff.features import farm_features
from ringrow.handoff.number_words import one_line
from ringrow.handoff.plain_page import bullets, plain_page, safe, table
from ringrow.handoff.plain_table import TableBlock, block_text, wrapped
from ringrow.handoff.water_numbers import depth_of
from ringrow.units import GALLON_L

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from ringrow.coverage.field import FieldLayout
    from ringrow.farm.model import Farm
    from ringrow.farm.year import Meter, MeterReading, Water, YearReport
    from ringrow.units import UnitSystem

_ACRE_FOOT_M3 = 43_560 * 0.3048**3
_NOBODY = "(no crop said)"
_GAPS = {
    "no reading": "no meter reading of {name} in {year}",
    "one reading": "only one meter reading of {name} in {year}: it takes two",
    "went back": "the meter of {name} went back in {year}: a new one, or past its last digit",
    "shared": "{name} waters more than one field, and its meter does not tell them apart",
    "no meter": "no well is said to serve {name}, and it has no two meter readings of its own",
}
NOTES = (
    "Acres watered are the farmable acres under the systems that ran, by the farm's files as they stood when "
    "this was made (ringrow year -o keeps a frozen copy of that geometry).",
    "Volume is the last meter reading of the year less the first; water before the first and after the last "
    "is not in it, nor is rain. Depth is volume over acres. What no two readings tell is left empty.",
)
"""What every report says about its numbers."""


def year_notes(report: YearReport) -> list[str]:
    """Return what a report rests on, one sentence or two each.

    Parameters
    ----------
    report : YearReport
        The year.

    Returns
    -------
    list of str
        `NOTES`, and by which clock its days begin.
    """
    named = str(report.zone)
    if not isinstance(report.zone, ZoneInfo):
        named = f"{named}, whole hours by the sun, as farm.toml states no time_zone"
    return [*NOTES, f"Days, and so the year, begin at midnight of {named}."]


def gap_words(water: Water, year: int) -> list[str]:
    """Return what is missing for a volume, one phrase each.

    Parameters
    ----------
    water : Water
        The water of some ground.
    year : int
        Calendar year.

    Returns
    -------
    list of str
        Phrases; empty when the volume is known.
    """
    return [_GAPS[gap].format(name=one_line(name), year=year) for gap, name in dict.fromkeys(water.gaps)]


def year_record(
    report: YearReport,
    units: UnitSystem,
    *,
    geometry: str = "",
    digest: str = "",
    open_flags: int | None = None,
) -> dict[str, Any]:
    """Return a year as plain values under the keys of the JSON output.

    Parameters
    ----------
    report : YearReport
        The year.
    units : UnitSystem
        The farm's units; keys end in them.
    geometry, digest : str, default ""
        Name of the file with the frozen geometry; its SHA-256. Empty when none was written.
    open_flags : int or None, default None
        How many flags are open and carry over; None when it was not counted. [-]

    Returns
    -------
    dict
        Numbers are not rounded; what is not known is None, and ``missing`` says why.
    """
    meters = _well_meters(report)
    return {
        "farm": report.farm,
        "year": report.year,
        "areas": area_statement(units),
        "fields": [
            {
                "field": row.name,
                "crop": row.crop or None,
                "systems": list(row.of),
                **_water(row.water, report, units),
            }
            for row in report.fields
        ],
        "crops": [
            {"crop": row.name or None, "fields": list(row.of), **_water(row.water, report, units)}
            for row in report.crops
        ],
        "wells": [
            {
                "well": row.name,
                "systems": list(row.of),
                **_ends(meters.get(row.name), units),
                **_water(row.water, report, units),
            }
            for row in report.wells
        ],
        "total": _water(report.total, report, units),
        units.key("metered_gal"): _volume(report.metered_m3, units),
        "meters": [_meter(meter, units) for meter in report.meters],
        "idle": list(report.idle),
        "geometry": {"file": geometry, "sha256": digest} if geometry else None,
        "open_flags": open_flags,
        "notes": year_notes(report),
    }


def _well_meters(report: YearReport) -> dict[str, Meter]:
    """Return the wells' meters by name; a machine's of the same name is another."""
    return {meter.system: meter for meter in report.meters if meter.kind == "well"}


def _volume(volume_m3: float | None, units: UnitSystem) -> float | None:
    """Return a volume in gallons or litres."""
    if volume_m3 is None:
        return None
    return volume_m3 * 1000.0 / (GALLON_L if units.name == "us" else 1.0)


def _water(water: Water, report: YearReport, units: UnitSystem) -> dict[str, Any]:
    return {
        units.key("acres"): units.from_m2(water.area_m2),
        units.key("volume_gal"): _volume(water.volume_m3, units),
        "volume_m3": water.volume_m3,
        units.key("depth_in"): depth_of(water.depth_mm, units),
        "missing": gap_words(water, report.year),
    }


def _ends(meter: Meter | None, units: UnitSystem) -> dict[str, Any]:
    readings = meter.readings if meter else ()
    # One reading is a start; it is no end.
    first, last = readings[0] if readings else None, readings[-1] if len(readings) > 1 else None
    return {
        units.key("meter_start_gal"): _volume(first.volume_m3, units) if first else None,
        "meter_start_day": first.day if first else None,
        units.key("meter_end_gal"): _volume(last.volume_m3, units) if last else None,
        "meter_end_day": last.day if last else None,
    }


def _meter(meter: Meter, units: UnitSystem) -> dict[str, Any]:
    return {
        "system": meter.system,
        "kind": meter.kind,
        "readings": [_reading(reading, units) for reading in meter.readings],
        "before": _reading(meter.before, units) if meter.before else None,
    }


def _reading(reading: MeterReading, units: UnitSystem) -> dict[str, Any]:
    volume = _volume(reading.volume_m3, units)
    return {
        "day": reading.day,
        units.key("register_gal"): volume,
        "volume_m3": reading.volume_m3,
        "who": reading.who or None,
        "id": reading.record,
    }


def year_csv(report: YearReport, units: UnitSystem) -> str:
    """Return a year as a table for a spreadsheet: one row a field, crop, well, and the farm.

    UTF-8 with a byte order mark, as the table of flags; no text of it runs as a formula.

    Parameters
    ----------
    report : YearReport
        The year.
    units : UnitSystem
        The farm's units, named in the headings.

    Returns
    -------
    str
        The file.
    """
    record = year_record(report, units)
    keys = ["acres", "meter_start_gal", "meter_start_day", "meter_end_gal", "meter_end_day"]
    keys = [*(units.key(key) for key in (*keys, "volume_gal")), "volume_m3", units.key("depth_in")]
    out = StringIO()
    out.write("\ufeff")
    writer = csv.writer(out, quoting=csv.QUOTE_NONNUMERIC, lineterminator="\r\n")
    writer.writerow(["year", "of", "name", "crop", "made up of", *map(_heading, keys), "missing"])
    rows = [("field", row["field"], row["crop"], row["systems"], row) for row in record["fields"]]
    rows += [("crop", row["crop"] or _NOBODY, row["crop"], row["fields"], row) for row in record["crops"]]
    rows += [("well", row["well"], None, row["systems"], row) for row in record["wells"]]
    rows.append(("farm", report.farm, None, [row.name for row in report.fields], record["total"]))
    for of, name, crop, parts, row in rows:
        cells = ["" if row.get(key) is None else _cell(row[key]) for key in keys]
        texts = [safe_cell(text) for text in (of, name, crop or "", "; ".join(parts))]
        writer.writerow([report.year, *texts, *cells, safe_cell("; ".join(row["missing"]))])
    return out.getvalue()


def _heading(key: str) -> str:
    stem, _, unit = key.rpartition("_")
    return f"{stem.replace('_', ' ')} ({unit})" if unit in {"gal", "l", "m3"} else heading(key)


def _cell(value: Any) -> Any:
    return round(value, 4) if isinstance(value, float) else value


def year_text(report: YearReport, units: UnitSystem, *, width: int | None) -> str:
    """Return a year as tables people read.

    Parameters
    ----------
    report : YearReport
        The year.
    units : UnitSystem
        The farm's units.
    width : int or None
        Columns of the terminal; None for plain lines. [-]

    Returns
    -------
    str
        Fields, crops and wells, then what is missing; no line break at the end.
    """
    blocks = [block_text(block, width) for block in _tables(report, units)]
    notes = [*missing_words(report, units), area_statement(units), *year_notes(report)]
    return "\n\n".join([*blocks, "\n".join(wrapped(note, width, indent=2) for note in notes)])


def _tables(report: YearReport, units: UnitSystem) -> list[TableBlock]:
    of_water = (f"Watered, {units.area}", f"Volume, {_volume_unit(units)}", f"Depth, {units.small}")
    fields = [
        (one_line(row.name), one_line(row.crop) or _NOBODY, *_shown(row.water, units))
        for row in report.fields
    ]
    crops = [
        (one_line(row.name) or _NOBODY, _listed(row.of), *_shown(row.water, units)) for row in report.crops
    ]
    total = ("Total", "", *_shown(report.total, units))
    title = f"{one_line(report.farm)}, {report.year}"
    found = [
        TableBlock(
            title=f"{title}: fields", head=("Field", "Crop", *of_water), rows=fields, total=total, words=2
        ),
        TableBlock(
            title=f"{title}: crops", head=("Crop", "Fields", *of_water), rows=crops, total=total, words=2
        ),
    ]
    if report.wells:
        meters = _well_meters(report)
        wells = [
            (one_line(row.name), *_ends_shown(meters.get(row.name), units), *_shown(row.water, units))
            for row in report.wells
        ]
        register = f"meter, {_register_unit(units)}"
        head = ("Well", "First read", f"First {register}", "Last read", f"Last {register}", *of_water)
        found.append(TableBlock(title=f"{title}: wells", head=head, rows=wells))
    return found


def _shown(water: Water, units: UnitSystem) -> tuple[str, str, str]:
    us = units.name == "us"
    volume = None if water.volume_m3 is None else water.volume_m3 / (_ACRE_FOOT_M3 if us else 1.0)
    depth = depth_of(water.depth_mm, units)
    return (
        f"{units.from_m2(water.area_m2):,.1f}" if us else f"{units.from_m2(water.area_m2):,.2f}",
        "-" if volume is None else f"{volume:,.1f}" if us else f"{volume:,.0f}",
        "-" if depth is None else f"{depth:,.1f}" if us else f"{depth:,.0f}",
    )


def _volume_words(volume_m3: float, units: UnitSystem) -> str:
    if units.name == "us":
        return f"{volume_m3 / _ACRE_FOOT_M3:,.1f} acre-feet"
    return f"{volume_m3:,.0f} m3"


def _ends_shown(meter: Meter | None, units: UnitSystem) -> tuple[str, ...]:
    if meter is None or not meter.readings:
        return ("-", "-", "-", "-")
    first, last = meter.readings[0], meter.readings[-1]
    scale = 1000.0 / GALLON_L if units.name == "us" else 1.0
    shown = [(reading.day, f"{reading.volume_m3 * scale:,.0f}") for reading in (first, last)]
    return (*shown[0], *(shown[1] if len(meter.readings) > 1 else ("-", "-")))


def _volume_unit(units: UnitSystem) -> str:
    return "acre-feet" if units.name == "us" else "m3"


def _register_unit(units: UnitSystem) -> str:
    return "gal" if units.name == "us" else "m3"


def _listed(names: Sequence[str]) -> str:
    return ", ".join(map(one_line, names))


def missing_words(report: YearReport, units: UnitSystem) -> list[str]:
    """Return what a report lacks, one sentence each.

    Parameters
    ----------
    report : YearReport
        The year.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    list of str
        Missing readings, meters that moved over the winter or for systems that did not run, fields
        without a crop, systems that did not run.
    """
    waters = [report.total, *(row.water for row in (*report.wells, *report.fields))]
    found = [
        f"Missing: {words}."
        for words in dict.fromkeys(w for each in waters for w in gap_words(each, report.year))
    ]
    found += [
        f"The meter of {one_line(meter.system)} moved between {meter.before.day} and "
        f"{meter.readings[0].day}: that water is in no year's volume."
        for meter in report.meters
        if meter.before
    ]
    found += [
        f"The meter of {one_line(row.name)} counted {_volume_words(row.water.volume_m3, units)}, but nothing "
        "that it serves is said to have run: that water is in no field's volume, nor in the total."
        for row in report.wells
        if not row.of and row.water.volume_m3
    ]
    if report.total.volume_m3 is None and report.metered_m3:
        found.append(f"The meters that do tell it add up to {_volume_words(report.metered_m3, units)}.")
    bare = [row.name for row in report.fields if not row.crop]
    if bare:
        found.append(f"Missing: the crop of {_listed(bare)} (crop = ... in the field's file).")
    if report.idle:
        found.append(f"Said not to have run, so that its ground is not counted: {_listed(report.idle)}.")
    return found


def year_page(report: YearReport, units: UnitSystem, *, geometry: str, digest: str, open_flags: int) -> str:
    """Return a year as a page for an office or district.

    Parameters
    ----------
    report : YearReport
        The year.
    units : UnitSystem
        The farm's units.
    geometry, digest : str
        Name of the file with the frozen geometry; its SHA-256.
    open_flags : int
        How many flags are open and carry over. [-]

    Returns
    -------
    str
        One HTML file, in English.
    """
    title = f"{report.farm}: acres and water in {report.year}"
    body = [f"<h1>{safe(title)}</h1>", f'<p class="quiet">{safe(area_statement(units))}</p>']
    for block in _tables(report, units):
        short = block.title.rpartition(": ")[2].capitalize()
        rows = table(block.head, block.rows, words=block.words, total=block.total, label=short)
        body += [f"<h2>{safe(short)}</h2>", rows]
    missing = missing_words(report, units)
    if missing:
        body += ['<div class="box">', "<h3>Not known, or to be seen to</h3>", bullets(missing), "</div>"]
    carried = "1 flag is open and carries" if open_flags == 1 else f"{open_flags} flags are open and carry"
    notes = [*year_notes(report), f"{carried} over: no year's end closes a flag."]
    body += ["<h2>What the numbers rest on</h2>", bullets(notes)]
    body.append(f'<p class="quiet">Frozen geometry: {safe(geometry)}, SHA-256 {safe(digest)}</p>')
    return plain_page(title, body)


def frozen_features(farm: Farm, layouts: Sequence[FieldLayout], report: YearReport) -> Iterator[FeatureGroup]:
    """Yield the geometry that a year's acres rest on: what a farm exports, and each field's watered ground.

    Parameters
    ----------
    farm : Farm
        The farm.
    layouts : sequence of FieldLayout
        Its fields, laid out.
    report : YearReport
        The year; its watered ground stands there, one shape for each field, in its frame. [m]

    Yields
    ------
    FeatureGroup
        Flags are not among them. Watered ground names its farm and year, so that the copy can be told
        from another without its file's name.
    """
    yield from farm_features(farm, layouts, [], laterals=False)
    for layout, shape in zip(layouts, report.watered, strict=True):
        if not shape.is_empty:
            field = layout.field
            yield FeatureGroup(
                kind="watered",
                ids=[feature_id("watered", field.name, field.name)],
                shapes=to_lonlat(field.frame, [shape]),
                shared={
                    "farm": report.farm,
                    "year": report.year,
                    "field": field.name,
                    "name": field.name,
                    "crop": field.crop,
                    farm.units.key("acres"): float(farm.units.from_m2(shape.area)),
                },
            )


def sha256_of(data: bytes) -> str:
    """Return the SHA-256 of a file's bytes.

    Parameters
    ----------
    data : bytes
        The bytes.

    Returns
    -------
    str
        64 hexadecimal digits.

    Examples
    --------
    >>> sha256_of(b"abc")[:16]
    'ba7816bf8f01cfea'
    """
    return hashlib.sha256(data).hexdigest()

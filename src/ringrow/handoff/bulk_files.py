"""Acres of many pivots as a table, a map layer or JSON, and their totals as text."""

from __future__ import annotations

import csv
import json
from dataclasses import dataclass
from itertools import islice
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from ringrow.farm.readers.own import safe_cell
from ringrow.handoff.acres_table import area_statement
from ringrow.handoff.export_csv import heading
from ringrow.handoff.export_gpkg import write_layer
from ringrow.handoff.export_layers import Layer
from ringrow.handoff.files import check_target, open_whole, whole_file
from ringrow.handoff.geojson import DECIMALS
from ringrow.handoff.number_words import one_line
from ringrow.handoff.plain_table import TableBlock, block_text, wrapped

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from numpy.typing import NDArray

    from ringrow.coverage.bulk_acres import BulkAcres
    from ringrow.farm.bulk_table import BulkTable
    from ringrow.units import UnitSystem

ENDINGS: tuple[str, ...] = (".csv", ".geojson", ".gpkg", ".json")
"""Endings of files that can be written."""

_DECIMALS = 4
_LISTS = ("overlaps", "assumed", "notes")
_LEAST_M2 = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class BulkReport:
    """One row a pivot, and what they add up to.

    Parameters
    ----------
    columns : dict of str to list
        Values by JSON key, one a pivot; None for what cannot be told.
    totals : dict of str to object
        Sums and counts by JSON key.
    refused : tuple of dict
        Rows that could not be used, each ``row`` and ``why``.
    """

    columns: dict[str, list[Any]]
    totals: dict[str, Any]
    refused: tuple[dict[str, str], ...]

    def __len__(self) -> int:
        return len(self.columns["name"])

    def rows(self) -> Iterator[dict[str, Any]]:
        """Yield one record a pivot, in the order of the table.

        Yields
        ------
        dict of str to object
            Values by JSON key.
        """
        for values in zip(*self.columns.values(), strict=True):
            yield dict(zip(self.columns, values, strict=True))


def bulk_report(
    table: BulkTable, acres: BulkAcres, units: UnitSystem, *, field_names: Sequence[str] | None = None
) -> BulkReport:
    """Return what is written and printed about the pivots of a table.

    Parameters
    ----------
    table : BulkTable
        The pivots.
    acres : BulkAcres
        What each wets.
    units : UnitSystem
        Units of the numbers.
    field_names : sequence of str or None, default None
        Names of the fields; None when no fields were asked for.

    Returns
    -------
    BulkReport
        Rows and totals. What is said of a field stands in the row of each of its pivots.
    """
    pivots, key = table.pivots, units.key
    field, inside = acres.field_index, acres.field_index >= 0
    outside = acres.wetted_m2 - acres.irrigated_m2
    of_field = {
        "field_acres": _by_field(acres.field_m2, field),
        "field_irrigated_acres": _by_field(acres.field_irrigated_m2, field),
        "dry_acres": _by_field(acres.field_m2 - acres.field_irrigated_m2, field),
    }
    share = of_field["field_irrigated_acres"] / of_field["field_acres"]
    per_area = table.flow_lps / units.flow_lps / units.from_m2(1.0) / acres.wetted_m2
    names, of = _clean(table.names), _clean(field_names or ())
    columns: dict[str, list[Any]] = {
        "row": list(table.numbers),
        "name": names,
        "field": [of[at] if at >= 0 and of else None for at in field.tolist()],
        "lat": pivots.lat.tolist(),
        "lon": pivots.lon.tolist(),
        key("radius_ft"): _values(pivots.base_m / units.length_m),
        key("gun_radius_ft"): _values(np.where(acres.gun_left_out, np.nan, pivots.gun_m) / units.length_m),
        "start_deg": _values(pivots.start_deg),
        "stop_deg": _values(pivots.stop_deg),
        key("wetted_acres"): _values(acres.wetted_m2 / units.area_m2),
        key("irrigated_acres"): _values(acres.irrigated_m2 / units.area_m2),
        key("overspray_acres"): _values(outside / units.area_m2),
        **{key(name): _values(area / units.area_m2) for name, area in of_field.items()},
        "watered_share": _values(share),
        key("flow_gpm"): _values(table.flow_lps / units.flow_lps),
        key("gpm_per_acre"): _values(per_area),
        "overlaps": _overlaps(names, acres.shared),
        "assumed": [list(texts) for texts in table.assumed],
        "notes": _notes(acres, asked=field_names is not None),
    }
    return BulkReport(
        columns=columns,
        totals=_totals(table, acres, units, inside=inside, asked=field_names is not None),
        refused=tuple({"row": row.what, "why": one_line(row.why)} for row in table.refused),
    )


def _clean(names: Sequence[str]) -> list[str]:
    """Return names on one line each, without what cannot be written."""
    return [name if name.isprintable() else one_line(name) for name in names]


def _by_field(values: NDArray[np.float64], field: NDArray[np.int64]) -> NDArray[np.float64]:
    # The last place stands for no field.
    return np.append(values, np.nan)[field]


def _values(values: NDArray[np.float64]) -> list[float | None]:
    if np.isfinite(values).all():
        return list(values.tolist())
    return [value if value == value else None for value in values.tolist()]


def _overlaps(names: Sequence[str], shared: Sequence[tuple[int, int]]) -> list[list[str]]:
    found: list[list[str]] = [[] for _ in names]
    for one, two in shared:
        found[one].append(names[two])
        found[two].append(names[one])
    return found


def _notes(acres: BulkAcres, *, asked: bool) -> list[list[str]]:
    notes: list[list[str]] = [[] for _ in acres.field_index]
    if asked:
        for at in np.flatnonzero(acres.holders == 0).tolist():
            notes[at].append("no field holds the pivot point")
        for at in np.flatnonzero(acres.holders > 1).tolist():
            notes[at].append(f"{acres.holders[at]} fields hold the pivot point: the smallest is taken")
    for at in np.flatnonzero(acres.gun_left_out).tolist():
        notes[at].append("end gun left out: without a field nobody knows where it may run")
    return notes


def _totals(
    table: BulkTable, acres: BulkAcres, units: UnitSystem, *, inside: NDArray[np.bool_], asked: bool
) -> dict[str, Any]:
    watered = np.flatnonzero(np.isfinite(acres.field_m2))
    field_m2 = float(acres.field_m2[watered].sum())
    irrigated_m2 = float(acres.field_irrigated_m2[watered].sum())
    sprayed = acres.wetted_m2[inside] - acres.irrigated_m2[inside]
    of_fields = {
        "irrigated_acres": irrigated_m2,
        "field_acres": field_m2,
        "dry_acres": field_m2 - irrigated_m2,
        "overspray_acres": float(sprayed.sum()),
        # Each ground that several wet, as often as it is wetted beyond once.
        "overlap_acres": float(max(acres.irrigated_m2[inside].sum() - irrigated_m2, 0.0)),
        "wetted_without_field_acres": float(acres.wetted_m2[~inside].sum()),
    }
    key = units.key
    return {
        "pivots": len(table.names),
        "rows_refused": len(table.refused),
        key("wetted_acres"): float(acres.wetted_m2.sum()) / units.area_m2,
        "fields": len(watered) if asked else None,
        "pivots_without_field": int((~inside).sum()) if asked else None,
        "pivots_in_several_fields": int((acres.holders > 1).sum()) if asked else None,
        "overspraying_pivots": int((sprayed > _LEAST_M2 * acres.wetted_m2[inside]).sum()) if asked else None,
        "overlapping_pairs": len(acres.shared) if asked else None,
        **{key(name): area / units.area_m2 if asked else None for name, area in of_fields.items()},
        "watered_share": irrigated_m2 / field_m2 if asked and field_m2 > 0 else None,
    }


def bulk_record(report: BulkReport) -> dict[str, Any]:
    """Return a report as one JSON document.

    Parameters
    ----------
    report : BulkReport
        Rows and totals.

    Returns
    -------
    dict
        ``totals``, ``rows``, ``refused``.
    """
    return {"totals": report.totals, "rows": list(report.rows()), "refused": list(report.refused)}


def bulk_text(report: BulkReport, units: UnitSystem, *, width: int | None = None) -> str:
    """Return the totals as a table of text.

    Parameters
    ----------
    report : BulkReport
        Rows and totals.
    units : UnitSystem
        Units of its numbers.
    width : int or None, default None
        Columns of the terminal; None for plain lines. [-]

    Returns
    -------
    str
        The lines.
    """
    totals = report.totals
    lines = [("Wetted by all pivots", "pivots", "wetted_acres")]
    if totals["fields"] is not None:
        lines += [
            ("Fields with a pivot in them", "fields", "field_acres"),
            ("  watered, each ground once", "", "irrigated_acres"),
            ("  dry", "", "dry_acres"),
            ("Watered by more than one pivot of a field (pairs)", "overlapping_pairs", "overlap_acres"),
            ("Sprayed past the boundary (pivots)", "overspraying_pivots", "overspray_acres"),
            ("Pivots in no field", "pivots_without_field", "wetted_without_field_acres"),
        ]
    rows = [
        (words, f"{totals[count]:,}" if count else "", f"{totals[units.key(area)]:,.2f}")
        for words, count, area in lines
    ]
    block = TableBlock(title="Totals", head=("What", "Number", units.area.capitalize()), rows=rows)
    texts = [block_text(block, width), ""]
    if totals["pivots_in_several_fields"]:
        count = totals["pivots_in_several_fields"]
        texts.append(
            wrapped(f"Pivot points in more than one field: {count:,}; the smallest is taken.", width)
        )
    if totals["watered_share"] is not None:
        texts.append(wrapped(f"{100 * totals['watered_share']:.1f} % of these fields is watered.", width))
    return "\n".join([*texts, wrapped(area_statement(units), width)])


def check_bulk_target(path: Path, *, sources: Sequence[Path], overwrite: bool) -> None:
    """Refuse a file name that cannot be written, or that is one of the files read.

    Parameters
    ----------
    path : Path
        File to be written.
    sources : sequence of Path
        Files that are read.
    overwrite : bool
        Whether a file that is already there may be replaced.

    Raises
    ------
    FileError
        If the name will not do.
    """
    from ringrow.errors import FileError

    if any(path.exists() and source.exists() and path.samefile(source) for source in sources):
        message = f'output file: found "{path}", which is read; allowed: another name'
        raise FileError(message)
    check_target(path, endings=ENDINGS, overwrite=overwrite)


def write_bulk(report: BulkReport, path: Path) -> None:
    """Write one row a pivot, in the form that the file's ending says, whole or not at all.

    Parameters
    ----------
    report : BulkReport
        Rows and totals.
    path : Path
        File to write, with an ending of `ENDINGS`; one that is there is replaced. Points of the
        map layers are the pivot points.

    Raises
    ------
    FileError
        If the file cannot be written.
    """
    _WRITERS[path.suffix.lower()](report, path)


def _write_csv(report: BulkReport, path: Path) -> None:
    columns = [_cells(key, values) for key, values in report.columns.items()]
    with open_whole(path) as stream:
        # Without a byte order mark some spreadsheets spoil every accent.
        stream.write("\ufeff")
        writer = csv.writer(stream, quoting=csv.QUOTE_NONNUMERIC, lineterminator="\r\n")
        writer.writerow([heading(key) for key in report.columns])
        writer.writerows(zip(*columns, strict=True))


def _cells(key: str, values: list[Any]) -> list[Any]:
    if key in _LISTS:
        values = ["; ".join(items) for items in values]
    digits = DECIMALS if key in ("lat", "lon") else _DECIMALS
    return [
        ""
        if value is None
        else safe_cell(value)
        if isinstance(value, str)
        else round(value, digits) + 0.0
        if isinstance(value, float)
        else value
        for value in values
    ]


def _write_json(report: BulkReport, path: Path) -> None:
    with open_whole(path) as stream:
        stream.write(f'{{"schema": 1,\n"totals": {_json(report.totals)},\n"rows": [')
        for text in _joined(_json(row) for row in report.rows()):
            stream.write(text)
        stream.write(f'\n],\n"refused": {_json(list(report.refused))}\n}}\n')


def _write_geojson(report: BulkReport, path: Path) -> None:
    with open_whole(path) as stream:
        stream.write('{"type": "FeatureCollection", "features": [')
        for text in _joined(_feature(row) for row in report.rows()):
            stream.write(text)
        stream.write("\n]}\n")


def _feature(row: dict[str, Any]) -> str:
    place = [round(row["lon"], DECIMALS), round(row["lat"], DECIMALS)]
    feature = {
        "type": "Feature",
        "id": f"pivot-point:{row['row']}",
        "geometry": {"type": "Point", "coordinates": place},
        "properties": row,
    }
    return _json(feature)


def _json(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False)


def _joined(texts: Iterator[str]) -> Iterator[str]:
    """Yield texts parted by commas, some thousand in one piece."""
    before = "\n"
    while batch := list(islice(texts, 2_000)):
        yield before + ",\n".join(batch)
        before = ",\n"


def _write_gpkg(report: BulkReport, path: Path) -> None:
    lists = {key: ["; ".join(items) or None for items in report.columns[key]] for key in _LISTS}
    points = np.round(np.column_stack([report.columns["lon"], report.columns["lat"]]), DECIMALS)
    layer = Layer(
        name="pivots", shape="Point", shapes=shapely.points(points), columns={**report.columns, **lists}
    )
    with whole_file(path) as part:
        write_layer(layer, part, driver="GPKG", dataset_options={"VERSION": "1.2"})


def refused_lines(report: BulkReport, most: int = 200) -> list[str]:
    """Return what is said of rows that could not be used.

    Parameters
    ----------
    report : BulkReport
        Rows and totals.
    most : int, default 200
        Rows named one by one; beyond it their number is said. [-]

    Returns
    -------
    list of str
        A line a row.
    """
    lines = [one_line(f"{row['row']}: {row['why']}") for row in report.refused[:most]]
    rest = len(report.refused) - most
    return [*lines, f"and {rest:,} more rows; --json lists them all"] if rest > 0 else lines


_WRITERS = {".csv": _write_csv, ".geojson": _write_geojson, ".gpkg": _write_gpkg, ".json": _write_json}

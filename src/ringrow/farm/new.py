"""Starting a farm's folder from a boundary file, or from nothing: all of it or none of it."""

from __future__ import annotations

import json
import os
import shutil
import tempfile
import unicodedata
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from ringrow.errors import FileError, GeometryError, RingrowError
from ringrow.farm.faults import ShapeError, listing, meant
from ringrow.farm.load import load_farm
from ringrow.farm.new_texts import Draft, farm_text, field_text
from ringrow.farm.shapes import place_words
from ringrow.farm.vectors import Layer, cell_words, polygons_of, read_layer
from ringrow.frame import REACH_M, Frame
from ringrow.geometry.repair import mend
from ringrow.units import get_units

if TYPE_CHECKING:
    from collections.abc import Sequence

    from shapely.geometry.base import BaseGeometry

    from ringrow.units import UnitSystem

SHAPES_FILE = "shapes/boundaries.geojson"
NAME_COLUMNS = ("name", "field", "field_name", "fieldname", "label", "title", "id")
"""Columns that are looked in for names, in this order, whatever their capitals."""
DECIMALS = 10
"""Decimals of degrees in the copy; with 7 (1 cm) a field of 3 acres is off by up to 9e-5 of its acres."""
FIELDS = 2000
"""Most fields one farm is started with."""
EXAMPLE_CORNERS = ((-101.5000, 36.7500), (-101.4910, 36.7500), (-101.4910, 36.7572), (-101.5000, 36.7572))
"""Corners of the invented example field, longitude and latitude [deg]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NewField:
    """A field that was started.

    Parameters
    ----------
    name, file : str
        Its name, and its file inside the farm's folder.
    area_m2 : float
        Area of its boundary. [m2]
    changes : tuple of str, default ()
        What was mended in its boundary.
    moved_m2 : float, default 0
        Area after mending less area as drawn. [m2]
    """

    name: str
    file: str
    area_m2: float
    changes: tuple[str, ...] = ()
    moved_m2: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class NewFarm:
    """A farm's folder that was started.

    Parameters
    ----------
    folder : Path
        The folder.
    units : UnitSystem
        Units of its files.
    fields : tuple of NewField
        Its fields.
    remarks : tuple of str, default ()
        Features left out and names changed, in plain words.
    """

    folder: Path
    units: UnitSystem
    fields: tuple[NewField, ...]
    remarks: tuple[str, ...] = ()


def new_farm(
    folder: Path,
    *,
    boundary_file: Path | None = None,
    layer: str | None = None,
    crs: str | None = None,
    name_field: str | None = None,
    units: str = "us",
    overwrite: bool = False,
) -> NewFarm:
    """Start a farm's folder: farm.toml, one commented file per field, and a copy of the boundaries.

    Parameters
    ----------
    folder : Path
        Where; new or empty, or a farm's folder together with `overwrite`.
    boundary_file : Path or None, default None
        Vector file with one feature per field; None starts an example field.
    layer, crs : str or None, default None
        Layer of the file; coordinate system of a file that does not say it.
    name_field : str or None, default None
        Column with the fields' names; None looks for a likely one.
    units : {"us", "metric"}, default "us"
        Units of the farm's files.
    overwrite : bool, default False
        Whether farm.toml, fields/ and the copied boundaries of a farm that is there may be replaced.
        Everything else in the folder stays.

    Returns
    -------
    NewFarm
        What was started.

    Raises
    ------
    FileError
        If the folder holds something and may not be changed, or cannot be written.
    GeometryError
        If the boundary file cannot be used or holds no field.
    """
    farm_units = get_units(units)
    check_target(folder, overwrite=overwrite)
    remarks: list[str] = []
    if boundary_file is None:
        drafts, source = [_example()], ""
    else:
        drafts, source = _drafts(boundary_file, layer, crs, name_field, remarks), boundary_file.name
    try:
        return _write(folder, drafts, source, farm_units, remarks)
    except OSError as error:
        if isinstance(error, RingrowError):
            raise
        message = f"{folder}: cannot be written ({error.strerror}); allowed: a place where you may write"
        raise FileError(message) from error


def check_target(folder: Path, *, overwrite: bool) -> None:
    """Refuse a folder in which a farm may not be started.

    Parameters
    ----------
    folder : Path
        Where the farm is to be.
    overwrite : bool
        Whether a farm that is there may be replaced.

    Raises
    ------
    FileError
        If it is a file, or holds something that may not be replaced.
    """
    if folder.exists() and not folder.is_dir():
        message = f"{folder}: found a file; allowed: a new or empty folder; choose another name"
        raise FileError(message)
    if not folder.is_dir() or not any(folder.iterdir()):
        return
    if not overwrite:
        message = f"{folder}: found a folder with files in it; allowed: a new or empty folder; "
        raise FileError(message + "choose another name, or say --overwrite to replace the farm in it")
    if not (folder / "farm.toml").is_file():
        message = f"{folder}: found a folder with other files and no farm.toml; allowed with --overwrite: "
        raise FileError(message + "a farm's folder; choose another name")


def _drafts(
    path: Path, layer: str | None, crs: str | None, name_field: str | None, remarks: list[str]
) -> list[Draft]:
    if not path.is_file() and not path.is_dir():
        message = f"{path}: found nothing; allowed: a vector file with the fields' boundaries"
        raise FileError(message)
    try:
        table = read_layer(path, layer=layer, crs=crs)
        column = _name_column(table, name_field)
    except ShapeError as error:
        message = f"{path}: {error}"
        raise GeometryError(message) from error
    count = len(table.geometries)
    if count > FIELDS:
        message = (
            f"{path}: found {count} features; allowed: at most {FIELDS} fields on a farm; cut out your own"
        )
        raise GeometryError(message)
    names = _names(table, column, count, remarks)
    remarks += [f"{path.name}: {remark}" for remark in table.remarks]
    drafts = []
    for position, name in enumerate(names):
        draft = _draft(table, position, name, remarks)
        drafts += [draft] if draft else []
    if not drafts:
        why = f" ({remarks[-1]})" if remarks else ""
        message = f"{path}: found no polygon that can be a field{why}; allowed: one polygon per field"
        raise GeometryError(message)
    return drafts


def _name_column(table: Layer, wanted: str | None) -> str | None:
    if wanted is not None:
        if wanted not in table.columns:
            names = list(table.columns)
            allowed = f"one of {listing(names, most=40)}"
            raise ShapeError("", f'no column "{wanted}"', allowed, meant(wanted, names))
        return wanted
    by_plain = {column.casefold(): column for column in reversed(table.columns)}
    for name in NAME_COLUMNS:
        column = by_plain.get(name)
        if column is not None and any(cell_words(value) for value in table.columns[column]):
            return column
    return None


def _names(table: Layer, column: str | None, count: int, remarks: list[str]) -> list[str]:
    cells = table.columns[column] if column else [None] * count
    names: list[str] = []
    taken: set[str] = set()
    for position, cell in enumerate(cells, 1):
        plain = clean_name(cell_words(cell))
        # A bare number is hard to say on the radio.
        wanted = f"Field {plain or position}" if not plain or plain.isdecimal() else plain
        name, again = wanted, 1
        while name.casefold() in taken:
            again += 1
            name = f"{wanted} {again}"
        if again > 1:
            remarks.append(f'feature {position} is called "{name}": "{wanted}" is taken')
        taken.add(name.casefold())
        names.append(name)
    return names


def clean_name(text: str) -> str:
    r"""Return text as a name on one line: no control letters, single blanks, at most 60 letters.

    Parameters
    ----------
    text : str
        Any text.

    Returns
    -------
    str
        The name; may be empty.

    Examples
    --------
    >>> clean_name("  North\n40\t(new) ")
    'North 40 (new)'
    """
    printable = "".join(letter if letter.isprintable() else " " for letter in text)
    return " ".join(printable.split())[:60].strip()


def _draft(table: Layer, position: int, name: str, remarks: list[str]) -> Draft | None:
    polygons, notes = polygons_of(table.geometries[position])
    remarks += [f'"{name}" (feature {position + 1}): {note}' for note in dict.fromkeys(notes)]
    if not polygons:
        remarks.append(f'"{name}" (feature {position + 1}) left out: it holds no polygon')
        return None
    shape = polygons[0] if len(polygons) == 1 else shapely.MultiPolygon(polygons)
    frame = Frame.about(shape)
    far_m = float(np.hypot(*frame.to_xy(*shapely.get_coordinates(shape).T)).max())
    if far_m > REACH_M:
        limit = f"a field reaches at most {REACH_M / 1000:g} km from its centre"
        remarks.append(
            f'"{name}" (feature {position + 1}) left out: it reaches {far_m / 1000:.1f} km; {limit}'
        )
        return None
    try:
        mended = mend(frame.project(shape), place_words=place_words(frame))
        lonlat = _rounded(frame.unproject(mended.geometry))
        again = mend(Frame.about(lonlat).project(lonlat))
    except GeometryError as error:
        remarks.append(f'"{name}" (feature {position + 1}) left out: {error}')
        return None
    return Draft(
        name=name,
        boundary=lonlat if not again.changes else _rounded(Frame.about(lonlat).unproject(again.geometry)),
        properties={column: _plain_cell(values[position]) for column, values in table.columns.items()},
        changes=mended.changes,
        moved_m2=mended.area_after_m2 - mended.area_before_m2,
    )


def _rounded(shape: BaseGeometry) -> BaseGeometry:
    """Return a shape on the grid of the copy, rings by the right-hand rule of RFC 7946."""
    gridded = shapely.set_precision(shape, 10.0**-DECIMALS)
    oriented: BaseGeometry = shapely.orient_polygons(gridded, exterior_cw=False)
    return oriented


def _plain_cell(value: Any) -> Any:
    if isinstance(value, float) and not np.isfinite(value):
        return None
    return value if isinstance(value, str | int | float | bool) or value is None else str(value)


def _example() -> Draft:
    return Draft(name="Example field", boundary=shapely.Polygon(EXAMPLE_CORNERS), properties={}, inline=True)


def file_name(name: str, number: int, digits: int) -> str:
    """Return a field's file name: its number, and its name in plain small letters.

    Parameters
    ----------
    name : str
        The field's name.
    number, digits : int
        Its number and how many digits to write it with. [-]

    Returns
    -------
    str
        A name that every file system takes.

    Examples
    --------
    >>> file_name("Año Nuevo / 40", 3, 2)
    '03_ano_nuevo_40.toml'
    """
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    words = "".join(letter if letter.isalnum() else " " for letter in plain).split()
    slug = "_".join(words)[:40].strip("_")
    return f"{number:0{digits}d}_{slug or 'field'}.toml"


def _write(
    folder: Path, drafts: Sequence[Draft], source: str, units: UnitSystem, remarks: list[str]
) -> NewFarm:
    """Build the whole folder beside its place, check it, and only then move it there."""
    home = folder.resolve()
    parent = next(place for place in home.parents if place.is_dir())
    with tempfile.TemporaryDirectory(prefix=".ringrow-new-", dir=parent) as work:
        built = Path(work) / "farm"
        files = _build(built, home.name, drafts, source, units)
        farm = load_farm(built)
        _move(built, home, Path(work) / "old")
    areas = {field.name: float(field.boundary.area) for field in farm.fields}
    fields = tuple(
        NewField(
            name=draft.name,
            file=file,
            area_m2=areas[draft.name],
            changes=draft.changes,
            moved_m2=draft.moved_m2,
        )
        for draft, file in zip(drafts, files, strict=True)
    )
    return NewFarm(folder=folder, units=units, fields=fields, remarks=tuple(remarks))


def _build(
    built: Path, folder_name: str, drafts: Sequence[Draft], source: str, units: UnitSystem
) -> list[str]:
    (built / "fields").mkdir(parents=True)
    (built / "shapes").mkdir()
    name = clean_name(folder_name.replace("_", " ").replace("-", " ")) or "My farm"
    gate = drafts[0].boundary.centroid
    (built / "farm.toml").write_text(farm_text(name, units, gate=(gate.x, gate.y)), encoding="utf-8")
    digits = max(2, len(str(len(drafts))))
    files = [f"fields/{file_name(draft.name, number, digits)}" for number, draft in enumerate(drafts, 1)]
    for draft, file in zip(drafts, files, strict=True):
        text = field_text(draft, units, source=source, shapes_file=SHAPES_FILE)
        (built / file).write_text(text, encoding="utf-8")
    if source:
        (built / SHAPES_FILE).write_text(_boundaries_text(drafts), encoding="utf-8")
    return files


def _boundaries_text(drafts: Sequence[Draft]) -> str:
    """Return the boundaries as GeoJSON, one feature a line so that changes show in version control."""
    lines = [
        json.dumps(
            {
                "type": "Feature",
                "properties": {**draft.properties, "field": draft.name},
                "geometry": _geometry(draft.boundary),
            },
            ensure_ascii=False,
        )
        for draft in drafts
    ]
    return '{"type": "FeatureCollection", "features": [\n' + ",\n".join(lines) + "\n]}\n"


def _geometry(shape: BaseGeometry) -> dict[str, Any]:
    def rounded(item: Any) -> Any:
        return round(item, DECIMALS) if isinstance(item, float) else [rounded(part) for part in item]

    mapping = shape.__geo_interface__
    return {"type": mapping["type"], "coordinates": rounded(mapping["coordinates"])}


def _move(built: Path, home: Path, old: Path) -> None:
    """Move what was built into place; put everything back if that fails half-way."""
    if not home.exists():
        home.parent.mkdir(parents=True, exist_ok=True)
        built.replace(home)
        return
    old.mkdir()
    done: list[tuple[Path, Path | None]] = []
    try:
        for item in _items(built, home):
            place, spare = home / item, old / item
            place.parent.mkdir(exist_ok=True)
            spare.parent.mkdir(exist_ok=True)
            kept = spare if os.path.lexists(place) else None
            if kept is not None:
                place.rename(kept)
            done.append((place, kept))
            (built / item).rename(place)
    except OSError:
        _put_back(done)
        raise


def _items(built: Path, home: Path) -> list[str]:
    """Return what is replaced as one: farm.toml, all of fields/, the copied boundaries."""
    items = ["farm.toml", "fields"]
    if (built / SHAPES_FILE).exists():
        items.append(SHAPES_FILE if (home / "shapes").is_dir() else "shapes")
    return items


def _put_back(done: list[tuple[Path, Path | None]]) -> None:
    for place, kept in reversed(done):
        if place.is_dir():
            shutil.rmtree(place, ignore_errors=True)
        else:
            place.unlink(missing_ok=True)
        if kept is not None:
            kept.rename(place)

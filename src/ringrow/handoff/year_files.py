"""A year's folder for an office or district: page, table, JSON and frozen geometry."""

from __future__ import annotations

import json
import shutil
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ringrow.errors import FileError
from ringrow.handoff.files import open_whole
from ringrow.handoff.geojson import write_geojson
from ringrow.handoff.year_table import frozen_features, sha256_of, year_csv, year_page, year_record

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ringrow.coverage.field import FieldLayout
    from ringrow.farm.model import Farm
    from ringrow.farm.year import YearReport

_ENDINGS = (".html", ".csv", ".json", ".geojson")


@dataclass(frozen=True, slots=True, kw_only=True)
class YearFiles:
    """What was written.

    Parameters
    ----------
    paths : tuple of Path
        Every file.
    digest : str
        SHA-256 of the frozen geometry.
    record : dict
        What the JSON file holds.
    """

    paths: tuple[Path, ...]
    digest: str
    record: dict[str, Any]


def check_year_folder(folder: Path, year: int, *, overwrite: bool) -> None:
    """Refuse a folder that a year cannot be written into, before any work is done.

    Parameters
    ----------
    folder : Path
        The folder; it need not be there.
    year : int
        Calendar year.
    overwrite : bool
        Whether files of that year that are there may be replaced.

    Raises
    ------
    FileError
        If a file stands where the folder should, its parent is missing, or a file of that year is
        there already.
    """
    if folder.exists() and not folder.is_dir():
        message = f'output folder: found "{folder}", a file; allowed: a folder, new or there'
        raise FileError(message)
    if not folder.parent.is_dir():
        message = (
            f'output folder: found "{folder}", but there is no folder "{folder.parent}"; make that first'
        )
        raise FileError(message)
    there = [name for name in _names(year) if (folder / name).exists()]
    if there and not overwrite:
        message = f'output folder: "{folder / there[0]}" is already there; say --overwrite, or choose another'
        raise FileError(message)


def _names(year: int) -> list[str]:
    return [f"year-{year}{ending}" for ending in _ENDINGS]


def write_year(
    farm: Farm, layouts: Sequence[FieldLayout], report: YearReport, folder: Path, *, open_flags: int
) -> YearFiles:
    """Write a year's files; they take their names when all are complete.

    Parameters
    ----------
    farm : Farm
        The farm.
    layouts : sequence of FieldLayout
        Its fields, laid out.
    report : YearReport
        The year.
    folder : Path
        Folder to write into, made when missing.
    open_flags : int
        How many flags are open and carry over. [-]

    Returns
    -------
    YearFiles
        The files; the same for the same farm and log.

    Raises
    ------
    FileError
        If a file cannot be written.
    """
    page_name, csv_name, json_name, geometry = _names(report.year)
    try:
        part = Path(tempfile.mkdtemp(prefix=f".{folder.name}.", suffix=".part", dir=folder.parent))
    except OSError as error:
        message = f'output folder: "{folder}" cannot be written ({error.strerror}); choose another'
        raise FileError(message) from error
    try:
        write_geojson(frozen_features(farm, layouts, report), part / geometry)
        digest = sha256_of((part / geometry).read_bytes())
        record = year_record(report, farm.units, geometry=geometry, digest=digest, open_flags=open_flags)
        page = year_page(report, farm.units, geometry=geometry, digest=digest, open_flags=open_flags)
        text = json.dumps({"schema": 1, **record}, ensure_ascii=False, indent=2, allow_nan=False)
        for name, content in (
            (page_name, page),
            (csv_name, year_csv(report, farm.units)),
            (json_name, text + "\n"),
        ):
            with open_whole(part / name) as stream:
                stream.write(content)
        folder.mkdir(exist_ok=True)
        # The record comes last: where it stands, the rest is there.
        for name in (geometry, page_name, csv_name, json_name):
            (part / name).replace(folder / name)
    except OSError as error:
        # The writer of one file names its part, which is gone by now; the reason is what it came from.
        reason = getattr(error.__cause__ or error, "strerror", None) or error
        message = f'output folder: "{folder}" could not be written ({reason})'
        raise FileError(message) from error
    finally:
        shutil.rmtree(part, ignore_errors=True)
    return YearFiles(paths=tuple(folder / name for name in _names(report.year)), digest=digest, record=record)

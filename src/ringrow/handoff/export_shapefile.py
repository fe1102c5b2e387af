"""Shapefiles, one a layer, packed into one zip file with a list of their columns' full names.

The format is old and narrow: names of ten letters, texts of 254 bytes, no time of day, no empty
value that every program knows, two gigabytes. What that costs is told, never done in silence.
"""

from __future__ import annotations

import csv
import io
import zipfile
from collections import Counter
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from ringrow.errors import FileError
from ringrow.farm.readers.own import safe_cell
from ringrow.handoff.export_gpkg import write_layer
from ringrow.handoff.files import whole_file

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from pathlib import Path

    from ringrow.handoff.export_layers import Layer

NAME_LETTERS = 10
"""Longest name of a column [letters]."""
TEXT_BYTES = 254
"""Longest text of a cell [bytes of UTF-8]."""
MAX_FILE_BYTES = 2**31 - 1
"""Largest file that every program reads [bytes]."""

COLUMNS_FILE = "columns.csv"
"""File in the zip that gives each column's full name."""

_FIRST_DAY = (1980, 1, 1, 0, 0, 0)
_SHORT_WORDS = {
    "irrigated": "irr", "farmable": "farm", "excluded": "excl", "lateral": "lat", "station": "sta",
    "spacing": "spac", "heading": "head", "distance": "dist", "azimuth": "az", "offset": "off",
    "outlet": "outl", "range": "rng", "chance": "chc", "candidates": "cands", "elsewhere": "else",
    "radius": "rad", "length": "len", "stations": "stas", "stop": "end", "system": "system",
}  # fmt: skip


def write_shapefiles(layers: Sequence[Layer], path: Path) -> tuple[str, ...]:
    """Write each layer as a shapefile and pack them into one zip file, whole or not at all.

    Parameters
    ----------
    layers : sequence of Layer
        The layers.
    path : Path
        Zip file to write; one that is there is replaced.

    Returns
    -------
    tuple of str
        What the format cut off, in plain words.

    Raises
    ------
    FileError
        If a file cannot be written, or one of them would be larger than the format allows.
    """
    cut: Counter[str] = Counter()
    names: list[tuple[str, str, str]] = []
    with whole_file(path) as part:
        folder = part.parent / "layers"
        folder.mkdir()
        for layer in layers:
            short, shortened = _shorten(layer)
            cut.update(shortened)
            names += [(layer.name, one, two) for one, two in zip(short.columns, layer.columns, strict=True)]
            write_layer(short, folder / f"{layer.name}.shp", driver="ESRI Shapefile")
        files = sorted(folder.iterdir())
        _check_sizes(files)
        with zipfile.ZipFile(part, "w", zipfile.ZIP_DEFLATED) as archive:
            _pack(archive, COLUMNS_FILE, _columns_table(names))
            for file in files:
                _pack(archive, file.name, file.read_bytes())
    return tuple(
        f"{count} text{'s' * (count != 1)} of {name} cut to {TEXT_BYTES} bytes" for name, count in cut.items()
    )


def _pack(archive: zipfile.ZipFile, name: str, data: bytes) -> None:
    # A fixed day, so that the same farm gives the same file.
    archive.writestr(zipfile.ZipInfo(name, _FIRST_DAY), data, zipfile.ZIP_DEFLATED)


def _check_sizes(files: Iterable[Path]) -> None:
    for file in files:
        if file.stat().st_size > MAX_FILE_BYTES:
            message = (
                f'output file: "{file.name}" would be {file.stat().st_size / 1e9:.1f} GB; allowed: up to '
                f"{MAX_FILE_BYTES / 1e9:.1f} GB in a shapefile; write one field (--field), or a .gpkg"
            )
            raise FileError(message)


def _columns_table(names: Iterable[tuple[str, str, str]]) -> bytes:
    text = io.StringIO()
    writer = csv.writer(text, quoting=csv.QUOTE_ALL, lineterminator="\r\n")
    writer.writerow(["layer", "column", "full name"])
    writer.writerows([safe_cell(cell) for cell in row] for row in names)
    return ("\ufeff" + text.getvalue()).encode()


def _shorten(layer: Layer) -> tuple[Layer, dict[str, int]]:
    """Return a layer whose names and texts fit, and how many texts of which column were cut."""
    cut: dict[str, int] = {}
    columns: dict[str, list[Any]] = {}
    for short, (name, values) in zip(short_names(layer.columns), layer.columns.items(), strict=True):
        columns[short] = [_fitting(value) for value in values]
        pairs = zip(values, columns[short], strict=True)
        count = sum(isinstance(before, str) and before != after for before, after in pairs)
        if count:
            cut[f"{layer.name}.{name}"] = count
    return replace(layer, columns=columns), cut


def _fitting(value: Any) -> Any:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if not isinstance(value, str):
        return value
    # A letter of several bytes is kept whole or left out.
    return value.encode()[:TEXT_BYTES].decode(errors="ignore")


def short_names(names: Iterable[str]) -> list[str]:
    """Return names of at most ten letters, each once.

    Parameters
    ----------
    names : iterable of str
        Full names.

    Returns
    -------
    list of str
        Known words shortened, the rest cut; equal ones get a number. Capitals make no difference.

    Examples
    --------
    >>> short_names(["acres", "irrigated_acres", "start_station_ft", "start_station_m"])
    ['acres', 'irr_acres', 'start_sta_', 'start_sta2']
    """
    taken: set[str] = set()
    short = []
    for name in names:
        words = (
            [_SHORT_WORDS.get(word, word) for word in name.split("_")] if len(name) > NAME_LETTERS else [name]
        )
        whole = "_".join(words)
        tries = [whole[:NAME_LETTERS], *(f"{whole[: NAME_LETTERS - len(str(n))]}{n}" for n in range(2, 1000))]
        fitting = next(each for each in tries if each.casefold() not in taken)
        taken.add(fitting.casefold())
        short.append(fitting)
    return short

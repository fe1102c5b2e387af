"""Telling files with true curves, which the reading libraries turn into coarse chords unasked.

A chord every 4 degrees makes a circle 0.08 % too small and says nothing; so curves are refused.
"""

from __future__ import annotations

import re
import sqlite3
from contextlib import closing
from typing import TYPE_CHECKING

from ringrow.farm.faults import ShapeError

if TYPE_CHECKING:
    from pathlib import Path
    from xml.etree.ElementTree import Element

_WORDS = ("CURVE", "CIRCULAR", "SURFACE", "TRIANGLE", "TIN")
_GML = (
    "Arc",
    "ArcString",
    "ArcByCenterPoint",
    "ArcByBulge",
    "Circle",
    "CircleByCenterPoint",
    "CubicSpline",
    "BSpline",
)
_DXF = re.compile(rb"^[ \t]*0[ \t]*\r?\n(ARC|CIRCLE|ELLIPSE|SPLINE)[ \t]*\r?$", re.MULTILINE)


def check_database(path: Path) -> None:
    """Refuse a GeoPackage that states a layer of curves, and any SQLite file that is damaged.

    Parameters
    ----------
    path : Path
        The file.

    Raises
    ------
    GeometryError
        If any layer is declared to hold curves, or the file is damaged.
    """
    asked = (
        "select geometry_type_name from gpkg_geometry_columns",
        "select substr(extension_name, 11) from gpkg_extensions where extension_name like 'gpkg_geom_%'",
    )
    kinds: list[str] = []
    with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)) as database:
        _check_sound(database, "GPKG" if path.suffix.lower() == ".gpkg" else "SQLite")
        for query in asked:
            try:
                kinds += [str(kind) for (kind,) in database.execute(query)]
            except (sqlite3.Error, UnicodeError):
                # Not a GeoPackage, or one without extensions: the reading library says what it is.
                continue
    for kind in kinds:
        if any(word in kind.upper() for word in _WORDS):
            raise _refusal(kind)


def _check_sound(database: sqlite3.Connection, kind: str) -> None:
    """Refuse a damaged database before the reading library sees it, which may crash on one."""
    try:
        verdict = str(database.execute("pragma quick_check(1)").fetchone()[0])
        # Names of tables and columns that are no text crash the library's own error messages.
        for row in database.execute("select type, name, tbl_name, sql from sqlite_master"):
            _ = [str(text).encode() for text in row]
    except (sqlite3.Error, UnicodeError) as error:
        verdict = str(error)
    if verdict != "ok":
        found = f"a file that does not open as {kind} ({verdict[:120]})"
        hint = "open and save it again, or copy it anew"
        raise ShapeError("file", found, "a whole vector file", hint)


def check_gml(root: Element) -> None:
    """Refuse a GML document with arcs in it.

    Parameters
    ----------
    root : Element
        The parsed document.

    Raises
    ------
    GeometryError
        If any element is a curve.
    """
    for element in root.iter():
        name = str(element.tag).rpartition("}")[2]
        if name in _GML:
            raise _refusal(name)


def check_drawing(content: bytes) -> None:
    """Refuse a DXF drawing with arcs, circles, ellipses or splines in it.

    Parameters
    ----------
    content : bytes
        The drawing.

    Raises
    ------
    GeometryError
        If any entity is a curve.
    """
    match = _DXF.search(content)
    if match:
        raise _refusal(match[1].decode())


def _refusal(kind: str) -> ShapeError:
    return ShapeError(
        "file", f"curves ({kind})", "polygons with straight edges", "convert the curves to lines first"
    )

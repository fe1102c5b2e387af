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
    """Refuse a GeoPackage that states a layer of curves.

    Parameters
    ----------
    path : Path
        The file.

    Raises
    ------
    GeometryError
        If any layer is declared to hold curves.
    """
    asked = (
        "select geometry_type_name from gpkg_geometry_columns",
        "select substr(extension_name, 11) from gpkg_extensions where extension_name like 'gpkg_geom_%'",
    )
    kinds: list[str] = []
    with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)) as database:
        for query in asked:
            try:
                kinds += [str(kind) for (kind,) in database.execute(query)]
            except sqlite3.Error:
                # Not a GeoPackage, or one without extensions: the reading library says what it is.
                continue
    for kind in kinds:
        if any(word in kind.upper() for word in _WORDS):
            raise _refusal(kind)


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

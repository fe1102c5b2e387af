"""Small farms for tests: written in one call, right unless a test makes them wrong."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pathlib import Path

FARM_TOML = 'name = "Test farm"\n'

# A rectangle near 36.75 N, 101.5 W, about 2,635 by 2,622 ft: a quarter section.
WEST, SOUTH, EAST, NORTH = -101.5, 36.75, -101.491, 36.7572
CENTRE = (36.7536, -101.4955)

OUTLINE = f"""outline = [
    {{ lat = {SOUTH}, lon = {WEST} }},
    {{ lat = {SOUTH}, lon = {EAST} }},
    {{ lat = {NORTH}, lon = {EAST} }},
    {{ lat = {NORTH}, lon = {WEST} }},
]
"""

PIVOT = f"""[[pivot]]
point = {{ lat = {CENTRE[0]}, lon = {CENTRE[1]} }}
spans = [180, 180, 180, 180, 180, 180, 150]
overhang = 40
throw = 20
"""

DRIP = """[[drip]]
heading = 90
row_spacing = 30
rows_per_lateral = 2
"""

FIELD = f'name = "Home field"\n{OUTLINE}\n{PIVOT}'


def write_farm(
    folder: Path,
    farm_toml: str = FARM_TOML,
    fields: dict[str, str | bytes] | None = None,
    shapes: dict[str, str | bytes] | None = None,
) -> Path:
    """Write a farm's folder and return it; without arguments a small one that is right.

    Parameters
    ----------
    folder : Path
        Where; made when missing.
    farm_toml : str
        Text of farm.toml; empty = no such file.
    fields : dict of str to str or bytes, optional
        Text of each field file by its name without ending; default one field with a pivot.
    shapes : dict of str to str or bytes, optional
        Content of files in shapes/ by name.

    Returns
    -------
    Path
        The folder.
    """
    (folder / "fields").mkdir(parents=True, exist_ok=True)
    if farm_toml:
        (folder / "farm.toml").write_text(farm_toml, encoding="utf-8")
    for name, text in ({"home": FIELD} if fields is None else fields).items():
        _put(folder / "fields" / (name if "." in name else f"{name}.toml"), text)
    for name, content in (shapes or {}).items():
        _put(folder / "shapes" / name, content)
    return folder


def _put(path: Path, content: str | bytes) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    if isinstance(content, str):
        path.write_text(content, encoding="utf-8")
    else:
        path.write_bytes(content)


def rectangle(west: float, south: float, east: float, north: float) -> dict[str, Any]:
    """Return a GeoJSON polygon, rings by the right-hand rule."""
    ring = [[west, south], [east, south], [east, north], [west, north], [west, south]]
    return {"type": "Polygon", "coordinates": [ring]}


def collection(*features: tuple[dict[str, Any] | None, dict[str, Any]], **members: Any) -> str:
    """Return a GeoJSON FeatureCollection of (geometry, properties) pairs as text."""
    rows = [{"type": "Feature", "geometry": shape, "properties": columns} for shape, columns in features]
    return json.dumps({"type": "FeatureCollection", **members, "features": rows})


HOME = rectangle(WEST, SOUTH, EAST, NORTH)
"""The rectangle of `OUTLINE` as GeoJSON."""

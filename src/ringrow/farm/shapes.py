"""Shapes named or drawn in a field file, mended openly and brought into the field's frame."""

from __future__ import annotations

import os
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING

import numpy as np
import shapely

from ringrow.errors import GeometryError, PlaceError
from ringrow.farm.faults import ShapeError, listing, meant
from ringrow.farm.model import Repair
from ringrow.farm.vectors import Layer, polygons_of, read_layer, select, sidecars
from ringrow.frame import REACH_M, Frame
from ringrow.geometry.repair import mend

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from ringrow.farm.rules import Desk
    from ringrow.farm.schema_base import At, FileTable, ShapeTable
    from ringrow.geometry.ring_repair import PlaceWords

VERTICES = 100_000
"""Most vertices of one boundary, exclusion or drip area."""

Drawn = list["BaseGeometry"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Shelf:
    """The farm's folder and the vector files already read from it.

    Parameters
    ----------
    folder : Path
        The farm's folder.
    layers : dict
        Layers, or what is wrong with them, by file, layer and stated coordinate system.
    """

    folder: Path
    layers: dict[tuple[str, str | None, str | None], Layer | ShapeError] = field(default_factory=dict)

    def layer(self, table: FileTable) -> Layer:
        """Return the layer that a shape's table names, reading each file once.

        Parameters
        ----------
        table : FileTable
            Table with a file.

        Returns
        -------
        Layer
            The layer in longitude and latitude.

        Raises
        ------
        GeometryError
            If the path is not allowed or the file cannot be used.
        """
        key = (table.file or "", table.layer, table.crs)
        if key not in self.layers:
            try:
                path = safe_path(self.folder, table.file or "")
                self.layers[key] = read_layer(path, layer=table.layer, crs=table.crs)
            except ShapeError as problem:
                self.layers[key] = problem
        found = self.layers[key]
        if isinstance(found, ShapeError):
            raise found
        return found


def safe_path(folder: Path, name: str) -> Path:
    """Return the path of a file inside the farm's folder.

    Parameters
    ----------
    folder : Path
        The farm's folder.
    name : str
        Path as written in a farm file, with forward slashes.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    GeometryError
        If the path is absolute, leaves the folder, is not there or is not a file.
    """
    allowed = "a path inside the farm folder, such as shapes/fields.geojson"
    plain = name.strip().replace("\\", "/")
    parts = PurePosixPath(plain).parts
    absolute = plain.startswith("/") or plain[1:2] == ":" or "://" in plain
    if not parts or absolute or ".." in parts or "\0" in plain:
        found = f'"{name}"' + (", which leaves the folder" if parts else "")
        raise ShapeError("file", found, allowed, "copy the file into shapes/ and name it from there")
    path = folder.joinpath(*parts)
    _check_inside(folder, path, name, allowed)
    try:
        there = path.exists()
    except OSError as error:
        # A name longer than any file's.
        found = f'"{name[:60]}...", which cannot be looked for ({error.strerror})'
        raise ShapeError("file", found, allowed) from error
    if not there:
        raise _missing(folder, name, plain)
    if path.is_dir() and path.suffix.lower() != ".gdb":
        raise ShapeError("file", f'"{name}", which is a folder', "a file", "name the file in it")
    for part in sidecars(path):
        _check_inside(folder, part, part.name, allowed)
    return path


def _check_inside(folder: Path, path: Path, name: str, allowed: str) -> None:
    try:
        inside = path.resolve().is_relative_to(folder.resolve())
    except (OSError, RuntimeError):
        inside = False
    if not inside:
        found = f'"{name}", a link that leaves the folder'
        raise ShapeError("file", found, allowed, "copy the file itself into shapes/")


def _missing(folder: Path, name: str, plain: str) -> ShapeError:
    there: list[str] = []
    for root, folders, files in os.walk(folder):
        folders[:] = [sub for sub in folders if not sub.startswith(".")]
        there += [(Path(root) / file).relative_to(folder).as_posix() for file in files]
        if len(there) > 2000:
            break
    shapes = sorted(file for file in there if not file.endswith((".toml", ".db")))
    hint = meant(plain, shapes) or (
        f"there are {listing(shapes, most=5)}" if shapes else "the shapes folder is empty"
    )
    return ShapeError("file", f'"{name}", which is not there', "a file inside the farm folder", hint)


def drawn(table: ShapeTable, *, key: str, shelf: Shelf, desk: Desk) -> list[Drawn] | None:
    """Return the polygons of a shape, feature by feature, as they are drawn.

    Parameters
    ----------
    table : ShapeTable
        The shape's table.
    key : str
        Its key path.
    shelf : Shelf
        Files of the farm.
    desk : Desk
        Where faults go.

    Returns
    -------
    list of list of Polygon, or None
        Polygons of each feature; None when a fault was noted. [deg]
    """
    if table.outline is not None:
        return outline_drawn(table.outline, key=f"{key}.outline", desk=desk)
    try:
        layer = shelf.layer(table)
        chosen = layer.geometries[select(layer, table.where)]
    except ShapeError as problem:
        desk.fault(
            f"{key}.{problem.key}" if problem.key else key, problem.found, problem.allowed, problem.hint
        )
        return None
    taken = [polygons_of(geometry) for geometry in chosen]
    remarks = Counter([*layer.remarks, *(remark for _, those in taken for remark in those)])
    for remark, count in remarks.items():
        desk.warning(f"{key}.file", f"{remark} ({count} times)" if count > 1 else remark, "polygons")
    features = [polygons for polygons, _ in taken if polygons]
    if not features:
        kinds = sorted({geometry.geom_type for geometry in chosen if geometry is not None}) or ["nothing"]
        found = f"no polygon ({', '.join(kinds)})"
        desk.fault(f"{key}.file", found, "polygons, or lines whose ends meet", "draw the ground as an area")
        return None
    return features if _few_enough(features, key, desk) else None


def _few_enough(features: list[Drawn], key: str, desk: Desk) -> bool:
    count = sum(int(shapely.get_num_coordinates(polygon)) for feature in features for polygon in feature)
    if count > VERTICES:
        desk.fault(
            f"{key}.file",
            f"{count} vertices",
            f"at most {VERTICES} in one shape",
            "simplify it, or pick with where",
        )
    return count <= VERTICES


def outline_drawn(outline: list[At], *, key: str, desk: Desk) -> list[Drawn] | None:
    """Return the polygon of an outline given corner by corner.

    Parameters
    ----------
    outline : list of At
        Corners in turn.
    key : str
        Its key path.
    desk : Desk
        Where faults go.

    Returns
    -------
    list of list of Polygon, or None
        One feature of one polygon; None when a fault was noted. [deg]
    """
    corners = [(at.lon, at.lat) for at in outline]
    if len(set(corners)) < 3:
        desk.fault(
            key, f"{len(set(corners))} different corners", "three or more corners", "add the missing corners"
        )
        return None
    return [[shapely.Polygon(corners)]]


def frame_about(features: list[Drawn], *, key: str, desk: Desk) -> Frame | None:
    """Return the metric frame about a boundary, or note that it is too large for one.

    Parameters
    ----------
    features : list of list of Polygon
        The boundary as drawn. [deg]
    key : str
        Its key path.
    desk : Desk
        Where faults go.

    Returns
    -------
    Frame or None
        The frame; None when a fault was noted.
    """
    every = shapely.GeometryCollection([polygon for feature in features for polygon in feature])
    try:
        frame = Frame.about(every)
    except PlaceError as error:
        desk.fault(key, "a boundary too near a pole", "latitude -89 to 89", str(error))
        return None
    lon, lat = shapely.get_coordinates(every).T
    far_m = float(np.hypot(*frame.to_xy(lon, lat)).max())
    if far_m > REACH_M:
        found = f"a boundary that reaches {far_m / 1000:.1f} km from its centre"
        hint = "are all corners right? split a larger field, or pick one feature with where"
        if float(np.abs(lon).min()) > 179.0:
            hint = "a field on the 180th meridian is written as two, one on each side of it"
        desk.fault(key, found, f"at most {REACH_M / 1000:g} km", hint)
        return None
    return frame


def place_words(frame: Frame) -> PlaceWords:
    """Return a function that words a place of the frame as latitude and longitude.

    Parameters
    ----------
    frame : Frame
        The frame.

    Returns
    -------
    callable
        Takes x and y [m], gives text.
    """

    def words(x: float, y: float) -> str:
        lon, lat = frame.to_lonlat(x, y)
        return f"{float(lat):.6f}, {float(lon):.6f}"

    return words


def ground(features: list[Drawn], *, frame: Frame, key: str, desk: Desk) -> BaseGeometry | None:
    """Return drawn polygons as ground in the frame; what is broken is mended and reported.

    Parameters
    ----------
    features : list of list of Polygon
        Polygons as drawn. [deg]
    frame : Frame
        The field's frame.
    key : str
        Key path of the shape.
    desk : Desk
        Where faults and repairs go.

    Returns
    -------
    shapely Polygon or MultiPolygon, or None
        Union of the features; None when a fault was noted. [m]
    """
    words = place_words(frame)
    parts = []
    for polygons in features:
        shape = polygons[0] if len(polygons) == 1 else shapely.MultiPolygon(polygons)
        try:
            mended = mend(frame.project(shape), place_words=words)
        except GeometryError as error:
            hint = "draw the shape again" if len(str(error)) > 300 else str(error)
            desk.fault(key, "a shape without ground", "a polygon with some area", hint)
            return None
        parts.append(mended.geometry)
        if mended.changes:
            repair = Repair(
                file=desk.file,
                key=key,
                changes=mended.changes,
                area_before_m2=mended.area_before_m2,
                area_after_m2=mended.area_after_m2,
            )
            desk.findings.repairs.append(repair)
    return parts[0] if len(parts) == 1 else shapely.union_all(parts)

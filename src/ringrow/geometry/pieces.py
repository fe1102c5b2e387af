"""Dry pieces: the dry corners and islands of a field, apart from the thin strips along its edges.

Dry ground is a mess of corners joined by slivers where a circle nearly touches the fence.
Worn down by half a neck width, it falls into the parts a person would call pieces; each is
grown back and named by the field corners it reaches. What is left over is edge strips.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely import MultiPolygon, Point, Polygon

from ringrow.errors import DomainError
from ringrow.geometry.angles import azimuth_deg, compass_point
from ringrow.geometry.ring_repair import polygons_only

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

SIMPLIFY_M = 10.0
"""The boundary is simplified to this [m] before its corners are looked for."""
CORNER_TURN_DEG = 45.0
"""A boundary vertex that turns at least this much [deg] is a field corner."""
CORNER_REACH_M = 1.0
"""A piece takes the field corners within this distance [m]."""
EDGE_STRIPS = "edge strips"
"""Name of what is left of dry ground when its pieces are taken out."""

_CHORD_ERROR_M = 0.001
_SPECK_M2 = 1e-6
_POLE_TOLERANCE_M = 0.01


@dataclass(frozen=True, slots=True, kw_only=True)
class Corner:
    """A corner of a field.

    Parameters
    ----------
    x_m, y_m : float
        Where it is. [m]
    azimuth_deg : float
        Bearing from the boundary's centroid. [deg]
    name : str
        Nearest of the eight compass points of that bearing.
    interior_deg : float
        Angle of the ground at the corner; above 180 where the boundary turns inward. [deg]
    """

    x_m: float
    y_m: float
    azimuth_deg: float
    name: str
    interior_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class DryPiece:
    """One piece of dry ground.

    Parameters
    ----------
    name : str
        ``NE corner``, ``NE+SE corner``, ``dry 3`` or ``edge strips``.
    corner : str or None
        Compass names of the field corners it takes, such as ``NE+SE``; None without one.
    geometry : shapely Polygon or MultiPolygon
        Its ground. [m]
    area_m2 : float
        Its area. [m2]
    x_m, y_m : float
        Its pole of inaccessibility, the inside point farthest from its edge; for edge strips,
        that of the largest strip. [m]
    """

    name: str
    corner: str | None
    geometry: BaseGeometry
    area_m2: float
    x_m: float
    y_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class DryPieces:
    """All dry ground of a field; pieces and strips add up to it.

    Parameters
    ----------
    pieces : tuple of DryPiece
        Clockwise from north by the bearing of each piece from the boundary's centroid.
    strips : DryPiece or None
        What is left over, as one row; None when nothing is.
    """

    pieces: tuple[DryPiece, ...]
    strips: DryPiece | None

    @property
    def rows(self) -> tuple[DryPiece, ...]:
        """The pieces and, last, the edge strips."""
        return self.pieces if self.strips is None else (*self.pieces, self.strips)


def field_corners(boundary: BaseGeometry) -> tuple[Corner, ...]:
    """Return the corners of a field: where its outer boundary turns 45 degrees or more.

    Parameters
    ----------
    boundary : shapely Polygon or MultiPolygon
        Outer limit of the field. [m]

    Returns
    -------
    tuple of Corner
        Clockwise from north by bearing from the boundary's centroid; empty for a round field.

    Notes
    -----
    The boundary is simplified to 10 m first, beginning at the vertex farthest from its
    centroid, so that corners do not depend on where a file starts its ring.

    Examples
    --------
    >>> [corner.name for corner in field_corners(shapely.box(0, 0, 800, 400))]
    ['NE', 'SE', 'SW', 'NW']
    """
    if boundary.is_empty:
        return ()
    centroid = boundary.centroid
    corners = [
        corner
        for part in shapely.get_parts(boundary)
        for corner in _ring_corners(shapely.get_coordinates(part.exterior), centroid)
    ]
    return tuple(sorted(corners, key=lambda corner: (corner.azimuth_deg, corner.x_m, corner.y_m)))


def _ring_corners(ring: NDArray[np.float64], centroid: Point) -> list[Corner]:
    points = ring[:-1]
    away = np.hypot(points[:, 0] - centroid.x, points[:, 1] - centroid.y)
    outline = Polygon(np.roll(points, -int(np.argmax(away)), axis=0))
    simple = shapely.orient_polygons(shapely.simplify(outline, SIMPLIFY_M))
    points = shapely.get_coordinates(simple.exterior)[:-1]
    came, goes = points - np.roll(points, 1, axis=0), np.roll(points, -1, axis=0) - points
    cross = came[:, 0] * goes[:, 1] - came[:, 1] * goes[:, 0]
    # Left turns are positive: the ring runs counter-clockwise, its ground on the left.
    turn = np.degrees(np.arctan2(cross, (came * goes).sum(axis=1)))
    bearing = azimuth_deg(points[:, 0] - centroid.x, points[:, 1] - centroid.y)
    return [
        Corner(
            x_m=float(points[i, 0]),
            y_m=float(points[i, 1]),
            azimuth_deg=float(bearing[i]),
            name=compass_point(float(bearing[i])),
            interior_deg=float(180.0 - turn[i]),
        )
        # A turn of exactly 45 may come out a rounding below.
        for i in np.flatnonzero(np.abs(turn) >= CORNER_TURN_DEG - 1e-9)
    ]


def dry_pieces(dry: BaseGeometry, boundary: BaseGeometry, *, neck_m: float) -> DryPieces:
    """Return the pieces a field's dry ground falls into, named, and the strips left over.

    Dry ground is worn down by half of `neck_m` (mitre joins); each part left is grown back
    by the same (round joins) and cut to dry ground, and ground reached by two parts goes to
    the lower-numbered. Parts are numbered clockwise by the bearing of their inside point
    from the boundary's centroid.

    Parameters
    ----------
    dry : shapely Polygon or MultiPolygon
        Farmable ground that no system wets. [m]
    boundary : shapely Polygon or MultiPolygon
        Outer limit of the field. [m]
    neck_m : float
        Dry ground narrower than this belongs to no piece, 0 or more; with 0 every connected
        part of dry ground is a piece. [m]

    Returns
    -------
    DryPieces
        The pieces, and the strips or None; empty for empty dry ground.

    Raises
    ------
    DomainError
        If `neck_m` is negative or no number.

    Notes
    -----
    Growing back with round joins stops short of a field corner: by
    ``(1 / sin(a / 2) - 1) * neck_m / 2`` at a corner with interior angle a. A piece takes a
    corner that it would be within 1 m of without that gap, if the corner itself is dry.

    Examples
    --------
    >>> dry = shapely.box(0, 0, 100, 100) - shapely.box(-1, 40, 70, 60)
    >>> [piece.name for piece in dry_pieces(dry, shapely.box(0, 0, 100, 100), neck_m=50).rows]
    ['edge strips']
    >>> [piece.name for piece in dry_pieces(dry, shapely.box(0, 0, 100, 100), neck_m=10).rows]
    ['NE+SE+SW+NW corner', 'edge strips']
    """
    if not (math.isfinite(neck_m) and neck_m >= 0):
        message = f"neck: found {neck_m} m; allowed: 0 m or more"
        raise DomainError(message)
    # GEOS divides by zero inside where segments are parallel, and copes; numpy would report it.
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        return _pieces(dry, boundary, neck_m)


def _pieces(dry: BaseGeometry, boundary: BaseGeometry, neck_m: float) -> DryPieces:
    parts = _numbered(_worn_down(dry, neck_m / 2), boundary)
    grounds, rest = _grown_back(parts, dry, neck_m / 2)
    corners = [corner for corner in field_corners(boundary) if _distance(dry, corner) <= CORNER_REACH_M]
    taken = [_corner_name(ground, corners, neck_m) for ground in grounds]
    names = _piece_names(taken, [ground.area for ground in grounds])
    pieces = tuple(
        _piece(name, corner, ground) for name, corner, ground in zip(names, taken, grounds, strict=True)
    )
    strips = None if rest.is_empty else _piece(EDGE_STRIPS, None, rest)
    return DryPieces(pieces=pieces, strips=strips)


def _worn_down(dry: BaseGeometry, half_m: float) -> NDArray[np.object_]:
    worn = dry
    if half_m > 0:
        worn = shapely.buffer(dry, -half_m, quad_segs=_quarter_segments(half_m), join_style="mitre")
    parts = shapely.get_parts(polygons_only(worn))
    return parts[shapely.area(parts) > _SPECK_M2]


def _quarter_segments(radius_m: float) -> int:
    """Return the chords per quarter circle that keep the chord error at 1 mm."""
    if radius_m <= _CHORD_ERROR_M:
        return 1
    return math.ceil(math.pi / 4 / math.acos(1 - _CHORD_ERROR_M / radius_m))


def _numbered(parts: NDArray[np.object_], boundary: BaseGeometry) -> NDArray[np.object_]:
    """Return the parts clockwise by the bearing of their inside point from the centroid."""
    if not len(parts):
        return parts
    inside = np.array([_pole(part) for part in parts])
    centroid = boundary.centroid
    dx, dy = inside[:, 0] - centroid.x, inside[:, 1] - centroid.y
    # Rounding must not decide between due north and a hair west of it: a part dead north is first.
    bearing = np.round(azimuth_deg(dx, dy), 6) % 360.0
    return parts[np.lexsort((np.hypot(dx, dy), bearing))]


def _pole(polygon: BaseGeometry) -> tuple[float, float]:
    """Return the pole of inaccessibility: centre of the largest circle inside."""
    west, south, east, north = polygon.bounds
    size = max(east - west, north - south)
    # A ten-thousandth of a large piece, 1 cm of a usual one, a hundredth of a speck.
    tolerance = min(max(_POLE_TOLERANCE_M, size / 10_000), size / 100)
    circle = shapely.maximum_inscribed_circle(polygon, tolerance)
    x, y = shapely.get_coordinates(circle)[0]
    return float(x), float(y)


def _grown_back(
    parts: NDArray[np.object_], dry: BaseGeometry, half_m: float
) -> tuple[list[BaseGeometry], BaseGeometry]:
    """Return each part grown back to its share of dry ground, and what none of them takes."""
    if half_m == 0:
        return list(parts), Polygon()
    # A micrometre more lets straight edges come back whole; the cut to dry ground takes it off.
    grown = shapely.buffer(parts, half_m + 1e-6, quad_segs=_quarter_segments(half_m), join_style="round")
    grounds: list[BaseGeometry] = []
    rest = dry
    for shape in grown:
        ground = polygons_only(rest & shape)
        rest = polygons_only(rest - shape)
        grounds.append(ground)
    left = shapely.get_parts(rest)
    # Below a million-millionth of dry ground what is left is rounding, not strips.
    left = left[shapely.area(left) > 1e-12 * dry.area]
    return grounds, rest if len(left) == shapely.get_num_geometries(rest) else MultiPolygon(list(left))


def _distance(shape: BaseGeometry, corner: Corner) -> float:
    return float(shapely.distance(shape, Point(corner.x_m, corner.y_m)))


def _corner_name(ground: BaseGeometry, corners: list[Corner], neck_m: float) -> str | None:
    """Return the names of the field corners a piece takes, clockwise, joined by plus signs."""
    taken = [
        corner for corner in corners if _distance(ground, corner) <= CORNER_REACH_M + _gap_m(corner, neck_m)
    ]
    if not taken:
        return None
    # Start after the widest gap, so that a piece along the north side reads NW+NE.
    bearings = np.array([corner.azimuth_deg for corner in taken])
    gaps = np.round((bearings - np.roll(bearings, 1)) % 360.0, 6)
    first = int(np.argmax(gaps)) if len(taken) > 1 else 0
    names = [corner.name for corner in (*taken[first:], *taken[:first])]
    return "+".join(dict.fromkeys(names))


def _gap_m(corner: Corner, neck_m: float) -> float:
    """Return how far short of a corner round growth stops; 0 where the boundary turns inward."""
    if corner.interior_deg >= 180.0:
        return 0.0
    return (1 / math.sin(math.radians(corner.interior_deg / 2)) - 1) * neck_m / 2


def _piece_names(corners: list[str | None], areas: list[float]) -> list[str]:
    """Return a name for each piece; equal names get 1, 2 by falling area."""
    names = [
        f"dry {n}" if corner is None else f"{corner} corner" for n, corner in enumerate(corners, start=1)
    ]
    counts = Counter(names)
    order = sorted(range(len(names)), key=lambda i: (-areas[i], i))
    seen: Counter[str] = Counter()
    numbered = list(names)
    for i in order:
        if counts[names[i]] > 1:
            seen[names[i]] += 1
            numbered[i] = f"{names[i]} {seen[names[i]]}"
    return numbered


def _piece(name: str, corner: str | None, ground: BaseGeometry) -> DryPiece:
    parts = shapely.get_parts(ground)
    x, y = _pole(parts[int(np.argmax(shapely.area(parts)))])
    return DryPiece(name=name, corner=corner, geometry=ground, area_m2=float(ground.area), x_m=x, y_m=y)

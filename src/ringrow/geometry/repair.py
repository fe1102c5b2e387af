"""Open repair of broken polygons: what was wrong, where, and how much area moved.

A drawn field may cross itself, run out and back along a spike, lie partly over its own
second part, or carry a hole that is not inside it. Every ring is mended alone, holes are cut
out of the ground they lie in, parts are joined, and each change is said in a sentence.
Nothing is repaired silently and nothing is guessed: numbers that are no numbers are refused.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely import MultiPolygon, Point, Polygon

from ringrow.errors import GeometryError
from ringrow.geometry.ring_repair import (
    SPECK_M2,
    PlaceWords,
    near_words,
    polygons_only,
    rebuilt_ground,
    ring_name,
    single_parts,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray
    from shapely.geometry.base import BaseGeometry

    Ring = NDArray[np.float64]
    Part = list[Ring]

REPEAT_M = 1e-6
"""Vertices closer together than this [m] are one vertex."""
MIN_AREA_M2 = 0.01
"""A shape smaller than this [m2] is no ground: it collapsed, or its coordinates are degrees."""
FAR_M = 1e7
"""A coordinate beyond this [m] is a slip: no place is farther from a field's origin."""

_GRID_M = 2 * REPEAT_M


@dataclass(frozen=True, slots=True, kw_only=True)
class Mended:
    """A shape fit for work, and what had to be changed for it.

    Parameters
    ----------
    geometry : shapely Polygon or MultiPolygon
        The mended shape, valid. [m]
    changes : tuple of str
        One sentence per change, with its place; empty when nothing was wrong.
    area_before_m2 : float
        Area as drawn, by the even-odd rule: ground ringed twice does not count. [m2]
    area_after_m2 : float
        Area of `geometry`. [m2]
    """

    geometry: BaseGeometry
    changes: tuple[str, ...]
    area_before_m2: float
    area_after_m2: float


def mend(geometry: BaseGeometry | None, *, place_words: PlaceWords | None = None) -> Mended:
    """Return a polygon that can be worked with, saying what was changed.

    Outlines that cross themselves keep every loop as ground, ground ringed twice counts
    once; spikes without width and repeated vertices go; a hole that lies outside goes, one
    that reaches outside is cut to the ground; parts that overlap are joined. Heights are
    left away. The direction in which a ring runs carries no meaning and is left as it is.

    Parameters
    ----------
    geometry : shapely geometry or None
        Polygon, MultiPolygon, or a collection that holds polygons, in a metric frame. [m]
    place_words : callable or None, default None
        Called with x and y [m] to word a place in the sentences; None gives ``(x, y)``.

    Returns
    -------
    Mended
        The shape, the sentences, and the areas before and after. A shape without faults
        comes back as it was, with no sentences.

    Raises
    ------
    GeometryError
        If there is no polygon, a coordinate is no number or beyond 10,000 km, or what is
        left has less than 0.01 m2 of ground.

    Notes
    -----
    Rings are rebuilt by GEOS ("structure" method) one at a time; a shape is never put
    through a zero-width buffer, which drops lobes without saying so. Corners of a rebuilt
    shape stand on a grid of 2 micrometres.

    Examples
    --------
    >>> bow_tie = Polygon([(0, 0), (10, 10), (10, 0), (0, 10)])
    >>> mended = mend(bow_tie)
    >>> mended.changes
    ('The outline crosses itself near (5, 5); every loop is kept as ground.',)
    >>> mended.area_before_m2, mended.area_after_m2
    (50.0, 50.0)
    """
    words = place_words or _plain_place
    polygons, changes = _polygons_of(geometry, words)
    parts = [[_coordinates(ring) for ring in _rings_of(polygon)] for polygon in polygons]
    whole = geometry is not None and geometry.geom_type in ("Polygon", "MultiPolygon")
    return _mend_parts(parts, changes, words, original=geometry if whole else None)


def mend_rings(polygons: Sequence[Sequence[ArrayLike]], *, place_words: PlaceWords | None = None) -> Mended:
    """Return a polygon from rings as they stand in a file, closed where they are open.

    The nesting is that of a GeoJSON MultiPolygon: a list of polygons, each a list of rings,
    the outline first, each ring a list of positions. Use this where a reader refuses a file
    because a ring does not end where it began.

    Parameters
    ----------
    polygons : sequence of sequence of array_like, shape (n, 2 or 3)
        Rings in a metric frame; a third number is a height and is left away. [m]
    place_words : callable or None, default None
        Called with x and y [m] to word a place in the sentences; None gives ``(x, y)``.

    Returns
    -------
    Mended
        As from `mend`; the area before takes open rings as closed by a straight line.

    Raises
    ------
    GeometryError
        As from `mend`, and if a ring is not a list of positions.

    Examples
    --------
    >>> mend_rings([[[(0, 0), (10, 0), (10, 10), (0, 10)]]]).changes
    ('The outline was open near (0, 10); it was closed with a straight line to (0, 0).',)
    """
    words = place_words or _plain_place
    changes: list[str] = []
    parts: list[Part] = []
    for p, polygon in enumerate(polygons):
        rings = [_positions(ring, ring_name(p, r, len(polygons))) for r, ring in enumerate(polygon)]
        for r, ring in enumerate(rings):
            if len(ring) >= 3 and not np.array_equal(ring[0], ring[-1]):
                changes.append(
                    f"{ring_name(p, r, len(polygons))} was open near {words(*ring[-1])}; "
                    f"it was closed with a straight line to {words(*ring[0])}."
                )
                rings[r] = np.vstack([ring, ring[:1]])
        parts.append(rings)
    return _mend_parts(parts, changes, words, original=None)


def _plain_place(x: float, y: float) -> str:
    # To the millimetre; adding 0.0 turns -0.0 into 0.0.
    return f"({round(x, 3) + 0.0:.10g}, {round(y, 3) + 0.0:.10g})"


def _polygons_of(geometry: BaseGeometry | None, words: PlaceWords) -> tuple[NDArray[np.object_], list[str]]:
    if geometry is None or geometry.is_empty:
        message = "shape: found nothing; allowed: a polygon; draw it again"
        raise GeometryError(message)
    parts = single_parts(geometry)
    parts = parts[~shapely.is_empty(parts)]
    is_polygon = shapely.get_type_id(parts) == 3
    if not is_polygon.any():
        message = (
            f"shape: found {geometry.geom_type}; allowed: Polygon or MultiPolygon; "
            "draw the ground as an area, not as a line or point"
        )
        raise GeometryError(message)
    changes = []
    for other in parts[~is_polygon]:
        kind = "point" if other.geom_type == "Point" else "line"
        x, y = shapely.get_coordinates(other)[0]
        changes.append(f"A {kind} near {words(x, y)} was dropped; it has no area.")
    return parts[is_polygon], changes


def _rings_of(polygon: Polygon) -> list[BaseGeometry]:
    return [polygon.exterior, *polygon.interiors]


def _coordinates(ring: BaseGeometry) -> Ring:
    return shapely.get_coordinates(ring)


def _positions(ring: ArrayLike, name: str) -> Ring:
    try:
        array = np.asarray(ring, dtype=float)
    except (TypeError, ValueError) as error:
        message = f"{name.lower()}: found something else than numbers; allowed: a list of positions"
        raise GeometryError(message) from error
    if array.ndim != 2 or array.shape[1] < 2:
        message = f"{name.lower()}: found shape {array.shape}; allowed: a list of positions of two numbers"
        raise GeometryError(message)
    return array[:, :2]


def _refuse_bad_numbers(parts: list[Part]) -> None:
    for p, part in enumerate(parts):
        for r, ring in enumerate(part):
            bad = ~(np.abs(ring) <= FAR_M).all(axis=1)
            if bad.any():
                vertex = int(np.argmax(bad))
                x, y = ring[vertex]
                message = (
                    f"{ring_name(p, r, len(parts)).lower()}: found ({x:g}, {y:g}) at vertex {vertex + 1}; "
                    f"allowed: numbers from {-FAR_M:,.0f} to {FAR_M:,.0f} m; correct that vertex"
                )
                raise GeometryError(message)


def _mend_parts(
    parts: list[Part], changes: list[str], words: PlaceWords, *, original: BaseGeometry | None
) -> Mended:
    _refuse_bad_numbers(parts)
    # On broken rings GEOS divides by zero inside and copes; numpy would report it.
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        drawn = _drawn_area(parts)
    parts = _without_repeats(parts, changes, words)
    shape = _assemble(parts)
    if not shape.is_valid:
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            shape = _settle(rebuilt_ground(parts, changes, words, shape))
    elif original is not None and not changes:
        shape = shapely.force_2d(original) if original.has_z else original
    if not shape.area >= MIN_AREA_M2:
        message = (
            f"shape: found {shape.area:.3g} m2 of ground; allowed: {MIN_AREA_M2:g} m2 or more; it collapsed "
            "to a line or point, or its coordinates are degrees where metres are needed; draw it again"
        )
        raise GeometryError(message)
    return Mended(
        geometry=shape, changes=tuple(changes), area_before_m2=drawn, area_after_m2=float(shape.area)
    )


def _drawn_area(parts: list[Part]) -> float:
    """Return the area as drawn: every ring crossed turns ground to no ground and back."""
    kept = [[ring for ring in part if len(ring) >= 4] for part in parts if part and len(part[0]) >= 4]
    if not kept:
        return 0.0
    shape = _assemble(kept)
    return float(shape.area) if shape.is_valid else _even_odd_area([ring for part in kept for ring in part])


def _even_odd_area(rings: list[Ring]) -> float:
    """Return the area of the faces between the rings that a ray leaves through an odd number of lines."""
    lines = shapely.union_all([shapely.linestrings(ring) for ring in rings])
    faces = shapely.get_parts(shapely.polygonize(shapely.get_parts(lines)))
    starts, stops = np.vstack([ring[:-1] for ring in rings]), np.vstack([ring[1:] for ring in rings])
    odd = [_crossed_oddly(starts, stops, face.representative_point()) for face in faces]
    return float(shapely.area(faces)[odd].sum()) if len(faces) else 0.0


def _crossed_oddly(starts: Ring, stops: Ring, point: Point) -> bool:
    """Return whether a ray from the point toward +x crosses an odd number of segments."""
    (x1, y1), (x2, y2) = (starts - (point.x, point.y)).T, (stops - (point.x, point.y)).T
    spans = (y1 > 0) != (y2 > 0)
    left = (x1 * y2 - x2 * y1 > 0) == (y2 > y1)
    return bool(np.count_nonzero(spans & left) % 2)


def _without_repeats(parts: list[Part], changes: list[str], words: PlaceWords) -> list[Part]:
    """Return the rings with repeated vertices taken out, and without rings that have no area."""
    kept: list[Part] = []
    repeats: list[tuple[float, float]] = []
    for p, part in enumerate(parts):
        rings: Part = []
        for r, ring in enumerate(part):
            single = _distinct(ring, repeats)
            if len(single) >= 4:
                rings.append(single)
                continue
            name = ring_name(p, r, len(parts))
            where = f" near {words(*ring[0])}" if len(ring) else ""
            changes.append(f"{name}{where} has fewer than three corners; it was dropped.")
            if r == 0:
                break
        kept.append(rings)
    if repeats:
        count = f"{len(repeats)} repeated vertices were" if len(repeats) > 1 else "A repeated vertex was"
        changes.append(f"{count} taken out{near_words(repeats, words)}.")
    return [rings for rings in kept if rings]


def _distinct(ring: Ring, repeats: list[tuple[float, float]]) -> Ring:
    """Return a closed ring without vertices that stand on the one before; note them in `repeats`."""
    points = ring[:-1] if len(ring) > 1 and np.array_equal(ring[0], ring[-1]) else ring
    while len(points) > 1:
        step = points - np.roll(points, 1, axis=0)
        again = np.hypot(step[:, 0], step[:, 1]) < REPEAT_M
        # The first of a run stays, also where the run goes over the ring's own seam.
        again[0] = False
        if len(points) > 2 and np.hypot(*(points[-1] - points[0])) < REPEAT_M:
            again[-1] = True
        if not again.any():
            break
        repeats.extend((float(x), float(y)) for x, y in points[again])
        points = points[~again]
    return np.vstack([points, points[:1]])


def _assemble(parts: list[Part]) -> BaseGeometry:
    """Return the rings as one shape, valid or not."""
    polygons = [Polygon(part[0], part[1:]) for part in parts]
    return polygons[0] if len(polygons) == 1 else MultiPolygon(polygons)


def _settle(shape: BaseGeometry) -> BaseGeometry:
    """Return a rebuilt shape without specks, its corners on a grid so fine that no area moves.

    A crossing rounded to doubles may fall a hair beside the line it lies on and make the
    next operation see a new crossing. On the grid, corners stand at least 2 micrometres
    apart and the shape stays sound.
    """
    parts = shapely.get_parts(shape)
    parts = parts[shapely.area(parts) > SPECK_M2]
    if not len(parts):
        return Polygon()
    gridded = shapely.set_precision(MultiPolygon(list(parts)), _GRID_M)
    # Built anew from its numbers, because GEOS would hold later operations to the grid as well.
    kept = shapely.get_parts(polygons_only(gridded))
    settled = _assemble([[_coordinates(ring) for ring in _rings_of(part)] for part in kept])
    if not settled.is_valid:
        message = (
            "shape: found rings that cannot be untangled; allowed: rings that do not cross; draw it again"
        )
        raise GeometryError(message)
    return settled

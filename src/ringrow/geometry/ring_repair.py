"""Ground that broken rings mean: loops, spikes, holes and overlapping parts, each said in words."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    Ring = NDArray[np.float64]
    Part = list[Ring]


SPECK_M2 = 1e-6
"""Less ground than this is none [m2]."""

_LISTED = 3

PlaceWords = Callable[[float, float], str]
"""Says a place (x, y) in words."""


def polygons_only(geometry: BaseGeometry) -> BaseGeometry:
    """Return the polygons of a shape; points and lines, which have no area, fall away.

    Two shapes that touch along an edge meet in a line, which is no ground.

    Parameters
    ----------
    geometry : shapely geometry
        Any shape, for example the outcome of an intersection. [m]

    Returns
    -------
    shapely Polygon or MultiPolygon
        Its polygons; an empty polygon when there are none. [m]

    Examples
    --------
    >>> polygons_only(shapely.box(0, 0, 1, 1) & shapely.box(1, 0, 2, 1)).is_empty
    True
    """
    if geometry.geom_type in ("Polygon", "MultiPolygon"):
        return geometry
    parts = single_parts(geometry)
    parts = parts[shapely.get_type_id(parts) == 3]
    if len(parts) == 1:
        return parts[0]
    return MultiPolygon(list(parts)) if len(parts) else Polygon()


def single_parts(geometry: BaseGeometry) -> NDArray[np.object_]:
    """Return the single points, lines and polygons of any nesting of collections.

    Parameters
    ----------
    geometry : shapely geometry
        Any shape. [m]

    Returns
    -------
    ndarray of shapely geometry
        Its parts, none of them a collection.
    """
    parts = shapely.get_parts(geometry)
    while np.any(shapely.get_type_id(parts) > 3):
        parts = shapely.get_parts(parts)
    return parts


def ring_name(part: int, ring: int, parts: int) -> str:
    """Return what a ring is called in a sentence.

    Parameters
    ----------
    part, ring, parts : int
        Which part, which ring of it, both from 0, and how many parts there are.

    Returns
    -------
    str
        The outline or a numbered hole; the part is named when there are several.

    Examples
    --------
    >>> ring_name(0, 0, 1), ring_name(1, 2, 3)
    ('The outline', 'Hole 2 of part 2')
    """
    name = "The outline" if ring == 0 else f"Hole {ring}"
    return name if parts == 1 else f"{name} of part {part + 1}"


def near_words(places: Sequence[tuple[float, float]], words: PlaceWords) -> str:
    """Return where something is, for a sentence: the first places, and how many more.

    Parameters
    ----------
    places : sequence of tuple of float
        Places (x, y). [m]
    words : callable
        Says a place (x, y) in words. [m]

    Returns
    -------
    str
        Begins with a blank.
    """
    shown = ", ".join(words(x, y) for x, y in places[:_LISTED])
    more = len(places) - _LISTED
    return f" near {shown}" + (f" and at {more} more places" if more > 0 else "")


def rebuilt_ground(
    parts: list[Part], changes: list[str], words: PlaceWords, broken: BaseGeometry
) -> BaseGeometry:
    """Return the ground the rings mean: each ring mended, holes cut out, parts joined.

    Parameters
    ----------
    parts : list of list of ndarray, shape (n, 2)
        Closed rings of each part, the outline first. [m]
    changes : list of str
        Takes up a sentence for each thing that was wrong.
    words : callable
        Says a place (x, y) in words. [m]
    broken : shapely geometry
        The rings as one shape, not valid. [m]

    Returns
    -------
    shapely Polygon or MultiPolygon
        The ground; empty when there is none. [m]
    """
    said = len(changes)
    shells = [
        _mend_ring(part[0], ring_name(p, 0, len(parts)), changes, words) for p, part in enumerate(parts)
    ]
    grounds = list(shells)
    for p, part in enumerate(parts):
        for r, ring in enumerate(part[1:], start=1):
            name = ring_name(p, r, len(parts))
            hole = _mend_ring(ring, name, changes, words)
            home = _home_of_hole(hole, p, shells, name, changes, words)
            if home is not None:
                grounds[home] = _cut(grounds[home], hole, shells[home], name, changes, words)
    shape = _joined(grounds, changes, words)
    if len(changes) == said:
        reason, _, place = shapely.is_valid_reason(broken).partition("[")
        x, y = (float(number) for number in place.rstrip("]").split()[:2])
        changes.append(f"Rings run along each other near {words(x, y)} ({reason.lower()}); they were joined.")
    return shape


def _mend_ring(ring: Ring, name: str, changes: list[str], words: PlaceWords) -> BaseGeometry:
    """Return the ground inside one ring, and say what was wrong with it."""
    drawn = Polygon(ring)
    if drawn.is_valid:
        return drawn
    mended = polygons_only(shapely.make_valid(drawn, method="structure", keep_collapsed=False))
    spikes = _spikes(ring)
    if spikes:
        changes.append(
            f"{name} runs out and back on itself{near_words(spikes, words)}; the spike was cut off."
        )
    points, pieces = _meetings(ring)
    knots = [(float(x), float(y)) for x, y in points[pieces >= 4]]
    if knots:
        signed = abs(_signed_area(ring))
        touches = abs(mended.area - signed) <= 1e-9 * max(signed, mended.area)
        verb = "touches" if touches else "crosses"
        outcome = "it was split there" if touches else "every loop is kept as ground"
        changes.append(f"{name} {verb} itself{near_words(knots, words)}; {outcome}.")
    if mended.area <= SPECK_M2:
        changes.append(f"{name} near {words(*ring[0])} holds no ground; it was dropped.")
        return Polygon()
    if not spikes and not knots:
        changes.append(
            f"{name} runs twice along the same line near {words(*points[np.argmax(pieces)])}; it counts once."
        )
    return mended


def _signed_area(ring: Ring) -> float:
    x, y = (ring - ring[0]).T
    return float(np.sum(x[:-1] * y[1:] - x[1:] * y[:-1]) / 2)


def _spikes(ring: Ring) -> list[tuple[float, float]]:
    """Return the tips at which a ring turns right back on itself."""
    came = ring[:-1] - np.roll(ring[:-1], 1, axis=0)
    goes = ring[1:] - ring[:-1]
    cross = came[:, 0] * goes[:, 1] - came[:, 1] * goes[:, 0]
    dot = (came * goes).sum(axis=1)
    tips = (np.abs(cross) <= 1e-12 * np.abs(dot)) & (dot < 0)
    return [(float(x), float(y)) for x, y in ring[:-1][tips]]


def _meetings(ring: Ring) -> tuple[Ring, NDArray[np.int64]]:
    """Return the ends of a ring's pieces, cut where it meets itself, and how many pieces end there."""
    pieces = shapely.get_parts(shapely.union_all([shapely.linestrings(ring)]))
    ends = np.vstack([shapely.get_coordinates(shapely.get_point(pieces, index)) for index in (0, -1)])
    return np.unique(ends, axis=0, return_counts=True)


def _home_of_hole(
    hole: BaseGeometry,
    part: int,
    shells: list[BaseGeometry],
    name: str,
    changes: list[str],
    words: PlaceWords,
) -> int | None:
    """Return the part a hole is cut out of; None when it lies in none."""
    if hole.is_empty:
        return None
    inside = [float((shell & hole).area) for shell in shells]
    home = part if inside[part] > SPECK_M2 else int(np.argmax(inside))
    if inside[home] <= SPECK_M2:
        changes.append(f"{name}{_at(hole, words)} lies outside; it was dropped.")
        return None
    if home != part:
        changes.append(f"{name}{_at(hole, words)} lies in part {home + 1}; it was cut out there.")
    return home


def _cut(
    ground: BaseGeometry,
    hole: BaseGeometry,
    shell: BaseGeometry,
    name: str,
    changes: list[str],
    words: PlaceWords,
) -> BaseGeometry:
    """Return the ground less a hole; say where the hole reaches out of it or meets another hole."""
    beyond = polygons_only(hole - shell)
    again = polygons_only((hole & shell) - ground)
    left = polygons_only(ground - hole)
    if beyond.area > SPECK_M2:
        changes.append(f"{name} reaches outside{_at(beyond, words)}; only ground inside was cut out.")
    if again.area > SPECK_M2:
        changes.append(f"{name} overlaps another hole{_at(again, words)}; shared ground is cut out once.")
    if left.area <= SPECK_M2 < ground.area:
        changes.append(f"{name} leaves no ground of its part{_at(ground, words)}; that part was dropped.")
    return left


def _at(shape: BaseGeometry, words: PlaceWords) -> str:
    x, y = shapely.get_coordinates(polygons_only(shape).representative_point())[0]
    return f" near {words(x, y)}"


def _joined(grounds: list[BaseGeometry], changes: list[str], words: PlaceWords) -> BaseGeometry:
    """Return the parts as one shape, ground shared by two counted once."""
    tree = shapely.STRtree(grounds)
    pairs = tree.query(np.array(grounds, dtype=object), predicate="intersects")
    for one, other in pairs[:, pairs[0] < pairs[1]].T:
        shared = grounds[one] & grounds[other]
        if shared.area > SPECK_M2:
            changes.append(
                f"Parts {one + 1} and {other + 1} overlap{_at(shared, words)} by {shared.area:.7g} m2; "
                "shared ground counts once."
            )
        elif shared.length > 0:
            x, y = shapely.get_coordinates(shared)[0]
            changes.append(
                f"Parts {one + 1} and {other + 1} share an edge near {words(x, y)}; they were joined."
            )
    return polygons_only(shapely.union_all(grounds))

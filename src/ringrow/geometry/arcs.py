r"""Circles, sectors and end-gun rings as polygons whose area is that of the true arc.

A polygon inscribed in a circle is too small: the usual 64 vertices lose 0.2 acre on a
quarter-section pivot. Here vertices stand a little outside the arc, at

.. math:: r' = r \sqrt{\theta / \sum \sin d_i}

where theta is the whole sweep and d_i are the angles between neighbouring vertices. The
polygon of centre and vertices then has exactly the area of the sector, whatever the
spacing of the vertices, and lies within the chord error of the true arc.

Bearings are clockwise from the frame's y axis.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, NoReturn

import numpy as np
import shapely
from shapely import Polygon

from ringrow.errors import GeometryError
from ringrow.geometry.angles import join_arcs

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import ArrayLike, NDArray
    from shapely.geometry.base import BaseGeometry

CHORD_ERROR_M = 0.01
"""Largest distance between a chord and its arc [m]."""

LARGEST_STEP_DEG = 2.0
"""Largest angle between vertices [deg]: keeps small circles right to 1e-6 of their area when they are cut."""

_SAME_BEARING_DEG = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class BaseAndRing:
    """What a pivot wets, in two parts that share their common vertices.

    Parameters
    ----------
    base : shapely Polygon
        Sector or circle of the base radius. [m]
    ring : shapely Polygon or MultiPolygon
        What lies between base and gun radius on the gun arcs; empty without any. [m]
    """

    base: Polygon
    ring: BaseGeometry

    @property
    def wetted(self) -> BaseGeometry:
        """Base and ring in one [m]."""
        return self.base if self.ring.is_empty else shapely.union(self.base, self.ring)


def vertex_step_deg(radius_m: ArrayLike) -> NDArray[np.float64]:
    """Return the largest angle between vertices that keeps the chord error.

    Parameters
    ----------
    radius_m : array_like
        Radius of the arc. [m]

    Returns
    -------
    ndarray
        Angle between neighbouring vertices, at most `LARGEST_STEP_DEG`. [deg]

    Examples
    --------
    >>> round(float(vertex_step_deg(402.336)), 3)
    0.808
    """
    # Sagitta r' (1 - cos(d/2)) < e for d^2 = 8 e / (r + e), the vertices at r' included.
    step = np.degrees(np.sqrt(8 * CHORD_ERROR_M / (np.asarray(radius_m, float) + CHORD_ERROR_M)))
    return np.minimum(step, LARGEST_STEP_DEG)


def arc_bearings(
    radius_m: float, start_deg: float, sweep_deg: float, *, breaks_deg: Iterable[float] = ()
) -> NDArray[np.float64]:
    """Return the bearings of the vertices of an arc, clockwise, both ends included.

    Parameters
    ----------
    radius_m : float
        Radius of the arc. [m]
    start_deg, sweep_deg : float
        Where the arc starts and how far it turns clockwise, above 0 to 360. [deg]
    breaks_deg : iterable of float, default ()
        Bearings that must be vertices; those off the arc are passed over. [deg]

    Returns
    -------
    ndarray, shape (n,)
        Bearings from `start_deg` to `start_deg + sweep_deg`, rising, not taken modulo 360. [deg]

    Examples
    --------
    >>> arc_bearings(10.0, 358.0, 4.0, breaks_deg=[1.0])
    array([358. , 359.5, 361. , 362. ])
    """
    knots = np.sort([(bearing - start_deg) % 360.0 for bearing in breaks_deg])
    inside = knots[(knots > _SAME_BEARING_DEG) & (knots < sweep_deg - _SAME_BEARING_DEG)]
    apart = np.diff(inside, prepend=-1.0) > _SAME_BEARING_DEG
    knots = np.concatenate([[0.0], inside[apart], [sweep_deg]])
    widths = np.diff(knots)
    parts = np.ceil(widths / vertex_step_deg(radius_m) - 1e-9).astype(int).clip(min=1)
    piece, number = _numbered(parts)
    turned = knots[piece] + widths[piece] * (number / parts[piece])
    return start_deg + np.append(turned, sweep_deg)


def _numbered(counts: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return, for runs of the given lengths laid end to end, each item's run and its number in it."""
    run = np.repeat(np.arange(len(counts)), counts)
    return run, np.arange(len(run)) - np.repeat(np.cumsum(counts) - counts, counts)


def _vertices(
    x_m: float, y_m: float, radius_m: float, bearings_deg: NDArray[np.float64]
) -> NDArray[np.float64]:
    angles = np.radians(bearings_deg)
    return np.column_stack([x_m + radius_m * np.sin(angles), y_m + radius_m * np.cos(angles)])


def _twice_fan(bearings_deg: NDArray[np.float64]) -> float:
    """Return twice the area of the fan of triangles over vertices at radius 1."""
    return float(np.sin(np.radians(np.diff(bearings_deg))).sum())


def area_preserving_radius(radius_m: float, bearings_deg: ArrayLike) -> float:
    """Return the distance of vertices from the centre at which their polygon has the arc's area.

    Parameters
    ----------
    radius_m : float
        Radius of the arc. [m]
    bearings_deg : array_like, shape (n,)
        Bearings of the vertices, rising by less than 180 at a time, evenly or not. [deg]

    Returns
    -------
    float
        Distance of every vertex, a little more than `radius_m`. [m]

    Examples
    --------
    >>> round(area_preserving_radius(1320, np.linspace(0, 360, 65)), 4)
    1321.0610
    """
    bearings = np.asarray(bearings_deg, float)
    sweep = np.radians(bearings[-1] - bearings[0])
    return float(radius_m * np.sqrt(sweep / _twice_fan(bearings)))


def _refuse(thing: str, found: object, allowed: str) -> NoReturn:
    message = f"{thing}: found {found}; allowed: {allowed}"
    raise GeometryError(message)


def circle_polygon(x_m: float, y_m: float, radius_m: float) -> Polygon:
    """Return a circle as a polygon of exactly the circle's area.

    Parameters
    ----------
    x_m, y_m : float
        Centre. [m]
    radius_m : float
        Radius, above 0. [m]

    Returns
    -------
    shapely Polygon
        Polygon within `CHORD_ERROR_M` of the circle. [m]

    Raises
    ------
    GeometryError
        If the radius is not above 0.

    Examples
    --------
    >>> circle_polygon(0, 0, 1).area
    3.141593
    """
    return _base_polygon(x_m, y_m, radius_m, _base_bearings(radius_m, None, ()))


def sector_polygon(
    x_m: float,
    y_m: float,
    radius_m: float,
    start_deg: float,
    stop_deg: float,
    *,
    breaks_deg: Iterable[float] = (),
) -> Polygon:
    """Return a sector as a polygon of exactly the sector's area.

    Parameters
    ----------
    x_m, y_m : float
        Centre. [m]
    radius_m : float
        Radius, above 0. [m]
    start_deg, stop_deg : float
        Bearings of the two straight sides, clockwise from start to stop. [deg]
    breaks_deg : iterable of float, default ()
        Bearings at which the arc gets a vertex of its own. [deg]

    Returns
    -------
    shapely Polygon
        Polygon with the centre as a vertex, within `CHORD_ERROR_M` of the sector. [m]

    Raises
    ------
    GeometryError
        If the radius is not above 0 or start and stop are the same.

    Examples
    --------
    >>> round(sector_polygon(0, 0, 10, 350, 80).area, 4)  # a quarter of pi r^2
    78.5398
    """
    bearings = _base_bearings(radius_m, (start_deg, stop_deg), breaks_deg)
    return _base_polygon(x_m, y_m, radius_m, bearings, centre=True)


def _base_bearings(
    radius_m: float, limits_deg: tuple[float, float] | None, breaks_deg: Iterable[float]
) -> NDArray[np.float64]:
    """Return the vertices' bearings of a sector, or of a circle that starts at its first break."""
    if not radius_m > 0:
        _refuse("radius", radius_m, "above 0 m")
    breaks = list(breaks_deg)
    if limits_deg is None:
        return arc_bearings(radius_m, breaks[0] if breaks else 0.0, 360.0, breaks_deg=breaks)
    sweep = (limits_deg[1] - limits_deg[0]) % 360.0
    if not sweep > 0:
        _refuse("sector", f"start and stop both {limits_deg[0]:g} degrees", "two different bearings")
    return arc_bearings(radius_m, limits_deg[0], sweep, breaks_deg=breaks)


def _base_polygon(
    x_m: float, y_m: float, radius_m: float, bearings_deg: NDArray[np.float64], *, centre: bool = False
) -> Polygon:
    vertices = _vertices(x_m, y_m, area_preserving_radius(radius_m, bearings_deg), bearings_deg)
    if centre:
        return Polygon(np.vstack([vertices, [x_m, y_m]]))
    # The last vertex is the first again; the same numbers close the ring without a crumb.
    return Polygon(vertices[:-1])


def base_and_ring(
    x_m: float,
    y_m: float,
    base_m: float,
    gun_m: float | None = None,
    *,
    limits_deg: tuple[float, float] | None = None,
    arcs_deg: Iterable[tuple[float, float]] | Literal["full"] = (),
    breaks_deg: Iterable[float] = (),
) -> BaseAndRing:
    """Return what a pivot wets: the base sector and the gun's ring on its arcs.

    The ring's inner side runs through the base's own vertices and its straight sides end in
    them, so the two fit without a gap or a sliver and their areas add up.

    Parameters
    ----------
    x_m, y_m : float
        Pivot point. [m]
    base_m : float
        Base radius, above 0. [m]
    gun_m : float or None, default None
        Gun radius; None, or no more than `base_m`, for no ring. [m]
    limits_deg : tuple of float or None, default None
        Bearings of the sector's start and stop, clockwise; None for a full circle. [deg]
    arcs_deg : iterable of tuple of float or "full", default ()
        Bearings (start, stop) between which the gun runs, clockwise; cut to the limits, those that
        meet made one. ``"full"`` for all of the turn. [deg]
    breaks_deg : iterable of float, default ()
        More bearings at which the base gets a vertex. [deg]

    Returns
    -------
    BaseAndRing
        Base and ring, each with exactly the area of the true arcs.

    Raises
    ------
    GeometryError
        If the base radius is not above 0, or start and stop are the same.

    Examples
    --------
    >>> shapes = base_and_ring(0, 0, 100, 120, arcs_deg=[(350, 80)])
    >>> round(shapes.ring.area / np.pi, 6), round(shapes.wetted.area / np.pi, 6)
    (1100.0, 11100.0)
    """
    if gun_m is None or gun_m <= base_m:
        arcs_deg = ()
    elif limits_deg is not None and arcs_deg == "full":
        arcs_deg = [limits_deg]
    arcs = arcs_deg if arcs_deg == "full" else join_arcs(arcs_deg, limits_deg=limits_deg)
    # A circle starts at a gun arc, which keeps every arc on one side of the seam.
    breaks = [] if arcs == "full" else [bearing for arc in arcs for bearing in arc]
    bearings = _base_bearings(base_m, limits_deg, [*breaks, *breaks_deg])
    base = _base_polygon(x_m, y_m, base_m, bearings, centre=limits_deg is not None)
    if gun_m is None or not arcs:
        return BaseAndRing(base=base, ring=Polygon())
    if arcs == "full":
        outer = circle_polygon(x_m, y_m, gun_m)
        return BaseAndRing(base=base, ring=Polygon(outer.exterior.coords, [base.exterior.coords]))
    inner = shapely.get_coordinates(base)[: len(bearings)]
    rings = [_ring_polygon(x_m, y_m, (base_m, gun_m), inner, bearings, arc) for arc in arcs]
    found = [ring for ring in rings if not ring.is_empty]
    return BaseAndRing(base=base, ring=found[0] if len(found) == 1 else shapely.multipolygons(found))


def _ring_polygon(
    x_m: float,
    y_m: float,
    radii_m: tuple[float, float],
    inner: NDArray[np.float64],
    bearings_deg: NDArray[np.float64],
    arc_deg: tuple[float, float],
) -> Polygon:
    """Return the ring over one arc, its inner side taken from the base's vertices."""
    first, last = _arc_ends(bearings_deg, arc_deg)
    if first == last:
        return Polygon()
    below = bearings_deg[first : last + 1]
    above = arc_bearings(radii_m[1], float(below[0]), float(below[-1] - below[0]))
    above[-1] = below[-1]
    # The base holds its area over the whole turn, not over each arc; the outer radius takes up
    # that crumb, so that the ring's area is right by itself.
    base_radius = area_preserving_radius(radii_m[0], bearings_deg)
    exact = (radii_m[1] ** 2 - radii_m[0] ** 2) * np.radians(below[-1] - below[0])
    outer_radius = np.sqrt((exact + base_radius**2 * _twice_fan(below)) / _twice_fan(above))
    outer = _vertices(x_m, y_m, float(outer_radius), above)
    return Polygon(np.vstack([outer, inner[first : last + 1][::-1]]))


def _arc_ends(bearings_deg: NDArray[np.float64], arc_deg: tuple[float, float]) -> tuple[int, int]:
    """Return which of the base's vertices an arc starts and stops at."""
    turned = bearings_deg - bearings_deg[0]
    start = (arc_deg[0] - bearings_deg[0]) % 360.0
    if start > 360.0 - 2 * _SAME_BEARING_DEG:
        start -= 360.0
    stop = start + (arc_deg[1] - arc_deg[0]) % 360.0
    first, last = np.abs(turned[:, None] - [start, stop]).argmin(axis=0)
    return int(first), int(last)


def sector_polygons(
    x_m: ArrayLike, y_m: ArrayLike, radius_m: ArrayLike, start_deg: ArrayLike, sweep_deg: ArrayLike
) -> NDArray[np.object_]:
    """Return many sectors or circles at once as polygons of exactly their areas.

    Parameters
    ----------
    x_m, y_m : array_like, shape (n,)
        Centres. [m]
    radius_m : array_like, shape (n,)
        Radii, above 0. [m]
    start_deg, sweep_deg : array_like, shape (n,)
        Bearing at which each starts and how far it turns clockwise, above 0 to 360. [deg]

    Returns
    -------
    ndarray of shapely Polygon, shape (n,)
        One polygon a sector, in the same order; empty in, empty out.

    Raises
    ------
    GeometryError
        If a radius is not above 0 or a sweep not above 0 to 360.

    Examples
    --------
    >>> shapely.area(sector_polygons([0, 500], [0, 0], [100, 200], [0, 90], [360, 90])) / np.pi
    array([10000., 10000.])
    """
    shape = np.broadcast(x_m, y_m, radius_m, start_deg, sweep_deg).shape
    wide = [np.broadcast_to(np.asarray(v, float), shape) for v in (x_m, y_m, radius_m, start_deg, sweep_deg)]
    return outline_polygons(wide[0], wide[1], np.arange(len(wide[0])), *wide[2:])


def outline_polygons(
    x_m: ArrayLike,
    y_m: ArrayLike,
    pivot: ArrayLike,
    radius_m: ArrayLike,
    start_deg: ArrayLike,
    sweep_deg: ArrayLike,
) -> NDArray[np.object_]:
    """Return the wetted outlines of many pivots at once, each a run of arcs of different radii.

    A pivot with an end gun is an arc at the base radius, one at the gun radius, one at the base
    radius again, and so on. All coordinates are built as one array, without a loop over pivots.

    Parameters
    ----------
    x_m, y_m : array_like, shape (n,)
        Pivot points. [m]
    pivot : array_like of int, shape (m,)
        Pivot that each arc belongs to, 0 to n - 1, rising; every pivot has at least one arc.
    radius_m : array_like, shape (m,)
        Radius of each arc, above 0. [m]
    start_deg, sweep_deg : array_like, shape (m,)
        Bearing at which each arc starts, which is where the one before ends, and how far it turns
        clockwise, above 0; arcs of one pivot together at most 360. [deg]

    Returns
    -------
    ndarray of shapely Polygon, shape (n,)
        One polygon a pivot, with exactly the area of the true arcs.

    Raises
    ------
    GeometryError
        If a radius is not above 0, a sweep not above 0 to 360, or a pivot has no arc.

    Examples
    --------
    >>> outline = outline_polygons([0], [0], [0, 0], [100, 120], [0, 270], [270, 90])
    >>> shapely.area(outline) / np.pi
    array([11100.])
    """
    x, y = np.asarray(x_m, float), np.asarray(y_m, float)
    owner = np.asarray(pivot, int)
    radius, start, sweep = (np.asarray(v, float) for v in (radius_m, start_deg, sweep_deg))
    arcs = np.bincount(owner, minlength=len(x))
    turned = np.asarray(np.bincount(owner, weights=sweep, minlength=len(x)), float)
    _check_outlines(radius, sweep, arcs=arcs, turned=turned)
    full = turned >= 360.0 - _SAME_BEARING_DEG
    parts = np.ceil(sweep / vertex_step_deg(radius) - 1e-9).astype(int).clip(min=1)
    step = np.radians(sweep / parts)
    reach = radius * np.sqrt(step / np.sin(step))
    # A circle in one arc ends in its first vertex, which closing the ring gives anyway.
    vertices = parts + 1 - (full & (arcs == 1))[owner]
    # A part circle ends in its pivot point: one more vertex, at no distance.
    last = np.cumsum(arcs)[~full]
    owner = np.insert(owner, last, np.flatnonzero(~full))
    vertices = np.insert(vertices, last, 1)
    first, step, reach = (np.insert(v, last, 0.0) for v in (np.radians(start), step, reach))
    angle = np.repeat(first, vertices) + np.repeat(step, vertices) * _numbered(vertices)[1]
    out = np.repeat(reach, vertices)
    coordinates = np.empty((len(angle), 2))
    coordinates[:, 0] = np.repeat(x[owner], vertices) + out * np.sin(angle)
    coordinates[:, 1] = np.repeat(y[owner], vertices) + out * np.cos(angle)
    rings = shapely.linearrings(coordinates, indices=np.repeat(owner, vertices))
    return np.asarray(shapely.polygons(rings))


def _check_outlines(
    radius: NDArray[np.float64],
    sweep: NDArray[np.float64],
    *,
    arcs: NDArray[np.signedinteger],
    turned: NDArray[np.float64],
) -> None:
    """Raise on the first arc or pivot that cannot be."""
    bad = np.flatnonzero(~(radius > 0))
    if bad.size:
        _refuse(f"radius of arc {bad[0]}", radius[bad[0]], "above 0 m")
    bad = np.flatnonzero(~(sweep > 0))
    if bad.size:
        _refuse(f"sweep of arc {bad[0]}", sweep[bad[0]], "above 0 degrees")
    bad = np.flatnonzero((arcs == 0) | ~(turned <= 360.0 + _SAME_BEARING_DEG))
    if bad.size:
        found = f"{arcs[bad[0]]} arcs turning {turned[bad[0]]:g} degrees"
        _refuse(f"arcs of pivot {bad[0]}", found, "one or more, together at most 360 degrees")

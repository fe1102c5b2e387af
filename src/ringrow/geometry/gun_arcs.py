"""Where an end gun may run: exact azimuths, from the ground's edges and not from a scan.

The gun's water is the radial segment from base radius to gun radius. It may fall at a bearing
when every point of that segment lies on the ground and at least the setback away from its
edge. Walking round, that can only change where

- an end of the segment, moving on its circle, comes to the setback's distance from an edge:
  circle against the edge's offset line, or, at a corner that points into the ground, against
  the corner's circle of radius setback;
- the segment itself grazes a corner that points into the ground: the ray tangent to the
  corner's circle, if the tangent point lies between the two radii.

All those bearings are worked out, sorted, and the ground is asked once between each two.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
import shapely

from ringrow.errors import GeometryError

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

TOUCH_M = 1e-6
"""Water may come this much closer than the setback and counts as touching [m]."""

_SAME_BEARING_DEG = 1e-9
_SAME_PLACE_M = 1e-9
# Sine of the turn below which two edges count as one straight line, so that rounding loses no corner.
_STRAIGHT = 1e-9
# Vertices of the ground from which building an index is quicker than doing without.
_PREPARE_FROM = 200

Arcs = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Edges:
    """The ground's edges as the pivot sees them; the ground lies on the left of each.

    All positions are complex numbers, east + i north, from the pivot point.
    """

    along: NDArray[np.complex128]
    """Direction of each edge, length 1, or 0 for an edge of no length."""
    begin: NDArray[np.float64]
    """Distance along the edge's line from the foot of the pivot point to the edge's start [m]."""
    length: NDArray[np.float64]
    """Length [m]."""
    height: NDArray[np.float64]
    """Distance of the edge's line to the left of the pivot point [m]."""
    corners: NDArray[np.complex128]
    """Corners that point into the ground, near the ring [m]."""


def clear_arcs(
    ground: BaseGeometry,
    x_m: float,
    y_m: float,
    inner_m: float,
    outer_m: float,
    *,
    setback_m: float = 0.0,
    limits_deg: tuple[float, float] | None = None,
    min_arc_deg: float = 5.0,
) -> Arcs | Literal["full"]:
    """Return the arcs on which a radial segment stays on the ground, its setback kept.

    Parameters
    ----------
    ground : shapely Polygon or MultiPolygon
        Ground that may be wetted, holes and parts as they are. [m]
    x_m, y_m : float
        Pivot point, in the ground or not. [m]
    inner_m, outer_m : float
        Distances from the pivot point between which the gun's water falls. [m]
    setback_m : float, default 0
        Least distance to everything that is not `ground`; corners keep it all round. [m]
    limits_deg : tuple of float or None, default None
        Bearings of a sector's start and stop, clockwise, that the arcs are kept to. [deg]
    min_arc_deg : float, default 5
        Arcs shorter than this are left out; a gap between arcs never is. [deg]

    Returns
    -------
    tuple of tuple of float, or "full"
        Bearings (start, stop), clockwise, in turning order; an arc across north is one arc.
        ``"full"`` when nothing stops the gun on a whole circle; empty when it can run nowhere.
        Ends are exact; touching is allowed, to `TOUCH_M`.

    Raises
    ------
    GeometryError
        If the radii or the setback cannot be.

    Examples
    --------
    A square fence 1,320 ft away stops a gun that reaches 1,416 ft within acos(1320/1416) of square:

    >>> fence = shapely.box(-1320, -1320, 1320, 1320)
    >>> [round(end, 2) for end in clear_arcs(fence, 0, 0, 1320, 1416)[0]]
    [21.22, 68.78]
    """
    _check(inner_m, outer_m, setback_m)
    if ground.is_empty:
        return ()
    setback = setback_m if setback_m > TOUCH_M else 0.0
    shape = shapely.orient_polygons(ground)
    edges = _edges(shape, complex(x_m, y_m), inner_m - setback - TOUCH_M, outer_m + setback + TOUCH_M)
    radii = np.array([[inner_m], [outer_m]])
    events = np.concatenate([_circle_events(edges, radii, setback), _corner_events(edges, radii, setback)])
    stops = _stops(np.degrees(np.angle(1j * events.conj())), limits_deg)
    clear = _is_clear(shape, complex(x_m, y_m), radii, (stops[:-1] + stops[1:]) / 2, setback)
    return _join(stops, clear, limits_deg, min_arc_deg)


def arcs_clear_of(
    shapes: BaseGeometry,
    x_m: float,
    y_m: float,
    radius_m: float,
    distance_m: float,
    *,
    limits_deg: tuple[float, float] | None = None,
) -> Arcs | Literal["full"]:
    """Return the arcs on which a point that turns about a centre stays away from shapes.

    Such as the end of a pivot's pipe, whose gun must not reach a road, a house or a wire.

    Parameters
    ----------
    shapes : shapely geometry
        What to stay away from: points, lines and polygons, alone or together; nothing when empty. [m]
    x_m, y_m : float
        Centre. [m]
    radius_m : float
        Distance of the point from the centre, above 0. [m]
    distance_m : float
        Least distance from the point to the shapes, 0 or more. [m]
    limits_deg : tuple of float or None, default None
        Bearings of a sector's start and stop, clockwise, that the arcs are kept to. [deg]

    Returns
    -------
    tuple of tuple of float, or "full"
        Bearings (start, stop), clockwise, in turning order; ``"full"`` when nothing is in the way
        on a whole circle. Ends are exact; touching is allowed, to `TOUCH_M`.

    Raises
    ------
    GeometryError
        If the radius or the distance cannot be.

    Examples
    --------
    A wire 130 m north of the pivot point, a pipe of 100 m, a gun that throws 50 m:

    >>> wire = shapely.LineString([(-500, 130), (500, 130)])
    >>> [round(end, 2) for end in arcs_clear_of(wire, 0, 0, 100, 50)[0]]  # acos(80 / 100)
    [36.87, 323.13]
    """
    if not (radius_m > 0 and distance_m >= 0):
        message = (
            f"pipe end: found {radius_m} m from the pivot point, {distance_m} m to keep away; "
            "allowed: above 0 m, 0 m or more"
        )
        raise GeometryError(message)
    bearings = _reach_events(shapes, complex(x_m, y_m), radius_m, distance_m)
    stops = _stops(bearings, limits_deg)
    middle = np.radians((stops[:-1] + stops[1:]) / 2)
    ends = shapely.points(x_m + radius_m * np.sin(middle), y_m + radius_m * np.cos(middle))
    # The distance to nothing is NaN and counts as clear; inside a shape it is 0, however little is asked.
    clear = ~(shapely.distance(shapes, ends) < max(distance_m - TOUCH_M, _SAME_PLACE_M))
    return _join(stops, clear, limits_deg, 0.0)


def _reach_events(
    shapes: BaseGeometry, pivot: complex, radius: float, distance: float
) -> NDArray[np.float64]:
    """Return bearings at which a point on a circle comes to a distance from the shapes' lines and corners."""
    lines = [ring for part in _single_parts(shapes) for ring in _strokes(part)]
    found = [np.empty(0)]
    for line in lines:
        points = shapely.get_coordinates(line).view(np.complex128)[:, 0] - pivot
        found.append(_corner_reach(points, radius, distance))
        run = points[1:] - points[:-1]
        run, start = run[np.abs(run) > 0], points[:-1][np.abs(run) > 0]
        along = run / np.abs(run)
        from_foot = start * along.conj()
        for height in (from_foot.imag + distance, from_foot.imag - distance):
            half = np.sqrt(np.maximum(radius**2 - height**2, 0.0))
            for at in (half, -half):
                past = at - from_foot.real
                near = (np.abs(height) <= radius) & (past >= -TOUCH_M) & (past <= np.abs(run) + TOUCH_M)
                found.append(np.degrees(np.angle(1j * ((at + 1j * height) * along)[near].conj())))
    return np.concatenate(found)


def _single_parts(shapes: BaseGeometry) -> list[BaseGeometry]:
    parts = shapely.get_parts(shapes)
    return [single for part in parts for single in shapely.get_parts(part) if not single.is_empty]


def _strokes(part: BaseGeometry) -> list[BaseGeometry]:
    return list(shapely.get_rings(part)) if part.geom_type == "Polygon" else [part]


def _corner_reach(points: NDArray[np.complex128], radius: float, distance: float) -> NDArray[np.float64]:
    far = np.abs(points)
    with np.errstate(divide="ignore", invalid="ignore"):
        lean = np.degrees(np.arccos((radius**2 + far**2 - distance**2) / (2 * radius * far)))
    bearing = np.degrees(np.angle(1j * points.conj()))
    both = np.concatenate([bearing - lean, bearing + lean])
    return np.asarray(both[np.isfinite(both)])


def _check(inner_m: float, outer_m: float, setback_m: float) -> None:
    if not 0 <= inner_m < outer_m:
        message = f"gun ring: found radii {inner_m} and {outer_m} m; allowed: 0 or more, the outer one larger"
        raise GeometryError(message)
    if not setback_m >= 0:
        message = f"setback: found {setback_m} m; allowed: 0 m or more"
        raise GeometryError(message)


def _edges(shape: BaseGeometry, pivot: complex, inner_m: float, outer_m: float) -> _Edges:
    """Return the ground's edges, and its inward corners between two distances of the pivot point."""
    xy, ring = shapely.get_coordinates(shapely.get_rings(shapely.get_parts(shape)), return_index=True)
    points = xy.view(np.complex128)[:, 0] - pivot
    start, run = points[:-1], points[1:] - points[:-1]
    # Between the last point of a ring and the first of the next lies no edge: give it no length.
    joints = np.flatnonzero(ring[1:] != ring[:-1])
    run[joints] = 0.0
    length = np.abs(run)
    along = run / np.where(length > 0.0, length, 1.0)
    from_foot = start * along.conj()
    # The edge before each: the one above it, and for a ring's first edge the ring's last.
    before = np.concatenate([along[-1:], along[:-1]])
    if joints.size:
        before[np.append(0, joints + 1)] = along[np.append(joints, len(along)) - 1]
    # Ground lies left, so a left turn is a corner that points outward and never comes nearest.
    inward = (before.conj() * along).imag <= _STRAIGHT
    far = np.abs(start)
    return _Edges(
        along=along,
        begin=from_foot.real,
        length=length,
        height=from_foot.imag,
        corners=start[inward & (far >= inner_m) & (far <= outer_m)],
    )


def _circle_events(edges: _Edges, radii: NDArray[np.float64], setback: float) -> NDArray[np.complex128]:
    """Return where circles of the radii cross the edges moved inward by the setback [m]."""
    height = edges.height + setback
    under = radii**2 - height**2
    # A circle that just touches the line counts as touching it where rounding says it misses.
    half = np.sqrt(np.maximum(under, 0.0))
    at = np.stack([half, -half])
    past = at - edges.begin
    found = (under >= -2 * TOUCH_M * radii) & (past >= -TOUCH_M) & (past <= edges.length + TOUCH_M)
    return ((at + 1j * height) * edges.along)[found]


def _corner_events(edges: _Edges, radii: NDArray[np.float64], setback: float) -> NDArray[np.complex128]:
    """Return where the segment, by an end or by its side, touches a corner's setback circle [m]."""
    corners = edges.corners
    if setback == 0.0 or not corners.size:
        return corners
    far = np.abs(corners)
    with np.errstate(divide="ignore", invalid="ignore"):
        # Along the ray at angle w from the corner: w as the ray touches the corner's circle ...
        tangent = np.sqrt(far**2 - setback**2)
        grazes = (tangent >= radii[0] - TOUCH_M) & (tangent <= radii[1] + TOUCH_M)
        side = np.where(grazes, setback / far, np.nan)
        # ... and as an end of the segment comes onto it.
        cosine = (radii**2 + far**2 - setback**2) / (2 * radii * far)
        turns = np.vstack([np.arcsin(side), np.arccos(cosine)])
    turn = np.exp(1j * np.concatenate([turns, -turns]))
    events: NDArray[np.complex128] = (corners * turn)[~np.isnan(turn.real)]
    return events


def _stops(bearings: NDArray[np.float64], limits_deg: tuple[float, float] | None) -> NDArray[np.float64]:
    """Return the bearings between which nothing changes, rising over the sector or the turn."""
    if limits_deg is None:
        first, span = (float(bearings[0]) if bearings.size else 0.0), 360.0
    else:
        first, span = limits_deg[0], (limits_deg[1] - limits_deg[0]) % 360.0
    turned = np.sort((bearings - first) % 360.0)
    inside = (turned > _SAME_BEARING_DEG) & (turned < span - _SAME_BEARING_DEG)
    inside[1:] &= np.diff(turned) > _SAME_BEARING_DEG
    return first + np.concatenate([[0.0], turned[inside], [span]])


def _is_clear(
    shape: BaseGeometry,
    pivot: complex,
    radii: NDArray[np.float64],
    bearings_deg: NDArray[np.float64],
    setback: float,
) -> NDArray[np.bool_]:
    """Return at which bearings the radial segment lies on the ground, its setback kept."""
    # Shorter by the tolerance at both ends: an end that rests on the edge is on the ground.
    reach = radii + np.array([[TOUCH_M], [-TOUCH_M]])
    ends = (pivot + 1j * reach * np.exp(-1j * np.radians(bearings_deg))).T
    many = shapely.get_num_coordinates(shape) > _PREPARE_FROM
    if many:
        shapely.prepare(shape)
    clear = np.asarray(shapely.contains_xy(shape, ends[:, 0].real, ends[:, 0].imag))
    # A segment with one end on the ground leaves it only through the ground's edge.
    inside = np.flatnonzero(clear)
    segments = shapely.linestrings(ends[inside].view(np.float64).reshape(-1, 2, 2))
    edge = shapely.boundary(shape)
    if many or setback == 0.0:
        shapely.prepare(edge)
    if setback == 0.0:
        clear[inside] = ~shapely.intersects(edge, segments)
    else:
        clear[inside] = ~shapely.dwithin(edge, segments, setback - TOUCH_M)
    return clear


def _join(
    stops: NDArray[np.float64],
    clear: NDArray[np.bool_],
    limits_deg: tuple[float, float] | None,
    min_arc_deg: float,
) -> Arcs | Literal["full"]:
    """Return runs of clear pieces as arcs, the long enough ones."""
    framed = np.concatenate([[False], clear, [False]])
    edges = np.flatnonzero(framed[1:] != framed[:-1])
    runs = stops[edges].reshape(-1, 2).tolist()
    if limits_deg is None:
        if len(runs) == 1 and clear.all():
            return "full"
        if len(runs) > 1 and clear[0] and clear[-1]:
            # One arc runs through the seam, where the turn was cut open.
            runs = [*runs[1:-1], [runs[-1][0], runs[0][1] + 360.0]]
    long_enough = [run for run in runs if run[1] - run[0] >= min_arc_deg - _SAME_BEARING_DEG]
    arcs = tuple((start % 360.0 % 360.0, stop % 360.0 % 360.0) for start, stop in long_enough)
    if limits_deg is None:
        return tuple(sorted(arcs))
    # The sector's own start and stop come back as they were given.
    given = {limits_deg[0] % 360.0: limits_deg[0], float(stops[-1]) % 360.0: limits_deg[1]}
    return tuple((given.get(start, start), given.get(stop, stop)) for start, stop in arcs)

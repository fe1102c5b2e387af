"""Acres of any number of pivots at once: circles and sectors against the fields that hold their points.

Nothing here walks pivot by pivot but what few need: the arcs of automatic end guns, and the ground
that two machines of one field both wet.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
import shapely

from ringrow.errors import GeometryError
from ringrow.frame import REACH_M, own_frames_convergence_deg, own_frames_xy
from ringrow.geometry.arcs import base_and_ring
from ringrow.geometry.cut_areas import cut_areas_m2, edge_areas_m2, polygon_edges
from ringrow.geometry.gun_arcs import clear_arcs

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray
    from shapely.geometry.base import BaseGeometry

    from ringrow.geometry.cut_areas import Edges

NO_FIELD = -1
"""Field of a pivot whose point no polygon holds [-]."""
SHARED_M2 = 1.0
"""Ground that two machines wet together, from which it is said [m2]: less is where circles touch."""
BLOCK_FIELDS = 4_000
"""Fields worked at a time [-]: their arrays stay in the processor's cache, and memory does not grow."""
GUN_ARC_DEG = 5.0
"""Shortest arc on which an automatic gun is switched on [deg], as for a farm's own pivots."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BulkPivots:
    """Many pivots, one number each; all arrays are of the same length.

    Parameters
    ----------
    lon, lat : ndarray, shape (n,)
        Pivot points, WGS 84. [deg]
    base_m : ndarray, shape (n,)
        Wetted radius without an end gun. [m]
    gun_m : ndarray, shape (n,)
        Wetted radius where the gun runs; no number without a gun. [m]
    gun_auto : ndarray of bool, shape (n,)
        Whether the gun runs wherever its water stays in the field; else all of the turn.
    setback_m : ndarray, shape (n,)
        Least distance of an automatic gun's water to the field's edge. [m]
    start_deg, stop_deg : ndarray, shape (n,)
        True azimuths of a part circle's stops; no number for a full circle. [deg]
    """

    lon: NDArray[np.float64]
    lat: NDArray[np.float64]
    base_m: NDArray[np.float64]
    gun_m: NDArray[np.float64]
    gun_auto: NDArray[np.bool_]
    setback_m: NDArray[np.float64]
    start_deg: NDArray[np.float64]
    stop_deg: NDArray[np.float64]

    def __len__(self) -> int:
        return len(self.lon)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BulkAcres:
    """What became of each pivot and of each field; what cannot be told is no number.

    Parameters
    ----------
    field_index : ndarray of int, shape (n,)
        Field that holds each pivot point, `NO_FIELD` for none. [-]
    holders : ndarray of int, shape (n,)
        How many fields hold it. [-]
    wetted_m2, irrigated_m2 : ndarray, shape (n,)
        Ground wetted, and what of it lies in the pivot's own field. [m2]
    gun_left_out : ndarray of bool, shape (n,)
        Whether an automatic gun was left out, since no field tells where it may run.
    field_m2, field_irrigated_m2 : ndarray, shape (fields,)
        Ground of each field, and what of it any of its own pivots wets, counted once. [m2]
    shared : tuple of tuple of int
        Pairs of pivots of one field that both wet some of its ground.
    """

    field_index: NDArray[np.int64]
    holders: NDArray[np.int64]
    wetted_m2: NDArray[np.float64]
    irrigated_m2: NDArray[np.float64]
    gun_left_out: NDArray[np.bool_]
    field_m2: NDArray[np.float64]
    field_irrigated_m2: NDArray[np.float64]
    shared: tuple[tuple[int, int], ...]


def match_fields(
    fields: ArrayLike, lon: ArrayLike, lat: ArrayLike
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return the field that holds each point; the smallest where several do.

    Parameters
    ----------
    fields : array_like of shapely Polygon or MultiPolygon, shape (m,)
        Fields in longitude and latitude, edges belonging to them. [deg]
    lon, lat : array_like, shape (n,)
        Points, WGS 84. [deg]

    Returns
    -------
    field, holders : ndarray of int, shape (n,)
        Field of each point, `NO_FIELD` for none, and how many fields hold it. [-]

    Examples
    --------
    >>> big, small = shapely.box(0, 0, 4, 4), shapely.box(0, 0, 1, 1)
    >>> match_fields([big, small], [0.5, 2, 9], [0.5, 2, 9])
    (array([ 1,  0, -1]), array([2, 1, 0]))
    """
    shapes = np.asarray(fields, dtype=object)
    points = shapely.points(np.asarray(lon, float), np.asarray(lat, float))
    point, held_by = shapely.STRtree(shapes).query(points, predicate="intersects")
    order = np.lexsort([shapely.area(shapes)[held_by], point])
    point, held_by = point[order], held_by[order]
    field = np.full(len(points), NO_FIELD, np.int64)
    nearest = np.append(True, point[1:] != point[:-1]) if len(point) else np.zeros(0, bool)
    field[point[nearest]] = held_by[nearest]
    return field, np.bincount(point, minlength=len(points)).astype(np.int64)


def bulk_acres(pivots: BulkPivots, fields: ArrayLike = ()) -> BulkAcres:
    """Return what many pivots wet, and what of it lies in their fields.

    Parameters
    ----------
    pivots : BulkPivots
        The machines.
    fields : array_like of shapely Polygon or MultiPolygon, default ()
        Valid fields in longitude and latitude; holes are no ground of a field. [deg]

    Returns
    -------
    BulkAcres
        Areas in each field's own frame, exact to rounding for circles and sectors; only the ground
        that two machines share is taken from fine polygons, right to a millionth of it.

    Raises
    ------
    GeometryError
        If a field that holds a pivot reaches farther than `REACH_M` from its middle.

    Examples
    --------
    >>> import numpy as np
    >>> none = np.array([np.nan])
    >>> one = BulkPivots(
    ...     lon=np.array([-101.5]),
    ...     lat=np.array([36.75]),
    ...     base_m=np.array([400.0]),
    ...     gun_m=none,
    ...     gun_auto=np.array([False]),
    ...     setback_m=np.array([0.0]),
    ...     start_deg=none,
    ...     stop_deg=none,
    ... )
    >>> bulk_acres(one).wetted_m2 / np.pi
    array([160000.])
    """
    field, holders = match_fields(fields, pivots.lon, pivots.lat)
    return acres_in_fields(pivots, fields, field, holders)


def acres_in_fields(
    pivots: BulkPivots, fields: ArrayLike, field_index: NDArray[np.int64], holders: NDArray[np.int64]
) -> BulkAcres:
    """Return what many pivots wet, and what of it lies in fields that are known already.

    Parameters
    ----------
    pivots : BulkPivots
        The machines.
    fields : array_like of shapely Polygon or MultiPolygon
        Valid fields in longitude and latitude. [deg]
    field_index, holders : ndarray of int, shape (n,)
        Field of each pivot, `NO_FIELD` for none; how many fields hold its point, handed on. [-]

    Returns
    -------
    BulkAcres
        As from `bulk_acres`.

    Raises
    ------
    GeometryError
        If a field that holds a pivot reaches farther than `REACH_M` from its middle.
    """
    shapes = np.asarray(fields, dtype=object)
    start, sweep = _turns(pivots)
    always = np.where(pivots.gun_auto, np.nan, pivots.gun_m)
    radius = np.fmax(pivots.base_m, always)
    wetted = radius**2 * np.radians(sweep) / 2
    irrigated = np.full(len(pivots), np.nan)
    work, irrigated[field_index >= 0], own = _cut(pivots, shapes, field_index, radius, start, sweep)
    rings, arcs = _auto_guns(work)
    wetted[work.inside] += rings
    irrigated[work.inside] += rings
    shared, twice = _shared(work, radius, arcs)
    watered = np.bincount(work.home, irrigated[work.inside], len(own)) - twice
    per_field = np.full((2, len(shapes)), np.nan)
    per_field[:, work.used] = own, np.clip(watered, 0.0, own)
    return BulkAcres(
        field_index=field_index,
        holders=holders,
        wetted_m2=wetted,
        # What rounding leaves of nothing is nothing, and no more is watered in than out of the field.
        irrigated_m2=np.minimum(np.maximum(irrigated, 0.0), wetted),
        gun_left_out=pivots.gun_auto & np.isfinite(pivots.gun_m) & (field_index < 0),
        field_m2=per_field[0],
        field_irrigated_m2=per_field[1],
        shared=shared,
    )


def too_far(fields: ArrayLike) -> NDArray[np.bool_]:
    """Return which fields reach so far from their middle that no one frame is right for them.

    Parameters
    ----------
    fields : array_like of shapely geometry, shape (m,)
        Fields in longitude and latitude. [deg]

    Returns
    -------
    ndarray of bool, shape (m,)
        Whether a corner of the bounding box lies more than `REACH_M` from its middle.

    Examples
    --------
    >>> too_far([shapely.box(-101.5, 36.7, -101.49, 36.71), shapely.box(-101.5, 36.7, -101.0, 37.2)])
    array([False,  True])
    """
    west, south, east, north = shapely.bounds(np.asarray(fields, dtype=object)).reshape(-1, 4).T
    middle = (west + east) / 2, (south + north) / 2
    corners = [own_frames_xy(lon, lat, *middle) for lon in (west, east) for lat in (south, north)]
    return np.max([np.hypot(x, y) for x, y in corners], axis=0) > REACH_M


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Work:
    """Pivots that stand in a field, each in its field's frame."""

    pivots: BulkPivots
    used: NDArray[np.int64]
    """Fields that hold any."""
    shapes: NDArray[np.object_]
    """All fields."""
    origin: NDArray[np.float64]
    inside: NDArray[np.intp]
    """Which of the pivots these are."""
    home: NDArray[np.int64]
    """Field of each among those that hold any."""
    x: NDArray[np.float64]
    y: NDArray[np.float64]
    shift: NDArray[np.float64]
    """Frame bearing less true azimuth [deg]."""


def _cut(
    pivots: BulkPivots,
    shapes: NDArray[np.object_],
    field: NDArray[np.int64],
    radius: NDArray[np.float64],
    start: NDArray[np.float64],
    sweep: NDArray[np.float64],
) -> tuple[_Work, NDArray[np.float64], NDArray[np.float64]]:
    """Return pivots in their fields' frames, what of their ground lies in the fields, and the fields' own.

    Fields go through in blocks whose arrays stay in the processor's cache: twice as quick, and memory
    does not grow with their corners.
    """
    inside = np.flatnonzero(field >= 0)
    used, home = np.unique(field[inside], return_inverse=True)
    own, cut, x, y, shift = (np.zeros(size) for size in (len(used), *[len(inside)] * 4))
    origin = np.empty((len(used), 2))
    order = np.argsort(home, kind="stable")
    firsts = np.append(0, np.cumsum(np.bincount(home, minlength=len(used))))
    for begin in range(0, len(used), BLOCK_FIELDS):
        end = min(begin + BLOCK_FIELDS, len(used))
        at = order[firsts[begin] : firsts[end]]
        pivot, here = inside[at], home[at] - begin
        chosen = shapes[used[begin:end]]
        bounds = shapely.bounds(chosen)
        origin[begin:end] = about = (bounds[:, :2] + bounds[:, 2:]) / 2
        edges = _edges(chosen, about, used[begin:end])
        own[begin:end] = edge_areas_m2(edges)
        lon, lat = pivots.lon[pivot], pivots.lat[pivot]
        x[at], y[at] = own_frames_xy(lon, lat, about[:, 0], about[:, 1], index=here)
        if (sweep[pivot] < 360.0).any():
            shift[at] = own_frames_convergence_deg(lon, lat, about[here, 0], about[here, 1])
        cut[at] = cut_areas_m2(
            edges,
            here,
            x[at],
            y[at],
            radius[pivot],
            start_deg=start[pivot] + shift[at],
            sweep_deg=sweep[pivot],
        )
    work = _Work(
        pivots=pivots,
        used=used,
        shapes=shapes,
        origin=origin,
        inside=inside,
        home=home.astype(np.int64),
        x=x,
        y=y,
        shift=shift,
    )
    return work, cut, own


def _edges(shapes: NDArray[np.object_], origin: NDArray[np.float64], used: NDArray[np.int64]) -> Edges:
    def move(
        lon: NDArray[np.float64], lat: NDArray[np.float64], polygon: NDArray[np.int64]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        return own_frames_xy(lon, lat, origin[:, 0], origin[:, 1], index=polygon)

    edges = polygon_edges(shapes, move=move)
    far = np.flatnonzero(edges.x_m**2 + edges.y_m**2 > REACH_M**2)
    if len(far):
        number = int(used[np.searchsorted(edges.first_edge, far[0], side="right") - 1]) + 1
        reach = float(np.hypot(edges.x_m[far[0]], edges.y_m[far[0]])) / 1000
        message = (
            f"field {number}: found a corner {reach:.1f} km from its middle; allowed: fields within "
            f"{REACH_M / 1000:g} km of their middle; give the fields themselves, not the district"
        )
        raise GeometryError(message)
    return edges


def _turns(pivots: BulkPivots) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return where each pivot's turn starts, as a true azimuth, and how far it goes."""
    full = np.isnan(pivots.start_deg)
    start = np.where(full, 0.0, pivots.start_deg)
    sweep = np.where(full, 360.0, (pivots.stop_deg - pivots.start_deg) % 360.0)
    return start, sweep


Arcs = dict[int, "tuple[tuple[float, float], ...] | Literal['full']"]


def _limits(work: _Work, at: int) -> tuple[float, float] | None:
    """Return the frame bearings of a part circle's stops."""
    start, stop = work.pivots.start_deg[work.inside[at]], work.pivots.stop_deg[work.inside[at]]
    if np.isnan(start):
        return None
    return float(start + work.shift[at]), float(stop + work.shift[at])


def _ground(work: _Work, field: int) -> BaseGeometry:
    """Return a field in its frame."""
    lon, lat = work.origin[field]
    return shapely.transform(
        work.shapes[work.used[field]], lambda xy: np.column_stack(own_frames_xy(xy[:, 0], xy[:, 1], lon, lat))
    )


def _auto_guns(work: _Work) -> tuple[NDArray[np.float64], Arcs]:
    """Return the ground of automatic guns' rings, all of it in the field, and the arcs they run on."""
    pivots, rings, arcs = work.pivots, np.zeros(len(work.inside)), {}
    base, gun = pivots.base_m[work.inside], pivots.gun_m[work.inside]
    for at in np.flatnonzero(pivots.gun_auto[work.inside] & (gun > base)).tolist():
        found = clear_arcs(
            _ground(work, int(work.home[at])),
            float(work.x[at]),
            float(work.y[at]),
            float(base[at]),
            float(gun[at]),
            setback_m=float(pivots.setback_m[work.inside[at]]),
            limits_deg=_limits(work, at),
            min_arc_deg=GUN_ARC_DEG,
        )
        arcs[at] = found
        turned = 360.0 if found == "full" else sum((stop - start) % 360.0 for start, stop in found)
        rings[at] = np.radians(turned) / 2 * (gun[at] ** 2 - base[at] ** 2)
    return rings, arcs


def _shared(
    work: _Work, radius: NDArray[np.float64], arcs: Arcs
) -> tuple[tuple[tuple[int, int], ...], NDArray[np.float64]]:
    """Return pairs that wet the same ground of their field, and what each field counts too often."""
    twice = np.zeros(len(work.used))
    one, two = _near_pairs(work, radius)
    if not len(one):
        return (), twice
    wetted = {int(at): _wetted(work, radius, arcs, int(at)) for at in np.union1d(one, two)}
    pairs: list[tuple[int, int]] = []
    for field in np.unique(work.home[one]).tolist():
        ground = _ground(work, field)
        here = np.flatnonzero(work.home[one] == field)
        members = np.union1d(one[here], two[here]).tolist()
        cut = {at: shapely.intersection(wetted[at], ground) for at in members}
        twice[field] = sum(cut[at].area for at in members) - shapely.union_all(list(cut.values())).area
        left, right = ([cut[int(at)] for at in side[here]] for side in (one, two))
        common = shapely.area(shapely.intersection(left, right)) > SHARED_M2
        pairs += zip(work.inside[one[here][common]], work.inside[two[here][common]], strict=True)
    return tuple((int(a), int(b)) for a, b in pairs), twice


def _near_pairs(work: _Work, radius: NDArray[np.float64]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return pivots of one field whose circles, guns included, could meet: each pair once."""
    pivots = work.pivots
    many = np.flatnonzero(np.bincount(work.home)[work.home] > 1)
    if not len(many):
        return many, many
    reach = np.fmax(radius, pivots.gun_m)[work.inside[many]]
    # Fields lie in frames of their own, so each is set apart by more than any field is wide.
    x = work.x[many] + work.home[many] * (10 * REACH_M)
    y = work.y[many]
    boxes = shapely.box(x - reach, y - reach, x + reach, y + reach)
    one, two = shapely.STRtree(boxes).query(boxes)
    apart = np.hypot(x[one] - x[two], y[one] - y[two])
    kept = (one < two) & (apart < reach[one] + reach[two])
    return many[one[kept]], many[two[kept]]


def _wetted(work: _Work, radius: NDArray[np.float64], arcs: Arcs, at: int) -> BaseGeometry:
    pivot = int(work.inside[at])
    return base_and_ring(
        float(work.x[at]),
        float(work.y[at]),
        float(radius[pivot]),
        float(work.pivots.gun_m[pivot]) if at in arcs else None,
        limits_deg=_limits(work, at),
        arcs_deg=arcs.get(at, ()),
    ).wetted

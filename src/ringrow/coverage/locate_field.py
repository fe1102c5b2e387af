"""Which field holds a point, and how far the nearest one is when none does."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from ringrow.errors import PlaceError
from ringrow.frame import distance_azimuth

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray
    from shapely.geometry.base import BaseGeometry

    from ringrow.coverage.field import FieldLayout

# A parallel of latitude bows by less than this [m] between the nine points taken of a box.
_BOX_SLACK_M = 5.0

# Somebody this close [m] to a field may well have meant what was typed.
_NEAR_FARM_M = 50_000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class NearestField:
    """The field whose boundary is nearest to a place.

    Parameters
    ----------
    name : str
        The field.
    distance_m : float
        Distance to the nearest point of its boundary. [m]
    azimuth_deg : float or None
        True azimuth at the place toward that point; None on the boundary itself. [deg]
    """

    name: str
    distance_m: float
    azimuth_deg: float | None


def covers(geometry: BaseGeometry, x: ArrayLike, y: ArrayLike) -> NDArray[np.bool_]:
    """Return which points lie in a shape or on its edge.

    Parameters
    ----------
    geometry : shapely geometry
        The shape; an empty one covers nothing. [m]
    x, y : array_like, shape (n,)
        The points. [m]

    Returns
    -------
    ndarray of bool, shape (n,)
        True in the shape and on its edge.

    Examples
    --------
    >>> covers(shapely.box(0, 0, 10, 10), [5, 10, 11], [5, 5, 5])
    array([ True,  True, False])
    """
    shapely.prepare(geometry)
    inside: NDArray[np.bool_] = shapely.intersects_xy(geometry, x, y)
    return inside


def near_fields(
    layouts: Sequence[FieldLayout], lon: NDArray[np.float64], lat: NDArray[np.float64]
) -> list[tuple[int, NDArray[np.int64]]]:
    """Return, for each field that any point comes near, the points that do.

    Parameters
    ----------
    layouts : sequence of FieldLayout
        The fields.
    lon, lat : ndarray, shape (n,)
        Points, WGS 84. [deg]

    Returns
    -------
    list of tuple (int, ndarray of int)
        Index of a field, rising, and the indices of all points in the box round its boundary
        and all it wets.
    """
    boxes = shapely.box(*np.array([_lonlat_box(layout) for layout in layouts]).reshape(-1, 4).T)
    point, field = shapely.STRtree(boxes).query(shapely.points(lon, lat))
    if point.size == 0:
        return []
    order = np.lexsort((point, field))
    point, field = point[order], field[order]
    found, starts = np.unique(field, return_index=True)
    return list(zip(found.tolist(), np.split(point, starts[1:]), strict=True))


def nearest_field(layouts: Sequence[FieldLayout], lon: float, lat: float) -> NearestField | None:
    """Return the field whose boundary is nearest to a place.

    Parameters
    ----------
    layouts : sequence of FieldLayout
        The fields.
    lon, lat : float
        The place, WGS 84. [deg]

    Returns
    -------
    NearestField or None
        The nearest field, how far and which way; None without fields.

    Notes
    -----
    The nearest boundary point is found in the field's frame, the distance to it is geodesic. A
    place in a field is measured to that field's boundary too.
    """
    reached = [_to_boundary(layout, lon, lat) for layout in layouts]
    return min(reached, key=lambda field: field.distance_m, default=None)


def likely_slip(layouts: Sequence[FieldLayout], lon: float, lat: float) -> tuple[float, float] | None:
    """Return the place that was probably meant when one far from the farm was given.

    A minus left out, or latitude and longitude swapped, puts a place on another continent.

    Parameters
    ----------
    layouts : sequence of FieldLayout
        The farm's fields.
    lon, lat : float
        The place as given, WGS 84. [deg]

    Returns
    -------
    tuple of float or None
        Longitude and latitude near the farm; None when the place is not far from it, or when
        no such slip leads there. [deg]
    """

    def is_near(lon: float, lat: float) -> bool:
        nearest = nearest_field(layouts, lon, lat) if abs(lat) <= 90.0 else None
        return nearest is not None and nearest.distance_m <= _NEAR_FARM_M

    meant = [(-lon, lat), (lon, -lat), (-lon, -lat), (lat, lon), (-lat, lon), (lat, -lon), (-lat, -lon)]
    if not layouts or is_near(lon, lat):
        return None
    return next((place for place in meant if is_near(*place)), None)


def checked_lonlat(lon: ArrayLike, lat: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return longitudes and latitudes as arrays, refused when a point is not on the globe.

    Parameters
    ----------
    lon, lat : array_like, shape (n,)
        Points, WGS 84. [deg]

    Returns
    -------
    lon, lat : ndarray, shape (n,)
        The same as arrays. [deg]

    Raises
    ------
    PlaceError
        If a number is not finite or out of range, or if there are not as many of each.
    """
    lon, lat = np.atleast_1d(np.asarray(lon, float)), np.atleast_1d(np.asarray(lat, float))
    if lon.shape != lat.shape or lon.ndim != 1:
        message = f"points: found {lat.size} latitudes and {lon.size} longitudes; allowed: as many of each"
        raise PlaceError(message)
    bad = ~((np.abs(lat) <= 90.0) & (np.abs(lon) <= 180.0))
    if bad.any():
        index = int(np.argmax(bad))
        message = (
            f"point {index + 1}: found latitude {lat[index]:g}, longitude {lon[index]:g}; "
            "allowed: latitude -90 to 90, longitude -180 to 180"
        )
        raise PlaceError(message)
    return lon, lat


def _lonlat_box(layout: FieldLayout) -> tuple[float, float, float, float]:
    """Return west, south, east, north of all that a field holds and wets, a little too wide."""
    shapes = [layout.field.boundary, *(system.wetted for system in layout.systems)]
    west, south, east, north = shapely.total_bounds(np.array(shapes, dtype=object))
    x = np.array([west - _BOX_SLACK_M, (west + east) / 2, east + _BOX_SLACK_M])
    y = np.array([south - _BOX_SLACK_M, (south + north) / 2, north + _BOX_SLACK_M])
    lon, lat = layout.field.frame.to_lonlat(np.repeat(x, 3), np.tile(y, 3))
    return float(lon.min()), float(lat.min()), float(lon.max()), float(lat.max())


def _to_boundary(layout: FieldLayout, lon: float, lat: float) -> NearestField:
    field = layout.field
    x, y = field.frame.to_xy(lon, lat)
    line = shapely.shortest_line(shapely.Point(float(x), float(y)), shapely.boundary(field.boundary))
    edge_lon, edge_lat = field.frame.to_lonlat(*line.coords[-1])
    distance_m, azimuth_deg = distance_azimuth(lon, lat, float(edge_lon), float(edge_lat))
    return NearestField(
        name=field.name,
        distance_m=distance_m,
        azimuth_deg=azimuth_deg if distance_m > 0 else None,
    )

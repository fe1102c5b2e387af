"""Local metric frames: the only module that imports pyproj.

A frame is azimuthal equidistant on WGS 84 about one point. Within 4.5 km of that point
lengths and areas agree with geodesic ones to 0.1 ppm, so everything else in the program
can be plain plane geometry in metres. x points east and y north at the frame's origin.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np
import pyproj
import shapely

from ringrow.errors import GeometryError, PlaceError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray
    from shapely.geometry.base import BaseGeometry

REACH_M = 4_500.0
"""Distance from the origin [m] inside which a frame holds 0.1 ppm."""

WGS84 = pyproj.Geod(ellps="WGS84")

GeometryT = TypeVar("GeometryT", bound="BaseGeometry")


@lru_cache(maxsize=4096)
def _pipeline(lon: float, lat: float) -> pyproj.Transformer:
    # from_pipeline takes 50 us where from_crs takes 5,600 us: no CRS database look-up.
    return pyproj.Transformer.from_pipeline(
        "+proj=pipeline +step +proj=unitconvert +xy_in=deg +xy_out=rad "
        # Plain floats: a numpy number would be spelt with its type, which PROJ reads as 0.
        f"+step +proj=aeqd +lat_0={float(lat)!r} +lon_0={float(lon)!r} +ellps=WGS84"
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """A metric frame about one point.

    Parameters
    ----------
    lon, lat : float
        The frame's origin, WGS 84. [deg]

    Raises
    ------
    PlaceError
        If the origin is not on the globe, or within a degree of a pole, where east and
        north lose their meaning for a field.

    Examples
    --------
    >>> frame = Frame(lon=-98.0, lat=41.0)
    >>> x, y = frame.to_xy(-98.0, 41.003622888)
    >>> round(float(y) / 0.3048, 2)
    1320.0
    """

    lon: float
    lat: float

    def __post_init__(self) -> None:
        if not (abs(self.lat) <= 89.0 and abs(self.lon) <= 180.0):
            message = (
                f"frame origin: found latitude {self.lat}, longitude {self.lon}; "
                "allowed: latitude -89 to 89, longitude -180 to 180"
            )
            raise PlaceError(message)

    @classmethod
    def about(cls, geometry: BaseGeometry) -> Frame:
        """Return the frame about the centre of a shape's bounding box.

        Parameters
        ----------
        geometry : shapely geometry
            Shape in longitude and latitude. [deg]

        Returns
        -------
        Frame
            Frame centred on the bounding box.

        Raises
        ------
        GeometryError
            If the shape is empty.
        """
        if geometry.is_empty:
            message = "frame: found an empty shape; allowed: a shape with at least one point"
            raise GeometryError(message)
        west, south, east, north = geometry.bounds
        return cls(lon=(west + east) / 2, lat=(south + north) / 2)

    def to_xy(self, lon: ArrayLike, lat: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return x and y in the frame from longitude and latitude.

        Parameters
        ----------
        lon, lat : array_like, shape (n,)
            WGS 84 positions. [deg]

        Returns
        -------
        x, y : ndarray, shape (n,)
            Position in the frame. [m]
        """
        x, y = _pipeline(self.lon, self.lat).transform(np.asarray(lon, float), np.asarray(lat, float))
        return np.asarray(x), np.asarray(y)

    def to_lonlat(self, x: ArrayLike, y: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return longitude and latitude from x and y in the frame.

        Parameters
        ----------
        x, y : array_like, shape (n,)
            Position in the frame. [m]

        Returns
        -------
        lon, lat : ndarray, shape (n,)
            WGS 84 positions. [deg]
        """
        lon, lat = _pipeline(self.lon, self.lat).transform(
            np.asarray(x, float), np.asarray(y, float), direction="INVERSE"
        )
        return np.asarray(lon), np.asarray(lat)

    def project(self, geometry: GeometryT) -> GeometryT:
        """Return a shape in longitude and latitude as a shape in the frame.

        Parameters
        ----------
        geometry : shapely geometry
            Shape in longitude and latitude. [deg]

        Returns
        -------
        shapely geometry
            The same shape in the frame. [m]
        """
        return shapely.transform(geometry, lambda xy: np.column_stack(self.to_xy(xy[:, 0], xy[:, 1])))

    def unproject(self, geometry: GeometryT) -> GeometryT:
        """Return a shape in the frame as a shape in longitude and latitude.

        Parameters
        ----------
        geometry : shapely geometry
            Shape in the frame. [m]

        Returns
        -------
        shapely geometry
            The same shape in longitude and latitude. [deg]
        """
        return shapely.transform(geometry, lambda xy: np.column_stack(self.to_lonlat(xy[:, 0], xy[:, 1])))

    def convergence_deg(self, x: float, y: float) -> float:
        """Return the frame bearing of true north at a point of the frame.

        Meridians are not parallel, so true north at a pivot leans a little against the
        frame's y axis. Frame bearing = true azimuth + convergence.

        Parameters
        ----------
        x, y : float
            Position in the frame. [m]

        Returns
        -------
        float
            Convergence at that point, -180 to 180. [deg]

        Examples
        --------
        >>> frame = Frame(lon=-101.5, lat=36.75)
        >>> round(frame.convergence_deg(0.0, 0.0), 6), round(frame.convergence_deg(1000.0, 0.0), 4)
        (0.0, -0.0067)
        """
        if x == 0.0 and y == 0.0:
            return 0.0
        lon, lat = self.to_lonlat(x, y)
        away, back, _ = WGS84.inv(self.lon, self.lat, float(lon), float(lat))
        return float((away - (back + 180.0) + 180.0) % 360.0 - 180.0)


def own_frames_xy(
    lon: ArrayLike,
    lat: ArrayLike,
    origin_lon: ArrayLike,
    origin_lat: ArrayLike,
    *,
    index: ArrayLike | None = None,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    r"""Return positions in metric frames of which each position may have another.

    The same frames as `Frame`, without a transformation to set up for each: earth-centred coordinates
    turned to east, north and up at the origin, then stretched from the tangent plane onto the ground,

    .. math:: s / \rho = 1 + \tfrac{2}{3} (u / \rho)^2

    where u is how far the place lies below the plane and rho how far from the origin in it.

    Parameters
    ----------
    lon, lat : array_like, shape (n,)
        WGS 84 positions. [deg]
    origin_lon, origin_lat : array_like, shape (n,) or (k,)
        Origins of the frames. [deg]
    index : array_like of int, shape (n,), or None, default None
        Origin of each position among k; None when there is one origin a position. [-]

    Returns
    -------
    x, y : ndarray, shape (n,)
        Position in its own frame, within 0.01 mm of what `Frame.to_xy` gives within `REACH_M`. [m]

    Examples
    --------
    >>> x, y = own_frames_xy([-98.0, 20.0], [41.003622888, -33.0], [-98.0, 20.0], [41.0, -33.0])
    >>> (y / 0.3048).round(2) + 0.0
    array([1320.,    0.])
    """
    home_lon, home_lat = np.asarray(origin_lon, float), np.asarray(origin_lat, float)
    sine, cosine = np.sin(np.radians(home_lat)), np.cos(np.radians(home_lat))
    # Earth-centred: distance from the axis, and along it.
    normal = WGS84.a / np.sqrt(1 - WGS84.es * sine * sine)
    out, up = normal * cosine, (1 - WGS84.es) * normal * sine
    if index is not None:
        at = np.asarray(index)
        home_lon, home_lat, sine, cosine, out, up = (
            values[at] for values in (home_lon, home_lat, sine, cosine, out, up)
        )
    east, north = np.radians(np.asarray(lon, float) - home_lon), np.radians(np.asarray(lat, float))
    sine_here = np.sin(north)
    normal_here = WGS84.a / np.sqrt(1 - WGS84.es * sine_here * sine_here)
    axis = normal_here * np.cos(north)
    outward = axis * np.cos(east) - out
    upward = (1 - WGS84.es) * normal_here * sine_here - up
    x = axis * np.sin(east)
    y = cosine * upward - sine * outward
    below = cosine * outward + sine * upward
    flat = x * x + y * y
    stretch = 1 + (2 / 3) * (below * below) / np.maximum(flat, 1e-12)
    return x * stretch, y * stretch


def own_frames_convergence_deg(
    lon: ArrayLike, lat: ArrayLike, origin_lon: ArrayLike, origin_lat: ArrayLike
) -> NDArray[np.float64]:
    """Return the bearing of true north at places, each in a frame of its own.

    Parameters
    ----------
    lon, lat : array_like, shape (n,)
        WGS 84 positions. [deg]
    origin_lon, origin_lat : array_like, shape (n,)
        Origin of the frame of each. [deg]

    Returns
    -------
    ndarray, shape (n,)
        Convergence, as `Frame.convergence_deg` gives it. [deg]

    Examples
    --------
    >>> round(float(own_frames_convergence_deg(-101.4888, 36.75, -101.5, 36.75)), 4)
    -0.0067
    """
    east = np.radians(np.asarray(lon, float) - np.asarray(origin_lon, float))
    north, home = np.radians(np.asarray(lat, float)), np.radians(np.asarray(origin_lat, float))
    # The meridian's direction at the place, seen along east and north of the origin.
    across = -np.sin(north) * np.sin(east)
    ahead = np.sin(north) * np.sin(home) * np.cos(east) + np.cos(north) * np.cos(home)
    return np.asarray(np.degrees(np.arctan2(across, ahead)))


def distance_azimuth(lon1: float, lat1: float, lon2: float, lat2: float) -> tuple[float, float]:
    """Return the geodesic distance and azimuth from one place to another.

    Parameters
    ----------
    lon1, lat1, lon2, lat2 : float
        The two places, WGS 84. [deg]

    Returns
    -------
    distance_m : float
        Length of the geodesic. [m]
    azimuth_deg : float
        True azimuth at the first place, 0 to 360. [deg]

    Examples
    --------
    >>> distance_m, azimuth_deg = distance_azimuth(-98, 41, -98, 41.00362)
    >>> round(distance_m, 5)
    402.01527
    """
    azimuth, _, distance = WGS84.inv(lon1, lat1, lon2, lat2)
    return float(distance), float(azimuth % 360.0)


def geodesic_area_m2(geometry: BaseGeometry) -> float:
    """Return the geodesic area of a shape in longitude and latitude, for checks.

    Parameters
    ----------
    geometry : shapely geometry
        Polygon or multipolygon in longitude and latitude. [deg]

    Returns
    -------
    float
        Area on the WGS 84 ellipsoid, edges being geodesics. [m2]
    """
    area, _ = WGS84.geometry_area_perimeter(shapely.orient_polygons(geometry))
    return float(abs(area))


def to_lonlat_from_crs(geometries: Any, crs: Any) -> Any:
    """Return shapes of any coordinate system in WGS 84 longitude and latitude.

    Parameters
    ----------
    geometries : array_like of shapely geometry
        Shapes in the coordinates of `crs`.
    crs : object
        Whatever pyproj understands: EPSG code, WKT, PROJ text.

    Returns
    -------
    ndarray of shapely geometry
        The same shapes. [deg]

    Raises
    ------
    GeometryError
        If `crs` is not understood.
    """
    try:
        source = pyproj.CRS.from_user_input(crs)
        transformer = pyproj.Transformer.from_crs(source, 4326, always_xy=True)
    except pyproj.exceptions.ProjError as error:
        message = f"coordinate system: found {str(crs)[:80]!r}; allowed: one that PROJ knows ({error})"
        raise GeometryError(message) from error
    return shapely.transform(
        geometries, lambda xy: np.column_stack(transformer.transform(xy[:, 0], xy[:, 1]))
    )

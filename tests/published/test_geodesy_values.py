"""Frames and geodesic areas against outside values.

Sources
-------
Planimeter tests of GeographicLib, as shipped with the Python package geographiclib
(``geographiclib/test/test_geodesic.py``): rows Planimeter0, Planimeter29 and the ellipsoid's area.
The documentation of its Rust port prints the one-degree cell on the equator.
Closed form of a cell between two parallels and two meridians on the ellipsoid (authalic
integral), worked out here with mpmath at 40 digits: derived, and independent of any geodesic code.
"""

from __future__ import annotations

import mpmath
import numpy as np
import pytest
import shapely
from geographiclib.geodesic import Geodesic

from ringrow.frame import Frame, distance_azimuth, geodesic_area_m2
from ringrow.units import ACRE_M2, FOOT_M


def cell_m2(south: float, north: float, width_deg: float) -> float:
    """Area of a cell on WGS 84 from the closed form, 40 digits."""
    mpmath.mp.dps = 40
    b, f = mpmath.mpf("6356752.314245179497563967"), 1 / mpmath.mpf("298.257223563")
    e = mpmath.sqrt(f * (2 - f))

    def up_to(latitude: float) -> mpmath.mpf:
        s = mpmath.sin(mpmath.radians(latitude))
        return s / (1 - e**2 * s**2) + mpmath.log((1 + e * s) / (1 - e * s)) / (2 * e)

    return float(mpmath.radians(width_deg) * b**2 / 2 * (up_to(north) - up_to(south)))


def test_one_degree_cell_at_the_equator() -> None:
    """GeographicLib, documentation of the Rust port: 12,308,778,361.469452 m2."""
    cell = shapely.box(0, 0, 1, 1)
    assert geodesic_area_m2(cell) == pytest.approx(12_308_778_361.469452, abs=0.1)


@pytest.mark.parametrize(
    ("lat_lon", "printed_m2"),
    [
        ([(89, 0), (89, 90), (89, 180), (89, 270)], 24_952_305_678),
        ([(0, -1), (-1, 0), (0, 1), (1, 0)], 24_619_419_146),
    ],
)
def test_planimeter_0(lat_lon: list[tuple[float, float]], printed_m2: float) -> None:
    """GeographicLib, Planimeter0, printed to 1 m2."""
    polygon = shapely.Polygon([(lon, lat) for lat, lon in lat_lon])
    assert geodesic_area_m2(polygon) == pytest.approx(printed_m2, abs=1)


def test_whole_ellipsoid_from_the_closed_form() -> None:
    """GeographicLib's tests print 510,065,621,724,088.5 m2 for WGS 84: checks the closed form used below."""
    assert cell_m2(-90, 90, 360) == pytest.approx(510_065_621_724_088.5, abs=0.05)


@pytest.mark.parametrize("south", [-45.0, 0.0, 36.75, 41.0, 60.0])
def test_cell_in_a_frame_equals_the_closed_form(south: float) -> None:
    """Derived: a cell of 0.01 degrees with its parallels drawn as 2,000 short edges."""
    lon = np.linspace(-98.0, -97.99, 2_001)
    low, high = np.full_like(lon, south), np.full_like(lon, south + 0.01)
    ring = np.vstack([np.column_stack([lon, low]), np.column_stack([lon[::-1], high])])
    cell = shapely.Polygon(ring)
    area_m2 = Frame.about(cell).project(cell).area
    assert area_m2 == pytest.approx(cell_m2(south, south + 0.01, 0.01), rel=1e-7)


@pytest.mark.parametrize(
    ("lat", "lon", "radius_ft", "vertices", "expected_m2", "expected_acres"),
    [
        (36.5, -101.9, 1320, 360, 508_517.1578, 125.6573263),
        (41.0, -98.0, 1290, 256, 485_641.3021, 120.0045792),
    ],
)
def test_circle_of_geodesic_vertices(
    lat: float, lon: float, radius_ft: float, vertices: int, expected_m2: float, expected_acres: float
) -> None:
    """Derived with geographiclib: a ring of vertices at one geodesic distance."""
    points = [
        Geodesic.WGS84.Direct(lat, lon, turn, radius_ft * FOOT_M)
        for turn in np.arange(vertices) * 360 / vertices
    ]
    ring = shapely.Polygon([(point["lon2"], point["lat2"]) for point in points])
    in_frame_m2 = Frame.about(ring).project(ring).area
    assert in_frame_m2 == pytest.approx(expected_m2, rel=1e-8)
    assert in_frame_m2 / ACRE_M2 == pytest.approx(expected_acres, abs=2e-6)
    assert geodesic_area_m2(ring) == pytest.approx(expected_m2, abs=5e-4)


def test_inverse_between_two_places() -> None:
    """Derived with geographiclib: 521.88357 m = 1,712.2164 ft at azimuth 44.853857."""
    distance_m, azimuth_deg = distance_azimuth(-101.654321, 38.123456, -101.650123, 38.126789)
    assert distance_m == pytest.approx(521.88357, abs=5e-6)
    assert distance_m / FOOT_M == pytest.approx(1712.2164, abs=5e-5)
    assert azimuth_deg == pytest.approx(44.853857, abs=5e-7)


@pytest.mark.parametrize(
    ("x_ft", "y_ft", "lat", "lon"),
    [(0, 1320, 41.003622888, -98.0), (1320, 0, 40.999999901, -97.995217982)],
)
def test_forward_from_the_origin(x_ft: float, y_ft: float, lat: float, lon: float) -> None:
    """Derived with geographiclib: 1,320 ft north and east of 41 N 98 W."""
    found_lon, found_lat = Frame(lon=-98.0, lat=41.0).to_lonlat(x_ft * FOOT_M, y_ft * FOOT_M)
    assert float(found_lat) == pytest.approx(lat, abs=5e-10)
    assert float(found_lon) == pytest.approx(lon, abs=5e-10)

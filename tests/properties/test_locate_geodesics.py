"""Distance and azimuth from a pivot point against geodesics on WGS 84 (geographiclib, Karney's method)."""

from __future__ import annotations

from typing import TYPE_CHECKING

import fiona
import numpy as np
import pytest
import shapely
from geographiclib.geodesic import Geodesic
from hypothesis import assume, given
from hypothesis import strategies as st

from ringrow.coverage.field import PivotLayout
from ringrow.coverage.locate_pivots import pivot_places
from ringrow.equipment.pivot import Pivot
from ringrow.frame import Frame

if TYPE_CHECKING:
    from pathlib import Path

FOOT_M = 0.3048
WITHIN_M = 0.01 * FOOT_M
WITHIN_DEG = 1e-4


def worst_against_geodesics(
    frame: Frame, pivot_lonlat: tuple[float, float], lon: np.ndarray, lat: np.ndarray
) -> tuple[float, float]:
    """Largest difference in distance [m] and azimuth [deg] of places seen from a pivot point."""
    x, y = (float(value) for value in frame.to_xy(*pivot_lonlat))
    pivot = Pivot(name="P", x_m=x, y_m=y, convergence_deg=frame.convergence_deg(x, y), spans_m=(50.0,))
    nothing = shapely.Polygon()
    laid = PivotLayout(pivot=pivot, base=nothing, gun=nothing, gun_arcs=(), wetted=nothing)
    found = pivot_places(laid, *frame.to_xy(lon, lat), 1.0)
    worst_m = worst_deg = 0.0
    for index in range(len(lon)):
        line = Geodesic.WGS84.Inverse(pivot_lonlat[1], pivot_lonlat[0], lat[index], lon[index])
        worst_m = max(worst_m, abs(found.distance_m[index] - line["s12"]))
        # An azimuth over a short distance is worth no more than its end: 0.01 ft at least.
        if line["s12"] > 30.0:
            turn = (found.azimuth_deg[index] - line["azi1"] + 180.0) % 360.0 - 180.0
            worst_deg = max(worst_deg, abs(turn))
    return worst_m, worst_deg


def test_across_real_fields(outside_data: Path) -> None:
    """98 real fields of western Bahia (LEM+ data set, CC-BY-4.0), pivot point well off the middle."""
    rng = np.random.default_rng(98)
    with fiona.open(outside_data / "bahia_fields.gpkg") as source:
        fields = [shapely.geometry.shape(feature.geometry) for feature in source]
    checked = 0
    for field in fields:
        west, south, east, north = field.bounds
        frame = Frame.about(field)
        point = (west + (east - west) / 4, south + (north - south) / 4)
        lon, lat = rng.uniform(west, east, 20), rng.uniform(south, north, 20)
        # The frame holds its promise to 4.5 km from its origin.
        inside = np.hypot(*frame.to_xy(lon, lat)) < 4_500
        worst_m, worst_deg = worst_against_geodesics(frame, point, lon[inside], lat[inside])
        assert worst_m < WITHIN_M
        assert worst_deg < WITHIN_DEG
        checked += int(inside.sum())
    assert checked > 1_900


@given(
    lat=st.floats(-65, 65),
    lon=st.floats(-179, 179),
    east=st.floats(-800, 800),
    north=st.floats(-800, 800),
    seed=st.integers(0, 2**32 - 1),
)
def test_anywhere_on_the_farmed_globe(lat: float, lon: float, east: float, north: float, seed: int) -> None:
    """A pivot point anywhere in a mile-wide field, places to half a mile from it, latitude to 65."""
    # PROJ takes what lies within 0.64 mm of a frame's origin for the origin itself.
    assume(east == north == 0.0 or np.hypot(east, north) > 1e-3)
    frame = Frame(lon=lon, lat=lat)
    rng = np.random.default_rng(seed)
    bearing, distance = rng.uniform(0, 2 * np.pi, 20), rng.uniform(0, 805, 20)
    point = tuple(float(value) for value in frame.to_lonlat(east, north))
    away = frame.to_lonlat(east + distance * np.sin(bearing), north + distance * np.cos(bearing))
    worst_m, worst_deg = worst_against_geodesics(frame, point, *away)
    assert worst_m < WITHIN_M
    assert worst_deg < WITHIN_DEG


def test_without_the_correction_for_meridians_the_azimuth_would_be_off() -> None:
    """Half a mile east of the frame's origin at 60 N north leans 0.0125 degrees: the correction is needed."""
    frame = Frame(lon=10.0, lat=60.0)
    assert abs(frame.convergence_deg(805.0, 0.0)) == pytest.approx(0.0125, abs=5e-4)

"""Frames: there and back, lengths and areas against geographiclib, anywhere fields are farmed."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from geographiclib.geodesic import Geodesic
from hypothesis import assume, given
from hypothesis import strategies as st

from ringrow.frame import REACH_M, Frame

latitudes = st.floats(-65, 65)
longitudes = st.floats(-179.9, 179.9)
offsets = st.floats(-REACH_M / math.sqrt(2), REACH_M / math.sqrt(2))


@given(latitudes, longitudes, offsets, offsets)
def test_there_and_back(lat: float, lon: float, x: float, y: float) -> None:
    frame = Frame(lon=lon, lat=lat)
    back_x, back_y = frame.to_xy(*frame.to_lonlat(x, y))
    # PROJ takes whatever lies within 1e-10 rad (0.64 mm) of the origin for the origin itself.
    off = math.hypot(float(back_x) - x, float(back_y) - y)
    assert off < 1e-6 or (math.hypot(x, y) < 7e-4 and off <= math.hypot(x, y))


@given(latitudes, longitudes, offsets, offsets, offsets, offsets)
def test_lengths_hold_a_tenth_of_a_part_per_million(
    lat: float, lon: float, x1: float, y1: float, x2: float, y2: float
) -> None:
    # PROJ takes whatever lies within 1e-10 rad (0.64 mm) of the origin for the origin itself.
    assume(all(xy == (0.0, 0.0) or math.hypot(*xy) > 7e-4 for xy in [(x1, y1), (x2, y2)]))
    frame = Frame(lon=lon, lat=lat)
    (lon1, lon2), (lat1, lat2) = frame.to_lonlat([x1, x2], [y1, y2])
    geodesic_m = Geodesic.WGS84.Inverse(lat1, lon1, lat2, lon2)["s12"]
    assert math.hypot(x2 - x1, y2 - y1) == pytest.approx(geodesic_m, rel=1e-7, abs=1e-6)


@given(latitudes, longitudes, st.integers(3, 12), st.integers(0, 2**32 - 1))
def test_areas_hold_a_tenth_of_a_part_per_million(lat: float, lon: float, corners: int, seed: int) -> None:
    rng = np.random.default_rng(seed)
    turn = 2 * np.pi * (np.arange(corners) + rng.uniform(0, 0.6, corners)) / corners
    reach = rng.uniform(0.4, 1.0, corners) * 2_000
    x, y = reach * np.sin(turn), reach * np.cos(turn)
    frame = Frame(lon=lon, lat=lat)
    # Edges are straight in the frame; cut short, they lie on the geodesics between their ends.
    dense = shapely.segmentize(shapely.Polygon(np.column_stack([x, y])), 100.0)
    polygon = Geodesic.WGS84.Polygon()
    for vertex_lon, vertex_lat in shapely.get_coordinates(frame.unproject(dense))[:-1]:
        polygon.AddPoint(vertex_lat, vertex_lon)
    assert dense.area == pytest.approx(abs(polygon.Compute()[2]), rel=1e-7)


@given(latitudes, longitudes, offsets, offsets)
def test_convergence_is_the_bearing_of_a_short_step_north(lat: float, lon: float, x: float, y: float) -> None:
    frame = Frame(lon=lon, lat=lat)
    here_lon, here_lat = frame.to_lonlat(x, y)
    north_x, north_y = frame.to_xy(here_lon, here_lat + 1e-4)
    bearing_deg = math.degrees(math.atan2(float(north_x) - x, float(north_y) - y))
    assert frame.convergence_deg(x, y) == pytest.approx(bearing_deg, abs=1e-4)

"""Stated standard errors of surveys against what simulation shows; exact drives come back exactly."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import pytest
import shapely
from geographiclib.geodesic import Geodesic
from hypothesis import given
from hypothesis import strategies as st

from ringrow.farm.survey import survey_circles, survey_towers
from ringrow.farm.survey_ground import survey_line, survey_outline
from ringrow.farm.track_model import Track
from ringrow.units import US
from survey_sims import LAT, LON, places

if TYPE_CHECKING:
    from collections.abc import Sequence

TIGHT = 1e-4


def track(x: Sequence[float] | np.ndarray, y: Sequence[float] | np.ndarray, kind: str = "track") -> Track:
    lon, lat = np.array(places(x, y)).T
    return Track(name="drive", kind=kind, lon=lon, lat=lat)


@given(radius=st.floats(60, 800), start=st.floats(0, 360), sweep=st.floats(180, 350), lat=st.floats(-60, 60))
def test_exact_drives_give_the_machine_on_the_ellipsoid(
    radius: float, start: float, sweep: float, lat: float
) -> None:
    """Points set by geodesics about a point; centre back to 1 cm, radius to 0.1 ppm and 1 mm."""
    points = [Geodesic.WGS84.Direct(lat, 12.0, start + sweep * n / 40, radius) for n in range(41)]
    drive = Track(
        name="d",
        kind="track",
        lon=np.array([point["lon2"] for point in points]),
        lat=np.array([point["lat2"] for point in points]),
    )
    (found,) = survey_circles([drive], sigma_m=TIGHT, units=US).circles
    away = Geodesic.WGS84.Inverse(lat, 12.0, found.lat, found.lon)["s12"]
    assert away < 0.01
    assert found.fit.radius_m == pytest.approx(radius, abs=1e-3)


@given(
    azimuth=st.floats(0, 359.9),
    spans=st.lists(st.floats(35, 65), min_size=2, max_size=9),
    shows=st.floats(0, 359.9),
)
def test_exact_pins_give_azimuth_spans_and_panel_zero(
    azimuth: float, spans: list[float], shows: float
) -> None:
    radii = [0.0, *np.cumsum(spans).tolist()]
    points = [Geodesic.WGS84.Direct(LAT, LON, azimuth, radius) for radius in radii]
    pins = Track(
        name="pins",
        kind="points",
        lon=np.array([point["lon2"] for point in points]),
        lat=np.array([point["lat2"] for point in points]),
    )
    found = survey_towers(pins, sigma_m=TIGHT, panel_shows_deg=shows)
    # PROJ takes what lies within 0.64 mm (1e-10 rad) of a frame's origin for the origin itself.
    assert found.spans_m == pytest.approx(spans, abs=7e-4)
    assert abs((found.azimuth_deg - azimuth + 180) % 360 - 180) < 1e-3
    assert found.panel_zero_deg is not None
    assert abs((azimuth - found.panel_zero_deg - shows + 180) % 360 - 180) < 1e-3
    assert (found.tower_lonlat[-1][1], found.tower_lonlat[-1][0]) == pytest.approx(
        (points[-1]["lat2"], points[-1]["lon2"]), abs=1e-8
    )


@pytest.mark.parametrize("known", [False, True])
def test_errors_of_towers_agree_with_simulation(known: bool) -> None:
    """600 machines of 7 towers, each pin 2 m off in each axis; stated and real spread within 8 %."""
    rng = np.random.default_rng(21)
    radii = np.arange(0, 8) * 52.0
    turn = math.radians(70.0)
    x, y = radii * math.sin(turn), radii * math.cos(turn)
    first = 1 if known else 0
    found = [
        survey_towers(
            track(*(axis[first:] + rng.normal(0, 2, 8 - first) for axis in (x, y)), kind="points"),
            sigma_m=2.0,
            pivot_lonlat=(LON, LAT) if known else None,
        )
        for _ in range(600)
    ]
    assert np.std([each.azimuth_deg for each in found]) == pytest.approx(
        survey_towers(
            track(x[first:], y[first:], "points"), sigma_m=2.0, pivot_lonlat=(LON, LAT) if known else None
        ).azimuth_se_deg,
        rel=0.08,
    )
    spans = np.array([each.spans_m[2:] for each in found])
    stated = survey_towers(track(x, y, "points"), sigma_m=2.0)
    assert spans.std(axis=0).mean() == pytest.approx(stated.span_se_m, rel=0.08)
    last = np.std([each.radii_m[-1] for each in found])
    assert last == pytest.approx(2.0 * (1.0 if known else math.sqrt(2)), rel=0.08)


def _passes(rng: np.random.Generator, numbers: Sequence[int], sigma: float, heading: float) -> list[Track]:
    """Drives along laterals 1.524 m apart; each one is shifted as a whole, as slow drift does."""
    turn = math.radians(heading)
    along = np.linspace(-200, 200, 41)
    tracks = []
    for number in numbers:
        off = number * 1.524 + rng.normal(0, sigma)
        shift = rng.normal(0, sigma)
        x = (along + shift) * math.sin(turn) + off * math.cos(turn)
        y = (along + shift) * math.cos(turn) - off * math.sin(turn)
        tracks.append(track(x, y))
    return tracks


def test_errors_of_spacing_agree_with_simulation() -> None:
    """600 blocks, passes on laterals 1, 100 and 260, each 2 m off as a whole: stated and real within 8 %."""
    rng = np.random.default_rng(22)
    numbers = (1, 100, 260)
    found = [
        survey_line(_passes(rng, numbers, 2.0, 92.0), sigma_m=2.0, units=US, laterals=numbers)
        for _ in range(600)
    ]
    real = np.std([each.spacing_m for each in found])
    steps = np.array(numbers) - np.mean(numbers)
    stated = 2.0 / math.sqrt((steps**2).sum())
    assert real == pytest.approx(stated, rel=0.08)
    assert min(each.spacing_se_m for each in found) >= stated * (1 - 1e-9)
    assert np.mean([each.spacing_m for each in found]) == pytest.approx(
        1.524, abs=4 * stated / math.sqrt(600)
    )


def test_errors_of_heading_agree_with_simulation() -> None:
    """800 passes of 41 points, each point 2 m off by itself: stated and real spread within 8 %."""
    rng = np.random.default_rng(23)
    along = np.linspace(-200, 200, 41)
    found = []
    for _ in range(800):
        drive = track(along + rng.normal(0, 2, 41), rng.normal(0, 2, 41))
        found.append(survey_line([drive], sigma_m=2.0, units=US))
    real = np.std([each.heading_deg for each in found])
    floor = survey_line([track(along, np.zeros(41))], sigma_m=2.0, units=US).heading_se_deg
    assert real == pytest.approx(floor, rel=0.08)


def test_errors_of_acres_agree_with_simulation() -> None:
    """1,000 fields of 12 typed corners, each 2 m off: stated and real spread within 8 %."""
    rng = np.random.default_rng(24)
    turn = np.radians(np.arange(0, 360, 30) + 7)
    x, y = 420 * np.sin(turn), 380 * np.cos(turn)
    areas = [
        survey_outline(track(x + rng.normal(0, 2, 12), y + rng.normal(0, 2, 12)), sigma_m=2.0).area_m2
        for _ in range(1000)
    ]
    exact = survey_outline(track(x, y), sigma_m=2.0)
    assert exact.area_m2 == pytest.approx(shapely.Polygon(np.column_stack([x, y])).area, rel=1e-6)
    assert np.std(areas) == pytest.approx(exact.area_se_m2, rel=0.08)


def test_drive_with_errors_of_its_own_at_every_fix_is_better_than_stated() -> None:
    """200 drives round a quarter section, a fix every 6 m: the stated range holds at least 95 of 100."""
    rng = np.random.default_rng(25)
    side = np.arange(0, 804, 6.0)
    flat = np.zeros_like(side)
    x = np.concatenate([side, flat + 804, 804 - side, flat])
    y = np.concatenate([flat, side, flat + 804, 804 - side])
    held = 0
    for _ in range(200):
        drive = track(x + rng.normal(0, 0.5, len(x)), y + rng.normal(0, 0.5, len(y)))
        found = survey_outline(drive, sigma_m=0.5)
        held += abs(found.area_m2 - 804.0**2) <= 1.96 * found.area_se_m2
    assert held >= 190

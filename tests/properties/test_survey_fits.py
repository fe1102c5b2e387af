"""Survey fits: exact data comes back exactly, errors are what simulation shows, bad points are left out."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from effort import effort
from ringrow.errors import GeometryError
from ringrow.geometry.circle_fit import fit_circle, fit_concentric
from ringrow.geometry.line_fit import fit_laterals, fit_towers
from ringrow.geometry.outline import area_se_m2, outline_from_track


def arc_points(
    x: float, y: float, radius: float, start: float, sweep: float, count: int
) -> tuple[np.ndarray, np.ndarray]:
    turn = np.radians(start + np.linspace(0, sweep, count))
    return x + radius * np.sin(turn), y + radius * np.cos(turn)


@given(
    x=st.floats(-2000, 2000),
    y=st.floats(-2000, 2000),
    radius=st.floats(20, 900),
    start=st.floats(0, 360),
    sweep=st.floats(30, 355),
    count=st.integers(3, 60),
)
def test_exact_circles_come_back(
    x: float, y: float, radius: float, start: float, sweep: float, count: int
) -> None:
    fit = fit_circle(*arc_points(x, y, radius, start, sweep, count))
    assert (fit.x_m, fit.y_m, fit.radius_m) == pytest.approx((x, y, radius), abs=1e-5 * radius)
    assert fit.outliers == 0
    assert fit.arc_deg == pytest.approx(sweep, abs=1e-4) or sweep > 360 - sweep / (count - 1)


def test_errors_agree_with_simulation() -> None:
    """300 repeats of 60 points on a 120 degree arc with 2 m noise: stated and real spread within 12 %."""
    rng = np.random.default_rng(7)
    x, y = arc_points(0, 0, 400, 10, 120, 60)
    fits = [fit_circle(x + rng.normal(0, 2, 60), y + rng.normal(0, 2, 60)) for _ in range(300)]
    real_radius = np.std([fit.radius_m for fit in fits])
    real_centre = math.sqrt(np.var([fit.x_m for fit in fits]) + np.var([fit.y_m for fit in fits]))
    assert np.mean([fit.radius_se_m for fit in fits]) == pytest.approx(real_radius, rel=0.12)
    assert np.mean([fit.center_se_m for fit in fits]) == pytest.approx(real_centre, rel=0.12)
    assert abs(np.mean([fit.radius_m for fit in fits]) - 400) < 4 * real_radius / math.sqrt(300) + 0.3


def test_bad_points_are_left_out() -> None:
    rng = np.random.default_rng(3)
    x, y = arc_points(50, -20, 380, 0, 300, 200)
    x, y = x + rng.normal(0, 1, 200), y + rng.normal(0, 1, 200)
    bad = rng.choice(200, 30, replace=False)
    x[bad] += rng.choice([-1, 1], 30) * rng.uniform(30, 150, 30)
    fit = fit_circle(x, y)
    assert fit.radius_m == pytest.approx(380, abs=0.5)
    assert (fit.x_m, fit.y_m) == pytest.approx((50, -20), abs=0.6)
    assert fit.outliers >= 24


def test_stretched_circle_shows_its_axes() -> None:
    turn = np.radians(np.arange(0, 360, 2))
    fit = fit_circle(300 * np.sin(turn), 310 * np.cos(turn))
    assert (fit.semi_major_m, fit.semi_minor_m) == pytest.approx((310, 300), abs=1e-6)
    assert fit.major_azimuth_deg == pytest.approx(0, abs=1e-4)


def test_no_axes_under_half_a_turn() -> None:
    fit = fit_circle(*arc_points(0, 0, 300, 0, 170, 80))
    assert fit.semi_major_m is None
    assert fit.semi_minor_m is None


def test_concentric_tracks_share_a_centre() -> None:
    """Three short arcs together fix the centre better than the best of them alone."""
    rng = np.random.default_rng(11)
    tracks = []
    for radius, start in ((55, 0), (110, 120), (380, 240)):
        x, y = arc_points(5, 9, radius, start, 80, 60)
        tracks.append((x + rng.normal(0, 1, 60), y + rng.normal(0, 1, 60)))
    together = fit_concentric(tracks)
    assert [fit.radius_m for fit in together] == pytest.approx([55, 110, 380], abs=1.5)
    assert together[0].center_se_m < min(fit_circle(*track).center_se_m for track in tracks)


@pytest.mark.parametrize(
    ("x", "y", "message"),
    [
        ([0, 1], [0, 1], "found 2 different points"),
        ([0, 0, 0, 0], [1, 1, 1, 2], "found 2 different points"),
        ([0, 1, 2, 3], [0, 1, 2, 3], "straight line"),
        ([0, float("nan"), 2], [0, 1, 2], "found 2 different points"),
    ],
)
def test_hopeless_circles_are_refused(x: list[float], y: list[float], message: str) -> None:
    with pytest.raises(GeometryError, match=message):
        fit_circle(x, y)


@given(bearing=st.floats(0, 359.9), spans=st.lists(st.floats(30, 70), min_size=1, max_size=12))
def test_towers_come_back(bearing: float, spans: list[float]) -> None:
    radii = np.concatenate([[0], np.cumsum(spans)])
    turn = math.radians(bearing)
    fit = fit_towers(7 + radii * math.sin(turn), -3 + radii * math.cos(turn))
    assert fit.spans_m == pytest.approx(tuple(spans), abs=1e-6)
    assert abs((fit.bearing_deg - bearing + 180) % 360 - 180) < 1e-6


def test_two_pins_on_one_tower_are_refused() -> None:
    with pytest.raises(GeometryError, match="one pin a tower"):
        fit_towers([0, 0, 0], [0, 50, 50.2])


@settings(max_examples=effort(40))
@given(
    heading=st.floats(0, 179.99),
    spacing=st.floats(0.7, 3),
    numbers=st.lists(st.integers(-40, 40), min_size=2, max_size=8, unique=True),
    known=st.booleans(),
)
def test_laterals_come_back(heading: float, spacing: float, numbers: list[int], known: bool) -> None:
    if not known:
        numbers = [*numbers, numbers[0] + 1] if numbers[0] + 1 not in numbers else numbers
    turn = math.radians(heading)
    along, across = np.array([math.sin(turn), math.cos(turn)]), np.array([math.cos(turn), -math.sin(turn)])
    tracks = [
        tuple((np.linspace(0, 400, 9)[:, None] * along + number * spacing * across).T) for number in numbers
    ]
    fit = fit_laterals(tracks, numbers=numbers if known else None)
    assert fit.spacing_m == pytest.approx(spacing, rel=1e-6)
    assert abs((fit.heading_deg - heading + 90) % 180 - 90) < 1e-6
    if known:
        assert fit.numbers == tuple(number - numbers[0] for number in numbers)


def test_uneven_gaps_are_refused() -> None:
    tracks = [([0, 100], [offset, offset]) for offset in (0.0, 1.5, 3.65)]
    with pytest.raises(GeometryError, match=r"whole multiples of one spacing"):
        fit_laterals(tracks)


def test_outline_cuts_the_overlap_and_thins_jitter() -> None:
    rng = np.random.default_rng(5)
    side = np.arange(0, 400, 4.0)
    flat = np.zeros_like(side)
    x = np.concatenate([side, flat + 400, 400 - side, flat, side[:15]])
    y = np.concatenate([flat, side, flat + 400, 400 - side, flat[:15]])
    x, y = x + rng.normal(0, 0.3, len(x)), y + rng.normal(0, 0.3, len(y))
    parked = np.full(50, x[0]) + rng.normal(0, 0.2, 50), np.full(50, y[0]) + rng.normal(0, 0.2, 50)
    found = outline_from_track(np.append(parked[0], x), np.append(parked[1], y), sigma_m=0.3)
    assert found.polygon.area == pytest.approx(160_000, abs=3 * found.area_se_m2 + 100)
    assert 40 < found.overlap_m < 75
    assert found.longest_gap_m < 12


def test_area_error_agrees_with_simulation() -> None:
    rng = np.random.default_rng(9)
    turn = np.linspace(0, 2 * np.pi, 40, endpoint=False)
    ring = np.column_stack([300 * np.cos(turn), 200 * np.sin(turn)])

    def area(corners: np.ndarray) -> float:
        x, y = corners.T
        return 0.5 * abs(float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))))

    spread = np.std([area(ring + rng.normal(0, 1.5, ring.shape)) for _ in range(4000)])
    assert area_se_m2(ring, sigma_m=1.5) == pytest.approx(spread, rel=0.05)


@pytest.mark.parametrize(
    ("x", "y", "message"),
    [
        ([0, 1], [0, 1], "found 2 usable points"),
        (list(range(0, 500, 5)), [0] * 100, "comes back near where it began"),
        ([0, 100, 100, 0, 0], [0, 100, 0, 100, 2], "crosses itself"),
    ],
)
def test_hopeless_outlines_are_refused(x: list[float], y: list[float], message: str) -> None:
    with pytest.raises(GeometryError, match=message):
        outline_from_track(x, y, sigma_m=1.0)

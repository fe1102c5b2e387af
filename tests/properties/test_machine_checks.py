"""Bearings of flags on a machine against its walking speed: simulated rounds, and all subsets tried."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ringrow.coverage.machine_checks import (
    TOP_SPEED_M_PER_H,
    BearingFix,
    Doubt,
    bearing_doubts,
    turn_rate_deg_per_h,
)
from ringrow.equipment.pivot import Pivot, Sector
from ringrow.units import FOOT_M

# 400 m to the last tower at 418.879 m/h is 60 degrees an hour: a turn in six hours.
PIVOT = Pivot(name="P1", x_m=0, y_m=0, spans_m=(50.0,) * 8, top_speed_m_per_h=418.87902047863906)
PARKED = Pivot(name="P1", x_m=0, y_m=0, spans_m=(50.0,) * 8, parked_deg=41.0)


def fix(
    number: int, azimuth: float, hours: float | None, *, distance_m: float = 300.0, sigma_m: float = 0.0
) -> BearingFix:
    return BearingFix(
        number=number,
        azimuth_deg=azimuth % 360,
        distance_m=distance_m,
        sigma_m=sigma_m,
        day=None if hours is None else 1,
        hours=hours,
    )


def doubted(pivot: Pivot, fixes: list[BearingFix]) -> list[int]:
    doubts = bearing_doubts(pivot, fixes)
    return [each.number for each, doubt in zip(fixes, doubts, strict=True) if doubt is not None]


def test_fastest_full_turn_quoted() -> None:
    """A Utah State University lecture, row D30: 120 acres in 6 h is about 22.5 ft/min at the end.

    The speed is computed from the times printed: radius of 120 acres, 1,290 ft.
    """
    radius_ft = (120 * 43560 / np.pi) ** 0.5
    feet_per_minute = TOP_SPEED_M_PER_H / FOOT_M / 60
    assert feet_per_minute == pytest.approx(2 * np.pi * radius_ft / 6 / 60, abs=0.05)
    pivot = Pivot(name="P1", x_m=0, y_m=0, spans_m=(radius_ft * FOOT_M,))
    assert 360 / turn_rate_deg_per_h(pivot) == pytest.approx(6.0, abs=0.01)


@given(
    st.integers(0, 10_000), st.integers(2, 25), st.floats(0, 360), st.booleans(),
)  # fmt: skip
def test_a_machine_that_walks_as_it_can_is_never_in_doubt(
    seed: int, count: int, start: float, full: bool
) -> None:
    """Random walks, both ways and with stops, seen through errors of up to 2 sigma."""
    rng = np.random.default_rng(seed)
    pivot = PIVOT if full else Pivot(
        name="P1", x_m=0, y_m=0, spans_m=(50.0,) * 8, top_speed_m_per_h=PIVOT.top_speed_m_per_h,
        sector=Sector(start_deg=200, stop_deg=190),
    )  # fmt: skip
    hours = np.cumsum(rng.uniform(0, 0.5, count))
    turned = rng.uniform(-60, 60, count - 1) * np.diff(hours)
    walk = [start if full else 370.0]
    for step in turned:
        # The part circle runs from 200 over north to 190; the machine turns back at its stops.
        walk.append(walk[-1] + step if full else min(max(walk[-1] + step, 205.0), 545.0))
    distance = rng.uniform(20, 400, count)
    error = np.degrees(2.0 / distance) * np.clip(rng.normal(size=count), -2.0, 2.0)
    fixes = [
        fix(n, a, h, distance_m=d, sigma_m=2.0)
        for n, (a, h, d) in enumerate(zip(np.array(walk) + error, hours, distance, strict=True))
    ]
    assert doubted(pivot, fixes) == []


@given(
    st.lists(st.tuples(st.floats(0, 359), st.floats(0, 3)), min_size=1, max_size=7, unique_by=lambda x: x[1])
)
def test_what_is_kept_is_a_largest_set_that_goes_together(walk: list[tuple[float, float]]) -> None:
    """Brute force: every subset; with exact positions and on the machine itself, far out."""
    fixes = [fix(n, a, h, distance_m=1e9) for n, (a, h) in enumerate(walk)]

    def fits(one: BearingFix, two: BearingFix) -> bool:
        apart = abs((one.azimuth_deg - two.azimuth_deg + 180) % 360 - 180)
        return apart <= 60 * abs(one.hours - two.hours) + 2 * one.slack_deg

    sets = [
        set(numbers)
        for size in range(1, len(fixes) + 1)
        for numbers in combinations(range(len(fixes)), size)
        if all(fits(fixes[a], fixes[b]) for a, b in combinations(numbers, 2))
    ]
    most = max(len(each) for each in sets)
    best = [each for each in sets if len(each) == most]
    in_best = set.union(*best)
    doubts = bearing_doubts(PIVOT, fixes)
    for number, doubt in enumerate(doubts):
        against = {n for n in in_best if not fits(fixes[n], fixes[number])}
        assert (doubt is not None) == bool(against)
        if doubt is not None:
            assert doubt.other in against
            assert doubt.either == (number in in_best)


def test_the_odd_one_out_is_named_with_what_speaks_against_it() -> None:
    fixes = [fix(1, 41, 0.0), fix(2, 45, 0.1), fix(7, 214, 0.25), fix(4, 48, 0.5)]
    doubts = bearing_doubts(PIVOT, fixes)
    assert [doubt is None for doubt in doubts] == [True, True, False, True]
    doubt = doubts[2]
    assert isinstance(doubt, Doubt)
    assert (doubt.reason, doubt.other, doubt.either, doubt.speed_assumed) == ("speed", 2, False, False)
    assert doubt.hours == pytest.approx(0.15)
    assert doubt.apart_deg == pytest.approx(169.0)
    assert doubt.most_deg == pytest.approx(9.0)
    assert doubt.speed_m_per_h == pytest.approx(418.879, abs=0.001)


def test_of_two_flags_alone_neither_is_believed_more() -> None:
    fixes = [fix(1, 41, 0.0), fix(2, 200, 0.1)]
    doubts = bearing_doubts(PIVOT, fixes)
    assert [(doubt.other, doubt.either) if doubt else None for doubt in doubts] == [(2, True), (1, True)]


def test_where_it_is_parked_settles_a_tie() -> None:
    doubts = bearing_doubts(PARKED, [fix(1, 41.5, 0.0), fix(2, 200, 0.1)])
    assert doubts[0] is None
    assert doubts[1] is not None
    assert not doubts[1].either


def test_another_day_is_another_round() -> None:
    later = BearingFix(number=2, azimuth_deg=200, distance_m=300, sigma_m=0, day=2, hours=0.2)
    assert doubted(PIVOT, [fix(1, 41, 0.1), later]) == []


def test_without_a_time_only_the_parked_azimuth_counts() -> None:
    fixes = [fix(1, 41, None), fix(2, 200, None)]
    assert doubted(PIVOT, fixes) == []
    assert doubted(PARKED, fixes) == [2]
    doubt = bearing_doubts(PARKED, fixes)[1]
    assert doubt is not None
    assert (doubt.reason, doubt.other_deg, doubt.other) == ("parked", 41.0, None)
    assert doubt.apart_deg == pytest.approx(159.0)


@pytest.mark.parametrize(("off_deg", "in_doubt"), [(2.57, False), (2.60, True), (-2.57, False)])
def test_parked_allows_two_degrees_and_ten_feet(off_deg: float, in_doubt: bool) -> None:
    """2 deg and atan(3.048 m / 300 m) = 0.582 deg make 2.582 deg."""
    assert bool(doubted(PARKED, [fix(1, 41 + off_deg, None)])) == in_doubt


def test_near_the_pivot_point_a_bearing_says_nothing() -> None:
    near = fix(2, 200, 0.01, distance_m=2.0, sigma_m=2.0)
    assert doubted(PIVOT, [fix(1, 41, 0.0), near, fix(3, 41, 0.02)]) == []


def test_nobody_walks_across_the_gap_of_a_part_circle() -> None:
    part = Pivot(
        name="P1", x_m=0, y_m=0, spans_m=(50.0,) * 8, top_speed_m_per_h=PIVOT.top_speed_m_per_h,
        sector=Sector(start_deg=20, stop_deg=340),
    )  # fmt: skip
    fixes = [fix(1, 22, 0.0), fix(2, 338, 1.0)]
    assert doubted(PIVOT, fixes) == []
    assert doubted(part, fixes) == [1, 2]
    # A fix a little past a stop is that stop, not the far end of the turn.
    assert doubted(part, [fix(1, 19.8, 0.0), fix(2, 21, 0.1)]) == []


def test_no_flags_no_doubts() -> None:
    assert bearing_doubts(PIVOT, []) == []

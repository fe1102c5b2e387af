"""Chances that two flags are one fault, against scipy's distributions and a simulation."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from ringrow.coverage.joint_chance import (
    ground_odds,
    ground_p_value,
    joint_sigma_m,
    pipe_odds,
    pipe_p_value,
    same_chances,
)
from ringrow.errors import DomainError


@pytest.mark.parametrize("distance_m", [0.0, 0.7, 3.1, 9.0])
def test_p_values_are_those_of_the_rayleigh_and_normal_distributions(distance_m: float) -> None:
    """Scipy's Rayleigh and half-normal survival functions are the same two integrals."""
    sigma_m = joint_sigma_m(2.0, 1.5)
    assert ground_p_value(distance_m, sigma_m) == pytest.approx(stats.rayleigh.sf(distance_m, scale=sigma_m))
    assert pipe_p_value(distance_m, sigma_m) == pytest.approx(stats.halfnorm.sf(distance_m, scale=sigma_m))


@pytest.mark.parametrize("distance_m", [0.0, 0.7, 3.1, 9.0])
def test_odds_are_densities_times_size(distance_m: float) -> None:
    """Scipy's normal densities, of two axes and of one, over an even spread."""
    plane = stats.multivariate_normal(cov=[[6.25, 0.0], [0.0, 6.25]]).pdf([distance_m, 0.0])
    assert ground_odds(distance_m, 2.5, area_m2=5e5) == pytest.approx(5e5 * plane)
    line = stats.norm.pdf(distance_m, scale=2.5)
    assert pipe_odds(distance_m, 2.5, length_m=400.0) == pytest.approx(400.0 * line)


def test_p_value_in_simulated_fixes() -> None:
    """20,000 pairs of fixes of one place, seed 11: share farther apart than 5 m."""
    rng = np.random.default_rng(11)
    first, second = rng.normal(0, 2.0, (20_000, 2)), rng.normal(0, 1.5, (20_000, 2))
    share = float(np.mean(np.hypot(*(first - second).T) >= 5.0))
    assert share == pytest.approx(ground_p_value(5.0, 2.5), abs=3 * math.sqrt(0.25 / 20_000))


def test_chances_hold_in_simulated_rounds() -> None:
    """A flag after 11 others on a small, crowded field, seed 3: of pairs called 60 %, 60 % are one fault.

    One time in ten it marks the place of one before it, else a place anywhere; fixes are good to
    2 m. The mean chance of each class is held against the share that was true, to four standard
    errors of that share.
    """
    rng = np.random.default_rng(3)
    side_m, before, share = 120.0, 11, 0.1
    chances, truths = [], []
    for _ in range(8_000):
        places = rng.uniform(0, side_m, (before, 2))
        source = int(rng.integers(before)) if rng.random() < share else -1
        place = places[source] if source >= 0 else rng.uniform(0, side_m, 2)
        fixes, fix = places + rng.normal(0, 2.0, (before, 2)), place + rng.normal(0, 2.0, 2)
        odds = [
            ground_odds(float(away), math.hypot(2, 2), area_m2=side_m**2)
            for away in np.hypot(*(fixes - fix).T)
        ]
        chances += same_chances(odds, repeat_share=share).tolist()
        truths += [at == source for at in range(before)]
    found, really = np.array(chances), np.array(truths)
    for low, high in [(0.0, 0.02), (0.02, 0.3), (0.3, 0.6), (0.6, 1.0)]:
        held = (found >= low) & (found < high)
        assert held.sum() > 100
        error = math.sqrt(found[held].mean() * (1 - found[held].mean()) / held.sum())
        assert really[held].mean() == pytest.approx(found[held].mean(), abs=4 * error)


def test_more_flags_make_one_nearness_say_less() -> None:
    """The same odds among 1 and among 10 others that lie far away."""
    alone = same_chances([50.0])[0]
    among = same_chances([50.0, *[0.0] * 9])[0]
    assert among < alone
    assert alone == pytest.approx(0.1 * 50 / (0.1 * 50 + 0.9))
    assert among == pytest.approx(0.1 * 5 / (0.1 * 5 + 0.9))


def test_nothing_before_it_gives_nothing() -> None:
    """A first flag has no chances."""
    assert same_chances([]).tolist() == []


def test_impossible_numbers_are_refused() -> None:
    """A spread of 0, a negative distance, no ground, a share of 1."""
    with pytest.raises(DomainError, match="joint spread of 0 m; allowed: a distance of 0 or more"):
        ground_p_value(1.0, 0.0)
    with pytest.raises(DomainError, match="found -1 m apart"):
        pipe_p_value(-1.0, 1.0)
    with pytest.raises(DomainError, match="area of another fault: found 0 m2; allowed: above 0"):
        ground_odds(1.0, 1.0, area_m2=0.0)
    with pytest.raises(DomainError, match="length of another fault: found -5 m; allowed: above 0"):
        pipe_odds(1.0, 1.0, length_m=-5.0)
    with pytest.raises(DomainError, match="found a share of 1 and odds"):
        same_chances([1.0], repeat_share=1.0)

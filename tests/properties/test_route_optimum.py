"""Order of stops against every order there is on small farms, on large ones against a lower bound."""

from __future__ import annotations

from itertools import permutations, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse.csgraph import minimum_spanning_tree

from effort import effort
from ringrow.geometry.visit_order import nearest_order, tour_s, visit_order

TICK_S = 1e-3
"""The solver counts milliseconds; a leg is off by half of one at most."""


def _plane(rng: np.random.Generator, places: int) -> np.ndarray:
    xy = rng.uniform(0, 900, (places, 2))
    return np.hypot(*(xy[:, None] - xy[None]).transpose(2, 0, 1))


def _shortest(travel: np.ndarray, work: np.ndarray, places: tuple[int, ...]) -> float:
    return min(tour_s(travel, work, order) for order in permutations(places)) if places else 0.0


def _tree_bound(travel: np.ndarray) -> float:
    """Lower bound of any tour: spanning trees over all places but 0, and the two shortest legs of 0.

    Held and Karp 1970 (from memory): a weight on each place adds twice its sum to every tour alike, so
    weights may be chosen that bring the tree as near to a tour as can be.
    """
    weights, best, step = np.zeros(len(travel)), 0.0, travel.mean() / 20
    for _ in range(300):
        table = travel + weights[:, None] + weights[None]
        # Weights may make a leg 0 or less, which a sparse tree takes for no leg at all.
        lift = 1.0 - min(table.min(), 0.0)
        tree = minimum_spanning_tree(table[1:, 1:] + lift).tocoo()
        near = np.argsort(table[0, 1:])[:2] + 1
        length = tree.data.sum() - lift * tree.nnz + table[0, near].sum() - 2 * weights.sum()
        best = max(best, float(length))
        ends = np.concatenate([tree.row + 1, tree.col + 1, near, [0, 0]])
        weights = weights + step * (np.bincount(ends, minlength=len(travel)) - 2)
        step *= 0.985
    return best


@settings(max_examples=effort(25))
@given(seed=st.integers(0, 10_000), stops=st.integers(1, 7))
def test_one_crew_takes_the_shortest_of_all_orders(seed: int, stops: int) -> None:
    rng = np.random.default_rng(seed)
    travel, work = _plane(rng, stops + 1), rng.uniform(0, 3600, stops + 1)
    (tour,) = visit_order(travel, work)
    best = _shortest(travel, work, tuple(range(1, stops + 1)))
    assert sorted(tour) == list(range(1, stops + 1))
    assert tour_s(travel, work, tour) == pytest.approx(best, abs=TICK_S * (stops + 1))


def test_eight_stops_against_all_40320_orders() -> None:
    for seed in range(3):
        travel = _plane(np.random.default_rng(seed), 9)
        orders = np.array(list(permutations(range(1, 9))))
        whole = np.hstack([np.zeros((len(orders), 1), int), orders, np.zeros((len(orders), 1), int)])
        best = travel[whole[:, :-1], whole[:, 1:]].sum(axis=1).min()
        (tour,) = visit_order(travel, np.zeros(9))
        assert tour_s(travel, np.zeros(9), tour) == pytest.approx(best, abs=TICK_S * 9)


@settings(max_examples=effort(15))
@given(seed=st.integers(0, 10_000), stops=st.integers(2, 6), crews=st.integers(2, 3))
def test_the_longest_of_several_tours_is_the_least_that_any_sharing_out_has(
    seed: int, stops: int, crews: int
) -> None:
    rng = np.random.default_rng(seed)
    travel, work = _plane(rng, stops + 1), rng.uniform(0, 900, stops + 1)
    tours = visit_order(travel, work, crews=crews)
    best = min(
        max(
            _shortest(travel, work, tuple(at + 1 for at, owner in enumerate(owners) if owner == crew))
            for crew in range(crews)
        )
        for owners in product(range(crews), repeat=stops)
    )
    assert len(tours) == crews
    assert sorted(at for tour in tours for at in tour) == list(range(1, stops + 1))
    # Balancing is told to stop when the longest tour is known to 0.1 %.
    assert best - TICK_S * 9 <= max(tour_s(travel, work, tour) for tour in tours) <= best * 1.001 + TICK_S * 9


@settings(max_examples=effort(10))
@given(seed=st.integers(0, 10_000))
def test_ways_there_and_back_may_differ(seed: int) -> None:
    rng = np.random.default_rng(seed)
    travel = rng.uniform(10, 900, (7, 7)) * (1 - np.eye(7))
    (tour,) = visit_order(travel, np.zeros(7))
    best = _shortest(travel, np.zeros(7), tuple(range(1, 7)))
    assert tour_s(travel, np.zeros(7), tour) == pytest.approx(best, abs=TICK_S * 7)


@settings(max_examples=effort(15))
@given(seed=st.integers(0, 10_000), crews=st.integers(1, 2))
def test_what_comes_first_comes_first_and_is_still_the_best_order(seed: int, crews: int) -> None:
    rng = np.random.default_rng(seed)
    travel = _plane(rng, 7)
    first = np.append(False, rng.uniform(size=6) < 0.4)
    tours = visit_order(travel, np.zeros(7), crews=crews, ahead=first)
    for tour in tours:
        assert [bool(first[at]) for at in tour] == sorted((bool(first[at]) for at in tour), reverse=True)
    if crews == 1:
        ahead = [at for at in range(1, 7) if first[at]]
        after = [at for at in range(1, 7) if not first[at]]
        best = min(
            tour_s(travel, np.zeros(7), [*one, *other])
            for one in permutations(ahead)
            for other in permutations(after)
        )
        assert tour_s(travel, np.zeros(7), tours[0]) == pytest.approx(best, abs=TICK_S * 7)


@pytest.mark.parametrize("seed", [11])
def test_two_hundred_stops_are_no_longer_than_nearest_next_and_near_a_lower_bound(seed: int) -> None:
    travel, work = _plane(np.random.default_rng(seed), 201), np.zeros(201)
    (tour,) = visit_order(travel, work)
    found = tour_s(travel, work, tour)
    assert sorted(tour) == list(range(1, 201))
    assert found <= tour_s(travel, work, nearest_order(travel))
    # No tour is shorter than this bound; within 3 % of it is within 3 % of the best there is.
    bound = _tree_bound(travel)
    assert bound <= found <= 1.03 * bound


def test_sixty_stops_for_three_crews_are_balanced_and_none_is_left() -> None:
    rng = np.random.default_rng(7)
    travel, work = _plane(rng, 61), rng.uniform(300, 1800, 61)
    tours = visit_order(travel, work, crews=3)
    lengths = [tour_s(travel, work, tour) for tour in tours]
    assert sorted(at for tour in tours for at in tour) == list(range(1, 61))
    assert max(lengths) <= 1.05 * min(lengths)
    # Sharing out cannot beat the work and one crew's travel divided by three.
    assert max(lengths) >= work[1:].sum() / 3


def test_the_same_question_gets_the_same_answer() -> None:
    travel, work = _plane(np.random.default_rng(5), 41), np.full(41, 600.0)
    assert visit_order(travel, work, crews=2) == visit_order(travel, work, crews=2)

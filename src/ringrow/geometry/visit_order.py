"""The order in which places are visited: one tour, or several balanced by time.

A tour starts at place 0, visits its places and comes back. Finding the best order is left to a
vehicle-routing library; what is here is how the question is put to it, and a plain rule (always
the nearest next) that its answer is never worse than.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from ringrow.errors import DomainError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

SEED = 1
"""Seed of the solver's random numbers: the same question gets the same answer."""
MOST_CREWS = 50
"""More crews than this are a slip of the finger."""
_TICKS_PER_S = 1000
"""The solver counts in whole numbers: milliseconds."""
_CLOSE_PCT = 0.1
"""Balancing stops when the longest tour is known to this share [%]; of many places, to five times that."""
_MANY = 20
_MOST_STEPS = 14
_LIMIT = 2**40
"""Longest tour the solver is asked about [ms], some 35 years."""


def visit_order(
    travel_s: ArrayLike,
    work_s: ArrayLike,
    *,
    crews: int = 1,
    ahead: ArrayLike | None = None,
    seed: int = SEED,
) -> list[list[int]]:
    """Return which crew visits which places, and in which order.

    One crew's tour is as short as the solver finds it. Several crews are balanced: the longest
    tour, travel and work together, is made as short as it can be found, then the travel of all.

    Parameters
    ----------
    travel_s : array_like, shape (n, n)
        Time from each place to each other, 0 or more; place 0 is where tours start and end. [s]
    work_s : array_like, shape (n,)
        Time spent at each place, 0 or more; that of place 0 does not count. [s]
    crews : int, default 1
        How many crews, 1 to 50. [-]
    ahead : array_like of bool, shape (n,), default None
        Places that every crew visits before any of its others; None for none.
    seed : int, default 1
        Seed of the solver's random numbers. [-]

    Returns
    -------
    list of list of int
        Positions of the places of each crew's tour in order, place 0 left out; a crew with nothing
        to do has an empty list.

    Raises
    ------
    DomainError
        If `crews` cannot be, a time is not finite or below 0, or the arrays do not fit each other.

    Examples
    --------
    Places on a line, 0 in the middle:

    >>> at = np.array([0, 10, 30, -20])
    >>> visit_order(abs(at[:, None] - at), [0, 5, 5, 5])
    [[1, 2, 3]]
    >>> visit_order(abs(at[:, None] - at), [0, 5, 5, 5], crews=2)
    [[1, 2], [3]]
    """
    travel, work = _checked(travel_s, work_s, crews)
    places = len(travel) - 1
    if places == 0:
        return [[] for _ in range(crews)]
    early = np.zeros(len(travel), bool) if ahead is None else np.asarray(ahead, bool)
    # A leg from a place that can wait to one that cannot costs more than all legs together.
    dear = int(travel.sum(axis=1).max()) * (places + 1) + 1
    cost = travel + dear * (~early[:, None] & early[None, :] & (np.arange(len(travel)) > 0)[:, None])
    whole = _one_tour(cost, list(range(1, len(travel))), seed)
    tours = [whole] if crews == 1 else _balanced(travel, work, cost, dear, whole, crews=crews, seed=seed)
    tours = sorted((_turned(cost, tour) for tour in tours if tour), key=lambda tour: tour[0])
    return tours + [[] for _ in range(crews - len(tours))]


def nearest_order(travel_s: ArrayLike) -> list[int]:
    """Return places in the order of a plain rule: always the nearest that is left.

    Parameters
    ----------
    travel_s : array_like, shape (n, n)
        Time from each place to each other; place 0 is the start. [s]

    Returns
    -------
    list of int
        Positions of the places in order, place 0 left out; ties go to the lower position.

    Examples
    --------
    >>> at = np.array([0, 10, 30, -15])
    >>> nearest_order(abs(at[:, None] - at))
    [1, 2, 3]
    """
    travel = np.array(travel_s, float)
    travel[:, 0] = np.inf
    here, order = 0, []
    for _ in range(len(travel) - 1):
        travel[:, here] = np.inf
        here = int(np.argmin(travel[here]))
        order.append(here)
    return order


def tour_s(travel_s: ArrayLike, work_s: ArrayLike, tour: Sequence[int]) -> float:
    """Return how long a tour takes, from place 0 and back to it.

    Parameters
    ----------
    travel_s : array_like, shape (n, n)
        Time from each place to each other. [s]
    work_s : array_like, shape (n,)
        Time spent at each place. [s]
    tour : sequence of int
        Positions of the places in order, place 0 left out.

    Returns
    -------
    float
        Travel and work; 0 for an empty tour. [s]

    Examples
    --------
    >>> tour_s([[0, 10], [12, 0]], [0, 5], [1])
    27.0
    """
    travel, work = np.asarray(travel_s, float), np.asarray(work_s, float)
    return float(_travel(travel, tour) + work[list(tour)].sum()) if tour else 0.0


def _checked(
    travel_s: ArrayLike, work_s: ArrayLike, crews: int
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    travel, work = np.asarray(travel_s, float), np.asarray(work_s, float)
    if not 1 <= crews <= MOST_CREWS:
        message = f"crews: found {crews}; allowed: 1 to {MOST_CREWS}"
        raise DomainError(message)
    if travel.ndim != 2 or travel.shape[0] != travel.shape[1] or work.shape != travel.shape[:1]:
        message = f"order of stops: found tables {travel.shape} and {work.shape}; allowed: (n, n) and (n,)"
        raise DomainError(message)
    top = _LIMIT / _TICKS_PER_S / max(len(travel), 1)
    for name, values in (("travel", travel), ("work", work)):
        wrong = values[~((values >= 0) & (values < top))]
        if wrong.size:
            message = f"order of stops, {name}: found {wrong[0]:g} s; allowed: 0 to {top:g} s"
            raise DomainError(message)
    work = np.where(np.arange(len(work)) == 0, 0.0, work)
    return _ticks(travel), _ticks(work)


def _ticks(seconds: NDArray[np.float64]) -> NDArray[np.int64]:
    return np.rint(seconds * _TICKS_PER_S).astype(np.int64)


def _travel(table: NDArray[Any], tour: Sequence[int]) -> Any:
    return sum(table[a, b] for a, b in pairwise((0, *tour, 0)))


def _turned(cost: NDArray[np.int64], tour: list[int]) -> list[int]:
    """Return the tour the way round whose first leg is shorter, where both ways cost the same."""
    back = tour[::-1]
    same = _travel(cost, back) == _travel(cost, tour)
    return back if same and cost[0, back[0]] < cost[0, tour[0]] else tour


def _rounds(places: int) -> int:
    # About 1 s for 200 places; ten times the rounds shortened tours of 200 by 0.2 % at most.
    return min(300 + 12 * places, 2_500)


def _one_tour(cost: NDArray[np.int64], places: list[int], seed: int) -> list[int]:
    held = [0, *places]
    table = cost[np.ix_(held, held)]
    plain = nearest_order(table)
    found = _solved(table, table, np.zeros(len(held), np.int64), [plain], None, seed)
    best = min((plain, *([found[0]] if found else [])), key=lambda tour: _travel(table, tour))
    return [held[at] for at in best]


def _balanced(
    travel: NDArray[np.int64],
    work: NDArray[np.int64],
    cost: NDArray[np.int64],
    dear: int,
    whole: list[int],
    *,
    crews: int,
    seed: int,
) -> list[list[int]]:
    """Halve the gap between what the longest tour must take and what it takes, then polish each tour."""

    def longest(tours: list[list[int]]) -> int:
        return max(int(_travel(travel, tour) + work[tour].sum()) for tour in tours if tour)

    best = _split(travel, work, whole, crews)
    high = longest(best)
    alone = travel[0, 1:] + travel[1:, 0] + work[1:]
    low = max(int(alone.max()), int(work.sum()) // crews)
    close_pct = _CLOSE_PCT if len(whole) <= _MANY else 5 * _CLOSE_PCT

    def within(limit: int, *, any_will_do: bool) -> list[list[int]] | None:
        """Ask for tours no longer than a limit: the first that are found, or the shortest together."""
        found = _solved(cost, travel, work, best, limit, seed, crews=crews, any_will_do=any_will_do)
        kept = found and all(_travel(cost, tour) < dear for tour in found) and longest(found) <= limit
        return found if kept else None

    for _ in range(_MOST_STEPS):
        if high - low <= high * close_pct / 100:
            break
        limit = (low + high) // 2
        found = within(limit, any_will_do=True)
        if found:
            best, high = found, longest(found)
        else:
            low = limit
    best = within(high, any_will_do=False) or best
    return [_one_tour(cost, tour, seed) for tour in best if tour]


def _split(
    travel: NDArray[np.int64], work: NDArray[np.int64], whole: list[int], crews: int
) -> list[list[int]]:
    """Cut one tour into runs so that the longest is as short as cutting can make it."""
    size = len(whole)
    steps = np.array([travel[a, b] for a, b in pairwise(whole)] + [0])
    inside = np.concatenate([[0], np.cumsum(work[whole] + steps)])
    # length[i, j]: a tour of the places i to j - 1.
    out, back = travel[0, whole], travel[whole, 0]
    length = np.full((size + 1, size + 1), 0, np.int64)
    for i in range(size):
        j = np.arange(i, size)
        length[i, i + 1 :] = out[i] + inside[j] - inside[i] + work[np.array(whole)[j]] + back[j]
    best = length[0].copy()
    cuts = [np.zeros(size + 1, int)]
    for _ in range(crews - 1):
        # Runs from i on, after the best cut of everything before i.
        options = np.where(np.tri(size + 1, dtype=bool).T, np.maximum(best[:, None], length), _LIMIT)
        cuts.append(options.argmin(axis=0))
        best = options.min(axis=0)
    tours, end = [], size
    for cut in reversed(cuts):
        tours.append(whole[int(cut[end]) : end])
        end = int(cut[end])
    return tours


def _solved(
    cost: NDArray[np.int64],
    travel: NDArray[np.int64],
    work: NDArray[np.int64],
    start: list[list[int]],
    limit: int | None,
    seed: int,
    *,
    crews: int = 1,
    any_will_do: bool = False,
) -> list[list[int]] | None:
    """Ask the library; None when it finds no answer within the limit."""
    # Heavy, and needed nowhere else.
    import pyvrp
    from pyvrp.stop import FirstFeasible, MaxIterations, MultipleCriteria

    # The library's type notes ask for more than it needs.
    distances: Any = cost
    durations: Any = travel
    data = pyvrp.ProblemData(
        locations=[pyvrp.Location(0, 0) for _ in range(len(cost))],
        clients=[pyvrp.Client(at, service_duration=int(work[at])) for at in range(1, len(cost))],
        depots=[pyvrp.Depot(0)],
        vehicle_types=[pyvrp.VehicleType(crews, shift_duration=limit or _LIMIT * 4)],
        distance_matrices=[distances],
        duration_matrices=[durations],
    )
    first = pyvrp.Solution(data, [[at - 1 for at in tour] for tour in start if tour])
    rounds = MaxIterations(_rounds(len(cost) - 1) // (1 if limit is None else 3))
    result = pyvrp.solve(
        data,
        MultipleCriteria([rounds, FirstFeasible()]) if any_will_do else rounds,
        seed=seed,
        collect_stats=False,
        display=False,
        initial_solution=first,
    )
    if not result.is_feasible():
        return None
    return [[int(at) + 1 for at in _visits(route)] for route in result.best.routes()]


def _visits(route: Any) -> list[int]:
    return [activity.idx for activity in route if activity.is_client()]

"""Chances of laterals and outlets: hand figures, the rules of listing, and trials by chance."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from ringrow.coverage.accuracy import DEFAULT_ACCURACY, KINDS, Accuracy, parse_accuracy
from ringrow.coverage.chances import (
    LAYING_SIGMA_M,
    lateral_chances,
    outlet_chances,
    strip_chance,
)
from ringrow.errors import PlaceError
from ringrow.geometry.laterals import lay_laterals

SPACING_M = 1.524
BLOCK = shapely.box(0, 0, 200, 60 * SPACING_M)


def laid(ground=BLOCK, *, spacing_m=SPACING_M):
    """Laterals running east, header in the west, lateral 1 in the north."""
    return lay_laterals(BLOCK, ground, heading_deg=90, number_from_deg=0, header_deg=270, spacing_m=spacing_m)


def north_of(lateral: int, offset_m: float = 0.0) -> float:
    """Return y of a place `offset_m` from a lateral toward higher numbers."""
    return 60 * SPACING_M - (lateral - 0.5) * SPACING_M - offset_m


def normal(z: float) -> float:
    return 0.5 * (1 + math.erf(z / math.sqrt(2)))


def test_strip_chance_of_one_sigma_each_side() -> None:
    """68.27 % of a normal law lies within one sigma (from memory)."""
    assert strip_chance(0.0, 2.0, 1.0) == pytest.approx(0.6827, abs=5e-5)


def test_strip_chance_is_half_on_the_edge_of_a_wide_strip() -> None:
    assert strip_chance([50.0, -50.0], 100.0, 2.0) == pytest.approx([0.5, 0.5], abs=1e-12)


def test_strip_chance_keeps_its_digits_far_away() -> None:
    """Twelve sigma off, 1 - Phi taken the obvious way would be exactly 0."""
    exact = 0.5 * (math.erfc(11.5 / math.sqrt(2)) - math.erfc(12.5 / math.sqrt(2)))
    assert strip_chance([12.0, -12.0], 1.0, 1.0) == pytest.approx([exact, exact], rel=1e-9, abs=0)


def test_strips_side_by_side_share_out_everything() -> None:
    offsets = np.arange(-200, 201) * 3.0 + 0.7
    assert strip_chance(offsets, 3.0, 4.0).sum() == pytest.approx(1.0, abs=1e-12)


def test_chance_of_each_lateral_is_the_formula_with_laying_spread() -> None:
    """Phi((d + s/2)/sigma) - Phi((d - s/2)/sigma), sigma2 = fix2 + laying2, written out with erf."""
    offset = 0.3
    found = lateral_chances(laid(), [100.0], [north_of(20, offset)], 1.0)
    sigma = math.sqrt(1.0 + (1.3 * 0.0254) ** 2)
    for candidate in found.candidates()[0]:
        d = offset - (candidate.lateral - 20) * SPACING_M
        exact = normal((d + SPACING_M / 2) / sigma) - normal((d - SPACING_M / 2) / sigma)
        assert candidate.chance == pytest.approx(exact, abs=1e-12)


def test_candidates_fall_in_chance_and_stop_at_095() -> None:
    (candidates,) = lateral_chances(laid(), [100.0], [north_of(20, 0.3)], 2.0).candidates()
    chances = [each.chance for each in candidates]
    assert [each.lateral for each in candidates] == [20, 21, 19, 22, 18, 23]
    assert chances == sorted(chances, reverse=True)
    assert sum(chances) >= 0.95 > sum(chances[:-1])


def test_two_laterals_equally_far_come_lower_number_first() -> None:
    (candidates,) = lateral_chances(laid(), [100.0], [north_of(20)], 2.0).candidates()
    assert [each.lateral for each in candidates] == [20, 19, 21, 18, 22, 17, 23][: len(candidates)]
    assert candidates[1].chance == pytest.approx(candidates[2].chance, abs=1e-12)


def test_a_survey_receiver_names_one_lateral() -> None:
    found = lateral_chances(laid(), [100.0], [north_of(20, 0.1)], 0.02)
    assert [each.lateral for each in found.candidates()[0]] == [20]
    assert found.elsewhere[0] == pytest.approx(0.0, abs=1e-12)


def test_laying_spread_alone_bounds_the_best_receiver() -> None:
    """With a perfect fix on the line between two laterals it is an even chance."""
    found = lateral_chances(laid(), [100.0], [north_of(20, SPACING_M / 2)], 1e-9)
    assert found.chance[0] == pytest.approx([0.5, 0.5], abs=1e-6)


def test_at_the_edge_of_the_block_the_rest_is_elsewhere() -> None:
    """On the numbering edge half of the chance lies outside the block."""
    found = lateral_chances(laid(), [100.0], [60 * SPACING_M], 2.0)
    assert found.elsewhere[0] == pytest.approx(0.5, abs=1e-6)
    assert sum(each.chance for each in found.candidates()[0]) <= 0.5


def test_only_laterals_with_tape_within_three_sigma_along_the_row_count() -> None:
    """Laterals 20 to 22 are cut for 40 m: in the middle of the gap they count from 3 sigma = 20 m up."""
    pond = shapely.box(80, north_of(22, 0.5), 120, north_of(20, -0.5))
    grid = laid(BLOCK.difference(pond))
    for sigma, seen in ((20.1 / 3, True), (19.9 / 3, False)):
        fix = math.sqrt(sigma**2 - LAYING_SIGMA_M**2)
        found = lateral_chances(grid, [100.0], [north_of(21)], fix)
        laterals = {each.lateral for each in found.candidates()[0]}
        assert ({20, 21, 22} <= laterals) is seen
        assert {19, 23} <= laterals
        without = 0.0 if seen else sum(strip_chance(k * SPACING_M, SPACING_M, sigma) for k in (-1, 0, 1))
        # The block's own edges are 20 laterals off; what lies past them is elsewhere as well.
        past = 1 - strip_chance(np.arange(-20, 40) * SPACING_M, SPACING_M, sigma).sum()
        assert found.elsewhere[0] == pytest.approx(without + past, abs=1e-9)


def test_far_from_all_tape_everything_is_elsewhere() -> None:
    found = lateral_chances(laid(), [100.0, 400.0], [500.0, 40.0], 2.0)
    assert found.candidates() == [(), ()]
    assert found.elsewhere == pytest.approx([1.0, 1.0])


def test_a_block_without_tape_answers_elsewhere() -> None:
    found = lateral_chances(laid(shapely.Polygon()), [100.0], [40.0], 2.0)
    assert found.candidates() == [()]
    assert found.elsewhere.tolist() == [1.0]


def test_no_points_give_no_answers() -> None:
    found = lateral_chances(laid(), [], [], 2.0)
    assert found.candidates() == []
    assert found.elsewhere.shape == (0,)


def test_a_very_coarse_fix_lists_nothing_below_one_in_a_thousand() -> None:
    """Sigma 1 km over strips of 1.5 m: at most 0.0006 each."""
    found = lateral_chances(laid(), [100.0], [40.0], 1000.0)
    assert found.candidates() == [()]
    assert found.elsewhere[0] == pytest.approx(1 - 60 * SPACING_M / (1000 * math.sqrt(2 * math.pi)), abs=1e-4)


def test_each_point_may_have_its_own_sigma() -> None:
    y = [north_of(20, 0.3)] * 2
    both = lateral_chances(laid(), [100.0, 100.0], y, [0.5, 3.0]).candidates()
    assert both[0] == lateral_chances(laid(), [100.0], y[:1], 0.5).candidates()[0]
    assert both[1] == lateral_chances(laid(), [100.0], y[:1], 3.0).candidates()[0]


def test_many_points_worked_in_blocks_answer_as_one_by_one() -> None:
    """6,000 points by a window of 25 laterals are three blocks of 2,621 points and less."""
    rng = np.random.default_rng(20261125)
    x, y = rng.uniform(-5, 205, 6_000), rng.uniform(-5, 97, 6_000)
    found = lateral_chances(laid(), x, y, 2.0)
    listed = found.candidates()
    for index in (0, 2_620, 2_621, 5_241, 5_242, 5_999):
        alone = lateral_chances(laid(), x[index], y[index], 2.0)
        assert alone.candidates() == [listed[index]]
        assert alone.elsewhere[0] == pytest.approx(found.elsewhere[index], abs=1e-15)


def test_lateral_chances_come_true_in_trials() -> None:
    """Places strewn evenly, fixes strewn round them: each is right as often as it says.

    200,000 trials, fixed seed; 4 standard errors of the share right.
    """
    rng = np.random.default_rng(43)
    trials, fix_sigma = 200_000, 1.6
    # Well inside the block, so that no true place lies outside it.
    true_y = rng.uniform(25 * SPACING_M, 35 * SPACING_M, trials)
    error = rng.normal(0, math.hypot(fix_sigma, LAYING_SIGMA_M), trials)
    truth = np.ceil((60 * SPACING_M - true_y) / SPACING_M).astype(int)
    # Keep fixes from the middle, where true places lie on both sides.
    fix_y = true_y + error
    kept = np.abs(fix_y - 30 * SPACING_M) < 0.5 * SPACING_M
    found = lateral_chances(laid(), np.full(kept.sum(), 100.0), fix_y[kept], fix_sigma)
    for rank in range(4):
        right = found.lateral[:, rank] == truth[kept]
        said = found.chance[:, rank]
        error_of_share = math.sqrt((said * (1 - said)).sum()) / kept.sum()
        assert right.mean() == pytest.approx(said.mean(), abs=4 * error_of_share)
    among = (found.lateral == truth[kept][:, None]).any(axis=1).mean()
    assert among >= 0.95


def test_outlet_cells_are_open_ended() -> None:
    found = outlet_chances([30.0, 40.0, 50.0], [0.0, 500.0], 5.0)
    assert found.outlet.tolist() == [1, 3]
    assert found.chance == pytest.approx([1.0, 1.0], abs=1e-9)


def test_outlet_range_is_one_outlet_when_it_is_safe() -> None:
    found = outlet_chances(np.arange(1, 50) * 3.0, [30.0], 0.5)
    assert (found.outlet[0], found.first[0], found.last[0]) == (10, 10, 10)
    assert found.chance[0] == pytest.approx(0.9973, abs=5e-5)  # 3 sigma, from memory


def test_halfway_between_two_outlets_the_inner_one_is_taken() -> None:
    assert outlet_chances([3.0, 6.0], [4.5], 1.0).outlet.tolist() == [1]


def test_one_outlet_is_certain() -> None:
    found = outlet_chances([30.0], [10.0], 50.0)
    assert (found.outlet[0], found.first[0], found.last[0], found.chance[0]) == (1, 1, 1, 1.0)


def test_without_outlets_nothing_is_named() -> None:
    found = outlet_chances([], [10.0], 2.0)
    assert (found.outlet[0], found.first[0], found.last[0]) == (0, 0, 0)
    assert math.isnan(found.chance[0])


@given(
    gaps=st.lists(st.floats(0.3, 12.0), min_size=1, max_size=25),
    at=st.floats(0, 1),
    sigma=st.floats(0.05, 60.0),
)
def test_outlet_range_is_the_shortest_of_all_runs_tried(gaps: list[float], at: float, sigma: float) -> None:
    """Every run around the nearest outlet is weighed with erf; none shorter holds 0.95."""
    outlets = np.cumsum(gaps)
    distance = at * (outlets[-1] + 10.0)
    edges = [-math.inf, *((outlets[1:] + outlets[:-1]) / 2), math.inf]
    nearest = int(np.argmin(np.abs(outlets - distance)))
    found = outlet_chances(outlets, [distance], sigma)
    below = [normal((edge - distance) / sigma) for edge in edges]
    held = {
        (first, last): below[last + 1] - below[first]
        for first in range(nearest + 1)
        for last in range(nearest, len(outlets))
    }
    mine = held[found.first[0] - 1, found.last[0] - 1]
    assert mine >= 0.95 - 1e-12
    shorter = [share for (a, b), share in held.items() if b - a < found.last[0] - found.first[0]]
    assert all(share < 0.95 + 1e-12 for share in shorter)
    as_short = [share for (a, b), share in held.items() if b - a == found.last[0] - found.first[0]]
    assert mine == pytest.approx(max(as_short), abs=1e-9)


def test_outlet_chances_come_true_in_trials() -> None:
    """200,000 places strewn along the pipe, fixed seed; 4 standard errors."""
    rng = np.random.default_rng(7)
    outlets = 3.0 + 2.9 * np.arange(130)
    true = rng.uniform(100.0, 300.0, 200_000)
    seen = true + rng.normal(0, 2.0, true.size)
    seen, true = seen[(seen > 120) & (seen < 280)], true[(seen > 120) & (seen < 280)]
    found = outlet_chances(outlets, seen, 2.0)
    truth = np.rint((true - 3.0) / 2.9) + 1
    said = found.chance
    error = math.sqrt((said * (1 - said)).sum()) / said.size
    assert (found.outlet == truth).mean() == pytest.approx(said.mean(), abs=4 * error)
    assert ((found.first <= truth) & (truth <= found.last)).mean() >= 0.95


@pytest.mark.parametrize(
    ("text", "radius_m", "kind"),
    [
        ("16 ft r95", 4.8768, "r95"),
        ("16", 4.8768, "r95"),
        ("16ft", 4.8768, "r95"),
        ("3.5 m r68", 3.5, "r68"),
        ("2 M RMS", 2.0, "rms"),
        (".5 m cep", 0.5, "cep"),
    ],
)
def test_accuracy_as_people_write_it(text: str, radius_m: float, kind: str) -> None:
    accuracy = parse_accuracy(text)
    assert (accuracy.radius_m, accuracy.kind, accuracy.assumed) == (pytest.approx(radius_m), kind, False)


def test_accuracy_without_a_unit_takes_the_farms() -> None:
    assert parse_accuracy("5", default_unit="m").radius_m == 5.0


@pytest.mark.parametrize("text", ["", "good", "-3 ft", "0 ft", "nan m", "5 km", "16 ft r99", "1e3", "5000 m"])
def test_accuracy_that_cannot_be(text: str) -> None:
    with pytest.raises(PlaceError, match=r'accuracy: found ".*"; allowed: a number above 0, ft or m'):
        parse_accuracy(text)


@pytest.mark.parametrize(
    ("radius_m", "kind"), [(0.0, "r95"), (math.nan, "r95"), (math.inf, "cep"), (5.0, "r99")]
)
def test_an_accuracy_is_checked_when_built(radius_m: float, kind: str) -> None:
    with pytest.raises(
        PlaceError, match=r"accuracy: found .*; allowed: a radius above 0 and one of r95, r68"
    ):
        Accuracy(radius_m=radius_m, kind=kind)


def test_the_default_accuracy_says_that_it_is_assumed() -> None:
    assert DEFAULT_ACCURACY.assumed
    assert DEFAULT_ACCURACY.sigma_m == pytest.approx(16 * 0.3048 / KINDS["r95"])

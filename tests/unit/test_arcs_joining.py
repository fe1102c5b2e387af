"""Arcs of a turn joined and cut to a sector."""

import pytest

from ringrow.geometry.angles import join_arcs, within_turn


@pytest.mark.parametrize(
    ("arcs", "joined"),
    [
        ([], ()),
        ([(20, 71)], ((20, 71),)),
        ([(20, 71), (60, 100)], ((20, 100),)),
        ([(20, 71), (71, 100)], ((20, 100),)),
        ([(60, 100), (20, 71), (200, 210)], ((20, 100), (200, 210))),
        ([(300, 20), (10, 40)], ((300, 40),)),
        ([(350, 10), (340, 300)], ((340, 300),)),
        ([(300, 50), (10, 40), (45, 60)], ((300, 60),)),
        ([(0, 180), (180, 0)], "full"),
        ([(0, 200), (100, 10)], "full"),
        ([(10, 9)], ((10, 9),)),
        ([(10, 9), (9, 10)], "full"),
    ],
)
def test_on_a_full_circle(arcs, joined):
    assert join_arcs(arcs) == joined


@pytest.mark.parametrize(
    ("arcs", "joined"),
    [
        ([(30, 40)], ((30, 40),)),
        ([(0, 30)], ((20, 30),)),
        ([(300, 350)], ((300, 310),)),
        ([(0, 350)], ((20, 310),)),
        ([(312, 18)], ()),
        ([(300, 40)], ((20, 40), (300, 310))),
        ([(300, 40), (35, 305)], ((20, 310),)),
        ([(10, 20)], ()),
    ],
)
def test_within_a_sector_from_20_to_310(arcs, joined):
    assert join_arcs(arcs, limits_deg=(20, 310)) == joined


def test_ends_come_back_as_the_numbers_given():
    start, stop = 123.45600000000002, 71.10000000000001
    assert join_arcs([(start, stop)], limits_deg=(100.1, 90.3)) == ((start, stop),)


def test_a_hair_below_zero_is_zero_not_360():
    assert within_turn(-1e-20) == 0.0
    assert within_turn(725.0) == 5.0

"""Places on bends, corner arms and lateral moves in the words people read, and as JSON values."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from ringrow.coverage.places import ArmPlace, BendPlace, LateralMovePlace, PivotPlace, Place
from ringrow.handoff.place_record import move_record, pivot_record, place_record
from ringrow.handoff.place_words import place_words
from ringrow.units import FOOT_M, METRIC, US


def pivot(**changes: Any) -> PivotPlace:
    plain: dict[str, Any] = {
        "name": "P1", "distance_m": 700 * FOOT_M, "azimuth_deg": 81.24, "panel_deg": 351.24, "span": 5,
        "part": "span", "tower": 5, "tower_offset_m": -3 * FOOT_M, "outlet": None, "outlet_range": None,
        "outlet_chance": None, "inside": True,
    }  # fmt: skip
    return PivotPlace(**(plain | changes))


def lines(**place: Any) -> list[str]:
    plain: dict[str, Any] = {"field": "F", "farmable": True, "irrigated": True, "pivots": (), "drip": ()}
    return place_words(Place(**(plain | place)), US).splitlines()[2:]


BENT = pivot(bend=BendPlace(at="stop", tower=3, turned_deg=23.46, pipe_m=907 * FOOT_M))
ARM = ArmPlace(
    along_m=280 * FOOT_M, wheel_offset_m=18 * FOOT_M, pipe_m=1500 * FOOT_M, angle_deg=142.4,
    azimuth_deg=44.02, panel_deg=314.02,
)  # fmt: skip
ON_ARM = pivot(span=None, part="arm", arm=ARM, tower_offset_m=200 * FOOT_M)
MOVE = LateralMovePlace(
    name="L1", travel_m=850 * FOOT_M, side="left", offset_m=507 * FOOT_M, span=3, part="span", tower=3,
    tower_offset_m=-3 * FOOT_M, inside=True,
)  # fmt: skip


def test_a_bend_says_how_far_the_outer_spans_have_walked() -> None:
    assert lines(pivots=(BENT,)) == [
        "P1 (wets this place)",
        "  700 ft from the pivot point",
        "  azimuth 81.2 (panel 351.2)",
        "  under span 5",
        "  past the stop: the spans past tower 3 have walked on 23.5 degrees",
        "  907 ft along the pipe",
        "  nearest tower 5: 3 ft inside its wheel track",
    ]
    record = pivot_record(BENT, US)
    assert record["bend"] == {"at": "stop", "tower": 3, "turned_deg": 23.46}
    assert record["pipe_ft"] == pytest.approx(907, rel=1e-12)
    assert record["arm"] is None


def test_a_corner_arm_says_where_the_main_pipe_then_stands() -> None:
    assert lines(pivots=(ON_ARM,))[3:6] == [
        "  past the last tower, under the corner arm",
        "  280 ft along the corner arm from its hinge, 18 ft outside its steered wheels",
        "  main pipe then at azimuth 44.0 (panel 314.0), hinge at 142 degrees",
    ]
    assert pivot_record(ON_ARM, METRIC)["arm"] == {
        "along_m": ARM.along_m,
        "wheel_offset_m": ARM.wheel_offset_m,
        "hinge_deg": 142.4,
        "azimuth_deg": 44.02,
        "panel_deg": 314.02,
    }


def test_a_lateral_move_says_travel_side_and_tower() -> None:
    assert lines(lateral_moves=(MOVE,)) == [
        "L1 (wets this place)",
        "  travel 850 ft from the start of its path",
        "  507 ft left of the cart",
        "  under span 3 on the left",
        "  nearest tower 3 left: 3 ft inside its wheel track",
    ]
    record = place_record(
        Place(field="F", farmable=True, irrigated=True, pivots=(), drip=(), lateral_moves=(MOVE,)),
        US,
        assumed={"L1": ("left throw taken as 0 ft",)},
    )
    assert record["lateral_moves"] == [{**move_record(MOVE, US), "assumed": ["left throw taken as 0 ft"]}]
    assert list(move_record(MOVE, METRIC)) == [
        "name", "travel_m", "side", "cart_m", "span", "part", "tower", "tower_offset_m", "inside",
    ]  # fmt: skip


def test_a_lateral_move_that_does_not_reach() -> None:
    past = lines(lateral_moves=(replace(MOVE, inside=False),))
    assert past[0] == "L1 (does not wet this place)"
    assert past[3] == "  as far from the cart as span 3 on the left, past an end of its path"
    none = replace(
        MOVE, inside=False, span=None, tower=None, tower_offset_m=None, part="beyond", travel_m=None
    )
    assert lines(lateral_moves=(none,))[1:] == [
        "  travel not known",
        "  507 ft left of the cart",
        "  beyond its water",
    ]
    assert move_record(none, US)["tower_offset_ft"] is None

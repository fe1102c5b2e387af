"""Spots as JSON values: there and back, and what is refused."""

from __future__ import annotations

import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ringrow.coverage.accuracy import Accuracy
from ringrow.errors import PlaceError
from ringrow.farm.flag_model import GroundSpot, MoveSpot
from ringrow.farm.spot_values import spot_from_json, spot_to_json

lengths = st.floats(0, 1e5)
moves = st.builds(
    MoveSpot,
    move=st.text(max_size=20),
    said=st.text(max_size=20),
    side=st.sampled_from(["left", "right"]),
    offset_m=lengths,
    tower=st.none() | st.integers(1, 30),
    span=st.none() | st.integers(1, 30),
    travel_m=st.none() | lengths,
)
grounds = st.builds(
    GroundSpot,
    lon=st.floats(-180, 180),
    lat=st.floats(-90, 90),
    accuracy=st.builds(Accuracy, radius_m=st.floats(0.01, 1000), kind=st.sampled_from(["r95", "cep"])),
    timed=st.booleans(),
)


@given(moves | grounds)
def test_written_and_read_a_spot_is_the_same(spot: MoveSpot | GroundSpot) -> None:
    assert spot_from_json(json.loads(json.dumps(spot_to_json(spot)))) == spot


def test_a_position_typed_in_keeps_the_value_it_always_had() -> None:
    spot = GroundSpot(lon=-101.5, lat=36.75, accuracy=Accuracy(radius_m=5, kind="r95"))
    plain = spot_to_json(spot)
    assert plain is not None
    assert "timed" not in plain
    assert spot_from_json({**plain, "timed": "yes"}) == spot


MOVE: dict[str, Any] = {"on": "move", "move": "L1", "said": "left tower 1", "side": "left", "offset_m": 50.0}


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"side": "up"}, "spot side: found up; allowed: left or right"),
        ({"side": None}, "spot side: found None; allowed: left or right"),
        ({"offset_m": -1}, "spot offset_m: found -1; allowed: a number from 0 to 100000"),
        ({"offset_m": None}, "spot offset_m: found None"),
        ({"tower": 0}, "spot tower: found 0; allowed: a whole number of 1 or more"),
        ({"travel_m": float("nan")}, "spot travel_m: found nan; allowed"),
        ({"move": "x" * 201}, "spot move: found x+; allowed: text up to 200 characters"),
        ({"on": "cart"}, 'allowed: an object with "on": ground, machine, move, drip or well'),
    ],
)
def test_what_is_no_spot_on_a_lateral_move_is_refused(changes: dict[str, Any], message: str) -> None:
    with pytest.raises(PlaceError, match=message):
        spot_from_json(MOVE | changes)

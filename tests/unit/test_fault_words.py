"""What follows from a flag in words, as the crew reads it."""

from __future__ import annotations

from typing import Any

import pytest
from shapely import Polygon

from ringrow.coverage.footprint import Footprint
from ringrow.coverage.machine_checks import Doubt
from ringrow.coverage.places import BendPlace
from ringrow.coverage.wheel_tracks import TrackMeeting
from ringrow.handoff.fault_words import doubt_words, footprint_words, meeting_words, touched_words
from ringrow.units import ACRE_M2, METRIC, US


def ground(effect: Any, acres: float) -> Footprint:
    return Footprint(effect=effect, area_m2=acres * ACRE_M2, shape=Polygon(), inner_m=None, outer_m=None)


@pytest.mark.parametrize(
    ("effect", "sentence", "short"),
    [
        ("dry", "leaves 1.8 acres dry", "1.8 acres dry"),
        ("wet", "leaves 1.8 acres too wet", "1.8 acres wet"),
        ("stopped", "stops 1.8 acres", "1.8 acres stopped"),
    ],
)
def test_ground_is_said_as_wet_or_dry(effect: str, sentence: str, short: str) -> None:
    assert footprint_words(ground(effect, 1.803), US) == sentence
    assert touched_words(ground(effect, 1.803), US) == short
    assert touched_words(None, US) == ""


def test_small_and_metric_ground() -> None:
    assert touched_words(ground("dry", 0.04), US) == "under 0.1 acres dry"
    assert touched_words(ground("dry", 0.0), US) == "0.0 acres dry"
    assert touched_words(ground("dry", 2.0), METRIC) == "0.81 ha dry"


def met(**changes: Any) -> TrackMeeting:
    plain: dict[str, Any] = {
        "system": "P1",
        "wheels": "tower",
        "tower": 6,
        "azimuth_deg": 118.5,
        "panel_deg": 28.5,
        "offset_m": 0.3,
        "sure": True,
    }
    return TrackMeeting(**(plain | changes))


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({}, "wheels of tower 6 meet it at azimuth 118.5 (panel 28.5)"),
        ({"sure": False, "panel_deg": None}, "wheels of tower 6 may meet it at azimuth 118.5"),
        (
            {"wheels": "arm", "tower": None},
            "steered wheels of the corner arm meet it with the main pipe at azimuth 118.5 (panel 28.5)",
        ),
        (
            {"bend": BendPlace(at="stop", tower=4, turned_deg=23.4, pipe_m=300.0)},
            "wheels of tower 6 meet it past the stop, 23 degrees into the bend at azimuth 118.5 (panel 28.5)",
        ),
        (
            {"tower": 3, "side": "left", "azimuth_deg": None, "panel_deg": None, "travel_m": 259.08},
            "wheels of tower 3 left meet it at travel 850 ft",
        ),
        (
            {"wheels": "cart", "tower": None, "azimuth_deg": None, "travel_m": 259.08},
            "wheels of the cart meet it at travel 850 ft",
        ),
    ],
)
def test_whose_wheels_meet_it(changes: dict[str, Any], words: str) -> None:
    assert meeting_words(met(**changes), US) == words


def doubt(**changes: Any) -> Doubt:
    plain: dict[str, Any] = {
        "reason": "speed",
        "azimuth_deg": 214.04,
        "other_deg": 41.2,
        "apart_deg": 172.8,
        "other": 3,
        "hours": 0.15,
        "most_deg": 9.2,
        "speed_m_per_h": 411.48,
        "speed_assumed": True,
    }
    return Doubt(**(plain | changes))


def test_why_a_flag_cannot_be_on_the_machine() -> None:
    assert doubt_words(doubt(), US) == (
        "at azimuth 214.0, but at 41.2 9 min before by flag 3: it turns 9 degrees at most in that time (top "
        "speed taken as 1,350 ft an hour at the last tower), so probably a fault on the ground or the wrong "
        "pivot"
    )
    stated = doubt_words(doubt(hours=-0.001, speed_assumed=False, either=True), METRIC)
    assert "at 41.2 in the same minute by flag 3" in stated
    assert "(top speed 411.5 m an hour at the last tower)" in stated
    assert stated.endswith("so this one or flag 3 is probably a fault on the ground or the wrong pivot")
    assert "2.5 hours after by flag 3" in doubt_words(doubt(hours=-2.5), US)
    assert doubt_words(doubt(reason="parked"), US) == (
        "at azimuth 214.0, the machine parked at 41.2: unless it has walked since, "
        "probably a fault on the ground or the wrong pivot"
    )

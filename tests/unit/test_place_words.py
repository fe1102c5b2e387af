"""Places in words and as values: what a farmhand reads, what a program reads."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ringrow.coverage.accuracy import DEFAULT_ACCURACY, parse_accuracy
from ringrow.coverage.locate_field import NearestField
from ringrow.coverage.places import Candidate, DripPlace, PivotPlace, Place
from ringrow.equipment.kinds import FLAG_KINDS
from ringrow.farm.flag_model import DripSpot, FlagState, GroundSpot, LocatedFlag, MachineSpot, WellSpot
from ringrow.handoff.number_words import (
    accuracy_words,
    azimuth_words,
    chance_words,
    compass_words,
    length_words,
    one_line,
    runs_words,
    small_words,
)
from ringrow.handoff.place_record import (
    accuracy_record,
    drip_record,
    nearest_field_record,
    pivot_record,
    place_record,
)
from ringrow.handoff.place_words import flag_words, place_words
from ringrow.units import METRIC, US

FT = 0.3048
PIVOT = PivotPlace(
    name="Windmill pivot",
    distance_m=913 * FT,
    azimuth_deg=41.26,
    panel_deg=311.26,
    span=6,
    part="span",
    tower=5,
    tower_offset_m=3 * FT,
    outlet=96,
    outlet_range=(94, 97),
    outlet_chance=0.43,
    inside=True,
)
DRIP = DripPlace(
    name="Elevator drip",
    zone="North half",
    lateral=43,
    piece=None,
    offset_m=9 * 0.0254,
    station_m=600 * FT,
    emitter=300,
    candidates=tuple(
        Candidate(lateral=number, chance=chance)
        for number, chance in ((43, 0.29), (44, 0.23), (42, 0.21), (45, 0.1), (41, 0.09), (46, 0.05))
    ),
    elsewhere=0.0,
    inside=True,
)
CERTAIN = replace(DRIP, candidates=(Candidate(lateral=43, chance=0.999),))
NO_TAPE = replace(
    DRIP,
    zone=None,
    lateral=None,
    offset_m=None,
    station_m=None,
    emitter=None,
    candidates=(),
    elsewhere=1.0,
)
PLACE = Place(field="Windmill quarter", farmable=True, irrigated=True, pivots=(PIVOT,), drip=())
OUTSIDE = Place(field=None, farmable=False, irrigated=False, pivots=(), drip=())


def flag(kind: str = "gearbox", spot=None, **located) -> LocatedFlag:
    state = FlagState(
        id="7d9f0f9e-0000-4000-8000-000000000001",
        number=1,
        kind=kind,
        status="open",
        name="",
        note="",
        spot=spot,
        flag_class=None,
        set_at=datetime(2026, 4, 1, tzinfo=UTC),
        set_by="walker 1",
    )
    fields = {"field": "Windmill quarter", "lon": -101.5, "lat": 36.75, "place": PLACE} | located
    return LocatedFlag(state=state, kind=FLAG_KINDS[kind], flag_class=FLAG_KINDS[kind].flag_class, **fields)


GROUND = GroundSpot(lon=-101.5, lat=36.75, accuracy=DEFAULT_ACCURACY)


def test_block_for_a_pivot() -> None:
    assert place_words(PLACE, US, accuracy=DEFAULT_ACCURACY).splitlines() == [
        "Windmill quarter: wet ground (irrigated)",
        "Position good to 16 ft (r95: 95 of 100 fixes fall that close); assumed, nobody stated it.",
        "",
        "Windmill pivot (wets this place)",
        "  913 ft from the pivot point, give or take 13 ft",
        "  azimuth 41.3 (panel 311.3), give or take 0.8 degrees",
        "  under span 6",
        "  nearest tower 5: 3 ft outside its wheel track",
        "  outlet 94 to 97 (nearest 96, about 4 in 10)",
    ]


def test_block_for_drip() -> None:
    place = replace(PLACE, field="Elevator quarter", pivots=(), drip=(DRIP,))
    assert place_words(place, US).splitlines() == [
        "Elevator quarter: wet ground (irrigated)",
        "",
        "Elevator drip, North half (wets this place)",
        "  lateral 43 most likely (about 3 in 10); could be 41 to 46",
        "  measured 9 in toward higher numbers from lateral 43: finer than this fix can tell",
        "  station 600 ft from the header end",
        "  nearest emitter about number 300 from the header end",
    ]


def test_block_says_what_was_assumed() -> None:
    text = place_words(PLACE, US, assumed={"Windmill pivot": ("spans split evenly", "throw 0")})
    assert text.splitlines()[-1] == "  assumed: spans split evenly; throw 0"


def test_a_certain_lateral_is_named_alone_with_inches() -> None:
    place = replace(PLACE, pivots=(), drip=(replace(CERTAIN, piece="b", offset_m=-0.2286),))
    assert "  lateral 43, piece b (almost certain), 9 in toward lower numbers" in place_words(place, US)


def test_a_certain_outlet_is_named_alone() -> None:
    place = replace(PLACE, pivots=(replace(PIVOT, outlet_chance=0.96, outlet_range=(96, 96)),))
    assert "  outlet 96 (19 in 20 or better)" in place_words(place, US)


def test_an_outlet_below_095_is_never_named_alone() -> None:
    assert "outlet 96" not in place_words(PLACE, US)
    assert "outlet 94 to 97" in place_words(PLACE, US)


def test_no_outlet_line_where_outlets_are_not_known() -> None:
    place = replace(PLACE, pivots=(replace(PIVOT, outlet=None, outlet_range=None, outlet_chance=None),))
    assert "outlet" not in place_words(place, US)


def test_the_chance_of_none_near_is_said_when_it_counts() -> None:
    for elsewhere, said in ((0.04, False), (0.3, True)):
        place = replace(PLACE, pivots=(), drip=(replace(DRIP, elsewhere=elsewhere),))
        assert ("none of the laterals near: about 3 in 10" in place_words(place, US)) is said


def test_no_tape_within_reach_is_not_a_guess() -> None:
    far = replace(DRIP, candidates=(), elsewhere=1.0, inside=False)
    text = place_words(replace(PLACE, pivots=(), drip=(far,)), US)
    assert "  no tape within reach of this fix\n  nearest tape: lateral 43" in text
    assert "likely" not in text


def test_a_fix_too_coarse_names_no_lateral() -> None:
    coarse = replace(DRIP, candidates=(), elsewhere=0.4)
    assert "this fix is too coarse to name a lateral" in place_words(replace(PLACE, drip=(coarse,)), US)


def test_a_block_without_tape() -> None:
    bare = replace(
        DRIP,
        zone=None,
        lateral=None,
        offset_m=None,
        station_m=None,
        emitter=None,
        candidates=(),
        elsewhere=1.0,
    )
    assert "Elevator drip (wets this place)\n  no tape in this block" in place_words(
        replace(PLACE, drip=(bare,)), US
    )


@pytest.mark.parametrize(("zone", "said"), [("2", "zone 2"), ("B", "zone B"), ("North half", "North half")])
def test_a_zone_called_by_a_number_is_said_to_be_a_zone(zone: str, said: str) -> None:
    text = place_words(replace(PLACE, pivots=(), drip=(replace(DRIP, zone=zone),)), US)
    assert f"Elevator drip, {said} (wets this place)" in text


@pytest.mark.parametrize(
    ("changed", "line"),
    [
        ({"irrigated": False}, "Windmill quarter: dry ground (no system's water reaches it)"),
        ({"farmable": False}, "Windmill quarter: inside the boundary, on ground that is not farmed"),
        ({"field": None}, "Outside every field."),
    ],
)
def test_first_line(changed: dict[str, object], line: str) -> None:
    assert place_words(replace(PLACE, **changed), US).splitlines()[0] == line


def test_outside_every_field_the_way_to_the_nearest_is_said() -> None:
    nearest = NearestField(name="Windmill quarter", distance_m=649 * FT, azimuth_deg=90.04)
    assert place_words(OUTSIDE, US, nearest=nearest) == (
        "Outside every field. The nearest field is Windmill quarter, "
        "its boundary 649 ft to the east (azimuth 90.0)."
    )


@pytest.mark.parametrize(
    ("part", "inside", "words"),
    [
        ("span", True, "under span 6"),
        ("overhang", True, "past the last tower, under the overhang"),
        ("throw", True, "past the pipe end, within throw of the last sprinkler"),
        ("gun", True, "past the pipe end, within reach of the end gun"),
        ("gun", False, "as far out as the end gun reaches, where it does not run"),
        ("span", False, "as far out as span 6, where this machine does not walk"),
        ("beyond", False, "beyond its water"),
    ],
)
def test_parts(part, inside: bool, words: str) -> None:
    text = place_words(replace(PLACE, pivots=(replace(PIVOT, part=part, inside=inside),)), US)
    assert f"  {words}" in text.splitlines()


def test_at_the_pivot_point_there_is_no_azimuth() -> None:
    at_point = replace(PIVOT, distance_m=0.0, azimuth_deg=None, panel_deg=None)
    assert "at the pivot point itself, so no azimuth" in place_words(replace(PLACE, pivots=(at_point,)), US)


@pytest.mark.parametrize(
    ("offset_m", "words"),
    [(3 * FT, "3 ft outside"), (-12 * FT, "12 ft inside"), (0.1, "on"), (-0.1, "on")],
)
def test_wheel_track(offset_m: float, words: str) -> None:
    place = replace(PLACE, pivots=(replace(PIVOT, tower_offset_m=offset_m),))
    assert f"nearest tower 5: {words} its wheel track" in place_words(place, US)


def test_metric_words() -> None:
    text = place_words(replace(PLACE, drip=(DRIP,)), METRIC, accuracy=parse_accuracy("2 m r68"))
    for words in (
        "278.3 m from the pivot point, give or take 2.6 m",
        "0.9 m outside",
        "23 cm toward",
        "182.9 m",
    ):
        assert words in text
    for unit in (" ft", " in "):
        assert unit not in text.replace(" in 10", "")


def test_flag_at_a_well() -> None:
    assert (
        flag_words(flag("pump", WellSpot(well="Home well"), place=None, well="Home well"), US) == "Home well"
    )


def test_flag_on_a_machine_found_by_its_position() -> None:
    assert flag_words(flag(spot=GROUND, pivot=PIVOT), US) == (
        "Windmill pivot: tower 5, 3 ft outside its wheel track, 913 ft from the pivot point, "
        "azimuth 41.3 (panel 311.3)"
    )


def test_flag_between_towers_names_the_span() -> None:
    between = replace(PIVOT, tower_offset_m=84 * FT)
    assert flag_words(flag(spot=GROUND, pivot=between), US).startswith(
        "Windmill pivot: span 6, 84 ft outside the track of tower 5, 913 ft"
    )


def test_sprinkler_flag_found_by_its_position_gives_a_run_of_outlets() -> None:
    between = replace(PIVOT, tower_offset_m=84 * FT)
    words = flag_words(flag("sprinkler", GROUND, pivot=between), US)
    assert words == (
        "Windmill pivot: span 6, outlet 94 to 97, 913 ft from the pivot point, azimuth 41.3 (panel 311.3)"
    )
    safe = replace(between, outlet_range=(96, 96), outlet_chance=0.99)
    assert "span 6, outlet 96, 913 ft" in flag_words(flag("sprinkler", GROUND, pivot=safe), US)


def test_flag_on_a_machine_as_it_was_said() -> None:
    spot = MachineSpot(pivot="Windmill pivot", distance_m=913 * FT, said="tower 5, drop +3", tower=5)
    no_azimuth = replace(PIVOT, azimuth_deg=None, panel_deg=None)
    assert flag_words(flag("drop", spot, pivot=no_azimuth), US) == (
        "Windmill pivot: tower 5, drop +3, 913 ft from the pivot point"
    )


def test_flag_said_by_distance_does_not_say_it_twice() -> None:
    spot = MachineSpot(pivot="Windmill pivot", distance_m=913 * FT, said="913 ft from the pivot point")
    assert flag_words(flag("drop", spot, pivot=PIVOT), US) == (
        "Windmill pivot: 913 ft from the pivot point, span 6, azimuth 41.3 (panel 311.3)"
    )


def test_flag_at_the_pivot_point() -> None:
    spot = MachineSpot(pivot="Windmill pivot", distance_m=0.0, said="pivot point")
    at_point = replace(PIVOT, distance_m=0.0, azimuth_deg=None, panel_deg=None, span=1)
    assert flag_words(flag("collector-ring", spot, pivot=at_point), US) == "Windmill pivot: pivot point"


def test_flag_on_drip_ground_by_position() -> None:
    assert flag_words(flag("leak", GROUND, drip=DRIP), US) == (
        "Elevator drip, North half: about lateral 43 (1 of 6 likely), station 600 ft, "
        "9 in toward higher numbers"
    )


def test_flag_said_by_lateral_and_station() -> None:
    exact = replace(DRIP, offset_m=0.0, candidates=(Candidate(lateral=43, chance=1.0),))
    spot = DripSpot(drip="Elevator drip", lateral=43, station_m=600 * FT)
    assert flag_words(flag("leak", spot, drip=exact), US) == (
        "Elevator drip, North half: lateral 43, station 600 ft"
    )


def test_flag_past_the_tape() -> None:
    far = replace(DRIP, candidates=(), elsewhere=1.0)
    assert flag_words(flag("leak", GROUND, drip=far), US) == (
        "Elevator drip, North half: no tape within reach of this fix, nearest lateral 43, station 600 ft"
    )


def test_flag_on_the_ground_of_a_pivots_field() -> None:
    assert flag_words(flag("rut", GROUND), US) == (
        "Windmill quarter, wet: 913 ft from Windmill pivot's point, azimuth 41.3 (panel 311.3), "
        "3 ft outside the track of tower 5"
    )


def test_flag_on_the_ground_away_from_wheel_tracks_names_the_span() -> None:
    between = replace(PIVOT, tower_offset_m=84 * FT)
    beyond = replace(between, span=None, part="beyond", inside=False)
    for pivot, end in ((between, "(panel 311.3), span 6"), (beyond, "(panel 311.3)")):
        words = flag_words(flag("rut", GROUND, place=replace(PLACE, pivots=(pivot,))), US)
        assert words.endswith(end)


def test_flag_on_the_ground_names_the_pivot_that_wets_it() -> None:
    near = replace(PIVOT, name="Near pivot", inside=False, distance_m=10.0)
    words = flag_words(flag("rut", GROUND, place=replace(PLACE, pivots=(near, PIVOT))), US)
    assert "from Windmill pivot's point" in words
    dry = replace(PLACE, irrigated=False, pivots=(near, replace(PIVOT, inside=False)))
    assert "Windmill quarter, dry: 33 ft from Near pivot's point" in flag_words(
        flag("rut", GROUND, place=dry), US
    )


@pytest.mark.parametrize(
    ("place", "words"),
    [
        (replace(PLACE, pivots=()), "Windmill quarter, wet"),
        (replace(PLACE, pivots=(), irrigated=False), "Windmill quarter, dry"),
        (replace(PLACE, pivots=(), farmable=False), "Windmill quarter, not farmed"),
        (OUTSIDE, "outside every field, at 36.75000, -101.50000"),
        (None, "no place known"),
    ],
)
def test_flag_on_other_ground(place: Place | None, words: str) -> None:
    assert flag_words(flag("rut", GROUND, place=place), US) == words


def test_names_from_files_stay_on_one_line() -> None:
    named = replace(PIVOT, name="Wind\nmill\x1b[2J pivot")
    for located in (
        flag(spot=GROUND, pivot=named),
        flag("rut", GROUND, place=replace(PLACE, pivots=(named,))),
    ):
        words = flag_words(located, US)
        assert words.isprintable()
        assert "Wind mill" in words
    assert "\x1b" not in place_words(replace(PLACE, pivots=(named,)), US)


def test_record_keys_and_order_in_us_units() -> None:
    record = place_record(replace(PLACE, drip=(DRIP,)), US)
    assert list(record) == ["field", "farmable", "irrigated", "pivots", "drip", "lateral_moves"]
    (pivot,), (drip,) = record["pivots"], record["drip"]
    assert list(pivot) == [
        "name", "distance_ft", "azimuth_deg", "panel_deg", "span", "part", "tower", "tower_offset_ft",
        "outlet", "outlet_range", "outlet_chance", "inside", "pipe_ft", "bend", "arm",
    ]  # fmt: skip
    assert list(drip) == [
        "name", "zone", "lateral", "piece", "offset_in", "station_ft", "emitter", "candidates", "elsewhere",
        "inside",
    ]  # fmt: skip
    assert pivot["distance_ft"] == pytest.approx(913, rel=1e-15)
    assert pivot["outlet_range"] == [94, 97]
    assert drip["offset_in"] == pytest.approx(9, rel=1e-15)
    assert drip["candidates"][0] == {"lateral": 43, "chance": 0.29}


def test_record_in_metric_units() -> None:
    pivot, drip = pivot_record(PIVOT, METRIC), drip_record(DRIP, METRIC)
    assert pivot["distance_m"] == PIVOT.distance_m
    assert pivot["tower_offset_m"] == PIVOT.tower_offset_m
    assert drip["offset_mm"] == pytest.approx(228.6)
    assert drip["station_m"] == DRIP.station_m


def test_record_of_what_is_not_there_is_null() -> None:
    nothing = replace(
        DRIP,
        zone=None,
        lateral=None,
        offset_m=None,
        station_m=None,
        emitter=None,
        candidates=(),
        elsewhere=1.0,
    )
    record = drip_record(nothing, US)
    assert [record[key] for key in ("zone", "lateral", "piece", "offset_in", "station_ft", "emitter")] == [
        None
    ] * 6
    assert pivot_record(replace(PIVOT, outlet_range=None), US)["outlet_range"] is None
    assert nearest_field_record(None, US) is None


def test_record_names_what_was_assumed_when_told() -> None:
    record = place_record(replace(PLACE, drip=(DRIP,)), US, assumed={"Windmill pivot": ("throw 0",)})
    assert record["pivots"][0]["assumed"] == ["throw 0"]
    assert record["drip"][0]["assumed"] == []


def test_record_of_accuracy_and_nearest_field() -> None:
    assert accuracy_record(DEFAULT_ACCURACY, US) == {
        "radius_ft": pytest.approx(16),
        "kind": "r95",
        "sigma_ft": pytest.approx(16 / 2.4477),
        "assumed": True,
    }
    nearest = NearestField(name="North 80", distance_m=30.48, azimuth_deg=12.5)
    assert nearest_field_record(nearest, US) == {
        "field": "North 80", "distance_ft": pytest.approx(100), "azimuth_deg": 12.5,
    }  # fmt: skip


@pytest.mark.parametrize(
    ("chance", "words"),
    [
        (0.0, "less than 1 in 20"),
        (0.049, "less than 1 in 20"),
        (0.05, "about 1 in 10"),
        (0.2965, "about 3 in 10"),
        (0.9499, "about 9 in 10"),
        (0.95, "19 in 20 or better"),
        (0.995, "almost certain"),
        (1.0, "almost certain"),
    ],
)
def test_chance_words(chance: float, words: str) -> None:
    assert chance_words(chance) == words


@given(st.floats(0, 0.9499))
def test_chance_words_are_never_more_than_half_a_tenth_off(chance: float) -> None:
    words = chance_words(chance)
    if words.startswith("about"):
        assert abs(int(words.split()[1]) / 10 - chance) <= 0.05 + 1e-9
    else:
        assert chance < 0.05


@pytest.mark.parametrize(
    ("metres", "us", "metric"),
    [
        (0.0, "0 ft", "0.0 m"),
        (-0.01, "0 ft", "0.0 m"),
        (381.0, "1,250 ft", "381.0 m"),
        (3218.688, "10,560 ft", "3.2 km"),
        (3300.0, "2.1 miles", "3.3 km"),
        (1_000_000.0, "621 miles", "1,000 km"),
    ],
)
def test_length_words(metres: float, us: str, metric: str) -> None:
    assert (length_words(metres, US), length_words(metres, METRIC)) == (us, metric)


@pytest.mark.parametrize(
    ("metres", "us", "metric"),
    [
        (0.2286, "9 in", "23 cm"),
        (0.9144, "36 in", "91 cm"),
        (1.2, "4 ft", "1.2 m"),
        (30.48, "100 ft", "30.5 m"),
    ],
)
def test_small_words(metres: float, us: str, metric: str) -> None:
    assert (small_words(metres, US), small_words(metres, METRIC)) == (us, metric)


def test_azimuth_and_compass_words() -> None:
    assert [azimuth_words(a) for a in (0.0, 41.25, 359.94, 359.96)] == ["0.0", "41.2", "359.9", "0.0"]
    assert [compass_words(a) for a in (0.0, 45.0, 200.0, 359.0)] == ["north", "northeast", "south", "north"]


def test_accuracy_words_never_say_zero() -> None:
    assert accuracy_words(parse_accuracy("0.02 m r95"), US).startswith("good to 1 in (r95:")
    assert accuracy_words(parse_accuracy("0.02 m rms"), METRIC).startswith("good to 2 cm (rms:")


def test_runs_words() -> None:
    assert [runs_words(numbers) for numbers in ([], [3], [4, 3], [9, 1, 2, 5])] == [
        "",
        "3",
        "3 to 4",
        "1 to 2, 5, 9",
    ]


def test_one_line() -> None:
    assert one_line(" a\t\n b\u2028c\x00 ") == "a b c"

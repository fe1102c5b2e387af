"""Flags joined as one fault: any order of logs, one number, one status, taken apart again."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from itertools import count, permutations
from typing import TYPE_CHECKING, Any

import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import given
from hypothesis import strategies as st

from farms import CENTRE, FARM_TOML, OUTLINE, PIVOT, write_farm
from ringrow.coverage.accuracy import Accuracy
from ringrow.coverage.layout import lay_out
from ringrow.errors import PlaceError, SeasonError
from ringrow.farm.events import Event
from ringrow.farm.flag_model import FlagState, GroundSpot, MachineSpot, WellSpot
from ringrow.farm.flag_places import locate_flags
from ringrow.farm.flags import NewFlag, Stamp, add_flag, find_flag, first_events, set_flags, undo_field
from ringrow.farm.folding import fold
from ringrow.farm.load import load_farm
from ringrow.farm.proposals import same_proposals
from ringrow.farm.records import record_event
from ringrow.farm.round_log import end_round, start_round
from ringrow.farm.same_fault import SAME, joined_states, merge_flags, split_flag
from ringrow.farm.season import open_season
from ringrow.units import FOOT_M

if TYPE_CHECKING:
    from pathlib import Path

    from ringrow.farm.proposals import Proposal

START = datetime(2027, 4, 1, 15, tzinfo=UTC)
_ids = count(1)


def stamp(minutes: float = 0, who: str = "Ana") -> Stamp:
    return Stamp(
        when=START + timedelta(minutes=minutes),
        who=who,
        source="test",
        new_id=lambda: f"00000000-0000-4000-8000-{next(_ids):012d}",
    )


def burrow(lat: float = CENTRE[0], lon: float = CENTRE[1], **changes: Any) -> NewFlag:
    spot = GroundSpot(lon=lon, lat=lat, accuracy=Accuracy(radius_m=4.9, kind="r95"))
    return NewFlag(kind=changes.pop("kind", "burrow"), spot=changes.pop("spot", spot), **changes)


FLAGS = tuple(f"00000000-0000-4000-9000-{number:012d}" for number in range(6))


def flag_events() -> list[Event]:
    return [
        event
        for number, flag in enumerate(FLAGS)
        for event in first_events(
            flag,
            {"spot": {"on": "well", "well": "A"}, "note": f"note {number}"},
            when=START + timedelta(hours=number),
            who="",
            source="",
        )
    ]


@given(
    pairs=st.lists(st.lists(st.sampled_from(FLAGS), min_size=2, max_size=3, unique=True), max_size=6),
    data=st.data(),
)
def test_any_order_and_repetition_give_the_same_flags(pairs: list[list[str]], data: st.DataObject) -> None:
    """Union-find against a plain search for what is connected."""
    base = flag_events()
    said = [record_event(SAME, {"flags": pair}, stamp=stamp(100)) for pair in pairs]
    mixed = data.draw(st.permutations([*base, *said, *said[:2]]))
    numbers = {flag: number + 1 for number, flag in enumerate(FLAGS)}
    one = joined_states(fold(base + said, numbers), base + said)
    other = joined_states(fold(mixed, numbers), mixed)
    assert [(state.id, state.ids, state.status) for state in one] == [
        (state.id, state.ids, state.status) for state in other
    ]
    assert {frozenset(state.ids) for state in one} == _connected(pairs)


def _connected(pairs: list[list[str]]) -> set[frozenset[str]]:
    groups = [{flag} for flag in FLAGS]
    for pair in pairs:
        touched = [group for group in groups if group & set(pair)]
        groups = [group for group in groups if group not in touched] + [set().union(*touched)]
    return {frozenset(group) for group in groups}


def test_two_phones_that_join_other_pairs_agree() -> None:
    base = flag_events()
    first = record_event(SAME, {"flags": list(FLAGS[:2])}, stamp=stamp(5))
    second = record_event(SAME, {"flags": list(FLAGS[1:3])}, stamp=stamp(5))
    back = record_event(SAME, {}, stamp=stamp(9), subject=first.flag, seen=[first])
    back = Event(**{**{name: getattr(back, name) for name in Event.__slots__}, "value": None})
    seen = set()
    for order in permutations([first, second, back]):
        states = joined_states(fold([*base, *order], {}), [*base, *order])
        seen.add(tuple(state.ids for state in states if state.joined))
    assert seen == {((FLAGS[1], FLAGS[2]),)}


def test_a_joined_flag_has_one_number_and_the_words_of_both(tmp_path: Path) -> None:
    with open_season(tmp_path / "season.db", create=True) as season:
        add_flag(season, burrow(note="by the road"), stamp=stamp(0))
        add_flag(season, burrow(note="deep"), stamp=stamp(5))
        joined = merge_flags(season, ["2", "1"], chance=0.98, stamp=stamp(10))
        assert (joined.number, joined.note, len(season.states())) == (1, "by the road; deep", 1)
        assert find_flag(season.states(), "2").number == 1
        assert find_flag(season.states(), joined.joined[0].id[:36]).number == 1
        with pytest.raises(SeasonError, match="found only flag 1; allowed: two or more flags"):
            merge_flags(season, ["2", "1"], chance=None, stamp=stamp(11))


def test_the_last_word_on_any_of_them_counts(tmp_path: Path) -> None:
    """The second was set after the first was fixed: joined, the fault is open."""
    with open_season(tmp_path / "season.db", create=True) as season:
        add_flag(season, burrow(), stamp=stamp(0))
        set_flags(season, ["1"], {"status": "fixed"}, stamp=stamp(5))
        add_flag(season, burrow(), stamp=stamp(10))
        assert merge_flags(season, ["1", "2"], chance=None, stamp=stamp(15)).status == "open"
        set_flags(season, ["2"], {"status": "checked", "note": "held"}, stamp=stamp(20))
        assert [(s.status, s.note) for s in season.states()] == [("checked", "held")]
        undo_field(season, "1", "status", stamp=stamp(25))
        assert [s.status for s in season.states()] == ["open"]
        parts = split_flag(season, "2", stamp=stamp(30))
        # What was said of both stays with both.
        assert [(s.number, s.status, s.note) for s in parts] == [(1, "fixed", "held"), (2, "open", "held")]


def test_one_of_three_is_taken_out(tmp_path: Path) -> None:
    with open_season(tmp_path / "season.db", create=True) as season:
        for minutes in (0, 1, 2):
            add_flag(season, burrow(), stamp=stamp(minutes))
        merge_flags(season, ["1", "2", "3"], chance=None, stamp=stamp(5))
        states = split_flag(season, "1", stamp=stamp(6))
        assert [[s.number, *(o.number for o in s.joined)] for s in states] == [[1], [2, 3]]
        with pytest.raises(SeasonError, match="flag 1: not joined with any other"):
            split_flag(season, "1", stamp=stamp(7))


@pytest.mark.parametrize("taken", [1, 2, 3])
def test_taking_one_out_leaves_the_others_joined_whichever_held_them_together(
    tmp_path: Path, taken: int
) -> None:
    with open_season(tmp_path / "season.db", create=True) as season:
        for minutes in (0, 1, 2, 3):
            add_flag(season, burrow(), stamp=stamp(minutes))
        ids = {state.number: state.id for state in season.states()}
        # Two phones join 1 with 2 and 2 with 3, neither seeing the other's record.
        pairs = [record_event(SAME, {"flags": [ids[a], ids[a + 1]]}, stamp=stamp(5)) for a in (1, 2)]
        with season.writing():
            season.append(pairs)
        states = split_flag(season, str(taken), stamp=stamp(6))
        groups = {frozenset((s.number, *(o.number for o in s.joined))) for s in states}
        assert groups == {frozenset({taken}), frozenset({1, 2, 3} - {taken})}


def test_broken_records_join_nothing() -> None:
    base = flag_events()
    odd = [
        record_event(SAME, value, stamp=stamp())
        for value in ({"flags": "ab"}, {"flags": [1, None]}, {"flags": ["unknown", FLAGS[0]]}, {})
    ]
    assert all(not state.joined for state in joined_states(fold(base + odd, {}), base + odd))


def proposed(tmp_path: Path, *flags: tuple[float, NewFlag], **options: Any) -> list[Proposal]:
    if not (tmp_path / "farm.toml").exists():
        field = f'name = "Home field"\n{OUTLINE}\n{PIVOT}outlets = {{ first = 10, spacing = 10 }}\n'
        write_farm(tmp_path, FARM_TOML, {"home": field})
    farm = load_farm(tmp_path)
    layouts = [lay_out(field) for field in farm.fields]
    with open_season(tmp_path / "season.db", create=True) as season:
        for minutes, new in flags:
            add_flag(season, new, stamp=stamp(minutes))
        states, events = season.states(), season.events()
    located = locate_flags(farm, layouts, states)
    return same_proposals(located, events, layouts, zone=UTC, **options)


def test_on_the_ground_distance_decides(tmp_path: Path) -> None:
    """Two sigmas of 4.9 m r95 joined reach 4.9 x sqrt 2 m: 6.9 m by geographiclib."""
    lat, lon = CENTRE
    near = Geodesic.WGS84.Direct(lat, lon, 30.0, 6.9)
    far = Geodesic.WGS84.Direct(lat, lon, 210.0, 7.0)
    found = proposed(
        tmp_path,
        (0, burrow()),
        (3, burrow(near["lat2"], near["lon2"])),
        (6, burrow(far["lat2"], far["lon2"])),
        (9, burrow(kind="leak")),
    )
    assert [(p.first.state.number, p.second.state.number) for p in found] == [(1, 2)]
    assert found[0].near.distance_m == pytest.approx(6.9, abs=1e-4)
    assert found[0].near.p_value == pytest.approx(0.05, abs=0.005)
    assert 0.5 < found[0].chance < 1


def machine(said: str, kind: str = "gearbox", **named: Any) -> NewFlag:
    return NewFlag(kind=kind, spot=MachineSpot(pivot="Home field pivot 1", said=said, **named))


def test_on_a_machine_the_part_decides_wherever_it_stood(tmp_path: Path) -> None:
    five = {"tower": 5, "distance_m": 900 * FOOT_M}
    found = proposed(
        tmp_path,
        (0, machine("tower 5", azimuth_deg=10.0, **five)),
        (1, machine("tower 5", "driveline", azimuth_deg=200.0, **five)),
        (2, machine("tower 4", tower=4, distance_m=720 * FOOT_M, azimuth_deg=10.0)),
        (3, machine("tower 5, drop +3", "sprinkler", drop=3, **five)),
        (4, machine("930 ft", "drop", distance_m=930 * FOOT_M)),
        (5, machine("outlet 40", "drop", outlet=40, distance_m=400 * FOOT_M)),
        (6, NewFlag(kind="pump", spot=WellSpot(well="None"))),
    )
    assert {(p.first.state.number, p.second.state.number) for p in found} == {(1, 2), (4, 5)}
    part = next(p for p in found if p.first.state.number == 1)
    # Seven towers, one flag before it: odds 7, prior 1 to 9.
    assert part.chance == pytest.approx(7 * 0.1 / (7 * 0.1 + 0.9))
    assert part.near.distance_m is None


def test_two_wheels_of_a_tower_are_two_faults(tmp_path: Path) -> None:
    five = {"tower": 5, "distance_m": 900 * FOOT_M}
    found = proposed(
        tmp_path,
        (0, machine("tower 5, outer leading wheel", "tire", wheel="outer-leading", **five)),
        (1, machine("tower 5, outer trailing wheel", "tire", wheel="outer-trailing", **five)),
        (2, machine("tower 5", "tire", **five)),
    )
    assert {(p.first.state.number, p.second.state.number) for p in found} == {(1, 3), (2, 3)}


def test_time_and_repair_part_them(tmp_path: Path) -> None:
    day = 24 * 60
    assert proposed(tmp_path, (0, burrow()), (31 * day, burrow())) == []
    assert len(proposed(tmp_path, days=31)) == 1
    with open_season(tmp_path / "season.db") as season:
        set_flags(season, ["1"], {"status": "fixed"}, stamp=stamp(2 * day))
    assert proposed(tmp_path, days=31) == []
    with pytest.raises(PlaceError, match="found 0; allowed: 1 or more"):
        proposed(tmp_path, days=0)


def test_one_round_is_one_walk_however_long_and_two_rounds_are_two(tmp_path: Path) -> None:
    """A round of 60 days holds two flags 40 days apart; the next round's, a day later, is another fault."""
    day = 24 * 60
    proposed(tmp_path, (day, burrow()), (41 * day, burrow()), (61 * day, burrow()))
    with open_season(tmp_path / "season.db") as season:
        first = start_round(season, "Spring", stamp=stamp(0))
        end_round(season, stamp=stamp(60 * day))
        assert start_round(season, "Summer", stamp=stamp(60.5 * day)).id != first.id
    pairs = [(each.first.state.number, each.second.state.number) for each in proposed(tmp_path)]
    assert pairs == [(1, 2)]


def test_a_joined_state_is_a_state() -> None:
    """The shown state of a group keeps the first one's kind and time."""
    events = flag_events()
    events.append(record_event(SAME, {"flags": list(FLAGS)}, stamp=stamp()))
    (state,) = joined_states(fold(events, {}), events)
    assert isinstance(state, FlagState)
    assert (state.id, state.set_at, len(state.ids)) == (FLAGS[0], START, 6)

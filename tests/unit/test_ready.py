"""The ready board: what waits and what is owed, from flags, rounds, readings, fills and the fall list."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from itertools import count
from typing import TYPE_CHECKING, Any

import pytest

from farms import DRIP, FARM_TOML, OUTLINE, PIVOT, write_farm
from ringrow.coverage.accuracy import Accuracy
from ringrow.coverage.layout import lay_out
from ringrow.equipment.first_water import UNDER_WATER
from ringrow.equipment.kinds import FLAG_KINDS
from ringrow.errors import PlaceError, SeasonError
from ringrow.farm.events import when_text
from ringrow.farm.fills import fills_of, say_filled, undo_fill
from ringrow.farm.flag_model import FlagState, GroundSpot, MachineSpot, WellSpot
from ringrow.farm.flag_places import locate_flags
from ringrow.farm.flags import Stamp
from ringrow.farm.load import load_farm
from ringrow.farm.ready import ready_board
from ringrow.farm.records import Record, fold_records
from ringrow.farm.season import open_season
from ringrow.handoff.languages import speaking
from ringrow.handoff.ready_page import ready_page
from ringrow.handoff.ready_table import ready_record, ready_text
from ringrow.handoff.ready_words import undone_words

if TYPE_CHECKING:
    from pathlib import Path

    from ringrow.farm.model import Farm
    from ringrow.farm.ready import ReadyBoard, ReadySystem

# Five hours behind UTC, as people on the sample farm's land have it in summer.
LOCAL = timezone(timedelta(hours=-5))
NOW = datetime(2027, 3, 15, 21, 0, tzinfo=LOCAL)
TAPE = DRIP.replace("heading = 90", 'name = "Tape"\nheading = 90') + (
    "tape = { inside_diameter = 1.375, emitter_spacing = 24, emitter_flow = 0.16, at_pressure = 8 }\n"
    '[[drip.zone]]\nname = "North"\nlaterals = [1, 200]\npressure = 10\n'
    '[[drip.zone]]\nname = "South"\nlaterals = [201, 400]\npressure = 10\n'
)
WELL = """
[[well]]
name = "Home well"
at = { lat = 36.753, lon = -101.495 }
power = "electric"
serves = ["P", "Tape"]
plate_volts = 460
"""
_ids = count(1)


@pytest.fixture(scope="module")
def farm(tmp_path_factory: pytest.TempPathFactory) -> Farm:
    pivot = PIVOT.replace("[[pivot]]", '[[pivot]]\nname = "P"')
    fields = {"a": f'name = "Home field"\n{OUTLINE}{pivot}{TAPE}'}
    return load_farm(write_farm(tmp_path_factory.mktemp("ready") / "farm", FARM_TOML + WELL, fields))


def record(type_: str, when: datetime = NOW - timedelta(hours=2), **value: Any) -> Record:
    return Record(
        id=f"00000000-0000-4000-8000-{next(_ids):012x}",
        type=type_,
        value={"type": type_, **value},
        when=when.astimezone(UTC),
        who="Ana",
        source="test",
    )


def flag(number: int, kind: str, spot: Any, status: str = "open") -> FlagState:
    return FlagState(
        id=f"00000000-0000-4000-8000-{number:012x}",
        number=number,
        kind=kind,
        status=status,
        name="",
        note="",
        spot=spot,
        flag_class=None,
        set_at=datetime(2027, 3, 1, tzinfo=UTC),
        set_by="Ana",
    )


def on_pivot(tower: int) -> MachineSpot:
    return MachineSpot(pivot="P", said=f"tower {tower}", tower=tower)


ROUND = record("round", NOW - timedelta(days=1), name="Spring")


def good(*items: str) -> dict[str, dict[str, str]]:
    return {item: {"answer": "good"} for item in items}


def look(system: str, kind: str, *tried: str, **value: Any) -> Record:
    return record(
        "look",
        system=system,
        kind=kind,
        round=ROUND.id,
        nothing_seen=True,
        items=good(*tried) | value.pop("items", {}),
        **value,
    )


def volts(system: str, kind: str, voltage_v: float) -> Record:
    return record(
        "reading", system=system, kind=kind, item="volts", voltage_v=voltage_v, said=f"{voltage_v} V"
    )


WELL_DONE = (look("Home well", "well", "starts"), volts("Home well", "well", 470.0))
PIVOT_DONE = (look("P", "pivot", "forward", "reverse"), volts("P", "pivot", 470.0))
ALL_DONE = (ROUND, *WELL_DONE, *PIVOT_DONE)


def board(farm: Farm, records: Any = (), flags: Any = (), now: datetime = NOW) -> ReadyBoard:
    layouts = [lay_out(each) for each in farm.fields]
    return ready_board(farm, layouts, locate_flags(farm, layouts, list(flags)), list(records), now=now)


def system(told: ReadyBoard, name: str) -> ReadySystem:
    return next(each for each in (*told.systems, *told.wells) if each.system.name == name)


def whats(each: ReadySystem) -> list[str]:
    return [line.what for line in each.waiting]


def test_before_the_first_round_nothing_is_walked_and_nothing_is_ready(farm: Farm) -> None:
    told = board(farm)
    assert [each.state for each in (*told.systems, *told.wells)] == ["not walked"] * 3
    assert "no round was started yet" in ready_text(told, farm.units, width=None)


def test_a_machine_walked_with_its_well_is_ready_and_owes_what_takes_water(farm: Farm) -> None:
    told = board(farm, ALL_DONE)
    pivot = system(told, "P")
    assert (pivot.state, pivot.waiting) == ("ready", ())
    (owed,) = pivot.owed
    assert [item.id for item, _ in owed.unseen] == ["flow", "pressure"]
    well = system(told, "Home well")
    assert (well.state, well.ready_for, well.not_for) == ("ready", ("P",), ("Tape",))
    words = ready_text(told, farm.units, width=None)
    assert "P: Nothing open that stops first water (last seen 19:00, Ana)" in words
    assert "Home well: Nothing open that stops first water, for 1 of the 2 it serves (last seen " in words
    assert "does not mean that a machine may be started, or that nothing leaks" in words
    for never in ("safe to start", "no leak"):
        assert never not in words.casefold()


def test_a_system_needs_its_well_and_a_well_something_ready_to_water(farm: Farm) -> None:
    flags = [flag(4, "panel", WellSpot(well="Home well"))]
    told = board(farm, ALL_DONE, flags)
    assert whats(system(told, "Home well")) == ["flag"]
    assert [(line.what, line.well) for line in system(told, "P").waiting] == [("well", "Home well")]
    alone = board(farm, (ROUND, *WELL_DONE))
    well = system(alone, "Home well")
    assert (well.waiting, well.state, well.ready_for) == ((), "waiting", ())


def test_open_flags_that_are_unsafe_or_stop_wait_fixed_ones_are_owed_the_rest_is_told(farm: Farm) -> None:
    flags = [
        flag(1, "gearbox", on_pivot(3)),
        flag(2, "cover", on_pivot(2)),
        flag(3, "sprinkler", on_pivot(2)),
        flag(4, "sprinkler", on_pivot(4), "fixed"),
        flag(5, "tire", on_pivot(4), "fixed"),
        flag(6, "drop", on_pivot(5), "checked"),
        flag(7, "wiring", on_pivot(5), "not-a-fault"),
        flag(8, "structure", MachineSpot(pivot="Gone", said="tower 1", tower=1)),
    ]
    told = board(farm, ALL_DONE, flags)
    pivot = system(told, "P")
    assert [line.flag.state.number for line in pivot.waiting if line.flag] == [2, 1]
    assert [line.flag.state.number for line in pivot.owed if line.flag] == [4]
    assert pivot.also_open == (3, 5)
    assert [each.state.number for each in told.elsewhere] == [8]
    assert set(FLAG_KINDS) >= UNDER_WATER


def test_a_fault_of_the_ground_holds_up_every_machine_that_waters_it(tmp_path: Path) -> None:
    pivots = "".join(PIVOT.replace("[[pivot]]", f'[[pivot]]\nname = "{name}"') for name in "PQ")
    own = load_farm(write_farm(tmp_path, FARM_TOML, {"a": f'name = "Home field"\n{OUTLINE}{pivots}'}))
    spot = GroundSpot(lon=-101.4955, lat=36.7546, accuracy=Accuracy(radius_m=3.0, kind="r95"))
    corner = GroundSpot(lon=-101.4999, lat=36.7501, accuracy=Accuracy(radius_m=3.0, kind="r95"))
    flags = [
        replace(flag(1, "washout", spot), flag_class="unsafe"),
        replace(flag(2, "washout", corner), flag_class="unsafe"),
    ]
    told = board(own, (ROUND,), flags)
    assert [[line.flag.state.number for line in each.waiting if line.flag] for each in told.systems] == [
        [1],
        [1],
    ]
    assert [each.state.number for each in told.elsewhere] == [2]


def test_what_failed_says_whose_turn_it_is_and_by_when(farm: Farm) -> None:
    failed = {"answer": "bad", "said": "no", "why": "relay burnt", "next": "new relay"}
    failed |= {"whose": "electrician", "needed_by": "2027-04-01"}
    records = (ROUND, *WELL_DONE, PIVOT_DONE[1], look("P", "pivot", "forward", items={"reverse": failed}))
    told = ready_record(board(farm, records), farm.units)
    (line,) = told["systems"][0]["waiting"]
    assert (line["what"], line["item"], line["whose"], line["needed_by"]) == (
        "failed", "reverse", "electrician", "2027-04-01",
    )  # fmt: skip
    assert line["words"] == (
        "Walks in reverse: not good; why: relay burnt; next: new relay; turn of the electrician; "
        "needed by 2027-04-01"
    )
    bare = {"answer": "bad", "said": "no: it hums"}
    records = (ROUND, *WELL_DONE, PIVOT_DONE[1], look("P", "pivot", "forward", items={"reverse": bare}))
    (line,) = ready_record(board(farm, records), farm.units)["systems"][0]["waiting"]
    assert line["words"] == "Walks in reverse: not good; no: it hums; whose turn: not said"


def test_what_was_said_of_several_towers_in_one_go_is_one_line(farm: Farm) -> None:
    flat = {"answer": "bad", "said": "flat", "why": "cold"}
    once = look("P", "pivot", towers=["1", "2", "4"], items={"tires": flat})
    again = look("P", "pivot", towers=["6"], items={"tires": {"answer": "bad", "said": "cut"}})
    told = system(board(farm, (ROUND, once, again)), "P")
    failed = [line for line in told.waiting if line.what == "failed"]
    assert [line.parts for line in failed] == [("1", "2", "4"), ("6",)]
    words = ready_text(board(farm, (ROUND, once, again)), farm.units, width=None)
    assert "  - Tires (towers 1 to 2, 4): not good; flat; why: cold\n" in words
    assert "  - Tires (tower 6): not good; cut\n" in words


def test_a_reading_outside_its_limits_waits_until_it_is_read_again(farm: Farm) -> None:
    """460 V on the plate, 10 % either way: 414 to 506 (NEMA MG 1, 12.44.1)."""
    low = volts("Home well", "well", 405.0)
    told = board(farm, (*ALL_DONE, low))
    assert whats(system(told, "Home well")) == ["reading"]
    assert "405 V" in ready_text(told, farm.units, width=None)
    again = record(
        "reading", NOW - timedelta(hours=1), system="Home well", kind="well", item="volts", voltage_v=455.0
    )
    assert system(board(farm, (*ALL_DONE, low, again)), "Home well").waiting == ()


def test_what_was_not_seen_is_named_with_its_towers(farm: Farm) -> None:
    part = record("look", system="P", kind="pivot", round=ROUND.id, nothing_seen=True, towers=["1", "2", "3"])
    words = ready_text(board(farm, (ROUND, part)), farm.units, width=None)
    assert "Not looked at: Tires, Gearboxes, Drive shafts and couplers, Tower boxes shut, " in words
    assert words.count("(towers 4 to 7)") == 1
    assert "Not tried: Walks forward; Walks in reverse" in words
    assert "Not read: Volts on the meter in the closed door" in words


def fill(hours_ago: float, zone: str = "North", **value: Any) -> Record:
    at = when_text(NOW - timedelta(hours=hours_ago))
    return record("fill", system="Tape", kind="drip", zone=zone, at=at, **value)


def walked(hours_ago: float) -> Record:
    when = NOW - timedelta(hours=hours_ago)
    return record(
        "look",
        when,
        system="Tape",
        kind="drip",
        round=ROUND.id,
        zones=["North"],
        items=good("walked-after-the-wait"),
        at=when_text(when),
    )


def test_a_filled_zone_waits_for_its_tape_and_twelve_hours_more(farm: Farm) -> None:
    """Volume of a metre of tape over its flow: pi d2/4 against q (10/8)^0.5 / spacing; length cancels."""
    layouts = [lay_out(each) for each in farm.fields]
    filled = fill(3.5)
    (found,) = fills_of(layouts, [filled])
    litres_per_m = 3.141592653589793 * (1.375 * 0.0254) ** 2 / 4 * 1000
    lps_per_m = 0.16 * 3.785411784 / 3600 * (10 / 8) ** 0.5 / (24 * 0.0254)
    minutes = litres_per_m / lps_per_m / 60
    assert found.full_at is not None
    assert (found.full_at - found.since).total_seconds() / 60 == pytest.approx(minutes, rel=1e-3)
    assert found.look_at - found.full_at == timedelta(hours=12)
    lines = {line.what: line for line in system(board(farm, (ROUND, filled)), "Tape").waiting}
    assert lines["zone"].fill == found


def test_a_zone_waits_until_it_was_walked_after_the_wait(farm: Farm) -> None:
    waits = system(board(farm, (ROUND, fill(30), walked(20))), "Tape")
    assert whats(waits).count("zone") == 1, "walked before water could show"
    done = system(board(farm, (ROUND, fill(30), walked(1))), "Tape")
    assert "zone" not in whats(done)
    text = ready_text(board(farm, (ROUND, fill(3.5), walked(1))), farm.units, width=None)
    assert "North has water since 17:30, full at 1" in text
    assert "waits until 2027-03-16 0" in text
    late = ready_text(board(farm, (ROUND, fill(20, wait_h=2.0))), farm.units, width=None)
    assert "look it over now, it has waited since " in late
    long = board(farm, (record("round", NOW, name="Next"), fill(72, wait_h=70.0)))
    assert "zone" in whats(system(long, "Tape")), "filled days before the round, and still to be looked over"
    past = board(farm, (record("round", NOW, name="Next"), fill(24 * 300)))
    assert "zone" not in whats(system(past, "Tape")), "a fill of another year is no wait of this one"


def test_a_fill_is_kept_and_what_cannot_be_is_refused(farm: Farm, tmp_path: Path) -> None:
    layouts = [lay_out(each) for each in farm.fields]
    stamp = Stamp(when=NOW, who="Ana", source="test")
    with open_season(tmp_path / "season.db", create=True) as season:
        say_filled(season, layouts, drip=None, zone="south", since=NOW, stamp=stamp, wait_h=10)
        (found,) = fills_of(layouts, fold_records(season.events()))
        assert (found.drip, found.zone, found.since, found.wait_h) == ("Tape", "South", NOW, 10.0)
        with pytest.raises(PlaceError, match='zone of "Tape": no name given; allowed: "North", "South"'):
            say_filled(season, layouts, drip="Tape", zone=None, since=NOW, stamp=stamp)
        with pytest.raises(PlaceError, match="--wait: found -1 h; allowed: 0 to 1,000"):
            say_filled(season, layouts, drip="Tape", zone="South", since=NOW, stamp=stamp, wait_h=-1)
        with pytest.raises(PlaceError, match="--since: found 2027-03-16 21:00, which is still to come"):
            say_filled(season, layouts, drip="Tape", zone="South", since=NOW + timedelta(days=1), stamp=stamp)
        for year in (1, 2025):
            long_ago = NOW.replace(year=year)
            with pytest.raises(
                PlaceError, match=r"--since: found .*; allowed: a time of this year or the one"
            ):
                say_filled(season, layouts, drip="Tape", zone="South", since=long_ago, stamp=stamp)
        assert len(season.events()) == 1
        say_filled(season, layouts, drip="Tape", zone="South", since=NOW - timedelta(hours=1), stamp=stamp)
        say_filled(season, layouts, drip="Tape", zone="North", since=NOW, stamp=stamp)
        # The last time that water went on is taken back first, though the one before it was said later.
        where, stands = undo_fill(season, layouts, drip="Tape", zone="south", stamp=stamp)
        assert (where, stands and stands.since) == ("South", NOW - timedelta(hours=1))
        assert "as before: South has water since 20:00" in undone_words(stands, NOW)
        assert undo_fill(season, layouts, drip="Tape", zone="South", stamp=stamp) == ("South", None)
        assert undone_words(None, NOW) == "taken back; no water is said to be in it"
        with pytest.raises(SeasonError, match='fill: no water was said to be in "South"; there is nothing'):
            undo_fill(season, layouts, drip="Tape", zone="South", stamp=stamp)
        assert [each.zone for each in fills_of(layouts, fold_records(season.events()))] == ["North"]


def test_what_was_put_away_waits_in_spring(farm: Farm) -> None:
    away = record("put-away", NOW - timedelta(days=120), system="P", kind="pivot", item="drained")
    back = record(
        "put-away",
        NOW - timedelta(days=120),
        system="P",
        kind="pivot",
        item="end-open",
        back_at=when_text(NOW),
    )
    pivot = system(board(farm, (*ALL_DONE, away, back)), "P")
    assert whats(pivot) == ["put-away"]
    assert "Close the drain valves" in ready_text(board(farm, (*ALL_DONE, away)), farm.units, width=None)


def test_the_page_has_no_script_speaks_spanish_and_shows_names_as_data(tmp_path: Path) -> None:
    name = "<script>alert(1)</script>"
    pivot = PIVOT.replace("[[pivot]]", f'[[pivot]]\nname = "{name}"')
    hostile = load_farm(write_farm(tmp_path, FARM_TOML, {"a": f'name = "Home field"\n{OUTLINE}{pivot}'}))
    bad = {"forward": {"answer": "bad", "said": "<img src=x onerror=alert(1)>"}}
    told = board(hostile, (ROUND, look(name, "pivot", items=bad)))
    page = ready_page(told, hostile.units)
    assert "<script" not in page
    assert "<img" not in page
    assert '<html lang="en">' in page
    assert "default-src 'none'" in page
    with speaking("es"):
        spanish = ready_page(told, hostile.units)
    assert '<html lang="es">' in spanish
    assert "Test farm: ¿listo para la primera agua?" in spanish


def test_records_that_make_no_sense_are_passed_over(farm: Farm) -> None:
    ends = ("0001-01-01T00:00:00Z", "9999-12-31T23:59:59Z")
    odd = [
        *(record("fill", system="Tape", kind="drip", zone="North", at=at) for at in ends),
        record("fill", system="Tape", kind="drip", zone=["North"]),
        record("fill", system=None, zone="North"),
        record("put-away", system=["P"], item="drained"),
        record("put-away", system="P", item="drained", kind="pivot", azimuth_deg="north", note=7),
        record("reading", system="Home well", kind="well", item="meter", volume_m3=5.0, at=ends[0]),
        *(volts("Home well", "well", 300.0) for _ in range(2)),
        record("reading", system="Home well", kind="well", item="volts", voltage_v=300.0, at=ends[1]),
    ]
    told = board(farm, (*ALL_DONE, *odd))
    assert whats(system(told, "P")) == ["put-away", "well"]
    assert ready_page(told, farm.units)


def test_a_day_that_has_passed_is_said(farm: Farm) -> None:
    failed = {"answer": "bad", "whose": "dealer", "needed_by": "2027-03-14"}
    told = board(farm, (ROUND, look("P", "pivot", items={"forward": failed})))
    assert "turn of the dealer; needed by 2027-03-14, which has passed" in ready_text(
        told, farm.units, width=None
    )


def test_towers_of_a_lateral_move_are_runs_by_side(tmp_path: Path) -> None:
    move = (
        '[[lateral_move]]\nname = "L"\n'
        "path = [{ lat = 36.751, lon = -101.4955 }, { lat = 36.756, lon = -101.4955 }]\n"
        "left = { spans = [150, 150, 150] }\nright = { spans = [150, 150] }\n"
    )
    own = load_farm(write_farm(tmp_path, FARM_TOML, {"a": f'name = "Home field"\n{OUTLINE}{move}'}))
    told = board(own, (ROUND, look("L", "lateral move", towers=["left 1"])))
    assert "(towers left 2 to 3, right 1 to 2)" in ready_text(told, own.units, width=None)

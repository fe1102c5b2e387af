"""Words of a round: towers, answers, dates and exceptions as people write them, and the table."""

from __future__ import annotations

import csv
from contextlib import suppress
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ringrow.coverage.layout import lay_out
from ringrow.errors import FileError, PlaceError, RingrowError
from ringrow.farm.flag_model import DripSpot, MachineSpot, MoveSpot, WellSpot
from ringrow.farm.load import load_farm
from ringrow.farm.readers.cells import plain_words
from ringrow.farm.round_entries import (
    RoundDesk,
    SaidOfLook,
    SaidOfReading,
    look_entry,
    reading_entry,
    round_desk,
)
from ringrow.farm.round_sheet import COLUMNS, blank_rows, read_sheet, sheet_subjects
from ringrow.farm.round_words import parse_answer, parse_day, parse_moment, parse_parts, parse_whose
from ringrow.handoff.languages import LANGUAGES, _, speaking
from ringrow.handoff.round_sheet_file import SHEET_HEADINGS, write_sheet

SAMPLE = Path(__file__).resolve().parents[2] / "sample_fields" / "two_windmill_farm"


@pytest.fixture(scope="module")
def desk() -> RoundDesk:
    farm = load_farm(SAMPLE)
    wanted = {"Windmill quarter", "Elevator quarter", "Tow eighty", "Ditch field"}
    farm = replace(farm, fields=tuple(field for field in farm.fields if field.name in wanted))
    return round_desk(farm, [lay_out(field) for field in farm.fields])


def parts(desk: RoundDesk, text: str, system: str = "Windmill pivot", per: str = "tower") -> tuple[str, ...]:
    return parse_parts(text, desk.things[system][1], per, system=system)


@pytest.mark.parametrize(
    ("text", "named"),
    [
        ("1-3", ("1", "2", "3")),
        ("7, 1-2", ("1", "2", "7")),
        ("towers 2 - 3", ("2", "3")),
        ("3 to 4", ("3", "4")),
        ("5", ("5",)),
        ("2,2,2", ("2",)),
    ],
)
def test_towers(desk: RoundDesk, text: str, named: tuple[str, ...]) -> None:
    assert parts(desk, text) == named


def test_towers_of_a_lateral_move_have_a_side(desk: RoundDesk) -> None:
    assert parts(desk, "right 1, left 1-2", "Ditch lateral") == ("left 1", "left 2", "right 1")
    assert parts(desk, "left 1, 3", "Ditch lateral") == ("left 1", "left 3")
    assert parts(desk, "derecha 2", "Ditch lateral") == ("right 2",)
    assert parts(desk, "north zone, South zone", "Elevator drip", "zone") == ("North zone", "South zone")


@pytest.mark.parametrize(
    ("text", "system", "per", "message"),
    [
        ("1-8", "Windmill pivot", "tower", 'towers of "Windmill pivot": found "1-8"; allowed: 1 to 7'),
        ("0", "Windmill pivot", "tower", 'found "0"; allowed: 1 to 7'),
        ("3-1", "Windmill pivot", "tower", 'found "3-1"; allowed: 1 to 7'),
        ("all", "Windmill pivot", "tower", 'found "all"; allowed: 1 to 7'),
        ("1-999999999", "Windmill pivot", "tower", "allowed: 1 to 7"),
        (",", "Windmill pivot", "tower", "found none; allowed: 1 to 7"),
        ("2", "Ditch lateral", "tower", 'found "2"; allowed: left 1 to right 3'),
        ("1", "Home well", "tower", 'towers of "Home well": found "1"; it has none'),
        ("West", "Elevator drip", "zone", 'found "West"; allowed: "North zone", "South zone"'),
    ],
)
def test_towers_that_are_not_there(desk: RoundDesk, text: str, system: str, per: str, message: str) -> None:
    with pytest.raises(PlaceError, match=message):
        parts(desk, text, system, per)


@pytest.mark.parametrize(
    ("text", "answer"),
    [
        ("yes", "good"), ("OK", "good"), ("Sí", "good"), ("bien", "good"), ("nothing seen", "good"),
        ("vacía", "bad"), ("fuga: en el codo", "bad"),
        ("no", "bad"), ("low", "bad"), ("bad: bearing growls", "bad"), ("no, relay", "bad"), ("baja", "bad"),
        ("none", "none"), ("n/a", "none"), ("no hay", "none"),
    ],
)  # fmt: skip
def test_answers(text: str, answer: str) -> None:
    assert parse_answer(text, item="oil")["answer"] == answer


@pytest.mark.parametrize("text", ["maybe", "", "  ", "yess", "=1+1", "milky"])
def test_an_answer_that_is_neither_is_refused(text: str) -> None:
    with pytest.raises(PlaceError, match=r"oil: found .*; allowed: yes, no, low, bad: \.\.\., none"):
        parse_answer(text, item="oil")


def test_days_and_moments() -> None:
    assert parse_day("2027/4/1", what="needed by") == "2027-04-01"
    assert parse_moment("2026-03-14", what="at").isoformat() == "2026-03-14T12:00:00+00:00"
    assert parse_moment("2026-03-14T08:30-05:00", what="at").isoformat() == "2026-03-14T13:30:00+00:00"
    for text in ("4/1/27", "2027-02-30", "soon", "2027-13-01", "99999-01-01"):
        with pytest.raises(PlaceError, match=r"needed by: found .*; allowed: year-month-day"):
            parse_day(text, what="needed by")
        with pytest.raises(PlaceError, match=r"(at|needed by): found .*; allowed: year-month-day"):
            parse_moment(text, what="at")
    with pytest.raises(PlaceError, match=r"at: found .*; allowed: year-month-day and time"):
        parse_moment("0001-01-01 08:00", what="at")
    # Noon of the last day there is, twelve hours behind UTC, has no name in UTC.
    with pytest.raises(PlaceError, match=r"at: found .*; allowed: year-month-day"):
        parse_moment("9999-12-31", what="at", zone=timezone(timedelta(hours=-12)))


def test_whose() -> None:
    assert [parse_whose(text) for text in ("Us", "well driller", "Electricista")] == [
        "us", "well-driller", "electrician",
    ]  # fmt: skip
    with pytest.raises(PlaceError, match='whose: found "nobody"; allowed: "us", "dealer"'):
        parse_whose("nobody")


# --- exceptions


def exception(desk: RoundDesk, system: str, text: str) -> tuple[str, object]:
    (flag,) = look_entry(desk, system, SaidOfLook(exceptions=(text,))).flags
    return flag.kind, flag.spot


@pytest.mark.parametrize(
    ("text", "kind", "tower", "drop"),
    [
        ("tower 5: gearbox leaking", "gearbox", 5, None),
        ("T5 flat tire", "tire", 5, None),
        ("torre 3: llanta ponchada", "tire", 3, None),
        ("tower 4, drop +2: nozzle plugged", "sprinkler", 4, 2),
        ("tower 2: strange noise", "other-machine", 2, None),
    ],
)
def test_an_exception_on_a_pivot(desk: RoundDesk, text: str, kind: str, tower: int, drop: int | None) -> None:
    found, spot = exception(desk, "Windmill pivot", text)
    assert isinstance(spot, MachineSpot)
    assert (found, spot.pivot, spot.tower, spot.drop) == (kind, "Windmill pivot", tower, drop)


def test_exceptions_elsewhere(desk: RoundDesk) -> None:
    kind, spot = exception(desk, "Windmill pivot", "end gun does not turn")
    assert isinstance(spot, MachineSpot)
    assert (kind, spot.said) == ("end-gun", "pipe end")
    kind, spot = exception(desk, "Ditch lateral", "left tower 2: tire flat")
    assert isinstance(spot, MoveSpot)
    assert (kind, spot.side, spot.tower) == ("tire", "left", 2)
    # The side beside the tower's number counts, not that of a wheel.
    kind, spot = exception(desk, "Ditch lateral", "torre 2 derecha: llanta izquierda ponchada")
    assert isinstance(spot, MoveSpot)
    assert (kind, spot.side, spot.tower) == ("tire", "right", 2)
    seen = SaidOfLook(towers="right 3", exceptions=("left tire flat",))
    (flag,) = look_entry(desk, "Ditch lateral", seen).flags
    assert isinstance(flag.spot, MoveSpot)
    assert (flag.kind, flag.spot.side, flag.spot.tower) == ("tire", "right", 3)
    assert exception(desk, "North well", "wasp nest under the lid") == ("nest", WellSpot(well="North well"))
    kind, spot = exception(desk, "Elevator drip", "lateral 43 station 600: leak")
    assert isinstance(spot, DripSpot)
    assert (kind, spot.lateral, round(spot.station_m / 0.3048, 6)) == ("leak", 43, 600)
    kind, spot = exception(desk, "Elevator drip", "V1 valve leaks at the stem")
    assert spot == WellSpot(well="Elevator well")
    kind, spot = exception(desk, "Tow pivot", "tower 2 gearbox")
    assert isinstance(spot, MachineSpot)
    assert spot.pivot == "Tow pivot"


def test_the_one_tower_that_was_looked_at_is_the_place(desk: RoundDesk) -> None:
    (flag,) = look_entry(desk, "Windmill pivot", SaidOfLook(towers="5", exceptions=("gearbox leaks",))).flags
    assert isinstance(flag.spot, MachineSpot)
    assert flag.spot.tower == 5
    said = SaidOfLook(towers="right 2", exceptions=("tire flat", "right tower 3: tire flat"))
    spots = [flag.spot for flag in look_entry(desk, "Ditch lateral", said).flags]
    assert [(spot.side, spot.tower) for spot in spots if isinstance(spot, MoveSpot)] == [
        ("right", 2), ("right", 3),
    ]  # fmt: skip
    end_gun = (
        look_entry(desk, "Windmill pivot", SaidOfLook(towers="5", exceptions=("span 2: bent",))).flags[0].spot
    )
    assert isinstance(end_gun, MachineSpot)
    assert (end_gun.tower, end_gun.span) == (None, 2)


@given(text=st.text(max_size=60) | st.from_regex(r"[0-9left tower:,./-]{0,30}", fullmatch=True))
def test_no_text_breaks_the_words(desk: RoundDesk, text: str) -> None:
    """Whatever is written is understood or refused with a message of ours."""
    for system in ("Windmill pivot", "Ditch lateral", "Elevator drip", "Home well"):
        for said in (SaidOfLook(exceptions=(text,)), SaidOfLook(towers=text, nothing_seen=True),
                     SaidOfLook(zones=text, items=(("starts", text), (text, "yes"))),
                     SaidOfLook(nothing_seen=True, at=text, note=text)):  # fmt: skip
            with suppress(RingrowError):
                look_entry(desk, system, said)
    for item in ("volts", "line-volts", "temperature", text):
        with suppress(RingrowError):
            reading_entry(desk, "Home well", SaidOfReading(item=item, number=text, unit=text, qualified=True))
    for parse in (parse_day, parse_moment):
        with suppress(RingrowError):
            parse(text, what="at")


@given(cells=st.lists(st.lists(st.text(max_size=12), max_size=9), max_size=6))
def test_no_table_breaks_the_reader(
    desk: RoundDesk, tmp_path_factory: pytest.TempPathFactory, cells: list[list[str]]
) -> None:
    path = tmp_path_factory.mktemp("t") / "round.csv"
    with path.open("w", encoding="utf-8", errors="replace", newline="") as stream:
        csv.writer(stream).writerows(
            [["system", "item", "answer", "except", "when", "whose", "tower or zone"], *cells]
        )
    with suppress(RingrowError):
        read_sheet(path, desk)


def test_names_in_a_table_may_be_written_small(desk: RoundDesk, tmp_path: Path) -> None:
    path = tmp_path / "round.csv"
    path.write_text("system,item,answer\nwindmill pivot,flow,780 gpm\n", encoding="utf-8")
    ((row,), _) = read_sheet(path, desk)
    assert row.entry.value["system"] == "Windmill pivot"
    path.write_text("system,item,answer\nwindmill pivot,FLOW,780 gpm\nNorth well,Oil,low\n", encoding="utf-8")
    rows, _ = read_sheet(path, desk)
    assert [row.entry.value.get("item") or [*row.entry.value["items"]] for row in rows] == ["flow", ["oil"]]


@pytest.mark.parametrize(
    ("system", "text", "message"),
    [
        ("Windmill pivot", "gearbox leaking", 'exception "gearbox leaking": .*found no tower, span'),
        ("Windmill pivot", "tower 9: tire", 'exception "tower 9: tire": .*tower'),
        ("Windmill pivot", "tower 3: washout", "stays on the ground while the machine walks on"),
        ("Elevator drip", "leak by the road", 'found no place on "Elevator drip"; allowed: lateral N'),
        ("Elevator drip", "lateral 9999 station 5: leak", 'exception "lateral 9999'),
        ("Ditch lateral", "tower 2: tire", "side"),
    ],
)
def test_an_exception_that_has_no_place(desk: RoundDesk, system: str, text: str, message: str) -> None:
    with pytest.raises(PlaceError, match=message):
        look_entry(desk, system, SaidOfLook(exceptions=(text,)))


# --- entries


@pytest.mark.parametrize(
    ("system", "said", "message"),
    [
        ("Windmill pivot", SaidOfLook(), "found nothing said of it; allowed: --nothing-seen"),
        (
            "Wind pivot",
            SaidOfLook(nothing_seen=True),
            'system: found "Wind pivot"; allowed: .*nearest: "Wind',
        ),
        ("Windmill pivot", SaidOfLook(items=(("oil", "yes"),)), 'item of "Windmill pivot": found "oil"'),
        ("Windmill pivot", SaidOfLook(items=(("volts", "470"),)), "volts: is read, not looked at"),
        (
            "Windmill pivot",
            SaidOfLook(items=(("forward", "yes"),), why="x"),
            "why: found without an item that is",
        ),
        (
            "Windmill pivot",
            SaidOfLook(exceptions=("tower 1: tire",) * 51),
            "exceptions: found 51; allowed: up to 50",
        ),
        (
            "Windmill pivot",
            SaidOfLook(nothing_seen=True, zones="N"),
            'zones of "Windmill pivot".*it has none',
        ),
        ("Windmill pivot", SaidOfLook(nothing_seen=True, note="x" * 10_001), "note: found 10,001 characters"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_a_look_that_cannot_be(desk: RoundDesk, system: str, said: SaidOfLook, message: str) -> None:
    with pytest.raises(RingrowError, match=message):
        look_entry(desk, system, said)


@pytest.mark.parametrize(
    ("system", "said", "message"),
    [
        (
            "Home well",
            SaidOfReading(item="line-volts", number="460 467 450 V"),
            "no farmhand is asked to do that",
        ),
        ("Windmill pivot", SaidOfReading(item="volts", number="471 V"), "found neither walking nor idle"),
        (
            "Elevator drip",
            SaidOfReading(item="zone-flow", number="9 gpm"),
            'zone of "Elevator drip": no name given',
        ),
        ("Elevator drip", SaidOfReading(item="filter-loss", number="9 psi", zone="N"), 'zone: found "N"'),
        (
            "Home well",
            SaidOfReading(item="end-pressure", number="9 psi"),
            'reading of a well: found "end-pressure"',
        ),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_a_reading_that_cannot_be(desk: RoundDesk, system: str, said: SaidOfReading, message: str) -> None:
    with pytest.raises(RingrowError, match=message):
        reading_entry(desk, system, said)


def test_the_values_that_records_hold(desk: RoundDesk) -> None:
    """As docs/rounds.md has them; a page writes the same."""
    said = SaidOfLook(
        towers="1-2", exceptions=("tower 2: tire flat",), items=(("reverse", "no"),), why="relay",
        next_step="new one", whose="dealer", needed_by="2027-04-01", at="2026-03-14", note="muddy",
    )  # fmt: skip
    assert look_entry(desk, "windmill pivot", said).value == {
        "system": "Windmill pivot",
        "kind": "pivot",
        "towers": ["1", "2"],
        "items": {
            "reverse": {
                "answer": "bad", "said": "no", "why": "relay", "next": "new one", "whose": "dealer",
                "needed_by": "2027-04-01",
            }
        },
        "nothing_seen": True,
        "note": "muddy",
        "at": "2026-03-14T12:00:00.000000Z",
    }  # fmt: skip
    reading = SaidOfReading(item="volts", number="471", unit="V", walking=True)
    assert reading_entry(desk, "Windmill pivot", reading).value == {
        "system": "Windmill pivot", "kind": "pivot", "item": "volts", "voltage_v": 471.0, "said": "471 V",
        "walking": True,
    }  # fmt: skip


def test_why_goes_with_what_was_tried(desk: RoundDesk) -> None:
    """The battery is why the engine does not start, not why its oil is low."""
    both = (("starts", "no"), ("oil", "low"))
    items = look_entry(desk, "North well", SaidOfLook(items=both, why="battery dead")).value["items"]
    assert items == {
        "starts": {"answer": "bad", "said": "no", "why": "battery dead"},
        "oil": {"answer": "bad", "said": "low"},
    }
    items = look_entry(desk, "North well", SaidOfLook(items=both[1:], why="leak at the pan")).value["items"]
    assert items == {"oil": {"answer": "bad", "said": "low", "why": "leak at the pan"}}


# --- the table


def filled(path: Path, answers: dict[tuple[str, str], dict[str, str]]) -> None:
    """Fill in a written table: cells by column, by system and item."""
    with path.open(encoding="utf-8-sig", newline="") as stream:
        rows = list(csv.reader(stream))
    known = {name: role for role, names in COLUMNS.items() for name in names}
    roles = [known[plain_words(name)] for name in rows[0]]
    for row in rows[1:]:
        for role, text in answers.get((row[0], row[1]), {}).items():
            row[roles.index(role)] = text
    with path.open("w", encoding="utf-8", newline="") as stream:
        csv.writer(stream).writerows(rows)


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_blank_table_says_nothing_and_a_filled_one_comes_back(
    desk: RoundDesk, tmp_path: Path, language: str
) -> None:
    path = tmp_path / "round.csv"
    with speaking(language):
        count = write_sheet(blank_rows(desk.farm), path)
    assert read_sheet(path, desk) == ([], count)
    yes = {"en": "nothing seen", "es": "nada visto"}[language]
    filled(
        path,
        {
            ("Windmill pivot", ""): {"answer": yes, "who": "Ben"},
            ("Windmill pivot", "reverse"): {"answer": "no", "why": "relay", "whose": "dealer"},
            ("Windmill pivot", "volts"): {"answer": "471", "state": "walking", "when": "2026-03-14"},
            ("Elevator drip", "ends-flushed"): {"answer": "yes"},
        },
    )
    rows, blank = read_sheet(path, desk)
    assert [row.entry.type for row in rows] == ["look", "reading", "look", "look", "look"]
    assert blank == count - 5
    by_item = {
        row.entry.value.get("item") or next(iter(row.entry.value.get("items", {})), ""): row for row in rows
    }
    assert by_item[""].entry.value["nothing_seen"] is True
    assert by_item[""].who == "Ben"
    assert by_item["volts"].entry.value["voltage_v"] == 471
    assert by_item["reverse"].entry.value["items"]["reverse"]["whose"] == "dealer"
    subjects = sheet_subjects(rows, "round")
    assert len(set(subjects)) == len(rows)
    assert subjects == sheet_subjects(rows, "round")
    assert not set(subjects) & set(sheet_subjects(rows, "another"))


def test_every_heading_is_known_in_every_language() -> None:
    for language in LANGUAGES:
        with speaking(language):
            for role, heading in SHEET_HEADINGS.items():
                assert plain_words(_(heading)) in COLUMNS[role]


def test_no_cell_of_the_table_is_a_formula(desk: RoundDesk, tmp_path: Path) -> None:
    path = tmp_path / "round.csv"
    rows = blank_rows(desk.farm)
    write_sheet([replace(rows[1], own_words="=HYPERLINK(1)")], path)
    with path.open(encoding="utf-8-sig", newline="") as stream:
        cells = [cell for row in csv.reader(stream) for cell in row]
    assert "'=HYPERLINK(1)" in " ".join(cells)
    assert not [cell for cell in cells if cell[:1] in ("=", "+", "-", "@")]


def test_every_bad_row_is_named(desk: RoundDesk, tmp_path: Path) -> None:
    path = tmp_path / "round.csv"
    path.write_text(
        "system,item,answer,tower or zone,except,why,by a qualified person,walking or idle,when\n"
        "Windmill pivot,forward,maybe,,,,,\n"
        "Windmill pivot,forward,yes,,,,,\n"
        "Gone pivot,forward,yes,,,,,\n"
        "Windmill pivot,tires,yes,9,,,,\n"
        "Windmill pivot,,good enough,,,,,\n"
        "Windmill pivot,gun,,,,why not,,\n"
        "Windmill pivot,flow,many,,,,,\n"
        "Windmill pivot,flow,780 gpm,,,because,,\n"
        "Home well,line-volts,460 467 450,,,,no,\n"
        "Windmill pivot,volts,471,,,,,sleeping\n"
        "Home well,volts,471,,,,perhaps,\n"
        "Windmill pivot,tires,yes,,,,,,2072-01-01\n",
        encoding="utf-8",
    )
    with pytest.raises(FileError, match="nothing was brought in; rows that cannot be: 11") as told:
        read_sheet(path, replace(desk, now=datetime(2027, 3, 14, tzinfo=UTC)))
    lines = str(told.value).split("\n")[1:]
    assert [line.split(":")[0] for line in lines] == [f"row {n}" for n in (2, *range(4, 14))]
    wanted = (
        *('found "maybe"', 'found "Gone pivot"', "allowed: 1 to 7", "without an item"),
        *("found no answer beside it", 'found "many"', "found beside a number", "no farmhand"),
        *("allowed: walking, idle", "allowed: yes, no", "which is still to come"),
    )
    for words in wanted:
        assert any(words in line for line in lines), words


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "found an empty file"),
        ("lat,lon\n1,2\n", "found no column system or item or answer"),
        ("system,item\nP,x\n", "found no column answer"),
    ],
)
def test_a_file_that_is_no_such_table(desk: RoundDesk, tmp_path: Path, text: str, message: str) -> None:
    path = tmp_path / "round.csv"
    with pytest.raises(
        FileError, match="found no such file; allowed: a table as written by ringrow round sheet"
    ):
        read_sheet(path, desk)
    path.write_text(text, encoding="utf-8")
    with pytest.raises(FileError, match=message):
        read_sheet(path, desk)

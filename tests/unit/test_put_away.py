"""The fall list: what is put away waits until it is brought back, and every word of it can be said."""

from __future__ import annotations

from datetime import UTC, datetime
from itertools import count
from typing import TYPE_CHECKING

import pytest

from farms import DRIP, FARM_TOML, FIELD, OUTLINE, write_farm
from ringrow.equipment.put_away import ITEMS
from ringrow.errors import FarmFileError, PlaceError, SeasonError
from ringrow.farm.flags import Stamp
from ringrow.farm.load import load_farm
from ringrow.farm.put_away import bring_back, do_items, find_system, item_names, put_away_lines, undo_item
from ringrow.farm.read_records import read_records
from ringrow.farm.records import fold_records, record_event
from ringrow.farm.season import open_season
from ringrow.farm.systems import farm_systems
from ringrow.handoff.languages import catalog
from ringrow.handoff.put_away_words import FALL, SPRING, spring_words

if TYPE_CHECKING:
    from pathlib import Path

    from ringrow.farm.model import Farm

WELL = '\n[[well]]\nname = "Home well"\nat = { lat = 36.753, lon = -101.495 }\npower = "engine"\n'
WELL += 'serves = ["Home field pivot 1"]\n'
TOWED = f"""name = "Tow field"
{OUTLINE}
[[pivot]]
name = "Tow"
points = [
    {{ name = "Tow west", lat = 36.7536, lon = -101.498 }},
    {{ name = "Tow east", lat = 36.7536, lon = -101.493 }},
]
spans = [180, 180]
"""


def stamp(day: datetime, start: int = 0) -> Stamp:
    numbers = count(start)
    return Stamp(
        when=day, who="Ana", source="test", new_id=lambda: f"00000000-0000-4000-8000-{next(numbers):012x}"
    )


FALL_DAY = datetime(2026, 11, 25, 15, tzinfo=UTC)
SPRING_DAY = datetime(2027, 3, 15, 15, tzinfo=UTC)


@pytest.fixture
def farm(tmp_path: Path) -> Farm:
    return load_farm(write_farm(tmp_path / "farm", FARM_TOML + WELL, {"home": FIELD}))


def test_a_towed_machine_is_put_away_once_and_a_well_serves_it_by_any_name(tmp_path: Path) -> None:
    well = WELL.replace("Home field pivot 1", "Tow east")
    farm = load_farm(write_farm(tmp_path, FARM_TOML + well, {"tow": TOWED}))
    home, tow = farm_systems(farm)
    assert (tow.name, tow.names, tow.wells) == ("Tow", ("Tow", "Tow west", "Tow east"), ("Home well",))
    assert home.serves == ("Tow",)
    assert find_system(farm, "tow EAST") == tow


def test_a_well_and_a_machine_of_one_name_are_put_away_each(tmp_path: Path) -> None:
    farm = load_farm(
        write_farm(tmp_path, FARM_TOML + WELL.replace("Home well", "Home field pivot 1"), {"home": FIELD})
    )
    well, pivot = find_system(farm, "Home field pivot 1 (well)"), find_system(farm, "home field pivot 1")
    assert (well.kind, pivot.kind) == ("well", "pivot")
    with open_season(farm.folder / "season.db", create=True) as season:
        do_items(season, farm, well, ["drained"], stamp=stamp(FALL_DAY))
        do_items(season, farm, pivot, ["drained"], stamp=stamp(FALL_DAY, 10))
        lines = put_away_lines(farm, fold_records(season.events()))
    assert [(line.system.kind, line.item) for line in lines if line.record] == [
        ("well", "drained"),
        ("pivot", "drained"),
    ]


def test_what_is_put_away_waits_until_it_is_brought_back_however_many_years_pass(farm: Farm) -> None:
    pivot = find_system(farm, "Home field pivot 1")
    with open_season(farm.folder / "season.db", create=True) as season:
        assert do_items(season, farm, pivot, ["drained"], stamp=stamp(FALL_DAY)) == ["drained"]
        assert do_items(season, farm, pivot, ["drained"], stamp=stamp(FALL_DAY, 10)) == []
        waiting = [line.item for line in put_away_lines(farm, fold_records(season.events())) if line.record]
        assert waiting == ["drained"]
        assert bring_back(season, farm, pivot, [], stamp=stamp(SPRING_DAY, 20)) == ["drained"]
        (record,) = fold_records(season.events())
        assert record.value["back_at"].startswith("2027-03-15")
        assert record.when == FALL_DAY
        assert not [line for line in put_away_lines(farm, [record]) if line.record]
        # The next fall is a record of its own; the one before keeps its fall and spring.
        do_items(season, farm, pivot, ["drained"], stamp=stamp(SPRING_DAY.replace(month=11), 30))
        assert len(fold_records(season.events())) == 2


def test_what_two_joined_logs_put_away_is_brought_back_once(farm: Farm) -> None:
    pivot = find_system(farm, "Home field pivot 1")
    value = {"system": pivot.name, "kind": "pivot", "item": "drained"}
    with open_season(farm.folder / "season.db", create=True) as season:
        with season.writing():
            for start in (0, 10):
                season.append([record_event("put-away", value, stamp=stamp(FALL_DAY, start))])
        assert bring_back(season, farm, pivot, ["drained"], stamp=stamp(SPRING_DAY, 20)) == ["drained"]
        assert not [line for line in put_away_lines(farm, fold_records(season.events())) if line.record]


def test_undo_takes_back_the_spring_then_the_fall_and_adds_rows_only(farm: Farm) -> None:
    pivot = find_system(farm, "Home field pivot 1")
    with open_season(farm.folder / "season.db", create=True) as season:
        with pytest.raises(SeasonError, match='nothing was said of "drained" of "Home field pivot 1"'):
            undo_item(season, farm, pivot, "drained", stamp=stamp(FALL_DAY))
        do_items(season, farm, pivot, ["drained"], stamp=stamp(FALL_DAY))
        assert undo_item(season, farm, pivot, "DRAINED", stamp=stamp(FALL_DAY, 10)) == ("drained", False)
        assert read_records(farm.folder / "season.db") == []
        do_items(season, farm, pivot, ["drained"], stamp=stamp(FALL_DAY, 20))
        bring_back(season, farm, pivot, ["drained"], stamp=stamp(SPRING_DAY, 30))
        assert undo_item(season, farm, pivot, "drained", stamp=stamp(SPRING_DAY, 40)) == ("drained", True)
        assert len(season.events()) == 5


def test_parked_keeps_where_it_stands_and_what_for(farm: Farm) -> None:
    pivot, well = find_system(farm, "Home field pivot 1"), find_system(farm, "Home well")
    with open_season(farm.folder / "season.db", create=True) as season:
        note = "out of the wind"
        do_items(season, farm, pivot, ["parked"], stamp=stamp(FALL_DAY), note=note, azimuth_deg=401.26)
        (line,) = [line for line in put_away_lines(farm, fold_records(season.events())) if line.record]
        assert spring_words(line).endswith("; parked at azimuth 41.3; out of the wind")
        with pytest.raises(PlaceError, match='azimuth: found 45 degrees for drained of "Home well"; allowed'):
            do_items(season, farm, well, ["drained"], stamp=stamp(FALL_DAY, 9), azimuth_deg=45.0)
        with pytest.raises(PlaceError, match='azimuth of "Home field pivot 1": found nan; allowed: degrees'):
            do_items(season, farm, pivot, ["parked"], stamp=stamp(FALL_DAY, 9), azimuth_deg=float("nan"))
        with pytest.raises(PlaceError, match='item of "Home well": found "parked"; allowed: "fuel-shut"'):
            do_items(season, farm, well, ["drained", "parked"], stamp=stamp(FALL_DAY, 9))
        assert len(season.events()) == 1


def test_an_item_the_list_no_longer_has_waits_all_the_same(farm: Farm) -> None:
    pivot = find_system(farm, "Home field pivot 1")
    with open_season(farm.folder / "season.db", create=True) as season:
        do_items(season, farm, pivot, ["drained"], stamp=stamp(FALL_DAY))
        records = fold_records(season.events())
    toml = '[[put_away]]\nkind = "pivot"\nitem = "drained"\nleave_out = true\n'
    write_farm(farm.folder, FARM_TOML + WELL + toml)
    changed = load_farm(farm.folder)
    assert "drained" not in item_names(changed, pivot)
    assert [line.item for line in put_away_lines(changed, records) if line.record] == ["drained"]


def test_the_farm_adds_words_anew_and_leaves_out_items(tmp_path: Path) -> None:
    toml = """
[[put_away]]
kind = "drip"
item = "mouse-bait"
words = "Bait stations along the header seen to, by somebody licensed"
back = "Take up the bait stations"
[[put_away]]
system = "Home field drip 1"
item = "drained"
words = "Blown out with air"
back = "Close C1"
[[put_away]]
kind = "drip"
item = "flushed"
leave_out = true
"""
    farm = load_farm(
        write_farm(tmp_path, FARM_TOML + toml, {"home": f'name = "Home field"\n{OUTLINE}{DRIP}'})
    )
    (block,) = farm_systems(farm)
    assert item_names(farm, block) == ("drained", "valves-open", "filters-drained", "mouse-bait")
    lines = {line.item: line for line in put_away_lines(farm, [])}
    assert spring_words(lines["drained"]) == "Close C1"
    assert spring_words(lines["mouse-bait"]) == "Take up the bait stations"


@pytest.mark.parametrize(
    ("toml", "said"),
    [
        (
            'item = "rope-off"\nkind = "pivot"\nback = "b"',
            r"put_away\[1\]\.words: found nothing; allowed: what is",
        ),
        ('item = "rope-off"\nkind = "pivot"\nwords = "b"', r"put_away\[1\]\.back: found nothing"),
        ('item = "drained"', r"put_away\[1\]\.kind: found nothing; allowed: kind or system"),
        (
            'item = "drained"\nsystem = "Home wel"',
            r'"Home wel", which is no machine, drip block or well .*"Home well"',
        ),
    ],
)
def test_a_wrong_row_says_what_is_missing(tmp_path: Path, toml: str, said: str) -> None:
    farm = write_farm(tmp_path, f"{FARM_TOML}{WELL}[[put_away]]\n{toml}\n")
    with pytest.raises(FarmFileError, match=said):
        load_farm(farm)


def test_every_item_of_every_kind_has_words_for_fall_and_spring_in_both_languages() -> None:
    spanish = catalog("es")
    for kind, items in ITEMS.items():
        for item in items:
            for table in (FALL, SPRING):
                words = table.get((item, kind)) or table[item, ""]
                assert spanish.get((words, "")), words


def test_where_two_people_said_it_both_ways_it_waits(farm: Farm) -> None:
    pivot = find_system(farm, "Home field pivot 1")
    with open_season(farm.folder / "season.db", create=True) as season:
        do_items(season, farm, pivot, ["drained"], stamp=stamp(FALL_DAY))
        seen = season.events()
        (record,) = fold_records(seen)
        note = record_event(
            "put-away",
            {**record.value, "note": "cap is lost"},
            stamp=stamp(FALL_DAY, 10),
            subject=record.id,
            seen=seen,
        )
        bring_back(season, farm, pivot, ["drained"], stamp=stamp(SPRING_DAY, 20))
        with season.writing():
            season.append([note])
        (line,) = [line for line in put_away_lines(farm, fold_records(season.events())) if line.record]
        assert spring_words(line).endswith("two people said different things about it")
        # Saying one of the two again settles it.
        assert do_items(season, farm, pivot, ["drained"], stamp=stamp(SPRING_DAY, 30)) == ["drained"]
        (record,) = fold_records(season.events())
        assert (record.clashes, "back_at" in record.value) == ((), False)
        assert do_items(season, farm, pivot, ["drained"], stamp=stamp(SPRING_DAY, 40)) == []

"""What comes back: a made season with one leak and one gearbox that return every spring."""

from __future__ import annotations

from collections import Counter
from itertools import combinations
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from made_season import MACHINE, NOW, ZONE, made_flags, write_season
from ringrow.coverage.layout import lay_out
from ringrow.farm.again import Repeat, Stops, repeats, stops
from ringrow.farm.breakdown_list import breakdowns
from ringrow.farm.flag_places import locate_flags
from ringrow.farm.like_spots import LikeSpot, near_pairs, nearness
from ringrow.farm.load import load_farm
from ringrow.farm.read_records import read_records
from ringrow.farm.season import read_states
from ringrow.handoff.again_table import again_text, repeat_record, stops_record
from ringrow.units import METRIC, US

if TYPE_CHECKING:
    from pathlib import Path

CHICAGO = ZoneInfo(ZONE)


def found(folder: Path) -> tuple[list[Repeat], list[Stops]]:
    farm = load_farm(folder)
    layouts = [lay_out(field) for field in farm.fields]
    path = folder / "season.db"
    flags = locate_flags(farm, layouts, read_states(path))
    downs = breakdowns(farm, layouts, read_records(path), now=NOW)
    return repeats(flags, layouts, zone=CHICAGO), stops(downs)


def test_the_leak_and_the_gearbox_come_back(tmp_path: Path) -> None:
    again, stopped = found(write_season(tmp_path))
    made = made_flags()
    rows = {row["like"]: row for row in (repeat_record(each, US) for each in again)}
    assert set(rows) == {"leak", "gearbox"}
    for like, row in rows.items():
        own = [flag for flag in made if flag.kind == like]
        years = Counter(flag.set_at.astimezone(CHICAGO).year for flag in own)
        assert {each["year"]: each["count"] for each in row["years"]} == years
        assert [each["id"] for each in row["flags"]] == [flag.id for flag in own]
    assert (rows["gearbox"]["system"], rows["gearbox"]["part"], rows["gearbox"]["chance"]) == (
        MACHINE,
        "tower 5",
        None,
    )
    leak = rows["leak"]
    spots = [flag.spot for flag in made if flag.kind == "leak"]
    assert leak["lat"] == pytest.approx(sum(spot["lat"] for spot in spots) / 3, abs=1e-9)
    assert leak["chance"] > 0.99
    assert [(each.system, each.tower, len(each.downs)) for each in stopped] == [(MACHINE, 5, 2)]
    # 17 h and 30 h at 780 gpm.
    assert stops_record(stopped[0], US)["not_put_on_gal"] == pytest.approx(47 * 60 * 780)
    assert stops_record(stopped[0], METRIC)["not_put_on_l"] == pytest.approx(47 * 60 * 780 * 3.785411784)


def test_a_rebuild_ends_the_story_of_a_part(tmp_path: Path) -> None:
    rebuilt = '[[pivot.rebuilt]]\ndate = 2028-12-01\nwhat = "machine"\n'
    again, _ = found(write_season(tmp_path, extra=rebuilt))
    gearbox = next(each for each in again if each.spot.like == "gearbox")
    assert [year for year, _ in gearbox.years] == [2027, 2028]
    assert any(each.spot.like == "leak" and len(each.years) == 3 for each in again)


def test_tables_name_places_days_and_what_they_rest_on(tmp_path: Path) -> None:
    again, stopped = found(write_season(tmp_path))
    text = again_text(again, stopped, US, CHICAGO, width=None)
    assert "2027-04-04, 2028-04-04, 2029-04-04" in text
    assert f"{MACHINE}: tower 5" in text
    assert "almost certain" in text
    assert "Parts are not followed over a rebuild" in text
    assert "81.0 acre-in (2,200,000 gal)" in text
    narrow = again_text(again, stopped, METRIC, CHICAGO, width=80)
    assert max(len(line) for line in narrow.splitlines()) <= 80


def test_near_pairs_are_those_of_every_pair_held_one_by_one() -> None:
    """Spreads from 1 to 9 m on ground 150 m across, a pipe with two rebuilds, wheels of four towers."""
    rng = np.random.default_rng(5)
    for on, height_m in (("ground", 150.0), ("pipe", 0.0), ("part", 0.0)):
        spots = [
            LikeSpot(
                on=on,
                like="leak",
                of="A",
                x_m=0.0 if on == "part" else float(rng.uniform(0, 150)),
                y_m=float(rng.uniform(0, height_m)),
                sigma_m=0.0 if on == "part" else float(rng.uniform(1, 9)),
                size=10_000.0,
                part=f"tower {rng.integers(1, 5)}" + str(rng.choice(["", ", outer"])) if on == "part" else "",
                rebuilt=int(rng.integers(0, 2)),
            )
            for _ in range(120)
        ]
        wanted = {(one, two): nearness(spots[one], spots[two]) for one, two in combinations(range(120), 2)}
        assert near_pairs(spots) == {pair: how for pair, how in wanted.items() if how is not None}
        assert 100 < len(near_pairs(spots)) < 3000

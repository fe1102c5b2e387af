"""Breakdowns: local times, panel degrees, water not put on, corrections, order of listing."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from itertools import count
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

import pytest

from farms import FARM_TOML, OUTLINE, PIVOT, write_farm
from ringrow.coverage.layout import lay_out
from ringrow.errors import PlaceError, SeasonError
from ringrow.farm.breakdown_list import Breakdown, breakdowns, together
from ringrow.farm.breakdowns import (
    BREAKDOWN,
    SaidBreakdown,
    add_breakdown,
    change_breakdown,
    remove_breakdown,
)
from ringrow.farm.flags import Stamp
from ringrow.farm.load import load_farm
from ringrow.farm.local_time import parse_local
from ringrow.farm.records import fold_records, record_event
from ringrow.farm.season import open_season
from ringrow.handoff.breakdown_table import breakdown_lines, breakdown_record, breakdown_table
from ringrow.units import METRIC, US

if TYPE_CHECKING:
    from pathlib import Path

    from ringrow.farm.model import Farm

CHICAGO = ZoneInfo("America/Chicago")
NOW = datetime(2027, 7, 10, 12, tzinfo=UTC)
WELL = '[[well]]\nname = "Home well"\nat = { lat = 36.752, lon = -101.496 }\nserves = ["North pivot"]\n'
NORTH = 'name = "North pivot"\nflow = 780\npanel_zero = 90\ntop_speed = 600\n'
_ids = count(1)


def stamp(hours: float = 0) -> Stamp:
    return Stamp(
        when=NOW + timedelta(hours=hours),
        who="Ana",
        source="test",
        new_id=lambda: f"0000{next(_ids):04d}-0000-4000-8000-000000000000",
    )


@pytest.fixture
def farm(tmp_path: Path) -> Farm:
    north = f'name = "Home field"\n{OUTLINE}\n{PIVOT}{NORTH}'
    south = 'name = "South field"\n' + OUTLINE.replace("36.7", "36.8") + "\n" + PIVOT.replace("36.7", "36.8")
    fields = {"north": north, "south": south + 'name = "South pivot"\n'}
    return load_farm(write_farm(tmp_path, FARM_TOML + WELL, fields))


def listed(farm: Farm, *said: tuple[str, SaidBreakdown]) -> list[Breakdown]:
    path = farm.folder / "season.db"
    with open_season(path, create=True) as season:
        for system, words in said:
            add_breakdown(season, farm, system, words, stamp=stamp())
        records = fold_records(season.events())
    return breakdowns(farm, [lay_out(field) for field in farm.fields], records, now=NOW)


def said(stopped: str, restarted: str | None = None, **changes: Any) -> SaidBreakdown:
    times = {"stopped": parse_local(stopped, zone=CHICAGO).when}
    if restarted is not None:
        times["restarted"] = parse_local(restarted, zone=CHICAGO).when
    return SaidBreakdown(**times, **changes)


def test_water_not_put_on(farm: Farm) -> None:
    """780 gpm for 17 h 20 min: 811,200 gal by hand, over 27,154 gal an acre-inch (handbook, from memory)."""
    (down,) = listed(
        farm,
        (
            "north pivot",
            said(
                "2027-07-03 14:10",
                "2027-07-04 07:30",
                panel_deg=212,
                tower=5,
                direction="reverse",
                why="gearbox",
            ),
        ),
    )
    row = breakdown_record(down, US)
    assert row["hours"] == pytest.approx(17 + 1 / 3)
    assert (row["azimuth_deg"], row["panel_deg"], row["tower"]) == (302.0, 212.0, 5)
    assert row["not_put_on_gal"] == pytest.approx(811_200, rel=1e-9)
    assert row["not_put_on_in"] * row["acres"] * 27_154 == pytest.approx(811_200, rel=1e-4)
    # Spans of 180 ft x 6 + 150, overhang 40, throw 20: a circle of 1,290 ft.
    assert row["acres"] == pytest.approx(3.14159265 * 1290**2 / 43_560, rel=1e-4)
    assert row["day_gal"] == pytest.approx(780 * 1440)
    # 600 ft/h at the last tower, 1,230 ft out: a turn takes 12.88 h, so a day is all of it.
    assert row["day_acres"] == pytest.approx(row["acres"])
    assert (row["open"], row["direction"], row["unknown"]) == (False, "reverse", [])
    metric = breakdown_record(down, METRIC)
    assert metric["not_put_on_l"] == pytest.approx(811_200 * 3.785411784)
    words = "; ".join(breakdown_lines(down, US, CHICAGO))
    assert (
        "stopped 2027-07-03 14:10 (UTC-05:00, America/Chicago); panel 212.0, azimuth 302.0, tower 5" in words
    )
    assert "after 17.3 h; restarted in reverse; not put on: 29.9 acre-in (811,000 gal), 0.25 in" in words


def test_unknown_flow_stays_unknown_and_open_ones_come_first(farm: Farm) -> None:
    downs = listed(
        farm,
        ("South pivot", said("2027-07-03 14:00")),
        ("North pivot", said("2027-07-01 08:00", "2027-07-02 08:00")),
        ("Home well", said("2027-07-04 08:00", "2027-07-05 08:00", flow_lps=70.0)),
        ("North pivot", said("2027-07-06 08:00")),
    )
    assert [(down.system, down.restarted is None) for down in downs] == [
        ("North pivot", True),
        ("South pivot", True),
        ("Home well", False),
        ("North pivot", False),
    ]
    south = breakdown_record(downs[1], US)
    assert (south["flow_gpm"], south["not_put_on_gal"], south["day_in"]) == (None, None, None)
    assert "flow not stated" in south["unknown"]
    well = downs[2]
    assert (well.volume_m3, well.depth_mm) == (pytest.approx(70 * 86.4), None)
    table = breakdown_table(downs, US, CHICAGO, width=None)
    assert "open" in table.split("North pivot")[1].split("\n")[0]
    assert "clock of America/Chicago" in table
    assert "A dash is not known: a well waters what its machines water; flow not stated" in table


def test_a_breakdown_is_corrected_restarted_and_taken_back(farm: Farm) -> None:
    (down,) = listed(farm, ("North pivot", said("2027-07-06 08:00", tower=4)))
    with open_season(farm.folder / "season.db") as season:
        fixed = SaidBreakdown(tower=5, restarted=down.stopped + timedelta(hours=3), direction="forward")
        change_breakdown(season, farm, "North pivot", fixed, stamp=stamp(1))
        records = fold_records(season.events())
        assert [(r.value["tower"], r.value["direction"]) for r in records] == [(5, "forward")]
        with pytest.raises(SeasonError, match="before it stopped at 2027-07-06T13:00Z"):
            change_breakdown(
                season,
                farm,
                down.record.id[:8],
                SaidBreakdown(restarted=NOW - timedelta(days=9)),
                stamp=stamp(2),
            )
        remove_breakdown(season, down.record.id[:8], stamp=stamp(3))
        assert fold_records(season.events()) == []
        with pytest.raises(SeasonError, match=r"found 0; allowed: the first 4 or more .*there are none"):
            remove_breakdown(season, "North pivot", stamp=stamp(4))


def test_a_system_does_not_stand_twice_at_one_time(farm: Farm) -> None:
    early, late = said("2027-07-01 08:00", "2027-07-02 08:00"), said("2027-07-06 08:00")
    downs = listed(farm, ("North pivot", early), ("North pivot", late), ("South pivot", late))
    ids = {(down.system, down.restarted is None): down.record.id[:8] for down in downs}
    for again in (said("2027-07-07 09:00"), said("2027-07-05 08:00", "2027-07-06 08:01")):
        with pytest.raises(
            SeasonError, match=rf'"North pivot": found another, {ids["North pivot", True]}, from'
        ):
            listed(farm, ("North pivot", again))
    # One that ends when the other begins is no overlap.
    listed(farm, ("North pivot", said("2027-07-02 08:00", "2027-07-06 08:00")))
    with (
        open_season(farm.folder / "season.db") as season,
        pytest.raises(SeasonError, match=r"to 2027-07-06T13:00Z; allowed: times that do not overlap"),
    ):
        change_breakdown(
            season,
            farm,
            ids["North pivot", False],
            said("2027-07-01 08:00", "2027-07-02 08:01"),
            stamp=stamp(),
        )


def test_two_logs_that_tell_one_breakdown_count_its_hours_once(farm: Farm) -> None:
    """Two tellers: 10 h and 12 h from one hour later, so 13 h in all, at 780 gpm."""
    records = fold_records(
        [
            record_event(
                BREAKDOWN, {"system": "North pivot", "stopped": start, "restarted": end}, stamp=stamp()
            )
            for start, end in (
                ("2027-07-03T10:00:00Z", "2027-07-03T20:00:00Z"),
                ("2027-07-03T11:00:00Z", "2027-07-03T23:00:00Z"),
                ("2027-07-03T12:00:00Z", "2027-07-03T13:00:00Z"),
            )
        ]
    )
    downs = breakdowns(farm, [lay_out(field) for field in farm.fields], records, now=NOW)
    hours, volume_m3 = together(downs)
    assert hours == pytest.approx(13.0)
    assert volume_m3 == pytest.approx(780 * 60 * 13 * 231 * 0.0254**3)
    assert together([]) == (0.0, 0.0)
    # Told twice, it can still be put right: the one is restarted earlier, the other taken back.
    with open_season(farm.folder / "season.db", create=True) as season:
        told = [
            record_event(BREAKDOWN, {"system": "North pivot", "stopped": start}, stamp=stamp())
            for start in ("2027-07-03T10:00:00Z", "2027-07-03T11:00:00Z")
        ]
        with season.writing():
            season.append(told)
        first = min(fold_records(season.events()), key=lambda record: record.value["stopped"])
        fixed = SaidBreakdown(restarted=NOW - timedelta(days=1))
        change_breakdown(season, farm, first.id, fixed, stamp=stamp(1))


def test_what_cannot_be_is_refused(farm: Farm) -> None:
    with pytest.raises(SeasonError, match="found no time at which it stopped"):
        listed(farm, ("North pivot", SaidBreakdown()))
    with pytest.raises(PlaceError, match=r'tower of "North pivot": found 9; allowed: 1 to 7'):
        listed(farm, ("North pivot", said("2027-07-03 14:10", tower=9)))
    with pytest.raises(PlaceError, match=r'tower of "Home well": found 1; allowed: none'):
        listed(farm, ("Home well", said("2027-07-03 14:10", tower=1)))
    with pytest.raises(PlaceError, match=r"allowed: a pivot|allowed for a pivot"):
        listed(farm, ("Home well", said("2027-07-03 14:10", panel_deg=1)))
    with pytest.raises(PlaceError, match=r"panel: found 400; allowed: 0 or more and below 360"):
        listed(farm, ("North pivot", said("2027-07-03 14:10", panel_deg=400)))
    with pytest.raises(SeasonError, match="stopped: found 2028-07-03T19:10Z, after today"):
        listed(farm, ("North pivot", said("2028-07-03 14:10")))
    with pytest.raises(SeasonError, match="direction: found one without a time of restart"):
        listed(farm, ("North pivot", said("2027-07-03 14:10", direction="forward")))
    with pytest.raises(PlaceError, match="flow: found -1 L/s; allowed: above 0"):
        listed(farm, ("North pivot", said("2027-07-03 14:10", flow_lps=-1.0)))


def test_broken_records_from_strange_files_are_passed_over(farm: Farm) -> None:
    odd: list[dict[str, Any]] = [
        {"system": "North pivot"},
        {"system": 3, "stopped": "2027-07-03T19:10:00Z"},
        {"system": "North pivot", "stopped": "soon"},
        {"system": "North pivot", "stopped": "2027-07-03T19:10:00Z", "tower": "five"},
        {"system": "North pivot", "stopped": "2027-07-03T19:10:00Z", "restarted": 7},
    ]
    records = fold_records([record_event(BREAKDOWN, value, stamp=stamp()) for value in odd])
    assert len(records) == 5
    assert breakdowns(farm, [lay_out(field) for field in farm.fields], records, now=NOW) == []


def test_local_times_name_their_zone() -> None:
    """Offsets of the zone as the IANA database has them (from memory): -5 in summer, -6 in winter."""
    assert parse_local("2027-07-03 14:10", zone=CHICAGO).when == datetime(2027, 7, 3, 19, 10, tzinfo=UTC)
    assert parse_local("2027-01-03 14:10", zone=CHICAGO).when == datetime(2027, 1, 3, 20, 10, tzinfo=UTC)
    offset = parse_local("2027-07-03T14:10-06:00", zone=CHICAGO)
    assert (offset.when, offset.taken) == (
        datetime(2027, 7, 3, 20, 10, tzinfo=UTC),
        "2027-07-03 14:10 (UTC-06:00)",
    )
    twice = parse_local("2027-11-07 01:30", zone=CHICAGO)
    assert twice.when == datetime(2027, 11, 7, 6, 30, tzinfo=UTC)
    assert "the clock showed it twice that day: the first is taken" in twice.taken
    with pytest.raises(SeasonError, match="an hour that the clock skips that day in America/Chicago"):
        parse_local("2027-03-14 02:30", zone=CHICAGO, what="stopped")
    for wrong in ("2027-07-03", "noon", "0001-01-01 10:00"):
        with pytest.raises(
            SeasonError, match=r"stopped: found .* allowed: a date and time such as 2027-07-03"
        ):
            parse_local(wrong, zone=CHICAGO, what="stopped")

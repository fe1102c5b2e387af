"""The report's numbers against independent counts by pandas on a made season."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import permutations
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest

from made_season import MACHINE, NOW, ZONE, gathered, made_flags, write_season
from ringrow.farm.events import Event
from ringrow.farm.flag_model import FlagState
from ringrow.farm.flag_times import flag_times
from ringrow.farm.history import most_touched, times_to_fix
from ringrow.farm.undo import UNDO_SOURCE

if TYPE_CHECKING:
    from pathlib import Path

    from ringrow.farm.history import TouchedStep
    from ringrow.handoff.report.numbers import Report

CHICAGO = ZoneInfo(ZONE)


@pytest.fixture(scope="module")
def report(tmp_path_factory: pytest.TempPathFactory) -> Report:
    return gathered(write_season(tmp_path_factory.mktemp("made")))


@pytest.fixture(scope="module")
def table() -> pd.DataFrame:
    """The made flags that are faults, as plain columns."""
    rows = pd.DataFrame(
        {
            "kind": [made.kind for made in made_flags()],
            "set_at": pd.to_datetime([made.set_at for made in made_flags()], utc=True),
            "fixed_at": pd.to_datetime([made.fixed_at for made in made_flags()], utc=True),
            "status": [made.status for made in made_flags()],
        }
    )
    return rows[rows.status != "not-a-fault"]


def test_flags_by_kind_and_month_are_those_of_pandas(report: Report, table: pd.DataFrame) -> None:
    months = table.set_at.dt.tz_convert(ZONE).dt.month
    wanted = table.groupby(["kind", months]).size()
    found = {
        (row.kind, month): count
        for row in report.months
        for month, count in enumerate(row.counts, 1)
        if count
    }
    assert found == wanted.to_dict()
    assert (report.not_faults, report.years) == (1, (2027, 2028, 2029))


def test_one_year_alone(table: pd.DataFrame, tmp_path: Path) -> None:
    one = gathered(write_season(tmp_path), 2028)
    assert len(one.flags) == int((table.set_at.dt.tz_convert(ZONE).dt.year == 2028).sum())
    assert sum(row.breakdowns for row in one.systems) == 1
    assert len(one.repeats) == 2


def test_ground_touched_in_one_year_is_that_of_the_whole_log_then(report: Report, tmp_path: Path) -> None:
    """The gearbox of 2029 is still open: 2030 begins with its ground, and ends where the report is made."""
    folder = write_season(tmp_path)

    def at(steps: tuple[TouchedStep, ...], when: datetime) -> float:
        return [step.stopped_m2 for step in steps if step.when <= when][-1]

    one, after = gathered(folder, 2028), gathered(folder, 2030, now=NOW.replace(year=2030))
    assert one.touched[0].when == datetime(2028, 1, 1, tzinfo=CHICAGO)
    assert one.touched[-1].when.astimezone(CHICAGO).year == 2028
    for step in one.touched:
        assert step.stopped_m2 == at(report.touched, step.when)
    months = [day for day, _ in most_touched(one.touched, zone=CHICAGO)]
    assert (len(months), months[0].month, months[-1].month) == (12, 1, 12)
    assert (len(after.flags), after.touched[-1].when) == (0, NOW.replace(year=2030))
    assert after.touched[0].stopped_m2 == report.touched[-1].stopped_m2 > 0
    assert gathered(folder, 2031).touched == ()


def test_time_to_fix_is_the_product_limit(report: Report, table: pd.DataFrame) -> None:
    """The product over sorted times, written out with pandas, open flags counted until now."""
    for row in report.fixes:
        own = table[table.kind == row.kind]
        days = (own.fixed_at.fillna(pd.Timestamp(NOW)) - own.set_at) / pd.Timedelta(days=1)
        frame = pd.DataFrame({"days": days, "done": own.fixed_at.notna()})
        frame = frame.sort_values(["days", "done"], ascending=[True, False])
        waiting = np.arange(len(frame), 0, -1)
        left = (1 - frame.done.to_numpy() / waiting).cumprod()
        for share, found in [
            (0.25, row.quarter_days),
            (0.5, row.median_days),
            (0.75, row.three_quarter_days),
        ]:
            reached = frame.days.to_numpy()[left <= 1 - share + 1e-9]
            assert found == (pytest.approx(reached[0]) if len(reached) else None)
        assert (row.fixed, row.open) == (int(frame.done.sum()), int((~frame.done).sum()))


def test_without_open_flags_it_is_the_plain_median(report: Report, table: pd.DataFrame) -> None:
    """With nothing open, quartiles are pandas' own of the step function (``interpolation="lower"`` of an
    odd count).
    """
    leaks = next(row for row in report.fixes if row.kind == "leak")
    own = table[table.kind == "leak"]
    days = (own.fixed_at - own.set_at) / pd.Timedelta(days=1)
    assert leaks.open == 0
    assert leaks.median_days == pytest.approx(days.quantile(0.5, interpolation="lower"))


def test_ground_touched_is_a_sum_at_any_moment(report: Report, table: pd.DataFrame) -> None:
    """The gearbox stops the circle of 1,290 ft whenever one is open: asked day by day."""
    circle = np.pi * (1290 * 0.3048) ** 2
    gearboxes = table[table.kind == "gearbox"]
    whens = [step.when for step in report.touched]
    for day in pd.date_range(whens[0], whens[-1] - timedelta(days=1), freq="13D"):
        is_open = (gearboxes.set_at <= day) & ~(gearboxes.fixed_at <= day)
        step = report.touched[np.searchsorted(np.array(whens, "object"), day, side="right") - 1]
        assert step.stopped_m2 == pytest.approx(circle if is_open.any() else 0.0, rel=1e-4)
    assert whens[-1] == NOW


def test_months_name_the_most_that_was_touched(report: Report) -> None:
    rows = dict(most_touched(report.touched, zone=CHICAGO))
    by_day = {}
    for day in pd.date_range(report.touched[0].when, NOW - timedelta(hours=1), freq="6h"):
        held = [step for step in report.touched if step.when <= day][-1]
        month = day.tz_convert(ZONE).date().replace(day=1)
        by_day[month] = max(by_day.get(month, 0.0), held.stopped_m2)
    assert {month: row.stopped_m2 for month, row in rows.items()} == pytest.approx(by_day)
    years = dict(most_touched(report.touched, zone=CHICAGO, by_year=True))
    assert [day.year for day in years] == [2027, 2028, 2029]
    assert most_touched([], zone=CHICAGO) == []


def test_by_machine(report: Report, table: pd.DataFrame) -> None:
    rows = {row.name: row for row in report.systems}
    assert sum(row.closed + row.open for row in report.systems) == len(table)
    assert sum(row.open for row in report.systems) == int(table.fixed_at.isna().sum())
    machine = rows[MACHINE]
    assert (machine.breakdowns, machine.hours) == (2, pytest.approx(47.0))
    assert machine.volume_m3 == pytest.approx(47 * 60 * 780 * 3.785411784 / 1000)


def state(status: str) -> FlagState:
    return FlagState(
        id="a",
        number=1,
        kind="leak",
        status=status,
        name="",
        note="",
        spot=None,
        flag_class=None,
        set_at=datetime(2027, 4, 1, tzinfo=UTC),
        set_by="",
    )


def said(day: int, status: str) -> Event:
    when = datetime(2027, 4, day, tzinfo=UTC)
    return Event(
        id=f"{day}", flag="a", field="status", value=status, when=when, who="", source="", parents=()
    )


def test_a_flag_opened_again_is_open_in_spells() -> None:
    """Set on the 1st, fixed on the 3rd, open again on the 6th, checked on the 9th."""
    times = flag_times([state("checked")], [said(3, "fixed"), said(6, "open"), said(9, "checked")])["a"]
    assert [(begin.day, end and end.day) for begin, end in times.spells] == [(1, 3), (6, 9)]
    assert times.fixed_at == datetime(2027, 4, 3, tzinfo=UTC)
    days = Counter(times.open_at(datetime(2027, 4, day, tzinfo=UTC)) for day in range(1, 12))
    assert days[True] == 2 + 3
    assert times.closed_at == datetime(2027, 4, 9, tzinfo=UTC)
    assert flag_times([state("open")], [])["a"].closed_at is None


def test_a_fix_that_was_taken_back_was_never_said() -> None:
    """Said on the 3rd of the wrong flag, taken back, and on the 9th really fixed; or the undo taken back."""
    slip = said(3, "fixed")
    back = replace(said(4, "open"), source=UNDO_SOURCE, parents=(slip.id,))
    told = [slip, back, said(9, "fixed")]
    for order in permutations(told):
        times = flag_times([state("fixed")], order)["a"]
        assert (times.fixed_at, len(times.spells)) == (datetime(2027, 4, 9, tzinfo=UTC), 1)
    again = replace(said(5, "fixed"), source=UNDO_SOURCE, parents=(back.id,))
    times = flag_times([state("fixed")], [slip, back, again])["a"]
    assert (times.fixed_at, len(times.spells)) == (datetime(2027, 4, 3, tzinfo=UTC), 1)
    # Set again by hand, it was open again, and the first fix stands.
    reopened = [slip, replace(back, source="flag set"), said(9, "fixed")]
    assert flag_times([state("fixed")], reopened)["a"].fixed_at == datetime(2027, 4, 3, tzinfo=UTC)


def test_a_flag_told_of_as_fixed_says_nothing_of_how_long_it_took(report: Report) -> None:
    flags = [flag for flag in report.flags if flag.state.kind == "burrow"][:2]
    one, two = (flag.state for flag in flags)
    times = flag_times([one, two], [replace(said(1, "fixed"), flag=one.id, when=one.set_at)])
    (row,) = times_to_fix(flags, times, now=NOW)
    assert (row.fixed, row.open) == (0, 1)


def test_a_clock_behind_closes_nothing_before_it_was_set() -> None:
    early = Event(
        id="x", flag="a", field="status", value="fixed", when=datetime(2020, 1, 1, tzinfo=UTC), who="",
        source="", parents=(),
    )  # fmt: skip
    times = flag_times([state("fixed")], [early])["a"]
    assert times.fixed_at == datetime(2027, 4, 1, tzinfo=UTC)
    assert times.closed_at == datetime(2027, 4, 1, tzinfo=UTC)


def test_nothing_fixed_gives_no_quartiles(report: Report) -> None:
    flag = next(flag for flag in report.flags if flag.state.kind == "burrow")
    times = flag_times([state("open")], [])
    (row,) = times_to_fix([flag], {flag.state.id: times["a"]}, now=NOW)
    assert (row.fixed, row.open, row.median_days) == (0, 1, None)

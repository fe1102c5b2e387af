"""The report in sections: each a chart with the table of its numbers beside it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from ringrow.farm.breakdown_list import together
from ringrow.farm.history import most_touched
from ringrow.farm.local_time import local_words
from ringrow.farm.systems import local_time
from ringrow.handoff.again_table import repeat_row, rests_on
from ringrow.handoff.assumed_words import said_again
from ringrow.handoff.breakdown_table import volume_words
from ringrow.handoff.languages import _, counted
from ringrow.handoff.number_words import one_line, unit_words
from ringrow.handoff.report.charts import (
    fix_chart,
    month_names,
    months_chart,
    systems_chart,
    touched_chart,
)
from ringrow.handoff.report.plan import repeats_plan

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from ringrow.handoff.report.numbers import Report
    from ringrow.handoff.report.picture import Picture

_MOST_MONTHS = 36


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """One part of the report.

    Parameters
    ----------
    title : str
        Line over it.
    pictures : tuple of Picture
        Its charts.
    notes : tuple of str
        What they rest on.
    head : tuple of str
        Names of the table's columns.
    rows : tuple of tuple of str
        Cells of each row.
    words : int, default 1
        How many columns, from the left, hold words rather than numbers. [-]
    """

    title: str
    pictures: tuple[Picture, ...]
    notes: tuple[str, ...]
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    words: int = 1


def report_title(report: Report) -> str:
    """Return the line on top of the report.

    Parameters
    ----------
    report : Report
        The numbers.

    Returns
    -------
    str
        The farm and the years.
    """
    years = report.years
    shown = str(report.year) if report.year is not None else _span(years)
    return _("{farm}: what was flagged, {years}").format(farm=one_line(report.farm.name), years=shown)


def _span(years: Sequence[int]) -> str:
    if not years:
        return _("nothing yet")
    return str(years[0]) if years[0] == years[-1] else f"{years[0]}-{years[-1]}"


def report_lead(report: Report) -> list[str]:
    """Return the sentences under the title: how many, and when and by which clock.

    Parameters
    ----------
    report : Report
        The numbers.

    Returns
    -------
    list of str
        Sentences.
    """
    still = sum(flag.state.status == "open" for flag in report.flags)
    total = len(report.flags)
    flags = counted("{n} flag", "{n} flags", total).format(n=total)
    lead = [_("{flags}, {open} of them open.").format(flags=flags, open=still)]
    if report.not_faults:
        lead.append(
            counted(
                "{n} more was no fault and is left out.",
                "{n} more were no faults and are left out.",
                report.not_faults,
            ).format(n=report.not_faults)
        )
    lead.append(_("Made {when}.").format(when=said_again(local_words(report.now, report.zone))))
    return lead


def sections(report: Report) -> list[Section]:
    """Return the parts of the report.

    Parameters
    ----------
    report : Report
        The numbers.

    Returns
    -------
    list of Section
        Parts that have something to show; empty when nothing was ever flagged or stopped.
    """
    made: list[Section] = []
    made += [_months(report)] if report.flags else []
    made += [_touched(report)] if len(report.touched) > 1 else []
    made += [_fixes(report)] if report.fixes else []
    made += [_systems(report)] if report.systems else []
    made += [_repeats(report)] if report.repeats else []
    made += [_stops(report)] if report.stops else []
    return made


def _months(report: Report) -> Section:
    rows = [
        (_(row.kind), *(str(count) if count else "" for count in row.counts), str(sum(row.counts)))
        for row in report.months
    ]
    sums = [sum(row.counts[month] for row in report.months) for month in range(12)]
    total = (_("all kinds"), *(str(count) if count else "" for count in sums), str(sum(sums)))
    notes = (
        [_("Months of {years} together.").format(years=_span(report.years))] if len(report.years) > 1 else []
    )
    return Section(
        title=_("Flags by kind and month"),
        pictures=(months_chart(report.months),),
        notes=(*notes, _("By the day on which a flag was set.")),
        head=(_("Kind"), *month_names(), _("All")),
        rows=(*rows, total),
    )


def _touched(report: Report) -> Section:
    units, steps = report.farm.units, report.touched
    pictures = []
    if any(step.dry_m2 or step.wet_m2 for step in steps):
        pictures.append(touched_chart(steps, units, report.zone, stopped=False))
    if any(step.stopped_m2 for step in steps):
        pictures.append(touched_chart(steps, units, report.zone, stopped=True))
    by_year = (steps[-1].when - steps[0].when).days > _MOST_MONTHS * 30
    rows = [
        (
            f"{day:%Y}" if by_year else f"{day:%Y-%m}",
            *(
                f"{units.from_m2(area):,.1f}" if area else "0"
                for area in (step.dry_m2, step.wet_m2, step.stopped_m2)
            ),
        )
        for day, step in most_touched(steps, zone=report.zone, by_year=by_year)
    ]
    notes = [
        _(
            "Ground that a fault touches by itself, on machines as they are described now; flags on one part "
            "count once, rings that overlap in part count twice. It is ground touched, not crop lost."
        )
    ]
    notes += [_("Flags of earlier years that were still open count.")] if report.year is not None else []
    notes.append(
        _("The table gives the most in each year.")
        if by_year
        else _("The table gives the most in each month.")
    )
    return Section(
        title=_("Ground touched over time"),
        pictures=tuple(pictures),
        notes=tuple(notes),
        head=(
            _("Year") if by_year else _("Month"),
            _("Dry, {unit}").format(unit=unit_words(units.area)),
            _("Too wet, {unit}").format(unit=unit_words(units.area)),
            _("Stopped, {unit}").format(unit=unit_words(units.area)),
        ),
        rows=tuple(rows),
    )


def _day(when: datetime, report: Report) -> str:
    return f"{local_time(when, report.zone):%Y-%m-%d}"


def _fixes(report: Report) -> Section:
    def days(value: float | None) -> str:
        return _("not reached") if value is None else f"{value:,.1f}"

    rows = [
        (
            _(row.kind),
            str(row.fixed),
            str(row.open),
            *(days(value) for value in (row.quarter_days, row.median_days, row.three_quarter_days)),
        )
        for row in report.fixes
    ]
    untimed = len(report.flags) - sum(row.fixed + row.open for row in report.fixes)
    left_out = counted(
        "{n} flag came in as fixed already: how long it took is not known, and it is left out here.",
        "{n} flags came in as fixed already: how long they took is not known, and they are left out here.",
        untimed,
    ).format(n=untimed)
    return Section(
        title=_("Time to fix"),
        pictures=(fix_chart(report.fixes),),
        notes=(
            _(
                "Bar: from a quarter of the flags fixed to three quarters; heavy stroke: half of them; "
                "arrow: three quarters are not fixed yet. Flags still open count for as long as they have "
                "waited, so that they do not make repairs look quicker than they are. A flag that was "
                "opened again counts until its first fix."
            ),
            *([left_out] if untimed else []),
        ),
        head=(
            *(_("Kind"), _("Fixed"), _("Still open")),
            *(_("A quarter fixed, days"), _("Half, days"), _("Three quarters, days")),
        ),
        rows=tuple(rows),
    )


def _systems(report: Report) -> Section:
    units = report.farm.units
    rows = [
        (
            one_line(row.name) or _("no system"),
            *(str(number) if number else "" for number in (row.closed, row.open, row.breakdowns)),
            f"{row.hours:,.1f}" if row.breakdowns else "",
            "" if not row.breakdowns else _volume(row.volume_m3, report),
        )
        for row in report.systems
    ]
    return Section(
        title=_("By machine, drip block and well"),
        pictures=(systems_chart(report.systems),) if report.flags else (),
        notes=(_("Ground under a machine counts for that machine."),),
        head=(
            *(_("System"), _("Closed"), _("Still open"), _("Breakdowns"), _("Hours down")),
            _("Not put on, {unit}").format(unit=_("acre-in") if units.name == "us" else "m3"),
        ),
        rows=tuple(rows),
    )


def _volume(volume_m3: float | None, report: Report) -> str:
    if volume_m3 is None:
        return _("not known")
    return volume_words(volume_m3, report.farm.units).split(" ")[0]


def _repeats(report: Report) -> Section:
    units = report.farm.units
    rows = [
        (str(number), *repeat_row(each, units, report.zone)) for number, each in enumerate(report.repeats, 1)
    ]
    return Section(
        title=_("What came back"),
        pictures=(repeats_plan(report.repeats, report.layouts, units),),
        notes=(_("Of all years in the log."), rests_on()),
        head=(
            *(_("No."), _("What"), _("Where"), _("Days"), _("Flags"), _("Now"), _("One place"), _("Times")),
        ),
        rows=tuple(rows),
        words=7,
    )


def _stops(report: Report) -> Section:
    rows = [
        (
            one_line(each.system),
            "-" if each.tower is None else str(each.tower),
            ", ".join(_day(down.stopped, report) for down in each.downs),
            f"{together(each.downs)[0]:,.1f}",
            str(len(each.downs)),
        )
        for each in report.stops
    ]
    return Section(
        title=_("Systems that keep stopping"),
        pictures=(),
        notes=(_("Of all years in the log."),),
        head=(_("System"), _("Tower"), _("Days"), _("Hours down"), _("Times")),
        rows=tuple(rows),
        words=3,
    )

"""The charts of the report, from its numbers."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from babel.dates import get_month_names

from ringrow.handoff.languages import _, counted, spoken_language
from ringrow.handoff.number_words import one_line, unit_words
from ringrow.handoff.report.picture import Box, Label, Line, Picture, Shape, polyline_steps
from ringrow.handoff.svg_chart import nice_ticks

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import tzinfo

    from ringrow.farm.history import FixTime, KindMonths, TouchedStep
    from ringrow.handoff.report.numbers import SystemHistory
    from ringrow.handoff.report.picture import Hatch
    from ringrow.units import UnitSystem

WIDTH = 400.0
"""Width of every chart [px]: at this size its words can be read on a phone."""

_NAME, _ROW, _TOP = 112.0, 25.0, 32.0
_MOST_ROWS = 20
_LETTERS = 15


def month_names() -> list[str]:
    """Return the short names of the twelve months in the spoken language."""
    names = get_month_names("abbreviated", locale=spoken_language())
    return [names[month].rstrip(".") for month in range(1, 13)]


def months_chart(rows: Sequence[KindMonths]) -> Picture:
    """Return flags by kind and month: a square for each, its side as the root of the count.

    Parameters
    ----------
    rows : sequence of KindMonths
        Counts, at least one row; past the first 20 rows the rest is summed in one.

    Returns
    -------
    Picture
        The chart.
    """
    named = [(_(row.kind), row.counts) for row in rows[:_MOST_ROWS]]
    if len(rows) > _MOST_ROWS:
        rest = rows[_MOST_ROWS:]
        named.append((_("all others"), tuple(sum(row.counts[at] for row in rest) for at in range(12))))
    most = max(max(counts) for _kind, counts in named)
    column = (WIDTH - _NAME) / 12
    shapes: list[Shape] = []
    for at, month in enumerate(month_names()):
        shapes.append(Label(x=_NAME + (at + 0.5) * column, y=20, text=month, size=10, anchor="middle"))
    for number, (kind, counts) in enumerate(named):
        middle = _TOP + (number + 0.5) * _ROW
        shapes += _row_head(kind, middle)
        for at, count in enumerate(counts):
            if count:
                shapes += _square(_NAME + (at + 0.5) * column, middle, count, most)
    total = sum(sum(row.counts) for row in rows)
    flags = counted("{n} flag", "{n} flags", total).format(n=total)
    busiest = max(range(12), key=lambda at: sum(row.counts[at] for row in rows))
    return Picture(
        title=_("Flags by kind and month"),
        description=_("{flags}; most of them in {month}, most of kind {kind}.").format(
            flags=flags, month=month_names()[busiest], kind=_(rows[0].kind)
        ),
        width=WIDTH,
        height=_TOP + len(named) * _ROW + 6,
        shapes=tuple(shapes),
    )


def _row_head(name: str, middle: float, *, left: float = _NAME) -> list[Shape]:
    text = one_line(name)
    text = text if len(text) <= _LETTERS else text[: _LETTERS - 1] + "…"
    return [
        Line(points=((0.0, middle + _ROW / 2), (WIDTH, middle + _ROW / 2)), grey=True, width=0.6),
        Label(x=left - 6, y=middle + 4.5, text=text, anchor="end"),
    ]


def _square(x: float, middle: float, count: int, most: int) -> list[Shape]:
    # Area goes with the count; the smallest still holds its number.
    side = max((_ROW - 3) * (count / most) ** 0.5, 14.0)
    box = Box(x=x - side / 2, y=middle - side / 2, width=side, height=side, hatch="solid")
    return [box, Label(x=x, y=middle + 4, text=str(count), size=11, anchor="middle", light=True, bold=True)]


def touched_chart(steps: Sequence[TouchedStep], units: UnitSystem, zone: tzinfo, *, stopped: bool) -> Picture:
    """Return the ground that open flags touch over time.

    Parameters
    ----------
    steps : sequence of TouchedStep
        At least two.
    units : UnitSystem
        The farm's units.
    zone : tzinfo
        Zone by which years and months begin.
    stopped : bool
        Whether it shows ground under machines that stand, or ground left dry and too wet.

    Returns
    -------
    Picture
        The chart.
    """
    lines: list[tuple[str, list[float], tuple[float, ...]]]
    if stopped:
        lines = [(_("stopped"), [units.from_m2(step.stopped_m2) for step in steps], ())]
        title = _("Ground under machines that open flags stop, {unit}").format(unit=unit_words(units.area))
    else:
        lines = [
            (_("left dry"), [units.from_m2(step.dry_m2) for step in steps], ()),
            (_("left too wet"), [units.from_m2(step.wet_m2) for step in steps], (6.0, 4.0)),
        ]
        title = _("Ground that open flags leave dry or too wet, {unit}").format(unit=unit_words(units.area))
    ticks = nice_ticks(0.0, max(max(values) for _name, values, _dashes in lines), most=5)
    whens = [step.when.timestamp() for step in steps]
    frame = _Frame(left=46.0, right=WIDTH - 14, top=30.0, bottom=190.0, span=(whens[0], whens[-1]))
    shapes = _axes(frame, ticks, zone)
    x = frame.left
    for name, values, dashes in lines:
        points = [frame.place(when, value / ticks[-1]) for when, value in zip(whens, values, strict=True)]
        shapes.append(Line(points=polyline_steps(points), width=1.8, dashes=dashes))
        shapes.append(Line(points=((x, 12.0), (x + 24, 12.0)), width=1.8, dashes=dashes))
        shapes.append(Label(x=x + 30, y=16, text=name))
        x += 46 + 7.5 * len(name)
    peaks = [
        _("{name}: at most {most}, {now} at the end").format(
            name=name, most=f"{max(values):,.1f}", now=f"{values[-1]:,.1f}"
        )
        for name, values, _dashes in lines
    ]
    return Picture(
        title=title, description="; ".join(peaks) + ".", width=WIDTH, height=218, shapes=tuple(shapes)
    )


class _Frame:
    """From moments and shares of the height to pixels."""

    def __init__(
        self, *, left: float, right: float, top: float, bottom: float, span: tuple[float, float]
    ) -> None:
        self.left, self.right, self.top, self.bottom = left, right, top, bottom
        self.first, self.last = span[0], max(span[1], span[0] + 1.0)

    def place(self, when: float, share: float) -> tuple[float, float]:
        """Return the pixel of a moment at a share of the height."""
        along = (when - self.first) / (self.last - self.first)
        x = self.left + along * (self.right - self.left)
        return x, self.bottom - share * (self.bottom - self.top)


def _axes(frame: _Frame, ticks: Sequence[float], zone: tzinfo) -> list[Shape]:
    shapes: list[Shape] = []
    for tick in ticks:
        y = frame.place(frame.first, tick / ticks[-1])[1]
        shapes.append(Line(points=((frame.left, y), (frame.right, y)), grey=True, width=0.6))
        shapes.append(Label(x=frame.left - 6, y=y + 4, text=f"{tick:,.10g}", size=12, anchor="end"))
    for when, text in _time_ticks(frame.first, frame.last, zone):
        x = frame.place(when, 0.0)[0]
        shapes.append(Line(points=((x, frame.bottom), (x, frame.bottom + 5))))
        shapes.append(Label(x=x, y=frame.bottom + 19, text=text, size=12, anchor="middle"))
    corners = ((frame.left, frame.top), (frame.left, frame.bottom), (frame.right, frame.bottom))
    return [*shapes, Line(points=corners, width=1.4)]


def _time_ticks(first: float, last: float, zone: tzinfo) -> list[tuple[float, str]]:
    """Return moments worth a mark: days, months or years, six at most."""
    start, stop = datetime.fromtimestamp(first, zone), datetime.fromtimestamp(last, zone)
    names = month_names()
    months = (stop.year - start.year) * 12 + stop.month - start.month
    if months < 2:
        step = max((stop - start).days // 5, 1)
        days = [start.replace(hour=0, minute=0) + timedelta(days=step * n) for n in range(1, 6)]
        marks = [(day, f"{names[day.month - 1]} {day.day}") for day in days]
    else:
        step = next((each for each in (1, 2, 3, 6, 12) if months / each <= 6), 12 * (months // 72 + 1))
        marks = []
        for ahead in range(step - (start.month - 1) % step, months + 1, step):
            year, month = divmod(start.year * 12 + start.month - 1 + ahead, 12)
            text = names[month] if step < 12 else str(year)
            text = f"{text} {year}" if step < 12 and month == 0 else text
            marks.append((datetime(year, month + 1, 1, tzinfo=zone), text))
    return [(when.timestamp(), text) for when, text in marks if first <= when.timestamp() <= last]


def fix_chart(rows: Sequence[FixTime]) -> Picture:
    """Return the time to fix by kind: a bar from one quarter fixed to three, a stroke at half.

    Parameters
    ----------
    rows : sequence of FixTime
        Times, at least one row; only the first 20 are drawn.

    Returns
    -------
    Picture
        The chart. A bar that ends in an arrow is one of which three quarters are not fixed yet.
    """
    drawn = rows[:_MOST_ROWS]
    known = [
        days
        for row in drawn
        for days in (row.quarter_days, row.median_days, row.three_quarter_days)
        if days is not None
    ]
    ticks = nice_ticks(0.0, max(known, default=1.0), most=5)
    bottom = 10.0 + len(drawn) * _ROW
    left, right = _NAME, WIDTH - 80.0
    shapes: list[Shape] = []
    for tick in ticks:
        x = left + (right - left) * tick / ticks[-1]
        shapes.append(Line(points=((x, 10.0), (x, bottom)), grey=True, width=0.6))
        shapes.append(Label(x=x, y=bottom + 16, text=f"{tick:,.10g}", size=12, anchor="middle"))
    shapes.append(Label(x=(left + right) / 2, y=bottom + 33, text=_("days"), size=12, anchor="middle"))
    for number, row in enumerate(drawn):
        middle = 10.0 + (number + 0.5) * _ROW
        shapes += _row_head(_(row.kind), middle)
        shapes += _fix_bar(row, middle, left=left, per_day=(right - left) / ticks[-1], right=right)
        waits = counted("{n} open", "{n} open", row.open).format(n=row.open) if row.open else ""
        shapes.append(Label(x=WIDTH, y=middle + 4, text=waits, size=12, anchor="end"))
    fixed, waiting = sum(row.fixed for row in rows), sum(row.open for row in rows)
    return Picture(
        title=_("Days from flag to fix: half of them, and the middle half"),
        description=_("{fixed} flags fixed, {open} still open.").format(fixed=fixed, open=waiting),
        width=WIDTH,
        height=bottom + 40,
        shapes=tuple(shapes),
    )


def _fix_bar(row: FixTime, middle: float, *, left: float, per_day: float, right: float) -> list[Shape]:
    if row.quarter_days is None:
        return [Label(x=left + 6, y=middle + 4, text=_("not a quarter fixed yet"), size=12)]
    start = left + row.quarter_days * per_day
    whole = row.three_quarter_days is not None
    stop = left + row.three_quarter_days * per_day if row.three_quarter_days is not None else right
    box = Box(x=start, y=middle - 7, width=max(stop - start, 1.0), height=14, hatch="slanted")
    shapes: list[Shape] = [box]
    if not whole:
        tip = ((stop, middle - 7), (stop + 9, middle), (stop, middle + 7))
        shapes.append(Line(points=tip, width=1.4))
    if row.median_days is not None:
        x = left + row.median_days * per_day
        shapes.append(Line(points=((x, middle - 11), (x, middle + 11)), width=3.0))
    return shapes


def systems_chart(rows: Sequence[SystemHistory]) -> Picture:
    """Return flags by system: closed ones hatched, open ones solid.

    Parameters
    ----------
    rows : sequence of SystemHistory
        Systems, at least one with a flag; only the first 20 are drawn.

    Returns
    -------
    Picture
        The chart.
    """
    drawn = [row for row in rows if row.closed + row.open][:_MOST_ROWS]
    most = max(row.closed + row.open for row in drawn)
    ticks = nice_ticks(0.0, float(most), most=5)
    ticks = [tick for tick in ticks if tick == int(tick)]
    bottom = _TOP + len(drawn) * _ROW
    left, right = _NAME, WIDTH - 20.0
    per_flag = (right - left) / max(ticks[-1], most)
    legend: tuple[tuple[str, Hatch, float], ...] = (
        (_("closed"), "slanted", left),
        (_("still open"), "solid", left + 110),
    )
    shapes: list[Shape] = []
    for name, hatch, x in legend:
        shapes.append(Box(x=x, y=6, width=22, height=13, hatch=hatch))
        shapes.append(Label(x=x + 28, y=17, text=name))
    for tick in ticks:
        x = left + per_flag * tick
        shapes.append(Line(points=((x, _TOP - 6), (x, bottom)), grey=True, width=0.6))
        shapes.append(Label(x=x, y=bottom + 16, text=f"{tick:,.0f}", size=12, anchor="middle"))
    for number, row in enumerate(drawn):
        middle = _TOP + (number + 0.5) * _ROW
        shapes += _row_head(row.name or _("no system"), middle)
        if row.closed:
            wide = row.closed * per_flag
            shapes.append(Box(x=left, y=middle - 8, width=wide, height=16, hatch="slanted"))
        if row.open:
            start, wide = left + row.closed * per_flag, row.open * per_flag
            shapes.append(Box(x=start, y=middle - 8, width=wide, height=16, hatch="solid"))
    return Picture(
        title=_("Flags by machine, drip block and well"),
        description=_("Most flags: {system}, {count}.").format(
            system=one_line(drawn[0].name or _("no system")), count=drawn[0].closed + drawn[0].open
        ),
        width=WIDTH,
        height=bottom + 24,
        shapes=tuple(shapes),
    )

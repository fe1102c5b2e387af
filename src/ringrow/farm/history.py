"""A season, or all of them, in numbers: flags by kind and month, ground touched, time to fix."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

from scipy.stats import CensoredData, ecdf

from ringrow.farm.systems import local_time

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from datetime import tzinfo

    from ringrow.coverage.footprint import Footprint
    from ringrow.farm.flag_model import LocatedFlag
    from ringrow.farm.flag_times import FlagTimes

QUARTERS: tuple[float, float, float] = (0.25, 0.5, 0.75)
"""Shares of flags at which a time to fix is given. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class KindMonths:
    """How many flags of a kind were set in each month of the year.

    Parameters
    ----------
    kind : str
        The kind.
    counts : tuple of int
        January to December, the years together. [-]
    """

    kind: str
    counts: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class TouchedStep:
    """Ground that open flags touch from one moment on.

    Parameters
    ----------
    when : datetime
        From when.
    dry_m2, wet_m2, stopped_m2 : float
        Ground left dry, left too wet, and under machines that stand. [m2]
    """

    when: datetime
    dry_m2: float
    wet_m2: float
    stopped_m2: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FixTime:
    """How long flags of a kind took to be fixed.

    Parameters
    ----------
    kind : str
        The kind.
    fixed, open : int
        Flags that were fixed; flags that wait still. [-]
    quarter_days, median_days, three_quarter_days : float or None
        Days after which a quarter, half and three quarters were fixed, those that wait counted
        for as long as they have waited; None when that many are not fixed yet. [d]
    """

    kind: str
    fixed: int
    open: int
    quarter_days: float | None
    median_days: float | None
    three_quarter_days: float | None


def faults_only(flags: Iterable[LocatedFlag]) -> list[LocatedFlag]:
    """Return flags without those that were found to be no fault.

    Parameters
    ----------
    flags : iterable of LocatedFlag
        Flags.

    Returns
    -------
    list of LocatedFlag
        The rest, in their order.
    """
    return [flag for flag in flags if flag.state.status != "not-a-fault"]


def months_by_kind(flags: Iterable[LocatedFlag], *, zone: tzinfo) -> list[KindMonths]:
    """Return how many flags of each kind were set in each month.

    Parameters
    ----------
    flags : iterable of LocatedFlag
        Flags, joined ones once.
    zone : tzinfo
        Zone by which months begin.

    Returns
    -------
    list of KindMonths
        Most flags first, then by name.
    """
    counts: dict[str, Counter[int]] = {}
    for flag in flags:
        counts.setdefault(flag.state.kind, Counter())[local_time(flag.state.set_at, zone).month] += 1
    rows = [
        KindMonths(kind=kind, counts=tuple(months[month] for month in range(1, 13)))
        for kind, months in counts.items()
    ]
    return sorted(rows, key=lambda row: (-sum(row.counts), row.kind))


def touched_steps(
    flags: Iterable[LocatedFlag],
    times: Mapping[str, FlagTimes],
    *,
    until: datetime,
    since: datetime | None = None,
) -> list[TouchedStep]:
    """Return the ground that open flags touch, from each moment at which it changes.

    Parameters
    ----------
    flags : iterable of LocatedFlag
        Flags; one that touches no ground by itself changes nothing.
    times : mapping of str to FlagTimes
        When they were open.
    until : datetime
        Later changes are left out.
    since : datetime or None, default None
        From when it is told; flags that were open then count from then on. None for the first change.

    Returns
    -------
    list of TouchedStep
        By time, the first one at `since`, the last one at `until`; empty when nothing was touched.

    Notes
    -----
    Flags on the same part of a machine, or that stop the same machine, touch one ground and count
    it once; rings that overlap in part count it twice. Ground is that of the machines as they are
    described now.
    """
    if since is not None and since >= until:
        return []
    changes: list[tuple[datetime, int, Footprint]] = []
    for flag in flags:
        if flag.footprint is None:
            continue
        for begin, end in times[flag.state.id].spells:
            changes.append((begin, 1, flag.footprint))
            changes += [] if end is None else [(end, -1, flag.footprint)]
    open_count: Counter[int] = Counter()
    sums = {"dry": 0.0, "wet": 0.0, "stopped": 0.0}
    steps: dict[datetime, TouchedStep] = {}
    for when, change, touched in sorted(changes, key=lambda each: (each[0], each[1])):
        if when > until:
            break
        before = open_count[id(touched)]
        open_count[id(touched)] += change
        if (before > 0) != (before + change > 0):
            sums[touched.effect] += change * touched.area_m2
        steps[when] = _step(when, sums)
    told = _since(list(steps.values()), since)
    any_ground = any(step.dry_m2 or step.wet_m2 or step.stopped_m2 for step in told)
    return [*told, _step(until, sums)] if any_ground else []


def _since(steps: Sequence[TouchedStep], since: datetime | None) -> list[TouchedStep]:
    if since is None:
        return list(steps)
    before = [step for step in steps if step.when <= since]
    first = (
        replace(before[-1], when=since) if before else _step(since, {"dry": 0.0, "wet": 0.0, "stopped": 0.0})
    )
    return [first, *(step for step in steps if step.when > since)]


def _step(when: datetime, sums: Mapping[str, float]) -> TouchedStep:
    # What was added and taken away again must leave nothing of its rounding.
    left = {effect: area if area > 1e-6 else 0.0 for effect, area in sums.items()}
    return TouchedStep(when=when, dry_m2=left["dry"], wet_m2=left["wet"], stopped_m2=left["stopped"])


def most_touched(
    steps: Sequence[TouchedStep], *, zone: tzinfo, by_year: bool = False
) -> list[tuple[date, TouchedStep]]:
    """Return the most ground that open flags touched in each month.

    Parameters
    ----------
    steps : sequence of TouchedStep
        Ground touched from each moment on, by time.
    zone : tzinfo
        Zone by which months begin.
    by_year : bool, default False
        Whether to go by years instead.

    Returns
    -------
    list of tuple
        First day of each month from the first step to the last, and the most of each kind of ground
        at any moment of it, which need not be the same moment.
    """
    rows: list[tuple[date, TouchedStep]] = []
    for step, after in zip(steps, [*steps[1:], steps[-1]], strict=True) if steps else []:
        month = _first_day(local_time(step.when, zone).date(), by_year=by_year)
        last = _first_day(local_time(after.when, zone).date(), by_year=by_year)
        while month <= last:
            before = rows.pop()[1] if rows and rows[-1][0] == month else step
            rows.append((month, _larger(before, step)))
            # A step that ends with the month does not reach into the next.
            if month == last:
                break
            month = _first_day(month + timedelta(days=366 if by_year else 31), by_year=by_year)
            if datetime(month.year, month.month, 1, tzinfo=zone) >= after.when:
                break
    return rows


def _first_day(day: date, *, by_year: bool) -> date:
    return day.replace(month=1, day=1) if by_year else day.replace(day=1)


def _larger(one: TouchedStep, other: TouchedStep) -> TouchedStep:
    return TouchedStep(
        when=one.when,
        dry_m2=max(one.dry_m2, other.dry_m2),
        wet_m2=max(one.wet_m2, other.wet_m2),
        stopped_m2=max(one.stopped_m2, other.stopped_m2),
    )


def times_to_fix(
    flags: Sequence[LocatedFlag], times: Mapping[str, FlagTimes], *, now: datetime
) -> list[FixTime]:
    r"""Return how long flags took to be fixed, kind by kind.

    A flag that still waits has waited so long at least; leaving it out would make repairs look
    quicker than they are. So the share still open after t days is the product-limit estimate

    .. math:: S(t) = \prod_{t_i \le t} \left(1 - \frac{d_i}{n_i}\right)

    of flags fixed, d, among those that waited that long, n.

    Parameters
    ----------
    flags : sequence of LocatedFlag
        Flags.
    times : mapping of str to FlagTimes
        When they were open and first fixed.
    now : datetime
        Until when those that are open have waited.

    Returns
    -------
    list of FixTime
        Most flags first, then by name. A flag that was fixed when it was told of, or by a clock that
        ran behind, says nothing of how long it took and is left out.

    References
    ----------
    .. [1] E. L. Kaplan, P. Meier, "Nonparametric estimation from incomplete observations", Journal of
       the American Statistical Association 53, 1958 (from memory).
    """
    groups: dict[str, list[LocatedFlag]] = {}
    for flag in flags:
        done = times[flag.state.id].fixed_at
        if done is None or done > flag.state.set_at:
            groups.setdefault(flag.state.kind, []).append(flag)
    rows = [_fix_time(kind, own, times, now) for kind, own in groups.items()]
    return sorted(rows, key=lambda row: (-(row.fixed + row.open), row.kind))


def _fix_time(
    kind: str, flags: Sequence[LocatedFlag], times: Mapping[str, FlagTimes], now: datetime
) -> FixTime:
    fixed: list[float] = []
    waiting: list[float] = []
    for flag in flags:
        done = times[flag.state.id].fixed_at
        days = max(((done or now) - flag.state.set_at) / timedelta(days=1), 0.0)
        (waiting if done is None else fixed).append(days)
    quarter, half, three_quarters = _quartiles(fixed, waiting)
    return FixTime(
        kind=kind,
        fixed=len(fixed),
        open=len(waiting),
        quarter_days=quarter,
        median_days=half,
        three_quarter_days=three_quarters,
    )


def _quartiles(fixed: Sequence[float], waiting: Sequence[float]) -> list[float | None]:
    if not fixed:
        return [None, None, None]
    left = ecdf(CensoredData(uncensored=fixed, right=waiting)).sf
    shares = list(zip(left.quantiles.tolist(), left.probabilities.tolist(), strict=True))
    return [
        next((days for days, open_share in shares if open_share <= 1.0 - share + 1e-9), None)
        for share in QUARTERS
    ]

"""Whether positions flagged on one machine can all be on it: bearings against time and walking speed.

A flag set by position on a machine tells where the machine stood: on that bearing. A machine is
walked while it is inspected, so the bearings of one round need not agree; but between two flags
it cannot have turned farther than its top speed allows, and one that stood still has not turned.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from ringrow.units import FOOT_M

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from ringrow.equipment.pivot import Pivot

TOP_SPEED_M_PER_H = 22.5 * 60 * FOOT_M
"""Speed of the last tower when none is stated [m/h].

22.5 ft/min: the fastest full turn that a Utah State University lecture quotes for a pivot of 120
acres, 6 hours, as speed at its end.
"""

BESIDE_M = 10 * FOOT_M
"""How far from the machine somebody may stand who flags a part of it [m]: our choice."""

PARKED_SLACK_DEG = 2.0
"""How well people and panels know where a machine is parked [deg]: our choice."""

# One position in 370 lies farther off than this, along one line.
_SIGMAS = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class BearingFix:
    """The bearing on which a flag found a machine.

    Parameters
    ----------
    number : int
        Label of the flag.
    azimuth_deg : float
        True azimuth of the position from the pivot point. [deg]
    distance_m : float
        Its distance from the pivot point, above 0. [m]
    sigma_m : float
        One-axis spread of the position. [m]
    day : int or None, default None
        Which day it was set; None when the time is not known.
    hours : float or None, default None
        When it was set, from any one moment on; None when not known. [h]
    """

    number: int
    azimuth_deg: float
    distance_m: float
    sigma_m: float
    day: int | None = None
    hours: float | None = None

    @property
    def slack_deg(self) -> float:
        """How far the bearing may be off because of where somebody stood [deg]."""
        return math.degrees(math.atan2(BESIDE_M, self.distance_m))

    @property
    def sigma_deg(self) -> float:
        """One standard deviation of the bearing, at most half a turn [deg]."""
        return min(math.degrees(self.sigma_m / self.distance_m), 180.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """Why a position cannot be on the machine it seems to be on.

    Parameters
    ----------
    reason : {"speed", "parked", "sector"}
        The machine cannot have walked so far between this flag and another; it is parked
        elsewhere; or it never walks there.
    azimuth_deg : float
        Bearing of this flag. [deg]
    other_deg : float
        Bearing of the other flag, azimuth at which the machine is parked, or the nearer end of its
        sector. [deg]
    apart_deg : float
        How far the machine would have had to turn from one to the other. [deg]
    other : int or None, default None
        Number of the other flag.
    hours : float or None, default None
        Time from the other flag to this one, below 0 when the other came later. [h]
    most_deg : float or None, default None
        How far it can have turned in that time. [deg]
    speed_m_per_h : float or None, default None
        Top speed of the last tower. [m/h]
    speed_assumed : bool, default False
        True when nobody stated that speed.
    either : bool, default False
        True when nothing tells which of the two flags is the wrong one.
    """

    reason: Literal["speed", "parked", "sector"]
    azimuth_deg: float
    other_deg: float
    apart_deg: float
    other: int | None = None
    hours: float | None = None
    most_deg: float | None = None
    speed_m_per_h: float | None = None
    speed_assumed: bool = False
    either: bool = False


def turn_rate_deg_per_h(pivot: Pivot) -> float:
    """Return how fast a machine can turn.

    Parameters
    ----------
    pivot : Pivot
        The machine; without a stated top speed 22.5 ft/min (411 m/h) at the last tower.

    Returns
    -------
    float
        Top speed over radius of the last tower. [deg/h]

    Examples
    --------
    >>> from ringrow.equipment.pivot import Pivot
    >>> pivot = Pivot(name="P1", x_m=0, y_m=0, spans_m=(200.0, 200.0), top_speed_m_per_h=420.0)
    >>> round(turn_rate_deg_per_h(pivot), 1)  # a turn takes six hours
    60.2
    """
    speed = TOP_SPEED_M_PER_H if pivot.top_speed_m_per_h is None else pivot.top_speed_m_per_h
    return math.degrees(speed / pivot.tower_radii_m[-1])


def bearing_doubts(pivot: Pivot, fixes: Sequence[BearingFix]) -> list[Doubt | None]:
    """Return which flags on one machine cannot be on it, and why.

    Of the flags of one day with known times, the largest set is kept that one walk of the
    machine can have passed through; what is not in it is in doubt. Flags whose time is not known
    are held against where the machine is parked; without that they are not in doubt.

    Parameters
    ----------
    pivot : Pivot
        The machine.
    fixes : sequence of BearingFix
        Positions of flags on it.

    Returns
    -------
    list of Doubt or None
        One for each flag, in their order; None = it can be on the machine.

    Notes
    -----
    Two bearings go together when they differ by no more than the turn that the time allows, 3
    sigma of both positions, and 10 ft (3 m) beside the machine for each. The set is a longest
    chain in order of time. Where two chains are equally long, the one with more flags at the
    azimuth where the machine is parked wins; where that does not settle it, both sides are named.

    Examples
    --------
    >>> from ringrow.equipment.pivot import Pivot
    >>> pivot = Pivot(name="P1", x_m=0, y_m=0, spans_m=(200.0, 200.0), top_speed_m_per_h=420.0)
    >>> walk = [(1, 41.0, 0.0), (2, 45.0, 0.1), (3, 214.0, 0.2), (4, 48.0, 0.4)]
    >>> fixes = [BearingFix(number=n, azimuth_deg=a, distance_m=300.0, sigma_m=2.0, day=1, hours=h)
    ...          for n, a, h in walk]
    >>> [doubt.apart_deg if doubt else None for doubt in bearing_doubts(pivot, fixes)]
    [None, None, 169.0, None]
    """
    found: list[Doubt | None] = [None] * len(fixes)
    days: dict[int, list[int]] = {}
    for index, fix in enumerate(fixes):
        if fix.day is not None and fix.hours is not None:
            days.setdefault(fix.day, []).append(index)
        else:
            found[index] = _off_parked(pivot, fix)
    for members in days.values():
        doubts = _day_doubts(pivot, [fixes[index] for index in members])
        for index, doubt in zip(members, doubts, strict=True):
            found[index] = doubt
    return found


def sector_doubt(pivot: Pivot, fix: BearingFix) -> Doubt | None:
    """Return a doubt for a flag at a bearing where a part circle never walks.

    Parameters
    ----------
    pivot : Pivot
        The machine.
    fix : BearingFix
        Position of a flag that lies outside the machine's wetted ground.

    Returns
    -------
    Doubt or None
        None on a full circle, and within 3 sigma and 10 ft (3 m) of an end of the sector.

    Examples
    --------
    >>> from ringrow.equipment.pivot import Pivot, Sector
    >>> part = Pivot(name="P1", x_m=0, y_m=0, spans_m=(400.0,), sector=Sector(start_deg=20, stop_deg=200))
    >>> fix = BearingFix(number=1, azimuth_deg=230.0, distance_m=300.0, sigma_m=2.0)
    >>> sector_doubt(part, fix).apart_deg
    30.0
    """
    if pivot.sector is None:
        return None
    ends = (pivot.sector.start_deg, pivot.sector.stop_deg)
    nearest = min(ends, key=lambda end: _circular(fix.azimuth_deg - end))
    apart = _circular(fix.azimuth_deg - nearest)
    within = (fix.azimuth_deg - ends[0]) % 360.0 <= pivot.sector.sweep_deg
    if within or apart <= fix.slack_deg + _SIGMAS * fix.sigma_deg:
        return None
    return Doubt(reason="sector", azimuth_deg=fix.azimuth_deg, other_deg=nearest, apart_deg=apart)


def _off_parked(pivot: Pivot, fix: BearingFix) -> Doubt | None:
    if pivot.parked_deg is None:
        return None
    apart = _circular(fix.azimuth_deg - pivot.parked_deg)
    if apart <= PARKED_SLACK_DEG + fix.slack_deg + _SIGMAS * fix.sigma_deg:
        return None
    return Doubt(
        reason="parked", azimuth_deg=fix.azimuth_deg, other_deg=pivot.parked_deg, apart_deg=float(apart)
    )


def _circular(angle_deg: float) -> float:
    return abs((angle_deg + 180.0) % 360.0 - 180.0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Day:
    """Flags of one day on one machine as arrays, in order of time."""

    angle: NDArray[np.float64]
    hours: NDArray[np.float64]
    slack: NDArray[np.float64]
    sigma: NDArray[np.float64]
    rate: float
    full_circle: bool


def _day_doubts(pivot: Pivot, fixes: Sequence[BearingFix]) -> list[Doubt | None]:
    order = sorted(range(len(fixes)), key=lambda index: (fixes[index].hours or 0.0, fixes[index].number))
    ordered = [fixes[index] for index in order]
    day = _Day(
        angle=_angles(pivot, ordered),
        hours=np.array([fix.hours for fix in ordered], float),
        slack=np.array([fix.slack_deg for fix in ordered]),
        sigma=np.array([fix.sigma_deg for fix in ordered]),
        rate=turn_rate_deg_per_h(pivot),
        full_circle=pivot.sector is None,
    )
    # A flag at the parked azimuth counts a little more, so that it settles ties and no more.
    parked = [pivot.parked_deg is not None and _off_parked(pivot, fix) is None for fix in ordered]
    through = _through(day, len(ordered) + 1 + np.array(parked, np.int64))
    doubts: list[Doubt | None] = [None] * len(fixes)
    for place, index in enumerate(order):
        doubts[index] = _doubt(pivot, ordered, day, through, place)
    return doubts


def _angles(pivot: Pivot, fixes: Sequence[BearingFix]) -> NDArray[np.float64]:
    """Return azimuths; on a part circle counted from its start, so that nobody walks across the gap."""
    azimuth = np.array([fix.azimuth_deg for fix in fixes])
    if pivot.sector is None:
        return azimuth
    turned = (azimuth - pivot.sector.start_deg) % 360.0
    # A little before the start is not a whole turn past it.
    return np.where(turned > (pivot.sector.sweep_deg + 360.0) / 2, turned - 360.0, turned)


def _apart(day: _Day, place: int) -> NDArray[np.float64]:
    """Return how far the machine has to turn from one flag to each [deg]."""
    angle = day.angle - day.angle[place]
    return np.asarray(np.abs((angle + 180.0) % 360.0 - 180.0 if day.full_circle else angle))


def _together(day: _Day, place: int) -> NDArray[np.bool_]:
    """Return which flags one walk can have passed through besides one of them."""
    turned = day.rate * np.abs(day.hours - day.hours[place])
    blur = day.slack + day.slack[place] + _SIGMAS * np.hypot(day.sigma, day.sigma[place])
    return np.asarray(_apart(day, place) <= turned + blur)


def _through(day: _Day, weight: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return the weight of the heaviest chain through each flag."""
    before, after = weight.copy(), weight.copy()
    for place in range(len(weight)):
        fits = _together(day, place)[:place]
        before[place] += int(np.where(fits, before[:place], 0).max(initial=0))
    for place in reversed(range(len(weight))):
        fits = _together(day, place)[place + 1 :]
        after[place] += int(np.where(fits, after[place + 1 :], 0).max(initial=0))
    return np.asarray(before + after - weight)


def _doubt(
    pivot: Pivot, fixes: Sequence[BearingFix], day: _Day, through: NDArray[np.int64], place: int
) -> Doubt | None:
    best = through.max()
    against = ~_together(day, place) & (through == best)
    if not against.any():
        return None
    # The flag nearest in time says it most plainly.
    other = int(np.where(against, np.abs(day.hours - day.hours[place]), np.inf).argmin())
    hours = float(day.hours[place] - day.hours[other])
    return Doubt(
        reason="speed",
        azimuth_deg=fixes[place].azimuth_deg,
        other_deg=fixes[other].azimuth_deg,
        apart_deg=float(_apart(day, place)[other]),
        other=fixes[other].number,
        hours=hours,
        most_deg=day.rate * abs(hours),
        speed_m_per_h=math.radians(day.rate) * pivot.tower_radii_m[-1],
        speed_assumed=pivot.top_speed_m_per_h is None,
        either=bool(through[place] == best),
    )

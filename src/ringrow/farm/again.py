"""What comes back: places and machine parts flagged in more than one year, systems that keep stopping."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ringrow.coverage.joint_chance import same_chances
from ringrow.farm.like_spots import LikeSpot, Nearness, like_spots, near_pairs
from ringrow.farm.systems import local_time

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from datetime import tzinfo

    from numpy.typing import NDArray

    from ringrow.coverage.field import FieldLayout
    from ringrow.farm.breakdown_list import Breakdown
    from ringrow.farm.flag_model import LocatedFlag


@dataclass(frozen=True, slots=True, kw_only=True)
class Repeat:
    """A place or part that was flagged in more than one year.

    Parameters
    ----------
    spot : LikeSpot
        Where the first of its flags is, in the terms they were compared in.
    flags : tuple of LocatedFlag
        Its flags, oldest first.
    years : tuple of tuple of int
        Years with their numbers of flags, rising.
    lon, lat : float or None
        Middle of the flags on the ground; None on a machine or at a well. [deg]
    along_m : float or None
        Mean distance along the pipe of flags compared by it. [m]
    chance : float or None
        Least chance, over its later flags, of marking the same place as one of an earlier year,
        under the prior of `ringrow.coverage.joint_chance`; None for numbered parts and wells. [-]
    """

    spot: LikeSpot
    flags: tuple[LocatedFlag, ...]
    years: tuple[tuple[int, int], ...]
    lon: float | None
    lat: float | None
    along_m: float | None
    chance: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Stops:
    """A system, or a tower of it, that broke down more than once.

    Parameters
    ----------
    system : str
        The system.
    tower : int or None
        The tower that stopped it; None where none was named.
    downs : tuple of Breakdown
        Its breakdowns, oldest first.
    """

    system: str
    tower: int | None
    downs: tuple[Breakdown, ...]


def repeats(flags: Sequence[LocatedFlag], layouts: Sequence[FieldLayout], *, zone: tzinfo) -> list[Repeat]:
    """Return places and parts that were flagged in two or more years.

    Parameters
    ----------
    flags : sequence of LocatedFlag
        Every flag, joined ones once.
    layouts : sequence of FieldLayout
        The farm's fields, laid out.
    zone : tzinfo
        Zone by which years begin.

    Returns
    -------
    list of Repeat
        Most years first, then most flags, then the newest.

    Notes
    -----
    Flags within their joint accuracy are linked, and what is linked is one place; a row of faults
    close together can so become one. Hardware on both sides of a rebuild is never linked, and a
    flag that was no fault is left out.
    """
    groups: dict[tuple[str, str, str], list[tuple[LocatedFlag, LikeSpot]]] = {}
    ordered = sorted(
        zip(flags, like_spots(flags, layouts, zone=zone), strict=True),
        key=lambda pair: (pair[0].state.set_at, pair[0].state.id),
    )
    for flag, spot in ordered:
        if spot is not None and flag.state.status != "not-a-fault":
            of = "" if spot.on == "ground" else spot.of
            groups.setdefault((spot.on, spot.like, of), []).append((flag, spot))
    found = [each for group in groups.values() for each in _repeats_of(group, zone)]
    return sorted(
        found, key=lambda each: (-len(each.years), -len(each.flags), -each.flags[-1].state.set_at.timestamp())
    )


def _repeats_of(group: Sequence[tuple[LocatedFlag, LikeSpot]], zone: tzinfo) -> list[Repeat]:
    near = near_pairs([spot for _, spot in group])
    root = list(range(len(group)))

    def top(at: int) -> int:
        while root[at] != at:
            at = root[at]
        return at

    for before, later in near:
        root[top(later)] = top(before)
    members: dict[int, list[int]] = {}
    for at in range(len(group)):
        members.setdefault(top(at), []).append(at)
    years = np.array([local_time(flag.state.set_at, zone).year for flag, _ in group])
    numbered = group[0][1].on in ("part", "well")
    grounds = np.unique([spot.of for _, spot in group], return_inverse=True)[1]
    return [
        _repeat(
            [group[at] for at in own],
            years[own].tolist(),
            None if numbered else _chance(own, years, grounds, near),
        )
        for own in members.values()
        if len(set(years[own].tolist())) > 1
    ]


def _chance(
    own: Sequence[int],
    years: NDArray[np.int64],
    grounds: NDArray[np.int64],
    near: dict[tuple[int, int], Nearness],
) -> float:
    """Return the least chance of a place's later flags, as `Repeat` says it."""
    least = 1.0
    for later in own:
        if years[later] == years[own[0]]:
            continue
        # Held against what it lies near, and whatever else lies on the same ground or machine.
        close = [at for at in own if (at, later) in near and years[at] < years[later]]
        beside = (years[:later] < years[later]) & (grounds[:later] == grounds[later])
        beside[close] = True
        odds = np.zeros(np.count_nonzero(beside))
        odds[: len(close)] = [near[at, later].odds for at in close]
        least = min(least, float(same_chances(odds).sum()))
    return least


def _repeat(
    own: Sequence[tuple[LocatedFlag, LikeSpot]], years: Sequence[int], chance: float | None
) -> Repeat:
    spot = own[0][1]
    placed = [(flag.lon, flag.lat) for flag, _ in own if flag.lon is not None and flag.lat is not None]
    ground = spot.on == "ground" and placed
    lon, lat = np.mean(np.array(placed, float), axis=0).tolist() if ground else (None, None)
    return Repeat(
        spot=spot,
        flags=tuple(flag for flag, _ in own),
        years=tuple(sorted(Counter(years).items())),
        lon=lon,
        lat=lat,
        along_m=math.fsum(place.x_m for _, place in own) / len(own) if spot.on == "pipe" else None,
        chance=chance,
    )


def stops(downs: Iterable[Breakdown]) -> list[Stops]:
    """Return systems that broke down more than once at the same tower, or with none named.

    Parameters
    ----------
    downs : iterable of Breakdown
        Breakdowns of every year.

    Returns
    -------
    list of Stops
        Most breakdowns first.
    """
    groups: dict[tuple[str, int | None], list[Breakdown]] = {}
    for down in sorted(downs, key=lambda each: (each.stopped, each.record.id)):
        groups.setdefault((down.system, down.tower), []).append(down)
    found = [
        Stops(system=system, tower=tower, downs=tuple(own))
        for (system, tower), own in groups.items()
        if len(own) > 1
    ]
    return sorted(found, key=lambda each: (-len(each.downs), each.system, each.tower or 0))

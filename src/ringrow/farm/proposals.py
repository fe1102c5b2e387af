"""Which flags may mark one fault: pairs of like kind within their joint accuracy, with a chance."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

from ringrow.coverage.joint_chance import REPEAT_SHARE, same_chances
from ringrow.errors import PlaceError
from ringrow.farm.flag_times import flag_times
from ringrow.farm.like_spots import LikeSpot, Nearness, like_spots, nearness
from ringrow.farm.records import fold_records
from ringrow.farm.rounds import rounds_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from datetime import datetime, tzinfo

    from ringrow.coverage.field import FieldLayout
    from ringrow.farm.events import Event
    from ringrow.farm.flag_model import LocatedFlag
    from ringrow.farm.flag_times import FlagTimes
    from ringrow.farm.round_model import Round

ROUND_DAYS = 30
"""Flags set farther apart than this many days are not taken for one fault (our choice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """Two flags that may mark one fault.

    Parameters
    ----------
    first, second : LocatedFlag
        The flags, the one set first first.
    near : Nearness
        How they lie to each other.
    chance : float
        Chance that they mark one fault, under the stated prior. [-]
    others : int
        Flags of like kind that the second may have marked again, this one among them. [-]
    """

    first: LocatedFlag
    second: LocatedFlag
    near: Nearness
    chance: float
    others: int


def same_proposals(
    flags: Sequence[LocatedFlag],
    events: Iterable[Event],
    layouts: Sequence[FieldLayout],
    *,
    zone: tzinfo,
    days: int = ROUND_DAYS,
    repeat_share: float = REPEAT_SHARE,
) -> list[Proposal]:
    """Return pairs of flags that may mark one fault.

    Parameters
    ----------
    flags : sequence of LocatedFlag
        Every flag of the season; joined ones count once.
    events : iterable of Event
        The season's events.
    layouts : sequence of FieldLayout
        The farm's fields, laid out.
    zone : tzinfo
        Zone of the days on which machines were rebuilt.
    days : int, default 30
        Longest time between the two where they were not set in one round. [d]
    repeat_share : float, default 0.1
        Prior share of flags that mark again what another marked. [-]

    Returns
    -------
    list of Proposal
        Likeliest first. A flag that was closed before the other was set is not proposed: the
        fault was mended and came back. Flags set in one round may be one fault however long the
        round took, flags set in two rounds are not.

    Raises
    ------
    PlaceError
        If `days` is not above 0.

    Notes
    -----
    For each flag the ones of like kind before it, on the same ground, machine or well, are the
    faults it may have marked again, each as likely as the other before looking where they lie.
    """
    if not days > 0:
        message = f"days between two flags of one fault: found {days}; allowed: 1 or more"
        raise PlaceError(message)
    events = list(events)
    times = flag_times([flag.state for flag in flags], events)
    rounds = rounds_of(fold_records(events))
    walks = {flag.state.id: _round_at(flag.state.set_at, rounds) for flag in flags}
    placed = [
        (flag, spot)
        for flag, spot in zip(flags, like_spots(flags, layouts, zone=zone), strict=True)
        if spot is not None and flag.state.status != "not-a-fault"
    ]
    ordered = sorted(placed, key=lambda pair: (pair[0].state.set_at, pair[0].state.id))
    groups: dict[tuple[str, str, str], list[tuple[LocatedFlag, LikeSpot]]] = {}
    found: list[Proposal] = []
    for flag, spot in ordered:
        # A fix may fall on either side of a field's edge.
        of = "" if spot.on == "ground" else spot.of
        group = groups.setdefault((spot.on, spot.like, of), [])
        group[:] = [pair for pair in group if _may_be(pair[0], flag, times, days, walks)]
        found += _against(flag, spot, group, repeat_share)
        group.append((flag, spot))
    return sorted(found, key=lambda each: (-each.chance, each.first.state.number, each.second.state.number))


def _may_be(
    before: LocatedFlag,
    flag: LocatedFlag,
    times: dict[str, FlagTimes],
    days: int,
    walks: dict[str, str | None],
) -> bool:
    closed = times[before.state.id].closed_at
    if closed is not None and closed <= flag.state.set_at:
        return False
    one, two = walks[before.state.id], walks[flag.state.id]
    # One walk is one walk however long it takes; what a later walk finds again came back or is still there.
    if one is not None and two is not None:
        return one == two
    return flag.state.set_at - before.state.set_at <= timedelta(days=days)


def _round_at(when: datetime, rounds: Sequence[Round]) -> str | None:
    """Return the round that was being walked at a moment; None when none was."""
    walked = [each for each in rounds if each.started <= when and (each.ended is None or when <= each.ended)]
    return max(walked, key=lambda each: each.started).id if walked else None


def _against(
    flag: LocatedFlag, spot: LikeSpot, before: Sequence[tuple[LocatedFlag, LikeSpot]], repeat_share: float
) -> list[Proposal]:
    held = [(other, place, nearness(place, spot)) for other, place in before]
    near = [(other, how) for other, place, how in held if how is not None or place.of == spot.of]
    if not any(how is not None for _, how in near):
        return []
    chances = same_chances([0.0 if how is None else how.odds for _, how in near], repeat_share=repeat_share)
    return [
        Proposal(first=other, second=flag, near=how, chance=float(chance), others=len(near))
        for (other, how), chance in zip(near, chances, strict=True)
        if how is not None
    ]

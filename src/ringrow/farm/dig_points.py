"""Dig points: where the hole was, once found, beside the wet spot that told of it.

Water follows the slot the tape was pulled in, so the wet spot and the hole are two places.
Both are kept: the wet spot as the flag's spot, the hole as an event of the field ``dig``. The
hole is what next year's crew is led to, and the distances between the two teach the farm how
far its holes lie from their water.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from ringrow.coverage.leak_hint import HoleRecord, hole_record
from ringrow.errors import SeasonError
from ringrow.farm.events import MAX_NAME, Event, canonical
from ringrow.farm.flag_model import DripSpot, GroundSpot
from ringrow.farm.flag_places import locate_flags
from ringrow.farm.flags import checked_text, find_flag
from ringrow.farm.folding import by_field, heads
from ringrow.farm.spot_values import spot_to_json
from ringrow.frame import distance_azimuth

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from ringrow.coverage.field import FieldLayout
    from ringrow.farm.flag_model import FlagState, LocatedFlag
    from ringrow.farm.flags import Stamp
    from ringrow.farm.model import Farm
    from ringrow.farm.season import Season

DIG_FIELD = "dig"
"""Field of the events that say where a hole was."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DigPoint:
    """A hole that was found, and how far it lay from its wet spot.

    Parameters
    ----------
    place : LocatedFlag
        The flag as if it had been set at the hole.
    away_m : float or None
        Distance between wet spot and hole; None when either has no position. [m]
    """

    place: LocatedFlag
    away_m: float | None


def set_dig_point(season: Season, ref: str, spot: GroundSpot | DripSpot, *, stamp: Stamp) -> FlagState:
    """Say where the hole behind a flag was found.

    Parameters
    ----------
    season : Season
        Open log.
    ref : str
        The flag by number or by the first characters of its id.
    spot : GroundSpot or DripSpot
        The hole.
    stamp : Stamp
        Who says so and when.

    Returns
    -------
    FlagState
        The flag.

    Raises
    ------
    SeasonError
        If the flag is not known, sits on a machine or at a well, or the log cannot be written.
    """
    who = checked_text(stamp.who, what="who", longest=MAX_NAME)
    with season.writing():
        state = find_flag(season.states(), ref)
        if not (state.spot is None or isinstance(state.spot, GroundSpot | DripSpot)):
            message = (
                f"flag {state.number} ({state.kind}): a dig point belongs to a flag on the ground or on tape"
            )
            raise SeasonError(message)
        standing = heads(by_field(season.events(flag=state.id))[state.id].get(DIG_FIELD, []))
        value = spot_to_json(spot)
        if not (len(standing) == 1 and canonical(standing[0].value) == canonical(value)):
            season.append(
                [
                    Event(
                        id=stamp.new_id(),
                        flag=state.id,
                        field=DIG_FIELD,
                        value=value,
                        when=stamp.when,
                        who=who,
                        source=stamp.source[:MAX_NAME],
                        parents=tuple(sorted(event.id for event in standing)),
                    )
                ]
            )
    return state


def dig_points(
    farm: Farm, layouts: Sequence[FieldLayout], states: Sequence[FlagState]
) -> dict[str, DigPoint]:
    """Return the holes that were found, by flag.

    Parameters
    ----------
    farm : Farm
        The farm.
    layouts : sequence of FieldLayout
        Its fields, laid out.
    states : sequence of FlagState
        Flags.

    Returns
    -------
    dict of str to DigPoint
        Only flags whose hole is known.
    """
    wet = [state for state in states if state.dig is not None]
    holes = locate_flags(farm, layouts, [replace(state, spot=state.dig) for state in wet])
    found = zip(wet, locate_flags(farm, layouts, wet), holes, strict=True)
    return {state.id: DigPoint(place=hole, away_m=_away_m(spot, hole)) for state, spot, hole in found}


def _away_m(spot: LocatedFlag, hole: LocatedFlag) -> float | None:
    if spot.lon is None or spot.lat is None or hole.lon is None or hole.lat is None:
        return None
    return distance_azimuth(spot.lon, spot.lat, hole.lon, hole.lat)[0]


def own_record(points: Iterable[DigPoint]) -> HoleRecord | None:
    """Return how far the farm's own holes lay from their wet spots.

    Parameters
    ----------
    points : iterable of DigPoint
        Holes found.

    Returns
    -------
    HoleRecord or None
        Count, median and middle half; None without a hole whose distance is known.
    """
    return hole_record([point.away_m for point in points if point.away_m is not None])

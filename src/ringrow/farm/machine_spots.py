"""Places on a pivot as people say them: tower, drop, wheel, span, outlet, distance."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from ringrow.coverage.locate_pivots import pipe_end_m
from ringrow.errors import PlaceError
from ringrow.farm.flag_model import MachineSpot
from ringrow.farm.names import find_named
from ringrow.farm.spot_values import check_wheel

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ringrow.equipment.corner_arm import CornerArm
    from ringrow.equipment.pivot import Pivot
    from ringrow.farm.model import Farm
    from ringrow.units import UnitSystem

# A drop that hangs at the tower itself is neither past nor before it.
_AT_TOWER_M = 1e-3


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """What a person said about a place on a pivot; all of it may be left out.

    Parameters
    ----------
    tower, drop : int or None, default None
        Tower, 1 at the pivot point's side, one more than there are for the steered wheels of a
        corner arm; outlets past (positive) or before (negative) it.
    wheel : str, default ""
        Which wheel of the tower.
    span, outlet : int or None, default None
        Span or outlet, 1 nearest the pivot point.
    distance_m : float or None, default None
        Distance from the pivot point along the pipe, a corner arm's pipe counted on. [m]
    azimuth_deg, panel_deg : float or None, default None
        Where the machine stood: true azimuth, or what the panel showed. [deg]
    """

    tower: int | None = None
    drop: int | None = None
    wheel: str = ""
    span: int | None = None
    outlet: int | None = None
    distance_m: float | None = None
    azimuth_deg: float | None = None
    panel_deg: float | None = None


def pivot_named(farm: Farm, name: str | None, said: Said) -> Pivot:
    """Return the pivot that a person named, a towed machine under its own name.

    Parameters
    ----------
    farm : Farm
        The farm.
    name : str or None
        Name of a pivot, or of a machine that is towed between points; a lone pivot needs none.
    said : Said
        What was said about the place on it.

    Returns
    -------
    Pivot
        The pivot. A towed machine comes as the pivot of one of its points, with the machine's name,
        since its parts go where it goes; with an azimuth said, as the point where it stands.

    Raises
    ------
    PlaceError
        If there is no such pivot, or an azimuth was said on a towed machine of which nobody knows
        at which point it stands.
    """
    pivots = {pivot.name: pivot for field in farm.fields for pivot in field.pivots}
    towed: dict[str, list[Pivot]] = {}
    for pivot in pivots.values():
        if pivot.machine and pivot.machine not in pivots:
            towed.setdefault(pivot.machine, []).append(pivot)
    found = find_named({one: one for one in (*pivots, *towed)}, name, what="pivot")
    if found in pivots:
        return pivots[found]
    standing = [pivot for pivot in towed[found] if pivot.parked_deg is not None]
    if said.azimuth_deg is None and said.panel_deg is None:
        return replace((standing or towed[found])[0], name=found)
    if len(standing) == 1:
        return standing[0]
    listed = ", ".join(f'"{pivot.name}"' for pivot in towed[found])
    message = f'place on "{found}": found an azimuth on a machine that is towed; allowed: one of {listed}'
    raise PlaceError(message)


def spot_on_pivot(pivot: Pivot, said: Said, *, units: UnitSystem, kind: str = "") -> MachineSpot:
    """Return the spot on a pivot that a person described.

    Parameters
    ----------
    pivot : Pivot
        The machine.
    said : Said
        What was said.
    units : UnitSystem
        Units in which messages and the spot's own words speak.
    kind : str, default ""
        Kind of flag: an end gun, a booster, a collector ring or a panel needs no further place.

    Returns
    -------
    MachineSpot
        The spot, with its distance by the machine as it is now.

    Raises
    ------
    PlaceError
        If the machine has no such place, too much was said, or too little.

    Examples
    --------
    >>> from ringrow.equipment.pivot import Pivot
    >>> from ringrow.units import US
    >>> pivot = Pivot(name="P1", x_m=0, y_m=0, spans_m=(50.0, 50.0), outlets_m=(20.0, 40.0, 60.0, 80.0))
    >>> spot = spot_on_pivot(pivot, Said(tower=1, drop=2), units=US)
    >>> spot.said, spot.outlet, spot.distance_m
    ('tower 1, drop +2', 4, 80.0)
    """
    _check_together(pivot, said)
    azimuth = said_azimuth_deg(pivot, said)
    if said.tower is not None:
        return _at_tower(pivot, said, tower=said.tower, azimuth_deg=azimuth)
    if said.span is not None:
        span = _numbered(pivot, "span", said.span, len(pivot.spans_m))
        middle = pivot.tower_radii_m[span - 1] - pivot.spans_m[span - 1] / 2
        return MachineSpot(
            pivot=pivot.name, said=f"span {span}", distance_m=middle, span=span, azimuth_deg=azimuth
        )
    if said.outlet is not None:
        outlet = _numbered(pivot, "outlet", said.outlet, len(_outlets(pivot)))
        distance = pivot.outlets_m[outlet - 1]
        return MachineSpot(
            pivot=pivot.name, said=f"outlet {outlet}", distance_m=distance, outlet=outlet, azimuth_deg=azimuth
        )
    distance = _distance(pivot, said, units=units) if said.distance_m is not None else _by_kind(pivot, kind)
    words = (
        f"{units.from_m(distance):.0f} {units.length} from the pivot point"
        if said.distance_m is not None
        else ("pipe end" if distance else "pivot point")
    )
    return MachineSpot(pivot=pivot.name, said=words, distance_m=distance, azimuth_deg=azimuth)


def distance_on_m(pivot: Pivot, spot: MachineSpot) -> float | None:
    """Return how far from the pivot point a spot lies on a machine as it is now.

    What was named (a tower, a drop, a span, an outlet) goes with the machine when its
    description is corrected; only when the machine no longer has it does the distance count
    that was worked out when the flag was set.

    Parameters
    ----------
    pivot : Pivot
        The machine.
    spot : MachineSpot
        The spot.

    Returns
    -------
    float or None
        Distance; None when neither name nor distance can be used. [m]
    """
    if spot.tower == len(pivot.spans_m) + 1 and pivot.corner_arm is not None:
        return pivot.length_m + pivot.corner_arm.length_m
    if spot.tower is not None and spot.tower <= len(pivot.spans_m):
        if not spot.drop:
            return pivot.tower_radii_m[spot.tower - 1]
        drops = _drops(pivot, spot.tower)
        if spot.drop in drops:
            return pivot.outlets_m[drops[spot.drop] - 1]
    elif spot.span is not None and spot.span <= len(pivot.spans_m):
        return pivot.tower_radii_m[spot.span - 1] - pivot.spans_m[spot.span - 1] / 2
    elif spot.outlet is not None and spot.outlet <= len(pivot.outlets_m):
        return pivot.outlets_m[spot.outlet - 1]
    return spot.distance_m


def _check_together(pivot: Pivot, said: Said) -> None:
    named = [name for name in ("tower", "span", "outlet", "distance_m") if getattr(said, name) is not None]
    if len(named) > 1:
        words = " and ".join(name.removesuffix("_m") for name in named)
        message = f'place on "{pivot.name}": found {words}; allowed: one of tower, span, outlet, distance'
        raise PlaceError(message)
    if said.tower is None and (said.drop is not None or said.wheel):
        message = f'place on "{pivot.name}": found a drop or wheel alone; allowed: together with a tower'
        raise PlaceError(message)
    if said.drop is not None and said.wheel:
        message = f'place on "{pivot.name}": found both a drop and a wheel; allowed: one of them'
        raise PlaceError(message)
    check_wheel(said.wheel)


def said_azimuth_deg(pivot: Pivot, said: Said) -> float | None:
    """Return the true azimuth at which a machine was said to stand.

    Parameters
    ----------
    pivot : Pivot
        The machine.
    said : Said
        What was said: an azimuth, or what the panel showed.

    Returns
    -------
    float or None
        The azimuth; None when neither was said. [deg]

    Raises
    ------
    PlaceError
        If both were said, one is no angle, or the panel shows none.
    """
    if said.azimuth_deg is not None and said.panel_deg is not None:
        message = f'place on "{pivot.name}": found both azimuth and panel degrees; allowed: one of them'
        raise PlaceError(message)
    for name, value in (("azimuth", said.azimuth_deg), ("panel", said.panel_deg)):
        if value is not None and not 0 <= value < 360:
            message = f"{name}: found {value:g}; allowed: 0 or more and below 360 degrees"
            raise PlaceError(message)
    if said.panel_deg is not None:
        if pivot.panel_zero_deg is None:
            message = (
                f'panel: found {said.panel_deg:g} on "{pivot.name}", whose panel shows no angle; '
                "allowed: an azimuth"
            )
            raise PlaceError(message)
        return (said.panel_deg + pivot.panel_zero_deg) % 360.0
    return said.azimuth_deg


def _at_tower(pivot: Pivot, said: Said, *, tower: int, azimuth_deg: float | None) -> MachineSpot:
    if tower == len(pivot.spans_m) + 1 and pivot.corner_arm is not None and said.drop is None:
        return _at_arm_wheels(pivot, pivot.corner_arm, said, tower=tower, azimuth_deg=azimuth_deg)
    _numbered(pivot, "tower", tower, len(pivot.spans_m))
    distance, outlet, words = pivot.tower_radii_m[tower - 1], None, f"tower {tower}"
    if said.drop is not None:
        outlet = _drop_outlet(pivot, tower, said.drop)
        distance = pivot.outlets_m[outlet - 1]
        words = f"tower {tower}, drop {said.drop:+d}"
    if said.wheel:
        words = f"tower {tower}, {said.wheel} wheel"
    return MachineSpot(
        pivot=pivot.name,
        said=words,
        distance_m=distance,
        tower=tower,
        drop=said.drop,
        wheel=said.wheel,
        outlet=outlet,
        azimuth_deg=azimuth_deg,
    )


def _at_arm_wheels(
    pivot: Pivot, arm: CornerArm, said: Said, *, tower: int, azimuth_deg: float | None
) -> MachineSpot:
    words = "steered wheels of the corner arm"
    return MachineSpot(
        pivot=pivot.name,
        said=f"{words}, {said.wheel} wheel" if said.wheel else words,
        distance_m=pivot.length_m + arm.length_m,
        tower=tower,
        wheel=said.wheel,
        azimuth_deg=azimuth_deg,
    )


def _numbered(pivot: Pivot, what: str, number: int, count: int) -> int:
    if 1 <= number <= count:
        return number
    arm = what == "tower" and pivot.corner_arm is not None
    wheels = f", {count + 1} for the steered wheels of its corner arm" if arm else ""
    message = (
        f'{what} of "{pivot.name}": found {number}; allowed: 1 to {count}, 1 nearest the pivot point{wheels}'
    )
    raise PlaceError(message)


def _outlets(pivot: Pivot) -> Sequence[float]:
    if pivot.outlets_m:
        return pivot.outlets_m
    message = (
        f'outlets of "{pivot.name}": not known; say a distance from the pivot point, '
        "or add outlets to the field's file"
    )
    raise PlaceError(message)


def _drops(pivot: Pivot, tower: int) -> dict[int, int]:
    """Return the outlets that hang on the two spans at a tower: drop number to outlet number."""
    outlets, radii = pivot.outlets_m, (0.0, *pivot.tower_radii_m)
    at = radii[tower]
    # Past the last tower the overhang carries outlets to the pipe end.
    outer = radii[tower + 1] if tower < len(pivot.spans_m) else pivot.length_m + _AT_TOWER_M
    before_from = bisect_left(outlets, radii[tower - 1])
    before_to = bisect_left(outlets, at - _AT_TOWER_M)
    past_from = bisect_right(outlets, at + _AT_TOWER_M)
    past_to = bisect_right(outlets, outer)
    past = {index - past_from + 1: index + 1 for index in range(past_from, past_to)}
    before = {index - before_to: index + 1 for index in range(before_from, before_to)}
    return {**before, **past}


def _drop_outlet(pivot: Pivot, tower: int, drop: int) -> int:
    _outlets(pivot)
    drops = _drops(pivot, tower)
    if drop in drops:
        return drops[drop]
    least, most = min(drops, default=0), max(drops, default=0)
    allowed = " or ".join(
        text for text in (f"{least} to -1" if least < 0 else "", f"+1 to +{most}" if most > 0 else "") if text
    )
    message = (
        f'drop at tower {tower} of "{pivot.name}": found {drop:+d}; allowed: {allowed or "none, no outlets"} '
        "(before the tower is -, past it is +)"
    )
    raise PlaceError(message)


def _distance(pivot: Pivot, said: Said, *, units: UnitSystem) -> float:
    distance = said.distance_m or 0.0
    end_m = pipe_end_m(pivot)
    # Half a unit of grace: people read 1,296 ft off a drawing whose spans add up to 1,295.8.
    if 0 <= distance <= end_m + units.length_m / 2:
        return min(distance, end_m)
    end = "pipe end" if pivot.corner_arm is None else "end of the corner arm, along the pipe"
    message = (
        f'distance on "{pivot.name}": found {units.from_m(distance):.0f} {units.length}; '
        f"allowed: 0 to {units.from_m(end_m):.0f} {units.length} (pivot point to {end})"
    )
    raise PlaceError(message)


def _by_kind(pivot: Pivot, kind: str) -> float:
    if kind in ("end-gun", "booster"):
        return pipe_end_m(pivot)
    if kind in ("collector-ring", "panel", "meter", "valve", "power-unit", "pump", "nest", "other-works"):
        return 0.0
    message = (
        f'place on "{pivot.name}": found no tower, span, outlet or distance; allowed: one of them '
        f"(towers 1 to {len(pivot.spans_m)})"
    )
    raise PlaceError(message)

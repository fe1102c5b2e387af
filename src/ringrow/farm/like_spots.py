"""Whether two flags can mark one fault: like kind, and places that can be held against each other."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from ringrow.coverage.joint_chance import (
    LEAST_P_VALUE,
    ground_odds,
    ground_p_value,
    joint_sigma_m,
    pipe_odds,
    pipe_p_value,
)
from ringrow.farm.flag_model import GroundSpot, MachineSpot, MoveSpot
from ringrow.farm.rebuilds import rebuilds_before

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import tzinfo

    from ringrow.coverage.field import FieldLayout, LateralMoveLayout, PivotLayout
    from ringrow.equipment.rebuild import Rebuild
    from ringrow.farm.flag_model import LocatedFlag

SAID_M = 1.0
"""One-axis spread taken for a place said by lateral and station [m]: our choice, about one pace."""
OUTLET_M = 3.048
"""Distance between outlets taken where a machine's are not known [m]: our assumption."""
QUARTER_M2 = 647_497.0
"""Ground taken for a flag outside every field: a quarter section. [m2]"""

# No pair is farther apart, in spreads, than the least p-value lets two fixes on the ground be; along a
# pipe, on one axis, it is less. A hair more, so that the p-value decides.
_REACH = 1.000001 * math.sqrt(-2.0 * math.log(LEAST_P_VALUE))

# Kinds that people use for one and the same fault; every other kind is like itself alone.
_LIKE: dict[str, str] = {
    **dict.fromkeys(("leak", "wet-spot"), "leak"),
    **dict.fromkeys(("rut", "washout"), "rut"),
    **dict.fromkeys(("sprinkler", "drop", "regulator"), "sprinkler"),
    **dict.fromkeys(("tire", "wheel"), "tire"),
    **dict.fromkeys(("gearbox", "driveline"), "gearbox"),
    **dict.fromkeys(("tower-box", "cover", "wiring"), "tower-box"),
}
_ON_OUTLETS = frozenset({"sprinkler", "drop", "regulator", "span-leak"})
_ONE_OF_A_KIND = frozenset({"collector-ring", "end-gun", "booster"})


@dataclass(frozen=True, slots=True, kw_only=True)
class LikeSpot:
    """Where a flag is, in the terms in which flags of its kind are compared.

    Parameters
    ----------
    on : {"ground", "pipe", "part", "well"}
        On the ground; along a machine's pipe; at a numbered part of a machine; at a well.
    like : str
        Name of the group of kinds it belongs to.
    of : str
        The field, machine or well; empty outside every field.
    x_m, y_m : float, default 0
        On the ground: place in the frame of the farm's first field. On a pipe: distance from the
        pivot point or the cart along it, and 0. [m]
    sigma_m : float, default 0
        One-axis spread of that. [m]
    size : float, default 1
        What another fault of the kind may lie on: ground, pipe, or number of parts. [m2, m or -]
    part : str, default ""
        Which part: tower, wheel, side of the cart.
    rebuilt : int, default 0
        How often that part of the machine had been rebuilt before the flag was set. [-]
    """

    on: Literal["ground", "pipe", "part", "well"]
    like: str
    of: str
    x_m: float = 0.0
    y_m: float = 0.0
    sigma_m: float = 0.0
    size: float = 1.0
    part: str = ""
    rebuilt: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Nearness:
    """How two flags of like kind lie to each other.

    Parameters
    ----------
    distance_m : float or None
        How far apart; None for numbered parts and wells. [m]
    p_value : float or None
        How often two positions of one fault lie at least so far apart; None likewise. [-]
    odds : float
        How much likelier one fault makes it than another fault anywhere. [-]
    """

    distance_m: float | None
    p_value: float | None
    odds: float


def like_kind(kind: str) -> str:
    """Return the group of kinds that people use for one and the same fault.

    Parameters
    ----------
    kind : str
        A flag kind.

    Returns
    -------
    str
        Name of the group; the kind itself when it is like no other.

    Examples
    --------
    >>> like_kind("wet-spot"), like_kind("burrow")
    ('leak', 'burrow')
    """
    return _LIKE.get(kind, kind)


def like_spots(
    flags: Sequence[LocatedFlag], layouts: Sequence[FieldLayout], *, zone: tzinfo
) -> list[LikeSpot | None]:
    """Return where flags are, ready to be compared.

    Parameters
    ----------
    flags : sequence of LocatedFlag
        Flags.
    layouts : sequence of FieldLayout
        The farm's fields, laid out.
    zone : tzinfo
        Zone of the days on which machines were rebuilt.

    Returns
    -------
    list of LikeSpot or None
        In the order of `flags`; None for one without a place.
    """
    pivots = {laid.name: laid for layout in layouts for laid in layout.pivots}
    moves = {laid.name: laid for layout in layouts for laid in layout.lateral_moves}
    machines = {laid.pivot.machine: laid for laid in pivots.values() if laid.pivot.machine}
    found: list[LikeSpot | None] = []
    for flag in flags:
        if flag.well is not None:
            found.append(LikeSpot(on="well", like=flag.kind.name, of=flag.well))
        elif flag.kind.on == "ground" or (flag.pivot is None and flag.move is None):
            found.append(_on_ground(flag, layouts))
        elif flag.move is not None:
            found.append(_on_move(flag, moves[flag.move.name], zone))
        else:
            name = flag.pivot.name if flag.pivot is not None else ""
            laid = pivots.get(name) or machines.get(name)
            found.append(None if laid is None else _on_pivot(flag, laid, zone))
    return found


def nearness(one: LikeSpot, other: LikeSpot) -> Nearness | None:
    """Return how two flags lie to each other; None when they cannot be one fault.

    Parameters
    ----------
    one, other : LikeSpot
        Where they are.

    Returns
    -------
    Nearness or None
        None for kinds that are not like, different machines, parts or wells, hardware on both
        sides of a rebuild, or places farther apart than their joint accuracy.
    """
    if (one.on, one.like, one.rebuilt) != (other.on, other.like, other.rebuilt):
        return None
    if one.on != "ground" and one.of != other.of:
        return None
    if one.on in ("part", "well"):
        alike = one.part == other.part or "" in (one.part, other.part) or _one_wheel(one.part, other.part)
        return Nearness(distance_m=None, p_value=None, odds=one.size) if alike else None
    if one.part != other.part:
        return None
    away = math.hypot(one.x_m - other.x_m, one.y_m - other.y_m)
    sigma = joint_sigma_m(one.sigma_m, other.sigma_m)
    ground = one.on == "ground"
    p_value = ground_p_value(away, sigma) if ground else pipe_p_value(away, sigma)
    if p_value < LEAST_P_VALUE:
        return None
    odds = ground_odds(away, sigma, area_m2=one.size) if ground else pipe_odds(away, sigma, length_m=one.size)
    return Nearness(distance_m=away, p_value=p_value, odds=odds)


def near_pairs(spots: Sequence[LikeSpot]) -> dict[tuple[int, int], Nearness]:
    """Return which of some flags can be one fault.

    Parameters
    ----------
    spots : sequence of LikeSpot
        Where flags of like kind are, in the order they were set.

    Returns
    -------
    dict of tuple of int to Nearness
        Pairs by their places in `spots`, the earlier one first; pairs that `nearness` rules out are
        left out.
    """
    x, y, sigma = np.array([(spot.x_m, spot.y_m, spot.sigma_m) for spot in spots], float).reshape(-1, 3).T
    found: dict[tuple[int, int], Nearness] = {}
    for later, spot in enumerate(spots):
        away = np.hypot(x[:later] - spot.x_m, y[:later] - spot.y_m)
        # Numbered parts and wells have no coordinates and no spread: all of them pass.
        reached = away <= _REACH * np.hypot(sigma[:later], spot.sigma_m)
        for before in np.flatnonzero(reached).tolist():
            how = nearness(spots[before], spot)
            if how is not None:
                found[before, later] = how
    return found


def _one_wheel(one: str, other: str) -> bool:
    """Return whether a tower and one of its wheels were named: they may be one place."""
    return one.startswith(f"{other}, ") or other.startswith(f"{one}, ")


def _on_ground(flag: LocatedFlag, layouts: Sequence[FieldLayout]) -> LikeSpot | None:
    lon = flag.lon if flag.set_lon is None else flag.set_lon
    lat = flag.lat if flag.set_lat is None else flag.set_lat
    if lon is None or lat is None or not layouts:
        return None
    # Far from its origin a frame stretches by millionths: nothing over the few metres compared here.
    x, y = layouts[0].field.frame.to_xy(lon, lat)
    spot = flag.state.spot
    own = next((layout for layout in layouts if layout.field.name == flag.field), None)
    return LikeSpot(
        on="ground",
        like=like_kind(flag.kind.name),
        of=flag.field or "",
        x_m=float(x),
        y_m=float(y),
        sigma_m=spot.accuracy.sigma_m if isinstance(spot, GroundSpot) else SAID_M,
        size=QUARTER_M2 if own is None else float(own.farmable.area),
    )


def _on_pivot(flag: LocatedFlag, laid: PivotLayout, zone: tzinfo) -> LikeSpot | None:
    pivot, place, spot = laid.pivot, flag.pivot, flag.state.spot
    if place is None:
        return None
    name = pivot.machine or pivot.name
    if flag.kind.name in _ON_OUTLETS:
        gap = OUTLET_M if len(pivot.outlets_m) < 2 else pivot.outlets_m[1] - pivot.outlets_m[0]
        towers = [0.0, *pivot.tower_radii_m]
        return LikeSpot(
            on="pipe",
            like=like_kind(flag.kind.name),
            of=name,
            x_m=place.pipe_m,
            sigma_m=_along_m(spot, gap_m=gap, span_m=towers[-1] / len(pivot.spans_m)),
            size=pivot.length_m,
            rebuilt=_rebuilt(pivot.rebuilt, flag, zone),
        )
    centre = place.pipe_m < pivot.tower_radii_m[0] / 2
    part = "pivot point" if centre else f"tower {place.tower}"
    wheel = spot.wheel if isinstance(spot, MachineSpot) and spot.wheel else ""
    return _part(flag, name, f"{part}, {wheel}" if wheel else part, len(pivot.spans_m), pivot.rebuilt, zone)


def _on_move(flag: LocatedFlag, laid: LateralMoveLayout, zone: tzinfo) -> LikeSpot | None:
    place, move = flag.move, laid.move
    if place is None:
        return None
    wing = move.wing(place.side)
    if flag.kind.name in _ON_OUTLETS and wing.spans_m:
        return LikeSpot(
            on="pipe",
            like=like_kind(flag.kind.name),
            of=move.name,
            x_m=place.offset_m,
            sigma_m=_along_m(flag.state.spot, gap_m=OUTLET_M, span_m=wing.length_m / len(wing.spans_m)),
            size=wing.length_m,
            part=place.side,
            rebuilt=_rebuilt(move.rebuilt, flag, zone),
        )
    towers = len(move.left.spans_m) + len(move.right.spans_m)
    return _part(flag, move.name, f"{place.side} tower {place.tower}", towers, move.rebuilt, zone)


def _part(
    flag: LocatedFlag, of: str, part: str, towers: int, rebuilt: Sequence[Rebuild], zone: tzinfo
) -> LikeSpot:
    single = flag.kind.name in _ONE_OF_A_KIND
    return LikeSpot(
        on="part",
        like=like_kind(flag.kind.name),
        of=of,
        part="" if single else part,
        size=1.0 if single else float(towers),
        rebuilt=_rebuilt(rebuilt, flag, zone),
    )


def _along_m(spot: object, *, gap_m: float, span_m: float) -> float:
    """Return the spread along the pipe of a place as it was said: even over what was named."""
    if isinstance(spot, GroundSpot):
        return spot.accuracy.sigma_m
    vague = isinstance(spot, MachineSpot | MoveSpot) and spot.span is not None
    if isinstance(spot, MachineSpot) and spot.tower is not None and not spot.drop:
        vague = True
    return (span_m if vague else gap_m) / math.sqrt(12.0)


def _rebuilt(rebuilt: Sequence[Rebuild], flag: LocatedFlag, zone: tzinfo) -> int:
    return rebuilds_before(rebuilt, flag.state.set_at, kind=flag.kind.name, zone=zone)

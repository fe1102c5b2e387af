"""What follows from where flags are: ground touched, wheels that meet them, places that cannot be."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import shapely

from ringrow.coverage.footprint import footprint, move_footprint, stopped_ground, stops
from ringrow.coverage.machine_checks import BearingFix, bearing_doubts, sector_doubt
from ringrow.coverage.wheel_tracks import WHEEL_KINDS, move_meetings, pivot_meetings
from ringrow.farm.flag_model import GroundSpot

if TYPE_CHECKING:
    from collections.abc import Hashable, Iterable, Sequence

    from shapely.geometry.base import BaseGeometry

    from ringrow.coverage.field import FieldLayout, LateralMoveLayout, PivotLayout
    from ringrow.coverage.footprint import Footprint
    from ringrow.coverage.machine_checks import Doubt
    from ringrow.coverage.wheel_tracks import TrackMeeting
    from ringrow.farm.flag_model import LocatedFlag
    from ringrow.farm.model import Farm

_SOLAR_DEG_PER_H = 15.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Ground:
    """Systems of the farm by name with the fields they stand in, and footprints found so far."""

    farm: Farm
    layouts: Sequence[FieldLayout]
    pivots: dict[str, tuple[FieldLayout, PivotLayout]]
    moves: dict[str, tuple[FieldLayout, LateralMoveLayout]]
    found: dict[Hashable, Footprint | None] = field(default_factory=dict)


def checked_flags(
    farm: Farm, layouts: Sequence[FieldLayout], flags: Sequence[LocatedFlag]
) -> list[LocatedFlag]:
    """Return flags with the ground they touch, the wheels that meet them, and doubts about them.

    Parameters
    ----------
    farm : Farm
        The farm.
    layouts : sequence of FieldLayout
        Its fields with wetted ground, in their order.
    flags : sequence of LocatedFlag
        Flags with their places.

    Returns
    -------
    list of LocatedFlag
        The same, in their order.
    """
    ground = _Ground(
        farm=farm,
        layouts=layouts,
        pivots={laid.name: (layout, laid) for layout in layouts for laid in layout.pivots},
        moves={laid.name: (layout, laid) for layout in layouts for laid in layout.lateral_moves},
    )
    doubts = _doubts(ground, flags)
    checked = []
    for flag, doubt in zip(flags, doubts, strict=True):
        met = replace(flag, doubt=doubt, meets=_meets(ground, flag))
        checked.append(replace(met, footprint=_touched(ground, met)))
    return checked


def standing_grounds(
    layouts: Sequence[FieldLayout], names: Iterable[str]
) -> list[tuple[BaseGeometry, BaseGeometry]]:
    """Return what systems wet when they run, for each field with any of them.

    Parameters
    ----------
    layouts : sequence of FieldLayout
        The farm's fields.
    names : iterable of str
        Names of systems. A towed machine wets the point where it stands or, when that is not
        known, counts at all its points.

    Returns
    -------
    list of tuple
        Farmable ground and the union of what they wet, one pair a field. [m]
    """
    wanted = set(names)
    grounds = []
    for layout in layouts:
        shapes = [laid.wetted for laid in layout.systems if laid.name in wanted]
        for machine in {laid.pivot.machine for laid in layout.pivots} & wanted - {""}:
            points = [laid for laid in layout.pivots if laid.pivot.machine == machine]
            standing = [laid for laid in points if laid.pivot.parked_deg is not None]
            shapes += [laid.wetted for laid in (standing if len(standing) == 1 else points)]
        if shapes:
            grounds.append((layout.farmable, shapely.union_all(shapes)))
    return grounds


def _touched(ground: _Ground, flag: LocatedFlag) -> Footprint | None:
    """Return a flag's footprint; flags on the same part of a machine share one."""
    key, stopped = _key(flag), stops(flag.kind, flag.flag_class)
    if key not in ground.found:
        ground.found[key] = _stopped(ground, flag) if stopped else _partly(ground, flag)
    return ground.found[key]


def _key(flag: LocatedFlag) -> Hashable:
    stopped = stops(flag.kind, flag.flag_class)
    if flag.well is not None:
        return ("well", flag.well, stopped)
    if flag.kind.on == "ground":
        return ("ground", stopped, *(meeting.system for meeting in flag.meets if meeting.sure))
    place = flag.pivot or flag.move
    name = None if place is None else place.name
    if stopped or place is None:
        return ("machine", name, stopped)
    if flag.pivot is not None:
        along = (flag.pivot.part, flag.pivot.span, flag.pivot.outlet or round(flag.pivot.pipe_m, 3))
        return ("pivot", name, flag.kind.name, flag.flag_class, *along)
    return ("move", name, flag.kind.name, flag.flag_class, flag.move and (flag.move.side, flag.move.offset_m))


def _stopped(ground: _Ground, flag: LocatedFlag) -> Footprint | None:
    if flag.well is not None:
        wells = [well for well in ground.farm.wells if well.name == flag.well]
        names = [name for well in wells for name in well.serves]
    elif flag.kind.on == "ground":
        # What stops a machine from the ground is what its wheels run into.
        names = [meeting.system for meeting in flag.meets if meeting.sure]
    else:
        place = flag.pivot or flag.move
        names = [] if place is None else [place.name]
    grounds = standing_grounds(ground.layouts, names)
    return stopped_ground(grounds) if grounds else None


def _partly(ground: _Ground, flag: LocatedFlag) -> Footprint | None:
    if flag.well is not None or flag.kind.on == "ground":
        return None
    if flag.pivot is not None:
        layout, laid = _pivot_of(ground, flag.pivot.name)
        if layout is None or laid is None:
            return None
        return footprint(laid, flag.pivot, flag.kind, flag_class=flag.flag_class, farmable=layout.farmable)
    if flag.move is not None:
        field_of, move = ground.moves[flag.move.name]
        return move_footprint(
            move, flag.move, flag.kind, flag_class=flag.flag_class, farmable=field_of.farmable
        )
    return None


def _pivot_of(ground: _Ground, name: str) -> tuple[FieldLayout | None, PivotLayout | None]:
    """Return a pivot; a towed machine of unknown whereabouts is on none of its points."""
    return ground.pivots.get(name, (None, None))


def _meets(ground: _Ground, flag: LocatedFlag) -> tuple[TrackMeeting, ...]:
    if flag.kind.on != "ground" or flag.kind.name not in WHEEL_KINDS or flag.place is None:
        return ()
    sigma_m = flag.state.spot.accuracy.sigma_m if isinstance(flag.state.spot, GroundSpot) else 0.0
    met: list[TrackMeeting] = []
    for pivot in flag.place.pivots:
        layout, laid = ground.pivots[pivot.name]
        x, y = layout.field.frame.to_xy(flag.lon or 0.0, flag.lat or 0.0)
        met += pivot_meetings(laid, pivot, flag.kind, x_m=float(x), y_m=float(y), sigma_m=sigma_m)
    for move in flag.place.lateral_moves:
        met += move_meetings(move, flag.kind, sigma_m=sigma_m)
    return tuple(sorted(met, key=lambda meeting: meeting.offset_m))


def _doubts(ground: _Ground, flags: Sequence[LocatedFlag]) -> list[Doubt | None]:
    found: list[Doubt | None] = [None] * len(flags)
    by_pivot: dict[str, list[tuple[int, BearingFix]]] = {}
    for index, flag in enumerate(flags):
        fix = _bearing(flag)
        if fix is None or flag.pivot is None:
            continue
        if not flag.pivot.inside:
            found[index] = sector_doubt(ground.pivots[flag.pivot.name][1].pivot, fix)
        elif flag.pivot.bend is None and flag.pivot.arm is None:
            # Under a bend or an arm the main pipe stands on another bearing than the place.
            by_pivot.setdefault(flag.pivot.name, []).append((index, fix))
    for name, fixes in by_pivot.items():
        doubts = bearing_doubts(ground.pivots[name][1].pivot, [fix for _, fix in fixes])
        for (index, _), doubt in zip(fixes, doubts, strict=True):
            found[index] = doubt
    return found


def _bearing(flag: LocatedFlag) -> BearingFix | None:
    """Return where a flag set by position found its machine; None for all others."""
    spot, place = flag.state.spot, flag.pivot
    if flag.kind.on != "machine" or not isinstance(spot, GroundSpot) or place is None:
        return None
    if place.azimuth_deg is None or flag.state.status == "not-a-fault":
        return None
    # Days by the sun: a round that ends after midnight by the clock of Greenwich is still one.
    hours = flag.state.set_at.timestamp() / 3600.0 + spot.lon / _SOLAR_DEG_PER_H
    return BearingFix(
        number=flag.state.number,
        azimuth_deg=place.azimuth_deg,
        distance_m=place.distance_m,
        sigma_m=spot.accuracy.sigma_m,
        day=math.floor(hours / 24.0) if spot.timed else None,
        hours=hours if spot.timed else None,
    )

"""What a chosen flag touches, for the page's script: rings and strips, or all that machines water."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from ringrow.handoff.fault_words import flag_notes
from ringrow.handoff.feature_group import to_lonlat
from ringrow.handoff.languages import _
from ringrow.handoff.map.words import SET_WORDS
from ringrow.handoff.number_words import azimuth_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from shapely.geometry.base import BaseGeometry

    from ringrow.coverage.field import FieldLayout
    from ringrow.farm.flag_model import LocatedFlag
    from ringrow.farm.model import Farm
    from ringrow.units import UnitSystem


def note_lines(flag: LocatedFlag, layouts: Sequence[FieldLayout], units: UnitSystem) -> list[str]:
    """Return what follows from where a flag is, as sentences of its bubble and its row.

    Parameters
    ----------
    flag : LocatedFlag
        The flag.
    layouts : sequence of FieldLayout
        The farm's fields.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    list of str
        Ground touched, wheels that meet it, doubts, and the azimuth it was set at when it is
        shown where its machine stands now; each begins with a capital.
    """
    lines = [note[:1].upper() + note[1:] for note in flag_notes(flag, units)]
    azimuth = set_azimuth_deg(flag, layouts)
    return lines if azimuth is None else [*lines, _(SET_WORDS).format(azimuth=azimuth_words(azimuth))]


def set_azimuth_deg(flag: LocatedFlag, layouts: Sequence[FieldLayout]) -> float | None:
    """Return the azimuth at which a moved flag was set.

    Parameters
    ----------
    flag : LocatedFlag
        The flag.
    layouts : sequence of FieldLayout
        The farm's fields.

    Returns
    -------
    float or None
        True azimuth seen from the pivot point; None for a flag that was not moved, or set at the
        pivot point. [deg]
    """
    if flag.set_lon is None or flag.set_lat is None or flag.pivot is None:
        return None
    for layout in layouts:
        for pivot in layout.field.pivots:
            if pivot.name == flag.pivot.name:
                x, y = layout.field.frame.to_xy(flag.set_lon, flag.set_lat)
                east, north = float(x) - pivot.x_m, float(y) - pivot.y_m
                if math.hypot(east, north) < 0.03:
                    return None
                return (math.degrees(math.atan2(east, north)) - pivot.convergence_deg) % 360.0
    return None


def touched_ground(flag: LocatedFlag, layouts: Sequence[FieldLayout]) -> BaseGeometry | None:
    """Return the ring, arc or strip of ground that a flag on a machine touches.

    Parameters
    ----------
    flag : LocatedFlag
        The flag.
    layouts : sequence of FieldLayout
        The farm's fields.

    Returns
    -------
    shapely geometry or None
        Longitude and latitude; None for a flag without any, and for one that stops machines. [deg]
    """
    place, touched = flag.pivot or flag.move, flag.footprint
    if place is None or touched is None or touched.effect == "stopped" or touched.shape.is_empty:
        return None
    for layout in layouts:
        if place.name in {system.name for system in layout.systems}:
            shape: BaseGeometry = to_lonlat(layout.field.frame, [touched.shape])[0]
            return shape
    return None


def stopped_systems(flag: LocatedFlag, farm: Farm, layouts: Sequence[FieldLayout]) -> list[str]:
    """Return the systems that stand still because of a flag.

    Parameters
    ----------
    flag : LocatedFlag
        The flag.
    farm : Farm
        The farm, whose wells say what they water.
    layouts : sequence of FieldLayout
        Its fields.

    Returns
    -------
    list of str
        Names of pivots (a towed machine's points), lateral moves and drip blocks.
    """
    if flag.footprint is None or flag.footprint.effect != "stopped":
        return []
    place = flag.pivot or flag.move
    if flag.well is not None:
        names = {name for well in farm.wells if well.name == flag.well for name in well.serves}
    elif flag.kind.on == "ground":
        names = {meeting.system for meeting in flag.meets if meeting.sure}
    else:
        names = set() if place is None else {place.name}
    towed = {pivot.name: pivot.machine for layout in layouts for pivot in layout.field.pivots}
    systems = [system.name for layout in layouts for system in layout.systems]
    standing = {
        pivot.machine: pivot.name
        for layout in layouts
        for pivot in layout.field.pivots
        if pivot.machine and pivot.parked_deg is not None
    }
    return [
        name
        for name in systems
        if name in names or (towed.get(name) in names and standing.get(towed[name], name) == name)
    ]


def touched_record(
    flags: Sequence[LocatedFlag], farm: Farm, layouts: Sequence[FieldLayout]
) -> list[dict[str, Any] | None]:
    """Return what each flag touches: effect, systems that stand still, a shape.

    Parameters
    ----------
    flags : sequence of LocatedFlag
        The flags.
    farm : Farm
        The farm.
    layouts : sequence of FieldLayout
        Its fields.

    Returns
    -------
    list of dict or None
        ``effect``, ``systems`` and ``shape`` (shapely geometry or None), one a flag; None for a
        flag that touches no ground by itself.
    """
    return [
        None
        if flag.footprint is None
        else {
            "effect": flag.footprint.effect,
            "systems": stopped_systems(flag, farm, layouts),
            "shape": touched_ground(flag, layouts),
        }
        for flag in flags
    ]

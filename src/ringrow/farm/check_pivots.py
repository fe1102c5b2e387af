"""Pivots that are legal but look wrong: points off the field, odd panel readings, idle guns."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import shapely

from ringrow.farm.faults import number_words, shown
from ringrow.frame import distance_azimuth
from ringrow.units import FOOT_M

if TYPE_CHECKING:
    from collections.abc import Sequence

    from shapely.geometry.base import BaseGeometry

    from ringrow.equipment.pivot import EndGun, Pivot, Sector
    from ringrow.farm.rules import Desk
    from ringrow.farm.schema_base import At
    from ringrow.farm.schema_machines import PivotTable, ReadingTable
    from ringrow.frame import Frame

FAR_M = 10_000.0
"""A pivot point farther than this from its field's boundary [m] is a slip."""
ON_THE_LINE_M = 1.0
"""A pivot point this little outside the boundary [m] stands on it: no boundary is drawn finer."""
READING_SHARE, READING_M = 0.05, 60 * FOOT_M
"""A panel reading whose last tower is off its radius by more than this share, or this far [m], is odd."""
PARKED_DEG = 2.0
"""Degrees past a stop at which a machine may stand: stops are not set finer (our choice)."""


def check_pivot_place(at: At, boundary: BaseGeometry, *, frame: Frame, key: str, desk: Desk) -> None:
    """Note a pivot point more than a metre outside the boundary: a warning, more than 10 km away a fault.

    Parameters
    ----------
    at : At
        The point as written.
    boundary : shapely geometry
        The field's boundary. [m]
    frame : Frame
        The field's frame.
    key : str
        Key path of the point.
    desk : Desk
        Where faults go.
    """
    lat, lon = at.lat, at.lon
    place = f"latitude {shown(lat)}, longitude {shown(lon)}"
    away_m = _away_m(lon, lat, boundary, frame)
    if away_m > FAR_M:
        far = f"{away_m / 1000:.0f} km from the boundary" if math.isfinite(away_m) else "across the globe"
        hint = _place_hint(lon, lat, boundary, frame)
        desk.fault(key, f"{place}, {far}", "a point in the field, at most 10 km from it", hint)
    elif away_m > ON_THE_LINE_M:
        units = desk.units[0]
        found = f"{place}, {number_words(round(units.from_m(away_m)))} {units.length} outside the boundary"
        desk.warning(key, found, "a point inside, as a rule", "look at point and boundary on a map")


def _away_m(lon: float, lat: float, boundary: BaseGeometry, frame: Frame) -> float:
    x, y = (float(value) for value in frame.to_xy(lon, lat))
    if not (math.isfinite(x) and math.isfinite(y)):
        return math.inf
    return float(boundary.distance(shapely.Point(x, y)))


def _place_hint(lon: float, lat: float, boundary: BaseGeometry, frame: Frame) -> str:
    """Return the slip that explains a point far away: a lost sign, or both numbers swapped."""
    slips = {
        f"is a minus sign wrong? lon = {shown(-lon)} lies at the field": (-lon, lat),
        f"is a minus sign wrong? lat = {shown(-lat)} lies at the field": (lon, -lat),
        "are both signs wrong?": (-lon, -lat),
        "latitude and longitude look swapped": (lat, lon),
    }
    for hint, (other_lon, other_lat) in slips.items():
        if abs(other_lat) <= 89 and _away_m(other_lon, other_lat, boundary, frame) <= FAR_M:
            return hint
    return "west longitudes and south latitudes are negative"


def check_reading(at: At, reading: ReadingTable, pivot: Pivot, *, key: str, desk: Desk) -> None:
    """Note a panel reading whose last tower does not stand where the machine's can.

    Parameters
    ----------
    at : At
        The pivot point as written.
    reading : ReadingTable
        The reading.
    pivot : Pivot
        The machine.
    key : str
        Key path of the reading.
    desk : Desk
        Where faults and warnings go.
    """
    away_m, _ = distance_azimuth(at.lon, at.lat, reading.last_tower.lon, reading.last_tower.lat)
    radius_m = pivot.tower_radii_m[-1]
    units = desk.units[0]
    away, radius = (number_words(round(units.from_m(x))) for x in (away_m, radius_m))
    where = f"{key}.last_tower"
    if away_m < 1.0:
        desk.fault(where, "the pivot point itself", f"the last tower, {radius} {units.length} away")
    elif abs(away_m - radius_m) > min(READING_SHARE * radius_m, READING_M):
        found = f"a place {away} {units.length} from the pivot point"
        hint = "stand at the last tower when the panel is read, or look at the spans"
        desk.warning(where, found, f"about {radius} {units.length}, where the last tower is", hint)


def check_pivot_sense(pivot: Pivot, table: PivotTable, *, key: str, desk: Desk) -> None:
    """Note what is legal in a pivot but looks wrong: a weak gun, arcs or a place outside the sector.

    Parameters
    ----------
    pivot : Pivot
        The machine, at one of its points if it is towed.
    table : PivotTable
        The machine as written.
    key : str
        Key path of the pivot.
    desk : Desk
        Where warnings go.
    """
    arm = pivot.corner_arm
    if pivot.end_gun is not None:
        _check_gun(pivot.end_gun, pivot.throw_m, pivot.sector, f"{key}.end_gun", desk)
    if arm is not None and arm.end_gun is not None:
        _check_gun(arm.end_gun, arm.throw_m, pivot.sector, f"{key}.corner_arm.end_gun", desk)
    if arm is not None and table.throw:
        hint = "leave it out; the throw of the arm is corner_arm.throw"
        found = f"throw {number_words(table.throw)} beside a corner arm"
        desk.warning(f"{key}.throw", found, "no throw of the main pipe: it is not used", hint)


def check_parked(pivot: Pivot, *, key: str, desk: Desk) -> None:
    """Note a machine that stands outside its sector.

    Parameters
    ----------
    pivot : Pivot
        The machine, at one of its points if it is towed.
    key : str
        Key path of what says where it stands.
    desk : Desk
        Where warnings go.
    """
    sector, parked = pivot.sector, pivot.parked_deg
    if sector is None or parked is None:
        return
    if (parked - sector.start_deg) % 360 > sector.sweep_deg + PARKED_DEG and (
        (sector.start_deg - parked) % 360 > PARKED_DEG
    ):
        found = f"true azimuth {number_words(round(parked, 1))}, outside its sector"
        allowed = f"{number_words(sector.start_deg)} to {number_words(sector.stop_deg)}, clockwise"
        desk.warning(key, found, allowed, "is it a panel angle? then write parked_panel")


def _check_gun(gun: EndGun, throw_m: float, sector: Sector | None, key: str, desk: Desk) -> None:
    if gun.reach_m <= throw_m:
        units = desk.units[0]
        reach, throw = (number_words(units.from_m(x)) for x in (gun.reach_m, throw_m))
        found = f"reach {reach} {units.length}, no more than throw {throw} {units.length}"
        desk.warning(key, found, "a reach past the throw", "the gun adds no ground as it is")
    if sector is not None and not isinstance(gun.arcs, str):
        _check_arcs_in_sector(gun.arcs, sector, key, desk)


def _check_arcs_in_sector(arcs: Sequence[Sector], sector: Sector, key: str, desk: Desk) -> None:
    for position, arc in enumerate(arcs, 1):
        start = (arc.start_deg - sector.start_deg) % 360
        if start + arc.sweep_deg > sector.sweep_deg + 1e-9:
            found = f"{number_words(arc.start_deg)} to {number_words(arc.stop_deg)}"
            allowed = (
                f"arcs inside the sector {number_words(sector.start_deg)} to {number_words(sector.stop_deg)}"
            )
            hint = "the part outside does not count"
            desk.warning(f"{key}.arcs[{position}]", found, allowed, hint)

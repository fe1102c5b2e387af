"""Pivots from their tables: farm units to metres, defaults filled in and named as assumed."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import shapely

from ringrow.equipment.pivot import EndGun, Pivot, Sector
from ringrow.farm.faults import number_words, shown
from ringrow.farm.schema import OutletTable

if TYPE_CHECKING:
    from collections.abc import Sequence

    from shapely.geometry.base import BaseGeometry

    from ringrow.equipment.pivot import ArcsSetting
    from ringrow.farm.rules import Desk
    from ringrow.farm.schema import DefaultsTable, EndGunTable, PivotTable, SectorTable
    from ringrow.frame import Frame
    from ringrow.units import UnitSystem

FAR_M = 10_000.0
"""A pivot point farther than this from its field's boundary [m] is a slip."""
GUN_SHARE = 0.75
"""Share of a gun's wetted radius that counts as watered (common practice, no source)."""


def build_pivot(
    table: PivotTable,
    *,
    name: str,
    frame: Frame,
    units: UnitSystem,
    defaults: DefaultsTable,
    setback: float | None,
    min_arc: float | None,
) -> Pivot:
    """Return a pivot in its field's frame.

    Parameters
    ----------
    table : PivotTable
        The pivot as written.
    name : str
        Its name, default filled in.
    frame : Frame
        The field's frame.
    units : UnitSystem
        The farm's units.
    defaults : DefaultsTable
        The farm's own defaults.
    setback : float or None
        The field's setback as written, None when it states none. [ft or m]
    min_arc : float or None
        The field's shortest gun arc as written, None when it states none. [deg]

    Returns
    -------
    Pivot
        The machine; `assumed` names what was not stated.
    """
    x_m, y_m = (float(value) for value in frame.to_xy(table.point.lon, table.point.lat))
    assumed: list[str] = []
    spans_m = _spans_m(table, units, assumed)
    overhang = _or_assumed(table.overhang, "overhang", None, units, assumed)
    throw = _or_assumed(table.throw, "throw", defaults.throw, units, assumed)
    if table.panel_zero is None:
        assumed.append("panel zero taken as 0 deg")
    gun = _end_gun(table.end_gun, units, assumed) if table.end_gun else None
    if gun is not None and gun.arcs == "auto":
        _or_assumed(setback, "setback", defaults.setback, units, assumed)
        if min_arc is None:
            least = 5.0 if defaults.min_arc is None else defaults.min_arc
            assumed.append(f"gun arcs under {number_words(least)} deg left out")
    length_m = sum(spans_m) + overhang * units.length_m
    return Pivot(
        name=name,
        x_m=x_m,
        y_m=y_m,
        convergence_deg=frame.convergence_deg(x_m, y_m),
        spans_m=spans_m,
        overhang_m=overhang * units.length_m,
        throw_m=throw * units.length_m,
        sector=_sector(table.sector) if table.sector else None,
        panel_zero_deg=table.panel_zero or 0.0,
        end_gun=gun,
        outlets_m=_outlets_m(table.outlets, length_m, units.length_m),
        flow_lps=None if table.flow is None else table.flow * units.flow_lps,
        pressure_kpa=None if table.pressure is None else table.pressure * units.pressure_kpa,
        notes=table.notes,
        assumed=tuple(assumed),
    )


def _or_assumed(
    stated: float | None, name: str, default: float | None, units: UnitSystem, assumed: list[str]
) -> float:
    """Return what is stated, else the farm's default, else 0; what is not stated is named."""
    if stated is not None:
        return stated
    value = default or 0.0
    source = "" if default is None else ", from [defaults]"
    assumed.append(f"{name} taken as {number_words(value)} {units.length}{source}")
    return value


def _spans_m(table: PivotTable, units: UnitSystem, assumed: list[str]) -> tuple[float, ...]:
    if table.spans is not None:
        return tuple(span * units.length_m for span in table.spans)
    towers, last = table.towers or 1, table.last_tower or 0.0
    span = last / towers
    each = f"{towers} spans taken as {number_words(span)} {units.length} each"
    assumed.append(f"{each}: last tower at {number_words(last)} {units.length}, split evenly")
    return (span * units.length_m,) * towers


def _sector(table: SectorTable) -> Sector:
    return Sector(start_deg=table.start, stop_deg=table.stop)


def _end_gun(table: EndGunTable, units: UnitSystem, assumed: list[str]) -> EndGun:
    wetted_m = None if table.wetted_radius is None else table.wetted_radius * units.length_m
    if table.reach is not None:
        reach_m = table.reach * units.length_m
    else:
        reach_m = GUN_SHARE * (wetted_m or 0.0)
        share = f"{number_words(100 * GUN_SHARE)} % of its wetted radius"
        assumed.append(
            f"end gun reach taken as {share}: {number_words(units.from_m(reach_m))} {units.length}"
        )
    arcs: ArcsSetting | tuple[Sector, ...]
    arcs = tuple(_sector(arc) for arc in table.arcs) if isinstance(table.arcs, list) else table.arcs
    if "arcs" not in table.model_fields_set:
        assumed.append('end gun arcs taken as "auto"')
    return EndGun(reach_m=reach_m, arcs=arcs, wetted_radius_m=wetted_m)


def _outlets_m(
    outlets: OutletTable | list[float] | None, length_m: float, length_unit_m: float
) -> tuple[float, ...]:
    if outlets is None:
        return ()
    if not isinstance(outlets, OutletTable):
        return tuple(distance * length_unit_m for distance in outlets)
    first_m, spacing_m = outlets.first * length_unit_m, outlets.spacing * length_unit_m
    # An outlet at the very end of the pipe must not be lost to rounding.
    count = math.floor((length_m - first_m) / spacing_m + 1e-9) + 1
    return tuple((first_m + spacing_m * np.arange(max(count, 0))).tolist())


def check_pivot_place(
    table: PivotTable, boundary: BaseGeometry, *, frame: Frame, key: str, desk: Desk
) -> None:
    """Note a pivot point outside the boundary: a warning, more than 10 km away a fault.

    Parameters
    ----------
    table : PivotTable
        The machine as written.
    boundary : shapely geometry
        The field's boundary. [m]
    frame : Frame
        The field's frame.
    key : str
        Key path of the pivot.
    desk : Desk
        Where faults go.
    """
    lat, lon = table.point.lat, table.point.lon
    at = f"latitude {shown(lat)}, longitude {shown(lon)}"
    away_m = _away_m(lon, lat, boundary, frame)
    if away_m > FAR_M:
        far = f"{away_m / 1000:.0f} km from the boundary" if math.isfinite(away_m) else "across the globe"
        hint = _place_hint(lon, lat, boundary, frame)
        desk.fault(f"{key}.point", f"{at}, {far}", "a point in the field, at most 10 km from it", hint)
    elif away_m > 0:
        units = desk.units[0]
        found = f"{at}, {number_words(round(units.from_m(away_m)))} {units.length} outside the boundary"
        desk.warning(
            f"{key}.point", found, "a point inside, as a rule", "look at point and boundary on a map"
        )


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


def check_pivot_sense(pivot: Pivot, *, key: str, desk: Desk) -> None:
    """Note what is legal in a pivot but looks wrong: a weak gun, gun arcs outside the sector.

    Parameters
    ----------
    pivot : Pivot
        The machine.
    key : str
        Key path of the pivot.
    desk : Desk
        Where warnings go.
    """
    gun = pivot.end_gun
    if gun is None:
        return
    if gun.reach_m <= pivot.throw_m:
        units = desk.units[0]
        reach, throw = (number_words(units.from_m(x)) for x in (gun.reach_m, pivot.throw_m))
        found = f"reach {reach} {units.length}, no more than throw {throw} {units.length}"
        desk.warning(f"{key}.end_gun", found, "a reach past the throw", "the gun adds no ground as it is")
    if pivot.sector is not None and not isinstance(gun.arcs, str):
        _check_arcs_in_sector(gun.arcs, pivot.sector, key, desk)


def _check_arcs_in_sector(arcs: Sequence[Sector], sector: Sector, key: str, desk: Desk) -> None:
    for position, arc in enumerate(arcs, 1):
        start = (arc.start_deg - sector.start_deg) % 360
        if start + arc.sweep_deg > sector.sweep_deg + 1e-9:
            found = f"{number_words(arc.start_deg)} to {number_words(arc.stop_deg)}"
            allowed = (
                f"arcs inside the sector {number_words(sector.start_deg)} to {number_words(sector.stop_deg)}"
            )
            hint = "the part outside does not count"
            desk.warning(f"{key}.end_gun.arcs[{position}]", found, allowed, hint)


def pivot_name(table: PivotTable, field: str, number: int) -> str:
    """Return a pivot's name, ``<field> pivot 1`` when it has none.

    Parameters
    ----------
    table : PivotTable
        The pivot as written.
    field : str
        Name of its field.
    number : int
        Its place in the file, from 1. [-]

    Returns
    -------
    str
        The name.
    """
    return table.name or f"{field} pivot {number}"

"""Pivots from their tables: farm units to metres, defaults filled in and named as assumed."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ringrow.equipment.corner_arm import OPEN_RATE, Bend, CornerArm
from ringrow.equipment.pivot import GUN_SHARE, EndGun, Pivot, Sector
from ringrow.equipment.rebuild import Rebuild
from ringrow.farm.farm_names import point_name
from ringrow.farm.faults import number_words
from ringrow.farm.schema_machines import OutletTable, PlaceTable
from ringrow.farm.schema_rules import day_of
from ringrow.frame import distance_azimuth
from ringrow.geometry.angles import within_turn

if TYPE_CHECKING:
    from ringrow.equipment.pivot import ArcsSetting
    from ringrow.farm.schema import DefaultsTable
    from ringrow.farm.schema_base import At
    from ringrow.farm.schema_machines import (
        ArmTable,
        EndGunTable,
        LateralMoveTable,
        PivotTable,
        SectorTable,
        WingTable,
    )
    from ringrow.frame import Frame
    from ringrow.units import UnitSystem


@dataclass(frozen=True, slots=True, kw_only=True)
class Surroundings:
    """What a machine's file says around it: frame, units, and numbers its guns and arm depend on.

    Parameters
    ----------
    frame : Frame
        The field's frame.
    units : UnitSystem
        The farm's units.
    defaults : DefaultsTable
        The farm's own defaults.
    setback : float or None, default None
        The field's setback as written, None when it states none. [ft or m]
    min_arc : float or None, default None
        The field's shortest gun arc as written, None when it states none. [deg]
    keeps_off : bool, default False
        Whether the field names what guns keep off.
    """

    frame: Frame
    units: UnitSystem
    defaults: DefaultsTable
    setback: float | None = None
    min_arc: float | None = None
    keeps_off: bool = False


def build_machine(table: PivotTable, *, name: str, around: Surroundings) -> tuple[Pivot, ...]:
    """Return a machine as one pivot, or a towed one as a pivot for each of its points.

    Parameters
    ----------
    table : PivotTable
        The machine as written.
    name : str
        Its name, default filled in.
    around : Surroundings
        The field and farm it stands in.

    Returns
    -------
    tuple of Pivot
        In the order of `points`; one without them.
    """
    if table.point is not None:
        return (build_pivot(table, name=name, around=around, at=table.point),)
    return tuple(
        build_pivot(table, name=point_name(name, place.name, number), around=around, at=place, machine=name)
        for number, place in enumerate(table.points or (), 1)
    )


def build_pivot(
    table: PivotTable,
    *,
    name: str,
    around: Surroundings,
    at: At,
    machine: str = "",
) -> Pivot:
    """Return a pivot in its field's frame.

    Parameters
    ----------
    table : PivotTable
        The pivot as written.
    name : str
        Its name, default filled in.
    around : Surroundings
        The field and farm it stands in.
    at : At
        Its point; one of its places, which may state a sector and a panel zero, for a towed machine.
    machine : str, default ""
        Name of the towed machine; empty for one with a point of its own.

    Returns
    -------
    Pivot
        The machine; `assumed` names what was not stated.
    """
    place = at if isinstance(at, PlaceTable) else None
    units, frame = around.units, around.frame
    x_m, y_m = (float(value) for value in frame.to_xy(at.lon, at.lat))
    assumed: list[str] = []
    spans_m = spans_in_m(table, units, assumed)
    overhang, throw = _ends(table, around, assumed)
    zero = _panel_zero(table, place, at, assumed)
    gun = _end_gun(table.end_gun, "end gun", around, assumed) if table.end_gun else None
    arm = _corner_arm(table.corner_arm, around, assumed) if table.corner_arm else None
    _setback_assumed(gun, arm, around, assumed)
    length_m = sum(spans_m) + overhang * units.length_m
    sector = table.sector if place is None or place.sector is None else place.sector
    return Pivot(
        name=name,
        x_m=x_m,
        y_m=y_m,
        convergence_deg=frame.convergence_deg(x_m, y_m),
        spans_m=spans_m,
        overhang_m=overhang * units.length_m,
        throw_m=throw * units.length_m,
        sector=_sector(sector) if sector else None,
        panel_zero_deg=zero,
        end_gun=gun,
        corner_arm=arm,
        bends=tuple(Bend(tower=b.tower, at=b.at, sweep_deg=b.sweep) for b in table.bend or ()),
        machine=machine,
        parked_deg=_parked(table if place is None else place, zero),
        top_speed_m_per_h=scaled(table.top_speed, units.length_m),
        radius_se_m=scaled(table.radius_se, units.length_m),
        outlets_m=_outlets_m(table.outlets, length_m, units.length_m),
        flow_lps=scaled(table.flow, units.flow_lps),
        pressure_kpa=scaled(table.pressure, units.pressure_kpa),
        pipe_bore_m=scaled(table.bore, units.small_m),
        regulator_kpa=scaled(table.regulator, units.pressure_kpa),
        plate_v=table.plate_volts,
        plate_hz=table.plate_hertz,
        rebuilt=rebuilds_of(table),
        notes=table.notes,
        assumed=tuple(assumed),
    )


def rebuilds_of(table: PivotTable | LateralMoveTable) -> tuple[Rebuild, ...]:
    """Return the rebuilds of a machine, oldest first.

    Parameters
    ----------
    table : PivotTable or LateralMoveTable
        The machine as written.

    Returns
    -------
    tuple of Rebuild
        Empty when none is stated.
    """
    days = [(day_of(row.date), row.what) for row in table.rebuilt or ()]
    found = [Rebuild(day=day, what=what) for day, what in days if day is not None]
    return tuple(sorted(found, key=lambda each: each.day))


def scaled(value: float | None, factor: float) -> float | None:
    """Return a number of a farm file in SI, None when it is not stated.

    Parameters
    ----------
    value : float or None
        The number as written. [file unit]
    factor : float
        One file unit in SI.

    Returns
    -------
    float or None
        The number in SI.
    """
    return None if value is None else value * factor


def _ends(table: PivotTable, around: Surroundings, assumed: list[str]) -> tuple[float, float]:
    """Return overhang and throw of the main pipe in file units; a corner arm leaves it neither."""
    if table.corner_arm is not None:
        return 0.0, 0.0
    overhang = or_assumed(table.overhang, "overhang", None, around.units, assumed)
    return overhang, or_assumed(table.throw, "throw", around.defaults.throw, around.units, assumed)


def _panel_zero(table: PivotTable, place: PlaceTable | None, at: At, assumed: list[str]) -> float | None:
    own = place is not None and (place.panel_zero is not None or place.panel_reading is not None)
    source = place if place is not None and own else table
    if source.panel_reading is not None:
        tower = source.panel_reading.last_tower
        _, azimuth = distance_azimuth(at.lon, at.lat, tower.lon, tower.lat)
        return within_turn(azimuth - source.panel_reading.shows)
    if source.panel_zero is None:
        assumed.append("panel zero taken as 0 deg")
        return 0.0
    return None if isinstance(source.panel_zero, str) else source.panel_zero


def _parked(table: PivotTable | PlaceTable, zero_deg: float | None) -> float | None:
    if table.parked_panel is not None and zero_deg is not None:
        return within_turn(zero_deg + table.parked_panel)
    return table.parked


def _corner_arm(table: ArmTable, around: Surroundings, assumed: list[str]) -> CornerArm:
    units = around.units
    overhang = or_assumed(table.overhang, "corner arm overhang", None, units, assumed)
    throw = or_assumed(table.throw, "corner arm throw", None, units, assumed)
    rate = OPEN_RATE if table.open_rate is None else table.open_rate
    if table.open_rate is None:
        assumed.append(f"corner arm opening rate taken as {number_words(rate)} deg per deg of the main pipe")
    return CornerArm(
        length_m=table.length * units.length_m,
        overhang_m=overhang * units.length_m,
        throw_m=throw * units.length_m,
        side=table.side,
        fold_deg=table.fold,
        open_deg=table.open,
        open_rate=rate,
        end_gun=_end_gun(table.end_gun, "corner arm end gun", around, assumed) if table.end_gun else None,
    )


def _setback_assumed(
    gun: EndGun | None, arm: CornerArm | None, around: Surroundings, assumed: list[str]
) -> None:
    """Name the field's setback and shortest arc where a gun or an arm rests on ours."""
    gun = arm.end_gun if arm is not None else gun
    automatic = gun is not None and gun.arcs == "auto"
    if automatic or arm is not None:
        or_assumed(around.setback, "setback", around.defaults.setback, around.units, assumed)
    if automatic and around.min_arc is None:
        least = 5.0 if around.defaults.min_arc is None else around.defaults.min_arc
        assumed.append(f"gun arcs under {number_words(least)} deg left out")


def or_assumed(
    stated: float | None, name: str, default: float | None, units: UnitSystem, assumed: list[str]
) -> float:
    """Return what is stated, else the farm's default, else 0; what is not stated is named.

    Parameters
    ----------
    stated : float or None
        The length as written. [ft or m]
    name : str
        What it is, in plain words.
    default : float or None
        The farm's own default. [ft or m]
    units : UnitSystem
        The farm's units.
    assumed : list of str
        Where what was not stated is added.

    Returns
    -------
    float
        The length. [ft or m]
    """
    if stated is not None:
        return stated
    value = default or 0.0
    source = "" if default is None else ", from [defaults]"
    assumed.append(f"{name} taken as {number_words(value)} {units.length}{source}")
    return value


def spans_in_m(
    table: PivotTable | WingTable, units: UnitSystem, assumed: list[str], *, side: str = ""
) -> tuple[float, ...]:
    """Return spans in metres, split evenly where only towers and last tower are known.

    Parameters
    ----------
    table : PivotTable or WingTable
        The pipe as written.
    units : UnitSystem
        The farm's units.
    assumed : list of str
        Where a split is added.
    side : str, default ""
        Which side of a lateral move, in words.

    Returns
    -------
    tuple of float
        Span lengths, inner first. [m]
    """
    if table.spans is not None:
        return tuple(span * units.length_m for span in table.spans)
    towers, last = table.towers or 1, table.last_tower or 0.0
    span = last / towers
    each = f"{side}{' ' if side else ''}{towers} spans taken as {number_words(span)} {units.length} each"
    assumed.append(f"{each}: last tower at {number_words(last)} {units.length}, split evenly")
    return (span * units.length_m,) * towers


def _sector(table: SectorTable) -> Sector:
    return Sector(start_deg=table.start, stop_deg=table.stop)


def _end_gun(table: EndGunTable, what: str, around: Surroundings, assumed: list[str]) -> EndGun:
    units = around.units
    wetted_m = scaled(table.wetted_radius, units.length_m)
    if table.reach is not None:
        reach_m = table.reach * units.length_m
    else:
        reach_m = GUN_SHARE * (wetted_m or 0.0)
        share = f"{number_words(100 * GUN_SHARE)} % of its wetted radius"
        assumed.append(f"{what} reach taken as {share}: {number_words(units.from_m(reach_m))} {units.length}")
    if wetted_m is None and around.keeps_off:
        full = f"{number_words(units.from_m(reach_m / GUN_SHARE))} {units.length}"
        assumed.append(
            f"{what} full wetted radius, for what it keeps off, taken as reach / {GUN_SHARE}: {full}"
        )
    arcs: ArcsSetting | tuple[Sector, ...]
    arcs = tuple(_sector(arc) for arc in table.arcs) if isinstance(table.arcs, list) else table.arcs
    if "arcs" not in table.model_fields_set:
        assumed.append(f'{what} arcs taken as "auto"')
    return EndGun(
        reach_m=reach_m, arcs=arcs, wetted_radius_m=wetted_m, flow_lps=scaled(table.flow, units.flow_lps)
    )


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

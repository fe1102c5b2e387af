"""Water of pivots and lateral moves: depth, hours, outlets, pressure along the pipe."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from ringrow.errors import DomainError
from ringrow.water.orifice import nozzle_bore_m, open_drop
from ringrow.water.pivot_water import (
    daily_depth_mm,
    depth_per_turn_mm,
    gun_share_lps,
    outlet_flows_lps,
    peak_rate_mm_per_h,
    pipe_losses_kpa,
    turn_hours,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ringrow.coverage.field import LateralMoveLayout, PivotLayout
    from ringrow.equipment.pivot import Pivot

ROUGHNESS = 140.0
"""Hazen-Williams C taken for a machine's pipe [-] (usual figure for new galvanized steel, from memory)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartRow:
    """One outlet of the sprinkler chart a grower was given.

    Parameters
    ----------
    outlet : str
        Number or name of the outlet, as the chart has it.
    distance_m : float
        Distance from the pivot point. [m]
    nozzle : str
        Mark of the nozzle, as the chart has it.
    flow_lps : float or None, default None
        Flow on the chart. [L/s]
    """

    outlet: str
    distance_m: float
    nozzle: str
    flow_lps: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OutletWater:
    """One outlet; what cannot be known is None.

    Parameters
    ----------
    outlet : str
        Number from the pivot point, or as the chart has it.
    distance_m : float
        Distance from the pivot point. [m]
    design_lps : float or None
        Flow it was meant to give. [L/s]
    pressure_kpa : float or None
        Pressure in the pipe there. [kPa]
    bore_m : float or None
        Bore that passes the design flow, for the owner's table alone. [m]
    open_low_lps, open_high_lps : float or None
        What passes there when the sprinkler is gone. [L/s]
    nozzle : str
        Mark on the chart; empty without one.
    """

    outlet: str
    distance_m: float
    design_lps: float | None
    pressure_kpa: float | None
    bore_m: float | None
    open_low_lps: float | None
    open_high_lps: float | None
    nozzle: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineWater:
    """The water numbers of one machine; what cannot be known is None and `why` says it.

    Parameters
    ----------
    name : str
        The machine, or the machine at one of its points.
    kind : {"pivot", "lateral move"}
        What it is.
    area_m2 : float
        Ground it wets in a turn or a pass, not cut at the boundary. [m2]
    flow_lps, pressure_kpa : float or None
        Flow and pressure as the farm states them. [L/s, kPa]
    gun_lps : float or None, default None
        Flow of the end gun while it runs; 0 without one. [L/s]
    gun_area_m2, gun_depth_mm : float or None, default None
        Ground of the gun's ring; depth there in a turn. [m2, mm]
    daily_mm : float or None, default None
        Depth a day of 24 h puts on, and a day stopped does not. [mm]
    timer_pct : float, default 100
        Percent timer that hours and depth are for. [%]
    hours : float or None, default None
        Hours of a turn. [h]
    depth_mm : float or None, default None
        Depth of a turn. [mm]
    peak_mm_per_h : float or None, default None
        Peak application rate under the outer end. [mm/h]
    pipe_loss_kpa, end_kpa : float or None, default None
        Pressure lost along the pipe; pressure at its end. [kPa]
    outlets : tuple of OutletWater, default ()
        Outlets from the pivot point outward.
    why : dict of str to str
        Reason of each thing that is None, by its name here.
    assumed : tuple of str, default ()
        What the numbers rest on that nobody stated.
    """

    name: str
    kind: str
    area_m2: float
    flow_lps: float | None
    pressure_kpa: float | None
    gun_lps: float | None = None
    gun_area_m2: float | None = None
    gun_depth_mm: float | None = None
    daily_mm: float | None = None
    timer_pct: float = 100.0
    hours: float | None = None
    depth_mm: float | None = None
    peak_mm_per_h: float | None = None
    pipe_loss_kpa: float | None = None
    end_kpa: float | None = None
    outlets: tuple[OutletWater, ...] = ()
    why: dict[str, str] = field(default_factory=dict)
    assumed: tuple[str, ...] = ()


def lateral_move_water(layout: LateralMoveLayout) -> MachineWater:
    """Return the water numbers of a lateral move: what flow and acres give.

    Parameters
    ----------
    layout : LateralMoveLayout
        The machine, laid out.

    Returns
    -------
    MachineWater
        Acres and depth a day; its outlets all water the same width, so a table of them says nothing.
    """
    move, area_m2 = layout.move, float(layout.wetted.area)
    flow_lps = move.flow_lps
    why = {
        "outlets": "every outlet of a lateral move is meant to give the same per length of pipe",
        "hours": "hours of a pass follow from the travel speed set at the cart",
    }
    if flow_lps is None:
        why["daily_mm"] = "flow not stated"
    return MachineWater(
        name=move.name,
        kind="lateral move",
        area_m2=area_m2,
        flow_lps=flow_lps,
        pressure_kpa=move.pressure_kpa,
        daily_mm=None if flow_lps is None else daily_depth_mm(flow_lps, area_m2),
        why=why,
        assumed=move.assumed,
    )


def pivot_water(
    layout: PivotLayout,
    *,
    timer_pct: float = 100.0,
    speed_m_per_h: float | None = None,
    chart: Sequence[ChartRow] = (),
) -> MachineWater:
    """Return the water numbers of a pivot.

    Parameters
    ----------
    layout : PivotLayout
        The machine, laid out.
    timer_pct : float, default 100
        Percent timer, above 0 to 100. [%]
    speed_m_per_h : float or None, default None
        Speed of the last tower at 100 %; None = the farm's `top_speed`. [m/h]
    chart : sequence of ChartRow, default ()
        The machine's sprinkler chart; where it has distances, flows and marks, it wins.

    Returns
    -------
    MachineWater
        Its numbers.

    Raises
    ------
    DomainError
        If timer or speed is outside its range, or the chart does not fit the machine.

    Notes
    -----
    The stated flow is taken with the end gun running. Depths are gross, averaged over all ground
    the machine wets.
    """
    pivot = layout.pivot
    why: dict[str, str] = {}
    # Where the panel shows 0 moves no water.
    assumed = [text for text in pivot.assumed if not text.startswith("panel zero")]
    area_m2 = float(layout.wetted.area)
    gun_lps = _gun_lps(pivot, why, assumed)
    hours = _hours(layout, timer_pct, speed_m_per_h, why)
    flow = pivot.flow_lps
    if flow is None:
        why["daily_mm"] = "flow not stated"
    loss_kpa, end_kpa = _pipe(pivot, gun_lps, why, assumed)
    return MachineWater(
        name=pivot.name,
        kind="pivot",
        area_m2=area_m2,
        flow_lps=flow,
        pressure_kpa=pivot.pressure_kpa,
        gun_lps=gun_lps,
        gun_area_m2=float(layout.gun.area) if pivot.end_gun else None,
        gun_depth_mm=_gun_depth_mm(layout, hours, why),
        daily_mm=None if flow is None else daily_depth_mm(flow, area_m2),
        timer_pct=timer_pct,
        hours=hours,
        depth_mm=None if flow is None or hours is None else depth_per_turn_mm(flow, hours, area_m2),
        peak_mm_per_h=_peak(pivot, gun_lps, why),
        pipe_loss_kpa=loss_kpa,
        end_kpa=end_kpa,
        outlets=_outlets(pivot, gun_lps, chart, why, assumed),
        why=why,
        assumed=tuple(assumed),
    )


def _gun_lps(pivot: Pivot, why: dict[str, str], assumed: list[str]) -> float | None:
    gun, outer_m = pivot.end_gun, pivot.gun_radius_m
    if pivot.corner_arm is not None:
        why["gun_lps"] = "a corner arm takes a share of the flow that changes with its angle"
        return None
    if gun is None or outer_m is None:
        return 0.0
    if gun.flow_lps is not None:
        _check_gun(pivot, gun.flow_lps)
        return gun.flow_lps
    if pivot.flow_lps is None:
        why["gun_lps"] = "flow not stated"
        return None
    if outer_m <= pivot.base_radius_m:
        why["gun_lps"] = "flow of the end gun not stated"
        return None
    assumed.append(
        "end gun flow not stated: taken as its ring's share of the whole circle, with the stated flow "
        "measured while it runs"
    )
    return gun_share_lps(pivot.flow_lps, base_radius_m=pivot.base_radius_m, gun_radius_m=outer_m)


def _check_gun(pivot: Pivot, gun_lps: float) -> None:
    if pivot.flow_lps is not None and gun_lps >= pivot.flow_lps:
        message = (
            f'pivot "{pivot.name}": found a gun flow of {gun_lps:g} L/s with a machine flow of '
            f"{pivot.flow_lps:g} L/s; allowed: a gun that takes less than the machine"
        )
        raise DomainError(message)


def _hours(
    layout: PivotLayout, timer_pct: float, speed_m_per_h: float | None, why: dict[str, str]
) -> float | None:
    pivot = layout.pivot
    speed = speed_m_per_h if speed_m_per_h is not None else pivot.top_speed_m_per_h
    # The range of the timer is checked by the formula, so it is asked even without a speed.
    hours = turn_hours(
        pivot.tower_radii_m[-1],
        1.0 if speed is None else speed,
        timer_pct=timer_pct,
        sweep_deg=pivot.sector.sweep_deg if pivot.sector else 360.0,
    )
    if speed is None:
        why["hours"] = "speed of the last tower at 100 % not stated (give --speed)"
        return None
    return hours


def _gun_depth_mm(layout: PivotLayout, hours: float | None, why: dict[str, str]) -> float | None:
    gun = layout.pivot.end_gun
    if gun is None:
        return None
    if hours is None:
        why["gun_depth_mm"] = why.get("hours", "hours of a turn not known")
    elif gun.flow_lps is None:
        why["gun_depth_mm"] = "flow of the end gun not stated"
    elif not layout.gun.area > 0:
        why["gun_depth_mm"] = "the end gun waters no ground past the last sprinkler"
    else:
        share = _arcs_share(layout)
        return depth_per_turn_mm(gun.flow_lps, hours * share, float(layout.gun.area))
    return None


def _arcs_share(layout: PivotLayout) -> float:
    """Return the share of a turn on which the gun runs."""
    if isinstance(layout.gun_arcs, str):
        return 1.0
    turn_deg = layout.pivot.sector.sweep_deg if layout.pivot.sector else 360.0
    return sum(arc.sweep_deg for arc in layout.gun_arcs) / turn_deg


def _peak(pivot: Pivot, gun_lps: float | None, why: dict[str, str]) -> float | None:
    if pivot.flow_lps is None or gun_lps is None:
        why["peak_mm_per_h"] = why.get("gun_lps", "flow not stated")
    elif not pivot.throw_m > 0:
        why["peak_mm_per_h"] = "throw of the sprinklers not stated"
    else:
        return peak_rate_mm_per_h(pivot.flow_lps - gun_lps, pivot.base_radius_m, pivot.throw_m)
    return None


def _pipe(
    pivot: Pivot, gun_lps: float | None, why: dict[str, str], assumed: list[str]
) -> tuple[float | None, float | None]:
    """Return the pressure lost along the pipe, and that at its end."""
    missing = _pipe_missing(pivot, gun_lps, why)
    if missing:
        why["pipe_loss_kpa"] = missing
        return None, None
    assumed.append(
        f"pipe loss by Hazen-Williams with C {ROUGHNESS:g}, one bore, level ground, outlets without number"
    )
    loss = float(_losses_kpa(pivot, gun_lps or 0.0, np.array([pivot.length_m]))[0])
    if pivot.pressure_kpa is None:
        why["end_kpa"] = "pressure at the pivot point not stated"
        return loss, None
    if loss > pivot.pressure_kpa:
        why["end_kpa"] = "the pipe would lose more than all the pressure: check flow, bore and pressure"
        return loss, None
    return loss, pivot.pressure_kpa - loss


def _pipe_missing(pivot: Pivot, gun_lps: float | None, why: dict[str, str]) -> str:
    if pivot.pipe_bore_m is None:
        return "bore of the machine's pipe not stated"
    if pivot.flow_lps is None:
        return "flow not stated"
    return why.get("gun_lps", "") if gun_lps is None else ""


def _losses_kpa(pivot: Pivot, gun_lps: float, distances_m: np.ndarray) -> np.ndarray:
    return pipe_losses_kpa(
        np.minimum(distances_m, pivot.length_m),
        flow_lps=pivot.flow_lps or 0.0,
        gun_lps=gun_lps,
        bore_m=pivot.pipe_bore_m or 0.0,
        length_m=pivot.length_m,
        base_radius_m=pivot.base_radius_m,
        roughness=ROUGHNESS,
    )


def _outlets(
    pivot: Pivot,
    gun_lps: float | None,
    chart: Sequence[ChartRow],
    why: dict[str, str],
    assumed: list[str],
) -> tuple[OutletWater, ...]:
    rows = tuple(chart) or tuple(
        ChartRow(outlet=str(number), distance_m=distance_m, nozzle="")
        for number, distance_m in enumerate(pivot.outlets_m, 1)
    )
    if not rows:
        why["outlets"] = "outlets not stated, and no sprinkler chart given"
        return ()
    distance = np.array([row.distance_m for row in rows])
    _check_chart(pivot, distance, named=bool(chart))
    ring = _ring_lps(pivot, gun_lps, distance, why)
    design = [
        row.flow_lps if row.flow_lps is not None else flow for row, flow in zip(rows, ring, strict=True)
    ]
    pipe = _pipe_pressures(pivot, gun_lps, distance, why, assumed)
    return tuple(
        _outlet(row, flow, pressure, pivot) for row, flow, pressure in zip(rows, design, pipe, strict=True)
    )


def _check_chart(pivot: Pivot, distance: np.ndarray, *, named: bool) -> None:
    if (np.diff(distance) <= 0).any() or distance[0] < 0 or distance[-1] > pivot.length_m * 1.02:
        what = "sprinkler chart" if named else "outlets"
        message = (
            f'pivot "{pivot.name}" {what}: found distances from {distance.min():.2f} to '
            f"{distance.max():.2f} m; allowed: rising, within the pipe of {pivot.length_m:.2f} m; "
            "is it the chart of another machine, or in another unit?"
        )
        raise DomainError(message)


def _ring_lps(
    pivot: Pivot, gun_lps: float | None, distance: np.ndarray, why: dict[str, str]
) -> list[float] | list[None]:
    if pivot.flow_lps is None or gun_lps is None:
        why["outlet flows"] = why.get("gun_lps", "flow not stated")
        return [None] * len(distance)
    within = np.minimum(distance, pivot.base_radius_m)
    flows: list[float] = outlet_flows_lps(
        within, flow_lps=pivot.flow_lps - gun_lps, base_radius_m=pivot.base_radius_m
    ).tolist()
    return flows


def _pipe_pressures(
    pivot: Pivot,
    gun_lps: float | None,
    distance: np.ndarray,
    why: dict[str, str],
    assumed: list[str],
) -> list[float] | list[None]:
    if pivot.pressure_kpa is None:
        why["outlet pressures"] = "pressure at the pivot point not stated"
        return [None] * len(distance)
    if "pipe_loss_kpa" in why or "end_kpa" in why:
        why["outlet pressures"] = why.get("pipe_loss_kpa") or why["end_kpa"]
        assumed.append("open drops: at most what the pressure at the pivot point would push through")
        return [None] * len(distance)
    found: list[float] = (pivot.pressure_kpa - _losses_kpa(pivot, gun_lps or 0.0, distance)).tolist()
    return found


def _outlet(row: ChartRow, flow: float | None, pressure: float | None, pivot: Pivot) -> OutletWater:
    at_nozzle = _nozzle_kpa(pivot, pressure)
    behind = pressure if pressure is not None else pivot.pressure_kpa
    opened = None if behind is None else open_drop(behind)
    bore_m = None if flow is None or not at_nozzle else nozzle_bore_m(flow, at_nozzle)
    return OutletWater(
        outlet=row.outlet,
        distance_m=row.distance_m,
        design_lps=flow,
        pressure_kpa=pressure,
        bore_m=bore_m,
        open_low_lps=opened.low_lps if opened else None,
        open_high_lps=opened.high_lps if opened else None,
        nozzle=row.nozzle,
    )


def _nozzle_kpa(pivot: Pivot, pressure_kpa: float | None) -> float | None:
    """Return the pressure at the nozzle: the regulator's, unless the pipe holds less."""
    if pivot.regulator_kpa is None:
        return pressure_kpa
    return pivot.regulator_kpa if pressure_kpa is None else min(pivot.regulator_kpa, pressure_kpa)

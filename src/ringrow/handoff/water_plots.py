"""Charts of water: pressure along a lateral, flow against distance, catch cans."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import numpy as np

from ringrow.coverage.machine_water import MachineWater
from ringrow.coverage.zone_water import FRICTION_FORMULA
from ringrow.handoff.number_words import one_line
from ringrow.handoff.svg_chart import Series, chart_svg
from ringrow.handoff.water_numbers import number_text

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ringrow.coverage.catch_cans import Can, CatchResult
    from ringrow.coverage.zone_water import ZoneFlow
    from ringrow.handoff.water_table import SystemWater
    from ringrow.units import UnitSystem


def system_plots(systems: Sequence[SystemWater], units: UnitSystem) -> dict[str, str]:
    """Return the charts of systems by file name: one a zone, one a pivot with outlet flows.

    Parameters
    ----------
    systems : sequence of SystemWater
        The systems.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    dict of str to str
        SVG text by file name; what cannot be drawn is left out.
    """
    plots: dict[str, str] = {}
    for system in systems:
        if isinstance(system.water, MachineWater):
            if any(outlet.design_lps is not None for outlet in system.water.outlets):
                plots[_free(plots, system.name, "outlets")] = outlet_plot(system.water, units)
            continue
        for zone in system.water:
            if zone.expected is not None:
                name = f"{system.name} {zone.zone.name}"
                title = (
                    f"{one_line(system.name)}, {one_line(zone.zone.name)}: pressure along the longest lateral"
                )
                plots[_free(plots, name, "pressure")] = pressure_plot(title, zone.expected, units)
    return plots


def _free(taken: dict[str, str], name: str, what: str) -> str:
    stem = re.sub(r"[^\w]+", "-", one_line(name).casefold()).strip("-") or "system"
    found, number = f"{stem}-{what}.svg", 1
    while found in taken:
        number += 1
        found = f"{stem}-{number}-{what}.svg"
    return found


def pressure_plot(title: str, flow: ZoneFlow, units: UnitSystem) -> str:
    """Return the pressure along the longest piece of tape of a zone.

    Parameters
    ----------
    title : str
        Line on top.
    flow : ZoneFlow
        The zone's flow.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    str
        SVG text.
    """
    lateral = flow.longest
    x = np.append(0.0, lateral.station_m) / units.length_m
    y = np.append(flow.inlet_kpa, lateral.pressure_kpa) / units.pressure_kpa
    gives = (number_text(float(lateral.emitter_lps[at]) / units.emitter_lps, 3) for at in (0, -1))
    return chart_svg(
        title,
        [Series(name="", x=x, y=y)],
        x_label=f"Distance from the header, {units.length}",
        y_label=f"Pressure in the tape, {units.pressure}",
        notes=[
            "First emitter {} {unit}, last {} {unit}.".format(*gives, unit=units.emitter),
            f"Losses: {FRICTION_FORMULA}.",
        ],
    )


def outlet_plot(water: MachineWater, units: UnitSystem) -> str:
    """Return the flow each outlet of a pivot was meant to give, against its distance.

    Parameters
    ----------
    water : MachineWater
        The pivot's numbers.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    str
        SVG text.
    """
    known = [outlet for outlet in water.outlets if outlet.design_lps is not None]
    x = [units.from_m(outlet.distance_m) for outlet in known]
    y = [(outlet.design_lps or 0.0) / units.flow_lps for outlet in known]
    return chart_svg(
        f"{one_line(water.name)}: what each outlet is meant to give",
        [Series(name="", x=x, y=y, style="dots")],
        x_label=f"Distance from the pivot point, {units.length}",
        y_label=f"Flow of the outlet, {units.flow}",
        notes=_outlet_notes(water, units),
    )


def _outlet_notes(water: MachineWater, units: UnitSystem) -> list[str]:
    if any(outlet.nozzle for outlet in water.outlets):
        return ["As on the sprinkler chart; where it gives no flow, the outlet's ring's share of the flow."]
    gun = (
        "" if not water.gun_lps else f" less {number_text(water.gun_lps / units.flow_lps, 0)} for the end gun"
    )
    flow = number_text((water.flow_lps or 0.0) / units.flow_lps, 0)
    return [
        f"Each ring's share of {flow} {units.flow}{gun}. The outermost outlet waters out to the end of "
        "its throw."
    ]


def catch_plot(title: str, result: CatchResult, units: UnitSystem) -> str:
    """Return the depth in each can against its distance, with the mean.

    Parameters
    ----------
    title : str
        Line on top.
    result : CatchResult
        The cans.
    units : UnitSystem
        Units of the axes.

    Returns
    -------
    str
        SVG text; cans without distances stand by their order.
    """
    cans = result.cans
    x = [units.from_m(can.distance_m or 0.0) if result.weighted else n for n, can in enumerate(cans, 1)]
    off = {can.name for can in result.off}
    near = [(place, can) for place, can in zip(x, cans, strict=True) if can.name not in off]
    far = [(place, can) for place, can in zip(x, cans, strict=True) if can.name in off]
    mean = result.mean_mm / 1000 / units.small_m
    rows = [
        Series(name="can", x=[p for p, _ in near], y=_depths(near, units), style="dots"),
        Series(name="more than 20 % off", x=[p for p, _ in far], y=_depths(far, units), style="rings"),
        Series(name="mean", x=[min(x), max(x)], y=[mean, mean], style="dashes"),
    ]
    name = "Heermann and Hein" if result.weighted else "Christiansen"
    return chart_svg(
        title,
        [row for row in rows if np.size(row.x)],
        x_label=f"Distance from the pivot point, {units.length}" if result.weighted else "Can, in order",
        y_label=f"Depth caught, {units.small}",
        notes=[
            f"CU ({name}) {result.cu_pct:.1f} %, low-quarter DU {result.du_pct:.1f} %, "
            f"{len(cans)} cans, {len(result.left_out)} left out."
        ],
    )


def _depths(cans: Sequence[tuple[float, Can]], units: UnitSystem) -> list[float]:
    return [(can.depth_mm or 0.0) / 1000 / units.small_m for _, can in cans]

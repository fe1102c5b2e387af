"""Water of drip zones: flow, rate, fill, flush, uniformity, pressure along the laterals.

A piece of tape is what water runs along: each piece starts at its own header-side end, at the
zone's pressure. Pieces with the same number of emitters carry the same water, so each number is
solved once, and all of them together.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from ringrow.coverage.drip_layout import tape_totals
from ringrow.equipment.drip import Zone
from ringrow.errors import DomainError
from ringrow.geometry.laterals import emitters_in_pieces
from ringrow.geometry.strips import strips_union
from ringrow.water.emitters import (
    application_rate_mm_per_h,
    emission_uniformity_pct,
    emitter_flow_lps,
    flow_variation_pct,
    hours_for_depth,
    label_emitter_lps,
)
from ringrow.water.lateral import TapeLateral, solve_laterals
from ringrow.water.volumes import flush_flow_lps, least_fill_min, pipe_volume_l

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from ringrow.coverage.field import DripLayout
    from ringrow.equipment.drip import DripBlock, Tape
    from ringrow.geometry.laterals import CurvedGrid, LateralGrid, LateralRows
    from ringrow.water.lateral import LateralFlow

FRICTION_FORMULA = (
    "Darcy-Weisbach in smooth pipe (laminar 64/Re, turbulent Blasius), water of 20 C, emitter by emitter"
)
"""Which friction formula the flow along laterals rests on."""

STEP_M = 0.3
"""Tape whose emitter spacing is not known is worked out as if it gave water every 0.3 m [m]."""

WHOLE_BLOCK = "all laterals"
"""Name of the zone that stands for a block without zones."""


@dataclass(frozen=True, slots=True, kw_only=True)
class EmitterFlow:
    """What one emitter gives, and how far apart emitters stand.

    Parameters
    ----------
    spacing_m : float
        Distance between emitters. [m]
    flow_lps, at_pressure_kpa, exponent : float
        Flow at a stated pressure, and the emitter exponent. [L/s, kPa, -]
    """

    spacing_m: float
    flow_lps: float
    at_pressure_kpa: float
    exponent: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ZoneFlow:
    """Pressure and flow of a zone at one inlet pressure, losses along the laterals counted.

    Parameters
    ----------
    inlet_kpa : float
        Pressure at the header. [kPa]
    flow_lps : float
        What the zone takes. [L/s]
    least_kpa, far_kpa : float
        Lowest pressure at any emitter; mean at the far ends of the laterals, as a gauge on the
        flush line reads. [kPa]
    emitter_lps : ndarray
        Flow of every emitter of the zone. [L/s]
    longest : LateralFlow
        The longest piece of tape, for a plot.
    """

    inlet_kpa: float
    flow_lps: float
    least_kpa: float
    far_kpa: float
    emitter_lps: NDArray[np.float64]
    longest: LateralFlow


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ZoneWater:
    """The water numbers of one zone; what cannot be known is None and `why` says it.

    Parameters
    ----------
    zone : Zone
        The zone.
    laterals, pieces : int
        Lateral numbers with any tape; pieces of tape. [-]
    length_m : float
        Tape. [m]
    emitters : int or None
        Emitters. [-]
    area_m2 : float
        Ground under the zone's strips, counted once. [m2]
    nominal_lps : float or None
        Flow with every emitter at the zone's pressure. [L/s]
    expected : ZoneFlow or None
        Flow with losses along the laterals.
    rate_mm_per_h, expected_rate_mm_per_h : float or None
        Application rate by nominal and by expected flow. [mm/h]
    hours_per_inch : float or None
        Hours for one inch by nominal flow. [h]
    volume_l : float or None
        Water in the tape alone. [L]
    fill_min, expected_fill_min : float or None
        Least time to fill the tape by nominal and by expected flow. [min]
    eu_pct, flow_variation_pct : float or None
        Emission uniformity of Keller and Karmeli; how far the weakest emitter falls behind. [%]
    flush_end_lps, flush_lps : float or None
        Flow out of one lateral's end at 1 ft/s; flow into the zone when all are flushed at once,
        the emitters' nominal flow on top. [L/s]
    why : dict of str to str
        Reason of each thing that is None, by its name here.
    assumed : tuple of str
        What the numbers rest on that nobody stated.
    """

    zone: Zone
    laterals: int
    pieces: int
    length_m: float
    emitters: int | None
    area_m2: float
    nominal_lps: float | None = None
    expected: ZoneFlow | None = None
    rate_mm_per_h: float | None = None
    expected_rate_mm_per_h: float | None = None
    hours_per_inch: float | None = None
    volume_l: float | None = None
    fill_min: float | None = None
    expected_fill_min: float | None = None
    eu_pct: float | None = None
    flow_variation_pct: float | None = None
    flush_end_lps: float | None = None
    flush_lps: float | None = None
    why: dict[str, str] = field(default_factory=dict)
    assumed: tuple[str, ...] = ()


def block_water(layout: DripLayout) -> list[ZoneWater]:
    """Return the water numbers of every zone of a drip block.

    Parameters
    ----------
    layout : DripLayout
        The block, laid out.

    Returns
    -------
    list of ZoneWater
        One a zone, in the block's order; one for the whole block when it has no zones.
    """
    zones = layout.block.zones or (Zone(name=WHOLE_BLOCK, first=1, last=max(layout.grid.count, 1)),)
    return [zone_water(layout, zone) for zone in zones]


def zone_water(layout: DripLayout, zone: Zone, *, inlet_kpa: float | None = None) -> ZoneWater:
    """Return the water numbers of one zone.

    Parameters
    ----------
    layout : DripLayout
        The block, laid out.
    zone : Zone
        The zone.
    inlet_kpa : float or None, default None
        Pressure at the header; None = the zone's own. [kPa]

    Returns
    -------
    ZoneWater
        Its numbers; null and the reason where tape or pressure is not known.

    Raises
    ------
    DomainError
        If a number of the tape cannot be.
    """
    tape, block = layout.block.tape, layout.block
    spacing_m = tape.emitter_spacing_m if tape else None
    grid = zone_grid(layout.grid, zone)
    total = tape_totals(grid, first=zone.first, last=zone.last, emitter_spacing_m=spacing_m)
    pressure_kpa = zone.pressure_kpa if inlet_kpa is None else inlet_kpa
    blank = ZoneWater(
        zone=zone,
        laterals=total.laterals,
        pieces=total.pieces,
        length_m=total.length_m,
        emitters=total.emitters,
        area_m2=float(strips_union(grid, layout.ground).area),
    )
    if not total.pieces:
        return replace(blank, why={"nominal_lps": "the zone holds no tape"})
    held = _with_volume(blank, tape)
    emitter, reason = emitter_of(tape)
    if emitter is None or not pressure_kpa:
        missing = reason or f'pressure of zone "{zone.name}" not stated'
        return replace(held, why={**held.why, "nominal_lps": missing})
    nominal_lps = _nominal_lps(held, tape, emitter, pressure_kpa)
    if not nominal_lps > 0:
        return replace(held, why={**held.why, "nominal_lps": "the zone's tape is too short for an emitter"})
    flow, no_flow = _flow_or_reason(layout, zone, pressure_kpa)
    return _with_flow(held, block, tape, nominal_lps, flow, no_flow)


def zone_grid(grid: LateralGrid | CurvedGrid, zone: Zone) -> LateralGrid | CurvedGrid:
    """Return the laterals of a block with the tape of one zone alone.

    Parameters
    ----------
    grid : LateralGrid or CurvedGrid
        The laterals of the block.
    zone : Zone
        The zone.

    Returns
    -------
    LateralGrid or CurvedGrid
        The same laterals, pieces outside the zone left out.
    """
    held = (grid.piece_lateral >= zone.first) & (grid.piece_lateral <= zone.last)
    return replace(
        grid,
        piece_lateral=grid.piece_lateral[held],
        piece_letter=grid.piece_letter[held],
        piece_start_m=grid.piece_start_m[held],
        piece_stop_m=grid.piece_stop_m[held],
    )


def emitter_of(tape: Tape | None) -> tuple[EmitterFlow | None, str]:
    """Return what one emitter of a tape gives, or why it is not known.

    Parameters
    ----------
    tape : Tape or None
        The tape, by its emitter or by the flow on its label.

    Returns
    -------
    emitter : EmitterFlow or None
        The emitter; of a label without an emitter spacing, one every 0.3 m that gives its share.
    reason : str
        What is missing; empty when nothing is.
    """
    if tape is None:
        return None, "tape not described"
    if tape.at_pressure_kpa is None:
        return None, "pressure at which the tape's flow holds (at_pressure) not stated"
    spacing_m = tape.emitter_spacing_m
    if tape.emitter_flow_lps is not None:
        if spacing_m is None:
            return None, "emitter spacing not stated"
        flow_lps = tape.emitter_flow_lps
    elif tape.flow_lps_per_m is not None:
        spacing_m = spacing_m or STEP_M
        flow_lps = label_emitter_lps(tape.flow_lps_per_m, spacing_m)
    else:
        return None, "flow of the tape (emitter_flow, or the label's flow_per_100ft or flow_per_m) not stated"
    return (
        EmitterFlow(
            spacing_m=spacing_m,
            flow_lps=flow_lps,
            at_pressure_kpa=tape.at_pressure_kpa,
            exponent=tape.exponent,
        ),
        "",
    )


def zone_flow(layout: DripLayout, zone: Zone, *, inlet_kpa: float) -> ZoneFlow:
    """Return pressure and flow of a zone, losses along the laterals counted.

    Parameters
    ----------
    layout : DripLayout
        The block, laid out.
    zone : Zone
        The zone.
    inlet_kpa : float
        Pressure at the header, above 0; at both ends of the laterals where the block is fed so. [kPa]

    Returns
    -------
    ZoneFlow
        Flow of the zone, its emitters and its ends.

    Raises
    ------
    DomainError
        If tape, bore or pressure is not known, no piece holds an emitter, or no balance is found.

    Notes
    -----
    A piece of tape past a gap is taken as fed at its own header-side end. Where the ends' heights
    are stated, the ground falls or rises evenly at the slope of the longest lateral.
    """
    tape = layout.block.tape
    emitter, reason = emitter_of(tape)
    bore_m = tape.inside_diameter_m if tape else None
    if emitter is None or bore_m is None or not inlet_kpa > 0:
        missing = reason or ("inside diameter of the tape not stated" if bore_m is None else "no pressure")
        message = f'zone "{zone.name}": {missing}'
        raise DomainError(message)
    grid = zone_grid(layout.grid, zone)
    counts = _emitters_a_piece(grid, emitter.spacing_m)
    distinct, group, pieces = np.unique(counts[counts > 0], return_inverse=True, return_counts=True)
    if not distinct.size:
        message = f'zone "{zone.name}": no piece of its tape is long enough for an emitter'
        raise DomainError(message)
    lengths_m = distinct * emitter.spacing_m
    lateral = _lateral(layout, emitter, bore_m, inlet_kpa, float(lengths_m[-1]))
    flows = solve_laterals(lateral, lengths_m)
    each = np.repeat(pieces, np.diff(flows.index))
    end_kpa = flows.pressure_kpa[flows.index[1:] - 1]
    outer = _outermost(grid)[counts > 0]
    return ZoneFlow(
        inlet_kpa=inlet_kpa,
        flow_lps=float((flows.emitter_lps * each).sum()),
        least_kpa=float(flows.pressure_kpa.min()),
        far_kpa=float(end_kpa[group[outer]].mean()) if outer.any() else float(end_kpa[group].mean()),
        emitter_lps=np.repeat(flows.emitter_lps, each),
        longest=flows.one(len(distinct) - 1),
    )


def _emitters_a_piece(grid: LateralRows, spacing_m: float) -> NDArray[np.int64]:
    lowest, highest = emitters_in_pieces(grid, spacing_m)
    return np.maximum(highest - lowest + 1, 0)


def _outermost(grid: LateralRows) -> NDArray[np.bool_]:
    """Return which pieces are the last of their lateral: those that reach the flush line."""
    return np.append(grid.piece_lateral[1:] != grid.piece_lateral[:-1], True)


def _lateral(
    layout: DripLayout, emitter: EmitterFlow, bore_m: float, inlet_kpa: float, length_m: float
) -> TapeLateral:
    return TapeLateral(
        length_m=length_m,
        bore_m=bore_m,
        emitter_spacing_m=emitter.spacing_m,
        flow_lps=emitter.flow_lps,
        at_pressure_kpa=emitter.at_pressure_kpa,
        exponent=emitter.exponent,
        inlet_kpa=inlet_kpa,
        rise_m=_slope(layout) * length_m,
        far_kpa=inlet_kpa if layout.block.fed == "both" else None,
    )


def _slope(layout: DripLayout) -> float:
    """Return how much the ground rises along the laterals, metre by metre, from the header end."""
    block, grid = layout.block, layout.grid
    if block.header_elevation_m is None or block.far_elevation_m is None or not len(grid.piece_lateral):
        return 0.0
    longest_m = float(np.nanmax(grid.station_end_m - grid.station_zero_m))
    return (block.far_elevation_m - block.header_elevation_m) / longest_m


def _with_volume(zone: ZoneWater, tape: Tape | None) -> ZoneWater:
    if tape is None or tape.inside_diameter_m is None:
        missing = "tape not described" if tape is None else "inside diameter of the tape not stated"
        return replace(zone, why={"volume_l": missing})
    return replace(
        zone,
        volume_l=pipe_volume_l(tape.inside_diameter_m, zone.length_m),
        flush_end_lps=flush_flow_lps(tape.inside_diameter_m),
    )


def _nominal_lps(zone: ZoneWater, tape: Tape | None, emitter: EmitterFlow, pressure_kpa: float) -> float:
    flow_lps = float(
        emitter_flow_lps(
            pressure_kpa,
            flow_lps=emitter.flow_lps,
            at_pressure_kpa=emitter.at_pressure_kpa,
            exponent=emitter.exponent,
        )
    )
    # Without a spacing the label speaks of tape by length, and so does the nominal flow.
    known = tape is not None and tape.emitter_spacing_m is not None and zone.emitters is not None
    return flow_lps * (zone.emitters or 0 if known else zone.length_m / emitter.spacing_m)


def _flow_or_reason(layout: DripLayout, zone: Zone, inlet_kpa: float) -> tuple[ZoneFlow | None, str]:
    try:
        return zone_flow(layout, zone, inlet_kpa=inlet_kpa), ""
    except DomainError as error:
        return None, str(error)


def _with_flow(
    zone: ZoneWater,
    block: DripBlock,
    tape: Tape | None,
    nominal_lps: float,
    flow: ZoneFlow | None,
    no_flow: str,
) -> ZoneWater:
    why = dict(zone.why)
    rate = application_rate_mm_per_h(nominal_lps, zone.area_m2) if zone.area_m2 > 0 else None
    cv = tape.cv if tape else None
    if flow is None:
        why["expected"] = no_flow
    elif cv is None:
        why["eu_pct"] = "coefficient of variation of the tape (cv) not stated"
    end_lps = zone.flush_end_lps
    return replace(
        zone,
        nominal_lps=nominal_lps,
        expected=flow,
        rate_mm_per_h=rate,
        expected_rate_mm_per_h=_of(flow, lambda lps: application_rate_mm_per_h(lps, zone.area_m2)),
        hours_per_inch=None if rate is None else hours_for_depth(rate),
        fill_min=None if zone.volume_l is None else least_fill_min(zone.volume_l, nominal_lps),
        expected_fill_min=_of(flow, lambda lps: least_fill_min(zone.volume_l or 0.0, lps)),
        eu_pct=None if flow is None or cv is None else emission_uniformity_pct(flow.emitter_lps, cv=cv),
        flow_variation_pct=None if flow is None else flow_variation_pct(flow.emitter_lps),
        flush_lps=None if end_lps is None else end_lps * zone.laterals + nominal_lps,
        why=why,
        assumed=_assumed(zone, block, tape),
    )


def _of(flow: ZoneFlow | None, formula: Callable[[float], float]) -> float | None:
    return formula(flow.flow_lps) if flow is not None and flow.flow_lps > 0 else None


def _assumed(zone: ZoneWater, block: DripBlock, tape: Tape | None) -> tuple[str, ...]:
    texts = list(block.assumed)
    if block.header_elevation_m is None:
        texts.append("laterals taken as level")
    if tape is not None and tape.emitter_spacing_m is None:
        texts.append("emitter spacing not stated: losses worked out as if every 0.3 m of tape gave water")
    if zone.pieces > zone.laterals:
        texts.append("tape past a gap taken as fed at its own header-side end, at the zone's pressure")
    if block.fed == "both":
        texts.append("the same pressure taken at both ends of the laterals")
    return tuple(texts)

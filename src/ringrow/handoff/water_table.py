"""The water numbers of a farm as JSON values and as tables a grower reads."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from ringrow.coverage.machine_water import MachineWater
from ringrow.coverage.tillage import TILLAGE_CLEAR_M
from ringrow.coverage.zone_water import FRICTION_FORMULA
from ringrow.handoff.number_words import one_line
from ringrow.handoff.plain_table import TableBlock, block_text, wrapped
from ringrow.handoff.water_numbers import (
    depth_of,
    flow_of,
    flow_per_area,
    number_text,
    pressure_of,
    volume_of,
)
from ringrow.water.orifice import DROP_BORE_M

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from ringrow.coverage.machine_water import OutletWater
    from ringrow.coverage.tillage import TillageNear
    from ringrow.coverage.zone_water import ZoneWater
    from ringrow.units import UnitSystem

_A_DAY_S = 86_400
_ZONES_ABREAST = 5
_RATE = "rate_in_per_h"
_FILL = "fill_min"

# Reasons go by the attribute that is missing; people and JSON know it by another name.
_KEYS = {
    "nominal_lps": "nominal_gpm",
    "expected": "expected_gpm",
    "volume_l": "volume_gal",
    "daily_mm": "in_per_day",
    "depth_mm": "depth_in",
    "gun_lps": "gun_gpm",
    "gun_depth_mm": "gun_depth_in",
    "peak_mm_per_h": "peak_in_per_h",
    "pipe_loss_kpa": "pipe_loss_psi",
    "end_kpa": "end_psi",
}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SystemWater:
    """The water numbers of one system, with the field it stands in.

    Parameters
    ----------
    field : str
        Name of the field.
    name : str
        The drip block or machine.
    water : list of ZoneWater, or MachineWater
        Zones of a block, or the machine.
    """

    field: str
    name: str
    water: list[ZoneWater] | MachineWater


def water_record(systems: Sequence[SystemWater], units: UnitSystem) -> dict[str, Any]:
    """Return the water numbers of a farm as plain values under the keys of the JSON output.

    Parameters
    ----------
    systems : sequence of SystemWater
        The systems to be shown.
    units : UnitSystem
        The farm's units; keys end in them.

    Returns
    -------
    dict
        ``systems``. Numbers are not rounded; what cannot be known is None, its reason under ``why``.
    """
    return {"systems": [_system_record(system, units) for system in systems]}


def _system_record(system: SystemWater, units: UnitSystem) -> dict[str, Any]:
    if isinstance(system.water, MachineWater):
        return _machine_record(system.field, system.water, units)
    return {
        "name": system.name,
        "field": system.field,
        "kind": "drip",
        "zones": [_zone_record(zone, units) for zone in system.water],
        "friction": FRICTION_FORMULA,
    }


def _why(why: dict[str, str], units: UnitSystem) -> dict[str, str]:
    return {units.key(_KEYS.get(key, key)): reason for key, reason in why.items()}


def _zone_record(zone: ZoneWater, units: UnitSystem) -> dict[str, Any]:
    flow = zone.expected
    key = units.key
    return {
        "name": zone.zone.name,
        "valve": zone.zone.valve or None,
        "laterals": zone.laterals,
        key("lateral_ft"): units.from_m(zone.length_m),
        "emitters": zone.emitters,
        key("acres"): units.from_m2(zone.area_m2),
        key("pressure_psi"): pressure_of(zone.zone.pressure_kpa, units),
        key("nominal_gpm"): flow_of(zone.nominal_lps, units),
        key("expected_gpm"): flow_of(flow.flow_lps if flow else None, units),
        key(_RATE): depth_of(zone.rate_mm_per_h, units),
        f"{key(_RATE)}_expected": depth_of(zone.expected_rate_mm_per_h, units),
        "hours_per_inch": zone.hours_per_inch,
        key("volume_gal"): volume_of(zone.volume_l, units),
        _FILL: zone.fill_min,
        f"{_FILL}_expected": zone.expected_fill_min,
        "eu_pct": zone.eu_pct,
        "flow_variation_pct": zone.flow_variation_pct,
        key("least_psi"): pressure_of(flow.least_kpa if flow else None, units),
        key("flush_line_psi"): pressure_of(flow.far_kpa if flow else None, units),
        key("flush_end_gpm"): flow_of(zone.flush_end_lps, units),
        key("flush_gpm"): flow_of(zone.flush_lps, units),
        "why": _why(zone.why, units),
        "assumed": list(zone.assumed),
    }


def _machine_record(field: str, water: MachineWater, units: UnitSystem) -> dict[str, Any]:
    key = units.key
    return {
        "name": water.name,
        "field": field,
        "kind": water.kind,
        key("acres"): units.from_m2(water.area_m2),
        key("flow_gpm"): flow_of(water.flow_lps, units),
        key("pressure_psi"): pressure_of(water.pressure_kpa, units),
        key("gpm_per_acre"): flow_per_area(water.flow_lps, water.area_m2, units),
        key("in_per_day"): depth_of(water.daily_mm, units),
        key("day_stopped_in"): depth_of(water.daily_mm, units),
        key("day_stopped_gal"): volume_of(_day_l(water), units),
        "timer_pct": water.timer_pct,
        "hours": water.hours,
        key("depth_in"): depth_of(water.depth_mm, units),
        key("peak_in_per_h"): depth_of(water.peak_mm_per_h, units),
        key("gun_gpm"): flow_of(water.gun_lps, units),
        key("gun_acres"): None if water.gun_area_m2 is None else units.from_m2(water.gun_area_m2),
        key("gun_depth_in"): depth_of(water.gun_depth_mm, units),
        key("pipe_loss_psi"): pressure_of(water.pipe_loss_kpa, units),
        key("end_psi"): pressure_of(water.end_kpa, units),
        "outlets": [_outlet_record(outlet, units) for outlet in water.outlets],
        "why": _why(water.why, units),
        "assumed": list(water.assumed),
    }


def _day_l(water: MachineWater) -> float | None:
    return None if water.flow_lps is None else water.flow_lps * _A_DAY_S


def _outlet_record(outlet: OutletWater, units: UnitSystem) -> dict[str, Any]:
    key = units.key
    return {
        "outlet": int(outlet.outlet) if outlet.outlet.isdecimal() else outlet.outlet,
        key("distance_ft"): units.from_m(outlet.distance_m),
        key("design_gpm"): flow_of(outlet.design_lps, units),
        key("pressure_psi"): pressure_of(outlet.pressure_kpa, units),
        key("bore_in"): None if outlet.bore_m is None else units.from_m_small(outlet.bore_m),
        key("open_low_gpm"): flow_of(outlet.open_low_lps, units),
        key("open_high_gpm"): flow_of(outlet.open_high_lps, units),
        "nozzle": outlet.nozzle or None,
    }


def water_tables(
    systems: Sequence[SystemWater], units: UnitSystem, *, width: int | None, all_outlets: bool = False
) -> str:
    """Return the water numbers of systems as one short table each.

    Parameters
    ----------
    systems : sequence of SystemWater
        The systems to be shown.
    units : UnitSystem
        The farm's units.
    width : int or None
        Columns of the terminal; None for plain lines with nothing wrapped. [-]
    all_outlets : bool, default False
        Whether every outlet of a pivot is listed, with the bore worked out for it: the owner's table.

    Returns
    -------
    str
        The tables; no line break at the end.
    """
    if not systems:
        return "No systems."
    texts = []
    for system in systems:
        if isinstance(system.water, MachineWater):
            texts += _machine_texts(system, system.water, units, width, all_outlets=all_outlets)
        else:
            texts += _drip_texts(system, system.water, units, width)
    closing = "Depths and rates are gross: nothing is taken off for wind, runoff or leaks."
    if any(not isinstance(system.water, MachineWater) for system in systems):
        closing += f" Losses along tape: {FRICTION_FORMULA}."
    return "\n\n".join([*texts, wrapped(closing, width)])


def _title(system: SystemWater, kind: str) -> str:
    return f"{one_line(system.field)}: {one_line(system.name)}, {kind}"


def _drip_texts(
    system: SystemWater, zones: Sequence[ZoneWater], units: UnitSystem, width: int | None
) -> list[str]:
    texts = []
    for at in range(0, len(zones), _ZONES_ABREAST):
        abreast = zones[at : at + _ZONES_ABREAST]
        columns = [_zone_column(zone, units) for zone in abreast]
        rows = [(label, *cells) for label, *cells in zip(_zone_labels(units), *columns, strict=True)]
        head = ("", *(one_line(zone.zone.name) for zone in abreast))
        texts.append(block_text(TableBlock(title=_title(system, "drip"), head=head, rows=rows), width))
    texts += _notes(
        [reason for zone in zones for reason in zone.why.values()],
        [text for zone in zones for text in zone.assumed],
        width,
    )
    return texts


def _zone_labels(units: UnitSystem) -> tuple[str, ...]:
    rate = "in/h" if units.name == "us" else "mm/h"
    volume = "gal" if units.name == "us" else "L"
    return (
        "Laterals",
        f"Tape, {units.length}",
        "Emitters",
        units.area.capitalize() if units.name == "us" else "Hectares",
        f"Pressure at the header, {units.pressure}",
        f"Flow, every emitter at that pressure, {units.flow}",
        f"Flow, losses along the tape counted, {units.flow}",
        f"Rate, {rate}",
        "Hours for one inch (25.4 mm)" if units.name == "metric" else "Hours for one inch",
        f"Water in the tape, {volume}",
        "Fills in no less than, min",
        f"Lowest pressure at an emitter, {units.pressure}",
        f"Flush line should show, {units.pressure}",
        "Weakest emitter behind the strongest, %",
        "Uniformity (EU), %",
        f"To flush: out of each end, {units.flow}",
        f"To flush: into the zone, all ends open, {units.flow}",
    )


def _zone_column(zone: ZoneWater, units: UnitSystem) -> tuple[str, ...]:
    flow = zone.expected
    fine = 3 if units.name == "us" else 2
    return (
        f"{zone.laterals:,}",
        number_text(units.from_m(zone.length_m), 0),
        "-" if zone.emitters is None else f"{zone.emitters:,}",
        number_text(units.from_m2(zone.area_m2), 2),
        number_text(pressure_of(flow.inlet_kpa if flow else zone.zone.pressure_kpa, units), 1),
        number_text(flow_of(zone.nominal_lps, units), 1),
        number_text(flow_of(flow.flow_lps if flow else None, units), 1),
        number_text(depth_of(zone.rate_mm_per_h, units), fine),
        number_text(zone.hours_per_inch, 1),
        number_text(volume_of(zone.volume_l, units), 0),
        number_text(zone.fill_min, 0),
        number_text(pressure_of(flow.least_kpa if flow else None, units), 1),
        number_text(pressure_of(flow.far_kpa if flow else None, units), 1),
        number_text(zone.flow_variation_pct, 1),
        number_text(zone.eu_pct, 1),
        number_text(flow_of(zone.flush_end_lps, units), 2),
        number_text(flow_of(zone.flush_lps, units), 0),
    )


def _machine_texts(
    system: SystemWater, water: MachineWater, units: UnitSystem, width: int | None, *, all_outlets: bool
) -> list[str]:
    title = _title(system, water.kind)
    rows = [(label, number_text(value, digits)) for label, value, digits in _machine_rows(water, units)]
    texts = [block_text(TableBlock(title=title, head=("", "Number"), rows=rows), width)]
    if water.outlets:
        texts.append(wrapped(_outlet_words(water, units), width))
    if all_outlets and water.outlets:
        texts.append(block_text(_outlet_block(system, water, units), width))
    return texts + _notes(water.why.values(), water.assumed, width)


def _machine_rows(water: MachineWater, units: UnitSystem) -> list[tuple[str, float | None, int]]:
    deep = "in" if units.name == "us" else "mm"
    fine = 2 if units.name == "us" else 1
    per_area = "gpm per acre" if units.name == "us" else "L/s per hectare"
    volume = "gal" if units.name == "us" else "L"
    rows = [
        (f"Ground it wets, {units.area}", units.from_m2(water.area_m2), 1),
        (f"Flow, {units.flow}", flow_of(water.flow_lps, units), 0 if units.name == "us" else 1),
        (f"Flow over its ground, {per_area}", flow_per_area(water.flow_lps, water.area_m2, units), 2),
        (f"Depth a day, {deep}", depth_of(water.daily_mm, units), fine),
        (f"A day stopped: not put on, {deep}", depth_of(water.daily_mm, units), fine),
        (f"A day stopped: not pumped, {volume}", volume_of(_day_l(water), units), 0),
    ]
    if water.kind != "pivot":
        return rows
    timer = f"timer {water.timer_pct:g} %"
    rows += [
        (f"Hours a turn, {timer}", water.hours, 1),
        (f"Depth a turn, {timer}, {deep}", depth_of(water.depth_mm, units), fine),
        (f"Peak rate under the outer end, {deep}/h", depth_of(water.peak_mm_per_h, units), fine),
        (f"Pressure at the pivot point, {units.pressure}", pressure_of(water.pressure_kpa, units), 1),
        (f"Pressure lost along the pipe, {units.pressure}", pressure_of(water.pipe_loss_kpa, units), 1),
        (f"Pressure at the pipe end, {units.pressure}", pressure_of(water.end_kpa, units), 1),
    ]
    if water.gun_area_m2 is not None:
        rows += [
            (f"End gun flow, {units.flow}", flow_of(water.gun_lps, units), 0 if units.name == "us" else 1),
            (f"Ground in the gun's ring, {units.area}", units.from_m2(water.gun_area_m2), 2),
            (f"Depth a turn in the gun's ring, {deep}", depth_of(water.gun_depth_mm, units), fine),
        ]
    return rows


def _outlet_words(water: MachineWater, units: UnitSystem) -> str:
    first, last = water.outlets[0], water.outlets[-1]
    text = f"{len(water.outlets)} outlets"
    if first.design_lps is not None and last.design_lps is not None:
        text += f", meant to give {_gpm(first, units)} to {_gpm(last, units)}"
    text += "."
    return (
        f"{text}{_open_words(last, units)} For the crew: put in the nozzle with the mark its neighbours "
        "have, or the one on the sprinkler chart."
    )


def _open_words(last: OutletWater, units: UnitSystem) -> str:
    if last.open_low_lps is None or last.open_high_lps is None:
        return ""
    low, high = (number_text(flow_of(flow, units), 0) for flow in (last.open_low_lps, last.open_high_lps))
    # Without the pressure in the pipe there, that at the pivot point gives no more than a bound.
    range_words = f"up to {high}" if last.pressure_kpa is None else f"{low} to {high}"
    text = f" An outermost drop without its sprinkler ({_drop(units)}) passes {range_words} {units.flow}"
    if last.design_lps:
        text += f"; its share is {number_text(flow_of(last.design_lps, units), 1)}"
    return f"{text}."


def _drop(units: UnitSystem) -> str:
    return "3/4 in" if units.name == "us" else f"{DROP_BORE_M * 1000:.0f} mm"


def _gpm(outlet: OutletWater, units: UnitSystem) -> str:
    flow = number_text(flow_of(outlet.design_lps, units), 2)
    return f"{flow} {units.flow} at {number_text(units.from_m(outlet.distance_m), 0)} {units.length}"


def _outlet_block(system: SystemWater, water: MachineWater, units: UnitSystem) -> TableBlock:
    fine = 3 if units.name == "us" else 2
    rows = [
        (
            one_line(outlet.outlet),
            one_line(outlet.nozzle) or "-",
            number_text(units.from_m(outlet.distance_m), 1),
            number_text(flow_of(outlet.design_lps, units), 2),
            number_text(pressure_of(outlet.pressure_kpa, units), 1),
            number_text(None if outlet.bore_m is None else units.from_m_small(outlet.bore_m), fine),
            number_text(flow_of(outlet.open_high_lps, units), 0),
        )
        for outlet in water.outlets
    ]
    return TableBlock(
        title=f"{one_line(system.name)}, outlets: the owner's table. Bores are worked out, not to order by.",
        head=(
            *("Outlet", "Mark", units.length, f"Design {units.flow}", f"Pipe {units.pressure}"),
            *(f"Bore {units.small}", f"Open, most {units.flow}"),
        ),
        rows=rows,
        words=2,
    )


def _notes(reasons: Iterable[str], assumed: Iterable[str], width: int | None) -> list[str]:
    texts = []
    blank = list(dict.fromkeys(one_line(reason) for reason in reasons))
    if blank:
        texts.append(["A dash is not known, because:", *(f"- {reason}" for reason in blank)])
    taken = list(dict.fromkeys(one_line(text) for text in assumed))
    if taken:
        texts.append(["Assumed:", *(f"- {text}" for text in taken)])
    return ["\n".join(wrapped(line, width, indent=2) for line in lines) for lines in texts]


def tillage_lines(field: str, near: Sequence[TillageNear], units: UnitSystem) -> list[str]:
    """Return a warning for each drip block whose tape the tillage of its field comes near.

    Parameters
    ----------
    field : str
        Name of the field.
    near : sequence of TillageNear
        Such blocks.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    list of str
        One line each.

    Examples
    --------
    >>> from ringrow.coverage.tillage import TillageNear
    >>> from ringrow.units import US
    >>> near = TillageNear(block="North drip", tillage_depth_m=0.2286, tape_depth_m=0.3048)
    >>> tillage_lines("North 80", [near], US)
    ['North 80: tillage at 9 in is within 4 in of the tape of North drip at 12 in']
    """
    small, name = units.small, one_line(field)
    clear = f"{units.from_m_small(TILLAGE_CLEAR_M):.0f} {small}"
    lines = []
    for block in near:
        depths_m = (block.tillage_depth_m, block.tape_depth_m)
        tillage, tape = (f"{units.from_m_small(depth_m):.0f} {small}" for depth_m in depths_m)
        lines.append(
            f"{name}: tillage at {tillage} is within {clear} of the tape of {one_line(block.block)} at {tape}"
        )
    return lines

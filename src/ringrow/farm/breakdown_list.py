"""Breakdowns as a season holds them: which there were, how long each lasted, the water not put on.

The cost is worked out from the machine's own flow and the ground it waters whenever it is asked
for, so a corrected flow corrects every breakdown. Where the flow is not known, the water is not
known either.
"""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

from ringrow.coverage.machine_water import lateral_move_water, pivot_water
from ringrow.errors import SeasonError
from ringrow.farm.breakdowns import BREAKDOWN
from ringrow.farm.events import parse_when, when_text

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from ringrow.coverage.field import FieldLayout
    from ringrow.coverage.machine_water import MachineWater
    from ringrow.farm.model import Farm
    from ringrow.farm.records import Record


@dataclass(frozen=True, slots=True, kw_only=True)
class Breakdown:
    """A breakdown and what it cost; what cannot be known is None and `unknown` says why.

    Parameters
    ----------
    record : Record
        What was said.
    system : str
        Name of the machine, drip block or well.
    field : str or None
        Field it stands in; None for a well or a system that is no longer on the farm.
    stopped : datetime
        When it stopped, UTC.
    restarted : datetime or None
        When it ran again; None while it stands.
    hours : float
        Hours down, until now while it stands. [h]
    azimuth_deg, panel_deg : float or None
        True azimuth at which it stopped, what the panel shows there. [deg]
    tower : int or None
        The tower that stopped it.
    direction, why : str
        Which way it was started again; what it was; empty when nobody said.
    flow_lps : float or None
        Flow it would have put on. [L/s]
    area_m2 : float or None
        Ground it waters. [m2]
    volume_m3, depth_mm : float or None
        Water not put on: volume, and depth over that ground. [m3, mm]
    daily_m3, daily_mm, daily_m2 : float or None
        What a day stopped costs: volume, depth over that ground, and ground not walked over. [m3, mm, m2]
    unknown : dict of str to str
        Reason of each thing that is None, by its name here.
    """

    record: Record
    system: str
    field: str | None
    stopped: datetime
    restarted: datetime | None
    hours: float
    azimuth_deg: float | None
    panel_deg: float | None
    tower: int | None
    direction: str
    why: str
    flow_lps: float | None
    area_m2: float | None
    volume_m3: float | None
    depth_mm: float | None
    daily_m3: float | None
    daily_mm: float | None
    daily_m2: float | None
    unknown: dict[str, str] = dataclasses.field(default_factory=dict)


def breakdowns(
    farm: Farm, layouts: Sequence[FieldLayout], records: Iterable[Record], *, now: datetime
) -> list[Breakdown]:
    """Return breakdowns with what they cost, what costs most a day first.

    Parameters
    ----------
    farm : Farm
        The farm.
    layouts : sequence of FieldLayout
        Its fields, laid out.
    records : iterable of Record
        Records of the season, of any type; a broken one is passed over.
    now : datetime
        Until when one that still stands is counted.

    Returns
    -------
    list of Breakdown
        Open ones first; in each part by water not put on a day, the unknown last, then by time.

    Notes
    -----
    Volume is flow times hours down; depth is that over all ground the machine wets, as in
    `ringrow.coverage.machine_water`. A machine does not run every hour of a season, so it is what
    could have been put on, not what the crop lost.
    """
    waters, fields = _waters(layouts), _fields(farm)
    found = [
        _breakdown(record, farm, waters, fields, now)
        for record in records
        if record.type == BREAKDOWN and _is_whole(record.value)
    ]
    return sorted(
        found,
        key=lambda each: (
            each.restarted is not None,
            each.daily_m3 is None,
            -(each.daily_m3 or 0.0),
            each.stopped,
            each.record.id,
        ),
    )


def together(downs: Iterable[Breakdown]) -> tuple[float, float | None]:
    """Return the hours down and the water not put on of one system's breakdowns.

    Parameters
    ----------
    downs : iterable of Breakdown
        Breakdowns of one system, in any order.

    Returns
    -------
    tuple of float
        Hours and volume; time in which two of them overlap, as when two logs were brought together,
        counts once. The volume is None where a part of it is not known. [h, m3]
    """
    hours, volumes = 0.0, []
    until: datetime | None = None
    for down in sorted(downs, key=lambda each: (each.stopped, each.record.id)):
        end = down.stopped + timedelta(hours=down.hours)
        more = (end - max(down.stopped, until or down.stopped)) / timedelta(hours=1)
        if more > 0:
            hours += more
            volumes.append(None if down.daily_m3 is None else down.daily_m3 * more / 24.0)
        until = max(end, until or end)
    known = [volume for volume in volumes if volume is not None]
    return hours, math.fsum(known) if len(known) == len(volumes) else None


def _is_whole(value: dict[str, Any]) -> bool:
    """Return whether a record, which may come from a strange file, can be read as a breakdown."""
    numbers = [value.get(key) for key in ("azimuth_deg", "flow_lps", "tower")]
    if any(not (n is None or (isinstance(n, int | float) and math.isfinite(n))) for n in numbers):
        return False
    try:
        stopped = parse_when(value["stopped"])
        parse_when(value.get("restarted", when_text(stopped)))
    except (KeyError, SeasonError, AttributeError, TypeError):
        return False
    return isinstance(value.get("system"), str)


def _waters(layouts: Sequence[FieldLayout]) -> dict[str, MachineWater]:
    """Return the water numbers of machines; of a towed one also by its own name, where it stands."""
    found = {laid.name: pivot_water(laid) for layout in layouts for laid in layout.pivots}
    found |= {laid.name: lateral_move_water(laid) for layout in layouts for laid in layout.lateral_moves}
    towed: dict[str, list[str]] = {}
    for laid in (each for layout in layouts for each in layout.pivots if each.pivot.machine):
        if laid.pivot.parked_deg is not None:
            towed.setdefault(laid.pivot.machine, []).append(laid.name)
    return found | {machine: found[names[0]] for machine, names in towed.items() if len(names) == 1}


def _fields(farm: Farm) -> dict[str, str]:
    return {
        name: each.name
        for each in farm.fields
        for systems in (each.pivots, each.lateral_moves, each.drip)
        for system in systems
        for name in (system.name, getattr(system, "machine", ""))
        if name
    }


def _breakdown(
    record: Record, farm: Farm, waters: dict[str, MachineWater], fields: dict[str, str], now: datetime
) -> Breakdown:
    value = record.value
    system, water = value["system"], waters.get(value["system"])
    stopped = parse_when(value["stopped"])
    restarted = parse_when(value["restarted"]) if "restarted" in value else None
    hours = max(((restarted or now) - stopped) / timedelta(hours=1), 0.0)
    unknown: dict[str, str] = {}
    flow = _flow_lps(value, water, unknown)
    area = _area_m2(system, water, fields, unknown)
    daily_m3 = None if flow is None else flow * 86.4
    return Breakdown(
        record=record,
        system=system,
        field=fields.get(system),
        stopped=stopped,
        restarted=restarted,
        hours=hours,
        azimuth_deg=value.get("azimuth_deg"),
        panel_deg=_panel_deg(system, value.get("azimuth_deg"), farm),
        tower=None if value.get("tower") is None else int(value["tower"]),
        direction=str(value.get("direction", "")),
        why=str(value.get("why", "")),
        flow_lps=flow,
        area_m2=area,
        volume_m3=None if daily_m3 is None else daily_m3 * hours / 24.0,
        depth_mm=None if daily_m3 is None or area is None else 1000.0 * daily_m3 * hours / 24.0 / area,
        daily_m3=daily_m3,
        daily_mm=None if daily_m3 is None or area is None else 1000.0 * daily_m3 / area,
        daily_m2=_daily_m2(water, area, unknown),
        unknown=unknown,
    )


def _flow_lps(value: dict[str, Any], water: MachineWater | None, unknown: dict[str, str]) -> float | None:
    flow = value.get("flow_lps") or (None if water is None else water.flow_lps)
    if flow is None:
        unknown |= dict.fromkeys(("flow_lps", "volume_m3", "depth_mm"), "flow not stated")
    return None if flow is None else float(flow)


def _area_m2(
    system: str, water: MachineWater | None, fields: dict[str, str], unknown: dict[str, str]
) -> float | None:
    if water is not None:
        return water.area_m2
    why = (
        "ground it waters is worked out for machines alone, or a towed one at its point"
        if system in fields
        else "a well waters what its machines water"
    )
    unknown["area_m2"] = why
    unknown.setdefault("depth_mm", why)
    return None


def _daily_m2(water: MachineWater | None, area_m2: float | None, unknown: dict[str, str]) -> float | None:
    if water is None or area_m2 is None:
        return None
    if water.hours is None:
        pivot = water.kind == "pivot"
        unknown["daily_m2"] = "top_speed of the machine not stated" if pivot else water.why["hours"]
        return None
    return area_m2 * min(24.0 / water.hours, 1.0)


def _panel_deg(system: str, azimuth_deg: float | None, farm: Farm) -> float | None:
    pivots = {pivot.name: pivot for each in farm.fields for pivot in each.pivots}
    zero = pivots[system].panel_zero_deg if system in pivots else None
    return None if azimuth_deg is None or zero is None else (azimuth_deg - zero) % 360.0

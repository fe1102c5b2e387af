"""Readings judged against numbers that the farm's files state.

Nothing is judged without a number to hold it against, and every judgement carries that number,
its tolerance and where the tolerance comes from. The words for all of it stand in
`ringrow.handoff.reading_words`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Literal

from ringrow.equipment.drip import DripBlock
from ringrow.equipment.pivot import Pivot
from ringrow.equipment.well import Well
from ringrow.errors import SeasonError
from ringrow.farm.events import parse_when
from ringrow.farm.reading_kinds import READING_KINDS
from ringrow.farm.system_checks import things_of
from ringrow.units import PSI_KPA

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from datetime import datetime

    from ringrow.coverage.field import DripLayout
    from ringrow.equipment.checklists import Checked
    from ringrow.farm.model import Farm
    from ringrow.farm.reading_kinds import ReadingKind
    from ringrow.farm.records import Record
    from ringrow.farm.system_checks import Thing
    from ringrow.farm.systems import FarmSystem

READING = "reading"
"""Type of the records."""

VOLTS_SHARE = 0.10
"""Volts may lie this far from the plate: NEMA MG 1, clause 12.44.1 (condensed edition of 2011) [-]."""
HERTZ_SHARE = 0.05
"""Frequency may lie this far from the plate: the same clause [-]."""
UNBALANCE_PCT = 1.0
"""Most unbalance of line volts without derating a motor: NEMA MG 1, as cited second hand [%]."""
UNBALANCE_STOP_PCT = 5.0
"""A motor should not run above this unbalance: NEMA MG 1, as cited second hand [%]."""
FLOW_SHARE = PRESSURE_SHARE = 0.10
"""Flow and pressure may lie this far from the design (our choice) [-]."""
OVER_REGULATOR_KPA = 5.0 * PSI_KPA
"""Least pressure at the pipe's end over the regulators': 5 psi, Nebraska Extension checklist [kPa]."""
RESTED_SHARE = 12.4 / 12.0
"""Least volts of a rested battery to what it is built for: 12.4 of 12 V (common practice, no source) [-]."""

Why = Literal[
    "within", "below", "above", "unbalanced", "stop", "no-number", "nothing-to-hold-against", "not-qualified"
]
"""Why a reading is judged as it is, or not at all."""
Source = Literal["standard", "ours", "farm", "checklist", "practice", ""]
"""Where a tolerance comes from."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What a reading is held against.

    Parameters
    ----------
    design : float or None, default None
        The number stated in the farm's files. [unit of the reading]
    low, high : float or None, default None
        What it may be at least and at most. [unit of the reading]
    source : {"standard", "ours", "farm", "checklist", "practice", ""}, default ""
        Where the tolerance comes from: a motor standard, our choice, the farm's files, an extension
        checklist, common practice.
    share : float or None, default None
        The tolerance as a share of `design`. [-]
    missing : str, default ""
        Key of the farm's files that would have to state the number; empty when it is there.
    """

    design: float | None = None
    low: float | None = None
    high: float | None = None
    source: Source = ""
    share: float | None = None
    missing: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgedReading:
    """One reading and what is to be said of it.

    Parameters
    ----------
    record : Record
        The record.
    system : str
        Name of the system.
    kind : {"well", "pivot", "lateral move", "drip"}
        What it is.
    item : str
        Kind of reading, such as ``volts``.
    zone : str
        Zone it was read of; empty for the system as a whole.
    values : tuple of float
        What was read, in the unit its record keeps. [unit of the key]
    said : str
        What was read, as written.
    ok : bool or None
        Whether it lies within its limits; None when it is not judged.
    why : str
        Why: ``within``, ``below``, ``above``, ``unbalanced``, ``stop`` (unbalance at which a motor
        should not run), ``no-number``, ``nothing-to-hold-against``, ``not-qualified``.
    when : datetime
        When it was read, UTC.
    who : str
        Who read it.
    limits : Limits
        What it is held against.
    walking : bool or None, default None
        Whether the machine was walking; None when not said.
    unbalance_pct : float or None, default None
        Largest departure of a line's volts from their mean, of three line volts. [%]
    latest : bool, default True
        Whether no later reading of the same thing stands.
    """

    record: Record
    system: str
    kind: Checked
    item: str
    zone: str
    values: tuple[float, ...]
    said: str
    ok: bool | None
    why: Why
    when: datetime
    who: str
    limits: Limits
    walking: bool | None = None
    unbalance_pct: float | None = None
    latest: bool = True


def judge(farm: Farm, records: Iterable[Record]) -> list[JudgedReading]:
    """Return every reading of a farm's systems, judged.

    Parameters
    ----------
    farm : Farm
        The farm.
    records : iterable of Record
        Records of its season log; those of other types, of systems that are gone, and what makes
        no sense are passed over.

    Returns
    -------
    list of JudgedReading
        By the time they were read.
    """
    homes: dict[str, list[tuple[FarmSystem, Thing]]] = {}
    for system, thing in things_of(farm):
        for name in system.names:
            homes.setdefault(name, []).append((system, thing))
    flows: dict[tuple[str, str], Limits] = {}
    judged = []
    for record in records:
        read = _read(record)
        named = record.value.get("system")
        near = homes.get(named, []) if isinstance(named, str) else []
        home = next((pair for pair in near if is_about(record.value, pair[0].names, pair[0].kind)), None)
        if read is None or home is None or home[0].kind not in read[0].on:
            continue
        judged.append(_judged(farm, record, *read, system=home[0].name, thing=home[1], flows=flows))
    judged.sort(key=lambda each: (each.when, each.record.when, each.record.id))
    last = {_same_thing(each): each.record.id for each in judged}
    return [replace(each, latest=last[_same_thing(each)] == each.record.id) for each in judged]


def open_items(farm: Farm, records: Iterable[Record]) -> list[JudgedReading]:
    """Return readings outside their limits that no later reading of the same thing has put right.

    Parameters
    ----------
    farm : Farm
        The farm.
    records : iterable of Record
        Records of its season log.

    Returns
    -------
    list of JudgedReading
        By the time they were read.
    """
    return [each for each in judge(farm, records) if each.latest and each.ok is False]


def is_about(value: Mapping[str, Any], names: Iterable[str], kind: str) -> bool:
    """Return whether a record speaks of a system.

    Parameters
    ----------
    value : mapping of str to object
        The record.
    names : iterable of str
        Every name of the system.
    kind : str
        What it is; a well and a machine may share a name.

    Returns
    -------
    bool
        True when it does.
    """
    return value.get("system") in tuple(names) and value.get("kind", kind) == kind


def time_of(record: Record) -> datetime:
    """Return when what a record says was so: its ``at``, else when it was said.

    Parameters
    ----------
    record : Record
        The record.

    Returns
    -------
    datetime
        The moment, UTC.
    """
    at = record.value.get("at")
    if isinstance(at, str):
        try:
            return parse_when(at)
        except SeasonError:
            pass
    return record.when


def voltage_unbalance_pct(line_voltages_v: tuple[float, ...]) -> float:
    r"""Return the unbalance of line voltages.

    How far the line that lies farthest off departs from the mean of all.

    .. math:: U = 100 \frac{\max |V_i - \bar{V}|}{\bar{V}}

    Parameters
    ----------
    line_voltages_v : tuple of float
        Voltages from line to line, three, above 0. [V]

    Returns
    -------
    float
        The unbalance. [%]

    References
    ----------
    .. [1] NEMA MG 1, *Motors and Generators*, definition of voltage unbalance.

    Examples
    --------
    >>> round(voltage_unbalance_pct((460.0, 467.0, 450.0)), 2)
    1.96
    """
    mean = math.fsum(line_voltages_v) / len(line_voltages_v)
    return 100.0 * max(abs(volts - mean) for volts in line_voltages_v) / mean


def _same_thing(each: JudgedReading) -> tuple[object, ...]:
    # Motors pull the volts down, so those idle say nothing of those walking.
    state = each.walking if each.item == "volts" else None
    return each.system, each.kind, each.item, each.zone, state


def _read(record: Record) -> tuple[ReadingKind, tuple[float, ...]] | None:
    """Return kind and numbers of a record, None for what is no reading that can be used."""
    item = record.value.get("item")
    kind = READING_KINDS.get(item) if isinstance(item, str) and record.type == READING else None
    if kind is None:
        return None
    plain = record.value.get(kind.quantity.key)
    numbers = plain if isinstance(plain, list) else [plain]
    good = [
        float(number)
        for number in numbers
        if isinstance(number, int | float) and not isinstance(number, bool)
    ]
    low, high = kind.quantity.least, kind.quantity.most
    listed = isinstance(plain, list) == (kind.count > 1)
    within = all(low <= number <= high for number in good)
    whole = listed and within and len(good) == len(numbers) == kind.count
    return (kind, tuple(good)) if whole else None


def _judged(
    farm: Farm,
    record: Record,
    kind: ReadingKind,
    values: tuple[float, ...],
    *,
    system: str,
    thing: Thing,
    flows: dict[tuple[str, str], Limits],
) -> JudgedReading:
    said = record.value.get("said")
    walking = record.value.get("walking")
    zone = record.value.get("zone") if kind.by_zone else ""
    zone = zone if isinstance(zone, str) else ""
    if kind.id == "zone-flow" and isinstance(thing, DripBlock):
        limits = flows.setdefault((system, zone), Limits())
        if limits == Limits():
            limits = flows[system, zone] = _zone_flow(farm, thing, zone)
    else:
        limits = limits_of(farm, thing, kind.id, zone)
    ok, why, unbalance_pct = _verdict(kind, values, limits, qualified=record.value.get("qualified") is True)
    return JudgedReading(
        record=record,
        system=system,
        kind=_kind_of(thing),
        item=kind.id,
        zone=zone,
        values=values,
        said=said if isinstance(said, str) else "",
        ok=ok,
        why=why,
        when=time_of(record),
        who=record.who,
        limits=limits,
        walking=walking if isinstance(walking, bool) else None,
        unbalance_pct=unbalance_pct,
    )


def _kind_of(thing: Thing) -> Checked:
    if isinstance(thing, Well):
        return "well"
    if isinstance(thing, Pivot):
        return "pivot"
    return "drip" if isinstance(thing, DripBlock) else "lateral move"


def _verdict(
    kind: ReadingKind, values: tuple[float, ...], limits: Limits, *, qualified: bool
) -> tuple[bool | None, Why, float | None]:
    if kind.count > 1:
        unbalance_pct = voltage_unbalance_pct(values)
        if not qualified:
            return None, "not-qualified", unbalance_pct
        if unbalance_pct > UNBALANCE_PCT:
            return False, "stop" if unbalance_pct > UNBALANCE_STOP_PCT else "unbalanced", unbalance_pct
        ok, why = _within(values, limits)
        # Balance is judged without a plate; the plate is judged on top where it is known.
        return (True, "within", unbalance_pct) if ok is None else (ok, why, unbalance_pct)
    return *_within(values, limits), None


def _within(values: tuple[float, ...], limits: Limits) -> tuple[bool | None, Why]:
    if limits.low is None and limits.high is None:
        return None, "no-number" if limits.missing else "nothing-to-hold-against"
    # Limits come from products such as 460 x 0.9; a reading just on one is within.
    slack = 1e-9 * max(abs(limits.low or 0.0), abs(limits.high or 0.0))
    if limits.low is not None and min(values) < limits.low - slack:
        return False, "below"
    if limits.high is not None and max(values) > limits.high + slack:
        return False, "above"
    return True, "within"


def limits_of(farm: Farm, thing: Thing, item: str, zone: str = "") -> Limits:
    """Return what a reading of a system is held against, flow of a zone excepted.

    Parameters
    ----------
    farm : Farm
        The farm, whose files may state tolerances.
    thing : Well, Pivot, LateralMove or DripBlock
        The system.
    item : str
        Kind of reading.
    zone : str, default ""
        Zone it is read of.

    Returns
    -------
    Limits
        The number, its limits and their source; without limits, and with the key that is missing,
        where the files state no number.

    Examples
    --------
    >>> from pathlib import Path
    >>> from ringrow.farm.model import Farm
    >>> from ringrow.units import US
    >>> well = Well(name="Home well", lon=-101.5, lat=36.75, plate_v=460.0)
    >>> limits = limits_of(Farm(folder=Path(), name="F", units=US), well, "volts")
    >>> round(limits.low, 6), round(limits.high, 6), limits.source
    (414.0, 506.0, 'standard')
    """
    own = farm.tolerances
    if item in ("volts", "line-volts"):
        plate_v = getattr(thing, "plate_v", None)
        return _around(plate_v, own.volts_share, VOLTS_SHARE, "standard", "plate_volts")
    if item == "hertz":
        return _around(getattr(thing, "plate_hz", None), None, HERTZ_SHARE, "standard", "plate_hertz")
    if item == "flow":
        flow_lps = getattr(thing, "flow_lps", None)
        return _around(flow_lps, own.flow_share, FLOW_SHARE, "ours", _if_any("flow", thing))
    if item == "pressure":
        pressure_kpa = getattr(thing, "pressure_kpa", None)
        missing = _if_any("pressure", thing)
        return _around(pressure_kpa, own.pressure_share, PRESSURE_SHARE, "ours", missing)
    if item == "zone-pressure" and isinstance(thing, DripBlock):
        pressure_kpa = next((each.pressure_kpa for each in thing.zones if each.name == zone), None)
        return _around(pressure_kpa, own.pressure_share, PRESSURE_SHARE, "ours", "zone.pressure")
    return _one_sided(farm, thing, item)


def _if_any(key: str, thing: Thing) -> str:
    """Return a key that a system's table has; a well states neither flow nor pressure."""
    return "" if isinstance(thing, Well) else key


def _one_sided(farm: Farm, thing: Thing, item: str) -> Limits:
    if item == "end-pressure" and isinstance(thing, Pivot):
        if thing.regulator_kpa is None:
            return Limits(missing="regulator")
        low = thing.regulator_kpa + OVER_REGULATOR_KPA
        return Limits(design=thing.regulator_kpa, low=low, source="checklist")
    if item == "battery-volts" and isinstance(thing, Well):
        if thing.battery_v is None:
            return Limits(missing="battery_volts")
        return Limits(design=thing.battery_v, low=thing.battery_v * RESTED_SHARE, source="practice")
    if item == "filter-loss":
        most = farm.tolerances.filter_loss_kpa
        return Limits(missing="tolerances.filter_loss") if most is None else Limits(high=most, source="farm")
    return Limits()


def _around(design: float | None, stated: float | None, ours: float, source: Source, missing: str) -> Limits:
    if design is None:
        return Limits(missing=missing)
    share = ours if stated is None else stated
    return Limits(
        design=design,
        low=design * (1 - share),
        high=design * (1 + share),
        source=source if stated is None else "farm",
        share=share,
    )


def _zone_flow(farm: Farm, block: DripBlock, zone: str) -> Limits:
    from ringrow.coverage.layout import lay_out

    field = next(field for field in farm.fields if block in field.drip)
    laid = next(each for each in lay_out(field).drip if each.block.name == block.name)
    limits = zone_flow_limits(farm, laid)
    return limits.get(zone if block.zones else "", Limits(missing="zone"))


def zone_flow_limits(farm: Farm, laid: DripLayout) -> dict[str, Limits]:
    """Return what the flow of each zone of a drip block is held against.

    Parameters
    ----------
    farm : Farm
        The farm, whose files may state tolerances.
    laid : DripLayout
        The block, laid out.

    Returns
    -------
    dict of str to Limits
        By name of the zone, of a block without zones by an empty name: the flow from its tape and
        the laterals' losses as designed.
    """
    from ringrow.coverage.zone_water import block_water

    block = laid.block
    missing = "tape" if block.tape is None else "zone.pressure"
    limits = {}
    for water in block_water(laid):
        flow_lps = water.nominal_lps if water.expected is None else water.expected.flow_lps
        found = _around(flow_lps, farm.tolerances.flow_share, FLOW_SHARE, "ours", missing)
        limits[water.zone.name if block.zones else ""] = found
    return limits

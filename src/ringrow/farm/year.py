"""A year's end: acres watered, and what the meters say was put on them.

Acres come from the farm's files as they stand when the report is made; a system that did not run
is named by the user. Water comes from meter readings alone: where they do not tell two fields
apart, or there are not two of them, the volume is not known, and the report says why.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING, Literal

import shapely

from ringrow.coverage.acres import field_cover
from ringrow.errors import PlaceError
from ringrow.farm.put_away import find_system
from ringrow.farm.readings import judge
from ringrow.farm.rebuilds import day_zone
from ringrow.farm.systems import farm_systems, local_time
from ringrow.geometry.ring_repair import polygons_only

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from datetime import tzinfo

    from shapely.geometry.base import BaseGeometry

    from ringrow.coverage.field import FieldLayout
    from ringrow.equipment.put_away import ThingKind
    from ringrow.farm.model import Farm
    from ringrow.farm.records import Record
    from ringrow.farm.systems import FarmSystem

Gap = Literal["no reading", "one reading", "went back", "shared", "no meter"]
YEARS = (1900, 2200)
"""Years that are believed."""
METER = "meter"
"""The reading that a volume is made of."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MeterReading:
    """One reading of a meter.

    Parameters
    ----------
    volume_m3 : float
        What its register showed. [m3]
    day : str
        When, ISO 8601 date, in the farm's time zone.
    who, record : str
        Who read it, as stated; id of the record.
    """

    volume_m3: float
    day: str
    who: str
    record: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Meter:
    """A meter over a year.

    Parameters
    ----------
    system : str
        The well, machine or block it stands at.
    kind : {"well", "pivot", "lateral move", "drip"}
        Which of them: a well may have the name of a machine.
    readings : tuple of MeterReading
        All of the year, by time.
    volume_m3 : float or None
        Between the first and the last of them; None when that is not known. [m3]
    gap : str
        Why it is not known: ``no reading``, ``one reading`` or ``went back``; empty when it is.
    before : MeterReading or None
        The last reading before the year, where it differs from the first of the year.
    """

    system: str
    kind: ThingKind
    readings: tuple[MeterReading, ...]
    volume_m3: float | None
    gap: Gap | Literal[""]
    before: MeterReading | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Water:
    """Water put on some ground.

    Parameters
    ----------
    area_m2 : float
        Ground that its systems water. [m2]
    volume_m3 : float or None
        What the meters say; None when they do not. [m3]
    gaps : tuple of tuple of str
        What is missing, with the system or well it is about.
    """

    area_m2: float
    volume_m3: float | None
    gaps: tuple[tuple[Gap, str], ...] = ()

    @property
    def depth_mm(self) -> float | None:
        """Volume over area [mm]; None when either is missing."""
        if self.volume_m3 is None or not self.area_m2 > 0:
            return None
        return 1000.0 * self.volume_m3 / self.area_m2


@dataclass(frozen=True, slots=True, kw_only=True)
class YearRow:
    """One line of the year: a field, a crop or a well.

    Parameters
    ----------
    name : str
        The field, crop or well; empty for fields whose crop nobody said.
    crop : str
        Crop of a field; empty for a crop's own line and for a well.
    of : tuple of str
        Systems of a field; fields of a crop; systems of a well.
    water : Water
        Its acres and water.
    """

    name: str
    crop: str
    of: tuple[str, ...]
    water: Water


@dataclass(frozen=True, slots=True, kw_only=True)
class YearReport:
    """A farm's year.

    Parameters
    ----------
    farm : str
        Its name.
    year : int
        Calendar year, days in the farm's time zone.
    fields, crops, wells : tuple of YearRow
        Fields and wells in file order, crops by name.
    total : Water
        The whole farm, ground counted once.
    metered_m3 : float
        What is known of the farm's volume: the whole of it, or that of the systems whose meters tell
        it. [m3]
    zone : tzinfo
        Zone by which its days begin.
    meters : tuple of Meter
        Every well's meter, and those of machines and blocks that were read.
    watered : tuple of shapely geometry
        Farmable ground of each field that was watered, in its frame. [m]
    idle : tuple of str
        Systems, or points of a towed machine, that the user said did not run.
    """

    farm: str
    year: int
    fields: tuple[YearRow, ...]
    crops: tuple[YearRow, ...]
    wells: tuple[YearRow, ...]
    total: Water
    metered_m3: float
    zone: tzinfo
    meters: tuple[Meter, ...]
    watered: tuple[BaseGeometry, ...]
    idle: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Ground:
    """Systems that ran, the farmable ground each waters, and those that each well serves."""

    systems: Mapping[str, FarmSystem]
    wetted: Mapping[str, BaseGeometry]
    served: Mapping[str, set[str]]

    def area_m2(self, names: Iterable[str]) -> float:
        """Return the ground that some systems water, counted once in each field."""
        by_field: dict[str | None, list[BaseGeometry]] = {}
        for name in names:
            by_field.setdefault(self.systems[name].field, []).append(self.wetted[name])
        return math.fsum(shapely.union_all(shapes).area for shapes in by_field.values())

    def watered(self, names: Iterable[str]) -> BaseGeometry:
        """Return the ground that some systems of one field water."""
        return polygons_only(shapely.union_all([self.wetted[name] for name in names]))


def year_report(
    farm: Farm,
    layouts: Sequence[FieldLayout],
    records: Iterable[Record],
    *,
    year: int,
    idle: Sequence[str] = (),
) -> YearReport:
    """Return a farm's year: acres by field, crop and well, meters, volume and depth.

    Parameters
    ----------
    farm : Farm
        The farm.
    layouts : sequence of FieldLayout
        All its fields, laid out.
    records : iterable of Record
        Records of its season log.
    year : int
        Calendar year.
    idle : sequence of str, default ()
        Systems that did not run, or points at which a towed machine did not; their ground is not
        watered by them.

    Returns
    -------
    YearReport
        Sums over fields are those of the farm.

    Raises
    ------
    PlaceError
        If the year cannot be, or a system is not known.
    """
    if not YEARS[0] <= year <= YEARS[1]:
        message = f"year: found {year}; allowed: {YEARS[0]} to {YEARS[1]}"
        raise PlaceError(message)
    resting = _resting(farm, idle)
    ground = _ground(farm, layouts, set().union(*resting.values()))
    zone = day_zone(farm)
    meters = _meters(farm, records, year, zone)
    fields = []
    for layout in layouts:
        own = [name for name, system in ground.systems.items() if system.field == layout.field.name]
        water = _water(ground, meters, own)
        fields.append(YearRow(name=layout.field.name, crop=layout.field.crop, of=tuple(own), water=water))
    wells = [
        YearRow(
            name=well.name, crop="", of=served, water=_well_water(ground, meters["well", well.name], served)
        )
        for well in farm_systems(farm)
        if well.kind == "well"
        for served in [tuple(name for name in well.serves if name in ground.systems)]
    ]
    everything = _volumes(ground, meters, list(ground.systems))
    return YearReport(
        farm=farm.name,
        year=year,
        fields=tuple(fields),
        crops=tuple(_crops(ground, meters, fields)),
        wells=tuple(wells),
        total=_water(ground, meters, list(ground.systems)),
        metered_m3=math.fsum(volume for volume, _ in everything if volume is not None),
        zone=zone,
        meters=tuple(meter for (kind, _), meter in meters.items() if kind == "well" or meter.readings),
        watered=tuple(ground.watered(row.of) for row in fields),
        idle=tuple(sorted(resting)),
    )


def _resting(farm: Farm, idle: Sequence[str]) -> dict[str, set[str]]:
    """Return what did not run, by the name it was said under: a towed machine is all its points."""
    resting: dict[str, set[str]] = {}
    for said in idle:
        system = find_system(farm, said)
        if system.kind == "well":
            message = f'--idle: found the well "{system.name}"; allowed: machines and drip blocks'
            raise PlaceError(message)
        name = system.name_meant(said)
        resting[name] = set(system.names) if name == system.name else {name}
    return resting


def _ground(farm: Farm, layouts: Sequence[FieldLayout], resting: set[str]) -> _Ground:
    within = {cover.name: cover.within for layout in layouts for cover in field_cover(layout).systems}
    ran = within.keys() - resting
    systems = {
        system.name: system
        for system in farm_systems(farm)
        if system.kind != "well" and not ran.isdisjoint(system.names)
    }
    wetted = {
        system.name: shapely.union_all([within[name] for name in system.names if name in ran])
        for system in systems.values()
    }
    served = {
        well.name: {name for name in well.serves if name in systems}
        for well in farm_systems(farm)
        if well.kind == "well"
    }
    return _Ground(systems=systems, wetted=wetted, served=served)


def _meters(farm: Farm, records: Iterable[Record], year: int, zone: tzinfo) -> dict[tuple[str, str], Meter]:
    """Return the meter of every well, machine and block, by kind and name."""
    found: dict[tuple[str, str], list[MeterReading]] = {}
    for read in judge(farm, records):
        if read.item == METER:
            day = local_time(read.when, zone).date().isoformat()
            reading = MeterReading(volume_m3=read.values[0], day=day, who=read.who, record=read.record.id)
            found.setdefault((read.kind, read.system), []).append(reading)
    return {
        key: _meter(system, found.get(key, ()), year)
        for system in farm_systems(farm)
        for key in [(system.kind, system.name)]
    }


def _meter(system: FarmSystem, readings: Sequence[MeterReading], year: int) -> Meter:
    own = [reading for reading in readings if reading.day[:4] == f"{year:04d}"]
    earlier = [reading for reading in readings if reading.day[:4] < f"{year:04d}"]
    gap: Gap | Literal[""] = ""
    if len(own) < 2:
        gap = "one reading" if own else "no reading"
    elif any(after.volume_m3 < reading.volume_m3 for reading, after in pairwise(own)):
        gap = "went back"
    moved = bool(own) and bool(earlier) and earlier[-1].volume_m3 != own[0].volume_m3
    return Meter(
        system=system.name,
        kind=system.kind,
        readings=tuple(own),
        volume_m3=None if gap else own[-1].volume_m3 - own[0].volume_m3,
        gap=gap,
        before=earlier[-1] if moved else None,
    )


def _well_water(ground: _Ground, meter: Meter, served: Sequence[str]) -> Water:
    gaps: tuple[tuple[Gap, str], ...] = ((meter.gap, meter.system),) if meter.gap else ()
    return Water(area_m2=ground.area_m2(served), volume_m3=meter.volume_m3, gaps=gaps)


def _water(ground: _Ground, meters: Mapping[tuple[str, str], Meter], names: Sequence[str]) -> Water:
    found = _volumes(ground, meters, names)
    gaps = tuple(gap for _, missing in found for gap in missing)
    known = [volume for volume, _ in found if volume is not None]
    told = bool(found) and len(known) == len(found)
    return Water(
        area_m2=ground.area_m2(names), volume_m3=math.fsum(known) if told else None, gaps=() if told else gaps
    )


def _volumes(
    ground: _Ground, meters: Mapping[tuple[str, str], Meter], names: Sequence[str]
) -> list[tuple[float | None, tuple[tuple[Gap, str], ...]]]:
    """Return the water of some systems, one volume for each set of them that shares wells.

    By the wells that serve nothing else, else by the systems' own meters; else what is missing.
    """
    found: list[tuple[float | None, tuple[tuple[Gap, str], ...]]] = []
    for own, wells in _sharing(ground, names):
        gaps: list[tuple[Gap, str]] = [("no meter", name) for name in own if not ground.systems[name].wells]
        gaps += [("shared", well) for well in wells if not ground.served[well] <= set(own)]
        gaps += [(gap, well) for well in wells if (gap := meters["well", well].gap)]
        of_wells = [meters["well", well].volume_m3 for well in wells]
        of_own = [meters[ground.systems[name].kind, name].volume_m3 for name in own]
        chosen = of_own if gaps else of_wells
        known = [volume for volume in chosen if volume is not None]
        found.append((math.fsum(known), ()) if len(known) == len(chosen) else (None, tuple(gaps)))
    return found


def _sharing(ground: _Ground, names: Sequence[str]) -> list[tuple[list[str], list[str]]]:
    """Return systems in groups that have no well in common, each with its wells."""
    groups: list[tuple[list[str], list[str]]] = []
    for name in names:
        own, wells = [name], list(ground.systems[name].wells)
        apart = []
        for others, theirs in groups:
            if set(theirs) & set(wells):
                own, wells = [*others, *own], list(dict.fromkeys([*theirs, *wells]))
            else:
                apart.append((others, theirs))
        groups = [*apart, (own, wells)]
    return groups


def _crops(
    ground: _Ground, meters: Mapping[tuple[str, str], Meter], fields: Sequence[YearRow]
) -> list[YearRow]:
    rows = []
    # A crop is one crop however it is capitalised; nobody's crop stands last.
    spoken: dict[str, list[YearRow]] = {}
    for row in fields:
        spoken.setdefault(row.crop.casefold(), []).append(row)
    for _, group in sorted(spoken.items(), key=lambda item: (item[0] == "", item[0])):
        systems = [name for row in group for name in row.of]
        water = _water(ground, meters, systems)
        # Summed field by field, so that crops add up to the farm as fields do.
        water = replace(water, area_m2=math.fsum(row.water.area_m2 for row in group))
        rows.append(YearRow(name=group[0].crop, crop="", of=tuple(row.name for row in group), water=water))
    return rows

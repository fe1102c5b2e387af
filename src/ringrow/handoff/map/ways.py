"""Lines on the map that are no ground: ways of wheels, roads, bent spans, what guns keep off, machines."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from ringrow.handoff.fault_words import at_words
from ringrow.handoff.languages import _
from ringrow.handoff.map.words import WAY_WORDS
from ringrow.handoff.number_words import unit_words

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from shapely.geometry.base import BaseGeometry

    from ringrow.farm.parked import MachineLine
    from ringrow.handoff.feature_group import FeatureGroup
    from ringrow.units import UnitSystem

STANDING = "standing"
"""Kind of way of a machine that stands somewhere."""

ROAD = "pivot-road"
"""Kind of way of a road to a pivot point."""

NEAR_DEG = 6e-4
"""What guns keep off is drawn this far past a field's sides: 67 m of latitude [deg]."""

_STATIONED = ("arm-wheel-path", "cart-path")


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A point on a way with a short text beside it.

    Parameters
    ----------
    lon, lat : float
        Where it is, WGS 84. [deg]
    text : str
        Such as ``500 ft`` or the number of a tower; empty for a bare dot.
    """

    lon: float
    lat: float
    text: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Way:
    """A line worth drawing.

    Parameters
    ----------
    kind : str
        ``arm-wheel-path``, ``bent-pipe``, ``cart-path``, ``pivot-road``, ``keep-off`` or ``standing``.
    field, name : str
        Field and machine.
    shape : shapely geometry
        Longitude and latitude. [deg]
    words : str
        What a tap on it says.
    marks : tuple of Mark, default ()
        Stations or towers on it.
    """

    kind: str
    field: str
    name: str
    shape: BaseGeometry
    words: str
    marks: tuple[Mark, ...] = ()


def farm_ways(groups: Sequence[FeatureGroup], units: UnitSystem) -> list[Way]:
    """Return the lines among a farm's features.

    Parameters
    ----------
    groups : sequence of FeatureGroup
        Its features.
    units : UnitSystem
        Units of the stations: a mark each 500 ft or 150 m.

    Returns
    -------
    list of Way
        What guns keep off first, cut to the field and a little round it, then roads to pivot points,
        ways of wheels and folded-out spans.
    """
    sides = {
        group.shared["name"]: shapely.box(*_grown(shape.bounds))
        for group in groups
        if group.kind == "boundary"
        for shape in group.shapes
    }
    kept_off = [
        Way(
            kind=group.kind,
            field=group.shared["field"],
            name=group.shared["name"],
            shape=near,
            words=_(WAY_WORDS[group.kind]),
        )
        for group in groups
        if group.kind == "keep-off"
        for shape in group.shapes
        if not (near := shapely.intersection(shape, sides[group.shared["field"]])).is_empty
    ]
    ways = [way for group in groups for way in _machine_ways(group, groups, units)]
    # Roads lie under the lines that cross them.
    return [*kept_off, *sorted(ways, key=lambda way: way.kind != ROAD)]


def standing_ways(lines: Sequence[MachineLine]) -> list[Way]:
    """Return machines where they stand, as lines of numbered towers.

    Parameters
    ----------
    lines : sequence of MachineLine
        The machines.

    Returns
    -------
    list of Way
        One a machine, its towers as marks, a corner arm's wheels as one without a number.
    """
    return [
        Way(
            kind=STANDING,
            field=line.field,
            name=line.name,
            shape=shapely.LineString([(point.lon, point.lat) for point in line.points]),
            words=standing_words(line),
            marks=tuple(
                Mark(lon=point.lon, lat=point.lat, text="" if point.tower is None else str(point.tower))
                for point in line.points
                if point.what in ("tower", "arm wheels")
            ),
        )
        for line in lines
    ]


def standing_words(line: MachineLine) -> str:
    """Return where a machine stands, in one sentence.

    Parameters
    ----------
    line : MachineLine
        The machine.

    Returns
    -------
    str
        Its name, its azimuth and what the panel shows then.
    """
    at = at_words(line.azimuth_deg, line.panel_deg)
    return _(WAY_WORDS[STANDING]).format(name=line.name, at=at)


def _grown(bounds: tuple[float, float, float, float]) -> tuple[float, float, float, float]:
    west, south, east, north = bounds
    return west - NEAR_DEG, south - NEAR_DEG, east + NEAR_DEG, north + NEAR_DEG


def _machine_ways(group: FeatureGroup, groups: Sequence[FeatureGroup], units: UnitSystem) -> Iterator[Way]:
    if group.kind not in (*_STATIONED, "bent-pipe", ROAD):
        return
    for index, shape in enumerate(group.shapes):
        properties = group.properties(index)
        marks = _stations(shape, properties, units)
        if group.kind == "bent-pipe":
            # From the pivot point to the tower it turns about the machine stands as at the stop.
            first = int(properties["first_tower"])
            shape = shapely.LineString(shape.coords[first:])
            marks = _towers(properties, groups, first)
        yield Way(
            kind=group.kind,
            field=properties["field"],
            name=properties["name"],
            shape=shape,
            words=_(WAY_WORDS[_way_key(group.kind, properties)]).format(**properties),
            marks=marks,
        )


def _way_key(kind: str, properties: dict[str, Any]) -> str:
    return f"{kind}-{properties['at']}" if kind == "bent-pipe" else kind


def _stations(shape: BaseGeometry, properties: dict[str, Any], units: UnitSystem) -> tuple[Mark, ...]:
    stations = properties.get(units.key("stations_ft"))
    if not stations:
        return ()
    step = 500.0 if units.name == "us" else 150.0
    # The first place is marked too; the end only when it is not the start again.
    at = np.arange(0.0, stations[-1] - step / 4, step)
    lonlat = shapely.get_coordinates(shape)
    lon, lat = (np.interp(at, stations, lonlat[:, axis]) for axis in (0, 1))
    return tuple(
        Mark(lon=float(x), lat=float(y), text=f"{station:,.0f} {unit_words(units.length)}")
        for x, y, station in zip(lon, lat, at, strict=True)
    )


def _towers(properties: dict[str, Any], groups: Sequence[FeatureGroup], first: int) -> tuple[Mark, ...]:
    return tuple(
        Mark(lon=shape.x, lat=shape.y, text=str(number))
        for group in groups
        if group.kind == "tower"
        and all(group.shared[name] == properties[name] for name in ("field", "name", "at"))
        for number, shape in zip(group.columns["tower"], group.shapes, strict=True)
        if number > first
    )

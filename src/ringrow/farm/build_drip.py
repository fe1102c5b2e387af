"""Drip blocks from their tables: farm units to metres, bearings settled, laterals counted."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ringrow.coverage.drip_layout import block_lateral_count
from ringrow.equipment.drip import DripBlock, Tape, Zone
from ringrow.errors import DomainError
from ringrow.farm.build_pivots import scaled
from ringrow.farm.faults import number_words
from ringrow.geometry.angles import azimuth_deg, bearing_of_word, compass_point
from ringrow.geometry.curved_laterals import lay_curved_laterals
from ringrow.units import FOOT_M, US

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from ringrow.farm.rules import Desk
    from ringrow.farm.schema import DefaultsTable, DripTable, TapeTable, ZoneTable
    from ringrow.units import UnitSystem

SIDE_LEAN_DEG = 10.0
"""`number_from` must lean at least this far from the laterals, `header` from square to them [deg]."""

_COMPASS_WORDS = {
    "N": "north",
    "NE": "northeast",
    "E": "east",
    "SE": "southeast",
    "S": "south",
    "SW": "southwest",
    "W": "west",
    "NW": "northwest",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Bearings:
    heading: float
    number_from: float
    header: float
    line_point: tuple[float, float] | None
    guide: tuple[tuple[float, float], ...] | None = None


def build_drip(
    table: DripTable,
    *,
    name: str,
    key: str,
    area: BaseGeometry,
    units: UnitSystem,
    defaults: DefaultsTable,
    desk: Desk,
    line_m: NDArray[np.float64] | None = None,
) -> DripBlock | None:
    """Return a drip block in its field's frame, or note why it cannot be laid out.

    Parameters
    ----------
    table : DripTable
        The block as written.
    name, key : str
        Its name, default filled in; its key path.
    area : shapely geometry
        Ground it was laid out on. [m]
    units : UnitSystem
        The farm's units.
    defaults : DefaultsTable
        The farm's own defaults.
    desk : Desk
        Where faults go.
    line_m : ndarray, shape (n, 2), or None, default None
        Points of its guidance line; None where it states a heading. [m]

    Returns
    -------
    DripBlock or None
        The block; None when a fault was noted.
    """
    assumed: list[str] = []
    bearings = _bearings(table, line_m, key, assumed, desk)
    if bearings is None:
        return None
    spacing = table.row_spacing * table.rows_per_lateral
    own_line = bearings.line_point is not None and table.first_lateral is None
    if table.first_lateral is None and not own_line:
        half = f"{number_words(spacing / 2)} {units.small}"
        assumed.append(f"first lateral taken as {half} from the numbering edge, half the lateral spacing")
    headland = table.headland
    if headland is None:
        headland = defaults.headland or 0.0
        source = "" if defaults.headland is None else ", from [defaults]"
        assumed.append(f"headland taken as {number_words(headland)} {units.length}{source}")
    block = DripBlock(
        name=name,
        area=area,
        heading_deg=bearings.heading,
        spacing_m=spacing * units.small_m,
        number_from_deg=bearings.number_from,
        header_deg=bearings.header,
        first_lateral_m=scaled(table.first_lateral, units.small_m),
        line_point_m=bearings.line_point if own_line else None,
        guide_m=bearings.guide,
        headland_m=headland * units.length_m,
        rows_per_lateral=table.rows_per_lateral,
        depth_m=scaled(table.depth, units.small_m),
        tape=_tape(table.tape, units, assumed) if table.tape else None,
        zones=tuple(_zone(zone, number, units) for number, zone in enumerate(table.zone or [], 1)),
        fed=table.fed,
        header_elevation_m=scaled(table.header_elevation, units.length_m),
        far_elevation_m=scaled(table.far_elevation, units.length_m),
        not_under=tuple(table.not_ or ()),
        notes=table.notes,
        assumed=tuple(assumed),
    )
    return block if _zones_fit(block, key, desk) else None


def _bearings(
    table: DripTable, line_m: NDArray[np.float64] | None, key: str, assumed: list[str], desk: Desk
) -> _Bearings | None:
    heading, line_point, guide = table.heading, None, None
    if line_m is not None:
        if not _line_near(line_m, key, desk):
            return None
        chord = line_m[-1] - line_m[0]
        heading, line_point = (
            float(azimuth_deg(chord[0], chord[1])),
            (float(line_m[0, 0]), float(line_m[0, 1])),
        )
        if len(line_m) > 2:
            guide = tuple((float(x), float(y)) for x, y in line_m)
    if heading is None:
        return None
    number_from = _number_from(table.number_from, heading, key, assumed, desk)
    header = _header(table.header, heading, key, assumed, desk)
    if number_from is None or header is None:
        return None
    return _Bearings(
        heading=heading, number_from=number_from, header=header, line_point=line_point, guide=guide
    )


def _line_near(line_m: NDArray[np.float64], key: str, desk: Desk) -> bool:
    away_m = float(np.hypot(*line_m.T).max())
    length_m = float(np.hypot(*(line_m[-1] - line_m[0])))
    if not away_m <= 20_000:
        found = f"a guidance line {away_m / 1000:.0f} km from the field"
        desk.fault(f"{key}.line", found, "a line in or near the field", "west longitudes are negative")
    elif length_m < 1.0:
        found = f"a guidance line whose ends lie {length_m:.2f} m apart"
        desk.fault(
            f"{key}.line", found, "two places a good way apart, best the whole field", "give its two ends"
        )
    else:
        return True
    return False


def side_bearing(side: str | float) -> float:
    """Return the bearing of a side given as a compass word or in degrees.

    Parameters
    ----------
    side : str or float
        Compass word, or degrees. [deg]

    Returns
    -------
    float
        Bearing clockwise from north. [deg]

    Examples
    --------
    >>> side_bearing("west"), side_bearing(12.5)
    (270.0, 12.5)
    """
    return bearing_of_word(side) if isinstance(side, str) else float(side)


def _lean(a: float, b: float) -> float:
    """Return the angle between two undirected lines, 0 to 90 [deg]."""
    return abs((a - b + 90.0) % 180.0 - 90.0)


def _number_from(
    side: str | float | None, heading: float, key: str, assumed: list[str], desk: Desk
) -> float | None:
    if side is None:
        word = "west" if _lean(heading, 0.0) <= 45.0 else "north"
        assumed.append(f"laterals numbered from the {word}")
        return side_bearing(word)
    bearing = side_bearing(side)
    if _lean(bearing, heading) < SIDE_LEAN_DEG:
        found = f"{_side_words(side)}, where the laterals point (heading {number_words(heading)})"
        allowed = f"a side at least {SIDE_LEAN_DEG:g} degrees off the laterals"
        desk.fault(f"{key}.number_from", found, allowed, "say on which side lateral 1 lies")
        return None
    return bearing


def _header(
    side: str | float | None, heading: float, key: str, assumed: list[str], desk: Desk
) -> float | None:
    back = (heading + 180.0) % 360.0
    if side is None:
        assumed.append(
            f"header taken at the {_COMPASS_WORDS[compass_point(back)]} end, where the heading starts"
        )
        return back
    bearing = side_bearing(side)
    if _lean(bearing, heading) > 90.0 - SIDE_LEAN_DEG:
        found = f"{_side_words(side)}, square to the laterals (heading {number_words(heading)})"
        desk.fault(f"{key}.header", found, "an end of the laterals", "say at which end the header pipe lies")
        return None
    return heading if math.cos(math.radians(bearing - heading)) > 0 else back


def _side_words(side: str | float) -> str:
    return f'"{side}"' if isinstance(side, str) else number_words(side)


def _tape(table: TapeTable, units: UnitSystem, assumed: list[str]) -> Tape:
    if table.exponent is None:
        assumed.append("emitter exponent taken as 0.5")
    per_m = None
    if table.flow_per_100ft is not None:
        # A roll's label says gallons per minute per 100 ft whatever units the farm uses.
        per_m = table.flow_per_100ft * US.flow_lps / (100 * FOOT_M)
    elif table.flow_per_m is not None:
        per_m = table.flow_per_m / 3600

    return Tape(
        inside_diameter_m=scaled(table.inside_diameter, units.small_m),
        emitter_spacing_m=scaled(table.emitter_spacing, units.small_m),
        emitter_flow_lps=scaled(table.emitter_flow, units.emitter_lps),
        flow_lps_per_m=per_m,
        at_pressure_kpa=scaled(table.at_pressure, units.pressure_kpa),
        exponent=0.5 if table.exponent is None else table.exponent,
        cv=table.cv,
    )


def _zone(table: ZoneTable, number: int, units: UnitSystem) -> Zone:
    first, last = table.laterals
    return Zone(
        name=table.name or f"zone {number}",
        first=first,
        last=last,
        valve=table.valve,
        pressure_kpa=scaled(table.pressure, units.pressure_kpa),
    )


def _zones_fit(block: DripBlock, key: str, desk: Desk) -> bool:
    """Note zones past the last lateral (faults) and laterals in no zone (a warning)."""
    count = _lateral_count(block, key, desk)
    if count is None:
        return False
    if count == 0:
        found = f"laterals {block.spacing_m:.2f} m apart on an area too narrow for one"
        desk.fault(key, found, "an area that holds a lateral", "look at area, row_spacing and first_lateral")
        return False
    good = True
    for number, zone in enumerate(block.zones, 1):
        if zone.last > count:
            found = f"laterals {zone.first} to {zone.last}, but the block has {count}"
            where = f"{key}.zone[{number}].laterals"
            desk.fault(where, found, f"numbers from 1 to {count}", "count them again, or look at row_spacing")
            good = False
    free = sorted(set(range(1, count + 1)).difference(*(range(z.first, z.last + 1) for z in block.zones)))
    if block.zones and good and free:
        found = f"{len(free)} of {count} laterals in no zone ({_runs(free)})"
        desk.warning(f"{key}.zone", found, "every lateral in a zone", "give them to a zone")
    return good


def _lateral_count(block: DripBlock, key: str, desk: Desk) -> int | None:
    """Return the highest lateral number; None when the guidance line cannot be followed."""
    if block.guide_m is None:
        return block_lateral_count(block)
    try:
        # Laid in full: whether curves fold up within the block shows only then.
        grid = lay_curved_laterals(
            block.area,
            block.area,
            guide_m=block.guide_m,
            number_from_deg=block.number_from_deg,
            header_deg=block.header_deg,
            spacing_m=block.spacing_m,
            first_lateral_m=block.first_lateral_m,
            headland_m=block.headland_m,
        )
    except DomainError as error:
        found, _, rest = str(error).partition("found ")[2].partition("; allowed: ")
        allowed, _, hint = rest.partition("; ")
        desk.fault(f"{key}.line", found, allowed, hint)
        return None
    return grid.count


def _runs(numbers: list[int]) -> str:
    """Return rising numbers as runs: ``1-3, 7``."""
    array = np.array(numbers)
    runs = np.split(array, np.flatnonzero(np.diff(array) > 1) + 1)
    words = [str(run[0]) if len(run) == 1 else f"{run[0]}-{run[-1]}" for run in runs[:5]]
    return ", ".join(words) + (" ..." if len(runs) > 5 else "")

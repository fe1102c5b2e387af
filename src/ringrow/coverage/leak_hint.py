"""Where to dig for a leak: which laterals it may be, how wide and how far along to look, what to shut."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from ringrow.coverage.chances import LAYING_SIGMA_M, lateral_chances
from ringrow.coverage.places import Candidate
from ringrow.coverage.zone_water import zone_grid
from ringrow.equipment.drip import Zone
from ringrow.errors import PlaceError
from ringrow.geometry.angles import azimuth_deg
from ringrow.geometry.laterals import nearest_pieces, piece_name, points_on

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike

    from ringrow.coverage.field import DripLayout
    from ringrow.equipment.drip import Tape
    from ringrow.equipment.well import Well
    from ringrow.geometry.laterals import CurvedGrid, LateralGrid

TWO_SIDED = 1.96
"""Spreads on either side that hold 95 % of a normal law. [-]"""
LAID_WITHIN_M = TWO_SIDED * LAYING_SIGMA_M
"""95 % of laid tape lies within this of its plan, either side [m]."""
LEAST_HOLES = 5
"""Holes that must have been dug before their own record says where to look. [-]"""
_STEP_M = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class HoleRecord:
    """How far the farm's own holes lay from their wet spots.

    Parameters
    ----------
    holes : int
        Holes dug. [-]
    median_m : float
        Half of them lay nearer than this to the wet spot. [m]
    low_m, high_m : float
        The middle half of them lay between these. [m]
    """

    holes: int
    median_m: float
    low_m: float
    high_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Shut:
    """A zone that may have to be shut before anybody digs.

    Parameters
    ----------
    zone, valve : str
        The zone and its valve; the valve may be empty.
    chance : float
        Chance that the leak is on one of its laterals. [-]
    """

    zone: str
    valve: str
    chance: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LeakHint:
    """What a crew needs to find and mend a leak seen from above.

    Parameters
    ----------
    block : str
        The drip block.
    lateral : int
        Likeliest lateral. [-]
    piece : str or None
        Its piece nearest to the place; None when it is in one piece.
    candidates : tuple of Candidate
        Smallest set of laterals that holds 95 %, likeliest first; less when `elsewhere` is large.
    elsewhere : float
        Chance that it belongs to no lateral near. [-]
    offset_m : float
        From the likeliest lateral's line to the place, positive toward higher numbers. [m]
    band_m : tuple of float
        Ground to open across the laterals, from the place, negative toward lower numbers: from the
        lowest candidate to the highest, and the spread of laid tape on both sides. [m]
    station_m : float
        Station on the likeliest lateral. [m]
    station_range_m : tuple of float
        Stations that hold 95 %, by the fix alone. [m]
    end : {"header", "far"}
        Nearer end of the lateral.
    end_m : float
        Distance along the lateral to that end. [m]
    header_bearing_deg : float
        Frame bearing along the lateral toward the header. [deg]
    uphill : {"header", "far"} or None
        End toward which the ground rises; None when not known or level.
    zone_edge_m : float or None
        Distance across to the nearest edge of the zone; None without zones. [m]
    zone_edge_rows : int or None
        Crop rows between the lateral's own and that edge; None as above. [-]
    beyond_edge : str or None
        Zone on the other side of that edge; None where the block ends there.
    shut : tuple of Shut
        Zones of the candidates, likeliest first.
    wells : tuple of Well
        Wells that water the block.
    rows : tuple of int
        First and last crop row that the likeliest lateral waters, 1 at the numbering edge. [-]
    rows_from : {"numbering edge", "opposite edge"}
        Edge of the block that is fewer rows away.
    rows_edge_deg : float
        Frame bearing toward that edge. [deg]
    rows_between : int
        Rows between that edge and the lateral's own. [-]
    depth_m : float or None
        Depth of the tape. [m]
    tape : Tape or None
        The tape, for couplings.
    record : HoleRecord or None
        The farm's own record; None before five holes.
    """

    block: str
    lateral: int
    piece: str | None
    candidates: tuple[Candidate, ...]
    elsewhere: float
    offset_m: float
    band_m: tuple[float, float]
    station_m: float
    station_range_m: tuple[float, float]
    end: Literal["header", "far"]
    end_m: float
    header_bearing_deg: float
    uphill: Literal["header", "far"] | None
    zone_edge_m: float | None
    zone_edge_rows: int | None
    beyond_edge: str | None
    shut: tuple[Shut, ...]
    wells: tuple[Well, ...]
    rows: tuple[int, int]
    rows_from: Literal["numbering edge", "opposite edge"]
    rows_edge_deg: float
    rows_between: int
    depth_m: float | None
    tape: Tape | None
    record: HoleRecord | None


def leak_hint(
    layout: DripLayout,
    point_m: tuple[float, float],
    *,
    sigma_m: float,
    lateral: int | None = None,
    wells: Sequence[Well] = (),
    record: HoleRecord | None = None,
) -> LeakHint | None:
    """Return where to dig for a leak that shows at a place.

    Parameters
    ----------
    layout : DripLayout
        The block, laid out.
    point_m : tuple of float
        Where the water shows (x, y). [m]
    sigma_m : float
        One-axis spread of the fix, 0 or more. [m]
    lateral : int or None, default None
        Lateral, where somebody knows it: then it alone is a candidate. [-]
    wells : sequence of Well, default ()
        The farm's wells.
    record : HoleRecord or None, default None
        The farm's own record of holes; left aside before five.

    Returns
    -------
    LeakHint or None
        What the crew needs; None where the block has no tape, or none within reach of the fix.

    Raises
    ------
    PlaceError
        If `lateral` holds no tape.

    Notes
    -----
    Water runs along the slot the tape was laid in before it shows, so a hole may lie well outside
    the station range: that range says how well the place is known, not how far water ran.
    """
    grid, block = layout.grid, layout.block
    x, y = point_m
    near = nearest_pieces(grid, [x], [y])
    if not near.lateral[0]:
        return None
    candidates, elsewhere = _candidates(layout, point_m, sigma_m, lateral)
    if not candidates:
        return None
    best = candidates[0].lateral
    if best != near.lateral[0]:
        near = nearest_pieces(_alone(layout, best), [x], [y])
    row = best - 1
    station = float(near.station_m[0])
    length = float(grid.station_end_m[row] - grid.station_zero_m[row])
    spread = TWO_SIDED * sigma_m
    across = [float(near.offset_m[0]) - (each.lateral - best) * grid.spacing_m for each in candidates]
    to_header = station <= length - station
    edge_m, edge_rows, beyond = _zone_edge(layout, best, float(near.offset_m[0]))
    rows = _rows(layout, best)
    return LeakHint(
        block=block.name,
        lateral=best,
        piece=piece_name(int(near.letter[0])) if grid.pieces_per_lateral[row] > 1 else None,
        candidates=candidates,
        elsewhere=elsewhere,
        offset_m=float(near.offset_m[0]),
        band_m=(-max(across) - LAID_WITHIN_M, -min(across) + LAID_WITHIN_M),
        station_m=station,
        station_range_m=(max(station - spread, 0.0), min(station + spread, length)),
        end="header" if to_header else "far",
        end_m=station if to_header else length - station,
        header_bearing_deg=_toward_header(layout, best, station, length),
        uphill=_uphill(layout),
        zone_edge_m=edge_m,
        zone_edge_rows=edge_rows,
        beyond_edge=beyond,
        shut=_shut(layout, candidates),
        wells=tuple(well for well in wells if block.name in well.serves),
        rows=rows.own,
        rows_from=rows.edge,
        rows_edge_deg=(block.number_from_deg + (180.0 if rows.edge == "opposite edge" else 0.0)) % 360.0,
        rows_between=rows.between,
        depth_m=block.depth_m,
        tape=block.tape,
        record=record if record is not None and record.holes >= LEAST_HOLES else None,
    )


def hole_record(distances_m: ArrayLike) -> HoleRecord | None:
    """Return how far holes lay from their wet spots.

    Parameters
    ----------
    distances_m : array_like, shape (n,)
        Distance from each wet spot to its hole. [m]

    Returns
    -------
    HoleRecord or None
        Median and quartiles; None without any hole.

    Examples
    --------
    >>> hole_record([0.5, 1.0, 2.0, 4.0, 9.0])
    HoleRecord(holes=5, median_m=2.0, low_m=1.0, high_m=4.0)
    """
    distances = np.asarray(distances_m, float)
    if not distances.size:
        return None
    low, median, high = np.percentile(distances, [25.0, 50.0, 75.0])
    return HoleRecord(holes=distances.size, median_m=float(median), low_m=float(low), high_m=float(high))


def _candidates(
    layout: DripLayout, point_m: tuple[float, float], sigma_m: float, lateral: int | None
) -> tuple[tuple[Candidate, ...], float]:
    if lateral is None:
        found = lateral_chances(layout.grid, [point_m[0]], [point_m[1]], sigma_m)
        return found.candidates()[0], float(found.elsewhere[0])
    if not np.any(layout.grid.piece_lateral == lateral):
        message = f"lateral: found {lateral}, a number without tape; allowed: a lateral that holds tape"
        raise PlaceError(message)
    return (Candidate(lateral=lateral, chance=1.0),), 0.0


def _alone(layout: DripLayout, lateral: int) -> LateralGrid | CurvedGrid:
    """Return the laterals with the tape of one alone."""
    return zone_grid(layout.grid, Zone(name="", first=lateral, last=lateral))


def _toward_header(layout: DripLayout, lateral: int, station_m: float, length_m: float) -> float:
    grid, zero = layout.grid, layout.grid.station_zero_m[lateral - 1]
    far = min(station_m + _STEP_M, length_m)
    s = np.array([max(far - 2.0 * _STEP_M, 0.0), far]) + zero
    (x1, y1), (x2, y2) = points_on(grid, np.array([lateral, lateral]), s)
    return float(azimuth_deg(x1 - x2, y1 - y2))


def _uphill(layout: DripLayout) -> Literal["header", "far"] | None:
    header, far = layout.block.header_elevation_m, layout.block.far_elevation_m
    if header is None or far is None or header == far:
        return None
    return "header" if header > far else "far"


def _zone_edge(
    layout: DripLayout, lateral: int, offset_m: float
) -> tuple[float | None, int | None, str | None]:
    """Return how far the nearest edge of the lateral's zone is, rows to it, and the zone beyond it."""
    zone = layout.block.zone_of(lateral)
    if zone is None:
        return None, None, None
    spacing_m = layout.grid.spacing_m
    below = (lateral - zone.first + 0.5) * spacing_m + offset_m
    above = (zone.last - lateral + 0.5) * spacing_m - offset_m
    laterals = lateral - zone.first if below < above else zone.last - lateral
    other = layout.block.zone_of(zone.first - 1 if below < above else zone.last + 1)
    rows = round(laterals * layout.block.rows_per_lateral)
    return max(min(below, above), 0.0), rows, other.name if other else None


def _shut(layout: DripLayout, candidates: tuple[Candidate, ...]) -> tuple[Shut, ...]:
    chances: dict[tuple[str, str], float] = {}
    for each in candidates:
        zone = layout.block.zone_of(each.lateral)
        key = (zone.name, zone.valve) if zone else ("", "")
        chances[key] = chances.get(key, 0.0) + each.chance
    found = [Shut(zone=zone, valve=valve, chance=chance) for (zone, valve), chance in chances.items()]
    return tuple(sorted(found, key=lambda shut: -shut.chance))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Rows:
    own: tuple[int, int]
    edge: Literal["numbering edge", "opposite edge"]
    between: int


def _rows(layout: DripLayout, lateral: int) -> _Rows:
    """Return the crop rows a lateral waters, and how many lie between it and the nearer edge."""
    each = layout.block.rows_per_lateral
    first = math.floor((lateral - 1) * each + 1e-9) + 1
    last = max(math.floor(lateral * each + 1e-9), first)
    total = max(math.floor(layout.grid.count * each + 1e-9), last)
    if first - 1 <= total - last:
        return _Rows(own=(first, last), edge="numbering edge", between=first - 1)
    return _Rows(own=(first, last), edge="opposite edge", between=total - last)

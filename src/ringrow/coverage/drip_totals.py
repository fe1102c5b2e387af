"""What a drip block holds, zone by zone, how its counts close, and where its header and flush lines run."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
import shapely

from ringrow.coverage.drip_layout import TapeTotals, tape_totals
from ringrow.coverage.zone_water import WHOLE_BLOCK, zone_grid
from ringrow.equipment.drip import Zone
from ringrow.geometry.laterals import CurvedGrid, points_on
from ringrow.geometry.strips import strips_union

if TYPE_CHECKING:
    from shapely import LineString

    from ringrow.coverage.field import DripLayout
    from ringrow.equipment.drip import DripBlock

NO_ZONE = "in no zone"
"""Name of the row of laterals that belong to no zone."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ZoneTotals:
    """What one zone of a block holds.

    Parameters
    ----------
    name, valve : str
        Zone and valve; the valve may be empty.
    first, last : int or None
        First and last lateral number, both in; None for laterals in no zone. [-]
    tape : TapeTotals
        Laterals, pieces, length and emitters.
    strips_m2 : float
        Tape times spacing. [m2]
    wetted_m2 : float
        Ground wetted: the union of its strips, cut to the block's ground. [m2]
    """

    name: str
    valve: str
    first: int | None
    last: int | None
    tape: TapeTotals
    strips_m2: float
    wetted_m2: float

    @property
    def cut_m2(self) -> float:
        """Part of the strips that falls past the ground's edges [m2]; negative: rounding alone."""
        return self.strips_m2 - self.wetted_m2


@dataclass(frozen=True, slots=True, kw_only=True)
class DripTotals:
    """What a block holds, and how its counts close.

    ``numbers * spacing_m + near_edge_m + far_edge_m = width_m``: what is left at either edge is
    bare where it is above 0, and the part of a half strip past the edge where it is below.

    Parameters
    ----------
    field_name : str
        Field the block lies in.
    block : DripBlock
        The block.
    numbers : int
        Highest lateral number. [-]
    width_m : float
        Width across the laterals, from the numbering edge to the opposite edge. [m]
    near_edge_m, far_edge_m : float
        Left at the numbering edge and at the opposite edge. [m]
    ground_m2 : float
        Ground the tape lies in: the block less exclusions and less what pivots take. [m2]
    whole : ZoneTotals
        The block as a whole.
    zones : tuple of ZoneTotals
        Its zones, then the laterals in no zone if there are any; empty for a block without zones.
    """

    field_name: str
    block: DripBlock
    numbers: int
    width_m: float
    near_edge_m: float
    far_edge_m: float
    ground_m2: float
    whole: ZoneTotals
    zones: tuple[ZoneTotals, ...]

    @property
    def bare_m2(self) -> float:
        """Ground of the block that no strip wets: headlands, edges, the teeth at slanting ends [m2]."""
        return self.ground_m2 - self.whole.wetted_m2


@dataclass(frozen=True, slots=True, kw_only=True)
class EndLine:
    """The header or the flush line of a zone, as the ends of its laterals lie.

    Parameters
    ----------
    kind : {"header", "flush line"}
        Through the ends where stations begin, or through the far ends.
    zone, valve : str
        The zone and its valve; the valve may be empty.
    first, last : int
        First and last lateral with tape on it. [-]
    line : shapely LineString
        The line, from the first lateral to the last. [m]
    """

    kind: Literal["header", "flush line"]
    zone: str
    valve: str
    first: int
    last: int
    line: LineString


def drip_totals(layout: DripLayout, *, field_name: str) -> DripTotals:
    """Return what a drip block holds, zone by zone.

    Parameters
    ----------
    layout : DripLayout
        The block, laid out.
    field_name : str
        Field it lies in.

    Returns
    -------
    DripTotals
        Laterals, tape, emitters and acres of the block and its zones, and how they close.

    Raises
    ------
    DomainError
        If the tape's emitter spacing is not above 0.
    """
    block, grid = layout.block, layout.grid
    whole = Zone(name=WHOLE_BLOCK, first=1, last=max(grid.count, 1))
    width_m = _width(layout)
    near_m = grid.first_m - grid.spacing_m / 2.0
    rows = [_zone(layout, zone) for zone in block.zones]
    own = _zone(layout, whole)
    if block.zones:
        rows += _rest(own, rows)
    return DripTotals(
        field_name=field_name,
        block=block,
        numbers=grid.count,
        width_m=width_m,
        near_edge_m=near_m if grid.count else width_m,
        far_edge_m=width_m - near_m - grid.count * grid.spacing_m if grid.count else 0.0,
        ground_m2=float(layout.ground.area),
        whole=own,
        zones=tuple(rows),
    )


def end_lines(layout: DripLayout) -> list[EndLine]:
    """Return the header and the flush line of every zone of a block.

    Parameters
    ----------
    layout : DripLayout
        The block, laid out.

    Returns
    -------
    list of EndLine
        For each zone its header, then its flush line; none for a zone with fewer than two laterals
        with tape. A block without zones counts as one.
    """
    grid = layout.grid
    zones = layout.block.zones or (Zone(name=WHOLE_BLOCK, first=1, last=max(grid.count, 1)),)
    held = np.unique(grid.piece_lateral)
    found = []
    for zone in zones:
        lateral = held[(held >= zone.first) & (held <= zone.last)]
        if len(lateral) < 2:
            continue
        ends: tuple[tuple[Literal["header", "flush line"], np.ndarray], ...] = (
            ("header", grid.station_zero_m[lateral - 1]),
            ("flush line", grid.station_end_m[lateral - 1]),
        )
        found += [
            EndLine(
                kind=kind,
                zone=zone.name,
                valve=zone.valve,
                first=int(lateral[0]),
                last=int(lateral[-1]),
                line=shapely.LineString(points_on(grid, lateral, s)),
            )
            for kind, s in ends
        ]
    return found


def _width(layout: DripLayout) -> float:
    grid = layout.grid
    if isinstance(grid, CurvedGrid):
        return max(grid.block_width_m, 0.0)
    across = grid.coordinates(*shapely.get_coordinates(layout.block.area).T)[1]
    return float(across.max(initial=0.0))


def _zone(layout: DripLayout, zone: Zone) -> ZoneTotals:
    block = layout.block
    emitter_m = block.tape.emitter_spacing_m if block.tape else None
    tape = tape_totals(layout.grid, first=zone.first, last=zone.last, emitter_spacing_m=emitter_m)
    whole = zone.first <= 1 and zone.last >= layout.grid.count
    wetted = layout.wetted if whole else strips_union(zone_grid(layout.grid, zone), layout.ground)
    return ZoneTotals(
        name=zone.name,
        valve=zone.valve,
        first=zone.first,
        last=zone.last,
        tape=tape,
        strips_m2=tape.length_m * block.spacing_m,
        wetted_m2=float(wetted.area),
    )


def _rest(whole: ZoneTotals, zones: list[ZoneTotals]) -> list[ZoneTotals]:
    """Return the row of laterals in no zone; none when zones hold them all."""
    tape = [zone.tape for zone in zones]
    if sum(each.laterals for each in tape) >= whole.tape.laterals:
        return []
    emitters = whole.tape.emitters
    if emitters is not None:
        emitters -= sum(each.emitters or 0 for each in tape)
    return [
        ZoneTotals(
            name=NO_ZONE,
            valve="",
            first=None,
            last=None,
            tape=TapeTotals(
                laterals=whole.tape.laterals - sum(each.laterals for each in tape),
                pieces=whole.tape.pieces - sum(each.pieces for each in tape),
                length_m=whole.tape.length_m - sum(each.length_m for each in tape),
                emitters=emitters,
            ),
            strips_m2=whole.strips_m2 - sum(zone.strips_m2 for zone in zones),
            wetted_m2=whole.wetted_m2 - sum(zone.wetted_m2 for zone in zones),
        )
    ]

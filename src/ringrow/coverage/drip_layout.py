"""A drip block on its field's ground: laterals, wetted ground, and how much tape there is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from ringrow.coverage.field import DripLayout
from ringrow.errors import DomainError
from ringrow.geometry.curved_laterals import curved_count, lay_curved_laterals
from ringrow.geometry.laterals import emitters_in_pieces, lateral_count, lateral_lengths_m, lay_laterals
from ringrow.geometry.strips import strips_union

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from ringrow.coverage.field import Field
    from ringrow.equipment.drip import DripBlock
    from ringrow.geometry.laterals import CurvedGrid, LateralGrid, LateralRows


@dataclass(frozen=True, slots=True, kw_only=True)
class TapeTotals:
    """How much tape a run of laterals holds.

    Parameters
    ----------
    laterals : int
        Lateral numbers with any tape. [-]
    pieces : int
        Pieces of tape. [-]
    length_m : float
        Tape laid. [m]
    emitters : int or None
        Emitters on it; None when their spacing is not known. [-]
    """

    laterals: int
    pieces: int
    length_m: float
    emitters: int | None


def lay_out_drip(field: Field, block: DripBlock, *, under: BaseGeometry) -> DripLayout:
    """Return the laterals and the wetted ground of one drip block.

    Parameters
    ----------
    field : Field
        The field the block lies in.
    block : DripBlock
        The block as described.
    under : shapely geometry
        Wetted ground of the pivots under which no tape lies (`block.not_under`), as one
        shape; empty for none. [m]

    Returns
    -------
    DripLayout
        Ground, laterals and wetted ground.

    Raises
    ------
    DomainError
        If the block's spacing, first lateral or headland cannot be, or its curved laterals would
        fold up or cross within it.
    """
    ground = block.area
    for taken in (field.exclusions, under):
        if not taken.is_empty:
            ground = shapely.difference(ground, taken)
    grid = _lay(block, ground)
    return DripLayout(block=block, ground=ground, grid=grid, wetted=strips_union(grid, ground))


def _lay(block: DripBlock, ground: BaseGeometry) -> LateralGrid | CurvedGrid:
    if block.guide_m is None:
        return lay_laterals(
            block.area,
            ground,
            heading_deg=block.heading_deg,
            number_from_deg=block.number_from_deg,
            header_deg=block.header_deg,
            spacing_m=block.spacing_m,
            first_lateral_m=block.first_lateral_m,
            line_point_m=block.line_point_m,
            headland_m=block.headland_m,
        )
    try:
        return lay_curved_laterals(
            block.area,
            ground,
            guide_m=block.guide_m,
            number_from_deg=block.number_from_deg,
            header_deg=block.header_deg,
            spacing_m=block.spacing_m,
            first_lateral_m=block.first_lateral_m,
            headland_m=block.headland_m,
        )
    except DomainError as error:
        message = f'drip block "{block.name}": {error}'
        raise DomainError(message) from error


def block_lateral_count(block: DripBlock) -> int:
    """Return the highest lateral number of a block, without laying it out.

    Parameters
    ----------
    block : DripBlock
        The block as described.

    Returns
    -------
    int
        Highest lateral number; zones may name 1 to this. [-]

    Raises
    ------
    DomainError
        If the block's spacing, first lateral or guidance line cannot be.
    """
    if block.guide_m is not None:
        return curved_count(
            block.area,
            guide_m=block.guide_m,
            number_from_deg=block.number_from_deg,
            spacing_m=block.spacing_m,
            first_lateral_m=block.first_lateral_m,
        )
    return lateral_count(
        block.area,
        heading_deg=block.heading_deg,
        number_from_deg=block.number_from_deg,
        spacing_m=block.spacing_m,
        first_lateral_m=block.first_lateral_m,
        line_point_m=block.line_point_m,
    )


def tape_totals(
    grid: LateralRows,
    *,
    first: int = 1,
    last: int | None = None,
    emitter_spacing_m: float | None = None,
) -> TapeTotals:
    """Return how much tape laterals `first` to `last` hold, both in.

    Parameters
    ----------
    grid : LateralRows
        The laterals of the block.
    first : int, default 1
        Lowest lateral number. [-]
    last : int or None, default None
        Highest lateral number; None = all from `first`. [-]
    emitter_spacing_m : float or None, default None
        Distance between emitters, when known. [m]

    Returns
    -------
    TapeTotals
        Laterals with tape, pieces, length and emitters.

    Raises
    ------
    DomainError
        If `emitter_spacing_m` is not above 0.

    Examples
    --------
    >>> from ringrow.geometry.laterals import lay_laterals
    >>> block = shapely.box(0, 0, 100, 6)
    >>> grid = lay_laterals(block, block, heading_deg=90, number_from_deg=0, header_deg=270, spacing_m=3)
    >>> tape_totals(grid, emitter_spacing_m=0.5)
    TapeTotals(laterals=2, pieces=2, length_m=200.0, emitters=400)
    """
    last = grid.count if last is None else last
    within = (grid.piece_lateral >= first) & (grid.piece_lateral <= last)
    emitters = None
    if emitter_spacing_m is not None:
        lowest, highest = emitters_in_pieces(grid, emitter_spacing_m)
        emitters = int(np.maximum(highest - lowest + 1, 0)[within].sum())
    lengths_m = lateral_lengths_m(grid)[max(first - 1, 0) : max(last, 0)]
    return TapeTotals(
        laterals=int(np.count_nonzero(lengths_m)),
        pieces=int(np.count_nonzero(within)),
        length_m=float(lengths_m.sum()),
        emitters=emitters,
    )

"""A field with the wetted ground of every system in it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import shapely

from ringrow.coverage.drip_layout import lay_out_drip
from ringrow.coverage.field import FieldLayout
from ringrow.coverage.lateral_move_layout import lay_out_lateral_move
from ringrow.coverage.pivot_layout import lay_out_pivot
from ringrow.errors import GeometryError

if TYPE_CHECKING:
    from collections.abc import Mapping

    from shapely.geometry.base import BaseGeometry

    from ringrow.coverage.field import Field
    from ringrow.equipment.drip import DripBlock


def lay_out(field: Field) -> FieldLayout:
    """Return a field with the wetted ground of its pivots, lateral moves and drip blocks.

    Parameters
    ----------
    field : Field
        The field.

    Returns
    -------
    FieldLayout
        Farmable ground and one layout for each pivot, lateral move and drip block, in their order.

    Raises
    ------
    GeometryError
        If a drip block leaves out the ground of a machine that the field does not have.
    """
    farmable = shapely.difference(field.boundary, field.exclusions)
    pivots = tuple(lay_out_pivot(field, pivot, farmable) for pivot in field.pivots)
    moves = tuple(lay_out_lateral_move(move) for move in field.lateral_moves)
    wetted = {layout.name: layout.wetted for layout in pivots}
    wetted |= {layout.name: layout.wetted for layout in moves}
    for layout in pivots:
        # A towed machine's name stands for all its points.
        if layout.pivot.machine:
            wetted[layout.pivot.machine] = shapely.union_all(
                [other.wetted for other in pivots if other.pivot.machine == layout.pivot.machine]
            )
    drip = tuple(lay_out_drip(field, block, under=_under(block, wetted)) for block in field.drip)
    return FieldLayout(field=field, farmable=farmable, pivots=pivots, drip=drip, lateral_moves=moves)


def _under(block: DripBlock, wetted: Mapping[str, BaseGeometry]) -> BaseGeometry:
    """Return the machines' ground that a block leaves out."""
    unknown = [name for name in block.not_under if name not in wetted]
    if unknown:
        message = (
            f'drip block "{block.name}" not: found "{unknown[0]}"; '
            f"allowed: a pivot of the same field ({', '.join(wetted) or 'it has none'})"
        )
        raise GeometryError(message)
    return shapely.union_all([wetted[name] for name in block.not_under])

"""Whether tillage comes too near to buried tape."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ringrow.coverage.field import Field

TILLAGE_CLEAR_M = 4 * 0.0254
"""Ground that tillage should leave over the tape [m]: 4 in, common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TillageNear:
    """A block whose tape the field's tillage comes near.

    Parameters
    ----------
    block : str
        Name of the drip block.
    tillage_depth_m, tape_depth_m : float
        Deepest tillage, and the depth of the tape. [m]
    """

    block: str
    tillage_depth_m: float
    tape_depth_m: float

    @property
    def clear_m(self) -> float:
        """Ground left between tillage and tape; below 0 where tillage goes deeper [m]."""
        return self.tape_depth_m - self.tillage_depth_m


def tillage_near(field: Field) -> list[TillageNear]:
    """Return the drip blocks whose tape lies less than 4 in below the field's tillage.

    Parameters
    ----------
    field : Field
        The field.

    Returns
    -------
    list of TillageNear
        Such blocks in their order; empty where tillage or tape depth is not stated.

    Examples
    --------
    >>> import shapely
    >>> from ringrow.coverage.field import Field
    >>> from ringrow.equipment.drip import DripBlock
    >>> from ringrow.frame import Frame
    >>> ground = shapely.box(0, 0, 400, 400)
    >>> block = DripBlock(name="D1", area=ground, heading_deg=90, spacing_m=1.524, number_from_deg=0,
    ...                   header_deg=270, depth_m=0.3048)
    >>> field = Field(name="F1", frame=Frame(lon=-101.5, lat=36.75), boundary=ground, drip=(block,),
    ...               tillage_depth_m=0.2286)
    >>> [(near.block, round(near.clear_m / 0.0254)) for near in tillage_near(field)]
    [('D1', 3)]
    """
    if field.tillage_depth_m is None:
        return []
    found = [
        TillageNear(block=block.name, tillage_depth_m=field.tillage_depth_m, tape_depth_m=block.depth_m)
        for block in field.drip
        if block.depth_m is not None
    ]
    # Depths come from whole inches: 12 in less 8 in must be 4 in, not a hair under.
    return [near for near in found if near.clear_m < TILLAGE_CLEAR_M - 1e-9]

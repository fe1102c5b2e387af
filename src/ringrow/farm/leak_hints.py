"""The dig hint of a flag: its block, its place and its fix brought together."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ringrow.coverage.leak_hint import leak_hint
from ringrow.farm.flag_model import DripSpot, GroundSpot

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ringrow.coverage.field import FieldLayout
    from ringrow.coverage.leak_hint import HoleRecord, LeakHint
    from ringrow.farm.flag_model import LocatedFlag
    from ringrow.farm.model import Farm

DIG_KINDS = ("leak", "wet-spot", "burrow")
"""Kinds of flag on drip ground that somebody may dig at."""


def flag_leak_hint(
    flag: LocatedFlag, farm: Farm, layouts: Sequence[FieldLayout], *, record: HoleRecord | None = None
) -> LeakHint | None:
    """Return where to dig at a flag.

    Parameters
    ----------
    flag : LocatedFlag
        The flag.
    farm : Farm
        The farm.
    layouts : sequence of FieldLayout
        Its fields, laid out.
    record : HoleRecord or None, default None
        How far the farm's own holes lay from their wet spots.

    Returns
    -------
    LeakHint or None
        The hint; None for a flag of another kind, off drip ground or without a position.
    """
    if flag.drip is None or flag.lon is None or flag.lat is None or flag.state.kind not in DIG_KINDS:
        return None
    laid = next(
        ((layout, each) for layout in layouts for each in layout.drip if each.name == flag.drip.name), None
    )
    if laid is None:
        return None
    layout, block = laid
    x, y = layout.field.frame.to_xy(flag.lon, flag.lat)
    spot = flag.state.spot
    return leak_hint(
        block,
        (float(x), float(y)),
        sigma_m=spot.accuracy.sigma_m if isinstance(spot, GroundSpot) else 0.0,
        lateral=spot.lateral if isinstance(spot, DripSpot) else None,
        wells=farm.wells,
        record=record,
    )

"""What is looked at, tried and read on each kind of system before first water.

The lists follow spring lists of extension services and common practice (no one source); a farm
adds to them, leaves out what it has not, and words items its own way.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from ringrow.equipment.drip import DripBlock
    from ringrow.equipment.lateral_move import LateralMove
    from ringrow.equipment.pivot import Pivot
    from ringrow.equipment.well import Well

How = Literal["look", "try", "read"]
"""How an item is settled: by looking, by trying it out, by reading a number."""

Per = Literal["system", "tower", "zone"]
"""What an item is asked of: the system as a whole, each of its towers, each of its zones."""

Checked = Literal["well", "pivot", "lateral move", "drip"]
"""Kinds of system that have a checklist."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckItem:
    """One item of a checklist.

    Parameters
    ----------
    id : str
        The word used in files and on the command line, such as ``belts-and-guards``.
    how : {"look", "try", "read"}
        How it is settled: by looking, by trying it out, or by a reading of that name.
    per : {"system", "tower", "zone"}, default "system"
        What it is asked of.
    words : str, default ""
        The farm's own words for it; empty for ours, which stand where they are spoken.
    """

    id: str
    how: How
    per: Per = "system"
    words: str = ""


def _items(how: How, *ids: str, per: Per = "system") -> tuple[CheckItem, ...]:
    return tuple(CheckItem(id=id_, how=how, per=per) for id_ in ids)


_STARTS = _items("try", "starts")
_ENGINE = _items("look", "battery", "oil", "coolant", "belts-and-guards", "fuel-supply", "nests")
_MOTOR = (*_items("look", "belts-and-guards", "nests"), *_items("read", "volts"))
_PANEL = (*_items("read", "volts"), *_items("try", "forward", "reverse"))
_TOWERS = _items("look", "tires", "gearboxes", "drive-shafts", "boxes-and-covers", per="tower")
# Asked tower by tower too: of the span that ends there, so that one walk along the pipe settles all.
_PIPE = _items("look", "sprinklers-and-drops", per="tower")
_ARM = _items("try", "corner-arm")
_GUN = _items("try", "gun")
_WATER = _items("read", "flow", "pressure")
_FILTERS = (*_items("try", "pump"), *_items("look", "filters"), *_items("read", "filter-loss"))
_BY_ZONE = (
    *_items("try", "valves", per="zone"),
    *_items("read", "zone-pressure", "zone-flow", per="zone"),
    *_items("try", "walked-after-the-wait", "ends-flushed", per="zone"),
)

ITEMS: dict[Checked, tuple[CheckItem, ...]] = {
    "well": (*_STARTS, *_ENGINE, *_items("read", "volts")),
    "pivot": (*_PANEL, *_TOWERS, *_PIPE, *_ARM, *_GUN, *_WATER),
    "lateral move": (*_PANEL, *_TOWERS, *_PIPE, *_WATER),
    "drip": (*_FILTERS, *_BY_ZONE),
}
"""Every item that a system of a kind may have, in the order in which it is walked."""


def well_items(well: Well) -> tuple[CheckItem, ...]:
    """Return the items of a well and its power unit, as our lists have them.

    Parameters
    ----------
    well : Well
        The well.

    Returns
    -------
    tuple of CheckItem
        An engine's without volts, a motor's without what only engines have; where the farm does
        not say which, what both have.

    Examples
    --------
    >>> from ringrow.equipment.well import Well
    >>> [item.id for item in well_items(Well(name="W", lon=-101.5, lat=36.75, power="electric"))]
    ['starts', 'belts-and-guards', 'nests', 'volts']
    """
    if well.power == "engine":
        return (*_STARTS, *_ENGINE)
    return (*_STARTS, *_MOTOR) if well.power == "electric" else (*_STARTS, *_MOTOR[:2])


def pivot_items(pivot: Pivot) -> tuple[CheckItem, ...]:
    """Return the items of a pivot, as our lists have them.

    Parameters
    ----------
    pivot : Pivot
        The machine.

    Returns
    -------
    tuple of CheckItem
        No gun where there is none, no corner arm where there is none.
    """
    arm = pivot.corner_arm
    has_gun = pivot.end_gun is not None or (arm is not None and arm.end_gun is not None)
    return (
        *(*_PANEL, *_TOWERS, *_PIPE),
        *(_ARM if arm is not None else ()),
        *(_GUN if has_gun else ()),
        *_WATER,
    )


def move_items(move: LateralMove) -> tuple[CheckItem, ...]:  # noqa: ARG001 - every one has the same parts
    """Return the items of a lateral move, as our lists have them.

    Parameters
    ----------
    move : LateralMove
        The machine.

    Returns
    -------
    tuple of CheckItem
        Its items.
    """
    return ITEMS["lateral move"]


def drip_items(block: DripBlock) -> tuple[CheckItem, ...]:
    """Return the items of a drip block, as our lists have them.

    Parameters
    ----------
    block : DripBlock
        The block.

    Returns
    -------
    tuple of CheckItem
        Zone by zone where it has zones; else of the block as a whole.
    """
    if block.zones:
        return ITEMS["drip"]
    return (*_FILTERS, *(CheckItem(id=item.id, how=item.how) for item in _BY_ZONE))

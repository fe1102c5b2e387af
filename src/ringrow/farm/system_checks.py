"""The checklist of one system of a farm: its items, and the towers or zones they are asked of."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ringrow.equipment.checklists import CheckItem, drip_items, move_items, pivot_items, well_items
from ringrow.equipment.drip import DripBlock
from ringrow.equipment.lateral_move import LateralMove
from ringrow.equipment.pivot import Pivot
from ringrow.equipment.well import Well
from ringrow.farm.reading_kinds import READING_KINDS
from ringrow.farm.systems import farm_systems

if TYPE_CHECKING:
    from ringrow.equipment.checklists import Per
    from ringrow.farm.model import Farm, StatedCheck
    from ringrow.farm.systems import FarmSystem

Thing = Well | Pivot | LateralMove | DripBlock
"""What a system is made of; of a towed machine its first point."""


def things_of(farm: Farm) -> list[tuple[FarmSystem, Thing]]:
    """Return every system of a farm with what it is made of.

    Parameters
    ----------
    farm : Farm
        The farm.

    Returns
    -------
    list of tuple
        System and thing, wells first, then field by field.
    """
    wells: dict[str, Thing] = {well.name: well for well in farm.wells}
    others: dict[str, Thing] = {}
    for field in farm.fields:
        own: list[Thing] = [*field.pivots, *field.lateral_moves, *field.drip]
        others |= {thing.name: thing for thing in own}
    return [
        (system, (wells if system.kind == "well" else others)[_own_point(system, others)])
        for system in farm_systems(farm)
    ]


def _own_point(system: FarmSystem, others: dict[str, Thing]) -> str:
    """Return the name of a thing: a towed machine has one for each point and none of its own."""
    if system.kind == "well":
        return system.name
    return next(name for name in system.names if name in others)


def items_of(farm: Farm, system: FarmSystem, thing: Thing) -> tuple[CheckItem, ...]:
    """Return the checklist of a system: ours, with what the farm's files say otherwise.

    Parameters
    ----------
    farm : Farm
        The farm, whose farm.toml may leave items out, word them anew and add others.
    system : FarmSystem
        The system.
    thing : Well, Pivot, LateralMove or DripBlock
        What it is made of.

    Returns
    -------
    tuple of CheckItem
        Its items in the order in which they are walked; added ones at the end.
    """
    listed = {item.id: item for item in _own_items(thing)}
    for row in farm.checklist:
        if not row.applies_to(system.kind, system.names):
            continue
        ours = listed.get(row.item)
        if row.leave_out:
            listed.pop(row.item, None)
        elif ours is not None:
            listed[row.item] = CheckItem(id=ours.id, how=ours.how, per=ours.per, words=row.words)
        elif (added := _added(row, system, thing)) is not None:
            listed[row.item] = added
    return tuple(listed.values())


def _added(row: StatedCheck, system: FarmSystem, thing: Thing) -> CheckItem | None:
    """Return an item of the farm's own; None where the system has nothing it could be asked of."""
    reading = READING_KINDS.get(row.item)
    if reading is not None:
        per: Per = "zone" if reading.by_zone and parts_for(thing, "zone") else "system"
        fits = system.kind in reading.on
        return CheckItem(id=row.item, how="read", per=per, words=row.words) if fits else None
    per = row.per or "system"
    if not parts_for(thing, per):
        return None
    return CheckItem(id=row.item, how=row.how or "look", per=per, words=row.words)


def _own_items(thing: Thing) -> tuple[CheckItem, ...]:
    if isinstance(thing, Well):
        return well_items(thing)
    if isinstance(thing, Pivot):
        return pivot_items(thing)
    return move_items(thing) if isinstance(thing, LateralMove) else drip_items(thing)


def parts_for(thing: Thing, per: str) -> tuple[str, ...]:
    """Return what an item is asked of.

    Parameters
    ----------
    thing : Well, Pivot, LateralMove or DripBlock
        The system.
    per : {"system", "tower", "zone"}
        What it is asked of.

    Returns
    -------
    tuple of str
        One empty name for the system as a whole; ``1``, ``2``, ... for towers of a pivot (one more
        for the steered wheels of a corner arm), ``left 1``, ... of a lateral move; names of zones.

    Examples
    --------
    >>> from ringrow.equipment.lateral_move import LateralMove, Wing
    >>> move = LateralMove(name="L", path_m=((0, 0), (0, 9)), left=Wing(spans_m=(50.0, 50.0)))
    >>> parts_for(move, "tower"), parts_for(move, "system"), parts_for(move, "zone")
    (('left 1', 'left 2'), ('',), ())
    """
    if per == "system":
        return ("",)
    if per == "zone":
        return tuple(zone.name for zone in thing.zones) if isinstance(thing, DripBlock) else ()
    if isinstance(thing, Pivot):
        steered = 1 if thing.corner_arm is not None else 0
        return tuple(str(number) for number in range(1, len(thing.spans_m) + steered + 1))
    if isinstance(thing, LateralMove):
        hands = (("left", thing.left), ("right", thing.right))
        return tuple(f"{hand} {number}" for hand, wing in hands for number in range(1, len(wing.spans_m) + 1))
    return ()

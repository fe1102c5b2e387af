"""What can only be seen once there is water: repairs to be looked at again, items to be read or tried."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ringrow.equipment.kinds import FlagKind
    from ringrow.equipment.put_away import ThingKind

# Common practice, no source: what holds water or is driven by it.
UNDER_WATER: frozenset[str] = frozenset(
    (
        *("leak", "wet-spot", "burrow"),
        *("sprinkler", "drop", "regulator", "span-leak", "end-gun", "booster"),
        *("pump", "filter", "valve", "air-vent", "flush-valve", "header-leak", "meter"),
    )
)
"""Kinds of flag whose repair is only seen to hold under water."""
# A drip block is filled zone by zone while it is walked; a machine is walked dry.
_WET_ITEMS: dict[ThingKind, frozenset[str]] = {
    "pivot": frozenset({"flow", "pressure", "end-pressure", "gun", "depth", "meter"}),
    "lateral move": frozenset({"flow", "pressure", "depth", "meter"}),
    "well": frozenset({"flow", "pressure", "meter"}),
    "drip": frozenset(),
}


def matters_under_water(kind: FlagKind) -> bool:
    """Return whether the repair of a fault is only seen to hold under water.

    Parameters
    ----------
    kind : FlagKind
        Kind of the fault.

    Returns
    -------
    bool
        True for kinds that hold water or are driven by it.

    Examples
    --------
    >>> from ringrow.equipment.kinds import FLAG_KINDS
    >>> matters_under_water(FLAG_KINDS["drop"]), matters_under_water(FLAG_KINDS["tire"])
    (True, False)
    """
    return kind.name in UNDER_WATER


def needs_water(item: str, kind: ThingKind) -> bool:
    """Return whether an item of a checklist can only be read or tried with water on.

    Parameters
    ----------
    item : str
        Id of the item.
    kind : {"pivot", "lateral move", "drip", "well"}
        Kind of system.

    Returns
    -------
    bool
        True for flow, pressure and the gun of machines; never for a drip block, whose zones are
        filled to be walked.

    Examples
    --------
    >>> needs_water("flow", "pivot"), needs_water("volts", "pivot"), needs_water("zone-flow", "drip")
    (True, False, False)
    """
    return item in _WET_ITEMS[kind]

"""What is put away of each kind of system in the fall."""

from __future__ import annotations

from typing import Literal

ThingKind = Literal["pivot", "lateral move", "drip", "well"]

# Common practice, no source. The words of each item stand where they are spoken, in handoff.put_away_words.
ITEMS: dict[ThingKind, tuple[str, ...]] = {
    "pivot": ("power-off", "drained", "end-open", "gun-drained", "parked", "dry-ground"),
    "lateral move": ("power-off", "drained", "intake-out", "parked", "dry-ground"),
    "drip": ("flushed", "drained", "valves-open", "filters-drained"),
    "well": ("power-off", "fuel-shut", "battery-out", "coolant", "drained", "discharge-open"),
}
"""Items of each kind of system, in the order in which they are done."""
PARKED = "parked"
"""The item that says where a machine stands for the winter."""


def usual_items(kind: ThingKind, *, power: str = "", gun: bool = False) -> tuple[str, ...]:
    """Return the items that a system of a kind has.

    Parameters
    ----------
    kind : {"pivot", "lateral move", "drip", "well"}
        What it is.
    power : str, default ""
        For a well: ``electric``, ``engine``, or empty when nobody said; then it has the items of both.
    gun : bool, default False
        For a pivot: whether it has an end gun.

    Returns
    -------
    tuple of str
        Names of its items.

    Examples
    --------
    >>> usual_items("well", power="electric")
    ('power-off', 'drained', 'discharge-open')
    """
    skipped = set() if gun else {"gun-drained"}
    if kind == "well" and power:
        skipped |= {"fuel-shut", "battery-out", "coolant"} if power == "electric" else {"power-off"}
    return tuple(item for item in ITEMS[kind] if item not in skipped)

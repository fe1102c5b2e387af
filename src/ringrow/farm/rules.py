"""Rules between keys, checked on the plain data so that one slip hides no other: the common ground.

Rules of field files stand in ``rules_field`` and ``rules_machines``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from ringrow.equipment.checklists import ITEMS as CHECK_ITEMS
from ringrow.equipment.kinds import FLAG_KINDS
from ringrow.equipment.put_away import ITEMS
from ringrow.farm.faults import Findings, listing, meant, shown
from ringrow.farm.reading_kinds import READING_KINDS

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from ringrow.units import UnitSystem


@dataclass(frozen=True, slots=True, kw_only=True)
class Desk:
    """Where one file's faults go, and the units its numbers are in.

    Parameters
    ----------
    file : str
        The file's name in faults.
    units : tuple of UnitSystem
        The farm's units; both when they are not known.
    findings : Findings
        Where faults go.
    """

    file: str
    units: tuple[UnitSystem, ...]
    findings: Findings

    def fault(self, key: str, found: str, allowed: str, hint: str = "") -> None:
        """Note one fault of this file.

        Parameters
        ----------
        key, found, allowed, hint : str
            As in `ringrow.errors.Fault`.
        """
        self.findings.fault(self.file, key, found, allowed, hint)

    def warning(self, key: str, found: str, allowed: str, hint: str = "") -> None:
        """Note one warning of this file.

        Parameters
        ----------
        key, found, allowed, hint : str
            As in `ringrow.errors.Fault`.
        """
        self.findings.warning(self.file, key, found, allowed, hint)

    @property
    def length_m(self) -> float:
        """The farm's length unit [m]; the smaller of both when units are not known."""
        return min(units.length_m for units in self.units)

    @property
    def small_m(self) -> float:
        """The farm's small length unit [m]; the larger of both when units are not known."""
        return max(units.small_m for units in self.units)


def number(table: Any, key: str) -> float | None:
    """Return a finite number of a table, None when there is none.

    Parameters
    ----------
    table : object
        Plain data; anything but a table holds nothing.
    key : str
        Which number.

    Returns
    -------
    float or None
        The number. [as written]
    """
    value = table.get(key) if isinstance(table, dict) else None
    if isinstance(value, bool) or not isinstance(value, int | float) or abs(value) > 1e300:
        return None
    return float(value) if math.isfinite(value) else None


def numbers(value: Any) -> list[float] | None:
    """Return a list of finite numbers, None when it is anything else.

    Parameters
    ----------
    value : object
        Plain data.

    Returns
    -------
    list of float or None
        The numbers. [as written]
    """
    if not isinstance(value, list):
        return None
    found = [number({"x": item}, "x") for item in value]
    return [item for item in found if item is not None] if None not in found else None


def tables(data: Any, key: str) -> Iterator[tuple[str, dict[str, Any]]]:
    """Yield the tables of a list with their key paths; what is no table is left out.

    Parameters
    ----------
    data : object
        Plain data.
    key : str
        Key of the list.

    Yields
    ------
    tuple of str and dict
        Key path, counted from 1, and table.
    """
    rows = data.get(key) if isinstance(data, dict) else None
    for position, row in enumerate(rows if isinstance(rows, list) else [], 1):
        if isinstance(row, dict):
            yield f"{key}[{position}]", row


def exactly_one(table: dict[str, Any], keys: Sequence[str], prefix: str, desk: Desk, hint: str = "") -> None:
    """Note a fault unless exactly one of some keys stands in a table.

    Parameters
    ----------
    table : dict
        The table's plain data.
    keys : sequence of str
        The keys that stand in for each other.
    prefix : str
        Key path of the table with a point behind it; empty for the file itself.
    desk : Desk
        Where faults go.
    hint : str, default ""
        What to do when none is there.
    """
    present = [key for key in keys if key in table]
    wanted = " or ".join(keys)
    if not present:
        desk.fault(f"{prefix}{keys[0]}", "nothing", wanted, hint)
    elif len(present) > 1:
        desk.fault(f"{prefix}{present[1]}", " and ".join(present), f"{wanted}, one of them", "take one out")


def check_farm(data: dict[str, Any], desk: Desk) -> None:
    """Note what does not go together in farm.toml.

    Parameters
    ----------
    data : dict
        The file's plain data.
    desk : Desk
        Where faults go.
    """
    for key, row in tables(data, "put_away"):
        _check_put_away(key, row, desk)
    for key, row in tables(data, "checklist"):
        _check_checklist(key, row, data, desk)
    seen: set[str] = set()
    for key, kind in tables(data, "kind"):
        name = kind.get("name")
        if not isinstance(name, str):
            continue
        if name in seen:
            desk.fault(
                f"{key}.name", f"{shown(name)} a second time", "kinds with different names", "take one out"
            )
        seen.add(name)
        ours = FLAG_KINDS.get(name)
        if ours is None and "on" not in kind:
            desk.fault(
                f"{key}.on",
                "nothing",
                '"ground", "machine" or "works"',
                "a new kind must say what it sits on",
            )
        elif ours is not None and kind.get("on", ours.on) != ours.on:
            hint = "give the new kind a name of its own"
            desk.fault(f"{key}.on", shown(kind["on"]), f'"{ours.on}", where {name} sits', hint)


def _check_checklist(key: str, row: dict[str, Any], data: dict[str, Any], desk: Desk) -> None:
    """Note a row that names no systems, takes out what is not there, or adds an item without words."""
    if "kind" not in row and "system" not in row:
        desk.fault(f"{key}.kind", "nothing", "kind or system", "say which systems the item holds for")
    kinds = [row["kind"]] if row.get("kind") in CHECK_ITEMS else list(CHECK_ITEMS)
    ours = dict.fromkeys(item.id for kind in kinds for item in CHECK_ITEMS[kind])
    item = row.get("item")
    if not isinstance(item, str):
        return
    if row.get("leave_out") is True:
        added = [other.get("item") for _, other in tables(data, "checklist") if not other.get("leave_out")]
        if item not in ours and item not in added:
            names = list(ours)
            desk.fault(f"{key}.item", shown(item), f"one of {listing(names, most=40)}", meant(item, names))
    elif item in ours:
        for word in [word for word in ("how", "per") if word in row]:
            desk.fault(f"{key}.{word}", shown(row[word]), "nothing: the item is one of ours", "take it out")
        if not row.get("words"):
            desk.fault(f"{key}.words", "nothing", "other words for it", "or leave_out = true")
    else:
        _check_new_item(key, item, row, kinds, list(ours), desk)


def _check_new_item(
    key: str, item: str, row: dict[str, Any], kinds: list[Any], ours: list[str], desk: Desk
) -> None:
    if item in READING_KINDS:
        return
    if not row.get("words"):
        hint = meant(item, ours) or "a new item needs words"
        desk.fault(f"{key}.words", "nothing", "what is looked at or tried", hint)
    elif meant(item, ours):
        desk.warning(f"{key}.item", f"a new item {shown(item)}", "an item of its own", meant(item, ours))
    homes = {"tower": ("pivot", "lateral move"), "zone": ("drip",)}.get(str(row.get("per")), kinds)
    if not set(kinds) & set(homes):
        desk.fault(f"{key}.per", shown(row["per"]), f'"system" for a {kinds[0]}', "it has none of these")


def _check_put_away(key: str, row: dict[str, Any], desk: Desk) -> None:
    """Note a row that names no systems, and a new item without words for fall and spring."""
    if "kind" not in row and "system" not in row:
        desk.fault(f"{key}.kind", "nothing", "kind or system", "say which systems the item holds for")
    kinds = [row["kind"]] if row.get("kind") in ITEMS else list(ITEMS)
    if row.get("leave_out") is True or any(row.get("item") in ITEMS[kind] for kind in kinds):
        return
    for word, when in (("words", "the fall"), ("back", "spring")):
        if not row.get(word):
            hint = "a new item needs both, so that nothing put away is forgotten"
            desk.fault(f"{key}.{word}", "nothing", f"what is done in {when}", hint)

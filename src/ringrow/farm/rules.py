"""Rules between keys of one table, checked on the plain data so that one slip hides no other."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from ringrow.equipment.kinds import FLAG_KINDS
from ringrow.farm.faults import Findings, number_words, shown
from ringrow.units import US

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from ringrow.units import UnitSystem

LENGTH_M = 4000 * 0.3048
"""Longest pivot [m] that is believed: pipe from the pivot point to its end (our choice)."""
SPAN_M = 400 * 0.3048
"""Longest span [m] that is believed (our choice)."""
ROW_M = 0.05
"""Least distance between rows [m] that is believed (our choice)."""
SPACING_M = 0.1
"""Least distance between laterals [m] that is believed (our choice)."""


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


def check_field(data: dict[str, Any], desk: Desk) -> None:
    """Note what does not go together in a field file.

    Parameters
    ----------
    data : dict
        The file's plain data.
    desk : Desk
        Where faults go.
    """
    _exactly_one(
        data, ("boundary", "outline"), "", desk, 'such as boundary = { file = "shapes/fields.geojson" }'
    )
    if isinstance(data.get("boundary"), dict):
        _check_shape(data["boundary"], "boundary", desk)
    for key, shape in tables(data, "exclusions"):
        _check_shape(shape, key, desk)
    for key, pivot in tables(data, "pivot"):
        check_pivot(pivot, key, desk)
    for key, drip in tables(data, "drip"):
        check_drip(drip, key, desk)


def _exactly_one(table: dict[str, Any], keys: Sequence[str], prefix: str, desk: Desk, hint: str = "") -> None:
    present = [key for key in keys if key in table]
    wanted = " or ".join(keys)
    if not present:
        desk.fault(f"{prefix}{keys[0]}", "nothing", wanted, hint)
    elif len(present) > 1:
        desk.fault(f"{prefix}{present[1]}", " and ".join(present), f"{wanted}, one of them", "take one out")


def _check_shape(shape: dict[str, Any], key: str, desk: Desk) -> None:
    _exactly_one(shape, ("file", "outline"), f"{key}.", desk)
    for other in ("layer", "where", "crs"):
        if other in shape and "outline" in shape and "file" not in shape:
            desk.fault(f"{key}.{other}", f"{other} beside outline", f"{other} only with file", "take it out")


def check_pivot(pivot: dict[str, Any], key: str, desk: Desk) -> None:
    """Note what does not go together in a pivot.

    Parameters
    ----------
    pivot : dict
        The pivot's plain data.
    key : str
        Its key path.
    desk : Desk
        Where faults go.
    """
    _check_spans(pivot, key, desk)
    _check_turn(pivot.get("sector"), f"{key}.sector", desk, "leave sector out for a full circle")
    gun = pivot.get("end_gun")
    if isinstance(gun, dict):
        _check_gun(gun, f"{key}.end_gun", desk)
    _check_length(pivot, key, desk)


def _check_spans(pivot: dict[str, Any], key: str, desk: Desk) -> None:
    split = [name for name in ("towers", "last_tower") if name in pivot]
    if "spans" in pivot and split:
        desk.fault(
            f"{key}.{split[0]}",
            f"spans and {' and '.join(split)}",
            "spans, or towers and last_tower",
            "take one out",
        )
    elif len(split) == 1:
        other = "last_tower" if split == ["towers"] else "towers"
        desk.fault(
            f"{key}.{other}", "nothing", f"{other} beside {split[0]}", "or give spans, one length each"
        )
    elif "spans" not in pivot and not split:
        hint = "give spans = [...], or towers = 7 and last_tower = the distance to the last one"
        desk.fault(f"{key}.spans", "nothing", "spans, or towers and last_tower", hint)


def _check_turn(turn: Any, key: str, desk: Desk, hint: str) -> None:
    start, stop = number(turn, "start"), number(turn, "stop")
    if start is not None and start == stop:
        desk.fault(key, f"start and stop both {number_words(start)}", "two different azimuths", hint)


def _check_gun(gun: dict[str, Any], key: str, desk: Desk) -> None:
    reach, wetted = number(gun, "reach"), number(gun, "wetted_radius")
    if "reach" not in gun and "wetted_radius" not in gun:
        hint = "wetted_radius is what the gun's chart says; 75 % of it counts"
        desk.fault(f"{key}.reach", "nothing", "reach or wetted_radius", hint)
    elif reach is not None and wetted is not None and reach > wetted:
        found = f"reach {number_words(reach)} and wetted_radius {number_words(wetted)}"
        desk.fault(f"{key}.reach", found, "a reach no longer than the wetted radius", "leave one of them out")
    arcs = [(where, arc) for where, arc in tables(gun, "arcs")]
    for where, arc in arcs:
        _check_turn(arc, f"{key}.{where}", desk, 'write arcs = "always" for the whole turn')
    _check_arcs_apart(arcs, key, desk)


def _check_arcs_apart(arcs: list[tuple[str, dict[str, Any]]], key: str, desk: Desk) -> None:
    turns = [(where, number(arc, "start"), number(arc, "stop")) for where, arc in arcs]
    sound = [(where, a, b) for where, a, b in turns if a is not None and b is not None and a != b]
    for later in range(1, len(sound)):
        where, start, stop = sound[later]
        for earlier, first, last in sound[:later]:
            if (start - first) % 360 < (last - first) % 360 or (first - start) % 360 < (stop - start) % 360:
                found = f"{number_words(start)} to {number_words(stop)}, which overlaps {earlier}"
                desk.fault(f"{key}.{where}", found, "arcs that do not overlap", "make them one arc")
                break


def _check_length(pivot: dict[str, Any], key: str, desk: Desk) -> None:
    spans = numbers(pivot.get("spans")) or []
    towers, last = number(pivot, "towers"), number(pivot, "last_tower")
    last_tower = sum(spans) if spans else last
    if last_tower is None or not last_tower > 0:
        return
    if not spans and towers and towers >= 1 and last_tower / towers * desk.length_m > SPAN_M:
        found = f"{number_words(last_tower / towers)} from tower to tower"
        most = number_words(float(f"{SPAN_M / desk.length_m:.4g}"))
        desk.fault(f"{key}.towers", found, f"at most {most}", "count the towers again")
    length = last_tower + max(number(pivot, "overhang") or 0.0, 0.0)
    most = number_words(float(f"{LENGTH_M / desk.length_m:.4g}"))
    believable = all(0 < span * desk.length_m <= SPAN_M * (1 + 1e-9) for span in spans)
    if spans and believable and length * desk.length_m > LENGTH_M * (1 + 1e-9):
        unit = f" {desk.units[0].length}" if len(desk.units) == 1 else ""
        found = f"{number_words(length)}{unit} from the pivot point to the pipe end"
        desk.fault(f"{key}.spans", found, f"at most {most}{unit}", _unit_hint(desk))
    _check_outlets(pivot.get("outlets"), f"{key}.outlets", length, desk)


def _unit_hint(desk: Desk) -> str:
    if len(desk.units) > 1:
        return ""
    return "are these feet in a metric farm?" if desk.units[0] is not US else "spans are in feet"


def _check_outlets(outlets: Any, key: str, length: float, desk: Desk) -> None:
    first = number(outlets, "first")
    if first is not None and first > length:
        found = f"{number_words(first)}, past the pipe end at {number_words(length)}"
        desk.fault(f"{key}.first", found, "a distance on the pipe", "distances count from the pivot point")
    distances = numbers(outlets) or []
    for position, distance in enumerate(distances, 1):
        if position > 1 and distance <= distances[position - 2]:
            found = f"{number_words(distance)} after {number_words(distances[position - 2])}"
            desk.fault(
                f"{key}[{position}]", found, "rising distances", "distances count from the pivot point"
            )
        elif distance > length * (1 + 1e-6):
            found = f"{number_words(distance)}, past the pipe end at {number_words(length)}"
            desk.fault(f"{key}[{position}]", found, "a distance on the pipe", "look at spans and overhang")


def check_drip(drip: dict[str, Any], key: str, desk: Desk) -> None:
    """Note what does not go together in a drip block.

    Parameters
    ----------
    drip : dict
        The block's plain data.
    key : str
        Its key path.
    desk : Desk
        Where faults go.
    """
    _exactly_one(drip, ("heading", "line"), f"{key}.", desk, "heading = 90 for laterals that run east")
    if isinstance(drip.get("area"), dict):
        _check_shape(drip["area"], f"{key}.area", desk)
    line = drip.get("line")
    if isinstance(line, dict) and isinstance(line.get("from"), dict) and line["from"] == line.get("to"):
        desk.fault(f"{key}.line", "from and to at the same place", "two places a good way apart")
    spacing, rows = number(drip, "row_spacing"), number(drip, "rows_per_lateral")
    if spacing and rows and spacing * desk.small_m >= ROW_M and 0 < spacing * rows * desk.small_m < SPACING_M:
        found = f"laterals {number_words(spacing * rows)} apart"
        desk.fault(
            f"{key}.rows_per_lateral",
            found,
            "4 in or 100 mm apart, or more",
            "rows per lateral, not laterals per row",
        )
    if isinstance(drip.get("tape"), dict):
        _check_tape(drip["tape"], f"{key}.tape", desk)
    _check_zones(drip, key, desk)


def _check_tape(tape: dict[str, Any], key: str, desk: Desk) -> None:
    flows = [name for name in ("emitter_flow", "flow_per_100ft", "flow_per_m") if name in tape]
    if len(flows) > 1:
        desk.fault(f"{key}.{flows[1]}", " and ".join(flows), "one way of saying the flow", "take one out")
    if flows and "at_pressure" not in tape:
        hint = "the label gives the pressure beside the flow"
        desk.fault(f"{key}.at_pressure", "nothing", f"the pressure at which {flows[0]} holds", hint)


def _check_zones(drip: dict[str, Any], key: str, desk: Desk) -> None:
    seen: list[tuple[str, str, int, int]] = []
    for where, zone in tables(drip, "zone"):
        name = str(zone.get("name", f"zone {where[5:-1]}")).strip()
        laterals = zone.get("laterals")
        if any(name.casefold() == other.casefold() for _, other, _, _ in seen):
            desk.fault(f"{key}.{where}.name", shown(name) + " a second time", "names unique in the block")
        if not isinstance(laterals, list) or len(laterals) != 2 or numbers(laterals) is None:
            continue
        first, last = laterals
        if first > last:
            hint = "the lower number comes first"
            desk.fault(f"{key}.{where}.laterals", f"{first} to {last}", "first and last, rising", hint)
            continue
        for earlier, other, low, high in seen:
            if first <= high and low <= last:
                found = f"{first} to {last}, which overlaps {low} to {high} of {earlier}"
                hint = f"both ends count; is {number_words(max(first, low))} meant for {shown(other)} alone?"
                desk.fault(f"{key}.{where}.laterals", found, "zones that share no lateral", hint)
                break
        seen.append((where, name, first, last))


def check_farm(data: dict[str, Any], desk: Desk) -> None:
    """Note what does not go together in farm.toml.

    Parameters
    ----------
    data : dict
        The file's plain data.
    desk : Desk
        Where faults go.
    """
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

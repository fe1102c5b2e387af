"""Rules between the keys of a pivot or a lateral move, checked on the plain data."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Any

from ringrow.farm.faults import number_words
from ringrow.farm.rules import exactly_one, number, numbers, tables
from ringrow.units import US

if TYPE_CHECKING:
    from ringrow.farm.rules import Desk

LENGTH_M = 4000 * 0.3048
"""Longest pivot [m] that is believed: pipe from the pivot point to its end (our choice)."""
SPAN_M = 400 * 0.3048
"""Longest span [m] that is believed (our choice)."""
ARM_M = 500 * 0.3048
"""Longest corner arm [m] that is believed (our choice)."""


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
    hint = "stand at the pivot point with a phone, or read it off the map; points = [...] for a towed machine"
    exactly_one(pivot, ("point", "points"), f"{key}.", desk, hint)
    _check_spans(pivot, key, desk)
    _check_turn(pivot.get("sector"), f"{key}.sector", desk, "leave sector out for a full circle")
    gun = pivot.get("end_gun")
    if isinstance(gun, dict):
        _check_gun(gun, f"{key}.end_gun", desk)
    _check_length(pivot, key, desk)
    _check_panel(pivot, pivot, key, desk)
    _check_points(pivot, key, desk)
    if isinstance(pivot.get("corner_arm"), dict):
        _check_arm(pivot, pivot["corner_arm"], key, desk)
    elif "bend" in pivot:
        _check_bends(pivot, key, desk)


def _check_panel(table: dict[str, Any], machine: dict[str, Any], key: str, desk: Desk) -> None:
    """Note what does not go together in what a machine, or one of its points, says of its panel."""
    if "panel_zero" in table and "panel_reading" in table:
        allowed = "panel_zero or panel_reading, one of them"
        desk.fault(f"{key}.panel_reading", "panel_zero and panel_reading", allowed, "take one out")
    if "parked" in table and "parked_panel" in table:
        desk.fault(f"{key}.parked_panel", "parked and parked_panel", "one of them", "take one out")
    stated = "panel_zero" in table or "panel_reading" in table
    if "parked_panel" in table and (table if stated else machine).get("panel_zero") == "none":
        hint = "give parked, the true azimuth, instead"
        desk.fault(
            f"{key}.parked_panel", 'parked_panel beside panel_zero = "none"', "a panel with an angle", hint
        )


def _check_points(pivot: dict[str, Any], key: str, desk: Desk) -> None:
    points = list(tables(pivot, "points"))
    if "points" in pivot:
        for name in ("parked", "parked_panel", "panel_reading", "pivot_road"):
            if name in pivot:
                found = f"{name} beside points"
                hint = f"write {{ lat = ..., lon = ..., {name} = ... }} in its row of points"
                where = "leads to" if name == "pivot_road" else "was seen at"
                desk.fault(f"{key}.{name}", found, f"{name} in the point that it {where}", hint)
    seen: dict[tuple[float | None, float | None], str] = {}
    parked = [where for where, point in points if "parked" in point or "parked_panel" in point]
    for where, point in points:
        _check_turn(point.get("sector"), f"{key}.{where}.sector", desk, "leave sector out for a full circle")
        _check_panel(point, pivot, f"{key}.{where}", desk)
        at = (number(point, "lat"), number(point, "lon"))
        if None not in at and seen.setdefault(at, where) != where:
            desk.fault(
                f"{key}.{where}", f"the same place as {seen[at]}", "a place of its own", "take one out"
            )
    if len(parked) > 1:
        found = f"parked here and at {parked[0]}"
        desk.fault(f"{key}.{parked[1]}", found, "one point where the machine stands now", "take one out")


def _check_arm(pivot: dict[str, Any], arm: dict[str, Any], key: str, desk: Desk) -> None:
    beside = {
        "end_gun": "move it to [pivot.corner_arm.end_gun]: the gun sits at the end of the arm",
        "bend": "a machine with a corner arm does not bend; take one out",
    }
    if (number(pivot, "overhang") or 0.0) > 0:
        found = f"overhang {number_words(pivot['overhang'])} beside a corner arm"
        hint = "leave it out; pipe past the steered wheels is corner_arm.overhang"
        desk.fault(f"{key}.overhang", found, "no overhang: the arm is hinged at the last tower", hint)
    for name, hint in beside.items():
        if name in pivot:
            found = f"{name} beside a corner arm"
            desk.fault(f"{key}.{name}", found, "a corner arm, or overhang, end_gun and bend", hint)
    fold, opened = number(arm, "fold"), number(arm, "open")
    if fold is not None and opened is not None and 0 < opened <= 180 and 0 < fold < 180 and fold >= opened:
        found = f"open {number_words(opened)} and fold {number_words(fold)}"
        hint = "angles at the hinge between main pipe and arm: 180 is straight"
        desk.fault(f"{key}.corner_arm.open", found, "an open angle wider than the fold", hint)
    if isinstance(arm.get("end_gun"), dict):
        _check_gun(arm["end_gun"], f"{key}.corner_arm.end_gun", desk)
    _check_arm_length(pivot, arm, key, desk)


def _check_arm_length(pivot: dict[str, Any], arm: dict[str, Any], key: str, desk: Desk) -> None:
    spans = numbers(pivot.get("spans")) or []
    last = sum(spans) if spans else number(pivot, "last_tower")
    length, overhang = number(arm, "length"), number(arm, "overhang") or 0.0
    if not last or not length or min(last, length) <= 0 or overhang < 0 or length * desk.length_m > ARM_M:
        return
    if length + overhang > last:
        found = f"an arm of {number_words(length + overhang)} on a main pipe of {number_words(last)}"
        hint = "length runs from the hinge at the last tower to the steered wheels"
        desk.fault(f"{key}.corner_arm.length", found, "an arm no longer than the main pipe", hint)


def _check_bends(pivot: dict[str, Any], key: str, desk: Desk) -> None:
    points = [point for _, point in tables(pivot, "points")]
    if "sector" not in pivot and not (points and all("sector" in point for point in points)):
        hint = "add sector = { start = ..., stop = ... } above [[pivot.bend]]: it bends past a stop"
        desk.fault(f"{key}.bend", "a bend on a full circle", "bends with a sector", hint)
    towers = len(pivot["spans"]) if isinstance(pivot.get("spans"), list) else number(pivot, "towers")
    inner: dict[Any, tuple[float, str]] = {}
    for where, bend in tables(pivot, "bend"):
        tower, side = number(bend, "tower"), bend.get("at")
        if tower is None or side not in ("stop", "start"):
            continue
        if towers and tower >= towers:
            hint = f"nothing walks on past tower {number_words(tower)}; count from the pivot point"
            allowed = f"1 to {number_words(towers - 1)}, as it has {number_words(towers)} towers"
            desk.fault(
                f"{key}.{where}.tower",
                number_words(tower),
                allowed if towers > 1 else "a longer machine",
                hint,
            )
        earlier = inner.get(side)
        if earlier and tower <= earlier[0]:
            found = f"tower {number_words(tower)} after tower {number_words(earlier[0])} of {earlier[1]}"
            hint = "put the inner bend first; one bend a tower"
            desk.fault(f"{key}.{where}.tower", found, f"rising towers at the {side}", hint)
        inner[side] = (tower, where)


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
        found = f"{number_words(length)}{unit} to the pipe end"
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


def check_lateral_move(move: dict[str, Any], key: str, desk: Desk) -> None:
    """Note what does not go together in a lateral move.

    Parameters
    ----------
    move : dict
        The machine's plain data.
    key : str
        Its key path.
    desk : Desk
        Where faults go.
    """
    if "left" not in move and "right" not in move:
        hint = "left = { spans = [...] } for the pipe to the left of travel"
        desk.fault(f"{key}.left", "nothing", "left or right, or both", hint)
    for side in ("left", "right"):
        if isinstance(move.get(side), dict):
            _check_spans(move[side], f"{key}.{side}", desk)
            _check_length(move[side], f"{key}.{side}", desk)
    path = move.get("path")
    if isinstance(path, dict) and "file" not in path:
        hint = "or path = [{ lat = ..., lon = ... }, ...]"
        desk.fault(f"{key}.path.file", "nothing", "the file that holds the line", hint)
    check_line(path, f"{key}.path", desk)


def check_line(line: Any, key: str, desk: Desk) -> None:
    """Note neighbours at the same place in a line given point by point.

    Parameters
    ----------
    line : object
        Plain data; anything but a list holds no points.
    key : str
        Its key path.
    desk : Desk
        Where faults go.
    """
    rows = list(tables({"line": line}, "line"))
    for (_, before), (where, here) in pairwise(rows):
        at = (number(here, "lat"), number(here, "lon"))
        if None not in at and at == (number(before, "lat"), number(before, "lon")):
            desk.fault(
                f"{key}{where[4:]}", "the same place as the one before", "a place of its own", "take one out"
            )

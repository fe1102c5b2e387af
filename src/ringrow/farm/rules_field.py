"""Rules between the keys of a field file, its shapes and its drip blocks, checked on the plain data."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ringrow.farm.faults import number_words, shown
from ringrow.farm.rules import exactly_one, number, numbers, tables
from ringrow.farm.rules_machines import check_lateral_move, check_line, check_pivot

if TYPE_CHECKING:
    from ringrow.farm.rules import Desk

ROW_M = 0.05
"""Least distance between rows [m] that is believed (our choice)."""
SPACING_M = 0.1
"""Least distance between laterals [m] that is believed (our choice)."""


def check_field(data: dict[str, Any], desk: Desk) -> None:
    """Note what does not go together in a field file.

    Parameters
    ----------
    data : dict
        The file's plain data.
    desk : Desk
        Where faults go.
    """
    exactly_one(
        data, ("boundary", "outline"), "", desk, 'such as boundary = { file = "shapes/fields.geojson" }'
    )
    if isinstance(data.get("boundary"), dict):
        _check_shape(data["boundary"], "boundary", desk)
    for key, shape in tables(data, "exclusions"):
        _check_shape(shape, key, desk)
    for key, shape in tables(data, "keep_off"):
        _check_keep_off(shape, key, desk)
    for key, pivot in tables(data, "pivot"):
        check_pivot(pivot, key, desk)
    for key, move in tables(data, "lateral_move"):
        check_lateral_move(move, key, desk)
    for key, drip in tables(data, "drip"):
        check_drip(drip, key, desk)


def _check_shape(shape: dict[str, Any], key: str, desk: Desk) -> None:
    exactly_one(shape, ("file", "outline"), f"{key}.", desk)
    _check_file_keys(shape, ("outline",), key, desk)


def _check_keep_off(shape: dict[str, Any], key: str, desk: Desk) -> None:
    drawn = ("outline", "line", "point")
    exactly_one(
        shape, ("file", *drawn), f"{key}.", desk, "such as point = { lat = ..., lon = ... } for a pole"
    )
    _check_file_keys(shape, drawn, key, desk)
    check_line(shape.get("line"), f"{key}.line", desk)


def _check_file_keys(shape: dict[str, Any], drawn: tuple[str, ...], key: str, desk: Desk) -> None:
    """Note keys that say which part of a file is meant where a shape is drawn by hand."""
    beside = [name for name in drawn if name in shape]
    for other in ("layer", "where", "crs"):
        if other in shape and beside and "file" not in shape:
            desk.fault(
                f"{key}.{other}", f"{other} beside {beside[0]}", f"{other} only with file", "take it out"
            )


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
    exactly_one(drip, ("heading", "line"), f"{key}.", desk, "heading = 90 for laterals that run east")
    if isinstance(drip.get("area"), dict):
        _check_shape(drip["area"], f"{key}.area", desk)
    if isinstance(drip.get("line"), dict):
        _check_guide(drip["line"], f"{key}.line", desk)
    spacing, rows = number(drip, "row_spacing"), number(drip, "rows_per_lateral")
    if spacing and rows and spacing * desk.small_m >= ROW_M and 0 < spacing * rows * desk.small_m < SPACING_M:
        found = f"laterals {number_words(spacing * rows)} apart"
        desk.fault(
            f"{key}.rows_per_lateral",
            found,
            "4 in or 100 mm apart, or more",
            "rows per lateral, not laterals per row",
        )
    heights = [name for name in ("header_elevation", "far_elevation") if name in drip]
    if len(heights) == 1:
        other = "far_elevation" if heights == ["header_elevation"] else "header_elevation"
        hint = "heights above any level will do, both above the same"
        desk.fault(f"{key}.{other}", "nothing", f"{other} beside {heights[0]}", hint)
    if isinstance(drip.get("tape"), dict):
        _check_tape(drip["tape"], f"{key}.tape", desk)
    _check_zones(drip, key, desk)


def _check_guide(line: dict[str, Any], key: str, desk: Desk) -> None:
    ends = [name for name in ("from", "to") if name in line]
    ways = [*(["from and to"] if ends else []), *(name for name in ("path", "file") if name in line)]
    hint = "from and to are the two ends of a straight line"
    if not ways:
        desk.fault(f"{key}.from", "nothing", "from and to, or path, or file", hint)
    elif len(ways) > 1:
        last = ways[-1]
        desk.fault(f"{key}.{last}", " beside ".join(ways), "from and to, or path, or file", "take one out")
    elif len(ends) == 1:
        other = "to" if ends == ["from"] else "from"
        desk.fault(f"{key}.{other}", "nothing", f"{other} beside {ends[0]}", hint)
    elif ends and isinstance(line["from"], dict) and line["from"] == line["to"]:
        desk.fault(key, "from and to at the same place", "two places a good way apart")
    _check_file_keys(line, ("from", "to", "path"), key, desk)
    check_line(line.get("path"), f"{key}.path", desk)


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

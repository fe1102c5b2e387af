"""A place in words: a short block for ``where``, one line for lists, maps and sheets.

A span or tower is safe to name from a phone, a single drop or tape line is not: those are
named alone only when the chance is 0.95 or better, and as a run with a chance otherwise.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from ringrow.farm.flag_model import MachineSpot, MoveSpot
from ringrow.handoff.number_words import (
    accuracy_words,
    azimuth_words,
    chance_words,
    compass_words,
    length_words,
    one_line,
    runs_words,
    small_words,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

    from ringrow.coverage.accuracy import Accuracy
    from ringrow.coverage.locate_field import NearestField
    from ringrow.coverage.places import ArmPlace, DripPlace, LateralMovePlace, PivotPlace, Place
    from ringrow.farm.flag_model import LocatedFlag
    from ringrow.units import UnitSystem

SAFE = 0.95
"""An outlet or lateral is named alone when its chance is this or better. [-]"""
_NEAR_TRACK_M = 6.0
"""Within this distance of a wheel track a short line names the tower rather than the span [m]."""
_ON_OUTLETS = frozenset({"sprinkler", "drop", "regulator"})
_PARTS = {
    "span": "under span {span}",
    "overhang": "past the last tower, under the overhang",
    "throw": "past the pipe end, within throw of the last sprinkler",
    "gun": "past the pipe end, within reach of the end gun",
    "beyond": "beyond its water",
    "arm": "past the last tower, under the corner arm",
}
_DRY_PARTS = {
    "span": "as far out as span {span}, where this machine does not walk",
    "overhang": "as far out as the overhang, where this machine does not walk",
    "throw": "as far out as the throw of the last sprinkler, where it does not reach",
    "gun": "as far out as the end gun reaches, where it does not run",
    "beyond": "beyond its water",
    "arm": "as far out as the corner arm",
}
_MOVE_PARTS = {
    "span": "under span {span} on the {side}",
    "overhang": "past the last tower on the {side}, under the overhang",
    "throw": "past the pipe end on the {side}, within throw of the last sprinkler",
    "beyond": "beyond its water",
}
_DRY_MOVE_PARTS = {
    "span": "as far from the cart as span {span} on the {side}, past an end of its path",
    "overhang": "as far from the cart as the overhang on the {side}, past an end of its path",
    "throw": "as far from the cart as the throw on the {side}, past an end of its path",
    "beyond": "beyond its water",
}


def place_words(
    place: Place,
    units: UnitSystem,
    *,
    accuracy: Accuracy | None = None,
    nearest: NearestField | None = None,
    assumed: Mapping[str, tuple[str, ...]] | None = None,
) -> str:
    """Return what is at a place as a short block of lines.

    Parameters
    ----------
    place : Place
        What is at the place.
    units : UnitSystem
        The farm's units.
    accuracy : Accuracy or None, default None
        How good the position is; None leaves that line out.
    nearest : NearestField or None, default None
        For a place outside every field: the nearest one.
    assumed : mapping of str to tuple of str, default None
        By system name, what was defaulted or guessed.

    Returns
    -------
    str
        Lines parted by line breaks, none at the end.

    Examples
    --------
    >>> from ringrow.coverage.places import Place
    >>> from ringrow.units import US
    >>> print(place_words(Place(field="North 80", farmable=True, irrigated=False, pivots=(), drip=()), US))
    North 80: dry ground (no system's water reaches it)
    """
    assumed = assumed or {}
    lines = [_ground_words(place, units, nearest)]
    if accuracy is not None:
        lines.append(f"Position {accuracy_words(accuracy, units)}.")
    for pivot in place.pivots:
        lines += ["", *_pivot_lines(pivot, units, accuracy), *_assumed_lines(assumed.get(pivot.name, ()))]
    for move in place.lateral_moves:
        lines += ["", *_move_lines(move, units), *_assumed_lines(assumed.get(move.name, ()))]
    for drip in place.drip:
        lines += ["", *_drip_lines(drip, units), *_assumed_lines(assumed.get(drip.name, ()))]
    return "\n".join(lines)


def flag_words(flag: LocatedFlag, units: UnitSystem) -> str:
    """Return where a flag is, in one short line.

    Parameters
    ----------
    flag : LocatedFlag
        The flag.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    str
        One line: well, place on a machine, place along the tape, or ground in a field.
    """
    if flag.well is not None:
        return one_line(flag.well)
    if flag.pivot is not None:
        return _on_machine(flag, flag.pivot, units)
    if flag.move is not None:
        return _on_move(flag, flag.move, units)
    if flag.drip is not None:
        return _on_tape(flag.drip, units)
    if flag.place is not None:
        return _on_ground(flag, flag.place, units)
    return "no place known"


def _ground_words(place: Place, units: UnitSystem, nearest: NearestField | None) -> str:
    if place.field is None:
        return f"Outside every field.{_way_words(nearest, units)}"
    name = one_line(place.field)
    if not place.farmable:
        return f"{name}: inside the boundary, on ground that is not farmed"
    if place.irrigated:
        return f"{name}: wet ground (irrigated)"
    return f"{name}: dry ground (no system's water reaches it)"


def _way_words(nearest: NearestField | None, units: UnitSystem) -> str:
    if nearest is None:
        return ""
    way = f"{length_words(nearest.distance_m, units)}"
    if nearest.azimuth_deg is not None:
        way += f" to the {compass_words(nearest.azimuth_deg)} (azimuth {azimuth_words(nearest.azimuth_deg)})"
    return f" The nearest field is {one_line(nearest.name)}, its boundary {way}."


def _pivot_lines(pivot: PivotPlace, units: UnitSystem, accuracy: Accuracy | None) -> list[str]:
    wets = "wets this place" if pivot.inside else "does not wet this place"
    # 1.96 sigma: along one line 95 of 100 fixes fall within it.
    spread_m = None if accuracy is None else 1.96 * accuracy.sigma_m
    lines = [
        f"{one_line(pivot.name)} ({wets})",
        f"  {_distance(pivot, units, spread_m)}",
        f"  {_azimuth_spread(pivot, spread_m)}",
        f"  {(_PARTS if pivot.inside else _DRY_PARTS)[pivot.part].format(span=pivot.span)}",
        *(f"  {line}" for line in _bent_words(pivot, units)),
        f"  {_nearest_tower(pivot, units)}",
    ]
    outlets = _outlet_words(pivot)
    return [*lines, f"  {outlets}"] if outlets else lines


def _bent_words(pivot: PivotPlace, units: UnitSystem) -> list[str]:
    """Return where a bent pipe or a corner arm stands when it lies over a place."""
    if pivot.bend is not None:
        bend, along = pivot.bend, length_words(pivot.pipe_m, units)
        walked = f"the spans past tower {bend.tower} have walked on {bend.turned_deg:.1f} degrees"
        return [f"past the {bend.at}: {walked}", f"{along} along the pipe"]
    if pivot.arm is None:
        return []
    arm = pivot.arm
    lines = [_arm_words(arm, units)]
    if arm.azimuth_deg is not None and arm.angle_deg is not None:
        at = _at(arm.azimuth_deg, arm.panel_deg)
        lines.append(f"main pipe then at {at}, hinge at {arm.angle_deg:.0f} degrees")
    return lines


def _arm_words(arm: ArmPlace, units: UnitSystem) -> str:
    size = length_words(abs(arm.wheel_offset_m), units)
    side = "outside" if arm.wheel_offset_m > 0 else "inside"
    wheels = "at its steered wheels" if _nothing(size) else f"{size} {side} its steered wheels"
    return f"{length_words(arm.along_m, units)} along the corner arm from its hinge, {wheels}"


def _nothing(size: str) -> bool:
    return size in ("0 ft", "0.0 m")


def _move_lines(move: LateralMovePlace, units: UnitSystem) -> list[str]:
    wets = "wets this place" if move.inside else "does not wet this place"
    part = (_MOVE_PARTS if move.inside else _DRY_MOVE_PARTS)[move.part].format(span=move.span, side=move.side)
    travel = "travel not known"
    if move.travel_m is not None:
        travel = f"travel {length_words(move.travel_m, units)} from the start of its path"
    lines = [
        f"{one_line(move.name)} ({wets})",
        f"  {travel}",
        f"  {length_words(move.offset_m, units)} {move.side} of the cart",
        f"  {part}",
    ]
    if move.tower is None:
        return lines
    return [
        *lines,
        f"  nearest tower {move.tower} {move.side}: {_off_move_track(move, units)} its wheel track",
    ]


def _off_move_track(move: LateralMovePlace, units: UnitSystem) -> str:
    offset = move.tower_offset_m or 0.0
    size = length_words(abs(offset), units)
    return "on" if _nothing(size) else f"{size} {'outside' if offset > 0 else 'inside'}"


def _distance(pivot: PivotPlace, units: UnitSystem, spread_m: float | None) -> str:
    distance = f"{length_words(pivot.distance_m, units)} from the pivot point"
    if spread_m is None:
        return distance
    in_small = spread_m < 3 * units.length_m
    return f"{distance}, give or take {(small_words if in_small else length_words)(spread_m, units)}"


def _azimuth_spread(pivot: PivotPlace, spread_m: float | None) -> str:
    if pivot.azimuth_deg is None:
        return "at the pivot point itself, so no azimuth"
    if spread_m is None:
        return _azimuth(pivot)
    spread_deg = math.degrees(math.atan2(spread_m, pivot.distance_m))
    return f"{_azimuth(pivot)}, give or take {max(spread_deg, 0.1):.1f} degrees"


def _azimuth(pivot: PivotPlace) -> str:
    return "no azimuth" if pivot.azimuth_deg is None else _at(pivot.azimuth_deg, pivot.panel_deg)


def _at(azimuth_deg: float, panel_deg: float | None) -> str:
    panel = "" if panel_deg is None else f" (panel {azimuth_words(panel_deg)})"
    return f"azimuth {azimuth_words(azimuth_deg)}{panel}"


def _off_track(pivot: PivotPlace, units: UnitSystem) -> str:
    """Return how far outside or inside a tower's wheel track, ready for ``its`` or ``the``."""
    size = length_words(abs(pivot.tower_offset_m), units)
    if _nothing(size):
        return "on"
    return f"{size} {'outside' if pivot.tower_offset_m > 0 else 'inside'}"


def _nearest_tower(pivot: PivotPlace, units: UnitSystem) -> str:
    return f"nearest tower {pivot.tower}: {_off_track(pivot, units)} its wheel track"


def _outlet_words(pivot: PivotPlace) -> str:
    """Return the outlet, alone when safe to name, else as a run; empty when not known."""
    if pivot.outlet is None or pivot.outlet_range is None or pivot.outlet_chance is None:
        return ""
    chance = chance_words(pivot.outlet_chance)
    if pivot.outlet_chance >= SAFE:
        return f"outlet {pivot.outlet} ({chance})"
    low, high = pivot.outlet_range
    return f"outlet {low} to {high} (nearest {pivot.outlet}, {chance})"


def _drip_lines(drip: DripPlace, units: UnitSystem) -> list[str]:
    wets = "wets this place" if drip.inside else "does not wet this place"
    head = f"{_block_name(drip)} ({wets})"
    if drip.lateral is None:
        return [head, "  no tape in this block"]
    lines = [head, *(f"  {line}" for line in _lateral_lines(drip, units)), f"  {_station(drip, units)}"]
    if drip.emitter is not None:
        lines.append(f"  nearest emitter about number {drip.emitter} from the header end")
    return lines


def _block_name(drip: DripPlace) -> str:
    """Return block and zone; a zone called ``2`` or ``B`` is said as zone 2, zone B."""
    if not drip.zone:
        return one_line(drip.name)
    zone = one_line(drip.zone)
    return f"{one_line(drip.name)}, {zone if len(zone) > 2 else f'zone {zone}'}"


def _lateral_lines(drip: DripPlace, units: UnitSystem) -> list[str]:
    if not drip.candidates:
        return [_no_candidate(drip), f"nearest tape: lateral {drip.lateral}{_piece(drip)}"]
    best = drip.candidates[0]
    if best.chance >= SAFE:
        line = f"lateral {best.lateral}{_piece(drip)} ({chance_words(best.chance)})"
        return [f"{line}, {_offset(drip, units)}"]
    could = runs_words([each.lateral for each in drip.candidates])
    lines = [f"lateral {best.lateral} most likely ({chance_words(best.chance)}); could be {could}"]
    if drip.elsewhere >= 0.05:
        lines.append(f"none of the laterals near: {chance_words(drip.elsewhere)}")
    measured = f"measured {_offset(drip, units)} from lateral {drip.lateral}{_piece(drip)}"
    return [*lines, f"{measured}: finer than this fix can tell"]


def _no_candidate(drip: DripPlace) -> str:
    # A very coarse fix spreads its chance over so many laterals that none reaches the list.
    if drip.elsewhere < SAFE:
        return "this fix is too coarse to name a lateral"
    return "no tape within reach of this fix"


def _offset(drip: DripPlace, units: UnitSystem) -> str:
    offset = drip.offset_m or 0.0
    size = small_words(abs(offset), units)
    if size in ("0 in", "0 cm"):
        return "0 in" if units.name == "us" else "0 cm"
    return f"{size} toward {'higher' if offset > 0 else 'lower'} numbers"


def _piece(drip: DripPlace) -> str:
    return f", piece {drip.piece}" if drip.piece else ""


def _station(drip: DripPlace, units: UnitSystem) -> str:
    return f"station {length_words(drip.station_m or 0.0, units)} from the header end"


def _assumed_lines(assumed: tuple[str, ...]) -> list[str]:
    return [f"  assumed: {one_line('; '.join(assumed))}"] if assumed else []


def _on_machine(flag: LocatedFlag, pivot: PivotPlace, units: UnitSystem) -> str:
    spot = flag.state.spot
    parts = _said_words(spot, pivot) if isinstance(spot, MachineSpot) else _seen_words(flag, pivot, units)
    bent = pivot.bend is not None or pivot.arm is not None
    along = "along the pipe" if bent else "from the pivot point"
    if pivot.distance_m > 0 and not any("from the pivot point" in part for part in parts):
        parts.append(f"{length_words(pivot.pipe_m, units)} {along}")
    if pivot.bend is not None:
        parts.append(f"past the {pivot.bend.at}, {pivot.bend.turned_deg:.0f} degrees into the bend")
    elif pivot.arm is not None and pivot.arm.azimuth_deg is not None:
        parts.append(f"main pipe at {_at(pivot.arm.azimuth_deg, pivot.arm.panel_deg)}")
    elif pivot.azimuth_deg is not None:
        parts.append(_azimuth(pivot))
    return f"{one_line(pivot.name)}: {', '.join(parts)}"


def _on_move(flag: LocatedFlag, move: LateralMovePlace, units: UnitSystem) -> str:
    spot = flag.state.spot
    if isinstance(spot, MoveSpot):
        parts = [one_line(spot.said)]
    elif move.tower is not None and abs(move.tower_offset_m or 0.0) <= _NEAR_TRACK_M:
        parts = [f"{move.side} tower {move.tower}", f"{_off_move_track(move, units)} its wheel track"]
    else:
        parts = [f"{move.side} span {move.span}" if move.span else f"{move.side} {move.part}"]
    if move.offset_m > 0 and not any("from the cart" in part for part in parts):
        parts.append(f"{length_words(move.offset_m, units)} from the cart")
    if move.travel_m is not None:
        parts.append(f"travel {length_words(move.travel_m, units)}")
    return f"{one_line(move.name)}: {', '.join(parts)}"


def _said_words(spot: MachineSpot, pivot: PivotPlace) -> list[str]:
    """Return a place on a machine as it was said, with the span where that was left out."""
    said = [one_line(spot.said)]
    if pivot.arm is not None and spot.tower is None:
        said.append("corner arm")
    elif spot.tower is None and spot.span is None and pivot.span is not None and pivot.distance_m > 0:
        said.append(f"span {pivot.span}")
    return said


def _seen_words(flag: LocatedFlag, pivot: PivotPlace, units: UnitSystem) -> list[str]:
    """Return a place on a machine that was found by its position."""
    if pivot.arm is not None:
        return [
            "corner arm" if pivot.part == "arm" else "gun of the corner arm",
            _arm_words(pivot.arm, units),
        ]
    span = f"span {pivot.span}" if pivot.span else pivot.part
    if flag.kind.name in _ON_OUTLETS and pivot.outlet_range is not None:
        low, high = pivot.outlet_range
        return [span, f"outlet {low}" if low == high else f"outlet {low} to {high}"]
    track = _off_track(pivot, units)
    if abs(pivot.tower_offset_m) <= _NEAR_TRACK_M:
        return [f"tower {pivot.tower}", f"{track} its wheel track"]
    return [span, f"{track} the track of tower {pivot.tower}"]


def _on_tape(drip: DripPlace, units: UnitSystem) -> str:
    name = _block_name(drip)
    if drip.lateral is None:
        return f"{name}: no tape"
    station = f"station {length_words(drip.station_m or 0.0, units)}"
    if not drip.candidates:
        return f"{name}: {_no_candidate(drip)}, nearest lateral {drip.lateral}, {station}"
    best = drip.candidates[0]
    if best.chance >= SAFE:
        lateral = f"lateral {best.lateral}{_piece(drip)}"
    else:
        lateral = f"about lateral {best.lateral} (1 of {len(drip.candidates)} likely)"
    offset = "" if _offset(drip, units) in ("0 in", "0 cm") else f", {_offset(drip, units)}"
    return f"{name}: {lateral}, {station}{offset}"


def _on_ground(flag: LocatedFlag, place: Place, units: UnitSystem) -> str:
    if place.field is None:
        at = "" if flag.lat is None or flag.lon is None else f", at {flag.lat:.5f}, {flag.lon:.5f}"
        words = f"outside every field{at}"
    elif not place.farmable:
        words = f"{one_line(place.field)}, not farmed"
    else:
        words = f"{one_line(place.field)}, {'wet' if place.irrigated else 'dry'}"
    pivots = [pivot for pivot in place.pivots if pivot.inside]
    move = next((move for move in place.lateral_moves if move.inside), None)
    if not place.pivots or (move is not None and not pivots):
        return words if move is None else f"{words}: {_under_move(move, units)}"
    # Nearest first, but a pivot that wets the place says more than one that does not.
    pivot = pivots[0] if pivots else place.pivots[0]
    parts = [f"{length_words(pivot.distance_m, units)} from {one_line(pivot.name)}'s point"]
    if pivot.azimuth_deg is not None:
        parts.append(_azimuth(pivot))
    if pivot.arm is not None:
        parts.append(
            "under its corner arm" if pivot.part == "arm" else "within reach of its corner arm's gun"
        )
    elif abs(pivot.tower_offset_m) <= _NEAR_TRACK_M:
        parts.append(f"{_off_track(pivot, units)} the track of tower {pivot.tower}")
    elif pivot.part != "beyond":
        parts.append(f"span {pivot.span}" if pivot.span else pivot.part)
    return f"{words}: {', '.join(parts)}"


def _under_move(move: LateralMovePlace, units: UnitSystem) -> str:
    parts = [
        f"{length_words(move.travel_m or 0.0, units)} along {one_line(move.name)}'s path",
        f"{length_words(move.offset_m, units)} {move.side} of the cart",
    ]
    if move.tower is not None and abs(move.tower_offset_m or 0.0) <= _NEAR_TRACK_M:
        parts.append(f"{_off_move_track(move, units)} the track of tower {move.tower}")
    elif move.part != "beyond":
        parts.append(f"span {move.span}" if move.span else move.part)
    return ", ".join(parts)

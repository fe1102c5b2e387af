"""A place in words: a short block for ``where``, one line for lists, maps and sheets.

A span or tower is safe to name from a phone, a single drop or tape line is not: those are
named alone only when the chance is 0.95 or better, and as a run with a chance otherwise.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from ringrow.farm.flag_model import MachineSpot, MoveSpot
from ringrow.handoff import place_sentences as say
from ringrow.handoff.assumed_words import assumed_words, said_again
from ringrow.handoff.fault_words import at_words
from ringrow.handoff.languages import _
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
        lines.append(_("Position {accuracy}.").format(accuracy=accuracy_words(accuracy, units)))
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
    return _("no place known")


def _ground_words(place: Place, units: UnitSystem, nearest: NearestField | None) -> str:
    if place.field is None:
        return _outside_words(nearest, units)
    name = one_line(place.field)
    if not place.farmable:
        return _("{name}: inside the boundary, on ground that is not farmed").format(name=name)
    if place.irrigated:
        return _("{name}: wet ground (irrigated)").format(name=name)
    return _("{name}: dry ground (no system's water reaches it)").format(name=name)


def _outside_words(nearest: NearestField | None, units: UnitSystem) -> str:
    if nearest is None:
        return _("Outside every field.")
    name, length = one_line(nearest.name), length_words(nearest.distance_m, units)
    if nearest.azimuth_deg is None:
        said = _("Outside every field. The nearest field is {name}, its boundary {length}.")
        return said.format(name=name, length=length)
    return _(
        "Outside every field. The nearest field is {name}, its boundary {length} to the {compass} (azimuth "
        "{azimuth})."
    ).format(
        name=name,
        length=length,
        compass=compass_words(nearest.azimuth_deg),
        azimuth=azimuth_words(nearest.azimuth_deg),
    )


def _pivot_lines(pivot: PivotPlace, units: UnitSystem, accuracy: Accuracy | None) -> list[str]:
    # 1.96 sigma: along one line 95 of 100 fixes fall within it.
    spread_m = None if accuracy is None else 1.96 * accuracy.sigma_m
    lines = [
        _wets(one_line(pivot.name), inside=pivot.inside),
        f"  {_distance(pivot, units, spread_m)}",
        f"  {_azimuth_spread(pivot, spread_m)}",
        f"  {_((say.PARTS if pivot.inside else say.DRY_PARTS)[pivot.part]).format(span=pivot.span)}",
        *(f"  {line}" for line in _bent_words(pivot, units)),
        f"  {_off_track(say.NEAREST_TRACK, pivot.tower_offset_m, units, tower=pivot.tower)}",
    ]
    outlets = _outlet_words(pivot)
    return [*lines, f"  {outlets}"] if outlets else lines


def _wets(name: str, *, inside: bool) -> str:
    return _(say.WETS if inside else say.WETS_NOT).format(name=name)


def _bent_words(pivot: PivotPlace, units: UnitSystem) -> list[str]:
    """Return where a bent pipe or a corner arm stands when it lies over a place."""
    if pivot.bend is not None:
        bend, along = pivot.bend, length_words(pivot.pipe_m, units)
        walked = _(say.BENT[bend.at]).format(tower=bend.tower, turned=f"{bend.turned_deg:.1f}")
        return [walked, _("{length} along the pipe").format(length=along)]
    if pivot.arm is None:
        return []
    arm = pivot.arm
    lines = [_arm_words(arm, units)]
    if arm.azimuth_deg is not None and arm.angle_deg is not None:
        at = at_words(arm.azimuth_deg, arm.panel_deg)
        said = _("main pipe then at {at}, hinge at {angle} degrees")
        lines.append(said.format(at=at, angle=f"{arm.angle_deg:.0f}"))
    return lines


def _arm_words(arm: ArmPlace, units: UnitSystem) -> str:
    along = length_words(arm.along_m, units)
    return _off_track(say.ARM_WHEELS, arm.wheel_offset_m, units, length=along)


def _off_track(messages: tuple[str, str, str], offset_m: float, units: UnitSystem, **values: Any) -> str:
    """Return how far from a wheel track: a message for on it, outside it and inside it."""
    size = length_words(abs(offset_m), units)
    if size == length_words(0.0, units):
        return _(messages[0]).format(**values)
    return _(messages[1 if offset_m > 0 else 2]).format(size=size, **values)


def _move_lines(move: LateralMovePlace, units: UnitSystem) -> list[str]:
    part = _((say.MOVE_PARTS if move.inside else say.DRY_MOVE_PARTS)[move.part])
    travel = _("travel not known")
    if move.travel_m is not None:
        said = _("travel {length} from the start of its path")
        travel = said.format(length=length_words(move.travel_m, units))
    lines = [
        _wets(one_line(move.name), inside=move.inside),
        f"  {travel}",
        f"  {_(say.OFF_CART[move.side]).format(length=length_words(move.offset_m, units))}",
        f"  {part.format(span=move.span, side=_(say.SIDES[move.side]))}",
    ]
    if move.tower is None:
        return lines
    track = say.LEFT_TRACK if move.side == "left" else say.RIGHT_TRACK
    return [*lines, f"  {_off_track(track, move.tower_offset_m or 0.0, units, tower=move.tower)}"]


def _distance(pivot: PivotPlace, units: UnitSystem, spread_m: float | None) -> str:
    distance = _("{length} from the pivot point").format(length=length_words(pivot.distance_m, units))
    if spread_m is None:
        return distance
    in_small = spread_m < 3 * units.length_m
    spread = (small_words if in_small else length_words)(spread_m, units)
    return _("{distance}, give or take {spread}").format(distance=distance, spread=spread)


def _azimuth_spread(pivot: PivotPlace, spread_m: float | None) -> str:
    if pivot.azimuth_deg is None:
        return _("at the pivot point itself, so no azimuth")
    if spread_m is None:
        return _azimuth(pivot)
    spread_deg = math.degrees(math.atan2(spread_m, pivot.distance_m))
    return _("{azimuth}, give or take {spread} degrees").format(
        azimuth=_azimuth(pivot), spread=f"{max(spread_deg, 0.1):.1f}"
    )


def _azimuth(pivot: PivotPlace) -> str:
    return _("no azimuth") if pivot.azimuth_deg is None else at_words(pivot.azimuth_deg, pivot.panel_deg)


def _outlet_words(pivot: PivotPlace) -> str:
    """Return the outlet, alone when safe to name, else as a run; empty when not known."""
    if pivot.outlet is None or pivot.outlet_range is None or pivot.outlet_chance is None:
        return ""
    chance = chance_words(pivot.outlet_chance)
    if pivot.outlet_chance >= SAFE:
        return _("outlet {outlet} ({chance})").format(outlet=pivot.outlet, chance=chance)
    low, high = pivot.outlet_range
    said = _("outlet {low} to {high} (nearest {outlet}, {chance})")
    return said.format(low=low, high=high, outlet=pivot.outlet, chance=chance)


def _drip_lines(drip: DripPlace, units: UnitSystem) -> list[str]:
    head = _wets(_block_name(drip), inside=drip.inside)
    if drip.lateral is None:
        return [head, f"  {_('no tape in this block')}"]
    station = _("station {length} from the header end").format(
        length=length_words(drip.station_m or 0.0, units)
    )
    lines = [head, *(f"  {line}" for line in _lateral_lines(drip, units)), f"  {station}"]
    if drip.emitter is not None:
        said = _("nearest emitter about number {number} from the header end")
        lines.append(f"  {said.format(number=drip.emitter)}")
    return lines


def _block_name(drip: DripPlace) -> str:
    """Return block and zone; a zone called ``2`` or ``B`` is said as zone 2, zone B."""
    if not drip.zone:
        return one_line(drip.name)
    zone = one_line(drip.zone)
    return f"{one_line(drip.name)}, {zone if len(zone) > 2 else _('zone {zone}').format(zone=zone)}"


def _lateral_lines(drip: DripPlace, units: UnitSystem) -> list[str]:
    if not drip.candidates:
        return [_no_candidate(drip), _("nearest tape: lateral {lateral}").format(lateral=_nearest(drip))]
    best = drip.candidates[0]
    chance, offset = chance_words(best.chance), _offset(drip, units)
    if best.chance >= SAFE:
        lateral = f"{best.lateral}{_piece(drip)}"
        said = _("lateral {lateral} ({chance}), {offset}")
        return [said.format(lateral=lateral, chance=chance, offset=offset)]
    could = runs_words([each.lateral for each in drip.candidates])
    said = _("lateral {lateral} most likely ({chance}); could be {could}")
    lines = [said.format(lateral=best.lateral, chance=chance, could=could)]
    if drip.elsewhere >= 0.05:
        said = _("none of the laterals near: {chance}")
        lines.append(said.format(chance=chance_words(drip.elsewhere)))
    said = _("measured {offset} from lateral {lateral}: finer than this fix can tell")
    return [*lines, said.format(offset=offset, lateral=_nearest(drip))]


def _nearest(drip: DripPlace) -> str:
    return f"{drip.lateral}{_piece(drip)}"


def _no_candidate(drip: DripPlace) -> str:
    # A very coarse fix spreads its chance over so many laterals that none reaches the list.
    if drip.elsewhere < SAFE:
        return _("this fix is too coarse to name a lateral")
    return _("no tape within reach of this fix")


def _offset(drip: DripPlace, units: UnitSystem) -> str:
    offset = drip.offset_m or 0.0
    size = small_words(abs(offset), units)
    if size == small_words(0.0, units):
        return size
    if offset > 0:
        return _("{size} toward higher numbers").format(size=size)
    return _("{size} toward lower numbers").format(size=size)


def _piece(drip: DripPlace) -> str:
    return _(", piece {letter}").format(letter=drip.piece) if drip.piece else ""


def _assumed_lines(assumed: tuple[str, ...]) -> list[str]:
    if not assumed:
        return []
    return [f"  {_('assumed: {assumed}').format(assumed=one_line(assumed_words(assumed)))}"]


def _on_machine(flag: LocatedFlag, pivot: PivotPlace, units: UnitSystem) -> str:
    spot = flag.state.spot
    parts = _said_words(spot, pivot) if isinstance(spot, MachineSpot) else _seen_words(flag, pivot, units)
    bent = pivot.bend is not None or pivot.arm is not None
    said = isinstance(spot, MachineSpot) and "from the pivot point" in spot.said
    if pivot.distance_m > 0 and not said:
        along = _("{length} along the pipe") if bent else _("{length} from the pivot point")
        parts.append(along.format(length=length_words(pivot.pipe_m, units)))
    if pivot.bend is not None:
        parts.append(_(say.INTO_BEND[pivot.bend.at]).format(turned=f"{pivot.bend.turned_deg:.0f}"))
    elif pivot.arm is not None and pivot.arm.azimuth_deg is not None:
        at = at_words(pivot.arm.azimuth_deg, pivot.arm.panel_deg)
        parts.append(_("main pipe at {at}").format(at=at))
    elif pivot.azimuth_deg is not None:
        parts.append(_azimuth(pivot))
    return f"{one_line(pivot.name)}: {', '.join(parts)}"


def _on_move(flag: LocatedFlag, move: LateralMovePlace, units: UnitSystem) -> str:
    spot = flag.state.spot
    if isinstance(spot, MoveSpot):
        parts = [said_again(one_line(spot.said))]
    elif move.tower is not None and abs(move.tower_offset_m or 0.0) <= _NEAR_TRACK_M:
        tower = _(say.SIDE_TOWERS[move.side]).format(tower=move.tower)
        parts = [tower, _off_track(say.TRACK, move.tower_offset_m or 0.0, units)]
    elif move.span:
        parts = [_(say.SIDE_SPANS[move.side]).format(span=move.span)]
    else:
        parts = [_(say.MOVE_PART_NAMES[move.side, move.part])]
    if move.offset_m > 0 and not (isinstance(spot, MoveSpot) and "from the cart" in spot.said):
        parts.append(_("{length} from the cart").format(length=length_words(move.offset_m, units)))
    if move.travel_m is not None:
        parts.append(_("travel {length}").format(length=length_words(move.travel_m, units)))
    return f"{one_line(move.name)}: {', '.join(parts)}"


def _said_words(spot: MachineSpot, pivot: PivotPlace) -> list[str]:
    """Return a place on a machine as it was said, with the span where that was left out."""
    said = [said_again(one_line(spot.said))]
    if pivot.arm is not None and spot.tower is None:
        said.append(_("corner arm"))
    elif spot.tower is None and spot.span is None and pivot.span is not None and pivot.distance_m > 0:
        said.append(_("span {span}").format(span=pivot.span))
    return said


def _seen_words(flag: LocatedFlag, pivot: PivotPlace, units: UnitSystem) -> list[str]:
    """Return a place on a machine that was found by its position."""
    if pivot.arm is not None:
        return [
            _("corner arm") if pivot.part == "arm" else _("gun of the corner arm"),
            _arm_words(pivot.arm, units),
        ]
    span = _part_words(pivot)
    if flag.kind.name in _ON_OUTLETS and pivot.outlet_range is not None:
        low, high = pivot.outlet_range
        if low == high:
            return [span, _("outlet {outlet}").format(outlet=low)]
        return [span, _("outlet {low} to {high}").format(low=low, high=high)]
    if abs(pivot.tower_offset_m) <= _NEAR_TRACK_M:
        tower = _("tower {tower}").format(tower=pivot.tower)
        return [tower, _off_track(say.TRACK, pivot.tower_offset_m, units)]
    return [span, _off_track(say.TOWERS_TRACK, pivot.tower_offset_m, units, tower=pivot.tower)]


def _part_words(place: PivotPlace | LateralMovePlace) -> str:
    return _("span {span}").format(span=place.span) if place.span else _(say.PART_NAMES[place.part])


def _on_tape(drip: DripPlace, units: UnitSystem) -> str:
    name = _block_name(drip)
    if drip.lateral is None:
        return _("{name}: no tape").format(name=name)
    station = _("station {length}").format(length=length_words(drip.station_m or 0.0, units))
    if not drip.candidates:
        nearest = _("nearest lateral {lateral}").format(lateral=drip.lateral)
        return f"{name}: {_no_candidate(drip)}, {nearest}, {station}"
    best = drip.candidates[0]
    if best.chance >= SAFE:
        lateral = _("lateral {lateral}").format(lateral=f"{best.lateral}{_piece(drip)}")
    else:
        said = _("about lateral {lateral} (1 of {n} likely)")
        lateral = said.format(lateral=best.lateral, n=len(drip.candidates))
    offset = _offset(drip, units)
    return f"{name}: {lateral}, {station}" + ("" if offset == small_words(0.0, units) else f", {offset}")


def _on_ground(flag: LocatedFlag, place: Place, units: UnitSystem) -> str:
    words = _ground_name(flag, place)
    pivots = [pivot for pivot in place.pivots if pivot.inside]
    move = next((move for move in place.lateral_moves if move.inside), None)
    if not place.pivots or (move is not None and not pivots):
        return words if move is None else f"{words}: {_under_move(move, units)}"
    # Nearest first, but a pivot that wets the place says more than one that does not.
    pivot = pivots[0] if pivots else place.pivots[0]
    said = _("{length} from {name}'s point")
    parts = [said.format(length=length_words(pivot.distance_m, units), name=one_line(pivot.name))]
    if pivot.azimuth_deg is not None:
        parts.append(_azimuth(pivot))
    if pivot.arm is not None:
        under = pivot.part == "arm"
        parts.append(_("under its corner arm") if under else _("within reach of its corner arm's gun"))
    elif abs(pivot.tower_offset_m) <= _NEAR_TRACK_M:
        parts.append(_off_track(say.TOWERS_TRACK, pivot.tower_offset_m, units, tower=pivot.tower))
    elif pivot.part != "beyond":
        parts.append(_part_words(pivot))
    return f"{words}: {', '.join(parts)}"


def _ground_name(flag: LocatedFlag, place: Place) -> str:
    if place.field is None:
        if flag.lat is None or flag.lon is None:
            return _("outside every field")
        return _("outside every field, at {at}").format(at=f"{flag.lat:.5f}, {flag.lon:.5f}")
    name = one_line(place.field)
    if not place.farmable:
        return _("{name}, not farmed").format(name=name)
    return (_("{name}, wet") if place.irrigated else _("{name}, dry")).format(name=name)


def _under_move(move: LateralMovePlace, units: UnitSystem) -> str:
    said = _("{length} along {name}'s path")
    parts = [
        said.format(length=length_words(move.travel_m or 0.0, units), name=one_line(move.name)),
        _(say.OFF_CART[move.side]).format(length=length_words(move.offset_m, units)),
    ]
    if move.tower is not None and abs(move.tower_offset_m or 0.0) <= _NEAR_TRACK_M:
        parts.append(_off_track(say.TOWERS_TRACK, move.tower_offset_m or 0.0, units, tower=move.tower))
    elif move.part != "beyond":
        parts.append(_part_words(move))
    return ", ".join(parts)

"""Where to dig, in the words the crew reads first, the odds in small print; and as JSON values."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ringrow.coverage.leak_hint import LAID_WITHIN_M
from ringrow.handoff.languages import N_, _, counted
from ringrow.handoff.number_words import (
    chance_words,
    compass_words,
    length_words,
    one_line,
    runs_words,
    small_words,
    unit_words,
)

if TYPE_CHECKING:
    from ringrow.coverage.leak_hint import LeakHint, Shut
    from ringrow.units import UnitSystem

SAFE = 0.95
_LAID = N_(
    "Laid tape is counted as within {within} of its plan, which holds 95 in 100 at the spread of 192 digs "
    "(Bordovsky 2006); stations say how good the fix is, not how far water ran."
)

_SLOTS = (
    N_(
        "Start at the water. Find the slot the tape was pulled in: a line of softer, wetter ground running "
        "north and south."
    ),
    N_(
        "Start at the water. Find the slot the tape was pulled in: a line of softer, wetter ground running "
        "northeast and southwest."
    ),
    N_(
        "Start at the water. Find the slot the tape was pulled in: a line of softer, wetter ground running "
        "east and west."
    ),
    N_(
        "Start at the water. Find the slot the tape was pulled in: a line of softer, wetter ground running "
        "southeast and northwest."
    ),
)
_FOLLOW = {
    "header": N_(
        "Follow the slot toward the header, which lies {toward} and uphill: water runs along it before it "
        "shows."
    ),
    "far": N_(
        "Follow the slot toward the header, which lies {toward}; uphill is the other way, so look there "
        "too: water runs along it before it shows."
    ),
}
_FOLLOW_BOTH = N_(
    "Follow the slot toward the header, which lies {toward}, and uphill: water runs along it before it shows."
)


def leak_record(hint: LeakHint, units: UnitSystem) -> dict[str, Any]:
    """Return a dig hint as plain values under the keys of the JSON output.

    Parameters
    ----------
    hint : LeakHint
        The hint.
    units : UnitSystem
        The farm's units; keys end in them.

    Returns
    -------
    dict
        Numbers are not rounded; what is not known is None. ``band_in`` runs across the laterals from
        the flag, negative toward lower numbers.
    """
    bore = hint.tape.inside_diameter_m if hint.tape else None
    return {
        "drip": hint.block,
        "lateral": hint.lateral,
        "piece": hint.piece,
        "candidates": [{"lateral": each.lateral, "chance": each.chance} for each in hint.candidates],
        "elsewhere": hint.elsewhere,
        units.key("offset_in"): units.from_m_small(hint.offset_m),
        units.key("band_in"): [units.from_m_small(edge) for edge in hint.band_m],
        units.key("station_ft"): units.from_m(hint.station_m),
        units.key("station_range_ft"): [units.from_m(end) for end in hint.station_range_m],
        "nearest_end": hint.end,
        units.key("nearest_end_ft"): units.from_m(hint.end_m),
        "header_bearing_deg": hint.header_bearing_deg,
        "uphill": hint.uphill,
        units.key("zone_edge_ft"): None if hint.zone_edge_m is None else units.from_m(hint.zone_edge_m),
        "zone_edge_rows": hint.zone_edge_rows,
        "beyond_edge": hint.beyond_edge,
        "shut": [
            {"zone": each.zone or None, "valve": each.valve or None, "chance": each.chance}
            for each in hint.shut
        ],
        "wells": [well.name for well in hint.wells],
        "rows": list(hint.rows),
        "rows_from": hint.rows_from,
        "rows_between": hint.rows_between,
        "rows_edge_deg": hint.rows_edge_deg,
        units.key("depth_in"): None if hint.depth_m is None else units.from_m_small(hint.depth_m),
        units.key("tape_in"): None if bore is None else units.from_m_small(bore),
        "own_holes": None if hint.record is None else hint.record.holes,
        units.key("own_median_ft"): None if hint.record is None else units.from_m(hint.record.median_m),
    }


def leak_lines(hint: LeakHint, units: UnitSystem) -> list[str]:
    """Return a dig hint in plain lines: what to do, where, what to bring, then the odds.

    Parameters
    ----------
    hint : LeakHint
        The hint.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    list of str
        One line each; what follows the line ``Small print`` is for whoever wants it.
    """
    toward = compass_words(hint.header_bearing_deg)
    lines = [
        _("To dig"),
        f"  {_(_SLOTS[round(hint.header_bearing_deg / 45.0) % 4])}",
        f"  {_(_FOLLOW.get(hint.uphill or '', _FOLLOW_BOTH)).format(toward=toward)}",
        "  "
        + _(
            "Before you dig have buried lines marked (in the US call 811 and wait as your state says; "
            "private lines are not marked) and dig by hand near the marks. Local codes come first."
        ),
        f"  {_rows(hint)}",
        f"  {_depth(hint, units)}",
        f"  {_bring(hint, units)}",
        f"  {_shut(hint)}",
        *(f"  {line}" for line in _wells(hint)),
        f"  {_station(hint, units)}",
    ]
    edge = _edge(hint, units)
    if edge:
        lines.append(f"  {edge}")
    if hint.record is not None:
        record = hint.record
        half, near, far = (
            length_words(each, units) for each in (record.median_m, record.low_m, record.high_m)
        )
        said = _(
            "On this farm half of {n} holes lay within {half} of the water, the middle half {near} to {far} "
            "away."
        )
        lines.append(f"  {said.format(n=record.holes, half=half, near=near, far=far)}")
    return [*lines, f"  {_('Small print')}", *(f"    {line}" for line in _odds(hint, units))]


def _rows(hint: LeakHint) -> str:
    first, last = hint.rows
    if first == last:
        beside = _("row {first} beside it")
    elif last == first + 1:
        beside = _("rows {first} and {last} beside it")
    else:
        beside = _("rows {first} to {last} beside it")
    inward = counted(
        "{n} row in from the {side} edge", "{n} rows in from the {side} edge", hint.rows_between
    ).format(n=f"{hint.rows_between:,}", side=compass_words(hint.rows_edge_deg))
    return _("Likeliest tape: lateral {lateral}, {beside}, {inward}.").format(
        lateral=f"{hint.lateral}{_piece(hint)}", beside=beside.format(first=first, last=last), inward=inward
    )


def _piece(hint: LeakHint) -> str:
    return _(", piece {letter}").format(letter=hint.piece) if hint.piece else ""


def _depth(hint: LeakHint, units: UnitSystem) -> str:
    if hint.depth_m is None:
        return _("How deep the tape lies is not in the farm's files: dig by hand.")
    depth = small_words(hint.depth_m, units)
    return _("Tape is {depth} down: dig by hand for the last of it.").format(depth=depth)


def _bring(hint: LeakHint, units: UnitSystem) -> str:
    bore = hint.tape.inside_diameter_m if hint.tape else None
    if bore is None:
        return _("Bring couplings for every tape size you have: this one's is not in the farm's files.")
    size = f"{units.from_m_small(bore):.3f}".rstrip("0").rstrip(".")
    return _("Bring couplings and tape of {size} inside diameter.").format(
        size=f"{size} {unit_words(units.small)}"
    )


def _shut(hint: LeakHint) -> str:
    if [each.zone for each in hint.shut] == [""]:
        return _("Shut {name} before you cut: it has no zones.").format(name=one_line(hint.block))
    words = _(" or ").join(_zone(each) for each in hint.shut)
    first = hint.shut[0]
    if len(hint.shut) == 1:
        return _("Shut {name} before you cut, and let the pressure off.").format(name=words)
    return _(
        "Shut {names} before you cut: it lies near the edge between them, {name} {chance}. Let the "
        "pressure off."
    ).format(names=words, name=_zone(first), chance=chance_words(first.chance))


def _zone(shut: Shut) -> str:
    if not shut.zone:
        return _("laterals in no zone")
    if shut.valve:
        return _("valve {valve} ({zone})").format(valve=one_line(shut.valve), zone=one_line(shut.zone))
    return _("zone {zone}").format(zone=one_line(shut.zone))


def _wells(hint: LeakHint) -> list[str]:
    if not hint.wells:
        return [_("No well in the farm's files waters this block.")]
    lines = []
    for well in hint.wells:
        shutoffs = f": {one_line(well.shutoffs)}" if well.shutoffs else ""
        from_ = f"{one_line(well.name)}{shutoffs}".rstrip(".")
        lines.append(_("Water comes from {well}.").format(well=from_))
    return lines


def _station(hint: LeakHint, units: UnitSystem) -> str:
    low, high = (length_words(each, units) for each in hint.station_range_m)
    station = length_words(hint.station_m, units)
    if low != high:
        station += f" ({_('{low} to {high}').format(low=low, high=high)})"
    if hint.end == "header":
        return _("Station {station} from the header end.").format(station=station)
    return _("Station {station} from the header end; the far end is nearer, {far} on.").format(
        station=station, far=length_words(hint.end_m, units)
    )


def _edge(hint: LeakHint, units: UnitSystem) -> str:
    if hint.zone_edge_m is None:
        return ""
    across = length_words(hint.zone_edge_m, units)
    if hint.zone_edge_rows is not None:
        rows = counted("{n} row", "{n} rows", hint.zone_edge_rows).format(n=f"{hint.zone_edge_rows:,}")
        across += f" ({rows})"
    if not hint.beyond_edge:
        return _("The zone's nearest edge is {far} across, the last of the block.").format(far=across)
    return _("The zone's nearest edge is {far} across, beyond it {zone}.").format(
        far=across, zone=one_line(hint.beyond_edge)
    )


def _odds(hint: LeakHint, units: UnitSystem) -> list[str]:
    lines = []
    best = hint.candidates[0]
    numbers = [each.lateral for each in hint.candidates]
    together = sum(each.chance for each in hint.candidates)
    chance = chance_words(best.chance)
    if best.chance >= SAFE:
        lines.append(_("Lateral {lateral}: {chance}.").format(lateral=best.lateral, chance=chance))
    elif together >= SAFE:
        said = _("Lateral {lateral}: {chance}; it may be {laterals}, which together hold 95 in 100.")
        lines.append(said.format(lateral=best.lateral, chance=chance, laterals=runs_words(numbers)))
    else:
        said = _("Lateral {lateral}: {chance}; it may be {laterals}, together {held}.")
        held = chance_words(together)
        lines.append(
            said.format(lateral=best.lateral, chance=chance, laterals=runs_words(numbers), held=held)
        )
    if hint.elsewhere >= 1.0 - SAFE:
        lines.append(_("None of the laterals near: {chance}.").format(chance=chance_words(hint.elsewhere)))
    low, high = hint.band_m
    said = _("Across, the tape lies between {low} toward lower and {high} toward higher numbers of the flag.")
    lines.append(said.format(low=small_words(max(-low, 0.0), units), high=small_words(max(high, 0.0), units)))
    lines.append(_(_LAID).format(within=small_words(LAID_WITHIN_M, units)))
    return lines

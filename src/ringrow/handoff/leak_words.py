"""Where to dig, in the words the crew reads first, the odds in small print; and as JSON values."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ringrow.coverage.leak_hint import LAID_WITHIN_M
from ringrow.handoff.number_words import (
    chance_words,
    compass_words,
    length_words,
    one_line,
    runs_words,
    small_words,
)

if TYPE_CHECKING:
    from ringrow.coverage.leak_hint import LeakHint, Shut
    from ringrow.units import UnitSystem

SAFE = 0.95
_LAID = (
    "Laid tape is counted as within {within} of its plan, which holds 95 in 100 at the spread of 192 digs "
    "(Bordovsky 2006); stations say how good the fix is, not how far water ran."
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
        "To dig",
        "  Start at the water. Find the slot the tape was pulled in: a line of softer, wetter ground "
        f"{_along(hint)}.",
        f"  Follow the slot toward the header, which lies {toward}{_uphill(hint)}: water runs along it "
        "before it shows.",
        "  Before you dig have buried lines marked (in the US call 811 and wait as your state says; private "
        "lines are not marked) and dig by hand near the marks. Local codes come first.",
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
        near, far = (length_words(each, units) for each in (hint.record.low_m, hint.record.high_m))
        lines.append(
            f"  On this farm half of {hint.record.holes} holes lay within "
            f"{length_words(hint.record.median_m, units)} of the water, the middle half {near} to {far} away."
        )
    return [*lines, "  Small print", *(f"    {line}" for line in _odds(hint, units))]


def _along(hint: LeakHint) -> str:
    names = ("north and south", "northeast and southwest", "east and west", "southeast and northwest")
    return f"running {names[round(hint.header_bearing_deg / 45.0) % 4]}"


def _uphill(hint: LeakHint) -> str:
    if hint.uphill == "header":
        return " and uphill"
    if hint.uphill == "far":
        return "; uphill is the other way, so look there too"
    return ", and uphill"


def _rows(hint: LeakHint) -> str:
    first, last = hint.rows
    beside = (
        f"row {first}"
        if first == last
        else f"rows {first} and {last}"
        if last == first + 1
        else f"rows {first} to {last}"
    )
    edge = f"{hint.rows_between:,} rows in from the {compass_words(hint.rows_edge_deg)} edge"
    return f"Likeliest tape: lateral {hint.lateral}{_piece(hint)}, {beside} beside it, {edge}."


def _piece(hint: LeakHint) -> str:
    return f", piece {hint.piece}" if hint.piece else ""


def _depth(hint: LeakHint, units: UnitSystem) -> str:
    if hint.depth_m is None:
        return "How deep the tape lies is not in the farm's files: dig by hand."
    return f"Tape is {small_words(hint.depth_m, units)} down: dig by hand for the last of it."


def _bring(hint: LeakHint, units: UnitSystem) -> str:
    bore = hint.tape.inside_diameter_m if hint.tape else None
    if bore is None:
        return "Bring couplings for every tape size you have: this one's is not in the farm's files."
    size = f"{units.from_m_small(bore):.3f}".rstrip("0").rstrip(".")
    return f"Bring couplings and tape of {size} {units.small} inside diameter."


def _shut(hint: LeakHint) -> str:
    if [each.zone for each in hint.shut] == [""]:
        return f"Shut {one_line(hint.block)} before you cut: it has no zones."
    words = " or ".join(_zone(each) for each in hint.shut)
    first = hint.shut[0]
    if len(hint.shut) == 1:
        return f"Shut {words} before you cut, and let the pressure off."
    return (
        f"Shut {words} before you cut: it lies near the edge between them, {_zone(first)} "
        f"{chance_words(first.chance)}. Let the pressure off."
    )


def _zone(shut: Shut) -> str:
    if not shut.zone:
        return "laterals in no zone"
    valve = f"valve {one_line(shut.valve)} ({one_line(shut.zone)})"
    return valve if shut.valve else f"zone {one_line(shut.zone)}"


def _wells(hint: LeakHint) -> list[str]:
    if not hint.wells:
        return ["No well in the farm's files waters this block."]
    lines = []
    for well in hint.wells:
        shutoffs = f": {one_line(well.shutoffs)}" if well.shutoffs else ""
        lines.append(f"Water comes from {one_line(well.name)}{shutoffs}".rstrip(".") + ".")
    return lines


def _station(hint: LeakHint, units: UnitSystem) -> str:
    low, high = (length_words(each, units) for each in hint.station_range_m)
    station = length_words(hint.station_m, units)
    end = "header end" if hint.end == "header" else "far end"
    between = f" ({low} to {high})" if low != high else ""
    away = "" if hint.end == "header" else f"; the {end} is nearer, {length_words(hint.end_m, units)} on"
    return f"Station {station}{between} from the header end{away}."


def _edge(hint: LeakHint, units: UnitSystem) -> str:
    if hint.zone_edge_m is None:
        return ""
    beyond = f", beyond it {one_line(hint.beyond_edge)}" if hint.beyond_edge else ", the last of the block"
    rows = "" if hint.zone_edge_rows is None else f" ({hint.zone_edge_rows:,} rows)"
    return f"The zone's nearest edge is {length_words(hint.zone_edge_m, units)}{rows} across{beyond}."


def _odds(hint: LeakHint, units: UnitSystem) -> list[str]:
    lines = []
    best = hint.candidates[0]
    numbers = [each.lateral for each in hint.candidates]
    together = sum(each.chance for each in hint.candidates)
    if best.chance >= SAFE:
        lines.append(f"Lateral {best.lateral}: {chance_words(best.chance)}.")
    else:
        held = "which together hold 95 in 100" if together >= SAFE else f"together {chance_words(together)}"
        lines.append(
            f"Lateral {best.lateral}: {chance_words(best.chance)}; it may be {runs_words(numbers)}, {held}."
        )
    if hint.elsewhere >= 1.0 - SAFE:
        lines.append(f"None of the laterals near: {chance_words(hint.elsewhere)}.")
    low, high = hint.band_m
    lines.append(
        f"Across, the tape lies between {small_words(max(-low, 0.0), units)} toward lower and "
        f"{small_words(max(high, 0.0), units)} toward higher numbers of the flag."
    )
    lines.append(_LAID.format(within=small_words(LAID_WITHIN_M, units)))
    return lines

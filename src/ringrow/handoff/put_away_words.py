"""The fall list in words: what is put away, what is done in spring, and the list as people read it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ringrow.equipment.put_away import PARKED
from ringrow.farm.events import when_text
from ringrow.farm.rebuilds import day_zone
from ringrow.farm.systems import local_time
from ringrow.handoff.cautions import CLOSING, GENERAL, caution_words
from ringrow.handoff.languages import N_, _
from ringrow.handoff.number_words import azimuth_words, one_line
from ringrow.handoff.plain_table import wrapped

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import tzinfo

    from ringrow.farm.model import Farm
    from ringrow.farm.put_away import PutAwayLine

_WELL, _ANY = "well", ""

# Common practice, no source. By item and kind of system; an empty kind stands for the others.
FALL: dict[tuple[str, str], str] = {
    ("power-off", _ANY): N_("Power off and locked at the disconnect, cable off, by a qualified person"),
    ("drained", _ANY): N_("Pipe drained, every low drain open"),
    ("drained", "drip"): N_("Mains, headers and valves drained"),
    ("drained", _WELL): N_("Pump, column riser and pipe drained, drains open"),
    ("end-open", _ANY): N_("End plug or end valve open, sand trap emptied"),
    ("gun-drained", _ANY): N_("End gun and its booster drained"),
    ("parked", _ANY): N_("Parked for the winter, with the way it stands and what for (wind, road, stock)"),
    ("dry-ground", _ANY): N_("Wheels on firm, dry ground, out of old ruts"),
    ("intake-out", _ANY): N_("Intake lifted out of the water, its screen cleaned"),
    ("flushed", _ANY): N_("Laterals and headers flushed until the water ran clear"),
    ("valves-open", _ANY): N_(
        "Zone valves, flush valves and air vents left open, so that nothing holds water"
    ),
    ("filters-drained", _ANY): N_("Filters and injection pump rinsed and drained, gauges taken in"),
    ("fuel-shut", _ANY): N_("Fuel or gas shut on our side of the meter"),
    ("battery-out", _ANY): N_("Battery out and charged, grounded cable taken off first"),
    ("coolant", _ANY): N_("Coolant tested for the hardest frost, oil changed"),
    ("discharge-open", _ANY): N_("Discharge valve and air vent left open, so that nothing holds water"),
}
"""What is done in the fall."""
SPRING: dict[tuple[str, str], str] = {
    ("power-off", _ANY): N_("Cable and power on again: a qualified person"),
    ("drained", _ANY): N_("Close the drain valves"),
    ("drained", _WELL): N_("Close the drains of pump and pipe"),
    ("end-open", _ANY): N_("Close the end plug or end valve after the pipe has been flushed"),
    ("gun-drained", _ANY): N_("Close the drains of end gun and booster"),
    ("parked", _ANY): N_("See the way clear and the machine free (chocks, ties, stock) before it walks"),
    ("dry-ground", _ANY): N_("Look at wheels and tires where they stood, and at the tracks before it walks"),
    ("intake-out", _ANY): N_("Lower the intake with its screen in place"),
    ("flushed", _ANY): N_("Flush mains, headers and laterals before the ends are closed"),
    ("valves-open", _ANY): N_("Close zone valves and flush valves; try every air vent"),
    ("filters-drained", _ANY): N_("Close the filters' drains, put gauges and injection pump back"),
    ("fuel-shut", _ANY): N_("Fuel or gas on at our side of the meter, every joint tried for leaks"),
    ("battery-out", _ANY): N_("Battery in, grounded cable put on last"),
    ("coolant", _ANY): N_("Look at coolant, oil, belts and hoses, and for nests"),
    ("discharge-open", _ANY): N_("Set the discharge valve for starting, try the air vent"),
}
"""What is done in spring before water, item by item."""
CAUTIONS = ("power", "start", "pressure", "gas")
"""Keys of the cautions that stand under the list."""


def fall_words(line: PutAwayLine) -> str:
    """Return what an item means in the fall.

    Parameters
    ----------
    line : PutAwayLine
        The item.

    Returns
    -------
    str
        One sentence without a full stop; the farm's own words as they stand.
    """
    own = line.stated.words if line.stated else ""
    return one_line(own) or _builtin(FALL, line)


def spring_words(line: PutAwayLine) -> str:
    """Return what has to be done in spring for an item that was put away.

    Parameters
    ----------
    line : PutAwayLine
        The item.

    Returns
    -------
    str
        One sentence without a full stop; where the machine was parked and what was noted stand
        behind it.
    """
    own = line.stated.back if line.stated else ""
    parts = [one_line(own) or _builtin(SPRING, line)]
    value: Mapping[str, Any] = line.record.value if line.record else {}
    azimuth_deg = value.get("azimuth_deg")
    if line.item == PARKED and isinstance(azimuth_deg, int | float):
        parts.append(_("parked at azimuth {azimuth}").format(azimuth=azimuth_words(float(azimuth_deg))))
    note = value.get("note")
    if isinstance(note, str) and note.strip():
        parts.append(one_line(note))
    if line.record and line.record.clashes:
        parts.append(_("two people said different things about it"))
    return "; ".join(parts)


def _builtin(table: Mapping[tuple[str, str], str], line: PutAwayLine) -> str:
    words = table.get((line.item, line.system.kind)) or table.get((line.item, _ANY))
    # An item that a newer version or an older farm.toml knew still waits, by its bare name.
    return _(words) if words else _("What was put away as {item}").format(item=one_line(line.item))


def put_away_text(farm: Farm, lines: Sequence[PutAwayLine], *, width: int | None) -> str:
    """Return the fall list as people read it.

    Parameters
    ----------
    farm : Farm
        The farm.
    lines : sequence of PutAwayLine
        The items.
    width : int or None
        Columns of the terminal; None for plain lines. [-]

    Returns
    -------
    str
        System by system, each item with a box, its name, and who did it when.
    """
    done = sum(line.record is not None for line in lines)
    out = [
        _("{farm}: put away, {done} of {all} items done").format(
            farm=one_line(farm.name), done=done, all=len(lines)
        )
    ]
    last, zone = None, day_zone(farm)
    for line in lines:
        if line.system != last:
            out += ["", one_line(line.system.name)]
            last = line.system
        box = "[x]" if line.record else "[ ]"
        out.append(wrapped(f"  {box} {line.item}: {fall_words(line)}{_said(line, zone)}", width, indent=6))
    return "\n".join([*out, "", *(wrapped(text, width, indent=2) for text in _cautions())])


def _cautions() -> list[str]:
    texts = [caution_words(caution) for caution in GENERAL if caution.key in CAUTIONS]
    return [
        _("Engine off, power off and locked, and pressure gone before a drain is opened."),
        *texts,
        _(CLOSING),
    ]


def _said(line: PutAwayLine, zone: tzinfo) -> str:
    if line.record is None:
        return ""
    day = local_time(line.record.when, zone).date().isoformat()
    who = f" {one_line(line.record.who)}" if line.record.who else ""
    note = line.record.value.get("note")
    azimuth_deg = line.record.value.get("azimuth_deg")
    stands = f", azimuth {azimuth_words(float(azimuth_deg))}" if isinstance(azimuth_deg, int | float) else ""
    return f" ({day}{who}{stands}{f', {one_line(note)}' if isinstance(note, str) and note else ''})"


def put_away_record(farm: Farm, lines: Sequence[PutAwayLine]) -> dict[str, Any]:
    """Return the fall list as plain values under the keys of the JSON output.

    Parameters
    ----------
    farm : Farm
        The farm.
    lines : sequence of PutAwayLine
        The items.

    Returns
    -------
    dict
        ``farm``, ``items`` and ``cautions``; ``done_at`` is null for an item that is not put away.
    """
    return {"farm": farm.name, "items": [_item(line) for line in lines], "cautions": _cautions()}


def _item(line: PutAwayLine) -> dict[str, Any]:
    record = line.record
    return {
        "system": line.system.name,
        "kind": line.system.kind,
        "item": line.item,
        "fall": fall_words(line),
        "spring": spring_words(line),
        "done_at": when_text(record.when) if record else None,
        "by": record.who or None if record else None,
        "note": record.value.get("note") if record else None,
        "azimuth_deg": record.value.get("azimuth_deg") if record else None,
        "id": record.id if record else None,
    }

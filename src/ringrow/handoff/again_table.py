"""What comes back over the years: as JSON records and as tables."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ringrow.farm.breakdown_list import together
from ringrow.farm.events import when_text
from ringrow.farm.systems import local_time
from ringrow.handoff.breakdown_table import volume_words
from ringrow.handoff.languages import N_, _
from ringrow.handoff.number_words import chance_words, length_words, one_line
from ringrow.handoff.place_words import flag_words
from ringrow.handoff.plain_table import TableBlock, block_text, wrapped

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import tzinfo

    from ringrow.farm.again import Repeat, Stops
    from ringrow.units import UnitSystem

_STATUS = {
    "open": N_("open"),
    "fixed": N_("fixed"),
    "checked": N_("checked"),
    "not-a-fault": N_("not a fault"),
}


def repeat_record(repeat: Repeat, units: UnitSystem) -> dict[str, Any]:
    """Return a place that comes back as plain values; numbers are not rounded.

    Parameters
    ----------
    repeat : Repeat
        The place or part.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    dict
        What does not apply is None.
    """
    spot = repeat.spot
    along = repeat.along_m
    return {
        "like": spot.like,
        "on": spot.on,
        "field": (spot.of or None) if spot.on == "ground" else repeat.flags[0].field,
        "system": None if spot.on == "ground" else spot.of,
        "part": spot.part or None,
        units.key("pipe_ft"): None if along is None else units.from_m(along),
        "lat": repeat.lat,
        "lon": repeat.lon,
        "count": len(repeat.flags),
        "years": [{"year": year, "count": count} for year, count in repeat.years],
        "chance": repeat.chance,
        "flags": [
            {
                "id": flag.state.id,
                "number": flag.state.number,
                "kind": flag.state.kind,
                "status": flag.state.status,
                "set_at": when_text(flag.state.set_at),
            }
            for flag in repeat.flags
        ],
    }


def stops_record(stops: Stops, units: UnitSystem) -> dict[str, Any]:
    """Return a system that keeps stopping as plain values.

    Parameters
    ----------
    stops : Stops
        The system.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    dict
        Hours and volume are sums, time that two breakdowns share counted once; the volume is None when
        one of them is not known.
    """
    hours, volume = together(stops.downs)
    return {
        "system": stops.system,
        "tower": stops.tower,
        "count": len(stops.downs),
        "hours": hours,
        units.key("not_put_on_gal"): None if volume is None else volume * 1000.0 / _litres(units),
        "breakdowns": [
            {"id": down.record.id, "stopped": when_text(down.stopped), "why": down.why}
            for down in stops.downs
        ],
    }


def _litres(units: UnitSystem) -> float:
    return units.flow_lps * 60.0 if units.name == "us" else 1.0


def again_text(
    found: Sequence[Repeat],
    stopped: Sequence[Stops],
    units: UnitSystem,
    zone: tzinfo,
    *,
    width: int | None,
) -> str:
    """Return what comes back as tables, with what they rest on.

    Parameters
    ----------
    found : sequence of Repeat
        Places and parts.
    stopped : sequence of Stops
        Systems that keep stopping.
    units : UnitSystem
        The farm's units.
    zone : tzinfo
        Zone of the clock that days are shown by.
    width : int or None
        Columns of the terminal; None for plain lines. [-]

    Returns
    -------
    str
        The tables, without a line break at the end.
    """
    parts = []
    if found:
        block = TableBlock(
            title=_("Places and parts that came back"),
            head=(_("What"), _("Where"), _("Days"), _("Flags"), _("Now"), _("One place"), _("Times")),
            rows=[repeat_row(each, units, zone) for each in found],
            words=6,
        )
        parts += [block_text(block, width), wrapped(rests_on(), width)]
    if stopped:
        block = TableBlock(
            title=_("Systems that keep stopping"),
            head=(_("System"), _("Tower"), _("Days"), _("Not put on"), _("Hours down"), _("Times")),
            rows=[_stops_row(each, units, zone) for each in stopped],
            words=4,
        )
        parts.append(block_text(block, width))
    return "\n\n".join(parts)


def rests_on() -> str:
    """Return what the list of what came back rests on.

    Returns
    -------
    str
        One paragraph.
    """
    return _(
        "On the ground, flags of like kind within their joint accuracy count as one place; on a machine, the "
        "same tower or outlet. Parts are not followed over a rebuild of the machine. A row of faults close "
        "together may count as one."
    )


def repeat_row(repeat: Repeat, units: UnitSystem, zone: tzinfo) -> tuple[str, ...]:
    """Return a place that comes back as texts.

    Parameters
    ----------
    repeat : Repeat
        The place or part.
    units : UnitSystem
        The farm's units.
    zone : tzinfo
        Zone of the clock that days are shown by.

    Returns
    -------
    tuple of str
        Kinds, place, days, numbers of its flags, status of the newest, chance, how often.
    """
    flags = repeat.flags
    chance = _("same part") if repeat.chance is None else chance_words(repeat.chance)
    return (
        one_line(", ".join(dict.fromkeys(_(flag.state.kind) for flag in flags))),
        one_line(repeat_place(repeat, units)),
        ", ".join(f"{local_time(flag.state.set_at, zone):%Y-%m-%d}" for flag in flags),
        ", ".join(str(flag.state.number) for flag in flags),
        _(_STATUS.get(flags[-1].state.status, flags[-1].state.status)),
        chance,
        str(len(flags)),
    )


def repeat_place(repeat: Repeat, units: UnitSystem) -> str:
    """Return where a place or part that comes back is.

    Parameters
    ----------
    repeat : Repeat
        The place or part.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    str
        One line.
    """
    spot = repeat.spot
    if spot.on == "ground":
        return flag_words(repeat.flags[-1], units)
    if repeat.along_m is not None:
        along = length_words(repeat.along_m, units)
        return _("{system}: {distance} along the pipe").format(system=spot.of, distance=along)
    return f"{spot.of}: {_part_words(spot.part)}" if spot.part else spot.of


def _part_words(part: str) -> str:
    words, _comma, wheel = part.partition(", ")
    if words == "pivot point":
        return _("pivot point")
    side, _blank, number = words.rpartition("tower ")
    tower = {
        "left ": _("left tower {tower}"),
        "right ": _("right tower {tower}"),
        "": _("tower {tower}"),
    }[side].format(tower=number)
    return f"{tower}, {wheel}" if wheel else tower


def _stops_row(stops: Stops, units: UnitSystem, zone: tzinfo) -> tuple[str, ...]:
    hours, volume = together(stops.downs)
    return (
        one_line(stops.system),
        "-" if stops.tower is None else str(stops.tower),
        ", ".join(f"{local_time(down.stopped, zone):%Y-%m-%d}" for down in stops.downs),
        _("not known") if volume is None else volume_words(volume, units),
        f"{hours:,.1f}",
        str(len(stops.downs)),
    )

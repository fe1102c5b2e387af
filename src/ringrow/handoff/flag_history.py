"""All about one flag as text: its line, its words, what was used on it, everything ever said."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ringrow.farm.adding_up import ADDING_UP, PARTS, PHOTO, is_parts_value
from ringrow.farm.flag_model import GroundSpot
from ringrow.handoff.assumed_words import said_again
from ringrow.handoff.fault_words import flag_notes
from ringrow.handoff.flag_table import flag_sentence
from ringrow.handoff.languages import N_, _
from ringrow.handoff.number_words import length_words, one_line
from ringrow.handoff.place_words import place_words

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from ringrow.farm.events import Event
    from ringrow.farm.flag_model import FlagState, LocatedFlag, UsedPart
    from ringrow.units import UnitSystem

_LONGEST = 200

_FIELDS: dict[str, str] = {
    "spot": N_("place"),
    "kind": N_("kind"),
    "status": N_("status"),
    "name": N_("name"),
    "note": N_("note"),
    "class": N_("class"),
    "ground_flag": N_("flag in the ground"),
    "parts": N_("parts used"),
    "photo": N_("photo"),
    "dig": N_("dig point"),
}
_WORDED = frozenset({"kind", "status", "class"})
_GROUND_FLAG: dict[str, str] = {"set": N_("set there"), "pulled": N_("pulled out")}


def history_lines(events: Iterable[Event], units: UnitSystem) -> list[str]:
    """Return a flag's history, one line an event, oldest first.

    Parameters
    ----------
    events : iterable of Event
        The flag's events.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    list of str
        When, who, what was set to what, and how it came in.
    """
    ordered = sorted(events, key=lambda event: (event.when, event.id))
    return [
        f"{event.when:%Y-%m-%d %H:%M} UTC  {one_line(event.who) or _('not said')}: "
        f"{field_words(event.field)} = {value_words(event.field, event.value, units)}"
        f"  [{one_line(event.source)}]"
        for event in ordered
    ]


def field_words(field: str) -> str:
    """Return what a field of a flag is called.

    Parameters
    ----------
    field : str
        The field.

    Returns
    -------
    str
        In the spoken language; a field that this version does not know is called as it came.

    Examples
    --------
    >>> field_words("ground_flag")
    'flag in the ground'
    """
    return _(_FIELDS[field]) if field in _FIELDS else one_line(field)


def parts_words(parts: Iterable[UsedPart]) -> str:
    """Return parts in one line.

    Parameters
    ----------
    parts : iterable of UsedPart
        Parts used on a flag.

    Returns
    -------
    str
        Such as ``2 x coupling; 1 x clamp``.
    """
    return "; ".join(f"{used.quantity} x {one_line(used.part)}" for used in parts)


def life_lines(state: FlagState) -> list[str]:
    """Return what was used on a flag and what became of the flag in the ground.

    Parameters
    ----------
    state : FlagState
        The flag.

    Returns
    -------
    list of str
        A line each; nothing that nobody said.
    """
    lines = []
    if state.parts:
        lines.append(_("parts used: {parts}").format(parts=parts_words(state.parts)))
    if state.ground_flag is not None:
        words = _GROUND_FLAG.get(state.ground_flag)
        said = _(words) if words else one_line(state.ground_flag)
        lines.append(_("flag in the ground: {said}").format(said=said))
    return lines


def value_words(field: str, value: Any, units: UnitSystem) -> str:
    """Return the value of one field of a flag in words.

    Parameters
    ----------
    field : str
        The field.
    value : object
        Its JSON value.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    str
        One line.

    Examples
    --------
    >>> from ringrow.units import US
    >>> value_words("spot", {"on": "machine", "pivot": "Windmill pivot", "said": "tower 5"}, US)
    'Windmill pivot, tower 5'
    >>> value_words("dig", {"on": "drip", "drip": "Elevator drip", "lateral": 43, "station_m": 182.88}, US)
    'Elevator drip, lateral 43, station 600 ft'
    """
    if isinstance(value, dict) and field in ("spot", "dig"):
        return one_line(_spot_words(value, units))
    if isinstance(value, dict) and field == PHOTO:
        return one_line(str(value.get("file"))[:_LONGEST])
    if field == PARTS and is_parts_value(value):
        return one_line("; ".join(f"{row['quantity']} x {row['part']}" for row in value)[:_LONGEST])
    if field in ADDING_UP and value is None:
        return _("the last one taken back")
    if field == "ground_flag" and isinstance(value, str) and value in _GROUND_FLAG:
        return _(_GROUND_FLAG[value])
    if isinstance(value, str):
        return f'"{_(one_line(value)) if field in _WORDED else one_line(value)}"'
    return _("none") if value is None else one_line(str(value)[:_LONGEST])


def _spot_words(value: dict[str, Any], units: UnitSystem) -> str:
    on = value.get("on")
    if on == "ground":
        return f"{value['lat']:.7f}, {value['lon']:.7f}"
    if on == "machine":
        return f"{value['pivot']}, {said_again(str(value['said']))}"
    if on == "move":
        if value.get("travel_m") is None:
            return f"{value['move']}, {said_again(str(value['said']))}"
        return _("{move}, {said}, travel {travel}").format(
            move=value["move"],
            said=said_again(str(value["said"])),
            travel=length_words(value["travel_m"], units),
        )
    if on == "drip":
        return _("{drip}, lateral {lateral}, station {station}").format(
            drip=value["drip"], lateral=value["lateral"], station=length_words(value["station_m"], units)
        )
    return str(value.get("well"))


def flag_sheet(
    flag: LocatedFlag,
    events: Iterable[Event],
    units: UnitSystem,
    *,
    photos: Sequence[str] = (),
    dig: Sequence[str] = (),
) -> str:
    """Return all about one flag: its line, its words, what lies there, its history.

    Parameters
    ----------
    flag : LocatedFlag
        The flag.
    events : iterable of Event
        Its events.
    units : UnitSystem
        The farm's units.
    photos : sequence of str, default ()
        A line for each of its photos.
    dig : sequence of str, default ()
        Where to dig, or where the hole was.

    Returns
    -------
    str
        Several lines.
    """
    state = flag.state
    lines = [flag_sentence(flag, units), f"  {_(flag.kind.words)}; id {state.id}"]
    lines += [
        f"  {name}: {one_line(text)}"
        for name, text in ((_("name"), state.name), (_("note"), state.note))
        if text
    ]
    lines += [f"  {one_line(note)}" for note in flag_notes(flag, units)]
    if flag.lat is not None and flag.lon is not None:
        lines.append("  " + _("at {place}").format(place=f"{flag.lat:.7f}, {flag.lon:.7f}"))
    lines += [f"  {line}" for line in life_lines(state)]
    lines += ["  " + _("photo: {photo}").format(photo=said_again(one_line(photo))) for photo in photos]
    for clash in state.clashes:
        values = _(" or ").join(value_words(clash.field, value, units) for value in clash.values)
        clashing = _("CLASH in {field}: {values}; the first is shown until you set it")
        lines.append("  " + clashing.format(field=field_words(clash.field), values=values))
    if flag.place is not None:
        accuracy = state.spot.accuracy if isinstance(state.spot, GroundSpot) else None
        lines += ["", place_words(flag.place, units, accuracy=accuracy)]
    if dig:
        lines += ["", *dig]
    return "\n".join([*lines, "", _("History"), *(f"  {line}" for line in history_lines(events, units))])

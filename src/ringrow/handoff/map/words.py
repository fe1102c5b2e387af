"""Words of the page, in one place, so that they can be put into other languages."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ringrow.handoff.languages import N_, _

if TYPE_CHECKING:
    from ringrow.farm.flag_model import Clash, LocatedFlag

CLASS_WORDS: dict[str, str] = {
    "unsafe": N_("Unsafe"),
    "stops": N_("Stops a machine or a well"),
    "wastes": N_("Tears ground or wastes water"),
    "acres": N_("Touches acres"),
    "later": N_("Can wait"),
}
"""Classes of flag, worst first, as the crew reads them."""

AREA_WORDS: dict[str, str] = {
    "boundary": N_("Field {name}: {acres}"),
    "wetted-area": N_("Watered by {name}: {acres} wetted in all"),
    "end-gun-ring": N_("End gun of {name}: {acres} wetted; it runs at {arcs}"),
    "corner-arm-sweep": N_("Swept by the corner arm of {name}: {acres}"),
    "bend-start": N_("Outer spans of {name}, walking on past its start: {acres}"),
    "bend-stop": N_("Outer spans of {name}, walking on past its stop: {acres}"),
    "dry-piece": N_("Dry piece {name}: {acres}"),
    "edge-strips": N_("Edge strips, dry: {acres} in all"),
    "exclusion": N_("Not farmed: {acres}"),
}
"""What a tap on a piece of ground says."""

WAY_WORDS: dict[str, str] = {
    "arm-wheel-path": N_("Path of the steered wheels of {name}'s corner arm, measured from its start"),
    "bent-pipe-start": N_("{name}: outer spans as they stand folded out at the start"),
    "bent-pipe-stop": N_("{name}: outer spans as they stand folded out at the stop"),
    "cart-path": N_("Path of the cart of {name}, measured in the direction of travel"),
    "pivot-road": N_("Road to the pivot point of {name}"),
    "keep-off": N_("No end gun may reach this: road, house, wire or water"),
    "standing": N_("{name} stands here, at {at}"),
}
"""What a tap on a line says."""

SET_WORDS = N_("Set when the machine stood at azimuth {azimuth}")
"""Of a flag that is shown where its machine stands now."""

LAYERS: tuple[tuple[str, str, bool], ...] = (
    ("flags", N_("Flags"), True),
    ("wetted", N_("Watered ground"), True),
    ("dry", N_("Dry pieces"), True),
    ("standing", N_("Machines where they stand"), True),
    ("tracks", N_("Wheel tracks, pivot roads"), True),
    ("laterals", N_("Drip laterals"), True),
    ("excluded", N_("Not farmed, keep off"), True),
    ("photo", N_("Aerial photo"), True),
    ("points", N_("Wells, gate, pivots"), True),
    ("names", N_("Names and numbers"), True),
    ("grid", N_("Lettered grid"), False),
)
"""Layers of the map: key, words, on at the start."""

SCRIPT_WORDS: dict[str, str] = {
    "layers": N_("Layers"),
    "whole": N_("Whole farm"),
    "zoom_in": N_("Zoom in"),
    "zoom_out": N_("Zoom out"),
    "map": N_("Map of the farm. Arrow keys move it, plus and minus zoom."),
    "several": N_("{count} flags here. Which one?"),
    "on_machine": N_(
        "On the machine, which may have moved since: the dashed line shows the ground it travels over."
    ),
    "on_move": N_("On the machine, which may have moved since."),
    "no_place": N_("No place was given for this flag."),
    "shown": N_("{title}: shown on the map"),
    "note": N_("Note:"),
    "status": N_("Status:"),
    "power": N_("Power:"),
    "serves": N_("Waters:"),
    "shutoffs": N_("Shut off:"),
    "notes": N_("Note:"),
    "machine": N_("One of the points of"),
    "standing_tower": N_("{words}; here tower {tower}"),
    "well": N_("Well: {name}"),
    "gate": N_("Gate"),
    "pivot-point": N_("Pivot point: {name}"),
    "show": N_("Show flag {number} on the map"),
    "unit_ft": N_("ft"),
}
"""What the script says."""

POWER_WORDS: dict[str, str] = {"electric": N_("electric"), "engine": N_("engine")}
"""What drives a well, by the word of the farm's file."""

POINT_NAMES: dict[str, str] = {"well": N_("Well"), "gate": N_("Gate")}
"""Points that belong to the farm; their first letters stand in their symbols."""

LIST_WORDS: dict[str, str] = {
    "actions": N_("What to do here"),
    "close": N_("Close"),
    "close_what": N_("Close: {what}"),
    "rest_peek": N_("Pull up"),
    "rest_half": N_("Larger"),
    "rest_full": N_("Back to the map"),
    "flags_all": N_("Flags ({n})"),
    "flags_some": N_("Flags ({n} of {all})"),
    "head_one": N_("{n} flag, {open} open."),
    "head_many": N_("{n} flags, {open} open."),
    "sort_filter": N_("Order and filter"),
    "order": N_("Order"),
    "by_class": N_("Worst first, then most ground touched"),
    "by_route": N_("By route from the gate"),
    "on_route": N_("Stops of the route, in order"),
    "off_route": N_("Not on the route"),
    "stop_number": N_("Stop {n}"),
    "filter_field": N_("Field"),
    "filter_kind": N_("Kind"),
    "filter_status": N_("Status"),
    "filter_system": N_("System"),
    "all_of": N_("All ({n})"),
    "none": N_("None"),
    "none_fit": N_("No flag fits. Clear the filters to see all."),
    "clear": N_("Clear filters"),
    "more": N_("Show {n} more of {left}"),
}
"""What the bar, the sheet and the list of flags say."""

FIELD_WORDS: dict[str, str] = {
    "status": N_("status"),
    "kind": N_("kind"),
    "class": N_("class"),
    "note": N_("note"),
    "spot": N_("spot"),
    "name": N_("name"),
    "dig": N_("dig"),
    "photo": N_("photo"),
}
"""What people may say about a flag, by the names of the season log."""


def flag_title(flag: LocatedFlag) -> str:
    """Return what a flag is called on lists and in its bubble.

    Parameters
    ----------
    flag : LocatedFlag
        The flag.

    Returns
    -------
    str
        Number and kind in words.
    """
    return _("Flag {number}: {kind}").format(number=flag.state.number, kind=_(flag.kind.words))


def clash_words(clash: Clash) -> str:
    """Return in words that people set a field of a flag differently.

    Parameters
    ----------
    clash : Clash
        The field and the values that stand against each other.

    Returns
    -------
    str
        One short sentence, the displayed value first.

    Examples
    --------
    >>> from ringrow.farm.flag_model import Clash
    >>> clash_words(Clash(field="status", values=("fixed", "open")))
    'Two people disagree about status: "fixed" or "open".'
    """
    field = _(FIELD_WORDS.get(clash.field, clash.field))
    if not all(isinstance(value, str) for value in clash.values):
        return _("Two people disagree about {field}; the later one is shown.").format(field=field)
    values = _(" or ").join(
        f'"{_(value)}"' if clash.field == "status" else f'"{value}"' for value in clash.values
    )
    return _("Two people disagree about {field}: {values}.").format(field=field, values=values)

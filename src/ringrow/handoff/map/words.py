"""Words of the page, in one place, so that they can be put into other languages."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ringrow.handoff.languages import N_

if TYPE_CHECKING:
    from ringrow.farm.flag_model import Clash, LocatedFlag

CLASS_WORDS: dict[str, str] = {
    "unsafe": "Unsafe",
    "stops": "Stops a machine or a well",
    "wastes": "Tears ground or wastes water",
    "acres": "Touches acres",
    "later": "Can wait",
}
"""Classes of flag, worst first, as the crew reads them."""

AREA_WORDS: dict[str, str] = {
    "boundary": "Field {name}: {acres}",
    "wetted-area": "Watered by {name}: {acres} wetted in all",
    "end-gun-ring": "End gun of {name}: {acres} wetted; it runs at {arcs}",
    "corner-arm-sweep": "Swept by the corner arm of {name}: {acres}",
    "bend": "Outer spans of {name}, walking on past its {at}: {acres}",
    "dry-piece": "Dry piece {name}: {acres}",
    "edge-strips": "Edge strips, dry: {acres} in all",
    "exclusion": "Not farmed: {acres}",
}
"""What a tap on a piece of ground says."""

WAY_WORDS: dict[str, str] = {
    "arm-wheel-path": "Path of the steered wheels of {name}'s corner arm, measured from its start",
    "bent-pipe": "{name}: outer spans as they stand folded out at the {at}",
    "cart-path": "Path of the cart of {name}, measured in the direction of travel",
    "keep-off": "No end gun may reach this: road, house, wire or water",
    "standing": "{name} stands here, at azimuth {azimuth}",
}
"""What a tap on a line says."""

SET_WORDS = "Set when the machine stood at azimuth {azimuth}"
"""Of a flag that is shown where its machine stands now."""

LAYERS: tuple[tuple[str, str, bool], ...] = (
    ("flags", "Flags", True),
    ("wetted", "Watered ground", True),
    ("dry", "Dry pieces", True),
    ("standing", "Machines where they stand", True),
    ("tracks", "Wheel tracks", True),
    ("laterals", "Drip laterals", True),
    ("excluded", "Not farmed, keep off", True),
    ("photo", "Aerial photo", True),
    ("points", "Wells, gate, pivots", True),
    ("names", "Names and numbers", True),
    ("grid", "Lettered grid", False),
)
"""Layers of the map: key, words, on at the start."""

SCRIPT_WORDS: dict[str, str] = {
    "layers": "Layers",
    "whole": "Whole farm",
    "zoom_in": "Zoom in",
    "zoom_out": "Zoom out",
    "map": "Map of the farm. Arrow keys move it, plus and minus zoom.",
    "several": "{count} flags here. Which one?",
    "on_machine": "On the machine, which may have moved since: the dashed line shows the ground it "
    "travels over.",
    "on_move": "On the machine, which may have moved since.",
    "no_place": "No place was given for this flag.",
    "shown": "{title}: shown on the map",
    "note": "Note:",
    "status": "Status:",
    "power": "Power:",
    "serves": "Waters:",
    "shutoffs": "Shut off:",
    "notes": "Note:",
    "machine": "One of the points of",
    "standing_tower": "{words}; here tower {tower}",
    "well": "Well: {name}",
    "gate": "Gate",
    "pivot-point": "Pivot point: {name}",
    "show": "Show flag {number} on the map",
}
"""What the script says."""

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
    return f"Flag {flag.state.number}: {flag.kind.words}"


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
    if not all(isinstance(value, str) for value in clash.values):
        return f"Two people disagree about {clash.field}; the later one is shown."
    values = " or ".join(f'"{value}"' for value in clash.values)
    return f"Two people disagree about {clash.field}: {values}."

"""Words of the page, in one place, so that they can be put into other languages."""

from __future__ import annotations

from typing import TYPE_CHECKING

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
    "end-gun-ring": "End gun of {name}: {acres} wetted",
    "dry-piece": "Dry piece {name}: {acres}",
    "edge-strips": "Edge strips, dry: {acres} in all",
    "exclusion": "Not farmed: {acres}",
}
"""What a tap on a piece of ground says."""

LAYERS: tuple[tuple[str, str, bool], ...] = (
    ("flags", "Flags", True),
    ("wetted", "Watered ground", True),
    ("dry", "Dry pieces", True),
    ("tracks", "Tower tracks", True),
    ("laterals", "Drip laterals", True),
    ("excluded", "Ground not farmed", True),
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
    "no_place": "No place was given for this flag.",
    "shown": "{title}: shown on the map",
    "note": "Note:",
    "status": "Status:",
    "power": "Power:",
    "serves": "Waters:",
    "shutoffs": "Shut off:",
    "notes": "Note:",
    "well": "Well: {name}",
    "gate": "Gate",
    "pivot-point": "Pivot point: {name}",
    "show": "Show flag {number} on the map",
}
"""What the script says."""


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

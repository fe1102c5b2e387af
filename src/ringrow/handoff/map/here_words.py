"""Words of the page on where somebody is: the panel's own, and those of a place as ``where`` says it."""

from __future__ import annotations

from typing import Any

from ringrow.handoff import place_sentences as say
from ringrow.handoff.languages import N_, _

PANEL_WORDS: dict[str, str] = {
    "title": N_("Where am I"),
    "way_gps": N_("Phone's position"),
    "way_tap": N_("Tap the map"),
    "way_typed": N_("Type it"),
    "middle": N_("Take the middle of the map"),
    "follow": N_("Follow me"),
    "following_off": N_("The map no longer follows you."),
    "stop": N_("Stop asking the phone"),
    "again": N_("Try again"),
    "you": N_("You"),
    "here": N_("Here"),
    "go": N_("Show"),
    "type_label": N_("Latitude, then longitude"),
    "type_example": N_("Such as 36.7512, -101.5034 or 36 45.07 N, 101 30.2 W or 36 45 4.3 N, 101 30 12.2 W"),
    "start": N_("Use the phone's position, tap the place on the map, or type it."),
    "looking": N_("Looking for your position. Stand in the open."),
    "tap_now": N_("Tap the place on the map."),
    "by_gps": N_("The phone says: good to {size} (95 of 100 fixes fall that close)."),
    "by_tap": N_("Tapped: good to about {size} at this zoom. Zoom in and tap again for better."),
    "by_typed": N_("Typed; taken as good to {size}, as the farm's file has it."),
    "old": N_("No new fix for {n} seconds: this is where you were."),
    "coarse": N_(
        "Coarse: good to {size} only. A span, tower or lateral named here may be wrong. Stand still in the "
        "open and wait, or tap your place on the map."
    ),
    "stopped": N_("The phone is no longer asked where you are."),
    "denied": N_(
        "The browser was not allowed to say where you are. Allow location for this file in the browser's or "
        "the phone's settings and try again; or tap your place on the map, or type it."
    ),
    "unavailable": N_(
        "The phone does not know where it is. Switch its location on, go into the open and try again; or tap "
        "your place on the map, or type it."
    ),
    "timeout": N_(
        "No position yet. Stand still in the open, away from steel and trees, and wait; or tap your place on "
        "the map, or type it."
    ),
    "insecure": N_(
        "Browsers give no position to a page that came over plain http. Save this file to the phone "
        "and open it from there; or tap your place on the map, or type it."
    ),
    "missing": N_(
        "This browser gives no position. Open the file in another one; or tap your place on the map, or "
        "type it."
    ),
    "to_flag": N_("Flag {number}: {length} to the {compass} (azimuth {azimuth})"),
    "to_pivot": N_(
        "Flag {number} is on a machine; its pivot point: {length} to the {compass} (azimuth {azimuth})"
    ),
    "at_flag": N_("Flag {number}: {length} away, nearer than this position can tell"),
    "no_way": N_("Flag {number} has no place on the map"),
    "at": N_("Latitude and longitude: {at}"),
    "slip": N_("This is {length} from the farm. Was {at} meant?"),
    "unread": N_('Found "{text}", which is no latitude and longitude. Write latitude first, then longitude.'),
    "range": N_("Found {at}. Latitude runs from -90 to 90, longitude from -180 to 180, latitude first."),
    "swapped": N_("Found {at}. Latitude comes first: are the two swapped? Try {other}."),
    "letters": N_('Found "{text}". Latitude, with N or S, comes first; longitude has E or W.'),
    "both_signs": N_('Found "{text}". A minus and a letter N or E contradict each other: leave one out.'),
    "minutes": N_(
        'Found "{text}". Minutes and seconds stay below 60, with decimals in the last number only.'
    ),
}
"""What the panel says, apart from the place itself."""

PLACE_WORDS: dict[str, str] = {
    "not_farmed": N_("{name}: inside the boundary, on ground that is not farmed"),
    "wet": N_("{name}: wet ground (irrigated)"),
    "dry": N_("{name}: dry ground (no system's water reaches it)"),
    "outside": N_("Outside every field."),
    "outside_near": N_("Outside every field. The nearest field is {name}, its boundary {length}."),
    "outside_way": N_(
        "Outside every field. The nearest field is {name}, its boundary {length} to the {compass} (azimuth "
        "{azimuth})."
    ),
    "wets": say.WETS,
    "wets_not": say.WETS_NOT,
    "from_point": N_("{length} from the pivot point"),
    "give_or_take": N_("{distance}, give or take {spread}"),
    "at_point": N_("at the pivot point itself, so no azimuth"),
    "azimuth": N_("azimuth {azimuth}"),
    "azimuth_panel": N_("azimuth {azimuth} (panel {panel})"),
    "azimuth_spread": N_("{azimuth}, give or take {spread} degrees"),
    "along_pipe": N_("{length} along the pipe"),
    "arm_stands": N_("main pipe then at {at}, hinge at {angle} degrees"),
    "outlet": N_("outlet {outlet} ({chance})"),
    "outlets": N_("outlet {low} to {high} (nearest {outlet}, {chance})"),
    "no_travel": N_("travel not known"),
    "travel": N_("travel {length} from the start of its path"),
    "no_tape": N_("no tape in this block"),
    "station": N_("station {length} from the header end"),
    "emitter": N_("nearest emitter about number {number} from the header end"),
    "zone": N_("zone {zone}"),
    "nearest_tape": N_("nearest tape: lateral {lateral}"),
    "lateral": N_("lateral {lateral} ({chance}), {offset}"),
    "most_likely": N_("lateral {lateral} most likely ({chance}); could be {could}"),
    "elsewhere": N_("none of the laterals near: {chance}"),
    "measured": N_("measured {offset} from lateral {lateral}: finer than this fix can tell"),
    "too_coarse": N_("this fix is too coarse to name a lateral"),
    "no_reach": N_("no tape within reach of this fix"),
    "higher": N_("{size} toward higher numbers"),
    "lower": N_("{size} toward lower numbers"),
    "piece": N_(", piece {letter}"),
    "run": N_("{low} to {high}"),
    "certain": N_("almost certain"),
    "safe": N_("19 in 20 or better"),
    "rare": N_("less than 1 in 20"),
    "in_ten": N_("about {n} in 10"),
    "ft": N_("ft"),
    "inch": N_("in"),
    "miles": N_("miles"),
}
"""The place in words, as `place_words` has them."""

COMPASS_WORDS: tuple[str, ...] = (
    N_("north"), N_("northeast"), N_("east"), N_("southeast"),
    N_("south"), N_("southwest"), N_("west"), N_("northwest"),
)  # fmt: skip
"""Compass points from north, clockwise."""


def here_words() -> dict[str, Any]:
    """Return all words on where somebody is, in the spoken language.

    Returns
    -------
    dict of str to object
        Texts, and tables of texts by part of a machine and by which side of a wheel track.

    Examples
    --------
    >>> here_words()["place"]["parts"]["span"]
    'under span {span}'
    """
    tables: dict[str, dict[str, str]] = {
        "parts": say.PARTS,
        "dry_parts": say.DRY_PARTS,
        "move_parts": say.MOVE_PARTS,
        "dry_move_parts": say.DRY_MOVE_PARTS,
        "sides": say.SIDES,
        "off_cart": say.OFF_CART,
        "bent": say.BENT,
    }
    tracks: dict[str, tuple[str, ...]] = {
        "track": say.NEAREST_TRACK,
        "left_track": say.LEFT_TRACK,
        "right_track": say.RIGHT_TRACK,
        "arm_wheels": say.ARM_WHEELS,
        "compass": COMPASS_WORDS,
    }
    return {
        "panel": _all(PANEL_WORDS),
        "place": {
            **_all(PLACE_WORDS),
            **{key: _all(table) for key, table in tables.items()},
            **{key: [_(text) for text in texts] for key, texts in tracks.items()},
        },
    }


def _all(table: dict[str, str]) -> dict[str, str]:
    return {key: _(text) for key, text in table.items()}

"""Words of the checklists: what is looked at, tried and read, and the caution that goes with it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ringrow.farm.reading_kinds import READING_KINDS
from ringrow.farm.system_checks import items_of, parts_for, things_of
from ringrow.handoff.cautions import CLOSING
from ringrow.handoff.languages import N_, _
from ringrow.handoff.number_words import runs_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ringrow.equipment.checklists import CheckItem
    from ringrow.farm.model import Farm
    from ringrow.farm.system_checks import Thing
    from ringrow.farm.systems import FarmSystem

# Common practice and extension lists; docs/rounds.md names them.
ITEM_WORDS: dict[str, str] = {
    "starts": N_("Engine or motor starts, runs and stops"),
    "battery": N_("Battery: cables clean and tight, case whole"),
    "oil": N_("Engine oil at the mark"),
    "coolant": N_("Coolant at the mark"),
    "belts-and-guards": N_("Belts sound, guards in place"),
    "fuel-supply": N_("Fuel supply: enough of it, no leak"),
    "nests": N_("No nest at power unit, exhaust or panel"),
    "volts": N_("Volts on the meter in the closed door, walking or idle"),
    "forward": N_("Walks forward"),
    "reverse": N_("Walks in reverse"),
    "tires": N_("Tires: pressure, cuts, lug bolts"),
    "gearboxes": N_("Gearboxes: oil, leaks, play"),
    "drive-shafts": N_("Drive shafts and couplers, shields on"),
    "boxes-and-covers": N_("Tower boxes shut, covers on, no wire hanging"),
    "sprinklers-and-drops": N_("Sprinklers and drops of the span that ends there"),
    "corner-arm": N_("Corner arm swings out and in"),
    "gun": N_("End gun comes on and goes off"),
    "flow": N_("Flow on the meter"),
    "pressure": N_("Pressure on the gauge"),
    "pump": N_("Pump runs"),
    "filters": N_("Filters clean, no leak"),
    "filter-loss": N_("Pressure loss over the filters"),
    "valves": N_("Valve opens and shuts"),
    "zone-pressure": N_("Pressure of the zone"),
    "zone-flow": N_("Flow of the zone"),
    "walked-after-the-wait": N_("Walked after the wait: no water coming up"),
    "ends-flushed": N_("Ends flushed until the water runs clear"),
    "line-volts": N_("Volts from line to line, by a qualified person"),
    "amps": N_("Amps"),
    "hertz": N_("Frequency"),
    "battery-volts": N_("Volts of the battery, at rest"),
    "end-pressure": N_("Pressure at the pipe's end"),
    "depth": N_("Depth of water put on"),
    "hours": N_("Hour meter"),
    "temperature": N_("Temperature"),
    "meter": N_("Water meter, total"),
}
"""What each item is, for the crew."""

_SHUT = N_(
    "The panel door stays shut: read the meter from outside. Only a qualified person opens a panel, with "
    "the power locked off."
)
_QUALIFIED = N_("Only a qualified person probes a panel. Nobody else opens it.")
_WALK = N_(
    "One person holds the start. Everybody else stands clear, and in sight, while it walks. It can start by "
    "itself: switch remote start off."
)
_START = N_(
    "Shields on, hair and sleeves tied, everybody clear of shafts and belts before it starts. Ears covered."
)
_SHAFTS = N_("Power off and locked before a hand goes near: a shaft may turn and a tower may move by itself.")
_LIVE = N_(
    "A wet machine, a tingle or a missing cover counts as live: do not touch it, keep others away, get the "
    "power off at the source."
)
_PRESSURE = N_("Shut, drained and without pressure before anything is opened.")

ITEM_CAUTIONS: dict[str, str] = {
    "starts": _START,
    "pump": _START,
    "battery": N_("No spark or flame at a battery. Eyes covered, rings off."),
    "battery-volts": N_("No spark or flame at a battery. Eyes covered, rings off."),
    "coolant": N_("Never open a hot radiator."),
    "belts-and-guards": _SHAFTS,
    "drive-shafts": _SHAFTS,
    "gearboxes": _SHAFTS,
    "fuel-supply": N_(
        "Smell of gas: leave, start nothing, call from far away. The valve at the supplier's meter is theirs."
    ),
    "nests": N_(
        "Wasps and snakes live in boxes. A nest at a hot exhaust burns. Wet droppings, wear gloves and a "
        "mask, never sweep them dry."
    ),
    "volts": _SHUT,
    "line-volts": _QUALIFIED,
    "amps": _QUALIFIED,
    "hertz": _SHUT,
    "forward": _WALK,
    "reverse": _WALK,
    "corner-arm": _WALK,
    "gun": _WALK,
    "tires": N_("Nobody under a jacked tower unless it stands blocked on level ground, power locked off."),
    "boxes-and-covers": _LIVE,
    "filters": _PRESSURE,
    "valves": _PRESSURE,
    "ends-flushed": _PRESSURE,
}
"""The caution that goes with an item."""

KIND_WORDS: dict[str, str] = {
    "well": N_("well and power unit"),
    "pivot": N_("pivot"),
    "lateral move": N_("lateral move"),
    "drip": N_("drip"),
}
"""Kinds of system."""

WHOSE_WORDS: dict[str, str] = {
    "us": N_("us"),
    "dealer": N_("the dealer"),
    "electrician": N_("the electrician"),
    "well-driller": N_("the well driller"),
    "supplier": N_("the supplier"),
}
"""Whose the next step is."""


def item_words(item: str, own: str = "") -> str:
    """Return what an item is, in the spoken language.

    Parameters
    ----------
    item : str
        Id of the item.
    own : str, default ""
        The farm's own words for it.

    Returns
    -------
    str
        The farm's words, else ours.

    Examples
    --------
    >>> item_words("gun"), item_words("gun", "Gun 3")
    ('End gun comes on and goes off', 'Gun 3')
    """
    return own or _(ITEM_WORDS.get(item, item))


def parts_words(parts: Sequence[str]) -> str:
    """Return towers or zones in words.

    Parameters
    ----------
    parts : sequence of str
        Their names, in the order of the machine.

    Returns
    -------
    str
        Towers in runs.

    Examples
    --------
    >>> parts_words(["1", "2", "3", "5"]), parts_words(["left 1", "left 2", "right 1"])
    ('1 to 3, 5', 'left 1 to 2, right 1')
    """
    runs: dict[str, list[int]] = {}
    for part in parts:
        hand, _blank, number = part.rpartition(" ")
        if hand not in ("", "left", "right") or not number.isdigit():
            return ", ".join(parts)
        runs.setdefault(hand, []).append(int(number))
    hands = {"left": _("left {towers}"), "right": _("right {towers}"), "": "{towers}"}
    return ", ".join(hands[hand].format(towers=runs_words(numbers)) for hand, numbers in runs.items())


def item_caution(item: str) -> str:
    """Return the caution that goes with an item, in the spoken language.

    Parameters
    ----------
    item : str
        Id of the item.

    Returns
    -------
    str
        One or two sentences; empty for none.
    """
    return _(ITEM_CAUTIONS[item]) if item in ITEM_CAUTIONS else ""


def checklist_of(system: FarmSystem, farm: Farm) -> list[dict[str, Any]]:
    """Return the checklist of a system as plain data, for a page.

    Parameters
    ----------
    system : FarmSystem
        The system, one of `farm_systems`.
    farm : Farm
        The farm.

    Returns
    -------
    list of dict
        For each item ``id``, ``words``, ``how`` (look, try, read), ``per`` (system, tower, zone),
        ``parts`` (names of towers or zones, empty for the system as a whole), ``caution``; for one
        that is read also ``key`` (the number's key in its record), ``numbers`` (how many), ``units``
        (word, and what one of it is in the unit of the key), ``unit`` (the farm's) and ``state``
        (whether walking or idle is asked).
    """
    thing = next(thing for own, thing in things_of(farm) if own == system)
    return checklist_rows(system, thing, farm)


def checklist_rows(system: FarmSystem, thing: Thing, farm: Farm) -> list[dict[str, Any]]:
    """Return the checklist of a system whose thing is known, as `checklist_of` does.

    Parameters
    ----------
    system : FarmSystem
        The system.
    thing : Well, Pivot, LateralMove or DripBlock
        What it is made of.
    farm : Farm
        The farm.

    Returns
    -------
    list of dict
        Its items.
    """
    return [
        {
            "id": item.id,
            "words": item_words(item.id, item.words),
            "how": item.how,
            "per": item.per,
            "parts": [part for part in parts_for(thing, item.per) if part],
            "caution": item_caution(item.id),
            **(_read_as(item, system, farm) if item.how == "read" else {}),
        }
        for item in items_of(farm, system, thing)
    ]


def _read_as(item: CheckItem, system: FarmSystem, farm: Farm) -> dict[str, Any]:
    kind = READING_KINDS[item.id]
    return {
        "key": kind.quantity.key,
        "numbers": kind.count,
        "units": dict(kind.quantity.factors),
        "unit": kind.quantity.shown_unit(farm.units),
        "state": item.id == "volts" and system.kind != "well",
    }


def safety_lines() -> list[str]:
    """Return the cautions of a walk over everything, in the spoken language."""
    return [_(_SHUT), _(_WALK), _(_LIVE), _(CLOSING)]

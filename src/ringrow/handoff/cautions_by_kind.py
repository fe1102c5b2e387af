"""Cautions for the work on each kind of flag; docs/cautions.md names where they come from."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ringrow.handoff.cautions import GENERAL, Caution
from ringrow.handoff.languages import N_

if TYPE_CHECKING:
    from collections.abc import Iterable

    from ringrow.equipment.kinds import FlagKind

WORK: tuple[Caution, ...] = (
    Caution(
        key="jack",
        title=N_("Jacking"),
        text=N_(
            "Jack on level, firm ground, wheels chocked, load on blocks before a hand goes under. Power "
            "locked off: a tower that starts walks off the jack."
        ),
    ),
    Caution(
        key="climb",
        title=N_("Climbing and overhead lines"),
        text=N_(
            "Look up first: pipe, ladder and the jet of a gun stay far from overhead lines. Climb only dry, "
            "powered off and tied on; a lift is better than a ladder."
        ),
    ),
    Caution(
        key="battery",
        title=N_("Batteries"),
        text=N_("Eye shield and gloves; no flame or spark. Grounded cable off first and on last."),
    ),
    Caution(
        key="exhaust",
        title=N_("Hot exhaust"),
        text=N_(
            "Let the engine cool. Look for nests and dry grass by the exhaust before it starts, and never "
            "run it in a closed shed."
        ),
    ),
    Caution(
        key="droppings",
        title=N_("Nests and droppings"),
        text=N_(
            "Wet droppings and nests with disinfectant, wear gloves and a mask, wipe up; never sweep or "
            "blow them dry."
        ),
    ),
    Caution(
        key="bites",
        title=N_("Snakes, wasps, spiders"),
        text=N_("Open boxes, lids and pipe ends from the side with a stick, and look before a hand goes in."),
    ),
    Caution(
        key="chemicals",
        title=N_("Chemigation off"),
        text=N_(
            "Injection pump off and its valve shut first. Find out what was fed, and when people "
            "may go in again."
        ),
    ),
    Caution(
        key="burrows",
        title=N_("Ruts and burrows"),
        text=N_("Drive slowly, belts on: ruts, washouts and burrows tip a vehicle. Walk soft ground first."),
    ),
    Caution(
        key="baits",
        title=N_("Baits and fumigants"),
        text=N_(
            "Poison baits and gas in burrows are licensed work. Do not handle them, or dead animals, "
            "bare-handed."
        ),
    ),
    Caution(
        key="hearing",
        title=N_("Noise"),
        text=N_("Wear hearing protection beside a running engine or pump."),
    ),
    Caution(
        key="weather",
        title=N_("Heat and storms"),
        text=N_("Water, shade and rest in heat. At thunder leave pipe, wire and open ground at once."),
    ),
)
"""Cautions for one kind of work, beside those for any work."""

ALWAYS = ("alone", "weather")
"""Keys of the cautions that stand on every page."""

_BY_ON: dict[str, tuple[str, ...]] = {
    "ground": ("dig", "burrows"),
    "machine": ("power", "start", "shock"),
    "works": ("power", "start", "bites"),
}
_BY_KIND: dict[str, tuple[str, ...]] = {
    "leak": ("dig", "pressure", "chemicals"),
    "wet-spot": ("dig", "pressure", "chemicals", "shock"),
    "burrow": ("burrows", "baits", "dig", "bites"),
    "rut": ("burrows", "start"),
    "washout": ("burrows", "dig"),
    "rock": ("burrows",),
    "loose-part": ("burrows",),
    "sprinkler": ("start", "power", "pressure", "climb", "chemicals"),
    "drop": ("start", "power", "pressure", "climb", "chemicals"),
    "regulator": ("start", "power", "pressure", "climb", "chemicals"),
    "span-leak": ("start", "power", "pressure", "climb", "chemicals"),
    "tire": ("start", "power", "jack"),
    "wheel": ("start", "power", "jack"),
    "gearbox": ("start", "power", "shafts", "jack"),
    "driveline": ("start", "power", "shafts"),
    "alignment": ("start", "power", "shafts"),
    "tower-box": ("power", "start", "shock", "bites", "climb"),
    "cover": ("power", "start", "shock", "shafts"),
    "wiring": ("power", "start", "shock", "climb"),
    "collector-ring": ("power", "start", "shock", "climb"),
    "structure": ("start", "power", "climb", "jack"),
    "end-gun": ("start", "power", "pressure", "climb"),
    "booster": ("power", "start", "shock", "pressure", "shafts"),
    "power-unit": ("power", "start", "shock", "shafts", "exhaust", "gas", "battery", "hearing"),
    "battery": ("battery", "start", "gas"),
    "fuel-supply": ("gas", "exhaust", "start"),
    "drive-shaft": ("power", "start", "shafts", "hearing"),
    "pump": ("power", "start", "shafts", "pressure", "hearing"),
    "panel": ("power", "start", "shock", "bites"),
    "filter": ("pressure", "chemicals", "start"),
    "valve": ("pressure", "chemicals", "bites"),
    "air-vent": ("pressure", "bites"),
    "flush-valve": ("pressure", "bites", "chemicals"),
    "header-leak": ("dig", "pressure", "chemicals"),
    "meter": ("pressure", "bites"),
    "nest": ("droppings", "bites", "exhaust", "start"),
}


def cautions_for(kinds: Iterable[FlagKind]) -> tuple[Caution, ...]:
    """Return the cautions for the work on some kinds of flag, each once.

    Parameters
    ----------
    kinds : iterable of FlagKind
        Kinds of the flags; one of the farm's own gets the cautions of what it sits on.

    Returns
    -------
    tuple of Caution
        General ones first, then those for one kind of work, in the order of their lists; without
        kinds those for every page alone.

    Examples
    --------
    >>> from ringrow.equipment.kinds import FLAG_KINDS
    >>> [caution.key for caution in cautions_for([FLAG_KINDS["tire"]])]
    ['power', 'start', 'alone', 'jack', 'weather']
    """
    wanted = set(ALWAYS)
    for kind in kinds:
        wanted |= set(_BY_KIND.get(kind.name, _BY_ON[kind.on]))
    return tuple(caution for caution in (*GENERAL, *WORK) if caution.key in wanted)

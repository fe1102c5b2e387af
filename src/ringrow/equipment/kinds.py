"""Kinds of flag: what can be wrong, where it sits, and how much it matters."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

On = Literal["ground", "machine", "works"]
FlagClass = Literal["unsafe", "stops", "wastes", "acres", "later"]

CLASSES: tuple[FlagClass, ...] = ("unsafe", "stops", "wastes", "acres", "later")
"""Classes of flag, worst first."""

STATUSES: tuple[str, ...] = ("open", "fixed", "checked", "not-a-fault")
"""States a flag can be in."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FlagKind:
    """One kind of fault.

    Parameters
    ----------
    name : str
        The word used in files and on the command line, such as ``gearbox``.
    on : {"ground", "machine", "works"}
        What it sits on: the ground, a machine, or works at a well, header or riser.
    flag_class : {"unsafe", "stops", "wastes", "acres", "later"}
        How much it matters; a single flag may say otherwise.
    words : str
        What it is, in plain words for the crew.
    """

    name: str
    on: On
    flag_class: FlagClass
    words: str


def _kinds(on: On, *rows: tuple[str, FlagClass, str]) -> dict[str, FlagKind]:
    return {
        name: FlagKind(name=name, on=on, flag_class=flag_class, words=words)
        for name, flag_class, words in rows
    }


# The classes follow common practice (no source): shock and moving-part hazards first, then what stops a
# machine or a well, then what tears ground or wastes water, then what touches acres.
FLAG_KINDS: dict[str, FlagKind] = {
    **_kinds(
        "ground",
        ("leak", "wastes", "leak in tape or pipe under the ground"),
        ("wet-spot", "wastes", "wet spot, cause not known"),
        ("burrow", "wastes", "animal burrow"),
        ("rut", "wastes", "rut, wheels may stick"),
        ("washout", "wastes", "washout"),
        ("rock", "later", "rock"),
        ("loose-part", "later", "loose part lying on the ground"),
        ("other-ground", "later", "something else on the ground"),
    ),
    **_kinds(
        "machine",
        ("sprinkler", "acres", "sprinkler missing, plugged or wrong"),
        ("drop", "acres", "drop broken or missing"),
        ("regulator", "acres", "pressure regulator"),
        ("span-leak", "wastes", "leak in a span or joint"),
        ("tire", "stops", "tire flat or bad"),
        ("wheel", "stops", "wheel or lug bolts"),
        ("gearbox", "stops", "gearbox leaking or bad"),
        ("driveline", "stops", "drive shaft or coupler on a tower"),
        ("alignment", "stops", "tower out of line"),
        ("tower-box", "unsafe", "tower box"),
        ("cover", "unsafe", "cover or guard missing"),
        ("wiring", "unsafe", "wiring"),
        ("collector-ring", "stops", "collector ring"),
        ("structure", "unsafe", "structure cracked or bent"),
        ("end-gun", "acres", "end gun"),
        ("booster", "acres", "booster pump"),
        ("other-machine", "later", "something else on the machine"),
    ),
    **_kinds(
        "works",
        ("power-unit", "stops", "power unit"),
        ("battery", "stops", "battery"),
        ("fuel-supply", "unsafe", "fuel supply"),
        ("drive-shaft", "unsafe", "drive shaft between power unit and pump"),
        ("pump", "stops", "pump"),
        ("panel", "unsafe", "panel"),
        ("filter", "stops", "filter"),
        ("valve", "stops", "valve"),
        ("air-vent", "later", "air vent"),
        ("flush-valve", "wastes", "flush valve"),
        ("header-leak", "wastes", "leak in header or riser"),
        ("meter", "later", "meter"),
        ("nest", "later", "nest"),
        ("other-works", "later", "something else at the works"),
    ),
}

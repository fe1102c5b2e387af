"""What to bring: parts and tools by kind of flag, and the list of a whole trip."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from ringrow.handoff.number_words import one_line

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from ringrow.coverage.field import FieldLayout
    from ringrow.equipment.drip import DripBlock
    from ringrow.farm.flag_model import LocatedFlag
    from ringrow.farm.model import Farm
    from ringrow.units import UnitSystem

Fit = Literal["", "tape", "outlet", "tire", "oil", "battery", "pipe", "part"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One thing that a kind of flag usually needs.

    Parameters
    ----------
    name : str
        What it is.
    quantity : int
        How many for one flag. [-]
    fit : {"", "tape", "outlet", "tire", "oil", "battery", "pipe", "part"}, default ""
        What its size goes by; empty for a thing of one size.
    """

    name: str
    quantity: int
    fit: Fit = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class BringItem:
    """One line of the list of what to bring.

    Parameters
    ----------
    part : str
        What it is, with its size where the farm's files state one.
    quantity : int
        How many for all flags together. [-]
    numbers : tuple of int
        Numbers of the flags it is for. [-]
    known : bool
        Whether its size is stated; when not, `part` says so.
    """

    part: str
    quantity: int
    numbers: tuple[int, ...]
    known: bool


def _one(name: str, fit: Fit = "", *, quantity: int = 1) -> Part:
    return Part(name=name, quantity=quantity, fit=fit)


# Common practice, no source; a farm's own [[part]] rows take the place of a kind's.
PARTS: dict[str, tuple[Part, ...]] = {
    "leak": (_one("coupling", "tape", quantity=2), _one("piece of tape, arm's length", "tape")),
    "wet-spot": (_one("coupling", "tape", quantity=2), _one("piece of tape, arm's length", "tape")),
    "sprinkler": (_one("sprinkler", "outlet"),),
    "drop": (_one("drop hose with clamps", "outlet"), _one("sprinkler", "outlet")),
    "regulator": (_one("regulator", "outlet"),),
    "span-leak": (_one("span gasket or boot", "pipe"), _one("clamp", "pipe", quantity=2)),
    "tire": (_one("tire with tube", "tire"),),
    "wheel": (_one("set of lug bolts", "part"),),
    "gearbox": (_one("gearbox oil, one filling", "oil"), _one("gearbox seal", "part")),
    "driveline": (_one("coupler insert with bolts", "part"),),
    "tower-box": (_one("box seal", "part"),),
    "cover": (_one("cover or guard with bolts", "part"),),
    "end-gun": (_one("end gun nozzle and valve kit", "part"),),
    "battery": (_one("battery", "battery"), _one("pair of battery clamps")),
    "fuel-supply": (_one("fuel filter", "part"),),
    "drive-shaft": (_one("shaft shield", "part"),),
    "filter": (_one("screen or element with gasket", "part"),),
    "air-vent": (_one("air vent", "part"),),
    "flush-valve": (_one("flush valve", "part"),),
    "valve": (_one("valve diaphragm kit", "part"),),
    "header-leak": (_one("repair coupling", "pipe"), _one("can of primer and cement")),
    "meter": (_one("meter gasket", "part"),),
}
"""Parts by kind of flag."""

TOOLS: dict[str, tuple[str, ...]] = {
    "leak": ("shovel", "knife", "rags"),
    "wet-spot": ("shovel", "knife", "rags"),
    "burrow": ("shovel", "gloves"),
    "rut": ("shovel",),
    "washout": ("shovel",),
    "rock": ("bar",),
    "sprinkler": ("wrenches", "reach pole"),
    "drop": ("wrenches", "knife", "reach pole"),
    "regulator": ("wrenches", "thread tape"),
    "span-leak": ("wrenches",),
    "tire": ("jack", "blocks", "lug wrench", "air"),
    "wheel": ("jack", "blocks", "lug wrench"),
    "gearbox": ("wrenches", "drain pan", "funnel"),
    "driveline": ("wrenches", "grease gun"),
    "alignment": ("string line", "wrenches"),
    "tower-box": ("own lock and tag", "meter (qualified person)"),
    "wiring": ("own lock and tag", "meter (qualified person)"),
    "collector-ring": ("own lock and tag", "meter (qualified person)"),
    "panel": ("own lock and tag", "meter (qualified person)"),
    "cover": ("wrenches", "own lock and tag"),
    "end-gun": ("wrenches",),
    "power-unit": ("wrenches", "own lock and tag"),
    "battery": ("wrenches", "eye shield", "gloves"),
    "pump": ("own lock and tag", "wrenches"),
    "drive-shaft": ("own lock and tag", "wrenches"),
    "filter": ("wrenches", "brush"),
    "header-leak": ("shovel", "saw", "rags"),
    "nest": ("gloves", "mask", "spray bottle with disinfectant"),
}
"""Tools by kind of flag (common practice, no source)."""


def flag_parts(farm: Farm, layouts: Sequence[FieldLayout], flag: LocatedFlag) -> list[BringItem]:
    """Return the parts that one flag needs.

    Parameters
    ----------
    farm : Farm
        The farm; rows of its own for a kind take the place of ours.
    layouts : sequence of FieldLayout
        Its fields, laid out.
    flag : LocatedFlag
        The flag.

    Returns
    -------
    list of BringItem
        In the order of the table; empty for a kind without parts.
    """
    number = (flag.state.number,)
    own = [part for part in farm.parts if part.kind == flag.kind.name]
    if own:
        return [
            BringItem(part=one_line(part.part), quantity=part.quantity, numbers=number, known=True)
            for part in own
        ]
    items = []
    for part in PARTS.get(flag.kind.name, ()):
        size, known = _fit_words(part.fit, flag, layouts, farm.units)
        words = f"{part.name}, {size}" if size else part.name
        items.append(BringItem(part=words, quantity=part.quantity, numbers=number, known=known))
    return items


def bring_list(
    farm: Farm, layouts: Sequence[FieldLayout], flags: Sequence[LocatedFlag]
) -> tuple[BringItem, ...]:
    """Return what to bring for some flags, equal things added up.

    Parameters
    ----------
    farm : Farm
        The farm.
    layouts : sequence of FieldLayout
        Its fields, laid out.
    flags : sequence of LocatedFlag
        Flags that are to be worked on.

    Returns
    -------
    tuple of BringItem
        By name.
    """
    found: dict[str, list[BringItem]] = {}
    for flag in flags:
        for item in flag_parts(farm, layouts, flag):
            found.setdefault(item.part, []).append(item)
    return tuple(
        BringItem(
            part=part,
            quantity=sum(item.quantity for item in items),
            numbers=tuple(sorted({number for item in items for number in item.numbers})),
            known=all(item.known for item in items),
        )
        for part, items in sorted(found.items())
    )


def tool_list(flags: Sequence[LocatedFlag]) -> tuple[str, ...]:
    """Return the tools for some flags, each once.

    Parameters
    ----------
    flags : sequence of LocatedFlag
        The flags.

    Returns
    -------
    tuple of str
        In alphabetical order.
    """
    return tuple(sorted({tool for flag in flags for tool in TOOLS.get(flag.kind.name, ())}))


def _fit_words(
    fit: Fit, flag: LocatedFlag, layouts: Sequence[FieldLayout], units: UnitSystem
) -> tuple[str, bool]:
    """Return the size in words and whether anybody stated it."""
    if not fit:
        return "", True
    if fit == "tape":
        return _tape_words(flag, {drip.name: drip.block for each in layouts for drip in each.drip}, units)
    if fit == "outlet":
        return _outlet_words(flag)
    return _UNSTATED[fit], False


_UNSTATED: Mapping[str, str] = {
    "tire": "tire size not stated",
    "oil": "kind of oil not stated",
    "battery": "battery size not stated",
    "pipe": "pipe size not stated",
    "part": "size or type not stated",
}


def _tape_words(flag: LocatedFlag, blocks: Mapping[str, DripBlock], units: UnitSystem) -> tuple[str, bool]:
    if flag.drip is None or flag.drip.name not in blocks:
        return "size not stated (not on tape)", False
    tape = blocks[flag.drip.name].tape
    if tape is None or tape.inside_diameter_m is None:
        return f"tape size not stated ({one_line(flag.drip.name)})", False
    bore = f"{units.from_m_small(tape.inside_diameter_m):.3f}".rstrip("0").rstrip(".")
    return f"for tape of {bore} {units.small} bore", True


def _outlet_words(flag: LocatedFlag) -> tuple[str, bool]:
    # Never a computed bore: the mark on the neighbours is what it was set up with.
    if flag.pivot is None or flag.pivot.outlet_range is None:
        return "outlet not known: match the mark on the neighbours", False
    low, high = flag.pivot.outlet_range
    outlet = f"outlet {low}" if low == high else f"outlet {low} to {high}"
    return f"{one_line(flag.pivot.name)} {outlet}: match the mark on the neighbours", True

"""What to bring: parts and tools by kind of flag, and the list of a whole trip."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from ringrow.handoff.languages import N_, _
from ringrow.handoff.number_words import one_line, unit_words

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
    "leak": (_one(N_("coupling"), "tape", quantity=2), _one(N_("piece of tape, arm's length"), "tape")),
    "wet-spot": (_one(N_("coupling"), "tape", quantity=2), _one(N_("piece of tape, arm's length"), "tape")),
    "sprinkler": (_one(N_("sprinkler"), "outlet"),),
    "drop": (_one(N_("drop hose with clamps"), "outlet"), _one(N_("sprinkler"), "outlet")),
    "regulator": (_one(N_("regulator"), "outlet"),),
    "span-leak": (_one(N_("span gasket or boot"), "pipe"), _one(N_("clamp"), "pipe", quantity=2)),
    "tire": (_one(N_("tire with tube"), "tire"),),
    "wheel": (_one(N_("set of lug bolts"), "part"),),
    "gearbox": (_one(N_("gearbox oil, one filling"), "oil"), _one(N_("gearbox seal"), "part")),
    "driveline": (_one(N_("coupler insert with bolts"), "part"),),
    "tower-box": (_one(N_("box seal"), "part"),),
    "cover": (_one(N_("cover or guard with bolts"), "part"),),
    "end-gun": (_one(N_("end gun nozzle and valve kit"), "part"),),
    "battery": (_one(N_("battery"), "battery"), _one(N_("pair of battery clamps"))),
    "fuel-supply": (_one(N_("fuel filter"), "part"),),
    "drive-shaft": (_one(N_("shaft shield"), "part"),),
    "filter": (_one(N_("screen or element with gasket"), "part"),),
    "air-vent": (_one(N_("air vent"), "part"),),
    "flush-valve": (_one(N_("flush valve"), "part"),),
    "valve": (_one(N_("valve diaphragm kit"), "part"),),
    "header-leak": (_one(N_("repair coupling"), "pipe"), _one(N_("can of primer and cement"))),
    "meter": (_one(N_("meter gasket"), "part"),),
}
"""Parts by kind of flag."""

TOOLS: dict[str, tuple[str, ...]] = {
    "leak": (N_("shovel"), N_("knife"), N_("rags")),
    "wet-spot": (N_("shovel"), N_("knife"), N_("rags")),
    "burrow": (N_("shovel"), N_("gloves")),
    "rut": (N_("shovel"),),
    "washout": (N_("shovel"),),
    "rock": (N_("bar"),),
    "sprinkler": (N_("wrenches"), N_("reach pole")),
    "drop": (N_("wrenches"), N_("knife"), N_("reach pole")),
    "regulator": (N_("wrenches"), N_("thread tape")),
    "span-leak": (N_("wrenches"),),
    "tire": (N_("jack"), N_("blocks"), N_("lug wrench"), N_("air")),
    "wheel": (N_("jack"), N_("blocks"), N_("lug wrench")),
    "gearbox": (N_("wrenches"), N_("drain pan"), N_("funnel")),
    "driveline": (N_("wrenches"), N_("grease gun")),
    "alignment": (N_("string line"), N_("wrenches")),
    "tower-box": (N_("own lock and tag"), N_("meter (qualified person)")),
    "wiring": (N_("own lock and tag"), N_("meter (qualified person)")),
    "collector-ring": (N_("own lock and tag"), N_("meter (qualified person)")),
    "panel": (N_("own lock and tag"), N_("meter (qualified person)")),
    "cover": (N_("wrenches"), N_("own lock and tag")),
    "end-gun": (N_("wrenches"),),
    "power-unit": (N_("wrenches"), N_("own lock and tag")),
    "battery": (N_("wrenches"), N_("eye shield"), N_("gloves")),
    "pump": (N_("own lock and tag"), N_("wrenches")),
    "drive-shaft": (N_("own lock and tag"), N_("wrenches")),
    "filter": (N_("wrenches"), N_("brush")),
    "header-leak": (N_("shovel"), N_("saw"), N_("rags")),
    "nest": (N_("gloves"), N_("mask"), N_("spray bottle with disinfectant")),
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
        words = f"{_(part.name)}, {size}" if size else _(part.name)
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
    return tuple(sorted({_(tool) for flag in flags for tool in TOOLS.get(flag.kind.name, ())}))


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
    return _(_UNSTATED[fit]), False


_UNSTATED: Mapping[str, str] = {
    "tire": N_("tire size not stated"),
    "oil": N_("kind of oil not stated"),
    "battery": N_("battery size not stated"),
    "pipe": N_("pipe size not stated"),
    "part": N_("size or type not stated"),
}


def _tape_words(flag: LocatedFlag, blocks: Mapping[str, DripBlock], units: UnitSystem) -> tuple[str, bool]:
    if flag.drip is None or flag.drip.name not in blocks:
        return _("size not stated (not on tape)"), False
    tape = blocks[flag.drip.name].tape
    if tape is None or tape.inside_diameter_m is None:
        return _("tape size not stated ({name})").format(name=one_line(flag.drip.name)), False
    bore = f"{units.from_m_small(tape.inside_diameter_m):.3f}".rstrip("0").rstrip(".")
    return _("for tape of {bore} bore").format(bore=f"{bore} {unit_words(units.small)}"), True


def _outlet_words(flag: LocatedFlag) -> tuple[str, bool]:
    # Never a computed bore: the mark on the neighbours is what it was set up with.
    if flag.pivot is None or flag.pivot.outlet_range is None:
        return _("outlet not known: match the mark on the neighbours"), False
    low, high = flag.pivot.outlet_range
    said = _("{name} outlet {outlet}: match the mark on the neighbours")
    outlet = str(low) if low == high else _("{low} to {high}").format(low=low, high=high)
    return said.format(name=one_line(flag.pivot.name), outlet=outlet), True

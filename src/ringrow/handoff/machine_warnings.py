"""What a machine does that its owner should hear of, whatever was asked."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ringrow.coverage.arm_table import arm_stray
from ringrow.coverage.gun_table import gun_tables
from ringrow.handoff.arm_table import stray_words
from ringrow.handoff.gun_table import throw_words
from ringrow.handoff.number_words import one_line

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ringrow.coverage.field import FieldLayout
    from ringrow.units import UnitSystem


def machine_warnings(layouts: Sequence[FieldLayout], units: UnitSystem) -> list[str]:
    """Return where stated gun arcs and folded corner arms throw water where they should not.

    Parameters
    ----------
    layouts : sequence of FieldLayout
        Fields, laid out.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    list of str
        One line each, with the machine's name; empty when there is nothing to tell.
    """
    lines = []
    for layout in layouts:
        for table in gun_tables(layout):
            name = one_line(table.pivot.name)
            lines += [f"{name}, end gun: {throw_words(throw, units)}" for throw in table.throws]
        for machine in layout.pivots:
            stray = stray_words(arm_stray(machine, layout.field, layout.farmable), units)
            lines += [] if stray is None else [f"{one_line(machine.name)}, corner arm: {stray}"]
    return lines

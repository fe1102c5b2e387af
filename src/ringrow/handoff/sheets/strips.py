"""A machine as a line of numbered towers, with the flags that ride on it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reportlab.platypus import Flowable

from ringrow.handoff.languages import _
from ringrow.handoff.number_words import unit_words
from ringrow.handoff.sheets.flag_symbol import draw_symbol
from ringrow.handoff.sheets.type import BOLD, REGULAR, printable

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ringrow.coverage.field import FieldLayout
    from ringrow.farm.flag_model import LocatedFlag
    from ringrow.units import UnitSystem

_GAP = 17.0
_HIGHEST = 220.0


class MachineStrip(Flowable):  # type: ignore[misc]
    """How far out flags sit on one machine; it does not show where the machine stands.

    Parameters
    ----------
    name : str
        The machine.
    towers : sequence of (str, float)
        Label of each tower, and its distance from pivot point or cart; left of a cart negative. [m]
    ends_m : tuple of float
        Both ends of the pipe, by the same distance. [m]
    riding : sequence of (LocatedFlag, float)
        Flags, and their distance. [m]
    units : UnitSystem
        Units of the distances under the towers.
    wide : int
        Width of the drawing. [pt]
    """

    def __init__(
        self,
        name: str,
        towers: Sequence[tuple[str, float]],
        ends_m: tuple[float, float],
        riding: Sequence[tuple[LocatedFlag, float]],
        units: UnitSystem,
        *,
        wide: int,
    ) -> None:
        super().__init__()
        self.name, self.towers, self.units = name, towers, units
        low = min([ends_m[0], *(at for _, at in riding)])
        high = max([ends_m[1], *(at for _, at in riding)])
        self.width = float(wide)
        self.per_m = (self.width - 30.0) / (high - low)
        self.zero = 15.0 - low * self.per_m
        self.ends = (self.zero + ends_m[0] * self.per_m, self.zero + ends_m[1] * self.per_m)
        self.riding = [(flag, self.zero + at * self.per_m) for flag, at in riding]
        self.rows = _stacked([x for _, x in self.riding])
        self.base = 20.0
        # Many flags at one tower overlap rather than run off the page.
        self.gap = min(_GAP, _HIGHEST / max(1, *self.rows, 1))
        self.height = self.base + 14.0 + self.gap * max(self.rows, default=0) + _GAP + 10.0

    def draw(self) -> None:
        """Draw the machine on the canvas at hand."""
        pen, base = self.canv, self.base
        pen.setFont(BOLD, 7)
        title = _("{name}: flags that ride on it, by tower").format(name=printable(self.name))
        pen.drawString(0, self.height - 7, title)
        pen.setLineWidth(1.6)
        pen.line(self.ends[0], base, self.ends[1], base)
        pen.circle(self.zero, base, 3.2, stroke=0, fill=1)
        written = -1e9
        for label, at in self.towers:
            x = self.zero + at * self.per_m
            pen.setLineWidth(0.8)
            pen.line(x, base, x, base - 4)
            pen.setFont(BOLD, 6.5)
            pen.drawCentredString(x, base - 11, label)
            if x - written > 40 and abs(x - self.zero) > 25:
                pen.setFont(REGULAR, 5.5)
                said = f"{self.units.from_m(abs(at)):,.0f} {unit_words(self.units.length)}"
                pen.drawCentredString(min(x, self.width - 14), base - 18, said)
                written = x
        for (flag, x), row in zip(self.riding, self.rows, strict=True):
            y = base + 14.0 + self.gap * row
            pen.setLineWidth(0.4)
            pen.line(x, base, x, y)
            draw_symbol(pen, flag, x, y)


def machine_strips(
    layout: FieldLayout, flags: Sequence[LocatedFlag], units: UnitSystem, *, wide: int
) -> list[MachineStrip]:
    """Return a strip for each machine of a field that flags ride on.

    Parameters
    ----------
    layout : FieldLayout
        The field, laid out.
    flags : sequence of LocatedFlag
        Flags of the field.
    units : UnitSystem
        The farm's units.
    wide : int
        Width of the drawings. [pt]

    Returns
    -------
    list of MachineStrip
        Pivots, then lateral moves; empty when no flag rides on any.
    """
    machine = [flag for flag in flags if flag.kind.on == "machine"]
    strips = []
    for each in layout.pivots:
        riding = [
            (flag, flag.pivot.pipe_m) for flag in machine if flag.pivot and flag.pivot.name == each.name
        ]
        if riding:
            pivot = each.pivot
            towers = [(str(number), at) for number, at in enumerate(pivot.tower_radii_m, 1)]
            arm_m = pivot.corner_arm.length_m + pivot.corner_arm.overhang_m if pivot.corner_arm else 0.0
            ends = (0.0, pivot.length_m + arm_m)
            strips.append(MachineStrip(each.name, towers, ends, riding, units, wide=wide))
    for move in layout.lateral_moves:
        sides = {"left": -1.0, "right": 1.0}
        riding = [
            (flag, sides[flag.move.side] * flag.move.offset_m)
            for flag in machine
            if flag.move and flag.move.name == move.name
        ]
        if riding:
            left, right = move.move.left, move.move.right
            towers = [
                (_("L{tower}").format(tower=number), -at) for number, at in enumerate(left.tower_offsets_m, 1)
            ][::-1]
            towers += [
                (_("R{tower}").format(tower=number), at) for number, at in enumerate(right.tower_offsets_m, 1)
            ]
            ends = (-left.length_m, right.length_m)
            strips.append(MachineStrip(move.name, towers, ends, riding, units, wide=wide))
    return strips


def _stacked(places: Sequence[float]) -> list[int]:
    rows: list[int] = []
    for index, place in enumerate(places):
        near = {rows[other] for other in range(index) if abs(places[other] - place) < _GAP}
        rows.append(next(row for row in range(len(places)) if row not in near))
    return rows

"""Machines as straight lines of numbered towers, with the flags that ride on them."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING

from ringrow.handoff.languages import _
from ringrow.handoff.map.drawing import FLAG_SCALE
from ringrow.handoff.map.drawing_labels import WIDTH
from ringrow.handoff.map.symbols import symbol_svg
from ringrow.handoff.number_words import unit_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ringrow.equipment.lateral_move import LateralMove
    from ringrow.equipment.pivot import Pivot
    from ringrow.farm.flag_model import LocatedFlag
    from ringrow.units import UnitSystem


@dataclass(frozen=True, slots=True, kw_only=True)
class _Tower:
    """A tower on the line: what is written under it, and how far along it stands."""

    label: str
    at_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Strip:
    """A machine laid out along a line; distances to the left of its pivot or cart are below 0."""

    towers: tuple[_Tower, ...]
    pipe_m: tuple[float, float]
    middle: str
    flags: tuple[tuple[LocatedFlag, float], ...]


def draw_machine(pivot: Pivot, flags: Sequence[LocatedFlag], units: UnitSystem, *, title: str) -> str:
    """Return a pivot as a straight line of numbered towers, with the flags that ride on it.

    The line says how far out a flag sits, not where the machine stands. A corner arm lies
    straight on.

    Parameters
    ----------
    pivot : Pivot
        The machine.
    flags : sequence of LocatedFlag
        Flags on it; those without a place on the machine are passed over.
    units : UnitSystem
        Units of the distances under the towers.
    title : str
        What the drawing shows, read out by screen readers.

    Returns
    -------
    str
        SVG text.
    """
    towers = [_Tower(label=str(number), at_m=at) for number, at in enumerate(pivot.tower_radii_m, 1)]
    end_m, arm = pivot.length_m, pivot.corner_arm
    if arm is not None:
        towers.append(_Tower(label=_("arm"), at_m=pivot.length_m + arm.length_m))
        end_m += arm.length_m + arm.overhang_m
    strip = _Strip(
        towers=tuple(towers),
        pipe_m=(0.0, end_m),
        middle=_("pivot point"),
        flags=tuple((flag, flag.pivot.pipe_m) for flag in flags if flag.pivot is not None),
    )
    return _draw(strip, units, title)


def draw_move(move: LateralMove, flags: Sequence[LocatedFlag], units: UnitSystem, *, title: str) -> str:
    """Return a lateral move as a line of numbered towers on both sides of its cart.

    Parameters
    ----------
    move : LateralMove
        The machine.
    flags : sequence of LocatedFlag
        Flags on it; those without a place on the machine are passed over.
    units : UnitSystem
        Units of the distances under the towers.
    title : str
        What the drawing shows, read out by screen readers.

    Returns
    -------
    str
        SVG text: the left wing on the left, as seen by who rides the cart forward.
    """
    wings = ((-1.0, move.left), (1.0, move.right))
    strip = _Strip(
        towers=tuple(
            _Tower(label=str(number), at_m=sign * at)
            for sign, wing in wings
            for number, at in enumerate(wing.tower_offsets_m, 1)
        ),
        pipe_m=(-move.left.length_m, move.right.length_m),
        middle=_("cart"),
        flags=tuple(
            (flag, flag.move.offset_m * (-1.0 if flag.move.side == "left" else 1.0))
            for flag in flags
            if flag.move is not None
        ),
    )
    return _draw(strip, units, title)


def _draw(strip: _Strip, units: UnitSystem, title: str) -> str:
    low = min([strip.pipe_m[0], *(at for _, at in strip.flags)])
    reach_m = max([strip.pipe_m[1], *(at for _, at in strip.flags)]) - low
    left = 34.0
    per_m = (WIDTH - 2 * left) / reach_m

    def place(at_m: float) -> float:
        return left + (at_m - low) * per_m

    high = 44.0 * FLAG_SCALE
    rows = _stacked([place(at) for _, at in strip.flags], gap=high)
    base = 70.0 + high * max([0, *rows])
    begin, end = (place(at) for at in strip.pipe_m)
    body = [f'<line class="pipe" x1="{begin:.1f}" y1="{base:g}" x2="{end:.1f}" y2="{base:g}"/>']
    body.append(f'<circle class="pivot-point" cx="{place(0.0):.1f}" cy="{base:g}" r="9"/>')
    body += _tower_texts(strip, units, [place(tower.at_m) for tower in strip.towers], place(0.0), base)
    for (flag, at), row in zip(strip.flags, rows, strict=True):
        x, y = place(at), base - 40.0 - high * row
        body.append(f'<line class="leader" x1="{x:.1f}" y1="{base:g}" x2="{x:.1f}" y2="{y:.1f}"/>')
        number, own = str(flag.state.number), flag.state.id
        body.append(symbol_svg(flag.state.status, number, x=x, y=y, scale=FLAG_SCALE, flag_id=own))
    return (
        f'<svg class="drawing machine" viewBox="0 0 {WIDTH:g} {base + 84:.0f}" role="img" '
        f'aria-label="{escape(title)}">{"".join(body)}</svg>'
    )


def _stacked(places: Sequence[float], *, gap: float) -> list[int]:
    rows: list[int] = []
    for index, place in enumerate(places):
        near = {rows[other] for other in range(index) if abs(places[other] - place) < gap}
        rows.append(next(row for row in range(len(places)) if row not in near))
    return rows


def _tower_texts(
    strip: _Strip, units: UnitSystem, places: Sequence[float], middle: float, base: float
) -> list[str]:
    """Return legs and numbers; the outermost tower of each side says how far out it is, others where
    there is room.
    """
    body = [_middle_text(strip.middle, middle, base)]
    half = 7.0 * len(strip.middle)
    written = [(middle - half, middle + half)] if middle > 60 else [(0.0, 2 * half)]
    outer = {min(range(len(places)), key=places.__getitem__), max(range(len(places)), key=places.__getitem__)}
    for x, tower in zip(places, strip.towers, strict=True):
        body.append(f'<line class="leg" x1="{x:.1f}" y1="{base:g}" x2="{x:.1f}" y2="{base + 14:.1f}"/>')
        body.append(f'<text class="tower" x="{x:.1f}" y="{base + 38:.1f}">{tower.label}</text>')
    ordered = sorted(range(len(places)), key=lambda index: (index not in outer, index))
    for index in ordered:
        words = f"{units.from_m(abs(strip.towers[index].at_m)):,.0f} {unit_words(units.length)}"
        wide = 6.5 * len(words)
        x = min(max(places[index], wide + 4), WIDTH - wide - 4)
        if any(x - wide < right and left < x + wide for left, right in written):
            continue
        written.append((x - wide, x + wide))
        body.append(f'<text class="small" x="{x:.1f}" y="{base + 72:.1f}">{words}</text>')
    return body


def _middle_text(words: str, x: float, base: float) -> str:
    if x > 60:
        return f'<text class="small" x="{x:.1f}" y="{base + 72:.1f}">{words}</text>'
    return f'<text class="small start" x="8" y="{base + 72:.1f}">{words}</text>'

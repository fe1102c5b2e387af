"""The table of stops: number, what, where, what to shut and bring, and room to write."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from reportlab.lib.units import inch
from reportlab.platypus import Flowable, Table, TableStyle

from ringrow.handoff.fault_words import joined_words, rebuilt_words
from ringrow.handoff.flag_table import system_of
from ringrow.handoff.languages import N_, _
from ringrow.handoff.map.words import CLASS_WORDS, clash_words
from ringrow.handoff.number_words import runs_words
from ringrow.handoff.parts import TOOLS, flag_parts
from ringrow.handoff.place_words import flag_words
from ringrow.handoff.sheets.flag_symbol import draw_symbol
from ringrow.handoff.sheets.type import REGULAR, marked, words

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from ringrow.coverage.field import FieldLayout
    from ringrow.equipment.well import Well
    from ringrow.farm.flag_model import LocatedFlag
    from ringrow.farm.model import Farm

_BOX = 7.0
_LINE = 12.5
# A row may run this far into the padding of its cell.
_SLACK = 2.0
_LONGEST = 300
_MOST_WELLS = 4
_MOST_PARTS = 10
_ASK = N_("not stated; ask the owner")


class _Symbol(Flowable):  # type: ignore[misc]
    def __init__(self, flag: LocatedFlag, square: str) -> None:
        super().__init__()
        self.flag, self.square = flag, square
        self.width, self.height = 30.0, 32.0

    def draw(self) -> None:
        self.canv.saveState()
        self.canv.translate(13, 18.5)
        self.canv.scale(1.3, 1.3)
        draw_symbol(self.canv, self.flag, 0.0, 0.0)
        self.canv.restoreState()
        self.canv.setFont(REGULAR, 7)
        self.canv.drawCentredString(13, 1, self.square)


class _Room(Flowable):  # type: ignore[misc]
    """Boxes to tick and lines to write on; a flag in the ground that the log knows of is ticked."""

    def __init__(self, *, on_ground: bool, wide: float, ground_flag: str | None = None) -> None:
        super().__init__()
        self.on_ground, self.width, self.ground_flag = on_ground, wide, ground_flag
        self.height = 4 * _LINE

    def draw(self) -> None:
        parked = (_("parked at"),)
        left = (_("left as found:"), f"[]{_('engine off')}", f"[]{_('valves')}", f"[]{_('covers on')}")
        was_set, pulled = "[x]" if self.ground_flag else "[]", "[x]" if self.ground_flag == "pulled" else "[]"
        flag = (_("flag:"), f"{was_set}{_('set')}", f"{pulled}{_('pulled')}", *parked)
        rows = [
            ((f"[]{_('done')}", _("by")), True),
            ((_("found"),), True),
            (left, False),
            (flag if self.on_ground else parked, True),
        ]
        for number, (row, ruled) in enumerate(rows):
            self._row(row, self.height - (number + 1) * _LINE + 3.5, ruled=ruled)

    def _row(self, row: tuple[str, ...], y: float, *, ruled: bool) -> None:
        pen, x = self.canv, 0.0
        # Words of another language may be longer: smaller letters rather than some beyond the edge.
        wide = sum(pen.stringWidth(_unboxed(text), REGULAR, 6.5) for text in row)
        boxes = sum(_unboxed(text) != text for text in row)
        size = 6.5 * min(1.0, (self.width + _SLACK - 5 * (len(row) - 1) - (_BOX + 2) * boxes) / wide)
        pen.setFont(REGULAR, size)
        pen.setLineWidth(0.5)
        for text in row:
            said = _unboxed(text)
            if said != text:
                pen.rect(x, y - 1, _BOX, _BOX, stroke=1, fill=0)
                if text.startswith("[x]"):
                    pen.line(x, y - 1, x + _BOX, y - 1 + _BOX)
                    pen.line(x, y - 1 + _BOX, x + _BOX, y - 1)
                x += _BOX + 2
            pen.drawString(x, y, said)
            x += pen.stringWidth(said, REGULAR, size) + 5
        if ruled:
            pen.setLineWidth(0.3)
            pen.line(x, y - 1, self.width, y - 1)


def _unboxed(text: str) -> str:
    return text.removeprefix("[]").removeprefix("[x]")


def wells_for(farm: Farm, layouts: Sequence[FieldLayout], flag: LocatedFlag) -> list[Well]:
    """Return the wells whose water, power or fuel has to be shut for a flag.

    Parameters
    ----------
    farm : Farm
        The farm.
    layouts : sequence of FieldLayout
        Its fields, laid out.
    flag : LocatedFlag
        The flag.

    Returns
    -------
    list of Well
        The well it sits at, or those that serve its system; empty when none is stated.
    """
    system = system_of(flag)
    if system is None:
        return []
    pivots = [pivot.pivot for layout in layouts for pivot in layout.pivots]
    names = {system, *(pivot.machine for pivot in pivots if pivot.name == system and pivot.machine)}
    return [well for well in farm.wells if well.name == flag.well or names & set(well.serves)]


def stop_table(
    farm: Farm,
    layouts: Sequence[FieldLayout],
    flags: Sequence[LocatedFlag],
    square_of: Callable[[LocatedFlag], str],
    *,
    wide: int,
    stop: Callable[[LocatedFlag], int | None] = lambda _flag: None,
) -> Table:
    """Return the table of stops of one field.

    Parameters
    ----------
    farm : Farm
        The farm.
    layouts : sequence of FieldLayout
        Its fields, laid out.
    flags : sequence of LocatedFlag
        The stops, in the order they are to stand.
    square_of : callable
        Gives the grid square of a flag on the map above.
    wide : int
        Width of the table. [pt]
    stop : callable, default no stop
        Gives the number of a flag's stop on a route, None without one.

    Returns
    -------
    Table
        One row a stop, which is never split; the head stands on every page.
    """
    room = 2.45 * inch
    widths = [32.0, (wide - 32 - room) * 0.54, (wide - 32 - room) * 0.46, room]
    head = (_("No."), _("What and where"), _("Shut first; bring"), _("Done, found, left as found"))
    rows: list[list[Any]] = [[words(f"<b>{text}</b>", size=7) for text in head]]
    rows += [
        [
            _Symbol(flag, square_of(flag)),
            _what(farm, flag, stop(flag)),
            _shut_and_bring(farm, layouts, flag),
            _Room(
                on_ground=flag.kind.on == "ground" or flag.state.ground_flag is not None,
                wide=room - 8,
                ground_flag=flag.state.ground_flag,
            ),
        ]
        for flag in flags
    ]
    style = [
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LINEBELOW", (0, 0), (-1, -1), 0.5, "black"),
        ("LINEABOVE", (0, 0), (-1, 0), 1.0, "black"),
        ("LEFTPADDING", (0, 0), (-1, -1), 4),
        ("RIGHTPADDING", (0, 0), (-1, -1), 4),
        ("TOPPADDING", (0, 0), (-1, -1), 2),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 3),
    ]
    return Table(rows, colWidths=widths, repeatRows=1, splitByRow=1, style=TableStyle(style))


def _what(farm: Farm, flag: LocatedFlag, stop: int | None) -> list[Any]:
    state = flag.state
    grade = "" if state.status == "open" else f" ({marked(_(state.status))})"
    on_route = "" if stop is None else f" · {marked(_('stop {n}').format(n=stop))}"
    lines = [words(f"<b>{state.number}. {marked(_(flag.kind.words))}</b>{grade}{on_route}")]
    where = marked(flag_words(flag, farm.units))
    if flag.drip is not None and len(flag.drip.candidates) > 1:
        could = runs_words([each.lateral for each in flag.drip.candidates])
        where += marked(_("; could be lateral {laterals}").format(laterals=could))
    lines.append(words(where, size=7))
    if flag.lat is not None and flag.lon is not None:
        at = f"{flag.lat:.6f}, {flag.lon:.6f}"
    else:
        at = _("rides on the machine: where it stands is not known")
    lines.append(words(at, size=7))
    told = [] if flag.rebuilt is None else [rebuilt_words(flag.rebuilt)]
    told += [joined_words(flag)] if state.joined else []
    lines += [words(f"<b>{marked(text)}</b>", size=7) for text in told]
    said = "; ".join(text for text in (state.name, state.note) if text)
    quoted = f". “{marked(said)}”" if said else ""
    matters = _(CLASS_WORDS.get(flag.flag_class, flag.flag_class))
    lines.append(words(f"{marked(matters)}{quoted}", size=7))
    lines += [words(f"<b>{marked(clash_words(clash))}</b>", size=7) for clash in state.clashes]
    return lines


def _shut_and_bring(farm: Farm, layouts: Sequence[FieldLayout], flag: LocatedFlag) -> list[Any]:
    wells = wells_for(farm, layouts, flag)
    shut, ask = f"<b>{_('Shut')}</b>", _(_ASK)
    lines = [
        words(f"{shut} {marked(well.name)}: {_short(well.shutoffs) or ask}", size=7)
        for well in wells[:_MOST_WELLS]
    ]
    if len(wells) > _MOST_WELLS:
        more = ", ".join(well.name for well in wells[_MOST_WELLS:])
        lines.append(words(f"{shut} {_('also {names}').format(names=_short(more))}", size=7))
    valve = _valve(layouts, flag)
    lines += [words(f"<b>{_('Valve')}</b> {marked(valve)}", size=7)] if valve else []
    if not lines:
        lines = [words(f"{shut}: {ask}", size=7)]
    items = flag_parts(farm, layouts, flag)
    parts = [
        f"{item.quantity} x {marked(item.part)}" if item.quantity > 1 else marked(item.part)
        for item in items[:_MOST_PARTS]
    ]
    if len(items) > _MOST_PARTS:
        parts.append(_("{n} more on the first sheet").format(n=len(items) - _MOST_PARTS))
    bring = "; ".join([*parts, *(marked(_(tool)) for tool in TOOLS.get(flag.kind.name, ()))])
    return [*lines, words(f"<b>{_('Bring')}</b> {bring or _('what the note asks for')}", size=7)]


def _short(text: str) -> str:
    """Return long words of a well cut so that a row of the table always fits a page."""
    return marked(text if len(text) <= _LONGEST else f"{text[:_LONGEST]}…")


def _valve(layouts: Sequence[FieldLayout], flag: LocatedFlag) -> str:
    if flag.drip is None or not flag.drip.zone:
        return ""
    found = [
        f"{zone.valve} ({zone.name})"
        for layout in layouts
        for drip in layout.drip
        if drip.name == flag.drip.name
        for zone in drip.block.zones
        if zone.name == flag.drip.zone and zone.valve
    ]
    return ", ".join(found)

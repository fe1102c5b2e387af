"""The sheets' cover: who is ready for first water, in one table to hang up in the shop."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from reportlab.platypus import Spacer, Table

from ringrow.handoff.flag_table import flag_sentence
from ringrow.handoff.languages import N_, _, counted
from ringrow.handoff.number_words import one_line, runs_words
from ringrow.handoff.ready_words import (
    STATE_WORDS,
    headline,
    line_words,
    starting_cautions,
    state_words,
    tally,
    waiting_words,
)
from ringrow.handoff.sheets.type import marked, words

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from ringrow.farm.ready import ReadyBoard, ReadyLine, ReadySystem
    from ringrow.units import UnitSystem

COVER = N_("Ready for first water?")
"""Head of the cover."""
_MOST_LINES = 12
"""Most lines in a cell; a row may not grow past a page."""
_LONGEST = 160
"""Longest line in a cell [letters]; the board itself has it whole."""
_STATES = ("waiting", "not walked", "ready")


def cover(board: ReadyBoard, units: UnitSystem, *, wide: int) -> list[Any]:
    """Return the cover's parts.

    Parameters
    ----------
    board : ReadyBoard
        The board.
    units : UnitSystem
        The farm's units.
    wide : int
        Room from edge to edge. [pt]

    Returns
    -------
    list of Flowable
        Counts, what ready does not mean, systems and wells in a table each, flags at none of them,
        cautions about starting.
    """
    means, *cautions = starting_cautions()
    counts = "; ".join(f"{_(STATE_WORDS[state])}: <b>{count}</b>" for state, count in tally(board).items())
    story: list[Any] = [
        words(marked(headline(board)), size=7),
        words(counts, size=9, before=3),
        words(marked(means), size=7, before=3),
        Spacer(0, 6),
    ]
    systems = [each for state in _STATES for each in board.systems if each.state == state]
    heads = (_("System"), _("State"), _("Waiting"), _("Owed at first water"))
    rows = [
        [
            _name(each),
            _state(each),
            _cell(_waiting(each, board, units)),
            _cell(_owed(each, board, units)),
        ]
        for each in systems
    ]
    story.append(_table(heads, rows, (104, 84, wide - 318, 130)))
    if board.wells:
        heads = (_("Well"), _("State"), _("Waiting"), _("Serves"))
        rows = [
            [
                _name(each),
                _state(each),
                _cell(_waiting(each, board, units)),
                _cell(_serves(each)),
            ]
            for each in board.wells
        ]
        story += [Spacer(0, 8), _table(heads, rows, (104, 84, wide - 358, 170))]
    if board.elsewhere:
        head = _("Open, and at no machine, block or well")
        flags = [flag_sentence(flag, units) for flag in board.elsewhere]
        story += [words(f"<b>{marked(head)}</b>", size=7, before=6), *_cell(flags)]
    story.append(words(" ".join(marked(text) for text in cautions), size=6, before=6))
    return story


def _name(each: ReadySystem) -> Any:
    field = f"<br/>{marked(each.system.field)}" if each.system.field else ""
    return words(f"<b>{marked(each.system.name)}</b>{field}", size=7)


def _state(each: ReadySystem) -> Any:
    return words(marked(state_words(each)), size=7)


def _cell(lines: Sequence[str]) -> Any:
    kept = [f"{line[:_LONGEST]}…" if len(line) > _LONGEST else line for line in lines[:_MOST_LINES]]
    more = len(lines) - len(kept)
    if more:
        kept.append(counted("and {n} more", "and {n} more", more).format(n=more))
    return [words(f"- {marked(line)}", size=7) for line in kept]


def _waiting(each: ReadySystem, board: ReadyBoard, units: UnitSystem) -> list[str]:
    """Return what waits, flags by number: their places stand on the sheets behind."""
    flags = _numbers(each.waiting)
    found = []
    if flags:
        message = counted("flag {numbers} open: {kinds}", "flags {numbers} open: {kinds}", len(flags))
        kinds = dict.fromkeys(_(one_line(line.flag.state.kind)) for line in each.waiting if line.flag)
        found.append(message.format(numbers=runs_words(flags), kinds=", ".join(kinds)))
    return found + waiting_words(each, board, units, flags=False)


def _owed(each: ReadySystem, board: ReadyBoard, units: UnitSystem) -> list[str]:
    flags = _numbers(each.owed)
    found = []
    if flags:
        message = counted(
            "see the repair of flag {numbers}", "see the repairs of flags {numbers}", len(flags)
        )
        found.append(message.format(numbers=runs_words(flags)))
    rest = [line for line in each.owed if line.flag is None and each.walked]
    return found + [text for line in rest for text in line_words(line, board, units)]


def _serves(each: ReadySystem) -> list[str]:
    named = ((each.ready_for, _("ready: {names}")), (each.not_for, _("not ready: {names}")))
    return [
        message.format(names=", ".join(one_line(name) for name in names)) for names, message in named if names
    ]


def _numbers(lines: Iterable[ReadyLine]) -> list[int]:
    return [line.flag.state.number for line in lines if line.flag is not None]


def _table(heads: Sequence[str], rows: list[list[Any]], wide: Sequence[int]) -> Table:
    head = [words(f"<b>{marked(text)}</b>", size=7) for text in heads]
    return Table([head, *rows], colWidths=list(wide), repeatRows=1, style=_RULED, hAlign="LEFT")


_RULED = [
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
    ("LINEBELOW", (0, 0), (-1, -1), 0.4, "black"),
    ("LINEBELOW", (0, 0), (-1, 0), 1, "black"),
    ("LEFTPADDING", (0, 0), (-1, -1), 2),
    ("RIGHTPADDING", (0, 0), (-1, -1), 4),
    ("TOPPADDING", (0, 0), (-1, -1), 2),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 3),
]

"""The ready board as lines people read and as JSON values."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ringrow.farm.events import when_text
from ringrow.handoff.flag_table import flag_sentence
from ringrow.handoff.languages import _
from ringrow.handoff.number_words import one_line
from ringrow.handoff.plain_table import wrapped
from ringrow.handoff.ready_words import (
    STATE_WORDS,
    also_words,
    headline,
    line_words,
    owed_words,
    seen_words,
    serves_words,
    starting_cautions,
    state_words,
    tally,
    waiting_words,
)

if TYPE_CHECKING:
    from ringrow.farm.ready import ReadyBoard, ReadyLine, ReadySystem
    from ringrow.units import UnitSystem


def ready_record(board: ReadyBoard, units: UnitSystem) -> dict[str, Any]:
    """Return a board as plain values under the keys of the JSON output.

    Parameters
    ----------
    board : ReadyBoard
        The board.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    dict
        ``systems`` and ``wells`` with ``state`` (ready, waiting, not walked), ``waiting`` and ``owed``;
        each line has ``what``, ``words`` and what it is about.
    """
    return {
        "farm": board.farm,
        "at": when_text(board.now),
        "round": {"id": board.round.id, "name": board.round.name} if board.round else None,
        "systems": [_system(each, board, units) for each in board.systems],
        "wells": [
            {
                **_system(each, board, units),
                "serves": list(each.system.serves),
                "ready_for": list(each.ready_for),
                "not_for": list(each.not_for),
            }
            for each in board.wells
        ],
        "elsewhere": [flag.state.number for flag in board.elsewhere],
        "cautions": starting_cautions(),
    }


def _system(each: ReadySystem, board: ReadyBoard, units: UnitSystem) -> dict[str, Any]:
    return {
        "name": each.system.name,
        "kind": each.system.kind,
        "field": each.system.field,
        "wells": list(each.system.wells),
        "state": each.state,
        "ready": each.ready,
        "last_seen": when_text(each.last_seen[0]) if each.last_seen else None,
        "waiting": [_line(line, board, units) for line in each.waiting],
        "owed": [_line(line, board, units) for line in each.owed],
        "also_open": list(each.also_open),
    }


def _line(line: ReadyLine, board: ReadyBoard, units: UnitSystem) -> dict[str, Any]:
    failed = line.part.failed if line.part else None
    return {
        "what": line.what,
        "words": "; ".join(line_words(line, board, units)),
        "flag": line.flag.state.number if line.flag else None,
        "item": _item(line),
        "parts": list(line.parts),
        "missing": [
            {"item": item.id, "parts": [part for part in parts if part]} for item, parts in line.unseen
        ],
        "why": failed.why or None if failed else None,
        "next": failed.next_step or None if failed else None,
        "whose": failed.whose or None if failed else None,
        "needed_by": failed.needed_by or None if failed else None,
        "zone": line.fill.zone or None if line.fill else None,
        "until": when_text(line.fill.look_at) if line.fill else None,
        "well": line.well or None,
    }


def _item(line: ReadyLine) -> str | None:
    if line.item is not None:
        return line.item.id
    if line.reading is not None:
        return line.reading.item
    return line.put_away.item if line.put_away is not None else None


def ready_text(board: ReadyBoard, units: UnitSystem, *, width: int | None) -> str:
    """Return a board as lines people read.

    Parameters
    ----------
    board : ReadyBoard
        The board.
    units : UnitSystem
        The farm's units.
    width : int or None
        Columns of the terminal; None for plain lines. [-]

    Returns
    -------
    str
        Systems, then wells, then what ready does not mean; no line break at the end.
    """
    out = [
        _("{farm}: ready for first water?").format(farm=one_line(board.farm)),
        headline(board),
        "; ".join(f"{_(STATE_WORDS[state])}: {count}" for state, count in tally(board).items()),
    ]
    for each in board.systems:
        out += ["", *_lines(each, board, units)]
    for each in board.wells:
        out += ["", *_lines(each, board, units), *(f"  {words}" for words in serves_words(each))]
    if board.elsewhere:
        out += ["", _("Open, and at no machine, block or well")]
        out += [f"  - {flag_sentence(flag, units)}" for flag in board.elsewhere]
    out += ["", *starting_cautions()]
    return "\n".join(wrapped(line, width, indent=4) if line else "" for line in out)


def _lines(each: ReadySystem, board: ReadyBoard, units: UnitSystem) -> list[str]:
    seen = seen_words(each, board.now)
    head = f"{one_line(each.system.name)}: {state_words(each)}"
    out = [f"{head} ({seen})" if seen else head]
    out += [f"  - {words}" for words in waiting_words(each, board, units)]
    owed = owed_words(each, board, units)
    if owed:
        out.append("  " + _("Owed at first water:"))
        out += [f"  - {words}" for words in owed]
    also = also_words(each)
    return [*out, *([f"  {also}"] if also else [])]

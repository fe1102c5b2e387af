"""The ready board as a page to read on a phone, to print, and to hang up in the shop."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ringrow.handoff.flag_table import flag_sentence
from ringrow.handoff.languages import _
from ringrow.handoff.number_words import one_line
from ringrow.handoff.plain_page import bullets, plain_page, safe
from ringrow.handoff.ready_words import (
    STATE_WORDS,
    also_words,
    headline,
    owed_words,
    seen_words,
    serves_words,
    starting_cautions,
    state_words,
    tally,
    waiting_words,
)
from ringrow.handoff.round_words import KIND_WORDS

if TYPE_CHECKING:
    from ringrow.farm.ready import ReadyBoard, ReadySystem
    from ringrow.units import UnitSystem

_CLASSES = {"ready": "ready", "waiting": "waiting", "not walked": "unwalked"}


def ready_page(board: ReadyBoard, units: UnitSystem) -> str:
    """Return a board as one HTML file in the spoken language, without script or request.

    Parameters
    ----------
    board : ReadyBoard
        The board.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    str
        What waits first, then what nobody has walked, then what is ready; wells below.
    """
    title = _("{farm}: ready for first water?").format(farm=one_line(board.farm))
    body = [f"<h1>{safe(title)}</h1>", f'<p class="quiet">{safe(headline(board))}</p>', _tally(board)]
    first, *cautions = starting_cautions()
    body.append(f'<p class="box">{safe(first)}</p>')
    for state in ("waiting", "not walked", "ready"):
        cards = [_card(each, board, units) for each in board.systems if each.state == state]
        if cards:
            body += [f"<h2>{safe(_(STATE_WORDS[state]))}</h2>", *cards]
    if board.wells:
        body += [f"<h2>{safe(_('Wells'))}</h2>", *(_card(each, board, units) for each in board.wells)]
    if board.elsewhere:
        head = _("Open, and at no machine, block or well")
        body += [f"<h2>{safe(head)}</h2>", bullets([flag_sentence(flag, units) for flag in board.elsewhere])]
    body += [
        '<div class="box">',
        f"<h3>{safe(_('Before anything is started'))}</h3>",
        bullets(cautions),
        "</div>",
    ]
    return plain_page(title, body)


def _tally(board: ReadyBoard) -> str:
    rows = [f"<li><b>{count}</b>{safe(_(STATE_WORDS[state]))}</li>" for state, count in tally(board).items()]
    return f'<ul class="tally">{"".join(rows)}</ul>'


def _card(each: ReadySystem, board: ReadyBoard, units: UnitSystem) -> str:
    """Return one system: its state in words, not by colour alone, what waits, what is owed."""
    kind = _(KIND_WORDS[each.system.kind])
    about = [kind, *([each.system.field] if each.system.field else []), seen_words(each, board.now)]
    quiet = " · ".join(safe(text) for text in about if text)
    out = [
        f'<section class="card {_CLASSES[each.state]}">',
        f'<div class="head"><h3>{safe(each.system.name)}</h3>',
        f'<span class="state">{safe(state_words(each))}</span>',
        f'<span class="quiet">{quiet}</span></div>',
        bullets(waiting_words(each, board, units)),
    ]
    if each.system.kind == "well":
        out += [f"<p>{safe(words)}</p>" for words in serves_words(each)]
    owed = owed_words(each, board, units)
    if owed:
        out += [f"<p><b>{safe(_('Owed at first water:'))}</b></p>", bullets(owed)]
    also = also_words(each)
    out += [f'<p class="quiet">{safe(also)}</p>'] if also else []
    return "".join([*out, "</section>"])

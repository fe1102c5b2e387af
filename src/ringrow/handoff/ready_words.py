"""The ready board in words: what waits, what is owed, and what ready does not mean."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ringrow.farm.systems import local_time
from ringrow.handoff.cautions import CLOSING, GENERAL, caution_words
from ringrow.handoff.flag_table import flag_sentence
from ringrow.handoff.languages import N_, _, counted
from ringrow.handoff.number_words import one_line, runs_words
from ringrow.handoff.put_away_words import spring_words
from ringrow.handoff.reading_words import judged_words
from ringrow.handoff.round_words import WHOSE_WORDS, item_words, parts_words

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from ringrow.equipment.checklists import CheckItem
    from ringrow.farm.fills import Fill
    from ringrow.farm.ready import ReadyBoard, ReadyLine, ReadySystem
    from ringrow.farm.rounds import PartState
    from ringrow.units import UnitSystem

STATE_WORDS: dict[str, str] = {
    "ready": N_("Nothing open that stops first water"),
    "waiting": N_("Waiting"),
    "not walked": N_("Not yet walked"),
}
"""How a system stands."""
READY_MEANS = N_(
    "Ready means: walked in this round, and nothing open that stops first water, as far as it was said. It "
    "does not mean that a machine may be started, or that nothing leaks. Whoever starts it looks first."
)
"""What ready does not mean."""
STARTING: tuple[str, ...] = ("start", "shock", "shafts", "pressure", "gas", "alone")
"""Keys of the cautions about starting."""
_SAYS_NO_MORE = ("no", "n", "bad", "mal")
_HOW = {
    "look": N_("Not looked at: {items}"),
    "try": N_("Not tried: {items}"),
    "read": N_("Not read: {items}"),
}
_WET_HOW = {
    "look": N_("To look at: {items}"),
    "try": N_("To try: {items}"),
    "read": N_("To read: {items}"),
}


def state_words(system: ReadySystem) -> str:
    """Return how a system stands, in the spoken language.

    Parameters
    ----------
    system : ReadySystem
        The system.

    Returns
    -------
    str
        Its state; of a well that is ready for some of what it serves, for how many.
    """
    if system.ready and system.not_for:
        message = _("Nothing open that stops first water, for {ready} of the {all} it serves")
        return message.format(ready=len(system.ready_for), all=len(system.system.serves))
    return _(STATE_WORDS[system.state])


def line_words(line: ReadyLine, board: ReadyBoard, units: UnitSystem) -> list[str]:
    """Return what a line says, in the spoken language.

    Parameters
    ----------
    line : ReadyLine
        The line.
    board : ReadyBoard
        Its board.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    list of str
        One sentence without a full stop; of items nobody has seen one for each way of seeing.
    """
    if line.flag is not None:
        return [flag_sentence(line.flag, units)]
    if line.item is not None and line.part is not None:
        return [_failed(line.item, line.part, line.parts, board.now)]
    if line.reading is not None:
        day = _moment(line.reading.when, board.now)
        item = _short(item_words(line.reading.item))
        return [
            _("{item}: {judged} ({when})").format(
                item=item, judged=judged_words(line.reading, units), when=day
            )
        ]
    if line.unseen:
        return _unseen(line.unseen, _WET_HOW if line.what == "under water" else _HOW)
    if line.fill is not None:
        return [fill_words(line.fill, board.now)]
    if line.put_away is not None:
        return [spring_words(line.put_away)]
    return [_("{well} is not ready").format(well=one_line(line.well))]


def waiting_words(
    system: ReadySystem, board: ReadyBoard, units: UnitSystem, *, flags: bool = True
) -> list[str]:
    """Return what a system waits for, in the spoken language.

    Parameters
    ----------
    system : ReadySystem
        The system.
    board : ReadyBoard
        Its board.
    units : UnitSystem
        The farm's units.
    flags : bool, default True
        Whether its open flags are among them.

    Returns
    -------
    list of str
        Sentences without a full stop. Of a system that nobody has walked the items are only counted.
    """
    found = []
    for line in system.waiting:
        if line.flag is not None and not flags:
            continue
        if line.what == "not seen" and not system.walked:
            count = len(line.unseen)
            message = counted(
                "Nobody has looked at it in this round: {n} item",
                "Nobody has looked at it in this round: {n} items",
                count,
            )
            found.append(message.format(n=count))
        else:
            found += line_words(line, board, units)
    return found


def owed_words(system: ReadySystem, board: ReadyBoard, units: UnitSystem) -> list[str]:
    """Return what is owed of a system at first water, in the spoken language.

    Parameters
    ----------
    system : ReadySystem
        The system.
    board : ReadyBoard
        Its board.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    list of str
        Sentences without a full stop. Of a system that nobody has walked only its repairs.
    """
    told = [line for line in system.owed if system.walked or line.what == "repair"]
    return [words for line in told for words in line_words(line, board, units)]


def _failed(item: CheckItem, part: PartState, parts: Sequence[str], now: datetime) -> str:
    where = _with_parts([item], parts)
    # "No" says no more than "not good" does.
    said = [one_line(part.said)] if part.said and part.said.casefold() not in _SAYS_NO_MORE else []
    failed = part.failed
    if failed is not None:
        said += [_("why: {why}").format(why=one_line(failed.why))] if failed.why else []
        said += [_("next: {step}").format(step=one_line(failed.next_step))] if failed.next_step else []
        whose = WHOSE_WORDS.get(failed.whose)
        said += [_("turn of {whose}").format(whose=_(whose))] if whose else []
        # A try that failed goes on to somebody; what was looked at may be put right on the spot.
        said += [_("whose turn: not said")] if item.how == "try" and not whose else []
        # Dates are year-month-day, so they stand in order as texts.
        late = failed.needed_by < now.date().isoformat()
        message = _("needed by {day}, which has passed") if late else _("needed by {day}")
        said += [message.format(day=one_line(failed.needed_by))] if failed.needed_by else []
    told = _("{item}: not good").format(item=where)
    return "; ".join([told, *said])


def _unseen(unseen: Sequence[tuple[CheckItem, tuple[str, ...]]], words: dict[str, str]) -> list[str]:
    found = []
    for how, message in words.items():
        # What is missing of the same towers is said with its towers once.
        alike: dict[tuple[str, ...], list[CheckItem]] = {}
        for item, parts in unseen:
            if item.how == how:
                alike.setdefault(parts, []).append(item)
        if alike:
            named = [_with_parts(items, parts) for parts, items in alike.items()]
            found.append(_(message).format(items="; ".join(named)))
    return found


def _with_parts(items: Sequence[CheckItem], parts: Sequence[str]) -> str:
    names = [_short(item_words(item.id, item.words)) for item in items]
    shown = one_line(parts_words(parts))
    # A tower alone is a number: it needs its word.
    if shown and items[0].per == "tower":
        shown = counted("tower {numbers}", "towers {numbers}", len(parts)).format(numbers=shown)
    return _("{item} ({parts})").format(item=", ".join(names), parts=shown) if shown else "; ".join(names)


def _short(words: str) -> str:
    """Return the name of an item: what stands before its details."""
    return one_line(words.partition(":")[0].partition(",")[0])


def fill_words(fill: Fill, now: datetime) -> str:
    """Return until when a zone that was filled has to wait.

    Parameters
    ----------
    fill : Fill
        Water let into a zone.
    now : datetime
        The moment, with the time zone in which people read it.

    Returns
    -------
    str
        One sentence without a full stop.
    """
    zone = one_line(fill.zone or fill.drip)
    since, look = _moment(fill.since, now), _moment(fill.look_at, now)
    if fill.look_at <= now:
        return _("{zone} has water since {since}: look it over now, it has waited since {look}").format(
            zone=zone, since=since, look=look
        )
    if fill.full_at is None:
        return _(
            "{zone} has water since {since}, time to fill not known: waits until {look}, then look it over"
        ).format(zone=zone, since=since, look=look)
    return _(
        "{zone} has water since {since}, full at {full} at the earliest: waits until {look}, then look it "
        "over"
    ).format(zone=zone, since=since, full=_moment(fill.full_at, now), look=look)


def undone_words(stands: Fill | None, now: datetime) -> str:
    """Return what stands after a fill was taken back.

    Parameters
    ----------
    stands : Fill or None
        The fill before it; None for none.
    now : datetime
        The moment, with the time zone in which people read it.

    Returns
    -------
    str
        One sentence without a full stop.
    """
    if stands is None:
        return _("taken back; no water is said to be in it")
    return _("taken back; as before: {fill}").format(fill=fill_words(stands, now))


def _moment(when: datetime, now: datetime) -> str:
    """Return a moment in the zone people read it in; the day where it is not today."""
    local = local_time(when, now.tzinfo)
    return f"{local:%H:%M}" if local.date() == now.date() else f"{local.date().isoformat()} {local:%H:%M}"


def serves_words(well: ReadySystem) -> list[str]:
    """Return which of a well's systems are ready and which are not.

    Parameters
    ----------
    well : ReadySystem
        The well.

    Returns
    -------
    list of str
        One or two sentences without a full stop; what else waits there stands in its own lines.
    """
    found = []
    if well.ready_for:
        found.append(_("Of what it serves, ready: {names}").format(names=_listed(well.ready_for)))
    if well.not_for:
        found.append(_("Of what it serves, not ready: {names}").format(names=_listed(well.not_for)))
    return found or [_("It is not said to serve anything")]


def _listed(names: Sequence[str]) -> str:
    return ", ".join(map(one_line, names))


def seen_words(system: ReadySystem, now: datetime) -> str:
    """Return when a system was last looked at and by whom.

    Parameters
    ----------
    system : ReadySystem
        The system.
    now : datetime
        The moment, with the time zone in which people read it.

    Returns
    -------
    str
        Such as ``last seen 2027-03-14 09:10, Ana``; empty when it was not.
    """
    if system.last_seen is None:
        return ""
    when, who = system.last_seen
    day = _moment(when, now)
    if who:
        return _("last seen {when}, {who}").format(when=day, who=one_line(who))
    return _("last seen {when}").format(when=day)


def also_words(system: ReadySystem) -> str:
    """Return the other flags that are open, or fixed and not yet checked.

    Parameters
    ----------
    system : ReadySystem
        The system.

    Returns
    -------
    str
        One sentence without a full stop; empty for none.
    """
    if not system.also_open:
        return ""
    message = counted(
        "Also open or not checked, not in the way of water: flag {numbers}",
        "Also open or not checked, not in the way of water: flags {numbers}",
        len(system.also_open),
    )
    return message.format(numbers=runs_words(list(system.also_open)))


def headline(board: ReadyBoard) -> str:
    """Return one line on a board: farm, day, and the round whose looks count.

    Parameters
    ----------
    board : ReadyBoard
        The board.

    Returns
    -------
    str
        The line.
    """
    told = f"{board.now:%Y-%m-%d %H:%M}"
    if board.round is None:
        return _("{when}; no round was started yet, so nothing counts as walked").format(when=told)
    return _("{when}; by the round {round}").format(when=told, round=one_line(board.round.name))


def tally(board: ReadyBoard) -> dict[str, int]:
    """Return how many systems stand how, wells not counted.

    Parameters
    ----------
    board : ReadyBoard
        The board.

    Returns
    -------
    dict of str to int
        Ready, waiting, not walked.
    """
    return {state: sum(each.state == state for each in board.systems) for state in STATE_WORDS}


def starting_cautions() -> list[str]:
    """Return the cautions about starting, and what ready does not mean, in the spoken language."""
    texts = [caution_words(caution) for caution in GENERAL if caution.key in STARTING]
    return [_(READY_MEANS), *texts, _(CLOSING)]

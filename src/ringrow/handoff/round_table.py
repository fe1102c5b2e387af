"""What a round has seen, in words and tables for people."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from ringrow.farm.round_model import Failed
from ringrow.handoff.cautions import CLOSING
from ringrow.handoff.languages import _, counted
from ringrow.handoff.number_words import one_line
from ringrow.handoff.plain_table import TableBlock, block_text, wrapped
from ringrow.handoff.reading_words import told_words
from ringrow.handoff.round_words import KIND_WORDS, WHOSE_WORDS, item_caution, item_words, parts_words

if TYPE_CHECKING:
    from collections.abc import Container, Mapping, Sequence

    from ringrow.equipment.checklists import CheckItem
    from ringrow.farm.flag_model import FlagState
    from ringrow.farm.readings import JudgedReading
    from ringrow.farm.round_entries import Entry
    from ringrow.farm.round_log import Kept
    from ringrow.farm.rounds import ItemState, Look, PartState, Round, RoundBook, SystemRound
    from ringrow.units import UnitSystem

_ID_SHOWN = 8


def round_line(round_: Round) -> str:
    """Return a round in one line.

    Parameters
    ----------
    round_ : Round
        The round.

    Returns
    -------
    str
        Name, when and by whom it was started, whether it is open.
    """
    name, who = one_line(round_.name), one_line(round_.who) or _("not said")
    started = f"{round_.started:%Y-%m-%d}"
    if round_.ended is None:
        return _("Round {name}: started {started} by {who}, open").format(name=name, started=started, who=who)
    return _("Round {name}: started {started} by {who}, ended {ended}").format(
        name=name, started=started, who=who, ended=f"{round_.ended:%Y-%m-%d}"
    )


def missing_words(state: ItemState) -> str:
    """Return what of an item nobody has looked at.

    Parameters
    ----------
    state : ItemState
        The item.

    Returns
    -------
    str
        The item, with its towers or zones where only some are missing.
    """
    name = state.item.id
    if len(state.missing) == len(state.parts):
        return name
    parts = parts_words(state.missing)
    if state.item.per == "tower":
        message = counted("{item} of tower {parts}", "{item} of towers {parts}", len(state.missing))
        return message.format(item=name, parts=parts)
    return _("{item} of {parts}").format(item=name, parts=parts)


def failed_words(failed: Failed) -> list[str]:
    """Return what is to become of a try that failed.

    Parameters
    ----------
    failed : Failed
        What was said of it.

    Returns
    -------
    list of str
        Why, next step, whose it is and by when; what nobody said is named as not said.
    """
    not_said = _("not said")
    whose = _(WHOSE_WORDS[failed.whose]) if failed.whose in WHOSE_WORDS else one_line(failed.whose)
    return [
        _("why: {why}").format(why=one_line(failed.why) or not_said),
        _("next step: {step}").format(step=one_line(failed.next_step) or not_said),
        _("whose: {whose}").format(whose=whose or not_said),
        _("needed by: {day}").format(day=one_line(failed.needed_by) or not_said),
    ]


def bad_line(system: str, item: CheckItem, part: PartState, units: UnitSystem) -> str:
    """Return one thing that is not good in one line.

    Parameters
    ----------
    system : str
        Name of the system.
    item : CheckItem
        The item.
    part : PartState
        The tower, zone or system, and what was said.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    str
        The line, with the first characters of its record's id.
    """
    place = f"{system}, {part.part}" if part.part else system
    told = told_words(part.reading, units) if part.reading else one_line(part.said) or _("not good")
    line = f"{place}: {item.id}: {told}"
    # What was only looked at may be put right on the spot: nobody has to say whose it is.
    if part.failed is not None and (item.how == "try" or part.failed != Failed()):
        line += f" ({'; '.join(failed_words(part.failed))})"
    return f"{line} [{part.record[:_ID_SHOWN]}]"


def bad_lines(found: SystemRound, units: UnitSystem) -> list[str]:
    """Return what is not good of a system, towers that were said in one go in one line.

    Parameters
    ----------
    found : SystemRound
        The system in the round.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    list of str
        The lines.
    """
    lines = []
    for state in found.items:
        by_record: dict[str, list[PartState]] = {}
        for part in state.bad:
            by_record.setdefault(part.record, []).append(part)
        for several in by_record.values():
            # A tower alone is a number: it needs its word.
            names = parts_words([each.part for each in several if each.part])
            if names and state.item.per == "tower":
                names = counted("tower {numbers}", "towers {numbers}", len(several)).format(numbers=names)
            joined = replace(several[0], part=names)
            lines.append(bad_line(found.system.name, state.item, joined, units))
    return lines


def round_text(
    book: RoundBook, states: Mapping[str, FlagState], units: UnitSystem, *, width: int | None
) -> str:
    """Return what a round has seen, what not, and what is not good.

    Parameters
    ----------
    book : RoundBook
        The round.
    states : mapping of str to FlagState
        Flags by UUID.
    units : UnitSystem
        The farm's units.
    width : int or None
        Columns of the terminal; None for plain lines. [-]

    Returns
    -------
    str
        A table of systems, then lists.
    """
    title = _("No round was started yet") if book.current is None else round_line(book.current)
    head = (_("System"), _("Kind"), _("Looked at"), _("By"), _("Not yet"), _("Not good"))
    rows = [_system_row(found, len(book.outside(found))) for found in book.systems]
    blocks = [block_text(TableBlock(title=title, head=head, rows=rows, words=4), width)]
    lists = (
        (_("Not good:"), _bad_lines(book, units)),
        (_("Flags set as exceptions:"), _exception_lines(book.systems, states)),
        (_("Corrected by two people in two ways:"), _clash_lines(book.systems)),
        (_("Not yet looked at:"), [line for found in book.systems for line in not_yet_lines(found)]),
    )
    for name, lines in lists:
        if lines:
            blocks.append("\n".join([name, *(f"  {wrapped(line, width, indent=4)}" for line in lines)]))
    return "\n\n".join(blocks)


def _bad_lines(book: RoundBook, units: UnitSystem) -> list[str]:
    lines = []
    for found in book.systems:
        lines += bad_lines(found, units)
        lines += [outside_line(each, units) for each in book.outside(found)]
    return lines


def outside_line(reading: JudgedReading, units: UnitSystem) -> str:
    """Return a reading outside its limits in one line.

    Parameters
    ----------
    reading : JudgedReading
        The reading.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    str
        The line, with the first characters of its record's id.
    """
    place = f"{reading.system}, {reading.zone}" if reading.zone else reading.system
    told = told_words(reading, units)
    return f"{one_line(place)}: {reading.item}: {told} [{reading.record.id[:_ID_SHOWN]}]"


def _system_row(found: SystemRound, outside: int) -> tuple[str, ...]:
    seen = found.looked_at
    when, who = (f"{seen[-1][0]:%Y-%m-%d}", one_line(seen[-1][1]) or "-") if seen else ("-", "-")
    missing = _("{n} of {all}").format(n=len(found.missing), all=len(found.items)) if found.missing else "-"
    bad = len(found.failed) + outside
    name = one_line(found.system.name)
    return name, _(KIND_WORDS[found.system.kind]), when, who, missing, str(bad) if bad else "-"


def _exception_lines(systems: Sequence[SystemRound], states: Mapping[str, FlagState]) -> list[str]:
    lines = []
    for found in systems:
        for look in found.looks:
            for said, flag in look.exceptions:
                state = states.get(flag)
                tag = f"#{state.number} {_(state.status)}" if state else _("no such flag")
                lines.append(f"{one_line(found.system.name)}: {one_line(said)} ({tag})")
    return lines


def _clash_lines(systems: Sequence[SystemRound]) -> list[str]:
    """Return what two people corrected without seeing each other; who corrects it again settles it."""
    lines = []
    for found in systems:
        system = one_line(found.system.name)
        looks = [(look.id, _("a look"), look.clashes) for look in found.looks]
        read = [(each.record.id, each.item, each.record.clashes) for each in found.readings]
        for id_, what, clashes in [*looks, *read]:
            others = "; ".join(_("taken back") if each is None else _said_short(each) for each in clashes)
            if clashes:
                line = _("{system}: {what}; the other says: {others}")
                lines.append(f"{line.format(system=system, what=what, others=others)} [{id_[:_ID_SHOWN]}]")
    return lines


def _said_short(value: Mapping[str, Any]) -> str:
    items = value.get("items")
    told = [
        f"{one_line(str(item))}={one_line(str(said.get('said') or said.get('answer')))}"
        for item, said in (items.items() if isinstance(items, dict) else ())
        if isinstance(said, dict)
    ]
    told += [_("nothing seen")] if value.get("nothing_seen") is True else []
    return ", ".join(told) or one_line(str(value.get("said", ""))) or "?"


def not_yet_lines(found: SystemRound) -> list[str]:
    """Return what of a system nobody has looked at, in one line; nothing when all is done.

    Parameters
    ----------
    found : SystemRound
        The system in the round.

    Returns
    -------
    list of str
        None or one line.
    """
    if not found.missing:
        return []
    name = one_line(found.system.name)
    if not found.looks and not found.readings:
        return [_("{system}: nothing yet").format(system=name)]
    return [f"{name}: {'; '.join(missing_words(state) for state in found.missing)}"]


def system_text(found: SystemRound, units: UnitSystem, *, width: int | None) -> str:
    """Return the checklist of one system as it stands, with its cautions.

    Parameters
    ----------
    found : SystemRound
        The system in the round.
    units : UnitSystem
        The farm's units.
    width : int or None
        Columns of the terminal; None for plain lines. [-]

    Returns
    -------
    str
        A table of items, the looks, and each caution once.
    """
    head = (_("Item"), _("What to do"), _("Stands"))
    excepted = {look.id for look in found.looks if look.exceptions}
    rows = [_item_row(state, units, excepted) for state in found.items]
    title = f"{one_line(found.system.name)} ({_(KIND_WORDS[found.system.kind])})"
    blocks = [block_text(TableBlock(title=title, head=head, rows=rows, words=3), width)]
    if found.looks:
        looks = [f"  {wrapped(look_line(look), width, indent=4)}" for look in found.looks]
        blocks.append("\n".join([_("Looks:"), *looks]))
    cautions = dict.fromkeys(filter(None, (item_caution(state.item.id) for state in found.items)))
    if cautions:
        lines = [f"  {wrapped(text, width, indent=4)}" for text in cautions]
        closing = f"  {_(CLOSING)}"
        blocks.append("\n".join([_("Caution:"), *lines, closing]))
    return "\n\n".join(blocks)


def _item_row(state: ItemState, units: UnitSystem, excepted: Container[str]) -> tuple[str, ...]:
    words = one_line(item_words(state.item.id, state.item.words))
    return state.item.id, words, stands_words(state, units, excepted=excepted)


def stands_words(state: ItemState, units: UnitSystem, *, excepted: Container[str] = ()) -> str:
    """Return how an item stands in a few words.

    Parameters
    ----------
    state : ItemState
        The item.
    units : UnitSystem
        The farm's units.
    excepted : container of str, default ()
        Ids of looks that made exceptions.

    Returns
    -------
    str
        What is bad, what is missing, or that it is good.
    """
    told = []
    for part in state.bad:
        words = told_words(part.reading, units) if part.reading else one_line(part.said) or _("not good")
        told.append(f"{part.part}: {words}" if part.part else words)
    if state.missing:
        whole = len(state.missing) == len(state.parts)
        told.append(_("not yet") if whole else _("not yet {parts}").format(parts=parts_words(state.missing)))
    if told:
        return "; ".join(told)
    part = state.parts[-1]
    if part.reading is not None:
        return told_words(part.reading, units)
    if part.answer == "none":
        return _("there is none")
    if any(part.record in excepted and not part.said for part in state.parts):
        return _("good, except what was flagged")
    return one_line(part.said) or _("good")


def look_line(look: Look) -> str:
    """Return a look in one line.

    Parameters
    ----------
    look : Look
        The look.

    Returns
    -------
    str
        When, who, what was looked at, what was said, the first characters of its id.
    """
    told = [
        f"{item}={one_line(str(said.get('said') or said['answer']))}" for item, said in look.answers.items()
    ]
    if look.parts:
        parts = parts_words(look.parts)
        towers = counted("tower {numbers}", "towers {numbers}", len(look.parts)).format(numbers=parts)
        told.insert(0, parts if look.kind == "drip" else towers)
    if look.nothing_seen and look.exceptions:
        excepted = "; ".join(one_line(said) for said, _flag in look.exceptions)
        told.append(_("nothing seen, except {what}").format(what=excepted))
    elif look.nothing_seen:
        told.append(_("nothing seen"))
    who = one_line(look.who) or _("not said")
    note = f" ({one_line(look.note)})" if look.note else ""
    return f"{look.when:%Y-%m-%d %H:%M} {who}: {', '.join(told)}{note} [{look.id[:_ID_SHOWN]}]"


def flag_lines(entries: Sequence[Entry], kept: Sequence[Kept], states: Mapping[str, FlagState]) -> list[str]:
    """Return the flags that exceptions have set, each with why it got its kind.

    Parameters
    ----------
    entries : sequence of Entry
        What was said.
    kept : sequence of Kept
        What became of it.
    states : mapping of str to FlagState
        Flags by UUID.

    Returns
    -------
    list of str
        One line a flag.
    """
    return [
        _("flag {number} set: {kind} ({why}): {said}").format(
            number=states[flag].number, kind=_(each.kind), why=each.guess.why, said=one_line(each.said)
        )
        for entry, one in zip(entries, kept, strict=True)
        for each, flag in zip(entry.flags, one.flags, strict=False)
        if flag in states
    ]


def system_lines(found: SystemRound, units: UnitSystem) -> list[str]:
    """Return what is not good of a system, and what is not yet looked at.

    Parameters
    ----------
    found : SystemRound
        The system in the round.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    list of str
        The lines.
    """
    return [
        *(_("not good: {what}").format(what=line) for line in bad_lines(found, units)),
        *(_("not yet: {what}").format(what=line) for line in not_yet_lines(found)),
    ]


def end_text(book: RoundBook, *, width: int | None) -> str:
    """Return a round that was ended, and what it has not seen.

    Parameters
    ----------
    book : RoundBook
        The round.
    width : int or None
        Columns of the terminal; None for plain lines. [-]

    Returns
    -------
    str
        The lines.
    """
    lines = [line for found in book.systems for line in not_yet_lines(found)]
    head = [] if book.current is None else [round_line(book.current)]
    if not lines:
        return "\n".join([*head, _("Everything was looked at.")])
    left = sum(1 for found in book.systems if found.missing)
    told = counted("Not all was looked at of {n} system:", "Not all was looked at of {n} systems:", left)
    return "\n".join([*head, told.format(n=left), *(f"  {wrapped(line, width, indent=4)}" for line in lines)])

"""Flags that mark one fault: joined by a record, shown as one, taken apart again.

Somebody says that flags are one fault; that is a record of type ``same`` naming them. Which flags
are shown as one follows from all such records that nobody took back, by union-find: the order in
which phones come back makes no difference, nor does saying it twice. No flag is changed by it.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from ringrow.equipment.kinds import CLASSES
from ringrow.errors import SeasonError
from ringrow.farm.events import RECORD, Event
from ringrow.farm.flag_model import FlagState, UsedPart
from ringrow.farm.flags import find_flag
from ringrow.farm.folding import by_field, fold, heads
from ringrow.farm.records import fold_records, record_event

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from datetime import datetime

    from ringrow.farm.flags import Stamp
    from ringrow.farm.records import Record
    from ringrow.farm.season import Season

SAME = "same"
"""Type of the records that join flags."""


def joined_states(states: Sequence[FlagState], events: Sequence[Event]) -> list[FlagState]:
    """Return flags with those that mark one fault shown as one.

    The joined flag has the number, kind, name and time of the one set first. Its status is what
    was said last of any of them, a flag that nobody touched counting as open since it was set;
    its class the worst in force; its note all of theirs; its parts and photos theirs together.

    Parameters
    ----------
    states : sequence of FlagState
        Every flag by itself.
    events : sequence of Event
        The season's events.

    Returns
    -------
    list of FlagState
        In the order of `states`, each fault once; the others stand in its `joined`.
    """
    # Most logs join nothing; they are not folded a second time for it.
    if not any(event.field == RECORD and _joins(event.value) for event in events):
        return list(states)
    own = {state.id: state for state in states}
    records = [record for record in fold_records(events) if record.type == SAME]
    groups = [
        sorted((own[id_] for id_ in group), key=lambda state: (state.set_at, state.id))
        for group in same_groups(records, own)
    ]
    if not groups:
        return list(states)
    said = by_field(events)
    shown = {group[0].id: _joined(group, said) for group in groups}
    hidden = {state.id for group in groups for state in group[1:]}
    return [shown.get(state.id, state) for state in states if state.id not in hidden]


def _joins(value: Any) -> bool:
    return isinstance(value, dict) and value.get("type") == SAME


def same_groups(records: Iterable[Record], known: Iterable[str]) -> list[frozenset[str]]:
    """Return which flags are one fault, from all that was said.

    Parameters
    ----------
    records : iterable of Record
        Records of type ``same``, in any order; one that names no flags says nothing.
    known : iterable of str
        Flags of this season by id; others are passed over.

    Returns
    -------
    list of frozenset of str
        Groups of two or more flags.
    """
    root = {id_: id_ for id_ in known}
    for record in records:
        named = [id_ for id_ in flags_of(record.value) if id_ in root]
        for other in named[1:]:
            root[_top(root, other)] = _top(root, named[0])
    groups: dict[str, set[str]] = {}
    for id_ in root:
        groups.setdefault(_top(root, id_), set()).add(id_)
    return [frozenset(group) for group in groups.values() if len(group) > 1]


def _top(root: dict[str, str], id_: str) -> str:
    while root[id_] != id_:
        root[id_] = root[root[id_]]
        id_ = root[id_]
    return id_


def flags_of(value: Mapping[str, Any]) -> tuple[str, ...]:
    """Return the flags that a record of type ``same`` names.

    Parameters
    ----------
    value : mapping of str to object
        The record's value, not trusted.

    Returns
    -------
    tuple of str
        Ids as they stand there; empty when it holds no list of them.

    Examples
    --------
    >>> flags_of({"flags": ["a", "b", 3]}), flags_of({"flags": "ab"})
    (('a', 'b'), ())
    """
    flags = value.get("flags")
    return tuple(id_ for id_ in flags if isinstance(id_, str)) if isinstance(flags, list) else ()


def _joined(group: Sequence[FlagState], said: Mapping[str, Mapping[str, Sequence[Event]]]) -> FlagState:
    first, *others = group
    notes = dict.fromkeys(state.note for state in group if state.note)
    classes = [state.flag_class for state in group if state.flag_class is not None]
    return replace(
        first,
        name=next((state.name for state in group if state.name), ""),
        note="; ".join(notes),
        status=_last_status(group, said),
        flag_class=min(classes, key=CLASSES.index) if classes else None,
        spot=next((state.spot for state in group if state.spot is not None), None),
        clashes=tuple(dict.fromkeys(clash for state in group for clash in state.clashes)),
        parts=_all_parts(group),
        photos=tuple(dict.fromkeys(photo for state in group for photo in state.photos)),
        ground_flag=_in_the_ground(group),
        dig=next((state.dig for state in group if state.dig is not None), None),
        joined=tuple(others),
    )


def _last_status(group: Sequence[FlagState], said: Mapping[str, Mapping[str, Sequence[Event]]]) -> str:
    words: list[tuple[datetime, str, str]] = []
    for state in group:
        standing = heads(said[state.id].get("status", ()))
        latest = standing[0] if standing else None
        when, id_ = (state.set_at, state.id) if latest is None else (latest.when, latest.id)
        words.append((when, id_, state.status))
    return max(words)[2]


def _all_parts(group: Sequence[FlagState]) -> tuple[UsedPart, ...]:
    counts: Counter[str] = Counter()
    for used in (part for state in group for part in state.parts):
        counts[used.part] += used.quantity
    return tuple(UsedPart(part=part, quantity=count) for part, count in counts.items())


def _in_the_ground(group: Sequence[FlagState]) -> str | None:
    said = {state.ground_flag for state in group}
    # One that still stands must be pulled, whatever became of the other.
    return "set" if "set" in said else "pulled" if "pulled" in said else None


def merge_flags(season: Season, refs: Sequence[str], *, chance: float | None, stamp: Stamp) -> FlagState:
    """Say that flags mark one fault; from then on they are shown as one.

    Parameters
    ----------
    season : Season
        Open log.
    refs : sequence of str
        Two or more flags by number or by the first characters of their id.
    chance : float or None
        Chance that they are one, as far as it was worked out, kept with it. [-]
    stamp : Stamp
        Who says so and when.

    Returns
    -------
    FlagState
        The joined flag.

    Raises
    ------
    SeasonError
        If a flag is not known, they are fewer than two or one already, or the log cannot be
        written.
    """
    with season.writing():
        chosen = {state.id: state for state in (find_flag(season.states(), ref) for ref in refs)}
        if len(chosen) < 2:
            numbers = ", ".join(str(state.number) for state in chosen.values())
            message = f"one fault: found only flag {numbers}; allowed: two or more flags that are not one yet"
            raise SeasonError(message)
        value: dict[str, Any] = {"flags": sorted(chosen)}
        if chance is not None:
            value["chance"] = chance
        season.append([record_event(SAME, value, stamp=stamp)])
    return find_flag(season.states(), next(iter(chosen)))


def split_flag(season: Season, ref: str, *, stamp: Stamp) -> list[FlagState]:
    """Take back that a flag is one fault with others; it stands by itself again.

    Parameters
    ----------
    season : Season
        Open log.
    ref : str
        One of the joined flags, by its own number or by the first characters of its id.
    stamp : Stamp
        Who says so and when.

    Returns
    -------
    list of FlagState
        It and what is shown of those it was joined with, which stay one among themselves.

    Raises
    ------
    SeasonError
        If the flag is not known or not joined, or the log cannot be written.
    """
    with season.writing():
        events = season.events()
        alone = find_flag(fold(events, season.numbers()), ref)
        whole = next(
            (
                state
                for state in joined_states(fold(events, season.numbers()), events)
                if alone.id in state.ids and state.joined
            ),
            None,
        )
        if whole is None:
            message = (
                f"flag {alone.number}: not joined with any other; allowed: a flag that was joined by "
                "ringrow same --merge"
            )
            raise SeasonError(message)
        records = [record for record in fold_records(events) if record.type == SAME]
        naming = [record for record in records if alone.id in flags_of(record.value)]
        season.append([_without(record, alone.id, events, stamp) for record in naming])
        season.append(_held_by(alone.id, whole.ids, records, stamp))
    ids = whole.ids
    return [state for state in season.states() if set(state.ids) & set(ids)]


def _held_by(flag: str, ids: Sequence[str], records: Sequence[Record], stamp: Stamp) -> list[Event]:
    """Return what keeps the others joined where only the flag that is taken out held them together."""
    rest = sorted(set(ids) - {flag})
    left = [
        replace(record, value={"flags": [id_ for id_ in flags_of(record.value) if id_ != flag]})
        for record in records
    ]
    if len(rest) < 2 or same_groups(left, rest) == [frozenset(rest)]:
        return []
    return [record_event(SAME, {"flags": rest}, stamp=stamp)]


def _without(record: Record, flag: str, events: Sequence[Event], stamp: Stamp) -> Event:
    """Return the event that takes one flag out of a record, or the record back when none is left to join."""
    left = [id_ for id_ in flags_of(record.value) if id_ != flag]
    seen = [event for event in events if event.flag == record.id]
    event = record_event(SAME, {"flags": left}, stamp=stamp, subject=record.id, seen=seen)
    return event if len(left) > 1 else replace(event, value=None)

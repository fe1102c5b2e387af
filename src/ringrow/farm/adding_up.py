"""Fields of a flag that add up: the photos taken of it and the parts used on it.

Each event of such a field speaks of one photo or one visit, and what the flag shows is all of
them together: a second photo does not replace the first, and what two crews used on two visits
is no clash. So the events that an event names as seen say nothing here about what still counts.
The one exception takes something back: an event whose value is null takes back just the events
that it names. Taken back itself, it takes back nothing, and they count again. Since it names
what it takes back by id, merging logs in any order leaves the same total, and two people who
take back the same visit take it back once.
"""

from __future__ import annotations

import re
from collections import Counter
from typing import TYPE_CHECKING, Any

from ringrow.errors import SeasonError
from ringrow.farm.flag_model import UsedPart

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from ringrow.farm.events import Event

PARTS = "parts"
"""Field of the events that say which parts a visit used."""
PHOTO = "photo"
"""Field of the events that name a photo."""
ADDING_UP: frozenset[str] = frozenset({PARTS, PHOTO})
"""Fields whose events add up."""
MAX_PART = 200
"""Longest name of a part [characters]."""
MAX_PARTS = 100
"""Most parts that one visit may list."""
MAX_QUANTITY = 100_000
"""Most pieces of one part that one visit may use."""

_COUNTED = re.compile(r"(\d{1,9})\s*[x\u00d7](?:\s+(.+))?", re.IGNORECASE)
_KEPT = re.compile(r"photos/[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}(-[0-9a-f]{12})?\.jpg")


def standing(events: Iterable[Event]) -> list[Event]:
    """Return the events of a field that adds up which nobody took back, oldest first.

    Parameters
    ----------
    events : iterable of Event
        Events of one flag and one field, in any order.

    Returns
    -------
    list of Event
        By (when, id); those that only take others back are left out.
    """
    known = {event.id: event for event in events}
    takers = [event for event in known.values() if event.value is None]
    gone = _taken_back(known, takers)
    counted = [event for event in known.values() if event.value is not None and event.id not in gone]
    return sorted(counted, key=lambda event: (event.when, event.id))


def _taken_back(known: dict[str, Event], takers: Sequence[Event]) -> set[str]:
    """Return the ids of what is taken back; takers are settled only after all that take them back."""
    unsettled = {taker.id: 0 for taker in takers}
    for taker in takers:
        for parent in _others(taker):
            if parent in unsettled:
                unsettled[parent] += 1
    gone: set[str] = set()
    ready = [id_ for id_, waiting in unsettled.items() if not waiting]
    settled = set(ready)
    while ready:
        taker = known[ready.pop()]
        for parent in _others(taker):
            if taker.id not in gone:
                gone.add(parent)
            if parent in unsettled:
                unsettled[parent] -= 1
                if not unsettled[parent]:
                    settled.add(parent)
                    ready.append(parent)
    # Takers that name each other in a ring come from no honest program; all of them hold.
    ring = [taker for taker in takers if taker.id not in settled]
    return gone.union(*(_others(taker) for taker in ring))


def _others(event: Event) -> list[str]:
    return [parent for parent in event.parents if parent != event.id]


def is_parts_value(value: Any) -> bool:
    """Return whether a value can be the parts of one visit.

    Parameters
    ----------
    value : object
        Value of an event, from anywhere.

    Returns
    -------
    bool
        True for a list of objects, each with a text ``part`` and a whole ``quantity`` of 1 or more.

    Examples
    --------
    >>> is_parts_value([{"part": "coupling", "quantity": 2}]), is_parts_value([{"part": "coupling"}])
    (True, False)
    """
    return isinstance(value, list) and len(value) <= MAX_PARTS and all(map(_is_part, value))


def _is_part(row: Any) -> bool:
    if not isinstance(row, dict):
        return False
    part, quantity = row.get("part"), row.get("quantity")
    if not isinstance(part, str) or not isinstance(quantity, int) or isinstance(quantity, bool):
        return False
    return part.strip() != "" and len(part) <= MAX_PART and 1 <= quantity <= MAX_QUANTITY


def parse_parts(text: str) -> list[dict[str, Any]]:
    """Return the parts that a person names, as the value of a ``parts`` event.

    Parameters
    ----------
    text : str
        Such as ``2x coupling 1-3/8 in; clamp``: a semicolon between parts, a count with an ``x`` in
        front, 1 without.

    Returns
    -------
    list of dict
        Each with ``part`` and ``quantity``.

    Raises
    ------
    SeasonError
        If it names no part, too many, or a count that cannot be.

    Examples
    --------
    >>> parse_parts("2x coupling 1-3/8 in; clamp")
    [{'part': 'coupling 1-3/8 in', 'quantity': 2}, {'part': 'clamp', 'quantity': 1}]
    """
    rows: list[dict[str, Any]] = []
    for piece in (piece.strip() for piece in text.split(";")):
        counted = _COUNTED.fullmatch(piece)
        name = " ".join(((counted.group(2) or "") if counted else piece).split())
        rows += [{"part": name, "quantity": int(counted.group(1)) if counted else 1}] if piece else []
    if not rows or not is_parts_value(rows):
        message = (
            f'parts: found "{text[:80]}"; allowed: up to {MAX_PARTS} parts such as "2x coupling; clamp", '
            f"each named in up to {MAX_PART} characters, from 1 to {MAX_QUANTITY:,} of it"
        )
        raise SeasonError(message)
    return rows


def used_parts(events: Iterable[Event]) -> tuple[UsedPart, ...]:
    """Return the parts that all visits to a flag used together.

    Parameters
    ----------
    events : iterable of Event
        Its events of the field ``parts``.

    Returns
    -------
    tuple of UsedPart
        In the order they were first used; names that differ in capitals or blanks are one part.
        A value that this version does not know adds nothing.
    """
    rows = [row for event in standing(events) if is_parts_value(event.value) for row in event.value]
    names: dict[str, str] = {}
    sums: Counter[str] = Counter()
    for row in rows:
        name = " ".join(row["part"].split())
        names.setdefault(name.casefold(), name)
        sums[name.casefold()] += row["quantity"]
    return tuple(UsedPart(part=name, quantity=sums[key]) for key, name in names.items())


def kept_photos(events: Iterable[Event]) -> tuple[str, ...]:
    """Return the files of a flag's photos, oldest first.

    Parameters
    ----------
    events : iterable of Event
        Its events of the field ``photo``.

    Returns
    -------
    tuple of str
        Such as ``photos/<flag>.jpg``, each once.
    """
    files = [kept_file(event.value) for event in standing(events)]
    return tuple(dict.fromkeys(file for file in files if file))


def kept_file(value: Any) -> str:
    """Return the file that a photo event names, inside the farm's folder.

    Parameters
    ----------
    value : object
        Value of the event, from anywhere.

    Returns
    -------
    str
        Such as ``photos/<flag>.jpg``; empty when it names anything else.

    Examples
    --------
    >>> kept_file({"file": "../secret.jpg"})
    ''
    """
    file = value.get("file") if isinstance(value, dict) else None
    return file if isinstance(file, str) and _KEPT.fullmatch(file) else ""

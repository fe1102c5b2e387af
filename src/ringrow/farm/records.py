"""Records: what is said about a system rather than about a fault, in the same log as the flags.

A look at a machine in a round, a reading, a breakdown, an item put away for the winter: each is
one subject with a UUID of its own and one field, ``record``, whose value is a JSON object with a
``type``. So it merges, is corrected and is taken back by the same rules as a flag, and a file
from a phone carries it as a feature without a place.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from ringrow.farm.events import RECORD, Event, canonical
from ringrow.farm.folding import by_field, heads, is_record

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from datetime import datetime

    from ringrow.farm.flags import Stamp


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """One thing said about a system, as its events leave it.

    Parameters
    ----------
    id : str
        UUID.
    type : str
        What kind of thing it is, such as ``reading``.
    value : dict
        Everything said, ``type`` among it.
    when : datetime
        When it was first said, UTC; a correction does not move it.
    who, source : str
        Who said it first, as stated; by what way it came in.
    clashes : tuple of dict, default ()
        Values that stand against the shown one: people corrected it without seeing each other.
    """

    id: str
    type: str
    value: dict[str, Any]
    when: datetime
    who: str
    source: str
    clashes: tuple[dict[str, Any] | None, ...] = ()


def fold_records(events: Iterable[Event]) -> list[Record]:
    """Return every record as its events leave it, those taken back left out.

    Parameters
    ----------
    events : iterable of Event
        Events in any order; those of flags are passed over.

    Returns
    -------
    list of Record
        By the time they were first said, then by id.

    Examples
    --------
    >>> fold_records([])
    []
    """
    records = [
        _fold(subject, fields[RECORD]) for subject, fields in by_field(events).items() if is_record(fields)
    ]
    return sorted(
        (record for record in records if record is not None), key=lambda record: (record.when, record.id)
    )


def _fold(subject: str, events: Sequence[Event]) -> Record | None:
    standing = heads(events)
    shown = standing[0].value
    if not isinstance(shown, dict):
        return None
    first = min((event for event in events if not event.parents), key=_order, default=min(events, key=_order))
    others = {canonical(event.value): event.value for event in standing[1:] if event.value != shown}
    return Record(
        id=subject,
        type=str(shown["type"]),
        value=shown,
        when=first.when,
        who=first.who,
        source=first.source,
        clashes=tuple(others.values()),
    )


def _order(event: Event) -> tuple[datetime, str]:
    return event.when, event.id


def record_event(
    type_: str,
    value: Mapping[str, Any],
    *,
    stamp: Stamp,
    subject: str | None = None,
    seen: Iterable[Event] = (),
) -> Event:
    """Return the event that says something about a system, or corrects what was said.

    Parameters
    ----------
    type_ : str
        What kind of thing it is, such as ``reading``.
    value : mapping of str to object
        What is said, plain JSON.
    stamp : Stamp
        Who says it and when.
    subject : str or None, default None
        UUID of the record it corrects; None for a new one.
    seen : iterable of Event, default ()
        Events of that record that its teller had seen.

    Returns
    -------
    Event
        The event, to be appended inside a `writing` block.
    """
    return Event(
        id=stamp.new_id(),
        flag=subject or stamp.new_id(),
        field=RECORD,
        value={**value, "type": type_},
        when=stamp.when,
        who=stamp.who,
        source=stamp.source,
        parents=tuple(sorted(event.id for event in heads(seen))),
    )

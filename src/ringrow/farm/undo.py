"""Taking back what was said of a flag: a new event, so that nothing leaves the history."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ringrow.errors import SeasonError
from ringrow.farm.adding_up import ADDING_UP
from ringrow.farm.events import FIELD_DEFAULTS, Event
from ringrow.farm.folding import heads

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import datetime

UNDO_SOURCE = "flag undo"
"""Source of the events of ``ringrow flag undo``: by it a slip taken back is told from a change of mind."""


def value_before(event: Event, events: Iterable[Event]) -> Any:
    """Return what a field showed to the person who set it: the value that an undo sets again.

    Parameters
    ----------
    event : Event
        The event to take back.
    events : iterable of Event
        Events of the same flag and field, in any order.

    Returns
    -------
    object
        Displayed value of what `event` saw; the field's default when it saw nothing.
    """
    own = {other.id: other for other in events if other.id != event.id}
    seen: dict[str, Event] = {}
    open_ids = list(event.parents)
    while open_ids:
        id_ = open_ids.pop()
        if id_ in own and id_ not in seen:
            seen[id_] = own[id_]
            open_ids += own[id_].parents
    return heads(seen.values())[0].value if seen else FIELD_DEFAULTS.get(event.field)


def undo_event(events: Iterable[Event], *, id_: str, when: datetime, who: str, source: str) -> Event:
    """Return the event that takes back what a field of a flag shows now.

    Nothing is removed: the new event sets the former value, having seen all that stands. Taken
    back itself, it brings back what it took away. Where events add up, the new event is null and
    takes back the last one alone.

    Parameters
    ----------
    events : iterable of Event
        Events of one flag and one field, at least one.
    id_ : str
        UUID of the new event.
    when : datetime
        When it is taken back, UTC.
    who, source : str
        Who takes it back; by what way.

    Returns
    -------
    Event
        The new event.

    Raises
    ------
    SeasonError
        If there is no event to take back.
    """
    known = list(events)
    if not known:
        message = "undo: nothing was said about this field of the flag; allowed: a field that was set"
        raise SeasonError(message)
    standing = heads(known)
    adds_up = standing[0].field in ADDING_UP
    return Event(
        id=id_,
        flag=standing[0].flag,
        field=standing[0].field,
        value=None if adds_up else value_before(standing[0], known),
        when=when,
        who=who,
        source=source,
        parents=tuple(sorted(event.id for event in (standing[:1] if adds_up else standing))),
    )

"""What a season's events come to: the events nobody has answered, and flags as they are shown."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING, Any, cast

from ringrow.farm.adding_up import (
    ADDING_UP,
    PARTS,
    PHOTO,
    kept_photos,
    used_parts,
)
from ringrow.farm.events import FIELD_DEFAULTS, RECORD, canonical, not_a_hole
from ringrow.farm.flag_model import Clash, DripSpot, FlagState, GroundSpot
from ringrow.farm.spot_values import spot_from_json

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from ringrow.farm.events import Event


def heads(events: Iterable[Event]) -> list[Event]:
    """Return the events of one flag and field that no other names as seen, the displayed one first.

    Parameters
    ----------
    events : iterable of Event
        Events of one flag and one field, in any order.

    Returns
    -------
    list of Event
        By falling (when, id). One in a quiet history; several when people did not see each
        other's change.
    """
    known = list(events)
    # An event cannot have seen itself; one that says so is hostile or broken, and must not vanish.
    seen = {parent for event in known for parent in event.parents if parent != event.id}
    # Events that name each other in a ring leave no head; all of them then stand.
    standing = [event for event in known if event.id not in seen] or known
    return sorted(standing, key=lambda event: (event.when, event.id), reverse=True)


def by_field(events: Iterable[Event]) -> dict[str, dict[str, list[Event]]]:
    """Return events by flag and then by field.

    Parameters
    ----------
    events : iterable of Event
        Events in any order.

    Returns
    -------
    dict of str to dict
        Events of each field of each flag, in the order they came.
    """
    sorted_out: dict[str, dict[str, list[Event]]] = defaultdict(lambda: defaultdict(list))
    for event in events:
        sorted_out[event.flag][event.field].append(event)
    return {flag: dict(fields) for flag, fields in sorted_out.items()}


def is_record(fields: Iterable[str]) -> bool:
    """Return whether a subject with these fields is a record about a system rather than a flag.

    Parameters
    ----------
    fields : iterable of str
        Fields that its events speak of.

    Returns
    -------
    bool
        True when it holds a record and nothing that only a flag has, so that no record event
        from a strange file can hide a flag.

    Examples
    --------
    >>> is_record({"record"}), is_record({"record", "spot"}), is_record({"note"})
    (True, False, False)
    """
    named = set(fields)
    return RECORD in named and not named & FIELD_DEFAULTS.keys()


def fold(events: Iterable[Event], numbers: Mapping[str, int]) -> list[FlagState]:
    """Return every flag as its events leave it.

    Parameters
    ----------
    events : iterable of Event
        Events in any order.
    numbers : mapping of str to int
        Local number of each flag.

    Returns
    -------
    list of FlagState
        By number. A field nobody set has its plain default: kind ``other-ground``, status
        ``open``, empty name and note, no spot.
    """
    states = [
        _fold_flag(flag, fields, number=numbers.get(flag, 0))
        for flag, fields in by_field(events).items()
        if not is_record(fields)
    ]
    return sorted(states, key=lambda state: (state.number, state.id))


def _fold_flag(flag: str, fields: Mapping[str, Sequence[Event]], *, number: int) -> FlagState:
    standing = {name: heads(events) for name, events in fields.items()}
    values = {name: events[0].value for name, events in standing.items()}
    first = _first(fields)
    # Photos and parts add up: a second one contradicts nothing.
    clashes = [_clash(name, events) for name, events in sorted(standing.items()) if name not in ADDING_UP]
    return FlagState(
        id=flag,
        number=number,
        kind=values.get("kind", "other-ground"),
        status=values.get("status", "open"),
        name=values.get("name", ""),
        note=values.get("note", ""),
        spot=spot_from_json(values.get("spot")),
        flag_class=values.get("class"),
        set_at=first.when,
        set_by=first.who,
        source=first.source,
        clashes=tuple(clash for clash in clashes if clash is not None),
        parts=used_parts(fields.get(PARTS, ())),
        photos=kept_photos(fields.get(PHOTO, ())),
        ground_flag=values.get("ground_flag"),
        dig=_hole(values.get("dig")),
    )


def _hole(value: Any) -> GroundSpot | DripSpot | None:
    # A log of a newer version may hold a place that this one does not know.
    return (
        None if value is None or not_a_hole(value) else cast("GroundSpot | DripSpot", spot_from_json(value))
    )


def _first(fields: Mapping[str, Sequence[Event]]) -> Event:
    # Where it was set says when it was set; a later edit by a clock that runs behind does not.
    events = fields.get("spot") or [event for events in fields.values() for event in events]
    roots = [event for event in events if not event.parents] or list(events)
    return min(roots, key=lambda event: (event.when, event.id))


def _clash(name: str, standing: Sequence[Event]) -> Clash | None:
    values = {canonical(event.value): event.value for event in standing}
    return Clash(field=name, values=tuple(values.values())) if len(values) > 1 else None

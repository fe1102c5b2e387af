"""When flags were open: from what was said of their status, event by event."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from ringrow.farm.folding import by_field
from ringrow.farm.undo import UNDO_SOURCE

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from datetime import datetime

    from ringrow.farm.events import Event
    from ringrow.farm.flag_model import FlagState

_DONE = ("fixed", "checked")


@dataclass(frozen=True, slots=True, kw_only=True)
class FlagTimes:
    """When a flag was open.

    Parameters
    ----------
    spells : tuple of tuple
        Begin and end of each time it was open; the end is None while it is.
    fixed_at : datetime or None
        When it was first said to be fixed, or seen to hold; None when never.
    """

    spells: tuple[tuple[datetime, datetime | None], ...]
    fixed_at: datetime | None

    @property
    def closed_at(self) -> datetime | None:
        """When it was closed for good; None while it is open."""
        return self.spells[-1][1]

    def open_at(self, when: datetime) -> bool:
        """Return whether it was open at a time.

        Parameters
        ----------
        when : datetime
            The time.

        Returns
        -------
        bool
            From the moment it was set or reopened until it was closed.
        """
        return any(begin <= when and (end is None or when < end) for begin, end in self.spells)


def flag_times(states: Iterable[FlagState], events: Iterable[Event]) -> dict[str, FlagTimes]:
    """Return when flags were open.

    Parameters
    ----------
    states : iterable of FlagState
        Flags; what was said of those joined with one counts for it.
    events : iterable of Event
        The season's events.

    Returns
    -------
    dict of str to FlagTimes
        By the flag's id. What ``ringrow flag undo`` took back was a slip and counts as never said;
        a status that was set again counts as it was said: open, or closed, until then.
    """
    said = by_field(events)
    return {state.id: _times(state, said) for state in states}


def _times(state: FlagState, said: Mapping[str, Mapping[str, Sequence[Event]]]) -> FlagTimes:
    told = [(other.set_at, other.id, "open") for other in (state, *state.joined)]
    told += [
        (event.when, event.id, str(event.value or "open"))
        for id_ in state.ids
        for event in _meant(said.get(id_, {}).get("status", ()))
    ]
    # A clock that ran behind cannot close a flag before it was set.
    ordered = sorted((max(when, state.set_at), id_, status) for when, id_, status in told)
    spells: list[tuple[datetime, datetime | None]] = []
    for when, _id, status in ordered:
        is_open = bool(spells) and spells[-1][1] is None
        if status == "open" and not is_open:
            spells.append((when, None))
        elif status != "open" and is_open:
            spells[-1] = (spells[-1][0], when)
    if not spells:
        spells.append((state.set_at, state.set_at))
    if state.status != "open" and spells[-1][1] is None:
        spells[-1] = (spells[-1][0], ordered[-1][0])
    return FlagTimes(
        spells=tuple(spells), fixed_at=next((when for when, _id, word in ordered if word in _DONE), None)
    )


def _meant(events: Sequence[Event]) -> list[Event]:
    """Return what was said of a status without what an undo took back, and without the undos."""
    known = {event.id: event for event in events}
    gone: set[str] = set()
    undos = [event for event in events if event.source == UNDO_SOURCE and event.parents]
    # The latest first: an undo that was itself taken back takes back nothing.
    for undo in sorted(undos, key=lambda event: (event.when, event.id), reverse=True):
        before = [known[id_] for id_ in undo.parents if id_ in known]
        if undo.id not in gone and before:
            gone |= {undo.id, max(before, key=lambda event: (event.when, event.id)).id}
    return [event for event in events if event.id not in gone]

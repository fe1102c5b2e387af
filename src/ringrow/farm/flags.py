"""Setting, changing and finding flags in a season log."""

from __future__ import annotations

import uuid
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from ringrow.errors import PlaceError, SeasonError
from ringrow.farm.adding_up import ADDING_UP, PARTS
from ringrow.farm.events import FIELD_DEFAULTS, MAX_NAME, MAX_NOTE, Event, canonical, clean_text, content_id
from ringrow.farm.flag_model import DripSpot, MachineSpot, MoveSpot, WellSpot
from ringrow.farm.folding import by_field, heads
from ringrow.farm.spot_values import spot_to_json
from ringrow.farm.undo import undo_event

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence
    from datetime import datetime

    from ringrow.equipment.kinds import FlagKind
    from ringrow.farm.flag_model import FlagState, Spot
    from ringrow.farm.season import Season

SETTABLE: tuple[str, ...] = ("status", "note", "kind", "class", "ground_flag", "parts")
"""Fields of a flag that `set_flags` changes."""
UNDOABLE: tuple[str, ...] = (*SETTABLE, "photo", "dig")
"""Fields of a flag of which `undo_field` takes back what was last said."""

_LEAST_PREFIX = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Stamp:
    """Who says something, when, and by what way; handed down from the command line.

    Parameters
    ----------
    when : datetime
        The moment, UTC.
    who, source : str
        Who says it, as stated, may be empty; by what way it came in, such as ``flag add``.
    new_id : callable
        Gives a new UUID text each time; random in use, counted in tests.
    """

    when: datetime
    who: str
    source: str
    new_id: Callable[[], str] = lambda: str(uuid.uuid4())


@dataclass(frozen=True, slots=True, kw_only=True)
class NewFlag:
    """A flag about to be set.

    Parameters
    ----------
    kind : str
        Kind of flag.
    spot : GroundSpot, MachineSpot, MoveSpot, DripSpot or WellSpot
        Where.
    name, note : str, default ""
        Short name; free text.
    flag_class : str or None, default None
        Class for this flag alone.
    ground_flag : str or None, default None
        ``set`` when a flag on a wire was put into the ground there.
    """

    kind: str
    spot: Spot
    name: str = ""
    note: str = ""
    flag_class: str | None = None
    ground_flag: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """What became of one field of one flag.

    Parameters
    ----------
    number : int
        The flag.
    field : str
        Which field.
    before, after : object
        Its displayed value before and after.
    changed : bool
        False when it had that value already and nobody disagreed.
    """

    number: int
    field: str
    before: Any
    after: Any
    changed: bool


def add_flag(season: Season, new: NewFlag, *, stamp: Stamp) -> FlagState:
    """Set a flag; it is on disk when this returns.

    Parameters
    ----------
    season : Season
        Open log.
    new : NewFlag
        What and where.
    stamp : Stamp
        Who says so and when.

    Returns
    -------
    FlagState
        The flag with its number.

    Raises
    ------
    SeasonError
        If a text is too long or the log cannot be written.
    """
    flag = stamp.new_id()
    values = {
        "spot": spot_to_json(new.spot),
        "kind": new.kind,
        "name": checked_text(new.name, what="name", longest=MAX_NAME),
        "note": checked_text(new.note, what="note", longest=MAX_NOTE),
        "class": new.flag_class,
        "ground_flag": new.ground_flag,
    }
    events = first_events(flag, values, when=stamp.when, who=stamp.who, source=stamp.source)
    with season.writing():
        season.append(events)
    return next(state for state in season.states() if state.id == flag)


def check_place(kind: FlagKind, spot: Spot) -> None:
    """Check that a flag of a kind can sit at a spot.

    Parameters
    ----------
    kind : FlagKind
        Kind of the flag.
    spot : GroundSpot, MachineSpot, MoveSpot, DripSpot or WellSpot
        Where it is about to be set.

    Raises
    ------
    PlaceError
        If a fault of the ground is said on a machine whose azimuth or travel is not known, or a
        fault of a machine on tape or at a well.
    """
    if kind.on == "machine" and isinstance(spot, DripSpot | WellSpot):
        message = (
            f'flag kind "{kind.name}": sits on a machine; allowed: --pivot with a tower, span, outlet or '
            "distance, --move with a tower, or --at; for tape or a well choose another kind"
        )
        raise PlaceError(message)
    if kind.on == "ground" and isinstance(spot, MoveSpot) and spot.travel_m is None:
        message = (
            f'flag kind "{kind.name}": stays on the ground while the machine walks on; allowed: --at, or '
            "--travel beside the place on the machine"
        )
        raise PlaceError(message)
    if kind.on == "ground" and isinstance(spot, MachineSpot) and spot.azimuth_deg is None:
        message = (
            f'flag kind "{kind.name}": stays on the ground while the machine walks on; allowed: --at, or '
            "--azimuth or --panel beside the place on the machine"
        )
        raise PlaceError(message)


def first_events(
    flag: str, values: Mapping[str, Any], *, when: datetime, who: str, source: str
) -> list[Event]:
    """Return the events that set a new flag, their ids made from their content.

    Parameters
    ----------
    flag : str
        UUID of the flag.
    values : mapping of str to object
        JSON value of each field; empty text and None say nothing and make no event, the spot excepted.
    when : datetime
        When it was set, UTC.
    who, source : str
        Who set it; by what way.

    Returns
    -------
    list of Event
        One event a field.
    """
    who, source = checked_text(who, what="who", longest=MAX_NAME), clean_text(source)[:MAX_NAME]
    drafts = [
        Event(id="", flag=flag, field=field, value=value, when=when, who=who, source=source, parents=())
        for field, value in values.items()
        if field == "spot" or value not in ("", None)
    ]
    return [with_id(draft, content_id(draft)) for draft in drafts]


def with_id(event: Event, id_: str) -> Event:
    """Return a copy of an event under another id.

    Parameters
    ----------
    event : Event
        The event.
    id_ : str
        UUID of the copy.

    Returns
    -------
    Event
        The copy.
    """
    return replace(event, id=id_)


def set_flags(
    season: Season, refs: Sequence[str], changes: Mapping[str, Any], *, stamp: Stamp
) -> list[Change]:
    """Change fields of flags; all of them or, on an error, none.

    A change names every standing event of its field as seen, so it also settles a clash. Parts
    are those of one visit and add to what was used before. What is said of flags that are joined
    is said of each of them.

    Parameters
    ----------
    season : Season
        Open log.
    refs : sequence of str
        Flags by number or by the first characters of their id.
    changes : mapping of str to object
        New value of ``status``, ``note``, ``kind``, ``class`` or ``ground_flag``, and ``parts`` as a
        list of objects with ``part`` and ``quantity``.
    stamp : Stamp
        Who says so and when.

    Returns
    -------
    list of Change
        One for each flag and field.

    Raises
    ------
    SeasonError
        If a flag is not known, a value cannot be, or the log cannot be written.
    """
    values = {field: _settable(field, value) for field, value in changes.items()}
    who = checked_text(stamp.who, what="who", longest=MAX_NAME)
    done: list[Change] = []
    with season.writing():
        states = season.states()
        history = by_field(season.events())
        chosen = {state.id: state for state in (find_flag(states, ref) for ref in refs)}
        for state in chosen.values():
            for field, value in values.items():
                before = displayed(state, field)
                said = {id_: heads(history[id_].get(field, [])) for id_ in state.ids}
                if field in ADDING_UP:
                    said = {state.id: said[state.id]}
                events = [
                    _next_event(id_, field, value, standing, stamp=stamp, who=who)
                    for id_, standing in said.items()
                    if not _says(standing, field, value)
                ]
                season.append(events)
                done.append(
                    Change(number=state.number, field=field, before=before, after=value, changed=bool(events))
                )
    return done


def _says(standing: Sequence[Event], field: str, value: Any) -> bool:
    """Return whether a field shows a value already and nobody disagrees; what adds up never does."""
    shown = standing[0].value if standing else FIELD_DEFAULTS.get(field)
    return field not in ADDING_UP and len(standing) <= 1 and canonical(shown) == canonical(value)


def undo_field(season: Season, ref: str, field: str, *, stamp: Stamp) -> Change:
    """Take back what was last said of one field of a flag; the event itself stays in the log.

    Parameters
    ----------
    season : Season
        Open log.
    ref : str
        The flag by number or by the first characters of its id.
    field : str
        One of `UNDOABLE`; of parts and photos the last visit and the last photo are taken back.
    stamp : Stamp
        Who takes it back and when.

    Returns
    -------
    Change
        What it showed and what it shows now; taken back twice, it shows the first again.

    Raises
    ------
    SeasonError
        If the flag is not known, or nothing was said of the field that could be taken back.
    """
    who = checked_text(stamp.who, what="who", longest=MAX_NAME)
    source = clean_text(stamp.source)[:MAX_NAME]
    with season.writing():
        state = find_flag(season.states(), ref)
        said = [by_field(season.events(flag=id_)).get(id_, {}).get(field, []) for id_ in state.ids]
        last = max((event.when for events in said for event in events), default=None)
        # Of joined flags, those of which it was said last; said of all at once, all of them.
        histories = [events for events in said if any(event.when == last for event in events)] or [[]]
        if field == "kind" and not any(event.parents for events in histories for event in events):
            message = (
                f"flag {state.number} kind: found only the kind it was set with; "
                "allowed: a kind that was changed since"
            )
            raise SeasonError(message)
        undone = [
            undo_event(events, id_=stamp.new_id(), when=stamp.when, who=who, source=source)
            for events in histories
        ]
        before = displayed(state, field)
        season.append(undone)
        after = displayed(find_flag(season.states(), state.id), field)
    return Change(number=state.number, field=field, before=before, after=after, changed=True)


def _settable(field: str, value: Any) -> Any:
    if field not in SETTABLE:
        message = f"flag field: found {field!r:.40}; allowed: {', '.join(SETTABLE)}"
        raise SeasonError(message)
    if field == PARTS:
        return [{**row, "part": clean_text(row["part"])} for row in value]
    return checked_text(value, what="note", longest=MAX_NOTE) if field == "note" else value


def displayed(state: FlagState, field: str) -> Any:
    """Return what a flag shows for one of its fields.

    Parameters
    ----------
    state : FlagState
        The flag.
    field : str
        ``kind``, ``status``, ``name``, ``note``, ``class``, ``ground_flag``, ``parts``, ``photo`` or
        ``dig``.

    Returns
    -------
    object
        The displayed value.

    Examples
    --------
    >>> from ringrow.farm.events import parse_when
    >>> from ringrow.farm.folding import fold
    >>> said = Event(id="1", flag="2", field="class", value="stops", who="", source="", parents=(),
    ...              when=parse_when("2026-04-02"))
    >>> displayed(fold([said], {})[0], "class")
    'stops'
    """
    return getattr(state, {"class": "flag_class", "photo": "photos"}.get(field, field))


def _next_event(
    flag: str, field: str, value: Any, standing: Iterable[Event], *, stamp: Stamp, who: str
) -> Event:
    return Event(
        id=stamp.new_id(),
        flag=flag,
        field=field,
        value=value,
        when=stamp.when,
        who=who,
        source=clean_text(stamp.source)[:MAX_NAME],
        parents=tuple(sorted(event.id for event in standing)),
    )


def find_flag(states: Sequence[FlagState], ref: str) -> FlagState:
    """Return the flag that a person means.

    Parameters
    ----------
    states : sequence of FlagState
        All flags.
    ref : str
        Its number, or at least the first four characters of its id.

    Returns
    -------
    FlagState
        The flag; the joined one where it is shown as one with others.

    Raises
    ------
    SeasonError
        If no flag, or more than one, fits.
    """
    text = ref.strip().lower().removeprefix("#")
    if not states:
        message = f'flag "{ref}": this season has no flags yet'
        raise SeasonError(message)
    numbered = {str(other.number): state for state in states for other in (*state.joined, state)}
    if text in numbered:
        return numbered[text]
    fitting = [
        state
        for state in states
        if len(text) >= _LEAST_PREFIX and any(id_.startswith(text) for id_ in state.ids)
    ]
    if len(fitting) == 1:
        return fitting[0]
    numbers = [state.number for state in states]
    if fitting:
        found = ", ".join(str(state.number) for state in fitting[:8])
        message = (
            f'flag "{ref}": the ids of {len(fitting)} flags begin so (numbers {found}); give more of the id'
        )
        raise SeasonError(message)
    message = (
        f'flag "{ref[:40]}": not in this season; allowed: a number from {min(numbers)} to {max(numbers)} '
        f"as flag list shows it, or the first {_LEAST_PREFIX} or more characters of an id"
    )
    raise SeasonError(message)


def checked_text(text: str, *, what: str, longest: int) -> str:
    """Return a text fit for storing: as it came, with what no text can hold replaced.

    Parameters
    ----------
    text : str
        Text from a person or a file.
    what : str
        What it is, for the message.
    longest : int
        Most characters allowed.

    Returns
    -------
    str
        The text.

    Raises
    ------
    SeasonError
        If it is too long.
    """
    if len(text) > longest:
        message = f"{what}: found {len(text):,} characters; allowed: up to {longest:,}"
        raise SeasonError(message)
    return clean_text(text)

"""Events: what somebody said about a flag, when, having seen what; written and read as JSON.

An event is never changed. Logs merge by union of ids, so the order in which files come
back from the field, and how often, makes no difference.
"""

from __future__ import annotations

import hashlib
import json
import uuid
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from ringrow.equipment.kinds import CLASSES, STATUSES
from ringrow.errors import PlaceError, SeasonError
from ringrow.farm.adding_up import (
    ADDING_UP,
    MAX_PART,
    MAX_PARTS,
    MAX_QUANTITY,
    PARTS,
    is_parts_value,
)
from ringrow.farm.flag_model import DripSpot, GroundSpot
from ringrow.farm.spot_values import spot_from_json

MAX_NAME = 200
"""Longest name of a flag, who or source [characters]."""
MAX_NOTE = 10_000
"""Longest note of a flag [characters]."""
MAX_VALUE = 100_000
"""Longest value of a field that this version does not know, as JSON [characters]."""
MAX_NESTING = 20
"""Deepest nesting of such a value."""
MAX_PARENTS = 1_000
"""Most events that one event may name as seen."""

FIELD_DEFAULTS: dict[str, Any] = {
    "spot": None,
    "kind": "other-ground",
    "status": "open",
    "name": "",
    "note": "",
    "class": None,
    "ground_flag": None,
}
"""What a field shows when nobody has set it."""
GROUND_FLAGS: tuple[str, ...] = ("set", "pulled")
"""What may be said of the flag on its wire in the ground."""
EARLIEST = datetime(2000, 1, 1, tzinfo=UTC)
"""A clock that says an earlier moment was never set."""
RECORD = "record"
"""The one field of a subject that is no flag but something said about a system."""
KNOWN_FIELDS: frozenset[str] = frozenset({*FIELD_DEFAULTS, *ADDING_UP, "dig", RECORD})
"""Fields that this version understands; events of other fields are kept as they came."""

_KEYS = {"id", "flag", "field", "value", "when", "who", "source", "parents"}
_NAMESPACE = uuid.UUID("5d6cf4c3-0d0b-5c0e-9b5b-7a3f0c6f2a11")


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """One thing said about one field of one flag.

    Parameters
    ----------
    id, flag : str
        UUIDs of the event and of the flag it speaks of.
    field : str
        ``spot``, ``kind``, ``status``, ``name``, ``note``, ``class``, ``ground_flag``, ``parts``, ``photo``,
        ``dig`` or ``record``; other words are kept as they came.
    value : object
        JSON value the field was set to.
    when : datetime
        When it was said, UTC.
    who, source : str
        Who said it, as stated; how it came in, such as ``flag add`` or a file's name.
    parents : tuple of str
        Ids of the events of this flag and field that were in force when it was said, sorted.
    """

    id: str
    flag: str
    field: str
    value: Any
    when: datetime
    who: str
    source: str
    parents: tuple[str, ...]


def canonical(value: Any) -> str:
    """Return a JSON value as text that is the same for equal values.

    Parameters
    ----------
    value : object
        A JSON value.

    Returns
    -------
    str
        JSON with sorted keys, without blanks, in ASCII.

    Examples
    --------
    >>> canonical({"b": 1, "a": "ok"})
    '{"a":"ok","b":1}'
    """
    return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=True, allow_nan=False)


def when_text(when: datetime) -> str:
    """Return a time as it is stored: ISO 8601, UTC, microseconds, ``Z`` at the end.

    Parameters
    ----------
    when : datetime
        A time with a time zone.

    Returns
    -------
    str
        The same moment in UTC; texts sort as their moments do.

    Examples
    --------
    >>> when_text(datetime(2026, 4, 2, 13, 5, tzinfo=UTC))
    '2026-04-02T13:05:00.000000Z'
    """
    return when.astimezone(UTC).replace(tzinfo=None).isoformat(timespec="microseconds") + "Z"


def parse_when(text: str) -> datetime:
    """Return the moment that an ISO 8601 text names; a text without a zone is taken as UTC.

    Parameters
    ----------
    text : str
        ISO 8601 date and time.

    Returns
    -------
    datetime
        The moment, UTC.

    Raises
    ------
    SeasonError
        If the text is no such time.

    Examples
    --------
    >>> parse_when("2026-04-02T08:05:00-05:00").isoformat()
    '2026-04-02T13:05:00+00:00'
    """
    try:
        moment = datetime.fromisoformat(text.strip())
        return (moment if moment.tzinfo else moment.replace(tzinfo=UTC)).astimezone(UTC)
    except (ValueError, OverflowError) as error:
        message = f'time: found "{text[:40]}"; allowed: ISO 8601, such as 2026-04-02T13:05:00Z'
        raise SeasonError(message) from error


def event_to_json(event: Event) -> dict[str, Any]:
    """Return an event as the JSON object that files carry in ``properties.events``.

    Parameters
    ----------
    event : Event
        The event.

    Returns
    -------
    dict
        Plain JSON, every part of the event.
    """
    return {
        "id": event.id,
        "flag": event.flag,
        "field": event.field,
        "value": event.value,
        "when": when_text(event.when),
        "who": event.who,
        "source": event.source,
        "parents": list(event.parents),
    }


def digest(event: Event) -> str:
    """Return a fingerprint of an event's whole content.

    It shows damage to a stored event, and two contents under one id.

    Parameters
    ----------
    event : Event
        The event.

    Returns
    -------
    str
        32 hexadecimal digits.
    """
    return hashlib.blake2b(canonical(event_to_json(event)).encode("ascii"), digest_size=16).hexdigest()


def content_id(event: Event) -> str:
    """Return the id that an event gets from its own content, whatever id it carries now.

    Two farms that read the same file make the same events; a differing word makes another
    event, so one id can never stand for two contents.

    Parameters
    ----------
    event : Event
        The event.

    Returns
    -------
    str
        UUID.
    """
    plain = event_to_json(event)
    del plain["id"]
    return str(uuid.uuid5(_NAMESPACE, canonical(plain)))


def event_from_json(plain: Any) -> Event:
    """Return the event that a JSON object from a file describes.

    Parameters
    ----------
    plain : object
        Parsed JSON, not trusted.

    Returns
    -------
    Event
        The event. Its field may be one this version does not know; its value is then kept as it came.

    Raises
    ------
    SeasonError
        If a part is missing, of the wrong type or too long, or a known field has a value it cannot have.
    """
    if not isinstance(plain, dict) or not set(plain) >= _KEYS:
        found = sorted(plain) if isinstance(plain, dict) else type(plain).__name__
        message = f"event: found {str(found)[:200]}; allowed: an object with {', '.join(sorted(_KEYS))}"
        raise SeasonError(message)
    texts = {key: plain[key] for key in ("id", "flag", "field", "when", "who", "source")}
    for key, text in texts.items():
        if not isinstance(text, str) or len(text) > MAX_NAME:
            message = (
                f"event {str(plain['id'])[:40]} {key}: found {text!r:.60}; allowed: text up to {MAX_NAME}"
            )
            raise SeasonError(message)
    parents = plain["parents"]
    if not isinstance(parents, list) or len(parents) > MAX_PARENTS:
        message = f"event {plain['id'][:40]} parents: found {parents!r:.60}; allowed: a list of event ids"
        raise SeasonError(message)
    event = Event(
        id=uuid_text(texts["id"]),
        flag=uuid_text(texts["flag"]),
        field=texts["field"],
        value=plain["value"],
        when=parse_when(texts["when"]),
        who=clean_text(texts["who"]),
        source=clean_text(texts["source"]),
        parents=tuple(sorted({uuid_text(parent) for parent in parents})),
    )
    check_value(event)
    return event


def uuid_text(text: Any) -> str:
    """Return a UUID in its usual form.

    Parameters
    ----------
    text : object
        What stands where a UUID should.

    Returns
    -------
    str
        Lower case with hyphens.

    Raises
    ------
    SeasonError
        If it is no UUID.

    Examples
    --------
    >>> uuid_text("5D6CF4C3-0D0B-5C0E-9B5B-7A3F0C6F2A11")
    '5d6cf4c3-0d0b-5c0e-9b5b-7a3f0c6f2a11'
    """
    try:
        return str(uuid.UUID(text))
    except (ValueError, AttributeError, TypeError) as error:
        message = f"id: found {text!r:.60}; allowed: a UUID"
        raise SeasonError(message) from error


def clean_text(text: str) -> str:
    """Return a text with what no text can hold (lone surrogates, NUL) replaced by U+FFFD.

    Parameters
    ----------
    text : str
        Text from anywhere.

    Returns
    -------
    str
        Text that every file and database takes.
    """
    whole = text.encode("utf-8", "surrogatepass").decode("utf-8", "replace")
    return whole.replace("\0", "\N{REPLACEMENT CHARACTER}")


def check_value(event: Event) -> None:
    """Check the value of an event; a field that is not known may hold any plain JSON.

    Parameters
    ----------
    event : Event
        The event.

    Raises
    ------
    SeasonError
        If the value cannot be.
    """
    allowed = _allowed(event)
    if allowed:
        message = f"event {event.id} {event.field}: found {event.value!r:.80}; allowed: {allowed}"
        raise SeasonError(message)


def _allowed(event: Event) -> str:
    """Return what is allowed in an event's field when its value is not; empty when all is well."""
    value = event.value
    if event.field in ("name", "kind") and not (isinstance(value, str) and len(value) <= MAX_NAME):
        return f"text up to {MAX_NAME} characters"
    if event.field == "note" and not (isinstance(value, str) and len(value) <= MAX_NOTE):
        return f"text up to {MAX_NOTE:,} characters"
    if event.field == "status" and value not in STATUSES:
        return ", ".join(STATUSES)
    if event.field == "class" and value is not None and value not in CLASSES:
        return f"{', '.join(CLASSES)} or null"
    if event.field == "ground_flag" and value is not None and value not in GROUND_FLAGS:
        return f"{', '.join(GROUND_FLAGS)} or null"
    if event.field == PARTS and value is not None and not is_parts_value(value):
        return (
            f"null or a list of up to {MAX_PARTS} objects with a part (text up to {MAX_PART} characters) and "
            f"a quantity (a whole number from 1 to {MAX_QUANTITY:,})"
        )
    if event.field == "dig" and value is not None:
        return not_a_hole(value)
    if event.field == RECORD and value is not None and not _is_record_value(value):
        return f"an object with a type of up to {MAX_NAME} characters, or null"
    if event.field == "spot":
        try:
            spot_from_json(value)
        except PlaceError as error:
            return str(error)
    return "" if _is_plain(value) else f"plain JSON up to {MAX_VALUE:,} characters, {MAX_NESTING} levels deep"


def not_a_hole(value: Any) -> str:
    """Return why a value is no place of a hole.

    Parameters
    ----------
    value : object
        The place as JSON.

    Returns
    -------
    str
        What is allowed; empty for a place on the ground or on tape.
    """
    try:
        spot = spot_from_json(value)
    except PlaceError as error:
        return str(error)
    return "" if isinstance(spot, GroundSpot | DripSpot) else "a place on the ground or on drip tape"


def _is_record_value(value: Any) -> bool:
    type_ = value.get("type") if isinstance(value, dict) else None
    return isinstance(type_, str) and 0 < len(type_) <= MAX_NAME


def _is_plain(value: Any) -> bool:
    level: list[Any] = [value]
    for _ in range(MAX_NESTING):
        inner = [item for item in level if isinstance(item, dict | list)]
        level = [part for item in inner for part in (item.values() if isinstance(item, dict) else item)]
    if level:
        return False
    try:
        return len(canonical(value)) <= MAX_VALUE
    except (ValueError, TypeError):
        # Infinity and NaN, which 1e999 in a file turns into.
        return False

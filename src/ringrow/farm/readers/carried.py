"""Photos that travel inside a file from a phone, beside the events that name them."""

from __future__ import annotations

import base64
import binascii
import hashlib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from ringrow.errors import FileError
from ringrow.farm.adding_up import PHOTO, kept_file
from ringrow.farm.readers.photos import shown_name, small_copy

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ringrow.farm.events import Event

MAX_CARRIED = 100
"""Most photos that one feature may carry."""
MAX_REMARKS = 5
"""Most remarks on one feature's photos."""

_PREFIX = "data:image/jpeg;base64,"


@dataclass(frozen=True, slots=True, kw_only=True)
class CarriedPhoto:
    """A photo from inside a file.

    Parameters
    ----------
    sha256 : str
        Fingerprint of the picture as it travelled, the one its event names.
    jpeg : bytes
        The copy to be kept: JPEG, without any data beside the picture.
    """

    sha256: str
    jpeg: bytes


def read_carried(
    plain: Any, *, flag: str, events: Sequence[Event]
) -> tuple[tuple[CarriedPhoto, ...], tuple[str, ...]]:
    """Return the photos of a feature, and remarks on those that were left out.

    The property is a list of objects: ``event`` (id of the event of the field ``photo`` that names
    it), ``name``, ``type`` (``image/jpeg``) and ``data`` (a data URL in base64).

    Parameters
    ----------
    plain : object
        The feature's property ``photos``, not trusted.
    flag : str
        UUID of the flag.
    events : sequence of Event
        Events that came with the feature.

    Returns
    -------
    photos : tuple of CarriedPhoto
        Photos that are whole and the ones their events speak of.
    remarks : tuple of str
        What was left out and why; the events themselves stay.
    """
    if plain is None:
        return (), ()
    if not isinstance(plain, list) or len(plain) > MAX_CARRIED:
        return (), (
            f"its photos were left out: found {_short(plain)}; allowed: a list of up to {MAX_CARRIED}",
        )
    named = {event.id: event for event in events if event.field == PHOTO}
    photos, remarks = [], []
    for item in plain:
        try:
            photos.append(_photo(item, flag=flag, named=named))
        except FileError as error:
            remarks.append(f"photo left out: {error}")
    left = len(remarks) - MAX_REMARKS
    more = (f"and {left} photos more were left out",) if left > 0 else ()
    return tuple(photos), (*remarks[:MAX_REMARKS], *more)


def _photo(item: Any, *, flag: str, named: dict[str, Event]) -> CarriedPhoto:
    if not isinstance(item, dict):
        message = f"found {_short(item)}; allowed: an object with event, name, type and data"
        raise FileError(message)
    name = shown_name(str(item.get("name", ""))) or "photo"
    event = named.get(str(item.get("event")))
    if event is None:
        message = f"{name}: found no event of this flag that names it"
        raise FileError(message)
    data = _bytes(name, item.get("data"))
    mark = hashlib.sha256(data).hexdigest()
    # A file's word for where a photo is kept is taken only when it can hit no other photo.
    own = f"photos/{flag}-{mark[:12]}.jpg"
    value: Any = event.value
    if kept_file(value) != own or value.get("sha256") != mark:
        message = (
            f"{name}: the picture is not the one that its event speaks of; was the file changed by hand?"
        )
        raise FileError(message)
    return CarriedPhoto(sha256=mark, jpeg=small_copy(name, data))


def _bytes(name: str, data: Any) -> bytes:
    if not isinstance(data, str) or not data.startswith(_PREFIX):
        message = f"{name}: found {_short(data)}; allowed: data that begins with {_PREFIX}"
        raise FileError(message)
    try:
        return base64.b64decode(data[len(_PREFIX) :], validate=True)
    except (binascii.Error, ValueError) as error:
        message = f"{name}: found broken base64 ({str(error)[:60]}); is the file cut off?"
        raise FileError(message) from error


def _short(value: Any) -> str:
    return f"{value!r:.40}"

"""Languages of what the crew sees: a message in English, in the source, is looked up in a catalog.

A word function deep in a sheet needs to know the language, and handing it down through every
signature would drown them. It is a context variable, as the precision is in `decimal`: set for
a block by `speaking`, never for the process, and English when nobody set it.
"""

from __future__ import annotations

from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache
from importlib import resources
from typing import TYPE_CHECKING

from ringrow.errors import RingrowError

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

LANGUAGES: dict[str, str] = {"en": "English", "es": "Español"}
"""Languages by code, each by its own name."""

_spoken: ContextVar[str] = ContextVar("ringrow_language", default="en")


@contextmanager
def speaking(language: str) -> Iterator[None]:
    """Put what is said in a block into a language.

    Parameters
    ----------
    language : str
        Code, one of `LANGUAGES`.

    Yields
    ------
    None
        The block.

    Raises
    ------
    RingrowError
        If there is no such language.

    Examples
    --------
    >>> with speaking("es"):
    ...     spoken_language()
    'es'
    >>> spoken_language()
    'en'
    """
    if language not in LANGUAGES:
        message = f'language: found "{language}"; allowed: {", ".join(LANGUAGES)}'
        raise RingrowError(message)
    token = _spoken.set(language)
    try:
        yield
    finally:
        _spoken.reset(token)


def spoken_language() -> str:
    """Return the code of the language that is spoken now."""
    return _spoken.get()


def _(message: str) -> str:
    """Return a message in the spoken language; English for one that no catalog has.

    Parameters
    ----------
    message : str
        The English message, a literal so that it is found by extraction; parts come in by
        ``.format`` afterwards.

    Returns
    -------
    str
        The message with the same placeholders.
    """
    language = _spoken.get()
    return message if language == "en" else catalog(language).get((message, ""), message)


def N_(message: str) -> str:  # noqa: N802 - the usual name of gettext's mark
    """Mark a message of a table for translation when it is used; return it as it is.

    Parameters
    ----------
    message : str
        The English message.

    Returns
    -------
    str
        The same.
    """
    return message


def counted(one: str, many: str, count: float) -> str:
    """Return the message that fits a count, in the spoken language, with ``{n}`` left to fill in.

    Parameters
    ----------
    one, many : str
        The English messages for one and for any other number.
    count : float
        How many. [-]

    Returns
    -------
    str
        The message.

    Examples
    --------
    >>> counted("{n} flag", "{n} flags", 2).format(n=2)
    '2 flags'
    """
    language = _spoken.get()
    form = 0 if count == 1 else 1
    english = (one, many)[form]
    return english if language == "en" else catalog(language).get((one, str(form)), english)


@cache
def catalog(language: str) -> Mapping[tuple[str, str], str]:
    """Return the messages of a language from all its catalogs.

    Parameters
    ----------
    language : str
        Code, one of `LANGUAGES`.

    Returns
    -------
    mapping of tuple to str
        Translation by English message and plural form: ``""`` for a message without one, ``"0"``
        for one, ``"1"`` for more.
    """
    from babel.messages.pofile import read_po

    messages: dict[tuple[str, str], str] = {}
    folder = resources.files("ringrow.handoff") / "locale" / language
    for file in sorted(folder.iterdir(), key=lambda entry: entry.name):
        if file.name.endswith(".po"):
            with file.open("rb") as stream:
                for message in read_po(stream, locale=language):
                    if message.fuzzy or not message.string or not message.id:
                        continue
                    if isinstance(message.id, str):
                        messages[message.id, ""] = str(message.string)
                    else:
                        forms = enumerate(message.string)
                        messages |= {(message.id[0], str(form)): text for form, text in forms}
    return messages

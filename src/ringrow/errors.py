"""Every error the program raises on purpose, under one root."""

from __future__ import annotations

from dataclasses import dataclass


class RingrowError(Exception):
    """Root of all errors raised on purpose; the command line prints them in plain words."""


class PlaceError(RingrowError, ValueError):
    """A latitude, longitude, accuracy or place on a machine that cannot be."""


class GeometryError(RingrowError, ValueError):
    """A shape that cannot be used, or coordinates in the wrong unit."""


class DomainError(RingrowError, ValueError):
    """A number outside the range in which a formula holds."""


class FileError(RingrowError, OSError):
    """A file that is missing, unreadable, too large or already there."""


class SeasonError(RingrowError, RuntimeError):
    """The season log is damaged, locked or does not hold what was asked for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One thing wrong in a farm's files, in the words a person needs to mend it.

    Parameters
    ----------
    file : str
        Path of the file inside the farm folder, with forward slashes.
    key : str
        Path of the key, such as ``pivot[2].spans[3]``; empty when the whole file is meant.
    found : str
        What was found there.
    allowed : str
        What is allowed there.
    hint : str
        What to do next; empty when nothing can be guessed.
    """

    file: str
    key: str
    found: str
    allowed: str
    hint: str = ""

    def __str__(self) -> str:
        key, found, allowed, hint = self.words.values()
        where = f"{self.file}: {key}" if key else self.file
        text = f"{where}: found {found}; allowed: {allowed}"
        return f"{text}; {hint}" if hint else text

    @property
    def words(self) -> dict[str, str]:
        """Key, found, allowed and hint, none longer than can be read: files hold names of any length."""
        longest = {"key": 200, "found": 500, "allowed": 900, "hint": 200}
        return {name: shortened(getattr(self, name), longest=most) for name, most in longest.items()}


class FarmFileError(RingrowError, ValueError):
    """A farm's files hold faults; all of them are in `faults`.

    Parameters
    ----------
    faults : tuple of Fault
        Every fault found, in the order of the files.
    """

    def __init__(self, faults: tuple[Fault, ...]) -> None:
        self.faults = faults
        super().__init__("\n".join(str(fault) for fault in faults))


def shortened(error: object, *, longest: int = 300) -> str:
    """Return the words of a library's error, cut where a broken file makes them run on.

    Parameters
    ----------
    error : object
        The error, or its words.
    longest : int, default 300
        Most characters kept. [-]

    Returns
    -------
    str
        The words, an ellipsis where they were cut.

    Examples
    --------
    >>> shortened(ValueError("no zip file")), shortened("x" * 10, longest=4)
    ('no zip file', 'xxx…')
    """
    words = str(error)
    return words if len(words) <= longest else words[: longest - 1] + "…"

"""Gathering what is wrong in a farm's files, and the words for it."""

from __future__ import annotations

import difflib
import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from ringrow.errors import Fault, GeometryError, shortened

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from ringrow.farm.model import Repair

COUNTED_FROM_ONE = "Lists are counted from 1: pivot[2].spans[3] is the third span of the second pivot."
"""How to read a key path; printed wherever key paths are."""


class ShapeError(GeometryError):
    """A vector file or a shape in it that cannot be used.

    Parameters
    ----------
    key : str
        Key of the shape's table that is meant, such as ``where``; empty for the file itself.
    found, allowed, hint : str
        As in `ringrow.errors.Fault`.
    """

    def __init__(self, key: str, found: str, allowed: str, hint: str = "") -> None:
        self.key, self.found, self.allowed, self.hint = key, found, allowed, hint
        super().__init__(f"found {found}; allowed: {allowed}" + (f"; {hint}" if hint else ""))


@dataclass(slots=True, kw_only=True)
class Findings:
    """Faults, warnings and repairs, gathered while a farm's files are gone through.

    Parameters
    ----------
    faults, warnings : list of Fault
        What stops the farm from being used; what is legal but looks wrong.
    repairs : list of Repair
        Shapes that were mended.
    """

    faults: list[Fault] = field(default_factory=list)
    warnings: list[Fault] = field(default_factory=list)
    repairs: list[Repair] = field(default_factory=list)

    def fault(self, file: str, key: str, found: str, allowed: str, hint: str = "") -> None:
        """Note one fault.

        Parameters
        ----------
        file, key, found, allowed, hint : str
            As in `ringrow.errors.Fault`.
        """
        self.faults.append(_plain_fault(file, key, found, allowed, hint))

    def warning(self, file: str, key: str, found: str, allowed: str, hint: str = "") -> None:
        """Note one warning.

        Parameters
        ----------
        file, key, found, allowed, hint : str
            As in `ringrow.errors.Fault`; `allowed` says what was expected.
        """
        self.warnings.append(_plain_fault(file, key, found, allowed, hint))

    def touches(self, file: str, key: str) -> bool:
        """Return whether a fault is noted at a key of a file or anywhere below it.

        Parameters
        ----------
        file, key : str
            File, and key path such as ``pivot[2]``.

        Returns
        -------
        bool
            True when there is such a fault.
        """
        return any(
            fault.file == file and (fault.key == key or fault.key.startswith((f"{key}.", f"{key}[")))
            for fault in self.faults
        )


def one_line(text: str) -> str:
    r"""Return text of a file fit for a terminal: control letters and line ends written out.

    Parameters
    ----------
    text : str
        Any text.

    Returns
    -------
    str
        The text on one line.

    Examples
    --------
    >>> print(one_line("North\n40"))
    North\n40
    """
    return "".join(
        letter if letter.isprintable() else letter.encode("unicode_escape", "surrogatepass").decode()
        for letter in text
    )


def _plain_fault(*parts: str) -> Fault:
    file, key, found, allowed, hint = (one_line(part) for part in parts)
    return Fault(file=file, key=key, found=found, allowed=allowed, hint=hint)


def key_path(parts: Iterable[str | int]) -> str:
    """Return a key path as people count, from one that counts from 0.

    Parameters
    ----------
    parts : iterable of str or int
        Keys, and list positions from 0.

    Returns
    -------
    str
        The path, list positions from 1.

    Examples
    --------
    >>> key_path(["pivot", 0, "spans", 2])
    'pivot[1].spans[3]'
    """
    text = ""
    for part in parts:
        text += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if text else part
    return text


def shown(value: Any) -> str:
    """Return a value of a TOML file in words short enough for one line.

    Parameters
    ----------
    value : object
        Anything that TOML can hold.

    Returns
    -------
    str
        The value as it would be written, or what kind of thing it is.

    Examples
    --------
    >>> shown("7 ft"), shown(True), shown([1, 2]), shown(float("nan"))
    ('"7 ft"', 'true', 'a list of 2', 'nan')
    """
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return f'"{value[:60]}..."' if len(value) > 60 else f'"{value}"'
    if isinstance(value, dict):
        return "a table" if value else "an empty table"
    if isinstance(value, list):
        return f"a list of {len(value)}"
    if isinstance(value, int):
        return number_words(value)
    if isinstance(value, float):
        return f"{value:.10g}"
    return f"the date or time {value}"


def number_words(value: float) -> str:
    """Return a number as short as it can be written without losing what matters.

    Parameters
    ----------
    value : float
        Any number, finite or not. [-]

    Returns
    -------
    str
        Up to six digits for fractions, all digits for whole numbers below a million million.

    Examples
    --------
    >>> number_words(1250.0), number_words(178.5714286), number_words(528000)
    ('1250', '178.571', '528000')
    """
    if isinstance(value, int) and abs(value) >= 10**12:
        return f"a whole number of {len(str(abs(value))) if abs(value) < 10**400 else 'over 400'} digits"
    if math.isfinite(value) and value == int(value) and abs(value) < 1e12:
        return str(int(value))
    return f"{value:.6g}"


def nearest(word: str, known: Iterable[str]) -> str | None:
    """Return the known word spelled most like one that is not known.

    Parameters
    ----------
    word : str
        What was written.
    known : iterable of str
        What could have been meant.

    Returns
    -------
    str or None
        The best match; None when nothing comes near.

    Examples
    --------
    >>> nearest("overhangs", ["overhang", "throw"])
    'overhang'
    >>> nearest("colour", ["overhang", "throw"])
    """
    by_plain = {item.casefold().replace("-", "_").replace(" ", "_"): item for item in known}
    plain = word.casefold().replace("-", "_").replace(" ", "_")
    close = difflib.get_close_matches(plain, by_plain, n=1, cutoff=0.6)
    return by_plain[close[0]] if close else None


def meant(word: str, known: Iterable[str]) -> str:
    """Return the hint ``did you mean "..."?``, or nothing when no known word comes near.

    Parameters
    ----------
    word : str
        What was written.
    known : iterable of str
        What could have been meant.

    Returns
    -------
    str
        The hint; empty when there is none.

    Examples
    --------
    >>> meant("electrik", ["electric", "engine"])
    'did you mean "electric"?'
    """
    match = nearest(word, known)
    return f'did you mean "{match}"?' if match else ""


def listing(items: Sequence[str], *, most: int = 20) -> str:
    """Return items in quotes with commas, cut short after a number of them.

    Parameters
    ----------
    items : sequence of str
        What to list.
    most : int, default 20
        How many to name. [-]

    Returns
    -------
    str
        The list; ``nothing`` when it is empty.

    Examples
    --------
    >>> listing(["North", "South", "East"], most=2)
    '"North", "South" and 1 more'
    """
    if not items:
        return "nothing"
    text = ", ".join(f'"{shortened(item, longest=60)}"' for item in items[:most])
    return f"{text} and {len(items) - most} more" if len(items) > most else text

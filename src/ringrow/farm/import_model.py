"""What an import of flags holds: points with their kinds, what became of each, the whole plan."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from ringrow.farm.events import (
        Event,
    )
    from ringrow.farm.flag_model import Spot
    from ringrow.farm.readers.guess import Guess
    from ringrow.farm.readers.rows import PointRow


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadyRow:
    """A point with its kind settled.

    Parameters
    ----------
    row : PointRow
        The point.
    guess : Guess
        Its kind and why.
    spot : Spot or None, default None
        Place that its words name; None where its position counts.
    remarks : tuple of str, default ()
        What was made of its words.
    refusal : str, default ""
        Why it cannot become a flag, unless its photo is known already.
    """

    row: PointRow
    guess: Guess
    spot: Spot | None = None
    remarks: tuple[str, ...] = ()
    refusal: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Edit:
    """A field of a known flag that a file says differently now.

    Parameters
    ----------
    field : str
        Which field.
    before, after : object
        What it showed, what the file says.
    """

    field: str
    before: Any
    after: Any


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What became of one point.

    Parameters
    ----------
    what : str
        Where it stands in its file, such as ``row 5``.
    result : {"new", "already there", "edited", "refused"}
        What became of it.
    flag : str
        UUID of its flag; empty when refused.
    kind : str
        Kind of a new flag.
    why : str
        Why it was refused, or how a new flag's kind was found.
    edits : tuple of Edit, default ()
        What the file changed on a known flag.
    remarks : tuple of str, default ()
        What could not be read; an older word in the file that the log has moved on from.
    like : str, default ""
        UUID of a flag of the same name and time elsewhere: this one may be the same, moved.
    like_m : float or None, default None
        How far away that flag lies. [m]
    record : str, default ""
        Type of the record that it is, when it is no flag but something said about a system.
    """

    what: str
    result: str
    flag: str = ""
    kind: str = ""
    why: str = ""
    edits: tuple[Edit, ...] = ()
    remarks: tuple[str, ...] = ()
    like: str = ""
    like_m: float | None = None
    record: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ImportPlan:
    """What importing a file would do.

    Parameters
    ----------
    events : tuple of Event
        Events to append.
    outcomes : tuple of Outcome
        One a point, in file order.
    """

    events: tuple[Event, ...]
    outcomes: tuple[Outcome, ...]

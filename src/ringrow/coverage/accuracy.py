"""How good a position is: one spread per axis, whatever way it was stated."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from ringrow.errors import PlaceError
from ringrow.units import FOOT_M

KINDS: dict[str, float] = {"r95": 2.4477, "r68": 1.5096, "rms": 1.4142, "cep": 1.1774}
"""Radius over one-axis sigma for each way of stating accuracy (circular normal error)."""

_STATED = re.compile(
    r"^\s*(?P<size>[0-9]*\.?[0-9]+)\s*(?P<unit>ft|m)?\s*(?P<kind>r95|r68|rms|cep)?\s*$", re.I
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Accuracy:
    """A stated accuracy of a position.

    Parameters
    ----------
    radius_m : float
        The stated radius, above 0. [m]
    kind : {"r95", "r68", "rms", "cep"}
        What share of fixes that radius holds: 95 %, 68 %, root mean square, half.
    assumed : bool, default False
        True when nobody stated it.

    Raises
    ------
    PlaceError
        If the radius is not above 0 and finite, or the kind is none of the four.

    Examples
    --------
    >>> round(Accuracy(radius_m=4.8768, kind="r95").sigma_m, 3)
    1.992
    """

    radius_m: float
    kind: str
    assumed: bool = False

    def __post_init__(self) -> None:
        if not 0 < self.radius_m < math.inf or self.kind not in KINDS:
            message = (
                f"accuracy: found {self.radius_m} m {self.kind}; allowed: a radius above 0 "
                f"and one of {', '.join(KINDS)}"
            )
            raise PlaceError(message)

    @property
    def sigma_m(self) -> float:
        """One-axis standard deviation [m]."""
        return self.radius_m / KINDS[self.kind]


DEFAULT_ACCURACY = Accuracy(radius_m=16 * FOOT_M, kind="r95", assumed=True)
"""16 ft taken as R95: our assumption; no source fixes the percentile behind a phone's 16 ft."""


def parse_accuracy(text: str, *, default_unit: str = "ft") -> Accuracy:
    """Return the accuracy written as a person writes it.

    Parameters
    ----------
    text : str
        A number, a unit (``ft`` or ``m``) and a kind, such as ``16 ft r95``; unit and kind
        may be left out, kind then is ``r95``.
    default_unit : {"ft", "m"}, default "ft"
        Unit when `text` names none.

    Returns
    -------
    Accuracy
        The stated accuracy.

    Raises
    ------
    PlaceError
        If `text` is not of that form or the number is not above 0 and at most 1 km.

    Examples
    --------
    >>> parse_accuracy("3.5 m r68")
    Accuracy(radius_m=3.5, kind='r68', assumed=False)
    """
    match = _STATED.match(text)
    radius_m = 0.0
    if match:
        unit = (match["unit"] or default_unit).lower()
        radius_m = float(match["size"]) * (FOOT_M if unit == "ft" else 1.0)
    if match is None or not 0 < radius_m <= 1000:
        message = (
            f'accuracy: found "{text}"; allowed: a number above 0, ft or m, and r95, r68, rms or cep, '
            'such as "16 ft r95"'
        )
        raise PlaceError(message)
    return Accuracy(radius_m=radius_m, kind=(match["kind"] or "r95").lower())

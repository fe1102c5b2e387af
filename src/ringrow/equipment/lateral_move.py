"""A lateral-move machine: a straight pipe that walks sideways along a cart path or ditch."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import accumulate
from typing import TYPE_CHECKING, Literal

from ringrow.errors import DomainError

if TYPE_CHECKING:
    from ringrow.equipment.rebuild import Rebuild

Hand = Literal["left", "right"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Wing:
    """The pipe on one side of the cart.

    Parameters
    ----------
    spans_m : tuple of float, default ()
        Spans from the cart outward to each tower; empty for no pipe on this side. [m]
    overhang_m, throw_m : float, default 0
        Pipe past the last tower; effective reach of the last sprinkler past the pipe end. [m]

    Raises
    ------
    DomainError
        If a length cannot be.

    Examples
    --------
    >>> wing = Wing(spans_m=(50.0, 50.0), overhang_m=8, throw_m=4)
    >>> wing.tower_offsets_m, wing.length_m, wing.reach_m
    ((50.0, 100.0), 108.0, 112.0)
    """

    spans_m: tuple[float, ...] = ()
    overhang_m: float = 0.0
    throw_m: float = 0.0

    def __post_init__(self) -> None:
        if not all(span > 0 for span in self.spans_m) or self.overhang_m < 0 or self.throw_m < 0:
            message = (
                f"wing: found spans {self.spans_m}, overhang {self.overhang_m:g} m, throw "
                f"{self.throw_m:g} m; allowed: spans above 0, the rest 0 or more"
            )
            raise DomainError(message)

    @property
    def tower_offsets_m(self) -> tuple[float, ...]:
        """Distance of each tower from the cart [m]."""
        return tuple(accumulate(self.spans_m))

    @property
    def length_m(self) -> float:
        """Pipe length: spans and overhang; 0 without spans [m]."""
        return sum(self.spans_m) + self.overhang_m if self.spans_m else 0.0

    @property
    def reach_m(self) -> float:
        """Wetted reach from the cart: pipe and throw; 0 without spans [m]."""
        return self.length_m + self.throw_m if self.spans_m else 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class LateralMove:
    """A lateral-move machine in its field's frame.

    Parameters
    ----------
    name : str
        Name, unique on the farm.
    path_m : tuple of tuple of float
        Corners (x, y) of the cart's path in travel order, two or more. [m]
    left, right : Wing
        The pipe to the left and right of travel; towers are numbered 1, 2, ... from the cart on each side.
    flow_lps, pressure_kpa : float or None, default None
        Flow and pressure at the cart. [L/s, kPa]
    rebuilt : tuple of Rebuild, default ()
        Days from which some of its hardware is new.
    plate_v, plate_hz : float or None, default None
        Volts and frequency on the plates of the tower motors. [V, Hz]
    notes : str, default ""
        What the owner wants the crew to know.
    assumed : tuple of str, default ()
        Every number that was defaulted or guessed and moves an answer, in plain words.

    Raises
    ------
    DomainError
        If there is no span on either side or the path has fewer than two corners.
    """

    name: str
    path_m: tuple[tuple[float, float], ...]
    left: Wing = Wing()
    right: Wing = Wing()
    flow_lps: float | None = None
    pressure_kpa: float | None = None
    rebuilt: tuple[Rebuild, ...] = ()
    plate_v: float | None = None
    plate_hz: float | None = None
    notes: str = ""
    assumed: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if len(self.path_m) < 2 or not (self.left.spans_m or self.right.spans_m):
            message = (
                f'lateral move "{self.name}": found {len(self.path_m)} path corners, '
                f"{len(self.left.spans_m)} spans left, {len(self.right.spans_m)} right; "
                "allowed: two corners or more, a span on one side"
            )
            raise DomainError(message)

    def wing(self, hand: Hand) -> Wing:
        """Return the pipe on one side.

        Parameters
        ----------
        hand : {"left", "right"}
            Side, seen in the direction of travel.

        Returns
        -------
        Wing
            The pipe there, without spans when there is none.
        """
        return self.left if hand == "left" else self.right

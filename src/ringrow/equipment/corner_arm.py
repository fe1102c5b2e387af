"""A corner arm: a second pipe, hinged at the last tower, that opens into the corners."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from ringrow.errors import DomainError

if TYPE_CHECKING:
    from ringrow.equipment.pivot import EndGun

OPEN_RATE = 3.0
"""Degrees the arm opens at most per degree the main pipe turns [deg/deg]: our choice when none is stated."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CornerArm:
    """A corner arm as it was built.

    Parameters
    ----------
    length_m : float
        Hinge to steered wheels, above 0. [m]
    overhang_m, throw_m : float, default 0
        Pipe past the steered wheels; effective reach of the last sprinkler past the pipe end. [m]
    side : {"trailing", "leading"}
        Trailing = on the counter-clockwise side of the main pipe, whichever way it walks.
    fold_deg, open_deg : float
        Smallest and largest angle at the hinge between main pipe and arm, 0 < fold < open <= 180. [deg]
    open_rate : float, default 3
        Degrees it opens at most per degree the main pipe turns, above 0. [deg/deg]
    end_gun : EndGun or None, default None
        Gun at the end of the arm.

    Raises
    ------
    DomainError
        If a length or angle cannot be.

    Examples
    --------
    >>> CornerArm(length_m=80, overhang_m=12, throw_m=5, side="trailing", fold_deg=90, open_deg=165).reach_m
    97
    """

    length_m: float
    overhang_m: float = 0.0
    throw_m: float = 0.0
    side: Literal["trailing", "leading"]
    fold_deg: float
    open_deg: float
    open_rate: float = OPEN_RATE
    end_gun: EndGun | None = None

    def __post_init__(self) -> None:
        lengths_ok = self.length_m > 0 and self.overhang_m >= 0 and self.throw_m >= 0 and self.open_rate > 0
        if not lengths_ok or not 0 < self.fold_deg < self.open_deg <= 180:
            message = (
                f"corner arm: found length {self.length_m:g} m, overhang {self.overhang_m:g} m, throw "
                f"{self.throw_m:g} m, fold {self.fold_deg:g}, open {self.open_deg:g}, open_rate "
                f"{self.open_rate:g}; allowed: length and open_rate above 0, 0 < fold < open <= 180"
            )
            raise DomainError(message)

    @property
    def reach_m(self) -> float:
        """Hinge to wetted end: length, overhang and throw [m]."""
        return self.length_m + self.overhang_m + self.throw_m


@dataclass(frozen=True, slots=True, kw_only=True)
class Bend:
    """A place where the pipe bends once the main part has stopped.

    Parameters
    ----------
    tower : int
        The tower it bends at, 1..n-1; spans past it walk on.
    at : {"stop", "start"}
        Which end of the sector.
    sweep_deg : float
        How far the outer spans walk on, above 0 to 180. [deg]

    Raises
    ------
    DomainError
        If the tower or the sweep cannot be.
    """

    tower: int
    at: Literal["stop", "start"]
    sweep_deg: float

    def __post_init__(self) -> None:
        if self.tower < 1 or not 0 < self.sweep_deg <= 180:
            message = (
                f"bend: found tower {self.tower}, sweep {self.sweep_deg:g}; allowed: tower 1 or more, "
                "sweep above 0 to 180 degrees"
            )
            raise DomainError(message)

"""A machine that bends: the main pipe stops and its outer spans walk on about a tower."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
import shapely

from ringrow.errors import DomainError
from ringrow.geometry.arcs import sector_polygon

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

_LAP_DEG = 1e-8
"""Each sector begins this much [deg], 0.1 micrometre at its edge, under the ground before it: sides that
only touch miss each other by a rounding, and their union falls apart along a slit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BendTurn:
    """One bend of the pipe.

    Parameters
    ----------
    radius_m : float
        Distance of the tower it turns about from the pivot point, along the straight pipe. [m]
    sweep_deg : float
        How far the outer spans walk on, above 0 to 180. [deg]

    Raises
    ------
    DomainError
        If the sweep or the radius cannot be.
    """

    radius_m: float
    sweep_deg: float

    def __post_init__(self) -> None:
        if not (0 < self.sweep_deg <= 180 and self.radius_m > 0):
            message = (
                f"bend: found sweep {self.sweep_deg:g} degrees about a tower at {self.radius_m:g} m; "
                "allowed: sweep above 0 to 180, tower above 0 m"
            )
            raise DomainError(message)


def pipe_course(
    x_m: float,
    y_m: float,
    bearing_deg: float,
    radii_m: Sequence[float],
    turns: Sequence[BendTurn],
    *,
    side: Literal["stop", "start"],
) -> NDArray[np.float64]:
    """Return where points of the pipe stand when every bend has been walked to its end.

    Parameters
    ----------
    x_m, y_m : float
        Pivot point. [m]
    bearing_deg : float
        Frame bearing at which the main pipe stands. [deg]
    radii_m : sequence of float
        Distances of the points from the pivot point along the straight pipe. [m]
    turns : sequence of BendTurn
        Bends, inner first.
    side : {"stop", "start"}
        At the stop the outer spans turn clockwise, at the start counter-clockwise.

    Returns
    -------
    ndarray, shape (n, 2)
        x and y of each point. [m]

    Examples
    --------
    >>> pipe_course(0, 0, 0, [100, 200], [BendTurn(radius_m=100, sweep_deg=90)], side="stop").round(6)
    array([[  0., 100.],
           [100., 100.]])
    """
    sign = 1.0 if side == "stop" else -1.0
    knots = np.array([turn.radius_m for turn in turns])
    radii = np.asarray(radii_m, float)
    placed = np.array([x_m, y_m]) + np.zeros((len(radii), 2))
    inner, bearing = 0.0, bearing_deg
    for index in range(len(turns) + 1):
        outer = knots[index] if index < len(turns) else np.inf
        length = np.clip(radii, inner, outer) - inner
        turn = np.radians(bearing)
        placed = placed + length[:, None] * np.array([np.sin(turn), np.cos(turn)])
        if index < len(turns):
            inner = outer
            bearing += sign * turns[index].sweep_deg
    return placed


def bend_sectors(
    x_m: float,
    y_m: float,
    bearing_deg: float,
    reach_m: float,
    turns: Sequence[BendTurn],
    *,
    side: Literal["stop", "start"],
) -> BaseGeometry:
    """Return the ground that the outer spans wet while they walk on about each tower.

    Parameters
    ----------
    x_m, y_m : float
        Pivot point. [m]
    bearing_deg : float
        Frame bearing of the stop. [deg]
    reach_m : float
        Wetted radius of the straight machine: pipe length and throw. [m]
    turns : sequence of BendTurn
        Bends, inner first; each centre is displaced by those before it.
    side : {"stop", "start"}
        At the stop the outer spans turn clockwise, at the start counter-clockwise.

    Returns
    -------
    shapely geometry
        Union of one sector a bend. [m]

    Raises
    ------
    DomainError
        If the towers do not rise or one lies beyond the reach.

    Examples
    --------
    >>> half = bend_sectors(0, 0, 0, 150, [BendTurn(radius_m=50, sweep_deg=180)], side="stop")
    >>> round(half.area / (np.pi * 100**2), 6)
    0.5
    """
    radii = [turn.radius_m for turn in turns]
    if radii != sorted(set(radii)) or (radii and radii[-1] >= reach_m):
        message = (
            f"bends: found towers at {', '.join(f'{radius:g}' for radius in radii)} m; "
            f"allowed: each farther out than the one before and inside the wetted radius of {reach_m:g} m"
        )
        raise DomainError(message)
    sign = 1.0 if side == "stop" else -1.0
    sectors, bearing = [], bearing_deg
    for index, turn in enumerate(turns):
        centre = pipe_course(x_m, y_m, bearing_deg, [turn.radius_m], turns[:index], side=side)[0]
        after = bearing + sign * turn.sweep_deg
        begun = bearing - sign * _LAP_DEG
        first, last = (begun, after) if side == "stop" else (after, begun)
        sectors.append(
            sector_polygon(
                float(centre[0]), float(centre[1]), reach_m - turn.radius_m, first % 360, last % 360
            )
        )
        bearing = after
    return shapely.union_all(sectors)

"""What a lateral-move machine wets, and where its towers walk."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from shapely import LineString

from ringrow.coverage.field import LateralMoveLayout
from ringrow.geometry.arcs import CHORD_ERROR_M
from ringrow.geometry.travel import travel_ground, travel_path

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from ringrow.equipment.lateral_move import LateralMove
    from ringrow.geometry.travel import TravelPath


def lay_out_lateral_move(move: LateralMove) -> LateralMoveLayout:
    """Return the wetted ground of a lateral-move machine, not cut at the boundary.

    Parameters
    ----------
    move : LateralMove
        The machine.

    Returns
    -------
    LateralMoveLayout
        The cart's path and the ground wetted from its first corner to its last.

    Raises
    ------
    GeometryError
        If its path cannot be walked.

    Examples
    --------
    >>> from ringrow.equipment.lateral_move import LateralMove, Wing
    >>> wings = {"left": Wing(spans_m=(50.0,)), "right": Wing(spans_m=(60.0,), throw_m=10.0)}
    >>> lay_out_lateral_move(LateralMove(name="L1", path_m=((0, 0), (0, 400)), **wings)).wetted.area
    48000.0
    """
    path = travel_path(move.path_m)
    wetted = travel_ground(path, left_m=move.left.reach_m, right_m=move.right.reach_m)
    return LateralMoveLayout(move=move, path=path, wetted=wetted)


def tower_path(path: TravelPath, offset_m: float) -> LineString:
    """Return the wheel track of a tower carried beside the cart.

    Parameters
    ----------
    path : TravelPath
        The cart's path.
    offset_m : float
        Distance of the tower from the cart, positive to the right of travel. [m]

    Returns
    -------
    shapely LineString
        Straight along the legs; round a corner an arc about it, chords within 0.01 m. [m]

    Examples
    --------
    >>> from ringrow.geometry.travel import travel_path
    >>> track = tower_path(travel_path([[0, 0], [0, 100], [-100, 100]]), 50.0)
    >>> round(track.length - 200, 1)  # a quarter turn of 50 m about the corner
    78.5
    """
    pieces: list[NDArray[np.float64]] = []
    for leg, bearing in enumerate(path.bearings_deg.tolist()):
        begin, end = path.corners_m[leg], path.corners_m[leg + 1]
        if leg:
            turn = (bearing - path.bearings_deg[leg - 1] + 180.0) % 360.0 - 180.0
            pieces.append(begin + offset_m * _right(bearing - turn + _steps(turn, offset_m)))
        pieces.append(np.stack([begin, end]) + offset_m * _right(np.array([bearing])))
    return LineString(np.vstack(pieces))


def _right(bearing_deg: NDArray[np.float64]) -> NDArray[np.float64]:
    turn = np.radians(bearing_deg)
    return np.column_stack([np.cos(turn), -np.sin(turn)])


def _steps(turn_deg: float, radius_m: float) -> NDArray[np.float64]:
    """Return degrees turned at points between both ends of a corner's arc."""
    step = np.degrees(np.sqrt(8 * CHORD_ERROR_M / max(abs(radius_m), CHORD_ERROR_M)))
    parts = max(1, int(np.ceil(abs(turn_deg) / step)))
    return np.asarray(turn_deg * np.arange(1, parts) / parts)

"""Where a point lies on a lateral move: travel of the cart, side, span, tower."""

from __future__ import annotations

from typing import TYPE_CHECKING, get_args

import numpy as np

from ringrow.coverage.locate_field import covers
from ringrow.coverage.places import LateralMovePlace, MovePart
from ringrow.errors import PlaceError
from ringrow.geometry.travel import travel_places
from ringrow.units import FOOT_M

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from ringrow.coverage.field import LateralMoveLayout
    from ringrow.equipment.lateral_move import Hand, LateralMove

MOVE_PARTS: tuple[MovePart, ...] = get_args(MovePart)
"""Parts of one side of a lateral move by growing offset: span, overhang, throw, beyond."""


def move_places(layout: LateralMoveLayout, x: ArrayLike, y: ArrayLike) -> list[LateralMovePlace]:
    """Return where each point lies as seen from one lateral move.

    Parameters
    ----------
    layout : LateralMoveLayout
        The machine.
    x, y : array_like, shape (n,)
        Points in the field's frame. [m]

    Returns
    -------
    list of LateralMovePlace
        One for each point, in their order. A point that the pipe never reaches is seen from the
        nearest point of the cart's path.

    Examples
    --------
    >>> from ringrow.coverage.lateral_move_layout import lay_out_lateral_move
    >>> from ringrow.equipment.lateral_move import LateralMove, Wing
    >>> wings = {"left": Wing(spans_m=(50.0, 50.0)), "right": Wing(spans_m=(60.0,), throw_m=10.0)}
    >>> laid = lay_out_lateral_move(LateralMove(name="L1", path_m=((0, 0), (0, 400)), **wings))
    >>> seen = move_places(laid, [-90.0], [250.0])[0]
    >>> seen.travel_m, seen.side, seen.offset_m, seen.span, seen.tower, seen.tower_offset_m
    (250.0, 'left', 90.0, 2, 2, -10.0)
    """
    x, y = np.atleast_1d(np.asarray(x, float)), np.atleast_1d(np.asarray(y, float))
    if x.size == 0:
        return []
    move = layout.move
    seen = travel_places(layout.path, x, y, left_m=move.left.reach_m, right_m=move.right.reach_m)
    inside = covers(layout.wetted, x, y)
    rows = zip(seen.travel_m.tolist(), seen.offset_m.tolist(), inside.tolist(), strict=True)
    return [
        _place(move, _side(move, offset), abs(offset), travel_m=travel, inside=wet)
        for travel, offset, wet in rows
    ]


def move_place_at(
    layout: LateralMoveLayout, side: Hand, offset_m: float, *, travel_m: float | None = None
) -> LateralMovePlace:
    """Return a place named on the machine itself, such as tower 3 on the left.

    Parameters
    ----------
    layout : LateralMoveLayout
        The machine.
    side : {"left", "right"}
        Side of the cart, seen in the direction of travel.
    offset_m : float
        Distance from the cart, 0 to that side's pipe end. [m]
    travel_m : float or None, default None
        Where the cart stood on its path; None when not known. [m]

    Returns
    -------
    LateralMovePlace
        The place.

    Raises
    ------
    PlaceError
        If the offset is not on that side's pipe or the travel not on the path.
    """
    move, length_m = layout.move, layout.move.wing(side).length_m
    _check(f'"{move.name}" {side} of the cart', offset_m, length_m, "its pipe end")
    if travel_m is not None:
        path_m = float(layout.path.starts_m[-1])
        _check(f'travel of "{move.name}"', travel_m, path_m, "the end of its path")
        travel_m = min(travel_m, path_m)
    return _place(move, side, min(offset_m, length_m), travel_m=travel_m, inside=True)


def move_xy(layout: LateralMoveLayout, place: LateralMovePlace) -> tuple[float, float] | None:
    """Return where a place on a lateral move is.

    Parameters
    ----------
    layout : LateralMoveLayout
        The machine.
    place : LateralMovePlace
        The place.

    Returns
    -------
    tuple of float or None
        x and y in the field's frame; None when the travel is not known. At a corner of the path
        the machine is taken as it stands before it turns. [m]
    """
    if place.travel_m is None:
        return None
    path = layout.path
    leg = min(int(np.searchsorted(path.starts_m[1:], place.travel_m)), len(path.bearings_deg) - 1)
    turn, along = np.radians(path.bearings_deg[leg]), place.travel_m - path.starts_m[leg]
    offset = place.offset_m if place.side == "right" else -place.offset_m
    x, y = path.corners_m[leg]
    return (
        float(x + along * np.sin(turn) + offset * np.cos(turn)),
        float(y + along * np.cos(turn) - offset * np.sin(turn)),
    )


def _check(what: str, found_m: float, most_m: float, end: str) -> None:
    # Half a foot of grace: an owner's own figures need not agree to the inch.
    if not 0 <= found_m <= most_m + 0.5 * FOOT_M:
        message = (
            f"{what}: found {found_m:,.1f} m ({found_m / FOOT_M:,.0f} ft); allowed: 0 to {most_m:,.1f} m "
            f"({most_m / FOOT_M:,.0f} ft), {end}"
        )
        raise PlaceError(message)


def _side(move: LateralMove, offset_m: float) -> Hand:
    if offset_m == 0.0:
        # On the cart itself: the side that has a pipe.
        return "right" if move.right.spans_m else "left"
    return "right" if offset_m > 0 else "left"


def _place(
    move: LateralMove, side: Hand, offset_m: float, *, travel_m: float | None, inside: bool
) -> LateralMovePlace:
    wing = move.wing(side)
    towers = np.array(wing.tower_offsets_m)
    tower = span = off_tower = None
    limits = (0.0, 0.0, 0.0)
    if len(towers):
        nearest = int(np.abs(towers - offset_m).argmin())
        tower, off_tower = nearest + 1, offset_m - float(towers[nearest])
        passed = int((offset_m > towers).sum())
        span = passed + 1 if passed < len(towers) else None
        limits = (float(towers[-1]), wing.length_m, wing.reach_m)
    part = MOVE_PARTS[sum(offset_m > limit for limit in limits)]
    return LateralMovePlace(
        name=move.name,
        travel_m=travel_m,
        side=side,
        offset_m=offset_m,
        span=span,
        part=part if len(towers) else "beyond",
        tower=tower,
        tower_offset_m=off_tower,
        inside=inside,
    )

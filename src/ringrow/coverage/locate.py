"""What is at a place: its field, and its distance, span, tower, outlet, lateral there."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ringrow.coverage.accuracy import Accuracy
from ringrow.coverage.locate_drip import drip_place_at, drip_places, drip_points
from ringrow.coverage.locate_field import checked_lonlat, covers, near_fields
from ringrow.coverage.locate_moves import move_place_at, move_places
from ringrow.coverage.locate_pivots import pivot_place_at, pivot_place_list, pivot_places
from ringrow.coverage.places import DripPlace, LateralMovePlace, PivotPlace, Place
from ringrow.errors import PlaceError

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import ArrayLike, NDArray

    from ringrow.coverage.field import FieldLayout

__all__ = [
    "drip_place_at",
    "drip_places",
    "locate",
    "locate_many",
    "move_place_at",
    "pivot_place_at",
    "pivot_places",
]


def locate(layouts: Sequence[FieldLayout], lon: float, lat: float, *, accuracy: Accuracy) -> Place:
    """Return what is at one place.

    Parameters
    ----------
    layouts : sequence of FieldLayout
        The farm's fields, in file order.
    lon, lat : float
        The place, WGS 84. [deg]
    accuracy : Accuracy
        How good the position is.

    Returns
    -------
    Place
        Field, systems, candidates.

    Raises
    ------
    PlaceError
        If the place is not on the globe.
    """
    return locate_many(layouts, [lon], [lat], accuracy=accuracy)[0]


def locate_many(
    layouts: Sequence[FieldLayout],
    lon: ArrayLike,
    lat: ArrayLike,
    *,
    accuracy: Accuracy | Sequence[Accuracy],
) -> list[Place]:
    """Return what is at each of many places.

    A place on a boundary is in that field; a place in several fields belongs to the first of
    them in `layouts`. In a field all its systems answer, nearest first (a pivot by its pivot
    point, a lateral move by its cart's path, a drip block by its nearest tape); outside every
    field, the machines that wet the place.

    Parameters
    ----------
    layouts : sequence of FieldLayout
        The farm's fields, in file order.
    lon, lat : array_like, shape (n,)
        The places, WGS 84. [deg]
    accuracy : Accuracy or sequence of Accuracy
        How good the positions are: one for all, or one for each.

    Returns
    -------
    list of Place
        One for each place, in their order.

    Raises
    ------
    PlaceError
        If a place is not on the globe, or accuracies are neither one nor one for each.
    """
    lon, lat = checked_lonlat(lon, lat)
    sigma_m = _sigmas(accuracy, lon.size)
    found: dict[int, Place] = {}
    wetting: dict[int, _Machines] = {}
    for index, points in near_fields(layouts, lon, lat):
        layout = layouts[index]
        x, y = layout.field.frame.to_xy(lon[points], lat[points])
        held = covers(layout.field.boundary, x, y)
        places = _in_field(layout, x[held], y[held], sigma_m[points[held]])
        for point, place in zip(points[held].tolist(), places, strict=True):
            # Fields come in file order, so whoever holds a point first keeps it.
            found.setdefault(point, place)
        machines = _wetting(layout, x[~held], y[~held], sigma_m[points[~held]])
        for point, wet in zip(points[~held].tolist(), machines, strict=True):
            wetting[point] = wetting[point] + wet if point in wetting else wet
    return [found.get(point) or _outside(wetting.get(point, _NONE)) for point in range(lon.size)]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Machines:
    """Machines that wet one point."""

    pivots: tuple[PivotPlace, ...] = ()
    moves: tuple[LateralMovePlace, ...] = ()

    def __add__(self, other: _Machines) -> _Machines:
        return _Machines(pivots=self.pivots + other.pivots, moves=self.moves + other.moves)


_NONE = _Machines()


def _sigmas(accuracy: Accuracy | Sequence[Accuracy], points: int) -> NDArray[np.float64]:
    if isinstance(accuracy, Accuracy):
        return np.full(points, accuracy.sigma_m)
    if len(accuracy) != points:
        message = (
            f"accuracies: found {len(accuracy)} for {points} points; allowed: one, or one for each point"
        )
        raise PlaceError(message)
    return np.array([each.sigma_m for each in accuracy], float)


def _in_field(
    layout: FieldLayout, x: NDArray[np.float64], y: NDArray[np.float64], sigma_m: NDArray[np.float64]
) -> list[Place]:
    """Return the places of points inside one field."""
    if x.size == 0:
        return []
    farmable = covers(layout.farmable, x, y)
    pivots = [pivot_place_list(pivot, pivot_places(pivot, x, y, sigma_m)) for pivot in layout.pivots]
    moves = [move_places(move, x, y) for move in layout.lateral_moves]
    drip = [drip_points(block, x, y, sigma_m) for block in layout.drip]
    return [
        _place(
            layout.field.name,
            farmable=is_farmable,
            pivots=[places[row] for places in pivots],
            moves=[places[row] for places in moves],
            drip=[(float(distance_m[row]), places[row]) for places, distance_m in drip],
        )
        for row, is_farmable in enumerate(farmable.tolist())
    ]


def _wetting(
    layout: FieldLayout, x: NDArray[np.float64], y: NDArray[np.float64], sigma_m: NDArray[np.float64]
) -> list[_Machines]:
    """Return, for each point outside one field, the machines of that field that wet it."""
    pivots = [pivot_place_list(pivot, pivot_places(pivot, x, y, sigma_m)) for pivot in layout.pivots]
    moves = [move_places(move, x, y) for move in layout.lateral_moves]
    return [
        _Machines(
            pivots=tuple(places[row] for places in pivots if places[row].inside),
            moves=tuple(places[row] for places in moves if places[row].inside),
        )
        for row in range(x.size)
    ]


def _place(
    field: str,
    *,
    farmable: bool,
    pivots: list[PivotPlace],
    moves: list[LateralMovePlace],
    drip: list[tuple[float, DripPlace]],
) -> Place:
    """Put one point's answers together; `drip` comes with the distance of each block's tape."""
    blocks = tuple(place for _, place in sorted(drip, key=lambda pair: pair[0]))
    wet = any([pivot.inside for pivot in pivots] + [move.inside for move in moves])
    wet = wet or any(block.inside for block in blocks)
    return Place(
        field=field,
        farmable=farmable,
        irrigated=farmable and wet,
        pivots=_nearest_first(pivots),
        drip=blocks,
        lateral_moves=_nearest_cart_first(moves),
    )


def _outside(machines: _Machines) -> Place:
    return Place(
        field=None,
        farmable=False,
        irrigated=False,
        pivots=_nearest_first(machines.pivots),
        drip=(),
        lateral_moves=_nearest_cart_first(machines.moves),
    )


def _nearest_first(pivots: Iterable[PivotPlace]) -> tuple[PivotPlace, ...]:
    return tuple(sorted(pivots, key=lambda pivot: pivot.distance_m))


def _nearest_cart_first(moves: Iterable[LateralMovePlace]) -> tuple[LateralMovePlace, ...]:
    return tuple(sorted(moves, key=lambda move: move.offset_m))

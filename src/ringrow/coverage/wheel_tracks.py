"""Holes, ruts and rocks near a wheel track: whose wheels meet them, and where the machine then stands."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
import shapely

from ringrow.coverage.arm_layout import frame_to_true, wheel_bearings
from ringrow.units import FOOT_M

if TYPE_CHECKING:
    from ringrow.coverage.field import PivotLayout
    from ringrow.coverage.places import BendPlace, LateralMovePlace, PivotPlace
    from ringrow.equipment.kinds import FlagKind
    from ringrow.equipment.lateral_move import Hand
    from ringrow.equipment.pivot import Pivot

TRACK_REACH_M = 3 * FOOT_M
"""A hole this near to the middle of a wheel track is met by the wheels [m]: our choice."""

WHEEL_KINDS = frozenset({"rut", "washout", "burrow", "rock", "loose-part"})
"""Kinds of flag that a wheel can drop into or run onto."""

# Along one line 95 of 100 fixes fall within so many sigma.
_WITHIN_SIGMAS = 1.96


@dataclass(frozen=True, slots=True, kw_only=True)
class TrackMeeting:
    """Wheels that will meet a hole in the ground.

    Parameters
    ----------
    system : str
        The machine.
    wheels : {"tower", "arm", "cart"}
        Wheels of a tower, the steered wheels of a corner arm, or those of a lateral move's cart.
    tower : int or None, default None
        The tower, 1..n; None for an arm or a cart.
    side : {"left", "right"} or None, default None
        Side of a lateral move.
    azimuth_deg, panel_deg : float or None, default None
        True azimuth of the machine when they do, and what the panel shows then; None on a lateral
        move. [deg]
    bend : BendPlace or None, default None
        How far the outer spans have walked on past the stop then.
    travel_m : float or None, default None
        Travel of a lateral move's cart when they do. [m]
    offset_m : float
        How far the middle of the track passes from the place, 0 or more. [m]
    sure : bool
        False when it is only as near as the position itself is good.
    """

    system: str
    wheels: Literal["tower", "arm", "cart"]
    tower: int | None = None
    side: Hand | None = None
    azimuth_deg: float | None = None
    panel_deg: float | None = None
    bend: BendPlace | None = None
    travel_m: float | None = None
    offset_m: float
    sure: bool


def pivot_meetings(
    layout: PivotLayout, place: PivotPlace, kind: FlagKind, *, x_m: float, y_m: float, sigma_m: float = 0.0
) -> tuple[TrackMeeting, ...]:
    """Return the wheels of a pivot that will meet a hole, rut or rock.

    Parameters
    ----------
    layout : PivotLayout
        The machine.
    place : PivotPlace
        The place as seen from it.
    kind : FlagKind
        What lies there; only what a wheel can drop into or run onto counts.
    x_m, y_m : float
        The place in the field's frame. [m]
    sigma_m : float, default 0
        One-axis spread of the position. [m]

    Returns
    -------
    tuple of TrackMeeting
        A tower's wheels, the arm's, both or none. Near is within 3 ft (0.91 m) of the middle of
        the track, or within 1.96 sigma, which is then only a maybe.

    Examples
    --------
    >>> from ringrow.coverage.field import Field
    >>> from ringrow.coverage.locate_pivots import pivot_place_at
    >>> from ringrow.coverage.pivot_layout import lay_out_pivot
    >>> from ringrow.equipment.kinds import FLAG_KINDS
    >>> from ringrow.equipment.pivot import Pivot
    >>> from ringrow.frame import Frame
    >>> pivot = Pivot(name="P1", x_m=0, y_m=0, spans_m=(50.0, 50.0), panel_zero_deg=80.0)
    >>> field = Field(name="F", frame=Frame(lon=0, lat=0), boundary=shapely.box(-200, -200, 200, 200))
    >>> laid = lay_out_pivot(field, pivot, field.boundary)
    >>> place = pivot_place_at(laid, 50.5, 90.0)
    >>> met = pivot_meetings(laid, place, FLAG_KINDS["burrow"], x_m=50.5, y_m=0.0)[0]
    >>> met.tower, met.azimuth_deg, met.panel_deg, met.sure
    (1, 90.0, 10.0, True)
    """
    if kind.name not in WHEEL_KINDS:
        return ()
    met = (_tower(layout.pivot, place, sigma_m), _arm_wheels(layout, x_m, y_m, sigma_m))
    return tuple(sorted((each for each in met if each is not None), key=lambda each: each.offset_m))


def move_meetings(
    place: LateralMovePlace, kind: FlagKind, *, sigma_m: float = 0.0
) -> tuple[TrackMeeting, ...]:
    """Return the wheels of a lateral move that will meet a hole, rut or rock.

    Parameters
    ----------
    place : LateralMovePlace
        The place as seen from the machine.
    kind : FlagKind
        What lies there; only what a wheel can drop into or run onto counts.
    sigma_m : float, default 0
        One-axis spread of the position. [m]

    Returns
    -------
    tuple of TrackMeeting
        The nearest of its wheels, a tower's or the cart's; empty when none comes near.

    Examples
    --------
    >>> from ringrow.coverage.places import LateralMovePlace
    >>> from ringrow.equipment.kinds import FLAG_KINDS
    >>> place = LateralMovePlace(name="L1", travel_m=260.0, side="left", offset_m=101.0, span=3,
    ...                          part="span", tower=2, tower_offset_m=1.0, inside=True)
    >>> met = move_meetings(place, FLAG_KINDS["rut"], sigma_m=2.0)[0]
    >>> met.tower, met.side, met.travel_m, met.sure
    (2, 'left', 260.0, False)
    """
    if kind.name not in WHEEL_KINDS or not place.inside:
        return ()
    off_tower = np.inf if place.tower_offset_m is None else abs(place.tower_offset_m)
    offset, at_cart = min(off_tower, place.offset_m), place.offset_m < off_tower
    if offset > _reach(sigma_m):
        return ()
    return (
        TrackMeeting(
            system=place.name,
            wheels="cart" if at_cart else "tower",
            tower=None if at_cart else place.tower,
            side=None if at_cart else place.side,
            travel_m=place.travel_m,
            offset_m=float(offset),
            sure=bool(offset <= TRACK_REACH_M),
        ),
    )


def _reach(sigma_m: float) -> float:
    return max(TRACK_REACH_M, _WITHIN_SIGMAS * sigma_m)


def _tower(pivot: Pivot, place: PivotPlace, sigma_m: float) -> TrackMeeting | None:
    azimuth, bend = place.azimuth_deg, place.bend
    if azimuth is None or not place.inside or abs(place.tower_offset_m) > _reach(sigma_m):
        return None
    if pivot.sector is not None:
        if bend is not None:
            azimuth = pivot.sector.start_deg if bend.at == "start" else pivot.sector.stop_deg
        elif (azimuth - pivot.sector.start_deg) % 360.0 > pivot.sector.sweep_deg:
            # A corner arm wets ground past the stops, where no tower walks.
            return None
    return TrackMeeting(
        system=pivot.name,
        wheels="tower",
        tower=place.tower,
        azimuth_deg=azimuth,
        panel_deg=_panel(pivot, azimuth),
        bend=bend,
        offset_m=abs(place.tower_offset_m),
        sure=abs(place.tower_offset_m) <= TRACK_REACH_M,
    )


def _arm_wheels(layout: PivotLayout, x_m: float, y_m: float, sigma_m: float) -> TrackMeeting | None:
    if layout.corner_arm is None:
        return None
    path, point = layout.corner_arm.wheel_path, shapely.Point(x_m, y_m)
    offset = float(shapely.distance(path, point))
    if offset > _reach(sigma_m):
        return None
    corners = shapely.get_coordinates(path)
    stations = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(corners, axis=0).T))])
    bearings = wheel_bearings(layout.pivot, layout.corner_arm.course)
    bearing = float(np.interp(shapely.line_locate_point(path, point), stations, bearings))
    azimuth = frame_to_true(layout.pivot, bearing)
    return TrackMeeting(
        system=layout.pivot.name,
        wheels="arm",
        azimuth_deg=azimuth,
        panel_deg=_panel(layout.pivot, azimuth),
        offset_m=offset,
        sure=offset <= TRACK_REACH_M,
    )


def _panel(pivot: Pivot, azimuth_deg: float) -> float | None:
    zero = pivot.panel_zero_deg
    return None if zero is None else (azimuth_deg - zero) % 360.0 % 360.0

"""Where a point lies on a pivot: distance, azimuth, span, tower, outlet."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, get_args

import numpy as np
import shapely

from ringrow.coverage.chances import outlet_chances
from ringrow.coverage.locate_arms import arm_place, arm_places, arm_spot, farthest_m
from ringrow.coverage.locate_bends import bend_places
from ringrow.coverage.locate_field import covers
from ringrow.coverage.places import Part, PivotPlace
from ringrow.errors import PlaceError
from ringrow.geometry.angles import azimuth_deg as frame_bearing
from ringrow.geometry.corner_arm import arm_points
from ringrow.units import FOOT_M

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import ArrayLike, NDArray
    from shapely.geometry.base import BaseGeometry

    from ringrow.coverage.field import PivotLayout
    from ringrow.coverage.locate_arms import ArmPlaces
    from ringrow.coverage.locate_bends import BendPlaces
    from ringrow.coverage.places import ArmPlace
    from ringrow.equipment.pivot import Pivot

AT_THE_POINT_M = 0.1 * FOOT_M
"""Within this distance of the pivot point there is no azimuth [m]."""

PARTS: tuple[Part, ...] = get_args(Part)
"""Parts of a pivot by growing distance: span, overhang, throw, gun, beyond; last, a corner arm."""

_GUN, _BEYOND, _ARM = PARTS.index("gun"), PARTS.index("beyond"), PARTS.index("arm")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PivotPlaces:
    """Where n points lie as seen from one pivot.

    Parameters
    ----------
    distance_m : ndarray, shape (n,)
        Distance from the pivot point. [m]
    azimuth_deg, panel_deg : ndarray, shape (n,)
        True azimuth and what the panel shows there; NaN within 0.1 ft of the point, and panel
        degrees on a machine whose panel shows none. [deg]
    span : ndarray of int, shape (n,)
        Span 1..n; 0 past the last tower.
    part : ndarray of int, shape (n,)
        Index into `PARTS`.
    tower : ndarray of int, shape (n,)
        Nearest tower by radius, 1..n; half way between two, the inner one.
    tower_offset_m : ndarray, shape (n,)
        Distance less that tower's radius. [m]
    outlet, outlet_first, outlet_last : ndarray of int, shape (n,)
        Nearest outlet and the run around it that holds 0.95; 0 past the pipe end and where
        outlets are not known.
    outlet_chance : ndarray, shape (n,)
        Chance of the nearest outlet; NaN where `outlet` is 0. [-]
    inside : ndarray of bool, shape (n,)
        Whether this pivot wets the point.
    bends : BendPlaces or None, default None
        Where outer spans that walk on past a stop pass over the points; tower, span, outlet are by
        the bent pipe there. None for a machine without bends.
    arms : ArmPlaces or None, default None
        Where the corner arm passes over the points; None for a machine without one.
    """

    distance_m: NDArray[np.float64]
    azimuth_deg: NDArray[np.float64]
    panel_deg: NDArray[np.float64]
    span: NDArray[np.int64]
    part: NDArray[np.int64]
    tower: NDArray[np.int64]
    tower_offset_m: NDArray[np.float64]
    outlet: NDArray[np.int64]
    outlet_first: NDArray[np.int64]
    outlet_last: NDArray[np.int64]
    outlet_chance: NDArray[np.float64]
    inside: NDArray[np.bool_]
    bends: BendPlaces | None = None
    arms: ArmPlaces | None = None


_COLUMNS = tuple(name for name in PivotPlaces.__slots__ if name not in ("bends", "arms"))


def nearest_towers(pivot: Pivot, distance_m: ArrayLike) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Return the tower whose wheel track is nearest to each distance.

    Parameters
    ----------
    pivot : Pivot
        The machine.
    distance_m : array_like, shape (n,)
        Distances from the pivot point. [m]

    Returns
    -------
    tower : ndarray of int, shape (n,)
        Nearest tower, 1..n; half way between two, the inner one.
    tower_offset_m : ndarray, shape (n,)
        Distance less that tower's radius, outward positive. [m]

    Examples
    --------
    >>> from ringrow.equipment.pivot import Pivot
    >>> machine = Pivot(name="P1", x_m=0, y_m=0, spans_m=(50.0, 50.0, 40.0))
    >>> nearest_towers(machine, [10.0, 75.0, 152.0])
    (array([1, 1, 3]), array([-40.,  25.,  12.]))
    """
    radii = np.array(pivot.tower_radii_m)
    distance = np.asarray(distance_m, float)
    index = _passed((radii[1:] + radii[:-1]) / 2.0, distance)
    return index + 1, distance - radii[index]


def distances_m(pivot: Pivot, x: ArrayLike, y: ArrayLike) -> NDArray[np.float64]:
    """Return the distance of each point from the pivot point.

    Parameters
    ----------
    pivot : Pivot
        The machine.
    x, y : array_like, shape (n,)
        Points in the field's frame. [m]

    Returns
    -------
    ndarray, shape (n,)
        Distances. [m]

    Examples
    --------
    >>> from ringrow.equipment.pivot import Pivot
    >>> distances_m(Pivot(name="P1", x_m=10, y_m=0, spans_m=(50.0,)), [13.0], [4.0])
    array([5.])
    """
    east, north = np.asarray(x, float) - pivot.x_m, np.asarray(y, float) - pivot.y_m
    # Ten times as fast as np.hypot, which guards against numbers that no field has.
    distance: NDArray[np.float64] = np.sqrt(east * east + north * north)
    return distance


def pivot_places(layout_pivot: PivotLayout, x: ArrayLike, y: ArrayLike, sigma_m: ArrayLike) -> PivotPlaces:
    """Return where each point lies as seen from one pivot.

    Parameters
    ----------
    layout_pivot : PivotLayout
        The pivot with its wetted ground.
    x, y : array_like, shape (n,)
        Points in the field's frame. [m]
    sigma_m : array_like
        One-axis spread of each fix, or one for all. [m]

    Returns
    -------
    PivotPlaces
        One entry for each point, in their order.
    """
    pivot = layout_pivot.pivot
    x, y = np.atleast_1d(x), np.atleast_1d(y)
    distance = distances_m(pivot, x, y)
    azimuth = _turned(frame_bearing(x - pivot.x_m, y - pivot.y_m), pivot.convergence_deg)
    azimuth = np.where(distance <= AT_THE_POINT_M, np.nan, azimuth)
    bends = bend_places(pivot, x, y) if pivot.bends else None
    pipe = distance if bends is None else np.where(bends.end < 0, distance, bends.pipe_m)
    columns = _by_distance(pivot, pipe, sigma_m) | {"distance_m": distance}
    inside = _wetted(layout_pivot, x, y, distance)
    arms = None
    if layout_pivot.corner_arm is not None:
        arms = _arms_beyond(layout_pivot, x, y, columns["part"], inside)
        columns["part"] = _arm_parts(layout_pivot, columns["part"], arms)
    return PivotPlaces(
        azimuth_deg=azimuth,
        panel_deg=_panel(azimuth, pivot),
        inside=inside,
        bends=bends,
        arms=arms,
        **columns,
    )


def _arms_beyond(
    layout_pivot: PivotLayout,
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    part: NDArray[np.int64],
    inside: NDArray[np.bool_],
) -> ArmPlaces:
    """Return where the corner arm passes over points that its main pipe does not."""
    beyond = (part > PARTS.index("span")) | (inside & ~covers(layout_pivot.base, x, y))
    return arm_places(layout_pivot, np.where(beyond, x, np.inf), np.where(beyond, y, np.inf))


def _arm_parts(layout_pivot: PivotLayout, part: NDArray[np.int64], arms: ArmPlaces) -> NDArray[np.int64]:
    """Return parts with those beyond the main pipe told apart: arm, its gun, beyond both."""
    laid = layout_pivot.corner_arm
    reach_m = farthest_m(layout_pivot) if laid is None else laid.arm.reach_m
    part = np.where(part > PARTS.index("span"), _BEYOND, part)
    part = np.where(np.isnan(arms.along_m), part, _GUN)
    return np.where(arms.along_m <= reach_m + 1e-6, _ARM, part)


def pivot_place_list(layout_pivot: PivotLayout, places: PivotPlaces) -> list[PivotPlace]:
    """Return array answers of one pivot as plain objects.

    Parameters
    ----------
    layout_pivot : PivotLayout
        The pivot the answers are about.
    places : PivotPlaces
        Its answers.

    Returns
    -------
    list of PivotPlace
        One for each point, in their order.
    """
    columns = (getattr(places, name).tolist() for name in _COLUMNS)
    rows = [dict(zip(_COLUMNS, row, strict=True)) for row in zip(*columns, strict=True)]
    bends, arms = places.bends, places.arms
    for row, answers in enumerate(rows):
        answers["bend"] = None if bends is None else bends.place(row)
        answers["arm"] = None if arms is None else arm_place(layout_pivot, arms, row)
    return [_plain(layout_pivot.pivot.name, row) for row in rows]


def pivot_place_at(
    layout_pivot: PivotLayout, distance_m: float, azimuth_deg: float | None = None
) -> PivotPlace:
    """Return a place named on the machine itself, such as tower 5.

    Parameters
    ----------
    layout_pivot : PivotLayout
        The pivot with its wetted ground.
    distance_m : float
        Distance from the pivot point along the pipe, 0 to the pipe's length; on a machine with a
        corner arm, on along the arm to its end. [m]
    azimuth_deg : float or None, default None
        True azimuth at which the machine stands, its spans in line; None when not known. [deg]

    Returns
    -------
    PivotPlace
        The place; the outlet, when outlets are known, with chance 1. Without an azimuth
        `inside` tells whether the machine wets that distance anywhere.

    Raises
    ------
    PlaceError
        If the distance is not on the machine.
    """
    pivot = layout_pivot.pivot
    end_m = pipe_end_m(pivot)
    # Half a foot of grace: an owner's own figures for spans and for a fault need not agree to the inch.
    if not 0 <= distance_m <= end_m + 0.5 * FOOT_M:
        message = (
            f'pivot "{pivot.name}" distance: found {distance_m:,.1f} m ({distance_m / FOOT_M:,.0f} ft); '
            f"allowed: 0 to {end_m:,.1f} m ({end_m / FOOT_M:,.0f} ft), its pipe end"
        )
        raise PlaceError(message)
    distance = min(distance_m, end_m)
    if pivot.corner_arm is not None and distance > pivot.length_m:
        return _place_on_arm(layout_pivot, distance - pivot.length_m, azimuth_deg)
    return _place_on_pipe(layout_pivot, distance, azimuth_deg)


def pipe_end_m(pivot: Pivot) -> float:
    """Return how far from the pivot point a machine's pipe ends, a corner arm's pipe counted on.

    Parameters
    ----------
    pivot : Pivot
        The machine.

    Returns
    -------
    float
        Along the pipe. [m]

    Examples
    --------
    >>> from ringrow.equipment.pivot import Pivot
    >>> pipe_end_m(Pivot(name="P1", x_m=0, y_m=0, spans_m=(50.0, 50.0), overhang_m=12.0))
    112.0
    """
    arm = pivot.corner_arm
    return pivot.length_m if arm is None else pivot.length_m + arm.length_m + arm.overhang_m


def _place_on_arm(layout_pivot: PivotLayout, along_m: float, azimuth_deg: float | None) -> PivotPlace:
    arm = arm_spot(layout_pivot, along_m, azimuth_deg=azimuth_deg)
    hinge_m, straight_m = layout_pivot.pivot.length_m, layout_pivot.pivot.length_m + along_m
    distance, azimuth = straight_m, None
    if arm.angle_deg is not None and azimuth_deg is not None:
        x, y = arm_xy(layout_pivot, arm)
        east, north = x - layout_pivot.pivot.x_m, y - layout_pivot.pivot.y_m
        distance = math.hypot(east, north)
        azimuth = math.degrees(math.atan2(east, north)) - layout_pivot.pivot.convergence_deg
    place = _place_on_pipe(layout_pivot, hinge_m, None if azimuth is None else azimuth % 360.0 % 360.0)
    return replace(
        place,
        distance_m=distance,
        span=None,
        part="arm",
        tower_offset_m=distance - hinge_m,
        outlet=None,
        outlet_range=None,
        outlet_chance=None,
        inside=True,
        arm=arm,
    )


def arm_xy(layout_pivot: PivotLayout, arm: ArmPlace) -> tuple[float, float]:
    """Return where a place on a corner arm is, the azimuth and hinge angle being known.

    Parameters
    ----------
    layout_pivot : PivotLayout
        A machine with a corner arm.
    arm : ArmPlace
        The place.

    Returns
    -------
    tuple of float
        x and y in the field's frame. [m]

    Raises
    ------
    PlaceError
        If the machine has no corner arm, or the azimuth is not known.
    """
    if layout_pivot.corner_arm is None or arm.azimuth_deg is None or arm.angle_deg is None:
        message = (
            f'corner arm of "{layout_pivot.pivot.name}": found no azimuth or no arm; '
            "allowed: a place on an arm whose azimuth is known"
        )
        raise PlaceError(message)
    bearing = np.array([arm.azimuth_deg + layout_pivot.pivot.convergence_deg])
    at = arm_points(layout_pivot.corner_arm.arm, bearing, np.array([arm.angle_deg]), along_m=arm.along_m)[0]
    return float(at[0]), float(at[1])


def _place_on_pipe(layout_pivot: PivotLayout, distance: float, azimuth_deg: float | None) -> PivotPlace:
    pivot = layout_pivot.pivot
    bearing = math.radians((azimuth_deg or 0.0) + pivot.convergence_deg)
    x, y = pivot.x_m + distance * math.sin(bearing), pivot.y_m + distance * math.cos(bearing)
    azimuth = np.array([np.nan if azimuth_deg is None else azimuth_deg % 360.0])
    by_distance = _by_distance(pivot, np.array([distance]), 1.0)
    by_distance |= {
        "outlet_first": by_distance["outlet"],
        "outlet_last": by_distance["outlet"],
        "outlet_chance": np.ones(1),
    }
    places = PivotPlaces(
        azimuth_deg=azimuth,
        panel_deg=_panel(azimuth, pivot),
        inside=np.array([True]) if azimuth_deg is None else covers(layout_pivot.wetted, [x], [y]),
        bends=None,
        arms=None,
        **by_distance,
    )
    return pivot_place_list(layout_pivot, places)[0]


def _panel(azimuth: NDArray[np.float64], pivot: Pivot) -> NDArray[np.float64]:
    """Return what the panel shows; NaN on a machine whose panel shows no angle."""
    if pivot.panel_zero_deg is None:
        return np.full_like(azimuth, np.nan)
    return _turned(azimuth, pivot.panel_zero_deg)


def _turned(angle: NDArray[np.float64], zero_deg: float) -> NDArray[np.float64]:
    """Return angles counted from `zero_deg`, 0 <= angle < 360."""
    turned = np.mod(angle - zero_deg, 360.0)
    # A tiny negative angle modulo 360 rounds to 360 itself.
    return np.where(turned >= 360.0, 0.0, turned)


def _by_distance(pivot: Pivot, distance: NDArray[np.float64], sigma_m: ArrayLike) -> dict[str, NDArray[Any]]:
    """Return the columns of `PivotPlaces` that the distance alone settles."""
    tower, tower_offset = nearest_towers(pivot, distance)
    on_pipe = distance <= pivot.length_m
    outlets = outlet_chances(pivot.outlets_m, distance, sigma_m)
    return {
        "distance_m": distance,
        "span": _spans(pivot, distance),
        "part": _parts(pivot, distance),
        "tower": tower,
        "tower_offset_m": tower_offset,
        "outlet": np.where(on_pipe, outlets.outlet, 0),
        "outlet_first": np.where(on_pipe, outlets.first, 0),
        "outlet_last": np.where(on_pipe, outlets.last, 0),
        "outlet_chance": np.where(on_pipe, outlets.chance, np.nan),
    }


def _passed(limits_m: Iterable[float], distance: NDArray[np.float64]) -> NDArray[np.int64]:
    """Return how many of a few rising limits each distance lies beyond."""
    passed = np.zeros(distance.shape, np.int64)
    for limit_m in limits_m:
        # A dozen comparisons of whole arrays cost a tenth of a search in each.
        passed += distance > limit_m
    return passed


def _spans(pivot: Pivot, distance: NDArray[np.float64]) -> NDArray[np.int64]:
    towers = _passed(pivot.tower_radii_m, distance)
    return np.where(towers < len(pivot.spans_m), towers + 1, 0)


def _parts(pivot: Pivot, distance: NDArray[np.float64]) -> NDArray[np.int64]:
    """Return the index into `PARTS` of what reaches each distance."""
    base_m = pivot.base_radius_m
    gun_m = base_m if pivot.gun_radius_m is None else max(pivot.gun_radius_m, base_m)
    return _passed([pivot.tower_radii_m[-1], pivot.length_m, base_m, gun_m], distance)


def _wetted(
    layout_pivot: PivotLayout, x: NDArray[np.float64], y: NDArray[np.float64], distance: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Tell which points the pivot wets; only points between two circles ask the polygon."""
    wetted = layout_pivot.wetted
    surely_m, at_most_m = _wet_radii(layout_pivot.pivot, wetted)
    inside = distance < surely_m
    ask = ~inside & (distance <= at_most_m)
    inside[ask] = covers(wetted, x[ask], y[ask])
    return inside


def _wet_radii(pivot: Pivot, wetted: BaseGeometry) -> tuple[float, float]:
    """Return the radius within which all ground is wet, and the one beyond which none is [m]."""
    if wetted.is_empty:
        return 0.0, -1.0
    point = shapely.Point(pivot.x_m, pivot.y_m)
    corners = shapely.get_coordinates(wetted)
    at_most_m = np.hypot(corners[:, 0] - pivot.x_m, corners[:, 1] - pivot.y_m).max()
    surely_m = shapely.distance(point, wetted.boundary) if wetted.covers(point) else 0.0
    # Less or more than rounding can move it.
    return surely_m - 1e-6, float(at_most_m) + 1e-6


def _plain(name: str, row: dict[str, Any]) -> PivotPlace:
    nowhere = math.isnan(row["azimuth_deg"])
    outlet = row["outlet"]
    return PivotPlace(
        name=name,
        distance_m=row["distance_m"],
        azimuth_deg=None if nowhere else row["azimuth_deg"],
        panel_deg=None if nowhere or math.isnan(row["panel_deg"]) else row["panel_deg"],
        span=row["span"] or None,
        part=PARTS[row["part"]],
        tower=row["tower"],
        tower_offset_m=row["tower_offset_m"],
        outlet=outlet or None,
        outlet_range=(row["outlet_first"], row["outlet_last"]) if outlet else None,
        outlet_chance=row["outlet_chance"] if outlet else None,
        inside=row["inside"],
        bend=row["bend"],
        arm=row["arm"],
    )

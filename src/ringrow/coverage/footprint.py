"""The ground a fault on a pivot touches: a ring, an arc, or the whole machine's."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
import shapely
from shapely import Polygon

from ringrow.geometry.arcs import base_and_ring, circle_polygon, sector_polygon
from ringrow.units import FOOT_M

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from ringrow.coverage.field import PivotLayout
    from ringrow.coverage.places import PivotPlace
    from ringrow.equipment.kinds import FlagClass, FlagKind
    from ringrow.equipment.pivot import Pivot

Effect = Literal["dry", "wet", "stopped"]

OUTLET_WIDTH_M = 10 * FOOT_M
"""Width of an outlet's ring when the machine's outlets are not known [m]: our assumption."""

TRACK_REACH_M = 3 * FOOT_M
"""A hole this near to the middle of a wheel track is met by the wheels [m]: our choice."""

_OUTLET_KINDS = frozenset({"sprinkler", "drop", "regulator"})
_GUN_KINDS = frozenset({"end-gun", "booster"})
_WHEEL_KINDS = frozenset({"rut", "washout", "burrow", "rock", "loose-part"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Footprint:
    """What a fault touches.

    Parameters
    ----------
    effect : {"dry", "wet", "stopped"}
        Too little water there, too much, or the whole machine stands still.
    area_m2 : float
        Farmable ground touched. [m2]
    shape : shapely geometry
        That ground. [m]
    inner_m, outer_m : float or None
        Radii of the ring; None for the whole machine. [m]
    assumed : tuple of str
        What had to be assumed, in plain words.
    """

    effect: Effect
    area_m2: float
    shape: BaseGeometry
    inner_m: float | None
    outer_m: float | None
    assumed: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class TrackMeeting:
    """A tower whose wheels will meet a hole in the ground.

    Parameters
    ----------
    tower : int
        The tower, 1..n.
    azimuth_deg : float
        True azimuth of the machine when they do. [deg]
    """

    tower: int
    azimuth_deg: float


def footprint(
    layout: PivotLayout, place: PivotPlace, kind: FlagKind, *, flag_class: FlagClass, farmable: BaseGeometry
) -> Footprint | None:
    """Return the ground that a fault on a machine touches.

    Parameters
    ----------
    layout : PivotLayout
        The machine's wetted ground.
    place : PivotPlace
        Where on the machine the fault sits.
    kind : FlagKind
        What is wrong.
    flag_class : FlagClass
        Class in force for this flag.
    farmable : shapely geometry
        Ground that counts. [m]

    Returns
    -------
    Footprint or None
        Its ground; None for a fault that touches none by itself, such as a missing cover.

    Notes
    -----
    A bad outlet touches the ring between the midpoints to its neighbours, a leaking span the ring
    of that span, a bad gun the gun's arcs; a fault that stops the machine touches all it waters.

    Examples
    --------
    >>> from ringrow.coverage.field import PivotLayout
    >>> from ringrow.coverage.places import PivotPlace
    >>> from ringrow.equipment.kinds import FLAG_KINDS
    >>> from ringrow.equipment.pivot import Pivot
    >>> from ringrow.geometry.arcs import circle_polygon
    >>> disc = circle_polygon(0, 0, 400)
    >>> layout = PivotLayout(pivot=Pivot(name="P1", x_m=0, y_m=0, spans_m=(395.0,), throw_m=5.0),
    ...                      base=disc, gun=Polygon(), gun_arcs=(), wetted=disc)
    >>> place = PivotPlace(name="P1", distance_m=381.0, azimuth_deg=None, panel_deg=None, span=1,
    ...                    part="span", tower=1, tower_offset_m=-14.0, outlet=None, outlet_range=None,
    ...                    outlet_chance=None, inside=True)
    >>> ring = footprint(layout, place, FLAG_KINDS["drop"], flag_class="acres", farmable=disc)
    >>> round(ring.area_m2 / 4046.8564224, 1)  # 10 ft wide at 1,250 ft
    1.8
    """
    pivot = layout.pivot
    if flag_class == "stops" or kind.flag_class == "stops":
        return _on(farmable, layout.wetted, effect="stopped")
    if kind.name in _GUN_KINDS:
        return None if layout.gun.is_empty else _on(farmable, layout.gun, effect="dry")
    if kind.name in _OUTLET_KINDS and place.part in ("span", "overhang", "throw"):
        inner, outer, assumed = _outlet_ring(pivot, place)
        return _ring(layout, farmable, inner, outer, effect="dry", assumed=assumed)
    if kind.name == "span-leak" and place.part in ("span", "overhang"):
        inner, outer = _span_ring(pivot, place)
        return _ring(layout, farmable, inner, outer, effect="wet")
    return None


def track_meeting(
    place: PivotPlace, kind: FlagKind, *, reach_m: float = TRACK_REACH_M
) -> TrackMeeting | None:
    """Return the tower whose wheels will meet a hole, rut or rock, and where the machine then stands.

    Parameters
    ----------
    place : PivotPlace
        The place seen from the pivot.
    kind : FlagKind
        What lies there; only what a wheel can drop into or run onto counts.
    reach_m : float, default 0.9144
        Farthest it may lie from the middle of the track. [m]

    Returns
    -------
    TrackMeeting or None
        Tower and azimuth; None when no wheel comes near or the machine does not water the place.
    """
    if kind.name not in _WHEEL_KINDS or place.azimuth_deg is None or not place.inside:
        return None
    if abs(place.tower_offset_m) > reach_m:
        return None
    return TrackMeeting(tower=place.tower, azimuth_deg=place.azimuth_deg)


def _outlet_ring(pivot: Pivot, place: PivotPlace) -> tuple[float, float, tuple[str, ...]]:
    if place.outlet is None or not pivot.outlets_m:
        half = OUTLET_WIDTH_M / 2
        inner, outer = max(place.distance_m - half, 0.0), min(place.distance_m + half, pivot.base_radius_m)
        return inner, outer, ("outlets not known: ring taken as 10 ft (3.05 m) wide",)
    outlets = np.asarray(pivot.outlets_m)
    edges = np.concatenate([[0.0], (outlets[1:] + outlets[:-1]) / 2, [pivot.base_radius_m]])
    return float(edges[place.outlet - 1]), float(edges[place.outlet]), ()


def _span_ring(pivot: Pivot, place: PivotPlace) -> tuple[float, float]:
    radii = (0.0, *pivot.tower_radii_m, pivot.length_m)
    index = len(pivot.spans_m) + 1 if place.span is None else place.span
    return radii[index - 1], radii[index]


def _ring(
    layout: PivotLayout,
    farmable: BaseGeometry,
    inner_m: float,
    outer_m: float,
    *,
    effect: Effect,
    assumed: tuple[str, ...] = (),
) -> Footprint:
    shape = annulus(layout.pivot, inner_m, outer_m)
    found = _on(farmable, shape, effect=effect)
    return Footprint(
        effect=effect,
        area_m2=found.area_m2,
        shape=found.shape,
        inner_m=inner_m,
        outer_m=outer_m,
        assumed=assumed,
    )


def annulus(pivot: Pivot, inner_m: float, outer_m: float) -> Polygon:
    """Return the ring, or the arc of it that a part circle walks, between two radii.

    Parameters
    ----------
    pivot : Pivot
        The machine.
    inner_m, outer_m : float
        Radii, inner 0 or more and below outer. [m]

    Returns
    -------
    shapely Polygon
        The ring. [m]
    """
    x, y, sector = pivot.x_m, pivot.y_m, pivot.sector
    if sector is None:
        if inner_m <= 0:
            return circle_polygon(x, y, outer_m)
        ring: Polygon = base_and_ring(x, y, inner_m, outer_m, arcs_deg="full").ring
        return ring
    limits = (sector.start_deg + pivot.convergence_deg, sector.stop_deg + pivot.convergence_deg)
    if inner_m <= 0:
        return sector_polygon(x, y, outer_m, *limits)
    part: Polygon = base_and_ring(x, y, inner_m, outer_m, limits_deg=limits, arcs_deg=[limits]).ring
    return part


def _on(farmable: BaseGeometry, shape: BaseGeometry, *, effect: Effect) -> Footprint:
    ground = shapely.intersection(farmable, shape)
    return Footprint(effect=effect, area_m2=float(ground.area), shape=ground, inner_m=None, outer_m=None)

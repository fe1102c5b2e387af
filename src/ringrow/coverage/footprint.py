"""The ground a fault on a machine touches: a ring, an arc, a strip, or all that the machine wets."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
import shapely
from shapely import Polygon

from ringrow.coverage.arm_layout import arm_pieces, closed_course
from ringrow.coverage.locate_bends import ENDS
from ringrow.geometry.arcs import base_and_ring, circle_polygon, sector_polygon
from ringrow.geometry.bends import BendTurn, pipe_course
from ringrow.units import FOOT_M

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from shapely.geometry.base import BaseGeometry

    from ringrow.coverage.field import LateralMoveLayout, PivotLayout
    from ringrow.coverage.places import LateralMovePlace, PivotPlace
    from ringrow.equipment.kinds import FlagClass, FlagKind
    from ringrow.equipment.lateral_move import Hand
    from ringrow.equipment.pivot import Pivot
    from ringrow.geometry.travel import TravelPath

Effect = Literal["dry", "wet", "stopped"]

OUTLET_WIDTH_M = 10 * FOOT_M
"""Width of an outlet's ring when the machine's outlets are not known [m]: our assumption."""

_OUTLET_KINDS = frozenset({"sprinkler", "drop", "regulator"})
_GUN_KINDS = frozenset({"end-gun", "booster"})
_ASSUMED = "outlets not known: {} taken as 10 ft (3.05 m) wide"


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
        That ground in its field's frame; empty when it lies in more than one field. [m]
    inner_m, outer_m : float or None
        Between which distances along the pipe it lies: from the pivot point (the radii of the
        ring), on a corner arm from its hinge, on a lateral move from the cart; None for the whole
        machine. [m]
    assumed : tuple of str
        What had to be assumed, in plain words.
    """

    effect: Effect
    area_m2: float
    shape: BaseGeometry
    inner_m: float | None
    outer_m: float | None
    assumed: tuple[str, ...] = ()


def stops(kind: FlagKind, flag_class: FlagClass) -> bool:
    """Return whether a fault keeps its machine, or a well, from running.

    Parameters
    ----------
    kind : FlagKind
        What is wrong.
    flag_class : FlagClass
        Class in force for this flag.

    Returns
    -------
    bool
        True for the class ``stops``; for what is called unsafe, when its kind stops a machine
        anyway or it sits at the works, which nobody may run then.

    Examples
    --------
    >>> from ringrow.equipment.kinds import FLAG_KINDS
    >>> [stops(FLAG_KINDS[name], "unsafe") for name in ("gearbox", "panel", "cover")]
    [True, True, False]
    >>> stops(FLAG_KINDS["gearbox"], "later")  # somebody looked, and says it can wait
    False
    """
    if flag_class == "stops":
        return True
    return flag_class == "unsafe" and (kind.on == "works" or kind.flag_class == "stops")


def stopped_ground(grounds: Iterable[tuple[BaseGeometry, BaseGeometry]]) -> Footprint:
    """Return the ground of systems that stand still.

    Parameters
    ----------
    grounds : iterable of tuple
        For each field its farmable ground and all that the stopped systems wet there. [m]

    Returns
    -------
    Footprint
        Effect ``stopped``; the areas of all fields together, the shape only of a lone one.

    Examples
    --------
    >>> from shapely import box
    >>> stopped_ground([(box(0, 0, 10, 10), box(5, 0, 20, 10))]).area_m2
    50.0
    """
    shapes = [shapely.intersection(farmable, wetted) for farmable, wetted in grounds]
    return Footprint(
        effect="stopped",
        area_m2=float(sum(shape.area for shape in shapes)),
        shape=shapes[0] if len(shapes) == 1 else Polygon(),
        inner_m=None,
        outer_m=None,
    )


def footprint(
    layout: PivotLayout, place: PivotPlace, kind: FlagKind, *, flag_class: FlagClass, farmable: BaseGeometry
) -> Footprint | None:
    """Return the ground that a fault on a pivot touches.

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
    Where the pipe bends or an arm carries the outlet, the ring goes on as it walks.

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
    pivot, arm = layout.pivot, place.arm
    if stops(kind, flag_class):
        return stopped_ground([(farmable, layout.wetted)])
    if kind.name in _GUN_KINDS:
        gun = layout.gun if layout.corner_arm is None else layout.corner_arm.gun
        return None if gun.is_empty else _on(farmable, gun, effect="dry")
    if kind.name in _OUTLET_KINDS and place.part == "arm" and arm is not None and pivot.corner_arm:
        inner, outer = _ten_feet(arm.along_m, pivot.corner_arm.reach_m)
        shape = arm_strip(layout, inner, outer)
        return _on(farmable, shape, effect="dry", limits=(inner, outer), assumed=(_ASSUMED.format("strip"),))
    if kind.name in _OUTLET_KINDS and place.part in ("span", "overhang", "throw"):
        inner, outer, assumed = _outlet_ring(pivot, place)
        return _on(
            farmable, _walked(pivot, inner, outer), effect="dry", limits=(inner, outer), assumed=assumed
        )
    if kind.name == "span-leak" and place.part == "arm" and pivot.corner_arm:
        outer = pivot.corner_arm.length_m + pivot.corner_arm.overhang_m
        return _on(farmable, arm_strip(layout, 0.0, outer), effect="wet", limits=(0.0, outer))
    if kind.name == "span-leak" and place.part in ("span", "overhang"):
        inner, outer = _span_ring(pivot, place)
        return _on(farmable, _walked(pivot, inner, outer), effect="wet", limits=(inner, outer))
    return None


def move_footprint(
    layout: LateralMoveLayout,
    place: LateralMovePlace,
    kind: FlagKind,
    *,
    flag_class: FlagClass,
    farmable: BaseGeometry,
) -> Footprint | None:
    """Return the ground that a fault on a lateral move touches.

    Parameters
    ----------
    layout : LateralMoveLayout
        The machine's wetted ground.
    place : LateralMovePlace
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
        For an outlet a strip 10 ft (3.05 m) wide, assumed, the length of the path; for a leaking
        span that span's strip; for what stops the machine all it waters; else None.
    """
    if stops(kind, flag_class):
        return stopped_ground([(farmable, layout.wetted)])
    wing = layout.move.wing(place.side)
    if kind.name in _OUTLET_KINDS and place.part != "beyond":
        inner, outer = _ten_feet(place.offset_m, wing.reach_m)
        shape = travel_strip(layout.path, place.side, inner, outer)
        return _on(farmable, shape, effect="dry", limits=(inner, outer), assumed=(_ASSUMED.format("strip"),))
    if kind.name == "span-leak" and place.part in ("span", "overhang"):
        offsets = (0.0, *wing.tower_offsets_m, wing.length_m)
        index = len(wing.spans_m) + 1 if place.span is None else place.span
        inner, outer = offsets[index - 1], offsets[index]
        shape = travel_strip(layout.path, place.side, inner, outer)
        return _on(farmable, shape, effect="wet", limits=(inner, outer))
    return None


def travel_strip(path: TravelPath, side: Hand, inner_m: float, outer_m: float) -> BaseGeometry:
    """Return the ground that a piece of a lateral move's pipe passes over.

    Parameters
    ----------
    path : TravelPath
        The cart's path.
    side : {"left", "right"}
        Side of the cart, seen in the direction of travel.
    inner_m, outer_m : float
        Distances from the cart between which the piece lies, inner 0 or more and below outer. [m]

    Returns
    -------
    shapely geometry
        Along each leg a strip, at each corner an arc of a ring. [m]

    Examples
    --------
    >>> from ringrow.geometry.travel import travel_path
    >>> round(travel_strip(travel_path([[0, 0], [0, 100], [100, 100]]), "left", 10, 13).area, 1)
    654.2
    """
    hand = 90.0 if side == "right" else -90.0
    sign = 1.0 if side == "right" else -1.0
    pieces: list[BaseGeometry] = []
    for leg, bearing in enumerate(path.bearings_deg.tolist()):
        begin, end = path.corners_m[leg], path.corners_m[leg + 1]
        turn = np.radians(bearing)
        square = sign * np.array([np.cos(turn), -np.sin(turn)])
        corners = [begin + inner_m * square, end + inner_m * square]
        pieces.append(Polygon([*corners, end + outer_m * square, begin + outer_m * square]))
        if leg:
            before = float(path.bearings_deg[leg - 1])
            turned = (bearing - before + 180.0) % 360.0 - 180.0
            limits = sorted((before + hand, before + hand + turned))
            if abs(turned) > 1e-9:
                pieces.append(_ring_part(float(begin[0]), float(begin[1]), inner_m, outer_m, limits))
    return shapely.union_all(pieces)


def arm_strip(layout: PivotLayout, inner_m: float, outer_m: float) -> BaseGeometry:
    """Return the ground that a piece of a corner arm passes over.

    Parameters
    ----------
    layout : PivotLayout
        A machine with a corner arm.
    inner_m, outer_m : float
        Distances from the hinge between which the piece lies, inner below outer. [m]

    Returns
    -------
    shapely geometry
        Union over the turn; empty without an arm. [m]
    """
    laid = layout.corner_arm
    if laid is None:
        return Polygon()
    pieces = arm_pieces(laid.arm, *closed_course(laid.course), inner_m=inner_m, outer_m=outer_m)
    return shapely.union_all(pieces)


def _ten_feet(middle_m: float, most_m: float) -> tuple[float, float]:
    """Return the limits of an outlet's ground when outlets are not known."""
    half = OUTLET_WIDTH_M / 2
    outer = min(middle_m + half, most_m)
    # A place typed a little past the end still has ground of its own.
    return max(min(middle_m, most_m) - half, 0.0), outer


def _outlet_ring(pivot: Pivot, place: PivotPlace) -> tuple[float, float, tuple[str, ...]]:
    if place.outlet is None or not pivot.outlets_m:
        return *_ten_feet(place.pipe_m, pivot.base_radius_m), (_ASSUMED.format("ring"),)
    outlets = np.asarray(pivot.outlets_m)
    edges = np.concatenate([[0.0], (outlets[1:] + outlets[:-1]) / 2, [pivot.base_radius_m]])
    return float(edges[place.outlet - 1]), float(edges[place.outlet]), ()


def _span_ring(pivot: Pivot, place: PivotPlace) -> tuple[float, float]:
    radii = (0.0, *pivot.tower_radii_m, pivot.length_m)
    index = len(pivot.spans_m) + 1 if place.span is None else place.span
    return radii[index - 1], radii[index]


def _walked(pivot: Pivot, inner_m: float, outer_m: float) -> BaseGeometry:
    """Return the ring of a piece of the pipe, and what it passes over in the bends."""
    if not pivot.bends:
        return annulus(pivot, inner_m, outer_m)
    return shapely.union_all([annulus(pivot, inner_m, outer_m), *_bent_rings(pivot, inner_m, outer_m)])


def _bent_rings(pivot: Pivot, inner_m: float, outer_m: float) -> Iterator[BaseGeometry]:
    for end in ENDS if pivot.sector is not None else ():
        sector, sign = pivot.sector, 1.0 if end == "stop" else -1.0
        azimuth = 0.0 if sector is None else sector.stop_deg if end == "stop" else sector.start_deg
        main = bearing = azimuth + pivot.convergence_deg
        walked: list[BendTurn] = []
        for bend in (each for each in pivot.bends if each.at == end):
            radius = pivot.tower_radii_m[bend.tower - 1]
            centre = pipe_course(pivot.x_m, pivot.y_m, main, [radius], walked, side=end)[0]
            limits = sorted((bearing, bearing + sign * bend.sweep_deg))
            if outer_m > radius:
                inner = max(inner_m - radius, 0.0)
                yield _ring_part(float(centre[0]), float(centre[1]), inner, outer_m - radius, limits)
            walked.append(BendTurn(radius_m=radius, sweep_deg=bend.sweep_deg))
            bearing += sign * bend.sweep_deg


def _ring_part(x_m: float, y_m: float, inner_m: float, outer_m: float, limits: Sequence[float]) -> Polygon:
    """Return an arc of a ring between two frame bearings, the first below the second."""
    start, stop = limits[0] % 360.0, limits[1] % 360.0
    if inner_m <= 0:
        return sector_polygon(x_m, y_m, outer_m, start, stop)
    part: Polygon = base_and_ring(
        x_m, y_m, inner_m, outer_m, limits_deg=(start, stop), arcs_deg=[(start, stop)]
    ).ring
    return part


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
    return _ring_part(x, y, inner_m, outer_m, limits)


def _on(
    farmable: BaseGeometry,
    shape: BaseGeometry,
    *,
    effect: Effect,
    limits: tuple[float, float] | None = None,
    assumed: tuple[str, ...] = (),
) -> Footprint:
    # Most rings lie wholly on farmed ground, and asking is far quicker than cutting.
    shapely.prepare(farmable)
    ground = shape if shapely.covers(farmable, shape) else shapely.intersection(farmable, shape)
    return Footprint(
        effect=effect,
        area_m2=float(ground.area),
        shape=ground,
        inner_m=None if limits is None else limits[0],
        outer_m=None if limits is None else limits[1],
        assumed=assumed,
    )

"""Where each end gun runs, what it gains, what it gives up, and where it throws amiss."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import shapely
from shapely import Polygon

from ringrow.coverage.arm_layout import arm_arcs_off_guarded, arm_gun_arcs, arm_gun_ground
from ringrow.coverage.gun_rules import (
    arcs_off_guarded,
    full_radius_m,
    gun_arcs_found,
    sector_limits,
    to_sectors,
)
from ringrow.coverage.pivot_layout import frame_arcs
from ringrow.geometry.angles import shared_arcs
from ringrow.geometry.arcs import base_and_ring
from ringrow.geometry.ring_repair import polygons_only

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from ringrow.coverage.field import Field, FieldLayout, PivotLayout
    from ringrow.coverage.gun_rules import Arcs, GunArcs
    from ringrow.equipment.pivot import EndGun, Pivot, Sector

Setting = Literal["auto", "always", "stated"]

WORTH_M2 = 20.0
"""Water thrown amiss over less than this [m2], 0.005 acre, is not warned of: it would print as nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GunArc:
    """One arc on which a gun runs.

    Parameters
    ----------
    start_deg, stop_deg : float or None
        True azimuths of the main pipe, clockwise; None for all the way round. [deg]
    sweep_deg : float
        Degrees from start to stop. [deg]
    turn_pct : float
        Share of the machine's own turn, its sector on a part circle. [%]
    gained_m2 : float
        Farmable ground it adds there. [m2]
    """

    start_deg: float | None
    stop_deg: float | None
    sweep_deg: float
    turn_pct: float
    gained_m2: float


@dataclass(frozen=True, slots=True, kw_only=True)
class GunThrow:
    """A stated arc on which a gun throws where it should not.

    Parameters
    ----------
    start_deg, stop_deg : float or None
        The arc, true azimuths clockwise; None for all the way round. [deg]
    outside_m2, excluded_m2 : float
        Ground outside the boundary, and on exclusions inside it, that its water counts on. [m2]
    guarded : tuple of Sector or "full"
        True azimuths of the arc at which something to keep off lies within the full wetted radius.
    guarded_m2 : float
        Ground its water counts on at those azimuths. [m2]
    """

    start_deg: float | None
    stop_deg: float | None
    outside_m2: float
    excluded_m2: float
    guarded: GunArcs
    guarded_m2: float


@dataclass(frozen=True, slots=True, kw_only=True)
class GunTable:
    """All about one end gun.

    Parameters
    ----------
    pivot : Pivot
        Its machine.
    field : Field
        The machine's field.
    gun : EndGun
        The gun.
    on_arm : bool
        Whether it sits at the end of a corner arm.
    setting : {"auto", "always", "stated"}
        How its owner wants it to run.
    full_radius_m : float
        Its full wetted radius. [m]
    arcs : tuple of GunArc
        Where it runs.
    dropped : tuple of Sector
        Arcs of ``auto`` that are too short to be worth a switch.
    turn_pct : float
        Share of the machine's own turn on which it runs. [%]
    gained_m2 : float
        Farmable ground it adds. [m2]
    setback_m2, keep_off_m2 : float or None
        Farmable ground it would add if there were no setback, or nothing to keep off; None unless
        ``auto``. [m2]
    throws : tuple of GunThrow
        Stated arcs on which it throws where it should not.
    """

    pivot: Pivot
    field: Field
    gun: EndGun
    on_arm: bool
    setting: Setting
    full_radius_m: float
    arcs: tuple[GunArc, ...]
    dropped: tuple[Sector, ...]
    turn_pct: float
    gained_m2: float
    setback_m2: float | None
    keep_off_m2: float | None
    throws: tuple[GunThrow, ...]

    @property
    def full_radius_assumed(self) -> bool:
        """Whether nobody stated the full wetted radius, so that it is reach over 0.75."""
        return self.gun.wetted_radius_m is None


def gun_table(layout: FieldLayout, machine: PivotLayout) -> GunTable | None:
    """Return where a machine's end gun runs and what that gains.

    Parameters
    ----------
    layout : FieldLayout
        The field, laid out.
    machine : PivotLayout
        One of its pivots.

    Returns
    -------
    GunTable or None
        The table; None for a machine without a gun.

    Examples
    --------
    >>> from ringrow.coverage.field import Field
    >>> from ringrow.coverage.layout import lay_out
    >>> from ringrow.equipment.pivot import EndGun, Pivot
    >>> from ringrow.frame import Frame
    >>> pivot = Pivot(name="P1", x_m=0, y_m=0, spans_m=(100.0,), end_gun=EndGun(reach_m=30))
    >>> square = shapely.box(-100, -100, 100, 100)
    >>> field = Field(name="F1", frame=Frame(lon=-101.5, lat=36.75), boundary=square, pivots=(pivot,))
    >>> layout = lay_out(field)
    >>> table = gun_table(layout, layout.pivots[0])
    >>> len(table.arcs), round(table.turn_pct, 1)  # 4 x (90 - 2 acos(100 / 130)) degrees
    (4, 11.7)
    """
    pivot, field = machine.pivot, layout.field
    gun = pivot.end_gun if pivot.corner_arm is None else pivot.corner_arm.end_gun
    if gun is None:
        return None
    on_arm = machine.corner_arm is not None
    kept, dropped = _arcs_found(field, machine, layout.farmable)
    arcs = tuple(_arc(layout, machine, one) for one in _each(kept))
    gained = _gained_m2(layout, machine, kept)
    auto = gun.arcs == "auto"
    return GunTable(
        pivot=pivot,
        field=field,
        gun=gun,
        on_arm=on_arm,
        setting=gun.arcs if isinstance(gun.arcs, str) else "stated",
        full_radius_m=full_radius_m(gun),
        arcs=arcs,
        dropped=dropped,
        turn_pct=sum(arc.turn_pct for arc in arcs),
        gained_m2=gained,
        setback_m2=_given_up(layout, machine, replace(field, setback_m=0.0), gained) if auto else None,
        keep_off_m2=_given_up(layout, machine, replace(field, keep_off=Polygon()), gained) if auto else None,
        throws=() if auto else tuple(_throws(layout, machine, kept)),
    )


def gun_tables(layout: FieldLayout) -> tuple[GunTable, ...]:
    """Return a table for every end gun of a field.

    Parameters
    ----------
    layout : FieldLayout
        The field, laid out.

    Returns
    -------
    tuple of GunTable
        In the order of the pivots; those without a gun are left out.
    """
    tables = [gun_table(layout, machine) for machine in layout.pivots]
    return tuple(table for table in tables if table is not None)


def _arcs_found(
    field: Field, machine: PivotLayout, farmable: BaseGeometry
) -> tuple[GunArcs, tuple[Sector, ...]]:
    if machine.corner_arm is None:
        return gun_arcs_found(field, machine.pivot, farmable)
    return arm_gun_arcs(field, machine.pivot, farmable, machine.corner_arm.course)


def _each(arcs: GunArcs) -> list[GunArcs]:
    return ["full"] if isinstance(arcs, str) else [(arc,) for arc in arcs]


def _ends(arc: GunArcs) -> tuple[float | None, float | None]:
    return (None, None) if isinstance(arc, str) else (arc[0].start_deg, arc[0].stop_deg)


def _arc(layout: FieldLayout, machine: PivotLayout, arc: GunArcs) -> GunArc:
    sweep = 360.0 if isinstance(arc, str) else arc[0].sweep_deg
    sector = machine.pivot.sector
    start, stop = _ends(arc)
    return GunArc(
        start_deg=start,
        stop_deg=stop,
        sweep_deg=sweep,
        turn_pct=100.0 * sweep / (360.0 if sector is None else sector.sweep_deg),
        gained_m2=_gained_m2(layout, machine, arc),
    )


def _ground(machine: PivotLayout, arcs: GunArcs) -> BaseGeometry:
    """Return the ground a gun adds on arcs, farmable or not."""
    pivot, arm = machine.pivot, machine.corner_arm
    if not arcs:
        return Polygon()
    if arm is not None:
        return arm_gun_ground(pivot, arm.course, arcs) - arm.swept - machine.base
    # Bends lie inside the base radius, so the ring is never wet by them.
    return base_and_ring(
        pivot.x_m,
        pivot.y_m,
        pivot.base_radius_m,
        pivot.gun_radius_m,
        limits_deg=sector_limits(pivot, pivot.convergence_deg),
        arcs_deg=frame_arcs(pivot, arcs),
    ).ring


def _gained_m2(layout: FieldLayout, machine: PivotLayout, arcs: GunArcs) -> float:
    return float(shapely.intersection(_ground(machine, arcs), layout.farmable).area)


def _given_up(layout: FieldLayout, machine: PivotLayout, eased: Field, gained_m2: float) -> float:
    """Return what a gun would gain more if the field asked less of it."""
    arcs, _ = _arcs_found(eased, machine, layout.farmable)
    return max(0.0, _gained_m2(layout, machine, arcs) - gained_m2)


def _throws(layout: FieldLayout, machine: PivotLayout, kept: GunArcs) -> list[GunThrow]:
    field, guarded = layout.field, _guarded(layout, machine)
    found = []
    for arc in _each(kept):
        ground = _ground(machine, arc)
        start, stop = _ends(arc)
        shared = to_sectors(shared_arcs(_pairs(arc), _pairs(guarded)))
        throw = GunThrow(
            start_deg=start,
            stop_deg=stop,
            outside_m2=float((ground - field.boundary).area),
            excluded_m2=float((polygons_only(ground & field.boundary) & field.exclusions).area),
            guarded=shared,
            guarded_m2=float(_ground(machine, shared).area),
        )
        if throw.outside_m2 >= WORTH_M2 or throw.excluded_m2 >= WORTH_M2 or shared:
            found.append(throw)
    return found


def _pairs(arcs: GunArcs) -> Arcs:
    return "full" if isinstance(arcs, str) else tuple((arc.start_deg, arc.stop_deg) for arc in arcs)


def _guarded(layout: FieldLayout, machine: PivotLayout) -> GunArcs:
    """Return where a gun reaches something it must keep off: the gaps between the free arcs."""
    pivot, field = machine.pivot, layout.field
    if field.keep_off.is_empty:
        return ()
    if machine.corner_arm is not None:
        free = _pairs(arm_arcs_off_guarded(field, pivot, machine.corner_arm.course))
    elif pivot.end_gun is not None:
        free = _pairs(arcs_off_guarded(field, pivot, pivot.end_gun))
    else:
        return ()
    return to_sectors(_gaps(free, sector_limits(pivot)))


def _gaps(free: Arcs, limits: tuple[float, float] | None) -> Arcs:
    if free == "full":
        return ()
    if not free:
        return "full" if limits is None else (limits,)
    starts, stops = [arc[0] for arc in free], [arc[1] for arc in free]
    if limits is None:
        return tuple(zip(stops, [*starts[1:], starts[0]], strict=True))
    gaps = zip([limits[0], *stops], [*starts, limits[1]], strict=True)
    return tuple((stop, start) for stop, start in gaps if stop != start)

"""What one pivot wets: its base sector and its end gun's ring."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from ringrow.coverage.field import PivotLayout
from ringrow.equipment.pivot import Sector
from ringrow.geometry.angles import join_arcs, within_turn
from ringrow.geometry.arcs import base_and_ring
from ringrow.geometry.gun_arcs import clear_arcs

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from ringrow.coverage.field import Field
    from ringrow.equipment.pivot import Pivot

GunArcs = tuple[Sector, ...] | Literal["full"]


def lay_out_pivot(field: Field, pivot: Pivot, farmable: BaseGeometry) -> PivotLayout:
    """Return the wetted ground of a pivot, not cut at the boundary.

    Parameters
    ----------
    field : Field
        The field it stands in, for setback and shortest gun arc.
    pivot : Pivot
        The machine.
    farmable : shapely geometry
        Ground that ``auto`` gun arcs keep to: boundary less exclusions. [m]

    Returns
    -------
    PivotLayout
        Base, gun ring, gun arcs and their union.

    Examples
    --------
    >>> import shapely
    >>> from ringrow.coverage.field import Field
    >>> from ringrow.equipment.pivot import EndGun, Pivot
    >>> from ringrow.frame import Frame
    >>> gun = EndGun(reach_m=30)
    >>> pivot = Pivot(name="P1", x_m=0, y_m=0, spans_m=(50.0, 50.0), end_gun=gun)
    >>> square = shapely.box(-100, -100, 100, 100)
    >>> field = Field(name="F1", frame=Frame(lon=-101.5, lat=36.75), boundary=square, pivots=(pivot,))
    >>> [round(arc.start_deg, 2) for arc in lay_out_pivot(field, pivot, square).gun_arcs]
    [39.72, 129.72, 219.72, 309.72]
    """
    arcs = gun_arcs(field, pivot, farmable)
    shift = pivot.convergence_deg
    shapes = base_and_ring(
        pivot.x_m,
        pivot.y_m,
        pivot.base_radius_m,
        pivot.gun_radius_m,
        limits_deg=_limits(pivot, shift),
        arcs_deg=arcs if arcs == "full" else [(arc.start_deg + shift, arc.stop_deg + shift) for arc in arcs],
    )
    return PivotLayout(pivot=pivot, base=shapes.base, gun=shapes.ring, gun_arcs=arcs, wetted=shapes.wetted)


def gun_arcs(field: Field, pivot: Pivot, farmable: BaseGeometry) -> GunArcs:
    """Return where a pivot's end gun runs, as true azimuths at the pivot point.

    Parameters
    ----------
    field : Field
        The field it stands in, for setback and shortest gun arc.
    pivot : Pivot
        The machine.
    farmable : shapely geometry
        Ground that ``auto`` arcs keep to. [m]

    Returns
    -------
    tuple of Sector or "full"
        Arcs apart from each other, clockwise; ``"full"`` for the whole circle; empty without a
        gun, or with one that reaches no farther than the last sprinkler.
    """
    gun, outer_m = pivot.end_gun, pivot.gun_radius_m
    if gun is None or outer_m is None or outer_m <= pivot.base_radius_m:
        return ()
    if gun.arcs == "auto":
        return _auto_arcs(field, pivot, farmable, outer_m)
    if gun.arcs == "always":
        return (pivot.sector,) if pivot.sector else "full"
    stated = [(arc.start_deg, arc.stop_deg) for arc in gun.arcs if isinstance(arc, Sector)]
    return _sectors(join_arcs(stated, limits_deg=_limits(pivot)))


def _auto_arcs(field: Field, pivot: Pivot, farmable: BaseGeometry, outer_m: float) -> GunArcs:
    shift = pivot.convergence_deg
    found = clear_arcs(
        farmable,
        pivot.x_m,
        pivot.y_m,
        pivot.base_radius_m,
        outer_m,
        setback_m=field.setback_m,
        limits_deg=_limits(pivot, shift),
        min_arc_deg=field.min_arc_deg,
    )
    if found == "full":
        return "full"
    # The sector's own stops come back as they were given, free of rounding.
    given = dict(zip(_limits(pivot, shift) or (), _limits(pivot) or (), strict=True))
    return _sectors(
        tuple((given.get(a, within_turn(a - shift)), given.get(b, within_turn(b - shift))) for a, b in found)
    )


def _limits(pivot: Pivot, shift_deg: float = 0.0) -> tuple[float, float] | None:
    """Return the sector's start and stop, turned by `shift_deg`; None for a full circle."""
    if pivot.sector is None:
        return None
    return (pivot.sector.start_deg + shift_deg, pivot.sector.stop_deg + shift_deg)


def _sectors(arcs: tuple[tuple[float, float], ...] | Literal["full"]) -> GunArcs:
    if arcs == "full":
        return "full"
    return tuple(Sector(start_deg=start, stop_deg=stop) for start, stop in arcs)

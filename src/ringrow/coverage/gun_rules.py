"""Where the gun at a pivot's pipe end may run: ground, setback, what it keeps off, short arcs."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from ringrow.equipment.pivot import GUN_SHARE, Sector
from ringrow.geometry.angles import join_arcs, shared_arcs, within_turn
from ringrow.geometry.gun_arcs import arcs_clear_of, clear_arcs

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from ringrow.coverage.field import Field
    from ringrow.equipment.pivot import EndGun, Pivot

Arcs = tuple[tuple[float, float], ...] | Literal["full"]
GunArcs = tuple[Sector, ...] | Literal["full"]

_SLACK_DEG = 1e-9


def full_radius_m(gun: EndGun) -> float:
    """Return how far a gun throws in full, which is farther than what counts as watered.

    Parameters
    ----------
    gun : EndGun
        The gun.

    Returns
    -------
    float
        Its stated wetted radius; else its effective reach over 0.75. [m]

    Examples
    --------
    >>> from ringrow.equipment.pivot import EndGun
    >>> full_radius_m(EndGun(reach_m=30)), full_radius_m(EndGun(reach_m=30, wetted_radius_m=38))
    (40.0, 38)
    """
    return gun.reach_m / GUN_SHARE if gun.wetted_radius_m is None else gun.wetted_radius_m


def sector_limits(pivot: Pivot, shift_deg: float = 0.0) -> tuple[float, float] | None:
    """Return the start and stop of a part circle.

    Parameters
    ----------
    pivot : Pivot
        The machine.
    shift_deg : float, default 0
        Added to both: the pivot's convergence gives frame bearings. [deg]

    Returns
    -------
    tuple of float or None
        Start and stop, clockwise; None for a full circle. [deg]
    """
    if pivot.sector is None:
        return None
    return (pivot.sector.start_deg + shift_deg, pivot.sector.stop_deg + shift_deg)


def to_sectors(arcs: Arcs) -> GunArcs:
    """Return arcs given as pairs of azimuths as sectors.

    Parameters
    ----------
    arcs : tuple of tuple of float, or "full"
        True azimuths (start, stop), clockwise. [deg]

    Returns
    -------
    tuple of Sector or "full"
        The same.
    """
    if arcs == "full":
        return "full"
    return tuple(Sector(start_deg=start, stop_deg=stop) for start, stop in arcs)


def true_arcs(pivot: Pivot, arcs: Arcs) -> Arcs:
    """Return arcs of frame bearings as true azimuths at a pivot's point.

    Parameters
    ----------
    pivot : Pivot
        The machine.
    arcs : tuple of tuple of float, or "full"
        Frame bearings (start, stop), clockwise. [deg]

    Returns
    -------
    tuple of tuple of float, or "full"
        True azimuths; the sector's own start and stop come back as they were given.
    """
    if arcs == "full":
        return "full"
    shift = pivot.convergence_deg
    given = dict(zip(sector_limits(pivot, shift) or (), sector_limits(pivot) or (), strict=True))
    return tuple(
        (given.get(a, within_turn(a - shift)), given.get(b, within_turn(b - shift))) for a, b in arcs
    )


def split_short(arcs: Arcs, min_arc_deg: float) -> tuple[GunArcs, tuple[Sector, ...]]:
    """Return arcs that are worth a switch, and those that are too short.

    Parameters
    ----------
    arcs : tuple of tuple of float, or "full"
        True azimuths (start, stop), clockwise. [deg]
    min_arc_deg : float
        Shortest arc that is worth it. [deg]

    Returns
    -------
    kept : tuple of Sector or "full"
        Arcs as long as that or longer.
    dropped : tuple of Sector
        The others.

    Examples
    --------
    >>> kept, dropped = split_short(((10.0, 40.0), (50.0, 53.0)), 5.0)
    >>> kept, dropped[0].sweep_deg
    ((Sector(start_deg=10.0, stop_deg=40.0),), 3.0)
    """
    sectors = to_sectors(arcs)
    if sectors == "full" or isinstance(sectors, str):
        return "full", ()
    long_enough = [sector.sweep_deg >= min_arc_deg - _SLACK_DEG for sector in sectors]
    kept = tuple(sector for sector, ok in zip(sectors, long_enough, strict=True) if ok)
    return kept, tuple(sector for sector, ok in zip(sectors, long_enough, strict=True) if not ok)


def gun_arcs(field: Field, pivot: Pivot, farmable: BaseGeometry) -> GunArcs:
    """Return where the gun at a pivot's pipe end runs, as true azimuths at the pivot point.

    Parameters
    ----------
    field : Field
        The field it stands in, for setback, shortest gun arc and what guns keep off.
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
    return gun_arcs_found(field, pivot, farmable)[0]


def gun_arcs_found(field: Field, pivot: Pivot, farmable: BaseGeometry) -> tuple[GunArcs, tuple[Sector, ...]]:
    """Return where the gun at a pivot's pipe end runs, and arcs too short to be worth a switch.

    Parameters
    ----------
    field : Field
        The field it stands in, for setback, shortest gun arc and what guns keep off.
    pivot : Pivot
        The machine.
    farmable : shapely geometry
        Ground that ``auto`` arcs keep to. [m]

    Returns
    -------
    kept : tuple of Sector or "full"
        As from `gun_arcs`.
    dropped : tuple of Sector
        Arcs of ``auto`` under the field's shortest one.
    """
    gun, outer_m = pivot.end_gun, pivot.gun_radius_m
    if gun is None or outer_m is None or outer_m <= pivot.base_radius_m:
        return (), ()
    if gun.arcs != "auto":
        return stated_arcs(pivot, gun), ()
    ground = clear_arcs(
        farmable,
        pivot.x_m,
        pivot.y_m,
        pivot.base_radius_m,
        outer_m,
        setback_m=field.setback_m,
        limits_deg=sector_limits(pivot, pivot.convergence_deg),
        min_arc_deg=0.0,
    )
    free = ground if field.keep_off.is_empty else shared_arcs(ground, _off_guarded(field, pivot, gun))
    return split_short(true_arcs(pivot, _in_order(pivot, free)), field.min_arc_deg)


def stated_arcs(pivot: Pivot, gun: EndGun) -> GunArcs:
    """Return the arcs of a gun whose owner says where it runs.

    Parameters
    ----------
    pivot : Pivot
        The machine, for its sector.
    gun : EndGun
        A gun on it that runs ``always`` or on stated arcs.

    Returns
    -------
    tuple of Sector or "full"
        The arcs, joined where they meet and kept to the sector.
    """
    if gun.arcs == "always":
        return (pivot.sector,) if pivot.sector else "full"
    stated = [(arc.start_deg, arc.stop_deg) for arc in gun.arcs if isinstance(arc, Sector)]
    return to_sectors(join_arcs(stated, limits_deg=sector_limits(pivot)))


def arcs_off_guarded(field: Field, pivot: Pivot, gun: EndGun) -> GunArcs:
    """Return where a gun at the pipe end reaches nothing it must keep off, ground and setback aside.

    Parameters
    ----------
    field : Field
        The field, for what guns keep off.
    pivot : Pivot
        The machine.
    gun : EndGun
        The gun at its pipe end.

    Returns
    -------
    tuple of Sector or "full"
        True azimuths at which the disc of the gun's full wetted radius about the pipe end meets
        no road, house, power line or stock water; touching is allowed.
    """
    return to_sectors(true_arcs(pivot, _off_guarded(field, pivot, gun)))


def _off_guarded(field: Field, pivot: Pivot, gun: EndGun) -> Arcs:
    return arcs_clear_of(
        field.keep_off,
        pivot.x_m,
        pivot.y_m,
        pivot.length_m,
        full_radius_m(gun),
        limits_deg=sector_limits(pivot, pivot.convergence_deg),
    )


def _in_order(pivot: Pivot, arcs: Arcs) -> Arcs:
    """Return arcs in turning order from the sector's start, or from north."""
    limits = sector_limits(pivot, pivot.convergence_deg)
    if arcs == "full" or limits is None:
        return arcs
    return tuple(sorted(arcs, key=lambda arc: within_turn(arc[0] - limits[0] + _SLACK_DEG)))

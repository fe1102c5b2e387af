"""What one pivot wets: its base sector, its end gun's ring, its corner arm, its bends."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

import numpy as np
import shapely

from ringrow.coverage.arm_layout import lay_out_arm
from ringrow.coverage.field import PivotLayout
from ringrow.coverage.gun_rules import gun_arcs, sector_limits
from ringrow.geometry.arcs import CHORD_ERROR_M, base_and_ring
from ringrow.geometry.bends import BendTurn, bend_sectors, pipe_course
from ringrow.geometry.corner_arm import course_bearings

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from ringrow.coverage.field import Field
    from ringrow.coverage.gun_rules import GunArcs
    from ringrow.equipment.pivot import Pivot

End = Literal["start", "stop"]


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
        Base, gun ring, gun arcs, corner arm, bends and the union of their grounds. With a corner
        arm the base ends at the hinge, which is the last tower.

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
    limits = sector_limits(pivot, pivot.convergence_deg)
    shapes = base_and_ring(
        pivot.x_m,
        pivot.y_m,
        pivot.base_radius_m,
        pivot.gun_radius_m,
        limits_deg=limits,
        arcs_deg=frame_arcs(pivot, arcs),
        # Vertices where the hinge stands: chords of another step leave slivers between pipe and arm.
        breaks_deg=() if pivot.corner_arm is None else course_bearings(limits),
    )
    arm = None if pivot.corner_arm is None else lay_out_arm(field, pivot, farmable, shapes.base)
    bends = bent_ground(pivot)
    added = [shape for shape in (bends, *(() if arm is None else (arm.swept, arm.gun))) if not shape.is_empty]
    return PivotLayout(
        pivot=pivot,
        base=shapes.base,
        gun=shapes.ring,
        gun_arcs=arcs,
        wetted=shapely.union_all([shapes.wetted, *added]) if added else shapes.wetted,
        corner_arm=arm,
        bends=bends,
    )


def frame_arcs(pivot: Pivot, arcs: GunArcs | str) -> tuple[tuple[float, float], ...] | Literal["full"]:
    """Return arcs of true azimuths as pairs of frame bearings.

    Parameters
    ----------
    pivot : Pivot
        The machine.
    arcs : tuple of Sector or "full"
        True azimuths at its point.

    Returns
    -------
    tuple of tuple of float, or "full"
        Frame bearings (start, stop), clockwise. [deg]
    """
    if isinstance(arcs, str):
        return "full"
    shift = pivot.convergence_deg
    return tuple((arc.start_deg + shift, arc.stop_deg + shift) for arc in arcs)


def bent_ground(pivot: Pivot, at: End | None = None) -> BaseGeometry:
    """Return the ground that outer spans wet while they walk on past a stop.

    Parameters
    ----------
    pivot : Pivot
        The machine.
    at : {"start", "stop"} or None, default None
        At which end of the sector; None for both.

    Returns
    -------
    shapely geometry
        Union of one sector a bend about its tower, the end gun off; empty without bends. [m]

    Examples
    --------
    >>> from ringrow.equipment.corner_arm import Bend
    >>> from ringrow.equipment.pivot import Pivot, Sector
    >>> pivot = Pivot(
    ...     name="P1",
    ...     x_m=0,
    ...     y_m=0,
    ...     spans_m=(100.0, 100.0),
    ...     sector=Sector(start_deg=0, stop_deg=90),
    ...     bends=(Bend(tower=1, at="stop", sweep_deg=90),),
    ... )
    >>> round(bent_ground(pivot).area, 1)  # a quarter of a circle of 100 m
    7854.0
    """
    ends = [end for end in _ENDS if at in (None, end)]
    return shapely.union_all(
        [
            bend_sectors(pivot.x_m, pivot.y_m, _end_bearing(pivot, end), pivot.base_radius_m, turns, side=end)
            for end in ends
            if (turns := _turns(pivot, end))
        ]
    )


def bent_pipe(pivot: Pivot, at: End) -> NDArray[np.float64]:
    """Return where the machine stands once every bend at one end of its sector is walked.

    Parameters
    ----------
    pivot : Pivot
        A part circle, with bends or without.
    at : {"start", "stop"}
        Which end of the sector.

    Returns
    -------
    ndarray, shape (n + 2, 2)
        x and y of the pivot point, of each tower in turn, and of the pipe end. [m]

    Examples
    --------
    >>> from ringrow.equipment.corner_arm import Bend
    >>> from ringrow.equipment.pivot import Pivot, Sector
    >>> pivot = Pivot(
    ...     name="P1",
    ...     x_m=0,
    ...     y_m=0,
    ...     spans_m=(100.0, 100.0),
    ...     overhang_m=10.0,
    ...     sector=Sector(start_deg=270, stop_deg=90),
    ...     bends=(Bend(tower=1, at="start", sweep_deg=90),),
    ... )
    >>> (bent_pipe(pivot, "start").round(6) + 0.0).tolist()  # west, then turned south
    [[0.0, 0.0], [-100.0, 0.0], [-100.0, -100.0], [-100.0, -110.0]]
    """
    radii = (0.0, *pivot.tower_radii_m, pivot.length_m)
    return pipe_course(pivot.x_m, pivot.y_m, _end_bearing(pivot, at), radii, _turns(pivot, at), side=at)


def bent_track(pivot: Pivot, at: End, radius_m: float) -> NDArray[np.float64]:
    """Return the way of a tower while the bends at one end of the sector are walked.

    Parameters
    ----------
    pivot : Pivot
        A part circle, with bends or without.
    at : {"start", "stop"}
        Which end of the sector.
    radius_m : float
        Distance of the tower from the pivot point along the straight pipe. [m]

    Returns
    -------
    ndarray, shape (n, 2)
        Points in the order they are walked, from the tower's place at the end of the sector on,
        chords within 0.01 m of the arcs; empty when the tower stands still. [m]

    Examples
    --------
    >>> from ringrow.equipment.corner_arm import Bend
    >>> from ringrow.equipment.pivot import Pivot, Sector
    >>> pivot = Pivot(
    ...     name="P1",
    ...     x_m=0,
    ...     y_m=0,
    ...     spans_m=(100.0, 100.0),
    ...     sector=Sector(start_deg=270, stop_deg=90),
    ...     bends=(Bend(tower=1, at="stop", sweep_deg=90),),
    ... )
    >>> (bent_track(pivot, "stop", 200.0)[[0, -1]].round(6) + 0.0).tolist()
    [[200.0, 0.0], [100.0, -100.0]]
    >>> len(bent_track(pivot, "stop", 100.0))
    0
    """
    sign = 1.0 if at == "stop" else -1.0
    bearing, turns = _end_bearing(pivot, at), _turns(pivot, at)
    pieces = [np.empty((0, 2))]
    for number, turn in enumerate(turns):
        arm = radius_m - turn.radius_m
        if arm <= 0:
            break
        centre = pipe_course(
            pivot.x_m, pivot.y_m, _end_bearing(pivot, at), [turn.radius_m], turns[:number], side=at
        )[0]
        # Sagitta r (1 - cos(d / 2)) within the chord error.
        step = np.degrees(np.sqrt(8 * CHORD_ERROR_M / max(arm, CHORD_ERROR_M)))
        turned = np.radians(bearing + sign * np.linspace(0, turn.sweep_deg, int(turn.sweep_deg / step) + 2))
        pieces.append(centre + arm * np.column_stack([np.sin(turned), np.cos(turned)]))
        bearing += sign * turn.sweep_deg
    return np.vstack(pieces)


_ENDS: tuple[End, End] = ("start", "stop")


def _turns(pivot: Pivot, at: End) -> list[BendTurn]:
    radii = pivot.tower_radii_m
    return [
        BendTurn(radius_m=radii[bend.tower - 1], sweep_deg=bend.sweep_deg)
        for bend in pivot.bends
        if bend.at == at
    ]


def _end_bearing(pivot: Pivot, at: End) -> float:
    """Return the frame bearing of the main pipe at an end of its sector."""
    if pivot.sector is None:
        return pivot.convergence_deg
    return pivot.convergence_deg + (pivot.sector.start_deg if at == "start" else pivot.sector.stop_deg)

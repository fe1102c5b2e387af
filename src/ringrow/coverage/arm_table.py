"""What to read off a corner arm's course: hinge angle by azimuth, and where it cannot keep off."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
import shapely

from ringrow.coverage.arm_layout import (
    arm_pieces,
    bearings_on,
    closed_course,
    frame_to_true,
    hinge_angles,
    wheel_bearings,
)
from ringrow.coverage.gun_rules import to_sectors
from ringrow.geometry.angles import within_turn
from ringrow.geometry.corner_arm import arm_points

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from ringrow.coverage.field import ArmLayout, Field, PivotLayout
    from ringrow.coverage.gun_rules import Arcs, GunArcs

ArmMark = Literal["", "starts to open", "fully open", "starts to fold", "fully folded"]

NEAR_DEG = 0.05
"""A hinge this near to its smallest or largest angle counts as folded or open [deg]."""

WORTH_DEG = 2.0
"""An arm that folds and opens again by less than this is not worth a row [deg]."""

_SETBACK_SEGMENTS = 64


@dataclass(frozen=True, slots=True, kw_only=True)
class ArmRow:
    """Where a corner arm stands at one azimuth of the main pipe.

    Parameters
    ----------
    azimuth_deg : float
        True azimuth of the main pipe. [deg]
    angle_deg : float
        Angle at the hinge between main pipe and arm. [deg]
    station_m : float
        Distance along the wheel path from its start. [m]
    x_m, y_m : float
        Where the steered wheels stand. [m]
    mark : str
        What begins here when the machine walks clockwise: ``starts to open``, ``fully open``,
        ``starts to fold``, ``fully folded``; empty for a row of the even steps.
    """

    azimuth_deg: float
    angle_deg: float
    station_m: float
    x_m: float
    y_m: float
    mark: ArmMark


@dataclass(frozen=True, slots=True, kw_only=True)
class ArmStray:
    """Where even the folded arm wets ground it may not.

    Parameters
    ----------
    arcs : tuple of Sector or "full"
        True azimuths of the main pipe; empty when it never does.
    area_m2 : float
        Ground so wetted that is not farmable or lies within the setback. [m2]
    """

    arcs: GunArcs
    area_m2: float


def arm_rows(layout: PivotLayout, *, every_deg: float = 10.0) -> tuple[ArmRow, ...]:
    """Return the hinge angle by azimuth, with a row wherever the arm begins to open or fold.

    Parameters
    ----------
    layout : PivotLayout
        A machine, laid out.
    every_deg : float, default 10
        Step of the even rows. [deg]

    Returns
    -------
    tuple of ArmRow
        Clockwise from north or from the start of the sector; empty without a corner arm.
    """
    if layout.corner_arm is None:
        return ()
    pivot, course = layout.pivot, layout.corner_arm.course
    start, sweep = (0.0, 360.0) if pivot.sector is None else (pivot.sector.start_deg, pivot.sector.sweep_deg)
    steps = start + np.linspace(0.0, sweep, max(2, round(sweep / 0.1)) + 1)
    angles = hinge_angles(course, steps + pivot.convergence_deg)
    marks = {float(steps[at]): mark for at, mark in _marks(angles, layout.corner_arm)}
    if course.full_circle:
        marks = {within_turn(step): mark for step, mark in marks.items()}
    even = np.arange(np.ceil(start / every_deg), np.floor((start + sweep) / every_deg) + 1) * every_deg
    ends = [] if course.full_circle else [start, start + sweep]
    even = even[even < 360.0] if course.full_circle else even
    places = sorted({*even.tolist(), *ends, *marks})
    return _rows(layout, layout.corner_arm, np.array(places), [marks.get(place, "") for place in places])


def arm_stray(layout: PivotLayout, field: Field, farmable: BaseGeometry) -> ArmStray:
    """Return where even the folded arm wets ground it may not.

    Parameters
    ----------
    layout : PivotLayout
        A machine, laid out.
    field : Field
        Its field, for the setback.
    farmable : shapely geometry
        Boundary less exclusions. [m]

    Returns
    -------
    ArmStray
        Azimuths, to a tenth of a degree, and area; nothing for a machine without an arm.
    """
    if layout.corner_arm is None or not layout.corner_arm.course.folded_out.any():
        return ArmStray(arcs=(), area_m2=0.0)
    arm, course = layout.corner_arm.arm, layout.corner_arm.course
    bearing, angle = closed_course(course)
    out = np.append(course.folded_out, course.folded_out[:1]) if course.full_circle else course.folded_out
    steps = np.flatnonzero(out[:-1] | out[1:])
    runs = np.split(steps, np.flatnonzero(np.diff(steps) > 1) + 1)
    pieces = [
        arm_pieces(arm, bearing[a : b + 2], angle[a : b + 2], inner_m=0.0, outer_m=arm.reach_m)
        for a, b in ((run[0], run[-1]) for run in runs)
    ]
    wetted = shapely.union_all(np.concatenate(pieces))
    allowed = farmable
    if field.setback_m > 0:
        allowed = farmable.buffer(-field.setback_m, quad_segs=_SETBACK_SEGMENTS)
    ends = _run_ends(out, full_circle=course.full_circle)
    arcs: Arcs = "full"
    if ends is not None:
        turned = bearing.tolist()
        arcs = tuple(
            (frame_to_true(layout.pivot, turned[a]), frame_to_true(layout.pivot, turned[b])) for a, b in ends
        )
    return ArmStray(arcs=to_sectors(arcs), area_m2=float(shapely.difference(wetted, allowed).area))


def _run_ends(flags: NDArray[np.bool_], *, full_circle: bool) -> list[tuple[int, int]] | None:
    """Return, for runs of True widened by one step each side, first and last position; None for all round."""
    if flags.all() and full_circle:
        return None
    wide = flags.copy()
    wide[:-1] |= flags[1:]
    wide[1:] |= flags[:-1]
    framed = np.concatenate([[False], wide, [False]])
    edges = np.flatnonzero(framed[1:] != framed[:-1]).reshape(-1, 2)
    runs = [(int(first), int(stop) - 1) for first, stop in edges]
    if full_circle and len(runs) > 1 and wide[0] and wide[-1]:
        runs = [(runs[-1][0], runs[0][1]), *runs[1:-1]]
    elif full_circle and len(runs) == 1 and runs[0] == (0, len(flags) - 1):
        return None
    return runs


def _marks(angles: NDArray[np.float64], layout: ArmLayout) -> Iterator[tuple[int, ArmMark]]:
    """Yield where along the turn the arm begins to do something else."""
    arm, count = layout.arm, len(angles) - 1
    state = np.where(angles <= arm.fold_deg + NEAR_DEG, 0, np.where(angles >= arm.open_deg - NEAR_DEG, 2, 1))
    words: dict[tuple[int, int], ArmMark] = {
        (0, 1): "starts to open",
        (0, 2): "fully open",
        (1, 0): "fully folded",
        (1, 2): "fully open",
        (2, 0): "fully folded",
        (2, 1): "starts to fold",
    }
    for at in np.flatnonzero(state[1:] != state[:-1]).tolist():
        change = (int(state[at]), int(state[at + 1]))
        # What starts does so at the last still position; what ends, at the first one reached.
        yield (at if change[1] == 1 else at + 1), words[change]
    turning = _turning_points(angles)
    if layout.course.full_circle:
        # Twice round, so that none is lost where the turn begins.
        turning = ((at % count, mark) for at, mark in _turning_points(np.tile(angles[:-1], 2)))
    yield from ((at, mark) for at, mark in turning if state[at] == 1)


def _turning_points(angles: NDArray[np.float64]) -> Iterator[tuple[int, ArmMark]]:
    """Yield where the hinge turns round between opening and folding by more than is worth a row."""
    high = low = 0
    rising: bool | None = None
    for at, angle in enumerate(angles.tolist()):
        high = at if angle >= angles[high] else high
        low = at if angle <= angles[low] else low
        if rising is not False and angles[high] - angle > WORTH_DEG:
            if rising:
                yield high, "starts to fold"
            rising, low = False, at
        elif rising is not True and angle - angles[low] > WORTH_DEG:
            if rising is False:
                yield low, "starts to open"
            rising, high = True, at


def _rows(
    layout: PivotLayout, arm: ArmLayout, steps: NDArray[np.float64], marks: list[ArmMark]
) -> tuple[ArmRow, ...]:
    shift, course = layout.pivot.convergence_deg, arm.course
    angle = hinge_angles(course, steps + shift)
    wheels = arm_points(arm.arm, steps + shift, angle, along_m=arm.arm.wheel_m)
    station = stations(layout, steps)
    return tuple(
        ArmRow(
            azimuth_deg=within_turn(float(steps[at])),
            angle_deg=float(angle[at]),
            station_m=float(station[at]),
            x_m=float(wheels[at, 0]),
            y_m=float(wheels[at, 1]),
            mark=mark,
        )
        for at, mark in enumerate(marks)
    )


def stations(layout: PivotLayout, azimuth_deg: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return how far along its path the steered wheels stand at azimuths of the main pipe.

    Parameters
    ----------
    layout : PivotLayout
        A machine with a corner arm, laid out.
    azimuth_deg : ndarray, shape (n,)
        True azimuths of the main pipe. [deg]

    Returns
    -------
    ndarray, shape (n,)
        Distance from the start of the path; empty without an arm. [m]
    """
    if layout.corner_arm is None:
        return np.empty(0)
    pivot, course = layout.pivot, layout.corner_arm.course
    legs = np.hypot(*np.diff(shapely.get_coordinates(layout.corner_arm.wheel_path), axis=0).T)
    walked = np.concatenate([[0.0], np.cumsum(legs)])
    along = wheel_bearings(pivot, course)
    bearing = np.asarray(azimuth_deg, float) + pivot.convergence_deg
    if course.full_circle:
        return np.interp(along[0] + (bearing - along[0]) % 360.0, along, walked)
    return np.interp(bearings_on(course, bearing), along, walked)

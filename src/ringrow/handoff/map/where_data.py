"""What the page's script needs to say where a place is: the farm's machines and rows as few, exact numbers.

A circle is sent as its radius, a row as its ends and a boundary as its corners, so the script works with
the numbers that the answers of ``where`` rest on and not with what is drawn.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from ringrow.coverage.locate_arms import farthest_m
from ringrow.geometry.laterals import CurvedGrid
from ringrow.handoff.assumed_words import said_again
from ringrow.handoff.place_record import assumed_by_system

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray
    from shapely.geometry.base import BaseGeometry

    from ringrow.coverage.field import (
        ArmLayout,
        DripLayout,
        FieldLayout,
        LateralMoveLayout,
        PivotLayout,
    )
    from ringrow.equipment.lateral_move import Wing
    from ringrow.farm.model import Farm
    from ringrow.geometry.laterals import LateralGrid, LateralRows
    from ringrow.geometry.parallel_curves import OffsetSide

CORNER_STEP_M = 1e-4
"""Step of the corners of boundaries, exclusions and blocks [m]."""
END_STEP_M = 1e-4
"""Step of the ends of tape: fine enough that no emitter near an end changes its number [m]."""
ANGLE_STEP_DEG = 1e-4
"""Step of the angles of a corner arm [deg]."""


def where_data(farm: Farm, layouts: Sequence[FieldLayout]) -> dict[str, Any]:
    """Return what the script needs to answer as ``where`` does.

    Parameters
    ----------
    farm : Farm
        The farm.
    layouts : sequence of FieldLayout
        Its fields, laid out.

    Returns
    -------
    dict of str to object
        Ready for JSON: the farm's units, its stated accuracy, and every field in file order.
    """
    units, accuracy = farm.units, farm.accuracy
    assumed = {
        name: tuple(map(said_again, texts))
        for name, texts in assumed_by_system(layout.field for layout in layouts).items()
    }
    return {
        "units": {
            "length": units.length,
            "length_m": units.length_m,
            "small": units.small,
            "small_m": units.small_m,
        },
        "accuracy": {
            "radius_m": accuracy.radius_m,
            "kind": accuracy.kind,
            "sigma_m": accuracy.sigma_m,
            "assumed": accuracy.assumed,
        },
        "steps": {"corner_m": CORNER_STEP_M, "end_m": END_STEP_M, "angle_deg": ANGLE_STEP_DEG},
        "fields": [_field(layout, assumed) for layout in layouts],
    }


def second_differences(values: ArrayLike, runs: ArrayLike | None = None) -> list[int]:
    """Return whole numbers as what a straight continuation misses each by.

    What changes evenly becomes zeros, which take little room in a file.

    Parameters
    ----------
    values : array_like of int, shape (n,)
        The numbers. [-]
    runs : array_like of int or None, default None
        Which of several mixed runs each number belongs to; None for one run. [-]

    Returns
    -------
    list of int
        The first number of each run as it is, the second less the first, each further one less
        what the two before it lead on to.

    Examples
    --------
    >>> second_differences([100, 103, 106, 109, 113])
    [100, 3, 0, 0, 1]
    >>> second_differences([100, 500, 101, 490, 102], [0, 1, 0, 1, 0])
    [100, 500, 1, -10, 0]
    """
    whole = np.asarray(values, np.int64)
    run = np.zeros(len(whole), np.int64) if runs is None else np.asarray(runs, np.int64)
    order = np.argsort(run, kind="stable")
    ordered, run = whole[order], run[order]
    rank = np.arange(len(run)) - np.searchsorted(run, run)
    one, two = np.roll(ordered, 1), np.roll(ordered, 2)
    foreseen = np.select([rank == 0, rank == 1], [np.zeros_like(one), one], 2 * one - two)
    missed = np.empty_like(whole)
    missed[order] = ordered - foreseen
    return [int(value) for value in missed]


def _field(layout: FieldLayout, assumed: dict[str, tuple[str, ...]]) -> dict[str, Any]:
    field = layout.field
    return {
        "name": field.name,
        "frame": [field.frame.lon, field.frame.lat],
        "boundary": _rings(field.boundary),
        "exclusions": _rings(field.exclusions),
        "pivots": [{**_pivot(each), "assumed": list(assumed[each.name])} for each in layout.pivots],
        "lateral_moves": [
            {**_move(each), "assumed": list(assumed[each.name])} for each in layout.lateral_moves
        ],
        "drip": [{**_block(layout, each), "assumed": list(assumed[each.name])} for each in layout.drip],
    }


def _pivot(layout: PivotLayout) -> dict[str, Any]:
    pivot = layout.pivot
    sector = pivot.sector
    return {
        "name": pivot.name,
        "machine": pivot.machine,
        "at": _exact([pivot.x_m, pivot.y_m]),
        "convergence_deg": pivot.convergence_deg,
        "panel_zero_deg": pivot.panel_zero_deg,
        "towers_m": _exact(pivot.tower_radii_m),
        "length_m": pivot.length_m,
        "base_m": pivot.base_radius_m,
        "gun_m": pivot.gun_radius_m,
        "sector": None if sector is None else [sector.start_deg, sector.sweep_deg],
        "gun_arcs": _arcs(layout),
        "bends": [[bend.at, bend.tower, bend.sweep_deg] for bend in pivot.bends],
        "outlets_m": _exact(pivot.outlets_m, decimals=6),
        "arm": None if layout.corner_arm is None else _arm(layout, layout.corner_arm),
    }


def _arcs(layout: PivotLayout | ArmLayout) -> list[list[float]] | str:
    if isinstance(layout.gun_arcs, str):
        return layout.gun_arcs
    return [_exact([arc.start_deg, arc.sweep_deg]) for arc in layout.gun_arcs]


def _arm(layout: PivotLayout, laid: ArmLayout) -> dict[str, Any]:
    arm, course = laid.arm, laid.course
    gun = None if layout.pivot.corner_arm is None else layout.pivot.corner_arm.end_gun
    return {
        "hinge_m": arm.hinge_m,
        "wheel_m": arm.wheel_m,
        "reach_m": arm.reach_m,
        # Of a gun that reaches no farther than the last sprinkler there are no arcs.
        "gun_m": None if gun is None or not laid.gun_arcs else farthest_m(layout),
        "farthest_m": farthest_m(layout),
        "gun_arcs": _arcs(laid),
        "trailing": arm.side == "trailing",
        "folds_in": arm.fold_deg < 90.0,
        "first_deg": float(course.bearing_deg[0]),
        "last_deg": float(course.bearing_deg[-1]),
        "full_circle": course.full_circle,
        "angles": second_differences(_steps(course.angle_deg, ANGLE_STEP_DEG)),
    }


def _move(layout: LateralMoveLayout) -> dict[str, Any]:
    return {
        "name": layout.name,
        "corners_m": [_exact(corner) for corner in layout.path.corners_m.tolist()],
        "left": _wing(layout.move.left),
        "right": _wing(layout.move.right),
    }


def _wing(wing: Wing) -> dict[str, Any]:
    return {
        "towers_m": _exact(wing.tower_offsets_m),
        "length_m": wing.length_m,
        "reach_m": wing.reach_m,
    }


def _block(layout: FieldLayout, drip: DripLayout) -> dict[str, Any]:
    """Return a block: its ground as an area less what holds no tape, its rows, and the ends of its tape."""
    block, grid = drip.block, drip.grid
    return {
        "name": drip.name,
        # Most blocks fill their field.
        "area": None if block.area == layout.field.boundary else _rings(block.area),
        "not_under": list(block.not_under),
        "zones": [[zone.name, zone.first, zone.last] for zone in block.zones],
        "emitter_m": None if block.tape is None else block.tape.emitter_spacing_m,
        "first_m": grid.first_m,
        "spacing_m": grid.spacing_m,
        "count": grid.count,
        **_tape(grid),
        **(_curve(grid) if isinstance(grid, CurvedGrid) else _straight(grid)),
    }


def _tape(grid: LateralRows) -> dict[str, Any]:
    """Return pieces a lateral, as runs of equal numbers, their ends, and where stations begin."""
    counts = grid.pieces_per_lateral
    turns = np.flatnonzero(np.append(True, counts[1:] != counts[:-1])) if len(counts) else np.empty(0, int)
    times = np.diff(np.append(turns, len(counts)))
    start, stop = (_steps(ends, END_STEP_M) for ends in (grid.piece_start_m, grid.piece_stop_m))
    first = np.flatnonzero(grid.piece_letter == 0)
    row = grid.piece_lateral[first] - 1
    zero = _steps(grid.station_zero_m[row], END_STEP_M)
    # Station 0 is the first piece's start, unless something takes the lateral's own end away.
    off = np.flatnonzero(zero != start[first])
    return {
        "pieces": np.column_stack([counts[turns], times]).tolist(),
        "start": second_differences(start, grid.piece_letter),
        "stop": second_differences(stop, grid.piece_letter),
        "zero": np.column_stack([row[off] + 1, zero[off]]).tolist(),
    }


def _straight(grid: LateralGrid) -> dict[str, Any]:
    return {"origin": list(grid.origin), "along": list(grid.along), "across": list(grid.across)}


def _curve(grid: CurvedGrid) -> dict[str, Any]:
    """Return a guidance line and what it takes to draw its offset curves as they were laid."""
    return {
        "guide": [_exact(corner) for corner in shapely.get_coordinates(grid.guide).tolist()],
        "guide_across_m": grid.guide_across_m,
        "lower": _side(grid.lower),
        "higher": _side(grid.higher),
    }


def _side(side: OffsetSide) -> dict[str, Any]:
    along, normal = side.along[0], side.normal[0]
    own = np.flatnonzero(side.source >= 0)
    gone = np.flatnonzero(np.isfinite(side.vanishes_m))
    return {
        "turn": 1 if along[1] * normal[0] - along[0] * normal[1] > 0 else -1,
        # How many edges of an arc stand before each edge of the line but its first.
        "arcs": (np.diff(own) - 1).tolist(),
        "vanishes": [[int(edge), float(side.vanishes_m[edge])] for edge in gone],
    }


def _exact(values: ArrayLike, decimals: int = 9) -> list[float]:
    return [float(value) for value in np.round(np.asarray(values, float), decimals) + 0.0]


def _steps(values: ArrayLike, step: float) -> NDArray[np.int64]:
    return np.rint(np.asarray(values, float) / step).astype(np.int64)


def _rings(shape: BaseGeometry) -> list[list[int]]:
    """Return the rings of ground as steps from corner to corner, the first one from the frame's origin."""
    rings = shapely.get_rings(shapely.get_parts(shape))
    corners = (_steps(shapely.get_coordinates(ring), CORNER_STEP_M) for ring in rings)
    return [np.diff(ring, axis=0, prepend=0).ravel().tolist() for ring in corners]

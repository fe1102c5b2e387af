"""How sure the acres are, from how sure the boundary's corners and the wetted radii are."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from ringrow.coverage.field import FieldLayout, PivotLayout

PEOPLE_SEE = 1.96
"""Standard errors either way that people are shown, called 95 % [-]."""

_ARC_M = 0.05
"""Ends of a chord of an arc differ in radius by less than this; ends of a straight side by more [m]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AreaErrors:
    """Standard errors of a field's areas; None where the farm states nothing they could rest on.

    Parameters
    ----------
    field_se_m2 : float or None
        Of the area within the boundary. [m2]
    farmable_se_m2 : float or None
        Of the farmable area; exclusions are taken as drawn. [m2]
    irrigated_se_m2, dry_se_m2 : float or None
        Of the irrigated and the dry area. [m2]
    """

    field_se_m2: float | None
    farmable_se_m2: float | None
    irrigated_se_m2: float | None
    dry_se_m2: float | None


def area_errors(layout: FieldLayout) -> AreaErrors:
    """Return the standard errors of a field's areas.

    Parameters
    ----------
    layout : FieldLayout
        The field with every system's wetted ground.

    Returns
    -------
    AreaErrors
        Errors from `Field.boundary_se_m` and each `Pivot.radius_se_m`, taken as independent.

    Notes
    -----
    A corner that moves by a small step changes an area by the length of boundary it drags along,
    square to the step. Over the whole boundary that is 1/2 sigma sqrt(sum |P(i+1) - P(i-1)|^2);
    for wet and dry ground only the parts of the boundary that edge them count. A radius that is
    off by sigma changes the wet ground by sigma times the wetted edge inside farmable ground
    that no other system wets.
    """
    field = layout.field
    radius = _radius_variance_m4(layout)
    if field.boundary_se_m is None and radius is None:
        return AreaErrors(field_se_m2=None, farmable_se_m2=None, irrigated_se_m2=None, dry_se_m2=None)
    wetted = shapely.union_all([system.wetted for system in layout.systems])
    sigma = field.boundary_se_m or 0.0
    edge = shapely.boundary(field.boundary)
    dry = shapely.difference(edge, wetted)
    farmable_edge = shapely.difference(edge, field.exclusions)
    wet_edge = shapely.intersection(farmable_edge, wetted)
    dry_edge = shapely.intersection(farmable_edge, dry)

    def error(part: BaseGeometry | None, extra: float) -> float:
        return float(np.sqrt(sigma**2 * _leverage_m2(field.boundary, part) + extra))

    stated = field.boundary_se_m is not None
    return AreaErrors(
        field_se_m2=error(None, 0.0) if stated else None,
        farmable_se_m2=error(farmable_edge, 0.0) if stated else None,
        irrigated_se_m2=error(wet_edge, radius or 0.0),
        dry_se_m2=error(dry_edge, radius or 0.0),
    )


def _leverage_m2(boundary: BaseGeometry, part: BaseGeometry | None) -> float:
    """Return the sum over corners of |d area / d corner|^2, counting only a part of the boundary."""
    total = 0.0
    for polygon in shapely.get_parts(boundary):
        for ring in (polygon.exterior, *polygon.interiors):
            total += _ring_leverage_m2(shapely.get_coordinates(ring)[:-1], part)
    return total


def _ring_leverage_m2(corners: NDArray[np.float64], part: BaseGeometry | None) -> float:
    after = np.roll(corners, -1, axis=0)
    step = after - corners
    # Square to each side and as long as it: what moving the side by one metre adds.
    push = np.column_stack([step[:, 1], -step[:, 0]])
    near, far = _shares(corners, after, part)
    pull = near[:, None] * push + np.roll(far[:, None] * push, 1, axis=0)
    return float((pull**2).sum())


def _shares(
    corners: NDArray[np.float64], after: NDArray[np.float64], part: BaseGeometry | None
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return, for each side, how much of it follows its first and its second corner."""
    if part is None:
        return np.full(len(corners), 0.5), np.full(len(corners), 0.5)
    sides = shapely.linestrings(np.stack([corners, after], axis=1))
    shapely.prepare(part)
    pieces, owner = shapely.get_parts(
        shapely.intersection(sides, shapely.buffer(part, 1e-6, quad_segs=1)), return_index=True
    )
    lines = (shapely.get_dimensions(pieces) == 1) & (shapely.length(pieces) > 0)
    pieces, owner = pieces[lines], owner[lines]
    length = np.maximum(np.hypot(*(after - corners).T), 1e-12)[owner]
    begin = shapely.get_coordinates(shapely.get_point(pieces, 0)) - corners[owner]
    end = shapely.get_coordinates(shapely.get_point(pieces, -1)) - corners[owner]
    along = (after - corners)[owner] / length[:, None]
    first = np.clip((begin * along).sum(axis=1) / length, 0.0, 1.0)
    last = np.clip((end * along).sum(axis=1) / length, 0.0, 1.0)
    low, high = np.minimum(first, last), np.maximum(first, last)
    # A point at share t of the side follows its first corner by 1 - t and its second by t.
    far = np.bincount(owner, (high**2 - low**2) / 2, minlength=len(corners))
    whole = np.bincount(owner, high - low, minlength=len(corners))
    return np.asarray(whole - far, float), np.asarray(far, float)


def _radius_variance_m4(layout: FieldLayout) -> float | None:
    stated = [pivot for pivot in layout.pivots if pivot.pivot.radius_se_m is not None]
    if not stated:
        return None
    total = 0.0
    for machine in stated:
        others = [system.wetted for system in layout.systems if system is not machine]
        open_ground = shapely.difference(layout.farmable, shapely.union_all(others))
        length = shapely.intersection(_moving_edge(machine), open_ground).length
        total += (machine.pivot.radius_se_m * length) ** 2
    return total


def _moving_edge(machine: PivotLayout) -> BaseGeometry:
    """Return the arcs of a machine's wetted edge: what moves outward when its radius grows."""
    chords = []
    for part in shapely.get_parts(machine.wetted):
        for ring in (part.exterior, *part.interiors):
            xy = shapely.get_coordinates(ring)
            radius = np.hypot(xy[:, 0] - machine.pivot.x_m, xy[:, 1] - machine.pivot.y_m)
            arc = np.abs(np.diff(radius)) < _ARC_M
            chords.append(np.stack([xy[:-1], xy[1:]], axis=1)[arc])
    return shapely.multilinestrings(shapely.linestrings(np.concatenate(chords)))

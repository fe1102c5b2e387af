"""Places on lateral moves that the words of a photo name: "Ditch lateral left T3 gearbox"."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import shapely

from ringrow.coverage.locate_moves import move_places
from ringrow.errors import PlaceError
from ringrow.farm.move_spots import SaidOnMove, offset_on_m, spot_on_move
from ringrow.farm.photo_caption import AGREE_M, Found

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ringrow.coverage.field import FieldLayout, LateralMoveLayout
    from ringrow.coverage.places import LateralMovePlace
    from ringrow.equipment.lateral_move import LateralMove
    from ringrow.farm.flag_model import MoveSpot
    from ringrow.farm.import_model import ReadyRow
    from ringrow.farm.model import Farm
    from ringrow.farm.photo_caption import Caption
    from ringrow.units import UnitSystem


def names_move(layouts: Sequence[FieldLayout], caption: Caption, machine: str | None) -> bool:
    """Return whether words mean a lateral move rather than a pivot.

    Parameters
    ----------
    layouts : sequence of FieldLayout
        The farm's fields.
    caption : Caption
        The words.
    machine : str or None
        The machine that they name, None when they name none.

    Returns
    -------
    bool
        True when a lateral move is named or numbered; also for a side beside a tower or span of
        no machine in particular, which pivots do not have.
    """
    if machine is not None:
        return any(laid.name == machine for laid in _moves(layouts))
    if caption.pivot is not None:
        return False
    sided = bool(caption.side and (caption.tower or caption.span)) and bool(_moves(layouts))
    return caption.move is not None or sided


def move_near(layouts: Sequence[FieldLayout], ready: ReadyRow, *, any_place: bool) -> bool:
    """Return whether a photo of no machine in particular may be of a lateral move.

    Parameters
    ----------
    layouts : sequence of FieldLayout
        The farm's fields.
    ready : ReadyRow
        The photo.
    any_place : bool
        Whether one without a position counts too, on a farm that has no other machines.

    Returns
    -------
    bool
        True when the farm has lateral moves and one of them wets the ground where it was taken.
    """
    if ready.row.lon is None or ready.row.lat is None:
        return any_place and bool(_moves(layouts))
    return any(
        _off_ground_m(layout, laid, ready) <= AGREE_M for layout in layouts for laid in layout.lateral_moves
    )


def place_on_move(
    farm: Farm,
    layouts: Sequence[FieldLayout],
    ready: ReadyRow,
    caption: Caption,
    machine: str | None,
) -> Found:
    """Return the place on a lateral move that words name.

    Parameters
    ----------
    farm : Farm
        The farm.
    layouts : sequence of FieldLayout
        Its fields.
    ready : ReadyRow
        The photo with its kind.
    caption : Caption
        Its words.
    machine : str or None
        The machine that they name, None when they name none.

    Returns
    -------
    Found
        The place, the side taken from the photo's position when it is not said and the cart's
        travel from the position where both agree; or why there is none.
    """
    found, how = _move(layouts, ready, caption, machine)
    if found is None:
        return Found(remarks=(how,))
    layout, laid = found
    if caption.outlet is not None or caption.drop is not None:
        what = "drop" if caption.outlet is None else "outlet"
        spoken = f"{what} left aside: those of {laid.name} are not numbered, say a tower or span"
        if not (caption.tower or caption.span):
            return Found(remarks=(f"words left aside: {spoken}",))
        how = f"{how}; {spoken}"
    seen = _seen(layout, laid, ready)
    said = SaidOnMove(side=caption.side, tower=caption.tower, span=None if caption.tower else caption.span)
    if not said.side and seen is not None and _both_sides(laid.move) and (said.tower or said.span):
        said = replace(said, side=seen.side)
        how = f" (side by the photo's position){how}"
    try:
        spot = spot_on_move(laid.move, said, units=farm.units)
    except PlaceError as error:
        return Found(remarks=(f"words left aside: {error}",))
    shown = f"words name {spot.said} of {laid.name}{how}"
    if seen is None:
        return Found(spot=spot, around="pivot", remarks=(shown,))
    spot, remark = _beside_position(laid, spot, seen, layout, ready, farm)
    return Found(spot=spot, around="pivot", remarks=(shown, *((remark,) if remark else ())))


def _moves(layouts: Sequence[FieldLayout]) -> list[LateralMoveLayout]:
    return [laid for layout in layouts for laid in layout.lateral_moves]


def _both_sides(move: LateralMove) -> bool:
    return bool(move.left.spans_m and move.right.spans_m)


def _move(
    layouts: Sequence[FieldLayout], ready: ReadyRow, caption: Caption, machine: str | None
) -> tuple[tuple[FieldLayout, LateralMoveLayout] | None, str]:
    """Return the lateral move that words mean, and how it was found; or None, and why there is none."""
    every = [(layout, laid) for layout in layouts for laid in layout.lateral_moves]
    if not every:
        return None, "words left aside: this farm has no lateral moves"
    named = [pair for pair in every if pair[1].name == machine]
    if named:
        return named[0], ""
    if caption.move is not None:
        if not 1 <= caption.move <= len(every):
            return None, (
                f"words left aside: found lateral move {caption.move}; allowed: 1 to {len(every)} in the "
                "order of the farm's files, or a name"
            )
        return every[caption.move - 1], f" (number {caption.move} of the farm's lateral moves)"
    if len(every) == 1:
        return every[0], ""
    if ready.row.lon is None or ready.row.lat is None:
        return None, "words left aside: they name no lateral move, and the photo has no position"
    away = [_off_ground_m(layout, laid, ready) for layout, laid in every]
    nearest = away.index(min(away))
    if away[nearest] > AGREE_M:
        return None, "words left aside: they name no lateral move, and none reaches the photo's position"
    return every[nearest], " (by the photo's position)"


def _off_ground_m(layout: FieldLayout, laid: LateralMoveLayout, ready: ReadyRow) -> float:
    """Return how far a photo was taken from the ground that a machine wets; endless without a position."""
    if ready.row.lon is None or ready.row.lat is None:
        return math.inf
    x, y = layout.field.frame.to_xy(ready.row.lon, ready.row.lat)
    return float(shapely.distance(laid.wetted, shapely.Point(float(x), float(y))))


def _seen(layout: FieldLayout, laid: LateralMoveLayout, ready: ReadyRow) -> LateralMovePlace | None:
    if ready.row.lon is None or ready.row.lat is None:
        return None
    return move_places(laid, *layout.field.frame.to_xy(ready.row.lon, ready.row.lat))[0]


def _beside_position(
    laid: LateralMoveLayout,
    spot: MoveSpot,
    seen: LateralMovePlace,
    layout: FieldLayout,
    ready: ReadyRow,
    farm: Farm,
) -> tuple[MoveSpot, str]:
    """Return a spot with the travel that the photo's position gives it, or what speaks against it."""
    said_m, near_m = offset_on_m(laid.move, spot), AGREE_M + 3 * (ready.row.accuracy or farm.accuracy).sigma_m
    # Over the cart the side says nothing.
    seen_m = seen.offset_m if seen.side == spot.side else -seen.offset_m
    if abs(seen_m - said_m) <= near_m and _off_ground_m(layout, laid, ready) <= near_m:
        return replace(spot, travel_m=seen.travel_m), ""
    where = f"{_feet(seen.offset_m, farm.units)} {seen.side} of the cart's path"
    part = f"{spot.said} at {_feet(said_m, farm.units)}"
    return spot, f"CONFLICT: the photo's position lies {where}, {part}; the words were taken"


def _feet(length_m: float, units: UnitSystem) -> str:
    return f"{units.from_m(length_m):,.0f} {units.length}"

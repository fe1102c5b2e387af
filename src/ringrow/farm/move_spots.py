"""Places on lateral moves as people say them: side, tower, wheel, span, distance, travel."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from ringrow.errors import PlaceError
from ringrow.farm.flag_model import MoveSpot
from ringrow.farm.spot_values import check_wheel
from ringrow.geometry.travel import travel_path

if TYPE_CHECKING:
    from ringrow.equipment.lateral_move import Hand, LateralMove
    from ringrow.units import UnitSystem


@dataclass(frozen=True, slots=True, kw_only=True)
class SaidOnMove:
    """What a person said about a place on a lateral move; all but the side may be left out.

    Parameters
    ----------
    side : str, default ""
        ``left`` or ``right`` of the cart, seen in the direction of travel; empty when not said.
    tower, span : int or None, default None
        Tower or span of that side, 1 nearest the cart.
    distance_m : float or None, default None
        Distance from the cart. [m]
    wheel : str, default ""
        Which wheel of the tower.
    travel_m : float or None, default None
        How far along its path the cart stood. [m]
    """

    side: str = ""
    tower: int | None = None
    span: int | None = None
    distance_m: float | None = None
    wheel: str = ""
    travel_m: float | None = None


def spot_on_move(move: LateralMove, said: SaidOnMove, *, units: UnitSystem) -> MoveSpot:
    """Return the spot on a lateral move that a person described.

    Parameters
    ----------
    move : LateralMove
        The machine.
    said : SaidOnMove
        What was said; without tower, span and distance it is the cart.
    units : UnitSystem
        Units in which messages and the spot's own words speak.

    Returns
    -------
    MoveSpot
        The spot, with its distance from the cart by the machine as it is now.

    Raises
    ------
    PlaceError
        If the machine has no such place, too much was said, or no side.

    Examples
    --------
    >>> from ringrow.equipment.lateral_move import LateralMove, Wing
    >>> from ringrow.units import US
    >>> move = LateralMove(name="L1", path_m=((0, 0), (0, 400)), left=Wing(spans_m=(50.0, 60.0)))
    >>> spot = spot_on_move(move, SaidOnMove(tower=2, travel_m=250.0), units=US)
    >>> spot.said, spot.side, spot.offset_m
    ('left tower 2', 'left', 110.0)
    """
    named = [name for name in ("tower", "span", "distance_m") if getattr(said, name) is not None]
    if len(named) > 1:
        words = " and ".join(name.removesuffix("_m") for name in named)
        message = f'place on "{move.name}": found {words}; allowed: one of tower, span, distance'
        raise PlaceError(message)
    if said.wheel and said.tower is None:
        message = f'place on "{move.name}": found a wheel alone; allowed: together with a tower'
        raise PlaceError(message)
    check_wheel(said.wheel)
    side = _side(move, said, at_cart=not named)
    offset, words = _off_cart(move, said, side, units)
    path_m = float(travel_path(move.path_m).starts_m[-1])
    if said.travel_m is not None and not 0 <= said.travel_m <= path_m + units.length_m / 2:
        message = (
            f'travel of "{move.name}": found {units.from_m(said.travel_m):.0f} {units.length}; '
            f"allowed: 0 to {units.from_m(path_m):.0f} {units.length} (the cart's path)"
        )
        raise PlaceError(message)
    return MoveSpot(
        move=move.name,
        said=f"{words}, {said.wheel} wheel" if said.wheel else words,
        side=side,
        offset_m=offset,
        tower=said.tower,
        span=said.span,
        travel_m=None if said.travel_m is None else min(said.travel_m, path_m),
    )


def offset_on_m(move: LateralMove, spot: MoveSpot) -> float:
    """Return how far from the cart a spot lies on a lateral move as it is now.

    Parameters
    ----------
    move : LateralMove
        The machine.
    spot : MoveSpot
        The spot.

    Returns
    -------
    float
        By the tower or span that was named while the machine has it; else as it was when the flag
        was set, at most the pipe's end. [m]
    """
    wing = move.wing(spot.side)
    if spot.tower is not None and spot.tower <= len(wing.spans_m):
        return wing.tower_offsets_m[spot.tower - 1]
    if spot.span is not None and spot.span <= len(wing.spans_m):
        return wing.tower_offsets_m[spot.span - 1] - wing.spans_m[spot.span - 1] / 2
    return min(spot.offset_m, wing.length_m)


def _side(move: LateralMove, said: SaidOnMove, *, at_cart: bool) -> Hand:
    if said.side not in ("", "left", "right"):
        message = f'side of "{move.name}": found "{said.side}"; allowed: left, right'
        raise PlaceError(message)
    hands: tuple[Hand, ...] = ("left", "right")
    sides = [hand for hand in hands if move.wing(hand).spans_m]
    if not said.side and (at_cart or len(sides) == 1):
        return sides[0]
    if not said.side:
        message = (
            f'side of "{move.name}": not said; allowed: left or right of the cart, looking along its travel'
        )
        raise PlaceError(message)
    side: Hand = "left" if said.side == "left" else "right"
    if side not in sides and not at_cart:
        message = f'side of "{move.name}": found {side}; allowed: {sides[0]}, it has no pipe on the other'
        raise PlaceError(message)
    return side


def _off_cart(move: LateralMove, said: SaidOnMove, side: Hand, units: UnitSystem) -> tuple[float, str]:
    wing, towers = move.wing(side), len(move.wing(side).spans_m)
    for what, number in (("tower", said.tower), ("span", said.span)):
        if number is not None and not 1 <= number <= towers:
            message = (
                f'{what} of "{move.name}", {side}: found {number}; allowed: 1 to {towers}, 1 nearest the cart'
            )
            raise PlaceError(message)
    if said.tower is not None:
        return wing.tower_offsets_m[said.tower - 1], f"{side} tower {said.tower}"
    if said.span is not None:
        return (
            wing.tower_offsets_m[said.span - 1] - wing.spans_m[said.span - 1] / 2,
            f"{side} span {said.span}",
        )
    if said.distance_m is None:
        return 0.0, "cart"
    if not 0 <= said.distance_m <= wing.length_m + units.length_m / 2:
        message = (
            f'distance on "{move.name}", {side}: found {units.from_m(said.distance_m):.0f} {units.length}; '
            f"allowed: 0 to {units.from_m(wing.length_m):.0f} {units.length} (cart to pipe end)"
        )
        raise PlaceError(message)
    offset = min(said.distance_m, wing.length_m)
    return offset, f"{side}, {units.from_m(offset):.0f} {units.length} from the cart"

"""What is at a place: the answers of ``where``, in plain SI numbers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from ringrow.equipment.lateral_move import Hand

Part = Literal["span", "overhang", "throw", "gun", "beyond", "arm"]
MovePart = Literal["span", "overhang", "throw", "beyond"]
StopEnd = Literal["start", "stop"]


@dataclass(frozen=True, slots=True, kw_only=True)
class BendPlace:
    """A place that the outer spans pass over while they walk on past a stop.

    Parameters
    ----------
    at : {"start", "stop"}
        Which end of the sector.
    tower : int
        The tower they turn about.
    turned_deg : float
        How far they have walked on about it when the pipe lies over the place. [deg]
    pipe_m : float
        Distance from the pivot point along the bent pipe. [m]
    """

    at: StopEnd
    tower: int
    turned_deg: float
    pipe_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ArmPlace:
    """A place on, or passed over by, a corner arm.

    Parameters
    ----------
    along_m : float
        Distance along the arm from its hinge, the last tower. [m]
    wheel_offset_m : float
        That less the distance of the steered wheels: how far past them, outward positive. [m]
    pipe_m : float
        Distance from the pivot point along main pipe and arm. [m]
    angle_deg : float or None
        Angle at the hinge between main pipe and arm when the arm lies over the place; None when
        it is not known where the machine stood. [deg]
    azimuth_deg, panel_deg : float or None
        True azimuth of the main pipe then, and what the panel shows; None when not known. [deg]
    """

    along_m: float
    wheel_offset_m: float
    pipe_m: float
    angle_deg: float | None
    azimuth_deg: float | None
    panel_deg: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PivotPlace:
    """A place seen from one pivot.

    Parameters
    ----------
    name : str
        The pivot.
    distance_m : float
        Distance from the pivot point. [m]
    azimuth_deg, panel_deg : float or None
        True azimuth from the pivot point and what the panel shows there; None within
        0.1 ft of the point. [deg]
    span : int or None
        Span 1..n (span n lies between tower n-1 and n); None past the last tower.
    part : {"span", "overhang", "throw", "gun", "beyond", "arm"}
        What reaches this distance; ``arm`` where a corner arm passes over the place.
    tower : int
        Nearest tower by radius, 1..n; past a stop with a bend, by distance along the bent pipe.
    tower_offset_m : float
        Distance less that tower's radius: how far from its wheel track, outward positive. [m]
    outlet : int or None
        Nearest outlet, 1..n from the pivot point; None when outlets are not known or the place
        is past the pipe end.
    outlet_range : tuple of int or None
        Shortest run of outlets around it that holds 0.95.
    outlet_chance : float or None
        Chance that `outlet` is the right one. [-]
    inside : bool
        Whether this pivot wets the place.
    bend : BendPlace or None, default None
        Where outer spans that walk on past a stop pass over it, the main pipe standing at the stop.
    arm : ArmPlace or None, default None
        Where the corner arm or its gun passes over it; of several passages the one nearest the hinge.
    """

    name: str
    distance_m: float
    azimuth_deg: float | None
    panel_deg: float | None
    span: int | None
    part: Part
    tower: int
    tower_offset_m: float
    outlet: int | None
    outlet_range: tuple[int, int] | None
    outlet_chance: float | None
    inside: bool
    bend: BendPlace | None = None
    arm: ArmPlace | None = None

    @property
    def pipe_m(self) -> float:
        """Distance from the pivot point along the pipe, the distance itself on a straight one [m]."""
        bent = self.bend or self.arm
        return self.distance_m if bent is None else bent.pipe_m


@dataclass(frozen=True, slots=True, kw_only=True)
class LateralMovePlace:
    """A place seen from one lateral-move machine.

    Parameters
    ----------
    name : str
        The machine.
    travel_m : float or None
        How far along its path the cart stands when the pipe lies over the place; None when that
        is not known of a place on the machine. [m]
    side : {"left", "right"}
        Side of the cart, seen in the direction of travel.
    offset_m : float
        Distance from the cart along the pipe, 0 or more. [m]
    span : int or None
        Span 1..n from the cart; None past the last tower of that side.
    part : {"span", "overhang", "throw", "beyond"}
        What reaches this offset.
    tower : int or None
        Nearest tower of that side, 1..n from the cart; None when there is no pipe.
    tower_offset_m : float or None
        Offset less that tower's, outward positive. [m]
    inside : bool
        Whether this machine wets the place.
    """

    name: str
    travel_m: float | None
    side: Hand
    offset_m: float
    span: int | None
    part: MovePart
    tower: int | None
    tower_offset_m: float | None
    inside: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """A lateral a flag may belong to.

    Parameters
    ----------
    lateral : int
        Lateral number, 1 and up.
    chance : float
        Chance that it is this one, 0 to 1. [-]
    """

    lateral: int
    chance: float


@dataclass(frozen=True, slots=True, kw_only=True)
class DripPlace:
    """A place seen from one drip block.

    Parameters
    ----------
    name : str
        The block.
    zone : str or None
        Zone of the nearest lateral.
    lateral : int or None
        Nearest lateral with tape; None when the block holds none.
    piece : str or None
        Letter of the piece, a from the header end; None when the lateral is in one piece.
    offset_m : float or None
        Distance across the laterals from that lateral, positive toward higher numbers. [m]
    station_m : float or None
        Distance along the lateral from its header end, of the nearest point of tape. [m]
    emitter : int or None
        Nearest emitter, 1 at the header end; None when emitter spacing is not known.
    candidates : tuple of Candidate
        Laterals by falling chance, until 0.95 is reached or all that have 0.001.
    elsewhere : float
        Chance that it belongs to none of the laterals near. [-]
    inside : bool
        Whether this block wets the place.
    """

    name: str
    zone: str | None
    lateral: int | None
    piece: str | None
    offset_m: float | None
    station_m: float | None
    emitter: int | None
    candidates: tuple[Candidate, ...]
    elsewhere: float
    inside: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """What is at one place.

    Parameters
    ----------
    field : str or None
        Field whose boundary holds the place; None outside every field.
    farmable, irrigated : bool
        Whether the ground there is farmed; whether it is farmed and wetted.
    pivots : tuple of PivotPlace
        Pivots of the field, nearest first; outside every field, those that wet the place.
    drip : tuple of DripPlace
        Drip blocks of the field, nearest tape first.
    lateral_moves : tuple of LateralMovePlace, default ()
        Lateral moves of the field, nearest cart path first; outside every field, those that wet it.
    """

    field: str | None
    farmable: bool
    irrigated: bool
    pivots: tuple[PivotPlace, ...]
    drip: tuple[DripPlace, ...]
    lateral_moves: tuple[LateralMovePlace, ...] = ()

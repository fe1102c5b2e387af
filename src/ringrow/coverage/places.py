"""What is at a place: the answers of ``where``, in plain SI numbers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Part = Literal["span", "overhang", "throw", "gun", "beyond"]


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
    part : {"span", "overhang", "throw", "gun", "beyond"}
        What reaches this distance.
    tower : int
        Nearest tower by radius, 1..n.
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
    """

    field: str | None
    farmable: bool
    irrigated: bool
    pivots: tuple[PivotPlace, ...]
    drip: tuple[DripPlace, ...]

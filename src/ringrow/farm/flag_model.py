"""A flag: its state folded from events, the spot it was set at, and where that is on the farm."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from datetime import date, datetime

    from ringrow.coverage.accuracy import Accuracy
    from ringrow.coverage.footprint import Footprint
    from ringrow.coverage.machine_checks import Doubt
    from ringrow.coverage.places import DripPlace, LateralMovePlace, PivotPlace, Place
    from ringrow.coverage.wheel_tracks import TrackMeeting
    from ringrow.equipment.kinds import FlagClass, FlagKind
    from ringrow.equipment.lateral_move import Hand


@dataclass(frozen=True, slots=True, kw_only=True)
class GroundSpot:
    """A position on the globe, by GPS or read off a map.

    Parameters
    ----------
    lon, lat : float
        WGS 84. [deg]
    accuracy : Accuracy
        How good the position is.
    timed : bool, default False
        Whether the time of the flag is when the position was taken, by a clock beside it; not so
        when somebody typed it in later.
    """

    lon: float
    lat: float
    accuracy: Accuracy
    timed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineSpot:
    """A place on a pivot as people say it; it moves with the machine.

    Parameters
    ----------
    pivot : str
        Name of the pivot.
    said : str
        How it was said, such as ``tower 5, drop +3``.
    distance_m : float or None, default None
        Distance from the pivot point along the pipe when it was said, a corner arm's pipe counted
        on; None when only a tower, span or outlet is known. [m]
    tower : int or None, default None
        Tower that was named.
    drop : int or None, default None
        Outlets past (positive) or before (negative) the tower.
    span, outlet : int or None, default None
        Span or outlet that was named or found.
    wheel : str, default ""
        ``inner-leading``, ``inner-trailing``, ``outer-leading``, ``outer-trailing`` or empty.
    azimuth_deg : float or None, default None
        True azimuth at which the machine stood. [deg]
    """

    pivot: str
    said: str
    distance_m: float | None = None
    tower: int | None = None
    drop: int | None = None
    span: int | None = None
    outlet: int | None = None
    wheel: str = ""
    azimuth_deg: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MoveSpot:
    """A place on a lateral move as people say it; it moves with the machine.

    Parameters
    ----------
    move : str
        Name of the machine.
    said : str
        How it was said, such as ``left tower 3``.
    side : {"left", "right"}
        Side of the cart, seen in the direction of travel.
    offset_m : float
        Distance from the cart when it was said. [m]
    tower, span : int or None, default None
        Tower or span of that side that was named, 1 nearest the cart.
    travel_m : float or None, default None
        How far along its path the cart stood. [m]
    """

    move: str
    said: str
    side: Hand
    offset_m: float
    tower: int | None = None
    span: int | None = None
    travel_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DripSpot:
    """A place along a lateral as people say it.

    Parameters
    ----------
    drip : str
        Name of the drip block.
    lateral : int
        Lateral number, 1 and up.
    station_m : float
        Distance along the lateral from its header end. [m]
    """

    drip: str
    lateral: int
    station_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class WellSpot:
    """A place at a well.

    Parameters
    ----------
    well : str
        Name of the well.
    """

    well: str


Spot = GroundSpot | MachineSpot | MoveSpot | DripSpot | WellSpot


@dataclass(frozen=True, slots=True, kw_only=True)
class Clash:
    """One field of a flag that two people set differently without seeing each other's change.

    Parameters
    ----------
    field : str
        Which field, such as ``status``.
    values : tuple
        The values that stand against each other, the displayed one first.
    """

    field: str
    values: tuple[Any, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class UsedPart:
    """A part that was used on a flag, over all visits.

    Parameters
    ----------
    part : str
        What it is, as it was first said.
    quantity : int
        How many. [-]
    """

    part: str
    quantity: int


@dataclass(frozen=True, slots=True, kw_only=True)
class FlagState:
    """A flag as its events leave it.

    Parameters
    ----------
    id : str
        UUID.
    number : int
        Label on this farm's lists and maps, 1 and up, never used twice.
    kind : str
        Name of the flag kind.
    status : str
        ``open``, ``fixed``, ``checked`` or ``not-a-fault``.
    name, note : str
        Name it came with; free text.
    spot : GroundSpot, MachineSpot, MoveSpot, DripSpot, WellSpot or None
        Where it was set; None when it came without a place.
    flag_class : str or None
        Class set for this flag alone; None = its kind's.
    set_at : datetime
        When it was first set, UTC.
    set_by : str
        Who set it, as stated.
    source : str, default ""
        How it first came in, such as ``flag add`` or a file's name.
    clashes : tuple of Clash, default ()
        Fields with more than one head.
    parts : tuple of UsedPart, default ()
        Parts used on it, all visits together.
    photos : tuple of str, default ()
        Its photos in the farm's folder, oldest first.
    ground_flag : str or None, default None
        ``set`` when a flag on a wire stands in the ground there, ``pulled`` when it was taken out;
        None when nobody said.
    dig : GroundSpot, DripSpot or None, default None
        Where the hole was, once found.
    joined : tuple of FlagState, default ()
        Other flags that mark the same fault and are shown as this one, each as it is by itself.
    """

    id: str
    number: int
    kind: str
    status: str
    name: str
    note: str
    spot: Spot | None
    flag_class: FlagClass | None
    set_at: datetime
    set_by: str
    source: str = ""
    clashes: tuple[Clash, ...] = ()
    parts: tuple[UsedPart, ...] = ()
    photos: tuple[str, ...] = ()
    ground_flag: str | None = None
    dig: GroundSpot | DripSpot | None = None
    joined: tuple[FlagState, ...] = ()

    @property
    def ids(self) -> tuple[str, ...]:
        """UUIDs of all flags shown as this one, its own first."""
        return self.id, *(other.id for other in self.joined)


@dataclass(frozen=True, slots=True, kw_only=True)
class LocatedFlag:
    """A flag with its place on the farm.

    Parameters
    ----------
    state : FlagState
        The flag.
    kind : FlagKind
        Its kind; an unknown kind is shown as ``other-ground``'s class and words.
    flag_class : str
        Class in force.
    field : str or None
        Field it belongs to; None outside every field or at a well.
    lon, lat : float or None
        Position to go to; None for a machine flag whose machine's azimuth is not known. [deg]
    place : Place or None
        Everything that is there; None without a position.
    pivot : PivotPlace or None
        For a flag on a machine: the place on that machine.
    drip : DripPlace or None
        For a ground flag on drip ground: the place along the tape.
    well : str or None
        Well it sits at.
    move : LateralMovePlace or None, default None
        For a flag on a lateral move: the place on that machine.
    footprint : Footprint or None, default None
        Ground it touches; None for a fault that touches none by itself.
    doubt : Doubt or None, default None
        Why a flag set by position cannot be on the machine it seems to be on.
    meets : tuple of TrackMeeting, default ()
        Wheels that will meet a hole, rut or rock, nearest first.
    set_lon, set_lat : float or None, default None
        Where it was set, when `lon` and `lat` are where its machine stands now. [deg]
    rebuilt : date or None, default None
        First day from which its machine has other hardware than it was set on.
    """

    state: FlagState
    kind: FlagKind
    flag_class: FlagClass
    field: str | None
    lon: float | None
    lat: float | None
    place: Place | None
    pivot: PivotPlace | None = None
    drip: DripPlace | None = None
    well: str | None = None
    move: LateralMovePlace | None = None
    footprint: Footprint | None = None
    doubt: Doubt | None = None
    meets: tuple[TrackMeeting, ...] = ()
    set_lon: float | None = None
    set_lat: float | None = None
    rebuilt: date | None = None

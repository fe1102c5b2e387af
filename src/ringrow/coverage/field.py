"""A field in metres: its ground and what stands on it. Plain data, no computing."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from shapely import Polygon

if TYPE_CHECKING:
    from shapely import LineString
    from shapely.geometry.base import BaseGeometry

    from ringrow.equipment.drip import DripBlock
    from ringrow.equipment.lateral_move import LateralMove
    from ringrow.equipment.pivot import Pivot, Sector
    from ringrow.frame import Frame
    from ringrow.geometry.corner_arm import ArmCourse, ArmGeometry
    from ringrow.geometry.laterals import CurvedGrid, LateralGrid
    from ringrow.geometry.travel import TravelPath

SystemKind = Literal["pivot", "lateral move", "drip"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One field with its machines and drip blocks, in its own metric frame.

    Parameters
    ----------
    name : str
        Name, unique on the farm.
    frame : Frame
        The metric frame that all shapes and positions of this field are in.
    boundary : shapely Polygon or MultiPolygon
        Outer limit of the field. [m]
    exclusions : shapely geometry, default empty
        Union of all ground inside the boundary that is not farmed. [m]
    setback_m : float, default 0
        Gun and corner-arm water stay this far inside farmable ground. [m]
    neck_m : float, default 15.24
        Dry ground narrower than this is an edge strip. [m]
    min_arc_deg : float, default 5
        Gun arcs shorter than this are not worth a switch. [deg]
    keep_off : shapely geometry, default empty
        Union of roads, houses, power lines and stock water that no gun may reach, on either side of
        the boundary; lines and points as they are. [m]
    boundary_se_m : float or None, default None
        Standard error of a boundary corner, one axis. [m]
    tillage_depth_m : float or None, default None
        Deepest that the ground of this field is worked. [m]
    pivots : tuple of Pivot, default ()
        Pivots, in file order.
    lateral_moves : tuple of LateralMove, default ()
        Lateral-move machines, in file order.
    drip : tuple of DripBlock, default ()
        Drip blocks, in file order.
    access, legal : str, default ""
        How a crew gets there; legal land description.
    notes : str, default ""
        What the owner wants the crew to know.
    crop : str, default ""
        What grows on it; empty when not said.
    """

    name: str
    frame: Frame
    boundary: BaseGeometry
    exclusions: BaseGeometry = field(default_factory=Polygon)
    setback_m: float = 0.0
    neck_m: float = 15.24
    min_arc_deg: float = 5.0
    keep_off: BaseGeometry = field(default_factory=Polygon)
    boundary_se_m: float | None = None
    tillage_depth_m: float | None = None
    pivots: tuple[Pivot, ...] = ()
    lateral_moves: tuple[LateralMove, ...] = ()
    drip: tuple[DripBlock, ...] = ()
    access: str = ""
    legal: str = ""
    notes: str = ""
    crop: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PivotLayout:
    """The wetted ground of one pivot, not cut at the boundary.

    Parameters
    ----------
    pivot : Pivot
        The machine.
    base : shapely Polygon
        Sector or circle of the base radius. [m]
    gun : shapely geometry
        Ring pieces the end gun adds; empty without one. [m]
    gun_arcs : tuple of Sector or "full"
        Where the gun runs, true azimuths clockwise; ``"full"`` for the whole circle.
    wetted : shapely geometry
        All ground it wets. [m]
    corner_arm : ArmLayout or None, default None
        The corner arm's course and sweep.
    bends : shapely geometry, default empty
        Ground the outer spans wet while they walk on past a stop. [m]
    """

    pivot: Pivot
    base: BaseGeometry
    gun: BaseGeometry
    gun_arcs: tuple[Sector, ...] | str
    wetted: BaseGeometry
    corner_arm: ArmLayout | None = None
    bends: BaseGeometry = field(default_factory=Polygon)

    @property
    def name(self) -> str:
        """Name of the system."""
        return self.pivot.name

    @property
    def kind(self) -> SystemKind:
        """Kind of system, as printed."""
        return "pivot"

    @property
    def assumed(self) -> tuple[str, ...]:
        """What the farm's files do not say about it."""
        return self.pivot.assumed


@dataclass(frozen=True, slots=True, kw_only=True)
class ArmLayout:
    """A corner arm worked out over the turn.

    Parameters
    ----------
    arm : ArmGeometry
        Its measures in the field's frame.
    course : ArmCourse
        Where it stands at each azimuth of the main pipe.
    swept : shapely geometry
        Ground the arm sweeps, its gun not counted. [m]
    gun : shapely geometry
        Ground the gun at its end adds; empty without one. [m]
    gun_arcs : tuple of Sector or "full"
        True azimuths of the main pipe at which that gun runs.
    wheel_path : shapely LineString
        Path of the steered wheels, from the start of the sector clockwise. [m]
    """

    arm: ArmGeometry
    course: ArmCourse
    swept: BaseGeometry
    gun: BaseGeometry
    gun_arcs: tuple[Sector, ...] | str
    wheel_path: LineString


@dataclass(frozen=True, slots=True, kw_only=True)
class LateralMoveLayout:
    """The wetted ground of one lateral-move machine, not cut at the boundary.

    Parameters
    ----------
    move : LateralMove
        The machine.
    path : TravelPath
        The cart's path.
    wetted : shapely geometry
        All ground it wets. [m]
    """

    move: LateralMove
    path: TravelPath
    wetted: BaseGeometry

    @property
    def name(self) -> str:
        """Name of the system."""
        return self.move.name

    @property
    def kind(self) -> SystemKind:
        """Kind of system, as printed."""
        return "lateral move"

    @property
    def assumed(self) -> tuple[str, ...]:
        """What the farm's files do not say about it."""
        return self.move.assumed


@dataclass(frozen=True, slots=True, kw_only=True)
class DripLayout:
    """The laterals and wetted ground of one drip block.

    Parameters
    ----------
    block : DripBlock
        The block as described.
    ground : shapely geometry
        Ground that holds tape: the block's area less exclusions less `not_under`. [m]
    grid : LateralGrid or CurvedGrid
        Every lateral and piece of tape.
    wetted : shapely geometry
        A flat-ended band round each piece, half a spacing each side, cut to `ground`. [m]
    """

    block: DripBlock
    ground: BaseGeometry
    grid: LateralGrid | CurvedGrid
    wetted: BaseGeometry

    @property
    def name(self) -> str:
        """Name of the system."""
        return self.block.name

    @property
    def kind(self) -> SystemKind:
        """Kind of system, as printed."""
        return "drip"

    @property
    def assumed(self) -> tuple[str, ...]:
        """What the farm's files do not say about it."""
        return self.block.assumed


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldLayout:
    """A field with every system's wetted ground worked out.

    Parameters
    ----------
    field : Field
        The field.
    farmable : shapely geometry
        Boundary less exclusions. [m]
    pivots : tuple of PivotLayout
        In the order of `field.pivots`.
    drip : tuple of DripLayout
        In the order of `field.drip`.
    lateral_moves : tuple of LateralMoveLayout, default ()
        In the order of `field.lateral_moves`.
    """

    field: Field
    farmable: BaseGeometry
    pivots: tuple[PivotLayout, ...]
    drip: tuple[DripLayout, ...]
    lateral_moves: tuple[LateralMoveLayout, ...] = ()

    @property
    def systems(self) -> tuple[PivotLayout | LateralMoveLayout | DripLayout, ...]:
        """All systems: pivots, then lateral moves, then drip blocks."""
        return (*self.pivots, *self.lateral_moves, *self.drip)

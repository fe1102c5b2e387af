"""A field in metres: its ground and what stands on it. Plain data, no computing."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from shapely import Polygon

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from ringrow.equipment.drip import DripBlock
    from ringrow.equipment.pivot import Pivot, Sector
    from ringrow.frame import Frame
    from ringrow.geometry.laterals import LateralGrid


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
    pivots : tuple of Pivot, default ()
        Pivots, in file order.
    drip : tuple of DripBlock, default ()
        Drip blocks, in file order.
    notes : str, default ""
        What the owner wants the crew to know.
    """

    name: str
    frame: Frame
    boundary: BaseGeometry
    exclusions: BaseGeometry = field(default_factory=Polygon)
    setback_m: float = 0.0
    neck_m: float = 15.24
    min_arc_deg: float = 5.0
    pivots: tuple[Pivot, ...] = ()
    drip: tuple[DripBlock, ...] = ()
    notes: str = ""


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
    """

    pivot: Pivot
    base: BaseGeometry
    gun: BaseGeometry
    gun_arcs: tuple[Sector, ...] | str
    wetted: BaseGeometry


@dataclass(frozen=True, slots=True, kw_only=True)
class DripLayout:
    """The laterals and wetted ground of one drip block.

    Parameters
    ----------
    block : DripBlock
        The block as described.
    ground : shapely geometry
        Ground that holds tape: the block's area less exclusions less `not_under`. [m]
    grid : LateralGrid
        Every lateral and piece of tape.
    wetted : shapely geometry
        A flat-ended rectangle round each piece, half a spacing each side, cut to `ground`. [m]
    """

    block: DripBlock
    ground: BaseGeometry
    grid: LateralGrid
    wetted: BaseGeometry


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
    """

    field: Field
    farmable: BaseGeometry
    pivots: tuple[PivotLayout, ...]
    drip: tuple[DripLayout, ...]

    @property
    def systems(self) -> tuple[PivotLayout | DripLayout, ...]:
        """All systems: pivots, then drip blocks."""
        return (*self.pivots, *self.drip)

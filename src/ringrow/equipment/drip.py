"""A block of buried drip tape as it was laid out: heading, spacing, zones, tape."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from ringrow.errors import DomainError

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry


@dataclass(frozen=True, slots=True, kw_only=True)
class Tape:
    """Drip tape by its emitter, or by the flow printed on the roll.

    Parameters
    ----------
    inside_diameter_m, emitter_spacing_m : float or None, default None
        Bore; distance between emitters. [m]
    emitter_flow_lps, flow_lps_per_m, at_pressure_kpa : float or None, default None
        Flow of one emitter, or of one metre of tape, at the stated pressure. [L/s, L/s/m, kPa]
    exponent : float, default 0.5
        Emitter exponent x in q = k P^x. [-]
    cv : float or None, default None
        Manufacturing coefficient of variation. [-]
    """

    inside_diameter_m: float | None = None
    emitter_spacing_m: float | None = None
    emitter_flow_lps: float | None = None
    flow_lps_per_m: float | None = None
    at_pressure_kpa: float | None = None
    exponent: float = 0.5
    cv: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Zone:
    """Laterals that one valve waters together.

    Parameters
    ----------
    name : str
        Zone name, unique in its block.
    first, last : int
        First and last lateral number, both in.
    valve : str, default ""
        Name of the valve.
    pressure_kpa : float or None, default None
        Pressure at the header. [kPa]
    """

    name: str
    first: int
    last: int
    valve: str = ""
    pressure_kpa: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DripBlock:
    """A block of evenly spaced laterals, straight or along a curve, in its field's frame.

    Parameters
    ----------
    name : str
        Name, unique on the farm.
    area : shapely Polygon or MultiPolygon
        Ground the block was laid out on, before exclusions and `not_under`. [m]
    heading_deg : float
        Frame bearing of the laterals (true at the frame's origin), 0 <= heading < 360. [deg]
    spacing_m : float
        Distance between laterals: row spacing times rows per lateral, above 0. [m]
    number_from_deg : float
        Frame bearing toward the edge where numbering starts. [deg]
    header_deg : float
        Frame bearing of the header end seen from the middle of the block: the heading, or
        its opposite. Station 0 lies at this end. [deg]
    first_lateral_m : float or None, default None
        Distance of lateral 1 from the numbering edge. None = half the spacing, or, when
        `line_point_m` is given, so that one lateral lies on that point. [m]
    line_point_m : tuple of float or None, default None
        A point (x, y) of the guidance line, when one was given. [m]
    guide_m : tuple of tuple of float or None, default None
        Points (x, y) of a guidance line that bends, in the direction of the heading, which is then
        that of its chord; None for straight laterals. [m]
    headland_m : float, default 0
        Ground without tape at both outer ends of each lateral. [m]
    rows_per_lateral : float, default 1
        Crop rows that share one lateral. [-]
    depth_m : float or None, default None
        Depth of the tape. [m]
    tape : Tape or None, default None
        The tape.
    zones : tuple of Zone, default ()
        Zones by lateral range.
    fed : {"one", "both"}, default "one"
        Whether water enters each lateral at its header end alone or at both ends.
    header_elevation_m, far_elevation_m : float or None, default None
        Height of the ground at the header end and at the far end of the longest lateral; both or
        neither, None = level. [m]
    not_under : tuple of str, default ()
        Names of pivots whose wetted ground holds no tape.
    notes : str, default ""
        What the owner wants the crew to know.
    assumed : tuple of str, default ()
        Every number that was defaulted or guessed and moves an answer, in plain words.

    Raises
    ------
    DomainError
        If a length cannot be, `number_from_deg` lies within 10 degrees of the laterals,
        `header_deg` within 10 degrees of square to them, or only one end's height is given.
    """

    name: str
    area: BaseGeometry
    heading_deg: float
    spacing_m: float
    number_from_deg: float
    header_deg: float
    first_lateral_m: float | None = None
    line_point_m: tuple[float, float] | None = None
    guide_m: tuple[tuple[float, float], ...] | None = None
    headland_m: float = 0.0
    rows_per_lateral: float = 1.0
    depth_m: float | None = None
    tape: Tape | None = None
    zones: tuple[Zone, ...] = ()
    fed: Literal["one", "both"] = "one"
    header_elevation_m: float | None = None
    far_elevation_m: float | None = None
    not_under: tuple[str, ...] = ()
    notes: str = ""
    assumed: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        first_m = 0.0 if self.first_lateral_m is None else self.first_lateral_m
        if not (self.spacing_m > 0 and self.headland_m >= 0 and first_m >= 0):
            message = (
                f'drip block "{self.name}": found spacing {self.spacing_m} m, headland {self.headland_m} m, '
                f"first lateral {self.first_lateral_m} m; allowed: spacing above 0, the others 0 or more"
            )
            raise DomainError(message)
        lean = abs((self.number_from_deg - self.heading_deg + 90.0) % 180.0 - 90.0)
        if lean < 10.0:
            message = (
                f'drip block "{self.name}" number_from: found {self.number_from_deg:g} degrees, within 10 of '
                f"the heading {self.heading_deg:g}; allowed: a side of the block the laterals do not point at"
            )
            raise DomainError(message)

        lean = abs((self.header_deg - self.heading_deg) % 180.0 - 90.0)
        if lean < 10.0:
            message = (
                f'drip block "{self.name}" header: found {self.header_deg:g} degrees, within 10 of square to '
                f"the heading {self.heading_deg:g}; allowed: an end of the block the laterals point at"
            )
            raise DomainError(message)

        if (self.header_elevation_m is None) != (self.far_elevation_m is None):
            message = (
                f'drip block "{self.name}" elevations: found {self.header_elevation_m} m at the header end, '
                f"{self.far_elevation_m} m at the far end; allowed: both or neither"
            )
            raise DomainError(message)

    def zone_of(self, lateral: int) -> Zone | None:
        """Return the zone that holds a lateral number.

        Parameters
        ----------
        lateral : int
            Lateral number, 1 and up.

        Returns
        -------
        Zone or None
            The zone; None when the lateral belongs to none.
        """
        return next((zone for zone in self.zones if zone.first <= lateral <= zone.last), None)

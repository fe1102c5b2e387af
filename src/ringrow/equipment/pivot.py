"""A centre pivot as it stands: spans, towers, sector, end gun, outlets."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import accumulate
from typing import TYPE_CHECKING, Literal

from ringrow.errors import DomainError

if TYPE_CHECKING:
    from ringrow.equipment.corner_arm import Bend, CornerArm
    from ringrow.equipment.rebuild import Rebuild

ArcsSetting = Literal["auto", "always"]

GUN_SHARE = 0.75
"""Share of a gun's full wetted radius that counts as watered (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sector:
    """A part of the turn, clockwise from `start_deg` to `stop_deg`, both ends in.

    Parameters
    ----------
    start_deg, stop_deg : float
        True azimuths at the pivot's own point, 0 <= azimuth < 360. [deg]

    Raises
    ------
    DomainError
        If an azimuth is outside 0 to 360 or both are the same.

    Examples
    --------
    >>> Sector(start_deg=300, stop_deg=60).sweep_deg
    120.0
    """

    start_deg: float
    stop_deg: float

    def __post_init__(self) -> None:
        for name, value in (("start", self.start_deg), ("stop", self.stop_deg)):
            if not 0 <= value < 360:
                message = f"sector {name}: found {value}; allowed: 0 or more and below 360 degrees"
                raise DomainError(message)
        if self.start_deg == self.stop_deg:
            message = (
                f"sector: found start and stop both {self.start_deg}; allowed: two different azimuths; "
                "leave sector out for a full circle"
            )
            raise DomainError(message)

    @property
    def sweep_deg(self) -> float:
        """Degrees from start clockwise to stop, above 0 and below 360."""
        return float((self.stop_deg - self.start_deg) % 360.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class EndGun:
    """A big sprinkler at the pipe end that runs on part of the turn.

    Parameters
    ----------
    reach_m : float
        Effective reach past the pipe end, above 0. [m]
    arcs : {"auto", "always"} or tuple of Sector, default "auto"
        Where it runs. ``auto`` = wherever its water stays on farmable ground less setback.
    wetted_radius_m : float or None, default None
        Full wetted radius of the gun, which reaches farther than what counts. [m]
    flow_lps : float or None, default None
        Flow of the gun while it runs. [L/s]
    """

    reach_m: float
    arcs: ArcsSetting | tuple[Sector, ...] = "auto"
    wetted_radius_m: float | None = None
    flow_lps: float | None = None

    def __post_init__(self) -> None:
        if not self.reach_m > 0:
            message = f"end gun reach: found {self.reach_m}; allowed: above 0 m"
            raise DomainError(message)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pivot:
    """A centre pivot in its field's frame.

    Parameters
    ----------
    name : str
        Name, unique on the farm.
    x_m, y_m : float
        Pivot point in the field's frame. [m]
    convergence_deg : float, default 0
        Frame bearing of true north at the pivot point; frame bearing = azimuth + this. [deg]
    spans_m : tuple of float
        Span lengths, from the pivot point outward to each tower in turn. [m]
    overhang_m, throw_m : float, default 0
        Pipe past the last tower; effective reach of the last sprinkler past the pipe end. [m]
    sector : Sector or None, default None
        Part of the turn it walks; None = full circle.
    panel_zero_deg : float or None, default 0
        True azimuth at which the panel shows 0; None = there is no angle on the panel. [deg]
    end_gun : EndGun or None, default None
        The gun at the pipe end.
    corner_arm : CornerArm or None, default None
        A corner arm hinged at the last tower; then no overhang, end gun or bend of the main pipe.
    bends : tuple of Bend, default ()
        Bends at the stops of a part circle, inner first on each side.
    machine : str, default ""
        Name of the machine when it is towed between points, each point one `Pivot`; empty = `name`.
    parked_deg : float or None, default None
        True azimuth at which it stands now. [deg]
    top_speed_m_per_h : float or None, default None
        Speed of the last tower at full speed. [m/h]
    radius_se_m : float or None, default None
        Standard error of the wetted radius, one axis. [m]
    outlets_m : tuple of float, default ()
        Distances of the outlets from the pivot point, rising; empty when unknown. [m]
    flow_lps, pressure_kpa : float or None, default None
        Flow and pressure at the pivot point. [L/s, kPa]
    pipe_bore_m : float or None, default None
        Inside diameter of the machine's pipe. [m]
    regulator_kpa : float or None, default None
        Pressure that the regulators over the sprinklers hold. [kPa]
    plate_v, plate_hz : float or None, default None
        Volts and frequency on the plates of the tower motors. [V, Hz]
    road_m : tuple of tuple of float, default ()
        Points of the road to the pivot point, from the field's edge inward, the pivot point last, in
        the field's frame; empty when nobody stated one. [m]
    rebuilt : tuple of Rebuild, default ()
        Days from which some of its hardware is new.
    notes : str, default ""
        What the owner wants the crew to know.
    assumed : tuple of str, default ()
        Every number that was defaulted or guessed and moves an answer, in plain words.

    Raises
    ------
    DomainError
        If there is no span, or a length cannot be.

    Examples
    --------
    >>> pivot = Pivot(name="P1", x_m=0, y_m=0, spans_m=(50.0, 50.0), overhang_m=10, throw_m=5)
    >>> pivot.tower_radii_m, pivot.length_m, pivot.base_radius_m, pivot.gun_radius_m
    ((50.0, 100.0), 110.0, 115.0, None)
    """

    name: str
    x_m: float
    y_m: float
    convergence_deg: float = 0.0
    spans_m: tuple[float, ...]
    overhang_m: float = 0.0
    throw_m: float = 0.0
    sector: Sector | None = None
    panel_zero_deg: float | None = 0.0
    end_gun: EndGun | None = None
    corner_arm: CornerArm | None = None
    bends: tuple[Bend, ...] = ()
    machine: str = ""
    parked_deg: float | None = None
    top_speed_m_per_h: float | None = None
    radius_se_m: float | None = None
    outlets_m: tuple[float, ...] = ()
    flow_lps: float | None = None
    pressure_kpa: float | None = None
    pipe_bore_m: float | None = None
    regulator_kpa: float | None = None
    plate_v: float | None = None
    plate_hz: float | None = None
    road_m: tuple[tuple[float, float], ...] = ()
    rebuilt: tuple[Rebuild, ...] = ()
    notes: str = ""
    assumed: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if not self.spans_m or not all(span > 0 for span in self.spans_m):
            message = f'pivot "{self.name}" spans: found {self.spans_m}; allowed: one or more, each above 0 m'
            raise DomainError(message)
        if self.overhang_m < 0 or self.throw_m < 0:
            message = (
                f'pivot "{self.name}": found overhang {self.overhang_m}, throw {self.throw_m}; '
                "allowed: 0 m or more"
            )
            raise DomainError(message)
        if self.corner_arm is not None and (self.overhang_m > 0 or self.end_gun or self.bends):
            message = (
                f'pivot "{self.name}": found a corner arm together with an overhang, end gun or bend of '
                "the main pipe; allowed: the arm alone, its gun as corner_arm.end_gun"
            )
            raise DomainError(message)
        if self.bends and self.sector is None:
            message = f'pivot "{self.name}": found a bend on a full circle; allowed: with a sector'
            raise DomainError(message)
        if any(bend.tower >= len(self.spans_m) for bend in self.bends):
            message = (
                f'pivot "{self.name}" bends: found tower {max(bend.tower for bend in self.bends)}; '
                f"allowed: 1 to {len(self.spans_m) - 1}"
            )
            raise DomainError(message)

    @property
    def tower_radii_m(self) -> tuple[float, ...]:
        """Distance of each tower from the pivot point, first tower first [m]."""
        return tuple(accumulate(self.spans_m))

    @property
    def length_m(self) -> float:
        """Pipe length: all spans and the overhang [m]."""
        return sum(self.spans_m) + self.overhang_m

    @property
    def base_radius_m(self) -> float:
        """Wetted radius without the end gun: pipe length and throw; the hinge where a corner arm is [m]."""
        return self.length_m if self.corner_arm is not None else self.length_m + self.throw_m

    @property
    def gun_radius_m(self) -> float | None:
        """Wetted radius where the end gun runs; None without a gun [m]."""
        return None if self.end_gun is None else self.length_m + self.end_gun.reach_m

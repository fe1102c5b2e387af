"""Machines where they stand now, and their flags there for the crew."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import numpy as np

from ringrow.coverage.accuracy import Accuracy
from ringrow.coverage.locate import locate_many
from ringrow.coverage.locate_arms import arm_spot
from ringrow.coverage.locate_pivots import arm_xy, pipe_end_m, pivot_place_at
from ringrow.errors import PlaceError
from ringrow.farm.flag_checks import checked_flags
from ringrow.farm.names import find_named

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from ringrow.coverage.field import FieldLayout, PivotLayout
    from ringrow.equipment.pivot import Pivot
    from ringrow.farm.flag_model import LocatedFlag
    from ringrow.farm.model import Farm

# A place on a machine that is known to stand there is not blurred like a phone's fix.
_SAID = Accuracy(radius_m=0.1, kind="r95")

# Panels and people round: an azimuth this far past a stop is that stop.
_SECTOR_SLACK_DEG = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class LinePoint:
    """One point of a machine that stands somewhere.

    Parameters
    ----------
    what : {"pivot point", "tower", "pipe end", "arm wheels", "arm end"}
        Which point.
    tower : int or None
        Number of a tower.
    distance_m : float
        Distance from the pivot point along the pipe. [m]
    lon, lat : float
        Where it is, WGS 84. [deg]
    """

    what: Literal["pivot point", "tower", "pipe end", "arm wheels", "arm end"]
    tower: int | None
    distance_m: float
    lon: float
    lat: float


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineLine:
    """A pivot as it stands.

    Parameters
    ----------
    name, field : str
        The pivot and its field.
    azimuth_deg, panel_deg : float or None
        True azimuth of the main pipe, and what the panel shows; None where it shows none. [deg]
    points : tuple of LinePoint
        Pivot point, towers, pipe end and those of a corner arm, outward.
    """

    name: str
    field: str
    azimuth_deg: float
    panel_deg: float | None
    points: tuple[LinePoint, ...]


def machine_line(layout: FieldLayout, laid: PivotLayout, azimuth_deg: float) -> MachineLine:
    """Return where every tower of a pivot is when it stands at an azimuth.

    Parameters
    ----------
    layout : FieldLayout
        Its field.
    laid : PivotLayout
        The machine.
    azimuth_deg : float
        True azimuth of the main pipe, its spans in line. [deg]

    Returns
    -------
    MachineLine
        Its points with their positions; a corner arm lies as its course has it there.
    """
    pivot, frame = laid.pivot, layout.field.frame
    kinds: list[
        tuple[Literal["pivot point", "tower", "pipe end", "arm wheels", "arm end"], int | None, float]
    ]
    kinds = [("pivot point", None, 0.0)]
    kinds += [("tower", number, radius) for number, radius in enumerate(pivot.tower_radii_m, 1)]
    if pivot.corner_arm is not None:
        kinds.append(("arm wheels", None, pivot.length_m + pivot.corner_arm.length_m))
    kinds.append(("pipe end" if pivot.corner_arm is None else "arm end", None, pipe_end_m(pivot)))
    xy = np.array([line_xy(laid, distance, azimuth_deg) for _, _, distance in kinds])
    lon, lat = frame.to_lonlat(xy[:, 0], xy[:, 1])
    zero = pivot.panel_zero_deg
    return MachineLine(
        name=pivot.name,
        field=layout.field.name,
        azimuth_deg=azimuth_deg % 360.0,
        panel_deg=None if zero is None else (azimuth_deg - zero) % 360.0 % 360.0,
        points=tuple(
            LinePoint(what=what, tower=tower, distance_m=distance, lon=float(at_lon), lat=float(at_lat))
            for (what, tower, distance), at_lon, at_lat in zip(kinds, lon, lat, strict=True)
        ),
    )


def line_xy(laid: PivotLayout, distance_m: float, azimuth_deg: float) -> tuple[float, float]:
    """Return where a point of a pivot's pipe is when it stands at an azimuth.

    Parameters
    ----------
    laid : PivotLayout
        The machine.
    distance_m : float
        Distance from the pivot point along the pipe, a corner arm's pipe counted on. [m]
    azimuth_deg : float
        True azimuth of the main pipe, its spans in line. [deg]

    Returns
    -------
    tuple of float
        x and y in the field's frame. [m]
    """
    pivot = laid.pivot
    if laid.corner_arm is not None and distance_m > pivot.length_m:
        return arm_xy(laid, arm_spot(laid, distance_m - pivot.length_m, azimuth_deg=azimuth_deg))
    bearing = math.radians(azimuth_deg + pivot.convergence_deg)
    return pivot.x_m + distance_m * math.sin(bearing), pivot.y_m + distance_m * math.cos(bearing)


def read_parked(farm: Farm, texts: Iterable[str]) -> dict[str, float]:
    """Return where machines are said to stand, over what the farm's files say.

    Parameters
    ----------
    farm : Farm
        The farm.
    texts : iterable of str
        ``NAME=AZIMUTH``, or ``NAME=panel:DEGREES`` for what the panel shows. A towed machine is
        named by its point, or by itself when it has one point or one of them is parked.

    Returns
    -------
    dict of str to float
        True azimuth by name of the pivot. [deg]

    Raises
    ------
    PlaceError
        If a text is not of that form, names no pivot, or an azimuth cannot be.
    """
    pivots = {pivot.name: pivot for field in farm.fields for pivot in field.pivots}
    named: dict[str, list[Pivot]] = {name: [pivot] for name, pivot in pivots.items()}
    for pivot in pivots.values():
        if pivot.machine and pivot.machine not in pivots:
            named.setdefault(pivot.machine, []).append(pivot)
    found: dict[str, float] = {}
    for text in texts:
        name, equals, value = text.rpartition("=")
        if not equals or not name.strip():
            message = f'--parked: found "{text[:60]}"; allowed: "NAME=AZIMUTH" or "NAME=panel:DEGREES"'
            raise PlaceError(message)
        pivot = _one_point(name.strip(), find_named(named, name.strip(), what="--parked pivot"))
        found[pivot.name] = _azimuth(pivot, value.strip())
    return found


def _one_point(name: str, points: Sequence[Pivot]) -> Pivot:
    parked = [pivot for pivot in points if pivot.parked_deg is not None]
    if len(points) == 1 or len(parked) == 1:
        return points[0] if len(points) == 1 else parked[0]
    listed = ", ".join(f'"{pivot.name}"' for pivot in points)
    message = f'--parked: found "{name}", which is towed between points; allowed: one of {listed}'
    raise PlaceError(message)


def _azimuth(pivot: Pivot, value: str) -> float:
    panel = value.casefold().startswith("panel:")
    number = value[len("panel:") :] if panel else value
    try:
        degrees = float(number)
    except ValueError:
        degrees = math.nan
    if not 0 <= degrees < 360:
        message = f'--parked "{pivot.name}": found "{value[:40]}"; allowed: 0 or more and below 360 degrees'
        raise PlaceError(message)
    if panel and pivot.panel_zero_deg is None:
        message = f'--parked "{pivot.name}": found "{value}"; allowed: an azimuth, its panel shows no angle'
        raise PlaceError(message)
    azimuth = (degrees + (pivot.panel_zero_deg or 0.0)) % 360.0 if panel else degrees
    sector = pivot.sector
    if sector is not None and (azimuth - sector.start_deg + _SECTOR_SLACK_DEG) % 360.0 > (
        sector.sweep_deg + 2 * _SECTOR_SLACK_DEG
    ):
        message = (
            f'--parked "{pivot.name}": found azimuth {azimuth:.1f}; allowed: {sector.start_deg:g} clockwise '
            f"to {sector.stop_deg:g}, where it walks"
        )
        raise PlaceError(message)
    return azimuth


def parked_lines(layouts: Sequence[FieldLayout], overrides: Mapping[str, float]) -> list[MachineLine]:
    """Return the machines whose whereabouts are known, as they stand.

    Parameters
    ----------
    layouts : sequence of FieldLayout
        The farm's fields.
    overrides : mapping of str to float
        True azimuth by name of the pivot, over what the farm's files say. [deg]

    Returns
    -------
    list of MachineLine
        In the order of the fields' files; a towed machine at one of its points.
    """
    standing = _standing(layouts, overrides)
    return [machine_line(layout, laid, azimuth) for layout, laid, azimuth in standing.values()]


def not_standing(
    layouts: Sequence[FieldLayout], flags: Iterable[LocatedFlag], overrides: Mapping[str, float]
) -> list[str]:
    """Return the machines that flags ride on and of which nobody knows where they stand.

    Parameters
    ----------
    layouts : sequence of FieldLayout
        The farm's fields.
    flags : iterable of LocatedFlag
        Flags with their places.
    overrides : mapping of str to float
        True azimuth by name of the pivot, over what the farm's files say. [deg]

    Returns
    -------
    list of str
        Names of pivots and towed machines, each once.
    """
    standing, machines = _standing(layouts, overrides), _machines(layouts)
    on = [flag.pivot.name for flag in flags if flag.pivot is not None and flag.kind.on == "machine"]
    names = (machines.get(name, name) for name in on)
    return [name for name in dict.fromkeys(names) if name not in standing]


def _machines(layouts: Sequence[FieldLayout]) -> dict[str, str]:
    """Return the machine of each pivot: a towed one, else the pivot itself."""
    return {laid.name: laid.pivot.machine or laid.name for layout in layouts for laid in layout.pivots}


def parked_flags(
    farm: Farm,
    layouts: Sequence[FieldLayout],
    flags: Sequence[LocatedFlag],
    overrides: Mapping[str, float],
) -> list[LocatedFlag]:
    """Return flags with those that ride on a machine where that machine stands now.

    Parameters
    ----------
    farm : Farm
        The farm.
    layouts : sequence of FieldLayout
        Its fields with wetted ground, in their order.
    flags : sequence of LocatedFlag
        Flags with their places.
    overrides : mapping of str to float
        True azimuth by name of the pivot, over what the farm's files say. [deg]

    Returns
    -------
    list of LocatedFlag
        In the same order. A moved flag keeps where it was set as `set_lon` and `set_lat`. A flag
        stays where it was set when its machine's azimuth is not known, when it is not on a pivot,
        and when the machine cannot have been there: that one is probably not on it at all.
    """
    standing, machines = _standing(layouts, overrides), _machines(layouts)
    moved: dict[int, LocatedFlag] = {}
    for index, flag in enumerate(flags):
        key = None if flag.pivot is None else machines.get(flag.pivot.name, flag.pivot.name)
        if flag.kind.on == "machine" and key in standing and not _ruled_out(flag):
            moved[index] = _moved(flag, *standing[key])
    if not moved:
        return list(flags)
    lon = np.array([flag.lon for flag in moved.values()], float)
    lat = np.array([flag.lat for flag in moved.values()], float)
    places = locate_many(layouts, lon, lat, accuracy=_SAID)
    there = [replace(flag, place=place) for flag, place in zip(moved.values(), places, strict=True)]
    checked = dict(zip(moved, checked_flags(farm, layouts, there), strict=True))
    # What spoke against a flag, or not, is about where it was set.
    return [replace(checked[i], doubt=flag.doubt) if i in checked else flag for i, flag in enumerate(flags)]


def _ruled_out(flag: LocatedFlag) -> bool:
    """Tell whether a flag cannot be on its machine, rather than one of two or unless it has walked since."""
    return flag.doubt is not None and flag.doubt.reason != "parked" and not flag.doubt.either


def _standing(
    layouts: Sequence[FieldLayout], overrides: Mapping[str, float]
) -> dict[str, tuple[FieldLayout, PivotLayout, float]]:
    """Return where each machine stands that is known to stand somewhere, by name of the machine."""
    found: dict[str, tuple[FieldLayout, PivotLayout, float]] = {}
    for said in (False, True):
        points: dict[str, list[tuple[FieldLayout, PivotLayout, float]]] = {}
        for layout in layouts:
            for laid in layout.pivots:
                azimuth = overrides.get(laid.name) if said else laid.pivot.parked_deg
                if azimuth is not None:
                    points.setdefault(laid.pivot.machine or laid.name, []).append((layout, laid, azimuth))
        # A towed machine cannot stand at two points at once: then nobody knows.
        found |= {name: at[0] for name, at in points.items() if len(at) == 1}
    return found


def _moved(flag: LocatedFlag, layout: FieldLayout, laid: PivotLayout, azimuth_deg: float) -> LocatedFlag:
    was = flag.pivot
    if was is None:
        return flag
    distance = min(was.pipe_m, pipe_end_m(laid.pivot))
    now = pivot_place_at(laid, distance, azimuth_deg)
    lon, lat = layout.field.frame.to_lonlat(*line_xy(laid, distance, azimuth_deg))
    # Which part it is does not change; where that part is, does.
    there = replace(
        was,
        name=laid.name,
        distance_m=now.distance_m,
        azimuth_deg=now.azimuth_deg,
        panel_deg=now.panel_deg,
        bend=None,
        arm=now.arm,
    )
    return replace(
        flag,
        pivot=there,
        field=layout.field.name,
        lon=float(lon),
        lat=float(lat),
        set_lon=flag.lon,
        set_lat=flag.lat,
    )

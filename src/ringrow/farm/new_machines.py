"""Examples of machines in the files of a new farm: guessed from the field's shape, right as they stand."""

from __future__ import annotations

import json
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from ringrow.farm.faults import number_words

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from ringrow.frame import Frame
    from ringrow.units import UnitSystem

ROUND_SHARE = 0.03
"""A boundary whose edge strays less than this share of its radius is called a circle."""
MACHINE_M = 500.0
"""Longest machine an example shows [m]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Roundness:
    """How much a boundary looks like a circle.

    Parameters
    ----------
    x_m, y_m, radius_m : float
        Centre and mean radius. [m]
    stray : float
        Largest distance of the edge from that circle over the radius. [-]
    north_south : float
        Height over width less 1: how much longer it is north-south than east-west. [-]
    """

    x_m: float
    y_m: float
    radius_m: float
    stray: float
    north_south: float


def roundness(shape: BaseGeometry) -> Roundness:
    """Return how near a shape is to a circle.

    Parameters
    ----------
    shape : shapely Polygon or MultiPolygon
        The shape. [m]

    Returns
    -------
    Roundness
        Its mean circle about the centroid and how far the edge strays from it.

    Examples
    --------
    >>> square = shapely.box(-100, -100, 100, 100)
    >>> round(roundness(square).stray, 2)
    0.25
    """
    edge = shapely.segmentize(
        shape.exterior if shape.geom_type == "Polygon" else shape, math.sqrt(shape.area) / 40
    )
    x, y = shapely.get_coordinates(edge).T
    centre = shape.centroid
    radii = np.hypot(x - centre.x, y - centre.y)
    radius = math.sqrt(shape.area / math.pi)
    west, south, east, north = shape.bounds
    return Roundness(
        x_m=centre.x,
        y_m=centre.y,
        radius_m=radius,
        stray=float(np.abs(radii - radius).max() / radius),
        north_south=(north - south) / (east - west) - 1.0,
    )


def toml_text(text: str) -> str:
    r"""Return text as a TOML string.

    Parameters
    ----------
    text : str
        Printable text.

    Returns
    -------
    str
        The text in quotes, with what TOML needs escaped.

    Examples
    --------
    >>> print(toml_text('the "old" field'))
    "the \"old\" field"
    """
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def at_text(lon: float, lat: float) -> str:
    """Return a position as a TOML table.

    Parameters
    ----------
    lon, lat : float
        The position, WGS 84. [deg]

    Returns
    -------
    str
        The table, seven decimals.

    Examples
    --------
    >>> at_text(-101.5, 36.75)
    '{ lat = 36.7500000, lon = -101.5000000 }'
    """
    return f"{{ lat = {lat:.7f}, lon = {lon:.7f} }}"


def inside_circle(ground: BaseGeometry) -> tuple[float, float, float]:
    """Return the largest circle inside a shape.

    Parameters
    ----------
    ground : shapely Polygon or MultiPolygon
        The shape. [m]

    Returns
    -------
    x_m, y_m, radius_m : float
        Centre and radius. [m]

    Examples
    --------
    >>> [round(value) for value in inside_circle(shapely.box(0, 0, 300, 200))][1:]
    [100, 100]
    """
    line = shapely.maximum_inscribed_circle(ground, tolerance=0.05)
    (x, y), _ = shapely.get_coordinates(line)[[0, -1]]
    return float(x), float(y), float(line.length)


def machine_examples(name: str, ground: BaseGeometry, frame: Frame, units: UnitSystem) -> str:
    """Return examples of each kind of machine, as comments.

    Parameters
    ----------
    name : str
        Name of the field.
    ground : shapely Polygon or MultiPolygon
        Its boundary. [m]
    frame : Frame
        The field's frame.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    str
        A centre pivot, one with a corner arm, one that bends, one that is towed, a lateral move.
    """
    x, y, radius = inside_circle(ground)
    shape = roundness(ground)
    hint = f"centre of the largest circle that fits, radius {_length(radius, units)}"
    if shape.stray <= ROUND_SHARE:
        x, y, radius = shape.x_m, shape.y_m, shape.radius_m
        hint = f"centre of the boundary, which looks like a circle of radius {_length(radius, units)}"
        if abs(shape.north_south) >= 0.005:
            way = "north-south" if shape.north_south > 0 else "east-west"
            hint += f", drawn {100 * abs(shape.north_south):.1f} % longer {way}"
    lon, lat = frame.to_lonlat(x, y)
    at = at_text(float(lon), float(lat))
    radius = min(radius, MACHINE_M)
    return "\n".join(
        [
            _pivot_lines(name, at, hint, radius, units),
            "## Other machines: use one of these instead, as it stands in the field.",
            _arm_lines(name, at, radius, units),
            _bend_lines(name, at, radius, units),
            _towed_lines(name, (x, y, radius), frame, units),
            _move_lines(name, (x, y, radius), frame, units),
        ]
    )


def _length(metres: float, units: UnitSystem) -> str:
    return f"{units.from_m(metres):,.0f} {units.length}"


def _pivot_lines(name: str, at: str, hint: str, radius_m: float, units: UnitSystem) -> str:
    towers = max(1, round(0.93 * radius_m / 55))
    last, overhang, throw = (round(units.from_m(share * radius_m), 1) for share in (0.93, 0.04, 0.03))
    own = toml_text(f"{name} pivot")
    return f"""\
## A centre pivot; repeat for each machine.
# [[pivot]]
# name = {own}
## point: {hint}.
# point = {at}
# towers = {towers}    ## count them; better: spans = [...], one length for each span
# last_tower = {number_words(last)}    ## {units.length} from the pivot point to the last tower
# overhang = {number_words(overhang)}    ## {units.length} of pipe past the last tower
# throw = {number_words(throw)}    ## {units.length} the last sprinkler reaches past the pipe end
# panel_zero = 0    ## true azimuth at which the panel shows 0; "none" where it shows no angle
## Not known? panel_reading = {{ shows = 214, last_tower = {{ lat = ..., lon = ... }} }}, read once beside it.
## Where it stands now: parked = true azimuth, or parked_panel = what the panel shows.
# sector = {{ start = 20, stop = 310 }}    ## clockwise; leave it out for a full circle
## The crew's road when the crop is up, from the field's edge inward, else taken as straight:
##   pivot_road = [{{ lat = ..., lon = ... }}, ...], or {{ file = "shapes/road.gpx" }}.
# flow = {"780" if units.name == "us" else "49"}    ## {units.flow} at the pivot point
# pressure = {"32" if units.name == "us" else "220"}    ## {units.pressure} at the pivot point
# [pivot.end_gun]
# wetted_radius = {"120" if units.name == "us" else "36"}    ## {units.length}; 75 % of it counts; or reach
# arcs = "auto"    ## or "always", or [{{ start = 20, stop = 71 }}]
"""


def _arm_lines(name: str, at: str, radius_m: float, units: UnitSystem) -> str:
    towers = max(1, round(0.7 * radius_m / 55))
    last, length, overhang = (round(units.from_m(share * radius_m), 1) for share in (0.7, 0.2, 0.03))
    return f"""\
## A corner arm: hinged at the last tower, so no overhang and no end gun of the main pipe.
# [[pivot]]
# name = {toml_text(f"{name} corner machine")}
# point = {at}
# towers = {towers}
# last_tower = {number_words(last)}    ## {units.length}, where the arm is hinged
# panel_zero = 0
# [pivot.corner_arm]
# length = {number_words(length)}    ## {units.length} from the hinge to the steered wheels
# overhang = {number_words(overhang)}    ## {units.length} of pipe past them
# throw = {"15" if units.name == "us" else "4.5"}    ## {units.length}
# side = "trailing"    ## or "leading", when the machine walks clockwise
# fold = 90    ## deg at the hinge, folded; 180 is straight
# open = 165    ## deg at the hinge, fully open
"""


def _bend_lines(name: str, at: str, radius_m: float, units: UnitSystem) -> str:
    towers = max(3, round(0.93 * radius_m / 55))
    last = round(units.from_m(0.93 * radius_m), 1)
    return f"""\
## A machine that bends: at a stop, the spans past a tower walk on about it.
# [[pivot]]
# name = {toml_text(f"{name} bending pivot")}
# point = {at}
# towers = {towers}
# last_tower = {number_words(last)}    ## {units.length}
# overhang = 0
# throw = 0
# panel_zero = 0
# sector = {{ start = 20, stop = 310 }}
# [[pivot.bend]]
# tower = {towers - 1}    ## counted from the pivot point
# at = "stop"    ## or "start"; several: inner ones first
# sweep = 40    ## deg the outer spans walk on
"""


def _towed_lines(name: str, circle: tuple[float, float, float], frame: Frame, units: UnitSystem) -> str:
    x, y, radius = circle
    lon, lat = frame.to_lonlat(np.array([x - radius / 2, x + radius / 2]), np.array([y, y]))
    first, second = (at_text(float(a), float(b)) for a, b in zip(lon, lat, strict=True))
    towers, last = max(1, round(0.45 * radius / 55)), round(units.from_m(0.45 * radius), 1)
    return f"""\
## A machine towed from point to point; each point may have a name, sector and panel_zero of its own.
# [[pivot]]
# name = {toml_text(f"{name} towed pivot")}
# points = [{first}, {second}]
# towers = {towers}
# last_tower = {number_words(last)}    ## {units.length}
# overhang = 0
# throw = 0
# panel_zero = 0
"""


def _move_lines(name: str, circle: tuple[float, float, float], frame: Frame, units: UnitSystem) -> str:
    x, y, radius = circle
    lon, lat = frame.to_lonlat(np.array([x, x]), y + 0.8 * radius * np.array([-1, 1]))
    start, end = (at_text(float(a), float(b)) for a, b in zip(lon, lat, strict=True))
    towers, last = max(1, round(0.5 * radius / 55)), round(units.from_m(0.5 * radius), 1)
    wing = f"{{ towers = {towers}, last_tower = {number_words(last)}, overhang = 0, throw = 0 }}"
    return f"""\
## A lateral move: it walks sideways along a ditch or hose.
# [[lateral_move]]
# name = {toml_text(f"{name} lateral move")}
# path = [{start}, {end}]    ## the cart's path
# left = {wing}    ## {units.length} from the cart; or spans = [...]
# right = {wing}    ## leave out a side without pipe
"""

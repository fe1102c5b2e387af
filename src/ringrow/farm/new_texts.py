"""The commented files a new farm starts with, and the guesses in their examples."""

from __future__ import annotations

import json
import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from ringrow.equipment.drip import DripBlock
from ringrow.farm.build_drip import lateral_count
from ringrow.farm.faults import number_words
from ringrow.frame import Frame
from ringrow.geometry.angles import azimuth_deg

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from ringrow.units import UnitSystem

ROUND_SHARE = 0.03
"""A boundary whose edge strays less than this share of its radius is called a circle."""
MACHINE_M = 500.0
"""Longest machine an example shows [m]."""

HOW_TO_READ = """\
## Lines with ## are talk. Lines with one # are examples: take the # away to use them.
## All keys, units and ranges: ringrow check --explain      Is it right: ringrow check FARM
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """A field about to be written.

    Parameters
    ----------
    name : str
        Its name, unique on the farm.
    boundary : shapely Polygon or MultiPolygon
        Its boundary. [deg]
    properties : dict
        Columns of the file it came from.
    changes : tuple of str, default ()
        What was mended.
    moved_m2 : float, default 0
        Area after mending less area as drawn. [m2]
    inline : bool, default False
        Whether the outline is written into the field's own file.
    """

    name: str
    boundary: BaseGeometry
    properties: dict[str, Any] = field(default_factory=dict)
    changes: tuple[str, ...] = ()
    moved_m2: float = 0.0
    inline: bool = False


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


def farm_text(name: str, units: UnitSystem, *, gate: tuple[float, float]) -> str:
    """Return the text of a new farm.toml.

    Parameters
    ----------
    name : str
        The farm's name.
    units : UnitSystem
        Its units.
    gate : tuple of float
        Longitude and latitude shown in the examples. [deg]

    Returns
    -------
    str
        TOML with comments.
    """
    at = f"{{ lat = {gate[1]:.6f}, lon = {gate[0]:.6f} }}"
    small, length = units.small, units.length
    setback = "30" if units.name == "us" else "10"
    return f"""\
## What belongs to the whole farm. Fields stand in fields/, one file each.
{HOW_TO_READ}
name = {toml_text(name)}
units = "{units.name}"    ## {length}; {small} for rows and tape; {units.flow}; {units.pressure}; {units.area}

# gate = {at}    ## where one drives in

# [[well]]
# name = "Home well"
# at = {at}
# power = "electric"    ## or "engine"
# serves = []    ## names of pivots and drip blocks: ["North pivot"]
# shutoffs = "Disconnect on the pole, valve at the riser."

# [[contact]]
# name = "Electrician"
# phone = ""

## Numbers for every field, pivot or drip block that does not state its own.
# [defaults]
# accuracy = "16 ft r95"    ## how good a phone's position is
# setback = {setback}    ## {length}: end gun water stays this far inside farmable ground

## A flag kind of your own; class is unsafe, stops, wastes, acres or later.
# [[kind]]
# name = "fence"
# on = "ground"
# class = "later"
# words = "fence down"
"""


def field_text(draft: Draft, units: UnitSystem, *, source: str, shapes_file: str) -> str:
    """Return the text of a new field file.

    Parameters
    ----------
    draft : Draft
        The field.
    units : UnitSystem
        The farm's units.
    source : str
        Name of the file it came from, empty for the example.
    shapes_file : str
        File that holds its boundary.

    Returns
    -------
    str
        TOML with comments; its examples hold when the # is taken away.
    """
    frame = Frame.about(draft.boundary)
    ground = frame.project(draft.boundary)
    acres = f"{units.from_m2(float(ground.area)):,.1f} {units.area}"
    origin = (
        f", from {json.dumps(source, ensure_ascii=False)}" if source else " (invented: put your own here)"
    )
    parts = [
        f"## {draft.name}: {acres}{origin}.\n{HOW_TO_READ}",
        f"name = {toml_text(draft.name)}\n{_boundary_text(draft, shapes_file)}",
        _ground_examples(ground, frame, units),
        _pivot_example(draft, ground, frame, units),
        _drip_example(draft, ground, units),
    ]
    return "\n".join(part for part in parts if part)


def _boundary_text(draft: Draft, shapes_file: str) -> str:
    if not draft.inline:
        return f'boundary = {{ file = "{shapes_file}", where = {{ field = {toml_text(draft.name)} }} }}\n'
    corners = shapely.get_coordinates(draft.boundary)[:-1]
    rows = "".join(f"    {_at(lon, lat)},\n" for lon, lat in corners)
    return f"outline = [    ## corners in turn, read off a map or a phone\n{rows}]\n"


def _at(lon: float, lat: float) -> str:
    return f"{{ lat = {lat:.7f}, lon = {lon:.7f} }}"


def _inside_circle(ground: BaseGeometry) -> tuple[float, float, float]:
    """Return centre and radius of the largest circle inside [m]."""
    line = shapely.maximum_inscribed_circle(ground, tolerance=0.05)
    (x, y), _ = shapely.get_coordinates(line)[[0, -1]]
    return float(x), float(y), float(line.length)


def _ground_examples(ground: BaseGeometry, frame: Frame, units: UnitSystem) -> str:
    x, y, radius = _inside_circle(ground)
    half = min(radius / 10, 20.0)
    lon, lat = frame.to_lonlat(x + half * np.array([-1, 1, 1, -1]), y + half * np.array([-1, -1, 1, 1]))
    corners = ", ".join(_at(float(a), float(b)) for a, b in zip(lon, lat, strict=True))
    setback = "30" if units.name == "us" else "10"
    return f"""\
## Ground inside that is not farmed: {{ file = "shapes/yards.geojson" }}, or corners in turn.
# exclusions = [{{ outline = [{corners}] }}]
# setback = {setback}    ## {units.length}: end gun water stays this far inside farmable ground
# notes = ""
"""


def _pivot_example(draft: Draft, ground: BaseGeometry, frame: Frame, units: UnitSystem) -> str:
    x, y, radius = _inside_circle(ground)
    shape = roundness(ground)
    hint = f"centre of the largest circle that fits, radius {_length(radius, units)}"
    if shape.stray <= ROUND_SHARE:
        x, y, radius = shape.x_m, shape.y_m, shape.radius_m
        hint = f"centre of the boundary, which looks like a circle of radius {_length(radius, units)}"
        if abs(shape.north_south) >= 0.005:
            way = "north-south" if shape.north_south > 0 else "east-west"
            hint += f", drawn {100 * abs(shape.north_south):.1f} % longer {way}"
    lon, lat = frame.to_lonlat(x, y)
    return _pivot_lines(draft.name, _at(float(lon), float(lat)), hint, min(radius, MACHINE_M), units)


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
# panel_zero = 0    ## true azimuth at which the panel shows 0
# sector = {{ start = 20, stop = 310 }}    ## clockwise; leave it out for a full circle
# flow = {"780" if units.name == "us" else "49"}    ## {units.flow} at the pivot point
# pressure = {"32" if units.name == "us" else "220"}    ## {units.pressure} at the pivot point
# [pivot.end_gun]
# wetted_radius = {"120" if units.name == "us" else "36"}    ## {units.length}; 75 % of it counts; or reach
# arcs = "auto"    ## or "always", or [{{ start = 20, stop = 71 }}]
"""


def _drip_example(draft: Draft, ground: BaseGeometry, units: UnitSystem) -> str:
    heading = _longest_side_deg(ground)
    row, spacing_m = ("30", 60 * units.small_m) if units.name == "us" else ("750", 1.5)
    block = DripBlock(
        name=draft.name,
        area=ground,
        heading_deg=heading,
        spacing_m=spacing_m,
        number_from_deg=(heading + 90) % 360,
        header_deg=(heading + 180) % 360,
    )
    count = lateral_count(block)
    if count == 0:
        return ""
    tape = "emitter_spacing = 24, emitter_flow = 0.16, at_pressure = 8"
    if units.name != "us":
        tape = "emitter_spacing = 600, emitter_flow = 0.6, at_pressure = 55"
    return f"""\
## Buried drip tape; repeat for each block.
# [[drip]]
# name = {toml_text(f"{draft.name} drip")}
# heading = {number_words(heading)}    ## direction of the laterals, true: here along the field's longest side
# row_spacing = {row}    ## {units.small}
# rows_per_lateral = 2    ## tape in every other row
# headland = {"30" if units.name == "us" else "9"}    ## {units.length} without tape at both ends
# depth = {"12" if units.name == "us" else "300"}    ## {units.small}
# tape = {{ {tape} }}    ## {units.small}, {units.emitter}, {units.pressure}
# [[drip.zone]]
# name = "All"
# laterals = [1, {count}]    ## first and last number; add a [[drip.zone]] for each valve
# valve = "V1"
"""


def _longest_side_deg(ground: BaseGeometry) -> float:
    """Return the bearing, 0 to below 180, of the long side of the tightest rectangle round a shape."""
    corners = shapely.get_coordinates(shapely.oriented_envelope(ground))
    steps = np.diff(corners, axis=0)
    dx, dy = steps[np.argmax(np.hypot(steps[:, 0], steps[:, 1]))]
    bearing = round(float(azimuth_deg(dx, dy)), 1) % 180.0
    return 0.0 if bearing >= 180.0 else bearing

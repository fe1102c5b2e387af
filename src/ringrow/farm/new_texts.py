"""The commented files a new farm starts with, and the guesses in their examples."""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from ringrow.coverage.drip_layout import block_lateral_count
from ringrow.equipment.drip import DripBlock
from ringrow.farm.faults import number_words
from ringrow.farm.new_machines import at_text, inside_circle, machine_examples, toml_text
from ringrow.frame import Frame
from ringrow.geometry.angles import azimuth_deg

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from ringrow.units import UnitSystem

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
# language = "es"    ## what the crew sees in Spanish; left out, in English

# gate = {at}    ## where one drives in

# [[well]]
# name = "Home well"
# at = {at}
# power = "electric"    ## or "engine"
# serves = []    ## names of pivots, lateral moves, drip blocks: ["North pivot"]
# shutoffs = "Disconnect on the pole, valve at the riser."
# plate_volts = 460    ## as the pump motor's plate says; readings of volts are held against it

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

## What a round looks at: leave out, word anew, or add; all items: ringrow round show FARM --system NAME
# [[checklist]]
# item = "lightning-rod"
# kind = "pivot"
# words = "Lightning rod and ground wire tight"
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
        machine_examples(draft.name, ground, frame, units),
        _drip_example(draft, ground, units),
    ]
    return "\n".join(part for part in parts if part)


def _boundary_text(draft: Draft, shapes_file: str) -> str:
    if not draft.inline:
        return f'boundary = {{ file = "{shapes_file}", where = {{ field = {toml_text(draft.name)} }} }}\n'
    corners = shapely.get_coordinates(draft.boundary)[:-1]
    rows = "".join(f"    {at_text(lon, lat)},\n" for lon, lat in corners)
    return f"outline = [    ## corners in turn, read off a map or a phone\n{rows}]\n"


def _ground_examples(ground: BaseGeometry, frame: Frame, units: UnitSystem) -> str:
    x, y, radius = inside_circle(ground)
    half = min(radius / 10, 20.0)
    lon, lat = frame.to_lonlat(x + half * np.array([-1, 1, 1, -1]), y + half * np.array([-1, -1, 1, 1]))
    corners = ", ".join(at_text(float(a), float(b)) for a, b in zip(lon, lat, strict=True))
    setback, tillage = ("30", "8") if units.name == "us" else ("10", "150")
    west, south, east, _ = ground.bounds
    lon, lat = frame.to_lonlat(np.array([west, east]), np.array([south, south]) - 5.0)
    road = ", ".join(at_text(float(a), float(b)) for a, b in zip(lon, lat, strict=True))
    return f"""\
## Ground inside that is not farmed: {{ file = "shapes/yards.geojson" }}, or corners in turn.
# exclusions = [{{ outline = [{corners}] }}]
# setback = {setback}    ## {units.length}: end gun water stays this far inside farmable ground
## Roads, houses, power lines, stock water, in or near the field: no gun throws there. A file, line,
## outline or point each.
# keep_off = [{{ line = [{road}] }}]
# tillage_depth = {tillage}    ## {units.small}, deepest; held against the depth of the tape
# notes = ""
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
    count = block_lateral_count(block)
    if count == 0:
        return ""
    tape = "emitter_spacing = 24, emitter_flow = 0.16, at_pressure = 8"
    if units.name != "us":
        tape = "emitter_spacing = 600, emitter_flow = 0.6, at_pressure = 55"
    return f"""\
## Buried drip tape; repeat for each block.
# [[drip]]
# name = {toml_text(f"{draft.name} drip")}
## heading: here along the field's longest side. Or the line that was driven, straight or not: line =
## {{ from = {{ lat = ..., lon = ... }}, to = {{ ... }} }}, {{ path = [...] }} or {{ file = "shapes/..." }}.
# heading = {number_words(heading)}    ## direction of the laterals, true
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

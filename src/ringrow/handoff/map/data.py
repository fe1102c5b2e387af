"""What the page's script gets: small numbers and texts, as one JSON document."""

from __future__ import annotations

import base64
import json
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from ringrow.coverage.places import PivotPlace
from ringrow.farm.flag_model import MachineSpot
from ringrow.frame import Frame
from ringrow.geometry.laterals import CurvedGrid, lateral_lines
from ringrow.handoff.assumed_words import said_again
from ringrow.handoff.drip_features import END_KINDS
from ringrow.handoff.feature_group import to_lonlat
from ringrow.handoff.languages import _, counted
from ringrow.handoff.map import symbols
from ringrow.handoff.map.drawing import FLAG_SCALE
from ringrow.handoff.map.drawing_labels import acres_words, point_letter, track_words
from ringrow.handoff.map.here_words import here_words
from ringrow.handoff.map.numbers import COORDINATE_STEP_DEG, lonlat_polynomial, short_numbers, stepped_lines
from ringrow.handoff.map.round_data import round_data
from ringrow.handoff.map.set_data import set_data
from ringrow.handoff.map.touched import note_lines, touched_record
from ringrow.handoff.map.ways import STANDING
from ringrow.handoff.map.where_data import where_data
from ringrow.handoff.map.words import (
    AREA_WORDS,
    CLASS_WORDS,
    LAYERS,
    LIST_WORDS,
    POINT_NAMES,
    POWER_WORDS,
    SCRIPT_WORDS,
    clash_words,
    flag_title,
)
from ringrow.handoff.number_words import azimuth_words, unit_words
from ringrow.handoff.place_words import flag_words

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from shapely.geometry.base import BaseGeometry

    from ringrow.coverage.field import DripLayout, Field, FieldLayout
    from ringrow.coverage.places import DripPlace, LateralMovePlace
    from ringrow.farm.events import Event
    from ringrow.farm.flag_model import LocatedFlag
    from ringrow.farm.model import Farm
    from ringrow.handoff.feature_group import FeatureGroup
    from ringrow.handoff.map.photo import FieldPhoto
    from ringrow.handoff.map.ways import Way
    from ringrow.units import UnitSystem


TOOTH_DEG = 3e-5
"""Pieces of edge strips smaller than this are not drawn: 3 m of latitude [deg]."""

FOOTPRINT_DEG = 6e-6
"""How far the edge of what a flag touches may run beside the true one: 0.67 m of latitude [deg]."""

_AREAS = (
    *("boundary", "wetted-area", "corner-arm-sweep", "bend", "end-gun-ring"),
    *("dry-piece", "edge-strips", "exclusion"),
)
_MOST_ARCS = 6


def map_data(
    farm: Farm,
    layouts: Sequence[FieldLayout],
    groups: Sequence[FeatureGroup],
    flags: Sequence[LocatedFlag],
    ways: Sequence[Way] = (),
    photos: Sequence[FieldPhoto] = (),
    stops: Sequence[str] = (),
    events: Sequence[Event] = (),
) -> dict[str, Any]:
    """Return everything the script draws.

    Parameters
    ----------
    farm : Farm
        The farm.
    layouts : sequence of FieldLayout
        Its fields, laid out.
    groups : sequence of FeatureGroup
        Its features; laterals may be left out.
    flags : sequence of LocatedFlag
        Its flags, in the order of the page's list.
    ways : sequence of Way, default ()
        Lines that are no ground, machines where they stand among them.
    photos : sequence of FieldPhoto, default ()
        Parts of an aerial photo, a field each.
    stops : sequence of str, default ()
        Ids of flags in the order of a route.
    events : sequence of Event, default ()
        Events of the season log.

    Returns
    -------
    dict of str to object
        Ready for JSON.
    """
    empty = {STANDING: not any(way.kind == STANDING for way in ways), "photo": not photos}
    layers = [layer for layer in LAYERS if not empty.get(layer[0], False)]
    bounds = _bounds(groups)
    blocks = [_block(layout.field, drip, bounds) for layout in layouts for drip in layout.drip]
    areas = [
        _area(group.kind, group.properties(index), shape, bounds)
        for group in groups
        if group.kind in _AREAS
        for index, shape in enumerate(group.shapes)
        if shape is not None
    ]
    return {
        "schema": 1,
        "farm": farm.name,
        "units": {"length": farm.units.length, "length_m": farm.units.length_m},
        "words": _words(),
        "layers": [{"key": key, "words": _(words), "on": on} for key, words, on in layers],
        "bounds": bounds,
        "step": COORDINATE_STEP_DEG,
        "areas": areas,
        "tracks": _tracks(groups, bounds),
        "ends": _ends(groups, bounds),
        "ways": [_way(way, bounds) for way in ways],
        "photos": [_photo(photo) for photo in photos],
        "points": _points(groups),
        "blocks": blocks,
        **_flags(flags, farm, layouts, bounds, {flag: number for number, flag in enumerate(stops, 1)}),
        "symbols": {
            "shapes": symbols.SHAPES,
            "radius": symbols.CIRCLE_RADIUS,
            "fills": symbols.FILLS,
            "inks": symbols.INKS,
            "down": symbols.TEXT_DOWN,
            "drawn": FLAG_SCALE,
        },
        "grid": _grid(bounds, farm.units),
        "counts": page_counts(farm, layouts, flags),
        "where": where_data(farm, layouts),
        "set": set_data(farm, layouts, flags, events),
        "round": round_data(farm, layouts, events),
    }


def _words() -> dict[str, Any]:
    return {
        **{key: _(text) for key, text in SCRIPT_WORDS.items()},
        **{f"{kind}_letter": point_letter(kind) for kind in POINT_NAMES},
        **{key: _(text) for key, text in LIST_WORDS.items()},
        "here": here_words(),
        "classes": {key: _(text) for key, text in CLASS_WORDS.items()},
    }


def page_counts(farm: Farm, layouts: Sequence[FieldLayout], flags: Sequence[LocatedFlag]) -> dict[str, int]:
    """Return how many things the page holds.

    Parameters
    ----------
    farm : Farm
        The farm.
    layouts : sequence of FieldLayout
        Its fields, laid out.
    flags : sequence of LocatedFlag
        Its flags.

    Returns
    -------
    dict of str to int
        Fields, pivots, towers, blocks, laterals (numbers with any tape), pieces (of tape),
        flags, wells.
    """
    grids = [drip.grid for layout in layouts for drip in layout.drip]
    pivots = [pivot.pivot for layout in layouts for pivot in layout.pivots]
    return {
        "fields": len(layouts),
        "pivots": len(pivots),
        "towers": sum(len(pivot.spans_m) for pivot in pivots),
        "blocks": len(grids),
        "laterals": sum(len(np.unique(grid.piece_lateral)) for grid in grids),
        "pieces": sum(len(grid.piece_lateral) for grid in grids),
        "flags": len(flags),
        "wells": len(farm.wells),
    }


def _bounds(groups: Sequence[FeatureGroup]) -> list[float]:
    # A road that guns keep off may run on for miles.
    own = [group for group in groups if group.kind != "keep-off"]
    shapes = [shape for group in own for shape in group.shapes if shape is not None]
    west, south, east, north = shapely.total_bounds(shapes)
    return short_numbers(np.array([west, south, east, north]), 6)


def _area(
    kind: str, properties: dict[str, Any], shape: BaseGeometry, bounds: Sequence[float]
) -> dict[str, Any]:
    area = {
        "kind": kind,
        "system": properties.get("system", ""),
        "field": properties["field"],
        "name": properties["name"],
        "words": _(AREA_WORDS[f"{kind}-{properties['at']}" if kind == "bend" else kind]).format(
            name=_piece_name(kind, properties),
            acres=acres_words(properties),
            arcs=_arc_words(properties.get("gun_azimuths_deg", ())),
        ),
        # The teeth between laterals and a slanting edge are many and never bigger than a pixel or two.
        "rings": stepped_lines(shape, bounds, smallest_deg=TOOTH_DEG if kind == "edge-strips" else 0.0),
    }
    # Rows along a curve are drawn from their lines, however far out.
    if "heading_deg" in properties and not properties["curved"]:
        area["heading_deg"] = properties["heading_deg"]
    if kind == "dry-piece":
        area["label"] = short_numbers(np.array([properties["label_lon"], properties["label_lat"]]), 6)
        area["lines"] = [_piece_name(kind, properties), acres_words(properties)]
    if kind == "boundary":
        inside = shape.representative_point()
        area["label"] = short_numbers(np.array([inside.x, inside.y]), 6)
        area["lines"] = [properties["name"]]
        area["notes"] = properties["notes"]
    return area


def _piece_name(kind: str, properties: dict[str, Any]) -> str:
    """Return a name that a person gave as it is, one that we gave in the crew's language."""
    name = str(properties["name"])
    return said_again(name) if kind == "dry-piece" else name


def _arc_words(arcs: Sequence[Sequence[float]]) -> str:
    """Return where a gun runs; of many arcs only how many there are."""
    if len(arcs) > _MOST_ARCS:
        return counted("{n} arc", "{n} arcs", len(arcs)).format(n=len(arcs))
    if [list(arc) for arc in arcs] == [[0.0, 360.0]]:
        return _("all azimuths")
    runs = ", ".join(
        _("{low} to {high}").format(low=azimuth_words(arc[0]), high=azimuth_words(arc[1])) for arc in arcs
    )
    return _("azimuth {azimuth}").format(azimuth=runs)


def _way(way: Way, bounds: Sequence[float]) -> dict[str, Any]:
    return {
        "kind": way.kind,
        "field": way.field,
        "words": way.words,
        "rings": stepped_lines(way.shape, bounds),
        "marks": [
            {"at": short_numbers(np.array([mark.lon, mark.lat]), 6), "text": mark.text} for mark in way.marks
        ],
    }


def _photo(photo: FieldPhoto) -> dict[str, Any]:
    text = base64.b64encode(photo.webp).decode("ascii")
    return {"bounds": short_numbers(np.array(photo.bounds), 9), "url": f"data:image/webp;base64,{text}"}


def _tracks(groups: Sequence[FeatureGroup], bounds: Sequence[float]) -> list[dict[str, Any]]:
    tracks = []
    # The last tower of a machine with a corner arm carries the hinge.
    hinged = {
        (group.shared["field"], group.shared["name"]) for group in groups if group.kind == "corner-arm-sweep"
    }
    for group in groups:
        if group.kind == "tower-track":
            last = len(group) - 1 if (group.shared["field"], group.shared["name"]) in hinged else -1
            for index, shape in enumerate(group.shapes):
                middle = shape.interpolate(0.25 if shape.is_closed else 0.5, normalized=True)
                tracks.append(
                    {
                        "tower": track_words(group.properties(index))
                        + (f" {_('hinge')}" if index == last else ""),
                        "rings": stepped_lines(shape, bounds),
                        "label": short_numbers(np.array([middle.x, middle.y]), 6),
                    }
                )
    return tracks


def _points(groups: Sequence[FeatureGroup]) -> list[dict[str, Any]]:
    points = []
    for group in groups:
        if group.kind in ("well", "gate", "pivot-point"):
            for index, shape in enumerate(group.shapes):
                properties = group.properties(index)
                named = ("power", "serves", "shutoffs", "machine", "notes")
                lines = [
                    f"{_(SCRIPT_WORDS[name])} {_value_words(name, properties[name])}"
                    for name in named
                    if properties.get(name)
                ]
                at = short_numbers(np.array([shape.x, shape.y]), 7)
                points.append({"kind": group.kind, "name": properties["name"], "at": at, "lines": lines})
    return points


def _value_words(name: str, value: str) -> str:
    return _(POWER_WORDS.get(value, value)) if name == "power" else value


def _ends(groups: Sequence[FeatureGroup], bounds: Sequence[float]) -> list[dict[str, Any]]:
    """Return header and flush lines."""
    return [
        {"kind": group.kind, "rings": stepped_lines(shape, bounds)}
        for group in groups
        if group.kind in END_KINDS.values()
        for shape in group.shapes
    ]


def _block(field: Field, drip: DripLayout, bounds: Sequence[float]) -> dict[str, Any]:
    """Return a block by its few numbers; one along a curve by its lines, a line a piece."""
    grid = drip.grid
    block = {
        "field": field.name,
        "name": drip.block.name,
        "first_m": round(grid.first_m, 6),
        "spacing_m": round(grid.spacing_m, 6),
        "lateral": np.diff(grid.piece_lateral, prepend=0).tolist(),
        "zones": [{"name": zone.name, "first": zone.first, "last": zone.last} for zone in drip.block.zones],
    }
    if isinstance(grid, CurvedGrid):
        lines = to_lonlat(field.frame, lateral_lines(grid))
        return {**block, "rings": [ring for line in lines for ring in stepped_lines(line, bounds)]}
    reach_m = float(np.abs(np.asarray(drip.block.area.bounds)).max()) if not drip.block.area.is_empty else 0.0
    return {
        **block,
        "frame": lonlat_polynomial(field.frame, max(reach_m, 100.0)),
        "origin": short_numbers(np.array(grid.origin), 4),
        "along": short_numbers(np.array(grid.along), 10),
        "across": short_numbers(np.array(grid.across), 10),
        "start_dm": np.rint(10.0 * grid.piece_start_m).astype(int).tolist(),
        "stop_dm": np.rint(10.0 * grid.piece_stop_m).astype(int).tolist(),
    }


def _flags(
    flags: Sequence[LocatedFlag],
    farm: Farm,
    layouts: Sequence[FieldLayout],
    bounds: Sequence[float],
    stops: Mapping[str, int],
) -> dict[str, Any]:
    """Return the flags, and the grounds they touch: flags on one part of a machine share one."""
    grounds: dict[str, int] = {}
    listed: list[dict[str, Any]] = []
    rows = []
    for flag, touched in zip(flags, touched_record(flags, farm, layouts), strict=True):
        row = _flag(flag, layouts, farm.units)
        if flag.state.id in stops:
            row["stop"] = stops[flag.state.id]
        if touched is not None and (touched["systems"] or touched["shape"] is not None):
            shape = touched["shape"]
            rings = [] if shape is None else stepped_lines(shape, bounds, tolerance_deg=FOOTPRINT_DEG)
            ground = {"effect": touched["effect"], "systems": touched["systems"], "rings": rings}
            row["ground"] = grounds.setdefault(json.dumps(ground), len(grounds))
            if row["ground"] == len(listed):
                listed.append(ground)
        rows.append(row)
    return {"flags": rows, "grounds": listed}


def _flag(flag: LocatedFlag, layouts: Sequence[FieldLayout], units: UnitSystem) -> dict[str, Any]:
    state = flag.state
    return {
        "id": state.id,
        "number": state.number,
        "status": state.status if state.status in symbols.FILLS else "open",
        "kind": flag.kind.name,
        "kind_words": _(flag.kind.words),
        "field": flag.field or "",
        "system": _system(flag),
        "title": flag_title(flag),
        "class": _(CLASS_WORDS[flag.flag_class]),
        "state": _(symbols.STATUS_WORDS.get(state.status, state.status)),
        "place": flag_words(flag, units),
        "touches": note_lines(flag, layouts, units),
        "note": state.note,
        "clashes": [clash_words(clash) for clash in state.clashes],
        "at": None
        if flag.lon is None or flag.lat is None
        else short_numbers(np.array([flag.lon, flag.lat]), 7),
        "ring": _ring(flag, layouts),
        "on_move": flag.move is not None,
    }


def _system(flag: LocatedFlag) -> str:
    """Return the name of the system that a flag is on or that wets its place; empty for none."""
    if flag.well is not None:
        return flag.well
    for on in (flag.pivot, flag.move, flag.drip):
        if on is not None:
            return on.name
    if flag.place is None:
        return ""
    place = flag.place
    systems: list[PivotPlace | LateralMovePlace | DripPlace] = [
        *place.pivots, *place.lateral_moves, *place.drip
    ]  # fmt: skip
    return next((system.name for system in systems if system.inside), "")


def _ring(flag: LocatedFlag, layouts: Sequence[FieldLayout]) -> dict[str, Any] | None:
    """Return the ring, or arc of a part circle, of ground that a flag on a machine travels over."""
    place = flag.pivot
    if not isinstance(flag.state.spot, MachineSpot) or not isinstance(place, PivotPlace):
        return None
    for layout in layouts:
        for pivot in layout.field.pivots:
            if pivot.name == place.name:
                lon, lat = layout.field.frame.to_lonlat(pivot.x_m, pivot.y_m)
                return {
                    "at": short_numbers(np.array([float(lon), float(lat)]), 7),
                    "radius_m": round(place.distance_m, 3),
                    "start_deg": 0.0 if pivot.sector is None else pivot.sector.start_deg,
                    "sweep_deg": 360.0 if pivot.sector is None else pivot.sector.sweep_deg,
                }
    return None


def _grid(bounds: Sequence[float], units: UnitSystem) -> dict[str, Any]:
    """Return the lettered grid: its north-west corner and the size of a cell in degrees."""
    west, south, east, north = bounds
    cell_m = 500 * units.length_m if units.name == "us" else 100.0
    frame = Frame(lon=(west + east) / 2, lat=(south + north) / 2)
    lon, lat = frame.to_lonlat([0.0, cell_m], [cell_m, 0.0])
    return {
        "words": f"{units.from_m(cell_m):,.0f} {unit_words(units.length)}",
        "west": west,
        "north": north,
        "lon_step": round(float(lon[1]) - frame.lon, 12),
        "lat_step": round(float(lat[0]) - frame.lat, 12),
    }

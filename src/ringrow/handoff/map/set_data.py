"""What the page needs to write: kinds, machines and wells to choose from, and what each flag's events say.

A change made on the page is an event like any other, so it has to name the events it saw: the
page carries those that stand for each flag and field.
"""

from __future__ import annotations

import uuid
from typing import TYPE_CHECKING, Any

import shapely

from ringrow.coverage.locate_pivots import pipe_end_m
from ringrow.equipment.kinds import CLASSES, STATUSES
from ringrow.farm.adding_up import PARTS, PHOTO
from ringrow.farm.folding import by_field, heads
from ringrow.farm.spot_values import WHEELS, spot_to_json
from ringrow.geometry.travel import travel_path
from ringrow.handoff.feature_group import to_lonlat
from ringrow.handoff.languages import _
from ringrow.handoff.map.set_words import setting_words
from ringrow.handoff.map.symbols import STATUS_WORDS
from ringrow.handoff.map.words import CLASS_WORDS

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from ringrow.coverage.field import FieldLayout
    from ringrow.equipment.lateral_move import LateralMove
    from ringrow.equipment.pivot import Pivot
    from ringrow.farm.events import Event
    from ringrow.farm.flag_model import FlagState, LocatedFlag
    from ringrow.farm.model import Farm
    from ringrow.frame import Frame

MAP_SOURCE = "map file"
"""How an event that was made on the page says it came in."""
FILE_LIMIT_BYTES = 18_000_000
"""Largest file that the page writes, below what an import takes [bytes]."""
PHOTO_SIDE_PX = 1_280
"""Longer side of a photo that the page keeps [picture points]."""

_NAMESPACE = uuid.UUID("3d0c9a52-7f6e-5a41-9d1b-6c2f7b1e0d35")
_ID_HEAD = 13
_SAID_IN_FIELDS = frozenset({"spot", "kind", "status", "note", "class", "ground_flag", "dig", PARTS, PHOTO})


def map_id(farm: Farm, layouts: Sequence[FieldLayout]) -> str:
    """Return the id under which a browser keeps what is written on a farm's map.

    Parameters
    ----------
    farm : Farm
        The farm.
    layouts : sequence of FieldLayout
        Its fields.

    Returns
    -------
    str
        UUID of the farm's name and the box about its fields' boundaries, to some 100 m: the same
        however often the map is made anew.
    """
    shapes = [to_lonlat(layout.field.frame, layout.field.boundary)[0] for layout in layouts]
    box = shapely.total_bounds(shapes) if shapes else ()
    return str(uuid.uuid5(_NAMESPACE, "\n".join([farm.name, *(f"{edge + 0.0:.3f}" for edge in box)])))


def set_data(
    farm: Farm, layouts: Sequence[FieldLayout], flags: Sequence[LocatedFlag], events: Iterable[Event]
) -> dict[str, Any]:
    """Return what the page needs to set flags and change them.

    Parameters
    ----------
    farm : Farm
        The farm.
    layouts : sequence of FieldLayout
        Its fields, laid out.
    flags : sequence of LocatedFlag
        Flags on the page.
    events : iterable of Event
        Events of the season log.

    Returns
    -------
    dict of str to object
        Ready for JSON.
    """
    told = by_field(events)
    shown = {flag.state.id for flag in flags}
    standing = {
        event.id for flag in shown & told.keys() for own in told[flag].values() for event in heads(own)
    }
    return {
        "map_id": map_id(farm, layouts),
        "schema": 1,
        "limit_bytes": FILE_LIMIT_BYTES,
        "photo_side_px": PHOTO_SIDE_PX,
        "words": setting_words(),
        "kinds": [
            {"name": kind.name, "on": kind.on, "class": kind.flag_class, "words": _(kind.words)}
            for kind in farm.kinds.values()
        ],
        "classes": {name: _(CLASS_WORDS[name]) for name in CLASSES},
        "states": {name: _(STATUS_WORDS[name]) for name in STATUSES},
        "wheels": list(WHEELS),
        "machines": _machines(layouts),
        "wells": [{"name": well.name, "at": [round(well.lon, 7), round(well.lat, 7)]} for well in farm.wells],
        "flags": {flag.state.id: _flag(flag.state, told.get(flag.state.id, {})) for flag in flags},
        # What came home from elder maps but stands in no flag's heads here: written over since, a record,
        # or of a flag that was joined with another.
        "home": sorted(
            event.id[:_ID_HEAD]
            for fields in told.values()
            for own in fields.values()
            for event in own
            if event.source == MAP_SOURCE and event.id not in standing
        ),
    }


def _flag(state: FlagState, fields: dict[str, list[Event]]) -> dict[str, Any]:
    return {
        "kind": state.kind,
        "status": state.status,
        "class": state.flag_class,
        "note": state.note,
        "ground_flag": state.ground_flag,
        "dig": spot_to_json(state.dig),
        "parts": [[used.part, used.quantity] for used in state.parts],
        "photos": len(state.photos),
        "on": (spot_to_json(state.spot) or {}).get("on"),
        "clashes": [clash.field for clash in state.clashes],
        "heads": {name: _heads(fields[name]) for name in sorted(_SAID_IN_FIELDS & fields.keys())},
    }


def _heads(events: Sequence[Event]) -> list[list[Any]]:
    """Return id and time of the events that stand, the displayed one first; values where they differ."""
    standing = heads(events)
    several = len(standing) > 1 and standing[0].field not in (PARTS, PHOTO)
    return [
        [event.id, int(event.when.timestamp() * 1000), *([event.value] if several else [])]
        for event in standing
    ]


def _machines(layouts: Sequence[FieldLayout]) -> list[dict[str, Any]]:
    machines: list[dict[str, Any]] = []
    towed: dict[str, list[dict[str, Any]]] = {}
    for layout in layouts:
        frame = layout.field.frame
        for pivot in layout.field.pivots:
            row = _pivot(pivot, layout.field.name, frame)
            machines.append(row)
            if pivot.machine and pivot.machine != pivot.name:
                towed.setdefault(pivot.machine, []).append(row)
        machines += [_move(move, layout.field.name) for move in layout.field.lateral_moves]
    names = {row["name"] for row in machines}
    # A towed machine under its own name: its parts go where it goes, but nobody knows where it stands.
    machines += [
        {**rows[0], "name": name, "at": None, "field": None}
        for name, rows in towed.items()
        if name not in names
    ]
    return machines


def _pivot(pivot: Pivot, field: str, frame: Frame) -> dict[str, Any]:
    lon, lat = frame.to_lonlat(pivot.x_m, pivot.y_m)
    arm = pivot.corner_arm
    return {
        "kind": "pivot",
        "name": pivot.name,
        "field": field,
        "at": [round(float(lon), 7), round(float(lat), 7)],
        "towers_m": _short(pivot.tower_radii_m),
        "outlets_m": _short(pivot.outlets_m),
        "pipe_m": pivot.length_m,
        "end_m": pipe_end_m(pivot),
        "arm_wheels_m": None if arm is None else pivot.length_m + arm.length_m,
        "start_deg": 0.0 if pivot.sector is None else pivot.sector.start_deg,
        "sweep_deg": 360.0 if pivot.sector is None else pivot.sector.sweep_deg,
    }


def _move(move: LateralMove, field: str) -> dict[str, Any]:
    return {
        "kind": "move",
        "name": move.name,
        "field": field,
        "path_m": float(travel_path(move.path_m).starts_m[-1]),
        "left": {"towers_m": _short(move.left.tower_offsets_m), "end_m": move.left.length_m},
        "right": {"towers_m": _short(move.right.tower_offsets_m), "end_m": move.right.length_m},
    }


def _short(lengths_m: Sequence[float]) -> list[float]:
    """Return lengths to a tenth of a millimetre."""
    return [round(length_m, 4) for length_m in lengths_m]

"""One list of plain features per farm, in longitude and latitude, for every export and the map."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from ringrow.farm.events import event_to_json
from ringrow.farm.folding import by_field, is_record
from ringrow.farm.names import find_named
from ringrow.handoff.feature_group import FeatureGroup, feature_id
from ringrow.handoff.field_features import field_features
from ringrow.handoff.flag_table import flag_record

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from ringrow.coverage.field import FieldLayout
    from ringrow.equipment.drip import DripBlock
    from ringrow.equipment.lateral_move import LateralMove
    from ringrow.equipment.pivot import Pivot
    from ringrow.farm.events import Event
    from ringrow.farm.flag_model import LocatedFlag
    from ringrow.farm.model import Farm
    from ringrow.units import UnitSystem


def farm_features(
    farm: Farm, layouts: Iterable[FieldLayout], flags: Sequence[LocatedFlag], *, laterals: bool = True
) -> Iterator[FeatureGroup]:
    """Yield every feature of a farm, field by field, then wells, gate and flags.

    Parameters
    ----------
    farm : Farm
        The farm.
    layouts : iterable of FieldLayout
        Fields to put in, laid out.
    flags : sequence of LocatedFlag
        Flags to put in.
    laterals : bool, default True
        Whether every lateral is a feature; the map draws them from the block's few numbers.

    Yields
    ------
    FeatureGroup
        One group after the other; only one field is held at a time.
    """
    for layout in layouts:
        yield from field_features(layout, farm.units, laterals=laterals)
    yield from farm_points(farm)
    if flags:
        yield flag_features(flags, farm.units)


def history_features(flags: FeatureGroup, events: Iterable[Event]) -> Iterator[FeatureGroup]:
    """Yield flags with everything ever said of them, and records, as a file from a phone has them.

    Parameters
    ----------
    flags : FeatureGroup
        Flags, as `flag_features` gives them.
    events : iterable of Event
        Events of the log; those of other flags are passed over.

    Yields
    ------
    FeatureGroup
        The flags, each with its ``events``; then a group of records, without places.
    """
    said = by_field(events)
    carried = [_plain_events(said.get(flag, {})) for flag in flags.ids]
    if len(flags):
        yield replace(flags, columns={**flags.columns, "events": carried})
    records = [subject for subject, fields in said.items() if is_record(fields)]
    if records:
        yield FeatureGroup(
            kind="record",
            ids=records,
            shapes=np.array([None] * len(records), dtype=object),
            columns={"events": [_plain_events(said[subject]) for subject in records]},
        )


def _plain_events(fields: Mapping[str, Sequence[Event]]) -> list[dict[str, Any]]:
    events = sorted(
        (each for said in fields.values() for each in said), key=lambda each: (each.when, each.id)
    )
    return [event_to_json(event) for event in events]


def one_field(
    farm: Farm, layouts: Sequence[FieldLayout], flags: Sequence[LocatedFlag], name: str
) -> tuple[Farm, list[FieldLayout], list[LocatedFlag]]:
    """Return what of a farm belongs to one field.

    Parameters
    ----------
    farm : Farm
        The farm.
    layouts : sequence of FieldLayout
        Its fields, laid out.
    flags : sequence of LocatedFlag
        Its flags.
    name : str
        Name of the field; capitals do not matter.

    Returns
    -------
    farm : Farm
        The farm with that field alone, and the wells that stand on it or serve its systems.
    layouts : list of FieldLayout
        That field.
    flags : list of LocatedFlag
        Flags of that field and of those wells.

    Raises
    ------
    PlaceError
        If the farm has no field of that name.
    """
    layout = find_named({layout.field.name: layout for layout in layouts}, name, what="field")
    kept = layout.field
    systems = {name for things in (kept.pivots, kept.lateral_moves, kept.drip) for name in _names(things)}
    systems |= {pivot.machine for pivot in kept.pivots if pivot.machine}
    outline = kept.frame.unproject(kept.boundary)
    wells = tuple(
        well
        for well in farm.wells
        if systems & set(well.serves) or outline.intersects(shapely.Point(well.lon, well.lat))
    )
    names = {well.name for well in wells}
    own = [flag for flag in flags if flag.field == kept.name or (flag.field is None and flag.well in names)]
    return replace(farm, fields=(kept,), wells=wells), [layout], own


def _names(things: Iterable[Pivot] | Iterable[LateralMove] | Iterable[DripBlock]) -> list[str]:
    return [thing.name for thing in things]


def farm_points(farm: Farm) -> Iterator[FeatureGroup]:
    """Yield the points that belong to the farm as a whole: wells and the gate.

    Parameters
    ----------
    farm : Farm
        The farm.

    Yields
    ------
    FeatureGroup
        A group of wells and a group with the gate, where there are any.
    """
    if farm.wells:
        yield FeatureGroup(
            kind="well",
            ids=[feature_id("well", farm.name, well.name) for well in farm.wells],
            shapes=shapely.points([(well.lon, well.lat) for well in farm.wells]),
            columns={
                "name": [well.name for well in farm.wells],
                "power": [well.power for well in farm.wells],
                "serves": [", ".join(well.serves) for well in farm.wells],
                "shutoffs": [well.shutoffs for well in farm.wells],
                "notes": [well.notes for well in farm.wells],
            },
        )
    if farm.gate is not None:
        yield FeatureGroup(
            kind="gate",
            ids=[feature_id("gate", farm.name, "gate")],
            shapes=shapely.points([farm.gate]),
            shared={"name": "gate"},
        )


def flag_features(flags: Sequence[LocatedFlag], units: UnitSystem) -> FeatureGroup:
    """Return all flags as one group; a flag without a position has no shape.

    Parameters
    ----------
    flags : sequence of LocatedFlag
        The flags.
    units : UnitSystem
        Units of the places among the properties.

    Returns
    -------
    FeatureGroup
        Ids are the flags' UUIDs; ``place`` holds the place in words.
    """
    records = [flag_record(flag, units) for flag in flags]
    names = list(dict.fromkeys(name for record in records for name in record if name != "id"))
    columns = {name: [record.get(name) for record in records] for name in names}
    columns["title"] = [f"Flag {flag.state.number}: {flag.kind.words}" for flag in flags]
    points = [None if flag.lon is None else shapely.Point(flag.lon, flag.lat) for flag in flags]
    return FeatureGroup(
        kind="flag",
        ids=[flag.state.id for flag in flags],
        shapes=np.array(points, dtype=object),
        columns=columns,
    )

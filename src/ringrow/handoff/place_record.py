"""A place as plain values under the keys of the JSON output, in the farm's units."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from ringrow.coverage.accuracy import Accuracy
    from ringrow.coverage.field import Field
    from ringrow.coverage.locate_field import NearestField
    from ringrow.coverage.places import DripPlace, LateralMovePlace, PivotPlace, Place
    from ringrow.units import UnitSystem


def place_record(
    place: Place, units: UnitSystem, *, assumed: Mapping[str, tuple[str, ...]] | None = None
) -> dict[str, Any]:
    """Return a place as plain values; numbers are not rounded.

    Parameters
    ----------
    place : Place
        What is at the place.
    units : UnitSystem
        The farm's units; keys end in them.
    assumed : mapping of str to tuple of str, default None
        By system name, what was defaulted or guessed; adds the key ``assumed`` to each system.

    Returns
    -------
    dict
        ``field``, ``farmable``, ``irrigated``, ``pivots``, ``drip``, ``lateral_moves``.

    Examples
    --------
    >>> from ringrow.coverage.places import Place
    >>> from ringrow.units import US
    >>> record = place_record(Place(field="North 80", farmable=True, irrigated=False, pivots=(), drip=()), US)
    >>> record["field"], record["irrigated"], record["pivots"]
    ('North 80', False, [])
    """

    def with_assumed(name: str, record: dict[str, Any]) -> dict[str, Any]:
        return record if assumed is None else {**record, "assumed": list(assumed.get(name, ()))}

    return {
        "field": place.field,
        "farmable": place.farmable,
        "irrigated": place.irrigated,
        "pivots": [with_assumed(pivot.name, pivot_record(pivot, units)) for pivot in place.pivots],
        "drip": [with_assumed(drip.name, drip_record(drip, units)) for drip in place.drip],
        "lateral_moves": [with_assumed(move.name, move_record(move, units)) for move in place.lateral_moves],
    }


def pivot_record(pivot: PivotPlace, units: UnitSystem) -> dict[str, Any]:
    """Return a place seen from one pivot as plain values; numbers are not rounded.

    Parameters
    ----------
    pivot : PivotPlace
        The place.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    dict
        ``name``, ``distance_ft``, ``azimuth_deg``, ``panel_deg``, ``span``, ``part``, ``tower``,
        ``tower_offset_ft``, ``outlet``, ``outlet_range``, ``outlet_chance``, ``inside``, ``pipe_ft``,
        ``bend`` (``at``, ``tower``, ``turned_deg``) and ``arm`` (``along_ft``, ``wheel_offset_ft``,
        ``hinge_deg``, ``azimuth_deg``, ``panel_deg``), both None on a straight pipe.
    """
    bend, arm = pivot.bend, pivot.arm
    return {
        "name": pivot.name,
        units.key("distance_ft"): units.from_m(pivot.distance_m),
        "azimuth_deg": pivot.azimuth_deg,
        "panel_deg": pivot.panel_deg,
        "span": pivot.span,
        "part": pivot.part,
        "tower": pivot.tower,
        units.key("tower_offset_ft"): units.from_m(pivot.tower_offset_m),
        "outlet": pivot.outlet,
        "outlet_range": None if pivot.outlet_range is None else list(pivot.outlet_range),
        "outlet_chance": pivot.outlet_chance,
        "inside": pivot.inside,
        units.key("pipe_ft"): units.from_m(pivot.pipe_m),
        "bend": bend and {"at": bend.at, "tower": bend.tower, "turned_deg": bend.turned_deg},
        "arm": arm
        and {
            units.key("along_ft"): units.from_m(arm.along_m),
            units.key("wheel_offset_ft"): units.from_m(arm.wheel_offset_m),
            "hinge_deg": arm.angle_deg,
            "azimuth_deg": arm.azimuth_deg,
            "panel_deg": arm.panel_deg,
        },
    }


def move_record(move: LateralMovePlace, units: UnitSystem) -> dict[str, Any]:
    """Return a place seen from one lateral move as plain values; numbers are not rounded.

    Parameters
    ----------
    move : LateralMovePlace
        The place.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    dict
        ``name``, ``travel_ft``, ``side``, ``cart_ft`` (distance from the cart along the pipe),
        ``span``, ``part``, ``tower``, ``tower_offset_ft``, ``inside``.
    """
    travel, off_tower = move.travel_m, move.tower_offset_m
    return {
        "name": move.name,
        units.key("travel_ft"): None if travel is None else units.from_m(travel),
        "side": move.side,
        units.key("cart_ft"): units.from_m(move.offset_m),
        "span": move.span,
        "part": move.part,
        "tower": move.tower,
        units.key("tower_offset_ft"): None if off_tower is None else units.from_m(off_tower),
        "inside": move.inside,
    }


def drip_record(drip: DripPlace, units: UnitSystem) -> dict[str, Any]:
    """Return a place seen from one drip block as plain values; numbers are not rounded.

    Parameters
    ----------
    drip : DripPlace
        The place.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    dict
        ``name``, ``zone``, ``lateral``, ``piece``, ``offset_in``, ``station_ft``, ``emitter``,
        ``candidates``, ``elsewhere``, ``inside``.
    """
    return {
        "name": drip.name,
        "zone": drip.zone,
        "lateral": drip.lateral,
        "piece": drip.piece,
        units.key("offset_in"): None if drip.offset_m is None else units.from_m_small(drip.offset_m),
        units.key("station_ft"): None if drip.station_m is None else units.from_m(drip.station_m),
        "emitter": drip.emitter,
        "candidates": [{"lateral": each.lateral, "chance": each.chance} for each in drip.candidates],
        "elsewhere": drip.elsewhere,
        "inside": drip.inside,
    }


def accuracy_record(accuracy: Accuracy, units: UnitSystem) -> dict[str, Any]:
    """Return a stated accuracy as plain values.

    Parameters
    ----------
    accuracy : Accuracy
        The accuracy.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    dict
        ``radius_ft``, ``kind``, ``sigma_ft``, ``assumed``.
    """
    return {
        units.key("radius_ft"): units.from_m(accuracy.radius_m),
        "kind": accuracy.kind,
        units.key("sigma_ft"): units.from_m(accuracy.sigma_m),
        "assumed": accuracy.assumed,
    }


def nearest_field_record(nearest: NearestField | None, units: UnitSystem) -> dict[str, Any] | None:
    """Return the nearest field of a place outside all of them as plain values.

    Parameters
    ----------
    nearest : NearestField or None
        The field; None when there is none to name.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    dict or None
        ``field``, ``distance_ft``, ``azimuth_deg``; None for None.
    """
    if nearest is None:
        return None
    return {
        "field": nearest.name,
        units.key("distance_ft"): units.from_m(nearest.distance_m),
        "azimuth_deg": nearest.azimuth_deg,
    }


def assumed_by_system(fields: Iterable[Field]) -> dict[str, tuple[str, ...]]:
    """Return what was defaulted or guessed for each system, by its name.

    Parameters
    ----------
    fields : iterable of Field
        The farm's fields.

    Returns
    -------
    dict of str to tuple of str
        Every pivot, lateral move and drip block, those without assumptions too.
    """
    return {
        system.name: system.assumed
        for field in fields
        for systems in (field.pivots, field.lateral_moves, field.drip)
        for system in systems
    }

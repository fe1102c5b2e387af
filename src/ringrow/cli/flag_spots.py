"""Places of flags from the options that say them: on the ground, a machine, drip tape, at a well."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from ringrow.cli import options

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ringrow.coverage.field import FieldLayout
    from ringrow.farm.flag_model import Spot
    from ringrow.farm.model import Farm


def spot(farm: Farm, layouts: Sequence[FieldLayout], said: dict[str, Any], *, kind: str) -> Spot:
    """Return the spot that the options describe, or say which of them do not go together."""
    on_machine = ("tower", "wheel", "span", "distance")
    on_pivot = ("pivot", "drop", "outlet", "azimuth", "panel")
    on_move = given(said, "move", "side", "travel")
    ways = {
        "--at": given(said, "at_text", "accuracy"),
        "--pivot": given(said, *on_pivot) or (not on_move and given(said, *on_machine)),
        "--move": on_move,
        "--drip": given(said, "drip", "lateral", "row", "station"),
        "--well": given(said, "well"),
    }
    chosen = [way for way, given in ways.items() if given]
    if len(chosen) != 1:
        found = " and ".join(chosen) if chosen else "no place"
        message = (
            f"found {found}; give one of --at, a place on a pivot, a place on a lateral move, "
            "a place on drip tape, or --well"
        )
        raise click.UsageError(message)
    if chosen[0] == "--at":
        return ground_spot(farm, said)
    if chosen[0] == "--pivot":
        return _pivot_spot(farm, said, kind=kind)
    if chosen[0] == "--move":
        return _move_spot(farm, said)
    if chosen[0] == "--drip":
        return drip_spot(farm, layouts, said)
    from ringrow.farm.flag_model import WellSpot
    from ringrow.farm.names import find_named

    wells = {well.name: well.name for well in farm.wells}
    return WellSpot(well=find_named(wells, said["well"], what="well"))


def given(said: dict[str, Any], *names: str) -> bool:
    """Return whether any of these options was given."""
    return any(said[name] is not None for name in names)


def ground_spot(farm: Farm, said: dict[str, Any]) -> Spot:
    """Return the spot of ``--at`` and ``--accuracy``."""
    from ringrow.coverage.accuracy import parse_accuracy
    from ringrow.farm.coordinates import parse_at
    from ringrow.farm.flag_model import GroundSpot
    from ringrow.farm.flag_places import check_near

    if said["at_text"] is None:
        message = "found --accuracy alone; give --at beside it"
        raise click.UsageError(message)
    lat, lon = parse_at(said["at_text"])
    check_near(farm, lat=lat, lon=lon)
    stated = said["accuracy"]
    accuracy = parse_accuracy(stated, default_unit=farm.units.length) if stated else farm.accuracy
    return GroundSpot(lon=lon, lat=lat, accuracy=accuracy)


def _pivot_spot(farm: Farm, said: dict[str, Any], *, kind: str) -> Spot:
    from ringrow.farm.machine_spots import Said, pivot_named, spot_on_pivot

    distance = said["distance"]
    words = Said(
        tower=said["tower"],
        drop=said["drop"],
        wheel=said["wheel"] or "",
        span=said["span"],
        outlet=said["outlet"],
        distance_m=None if distance is None else distance * farm.units.length_m,
        azimuth_deg=said["azimuth"],
        panel_deg=said["panel"],
    )
    return spot_on_pivot(pivot_named(farm, said["pivot"], words), words, units=farm.units, kind=kind)


def _move_spot(farm: Farm, said: dict[str, Any]) -> Spot:
    from ringrow.farm.move_spots import SaidOnMove, spot_on_move
    from ringrow.farm.names import find_named

    def metres(name: str) -> float | None:
        return None if said[name] is None else said[name] * farm.units.length_m

    moves = {move.name: move for field in farm.fields for move in field.lateral_moves}
    words = SaidOnMove(
        side=said["side"] or "",
        tower=said["tower"],
        span=said["span"],
        distance_m=metres("distance"),
        wheel=said["wheel"] or "",
        travel_m=metres("travel"),
    )
    return spot_on_move(find_named(moves, said["move"], what="lateral move"), words, units=farm.units)


def drip_spot(farm: Farm, layouts: Sequence[FieldLayout], said: dict[str, Any]) -> Spot:
    """Return the spot of ``--lateral`` or ``--row`` and ``--station``."""
    from ringrow.farm.names import find_named
    from ringrow.farm.tape_spots import lateral_of_row, spot_on_tape

    blocks = {laid.block.name: laid for layout in layouts for laid in layout.drip}
    laid = find_named(blocks, said["drip"], what="drip block")
    lateral, row, station = said["lateral"], said["row"], said["station"]
    if (lateral is None) == (row is None) or station is None:
        message = f'on drip tape "{laid.block.name}": give --lateral (or --row) and --station'
        raise click.UsageError(message)
    if row is not None:
        lateral = lateral_of_row(laid.block, row)
        options.say(f"row {row} is served by lateral {lateral}")
    return spot_on_tape(laid, lateral, station * farm.units.length_m, units=farm.units)

"""Places that the words of a photo name: "P3 T5 gearbox", "Ditch lateral left T3 tire", "V2 L43 leak".

On a machine the words win over the photo's position, since a tower is counted and a phone is
not that good; where the two are far apart, both are shown. On the ground the position stands,
unless the words name a lateral that runs past it.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from ringrow.errors import PlaceError
from ringrow.farm.flag_model import DripSpot, WellSpot
from ringrow.farm.flags import check_place
from ringrow.farm.machine_spots import Said, distance_on_m, spot_on_pivot
from ringrow.farm.photo_caption import AGREE_M, Caption, Found, named_machine, read_caption
from ringrow.farm.photo_moves import move_near, names_move, place_on_move
from ringrow.farm.place_terms import DROP
from ringrow.farm.readers.cells import plain_words
from ringrow.farm.readers.guess import Guess, guess_kind
from ringrow.farm.tape_spots import spot_on_tape
from ringrow.frame import distance_azimuth
from ringrow.geometry.laterals import point_at

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ringrow.coverage.field import DripLayout, FieldLayout
    from ringrow.equipment.pivot import Pivot
    from ringrow.farm.flag_model import MachineSpot
    from ringrow.farm.import_model import ReadyRow
    from ringrow.farm.model import Farm

_AT_POINT = ("panel", "collector-ring", "end-gun", "booster")
_AT_CART = ("panel",)
_CART = ("cart", "carro")
_ORDINAL = ("first", "second", "third")


def settle_photos(farm: Farm, layouts: Sequence[FieldLayout], ready: Sequence[ReadyRow]) -> list[ReadyRow]:
    """Return points with the places that the words of their photos name.

    Parameters
    ----------
    farm : Farm
        The farm.
    layouts : sequence of FieldLayout
        Its fields.
    ready : sequence of ReadyRow
        Points with their kinds; those that are no photos stay as they are.

    Returns
    -------
    list of ReadyRow
        In the same order. Where words tell a part of a machine, the kind is guessed anew from
        what it then lies on; a photo that has no place at all is marked to be refused.
    """
    return [each if each.row.photo is None else _settle(farm, layouts, each) for each in ready]


def _settle(farm: Farm, layouts: Sequence[FieldLayout], ready: ReadyRow) -> ReadyRow:
    words = read_caption(ready.row.note)
    found = _place(farm, layouts, ready, words)
    guess = _guess_again(farm, ready, found)
    spot, remarks = found.spot, list(found.remarks)
    kind = farm.kinds[guess.kind]
    if spot is not None:
        try:
            if kind.on == "ground" and not isinstance(spot, DripSpot) and ready.row.lat is not None:
                # A rut by a tower stays where it is: the tower walks on.
                remarks = [f"{kind.name} stays on the ground: placed by the photo's position"]
                spot = None
            else:
                check_place(kind, spot)
        except PlaceError as error:
            remarks.append(f"words left aside: {error}")
            spot = None
    if spot is None and not guess.stated:
        guess = ready.guess
    refusal = ""
    if spot is None and ready.row.lat is None:
        photo = ready.row.photo
        reason = photo.fix.why if photo is not None and photo.fix.why else "no position in the photo"
        refusal = "; ".join([reason, *remarks, f'add it with: flag add ... --photo "{ready.row.what}"'])
    return replace(ready, guess=guess, spot=spot, remarks=tuple(remarks), refusal=refusal)


def _guess_again(farm: Farm, ready: ReadyRow, found: Found) -> Guess:
    if found.spot is None or ready.guess.stated:
        return ready.guess
    # "drop +3" says where, not what.
    texts = {"note": DROP.sub(" ", ready.row.note.casefold())}
    guess = guess_kind(texts, kinds=farm.kinds, around=found.around)
    if guess.kind == "other-ground" and found.around in ("pivot", "well"):
        kind = "other-machine" if found.around == "pivot" else "other-works"
        return Guess(kind=kind, why="no word told the kind; the words name a place on it")
    return guess


def _place(farm: Farm, layouts: Sequence[FieldLayout], ready: ReadyRow, words: Caption) -> Found:
    machine = named_machine(_machine_names(farm), words)
    on_move = names_move(layouts, words, machine)
    if on_move and (words.on_machine() or _at_cart(ready, words)):
        return place_on_move(farm, layouts, ready, words, machine)
    if words.on_machine() or _whole_machine(farm, ready, words):
        return _on_machine(farm, layouts, ready, words, machine)
    if words.lateral is not None:
        return _on_tape(farm, layouts, ready, words)
    wells = [well.name for well in farm.wells if words.names(well.name)]
    if len(wells) == 1 and farm.kinds[ready.guess.kind].on == "works":
        return Found(spot=WellSpot(well=wells[0]), around="well", remarks=(f'words name "{wells[0]}"',))
    return Found()


def _whole_machine(farm: Farm, ready: ReadyRow, words: Caption) -> bool:
    """Return whether words name a machine and a fault that needs no further place on it."""
    if ready.guess.kind not in _AT_POINT:
        return False
    return words.pivot is not None or any(words.names(pivot.name) for pivot in _pivots(farm))


def _at_cart(ready: ReadyRow, words: Caption) -> bool:
    """Return whether words that name a lateral move mean its cart."""
    return ready.guess.kind in _AT_CART or any(words.names(word) for word in _CART)


def _machine_names(farm: Farm) -> list[str]:
    pivots = [pivot.machine or pivot.name for pivot in _pivots(farm)]
    moves = [move.name for field in farm.fields for move in field.lateral_moves]
    return list(dict.fromkeys([*pivots, *moves]))


def _pivots(farm: Farm) -> list[Pivot]:
    return [pivot for field in farm.fields for pivot in field.pivots]


# --- machines


def _on_machine(
    farm: Farm, layouts: Sequence[FieldLayout], ready: ReadyRow, words: Caption, machine: str | None
) -> Found:
    pivot, how = _pivot(farm, layouts, ready, words, machine)
    if pivot is None:
        if machine is None and words.pivot is None and move_near(layouts, ready, any_place=not _pivots(farm)):
            return place_on_move(farm, layouts, ready, words, None)
        return Found(remarks=(how,))
    said = Said(tower=words.tower, span=None if words.tower else words.span, drop=words.drop)
    if not words.tower and not words.span:
        said = Said(outlet=words.outlet)
    try:
        spot = spot_on_pivot(pivot, said, units=farm.units, kind=ready.guess.kind)
    except PlaceError as error:
        return Found(remarks=(f"words left aside: {error}",))
    spot, remark = _beside_position(layouts, pivot, spot, ready, farm)
    shown = f"words name {spot.said} of {pivot.name}{how}"
    return Found(spot=spot, around="pivot", remarks=(shown, *((remark,) if remark else ())))


def _pivot(
    farm: Farm, layouts: Sequence[FieldLayout], ready: ReadyRow, words: Caption, named: str | None
) -> tuple[Pivot | None, str]:
    """Return the pivot that words name, and how it was found; or None, and why there is none."""
    machines: dict[str, list[Pivot]] = {}
    for pivot in _pivots(farm):
        machines.setdefault(pivot.machine or pivot.name, []).append(pivot)
    if not machines:
        return None, "words left aside: this farm has no pivots"
    if named in machines:
        return _one_of(layouts, machines[named], ready, "")
    if words.pivot is not None:
        numbered = [name for name in machines if plain_words(name).split()[-1:] == [str(words.pivot)]]
        coded = [name for name in machines if plain_words(name) == f"p{words.pivot}"]
        if len(coded or numbered) == 1:
            return _one_of(layouts, machines[(coded or numbered)[0]], ready, "")
        if not 1 <= words.pivot <= len(machines):
            return None, (
                f"words left aside: found pivot {words.pivot}; allowed: 1 to {len(machines)} in the order of "
                "the farm's files, or a name"
            )
        name = list(machines)[words.pivot - 1]
        order = _ORDINAL[words.pivot - 1] if words.pivot <= len(_ORDINAL) else f"number {words.pivot}"
        return _one_of(layouts, machines[name], ready, f" ({order} of the farm's pivots)")
    every = [pivot for several in machines.values() for pivot in several]
    return _one_of(layouts, every, ready, " (by the photo's position)")


def _one_of(
    layouts: Sequence[FieldLayout], pivots: Sequence[Pivot], ready: ReadyRow, how: str
) -> tuple[Pivot | None, str]:
    """Return the pivot of several whose reach holds the photo's position."""
    if len(pivots) == 1:
        return pivots[0], how.removesuffix(" (by the photo's position)")
    lon, lat = ready.row.lon, ready.row.lat
    if lon is None or lat is None:
        return None, "words left aside: they name no pivot, and the photo has no position"
    away = [_from_point(layouts, pivot, lon, lat)[0] for pivot in pivots]
    reach = [at for at, pivot in enumerate(pivots) if away[at] <= pivot.length_m + AGREE_M]
    if not reach:
        return None, "words left aside: they name no pivot, and none reaches the photo's position"
    return pivots[min(reach, key=lambda at: away[at])], how or " (by the photo's position)"


def _from_point(layouts: Sequence[FieldLayout], pivot: Pivot, lon: float, lat: float) -> tuple[float, float]:
    """Return distance and true azimuth of a position from a pivot point."""
    layout = next(each for each in layouts if any(laid.pivot.name == pivot.name for laid in each.pivots))
    point_lon, point_lat = layout.field.frame.to_lonlat(pivot.x_m, pivot.y_m)
    return distance_azimuth(float(point_lon), float(point_lat), lon, lat)


def _beside_position(
    layouts: Sequence[FieldLayout], pivot: Pivot, spot: MachineSpot, ready: ReadyRow, farm: Farm
) -> tuple[MachineSpot, str]:
    """Return a spot with the azimuth that the photo's position gives it, or what speaks against it."""
    row, said_m = ready.row, distance_on_m(pivot, spot)
    if row.lon is None or row.lat is None or said_m is None:
        return spot, ""
    away_m, azimuth = _from_point(layouts, pivot, row.lon, row.lat)
    if abs(away_m - said_m) <= AGREE_M + 3 * (row.accuracy or farm.accuracy).sigma_m:
        # Beside the pivot point a bearing says nothing.
        return (replace(spot, azimuth_deg=azimuth % 360.0) if min(away_m, said_m) > AGREE_M else spot), ""
    far, right = (f"{farm.units.from_m(value):,.0f} {farm.units.length}" for value in (away_m, said_m))
    return spot, (
        f"CONFLICT: the photo's position lies {far} from the pivot point, {spot.said} at {right}; "
        "the words were taken"
    )


# --- tape


def _on_tape(farm: Farm, layouts: Sequence[FieldLayout], ready: ReadyRow, words: Caption) -> Found:
    lateral = words.lateral or 0
    found = _block(layouts, ready, words)
    if found is None:
        return Found(remarks=(f"words left aside: lateral {lateral}, but no drip block is named or near",))
    layout, laid = found
    zones = [zone for zone in laid.block.zones if words.names(zone.valve)]
    if zones and not any(zone.first <= lateral <= zone.last for zone in zones):
        zone = zones[0]
        words_of = f"valve {zone.valve} waters laterals {zone.first} to {zone.last}, not {lateral}"
        return Found(remarks=(f"CONFLICT: {words_of}; words left aside",))
    row = ready.row
    try:
        if words.station is not None:
            spot = spot_on_tape(laid, lateral, words.station * farm.units.length_m, units=farm.units)
            shown = f"words name lateral {lateral}, station {words.station} {farm.units.length}"
            return Found(spot=spot, around="drip", remarks=(f"{shown} of {laid.block.name}",))
        if row.lon is None or row.lat is None:
            return Found(remarks=(f"lateral {lateral} of {laid.block.name} is named, but no station",))
        x, y = layout.field.frame.to_xy(row.lon, row.lat)
        station_m, away_m = _nearest_station(laid, lateral, float(x), float(y), farm)
    except PlaceError as error:
        return Found(remarks=(f"words left aside: {error}",))
    if away_m > AGREE_M + 3 * (row.accuracy or farm.accuracy).sigma_m:
        far = f"{farm.units.from_m(away_m):,.0f} {farm.units.length}"
        return Found(
            remarks=(
                f"CONFLICT: lateral {lateral} of {laid.block.name} runs {far} from the photo's position; "
                "the position was taken",
            )
        )
    spot = DripSpot(drip=laid.block.name, lateral=lateral, station_m=station_m)
    shown = f"words name lateral {lateral} of {laid.block.name}; station by the photo's position"
    return Found(spot=spot, around="drip", remarks=(shown,))


def _block(
    layouts: Sequence[FieldLayout], ready: ReadyRow, words: Caption
) -> tuple[FieldLayout, DripLayout] | None:
    """Return the drip block that words or the photo's position mean; None when neither tells."""
    every = [(layout, laid) for layout in layouts for laid in layout.drip]
    named = [pair for pair in every if words.names(pair[1].block.name)]
    valve = [pair for pair in every if any(words.names(zone.valve) for zone in pair[1].block.zones)]
    for choice in (named, valve, every):
        if len(choice) == 1:
            return choice[0]
    lon, lat = ready.row.lon, ready.row.lat
    choice = named or valve or every
    if lon is None or lat is None or not choice:
        return None
    import shapely

    away = []
    for layout, laid in choice:
        x, y = layout.field.frame.to_xy(lon, lat)
        away.append(float(shapely.distance(laid.block.area, shapely.Point(float(x), float(y)))))
    nearest = int(np.argmin(away))
    return choice[nearest] if away[nearest] <= AGREE_M else None


def _nearest_station(
    laid: DripLayout, lateral: int, x_m: float, y_m: float, farm: Farm
) -> tuple[float, float]:
    """Return the station on a lateral that lies nearest a place, and how far away it is."""
    # Asked first for its message when there is no such lateral.
    spot_on_tape(laid, lateral, laid.block.headland_m, units=farm.units)
    grid = laid.grid
    last_m = float(grid.station_end_m[lateral - 1] - grid.station_zero_m[lateral - 1])
    best, least = 0.0, math.inf
    low, high, step = 0.0, last_m, 10.0
    # Coarse, then fine about the best: works for straight and for bent laterals, over gaps too.
    for _ in range(3):
        for station in np.arange(low, high + step / 2, step):
            try:
                px, py = point_at(grid, lateral, min(float(station), last_m))
            except PlaceError:
                continue
            away = math.hypot(px - x_m, py - y_m)
            if away < least:
                best, least = min(float(station), last_m), away
        low, high, step = max(best - step, 0.0), min(best + step, last_m), step / 10
    return best, least

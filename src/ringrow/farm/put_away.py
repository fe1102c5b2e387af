"""Put away for the winter: what is done to each system in the fall, and undone again in spring.

Each item that is done is one record; brought back, the record is corrected, so that fall and
spring of one item stand together. Nothing is closed by a year's end: what was put away waits
until somebody says that it was brought back.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite
from typing import TYPE_CHECKING, Any

from ringrow.equipment.put_away import PARKED, usual_items
from ringrow.errors import PlaceError, SeasonError
from ringrow.farm.events import MAX_NOTE, RECORD, Event, when_text
from ringrow.farm.flags import checked_text
from ringrow.farm.folding import by_field
from ringrow.farm.names import find_named
from ringrow.farm.readings import is_about
from ringrow.farm.records import fold_records, record_event
from ringrow.farm.systems import by_every_name, farm_systems
from ringrow.farm.undo import undo_event

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from ringrow.farm.flags import Stamp
    from ringrow.farm.model import Farm, StatedItem
    from ringrow.farm.records import Record
    from ringrow.farm.season import Season
    from ringrow.farm.systems import FarmSystem

PUT_AWAY = "put-away"
"""Type of the records."""
_BACK = ("back_at", "back_by", "back_note")


@dataclass(frozen=True, slots=True, kw_only=True)
class PutAwayLine:
    """One item of one system, as it stands.

    Parameters
    ----------
    system : FarmSystem
        The system.
    item : str
        Name of the item.
    stated : StatedItem or None
        What farm.toml says about it; None for a built-in item as it is.
    record : Record or None
        The record that says it is done; None when it is not, or was brought back.
    """

    system: FarmSystem
    item: str
    stated: StatedItem | None
    record: Record | None


def put_away_lines(farm: Farm, records: Iterable[Record]) -> list[PutAwayLine]:
    """Return the fall list: every item of every system, done or not.

    Parameters
    ----------
    farm : Farm
        The farm.
    records : iterable of Record
        Records of its season log.

    Returns
    -------
    list of PutAwayLine
        Wells, then machines and blocks in file order, each with its items in order. Items that were
        done and are no longer on the list stay until they are brought back.
    """
    known = list(records)
    lines = []
    for system in farm_systems(farm):
        names = item_names(farm, system)
        done = {str(record.value["item"]): record for record in _own_standing(system, known)}
        lines += [
            PutAwayLine(
                system=system, item=item, stated=stated_item(farm, system, item), record=done.get(item)
            )
            for item in (*names, *(item for item in done if item not in names))
        ]
    return lines


def item_names(farm: Farm, system: FarmSystem) -> tuple[str, ...]:
    """Return what is put away of a system.

    Parameters
    ----------
    farm : Farm
        The farm, whose farm.toml may leave items out and add others.
    system : FarmSystem
        The system.

    Returns
    -------
    tuple of str
        Names of its items.
    """
    names = list(usual_items(system.kind, power=system.power, gun=system.gun))
    for row in farm.put_away:
        if row.applies_to(system.kind, system.names):
            names = [item for item in names if item != row.item or not row.leave_out]
            names += [row.item] if row.item not in names and not row.leave_out else []
    return tuple(names)


def stated_item(farm: Farm, system: FarmSystem, item: str) -> StatedItem | None:
    """Return what farm.toml says about an item of a system.

    Parameters
    ----------
    farm : Farm
        The farm.
    system : FarmSystem
        The system.
    item : str
        Name of the item.

    Returns
    -------
    StatedItem or None
        The last row about it; None when there is none with words.
    """
    rows = [
        row
        for row in farm.put_away
        if row.item == item and row.applies_to(system.kind, system.names) and not row.leave_out
    ]
    return rows[-1] if rows else None


def _own_standing(system: FarmSystem, records: Iterable[Record]) -> list[Record]:
    """Return records of a system's items that are put away and were not brought back, the newest last."""
    return [
        record
        for record in records
        if record.type == PUT_AWAY
        and isinstance(record.value.get("item"), str)
        and is_about(record.value, system.names, system.kind)
        # Where two people said it both ways, it waits until one of them settles it.
        and any(not value.get("back_at") for value in (record.value, *record.clashes) if value is not None)
    ]


def find_system(farm: Farm, name: str | None) -> FarmSystem:
    """Return the machine, block or well that a person means.

    Parameters
    ----------
    farm : Farm
        The farm.
    name : str or None
        What was typed; a towed machine goes by its own name or that of a point.

    Returns
    -------
    FarmSystem
        The system.

    Raises
    ------
    PlaceError
        If there is none of that name.
    """
    things = by_every_name((system, system) for system in farm_systems(farm))
    return find_named(things, name, what="system")


def do_items(
    season: Season,
    farm: Farm,
    system: FarmSystem,
    items: Sequence[str],
    *,
    stamp: Stamp,
    note: str = "",
    azimuth_deg: float | None = None,
) -> list[str]:
    """Keep that items of a system are put away; all of them or, on an error, none.

    Parameters
    ----------
    season : Season
        Open log.
    farm : Farm
        The farm.
    system : FarmSystem
        The system.
    items : sequence of str
        Names of items.
    stamp : Stamp
        Who says so and when.
    note : str, default ""
        Anything to know in spring, kept with each.
    azimuth_deg : float or None, default None
        True azimuth at which a pivot is parked. [deg]

    Returns
    -------
    list of str
        Items that this changed; one that was put away already with the same note is left alone.

    Raises
    ------
    PlaceError
        If an item is not on that system's list, or an azimuth is no number or is given for something
        that has none.
    SeasonError
        If the note is too long or the log cannot be written.
    """
    known = [_known_item(farm, system, item) for item in items]
    if azimuth_deg is not None and (PARKED not in known or system.kind != "pivot"):
        message = (
            f'azimuth: found {azimuth_deg:g} degrees for {", ".join(known)} of "{system.name}"; '
            f'allowed: the item "{PARKED}" of a pivot'
        )
        raise PlaceError(message)
    if azimuth_deg is not None and not isfinite(azimuth_deg):
        message = f'azimuth of "{system.name}": found {azimuth_deg}; allowed: degrees clockwise from north'
        raise PlaceError(message)
    said = {"note": checked_text(note, what="note", longest=MAX_NOTE)} if note else {}
    changed = []
    with season.writing():
        events = season.events()
        done = {line.item: line.record for line in _own_lines(farm, system, events)}
        for item in dict.fromkeys(known):
            value: dict[str, Any] = {"system": system.name, "kind": system.kind, "item": item, **said}
            if item == PARKED and azimuth_deg is not None:
                value["azimuth_deg"] = azimuth_deg % 360.0
            record = done.get(item)
            former = record.value if record else {}
            merged = {key: kept for key, kept in former.items() if key not in _BACK} | value
            # Where two people said different things, saying one of them again settles it.
            if record is None or merged != record.value or record.clashes:
                season.append([_next(merged, record, events, stamp)])
                changed.append(item)
    return changed


def bring_back(
    season: Season, farm: Farm, system: FarmSystem, items: Sequence[str], *, stamp: Stamp, note: str = ""
) -> list[str]:
    """Keep that items of a system were brought back: closed, put on, filled again.

    Parameters
    ----------
    season : Season
        Open log.
    farm : Farm
        The farm.
    system : FarmSystem
        The system.
    items : sequence of str
        Names of items; empty for all that are put away.
    stamp : Stamp
        Who says so and when.
    note : str, default ""
        Anything said about it.

    Returns
    -------
    list of str
        Items that were brought back; one that was not put away is left alone.

    Raises
    ------
    PlaceError
        If an item is not on that system's list.
    SeasonError
        If a text is too long or the log cannot be written.
    """
    said = {"back_note": checked_text(note, what="note", longest=MAX_NOTE)} if note else {}
    changed = []
    with season.writing():
        events = season.events()
        done = {line.item: line.record for line in _own_lines(farm, system, events) if line.record}
        wanted = [_known_item(farm, system, item, also=done) for item in items] or list(done)
        standing = _own_standing(system, fold_records(events))
        for item in dict.fromkeys(wanted):
            # Two logs that were joined may each say that it was put away; it is brought back once.
            twins = [record for record in standing if record.value["item"] == item]
            for record in twins:
                value = {**record.value, "back_at": when_text(stamp.when), "back_by": stamp.who, **said}
                season.append([_next(value, record, events, stamp)])
            changed += [item] if twins else []
    return changed


def undo_item(season: Season, farm: Farm, system: FarmSystem, item: str, *, stamp: Stamp) -> tuple[str, bool]:
    """Take back what was last said of an item: brought back, or put away.

    Parameters
    ----------
    season : Season
        Open log.
    farm : Farm
        The farm.
    system : FarmSystem
        The system.
    item : str
        Name of the item.
    stamp : Stamp
        Who takes it back and when.

    Returns
    -------
    item : str
        Its name as it stands on the list.
    stands : bool
        Whether it now is put away.

    Raises
    ------
    PlaceError
        If the item is not on that system's list.
    SeasonError
        If nothing was said of it, or the log cannot be written.
    """
    with season.writing():
        events = season.events()
        said = [
            record
            for record in fold_records(events)
            if record.type == PUT_AWAY and is_about(record.value, system.names, system.kind)
        ]
        told = [record.value.get("item") for record in said]
        name = _known_item(farm, system, item, also=[each for each in told if isinstance(each, str)])
        records = [record for record in said if record.value.get("item") == name]
        if not records:
            message = (
                f'put-away: nothing was said of "{name}" of "{system.name}"; there is nothing to take back'
            )
            raise SeasonError(message)
        own = by_field(events)[records[-1].id][RECORD]
        event = undo_event(own, id_=stamp.new_id(), when=stamp.when, who=stamp.who, source=stamp.source)
        season.append([event])
        lines = _own_lines(farm, system, [*events, event])
    return name, any(line.item == name and line.record is not None for line in lines)


def _own_lines(farm: Farm, system: FarmSystem, events: Iterable[Event]) -> list[PutAwayLine]:
    lines = put_away_lines(farm, fold_records(events))
    return [line for line in lines if line.system == system]


def _next(value: Mapping[str, Any], record: Record | None, events: Sequence[Event], stamp: Stamp) -> Event:
    if record is None:
        return record_event(PUT_AWAY, value, stamp=stamp)
    own = [event for event in events if event.flag == record.id]
    return record_event(PUT_AWAY, value, stamp=stamp, subject=record.id, seen=own)


def _known_item(farm: Farm, system: FarmSystem, item: str, *, also: Iterable[str] = ()) -> str:
    names = dict.fromkeys((*item_names(farm, system), *also))
    return find_named({name: name for name in names}, item, what=f'item of "{system.name}"')

"""Zones that water was let into: since when, when the tape can be full, when a walk is worth doing."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING, Any

from ringrow.coverage.zone_reading import WAIT_H
from ringrow.coverage.zone_water import zone_water
from ringrow.equipment.drip import Zone
from ringrow.errors import PlaceError, SeasonError
from ringrow.farm.events import RECORD, when_text
from ringrow.farm.folding import by_field
from ringrow.farm.names import find_named
from ringrow.farm.readings import time_of
from ringrow.farm.records import fold_records, record_event
from ringrow.farm.undo import undo_event

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from datetime import datetime

    from ringrow.coverage.field import DripLayout, FieldLayout
    from ringrow.farm.flags import Stamp
    from ringrow.farm.records import Record
    from ringrow.farm.season import Season

FILL = "fill"
"""Type of the records."""
MOST_WAIT_H = 1000.0
"""Longest wait that is believed [h]."""
LOOKED_AFTER = "walked-after-the-wait"
"""The item that ends a wait."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fill:
    """Water let into a zone.

    Parameters
    ----------
    drip, zone : str
        The block and its zone; an empty zone is the whole block.
    since : datetime
        When the water went on, UTC.
    full_at : datetime or None
        When the tape can be full at the earliest, UTC; None when that is not known.
    look_at : datetime
        When a walk is worth doing, UTC: the wait after that, or after the water went on where the
        time to fill is not known.
    wait_h : float
        Hours given to buried water to show. [h]
    who : str
        Who let it in, as stated.
    record : str
        Id of the record.
    """

    drip: str
    zone: str
    since: datetime
    full_at: datetime | None
    look_at: datetime
    wait_h: float
    who: str
    record: str


def say_filled(
    season: Season,
    layouts: Sequence[FieldLayout],
    *,
    drip: str | None,
    zone: str | None,
    since: datetime,
    stamp: Stamp,
    wait_h: float | None = None,
) -> str:
    """Keep that water was let into a zone; it is on disk when this returns.

    Parameters
    ----------
    season : Season
        Open log.
    layouts : sequence of FieldLayout
        The farm's fields, laid out.
    drip, zone : str or None
        The block and its zone as typed; None where there is only one.
    since : datetime
        When the water went on, with its time zone.
    stamp : Stamp
        Who says so and when.
    wait_h : float or None, default None
        Hours given to buried water to show; None = 12. [h]

    Returns
    -------
    str
        Id of the record.

    Raises
    ------
    PlaceError
        If there is no such block or zone, the wait cannot be, or the water went on years ago or later
        than now.
    SeasonError
        If the log cannot be written.
    """
    block, name = _zone_named(layouts, drip, zone)
    if wait_h is not None and not 0 <= wait_h <= MOST_WAIT_H:
        message = f"--wait: found {wait_h:g} h; allowed: 0 to {MOST_WAIT_H:,.0f}"
        raise PlaceError(message)
    # By the year alone: a zone's clock cannot tell the hours of the first and last days of the calendar.
    if since.year < stamp.when.year - 1:
        message = f"--since: found {since:%Y-%m-%d %H:%M}; allowed: a time of this year or the one before"
        raise PlaceError(message)
    if since.year > stamp.when.year + 1 or since > stamp.when + timedelta(minutes=1):
        message = f"--since: found {since:%Y-%m-%d %H:%M}, which is still to come; allowed: now or before"
        raise PlaceError(message)
    value: dict[str, Any] = {"system": block.name, "kind": "drip", "zone": name, "at": when_text(since)}
    value |= {} if wait_h is None else {"wait_h": wait_h}
    event = record_event(FILL, value, stamp=stamp)
    with season.writing():
        season.append([event])
    return event.flag


def undo_fill(
    season: Season, layouts: Sequence[FieldLayout], *, drip: str | None, zone: str | None, stamp: Stamp
) -> tuple[str, Fill | None]:
    """Take back what was last said of water let into a zone; the log keeps both.

    Parameters
    ----------
    season : Season
        Open log.
    layouts : sequence of FieldLayout
        The farm's fields, laid out.
    drip, zone : str or None
        The block and its zone as typed; None where there is only one.
    stamp : Stamp
        Who takes it back and when.

    Returns
    -------
    where : str
        The zone, or the block that has none.
    stands : Fill or None
        The fill that stands now; None for none.

    Raises
    ------
    PlaceError
        If there is no such block or zone.
    SeasonError
        If no water was said to be in it, or the log cannot be written.
    """
    block, name = _zone_named(layouts, drip, zone)
    with season.writing():
        events = season.events()
        last = _fill_in(layouts, fold_records(events), block, name)
        if last is None:
            message = (
                f'fill: no water was said to be in "{name or block.name}"; there is nothing to take back'
            )
            raise SeasonError(message)
        own = by_field(events)[last.record][RECORD]
        event = undo_event(own, id_=stamp.new_id(), when=stamp.when, who=stamp.who, source=stamp.source)
        season.append([event])
        return name or block.name, _fill_in(layouts, fold_records([*events, event]), block, name)


def _zone_named(layouts: Sequence[FieldLayout], drip: str | None, zone: str | None) -> tuple[DripLayout, str]:
    """Return a block, and the name of its zone; a block without zones is one of its own."""
    blocks = {block.name: block for layout in layouts for block in layout.drip}
    block = find_named(blocks, drip, what="drip block")
    zones = {each.name: each.name for each in block.block.zones} or {"": ""}
    name = "" if not zone and "" in zones else find_named(zones, zone, what=f'zone of "{block.name}"')
    return block, name


def _fill_in(
    layouts: Sequence[FieldLayout], records: Iterable[Record], block: DripLayout, zone: str
) -> Fill | None:
    found = fills_of(layouts, records)
    return next((fill for fill in found if (fill.drip, fill.zone) == (block.name, zone)), None)


def fills_of(layouts: Sequence[FieldLayout], records: Iterable[Record]) -> list[Fill]:
    """Return the last time that water was let into each zone.

    Parameters
    ----------
    layouts : sequence of FieldLayout
        The farm's fields, laid out.
    records : iterable of Record
        Records of its season log; those of zones that are gone are passed over.

    Returns
    -------
    list of Fill
        By the time the water went on.
    """
    blocks = {block.name: block for layout in layouts for block in layout.drip}
    newest: dict[tuple[str, str], Fill] = {}
    for record in sorted(records, key=time_of):
        block = blocks.get(str(record.value.get("system")))
        if record.type == FILL and block is not None:
            fill = _fill(block, record)
            if fill is not None:
                newest[fill.drip, fill.zone] = fill
    return sorted(newest.values(), key=lambda fill: (fill.since, fill.record))


def _fill(block: DripLayout, record: Record) -> Fill | None:
    said = record.value.get("zone")
    name = said if isinstance(said, str) else ""
    zones = {each.name: each for each in block.block.zones}
    # A block without zones is one of its own.
    zone = zones.get(name) if zones else Zone(name="", first=1, last=max(block.grid.count, 1))
    if zone is None:
        return None
    wait_h = record.value.get("wait_h")
    sound = isinstance(wait_h, int | float) and not isinstance(wait_h, bool) and 0 <= wait_h <= MOST_WAIT_H
    hours = float(wait_h) if sound and wait_h is not None else WAIT_H
    since, fill_min = time_of(record), zone_water(block, zone).fill_min
    try:
        full_at = None if fill_min is None else since + timedelta(minutes=fill_min)
        look_at = (full_at or since) + timedelta(hours=hours)
    except OverflowError:
        # A clock that ran to the end of the calendar.
        return None
    return Fill(
        drip=block.name,
        zone=zone.name,
        since=since,
        full_at=full_at,
        look_at=look_at,
        wait_h=hours,
        who=record.who,
        record=record.id,
    )

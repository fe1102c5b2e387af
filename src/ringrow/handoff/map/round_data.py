"""What the page needs to walk a round: checklists, limits, what was said of each system already.

The page judges a reading the moment it is typed and corrects what stands in the log, so it
carries the limits in the units of the records, and the events that stand for each record.
"""

from __future__ import annotations

import json
from collections import Counter
from typing import TYPE_CHECKING, Any

from ringrow.farm.events import RECORD
from ringrow.farm.folding import by_field, heads
from ringrow.farm.reading_kinds import READING_KINDS
from ringrow.farm.readings import Limits, limits_of, time_of, zone_flow_limits
from ringrow.farm.records import fold_records
from ringrow.farm.rounds import EARLY, WHOSE, round_book
from ringrow.farm.system_checks import parts_for, things_of
from ringrow.handoff.languages import _
from ringrow.handoff.map.round_page_words import round_page_words
from ringrow.handoff.reading_words import MISSING_WORDS, limit_text, limits_source
from ringrow.handoff.round_words import KIND_WORDS, WHOSE_WORDS, checklist_rows, safety_lines

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from datetime import datetime

    from ringrow.coverage.field import FieldLayout
    from ringrow.farm.events import Event
    from ringrow.farm.model import Farm
    from ringrow.farm.records import Record
    from ringrow.farm.rounds import RoundBook
    from ringrow.farm.system_checks import Thing
    from ringrow.farm.systems import FarmSystem
    from ringrow.units import UnitSystem


def round_data(farm: Farm, layouts: Sequence[FieldLayout], events: Iterable[Event]) -> dict[str, Any]:
    """Return what the page needs to walk a round.

    Parameters
    ----------
    farm : Farm
        The farm.
    layouts : sequence of FieldLayout
        Fields on the page, laid out; only their systems, and the wells, are asked.
    events : iterable of Event
        Events of the season log.

    Returns
    -------
    dict of str to object
        Ready for JSON. Items that several systems share stand once in ``items``; a system names them
        by their place in it.
    """
    known = list(events)
    records = fold_records(known)
    book = round_book(farm, records)
    items: dict[str, int] = {}
    shown = {layout.field.name for layout in layouts}
    systems = [
        _system(farm, system, thing, layouts, items)
        for system, thing in things_of(farm)
        if system.field is None or system.field in shown
    ]
    return {
        "words": round_page_words(),
        "safety": safety_lines(),
        "whose": [[name, _(WHOSE_WORDS[name])] for name in WHOSE],
        "round": _round(book),
        "rounds": [each.id for each in book.rounds],
        "items": [json.loads(row) for row in items],
        "systems": systems,
        "records": _records(book, records, known),
    }


def _round(book: RoundBook) -> dict[str, Any] | None:
    current = book.current
    if current is None:
        return None
    # Two copies of a log that were joined may each have started the same round.
    own = {each.id for each in book.rounds if each.name.casefold() == current.name.casefold()}
    later = [each.started for each in book.rounds if each.id not in own and each.started > current.started]
    return {
        "id": current.id,
        "ids": sorted(own),
        "open": current.ended is None,
        "name": current.name,
        "who": current.who,
        "started_ms": _ms(current.started),
        # A look that names no round falls into the one whose days hold it.
        "from_ms": _ms(current.started - EARLY),
        "until_ms": _ms(min(later) - EARLY) if later else None,
    }


def _ms(moment: datetime) -> int:
    return int(moment.timestamp() * 1000)


def _system(
    farm: Farm, system: FarmSystem, thing: Thing, layouts: Sequence[FieldLayout], items: dict[str, int]
) -> dict[str, Any]:
    rows = checklist_rows(system, thing, farm)
    limits = {
        row["id"]: _limits(farm, system, thing, row["id"], row["parts"] or [""], layouts)
        for row in rows
        if row["how"] == "read"
    }
    return {
        "name": system.name,
        # Words of the log, not of the crew; the script puts the blank back.
        "kind": system.kind.replace(" ", "_"),
        "kind_words": _(KIND_WORDS[system.kind]),
        "field": system.field,
        "names": list(system.names),
        "towers": _towers(thing),
        "zones": list(parts_for(thing, "zone")),
        "items": [items.setdefault(_item(row), len(items)) for row in rows],
        "limits": limits,
    }


def _towers(thing: Thing) -> list[list[Any]]:
    """Return side, empty on a pivot, and number of towers there."""
    sides = Counter(name.rpartition(" ")[0] for name in parts_for(thing, "tower"))
    return [[side, count] for side, count in sides.items()]


def _item(row: dict[str, Any]) -> str:
    """Return an item without its towers or zones, which its system has."""
    plain = {key: value for key, value in row.items() if key != "parts"}
    if row["how"] == "read":
        quantity = READING_KINDS[row["id"]].quantity
        plain |= {"least": quantity.least, "most": quantity.most}
    return json.dumps(plain)


def _limits(
    farm: Farm,
    system: FarmSystem,
    thing: Thing,
    item: str,
    parts: Sequence[str],
    layouts: Sequence[FieldLayout],
) -> dict[str, dict[str, Any]]:
    by_zone: Mapping[str, Limits] = {}
    if item == "zone-flow":
        laid = next(drip for layout in layouts for drip in layout.drip if drip.block.name in system.names)
        by_zone = zone_flow_limits(farm, laid)
    return {
        part: _limit(by_zone.get(part) or limits_of(farm, thing, item, part), item, farm.units)
        for part in parts
    }


def _limit(limits: Limits, item: str, units: UnitSystem) -> dict[str, Any]:
    if limits.low is None and limits.high is None:
        return {"missing": _(MISSING_WORDS[limits.missing])} if limits.missing else {}
    return {
        "low": limits.low,
        "high": limits.high,
        "low_words": limit_text(limits.low, item, units),
        "high_words": limit_text(limits.high, item, units),
        "source": limits_source(limits, item, units),
    }


def _records(book: RoundBook, records: Sequence[Record], events: Sequence[Event]) -> list[dict[str, Any]]:
    """Return what was said in the round, with the events that a correction has to name."""
    wanted = {look.id for found in book.systems for look in found.looks}
    wanted |= {each.record.id for found in book.systems for each in found.readings}
    own = by_field(event for event in events if event.flag in wanted)
    return [
        {
            "id": record.id,
            "ms": _ms(time_of(record)),
            "who": record.who,
            "heads": [[event.id, _ms(event.when), event.value] for event in heads(own[record.id][RECORD])],
        }
        for record in records
        if record.id in wanted
    ]

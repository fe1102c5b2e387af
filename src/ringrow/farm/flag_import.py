"""Bringing points of files into a season log: what is new, what was there, what changed.

A point without an id gets one from its content, so that the same file, or the same point in
another file, is known again. The file's name plays no part: people rename files.
"""

from __future__ import annotations

import uuid
from collections import Counter
from dataclasses import dataclass, field, replace
from datetime import timedelta
from typing import TYPE_CHECKING, Any

from ringrow.errors import SeasonError
from ringrow.farm.adding_up import kept_file
from ringrow.farm.events import EARLIEST, MAX_NAME, RECORD, Event, canonical, digest, when_text
from ringrow.farm.flag_model import GroundSpot
from ringrow.farm.flags import first_events
from ringrow.farm.folding import by_field, heads, is_record
from ringrow.farm.import_model import Edit, ImportPlan, Outcome, ReadyRow
from ringrow.farm.photo_store import photo_value, photos_by_print, remove_photos, save_photos
from ringrow.farm.readers.guess import Guess, guess_kind
from ringrow.farm.readers.own import as_carried
from ringrow.farm.readers.rows import order_in_file
from ringrow.farm.season import open_season
from ringrow.farm.spot_values import spot_from_json, spot_to_json
from ringrow.frame import distance_azimuth

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from datetime import datetime
    from pathlib import Path

    from ringrow.coverage.accuracy import Accuracy
    from ringrow.equipment.kinds import FlagKind
    from ringrow.farm.flags import Stamp
    from ringrow.farm.readers.guess import Around
    from ringrow.farm.readers.rows import PointFile, PointRow

_NAMESPACE = uuid.UUID("0a3f2f5e-6d0b-5b57-8a35-51f0b8d9c6e4")
_SAME_PLACE_DEG = 1.5e-7
_LATEST = timedelta(days=1)
_MOVED_M = 60.0


@dataclass(slots=True, kw_only=True)
class _Log:
    """The log as it is and as it will be while a plan is made."""

    flags: dict[str, dict[str, list[Event]]]
    digests: dict[str, str]
    by_name: dict[str, list[str]] = field(default_factory=dict)
    by_photo: dict[str, str] = field(default_factory=dict)
    new: list[Event] = field(default_factory=list)

    def take(self, event: Event) -> bool:
        """Take an event; False when it was there. The same id with other content is refused by name."""
        known = self.digests.get(event.id)
        if known is not None and known != digest(event):
            message = f"event {event.id}: found two different contents under one id; allowed: one"
            raise SeasonError(message)
        if known is None:
            self.digests[event.id] = digest(event)
            self.flags.setdefault(event.flag, {}).setdefault(event.field, []).append(event)
            self.new.append(event)
        return known is None


def settle_kinds(
    file: PointFile,
    *,
    kinds: Mapping[str, FlagKind],
    around: Sequence[Around],
    all_kind: str | None = None,
) -> list[ReadyRow]:
    """Return a file's points, each with a kind and the reason for it.

    Parameters
    ----------
    file : PointFile
        What was read.
    kinds : mapping of str to FlagKind
        Kinds of this farm.
    around : sequence of str
        What each point lies on or at.
    all_kind : str or None, default None
        Kind that the user states for every point.

    Returns
    -------
    list of ReadyRow
        In file order.
    """
    if all_kind is not None:
        stated = Guess(kind=all_kind, why="as you said", stated=True)
        return [ReadyRow(row=row, guess=stated) for row in file.rows]
    return [
        ReadyRow(row=row, guess=guess_kind(_texts(row), kinds=kinds, around=lies))
        for row, lies in zip(file.rows, around, strict=True)
    ]


def _texts(row: PointRow) -> dict[str, str]:
    return {"kind": row.kind_words, "name": row.name, "symbol": row.symbol, "note": row.note}


def plan_import(
    file: PointFile,
    rows: Sequence[ReadyRow],
    *,
    known: Iterable[Event],
    accuracy: Accuracy,
    stamp: Stamp,
) -> ImportPlan:
    """Return what importing a file would do; nothing is written.

    Importing a file twice changes nothing: a value that the log already knows from
    whatever time makes no event. A word that is new on a known flag becomes an edit. A point
    that moved and carries no id is a new flag, and the flag it resembles is named.

    Parameters
    ----------
    file : PointFile
        What was read.
    rows : sequence of ReadyRow
        Its points with their kinds.
    known : iterable of Event
        Events of the log.
    accuracy : Accuracy
        Accuracy of a point that states none.
    stamp : Stamp
        Who imports, when; a point's own time and person win.

    Returns
    -------
    ImportPlan
        Events to append and what became of each point.
    """
    log = _open_log(known)
    ids = flag_ids(file.form, [ready.row for ready in rows])
    here = frozenset(ids)
    outcomes = []
    for ready, flag in zip(rows, ids, strict=True):
        mark = len(log.new)
        try:
            outcomes.append(_plan_row(log, ready, flag, accuracy=accuracy, stamp=stamp, here=here))
        except SeasonError as error:
            _forget(log, mark)
            outcomes.append(Outcome(what=ready.row.what, result="refused", why=str(error)))
    refused = [Outcome(what=row.what, result="refused", why=row.why) for row in file.refused]
    ordered = sorted([*outcomes, *refused], key=lambda outcome: order_in_file(outcome.what))
    return ImportPlan(events=tuple(log.new), outcomes=tuple(ordered))


def flag_ids(form: str, rows: Sequence[PointRow]) -> list[str]:
    """Return the flag id of each point: its own, or one made from its content.

    Parameters
    ----------
    form : str
        Kind of file.
    rows : sequence of PointRow
        Its points.

    Returns
    -------
    list of str
        UUIDs. Made from kind of file, position to 7 decimals, time, name, and how many equal
        points came before; never from the file's name.
    """
    seen: Counter[str] = Counter()
    ids = []
    for row in rows:
        place = [None if value is None else f"{value + 0.0:.7f}" for value in (row.lat, row.lon)]
        content = canonical([form, *place, when_text(row.time) if row.time else "", row.name])
        seen[content] += 1
        ids.append(row.id or str(uuid.uuid5(_NAMESPACE, f"{content}#{seen[content]}")))
    return ids


def _open_log(known: Iterable[Event]) -> _Log:
    events = list(known)
    log = _Log(flags=by_field(events), digests={event.id: digest(event) for event in events})
    for flag, fields in log.flags.items():
        for event in fields.get("name", ()):
            log.by_name.setdefault(event.value, []).append(flag)
    log.by_photo.update({mark: named[0].flag for mark, named in photos_by_print(events).items()})
    return log


def _forget(log: _Log, mark: int) -> None:
    """Take back what a refused point had put into the log."""
    for event in log.new[mark:]:
        del log.digests[event.id]
        log.flags[event.flag][event.field].remove(event)
        if not any(log.flags[event.flag].values()):
            del log.flags[event.flag]
    del log.new[mark:]


def _plan_row(
    log: _Log, ready: ReadyRow, flag: str, *, accuracy: Accuracy, stamp: Stamp, here: frozenset[str]
) -> Outcome:
    row = ready.row
    was_known = flag in log.flags
    if row.photo is not None and not was_known:
        other = log.by_photo.get(row.photo.sha256)
        if other is not None:
            return Outcome(what=row.what, result="already there", flag=other)
        if ready.refusal:
            raise SeasonError(ready.refusal)
    if row.events:
        told = _plan_events(log, row, flag, was_known=was_known)
        if row.told_by_events or is_record(log.flags[flag]):
            return told
        # Another tool may have changed what stands beside the history.
        return _both(told, _plan_known(log, ready, flag, accuracy=accuracy, stamp=stamp))
    if was_known:
        return _plan_known(log, ready, flag, accuracy=accuracy, stamp=stamp)
    return _plan_new(log, ready, flag, accuracy=accuracy, stamp=stamp, here=here)


def _plan_events(log: _Log, row: PointRow, flag: str, *, was_known: bool) -> Outcome:
    before = {name: heads(events)[0].value for name, events in log.flags.get(flag, {}).items()}
    added = [event for event in row.events if log.take(event)]
    result = "already there" if not added else ("edited" if was_known else "new")
    kind = log.flags[flag].get("kind")
    edits = [
        Edit(field=event.field, before=before.get(event.field), after=event.value)
        for event in added
        if was_known
    ]
    if is_record(log.flags[flag]):
        return Outcome(
            what=row.what, result=result, flag=flag, record=_record_type(log.flags[flag]), remarks=row.remarks
        )
    return Outcome(
        what=row.what,
        result=result,
        flag=flag,
        kind=heads(kind)[0].value if kind else "other-ground",
        why="with its own history",
        edits=tuple(edits),
        remarks=row.remarks,
    )


def _record_type(fields: Mapping[str, Sequence[Event]]) -> str:
    """Return what kind of record it is, also of one that was taken back."""
    values = [event.value for event in heads(fields[RECORD])] + [event.value for event in fields[RECORD]]
    return next((str(value["type"]) for value in values if isinstance(value, dict)), "taken back")


def _both(told: Outcome, changed: Outcome) -> Outcome:
    result = "edited" if told.result == "already there" and changed.edits else told.result
    remarks = tuple(dict.fromkeys((*told.remarks, *changed.remarks)))
    return replace(told, result=result, edits=(*told.edits, *changed.edits), remarks=remarks)


def _plan_new(
    log: _Log, ready: ReadyRow, flag: str, *, accuracy: Accuracy, stamp: Stamp, here: frozenset[str]
) -> Outcome:
    row, remarks = ready.row, [*ready.row.remarks, *ready.remarks]
    when = row.time or stamp.when
    if when > stamp.when + _LATEST:
        remarks.append(f"time {when_text(when)} lies ahead and was left out")
        when = stamp.when
    elif when < EARLIEST:
        remarks.append(f"time {when_text(when)} lies before the year 2000 and was left out")
        when = stamp.when
    if row.lat is None and ready.spot is None:
        remarks.append("came without a place")
    like = _like(log, row, when=row.time, here=here)
    values = _values(ready, flag, accuracy, timed=when == row.time)
    for event in first_events(flag, values, when=when, who=row.by or stamp.who, source=stamp.source):
        log.take(event)
    return Outcome(
        what=row.what,
        result="new",
        flag=flag,
        kind=ready.guess.kind,
        why=ready.guess.why,
        remarks=tuple(remarks),
        like=like[0] if like else "",
        like_m=like[1] if like else None,
    )


def _values(ready: ReadyRow, flag: str, accuracy: Accuracy, *, timed: bool) -> dict[str, Any]:
    row, spot = ready.row, ready.spot
    if spot is None and row.lat is not None and row.lon is not None:
        spot = GroundSpot(lon=row.lon, lat=row.lat, accuracy=row.accuracy or accuracy, timed=timed)
    status = row.status if row.status != "open" else ""
    return {
        "spot": spot_to_json(spot),
        "kind": ready.guess.kind,
        "name": row.name,
        "note": row.note,
        "status": status,
        "photo": photo_value(row.photo, flag, first=True) if row.photo is not None else None,
    }


def _plan_known(log: _Log, ready: ReadyRow, flag: str, *, accuracy: Accuracy, stamp: Stamp) -> Outcome:
    row = ready.row
    edits, remarks = [], []
    for name, value in _stated(ready, log.flags[flag], accuracy=accuracy).items():
        history = log.flags[flag].get(name, [])
        standing = heads(history)
        shown = standing[0].value if standing else {"status": "open"}.get(name, "")
        if _same(name, shown, value):
            continue
        if any(_same(name, event.value, value) for event in history) or (
            name == "status" and value == "open"
        ):
            # The log has moved on from what this file says; an old file must not turn it back.
            remarks.append(f"{name} in the file is an older one; kept: {shown!s:.80}")
            continue
        log.take(
            Event(
                id=stamp.new_id(),
                flag=flag,
                field=name,
                value=value,
                when=stamp.when,
                who=row.by or stamp.who,
                source=stamp.source,
                parents=tuple(sorted(event.id for event in standing)),
            )
        )
        edits.append(Edit(field=name, before=shown, after=value))
    result = "edited" if edits else "already there"
    return Outcome(what=row.what, result=result, flag=flag, edits=tuple(edits), remarks=tuple(remarks))


def _stated(ready: ReadyRow, fields: Mapping[str, Sequence[Event]], *, accuracy: Accuracy) -> dict[str, Any]:
    """Return what a file says outright about a known flag; a guess is no statement."""
    row = ready.row
    stated: dict[str, Any] = {"note": row.note, "status": row.status}
    if ready.guess.stated:
        stated["kind"] = ready.guess.kind
    spot = spot_from_json(heads(fields["spot"])[0].value) if "spot" in fields else None
    on_ground = spot is None or isinstance(spot, GroundSpot)
    # Only a flag with an id of its own can be moved, and only on the ground: the position of a
    # machine flag in an exported file is where the machine stood, worked out from its tower.
    if row.id and on_ground and row.lat is not None and row.lon is not None:
        was = spot.accuracy if isinstance(spot, GroundSpot) else accuracy
        stated["spot"] = spot_to_json(GroundSpot(lon=row.lon, lat=row.lat, accuracy=row.accuracy or was))
    return {name: value for name, value in stated.items() if value not in ("", None)}


def _same(name: str, one: Any, two: Any) -> bool:
    if name == "note" and isinstance(one, str) and isinstance(two, str):
        return as_carried(one) == as_carried(two)
    if name != "spot" or not isinstance(one, dict) or not isinstance(two, dict):
        return canonical(one) == canonical(two)
    if one.get("on") != two.get("on"):
        return False
    # Files carry 7 decimals; the log may hold more.
    return all(abs(one[axis] - two[axis]) <= _SAME_PLACE_DEG for axis in ("lon", "lat"))


def _like(
    log: _Log, row: PointRow, *, when: datetime | None, here: frozenset[str]
) -> tuple[str, float] | None:
    """Return a flag of the same name elsewhere, and how far, that this point may be after a move.

    The time must be the same too; where the file has none, the flag must lie within `_MOVED_M`.
    """
    if row.id or not row.name or row.lat is None or row.lon is None:
        return None
    for flag in log.by_name.get(row.name, ()):
        standing = heads(log.flags[flag].get("spot", []))
        spot = spot_from_json(standing[0].value) if standing else None
        # A flag that the file still holds as it was has not moved.
        if flag in here or not isinstance(spot, GroundSpot):
            continue
        away_m, _ = distance_azimuth(row.lon, row.lat, spot.lon, spot.lat)
        if away_m <= _MOVED_M if when is None else standing[0].when == when:
            return flag, away_m
    return None


def import_files(
    path: Path,
    files: Sequence[tuple[PointFile, Sequence[ReadyRow]]],
    *,
    accuracy: Accuracy,
    stamp: Stamp,
    dry_run: bool = False,
) -> tuple[list[ImportPlan], dict[str, int]]:
    """Bring files into a season log: all of them land, or on an error none.

    Parameters
    ----------
    path : Path
        The log; started when there is none.
    files : sequence of tuple
        Each file as read, with its points' kinds settled.
    accuracy : Accuracy
        Accuracy of a point that states none.
    stamp : Stamp
        Who imports, and when.
    dry_run : bool, default False
        Whether only to say what would happen.

    Returns
    -------
    plans : list of ImportPlan
        One a file, in order; a point that an earlier file brought is already there.
    numbers : dict of str to int
        Local number of each flag; without the new ones after a dry run.

    Raises
    ------
    FileError
        If photos cannot be kept.
    SeasonError
        If the log cannot be read or written.
    """
    if dry_run:
        if not path.exists():
            return _plan_all([], files, accuracy=accuracy, stamp=stamp), {}
        with open_season(path) as season:
            return _plan_all(season.events(), files, accuracy=accuracy, stamp=stamp), season.numbers()
    with open_season(path, create=True) as season:
        saved: list[Path] = []
        try:
            # Planned under the write lock: what another process adds meanwhile is seen, or waits.
            with season.writing():
                known = season.events()
                plans = _plan_all(known, files, accuracy=accuracy, stamp=stamp)
                for plan in plans:
                    season.append(plan.events)
                saved = save_photos(path.parent, _copies(known, plans, files, path.parent))
        except BaseException:
            # What the log does not name must not stay behind.
            remove_photos(saved)
            raise
        return plans, season.numbers()


def _copies(
    known: Sequence[Event],
    plans: Sequence[ImportPlan],
    files: Sequence[tuple[PointFile, Sequence[ReadyRow]]],
    folder: Path,
) -> dict[str, bytes]:
    """Return the copies of photos to be kept: of new photos, and of known ones whose copy is gone."""
    read = {
        ready.row.photo.sha256: ready.row.photo.jpeg for _, rows in files for ready in rows if ready.row.photo
    }
    read |= {photo.sha256: photo.jpeg for _, rows in files for ready in rows for photo in ready.row.carried}
    if not read:
        return {}
    new = photos_by_print(event for plan in plans for event in plan.events)
    old = photos_by_print(known)
    wanted = {kept_file(event.value): mark for mark, events in new.items() for event in events}
    for mark in read.keys() & old.keys():
        files_of = (kept_file(event.value) for event in old[mark])
        wanted |= {file: mark for file in files_of if not (folder / file).exists()}
    return {file: read[mark] for file, mark in wanted.items() if mark in read}


def _plan_all(
    known: Sequence[Event],
    files: Sequence[tuple[PointFile, Sequence[ReadyRow]]],
    *,
    accuracy: Accuracy,
    stamp: Stamp,
) -> list[ImportPlan]:
    plans: list[ImportPlan] = []
    so_far = list(known)
    for file, rows in files:
        own = replace(stamp, source=f"flag import {file.file}"[:MAX_NAME])
        plan = plan_import(file, rows, known=so_far, accuracy=accuracy, stamp=own)
        so_far += plan.events
        plans.append(plan)
    return plans

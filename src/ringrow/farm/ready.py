"""The ready board: what of each system and well is waiting before first water, and what is owed after.

Nothing here says that a machine is safe to start or that nothing leaks. A system is ready when
somebody has walked it and nothing that was said of it stops first water.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Literal

from ringrow.equipment.first_water import matters_under_water, needs_water
from ringrow.farm.fills import LOOKED_AFTER, fills_of
from ringrow.farm.flag_model import MachineSpot, MoveSpot
from ringrow.farm.put_away import put_away_lines
from ringrow.farm.readings import open_items
from ringrow.farm.rounds import EARLY, round_book

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from datetime import datetime

    from ringrow.coverage.field import FieldLayout
    from ringrow.coverage.places import LateralMovePlace, PivotPlace
    from ringrow.equipment.checklists import CheckItem
    from ringrow.farm.fills import Fill
    from ringrow.farm.flag_model import LocatedFlag
    from ringrow.farm.model import Farm
    from ringrow.farm.put_away import PutAwayLine
    from ringrow.farm.readings import JudgedReading
    from ringrow.farm.records import Record
    from ringrow.farm.rounds import PartState, Round, SystemRound
    from ringrow.farm.systems import FarmSystem

State = Literal["ready", "waiting", "not walked"]
What = Literal["flag", "failed", "reading", "not seen", "zone", "put-away", "well", "repair", "under water"]
STOPPING = frozenset({"unsafe", "stops"})
"""Classes of open flags that stop first water."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadyLine:
    """One thing that a system waits for, or that is owed at first water.

    Parameters
    ----------
    what : str
        ``flag`` (open, unsafe or stopping), ``failed`` (looked at or tried, not good), ``reading``
        (outside its limits), ``not seen`` (items nobody has looked at, tried or read), ``zone``
        (filled, to be looked over), ``put-away`` (to be brought back), ``well`` (its well waits);
        owed: ``repair`` (made dry), ``under water`` (items that take water).
    flag : LocatedFlag or None, default None
        The flag.
    item : CheckItem or None, default None
        The item that failed.
    part : PartState or None, default None
        What was said of it, of the first of `parts`.
    parts : tuple of str, default ()
        Towers or zones that were said not to be good in one go; none for the system as a whole.
    reading : JudgedReading or None, default None
        The reading.
    unseen : tuple of tuple, default ()
        Pairs of an item and the towers or zones that are missing; none for all of it.
    fill : Fill or None, default None
        The zone.
    put_away : PutAwayLine or None, default None
        The item of the fall.
    well : str, default ""
        The well that is not ready.
    """

    what: What
    flag: LocatedFlag | None = None
    item: CheckItem | None = None
    part: PartState | None = None
    parts: tuple[str, ...] = ()
    reading: JudgedReading | None = None
    unseen: tuple[tuple[CheckItem, tuple[str, ...]], ...] = ()
    fill: Fill | None = None
    put_away: PutAwayLine | None = None
    well: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadySystem:
    """How a machine, drip block or well stands before first water.

    Parameters
    ----------
    system : FarmSystem
        The system.
    walked : bool
        Whether anybody has said anything of it in this round.
    waiting, owed : tuple of ReadyLine
        What stops first water; what is to be seen when there is water.
    also_open : tuple of int
        Numbers of its other open flags, and of repairs that are not yet checked. [-]
    last_seen : tuple of (datetime, str) or None
        When it was last looked at in this round, UTC, and by whom.
    ready_for, not_for : tuple of str, default ()
        For a well: of what it serves, what is ready in itself and what is not.
    """

    system: FarmSystem
    walked: bool
    waiting: tuple[ReadyLine, ...]
    owed: tuple[ReadyLine, ...]
    also_open: tuple[int, ...]
    last_seen: tuple[datetime, str] | None
    ready_for: tuple[str, ...] = ()
    not_for: tuple[str, ...] = ()

    @property
    def state(self) -> State:
        """Not walked while nobody has; else waiting while anything is; else ready."""
        if not self.walked:
            return "not walked"
        return "waiting" if self.waiting or self._idle_well else "ready"

    @property
    def _idle_well(self) -> bool:
        """Whether it is a well that serves systems of which none is ready."""
        return bool(self.not_for) and not self.ready_for

    @property
    def ready(self) -> bool:
        """Whether it was walked and nothing is open that stops first water."""
        return self.state == "ready"


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadyBoard:
    """A farm before first water.

    Parameters
    ----------
    farm : str
        Its name.
    now : datetime
        The moment it is told for, with the time zone in which people read it.
    round : Round or None
        The round whose looks count; None before the first.
    systems, wells : tuple of ReadySystem
        Machines and drip blocks field by field; wells in file order.
    elsewhere : tuple of LocatedFlag
        Open flags that are unsafe or stop something and belong to none of them.
    """

    farm: str
    now: datetime
    round: Round | None
    systems: tuple[ReadySystem, ...]
    wells: tuple[ReadySystem, ...]
    elsewhere: tuple[LocatedFlag, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Desk:
    """What is known of a farm, sorted out once."""

    flags: Sequence[LocatedFlag]
    readings: Sequence[JudgedReading]
    fills: Sequence[Fill]
    away: Sequence[PutAwayLine]
    rounds: dict[FarmSystem, SystemRound] = field(default_factory=dict)


def ready_board(
    farm: Farm,
    layouts: Sequence[FieldLayout],
    flags: Sequence[LocatedFlag],
    records: Iterable[Record],
    *,
    now: datetime,
) -> ReadyBoard:
    """Return who is ready for first water, what is waiting, and what is owed.

    Parameters
    ----------
    farm : Farm
        The farm.
    layouts : sequence of FieldLayout
        Its fields, laid out.
    flags : sequence of LocatedFlag
        All its flags.
    records : iterable of Record
        Records of its season log.
    now : datetime
        The moment, with the time zone in which people read it.

    Returns
    -------
    ReadyBoard
        A system needs its wells; a well is as ready as what it serves.
    """
    known = list(records)
    book = round_book(farm, known)
    desk = _Desk(
        flags=flags,
        readings=open_items(farm, known),
        fills=_of_this_round(fills_of(layouts, known), book.current),
        away=[line for line in put_away_lines(farm, known) if line.record is not None],
        rounds={each.system: each for each in book.systems},
    )
    alone = [_alone(each, desk) for each in book.systems]
    clear = {each.system.name: each.ready for each in alone if each.system.kind == "well"}
    served = {each.system.name: each.ready for each in alone if each.system.kind != "well"}
    owners = {(each.system.kind == "well", name) for each in book.systems for name in each.system.names}
    return ReadyBoard(
        farm=farm.name,
        now=now,
        round=book.current,
        systems=tuple(_with_wells(each, clear) for each in alone if each.system.kind != "well"),
        wells=tuple(_with_served(each, served) for each in alone if each.system.kind == "well"),
        elsewhere=tuple(flag for flag in flags if _stops(flag) and not owners.intersection(owners_of(flag))),
    )


def board_of_field(board: ReadyBoard, field_name: str) -> ReadyBoard:
    """Return what of a board belongs to one field: its systems and their wells.

    Parameters
    ----------
    board : ReadyBoard
        The board of the whole farm.
    field_name : str
        Name of the field; capitals do not matter.

    Returns
    -------
    ReadyBoard
        The same without the rest.
    """
    name = field_name.casefold()
    systems = tuple(each for each in board.systems if (each.system.field or "").casefold() == name)
    wells = {well for each in systems for well in each.system.wells}
    return replace(
        board,
        systems=systems,
        wells=tuple(each for each in board.wells if each.system.name in wells),
        elsewhere=tuple(flag for flag in board.elsewhere if (flag.field or "").casefold() == name),
    )


def _of_this_round(fills: Iterable[Fill], current: Round | None) -> list[Fill]:
    """Return fills to be looked over in this round: their wait was not over before it was started."""
    return [fill for fill in fills if current is None or fill.look_at >= current.started - EARLY]


def _alone(walk: SystemRound, desk: _Desk) -> ReadySystem:
    """Return a system as it stands in itself, its wells not asked."""
    own = [flag for flag in desk.flags if _belongs(flag, walk.system)]
    stopping = [flag for flag in own if _stops(flag)]
    owed = [flag for flag in own if flag.state.status == "fixed" and matters_under_water(flag.kind)]
    rest = [flag for flag in own if flag.state.status in ("open", "fixed")]
    told = {flag.state.number for flag in (*stopping, *owed)}
    zones = _zone_lines(walk, desk.fills)
    waiting = [
        *(ReadyLine(what="flag", flag=flag) for flag in _worst_first(stopping)),
        *_failed_lines(walk, desk.readings),
        *zones,
        *_unseen_lines(walk, zones, under_water=False),
        *(ReadyLine(what="put-away", put_away=line) for line in desk.away if line.system == walk.system),
    ]
    seen = walk.looked_at
    return ReadySystem(
        system=walk.system,
        walked=bool(seen),
        waiting=tuple(waiting),
        owed=(
            *(ReadyLine(what="repair", flag=flag) for flag in _worst_first(owed)),
            *_unseen_lines(walk, zones, under_water=True),
        ),
        also_open=tuple(sorted(flag.state.number for flag in rest if flag.state.number not in told)),
        last_seen=seen[-1] if seen else None,
    )


def _stops(flag: LocatedFlag) -> bool:
    return flag.state.status == "open" and flag.flag_class in STOPPING


def _worst_first(flags: Iterable[LocatedFlag]) -> list[LocatedFlag]:
    return sorted(flags, key=lambda flag: (flag.flag_class != "unsafe", flag.state.number))


def owners_of(flag: LocatedFlag) -> tuple[tuple[bool, str], ...]:
    """Return the systems that a flag is held against.

    Parameters
    ----------
    flag : LocatedFlag
        The flag.

    Returns
    -------
    tuple of tuple
        Whether it is a well, and its name; a fault of the ground belongs to every machine that
        waters it. None for ground that nothing waters.
    """
    if flag.well is not None:
        return ((True, flag.well),)
    spot = flag.state.spot
    own = flag.pivot or flag.move or flag.drip
    if own is not None:
        return ((False, own.name),)
    if isinstance(spot, MachineSpot | MoveSpot):
        return ((False, spot.pivot if isinstance(spot, MachineSpot) else spot.move),)
    if flag.place is None:
        return ()
    places: list[PivotPlace | LateralMovePlace] = [*flag.place.pivots, *flag.place.lateral_moves]
    return tuple((False, each.name) for each in places if each.inside)


def _belongs(flag: LocatedFlag, system: FarmSystem) -> bool:
    return any(well == (system.kind == "well") and name in system.names for well, name in owners_of(flag))


def _failed_lines(walk: SystemRound, readings: Iterable[JudgedReading]) -> list[ReadyLine]:
    """Return what was looked at or tried and is not good, then every reading outside its limits."""
    said: dict[tuple[str, str], list[tuple[CheckItem, PartState]]] = {}
    for item, part in walk.failed:
        if part.reading is None:
            said.setdefault((item.id, part.record), []).append((item, part))
    lines = [
        ReadyLine(what="failed", item=several[0][0], part=several[0][1], parts=_named(several))
        for several in said.values()
    ]
    system = walk.system
    own = [each for each in readings if (each.system, each.kind) == (system.name, system.kind)]
    return [*lines, *(ReadyLine(what="reading", reading=each) for each in own)]


def _named(several: Iterable[tuple[CheckItem, PartState]]) -> tuple[str, ...]:
    return tuple(part.part for _item, part in several if part.part)


def _zone_lines(walk: SystemRound, fills: Iterable[Fill]) -> list[ReadyLine]:
    """Return zones that were filled and not looked over since water could show."""
    walked = {
        part.part: part.when
        for state in walk.items
        if state.item.id == LOOKED_AFTER
        for part in state.parts
        if part.answer is not None and part.when is not None
    }
    return [
        ReadyLine(what="zone", fill=fill)
        for fill in fills
        if fill.drip in walk.system.names
        # Looked over too early, nothing could be seen: it waits on.
        and (fill.zone not in walked or walked[fill.zone] < fill.look_at)
    ]


def _unseen_lines(walk: SystemRound, zones: Iterable[ReadyLine], *, under_water: bool) -> list[ReadyLine]:
    """Return what nobody has looked at, tried or read, of what takes water or of the rest."""
    filled = {line.fill.zone for line in zones if line.fill is not None}
    unseen: list[tuple[CheckItem, tuple[str, ...]]] = []
    for state in walk.missing:
        if needs_water(state.item.id, walk.system.kind) is not under_water:
            continue
        waits = filled if state.item.id == LOOKED_AFTER else set()
        missing = tuple(part for part in state.missing if part not in waits)
        if missing:
            unseen.append((state.item, () if len(missing) == len(state.parts) else missing))
    what: What = "under water" if under_water else "not seen"
    return [ReadyLine(what=what, unseen=tuple(unseen))] if unseen else []


def _with_wells(alone: ReadySystem, clear: dict[str, bool]) -> ReadySystem:
    """Return a system that waits for those of its wells that are not ready in themselves."""
    lines = [ReadyLine(what="well", well=well) for well in alone.system.wells if not clear.get(well, False)]
    return replace(alone, waiting=(*alone.waiting, *lines))


def _with_served(alone: ReadySystem, served: dict[str, bool]) -> ReadySystem:
    names = alone.system.serves
    return replace(
        alone,
        ready_for=tuple(name for name in names if served.get(name, False)),
        not_for=tuple(name for name in names if not served.get(name, False)),
    )

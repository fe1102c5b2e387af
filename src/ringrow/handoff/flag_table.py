"""Flags as JSON records and as tables people read."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from ringrow.equipment.kinds import CLASSES
from ringrow.farm.events import when_text
from ringrow.farm.flag_model import MachineSpot, MoveSpot
from ringrow.handoff.fault_words import doubt_words, flag_notes, meeting_words, touched_words
from ringrow.handoff.languages import _
from ringrow.handoff.number_words import azimuth_words, one_line
from ringrow.handoff.place_record import drip_record, move_record, pivot_record
from ringrow.handoff.place_words import flag_words

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from ringrow.coverage.places import LateralMovePlace, PivotPlace
    from ringrow.coverage.wheel_tracks import TrackMeeting
    from ringrow.farm.flag_model import Clash, LocatedFlag
    from ringrow.farm.parked import MachineLine
    from ringrow.units import UnitSystem

_PIVOT_KEYS = (
    *("distance_ft", "azimuth_deg", "panel_deg", "span", "tower", "tower_offset_ft"),
    *("outlet", "outlet_range", "outlet_chance"),
)
_DRIP_KEYS = ("zone", "lateral", "piece", "offset_in", "station_ft", "emitter", "candidates", "elsewhere")


def flag_record(flag: LocatedFlag, units: UnitSystem) -> dict[str, Any]:
    """Return a flag as plain values under the keys of the JSON output.

    Parameters
    ----------
    flag : LocatedFlag
        The flag.
    units : UnitSystem
        The farm's units; keys end in them.

    Returns
    -------
    dict
        Numbers are not rounded; what does not apply is None. ``system`` is the machine, drip
        block or well that the flag belongs to, or, for ground under a machine, that machine.
        ``touches`` is ``dry``, ``wet`` or ``stopped``; ``doubt`` says what speaks against the
        place; ``set_lat`` and ``set_lon`` are where it was set when ``lat`` and ``lon`` are where
        its machine stands.
    """
    state = flag.state
    pivot = flag.pivot or _wetting(flag)
    record: dict[str, Any] = {
        "id": state.id,
        "number": state.number,
        "kind": state.kind,
        "on": flag.kind.on,
        "status": state.status,
        "class": flag.flag_class,
        "field": flag.field,
        "lat": flag.lat,
        "lon": flag.lon,
        "name": state.name,
        "note": state.note,
        "set_at": when_text(state.set_at),
        "set_by": state.set_by,
        "clashes": [_clash_record(clash) for clash in state.clashes],
        "parts": [{"part": used.part, "quantity": used.quantity} for used in state.parts],
        "photo_files": list(state.photos),
        "ground_flag": state.ground_flag,
        "place": flag_words(flag, units),
        "system": system_of(flag),
    }
    on_pivot = pivot_record(pivot, units) if pivot else {}
    on_drip = drip_record(flag.drip, units) if flag.drip else {}
    record |= {units.key(key): on_pivot.get(units.key(key)) for key in _PIVOT_KEYS}
    record |= {units.key(key): on_drip.get(units.key(key)) for key in _DRIP_KEYS}
    record["irrigated"] = flag.place.irrigated if flag.place else None
    record["farmable"] = flag.place.farmable if flag.place else None
    return record | _machine_values(on_pivot, flag, units) | _fault_values(flag, units)


def _machine_values(on_pivot: dict[str, Any], flag: LocatedFlag, units: UnitSystem) -> dict[str, Any]:
    """Return what only some machines have: bends, corner arms, lateral moves."""
    move = flag.move or _under_move(flag)
    on_move = move_record(move, units) if move else {}
    values = {units.key(key): on_pivot.get(units.key(key)) for key in ("pipe_ft", "bend", "arm", "part")}
    values |= {units.key(key): on_move.get(units.key(key)) for key in ("side", "cart_ft", "travel_ft")}
    if move is not None:
        shared = ("span", "tower", units.key("tower_offset_ft"), "part")
        values |= {key: on_move[key] for key in shared}
    return values


def _fault_values(flag: LocatedFlag, units: UnitSystem) -> dict[str, Any]:
    touched = flag.footprint
    return {
        "touches": None if touched is None else touched.effect,
        units.key("touched_acres"): None if touched is None else touched.area_m2 / units.area_m2,
        "touched_assumed": [] if touched is None else list(touched.assumed),
        "wheels_meet": [_meeting_record(meeting, units) for meeting in flag.meets],
        "doubt": None if flag.doubt is None else doubt_words(flag.doubt, units),
        "set_lat": flag.set_lat,
        "set_lon": flag.set_lon,
        "rebuilt": None if flag.rebuilt is None else flag.rebuilt.isoformat(),
        "joined": [other.number for other in flag.state.joined],
    }


def _meeting_record(meeting: TrackMeeting, units: UnitSystem) -> dict[str, Any]:
    travel = meeting.travel_m
    return {
        "system": meeting.system,
        "wheels": meeting.wheels,
        "tower": meeting.tower,
        "side": meeting.side,
        "azimuth_deg": meeting.azimuth_deg,
        "panel_deg": meeting.panel_deg,
        "turned_deg": None if meeting.bend is None else meeting.bend.turned_deg,
        units.key("travel_ft"): None if travel is None else units.from_m(travel),
        units.key("offset_ft"): units.from_m(meeting.offset_m),
        "sure": meeting.sure,
        "words": meeting_words(meeting, units),
    }


def line_record(line: MachineLine, units: UnitSystem) -> dict[str, Any]:
    """Return a machine as it stands as plain values; numbers are not rounded.

    Parameters
    ----------
    line : MachineLine
        The machine.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    dict
        ``name``, ``field``, ``azimuth_deg``, ``panel_deg``, and ``points``, outward, each with
        ``what``, ``tower``, ``pipe_ft``, ``lat``, ``lon``.
    """
    return {
        "name": line.name,
        "field": line.field,
        "azimuth_deg": line.azimuth_deg,
        "panel_deg": line.panel_deg,
        "points": [
            {
                "what": point.what,
                "tower": point.tower,
                units.key("pipe_ft"): units.from_m(point.distance_m),
                "lat": point.lat,
                "lon": point.lon,
            }
            for point in line.points
        ],
    }


def line_sentence(line: MachineLine) -> str:
    """Return where a machine stands, in one line.

    Parameters
    ----------
    line : MachineLine
        The machine.

    Returns
    -------
    str
        One line.
    """
    panel = "" if line.panel_deg is None else f" (panel {azimuth_words(line.panel_deg)})"
    return f"{one_line(line.name)} stands at azimuth {azimuth_words(line.azimuth_deg)}{panel}"


def _wetting(flag: LocatedFlag) -> PivotPlace | None:
    if flag.place is None or flag.drip is not None or flag.well is not None or flag.move is not None:
        return None
    return next((pivot for pivot in flag.place.pivots if pivot.inside), None)


def _under_move(flag: LocatedFlag) -> LateralMovePlace | None:
    """Return, for ground that no pivot and no tape waters, the lateral move that does."""
    if flag.place is None or flag.drip or flag.well is not None or flag.pivot or _wetting(flag):
        return None
    return next((move for move in flag.place.lateral_moves if move.inside), None)


def system_of(flag: LocatedFlag) -> str | None:
    """Return the name of the machine, drip block or well that a flag belongs to.

    Parameters
    ----------
    flag : LocatedFlag
        The flag.

    Returns
    -------
    str or None
        The name, also of a machine that is no longer on the farm; None for none.
    """
    if flag.well is not None:
        return flag.well
    own = flag.pivot or flag.move or flag.drip
    if own is not None:
        return own.name
    if isinstance(flag.state.spot, MachineSpot):
        return flag.state.spot.pivot
    if isinstance(flag.state.spot, MoveSpot):
        return flag.state.spot.move
    wetting = _wetting(flag) or _under_move(flag)
    return wetting.name if wetting else None


def _clash_record(clash: Clash) -> dict[str, Any]:
    return {"field": clash.field, "values": list(clash.values)}


def by_class(flags: Iterable[LocatedFlag]) -> list[LocatedFlag]:
    """Return flags sorted by class, worst first, then by ground touched, most first, then by number.

    Parameters
    ----------
    flags : iterable of LocatedFlag
        Flags.

    Returns
    -------
    list of LocatedFlag
        The same, sorted.
    """

    def rank(flag: LocatedFlag) -> tuple[int, float, int]:
        touched = 0.0 if flag.footprint is None else flag.footprint.area_m2
        return CLASSES.index(flag.flag_class), -touched, flag.state.number

    return sorted(flags, key=rank)


def flag_lines(flags: Sequence[LocatedFlag], units: UnitSystem) -> list[tuple[str, ...]]:
    """Return one row of texts a flag: number, class, kind, status, ground touched, where, and what was said.

    Parameters
    ----------
    flags : sequence of LocatedFlag
        Flags, in the order they are to be shown.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    list of tuple of str
        Seven texts a flag, each on one line. Where also says whose wheels meet it and what speaks
        against the place.
    """
    return [
        (
            str(flag.state.number),
            _(flag.flag_class),
            _(one_line(flag.state.kind)),
            _status_words(flag),
            touched_words(flag.footprint, units),
            one_line("; ".join([flag_words(flag, units), *_where_notes(flag, units)])),
            one_line("; ".join(text for text in (flag.state.name, flag.state.note) if text)),
        )
        for flag in flags
    ]


def _status_words(flag: LocatedFlag) -> str:
    status = _(flag.state.status)
    return _("{status} (clash)").format(status=status) if flag.state.clashes else status


def _where_notes(flag: LocatedFlag, units: UnitSystem) -> list[str]:
    """Return wheels that meet a flag and what speaks against its place; ground touched has its own column."""
    return flag_notes(replace(flag, footprint=None), units)


def flag_table(flags: Sequence[LocatedFlag], units: UnitSystem, *, width: int | None) -> str:
    """Return flags as a table.

    Parameters
    ----------
    flags : sequence of LocatedFlag
        Flags, in the order they are to be shown.
    units : UnitSystem
        The farm's units.
    width : int or None
        Columns of the terminal; None for plain lines with nothing wrapped. [-]

    Returns
    -------
    str
        The table, without a line break at the end.
    """
    head = (
        *(_("No."), _("Class"), _("Kind"), _("Status"), _("Touches"), _("Where")),
        _("What was said"),
    )
    rows = flag_lines(flags, units)
    if width is None:
        return _plain_table([head, *rows])
    # Beside each other seven columns leave the place no room; above each other it reads like a list.
    return _narrow_table(head, rows, width=width)


def _plain_table(rows: Sequence[tuple[str, ...]]) -> str:
    widths = [max(len(row[at]) for row in rows) for at in range(len(rows[0]))]
    return "\n".join(
        "  ".join(text.ljust(width) for text, width in zip(row, widths, strict=True)).rstrip() for row in rows
    )


def _narrow_table(head: Sequence[str], rows: Sequence[tuple[str, ...]], *, width: int) -> str:
    from io import StringIO

    from rich.box import SIMPLE_HEAD
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    table = Table(box=SIMPLE_HEAD, pad_edge=False, padding=(0, 1), show_edge=False, expand=False)
    table.add_column(head[0], justify="right", no_wrap=True)
    for name in head[1:5]:
        table.add_column(name)
    table.add_column(_("Where, and what was said"), ratio=1, overflow="fold")
    for number, flag_class, kind, status, touched, where, said in rows:
        # Text, not markup: a note such as "[red]" is words, not a colour.
        last = Text(where + (f"\n{said}" if said else ""))
        table.add_row(number, flag_class, Text(kind), Text(status), Text(touched), last)
    out = StringIO()
    Console(file=out, width=width, color_system=None, force_terminal=False, legacy_windows=False).print(table)
    return "\n".join(line.rstrip() for line in out.getvalue().rstrip("\n").splitlines())


def flag_sentence(flag: LocatedFlag, units: UnitSystem) -> str:
    """Return a flag in one line: number, kind, class, status, place.

    Parameters
    ----------
    flag : LocatedFlag
        The flag.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    str
        One line.
    """
    state = flag.state
    return _("flag {number}: {kind} ({matters}), {status}; {place}").format(
        number=state.number,
        kind=_(one_line(state.kind)),
        matters=_(flag.flag_class),
        status=_(state.status),
        place=one_line(flag_words(flag, units)),
    )

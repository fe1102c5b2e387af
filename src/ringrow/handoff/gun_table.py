"""Where each end gun runs, as JSON values and as a table to print and hang in the cab."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ringrow.handoff.number_words import azimuth_words, length_words, one_line
from ringrow.handoff.plain_table import TableBlock, block_text, wrapped

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ringrow.coverage.gun_rules import GunArcs
    from ringrow.coverage.gun_table import GunTable, GunThrow
    from ringrow.equipment.pivot import Pivot
    from ringrow.units import UnitSystem

NOT_MODELLED = (
    "wind, which carries water farther on one side",
    "the gun's fan: it swings, so water falls ahead of and behind the azimuths given",
    "the time the gun takes to start and stop, and how exactly the panel knows its angle",
)
"""What the table says it leaves out."""

_SETTINGS = {
    "auto": "Worked out: it runs wherever its water stays on farmable ground less setback.",
    "always": "Always on, as the field's file says.",
    "stated": "On the arcs that the field's file states.",
}
_SHOWN = 0.005


def gun_record(farm: str, tables: Sequence[GunTable], units: UnitSystem) -> dict[str, Any]:
    """Return where guns run as plain values under the keys of the JSON output.

    Parameters
    ----------
    farm : str
        The farm's name.
    tables : sequence of GunTable
        One a gun.
    units : UnitSystem
        The farm's units; keys end in them.

    Returns
    -------
    dict
        ``farm``, ``guns`` and ``not_modelled``. Numbers are not rounded. An arc all the way round
        has neither start nor stop; a panel without an angle has no panel degrees.
    """
    return {
        "farm": farm,
        "guns": [_gun_record(table, units) for table in tables],
        "not_modelled": list(NOT_MODELLED),
    }


def panel_deg(pivot: Pivot, azimuth_deg: float | None) -> float | None:
    """Return what a machine's panel shows at an azimuth.

    Parameters
    ----------
    pivot : Pivot
        The machine.
    azimuth_deg : float or None
        True azimuth. [deg]

    Returns
    -------
    float or None
        Panel degrees, 0 <= panel < 360; None without an azimuth or an angle on the panel. [deg]

    Examples
    --------
    >>> from ringrow.equipment.pivot import Pivot
    >>> panel_deg(Pivot(name="P1", x_m=0, y_m=0, spans_m=(50.0,), panel_zero_deg=90), 41.0)
    311.0
    """
    if azimuth_deg is None or pivot.panel_zero_deg is None:
        return None
    return (azimuth_deg - pivot.panel_zero_deg) % 360.0 % 360.0


def _gun_record(table: GunTable, units: UnitSystem) -> dict[str, Any]:
    return {
        "pivot": table.pivot.name,
        "machine": table.pivot.machine or table.pivot.name,
        "field": table.field.name,
        "on": "corner arm" if table.on_arm else "pipe end",
        "setting": table.setting,
        units.key("reach_ft"): units.from_m(table.gun.reach_m),
        units.key("wetted_radius_ft"): units.from_m(table.full_radius_m),
        "wetted_radius_assumed": table.full_radius_assumed,
        units.key("setback_ft"): units.from_m(table.field.setback_m),
        "min_arc_deg": table.field.min_arc_deg,
        "arcs": [
            {
                **_ends(table.pivot, arc.start_deg, arc.stop_deg),
                "sweep_deg": arc.sweep_deg,
                "turn_pct": arc.turn_pct,
                units.key("gained_acres"): units.from_m2(arc.gained_m2),
            }
            for arc in table.arcs
        ],
        "turn_pct": table.turn_pct,
        units.key("gained_acres"): units.from_m2(table.gained_m2),
        units.key("given_up_setback_acres"): _area(table.setback_m2, units),
        units.key("given_up_keep_off_acres"): _area(table.keep_off_m2, units),
        "dropped": [
            {**_ends(table.pivot, arc.start_deg, arc.stop_deg), "sweep_deg": arc.sweep_deg}
            for arc in table.dropped
        ],
        "warnings": [_throw_record(table, throw, units) for throw in table.throws],
        "assumed": list(table.pivot.assumed),
    }


def _area(area_m2: float | None, units: UnitSystem) -> float | None:
    return None if area_m2 is None else units.from_m2(area_m2)


def _ends(pivot: Pivot, start: float | None, stop: float | None) -> dict[str, float | None]:
    return {
        "start_deg": start,
        "stop_deg": stop,
        "start_panel_deg": panel_deg(pivot, start),
        "stop_panel_deg": panel_deg(pivot, stop),
    }


def _throw_record(table: GunTable, throw: GunThrow, units: UnitSystem) -> dict[str, Any]:
    guarded: list[dict[str, float | None]] = []
    if isinstance(throw.guarded, str):
        guarded = [_ends(table.pivot, None, None)]
    else:
        guarded = [_ends(table.pivot, arc.start_deg, arc.stop_deg) for arc in throw.guarded]
    return {
        **_ends(table.pivot, throw.start_deg, throw.stop_deg),
        units.key("outside_acres"): units.from_m2(throw.outside_m2),
        units.key("excluded_acres"): units.from_m2(throw.excluded_m2),
        units.key("keep_off_acres"): units.from_m2(throw.guarded_m2),
        "keep_off": guarded,
    }


def gun_text(
    tables: Sequence[GunTable], units: UnitSystem, *, width: int | None, without: Sequence[str] = ()
) -> str:
    """Return where guns run as tables of text.

    Parameters
    ----------
    tables : sequence of GunTable
        One a gun.
    units : UnitSystem
        The farm's units.
    width : int or None
        Columns of the terminal; None for plain lines with nothing wrapped. [-]
    without : sequence of str, default ()
        Machines that have no gun, to be named.

    Returns
    -------
    str
        One block a gun, then how to read it and what it leaves out; no line break at the end.
    """
    texts = [_gun_block(table, units, width) for table in tables]
    if without:
        texts.append(wrapped("No end gun: " + ", ".join(one_line(name) for name in without) + ".", width))
    if tables:
        reading = (
            "Azimuths are degrees clockwise from true north at the pivot point, arcs run clockwise from "
            "start to stop. Share is of the machine's own turn: its sector, on a part circle."
        )
        left_out = "Not in this table: " + "; ".join(NOT_MODELLED) + "."
        watch = "Watch the gun once round before you trust the angles, above all near roads and wires."
        texts += [wrapped(reading, width), wrapped(f"{left_out} {watch}", width)]
    return "\n\n".join(texts)


def _gun_block(table: GunTable, units: UnitSystem, width: int | None) -> str:
    pivot = table.pivot
    where = "at the end of the corner arm" if table.on_arm else "at the pipe end"
    title = f"{one_line(pivot.name)} ({one_line(table.field.name)}): end gun {where}"
    rows = [
        (
            *_end_words(pivot, arc.start_deg, arc.stop_deg),
            f"{arc.sweep_deg:.1f}",
            f"{arc.turn_pct:.1f} %",
            _acres(arc.gained_m2, units),
        )
        for arc in table.arcs
    ]
    block = TableBlock(
        title=title,
        head=(
            "Start",
            "Stop",
            "Panel start",
            "Panel stop",
            "Degrees",
            "Share of turn",
            f"Gained, {units.area}",
        ),
        rows=rows,
        total=(
            *("Total", "", "", "", f"{sum(arc.sweep_deg for arc in table.arcs):.1f}"),
            f"{table.turn_pct:.1f} %",
            _acres(table.gained_m2, units),
        ),
    )
    lines = [block_text(block, width)] if rows else [wrapped(block.title, width), "It runs nowhere."]
    notes = [wrapped(note, width, indent=2) for note in _notes(table, units)]
    return "\n\n".join([*lines, "\n".join(notes)])


def _acres(area_m2: float, units: UnitSystem) -> str:
    return f"{round(units.from_m2(area_m2), 2) + 0.0:,.2f}"


def _end_words(pivot: Pivot, start: float | None, stop: float | None) -> tuple[str, str, str, str]:
    if start is None or stop is None:
        return ("all round", "", "", "")
    panel = [panel_deg(pivot, end) for end in (start, stop)]
    shown = ["-" if end is None else azimuth_words(end) for end in panel]
    return (azimuth_words(start), azimuth_words(stop), shown[0], shown[1])


def _notes(table: GunTable, units: UnitSystem) -> list[str]:
    assumed = " (assumed: reach / 0.75)" if table.full_radius_assumed else ""
    notes = [
        _SETTINGS[table.setting],
        f"Reach {length_words(table.gun.reach_m, units)} past the pipe end; full wetted radius "
        f"{length_words(table.full_radius_m, units)}{assumed}.",
    ]
    if table.pivot.panel_zero_deg is None:
        notes.append("There is no angle on this panel.")
    if table.setback_m2 is not None and table.keep_off_m2 is not None:
        setback = length_words(table.field.setback_m, units)
        notes.append(
            f"Given up to the setback of {setback}: {_acres(table.setback_m2, units)} {units.area}; "
            f"to what it keeps off: {_acres(table.keep_off_m2, units)} {units.area}"
            + (" (nothing listed)." if table.field.keep_off.is_empty else ".")
        )
    if table.dropped:
        short = ", ".join(_arc_words(arc.start_deg, arc.stop_deg) for arc in table.dropped)
        notes.append(f"Left out, shorter than {table.field.min_arc_deg:g} deg: {short}.")
    return notes + [throw_words(throw, units) for throw in table.throws]


def throw_words(throw: GunThrow, units: UnitSystem) -> str:
    """Return what is wrong with a stated arc, in one line.

    Parameters
    ----------
    throw : GunThrow
        The arc, and where its water falls.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    str
        A warning with acres.

    Examples
    --------
    >>> from ringrow.coverage.gun_table import GunThrow
    >>> from ringrow.units import US
    >>> throw = GunThrow(
    ...     start_deg=20, stop_deg=71, outside_m2=4046.9, excluded_m2=0, guarded=(), guarded_m2=0
    ... )
    >>> throw_words(throw, US)
    'WARNING: on 20.0 to 71.0 it throws 1.00 acres outside the boundary.'
    """
    parts = []
    if units.from_m2(throw.outside_m2) >= _SHOWN:
        parts.append(f"throws {_acres(throw.outside_m2, units)} {units.area} outside the boundary")
    if units.from_m2(throw.excluded_m2) >= _SHOWN:
        parts.append(f"throws {_acres(throw.excluded_m2, units)} {units.area} on exclusions")
    if throw.guarded:
        at = _guarded_words(throw.guarded)
        parts.append(
            f"reaches something to keep off at {at} ({_acres(throw.guarded_m2, units)} {units.area} "
            "of its ring)"
        )
    return f"WARNING: on {_arc_words(throw.start_deg, throw.stop_deg)} it {', '.join(parts)}."


def _guarded_words(arcs: GunArcs) -> str:
    if isinstance(arcs, str):
        return "every azimuth"
    return ", ".join(_arc_words(arc.start_deg, arc.stop_deg) for arc in arcs)


def _arc_words(start: float | None, stop: float | None) -> str:
    if start is None or stop is None:
        return "all of its turn"
    return f"{azimuth_words(start)} to {azimuth_words(stop)}"

"""What a row of catch cans says, as JSON values and in words."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ringrow.handoff.number_words import one_line
from ringrow.handoff.plain_table import TableBlock, block_text, wrapped
from ringrow.handoff.water_numbers import depth_of, number_text

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ringrow.coverage.catch_cans import Can, CatchResult
    from ringrow.units import UnitSystem

LEAST_DEPTH_MM = 0.60 * 25.4
"""Mean depth that a test should catch [mm] (Stamper 2016; ISO 11545 15 mm, from memory)."""

LEAST_MOUTH_M = 2.5 * 0.0254
"""Mouth a can should have [m] (Stamper 2016; ISO 11545 60 mm, from memory)."""

_LISTED = 12


def catch_record(result: CatchResult, units: UnitSystem, *, notes: Sequence[str]) -> dict[str, Any]:
    """Return a row of cans as plain values under the keys of the JSON output.

    Parameters
    ----------
    result : CatchResult
        The cans.
    units : UnitSystem
        Units; keys end in them.
    notes : sequence of str
        What to mind, from `catch_notes`.

    Returns
    -------
    dict
        Numbers are not rounded.
    """
    return {
        "cu": "Heermann-Hein" if result.weighted else "Christiansen",
        "cu_pct": result.cu_pct,
        "christiansen_cu_pct": result.plain_cu_pct,
        "low_quarter_du_pct": result.du_pct,
        units.key("mean_in"): depth_of(result.mean_mm, units),
        "cans": len(result.cans),
        units.key("spacing_ft"): None if result.spacing_m is None else units.from_m(result.spacing_m),
        "left_out": [{"can": name, "why": why} for name, why in result.left_out],
        "off": [_can_record(can, units) for can in result.off],
        "dry": [_can_record(can, units) for can in result.dry],
        "notes": list(notes),
    }


def _can_record(can: Can, units: UnitSystem) -> dict[str, Any]:
    return {
        "can": can.name,
        units.key("distance_ft"): None if can.distance_m is None else units.from_m(can.distance_m),
        units.key("depth_in"): depth_of(can.depth_mm, units),
    }


def catch_notes(result: CatchResult, units: UnitSystem, *, mouth_m: float | None = None) -> list[str]:
    """Return what to mind about a test with cans.

    Parameters
    ----------
    result : CatchResult
        The cans.
    units : UnitSystem
        Units of what is said.
    mouth_m : float or None, default None
        Inside diameter of the cans' mouth, when stated. [m]

    Returns
    -------
    list of str
        One sentence each.
    """
    us = units.name == "us"
    notes = []
    if result.mean_mm < LEAST_DEPTH_MM:
        mean, least = (
            number_text(depth_of(d, units), 2 if us else 1) for d in (result.mean_mm, LEAST_DEPTH_MM)
        )
        notes.append(
            f"The mean depth, {mean} {units.small}, is under the {least} {units.small} a test asks for."
        )
    if mouth_m is not None and mouth_m < LEAST_MOUTH_M:
        notes.append(f"The mouth is under the {_size(LEAST_MOUTH_M, units)} a test asks for.")
    if result.uneven:
        notes.append(
            "The cans stand at uneven distances; Heermann and Hein's coefficient takes them as even."
        )
    apart = "10 ft apart under low pressure, 15 ft under high" if us else "3 m apart, 5 m under high pressure"
    wind = "11 mph" if us else "5 m/s"
    low = "5 ft" if us else "1.5 m"
    notes.append(
        f"A test asks for cans {apart}, a mouth of {_size(LEAST_MOUTH_M, units)}, wind under {wind}."
    )
    notes.append(
        f"The standard for this test (ANSI/ASAE S436.1) leaves out outlets lower than {low} and sprinklers "
        "whose water does not overlap: there the coefficient is outside its scope."
    )
    return notes


def _size(metres: float, units: UnitSystem) -> str:
    return f"{number_text(units.from_m_small(metres), 1 if units.name == 'us' else 0)} {units.small}"


def catch_text(
    title: str, result: CatchResult, units: UnitSystem, *, notes: Sequence[str], width: int | None
) -> str:
    """Return a row of cans in a short table and sentences.

    Parameters
    ----------
    title : str
        Line over the table.
    result : CatchResult
        The cans.
    units : UnitSystem
        Units of what is said.
    notes : sequence of str
        What to mind, from `catch_notes`.
    width : int or None
        Columns of the terminal; None for nothing wrapped. [-]

    Returns
    -------
    str
        The text; no line break at the end.
    """
    named = (
        "Uniformity CU, Heermann and Hein (by distance), %"
        if result.weighted
        else "Uniformity CU, Christiansen (all cans alike), %"
    )
    rows = [
        (named, number_text(result.cu_pct, 1)),
        ("Low-quarter DU, %", number_text(result.du_pct, 1)),
        (f"Mean depth, {units.small}", number_text(depth_of(result.mean_mm, units), 2)),
        ("Cans counted", str(len(result.cans))),
        ("Cans left out", str(len(result.left_out))),
    ]
    if result.weighted:
        rows.insert(1, ("The same cans by Christiansen, %", number_text(result.plain_cu_pct, 1)))
    texts = [block_text(TableBlock(title=title, head=("", "Number"), rows=rows), width)]
    lines = [*_left_out_lines(result), *_can_lines(result, units), *notes]
    texts.append("\n".join(wrapped(f"- {line}", width, indent=2) for line in lines))
    return "\n\n".join(texts)


def _left_out_lines(result: CatchResult) -> list[str]:
    reasons = dict.fromkeys(why for _, why in result.left_out)
    return [
        f"Left out, {why}: {_listed([one_line(name) for name, w in result.left_out if w == why])}."
        for why in reasons
    ]


def _can_lines(result: CatchResult, units: UnitSystem) -> list[str]:
    lines = []
    if result.off:
        off = _listed([_can_words(can, units) for can in result.off])
        lines.append(f"More than 20 % from the mean (one evaluation service says to fix these): {off}.")
    lines += [
        f"{_can_words(can, units)} caught nothing and its neighbours are low: look for one stuck or "
        "plugged outlet there."
        for can in result.dry
    ]
    return lines


def _can_words(can: Can, units: UnitSystem) -> str:
    if can.distance_m is None:
        return one_line(can.name)
    return f"{one_line(can.name)} at {number_text(units.from_m(can.distance_m), 0)} {units.length}"


def _listed(names: Sequence[str]) -> str:
    rest = len(names) - _LISTED
    return ", ".join(names[:_LISTED]) + (f" and {rest} more" if rest > 0 else "")

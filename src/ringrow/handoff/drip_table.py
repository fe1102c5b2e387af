"""What drip blocks hold, zone by zone, and how the counts close: JSON values and tables."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ringrow.handoff.number_words import one_line, small_words
from ringrow.handoff.plain_table import TableBlock, block_text, wrapped

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ringrow.coverage.drip_totals import DripTotals, ZoneTotals
    from ringrow.units import UnitSystem

_NONE_M = 0.0005


def drip_record(farm: str, totals: Sequence[DripTotals], units: UnitSystem) -> dict[str, Any]:
    """Return what blocks hold as plain values under the keys of the JSON output.

    Parameters
    ----------
    farm : str
        The farm's name.
    totals : sequence of DripTotals
        One a block.
    units : UnitSystem
        The farm's units; keys end in them.

    Returns
    -------
    dict
        ``farm`` and ``blocks``. Numbers are not rounded. ``numbers`` times ``spacing_in`` and both edges
        add up to ``width_ft``; ``strip_acres`` is tape times spacing.
    """
    return {"farm": farm, "blocks": [_block_record(each, units) for each in totals]}


def _block_record(totals: DripTotals, units: UnitSystem) -> dict[str, Any]:
    block = totals.block
    return {
        "name": block.name,
        "field": totals.field_name,
        "curved": block.guide_m is not None,
        "numbers": totals.numbers,
        units.key("spacing_in"): units.from_m_small(block.spacing_m),
        **_row_record(totals.whole, units),
        units.key("width_ft"): units.from_m(totals.width_m),
        units.key("near_edge_in"): units.from_m_small(totals.near_edge_m),
        units.key("far_edge_in"): units.from_m_small(totals.far_edge_m),
        units.key("ground_acres"): units.from_m2(totals.ground_m2),
        units.key("bare_acres"): units.from_m2(totals.bare_m2),
        "zones": [
            {
                "name": zone.name,
                "valve": zone.valve or None,
                "first": zone.first,
                "last": zone.last,
                **_row_record(zone, units),
            }
            for zone in totals.zones
        ],
        "assumed": list(block.assumed),
    }


def _row_record(row: ZoneTotals, units: UnitSystem) -> dict[str, Any]:
    return {
        "laterals": row.tape.laterals,
        "pieces": row.tape.pieces,
        units.key("lateral_ft"): units.from_m(row.tape.length_m),
        "emitters": row.tape.emitters,
        units.key("acres"): units.from_m2(row.wetted_m2),
        units.key("strip_acres"): units.from_m2(row.strips_m2),
    }


def drip_text(totals: Sequence[DripTotals], units: UnitSystem, *, width: int | None) -> str:
    """Return what blocks hold as tables of text.

    Parameters
    ----------
    totals : sequence of DripTotals
        One a block.
    units : UnitSystem
        The farm's units.
    width : int or None
        Columns of the terminal; None for plain lines with nothing wrapped. [-]

    Returns
    -------
    str
        One table a block with its counts below; no line break at the end.
    """
    return "\n\n".join(_block_text(each, units, width) for each in totals) or "No drip blocks."


def _block_text(totals: DripTotals, units: UnitSystem, width: int | None) -> str:
    block = totals.block
    shape = "along a curve" if block.guide_m is not None else "straight"
    spacing = small_words(block.spacing_m, units)
    title = f"{one_line(block.name)} ({one_line(totals.field_name)}): laterals {shape}, {spacing} apart"
    table = TableBlock(
        title=title,
        head=("Zone", "Valve", "Numbers", "Laterals", "Pieces", f"Tape, {units.length}", "Emitters",
              units.area.capitalize()),
        rows=[_row(zone, units) for zone in totals.zones],
        total=_row(totals.whole, units),
        words=3,
    )  # fmt: skip
    if not totals.zones:
        table = TableBlock(title=table.title, head=table.head, rows=[_row(totals.whole, units)], words=3)
    lines = [block_text(table, width), *(wrapped(line, width) for line in closing_lines(totals, units))]
    if block.assumed:
        lines.append(wrapped(f"Assumed: {one_line('; '.join(block.assumed))}.", width, indent=2))
    head, *rest = lines
    return head + "\n\n" + "\n".join(rest)


def _row(row: ZoneTotals, units: UnitSystem) -> tuple[str, ...]:
    numbers = "" if row.first is None else f"{row.first}-{row.last}"
    return (
        one_line(row.name),
        one_line(row.valve),
        numbers,
        f"{row.tape.laterals:,}",
        f"{row.tape.pieces:,}",
        f"{units.from_m(row.tape.length_m):,.0f}",
        "" if row.tape.emitters is None else f"{row.tape.emitters:,}",
        f"{units.from_m2(row.wetted_m2):,.2f}",
    )


def closing_lines(totals: DripTotals, units: UnitSystem) -> list[str]:
    """Return how a block's counts close: laterals to its width, tape to its acres.

    Parameters
    ----------
    totals : DripTotals
        The block.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    list of str
        A sentence on the width, one on the area and one on bare ground; none without laterals.
    """
    if not totals.numbers:
        return []
    spacing_m, whole = totals.block.spacing_m, totals.whole
    spacing = small_words(spacing_m, units)
    covered = totals.numbers * spacing_m
    width = (
        f"Width: {totals.numbers:,} numbers x {spacing} = {_length(covered, units)}; the block is "
        f"{_length(totals.width_m, units)} wide"
    )
    edges = [
        _edge_words(totals.near_edge_m, "numbering edge", units),
        _edge_words(totals.far_edge_m, "opposite edge", units),
    ]
    area = (
        f"Area: {units.from_m(whole.tape.length_m):,.0f} {units.length} of tape x {spacing} = "
        f"{_area(whole.strips_m2, units)} of strips, half a spacing each side; "
        f"{_area(max(whole.cut_m2, 0.0), units)} of that falls past the edges of the ground, "
        f"{_area(whole.wetted_m2, units)} wet it"
    )
    bare = (
        f"The block's ground is {_area(totals.ground_m2, units)}; headlands, edges and slanting ends leave "
        f"{_area(max(totals.bare_m2, 0.0), units)} of it bare"
    )
    return [f"{width}: {'; '.join(edges)}.", f"{area}.", f"{bare}."]


def _edge_words(edge_m: float, edge: str, units: UnitSystem) -> str:
    if abs(edge_m) < _NONE_M:
        return f"the last half strip ends at the {edge}"
    if edge_m > 0:
        return f"{small_words(edge_m, units)} bare at the {edge}"
    return f"{small_words(-edge_m, units)} of the outer half strip lie past the {edge}"


def _length(metres: float, units: UnitSystem) -> str:
    return f"{units.from_m(metres):,.1f} {units.length}"


def _area(area_m2: float, units: UnitSystem) -> str:
    return f"{units.from_m2(area_m2):,.2f} {units.area}"

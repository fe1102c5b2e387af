"""The table of a round to fill in, as a file that a spreadsheet opens without running anything in it."""

from __future__ import annotations

import csv
from typing import TYPE_CHECKING

from ringrow.farm.readers.own import safe_cell
from ringrow.handoff.files import open_whole
from ringrow.handoff.languages import N_, _
from ringrow.handoff.round_words import item_caution, item_words

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from ringrow.farm.round_sheet import SheetRow

SHEET_HEADINGS: dict[str, str] = {
    "system": N_("System"),
    "item": N_("Item"),
    "words": N_("What to do"),
    "part": N_("Tower or zone"),
    "answer": N_("Answer"),
    "unit": N_("Unit"),
    "state": N_("Walking or idle"),
    "except": N_("Except"),
    "why": N_("Why"),
    "next": N_("Next step"),
    "whose": N_("Whose"),
    "needed_by": N_("Needed by"),
    "who": N_("Who"),
    "when": N_("When"),
    "note": N_("Note"),
}
"""Headings of the table to fill in; the reader of it knows them in every language."""


def write_sheet(rows: Sequence[SheetRow], path: Path) -> int:
    """Write a blank table of the round, whole or not at all.

    UTF-8 with a byte order mark, commas, every text in quotes, CR LF. A text that a spreadsheet
    could take for a formula has an apostrophe before the sign.

    Parameters
    ----------
    rows : sequence of SheetRow
        Its rows.
    path : Path
        File to write; one that is there is replaced.

    Returns
    -------
    int
        How many rows.

    Raises
    ------
    FileError
        If the file cannot be written.
    """
    with open_whole(path) as stream:
        stream.write("\ufeff")
        writer = csv.writer(stream, quoting=csv.QUOTE_ALL, lineterminator="\r\n")
        writer.writerow([_(heading) for heading in SHEET_HEADINGS.values()])
        for row in rows:
            cells = _sheet_cells(row)
            writer.writerow([safe_cell(cells.get(role, "")) for role in SHEET_HEADINGS])
    return len(rows)


def _sheet_cells(row: SheetRow) -> dict[str, str]:
    if row.item:
        words, caution = item_words(row.item, row.own_words), item_caution(row.item)
    else:
        words, caution = _("Answer here only if nothing at all was seen: nothing seen"), ""
    return {
        "system": row.system.name,
        "item": row.item,
        "words": f"{words}. {caution}" if caution else words,
        "part": row.parts,
        "unit": row.unit,
    }

"""Tables of plain text: names on the left, numbers on the right, nothing cut off."""

from __future__ import annotations

from dataclasses import dataclass
from io import StringIO
from typing import TYPE_CHECKING

from rich.box import Box
from rich.console import Console
from rich.table import Table
from rich.text import Text

if TYPE_CHECKING:
    from collections.abc import Sequence

# One rule under the head, one over the total; plain hyphens print everywhere.
_RULES = Box("    \n    \n -- \n    \n -- \n -- \n    \n    \n", ascii=True)
_UNBOUNDED = 100_000
_NARROWEST = 72


@dataclass(frozen=True, slots=True, kw_only=True)
class TableBlock:
    """A table with its title.

    Parameters
    ----------
    title : str
        Line over the table.
    head : tuple of str
        Names of the columns.
    rows : sequence of tuple of str
        Cells of each row.
    total : tuple of str or None, default None
        Cells of the row of totals.
    words : int, default 1
        How many columns, from the left, hold words rather than numbers. [-]
    """

    title: str
    head: tuple[str, ...]
    rows: Sequence[tuple[str, ...]]
    total: tuple[str, ...] | None = None
    words: int = 1


def block_text(block: TableBlock, width: int | None) -> str:
    """Return a table with its title as lines of text.

    Parameters
    ----------
    block : TableBlock
        The table.
    width : int or None
        Columns of the terminal; names are wrapped, and below 72 the table stays as wide as that.
        None for plain lines with nothing wrapped. [-]

    Returns
    -------
    str
        The lines, no line break at the end.

    Examples
    --------
    >>> print(block_text(TableBlock(title="Acres", head=("Field", "Dry"), rows=[("North", "1.50")]), None))
    Acres
    <BLANKLINE>
    Field    Dry
    ------------
    North   1.50
    """
    table = Table(
        box=_RULES, show_edge=False, pad_edge=False, padding=(0, 1), show_footer=block.total is not None
    )
    for at, name in enumerate(block.head):
        table.add_column(
            name,
            footer=block.total[at] if block.total else "",
            justify="left" if at < block.words else "right",
            overflow="fold",
            # Names may be wrapped; a number in two lines is no number.
            no_wrap=width is None or at >= block.words,
        )
    for row in block.rows:
        # Text, not markup: a name such as "[red]" is words, not a colour.
        table.add_row(*(Text(cell) for cell in row))
    return f"{wrapped(block.title, width)}\n\n{_printed(table, width)}"


def wrapped(text: str, width: int | None, *, indent: int = 0) -> str:
    """Return a paragraph in lines of a width.

    Parameters
    ----------
    text : str
        The paragraph.
    width : int or None
        Columns; None leaves it as it is. [-]
    indent : int, default 0
        Blanks before every line but the first. [-]

    Returns
    -------
    str
        The lines.

    Examples
    --------
    >>> print(wrapped("one two three", 9, indent=2))
    one two
      three
    """
    if width is None:
        return text
    lines = Text(text).wrap(Console(file=StringIO(), width=width), width - indent, overflow="fold")
    return "\n".join((" " * indent if n else "") + line.plain.rstrip() for n, line in enumerate(lines))


def _printed(table: Table, width: int | None) -> str:
    out = StringIO()
    console = Console(
        file=out,
        width=_UNBOUNDED if width is None else max(width, _NARROWEST),
        color_system=None,
        force_terminal=False,
    )
    console.print(table)
    return "\n".join(line.rstrip() for line in out.getvalue().rstrip("\n").splitlines())

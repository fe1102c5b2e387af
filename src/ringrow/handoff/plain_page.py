"""A plain page to read and print: one HTML file, no script, nothing fetched."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

from ringrow.handoff.languages import spoken_language
from ringrow.handoff.number_words import one_line

if TYPE_CHECKING:
    from collections.abc import Sequence

_STYLE = """
:root { color-scheme: light; }
* { box-sizing: border-box; }
body { margin: 0 auto; padding: 16px; max-width: 68rem; background: #fff; color: #1b1b1b;
  font: 16px/1.45 "Liberation Sans", Arial, sans-serif; overflow-wrap: anywhere; }
h1 { font-size: 1.5rem; line-height: 1.2; margin: 0 0 4px; }
h2 { break-after: avoid; font-size: 1.15rem; margin: 28px 0 8px; padding-bottom: 3px;
  border-bottom: 2px solid #1b1b1b; }
h3 { font-size: 1rem; margin: 0; }
p { margin: 6px 0; }
ul { margin: 4px 0 4px; padding-left: 20px; }
li { margin: 3px 0; }
.quiet { color: #4a4a4a; font-size: .9rem; }
.scroll { overflow-x: auto; }
table { border-collapse: collapse; width: 100%; font-size: .95rem; }
th, td { text-align: left; vertical-align: top; padding: 6px 10px 6px 0; border-bottom: 1px solid #9a9a9a;
  overflow-wrap: normal; }
th { border-bottom: 2px solid #1b1b1b; }
td.number, th.number { text-align: right; white-space: nowrap; font-variant-numeric: tabular-nums; }
tr.total td { border-top: 2px solid #1b1b1b; border-bottom: 0; font-weight: bold; }
.tally { display: flex; flex-wrap: wrap; gap: 10px; margin: 14px 0; padding: 0; list-style: none; }
.tally li { margin: 0; padding: 8px 14px; border: 2px solid #1b1b1b; min-width: 8.5rem; }
.tally b { display: block; font-size: 1.6rem; line-height: 1.1; }
.card { margin: 10px 0; padding: 10px 14px; border: 1px solid #6a6a6a; border-left-width: 8px;
  break-inside: avoid; }
.card.ready { border-left-style: solid; }
.card.waiting { border-left-color: #1b1b1b; background: #f4f1ea; }
.card.unwalked { border-left-style: double; border-left-color: #6a6a6a; }
.head { display: flex; flex-wrap: wrap; gap: 2px 12px; align-items: baseline; }
.state { font-weight: bold; }
.box { border: 2px solid #1b1b1b; padding: 8px 14px; margin: 18px 0; break-inside: avoid; }
@media (max-width: 40rem) { body { padding: 12px; } .tally li { flex: 1 1 8.5rem; } }
@page { margin: 12mm; }
@media print { html { font-size: 11px; } body { padding: 0; font-size: 11px; max-width: none; }
  h2 { margin-top: 14px; }
  .card.waiting { background: #fff; } .scroll { overflow: visible; } }
"""


def plain_page(title: str, body: Sequence[str]) -> str:
    """Return a whole HTML page in the spoken language.

    Parameters
    ----------
    title : str
        Title of the page, any text.
    body : sequence of str
        HTML of its parts; text in it that people wrote is escaped already, see `safe`.

    Returns
    -------
    str
        The file; its policy forbids scripts, frames and requests.
    """
    policy = "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'"
    return "\n".join(
        [
            "<!doctype html>",
            f'<html lang="{spoken_language()}">',
            "<head>",
            '<meta charset="utf-8">',
            f'<meta http-equiv="Content-Security-Policy" content="{policy}">',
            '<meta name="viewport" content="width=device-width, initial-scale=1">',
            f"<title>{safe(title)}</title>",
            f"<style>{_STYLE}</style>",
            "</head>",
            "<body>",
            "<main>",
            *body,
            "</main>",
            "</body>",
            "</html>",
            "",
        ]
    )


def safe(text: str) -> str:
    """Return text as data for a page: on one line, no mark of it read as a tag.

    Parameters
    ----------
    text : str
        Any text.

    Returns
    -------
    str
        Escaped text.

    Examples
    --------
    >>> safe('<b title="x">5 & 6</b>')
    '&lt;b title=&quot;x&quot;&gt;5 &amp; 6&lt;/b&gt;'
    """
    return escape(one_line(text))


def bullets(lines: Sequence[str]) -> str:
    """Return a list of lines.

    Parameters
    ----------
    lines : sequence of str
        Any texts.

    Returns
    -------
    str
        HTML; empty for none.
    """
    return f"<ul>{''.join(f'<li>{safe(line)}</li>' for line in lines)}</ul>" if lines else ""


def table(
    head: Sequence[str],
    rows: Sequence[Sequence[str]],
    *,
    words: int = 1,
    total: Sequence[str] | None = None,
    label: str = "",
) -> str:
    """Return a table that scrolls sideways by itself on a narrow screen.

    Parameters
    ----------
    head : sequence of str
        Names of the columns.
    rows : sequence of sequence of str
        Cells of each row, any texts.
    words : int, default 1
        How many columns, from the left, hold words rather than numbers. [-]
    total : sequence of str or None, default None
        Cells of the row of totals.
    label : str, default ""
        What the table holds, for those who hear it read.

    Returns
    -------
    str
        HTML.
    """

    def cell(tag: str, at: int, text: str) -> str:
        scope = ' scope="col"' if tag == "th" else ""
        kind = "" if at < words else ' class="number"'
        return f"<{tag}{scope}{kind}>{safe(text)}</{tag}>"

    def line(cells: Sequence[str], tag: str = "td") -> str:
        return "".join(cell(tag, at, text) for at, text in enumerate(cells))

    ends = f'<tr class="total">{line(total)}</tr>' if total else ""
    inner = "".join(f"<tr>{line(row)}</tr>" for row in rows)
    named = f' role="region" tabindex="0" aria-label="{safe(label)}"' if label else ""
    return (
        f'<div class="scroll"{named}><table><thead><tr>{line(head, "th")}</tr></thead>'
        f"<tbody>{inner}{ends}</tbody></table></div>"
    )

"""The report as one HTML file: charts beside tables, no request, printable."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

from ringrow.handoff.languages import _, spoken_language
from ringrow.handoff.report.picture import picture_svg
from ringrow.handoff.report.sections import report_lead, report_title, sections

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ringrow.handoff.report.numbers import Report
    from ringrow.handoff.report.picture import Picture
    from ringrow.handoff.report.sections import Section

_POLICY = "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'"
_STYLE = """
:root { color-scheme: light; }
* { box-sizing: border-box; }
body { margin: 0 auto; padding: 1rem; max-width: 76rem; color: #1a1a1a; background: #fff;
  font: 1rem/1.45 Helvetica, Arial, sans-serif; overflow-wrap: anywhere; }
h1 { font-size: 1.5rem; margin: 0 0 .3rem; }
h2 { font-size: 1.2rem; margin: 0 0 .5rem; }
p { margin: .3rem 0; max-width: 46rem; }
section { border-top: 2px solid #1a1a1a; padding: 1rem 0 1.4rem; }
.beside { display: grid; grid-template-columns: minmax(0, 1fr); gap: 1rem; }
figure { margin: 0 0 .8rem; }
figcaption { font-weight: bold; margin-bottom: .3rem; }
figure svg { width: 100%; max-width: 34rem; height: auto; display: block; }
.scroll { overflow-x: auto; }
.scroll:focus-visible { outline: 3px solid #1a1a1a; outline-offset: 2px; }
table { border-collapse: collapse; font-size: .9rem; }
caption { text-align: left; padding-bottom: .3rem; color: #4a4a4a; }
th, td { padding: .2rem .5rem; border-bottom: 1px solid #b5b5b5; text-align: left; vertical-align: top;
  overflow-wrap: normal; }
.number { text-align: right; white-space: nowrap; }
th.number { white-space: normal; vertical-align: bottom; }
.name { min-width: 7rem; }
.short { white-space: nowrap; }
.note { color: #4a4a4a; font-size: .9rem; }
@media (min-width: 62rem) {
  .beside { grid-template-columns: minmax(0, 1fr) minmax(0, 1fr); gap: 2rem; align-items: start; }
  .beside.wide { grid-template-columns: minmax(0, 1fr); }
}
@media print {
  body { max-width: none; padding: 0; font-size: 10pt; }
  section { break-inside: avoid; }
  .scroll { overflow: visible; }
}
"""


def report_page(report: Report) -> str:
    """Return the report as one HTML file.

    Parameters
    ----------
    report : Report
        The numbers.

    Returns
    -------
    str
        The file's text, in the spoken language; the same for the same numbers.
    """
    title = escape(report_title(report))
    made = sections(report)
    parts = [_section(each, number) for number, each in enumerate(made, 1)]
    nothing = "" if made else f"<p>{escape(_('Nothing was flagged yet.'))}</p>"
    lead = " ".join(report_lead(report))
    return (
        f'<!DOCTYPE html>\n<html lang="{spoken_language()}">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{_POLICY}">\n'
        f"<title>{title}</title>\n<style>{_STYLE}</style>\n</head>\n<body>\n"
        f"<header><h1>{title}</h1>\n<p>{escape(lead)}</p></header>\n<main>\n"
        + "\n".join(parts)
        + f"{nothing}</main>\n</body>\n</html>\n"
    )


def _section(section: Section, number: int) -> str:
    figures = "\n".join(
        f"<figure>{_caption(picture, section)}{picture_svg(picture, name=f'chart-{number}-{at}')}</figure>"
        for at, picture in enumerate(section.pictures, 1)
    )
    notes = "\n".join(f'<p class="note">{escape(note)}</p>' for note in section.notes)
    heading = f"part-{number}"
    wide = " wide" if section.words > 2 or len(section.head) > 8 else ""
    return (
        f'<section aria-labelledby="{heading}"><h2 id="{heading}">{escape(section.title)}</h2>\n'
        f'<div class="beside{wide}"><div>{figures}{notes}</div>\n{_table(section, heading)}</div></section>'
    )


def _caption(picture: Picture, section: Section) -> str:
    """Return the line over a chart; none where it would only repeat the section's."""
    return "" if picture.title == section.title else f"<figcaption>{escape(picture.title)}</figcaption>"


def _table(section: Section, heading: str) -> str:
    head = "".join(_cell("th", text, at, section.words, scope="col") for at, text in enumerate(section.head))
    rows = "\n".join(f"<tr>{_row(cells, section.words)}</tr>" for cells in section.rows)
    # A table wider than a phone scrolls by itself, and can be reached by keyboard.
    return (
        f'<div class="scroll" tabindex="0" role="region" aria-labelledby="{heading}"><table>\n'
        f"<caption>{escape(_('The numbers'))}</caption>\n<thead><tr>{head}</tr></thead>\n"
        f"<tbody>\n{rows}\n</tbody></table></div>"
    )


def _row(cells: Sequence[str], words: int) -> str:
    first = _cell("th", cells[0], 0, words, scope="row")
    return first + "".join(_cell("td", text, at, words) for at, text in enumerate(cells[1:], 1))


def _cell(tag: str, text: str, at: int, words: int, *, scope: str = "") -> str:
    kind = "number" if at >= words else "name" if len(text) > 12 else "short"
    named = f' class="{kind}"' if kind else ""
    scoped = f' scope="{scope}"' if scope else ""
    return f"<{tag}{named}{scoped}>{escape(text)}</{tag}>"

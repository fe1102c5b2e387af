"""The report as PDF: the same charts and tables on pages."""

from __future__ import annotations

from io import BytesIO
from typing import TYPE_CHECKING, Any, Literal

from reportlab.lib.colors import HexColor, white
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.platypus import BaseDocTemplate, Flowable, Frame, KeepTogether, PageTemplate, Spacer, Table

from ringrow.handoff.languages import _
from ringrow.handoff.report.picture import GREY, INK, Box, Label, Line, hatch_lines
from ringrow.handoff.report.sections import report_lead, report_title, sections
from ringrow.handoff.sheets.type import BOLD, REGULAR, marked, printable, words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from reportlab.pdfgen.canvas import Canvas

    from ringrow.handoff.report.numbers import Report
    from ringrow.handoff.report.picture import Picture
    from ringrow.handoff.report.sections import Section

_SIZES = {"letter": LETTER, "a4": A4}
_EDGE = 40.0
_CHART_WIDTH = 380.0


def report_pdf(report: Report, *, paper: Literal["letter", "a4"] = "letter") -> bytes:
    """Return the report as a PDF.

    Parameters
    ----------
    report : Report
        The numbers.
    paper : {"letter", "a4"}, default "letter"
        Size of its pages.

    Returns
    -------
    bytes
        The file, in the spoken language; the same for the same numbers.
    """
    width, height = _SIZES[paper]
    title = report_title(report)
    inner = width - 2 * _EDGE
    story: list[Any] = [words(f"<b>{marked(title)}</b>", size=15)]
    story += [Spacer(0, 4), words(marked(" ".join(report_lead(report))), size=9), Spacer(0, 6)]
    made = sections(report)
    for section in made:
        story += _section(section, inner)
    if not made:
        story.append(words(marked(_("Nothing was flagged yet.")), size=10))
    out = BytesIO()
    document = BaseDocTemplate(out, pagesize=(width, height), title=printable(title), invariant=1)
    frame = Frame(_EDGE, _EDGE, inner, height - 2 * _EDGE, leftPadding=0, rightPadding=0)
    foot = printable(title)

    def numbered(canvas: Canvas, _document: Any) -> None:
        canvas.setFont(REGULAR, 7)
        canvas.drawString(_EDGE, _EDGE - 14, foot)
        canvas.drawRightString(width - _EDGE, _EDGE - 14, str(canvas.getPageNumber()))

    document.addPageTemplates([PageTemplate(id="page", frames=[frame], onPage=numbered)])
    document.build(story)
    return out.getvalue()


def _section(section: Section, width: float) -> list[Any]:
    head: list[Any] = [Spacer(0, 8), words(f"<b>{marked(section.title)}</b>", size=12)]
    figures = [
        part
        for picture in section.pictures
        for part in (
            Spacer(0, 2)
            if picture.title == section.title
            else words(f"<b>{marked(picture.title)}</b>", size=8, before=4),
            _Drawing(picture),
        )
    ]
    notes = [words(marked(note), size=7, before=2) for note in section.notes]
    return [KeepTogether([*head, *figures[:2]]), *figures[2:], *notes, Spacer(0, 4), _table(section, width)]


def _table(section: Section, width: float) -> Table:
    size = 6 if len(section.head) > 8 else 7

    def cells(row: Sequence[str], *, bold: bool) -> list[Any]:
        named = [words(f"<b>{marked(text)}</b>" if bold else marked(text), size=size) for text in row]
        return [*named[: section.words], *(printable(text) for text in row[section.words :])]

    rows = [
        cells(section.head, bold=True),
        *(cells(row, bold=False) for row in section.rows),
    ]
    return Table(
        rows,
        colWidths=_widths(section, width),
        repeatRows=1,
        hAlign="LEFT",
        style=[
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
            ("ALIGN", (section.words, 0), (-1, -1), "RIGHT"),
            ("FONT", (0, 0), (-1, -1), REGULAR, size, size * 1.25),
            ("FONT", (0, 0), (-1, 0), BOLD, size, size * 1.25),
            ("LINEBELOW", (0, 0), (-1, -1), 0.4, HexColor(GREY)),
            ("LINEBELOW", (0, 0), (-1, 0), 0.8, HexColor(INK)),
            ("LEFTPADDING", (0, 0), (-1, -1), 2),
            ("RIGHTPADDING", (0, 0), (-1, -1), 3),
            ("TOPPADDING", (0, 0), (-1, -1), 1.5),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 1.5),
        ],
    )


def _widths(section: Section, width: float) -> list[float]:
    """Return widths by the longest text of each column, long ones held back."""
    longest = [
        min(max(len(row[at]) for row in (section.head, *section.rows)), 34) + 3
        for at in range(len(section.head))
    ]
    letter = 4.2 if len(section.head) > 8 else 4.8
    share = min(width / (sum(longest) * letter), 1.0)
    return [letters * letter * share for letters in longest]


class _Drawing(Flowable):  # type: ignore[misc]
    """A picture as a part of the page."""

    def __init__(self, picture: Picture) -> None:
        super().__init__()
        self.picture = picture
        self.scale = _CHART_WIDTH / picture.width
        self.width, self.height = _CHART_WIDTH, picture.height * self.scale

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        """Return its size; a picture too tall for a page is made smaller."""
        self.scale = min(
            self.scale,
            available_width / self.picture.width,
            0.95 * available_height / self.picture.height if available_height > 300 else self.scale,
        )
        self.width, self.height = self.picture.width * self.scale, self.picture.height * self.scale
        return self.width, self.height

    def draw(self) -> None:
        """Draw it with the origin in its upper left corner."""
        canvas = self.canv
        canvas.saveState()
        canvas.translate(0, self.height)
        canvas.scale(self.scale, -self.scale)
        for shape in self.picture.shapes:
            if isinstance(shape, Line):
                _draw_line(canvas, shape)
            elif isinstance(shape, Box):
                _draw_box(canvas, shape)
            else:
                _draw_label(canvas, shape)
        canvas.restoreState()


def _draw_line(canvas: Canvas, line: Line) -> None:
    canvas.setStrokeColor(HexColor(GREY if line.grey else INK))
    canvas.setLineWidth(line.width)
    canvas.setDash(list(line.dashes))
    path = canvas.beginPath()
    path.moveTo(*line.points[0])
    for point in line.points[1:]:
        path.lineTo(*point)
    canvas.drawPath(path)
    canvas.setDash([])


def _draw_box(canvas: Canvas, box: Box) -> None:
    canvas.setStrokeColor(HexColor(INK))
    canvas.setLineWidth(1)
    canvas.setFillColor(HexColor(INK) if box.hatch == "solid" else white)
    canvas.rect(box.x, box.y, box.width, box.height, fill=1)
    for line in hatch_lines(box):
        _draw_line(canvas, line)


def _draw_label(canvas: Canvas, label: Label) -> None:
    canvas.saveState()
    canvas.translate(label.x, label.y)
    # The page stands on its head for the drawing; letters do not.
    canvas.scale(1, -1)
    canvas.setFillColor(white if label.light else HexColor(INK))
    # The font of the PDF runs wider than the page's.
    canvas.setFont(BOLD if label.bold else REGULAR, label.size * 0.88)
    text = printable(label.text)
    if label.anchor == "end":
        canvas.drawRightString(0, 0, text)
    elif label.anchor == "middle":
        canvas.drawCentredString(0, 0, text)
    else:
        canvas.drawString(0, 0, text)
    canvas.restoreState()

"""Fonts and text of the sheets: embedded, with what letters they have, and text as data."""

from __future__ import annotations

import unicodedata
from functools import cache
from html import escape
from pathlib import Path

import reportlab
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.platypus import Paragraph

from ringrow.handoff.number_words import one_line

REGULAR, BOLD = "Vera", "VeraBd"
"""Names of the two fonts, which travel with reportlab under a free licence."""

_LONGEST = 600
_LIKE = {"\u2032": "'", "\u2033": '"', "\u2192": "->", "\u2190": "<-", "\u2010": "-", "\u2011": "-"}


@cache
def _letters() -> frozenset[int]:
    """Load the fonts once; return the letters both of them have."""
    folder = Path(reportlab.__path__[0]) / "fonts"
    fonts = [TTFont(name, str(folder / f"{name}.ttf")) for name in (REGULAR, BOLD)]
    for font in fonts:
        pdfmetrics.registerFont(font)
    pdfmetrics.registerFontFamily(REGULAR, normal=REGULAR, bold=BOLD, italic=REGULAR, boldItalic=BOLD)
    first, second = (frozenset(font.face.charToGlyph) for font in fonts)
    return first & second


def printable(text: str) -> str:
    """Return text on one line, in letters that the sheets' fonts have.

    Parameters
    ----------
    text : str
        Any text; past 600 letters it is cut, and says so with an ellipsis.

    Returns
    -------
    str
        The text; a letter without a glyph loses its accent, or is shown as a question mark.

    Examples
    --------
    >>> printable("Señal 3\u2032"), printable("Dvořák \u4e2d")
    ("Señal 3'", 'Dvorák ?')
    """
    letters = _letters()
    text = one_line(unicodedata.normalize("NFC", text))
    text = text if len(text) <= _LONGEST else f"{text[:_LONGEST]}…"
    return "".join(letter if ord(letter) in letters else _like(letter) for letter in text)


def _like(letter: str) -> str:
    plain = _LIKE.get(letter) or unicodedata.normalize("NFKD", letter)
    kept = "".join(each for each in plain if ord(each) in _letters() and not unicodedata.combining(each))
    return kept or "?"


def fitted(text: str, *, font: str, size: float, room: float) -> str:
    """Return printable text that is no wider than some room, its end cut off where it has to be.

    Parameters
    ----------
    text : str
        Any text.
    font : str
        Name of the font, one of the two.
    size : float
        Size of the letters. [pt]
    room : float
        Room for it. [pt]

    Returns
    -------
    str
        The text; one that was cut ends in an ellipsis.

    Examples
    --------
    >>> fitted("West quarter", font=BOLD, size=10, room=200)
    'West quarter'
    >>> fitted("West quarter", font=BOLD, size=10, room=50)
    'West q…'
    """
    text = printable(text)
    if pdfmetrics.stringWidth(text, font, size) <= room:
        return text
    cuts = (f"{text[:count].rstrip()}…" for count in range(len(text), 0, -1))
    return next((cut for cut in cuts if pdfmetrics.stringWidth(cut, font, size) <= room), "…")


def marked(text: str) -> str:
    """Return text as data for a paragraph: printable, no mark of it read as a command.

    Parameters
    ----------
    text : str
        Any text.

    Returns
    -------
    str
        The text with its angle brackets and ampersands escaped.

    Examples
    --------
    >>> marked("<b>5 & 6</b>")
    '&lt;b&gt;5 &amp; 6&lt;/b&gt;'
    """
    return escape(printable(text), quote=False)


def words(markup: str, *, size: int = 8, before: int = 0, left: int = 0) -> Paragraph:
    """Return a paragraph of marked text.

    Parameters
    ----------
    markup : str
        Text, escaped where it is data; ``<b>`` makes it bold.
    size : int, default 8
        Size of the letters. [pt]
    before, left : int, default 0
        Room above; indent. [pt]

    Returns
    -------
    Paragraph
        Words longer than the line are broken.
    """
    _letters()
    style = ParagraphStyle(
        f"words-{size}-{before}-{left}",
        fontName=REGULAR,
        fontSize=size,
        leading=size * 1.25,
        spaceBefore=before,
        leftIndent=left,
        splitLongWords=1,
        allowWidows=0,
        allowOrphans=0,
    )
    return Paragraph(markup, style)

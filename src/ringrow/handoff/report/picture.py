"""A picture of lines, boxes and words, drawn the same as SVG and on a page of a PDF.

Black on white: areas are told apart by hatching, not by colour, so that a copy from any printer
says the same. Hatching is lines of its own, cut to its box, since a PDF knows no patterns.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal
from xml.etree import ElementTree as ET

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

Hatch = Literal["none", "solid", "slanted"]
Anchor = Literal["start", "middle", "end"]

INK, GREY = "#1a1a1a", "#b5b5b5"
"""Colours of strokes and words; of helping lines."""

_HATCH_PX = 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A stroke through points.

    Parameters
    ----------
    points : tuple of tuple of float
        Places, from the upper left corner. [px]
    width : float, default 1
        Thickness. [px]
    grey : bool, default False
        Whether it only helps the eye.
    dashes : tuple of float, default ()
        Lengths of dash and gap; empty for a whole line. [px]
    """

    points: tuple[tuple[float, float], ...]
    width: float = 1.0
    grey: bool = False
    dashes: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """A box with an outline.

    Parameters
    ----------
    x, y, width, height : float
        Upper left corner and size. [px]
    hatch : {"none", "solid", "slanted"}, default "none"
        How it is filled.
    """

    x: float
    y: float
    width: float
    height: float
    hatch: Hatch = "none"


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """Words on one line.

    Parameters
    ----------
    x, y : float
        Place on the line the letters stand on. [px]
    text : str
        The words.
    size : float, default 13
        Size of the letters. [px]
    anchor : {"start", "middle", "end"}, default "start"
        Which part of the words stands at the place.
    bold : bool, default False
        Whether they are heavy.
    light : bool, default False
        Whether they are white, on a solid box.
    """

    x: float
    y: float
    text: str
    size: float = 13.0
    anchor: Anchor = "start"
    bold: bool = False
    light: bool = False


Shape = Line | Box | Label


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A picture with words for those who do not see it.

    Parameters
    ----------
    title, description : str
        What it shows, in a line; what there is to see in it.
    width, height : float
        Size. [px]
    shapes : tuple of Line, Box or Label
        What is drawn, back to front.
    """

    title: str
    description: str
    width: float
    height: float
    shapes: tuple[Shape, ...]


def hatch_lines(box: Box) -> list[Line]:
    """Return the lines that fill a box.

    Parameters
    ----------
    box : Box
        The box.

    Returns
    -------
    list of Line
        Thin lines inside it; none for a box that is empty or solid.

    Examples
    --------
    >>> len(hatch_lines(Box(x=0, y=0, width=20, height=10, hatch="slanted")))
    5
    >>> hatch_lines(Box(x=0, y=0, width=20, height=10, hatch="solid"))
    []
    """
    return list(_slanted(box)) if box.hatch == "slanted" else []


def _slanted(box: Box) -> Iterator[Line]:
    along = _HATCH_PX
    while along < box.width + box.height:
        start = (max(along - box.height, 0.0), min(along, box.height))
        stop = (min(along, box.width), max(along - box.width, 0.0))
        yield Line(points=tuple((box.x + x, box.y + y) for x, y in (start, stop)), width=0.7)
        along += _HATCH_PX


def picture_svg(picture: Picture, *, name: str) -> str:
    """Return a picture as SVG for a page.

    Parameters
    ----------
    picture : Picture
        The picture.
    name : str
        Id on its page, letters and hyphens.

    Returns
    -------
    str
        One ``<svg>`` element with its title and description.
    """
    root = ET.Element(
        "svg",
        {
            "viewBox": f"0 0 {picture.width:g} {picture.height:g}",
            "role": "img",
            "aria-labelledby": f"{name}-title {name}-text",
            "font-family": "Helvetica, Arial, sans-serif",
            "fill": INK,
        },
    )
    ET.SubElement(root, "title", {"id": f"{name}-title"}).text = _plain(picture.title)
    ET.SubElement(root, "desc", {"id": f"{name}-text"}).text = _plain(picture.description)
    for shape in picture.shapes:
        if isinstance(shape, Label):
            _svg_label(root, shape)
        elif isinstance(shape, Box):
            _svg_box(root, shape)
        else:
            _svg_line(root, shape)
    return ET.tostring(root, encoding="unicode")


def _svg_box(root: ET.Element, box: Box) -> None:
    fill = INK if box.hatch == "solid" else "#ffffff"
    size = {"x": box.x, "y": box.y, "width": box.width, "height": box.height}
    marks = {key: f"{value:.1f}" for key, value in size.items()}
    ET.SubElement(root, "rect", {**marks, "fill": fill, "stroke": INK})
    for line in hatch_lines(box):
        _svg_line(root, line)


def _svg_line(root: ET.Element, line: Line) -> None:
    marks = {
        "points": " ".join(f"{x:.1f},{y:.1f}" for x, y in line.points),
        "fill": "none",
        "stroke": GREY if line.grey else INK,
        "stroke-width": f"{line.width:g}",
    }
    if line.dashes:
        marks["stroke-dasharray"] = " ".join(f"{dash:g}" for dash in line.dashes)
    ET.SubElement(root, "polyline", marks)


def _svg_label(root: ET.Element, label: Label) -> None:
    marks = {
        "x": f"{label.x:.1f}",
        "y": f"{label.y:.1f}",
        "font-size": f"{label.size:g}",
        "text-anchor": label.anchor,
    }
    if label.bold:
        marks["font-weight"] = "bold"
    if label.light:
        marks["fill"] = "#ffffff"
    ET.SubElement(root, "text", marks).text = _plain(label.text)


def _plain(text: str) -> str:
    # Letters that XML does not allow at all (controls) are left out, not escaped.
    return "".join(letter for letter in text if letter.isprintable())


def polyline_steps(points: Sequence[tuple[float, float]]) -> tuple[tuple[float, float], ...]:
    """Return points as a staircase: each height holds until the next place.

    Parameters
    ----------
    points : sequence of tuple of float
        Places, x rising. [px]

    Returns
    -------
    tuple of tuple of float
        Corners of the staircase. [px]

    Examples
    --------
    >>> polyline_steps([(0, 5), (10, 2)])
    ((0, 5), (10, 5), (10, 2))
    """
    corners: list[tuple[float, float]] = []
    for x, y in points:
        if corners:
            corners.append((x, corners[-1][1]))
        corners.append((x, y))
    return tuple(corners)

"""A plain chart as SVG: two labelled axes, a few lines or points, text that can be selected.

Drawn in black and one grey on white, series told apart by dash and mark rather than colour, so
that it reads on paper too.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from textwrap import wrap
from typing import TYPE_CHECKING, Literal
from xml.etree import ElementTree as ET

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

Style = Literal["line", "dashes", "steps", "dots", "rings"]

_WIDTH, _HEIGHT = 720, 420
_LEFT, _RIGHT, _TOP, _BOTTOM = 74, 18, 64, 58
_INK, _GREY = "#1a1a1a", "#c8c8c8"
_NOTE_PX = 16
_POINTS = 600
_DASHES = {"dashes": "7 5"}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Series:
    """One line or row of points.

    Parameters
    ----------
    name : str
        What it is, for the legend; empty for none.
    x, y : array_like, shape (n,)
        The points, in the units of the axes. [as the axes]
    style : {"line", "dashes", "steps", "dots", "rings"}
        How it is drawn.
    """

    name: str
    x: ArrayLike
    y: ArrayLike
    style: Style = "line"


def chart_svg(
    title: str, series: Sequence[Series], *, x_label: str, y_label: str, notes: Sequence[str] = ()
) -> str:
    """Return a chart as one SVG file.

    Parameters
    ----------
    title : str
        Line on top.
    series : sequence of Series
        What is drawn, one or more with at least one point in all.
    x_label, y_label : str
        Names of the axes with their units.
    notes : sequence of str, default ()
        Lines below the chart.

    Returns
    -------
    str
        The file's text; the y axis always starts at 0.

    Examples
    --------
    >>> svg = chart_svg("Pressure", [Series(name="", x=[0, 100], y=[10, 9])], x_label="ft", y_label="psi")
    >>> svg.startswith("<svg"), "polyline" in svg
    (True, True)
    """
    lines = [part for note in notes for part in _folded(note)]
    height = _HEIGHT + (_NOTE_PX * len(lines) + 8 if lines else 0)
    root = ET.Element(
        "svg",
        {
            "xmlns": "http://www.w3.org/2000/svg",
            "viewBox": f"0 0 {_WIDTH} {height}",
            "width": str(_WIDTH),
            "height": str(height),
            "role": "img",
            "font-family": "Helvetica, Arial, sans-serif",
            "font-size": "13",
            "fill": _INK,
        },
    )
    ET.SubElement(root, "title").text = title
    ET.SubElement(root, "rect", {"width": str(_WIDTH), "height": str(height), "fill": "#ffffff"})
    _text(root, _LEFT, 22, title, size=16, weight="bold")
    points = [(np.asarray(row.x, float), np.asarray(row.y, float)) for row in series]
    x_ticks = nice_ticks(min(0.0, *(x.min() for x, _ in points)), max(x.max() for x, _ in points))
    y_ticks = nice_ticks(0.0, max(y.max() for _, y in points))
    plane = _Plane(x_low=x_ticks[0], x_high=x_ticks[-1], y_low=y_ticks[0], y_high=y_ticks[-1])
    _axes(root, plane, x_ticks, y_ticks, x_label=x_label, y_label=y_label)
    for row, (x, y) in zip(series, points, strict=True):
        _draw(root, plane, row.style, x, y)
    _legend(root, [row for row in series if row.name])
    for at, line in enumerate(lines):
        _text(root, _LEFT, _HEIGHT + 6 + _NOTE_PX * at, line, size=12)
    ET.indent(root)
    return ET.tostring(root, encoding="unicode") + "\n"


def nice_ticks(low: float, high: float, *, most: int = 8) -> list[float]:
    """Return round numbers that span a range.

    Parameters
    ----------
    low, high : float
        Ends of the range. [as the axis]
    most : int, default 8
        Most steps, 2 or more. [-]

    Returns
    -------
    list of float
        Rising numbers, steps of 1, 2 or 5 times a power of ten, the ends outside the range or on it.

    Examples
    --------
    >>> nice_ticks(0.0, 9.4)
    [0.0, 2.0, 4.0, 6.0, 8.0, 10.0]
    """
    span = high - low if high > low else 1.0
    power = 10.0 ** math.floor(math.log10(span / most))
    step = next(power * times for times in (1, 2, 5, 10, 20) if power * times * most >= span * (1 - 1e-9))
    first, last = math.floor(low / step + 1e-9), math.ceil(max(high, low + span) / step - 1e-9)
    return [round(number * step, 10) for number in range(first, last + 1)]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Plane:
    """From numbers of the axes to pixels."""

    x_low: float
    x_high: float
    y_low: float
    y_high: float

    def x(self, value: ArrayLike) -> NDArray[np.float64]:
        """Return pixels from the left."""
        share = (np.asarray(value, float) - self.x_low) / (self.x_high - self.x_low)
        return np.asarray(_LEFT + share * (_WIDTH - _LEFT - _RIGHT))

    def y(self, value: ArrayLike) -> NDArray[np.float64]:
        """Return pixels from the top."""
        share = (np.asarray(value, float) - self.y_low) / (self.y_high - self.y_low)
        return np.asarray(_HEIGHT - _BOTTOM - share * (_HEIGHT - _TOP - _BOTTOM))


def _text(
    root: ET.Element,
    x: float,
    y: float,
    words: str,
    *,
    size: int = 13,
    anchor: str = "start",
    weight: str = "",
) -> ET.Element:
    marks = {"x": f"{x:.1f}", "y": f"{y:.1f}", "font-size": str(size), "text-anchor": anchor}
    if weight:
        marks["font-weight"] = weight
    text = ET.SubElement(root, "text", marks)
    # Letters that XML does not allow at all (controls) are left out, not escaped.
    text.text = "".join(letter for letter in words if letter.isprintable())
    return text


def _stroke(root: ET.Element, points: Sequence[tuple[float, float]], **marks: str) -> None:
    drawn = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
    ET.SubElement(root, "polyline", {"points": drawn, "fill": "none", "stroke": _INK, **marks})


def _axes(
    root: ET.Element,
    plane: _Plane,
    x_ticks: Sequence[float],
    y_ticks: Sequence[float],
    *,
    x_label: str,
    y_label: str,
) -> None:
    left, right = float(plane.x(plane.x_low)), float(plane.x(plane.x_high))
    bottom, top = float(plane.y(plane.y_low)), float(plane.y(plane.y_high))
    for value in y_ticks:
        y = float(plane.y(value))
        _stroke(root, [(left, y), (right, y)], stroke=_GREY)
        _text(root, left - 8, y + 4, f"{value:,.10g}", anchor="end")
    for value in x_ticks:
        x = float(plane.x(value))
        _stroke(root, [(x, bottom), (x, bottom + 5)])
        _text(root, x, bottom + 20, f"{value:,.10g}", anchor="middle")
    _stroke(root, [(left, top), (left, bottom), (right, bottom)], **{"stroke-width": "1.5"})
    _text(root, (left + right) / 2, bottom + 42, x_label, anchor="middle")
    turned = _text(root, 0, 0, y_label, anchor="middle")
    turned.set("transform", f"translate(20 {(top + bottom) / 2:.1f}) rotate(-90)")


def _draw(
    root: ET.Element, plane: _Plane, style: Style, x: NDArray[np.float64], y: NDArray[np.float64]
) -> None:
    if style in {"dots", "rings"}:
        for at_x, at_y in zip(plane.x(x), plane.y(y), strict=True):
            _mark(root, float(at_x), float(at_y), style)
        return
    if style == "steps":
        edges = np.concatenate([[x[0]], (x[1:] + x[:-1]) / 2, [x[-1]]])
        x, y = np.repeat(edges, 2)[1:-1], np.repeat(y, 2)
    elif len(x) > _POINTS:
        # A line of thousands of emitters needs no more points than the paper has dots.
        kept = np.unique(np.linspace(0, len(x) - 1, _POINTS).round().astype(int))
        x, y = x[kept], y[kept]
    marks = {"stroke-width": "1.8", "stroke-linejoin": "round"}
    if style in _DASHES:
        marks["stroke-dasharray"] = _DASHES[style]
    _stroke(root, list(zip(plane.x(x).tolist(), plane.y(y).tolist(), strict=True)), **marks)


def _mark(root: ET.Element, x: float, y: float, style: str) -> None:
    fill = _INK if style == "dots" else "#ffffff"
    ET.SubElement(
        root, "circle", {"cx": f"{x:.1f}", "cy": f"{y:.1f}", "r": "3.2", "fill": fill, "stroke": _INK}
    )


def _legend(root: ET.Element, series: Sequence[Series]) -> None:
    x = float(_LEFT)
    for row in series:
        if row.style in {"dots", "rings"}:
            _mark(root, x + 12, 43, row.style)
        else:
            marks = {"stroke-dasharray": _DASHES[row.style]} if row.style in _DASHES else {}
            _stroke(root, [(x, 43), (x + 24, 43)], **{"stroke-width": "1.8", **marks})
        _text(root, x + 30, 47, row.name)
        x += 30 + 7.2 * len(row.name) + 24


def _folded(note: str, *, letters: int = 100) -> list[str]:
    return wrap(note, letters) or [""]

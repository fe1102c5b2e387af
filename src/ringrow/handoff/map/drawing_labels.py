"""Names on drawings: the drawing's own scale, and labels placed where it is free."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from textwrap import wrap
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from ringrow.handoff.assumed_words import said_again
from ringrow.handoff.languages import _
from ringrow.handoff.map.placing import Box, label_box
from ringrow.handoff.map.words import POINT_NAMES
from ringrow.handoff.number_words import unit_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from shapely.geometry.base import BaseGeometry

    from ringrow.frame import Frame


WIDTH = 720.0
"""Width of every drawing; half of that is a phone's screen [px]."""

LABEL_SIZE = 24.0
"""Font size of names; still 12 px on a 360 px phone [px]."""

LARGE_PX2 = 2_500.0
"""Dry pieces of this size on a drawing always have their name [px2]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """The drawing's own scale: a local frame, and drawing units a metre.

    Parameters
    ----------
    frame : Frame
        Local frame about the middle of what is drawn.
    west_m, north_m : float
        The drawing's upper left corner in the frame. [m]
    per_m : float
        Scale. [px/m]
    height : float
        Height of the drawing. [px]
    """

    frame: Frame
    west_m: float
    north_m: float
    per_m: float
    height: float

    def moved(self, shape: BaseGeometry) -> BaseGeometry:
        """Return a shape in longitude and latitude on the drawing, y down, thinned to half a pixel.

        Parameters
        ----------
        shape : shapely geometry
            Longitude and latitude. [deg]

        Returns
        -------
        shapely geometry
            The same on the drawing. [px]
        """
        return shapely.simplify(shapely.transform(shape, self._to_px), 0.4)

    def point(self, lon: float, lat: float) -> tuple[float, float]:
        """Return where a place stands on the drawing.

        Parameters
        ----------
        lon, lat : float
            The place, WGS 84. [deg]

        Returns
        -------
        tuple of float
            From the left and from the top. [px]
        """
        x, y = self._to_px(np.array([[lon, lat]]))[0]
        return float(x), float(y)

    def affine(self) -> str:
        """Return as attributes how degrees become pixels about the middle, true to a pixel over a farm.

        Returns
        -------
        str
            One attribute with the middle, its place, and the steps of a degree east and north.
        """
        lon, lat, step = self.frame.lon, self.frame.lat, 1e-3
        px = self._to_px(np.array([[lon, lat], [lon + step, lat], [lon, lat + step]]))
        numbers = [lon, lat, *px[0], *(px[1] - px[0]) / step, *(px[2] - px[0]) / step]
        return f'data-px="{" ".join(f"{float(number):.10g}" for number in numbers)}"'

    def _to_px(self, lonlat: Any) -> Any:
        x, y = self.frame.to_xy(lonlat[:, 0], lonlat[:, 1])
        return np.column_stack([(x - self.west_m) * self.per_m, (self.north_m - y) * self.per_m])


def beside_svg(
    words: str, at: tuple[float, float], aside: tuple[float, float], taken: list[Box]
) -> list[str]:
    """Return a number beside a line; farther off where flags stand, and always there.

    Parameters
    ----------
    words : str
        The number.
    at, aside : tuple of float
        Its place on the line; the direction square to the line, of length 1. [px]
    taken : list of Box
        Where something stands already; takes up the label's own box. [px]

    Returns
    -------
    list of str
        SVG.
    """
    places = [(at[0] + step * aside[0], at[1] + step * aside[1]) for step in (20, -20, 46, -46)]
    boxes = [label_box([words], place, size=LABEL_SIZE * 0.85) for place in places]
    free = [index for index, box in enumerate(boxes) if not any(box.meets(other) for other in taken)]
    chosen = free[0] if free else 0
    taken.append(boxes[chosen])
    return [text_svg(words, *places[chosen], "name")]


def text_svg(words: str, x: float, y: float, css: str) -> str:
    """Return a line of text about a place.

    Parameters
    ----------
    words : str
        Any text; it is escaped.
    x, y : float
        Its middle. [px]
    css : str
        Class of its style.

    Returns
    -------
    str
        SVG.

    Examples
    --------
    >>> text_svg("A & B", 10, 20, "name")
    '<text class="name" x="10.0" y="28.4">A &amp; B</text>'
    """
    return f'<text class="{css}" x="{x:.1f}" y="{y + LABEL_SIZE * 0.35:.1f}">{escape(words)}</text>'


def name_labels(
    shapes: Sequence[tuple[str, dict[str, Any], BaseGeometry]],
    sheet: Sheet,
    taken: list[Box],
    *,
    overview: bool,
) -> list[str]:
    """Return names of dry pieces and numbers of wheel tracks; of a whole farm, names of its fields.

    Parameters
    ----------
    shapes : sequence of tuple
        Kind, properties, and shape in longitude and latitude of each feature. [deg]
    sheet : Sheet
        The drawing's scale.
    taken : list of Box
        Where something stands already; takes up the labels' own boxes. [px]
    overview : bool
        Whether the whole farm is drawn.

    Returns
    -------
    list of str
        SVG; what finds no free place is left out, but for fields and large dry pieces.
    """
    if overview:
        return _field_names(shapes, sheet, taken)
    dry = [(properties, sheet.moved(shape).area) for kind, properties, shape in shapes if kind == "dry-piece"]
    large, small = ([row for row in dry if (row[1] > LARGE_PX2) is wanted] for wanted in (True, False))
    sides = [sheet.moved(shape).bounds for kind, _, shape in shapes if kind == "boundary"]
    within = Box(left=sides[0][0], top=sides[0][1], right=sides[0][2], bottom=sides[0][3]) if sides else None
    body = _dry_names(large, sheet, taken, must=True, within=within)
    for kind, properties, shape in shapes:
        if kind == "tower-track":
            middle = shape.interpolate(0.25 if shape.is_closed else 0.5, normalized=True)
            at = sheet.point(middle.x, middle.y)
            body += label_svg([track_words(properties)], at, taken, still=True)
    # Names of slivers give way to everything else.
    return body + _dry_names(small, sheet, taken, must=False, within=within)


def _field_names(
    shapes: Sequence[tuple[str, dict[str, Any], BaseGeometry]], sheet: Sheet, taken: list[Box]
) -> list[str]:
    body: list[str] = []
    for kind, properties, shape in shapes:
        if kind == "boundary":
            inside = shape.representative_point()
            wide = float(np.ptp(shapely.get_coordinates(sheet.moved(shape))[:, 0]))
            lines = wrap(str(properties["name"]), max(8, int(wide / 15.0)), break_long_words=False)
            body += label_svg(lines, sheet.point(inside.x, inside.y), taken, must=True)
    return body


def _dry_names(
    pieces: Sequence[tuple[dict[str, Any], float]],
    sheet: Sheet,
    taken: list[Box],
    *,
    must: bool,
    within: Box | None,
) -> list[str]:
    body: list[str] = []
    for properties, _area in pieces:
        lines = [said_again(str(properties["name"])), acres_words(properties)]
        at = sheet.point(properties["label_lon"], properties["label_lat"])
        if within is not None:
            at = _held(at, label_box(lines, (0.0, 0.0), size=LABEL_SIZE), within)
        body += label_svg(lines, at, taken, must=must, still=not must)
    return body


def _held(at: tuple[float, float], half: Box, within: Box) -> tuple[float, float]:
    """Return a label's place moved so far that it stays on its side of the fence."""
    x, y = at
    if within.right - within.left > 2 * half.right + 8:
        x = min(max(x, within.left + half.right + 4), within.right - half.right - 4)
    if within.bottom - within.top > 2 * half.bottom + 8:
        y = min(max(y, within.top + half.bottom + 4), within.bottom - half.bottom - 4)
    return x, y


def track_words(properties: dict[str, Any]) -> str:
    """Return what stands beside a wheel track.

    Parameters
    ----------
    properties : dict of str to object
        Properties of the track.

    Returns
    -------
    str
        The tower's number; on a lateral move with its side.

    Examples
    --------
    >>> track_words({"tower": 3}), track_words({"tower": 3, "side": "left"})
    ('3', '3 left')
    """
    tower, side = properties["tower"], properties.get("side")
    if not side:
        return str(tower)
    return (_("{tower} left") if side == "left" else _("{tower} right")).format(tower=tower)


def point_letter(kind: str) -> str:
    """Return the letter in the symbol of a well or a gate.

    Parameters
    ----------
    kind : str
        ``well`` or ``gate``.

    Returns
    -------
    str
        One letter.

    Examples
    --------
    >>> point_letter("well"), point_letter("gate")
    ('W', 'G')
    """
    return _(POINT_NAMES[kind])[0]


def system_lines(properties: dict[str, Any]) -> list[str]:
    """Return what stands beside a pivot point: its name, and the machine that is towed to it.

    Parameters
    ----------
    properties : dict of str to object
        Properties of a pivot point.

    Returns
    -------
    list of str
        One line, or two for a point whose name does not hold the machine's.

    Examples
    --------
    >>> system_lines({"name": "North pad", "machine": "Tow pivot"})
    ['North pad', '(Tow pivot)']
    """
    name, machine = str(properties["name"]), properties.get("machine")
    return [name] if not machine or str(machine) in name else [name, f"({machine})"]


def acres_words(properties: dict[str, Any]) -> str:
    """Return the area among a feature's properties as people say it.

    Parameters
    ----------
    properties : dict of str to object
        Properties with ``acres`` or ``ha``.

    Returns
    -------
    str
        Such as ``9.35 acres``; empty when there is no area.

    Examples
    --------
    >>> acres_words({"acres": 9.3456}), acres_words({"ha": 1250.0})
    ('9.35 acres', '1,250 ha')
    """
    unit = next((unit for unit in ("acres", "ha") if properties.get(unit) is not None), None)
    if unit is None:
        return ""
    size = float(properties[unit])
    decimals = 2 if size < 100 else 1 if size < 1000 else 0
    return f"{size:,.{decimals}f} {unit_words(unit)}"


def label_svg(
    lines: Sequence[str],
    at: tuple[float, float],
    taken: list[Box],
    *,
    must: bool = False,
    still: bool = False,
    aside: bool = False,
) -> list[str]:
    """Return a label at its place or near by where it is free.

    One that must be there stands at its place even when that is taken; one that is to keep
    still stands there or nowhere; one aside leaves the place itself free.

    Parameters
    ----------
    lines : sequence of str
        Its lines.
    at : tuple of float
        Its place. [px]
    taken : list of Box
        Where something stands already; takes up the label's own box. [px]
    must, still, aside : bool, default False
        As said above.

    Returns
    -------
    list of str
        SVG, one text a line; nothing when there is no free place.
    """
    step = LABEL_SIZE * 1.2
    offsets: list[tuple[float, float]] = [(0.0, 0.0)]
    if aside:
        wide = label_box(lines, (0.0, 0.0), size=LABEL_SIZE).right + 6.0
        offsets = [(0, -step * 0.75), (0, step * 0.75), (wide, 0), (-wide, 0)]
    elif not still:
        offsets += [(0, -step * 1.5), (0, step * 1.5), (step * 2, 0), (-step * 2, 0), (0, -step * 3)]
    if must:
        offsets += [(0, step * 3), (step * 2, step * 2), (-step * 2, -step * 2), (0, -step * 4.5)]
        offsets += [
            (0, step * 4.5),
            (step * 2, -step * 3),
            (-step * 2, step * 3),
            (0, -step * 6),
            (0, step * 6),
        ]
    half = label_box(lines, (0.0, 0.0), size=LABEL_SIZE)
    choices = [
        (
            min(max(at[0] + dx, 2.0 + half.right), WIDTH - 2.0 - half.right),
            max(at[1] + dy, 2.0 + half.bottom),
        )
        for dx, dy in offsets
    ]
    boxes = [label_box(lines, choice, size=LABEL_SIZE) for choice in choices]
    free = [index for index, box in enumerate(boxes) if not any(box.meets(other) for other in taken)]
    if not free and not must:
        return []
    chosen = free[0] if free else 0
    taken.append(boxes[chosen])
    x, y = choices[chosen]
    top = y - (len(lines) - 1) * step / 2
    return [text_svg(line, x, top + number * step, "name") for number, line in enumerate(lines)]

"""The map of a field on paper: patterns and shapes that need no colour."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.platypus import Flowable

from ringrow.geometry.laterals import lateral_lines
from ringrow.handoff.assumed_words import said_again
from ringrow.handoff.field_features import field_features
from ringrow.handoff.languages import N_, _
from ringrow.handoff.map.drawing_labels import point_letter
from ringrow.handoff.map.placing import Box, label_box, spread
from ringrow.handoff.number_words import unit_words
from ringrow.handoff.sheets.flag_symbol import FLAG_PT, draw_symbol
from ringrow.handoff.sheets.type import BOLD, REGULAR, fitted

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from reportlab.pdfgen.canvas import Canvas
    from shapely.geometry.base import BaseGeometry

    from ringrow.coverage.field import FieldLayout
    from ringrow.farm.flag_model import LocatedFlag
    from ringrow.farm.model import Farm
    from ringrow.units import UnitSystem

    Spot = tuple[float, float]

_NICE = (5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10_000, 20_000)
_MARGIN = 15.0
_FOOT = 34.0
_AIR = 10.0
_GRAY = 0.90
# Longest label, in sizes of its letters.
_LABEL = 18.0
_LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


_SIGNS = {
    "open": N_("triangle: open flag"),
    "fixed": N_("diamond: fixed flag"),
    "checked": N_("circle: checked flag"),
    "not-a-fault": N_("small square: not a fault"),
}


class FieldChart(Flowable):  # type: ignore[misc]
    """The map of one field: ground, machines, grid, rings, flags, scale, north.

    Parameters
    ----------
    farm : Farm
        The farm: units, wells, gate.
    layout : FieldLayout
        The field, laid out.
    flags : sequence of LocatedFlag
        Flags to draw; those without a position are not.
    wide, high : int
        Room on the page. [pt]
    """

    def __init__(
        self, farm: Farm, layout: FieldLayout, flags: Sequence[LocatedFlag], *, wide: int, high: int
    ) -> None:
        super().__init__()
        self.farm, self.layout = farm, layout
        self.flags = [flag for flag in flags if flag.lon is not None and flag.lat is not None]
        self.frame = layout.field.frame
        self.width, self.height = float(wide), float(high)
        self.shapes = _shapes(layout, farm.units)
        west, south, east, north = self._bounds()
        # Half a flag of air all round, so that those at the edge are not cut off.
        room_x, room_y = self.width - 2 * (_MARGIN + _AIR), self.height - 2 * (_MARGIN + _AIR) - _FOOT
        self.per_m = min(room_x / max(east - west, 30.0), room_y / max(north - south, 30.0))
        self.zero = (
            self.width / 2 - self.per_m * (west + east) / 2,
            _FOOT + _MARGIN + _AIR + room_y / 2 - self.per_m * (south + north) / 2,
        )
        self.step_m = _grid_step(farm.units, (self.width - 2 * _MARGIN) / self.per_m)
        self.taken: list[Box] = []

    def square_of(self, flag: LocatedFlag) -> str:
        """Return the grid square a flag lies in, such as ``C4``; empty off the map.

        Parameters
        ----------
        flag : LocatedFlag
            The flag.

        Returns
        -------
        str
            A letter counted from the west and a number counted from the north.
        """
        if flag.lon is None or flag.lat is None:
            return ""
        x, y = (float(each) for each in self.frame.to_xy(flag.lon, flag.lat))
        west, top = self._corner_m()
        column, row = math.floor((x - west) / self.step_m), math.floor((top - y) / self.step_m)
        px, py = self._at(x, y)
        on_map = _MARGIN <= px <= self.width - _MARGIN and _FOOT + _MARGIN <= py <= self.height - _MARGIN
        return f"{_LETTERS[column % 26]}{row + 1}" if on_map else ""

    def draw(self) -> None:
        """Draw the map on the canvas at hand."""
        pen: Canvas = self.canv
        pen.saveState()
        frame = pen.beginPath()
        frame.rect(_MARGIN, _FOOT + _MARGIN, self.width - 2 * _MARGIN, self.height - 2 * _MARGIN - _FOOT)
        pen.clipPath(frame, stroke=0, fill=0)
        self._grounds(pen)
        self._rings(pen)
        pen.restoreState()
        self._grid(pen)
        self._lines(pen)
        spots, places = self._flag_places()
        half = FLAG_PT + 1
        self.taken += [Box(left=x - half, top=y - half, right=x + half, bottom=y + half) for x, y in places]
        self._leaders(pen, spots, places)
        self._works(pen)
        self._names(pen)
        for flag, place in zip(self.flags, places, strict=True):
            draw_symbol(pen, flag, *place)
        self._foot(pen)

    def _bounds(self) -> tuple[float, float, float, float]:
        shapes = [shape for _, _, shape in self.shapes]
        shapes += [shapely.Point(x, y) for x, y in (self._flag_xy(flag) for flag in self.flags)]
        shapes += [shapely.Point(x, y) for _, x, y, _ in self._points()]
        west, south, east, north = shapely.total_bounds(shapes)
        return float(west), float(south), float(east), float(north)

    def _flag_xy(self, flag: LocatedFlag) -> Spot:
        x, y = self.frame.to_xy(flag.lon or 0.0, flag.lat or 0.0)
        return float(x), float(y)

    def _points(self) -> Iterator[tuple[str, float, float, str]]:
        """Yield wells and gate near the field: which of both, place, name."""
        reach = self.layout.field.boundary.envelope
        farm = self.farm
        named = [("well", well.lon, well.lat, well.name) for well in farm.wells]
        named += [("gate", *farm.gate, _("gate"))] if farm.gate else []
        for kind, lon, lat, name in named:
            x, y = (float(each) for each in self.frame.to_xy(lon, lat))
            if reach.distance(shapely.Point(x, y)) < 100.0:
                yield kind, x, y, name

    def _at(self, x: float, y: float) -> Spot:
        return self.zero[0] + x * self.per_m, self.zero[1] + y * self.per_m

    def _corner_m(self) -> Spot:
        """Return the northwest corner of the drawing, where counting squares starts."""
        return (
            (_MARGIN - self.zero[0]) / self.per_m,
            (self.height - _MARGIN - self.zero[1]) / self.per_m,
        )

    def _path(self, pen: Canvas, shape: BaseGeometry) -> Any:
        path = pen.beginPath()
        for part in shapely.get_parts(shapely.simplify(shape, 0.3 / self.per_m)):
            for line in shapely.get_rings(part) if part.geom_type == "Polygon" else [part]:
                points = [self._at(x, y) for x, y in shapely.get_coordinates(line)]
                if len(points) > 1:
                    path.moveTo(*points[0])
                    for point in points[1:]:
                        path.lineTo(*point)
        return path

    def _grounds(self, pen: Canvas) -> None:
        for kind, shared, shape in self.shapes:
            if kind == "wetted-area" and shared.get("system") != "drip":
                pen.setFillGray(_GRAY)
                pen.drawPath(self._path(pen, shape), stroke=0, fill=1, fillMode=0)
        for kind, _shared, shape in self.shapes:
            if kind == "end-gun-ring":
                self._hatched(pen, shape, turns=(45.0,), gap=4.0)
            elif kind == "corner-arm-sweep":
                self._hatched(pen, shape, turns=(-45.0,), gap=6.0)
        self._tape(pen)
        for kind, _shared, shape in self.shapes:
            if kind == "exclusion":
                pen.setFillGray(1)
                pen.drawPath(self._path(pen, shape), stroke=0, fill=1, fillMode=0)
                self._hatched(pen, shape, turns=(45.0, -45.0), gap=3.5)
                pen.setLineWidth(0.6)
                pen.drawPath(self._path(pen, shape), stroke=1, fill=0)

    def _tape(self, pen: Canvas) -> None:
        pen.setStrokeGray(0.45)
        pen.setLineWidth(0.25)
        for drip in self.layout.drip:
            grid = drip.grid
            # Every so-many-th lateral, so that lines stand some 5 points apart.
            every = max(1, math.ceil(5.0 / (drip.block.spacing_m * self.per_m)))
            lines = lateral_lines(grid)[(np.asarray(grid.piece_lateral) - 1) % every == 0]
            if len(lines):
                pen.drawPath(self._path(pen, shapely.multilinestrings(lines)), stroke=1, fill=0)
        pen.setStrokeGray(0)

    def _hatched(self, pen: Canvas, shape: BaseGeometry, *, turns: tuple[float, ...], gap: float) -> None:
        pen.saveState()
        pen.clipPath(self._path(pen, shape), stroke=0, fill=0, fillMode=0)
        pen.setLineWidth(0.3)
        west, south, east, north = shape.bounds
        (left, low), (right, high) = self._at(west, south), self._at(east, north)
        middle, far = ((left + right) / 2, (low + high) / 2), math.hypot(right - left, high - low) / 2
        for turn in turns:
            along = (math.cos(math.radians(turn)), math.sin(math.radians(turn)))
            for step in range(-int(far / gap) - 1, int(far / gap) + 2):
                x, y = middle[0] - along[1] * gap * step, middle[1] + along[0] * gap * step
                pen.line(x - far * along[0], y - far * along[1], x + far * along[0], y + far * along[1])
        pen.restoreState()

    def _rings(self, pen: Canvas) -> None:
        """Draw rings of even distance about each pivot point."""
        units = self.farm.units
        for pivot in self.layout.field.pivots:
            step = _nice_below(units.from_m(pivot.length_m) / 2.2)
            pen.setStrokeGray(0.35)
            pen.setLineWidth(0.5)
            pen.setDash(0.6, 2.4)
            pen.setLineCap(1)
            x, y = self._at(pivot.x_m, pivot.y_m)
            for number in range(1, int(units.from_m(pivot.base_radius_m) / step) + 1):
                radius = number * step * units.length_m * self.per_m
                pen.circle(x, y, radius, stroke=1, fill=0)
            pen.setDash()
            pen.setStrokeGray(0)
            pen.setLineCap(0)

    def _ring_labels(self, pen: Canvas) -> None:
        units = self.farm.units
        for pivot in self.layout.field.pivots:
            step = _nice_below(units.from_m(pivot.length_m) / 2.2)
            x, y = self._at(pivot.x_m, pivot.y_m)
            for number in range(1, int(units.from_m(pivot.base_radius_m) / step) + 1):
                radius = number * step * units.length_m * self.per_m
                for turn in (200.0, 235.0, 250.0, 130.0, 20.0, 340.0, 70.0):
                    at = (
                        x + radius * math.sin(math.radians(turn)),
                        y + radius * math.cos(math.radians(turn)),
                    )
                    if self._label(pen, [f"{number * step:,} {unit_words(units.length)}"], at, size=5.5):
                        break

    def _grid(self, pen: Canvas) -> None:
        left, right, low, high = _MARGIN, self.width - _MARGIN, _FOOT + _MARGIN, self.height - _MARGIN
        step = self.step_m * self.per_m
        pen.setStrokeGray(0.6)
        pen.setLineWidth(0.2)
        pen.setFont(REGULAR, 6.5)
        pen.setFillGray(0)
        for column in range(int((right - left) / step) + 1):
            x = left + column * step
            pen.line(x, low, x, high)
            middle = (x + min(x + step, right)) / 2
            if min(x + step, right) - x > 8:
                pen.drawCentredString(middle, high + 3, _LETTERS[column % 26])
                pen.drawCentredString(middle, low - 8, _LETTERS[column % 26])
        for row in range(int((high - low) / step) + 1):
            y = high - row * step
            pen.line(left, y, right, y)
            middle = (y + max(y - step, low)) / 2 - 2
            if y - max(y - step, low) > 8:
                pen.drawCentredString(left - 7, middle, str(row + 1))
                pen.drawCentredString(right + 7, middle, str(row + 1))
        pen.setStrokeGray(0)
        pen.setLineWidth(0.6)
        pen.rect(left, low, right - left, high - low, stroke=1, fill=0)

    def _lines(self, pen: Canvas) -> None:
        pens: tuple[tuple[str, float, tuple[float, ...], float], ...] = (
            ("wetted-area", 0.4, (), 0),
            # A road is two lines: white drawn along the middle of a black one.
            ("pivot-road", 2.8, (), 0),
            ("pivot-road", 1.8, (), 1),
            ("dry-piece", 0.3, (1, 2), 0),
            ("tower-track", 0.35, (4, 2), 0),
            ("arm-wheel-path", 0.7, (4, 2), 0),
            ("cart-path", 1.4, (6, 2), 0),
            ("bent-pipe", 0.9, (), 0),
            ("header", 1.4, (), 0),
            ("flush-line", 0.9, (3, 2), 0),
            ("boundary", 1.6, (), 0),
        )
        for kind, width, dash, gray in pens:
            pen.setLineWidth(width)
            pen.setStrokeGray(gray)
            pen.setDash(*dash) if dash else pen.setDash()
            for each, _shared, shape in self.shapes:
                if each == kind:
                    pen.drawPath(self._path(pen, shape), stroke=1, fill=0)
        pen.setDash()

    def _flag_places(self) -> tuple[list[Spot], list[Spot]]:
        spots = [self._at(*self._flag_xy(flag)) for flag in self.flags]
        fixed = [self._at(x, y) for _, x, y, _ in self._points()]
        places = spread(spots, gap=2 * FLAG_PT + 4.0, fixed=fixed)
        edge, low = _MARGIN + _AIR, _FOOT + _MARGIN + _AIR
        inside = [
            (min(max(x, edge), self.width - edge), min(max(y, low), self.height - edge)) for x, y in places
        ]
        return spots, inside

    def _leaders(self, pen: Canvas, spots: Sequence[Spot], places: Sequence[Spot]) -> None:
        pen.setLineWidth(0.5)
        for spot, place in zip(spots, places, strict=True):
            if math.dist(spot, place) > 1:
                pen.line(*spot, *place)
                pen.circle(*spot, 1.1, stroke=0, fill=1)

    def _works(self, pen: Canvas) -> None:
        for kind, _shared, shape in self.shapes:
            if kind == "pivot-point":
                x, y = self._at(shape.x, shape.y)
                pen.setFillGray(0)
                pen.circle(x, y, 2.6, stroke=0, fill=1)
                self.taken.append(Box(left=x - 3, top=y - 3, right=x + 3, bottom=y + 3))
        for kind, x_m, y_m, _name in self._points():
            x, y = self._at(x_m, y_m)
            pen.setFillGray(0 if kind == "well" else 1)
            pen.setLineWidth(0.8)
            pen.rect(x - 5, y - 5, 10, 10, stroke=1, fill=1)
            pen.setFillGray(1 if kind == "well" else 0)
            pen.setFont(BOLD, 7.5)
            pen.drawCentredString(x, y - 2.7, point_letter(kind))
            pen.setFillGray(0)
            self.taken.append(Box(left=x - 6, top=y - 6, right=x + 6, bottom=y + 6))
        for _kind, x_m, y_m, name in self._points():
            x, y = self._at(x_m, y_m)
            for down in (-10, 10, -19, 19):
                if self._label(pen, [name], (x, y + down), size=6):
                    break

    def _names(self, pen: Canvas) -> None:
        for kind, shared, shape in self.shapes:
            if kind == "pivot-point":
                x, y = self._at(shape.x, shape.y)
                any(self._label(pen, [shared["name"]], (x, y + down), size=7) for down in (-9, 9, -18, 18))
        for kind, shared, shape in self.shapes:
            if kind == "tower-track":
                middle = shape.interpolate(0.14 if shape.is_closed else 0.5, normalized=True)
                label = _("T{tower}").format(tower=shared["tower"])
                self._label(pen, [label], self._at(middle.x, middle.y), size=5.5)
        self._ring_labels(pen)
        for kind, shared, shape in self.shapes:
            if kind == "dry-piece" and shape.area * self.per_m**2 > 700:
                at = self.frame.to_xy(shared["label_lon"], shared["label_lat"])
                units = self.farm.units
                acres = f"{units.from_m2(shape.area):,.1f} {unit_words(units.area)}"
                self._label(
                    pen, [said_again(shared["name"]), acres], self._at(float(at[0]), float(at[1])), size=6
                )
        for drip in self.layout.drip:
            inside = shapely.maximum_inscribed_circle(drip.wetted, tolerance=5.0).coords[0]
            x, y = self._at(*inside)
            any(self._label(pen, [drip.name], (x, y + down), size=7) for down in (0, 14, -14, 28, -28))

    def _label(self, pen: Canvas, lines: Sequence[str], at: Spot, *, size: float) -> bool:
        """Write a label where it hides nothing; return whether there was room."""
        texts = [fitted(line, font=REGULAR, size=size, room=_LABEL * size) for line in lines]
        half = max(stringWidth(text, REGULAR, size) for text in texts) / 2 + 1
        low = _FOOT + _MARGIN
        if not (_MARGIN + half < at[0] < self.width - _MARGIN - half):
            return False
        box = label_box(texts, at, size=size)
        box = Box(left=at[0] - half, right=at[0] + half, top=box.top, bottom=box.bottom)
        if box.top < low or box.bottom > self.height - _MARGIN or any(box.meets(each) for each in self.taken):
            return False
        self.taken.append(box)
        pen.setFillGray(1)
        pen.setStrokeGray(1)
        pen.rect(box.left, box.top, box.right - box.left, box.bottom - box.top, stroke=0, fill=1)
        pen.setStrokeGray(0)
        pen.setFillGray(0)
        pen.setFont(REGULAR, size)
        for row, text in enumerate(texts):
            high = at[1] + (len(texts) / 2 - row - 1) * size * 1.15 + 0.25 * size
            pen.drawCentredString(at[0], high, text)
        return True

    def _foot(self, pen: Canvas) -> None:
        units = self.farm.units
        size = _nice_below(110.0 / self.per_m / units.length_m)
        long, y = size * units.length_m * self.per_m, 14.0
        pen.setFont(REGULAR, 7)
        pen.setLineWidth(0.6)
        for part in range(4):
            pen.setFillGray(part % 2)
            pen.rect(_MARGIN + part * long / 4, y, long / 4, 4, stroke=1, fill=1)
        pen.setFillGray(0)
        pen.drawString(_MARGIN, y - 8, "0")
        pen.drawCentredString(_MARGIN + long, y - 8, f"{size:,} {unit_words(units.length)}")
        left = _MARGIN + long + 28
        full = self.width - _MARGIN - left
        # The second of two rows stands lower than the north arrow and may run on under it.
        rows = [_in_rows(items, room) for items, room in zip(self._key(), (full - 24, full), strict=True)]
        if sum(map(len, rows)) > 2:
            rows = [_in_rows(items, full - 24) for items in self._key()]
        if sum(map(len, rows)) > 3:
            rows = [_in_rows([item for items in self._key() for item in items], full - 24)]
        lines = [line for row in rows for line in row]
        step, top = (9, y + 1) if len(lines) < 3 else (7.5, y + 5)
        pen.setFont(REGULAR, 6.5)
        for row, said in enumerate(lines):
            pen.drawString(left, top - step * row, said)
        x = self.width - _MARGIN - 8
        path = pen.beginPath()
        path.moveTo(x, y + 11)
        path.lineTo(x + 4, y - 3)
        path.lineTo(x, y)
        path.lineTo(x - 4, y - 3)
        path.close()
        pen.drawPath(path, stroke=0, fill=1)
        pen.setFont(BOLD, 8)
        pen.drawCentredString(x - 11, y, _("N"))

    def _key(self) -> tuple[list[str], list[str]]:
        """Return what stands on this map: places and lines of order, then grounds and signs."""
        kinds = {kind for kind, _, _ in self.shapes}
        units, field = self.farm.units, self.layout.field
        size = f"{round(units.from_m(self.step_m)):,} {unit_words(units.length)}"
        first = [_("Squares {length}").format(length=size)]
        first += [_("T5: wheel track of tower 5")] if "tower-track" in kinds else []
        first += [_("W well, G gate")] if any(True for _ in self._points()) else []
        first += [_("dotted rings: distance from the pivot point")] if field.pivots else []
        second = [_("gray: watered")] if field.pivots or field.lateral_moves else []
        second += [_("hatched: end gun")] if "end-gun-ring" in kinds else []
        second += [_("hatched wide: corner arm")] if "corner-arm-sweep" in kinds else []
        second += [_("thin lines: drip laterals, some of them")] if field.drip else []
        second += [_("thick: header, dashed: flush line")] if "header" in kinds else []
        second += [_("thick dashed: cart path")] if "cart-path" in kinds else []
        second += [_("double line: road to the pivot point")] if "pivot-road" in kinds else []
        second += [_("crossed: not farmed")] if "exclusion" in kinds else []
        statuses = {flag.state.status for flag in self.flags}
        second += [_(said) for status, said in _SIGNS.items() if status in statuses]
        return first, second


def _shapes(layout: FieldLayout, units: UnitSystem) -> list[tuple[str, dict[str, Any], BaseGeometry]]:
    """Return the field's features with their shapes in its frame, in metres."""
    frame = layout.field.frame
    return [
        (group.kind, group.properties(index), frame.project(shape))
        for group in field_features(layout, units, laterals=False)
        for index, shape in enumerate(group.shapes)
        if shape is not None and not shape.is_empty
    ]


def _in_rows(items: Sequence[str], room: float) -> list[str]:
    """Return items, parted by semicolons, in as many rows as they need."""
    rows: list[str] = []
    for item in items:
        longer = f"{rows[-1]}; {item}" if rows else item
        if rows and stringWidth(f"{longer}.", REGULAR, 6.5) <= room:
            rows[-1] = longer
        else:
            rows.append(item)
    return [f"{row}{'.' if row is rows[-1] else ';'}" for row in rows]


def _nice_below(length: float) -> int:
    return max([nice for nice in _NICE if nice <= length], default=_NICE[0])


def _grid_step(units: UnitSystem, across_m: float) -> float:
    """Return the size of a grid square: a round number of farm units, 8 to 20 of them across."""
    return _nice_below(units.from_m(across_m) / 8) * units.length_m

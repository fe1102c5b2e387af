"""The map of repeats: fields, what machines wet, and a number at every place that came back."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import shapely

from ringrow.handoff.languages import _, counted
from ringrow.handoff.number_words import one_line, unit_words
from ringrow.handoff.report.charts import WIDTH
from ringrow.handoff.report.picture import Box, Label, Line, Picture, Shape

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from ringrow.coverage.field import FieldLayout, PivotLayout
    from ringrow.farm.again import Repeat
    from ringrow.units import UnitSystem

_EDGE, _TALLEST = 12.0, 560.0
_SIMPLE_PX = 0.4
_RING_POINTS = 90


def repeats_plan(found: Sequence[Repeat], layouts: Sequence[FieldLayout], units: UnitSystem) -> Picture:
    """Return a map of places that came back.

    Parameters
    ----------
    found : sequence of Repeat
        Places and parts, numbered in this order.
    layouts : sequence of FieldLayout
        The farm's fields, laid out.
    units : UnitSystem
        Units of the scale bar.

    Returns
    -------
    Picture
        Boundaries as lines, wetted ground in grey lines; a machine's part as the dashed ring it
        walks, its number where the ring is farthest north, side by side where several share it.
    """
    sheet = _Sheet(layouts)
    shapes: list[Shape] = []
    for layout in layouts:
        shapes += sheet.outline(layout, layout.field.boundary, grey=False)
        for system in layout.systems:
            shapes += sheet.outline(layout, system.wetted, grey=True)
        shapes += sheet.name_of(layout)
    marks: list[Shape] = []
    taken: list[tuple[float, float]] = []
    for number, repeat in enumerate(found, 1):
        ring = sheet.ring(repeat, layouts)
        shapes += [] if ring is None else [Line(points=ring, dashes=(4.0, 3.0), width=1.2)]
        place = sheet.place_of(repeat, ring, layouts)
        if place is not None:
            at = _free(place, taken)
            taken.append(at)
            marks += _mark(at, number)
    count = len(found)
    return Picture(
        title=_("Places that came back"),
        description=counted(
            "{n} place, numbered as in the table.", "{n} places, numbered as in the table.", count
        ).format(n=count),
        width=WIDTH,
        height=sheet.height + 34,
        shapes=(*shapes, *marks, *_scale_bar(sheet, units)),
    )


class _Sheet:
    """From longitude and latitude to pixels, one scale both ways, north up."""

    def __init__(self, layouts: Sequence[FieldLayout]) -> None:
        corners = np.concatenate([self._lonlat(layout, layout.field.boundary) for layout in layouts])
        self.west, south = corners.min(axis=0)
        east, self.north = corners.max(axis=0)
        # A drawing, not a measure: a plane sheet is within a line's width over a farm.
        self.squeeze = math.cos(math.radians((south + self.north) / 2))
        wide, high = max((east - self.west) * self.squeeze, 1e-6), max(self.north - south, 1e-6)
        self.per_deg = min((WIDTH - 2 * _EDGE) / wide, _TALLEST / high)
        self.height = high * self.per_deg + 2 * _EDGE
        self.left = _EDGE + (WIDTH - 2 * _EDGE - wide * self.per_deg) / 2

    @staticmethod
    def _lonlat(layout: FieldLayout, shape: BaseGeometry) -> NDArray[np.float64]:
        points = shapely.get_coordinates(shape)
        lon, lat = layout.field.frame.to_lonlat(points[:, 0], points[:, 1])
        return np.column_stack([lon, lat])

    def pixels(self, lonlat: NDArray[np.float64]) -> tuple[tuple[float, float], ...]:
        """Return the pixels of places."""
        x = self.left + (lonlat[:, 0] - self.west) * self.squeeze * self.per_deg
        y = _EDGE + (self.north - lonlat[:, 1]) * self.per_deg
        return tuple(zip(x.tolist(), y.tolist(), strict=True))

    def outline(self, layout: FieldLayout, shape: BaseGeometry, *, grey: bool) -> Iterator[Line]:
        """Yield the edges of a shape."""
        coarse = shape.simplify(_SIMPLE_PX * 111_000.0 / self.per_deg)
        for part in shapely.get_parts(coarse):
            if part.geom_type == "Polygon":
                for ring in (part.exterior, *part.interiors):
                    points = self.pixels(self._lonlat(layout, ring))
                    yield Line(points=points, grey=grey, width=1.0 if grey else 1.4)

    def name_of(self, layout: FieldLayout) -> list[Label]:
        """Return the field's name in its upper left corner, where there is room for it."""
        points = self.pixels(self._lonlat(layout, layout.field.boundary))
        left, top = min(x for x, _y in points), min(y for _x, y in points)
        name = one_line(layout.field.name)
        fits = 6.2 * len(name) + 8 < max(x for x, _y in points) - left
        return [Label(x=left + 4, y=top + 12, text=name, size=11)] if fits else []

    def ring(self, repeat: Repeat, layouts: Sequence[FieldLayout]) -> tuple[tuple[float, float], ...] | None:
        """Return the ring that a part of a pivot walks; None for anything else."""
        found = _pivot_of(repeat, layouts)
        radius = _radius_m(repeat, found[1]) if found else None
        if found is None or not radius:
            return None
        layout, laid = found
        turn = np.radians(np.linspace(0.0, 360.0, _RING_POINTS + 1))
        ring = np.column_stack(
            [laid.pivot.x_m + radius * np.sin(turn), laid.pivot.y_m + radius * np.cos(turn)]
        )
        line = shapely.LineString(ring)
        return self.pixels(self._lonlat(layout, line))

    def place_of(
        self,
        repeat: Repeat,
        ring: tuple[tuple[float, float], ...] | None,
        layouts: Sequence[FieldLayout],
    ) -> tuple[float, float] | None:
        """Return where the number of a place stands."""
        if ring is not None:
            return min(ring, key=lambda point: point[1])
        if repeat.lon is not None and repeat.lat is not None:
            return self.pixels(np.array([[repeat.lon, repeat.lat]]))[0]
        found = _pivot_of(repeat, layouts)
        if found is not None:
            layout, laid = found
            point = shapely.Point(laid.pivot.x_m, laid.pivot.y_m)
            return self.pixels(self._lonlat(layout, point))[0]
        newest = repeat.flags[-1]
        if newest.lon is None or newest.lat is None:
            return None
        return self.pixels(np.array([[newest.lon, newest.lat]]))[0]


def _pivot_of(repeat: Repeat, layouts: Sequence[FieldLayout]) -> tuple[FieldLayout, PivotLayout] | None:
    """Return the pivot that a part belongs to; a towed machine is drawn at none of its points."""
    if repeat.spot.on not in ("pipe", "part"):
        return None
    found = ((layout, laid) for layout in layouts for laid in layout.pivots)
    return next((pair for pair in found if pair[1].name == repeat.spot.of), None)


def _radius_m(repeat: Repeat, laid: PivotLayout) -> float | None:
    place = repeat.flags[-1].pivot
    if repeat.spot.part == "pivot point" or place is None:
        return None
    return min(place.distance_m, laid.pivot.gun_radius_m or laid.pivot.base_radius_m)


def _free(place: tuple[float, float], taken: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """Return a place near one at which no other number stands."""
    x, y = place
    while any(abs(x - other[0]) < 21 and abs(y - other[1]) < 17 for other in taken):
        x, y = (x + 22, y) if x + 44 < WIDTH else (place[0], y + 18)
    return x, y


def _mark(at: tuple[float, float], number: int) -> list[Shape]:
    x, y = at
    return [
        Box(x=x - 9, y=y - 8, width=18, height=16, hatch="solid"),
        Label(x=x, y=y + 4.5, text=str(number), size=12, anchor="middle", bold=True, light=True),
    ]


def _scale_bar(sheet: _Sheet, units: UnitSystem) -> list[Shape]:
    per_m = sheet.per_deg / 111_195.0
    most = 160.0 / per_m / units.length_m
    power = 10.0 ** math.floor(math.log10(most))
    length = next(times * power for times in (5, 2, 1) if times * power <= most)
    y, wide = sheet.height + 14, length * units.length_m * per_m
    return [
        Line(points=((_EDGE, y - 4), (_EDGE, y), (_EDGE + wide, y), (_EDGE + wide, y - 4)), width=1.4),
        Label(x=_EDGE + wide + 8, y=y + 3, text=f"{length:,.0f} {unit_words(units.length)}", size=12),
        Label(x=WIDTH - _EDGE, y=y + 3, text=_("north is up"), size=12, anchor="end"),
    ]

"""Ways through one field with the crop up: its edges, its rows, pivot roads and wheel tracks."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely.ops import substring

from ringrow.geometry.angles import azimuth_deg, within_turn
from ringrow.geometry.arcs import arc_bearings
from ringrow.geometry.laterals import lateral_lines
from ringrow.geometry.ways import WayNet, corners

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from ringrow.coverage.field import DripLayout, FieldLayout, LateralMoveLayout, PivotLayout

_GRID_M = 1e-3
_SAME_M = 0.05
"""An edge this near the boundary is the boundary: rounding to millimetres, and mended shapes [m]."""
_MANY_CORNERS = 60
_THIN_M = 5.0
_PAST_END_M = 10.0
_PAST_PATH_M = 200.0
_BACK_M = 0.5
_EVERY_M = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class RouteSpot:
    """A place where a crew stops, and by what it is reached when the crop is up.

    Parameters
    ----------
    lon, lat : float
        Position, WGS 84. [deg]
    field : str or None, default None
        Field it lies in; None outside every field.
    pivot : str, default ""
        Pivot by whose wheel tracks it is reached.
    drip : str, default ""
        Drip block along whose laterals it is reached.
    lateral : int, default 0
        Number of that lateral.
    move : str, default ""
        Lateral move along whose wheel tracks it is reached.
    """

    lon: float
    lat: float
    field: str | None = None
    pivot: str = ""
    drip: str = ""
    lateral: int = 0
    move: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CropNet:
    """The ways through one field, in its own frame.

    Parameters
    ----------
    net : WayNet
        Places and ways.
    stops : dict of int to int
        Position in the net of each stop, by the key it came with.
    edge_places : list of int
        Places on the field's edge from which one may leave over open ground.
    """

    net: WayNet
    stops: dict[int, int]
    edge_places: list[int]


def field_ways(
    layout: FieldLayout, spots: Mapping[int, RouteSpot], *, start_lonlat: tuple[float, float]
) -> CropNet:
    """Return the ways through one field with the crop up.

    Parameters
    ----------
    layout : FieldLayout
        The field.
    spots : mapping of int to RouteSpot
        Stops in it; key 0 is the start, which is driven to.
    start_lonlat : tuple of float
        Where crews come from, longitude and latitude: a pivot road that nobody stated leaves the edge
        nearest to it. [deg]

    Returns
    -------
    CropNet
        Edges of the field (driven), of its blocks and of ground not farmed in drip fields, rows,
        wheel tracks and paths of carts (walked), pivot roads (driven), and the last steps to each stop.
    """
    frame = layout.field.frame
    edges = _Edges.of(layout)
    start = frame.to_xy(*start_lonlat)
    pivots = {pivot.name: pivot for pivot in layout.pivots}
    blocks = {block.name: block for block in layout.drip}
    machines: dict[str, _Tracks] = {}
    moves = {move.name: move for move in layout.lateral_moves}
    rows: dict[tuple[str, int], _Rows] = {}
    stops: dict[int, int] = {}
    for key, spot in spots.items():
        x, y = (float(value) for value in frame.to_xy(spot.lon, spot.lat))
        stops[key] = edges.net.place(x, y)
        if spot.pivot in pivots:
            tracks = machines.get(spot.pivot) or _Tracks.of(edges, layout, pivots[spot.pivot], start)
            machines[spot.pivot] = tracks
            tracks.reach(edges, stops[key])
        elif spot.drip in blocks and spot.lateral > 0:
            row = (spot.drip, spot.lateral)
            rows[row] = rows.get(row) or _Rows.of(edges, blocks[spot.drip], spot.lateral)
            rows[row].reach(edges, stops[key])
        elif spot.move in moves:
            track = _nearest_track(moves[spot.move], x, y)
            found = rows.get((spot.move, track)) or _Rows.beside(edges, moves[spot.move], track)
            rows[spot.move, track] = found
            found.reach(edges, stops[key])
        else:
            edges.reach(stops[key], on_foot=key != 0)
    for tracks in machines.values():
        tracks.finish(edges)
    for row_lines in rows.values():
        row_lines.finish(edges.net)
    corner_places = [edges.attach(x, y) for x, y in _corners(layout.field.boundary)]
    edges.finish()
    return CropNet(net=edges.net, stops=stops, edge_places=[*corner_places, *edges.open_places])


def _corners(boundary: BaseGeometry) -> list[list[float]]:
    """Return corners of the field at which a way round it may turn, few of a winding edge."""
    outlines = [shapely.Polygon(part.exterior) for part in shapely.get_parts(boundary)]
    few = [
        outline.simplify(_THIN_M) if shapely.get_num_coordinates(outline) > _MANY_CORNERS else outline
        for outline in outlines
    ]
    found: list[list[float]] = corners(few).tolist()
    return found


@dataclass(slots=True, kw_only=True)
class _Edges:
    """Edges of a field, cut at every place where something leaves them."""

    net: WayNet
    lines: NDArray[np.object_]
    outer: NDArray[np.bool_]
    whole: BaseGeometry
    cuts: dict[int, list[tuple[float, int]]] = field(default_factory=dict)
    open_places: list[int] = field(default_factory=list)

    @classmethod
    def of(cls, layout: FieldLayout) -> _Edges:
        """Return the edges of a field, crossing each other only where they are cut."""
        outer = shapely.boundary(layout.field.boundary)
        inner = [shapely.boundary(block.ground) for block in layout.drip]
        if inner:
            inner.append(
                shapely.boundary(shapely.intersection(layout.field.exclusions, layout.field.boundary))
            )
        whole = shapely.union_all([outer, *inner], grid_size=_GRID_M)
        lines = shapely.get_parts(whole)
        middle = shapely.line_interpolate_point(lines, 0.5, normalized=True)
        return cls(net=WayNet(), lines=lines, outer=shapely.distance(middle, outer) < _SAME_M, whole=whole)

    def attach(self, x: float, y: float, *, outer: bool = True) -> int:
        """Return a new place on the edge nearest to a point."""
        point = shapely.Point(x, y)
        away = shapely.distance(self.lines, point)
        line = int(np.argmin(np.where(self.outer, away, np.inf) if outer else away))
        at = float(shapely.line_locate_point(self.lines[line], point))
        foot = shapely.line_interpolate_point(self.lines[line], at)
        place = self.net.place(foot.x, foot.y)
        self.cuts.setdefault(line, []).append((at, place))
        if self.outer[line]:
            self.open_places.append(place)
        return place

    def reach(self, stop: int, *, on_foot: bool) -> None:
        """Join a stop straight to the field's edge nearest to it."""
        self.net.join(self.attach(*self.net.places[stop]), stop, on_foot=on_foot)

    def finish(self) -> None:
        """Join the places along each edge in their order."""
        known: dict[tuple[float, ...], int] = {}
        for line, on_edge in enumerate(self.lines):
            xy = shapely.get_coordinates(on_edge)
            along = np.append(0.0, np.cumsum(np.hypot(*np.diff(xy, axis=0).T)))
            chain = list(self.cuts.get(line, []))
            for at, corner in zip(along.tolist(), xy.tolist(), strict=True):
                key = tuple(round(value / _GRID_M) for value in corner)
                if key not in known:
                    known[key] = self.net.place(*corner)
                chain.append((at, known[key]))
            for (_, one), (_, other) in pairwise(sorted(chain)):
                self.net.join(one, other, on_foot=not self.outer[line])


@dataclass(slots=True, kw_only=True)
class _Rows:
    """One lateral, piece by piece, each drawn on to the edges that its ends point at."""

    lines: list[BaseGeometry]
    cuts: list[list[tuple[float, int]]]

    @classmethod
    def of(cls, edges: _Edges, block: DripLayout, lateral: int) -> _Rows:
        """Return the rows along a lateral."""
        grid = block.grid
        pieces = lateral_lines(grid)[grid.piece_lateral == lateral]
        reach = block.block.headland_m + _PAST_END_M
        return cls._drawn(edges, [shapely.get_coordinates(piece) for piece in pieces], reach)

    @classmethod
    def beside(cls, edges: _Edges, move: LateralMoveLayout, track: int) -> _Rows:
        """Return the wheel track of a lateral move's tower: 0 the cart, left above, right below."""
        path = shapely.LineString(move.move.path_m)
        offset_m = _track_offsets(move)[track]
        line = shapely.offset_curve(path, offset_m, join_style="mitre") if track else path
        parts = [shapely.get_coordinates(part) for part in shapely.get_parts(line)]
        return cls._drawn(edges, parts, _PAST_PATH_M)

    @classmethod
    def _drawn(cls, edges: _Edges, parts: list[NDArray[np.float64]], reach: float) -> _Rows:
        rows = cls(lines=[], cuts=[])
        for xy in parts:
            rows._draw(edges, xy, reach)
        if parts and not any(rows.cuts):
            # Nothing ahead of any end: from the nearest edge to the first end.
            first = shapely.get_coordinates(rows.lines[0])[0]
            place = edges.net.place(*first)
            edges.reach(place, on_foot=True)
            rows.cuts[0].append((0.0, place))
        return rows

    def _draw(self, edges: _Edges, xy: NDArray[np.float64], reach: float) -> None:
        before = _ahead(edges.whole, xy[1], xy[0], reach)
        after = _ahead(edges.whole, xy[-2], xy[-1], reach)
        parts = [before, xy, after]
        line = shapely.LineString(np.vstack([part for part in parts if part is not None]))
        ends = [] if before is None else [(0.0, edges.attach(*before[0], outer=False))]
        if after is not None:
            ends.append((float(line.length), edges.attach(*after[0], outer=False)))
        self.lines.append(line)
        self.cuts.append(ends)

    def reach(self, edges: _Edges, stop: int) -> None:
        """Join a stop to the nearest place on the lateral."""
        if not self.lines:
            edges.reach(stop, on_foot=True)
            return
        point = shapely.Point(edges.net.places[stop])
        row = int(np.argmin(shapely.distance(self.lines, point)))
        at = float(shapely.line_locate_point(self.lines[row], point))
        foot = shapely.line_interpolate_point(self.lines[row], at)
        place = edges.net.place(foot.x, foot.y)
        self.cuts[row].append((at, place))
        edges.net.join(place, stop, on_foot=True)

    def finish(self, net: WayNet) -> None:
        """Join the places along each row in their order."""
        for line, cuts in zip(self.lines, self.cuts, strict=True):
            for (low, one), (high, other) in pairwise(sorted(cuts)):
                bent = shapely.get_coordinates(substring(line, low, high))
                net.join(
                    one, other, on_foot=True, length_m=high - low, bent_m=bent if len(bent) > 2 else None
                )


def _track_offsets(move: LateralMoveLayout) -> dict[int, float]:
    """Return how far to the left of the cart's path each wheel track lies: left ones 1, 2, right -1, -2."""
    left = dict(enumerate(move.move.left.tower_offsets_m, 1))
    right = {-at: -offset for at, offset in enumerate(move.move.right.tower_offsets_m, 1)}
    return {0: 0.0, **left, **right}


def _nearest_track(move: LateralMoveLayout, x: float, y: float) -> int:
    path, point = shapely.LineString(move.move.path_m), shapely.Point(x, y)
    at = min(max(float(path.project(point)), _BACK_M), path.length - _BACK_M)
    back, on = path.interpolate(at - _BACK_M), path.interpolate(at + _BACK_M)
    turn = (on.x - back.x) * (y - back.y) - (on.y - back.y) * (x - back.x)
    offset = math.copysign(path.distance(point), turn)
    offsets = _track_offsets(move)
    return min(offsets, key=lambda track: abs(offsets[track] - offset))


def _ahead(
    edges: BaseGeometry, before: NDArray[np.float64], end: NDArray[np.float64], reach: float
) -> NDArray[np.float64] | None:
    """Return the edge that a row's end points at, as an array of one point; None when it is too far."""
    way = (end - before) / math.hypot(*(end - before))
    ray = shapely.LineString([end - _BACK_M * way, end + reach * way])
    hits = shapely.get_coordinates(shapely.intersection(ray, edges))
    if not len(hits):
        return None
    return hits[[np.argmin(np.hypot(*(hits - end).T))]]


@dataclass(slots=True, kw_only=True)
class _Tracks:
    """The road to a pivot point and the wheel tracks round it that stops are reached by."""

    centre: tuple[float, float]
    place: int
    radii_m: tuple[float, ...]
    road: list[tuple[float, int]]
    road_line: BaseGeometry
    limits_deg: tuple[float, float] | None
    on_track: dict[int, list[tuple[float, int]]] = field(default_factory=dict)

    @classmethod
    def of(
        cls, edges: _Edges, layout: FieldLayout, machine: PivotLayout, start: tuple[object, ...]
    ) -> _Tracks:
        """Return the tracks of a pivot, with the road that leads to it."""
        pivot = machine.pivot
        centre = (pivot.x_m, pivot.y_m)
        if pivot.road_m:
            outward = _stated_road(edges, pivot.road_m)
        else:
            gate = _road_end(edges, layout.field.exclusions, centre, start)
            outward = np.array([centre, gate])
        end = edges.attach(*outward[-1])
        line = shapely.LineString(np.vstack([outward[:-1], edges.net.places[end]]))
        limits = None
        if pivot.sector is not None:
            limits = (
                within_turn(pivot.sector.start_deg + pivot.convergence_deg),
                within_turn(pivot.sector.stop_deg + pivot.convergence_deg),
            )
        place = edges.net.place(*centre)
        return cls(
            centre=centre,
            place=place,
            radii_m=pivot.tower_radii_m,
            road=[(0.0, place), (float(line.length), end)],
            road_line=line,
            limits_deg=limits,
        )

    def reach(self, edges: _Edges, stop: int) -> None:
        """Join a stop to the nearest wheel track, or to the pivot point when that is nearer."""
        x, y = edges.net.places[stop]
        dx, dy = x - self.centre[0], y - self.centre[1]
        distance, bearing = math.hypot(dx, dy), float(azimuth_deg(dx, dy))
        tower = int(np.argmin([abs(radius - distance) for radius in (0.0, *self.radii_m)]))
        if tower == 0:
            edges.net.join(self.place, stop, on_foot=True)
            return
        if tower not in self.on_track:
            self.on_track[tower] = []
            self._enter(edges, tower, bearing)
        place = self._mark(edges.net, tower, self._within(bearing))
        edges.net.join(place, stop, on_foot=True)
        if distance > self.radii_m[-1]:
            # Past the last tower the field's edge may be nearer than the track.
            edges.reach(stop, on_foot=True)

    def _mark(self, net: WayNet, tower: int, bearing: float) -> int:
        radius, angle = self.radii_m[tower - 1], math.radians(bearing)
        place = net.place(
            self.centre[0] + radius * math.sin(angle), self.centre[1] + radius * math.cos(angle)
        )
        self.on_track[tower].append((bearing, place))
        return place

    def _within(self, bearing: float) -> float:
        """Return the bearing, or the end of the sector that is nearer."""
        if self.limits_deg is None or self._walks(bearing):
            return bearing
        start, stop = self.limits_deg
        return start if within_turn(start - bearing) < within_turn(bearing - stop) else stop

    def _walks(self, bearing: float) -> bool:
        if self.limits_deg is None:
            return True
        start, stop = self.limits_deg
        return within_turn(bearing - start) <= within_turn(stop - start)

    def _enter(self, edges: _Edges, tower: int, bearing: float) -> None:
        """Join a track to the road, or to the sides of the sector, or to the field's edge."""
        radius = self.radii_m[tower - 1]
        for along_m, road_deg in self._road_crossings(radius):
            if self._walks(road_deg):
                self.road.append((along_m, self._mark(edges.net, tower, road_deg)))
        for side in self.limits_deg or ():
            # Along the edge of the watered sector, from the pivot point.
            edges.net.join(self.place, self._mark(edges.net, tower, side), on_foot=True)
        if self.on_track[tower]:
            return
        ring = shapely.LineString(self._arc(tower, 0.0, 360.0))
        for x, y in shapely.get_coordinates(shapely.intersection(ring, edges.whole)):
            mark = self._mark(edges.net, tower, float(azimuth_deg(x - self.centre[0], y - self.centre[1])))
            edges.net.join(edges.attach(x, y, outer=False), mark, on_foot=True)
        if not self.on_track[tower]:
            edges.net.join(self.place, self._mark(edges.net, tower, bearing), on_foot=True)

    def _road_crossings(self, radius: float) -> list[tuple[float, float]]:
        """Return where the road crosses a circle about the pivot point: how far along, at which bearing."""
        xy = shapely.get_coordinates(self.road_line) - self.centre
        found, begin = [], 0.0
        for one, other in pairwise(xy):
            way, length = other - one, math.hypot(*(other - one))
            # one + t way lies on the circle: t^2 way.way + 2 t one.way + one.one - radius^2 = 0
            half, rest = float(one @ way), float(one @ one) - radius**2
            under = half**2 - length**2 * rest
            if length > 0.0 and under >= 0.0:
                roots = {(-half - math.sqrt(under)) / length**2, (-half + math.sqrt(under)) / length**2}
                met = [root for root in roots if 0.0 <= root < 1.0]
                found += [(begin + at * length, float(azimuth_deg(*(one + at * way)))) for at in met]
            begin += length
        return found

    def _arc(self, tower: int, start: float, sweep: float) -> NDArray[np.float64]:
        radius = self.radii_m[tower - 1]
        angles = np.radians(arc_bearings(radius, start, sweep))
        return np.column_stack(
            [self.centre[0] + radius * np.sin(angles), self.centre[1] + radius * np.cos(angles)]
        )

    def finish(self, edges: _Edges) -> None:
        """Join the places along the road and round each track in their order."""
        net = edges.net
        for (low, one), (high, other) in pairwise(sorted(self.road)):
            bent = shapely.get_coordinates(substring(self.road_line, low, high))
            winding = bent if len(bent) > 2 else None
            net.join(one, other, on_foot=False, length_m=high - low, bent_m=winding)
        for tower, marks in self.on_track.items():
            zero = 0.0 if self.limits_deg is None else self.limits_deg[0]
            ordered = sorted((within_turn(bearing - zero), place) for bearing, place in marks)
            if self.limits_deg is None and len(ordered) > 1:
                ordered.append((ordered[0][0] + 360.0, ordered[0][1]))
            for (low, one), (high, other) in pairwise(ordered):
                sweep = high - low
                length = math.radians(sweep) * self.radii_m[tower - 1]
                bent = self._arc(tower, zero + low, sweep) if sweep > 1e-6 else None
                net.join(one, other, on_foot=True, length_m=length, bent_m=bent)


def _stated_road(edges: _Edges, road_m: Sequence[tuple[float, float]]) -> NDArray[np.float64]:
    """Return a stated road from the pivot point outward, as far as the field's edge."""
    road = shapely.LineString(road_m[::-1])
    met = shapely.get_coordinates(shapely.intersection(road, shapely.union_all(edges.lines[edges.outer])))
    if len(met):
        # What lies beyond the edge is open ground, where ways are found without it.
        along = [float(shapely.line_locate_point(road, shapely.Point(each))) for each in met]
        road = substring(road, 0.0, min(along))
    return np.asarray(shapely.get_coordinates(road), dtype=float)


def _road_end(
    edges: _Edges, closed: BaseGeometry, centre: tuple[float, float], start: tuple[object, ...]
) -> tuple[float, float]:
    """Return where the road leaves the edge: nearest to the start, but not through a pond or a yard."""
    point = shapely.Point(*(float(value) for value in start))  # type: ignore[arg-type]
    outer = edges.lines[edges.outer]
    line = outer[np.argmin(shapely.distance(outer, point))]
    nearest = shapely.line_interpolate_point(line, shapely.line_locate_point(line, point))
    along = [shapely.line_interpolate_point(each, np.arange(0.0, each.length, _EVERY_M)) for each in outer]
    choices = np.concatenate([[nearest], *along])
    choices = choices[np.argsort(shapely.distance(choices, point), kind="stable")]
    roads = shapely.linestrings([[(choice.x, choice.y), centre] for choice in choices])
    clear = np.flatnonzero(~shapely.intersects(closed, roads))
    best = choices[clear[0]] if clear.size else nearest
    return best.x, best.y

"""Ways between stops over a farm: straight before the crop is up, along its edges and rows after.

With the crop up nobody drives through it. What can be driven is the edge of each field, the open
ground between fields and one straight road from the edge to each pivot point; what is walked are
rows, edges of blocks and ponds, and the wheel tracks of pivots. The last steps from there to the
flag go straight: across half a lateral spacing, or from the nearest wheel track along the radius.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from ringrow.coverage.crop_ways import RouteSpot, field_ways
from ringrow.errors import DomainError
from ringrow.frame import Frame
from ringrow.geometry.ways import WayNet, clear_pairs, corners, go_round, quickest_ways

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from ringrow.coverage.field import FieldLayout
    from ringrow.geometry.ways import QuickestWays

    _Move = Callable[[NDArray[np.float64]], NDArray[np.float64]]

MPH_M_S = 0.44704
"""One mile an hour [m/s], exact."""
DRIVE_M_S = 8 * MPH_M_S
"""Driving over a field and along its edge, 8 mph [m/s]: our assumption, no source."""
WALK_M_S = 2.5 * MPH_M_S
"""Walking over a field, 2.5 mph [m/s]: our assumption, no source."""
_FAR_M = 300_000.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RouteWays:
    """The quickest ways between a start and the stops.

    Parameters
    ----------
    frame : Frame
        The frame all lines are in.
    ways : QuickestWays
        Times and ways; place 0 is the start, then the stops in their order.
    """

    frame: Frame
    ways: QuickestWays

    def line(self, from_place: int, to_place: int) -> tuple[NDArray[np.float64], float, float]:
        """Return the way from one place to another.

        Parameters
        ----------
        from_place, to_place : int
            0 for the start, 1 and up for the stops. [-]

        Returns
        -------
        lonlat : ndarray, shape (n, 2)
            Longitude and latitude along the way, both ends in. [deg]
        driven_m, walked_m : float
            Lengths of what is driven and of what is walked. [m]
        """
        xy, driven_m, walked_m = self.ways.line(from_place, to_place)
        return np.column_stack(self.frame.to_lonlat(xy[:, 0], xy[:, 1])), driven_m, walked_m


def straight_ways(
    layouts: Sequence[FieldLayout],
    start: RouteSpot,
    stops: Sequence[RouteSpot],
    *,
    drive_m_s: float = DRIVE_M_S,
) -> RouteWays:
    """Return ways for bare ground: straight lines that go round ground that is not farmed.

    Parameters
    ----------
    layouts : sequence of FieldLayout
        The farm's fields.
    start : RouteSpot
        Where crews start.
    stops : sequence of RouteSpot
        The stops.
    drive_m_s : float, default 8 mph
        Speed, above 0. [m/s]

    Returns
    -------
    RouteWays
        Ways and times, all of it driven. A place on ground that is not farmed may cross that ground.

    Raises
    ------
    DomainError
        If a speed cannot be, or the stops lie too far apart for one route.
    """
    frame, xy = _common_frame([start, *stops], [drive_m_s])
    closed = [outline for layout in layouts for outline in go_round(_moved(layout, frame))]
    net = WayNet()
    for x, y in np.vstack([xy, corners(closed)]):
        net.place(x, y)
    _join_clear(net, range(len(net.places)), closed)
    return _ways(net, frame, list(range(len(xy))), drive_m_s, drive_m_s)


def crop_ways(
    layouts: Sequence[FieldLayout],
    start: RouteSpot,
    stops: Sequence[RouteSpot],
    *,
    drive_m_s: float = DRIVE_M_S,
    walk_m_s: float = WALK_M_S,
) -> RouteWays:
    """Return ways for a standing crop: edges, rows, pivot roads and wheel tracks.

    Parameters
    ----------
    layouts : sequence of FieldLayout
        The farm's fields.
    start : RouteSpot
        Where crews start; pivot roads are taken to leave each field's edge where it is nearest to it.
    stops : sequence of RouteSpot
        The stops.
    drive_m_s, walk_m_s : float, default 8 and 2.5 mph
        Speeds, above 0. [m/s]

    Returns
    -------
    RouteWays
        Ways and times.

    Raises
    ------
    DomainError
        If a speed cannot be, or the stops lie too far apart for one route.

    Notes
    -----
    Between fields a way keeps to ground outside every field. Wheel tracks of a lateral move run beside
    its cart's path, drawn on to the field's edge. Bends of a machine and ground past
    its last tower are reached from the end of the nearest track, or from the field's edge.
    """
    spots = [start, *stops]
    frame, xy = _common_frame(spots, [drive_m_s, walk_m_s])
    net, asked, open_places = WayNet(), [-1] * len(spots), []
    outside = list(range(len(spots)))
    fields = []
    for layout in layouts:
        own = {at: spot for at, spot in enumerate(spots) if at in outside and _in_field(layout, spot)}
        outside = [at for at in outside if at not in own]
        found = field_ways(layout, own, start_lonlat=(start.lon, start.lat))
        move = _to_frame(layout, frame)
        moved = _copy(net, found.net, move)
        for at, place in found.stops.items():
            asked[at] = moved + place
        open_places += [moved + place for place in found.edge_places]
        fields.append(shapely.transform(layout.field.boundary, move))
    for at in outside:
        asked[at] = net.place(*xy[at])
        open_places.append(asked[at])
    closed = [shapely.Polygon(part.exterior) for field in fields for part in shapely.get_parts(field)]
    _join_clear(net, open_places, closed)
    return _ways(net, frame, asked, drive_m_s, walk_m_s)


def _in_field(layout: FieldLayout, spot: RouteSpot) -> bool:
    if spot.field is not None:
        return spot.field == layout.field.name
    x, y = layout.field.frame.to_xy(spot.lon, spot.lat)
    return bool(shapely.contains_xy(layout.field.boundary, x, y))


def _common_frame(
    spots: Sequence[RouteSpot], speeds_m_s: Sequence[float]
) -> tuple[Frame, NDArray[np.float64]]:
    """Return a frame about all places, and their x and y in it."""
    for speed in speeds_m_s:
        if not 0 < speed < math.inf:
            message = f"speed of a crew: found {speed:g} m/s; allowed: above 0"
            raise DomainError(message)
    lonlat = np.array([(spot.lon, spot.lat) for spot in spots])
    frame = Frame.about(shapely.MultiPoint(lonlat))
    xy = np.column_stack(frame.to_xy(lonlat[:, 0], lonlat[:, 1]))
    far = np.hypot(xy[:, 0], xy[:, 1]).max()
    if not far < _FAR_M:
        message = (
            f"route: found stops {2 * far / 1000:,.0f} km apart; allowed: up to {2 * _FAR_M / 1000:,.0f} km; "
            "look for a flag or start with a wrong position"
        )
        raise DomainError(message)
    return frame, xy


def _copy(net: WayNet, part: WayNet, move: _Move) -> int:
    """Add a field's net to the farm's; return the position its first place got."""
    begin = len(net.places)
    for x, y in move(np.array(part.places).reshape(-1, 2)).tolist():
        net.place(x, y)
    for way, (one, other) in enumerate(part.ends):
        bent = part.bent_m.get(way)
        net.join(
            begin + one,
            begin + other,
            on_foot=part.walked[way],
            length_m=part.length_m[way],
            bent_m=None if bent is None else move(bent),
        )
    return begin


def _to_frame(layout: FieldLayout, frame: Frame) -> _Move:
    own = layout.field.frame

    def move(points: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.column_stack(frame.to_xy(*own.to_lonlat(points[:, 0], points[:, 1])))

    return move


def _moved(layout: FieldLayout, frame: Frame) -> BaseGeometry:
    return shapely.transform(layout.field.exclusions, _to_frame(layout, frame))


def _join_clear(net: WayNet, places: Sequence[int], closed: Sequence[BaseGeometry]) -> None:
    held = list(dict.fromkeys(places))
    one, other = clear_pairs(np.array([net.places[at] for at in held]), closed)
    for a, b in zip(one.tolist(), other.tolist(), strict=True):
        net.join(held[a], held[b], on_foot=False)


def _ways(net: WayNet, frame: Frame, asked: Sequence[int], drive_m_s: float, walk_m_s: float) -> RouteWays:
    ways = quickest_ways(net, asked, drive_m_s=drive_m_s, walk_m_s=walk_m_s)
    lost = np.flatnonzero(~np.isfinite(ways.travel_s[0]))
    if lost.size:
        lon, lat = frame.to_lonlat(*net.places[asked[lost[0]]])
        message = (
            f"route: found no way to {float(lat):.6f}, {float(lon):.6f} that keeps out of the crop; "
            "look at the outlines of the fields there, or leave --crop up out"
        )
        raise DomainError(message)
    return RouteWays(frame=frame, ways=ways)

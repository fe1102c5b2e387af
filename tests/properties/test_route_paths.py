"""Ways of a crew: shortest round anything convex, and never through a standing crop."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from effort import effort
from ringrow.coverage.route_ways import crop_ways, straight_ways
from route_fields import FRAME, circle_spot, drip_field, pivot_field, row_spot, spot

POND = shapely.box(-60, 20, 40, 120)
STEP_M = 1.0


def _points(lonlat: np.ndarray) -> np.ndarray:
    """Points every metre along a way, in the frame."""
    xy = np.column_stack(FRAME.to_xy(lonlat[:, 0], lonlat[:, 1]))
    line = shapely.LineString(xy)
    at = np.arange(0, line.length, STEP_M)
    return shapely.get_coordinates(shapely.line_interpolate_point(line, at))


@settings(max_examples=effort(40))
@given(seed=st.integers(0, 100_000))
def test_the_way_round_a_convex_pond_is_the_shorter_side_of_the_hull(seed: int) -> None:
    rng = np.random.default_rng(seed)
    pond = shapely.MultiPoint(rng.uniform(-60, 60, (8, 2))).convex_hull
    angle = rng.uniform(0, 2 * math.pi, 2)
    (x, y), (to_x, to_y) = 150 * np.column_stack([np.cos(angle), np.sin(angle)])
    ways = straight_ways([drip_field(exclusions=pond)], spot(x, y), [spot(to_x, to_y)])
    direct = shapely.LineString([(x, y), (to_x, to_y)])
    best = direct.length
    if direct.intersects(pond):
        # Both ways round lie on the convex hull of the pond and the two ends.
        ring = shapely.union_all([pond, direct]).convex_hull.exterior
        one = ring.line_locate_point(shapely.Point(x, y))
        other = ring.line_locate_point(shapely.Point(to_x, to_y))
        best = min(abs(one - other), ring.length - abs(one - other))
    # A way may cut a centimetre into a corner, which makes it two shorter at most.
    assert ways.line(0, 1)[1] == pytest.approx(best, abs=0.02)


@settings(max_examples=effort(20))
@given(seed=st.integers(0, 100_000))
def test_no_straight_way_enters_a_pond(seed: int) -> None:
    rng = np.random.default_rng(seed)
    ponds = shapely.MultiPolygon([shapely.box(x, -40, x + 20, rng.uniform(-20, 90)) for x in (-90, -30, 30)])
    stops = [spot(*rng.uniform(-190, 190, 2)) for _ in range(6)]
    spots = [one for one in stops if not ponds.contains(shapely.Point(FRAME.to_xy(one.lon, one.lat)))]
    ways = straight_ways([drip_field(exclusions=ponds)], spot(-200, -200), spots)
    for at in range(len(spots)):
        assert not shapely.contains_xy(
            ponds.buffer(-0.011, quad_segs=1), *_points(ways.line(0, at + 1)[0]).T
        ).any()


def _on_edge(xy: np.ndarray, ground: shapely.Geometry) -> np.ndarray:
    return shapely.distance(ground.boundary, shapely.points(xy)) < 0.02


@settings(max_examples=effort(20))
@given(seed=st.integers(0, 100_000))
def test_with_the_crop_up_nobody_leaves_rows_edges_roads_and_tracks(seed: int) -> None:
    """A circle east of a drip field with a pond, gate at the drip field's south-west corner."""
    rng = np.random.default_rng(seed)
    drip, circle = drip_field(exclusions=POND), pivot_field(west=300.0)
    held = drip.drip[0].ground
    rows = []
    while len(rows) < 4:
        x, lateral, off = rng.uniform(-185, 185), int(rng.integers(1, 201)), rng.uniform(-1, 1)
        if shapely.Point(x, 199 - 2 * (lateral - 1)).within(held):
            rows.append(row_spot(x, lateral, off=off))
    bearing, radius = rng.uniform(0, 2 * math.pi, 4), rng.uniform(10, 400, 4)
    centre = 300.0 + 420.0
    circles = [
        circle_spot(centre + r * math.sin(b), r * math.cos(b)) for b, r in zip(bearing, radius, strict=True)
    ]
    stops = [*rows, *circles]
    ends = np.column_stack(FRAME.to_xy([one.lon for one in stops], [one.lat for one in stops]))
    ways = crop_ways([drip, circle], spot(-200, -200), stops)
    # The edge nearest the gate is the circle field's west side, at its height.
    road = shapely.LineString([(300, -200), (centre, 0)])
    for one in range(len(stops) + 1):
        for other in range(one):
            xy = _points(ways.line(one, other)[0])
            outside = ~shapely.contains_xy(drip.field.boundary, *xy.T)
            outside &= ~shapely.contains_xy(circle.field.boundary, *xy.T)
            from_centre = np.hypot(xy[:, 0] - centre, xy[:, 1])
            on_track = np.abs(from_centre[:, None] - [100, 200, 300, 400]).min(axis=1) < 0.02
            on_road = shapely.distance(road, shapely.points(xy)) < 0.02
            # Laterals stand at odd y; a row goes on over headland and up to the pond.
            in_drip = shapely.contains_xy(drip.field.boundary, *xy.T) & ~shapely.contains_xy(POND, *xy.T)
            on_row = in_drip & (np.abs((xy[:, 1] - 1) % 2.0 - 0.0) < 0.02)
            on_row |= in_drip & (np.abs((xy[:, 1] - 1) % 2.0 - 2.0) < 0.02)
            allowed = outside | on_track | on_road | on_row
            allowed |= _on_edge(xy, drip.field.boundary) | _on_edge(xy, circle.field.boundary)
            allowed |= _on_edge(xy, POND)
            for at in {one, other} - {0}:
                # The last steps: half a spacing, or half a span along the radius.
                away = np.hypot(*(xy - ends[at - 1]).T)
                allowed |= away <= (1.02 if at <= len(rows) else 50.02)
            assert allowed.all(), (one, other, xy[~allowed][:3])

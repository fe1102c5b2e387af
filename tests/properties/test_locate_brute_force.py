"""Answers in closed form against brute force over the real geometry.

Brute force: for pivots `math.hypot` and the nearest of all tower radii; for drip the distance from
each point to each piece of tape as a shapely line, and its station by shapely's linear referencing.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from effort import effort
from ringrow.coverage.accuracy import parse_accuracy
from ringrow.coverage.chances import LAYING_SIGMA_M, lateral_chances
from ringrow.coverage.field import Field, FieldLayout
from ringrow.coverage.layout import lay_out
from ringrow.coverage.locate import drip_places, locate_many, pivot_places
from ringrow.coverage.locate_pivots import PARTS
from ringrow.equipment.drip import DripBlock, Tape, Zone
from ringrow.equipment.pivot import EndGun, Pivot, Sector
from ringrow.frame import Frame
from ringrow.geometry.laterals import lateral_lines, piece_name

POINTS = min(100_000, effort(60_000))
"""30,000 in the normal run, 100,000 when told to be thorough."""
TIE_M = 1e-6
"""Two distances nearer than this to each other are a tie: either answer is right."""


def crowded_field() -> FieldLayout:
    """A field of 800 x 700 m: two pivots that overlap, and slanting tape in what they leave, with holes."""
    west = Pivot(
        name="West",
        x_m=-180.0,
        y_m=120.0,
        convergence_deg=-0.0012,
        spans_m=(49.0, 51.5, 38.0),
        overhang_m=11.0,
        throw_m=6.0,
        end_gun=EndGun(reach_m=25.0),
        outlets_m=tuple(2.5 + 2.9 * number for number in range(50)),
    )
    east = Pivot(
        name="East",
        x_m=120.0,
        y_m=100.0,
        spans_m=(40.0, 40.0, 40.0, 40.0),
        sector=Sector(start_deg=290.0, stop_deg=200.0),
        outlets_m=(10.0, 30.0, 35.0, 90.0, 91.0, 150.0),
    )
    drip = DripBlock(
        name="Corners",
        area=shapely.box(-400, -350, 400, 350),
        heading_deg=63.0,
        spacing_m=6.0,
        number_from_deg=0.0,
        header_deg=243.0,
        headland_m=7.0,
        tape=Tape(emitter_spacing_m=0.6),
        zones=(Zone(name="A", first=1, last=60), Zone(name="B", first=70, last=140)),
        not_under=("West", "East"),
    )
    field = Field(
        name="Crowded",
        frame=Frame(lon=-101.5, lat=36.75),
        boundary=shapely.box(-400, -350, 400, 350),
        exclusions=shapely.MultiPolygon(
            [shapely.box(-60, -250, 90, -150), shapely.Polygon([(200, -300), (330, -280), (260, -120)])]
        ),
        pivots=(west, east),
        drip=(drip,),
    )
    return lay_out(field)


@pytest.fixture(scope="module")
def layout() -> FieldLayout:
    return crowded_field()


@pytest.fixture(scope="module")
def points() -> tuple[np.ndarray, np.ndarray]:
    """Points all over the field and 60 m beyond."""
    rng = np.random.default_rng(20261125)
    return rng.uniform(-460, 460, POINTS), rng.uniform(-410, 410, POINTS)


def nearest_two(lines: np.ndarray, places: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Index of the nearest line of each place, its distance, and the distance of the second nearest."""
    best = np.full(len(places), np.inf)
    second, winner = best.copy(), np.zeros(len(places), int)
    for index, line in enumerate(lines):
        distance = shapely.distance(line, places)
        nearer = distance < best
        second = np.where(nearer, best, np.minimum(second, distance))
        winner[nearer] = index
        best = np.minimum(best, distance)
    return winner, best, second


def test_drip_answers_of_many_points(layout: FieldLayout, points: tuple[np.ndarray, np.ndarray]) -> None:
    (laid,) = layout.drip
    grid, lines = laid.grid, lateral_lines(laid.grid)
    places = shapely.points(*points)
    winner, best, second = nearest_two(lines, places)
    found = drip_places(laid, *points)
    np.testing.assert_allclose(found.distance_m, best, rtol=0, atol=1e-8)
    clear = second - best > TIE_M
    assert clear.mean() > 0.99
    winner, places = winner[clear], places[clear]
    np.testing.assert_array_equal(found.lateral[clear], grid.piece_lateral[winner])
    pieces = np.bincount(grid.piece_lateral)[grid.piece_lateral[winner]]
    np.testing.assert_array_equal(found.letter[clear], np.where(pieces > 1, grid.piece_letter[winner], -1))
    # Station: along the piece by linear referencing, from where the piece starts.
    start = (grid.piece_start_m - grid.station_zero_m[grid.piece_lateral - 1])[winner]
    station = start + shapely.line_locate_point(lines[winner], places)
    np.testing.assert_allclose(found.station_m[clear], station, rtol=0, atol=1e-8)
    # Offset: distance to the endless line the piece lies on, signed by the side.
    ends = shapely.get_coordinates(lines[winner]).reshape(-1, 2, 2)
    along = (ends[:, 1] - ends[:, 0]) / shapely.length(lines[winner])[:, None]
    away = np.column_stack(points)[clear] - ends[:, 0]
    # Header in the southwest, numbered from the north: higher numbers lie to the right of the tape.
    right = away[:, 0] * along[:, 1] - away[:, 1] * along[:, 0]
    np.testing.assert_allclose(found.offset_m[clear], right, rtol=0, atol=1e-8)
    inside = shapely.intersects(laid.wetted, shapely.points(*points))
    np.testing.assert_array_equal(found.inside, inside)


def test_emitters_of_points_by_listing_every_emitter(layout: FieldLayout) -> None:
    (laid,) = layout.drip
    grid, lines = laid.grid, lateral_lines(laid.grid)
    rng = np.random.default_rng(3)
    x, y = rng.uniform(-400, 400, (2, 2_000))
    found = drip_places(laid, x, y)
    start = grid.piece_start_m - grid.station_zero_m[grid.piece_lateral - 1]
    for index in range(len(x)):
        piece = int(
            np.flatnonzero(
                (grid.piece_lateral == found.lateral[index])
                & (grid.piece_letter == max(found.letter[index], 0))
            )[0]
        )
        stations = 0.3 + 0.6 * np.arange(2_000)
        stop = start[piece] + lines[piece].length
        on_piece = np.flatnonzero((stations >= start[piece] - 1e-6) & (stations <= stop + 1e-6))
        if len(on_piece) == 0:
            assert found.emitter[index] == 0
            continue
        away = np.abs(stations[on_piece] - found.station_m[index])
        assert away[list(on_piece).index(found.emitter[index] - 1)] <= away.min() + 1e-6


@pytest.mark.parametrize("index", [0, 1])
def test_pivot_answers_of_many_points(
    layout: FieldLayout, points: tuple[np.ndarray, np.ndarray], index: int
) -> None:
    laid = layout.pivots[index]
    pivot = laid.pivot
    found = pivot_places(laid, *points, 2.0)
    x, y = (axis.tolist() for axis in points)
    distance = np.array([math.hypot(a - pivot.x_m, b - pivot.y_m) for a, b in zip(x, y, strict=True)])
    np.testing.assert_allclose(found.distance_m, distance, rtol=0, atol=1e-9)
    bearing = np.array([math.atan2(a - pivot.x_m, b - pivot.y_m) for a, b in zip(x, y, strict=True)])
    turn = np.degrees(bearing) - pivot.convergence_deg - found.azimuth_deg
    np.testing.assert_allclose((turn + 180) % 360 - 180, 0, atol=1e-9)
    radii = np.array(pivot.tower_radii_m)
    off = np.abs(distance[:, None] - radii)
    order = np.sort(off, axis=1)
    clear = order[:, 1] - order[:, 0] > TIE_M
    np.testing.assert_array_equal(found.tower[clear], np.argmin(off, axis=1)[clear] + 1)
    np.testing.assert_array_equal(found.inside, shapely.intersects(laid.wetted, shapely.points(*points)))
    towers_passed = (distance[:, None] > radii).sum(axis=1)
    np.testing.assert_array_equal(found.span, np.where(towers_passed < len(radii), towers_passed + 1, 0))
    on_pipe = distance <= pivot.length_m
    away = np.abs(distance[:, None] - np.array(pivot.outlets_m))
    nearest = np.argmin(away, axis=1) + 1
    np.testing.assert_array_equal(found.outlet, np.where(on_pipe, nearest, 0))


def test_whole_answers_are_made_of_the_same_numbers(
    layout: FieldLayout, points: tuple[np.ndarray, np.ndarray]
) -> None:
    """Every answer of `locate_many` on many points against shapes and array answers."""
    x, y = points
    lon, lat = layout.field.frame.to_lonlat(x, y)
    x, y = layout.field.frame.to_xy(lon, lat)
    places = locate_many([layout], lon, lat, accuracy=parse_accuracy("2 m r95"))
    geometry = shapely.points(x, y)
    held = shapely.intersects(layout.field.boundary, geometry)
    farmable = held & shapely.intersects(layout.farmable, geometry)
    wet = np.zeros(POINTS, bool)
    for system in layout.systems:
        wet |= shapely.intersects(system.wetted, geometry)
    assert [place.field is not None for place in places] == held.tolist()
    assert [place.farmable for place in places] == farmable.tolist()
    assert [place.irrigated for place in places] == (farmable & wet).tolist()
    pivots = [pivot_places(laid, x, y, 1.0) for laid in layout.pivots]
    drip = drip_places(layout.drip[0], x, y)
    for index in np.flatnonzero(held).tolist():
        place = places[index]
        distances = [answer.distance_m[index] for answer in pivots]
        assert [pivot.distance_m for pivot in place.pivots] == sorted(distances)
        for pivot in place.pivots:
            answer = pivots[("West", "East").index(pivot.name)]
            assert PARTS.index(pivot.part) == answer.part[index]
            assert pivot.tower == answer.tower[index]
            assert (pivot.span or 0) == answer.span[index]
        (block,) = place.drip
        assert block.lateral == drip.lateral[index]
        assert block.piece == (piece_name(int(drip.letter[index])) if drip.letter[index] >= 0 else None)
        assert block.station_m == drip.station_m[index]


def chances_by_hand(laid, x: float, y: float, fix: float) -> tuple[dict[int, float], float]:
    """Chance of every lateral with tape within 3 sigma along the row, and of none, one lateral at a time."""
    grid = laid.grid
    sigma = math.sqrt(fix**2 + LAYING_SIGMA_M**2)
    place = shapely.Point(x, y)
    chances: dict[int, float] = {}
    for line, number in zip(lateral_lines(grid), grid.piece_lateral.tolist(), strict=True):
        (x1, y1), (x2, y2) = line.coords
        along = ((x - x1) * (x2 - x1) + (y - y1) * (y2 - y1)) / line.length
        if max(-along, along - line.length) > 3 * sigma:
            continue
        across = abs((x - x1) * (y2 - y1) - (y - y1) * (x2 - x1)) / line.length
        assert across <= place.distance(line) + 1e-9
        half = grid.spacing_m / 2
        chances[number] = 0.5 * (
            math.erf((across + half) / (sigma * math.sqrt(2)))
            - math.erf((across - half) / (sigma * math.sqrt(2)))
        )
    return chances, 1 - sum(chances.values())


@pytest.mark.parametrize("fix", [0.05, 2.0, 15.0, 120.0])
def test_candidates_of_points_by_weighing_every_lateral(layout: FieldLayout, fix: float) -> None:
    (laid,) = layout.drip
    rng = np.random.default_rng(int(fix * 100))
    x, y = rng.uniform(-420, 420, (2, 100))
    found = lateral_chances(laid.grid, x, y, fix)
    for index, listed in enumerate(found.candidates()):
        chances, elsewhere = chances_by_hand(laid, x[index], y[index], fix)
        assert found.elsewhere[index] == pytest.approx(elsewhere, abs=1e-9)
        for candidate in listed:
            assert candidate.chance == pytest.approx(chances[candidate.lateral], abs=1e-9)
        expected = []
        for chance in sorted(chances.values(), reverse=True):
            if sum(expected) >= 0.95 or chance < 0.001:
                break
            expected.append(chance)
        assert [each.chance for each in listed] == pytest.approx(expected, abs=1e-9)


@given(
    heading=st.floats(0, 359.9),
    spacing=st.floats(0.8, 40.0),
    headland=st.floats(0, 30.0),
    number_side=st.sampled_from([-90.0, 90.0, 40.0]),
    header_behind=st.booleans(),
    corners=st.lists(st.tuples(st.floats(-150, 150), st.floats(-150, 150)), min_size=3, max_size=7),
    hole=st.tuples(st.floats(-80, 80), st.floats(-80, 80), st.floats(1, 60)),
    seed=st.integers(0, 2**32 - 1),
)
def test_nearest_tape_in_any_block(
    heading: float,
    spacing: float,
    headland: float,
    number_side: float,
    header_behind: bool,
    corners: list[tuple[float, float]],
    hole: tuple[float, float, float],
    seed: int,
) -> None:
    """Any heading, spacing and outline, with a pond: 60 points each against all pieces of tape."""
    area = shapely.MultiPoint(corners).convex_hull.buffer(20, quad_segs=2)
    pond = shapely.Point(hole[:2]).buffer(hole[2], quad_segs=3)
    block = DripBlock(
        name="Any",
        area=area,
        heading_deg=heading,
        spacing_m=spacing,
        number_from_deg=(heading + number_side) % 360,
        header_deg=(heading + 180.0 * header_behind) % 360,
        headland_m=headland,
    )
    frame = Frame(lon=-101.5, lat=36.75)
    field = Field(name="Any", frame=frame, boundary=area, exclusions=pond, drip=(block,))
    (laid,) = lay_out(field).drip
    rng = np.random.default_rng(seed)
    x, y = rng.uniform(-220, 220, (2, 60))
    found = drip_places(laid, x, y)
    lines = lateral_lines(laid.grid)
    if len(lines) == 0:
        assert found.lateral.tolist() == [0] * 60
        return
    winner, best, second = nearest_two(lines, shapely.points(x, y))
    np.testing.assert_allclose(found.distance_m, best, rtol=0, atol=1e-8)
    clear = second - best > TIE_M
    np.testing.assert_array_equal(found.lateral[clear], laid.grid.piece_lateral[winner][clear])

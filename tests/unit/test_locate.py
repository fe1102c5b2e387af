"""What is at a place: fields, spans, towers, parts, laterals, on a small farm drawn by hand."""

from __future__ import annotations

import math
import time
from dataclasses import replace

import numpy as np
import pytest
import shapely

from ringrow.coverage.accuracy import DEFAULT_ACCURACY, parse_accuracy
from ringrow.coverage.field import Field
from ringrow.coverage.layout import lay_out
from ringrow.coverage.locate import (
    drip_place_at,
    drip_places,
    locate,
    locate_many,
    pivot_place_at,
    pivot_places,
)
from ringrow.coverage.locate_field import checked_lonlat, covers, likely_slip, nearest_field
from ringrow.coverage.locate_pivots import PARTS, nearest_towers
from ringrow.equipment.drip import DripBlock, Tape, Zone
from ringrow.equipment.pivot import EndGun, Pivot, Sector
from ringrow.errors import PlaceError
from ringrow.frame import Frame, distance_azimuth

HALF_M = 400.0
SQUARE = shapely.box(-HALF_M, -HALF_M, HALF_M, HALF_M)
EXACT = parse_accuracy("0.01 m r95")

PIVOT = Pivot(
    name="Windmill pivot",
    x_m=0.0,
    y_m=0.0,
    spans_m=(50.0, 50.0, 50.0, 50.0, 50.0),
    overhang_m=10.0,
    throw_m=5.0,
    panel_zero_deg=90.0,
    end_gun=EndGun(reach_m=30.0),
    outlets_m=tuple(3.0 + 3.0 * number for number in range(86)),
)
DRIP = DripBlock(
    name="Elevator drip",
    area=SQUARE,
    heading_deg=90.0,
    spacing_m=10.0,
    number_from_deg=0.0,
    header_deg=270.0,
    headland_m=20.0,
    tape=Tape(emitter_spacing_m=0.5),
    zones=(Zone(name="North half", first=1, last=40), Zone(name="South half", first=41, last=78)),
)
PIVOT_FRAME = Frame(lon=-101.50, lat=36.75)
DRIP_FRAME = Frame(lon=-101.48, lat=36.75)
PIVOT_FIELD = lay_out(
    Field(
        name="Windmill quarter",
        frame=PIVOT_FRAME,
        boundary=SQUARE,
        exclusions=shapely.box(200, 200, 250, 250),
        pivots=(PIVOT,),
    )
)
DRIP_FIELD = lay_out(
    Field(
        name="Elevator quarter",
        frame=DRIP_FRAME,
        boundary=SQUARE,
        exclusions=shapely.box(-50, -50, 50, 50),
        drip=(DRIP,),
    )
)
FARM = (PIVOT_FIELD, DRIP_FIELD)
(LAID_PIVOT,) = PIVOT_FIELD.pivots
(LAID_DRIP,) = DRIP_FIELD.drip


def at(x: float, y: float, *, frame: Frame = PIVOT_FRAME, farm=FARM, accuracy=EXACT):
    lon, lat = frame.to_lonlat(x, y)
    return locate(farm, float(lon), float(lat), accuracy=accuracy)


def on_pivot(distance_m: float, azimuth_deg: float = 0.0):
    bearing = math.radians(azimuth_deg)
    (place,) = at(distance_m * math.sin(bearing), distance_m * math.cos(bearing)).pivots
    return place


@pytest.mark.parametrize(
    ("distance_m", "span", "part", "tower"),
    [
        (0.0, 1, "span", 1),
        (49.0, 1, "span", 1),
        (51.0, 2, "span", 1),
        (74.0, 2, "span", 1),
        (76.0, 2, "span", 2),
        (249.0, 5, "span", 5),
        (251.0, None, "overhang", 5),
        (259.0, None, "overhang", 5),
        (261.0, None, "throw", 5),
        (266.0, None, "gun", 5),
        (289.0, None, "gun", 5),
        (291.0, None, "beyond", 5),
    ],
)
def test_span_part_and_tower_by_distance(distance_m: float, span: int | None, part: str, tower: int) -> None:
    place = on_pivot(distance_m)
    assert (place.span, place.part, place.tower) == (span, part, tower)
    assert place.tower_offset_m == pytest.approx(distance_m - 50.0 * tower, abs=1e-6)


def test_at_a_tower_itself_the_span_before_it_ends() -> None:
    found = pivot_places(LAID_PIVOT, [0.0], [50.0], 1.0)
    assert (found.span[0], found.tower[0], found.tower_offset_m[0]) == (1, 1, 0.0)


def test_halfway_between_towers_the_inner_one_is_named() -> None:
    tower, offset = nearest_towers(PIVOT, [75.0, 175.0])
    assert tower.tolist() == [1, 3]
    assert offset.tolist() == [25.0, 25.0]


def test_without_a_gun_there_is_no_gun_part() -> None:
    plain = replace(LAID_PIVOT, pivot=replace(PIVOT, end_gun=None))
    parts = pivot_places(plain, [0.0, 0.0], [264.0, 270.0], 1.0).part
    assert [PARTS[part] for part in parts] == ["throw", "beyond"]


def test_a_gun_that_reaches_less_than_the_last_sprinkler_leaves_the_throw() -> None:
    weak = replace(LAID_PIVOT, pivot=replace(PIVOT, end_gun=EndGun(reach_m=2.0)))
    parts = pivot_places(weak, [0.0, 0.0], [264.0, 270.0], 1.0).part
    assert [PARTS[part] for part in parts] == ["throw", "beyond"]


@pytest.mark.parametrize(("azimuth", "panel"), [(0.0, 270.0), (90.0, 0.0), (89.0, 359.0), (300.0, 210.0)])
def test_panel_degrees_count_from_the_panels_own_zero(azimuth: float, panel: float) -> None:
    place = on_pivot(120.0, azimuth)
    assert place.azimuth_deg == pytest.approx(azimuth, abs=1e-6)
    assert place.panel_deg == pytest.approx(panel, abs=1e-6)


def test_azimuth_is_null_within_a_tenth_of_a_foot_of_the_point() -> None:
    near, off = on_pivot(0.0304), on_pivot(0.0306)
    assert (near.azimuth_deg, near.panel_deg) == (None, None)
    assert off.azimuth_deg is not None
    assert off.panel_deg is not None


def test_azimuth_stays_below_360_just_west_of_north() -> None:
    found = pivot_places(LAID_PIVOT, [-1e-15], [100.0], 1.0)
    assert found.azimuth_deg[0] == 0.0
    zero = pivot_places(replace(LAID_PIVOT, pivot=replace(PIVOT, panel_zero_deg=1e-15)), [0.0], [100.0], 1.0)
    assert zero.panel_deg[0] == 0.0


def test_outlet_is_named_on_the_pipe_only() -> None:
    on, off = on_pivot(120.4), on_pivot(262.0)
    assert (on.outlet, on.outlet_range) == (40, (40, 40))
    assert on.outlet_chance == pytest.approx(1.0)
    assert (off.outlet, off.outlet_range, off.outlet_chance) == (None, None, None)


def test_outlet_unknown_without_outlets() -> None:
    found = pivot_places(replace(LAID_PIVOT, pivot=replace(PIVOT, outlets_m=())), [0.0], [120.0], 1.0)
    assert found.outlet.tolist() == [0]
    assert np.isnan(found.outlet_chance).all()


def test_a_phone_gets_a_run_of_outlets() -> None:
    lon, lat = PIVOT_FRAME.to_lonlat(0.0, 120.4)
    (place,) = locate(FARM, float(lon), float(lat), accuracy=DEFAULT_ACCURACY).pivots
    assert place.outlet == 40
    assert place.outlet_range is not None
    assert place.outlet_range[0] < 40 < place.outlet_range[1]
    assert place.outlet_chance is not None
    assert 0.5 < place.outlet_chance < 0.6


def test_wet_dry_and_not_farmed() -> None:
    wet, dry, yard = at(100, 100), at(390, 390), at(225, 225)
    assert (wet.field, wet.farmable, wet.irrigated) == ("Windmill quarter", True, True)
    assert (dry.field, dry.farmable, dry.irrigated) == ("Windmill quarter", True, False)
    assert (yard.field, yard.farmable, yard.irrigated) == ("Windmill quarter", False, False)


def test_wet_rock_in_a_yard_is_not_irrigated() -> None:
    """The pivot wets it, but it is not farmed: inside is true, irrigated is not."""
    farm = (replace(PIVOT_FIELD, farmable=SQUARE.difference(shapely.box(90, 90, 110, 110))),)
    place = at(100, 100, farm=farm)
    assert (place.farmable, place.irrigated, place.pivots[0].inside) == (False, False, True)


def test_inside_a_part_circle_and_out_of_it() -> None:
    sector = replace(PIVOT, sector=Sector(start_deg=300.0, stop_deg=60.0), end_gun=None)
    farm = (lay_out(replace(PIVOT_FIELD.field, pivots=(sector,))),)
    (inside,) = at(0, 200, farm=farm).pivots
    (outside,) = at(0, -200, farm=farm).pivots
    assert (inside.inside, outside.inside) == (True, False)
    assert outside.span == 4


def test_inside_agrees_with_the_wetted_shape_everywhere() -> None:
    rng = np.random.default_rng(5)
    x, y = rng.uniform(-310, 310, (2, 20_000))
    found = pivot_places(LAID_PIVOT, x, y, 1.0)
    expected = shapely.intersects(LAID_PIVOT.wetted, shapely.points(x, y))
    np.testing.assert_array_equal(found.inside, expected)


def test_a_pivot_that_wets_nothing_has_nothing_inside() -> None:
    empty = replace(LAID_PIVOT, wetted=shapely.Polygon())
    assert not pivot_places(empty, [0.0, 100.0], [0.0, 0.0], 1.0).inside.any()


def test_a_point_on_the_boundary_is_in_the_field() -> None:
    layout = PIVOT_FIELD
    assert covers(layout.field.boundary, [HALF_M, HALF_M], [0.0, HALF_M]).all()
    assert not covers(layout.field.boundary, [HALF_M + 1e-6], [0.0]).any()


def test_where_fields_overlap_the_first_one_holds_the_point() -> None:
    second = replace(PIVOT_FIELD, field=replace(PIVOT_FIELD.field, name="Second"))
    assert at(100, 100, farm=(PIVOT_FIELD, second)).field == "Windmill quarter"
    assert at(100, 100, farm=(second, PIVOT_FIELD)).field == "Second"


def test_outside_every_field_only_pivots_that_wet_the_place_are_named() -> None:
    """The field is shrunk to 200 m, so the pivot throws over its fence on all sides."""
    small = replace(PIVOT_FIELD, field=replace(PIVOT_FIELD.field, boundary=shapely.box(-200, -200, 200, 200)))
    reached, missed = at(0, 240, farm=(small,)), at(0, 390, farm=(small,))
    assert (reached.field, reached.farmable, reached.irrigated) == (None, False, False)
    assert [pivot.name for pivot in reached.pivots] == ["Windmill pivot"]
    assert (missed.field, missed.pivots, missed.drip) == (None, (), ())


def test_outside_every_field_pivots_of_several_fields_come_nearest_first() -> None:
    shrunk = shapely.box(-100, -100, 100, 100)
    west = replace(PIVOT_FIELD, field=replace(PIVOT_FIELD.field, boundary=shrunk))
    frame = Frame(lon=-101.4955, lat=36.75)  # some 402 m east
    other = replace(west.field, name="East quarter", frame=frame, pivots=(replace(PIVOT, name="East pivot"),))
    east = lay_out(other)
    assert [pivot.name for pivot in at(190, 0, farm=(west, east)).pivots] == ["Windmill pivot", "East pivot"]
    assert [pivot.name for pivot in at(210, 0, farm=(west, east)).pivots] == ["East pivot", "Windmill pivot"]


def test_pivots_of_a_field_come_nearest_first_whether_they_wet_or_not() -> None:
    far = replace(PIVOT, name="Far pivot", x_m=300.0)
    farm = (lay_out(replace(PIVOT_FIELD.field, pivots=(far, PIVOT))),)
    assert [pivot.name for pivot in at(-100, 0, farm=farm).pivots] == ["Windmill pivot", "Far pivot"]


def test_drip_blocks_of_a_field_come_nearest_tape_first() -> None:
    south = replace(DRIP, name="South", area=shapely.box(-400, -400, 400, 0))
    north = replace(DRIP, name="North", area=shapely.box(-400, 0, 400, 400))
    farm = (lay_out(replace(DRIP_FIELD.field, drip=(south, north))),)
    assert [block.name for block in at(200, 300, frame=DRIP_FRAME, farm=farm).drip] == ["North", "South"]
    assert [block.name for block in at(200, -300, frame=DRIP_FRAME, farm=farm).drip] == ["South", "North"]


def test_lateral_station_emitter_zone() -> None:
    """Lateral k lies 5 + 10 (k - 1) m south of the north edge; station 0 is 20 m in from the west edge."""
    place = at(-299.9, 400.0 - 35.0 - 1.0, frame=DRIP_FRAME)
    (drip,) = place.drip
    assert (place.field, place.farmable, place.irrigated) == ("Elevator quarter", True, True)
    assert (drip.lateral, drip.piece, drip.zone, drip.inside) == (4, None, "North half", True)
    assert drip.offset_m == pytest.approx(1.0, abs=1e-4)
    assert drip.station_m == pytest.approx(80.1, abs=1e-4)
    assert drip.emitter == 161  # emitters at 79.75 and 80.25 m
    assert [each.lateral for each in drip.candidates] == [4]
    assert drip.elsewhere == pytest.approx(0.0, abs=1e-9)


def test_lateral_in_pieces_names_the_piece() -> None:
    west, east = at(-100.0, 0.0, frame=DRIP_FRAME).drip[0], at(100.0, 0.0, frame=DRIP_FRAME).drip[0]
    assert (west.lateral, west.piece, east.lateral, east.piece) == (40, "a", 40, "b")


def test_in_a_gap_the_nearest_real_piece_answers() -> None:
    place = at(40.0, 3.0, frame=DRIP_FRAME)
    (drip,) = place.drip
    assert not place.farmable
    assert (drip.lateral, drip.piece, drip.inside) == (40, "b", False)
    assert drip.station_m == pytest.approx(430.0, abs=1e-4)
    assert drip.candidates == ()
    assert drip.elsewhere == pytest.approx(1.0)


def test_unzoned_laterals_have_no_zone() -> None:
    (drip,) = at(-300.0, -399.0, frame=DRIP_FRAME).drip
    assert (drip.lateral, drip.zone) == (80, None)


def test_zone_of_every_lateral_is_the_blocks_own_answer() -> None:
    y = 395.0 - 10.0 * np.arange(80)
    found = drip_places(LAID_DRIP, np.full(80, -300.0), y)
    names = [LAID_DRIP.block.zones[zone].name if zone >= 0 else None for zone in found.zone]
    expected = [zone and zone.name for zone in map(LAID_DRIP.block.zone_of, range(1, 81))]
    assert names == expected


def test_without_emitter_spacing_no_emitter_is_named() -> None:
    bare = replace(LAID_DRIP, block=replace(DRIP, tape=None))
    assert drip_places(bare, [-300.0], [395.0]).emitter.tolist() == [0]


def test_a_block_without_tape_names_nothing() -> None:
    """Headlands of 500 m leave no tape in a block of 800 m."""
    farm = (lay_out(replace(DRIP_FIELD.field, drip=(replace(DRIP, headland_m=500.0),))),)
    (drip,) = at(-300.0, 300.0, frame=DRIP_FRAME, farm=farm).drip
    assert (drip.lateral, drip.piece, drip.offset_m, drip.station_m, drip.emitter, drip.zone) == (None,) * 6
    assert (drip.candidates, drip.elsewhere, drip.inside) == ((), 1.0, False)


def test_a_tower_named_on_the_machine_is_exact() -> None:
    place = pivot_place_at(LAID_PIVOT, 250.0, 41.0)
    assert (place.distance_m, place.tower, place.tower_offset_m) == (250.0, 5, 0.0)
    assert (place.span, place.part) == (5, "span")
    assert (place.azimuth_deg, place.panel_deg) == (41.0, 311.0)
    assert (place.outlet_chance, place.outlet_range) == (1.0, (place.outlet, place.outlet))
    assert place.inside


def test_a_tower_named_without_an_azimuth_has_none() -> None:
    place = pivot_place_at(LAID_PIVOT, 100.0)
    assert (place.azimuth_deg, place.panel_deg, place.tower, place.inside) == (None, None, 2, True)


def test_a_place_named_where_the_machine_does_not_walk_is_not_inside() -> None:
    sector = replace(PIVOT, sector=Sector(start_deg=300.0, stop_deg=60.0), end_gun=None)
    (laid,) = lay_out(replace(PIVOT_FIELD.field, pivots=(sector,))).pivots
    assert pivot_place_at(laid, 100.0, 0.0).inside
    assert not pivot_place_at(laid, 100.0, 180.0).inside


@pytest.mark.parametrize("distance_m", [-1.0, 261.0, math.nan])
def test_a_distance_that_is_not_on_the_machine_is_refused(distance_m: float) -> None:
    with pytest.raises(PlaceError, match=r'"Windmill pivot" distance: found .*; allowed: 0 to 260\.0 m'):
        pivot_place_at(LAID_PIVOT, distance_m)


def test_a_place_named_by_lateral_and_station_is_exact() -> None:
    place = drip_place_at(LAID_DRIP, 4, 80.2)
    assert (place.lateral, place.zone, place.piece, place.elsewhere) == (4, "North half", None, 0.0)
    assert place.station_m == pytest.approx(80.2, abs=1e-9)
    assert place.offset_m == pytest.approx(0.0, abs=1e-9)
    assert place.emitter == 161
    assert [(each.lateral, each.chance) for each in place.candidates] == [(4, 1.0)]


def test_a_lateral_that_is_not_on_the_block_is_refused() -> None:
    with pytest.raises(PlaceError, match="lateral"):
        drip_place_at(LAID_DRIP, 81, 10.0)


def test_many_places_come_in_the_order_asked() -> None:
    x, y = np.array([100.0, 390.0, 100.0]), np.array([100.0, 390.0, 100.0])
    lon, lat = PIVOT_FRAME.to_lonlat(x, y)
    drip_lon, drip_lat = DRIP_FRAME.to_lonlat(-300.0, 300.0)
    lon, lat = np.append(lon, drip_lon), np.append(lat, drip_lat)
    together = locate_many(FARM, lon, lat, accuracy=EXACT)
    assert together == [
        locate(FARM, a, b, accuracy=EXACT) for a, b in zip(lon.tolist(), lat.tolist(), strict=True)
    ]
    assert [place.field for place in together] == ["Windmill quarter"] * 3 + ["Elevator quarter"]


def test_each_place_may_have_its_own_accuracy() -> None:
    lon, lat = DRIP_FRAME.to_lonlat([-300.0, -300.0], [300.0, 300.0])
    fine, coarse = locate_many(FARM, lon, lat, accuracy=[EXACT, parse_accuracy("30 m r95")])
    assert len(fine.drip[0].candidates) < len(coarse.drip[0].candidates)
    with pytest.raises(PlaceError, match="accuracies: found 3 for 2 points; allowed: one, or one for each"):
        locate_many(FARM, lon, lat, accuracy=[EXACT] * 3)


def test_no_places_and_no_fields() -> None:
    assert locate_many(FARM, [], [], accuracy=EXACT) == []
    nowhere = locate([], -101.5, 36.75, accuracy=EXACT)
    assert (nowhere.field, nowhere.pivots, nowhere.drip) == (None, (), ())
    assert nearest_field([], -101.5, 36.75) is None
    assert likely_slip([], -101.5, 36.75) is None


@pytest.mark.parametrize(("lon", "lat"), [(-181.0, 0.0), (0.0, 91.0), (math.nan, 0.0), (0.0, math.inf)])
def test_a_place_off_the_globe_is_refused(lon: float, lat: float) -> None:
    with pytest.raises(PlaceError, match=r"point 1: found latitude .*; allowed: latitude -90 to 90, "):
        locate(FARM, lon, lat, accuracy=EXACT)


def test_latitudes_without_longitudes_are_refused() -> None:
    with pytest.raises(PlaceError, match="found 1 latitudes and 2 longitudes; allowed: as many of each"):
        checked_lonlat([1.0, 2.0], [1.0])


def test_how_far_the_nearest_field_is_and_which_way() -> None:
    lon, lat = PIVOT_FRAME.to_lonlat(0.0, 500.0)
    nearest = nearest_field(FARM, float(lon), float(lat))
    assert nearest is not None
    assert nearest.name == "Windmill quarter"
    assert nearest.distance_m == pytest.approx(100.0, abs=1e-4)
    assert nearest.azimuth_deg == pytest.approx(180.0, abs=1e-3)


def test_the_nearest_field_of_a_far_place_is_measured_on_the_ellipsoid() -> None:
    """From 2 degrees north: within a field's width of the way to its middle."""
    nearest = nearest_field(FARM, -101.5, 38.75)
    to_middle, _ = distance_azimuth(-101.5, 38.75, -101.5, 36.75)
    assert nearest is not None
    assert nearest.distance_m == pytest.approx(to_middle - HALF_M, abs=0.5)


def test_on_the_boundary_there_is_no_way_to_go() -> None:
    corner = shapely.Point(0.0, HALF_M)
    lon, lat = PIVOT_FRAME.to_lonlat(corner.x, corner.y)
    nearest = nearest_field(FARM, float(lon), float(lat))
    assert nearest is not None
    assert nearest.distance_m == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize(("lon", "lat"), [(101.5, 36.75), (-101.5, -36.75), (101.5, -36.75)])
def test_a_sign_left_out_is_guessed(lon: float, lat: float) -> None:
    assert likely_slip(FARM, lon, lat) == (-101.5, 36.75)


def test_a_place_that_no_slip_explains_is_not_guessed_at() -> None:
    assert likely_slip(FARM, 20.0, 50.0) is None


def test_swapped_latitude_and_longitude_are_guessed_where_both_can_be_latitudes() -> None:
    frame = Frame(lon=-45.0, lat=-12.0)
    farm = (replace(PIVOT_FIELD, field=replace(PIVOT_FIELD.field, frame=frame)),)
    assert likely_slip(farm, -12.0, -45.0) == (-45.0, -12.0)
    assert likely_slip(farm, -45.1, -12.0) is None


def test_one_place_is_quick_on_a_farm_of_ten_fields() -> None:
    """Below 20 ms a place, the best of five; it takes about one."""
    farm = [
        replace(PIVOT_FIELD, field=replace(PIVOT_FIELD.field, frame=Frame(lon=-101.5 + 0.02 * k, lat=36.75)))
        for k in range(10)
    ]
    took = []
    for _ in range(5):
        start = time.perf_counter()
        locate(farm, -101.5, 36.751, accuracy=EXACT)
        took.append(time.perf_counter() - start)
    assert min(took) < 0.020

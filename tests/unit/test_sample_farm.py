"""The sample farm loads without fault or warning and shows the range it promises."""

from __future__ import annotations

import csv
import json
import math
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
import shapely
from geographiclib.geodesic import Geodesic

from ringrow.coverage.acres import field_cover
from ringrow.coverage.layout import lay_out
from ringrow.farm.load import load_farm
from ringrow.farm.sample import sample_folder
from ringrow.units import ACRE_M2

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from ringrow.coverage.field import FieldLayout
    from ringrow.farm.model import Farm


@pytest.fixture(scope="module")
def farm() -> Farm:
    return load_farm(sample_folder())


@pytest.fixture(scope="module")
def layouts(farm: Farm) -> dict[str, FieldLayout]:
    return {field.name: lay_out(field) for field in farm.fields}


def test_no_fault_no_warning_no_repair(farm: Farm) -> None:
    assert (farm.warnings, farm.repairs) == ((), ())
    assert len(farm.fields) == 10


def test_everything_that_is_watered_has_a_well(farm: Farm) -> None:
    systems = {
        getattr(system, "machine", "") or system.name
        for field in farm.fields
        for system in (*field.pivots, *field.lateral_moves, *field.drip)
    }
    served = [name for well in farm.wells for name in well.serves]
    assert sorted(served) == sorted(systems)
    assert {well.power for well in farm.wells} == {"electric", "engine"}


def test_phone_numbers_are_of_the_range_kept_for_fiction(farm: Farm) -> None:
    """555-0100 to 555-0199 are set aside for invented use in North America (from memory)."""
    assert all("555-01" in contact.phone for contact in farm.contacts)


def test_a_quarter_section_less_its_roads(layouts: dict[str, FieldLayout]) -> None:
    """A quarter is 2,640 ft square; 33 ft of road on two sides leave 2,607 ft, by hand 156.03 acres."""
    acres = layouts["Windmill quarter"].field.boundary.area / ACRE_M2
    assert acres == pytest.approx(2607**2 / 43_560, abs=0.01)


def test_the_yard_cuts_one_gun_arc_in_two(layouts: dict[str, FieldLayout]) -> None:
    (pivot,) = layouts["Windmill quarter"].pivots
    in_ne = [arc for arc in pivot.gun_arcs if 0 < arc.start_deg < 90]
    assert len(pivot.gun_arcs) == 5
    assert len(in_ne) == 2


def test_the_creek_stops_the_part_circle_on_both_sides(layouts: dict[str, FieldLayout]) -> None:
    layout = layouts["Creek quarter"]
    (pivot,) = layout.pivots
    assert pivot.pivot.sector is not None
    assert any("split evenly" in words for words in pivot.pivot.assumed)
    assert pivot.wetted.difference(layout.farmable).area < 1.0


def test_pipes_of_the_twins_clear_each_other_and_their_water_overlaps(
    layouts: dict[str, FieldLayout],
) -> None:
    west, east = layouts["Twin half section"].pivots
    apart_m = shapely.Point(west.pivot.x_m, west.pivot.y_m).distance(
        shapely.Point(east.pivot.x_m, east.pivot.y_m)
    )
    assert west.pivot.length_m + east.pivot.length_m < apart_m
    assert west.wetted.intersection(east.wetted).area > 0


def test_the_tank_pad_cuts_laterals_into_pieces(layouts: dict[str, FieldLayout]) -> None:
    (drip,) = layouts["Elevator quarter"].drip
    assert drip.block.zones[-1].last == drip.grid.count
    assert len(drip.grid.piece_lateral) > drip.grid.count


def test_corner_drip_lies_outside_the_circle(layouts: dict[str, FieldLayout]) -> None:
    layout = layouts["Prairie quarter"]
    (drip,), (pivot,) = layout.drip, layout.pivots
    assert drip.wetted.intersection(pivot.wetted).area < 1e-6 * drip.wetted.area
    assert drip.block.zones[-1].last == drip.grid.count


def test_the_odd_field_is_concave_and_its_gun_goes_on_and_off(layouts: dict[str, FieldLayout]) -> None:
    layout = layouts["Draw field"]
    boundary = layout.field.boundary
    assert boundary.area < 0.95 * boundary.convex_hull.area
    assert len(layout.pivots[0].gun_arcs) >= 4
    assert layout.field.exclusions.within(boundary)


def test_the_corner_arm_reaches_past_the_pipe_and_stays_inside_the_setback(
    layouts: dict[str, FieldLayout],
) -> None:
    layout = layouts["Long corner quarter"]
    (pivot,) = layout.pivots
    assert pivot.corner_arm is not None
    inside = layout.farmable.buffer(-layout.field.setback_m, join_style="mitre")
    assert shapely.union(pivot.corner_arm.swept, pivot.corner_arm.gun).difference(inside).area < 1.0
    assert pivot.wetted.area > 1.25 * pivot.base.area
    assert len(pivot.corner_arm.gun_arcs) == 4


def test_the_towed_machine_has_two_circles_apart(layouts: dict[str, FieldLayout]) -> None:
    layout = layouts["Tow eighty"]
    west, east = layout.pivots
    assert west.pivot.machine == east.pivot.machine == "Tow pivot"
    assert not west.wetted.intersects(east.wetted)
    assert shapely.union(west.wetted, east.wetted).within(layout.farmable)
    assert (west.pivot.parked_deg, east.pivot.parked_deg) == (None, 180)


def test_the_ditch_bends_and_its_machine_stays_in_the_field(layouts: dict[str, FieldLayout]) -> None:
    layout = layouts["Ditch field"]
    (move,) = layout.lateral_moves
    assert len(move.path.bearings_deg) == 2
    assert move.wetted.within(layout.farmable)


def test_the_bend_wets_ground_past_the_stop_and_spares_the_trees(layouts: dict[str, FieldLayout]) -> None:
    layout = layouts["Shelterbelt quarter"]
    (pivot,) = layout.pivots
    # By hand: spans 5 and 6, overhang and throw are 448 ft, turned 35 degrees about tower 4.
    assert pivot.bends.area / ACRE_M2 == pytest.approx(math.pi * 448**2 * 35 / 360 / 43_560, rel=1e-6)
    assert pivot.bends.difference(pivot.base).area > 0.99 * pivot.bends.area
    assert pivot.wetted.difference(layout.farmable).area < 1.0


def test_the_gun_keeps_off_the_road_and_the_tank(layouts: dict[str, FieldLayout]) -> None:
    """The panel reading puts its zero at 90; without road and tank the gun runs on one arc."""
    layout = layouts["Shelterbelt quarter"]
    (pivot,) = layout.pivots
    assert pivot.pivot.panel_zero_deg == pytest.approx(90.0, abs=0.01)
    free = lay_out(replace(layout.field, keep_off=shapely.Polygon())).pivots[0]
    assert (len(free.gun_arcs), len(pivot.gun_arcs)) == (1, 3)


def test_people_go_by_what_they_do() -> None:
    flags = sample_folder() / "flags"
    with (flags / "kitchen_table_walker_3.csv").open(newline="", encoding="utf-8") as stream:
        people = {row["Who"] for row in csv.DictReader(stream)}
    features = json.loads((flags / "phone_walker_2.geojson").read_text(encoding="utf-8"))["features"]
    people |= {feature["properties"]["who"] for feature in features}
    assert people == {"walker 2", "walker 3"}


def test_acres_agree_with_geographiclib(layouts: dict[str, FieldLayout]) -> None:
    """Irrigated and dry ground of every field on the ellipsoid, edges cut short, within 0.1 ppm."""
    for layout in layouts.values():
        cover = field_cover(layout)
        for ground in (cover.irrigated, cover.dry, layout.field.boundary):
            rings = layout.field.frame.unproject(shapely.segmentize(ground, 50.0))
            assert geographiclib_m2(rings) == pytest.approx(ground.area, rel=1e-7)


def geographiclib_m2(ground: BaseGeometry) -> float:
    """Area on the ellipsoid, ring by ring, holes taken off."""
    total = 0.0
    for part in shapely.get_parts(ground):
        for ring, sign in ((part.exterior, 1), *((hole, -1) for hole in part.interiors)):
            polygon = Geodesic.WGS84.Polygon()
            for lon, lat in shapely.get_coordinates(ring)[:-1]:
                polygon.AddPoint(lat, lon)
            total += sign * abs(polygon.Compute()[2])
    return total

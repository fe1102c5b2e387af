"""Lines on the map: ways of wheels, folded-out spans, what guns keep off, machines where they stand.

Outside reference: geographiclib for every distance and azimuth.
"""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import shapely
from defusedxml.ElementTree import fromstring
from geographiclib.geodesic import Geodesic

from ringrow.coverage.layout import lay_out
from ringrow.coverage.pivot_layout import bent_pipe
from ringrow.farm.flag_model import FlagState, MachineSpot, MoveSpot, WellSpot
from ringrow.farm.flag_places import locate_flags, parked_flags
from ringrow.farm.load import load_farm
from ringrow.farm.parked import machine_line, parked_lines
from ringrow.handoff.features import farm_features
from ringrow.handoff.map import sections
from ringrow.handoff.map.data import map_data
from ringrow.handoff.map.drawing import draw_map
from ringrow.handoff.map.page import map_page
from ringrow.handoff.map.strips import draw_machine, draw_move
from ringrow.handoff.map.touched import note_lines, set_azimuth_deg, stopped_systems, touched_ground
from ringrow.handoff.map.ways import farm_ways, standing_ways, standing_words
from ringrow.units import FOOT_M, METRIC, US

if TYPE_CHECKING:
    from ringrow.farm.model import Farm
    from ringrow.handoff.feature_group import FeatureGroup
    from ringrow.handoff.map.ways import Way

SAMPLE = Path(__file__).resolve().parents[2] / "sample_fields" / "two_windmill_farm"
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def farm() -> Farm:
    return load_farm(SAMPLE)


@pytest.fixture(scope="module")
def layouts(farm: Farm) -> list[Any]:
    return [lay_out(field) for field in farm.fields]


@pytest.fixture(scope="module")
def groups(farm: Farm, layouts: list[Any]) -> list[FeatureGroup]:
    return list(farm_features(farm, layouts, [], laterals=False))


@pytest.fixture(scope="module")
def ways(groups: list[FeatureGroup]) -> dict[str, Way]:
    return {way.kind: way for way in farm_ways(groups, US)}


def state(number: int, kind: str, spot: Any, **changes: Any) -> FlagState:
    plain = FlagState(
        id=f"00000000-0000-0000-0000-{number:012d}",
        number=number,
        kind=kind,
        status="open",
        name="",
        note="",
        spot=spot,
        flag_class=None,
        set_at=datetime(2026, 3, 1, tzinfo=UTC),
        set_by="walker",
    )
    return replace(plain, **changes)


def laid_out(layouts: list[Any], name: str) -> tuple[Any, Any]:
    return next((one, system) for one in layouts for system in one.systems if system.name == name)


def on_pivot(number: int, kind: str, feet: float, **changes: Any) -> FlagState:
    spot = MachineSpot(pivot="Windmill pivot", distance_m=feet * FOOT_M, said=f"{feet} ft", **changes)
    return state(number, kind, spot)


def geodesic_m(a: tuple[float, float], b: tuple[float, float]) -> float:
    return float(Geodesic.WGS84.Inverse(a[1], a[0], b[1], b[0])["s12"])


# Stations.


def test_stations_of_the_arm_stand_on_its_wheel_path(layouts: list[Any], ways: dict[str, Way]) -> None:
    """A mark each 500 ft, within 2 cm of that distance along the path itself."""
    layout, laid = laid_out(layouts, "Corner pivot")
    way, path = ways["arm-wheel-path"], laid.corner_arm.wheel_path
    assert len(way.marks) == int(path.length / (500 * FOOT_M)) + 1
    for number, mark in enumerate(way.marks):
        assert mark.text == f"{500 * number:,} ft"
        lon, lat = layout.field.frame.to_lonlat(*path.interpolate(500 * number * FOOT_M).coords[0])
        assert geodesic_m((mark.lon, mark.lat), (float(lon), float(lat))) < 0.02


def test_travel_of_a_cart_is_measured_along_its_bent_path(ways: dict[str, Way]) -> None:
    way = ways["cart-path"]
    begin, corner, _ = way.shape.coords
    first_leg_m = geodesic_m(begin, corner)
    for mark in way.marks:
        said_m = float(mark.text.removesuffix(" ft").replace(",", "")) * FOOT_M
        at = (mark.lon, mark.lat)
        walked_m = geodesic_m(begin, at) if said_m < first_leg_m else first_leg_m + geodesic_m(corner, at)
        assert walked_m == pytest.approx(said_m, abs=0.01)
    assert max(float(mark.text.removesuffix(" ft").replace(",", "")) for mark in way.marks) == 2000


def test_metric_stations_each_150_m(layouts: list[Any], farm: Farm) -> None:
    metric = list(farm_features(replace(farm, units=METRIC), layouts, [], laterals=False))
    texts = [mark.text for way in farm_ways(metric, METRIC) if way.kind == "cart-path" for mark in way.marks]
    assert texts[:3] == ["0 m", "150 m", "300 m"]


def test_a_stated_road_ends_at_its_pivot_point(
    groups: list[FeatureGroup], layouts: list[Any], ways: dict[str, Way]
) -> None:
    """The sample farm's two roads; their length by geographiclib, from the corners to the pivot point."""
    roads = [group for group in groups if group.kind == "pivot-road"]
    assert [group.ids for group in roads] == [
        ["pivot-road:Windmill%20quarter/Windmill%20pivot"],
        ["pivot-road:Creek%20quarter/Creek%20pivot"],
    ]
    for group in roads:
        layout, laid = laid_out(layouts, group.shared["name"])
        line = [(float(lon), float(lat)) for lon, lat in group.shapes[0].coords]
        lon, lat = layout.field.frame.to_lonlat(laid.pivot.x_m, laid.pivot.y_m)
        assert line[-1] == pytest.approx((float(lon), float(lat)), abs=1e-9)
        assert geodesic_m(*line) == pytest.approx(group.shared["length_ft"] * FOOT_M, abs=0.001)
    assert ways["pivot-road"].words == "Road to the pivot point of Creek pivot"


def test_roads_lie_under_the_ways_that_cross_them(groups: list[FeatureGroup]) -> None:
    kinds = [way.kind for way in farm_ways(groups, US) if way.kind != "keep-off"]
    assert kinds[:2] == ["pivot-road", "pivot-road"]
    assert "pivot-road" not in kinds[2:]


# Bends, and what guns keep off.


def test_folded_out_spans_start_at_their_tower(layouts: list[Any], ways: dict[str, Way]) -> None:
    layout, laid = laid_out(layouts, "Shelter pivot")
    way, points = ways["bent-pipe"], bent_pipe(laid.pivot, "stop")
    assert [mark.text for mark in way.marks] == ["5", "6"]
    lonlat = np.column_stack(layout.field.frame.to_lonlat(*points[4:].T))
    assert shapely.get_coordinates(way.shape) == pytest.approx(lonlat, abs=1e-9)


def test_a_road_is_drawn_near_its_field_only(groups: list[FeatureGroup]) -> None:
    kept_off = [way for way in farm_ways(groups, US) if way.kind == "keep-off"]
    assert sorted(way.shape.geom_type for way in kept_off) == ["LineString", "Point"]
    road = next(way.shape for way in kept_off if way.shape.geom_type == "LineString")
    whole = next(
        shape
        for group in groups
        if group.kind == "keep-off"
        for shape in group.shapes
        if shape.geom_type == "LineString"
    )
    assert road.length < whole.length
    assert shapely.covers(whole.buffer(1e-9), road)


def test_a_long_road_does_not_shrink_the_map(
    farm: Farm, layouts: list[Any], groups: list[FeatureGroup]
) -> None:
    bounds = map_data(farm, layouts, groups, [])["bounds"]
    assert bounds == pytest.approx(
        shapely.total_bounds([s for g in groups if g.kind != "keep-off" for s in g.shapes]), abs=1e-6
    )
    field = next(layout for layout in layouts if layout.field.name == "Shelterbelt quarter").field
    far = shapely.LineString([(-9000, field.boundary.bounds[1]), (9000, field.boundary.bounds[1])])
    longer = [*layouts[:-1], lay_out(replace(field, keep_off=far))]
    road = list(farm_features(farm, longer, [], laterals=False))
    assert map_data(farm, longer, road, [])["bounds"] == bounds


# Machines where they stand.


@pytest.mark.parametrize("name", ["Windmill pivot", "Corner pivot", "Tow pivot east"])
@pytest.mark.parametrize("azimuth_deg", [0.0, 41.3, 233.0])
def test_towers_stand_at_their_distance_and_azimuth(
    layouts: list[Any], name: str, azimuth_deg: float
) -> None:
    layout, laid = laid_out(layouts, name)
    (way,) = standing_ways([machine_line(layout, laid, azimuth_deg)])
    lon, lat = layout.field.frame.to_lonlat(laid.pivot.x_m, laid.pivot.y_m)
    numbered = [mark for mark in way.marks if mark.text]
    assert [mark.text for mark in numbered] == [str(n) for n in range(1, len(laid.pivot.spans_m) + 1)]
    for mark, radius_m in zip(numbered, laid.pivot.tower_radii_m, strict=True):
        found = Geodesic.WGS84.Inverse(float(lat), float(lon), mark.lat, mark.lon)
        assert found["s12"] == pytest.approx(radius_m, abs=0.01)
        assert (found["azi1"] - azimuth_deg + 180) % 360 - 180 == pytest.approx(0, abs=0.01)
    # A corner arm's steered wheels are one more mark, without a number.
    assert len(way.marks) - len(numbered) == (laid.pivot.corner_arm is not None)


def test_where_a_machine_stands_in_words(layouts: list[Any]) -> None:
    line = machine_line(*laid_out(layouts, "Windmill pivot"), 41.26)
    assert standing_words(line) == "Windmill pivot stands here, at azimuth 41.3 (panel 311.3)"
    bare = replace(line, panel_deg=None, name="<P>")
    assert standing_words(bare) == "<P> stands here, at azimuth 41.3"
    assert "&lt;P&gt; stands here" in sections.standing_section([bare])
    assert sections.standing_section([]) == ""


def test_flags_of_a_parked_machine_keep_where_they_were_set(farm: Farm, layouts: list[Any]) -> None:
    flags = locate_flags(
        farm, layouts, [on_pivot(1, "gearbox", 910, azimuth_deg=322.0), on_pivot(2, "tire", 500)]
    )
    moved = parked_flags(farm, layouts, flags, {"Windmill pivot": 41.0})
    assert set_azimuth_deg(moved[0], layouts) == pytest.approx(322.0, abs=1e-6)
    assert set_azimuth_deg(moved[1], layouts) is None
    assert set_azimuth_deg(flags[0], layouts) is None
    assert note_lines(moved[0], layouts, US)[-1] == "Set when the machine stood at azimuth 322.0"
    page = map_page(farm, layouts, moved, standing=parked_lines(layouts, {"Windmill pivot": 41.0}))
    assert "Windmill pivot stands here, at azimuth 41.0 (panel 311.0)." in page
    assert '"key":"standing"' in page
    plain = map_page(farm, layouts, flags)
    assert '"key":"standing"' not in plain
    assert 'id="standing"' not in plain


# What a flag touches.


def drawn_area_m2(ground: dict[str, Any], bounds: list[float], step: float) -> float:
    """Area of the rings that the script draws, outer less inner, by geographiclib."""
    areas = []
    for ring in ground["rings"]:
        lonlat = np.cumsum(np.reshape(ring, (-1, 2)), axis=0) * step + bounds[:2]
        polygon = Geodesic.WGS84.Polygon()
        for lon, lat in lonlat[:-1]:
            polygon.AddPoint(lat, lon)
        areas.append(abs(polygon.Compute()[2]))
    return 2 * max(areas) - sum(areas)


def test_the_ring_drawn_has_the_acres_said(
    farm: Farm, layouts: list[Any], groups: list[FeatureGroup]
) -> None:
    flags = locate_flags(farm, layouts, [on_pivot(1, "span-leak", 700), on_pivot(2, "span-leak", 705)])
    data = map_data(farm, layouts, groups, flags)
    assert len(data["grounds"]) == 1  # the same span, so the same ring
    assert [flag["ground"] for flag in data["flags"]] == [0, 0]
    assert data["grounds"][0]["effect"] == "wet"
    footprint = flags[0].footprint
    assert footprint is not None
    area = drawn_area_m2(data["grounds"][0], data["bounds"], data["step"])
    # The page's rings run within 0.67 m of the true ones.
    assert area == pytest.approx(footprint.area_m2, rel=0.02)
    assert data["flags"][0]["touches"][0].endswith("acres too wet")


def test_what_stops_is_named(farm: Farm, layouts: list[Any]) -> None:
    states = [
        on_pivot(1, "gearbox", 910),
        state(2, "pump", WellSpot(well="Home well")),
        state(3, "gearbox", MachineSpot(pivot="Tow pivot", distance_m=100.0, said="100 m")),
        state(4, "gearbox", MoveSpot(move="Ditch lateral", said="left tower 2", side="left", offset_m=103.6)),
        state(5, "rock", None),
    ]
    flags = locate_flags(farm, layouts, states)
    served = next(well.serves for well in farm.wells if well.name == "Home well")
    assert stopped_systems(flags[0], farm, layouts) == ["Windmill pivot"]
    assert set(stopped_systems(flags[1], farm, layouts)) == set(served)
    # Its file says that the towed machine is parked at the east point.
    assert stopped_systems(flags[2], farm, layouts) == ["Tow pivot east"]
    assert stopped_systems(flags[3], farm, layouts) == ["Ditch lateral"]
    assert stopped_systems(flags[4], farm, layouts) == []
    assert all(touched_ground(flag, layouts) is None for flag in flags)


# Lines of towers.


def texts(svg: str, css: str) -> list[tuple[str, float]]:
    root = fromstring(svg.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1))
    return [
        (item.text or "", float(item.get("x") or 0))
        for item in root.iter(f"{SVG}text")
        if item.get("class") == css
    ]


def test_a_lateral_move_has_towers_on_both_sides_of_its_cart(farm: Farm, layouts: list[Any]) -> None:
    spot = MoveSpot(move="Ditch lateral", said="right tower 2", side="right", offset_m=340 * FOOT_M, tower=2)
    flags = locate_flags(farm, layouts, [state(1, "tire", spot)])
    move = laid_out(layouts, "Ditch lateral")[1].move
    svg = draw_move(move, flags, US, title="t")
    towers = texts(svg, "tower")
    assert sorted(label for label, _ in towers) == ["1", "1", "2", "2", "3", "3"]
    middle = next(x for words, x in texts(svg, "small") if words == "cart")
    assert sorted(x - middle for _, x in towers) == pytest.approx(
        sorted(middle - x for _, x in towers), abs=0.2
    )
    place = re.search(r'class="flag" transform="translate\(([\d.]+)', svg)
    assert place is not None
    assert float(place[1]) == pytest.approx(
        next(x for label, x in towers if label == "2" and x > middle), abs=0.2
    )
    drawn = sections.machine_section(layouts, flags, US)
    assert "Ditch lateral: flags 1 on a line of towers numbered from the cart on each side" in drawn


def test_a_corner_arm_lies_straight_on(farm: Farm, layouts: list[Any]) -> None:
    pivot = laid_out(layouts, "Corner pivot")[1].pivot
    arm_m = pivot.length_m + pivot.corner_arm.length_m
    spot = MachineSpot(pivot="Corner pivot", distance_m=arm_m, said="arm wheels")
    flags = locate_flags(farm, layouts, [state(1, "tire", spot)])
    svg = draw_machine(pivot, flags, US, title="t")
    towers = dict(texts(svg, "tower"))
    assert list(towers) == ["1", "2", "3", "4", "5", "6", "7", "arm"]
    assert (towers["arm"] - 34) / (towers["7"] - 34) == pytest.approx(arm_m / pivot.length_m, abs=1e-3)


def test_a_towed_machine_of_unknown_whereabouts_has_one_line(farm: Farm, layouts: list[Any]) -> None:
    bare = [
        replace(
            layout,
            pivots=tuple(replace(laid, pivot=replace(laid.pivot, parked_deg=None)) for laid in layout.pivots),
            field=replace(
                layout.field, pivots=tuple(replace(pivot, parked_deg=None) for pivot in layout.field.pivots)
            ),
        )
        for layout in layouts
    ]
    spot = MachineSpot(pivot="Tow pivot", distance_m=100.0, said="tower 2", tower=2)
    flags = locate_flags(farm, bare, [state(1, "tire", spot)])
    drawn = sections.machine_section(bare, flags, US)
    assert drawn.count("<figure>") == 1
    assert "<h3>Tow pivot</h3>" in drawn


# Drawings without a script.


def test_drawing_shows_arms_bends_paths_and_machines(layouts: list[Any], groups: list[FeatureGroup]) -> None:
    lines = [machine_line(*laid_out(layouts, name), 20.0) for name in ("Corner pivot", "Shelter pivot")]
    every = [*farm_ways(groups, US), *standing_ways(lines)]
    svg = draw_map(groups, [], key="k", title="t", ways=every)
    root = fromstring(svg.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1))
    drawn = [item.get("class") for item in root.iter(f"{SVG}path")]
    for css in (
        "corner-arm-sweep",
        "bend",
        "arm-wheel-path",
        "bent-pipe",
        "cart-path",
        "pivot-road",
        "keep-off",
    ):
        assert css in drawn
    assert drawn.count("standing") == 2
    squares = [item for item in root.iter(f"{SVG}rect") if item.get("class") == "standing-tower"]
    assert len(squares) == sum(len(way.marks) for way in standing_ways(lines))


def test_key_tells_what_every_look_is() -> None:
    key = sections.key_section()
    for words in ("end guns", "corner arm", "Bend", "lateral move", "where it stands", "left dry", "too wet"):
        assert words in key

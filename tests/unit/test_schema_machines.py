"""Corner arms, bends, towed machines, lateral moves and panels as they are built from their tables."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import shapely
from geographiclib.geodesic import Geodesic

from farms import CENTRE, DRIP, EAST, FARM_TOML, FIELD, NORTH, OUTLINE, SOUTH, WEST, collection, write_farm
from ringrow.coverage.layout import lay_out
from ringrow.equipment.corner_arm import Bend
from ringrow.equipment.lateral_move import Wing
from ringrow.farm.load import load_farm

if TYPE_CHECKING:
    from pathlib import Path

HEAD = f'name = "Home field"\n{OUTLINE}\n'
ARM = """[[pivot]]
point = { lat = 36.7536, lon = -101.4955 }
spans = [180, 180, 180, 180]
panel_zero = 0
[pivot.corner_arm]
length = 262
side = "leading"
fold = 90
open = 165
"""
TOWED = """[[pivot]]
name = "Long pivot"
points = [
    { lat = 36.752, lon = -101.498 },
    { name = "Yard", lat = 36.755, lon = -101.498, sector = { start = 300, stop = 80 }, panel_zero = "none"},
]
spans = [120, 120]
overhang = 10
throw = 15
sector = { start = 10, stop = 200 }
panel_zero = 45
"""
MOVE = """[[lateral_move]]
path = [{ lat = 36.7505, lon = -101.4955 }, { lat = 36.7565, lon = -101.4955 }]
right = { towers = 3, last_tower = 400, overhang = 20 }
left = { spans = [150, 150], overhang = 0, throw = 12 }
flow = 600
pressure = 25
"""


def field_of(text: str, folder: Path, shapes: dict[str, str | bytes] | None = None, farm: str = "") -> Any:
    """Return the one field of a small farm."""
    return load_farm(write_farm(folder, FARM_TOML + farm, {"home": text}, shapes)).fields[0]


def test_worked_corner_arm_in_feet(tmp_path: Path) -> None:
    (pivot,) = field_of(
        f"{HEAD}setback = 30\n{ARM}overhang = 40\nthrow = 15\nopen_rate = 2.5\n"
        "[pivot.corner_arm.end_gun]\nwetted_radius = 100\narcs = 'always'\nflow = 90\n",
        tmp_path,
    ).pivots
    arm = pivot.corner_arm
    assert (arm.length_m, arm.overhang_m, arm.throw_m) == pytest.approx((262 * 0.3048, 12.192, 4.572))
    assert (arm.side, arm.fold_deg, arm.open_deg, arm.open_rate) == ("leading", 90, 165, 2.5)
    assert (arm.end_gun.reach_m, arm.end_gun.arcs) == (pytest.approx(22.86), "always")
    assert arm.end_gun.flow_lps == pytest.approx(90 * 3.785411784 / 60)
    assert (pivot.overhang_m, pivot.throw_m, pivot.base_radius_m) == (0, 0, pytest.approx(720 * 0.3048))
    assert pivot.assumed == ("corner arm end gun reach taken as 75 % of its wetted radius: 75 ft",)


def test_what_a_corner_arm_leaves_out_is_named(tmp_path: Path) -> None:
    (pivot,) = field_of(
        f"{HEAD}{ARM}[pivot.corner_arm.end_gun]\nreach = 60\n", tmp_path, farm="[defaults]\nthrow = 9\n"
    ).pivots
    assert pivot.corner_arm.open_rate == 3.0
    assert pivot.assumed == (
        "corner arm overhang taken as 0 ft",
        "corner arm throw taken as 0 ft",
        "corner arm opening rate taken as 3 deg per deg of the main pipe",
        'corner arm end gun arcs taken as "auto"',
        "setback taken as 0 ft",
        "gun arcs under 5 deg left out",
    )


def test_bends_keep_their_order(tmp_path: Path) -> None:
    bends = "".join(
        f'[[pivot.bend]]\ntower = {tower}\nat = "{at}"\nsweep = {sweep}\n'
        for tower, at, sweep in ((2, "stop", 70), (3, "start", 30), (4, "stop", 20))
    )
    (pivot,) = field_of(f"{FIELD}sector = {{ start = 20, stop = 200 }}\n{bends}", tmp_path).pivots
    assert pivot.bends == (
        Bend(tower=2, at="stop", sweep_deg=70),
        Bend(tower=3, at="start", sweep_deg=30),
        Bend(tower=4, at="stop", sweep_deg=20),
    )


def test_towed_machine_is_a_pivot_at_each_point(tmp_path: Path) -> None:
    one, two = field_of(HEAD + TOWED, tmp_path).pivots
    assert (one.name, two.name) == ("Long pivot at point 1", "Yard")
    assert one.machine == two.machine == "Long pivot"
    assert (one.sector.start_deg, one.sector.stop_deg, one.panel_zero_deg) == (10, 200, 45)
    assert (two.sector.start_deg, two.sector.stop_deg, two.panel_zero_deg) == (300, 80, None)
    assert one.spans_m == two.spans_m
    distance = Geodesic.WGS84.Inverse(36.752, -101.498, 36.755, -101.498)["s12"]
    assert np.hypot(one.x_m - two.x_m, one.y_m - two.y_m) == pytest.approx(distance, rel=1e-7)


def test_towed_machine_may_be_named_as_a_whole_or_by_point(tmp_path: Path) -> None:
    well = f"[[well]]\nname = 'W'\nat = {{ lat = {SOUTH}, lon = {WEST} }}\nserves = ['Long pivot', 'Yard']\n"
    field = field_of(f"{HEAD}{TOWED}{DRIP}not = ['Long pivot']\n", tmp_path, farm=well)
    assert field.drip[0].not_under == ("Long pivot at point 1", "Yard")
    layout = lay_out(field)
    wetted = shapely.union_all([pivot.wetted for pivot in layout.pivots])
    assert layout.drip[0].ground.intersection(wetted).area < 1e-3
    both = field_of(f"{HEAD}{TOWED}{DRIP}not = ['Yard', 'Long pivot']\n", tmp_path)
    assert both.drip[0].not_under == ("Yard", "Long pivot at point 1")


def test_worked_lateral_move_in_feet(tmp_path: Path) -> None:
    field = field_of(HEAD + MOVE, tmp_path)
    (move,) = field.lateral_moves
    assert move.name == "Home field lateral move 1"
    assert move.left == Wing(spans_m=(150 * 0.3048,) * 2, overhang_m=0, throw_m=12 * 0.3048)
    assert move.right.tower_offsets_m == pytest.approx(np.array([400 / 3, 800 / 3, 400]) * 0.3048)
    assert (move.flow_lps, move.pressure_kpa) == pytest.approx((37.854, 172.369), abs=1e-3)
    walked = Geodesic.WGS84.Inverse(36.7505, -101.4955, 36.7565, -101.4955)["s12"]
    assert np.hypot(*np.diff(move.path_m, axis=0)[0]) == pytest.approx(walked, rel=1e-7)
    assert move.assumed == (
        "right 3 spans taken as 133.333 ft each: last tower at 400 ft, split evenly",
        "right throw taken as 0 ft",
    )


def test_path_and_guidance_line_from_files(tmp_path: Path) -> None:
    """A line in two parts that meet is one; a point given twice counts once."""
    parts = [
        [[-101.4955, 36.7505], [-101.4955, 36.753]],
        [[-101.4955, 36.753], [-101.4955, 36.753], [-101.495, 36.7565]],
    ]
    shapes = {
        "lines.geojson": collection(
            *(({"type": "LineString", "coordinates": part}, {"what": "ditch"}) for part in parts),
            (
                {"type": "LineString", "coordinates": [[-101.499, 36.751], [-101.492, 36.7512]]},
                {"what": "tape"},
            ),
        )
    }
    where = '{{ file = "shapes/lines.geojson", where = {{ what = "{}" }} }}'
    field = field_of(
        f"{HEAD}[[lateral_move]]\npath = {where.format('ditch')}\nleft = {{ spans = [150] }}\n"
        f"{DRIP.replace('heading = 90', 'line = ' + where.format('tape'))}",
        tmp_path,
        shapes,
    )
    (move,), (block,) = field.lateral_moves, field.drip
    x, y = field.frame.to_xy([-101.4955, -101.4955, -101.495], [36.7505, 36.753, 36.7565])
    assert np.array(move.path_m) == pytest.approx(np.column_stack([x, y]))
    # Two points are a straight line: nothing bends.
    assert block.guide_m is None
    azimuth = Geodesic.WGS84.Inverse(36.751, -101.499, 36.7512, -101.492)["azi1"]
    assert block.heading_deg == pytest.approx(azimuth, abs=0.01)


def test_line_that_bends_is_a_guide(tmp_path: Path) -> None:
    path = [(36.751, -101.499), (36.7514, -101.496), (36.7511, -101.492)]
    rows = ", ".join(f"{{ lat = {lat}, lon = {lon} }}" for lat, lon in path)
    field = field_of(f"{HEAD}{DRIP.replace('heading = 90', f'line = {{ path = [{rows}] }}')}", tmp_path)
    (block,) = field.drip
    x, y = field.frame.to_xy([lon for _, lon in path], [lat for lat, _ in path])
    assert np.array(block.guide_m) == pytest.approx(np.column_stack([x, y]))
    azimuth = Geodesic.WGS84.Inverse(*path[0], *path[-1])["azi1"]
    assert block.heading_deg == pytest.approx(azimuth, abs=0.01)


@pytest.mark.parametrize("heading", [0, 20, 45, 90, 130, 315])
def test_line_that_bends_may_head_any_way(heading: float, tmp_path: Path) -> None:
    """A bow of 20 points with a rise of 6 m over 800 m, put out by geographiclib about the middle."""
    rows = []
    for along, aside in zip(np.linspace(-400, 400, 20), 6 * np.sin(np.linspace(0, np.pi, 20)), strict=True):
        on = Geodesic.WGS84.Direct(*CENTRE, heading, along)
        at = Geodesic.WGS84.Direct(on["lat2"], on["lon2"], heading + 90, aside)
        rows.append(f"{{ lat = {at['lat2']}, lon = {at['lon2']} }}")
    line = f"line = {{ path = [{', '.join(rows)}] }}"
    (block,) = field_of(f"{HEAD}{DRIP.replace('heading = 90', line)}", tmp_path).drip
    assert len(block.guide_m) == 20
    assert (block.heading_deg - heading + 180) % 360 == pytest.approx(180, abs=0.01)


@pytest.mark.parametrize("azimuth", [0.0, 33.0, 124.5, 270.0, 359.9])
@pytest.mark.parametrize("shows", [0.0, 214.0, 359.0])
def test_panel_zero_from_one_reading(azimuth: float, shows: float, tmp_path: Path) -> None:
    """The last tower is put out by geographiclib; panel = (azimuth - zero) mod 360 must then show."""
    tower = Geodesic.WGS84.Direct(*CENTRE, azimuth, 1230 * 0.3048)
    reading = f"{{ shows = {shows}, last_tower = {{ lat = {tower['lat2']}, lon = {tower['lon2']} }} }}"
    (pivot,) = field_of(f"{FIELD}panel_reading = {reading}\nparked_panel = {shows}\n", tmp_path).pivots
    assert 0 <= pivot.panel_zero_deg < 360
    assert (azimuth - pivot.panel_zero_deg - shows + 180) % 360 == pytest.approx(180, abs=1e-6)
    assert (pivot.parked_deg - azimuth + 180) % 360 == pytest.approx(180, abs=1e-6)
    assert pivot.assumed == ()


def test_no_angle_on_the_panel(tmp_path: Path) -> None:
    (pivot,) = field_of(f'{FIELD}panel_zero = "none"\nparked = 12\n', tmp_path).pivots
    assert (pivot.panel_zero_deg, pivot.parked_deg) == (None, 12)
    assert pivot.assumed == ()


def test_speeds_errors_and_pipe_in_their_units(tmp_path: Path) -> None:
    text = f"{FIELD}top_speed = 1350\nradius_se = 4\nbore = 6.407\nregulator = 15\n"
    text = text.replace("[[pivot]]", "boundary_se = 3\ntillage_depth = 8\n[[pivot]]")
    field = field_of(text, tmp_path)
    (pivot,) = field.pivots
    assert (field.boundary_se_m, field.tillage_depth_m) == pytest.approx((0.9144, 0.2032))
    assert (pivot.top_speed_m_per_h, pivot.radius_se_m) == pytest.approx((411.48, 1.2192))
    assert (pivot.pipe_bore_m, pivot.regulator_kpa) == pytest.approx((0.1627378, 103.42136))


def test_metric_farm(tmp_path: Path) -> None:
    arm = ARM.replace("180, 180, 180, 180", "55, 55, 55, 55").replace("262", "80")
    text = f"{HEAD}tillage_depth = 200\n{arm}"
    farm = load_farm(write_farm(tmp_path, FARM_TOML + 'units = "metric"\n', {"home": text}))
    (field,) = farm.fields
    assert (field.tillage_depth_m, field.pivots[0].corner_arm.length_m) == pytest.approx((0.2, 80))
    assert "corner arm overhang taken as 0 m" in field.pivots[0].assumed


def test_drip_fed_from_both_ends_on_a_slope(tmp_path: Path) -> None:
    (block,) = field_of(
        f'{HEAD}{DRIP}fed = "both"\nheader_elevation = 3010\nfar_elevation = 3004\n', tmp_path
    ).drip
    assert block.fed == "both"
    assert (block.header_elevation_m, block.far_elevation_m) == pytest.approx((917.448, 915.6192))


def test_what_guns_keep_off_comes_in_every_kind(tmp_path: Path) -> None:
    """A pole, a road drawn by hand, a house, and a file of all three; what lies far off is cut away."""
    shapes = {
        "around.geojson": collection(
            ({"type": "Point", "coordinates": [EAST + 0.001, SOUTH]}, {}),
            ({"type": "LineString", "coordinates": [[WEST - 0.001, 36.0], [WEST - 0.001, 37.5]]}, {}),
            ({"type": "MultiPoint", "coordinates": [[EAST, NORTH], [10.0, 50.0]]}, {}),
        )
    }
    house = ", ".join(
        f"{{ lat = {lat}, lon = {lon} }}"
        for lat, lon in ((36.7580, -101.4960), (36.7580, -101.4956), (36.7582, -101.4956))
    )
    entries = (
        "{ point = { lat = 36.7499, lon = -101.4955 } }",
        "{ line = [{ lat = 36.7498, lon = -101.5005 }, { lat = 36.7498, lon = -101.49 }] }",
        f"{{ outline = [{house}] }}",
        '{ file = "shapes/around.geojson" }',
    )
    text = FIELD.replace("[[pivot]]", f"keep_off = [{', '.join(entries)}]\n[[pivot]]")
    field = field_of(f"{text}end_gun = {{ reach = 90 }}\n", tmp_path, shapes)
    parts = list(shapely.get_parts(field.keep_off))
    assert sorted(part.geom_type for part in parts) == ["LineString"] * 2 + ["Point"] * 3 + ["Polygon"]
    west, south, east, north = field.boundary.bounds
    near = shapely.box(west - 2000, south - 2000, east + 2000, north + 2000)
    assert near.buffer(1e-6).covers(field.keep_off)
    road = max((part for part in parts if part.geom_type == "LineString"), key=lambda part: part.length)
    assert road.length == pytest.approx(north - south + 4000, abs=1)
    assert (
        "end gun full wetted radius, for what it keeps off, taken as reach / 0.75: 120 ft"
        in field.pivots[0].assumed
    )


def test_nothing_kept_off_is_nothing(tmp_path: Path) -> None:
    field = field_of(f"{FIELD}end_gun = {{ reach = 90 }}\n", tmp_path)
    assert field.keep_off.is_empty
    assert not any("keeps off" in words for words in field.pivots[0].assumed)


def test_a_road_to_the_pivot_point_runs_inward_whichever_way_it_was_drawn(tmp_path: Path) -> None:
    east = f"{{ lat = {CENTRE[0]}, lon = {EAST} }}"
    (said,) = field_of(f"{FIELD}pivot_road = [{east}]\n", tmp_path / "said").pivots
    line = {"type": "LineString", "coordinates": [[CENTRE[1], CENTRE[0]], [EAST, CENTRE[0]]]}
    shapes = {"road.geojson": collection((line, {}))}
    drawn = f'{FIELD}pivot_road = {{ file = "shapes/road.geojson" }}\n'
    (read,) = field_of(drawn, tmp_path / "drawn", shapes=shapes).pivots
    assert said.road_m[-1] == (said.x_m, said.y_m)
    assert np.allclose(said.road_m, read.road_m, atol=1e-6)
    # By geographiclib, along the parallel there is no shorter way worth a millimetre.
    length = Geodesic.WGS84.Inverse(CENTRE[0], CENTRE[1], CENTRE[0], EAST)["s12"]
    assert math.dist(*said.road_m) == pytest.approx(length, abs=0.01)


def test_each_point_of_a_towed_machine_has_its_own_road(tmp_path: Path) -> None:
    at = f"lat = {CENTRE[0]}, lon = {CENTRE[1]}"
    north = f"lat = {NORTH}, lon = {CENTRE[1]}"
    other = f"lat = {CENTRE[0] + 0.001}, lon = {CENTRE[1]}"
    points = f"points = [{{ {at}, pivot_road = [{{ {north} }}] }}, {{ {other} }}]"
    text = ARM.split("[pivot.corner")[0].replace("point = { lat = 36.7536, lon = -101.4955 }", points)
    first, second = field_of(f"{HEAD}{text}", tmp_path).pivots
    assert (len(first.road_m), second.road_m) == (2, ())

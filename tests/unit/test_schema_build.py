"""Machines from their tables: units, defaults, what is listed as assumed, bearings."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely

from ringrow.coverage.drip_layout import block_lateral_count, lay_out_drip
from ringrow.coverage.field import Field
from ringrow.farm.build_drip import build_drip
from ringrow.farm.build_pivots import Surroundings, build_machine
from ringrow.farm.faults import Findings
from ringrow.farm.lines import line_points
from ringrow.farm.load import load_farm
from ringrow.farm.rules import Desk
from ringrow.farm.schema import DefaultsTable, DripTable, PivotTable
from ringrow.farm.shapes import Shelf
from ringrow.frame import WGS84, Frame
from ringrow.units import METRIC, US, UnitSystem

FRAME = Frame(lon=-101.5, lat=36.75)
SQUARE = shapely.box(-400, -400, 400, 400)
NO_DEFAULTS = DefaultsTable.model_validate({})


def pivot_of(
    text: str, units: UnitSystem = US, defaults: dict[str, Any] | None = None, **field: float | None
) -> Any:
    """Return the pivot of a table in TOML."""
    (pivot,) = machine_of("point = { lat = 36.75, lon = -101.5 }\n" + text, units, defaults, **field)
    return pivot


def machine_of(
    text: str, units: UnitSystem = US, defaults: dict[str, Any] | None = None, **field: Any
) -> tuple[Any, ...]:
    """Return a machine of a table in TOML: one pivot for each of its points."""
    table = PivotTable.model_validate(tomllib.loads(text))
    given = DefaultsTable.model_validate(defaults or {})
    around = Surroundings(frame=FRAME, units=units, defaults=given, **field)
    return build_machine(table, name="P", around=around)


def drip_of(text: str, units: UnitSystem = US, area: Any = SQUARE) -> tuple[Any, Findings]:
    """Return the drip block of a table in TOML, and what was found wrong."""
    findings = Findings()
    table = DripTable.model_validate(tomllib.loads("row_spacing = 30\nrows_per_lateral = 2\n" + text))
    desk = Desk(file="f", units=(units,), findings=findings)
    line = table.line
    line_m = None
    if line is not None:
        points = line.path or [at for at in (line.from_, line.to) if at]
        line_m = line_points(points, key="drip[1].line", shelf=Shelf(folder=Path()), frame=FRAME, desk=desk)
    block = build_drip(
        table,
        name="D",
        key="drip[1]",
        area=area,
        units=units,
        defaults=NO_DEFAULTS,
        desk=desk,
        line_m=line_m,
    )
    return block, findings


def test_worked_pivot_in_feet() -> None:
    pivot = pivot_of(
        "spans = [180, 170]\noverhang = 40\nthrow = 20\npanel_zero = 90\nflow = 60\npressure = 30\n"
    )
    assert pivot.tower_radii_m == pytest.approx((54.864, 106.68))
    assert pivot.length_m == pytest.approx(390 * 0.3048)
    assert pivot.base_radius_m == pytest.approx(410 * 0.3048)
    # 60 gallons a minute is 1 gallon a second, 3.785411784 L.
    assert pivot.flow_lps == pytest.approx(3.785411784)
    assert pivot.pressure_kpa == pytest.approx(206.8427, abs=1e-4)
    assert (pivot.x_m, pivot.y_m, pivot.convergence_deg) == pytest.approx((0, 0, 0), abs=1e-9)
    assert pivot.assumed == ()


def test_everything_left_out_is_named() -> None:
    assert pivot_of("towers = 7\nlast_tower = 1250\nend_gun = { wetted_radius = 120 }\n").assumed == (
        "7 spans taken as 178.571 ft each: last tower at 1250 ft, split evenly",
        "overhang taken as 0 ft",
        "throw taken as 0 ft",
        "panel zero taken as 0 deg",
        "end gun reach taken as 75 % of its wetted radius: 90 ft",
        'end gun arcs taken as "auto"',
        "setback taken as 0 ft",
        "gun arcs under 5 deg left out",
    )


def test_defaults_of_the_farm_are_named_with_their_source() -> None:
    pivot = pivot_of(
        'spans = [50]\noverhang = 10\npanel_zero = 0\nend_gun = { reach = 20, arcs = "auto" }\n',
        METRIC,
        {"throw": 6, "setback": 9, "min_arc": 3},
    )
    assert pivot.throw_m == 6
    assert pivot.assumed == (
        "throw taken as 6 m, from [defaults]",
        "setback taken as 9 m, from [defaults]",
        "gun arcs under 3 deg left out",
    )


def test_even_split_reaches_the_last_tower() -> None:
    pivot = pivot_of("towers = 7\nlast_tower = 1250\n")
    assert pivot.tower_radii_m[-1] == pytest.approx(1250 * 0.3048, rel=1e-12)
    assert len(pivot.spans_m) == 7


def test_three_quarters_of_the_wetted_radius_count() -> None:
    gun = pivot_of("spans = [180]\nend_gun = { wetted_radius = 128 }\n").end_gun
    assert gun.reach_m == pytest.approx(96 * 0.3048)
    assert gun.wetted_radius_m == pytest.approx(128 * 0.3048)


def test_outlets_run_to_the_pipe_end_and_no_farther() -> None:
    pivot = pivot_of("spans = [90]\noverhang = 10\noutlets = { first = 10, spacing = 9 }\n")
    assert np.array(pivot.outlets_m) / 0.3048 == pytest.approx(np.arange(10, 101, 9))
    listed = pivot_of("spans = [90]\noutlets = [8, 26, 44]\n")
    assert np.array(listed.outlets_m) / 0.3048 == pytest.approx([8, 26, 44])


def test_azimuth_at_a_pivot_off_the_middle_agrees_with_the_geodesic() -> None:
    """Frame bearing less convergence is the geodesic azimuth (PROJ's geodesic routines)."""
    table = PivotTable.model_validate({"point": {"lat": 36.77, "lon": -101.47}, "spans": [180]})
    (pivot,) = build_machine(
        table, name="P", around=Surroundings(frame=FRAME, units=US, defaults=NO_DEFAULTS)
    )
    lon, lat, _ = WGS84.fwd(-101.47, 36.77, 33.0, 400.0)
    x, y = FRAME.to_xy(lon, lat)
    bearing = math.degrees(math.atan2(float(x) - pivot.x_m, float(y) - pivot.y_m))
    assert bearing - pivot.convergence_deg == pytest.approx(33.0, abs=1e-4)


def test_worked_drip_block() -> None:
    block, _ = drip_of(
        'heading = 90\nfirst_lateral = 30\nnumber_from = "north"\nheader = "west"\nheadland = 30\n'
        "depth = 12\n"
        "tape = { inside_diameter = 1.375, emitter_spacing = 24, emitter_flow = 0.16, at_pressure = 8, "
        "exponent = 0.5 }\n"
        '[[zone]]\nlaterals = [1, 100]\npressure = 10\nvalve = "V1"\n'
    )
    assert block.spacing_m == pytest.approx(1.524)
    assert block.first_lateral_m == pytest.approx(0.762)
    assert (block.heading_deg, block.number_from_deg, block.header_deg) == (90, 0, 270)
    assert block.headland_m == pytest.approx(9.144)
    assert block.tape.emitter_flow_lps * 3600 == pytest.approx(0.16 * 3.785411784)
    assert (block.zones[0].name, block.zones[0].first, block.zones[0].last) == ("zone 1", 1, 100)
    assert block.zones[0].pressure_kpa == pytest.approx(68.94757)
    assert block.assumed == ()


def test_flow_on_the_label_is_the_same_in_either_way_of_saying_it() -> None:
    """0.13 gpm per 100 ft = 0.13 x 3.785411784 x 60 L/h over 30.48 m."""
    per_foot, _ = drip_of("heading = 90\ntape = { flow_per_100ft = 0.13, at_pressure = 8 }\n")
    metres = 0.13 * 3.785411784 * 60 / 30.48
    per_metre, _ = drip_of(f"heading = 90\ntape = {{ flow_per_m = {metres}, at_pressure = 8 }}\n")
    assert per_foot.tape.flow_lps_per_m == pytest.approx(per_metre.tape.flow_lps_per_m, rel=1e-12)
    assert "emitter exponent taken as 0.5" in per_foot.assumed


@pytest.mark.parametrize(
    ("heading", "number_from", "header", "words"),
    [
        (90, 0, 270, ("north", "west")),
        (0, 270, 180, ("west", "south")),
        (44, 270, 224, ("west", "southwest")),
        (46, 0, 226, ("north", "southwest")),
        (200, 270, 20, ("west", "north")),
        (270, 0, 90, ("north", "east")),
    ],
)
def test_sides_left_out(heading: float, number_from: float, header: float, words: tuple[str, str]) -> None:
    block, _ = drip_of(f"heading = {heading}\nheadland = 0\n")
    assert (block.number_from_deg, block.header_deg) == (number_from, header)
    assert block.assumed[0] == f"laterals numbered from the {words[0]}"
    assert block.assumed[1] == f"header taken at the {words[1]} end, where the heading starts"


def test_header_is_one_of_the_two_ends() -> None:
    assert drip_of('heading = 80\nheader = "east"\n')[0].header_deg == 80
    assert drip_of('heading = 80\nheader = "W"\n')[0].header_deg == 260


def test_guidance_line_gives_direction_and_place() -> None:
    line = "line = { from = { lat = 36.75, lon = -101.501 }, to = { lat = 36.7501, lon = -101.499 } }\n"
    block, _ = drip_of(line)
    azimuth, _, _ = WGS84.inv(-101.501, 36.75, -101.499, 36.7501)
    assert block.heading_deg == pytest.approx(azimuth, abs=1e-2)
    assert block.line_point_m == pytest.approx(tuple(float(v) for v in FRAME.to_xy(-101.501, 36.75)))
    stated, _ = drip_of(f"{line}first_lateral = 12\n")
    assert stated.line_point_m is None
    assert stated.first_lateral_m == pytest.approx(0.3048)


@pytest.mark.parametrize("heading", [0, 17.5, 90, 133, 271])
@pytest.mark.parametrize("extra", ["", "first_lateral = 0\n", "first_lateral = 400\n", "line"])
def test_lateral_count_is_that_of_the_layout(heading: float, extra: str) -> None:
    """The count that zones are checked by is the highest number really laid."""
    text = f"heading = {heading}\n{extra}"
    if extra == "line":
        lon, lat, _ = WGS84.fwd(-101.5005, 36.7503, heading, 300)
        text = (
            f"line = {{ from = {{ lat = 36.7503, lon = -101.5005 }}, to = {{ lat = {lat}, lon = {lon} }} }}\n"
        )
    area = shapely.Polygon([(-380, -300), (420, -340), (300, 290), (-100, 410)])
    block, _ = drip_of(text, area=area)
    field = Field(name="F", frame=FRAME, boundary=area, drip=(block,))
    assert block_lateral_count(block) == lay_out_drip(field, block, under=shapely.Polygon()).grid.count


def test_farm_of_the_sample_folder(project: Path) -> None:
    farm = load_farm(project / "sample_fields" / "two_windmill_farm")
    assert farm.warnings == ()
    assert farm.repairs == ()
    assert [well.name for well in farm.wells][:1] == ["Home well"]
    assert next(field.name for field in farm.fields) == "Windmill quarter"
    assert farm.fields[0].setback_m == pytest.approx(30 * 0.3048)
    assert farm.fields[0].neck_m == pytest.approx(50 * 0.3048)
    assert all(field.boundary.is_valid for field in farm.fields)


def test_loading_ten_fields_is_quick(tmp_path: Path) -> None:
    """A guard against the slow ways (a CRS look-up or a file read per field), with a wide margin."""
    import json
    import time

    features = []
    (tmp_path / "fields").mkdir()
    (tmp_path / "shapes").mkdir()
    (tmp_path / "farm.toml").write_text('name = "F"\n')
    for n in range(10):
        west = -101.5 + 0.01 * n
        ring = [[west, 36.75], [west + 0.009, 36.75], [west + 0.009, 36.757], [west, 36.757], [west, 36.75]]
        shape = {"type": "Polygon", "coordinates": [ring]}
        features.append({"type": "Feature", "properties": {"field": f"F{n}"}, "geometry": shape})
        (tmp_path / "fields" / f"{n}.toml").write_text(
            f'name = "F{n}"\nboundary = {{ file = "shapes/a.geojson", where = {{ field = "F{n}" }} }}\n'
            f"[[pivot]]\npoint = {{ lat = 36.7535, lon = {west + 0.0045} }}\ntowers = 7\nlast_tower = 1200\n"
        )
    text = json.dumps({"type": "FeatureCollection", "features": features})
    (tmp_path / "shapes" / "a.geojson").write_text(text)
    load_farm(tmp_path)
    start = time.perf_counter()
    farm = load_farm(tmp_path)
    assert time.perf_counter() - start < 0.5
    assert len(farm.fields) == 10

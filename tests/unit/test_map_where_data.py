"""What the page is sent to say where a place is: small, exact, and read back as the script reads it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

import farms
from ringrow.coverage.layout import lay_out
from ringrow.farm.load import load_farm
from ringrow.geometry.laterals import CurvedGrid
from ringrow.handoff.map.where_data import second_differences, where_data

if TYPE_CHECKING:
    from ringrow.coverage.field import FieldLayout
    from ringrow.farm.model import Farm

SAMPLE = Path(__file__).resolve().parents[2] / "sample_fields" / "two_windmill_farm"
NUMBERS = st.lists(st.tuples(st.integers(-(10**9), 10**9), st.integers(0, 3)), max_size=30)


@pytest.fixture(scope="module")
def sample() -> tuple[Farm, list[FieldLayout], dict[str, Any]]:
    """The sample farm, laid out, and what its page is sent."""
    farm = load_farm(SAMPLE)
    layouts = [lay_out(field) for field in farm.fields]
    return farm, layouts, where_data(farm, layouts)


def read_back(missed: list[int], runs: list[int]) -> list[int]:
    """The numbers again, one by one."""
    before: dict[int, list[int]] = {}
    for miss, run in zip(missed, runs, strict=True):
        seen = before.setdefault(run, [])
        seen.append(miss + (0 if not seen else seen[0] if len(seen) == 1 else 2 * seen[-1] - seen[-2]))
    return [before[run].pop(0) for run in runs]


def block_of(data: dict[str, Any], name: str) -> dict[str, Any]:
    return next(block for field in data["fields"] for block in field["drip"] if block["name"] == name)


@given(NUMBERS)
def test_numbers_read_back(pairs: list[tuple[int, int]]) -> None:
    values, runs = [value for value, _ in pairs], [run for _, run in pairs]
    assert read_back(second_differences(values, runs), runs) == values


def test_what_changes_evenly_becomes_zeros() -> None:
    assert second_differences(range(7, 700, 7)) == [7, 7] + [0] * 97
    assert second_differences([]) == []


def test_the_sample_farm_takes_little_room(sample: Any) -> None:
    """Ten machines and 1,400 pieces of tape, one machine with 3,600 positions of a corner arm."""
    assert len(json.dumps(sample[2], separators=(",", ":"), allow_nan=False)) < 40_000


@pytest.mark.parametrize("name", ["Elevator drip", "Corner drip"])
def test_ends_of_tape_are_sent_to_a_tenth_of_a_millimetre(sample: Any, name: str) -> None:
    _, layouts, data = sample
    grid = next(drip.grid for layout in layouts for drip in layout.drip if drip.name == name)
    block, letters = block_of(data, name), grid.piece_letter.tolist()
    step = data["steps"]["end_m"]
    for sent, ends in ((block["start"], grid.piece_start_m), (block["stop"], grid.piece_stop_m)):
        assert step * np.array(read_back(sent, letters)) == pytest.approx(ends, abs=0.51e-4)
    counts = [count for count, times in block["pieces"] for _ in range(times)]
    assert counts == grid.pieces_per_lateral.tolist()
    # Station 0 lies where the first piece begins; by the circle one first piece is too short to be laid.
    first = np.flatnonzero(grid.piece_letter == 0)
    zeros = dict(zip(grid.piece_lateral[first].tolist(), grid.piece_start_m[first], strict=True))
    zeros |= {number: step * zero for number, zero in block["zero"]}
    known = grid.station_zero_m[grid.piece_lateral[first] - 1]
    assert list(zeros.values()) == pytest.approx(known, abs=0.51e-4)
    assert len(block["zero"]) < 5


def test_ground_is_sent_corner_by_corner(sample: Any) -> None:
    _, layouts, data = sample
    for layout, field in zip(layouts, data["fields"], strict=True):
        for shape, rings in (
            (layout.field.boundary, field["boundary"]),
            (layout.field.exclusions, field["exclusions"]),
        ):
            corners = [np.cumsum(np.array(ring).reshape(-1, 2), axis=0) for ring in rings]
            found = data["steps"]["corner_m"] * np.concatenate([np.empty((0, 2)), *corners])
            assert found == pytest.approx(shapely.get_coordinates(shape), abs=0.51e-4)
    corner = block_of(data, "Corner drip")
    assert corner["area"] is None
    assert corner["not_under"] == ["Prairie pivot"]


def test_an_arm_is_sent_by_its_angles(sample: Any) -> None:
    _, layouts, data = sample
    laid = next(pivot.corner_arm for layout in layouts for pivot in layout.pivots if pivot.corner_arm)
    arm = next(pivot["arm"] for field in data["fields"] for pivot in field["pivots"] if pivot["arm"])
    angles = data["steps"]["angle_deg"] * np.array(read_back(arm["angles"], [0] * len(arm["angles"])))
    assert angles == pytest.approx(laid.course.angle_deg, abs=0.51e-4)
    assert arm["full_circle"]
    assert arm["trailing"]
    assert arm["gun_m"] == pytest.approx((262 + 40 + 60) * 0.3048)


def test_an_excluded_header_end_is_told(tmp_path: Path) -> None:
    """Where an exclusion takes the first stretch away, stations still begin at the lateral's own end."""
    pad = "exclusions = [{ outline = [{lat = 36.75, lon = -101.496}, {lat = 36.75, lon = -101.495}, "
    pad += "{lat = 36.7505, lon = -101.495}, {lat = 36.7505, lon = -101.496}] }]\n"
    drip = '[[drip]]\nheading = 0\nheader = "south"\nrow_spacing = 30\nrows_per_lateral = 2\n'
    field = f'name = "Home field"\n{farms.OUTLINE}{pad}{drip}'
    farm = load_farm(farms.write_farm(tmp_path / "farm", fields={"home": field}))
    layouts = [lay_out(one) for one in farm.fields]
    grid, (block,) = layouts[0].drip[0].grid, where_data(farm, layouts)["fields"][0]["drip"]
    cut = np.flatnonzero(grid.piece_start_m - grid.station_zero_m[grid.piece_lateral - 1] > 1.0)
    assert len(cut) > 40
    assert [number for number, _ in block["zero"]] == grid.piece_lateral[cut].tolist()
    zeros = [1e-4 * zero for _, zero in block["zero"]]
    assert zeros == pytest.approx(grid.station_zero_m[grid.piece_lateral[cut] - 1], abs=0.51e-4)


def test_a_curve_is_sent_by_its_guidance_line(tmp_path: Path) -> None:
    path = "{lat = 36.753, lon = -101.5}, {lat = 36.7537, lon = -101.4955}, {lat = 36.753, lon = -101.491}"
    drip = f"[[drip]]\nline = {{ path = [{path}] }}\nrow_spacing = 60\nrows_per_lateral = 2\n"
    text = f'name = "Home field"\n{farms.OUTLINE}{drip}'
    farm = load_farm(farms.write_farm(tmp_path / "farm", fields={"home": text}))
    layouts = [lay_out(one) for one in farm.fields]
    grid, (block,) = layouts[0].drip[0].grid, where_data(farm, layouts)["fields"][0]["drip"]
    assert isinstance(grid, CurvedGrid)
    assert len(block["guide"]) == 3
    # The line bends once: to the right, so that on its left an arc opens.
    outside = block["higher"] if block["higher"]["arcs"][0] else block["lower"]
    inside = block["lower"] if outside is block["higher"] else block["higher"]
    assert outside["arcs"][0] > 0
    assert inside["arcs"] == [0]
    assert (inside["turn"], outside["turn"]) in {(1, -1), (-1, 1)}
    assert len(grid.higher.point_m) == 2 + block["higher"]["arcs"][0]

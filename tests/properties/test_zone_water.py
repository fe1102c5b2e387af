"""Zones against each lateral solved alone, against a pipe network, and what must always hold."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from networks import network_flow
from ringrow.coverage.drip_layout import lay_out_drip
from ringrow.coverage.field import DripLayout, Field
from ringrow.coverage.zone_water import WHOLE_BLOCK, block_water, zone_flow, zone_water
from ringrow.equipment.drip import DripBlock, Tape, Zone
from ringrow.errors import DomainError
from ringrow.frame import Frame
from ringrow.geometry.laterals import emitters_in_pieces
from ringrow.units import GALLON_L, INCH_M, PSI_KPA
from ringrow.water.lateral import TapeLateral, solve_lateral

TAPE = Tape(
    inside_diameter_m=0.875 * INCH_M,
    emitter_spacing_m=24 * INCH_M,
    emitter_flow_lps=0.16 * GALLON_L / 3600,
    at_pressure_kpa=8 * PSI_KPA,
    cv=0.03,
)
CIRCLE = shapely.Point(0, 0).buffer(150, quad_segs=64)
ZONE = Zone(name="A", first=1, last=120, pressure_kpa=10 * PSI_KPA)
YARD = shapely.box(-40, -30, 20, 25)


def laid(area=CIRCLE, *, exclusions=None, **change) -> DripLayout:
    block = DripBlock(
        **{
            "name": "D1",
            "area": area,
            "heading_deg": 90,
            "spacing_m": 1.524,
            "number_from_deg": 0,
            "header_deg": 270,
            "tape": TAPE,
            "zones": (ZONE,),
            **change,
        }
    )
    field = Field(
        name="F1",
        frame=Frame(lon=-101.5, lat=36.75),
        boundary=area,
        exclusions=exclusions or shapely.Polygon(),
        drip=(block,),
    )
    return lay_out_drip(field, block, under=shapely.Polygon())


def lateral_of(layout: DripLayout, emitters: int, *, inlet_kpa: float, slope: float = 0.0) -> TapeLateral:
    tape = layout.block.tape
    length_m = emitters * tape.emitter_spacing_m
    return TapeLateral(
        length_m=length_m,
        bore_m=tape.inside_diameter_m,
        emitter_spacing_m=tape.emitter_spacing_m,
        flow_lps=tape.emitter_flow_lps,
        at_pressure_kpa=tape.at_pressure_kpa,
        exponent=tape.exponent,
        inlet_kpa=inlet_kpa,
        rise_m=slope * length_m,
        far_kpa=inlet_kpa if layout.block.fed == "both" else None,
    )


@pytest.mark.parametrize(
    ("change", "slope"),
    [
        ({}, 0.0),
        ({"exclusions": YARD}, 0.0),
        ({"fed": "both"}, 0.0),
        ({"header_elevation_m": 2.0, "far_elevation_m": 0.5}, -1.5),
    ],
    ids=["level", "round a yard", "both ends", "falling"],
)
def test_zone_equals_every_piece_solved_alone(change: dict, slope: float) -> None:
    """Half a circle: hardly two laterals of the same length."""
    layout = laid(**change)
    grid = layout.grid
    longest_m = float(np.nanmax(grid.station_end_m - grid.station_zero_m))
    low, high = emitters_in_pieces(grid, TAPE.emitter_spacing_m)
    held = (grid.piece_lateral <= ZONE.last) & (high >= low)
    counts = (high - low + 1)[held]
    alone = [
        solve_lateral(lateral_of(layout, int(n), inlet_kpa=ZONE.pressure_kpa, slope=slope / longest_m))
        for n in counts
    ]
    found = zone_water(layout, ZONE)
    assert found.emitters == counts.sum()
    assert found.expected.flow_lps == pytest.approx(sum(flow.emitter_lps.sum() for flow in alone), rel=1e-9)
    assert found.expected.least_kpa == pytest.approx(min(flow.pressure_kpa.min() for flow in alone))
    every = np.concatenate([flow.emitter_lps for flow in alone])
    assert np.sort(found.expected.emitter_lps) == pytest.approx(np.sort(every))
    made = 1 - 1.27 * 0.03
    assert found.eu_pct == pytest.approx(100 * made * every.min() / every.mean())
    assert found.flow_variation_pct == pytest.approx(100 * (1 - every.min() / every.max()))


@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("fed", ["one", "both"])
def test_a_whole_lateral_of_a_zone_equals_a_network(fed: str, tmp_path, monkeypatch) -> None:
    """EPANET by its own Darcy-Weisbach formula (Swamee and Jain) on a quarter mile: within 1 %."""
    monkeypatch.chdir(tmp_path)
    layout = laid(shapely.box(0, 0, 402.336, 30.48), fed=fed, zones=(replace(ZONE, last=20),))
    (zone,) = block_water(layout)
    pressure, flow = network_flow(lateral_of(layout, 660, inlet_kpa=ZONE.pressure_kpa))
    assert zone.emitters == 20 * 660
    assert zone.expected.longest.pressure_kpa == pytest.approx(pressure, rel=0.01)
    assert zone.expected.longest.emitter_lps == pytest.approx(flow, rel=0.01)
    assert zone.expected.flow_lps == pytest.approx(20 * flow.sum(), rel=0.01)


def test_quarter_mile_zone_by_hand() -> None:
    """ZF22 to ZF24, VO8 (derived): 100 laterals of 1,320 ft, 60 in apart, 0.22 gpm per 100 ft at 8 psi."""
    gpm = GALLON_L / 60
    label = Tape(
        inside_diameter_m=0.875 * INCH_M,
        emitter_spacing_m=24 * INCH_M,
        flow_lps_per_m=0.22 * gpm / 30.48,
        at_pressure_kpa=8 * PSI_KPA,
    )
    zone = Zone(name="Q", first=1, last=100, pressure_kpa=8 * PSI_KPA)
    layout = laid(shapely.box(0, 0, 402.336, 152.4), tape=label, zones=(zone,))
    (water,) = block_water(layout)
    assert (water.laterals, water.pieces, water.emitters) == (100, 100, 66_000)
    assert water.length_m / 0.3048 == pytest.approx(132_000)
    assert water.nominal_lps / gpm == pytest.approx(290.4)
    assert water.area_m2 / 4046.8564224 == pytest.approx(15.15, abs=0.005)
    assert water.rate_mm_per_h / 25.4 == pytest.approx(0.04235, abs=1e-6)
    assert water.hours_per_inch == pytest.approx(1 / 0.0423527, rel=1e-4)
    assert water.volume_l / GALLON_L == pytest.approx(4123, abs=0.5)
    assert water.fill_min == pytest.approx(4123.34 / 290.4, rel=1e-4)
    assert water.flush_end_lps / gpm == pytest.approx(2.448 * 0.875**2, rel=1e-4)
    assert water.flush_lps / gpm == pytest.approx(100 * 2.448 * 0.875**2 + 290.4, rel=1e-4)


def test_label_and_emitter_of_the_same_tape_agree() -> None:
    label = replace(
        TAPE, emitter_flow_lps=None, flow_lps_per_m=TAPE.emitter_flow_lps / TAPE.emitter_spacing_m
    )
    one, two = (zone_water(laid(tape=tape), ZONE) for tape in (TAPE, label))
    assert two.nominal_lps == pytest.approx(one.nominal_lps)
    assert two.expected.flow_lps == pytest.approx(one.expected.flow_lps)
    bare = zone_water(laid(tape=replace(label, emitter_spacing_m=None)), ZONE)
    assert bare.emitters is None
    assert bare.nominal_lps == pytest.approx(one.length_m * label.flow_lps_per_m * (10 / 8) ** 0.5)
    assert bare.expected.flow_lps == pytest.approx(one.expected.flow_lps, rel=0.01)
    assert any("every 0.3 m" in text for text in bare.assumed)


@given(
    st.floats(3, 30).map(lambda psi: psi * PSI_KPA),
    st.floats(0.6, 1.5),
    st.sampled_from([0.0, 0.3, 0.5, 1.0]),
)
def test_losses_only_take_and_pressure_only_adds(inlet_kpa: float, bore_in: float, exponent: float) -> None:
    tape = replace(TAPE, inside_diameter_m=bore_in * INCH_M, exponent=exponent)
    layout = laid(shapely.box(0, 0, 250, 12), tape=tape, zones=(replace(ZONE, last=7),))
    water = zone_water(layout, layout.block.zones[0], inlet_kpa=inlet_kpa)
    assert water.expected.flow_lps <= water.nominal_lps * (1 + 1e-9)
    assert water.expected.least_kpa < inlet_kpa
    assert 0 <= water.flow_variation_pct <= 100
    assert water.expected_fill_min >= water.fill_min * (1 - 1e-9)
    both = zone_flow(laid(shapely.box(0, 0, 250, 12), tape=tape, fed="both"), ZONE, inlet_kpa=inlet_kpa)
    assert both.flow_lps >= water.expected.flow_lps * (1 - 1e-9)


def test_what_is_not_known_is_none_and_says_why() -> None:
    cases = {
        "tape not described": {"tape": None},
        "inside diameter": {"tape": replace(TAPE, inside_diameter_m=None)},
        "at_pressure": {"tape": replace(TAPE, at_pressure_kpa=None)},
        "emitter spacing not stated": {"tape": replace(TAPE, emitter_spacing_m=None)},
        "flow of the tape": {"tape": replace(TAPE, emitter_flow_lps=None)},
        'pressure of zone "A" not stated': {"zones": (replace(ZONE, pressure_kpa=None),)},
        "cv": {"tape": replace(TAPE, cv=None)},
    }
    for words, change in cases.items():
        layout = laid(**change)
        (water,) = block_water(layout)
        assert any(words in reason for reason in water.why.values()), (words, water.why)
        assert water.eu_pct is None
    no_bore = zone_water(laid(tape=replace(TAPE, inside_diameter_m=None)), ZONE)
    assert no_bore.nominal_lps == pytest.approx(no_bore.emitters * TAPE.emitter_flow_lps * 1.25**0.5)
    assert (no_bore.volume_l, no_bore.fill_min, no_bore.expected, no_bore.flush_lps) == (None,) * 4
    with pytest.raises(DomainError, match="inside diameter of the tape not stated"):
        zone_flow(laid(tape=replace(TAPE, inside_diameter_m=None)), ZONE, inlet_kpa=70)


def test_what_the_farm_did_not_say_is_passed_on() -> None:
    water = zone_water(laid(exclusions=YARD, assumed=("headland taken as 0 ft",)), ZONE)
    assert water.assumed[:2] == ("headland taken as 0 ft", "laterals taken as level")
    assert "tape past a gap" in water.assumed[2]


def test_block_without_zones_and_zone_without_tape() -> None:
    (whole,) = block_water(laid(zones=()))
    assert whole.zone.name == WHOLE_BLOCK
    assert whole.nominal_lps is None
    assert whole.volume_l > 0
    nothing = zone_water(laid(exclusions=CIRCLE), ZONE)
    assert (nothing.laterals, nothing.length_m, nothing.area_m2) == (0, 0, 0)
    assert nothing.why == {"nominal_lps": "the zone holds no tape"}
    short = laid(tape=replace(TAPE, emitter_spacing_m=5000.0))
    assert "too short for an emitter" in zone_water(short, ZONE).why["nominal_lps"]


def test_flush_line_shows_the_ends_of_the_laterals_only() -> None:
    """Level ground, a yard in the middle: pieces that end at the yard do not reach the flush line."""
    layout = laid(shapely.box(-150, -75, 150, 75), exclusions=YARD)
    flow = zone_flow(layout, ZONE, inlet_kpa=ZONE.pressure_kpa)
    grid = layout.grid
    low, high = emitters_in_pieces(grid, TAPE.emitter_spacing_m)
    ends = []
    for lateral in range(1, grid.count + 1):
        piece = np.flatnonzero(grid.piece_lateral == lateral)[-1]
        count = int(high[piece] - low[piece] + 1)
        alone = solve_lateral(lateral_of(layout, count, inlet_kpa=ZONE.pressure_kpa))
        ends.append(alone.pressure_kpa[-1])
    assert flow.far_kpa == pytest.approx(np.mean(ends))

"""What drip blocks hold: counts that close, zones that add up, header and flush lines."""

import json

import numpy as np
import pytest
import shapely
from click.testing import CliRunner

from ringrow.cli.main import cli
from ringrow.coverage.drip_layout import lay_out_drip
from ringrow.coverage.drip_totals import NO_ZONE, drip_totals, end_lines
from ringrow.equipment.drip import DripBlock, Tape, Zone
from ringrow.geometry.laterals import point_at
from ringrow.handoff.drip_table import closing_lines, drip_text
from ringrow.units import ACRE_M2, FOOT_M, INCH_M, METRIC, US

QUARTER_M = 2640 * FOOT_M


class Plain:
    """A field as far as a drip block needs one."""

    def __init__(self, exclusions=None) -> None:
        self.exclusions = exclusions or shapely.Polygon()


def block(area, **more) -> DripBlock:
    given = {
        "name": "Elevator drip", "area": area, "heading_deg": 90, "spacing_m": 60 * INCH_M,
        "number_from_deg": 0, "header_deg": 270, "tape": Tape(emitter_spacing_m=0.6),
    }  # fmt: skip
    return DripBlock(**{**given, **more})


def totals_of(area, exclusions=None, **more):
    layout = lay_out_drip(Plain(exclusions), block(area, **more), under=shapely.Polygon())
    return drip_totals(layout, field_name="Elevator quarter"), layout


def test_quarter_section_at_60_inches_closes() -> None:
    """Derived: 528 laterals x 5 ft = 2,640 ft; 528 x 2,640 ft x 5 ft = 160 acres; 8,712 ft to the acre."""
    totals, _ = totals_of(shapely.box(0, 0, QUARTER_M, QUARTER_M))
    whole = totals.whole
    assert (totals.numbers, whole.tape.laterals, whole.tape.pieces) == (528, 528, 528)
    assert totals.numbers * 60 * INCH_M == pytest.approx(totals.width_m)
    assert (totals.near_edge_m, totals.far_edge_m) == pytest.approx((0, 0), abs=1e-9)
    assert whole.strips_m2 / ACRE_M2 == pytest.approx(160)
    assert whole.wetted_m2 / ACRE_M2 == pytest.approx(160, rel=1e-9)
    assert whole.tape.length_m / FOOT_M / 160 == pytest.approx(8712)
    assert whole.cut_m2 == pytest.approx(0, abs=0.01)
    assert totals.bare_m2 == pytest.approx(0, abs=0.01)
    assert whole.tape.emitters == 528 * round(QUARTER_M / 0.6)


@pytest.mark.parametrize("first_m", [0.0, 0.2, 1.524, 3.0])
@pytest.mark.parametrize("wide_m", [100.0, 100.9, 101.6])
def test_width_closes_whatever_the_edges_take(first_m, wide_m) -> None:
    """Numbers x spacing and what both edges leave or cut add up to the width, straight and curved."""
    area = shapely.box(0, 0, 300, wide_m)
    for guide in (None, ((0, 40), (150, 44), (300, 40))):
        totals, layout = totals_of(area, first_lateral_m=first_m, guide_m=guide)
        closed = totals.numbers * 1.524 + totals.near_edge_m + totals.far_edge_m
        assert closed == pytest.approx(totals.width_m, abs=1e-9)
        assert totals.near_edge_m == pytest.approx(first_m - 0.762)
        assert -0.762 - 1e-6 <= totals.far_edge_m < 0.762 + 1e-6
        assert totals.whole.strips_m2 - totals.whole.cut_m2 == pytest.approx(layout.wetted.area)
        assert totals.whole.wetted_m2 + totals.bare_m2 == pytest.approx(area.area)


def test_outer_half_strip_past_the_edge_is_what_the_area_loses() -> None:
    """Lateral 1 on the edge: half its strip, 0.762 m x 300 m, falls past it."""
    totals, _ = totals_of(shapely.box(0, 0, 300, 1.524 * 10), first_lateral_m=0)
    assert totals.numbers == 11
    assert totals.whole.cut_m2 == pytest.approx(2 * 0.762 * 300, rel=1e-6)
    lines = closing_lines(totals, US)
    assert lines[0].count("30 in of the outer half strip lie past the") == 2


ZONES = (Zone(name="North", first=1, last=20, valve="V1"), Zone(name="South", first=25, last=60))
GUIDE = ((-50, 50), (80, 62), (190, 60), (350, 40))


@pytest.mark.parametrize("guide", [None, GUIDE])
def test_zones_and_the_rest_add_up(guide) -> None:
    pond = shapely.Point(150, 60).buffer(20)
    totals, _ = totals_of(shapely.box(0, 0, 300, 100), pond, zones=ZONES, guide_m=guide, headland_m=5)
    assert [zone.name for zone in totals.zones] == ["North", "South", NO_ZONE]
    tape = [zone.tape for zone in totals.zones]
    whole = totals.whole
    assert sum(each.laterals for each in tape) == whole.tape.laterals
    assert sum(each.pieces for each in tape) == whole.tape.pieces > whole.tape.laterals
    assert sum(each.emitters for each in tape) == whole.tape.emitters
    assert sum(each.length_m for each in tape) == pytest.approx(whole.tape.length_m)
    assert sum(zone.wetted_m2 for zone in totals.zones) == pytest.approx(whole.wetted_m2)
    assert totals.zones[2].wetted_m2 > 4 * 1.524 * 280
    # What a zone wets is its own strips, found another way: tape times spacing but for edges.
    assert totals.zones[0].wetted_m2 == pytest.approx(totals.zones[0].strips_m2, rel=0.01)


@pytest.mark.parametrize("guide", [None, GUIDE])
def test_header_and_flush_lines_run_through_the_ends(guide) -> None:
    _, layout = totals_of(shapely.box(0, 0, 300, 100), zones=ZONES, guide_m=guide, headland_m=5)
    lines = end_lines(layout)
    assert [(line.kind, line.zone) for line in lines] == [
        ("header", "North"), ("flush line", "North"), ("header", "South"), ("flush line", "South"),
    ]  # fmt: skip
    header, flush = lines[0], lines[1]
    assert (header.valve, header.first, header.last) == ("V1", 1, 20)
    xy = shapely.get_coordinates(header.line)
    assert len(xy) == 20
    for lateral in (1, 7, 20):
        assert xy[lateral - 1] == pytest.approx(point_at(layout.grid, lateral, 0), abs=1e-9)
    far = shapely.get_coordinates(flush.line)
    if guide is None:
        assert header.line.length == pytest.approx(19 * 1.524)
        assert (xy[:, 0], far[:, 0]) == (pytest.approx(5), pytest.approx(295))
    else:
        # The first laterals come in over the north edge, the others over the west one.
        assert (xy[:, 0] > 5.5).sum() == 5
        assert xy[10:, 0] == pytest.approx(5, abs=0.05)


def test_one_lateral_has_no_header_line_and_no_zones_make_one() -> None:
    _, layout = totals_of(shapely.box(0, 0, 300, 2))
    assert end_lines(layout) == []
    _, layout = totals_of(shapely.box(0, 0, 300, 4))
    assert [line.zone for line in end_lines(layout)] == ["all laterals"] * 2


def test_a_corner_block_keeps_numbers_without_tape() -> None:
    """Corners round a pivot: laterals that lie in the circle are numbered and hold nothing."""
    area = shapely.box(-100, -100, 100, 100)
    laid = lay_out_drip(Plain(), block(area), under=shapely.Point(0, 0).buffer(140, quad_segs=64))
    totals = drip_totals(laid, field_name="F")
    assert totals.numbers == 131
    assert totals.whole.tape.laterals < 5
    totals = drip_totals(
        lay_out_drip(Plain(), block(area), under=shapely.Point(0, 0).buffer(100, quad_segs=64)),
        field_name="F",
    )
    assert totals.whole.tape.pieces == 2 * totals.whole.tape.laterals
    assert totals.ground_m2 == pytest.approx(200**2 - np.pi * 100**2, rel=1e-3)


def test_words_of_a_block() -> None:
    totals, _ = totals_of(shapely.box(0, 0, 300, 100), zones=ZONES, guide_m=GUIDE)
    text = drip_text([totals], US, width=None)
    assert "Elevator drip (Elevator quarter): laterals along a curve, 5 ft apart" in text
    assert "half a spacing each side" in text
    assert "in no zone" in text
    assert "wet it." in text
    assert drip_text([], METRIC, width=None) == "No drip blocks."
    assert "Tape, m" in drip_text([totals], METRIC, width=80)


def test_empty_block_says_nothing_of_edges() -> None:
    totals, _ = totals_of(shapely.Polygon())
    assert (totals.numbers, totals.whole.tape.laterals, closing_lines(totals, US)) == (0, 0, [])


def test_drip_command_on_the_sample_farm(sample_farm) -> None:
    result = CliRunner().invoke(cli, ["drip", str(sample_farm), "--drip", "elevator drip", "--json"])
    assert result.exit_code == 0, result.output
    record = json.loads(result.stdout)
    (one,) = record["blocks"]
    assert record["schema"] == 1
    assert one["numbers"] * one["spacing_in"] + one["near_edge_in"] + one["far_edge_in"] == pytest.approx(
        one["width_ft"] * 12
    )
    assert one["lateral_ft"] * one["spacing_in"] / 12 / 43560 == pytest.approx(one["strip_acres"])
    assert sum(zone["acres"] for zone in one["zones"]) == pytest.approx(one["acres"])
    table = CliRunner().invoke(cli, ["drip", str(sample_farm)])
    assert table.exit_code == 0
    assert "Width: " in table.stdout
    missing = CliRunner().invoke(cli, ["drip", str(sample_farm), "--drip", "nowhere"])
    assert missing.exit_code == 1
    assert 'found "nowhere"' in missing.output

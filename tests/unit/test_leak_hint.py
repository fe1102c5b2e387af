"""Where to dig, by hand: candidates, bands, stations, ends, zones, wells, rows, and the words for them."""

from pathlib import Path

import numpy as np
import pytest
import shapely
from scipy.stats import norm

from ringrow.coverage.chances import LAYING_SIGMA_M
from ringrow.coverage.drip_layout import lay_out_drip
from ringrow.coverage.layout import lay_out
from ringrow.coverage.leak_hint import LAID_WITHIN_M, HoleRecord, hole_record, leak_hint
from ringrow.equipment.drip import DripBlock, Tape, Zone
from ringrow.equipment.well import Well
from ringrow.errors import PlaceError
from ringrow.farm.flag_places import locate_flags
from ringrow.farm.leak_hints import flag_leak_hint
from ringrow.farm.load import load_farm
from ringrow.geometry.laterals import point_at
from ringrow.handoff.leak_words import leak_lines, leak_record
from ringrow.units import INCH_M, METRIC, US

SPACING_M = 60 * INCH_M
ZONES = (
    Zone(name="North", first=1, last=30, valve="V1"),
    Zone(name="South", first=31, last=60, valve="V2"),
)
WELLS = (Well(name="Home well", lon=0, lat=0, serves=("D",), shutoffs="Box by the road."),
         Well(name="Other well", lon=0, lat=0, serves=("E",)))  # fmt: skip
GUIDE = ((-50.0, 40.0), (100.0, 55.0), (250.0, 52.0), (400.0, 30.0))


class Plain:
    """A field as far as a drip block needs one."""

    exclusions = shapely.box(140, 60, 160, 70)


def laid(**more):
    """Sixty laterals of 300 m, numbered from the north, header at the west."""
    given = {
        "name": "D", "area": shapely.box(0, 0, 300, 60 * SPACING_M), "heading_deg": 90,
        "spacing_m": SPACING_M, "number_from_deg": 0, "header_deg": 270, "rows_per_lateral": 2,
        "zones": ZONES, "depth_m": 12 * INCH_M, "tape": Tape(inside_diameter_m=1.375 * INCH_M),
    }  # fmt: skip
    return lay_out_drip(Plain(), DripBlock(**{**given, **more}), under=shapely.Polygon())


def beside(layout, lateral, station_m, aside_m=0.0):
    """A place beside a lateral, toward higher numbers: south of it."""
    x, y = point_at(layout.grid, lateral, station_m)
    return x, y - aside_m


def test_candidates_are_the_smallest_set_that_holds_95() -> None:
    layout = laid()
    hint = leak_hint(layout, beside(layout, 12, 80, 0.3), sigma_m=2.0)
    sigma = np.hypot(2.0, LAYING_SIGMA_M)
    numbers = np.arange(1, 61)
    off = 0.3 - (numbers - 12) * SPACING_M
    chance = norm.cdf((off + SPACING_M / 2) / sigma) - norm.cdf((off - SPACING_M / 2) / sigma)
    order = np.argsort(-chance)
    needed = int(np.searchsorted(np.cumsum(chance[order]), 0.95)) + 1
    assert [each.lateral for each in hint.candidates] == numbers[order[:needed]].tolist()
    assert sum(each.chance for each in hint.candidates) >= 0.95 > chance[order[: needed - 1]].sum()
    # The ground to open runs from the lowest to the highest of them, and 2.5 in on.
    low, high = min(numbers[order[:needed]]), max(numbers[order[:needed]])
    assert hint.band_m == pytest.approx(
        ((low - 12) * SPACING_M - 0.3 - LAID_WITHIN_M, (high - 12) * SPACING_M - 0.3 + LAID_WITHIN_M)
    )
    assert hint.station_range_m == pytest.approx((80 - 1.96 * 2, 80 + 1.96 * 2))


def test_dig_band_of_a_known_lateral_is_the_laying_spread() -> None:
    """1.96 x 1.3 in = 2.548 in either side; printed: 86 % within 2 in, 99 % within 3 in [Bordovsky 2006]."""
    layout = laid()
    hint = leak_hint(layout, beside(layout, 40, 100), sigma_m=0.0, lateral=40)
    assert hint.band_m == pytest.approx((-2.548 * INCH_M, 2.548 * INCH_M), abs=1e-6)
    assert 2 * INCH_M < LAID_WITHIN_M < 3 * INCH_M
    assert [(each.lateral, each.chance) for each in hint.candidates] == [(40, 1.0)]
    assert hint.station_range_m == pytest.approx((100, 100))
    with pytest.raises(PlaceError, match="lateral: found 99, a number without tape"):
        leak_hint(layout, (10, 10), sigma_m=1.0, lateral=99)


@pytest.mark.parametrize(
    ("station", "end", "end_m", "low", "high"),
    [(2, "header", 2, 0, 5.92), (298, "far", 2, 294.08, 300), (150, "header", 150, 146.08, 153.92)],
)
def test_ends_and_stations(station, end, end_m, low, high) -> None:
    layout = laid()
    hint = leak_hint(layout, beside(layout, 10, station), sigma_m=2.0)
    assert (hint.end, hint.end_m) == (end, pytest.approx(end_m, abs=1e-6))
    assert hint.station_range_m == pytest.approx((low, high), abs=1e-6)
    assert hint.header_bearing_deg == pytest.approx(270, abs=1e-6)


def test_near_a_zone_edge_both_valves_are_named() -> None:
    layout = laid()
    hint = leak_hint(layout, beside(layout, 30, 80, 0.5), sigma_m=2.0)
    assert hint.zone_edge_m == pytest.approx(SPACING_M / 2 - 0.5)
    assert (hint.zone_edge_rows, hint.beyond_edge) == (0, "South")
    assert [(each.zone, each.valve) for each in hint.shut] == [("North", "V1"), ("South", "V2")]
    assert sum(each.chance for each in hint.shut) == pytest.approx(
        sum(each.chance for each in hint.candidates)
    )
    assert "Shut valve V1 (North) or valve V2 (South) before you cut" in "\n".join(leak_lines(hint, US))
    inner = leak_hint(layout, beside(layout, 15, 80, -0.5), sigma_m=1.0)
    assert inner.zone_edge_m == pytest.approx(14.5 * SPACING_M - 0.5)
    assert (inner.zone_edge_rows, inner.beyond_edge) == (28, None)
    assert [each.zone for each in inner.shut] == ["North"]


@pytest.mark.parametrize(
    ("lateral", "each", "rows", "edge", "between", "bearing"),
    [
        (1, 2, (1, 2), "numbering edge", 0, 0),
        (12, 2, (23, 24), "numbering edge", 22, 0),
        (58, 2, (115, 116), "opposite edge", 4, 180),
        (7, 1, (7, 7), "numbering edge", 6, 0),
        (4, 3, (10, 12), "numbering edge", 9, 0),
    ],
)
def test_rows_beside_the_lateral_and_from_the_nearer_edge(
    lateral, each, rows, edge, between, bearing
) -> None:
    layout = laid(rows_per_lateral=each)
    hint = leak_hint(layout, beside(layout, lateral, 50), sigma_m=0.1)
    assert (hint.rows, hint.rows_from, hint.rows_between) == (rows, edge, between)
    assert hint.rows_edge_deg == bearing


def test_piece_wells_tape_and_uphill() -> None:
    layout = laid(header_elevation_m=100.0, far_elevation_m=104.0)
    cut = int(np.flatnonzero(layout.grid.pieces_per_lateral == 2)[0]) + 1
    hint = leak_hint(layout, beside(layout, cut, 200), sigma_m=0.1, wells=WELLS)
    assert hint.piece == "b"
    assert [well.name for well in hint.wells] == ["Home well"]
    assert hint.uphill == "far"
    text = "\n".join(leak_lines(hint, US))
    assert f"lateral {cut}, piece b" in text
    assert "uphill is the other way" in text
    assert "couplings and tape of 1.375 in inside diameter" in text
    assert "Water comes from Home well: Box by the road." in text
    assert "Tape is 12 in down" in text
    assert leak_hint(laid(), (10, 10), sigma_m=1.0).uphill is None


def test_words_start_at_the_water_and_end_in_small_print() -> None:
    layout = laid()
    hint = leak_hint(layout, beside(layout, 12, 80, 0.3), sigma_m=2.0, wells=WELLS)
    lines = leak_lines(hint, US)
    assert lines[1].startswith("  Start at the water. Find the slot")
    assert lines[1].endswith("running east and west.")
    assert lines[2].startswith("  Follow the slot toward the header, which lies west, and uphill")
    assert lines[3].startswith("  Before you dig have buried lines marked (in the US call 811")
    small = lines.index("  Small print")
    assert not any("in 10" in line for line in lines[:small])
    assert any("about 3 in 10; it may be 10 to 15, which together hold 95 in 100" in line for line in lines)
    assert "cm" in "\n".join(leak_lines(hint, METRIC))


def test_what_is_not_known_is_said_so() -> None:
    layout = laid(zones=(), depth_m=None, tape=None)
    hint = leak_hint(layout, beside(layout, 12, 80), sigma_m=2.0)
    text = "\n".join(leak_lines(hint, US))
    assert "How deep the tape lies is not in the farm's files" in text
    assert "Bring couplings for every tape size" in text
    assert "No well in the farm's files waters this block." in text
    assert "Shut D before you cut: it has no zones." in text
    record = leak_record(hint, US)
    assert (record["depth_in"], record["tape_in"], record["zone_edge_ft"]) == (None, None, None)


def test_far_from_tape_there_is_nothing_to_dig() -> None:
    layout = laid()
    assert leak_hint(layout, (5000, 5000), sigma_m=2.0) is None
    bare = laid(area=shapely.Polygon())
    assert leak_hint(bare, (10, 10), sigma_m=2.0) is None


def test_own_record_of_holes_counts_from_five() -> None:
    assert hole_record([]) is None
    four, five = hole_record([1, 2, 3, 4]), hole_record([1, 2, 3, 4, 5])
    assert five == HoleRecord(holes=5, median_m=3.0, low_m=2.0, high_m=4.0)
    layout = laid()
    place = beside(layout, 12, 80)
    assert leak_hint(layout, place, sigma_m=2.0, record=four).record is None
    hint = leak_hint(layout, place, sigma_m=2.0, record=five)
    assert "half of 5 holes lay within 10 ft of the water" in "\n".join(leak_lines(hint, US))


def test_along_a_curve() -> None:
    layout = laid(guide_m=GUIDE, line_point_m=GUIDE[0])
    grid = layout.grid
    lateral = 20
    (x, y), (x2, y2) = point_at(grid, lateral, 120), point_at(grid, lateral, 121)
    hint = leak_hint(layout, (x + 0.4 * (y2 - y), y - 0.4 * (x2 - x)), sigma_m=0.2)
    assert hint.lateral == lateral
    assert hint.offset_m == pytest.approx(0.4, abs=1e-3)
    assert hint.station_m == pytest.approx(120, abs=1e-3)
    assert hint.header_bearing_deg == pytest.approx(np.degrees(np.arctan2(x - x2, y - y2)) % 360, abs=0.1)


def test_a_flag_on_the_sample_farm(sample_farm: Path) -> None:
    from datetime import UTC, datetime

    from ringrow.coverage.accuracy import Accuracy
    from ringrow.farm.flag_model import DripSpot, FlagState, GroundSpot

    farm = load_farm(sample_farm)
    layouts = [lay_out(field) for field in farm.fields]
    layout = next(each for each in layouts for drip in each.drip if drip.name == "Elevator drip")
    block = layout.drip[0]
    x, y = point_at(block.grid, 43, 180.0)
    lon, lat = layout.field.frame.to_lonlat(x, y)

    def flag(kind, spot, number):
        return FlagState(
            id=f"0000-{number}", number=number, kind=kind, status="open", name="", note="", spot=spot,
            flag_class=None, set_at=datetime(2026, 11, 25, tzinfo=UTC), set_by="crew",
        )  # fmt: skip

    fix = GroundSpot(lon=float(lon), lat=float(lat), accuracy=Accuracy(radius_m=4.9, kind="r95"))
    states = [
        flag("leak", fix, 1),
        flag("leak", DripSpot(drip="Elevator drip", lateral=43, station_m=180.0), 2),
        flag("rut", fix, 3),
    ]
    by_fix, said, rut = (flag_leak_hint(each, farm, layouts) for each in locate_flags(farm, layouts, states))
    assert by_fix.lateral == said.lateral == 43
    assert len(by_fix.candidates) > 3
    assert [each.lateral for each in said.candidates] == [43]
    assert by_fix.station_m == pytest.approx(180, abs=0.01)
    assert by_fix.shut[0].valve == "V1"
    assert [well.name for well in by_fix.wells] == ["Elevator well"]
    assert rut is None

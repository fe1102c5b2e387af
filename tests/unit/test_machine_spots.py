"""Places on a pivot and on tape as people say them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from shapely import box

from ringrow.coverage.field import Field
from ringrow.coverage.layout import lay_out
from ringrow.equipment.corner_arm import CornerArm
from ringrow.equipment.drip import DripBlock
from ringrow.equipment.lateral_move import LateralMove, Wing
from ringrow.equipment.pivot import EndGun, Pivot
from ringrow.errors import PlaceError
from ringrow.farm.flag_model import DripSpot, MoveSpot
from ringrow.farm.machine_spots import Said, distance_on_m, pivot_named, spot_on_pivot
from ringrow.farm.model import Farm
from ringrow.farm.move_spots import SaidOnMove, offset_on_m, spot_on_move
from ringrow.farm.names import find_named
from ringrow.farm.tape_spots import lateral_of_row, spot_on_tape
from ringrow.frame import Frame
from ringrow.units import METRIC, US

# Towers at 50, 100, 150 m, pipe end at 160 m; outlets at 5, 15, ... 155 m, so none hangs at a tower.
PIVOT = Pivot(
    name="P1",
    x_m=0,
    y_m=0,
    spans_m=(50.0, 50.0, 50.0),
    overhang_m=10.0,
    panel_zero_deg=90.0,
    end_gun=EndGun(reach_m=20.0),
    outlets_m=tuple(range(5, 160, 10)),
)


@pytest.mark.parametrize(
    ("said", "words", "distance_m"),
    [
        (Said(tower=2), "tower 2", 100),
        (Said(tower=2, wheel="outer-trailing"), "tower 2, outer-trailing wheel", 100),
        (Said(tower=2, drop=3), "tower 2, drop +3", 125),
        (Said(tower=2, drop=-1), "tower 2, drop -1", 95),
        (Said(tower=3, drop=1), "tower 3, drop +1", 155),
        (Said(span=1), "span 1", 25),
        (Said(outlet=16), "outlet 16", 155),
        (Said(distance_m=81.2), "81 m from the pivot point", 81.2),
        (Said(distance_m=160.4), "160 m from the pivot point", 160),
    ],
)
def test_a_place_said_is_a_distance(said: Said, words: str, distance_m: float) -> None:
    spot = spot_on_pivot(PIVOT, said, units=METRIC)
    assert spot.said == words
    assert spot.distance_m == pytest.approx(distance_m, abs=1e-9)
    assert distance_on_m(PIVOT, spot) == pytest.approx(distance_m, abs=1e-9)


def test_panel_degrees_become_the_true_azimuth() -> None:
    assert spot_on_pivot(PIVOT, Said(tower=1, panel_deg=300.0), units=US).azimuth_deg == 30.0
    assert spot_on_pivot(PIVOT, Said(tower=1, azimuth_deg=30.0), units=US).azimuth_deg == 30.0
    assert spot_on_pivot(PIVOT, Said(tower=1), units=US).azimuth_deg is None


def test_parts_that_a_machine_has_once_need_no_further_place() -> None:
    assert spot_on_pivot(PIVOT, Said(), units=US, kind="end-gun").distance_m == 160.0
    assert spot_on_pivot(PIVOT, Said(), units=US, kind="collector-ring").distance_m == 0.0


def test_what_was_named_goes_with_a_corrected_machine_else_the_distance_counts() -> None:
    corrected = Pivot(name="P1", x_m=0, y_m=0, spans_m=(60.0, 60.0))
    for said, expected in (
        (Said(tower=2), 120.0),
        (Said(span=2), 90.0),
        (Said(tower=3), 150.0),
        (Said(outlet=4), 35.0),
    ):
        assert distance_on_m(corrected, spot_on_pivot(PIVOT, said, units=US)) == expected


@pytest.mark.parametrize(
    ("said", "message"),
    [
        (
            Said(),
            r'"P1": found no tower, span, outlet or distance; allowed: one of them \(towers 1 to 3\)',
        ),
        (Said(tower=4), r'tower of "P1": found 4; allowed: 1 to 3'),
        (Said(tower=0), r'tower of "P1": found 0; allowed: 1 to 3'),
        (Said(span=4), r'span of "P1": found 4; allowed: 1 to 3'),
        (Said(outlet=17), r'outlet of "P1": found 17; allowed: 1 to 16'),
        (Said(distance_m=170.0), r'distance on "P1": found 558 ft; allowed: 0 to 525 ft'),
        (Said(distance_m=-1.0), r"found -3 ft; allowed: 0 to 525 ft"),
        (Said(tower=2, drop=6), r'drop at tower 2 of "P1": found \+6; allowed: -5 to -1 or \+1 to \+5'),
        (Said(tower=2, drop=0), r"found \+0; allowed: -5 to -1 or"),
        (Said(tower=3, drop=2), r"found \+2; allowed: -5 to -1 or \+1 to \+1"),
        (Said(tower=1, span=2), r"found tower and span; allowed: one of tower, span, outlet, distance"),
        (Said(span=2, drop=1), r"a drop or wheel alone; allowed: together with a tower"),
        (Said(tower=2, drop=1, wheel="inner-leading"), r"both a drop and a wheel; allowed: one of them"),
        (Said(tower=2, wheel="left"), r'wheel: found "left"; allowed: inner-leading'),
        (Said(tower=2, azimuth_deg=1, panel_deg=1), r"both azimuth and panel degrees; allowed: one"),
        (Said(tower=2, azimuth_deg=360.0), r"azimuth: found 360; allowed: 0 or more and below 360"),
        (Said(tower=2, panel_deg=-1.0), r"panel: found -1; allowed: 0 or more"),
    ],
)
def test_a_place_the_machine_does_not_have_is_refused(said: Said, message: str) -> None:
    with pytest.raises(PlaceError, match=message):
        spot_on_pivot(PIVOT, said, units=US)


def test_drops_need_known_outlets() -> None:
    bare = Pivot(name="P2", x_m=0, y_m=0, spans_m=(50.0,))
    for said in (Said(outlet=1), Said(tower=1, drop=1)):
        with pytest.raises(PlaceError, match=r'outlets of "P2": not known; say a distance'):
            spot_on_pivot(bare, said, units=US)


def block(**changes: object) -> DripBlock:
    plain = {
        "name": "B1",
        "area": box(-100.0, -50.0, 100.0, 50.0),
        "heading_deg": 90.0,
        "spacing_m": 2.0,
        "number_from_deg": 0.0,
        "header_deg": 270.0,
        "rows_per_lateral": 2.0,
    }
    return DripBlock(**{**plain, **changes})  # type: ignore[arg-type]


def test_crop_rows_are_counted_with_the_laterals_that_serve_them() -> None:
    assert [lateral_of_row(block(), row) for row in (1, 2, 3, 4, 85, 86)] == [1, 1, 2, 2, 43, 43]
    assert [lateral_of_row(block(rows_per_lateral=1.0), row) for row in (1, 2)] == [1, 2]
    with pytest.raises(PlaceError, match=r'row of "B1": found 0; allowed: 1 and up'):
        lateral_of_row(block(), 0)


def test_a_place_on_tape_is_checked_against_the_laterals() -> None:
    laid = lay_out(
        Field(name="F", frame=Frame(lon=-101.5, lat=36.75), boundary=box(-100, -50, 100, 50), drip=(block(),))
    ).drip[0]
    assert spot_on_tape(laid, 50, 200.2, units=METRIC) == DripSpot(drip="B1", lateral=50, station_m=200.0)
    with pytest.raises(
        PlaceError, match=r'lateral of "B1": found 51; allowed: 1 to 50 from the numbering edge'
    ):
        spot_on_tape(laid, 51, 10.0, units=METRIC)
    with pytest.raises(
        PlaceError, match=r"station on lateral 3 .*: found 657 ft; allowed: 0 \(header end\) to 656 ft"
    ):
        spot_on_tape(laid, 3, 200.2, units=US)
    with pytest.raises(PlaceError, match=r"found -1 m; allowed: 0"):
        spot_on_tape(laid, 3, -1.0, units=METRIC)


def test_names_are_found_whatever_their_capitals() -> None:
    wells = {"Home well": 1, "East well": 2}
    assert find_named(wells, "HOME WELL", what="well") == 1
    assert find_named({"Home well": 1}, None, what="well") == 1
    with pytest.raises(
        PlaceError, match=r'well: found "Hom wel"; allowed: "Home well", "East well"; nearest: "Home well"'
    ):
        find_named(wells, "Hom wel", what="well")
    with pytest.raises(PlaceError, match=r'well: no name given; allowed: "Home well", "East well"'):
        find_named(wells, None, what="well")
    with pytest.raises(PlaceError, match=r"well: this farm has none"):
        find_named({}, "x", what="well")
    with pytest.raises(PlaceError, match=r'"9" and 3 more'):
        find_named({str(number): number for number in range(13)}, "x", what="well", most=10)


ARM = CornerArm(length_m=80.0, overhang_m=12.0, side="trailing", fold_deg=90.0, open_deg=165.0)
WITH_ARM = replace(PIVOT, overhang_m=0.0, end_gun=None, outlets_m=(), corner_arm=ARM)


def test_places_on_a_corner_arm_count_on_along_the_pipe() -> None:
    wheels = spot_on_pivot(WITH_ARM, Said(tower=4, wheel="outer-leading"), units=METRIC)
    assert wheels.said == "steered wheels of the corner arm, outer-leading wheel"
    assert (wheels.distance_m, distance_on_m(WITH_ARM, wheels)) == (230.0, 230.0)
    # The arm was measured anew: its wheels go with it.
    longer = replace(WITH_ARM, corner_arm=replace(ARM, length_m=84.0))
    assert distance_on_m(longer, wheels) == 234.0
    assert spot_on_pivot(WITH_ARM, Said(distance_m=242.4), units=METRIC).distance_m == 242.0
    assert spot_on_pivot(WITH_ARM, Said(), units=METRIC, kind="end-gun").distance_m == 242.0
    with pytest.raises(PlaceError, match=r"found 243 m; allowed: 0 to 242 m \(.*end of the corner arm"):
        spot_on_pivot(WITH_ARM, Said(distance_m=243.0), units=METRIC)
    with pytest.raises(
        PlaceError, match=r"found 5; allowed: 1 to 3, .*, 4 for the steered wheels of its corner"
    ):
        spot_on_pivot(WITH_ARM, Said(tower=5), units=METRIC)
    with pytest.raises(PlaceError, match=r"found 4; allowed: 1 to 3, 1 nearest the pivot point$"):
        spot_on_pivot(PIVOT, Said(tower=4), units=METRIC)


MOVE = LateralMove(
    name="L1",
    path_m=((0.0, 0.0), (0.0, 300.0), (100.0, 300.0)),
    left=Wing(spans_m=(50.0, 60.0), overhang_m=10.0),
    right=Wing(spans_m=(40.0,)),
)
ONE_SIDED = replace(MOVE, right=Wing())


@pytest.mark.parametrize(
    ("said", "words", "side", "offset_m"),
    [
        (SaidOnMove(side="left", tower=2), "left tower 2", "left", 110),
        (
            SaidOnMove(side="right", tower=1, wheel="inner-leading"),
            "right tower 1, inner-leading wheel",
            "right",
            40,
        ),
        (SaidOnMove(side="left", span=2), "left span 2", "left", 80),
        (SaidOnMove(side="left", distance_m=120.4), "left, 120 m from the cart", "left", 120),
        (SaidOnMove(), "cart", "left", 0),
    ],
)
def test_a_place_said_on_a_lateral_move(said: SaidOnMove, words: str, side: str, offset_m: float) -> None:
    spot = spot_on_move(MOVE, replace(said, travel_m=400.3), units=METRIC)
    assert (spot.said, spot.side, spot.offset_m, spot.travel_m) == (words, side, offset_m, 400.0)
    assert offset_on_m(MOVE, spot) == offset_m


def test_on_a_one_sided_machine_the_side_need_not_be_said() -> None:
    assert spot_on_move(ONE_SIDED, SaidOnMove(tower=1), units=METRIC).side == "left"
    with pytest.raises(PlaceError, match='side of "L1": not said; allowed: left or right of the cart'):
        spot_on_move(MOVE, SaidOnMove(tower=1), units=METRIC)


def test_a_spot_on_a_lateral_move_goes_with_its_description() -> None:
    spot = spot_on_move(MOVE, SaidOnMove(side="left", tower=2), units=METRIC)
    stretched = replace(MOVE, left=Wing(spans_m=(55.0, 60.0)))
    assert offset_on_m(stretched, spot) == 115.0
    shorter = replace(MOVE, left=Wing(spans_m=(55.0,)))
    assert offset_on_m(shorter, spot) == 55.0
    assert offset_on_m(MOVE, MoveSpot(move="L1", said="left span 1", side="left", offset_m=9, span=1)) == 25.0


@pytest.mark.parametrize(
    ("said", "message"),
    [
        (
            SaidOnMove(side="left", tower=1, span=1),
            "found tower and span; allowed: one of tower, span, distance",
        ),
        (
            SaidOnMove(side="left", wheel="inner-leading"),
            "found a wheel alone; allowed: together with a tower",
        ),
        (SaidOnMove(side="left", tower=1, wheel="front"), 'wheel: found "front"; allowed: inner-leading'),
        (
            SaidOnMove(side="left", tower=3),
            'tower of "L1", left: found 3; allowed: 1 to 2, 1 nearest the cart',
        ),
        (SaidOnMove(side="right", span=2), 'span of "L1", right: found 2; allowed: 1 to 1'),
        (SaidOnMove(side="left", distance_m=121), r"found 121 m; allowed: 0 to 120 m \(cart to pipe end\)"),
        (
            SaidOnMove(side="left", tower=1, travel_m=401),
            r"travel of \"L1\": found 401 m; allowed: 0 to 400 m",
        ),
        (SaidOnMove(side="up", tower=1), 'side of "L1": found "up"; allowed: left, right'),
    ],
)
def test_what_a_lateral_move_has_not_is_refused(said: SaidOnMove, message: str) -> None:
    with pytest.raises(PlaceError, match=message):
        spot_on_move(MOVE, said, units=METRIC)


def test_a_side_without_pipe_is_refused() -> None:
    with pytest.raises(PlaceError, match="found right; allowed: left, it has no pipe on the other"):
        spot_on_move(ONE_SIDED, SaidOnMove(side="right", tower=1), units=METRIC)


def farm_of(*pivots: Pivot) -> Farm:
    field = Field(name="F", frame=Frame(lon=-101.5, lat=36.75), boundary=box(-1, -1, 1, 1), pivots=pivots)
    return Farm(folder=Path(), name="T", units=US, fields=(field,))


WEST = replace(PIVOT, name="Tow at point 1", machine="Tow")
EAST = replace(WEST, name="Tow at point 2", parked_deg=180.0)


def test_a_towed_machine_is_named_by_itself_or_by_a_point() -> None:
    farm = farm_of(WEST, EAST)
    assert pivot_named(farm, "tow", Said(tower=1)).name == "Tow"
    assert pivot_named(farm, "Tow at point 1", Said(tower=1)) == WEST
    # An azimuth belongs to a point: to the one where it stands.
    assert pivot_named(farm, "Tow", Said(tower=1, azimuth_deg=10.0)) == EAST
    nowhere = farm_of(WEST, replace(EAST, parked_deg=None))
    assert pivot_named(nowhere, "Tow", Said(tower=1)).name == "Tow"
    with pytest.raises(
        PlaceError, match=r'found an azimuth .* allowed: one of "Tow at point 1", "Tow at point 2"'
    ):
        pivot_named(nowhere, "Tow", Said(tower=1, panel_deg=10.0))
    with pytest.raises(PlaceError, match=r'pivot: found "Toe"; allowed: .*nearest: "Tow"'):
        pivot_named(farm, "Toe", Said())
    assert pivot_named(farm_of(PIVOT), None, Said(tower=1)) == PIVOT

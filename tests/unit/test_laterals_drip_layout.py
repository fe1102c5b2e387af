"""A drip block on its field: ground, wetted ground, totals, and what a block may not say."""

import pytest
import shapely

from ringrow.coverage.drip_layout import block_lateral_count, lay_out_drip, tape_totals
from ringrow.coverage.field import Field
from ringrow.equipment.drip import DripBlock, Tape, Zone
from ringrow.errors import DomainError
from ringrow.frame import Frame

BLOCK = shapely.box(0, 0, 100, 30)
NOTHING = shapely.Polygon()


def field(**changes):
    return Field(name="Elevator", frame=Frame(lon=-101.5, lat=36.75), boundary=BLOCK, **changes)


def drip(**changes):
    values = {
        "name": "Elevator drip",
        "area": BLOCK,
        "heading_deg": 90.0,
        "spacing_m": 10.0,
        "number_from_deg": 0.0,
        "header_deg": 270.0,
    }
    return DripBlock(**{**values, **changes})


def test_a_plain_block_holds_tape_everywhere() -> None:
    block = drip()
    layout = lay_out_drip(field(), block, under=NOTHING)
    assert layout.block is block
    assert layout.grid.count == block_lateral_count(block) == 3
    assert layout.ground.equals(BLOCK)
    assert layout.wetted.equals(BLOCK)


def test_exclusions_and_pivots_take_ground_but_no_numbers() -> None:
    yard, under = shapely.box(0, 10, 20, 20), shapely.box(60, -5, 200, 40)
    layout = lay_out_drip(field(exclusions=yard), drip(), under=under)
    assert layout.ground.area == pytest.approx(60 * 30 - 20 * 10)
    assert layout.grid.count == 3
    assert layout.grid.piece_start_m.tolist() == [0, 20, 0]
    assert layout.grid.piece_stop_m.tolist() == [60, 60, 60]
    assert layout.wetted.equals(layout.ground)


def test_every_key_of_the_block_reaches_the_grid() -> None:
    block = drip(
        heading_deg=0.0,
        number_from_deg=90.0,
        header_deg=0.0,
        spacing_m=8.0,
        first_lateral_m=6.0,
        headland_m=5.0,
    )
    grid = lay_out_drip(field(), block, under=NOTHING).grid
    assert grid.points(grid.piece_start_m[0], grid.piece_across_m[0]).tolist() == [94, 25]
    assert grid.points(grid.piece_stop_m[1], grid.piece_across_m[1]).tolist() == [86, 5]
    on_line = lay_out_drip(field(), drip(line_point_m=(0.0, 27.0)), under=NOTHING).grid
    assert on_line.first_m == 3


def test_totals_of_a_block_and_its_zones() -> None:
    """Laterals of 100 m, the middle one 80 m in two pieces; emitters every half metre."""
    yard = shapely.box(40, 12, 60, 18)
    block = drip(
        tape=Tape(emitter_spacing_m=0.5),
        zones=(Zone(name="A", first=1, last=2), Zone(name="B", first=3, last=3)),
    )
    layout = lay_out_drip(field(exclusions=yard), block, under=NOTHING)
    whole = tape_totals(layout.grid, emitter_spacing_m=0.5)
    assert (whole.laterals, whole.pieces, whole.length_m, whole.emitters) == (3, 4, 280, 560)
    zones = {
        zone.name: tape_totals(layout.grid, first=zone.first, last=zone.last, emitter_spacing_m=0.5)
        for zone in block.zones
    }
    assert list(zones) == ["A", "B"]
    assert (zones["A"].laterals, zones["A"].pieces, zones["A"].length_m) == (2, 3, 180)
    assert (zones["A"].emitters, zones["B"].emitters) == (360, 200)


def test_a_number_without_tape_is_no_lateral_of_the_totals() -> None:
    layout = lay_out_drip(field(exclusions=shapely.box(0, 12, 100, 18)), drip(), under=NOTHING)
    assert tape_totals(layout.grid).laterals == 2
    assert tape_totals(layout.grid, first=2, last=2).length_m == 0


def test_emitters_are_unknown_without_their_spacing() -> None:
    layout = lay_out_drip(field(), drip(zones=(Zone(name="A", first=1, last=9),)), under=NOTHING)
    assert tape_totals(layout.grid).emitters is None
    zone = tape_totals(layout.grid, first=1, last=9)
    assert zone.emitters is None
    assert zone.laterals == 3


def test_a_block_wholly_under_a_pivot_is_bare() -> None:
    layout = lay_out_drip(field(), drip(), under=shapely.box(-10, -10, 110, 40))
    assert layout.ground.is_empty
    assert layout.wetted.is_empty
    assert tape_totals(layout.grid).length_m == 0


@pytest.mark.parametrize(
    "change",
    [{"spacing_m": 0.0}, {"headland_m": -1.0}, {"headland_m": float("nan")}, {"first_lateral_m": -1.0}],
)
def test_lengths_of_a_block_that_cannot_be(change) -> None:
    with pytest.raises(DomainError, match=r'"Elevator drip": found spacing .* allowed: spacing above 0'):
        drip(**change)


@pytest.mark.parametrize("side", [90, 81, 99, 270, 279.9])
def test_number_from_along_the_laterals(side) -> None:
    with pytest.raises(
        DomainError, match=r'"Elevator drip" number_from: found .* within 10 of the heading 90'
    ):
        drip(number_from_deg=side)


@pytest.mark.parametrize("side", [0, 9, 351, 180, 189.9])
def test_header_square_to_the_laterals(side) -> None:
    with pytest.raises(
        DomainError, match=r'"Elevator drip" header: found .* within 10 of square to the head'
    ):
        drip(header_deg=side)


@pytest.mark.parametrize(("lateral", "zone"), [(1, "A"), (2, "A"), (3, None)])
def test_zone_of_a_lateral(lateral, zone) -> None:
    found = drip(zones=(Zone(name="A", first=1, last=2),)).zone_of(lateral)
    assert (found.name if found else None) == zone

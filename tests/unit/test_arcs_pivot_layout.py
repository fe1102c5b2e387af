"""What a pivot wets in its field: gun settings, sectors, exclusions, leaning north."""

import math
from dataclasses import replace

import pytest
import shapely
from shapely import box

from ringrow.coverage.field import Field
from ringrow.coverage.layout import lay_out
from ringrow.coverage.pivot_layout import gun_arcs, lay_out_pivot
from ringrow.equipment.drip import DripBlock
from ringrow.equipment.pivot import EndGun, Pivot, Sector
from ringrow.errors import GeometryError
from ringrow.frame import Frame

FRAME = Frame(lon=-101.5, lat=36.75)
QUARTER = box(-402.336, -402.336, 402.336, 402.336)
STOP = math.degrees(math.acos(1320 / 1416))


def field(boundary=QUARTER, **parts):
    return Field(name="Windmill quarter", frame=FRAME, boundary=boundary, **parts)


def pivot(**parts):
    """Base radius 1,320 ft, gun radius 1,416 ft unless told otherwise."""
    settings = {"name": "Windmill pivot", "x_m": 0.0, "y_m": 0.0, "spans_m": (200.0, 202.336)} | parts
    return Pivot(**settings)


def gun(arcs="auto"):
    return EndGun(reach_m=96 * 0.3048, arcs=arcs)


def turned(arcs):
    return [(arc.start_deg, arc.stop_deg) for arc in arcs]


def ring_m2(degrees):
    return math.radians(degrees) / 2 * ((1416 * 0.3048) ** 2 - 402.336**2)


def test_without_a_gun_it_is_the_base_alone():
    layout = lay_out_pivot(field(), pivot(overhang_m=10, throw_m=5), QUARTER)
    assert layout.gun_arcs == ()
    assert layout.gun.is_empty
    assert layout.base.area == pytest.approx(math.pi * 417.336**2, rel=1e-12)
    assert layout.wetted.equals(layout.base)


def test_the_wetted_ground_is_not_cut_at_the_boundary():
    layout = lay_out_pivot(field(), pivot(overhang_m=50), QUARTER)
    assert shapely.difference(layout.wetted, QUARTER).area > 1000


def test_always_is_the_whole_turn():
    layout = lay_out_pivot(field(), pivot(end_gun=gun("always")), QUARTER)
    assert layout.gun_arcs == "full"
    assert layout.wetted.area == pytest.approx(math.pi * (1416 * 0.3048) ** 2, rel=1e-12)


def test_always_on_a_part_circle_is_its_sector():
    sector = Sector(start_deg=20, stop_deg=310)
    layout = lay_out_pivot(field(), pivot(end_gun=gun("always"), sector=sector), QUARTER)
    assert layout.gun_arcs == (sector,)
    assert layout.gun.area == pytest.approx(ring_m2(290), rel=1e-10)


def test_auto_in_a_square_runs_toward_the_corners():
    layout = lay_out_pivot(field(), pivot(end_gun=gun()), QUARTER)
    expected = [(q + STOP, q + 90 - STOP) for q in (0, 90, 180, 270)]
    assert turned(layout.gun_arcs) == [pytest.approx(pair, abs=1e-9) for pair in expected]
    assert layout.gun.area == pytest.approx(ring_m2(4 * (90 - 2 * STOP)), rel=1e-9)
    # The gun's water stays on the square, but for the vertices standing within the chord error.
    assert shapely.difference(layout.gun, QUARTER.buffer(0.01, join_style="mitre")).is_empty


def test_auto_keeps_out_of_an_exclusion_and_its_setback():
    """The yard fills the north-east corner, so that corner's arc goes and the others stay."""
    yard = box(140, 140, 402.336, 402.336)
    bare = field(pivots=(pivot(end_gun=gun()),), setback_m=9.144)
    quarters = [
        [arc.start_deg // 90 for arc in lay_out(it).pivots[0].gun_arcs]
        for it in (bare, replace(bare, exclusions=yard))
    ]
    assert quarters == [[0, 1, 2, 3], [1, 2, 3]]


def test_auto_stops_short_of_a_smaller_yard_by_the_setback():
    yard = box(250, 250, 402.336, 402.336)
    layout = lay_out(field(pivots=(pivot(end_gun=gun()),), exclusions=yard, setback_m=9.144)).pivots[0]
    assert [arc.start_deg // 90 for arc in layout.gun_arcs] == [0, 0, 1, 2, 3]
    assert shapely.distance(layout.gun, yard) == pytest.approx(9.144, abs=0.01)


def test_auto_within_a_sector_gives_its_own_stops_back():
    sector = Sector(start_deg=33.3, stop_deg=300.1)
    arcs = gun_arcs(field(), pivot(end_gun=gun(), sector=sector, convergence_deg=-0.0067), QUARTER)
    assert arcs[0].start_deg == 33.3
    assert arcs[-1].stop_deg == 300.1


def test_auto_azimuths_are_true_where_north_leans():
    """Frame bearing = azimuth + convergence, so the square's arcs shift back by it."""
    arcs = gun_arcs(field(), pivot(end_gun=gun(), convergence_deg=0.25), QUARTER)
    assert turned(arcs)[0] == pytest.approx((STOP - 0.25, 90 - STOP - 0.25), abs=1e-9)
    layout = lay_out_pivot(field(), pivot(end_gun=gun(), convergence_deg=0.25), QUARTER)
    assert shapely.difference(layout.gun, QUARTER.buffer(0.01, join_style="mitre")).is_empty


def test_a_sector_turns_with_leaning_north():
    """Sector 0 to 90 with north leaning 30 degrees east lies between frame bearings 30 and 120."""
    layout = lay_out_pivot(
        field(), pivot(sector=Sector(start_deg=0, stop_deg=90), convergence_deg=30.0), QUARTER
    )
    assert layout.base.covers(
        shapely.Point(200 * math.sin(math.radians(31)), 200 * math.cos(math.radians(31)))
    )
    assert not layout.base.covers(shapely.Point(10, 200))


def test_auto_drops_short_arcs_by_the_fields_own_limit():
    assert gun_arcs(field(min_arc_deg=60.0), pivot(end_gun=gun()), QUARTER) == ()
    assert len(gun_arcs(field(min_arc_deg=40.0), pivot(end_gun=gun()), QUARTER)) == 4


def test_auto_with_room_all_round_is_full():
    layout = lay_out_pivot(field(QUARTER.buffer(100)), pivot(end_gun=gun()), QUARTER.buffer(100))
    assert layout.gun_arcs == "full"


def test_stated_arcs_are_joined_cut_to_the_sector_and_never_dropped():
    stated = (
        Sector(start_deg=300, stop_deg=40),
        Sector(start_deg=35, stop_deg=71),
        Sector(start_deg=200, stop_deg=201),
    )
    sector = Sector(start_deg=20, stop_deg=310)
    layout = lay_out_pivot(field(), pivot(end_gun=gun(stated), sector=sector), QUARTER)
    assert turned(layout.gun_arcs) == [(20, 71), (200, 201), (300, 310)]
    assert layout.gun.area == pytest.approx(ring_m2(51 + 1 + 10), rel=1e-9)
    assert layout.gun.geom_type == "MultiPolygon"


def test_stated_arcs_round_the_whole_circle_are_full():
    stated = (Sector(start_deg=0, stop_deg=200), Sector(start_deg=150, stop_deg=10))
    assert gun_arcs(field(), pivot(end_gun=gun(stated)), QUARTER) == "full"


def test_a_gun_shorter_than_the_throw_adds_nothing():
    machine = pivot(throw_m=30.0, end_gun=EndGun(reach_m=20.0, arcs="always"))
    layout = lay_out_pivot(field(), machine, QUARTER)
    assert layout.gun_arcs == ()
    assert layout.wetted.area == pytest.approx(math.pi * machine.base_radius_m**2, rel=1e-12)


def test_a_field_lays_out_every_system_and_tape_keeps_off_the_pivot():
    block = DripBlock(
        name="Corner drip",
        area=QUARTER,
        heading_deg=90.0,
        spacing_m=1.524,
        number_from_deg=0.0,
        header_deg=270.0,
        not_under=("Windmill pivot",),
    )
    yard = box(300, 300, 402.336, 402.336)
    layout = lay_out(field(exclusions=yard, pivots=(pivot(),), drip=(block,)))
    assert layout.farmable.area == pytest.approx(QUARTER.area - yard.area)
    assert list(layout.systems) == [*layout.pivots, *layout.drip]
    assert shapely.intersection(layout.drip[0].wetted, layout.pivots[0].wetted).area < 1e-6
    left = layout.farmable.area - shapely.intersection(layout.farmable, layout.pivots[0].wetted).area
    assert layout.drip[0].ground.area == pytest.approx(left, rel=1e-9)


def test_tape_cannot_keep_off_a_pivot_of_another_field():
    block = DripBlock(
        name="Corner drip",
        area=QUARTER,
        heading_deg=90.0,
        spacing_m=1.524,
        number_from_deg=0.0,
        header_deg=270.0,
        not_under=("Creek pivot",),
    )
    with pytest.raises(
        GeometryError, match=r'"Corner drip" not: found "Creek pivot"; allowed: .*Windmill pivot'
    ):
        lay_out(field(pivots=(pivot(),), drip=(block,)))

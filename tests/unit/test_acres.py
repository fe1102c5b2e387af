"""Acres of single fields against exact plane geometry: circles, lenses, segments, boxes."""

from __future__ import annotations

import math

import pytest
import shapely
from shapely import Polygon

from ringrow.coverage.acres import Areas, FieldAcres, field_acres, field_cover, total_acres
from ringrow.coverage.field import DripLayout, Field, FieldLayout, PivotLayout
from ringrow.coverage.layout import lay_out
from ringrow.equipment.drip import DripBlock
from ringrow.equipment.pivot import EndGun, Pivot, Sector
from ringrow.frame import Frame, distance_azimuth
from ringrow.geometry.arcs import circle_polygon
from ringrow.geometry.laterals import lay_laterals
from ringrow.units import ACRE_M2, FOOT_M

FRAME = Frame(lon=-101.5, lat=36.75)
HALF_M = 1320 * FOOT_M
QUARTER = shapely.box(-HALF_M, -HALF_M, HALF_M, HALF_M)


def pivot(name: str, x_m: float, y_m: float, radius_m: float, **more: object) -> Pivot:
    return Pivot(name=name, x_m=x_m, y_m=y_m, spans_m=(radius_m,), **more)  # type: ignore[arg-type]


def acres_of(
    boundary: shapely.geometry.base.BaseGeometry, *pivots: Pivot, exclusions: Polygon | None = None
) -> FieldAcres:
    field = Field(
        name="Field", frame=FRAME, boundary=boundary, exclusions=exclusions or Polygon(), pivots=pivots
    )
    acres = field_acres(lay_out(field))
    assert_sums_close(acres)
    return acres


def assert_sums_close(acres: FieldAcres) -> None:
    assert acres.irrigated_m2 + acres.dry_m2 == pytest.approx(acres.farmable_m2, rel=1e-9)
    assert acres.farmable_m2 + acres.excluded_m2 == pytest.approx(acres.field_m2, rel=1e-9)
    assert sum(row.area_m2 for row in acres.dry_rows) == pytest.approx(
        acres.dry_m2, rel=1e-9, abs=1e-9 * acres.farmable_m2
    )
    assert acres.overspray_m2 == acres.overspray_outside_m2 + acres.overspray_excluded_m2


def box_layout(name: str, box: Polygon) -> PivotLayout:
    """A machine whose wetted ground is a box, so that areas can be counted."""
    return PivotLayout(pivot=pivot(name, 0, 0, 1), base=box, gun=Polygon(), gun_arcs=(), wetted=box)


def test_circle_in_a_quarter_section() -> None:
    """Row U16, derived: 1,320 ft in 160 ac gives 125.663706 ac wet and 34.336294 ac dry."""
    acres = acres_of(QUARTER, pivot("P", 0, 0, HALF_M))
    assert acres.field_m2 / ACRE_M2 == pytest.approx(160.0, abs=1e-9)
    # Where it touches the four sides, the drawn circle's corners stand out past them by a hair.
    assert acres.irrigated_m2 / ACRE_M2 == pytest.approx(125.663706, abs=5e-6)
    assert acres.dry_m2 / ACRE_M2 == pytest.approx(34.336294, abs=5e-6)
    assert acres.systems[0].wetted_m2 / ACRE_M2 == pytest.approx(125.663706, abs=5e-7)
    assert [piece.name for piece in acres.dry_pieces] == ["NE corner", "SE corner", "SW corner", "NW corner"]
    strips = acres.edge_strips_row
    assert strips is not None
    for piece in acres.dry_pieces:
        # By symmetry each corner is a quarter of what the strips leave.
        assert piece.area_m2 == pytest.approx((acres.dry_m2 - strips.area_m2) / 4, rel=1e-9)


def test_dry_pieces_stand_on_the_globe() -> None:
    acres = acres_of(QUARTER, pivot("P", 0, 0, HALF_M))
    bearings = [distance_azimuth(FRAME.lon, FRAME.lat, row.lon, row.lat)[1] for row in acres.dry_pieces]
    assert bearings == pytest.approx([45, 135, 225, 315], abs=0.01)


def test_overlap_of_two_circles_is_a_lens() -> None:
    """Exact: two circle segments back to back."""
    one, other, apart = 300.0, 200.0, 400.0
    acres = acres_of(
        shapely.box(-400, -400, 700, 400), pivot("One", 0, 0, one), pivot("Other", apart, 0, other)
    )
    a = (apart**2 + one**2 - other**2) / (2 * apart)
    b = apart - a
    lens = one**2 * math.acos(a / one) + other**2 * math.acos(b / other) - apart * math.sqrt(one**2 - a**2)
    # Circles are drawn true in area, so that chords lie as much outside the arc as inside it.
    assert acres.overlap_m2 == pytest.approx(lens, rel=1e-6)
    both = math.pi * (one**2 + other**2)
    assert acres.irrigated_m2 == pytest.approx(both - acres.overlap_m2, rel=1e-8)
    assert [system.irrigated_m2 for system in acres.systems] == pytest.approx(
        [math.pi * one**2, math.pi * other**2], rel=1e-9
    )
    assert acres.overspray_m2 == pytest.approx(0, abs=1e-6)


def test_overspray_across_a_straight_fence_is_a_segment() -> None:
    """Exact: R2 acos(h/R) - h sqrt(R2 - h2) for a fence at distance h."""
    radius, fence = 400.0, 350.0
    acres = acres_of(shapely.box(-500, -500, fence, 500), pivot("P", 0, 0, radius))
    segment = radius**2 * math.acos(fence / radius) - fence * math.sqrt(radius**2 - fence**2)
    assert acres.overspray_outside_m2 == pytest.approx(segment, rel=1e-6)
    assert acres.overspray_excluded_m2 == 0
    assert acres.irrigated_m2 + acres.overspray_m2 == pytest.approx(math.pi * radius**2, rel=1e-8)


def test_a_yard_under_the_circle() -> None:
    """A round yard of 40 m is excluded, not farmable, and what falls on it is overspray on exclusions."""
    yard = circle_polygon(100, 50, 40)
    acres = acres_of(QUARTER, pivot("P", 0, 0, 380), exclusions=yard)
    disc = math.pi * 40**2
    assert acres.excluded_m2 == pytest.approx(disc, rel=1e-9)
    assert acres.overspray_excluded_m2 == pytest.approx(disc, rel=1e-9)
    assert acres.overspray_outside_m2 == 0
    assert acres.irrigated_m2 == pytest.approx(math.pi * 380**2 - disc, rel=1e-8)
    assert acres.systems[0].wetted_m2 == pytest.approx(math.pi * 380**2, rel=1e-9)


def test_exclusions_beyond_the_boundary_do_not_count() -> None:
    acres = acres_of(shapely.box(0, 0, 100, 100), exclusions=shapely.box(80, 0, 300, 100))
    assert (acres.excluded_m2, acres.farmable_m2) == (pytest.approx(2000), pytest.approx(8000))


def test_overspray_is_of_the_union_and_splits_at_the_boundary() -> None:
    """Two boxes wet the same road: counted once. The road runs on outside: that part is outside."""
    field = Field(
        name="F",
        frame=FRAME,
        boundary=shapely.box(0, 0, 100, 100),
        exclusions=shapely.box(40, 0, 50, 120),
    )
    layout = FieldLayout(
        field=field,
        farmable=field.boundary - field.exclusions,
        pivots=(
            box_layout("One", shapely.box(20, 50, 60, 110)),
            box_layout("Two", shapely.box(30, 50, 80, 110)),
        ),
        drip=(),
    )
    acres = field_acres(layout)
    assert_sums_close(acres)
    assert acres.overspray_outside_m2 == pytest.approx(60 * 10)
    assert acres.overspray_excluded_m2 == pytest.approx(10 * 50)
    assert acres.irrigated_m2 == pytest.approx(50 * 50)
    assert acres.overlap_m2 == pytest.approx(20 * 50)


def test_ground_wetted_three_times_overlaps_once() -> None:
    boxes = [shapely.box(0, 0, 60, 100), shapely.box(20, 0, 80, 100), shapely.box(40, 0, 100, 100)]
    field = Field(name="F", frame=FRAME, boundary=shapely.box(0, 0, 100, 100))
    layout = FieldLayout(
        field=field,
        farmable=field.boundary,
        pivots=tuple(box_layout(f"P{n}", box) for n, box in enumerate(boxes)),
        drip=(),
    )
    acres = field_acres(layout)
    # One and two share 20-60, two and three 40-80, one and three 40-60: together 20-80.
    assert acres.overlap_m2 == pytest.approx(60 * 100)
    assert acres.irrigated_m2 == pytest.approx(100 * 100)
    assert acres.dry_m2 == pytest.approx(0, abs=1e-9)
    assert acres.dry_rows == ()
    assert acres.edge_strips.is_empty


def test_systems_that_only_touch_do_not_overlap() -> None:
    field = Field(name="F", frame=FRAME, boundary=shapely.box(0, 0, 100, 100))
    sides = (box_layout("W", shapely.box(0, 0, 50, 100)), box_layout("E", shapely.box(50, 0, 100, 100)))
    acres = field_acres(FieldLayout(field=field, farmable=field.boundary, pivots=sides, drip=()))
    assert acres.overlap_m2 == 0


def test_ground_met_along_a_line_only_is_no_ground() -> None:
    """A box wets the west leg of a U-shaped field and runs along the edge of its east leg."""
    field = Field(
        name="F",
        frame=FRAME,
        boundary=shapely.box(0, 0, 100, 100) - shapely.box(40, 40, 60, 100),
        exclusions=shapely.box(10, 70, 60, 90),
    )
    layout = FieldLayout(
        field=field,
        farmable=field.boundary - field.exclusions,
        pivots=(box_layout("P", shapely.box(0, 60, 60, 100)),),
        drip=(),
    )
    acres = field_acres(layout)
    assert_sums_close(acres)
    assert acres.overspray_outside_m2 == pytest.approx(20 * 40)
    assert acres.overspray_excluded_m2 == pytest.approx(30 * 20)
    assert acres.irrigated_m2 == pytest.approx(40 * 40 - 30 * 20)


def test_end_gun_acres_are_what_the_base_does_not_wet() -> None:
    gun = EndGun(reach_m=30, arcs="always")
    acres = acres_of(QUARTER, pivot("P", 0, 0, 300, throw_m=10, overhang_m=20, end_gun=gun))
    ring = math.pi * (350**2 - 330**2)
    (system,) = acres.systems
    assert system.end_gun_m2 == pytest.approx(ring, rel=1e-9)
    assert system.irrigated_m2 == pytest.approx(math.pi * 350**2, rel=1e-8)
    assert system.corner_arm_m2 is None


def test_end_gun_acres_within_farmable_only() -> None:
    gun = EndGun(reach_m=50, arcs="always")
    half = shapely.box(-500, 0, 500, 500)
    acres = acres_of(half, pivot("P", 0, 0, 300, end_gun=gun))
    assert acres.systems[0].end_gun_m2 == pytest.approx(math.pi * (350**2 - 300**2) / 2, rel=1e-6)
    assert acres.overspray_outside_m2 == pytest.approx(math.pi * 350**2 / 2, rel=1e-6)


def test_a_pivot_without_a_gun_has_none() -> None:
    assert acres_of(QUARTER, pivot("P", 0, 0, 300)).systems[0].end_gun_m2 is None


def test_part_circle_wets_its_share() -> None:
    acres = acres_of(QUARTER, pivot("P", 0, 0, 360, sector=Sector(start_deg=350, stop_deg=80)))
    assert acres.irrigated_m2 == pytest.approx(math.pi * 360**2 / 4, rel=1e-8)


def test_drip_beside_a_pivot() -> None:
    """Laterals 2 m apart fill the corners of a square less its circle, but for ends and edges."""
    block = DripBlock(
        name="Corners",
        area=shapely.box(-200, -200, 200, 200),
        heading_deg=90,
        spacing_m=2,
        number_from_deg=0,
        header_deg=270,
        not_under=("P",),
        assumed=("headland taken as 0 ft",),
    )
    field = Field(
        name="F",
        frame=FRAME,
        boundary=shapely.box(-200, -200, 200, 200),
        pivots=(pivot("P", 0, 0, 150, assumed=("throw taken as 0 ft",)),),
        drip=(block,),
    )
    acres = field_acres(lay_out(field))
    assert_sums_close(acres)
    assert [(system.name, system.kind) for system in acres.systems] == [("P", "pivot"), ("Corners", "drip")]
    corners = 400**2 - math.pi * 150**2
    assert acres.systems[1].irrigated_m2 == pytest.approx(corners, rel=0.01)
    assert acres.overlap_m2 == pytest.approx(0, abs=1e-6)
    assert acres.systems[1].assumed == ("headland taken as 0 ft",)
    assert acres.assumed == ("P: throw taken as 0 ft", "Corners: headland taken as 0 ft")


def test_drip_laid_by_hand_counts_as_drip() -> None:
    ground = shapely.box(0, 0, 100, 100)
    block = DripBlock(name="D", area=ground, heading_deg=90, spacing_m=10, number_from_deg=0, header_deg=270)
    grid = lay_laterals(ground, ground, heading_deg=90, number_from_deg=0, header_deg=270, spacing_m=10)
    wet = shapely.box(0, 0, 100, 60)
    field = Field(name="F", frame=FRAME, boundary=ground, drip=(block,))
    drip = DripLayout(block=block, ground=ground, grid=grid, wetted=wet)
    (system,) = field_acres(FieldLayout(field=field, farmable=ground, pivots=(), drip=(drip,))).systems
    assert (system.kind, system.wetted_m2, system.irrigated_m2) == ("drip", 6000, 6000)
    assert (system.end_gun_m2, system.corner_arm_m2) == (None, None)


def test_a_field_without_systems_is_all_dry() -> None:
    acres = acres_of(QUARTER)
    assert acres.irrigated_m2 == 0
    assert [piece.name for piece in acres.dry_pieces] == ["NE+SE+SW+NW corner"]
    assert acres.systems == ()


def test_a_field_that_is_all_excluded_has_nothing_to_farm() -> None:
    acres = acres_of(shapely.box(0, 0, 10, 10), pivot("P", 5, 5, 3), exclusions=shapely.box(-1, -1, 11, 11))
    assert (acres.farmable_m2, acres.irrigated_m2, acres.dry_m2) == (0, 0, 0)
    assert acres.overspray_excluded_m2 == pytest.approx(math.pi * 9, rel=1e-9)
    assert acres.dry_rows == ()


def test_cover_shapes_are_what_the_numbers_measure() -> None:
    field = Field(
        name="F",
        frame=FRAME,
        boundary=QUARTER,
        exclusions=circle_polygon(380, 380, 60),
        pivots=(pivot("One", -100, 0, 320), pivot("Two", 250, 0, 200)),
    )
    cover = field_cover(lay_out(field))
    acres = field_acres(cover)
    assert acres == field_acres(lay_out(field))
    for shape, area in (
        (cover.irrigated, acres.irrigated_m2),
        (cover.dry, acres.dry_m2),
        (cover.overlap, acres.overlap_m2),
        (cover.overspray_outside, acres.overspray_outside_m2),
        (cover.overspray_excluded, acres.overspray_excluded_m2),
    ):
        assert shape.geom_type in ("Polygon", "MultiPolygon")
        assert shape.is_valid
        assert shape.area == area
    assert (cover.irrigated | cover.dry).symmetric_difference(cover.layout.farmable).area < 1e-6
    assert (cover.irrigated & cover.dry).area < 1e-6
    for system in cover.systems:
        assert (system.within - cover.irrigated).area < 1e-6
    assert acres.edge_strips.area == acres.edge_strips_row.area_m2  # type: ignore[union-attr]


def test_totals_add_up_field_by_field() -> None:
    one = acres_of(QUARTER, pivot("P", 0, 0, HALF_M * 1.1))
    two = acres_of(shapely.box(0, 0, 200, 100), exclusions=shapely.box(0, 0, 20, 20))
    total = total_acres([one, two])
    assert total.field_m2 == one.field_m2 + two.field_m2
    assert total.excluded_m2 == pytest.approx(400)
    assert total.overspray_m2 == one.overspray_m2 > 0
    assert total.dry_m2 == one.dry_m2 + two.dry_m2
    assert total_acres([]) == Areas(
        field_m2=0,
        excluded_m2=0,
        farmable_m2=0,
        irrigated_m2=0,
        dry_m2=0,
        overlap_m2=0,
        overspray_m2=0,
        overspray_outside_m2=0,
        overspray_excluded_m2=0,
    )


def test_neck_of_the_field_is_used_and_kept() -> None:
    layout = lay_out(
        Field(name="F", frame=FRAME, boundary=QUARTER, neck_m=0.0, pivots=(pivot("P", 0, 0, HALF_M * 1.01),))
    )
    acres = field_acres(layout)
    assert acres.neck_m == 0
    assert acres.edge_strips_row is None
    assert len(acres.dry_rows) == 4

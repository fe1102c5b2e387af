"""Acres: the parts always add up, on random fields with holes, pivots and drip blocks."""

from __future__ import annotations

import math
from itertools import combinations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import Polygon

from ringrow.coverage.acres import FieldCover, field_acres, field_cover
from ringrow.coverage.field import Field
from ringrow.coverage.layout import lay_out
from ringrow.equipment.drip import DripBlock
from ringrow.equipment.pivot import EndGun, Pivot, Sector
from ringrow.frame import Frame

FRAME = Frame(lon=-101.5, lat=36.75)
# Whole micrometres: nobody sets a machine 1e-308 m off a boundary's corner.
metres = st.floats(-700, 700).map(lambda value: round(value, 6))
positions = st.tuples(metres, metres)
azimuths = st.floats(0, 359.99).map(lambda value: round(value, 6))


@st.composite
def boundaries(draw: st.DrawFn) -> shapely.geometry.base.BaseGeometry:
    """A ring of 3 to 14 corners at random distances from the middle: convex or deeply notched."""
    count = draw(st.integers(3, 14))
    away = np.array(draw(st.lists(st.floats(150, 800), min_size=count, max_size=count)))
    turn = 2 * math.pi * (np.arange(count) + draw(st.floats(0, 1))) / count
    return Polygon(np.column_stack([away * np.sin(turn), away * np.cos(turn)]))


@st.composite
def holes(draw: st.DrawFn) -> shapely.geometry.base.BaseGeometry:
    """Up to three rectangles anywhere, in, across or outside the boundary; they may overlap."""
    boxes = draw(
        st.lists(st.tuples(positions, st.floats(1, 200), st.floats(1, 200), st.floats(0, 90)), max_size=3)
    )
    shapes = [
        shapely.affinity.rotate(shapely.box(x, y, x + wide, y + high), angle)
        for (x, y), wide, high, angle in boxes
    ]
    return shapely.union_all(shapes) if shapes else Polygon()


@st.composite
def pivots(draw: st.DrawFn) -> tuple[Pivot, ...]:
    """Up to four machines, some part circles, some with a gun; anywhere, also on top of each other."""
    machines = []
    for number in range(draw(st.integers(0, 4))):
        x_m, y_m = draw(positions)
        start, stop = draw(azimuths), draw(azimuths)
        part = draw(st.booleans()) and abs(start - stop) > 1e-3
        gun = draw(
            st.none() | st.builds(EndGun, reach_m=st.floats(5, 60), arcs=st.sampled_from(["auto", "always"]))
        )
        machines.append(
            Pivot(
                name=f"P{number}",
                x_m=x_m,
                y_m=y_m,
                spans_m=(draw(st.floats(30, 500)),),
                throw_m=draw(st.floats(0, 20)),
                sector=Sector(start_deg=start, stop_deg=stop) if part else None,
                end_gun=gun,
            )
        )
    return tuple(machines)


@st.composite
def drip_blocks(draw: st.DrawFn) -> tuple[DripBlock, ...]:
    """None or one block of wide laterals, in or across the field, over or beside the pivots."""
    if draw(st.booleans()):
        return ()
    (x, y), heading = draw(positions), draw(st.floats(0, 359))
    return (
        DripBlock(
            name="D",
            area=shapely.box(x - 200, y - 150, x + 200, y + 150),
            heading_deg=heading,
            spacing_m=draw(st.floats(3, 30)),
            number_from_deg=(heading + 90) % 360,
            header_deg=heading,
            headland_m=draw(st.floats(0, 20)),
            not_under=draw(st.sampled_from([(), ("P0",)])),
        ),
    )


@st.composite
def covers(draw: st.DrawFn) -> FieldCover:
    machines = draw(pivots())
    blocks = tuple(block for block in draw(drip_blocks()) if machines or not block.not_under)
    field = Field(
        name="F",
        frame=FRAME,
        boundary=draw(boundaries()),
        exclusions=draw(holes()),
        setback_m=draw(st.sampled_from([0.0, 9.0])),
        neck_m=draw(st.sampled_from([0.0, 5.0, 15.24, 60.0])),
        pivots=machines,
        drip=blocks,
    )
    return field_cover(lay_out(field))


@given(covers())
def test_irrigated_and_dry_are_farmable_and_pieces_are_dry(cover: FieldCover) -> None:
    acres = field_acres(cover)
    # Relative to farmable ground, as stated; a dry remnant of 1 mm2 has no digits of its own to hold.
    tolerance = 1e-9 * acres.field_m2
    assert acres.irrigated_m2 + acres.dry_m2 == pytest.approx(acres.farmable_m2, rel=1e-9, abs=tolerance)
    assert acres.farmable_m2 + acres.excluded_m2 == pytest.approx(acres.field_m2, rel=1e-9)
    assert sum(row.area_m2 for row in acres.dry_rows) == pytest.approx(acres.dry_m2, rel=1e-9, abs=tolerance)
    for one, other in combinations(acres.dry_rows, 2):
        assert (one.shape & other.shape).area <= tolerance
    for row in acres.dry_rows:
        assert (row.shape - cover.dry).area <= tolerance
    assert len({row.name for row in acres.dry_rows}) == len(acres.dry_rows)


@given(covers())
def test_wetted_ground_is_irrigated_or_overspray(cover: FieldCover) -> None:
    acres = field_acres(cover)
    wetted = shapely.union_all([system.wetted for system in cover.systems]).area
    assert acres.irrigated_m2 + acres.overspray_m2 == pytest.approx(wetted, rel=1e-9, abs=1e-6)


@given(covers())
def test_shares_of_systems_hold_irrigated_ground(cover: FieldCover) -> None:
    """Shares add up to irrigated ground and its overlap, counted as often as it is shared again."""
    acres = field_acres(cover)
    shares = [system.irrigated_m2 for system in acres.systems]
    slack = 1e-9 * acres.field_m2
    again = sum(shares) - acres.irrigated_m2
    assert max(shares, default=0.0) <= acres.irrigated_m2 + slack
    assert acres.overlap_m2 <= again + slack
    if len(shares) <= 2:
        assert acres.overlap_m2 == pytest.approx(again, abs=slack + 1e-6)
    else:
        assert again <= (len(shares) - 1) * acres.overlap_m2 + slack
    for system in acres.systems:
        assert system.irrigated_m2 <= system.wetted_m2 + slack
        assert (system.end_gun_m2 or 0.0) <= system.irrigated_m2 + slack


@given(covers())
def test_pieces_are_thicker_than_the_neck_and_strips_are_not(cover: FieldCover) -> None:
    neck_m = cover.layout.field.neck_m
    for piece in cover.pieces.pieces:
        inside = shapely.Point(piece.x_m, piece.y_m)
        assert piece.geometry.contains(inside)
    strips = cover.pieces.strips
    if neck_m == 0:
        assert strips is None
    elif strips is not None:
        # No disc of the neck's width fits between two edges of what is left over.
        room = max(
            shapely.length(shapely.maximum_inscribed_circle(part))
            for part in shapely.get_parts(strips.geometry)
        )
        # Mitre joins wear an inward corner down farther than a round one would, up to 5 x half a neck.
        assert room <= 5 * neck_m / 2

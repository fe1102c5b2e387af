"""The plan of the first walk, by hand: a block of two zones and two machines on one well."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
import shapely

from ringrow.coverage.field import Field, FieldLayout
from ringrow.coverage.layout import lay_out
from ringrow.coverage.route_ways import DRIVE_M_S, WALK_M_S
from ringrow.equipment.drip import DripBlock, Tape, Zone
from ringrow.equipment.well import Well
from ringrow.errors import PlaceError
from ringrow.farm.model import Farm
from ringrow.handoff.start_up import LOOK_M_S, PASS_M, StartUpPlan, plan_start_up
from ringrow.handoff.start_up_table import start_up_record, start_up_text, step_words
from ringrow.units import US
from route_fields import FRAME, pivot_field, spot

if TYPE_CHECKING:
    from pathlib import Path

GATE = (FRAME.lon, FRAME.lat)
KPA = 68.9476


def _tape_field(*, valve: str = "V") -> FieldLayout:
    """Two zones: laterals 1 to 10, and 11 to 40 of the same length, so three times the ground."""
    area = shapely.box(-200, 100, 200, 180)
    tape = Tape(inside_diameter_m=0.035, emitter_spacing_m=0.6, emitter_flow_lps=0.00017, at_pressure_kpa=KPA)
    block = DripBlock(
        name="Tape",
        area=area,
        heading_deg=90,
        spacing_m=2.0,
        number_from_deg=0,
        header_deg=270,
        tape=tape,
        zones=(
            Zone(name="Big", first=11, last=40, valve=f"{valve}1", pressure_kpa=KPA),
            Zone(name="Small", first=1, last=10, valve=f"{valve}2", pressure_kpa=KPA / 4),
        ),
    )
    return lay_out(Field(name="Tape field", frame=FRAME, boundary=area, drip=(block,)))


def _farm(tmp: Path, *serves: str) -> Farm:
    at = spot(0, 0)
    return Farm(
        folder=tmp,
        name="Test farm",
        units=US,
        gate=GATE,
        wells=(Well(name="Home well", lon=at.lon, lat=at.lat, serves=serves),),
    )


def _plan(tmp: Path, **options: float) -> StartUpPlan:
    layouts = [_tape_field(), pivot_field(west=500)]
    return plan_start_up(_farm(tmp, "Tape", "Circle"), layouts, [], start_lonlat=GATE, **options)


def test_the_zone_that_fills_soonest_comes_first_and_the_machine_is_walked_meanwhile(tmp_path: Path) -> None:
    steps = _plan(tmp_path, wait_h=5.0).steps
    assert [(step.act, step.system, step.zone.zone if step.zone else None) for step in steps] == [
        ("open", "Tape", "Big"),
        ("walk", "Circle", None),
        ("look", "Tape", "Big"),
        ("swap", "Tape", "Small"),
        ("look", "Tape", "Small"),
        ("close", "Tape", "Small"),
    ]
    fill = [step.zone.fill_min for step in steps if step.act in {"open", "swap"} and step.zone]
    assert None not in fill
    assert fill == sorted(fill)


def test_times_by_hand(tmp_path: Path) -> None:
    opened, walked, looked, swapped, again, closed = _plan(tmp_path, wait_h=5.0).steps
    # The gate is at the well: valve from 6:30, ten minutes.
    assert (opened.at_min, opened.until_min) == (pytest.approx(390), pytest.approx(400))
    assert opened.zone is not None
    assert opened.due_min == pytest.approx(400 + opened.zone.fill_min + 300)
    # 920 m to the pivot point; four towers, 400 m out and back.
    assert walked.way_m == pytest.approx(920, abs=0.01)
    assert walked.at_min == pytest.approx(400 + 920 / DRIVE_M_S / 60, abs=0.01)
    assert walked.until_min - walked.at_min == pytest.approx(4 * 3 + 800 / WALK_M_S / 60)
    # Thirty laterals of 400 m, 2 m apart: 24,000 m2 in passes 100 ft apart, not before water may show.
    assert looked.at_min == pytest.approx(opened.due_min)
    assert looked.until_min - looked.at_min == pytest.approx(24_000 / PASS_M / LOOK_M_S / 60, rel=1e-6)
    assert swapped.closes == opened.zone
    assert swapped.until_min - swapped.at_min == pytest.approx(10)
    # 14:xx and five hours more are past 19:00: the second look waits for the morning.
    assert 19 * 60 < swapped.due_min < 24 * 60
    assert again.at_min == pytest.approx(24 * 60 + 390 + again.way_m / DRIVE_M_S / 60, abs=0.01)
    assert closed.until_min > again.until_min


def test_one_well_never_fills_two_zones(tmp_path: Path) -> None:
    on: set[str] = set()
    for step in _plan(tmp_path).steps:
        if step.zone is None or step.act == "look":
            continue
        on -= {step.closes.zone} if step.closes else set()
        if step.act == "close":
            on -= {step.zone.zone}
            continue
        assert on == set()
        on.add(step.zone.zone)
    assert on == set()


def test_nothing_overlaps_and_every_look_is_late_enough(tmp_path: Path) -> None:
    plan = _plan(tmp_path)
    due = {step.zone.zone: step.due_min for step in plan.steps if step.zone and step.due_min is not None}
    for before, after in zip(plan.steps, plan.steps[1:], strict=False):
        assert before.until_min <= after.at_min + 1e-9
    for step in plan.steps:
        assert plan.at_min - 1e-9 <= step.at_min % 1440 <= plan.until_min + 1e-9
        if step.act == "look" and step.zone:
            assert step.at_min >= due[step.zone.zone]


def test_two_wells_fill_at_the_same_time(tmp_path: Path) -> None:
    first = _tape_field()
    second = _tape_field(valve="W")
    block = replace(second.drip[0], block=replace(second.drip[0].block, name="Other"))
    second = replace(second, field=replace(second.field, name="Second"), drip=(block,))
    farm = _farm(tmp_path, "Tape")
    farm = replace(farm, wells=(*farm.wells, replace(farm.wells[0], name="Far well", serves=("Other",))))
    steps = plan_start_up(farm, [first, second], [], start_lonlat=GATE).steps
    assert [step.act for step in steps[:3]] == ["open", "open", "look"]
    assert {step.system for step in steps[:2]} == {"Tape", "Other"}


def test_what_is_not_known_is_said(tmp_path: Path) -> None:
    layout = _tape_field()
    bare = replace(layout.drip[0], block=replace(layout.drip[0].block, tape=None))
    plan = plan_start_up(_farm(tmp_path), [replace(layout, drip=(bare,))], [], start_lonlat=None)
    text = start_up_text(plan, US, width=None)
    assert "No well in farm.toml serves Tape" in text
    assert "Time to fill not known, counted as none: Tape, Big; Tape, Small." in text
    assert text.splitlines()[-1] == "Local codes and licensed people come first."
    assert "time to fill not known" in step_words(plan.steps[0])


def test_record_and_words(tmp_path: Path) -> None:
    plan = _plan(tmp_path, wait_h=5.0)
    record = start_up_record(plan, US)
    assert record["steps"][3]["closes"] == "V1"
    assert record["steps"][0]["at"] == "6:30"
    assert step_words(plan.steps[3]).startswith(
        "open valve V2 at Home well, then close valve V1: fill Tape, Small ("
    )


def test_refusals(tmp_path: Path) -> None:
    with pytest.raises(PlaceError, match="no machine and no drip zone"):
        plan_start_up(_farm(tmp_path), [], [], start_lonlat=GATE)
    with pytest.raises(PlaceError, match=r"an end \(--until\) that is not later than its start"):
        _plan(tmp_path, at_min=600.0, until_min=600.0)
    with pytest.raises(PlaceError, match="--wait: found -1 h; allowed: 0 to 1,000"):
        _plan(tmp_path, wait_h=-1.0)
    with pytest.raises(PlaceError, match="--walk: found 0 m/s; allowed: above 0"):
        _plan(tmp_path, walk_m_s=0.0)

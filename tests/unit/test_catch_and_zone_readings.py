"""Catch cans, a zone's reading, its words, its calendar file, and the charts."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest
import shapely
from defusedxml.ElementTree import fromstring
from icalendar import Calendar

from ringrow.coverage.catch_cans import Can, catch_result
from ringrow.coverage.drip_layout import lay_out_drip
from ringrow.coverage.field import DripLayout, Field
from ringrow.coverage.zone_reading import ZoneReading, zone_reading
from ringrow.coverage.zone_water import zone_flow
from ringrow.equipment.drip import DripBlock, Tape, Zone
from ringrow.errors import DomainError
from ringrow.frame import Frame
from ringrow.handoff.catch_words import catch_notes, catch_text
from ringrow.handoff.svg_chart import Series, chart_svg, nice_ticks
from ringrow.handoff.water_plots import catch_plot, pressure_plot
from ringrow.handoff.zone_words import look_calendar, watch, zone_record, zone_text
from ringrow.units import METRIC, US
from ringrow.water.orifice import orifice_flow_lps

ZONE = Zone(name="A", first=1, last=10, pressure_kpa=70.0)
TAPE = Tape(
    inside_diameter_m=0.022,
    emitter_spacing_m=0.6,
    emitter_flow_lps=0.6 / 3600,
    at_pressure_kpa=55.0,
    exponent=0.5,
)


@pytest.fixture(scope="module")
def layout() -> DripLayout:
    ground = shapely.box(0, 0, 300, 30)
    block = DripBlock(
        name="D1",
        area=ground,
        heading_deg=90,
        spacing_m=1.5,
        number_from_deg=0,
        header_deg=270,
        tape=TAPE,
        zones=(ZONE,),
    )
    field = Field(name="F1", frame=Frame(lon=-101.5, lat=36.75), boundary=ground, drip=(block,))
    return lay_out_drip(field, block, under=shapely.Polygon())


def cans(*depths: float | None, step_m: float | None = 10.0) -> list[Can]:
    return [
        Can(name=str(n), distance_m=None if step_m is None else step_m * n, depth_mm=depth)
        for n, depth in enumerate(depths, 1)
    ]


def test_cans_by_distance_by_hand() -> None:
    """Distances 10 to 40, depths 8 12 8 12: mean 10.4, sum r|d - m| 192 of sum rd 1,040."""
    result = catch_result(cans(8, 12, 8, 12))
    assert result.mean_mm == pytest.approx(10.4)
    assert result.cu_pct == pytest.approx(100 * (1 - 192 / 1040))
    assert result.plain_cu_pct == pytest.approx(80)
    assert (result.weighted, result.spacing_m, result.uneven) == (True, 10.0, False)


def test_what_does_not_count_is_named() -> None:
    result = catch_result([*cans(20, None, 18, 22, 60, 70)], gun_from_m=50)
    assert [can.name for can in result.cans] == ["1", "3", "4"]
    assert result.left_out == (("2", "no depth read"), ("5", "under the end gun"), ("6", "under the end gun"))
    text = catch_text("T", result, US, notes=catch_notes(result, US), width=None)
    assert "Left out, under the end gun: 5, 6." in text
    assert "Heermann and Hein" in text


def test_cans_without_distances_count_alike() -> None:
    result = catch_result(cans(8, 12, 8, 12, step_m=None))
    assert (result.weighted, result.cu_pct, result.spacing_m) == (False, pytest.approx(80), None)
    text = catch_text("T", result, METRIC, notes=(), width=None)
    assert "Christiansen (all cans alike)" in text
    assert "Heermann" not in text
    with pytest.raises(DomainError, match="found no distances"):
        catch_result(cans(8, 12, step_m=None), gun_from_m=10)


def test_cans_that_stand_out() -> None:
    result = catch_result(cans(20, 20, 10, 0, 10, 20, 20, 27))
    assert [can.name for can in result.off] == ["3", "4", "5", "8"]
    assert [can.name for can in result.dry] == ["4"]
    assert catch_result(cans(20, 20, 20, 0, 20, 20)).dry == ()
    # Past the outermost can nobody looked: it may stand outside the wetted ground.
    assert catch_result(cans(20, 20, 10, 0)).dry == ()


def test_notes_of_a_test() -> None:
    uneven = [*cans(10, 10, 10), Can(name="4", distance_m=80.0, depth_mm=10.0)]
    notes = " ".join(catch_notes(catch_result(uneven), US, mouth_m=0.05))
    for words in ("under the 0.60 in", "mouth is under the 2.5 in", "uneven distances", "11 mph", "S436.1"):
        assert words in notes
    metric = " ".join(catch_notes(catch_result(cans(20, 20)), METRIC))
    assert "5 m/s" in metric
    assert "uneven" not in metric


def test_too_few_cans_are_refused() -> None:
    with pytest.raises(DomainError, match="found 1 that count"):
        catch_result(cans(10, None))


def read(layout: DripLayout, **change) -> ZoneReading:
    return zone_reading(layout, ZONE, **{"flow_lps": 0.8, "limit_pct": 5.0, **change})


def test_reading_is_held_against_the_same_pressure(layout: DripLayout) -> None:
    at_60 = zone_flow(layout, ZONE, inlet_kpa=60.0)
    reading = read(layout, flow_lps=at_60.flow_lps * 1.02, inlet_kpa=60.0, flush_line_kpa=at_60.far_kpa)
    assert reading.same_lps == pytest.approx(at_60.flow_lps)
    assert reading.off_pct == pytest.approx(2.0)
    assert reading.usual_lps == pytest.approx(zone_flow(layout, ZONE, inlet_kpa=70.0).flow_lps)
    # Less than usual in all three: the supply; what the zone takes for its pressure is right.
    assert (reading.signs, reading.finding) == ((-1, -1, -1), "supply")
    for hole in reading.holes:
        assert hole.flow_lps == pytest.approx(orifice_flow_lps(hole.bore_m, 60.0, discharge=0.60))
        assert hole.share_pct == pytest.approx(100 * hole.flow_lps / at_60.flow_lps)


@pytest.mark.parametrize(
    ("flow", "inlet", "far", "finding"),
    [(1.10, 68, 0.8, "break"), (1.10, None, None, "high flow"), (1.01, 70, 1.0, "nothing seen")],
)
def test_findings(
    layout: DripLayout, flow: float, inlet: float | None, far: float | None, finding: str
) -> None:
    usual = zone_flow(layout, ZONE, inlet_kpa=70.0)
    reading = read(
        layout,
        flow_lps=flow * usual.flow_lps,
        inlet_kpa=inlet,
        flush_line_kpa=None if far is None else far * usual.far_kpa,
    )
    assert reading.finding == finding


def test_more_pressure_than_usual_is_no_leak(layout: DripLayout) -> None:
    at_90 = zone_flow(layout, ZONE, inlet_kpa=90.0)
    reading = read(layout, flow_lps=at_90.flow_lps, inlet_kpa=90.0, flush_line_kpa=at_90.far_kpa)
    assert reading.signs == (0, 1, 1)
    assert reading.finding == "unclear"


def test_no_limit_calls_nothing(layout: DripLayout) -> None:
    reading = read(layout, limit_pct=None, flow_lps=5.0)
    assert (reading.limit_pct, reading.finding, reading.signs[0]) == (None, None, None)
    clock = watch(datetime(2027, 3, 14, 6, 40), on_since=None, fill_min=None, wait_h=12, wait_stated=False)
    assert "no difference is called high or low" in zone_text("T", reading, clock, US, width=None)


def test_readings_out_of_range(layout: DripLayout) -> None:
    with pytest.raises(DomainError, match="found flow 0 L/s"):
        read(layout, flow_lps=0.0)
    with pytest.raises(DomainError, match="gauge error -1 kPa"):
        read(layout, gauge_error_kpa=-1.0)
    with pytest.raises(DomainError, match="or --inlet"):
        zone_reading(layout, replace(ZONE, pressure_kpa=None), flow_lps=1.0)


def test_words_never_say_that_there_is_no_leak(layout: DripLayout) -> None:
    usual = zone_flow(layout, ZONE, inlet_kpa=70.0)
    reading = read(layout, flow_lps=usual.flow_lps, inlet_kpa=70.0, flush_line_kpa=usual.far_kpa)
    clock = watch(
        datetime(2027, 3, 14, 6, 40),
        on_since=datetime(2027, 3, 13, 17, 0),
        fill_min=30.5,
        wait_h=12,
        wait_stated=False,
    )
    text = zone_text("T", reading, clock, US, width=None)
    assert "Nothing seen by 06:40. A meter cannot show that there is no leak: walk the rows." in text
    assert "Full at Sat 13 Mar 17:31 at the earliest; worth walking from Sun 14 Mar 05:31" in text
    assert "common practice, no source" in text
    assert "call 811" in text
    stated = zone_text("T", reading, replace(clock, wait_stated=True), METRIC, width=None)
    assert "(wait 12 h: yours)" in stated


def test_a_reading_while_it_fills_says_nothing(layout: DripLayout) -> None:
    reading = read(layout, flow_lps=3.0)
    clock = watch(
        datetime(2027, 3, 14, 6, 40),
        on_since=datetime(2027, 3, 14, 6, 30),
        fill_min=30.0,
        wait_h=12,
        wait_stated=True,
    )
    text = zone_text("T", reading, clock, US, width=None)
    assert "cannot be full before 07:00: this reading says nothing yet" in text
    assert "Flow over design" not in text
    assert zone_record(reading, clock, US)["finding"] is None


def test_a_small_hole_is_hidden_by_the_limit(layout: DripLayout) -> None:
    clock = watch(datetime(2027, 3, 14, 6, 40), on_since=None, fill_min=None, wait_h=12, wait_stated=False)
    hidden = zone_text("T", read(layout, limit_pct=80.0), clock, US, width=None)
    assert "hides either one" in hidden
    assert "hides either one" not in zone_text("T", read(layout, limit_pct=0.1), clock, US, width=None)


def test_calendar_file_is_read_back() -> None:
    made = datetime(2027, 3, 13, 20, 0, tzinfo=UTC)
    data = look_calendar("A, north", "D1", datetime(2027, 3, 14, 5, 31), made_at=made)
    (event,) = Calendar.from_ical(data).walk("VEVENT")
    assert event["summary"] == "Walk A, north, D1"
    # Without a zone: the clock on the wall, wherever the file is opened.
    assert event["dtstart"].dt == datetime(2027, 3, 14, 5, 31)
    assert (event["dtend"].dt - event["dtstart"].dt).total_seconds() == 3600
    assert event["dtstamp"].dt == made
    assert data == look_calendar("A, north", "D1", datetime(2027, 3, 14, 5, 31), made_at=made)


@pytest.mark.parametrize(
    ("low", "high", "ticks"),
    [
        (0.0, 9.4, [0, 2, 4, 6, 8, 10]),
        (0.0, 0.7, [0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7]),
        (0.0, 0.0, [0, 0.2, 0.4, 0.6, 0.8, 1.0]),
        (-3.0, 1290.0, [-200, 0, 200, 400, 600, 800, 1000, 1200, 1400]),
    ],
)
def test_ticks_are_round_and_span_the_range(low: float, high: float, ticks: list[float]) -> None:
    assert nice_ticks(low, high) == pytest.approx(ticks)


def _texts(svg: str) -> list[str]:
    return [text.text or "" for text in fromstring(svg).iter("{http://www.w3.org/2000/svg}text")]


def test_chart_places_points_between_its_axes() -> None:
    svg = chart_svg(
        "<North> & south",
        [
            Series(name="dots", x=[0, 50, 100], y=[0, 5, 10], style="dots"),
            Series(name="", x=[0, 100], y=[8, 8]),
        ],
        x_label="Distance, ft",
        y_label="Flow, gpm",
        notes=["a note"],
    )
    texts = _texts(svg)
    assert {"<North> & south", "Distance, ft", "Flow, gpm", "dots", "a note", "100", "10"} <= set(texts)
    root = fromstring(svg)
    marks = [
        circle for circle in root.iter("{http://www.w3.org/2000/svg}circle") if circle.get("cy") != "43.0"
    ]
    x = [float(circle.get("cx")) for circle in marks if circle.get("cy") != "43"]
    assert x[1] - x[0] == pytest.approx(x[2] - x[1], abs=0.11)


def test_chart_of_cans_and_of_a_lateral_have_units_on_both_axes(layout: DripLayout) -> None:
    plot = catch_plot("Cans", catch_result(cans(20, 20, 10, 0, 10, 20)), US)
    assert {"Distance from the pivot point, ft", "Depth caught, in", "more than 20 % off"} <= set(
        _texts(plot)
    )
    lateral = pressure_plot("Zone", zone_flow(layout, ZONE, inlet_kpa=70.0), METRIC)
    assert {"Distance from the header, m", "Pressure in the tape, kPa"} <= set(_texts(lateral))


def test_steps_and_long_lines_are_drawn() -> None:
    x = np.linspace(0, 10, 5000)
    svg = chart_svg(
        "T",
        [Series(name="s", x=[1, 2, 4], y=[1, 3, 2], style="steps"), Series(name="", x=x, y=x)],
        x_label="x",
        y_label="y",
    )
    lines = [
        line.get("points").split() for line in fromstring(svg).iter("{http://www.w3.org/2000/svg}polyline")
    ]
    assert [len(points) for points in lines if len(points) > 3] == [6, 600]

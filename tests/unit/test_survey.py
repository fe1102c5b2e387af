"""Surveys: which tracks are one machine or one wheel track, what is said of their shape, large logs."""

from __future__ import annotations

import math

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from ringrow.errors import GeometryError
from ringrow.farm.survey import survey_circles, survey_towers
from ringrow.farm.survey_ground import by_line, one_drive, survey_line
from ringrow.farm.survey_pieces import circle_piece, line_piece, outline_piece, towers_piece
from ringrow.farm.track_model import Track
from ringrow.handoff.survey_record import circle_lines, stretch_words
from ringrow.units import METRIC, US
from survey_sims import LAT, LON, places, ring


def track(
    points: list[tuple[float, float]], *, kind: str = "track", name: str = "t", **more: object
) -> Track:
    lon, lat = np.array(points).T
    return Track(name=name, kind=kind, lon=lon, lat=lat, **more)


def ellipse(east_m: float, north_m: float, turn_deg: float = 0.0, lat: float = LAT) -> Track:
    angle, turn = np.radians(np.arange(0, 360, 3)), math.radians(turn_deg)
    x, y = east_m * np.sin(angle), north_m * np.cos(angle)
    return track(
        places(x * math.cos(turn) + y * math.sin(turn), -x * math.sin(turn) + y * math.cos(turn), lat=lat)
    )


def words(one: Track) -> str:
    (circle,) = survey_circles([one], sigma_m=0.5, units=US).circles
    return stretch_words(circle)


@pytest.mark.parametrize(
    ("shape", "said"),
    [
        (ellipse(400, 400), ""),
        (ellipse(400, 401), ""),
        (ellipse(400, 406), "longer north-south by 1.5 %"),
        (ellipse(406, 400), "longer east-west by 1.5 %"),
        (ellipse(400, 412, 45), "longer northeast-southwest by 3.0 %"),
        (ellipse(400, 412, 135), "longer southeast-northwest by 3.0 %"),
    ],
)
def test_stretch_in_words(shape: Track, said: str) -> None:
    """At 36.75 N a circle drawn in degrees is 24 % longer north-south; 1.5 % is something else."""
    assert words(shape) == said


def test_a_circle_drawn_in_degrees_is_told_by_its_latitude() -> None:
    """0.003 deg both ways at 12 S: its stretch on the ground by geodesics."""
    angle = np.radians(np.arange(0, 360, 3))
    drawn = track([(-45.8 + 0.003 * math.sin(a), -12.15 + 0.003 * math.cos(a)) for a in angle])
    north = Geodesic.WGS84.Inverse(-12.153, -45.8, -12.147, -45.8)["s12"]
    east = Geodesic.WGS84.Inverse(-12.15, -45.803, -12.15, -45.797)["s12"]
    assert words(drawn) == f"longer north-south by {100 * (north / east - 1):.1f} %: drawn in degrees?"


def test_drift_between_drives_does_not_make_two_machines_or_tracks() -> None:
    """The same wheel track a day later, 3 m off as a whole."""
    shifted = track([(lon + 3e-5, lat) for lon, lat in ring(381.0, count=150, noise_m=0.5)])
    found = survey_circles([track(ring(381.0, count=140, noise_m=0.5)), shifted], sigma_m=0.5, units=US)
    (circle,) = found.circles
    assert circle.fit.points == 290


def test_towers_nearer_than_a_short_span_are_still_told_apart() -> None:
    """Pipe end and last wheel track, 14 m apart, driven with a good receiver."""
    found = survey_circles(
        [track(ring(381.0, count=150, noise_m=0.2)), track(ring(395.0, count=150, noise_m=0.2))],
        sigma_m=0.2,
        units=US,
    )
    assert [round(circle.fit.radius_m) for circle in found.circles] == [381, 395]
    assert {circle.number for circle in found.circles} == {1}


def test_neighbouring_machines_stay_two() -> None:
    there = track([(lon + 0.0089, lat) for lon, lat in ring(390.0, start=200, sweep=90, noise_m=1)])
    found = survey_circles([track(ring(381.0, sweep=90, noise_m=1)), there], sigma_m=2.0, units=US)
    assert [circle.number for circle in found.circles] == [1, 2]


def test_a_day_of_a_logger_is_fitted_in_one_go() -> None:
    """86,400 fixes on a machine, one a second, a tenth of them wild."""
    points = np.array(ring(381.0, count=86_400, noise_m=1.0))
    points[::10] += 0.002
    (circle,) = survey_circles([track(points.tolist())], sigma_m=1.0, units=US).circles
    assert circle.fit.radius_m == pytest.approx(381.0, abs=0.05)
    assert circle.fit.outliers >= 8_000
    assert circle.fit.radius_se_m == pytest.approx(1.0 / math.sqrt(180), rel=0.05), "not as of 80,000 points"


def test_four_corners_of_a_square_are_no_circle() -> None:
    corners = [
        *zip(np.linspace(-200, 200, 5), [-200.0] * 5, strict=True),
        *zip([200.0] * 4, np.linspace(-100, 200, 4), strict=True),
        (-200.0, 200.0),
    ]
    square = track(places(*np.array(corners).T), kind="polygon")
    with pytest.raises(GeometryError, match=r"this is no pivot's circle|allowed: an outline that follows"):
        survey_circles([square], sigma_m=1.0, units=US)
    four = track(places([-200, 200, 200, -200], [-200, -200, 200, 200]), kind="polygon")
    with pytest.raises(GeometryError, match=r"found an outline of which \d+ % follows a circle"):
        survey_circles([four], sigma_m=1.0, units=US)


def test_half_the_points_elsewhere_are_refused() -> None:
    rng = np.random.default_rng(2)
    wild = places(rng.uniform(-900, 900, 130), rng.uniform(-900, 900, 130))
    with pytest.raises(GeometryError, match=r"points off the circle that suits the rest|stray"):
        survey_circles([track(ring(300.0, count=100) + wild)], sigma_m=1.0, units=US)


def test_no_track_at_all() -> None:
    with pytest.raises(GeometryError, match=r"no circle good enough:\nno track at all"):
        survey_circles([], sigma_m=1.0, units=US)
    with pytest.raises(GeometryError, match="line survey: found no track"):
        survey_line([], sigma_m=1.0, units=US)


def test_circle_in_words_has_the_95_percent_range() -> None:
    drive = track(ring(381.0, sweep=356, count=100, noise_m=0.01))
    (circle,) = survey_circles([drive], sigma_m=1.0, units=METRIC).circles
    first, second, third = circle_lines([circle], METRIC)
    assert first == "from t"
    assert second.startswith(
        f"radius {circle.fit.radius_m:,.1f} ± {1.96 * circle.fit.radius_se_m:.1f} m, centre ± "
    )
    assert third.startswith("100 points on 356 deg of the turn, 0 left out; the rest stray ")


def circles(*radii: float) -> tuple:
    tracks = [track(ring(radius, count=80, noise_m=0.1), name=str(radius)) for radius in radii]
    return survey_circles(tracks, sigma_m=0.1, units=METRIC).circles


def test_pieces_of_circles() -> None:
    alone = circle_piece(circles(381.0), units=METRIC, of="last-tower")
    assert set(alone.piece.values) == {"point", "last_tower", "radius_se"}
    assert alone.piece.needs == ("add towers = N (count them), or spans = [...] in place of last_tower",)
    counted = circle_piece(circles(381.0), units=METRIC, of="last-tower", towers=7)
    assert (counted.piece.values["towers"], counted.piece.needs) == (7, ())
    one = circle_piece(circles(55.0), units=METRIC, of="last-tower", towers=1)
    assert one.piece.values["spans"] == pytest.approx([55.0], abs=0.1)
    known = circle_piece(circles(381.0), units=METRIC, of="last-tower", present={"towers": 8})
    assert known.piece.values["towers"] == 8
    spans = circle_piece(circles(381.0), units=METRIC, of="last-tower", present={"spans": [54.5] * 7})
    assert set(spans.piece.values) == {"point"}
    assert "look at them: they differ by 0.5" in spans.said[0]
    agreed = circle_piece(circles(381.0), units=METRIC, of="last-tower", present={"spans": [381.01]})
    assert "they agree" in agreed.said[0]
    odd = circle_piece(circles(381.0), units=METRIC, of="last-tower", present={"spans": ["x"]})
    assert odd.said == ("spans in the file cannot be summed; left as they are",)
    end = circle_piece(circles(381.0), units=METRIC, of="pipe-end", present={"overhang": 11})
    assert end.piece.values["last_tower"] == pytest.approx(370, abs=0.1)
    edge = circle_piece(circles(381.0), units=METRIC, of="wetted-edge")
    assert edge.said == ("last tower = wetted edge less overhang 0 (not stated) and throw 0 (not stated)",)


def pins(radii: list[float], labels: tuple[str, ...] = ()) -> Track:
    spots = [Geodesic.WGS84.Direct(LAT, LON, 10.0, radius) for radius in radii]
    return track([(spot["lon2"], spot["lat2"]) for spot in spots], kind="points", labels=labels)


def test_piece_of_towers_without_a_panel() -> None:
    found = survey_towers(pins([0, 50, 101]), sigma_m=0.5)
    values = towers_piece(found, units=METRIC, name="A").piece.values
    assert values["spans"] == pytest.approx([50, 51])
    assert "panel_zero" not in values
    turned = survey_towers(pins([0, 50, 101]), sigma_m=0.5, panel_shows_deg=10.02)
    assert towers_piece(turned, units=METRIC).piece.values["panel_zero"] == 0.0, "360.0 is written 0"


def test_two_pins_named_pivot_are_no_help() -> None:
    found = survey_towers(pins([0, 50, 101], ("pivot 1", "pivot 2", "pivot 3")), sigma_m=0.5)
    assert found.said == ("the first pin taken as the pivot point",)


def test_line_piece_leaves_what_stands_there() -> None:
    along = np.linspace(-100, 100, 9)
    one = survey_line([track(places(along, 0 * along))], sigma_m=1.0, units=US)
    assert one.spacing_m is None
    assert one.said == ()
    present = {"row_spacing": 30, "rows_per_lateral": 2, "first_lateral": 30}
    found = line_piece(one, units=US, present=present)
    assert set(found.piece.values) == {"line"}
    assert found.piece.needs == ()
    assert found.said == ("first_lateral is stated: the line gives the direction alone",)
    lines = [track(places(along, 0 * along - n * 1.524)) for n in (0, 60)]
    twice = survey_line(lines, sigma_m=1.0, units=US, laterals=[1, 61])
    assert line_piece(twice, units=US, rows_per_lateral=2).piece.values["row_spacing"] == pytest.approx(
        30, abs=0.01
    )
    same = survey_line([lines[0], lines[0]], sigma_m=0.01, units=US)
    assert same.said == ("spacing not told: all tracks lie on one line",)


def test_heading_follows_the_drive() -> None:
    along = np.linspace(-100, 100, 9)
    for x, y, heading in ((along, 0 * along, 90), (-along, 0 * along, 270), (0 * along, -along, 180)):
        found = survey_line([track(places(x, y))], sigma_m=1.0, units=US)
        assert found.heading_deg == pytest.approx(heading, abs=1e-6)
        away = Geodesic.WGS84.Inverse(*found.start_lonlat[::-1], *found.end_lonlat[::-1])
        assert away["s12"] == pytest.approx(200, abs=1e-3)
        assert (away["azi1"] - heading + 180) % 360 - 180 == pytest.approx(0, abs=1e-3)


def test_points_without_numbers_stay_one_set() -> None:
    loose = track(places([0, 1], [0, 1]), kind="points", labels=("a", "1"))
    kept, said = by_line([loose])
    assert kept == [loose]
    assert said == []


def test_outline_with_too_many_corners_goes_to_a_file() -> None:
    from ringrow.farm.survey_ground import survey_outline

    found = survey_outline(track(ring(300.0, count=200, sweep=359)), sigma_m=0.01)
    with pytest.raises(GeometryError, match=r"corners; allowed: up to 10; write a file with -o"):
        outline_piece(found, units=US, most=10)
    filed = outline_piece(found, units=US, file="shapes/a.geojson", place="North")
    assert filed.piece.values["boundary"] == {"file": "shapes/a.geojson", "where": {"field": "North"}}
    assert filed.piece.values["boundary_se"] == 0.1, "never 0: that would say exact"


def test_one_drive_of_one_is_itself() -> None:
    only = track(ring(300.0, count=20))
    assert one_drive([only]) == (only, [])

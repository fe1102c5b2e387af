"""Tracks and points from files: real ones from outside, and small ones written here."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import numpy as np
import pytest

from ringrow.errors import FileError, GeometryError
from ringrow.farm.track_model import drives, pins
from ringrow.farm.tracks import read_tracks
from survey_sims import gga, gpx, places, ring, rmc

if TYPE_CHECKING:
    from pathlib import Path


def shapes(path: Path) -> list[tuple[str, int]]:
    return [(track.kind, len(track)) for track in read_tracks(path).tracks]


@pytest.mark.parametrize(
    ("name", "found"),
    [
        ("around-visnjan-with-car.gpx", [("track", 104)]),
        (
            "cerknicko-jezero.gpx",
            [*(("track", n) for n in (173, 52, 2, 44, 2, 2, 21)), ("points", 7)],
        ),
        ("korita-zbevnica.gpx", [("track", 358), ("track", 176), ("track", 337), ("points", 2)]),
        ("track-with-empty-segment.gpx", [("track", 9)]),
        ("track_with_dilution_errors.gpx", [("track", 1), ("route", 1), ("points", 1)]),
        ("gpx1.1_with_all_fields.gpx", [("track", 1), ("route", 3), ("route", 2), ("points", 2)]),
    ],
)
def test_real_gpx_files(outside_data: Path, name: str, found: list[tuple[str, int]]) -> None:
    """Counts taken with a plain search for <trkpt, <rtept and <wpt in each part of the file."""
    assert shapes(outside_data / name) == found
    text = (outside_data / name).read_text(encoding="utf-8")
    assert sum(count for _, count in found) == sum(
        text.count(f"<{tag} ") for tag in ("trkpt", "rtept", "wpt")
    )


def test_empty_segment_is_said_and_an_empty_track_refused(outside_data: Path) -> None:
    assert (
        "1 empty track segment left out" in read_tracks(outside_data / "track-with-empty-segment.gpx").said[0]
    )
    with pytest.raises(
        FileError, match=r"unicode2\.gpx: found no point of a track; allowed: a recorded drive"
    ):
        read_tracks(outside_data / "unicode2.gpx")


def test_real_phone_log(outside_data: Path) -> None:
    """48 moments, GGA and RMC of each; read a second way by cutting the minutes out of each GGA line."""
    file = outside_data / "phone_walk.nmea"
    found = read_tracks(file)
    (track,) = found.tracks
    rows = [line.split(",") for line in file.read_text().splitlines() if "$GPGGA" in line]
    lat = [float(row[3][:2]) + float(row[3][2:]) / 60 for row in rows]
    lon = [-float(row[5][:3]) - float(row[5][3:]) / 60 for row in rows]
    assert len(track) == len(rows) == 48
    assert track.lat == pytest.approx(lat, abs=1e-9)
    assert track.lon == pytest.approx(lon, abs=1e-9)
    assert found.refused == ()


def test_log_leaves_out_what_is_no_fix(tmp_path: Path) -> None:
    at = places([0, 10, 20, 30, 40, 50, 60], [0] * 7)
    lines = [
        gga(*at[0], "100000.00"),
        gga(*at[1], "100001.00", quality=0),
        rmc(*at[1], "100001.00"),  # the other sentence of that moment calls it void
        rmc(*at[2], "100002.00", status="V"),
        "NMEA," + gga(*at[3], "100003.00") + ",1699400577561",
        gga(*at[4], "100004.00", quality=6),
        gga(*at[5], "100005.00")[:-2] + "00",
        rmc(*at[6], "100006.00"),
        "$GPGSV,3,1,12*00",
        "noise",
    ]
    path = tmp_path / "walk.log"
    path.write_text("\r\n".join(lines))
    found = read_tracks(path)
    (track,) = found.tracks
    assert track.lon == pytest.approx([at[0][0], at[3][0], at[6][0]], abs=1e-8)
    reasons = {row.why for row in found.refused}
    assert reasons == {
        "void: the receiver had no fix",
        "void: dead reckoning",
        "a wrong or missing checksum",
    }


def test_log_over_midnight_keeps_its_order(tmp_path: Path) -> None:
    at = places([0, 10, 20, 30], [0] * 4)
    clocks = ("235958.00", "235959.00", "000000.00", "235958.00")
    path = tmp_path / "night.nmea"
    path.write_text("\n".join(gga(*place, clock) for place, clock in zip(at, clocks, strict=True)))
    assert read_tracks(path).tracks[0].lon == pytest.approx([place[0] for place in at], abs=1e-8)


def test_a_sentence_with_a_time_that_is_none_is_broken(tmp_path: Path) -> None:
    """The library hands such a time back as text, which fuzzing found."""
    at = places([0, 10, 20], [0] * 3)
    path = tmp_path / "clock.nmea"
    clocks = ("100000.00", "246161.00", "100002.00")
    path.write_text("\n".join(gga(*place, clock) for place, clock in zip(at, clocks, strict=True)))
    found = read_tracks(path)
    assert len(found.tracks[0]) == 2
    assert [(one.what, one.why) for one in found.refused] == [("1 sentences", "broken")]


def test_text_file_is_a_log_when_it_holds_sentences(tmp_path: Path) -> None:
    at = places([0, 10], [0, 0])
    log, table = tmp_path / "a.txt", tmp_path / "b.txt"
    log.write_text("\n".join(gga(*place, f"10000{n}.00") for n, place in enumerate(at)))
    table.write_text("lat,lon\n36.75,-101.5\n36.76,-101.5\n")
    assert shapes(log) == [("track", 2)]
    assert shapes(table) == [("points", 2)]


def test_table_with_a_column_of_lines_is_one_track_each(tmp_path: Path) -> None:
    path = tmp_path / "rows.csv"
    path.write_text("Row;lat;lon\n1;36,75;-101,5\n1;36,75;-101,49\n5;36,7501;-101,5\n5;36,7501;-101,49\n")
    found = read_tracks(path)
    assert [(track.name, len(track)) for track in found.tracks] == [
        ("rows.csv: Row 1", 2),
        ("rows.csv: Row 5", 2),
    ]
    assert 'one track for each value of column "Row"' in found.said[-1]


def test_table_keeps_names_and_says_what_it_refused(tmp_path: Path) -> None:
    path = tmp_path / "pins.csv"
    path.write_text("name,lat,lon\npivot,36.75,-101.5\nT1,95,-101.5\nT2,36.76,-101.5\n")
    found = read_tracks(path)
    assert found.tracks[0].labels == ("pivot", "T2")
    assert "found latitude 95" in found.refused[0].why


def test_geojson_lines_points_and_outlines(tmp_path: Path) -> None:
    line, points = ring(300, count=20), ring(200, count=3)
    features = [
        {
            "type": "Feature",
            "properties": {"name": "drive"},
            "geometry": {"type": "LineString", "coordinates": line},
        },
        *(
            {
                "type": "Feature",
                "properties": {"name": f"T{n}"},
                "geometry": {"type": "Point", "coordinates": p},
            }
            for n, p in enumerate(points)
        ),
        {
            "type": "Feature",
            "properties": {"name": "drawn"},
            "geometry": {"type": "Polygon", "coordinates": [[*ring(400, count=30, sweep=348), ring(400)[0]]]},
        },
    ]
    path = tmp_path / "survey.geojson"
    path.write_text(json.dumps({"type": "FeatureCollection", "features": features}))
    found = read_tracks(path)
    assert [(track.kind, len(track)) for track in found.tracks] == [
        ("track", 20),
        ("polygon", 30),
        ("points", 3),
    ]
    assert found.tracks[2].labels == ("T0", "T1", "T2")
    picked = read_tracks(path, where={"name": "drive"})
    assert np.array_equal(picked.tracks[0].lon, [lon for lon, _ in line])


def test_drives_and_pins_choose_and_say_so(tmp_path: Path) -> None:
    path = gpx(
        tmp_path / "both.gpx", tracks=[ring(300, count=90)], pins=ring(200, count=4), names=list("abcd")
    )
    file = read_tracks(path)
    tracks, said = drives([file])
    assert [len(track) for track in tracks] == [90]
    assert "4 points left out, since the file holds tracks" in said[0]
    marked, said = pins([file])
    assert marked.labels == ("a", "b", "c", "d")
    assert "left out, since the file holds pins" in said[0]
    only = gpx(tmp_path / "only.gpx", tracks=[ring(300, count=90)])
    with pytest.raises(
        FileError, match=r"only\.gpx: found recorded tracks but no single points; allowed: a pin"
    ):
        pins([read_tracks(only)])


@pytest.mark.parametrize(
    ("name", "content", "message"),
    [
        ("a.gpx", "<gpx", "found no well-formed XML"),
        ("a.gpx", '<!DOCTYPE gpx [<!ENTITY a "b">]><gpx/>', "found a document type or entities"),
        ("a.gpx", "<kml/>", "root is 'kml'; allowed: gpx"),
        ("a.gpx", '<gpx version="1.1"><wpt lat="x" lon="1"/></gpx>', "found points that cannot be read"),
        ("a.gpx", "<gpx>" + "<a>" * 60 + "</a>" * 60 + "</gpx>", "nested deeper than 50"),
        ("a.nmea", "nothing here", "found no point of a track"),
        ("a.csv", "when,what\n1,2\n", "found no column of latitude and longitude"),
        ("a.doc", "x", "found ending '.doc'; allowed: .gpx"),
        ("a.geojson", '{"type": "FeatureCollection", "features": []}', "found no point of a track"),
    ],
)
def test_bad_files_are_refused(tmp_path: Path, name: str, content: str, message: str) -> None:
    path = tmp_path / name
    path.write_text(content)
    with pytest.raises((FileError, GeometryError), match=message):
        read_tracks(path)


def test_missing_files_and_places_off_the_globe(tmp_path: Path) -> None:
    with pytest.raises(FileError, match="found no such file"):
        read_tracks(tmp_path / "none.gpx")
    with pytest.raises(FileError, match="found no such file; allowed: a file of tracks"):
        read_tracks(tmp_path / "none.geojson")
    path = tmp_path / "off.gpx"
    path.write_text('<gpx version="1.1"><wpt lat="nan" lon="1"/><wpt lat="1" lon="2"/></gpx>')
    found = read_tracks(path)
    assert len(found.tracks[0]) == 1
    assert found.refused[0].what == "waypoints, point 1"


def test_where_must_suit_the_file(tmp_path: Path, outside_data: Path) -> None:
    with pytest.raises(
        GeometryError, match=r"bahia_fields\.gpkg: where\.id: found no feature with id = 9999"
    ):
        read_tracks(outside_data / "bahia_fields.gpkg", where={"id": "9999"})
    path = gpx(tmp_path / "a.gpx", tracks=[ring(300, count=9)])
    assert "--where, --layer and --crs play no part" in read_tracks(path, where={"id": "3"}).said[-1]


def test_too_many_points_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("ringrow.farm.tracks.MAX_POINTS", 50)
    with pytest.raises(FileError, match="more than 50 points"):
        read_tracks(gpx(tmp_path / "a.gpx", tracks=[ring(300, count=51)]))
    path = tmp_path / "a.nmea"
    path.write_text(
        "\n".join(gga(*p, f"10{n // 60:02d}{n % 60:02d}.00") for n, p in enumerate(ring(99, count=51)))
    )
    with pytest.raises(FileError, match="found 51 points; allowed: up to 50"):
        read_tracks(path)


@pytest.mark.parametrize(
    ("stated", "coding"),
    [("UTF-8", "utf-8"), ("UTF-8", "utf-8-sig"), ("UTF-16", "utf-16"), ("ISO-8859-1", "latin-1")],
)
def test_gpx_in_any_usual_coding(tmp_path: Path, stated: str, coding: str) -> None:
    point = '<trkpt lat="36.7" lon="-101.5"/>'
    text = (
        f'<?xml version="1.0" encoding="{stated}"?><gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1">'
        f"<trk><name>A\u00f1o</name><trkseg>{point}</trkseg></trk></gpx>"
    )
    path = tmp_path / "a.gpx"
    path.write_bytes(text.encode(coding))
    assert read_tracks(path).tracks[0].name == 'a.gpx: track "A\u00f1o"'


@pytest.mark.parametrize("point", ["wpt", "trkpt"])
def test_a_number_as_long_as_a_page_is_quoted_in_part(tmp_path: Path, point: str) -> None:
    """The library says the whole of what it could not read, which fuzzing found."""
    inner = f'<{point} lat="{"[" * 9_000}" lon="-101.5"/>'
    path = tmp_path / "a.gpx"
    path.write_text(
        f"<gpx>{inner}</gpx>" if point == "wpt" else f"<gpx><trk><trkseg>{inner}</trkseg></trk></gpx>"
    )
    with pytest.raises(FileError, match="points that cannot be read") as refused:
        read_tracks(path)
    assert len(str(refused.value)) < 500 + len(str(path))

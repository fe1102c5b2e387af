"""Reading points: tables of every make, GPX, GeoJSON, hostile and broken files."""

from __future__ import annotations

import json
import re
import uuid
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import given
from hypothesis import strategies as st

from ringrow.coverage.accuracy import DEFAULT_ACCURACY, Accuracy
from ringrow.equipment.kinds import FLAG_KINDS
from ringrow.errors import FileError, PlaceError
from ringrow.farm.events import event_from_json, event_to_json
from ringrow.farm.flag_import import flag_ids, import_files, plan_import, settle_kinds
from ringrow.farm.flags import Stamp, set_flags
from ringrow.farm.readers import PointFile, PointRow, read_points
from ringrow.farm.readers.columns import guess_columns, parse_columns
from ringrow.farm.readers.guess import guess_kind
from ringrow.farm.readers.rows import MAX_BYTES, MAX_ROWS
from ringrow.farm.season import open_season, read_states
from ringrow.handoff.import_words import import_lines
from ringrow.units import US

if TYPE_CHECKING:
    from pathlib import Path

    from ringrow.farm.import_model import ImportPlan

WHEN = datetime(2026, 4, 20, 12, tzinfo=UTC)
STAMP = Stamp(when=WHEN, who="Office", source="flag import")
HOME = [(-101.5, 36.75)]


def read(folder: Path, name: str, data: str | bytes, **options: Any) -> PointFile:
    path = folder / name
    path.write_bytes(data.encode() if isinstance(data, str) else data)
    return read_points(path, **options)


def bring_in(log: Path, *files: PointFile, stamp: Stamp = STAMP) -> list[ImportPlan]:
    ready = [(file, settle_kinds(file, kinds=FLAG_KINDS, around=[""] * len(file.rows))) for file in files]
    plans, _ = import_files(log, ready, accuracy=DEFAULT_ACCURACY, stamp=stamp)
    return plans


def results(plan: ImportPlan) -> list[str]:
    return [outcome.result for outcome in plan.outcomes]


# --- tables


@pytest.mark.parametrize(
    ("name", "text", "encoding"),
    [
        ("comma", "Latitude,Longitude,Note\n36.75,-101.5,fuga\n", "utf-8"),
        ("bom", "lat,lon,note\n36.75,-101.5,fuga\n", "utf-8-sig"),
        ("semicolon", "LAT;LONG;Remarks\n36,75;-101,5;fuga\n", "cp1252"),
        ("tab", "y\tx\tdescripción\n36.75\t-101.5\tfuga\n", "utf-16"),
        ("bare utf-16", "y\tx\tdescripción\n36.75\t-101.5\tfuga\n", "utf-16-le"),
        ("bar", "Latitud|Longitud|Observaciones\n36.75|-101.5|fuga\n", "utf-8"),
        ("named sign", "sep=;\r\nlat;lon;nota\r\n36.75;-101.5;fuga\r\n", "utf-8"),
        ("blank lines", "\n\nlat,lon,comment\n\n36.75,-101.5,fuga\n\n", "utf-8"),
        ("one cell", 'Position,Comments\n"36.75, -101.5",fuga\n', "utf-8"),
        ("minutes", "lat,lon,text\n36 45.0 N,101 30.0 W,fuga\n", "utf-8"),
        ("seconds", "lat,lon,text\n36°45'00\"N,101°30'00\"W,fuga\n", "utf-8"),
        ("minus sign", "lat,lon,cmt\n36.75,\u2212101.5,fuga\n", "utf-8"),
        ("decimal comma in quotes", 'lat,lon,desc\n"36,75","-101,5",fuga\n', "utf-8"),
    ],
)
def test_tables_of_every_make_give_the_same_point(
    tmp_path: Path, name: str, text: str, encoding: str
) -> None:
    found = read(tmp_path, f"{name}.csv", text.encode(encoding), farm_lonlat=HOME)
    assert found.refused == ()
    (row,) = found.rows
    assert (row.lat, row.lon, row.note) == (pytest.approx(36.75), pytest.approx(-101.5), "fuga")


def test_what_was_guessed_is_shown(tmp_path: Path) -> None:
    found = read(tmp_path, "t.csv", "Lat,Long,Remarks,Height\n36.75,-101.5,x,900\n")
    assert found.said == (
        "comma between columns, text is UTF-8",
        'columns: lat = "Lat" (guessed), lon = "Long" (guessed), note = "Remarks" (guessed); '
        'left alone: "Height"',
    )


def test_stated_columns_win_and_are_not_called_guessed(tmp_path: Path) -> None:
    table = "A,B,lat,lon\n36.75,-101.5,1,2\n"
    found = read(tmp_path, "t.csv", table, stated=parse_columns("lat=A, lon=2"))
    assert (found.rows[0].lat, found.rows[0].lon) == (36.75, -101.5)
    assert 'lat = "A", lon = "B"' in found.said[1]


def test_all_parts_of_a_row_are_read(tmp_path: Path) -> None:
    table = (
        "name,lat,lon,kind,note,date,hour,accuracy (m),status,who\n"
        "T5,36.75,-101.5,gearbox,oil,2026/04/13,20:02,4,Arreglado,Walker\n"
    )
    (row,) = read(tmp_path, "t.csv", table).rows
    assert (row.name, row.kind_words, row.note, row.by, row.status) == (
        "T5",
        "gearbox",
        "oil",
        "Walker",
        "fixed",
    )
    assert row.time == datetime(2026, 4, 13, 20, 2, tzinfo=UTC)
    assert row.accuracy == Accuracy(radius_m=4.0, kind="r95")
    assert row.remarks == ()


def test_what_cannot_be_read_beside_the_place_is_left_out_and_said(tmp_path: Path) -> None:
    table = "lat,lon,time,accuracy,status\n36.75,-101.5,4/2/26,good,who knows\n"
    (row,) = read(tmp_path, "t.csv", table).rows
    assert (row.time, row.accuracy, row.status) == (None, None, "")
    assert [remark.split(" left out")[0] for remark in row.remarks] == [
        'time "4/2/26"',
        "accuracy",
        'status "who knows"',
    ]


@pytest.mark.parametrize(
    ("cells", "why"),
    [
        (
            "-101.5,36.75",
            r"found latitude -101.5, longitude 36.75; allowed: .*; latitude and longitude look swapped",
        ),
        ("36.75,101.5", r"found 36.750000, 101.500000, [\d,]+ km from the farm; allowed: within 50 km$"),
        ("4067890,634000", r"these look like metres or feet of a map projection"),
        (
            "91,-101",
            r"found latitude 91, longitude -101; allowed: latitude -90 to 90, .*look at the row again",
        ),
        (",-101.5", r'no place: found "" and "-101.5"; allowed: a latitude and a longitude'),
        ("north,west", r'place: found "north; west"'),
        ("nan,-101.5", r'place: found "nan; -101.5"'),
        ("1e999,-101.5", r'place: found "1e999; -101.5"'),
        ("36,75,-101,5", r"found 4 cells under 2 column names; .*is a comma both"),
    ],
)
def test_a_row_without_a_place_is_refused_with_its_number(tmp_path: Path, cells: str, why: str) -> None:
    table = f"lat,lon\n36.75,-101.5\n{cells}\n36.76,-101.5\n"
    found = read(tmp_path, "t.csv", table, farm_lonlat=HOME)
    assert [row.what for row in found.rows] == ["row 2", "row 4"]
    (refused,) = found.refused
    assert refused.what == "row 3"
    assert re.search(why, refused.why), refused.why


def test_swapped_is_said_only_when_the_swap_lands_on_the_farm(tmp_path: Path) -> None:
    table = "lat,lon\n20.0,60.0\n21.0,65.0\n"
    found = read(tmp_path, "t.csv", table, farm_lonlat=[(20.0, 60.0)])
    assert [row.what for row in found.refused] == ["row 2", "row 3"]
    assert [row.why.endswith("latitude and longitude look swapped") for row in found.refused] == [True, False]


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (b"", r"t\.csv: found an empty file; allowed: a row of column names"),
        (b"\n\n  \n", r"found an empty file"),
        (
            b"name,height\nA,3\n",
            r'no column of latitude and longitude among "name", "height"; allowed: say them',
        ),
        (
            b"36.75,-101.5,leak\n36.76,-101.5,leak\n",
            r'no column of latitude and longitude among "1", "2", "3"',
        ),
        (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR\0\0\x81", r"found bytes that are no text; allowed: text in UTF-8"),
        (
            b'lat,lon\n36.75,"-101.5\n' + b"x" * 200_000,
            r"line \d+ is no row of a table \(.*is a quote left open",
        ),
        (b"sep=x\nlatxlon\n", r"found 'x' between columns; allowed: comma, semicolon, tab, bar"),
        (
            b"lat,lon\n" + b"36.7,-101\n" * (MAX_ROWS + 1),
            rf"more than {MAX_ROWS:,} points; allowed: up to that",
        ),
        (b"lat,lon\n" + b" " * MAX_BYTES, r"more than 20 MB; allowed: up to that; split the file"),
    ],
    ids=["empty", "blank", "no columns", "no names", "picture", "open quote", "sep", "rows", "bytes"],
)
def test_a_table_that_cannot_be_used_says_why(tmp_path: Path, data: bytes, message: str) -> None:
    with pytest.raises(FileError, match=message):
        read(tmp_path, "t.csv", data)


def test_a_table_without_names_is_read_by_column_numbers(tmp_path: Path) -> None:
    table = "36.75,-101.5,leak\n36.76,-101.5,rut\n"
    found = read(tmp_path, "t.csv", table, stated=parse_columns("lat=1,lon=2,note=3"))
    assert [(row.what, row.lat, row.note) for row in found.rows] == [
        ("row 1", 36.75, "leak"),
        ("row 2", 36.76, "rut"),
    ]


def test_columns_that_are_not_there_or_have_no_meaning_are_refused(tmp_path: Path) -> None:
    with pytest.raises(
        FileError, match=r'lat="Latt"; allowed: a column of the file \("Lat", "Lon"\); nearest: "Lat"'
    ):
        read(tmp_path, "t.csv", "Lat,Lon\n1,2\n", stated={"lat": "Latt"})
    for text in ("latitude=Y", "lat", "lat="):
        with pytest.raises(PlaceError, match=r"columns: found .*; allowed: pairs such as lat=Y,lon=X"):
            parse_columns(text)


def test_a_name_with_a_unit_is_the_same_name() -> None:
    columns = guess_columns(["Y", "X", "Accuracy_ft"])
    assert (columns.index, columns.accuracy_unit) == ({"lat": 0, "lon": 1, "accuracy": 2}, "ft")


@given(st.binary(max_size=400))
def test_any_bytes_give_points_or_one_clear_error(
    tmp_path_factory: pytest.TempPathFactory, data: bytes
) -> None:
    folder = tmp_path_factory.mktemp("any")
    for name in ("a.csv", "a.gpx", "a.geojson"):
        path = folder / name
        path.write_bytes(data)
        try:
            found = read_points(path)
        except FileError as error:
            found = PointFile(file=str(error), form="", rows=())
        # Either every point says where it stands, or the message names the file.
        assert name in found.file
        assert all(row.what for row in (*found.rows, *found.refused))


def test_other_endings_and_missing_files_are_refused(tmp_path: Path) -> None:
    with pytest.raises(FileError, match=r"found ending '.xls'; allowed: .gpx, .csv"):
        read(tmp_path, "t.xls", b"x")
    with pytest.raises(FileError, match="found no such file; allowed: a file of points"):
        read_points(tmp_path / "none.gpx")


# --- GPX

WPT = '<wpt lat="36.75" lon="-101.5">{}</wpt>'


def gpx(body: str, version: str = "1/1") -> str:
    space = f"http://www.topografix.com/GPX/{version}"
    return f'<?xml version="1.0"?><gpx xmlns="{space}" version="1.1">{body}</gpx>'


@pytest.mark.parametrize("version", ["1/0", "1/1"])
def test_waypoints_of_both_versions_are_read(tmp_path: Path, version: str) -> None:
    body = WPT.format(
        "<time>2026-04-13T14:05:10Z</time><name>T5</name><cmt>soft</cmt><desc>flat</desc><sym>Pin</sym><type>tire</type>"
    )
    (row,) = read(tmp_path, "w.gpx", gpx(body, version)).rows
    assert (row.lat, row.lon, row.name, row.note) == (36.75, -101.5, "T5", "flat; soft")
    assert (row.symbol, row.kind_words) == ("Pin", "tire")
    assert row.time == datetime(2026, 4, 13, 14, 5, 10, tzinfo=UTC)


def test_one_broken_waypoint_does_not_cost_the_others(tmp_path: Path) -> None:
    body = (
        '<wpt lat="north" lon="-101.5"/><wpt lon="-101.5"/><wpt lat="36.7" lon="-101"><time>noon</time></wpt>'
    )
    found = read(tmp_path, "w.gpx", gpx(body))
    assert [row.what for row in found.refused] == ["waypoint 1", "waypoint 2"]
    (row,) = found.rows
    assert row.remarks == ('time "noon" left out: only year-month-day is clear, such as 2026-04-02 13:05',)


def test_tracks_are_left_out_and_counted(tmp_path: Path) -> None:
    point = '<trkpt lat="1" lon="2"><name>no waypoint</name></trkpt>'
    found = read(tmp_path, "w.gpx", gpx(f"<trk><trkseg>{point * 3}</trkseg></trk><rte/><rte/>"))
    assert found.rows == ()
    assert found.said == ("left out: 1 track and 2 routes (only waypoints become flags)",)


@pytest.mark.parametrize(
    ("data", "message"),
    [
        ("<html/>", r"found an XML file whose root is 'html'; allowed: gpx"),
        (gpx(WPT.format(""))[:-9], r"found no well-formed XML \(.*\); is the file cut off\?"),
        ("", r"found no well-formed XML"),
        (
            '<!DOCTYPE gpx [<!ENTITY a "b">]><gpx>&a;</gpx>',
            r"found a document type or entities; allowed: plain GPX",
        ),
        ('<!DOCTYPE gpx SYSTEM "http://example.invalid/x.dtd"><gpx/>', r"found a document type or entities"),
        (gpx("<a>" * 60 + "</a>" * 60), r"found elements nested deeper than 50; allowed: a plain GPX file"),
        (gpx("<a>" * 100_000), r"found elements nested deeper than 50"),
        (gpx('<wpt lat="1" lon="2"/>' * (MAX_ROWS + 1)), rf"found more than {MAX_ROWS:,} points"),
    ],
    ids=["html", "cut off", "empty", "entity", "outside dtd", "deep", "very deep", "many"],
)
def test_a_gpx_that_cannot_be_used_says_why(tmp_path: Path, data: str, message: str) -> None:
    with pytest.raises(FileError, match=message):
        read(tmp_path, "w.gpx", data)


# How many waypoints each real file holds, counted by hand with grep.
REAL = {
    "around-visnjan-with-car.gpx": 0,
    "cerknicko-jezero.gpx": 7,
    "gpx1.1_with_all_fields.gpx": 2,
    "korita-zbevnica.gpx": 2,
    "track-with-empty-segment.gpx": 0,
    "track_with_dilution_errors.gpx": 1,
    "unicode2.gpx": 0,
}


@pytest.mark.parametrize(("name", "waypoints"), REAL.items())
def test_real_files_come_in_once(outside_data: Path, tmp_path: Path, name: str, waypoints: int) -> None:
    """Test files of gpxpy (Apache-2.0) in the data folder beside the project."""
    log = tmp_path / "season.db"
    (first,) = bring_in(log, read_points(outside_data / name))
    assert results(first) == ["new"] * waypoints
    states = read_states(log)
    (second,) = bring_in(log, read_points(outside_data / name))
    assert results(second) == ["already there"] * waypoints
    assert read_states(log) == states
    far = read_points(outside_data / name, farm_lonlat=HOME)
    assert len(far.refused) == waypoints
    assert all("km from the farm; allowed: within 50 km" in refused.why for refused in far.refused)


# --- GeoJSON


def feature(at: Any = (-101.5, 36.75), id_: Any = None, **properties: Any) -> dict[str, Any]:
    geometry = None if at is None else {"type": "Point", "coordinates": list(at)}
    plain = {"type": "Feature", "geometry": geometry, "properties": properties}
    return plain if id_ is None else {**plain, "id": id_}


def collection(*features: Any, **more: Any) -> str:
    return json.dumps({"type": "FeatureCollection", "features": features, **more})


def test_points_of_any_tool_are_read(tmp_path: Path) -> None:
    text = collection(
        feature(title="T5", comment="oil", type="gearbox", when="2026-04-13T20:02:11Z", acc=12, n=1)
    )
    found = read(tmp_path, "p.geojson.txt", text)
    (row,) = found.rows
    assert (row.lat, row.lon, row.name, row.note, row.kind_words) == (36.75, -101.5, "T5", "oil", "gearbox")
    assert row.accuracy is not None
    assert row.accuracy.radius_m == pytest.approx(12 * 0.3048)
    assert 'name = "title" (guessed)' in found.said[0]


def test_what_is_no_point_is_left_out_and_counted(tmp_path: Path) -> None:
    line = {
        "type": "Feature",
        "geometry": {"type": "LineString", "coordinates": [[0, 0], [1, 1]]},
        "properties": {},
    }
    well = feature(id_="well:Farm/Home%20well", feature="well", name="Home well")
    found = read(tmp_path, "p.json", collection(line, well, line, feature(name="x")))
    assert [row.what for row in found.rows] == ["feature 4"]
    assert (
        found.said[-1]
        == "left out: 2 LineString, 1 of an exported farm that are no flags (only points become flags)"
    )


@pytest.mark.parametrize(
    ("plain", "why"),
    [
        (feature(at=(36.75, -101.5)), "look swapped"),
        (feature(at=("a", "b")), r"found coordinates \['a', 'b'\]; allowed: \[longitude, latitude\]"),
        (feature(at=(1,)), r"found coordinates \[1\]"),
        (feature(at=None), r"found neither a place nor an id nor words"),
        (
            {"type": "Feature", "geometry": {"type": "Curve"}},
            r"found geometry 'Curve'; allowed: Point or null",
        ),
        ({"type": "Point"}, r"allowed: a Feature"),
        (7, r"found '7'; allowed: a Feature"),
        (feature(name="x" * 201), r"name: found 201 characters; allowed: up to 200"),
    ],
)
def test_a_feature_that_cannot_be_a_flag_is_refused(tmp_path: Path, plain: Any, why: str) -> None:
    found = read(tmp_path, "p.geojson", collection(feature(name="good"), plain))
    assert [row.what for row in found.rows] == ["feature 1"]
    assert re.search(why, found.refused[0].why), found.refused[0].why


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (collection(feature())[:-5], r"found no valid JSON \(.*\); is the file cut off\?"),
        ("[1, 2]", r"found JSON of type 'None'; allowed: a FeatureCollection or a Feature"),
        ('{"type": "Topology"}', r"found JSON of type 'Topology'"),
        ("[" * 100_000, r"found JSON nested too deep"),
        ('{"type": "FeatureCollection", "features": [NaN]}', r"NaN is no JSON number"),
        (
            collection(crs={"name": "EPSG:26914"}),
            r"found coordinates of .*26914.*; allowed: degrees of WGS 84",
        ),
        (collection(properties={"ringrow": {"schema": 2}}), r"found a file of schema 2; allowed: up to 1"),
        (collection(feature(ringrow={"schema": 9})), r"found a file of schema 9; .*update this one"),
    ],
    ids=["cut off", "list", "other type", "deep", "nan", "crs", "schema", "feature schema"],
)
def test_a_geojson_that_cannot_be_used_says_why(tmp_path: Path, text: str, message: str) -> None:
    with pytest.raises(FileError, match=message):
        read(tmp_path, "p.geojson", text)


def phone_file(log: Path, *, drop: int = 0) -> list[dict[str, Any]]:
    """Features with ids and history, as a phone sends them back, made from a log."""
    with open_season(log) as season:
        events = season.events()
    flags = {event.flag for event in events}
    return [
        feature(
            at=None, id_=flag, events=[event_to_json(e) for e in events if e.flag == flag][: -drop or None]
        )
        for flag in sorted(flags)
    ]


def test_flags_with_their_history_merge_and_null_places_are_kept(tmp_path: Path) -> None:
    log, other = tmp_path / "a.db", tmp_path / "b.db"
    table = "lat,lon,kind,note\n36.75,-101.5,leak,wet\n36.76,-101.5,burrow,deep\n"
    bring_in(log, read(tmp_path, "t.csv", table))
    sent = read(tmp_path, "phone.geojson", collection(*phone_file(log)))
    assert [row.lat for row in sent.rows] == [None, None]
    (plan,) = bring_in(other, sent)
    assert results(plan) == ["new", "new"]
    assert {state.id: (state.kind, state.note, state.spot) for state in read_states(other)} == {
        state.id: (state.kind, state.note, state.spot) for state in read_states(log)
    }
    (again,) = bring_in(other, sent)
    assert results(again) == ["already there", "already there"]
    with open_season(other) as season:
        set_flags(season, ["1"], {"status": "fixed"}, stamp=STAMP)
    (back,) = bring_in(log, read(tmp_path, "back.geojson", collection(*phone_file(other))))
    assert sorted(results(back)) == ["already there", "edited"]
    assert sorted(state.status for state in read_states(log)) == ["fixed", "open"]


def test_two_phones_that_disagree_make_a_clash_whatever_the_order(tmp_path: Path) -> None:
    start, ends = tmp_path / "start.db", []
    bring_in(start, read(tmp_path, "t.csv", "lat,lon,kind\n36.75,-101.5,leak\n"))
    sent = []
    for number, status in enumerate(("fixed", "not-a-fault")):
        phone = tmp_path / f"phone{number}.db"
        bring_in(phone, read(tmp_path, "p.geojson", collection(*phone_file(start))))
        stamp = Stamp(when=WHEN, who=f"phone {number}", source="phone")
        with open_season(phone) as season:
            set_flags(season, ["1"], {"status": status}, stamp=stamp)
        sent.append(read(tmp_path, f"s{number}.geojson", collection(*phone_file(phone))))
    for number, order in enumerate(((0, 1), (1, 0, 1, 0))):
        log = tmp_path / f"end{number}.db"
        for which in order:
            bring_in(log, sent[which])
        ends.append(read_states(log))
    assert ends[0] == ends[1]
    (clash,) = ends[0][0].clashes
    assert (clash.field, set(clash.values)) == ("status", {"fixed", "not-a-fault"})


def test_one_event_id_with_two_contents_is_refused_and_the_rest_comes_in(tmp_path: Path) -> None:
    log = tmp_path / "a.db"
    table = "lat,lon,kind,note\n36.75,-101.5,leak,wet\n36.76,-101.5,burrow,deep\n"
    bring_in(log, read(tmp_path, "t.csv", table))
    forged, good = phone_file(log)
    forged["properties"]["events"][0]["who"] = "somebody else"
    extra = {**good["properties"]["events"][0], "id": str(uuid.uuid4()), "field": "work", "value": [1]}
    good["properties"]["events"].append(extra)
    before = read_states(log)
    (plan,) = bring_in(log, read(tmp_path, "f.geojson", collection(forged, good)))
    assert results(plan) == ["refused", "edited"]
    assert "found two different contents under one id" in plan.outcomes[0].why
    assert read_states(log) == before
    with open_season(log) as season:
        assert event_from_json(extra) in season.events()


def test_events_of_another_flag_are_refused(tmp_path: Path) -> None:
    log = tmp_path / "a.db"
    bring_in(log, read(tmp_path, "t.csv", "lat,lon,kind\n36.75,-101.5,leak\n"))
    (plain,) = phone_file(log)
    plain["id"] = str(uuid.uuid4())
    found = read(tmp_path, "f.geojson", collection(plain))
    assert "allowed: the feature's own id" in found.refused[0].why


# --- what an import does to the log


def test_the_files_name_plays_no_part_and_equal_points_are_counted(tmp_path: Path) -> None:
    log = tmp_path / "a.db"
    table = "lat,lon,name\n36.75,-101.5,leak\n36.75,-101.5,leak\n36.76,-101.5,leak\n"
    one, other = read(tmp_path, "monday.csv", table), read(tmp_path, "copy of monday.csv", table)
    assert len(set(flag_ids("csv", one.rows))) == 3
    assert [results(plan) for plan in bring_in(log, one, other)] == [["new"] * 3, ["already there"] * 3]


def test_a_changed_note_is_an_edit_and_an_older_file_does_not_turn_it_back(tmp_path: Path) -> None:
    log = tmp_path / "a.db"
    head = "lat,lon,name,note\n36.75,-101.5,T5,"
    monday, tuesday = read(tmp_path, "m.csv", f"{head}wet\n"), read(tmp_path, "t.csv", f"{head}very wet\n")
    bring_in(log, monday)
    (plan,) = bring_in(log, tuesday)
    (edit,) = plan.outcomes[0].edits
    assert (edit.field, edit.before, edit.after) == ("note", "wet", "very wet")
    assert import_lines(tuesday, plan, {plan.outcomes[0].flag: 1}, US)[1] == (
        '  row 2: edited flag 1; note was "wet", now "very wet"'
    )
    (late,) = bring_in(log, monday)
    assert results(late) == ["already there"]
    assert late.outcomes[0].remarks == ("note in the file is an older one; kept: very wet",)
    assert read_states(log)[0].note == "very wet"


def test_what_was_set_by_hand_stays_when_the_file_comes_again(tmp_path: Path) -> None:
    log = tmp_path / "a.db"
    file = read(tmp_path, "m.csv", "lat,lon,kind,status,note\n36.75,-101.5,leak,open,wet\n")
    bring_in(log, file)
    with open_season(log) as season:
        set_flags(season, ["1"], {"status": "fixed", "kind": "burrow", "note": "dry"}, stamp=STAMP)
    before = read_states(log)
    bring_in(log, file)
    assert read_states(log) == before


def test_a_moved_point_without_an_id_is_a_new_flag_and_said_so(tmp_path: Path) -> None:
    log = tmp_path / "a.db"
    bring_in(log, read(tmp_path, "m.csv", "lat,lon,name\n36.75,-101.5,T5\n36.75,-101.51,T6\n"))
    moved = read(tmp_path, "t.csv", "lat,lon,name\n36.7501,-101.5,T5\n36.75,-101.51,T6\n36.77,-101.5,T5\n")
    (plan,) = bring_in(log, moved)
    assert results(plan) == ["new", "already there", "new"]
    near, _, far = plan.outcomes
    exact_m = Geodesic.WGS84.Inverse(36.75, -101.5, 36.7501, -101.5)["s12"]
    assert near.like_m == pytest.approx(exact_m, abs=1e-6)
    assert far.like == ""
    line = import_lines(moved, plan, {near.like: 1, near.flag: 3}, US)[1]
    assert "same name as flag 1, 36 ft away; a point that moved comes in as a new flag" in line


def test_a_point_with_an_id_of_its_own_moves(tmp_path: Path) -> None:
    log, own = tmp_path / "a.db", "00000000-0000-4000-8000-000000000001"
    bring_in(log, read(tmp_path, "a.geojson", collection(feature(id_=own, kind="leak"))))
    again = collection(feature(at=(-101.50000001, 36.75), id_=own, kind="leak"))
    (same,) = bring_in(log, read(tmp_path, "b.geojson", again))
    assert results(same) == ["already there"]
    (moved,) = bring_in(
        log, read(tmp_path, "c.geojson", collection(feature(at=(-101.4, 36.75), id_=own, kind="leak")))
    )
    assert [edit.field for edit in moved.outcomes[0].edits] == ["spot"]
    (state,) = read_states(log)
    assert state.spot is not None
    assert getattr(state.spot, "lon", None) == -101.4


def test_a_record_with_words_but_no_place_is_kept_and_said(tmp_path: Path) -> None:
    log = tmp_path / "a.db"
    (plan,) = bring_in(
        log, read(tmp_path, "n.geojson", collection(feature(at=None, note="gopher by the gate")))
    )
    assert plan.outcomes[0].remarks == ("came without a place",)
    (state,) = read_states(log)
    assert (state.spot, state.kind, state.note) == (None, "burrow", "gopher by the gate")


def test_a_time_that_lies_ahead_is_left_out(tmp_path: Path) -> None:
    log = tmp_path / "a.db"
    (plan,) = bring_in(log, read(tmp_path, "m.csv", "lat,lon,time\n36.75,-101.5,2099-01-01\n"))
    assert plan.outcomes[0].remarks == ("time 2099-01-01T00:00:00.000000Z lies ahead and was left out",)
    assert read_states(log)[0].set_at == WHEN


def test_a_dry_run_writes_nothing(tmp_path: Path) -> None:
    log = tmp_path / "a.db"
    file = read(tmp_path, "m.csv", "lat,lon\n36.75,-101.5\n")
    ready = [(file, settle_kinds(file, kinds=FLAG_KINDS, around=[""]))]
    for _ in range(2):
        plans, _numbers = import_files(log, ready, accuracy=DEFAULT_ACCURACY, stamp=STAMP, dry_run=True)
        assert results(plans[0]) == ["new"]
    assert not log.exists()


def test_hostile_words_are_stored_as_they_are(tmp_path: Path) -> None:
    log = tmp_path / "a.db"
    words = ["<script>alert(1)</script>", "=HYPERLINK(1)", "'; DROP TABLE event;--", "a\nb", "{{7*7}}"]
    text = collection(*(feature(at=(-101.5, 36.7 + at / 100), note=note) for at, note in enumerate(words)))
    bring_in(log, read(tmp_path, "h.geojson", text))
    assert [state.note for state in read_states(log)] == words


@given(st.lists(st.tuples(st.integers(0, 3), st.sampled_from(["", "wet", "leak"])), max_size=12))
def test_importing_any_rows_twice_changes_nothing(rows: list[tuple[int, str]]) -> None:
    points = [
        PointRow(
            what=f"row {at}", lat=36.7 + place / 1000, lon=-101.5, name=words, note=words and f"{words}!"
        )
        for at, (place, words) in enumerate(rows)
    ]
    file = PointFile(file="any.csv", form="csv", rows=tuple(points))
    ready = settle_kinds(file, kinds=FLAG_KINDS, around=[""] * len(points))
    first = plan_import(file, ready, known=[], accuracy=DEFAULT_ACCURACY, stamp=STAMP)
    assert [outcome.result for outcome in first.outcomes] == ["new"] * len(rows)
    later = Stamp(when=datetime(2027, 1, 1, tzinfo=UTC), who="Other", source="again")
    second = plan_import(file, ready, known=first.events, accuracy=DEFAULT_ACCURACY, stamp=later)
    assert second.events == ()


# --- kinds from words


@pytest.mark.parametrize(
    ("texts", "around", "kind"),
    [
        ({"name": "flat tire tower 5"}, "pivot", "tire"),
        ({"name": "Llanta ponchada, torre 5"}, "pivot", "tire"),
        ({"name": "T3", "note": "gear box leaking oil"}, "pivot", "gearbox"),
        ({"note": "leaking gearbox"}, "drip", "leak"),
        ({"name": "Fugas"}, "drip", "leak"),
        ({"name": "leak"}, "pivot", "span-leak"),
        ({"name": "leak"}, "well", "header-leak"),
        ({"name": "drive shaft"}, "pivot", "driveline"),
        ({"name": "drive shaft"}, "well", "drive-shaft"),
        ({"name": "Válvula de purga"}, "drip", "flush-valve"),
        ({"name": "gophers"}, "", "burrow"),
        ({"name": "wet spot"}, "", "wet-spot"),
        ({"symbol": "End Gun", "note": "rock"}, "", "end-gun"),
        ({"kind": "Tower Box"}, "", "tower-box"),
        ({"name": "cañón final"}, "pivot", "end-gun"),
        ({"name": "001", "note": "05-AUG-10"}, "pivot", "other-ground"),
        ({"name": "tireless"}, "", "other-ground"),
        ({}, "drip", "other-ground"),
    ],
)
def test_kinds_are_guessed_from_words_and_place(texts: dict[str, str], around: Any, kind: str) -> None:
    guess = guess_kind(texts, kinds=FLAG_KINDS, around=around)
    assert guess.kind == kind
    assert guess.why


def test_why_a_kind_was_taken_is_always_said() -> None:
    assert guess_kind({"kind": "LEAK"}, kinds=FLAG_KINDS).why == "as the file says"
    assert guess_kind({"note": "two gophers"}, kinds=FLAG_KINDS).why == 'guessed from "gopher" in the note'
    assert guess_kind({"name": "x"}, kinds=FLAG_KINDS).why == "no word told the kind"


def test_every_word_of_the_table_leads_to_its_kind_or_one_nearer() -> None:
    from ringrow.farm.readers.guess import _WORDS

    assert set(_WORDS) <= set(FLAG_KINDS)
    for kind, words in _WORDS.items():
        assert [guess_kind({"name": word}, kinds=FLAG_KINDS).kind for word in words] == [kind] * len(words)


def test_the_user_may_state_one_kind_for_all() -> None:
    file = PointFile(file="a.csv", form="csv", rows=(PointRow(what="row 2", lat=1.0, lon=1.0, name="leak"),))
    (ready,) = settle_kinds(file, kinds=FLAG_KINDS, around=[""], all_kind="rock")
    assert (ready.guess.kind, ready.guess.stated) == ("rock", True)

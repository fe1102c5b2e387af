"""Photos and other files brought in on the sample farm: places by words and by position, twice, cut short."""

from __future__ import annotations

import json
import sqlite3
from typing import TYPE_CHECKING, Any

import pytest
from click.testing import CliRunner, Result
from geographiclib.geodesic import Geodesic
from PIL import Image

from phones import few_fields
from ringrow.cli.main import cli
from ringrow.farm.load import load_farm
from ringrow.farm.season import open_season

if TYPE_CHECKING:
    from pathlib import Path

Parts = dict[int, Any]


def run(*arguments: Any) -> Result:
    return CliRunner().invoke(cli, ["flag", *map(str, arguments)])


def good(*arguments: Any) -> Result:
    result = run(*arguments)
    assert result.exit_code == 0, result.output
    return result


def flags_of(farm: Path) -> list[dict[str, Any]]:
    flags: list[dict[str, Any]] = json.loads(good("list", farm, "--json").stdout)["flags"]
    return sorted(flags, key=lambda flag: flag["number"])


def line_of(result: Result, name: str) -> str:
    return next(line.strip() for line in result.stdout.splitlines() if line.strip().startswith(f"{name}:"))


def degrees(value: float) -> tuple[float, float, float]:
    whole, minutes = divmod(abs(value) * 60, 60)
    return whole, float(int(minutes)), round((minutes - int(minutes)) * 60, 4)


def photo(path: Path, caption: str = "", lat: float | None = None, lon: float = 0.0, **more: Any) -> Path:
    exif = Image.Exif()
    # The colour makes each picture's content its own, as in life.
    exif[305] = path.name
    exif.update({270: caption} if caption else {})
    exif.get_ifd(0x8769).update({36867: "2026:04:02 08:05:00", 36881: "-05:00"})
    if lat is not None:
        sides = {1: "N" if lat >= 0 else "S", 3: "E" if lon >= 0 else "W"}
        exif.get_ifd(0x8825).update({**sides, 2: degrees(lat), 4: degrees(lon), 31: 3.0, **more})
    Image.new("RGB", (80, 60), "tan").save(path, "JPEG", exif=exif)
    return path


@pytest.fixture
def farm(tmp_path: Path) -> Path:
    """The sample farm without its corner arm, which takes the longest to lay out."""
    return few_fields(
        tmp_path / "two_windmill_farm", "10_", "20_", "30_", "40_", "50_", "60_", "80_", "90_", "95_"
    )


@pytest.fixture
def pictures(tmp_path: Path) -> Path:
    folder = tmp_path / "pictures"
    folder.mkdir()
    return folder


def beside_tower(farm: Path, pivot_name: str, tower: int, azimuth_deg: float) -> tuple[float, float]:
    """Place at a tower, walked with geographiclib from the pivot point."""
    field, pivot = next(
        (field, pivot)
        for field in load_farm(farm).fields
        for pivot in field.pivots
        if pivot.name == pivot_name
    )
    lon, lat = field.frame.to_lonlat(pivot.x_m, pivot.y_m)
    end = Geodesic.WGS84.Direct(float(lat), float(lon), azimuth_deg, pivot.tower_radii_m[tower - 1])
    return end["lat2"], end["lon2"]


# --- words and position


def test_words_and_position_that_agree_say_where_the_machine_stood(farm: Path, pictures: Path) -> None:
    lat, lon = beside_tower(farm, "West pivot", 5, 231.0)
    photo(pictures / "IMG_1.jpg", "P3 T5 gearbox", lat, lon)
    result = good("import", farm, pictures)
    assert line_of(result, "IMG_1.jpg") == (
        'IMG_1.jpg: new flag 1; gearbox (guessed from "gearbox" in the note); '
        "words name tower 5 of West pivot (third of the farm's pivots)"
    )
    (flag,) = flags_of(farm)
    assert (flag["system"], flag["tower"], flag["kind"]) == ("West pivot", 5, "gearbox")
    # Seconds are written to four decimals: 3 mm on 800 ft are 0.0007 deg.
    assert flag["azimuth_deg"] == pytest.approx(231.0, abs=0.001)
    assert flag["set_at"] == "2026-04-02T13:05:00.000000Z"


def test_words_win_over_a_position_elsewhere_and_it_is_shown(farm: Path, pictures: Path) -> None:
    lat, lon = beside_tower(farm, "Windmill pivot", 2, 10.0)
    photo(pictures / "IMG_1.jpg", "Windmill T5 llanta ponchada", lat, lon)
    line = line_of(good("import", farm, pictures), "IMG_1.jpg")
    assert "tire (guessed from" in line
    assert "CONFLICT: the photo's position lies" in line
    assert "tower 5 at 910 ft; the words were taken" in line
    (flag,) = flags_of(farm)
    assert (flag["system"], flag["tower"], flag["azimuth_deg"]) == ("Windmill pivot", 5, None)


@pytest.mark.parametrize(
    ("caption", "system", "place"),
    [
        ("P1 T5 drop +3 boquilla", "Windmill pivot", "tower 5, drop +3"),
        ("Prairie pivot span 4 nozzle", "Prairie pivot", "span 4"),
        ("Pivote 6 torre 3 caja de engranes", "Draw pivot", "tower 3"),
        ("P3 panel", "West pivot", "pivot point"),
        ("p1t2 flat", "Windmill pivot", "tower 2"),
    ],
)
def test_words_alone_place_a_machine_fault(
    farm: Path, pictures: Path, caption: str, system: str, place: str
) -> None:
    photo(pictures / "IMG_1.jpg", caption)
    assert f"words name {place} of {system}" in line_of(good("import", farm, pictures), "IMG_1.jpg")
    (flag,) = flags_of(farm)
    assert flag["system"] == system


def beside_cart(travel_m: float, offset_m: float) -> tuple[float, float]:
    """Place on the first leg of the ditch lateral's path, left of travel, walked with geographiclib."""
    first, second = (36.7701056, -101.4907828), (36.7697760, -101.4864812)
    leg = Geodesic.WGS84.Inverse(*first, *second)
    cart = Geodesic.WGS84.Direct(*first, leg["azi1"], travel_m)
    end = Geodesic.WGS84.Direct(cart["lat2"], cart["lon2"], cart["azi2"] - 90, offset_m)
    return end["lat2"], end["lon2"]


@pytest.mark.parametrize(
    ("caption", "place"),
    [
        ("Ditch lateral left T3 gearbox", "left tower 3"),
        ("avance 1 torre 2 derecha caja de engranes", "right tower 2"),
        ("Izquierda torre 3 llanta derecha ponchada", "left tower 3"),
        ("ditch right span 2 nozzle", "right span 2"),
        ("M1 panel", "cart"),
        ("Ditch lateral carro llanta ponchada", "cart"),
    ],
)
def test_words_alone_place_a_fault_on_a_lateral_move(
    farm: Path, pictures: Path, caption: str, place: str
) -> None:
    photo(pictures / "IMG_1.jpg", caption)
    assert f"words name {place} of Ditch lateral" in line_of(good("import", farm, pictures), "IMG_1.jpg")
    (flag,) = flags_of(farm)
    assert (flag["system"], flag["travel_ft"]) == ("Ditch lateral", None)


@pytest.mark.parametrize("caption", ["Ditch lateral left T3 gearbox", "Ditch T3 gearbox", "T3 gearbox"])
def test_a_photo_beside_a_lateral_move_says_its_travel_and_side(
    farm: Path, pictures: Path, caption: str
) -> None:
    # Three spans of 170 ft to the left.
    photo(pictures / "IMG_1.jpg", caption, *beside_cart(200.0, 510 * 0.3048))
    line = line_of(good("import", farm, pictures), "IMG_1.jpg")
    assert "words name left tower 3 of Ditch lateral" in line
    assert ("(side by the photo's position)" in line) == ("left" not in caption)
    (flag,) = flags_of(farm)
    # Ground lengths of 200 m, walked on the ellipsoid, in the field's flat frame.
    assert flag["travel_ft"] == pytest.approx(200 / 0.3048, abs=0.1)
    assert (flag["side"], flag["tower"]) == ("left", 3)


def test_words_about_a_lateral_move_win_over_a_position_elsewhere(farm: Path, pictures: Path) -> None:
    photo(pictures / "IMG_1.jpg", "Ditch lateral right T3 gearbox", *beside_cart(200.0, 510 * 0.3048))
    line = line_of(good("import", farm, pictures), "IMG_1.jpg")
    assert (
        "CONFLICT: the photo's position lies 510 ft left of the cart's path, right tower 3 at 510 ft" in line
    )
    assert flags_of(farm)[0]["travel_ft"] is None


def test_a_tower_alone_is_on_the_pivot_that_reaches_the_photo(farm: Path, pictures: Path) -> None:
    lat, lon = beside_tower(farm, "Draw pivot", 4, 100.0)
    photo(pictures / "T4 gearbox.jpg", "", lat, lon)
    assert (
        "words name tower 4 of Draw pivot (by the photo's position)" in good("import", farm, pictures).stdout
    )


@pytest.mark.parametrize(
    ("caption", "words"),
    [
        ("P1 T99 gearbox", "found 99; allowed: 1 to 7"),
        ("P77 T2 gearbox", "found pivot 77; allowed: 1 to"),
        ("T2 gearbox", "they name no pivot, and the photo has no position"),
        ("P1 T3 rut", "stays on the ground while the machine walks on"),
        ("Ditch lateral T3 gearbox", 'side of "Ditch lateral": not said; allowed: left or right'),
        ("Ditch left T9 gearbox", "found 9; allowed: 1 to 3, 1 nearest the cart"),
        ("M7 left T1 gearbox", "found lateral move 7; allowed: 1 to 1"),
        ("Ditch left outlet 4 nozzle", "those of Ditch lateral are not numbered, say a tower or span"),
        ("L43 leak", "no drip block is named or near"),
        ("V1 L43 leak", "lateral 43 of Elevator drip is named, but no station"),
        ("V2 L43 leak", "CONFLICT: valve V2 waters laterals 261 to 521, not 43"),
        ("", 'no position in the photo; add it with: flag add ... --photo "IMG_1.jpg"'),
    ],
)
def test_a_photo_that_nothing_places_is_named_and_not_half_in(
    farm: Path, pictures: Path, caption: str, words: str
) -> None:
    photo(pictures / "IMG_1.jpg", caption)
    line = line_of(good("import", farm, pictures), "IMG_1.jpg")
    assert line.startswith("IMG_1.jpg: refused; no position in the photo")
    assert words in line
    assert flags_of(farm) == []
    assert not (farm / "photos").exists()


def test_a_rut_by_a_tower_stays_where_it_is(farm: Path, pictures: Path) -> None:
    lat, lon = beside_tower(farm, "Windmill pivot", 5, 80.0)
    photo(pictures / "IMG_1.jpg", "P1 T5 rut", lat, lon)
    assert "rut stays on the ground: placed by the photo's position" in good("import", farm, pictures).stdout
    (flag,) = flags_of(farm)
    assert (flag["lat"], flag["lon"]) == (pytest.approx(lat, abs=3e-8), pytest.approx(lon, abs=3e-8))


def test_a_lateral_that_runs_past_the_photo_is_taken(farm: Path, pictures: Path) -> None:
    photo(pictures / "IMG_1.jpg", "V2 L490 leak", 36.75763, -101.47821)
    line = line_of(good("import", farm, pictures), "IMG_1.jpg")
    assert "words name lateral 490 of Elevator drip; station by the photo's position" in line
    (flag,) = flags_of(farm)
    assert (flag["kind"], flag["lateral"]) == ("leak", 490)
    # The same station as `where` gives for that place on the nearest lateral, four lines away.
    assert flag["station_ft"] == pytest.approx(1041, abs=1)


def test_a_lateral_far_from_the_photo_is_not(farm: Path, pictures: Path) -> None:
    photo(pictures / "IMG_1.jpg", "L43 fuga", 36.75763, -101.47821)
    line = line_of(good("import", farm, pictures), "IMG_1.jpg")
    assert "CONFLICT: lateral 43 of Elevator drip runs 2,2" in line
    assert line.endswith("the position was taken")
    assert flags_of(farm)[0]["lat"] == pytest.approx(36.75763, abs=3e-8)


def test_station_and_well_by_words(farm: Path, pictures: Path) -> None:
    photo(pictures / "IMG_1.jpg", "Elevator drip L43 st 600 leak")
    photo(pictures / "IMG_2.jpg", "Home well nido")
    good("import", farm, pictures)
    tape, well = flags_of(farm)
    assert (tape["lateral"], tape["station_ft"]) == (43, pytest.approx(600, abs=0.01))
    assert (well["system"], well["kind"]) == ("Home well", "nest")


def test_a_place_without_a_word_for_the_fault_is_something_else_on_it(farm: Path, pictures: Path) -> None:
    photo(pictures / "P1 T5.jpg")
    assert "other-machine (no word told the kind; the words name a place on it)" in (
        good("import", farm, pictures).stdout
    )


def test_the_stated_kind_stands(farm: Path, pictures: Path) -> None:
    photo(pictures / "P1 T5 gearbox.jpg")
    good("import", farm, pictures, "--kind", "tire")
    assert flags_of(farm)[0]["kind"] == "tire"


# --- kept, twice, together


def test_bringing_photos_in_twice_changes_nothing(farm: Path, pictures: Path) -> None:
    photo(pictures / "IMG_1.jpg", "gopher", 36.754, -101.495)
    photo(pictures / "IMG_2.jpg", "P1 T5 gearbox")
    good("import", farm, pictures)
    before = sqlite3.connect(farm / "season.db").execute("SELECT count(*) FROM event").fetchone()
    (pictures / "IMG_1.jpg").rename(pictures / "IMG_9.jpg")
    again = good("import", farm, pictures)
    assert again.stdout == "pictures: 2 points: 2 already there\n"
    after = sqlite3.connect(farm / "season.db").execute("SELECT count(*) FROM event").fetchone()
    assert before == after
    kept = sorted(path.name for path in (farm / "photos").iterdir())
    assert kept == sorted(f"{flag['id']}.jpg" for flag in flags_of(farm))


def test_a_lost_copy_is_kept_again(farm: Path, pictures: Path) -> None:
    photo(pictures / "IMG_1.jpg", "gopher", 36.754, -101.495)
    good("import", farm, pictures)
    (copy,) = (farm / "photos").iterdir()
    copy.unlink()
    assert "NOT in this farm's folder" in good("show", farm, 1).stdout
    good("import", farm, pictures)
    assert copy.is_file()


def test_a_dry_run_writes_nothing(farm: Path, pictures: Path) -> None:
    photo(pictures / "IMG_1.jpg", "gopher", 36.754, -101.495)
    good("import", farm, pictures, "--dry-run")
    assert not (farm / "season.db").exists()
    assert not (farm / "photos").exists()


def test_when_photos_cannot_be_kept_no_flag_comes_in(farm: Path, pictures: Path) -> None:
    photo(pictures / "IMG_1.jpg", "gopher", 36.754, -101.495)
    (farm / "photos").write_text("in the way")
    result = run("import", farm, pictures)
    assert result.exit_code == 1
    assert "allowed: a folder of its own for photos" in result.stderr
    assert flags_of(farm) == []


def test_a_photo_far_away_is_refused(farm: Path, pictures: Path) -> None:
    photo(pictures / "IMG_1.jpg", "gopher", -36.754, 101.495)
    result = run("import", farm, pictures)
    assert "km from the farm; allowed: within 50 km" in result.stdout
    assert (result.exit_code, "the only point refused; why stands above" in result.stderr) == (1, True)
    assert not (farm / "photos").exists()


def test_the_event_keeps_what_the_camera_said(farm: Path, pictures: Path) -> None:
    photo(pictures / "IMG_1.jpg", "P1 T5 gearbox", 36.754, -101.495)
    good("import", farm, pictures)
    with open_season(farm / "season.db") as season:
        (value,) = [event.value for event in season.events() if event.field == "photo"]
    assert value["lat"] == pytest.approx(36.754, abs=3e-8)
    assert (value["accuracy_m"], value["accuracy_kind"]) == (3.0, "rms")
    assert (value["name"], value["taken"]) == ("IMG_1.jpg", "2026-04-02T13:05:00.000000Z")


# --- photos of flags set by hand


def test_add_with_a_photo_that_has_no_position(farm: Path, pictures: Path) -> None:
    picture = photo(pictures / "IMG_1.jpg")
    place = ("--pivot", "Windmill pivot", "--tower", 5)
    result = good("add", farm, "--kind", "cover", *place, "--photo", picture)
    assert "flag 1: photo IMG_1.jpg kept" in result.stderr
    (flag,) = flags_of(farm)
    shown = good("show", farm, 1).stdout
    assert f"photo: photos/{flag['id']}.jpg (from IMG_1.jpg; taken 2026-04-02 13:05 UTC)" in shown
    assert f"photo = photos/{flag['id']}.jpg" in shown
    # Its folder, brought in later, knows it.
    assert good("import", farm, pictures).stdout == "pictures: 1 point: 1 already there\n"


def test_set_adds_photos_without_a_clash(farm: Path, pictures: Path) -> None:
    one, two = photo(pictures / "a1.jpg"), photo(pictures / "a2.jpg")
    good("add", farm, "--kind", "tire", "--pivot", "Windmill pivot", "--tower", 5, "--photo", one)
    good("set", farm, 1, "--photo", two, "--status", "fixed")
    again = good("set", farm, 1, "--photo", two)
    assert "photo a2.jpg was there already" in again.stderr
    shown = good("show", farm, 1).stdout
    assert shown.count("  photo: photos/") == 2
    assert "CLASH" not in shown
    assert flags_of(farm)[0]["status"] == "fixed"
    assert len(list((farm / "photos").iterdir())) == 2


def test_a_broken_photo_sets_no_flag(farm: Path, pictures: Path) -> None:
    (pictures / "a.jpg").write_bytes(b"no picture")
    place = ("--pivot", "Windmill pivot", "--tower", 5)
    result = run("add", farm, "--kind", "tire", *place, "--photo", pictures / "a.jpg")
    assert result.exit_code == 1
    assert "a.jpg: found no JPEG or PNG picture" in result.stderr
    assert not (farm / "season.db").exists()


def test_set_wants_something_to_change(farm: Path) -> None:
    result = run("set", farm, 1)
    assert result.exit_code == 2
    assert "nothing to change: give --status, --note, --kind, --class" in result.stderr


# --- other files


def test_kml_joins_the_list(farm: Path, tmp_path: Path) -> None:
    (tmp_path / "w.kml").write_text(
        "<kml><Placemark><name>tuza</name><Point><coordinates>-101.495,36.754</coordinates></Point>"
        "</Placemark></kml>"
    )
    assert 'burrow (guessed from "tuza" in the name)' in good("import", farm, tmp_path / "w.kml").stdout
    assert good("import", farm, tmp_path / "w.kml").stdout == "w.kml: 1 point: 1 already there\n"


def test_a_log_of_a_walk_points_to_survey(farm: Path, tmp_path: Path) -> None:
    (tmp_path / "w.log").write_text("$GPRMC,120000,A,3645.0,N,10130.0,W,0,0,020426,,*2D\n")
    result = run("import", farm, tmp_path / "w.log")
    assert result.exit_code == 1
    assert "positions of a walk are no flags" in result.stderr
    assert "ringrow survey" in result.stderr

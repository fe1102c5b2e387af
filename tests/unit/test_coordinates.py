"""Latitude and longitude as people type them and as phones show them."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ringrow.errors import PlaceError
from ringrow.farm.coordinates import parse_at

PLACE = (36.7512, -101.5034)
"""36 deg 45 min 4.32 sec north, 101 deg 30 min 12.24 sec west."""

DECIMAL = [
    "36.7512, -101.5034",
    "36.7512,-101.5034",
    "36.7512 -101.5034",
    "36.7512;-101.5034",
    "36.7512 ; -101.5034",
    "36.7512 / -101.5034",
    "36.7512 | -101.5034",
    "36.7512\t-101.5034",
    "36.7512,\n-101.5034",
    "  36.7512,   -101.5034  ",
    "(36.7512, -101.5034)",
    "[36.7512, -101.5034]",
    "+36.7512, -101.5034",
    "36.7512°, -101.5034°",
    "36.7512° -101.5034°",
    "lat: 36.7512, lon: -101.5034",
    "Lat 36.7512 Long -101.5034",
    "Latitude: 36.7512 Longitude: -101.5034",
    "latitude=36.7512 longitude=-101.5034",
    "geo:36.7512,-101.5034",
    "36.7512, \u2212101.5034",
    "36.7512, \u2013101.5034",
    "36.7512\u00a0\u2212101.5034",
    "\u200e36.7512, -101.5034\u200e",
    "36.75120000, -101.50340000",
]
LETTERS = [
    "36.7512 N, 101.5034 W",
    "36.7512N 101.5034W",
    "36.7512N, 101.5034W",
    "36.7512N,101.5034W",
    "36.7512° N 101.5034° W",
    "36.7512°N, 101.5034°W",
    "N 36.7512 W 101.5034",
    "N36.7512, W101.5034",
    "N36.7512° W101.5034°",
    "36.7512 n 101.5034 w",
    "36.7512 North, 101.5034 West",
    "north 36.7512 west 101.5034",
    "36.7512 N, -101.5034",
    "36.7512, 101.5034 W",
    "36.7512 N, -101.5034 W",
]
MINUTES = [
    "36° 45.072' N, 101° 30.204' W",
    "36°45.072'N 101°30.204'W",
    "36º45.072\u2032N, 101º30.204\u2032W",
    "36\u02da 45.072\u2019 N 101\u02da 30.204\u2019 W",
    "N 36° 45.072', W 101° 30.204'",
    "N36°45.072' W101°30.204'",
    "36 45.072 N, 101 30.204 W",
    "36 45.072, -101 30.204",
    "36 45.072 -101 30.204",
    "36° 45.072', -101° 30.204'",
    "36 deg 45.072 min N, 101 deg 30.204 min W",
    "36d45.072' N 101d30.204' W",
]
SECONDS = [
    "36°45'04.32\"N 101°30'12.24\"W",
    "36°45'4.32\" N, 101°30'12.24\" W",
    "36° 45\u2032 4.32\u2033 N, 101° 30\u2032 12.24\u2033 W",
    "36º45\u20194.32\u201dN 101º30\u201912.24\u201dW",
    "36°45'4.32''N 101°30'12.24''W",
    "36° 45' 4.32'' N, 101° 30' 12.24'' W",
    "36 45 4.32 N, 101 30 12.24 W",
    "36 45 4.32 -101 30 12.24",
    "36 45 4.32, -101 30 12.24",
    "N 36 45 4.32 W 101 30 12.24",
    "36°45'04.32\"-101°30'12.24\"",
    "36 deg 45 min 4.32 sec N, 101 deg 30 min 12.24 sec W",
    "36 degrees 45 minutes 4.32 seconds north, 101 degrees 30 minutes 12.24 seconds west",
    "36d 45' 4.32\" N, 101d 30' 12.24\" W",
]
DECIMAL_COMMA = [
    "36,7512; -101,5034",
    "36,7512 -101,5034",
    "36,7512, -101,5034",
    "36,7512,-101,5034",
    "36,7512° N, 101,5034° W",
    "36,7512N 101,5034W",
    "36°45,072' N 101°30,204' W",
    "36°45'4,32\" N 101°30'12,24\" W",
]


@pytest.mark.parametrize("text", [*DECIMAL, *LETTERS, *MINUTES, *SECONDS, *DECIMAL_COMMA])
def test_ways_of_writing_one_place(text: str) -> None:
    assert parse_at(text) == pytest.approx(PLACE, abs=1e-9)


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("-36.5, 170.25", (-36.5, 170.25)),
        ("-36.5 -70.25", (-36.5, -70.25)),
        ("36.5 S, 170.25 E", (-36.5, 170.25)),
        ("-36.5 S, 170.25 E", (-36.5, 170.25)),
        ("36 30 S 170 15 E", (-36.5, 170.25)),
        ("-36 30 0, 170 15 0", (-36.5, 170.25)),
        ("0, 0", (0.0, 0.0)),
        ("-0 30, -0 15", (-0.5, -0.25)),
        ("0 30 S, 0 15 W", (-0.5, -0.25)),
        ("36, 101", (36.0, 101.0)),
        ("36,101", (36.0, 101.0)),
        ("36 101", (36.0, 101.0)),
        ("90, 180", (90.0, 180.0)),
        ("-90, -180", (-90.0, -180.0)),
        ("36 44 60.0, -101 29 60.0", (36.75, -101.5)),
        ("36 59 59.999, -101 0 0", (36 + 59 / 60 + 59.999 / 3600, -101.0)),
        ("\uff13\uff16.5, -101", (36.5, -101.0)),
    ],
)
def test_other_places(text: str, place: tuple[float, float]) -> None:
    assert parse_at(text) == pytest.approx(place, abs=1e-9)


UNREADABLE = [
    "", "   ", "hello", "north", "36", "36 45 4", "36.75, -101.5, 3", "36..5, 10", "1e2, 3", "nan, nan",
    "36.75 N S, 101 W", "inf, 1", "36,101,5", "36.75, ", ", 101", "36.75; 101; 5", "36 45 4 2 1 1 1 1",
    "36' 45, 101", "36.75 N 36.75 N 101 W", "'; drop table", "36.75°°, 101",
]  # fmt: skip


@pytest.mark.parametrize("text", UNREADABLE)
def test_what_cannot_be_read_shows_the_ways_that_can(text: str) -> None:
    with pytest.raises(
        PlaceError, match=r'^place: found ".*"; allowed: latitude, then longitude: 36\.7512, -101'
    ):
        parse_at(text)


def test_only_one_number_is_said() -> None:
    with pytest.raises(PlaceError, match=r"only one number was given$"):
        parse_at("36.7512")


def test_too_many_commas_are_explained() -> None:
    with pytest.raises(PlaceError, match=r"write decimals with a point, or part the two with a semicolon$"):
        parse_at("36,101,5")


@pytest.mark.parametrize("text", ["36.7512 N 101.5034 O", "36.7512 norte, 101.5034 oeste"])
def test_west_in_other_languages_is_explained(text: str) -> None:
    with pytest.raises(PlaceError, match=r"write W for west$"):
        parse_at(text)


@pytest.mark.parametrize(
    "text", ["101.5034 W, 36.7512 N", "W 101.5034 N 36.7512", "36.75E, 101", "36 N, 101 S"]
)
def test_letters_in_the_wrong_order_are_asked_about(text: str) -> None:
    with pytest.raises(PlaceError, match=r"latitude \(N or S\) comes first; are the two swapped\?"):
        parse_at(text)


def test_swapped_numbers_are_asked_about_with_the_right_order() -> None:
    with pytest.raises(PlaceError, match=r'are the two swapped\? Try "36\.7512, -101\.5034"'):
        parse_at("-101.5034, 36.7512")


@pytest.mark.parametrize("text", ["95, 100", "36.7, 181", "-200, 10", "36.7 N, 190 W", "1000000, 5"])
def test_out_of_range(text: str) -> None:
    with pytest.raises(PlaceError, match="allowed: latitude -90 to 90, then longitude -180 to 180"):
        parse_at(text)


@pytest.mark.parametrize("text", ["36 60.1, -1 30", "36 60 0, -1 30 0", "36.5 30, -1 30", "36 4.5 1, -1 3 2"])
def test_minutes_and_seconds_that_cannot_be(text: str) -> None:
    with pytest.raises(PlaceError, match="minutes and seconds below 60, and decimals in the last"):
        parse_at(text)


@pytest.mark.parametrize("text", ["-36.7 N, 101 W", "36.7 N, -101 E"])
def test_a_minus_against_a_letter(text: str) -> None:
    with pytest.raises(PlaceError, match=r"a minus and [NE] contradict each other; leave one out"):
        parse_at(text)


def test_two_letters_on_one_number() -> None:
    with pytest.raises(PlaceError, match="give each number one letter"):
        parse_at("N 36.7 N; W 101")


def test_control_characters_do_not_reach_the_terminal() -> None:
    with pytest.raises(PlaceError) as refused:
        parse_at("\x1b[31m36.7\x07")
    assert str(refused.value).isprintable()


def test_a_long_text_is_cut_in_the_message() -> None:
    with pytest.raises(PlaceError) as refused:
        parse_at("x" * 10_000)
    assert len(str(refused.value)) < 400


def written(value: float, letters: str, style: str) -> str:
    """One angle the way a phone would show it, computed here from the definition of minutes and seconds."""
    letter = letters[value < 0]
    whole, rest = divmod(abs(value) * 3600, 3600)
    minutes, seconds = divmod(rest, 60)
    return {
        "decimal": f"{value:.9f}",
        "letter": f"{abs(value):.9f}° {letter}",
        "minutes": f"{int(whole)}° {rest / 60:.7f}' {letter}",
        "seconds": f"{int(whole)}°{int(minutes)}'{seconds:.5f}\" {letter}",
        "bare": f"{'-' * (value < 0)}{int(whole)} {int(minutes)} {seconds:.5f}",
        "comma": f"{value:.9f}".replace(".", ","),
    }[style]


@given(
    lat=st.floats(-89.9, 89.9),
    lon=st.floats(-179.9, 179.9),
    style=st.sampled_from(["decimal", "letter", "minutes", "seconds", "bare", "comma"]),
    between=st.sampled_from([", ", "; ", " ", "  "]),
)
def test_what_is_written_is_read_back(lat: float, lon: float, style: str, between: str) -> None:
    """Within 1e-7 degrees: a hundredth of a metre, less than any style above rounds away."""
    text = between.join((written(lat, "NS", style), written(lon, "EW", style)))
    assert parse_at(text) == pytest.approx((lat, lon), abs=1e-7)


@given(st.text(max_size=60))
def test_any_text_is_read_or_refused_in_one_line(text: str) -> None:
    message = ""
    try:
        lat, lon = parse_at(text)
    except PlaceError as refused:
        message, lat, lon = str(refused), 0.0, 0.0
    assert "\n" not in message
    assert abs(lat) <= 90
    assert abs(lon) <= 180

"""Base plates: frames refuse what cannot be, units are exact, errors say file, key, found, allowed, hint."""

from __future__ import annotations

import pytest
import shapely

from ringrow import units
from ringrow.errors import (
    DomainError,
    FarmFileError,
    Fault,
    FileError,
    GeometryError,
    PlaceError,
    RingrowError,
    SeasonError,
)
from ringrow.frame import Frame, distance_azimuth, geodesic_area_m2, to_lonlat_from_crs
from ringrow.geometry.angles import azimuth_deg, bearing_of_word, compass_point


@pytest.mark.parametrize(
    ("lon", "lat"), [(0.0, 89.5), (181.0, 0.0), (float("nan"), 10.0), (0.0, float("nan"))]
)
def test_frame_refuses_an_origin_off_the_globe_or_at_a_pole(lon: float, lat: float) -> None:
    with pytest.raises(PlaceError, match=r"frame origin: found latitude .*allowed: latitude -89 to 89"):
        Frame(lon=lon, lat=lat)


def test_frame_about_an_empty_shape_is_refused() -> None:
    with pytest.raises(GeometryError, match="frame: found an empty shape"):
        Frame.about(shapely.Polygon())


def test_frame_stands_at_the_middle_of_the_bounding_box() -> None:
    frame = Frame.about(shapely.box(-98.02, 41.0, -98.0, 41.01))
    assert (frame.lon, frame.lat) == pytest.approx((-98.01, 41.005), abs=1e-12)


def test_frame_keeps_the_shape_it_is_given() -> None:
    shape = shapely.box(-98.02, 41.0, -98.0, 41.01)
    before = shape.wkt
    Frame.about(shape).project(shape)
    assert shape.wkt == before


def test_unknown_coordinate_system_is_refused_by_name() -> None:
    with pytest.raises(
        GeometryError, match=r"coordinate system: found 'EPSG:999999'; allowed: one that PROJ"
    ):
        to_lonlat_from_crs([shapely.Point(0, 0)], "EPSG:999999")


def test_shapes_of_another_system_come_back_longitude_first() -> None:
    """UTM 14N at its central meridian: easting 500,000 m is 99 W by the definition of the zone."""
    point = to_lonlat_from_crs([shapely.Point(500_000, 4_500_000)], "EPSG:32614")[0]
    assert point.x == pytest.approx(-99.0, abs=1e-9)
    assert 40.6 < point.y < 40.7


def test_a_hole_is_taken_off_the_geodesic_area_whatever_way_it_is_wound() -> None:
    outer, hole = shapely.box(-98.02, 41.0, -98.0, 41.02), shapely.box(-98.015, 41.005, -98.005, 41.015)
    with_hole = shapely.Polygon(outer.exterior.coords, [hole.exterior.coords])
    wound_back = shapely.Polygon(outer.exterior.coords, [hole.exterior.coords[::-1]])
    expected = geodesic_area_m2(outer) - geodesic_area_m2(hole)
    assert geodesic_area_m2(with_hole) == pytest.approx(expected, rel=1e-12)
    assert geodesic_area_m2(wound_back) == pytest.approx(expected, rel=1e-12)


def test_azimuth_due_west_is_270() -> None:
    assert distance_azimuth(-98.0, 0.0, -98.1, 0.0)[1] == pytest.approx(270.0)


def test_units_are_the_exact_definitions() -> None:
    """NIST SP 811, appendix B: foot 0.3048 m, inch 0.0254 m, gallon 3.785411784 L, exact."""
    assert (units.FOOT_M, units.INCH_M, units.GALLON_L) == (0.3048, 0.0254, 3.785411784)
    assert pytest.approx(43_560 * 0.3048**2, abs=1e-12) == units.ACRE_M2
    assert pytest.approx(0.45359237 * 9.80665 / 0.0254**2 / 1000, rel=1e-15) == units.PSI_KPA


@pytest.mark.parametrize(
    ("us_key", "metric_key"),
    [
        ("acres", "ha"),
        ("overspray_outside_acres", "overspray_outside_ha"),
        ("distance_ft", "distance_m"),
        ("offset_in", "offset_mm"),
        ("rate_in_per_h", "rate_mm_per_h"),
        ("in_per_day", "mm_per_day"),
        ("gpm_per_acre", "lps_per_ha"),
        ("expected_gpm", "expected_lps"),
        ("volume_gal", "volume_l"),
        ("at_pressure_psi", "at_pressure_kpa"),
        ("azimuth_deg", "azimuth_deg"),
        ("drop_in_use", "drop_in_use"),
        ("main", "main"),
    ],
)
def test_keys_change_with_the_units(us_key: str, metric_key: str) -> None:
    assert units.METRIC.key(us_key) == metric_key
    assert units.US.key(us_key) == us_key


def test_units_of_another_name_are_refused() -> None:
    with pytest.raises(DomainError, match='units: found "imperial"; allowed: "us" or "metric"'):
        units.get_units("imperial")


def test_a_quarter_section_is_160_acres() -> None:
    assert units.US.from_m2((2640 * units.FOOT_M) ** 2) == pytest.approx(160.0, rel=1e-14)
    assert units.METRIC.from_m2(1e6) == 100.0
    assert units.US.from_m_small(1.524) == pytest.approx(60.0)


@pytest.mark.parametrize(
    ("error", "built_in"),
    [
        (PlaceError, ValueError),
        (GeometryError, ValueError),
        (DomainError, ValueError),
        (FileError, OSError),
        (SeasonError, RuntimeError),
        (FarmFileError, ValueError),
    ],
)
def test_errors_are_ours_and_built_in(error: type[Exception], built_in: type[Exception]) -> None:
    assert issubclass(error, RingrowError)
    assert issubclass(error, built_in)


def test_a_fault_reads_as_one_sentence() -> None:
    fault = Fault(
        file="fields/a.toml", key="pivot[1].span", found="an unknown key", allowed="spans", hint="write spans"
    )
    assert str(fault) == "fields/a.toml: pivot[1].span: found an unknown key; allowed: spans; write spans"


def test_a_fault_of_a_whole_file_names_no_key() -> None:
    fault = Fault(file="farm.toml", key="", found="nothing", allowed="a file")
    assert str(fault) == "farm.toml: found nothing; allowed: a file"


def test_a_fault_of_names_without_end_can_still_be_read() -> None:
    fault = Fault(file="farm.toml", key="9" * 5_000, found="x" * 5_000, allowed="y" * 5_000, hint="z" * 5_000)
    assert len(str(fault)) < 2_000
    for part in ("farm.toml: 9999", "9…: found xxx", "x…; allowed: yyy", "y…; zzz"):
        assert part in str(fault)
    assert fault.key == "9" * 5_000


def test_a_farm_error_says_every_fault() -> None:
    faults = tuple(Fault(file=f"fields/{n}.toml", key="", found="x", allowed="y") for n in range(3))
    with pytest.raises(FarmFileError, match=r"(?s)fields/0\.toml.*fields/1\.toml.*fields/2\.toml") as caught:
        raise FarmFileError(faults)
    assert caught.value.faults == faults


def test_bearings_of_the_four_sides() -> None:
    assert azimuth_deg([0, 1, 0, -1], [1, 0, -1, 0]).tolist() == [0, 90, 180, 270]


def test_a_bearing_a_hair_west_of_north_stays_below_360() -> None:
    assert float(azimuth_deg(-1e-300, 1.0)) < 360.0


@pytest.mark.parametrize(
    ("azimuth", "point"), [(22.4, "N"), (22.6, "NE"), (337.6, "N"), (180, "S"), (-45, "NW")]
)
def test_compass_points_change_half_way(azimuth: float, point: str) -> None:
    assert compass_point(azimuth) == point


def test_a_word_that_is_no_compass_point_is_refused_with_the_eight() -> None:
    with pytest.raises(DomainError, match='compass word: found "up"; allowed: north, northeast, east'):
        bearing_of_word("up")

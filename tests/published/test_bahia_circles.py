"""Real centre-pivot circles drawn as polygons, recovered by `survey circle`.

Source: Oldoni et al., LEM+ data set 2019-20, western Bahia (CC-BY-4.0): 98 fields, of which ids 3,
4 and 23 are circles. The data set prints no radius; what is held here is that the circle lies on
the polygon's own edge (geodesics), encloses its own area, and that the stretch is that of a circle
drawn in degrees. The half axes 558.07 x 548.75 m of id 3 are derived from the polygon's extent.
"""

from __future__ import annotations

import json
import math
from typing import TYPE_CHECKING

import fiona
import numpy as np
import pytest
from click.testing import CliRunner
from geographiclib.geodesic import Geodesic

from ringrow.cli.main import cli

if TYPE_CHECKING:
    from pathlib import Path

WHOLE = ("3", "23")


def corners(outside_data: Path, wanted: str) -> list[tuple[float, float]]:
    with fiona.open(outside_data / "bahia_fields.gpkg") as source:
        (shape,) = [row["geometry"] for row in source if row["properties"]["id"] == wanted]
    rings = shape["coordinates"][0] if shape["type"] == "MultiPolygon" else shape["coordinates"]
    return [(lon, lat) for lon, lat, *_ in rings[0]]


def surveyed(outside_data: Path, wanted: str) -> dict:
    file = str(outside_data / "bahia_fields.gpkg")
    result = CliRunner().invoke(
        cli, ["survey", "circle", file, "--where", f"id={wanted}", "--units", "metric", "--json"]
    )
    assert result.exit_code == 0, result.output
    (circle,) = json.loads(result.stdout)["circles"]
    return circle


@pytest.mark.parametrize("wanted", ["3", "23", "4"])
def test_circle_lies_on_the_drawn_edge(outside_data: Path, wanted: str) -> None:
    """Median distance of the corners from the centre, by geodesics, is the radius within 0.3 %."""
    circle = surveyed(outside_data, wanted)
    away = [
        Geodesic.WGS84.Inverse(circle["lat"], circle["lon"], lat, lon)["s12"]
        for lon, lat in corners(outside_data, wanted)
    ]
    assert circle["radius_m"] == pytest.approx(np.median(away), rel=0.003)
    assert circle["radius_se_m"] < 0.005 * circle["radius_m"]


@pytest.mark.parametrize("wanted", WHOLE)
def test_whole_circles_hold_their_polygons_area(outside_data: Path, wanted: str) -> None:
    """Area of the ellipse against the geodesic area of the polygon: within 0.03 %."""
    circle = surveyed(outside_data, wanted)
    polygon = Geodesic.WGS84.Polygon()
    for lon, lat in corners(outside_data, wanted)[:-1]:
        polygon.AddPoint(lat, lon)
    area = abs(polygon.Compute()[2])
    assert math.pi * circle["semi_major_m"] * circle["semi_minor_m"] == pytest.approx(area, rel=3e-4)
    assert circle["radius_m"] == pytest.approx(math.sqrt(area / math.pi), rel=3e-4)


def test_half_axes_of_id_3(outside_data: Path) -> None:
    """558.07 by 548.75 m; half the polygon's extent north-south and east-west, by geodesics."""
    circle = surveyed(outside_data, "3")
    assert (circle["semi_major_m"], circle["semi_minor_m"]) == pytest.approx((558.07, 548.75), abs=0.005)
    lon, lat = np.array(corners(outside_data, "3")).T
    middle = (float(lat.max() + lat.min()) / 2, float(lon.max() + lon.min()) / 2)
    tall = Geodesic.WGS84.Inverse(lat.min(), middle[1], lat.max(), middle[1])["s12"]
    wide = Geodesic.WGS84.Inverse(middle[0], lon.min(), middle[0], lon.max())["s12"]
    assert (circle["semi_major_m"], circle["semi_minor_m"]) == pytest.approx((tall / 2, wide / 2), abs=0.05)


@pytest.mark.parametrize("wanted", WHOLE)
def test_the_stretch_is_said_in_words(outside_data: Path, wanted: str) -> None:
    """1.7 % longer north-south, as a circle drawn in degrees is at 12 deg south (1.6 %)."""
    file = str(outside_data / "bahia_fields.gpkg")
    result = CliRunner().invoke(cli, ["survey", "circle", file, "--where", f"id={wanted}"])
    assert "# longer north-south by 1.7 %: drawn in degrees?" in result.stdout.splitlines()


def test_of_98_fields_the_three_circles_are_found(outside_data: Path) -> None:
    result = CliRunner().invoke(cli, ["survey", "circle", str(outside_data / "bahia_fields.gpkg")])
    assert result.exit_code == 0
    assert "3 machines: their centres lie too far apart to be one" in result.stderr
    assert [line for line in result.stdout.splitlines() if line.startswith("# from")] == [
        '# from bahia_fields.gpkg: feature 4 "3"',
        '# from bahia_fields.gpkg: feature 5 "4"',
        '# from bahia_fields.gpkg: feature 24 "23"',
    ]

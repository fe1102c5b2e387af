"""Aerial photos under the map: the right ground at the right place, small, and honest about gaps."""

from __future__ import annotations

import io
import json
import math
import re
import sys
from typing import TYPE_CHECKING

import numpy as np
import pytest
import rasterio
from click.testing import CliRunner
from PIL import Image
from rasterio.transform import Affine, from_origin
from rasterio.warp import transform as warp_points

from ringrow.cli.main import cli
from ringrow.errors import FileError, RingrowError
from ringrow.handoff.map.photo import FieldPhoto, field_photos

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

FIELD = [-101.508, 36.746, -101.497, 36.755]
UTM_14 = "EPSG:32614"

SITE_GRID = 'LOCAL_CS["site",LOCAL_DATUM["peg",0],UNIT["metre",1],AXIS["x",EAST],AXIS["y",NORTH]]'


def pixels(photo: FieldPhoto) -> NDArray[np.uint8]:
    return np.asarray(Image.open(io.BytesIO(photo.webp)).convert("RGBA"))


def at(photo: FieldPhoto, lon: float, lat: float) -> tuple[float, float]:
    """Column and row of a place in a picture, by the textbook formula of web Mercator."""
    west, south, east, north = photo.bounds
    height, width = pixels(photo).shape[:2]
    up = [math.log(math.tan(math.pi / 4 + math.radians(value) / 2)) for value in (south, lat, north)]
    return (lon - west) / (east - west) * width, (up[2] - up[1]) / (up[2] - up[0]) * height


def write_photo(path: Path, values: NDArray, transform: Affine, *, crs: str | None = UTM_14, **more) -> Path:
    count, height, width = values.shape
    profile = {"driver": "GTiff", "width": width, "height": height, "count": count, "dtype": values.dtype}
    with rasterio.open(path, "w", crs=crs, transform=transform, **profile, **more) as file:
        file.write(values)
    return path


def utm_corner() -> tuple[float, float]:
    (x,), (y,) = warp_points("EPSG:4326", UTM_14, [FIELD[0]], [FIELD[3]])
    return x - 300, y + 300


@pytest.mark.parametrize("turned_deg", [0.0, 17.0])
def test_marks_on_the_ground_lie_where_they_are_also_in_a_turned_photo(tmp_path, turned_deg) -> None:
    values = np.full((3, 900, 900), 40, dtype=np.uint8)
    marks = [(300, 300), (300, 620), (640, 330), (560, 560)]
    for row, column in marks:
        values[:, row - 4 : row + 5, column - 4 : column + 5] = 250
    transform = Affine.translation(*utm_corner()) @ Affine.rotation(turned_deg) @ Affine.scale(2, -2)
    path = write_photo(tmp_path / "photo.tif", values, transform)
    (photo,) = field_photos(path, {"Windmill quarter": FIELD})
    shown = pixels(photo)[:, :, 0].astype(float)
    found = 0
    for row, column in marks:
        x, y = rasterio.transform.xy(transform, row, column)
        (lon,), (lat,) = warp_points(UTM_14, "EPSG:4326", [x], [y])
        c, r = at(photo, lon, lat)
        if not (12 < c < shown.shape[1] - 12 and 12 < r < shown.shape[0] - 12):
            continue
        patch = shown[int(r) - 12 : int(r) + 13, int(c) - 12 : int(c) + 13] > 145
        rows, columns = np.nonzero(patch)
        assert columns.mean() + int(c) - 12 + 0.5 == pytest.approx(c, abs=0.8)
        assert rows.mean() + int(r) - 12 + 0.5 == pytest.approx(r, abs=0.8)
        found += 1
    assert found >= 2
    assert photo.pixel_m == pytest.approx(2.0, rel=0.02)


def test_real_photo_gives_the_same_ground_as_the_file_itself(outside_data) -> None:
    """Public-domain aerial photo of quarter-section country, 5 m, UTM zone 14 (see its README)."""
    path = outside_data / "aerial_2018.tif"
    bounds = [-99.1600, 47.0170, -99.1494, 47.0242]
    (photo,) = field_photos(path, {"Lake quarter": bounds})
    shown = pixels(photo)
    rng = np.random.default_rng(5)
    lon, lat = rng.uniform(bounds[0], bounds[2], 400), rng.uniform(bounds[1], bounds[3], 400)
    with rasterio.open(path) as file:
        x, y = warp_points("EPSG:4326", file.crs, lon, lat)
        band = file.read(2).astype(float)
        rows, columns = (np.array(part) for part in rasterio.transform.rowcol(file.transform, x, y))
    places = [at(photo, *place) for place in zip(lon, lat, strict=True)]
    ours = np.array([shown[int(r) - 1 : int(r) + 2, int(c) - 1 : int(c) + 2, 1].mean() for c, r in places])

    def likeness(down: int, across: int) -> float:
        blocks = [
            band[r - 1 : r + 2, c - 1 : c + 2] for r, c in zip(rows + down, columns + across, strict=True)
        ]
        return float(np.corrcoef(ours, [block.mean() for block in blocks])[0, 1])

    shifts = [(down, across) for down in (-1, 0, 1) for across in (-1, 0, 1)]
    # Pixel by pixel a small picture differs; lain askew by one pixel it would be less like the ground.
    assert max(shifts, key=lambda shift: likeness(*shift)) == (0, 0)
    assert likeness(0, 0) > 0.95


def test_ground_beyond_the_photo_is_see_through(tmp_path) -> None:
    values = np.full((3, 400, 400), 90, dtype=np.uint8)
    path = write_photo(tmp_path / "photo.tif", values, from_origin(*utm_corner(), 2, 2))
    (photo,) = field_photos(path, {"Windmill quarter": FIELD, "Far": [-101.3, 36.7, -101.29, 36.71]})
    assert 0.1 < photo.covered < 0.9
    assert (pixels(photo)[:, :, 3] == 255).mean() == pytest.approx(photo.covered, abs=0.01)


def test_pictures_get_coarser_until_they_fit(tmp_path) -> None:
    noise = np.random.default_rng(1).integers(0, 255, (3, 1200, 1200)).astype(np.uint8)
    path = write_photo(tmp_path / "photo.tif", noise, from_origin(*utm_corner(), 1, 1))
    (free,) = field_photos(path, {"a": FIELD})
    (small,) = field_photos(path, {"a": FIELD}, most_bytes=len(free.webp) // 3)
    assert len(small.webp) <= len(free.webp) // 3
    assert small.pixel_m > 1.3 * free.pixel_m
    with pytest.raises(FileError, match="however coarse"):
        field_photos(path, {"a": FIELD}, most_bytes=50)


def test_sixteen_bits_and_grey_are_spread_over_what_a_screen_shows(tmp_path) -> None:
    values = np.linspace(300, 2300, 900 * 900).reshape(1, 900, 900).astype(np.uint16)
    path = write_photo(tmp_path / "photo.tif", values, from_origin(*utm_corner(), 2, 2))
    (photo,) = field_photos(path, {"a": FIELD})
    shown = pixels(photo)
    assert shown[:, :, 0].max() - shown[:, :, 0].min() > 120
    assert np.abs(shown[:, :, 0].astype(int) - shown[:, :, 2]).max() < 12


def broken(tmp_path: Path, what: str) -> Path:
    path = tmp_path / "photo.tif"
    grid = from_origin(*utm_corner(), 2, 2)
    byte = np.full((3, 60, 60), 90, dtype=np.uint8)
    if what == "text":
        path.write_bytes(b"no picture")
    elif what == "cut":
        write_photo(path, np.random.default_rng(2).integers(0, 255, (3, 600, 600)).astype(np.uint8), grid)
        path.write_bytes(path.read_bytes()[:400_000])
    elif what == "virtual":
        other = write_photo(tmp_path / "private.tif", byte, grid)
        path.write_text(
            f'<VRTDataset rasterXSize="60" rasterYSize="60"><SRS>{UTM_14}</SRS>'
            f"<GeoTransform>{', '.join(map(str, grid.to_gdal()))}</GeoTransform>"
            f'<VRTRasterBand dataType="Byte" band="1"><SimpleSource><SourceFilename>{other}</SourceFilename>'
            "<SourceBand>1</SourceBand></SimpleSource></VRTRasterBand></VRTDataset>"
        )
        assert rasterio.open(path).read().max() == 90, "no virtual raster"
    elif what == "screenshot":
        Image.fromarray(byte.transpose(1, 2, 0)).save(path)
    elif what == "elsewhere":
        write_photo(path, byte, from_origin(300_000, 5_000_000, 2, 2))
    elif what == "elevation":
        write_photo(path, np.full((1, 60, 60), 1.5, dtype=np.float32), grid)
    elif what == "site grid":
        # A place on a builder's plan says nothing of the globe; fuzzing found that it ended the program.
        write_photo(path, byte, grid, crs=SITE_GRID)
    elif what == "two bands":
        write_photo(path, byte[:2], grid)
    return path


@pytest.mark.filterwarnings("ignore:Dataset has no geotransform")
@pytest.mark.parametrize(
    ("what", "says"),
    [
        ("missing", "no picture the raster library can read"),
        ("text", "no picture the raster library can read"),
        ("cut", "no picture the raster library can read"),
        ("virtual", "no picture the raster library can read"),
        ("screenshot", "without a place on the globe"),
        ("elsewhere", "shows none of the farm's fields"),
        ("elevation", "elevations are no photo"),
        ("two bands", "found 2 bands"),
        ("site grid", "no picture the raster library can read"),
    ],
)
def test_what_is_no_photo_of_the_farm_is_refused_and_no_map_written(
    tmp_path, sample_farm, what, says
) -> None:
    path = broken(tmp_path, what)
    with pytest.raises(FileError, match=says):
        field_photos(path, {"a": FIELD})
    if what in ("missing", "elsewhere"):
        target = tmp_path / "map.html"
        done = CliRunner().invoke(cli, ["map", str(sample_farm), "-o", str(target), "--photo", str(path)])
        assert (done.exit_code, target.exists()) == (1, False)
        assert says in done.output
        assert "Traceback" not in done.output


def test_without_the_extra_the_message_says_how_to_get_it(tmp_path, monkeypatch) -> None:
    monkeypatch.setitem(sys.modules, "rasterio", None)
    with pytest.raises(RingrowError, match=r'pip install "ringrow\[imagery\]"'):
        field_photos(tmp_path / "photo.tif", {"a": FIELD})


def test_map_says_which_fields_the_photo_shows(tmp_path, sample_farm) -> None:
    values = np.full((3, 500, 500), 90, dtype=np.uint8)
    path = write_photo(tmp_path / "photo.tif", values, from_origin(*utm_corner(), 2, 2))
    target = tmp_path / "map.html"
    done = CliRunner().invoke(cli, ["map", str(sample_farm), "-o", str(target), "--photo", str(path)])
    assert done.exit_code == 0, done.output
    assert re.search(r"Aerial photo of \d of 10 fields: a pixel is 2\.0 m", done.output)
    assert "The photo does not show: " in done.output
    data = json.loads(
        re.search(
            r'<script type="application/json" id="data">(.*?)</script>', target.read_text("utf-8")
        ).group(1)
    )
    assert data["photos"]
    assert all(photo["url"].startswith("data:image/webp;base64,") for photo in data["photos"])
    assert "photo" in {layer["key"] for layer in data["layers"]}

"""An aerial photo under the map: clipped to each field, warped to the map's projection, made small.

The photo is warped, not pinned by its corners: a picture in a transverse Mercator grid pinned
that way would lie some metres askew at the edge of its zone.
"""

from __future__ import annotations

import io
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from ringrow.errors import FileError, RingrowError, shortened
from ringrow.handoff.feature_group import to_lonlat

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from numpy.typing import NDArray

    from ringrow.coverage.field import FieldLayout

MOST_BYTES = 8_000_000
"""Most that the pictures of one map file may take together, before they are put into text [bytes]."""

FINEST_M = 0.5
"""Finest pixel that is kept: a tower's track shows, a sprinkler would not [m]."""

MOST_PIXELS = 2_400
"""Most pixels along one side of a field's picture."""

MARGIN = 0.08
"""How far a picture runs on past its field on each side, as a part of the field's width."""

_RADIUS_M = 6_378_137.0
_QUALITY = 62
_TRIES = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldPhoto:
    """The part of an aerial photo that lies on a field.

    Parameters
    ----------
    field : str
        The field.
    bounds : tuple of float
        West, south, east and north edge of the picture, which is in web Mercator. [deg]
    pixel_m : float
        Ground that one pixel covers from west to east. [m]
    webp : bytes
        The picture as WebP, see-through where the photo has nothing.
    covered : float
        Part of the picture that the photo fills, 0 to 1. [-]
    """

    field: str
    bounds: tuple[float, float, float, float]
    pixel_m: float
    webp: bytes
    covered: float


def farm_photos(path: Path, layouts: Sequence[FieldLayout]) -> list[FieldPhoto]:
    """Return the picture of each field of a farm that an aerial photo shows.

    Parameters
    ----------
    path : Path
        A GeoTIFF.
    layouts : sequence of FieldLayout
        The farm's fields, laid out.

    Returns
    -------
    list of FieldPhoto
        As `field_photos` returns them.
    """
    fields = {
        layout.field.name: to_lonlat(layout.field.frame, layout.field.boundary)[0].bounds
        for layout in layouts
    }
    return field_photos(path, fields)


def photo_remarks(photos: Sequence[FieldPhoto], layouts: Sequence[FieldLayout]) -> list[str]:
    """Return what to say of the pictures that were put under a map.

    Parameters
    ----------
    photos : sequence of FieldPhoto
        The pictures.
    layouts : sequence of FieldLayout
        The farm's fields.

    Returns
    -------
    list of str
        How many, how fine and how big; which fields the photo does not show, or only in part.
    """
    pixels = [photo.pixel_m for photo in photos]
    size = sum(len(photo.webp) for photo in photos) / 1000
    fine = (
        f"{min(pixels):.1f}"
        if min(pixels) > 0.95 * max(pixels)
        else f"{min(pixels):.1f} to {max(pixels):.1f}"
    )
    said = [f"Aerial photo of {len(photos)} of {len(layouts)} fields: a pixel is {fine} m, {size:,.0f} kB."]
    shown = {photo.field for photo in photos}
    missing = [layout.field.name for layout in layouts if layout.field.name not in shown]
    partly = [photo.field for photo in photos if photo.covered < 1.0]
    if missing:
        said.append(f"The photo does not show: {', '.join(missing)}.")
    if partly:
        said.append(f"It ends within the picture of: {', '.join(partly)}.")
    return said


def field_photos(
    path: Path,
    fields: Mapping[str, Sequence[float]],
    *,
    most_bytes: int = MOST_BYTES,
) -> list[FieldPhoto]:
    """Return the picture of each field that an aerial photo shows.

    Parameters
    ----------
    path : Path
        A GeoTIFF; what else the raster library reads is refused.
    fields : mapping of str to sequence of float
        West, south, east and north edge of each field. [deg]
    most_bytes : int, default 8 000 000
        Most that all the pictures may take together; they get coarser until they fit. [bytes]

    Returns
    -------
    list of FieldPhoto
        In the order of `fields`; those that the photo does not reach are left out.

    Raises
    ------
    FileError
        If the file cannot be read, has no place on the globe, shows no field, or is no photo.
    RingrowError
        If the raster library is not installed.
    """
    rasterio = _library()
    try:
        # Never by content: a text that calls itself a virtual raster would bring other files in.
        with rasterio.open(path, driver="GTiff") as photo:
            _check(path, photo)
            stretch = _stretch(photo)
            found = _fitting(photo, fields, stretch=stretch, most_bytes=most_bytes)
    # What goes wrong between coordinate systems comes as an error that the library keeps for itself.
    except (rasterio.errors.RasterioError, rasterio._err.CPLE_BaseError, OSError) as error:
        message = (
            f"{path}: found no picture the raster library can read ({shortened(error)}); allowed: a GeoTIFF"
        )
        raise FileError(message) from error
    if not found:
        message = (
            f"{path}: found a photo that shows none of the farm's fields; "
            "allowed: one that covers a field at least in part; is it of another place?"
        )
        raise FileError(message)
    if sum(len(picture.webp) for picture in found) > most_bytes:
        message = (
            f"{path}: found pictures of more than {most_bytes:,} bytes however coarse; give fewer fields"
        )
        raise FileError(message)
    return found


def _fitting(
    photo: Any, fields: Mapping[str, Sequence[float]], *, stretch: tuple[float, float], most_bytes: int
) -> list[FieldPhoto]:
    """Return the pictures at the finest pixel at which all of them keep to the limit."""
    found: list[FieldPhoto] = []
    for attempt in range(_TRIES):
        pictures = (
            _picture(photo, name, bounds, stretch=stretch, coarser=1.4**attempt)
            for name, bounds in fields.items()
        )
        found = [picture for picture in pictures if picture is not None]
        if sum(len(picture.webp) for picture in found) <= most_bytes:
            break
    return found


def _library() -> Any:
    try:
        import rasterio
        import rasterio.errors
        import rasterio.vrt
    except ImportError as error:
        message = 'map --photo: found no raster library; install it with: pip install "ringrow[imagery]"'
        raise RingrowError(message) from error
    return rasterio


def _check(path: Path, photo: Any) -> None:
    if photo.crs is None or photo.transform.is_identity:
        message = (
            f"{path}: found a picture without a place on the globe; allowed: a GeoTIFF with its "
            "coordinate system; a plain screenshot has none"
        )
        raise FileError(message)
    if photo.count == 2 and "alpha" not in {kind.name for kind in photo.colorinterp}:
        message = f"{path}: found 2 bands; allowed: one (grey), or three and more (red, green, blue first)"
        raise FileError(message)
    kinds = set(photo.dtypes)
    if not kinds <= {"uint8", "uint16", "int16"}:
        message = (
            f"{path}: found pixels of type {', '.join(sorted(kinds))}; allowed: 8 or 16 bits, "
            "as photos have; elevations are no photo"
        )
        raise FileError(message)


def _bands(photo: Any) -> list[int]:
    return [1, 2, 3] if photo.count >= 3 else [1]


def _stretch(photo: Any) -> tuple[float, float]:
    """Return the values shown as black and white: as they are for 8 bits, the middle 98 % for 16."""
    if set(photo.dtypes) == {"uint8"}:
        return 0.0, 255.0
    small = min(1.0, 600 / max(photo.width, photo.height))
    shape = (len(_bands(photo)), max(1, int(photo.height * small)), max(1, int(photo.width * small)))
    values = photo.read(_bands(photo), out_shape=shape, masked=True).compressed()
    low, high = np.percentile(values, [1, 99]) if values.size else (0.0, 1.0)
    return float(low), float(max(high, low + 1))


def _picture(
    photo: Any,
    name: str,
    bounds: Sequence[float],
    *,
    stretch: tuple[float, float],
    coarser: float,
) -> FieldPhoto | None:
    import rasterio
    from rasterio.enums import Resampling
    from rasterio.transform import from_bounds
    from rasterio.vrt import WarpedVRT

    west, south, east, north = mercator_box(bounds, margin=MARGIN)
    latitude = math.radians((bounds[1] + bounds[3]) / 2)
    pixel = max(_pixel_m(photo), FINEST_M) / math.cos(latitude) * coarser
    pixel = max(pixel, max(east - west, north - south) / MOST_PIXELS)
    width, height = max(2, round((east - west) / pixel)), max(2, round((north - south) / pixel))
    with WarpedVRT(
        photo,
        crs="EPSG:3857",
        transform=from_bounds(west, south, east, north, width, height),
        width=width,
        height=height,
        resampling=Resampling.bilinear,
        add_alpha=rasterio.enums.ColorInterp.alpha not in photo.colorinterp,
    ) as warped:
        values = warped.read(_bands(photo))
        seen = warped.dataset_mask()
    if not seen.any():
        return None
    return FieldPhoto(
        field=name,
        bounds=_degrees((west, south, east, north)),
        pixel_m=(east - west) / width * math.cos(latitude),
        webp=_webp(values, seen, stretch=stretch),
        covered=float((seen > 0).mean()),
    )


def _pixel_m(photo: Any) -> float:
    """Return about how much ground a pixel in the middle of the photo covers, however it is turned."""
    from rasterio.warp import transform

    row, column = photo.height / 2, photo.width / 2
    corners = [photo.xy(row + down, column + across) for down, across in ((0, 0), (0, 1), (1, 0))]
    x, y = transform(photo.crs, "EPSG:3857", *zip(*corners, strict=True))
    area = abs((x[1] - x[0]) * (y[2] - y[0]) - (x[2] - x[0]) * (y[1] - y[0]))
    return math.sqrt(area) / math.cosh(y[0] / _RADIUS_M)


def mercator_box(bounds: Sequence[float], *, margin: float) -> tuple[float, float, float, float]:
    """Return a box of degrees in web Mercator, grown on every side.

    Parameters
    ----------
    bounds : sequence of float
        West, south, east and north edge. [deg]
    margin : float
        How far it grows, as a part of its longer side. [-]

    Returns
    -------
    tuple of float
        West, south, east and north edge. [m]

    Examples
    --------
    >>> [round(edge) for edge in mercator_box([-101.5, 36.7, -101.49, 36.71], margin=0.0)]
    [-11298928, 4397373, -11297815, 4398761]
    """
    x = [_RADIUS_M * math.radians(bounds[0]), _RADIUS_M * math.radians(bounds[2])]
    y = [_RADIUS_M * math.asinh(math.tan(math.radians(lat))) for lat in (bounds[1], bounds[3])]
    grown = margin * max(x[1] - x[0], y[1] - y[0])
    return x[0] - grown, y[0] - grown, x[1] + grown, y[1] + grown


def _degrees(box: Sequence[float]) -> tuple[float, float, float, float]:
    west, south, east, north = box
    lon = [math.degrees(x / _RADIUS_M) for x in (west, east)]
    lat = [math.degrees(math.atan(math.sinh(y / _RADIUS_M))) for y in (south, north)]
    return lon[0], lat[0], lon[1], lat[1]


def _webp(values: NDArray[Any], seen: NDArray[Any], *, stretch: tuple[float, float]) -> bytes:
    from PIL import Image

    low, high = stretch
    shown = values
    if stretch != (0.0, 255.0):
        shown = np.clip((values.astype(np.float64) - low) / (high - low), 0.0, 1.0) * 255.0
    bands = list(np.broadcast_to(shown, (3, *seen.shape)).astype(np.uint8))
    opaque = bool((seen > 0).all())
    if not opaque:
        bands.append(np.where(seen > 0, 255, 0).astype(np.uint8))
    buffer = io.BytesIO()
    Image.fromarray(np.dstack(bands), mode="RGB" if opaque else "RGBA").save(
        buffer, "WEBP", quality=_QUALITY, method=4
    )
    return buffer.getvalue()

"""The photos of the sample farm's walker with a camera alone: drawn, for nobody took them.

Run ``python tests/sample_photos.py`` to write them anew into sample_fields.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from PIL import Image, ImageDraw

FOLDER = (
    Path(__file__).resolve().parents[1] / "sample_fields" / "two_windmill_farm" / "flags" / "camera_walker_4"
)
SKY, GROUND, STEEL, RUST, WATER = "#d9e6f2", "#b59a6a", "#8d9196", "#7a4a2b", "#5b84b1"


@dataclass(frozen=True, kw_only=True)
class Drawn:
    """A photo to draw: what it shows, its caption, where and when it was taken."""

    name: str
    shows: str
    caption: str
    lat: float
    lon: float
    clock: str
    accuracy_m: float


PHOTOS = (
    Drawn(
        name="IMG_0412.jpg",
        shows="wheel",
        caption="P1 T5 gearbox leaking",
        lat=36.755552,
        lon=-101.493372,
        clock="2026:03:10 09:14:00",
        accuracy_m=4.9,
    ),
    Drawn(
        name="IMG_0413.jpg",
        shows="burrow",
        caption="gopher",
        lat=36.751210,
        lon=-101.492480,
        clock="2026:03:10 09:31:00",
        accuracy_m=4.9,
    ),
    Drawn(
        name="IMG_0414.jpg",
        shows="puddle",
        caption="V2 leak",
        lat=36.759650,
        lon=-101.477420,
        clock="2026:03:10 10:02:00",
        accuracy_m=6.2,
    ),
)


def picture(shows: str) -> Image.Image:
    """Draw what a photo shows."""
    image = Image.new("RGB", (320, 240), SKY)
    pen = ImageDraw.Draw(image)
    pen.rectangle((0, 130, 320, 240), fill=GROUND)
    if shows == "wheel":
        pen.line((160, 0, 160, 120), fill=STEEL, width=14)
        pen.ellipse((70, 60, 250, 240), fill="#3b3b3b")
        pen.ellipse((120, 110, 200, 190), fill=STEEL)
        pen.rectangle((140, 130, 180, 170), fill=RUST)
        pen.polygon([(150, 170), (170, 170), (164, 230), (154, 230)], fill="#2a1c10")
    elif shows == "burrow":
        pen.polygon([(60, 215), (130, 150), (230, 155), (290, 220)], fill="#8a6f43")
        pen.ellipse((130, 165, 200, 205), fill="#1d140a")
    else:
        for x in range(20, 320, 50):
            pen.line((x, 240, 150 + (x - 150) // 3, 130), fill="#8a6f43", width=3)
        pen.ellipse((80, 165, 250, 225), fill=WATER)
    return image


def _degrees(value: float) -> tuple[float, float, float]:
    whole, rest = divmod(abs(value), 1)
    minutes, part = divmod(rest * 60, 1)
    return whole, minutes, round(part * 60, 3)


def write(folder: Path) -> None:
    """Write every photo with its caption, place, time and accuracy as a phone's camera does."""
    folder.mkdir(parents=True, exist_ok=True)
    for photo in PHOTOS:
        exif = Image.Exif()
        exif.update({0x010E: photo.caption, 0x0132: photo.clock})
        exif.get_ifd(0x8769).update({0x9003: photo.clock, 0x9011: "-06:00"})
        north, west = _degrees(photo.lat), _degrees(photo.lon)
        exif.get_ifd(0x8825).update({1: "N", 2: north, 3: "W", 4: west, 31: photo.accuracy_m})
        picture(photo.shows).save(folder / photo.name, "JPEG", quality=55, exif=exif)


if __name__ == "__main__":
    write(FOLDER)

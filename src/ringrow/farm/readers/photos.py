"""Photos from phones: one flag a photo.

A photo is opened once, without following links, and wholly decoded before anything else is done
with it, so that a photo that is cut off never becomes half a flag. What is kept of it is a small
copy, turned upright, with nothing in it but the picture.
"""

from __future__ import annotations

import hashlib
import io
import os
import stat
import uuid
import warnings
from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from ringrow.errors import FileError
from ringrow.farm.readers.exif import Fix, caption_of, fix_of, time_of
from ringrow.farm.readers.rows import PointFile, PointRow, Refused, why

if TYPE_CHECKING:
    from datetime import datetime
    from pathlib import Path

    from PIL.Image import Image

ENDINGS: tuple[str, ...] = (".jpg", ".jpeg", ".png")
"""Endings of photos that are read."""
FOREIGN: tuple[str, ...] = (".heic", ".heif", ".avif")
"""Endings of photos that cannot be read here, but are named with what to do."""
MAX_PHOTOS = 400
"""Most photos that one folder may hold."""
MAX_PHOTO_BYTES = 60_000_000
"""Largest photo that is read [bytes]."""
MAX_PIXELS = 120_000_000
"""Most picture points of a JPEG photo, which is decoded at a fraction of its size."""
MAX_PNG_PIXELS = 40_000_000
"""Most picture points of a PNG, which has to be decoded whole."""
SIDE_PX = 1_280
"""Longer side of the copy that is kept [picture points]."""

_QUALITY = 80
_NAMESPACE = uuid.UUID("6a1f77c4-2b0e-5d7c-9c39-0f5a3b1d8e42")
_FOREIGN_WORDS = (
    "found a HEIC or AVIF photo, which cannot be read here; allowed: JPEG or PNG; save or send it as "
    "JPEG with its location, or set the phone's camera to JPEG"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Photo:
    """A photo as read.

    Parameters
    ----------
    name : str
        Its file's name.
    sha256 : str
        Fingerprint of the original file, hexadecimal.
    jpeg : bytes
        The copy that is kept: JPEG, upright, without any data beside the picture.
    fix : Fix
        Where it was taken.
    time : datetime or None
        When, UTC.
    zone_assumed : bool
        True when the camera stated no zone and UTC was taken.
    caption : str
        Words that somebody gave it.
    """

    name: str
    sha256: str
    jpeg: bytes
    fix: Fix
    time: datetime | None
    zone_assumed: bool
    caption: str

    @property
    def flag(self) -> str:
        """UUID of the flag that this photo makes: the same for the same file, whatever its name."""
        return str(uuid.uuid5(_NAMESPACE, self.sha256))


def read_photo(path: Path) -> Photo:
    """Return a photo with its small copy and what it says about itself.

    Parameters
    ----------
    path : Path
        JPEG or PNG; a link is refused.

    Returns
    -------
    Photo
        The photo.

    Raises
    ------
    FileError
        If it is no photo that can be read, is cut off or too large.
    """
    shown = shown_name(path.name)
    if path.suffix.lower() in FOREIGN:
        message = f"{shown}: {_FOREIGN_WORDS}"
        raise FileError(message)
    data = _bytes_of(path)
    if data[4:8] == b"ftyp":
        message = f"{shown}: {_FOREIGN_WORDS}"
        raise FileError(message)
    jpeg, parts = _decoded(shown, data)
    main, detail, gps, iptc = parts
    moment, assumed = time_of(main, detail, gps)
    return Photo(
        name=shown,
        sha256=hashlib.sha256(data).hexdigest(),
        jpeg=jpeg,
        fix=fix_of(gps),
        time=moment,
        zone_assumed=assumed,
        caption=caption_of(main, detail, iptc, stem=path.stem),
    )


def read_photos(path: Path) -> PointFile:
    """Return the photos of a folder, or one photo, as points.

    Parameters
    ----------
    path : Path
        A folder, whose own folders are not entered, or one photo.

    Returns
    -------
    PointFile
        One point a photo, by file name; those without a position have none.

    Raises
    ------
    FileError
        If the folder cannot be read, holds no photo, or too many.
    """
    single = not path.is_dir()
    if single and not path.exists():
        message = f"{path}: found no such file; allowed: a photo or a folder of photos"
        raise FileError(message)
    try:
        files = [path] if single else sorted(path.iterdir())
    except OSError as error:
        message = f"{path}: cannot be read ({error.strerror or error})"
        raise FileError(message) from error
    photos = [file for file in files if file.suffix.lower() in (*ENDINGS, *FOREIGN)]
    if not photos or len(photos) > MAX_PHOTOS:
        found = f"{len(photos):,} photos" if photos else "no photo"
        message = f"{path}: found {found}; allowed: 1 to {MAX_PHOTOS} in a folder ({', '.join(ENDINGS)})"
        raise FileError(message)
    rows: list[PointRow] = []
    refused: list[Refused] = []
    for file in photos:
        what = shown_name(file.name)
        try:
            rows.append(_row(read_photo(file)))
        except FileError as error:
            refused.append(Refused(what=what, why=why(error).removeprefix(f"{what}: ")))
    said = _said(files, photos)
    if any(row.photo is not None and row.photo.zone_assumed for row in rows):
        said.append("times without a zone are taken as UTC")
    return PointFile(
        file=shown_name(path.name) or "photos",
        form="photos",
        rows=tuple(rows),
        refused=tuple(refused),
        said=tuple(said),
    )


def shown_name(name: str) -> str:
    """Return a file's name fit for showing: no control characters, none that no text can hold.

    Parameters
    ----------
    name : str
        The name.

    Returns
    -------
    str
        Up to 100 characters.

    Examples
    --------
    >>> shown_name("a" + chr(27) + "[31m.jpg")
    'a?[31m.jpg'
    """
    return "".join(letter if letter.isprintable() else "?" for letter in name)[:100]


def _row(photo: Photo) -> PointRow:
    return PointRow(
        what=photo.name,
        lat=photo.fix.lat,
        lon=photo.fix.lon,
        note=photo.caption,
        time=photo.time,
        accuracy=photo.fix.accuracy,
        id=photo.flag,
        remarks=photo.fix.remarks,
        photo=photo,
    )


def _said(files: list[Path], photos: list[Path]) -> list[str]:
    taken = set(photos)
    left = Counter(
        "folder" if file.is_dir() else file.suffix.lower() or "no ending"
        for file in files
        if file not in taken and not file.name.startswith(".")
    )
    words = ", ".join(f"{count} {shown_name(ending)}" for ending, count in sorted(left.items())[:12])
    return [f"left out, since they are no photos: {words}"] if words else []


def _bytes_of(path: Path) -> bytes:
    """Return a photo's bytes; a link could lead out of the folder, so none is followed."""
    shown = shown_name(path.name)
    try:
        if path.is_symlink():
            message = f"{shown}: found a link; allowed: the photo itself (links are not followed)"
            raise FileError(message)
        handle = os.open(path, os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0))
        with os.fdopen(handle, "rb") as stream:
            if not stat.S_ISREG(os.fstat(handle).st_mode):
                message = f"{shown}: found no file; allowed: a photo"
                raise FileError(message)
            data = stream.read(MAX_PHOTO_BYTES + 1)
    except OSError as error:
        if isinstance(error, FileError):
            raise
        message = f"{shown}: cannot be read ({error.strerror or error})"
        raise FileError(message) from error
    if len(data) > MAX_PHOTO_BYTES:
        message = f"{shown}: found more than {MAX_PHOTO_BYTES / 1e6:.0f} MB; allowed: up to that"
        raise FileError(message)
    return data


def small_copy(name: str, data: bytes) -> bytes:
    """Return the copy of a picture that is kept.

    Parameters
    ----------
    name : str
        What to call it in a message.
    data : bytes
        A JPEG or PNG picture.

    Returns
    -------
    bytes
        JPEG, upright, at most `SIDE_PX` wide and high, without any data beside the picture.

    Raises
    ------
    FileError
        If it is no such picture, is cut off or too large.
    """
    return _decoded(name, data)[0]


def _decoded(shown: str, data: bytes) -> tuple[bytes, tuple[dict[Any, Any], ...]]:
    """Return the small copy of a photo, and the parts of what it says about itself."""
    from PIL import Image, UnidentifiedImageError

    try:
        with warnings.catch_warnings():
            # The library warns of broken Exif data and of large pictures; both are judged here.
            warnings.simplefilter("ignore")
            with Image.open(io.BytesIO(data), formats=("JPEG", "PNG")) as picture:
                _check_size(shown, picture)
                # A JPEG is decoded at the smallest of its own scales that is large enough.
                picture.draft("RGB", (SIDE_PX, SIDE_PX))
                picture.load()
                parts = _parts(picture)
                return _copy(picture, parts[0].get(274)), parts
    except FileError:
        raise
    except UnidentifiedImageError as error:
        message = f"{shown}: found no JPEG or PNG picture in it; allowed: a whole photo; copy it anew"
        raise FileError(message) from error
    except Image.DecompressionBombError as error:
        message = f"{shown}: found a picture of far more than {MAX_PIXELS:,} points; allowed: up to that"
        raise FileError(message) from error
    except Exception as error:
        # On broken pictures the library raises nearly anything.
        message = f"{shown}: found a broken picture ({str(error)[:60]}); is it cut off? copy it anew"
        raise FileError(message) from error


def _check_size(shown: str, picture: Image) -> None:
    points = picture.width * picture.height
    most = MAX_PNG_PIXELS if picture.format == "PNG" else MAX_PIXELS
    if points > most:
        message = (
            f"{shown}: found a picture of {picture.width:,} by {picture.height:,} points; "
            f"allowed: up to {most:,} points in all"
        )
        raise FileError(message)


def _parts(picture: Image) -> tuple[dict[Any, Any], ...]:
    """Return Exif data (main, detail, GPS) and IPTC data; a broken part counts as missing."""
    from PIL import IptcImagePlugin

    found: list[dict[Any, Any]] = []
    for part in (None, 0x8769, 0x8825):
        try:
            exif = picture.getexif()
            found.append(dict(exif if part is None else exif.get_ifd(part)))
        except Exception:  # noqa: BLE001 - broken Exif raises nearly anything; the picture is whole
            found.append({})
    try:
        iptc = dict(IptcImagePlugin.getiptcinfo(picture) or {})  # type: ignore[arg-type]
    except Exception:  # noqa: BLE001 - as above
        iptc = {}
    return (*found, iptc)


def _copy(picture: Image, orientation: Any) -> bytes:
    from PIL.Image import Transpose

    turns = {
        2: Transpose.FLIP_LEFT_RIGHT,
        3: Transpose.ROTATE_180,
        4: Transpose.FLIP_TOP_BOTTOM,
        5: Transpose.TRANSPOSE,
        6: Transpose.ROTATE_270,
        7: Transpose.TRANSVERSE,
        8: Transpose.ROTATE_90,
    }
    # Made small first where that is possible, so that no second large picture stands in memory.
    small = picture if picture.mode in ("RGB", "RGBA", "L") else picture.convert("RGB")
    small.thumbnail((SIDE_PX, SIDE_PX))
    small = small.convert("RGB")
    turn = turns.get(orientation) if isinstance(orientation, int) else None
    if turn is not None:
        small = small.transpose(turn)
    # A comment in the original would otherwise travel along.
    small.info.clear()
    out = io.BytesIO()
    small.save(out, "JPEG", quality=_QUALITY, optimize=True)
    return out.getvalue()

"""What a photo says about itself: where, when, how good, and in what words.

Tags are those of the Exif standard (CIPA DC-008); names of its GPS part are given in comments.
Everything in a photo is taken as it comes from anywhere: a part that cannot be is left out, and
said so, and never guessed.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone
from typing import TYPE_CHECKING, Any

from ringrow.coverage.accuracy import Accuracy
from ringrow.farm.events import clean_text
from ringrow.farm.readers.cells import plain_words

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

MAX_CAPTION = 1_000
"""Longest caption that is kept [characters]."""

_WGS84 = ("", "wgs 84", "wgs84", "wgs 1984", "world geodetic system 1984")
# Names that cameras give their files: letters of their own, then a counter or a date.
_CAMERA_WORD = re.compile(
    r"(img|image|imagen|dsc[a-z]?|pxl|photo|foto|pic|picture|screenshot|mvimg|pano|burst|hdr|cam|camera|copy"
    r"|copia|edited|editada|[a-z]{1,4}\d{4,}|\d{4,}|[0-9a-f]{8,}|wa\d+)"
)
_UUID = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fix:
    """Where a photo was taken.

    Parameters
    ----------
    lat, lon : float or None
        WGS 84; None without a position. [deg]
    accuracy : Accuracy or None
        What the camera states.
    why : str
        Why there is no position; empty when there is one.
    remarks : tuple of str
        What was left out.
    """

    lat: float | None = None
    lon: float | None = None
    accuracy: Accuracy | None = None
    why: str = ""
    remarks: tuple[str, ...] = ()


def fix_of(gps: Mapping[Any, Any]) -> Fix:
    """Return the position in the GPS part of a photo's Exif data.

    The stated error (tag 31) comes without a percentage. Phones mean either the radius that
    holds 68 % or the root mean square; the second is taken, since it gives the wider spread (by 7 %).

    Parameters
    ----------
    gps : mapping of tag number to object
        Tags of the GPS part, as read by the picture library.

    Returns
    -------
    Fix
        A position only when degrees and both letters (N or S, E or W) are there and can be.

    Examples
    --------
    >>> fix_of({1: "S", 2: (41.0, 30.0, 0.0), 3: "W", 4: (98.0, 0.0, 36.0)}).lat
    -41.5
    """
    if not any(tag in gps for tag in (2, 4)):
        return Fix(why="no position in the photo")
    if str(_text(gps.get(9))).upper() == "V":  # GPSStatus: V = measurement void
        return Fix(why="the camera says that its position is void")
    sides = _text(gps.get(1)).upper()[:1], _text(gps.get(3)).upper()[:1]  # GPSLatitudeRef, GPSLongitudeRef
    if sides[0] not in ("N", "S") or sides[1] not in ("E", "W"):
        return Fix(why="the photo's position lacks N or S, E or W")
    lat, lon = _degrees(gps.get(2)), _degrees(gps.get(4))  # GPSLatitude, GPSLongitude
    if lat is None or lon is None or lat > 90 or lon > 180:
        return Fix(why="the photo's position cannot be read")
    remarks = []
    datum = _text(gps.get(18))  # GPSMapDatum
    if plain_words(datum) not in _WGS84:
        remarks.append(f'datum "{datum[:20]}" taken as WGS 84')
    accuracy, remark = _accuracy(gps.get(31))  # GPSHPositioningError
    return Fix(
        lat=-lat if sides[0] == "S" else lat,
        lon=-lon if sides[1] == "W" else lon,
        accuracy=accuracy,
        remarks=(*remarks, *((remark,) if remark else ())),
    )


def time_of(main: Mapping[Any, Any], detail: Mapping[Any, Any], gps: Mapping[Any, Any]) -> tuple[Any, bool]:
    """Return when a photo was taken, and whether its zone had to be assumed.

    Parameters
    ----------
    main, detail, gps : mapping of tag number to object
        The three parts of a photo's Exif data.

    Returns
    -------
    moment : datetime or None
        UTC: the camera's clock with its zone, else the satellites' date and time, else the
        clock taken as UTC.
    assumed : bool
        True when the last was done.

    Examples
    --------
    >>> time_of({}, {36867: "2026:04:02 08:05:00", 36881: "-05:00"}, {})[0].isoformat()
    '2026-04-02T13:05:00+00:00'
    """
    clock = _moment(_text(detail.get(36867)) or _text(detail.get(36868)) or _text(main.get(306)))
    zone = _zone(_text(detail.get(36881)) or _text(detail.get(36882)) or _text(detail.get(36880)))
    try:
        if clock is not None and zone is not None:
            return clock.replace(tzinfo=zone).astimezone(UTC), False
        parts = _numbers(gps.get(7), count=3)  # GPSTimeStamp beside GPSDateStamp, both UTC
        day = _moment(f"{_text(gps.get(29))} 00:00:00")
        if day is not None and parts is not None:
            seconds = 3600 * parts[0] + 60 * parts[1] + parts[2]
            if 0 <= seconds < 86_401:
                return day.replace(tzinfo=UTC) + timedelta(seconds=seconds), False
    except OverflowError:
        return None, False
    return (clock.replace(tzinfo=UTC), True) if clock is not None else (None, False)


def caption_of(
    main: Mapping[Any, Any], detail: Mapping[Any, Any], iptc: Mapping[Any, Any], *, stem: str
) -> str:
    """Return the words that somebody gave a photo.

    Parameters
    ----------
    main, detail : mapping of tag number to object
        The first two parts of a photo's Exif data.
    iptc : mapping of tuple to object
        IPTC data, by record and number.
    stem : str
        The file's name without its ending; words of a camera in it are left out.

    Returns
    -------
    str
        Description, comments, title, caption and file name, each once; empty for none.

    Examples
    --------
    >>> caption_of({270: "P3 T5 gearbox"}, {}, {}, stem="IMG_0412")
    'P3 T5 gearbox'
    """
    texts = [_text(main.get(270))]  # ImageDescription
    texts += [_wide(main.get(tag)) for tag in (40092, 40091, 40095)]  # XPComment, XPTitle, XPSubject
    texts += [_user_comment(detail.get(37510))]
    texts += [_text(iptc.get(key)) for key in ((2, 120), (2, 105), (2, 5))]  # caption, headline, name
    maker = {plain_words(_text(main.get(tag))) for tag in (271, 272)}
    said = [" ".join(clean_text(text).split())[:MAX_CAPTION] for text in (*texts, file_words(stem))]
    kept: dict[str, str] = {}
    for text in said:
        words = plain_words(text)
        if words and words not in maker and "digital camera" not in words and not words.startswith("dcim"):
            kept.setdefault(words, text)
    return "; ".join(kept.values())[:MAX_CAPTION]


def file_words(stem: str) -> str:
    """Return the words that a person put into a photo's file name.

    Parameters
    ----------
    stem : str
        Name without its ending.

    Returns
    -------
    str
        The words; empty when the name is one that cameras give.

    Examples
    --------
    >>> file_words("IMG_0412"), file_words("P3_T5 gearbox")
    ('', 'P3 T5 gearbox')
    """
    if _UUID.fullmatch(stem):
        return ""
    words = [word for word in re.split(r"[\s_.]+|(?<=\w)-(?=[A-Za-z])|\(\d+\)", stem) if word]
    own = [word for word in words if not _CAMERA_WORD.fullmatch(plain_words(word).replace(" ", ""))]
    text = " ".join(own)
    return text if len(plain_words(text)) > 1 and any(letter.isalpha() for letter in text) else ""


def _text(value: Any) -> str:
    if isinstance(value, bytes):
        return value.split(b"\0")[0].decode("utf-8", "replace").strip()
    if not isinstance(value, str):
        return ""
    plain = value.split("\0")[0].strip()
    try:
        # The library takes texts for Latin-1; phones write UTF-8.
        return plain.encode("latin-1").decode("utf-8")
    except UnicodeError:
        return plain


def _wide(value: Any) -> str:
    if isinstance(value, tuple):
        value = bytes(item for item in value if isinstance(item, int) and 0 <= item < 256)
    return value.decode("utf-16-le", "replace").split("\0")[0].strip() if isinstance(value, bytes) else ""


def _user_comment(value: Any) -> str:
    if not isinstance(value, bytes) or len(value) < 9:
        return ""
    code, text = value[:8], value[8:]
    if code.startswith(b"UNICODE"):
        # The byte order is that of the photo, which is not known here; zeros tell.
        order = "utf-16-be" if text[:1] == b"\0" else "utf-16-le"
        return text.decode(order, "replace").split("\0")[0].strip()
    return _text(text) if code.startswith((b"ASCII", b"\0\0\0\0")) else ""


def _numbers(value: Any, *, count: int) -> list[float] | None:
    if not isinstance(value, tuple | list) or len(value) != count:
        return None
    try:
        numbers = [float(item) for item in value]
    except (TypeError, ValueError, ZeroDivisionError, OverflowError):
        return None
    return numbers if all(math.isfinite(item) for item in numbers) else None


def _degrees(value: Any) -> float | None:
    parts: Sequence[float] | None = _numbers(value, count=3)
    if parts is None or min(parts) < 0 or parts[1] > 60 or parts[2] > 60:
        return None
    return parts[0] + parts[1] / 60 + parts[2] / 3600


def _accuracy(value: Any) -> tuple[Accuracy | None, str]:
    if value is None:
        return None, ""
    found = _numbers((value,), count=1)
    if found is None or not 0 < found[0] <= 1000:
        return None, "the photo's stated error left out: no number of metres above 0 and up to 1,000"
    return Accuracy(radius_m=found[0], kind="rms"), ""


def _moment(text: str) -> datetime | None:
    match = re.match(r"(\d{4})[:-](\d\d)[:-](\d\d)[ T](\d\d):(\d\d):(\d\d)", text)
    if match is None:
        return None
    year, month, day, hour, minute, second = (int(digits) for digits in match.groups())
    try:
        return datetime(year, month, day, hour, minute, min(second, 59), tzinfo=UTC).replace(tzinfo=None)
    except ValueError:
        return None


def _zone(text: str) -> timezone | None:
    if text.upper() == "Z":
        return UTC
    match = re.fullmatch(r"([+-])(\d\d):(\d\d)", text)
    if match is None or int(match[2]) > 15 or int(match[3]) > 59:
        return None
    away = timedelta(hours=int(match[2]), minutes=int(match[3]))
    return timezone(-away if match[1] == "-" else away)

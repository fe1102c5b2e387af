"""A latitude and a longitude as people write them and as phones show them."""

from __future__ import annotations

import re

import lat_lon_parser

from ringrow.errors import PlaceError

_ALLOWED = (
    "latitude, then longitude: 36.7512, -101.5034 or 36.7512 N, 101.5034 W "
    """or 36° 45.07' N, 101° 30.2' W or 36°45'04.3"N 101°30'12.2"W"""
)
_RANGE = "latitude -90 to 90, then longitude -180 to 180"

# What phones, word processors and other languages put in place of plain signs.
_SIGNS = str.maketrans(
    {
        **dict.fromkeys("\u2212\u2010\u2011\u2012\u2013\u2014\ufe63\uff0d", "-"),
        **dict.fromkeys("\u2032\u2019\u2018\u02bc\u02b9\u00b4`\u201b\uff07", "'"),
        **dict.fromkeys("\u2033\u201d\u201c\u201e\u02ba\u3003\uff02", '"'),
        **dict.fromkeys("\u00ba\u02da\u2070\u1d52", "\u00b0"),
        **dict.fromkeys("\u00a0\u2009\u202f\u2007\u3000\t\r\n", " "),
        **dict.fromkeys("\u200e\u200f\u200b\ufeff\u202a\u202c", ""),
        "\uff0c": ",",
        "\uff1b": ";",
        **dict.fromkeys("|/", ";"),
    }
)
_WORDS: tuple[tuple[str, str], ...] = (
    (r"\bgeo:", " "),
    (r"[()\[\]{}]", " "),
    (r"\b(?:latitude|lat|longitude|long|lng|lon)\b\s*[.:=]*", " "),
    (r"degrees?\b|degs?\b", "\u00b0"),
    (r"minutes?\b|mins?\b", "'"),
    (r"seconds?\b|secs?\b", '"'),
    (r"north\b", "N"),
    (r"south\b", "S"),
    (r"east\b", "E"),
    (r"west\b", "W"),
    (r"(?<=\d)\s*d(?=[\s\d])", "\u00b0"),
    (r"''", '"'),
    (r"\s+", " "),
)
_NUMBER = r"\d+(?:\.\d+)?"
_ANGLE = re.compile(
    rf"""\s*(?P<before>[NSEW])?\s*(?P<sign>[-+])?\s*(?P<degrees>{_NUMBER})
    (?:(?:\s*°\s*|\s+)(?P<minutes>{_NUMBER})(?:(?:\s*'\s*|\s+)(?P<seconds>{_NUMBER})\s*"?|\s*'?))?
    \s*°?\s*(?P<after>[NSEW])?\s*""",
    re.VERBOSE,
)


def parse_at(text: str) -> tuple[float, float]:
    """Return the latitude and longitude that a person typed or copied from a phone.

    Parameters
    ----------
    text : str
        Latitude first: decimal degrees, degrees and minutes, or degrees, minutes and seconds;
        with a minus or a letter N, S, E, W; parted by a comma, semicolon or blank. A decimal
        comma is understood where it cannot be the comma between the two.

    Returns
    -------
    lat, lon : float
        The place, WGS 84. [deg]

    Raises
    ------
    PlaceError
        If the text cannot be read in exactly one way, or the place cannot be.

    Examples
    --------
    >>> parse_at("36.7512, -101.5034")
    (36.7512, -101.5034)
    >>> parse_at('36 45 4.32 N, 101 30 12.24 W')
    (36.7512, -101.5034)
    """
    halves = _halves(_plain(text))
    angles = [_ANGLE.fullmatch(half) for half in halves or ()]
    if len(angles) != 2 or angles[0] is None or angles[1] is None:
        raise _refused(text, _ALLOWED, _hint(text))
    lat_letter, lon_letter = _letter(text, angles[0]), _letter(text, angles[1])
    if lat_letter in ("E", "W") or lon_letter in ("N", "S"):
        raise _refused(text, _ALLOWED, "latitude (N or S) comes first; are the two swapped?")
    lat, lon = _degrees(text, angles[0]), _degrees(text, angles[1])
    _check_range(text, lat, lon)
    return lat, lon


def _plain(text: str) -> str:
    """Return `text` with every odd sign, word and bracket put into one plain form."""
    plain = text.translate(_SIGNS)
    for pattern, sign in _WORDS:
        plain = re.sub(pattern, sign, plain, flags=re.IGNORECASE)
    return re.sub(r"[nsew]", lambda letter: letter[0].upper(), plain).strip(" ,;")


def _halves(plain: str) -> tuple[str, str] | None:
    """Split into latitude and longitude, with decimal commas made points; None when unclear."""
    for split in (_at_semicolon, _at_clear_comma, _at_letter, _at_digit_comma, _at_blank):
        halves = split(plain)
        if halves is not None:
            left, right = (re.sub(r"(?<=\d),(?=\d)", ".", half) for half in halves)
            return left, right
    return None


def _at_semicolon(plain: str) -> tuple[str, str] | None:
    parts = plain.split(";")
    return (parts[0], parts[1]) if len(parts) == 2 else None


def _at_clear_comma(plain: str) -> tuple[str, str] | None:
    """Split at the one comma that does not stand between two digits."""
    commas = [found.start() for found in re.finditer(r"(?<!\d),|,(?!\d)", plain)]
    return (plain[: commas[0]], plain[commas[0] + 1 :]) if len(commas) == 1 else None


def _at_letter(plain: str) -> tuple[str, str] | None:
    """Split by hemisphere letters: before the second one when they lead, else behind the first."""
    letters = [found.start() for found in re.finditer(r"[NSEW]", plain)]
    if len(letters) != 2:
        return None
    cut = letters[1] if letters[0] == 0 else letters[0] + 1
    return plain[:cut], plain[cut:].lstrip(" ,")


def _at_digit_comma(plain: str) -> tuple[str, str] | None:
    """Split at a comma between digits where it can only part the two numbers."""
    commas = [found.start() for found in re.finditer(",", plain)]
    if len(commas) == 1 and ("." in plain or " " not in plain):
        return plain[: commas[0]], plain[commas[0] + 1 :]
    if len(commas) == 3 and "." not in plain:
        return plain[: commas[1]], plain[commas[1] + 1 :]
    return None


def _at_blank(plain: str) -> tuple[str, str] | None:
    """Split at a blank into two halves of equally many numbers."""
    starts = [found.start() for found in re.finditer(r"[-+]?(?:\d+(?:[.,]\d*)?|\.\d+)", plain)]
    if len(starts) % 2 or not starts:
        return None
    cut = starts[len(starts) // 2]
    return (plain[:cut], plain[cut:]) if plain[cut - 1] in " °'\"" else None


def _letter(text: str, angle: re.Match[str]) -> str:
    """Return the hemisphere letter of one angle, empty for none; refuse two, and N or E with a minus."""
    letters = (angle["before"] or "") + (angle["after"] or "")
    if len(letters) > 1:
        raise _refused(text, _ALLOWED, "give each number one letter")
    if letters in ("N", "E") and angle["sign"] == "-":
        raise _refused(text, _ALLOWED, f"a minus and {letters} contradict each other; leave one out")
    return letters


def _degrees(text: str, angle: re.Match[str]) -> float:
    """Return one angle in degrees, through the general parser once its form is known to be right."""
    parts = [float(angle[name]) for name in ("degrees", "minutes", "seconds") if angle[name]]
    # Some phones round 59.99 up to 60 and leave it there: the last number may be 60 itself.
    too_high = any(part >= 60.0 for part in parts[1:-1]) or any(part > 60.0 for part in parts[1:])
    if too_high or any(part % 1 for part in parts[:-1]):
        raise _refused(text, "minutes and seconds below 60, and decimals in the last number only", "")
    if parts[0] > 180.0:
        raise _refused(text, _RANGE, "")
    return float(lat_lon_parser.parse(angle[0].strip().lstrip("+")))


def _check_range(text: str, lat: float, lon: float) -> None:
    if abs(lat) <= 90.0 and abs(lon) <= 180.0:
        return
    swapped = abs(lat) <= 180.0 and abs(lon) <= 90.0
    hint = f'latitude comes first; are the two swapped? Try "{lon!r}, {lat!r}"' if swapped else ""
    raise _refused(text, _RANGE, hint)


def _hint(text: str) -> str:
    """Return what is likely wrong with a text that has no reading, empty when nothing can be guessed."""
    if re.search(r"\d\W*O\b|\bO\W*\d|oeste", text, re.IGNORECASE):
        return "write W for west"
    if text.count(",") > 1:
        return "write decimals with a point, or part the two with a semicolon"
    if len(re.findall(_NUMBER, text)) == 1:
        return "only one number was given"
    return ""


def _refused(text: str, allowed: str, hint: str) -> PlaceError:
    shown = "".join(letter for letter in " ".join(text.split()) if letter.isprintable())[:80]
    message = f'place: found "{shown}"; allowed: {allowed}'
    return PlaceError(f"{message}; {hint}" if hint else message)

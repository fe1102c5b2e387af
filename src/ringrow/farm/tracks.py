"""Tracks and points for a survey: GPX, NMEA logs, tables, GeoJSON and other vector files.

A track is what one drive left behind, in order. Files with waypoints alone give one set of
points. Nothing is thrown away silently: what was left out, and why, comes back with the tracks.
"""

from __future__ import annotations

import csv
import re
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from ringrow.errors import FileError, GeometryError, RingrowError, shortened
from ringrow.farm.readers.cells import checked_position, plain_words
from ringrow.farm.readers.plain_xml import parse_into
from ringrow.farm.readers.rows import Refused, read_bytes, why
from ringrow.farm.readers.table import decode, read_table
from ringrow.farm.track_model import Kind, Track, TrackFile

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from pathlib import Path


MAX_POINTS = 200_000
"""Most points one file of tracks may hold: two days of a logger that writes every second."""
MAX_DEPTH = 50
"""Deepest nesting of XML elements that is read."""
GROUP_WORDS: tuple[str, ...] = ("track", "line", "lateral", "row", "segment", "pass")
"""A column of a table named like this parts its points into tracks."""


_NMEA_ENDINGS = (".nmea", ".nma", ".log")
_TABLE_ENDINGS = (".csv", ".tsv", ".txt")
_SENTENCE = re.compile(r"\$[A-Z]{2}(?:GGA|RMC),[^*$\r\n]*(?:\*[0-9A-Fa-f]{0,2})?")
_ANY_SENTENCE = re.compile(r"\$[A-Z]{2}[A-Z]{3},")
# Dead reckoning, typed in, simulated: no fix from the sky (NMEA 0183, GGA quality; from memory).
_NO_FIX = {6: "dead reckoning", 7: "typed in", 8: "simulated"}


def read_tracks(
    path: Path,
    *,
    where: Mapping[str, str] | None = None,
    layer: str | None = None,
    crs: str | None = None,
) -> TrackFile:
    """Return the tracks and points of a file; its ending says what it is.

    Parameters
    ----------
    path : Path
        GPX, NMEA log, table of text, or a vector file.
    where : mapping of str to str or None, default None
        Of a vector file, only features whose columns have these values.
    layer : str or None, default None
        Layer of a vector file that has several.
    crs : str or None, default None
        Coordinate system of a vector file that does not say its own.

    Returns
    -------
    TrackFile
        Its tracks.

    Raises
    ------
    FileError
        If the file cannot be used, or holds no point.

    Notes
    -----
    Text files (``.txt``, ``.log``) are NMEA logs when they hold NMEA sentences, else tables.
    """
    ending = path.suffix.lower()
    if ending == ".gpx":
        found = _read_gpx(path, read_bytes(path))
    elif ending in (*_NMEA_ENDINGS, *_TABLE_ENDINGS) and not path.name.lower().endswith(".geojson.txt"):
        data = read_bytes(path)
        found = _read_nmea(path, data) if _is_nmea(path, data) else _read_table(path, data)
    else:
        found = _read_vector(path, where=where, layer=layer, crs=crs)
    if (where or layer or crs) and found.tracks and ending in (".gpx", *_NMEA_ENDINGS, *_TABLE_ENDINGS):
        found = replace(found, said=(*found.said, f"{path.name}: --where, --layer and --crs play no part"))
    count = sum(len(track) for track in found.tracks)
    if count > MAX_POINTS:
        message = f"{path}: found {count:,} points; allowed: up to {MAX_POINTS:,}; cut out the drive you need"
        raise FileError(message)
    if not count:
        reasons = "; ".join(f"{row.what}: {row.why}" for row in found.refused[:3])
        message = (
            f"{path}: found no point of a track{f' ({reasons})' if reasons else ''}; allowed: a recorded"
        )
        raise FileError(f"{message} drive, or single points")
    return found


# --- GPX ---------------------------------------------------------------------------------------


class _Outline:
    """Parser target that builds nothing: it only looks at the root, the depth and the count."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.root = ""
        self.depth = 0
        self.points = 0

    def start(self, tag: str, _attributes: dict[str, str]) -> None:
        """Take note of an element that opens."""
        local = tag.rpartition("}")[2]
        self.depth += 1
        self.points += local in ("trkpt", "rtept", "wpt")
        if self.depth == 1:
            self.root = local
        if self.depth > MAX_DEPTH or self.points > MAX_POINTS:
            message = (
                f"{self.path}: found elements nested deeper than {MAX_DEPTH}, or more than {MAX_POINTS:,} "
                "points; allowed: a plain GPX file of one drive"
            )
            raise FileError(message)

    def end(self, _tag: str) -> None:
        """Take note of an element that closes."""
        self.depth -= 1

    def close(self) -> _Outline:
        """Give back what was seen."""
        return self


def _check_gpx(path: Path, data: bytes) -> None:
    """Refuse entities, document types, broken and foreign XML before the GPX library sees it."""
    target = parse_into(_Outline(path), path, data, kind="GPX")
    if target.root != "gpx":
        message = f"{path}: found an XML file whose root is {target.root[:40]!r}; allowed: gpx"
        raise FileError(message)


def _read_gpx(path: Path, data: bytes) -> TrackFile:
    import gpxpy
    from gpxpy.gpx import GPXException

    _check_gpx(path, data)
    # The library takes any bytes for UTF-8; the declaration goes, since the text is decoded already.
    text = re.sub(r"^\s*<\?xml[^>]*\?>", "", decode(path, data)[0])
    try:
        gpx = gpxpy.parse(text)
    except (GPXException, ValueError, LookupError) as error:
        message = f"{path}: found points that cannot be read ({shortened(error)}); allowed: GPX 1.0 or 1.1"
        raise FileError(message) from error
    tracks: list[Track] = []
    refused: list[Refused] = []
    empty = 0
    for number, trk in enumerate(gpx.tracks, start=1):
        name = _called("track", number, trk.name)
        for part, segment in enumerate(trk.segments, start=1):
            what = name if len(trk.segments) == 1 else f"{name}, segment {part}"
            track = _track(path, what, "track", _lonlats(segment.points), refused, group=f"{path}:{number}")
            empty += track is None
            tracks += [track] if track is not None else []
    for number, route in enumerate(gpx.routes, start=1):
        labels = [point.name or "" for point in route.points]
        what = _called("route", number, route.name)
        track = _track(path, what, "route", _lonlats(route.points), refused, labels=labels)
        tracks += [track] if track is not None else []
    labels = [point.name or "" for point in gpx.waypoints]
    points = _track(path, "waypoints", "points", _lonlats(gpx.waypoints), refused, labels=labels)
    tracks += [points] if points is not None else []
    said = (f"{path.name}: {empty} empty track segment{'s' if empty > 1 else ''} left out",) if empty else ()
    return TrackFile(file=path.name, tracks=tuple(tracks), refused=tuple(refused), said=said)


def _called(word: str, number: int, name: str | None) -> str:
    plain = "".join(letter for letter in " ".join((name or "").split()) if letter.isprintable())[:60]
    return f'{word} "{plain}"' if plain else f"{word} {number}"


def _lonlats(points: Iterable[Any]) -> list[tuple[float | None, float | None]]:
    return [(point.longitude, point.latitude) for point in points]


def _track(
    path: Path,
    what: str,
    kind: Kind,
    lonlats: Sequence[tuple[float | None, float | None]],
    refused: list[Refused],
    *,
    labels: Sequence[str] = (),
    group: str = "",
) -> Track | None:
    """Return a track of the places that can be; None when none is left."""
    name = f"{path.name}: {what}"
    good: list[int] = []
    for at, (lon, lat) in enumerate(lonlats):
        try:
            checked_position(float("nan") if lat is None else lat, float("nan") if lon is None else lon)
        except RingrowError as error:
            refused.append(Refused(what=f"{what}, point {at + 1}", why=why(error)))
        else:
            good.append(at)
    if not good:
        return None
    lon, lat = np.array([lonlats[at] for at in good], float).T
    kept = tuple(labels[at] for at in good) if labels else ()
    return Track(name=name, kind=kind, lon=lon, lat=lat, labels=kept, group=group or name)


# --- NMEA --------------------------------------------------------------------------------------


def _is_nmea(path: Path, data: bytes) -> bool:
    if path.suffix.lower() in (".nmea", ".nma"):
        return True
    return len(_ANY_SENTENCE.findall(data[:20_000].decode("ascii", "ignore"))) >= 2


def _read_nmea(path: Path, data: bytes) -> TrackFile:
    """Return the fixes of a log: GGA and RMC sentences, whatever stands before and behind each.

    A fix is one moment: it counts when neither sentence of that moment calls it void.
    """
    import pynmea2

    fixes: dict[tuple[object, int], tuple[float, float] | None] = {}
    bad: dict[str, int] = {}
    day, last = 0, None
    for number, line in enumerate(data.decode("ascii", "replace").splitlines(), start=1):
        match = _SENTENCE.search(line)
        if match is None:
            continue
        try:
            sentence = pynmea2.parse(match[0], check=True)
            moment, place = sentence.timestamp, _fix_of(sentence)
        except (pynmea2.ParseError, ValueError, AttributeError, TypeError) as error:
            reason = "a wrong or missing checksum" if isinstance(error, pynmea2.ChecksumError) else "broken"
            bad[reason] = bad.get(reason, 0) + 1
            continue
        except _NoFix as error:
            bad[str(error)] = bad.get(str(error), 0) + 1
            moment, place = sentence.timestamp, None
        if isinstance(moment, str):
            # The library hands back a time that is none as it was written.
            bad["broken"] = bad.get("broken", 0) + 1
            continue
        if moment is None:
            # Without a clock the line itself tells one fix from the next.
            moment = number
        elif last is not None and moment < last:
            day += 1
        last = moment if not isinstance(moment, int) else last
        key = (moment, day)
        fixes[key] = place if fixes.get(key, place) is not None else None
    kept = [place for place in fixes.values() if place is not None]
    refused: list[Refused] = [Refused(what=f"{count} sentences", why=text) for text, count in bad.items()]
    track = _track(path, "log", "track", kept, refused)
    return TrackFile(file=path.name, tracks=(track,) if track else (), refused=tuple(refused))


class _NoFix(Exception):  # noqa: N818 - no error, only the way out for a sentence without a place
    """A sentence that says it has no fix."""


def _fix_of(sentence: Any) -> tuple[float, float]:
    """Return longitude and latitude of a sentence that stands by its fix."""
    if sentence.sentence_type == "RMC":
        if sentence.status != "A":
            message = "void: the receiver had no fix"
            raise _NoFix(message)
        if sentence.data[11:12] and sentence.data[11] in ("E", "M", "S", "N"):
            message = "void: not from the sky"
            raise _NoFix(message)
    else:
        quality = int(sentence.gps_qual or 0)
        if quality == 0 or quality in _NO_FIX:
            message = f"void: {_NO_FIX.get(quality, 'the receiver had no fix')}"
            raise _NoFix(message)
    if not sentence.lat or not sentence.lon:
        message = "void: the receiver had no fix"
        raise _NoFix(message)
    return float(sentence.longitude), float(sentence.latitude)


# --- tables ------------------------------------------------------------------------------------


def _read_table(path: Path, data: bytes) -> TrackFile:
    column = _group_column(path, data)
    found = read_table(path, data, unit="ft", stated={"name": column} if column else None)
    rows = [row for row in found.rows if row.lat is not None and row.lon is not None]
    refused = list(found.refused)
    said = tuple(f"{path.name}: {text}" for text in found.said)
    if not column:
        labels = [row.name for row in rows]
        lonlats = [(row.lon, row.lat) for row in rows]
        points = _track(path, "points", "points", lonlats, refused, labels=labels)
        return TrackFile(
            file=path.name, tracks=(points,) if points else (), refused=tuple(refused), said=said
        )
    tracks = []
    for name in dict.fromkeys(row.name for row in rows):
        lonlats = [(row.lon, row.lat) for row in rows if row.name == name]
        track = _track(path, f"{column} {name}".strip(), "track", lonlats, refused)
        tracks += [track] if track is not None else []
    said = (*said, f'{path.name}: one track for each value of column "{column}"')
    return TrackFile(file=path.name, tracks=tuple(tracks), refused=tuple(refused), said=said)


def _group_column(path: Path, data: bytes) -> str | None:
    text, _ = decode(path, data)
    lines = (line for line in text.splitlines() if line.strip() and not line.casefold().startswith("sep="))
    first = next(lines, "")
    sign = max(",;\t|", key=first.count)
    names = next(csv.reader([first], delimiter=sign), [])
    by_plain = {plain_words(name): name.strip() for name in reversed(names)}
    return next((by_plain[word] for word in GROUP_WORDS if word in by_plain), None)


# --- vector files ------------------------------------------------------------------------------


def _read_vector(
    path: Path, *, where: Mapping[str, str] | None, layer: str | None, crs: str | None
) -> TrackFile:
    from ringrow.farm.faults import ShapeError
    from ringrow.farm.vectors import ENDINGS, cell_words, read_layer, select

    ending = path.suffix.lower()
    if ending not in ENDINGS:
        readable = (".gpx", *_NMEA_ENDINGS, *_TABLE_ENDINGS, *(name for name in ENDINGS if name != ".gpx"))
        message = f"{path}: found ending {ending or 'none'!r}; allowed: {', '.join(readable)}"
        raise FileError(message)
    if not path.exists():
        message = f"{path}: found no such file; allowed: a file of tracks, points or outlines"
        raise FileError(message)
    try:
        table = read_layer(path, layer=layer, crs=crs)
        chosen = select(table, where)
    except ShapeError as error:
        message = f"{path}: {error.key + ': ' if error.key else ''}{error}"
        raise GeometryError(message) from error
    column = next((name for name in table.columns if name.casefold() in ("name", "id", "field")), None)
    tracks: list[Track] = []
    refused: list[Refused] = []
    singles: list[tuple[float, float]] = []
    labels: list[str] = []
    for at in chosen.tolist():
        label = cell_words(table.columns[column][at]) if column else ""
        what = f'feature {at + 1} "{label[:60]}"' if label else f"feature {at + 1}"
        for part in _parts(table.geometries[at]):
            lonlats = [(float(x), float(y)) for x, y in shapely.get_coordinates(part)]
            if part.geom_type == "Point":
                singles += lonlats
                labels.append(label)
                continue
            kind: Kind = "polygon" if part.geom_type == "LinearRing" else "track"
            track = _track(path, what, kind, lonlats[:-1] if kind == "polygon" else lonlats, refused)
            tracks += [track] if track is not None else []
    points = _track(path, "points", "points", singles, refused, labels=labels)
    tracks += [points] if points is not None else []
    said = tuple(f"{path.name}: {remark}" for remark in table.remarks)
    return TrackFile(file=path.name, tracks=tuple(tracks), refused=tuple(refused), said=said)


def _parts(geometry: Any) -> list[Any]:
    """Return points, lines and outer rings of a shape, whatever holds them."""
    if geometry is None or geometry.is_empty:
        return []
    if geometry.geom_type == "Polygon":
        return [geometry.exterior]
    if hasattr(geometry, "geoms"):
        return [part for member in geometry.geoms for part in _parts(member)]
    return [geometry]


# --- choosing ----------------------------------------------------------------------------------

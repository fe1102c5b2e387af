"""Waypoints from GPX 1.0 and 1.1.

The file first passes a parser that refuses document types and entities and builds nothing
but the waypoints, so that neither a hostile file nor a day's track can fill the memory;
what is left goes to gpxpy.
"""

from __future__ import annotations

from datetime import UTC
from typing import TYPE_CHECKING
from xml.etree.ElementTree import Element, SubElement, tostring

from ringrow.errors import FileError, PlaceError, RingrowError, shortened
from ringrow.farm.readers.cells import position, read_status, read_time, texts_of
from ringrow.farm.readers.kml import uuid_or_none
from ringrow.farm.readers.own import GPX_NAMESPACE
from ringrow.farm.readers.plain_xml import parse_into
from ringrow.farm.readers.rows import PointFile, PointRow, Refused, check_count, why

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from gpxpy.gpx import GPXWaypoint

MAX_DEPTH = 50
"""Deepest nesting of elements that is read."""

_TEXTS = ("time", "name", "cmt", "desc", "sym", "type")
_OWN = f"{{{GPX_NAMESPACE}}}"


class _Waypoints:
    """Parser target that keeps the texts of waypoints and counts tracks and routes."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.root = ""
        self.points: list[dict[str, str]] = []
        self.counts = {"trk": 0, "rte": 0}
        self._open: list[str] = []
        self._own = ""

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        """Take note of an element that opens."""
        local = tag.rpartition("}")[2]
        self._open.append(local)
        self._own = f"own {local}" if tag.startswith(_OWN) else ""
        if len(self._open) > MAX_DEPTH:
            message = f"{self.path}: found elements nested deeper than {MAX_DEPTH}; allowed: a plain GPX file"
            raise FileError(message)
        if len(self._open) == 1:
            self.root = local
        elif len(self._open) == 2 and local == "wpt":
            self.points.append({"lat": attributes.get("lat", ""), "lon": attributes.get("lon", "")})
            check_count(self.path, len(self.points))
        elif len(self._open) == 2 and local in self.counts:
            self.counts[local] += 1

    def end(self, _tag: str) -> None:
        """Take note of an element that closes."""
        self._open.pop()
        self._own = ""

    def data(self, text: str) -> None:
        """Keep the text of a waypoint's own child."""
        if len(self._open) == 3 and self._open[1] == "wpt" and self._open[2] in _TEXTS:
            point = self.points[-1]
            point[self._open[2]] = point.get(self._open[2], "") + text
        elif self._own and len(self._open) == 4 and self._open[1:3] == ["wpt", "extensions"]:
            self.points[-1][self._own] = self.points[-1].get(self._own, "") + text

    def close(self) -> _Waypoints:
        """Give back what was kept."""
        return self


def read_gpx(path: Path, data: bytes) -> PointFile:
    """Return the waypoints of a GPX file.

    Parameters
    ----------
    path : Path
        The file, for its name.
    data : bytes
        What it holds.

    Returns
    -------
    PointFile
        Waypoints are counted from 1; tracks and routes are left out, and said so.

    Raises
    ------
    FileError
        If it is no GPX, is cut off, has entities or a document type, or holds too many waypoints.
    """
    found = parse_into(_Waypoints(path), path, data, kind="GPX")
    if found.root != "gpx":
        message = f"{path}: found an XML file whose root is {found.root[:40]!r}; allowed: gpx"
        raise FileError(message)
    rows, refused = _rows(path, found.points)
    others = sum(_is_other(point) for point in found.points)
    left = [
        f"{found.counts[tag]} {word}{'s' if found.counts[tag] != 1 else ''}"
        for tag, word in (("trk", "track"), ("rte", "route"))
        if found.counts[tag]
    ]
    said = [f"left out: {' and '.join(left)} (only waypoints become flags)"] if left else []
    said += [f"left out: {others} of an exported farm that are no flags"] if others else []
    return PointFile(file=path.name, form="gpx", rows=tuple(rows), refused=tuple(refused), said=tuple(said))


def _is_other(point: dict[str, str]) -> bool:
    """Return whether this program exported a waypoint that is no flag: a well, the gate."""
    return point.get("own feature", "flag") != "flag"


def _rows(path: Path, points: Sequence[dict[str, str]]) -> tuple[list[PointRow], list[Refused]]:
    rows: list[PointRow] = []
    refused: list[Refused] = []
    good: list[tuple[str, str, dict[str, str]]] = []
    kept: list[dict[str, str]] = []
    for number, point in enumerate(points, start=1):
        what = f"waypoint {number}"
        if _is_other(point):
            continue
        moment, remark = read_time(point.get("time", ""))
        try:
            lat, lon = position(point["lat"], point["lon"])
        except (RingrowError, ValueError) as error:
            refused.append(Refused(what=what, why=why(error)))
            continue
        good.append((what, remark, point))
        time = moment.isoformat() if moment else ""
        kept.append({**point, "lat": repr(lat), "lon": repr(lon), "time": time})
    for (what, remark, point), waypoint in zip(good, _with_gpxpy(path, kept), strict=True):
        try:
            rows.append(_row(what, waypoint, point, remark=remark))
        except RingrowError as error:
            refused.append(Refused(what=what, why=why(error)))
    return rows, refused


def _with_gpxpy(path: Path, points: Sequence[dict[str, str]]) -> list[GPXWaypoint]:
    import gpxpy
    from gpxpy.gpx import GPXException

    root = Element("gpx", {"version": "1.1", "xmlns": "http://www.topografix.com/GPX/1/1", "creator": ""})
    for point in points:
        element = SubElement(root, "wpt", {"lat": point["lat"], "lon": point["lon"]})
        for key in _TEXTS:
            if point.get(key):
                SubElement(element, key).text = point[key]
    try:
        return list(gpxpy.parse(tostring(root, encoding="unicode")).waypoints)
    except (GPXException, ValueError) as error:
        message = f"{path}: found waypoints that cannot be read ({shortened(error)}); allowed: GPX 1.0 or 1.1"
        raise FileError(message) from error


def _row(what: str, waypoint: GPXWaypoint, point: dict[str, str], *, remark: str) -> PointRow:
    own_id = uuid_or_none(point.get("own id"))
    name = (waypoint.name or "").strip()
    notes = [(text or "").strip() for text in (waypoint.description, waypoint.comment)]
    if own_id is not None:
        # An exported flag: its waypoint's name is number and kind, its description the place in words.
        name, notes = point.get("own name", ""), [(waypoint.comment or "").strip()]
    status, status_remark = read_status(point.get("own status", ""))
    if waypoint.latitude is None or waypoint.longitude is None:
        message = "found no latitude or longitude; allowed: both"
        raise PlaceError(message)
    return PointRow(
        what=what,
        lat=float(waypoint.latitude),
        lon=float(waypoint.longitude),
        time=waypoint.time.astimezone(UTC) if waypoint.time else None,
        id=own_id,
        status=status,
        remarks=tuple(text for text in (remark, status_remark) if text),
        **texts_of(
            {
                "name": name,
                "note": "; ".join(dict.fromkeys(text for text in notes if text and text != name)),
                "kind_words": waypoint.type or "",
                "symbol": waypoint.symbol or "",
            }
        ),
    )

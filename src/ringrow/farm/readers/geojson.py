"""Points from GeoJSON of any tool, and flags that come back with their ids and history."""

from __future__ import annotations

import json
import re
from collections import Counter
from typing import TYPE_CHECKING, Any

from ringrow.errors import FileError, PlaceError, RingrowError
from ringrow.farm.events import event_from_json, uuid_text
from ringrow.farm.readers.carried import read_carried
from ringrow.farm.readers.cells import checked_position, read_accuracy, read_status, read_time, texts_of
from ringrow.farm.readers.columns import guess_columns, without_place
from ringrow.farm.readers.rows import PointFile, PointRow, Refused, check_count, why
from ringrow.farm.readers.table import decode

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from ringrow.farm.events import Event
    from ringrow.farm.readers.columns import Columns

SCHEMA = 1
"""Schema number of ``properties.ringrow`` that this version reads."""
MAX_EVENTS = 5_000
"""Most events that one feature may carry."""

_MAX_NAMES = 500


class _LeftOut(Exception):  # noqa: N818 - no error, only the way out for a feature that is no flag
    """A feature that is not a point."""


def read_geojson(path: Path, data: bytes, *, unit: str, stated: Mapping[str, str] | None = None) -> PointFile:
    """Return the points of a GeoJSON file.

    Parameters
    ----------
    path : Path
        The file, for its name.
    data : bytes
        What it holds.
    unit : {"ft", "m"}
        Unit of a bare accuracy.
    stated : mapping of str to str or None, default None
        Properties the user states by role.

    Returns
    -------
    PointFile
        Features are counted from 1. Lines and areas are left out, and said so; a feature
        without geometry is kept when it carries an id or words.

    Raises
    ------
    FileError
        If it is no GeoJSON, is cut off, in other coordinates than WGS 84, of a newer schema,
        or holds too many features.
    """
    document = _parse(path, data)
    features = _features(path, document)
    names = list(dict.fromkeys(name for feature in features for name in _properties(feature)))[:_MAX_NAMES]
    try:
        columns = without_place(guess_columns(names, stated=stated))
    except RingrowError as error:
        message = f"{path}: {error}"
        raise FileError(message) from error
    rows: list[PointRow] = []
    refused: list[Refused] = []
    left: Counter[str] = Counter()
    for number, feature in enumerate(features, start=1):
        what = f"feature {number}"
        try:
            rows.append(_row(feature, columns, what=what, unit=columns.accuracy_unit or unit))
        except _LeftOut as shape:
            left[str(shape)] += 1
        except (RingrowError, ValueError, RecursionError) as error:
            text = "nested too deep" if isinstance(error, RecursionError) else why(error)
            refused.append(Refused(what=what, why=text))
    said = [columns.words().replace("columns:", "properties:")] if columns.index else []
    if columns.index.keys() & {"time", "date"}:
        said.append("times without a zone are taken as UTC")
    if left:
        shapes = ", ".join(f"{count} {shape}" for shape, count in sorted(left.items()))
        said.append(f"left out: {shapes} (only points become flags)")
    return PointFile(
        file=path.name, form="geojson", rows=tuple(rows), refused=tuple(refused), said=tuple(said)
    )


def _parse(path: Path, data: bytes) -> Any:
    text, _ = decode(path, data)
    try:
        return json.loads(text, parse_constant=_refuse_constant)
    except RecursionError as error:
        message = f"{path}: found JSON nested too deep; allowed: plain GeoJSON"
        raise FileError(message) from error
    except ValueError as error:
        message = f"{path}: found no valid JSON ({error}); is the file cut off?"
        raise FileError(message) from error


def _refuse_constant(name: str) -> float:
    message = f"{name} is no JSON number"
    raise ValueError(message)


def _features(path: Path, document: Any) -> list[Any]:
    kind = document.get("type") if isinstance(document, dict) else None
    if kind == "Feature":
        features = [document]
    elif kind == "FeatureCollection" and isinstance(document.get("features"), list):
        features = document["features"]
    else:
        message = f"{path}: found JSON of type {str(kind)[:40]!r}; allowed: a FeatureCollection or a Feature"
        raise FileError(message)
    check_count(path, len(features))
    _check_crs(path, document)
    for holder in (document, *features):
        own = _properties(holder).get("ringrow") if isinstance(holder, dict) else None
        schema = own.get("schema") if isinstance(own, dict) else None
        if isinstance(schema, int) and schema > SCHEMA:
            message = (
                f"{path}: found a file of schema {schema}; allowed: up to {SCHEMA}; "
                "it was written by a newer ringrow, so update this one"
            )
            raise FileError(message)
    return features


def _check_crs(path: Path, document: dict[str, Any]) -> None:
    # RFC 7946 has no crs; files of the older draft may name one.
    crs = document.get("crs")
    name = json.dumps(crs)[:2000] if crs else ""
    if name and not any(code in name for code in ("CRS84", "4326", "4979")):
        message = f"{path}: found coordinates of {name[:80]}; allowed: degrees of WGS 84 (RFC 7946)"
        raise FileError(message)


def _properties(feature: Any) -> dict[str, Any]:
    properties = feature.get("properties") if isinstance(feature, dict) else None
    return properties if isinstance(properties, dict) else {}


def _row(feature: Any, columns: Columns, *, what: str, unit: str) -> PointRow:
    if not isinstance(feature, dict) or feature.get("type") != "Feature":
        message = f"found {str(feature)[:40]!r}; allowed: a Feature"
        raise PlaceError(message)
    properties = _properties(feature)
    own = properties.get("feature")
    if isinstance(own, str) and own != "flag" and str(feature.get("id")).startswith(f"{own}:"):
        # What this program exported beside the flags: wells, the gate, boundaries.
        raise _LeftOut("of an exported farm that are no flags")
    place = _place(feature.get("geometry"))
    id_ = _own_id(feature)
    events = _events(properties.get("events"), flag=id_)
    carried, photo_remarks = (
        read_carried(properties.get("photos"), flag=id_, events=events) if id_ and events else ((), ())
    )
    cells = {role: _text(properties.get(columns.names[at])) for role, at in columns.index.items()}
    time, time_remark = read_time(cells.get("time") or f"{cells.get('date', '')} {cells.get('hour', '')}")
    accuracy, accuracy_remark = read_accuracy(cells.get("accuracy", ""), unit=unit)
    status, status_remark = read_status(cells.get("status", ""))
    texts = texts_of({**cells, "kind_words": cells.get("kind", "")})
    if own == "flag" and re.fullmatch(r"Flag \d+", texts["name"]):
        # An exported flag's label for maps of other tools; it is no name of its own.
        texts["name"] = ""
    if place is None and id_ is None and not (texts["name"] or texts["note"]):
        message = "found neither a place nor an id nor words; allowed: one of them at least"
        raise PlaceError(message)
    return PointRow(
        what=what,
        lat=place[0] if place else None,
        lon=place[1] if place else None,
        time=time,
        accuracy=accuracy,
        status=status,
        id=id_,
        events=events,
        carried=carried,
        told_by_events=bool(events) and isinstance(properties.get("ringrow"), dict),
        remarks=tuple(text for text in (time_remark, accuracy_remark, status_remark, *photo_remarks) if text),
        **texts,
    )


def _place(geometry: Any) -> tuple[float, float] | None:
    """Return latitude and longitude of a point; None for a null geometry."""
    if geometry is None:
        return None
    shape = geometry.get("type") if isinstance(geometry, dict) else None
    if shape in ("LineString", "Polygon", "MultiLineString", "MultiPolygon", "GeometryCollection"):
        raise _LeftOut(shape)
    at = geometry.get("coordinates") if isinstance(geometry, dict) else None
    if shape == "MultiPoint" and isinstance(at, list) and len(at) == 1:
        at = at[0]
    elif shape != "Point":
        message = f"found geometry {str(shape or geometry)[:40]!r}; allowed: Point or null"
        raise PlaceError(message)
    if not isinstance(at, list) or len(at) < 2 or not all(_is_number(value) for value in at[:2]):
        message = f"found coordinates {str(at)[:40]}; allowed: [longitude, latitude]"
        raise PlaceError(message)
    return checked_position(float(at[1]), float(at[0]))


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < 1e12


def _own_id(feature: dict[str, Any]) -> str | None:
    """Return the UUID a feature carries as its id; other tools' ids are no ids of ours."""
    try:
        return uuid_text(feature.get("id"))
    except RingrowError:
        return None


def _events(plain: Any, *, flag: str | None) -> tuple[Event, ...]:
    if not isinstance(plain, list) or not plain:
        return ()
    if flag is None:
        if isinstance(plain[0], dict) and {"flag", "field", "value"} <= plain[0].keys():
            message = "found a flag's history without the flag's id; allowed: the feature with its id"
            raise PlaceError(message)
        return ()
    if len(plain) > MAX_EVENTS:
        message = f"found {len(plain):,} events; allowed: up to {MAX_EVENTS:,}"
        raise PlaceError(message)
    events = tuple(event_from_json(item) for item in plain)
    strange: Sequence[Event] = [event for event in events if event.flag != flag]
    if strange:
        message = f"event {strange[0].id}: found flag {strange[0].flag}; allowed: the feature's own id {flag}"
        raise PlaceError(message)
    return events


def _text(value: Any) -> str:
    if value is None or isinstance(value, dict | list):
        return ""
    return value if isinstance(value, str) else json.dumps(value)

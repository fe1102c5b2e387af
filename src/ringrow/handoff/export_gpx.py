"""GPX 1.1: flags, wells and the gate as waypoints for handhelds and phones.

A waypoint's name is the flag's number and kind, its description the place in words, its comment
the note, its type the kind. What GPX has no element for stands among the extensions, in a
namespace of our own, so that the file comes back through ``flag import`` as the same flags.
"""

from __future__ import annotations

from typing import TYPE_CHECKING
from xml.etree.ElementTree import Element
from xml.sax.saxutils import escape

import gpxpy.gpx

from ringrow.farm.readers.own import GPX_NAMESPACE
from ringrow.handoff.export_words import flag_label, well_words, without_position, xml_text
from ringrow.handoff.files import open_whole
from ringrow.handoff.flag_table import system_of
from ringrow.handoff.geojson import DECIMALS
from ringrow.handoff.languages import _
from ringrow.handoff.number_words import one_line
from ringrow.handoff.place_words import flag_words

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from ringrow.farm.flag_model import LocatedFlag
    from ringrow.farm.model import Farm
    from ringrow.units import UnitSystem

PREFIX = "ringrow"
"""Prefix of our own elements in the file."""

_SYMBOLS = {"flag": "Flag", "well": "Well", "gate": "Gate"}


def write_gpx(farm: Farm, flags: Sequence[LocatedFlag], path: Path) -> dict[str, int]:
    """Write flags, wells and the gate as waypoints, whole or not at all.

    Parameters
    ----------
    farm : Farm
        The farm; its wells, gate and units.
    flags : sequence of LocatedFlag
        Flags; those without a position are left out.
    path : Path
        File to write; one that is there is replaced.

    Returns
    -------
    dict of str to int
        Waypoints of each kind.

    Raises
    ------
    FileError
        If the file cannot be written.
    """
    book = gpxpy.gpx.GPX()
    book.creator = "ringrow"
    book.name = xml_text(one_line(farm.name))
    book.nsmap[PREFIX] = GPX_NAMESPACE
    left_out = {id(flag) for flag in without_position(flags)}
    points = {
        "flag": [_flag(flag, farm.units) for flag in flags if id(flag) not in left_out],
        "well": _wells(farm),
        "gate": [_waypoint("gate", *farm.gate, name=_("Gate"))] if farm.gate is not None else [],
    }
    book.waypoints = [point for group in points.values() for point in group]
    # A carriage return in a text must be written as a reference: readers turn a bare one into a line feed.
    text = book.to_xml(version="1.1").replace("\r", "&#13;")
    with open_whole(path) as stream:
        stream.write(text)
    return {kind: len(group) for kind, group in points.items() if group}


def _flag(flag: LocatedFlag, units: UnitSystem) -> gpxpy.gpx.GPXWaypoint:
    state = flag.state
    own = {
        "id": state.id,
        "number": str(state.number),
        "status": state.status,
        "class": flag.flag_class,
        "field": flag.field or "",
        "system": system_of(flag) or "",
        "name": state.name,
        "set-by": state.set_by,
    }
    point = _waypoint(
        "flag",
        flag.lon or 0.0,
        flag.lat or 0.0,
        name=flag_label(flag),
        words=flag_words(flag, units),
        note=state.note,
        own=own,
    )
    point.type = xml_text(one_line(state.kind))
    point.time = state.set_at
    return point


def _wells(farm: Farm) -> list[gpxpy.gpx.GPXWaypoint]:
    return [
        _waypoint("well", well.lon, well.lat, name=well.name, words=well_words(well), note=well.notes)
        for well in farm.wells
    ]


def _waypoint(
    kind: str,
    lon: float,
    lat: float,
    *,
    name: str,
    words: str = "",
    note: str = "",
    own: Mapping[str, str] | None = None,
) -> gpxpy.gpx.GPXWaypoint:
    lon = round(lon, DECIMALS) + 0.0
    point = gpxpy.gpx.GPXWaypoint(
        latitude=round(lat, DECIMALS) + 0.0,
        # GPX counts longitude from -180 up to, but not including, 180.
        longitude=lon - 360.0 if lon >= 180.0 else lon,
        name=xml_text(one_line(name)),
        description=xml_text(one_line(words)) or None,
        comment=xml_text(note) or None,
        symbol=_SYMBOLS[kind],
        type=kind,
    )
    point.extensions = [
        _own("feature", kind),
        *(_own(key, text) for key, text in (own or {}).items() if text),
    ]
    return point


def _own(tag: str, text: str) -> Element:
    element = Element(f"{{{GPX_NAMESPACE}}}{tag}")
    # The library writes the text of extensions as it stands, so its signs are escaped here.
    element.text = escape(xml_text(text))
    return element

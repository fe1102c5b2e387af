"""KML 2.2 and KMZ: the farm as folders a globe viewer shows, with flags as numbered shapes.

No file or address outside the document is named, icons neither: a flag is a label and a small
shape on the ground, in the same shapes and colours as on the map.
"""

from __future__ import annotations

import json
import math
import zipfile
from html import escape
from typing import TYPE_CHECKING, Any
from xml.etree.ElementTree import Element, SubElement, tostring

import numpy as np
import shapely

from ringrow.handoff.assumed_words import said_again
from ringrow.handoff.export_words import flag_label, well_words, xml_text
from ringrow.handoff.files import whole_file
from ringrow.handoff.geojson import DECIMALS, round_shapes
from ringrow.handoff.languages import N_, _
from ringrow.handoff.map.symbols import CIRCLE_RADIUS, FILLS, SHAPES, STATUS_WORDS
from ringrow.handoff.map.words import flag_title
from ringrow.handoff.number_words import one_line
from ringrow.handoff.place_sentences import SIDES

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence
    from pathlib import Path

    from shapely.geometry.base import BaseGeometry

    from ringrow.farm.flag_model import LocatedFlag
    from ringrow.farm.model import Farm
    from ringrow.handoff.feature_group import FeatureGroup
    from ringrow.handoff.geojson import Mending

FLAG_SIZE_M = 12.0
"""Width on the ground of a flag's shape [m]."""

_SYMBOL_PX = 44.0
_DEGREE_M = 111_320.0
_FIRST_DAY = (1980, 1, 1, 0, 0, 0)

# Folder of each kind in its field, in drawing order; what is not named goes to the last one.
_FOLDERS = {
    "boundary": N_("Boundary and ground not farmed"),
    "exclusion": N_("Boundary and ground not farmed"),
    "wetted-area": N_("Watered ground"),
    "pivot-base": N_("Parts of machines"),
    "end-gun-ring": N_("Parts of machines"),
    "corner-arm-sweep": N_("Parts of machines"),
    "bend": N_("Parts of machines"),
    "dry-piece": N_("Dry ground"),
    "edge-strips": N_("Dry ground"),
    "keep-off": N_("What guns keep off"),
    "tower-track": N_("Wheel tracks"),
    "arm-wheel-path": N_("Wheel tracks"),
    "cart-path": N_("Wheel tracks"),
    "pivot-road": N_("Roads to pivot points"),
    "lateral": N_("Laterals"),
    "header": N_("Header and flush lines"),
    "flush-line": N_("Header and flush lines"),
    "flag": N_("Flags"),
}
_LAST_FOLDER = N_("Parts of machines")
# Viewers draw everything at once; these would hide what matters until somebody ticks them.
_HIDDEN = frozenset({N_("Parts of machines"), N_("Laterals")})

_KINDS = {
    "boundary": N_("Boundary"),
    "exclusion": N_("Exclusion"),
    "keep-off": N_("Keep off"),
    "wetted-area": N_("Wetted area"),
    "pivot-base": N_("Pivot base"),
    "end-gun-ring": N_("End gun ring"),
    "corner-arm-sweep": N_("Corner arm sweep"),
    "bend": N_("Bend"),
    "bent-pipe": N_("Bent pipe"),
    "dry-piece": N_("Dry piece"),
    "edge-strips": N_("Edge strips"),
    "pivot-point": N_("Pivot point"),
    "tower": N_("Tower"),
    "tower-track": N_("Tower track"),
    "arm-station": N_("Arm station"),
    "arm-wheel-path": N_("Arm wheel path"),
    "cart-path": N_("Cart path"),
    "pivot-road": N_("Pivot road"),
    "lateral": N_("Lateral"),
    "header": N_("Header"),
    "flush-line": N_("Flush line"),
    "well": N_("Well"),
    "gate": N_("Gate"),
}

# Red, green and blue of line and fill, opacity of the fill, line width in pixels.
_LOOKS: dict[str, tuple[str, str, int, float]] = {
    "boundary": ("#000000", "#ffffff", 0, 3.0),
    "exclusion": ("#000000", "#8c8c8c", 110, 1.5),
    "wetted-area": ("#1b4f72", "#cfe6f5", 120, 2.0),
    "dry-piece": ("#6b5310", "#f4e7c9", 130, 1.5),
    "edge-strips": ("#6b5310", "#f4e7c9", 130, 1.0),
    "keep-off": ("#cc79a7", "#cc79a7", 120, 3.0),
    "tower-track": ("#444444", "#ffffff", 0, 1.0),
    "pivot-road": ("#6b5310", "#ffffff", 0, 4.0),
    "lateral": ("#1b4f72", "#ffffff", 0, 1.0),
    "header": ("#1b4f72", "#ffffff", 0, 3.0),
    "flush-line": ("#1b4f72", "#ffffff", 0, 3.0),
}
_OTHER_LOOK = ("#5b3a8c", "#d9cdea", 90, 1.5)


def write_kml(
    farm: Farm, groups: Iterable[FeatureGroup], flags: Sequence[LocatedFlag], path: Path
) -> tuple[dict[str, int], tuple[Mending, ...]]:
    """Write features as KML, or packed as KMZ when the name ends so; whole or not at all.

    Parameters
    ----------
    farm : Farm
        The farm.
    groups : iterable of FeatureGroup
        Its features.
    flags : sequence of LocatedFlag
        Its flags, for their labels.
    path : Path
        File to write; one that is there is replaced.

    Returns
    -------
    counts : dict of str to int
        Features of each kind.
    mended : tuple of Mending
        Shapes that rounding had made invalid and that were mended.

    Raises
    ------
    FileError
        If the file cannot be written.
    """
    root, counts, mended = _document(farm, groups, flags)
    text = '<?xml version="1.0" encoding="UTF-8"?>\n' + tostring(root, encoding="unicode") + "\n"
    # A carriage return in a text must be written as a reference: readers turn a bare one into a line feed.
    data = text.replace("\r", "&#13;").encode()
    with whole_file(path) as part:
        if path.suffix.lower() == ".kmz":
            with zipfile.ZipFile(part, "w", zipfile.ZIP_DEFLATED) as archive:
                # A fixed day, so that the same farm gives the same file.
                archive.writestr(zipfile.ZipInfo("doc.kml", _FIRST_DAY), data, zipfile.ZIP_DEFLATED)
        else:
            part.write_bytes(data)
    return counts, mended


def _document(
    farm: Farm, groups: Iterable[FeatureGroup], flags: Sequence[LocatedFlag]
) -> tuple[Element, dict[str, int], tuple[Mending, ...]]:
    root = Element("kml", {"xmlns": "http://www.opengis.net/kml/2.2"})
    document = SubElement(root, "Document")
    _text(document, "name", one_line(farm.name))
    for style in _styles():
        document.append(style)
    folders = _Folders(document, [field.name for field in farm.fields])
    labels = {flag.state.id: flag for flag in flags}
    wells = {well.name: well_words(well) for well in farm.wells}
    counts: dict[str, int] = {}
    mended: list[Mending] = []
    for group in groups:
        rounded = round_shapes(group.shapes, group.ids)
        mended += rounded.mended
        counts[group.kind] = counts.get(group.kind, 0) + len(group)
        for index, shape in enumerate(rounded.shapes):
            properties = {**group.properties(index), "id": group.ids[index]}
            if group.kind == "flag":
                mark = _flag_placemark(labels[group.ids[index]], shape, properties)
            else:
                words = wells.get(properties["name"], "") if group.kind == "well" else ""
                mark = _placemark(shape, properties, words=words)
            folders.add(mark, properties)
    folders.close()
    return root, counts, tuple(mended)


class _Folders:
    """The folders of a document: one a field with one a kind in it, and one for what has no field."""

    def __init__(self, document: Element, fields: Sequence[str]) -> None:
        self._document = document
        self._tree: dict[str, dict[str, list[Element]]] = {field: {} for field in fields}

    def add(self, mark: Element, properties: Mapping[str, Any]) -> None:
        """Put a placemark where it belongs."""
        kind, field = properties["feature"], properties.get("field")
        if field is None:
            top, inner = (_("Other flags") if kind == "flag" else _("Wells and gate")), ""
        else:
            top, inner = field, _FOLDERS.get(kind, _LAST_FOLDER)
        self._tree.setdefault(top, {}).setdefault(inner, []).append(mark)

    def close(self) -> None:
        """Write the folders that hold something."""
        order = {name: place for place, name in enumerate(dict.fromkeys(_FOLDERS.values()))}
        for top, inner in self._tree.items():
            if not inner:
                continue
            folder = _folder(self._document, top)
            for name in sorted(inner, key=lambda name: order.get(name, 0)):
                within = _folder(folder, _(name)) if name else folder
                within.extend(inner[name])


def _folder(parent: Element, name: str) -> Element:
    folder = SubElement(parent, "Folder")
    _text(folder, "name", one_line(name))
    return folder


def _styles() -> Iterator[Element]:
    for kind, look in [*_LOOKS.items(), ("other", _OTHER_LOOK)]:
        yield _style(kind, *look)
    for status, fill in FILLS.items():
        yield _style(f"flag-{status}", "#000000", fill, 230, 2.0, label=True)
    yield _style("place", "#000000", "#ffffff", 230, 2.0, label=True)


def _style(name: str, line: str, fill: str, opacity: int, width: float, *, label: bool = False) -> Element:
    style = Element("Style", {"id": name})
    icon = SubElement(style, "IconStyle")
    # No icon at all: the usual one would come from the network.
    _text(icon, "scale", "0")
    SubElement(icon, "Icon")
    labels = SubElement(style, "LabelStyle")
    _text(labels, "color", "ffffffff")
    _text(labels, "scale", "1" if label else "0")
    lines = SubElement(style, "LineStyle")
    _text(lines, "color", _colour(line, 255))
    _text(lines, "width", f"{width:g}")
    area = SubElement(style, "PolyStyle")
    _text(area, "color", _colour(fill, opacity))
    _text(area, "fill", "1" if opacity else "0")
    balloon = SubElement(style, "BalloonStyle")
    _text(balloon, "text", "$[description]")
    return style


def _colour(html: str, opacity: int) -> str:
    """Return a colour as KML writes it: opacity, blue, green, red."""
    return f"{opacity:02x}{html[5:7]}{html[3:5]}{html[1:3]}"


def _flag_placemark(flag: LocatedFlag, point: BaseGeometry | None, properties: dict[str, Any]) -> Element:
    state = flag.state
    lines = [
        flag_title(flag),
        properties.get("place") or "",
        _(STATUS_WORDS.get(state.status, state.status)),
        state.note,
    ]
    mark = _mark(flag_label(flag), lines, f"flag-{state.status if state.status in FILLS else 'open'}")
    _when(mark, properties)
    _data(mark, properties)
    if point is not None:
        both = SubElement(mark, "MultiGeometry")
        _shape(both, point)
        _shape(both, _symbol(state.status, point.x, point.y))
    return mark


def _when(mark: Element, properties: Mapping[str, Any]) -> None:
    # The schema wants the time before the style.
    stamp = Element("TimeStamp")
    _text(stamp, "when", properties["set_at"])
    mark.insert(list(mark).index(mark.find("styleUrl")), stamp)  # type: ignore[arg-type]


def _placemark(shape: BaseGeometry | None, properties: dict[str, Any], *, words: str) -> Element:
    kind, name = properties["feature"], str(properties.get("name", ""))
    name = _("gate") if kind == "gate" else said_again(name) if kind in ("dry-piece", "edge-strips") else name
    number = next((properties[key] for key in ("tower", "lateral", "number") if key in properties), None)
    side = _(SIDES[properties["side"]]) if properties.get("side") in SIDES else ""
    label = name if number is None else f"{name} {side} {number}"
    if properties.get("piece"):
        label += properties["piece"]
    is_place = kind in ("well", "gate")
    mark = _mark(
        label,
        [f"{_kind_words(kind)}: {name}", words, str(properties.get("notes") or "")],
        "place" if is_place else kind if kind in _LOOKS else "other",
        hidden=not is_place and _FOLDERS.get(kind, _LAST_FOLDER) in _HIDDEN,
    )
    _data(mark, properties)
    if shape is not None:
        _shape(mark, shape)
    return mark


def _kind_words(kind: str) -> str:
    return _(_KINDS.get(kind, kind.replace("-", " ").capitalize()))


def _mark(label: str, lines: Sequence[str], style: str, *, hidden: bool = False) -> Element:
    mark = Element("Placemark")
    _text(mark, "name", one_line(label))
    if hidden:
        _text(mark, "visibility", "0")
    # Viewers show a description as a web page, so what is text must stay text there too.
    _text(mark, "description", "<br/>".join(escape(line) for line in lines if line))
    _text(mark, "styleUrl", f"#{style}")
    return mark


def _data(mark: Element, properties: Mapping[str, Any]) -> None:
    extended = SubElement(mark, "ExtendedData")
    for key, value in properties.items():
        text = _value_text(value)
        if text:
            data = SubElement(extended, "Data", {"name": xml_text(key)})
            _text(data, "value", text)


def _value_text(value: Any) -> str:
    """Return a property as text; nothing for what is empty or no number."""
    if isinstance(value, np.ndarray | np.generic):
        value = value.tolist()
    if value is None or value == [] or (isinstance(value, float) and not math.isfinite(value)):
        return ""
    return value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)


def _symbol(status: str, lon: float, lat: float) -> BaseGeometry:
    """Return a flag's shape on the ground; drawn by eye, so a round earth will do."""
    if status == "checked":
        turn = np.radians(np.arange(0, 360, 15))
        corners = CIRCLE_RADIUS * np.column_stack([np.sin(turn), -np.cos(turn)])
    else:
        corners = np.array(SHAPES.get(status, SHAPES["open"]))
    step = FLAG_SIZE_M / _SYMBOL_PX / _DEGREE_M
    east = lon + corners[:, 0] * step / max(math.cos(math.radians(lat)), 1e-3)
    north = lat - corners[:, 1] * step
    return shapely.orient_polygons(shapely.Polygon(np.column_stack([east, north])))


def _shape(parent: Element, shape: BaseGeometry) -> None:
    parts = shapely.get_parts(shape)
    if len(parts) > 1:
        parent = SubElement(parent, "MultiGeometry")
    for part in parts:
        if part.geom_type == "Point":
            _text(SubElement(parent, "Point"), "coordinates", _coordinates(part))
        elif part.geom_type == "LineString":
            line = SubElement(parent, "LineString")
            _text(line, "tessellate", "1")
            _text(line, "coordinates", _coordinates(part))
        else:
            _polygon(parent, part)


def _polygon(parent: Element, polygon: BaseGeometry) -> None:
    area = SubElement(parent, "Polygon")
    _text(area, "tessellate", "1")
    for side, ring in [
        ("outerBoundaryIs", polygon.exterior),
        *(("innerBoundaryIs", hole) for hole in polygon.interiors),
    ]:
        _text(SubElement(SubElement(area, side), "LinearRing"), "coordinates", _coordinates(ring))


def _coordinates(shape: BaseGeometry) -> str:
    return " ".join(
        f"{_degrees(lon)},{_degrees(lat)}" for lon, lat in shapely.get_coordinates(shape).tolist()
    )


def _degrees(value: float) -> str:
    return f"{round(value, DECIMALS) + 0.0:.{DECIMALS}f}".rstrip("0").rstrip(".")


def _text(parent: Element, tag: str, text: str) -> None:
    SubElement(parent, tag).text = xml_text(text)

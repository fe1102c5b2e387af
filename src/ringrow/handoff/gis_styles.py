"""Looks of layers in the two style languages of desktop GIS: QML and SLD.

Few signs, the map's own shapes and colours: flags by status, ground by kind.
"""

from __future__ import annotations

from dataclasses import dataclass
from xml.etree.ElementTree import Element, SubElement, tostring

from ringrow.handoff.languages import _
from ringrow.handoff.map.symbols import FILLS, STATUS_WORDS


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """How a layer is drawn.

    Parameters
    ----------
    line : str
        Colour of its line, as ``#rrggbb``.
    fill : str
        Colour of its ground; empty for none.
    opacity : float, default 1
        Of the fill, 0 to 1. [-]
    width_mm : float, default 0.3
        Of the line on paper. [mm]
    label : str, default ""
        Column that is written beside a point.
    """

    line: str
    fill: str = ""
    opacity: float = 1.0
    width_mm: float = 0.3
    label: str = ""


LOOKS: dict[str, Look] = {
    "boundaries": Look(line="#000000", width_mm=0.7),
    "exclusions": Look(line="#000000", fill="#8c8c8c", opacity=0.5),
    "wetted": Look(line="#1b4f72", fill="#cfe6f5", opacity=0.5, width_mm=0.4),
    "wetted_parts": Look(line="#5b3a8c", width_mm=0.2),
    "dry_pieces": Look(line="#6b5310", fill="#f4e7c9", opacity=0.6),
    "tracks": Look(line="#444444", width_mm=0.2),
    "keep_off_areas": Look(line="#000000", fill="#cc79a7", opacity=0.5),
    "keep_off_lines": Look(line="#cc79a7", width_mm=0.7),
    "keep_off_points": Look(line="#000000", fill="#cc79a7"),
    "laterals": Look(line="#1b4f72", width_mm=0.15),
    "pipes": Look(line="#1b4f72", width_mm=0.6),
    "points": Look(line="#000000", fill="#ffffff"),
    "wells": Look(line="#000000", fill="#0072b2", label="name"),
    "flags": Look(line="#000000", fill="#d55e00", label="number"),
}
"""How each layer is drawn; flags take their colour and shape from their status."""

POINT_MM = 2.0
"""Width of a point's sign [mm]."""
FLAG_MM = 4.0
"""Width of a flag's sign [mm]."""

_MARKS = {"open": "triangle", "fixed": "diamond", "checked": "circle", "not-a-fault": "square"}
# SLD knows few signs by name; a square turned by 45 degrees is a diamond.
_SLD_MARKS = {"diamond": ("square", 45)}
_PX_PER_MM = 1 / 0.28
_SLD = "http://www.opengis.net/sld"
_OGC = "http://www.opengis.net/ogc"


def layer_qml(name: str, shape: str) -> str:
    """Return the look of a layer as QML.

    Parameters
    ----------
    name : str
        Name of the layer.
    shape : {"Point", "LineString", "Polygon"}
        What its shapes are.

    Returns
    -------
    str
        XML text.
    """
    look = LOOKS[name]
    root = Element("qgis", {"version": "3.0", "styleCategories": "Symbology|Labeling"})
    if name == "flags":
        renderer = SubElement(
            root, "renderer-v2", {"type": "categorizedSymbol", "attr": "status", "enableorderby": "0"}
        )
        categories = SubElement(renderer, "categories")
        symbols = SubElement(renderer, "symbols")
        for number, (status, mark) in enumerate(_MARKS.items()):
            words = {
                "value": status,
                "symbol": str(number),
                "label": _(STATUS_WORDS[status]),
                "render": "true",
            }
            SubElement(categories, "category", words)
            symbols.append(
                _qml_symbol(str(number), shape, look, mark=mark, fill=FILLS[status], size_mm=FLAG_MM)
            )
    else:
        renderer = SubElement(root, "renderer-v2", {"type": "singleSymbol", "enableorderby": "0"})
        symbols = SubElement(renderer, "symbols")
        symbols.append(_qml_symbol("0", shape, look, mark="circle", fill=look.fill, size_mm=POINT_MM))
    if look.label:
        root.append(_qml_label(look.label))
    return "<!DOCTYPE qgis>\n" + tostring(root, encoding="unicode")


def _qml_symbol(name: str, shape: str, look: Look, *, mark: str, fill: str, size_mm: float) -> Element:
    kind, drawn, options = {
        "Point": (
            "marker",
            "SimpleMarker",
            {
                "name": mark,
                "color": _rgba(fill or "#ffffff"),
                "outline_color": _rgba(look.line),
                "outline_width": f"{look.width_mm:g}",
                "outline_width_unit": "MM",
                "size": f"{size_mm:g}",
                "size_unit": "MM",
            },
        ),
        "LineString": (
            "line",
            "SimpleLine",
            {
                "line_color": _rgba(look.line),
                "line_width": f"{look.width_mm:g}",
                "line_width_unit": "MM",
                "line_style": "solid",
            },
        ),
        "Polygon": (
            "fill",
            "SimpleFill",
            {
                "color": _rgba(fill or "#ffffff", look.opacity if fill else 0.0),
                "style": "solid" if fill else "no",
                "outline_color": _rgba(look.line),
                "outline_width": f"{look.width_mm:g}",
                "outline_width_unit": "MM",
                "outline_style": "solid",
            },
        ),
    }[shape]
    symbol = Element("symbol", {"name": name, "type": kind, "alpha": "1", "clip_to_extent": "1"})
    layer = SubElement(symbol, "layer", {"class": drawn, "enabled": "1", "pass": "0", "locked": "0"})
    table = SubElement(layer, "Option", {"type": "Map"})
    for key, value in options.items():
        SubElement(table, "Option", {"name": key, "type": "QString", "value": value})
    return symbol


def _qml_label(column: str) -> Element:
    labeling = Element("labeling", {"type": "simple"})
    settings = SubElement(labeling, "settings")
    style = {
        "fieldName": column,
        "isExpression": "0",
        "fontSize": "9",
        "fontSizeUnit": "Point",
        "textColor": _rgba("#000000"),
    }
    text = SubElement(settings, "text-style", style)
    halo = {"bufferDraw": "1", "bufferSize": "0.8", "bufferSizeUnits": "MM", "bufferColor": _rgba("#ffffff")}
    SubElement(text, "text-buffer", halo)
    SubElement(settings, "placement", {"placement": "6", "dist": "1", "distUnits": "MM"})
    return labeling


def _rgba(html: str, opacity: float = 1.0) -> str:
    red, green, blue = (int(html[at : at + 2], 16) for at in (1, 3, 5))
    return f"{red},{green},{blue},{round(255 * opacity)}"


def layer_sld(name: str, shape: str) -> str:
    """Return the look of a layer as SLD 1.0.

    Parameters
    ----------
    name : str
        Name of the layer.
    shape : {"Point", "LineString", "Polygon"}
        What its shapes are.

    Returns
    -------
    str
        XML text.
    """
    look = LOOKS[name]
    root = Element("StyledLayerDescriptor", {"xmlns": _SLD, "xmlns:ogc": _OGC, "version": "1.0.0"})
    layer = SubElement(root, "NamedLayer")
    SubElement(layer, "Name").text = name
    style = SubElement(SubElement(layer, "UserStyle"), "FeatureTypeStyle")
    if name == "flags":
        for status, mark in _MARKS.items():
            rule = SubElement(style, "Rule")
            SubElement(rule, "Name").text = _(STATUS_WORDS[status])
            equal = SubElement(SubElement(rule, "ogc:Filter"), "ogc:PropertyIsEqualTo")
            SubElement(equal, "ogc:PropertyName").text = "status"
            SubElement(equal, "ogc:Literal").text = status
            _sld_symbol(rule, shape, look, mark=mark, fill=FILLS[status], size_mm=FLAG_MM)
    else:
        rule = SubElement(style, "Rule")
        _sld_symbol(rule, shape, look, mark="circle", fill=look.fill, size_mm=POINT_MM)
    if look.label:
        _sld_label(SubElement(style, "Rule"), look.label)
    return tostring(root, encoding="unicode")


def _sld_symbol(rule: Element, shape: str, look: Look, *, mark: str, fill: str, size_mm: float) -> None:
    if shape == "LineString":
        _sld_stroke(SubElement(rule, "LineSymbolizer"), look)
        return
    if shape == "Polygon":
        area = SubElement(rule, "PolygonSymbolizer")
        if fill:
            _sld_fill(area, fill, look.opacity)
        _sld_stroke(area, look)
        return
    graphic = SubElement(SubElement(rule, "PointSymbolizer"), "Graphic")
    drawn = SubElement(graphic, "Mark")
    known, turn_deg = _SLD_MARKS.get(mark, (mark, 0))
    SubElement(drawn, "WellKnownName").text = known
    _sld_fill(drawn, fill or "#ffffff", 1.0)
    _sld_stroke(drawn, look)
    SubElement(graphic, "Size").text = f"{size_mm * _PX_PER_MM:.1f}"
    if turn_deg:
        SubElement(graphic, "Rotation").text = str(turn_deg)


def _sld_fill(parent: Element, fill: str, opacity: float) -> None:
    element = SubElement(parent, "Fill")
    SubElement(element, "CssParameter", {"name": "fill"}).text = fill
    SubElement(element, "CssParameter", {"name": "fill-opacity"}).text = f"{opacity:g}"


def _sld_stroke(parent: Element, look: Look) -> None:
    element = SubElement(parent, "Stroke")
    SubElement(element, "CssParameter", {"name": "stroke"}).text = look.line
    SubElement(element, "CssParameter", {"name": "stroke-width"}).text = f"{look.width_mm * _PX_PER_MM:.1f}"


def _sld_label(rule: Element, column: str) -> None:
    text = SubElement(rule, "TextSymbolizer")
    SubElement(SubElement(text, "Label"), "ogc:PropertyName").text = column
    font = SubElement(text, "Font")
    SubElement(font, "CssParameter", {"name": "font-size"}).text = "12"
    halo = SubElement(text, "Halo")
    SubElement(halo, "Radius").text = "2"
    _sld_fill(halo, "#ffffff", 1.0)
    _sld_fill(text, "#000000", 1.0)

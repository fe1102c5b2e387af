"""The map file: folium's page with our own parts, everything inside, nothing fetched."""

from __future__ import annotations

import base64
import hashlib
import re
from html import escape
from importlib import resources
from typing import TYPE_CHECKING, Any

import folium
import shapely
from branca.element import Element, Figure
from folium.template import Template

from ringrow.coverage.acres import field_acres, total_acres
from ringrow.geometry.lateral_grid import lateral_lines
from ringrow.handoff.feature_group import to_lonlat
from ringrow.handoff.features import farm_points
from ringrow.handoff.field_features import field_features
from ringrow.handoff.flag_table import by_class
from ringrow.handoff.languages import _, spoken_language
from ringrow.handoff.map import sections
from ringrow.handoff.map.data import map_data, page_counts
from ringrow.handoff.map.drawing import Guide
from ringrow.handoff.map.leaflet import LeafletFiles, leaflet_files
from ringrow.handoff.map.numbers import json_text
from ringrow.handoff.map.set_words import photo_way_lines
from ringrow.handoff.map.ways import farm_ways, standing_ways
from ringrow.handoff.map.words import LIST_WORDS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ringrow.coverage.acres import Areas, FieldAcres
    from ringrow.coverage.field import FieldLayout
    from ringrow.farm.events import Event
    from ringrow.farm.flag_model import LocatedFlag
    from ringrow.farm.model import Farm
    from ringrow.farm.parked import MachineLine
    from ringrow.handoff.feature_group import FeatureGroup
    from ringrow.handoff.map.photo import FieldPhoto


SCRIPTS: tuple[str, ...] = (
    *("start.js", "where_earth.js", "where_chances.js", "where_machines.js", "where_rows.js", "where.js"),
    *("sheet.js", "list.js", "twin.js", "reading.js", "typed.js", "here.js"),
    *("store.js", "set.js", "round_book.js", "round.js", "send.js"),
    *("map_places.js", "map_paper.js", "map_laterals.js", "map_ways.js", "map_flags.js", "map.js"),
)
"""Our own scripts, in the order they are put into the page as one."""
STYLES: tuple[str, ...] = ("map.css", "list.css", "set.css", "round.css")
"""Our own styles, in the order they are put into the page."""


class _Text(Element):
    """Text put into folium's page as it is: branca would read it as a template."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.text = text

    def render(self, **_: Any) -> str:
        """Return the text."""
        return self.text


class _Page(Figure):
    """Folium's outer page with a language, a title and scripts inside the body."""

    _template = Template(
        "<!DOCTYPE html>\n"
        '<html lang="{{ this.language }}">\n<head>\n{{ this.header.render() }}\n</head>\n'
        "<body>\n{{ this.html.render() }}\n"
        "<script>\n{{ this.script.render() }}\n</script>\n</body>\n</html>\n"
    )

    def __init__(self) -> None:
        super().__init__()
        self.header = Element()
        self.header._parent = self
        self.language = spoken_language()


class _FarmMap(folium.Map):
    """Folium's map without its links, its blocked zoom and its own place on the page."""

    # On the instance's class, so folium.Map's own lists stay as they are for everybody else.
    default_js: list[tuple[str, str]] = []  # noqa: RUF012
    default_css: list[tuple[str, str]] = []  # noqa: RUF012

    _template = Template(
        "{% macro script(this, kwargs) %}"
        "var {{ this.get_name() }} = L.map({{ this.get_name()|tojson }}, {"
        "center: {{ this.location|tojson }}, crs: L.CRS.{{ this.crs }}, "
        "...{{ this.options|tojavascript }}});\n"
        "ringrowMap({{ this.get_name() }});"
        "{% endmacro %}"
    )

    @classmethod
    def _generate_id(cls) -> str:
        # Fixed in place of random, so that the same farm gives the same bytes.
        return "farm"


def map_page(
    farm: Farm,
    layouts: Sequence[FieldLayout],
    flags: Sequence[LocatedFlag],
    *,
    standing: Sequence[MachineLine] = (),
    photos: Sequence[FieldPhoto] = (),
    stops: Sequence[str] = (),
    events: Sequence[Event] = (),
) -> str:
    """Return a farm's map as one HTML page that needs no network and, to be read, no script.

    Parameters
    ----------
    farm : Farm
        The farm.
    layouts : sequence of FieldLayout
        Its fields, laid out.
    flags : sequence of LocatedFlag
        Its flags.
    standing : sequence of MachineLine, default ()
        Machines to draw where they stand, every tower numbered.
    photos : sequence of FieldPhoto, default ()
        Parts of an aerial photo to lie under the live map; the drawings stay without.
    stops : sequence of str, default ()
        Ids of flags in the order of a route, by which the live list can then be put in order.
    events : sequence of Event, default ()
        Events of the season log: what is said on the page names those it saw.

    Returns
    -------
    str
        The page. The same farm and flags give the same text.
    """
    flags = by_class(flags)
    acres = {layout.field.name: field_acres(layout) for layout in layouts}
    groups = _groups(farm, layouts, acres)
    files = leaflet_files()
    page = _Page()
    for part in _head(farm, files):
        page.header.add_child(_Text(part), name=f"head-{len(page.header._children)}")
    page.html.add_child(
        _Text(_body(farm, layouts, groups, flags, acres, standing, photos, stops, events)), name="body"
    )
    page.script.add_child(_Text("\n".join(map(_own_file, SCRIPTS))), name="own")
    west, south, east, north = shapely.total_bounds(
        [shape for group in groups if group.kind != "keep-off" for shape in group.shapes]
    )
    centre = [round((south + north) / 2, 6), round((west + east) / 2, 6)]
    host = _FarmMap(
        location=centre,
        tiles=None,
        zoom_start=14,
        max_zoom=22,
        zoom_snap=0.25,
        attribution_control=False,
        fade_animation=False,
        zoom_control=False,
    )
    page.add_child(host, name="map")
    return _with_policy(page.render())


def _groups(farm: Farm, layouts: Sequence[FieldLayout], acres: dict[str, FieldAcres]) -> list[FeatureGroup]:
    groups = [
        group
        for layout in layouts
        for group in field_features(layout, farm.units, laterals=False, acres=acres[layout.field.name])
    ]
    return [*groups, *farm_points(farm)]


def _head(farm: Farm, files: LeafletFiles) -> list[str]:
    return [
        '<meta charset="utf-8">\n<!-- policy -->',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f"<title>{escape(_('{name}: map and flags').format(name=farm.name))}</title>",
        "<!-- This file holds Leaflet 1.9.4, under this licence:\n"
        + files.licence.replace("--", "- -")
        + "\n-->",
        f"<style>\n{files.style}\n</style>",
        "<style>\n" + "\n".join(map(_own_file, STYLES)) + "\n</style>",
        f"<script>\n{files.script}\n</script>",
    ]


def _body(
    farm: Farm,
    layouts: Sequence[FieldLayout],
    groups: Sequence[FeatureGroup],
    flags: Sequence[LocatedFlag],
    acres: dict[str, FieldAcres],
    standing: Sequence[MachineLine],
    photos: Sequence[FieldPhoto],
    stops: Sequence[str],
    events: Sequence[Event],
) -> str:
    ways = [*farm_ways(groups, farm.units), *standing_ways(standing)]
    counts = page_counts(farm, layouts, flags)
    anchors = {layout.field.name: sections.field_anchor(index) for index, layout in enumerate(layouts)}
    open_flags = sum(flag.state.status == "open" for flag in flags)
    head = _(LIST_WORDS["head_one" if len(flags) == 1 else "head_many"])
    head = head.format(n=len(flags), open=open_flags)
    data = json_text(map_data(farm, layouts, groups, flags, ways, photos, stops, events))
    parts = [
        '<a class="skip" href="#flags">' + escape(_("Skip to the flags")) + "</a>",
        f"<header><h1>{escape(farm.name)}</h1><p>"
        f'<span id="count">{escape(head)}</span> '
        f'<a href="#cautions">{escape(_("Read the cautions"))}</a></p></header>',
        f"<main{sections.counts_attributes(counts)}>",
        _stage(),
        _SIDE,
        sections.drawing_section(farm, layouts, groups, flags, _guides(layouts), ways),
        sections.flag_section(flags, layouts, farm.units, anchors),
        sections.standing_section(standing),
        sections.machine_section(layouts, flags, farm.units),
        sections.acres_section(_acres_rows(farm, acres), farm.units),
        sections.key_section(),
        sections.caution_section(farm.contacts),
        _photo_way(),
        f"<p>{escape(_('This file works without a network and asks for nothing from one.'))}</p>"
        "</div></div></main>",
        f'<script type="application/json" id="data">{data}</script>',
    ]
    return "\n".join(parts)


def _photo_way() -> str:
    """Return how to report with a camera alone; the page's scripts put it out of sight."""
    *lines, last = photo_way_lines()
    items = "".join(f"<p>{escape(line)}</p>" for line in lines)
    command = "ringrow flag import FARM PHOTOFOLDER"
    return (
        f'<section class="by-photo" id="by-photo"><h2>{escape(_("Report by photo"))}</h2>{items}'
        f"<p>{escape(last)} <code>{command}</code></p></section>"
    )


def _stage() -> str:
    return (
        '<div class="stage" id="stage"><div class="folium-map" id="map_farm"></div>'
        '<div class="tools" id="tools"></div>'
        '<div class="scale" id="scale" aria-hidden="true"></div>'
        '<svg class="north" viewBox="-12 -20 24 56" width="30" height="70" role="img" '
        f'aria-label="{escape(_("North is up"))}">'
        f'<path d="M0 -16L9 12L0 5L-9 12Z"/><text y="32">{escape(_("N"))}</text></svg>'
        '<p class="said" id="said" role="status"></p></div>'
    )


_SIDE = (
    '<div class="side" id="side"><div class="bar" id="bar"></div>'
    '<button type="button" class="handle" id="handle" aria-controls="sheet"></button>'
    '<section class="panel" id="panel" aria-labelledby="panel-head" hidden></section>'
    '<div class="sheet" id="sheet">'
)
"""Beside the map, on a phone under it: buttons, the handle of the sheet, a panel, all that is to be read."""


def _guides(layouts: Sequence[FieldLayout]) -> dict[str, list[Guide]]:
    """Return the first and the last lateral of each block, which show how numbers run."""
    guides: dict[str, list[Guide]] = {}
    for layout in layouts:
        for drip in layout.drip:
            lines = lateral_lines(drip.grid)
            for index in sorted({0, len(lines) - 1}) if len(lines) else ():
                label = _("lateral {lateral}").format(lateral=int(drip.grid.piece_lateral[index]))
                line = to_lonlat(layout.field.frame, lines[index])[0]
                guides.setdefault(layout.field.name, []).append(Guide(label=label, line=line))
    return guides


def _acres_rows(farm: Farm, acres: dict[str, FieldAcres]) -> list[tuple[str, float, float, float]]:
    areas: list[tuple[str, Areas]] = list(acres.items())
    if len(areas) > 1:
        areas.append((_("Whole farm"), total_acres(acres.values())))
    return [
        (
            name,
            farm.units.from_m2(own.farmable_m2),
            farm.units.from_m2(own.irrigated_m2),
            farm.units.from_m2(own.dry_m2),
        )
        for name, own in areas
    ]


def _own_file(name: str) -> str:
    text = (resources.files("ringrow.handoff.map") / "assets" / name).read_text(encoding="utf-8")
    return text.replace("\r\n", "\n").strip()


def _with_policy(page: str) -> str:
    """Return the page with a policy that allows its own scripts and styles and nothing else."""
    scripts = re.findall(r"<script>(.*?)</script>", page, flags=re.DOTALL)
    styles = re.findall(r"<style>(.*?)</style>", page, flags=re.DOTALL)
    policy = "; ".join(
        [
            "default-src 'none'",
            f"script-src {' '.join(_hash_source(text) for text in scripts)}",
            f"style-src {' '.join(_hash_source(text) for text in styles)}",
            # Pictures lie in the page itself: an aerial photo, a photo taken for a flag.
            "img-src data: blob:",
            "base-uri 'none'",
            "form-action 'none'",
        ]
    )
    return page.replace(
        "<!-- policy -->", f'<meta http-equiv="Content-Security-Policy" content="{policy}">', 1
    )


def _hash_source(text: str) -> str:
    digest = hashlib.sha256(text.encode("utf-8")).digest()
    return f"'sha256-{base64.b64encode(digest).decode('ascii')}'"

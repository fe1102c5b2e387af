"""Maps as plain SVG: what shows when scripts are off, and what is printed."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from ringrow.frame import Frame
from ringrow.handoff.languages import _
from ringrow.handoff.map.drawing_labels import (
    LABEL_SIZE,
    WIDTH,
    Sheet,
    beside_svg,
    label_svg,
    name_labels,
    point_letter,
    system_lines,
    text_svg,
)
from ringrow.handoff.map.placing import Box, label_box, spread
from ringrow.handoff.map.symbols import symbol_svg
from ringrow.handoff.map.ways import ROAD, STANDING
from ringrow.handoff.number_words import unit_words
from ringrow.units import FOOT_M

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from shapely.geometry.base import BaseGeometry

    from ringrow.farm.flag_model import LocatedFlag
    from ringrow.handoff.feature_group import FeatureGroup
    from ringrow.handoff.map.ways import Way


MARGIN = 44.0
"""Room round the ground, for flags at its edge [px]."""


FLAG_SCALE = 1.4
"""Size of a flag on a drawing: its number is still 11 px on a 360 px phone [-]."""


_PAINT = (
    *("wetted-area", "corner-arm-sweep", "bend", "end-gun-ring", "dry-piece", "exclusion"),
    *("header", "flush-line", "tower-track", "boundary"),
)
_NICE = (10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10_000, 20_000, 50_000, 100_000)


@dataclass(frozen=True, slots=True, kw_only=True)
class Guide:
    """A line worth drawing with a label at its start, such as the first lateral of a block.

    Parameters
    ----------
    label : str
        Words at its start.
    line : shapely geometry
        The line, in the field's frame. [m]
    """

    label: str
    line: BaseGeometry


def draw_map(
    groups: Iterable[FeatureGroup],
    flags: Sequence[LocatedFlag],
    *,
    key: str,
    title: str,
    guides: Sequence[Guide] = (),
    ways: Sequence[Way] = (),
    overview: bool = False,
) -> str:
    """Return a map of features and numbered flags as one SVG element.

    Parameters
    ----------
    groups : iterable of FeatureGroup
        What to draw; kinds without a place on a drawing are passed over.
    flags : sequence of LocatedFlag
        Flags to draw; those without a position are not.
    key : str
        Letters and digits that set this drawing's inner names apart from another's on the page.
    title : str
        What the drawing shows, read out by screen readers.
    guides : sequence of Guide, default ()
        Lines with a label.
    ways : sequence of Way, default ()
        Lines that are no ground, machines where they stand among them.
    overview : bool, default False
        True for a whole farm: names of fields in place of names of dry pieces, wells and towers.

    Returns
    -------
    str
        SVG text, 720 px wide, true to scale, north up, with a scale bar; empty when there is
        nothing to draw.
    """
    shapes = [
        (group.kind, group.properties(index), shape)
        for group in groups
        for index, shape in enumerate(group.shapes)
        if shape is not None and not shape.is_empty
    ]
    placed = [flag for flag in flags if flag.lon is not None]
    sheet = _sheet([shape for kind, _, shape in shapes if kind != "keep-off"], placed)
    if sheet is None:
        return ""
    spots = [sheet.point(flag.lon or 0.0, flag.lat or 0.0) for flag in placed]
    works = [sheet.point(shape.x, shape.y) for kind, _, shape in shapes if kind in ("well", "gate")]
    places = spread(spots, gap=40.0 * FLAG_SCALE, fixed=works)
    half = 20.0 * FLAG_SCALE
    taken = [Box(left=x - half, top=y - half, right=x + half, bottom=y + half) for x, y in places]
    taken.append(Box(left=0, top=sheet.height - 72, right=300, bottom=sheet.height))
    taken.append(Box(left=WIDTH - 54, top=0, right=WIDTH, bottom=84))
    body = [
        _patterns(key),
        *_grounds(shapes, sheet, key),
        *_ways(ways, sheet),
        *_leaders(spots, places),
        *(_guide(guide, sheet, taken) for guide in guides),
        *_standing(ways, sheet, taken, overview=overview),
        *_points(shapes, sheet, taken, overview=overview),
        *_marks(ways, sheet, taken, overview=overview),
        *name_labels(shapes, sheet, taken, overview=overview),
        *_flags(placed, places),
        _scale_bar(sheet),
        _north(),
    ]
    return (
        f'<svg class="drawing" viewBox="0 0 {WIDTH:g} {sheet.height:.0f}" role="img" '
        f'aria-label="{escape(title)}" {sheet.affine()}>{"".join(body)}</svg>'
    )


def _sheet(shapes: Sequence[BaseGeometry], flags: Sequence[LocatedFlag]) -> Sheet | None:
    everything = [*shapes, *(shapely.Point(flag.lon, flag.lat) for flag in flags)]
    if not everything:
        return None
    frame = Frame.about(shapely.box(*shapely.total_bounds(everything)))
    lonlat = shapely.get_coordinates(everything)
    x, y = frame.to_xy(lonlat[:, 0], lonlat[:, 1])
    wide_m, high_m = max(float(np.ptp(x)), 60.0), max(float(np.ptp(y)), 60.0)
    per_m = min((WIDTH - 2 * MARGIN) / wide_m, 900.0 / high_m)
    west_m = float(x.min() + x.max()) / 2 - WIDTH / 2 / per_m
    north_m = float(y.min() + y.max()) / 2 + high_m / 2 + MARGIN / per_m
    height = high_m * per_m + 2 * MARGIN + 60.0
    return Sheet(frame=frame, west_m=west_m, north_m=north_m, per_m=per_m, height=height)


def _patterns(key: str) -> str:
    return (
        f'<defs><pattern id="gun-{key}" width="9" height="9" patternUnits="userSpaceOnUse">'
        '<path class="hatch-gun" d="M0 9L9 0M-2 2L2 -2M7 11L11 7"/></pattern>'
        f'<pattern id="out-{key}" width="12" height="12" patternUnits="userSpaceOnUse">'
        '<path class="hatch-out" d="M0 0L12 12M12 0L0 12"/></pattern></defs>'
    )


def _rows_pattern(key: str, heading_deg: float) -> str:
    """Return the pattern of drip ground: thin lines the way its laterals run."""
    return (
        f'<defs><pattern id="{key}" width="10" height="10" patternUnits="userSpaceOnUse" '
        f'patternTransform="rotate({heading_deg - 90.0:g})">'
        '<rect class="drip-ground" width="10" height="10"/>'
        '<path class="hatch-gun" d="M0 5H10"/></pattern></defs>'
    )


def _path(shape: BaseGeometry) -> str:
    """Return SVG path data of lines and rings."""
    text = []
    for part in shapely.get_parts(shape):
        rings = shapely.get_rings(part) if part.geom_type == "Polygon" else [part]
        for ring in rings:
            points = " ".join(f"{x:.1f} {y:.1f}" for x, y in shapely.get_coordinates(ring))
            text.append(f"M{points}{'Z' if ring.is_closed else ''}")
    return "".join(text)


def _grounds(shapes: Sequence[tuple[str, dict[str, Any], BaseGeometry]], sheet: Sheet, key: str) -> list[str]:
    fills = {"end-gun-ring": f' fill="url(#gun-{key})"', "exclusion": f' fill="url(#out-{key})"'}
    body = []
    for wanted in _PAINT:
        for number, (kind, properties, shape) in enumerate(shapes):
            if kind == wanted and properties.get("system") == "drip":
                rows = f"rows-{key}-{number}"
                body.append(_rows_pattern(rows, float(properties["heading_deg"])))
                body.append(f'<path class="drip-area" d="{_path(sheet.moved(shape))}" fill="url(#{rows})"/>')
            elif kind == wanted:
                body.append(f'<path class="{kind}" d="{_path(sheet.moved(shape))}"{fills.get(kind, "")}/>')
    return body


def _ways(ways: Sequence[Way], sheet: Sheet) -> list[str]:
    body = []
    for way in ways:
        shape = sheet.moved(way.shape)
        if way.kind == "keep-off":
            body += _kept_off(shape)
        elif way.kind == ROAD:
            path = _path(shape)
            body.append(f'<path class="{ROAD}" d="{path}"/><path class="{ROAD}-middle" d="{path}"/>')
        elif way.kind != STANDING:
            body.append(f'<path class="{way.kind}" d="{_path(shape)}"/>')
    return body


def _kept_off(shape: BaseGeometry) -> list[str]:
    """Return a line or an outline in black and white bars; a point as a ring of them."""
    body = []
    for part in shapely.get_parts(shape):
        drawn = part.buffer(9.0) if part.geom_type == "Point" else part
        path = _path(drawn)
        body.append(f'<path class="keep-off" d="{path}"/><path class="keep-off-stripe" d="{path}"/>')
    return body


def _standing(ways: Sequence[Way], sheet: Sheet, taken: list[Box], *, overview: bool) -> list[str]:
    """Return machines where they stand; the numbers of their towers stand beside the pipe."""
    body = []
    for way in ways:
        if way.kind != STANDING:
            continue
        path = _path(sheet.moved(way.shape))
        body.append(f'<path class="standing-case" d="{path}"/><path class="standing" d="{path}"/>')
        ends = shapely.get_coordinates(sheet.moved(way.shape))
        beside = _square(ends[-1] - ends[0])
        for mark in () if overview else way.marks:
            x, y = sheet.point(mark.lon, mark.lat)
            half = 5.5
            body.append(
                f'<rect class="standing-tower" x="{x - half:.1f}" y="{y - half:.1f}" '
                f'width="{2 * half:g}" height="{2 * half:g}"/>'
            )
            if mark.text:
                body += beside_svg(mark.text, (x, y), beside, taken)
    return body


def _square(along: Any) -> tuple[float, float]:
    """Return the unit vector square to a direction that points up or to the right."""
    length = max(float(np.hypot(*along)), 1e-9)
    x, y = -float(along[1]) / length, float(along[0]) / length
    return (x, y) if (y < 0) or (y == 0 and x > 0) else (-x, -y)


def _marks(ways: Sequence[Way], sheet: Sheet, taken: list[Box], *, overview: bool) -> list[str]:
    body: list[str] = []
    if overview:
        return body
    for way in ways:
        if way.kind in (STANDING, "keep-off"):
            continue
        for mark in way.marks:
            x, y = sheet.point(mark.lon, mark.lat)
            body.append(f'<circle class="way-mark" cx="{x:.1f}" cy="{y:.1f}" r="4"/>')
            body += label_svg([mark.text], (x, y), taken, aside=True)
    return body


def _guide(guide: Guide, sheet: Sheet, taken: list[Box]) -> str:
    line = sheet.moved(guide.line)
    ends = shapely.get_coordinates(line)
    along = (ends[-1] - ends[0]) / max(1e-9, float(np.hypot(*(ends[-1] - ends[0]))))
    half = label_box([guide.label], (0.0, 0.0), size=LABEL_SIZE)
    first = half.right * abs(along[0]) + half.bottom * abs(along[1]) + 8.0
    places = [ends[0] + (first + 40.0 * step) * along for step in range(8)]
    inside = [(min(max(float(x), 2 + half.right), WIDTH - 2 - half.right), float(y)) for x, y in places]
    boxes = [label_box([guide.label], place, size=LABEL_SIZE) for place in inside]
    free = [index for index, box in enumerate(boxes) if not any(box.meets(other) for other in taken)]
    chosen = free[0] if free else 0
    taken.append(boxes[chosen])
    return f'<path class="guide" d="{_path(line)}"/>' + text_svg(guide.label, *inside[chosen], "name")


def _points(
    shapes: Sequence[tuple[str, dict[str, Any], BaseGeometry]],
    sheet: Sheet,
    taken: list[Box],
    *,
    overview: bool,
) -> list[str]:
    body = []
    for kind, properties, shape in shapes:
        if kind == "pivot-point":
            x, y = sheet.point(shape.x, shape.y)
            body.append(f'<circle class="pivot-point" cx="{x:.1f}" cy="{y:.1f}" r="{5 if overview else 7}"/>')
            if not overview and sum(other == kind for other, _, _ in shapes) > 1:
                body += label_svg(system_lines(properties), (x, y + 26), taken)
        elif kind in ("well", "gate"):
            x, y = sheet.point(shape.x, shape.y)
            body.append(f'<rect class="works" x="{x - 12:.1f}" y="{y - 12:.1f}" width="24" height="24"/>')
            body.append(f'<text class="works-letter" x="{x:.1f}" y="{y + 7:.1f}">{point_letter(kind)}</text>')
            taken.append(Box(left=x - 14, top=y - 14, right=x + 14, bottom=y + 14))
            if not overview:
                name = _("gate") if kind == "gate" else str(properties["name"])
                body += label_svg([name], (x, y + 28), taken)
    return body


def _leaders(spots: Sequence[tuple[float, float]], places: Sequence[tuple[float, float]]) -> list[str]:
    return [
        f'<line class="leader" x1="{x:.1f}" y1="{y:.1f}" x2="{px:.1f}" y2="{py:.1f}"/>'
        f'<circle class="spot" cx="{x:.1f}" cy="{y:.1f}" r="5"/>'
        for (x, y), (px, py) in zip(spots, places, strict=True)
        if abs(x - px) + abs(y - py) > 1
    ]


def _flags(flags: Sequence[LocatedFlag], places: Sequence[tuple[float, float]]) -> list[str]:
    return [
        symbol_svg(
            flag.state.status, str(flag.state.number), x=x, y=y, scale=FLAG_SCALE, flag_id=flag.state.id
        )
        for flag, (x, y) in zip(flags, places, strict=True)
    ]


def _scale_bar(sheet: Sheet) -> str:
    body = []
    for unit, unit_m, y in (("ft", FOOT_M, sheet.height - 42.0), ("m", 1.0, sheet.height - 14.0)):
        word = unit_words(unit)
        length = max([size for size in _NICE if size * unit_m * sheet.per_m <= 190.0] or [_NICE[0]])
        right = 20.0 + length * unit_m * sheet.per_m
        body.append(f'<path class="scale" d="M20 {y - 8:.1f}V{y:.1f}H{right:.2f}V{y - 8:.1f}"/>')
        body.append(f'<text class="small start" x="{right + 8:.1f}" y="{y + 3:.1f}">{length:,} {word}</text>')
    return "".join(body)


def _north() -> str:
    return (
        f'<g class="north" transform="translate({WIDTH - 30:g} 42)"><path d="M0 -16L9 12L0 5L-9 12Z"/>'
        f'<text class="small" y="32">{escape(_("N"))}</text></g>'
    )

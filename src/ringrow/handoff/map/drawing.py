"""Maps as plain SVG: what shows when scripts are off, and what is printed."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from textwrap import wrap
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from ringrow.frame import Frame
from ringrow.handoff.map.placing import Box, label_box, spread
from ringrow.handoff.map.symbols import symbol_svg
from ringrow.units import FOOT_M

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from shapely.geometry.base import BaseGeometry

    from ringrow.equipment.pivot import Pivot
    from ringrow.farm.flag_model import LocatedFlag
    from ringrow.handoff.feature_group import FeatureGroup
    from ringrow.units import UnitSystem

WIDTH = 720.0
"""Width of every drawing; half of that is a phone's screen [px]."""

MARGIN = 44.0
"""Room round the ground, for flags at its edge [px]."""

LABEL_SIZE = 24.0
"""Font size of names; still 12 px on a 360 px phone [px]."""

FLAG_SCALE = 1.4
"""Size of a flag on a drawing: its number is still 11 px on a 360 px phone [-]."""

LARGE_PX2 = 2_500.0
"""Dry pieces of this size on a drawing always have their name [px2]."""

_PAINT = (
    *("wetted-area", "end-gun-ring", "dry-piece", "exclusion"),
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


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sheet:
    """The drawing's own scale: a local frame, and drawing units a metre."""

    frame: Frame
    west_m: float
    north_m: float
    per_m: float
    height: float

    def moved(self, shape: BaseGeometry) -> BaseGeometry:
        """Return a shape in longitude and latitude on the drawing, y down, thinned to half a pixel."""
        return shapely.simplify(shapely.transform(shape, self._to_px), 0.4)

    def point(self, lon: float, lat: float) -> tuple[float, float]:
        """Return where a place stands on the drawing."""
        x, y = self._to_px(np.array([[lon, lat]]))[0]
        return float(x), float(y)

    def _to_px(self, lonlat: Any) -> Any:
        x, y = self.frame.to_xy(lonlat[:, 0], lonlat[:, 1])
        return np.column_stack([(x - self.west_m) * self.per_m, (self.north_m - y) * self.per_m])


def draw_map(
    groups: Iterable[FeatureGroup],
    flags: Sequence[LocatedFlag],
    *,
    key: str,
    title: str,
    guides: Sequence[Guide] = (),
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
    sheet = _sheet([shape for _, _, shape in shapes], placed)
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
        *_leaders(spots, places),
        *(_guide(guide, sheet, taken) for guide in guides),
        *_points(shapes, sheet, taken, overview=overview),
        *_names(shapes, sheet, taken, overview=overview),
        *_flags(placed, places),
        _scale_bar(sheet),
        _north(),
    ]
    return (
        f'<svg class="drawing" viewBox="0 0 {WIDTH:g} {sheet.height:.0f}" role="img" '
        f'aria-label="{escape(title)}">{"".join(body)}</svg>'
    )


def draw_machine(pivot: Pivot, flags: Sequence[LocatedFlag], units: UnitSystem, *, title: str) -> str:
    """Return a pivot as a straight line of numbered towers, with the flags that ride on it.

    The line says how far out a flag sits, not where the machine stands.

    Parameters
    ----------
    pivot : Pivot
        The machine.
    flags : sequence of LocatedFlag
        Flags on it; those without a place on the machine are passed over.
    units : UnitSystem
        Units of the distances under the towers.
    title : str
        What the drawing shows, read out by screen readers.

    Returns
    -------
    str
        SVG text.
    """
    riding = [(flag, flag.pivot) for flag in flags if flag.pivot is not None]
    left, right = 34.0, WIDTH - 34.0
    reach_m = max([pivot.length_m, *(place.distance_m for _, place in riding)])
    per_m = (right - left) / reach_m
    high = 44.0 * FLAG_SCALE
    rows = _stacked([left + place.distance_m * per_m for _, place in riding], gap=high)
    base = 70.0 + high * max([0, *rows])
    pipe_end = left + pivot.length_m * per_m
    body = [f'<line class="pipe" x1="{left:g}" y1="{base:g}" x2="{pipe_end:.1f}" y2="{base:g}"/>']
    body.append(f'<circle class="pivot-point" cx="{left:g}" cy="{base:g}" r="9"/>')
    body += _towers(pivot, units, left=left, per_m=per_m, base=base)
    for (flag, place), row in zip(riding, rows, strict=True):
        x, y = left + place.distance_m * per_m, base - 40.0 - high * row
        body.append(f'<line class="leader" x1="{x:.1f}" y1="{base:g}" x2="{x:.1f}" y2="{y:.1f}"/>')
        body.append(symbol_svg(flag.state.status, str(flag.state.number), x=x, y=y, scale=FLAG_SCALE))
    return (
        f'<svg class="drawing machine" viewBox="0 0 {WIDTH:g} {base + 84:.0f}" role="img" '
        f'aria-label="{escape(title)}">{"".join(body)}</svg>'
    )


def _stacked(places: Sequence[float], *, gap: float) -> list[int]:
    rows: list[int] = []
    for index, place in enumerate(places):
        near = {rows[other] for other in range(index) if abs(places[other] - place) < gap}
        rows.append(next(row for row in range(len(places)) if row not in near))
    return rows


def _towers(pivot: Pivot, units: UnitSystem, *, left: float, per_m: float, base: float) -> list[str]:
    places = [left + radius_m * per_m for radius_m in pivot.tower_radii_m]
    body = [f'<text class="small start" x="{left - 26:g}" y="{base + 72:.1f}">pivot point</text>']
    written = left + 80.0
    for number, (x, radius_m) in enumerate(zip(places, pivot.tower_radii_m, strict=True), start=1):
        body.append(f'<line class="leg" x1="{x:.1f}" y1="{base:g}" x2="{x:.1f}" y2="{base + 14:.1f}"/>')
        body.append(f'<text class="tower" x="{x:.1f}" y="{base + 38:.1f}">{number}</text>')
        # The last tower always says how far out it is; others where there is room.
        if number == len(places) or (x - written > 96 and places[-1] - x > 96):
            words = f"{units.from_m(radius_m):,.0f} {units.length}"
            body.append(
                f'<text class="small" x="{min(x, WIDTH - 50):.1f}" y="{base + 72:.1f}">{words}</text>'
            )
            written = x
    return body


def _sheet(shapes: Sequence[BaseGeometry], flags: Sequence[LocatedFlag]) -> _Sheet | None:
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
    return _Sheet(frame=frame, west_m=west_m, north_m=north_m, per_m=per_m, height=height)


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


def _grounds(
    shapes: Sequence[tuple[str, dict[str, Any], BaseGeometry]], sheet: _Sheet, key: str
) -> list[str]:
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


def _guide(guide: Guide, sheet: _Sheet, taken: list[Box]) -> str:
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
    return f'<path class="guide" d="{_path(line)}"/>' + _text(guide.label, *inside[chosen], "name")


def _text(words: str, x: float, y: float, css: str) -> str:
    return f'<text class="{css}" x="{x:.1f}" y="{y + LABEL_SIZE * 0.35:.1f}">{escape(words)}</text>'


def _points(
    shapes: Sequence[tuple[str, dict[str, Any], BaseGeometry]],
    sheet: _Sheet,
    taken: list[Box],
    *,
    overview: bool,
) -> list[str]:
    body = []
    for kind, properties, shape in shapes:
        if kind == "pivot-point":
            x, y = sheet.point(shape.x, shape.y)
            body.append(f'<circle class="pivot-point" cx="{x:.1f}" cy="{y:.1f}" r="{5 if overview else 7}"/>')
        elif kind in ("well", "gate"):
            x, y = sheet.point(shape.x, shape.y)
            body.append(f'<rect class="works" x="{x - 12:.1f}" y="{y - 12:.1f}" width="24" height="24"/>')
            body.append(f'<text class="works-letter" x="{x:.1f}" y="{y + 7:.1f}">{kind[0].upper()}</text>')
            taken.append(Box(left=x - 14, top=y - 14, right=x + 14, bottom=y + 14))
            if not overview:
                body += _label([str(properties["name"])], (x, y + 28), taken)
    return body


def _names(
    shapes: Sequence[tuple[str, dict[str, Any], BaseGeometry]],
    sheet: _Sheet,
    taken: list[Box],
    *,
    overview: bool,
) -> list[str]:
    if overview:
        return _field_names(shapes, sheet, taken)
    dry = [(properties, sheet.moved(shape).area) for kind, properties, shape in shapes if kind == "dry-piece"]
    large, small = ([row for row in dry if (row[1] > LARGE_PX2) is wanted] for wanted in (True, False))
    body = _dry_names(large, sheet, taken, must=True)
    for kind, properties, shape in shapes:
        if kind == "tower-track":
            middle = shape.interpolate(0.25 if shape.is_closed else 0.5, normalized=True)
            at = sheet.point(middle.x, middle.y)
            body += _label([str(properties["tower"])], at, taken, still=True)
    # Names of slivers give way to everything else.
    return body + _dry_names(small, sheet, taken, must=False)


def _field_names(
    shapes: Sequence[tuple[str, dict[str, Any], BaseGeometry]], sheet: _Sheet, taken: list[Box]
) -> list[str]:
    body: list[str] = []
    for kind, properties, shape in shapes:
        if kind == "boundary":
            inside = shape.representative_point()
            wide = float(np.ptp(shapely.get_coordinates(sheet.moved(shape))[:, 0]))
            lines = wrap(str(properties["name"]), max(8, int(wide / 15.0)))
            body += _label(lines, sheet.point(inside.x, inside.y), taken, must=True)
    return body


def _dry_names(
    pieces: Sequence[tuple[dict[str, Any], float]], sheet: _Sheet, taken: list[Box], *, must: bool
) -> list[str]:
    body: list[str] = []
    for properties, _ in pieces:
        lines = [str(properties["name"]), acres_words(properties)]
        at = sheet.point(properties["label_lon"], properties["label_lat"])
        body += _label(lines, at, taken, must=must, still=not must)
    return body


def acres_words(properties: dict[str, Any]) -> str:
    """Return the area among a feature's properties as people say it.

    Parameters
    ----------
    properties : dict of str to object
        Properties with ``acres`` or ``ha``.

    Returns
    -------
    str
        Such as ``9.35 acres``; empty when there is no area.

    Examples
    --------
    >>> acres_words({"acres": 9.3456}), acres_words({"ha": 1250.0})
    ('9.35 acres', '1,250 ha')
    """
    unit = next((unit for unit in ("acres", "ha") if properties.get(unit) is not None), None)
    if unit is None:
        return ""
    size = float(properties[unit])
    decimals = 2 if size < 100 else 1 if size < 1000 else 0
    return f"{size:,.{decimals}f} {unit}"


def _label(
    lines: Sequence[str],
    at: tuple[float, float],
    taken: list[Box],
    *,
    must: bool = False,
    still: bool = False,
) -> list[str]:
    """Return a label at its place or near by where it is free.

    One that must be there stands at its place even when that is taken; one that is to keep
    still stands there or nowhere.
    """
    step = LABEL_SIZE * 1.2
    offsets = (
        [(0.0, 0.0)]
        if still
        else [(0, 0), (0, -step * 1.5), (0, step * 1.5), (step * 2, 0), (-step * 2, 0), (0, -step * 3)]
    )
    if must:
        offsets += [(0, step * 3), (step * 2, step * 2), (-step * 2, -step * 2), (0, -step * 4.5)]
        offsets += [
            (0, step * 4.5),
            (step * 2, -step * 3),
            (-step * 2, step * 3),
            (0, -step * 6),
            (0, step * 6),
        ]
    half = label_box(lines, (0.0, 0.0), size=LABEL_SIZE)
    choices = [
        (
            min(max(at[0] + dx, 2.0 + half.right), WIDTH - 2.0 - half.right),
            max(at[1] + dy, 2.0 + half.bottom),
        )
        for dx, dy in offsets
    ]
    boxes = [label_box(lines, choice, size=LABEL_SIZE) for choice in choices]
    free = [index for index, box in enumerate(boxes) if not any(box.meets(other) for other in taken)]
    if not free and not must:
        return []
    chosen = free[0] if free else 0
    taken.append(boxes[chosen])
    x, y = choices[chosen]
    top = y - (len(lines) - 1) * step / 2
    return [_text(line, x, top + number * step, "name") for number, line in enumerate(lines)]


def _leaders(spots: Sequence[tuple[float, float]], places: Sequence[tuple[float, float]]) -> list[str]:
    return [
        f'<line class="leader" x1="{x:.1f}" y1="{y:.1f}" x2="{px:.1f}" y2="{py:.1f}"/>'
        f'<circle class="spot" cx="{x:.1f}" cy="{y:.1f}" r="5"/>'
        for (x, y), (px, py) in zip(spots, places, strict=True)
        if abs(x - px) + abs(y - py) > 1
    ]


def _flags(flags: Sequence[LocatedFlag], places: Sequence[tuple[float, float]]) -> list[str]:
    return [
        symbol_svg(flag.state.status, str(flag.state.number), x=x, y=y, scale=FLAG_SCALE)
        for flag, (x, y) in zip(flags, places, strict=True)
    ]


def _scale_bar(sheet: _Sheet) -> str:
    body = []
    for unit, unit_m, y in (("ft", FOOT_M, sheet.height - 42.0), ("m", 1.0, sheet.height - 14.0)):
        length = max([size for size in _NICE if size * unit_m * sheet.per_m <= 190.0] or [_NICE[0]])
        right = 20.0 + length * unit_m * sheet.per_m
        body.append(f'<path class="scale" d="M20 {y - 8:.1f}V{y:.1f}H{right:.2f}V{y - 8:.1f}"/>')
        body.append(f'<text class="small start" x="{right + 8:.1f}" y="{y + 3:.1f}">{length:,} {unit}</text>')
    return "".join(body)


def _north() -> str:
    return (
        f'<g class="north" transform="translate({WIDTH - 30:g} 42)"><path d="M0 -16L9 12L0 5L-9 12Z"/>'
        '<text class="small" y="32">N</text></g>'
    )

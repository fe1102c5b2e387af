"""What a survey found, as JSON records and in words; the outline as GeoJSON."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import shapely

from ringrow.geometry.angles import compass_point
from ringrow.handoff.number_words import azimuth_words, one_line

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ringrow.farm.survey import SurveyedCircle, TowerSurvey
    from ringrow.farm.survey_ground import LineSurvey, OutlineSurvey
    from ringrow.units import UnitSystem

NINETY_FIVE = 1.96
"""Standard errors on each side that hold 95 of 100. [-]"""
STRETCH_SHOWN = 0.005
"""Half axes that differ by less than this share are not spoken of (our choice). [-]"""

_AXES = {
    "N": "north-south",
    "NE": "northeast-southwest",
    "E": "east-west",
    "SE": "southeast-northwest",
    "S": "north-south",
    "SW": "northeast-southwest",
    "W": "east-west",
    "NW": "southeast-northwest",
}


def circle_record(circle: SurveyedCircle, units: UnitSystem) -> dict[str, Any]:
    """Return a circle as JSON.

    Parameters
    ----------
    circle : SurveyedCircle
        The circle.
    units : UnitSystem
        Units of its lengths.

    Returns
    -------
    dict
        ``lat``, ``lon``, ``radius_ft`` and so on, metric keys in metric units.
    """
    fit = circle.fit
    lengths = {
        "radius_ft": fit.radius_m,
        "center_se_ft": fit.center_se_m,
        "radius_se_ft": fit.radius_se_m,
    }
    shape = {"rms_ft": fit.rms_m, "semi_major_ft": fit.semi_major_m, "semi_minor_ft": fit.semi_minor_m}
    return {
        "lat": round(circle.lat, 7),
        "lon": round(circle.lon, 7),
        **{units.key(key): units.from_m(value) for key, value in lengths.items()},
        "arc_deg": fit.arc_deg,
        **{units.key(key): _from_m(value, units) for key, value in shape.items()},
        "points": fit.points,
        "outliers": fit.outliers,
    }


def _from_m(value: float | None, units: UnitSystem) -> float | None:
    return None if value is None else units.from_m(value)


def circle_lines(circles: Sequence[SurveyedCircle], units: UnitSystem) -> list[str]:
    """Return circles in words, two or three lines each.

    Parameters
    ----------
    circles : sequence of SurveyedCircle
        Circles of one machine.
    units : UnitSystem
        Units of lengths.

    Returns
    -------
    list of str
        The lines.
    """
    lines = []
    for circle in circles:
        fit = circle.fit
        lines.append(f"from {one_line(', '.join(circle.names))}")
        lines.append(
            f"radius {_plus_minus(fit.radius_m, fit.radius_se_m, units)}, centre ± "
            f"{NINETY_FIVE * units.from_m(fit.center_se_m):.1f} {units.length}"
        )
        lines.append(
            f"{fit.points} points on {fit.arc_deg:.0f} deg of the turn, {fit.outliers} left out; the rest "
            f"stray {units.from_m(fit.rms_m):.1f} {units.length}"
        )
        stretched = stretch_words(circle)
        lines += [stretched] if stretched else []
    return lines


def _plus_minus(metres: float, error_m: float, units: UnitSystem) -> str:
    return f"{units.from_m(metres):,.1f} ± {NINETY_FIVE * units.from_m(error_m):.1f} {units.length}"


def stretch_words(circle: SurveyedCircle) -> str:
    """Return how a circle is stretched, empty when it is round or its shape is not known.

    Parameters
    ----------
    circle : SurveyedCircle
        The circle.

    Returns
    -------
    str
        Such as ``longer north-south by 1.7 %: drawn in degrees?``.
    """
    fit = circle.fit
    if fit.semi_major_m is None or fit.semi_minor_m is None or fit.major_azimuth_deg is None:
        return ""
    stretch = fit.semi_major_m / fit.semi_minor_m - 1
    if stretch < STRETCH_SHOWN:
        return ""
    axis = _AXES[compass_point(fit.major_azimuth_deg)]
    drawn = circle.drawn_ratio - 1 if axis == "north-south" else 1 / circle.drawn_ratio - 1
    # A drawing in degrees stretches by the latitude alone; points in between round it off a little.
    why = ": drawn in degrees?" if drawn > 0 and 0.75 < stretch / drawn < 1.33 else ""
    return f"longer {axis} by {100 * stretch:.1f} %{why}"


def towers_record(survey: TowerSurvey, units: UnitSystem) -> dict[str, Any]:
    """Return a machine surveyed by its towers as JSON.

    Parameters
    ----------
    survey : TowerSurvey
        The machine.
    units : UnitSystem
        Units of its lengths.

    Returns
    -------
    dict
        Point, azimuth, spans, towers, panel zero and errors.
    """
    towers = [
        {
            "tower": number,
            "lat": round(lat, 7),
            "lon": round(lon, 7),
            units.key("distance_ft"): units.from_m(radius),
            units.key("off_line_ft"): units.from_m(off),
        }
        for number, (radius, off, (lon, lat)) in enumerate(
            zip(survey.radii_m, survey.off_line_m, survey.tower_lonlat, strict=True), start=1
        )
    ]
    return {
        "lat": round(survey.lat, 7),
        "lon": round(survey.lon, 7),
        "azimuth_deg": survey.azimuth_deg,
        "azimuth_se_deg": survey.azimuth_se_deg,
        units.key("spans_ft"): [units.from_m(span) for span in survey.spans_m],
        units.key("span_se_ft"): units.from_m(survey.span_se_m),
        units.key("last_tower_ft"): units.from_m(survey.radii_m[-1]),
        units.key("last_tower_se_ft"): units.from_m(survey.last_tower_se_m),
        units.key("rms_ft"): units.from_m(survey.rms_m),
        "panel_shows_deg": survey.panel_shows_deg,
        "panel_zero_deg": survey.panel_zero_deg,
        "towers": towers,
    }


def towers_lines(survey: TowerSurvey, units: UnitSystem) -> list[str]:
    """Return a machine surveyed by its towers in words.

    Parameters
    ----------
    survey : TowerSurvey
        The machine.
    units : UnitSystem
        Units of lengths.

    Returns
    -------
    list of str
        The lines.
    """
    error = NINETY_FIVE * survey.azimuth_se_deg
    lines = [
        f"{len(survey.spans_m)} towers, the last one at "
        f"{_plus_minus(survey.radii_m[-1], survey.last_tower_se_m, units)}; each span ± "
        f"{NINETY_FIVE * units.from_m(survey.span_se_m):.1f} {units.length}",
        f"azimuth {azimuth_words(survey.azimuth_deg)} ± {error:.1f} deg; pins stray "
        f"{units.from_m(survey.rms_m):.1f} {units.length} from the line",
    ]
    if survey.panel_zero_deg is not None and survey.panel_shows_deg is not None:
        lines.append(
            f"panel shows {azimuth_words(survey.panel_shows_deg)}: its zero is azimuth "
            f"{azimuth_words(survey.panel_zero_deg)}"
        )
    return lines


def line_record(survey: LineSurvey, units: UnitSystem, *, rows_per_lateral: float | None) -> dict[str, Any]:
    """Return a guidance line as JSON.

    Parameters
    ----------
    survey : LineSurvey
        The line.
    units : UnitSystem
        Units of its lengths.
    rows_per_lateral : float or None
        Crop rows that share one lateral, when stated. [-]

    Returns
    -------
    dict
        Ends, heading, spacing of rows and of laterals as far as known, and errors.
    """
    rows = survey.spacing_of == "row"
    factor = rows_per_lateral
    row = survey.spacing_m if rows else _over(survey.spacing_m, factor)
    lateral = _times(survey.spacing_m, factor) if rows else survey.spacing_m
    row_se = survey.spacing_se_m if rows else _over(survey.spacing_se_m, factor)
    lateral_se = _times(survey.spacing_se_m, factor) if rows else survey.spacing_se_m
    small = {
        "row_spacing_in": row,
        "row_spacing_se_in": row_se,
        "lateral_spacing_in": lateral,
        "lateral_spacing_se_in": lateral_se,
    }
    return {
        "from": {"lat": round(survey.start_lonlat[1], 7), "lon": round(survey.start_lonlat[0], 7)},
        "to": {"lat": round(survey.end_lonlat[1], 7), "lon": round(survey.end_lonlat[0], 7)},
        "heading_deg": survey.heading_deg,
        "heading_se_deg": survey.heading_se_deg,
        **{
            units.key(key): None if value is None else units.from_m_small(value)
            for key, value in small.items()
        },
        "rows_per_lateral": rows_per_lateral,
        "numbers": list(survey.numbers),
        units.key("rms_ft"): units.from_m(survey.rms_m),
        "points": survey.points,
    }


def _over(value: float | None, factor: float | None) -> float | None:
    return None if value is None or factor is None else value / factor


def _times(value: float | None, factor: float | None) -> float | None:
    return None if value is None or factor is None else value * factor


def line_lines(survey: LineSurvey, units: UnitSystem) -> list[str]:
    """Return a guidance line in words.

    Parameters
    ----------
    survey : LineSurvey
        The line.
    units : UnitSystem
        Units of lengths.

    Returns
    -------
    list of str
        The lines.
    """
    lines = [
        f"heading {survey.heading_deg:.3f} ± {NINETY_FIVE * survey.heading_se_deg:.3f} deg; {survey.points} "
        f"points stray {units.from_m_small(survey.rms_m):.1f} {units.small} from their lines"
    ]
    if survey.spacing_m is not None:
        spacing, error = (
            units.from_m_small(value or 0.0) for value in (survey.spacing_m, survey.spacing_se_m)
        )
        driven = ", ".join(str(number) for number in survey.numbers)
        lines.append(
            f"{survey.spacing_of} spacing {spacing:.2f} ± {NINETY_FIVE * error:.2f} {units.small}, from "
            f"{survey.spacing_of} numbers {driven}"
        )
    return lines


def outline_record(survey: OutlineSurvey, units: UnitSystem) -> dict[str, Any]:
    """Return a driven boundary as JSON.

    Parameters
    ----------
    survey : OutlineSurvey
        The boundary.
    units : UnitSystem
        Units of lengths and areas.

    Returns
    -------
    dict
        Acres with their standard error, what was cut off, gaps, and the corners.
    """
    lengths = {
        "overlap_ft": survey.overlap_m,
        "closing_gap_ft": survey.closing_gap_m,
        "longest_gap_ft": survey.longest_gap_m,
    }
    return {
        units.key("acres"): units.from_m2(survey.area_m2),
        units.key("_se_acres").removeprefix("_"): units.from_m2(survey.area_se_m2),
        "points": survey.points,
        "spikes": survey.spikes,
        **{units.key(key): units.from_m(value) for key, value in lengths.items()},
        "outline": [
            {"lat": round(float(lat), 7), "lon": round(float(lon), 7)}
            for lon, lat in shapely.get_coordinates(survey.polygon.exterior)[:-1]
        ],
    }


def outline_lines(survey: OutlineSurvey, units: UnitSystem) -> list[str]:
    """Return a driven boundary in words.

    Parameters
    ----------
    survey : OutlineSurvey
        The boundary.
    units : UnitSystem
        Units of lengths and areas.

    Returns
    -------
    list of str
        The lines.
    """
    corners = len(survey.polygon.exterior.coords) - 1
    area, error = units.from_m2(survey.area_m2), NINETY_FIVE * units.from_m2(survey.area_se_m2)
    feet = {
        "closed over": survey.closing_gap_m,
        "longest gap": survey.longest_gap_m,
        "driven twice and cut off": survey.overlap_m,
    }
    gaps = ", ".join(f"{word} {units.from_m(value):,.0f} {units.length}" for word, value in feet.items())
    return [
        f"{area:,.2f} ± {error:.2f} {units.area}, {corners} corners from {survey.points} points, "
        f"{survey.spikes} jumps left out",
        gaps,
    ]


def outline_geojson(survey: OutlineSurvey, name: str, units: UnitSystem) -> str:
    """Return a driven boundary as a GeoJSON file of one feature.

    Parameters
    ----------
    survey : OutlineSurvey
        The boundary.
    name : str
        The field's name.
    units : UnitSystem
        Units of the area among its properties.

    Returns
    -------
    str
        The file's text; longitude first, WGS 84, seven decimals.
    """
    ring = [
        [round(float(lon), 7), round(float(lat), 7)]
        for lon, lat in shapely.get_coordinates(survey.polygon.exterior)
    ]
    properties = {
        "field": name,
        units.key("acres"): units.from_m2(survey.area_m2),
        units.key("_se_acres").removeprefix("_"): units.from_m2(survey.area_se_m2),
    }
    feature = {
        "type": "Feature",
        "properties": properties,
        "geometry": {"type": "Polygon", "coordinates": [ring]},
    }
    return (
        json.dumps({"type": "FeatureCollection", "features": [feature]}, ensure_ascii=False, indent=1) + "\n"
    )

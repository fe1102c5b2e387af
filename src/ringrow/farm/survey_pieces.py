"""What a survey found, as keys of a field file in farm units."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import shapely

from ringrow.errors import GeometryError
from ringrow.farm.toml_pieces import Piece
from ringrow.geometry.angles import within_turn
from ringrow.units import FOOT_M

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from ringrow.farm.survey import SurveyedCircle, TowerSurvey
    from ringrow.farm.survey_ground import LineSurvey, OutlineSurvey
    from ringrow.units import UnitSystem

LONGEST_SPAN_M = 400 * FOOT_M
"""Rings farther apart than this are not those of neighbouring towers. [m]"""
NINETY_FIVE = 1.96
"""Standard errors on each side that hold 95 of 100. [-]"""

_COUNT = "add towers = N (count them), or spans = [...] in place of last_tower"


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceFound:
    """A piece, and what has to be said about it.

    Parameters
    ----------
    piece : Piece
        The keys.
    said : tuple of str, default ()
        What was compared or left out.
    """

    piece: Piece
    said: tuple[str, ...] = ()


def at_place(lon: float, lat: float) -> dict[str, float]:
    """Return a place as it stands in a field file, to 7 decimals.

    Parameters
    ----------
    lon, lat : float
        WGS 84. [deg]

    Returns
    -------
    dict
        ``lat`` and ``lon``.

    Examples
    --------
    >>> at_place(-101.49543812, 36.75367081)
    {'lat': 36.7536708, 'lon': -101.4954381}
    """
    return {"lat": round(lat, 7), "lon": round(lon, 7)}


def _length(metres: float, units: UnitSystem) -> float:
    return round(units.from_m(metres), 1 if units.name == "us" else 2)


def _small(metres: float, units: UnitSystem) -> float:
    return round(units.from_m_small(metres), 2 if units.name == "us" else 0)


def circle_piece(
    circles: Sequence[SurveyedCircle],
    *,
    units: UnitSystem,
    of: str,
    towers: int | None = None,
    name: str | None = None,
    present: Mapping[str, Any] | None = None,
) -> PieceFound:
    """Return the keys of a machine from the circles about its pivot point.

    Parameters
    ----------
    circles : sequence of SurveyedCircle
        Circles of one machine, by rising radius.
    units : UnitSystem
        The farm's units.
    of : {"last-tower", "pipe-end", "wetted-edge"}
        What the largest circle is. Several wheel tracks are one a tower.
    towers : int or None, default None
        How many towers the machine has, when counted.
    name : str or None, default None
        Its name.
    present : mapping or None, default None
        The machine as it stands in the field file: overhang and throw are taken from there.

    Returns
    -------
    PieceFound
        ``point``, and ``spans`` or ``last_tower``; spans that are there already are compared, not replaced.
    """
    present = present or {}
    outer = circles[-1]
    values: dict[str, Any] = {"point": at_place(outer.lon, outer.lat)}
    comments: dict[str, str] = {}
    needs: tuple[str, ...] = ()
    last_m, said = _last_tower_m(outer.fit.radius_m, of, present, units)
    spans = _spans_m([circle.fit.radius_m for circle in circles[:-1]] + [last_m], towers)
    if len(circles) > 1 and spans is None:
        said.append("not every tower has its wheel track here: spans left out, last_tower written")
    if spans is not None:
        values["spans"] = [_length(span, units) for span in spans]
        comments["spans"] = f"{units.length}, pivot point outward"
    elif "spans" in present and towers is None:
        said.append(_compared(last_m, outer.fit.radius_se_m, present["spans"], units))
    else:
        count = towers if towers is not None else present.get("towers")
        if count is not None:
            values["towers"] = count
        else:
            needs = (_COUNT,)
        values["last_tower"] = _length(last_m, units)
        comments["last_tower"] = f"{units.length} from the pivot point to the last tower"
    if values.keys() & {"spans", "last_tower"}:
        error = _length(outer.fit.radius_se_m, units)
        values["radius_se"] = max(error, 0.1 if units.name == "us" else 0.01)
        comments["radius_se"] = f"{units.length}, standard error of the radius"
    piece = Piece(table="pivot", name=name, values=values, comments=comments, needs=needs)
    return PieceFound(piece=piece, said=tuple(said))


def _last_tower_m(
    radius_m: float, of: str, present: Mapping[str, Any], units: UnitSystem
) -> tuple[float, list[str]]:
    """Return where the last tower runs, from a circle that may be the pipe end's or the water's."""
    if of == "last-tower":
        return radius_m, []
    parts = ("overhang",) if of == "pipe-end" else ("overhang", "throw")
    lengths = {part: present.get(part) for part in parts}
    said = [
        f"last tower = {of.replace('-', ' ')} less "
        + " and ".join(
            f"{part} {length:g} {units.length}" if length is not None else f"{part} 0 (not stated)"
            for part, length in lengths.items()
        )
    ]
    return radius_m - sum(float(length or 0) for length in lengths.values()) * units.length_m, said


def _spans_m(radii: Sequence[float], towers: int | None) -> list[float] | None:
    """Return spans when there is one ring a tower, None when some are missing."""
    spans = [outer - inner for inner, outer in zip([0.0, *radii[:-1]], radii, strict=True)]
    one_each = towers == len(radii) if towers is not None else len(radii) > 1
    return spans if one_each and max(spans) <= LONGEST_SPAN_M and min(spans) > 0 else None


def _compared(last_m: float, error_m: float, spans: Any, units: UnitSystem) -> str:
    try:
        stated = float(sum(spans))
    except TypeError:
        return "spans in the file cannot be summed; left as they are"
    measured, error = units.from_m(last_m), NINETY_FIVE * units.from_m(error_m)
    gap = measured - stated
    verdict = "they agree" if abs(gap) <= error else f"look at them: they differ by {abs(gap):.1f}"
    survey = f"the survey says {measured:,.1f} ± {error:.1f}"
    return f"spans in the file sum to {stated:,.1f} {units.length}, {survey}: {verdict}; left as they are"


def towers_piece(survey: TowerSurvey, *, units: UnitSystem, name: str | None = None) -> PieceFound:
    """Return the keys of a machine from pins at its towers.

    Parameters
    ----------
    survey : TowerSurvey
        What was pinned.
    units : UnitSystem
        The farm's units.
    name : str or None, default None
        The machine's name.

    Returns
    -------
    PieceFound
        ``point``, ``spans`` and, where the panel was read, ``panel_zero``.
    """
    values: dict[str, Any] = {
        "point": at_place(survey.lon, survey.lat),
        "spans": [_length(span, units) for span in survey.spans_m],
    }
    comments = {"spans": f"{units.length}, pivot point outward"}
    if survey.panel_zero_deg is not None:
        values["panel_zero"] = within_turn(round(survey.panel_zero_deg, 1))
        comments["panel_zero"] = "true azimuth at which the panel shows 0"
    values["radius_se"] = max(_length(survey.last_tower_se_m, units), 0.1 if units.name == "us" else 0.01)
    comments["radius_se"] = f"{units.length}, standard error of the last tower's distance"
    return PieceFound(piece=Piece(table="pivot", name=name, values=values, comments=comments))


def line_piece(
    survey: LineSurvey,
    *,
    units: UnitSystem,
    name: str | None = None,
    rows_per_lateral: float | None = None,
    row_spacing: float | None = None,
    present: Mapping[str, Any] | None = None,
) -> PieceFound:
    """Return the keys of a drip block from lines driven along its laterals or rows.

    Parameters
    ----------
    survey : LineSurvey
        What was driven.
    units : UnitSystem
        The farm's units.
    name : str or None, default None
        The block's name.
    rows_per_lateral : float or None, default None
        Crop rows that share one lateral, when stated. [-]
    row_spacing : float or None, default None
        Row spacing as planted, when stated; it stands above what was measured. [in or mm]
    present : mapping or None, default None
        The block as it stands in the field file.

    Returns
    -------
    PieceFound
        ``line`` (or ``heading`` where crop rows were driven, since tape need not lie on a row) and
        the spacing as far as it is known.
    """
    present = present or {}
    said: list[str] = []
    needs: list[str] = []
    values: dict[str, Any] = {}
    comments: dict[str, str] = {}
    if survey.spacing_of == "row":
        values["heading"] = within_turn(round(survey.heading_deg, 4))
        comments["heading"] = "of the rows that were driven; true at the middle of the field"
    else:
        start, end = at_place(*survey.start_lonlat), at_place(*survey.end_lonlat)
        values["line"] = {"from": start, "to": end}
        comments["line"] = "one lateral lies on it"
        if "first_lateral" in present:
            said.append("first_lateral is stated: the line gives the direction alone")
    shared = rows_per_lateral if rows_per_lateral is not None else present.get("rows_per_lateral")
    spacing, compared = _row_spacing(survey, shared, row_spacing, present, units)
    said += compared
    if spacing is not None:
        values["row_spacing"] = spacing
        comments["row_spacing"] = units.small
    elif "row_spacing" not in present:
        needs.append(f"add row_spacing = N ({units.small} from one crop row to the next)")
    if rows_per_lateral is not None:
        values["rows_per_lateral"] = rows_per_lateral
    elif "rows_per_lateral" not in present:
        needs.append("add rows_per_lateral = N (2 when there is tape in every other row)")
    piece = Piece(table="drip", name=name, values=values, comments=comments, needs=tuple(needs))
    return PieceFound(piece=piece, said=tuple(said))


def _row_spacing(
    survey: LineSurvey,
    shared: float | None,
    stated: float | None,
    present: Mapping[str, Any],
    units: UnitSystem,
) -> tuple[float | None, list[str]]:
    """Return the row spacing to be written, None for none, and how measured and stated compare."""
    known = stated if stated is not None else present.get("row_spacing")
    rows = 1.0 if survey.spacing_of == "row" else shared
    if survey.spacing_m is None or rows is None:
        return stated, []
    measured = units.from_m_small(survey.spacing_m / rows)
    error = NINETY_FIVE * units.from_m_small(survey.spacing_se_m or 0.0) / rows
    if known is None:
        return _small(survey.spacing_m / rows, units), []
    agree = abs(measured - known) <= max(error, 0.01 * known)
    verdict = "they agree" if agree else "look at them again"
    text = f"rows measured {measured:.2f} ± {error:.2f} {units.small} apart, stated {known:g}: {verdict}"
    return stated, [text]


def outline_piece(
    survey: OutlineSurvey, *, units: UnitSystem, file: str | None = None, place: str = "", most: int = 20_000
) -> PieceFound:
    """Return the keys of a field from a drive round it.

    Parameters
    ----------
    survey : OutlineSurvey
        What was driven.
    units : UnitSystem
        The farm's units.
    file : str or None, default None
        File in the farm's folder that holds the outline; None writes it corner by corner.
    place : str, default ""
        The field's name, by which the file's feature is picked; empty for the only one.
    most : int, default 20000
        Most corners that a field file may hold.

    Returns
    -------
    PieceFound
        ``outline`` or ``boundary``, and ``boundary_se``.

    Raises
    ------
    GeometryError
        If there are more corners than a field file may hold.
    """
    ring = shapely.get_coordinates(survey.polygon.exterior)[:-1]
    values: dict[str, Any]
    if file is not None:
        values = {"boundary": {"file": file, **({"where": {"field": place}} if place else {})}}
    elif len(ring) > most:
        message = f"outline: found {len(ring):,} corners; allowed: up to {most:,}; write a file with -o"
        raise GeometryError(message)
    else:
        values = {"outline": [at_place(float(lon), float(lat)) for lon, lat in ring]}
    digits = 1 if units.name == "us" else 2
    values["boundary_se"] = round(units.from_m(survey.sigma_m), digits) or 10.0**-digits
    comments = {"boundary_se": f"{units.length}, standard error of a corner, one axis"}
    return PieceFound(piece=Piece(table="", values=values, comments=comments))

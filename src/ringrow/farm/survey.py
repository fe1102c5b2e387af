"""Machines from what was driven or pinned: pivot point, radii, spans, azimuth, panel zero.

Errors are standard errors (one sigma). Points count as independent, those of a circle that lie
closer than `INDEPENDENT_DEG` taken together; the slow part of a receiver's error, which moves a whole
drive alike, is in none of them.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import shapely

from ringrow.errors import GeometryError
from ringrow.frame import REACH_M, Frame, distance_azimuth
from ringrow.geometry.angles import within_turn
from ringrow.geometry.circle_fit import HALF_TURN_DEG, CircleFit, fit_circle, fit_concentric
from ringrow.geometry.line_fit import fit_towers
from ringrow.units import FOOT_M

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from ringrow.farm.track_model import Track
    from ringrow.units import UnitSystem

MOST_RADIUS_SE = 0.02
"""A circle whose radius is known to less than this share of it is refused. [-]"""
MOST_CENTER_SE_M = 30 * FOOT_M
"""A circle whose centre is known to less than this is refused. [m]"""
SAME_CENTER_M = 5.0
"""Room for slow drift between drives before their centres count as two machines (our choice). [m]"""
SAME_RING_M = 3.0
"""Room for slow drift between drives before their radii count as two wheel tracks (our choice). [m]"""
ROUND_SHARE = 0.02
"""What strays farther than this share of the radius follows no circle (our choice). [-]"""

INDEPENDENT_DEG = 2.0
"""Fixes closer together on the turn than this say nothing new about the circle (our choice). [deg]"""

_SHORTEST_SPAN_M = 12.0
_ROUND_EDGE = 0.6
_PIVOT_WORDS = re.compile(r"\b(pivot|cent(?:re|er)|pp|pivote|centro)\b", re.I)


@dataclass(frozen=True, slots=True, kw_only=True)
class SurveyedCircle:
    """A circle found in one or more tracks.

    Parameters
    ----------
    number : int
        Which machine it belongs to, from 1; circles about one centre share it.
    names : tuple of str
        The tracks it was found in.
    lon, lat : float
        Its centre, WGS 84. [deg]
    fit : CircleFit
        Radius, errors and shape, in a frame of its own.
    drawn_ratio : float
        North-south over east-west width that a circle drawn in degrees would have here. [-]
    """

    number: int
    names: tuple[str, ...]
    lon: float
    lat: float
    fit: CircleFit
    drawn_ratio: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CircleSurvey:
    """All circles of a survey.

    Parameters
    ----------
    circles : tuple of SurveyedCircle
        By machine, then by rising radius.
    refused : tuple of str
        Tracks that give no circle good enough, why, and what to do.
    said : tuple of str
        What was taken together, to be shown.
    """

    circles: tuple[SurveyedCircle, ...]
    refused: tuple[str, ...] = ()
    said: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class TowerSurvey:
    """A machine from pins along its pipe.

    Parameters
    ----------
    lon, lat : float
        Pivot point, WGS 84. [deg]
    azimuth_deg, azimuth_se_deg : float
        True azimuth of the pipe at the pivot point, and its standard error. [deg]
    radii_m, spans_m : tuple of float
        Distance of each tower along the pipe; the spans between them. [m]
    span_se_m, last_tower_se_m : float
        Standard errors of a span and of the last tower's distance. [m]
    off_line_m : tuple of float
        How far each pin lies off the pipe's line, positive to the right looking outward. [m]
    tower_lonlat : tuple of tuple of float
        Longitude and latitude of each tower on that line. [deg]
    rms_m : float
        Root mean square of `off_line_m`. [m]
    panel_shows_deg, panel_zero_deg : float or None
        What the panel showed; true azimuth at which it shows 0. [deg]
    said : tuple of str, default ()
        What was taken for the pivot point.
    """

    lon: float
    lat: float
    azimuth_deg: float
    azimuth_se_deg: float
    radii_m: tuple[float, ...]
    spans_m: tuple[float, ...]
    span_se_m: float
    last_tower_se_m: float
    off_line_m: tuple[float, ...]
    tower_lonlat: tuple[tuple[float, float], ...]
    rms_m: float
    panel_shows_deg: float | None
    panel_zero_deg: float | None
    said: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Alone:
    """A track with the circle found in it alone."""

    track: Track
    fit: CircleFit
    lon: float
    lat: float


def survey_circles(tracks: Sequence[Track], *, sigma_m: float, units: UnitSystem) -> CircleSurvey:
    """Return the circles in tracks; those about one centre are fitted together.

    Parameters
    ----------
    tracks : sequence of Track
        Drives, outlines or sets of points, one wheel track each or parts of one.
    sigma_m : float
        One-axis error of a point: errors are never taken smaller than this gives. [m]
    units : UnitSystem
        Units of what is said.

    Returns
    -------
    CircleSurvey
        Circles good enough to be used, and what was refused.

    Raises
    ------
    GeometryError
        If no track gives a circle good enough; it says why and what to drive.

    Notes
    -----
    Two tracks belong to one machine when their centres lie within four standard errors and
    `SAME_CENTER_M` of each other, and never farther than a quarter of the larger radius. Among
    these, tracks whose radii agree in the same way are one wheel track, cut apart.
    """
    refused: list[str] = []
    said: list[str] = []
    alone = []
    for track in tracks:
        try:
            alone.append(_fit_alone(track, sigma_m, units))
        except GeometryError as error:
            refused.append(f"{track.name}: {error}")
    circles: list[SurveyedCircle] = []
    for group in _machines(alone):
        number = len({circle.number for circle in circles}) + 1
        found, faults = _circles_of(group, number, sigma_m, units)
        circles += found
        refused += faults
        if len(group) > 1 and found:
            said.append(_together_words(group, found, number))
    machines = {circle.number for circle in circles}
    if len(machines) > 1:
        said.append(f"{len(machines)} machines: their centres lie too far apart to be one")
    if not circles:
        message = "no circle good enough:\n" + "\n".join(refused or ["no track at all"])
        raise GeometryError(message)
    return CircleSurvey(circles=tuple(circles), refused=tuple(refused), said=tuple(said))


def _together_words(group: Sequence[_Alone], found: Sequence[SurveyedCircle], number: int) -> str:
    rings = "one wheel track" if len(found) == 1 else f"{len(found)} wheel tracks about one centre"
    return f"machine {number}: {len(group)} tracks taken as {rings}"


def _in_frame(tracks: Sequence[Track]) -> tuple[Frame, list[tuple[NDArray[np.float64], NDArray[np.float64]]]]:
    lon = np.concatenate([track.lon for track in tracks])
    lat = np.concatenate([track.lat for track in tracks])
    frame = Frame.about(shapely.MultiPoint(np.column_stack([lon, lat])))
    placed = [frame.to_xy(track.lon, track.lat) for track in tracks]
    reach = max(float(np.hypot(x, y).max()) for x, y in placed)
    if not reach <= REACH_M:
        message = (
            f"found points up to {reach / 1000:,.1f} km from their middle; allowed: one machine's ground"
        )
        raise GeometryError(message)
    return frame, placed


def _fit_alone(track: Track, sigma_m: float, units: UnitSystem) -> _Alone:
    frame, placed = _in_frame([track])
    (fit,) = _honest([fit_circle(*placed[0], sigma_m=sigma_m)])
    if not (fit.radius_m <= REACH_M and math.hypot(fit.x_m, fit.y_m) <= 2 * REACH_M):
        message = (
            f"found points on a nearly straight line; allowed: points on an arc of a machine's circle; "
            f"{_longer(fit)}"
        )
        raise GeometryError(message)
    _check_round(track, fit, *placed[0], sigma_m=sigma_m, units=units)
    lon, lat = frame.to_lonlat(fit.x_m, fit.y_m)
    return _Alone(track=track, fit=fit, lon=float(lon), lat=float(lat))


def _check_round(
    track: Track,
    fit: CircleFit,
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    *,
    sigma_m: float,
    units: UnitSystem,
) -> None:
    if track.kind == "polygon":
        # Four corners of a square lie on a circle; its edges do not.
        ring = shapely.segmentize(shapely.LinearRing(np.column_stack([x, y])), fit.radius_m / 40)
        edge = shapely.get_coordinates(ring)
        near = np.abs(np.hypot(edge[:, 0] - fit.x_m, edge[:, 1] - fit.y_m) - fit.radius_m)
        share = float((near <= ROUND_SHARE * fit.radius_m + 3 * fit.rms_m).mean())
        if share < _ROUND_EDGE:
            message = (
                f"found an outline of which {100 * share:.0f} % follows a circle; allowed: "
                f"{100 * _ROUND_EDGE:.0f} % or more; this is no pivot's circle"
            )
            raise GeometryError(message)
    if 2 * fit.outliers > fit.points:
        message = (
            f"found {fit.outliers} of {fit.points} points off the circle that suits the rest; allowed: at "
            "most half; cut the file to the drive round the circle"
        )
        raise GeometryError(message)
    drawn = track.kind == "polygon"
    if fit.rms_m > ROUND_SHARE * fit.radius_m + (0 if drawn else 3 * sigma_m):
        message = (
            f"found points that stray {units.from_m(fit.rms_m):,.0f} {units.length} from the nearest circle; "
            f"allowed: {'an outline' if drawn else 'a drive'} that follows a circle; cut it to that"
        )
        raise GeometryError(message)


def _longer(fit: CircleFit) -> str:
    cover = f"these cover {fit.arc_deg:.0f} deg of the turn"
    if fit.arc_deg < HALF_TURN_DEG:
        return f"{cover}: drive a longer arc, half a turn or more, or set places on the far side too"
    return f"{cover}: drive it with a better receiver (and say its --accuracy), or take many more points"


def _machines(alone: Sequence[_Alone]) -> list[list[_Alone]]:
    """Return tracks by machine; the best known centre of each machine speaks for it."""
    groups: list[list[_Alone]] = []
    for one in sorted(alone, key=lambda item: item.fit.center_se_m):
        home = next((group for group in groups if _one_machine(group[0], one)), None)
        if home is None:
            groups.append([one])
        else:
            home.append(one)
    order = {id(one): at for at, one in enumerate(alone)}
    return sorted(groups, key=lambda group: min(order[id(one)] for one in group))


def _one_machine(a: _Alone, b: _Alone) -> bool:
    apart, _ = distance_azimuth(a.lon, a.lat, b.lon, b.lat)
    room = 4 * math.hypot(a.fit.center_se_m, b.fit.center_se_m) + SAME_CENTER_M
    return apart <= min(room, max(a.fit.radius_m, b.fit.radius_m) / 4)


def _circles_of(
    group: Sequence[_Alone], number: int, sigma_m: float, units: UnitSystem
) -> tuple[list[SurveyedCircle], list[str]]:
    tracks = [one.track for one in group]
    frame, placed = _in_frame(tracks)
    fits = _honest(fit_concentric(placed, sigma_m=sigma_m))
    rings = _rings(fits)
    if len(rings) < len(fits):
        joined = [
            (np.concatenate([placed[at][0] for at in ring]), np.concatenate([placed[at][1] for at in ring]))
            for ring in rings
        ]
        fits = _honest(fit_concentric(joined, sigma_m=sigma_m))
    circles, refused = [], []
    for ring, fit in sorted(zip(rings, fits, strict=True), key=lambda pair: pair[1].radius_m):
        names = tuple(tracks[at].name for at in ring)
        fault = _fault(fit, units)
        if fault:
            refused.append(f"{', '.join(names)}: {fault}")
            continue
        lon, lat = (float(value) for value in frame.to_lonlat(fit.x_m, fit.y_m))
        circles.append(
            SurveyedCircle(
                number=number,
                names=names,
                lon=lon,
                lat=lat,
                fit=fit,
                drawn_ratio=_drawn_ratio(lon, lat),
            )
        )
    return circles, refused


def _honest(fits: Sequence[CircleFit]) -> list[CircleFit]:
    """Return fits with errors as wide as their independent points allow: a fix a second adds none."""
    used = sum(fit.points - fit.outliers for fit in fits)
    independent = sum(min(fit.points - fit.outliers, fit.arc_deg / INDEPENDENT_DEG + 1) for fit in fits)
    wider = math.sqrt(max(1.0, used / independent))
    return [
        replace(fit, center_se_m=wider * fit.center_se_m, radius_se_m=wider * fit.radius_se_m) for fit in fits
    ]


def _rings(fits: Sequence[CircleFit]) -> list[list[int]]:
    """Return positions of tracks that follow the same wheel track."""
    rings: list[list[int]] = []
    for at in sorted(range(len(fits)), key=lambda at: fits[at].radius_m):
        last = rings[-1][-1] if rings else None
        if last is not None:
            spread = 4 * math.hypot(fits[at].radius_se_m, fits[last].radius_se_m) + SAME_RING_M
            if fits[at].radius_m - fits[last].radius_m <= min(spread, _SHORTEST_SPAN_M):
                rings[-1].append(at)
                continue
        rings.append([at])
    return rings


def _fault(fit: CircleFit, units: UnitSystem) -> str:
    """Return why a circle is not good enough, empty when it is."""
    share = fit.radius_se_m / fit.radius_m
    if share > MOST_RADIUS_SE:
        return (
            f"found a radius known to {100 * share:.1f} % (one sigma); allowed: "
            f"{100 * MOST_RADIUS_SE:.0f} % or better; {_longer(fit)}"
        )
    if fit.center_se_m > MOST_CENTER_SE_M:
        limit, found = (units.from_m(value) for value in (MOST_CENTER_SE_M, fit.center_se_m))
        return (
            f"found a centre known to {found:.0f} {units.length} (one sigma); allowed: "
            f"{limit:.0f} {units.length} or better; {_longer(fit)}"
        )
    return ""


def _drawn_ratio(lon: float, lat: float) -> float:
    """Return how much longer north-south a circle drawn in degrees is on the ground."""
    frame = Frame(lon=lon, lat=lat)
    x, y = frame.to_xy([lon + 1e-3, lon], [lat, lat + 1e-3])
    return float(y[1] / x[0])


def survey_towers(
    pins: Track,
    *,
    sigma_m: float,
    pivot_lonlat: tuple[float, float] | None = None,
    panel_shows_deg: float | None = None,
) -> TowerSurvey:
    """Return spans, last tower and azimuth of a machine from pins set at its towers.

    Parameters
    ----------
    pins : Track
        One pin a tower; without `pivot_lonlat` one of them is the pivot point: the one named so,
        else the first.
    sigma_m : float
        One-axis error of a pin. [m]
    pivot_lonlat : tuple of float or None, default None
        Longitude and latitude of the pivot point when it is known better than one pin. [deg]
    panel_shows_deg : float or None, default None
        What the panel shows while the machine stands there. [deg]

    Returns
    -------
    TowerSurvey
        The machine.

    Raises
    ------
    GeometryError
        If there are no pins besides the pivot point, two on one tower, or pins off the pipe's line.

    Notes
    -----
    Standard errors follow from the pins' own: sigma times the root of 2 for a span (both its ends
    are pins), and for the azimuth sigma times the root of 1/sum r2 + (sum r)2/(sum r2)2, the
    second part being the pivot pin's own error, which turns the whole line.
    """
    pins, said = _pivot_first(pins, known=pivot_lonlat is not None)
    lon, lat = pins.lon, pins.lat
    if pivot_lonlat is not None:
        lon, lat = np.append(lon, pivot_lonlat[0]), np.append(lat, pivot_lonlat[1])
    frame, placed = _in_frame([replace(pins, lon=lon, lat=lat, labels=())])
    x, y = placed[0]
    known = None if pivot_lonlat is None else (float(x[-1]), float(y[-1]))
    if known is not None:
        x, y = x[:-1], y[:-1]
    fit = fit_towers(x, y, pivot_point_m=known)
    radii = np.array(fit.radii_m)
    _check_on_line(fit.off_line_m, radii, sigma_m)
    freedom = max(1, len(radii) - 1)
    sigma = max(sigma_m, float(np.sqrt((np.square(fit.off_line_m)).sum() / freedom)))
    azimuth = within_turn(fit.bearing_deg - frame.convergence_deg(fit.x_m, fit.y_m))
    turn = math.radians(fit.bearing_deg)
    towers = frame.to_lonlat(fit.x_m + radii * math.sin(turn), fit.y_m + radii * math.cos(turn))
    zero = None if panel_shows_deg is None else within_turn(azimuth - panel_shows_deg)
    pivot_lon, pivot_lat = frame.to_lonlat(fit.x_m, fit.y_m)
    return TowerSurvey(
        lon=float(pivot_lon),
        lat=float(pivot_lat),
        azimuth_deg=azimuth,
        azimuth_se_deg=_azimuth_se_deg(radii, sigma, pinned=known is None),
        radii_m=fit.radii_m,
        spans_m=fit.spans_m,
        span_se_m=math.sqrt(2) * sigma,
        last_tower_se_m=sigma * (math.sqrt(2) if known is None else 1.0),
        off_line_m=fit.off_line_m,
        tower_lonlat=tuple(zip(towers[0].tolist(), towers[1].tolist(), strict=True)),
        rms_m=fit.rms_m,
        panel_shows_deg=panel_shows_deg,
        panel_zero_deg=zero,
        said=tuple(said),
    )


def _pivot_first(pins: Track, *, known: bool) -> tuple[Track, list[str]]:
    """Bring the pin named as the pivot point to the front, or leave it out when the point is known."""
    named = [at for at, label in enumerate(pins.labels) if _PIVOT_WORDS.search(label)]
    if len(named) != 1:
        return pins, [] if known else ["the first pin taken as the pivot point"]
    at = named[0]
    rest = [index for index in range(len(pins)) if index != at]
    order = rest if known else [at, *rest]
    turned = replace(
        pins, lon=pins.lon[order], lat=pins.lat[order], labels=tuple(pins.labels[index] for index in order)
    )
    how = "left out: the pivot point was given" if known else "taken as the pivot point"
    return turned, [f'pin "{pins.labels[at]}" {how}']


def _check_on_line(off_m: Sequence[float], radii: NDArray[np.float64], sigma_m: float) -> None:
    """Refuse pins that lie off the pipe's line by more than error and a bent pipe explain."""
    room = np.maximum(5 * sigma_m, 0.05 * radii)
    beyond = np.flatnonzero(np.abs(off_m) > room)
    if len(beyond):
        tower = int(beyond[0]) + 1
        message = (
            f"tower survey: found the pin of tower {tower} {abs(off_m[tower - 1]):.0f} m off the line "
            "through the others; allowed: pins along one straight pipe; is it of another machine, or is the "
            "pivot point not where it was said?"
        )
        raise GeometryError(message)


def _azimuth_se_deg(radii: NDArray[np.float64], sigma: float, *, pinned: bool) -> float:
    squares = float((radii**2).sum())
    variance = 1 / squares + ((float(radii.sum()) / squares) ** 2 if pinned else 0.0)
    return math.degrees(sigma * math.sqrt(variance))

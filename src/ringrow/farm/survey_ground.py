"""Guidance lines, lateral spacing and boundaries from what was driven."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace
from itertools import groupby
from typing import TYPE_CHECKING

import numpy as np
import shapely

from ringrow.errors import GeometryError
from ringrow.frame import REACH_M, Frame
from ringrow.geometry.angles import azimuth_deg
from ringrow.geometry.line_fit import LEAST_GAP_M, fit_laterals
from ringrow.geometry.outline import area_se_m2, outline_from_track

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray
    from shapely import Polygon

    from ringrow.farm.track_model import Track
    from ringrow.geometry.line_fit import LateralFit
    from ringrow.units import UnitSystem

SPACING_SHARE = 0.25
"""A spacing known to less than this share of itself is not told (our choice). [-]"""
PARALLEL_DEG = 3.0
"""Tracks that run farther apart in direction than this are not of one block (our choice). [deg]"""

_Placed = tuple["NDArray[np.float64]", "NDArray[np.float64]"]


@dataclass(frozen=True, slots=True, kw_only=True)
class LineSurvey:
    """A guidance line, and the spacing of the laterals where it could be told.

    Parameters
    ----------
    start_lonlat, end_lonlat : tuple of float
        Ends of the line through the first track, in the direction driven. [deg]
    heading_deg, heading_se_deg : float
        Bearing of the line, true at the field frame's origin, and its standard error. [deg]
    spacing_m, spacing_se_m : float or None
        Distance between the lines that were counted (laterals, or crop rows where rows were
        stated), and its standard error. [m]
    spacing_of : {"lateral", "row"}
        What `spacing_m` is the distance of.
    numbers : tuple of int
        Number of each track's line, counted as `spacing_of` says.
    rms_m : float
        Root mean square distance of the points from their lines. [m]
    points : int
        Points on all tracks.
    said : tuple of str, default ()
        What could not be told, and why.
    """

    start_lonlat: tuple[float, float]
    end_lonlat: tuple[float, float]
    heading_deg: float
    heading_se_deg: float
    spacing_m: float | None
    spacing_se_m: float | None
    spacing_of: str
    numbers: tuple[int, ...]
    rms_m: float
    points: int
    said: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OutlineSurvey:
    """A boundary from one drive round it.

    Parameters
    ----------
    polygon : shapely Polygon
        The outline, longitude and latitude. [deg]
    area_m2, area_se_m2 : float
        Its area and the standard error of that. [m2]
    sigma_m : float
        One-axis error of a corner that the standard error rests on. [m]
    points, spikes : int
        Points given; points left out because they jumped out and back.
    overlap_m, closing_gap_m, longest_gap_m : float
        Length driven twice and cut off; gap at the closing; longest gap in the drive. [m]
    """

    polygon: Polygon
    area_m2: float
    area_se_m2: float
    sigma_m: float
    points: int
    spikes: int
    overlap_m: float
    closing_gap_m: float
    longest_gap_m: float


def survey_line(
    tracks: Sequence[Track],
    *,
    sigma_m: float,
    units: UnitSystem,
    frame: Frame | None = None,
    rows: Sequence[int] | None = None,
    laterals: Sequence[int] | None = None,
    nominal_m: float | None = None,
) -> LineSurvey:
    """Return the guidance line of a block and the spacing of its laterals or rows.

    Parameters
    ----------
    tracks : sequence of Track
        One along each lateral or row; the first one gives the line.
    sigma_m : float
        One-axis error of a point. [m]
    units : UnitSystem
        Units of what is said.
    frame : Frame or None, default None
        The field's frame, whose bearings headings are; None takes one about the points.
    rows, laterals : sequence of int or None, default None
        Crop row, or lateral, that each track lies on.
    nominal_m : float or None, default None
        Lateral spacing as planted, by which tracks are counted when neither is stated. [m]

    Returns
    -------
    LineSurvey
        Line, heading and spacing; the spacing is None when it cannot be told well enough.

    Raises
    ------
    GeometryError
        If a track is not straight, tracks are not parallel, numbers do not suit the tracks, or
        the gaps between tracks fit no even spacing.

    Notes
    -----
    A receiver's error hardly changes along one pass, so a track counts as one measurement across
    the rows, with the full error of a point: spacing error = sigma / sqrt(sum (number - mean)2).
    Passes many laterals apart give the spacing; neighbouring ones do not.
    """
    stated = _stated_numbers(tracks, rows, laterals)
    frame, placed = _in_frame(tracks, frame)
    for track, xy in zip(tracks, placed, strict=True):
        _check_straight(track, xy, sigma_m, units)
    heading = fit_laterals(placed, numbers=[0] * len(placed)).heading_deg
    direction = _driven_direction(placed[0], heading)
    _check_parallel(tracks, placed, direction)
    numbers = _counted(stated, _offsets(placed, direction), sigma_m=sigma_m, nominal_m=nominal_m)
    fit = fit_laterals(placed, numbers=[0] * len(placed) if numbers is None else numbers or None)
    spacing, why = _told(fit, len(tracks), sigma_m, units) if numbers is not None else (None, _UNCOUNTED)
    lon, lat = frame.to_lonlat(*_ends(placed[0], direction))
    base = stated[0] if stated else 0
    return LineSurvey(
        start_lonlat=(float(lon[0]), float(lat[0])),
        end_lonlat=(float(lon[1]), float(lat[1])),
        heading_deg=float(azimuth_deg(direction[0], direction[1])),
        heading_se_deg=max(fit.heading_se_deg, _heading_se_deg(placed, direction, sigma_m)),
        spacing_m=None if spacing is None else spacing[0],
        spacing_se_m=None if spacing is None else spacing[1],
        spacing_of="row" if rows else "lateral",
        numbers=() if numbers is None else tuple(base + number for number in _rising(fit.numbers, stated)),
        rms_m=fit.rms_m,
        points=sum(len(track) for track in tracks),
        said=(why,) if why else (),
    )


def _rising(numbers: Sequence[int], stated: list[int] | None) -> list[int]:
    """Return numbers counted the way most tracks lie; stated ones stay as they are."""
    turn = -1 if stated is None and sum(numbers) < 0 else 1
    return [turn * number for number in numbers]


_UNCOUNTED = (
    "spacing not told: with positions this good the tracks cannot be counted; say which laterals "
    "(--laterals 1,20) or rows (--rows 1,40) were driven, or a better --accuracy"
)


def _counted(
    stated: list[int] | None, offsets: NDArray[np.float64], *, sigma_m: float, nominal_m: float | None
) -> list[int] | None:
    """Return the lines' numbers; empty to count them by their gaps, None when they cannot be counted."""
    if stated is not None:
        return stated
    gaps = np.diff(np.sort(offsets)) if nominal_m is None else np.array([nominal_m])
    gaps = gaps[gaps > LEAST_GAP_M]
    if len(gaps) and gaps.min() * SPACING_SHARE < math.sqrt(2) * sigma_m:
        return None if len(offsets) > 1 else [0]
    return [] if nominal_m is None else np.rint((offsets - offsets[0]) / nominal_m).astype(int).tolist()


def _told(
    fit: LateralFit, tracks: int, sigma_m: float, units: UnitSystem
) -> tuple[tuple[float, float] | None, str]:
    """Return spacing and its standard error when they can be told, else why not."""
    if fit.spacing_m is None:
        return None, "spacing not told: all tracks lie on one line" if tracks > 1 else ""
    error = _spacing_se(fit.numbers, fit.spacing_se_m, sigma_m)
    if error > SPACING_SHARE * fit.spacing_m:
        shown, known = (units.from_m_small(value) for value in (fit.spacing_m, error))
        return None, (
            f"spacing not told: {shown:.0f} {units.small} would be known to {known:.0f} {units.small} only "
            "(one sigma); drive laterals farther apart, or say a better --accuracy"
        )
    return (fit.spacing_m, error), ""


def by_line(tracks: Sequence[Track]) -> tuple[list[Track], list[str]]:
    """Return sets of single points parted into one track a lateral by the number in their names.

    Parameters
    ----------
    tracks : sequence of Track
        Tracks, which stay as they are, and sets of points.

    Returns
    -------
    tracks : list of Track
        One track a lateral or row.
    said : list of str
        What was parted, to be shown.
    """
    parted: list[Track] = []
    said: list[str] = []
    for track in tracks:
        numbers = [re.search(r"\d+", label) for label in track.labels]
        found = [match[0] for match in numbers if match]
        if track.kind != "points" or len(found) < len(track) or not found:
            parted.append(track)
            continue
        order = sorted(range(len(track)), key=lambda at, found=found: int(found[at]))  # type: ignore[misc]
        for number, members in groupby(order, key=lambda at, found=found: int(found[at])):  # type: ignore[misc]
            at = list(members)
            name = f"{track.name} named {number}"
            parted.append(replace(track, name=name, lon=track.lon[at], lat=track.lat[at], labels=()))
        said.append(f"{track.name}: points parted by the number in their names")
    return parted, said


def _stated_numbers(
    tracks: Sequence[Track], rows: Sequence[int] | None, laterals: Sequence[int] | None
) -> list[int] | None:
    numbers = rows or laterals
    if numbers is None:
        return None
    if len(numbers) != len(tracks):
        names = "; ".join(track.name for track in tracks)
        message = (
            f"line survey: found {len(numbers)} numbers for {len(tracks)} tracks ({names}); "
            "allowed: one number for each track, in that order"
        )
        raise GeometryError(message)
    return list(numbers)


def _in_frame(tracks: Sequence[Track], frame: Frame | None) -> tuple[Frame, list[_Placed]]:
    if not tracks:
        message = "line survey: found no track; allowed: a drive along each lateral"
        raise GeometryError(message)
    lon = np.concatenate([track.lon for track in tracks])
    lat = np.concatenate([track.lat for track in tracks])
    place = frame or Frame.about(shapely.MultiPoint(np.column_stack([lon, lat])))
    placed = [place.to_xy(track.lon, track.lat) for track in tracks]
    reach = max(float(np.hypot(x, y).max()) for x, y in placed)
    if not reach <= REACH_M:
        middle = "the field's middle" if frame else "their middle"
        message = (
            f"found points up to {reach / 1000:,.1f} km from {middle}; allowed: the ground of one field, "
            f"{REACH_M / 1000:g} km"
        )
        raise GeometryError(message)
    return place, placed


def _main_direction(xy: _Placed) -> tuple[NDArray[np.float64], float]:
    """Return the direction of a cloud of points and how far they lie off it, root mean square."""
    centred = np.column_stack(xy) - np.column_stack(xy).mean(axis=0)
    direction = np.linalg.svd(centred, full_matrices=False)[2][0]
    off = centred @ np.array([direction[1], -direction[0]])
    return np.asarray(direction), float(np.sqrt((off**2).mean()))


def _check_straight(track: Track, xy: _Placed, sigma_m: float, units: UnitSystem) -> None:
    if len(track) < 2:
        message = f"{track.name}: found one point; allowed: two or more along a lateral"
        raise GeometryError(message)
    _, rms = _main_direction(xy)
    if rms > 3 * sigma_m + 1.0:
        message = (
            f"{track.name}: found a drive that strays {units.from_m(rms):,.0f} {units.length} from a "
            "straight line; allowed: one straight pass a track; cut the turns off, or part the passes"
        )
        raise GeometryError(message)


def _driven_direction(xy: _Placed, heading: float) -> NDArray[np.float64]:
    turn = math.radians(heading)
    direction = np.array([math.sin(turn), math.cos(turn)])
    run = np.array([xy[0][-1] - xy[0][0], xy[1][-1] - xy[1][0]])
    return -direction if run @ direction < 0 else direction


def _check_parallel(
    tracks: Sequence[Track], placed: Sequence[_Placed], direction: NDArray[np.float64]
) -> None:
    for track, xy in zip(tracks, placed, strict=True):
        own, rms = _main_direction(xy)
        spread = float(np.ptp(np.column_stack(xy) @ own))
        across = abs(float(own[0] * direction[1] - own[1] * direction[0]))
        # A short pass cannot be straighter than its points' own error.
        room = math.sin(math.radians(PARALLEL_DEG)) + 4 * rms / max(spread, 1.0)
        if across > room:
            off = math.degrees(math.asin(min(across, 1.0)))
            message = (
                f"{track.name}: found a pass {off:.0f} deg off the others; "
                "allowed: passes along the laterals of one block, all parallel"
            )
            raise GeometryError(message)


def _offsets(placed: Sequence[_Placed], direction: NDArray[np.float64]) -> NDArray[np.float64]:
    across = np.array([-direction[1], direction[0]])
    return np.array([float((np.column_stack(xy) @ across).mean()) for xy in placed])


def _spacing_se(numbers: Sequence[int], scatter_se: float | None, sigma_m: float) -> float:
    steps = np.asarray(numbers, float)
    stated = sigma_m / math.sqrt(float(((steps - steps.mean()) ** 2).sum()))
    return max(stated, scatter_se or 0.0)


def _heading_se_deg(placed: Sequence[_Placed], direction: NDArray[np.float64], sigma_m: float) -> float:
    along = np.concatenate([np.column_stack(xy) @ direction for xy in placed])
    parts = np.repeat(np.arange(len(placed)), [len(xy[0]) for xy in placed])
    means = np.array([along[parts == at].mean() for at in range(len(placed))])
    spread = float(((along - means[parts]) ** 2).sum())
    return math.degrees(sigma_m / math.sqrt(spread)) if spread > 0 else math.nan


def _ends(xy: _Placed, direction: NDArray[np.float64]) -> _Placed:
    """Return x and y of both ends of the line through a track's middle."""
    points = np.column_stack(xy)
    middle = points.mean(axis=0)
    along = (points - middle) @ direction
    ends = np.array([along.min(), along.max()])
    return middle[0] + ends * direction[0], middle[1] + ends * direction[1]


def survey_outline(track: Track, *, sigma_m: float) -> OutlineSurvey:
    """Return the boundary that a drive round a field left behind.

    Parameters
    ----------
    track : Track
        The drive, or the corners in turn.
    sigma_m : float
        One-axis error of a point. [m]

    Returns
    -------
    OutlineSurvey
        The outline with its area and the area's standard error.

    Raises
    ------
    GeometryError
        If it is no drive round a field that comes back to its start, or crosses itself.

    Notes
    -----
    The standard error is that of the outline's own corners, 1/2 sigma sqrt(sum |P(i+1) - P(i-1)|2),
    each corner with an error of its own; a shift of all of them alike changes no area.
    """
    frame, placed = _in_frame([track], None)
    found = outline_from_track(*placed[0], sigma_m=sigma_m)
    ring = shapely.get_coordinates(found.polygon.exterior)[:-1]
    return OutlineSurvey(
        polygon=frame.unproject(found.polygon),
        area_m2=float(found.polygon.area),
        area_se_m2=area_se_m2(ring, sigma_m=sigma_m),
        sigma_m=sigma_m,
        points=found.points,
        spikes=found.spikes,
        overlap_m=found.overlap_m,
        closing_gap_m=found.closing_gap_m,
        longest_gap_m=found.longest_gap_m,
    )


def one_drive(tracks: Sequence[Track], *, wanted: str | None = None) -> tuple[Track, list[str]]:
    """Return the one drive of a file, its parts joined in order where the signal was lost.

    Parameters
    ----------
    tracks : sequence of Track
        What can be a drive.
    wanted : str or None, default None
        Words in the name of the one that is meant.

    Returns
    -------
    track : Track
        The drive.
    said : list of str
        What was joined, to be shown.

    Raises
    ------
    GeometryError
        If there are several drives and none, or more than one, is meant.
    """
    groups: dict[str, list[Track]] = {}
    for track in tracks:
        groups.setdefault(track.group or track.name, []).append(track)
    names = {group: parts[0].name.split(", segment ")[0] for group, parts in groups.items()}
    if wanted is not None:
        groups = {group: groups[group] for group in groups if wanted.casefold() in names[group].casefold()}
    if len(groups) != 1:
        listed = "; ".join(names.values())
        meant = f'"{wanted}" in the names of ' if wanted is not None else ""
        message = (
            f"found {meant}{len(groups)} drives (of {listed}); allowed: one; say which: --track with words "
            "of its name"
        )
        raise GeometryError(message)
    (parts,) = groups.values()
    if len(parts) == 1:
        return parts[0], []
    joined = replace(
        parts[0],
        name=next(iter(names[group] for group in groups)),
        lon=np.concatenate([part.lon for part in parts]),
        lat=np.concatenate([part.lat for part in parts]),
    )
    return joined, [f"{joined.name}: {len(parts)} segments joined by straight lines"]

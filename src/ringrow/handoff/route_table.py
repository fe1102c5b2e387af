"""The crew's route as a table people read, as a JSON record, as GPX and as lines on a map."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from ringrow.handoff.cautions import CLOSING, GENERAL, caution_words
from ringrow.handoff.cautions_by_kind import ALWAYS, WORK, cautions_for
from ringrow.handoff.export_words import xml_text
from ringrow.handoff.feature_group import FeatureGroup
from ringrow.handoff.files import open_whole
from ringrow.handoff.languages import N_, _, counted
from ringrow.handoff.number_words import length_words, one_line, runs_words, unit_words
from ringrow.handoff.place_words import flag_words
from ringrow.handoff.plain_table import TableBlock, block_text, wrapped
from ringrow.handoff.route import route_geometry

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    import gpxpy.gpx

    from ringrow.handoff.cautions import Caution
    from ringrow.handoff.route import CrewRoute, FarmRoute, RouteLeg
    from ringrow.units import UnitSystem

PARKED = N_(
    "Machines parked, power locked off and tested by a qualified person before anybody works on them; "
    "pressure off and chemigation off before a line is opened."
)
"""What holds at every stop of a route."""
_EVERYWHERE = ("start", "shock")
_DAY_MIN = 24 * 60
_LONG_DAY_MIN = 12 * 60
_MILE_M = 1609.344
_DECIMALS = 7


def clock_words(minutes: float, at_min: float | None = None) -> str:
    """Return a time: by the clock when it is known when the crew leaves, else what has gone by.

    Parameters
    ----------
    minutes : float
        Minutes since leaving. [min]
    at_min : float or None, default None
        When the crew leaves, minutes after midnight. [min]

    Returns
    -------
    str
        Such as ``7:05``, ``day 2 6:30`` or ``0 h 35 min``.

    Examples
    --------
    >>> clock_words(35, 390), clock_words(35), clock_words(24 * 60, 390)
    ('7:05', '0 h 35 min', 'day 2 6:30')
    """
    whole = int(minutes + (at_min or 0.0) + 0.5)
    if at_min is None:
        return f"{whole // 60} h {whole % 60:02d} min"
    day, rest = divmod(whole, _DAY_MIN)
    time = f"{rest // 60}:{rest % 60:02d}"
    return _("day {n} {time}").format(n=day + 1, time=time) if day else time


def route_text(route: FarmRoute, units: UnitSystem, *, at_min: float | None, width: int | None) -> str:
    """Return the rounds of all crews as tables, with what they rest on and the cautions.

    Parameters
    ----------
    route : FarmRoute
        The rounds.
    units : UnitSystem
        The farm's units.
    at_min : float or None
        When crews leave, minutes after midnight; None = times are counted from leaving. [min]
    width : int or None
        Columns of the terminal; None for plain lines. [-]

    Returns
    -------
    str
        The text, without a line break at the end.
    """
    blocks = [_crew_text(route, crew, units, at_min, width) for crew in route.crews]
    notes = [*route_notes(route, units), *route_cautions(route)]
    return "\n\n".join([*blocks, "\n".join(wrapped(note, width, indent=2) for note in notes)])


def _crew_text(
    route: FarmRoute, crew: CrewRoute, units: UnitSystem, at_min: float | None, width: int | None
) -> str:
    name = _("Crew {n}").format(n=crew.crew) if len(route.crews) > 1 else _("Route")
    if not crew.legs:
        return _("{name}: nothing to do").format(name=name)
    far = _far_words(crew.driven_m + crew.walked_m, units)
    if crew.walked_m:
        far = _("{far} ({walked} on foot)").format(far=far, walked=_far_words(crew.walked_m, units))
    title = _("{name}: {stops}, {far}, {hours}, of it {work} at the stops; from {start} and back").format(
        name=name,
        stops=counted("{n} stop", "{n} stops", len(crew.stops)).format(n=f"{len(crew.stops):,}"),
        far=far,
        hours=clock_words(crew.total_min),
        work=clock_words(crew.work_min),
        start=_(one_line(route.start_words)),
    )
    rows = [_row(number, leg, units, at_min) for number, leg in enumerate(crew.legs, 1)]
    head = (
        *(_("Stop"), _("Flag"), _("What"), _("Where")),
        *(_("From the last"), _("There at"), _("Work, min")),
    )
    return block_text(TableBlock(title=title, head=head, rows=rows, words=4), width)


def _row(number: int, leg: RouteLeg, units: UnitSystem, at_min: float | None) -> tuple[str, ...]:
    way = length_words(leg.driven_m + leg.walked_m, units)
    there = clock_words(leg.arrive_min, at_min)
    if leg.stop is None:
        return ("", "", "", _("back at the start"), way, there, "")
    flag = leg.stop.flag
    what = _(one_line(flag.kind.name))
    if flag.flag_class == "unsafe":
        what = _("{kind} (unsafe)").format(kind=what)
    where = _where(leg, units)
    return (str(number), str(flag.state.number), what, where, way, there, f"{leg.stop.work_min:.0f}")


def _where(leg: RouteLeg, units: UnitSystem) -> str:
    if leg.stop is None:
        return ""
    where = one_line(flag_words(leg.stop.flag, units))
    return f"{where} ({_(leg.stop.note)})" if leg.stop.note else where


def route_notes(route: FarmRoute, units: UnitSystem) -> list[str]:
    """Return what a route rests on, one sentence each.

    Parameters
    ----------
    route : FarmRoute
        The rounds.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    list of str
        Assumptions and flags that were left out.
    """
    speed = _("driving {speed}").format(speed=speed_words(route.drive_m_s, units))
    if route.crop == "up":
        speed = _("driving {speed}, walking {walk}").format(
            speed=speed_words(route.drive_m_s, units), walk=speed_words(route.walk_m_s, units)
        )
    notes = [
        _(
            "Assumed: {speeds}; minutes of work by kind of flag (--minutes sets one number for all); times "
            "hold no breaks, parts runs or trips back."
        ).format(speeds=speed),
        *(_("Assumed: {text}.").format(text=_(text)) for text in route.assumed),
    ]
    longest = max((crew.total_min for crew in route.crews), default=0.0)
    if longest > _LONG_DAY_MIN:
        notes.append(
            _(
                "The longest route takes {time}: more than a day's work. More crews (--crews), fewer fields "
                "(--field) or several days; times run on as if nobody went home."
            ).format(time=clock_words(longest))
        )
    if route.left_out:
        numbers = ", ".join(str(flag.state.number) for flag in route.left_out)
        notes.append(_("Left out, no place known: flag {numbers}.").format(numbers=numbers))
    return notes


def route_cautions(route: FarmRoute) -> list[str]:
    """Return the cautions for the work on a route, by kind of work, with the flags they are for.

    Parameters
    ----------
    route : FarmRoute
        The rounds.

    Returns
    -------
    list of str
        One line each; the last defers to local codes and licensed people.
    """
    stops = [stop for crew in route.crews for stop in crew.stops]
    wanted: dict[str, list[int]] = {key: [] for key in (*_EVERYWHERE, *ALWAYS)}
    for stop in stops:
        for caution in cautions_for([stop.flag.kind]):
            wanted.setdefault(caution.key, []).append(stop.flag.state.number)
    texts = [
        _for_flags(caution, wanted[caution.key], among=len(stops))
        for caution in (*GENERAL, *WORK)
        if caution.key in wanted
    ]
    return [_("CAUTION: {text}").format(text=_(PARKED)), *texts, _(CLOSING)]


def _for_flags(caution: Caution, numbers: Sequence[int], *, among: int) -> str:
    """Return a caution, and for which flags it is where it is not for all of them."""
    said = caution_words(caution)
    if caution.key in (*_EVERYWHERE, *ALWAYS) or len(numbers) == among:
        return said
    return counted("{caution} (flag {numbers})", "{caution} (flags {numbers})", len(numbers)).format(
        caution=said, numbers=runs_words(sorted(numbers))
    )


def _far_words(metres: float, units: UnitSystem) -> str:
    far, unit = (metres / _MILE_M, "miles") if units.name == "us" else (metres / 1000, "km")
    return f"{far:,.1f} {unit_words(unit)}"


def speed_words(speed_m_s: float, units: UnitSystem) -> str:
    """Return a speed in mph or km/h.

    Parameters
    ----------
    speed_m_s : float
        The speed. [m/s]
    units : UnitSystem
        The farm's units.

    Returns
    -------
    str
        Number and unit.

    Examples
    --------
    >>> from ringrow.units import METRIC, US
    >>> speed_words(3.57632, US), speed_words(2.0, METRIC)
    ('8 mph', '7.2 km/h')
    """
    if units.name == "us":
        return f"{speed_m_s * 3600 / _MILE_M:.3g} {unit_words('mph')}"
    return f"{speed_m_s * 3.6:.3g} km/h"


def route_record(route: FarmRoute, units: UnitSystem, *, at_min: float | None) -> dict[str, Any]:
    """Return the rounds as plain values under the keys of the JSON output.

    Parameters
    ----------
    route : FarmRoute
        The rounds.
    units : UnitSystem
        The farm's units; keys end in them.
    at_min : float or None
        When crews leave, minutes after midnight. [min]

    Returns
    -------
    dict
        Numbers are not rounded.
    """
    lon, lat = route.start_lonlat
    return {
        "start": {"what": route.start_words, "lat": lat, "lon": lon},
        "crop": route.crop,
        "crews": [_crew_record(crew, units, at_min) for crew in route.crews],
        "left_out": [flag.state.number for flag in route.left_out],
        "assumed": route_notes(route, units),
        "cautions": route_cautions(route),
    }


def _crew_record(crew: CrewRoute, units: UnitSystem, at_min: float | None) -> dict[str, Any]:
    back = crew.legs[-1] if crew.legs else None
    return {
        "crew": crew.crew,
        units.key("distance_ft"): units.from_m(crew.driven_m + crew.walked_m),
        units.key("walked_ft"): units.from_m(crew.walked_m),
        "total_min": crew.total_min,
        "work_min": crew.work_min,
        "stops": [
            _leg_record(number, leg, units, at_min)
            for number, leg in enumerate(crew.legs, 1)
            if leg.stop is not None
        ],
        units.key("back_ft"): units.from_m(back.driven_m + back.walked_m) if back else 0.0,
        "back_at": clock_words(back.arrive_min, at_min) if back and at_min is not None else None,
    }


def _leg_record(number: int, leg: RouteLeg, units: UnitSystem, at_min: float | None) -> dict[str, Any]:
    if leg.stop is None:
        return {}
    flag = leg.stop.flag
    return {
        "stop": number,
        "flag": flag.state.number,
        "id": flag.state.id,
        "kind": flag.kind.name,
        "class": flag.flag_class,
        "field": flag.field,
        "place": one_line(flag_words(flag, units)),
        "note": leg.stop.note,
        "lat": leg.stop.spot.lat,
        "lon": leg.stop.spot.lon,
        units.key("leg_ft"): units.from_m(leg.driven_m + leg.walked_m),
        units.key("leg_walked_ft"): units.from_m(leg.walked_m),
        "arrive_min": leg.arrive_min,
        "work_min": leg.stop.work_min,
        "arrive_at": None if at_min is None else clock_words(leg.arrive_min, at_min),
    }


def route_features(route: FarmRoute, units: UnitSystem) -> list[FeatureGroup]:
    """Return the rounds as features: a line a crew, a point a stop.

    Parameters
    ----------
    route : FarmRoute
        The rounds.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    list of FeatureGroup
        Kinds ``route`` and ``route-stop``.
    """
    crews = [crew for crew in route.crews if crew.legs]
    lines = np.empty(len(crews), object)
    lines[:] = [route_geometry(crew) for crew in crews]
    legs = [
        (crew.crew, number, leg)
        for crew in crews
        for number, leg in enumerate(crew.legs, 1)
        if leg.stop is not None
    ]
    spots = [leg.stop.spot for _, _, leg in legs if leg.stop is not None]
    distance, records = units.key("distance_ft"), [_leg_record(n, leg, units, None) for _, n, leg in legs]
    return [
        FeatureGroup(
            kind="route",
            ids=[f"route:{crew.crew}" for crew in crews],
            shapes=lines,
            shared={"crop": route.crop},
            columns={
                "crew": [crew.crew for crew in crews],
                distance: [units.from_m(crew.driven_m + crew.walked_m) for crew in crews],
                "total_min": [crew.total_min for crew in crews],
            },
        ),
        FeatureGroup(
            kind="route-stop",
            ids=[f"route-stop:{crew}/{number}" for crew, number, _ in legs],
            shapes=shapely.points([spot.lon for spot in spots], [spot.lat for spot in spots]),
            columns={
                "crew": [crew for crew, _, _ in legs],
                **{key: [row[key] for row in records] for key in ("stop", "flag", "kind", "class", "place")},
            },
        ),
    ]


def write_route_gpx(route: FarmRoute, path: Path, units: UnitSystem) -> dict[str, int]:
    """Write the rounds as GPX 1.1: a route and a track a crew.

    The route has the stops alone, as handhelds keep few points in one; the track shows the way.

    Parameters
    ----------
    route : FarmRoute
        The rounds.
    path : Path
        File to write; one that is there is replaced.
    units : UnitSystem
        Units of lengths in the stops' descriptions.

    Returns
    -------
    dict of str to int
        How many routes, stops and track points.

    Raises
    ------
    FileError
        If the file cannot be written.
    """
    import gpxpy.gpx

    book = gpxpy.gpx.GPX()
    book.creator = "ringrow"
    for crew in route.crews:
        if crew.legs:
            name = _("Crew {n}").format(n=crew.crew)
            book.routes.append(gpxpy.gpx.GPXRoute(name=name))
            book.routes[-1].points.extend(_route_points(route, crew, units))
            book.tracks.append(_track(name, crew))
    with open_whole(path) as stream:
        stream.write(book.to_xml(version="1.1"))
    return {
        "routes": len(book.routes),
        "stops": sum(len(crew.stops) for crew in route.crews),
        "points": int(book.get_track_points_no()),
    }


def _route_points(route: FarmRoute, crew: CrewRoute, units: UnitSystem) -> Sequence[gpxpy.gpx.GPXRoutePoint]:
    import gpxpy.gpx

    lon, lat = (round(value, _DECIMALS) for value in route.start_lonlat)
    start = gpxpy.gpx.GPXRoutePoint(lat, lon, name=_("start"))
    stops = [
        gpxpy.gpx.GPXRoutePoint(
            round(leg.stop.spot.lat, _DECIMALS),
            round(leg.stop.spot.lon, _DECIMALS),
            name=_("{stop}: flag {number}").format(stop=number, number=leg.stop.flag.state.number),
            description=xml_text(f"{_(one_line(leg.stop.flag.kind.name))}; {_where(leg, units)}"),
        )
        for number, leg in enumerate(crew.legs, 1)
        if leg.stop is not None
    ]
    return [start, *stops, gpxpy.gpx.GPXRoutePoint(lat, lon, name=_("back"))]


def _track(name: str, crew: CrewRoute) -> gpxpy.gpx.GPXTrack:
    import gpxpy.gpx

    track = gpxpy.gpx.GPXTrack(name=_("{name}: the way").format(name=name))
    points = np.round(shapely.get_coordinates(route_geometry(crew)), _DECIMALS)
    track.segments.append(
        gpxpy.gpx.GPXTrackSegment([gpxpy.gpx.GPXTrackPoint(lat, lon) for lon, lat in points.tolist()])
    )
    return track

"""What follows from a flag in words: ground it touches, wheels that meet it, what speaks against it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ringrow.handoff.assumed_words import assumed_words
from ringrow.handoff.languages import N_, _, counted
from ringrow.handoff.number_words import azimuth_words, length_words, one_line, unit_words

if TYPE_CHECKING:
    from datetime import date

    from ringrow.coverage.footprint import Footprint
    from ringrow.coverage.machine_checks import Doubt
    from ringrow.coverage.wheel_tracks import TrackMeeting
    from ringrow.farm.flag_model import LocatedFlag
    from ringrow.units import UnitSystem

_PROBABLY = N_("probably a fault on the ground or the wrong pivot")

_TOUCHED = {"dry": N_("{area} dry"), "wet": N_("{area} wet"), "stopped": N_("{area} stopped")}
_MEETINGS = {
    ("tower", "", True): N_("wheels of tower {tower} meet it"),
    ("tower", "", False): N_("wheels of tower {tower} may meet it"),
    ("tower", "left", True): N_("wheels of tower {tower} left meet it"),
    ("tower", "left", False): N_("wheels of tower {tower} left may meet it"),
    ("tower", "right", True): N_("wheels of tower {tower} right meet it"),
    ("tower", "right", False): N_("wheels of tower {tower} right may meet it"),
    ("arm", "", True): N_("steered wheels of the corner arm meet it"),
    ("arm", "", False): N_("steered wheels of the corner arm may meet it"),
    ("cart", "", True): N_("wheels of the cart meet it"),
    ("cart", "", False): N_("wheels of the cart may meet it"),
}
_BENT = {
    "stop": N_("{wheels_meet} past the stop, {turned} degrees into the bend at {at}"),
    "start": N_("{wheels_meet} past the start, {turned} degrees into the bend at {at}"),
}
_SPEEDS = {
    True: N_("top speed taken as {speed} an hour at the last tower"),
    False: N_("top speed {speed} an hour at the last tower"),
}


def at_words(azimuth_deg: float, panel_deg: float | None) -> str:
    """Return an azimuth, and what the panel shows there.

    Parameters
    ----------
    azimuth_deg : float
        The azimuth. [deg]
    panel_deg : float or None
        The panel's angle; None when it shows none. [deg]

    Returns
    -------
    str
        Such as ``azimuth 118.5 (panel 28.5)``.

    Examples
    --------
    >>> at_words(118.5, 28.5), at_words(118.5, None)
    ('azimuth 118.5 (panel 28.5)', 'azimuth 118.5')
    """
    if panel_deg is None:
        return _("azimuth {azimuth}").format(azimuth=azimuth_words(azimuth_deg))
    return _("azimuth {azimuth} (panel {panel})").format(
        azimuth=azimuth_words(azimuth_deg), panel=azimuth_words(panel_deg)
    )


def flag_notes(flag: LocatedFlag, units: UnitSystem) -> list[str]:
    """Return what follows from where a flag is, one line each, most telling first.

    Parameters
    ----------
    flag : LocatedFlag
        The flag.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    list of str
        That its machine was rebuilt since, what speaks against its place, ground it touches,
        wheels that meet it, where it was set when it is shown elsewhere, flags joined with it;
        empty when there is nothing to say.
    """
    notes = [] if flag.rebuilt is None else [rebuilt_words(flag.rebuilt)]
    notes += [] if flag.doubt is None else [doubt_words(flag.doubt, units)]
    if flag.footprint is not None:
        assumed = f" ({assumed_words(flag.footprint.assumed)})" if flag.footprint.assumed else ""
        notes.append(footprint_words(flag.footprint, units) + assumed)
    several = len({meeting.system for meeting in flag.meets}) > 1
    for meeting in flag.meets:
        system = f"{one_line(meeting.system)}: " if several else ""
        notes.append(system + meeting_words(meeting, units))
    if flag.set_lat is not None and flag.set_lon is not None:
        at = f"{flag.set_lat:.7f}, {flag.set_lon:.7f}"
        notes.append(_("shown where its machine stands; set at {at}").format(at=at))
    return notes + ([joined_words(flag)] if flag.state.joined else [])


def rebuilt_words(day: date) -> str:
    """Return that a flag was set on hardware that is gone.

    Parameters
    ----------
    day : date
        First day with the new hardware.

    Returns
    -------
    str
        One sentence.

    Examples
    --------
    >>> from datetime import date
    >>> rebuilt_words(date(2028, 3, 1))
    'set before the rebuild of 2028-03-01: tower and outlet numbers may not be the same'
    """
    return _("set before the rebuild of {day}: tower and outlet numbers may not be the same").format(
        day=day.isoformat()
    )


def joined_words(flag: LocatedFlag) -> str:
    """Return which other flags mark the same fault.

    Parameters
    ----------
    flag : LocatedFlag
        A flag that others were joined with.

    Returns
    -------
    str
        Such as ``the same fault as flag 9``.
    """
    numbers = ", ".join(str(other.number) for other in flag.state.joined)
    count = len(flag.state.joined)
    return counted("the same fault as flag {numbers}", "the same fault as flags {numbers}", count).format(
        numbers=numbers
    )


def footprint_words(footprint: Footprint, units: UnitSystem) -> str:
    """Return the ground that a fault touches, said as wet or dry.

    Parameters
    ----------
    footprint : Footprint
        The ground.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    str
        Such as ``leaves 1.8 acres dry``.

    Examples
    --------
    >>> from shapely import Polygon
    >>> from ringrow.coverage.footprint import Footprint
    >>> from ringrow.units import METRIC, US
    >>> ring = Footprint(effect="dry", area_m2=7296.6, shape=Polygon(), inner_m=379.5, outer_m=382.5)
    >>> footprint_words(ring, US), footprint_words(ring, METRIC)
    ('leaves 1.8 acres dry', 'leaves 0.73 ha dry')
    """
    area = area_words(footprint.area_m2, units)
    if footprint.effect == "stopped":
        return _("stops {area}").format(area=area)
    if footprint.effect == "dry":
        return _("leaves {area} dry").format(area=area)
    return _("leaves {area} too wet").format(area=area)


def touched_words(footprint: Footprint | None, units: UnitSystem) -> str:
    """Return the ground that a fault touches, short enough for a column.

    Parameters
    ----------
    footprint : Footprint or None
        The ground; None for none.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    str
        Such as ``1.8 acres dry``; empty for none.
    """
    if footprint is None:
        return ""
    return _(_TOUCHED[footprint.effect]).format(area=area_words(footprint.area_m2, units))


def area_words(area_m2: float, units: UnitSystem) -> str:
    """Return an area: acres to 0.1, hectares to 0.01.

    Parameters
    ----------
    area_m2 : float
        The area. [m2]
    units : UnitSystem
        The farm's units.

    Returns
    -------
    str
        Number and unit.

    Examples
    --------
    >>> from ringrow.units import METRIC, US
    >>> area_words(507_000.0, US), area_words(507_000.0, METRIC), area_words(80.0, US)
    ('125.3 acres', '50.70 ha', 'under 0.1 acres')
    """
    digits = 1 if units.name == "us" else 2
    area, least = area_m2 / units.area_m2, 10.0**-digits
    if 0 < area < least:
        return _("under {area}").format(area=f"{least:g} {unit_words(units.area)}")
    return f"{area:,.{digits}f} {unit_words(units.area)}"


def meeting_words(meeting: TrackMeeting, units: UnitSystem) -> str:
    """Return whose wheels meet a hole, and where the machine then stands.

    Parameters
    ----------
    meeting : TrackMeeting
        The meeting.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    str
        Such as ``wheels of tower 6 meet it at azimuth 118.5 (panel 28.5)``; ``may meet`` where
        it is only as near as the position is good.

    Examples
    --------
    >>> from ringrow.coverage.wheel_tracks import TrackMeeting
    >>> from ringrow.units import US
    >>> met = TrackMeeting(system="P1", wheels="tower", tower=6, azimuth_deg=118.5, panel_deg=28.5,
    ...                    offset_m=0.4, sure=True)
    >>> meeting_words(met, US)
    'wheels of tower 6 meet it at azimuth 118.5 (panel 28.5)'
    """
    meet = _(_MEETINGS[meeting.wheels, meeting.side or "", meeting.sure]).format(tower=meeting.tower)
    if meeting.travel_m is not None:
        return _("{wheels_meet} at travel {travel}").format(
            wheels_meet=meet, travel=length_words(meeting.travel_m, units)
        )
    if meeting.azimuth_deg is None:
        return meet
    at = at_words(meeting.azimuth_deg, meeting.panel_deg)
    if meeting.bend is not None:
        past = _BENT["stop" if meeting.bend.at == "stop" else "start"]
        return _(past).format(wheels_meet=meet, turned=f"{meeting.bend.turned_deg:.0f}", at=at)
    if meeting.wheels == "arm":
        return _("{wheels_meet} with the main pipe at {at}").format(wheels_meet=meet, at=at)
    return _("{wheels_meet} at {at}").format(wheels_meet=meet, at=at)


def doubt_words(doubt: Doubt, units: UnitSystem) -> str:
    """Return why a flag cannot be on the machine it seems to be on.

    Parameters
    ----------
    doubt : Doubt
        The doubt.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    str
        One line.

    Examples
    --------
    >>> from ringrow.coverage.machine_checks import Doubt
    >>> from ringrow.units import US
    >>> doubt_words(Doubt(reason="sector", azimuth_deg=230.0, other_deg=200.0, apart_deg=30.0), US)
    'at azimuth 230.0, past the end of its turn at 200.0: probably a fault on the ground or the wrong pivot'
    """
    at, other_at = azimuth_words(doubt.azimuth_deg), azimuth_words(doubt.other_deg)
    probably = _(_PROBABLY)
    if doubt.reason == "sector":
        return _("at azimuth {at}, past the end of its turn at {other_at}: {probably}").format(
            at=at, other_at=other_at, probably=probably
        )
    if doubt.reason == "parked":
        return _(
            "at azimuth {at}, the machine parked at {other_at}: unless it has walked since, {probably}"
        ).format(at=at, other_at=other_at, probably=probably)
    which = _("this one or flag {number} is {probably}").format(number=doubt.other, probably=probably)
    speed = length_words(doubt.speed_m_per_h or 0.0, units)
    return _(
        "at azimuth {at}, but at {other_at} {when} by flag {number}: it turns {most} degrees at most in that "
        "time ({speed}), so {which}"
    ).format(
        at=at,
        other_at=other_at,
        when=_minutes(doubt.hours or 0.0),
        number=doubt.other,
        most=f"{doubt.most_deg or 0.0:.0f}",
        speed=_(_SPEEDS[doubt.speed_assumed]).format(speed=speed),
        which=which if doubt.either else probably,
    )


def _minutes(hours: float) -> str:
    minutes = round(abs(hours) * 60)
    if minutes == 0:
        return _("in the same minute")
    if minutes < 120:
        said = _("{n} min before") if hours > 0 else _("{n} min after")
        return said.format(n=minutes)
    said = _("{n} hours before") if hours > 0 else _("{n} hours after")
    return said.format(n=f"{minutes / 60:.1f}")

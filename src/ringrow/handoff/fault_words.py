"""What follows from a flag in words: ground it touches, wheels that meet it, what speaks against it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ringrow.handoff.number_words import azimuth_words, length_words, one_line

if TYPE_CHECKING:
    from ringrow.coverage.footprint import Footprint
    from ringrow.coverage.machine_checks import Doubt
    from ringrow.coverage.wheel_tracks import TrackMeeting
    from ringrow.farm.flag_model import LocatedFlag
    from ringrow.units import UnitSystem

_PROBABLY = "probably a ground fault or the wrong pivot"


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
        What speaks against its place, ground it touches, wheels that meet it, where it was set
        when it is shown elsewhere; empty when there is nothing to say.
    """
    notes = [] if flag.doubt is None else [doubt_words(flag.doubt, units)]
    if flag.footprint is not None:
        assumed = f" ({'; '.join(flag.footprint.assumed)})" if flag.footprint.assumed else ""
        notes.append(footprint_words(flag.footprint, units) + assumed)
    several = len({meeting.system for meeting in flag.meets}) > 1
    for meeting in flag.meets:
        system = f"{one_line(meeting.system)}: " if several else ""
        notes.append(system + meeting_words(meeting, units))
    if flag.set_lat is not None and flag.set_lon is not None:
        notes.append(f"shown where its machine stands; set at {flag.set_lat:.7f}, {flag.set_lon:.7f}")
    return notes


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
        return f"stops {area}"
    return f"leaves {area} {'dry' if footprint.effect == 'dry' else 'too wet'}"


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
    return "" if footprint is None else f"{area_words(footprint.area_m2, units)} {footprint.effect}"


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
        return f"under {least:g} {units.area}"
    return f"{area:,.{digits}f} {units.area}"


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
    wheels = {
        "tower": f"wheels of tower {meeting.tower}{f' {meeting.side}' if meeting.side else ''}",
        "arm": "steered wheels of the corner arm",
        "cart": "wheels of the cart",
    }[meeting.wheels]
    meet = f"{wheels} {'meet' if meeting.sure else 'may meet'} it"
    if meeting.travel_m is not None:
        return f"{meet} at travel {length_words(meeting.travel_m, units)}"
    if meeting.azimuth_deg is None:
        return meet
    panel = "" if meeting.panel_deg is None else f" (panel {azimuth_words(meeting.panel_deg)})"
    at = f"azimuth {azimuth_words(meeting.azimuth_deg)}{panel}"
    if meeting.bend is not None:
        return (
            f"{meet} past the {meeting.bend.at}, {meeting.bend.turned_deg:.0f} degrees into the bend at {at}"
        )
    return f"{meet} with the main pipe at {at}" if meeting.wheels == "arm" else f"{meet} at {at}"


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
    'at azimuth 230.0, past the end of its turn at 200.0: probably a ground fault or the wrong pivot'
    """
    at, other_at = azimuth_words(doubt.azimuth_deg), azimuth_words(doubt.other_deg)
    if doubt.reason == "sector":
        return f"at azimuth {at}, past the end of its turn at {other_at}: {_PROBABLY}"
    if doubt.reason == "parked":
        return f"at azimuth {at}, the machine parked at {other_at}: unless it has walked since, {_PROBABLY}"
    most = doubt.most_deg or 0.0
    taken = "taken as " if doubt.speed_assumed else ""
    speed = f"{length_words(doubt.speed_m_per_h or 0.0, units)} an hour at the last tower"
    which = f"this one or flag {doubt.other} is {_PROBABLY}" if doubt.either else _PROBABLY
    return (
        f"at azimuth {at}, but at {other_at} {_minutes(doubt.hours or 0.0)} by flag {doubt.other}: it turns "
        f"{most:.0f} degrees at most in that time (top speed {taken}{speed}), so {which}"
    )


def _minutes(hours: float) -> str:
    minutes = round(abs(hours) * 60)
    if minutes == 0:
        return "in the same minute"
    when = "before" if hours > 0 else "after"
    return f"{minutes} min {when}" if minutes < 120 else f"{minutes / 60:.1f} hours {when}"

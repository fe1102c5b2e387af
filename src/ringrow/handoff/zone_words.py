"""A zone's reading in words and JSON values, and the walk after it in a calendar file."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any
from uuid import NAMESPACE_URL, uuid5

from ringrow.handoff.number_words import one_line
from ringrow.handoff.plain_table import TableBlock, block_text, wrapped
from ringrow.handoff.water_numbers import flow_of, number_text, pressure_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ringrow.coverage.zone_reading import Hole, ZoneReading
    from ringrow.units import UnitSystem

_FINDINGS = {
    "break": "Flow up with the flush line down: looks like a break by a rodent or a tool. Walk this "
    "zone first.",
    "high flow": "Flow over design: a broken pipe, an open or bad flush valve, too many zones on, or worn "
    "outlets. Look in that order.",
    "clogging": "Flow down with the pressures up: looks like clogging.",
    "sudden clogging": "Flow down at once with the pressures up: looks like sudden, biological clogging.",
    "slow clogging": "Flow drifting down with the pressures up: looks like slow clogging.",
    "supply": "Flow and both pressures down: look at the filter (what it loses) and the supply side.",
    "unclear": "No published pattern fits these readings. Read all three again before anybody digs.",
}
_NO_LIMIT = (
    "No limit and no meter error were given, so no difference is called high or low: no percentage for "
    "that is published. Give --limit or --meter-error."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Watch:
    """The clock of one irrigation, local time.

    Parameters
    ----------
    read_at : datetime
        When meter and gauges were read.
    on_since : datetime or None
        When the water went on.
    full_at : datetime or None
        When the tape can be full at the earliest.
    look_at : datetime or None
        When a walk is worth doing.
    wait_h : float
        Hours given to buried water to show. [h]
    wait_stated : bool
        Whether the user gave that wait.
    """

    read_at: datetime
    on_since: datetime | None
    full_at: datetime | None
    look_at: datetime | None
    wait_h: float
    wait_stated: bool

    @property
    def filling(self) -> bool:
        """Whether the reading was taken before the tape could be full."""
        return self.full_at is not None and self.read_at < self.full_at


def watch(
    read_at: datetime,
    *,
    on_since: datetime | None,
    fill_min: float | None,
    wait_h: float,
    wait_stated: bool,
) -> Watch:
    """Return when the tape is full and when to walk.

    Parameters
    ----------
    read_at : datetime
        When meter and gauges were read.
    on_since : datetime or None
        When the water went on; None when it is not known.
    fill_min : float or None
        Least fill time. [min]
    wait_h : float
        Hours given to buried water to show. [h]
    wait_stated : bool
        Whether the user gave that wait.

    Returns
    -------
    Watch
        The clock, times rounded up to the minute.

    Examples
    --------
    >>> clock = watch(datetime(2027, 3, 14, 6, 40), on_since=datetime(2027, 3, 13, 17, 0), fill_min=51.5,
    ...               wait_h=12.0, wait_stated=False)
    >>> clock.full_at.isoformat(), clock.look_at.isoformat()
    ('2027-03-13T17:52:00', '2027-03-14T05:52:00')
    """
    full_at = None if on_since is None or fill_min is None else _up(on_since + timedelta(minutes=fill_min))
    return Watch(
        read_at=read_at,
        on_since=on_since,
        full_at=full_at,
        look_at=None if full_at is None else _up(full_at + timedelta(hours=wait_h)),
        wait_h=wait_h,
        wait_stated=wait_stated,
    )


def _up(moment: datetime) -> datetime:
    cut = moment.replace(second=0, microsecond=0)
    return cut if cut == moment else cut + timedelta(minutes=1)


def zone_record(reading: ZoneReading, clock: Watch, units: UnitSystem) -> dict[str, Any]:
    """Return a zone's reading as plain values under the keys of the JSON output.

    Parameters
    ----------
    reading : ZoneReading
        The comparison.
    clock : Watch
        The irrigation's clock.
    units : UnitSystem
        The farm's units; keys end in them.

    Returns
    -------
    dict
        Numbers are not rounded; ``finding`` is None without a limit or before the tape is full.
    """
    key = units.key
    flow, inlet, far = reading.signs
    return {
        key("flow_gpm"): flow_of(reading.flow_lps, units),
        key("inlet_psi"): pressure_of(reading.inlet_kpa, units),
        key("flush_line_psi"): pressure_of(reading.flush_line_kpa, units),
        key("design_gpm"): flow_of(reading.same_lps, units),
        key("design_flush_line_psi"): pressure_of(reading.same_far_kpa, units),
        "off_pct": reading.off_pct,
        key("usual_gpm"): flow_of(reading.usual_lps, units),
        key("usual_inlet_psi"): pressure_of(reading.usual_inlet_kpa, units),
        key("usual_flush_line_psi"): pressure_of(reading.usual_far_kpa, units),
        "limit_pct": reading.limit_pct,
        key("gauge_error_psi"): pressure_of(reading.gauge_error_kpa, units),
        "signs": {"flow": flow, "inlet": inlet, "flush_line": far},
        "finding": None if clock.filling else reading.finding,
        "holes": [_hole_record(hole, units) for hole in reading.holes],
        "read_at": _iso(clock.read_at),
        "on_since": _iso(clock.on_since),
        "full_at": _iso(clock.full_at),
        "look_at": _iso(clock.look_at),
        "wait_h": clock.wait_h,
    }


def _iso(moment: datetime | None) -> str | None:
    return None if moment is None else moment.isoformat(timespec="minutes")


def _hole_record(hole: Hole, units: UnitSystem) -> dict[str, Any]:
    return {
        units.key("bore_in"): units.from_m_small(hole.bore_m),
        units.key("flow_gpm"): flow_of(hole.flow_lps, units),
        "share_pct": hole.share_pct,
    }


def zone_text(title: str, reading: ZoneReading, clock: Watch, units: UnitSystem, *, width: int | None) -> str:
    """Return a zone's reading in a short table and sentences.

    Parameters
    ----------
    title : str
        Line over the table.
    reading : ZoneReading
        The comparison.
    clock : Watch
        The irrigation's clock.
    units : UnitSystem
        The farm's units.
    width : int or None
        Columns of the terminal; None for nothing wrapped. [-]

    Returns
    -------
    str
        The text. It never says that there is no leak; no line break at the end.
    """
    rows = [
        (f"Flow, {units.flow}", *_flows([reading.flow_lps, reading.same_lps, reading.usual_lps], units)),
        (
            f"Inlet, {units.pressure}",
            *_pressures(
                [reading.inlet_kpa, reading.inlet_kpa or reading.usual_inlet_kpa, reading.usual_inlet_kpa],
                units,
            ),
        ),
        (
            f"Flush line, {units.pressure}",
            *_pressures([reading.flush_line_kpa, reading.same_far_kpa, reading.usual_far_kpa], units),
        ),
    ]
    head = ("", "Read", "Design at this inlet pressure", "Design as usual")
    lines = [*_finding_lines(reading, clock), _hole_words(reading, units), *_clock_lines(clock)]
    return "\n\n".join(
        [
            block_text(TableBlock(title=title, head=head, rows=rows), width),
            "\n".join(wrapped(f"- {line}", width, indent=2) for line in lines),
        ]
    )


def _flows(flows: Sequence[float | None], units: UnitSystem) -> list[str]:
    return [number_text(flow_of(flow, units), 1 if units.name == "us" else 2) for flow in flows]


def _pressures(pressures: Sequence[float | None], units: UnitSystem) -> list[str]:
    return [number_text(pressure_of(pressure, units), 1) for pressure in pressures]


def _finding_lines(reading: ZoneReading, clock: Watch) -> list[str]:
    if clock.filling and clock.full_at is not None:
        return [
            f"Read at {_hour(clock.read_at)}, but the tape cannot be full before {_hour(clock.full_at)}: "
            "this reading says nothing yet. Read again after that."
        ]
    side = "over" if reading.off_pct >= 0 else "under"
    limit = "" if reading.limit_pct is None else f" (limit {reading.limit_pct:g} %)"
    lines = [f"Flow is {abs(reading.off_pct):.1f} % {side} design at the same inlet pressure{limit}."]
    if reading.inlet_kpa is None:
        lines[0] = f"Flow is {abs(reading.off_pct):.1f} % {side} design at the usual pressure{limit}."
    if reading.finding is None:
        return [*lines, _NO_LIMIT]
    if reading.finding == "nothing seen":
        seen = f"Nothing seen by {_hour(clock.read_at)}."
        return [*lines, f"{seen} A meter cannot show that there is no leak: walk the rows."]
    return [*lines, _FINDINGS[reading.finding]]


def _hour(moment: datetime) -> str:
    return f"{moment:%H:%M}"


def _hole_words(reading: ZoneReading, units: UnitSystem) -> str:
    fine = 2 if units.name == "us" else 3
    holes = " and ".join(
        f"{number_text(flow_of(hole.flow_lps, units), fine)} {units.flow} through a {_bore(hole, units)} "
        f"hole ({hole.share_pct:.2f} % of the zone)"
        for hole in reading.holes
    )
    text = f"For comparison, into air at the inlet pressure (Cd 0.60; soil holds it back): {holes}."
    largest = max(hole.share_pct for hole in reading.holes)
    if reading.limit_pct is not None and largest < reading.limit_pct:
        return f"{text} A difference of {reading.limit_pct:g} % hides either one."
    return text


def _bore(hole: Hole, units: UnitSystem) -> str:
    if units.name == "us":
        return f"1/{round(1 / units.from_m_small(hole.bore_m))} in"
    return f"{units.from_m_small(hole.bore_m):.1f} mm"


def _clock_lines(clock: Watch) -> list[str]:
    if clock.look_at is None or clock.full_at is None:
        return []
    wait = f"{clock.wait_h:g} h"
    source = "yours" if clock.wait_stated else "common practice, no source; --wait sets your own"
    return [
        f"Full at {clock.full_at:%a %d %b %H:%M} at the earliest; worth walking from "
        f"{clock.look_at:%a %d %b %H:%M} (wait {wait}: {source}).",
        "Water that shows may lie well along the lateral from the hole. Before anybody digs: zone shut and "
        "drained, buried utilities located first (in the United States call 811). Local codes and licensed "
        "people come first.",
    ]


def look_calendar(zone: str, block: str, look_at: datetime, *, made_at: datetime) -> bytes:
    """Return a calendar file with the walk of a zone.

    Parameters
    ----------
    zone, block : str
        Zone and drip block.
    look_at : datetime
        When the walk is worth doing, local time without a zone.
    made_at : datetime
        When the file is made, UTC.

    Returns
    -------
    bytes
        An RFC 5545 file with one event of an hour, at the clock time of wherever it is opened.
    """
    from icalendar import Calendar, Event

    event = Event()
    name = f"Walk {one_line(zone)}, {one_line(block)}"
    event.add("summary", name)
    event.add("dtstart", look_at)
    event.add("dtend", look_at + timedelta(hours=1))
    event.add("dtstamp", made_at)
    event.add("uid", f"{uuid5(NAMESPACE_URL, f'ringrow:{block}/{zone}/{look_at.isoformat()}')}@ringrow")
    event.add(
        "description",
        "Look for water coming up, soft ground and burrows, from the header outward. No dry surface proves "
        "that there is no leak.",
    )
    calendar = Calendar()
    calendar.add("prodid", "-//ringrow//walk a zone//EN")
    calendar.add("version", "2.0")
    calendar.add_component(event)
    return bytes(calendar.to_ical())

"""The plan of the first walk as a timetable people read and as a JSON record."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ringrow.handoff.cautions import CLOSING, GENERAL, caution_words
from ringrow.handoff.flag_table import flag_sentence
from ringrow.handoff.languages import N_, _
from ringrow.handoff.number_words import length_words, one_line
from ringrow.handoff.plain_table import TableBlock, block_text, wrapped
from ringrow.handoff.route_table import clock_words, speed_words
from ringrow.handoff.start_up import LOOK_M_S, PASS_M, TOWER_MIN, VALVE_MIN

if TYPE_CHECKING:
    from ringrow.handoff.start_up import StartUpPlan, StartUpStep, ZoneJob
    from ringrow.units import UnitSystem

WALK_DRY = N_(
    "Machines are looked at parked, with the power locked off and tested by a qualified person; nobody opens "
    "a panel or a tower box on this walk."
)
"""What holds while machines are walked."""


def start_up_text(plan: StartUpPlan, units: UnitSystem, *, width: int | None) -> str:
    """Return the timetable of the first walk, with what it rests on and the cautions.

    Parameters
    ----------
    plan : StartUpPlan
        The timetable.
    units : UnitSystem
        The farm's units.
    width : int or None
        Columns of the terminal; None for plain lines. [-]

    Returns
    -------
    str
        The text, without a line break at the end.
    """
    rows = [
        (
            clock_words(step.at_min, 0.0),
            clock_words(step.until_min, 0.0),
            step_words(step),
            length_words(step.way_m, units),
        )
        for step in plan.steps
    ]
    block = TableBlock(
        title=_("First walk: one well one zone at a time, machines walked dry while zones fill"),
        head=(_("From"), _("To"), _("Do"), _("Way there")),
        rows=rows,
        words=3,
    )
    notes = [*start_up_notes(plan, units), *_cautions()]
    return "\n\n".join(
        [block_text(block, width), "\n".join(wrapped(note, width, indent=2) for note in notes)]
    )


def step_words(step: StartUpStep) -> str:
    """Return one line of the timetable in words.

    Parameters
    ----------
    step : StartUpStep
        The line.

    Returns
    -------
    str
        What to do and what to know.

    Examples
    --------
    >>> from ringrow.handoff.start_up import StartUpStep
    >>> step_words(StartUpStep(act="walk", at_min=390, until_min=420, way_m=0, system="West pivot"))
    'walk West pivot, dry'
    """
    system = one_line(step.system)
    if step.zone is None:
        return _("walk {system}, dry").format(system=system)
    zone, valve = f"{system}, {one_line(step.zone.zone)}", _valve(step.zone)
    if step.zone.well:
        valve = _("{valve} at {well}").format(valve=valve, well=one_line(step.zone.well))
    if step.act == "look":
        return _("look over {zone}: wet spots, burrows, valve and flush ends").format(zone=zone)
    if step.act == "close":
        return _("close {valve} ({zone})").format(valve=valve, zone=zone)
    full = _("time to fill not known")
    if step.zone.fill_min is not None:
        full = _("full after {time}").format(time=_span(step.zone.fill_min))
    back = clock_words(step.due_min or 0.0, 0.0)
    if step.closes:
        return _("open {valve}, then close {other}: fill {zone} ({full}; come back from {time})").format(
            valve=valve, other=_valve(step.closes), zone=zone, full=full, time=back
        )
    said = _("open {valve}: fill {zone} ({full}; come back from {time})")
    return said.format(valve=valve, zone=zone, full=full, time=back)


def _valve(job: ZoneJob) -> str:
    if job.valve:
        return _("valve {valve}").format(valve=one_line(job.valve))
    return _("the valve of {zone}").format(zone=one_line(job.zone))


def _span(minutes: float) -> str:
    whole = int(minutes + 0.999)
    return f"{whole} min" if whole < 60 else f"{whole // 60} h {whole % 60:02d} min"


def start_up_notes(plan: StartUpPlan, units: UnitSystem) -> list[str]:
    """Return what a timetable rests on, one sentence each.

    Parameters
    ----------
    plan : StartUpPlan
        The timetable.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    list of str
        What must be fixed first, then assumptions, then what is not known.
    """
    notes = [
        _("Fix or check before filling: {flag}.").format(flag=flag_sentence(flag, units))
        for flag in plan.first_fix
    ]
    notes += [
        _(
            "Each well starts with the zone that fills soonest. Assumed: {n} h until water shows once the "
            "tape is full (--wait); it can take longer, and no water seen is no proof that there is no leak."
        ).format(n=f"{plan.wait_h:g}"),
        _(
            "Assumed: days from {begin} to {end}, begun at the start; a zone stays on until it has been "
            "looked over; least time to fill counts tape alone, not mains and headers; valves are at the "
            "well."
        ).format(begin=clock_words(plan.at_min, 0.0), end=clock_words(plan.until_min, 0.0)),
        _(
            "Assumed: {valve} min a valve, {tower} min a tower and the way along the machine and back on "
            "foot, zones looked over every {every} at {look}, driving {drive}, walking {walk}, ways "
            "straight."
        ).format(
            valve=f"{VALVE_MIN:g}",
            tower=f"{TOWER_MIN:g}",
            every=length_words(PASS_M, units),
            look=speed_words(LOOK_M_S, units),
            drive=speed_words(plan.drive_m_s, units),
            walk=speed_words(plan.walk_m_s, units),
        ),
        _(
            "The next valve is opened before the last is closed, so that no pump works against shut valves "
            "(common practice). Pivots and lateral moves get water only when no zone of their well is on."
        ),
    ]
    if plan.not_filled:
        names = "; ".join(map(one_line, plan.not_filled))
        notes.append(_("Time to fill not known, counted as none: {names}.").format(names=names))
    if plan.unserved:
        names = "; ".join(map(one_line, plan.unserved))
        said = _("No well in farm.toml serves {names}: each taken as having its own water.")
        notes.append(said.format(names=names))
    return notes


def _cautions() -> list[str]:
    wanted = {"start", "shock", "pressure", "alone"}
    texts = [caution_words(caution) for caution in GENERAL if caution.key in wanted]
    return [_("CAUTION: {text}").format(text=_(WALK_DRY)), *texts, _(CLOSING)]


def start_up_record(plan: StartUpPlan, units: UnitSystem) -> dict[str, Any]:
    """Return the timetable as plain values under the keys of the JSON output.

    Parameters
    ----------
    plan : StartUpPlan
        The timetable.
    units : UnitSystem
        The farm's units; keys end in them.

    Returns
    -------
    dict
        Minutes count from midnight of the first day.
    """
    return {
        "wait_h": plan.wait_h,
        "steps": [
            {
                "do": step.act,
                "at": clock_words(step.at_min, 0.0),
                "until": clock_words(step.until_min, 0.0),
                "at_min": step.at_min,
                "until_min": step.until_min,
                "system": step.system,
                "zone": step.zone.zone if step.zone else None,
                "well": step.zone.well or None if step.zone else None,
                "valve": step.zone.valve or None if step.zone else None,
                "closes": step.closes.valve or step.closes.zone if step.closes else None,
                "fill_min": step.zone.fill_min if step.zone else None,
                "come_back_min": step.due_min,
                units.key("way_ft"): units.from_m(step.way_m),
                "words": step_words(step),
            }
            for step in plan.steps
        ],
        "fix_first": [flag.state.number for flag in plan.first_fix],
        "assumed": start_up_notes(plan, units),
        "cautions": _cautions(),
    }

"""Breakdowns as JSON records and as a table, by what they cost a day."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ringrow.farm.events import when_text
from ringrow.farm.local_time import local_words
from ringrow.farm.systems import local_time
from ringrow.handoff.assumed_words import said_again
from ringrow.handoff.languages import N_, _
from ringrow.handoff.number_words import azimuth_words, one_line, unit_words
from ringrow.handoff.plain_table import TableBlock, block_text, wrapped
from ringrow.handoff.water_numbers import depth_of, flow_of, volume_of

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import tzinfo

    from ringrow.farm.breakdown_list import Breakdown
    from ringrow.units import UnitSystem

_ACRE_INCH_M3 = 4046.8564224 * 0.0254
# Reasons as they come from the numbers; what is not here is said as it came.
_REASONS = (
    N_("flow not stated"),
    N_("top_speed of the machine not stated"),
    N_("hours of a pass follow from the travel speed set at the cart"),
    N_("a well waters what its machines water"),
    N_("ground it waters is worked out for machines alone, or a towed one at its point"),
)


def breakdown_record(down: Breakdown, units: UnitSystem) -> dict[str, Any]:
    """Return a breakdown as plain values; numbers are not rounded.

    Parameters
    ----------
    down : Breakdown
        The breakdown.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    dict
        What is not known is None, and ``unknown`` says why.
    """

    def volume(cubic_metres: float | None) -> float | None:
        return None if cubic_metres is None else volume_of(1000.0 * cubic_metres, units)

    def area(square_metres: float | None) -> float | None:
        return None if square_metres is None else units.from_m2(square_metres)

    return {
        "id": down.record.id,
        "system": down.system,
        "field": down.field,
        "open": down.restarted is None,
        "stopped": when_text(down.stopped),
        "restarted": None if down.restarted is None else when_text(down.restarted),
        "hours": down.hours,
        "azimuth_deg": down.azimuth_deg,
        "panel_deg": down.panel_deg,
        "tower": down.tower,
        "direction": down.direction or None,
        "why": down.why,
        "who": down.record.who,
        units.key("flow_gpm"): flow_of(down.flow_lps, units),
        units.key("acres"): area(down.area_m2),
        units.key("not_put_on_gal"): volume(down.volume_m3),
        units.key("not_put_on_in"): depth_of(down.depth_mm, units),
        units.key("day_gal"): volume(down.daily_m3),
        units.key("day_in"): depth_of(down.daily_mm, units),
        units.key("day_acres"): area(down.daily_m2),
        "unknown": sorted(set(down.unknown.values())),
        "clashes": list(down.record.clashes),
    }


def breakdown_lines(down: Breakdown, units: UnitSystem, zone: tzinfo) -> list[str]:
    """Return all about one breakdown in a few lines.

    Parameters
    ----------
    down : Breakdown
        The breakdown.
    units : UnitSystem
        The farm's units.
    zone : tzinfo
        Zone of the clock that times are shown by.

    Returns
    -------
    list of str
        What and where, then the water, then what is not known.
    """
    system = one_line(down.system)
    first = _("{system} stopped {when}").format(
        system=system, when=said_again(local_words(down.stopped, zone))
    )
    where = where_words(down)
    lines = [f"{first}; {where}" if where else first]
    if down.restarted is None:
        lines.append(_("still stopped after {hours}").format(hours=hours_words(down.hours)))
    else:
        lines.append(
            _("running again {when}, after {hours}").format(
                when=said_again(local_words(down.restarted, zone)), hours=hours_words(down.hours)
            )
        )
    if down.direction == "reverse":
        lines[-1] += "; " + _("restarted in reverse")
    elif down.direction == "forward":
        lines[-1] += "; " + _("restarted forward")
    if down.volume_m3 is not None:
        lines.append(_water_line(down, units))
    lines += [_("not known: {why}").format(why=_(why)) for why in sorted(set(down.unknown.values())) if why]
    return lines + ([one_line(down.why)] if down.why else [])


def _water_line(down: Breakdown, units: UnitSystem) -> str:
    volume = volume_words(down.volume_m3 or 0.0, units)
    if down.depth_mm is None or down.area_m2 is None:
        return _("not put on: {volume}").format(volume=volume)
    return _("not put on: {volume}, {depth} over {area}").format(
        volume=volume,
        depth=depth_words(down.depth_mm, units),
        area=f"{units.from_m2(down.area_m2):,.1f} {unit_words(units.area)}",
    )


def where_words(down: Breakdown) -> str:
    """Return where a machine stopped.

    Parameters
    ----------
    down : Breakdown
        The breakdown.

    Returns
    -------
    str
        Panel degrees, azimuth and tower; empty when nobody said.
    """
    parts = []
    if down.azimuth_deg is not None and down.panel_deg is not None:
        parts.append(
            _("panel {panel}, azimuth {azimuth}").format(
                panel=azimuth_words(down.panel_deg), azimuth=azimuth_words(down.azimuth_deg)
            )
        )
    elif down.azimuth_deg is not None:
        parts.append(_("azimuth {azimuth}").format(azimuth=azimuth_words(down.azimuth_deg)))
    if down.tower is not None:
        parts.append(_("tower {tower}").format(tower=down.tower))
    return ", ".join(parts)


def hours_words(hours: float) -> str:
    """Return a time down in words.

    Parameters
    ----------
    hours : float
        The time. [h]

    Returns
    -------
    str
        Hours; from two days on also days.

    Examples
    --------
    >>> hours_words(6.25), hours_words(72.0)
    ('6.2 h', '72.0 h (3.0 days)')
    """
    plain = _("{hours} h").format(hours=f"{hours:,.1f}")
    if hours < 48:
        return plain
    return _("{hours} ({days} days)").format(hours=plain, days=f"{hours / 24:,.1f}")


def volume_words(volume_m3: float, units: UnitSystem) -> str:
    """Return a volume of water as a farm says it.

    Parameters
    ----------
    volume_m3 : float
        The volume. [m3]
    units : UnitSystem
        The farm's units.

    Returns
    -------
    str
        Acre-inches and gallons, or cubic metres.

    Examples
    --------
    >>> from ringrow.units import METRIC, US
    >>> volume_words(4251.8, US), volume_words(4251.8, METRIC)
    ('41.4 acre-in (1,123,000 gal)', '4,252 m3')
    """
    if units.name != "us":
        return f"{volume_m3:,.0f} m3"
    gallons = volume_of(1000.0 * volume_m3, units) or 0.0
    return f"{volume_m3 / _ACRE_INCH_M3:,.1f} {_('acre-in')} ({round(gallons, -3):,.0f} gal)"


def depth_words(depth_mm: float, units: UnitSystem) -> str:
    """Return a depth of water: inches to 0.01, millimetres to 0.1.

    Parameters
    ----------
    depth_mm : float
        The depth. [mm]
    units : UnitSystem
        The farm's units.

    Returns
    -------
    str
        Number and unit.
    """
    return f"{depth_of(depth_mm, units) or 0.0:,.{2 if units.name == 'us' else 1}f} {unit_words(units.small)}"


def breakdown_table(downs: Sequence[Breakdown], units: UnitSystem, zone: tzinfo, *, width: int | None) -> str:
    """Return breakdowns as a table.

    Parameters
    ----------
    downs : sequence of Breakdown
        Breakdowns, in the order they are to be shown.
    units : UnitSystem
        The farm's units.
    zone : tzinfo
        Zone of the clock that times are shown by; said below the table.
    width : int or None
        Columns of the terminal; None for plain lines. [-]

    Returns
    -------
    str
        The table, without a line break at the end.
    """
    volume = _("acre-in") if units.name == "us" else "m3"
    day = _("A day costs, {unit}").format(unit=volume)
    lost = _("Not put on, {unit}").format(unit=volume)
    block = TableBlock(
        title=_("Breakdowns, by what a day costs; open ones first"),
        head=(
            *(_("Id"), _("System"), _("Stopped"), _("Where"), _("What")),
            *(_("Hours down"), day, _("{unit} a day").format(unit=unit_words(units.small))),
            *(_("{unit} a day").format(unit=unit_words(units.area)), lost, unit_words(units.small)),
        ),
        rows=[_row(down, units, zone) for down in downs],
        words=5,
    )
    notes = [
        _("Times by the clock of {zone}. A time down counts to now while a machine stands.").format(
            zone=said_again(str(zone))
        ),
        _(
            "Water is flow times hours down, depth over all ground the machine wets: what could have been "
            "put on, not what the crop lost. Acres a day are those of its full speed."
        ),
    ]
    reasons = sorted({why for down in downs for why in down.unknown.values() if why})
    notes += (
        [_("A dash is not known: {why}.").format(why="; ".join(_(why) for why in reasons))] if reasons else []
    )
    return "\n\n".join([block_text(block, width), *(wrapped(note, width) for note in notes)])


def _row(down: Breakdown, units: UnitSystem, zone: tzinfo) -> tuple[str, ...]:
    def volume(cubic_metres: float | None) -> str:
        if cubic_metres is None:
            return "-"
        per = _ACRE_INCH_M3 if units.name == "us" else 1.0
        return f"{cubic_metres / per:,.{1 if units.name == 'us' else 0}f}"

    def depth(millimetres: float | None) -> str:
        return "-" if millimetres is None else depth_words(millimetres, units).split(" ")[0]

    local = local_time(down.stopped, zone)
    hours = f"{down.hours:,.1f}"
    acres = "-" if down.daily_m2 is None else f"{units.from_m2(down.daily_m2):,.1f}"
    return (
        down.record.id[:8],
        one_line(down.system),
        f"{local:%Y-%m-%d %H:%M}",
        where_words(down),
        one_line(down.why),
        _("{hours}, open").format(hours=hours) if down.restarted is None else hours,
        volume(down.daily_m3),
        depth(down.daily_mm),
        acres,
        volume(down.volume_m3),
        depth(down.depth_mm),
    )

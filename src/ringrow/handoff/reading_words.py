"""Words and records of readings: what was read, how it is judged, and against what."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ringrow.farm.events import when_text
from ringrow.farm.reading_kinds import READING_KINDS, in_shown_unit
from ringrow.farm.readings import UNBALANCE_PCT, UNBALANCE_STOP_PCT
from ringrow.handoff.languages import N_, _
from ringrow.handoff.number_words import one_line
from ringrow.handoff.plain_table import TableBlock, block_text

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ringrow.farm.readings import JudgedReading, Limits
    from ringrow.units import UnitSystem

MISSING_WORDS: dict[str, str] = {
    "plate_volts": N_("not judged: no plate volts in the farm's files"),
    "plate_hertz": N_("not judged: no plate hertz in the farm's files"),
    "battery_volts": N_("not judged: no battery volts in the farm's files"),
    "flow": N_("not judged: no design flow in the farm's files"),
    "pressure": N_("not judged: no design pressure in the farm's files"),
    "regulator": N_("not judged: no regulator pressure in the farm's files"),
    "tolerances.filter_loss": N_("not judged: no largest filter loss in the farm's files"),
    "zone.pressure": N_("not judged: no pressure of that zone in the farm's files"),
    "tape": N_("not judged: no tape in the farm's files"),
    "zone": N_("not judged: no such zone in the farm's files"),
}
"""What is said where the files state no number to judge by."""

_SOURCES: dict[str, str] = {
    "standard": N_("plate {design}, {share} % either way: NEMA MG 1, clause 12.44.1"),
    "ours": N_("design {design}, {share} % either way: our choice"),
    "farm": N_("stated {design}, {share} % either way: as farm.toml says"),
    "checklist": N_("regulators {design} and {over} over it: Nebraska Extension checklist"),
    "practice": N_("built for {design}, at rest 12.4 V of 12: common practice, no source"),
}
_KEY_UNITS = {
    "V": "v", "A": "a", "Hz": "hz", "psi": "psi", "kPa": "kpa", "gpm": "gpm", "L/s": "lps", "in": "in",
    "mm": "mm", "h": "h", "°F": "f", "°C": "c", "gal": "gal", "m3": "m3",
}  # fmt: skip


def number_text(value: float) -> str:
    """Return a number of a meter as short as it is read.

    Parameters
    ----------
    value : float
        The number. [any unit]

    Returns
    -------
    str
        One decimal, two below 10; none where it is whole.

    Examples
    --------
    >>> number_text(478.0), number_text(31.96), number_text(1234567.0), number_text(1.961)
    ('478', '32', '1,234,567', '1.96')
    """
    text = f"{value:,.{1 if abs(value) >= 10 else 2}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def value_words(judged: JudgedReading, units: UnitSystem) -> str:
    """Return what was read, in the farm's unit.

    Parameters
    ----------
    judged : JudgedReading
        The reading.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    str
        Such as ``478 V, walking``.
    """
    shown = [_shown(value, judged, units) for value in judged.values]
    unit = READING_KINDS[judged.item].quantity.shown_unit(units)
    text = f"{', '.join(number_text(value) for value in shown)} {unit}"
    if judged.walking is None:
        return text
    return (_("{value}, walking") if judged.walking else _("{value}, idle")).format(value=text)


def judged_words(judged: JudgedReading, units: UnitSystem) -> str:
    """Return how a reading is judged, in the spoken language.

    Parameters
    ----------
    judged : JudgedReading
        The reading.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    str
        One sentence without its source.
    """
    if judged.ok is None:
        return _not_judged(judged)
    value = value_words(judged, units)
    low, high = (limit_text(limit, judged.item, units) for limit in (judged.limits.low, judged.limits.high))
    if judged.why in ("unbalanced", "stop"):
        return _unbalanced(judged, value)
    if judged.ok:
        if judged.unbalance_pct is not None:
            share = number_text(judged.unbalance_pct)
            return _("{value}: good, {share} % out of balance").format(value=value, share=share)
        if low and high:
            return _("{value}: good, {low} to {high}").format(value=value, low=low, high=high)
        if low:
            return _("{value}: good, at least {low}").format(value=value, low=low)
        return _("{value}: good, at most {high}").format(value=value, high=high)
    if judged.why == "below":
        return _("{value}: too low, at least {low}").format(value=value, low=low)
    return _("{value}: too high, at most {high}").format(value=value, high=high)


def _not_judged(judged: JudgedReading) -> str:
    if judged.why == "no-number":
        return _(MISSING_WORDS[judged.limits.missing])
    if judged.why == "not-qualified":
        return _("not judged: line volts count only when a qualified person read them")
    return _("kept; there is nothing to judge it against")


def _unbalanced(judged: JudgedReading, value: str) -> str:
    share = number_text(judged.unbalance_pct or 0.0)
    if judged.why == "stop":
        most = number_text(UNBALANCE_STOP_PCT)
        return _("{value}: {share} % out of balance, more than {most} %: leave the motor off").format(
            value=value, share=share, most=most
        )
    most = number_text(UNBALANCE_PCT)
    return _("{value}: {share} % out of balance, more than {most} %: one for the electrician").format(
        value=value, share=share, most=most
    )


def source_words(judged: JudgedReading, units: UnitSystem) -> str:
    """Return what a reading was held against and where the tolerance comes from.

    Parameters
    ----------
    judged : JudgedReading
        The reading.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    str
        In the spoken language; empty for a reading that is not judged.
    """
    if judged.ok is None:
        return ""
    if judged.unbalance_pct is not None and judged.why not in ("below", "above"):
        return _("largest departure from the mean of the lines: NEMA MG 1, as cited second hand")
    return limits_source(judged.limits, judged.item, units)


def limits_source(limits: Limits, item: str, units: UnitSystem) -> str:
    """Return what readings are held against and where the tolerance comes from.

    Parameters
    ----------
    limits : Limits
        The limits, one of them at least known.
    item : str
        Kind of reading.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    str
        In the spoken language.
    """
    if limits.design is None:
        return _("as farm.toml says")
    share = number_text(100 * (limits.share or 0.0))
    design = limit_text(limits.design, item, units)
    over = limit_text((limits.low or 0.0) - limits.design, item, units)
    return _(_SOURCES[limits.source]).format(design=design, share=share, over=over)


def _shown(value: float, judged: JudgedReading, units: UnitSystem) -> float:
    quantity = READING_KINDS[judged.item].quantity
    return in_shown_unit(value, quantity.shown_unit(units), quantity)


def limit_text(value: float | None, item: str, units: UnitSystem) -> str:
    """Return a limit in the farm's unit.

    Parameters
    ----------
    value : float or None
        The limit, as records keep such a number. [unit of the key]
    item : str
        Kind of reading.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    str
        Such as ``414 V``; empty for none.
    """
    if value is None:
        return ""
    quantity = READING_KINDS[item].quantity
    unit = quantity.shown_unit(units)
    return f"{number_text(in_shown_unit(value, unit, quantity))} {unit}"


def reading_record(judged: JudgedReading, units: UnitSystem) -> dict[str, Any]:
    """Return a reading as plain data, its numbers in the farm's units.

    Parameters
    ----------
    judged : JudgedReading
        The reading.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    dict
        ``read_<unit>`` (a list of three for line volts), ``stated_<unit>``, ``least_<unit>`` and
        ``most_<unit>``, the last three null where there is none; the rest as the page on rounds has it.
    """
    quantity = READING_KINDS[judged.item].quantity
    unit = _KEY_UNITS[quantity.shown_unit(units)]
    shown = [_shown(value, judged, units) for value in judged.values]
    limits = {
        key: None if value is None else _shown(value, judged, units)
        for key, value in (
            (f"stated_{unit}", judged.limits.design),
            (f"least_{unit}", judged.limits.low),
            (f"most_{unit}", judged.limits.high),
        )
    }
    return {
        "id": judged.record.id,
        "system": judged.system,
        "kind": judged.kind,
        "item": judged.item,
        "zone": judged.zone or None,
        f"read_{unit}": shown[0] if len(shown) == 1 else shown,
        "said": judged.said,
        "walking": judged.walking,
        "qualified": judged.record.value.get("qualified") is True,
        "ok": judged.ok,
        "why": judged.why,
        "words": judged_words(judged, units),
        **limits,
        "unbalance_pct": judged.unbalance_pct,
        "source": source_words(judged, units) or None,
        "when": when_text(judged.when),
        "who": judged.who,
        "latest": judged.latest,
        "note": judged.record.value.get("note", ""),
        "clashes": list(judged.record.clashes),
    }


def reading_lines(judged: JudgedReading, units: UnitSystem) -> list[str]:
    """Return a reading as lines for people.

    Parameters
    ----------
    judged : JudgedReading
        The reading.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    list of str
        System, kind and verdict; then what it was held against.
    """
    place = f"{judged.system}, {judged.zone}" if judged.zone else judged.system
    source = source_words(judged, units)
    return [
        f"{one_line(place)}: {judged.item} {told_words(judged, units)}",
        *([f"  {source}"] if source else []),
    ]


def reading_table(readings: Sequence[JudgedReading], units: UnitSystem, *, width: int | None) -> str:
    """Return readings as a table.

    Parameters
    ----------
    readings : sequence of JudgedReading
        Readings.
    units : UnitSystem
        The farm's units.
    width : int or None
        Columns of the terminal; None for plain lines. [-]

    Returns
    -------
    str
        Day, system, kind, what was read and how it is judged, who, first characters of the id; what
        it was held against below it.
    """
    head = (_("Day"), _("System"), _("Reading"), _("Judged"), _("By"), _("Id"))
    rows = [
        (
            f"{each.when:%Y-%m-%d}",
            one_line(f"{each.system}, {each.zone}" if each.zone else each.system),
            each.item,
            told_words(each, units),
            one_line(each.who) or "-",
            each.record.id[:8],
        )
        for each in readings
    ]
    table = block_text(TableBlock(title=_("Readings"), head=head, rows=rows, words=len(head)), width)
    sources = dict.fromkeys(filter(None, (source_words(each, units) for each in readings)))
    if not sources:
        return table
    return "\n".join([table, "", _("Judged against:"), *(f"  {source}" for source in sources)])


def told_words(judged: JudgedReading, units: UnitSystem) -> str:
    """Return what was read and how it is judged, in the spoken language.

    Parameters
    ----------
    judged : JudgedReading
        The reading.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    str
        One line without its source.
    """
    words = judged_words(judged, units)
    return words if judged.ok is not None else f"{value_words(judged, units)}; {words}"

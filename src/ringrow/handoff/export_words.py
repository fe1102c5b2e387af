"""Words and texts that several exports share."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from ringrow.handoff.flag_table import system_of
from ringrow.handoff.languages import _
from ringrow.handoff.map.words import POWER_WORDS
from ringrow.handoff.number_words import one_line
from ringrow.handoff.place_words import flag_words

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from ringrow.equipment.well import Well
    from ringrow.farm.flag_model import LocatedFlag
    from ringrow.units import UnitSystem

_NOT_XML = re.compile(r"[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_MOST_NAMED = 12


def flag_label(flag: LocatedFlag) -> str:
    """Return the short name of a flag on other programs' screens: its number and kind.

    Parameters
    ----------
    flag : LocatedFlag
        The flag.

    Returns
    -------
    str
        Such as ``12 gearbox``, on one line.
    """
    return f"{flag.state.number} {_(one_line(flag.state.kind))}"


def well_words(well: Well) -> str:
    """Return what is known of a well in one line.

    Parameters
    ----------
    well : Well
        The well.

    Returns
    -------
    str
        Power, what it serves, how to shut it off; what is not known is left out.
    """
    parts = [
        _("power: {power}").format(power=_(POWER_WORDS.get(well.power, well.power))) if well.power else "",
        _("serves {names}").format(names=", ".join(well.serves)) if well.serves else "",
        _("to shut it off: {how}").format(how=well.shutoffs) if well.shutoffs else "",
    ]
    return one_line("; ".join(part for part in parts if part))


def xml_text(text: str) -> str:
    """Return a text that XML can hold.

    Parameters
    ----------
    text : str
        Text from anywhere.

    Returns
    -------
    str
        The same with U+FFFD for control characters, which XML 1.0 has no way to write. Signs such
        as ``<`` are left: whoever writes the XML escapes them.

    Examples
    --------
    >>> xml_text("a<b" + chr(7)) == "a<b" + chr(0xFFFD)
    True
    """
    return _NOT_XML.sub("\N{REPLACEMENT CHARACTER}", text)


def without_position(flags: Iterable[LocatedFlag]) -> list[LocatedFlag]:
    """Return the flags that have no position.

    Parameters
    ----------
    flags : iterable of LocatedFlag
        Flags.

    Returns
    -------
    list of LocatedFlag
        Those on a machine that stood nobody knows where, and those that came without a place.
    """
    return [flag for flag in flags if flag.lon is None or flag.lat is None]


def unplaced_words(flags: Sequence[LocatedFlag], units: UnitSystem, *, left_out: bool) -> list[str]:
    """Return lines that tell which flags have no position.

    Parameters
    ----------
    flags : sequence of LocatedFlag
        Flags without a position.
    units : UnitSystem
        The farm's units.
    left_out : bool
        Whether the file cannot hold them.

    Returns
    -------
    list of str
        Nothing for no flags; else one line with the count and, when left out, one a flag.
    """
    if not flags:
        return []
    count = f"{len(flags)} flag{'s' * (len(flags) != 1)} without a position"
    if not left_out:
        return [f"{count}: in the file with place in words, drawn nowhere."]
    named = [f"  {flag_label(flag)}: {_where(flag, units)}" for flag in flags[:_MOST_NAMED]]
    more = len(flags) - len(named)
    named += [f"  and {more} more (ringrow flag list shows all)"] if more else []
    return [f"{count} left out, because a waypoint needs one:", *named]


def _where(flag: LocatedFlag, units: UnitSystem) -> str:
    return one_line(flag_words(flag, units) or system_of(flag) or "no place said")

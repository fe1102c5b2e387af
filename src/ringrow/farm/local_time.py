"""Times as people say them: by the clock on the wall, in a zone that is always named."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from ringrow.errors import SeasonError

if TYPE_CHECKING:
    from datetime import tzinfo


@dataclass(frozen=True, slots=True, kw_only=True)
class SaidTime:
    """A time that somebody said.

    Parameters
    ----------
    when : datetime
        The moment, UTC.
    taken : str
        How it was taken: local time with its offset and zone, in words.
    """

    when: datetime
    taken: str


def parse_local(text: str, *, zone: tzinfo, what: str = "time") -> SaidTime:
    """Return the moment that a local date and time names.

    Parameters
    ----------
    text : str
        ``2027-07-03 14:10``, with seconds or not; with an offset (``-05:00``, ``Z``) that counts
        instead of the zone.
    zone : tzinfo
        Zone of the clock it was read from.
    what : str, default "time"
        What it is, for the message.

    Returns
    -------
    SaidTime
        The moment. An hour that a clock shows twice in fall is taken as the first one, and said so.

    Raises
    ------
    SeasonError
        If it is no such time, holds no time of day, or names an hour that the clock skips in spring.

    Examples
    --------
    >>> from zoneinfo import ZoneInfo
    >>> said = parse_local("2027-07-03 14:10", zone=ZoneInfo("America/Chicago"))
    >>> said.when.isoformat(), said.taken
    ('2027-07-03T19:10:00+00:00', '2027-07-03 14:10 (UTC-05:00, America/Chicago)')
    """
    allowed = "allowed: a date and time such as 2027-07-03 14:10, or with an offset, 2027-07-03T14:10-05:00"
    try:
        clock = datetime.fromisoformat(text.strip())
    except ValueError as error:
        message = f'{what}: found "{text[:40]}"; {allowed}'
        raise SeasonError(message) from error
    if ":" not in text or not 1950 <= clock.year < 2200:
        message = f'{what}: found "{text[:40]}"; {allowed}, years 1950 to 2199'
        raise SeasonError(message)
    if clock.tzinfo is not None:
        return SaidTime(when=clock.astimezone(UTC), taken=f"{clock:%Y-%m-%d %H:%M} (UTC{_offset(clock)})")
    local = clock.replace(tzinfo=zone, fold=0)
    when = local.astimezone(UTC)
    if when.astimezone(zone).replace(tzinfo=None) != clock:
        message = (
            f'{what}: found "{text[:40]}", an hour that the clock skips that day in {zone}; '
            "allowed: a time that was, or one with an offset"
        )
        raise SeasonError(message)
    twice = local.replace(fold=1).utcoffset() != local.utcoffset()
    note = "; the clock showed it twice that day: the first is taken" if twice else ""
    return SaidTime(when=when, taken=f"{local_words(when, zone)}{note}")


def local_words(when: datetime, zone: tzinfo) -> str:
    """Return a moment by the clock on the wall, with its offset and zone.

    Parameters
    ----------
    when : datetime
        The moment.
    zone : tzinfo
        Zone of the clock.

    Returns
    -------
    str
        One line.
    """
    local = when.astimezone(zone)
    return f"{local:%Y-%m-%d %H:%M} (UTC{_offset(local)}, {zone})"


def _offset(local: datetime) -> str:
    minutes = (local.utcoffset() or timedelta()) // timedelta(minutes=1)
    hours, rest = divmod(abs(minutes), 60)
    return f"{'-' if minutes < 0 else '+'}{hours:02}:{rest:02}"

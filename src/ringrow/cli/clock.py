"""The clock on the wall: the farm's time zone, or this computer's where the farm states none."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, tzinfo
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ringrow.farm.model import Farm


class ComputerZone(tzinfo):
    """The zone this computer is set to, with its own rules for summer time."""

    def utcoffset(self, when: datetime | None) -> timedelta | None:
        """Return the offset from UTC at a local time."""
        return None if when is None else when.replace(tzinfo=None).astimezone().utcoffset()

    def dst(self, when: datetime | None) -> timedelta | None:  # noqa: ARG002 - the base class's signature
        """Return None: the computer's rules are known by their offsets alone."""
        return None

    def tzname(self, when: datetime | None) -> str | None:  # noqa: ARG002 - the base class's signature
        """Return what the zone is called here."""
        return str(self)

    def fromutc(self, when: datetime) -> datetime:
        """Return the local time of a moment given in UTC."""
        local = when.replace(tzinfo=UTC).astimezone()
        return local.replace(tzinfo=self, fold=local.fold)

    def __str__(self) -> str:
        return "this computer's zone"


def farm_clock(farm: Farm) -> tzinfo:
    """Return the zone in which times of a farm are read and shown."""
    from zoneinfo import ZoneInfo

    return ComputerZone() if farm.time_zone is None else ZoneInfo(farm.time_zone)

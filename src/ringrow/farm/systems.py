"""What a farm has that is started, looked at and put away: machines, drip blocks and wells."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import datetime, tzinfo

    from ringrow.coverage.field import Field
    from ringrow.equipment.pivot import Pivot
    from ringrow.equipment.put_away import ThingKind
    from ringrow.farm.model import Farm


OwnT = TypeVar("OwnT")


@dataclass(frozen=True, slots=True, kw_only=True)
class FarmSystem:
    """A machine, a drip block or a well, once on its farm.

    Parameters
    ----------
    name : str
        Its name; of a machine that is towed between points, the machine's.
    kind : {"pivot", "lateral move", "drip", "well"}
        What it is.
    field : str or None
        The field it stands in; None for a well.
    names : tuple of str
        Every name it goes by: its own, and those of a towed machine's points.
    wells : tuple of str, default ()
        Wells that water it; empty when none is said to, and for a well.
    serves : tuple of str, default ()
        For a well: names of the systems it waters, a towed machine by the machine's name.
    power : str, default ""
        For a well: ``electric``, ``engine`` or empty.
    gun : bool, default False
        Whether it has an end gun.
    """

    name: str
    kind: ThingKind
    field: str | None
    names: tuple[str, ...]
    wells: tuple[str, ...] = ()
    serves: tuple[str, ...] = ()
    power: str = ""
    gun: bool = False

    def name_meant(self, said: str) -> str:
        """Return which of its names a person said.

        Parameters
        ----------
        said : str
            What was typed.

        Returns
        -------
        str
            The name of a point, where one was said; else its own.
        """
        wanted = said.strip().casefold()
        return next((name for name in self.names if name.casefold() == wanted), self.name)


def farm_systems(farm: Farm) -> tuple[FarmSystem, ...]:
    """Return what a farm has that is started and put away.

    Parameters
    ----------
    farm : Farm
        The farm.

    Returns
    -------
    tuple of FarmSystem
        Wells first, in file order; then field by field pivots, lateral moves and drip blocks. A
        machine that is towed between points stands there once.
    """
    rows = [row for field in farm.fields for row in _machines(field.name, field)]
    machine_of = {name: row[0] for row in rows for name in row[3]}
    wells = [
        FarmSystem(
            name=well.name,
            kind="well",
            field=None,
            names=(well.name,),
            serves=tuple(dict.fromkeys(machine_of.get(name, name) for name in well.serves)),
            power=well.power,
        )
        for well in farm.wells
    ]
    return (
        *wells,
        *(
            FarmSystem(
                name=name,
                kind=kind,
                field=field,
                names=names,
                wells=tuple(well.name for well in wells if name in well.serves),
                gun=gun,
            )
            for name, kind, field, names, gun in rows
        ),
    )


def by_every_name(pairs: Iterable[tuple[FarmSystem, OwnT]]) -> dict[str, OwnT]:
    """Return what belongs to each system by every name that a person may type for it.

    Parameters
    ----------
    pairs : iterable of tuple
        System and what belongs to it, wells first as `farm_systems` has them.

    Returns
    -------
    dict of str to object
        Where a well has the name of a machine, the plain name is the machine's and the well goes by
        the name with ``(well)`` behind it.
    """
    found: dict[str, OwnT] = {}
    for system, own in pairs:
        for name in system.names:
            if name in found:
                found[f"{name} (well)"] = found[name]
            found[name] = own
    return found


def local_time(when: datetime, zone: tzinfo | None) -> datetime:
    """Return a moment in a time zone; as it is where the calendar ends before the zone's day does.

    Parameters
    ----------
    when : datetime
        The moment, with its time zone.
    zone : tzinfo or None
        Zone in which people read it.

    Returns
    -------
    datetime
        The same moment.

    Examples
    --------
    >>> from datetime import UTC, datetime, timedelta, timezone
    >>> local_time(datetime(2027, 1, 1, 3, tzinfo=UTC), timezone(timedelta(hours=-6))).isoformat()
    '2026-12-31T21:00:00-06:00'
    """
    try:
        return when.astimezone(zone)
    except OverflowError:
        return when


def _machines(field: str, own: Field) -> list[tuple[str, ThingKind, str, tuple[str, ...], bool]]:
    """Return name, kind, field, names and whether there is a gun, of each system of a field."""
    points: dict[str, list[Pivot]] = {}
    for pivot in own.pivots:
        points.setdefault(pivot.machine or pivot.name, []).append(pivot)
    rows: list[tuple[str, ThingKind, str, tuple[str, ...], bool]] = [
        (name, "pivot", field, tuple(dict.fromkeys((name, *(at.name for at in group)))), _has_gun(group[0]))
        for name, group in points.items()
    ]
    rows += [(move.name, "lateral move", field, (move.name,), False) for move in own.lateral_moves]
    rows += [(block.name, "drip", field, (block.name,), False) for block in own.drip]
    return rows


def _has_gun(pivot: Pivot) -> bool:
    arm = pivot.corner_arm
    return pivot.end_gun is not None or (arm is not None and arm.end_gun is not None)

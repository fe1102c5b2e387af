"""Names across a farm's files: unique, and pointing at something that is there."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from ringrow.farm.faults import Findings, listing, meant, shown
from ringrow.farm.rules import tables

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping


@dataclass(frozen=True, slots=True, kw_only=True)
class Named:
    """A name and where it stands.

    Parameters
    ----------
    name, file, key : str
        The name, its file and its key path.
    kind : str
        ``field``, ``pivot``, ``lateral move``, ``drip`` or ``well``.
    """

    name: str
    file: str
    key: str
    kind: str


def field_name(data: Mapping[str, Any]) -> str:
    """Return a field's name from its plain data.

    Parameters
    ----------
    data : mapping
        The field file's plain data.

    Returns
    -------
    str
        The name; empty when it has none.
    """
    name = data.get("name")
    return name.strip() if isinstance(name, str) else ""


def system_names(data: Mapping[str, Any], file: str, kind: str) -> list[Named]:
    """Return the names of a field's systems of one kind, defaults filled in.

    Parameters
    ----------
    data : mapping
        The field file's plain data.
    file : str
        The file's name.
    kind : {"pivot", "lateral_move", "drip"}
        Which systems.

    Returns
    -------
    list of Named
        In file order; a towed machine is followed by each of its points.
    """
    words = kind.replace("_", " ")
    named = []
    for key, row in tables(data, kind):
        number = key[len(kind) + 1 : -1]
        name = _own_name(row) or f"{field_name(data)} {words} {number}"
        named.append(Named(name=name, file=file, key=key, kind=words))
        for where, point in tables(row, "points"):
            at = point_name(name, _own_name(point), int(where[len("points[") : -1]))
            named.append(Named(name=at, file=file, key=f"{key}.{where}", kind=words))
    return named


def _own_name(row: Mapping[str, Any]) -> str | None:
    own = row.get("name")
    return own.strip() if isinstance(own, str) else None


def point_name(machine: str, own: str | None, number: int) -> str:
    """Return the name of a towed machine at one of its points.

    Parameters
    ----------
    machine : str
        Name of the machine.
    own : str or None
        Name of the point; None when it has none.
    number : int
        Its place in the list, from 1. [-]

    Returns
    -------
    str
        The point's own name, else the machine's with the number.

    Examples
    --------
    >>> point_name("Long pivot", None, 2), point_name("Long pivot", "Long pivot east", 2)
    ('Long pivot at point 2', 'Long pivot east')
    """
    return own or f"{machine} at point {number}"


def check_names(
    farm: Mapping[str, Any], fields: Mapping[str, Mapping[str, Any] | None], findings: Findings
) -> None:
    """Note names that stand twice, and names that point at nothing.

    Parameters
    ----------
    farm : mapping
        Plain data of farm.toml.
    fields : mapping of str to mapping or None
        Plain data of each field file; None for one that could not be read.
    findings : Findings
        Where faults go.
    """
    read = {file: data for file, data in fields.items() if data is not None}
    wells = [
        Named(name=str(well["name"]).strip(), file="farm.toml", key=key, kind="well")
        for key, well in tables(farm, "well")
        if isinstance(well.get("name"), str)
    ]
    named_fields = [
        Named(name=field_name(data), file=file, key="", kind="field") for file, data in read.items()
    ]
    machines = {
        file: [*system_names(data, file, "pivot"), *system_names(data, file, "lateral_move")]
        for file, data in read.items()
    }
    drips = {file: system_names(data, file, "drip") for file, data in read.items()}
    systems = [named for file in read for named in (*machines[file], *drips[file])]
    for group in (named_fields, systems, wells):
        _check_unique(group, findings)
    if None not in fields.values():
        _check_serves(farm, [named.name for named in systems], findings)
        _check_systems(farm, [named.name for named in (*systems, *wells)], findings)
    for file, data in read.items():
        _check_not(data, file, [named.name for named in machines[file]], findings)


def _check_unique(group: Iterable[Named], findings: Findings) -> None:
    seen: dict[str, Named] = {}
    for named in group:
        plain = " ".join(named.name.casefold().split())
        other = seen.setdefault(plain, named)
        if other is not named and plain:
            where = f"{other.file}: {other.key}" if other.key else other.file
            key = f"{named.key}.name" if named.key else "name"
            found = f"{shown(named.name)}, which {where} has too"
            findings.fault(
                named.file, key, found, f"{named.kind} names unique on the farm", "give it another name"
            )


def _check_serves(farm: Mapping[str, Any], systems: list[str], findings: Findings) -> None:
    for key, well in tables(farm, "well"):
        served = well.get("serves")
        for position, name in enumerate(served if isinstance(served, list) else [], 1):
            if isinstance(name, str) and name.strip() not in systems:
                found = f"{shown(name)}, which is no pivot, lateral move or drip block of this farm"
                where = f"{key}.serves[{position}]"
                findings.fault("farm.toml", where, found, f"one of {listing(systems)}", meant(name, systems))


def _check_systems(farm: Mapping[str, Any], systems: list[str], findings: Findings) -> None:
    for key, row in (*tables(farm, "put_away"), *tables(farm, "checklist")):
        name = row.get("system")
        if isinstance(name, str) and name.strip() not in systems:
            found = f"{shown(name)}, which is no machine, drip block or well of this farm"
            findings.fault(
                "farm.toml", f"{key}.system", found, f"one of {listing(systems)}", meant(name, systems)
            )


def _check_not(data: Mapping[str, Any], file: str, machines: list[str], findings: Findings) -> None:
    for key, drip in tables(data, "drip"):
        names = drip.get("not")
        for position, name in enumerate(names if isinstance(names, list) else [], 1):
            if isinstance(name, str) and name.strip() not in machines:
                found = f"{shown(name)}, which is no pivot or lateral move of this field"
                where = f"{key}.not[{position}]"
                findings.fault(file, where, found, f"one of {listing(machines)}", meant(name, machines))

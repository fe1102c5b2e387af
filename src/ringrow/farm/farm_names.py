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
        ``field``, ``pivot``, ``drip`` or ``well``.
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
    """Return the names of a field's pivots or drip blocks, defaults filled in.

    Parameters
    ----------
    data : mapping
        The field file's plain data.
    file : str
        The file's name.
    kind : {"pivot", "drip"}
        Which systems.

    Returns
    -------
    list of Named
        In file order.
    """
    named = []
    for key, row in tables(data, kind):
        own = row.get("name")
        number = key[len(kind) + 1 : -1]
        name = own.strip() if isinstance(own, str) else f"{field_name(data)} {kind} {number}"
        named.append(Named(name=name, file=file, key=key, kind=kind))
    return named


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
    pivots = {file: system_names(data, file, "pivot") for file, data in read.items()}
    drips = {file: system_names(data, file, "drip") for file, data in read.items()}
    systems = [named for file in read for named in (*pivots[file], *drips[file])]
    for group in (named_fields, systems, wells):
        _check_unique(group, findings)
    if None not in fields.values():
        _check_serves(farm, [named.name for named in systems], findings)
    for file, data in read.items():
        _check_not(data, file, [named.name for named in pivots[file]], findings)


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
                found = f"{shown(name)}, which is no pivot or drip block of this farm"
                where = f"{key}.serves[{position}]"
                findings.fault("farm.toml", where, found, f"one of {listing(systems)}", meant(name, systems))


def _check_not(data: Mapping[str, Any], file: str, pivots: list[str], findings: Findings) -> None:
    for key, drip in tables(data, "drip"):
        names = drip.get("not")
        for position, name in enumerate(names if isinstance(names, list) else [], 1):
            if isinstance(name, str) and name.strip() not in pivots:
                found = f"{shown(name)}, which is no pivot of this field"
                where = f"{key}.not[{position}]"
                findings.fault(file, where, found, f"one of {listing(pivots)}", meant(name, pivots))

"""Loading a farm's folder: every fault of every file in one run, or a farm in metres."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from ringrow.coverage.accuracy import DEFAULT_ACCURACY, Accuracy, parse_accuracy
from ringrow.equipment.kinds import FLAG_KINDS, FlagKind
from ringrow.equipment.well import Well
from ringrow.errors import FarmFileError
from ringrow.farm.build_field import build_field
from ringrow.farm.build_pivots import scaled
from ringrow.farm.farm_names import check_names
from ringrow.farm.faults import Findings
from ringrow.farm.model import Contact, Farm, StatedCheck, StatedItem, StatedPart, Tolerances
from ringrow.farm.rules import Desk, check_farm
from ringrow.farm.rules_field import check_field
from ringrow.farm.schema import DefaultsTable, FarmFile, FieldFile
from ringrow.farm.shapes import Shelf
from ringrow.farm.structure import fit, read_toml
from ringrow.units import METRIC, US, UnitSystem

if TYPE_CHECKING:
    from pathlib import Path

    from ringrow.coverage.field import Field

FAR_OFF_M = 50_000.0
"""A well or gate farther than this from every field [m] is worth a warning (our choice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Inspection:
    """What going through a farm's files brought to light.

    Parameters
    ----------
    farm : Farm or None
        The farm; None when there are faults.
    findings : Findings
        Faults, warnings and repairs.
    units : UnitSystem
        The farm's units; US where farm.toml does not say them.
    """

    farm: Farm | None
    findings: Findings
    units: UnitSystem = US


def load_farm(folder: Path) -> Farm:
    """Return the farm in a folder, its fields in metres.

    Parameters
    ----------
    folder : Path
        The farm's folder.

    Returns
    -------
    Farm
        The farm, with warnings and repairs.

    Raises
    ------
    FarmFileError
        If anything in its files is wrong; it holds every fault of every file.
    """
    inspection = inspect_farm(folder)
    if inspection.farm is None:
        raise FarmFileError(tuple(inspection.findings.faults))
    return inspection.farm


def inspect_farm(folder: Path) -> Inspection:
    """Return everything that is wrong or odd in a farm's folder, and the farm if nothing is wrong.

    Parameters
    ----------
    folder : Path
        The farm's folder.

    Returns
    -------
    Inspection
        The farm or None; faults, warnings and repairs, farm.toml first, then by file name.
    """
    findings = Findings()
    raw_farm = _read_farm(folder, findings)
    if raw_farm is None and not folder.is_dir():
        return Inspection(farm=None, findings=findings)
    raw_fields = _read_fields(folder, findings)
    units = _known_units(raw_farm)
    top = None if raw_farm is None else _fit_farm(raw_farm, units, findings)
    check_names(raw_farm or {}, raw_fields, findings)
    defaults = (top.defaults if top else None) or DefaultsTable.model_validate({})
    shelf = Shelf(folder=folder)
    fields: list[Field] = []
    for file, raw in raw_fields.items():
        if raw is not None:
            desk = Desk(file=file, units=units, findings=findings)
            fit(FieldFile, raw, file=file, units=units, findings=findings)
            check_field(raw, desk)
            field = build_field(raw, shelf=shelf, defaults=defaults, desk=desk)
            fields += [field] if field is not None else []
    findings.faults.sort(key=lambda fault: (fault.file != "farm.toml", fault.file))
    findings.warnings.sort(key=lambda fault: (fault.file != "farm.toml", fault.file))
    if findings.faults or top is None:
        return Inspection(farm=None, findings=findings, units=units[0])
    farm = _farm(folder, top, fields, units[0], findings)
    return Inspection(farm=farm, findings=findings, units=units[0])


def _read_farm(folder: Path, findings: Findings) -> dict[str, Any] | None:
    if not folder.is_dir():
        found = "a file" if folder.exists() else "nothing"
        hint = "start one with: ringrow new DIR"
        findings.fault(
            str(folder), "", f"{found} at this path", "a farm's folder, with a farm.toml in it", hint
        )
        return None
    path = folder / "farm.toml"
    if not path.is_file():
        inner = sorted(child.name for child in folder.iterdir() if (child / "farm.toml").is_file())
        hint = f"is {inner[0]} in it the farm?" if inner else "start a farm with: ringrow new DIR"
        findings.fault("farm.toml", "", "no such file", "a farm.toml with the farm's name", hint)
        return None
    return read_toml(path, "farm.toml", findings)


def _read_fields(folder: Path, findings: Findings) -> dict[str, dict[str, Any] | None]:
    place = folder / "fields"
    paths = sorted(place.iterdir()) if place.is_dir() else []
    seen = [path for path in paths if not path.name.startswith(".") and not path.name.endswith("~")]
    files = [path for path in seen if path.suffix == ".toml" and path.is_file()]
    for path in seen:
        if path not in files:
            hint = (
                "rename it if it is a field" if ".toml" in path.name.lower() else "take it out of the folder"
            )
            findings.warning(
                f"fields/{path.name}", "", "a file that is not read", "names ending in .toml", hint
            )
    if not files:
        found = "no field file" if place.is_dir() else "no such folder"
        hint = "start a farm with: ringrow new DIR"
        findings.fault("fields", "", found, "one file NAME.toml for each field", hint)
    return {f"fields/{path.name}": read_toml(path, f"fields/{path.name}", findings) for path in files}


def _known_units(raw: dict[str, Any] | None) -> tuple[UnitSystem, ...]:
    """Return the farm's units; both when farm.toml does not say which in a way that can be read."""
    stated = None if raw is None else raw.get("units", "us")
    return {"us": (US,), "metric": (METRIC,)}.get(stated if isinstance(stated, str) else "", (US, METRIC))


def _fit_farm(raw: dict[str, Any], units: tuple[UnitSystem, ...], findings: Findings) -> FarmFile | None:
    top = fit(FarmFile, raw, file="farm.toml", units=units, findings=findings)
    check_farm(raw, Desk(file="farm.toml", units=units, findings=findings))
    return top


def _farm(folder: Path, top: FarmFile, fields: list[Field], units: UnitSystem, findings: Findings) -> Farm:
    wells = tuple(
        Well(
            name=well.name,
            lon=well.at.lon,
            lat=well.at.lat,
            power=well.power or "",
            serves=tuple(well.serves or ()),
            shutoffs=well.shutoffs,
            plate_v=well.plate_volts,
            plate_hz=well.plate_hertz,
            battery_v=well.battery_volts,
            notes=well.notes,
        )
        for well in top.well or []
    )
    gate = (top.gate.lon, top.gate.lat) if top.gate else None
    _warn_far_off(
        [
            *((f"well[{n}].at", w.lon, w.lat) for n, w in enumerate(wells, 1)),
            *([("gate", *gate)] if gate else []),
        ],
        fields,
        findings,
    )
    return Farm(
        folder=folder,
        name=top.name,
        units=units,
        language=top.language,
        time_zone=top.time_zone,
        gate=gate,
        wells=wells,
        contacts=tuple(Contact(name=contact.name, phone=contact.phone) for contact in top.contact or []),
        fields=tuple(fields),
        accuracy=_accuracy(top, units),
        kinds=_kinds(top),
        parts=tuple(
            StatedPart(kind=row.kind, part=row.part, quantity=row.quantity) for row in top.part or []
        ),
        put_away=tuple(
            StatedItem(
                item=row.item,
                words=row.words,
                back=row.back,
                kind=row.kind or "",
                system=row.system or "",
                leave_out=row.leave_out,
            )
            for row in top.put_away or []
        ),
        checklist=_checklist(top),
        tolerances=_tolerances(top, units),
        warnings=tuple(findings.warnings),
        repairs=tuple(findings.repairs),
    )


def _warn_far_off(places: list[tuple[str, float, float]], fields: list[Field], findings: Findings) -> None:
    from ringrow.frame import distance_azimuth

    for key, lon, lat in places:
        away = [distance_azimuth(lon, lat, field.frame.lon, field.frame.lat)[0] for field in fields]
        if min(away) > FAR_OFF_M:
            found = f"a place {min(away) / 1000:.0f} km from the nearest field"
            hint = "are latitude and longitude swapped, or is a minus sign missing?"
            findings.warning("farm.toml", key, found, "a place on the farm", hint)


def _accuracy(top: FarmFile, units: UnitSystem) -> Accuracy:
    stated = top.defaults.accuracy if top.defaults else None
    return DEFAULT_ACCURACY if stated is None else parse_accuracy(stated, default_unit=units.length)


def _checklist(top: FarmFile) -> tuple[StatedCheck, ...]:
    return tuple(
        StatedCheck(
            item=row.item,
            words=row.words,
            kind=row.kind or "",
            system=row.system or "",
            how=row.how,
            per=row.per,
            leave_out=row.leave_out,
        )
        for row in top.checklist or []
    )


def _tolerances(top: FarmFile, units: UnitSystem) -> Tolerances:
    stated = top.tolerances
    if stated is None:
        return Tolerances()
    return Tolerances(
        volts_share=stated.volts,
        flow_share=stated.flow,
        pressure_share=stated.pressure,
        filter_loss_kpa=scaled(stated.filter_loss, units.pressure_kpa),
    )


def _kinds(top: FarmFile) -> dict[str, FlagKind]:
    """Return our own kinds, changed and added to as farm.toml says."""
    kinds = dict(FLAG_KINDS)
    for table in top.kind or []:
        ours = kinds.get(table.name)
        on = table.on or (ours.on if ours else None)
        if on is not None:
            kinds[table.name] = FlagKind(
                name=table.name,
                on=on,
                flag_class=table.class_ or (ours.flag_class if ours else "later"),
                words=table.words or (ours.words if ours else table.name.replace("-", " ")),
            )
    return kinds

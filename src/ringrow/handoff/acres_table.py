"""The acres of a farm as JSON values and as tables people read."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ringrow.coverage.acres import total_acres
from ringrow.coverage.uncertainty import PEOPLE_SEE
from ringrow.handoff.languages import _
from ringrow.handoff.number_words import one_line
from ringrow.handoff.plain_table import TableBlock, block_text, wrapped

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ringrow.coverage.acres import Areas, DryGround, FieldAcres, MachineAcres, SystemAcres
    from ringrow.farm.model import Farm, Repair
    from ringrow.units import UnitSystem

_AREAS = (
    *("field", "excluded", "farmable", "irrigated", "dry", "overlap"),
    *("overspray", "overspray_outside", "overspray_excluded"),
)
_SURE = ("field", "farmable", "irrigated", "dry")
_SHOWN = 0.005


def area_statement(units: UnitSystem) -> str:
    """Return the sentence that says which acre or hectare is meant.

    Parameters
    ----------
    units : UnitSystem
        The farm's units.

    Returns
    -------
    str
        One sentence.

    Examples
    --------
    >>> from ringrow.units import METRIC
    >>> area_statement(METRIC)
    'Hectares (10,000 m2) are horizontal, on the WGS 84 ellipsoid.'
    """
    if units.name == "us":
        return _("Acres are international acres (4,046.8564224 m2), horizontal, on the WGS 84 ellipsoid.")
    return _("Hectares (10,000 m2) are horizontal, on the WGS 84 ellipsoid.")


def acres_record(farm: str, fields: Sequence[FieldAcres], units: UnitSystem) -> dict[str, Any]:
    """Return the acres of a farm as plain values under the keys of the JSON output.

    Parameters
    ----------
    farm : str
        The farm's name.
    fields : sequence of FieldAcres
        The fields to be shown; the total is theirs.
    units : UnitSystem
        The farm's units; keys end in them.

    Returns
    -------
    dict
        ``farm``, ``areas`` (which acre is meant), ``fields`` and ``total``. Numbers are not
        rounded; what a system does not have is None. Edge strips are the last dry piece.
    """
    return {
        "farm": farm,
        "areas": area_statement(units),
        "fields": [_field_record(field, units) for field in fields],
        "total": _areas_record(total_acres(fields), units),
    }


def _areas_record(areas: Areas, units: UnitSystem) -> dict[str, Any]:
    return {units.key(f"{name}_acres"): units.from_m2(getattr(areas, f"{name}_m2")) for name in _AREAS}


def _field_record(field: FieldAcres, units: UnitSystem) -> dict[str, Any]:
    return {
        "field": field.name,
        **_areas_record(field, units),
        **_errors_record(field, units),
        "systems": [_system_record(system, units) for system in field.systems],
        "machines": [_machine_record(machine, units) for machine in field.machines],
        "dry_pieces": [_dry_record(row, units) for row in field.dry_rows],
        units.key("neck_ft"): units.from_m(field.neck_m),
        "assumed": list(field.assumed),
    }


def _errors_record(field: FieldAcres, units: UnitSystem) -> dict[str, Any]:
    errors = [None if field.errors is None else getattr(field.errors, f"{name}_se_m2") for name in _SURE]
    return {
        units.key(f"{name}_se_acres"): _from_m2(error, units)
        for name, error in zip(_SURE, errors, strict=True)
    }


def _system_record(system: SystemAcres, units: UnitSystem) -> dict[str, Any]:
    areas = {
        "wetted": system.wetted_m2,
        "irrigated": system.irrigated_m2,
        "end_gun": system.end_gun_m2,
        "corner_arm": system.corner_arm_m2,
    }
    return {
        "name": system.name,
        "kind": system.kind,
        **{units.key(f"{key}_acres"): _from_m2(area, units) for key, area in areas.items()},
        "assumed": list(system.assumed),
    }


def _machine_record(machine: MachineAcres, units: UnitSystem) -> dict[str, Any]:
    return {
        "name": machine.name,
        "points": list(machine.points),
        units.key("together_wetted_acres"): units.from_m2(machine.wetted_m2),
        units.key("together_irrigated_acres"): units.from_m2(machine.irrigated_m2),
    }


def _from_m2(area: float | None, units: UnitSystem) -> float | None:
    return None if area is None else units.from_m2(area)


def _dry_record(row: DryGround, units: UnitSystem) -> dict[str, Any]:
    return {
        "name": row.name,
        "corner": row.corner,
        units.key("acres"): units.from_m2(row.area_m2),
        "lat": row.lat,
        "lon": row.lon,
    }


def acres_table(fields: Sequence[FieldAcres], units: UnitSystem, *, width: int | None) -> str:
    """Return the acres of fields as tables: fields, water in the wrong place, systems, dry pieces.

    Parameters
    ----------
    fields : sequence of FieldAcres
        The fields to be shown; the total is theirs.
    units : UnitSystem
        The farm's units.
    width : int or None
        Columns of the terminal; long names are wrapped, never cut, and below 72 columns the
        tables stay as wide as that. None for plain lines with nothing wrapped. [-]

    Returns
    -------
    str
        The tables, what was assumed, and which acre is meant; no line break at the end.
    """
    if not fields:
        return "No fields.\n\n" + area_statement(units)
    blocks = [_fields_block(fields, units), _systems_block(fields, units), _dry_block(fields, units)]
    spilled = _spilled_block(fields, units)
    blocks.insert(1, spilled)
    texts = [block_text(block, width) for block in blocks if block.rows]
    if not spilled.rows:
        texts.insert(1, wrapped("No overlap, and no water outside farmable ground.", width))
    texts.append(wrapped(_neck_words(fields, units), width))
    sure = _errors_block(fields, units)
    if sure.rows:
        texts.append(block_text(sure, width))
    assumed = _assumed_lines(fields)
    if assumed:
        texts.append("\n".join(wrapped(line, width, indent=2) for line in assumed))
    texts.append(wrapped(area_statement(units), width))
    return "\n\n".join(texts)


def _fields_block(fields: Sequence[FieldAcres], units: UnitSystem) -> TableBlock:
    names = ("field", "excluded", "farmable", "irrigated", "dry")
    return TableBlock(
        title=f"Fields, {units.area}",
        head=("Field", "Whole", "Excluded", "Farmable", "Irrigated", "Dry"),
        rows=[(one_line(field.name), *_areas(field, names, units)) for field in fields],
        total=("Total", *_areas(total_acres(fields), names, units)),
    )


def _spilled_block(fields: Sequence[FieldAcres], units: UnitSystem) -> TableBlock:
    names = ("overlap", "overspray", "overspray_outside", "overspray_excluded")
    spilled = [field for field in fields if max(_values(field, names, units)) >= _SHOWN]
    return TableBlock(
        title=f"Watered twice (overlap), and watered but not farmable (overspray), {units.area}",
        head=("Field", "Overlap", "Overspray", "outside boundary", "on exclusions"),
        rows=[(one_line(field.name), *_areas(field, names, units)) for field in spilled],
        total=("Total", *_areas(total_acres(fields), names, units)),
    )


def _systems_block(fields: Sequence[FieldAcres], units: UnitSystem) -> TableBlock:
    arms = any(system.corner_arm_m2 is not None for field in fields for system in field.systems)
    rows = []
    for field in fields:
        for system in field.systems:
            areas = [system.wetted_m2, system.irrigated_m2, system.end_gun_m2]
            if arms:
                areas.append(system.corner_arm_m2)
            numbers = [_number(_from_m2(area, units)) for area in areas]
            rows.append((one_line(field.name), one_line(system.name), system.kind, *numbers))
        for machine in field.machines:
            areas = [machine.wetted_m2, machine.irrigated_m2, None, *([None] if arms else [])]
            numbers = [_number(_from_m2(area, units)) for area in areas]
            together = f"{one_line(machine.name)}, {len(machine.points)} points together"
            rows.append((one_line(field.name), together, "pivot", *numbers))
    head = ("Field", "System", "Kind", "Wetted", "Irrigated", "End gun")
    return TableBlock(
        title=f"Systems, {units.area} (ground shared by two counts for both)",
        head=(*head, "Corner arm") if arms else head,
        rows=rows,
        words=3,
    )


def _dry_block(fields: Sequence[FieldAcres], units: UnitSystem) -> TableBlock:
    rows = [
        (
            one_line(field.name),
            one_line(row.name),
            _number(units.from_m2(row.area_m2)),
            f"{row.lat:.6f}",
            f"{row.lon:.6f}",
        )
        for field in fields
        for row in field.dry_rows
    ]
    head = ("Field", "Dry piece", units.area.capitalize(), "Latitude", "Longitude")
    return TableBlock(title="Dry pieces", head=head, rows=rows, words=2)


def _errors_block(fields: Sequence[FieldAcres], units: UnitSystem) -> TableBlock:
    rows = []
    for field in fields:
        errors = list(_errors_record(field, units).values())
        if any(error is not None for error in errors):
            wide = [None if error is None else PEOPLE_SEE * error for error in errors]
            rows.append((one_line(field.name), *(_number(value) for value in wide)))
    return TableBlock(
        title=f"Give or take, {units.area} (95 of 100), from the errors the farm's files state",
        head=("Field", "Whole", "Farmable", "Irrigated", "Dry"),
        rows=rows,
    )


def _values(areas: Areas, names: Sequence[str], units: UnitSystem) -> list[float]:
    return [units.from_m2(getattr(areas, f"{name}_m2")) for name in names]


def _areas(areas: Areas, names: Sequence[str], units: UnitSystem) -> list[str]:
    return [_number(value) for value in _values(areas, names, units)]


def _number(value: float | None) -> str:
    # Adding 0.0 turns the -0.0 of a rounded rounding error into 0.0.
    return "-" if value is None else f"{round(value, 2) + 0.0:,.2f}"


def _neck_words(fields: Sequence[FieldAcres], units: UnitSystem) -> str:
    necks = sorted({round(units.from_m(field.neck_m), 1) for field in fields})
    listed = " or ".join(f"{neck:g}" for neck in necks)
    own = " (each field by its own)" if len(necks) > 1 else ""
    return f"Dry ground narrower than {listed} {units.length}{own} is counted as edge strips."


def _assumed_lines(fields: Sequence[FieldAcres]) -> list[str]:
    texts = [one_line(text) for field in fields for text in field.assumed]
    if not texts:
        return []
    return ["Assumed, because the farm's files do not say:", *(f"- {text}" for text in texts)]


def notices(farm: Farm) -> list[str]:
    """Return what a reader of a farm has to be told: shapes that were mended, and warnings.

    Parameters
    ----------
    farm : Farm
        The farm, loaded.

    Returns
    -------
    list of str
        One line each; empty when there is nothing to tell.
    """
    mended = [line for repair in farm.repairs for line in repair_lines(repair, farm.units)]
    return [*mended, *(f"warning: {warning}" for warning in farm.warnings)]


def repair_lines(repair: Repair, units: UnitSystem) -> list[str]:
    """Return what was mended on one shape, and how much area moved.

    Parameters
    ----------
    repair : Repair
        The repair.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    list of str
        One line a change, then one line with the area before and after.

    Examples
    --------
    >>> from ringrow.farm.model import Repair
    >>> from ringrow.units import METRIC
    >>> crossed = Repair(
    ...     file="shapes/fields.geojson",
    ...     key="North",
    ...     changes=("Hole 1 near (412, 88) lies outside; it was dropped.",),
    ...     area_before_m2=640_000.0,
    ...     area_after_m2=641_000.0,
    ... )
    >>> for line in repair_lines(crossed, METRIC):
    ...     print(line)
    shapes/fields.geojson: North: mended: Hole 1 near (412, 88) lies outside; it was dropped.
    shapes/fields.geojson: North: 64.0000 ha as drawn, 64.1000 ha after mending (+0.1000)
    """
    where = f"{repair.file}: {repair.key}" if repair.key else repair.file
    before, after = units.from_m2(repair.area_before_m2), units.from_m2(repair.area_after_m2)
    # Rounded first: a difference of -0.00001 must not read as -0.0000.
    moved = round(after - before, 4) + 0.0
    areas = f"{before:,.4f} {units.area} as drawn, {after:,.4f} {units.area} after mending ({moved:+,.4f})"
    return [*(f"{where}: mended: {change}" for change in repair.changes), f"{where}: {areas}"]

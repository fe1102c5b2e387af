"""The table of every key, taken from the schema itself so that it cannot go stale."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, get_args, get_origin

from pydantic import BaseModel

from ringrow.farm.schema import FarmFile, FieldFile
from ringrow.farm.schema_rules import Quantity
from ringrow.farm.schema_words import Slot, allowed_words, core_type, fields_of, members
from ringrow.units import METRIC, US

if TYPE_CHECKING:
    from collections.abc import Iterator


@dataclass(frozen=True, slots=True, kw_only=True)
class KeyRow:
    """One key of a farm's files.

    Parameters
    ----------
    file : str
        ``farm.toml`` or ``fields/*.toml``.
    key : str
        Path of the key; ``[]`` marks a list.
    us, metric : str
        Unit in farms of US and of metric units; ``-`` for none.
    needed : str
        ``required``, ``optional`` or ``default ...``.
    allowed : str
        What may stand there, in US units.
    meaning : str
        What it is.
    """

    file: str
    key: str
    us: str
    metric: str
    needed: str
    allowed: str
    meaning: str


def key_rows() -> list[KeyRow]:
    """Return every key that a farm's files may hold, in the order of the schema.

    Returns
    -------
    list of KeyRow
        One row per key.

    Examples
    --------
    >>> rows = {row.key: row for row in key_rows()}
    >>> rows["pivot[].overhang"].us, rows["pivot[].overhang"].metric, rows["pivot[].point"].needed
    ('ft', 'm', 'this or points')
    """
    return [*_rows("farm.toml", FarmFile, ""), *_rows("fields/*.toml", FieldFile, "")]


def _rows(file: str, model: type[BaseModel], prefix: str) -> Iterator[KeyRow]:
    slots = fields_of(model)
    for (name, slot), info in zip(slots.items(), model.model_fields.values(), strict=True):
        key = f"{prefix}{name}"
        quantity = _quantity(slot)
        yield KeyRow(
            file=file,
            key=key,
            us=quantity.unit(US) if quantity else "-",
            metric=quantity.unit(METRIC) if quantity else "-",
            needed=_needed(info),
            allowed=allowed_words(slot, US),
            meaning=info.description or "",
        )
        for nested, many in _tables(slot.annotation):
            yield from _rows(file, nested, f"{key}[]." if many else f"{key}.")


def _needed(info: Any) -> str:
    if info.is_required():
        return "required"
    if info.json_schema_extra:
        return str(info.json_schema_extra["needed"])
    return f'default "{info.default}"' if isinstance(info.default, str) and info.default else "optional"


def _quantity(slot: Slot) -> Quantity | None:
    """Return the quantity of a key, of one of the kinds it may be, or of the items of its list."""
    own = next((rule for rule in slot.rules if isinstance(rule, Quantity)), None)
    if own:
        return own
    for member in members(slot.annotation):
        core = core_type(member)
        mine = next((rule for rule in _annotations(member) if isinstance(rule, Quantity)), None)
        if mine:
            return mine
        if get_origin(core) is list:
            item = get_args(core)[0]
            return _quantity(Slot(annotation=item, rules=tuple(_annotations(item))))
    return None


def _annotations(annotation: Any) -> tuple[Any, ...]:
    return tuple(getattr(annotation, "__metadata__", ()))


def _tables(annotation: Any) -> Iterator[tuple[type[BaseModel], bool]]:
    for member in members(annotation):
        core = core_type(member)
        many = get_origin(core) is list
        inner = core_type(get_args(core)[0]) if many else core
        if isinstance(inner, type) and issubclass(inner, BaseModel):
            yield inner, many

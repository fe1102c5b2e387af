"""Walking the schema: which keys may stand where, and what is allowed there in words."""

from __future__ import annotations

import types
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Any, Literal, Union, get_args, get_origin

import annotated_types
from pydantic import BaseModel

from ringrow.farm.schema_rules import Quantity, Text

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ringrow.units import UnitSystem

Loc = tuple[str | int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Slot:
    """What the schema says may stand at one place.

    Parameters
    ----------
    annotation : object
        The bare type: a class, a union, a list, a literal.
    rules : tuple
        Quantities, texts and lengths attached to it.
    """

    annotation: Any
    rules: tuple[Any, ...] = ()


def core_type(annotation: Any) -> Any:
    """Return the bare type behind Annotated and behind "or None".

    Parameters
    ----------
    annotation : object
        A type from the schema.

    Returns
    -------
    object
        The bare type.
    """
    while get_origin(annotation) is Annotated:
        annotation = get_args(annotation)[0]
    if get_origin(annotation) in (Union, types.UnionType):
        members = [member for member in get_args(annotation) if member is not type(None)]
        if len(members) == 1:
            return core_type(members[0])
    return annotation


def _rules(annotation: Any) -> Iterator[Any]:
    if get_origin(annotation) is Annotated:
        yield from _rules(get_args(annotation)[0])
        for rule in get_args(annotation)[1:]:
            # Field(...) inside Annotated carries its limits in its own list.
            yield from getattr(rule, "metadata", (rule,))
    elif get_origin(annotation) in (Union, types.UnionType):
        members = [member for member in get_args(annotation) if member is not type(None)]
        if len(members) == 1:
            yield from _rules(members[0])


def members(annotation: Any) -> list[Any]:
    """Return the members of a union, None left out; a list of one when it is no union.

    Parameters
    ----------
    annotation : object
        A type from the schema.

    Returns
    -------
    list
        The members, still annotated.
    """
    core = core_type(annotation)
    if get_origin(core) in (Union, types.UnionType):
        return [member for member in get_args(core) if member is not type(None)]
    return [annotation]


def literals(annotation: Any) -> tuple[Any, ...]:
    """Return the words a key may hold, from all literals of its type.

    Parameters
    ----------
    annotation : object
        A type from the schema.

    Returns
    -------
    tuple
        The words; empty when it is no literal.
    """
    found: tuple[Any, ...] = ()
    for member in members(annotation):
        core = core_type(member)
        if get_origin(core) is Literal:
            found += get_args(core)
    return found


def fields_of(model: type[BaseModel]) -> dict[str, Slot]:
    """Return a table's keys as they are written in TOML, with what may stand there.

    Parameters
    ----------
    model : type
        A table of the schema.

    Returns
    -------
    dict of str to Slot
        By key.
    """
    return {
        info.alias or name: Slot(annotation=info.annotation, rules=(*_rules(info.annotation), *info.metadata))
        for name, info in model.model_fields.items()
    }


def _step(slot: Slot, part: str | int) -> Slot | None:
    for member in members(slot.annotation):
        core = core_type(member)
        origin, args = get_origin(core), get_args(core)
        if isinstance(part, int) and origin is list:
            return Slot(annotation=args[0], rules=tuple(_rules(args[0])))
        if isinstance(part, str) and isinstance(core, type) and issubclass(core, BaseModel):
            return fields_of(core).get(part)
        if isinstance(part, str) and origin is dict:
            return Slot(annotation=args[1], rules=tuple(_rules(args[1])))
    return None


def slot_at(model: type[BaseModel], loc: Loc) -> Slot | None:
    """Return what the schema says of a place; None where it says nothing.

    Parameters
    ----------
    model : type
        Table of the whole file.
    loc : tuple of str and int
        Keys, and list positions from 0.

    Returns
    -------
    Slot or None
        What may stand there.
    """
    slot: Slot | None = Slot(annotation=model)
    for part in loc:
        slot = _step(slot, part) if slot else None
    return slot


def keys_at(model: type[BaseModel], loc: Loc) -> list[str]:
    """Return the keys that a table at a place may hold; empty when there can be no table.

    Parameters
    ----------
    model : type
        Table of the whole file.
    loc : tuple of str and int
        Keys, and list positions from 0.

    Returns
    -------
    list of str
        Keys as written in TOML.
    """
    slot = slot_at(model, loc)
    for member in members(slot.annotation) if slot else []:
        core = core_type(member)
        if isinstance(core, type) and issubclass(core, BaseModel):
            return list(fields_of(core))
    return []


def allowed_words(slot: Slot, units: UnitSystem) -> str:
    """Return what may stand at a place, in words.

    Parameters
    ----------
    slot : Slot
        What the schema says.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    str
        Such as ``a number of ft, above 0 and at most 400``.
    """
    for rule in slot.rules:
        if isinstance(rule, Quantity | Text):
            return rule.allowed(units) if isinstance(rule, Quantity) else rule.allowed
    return " or ".join(_type_words(member, slot.rules, units) for member in members(slot.annotation))


def _type_words(annotation: Any, rules: tuple[Any, ...], units: UnitSystem) -> str:
    core = core_type(annotation)
    origin = get_origin(core)
    own = (*rules, *_rules(annotation))
    quantity = next((rule for rule in own if isinstance(rule, Quantity)), None)
    if quantity:
        return quantity.allowed(units)
    if origin is Literal:
        return " or ".join(f'"{choice}"' for choice in get_args(core))
    if origin is list:
        return _list_words(core, own, units)
    if origin is dict:
        return "a table { column = value }"
    if isinstance(core, type) and issubclass(core, BaseModel):
        return f"a table with {', '.join(fields_of(core))}"
    if core is int:
        return f"a whole number{_limit_words(own)}"
    return {str: "text in quotes", float: "a number"}.get(core, "a value") + _length_words(own)


def _limit_words(rules: tuple[Any, ...]) -> str:
    least = next((rule.ge for rule in rules if isinstance(rule, annotated_types.Ge)), None)
    most = next((rule.le for rule in rules if isinstance(rule, annotated_types.Le)), None)
    return f" from {least} to {most}" if least is not None else ""


def _length_words(rules: tuple[Any, ...]) -> str:
    most = next((rule.max_length for rule in rules if isinstance(rule, annotated_types.MaxLen)), None)
    return f", at most {most} letters" if most is not None else ""


def _list_words(core: Any, rules: tuple[Any, ...], units: UnitSystem) -> str:
    least = next((rule.min_length for rule in rules if isinstance(rule, annotated_types.MinLen)), None)
    most = next((rule.max_length for rule in rules if isinstance(rule, annotated_types.MaxLen)), None)
    item = Slot(annotation=get_args(core)[0], rules=tuple(_rules(get_args(core)[0])))
    if least is not None and least == most:
        head = f"a list of {least}"
    else:
        limits = [f"{least} or more" if least else "", f"at most {most}" if most else ""]
        head = "a list of " + (", ".join(limit for limit in limits if limit) or "any number")
    return f"{head}, each {allowed_words(item, units)}"

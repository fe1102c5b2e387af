"""Docstrings of the imported objects: what `numpydoc lint` cannot see in source text alone."""

from __future__ import annotations

import builtins
import inspect
from typing import Any

from numpydoc.docscrape import NumpyDocString
from numpydoc.validate import validate
from pydantic import BaseModel

import ringrow.errors

# GL08 no docstring; PR parameters: names, order, types, words; RT result described; YD yields.
CODES = {"GL08", "PR01", "PR02", "PR03", "PR04", "PR05", "PR06", "PR07", "PR10", "RT03", "YD01"}


def _described_elsewhere(thing: Any, code: str) -> bool:
    """Whether a class's fields are described by themselves, or in the class it builds on."""
    if not inspect.isclass(thing):
        return False
    # A table of the farm files says in each field's description what `ringrow check --explain` prints.
    if issubclass(thing, BaseModel):
        return True
    inherited = set().union(*(vars(base).get("__annotations__", {}) for base in thing.__mro__[1:]))
    own = {entry.name for entry in NumpyDocString(inspect.cleandoc(thing.__doc__ or ""))["Parameters"]}
    return code == "PR01" and set(inspect.signature(thing).parameters) - own <= inherited


def test_every_public_name_documents_what_it_takes_and_returns(public_api: list[tuple[str, Any]]) -> None:
    faults = [
        f"{path}: {code} {text}"
        for path, thing in public_api
        for code, text in validate(path)["errors"]
        if code in CODES and not _described_elsewhere(thing, code)
    ]
    assert faults == []


def test_every_documented_error_is_one_of_ours_or_built_in(public_api: list[tuple[str, Any]]) -> None:
    known = set(vars(ringrow.errors)) | set(vars(builtins))
    strangers = [
        f"{path}: {entry.type}"
        for path, thing in public_api
        for entry in NumpyDocString(inspect.getdoc(thing) or "")["Raises"]
        if entry.type not in known
    ]
    assert strangers == []

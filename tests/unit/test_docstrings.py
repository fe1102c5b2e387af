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


def _described_by_its_fields(thing: Any) -> bool:
    # A table of the farm files says in each field's description what `ringrow check --explain` prints.
    return inspect.isclass(thing) and issubclass(thing, BaseModel)


def test_every_public_name_documents_what_it_takes_and_returns(public_api: list[tuple[str, Any]]) -> None:
    faults = [
        f"{path}: {code} {text}"
        for path, thing in public_api
        for code, text in validate(path)["errors"]
        if code in CODES and not _described_by_its_fields(thing)
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

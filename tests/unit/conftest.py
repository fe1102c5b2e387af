"""The package's public names, gathered once for the tests that read signatures and docstrings."""

from __future__ import annotations

import importlib
import inspect
import pkgutil
from typing import TYPE_CHECKING, Any

import pytest

import ringrow

if TYPE_CHECKING:
    from collections.abc import Iterator


def _public(owner: Any, prefix: str) -> Iterator[tuple[str, Any]]:
    for name, thing in vars(owner).items():
        if name.startswith("_"):
            continue
        plain = thing.__func__ if isinstance(thing, classmethod | staticmethod) else thing
        path = f"{prefix}.{name}"
        if inspect.isclass(plain) and not inspect.ismodule(owner):
            continue
        if inspect.isclass(plain) and plain.__module__ == prefix:
            yield path, plain
            yield from _public(plain, path)
        elif inspect.isfunction(plain) and path.startswith(f"{plain.__module__}.{plain.__qualname__}"):
            yield path, plain


@pytest.fixture(scope="session")
def public_api() -> list[tuple[str, Any]]:
    """Dotted path and object of every public class, method and function below the command line."""
    found: list[tuple[str, Any]] = []
    for module in pkgutil.walk_packages(ringrow.__path__, "ringrow."):
        if not module.name.startswith("ringrow.cli") and "._" not in module.name:
            found.extend(_public(importlib.import_module(module.name), module.name))
    assert len(found) > 50
    return found

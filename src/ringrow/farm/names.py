"""Finding a thing of the farm by the name a person typed."""

from __future__ import annotations

from difflib import get_close_matches
from typing import TYPE_CHECKING, TypeVar

from ringrow.errors import PlaceError

if TYPE_CHECKING:
    from collections.abc import Mapping

ThingT = TypeVar("ThingT")


def find_named(things: Mapping[str, ThingT], name: str | None, *, what: str, most: int = 12) -> ThingT:
    """Return the thing of a name; capitals do not matter, and a lone thing needs no name.

    Parameters
    ----------
    things : mapping of str to object
        Things by name.
    name : str or None
        What was typed; None or empty when the name was left out.
    what : str
        What such a thing is called in a message, such as ``pivot``.
    most : int, default 12
        Most names that a message lists. [-]

    Returns
    -------
    object
        The thing.

    Raises
    ------
    PlaceError
        If there is none, none of that name, or more than one to choose from.

    Examples
    --------
    >>> find_named({"Home well": 1, "East well": 2}, "home WELL", what="well")
    1
    """
    if not things:
        message = f"{what}: this farm has none"
        raise PlaceError(message)
    if not name:
        if len(things) == 1:
            return next(iter(things.values()))
        message = f"{what}: no name given; allowed: {_listed(things, most)}"
        raise PlaceError(message)
    folded = {key.casefold(): key for key in things}
    if name in things:
        return things[name]
    if name.casefold() in folded:
        return things[folded[name.casefold()]]
    near = get_close_matches(name.casefold(), folded, n=1)
    hint = f'; nearest: "{folded[near[0]]}"' if near else ""
    message = f'{what}: found "{name[:60]}"; allowed: {_listed(things, most)}{hint}'
    raise PlaceError(message)


def _listed(things: Mapping[str, object], most: int) -> str:
    names = [f'"{name}"' for name in list(things)[:most]]
    rest = len(things) - len(names)
    return ", ".join(names) + (f" and {rest} more" if rest else "")

"""Guessing what the columns of a table, or the properties of a feature, mean."""

from __future__ import annotations

from dataclasses import dataclass, replace
from difflib import get_close_matches
from typing import TYPE_CHECKING

from ringrow.errors import PlaceError
from ringrow.farm.readers.cells import plain_words

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

# Our own list, English and Spanish; within a role the first word found in the file wins.
_WORDS: dict[str, tuple[str, ...]] = {
    "lat": ("lat", "latitude", "latitud", "gps lat", "gps latitude", "lat deg", "latitude deg", "y"),
    "lon": (
        *("lon", "long", "lng", "longitude", "longitud", "gps lon", "gps long", "gps longitude"),
        *("lon deg", "longitude deg", "x"),
    ),
    "place": (
        *("lat lon", "lat long", "latlon", "latitude longitude", "position", "posicion", "coordinates"),
        *("coordenadas", "coord", "coords", "gps", "location", "ubicacion"),
    ),
    "name": ("name", "nombre", "label", "etiqueta", "title", "titulo", "waypoint", "point", "punto"),
    "note": (
        *("note", "notes", "nota", "notas", "comment", "comments", "comentario", "comentarios", "remark"),
        *("remarks", "observacion", "observaciones", "description", "descripcion", "desc", "details", "text"),
        *("texto", "found", "cmt"),
    ),
    "kind": (
        *("kind", "type", "tipo", "fault", "falla", "problem", "problema", "issue", "category", "categoria"),
        *("clase de falla", "what", "que"),
    ),
    "symbol": ("symbol", "sym", "simbolo", "icon", "icono"),
    "time": ("time", "timestamp", "datetime", "date time", "fecha hora", "fecha y hora", "when", "set at"),
    "date": ("date", "fecha", "day", "dia"),
    "hour": ("hour", "hora", "clock"),
    "accuracy": ("accuracy", "acc", "precision", "exactitud", "gps accuracy", "accuracy m", "accuracy ft"),
    "status": ("status", "estado", "state"),
    "by": ("by", "who", "quien", "person", "persona", "observer", "set by", "user", "scout"),
}
ROLES: tuple[str, ...] = tuple(_WORDS)
"""What a column can mean."""

_UNIT_WORDS = {"m": "m", "meters": "m", "metres": "m", "metros": "m", "ft": "ft", "feet": "ft", "pies": "ft"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Columns:
    """Which column plays which role.

    Parameters
    ----------
    index : dict of str to int
        Column, counted from 0, of each role.
    names : tuple of str
        All column names as they stand in the file.
    stated : frozenset of str
        Roles that the user stated.
    accuracy_unit : {"ft", "m", ""}
        Unit that the accuracy column's name states.
    """

    index: dict[str, int]
    names: tuple[str, ...]
    stated: frozenset[str] = frozenset()
    accuracy_unit: str = ""

    def words(self) -> str:
        """Return one line that shows what was taken for what."""
        taken = [
            f'{role} = "{self.names[at]}"' + ("" if role in self.stated else " (guessed)")
            for role, at in self.index.items()
        ]
        left = [f'"{name}"' for at, name in enumerate(self.names) if at not in self.index.values() and name]
        rest = f"; left alone: {', '.join(left[:12])}" if left else ""
        return f"columns: {', '.join(taken)}{rest}"


def parse_columns(text: str) -> dict[str, str]:
    """Return the columns that a user states.

    Parameters
    ----------
    text : str
        Such as ``lat=Y,lon=X,note=Remarks``; a column by its name or its number from 1.

    Returns
    -------
    dict of str to str
        Column by role.

    Raises
    ------
    PlaceError
        If a role is not known or the form is wrong.

    Examples
    --------
    >>> parse_columns("lat=Y, lon=X")
    {'lat': 'Y', 'lon': 'X'}
    """
    stated = {}
    for part in text.split(","):
        role, equals, column = (piece.strip() for piece in part.partition("="))
        if not equals or not column or role.casefold() not in ROLES:
            message = (
                f'columns: found "{part.strip()[:40]}"; allowed: pairs such as lat=Y,lon=X,note=Remarks with '
                f"{', '.join(ROLES)} on the left"
            )
            raise PlaceError(message)
        stated[role.casefold()] = column
    return stated


def guess_columns(names: Sequence[str], *, stated: Mapping[str, str] | None = None) -> Columns:
    """Return which column plays which role.

    Parameters
    ----------
    names : sequence of str
        Column names in file order.
    stated : mapping of str to str or None, default None
        Columns the user states by role; they win.

    Returns
    -------
    Columns
        Roles found; a role nobody plays is missing.

    Raises
    ------
    PlaceError
        If a stated column is not in the file.

    Examples
    --------
    >>> guess_columns(["ID", "Latitud", "Longitud", "Observaciones"]).index
    {'lat': 1, 'lon': 2, 'note': 3}
    """
    index = {role: _find_stated(names, role, column) for role, column in (stated or {}).items()}
    plain = [plain_words(name) for name in names]
    bare = [_without_unit(words) for words in plain]
    for role, words in _WORDS.items():
        if role in index:
            continue
        found = next(
            (
                at
                for word in words
                for at in range(len(names))
                if word in (plain[at], bare[at]) and at not in index.values()
            ),
            None,
        )
        if found is not None:
            index[role] = found
    if "lat" in index and "lon" in index and "place" not in (stated or {}):
        index.pop("place", None)
    ordered = {role: index[role] for role in ROLES if role in index}
    last_word = plain[ordered["accuracy"]].rpartition(" ")[2] if "accuracy" in ordered else ""
    return Columns(
        index=ordered,
        names=tuple(names),
        stated=frozenset(stated or ()),
        accuracy_unit=_UNIT_WORDS.get(last_word, ""),
    )


def without_place(columns: Columns) -> Columns:
    """Return columns without those of a place, for files whose points carry their own.

    Parameters
    ----------
    columns : Columns
        All roles found.

    Returns
    -------
    Columns
        The same without ``lat``, ``lon`` and ``place``.
    """
    index = {role: at for role, at in columns.index.items() if role not in ("lat", "lon", "place")}
    return replace(columns, index=index)


def _without_unit(words: str) -> str:
    head, _, last = words.rpartition(" ")
    return head if last in _UNIT_WORDS else words


def _find_stated(names: Sequence[str], role: str, column: str) -> int:
    folded = [name.strip().casefold() for name in names]
    if column.casefold() in folded:
        return folded.index(column.casefold())
    if column.isascii() and column.isdigit() and 1 <= int(column) <= len(names):
        return int(column) - 1
    near = get_close_matches(column.casefold(), folded, n=1, cutoff=0.5)
    hint = f'; nearest: "{names[folded.index(near[0])]}"' if near else ""
    listed = ", ".join(f'"{name[:40]}"' for name in names[:20])
    message = f'columns: found {role}="{column[:40]}"; allowed: a column of the file ({listed}){hint}'
    raise PlaceError(message)

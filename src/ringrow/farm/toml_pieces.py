"""Surveyed pieces and their values as TOML: written out, compared, said in words."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

import tomlkit

from ringrow.farm.faults import number_words, one_line


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """Keys of a field file as found by a survey, in farm units.

    Parameters
    ----------
    table : {"pivot", "drip", ""}
        Table they belong to; empty for the field itself.
    values : dict
        Value of each key, plain data.
    name : str or None, default None
        Name of the machine or block that is meant; None for the only one.
    comments : dict of str to str
        What to say behind a key when the piece is printed.
    needs : tuple of str, default ()
        What else the piece needs to stand alone, one comment line each.
    """

    table: str
    values: dict[str, Any]
    name: str | None = None
    comments: dict[str, str] = field(default_factory=dict)
    needs: tuple[str, ...] = ()


def quoted_toml(text: str) -> str:
    r"""Return a text as TOML writes it, in quotes.

    Parameters
    ----------
    text : str
        Any text.

    Returns
    -------
    str
        The text between quotes, what TOML does not take as it is written out.

    Examples
    --------
    >>> print(quoted_toml('The "old" well'))
    "The \"old\" well"
    """
    return str(tomlkit.string(text).as_string())


def toml_item(value: Any) -> Any:
    """Return plain data as TOML: places in one line, outlines one corner a line.

    Parameters
    ----------
    value : object
        Number, text, table or list.

    Returns
    -------
    object
        The TOML item.

    Examples
    --------
    >>> toml_item({"lat": 36.75, "lon": -101.5}).as_string()
    '{ lat = 36.75, lon = -101.5 }'
    """
    if isinstance(value, dict):
        return tomlkit.parse(f"x = {_inline(value)}\n")["x"]
    if isinstance(value, list) and value and isinstance(value[0], dict):
        rows = "".join(f"    {_inline(row)},\n" for row in value)
        return tomlkit.parse(f"x = [\n{rows}]\n")["x"]
    return tomlkit.item(value)


def _inline(value: Any) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {_inline(item)}" for key, item in value.items()) + " }"
    return str(tomlkit.item(value).as_string())


def same_value(one: Any, two: Any) -> bool:
    """Return whether two values of a TOML file say the same.

    Parameters
    ----------
    one, two : object
        Plain data.

    Returns
    -------
    bool
        True when all numbers agree to a part in a thousand million and all else is equal.

    Examples
    --------
    >>> same_value([182, 90.0], [182.0, 90])
    True
    """
    if isinstance(one, dict) and isinstance(two, dict):
        return one.keys() == two.keys() and all(same_value(one[key], two[key]) for key in one)
    if isinstance(one, list) and isinstance(two, list):
        return len(one) == len(two) and all(same_value(a, b) for a, b in zip(one, two, strict=True))
    numbers = all(isinstance(item, int | float) and not isinstance(item, bool) for item in (one, two))
    return (
        math.isclose(one, two, rel_tol=1e-9, abs_tol=1e-9)
        if numbers
        else one is two or (type(one) is type(two) and one == two)
    )


def value_words(value: Any) -> str:
    """Return a value of a TOML file in one line.

    Parameters
    ----------
    value : object
        Plain data.

    Returns
    -------
    str
        The value; long lists by their length.

    Examples
    --------
    >>> value_words({"lat": 36.75, "lon": -101.5}), value_words([1, 2.5]), value_words([{}] * 40)
    ('{ lat = 36.75, lon = -101.5 }', '[1, 2.5]', 'a list of 40')
    """
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {value_words(item)}" for key, item in value.items()) + " }"
    if isinstance(value, list):
        if len(value) > 30 or any(isinstance(item, dict) for item in value):
            return f"a list of {len(value)}"
        return "[" + ", ".join(value_words(item) for item in value) + "]"
    if isinstance(value, bool) or not isinstance(value, int | float):
        return one_line(str(value))[:80]
    return number_words(value) if abs(value) >= 1000 or isinstance(value, int) else f"{value:.10g}"


def piece_text(piece: Piece) -> str:
    """Return a piece as TOML, ready to be put into a field file by hand.

    Parameters
    ----------
    piece : Piece
        What was surveyed.

    Returns
    -------
    str
        TOML with comments; what it still needs stands in comments.

    Examples
    --------
    >>> print(piece_text(Piece(table="pivot", name="North", values={"spans": [180.0, 175.5]})))
    [[pivot]]
    name = "North"
    spans = [180.0, 175.5]
    <BLANKLINE>
    """
    lines = [f"[[{piece.table}]]"] if piece.table else []
    if piece.name:
        lines.append(f"name = {quoted_toml(piece.name)}")
    for key, value in piece.values.items():
        text = str(toml_item(value).as_string())
        note = f"    # {piece.comments[key]}" if key in piece.comments else ""
        lines.append(f"{key} = {text}{note}")
    lines += [f"# {line}" for line in piece.needs]
    return "\n".join(lines) + "\n"

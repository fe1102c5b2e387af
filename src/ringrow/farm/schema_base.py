"""The ground floor of the schema: kinds of values, positions, shapes from files or drawn by hand."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from pydantic import BaseModel, ConfigDict, Field

from ringrow.farm.schema_rules import (
    Quantity,
    Text,
    accuracy_hint,
    day_hint,
    kind_hint,
    name_hint,
    scalar_hint,
    side_hint,
    zone_hint,
)

if TYPE_CHECKING:
    from pydantic.config import JsonDict

TAG = "\0"
"""First letter of union tags in error locations; no TOML key can begin with it."""

FOOT = 0.3048

Number = Annotated[float, Field(allow_inf_nan=False)]
Whole = Annotated[int, Field()]
Name = Annotated[str, Text(allowed="a name of 1 to 80 letters on one line", check=name_hint)]
Words = Annotated[str, Field(max_length=2000)]
Side = Annotated[
    Any,
    Text(
        allowed="north, northeast, ... northwest, or degrees clockwise from true north (0 to below 360)",
        check=side_hint,
    ),
]
AccuracyText = Annotated[
    str,
    Text(
        allowed='a size, ft or m, and r95, r68, rms or cep, such as "16 ft r95"',
        check=accuracy_hint,
    ),
]
KindName = Annotated[str, Text(allowed="small letters, digits and hyphens", check=kind_hint)]
Scalar = Annotated[Any, Text(allowed="text, a number, true or false", check=scalar_hint)]

Day = Annotated[Any, Text(allowed="a day, year first, such as 2028-03-01", check=day_hint)]
ZoneName = Annotated[
    str,
    Text(allowed='a time zone by its IANA name, such as "America/Chicago"', check=zone_hint),
]

Span = Annotated[Number, Quantity(kind="length", above=0, most=400 * FOOT)]
Azimuth = Annotated[
    Number,
    Quantity(kind="angle", least=0, below=360, hint="give it clockwise from true north; 360 is written 0"),
]


def one_of(text: str) -> JsonDict:
    """Return the note of a key that is needed unless another stands in for it.

    Parameters
    ----------
    text : str
        Which key stands in for it.

    Returns
    -------
    dict
        The note, for the table of keys.
    """
    return {"needed": text}


class Table(BaseModel):
    """A TOML table: nothing in it but the keys stated here, every value of its own type."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


class At(Table):
    """A position, WGS 84."""

    lat: Annotated[Number, Quantity(kind="angle", least=-89, most=89)] = Field(
        description="latitude, north positive"
    )
    lon: Annotated[Number, Quantity(kind="angle", least=-180, most=180)] = Field(
        description="longitude, west negative"
    )


def word_or_shape(value: Any) -> str | None:
    """Return the union's tag for a word or a shape's table.

    Parameters
    ----------
    value : object
        What was written.

    Returns
    -------
    str or None
        The tag; None when it is neither.
    """
    return TAG + "word" if isinstance(value, str) else TAG + "shape" if isinstance(value, dict) else None


def word_list_or_table(value: Any) -> str | None:
    """Return the union's tag for a word, a list or a table.

    Parameters
    ----------
    value : object
        What was written.

    Returns
    -------
    str or None
        The tag; None when it is none of them.
    """
    kinds = ((str, "word"), (list, "list"), (dict, "table"))
    return next((TAG + tag for kind, tag in kinds if isinstance(value, kind)), None)


def word_or_number(value: Any) -> str:
    """Return the union's tag for a word, or for anything that should be a number.

    Parameters
    ----------
    value : object
        What was written.

    Returns
    -------
    str
        The tag.
    """
    return TAG + ("word" if isinstance(value, str) else "number")


class FileTable(Table):
    """Features of a vector file."""

    file: Words | None = Field(
        None,
        description="vector file inside the farm folder, such as shapes/a.geojson",
        json_schema_extra=one_of("this, or drawn by hand"),
    )
    layer: Words | None = Field(None, description="layer of the file; needed where it has several")
    where: dict[str, Scalar] | None = Field(
        None, description="only features whose columns have these values; several are taken together"
    )
    crs: Words | None = Field(
        None, description='coordinate system of a file that does not say it, such as "EPSG:26914"'
    )


class ShapeTable(FileTable):
    """Ground: from a vector file, or drawn corner by corner."""

    outline: list[At] | None = Field(
        None,
        description="corners in turn, three or more, instead of a file",
        min_length=3,
        max_length=20_000,
        json_schema_extra=one_of("this or file"),
    )


class KeepOffTable(FileTable):
    """What no gun may reach: from a vector file, or drawn by hand."""

    outline: list[At] | None = Field(
        None,
        description="a house or yard: corners in turn, three or more",
        min_length=3,
        max_length=20_000,
    )
    line: list[At] | None = Field(
        None, description="a road or power line: its corners in turn", min_length=2, max_length=20_000
    )
    point: At | None = Field(None, description="a pole or tank: its place")

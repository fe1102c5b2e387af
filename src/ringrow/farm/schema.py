"""What may stand in a farm's files: every key, its unit, its range and its meaning.

The tables below are the only place where keys are defined; checking, hints and the table of
``ringrow check --explain`` are all taken from them. A range is stated in SI and shown in the
farm's own units. Ranges are wide on purpose: they catch slips of unit and of the decimal
point, not unusual machines (our own choice, no source).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Discriminator, Field, Tag

from ringrow.farm.schema_rules import (
    Quantity,
    Text,
    accuracy_hint,
    kind_hint,
    name_hint,
    scalar_hint,
    side_hint,
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

Span = Annotated[Number, Quantity(kind="length", above=0, most=400 * FOOT)]
Azimuth = Annotated[
    Number,
    Quantity(kind="angle", least=0, below=360, hint="give it clockwise from true north; 360 is written 0"),
]


def _one_of(text: str) -> JsonDict:
    """Return the note of a key that is needed unless another stands in for it."""
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


class ShapeTable(Table):
    """A shape: from a vector file, or drawn point by point."""

    file: Words | None = Field(
        None,
        description="vector file inside the farm folder, such as shapes/a.geojson",
        json_schema_extra=_one_of("this or outline"),
    )
    layer: Words | None = Field(None, description="layer of the file; needed where it has several")
    where: dict[str, Scalar] | None = Field(
        None, description="only features whose columns have these values; several are taken together"
    )
    crs: Words | None = Field(
        None, description='coordinate system of a file that does not say it, such as "EPSG:26914"'
    )
    outline: list[At] | None = Field(
        None,
        description="corners in turn, three or more, instead of a file",
        min_length=3,
        max_length=20_000,
        json_schema_extra=_one_of("this or file"),
    )


def _area_tag(value: Any) -> str | None:
    return TAG + "word" if isinstance(value, str) else TAG + "shape" if isinstance(value, dict) else None


def _list_tag(value: Any) -> str | None:
    kinds = ((str, "word"), (list, "list"), (dict, "table"))
    return next((TAG + tag for kind, tag in kinds if isinstance(value, kind)), None)


class SectorTable(Table):
    """Part of the turn, clockwise from start to stop."""

    start: Azimuth = Field(description="true azimuth where it starts")
    stop: Azimuth = Field(description="true azimuth where it stops, clockwise from start")


class OutletTable(Table):
    """Evenly spaced outlets."""

    first: Annotated[Number, Quantity(kind="length", above=0, most=400 * FOOT)] = Field(
        description="distance of the first outlet from the pivot point"
    )
    spacing: Annotated[Number, Quantity(kind="length", least=0.3 * FOOT, most=100 * FOOT)] = Field(
        description="distance between outlets"
    )


Arcs = Annotated[
    Annotated[Literal["auto", "always"], Tag(TAG + "word")]
    | Annotated[list[SectorTable], Field(min_length=1), Tag(TAG + "list")],
    Discriminator(_list_tag),
]
Outlets = Annotated[
    Annotated[OutletTable, Tag(TAG + "table")]
    | Annotated[
        list[Annotated[Number, Quantity(kind="length", above=0, most=4000 * FOOT)]],
        Field(min_length=1, max_length=5000),
        Tag(TAG + "list"),
    ],
    Discriminator(_list_tag),
]


class EndGunTable(Table):
    """The big sprinkler at the pipe end."""

    reach: Annotated[Number, Quantity(kind="length", above=0, most=300 * FOOT)] | None = Field(
        None,
        description="effective reach past the pipe end",
        json_schema_extra=_one_of("this or wetted_radius"),
    )
    wetted_radius: Annotated[Number, Quantity(kind="length", above=0, most=400 * FOOT)] | None = Field(
        None,
        description="full wetted radius of the gun; 75 % of it counts where reach is not given",
        json_schema_extra=_one_of("this or reach"),
    )
    arcs: Arcs = Field("auto", description='where it runs: "auto", "always" or a list of { start, stop }')


class PivotTable(Table):
    """A centre pivot."""

    name: Name | None = Field(None, description='name, unique on the farm; else "<field> pivot 1"')
    point: At = Field(description="the pivot point")
    spans: list[Span] | None = Field(
        None,
        description="span lengths, from the pivot point outward to each tower in turn",
        json_schema_extra=_one_of("this or towers and last_tower"),
        min_length=1,
        max_length=60,
    )
    towers: Annotated[Whole, Field(ge=1, le=60)] | None = Field(
        None,
        description="number of towers, where the spans are not known",
        json_schema_extra=_one_of("with last_tower, or spans"),
    )
    last_tower: Annotated[Number, Quantity(kind="length", above=0, most=4000 * FOOT)] | None = Field(
        None,
        description="distance of the last tower from the pivot point; split evenly over the towers",
        json_schema_extra=_one_of("with towers, or spans"),
    )
    overhang: Annotated[Number, Quantity(kind="length", least=0, most=300 * FOOT)] | None = Field(
        None, description="pipe past the last tower; else 0"
    )
    throw: Annotated[Number, Quantity(kind="length", least=0, most=200 * FOOT)] | None = Field(
        None, description="effective reach of the last sprinkler past the pipe end; else 0"
    )
    sector: SectorTable | None = Field(None, description="part of the turn it walks; left out = full circle")
    panel_zero: Azimuth | None = Field(None, description="true azimuth at which the panel shows 0; else 0")
    flow: Annotated[Number, Quantity(kind="flow", above=0, most=1000)] | None = Field(
        None, description="flow at the pivot point"
    )
    pressure: Annotated[Number, Quantity(kind="pressure", least=0, most=2000)] | None = Field(
        None, description="pressure at the pivot point"
    )
    outlets: Outlets | None = Field(
        None, description="distances of the outlets: { first, spacing } or a rising list"
    )
    end_gun: EndGunTable | None = Field(None, description="[pivot.end_gun]: the gun at the pipe end")
    notes: Words = Field("", description="what the crew should know")


class LineTable(Table):
    """A guidance line."""

    from_: At = Field(alias="from", description="one end")
    to: At = Field(description="the other end; laterals head this way")


class TapeTable(Table):
    """Drip tape, by its emitter or as the roll's label says."""

    inside_diameter: Annotated[Number, Quantity(kind="small", least=0.002, most=0.15)] | None = Field(
        None, description="bore"
    )
    emitter_spacing: Annotated[Number, Quantity(kind="small", least=0.02, most=5)] | None = Field(
        None, description="distance between emitters"
    )
    emitter_flow: Annotated[Number, Quantity(kind="emitter", above=0, most=100 / 3600)] | None = Field(
        None, description="flow of one emitter at at_pressure"
    )
    flow_per_100ft: Annotated[Number, Quantity(kind="label_ft", above=0, most=20)] | None = Field(
        None, description="flow of 100 ft of tape at at_pressure, instead of emitter_flow"
    )
    flow_per_m: Annotated[Number, Quantity(kind="label_m", above=0, most=150)] | None = Field(
        None, description="flow of 1 m of tape at at_pressure, instead of emitter_flow"
    )
    at_pressure: Annotated[Number, Quantity(kind="pressure", above=0, most=1000)] | None = Field(
        None, description="pressure at which the flow holds"
    )
    exponent: Annotated[Number, Quantity(kind="share", least=0, most=1)] | None = Field(
        None, description="emitter exponent; else 0.5"
    )
    cv: Annotated[Number, Quantity(kind="share", least=0, most=0.5, hint="3 % is written 0.03")] | None = (
        Field(None, description="manufacturing coefficient of variation")
    )


class ZoneTable(Table):
    """Laterals that one valve waters together."""

    name: Name | None = Field(None, description='name, unique in its block; else "zone 1"')
    laterals: list[Annotated[Whole, Field(ge=1, le=100_000)]] = Field(
        description="first and last lateral number, both in: [1, 264]", min_length=2, max_length=2
    )
    valve: Words = Field("", description="name of the valve")
    pressure: Annotated[Number, Quantity(kind="pressure", least=0, most=1000)] | None = Field(
        None, description="pressure at the header"
    )


class DripTable(Table):
    """A block of buried drip tape."""

    name: Name | None = Field(None, description='name, unique on the farm; else "<field> drip 1"')
    area: Annotated[
        Annotated[Literal["boundary"], Tag(TAG + "word")] | Annotated[ShapeTable, Tag(TAG + "shape")],
        Discriminator(_area_tag),
    ] = Field("boundary", description='"boundary" (the whole field) or a shape')
    not_: list[Name] | None = Field(
        None, alias="not", description="pivots of this field whose wetted ground holds no tape"
    )
    heading: Azimuth | None = Field(
        None, description="direction of the laterals", json_schema_extra=_one_of("this or line")
    )
    line: LineTable | None = Field(
        None, description="guidance line { from, to }", json_schema_extra=_one_of("this or heading")
    )
    row_spacing: Annotated[Number, Quantity(kind="small", least=0.05, most=10)] = Field(
        description="distance between crop rows"
    )
    rows_per_lateral: Annotated[Number, Quantity(kind="share", least=0.1, most=50)] = Field(
        description="crop rows that share one lateral"
    )
    first_lateral: Annotated[Number, Quantity(kind="small", least=0, most=100)] | None = Field(
        None, description="lateral 1 from the numbering edge; else half the lateral spacing, or on the line"
    )
    number_from: Side | None = Field(
        None,
        description="side where numbering starts; else north, or west for laterals near north-south",
    )
    header: Side | None = Field(
        None, description="side where the header is, station 0; else where the heading starts"
    )
    headland: Annotated[Number, Quantity(kind="length", least=0, most=1000 * FOOT)] | None = Field(
        None, description="ground without tape at both ends; else 0"
    )
    depth: Annotated[Number, Quantity(kind="small", least=0, most=1.524)] | None = Field(
        None, description="depth of the tape"
    )
    tape: TapeTable | None = Field(None, description="the tape")
    zone: list[ZoneTable] | None = Field(None, description="[[drip.zone]]: laterals by valve", max_length=500)
    notes: Words = Field("", description="what the crew should know")


NeckQuantity = Annotated[Number, Quantity(kind="length", above=0, most=1000 * FOOT)]
SetbackQuantity = Annotated[Number, Quantity(kind="length", least=0, most=1000 * FOOT)]
MinArcQuantity = Annotated[Number, Quantity(kind="angle", least=0, most=90)]


class FieldFile(Table):
    """One file of the fields folder."""

    name: Name = Field(description="the field's name, unique on the farm")
    boundary: ShapeTable | None = Field(
        None, description="the field's outer limit", json_schema_extra=_one_of("this or outline")
    )
    outline: list[At] | None = Field(
        None,
        description="the field's corners in turn, three or more",
        min_length=3,
        max_length=20_000,
        json_schema_extra=_one_of("this or boundary"),
    )
    exclusions: list[ShapeTable] | None = Field(
        None, description="ground inside the boundary that is not farmed", max_length=500
    )
    setback: SetbackQuantity | None = Field(
        None, description="end gun water stays this far inside farmable ground; else 0"
    )
    neck: NeckQuantity | None = Field(
        None, description="dry ground narrower than this is an edge strip; else 50 ft or 15 m"
    )
    min_arc: MinArcQuantity | None = Field(
        None, description="automatic gun arcs shorter than this are dropped; else 5"
    )
    pivot: list[PivotTable] | None = Field(None, description="[[pivot]]: centre pivots", max_length=200)
    drip: list[DripTable] | None = Field(None, description="[[drip]]: drip blocks", max_length=200)
    notes: Words = Field("", description="what the crew should know")


class WellTable(Table):
    """A well."""

    name: Name = Field(description="name, unique among the wells")
    at: At = Field(description="where it is")
    power: Literal["electric", "engine"] | None = Field(None, description='"electric" or "engine"')
    serves: list[Name] | None = Field(None, description="names of the pivots and drip blocks it waters")
    shutoffs: Words = Field("", description="where power, water and fuel are shut")
    notes: Words = Field("", description="what the crew should know")


class ContactTable(Table):
    """Somebody to call."""

    name: Name = Field(description="who")
    phone: Words = Field("", description="telephone number, as it is dialled")


class KindTable(Table):
    """A flag kind of the farm's own, or another class or wording for one of ours."""

    name: KindName = Field(description="the word used on the command line and in files")
    on: Literal["ground", "machine", "works"] | None = Field(
        None, description='"ground", "machine" or "works"; needed for a new kind'
    )
    class_: Literal["unsafe", "stops", "wastes", "acres", "later"] | None = Field(
        None, alias="class", description='"unsafe", "stops", "wastes", "acres" or "later"; else "later"'
    )
    words: Name | None = Field(None, description="what it is in plain words; else the kind's name")


class DefaultsTable(Table):
    """Numbers that hold wherever a field, pivot or drip block does not state its own."""

    accuracy: AccuracyText | None = Field(
        None, description='accuracy of a position when none is stated; else "16 ft r95"'
    )
    setback: SetbackQuantity | None = Field(None, description="setback of fields that state none")
    neck: NeckQuantity | None = Field(None, description="neck of fields that state none")
    min_arc: MinArcQuantity | None = Field(None, description="min_arc of fields that state none")
    throw: Annotated[Number, Quantity(kind="length", least=0, most=200 * FOOT)] | None = Field(
        None, description="throw of pivots that state none"
    )
    headland: Annotated[Number, Quantity(kind="length", least=0, most=1000 * FOOT)] | None = Field(
        None, description="headland of drip blocks that state none"
    )


class FarmFile(Table):
    """The file farm.toml."""

    name: Name = Field(description="the farm's name")
    units: Literal["us", "metric"] = Field("us", description='"us" or "metric", for all files and output')
    language: Literal["en"] = Field("en", description='language of what the crew sees: "en"')
    gate: At | None = Field(None, description="where one drives in")
    well: list[WellTable] | None = Field(None, description="[[well]]: wells", max_length=500)
    contact: list[ContactTable] | None = Field(
        None, description="[[contact]]: people and services to call", max_length=50
    )
    defaults: DefaultsTable | None = Field(None, description="[defaults]: numbers for the whole farm")
    kind: list[KindTable] | None = Field(
        None, description="[[kind]]: flag kinds of the farm's own", max_length=200
    )

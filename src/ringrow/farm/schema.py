"""What may stand in a farm's files: every key, its unit, its range and its meaning.

The tables here and in the modules beside this one are the only place where keys are defined;
checking, hints and the table of ``ringrow check --explain`` are all taken from them. A range
is stated in SI and shown in the farm's own units. Ranges are wide on purpose: they catch slips
of unit and of the decimal point, not unusual machines (our own choice, no source).
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Discriminator, Field, Tag

from ringrow.farm.schema_base import (
    FOOT,
    TAG,
    AccuracyText,
    At,
    Azimuth,
    FileTable,
    KeepOffTable,
    KindName,
    Name,
    Number,
    ShapeTable,
    Side,
    Table,
    Whole,
    Words,
    ZoneName,
    one_of,
    word_or_shape,
)
from ringrow.farm.schema_machines import (  # noqa: TC001 - read when the tables are built
    LateralMoveTable,
    PivotTable,
    PlateHertz,
    PlateVolts,
    StandardError,
    Throw,
)
from ringrow.farm.schema_rules import Quantity


class LineTable(FileTable):
    """A guidance line: by its two ends, point by point, or from a vector file."""

    from_: At | None = Field(
        None, alias="from", description="one end", json_schema_extra=one_of("with to, or path or file")
    )
    to: At | None = Field(
        None,
        description="the other end; laterals head this way",
        json_schema_extra=one_of("with from, or path or file"),
    )
    path: list[At] | None = Field(
        None,
        description="points of a line as driven, bends and all; laterals head from first to last",
        min_length=2,
        max_length=20_000,
        json_schema_extra=one_of("this, or from and to, or file"),
    )


Elevation = Annotated[Number, Quantity(kind="length", least=-1500 * FOOT, most=20_000 * FOOT)]


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
        Discriminator(word_or_shape),
    ] = Field("boundary", description='"boundary" (the whole field) or a shape')
    not_: list[Name] | None = Field(
        None,
        alias="not",
        description="pivots and lateral moves of this field whose wetted ground holds no tape",
    )
    heading: Azimuth | None = Field(
        None, description="direction of the laterals", json_schema_extra=one_of("this or line")
    )
    line: LineTable | None = Field(
        None,
        description="guidance line { from, to }, { path } or { file }",
        json_schema_extra=one_of("this or heading"),
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
    fed: Literal["one", "both"] = Field(
        "one", description='"one" (water enters at the header) or "both" (at both ends of the laterals)'
    )
    header_elevation: Elevation | None = Field(
        None, description="height of the ground at the header end; else level"
    )
    far_elevation: Elevation | None = Field(
        None, description="height of the ground at the far end of the longest lateral; else level"
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
        None, description="the field's outer limit", json_schema_extra=one_of("this or outline")
    )
    outline: list[At] | None = Field(
        None,
        description="the field's corners in turn, three or more",
        min_length=3,
        max_length=20_000,
        json_schema_extra=one_of("this or boundary"),
    )
    exclusions: list[ShapeTable] | None = Field(
        None, description="ground inside the boundary that is not farmed", max_length=500
    )
    keep_off: list[KeepOffTable] | None = Field(
        None,
        description="roads, houses, power lines, stock water that no end gun may reach, in or near the field",
        max_length=500,
    )
    setback: SetbackQuantity | None = Field(
        None, description="end gun and corner arm water stay this far inside farmable ground; else 0"
    )
    neck: NeckQuantity | None = Field(
        None, description="dry ground narrower than this is an edge strip; else 50 ft or 15 m"
    )
    min_arc: MinArcQuantity | None = Field(
        None, description="automatic gun arcs shorter than this are dropped; else 5"
    )
    boundary_se: StandardError | None = Field(
        None, description="standard error of a boundary corner, for the range of the acres"
    )
    tillage_depth: Annotated[Number, Quantity(kind="small", least=0, most=1.524)] | None = Field(
        None, description="deepest that the ground is worked, to be held against the tape's depth"
    )
    pivot: list[PivotTable] | None = Field(None, description="[[pivot]]: centre pivots", max_length=200)
    lateral_move: list[LateralMoveTable] | None = Field(
        None, description="[[lateral_move]]: machines that walk sideways along a ditch or hose", max_length=50
    )
    drip: list[DripTable] | None = Field(None, description="[[drip]]: drip blocks", max_length=200)
    access: Words = Field("", description="how a crew gets there: road, gate, which side")
    legal: Words = Field("", description="legal land description")
    notes: Words = Field("", description="what the crew should know")
    crop: Name | None = Field(None, description="what grows on it, for the year's table of acres and water")


class WellTable(Table):
    """A well."""

    name: Name = Field(description="name, unique among the wells")
    at: At = Field(description="where it is")
    power: Literal["electric", "engine"] | None = Field(None, description='"electric" or "engine"')
    serves: list[Name] | None = Field(
        None, description="names of the pivots, lateral moves and drip blocks it waters"
    )
    shutoffs: Words = Field("", description="where power, water and fuel are shut")
    plate_volts: PlateVolts | None = Field(None, description="volts on the pump motor's plate")
    plate_hertz: PlateHertz | None = Field(None, description="hertz on the pump motor's plate")
    battery_volts: Annotated[Number, Quantity(kind="volts", least=6, most=48)] | None = Field(
        None, description="volts an engine's battery is built for: 12 or 24"
    )
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


class PartTable(Table):
    """A part that a kind of flag needs on this farm."""

    kind: KindName = Field(description="the flag kind; its rows here take the place of the built-in ones")
    part: Name = Field(description="what to bring, with its size")
    quantity: Annotated[Whole, Field(ge=1, le=1000)] = Field(1, description="how many for one flag; else 1")


class PutAwayTable(Table):
    """A put-away item of the farm's own, or other words for one of ours, or one of ours left out."""

    item: KindName = Field(description="the word used on the command line, such as drained")
    kind: Literal["pivot", "lateral move", "drip", "well"] | None = Field(
        None,
        description='"pivot", "lateral move", "drip" or "well"',
        json_schema_extra=one_of("this, or system"),
    )
    system: Name | None = Field(
        None,
        description="the one machine, drip block or well it holds for",
        json_schema_extra=one_of("this, or kind"),
    )
    words: Words = Field("", description="what is done in the fall; needed for a new item")
    back: Words = Field("", description="what is done in spring; needed for a new item")
    leave_out: bool = Field(False, description="true takes one of our items off the list")  # noqa: FBT003


class ChecklistTable(Table):
    """An item of the farm's own for the round, or other words for one of ours, or one of ours left out."""

    item: KindName = Field(description="the word used on the command line, such as nests")
    kind: Literal["pivot", "lateral move", "drip", "well"] | None = Field(
        None,
        description='"pivot", "lateral move", "drip" or "well"',
        json_schema_extra=one_of("this, or system"),
    )
    system: Name | None = Field(
        None,
        description="the one machine, drip block or well it holds for",
        json_schema_extra=one_of("this, or kind"),
    )
    words: Words = Field("", description="what is looked at or tried; needed for a new item")
    how: Literal["look", "try"] | None = Field(
        None, description='a new item: "look" (at it) or "try" (it out); else "look"'
    )
    per: Literal["system", "tower", "zone"] | None = Field(
        None, description='a new item: asked once a "system", "tower" or "zone"; else "system"'
    )
    leave_out: bool = Field(False, description="true takes one of our items off the list")  # noqa: FBT003


Tolerance = Annotated[Number, Quantity(kind="share", above=0, most=0.5, hint="10 % is written 0.10")]


class TolerancesTable(Table):
    """How far a reading may lie from the number it is held against."""

    volts: Tolerance | None = Field(
        None, description="share of the plate volts; else 0.10, as motor standards have it"
    )
    flow: Tolerance | None = Field(None, description="share of the design flow; else 0.10 (our choice)")
    pressure: Tolerance | None = Field(
        None, description="share of the design pressure; else 0.10 (our choice)"
    )
    filter_loss: Annotated[Number, Quantity(kind="pressure", above=0, most=300)] | None = Field(
        None, description="most pressure that filters may take; left out = not judged"
    )


class DefaultsTable(Table):
    """Numbers that hold wherever a field, pivot or drip block does not state its own."""

    accuracy: AccuracyText | None = Field(
        None, description='accuracy of a position when none is stated; else "16 ft r95"'
    )
    setback: SetbackQuantity | None = Field(None, description="setback of fields that state none")
    neck: NeckQuantity | None = Field(None, description="neck of fields that state none")
    min_arc: MinArcQuantity | None = Field(None, description="min_arc of fields that state none")
    throw: Throw | None = Field(None, description="throw of pivots and lateral moves that state none")
    headland: Annotated[Number, Quantity(kind="length", least=0, most=1000 * FOOT)] | None = Field(
        None, description="headland of drip blocks that state none"
    )


class FarmFile(Table):
    """The file farm.toml."""

    name: Name = Field(description="the farm's name")
    units: Literal["us", "metric"] = Field("us", description='"us" or "metric", for all files and output')
    language: Literal["en", "es"] = Field(
        "en", description='language of what the crew sees: "en" (English) or "es" (Spanish)'
    )
    time_zone: ZoneName | None = Field(
        None, description="the farm's time zone, such as \"America/Chicago\"; else the computer's"
    )
    gate: At | None = Field(None, description="where one drives in")
    well: list[WellTable] | None = Field(None, description="[[well]]: wells", max_length=500)
    contact: list[ContactTable] | None = Field(
        None, description="[[contact]]: people and services to call", max_length=50
    )
    defaults: DefaultsTable | None = Field(None, description="[defaults]: numbers for the whole farm")
    kind: list[KindTable] | None = Field(
        None, description="[[kind]]: flag kinds of the farm's own", max_length=200
    )
    part: list[PartTable] | None = Field(
        None, description="[[part]]: what to bring for a kind of flag", max_length=500
    )
    put_away: list[PutAwayTable] | None = Field(
        None, description="[[put_away]]: items of the fall list", max_length=500
    )
    checklist: list[ChecklistTable] | None = Field(
        None, description="[[checklist]]: items of the round's checklists", max_length=500
    )
    tolerances: TolerancesTable | None = Field(None, description="[tolerances]: how far readings may lie off")

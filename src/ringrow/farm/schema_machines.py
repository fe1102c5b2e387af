"""The schema of machines: centre pivots with their guns, arms, bends and places, and lateral moves."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Discriminator, Field, Tag

from ringrow.farm.schema_base import (
    FOOT,
    TAG,
    At,
    Azimuth,
    Day,
    FileTable,
    Name,
    Number,
    Span,
    Table,
    Whole,
    Words,
    one_of,
    word_list_or_table,
    word_or_number,
)
from ringrow.farm.schema_rules import Quantity

Overhang = Annotated[Number, Quantity(kind="length", least=0, most=300 * FOOT)]
Throw = Annotated[Number, Quantity(kind="length", least=0, most=200 * FOOT)]
LastTower = Annotated[Number, Quantity(kind="length", above=0, most=4000 * FOOT)]
Flow = Annotated[Number, Quantity(kind="flow", above=0, most=1000)]
Pressure = Annotated[Number, Quantity(kind="pressure", least=0, most=2000)]
PlateVolts = Annotated[
    Number, Quantity(kind="volts", least=100, most=1000, hint="as the motor's plate says, such as 460")
]
PlateHertz = Annotated[Number, Quantity(kind="hertz", least=50, most=60, hint="50 or 60")]
PanelZero = Annotated[
    Annotated[Literal["none"], Tag(TAG + "word")] | Annotated[Azimuth, Tag(TAG + "number")],
    Discriminator(word_or_number),
]
Road = Annotated[
    Annotated[list[At], Field(min_length=1, max_length=2000), Tag(TAG + "list")]
    | Annotated[FileTable, Tag(TAG + "table")],
    Discriminator(word_list_or_table),
]
StandardError = Annotated[
    Number, Quantity(kind="length", least=0, most=100 * FOOT, hint="one standard error, not the 95 % range")
]


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
    Discriminator(word_list_or_table),
]
Outlets = Annotated[
    Annotated[OutletTable, Tag(TAG + "table")]
    | Annotated[
        list[Annotated[Number, Quantity(kind="length", above=0, most=4000 * FOOT)]],
        Field(min_length=1, max_length=5000),
        Tag(TAG + "list"),
    ],
    Discriminator(word_list_or_table),
]


class EndGunTable(Table):
    """The big sprinkler at the pipe end."""

    reach: Annotated[Number, Quantity(kind="length", above=0, most=300 * FOOT)] | None = Field(
        None,
        description="effective reach past the pipe end",
        json_schema_extra=one_of("this or wetted_radius"),
    )
    wetted_radius: Annotated[Number, Quantity(kind="length", above=0, most=400 * FOOT)] | None = Field(
        None,
        description="full wetted radius of the gun; 75 % of it counts where reach is not given",
        json_schema_extra=one_of("this or reach"),
    )
    flow: Annotated[Number, Quantity(kind="flow", above=0, most=200)] | None = Field(
        None, description="flow of the gun while it runs"
    )
    arcs: Arcs = Field("auto", description='where it runs: "auto", "always" or a list of { start, stop }')


class ArmTable(Table):
    """A corner arm, hinged at the last tower."""

    length: Annotated[Number, Quantity(kind="length", above=0, most=500 * FOOT)] = Field(
        description="hinge at the last tower to the steered wheels"
    )
    overhang: Annotated[Number, Quantity(kind="length", least=0, most=150 * FOOT)] | None = Field(
        None, description="pipe past the steered wheels; else 0"
    )
    throw: Throw | None = Field(
        None, description="effective reach of the arm's last sprinkler past its end; else 0"
    )
    side: Literal["trailing", "leading"] = Field(
        description='"trailing" (the arm stands counter-clockwise of the main pipe) or "leading"'
    )
    fold: Annotated[Number, Quantity(kind="angle", above=0, below=180)] = Field(
        description="angle at the hinge between main pipe and arm, folded; 180 is straight"
    )
    open: Annotated[Number, Quantity(kind="angle", above=0, most=180)] = Field(
        description="angle at the hinge, fully open"
    )
    open_rate: Annotated[Number, Quantity(kind="turn_rate", least=0.1, most=30)] | None = Field(
        None, description="degrees it opens at most per degree the main pipe turns; else 3 (our choice)"
    )
    end_gun: EndGunTable | None = Field(
        None, description="[pivot.corner_arm.end_gun]: the gun at the end of the arm"
    )


class BendTable(Table):
    """A tower at which the pipe bends: past the stop the outer spans walk on about it."""

    tower: Annotated[Whole, Field(ge=1, le=59)] = Field(description="the tower it bends at")
    at: Literal["stop", "start"] = Field(description='"stop" or "start": which end of the sector')
    sweep: Annotated[Number, Quantity(kind="angle", above=0, most=180)] = Field(
        description="how far the outer spans walk on"
    )


class RebuiltTable(Table):
    """New hardware on a machine, from a day on."""

    date: Day = Field(description="first day with the new hardware, such as 2028-03-01")
    what: Literal["machine", "spans", "sprinklers"] = Field(
        description='"machine" (all of it), "spans" (and so towers and outlets) or "sprinklers"'
    )


Rebuilds = Annotated[list[RebuiltTable], Field(max_length=50)]


class ReadingTable(Table):
    """One reading of the panel, with the place of the last tower at that moment."""

    shows: Azimuth = Field(description="degrees on the panel")
    last_tower: At = Field(description="where the last tower stood then")


class PlaceTable(At):
    """One place where a towed machine is set down: its pivot point there."""

    name: Name | None = Field(None, description='name; else "<machine> at point 1"')
    sector: SectorTable | None = Field(None, description="part of the turn it walks here; else the machine's")
    panel_zero: PanelZero | None = Field(
        None, description='true azimuth at which the panel shows 0 here, or "none"; else the machine\'s'
    )
    panel_reading: ReadingTable | None = Field(
        None, description="{ shows, last_tower }, read here, instead of panel_zero"
    )
    parked: Azimuth | None = Field(None, description="true azimuth at which the machine stands here now")
    parked_panel: Azimuth | None = Field(None, description="the same as the panel shows it")
    pivot_road: Road | None = Field(
        None,
        description="the road to this point, from the field's edge inward, or { file } with a line",
    )


class PivotTable(Table):
    """A centre pivot."""

    name: Name | None = Field(None, description='name, unique on the farm; else "<field> pivot 1"')
    point: At | None = Field(None, description="the pivot point", json_schema_extra=one_of("this or points"))
    points: list[PlaceTable] | None = Field(
        None,
        description="pivot points of a machine that is towed from one to the next",
        json_schema_extra=one_of("this or point"),
        min_length=1,
        max_length=40,
    )
    spans: list[Span] | None = Field(
        None,
        description="span lengths, from the pivot point outward to each tower in turn",
        json_schema_extra=one_of("this or towers and last_tower"),
        min_length=1,
        max_length=60,
    )
    towers: Annotated[Whole, Field(ge=1, le=60)] | None = Field(
        None,
        description="number of towers, where the spans are not known",
        json_schema_extra=one_of("with last_tower, or spans"),
    )
    last_tower: LastTower | None = Field(
        None,
        description="distance of the last tower from the pivot point; split evenly over the towers",
        json_schema_extra=one_of("with towers, or spans"),
    )
    overhang: Overhang | None = Field(None, description="pipe past the last tower; else 0")
    throw: Throw | None = Field(
        None, description="effective reach of the last sprinkler past the pipe end; else 0"
    )
    sector: SectorTable | None = Field(None, description="part of the turn it walks; left out = full circle")
    panel_zero: PanelZero | None = Field(
        None, description='true azimuth at which the panel shows 0, or "none" (no angle on it); else 0'
    )
    panel_reading: ReadingTable | None = Field(
        None, description="one reading { shows, last_tower } from which panel zero is worked out"
    )
    parked: Azimuth | None = Field(None, description="true azimuth at which it stands now")
    parked_panel: Azimuth | None = Field(None, description="the same as the panel shows it")
    pivot_road: Road | None = Field(
        None,
        description="the road to the pivot point, from the field's edge inward, or { file } with a line",
    )
    top_speed: Annotated[Number, Quantity(kind="speed", above=0, most=6000 * FOOT)] | None = Field(
        None, description="fastest walk of the last tower"
    )
    radius_se: StandardError | None = Field(
        None, description="standard error of the wetted radius, for the range of the acres"
    )
    flow: Flow | None = Field(None, description="flow at the pivot point")
    pressure: Pressure | None = Field(None, description="pressure at the pivot point")
    bore: Annotated[Number, Quantity(kind="small", least=0.04, most=0.5)] | None = Field(
        None, description="inside diameter of the machine's pipe"
    )
    regulator: Annotated[Number, Quantity(kind="pressure", above=0, most=1000)] | None = Field(
        None, description="pressure that the regulators over the sprinklers hold"
    )
    plate_volts: PlateVolts | None = Field(None, description="volts on the plates of the tower motors")
    plate_hertz: PlateHertz | None = Field(None, description="hertz on the plates of the tower motors")
    outlets: Outlets | None = Field(
        None, description="distances of the outlets: { first, spacing } or a rising list"
    )
    end_gun: EndGunTable | None = Field(None, description="[pivot.end_gun]: the gun at the pipe end")
    corner_arm: ArmTable | None = Field(
        None, description="[pivot.corner_arm]: a second pipe, hinged at the last tower"
    )
    bend: list[BendTable] | None = Field(
        None, description="[[pivot.bend]]: towers it bends at past a stop, inner first", max_length=20
    )
    rebuilt: Rebuilds | None = Field(
        None, description="[[pivot.rebuilt]]: days from which spans or sprinklers are new"
    )
    notes: Words = Field("", description="what the crew should know")


class WingTable(Table):
    """The pipe on one side of the cart."""

    spans: list[Span] | None = Field(
        None,
        description="span lengths, from the cart outward to each tower in turn",
        json_schema_extra=one_of("this or towers and last_tower"),
        min_length=1,
        max_length=60,
    )
    towers: Annotated[Whole, Field(ge=1, le=60)] | None = Field(
        None,
        description="number of towers on this side, where the spans are not known",
        json_schema_extra=one_of("with last_tower, or spans"),
    )
    last_tower: LastTower | None = Field(
        None,
        description="distance of the last tower from the cart; split evenly over the towers",
        json_schema_extra=one_of("with towers, or spans"),
    )
    overhang: Overhang | None = Field(None, description="pipe past the last tower; else 0")
    throw: Throw | None = Field(
        None, description="effective reach of the last sprinkler past the pipe end; else 0"
    )


Path = Annotated[
    Annotated[list[At], Field(min_length=2, max_length=2000), Tag(TAG + "list")]
    | Annotated[FileTable, Tag(TAG + "table")],
    Discriminator(word_list_or_table),
]


class LateralMoveTable(Table):
    """A machine that walks sideways along a ditch or hose."""

    name: Name | None = Field(None, description='name, unique on the farm; else "<field> lateral move 1"')
    path: Path = Field(
        description="the cart's path in travel order: its corners, or { file } with a line in it"
    )
    left: WingTable | None = Field(
        None,
        description="pipe to the left of travel",
        json_schema_extra=one_of("this or right, or both"),
    )
    right: WingTable | None = Field(
        None,
        description="pipe to the right of travel",
        json_schema_extra=one_of("this or left, or both"),
    )
    flow: Flow | None = Field(None, description="flow at the cart")
    pressure: Pressure | None = Field(None, description="pressure at the cart")
    rebuilt: Rebuilds | None = Field(
        None, description="[[lateral_move.rebuilt]]: days from which spans or sprinklers are new"
    )
    plate_volts: PlateVolts | None = Field(None, description="volts on the plates of the tower motors")
    plate_hertz: PlateHertz | None = Field(None, description="hertz on the plates of the tower motors")
    notes: Words = Field("", description="what the crew should know")

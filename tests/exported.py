"""The sample farm with flags whose texts try to break files, for tests of exports."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from ringrow.coverage.accuracy import DEFAULT_ACCURACY
from ringrow.coverage.layout import lay_out
from ringrow.farm.events import Event, clean_text
from ringrow.farm.flag_import import plan_import, settle_kinds
from ringrow.farm.flag_model import DripSpot, GroundSpot, MachineSpot, WellSpot
from ringrow.farm.flag_places import locate_flags
from ringrow.farm.flags import Stamp, first_events
from ringrow.farm.folding import by_field, fold
from ringrow.farm.load import load_farm
from ringrow.farm.readers import read_points
from ringrow.farm.spot_values import spot_to_json
from ringrow.handoff.export import ExportReport, export_farm

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from ringrow.coverage.field import FieldLayout
    from ringrow.farm.flag_model import LocatedFlag
    from ringrow.farm.import_model import ImportPlan
    from ringrow.farm.model import Farm

WHEN = datetime(2026, 4, 2, 13, 5, 7, 123456, tzinfo=UTC)

HOSTILE: tuple[str, ...] = (
    '=HYPERLINK("http://127.0.0.1:9/x","click")',
    "+1-2\n@SUM(A1:A9)\n-3",
    "<script>alert('x')</script> & </cmt> ]]> &amp; <!-- -->",
    "dos líneas\r\nNúñez: ¿fuga? ¡sí! 🚜🌾\r",
    "'already marked; =1+1 | -2\t'=3",
    " blanks at both ends \t",
    "bell \x07 escape \x1b[31m form\x0cfeed",
    'quote " comma, semicolon; "x","y"\u2028line \u202eright to left',
    "",
)


def ground(lat: float, lon: float) -> GroundSpot:
    """Return a spot on the ground."""
    return GroundSpot(lat=lat, lon=lon, accuracy=DEFAULT_ACCURACY)


@dataclass(frozen=True, kw_only=True)
class Book:
    """A farm, laid out, with its flags and the events they come from."""

    farm: Farm
    layouts: list[FieldLayout]
    events: list[Event]
    flags: list[LocatedFlag]

    def export(self, path: Path) -> ExportReport:
        """Write everything."""
        return export_farm(self.farm, self.layouts, self.flags, path)


@lru_cache(maxsize=2)
def laid_out(folder: Path) -> tuple[Farm, list[FieldLayout]]:
    """Return the farm in a folder and its fields laid out; a farm is never changed, so once is enough."""
    farm = load_farm(folder)
    return farm, [lay_out(field) for field in farm.fields]


def book(folder: Path, spots: Sequence[tuple[Any, str, str, str]]) -> Book:
    """Return the farm in a folder with a flag for each spot, kind, name and note."""
    farm, layouts = laid_out(folder)
    events: list[Event] = []
    for number, (spot, kind, name, note) in enumerate(spots, start=1):
        values = {
            "spot": spot_to_json(spot),
            "kind": kind,
            "name": clean_text(name),
            "note": clean_text(note),
        }
        if number % 3 == 0:
            values["status"] = "fixed"
        id_ = str(uuid.uuid5(uuid.NAMESPACE_OID, str(number)))
        events += first_events(id_, values, when=WHEN, who="Walker ñ", source="test")
    numbers = {id_: number for number, id_ in enumerate(by_field(events), start=1)}
    flags = locate_flags(farm, layouts, fold(events, numbers))
    return Book(farm=farm, layouts=layouts, events=events, flags=flags)


def hostile_book(folder: Path) -> Book:
    """Return the sample farm with a flag on each kind of place and each hostile note."""
    places: list[tuple[Any, str]] = [
        (MachineSpot(pivot="Windmill pivot", said="tower 5", tower=5), "gearbox"),
        (DripSpot(drip="Elevator drip", lateral=43, station_m=180.0), "leak"),
        (WellSpot(well="Home well"), "panel"),
        (ground(36.7512345678, -101.5034876543), "burrow"),
        (ground(36.7640001, -101.4799999), "leak"),
        (None, "other-ground"),
        (MachineSpot(pivot="Windmill pivot", said="tower 2", tower=2, azimuth_deg=33.0), "tire"),
        (ground(36.76, -101.5), "=cmd|' /C calc'!A0"),
        (ground(36.7601, -101.5), "wet-spot"),
    ]
    return book(
        folder,
        [
            (spot, kind, f"=name {number} </b>&amp;]]>'" if number % 2 else "", note)
            for number, ((spot, kind), note) in enumerate(zip(places, HOSTILE, strict=True))
        ],
    )


def plan_of(path: Path, book: Book, *, known: Sequence[Event] | None = None) -> ImportPlan:
    """Return what ``flag import`` of a file would do to the season the flags come from."""
    file = read_points(path)
    rows = settle_kinds(file, kinds=book.farm.kinds, around=[""] * len(file.rows))
    return plan_import(
        file,
        rows,
        known=book.events if known is None else known,
        accuracy=DEFAULT_ACCURACY,
        stamp=Stamp(when=WHEN, who="", source="test"),
    )

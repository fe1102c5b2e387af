"""A made farm with three years of flags and breakdowns, and the plain list it was made from."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

import numpy as np

from farms import CENTRE, FARM_TOML, OUTLINE, PIVOT, write_farm
from ringrow.coverage.layout import lay_out
from ringrow.farm.breakdown_list import breakdowns
from ringrow.farm.events import Event
from ringrow.farm.flag_places import locate_flags
from ringrow.farm.flags import Stamp, first_events
from ringrow.farm.load import load_farm
from ringrow.farm.records import fold_records, record_event
from ringrow.farm.season import open_season
from ringrow.handoff.report.numbers import gather
from ringrow.units import FOOT_M

if TYPE_CHECKING:
    from pathlib import Path

    from ringrow.handoff.report.numbers import Report

ZONE = "America/Chicago"
NOW = datetime(2029, 11, 1, 12, tzinfo=UTC)
MACHINE = "Home field pivot 1"


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """One flag as it was made: what, where, when it was set and fixed."""

    id: str
    kind: str
    spot: dict[str, Any]
    set_at: datetime
    fixed_at: datetime | None
    status: str


def tower(number: int) -> dict[str, Any]:
    """Return a place at a tower of the farm's pivot."""
    return {
        "on": "machine",
        "pivot": MACHINE,
        "said": f"tower {number}",
        "tower": number,
        "distance_m": 180 * number * FOOT_M,
    }


def ground(east_m: float, north_m: float) -> dict[str, Any]:
    """Return a place on the ground, metres from the pivot point; on a sphere, good to a percent."""
    lat = CENTRE[0] + north_m / 111_000.0
    lon = CENTRE[1] + east_m / (111_320.0 * np.cos(np.radians(CENTRE[0])))
    return {
        "on": "ground",
        "lat": float(lat),
        "lon": float(lon),
        "accuracy_m": 4.9,
        "accuracy_kind": "r95",
    }


def made_flags() -> list[Made]:
    """Return flags of three springs: a leak and a gearbox that come back, and others that do not."""
    rng = np.random.default_rng(29)
    flags = []

    def flag(
        kind: str, spot: dict[str, Any], set_at: datetime, days: float | None, status: str = "fixed"
    ) -> None:
        fixed = None if days is None else set_at + timedelta(days=days)
        flags.append(
            Made(
                id=str(uuid.uuid5(uuid.NAMESPACE_OID, f"flag {len(flags)}")),
                kind=kind,
                spot=spot,
                set_at=set_at,
                fixed_at=fixed,
                status="open" if fixed is None else status,
            )
        )

    for year in (2027, 2028, 2029):
        start = datetime(year, 4, 3, 15, tzinfo=UTC)
        flag("leak", ground(200 + (year - 2027), 150), start, 3.0)
        flag("gearbox", tower(5), start + timedelta(days=1), None if year == 2029 else 10.0)
        for number in range(6):
            east, north = rng.uniform(-350, 350, 2)
            days = None if rng.random() < 0.25 else float(rng.uniform(0.5, 40))
            flag("burrow", ground(east, north), start + timedelta(days=3 + 20 * number), days)
    flag("sprinkler", tower(3), datetime(2029, 7, 1, 3, tzinfo=UTC), 2.0, "not-a-fault")
    return flags


def write_season(folder: Path, *, extra: str = "") -> Path:
    """Write the farm and its log; return the folder."""
    field = f'name = "Home field"\n{OUTLINE}\n{PIVOT}flow = 780\n{extra}'
    write_farm(folder, f'time_zone = "{ZONE}"\n{FARM_TOML}', {"home": field})
    ids = (str(uuid.uuid5(uuid.NAMESPACE_OID, f"event {number}")) for number in range(10_000))
    events: list[Event] = []
    for made in made_flags():
        values = {"spot": made.spot, "kind": made.kind}
        events += first_events(made.id, values, when=made.set_at, who="Ana", source="test")
        if made.fixed_at is not None:
            events.append(
                Event(
                    id=next(ids),
                    flag=made.id,
                    field="status",
                    value=made.status,
                    when=made.fixed_at,
                    who="Crew",
                    source="test",
                    parents=(),
                )
            )
    for stopped, hours, number in (("2028-07-03T19:10:00", 17, 5), ("2029-07-20T12:00:00", 30, 5)):
        when = datetime.fromisoformat(stopped).replace(tzinfo=UTC)
        value = {
            "system": MACHINE,
            "stopped": stopped + "Z",
            "restarted": (when + timedelta(hours=hours)).isoformat(),
            "tower": number,
            "azimuth_deg": 41.5,
            "why": "gearbox",
        }
        stamp = Stamp(when=when, who="Ana", source="test", new_id=lambda: next(ids))
        events.append(record_event("breakdown", value, stamp=stamp))
    with open_season(folder / "season.db", create=True) as season, season.writing():
        season.append(events)
    return folder


def gathered(folder: Path, year: int | None = None, *, now: datetime = NOW) -> Report:
    """Return the report of a made season, as of `NOW` or another time."""
    farm = load_farm(folder)
    layouts = [lay_out(field) for field in farm.fields]
    with open_season(folder / "season.db") as season:
        states, events = season.states(), season.events()
    flags = locate_flags(farm, layouts, states)
    downs = breakdowns(farm, layouts, fold_records(events), now=now)
    return gather(farm, layouts, flags, events, downs, zone=ZoneInfo(ZONE), now=now, year=year)

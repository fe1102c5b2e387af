"""``ringrow route``: order of stops for crews, and the plan of the first walk."""

from __future__ import annotations

import math
from datetime import datetime  # noqa: TC003 - click shows it in help
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ringrow.cli import options
from ringrow.cli.flag_options import STATUSES

if TYPE_CHECKING:
    from ringrow.coverage.field import FieldLayout
    from ringrow.farm.flag_model import LocatedFlag
    from ringrow.farm.model import Farm
    from ringrow.handoff.route import FarmRoute
    from ringrow.units import UnitSystem

_ENDINGS = (".gpx", ".geojson")


@click.command()
@options.farm_argument
@click.option("--crews", type=int, default=1, show_default=True, help="How many crews share the stops.")
@click.option(
    "--from",
    "start_text",
    metavar="PLACE",
    default="gate",
    show_default=True,
    help='Where crews start and end: "gate", or a yard or corner as "LAT, LON".',
)
@click.option(
    "--crop",
    type=click.Choice(["down", "up"]),
    default="down",
    show_default=True,
    help="Bare ground: straight ways. Crop up: along edges, rows, pivot roads and wheel tracks.",
)
@click.option(
    "--status",
    type=click.Choice(STATUSES),
    default="open",
    show_default=True,
    help="Flags of this status.",
)
@options.field_option
@click.option("--unsafe-first", is_flag=True, help="Go to unsafe flags before all others.")
@click.option("--minutes", type=float, help="Minutes of work at every stop; else by kind of flag.")
@click.option("--drive", type=float, metavar="SPEED", help="Driving speed, mph or km/h; else 8 mph.")
@click.option("--walk", type=float, metavar="SPEED", help="Walking speed, mph or km/h; else 2.5 mph.")
@click.option(
    "--at",
    "leave",
    type=click.DateTime(["%H:%M"]),
    metavar="HH:MM",
    help="When crews leave: gives clock times.",
)
@click.option("--start-up", is_flag=True, help="Plan the first walk instead: zones, machines, valves.")
@click.option("--wait", "wait_h", type=float, help="Start-up: hours until water shows; else 12.")
@click.option(
    "--until",
    type=click.DateTime(["%H:%M"]),
    metavar="HH:MM",
    help="Start-up: when the working day ends; else 19:00.",
)
@click.option(
    "-o",
    "--output",
    "path",
    metavar="FILE.gpx",
    type=click.Path(path_type=Path),
    help="Also write the route: .gpx or .geojson.",
)
@options.language_option
@options.overwrite_option
@options.json_option
def route(
    farm: Path,
    crews: int,
    start_text: str,
    crop: Any,
    status: str,
    field_name: str | None,
    minutes: float | None,
    drive: float | None,
    walk: float | None,
    leave: datetime | None,
    wait_h: float | None,
    until: datetime | None,
    path: Path | None,
    language: str | None,
    *,
    unsafe_first: bool,
    start_up: bool,
    overwrite: bool,
    as_json: bool,
) -> None:
    """Print the order of stops for crews, from the gate over all open flags and back.

    Several crews are balanced by time. With --start-up it plans the first walk of spring: which
    zone to fill first, which machines to walk while it fills, when to come back, which valves to
    swap; one well waters one zone at a time.

    \b
    Example:
        ringrow route my-farm
        ringrow route my-farm --crews 2 --crop up --at 6:30 -o crews.gpx
        ringrow route my-farm --from "36.7512, -101.4899" --field "North 80" --json
        ringrow route my-farm --start-up --at 6:30
    """  # noqa: D301 - the marks keep the example's lines apart
    _check_use(start_up=start_up, on_foot=start_up or crop == "up")
    if path is not None:
        from ringrow.handoff.files import check_target

        check_target(path, endings=_ENDINGS, overwrite=overwrite)
    loaded, layouts, flags = _read(farm, field_name)
    units = loaded.units
    at_min = None if leave is None else 60.0 * leave.hour + leave.minute
    start_lonlat, start_words = _start(loaded, start_text)
    speeds = _speeds(units, drive=drive, walk=walk)
    if start_up:
        from ringrow.handoff.start_up import plan_start_up
        from ringrow.handoff.start_up_table import start_up_record, start_up_text

        with options.progress("Planning the first walk"):
            plan = plan_start_up(
                loaded,
                layouts,
                flags,
                start_lonlat=start_lonlat,
                at_min=390.0 if at_min is None else at_min,
                until_min=1140.0 if until is None else 60.0 * until.hour + until.minute,
                wait_h=wait_h,
                **speeds,
            )
        if as_json:
            options.show_json({"start_up": start_up_record(plan, units)})
        else:
            with options.crew_language(loaded, language):
                told = start_up_text(plan, units, width=options.width())
            click.echo(told)
        return
    from ringrow.handoff.route import plan_route, route_stops
    from ringrow.handoff.route_table import route_record, route_text

    with options.progress("Looking for the shortest way"):
        wanted = [flag for flag in flags if flag.state.status == status]
        stops, left_out = route_stops(layouts, wanted, work_min=minutes)
        found = plan_route(
            layouts,
            stops,
            start_lonlat=start_lonlat,
            start_words=start_words,
            crews=crews,
            crop=crop,
            unsafe_first=unsafe_first,
            left_out=left_out,
            **speeds,
        )
    if path is not None:
        with options.crew_language(loaded, language):
            _write(found, path, loaded)
    if as_json:
        options.show_json({"route": route_record(found, units, at_min=at_min)})
        return
    with options.crew_language(loaded, language):
        told = route_text(found, units, at_min=at_min, width=options.width())
    click.echo(told)


_ROUTE_ALONE = {
    "crews": "--crews",
    "crop": "--crop",
    "status": "--status",
    "field_name": "--field",
    "unsafe_first": "--unsafe-first",
    "minutes": "--minutes",
    "path": "--output",
}


def _check_use(*, start_up: bool, on_foot: bool) -> None:
    """Refuse options that the kind of plan asked for knows nothing of."""
    context = click.get_current_context()

    def said(name: str) -> bool:
        return context.get_parameter_source(name) is not click.core.ParameterSource.DEFAULT

    wrong = [option for name, option in _ROUTE_ALONE.items() if start_up and said(name)]
    if wrong:
        message = (
            f"{', '.join(wrong)}: not with --start-up, which is a timetable of one walk over the whole farm; "
            "leave one of them out"
        )
        raise click.UsageError(message)
    if not start_up and (said("wait_h") or said("until")):
        message = "--wait, --until: only with --start-up"
        raise click.UsageError(message)
    if not on_foot and said("walk"):
        message = "--walk: only with --crop up or --start-up; on bare ground every way is driven"
        raise click.UsageError(message)


def _speeds(units: UnitSystem, *, drive: float | None, walk: float | None) -> dict[str, float]:
    """Return the speeds that were said, in m/s, by the name of the parameter they go to."""
    from ringrow.errors import PlaceError

    unit, factor = ("mph", 0.44704) if units.name == "us" else ("km/h", 1 / 3.6)
    speeds = {}
    for name, said in (("drive", drive), ("walk", walk)):
        if said is None:
            continue
        if not 0 < said < math.inf:
            message = f"--{name}: found {said:g} {unit}; allowed: a speed above 0"
            raise PlaceError(message)
        speeds[f"{name}_m_s"] = said * factor
    return speeds


def _read(folder: Path, field_name: str | None) -> tuple[Farm, list[FieldLayout], list[LocatedFlag]]:
    from ringrow.farm.flag_places import locate_flags
    from ringrow.farm.names import find_named
    from ringrow.farm.season import SEASON_FILE, read_states

    farm, layouts = options.read_farm(folder)
    flags = locate_flags(farm, layouts, read_states(folder / SEASON_FILE))
    if field_name is None:
        return farm, layouts, flags
    name = find_named({layout.field.name: layout.field.name for layout in layouts}, field_name, what="field")
    return farm, layouts, [flag for flag in flags if flag.field == name]


def _start(farm: Farm, text: str) -> tuple[tuple[float, float] | None, str]:
    """Return longitude and latitude of where crews start, and what that is."""
    if text.strip().casefold() == "gate":
        return farm.gate, "the gate"
    from ringrow.farm.coordinates import parse_at
    from ringrow.farm.flag_places import check_near

    lat, lon = parse_at(text)
    check_near(farm, lat=lat, lon=lon, option="--from")
    return (lon, lat), f"{lat:.6f}, {lon:.6f}"


def _write(found: FarmRoute, path: Path, farm: Farm) -> None:
    from ringrow.handoff.geojson import write_geojson
    from ringrow.handoff.route_table import route_features, write_route_gpx

    if path.name.lower().endswith(".gpx"):
        counts = write_route_gpx(found, path, farm.units)
    else:
        counts = dict(write_geojson(route_features(found, farm.units), path).counts)
    told = ", ".join(
        f"{count:,} {what.removesuffix('s') if count == 1 else what}" for what, count in counts.items()
    )
    options.say(f"Wrote {path}: {told}.")

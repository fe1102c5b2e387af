"""``ringrow water``: flows, depths, hours, a zone's meter against design, catch cans."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ringrow.cli import options

if TYPE_CHECKING:
    from ringrow.coverage.field import DripLayout, FieldLayout
    from ringrow.coverage.machine_water import ChartRow
    from ringrow.handoff.water_table import SystemWater
    from ringrow.units import UnitSystem

_TIME_FORMATS = ["%Y-%m-%d %H:%M", "%Y-%m-%dT%H:%M", "%H:%M"]
_FILE = click.Path(path_type=Path, dir_okay=False)


class _WaterGroup(click.Group):
    """A group whose ``show`` may be left out: ``ringrow water FARM``."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Put ``show`` in front of what does not start with the name of a command."""
        if args and args[0] not in {*self.commands, *self.get_help_option_names(ctx)}:
            args = ["show", *args]
        return super().parse_args(ctx, args)

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002 - click's signature
        """Return the commands in the order of the job."""
        return list(self.commands)


@click.group(cls=_WaterGroup)
def water() -> None:
    """Water numbers: of every system, of a zone with its meter, of a row of catch cans.

    `ringrow water FARM` is short for `ringrow water show FARM`.

    \b
    Example:
        ringrow water my-farm
        ringrow water zone my-farm --drip "North drip" --zone "Zone 1" --flow 250 --inlet 10
        ringrow water catch cans.csv
    """  # noqa: D301 - the marks keep the example's lines apart


@water.command()
@options.farm_argument
@click.option("--system", "system_name", metavar="NAME", help="Only the pivot or drip block of this name.")
@click.option(
    "--timer",
    "timer_pct",
    type=float,
    default=100.0,
    show_default=True,
    metavar="PCT",
    help="Percent timer that hours and depth of a turn are for.",
)
@click.option(
    "--speed",
    type=float,
    metavar="SPEED",
    help="Speed of the last tower at 100 %, ft/h or m/h; else the farm's top_speed.",
)
@click.option(
    "--chart",
    "chart_path",
    type=_FILE,
    metavar="FILE",
    help="Sprinkler chart of one pivot as CSV: outlet, distance, nozzle and, if it has it, flow. It wins.",
)
@click.option(
    "--outlets", "all_outlets", is_flag=True, help="List every outlet of a pivot: the owner's table."
)
@click.option(
    "--plot",
    "plot_folder",
    type=click.Path(path_type=Path, file_okay=False),
    metavar="DIR",
    help="Write charts as SVG into this folder.",
)
@options.overwrite_option
@options.json_option
def show(
    farm: Path,
    system_name: str | None,
    timer_pct: float,
    speed: float | None,
    chart_path: Path | None,
    plot_folder: Path | None,
    *,
    all_outlets: bool,
    overwrite: bool,
    as_json: bool,
) -> None:
    """Print flow, rate, depth, hours and pressure of every pivot and drip zone.

    What the farm's files do not say stays blank, and the reason stands below the table.

    \b
    Example:
        ringrow water show my-farm
        ringrow water show my-farm --system "Windmill pivot" --timer 40 --speed 800 --outlets
        ringrow water show my-farm --plot charts --json
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.coverage.tillage import tillage_near
    from ringrow.handoff import water_plots, water_table

    loaded, layouts = options.read_farm(farm)
    units = loaded.units
    chart = _read_chart(chart_path, layouts, system_name, units)
    speed_m = None if speed is None else speed * units.length_m
    with options.progress("Working out the water"):
        systems = [
            system
            for layout in layouts
            for system in _systems(
                layout, system_name, timer_pct=timer_pct, speed_m_per_h=speed_m, chart=chart
            )
        ]
    if system_name is not None and not systems:
        from ringrow.farm.names import find_named

        find_named(_names(layouts), system_name, what="system")
    for layout in layouts:
        for line in water_table.tillage_lines(layout.field.name, tillage_near(layout.field), units):
            options.say(f"warning: {line}")
    if plot_folder is not None:
        _write_plots(plot_folder, water_plots.system_plots(systems, units), overwrite=overwrite)
    if as_json:
        options.show_json(water_table.water_record(systems, units))
        return
    width = options.width()
    click.echo(water_table.water_tables(systems, units, width=width, all_outlets=all_outlets))


def _names(layouts: list[FieldLayout]) -> dict[str, str]:
    return {system.name: system.name for layout in layouts for system in layout.systems}


def _systems(
    layout: FieldLayout,
    name: str | None,
    *,
    timer_pct: float,
    speed_m_per_h: float | None,
    chart: tuple[ChartRow, ...],
) -> list[SystemWater]:
    from ringrow.coverage.machine_water import lateral_move_water, pivot_water
    from ringrow.coverage.zone_water import block_water
    from ringrow.handoff.water_table import SystemWater

    def wanted(system: str, machine: str = "") -> bool:
        return name is None or name.casefold() in {system.casefold(), machine.casefold()}

    field = layout.field.name
    machines = [
        pivot_water(pivot, timer_pct=timer_pct, speed_m_per_h=speed_m_per_h, chart=chart)
        for pivot in layout.pivots
        if wanted(pivot.name, pivot.pivot.machine)
    ]
    machines += [lateral_move_water(move) for move in layout.lateral_moves if wanted(move.name)]
    blocks = [(block.name, block_water(block)) for block in layout.drip if wanted(block.name)]
    return [
        *(SystemWater(field=field, name=found.name, water=found) for found in machines),
        *(SystemWater(field=field, name=block, water=zones) for block, zones in blocks),
    ]


def _read_chart(
    path: Path | None, layouts: list[FieldLayout], system_name: str | None, units: UnitSystem
) -> tuple[ChartRow, ...]:
    """Return the chart; it is of one pivot, which must be named unless the farm has but one."""
    if path is None:
        return ()
    from ringrow.farm.names import find_named
    from ringrow.farm.water_files import read_chart

    pivots = {pivot.name: pivot.name for layout in layouts for pivot in layout.pivots}
    machines = {
        pivot.pivot.machine: "" for layout in layouts for pivot in layout.pivots if pivot.pivot.machine
    }
    find_named({**pivots, **machines}, system_name, what="--system, the pivot of this chart")
    return read_chart(path, units)


def _write_plots(folder: Path, plots: dict[str, str], *, overwrite: bool) -> None:
    from ringrow.handoff.files import check_target, open_whole

    folder.mkdir(parents=True, exist_ok=True)
    for name in plots:
        check_target(folder / name, endings=(".svg",), overwrite=overwrite)
    for name, text in plots.items():
        with open_whole(folder / name) as stream:
            stream.write(text)
    options.say(f"Wrote {len(plots)} {'chart' if len(plots) == 1 else 'charts'} to {folder}.")


@water.command()
@options.farm_argument
@click.option("--drip", "drip_name", metavar="NAME", help="The drip block; left out when the farm has one.")
@click.option("--zone", "zone_name", metavar="NAME", help="The zone; left out when the block has one.")
@click.option("--flow", type=float, required=True, help="Flow on the zone's meter, gpm or L/s.")
@click.option("--inlet", type=float, help="Gauge at the zone's inlet, psi or kPa.")
@click.option("--flush-line", type=float, help="Gauge on the zone's flush line, psi or kPa.")
@click.option(
    "--meter-error", "meter_error_pct", type=float, metavar="PCT", help="Error stated for the meter, %."
)
@click.option(
    "--limit", "limit_pct", type=float, metavar="PCT", help="Your own limit for a difference in flow, %."
)
@click.option(
    "--gauge-error",
    type=float,
    default=0.0,
    show_default=True,
    help="Difference in pressure that does not count, psi or kPa.",
)
@click.option(
    "--change",
    type=click.Choice(["sudden", "gradual"]),
    help="How a difference came: from one irrigation to the next, or over several.",
)
@click.option(
    "--on-since",
    type=click.DateTime(_TIME_FORMATS),
    metavar="TIME",
    help='When the water went on: "06:10" or "2027-03-14 06:10".',
)
@click.option(
    "--read-at",
    type=click.DateTime(_TIME_FORMATS),
    metavar="TIME",
    help="When it was read; else now.",
)
@click.option("--wait", "wait_h", type=float, metavar="HOURS", help="Hours until water shows; else 12.")
@click.option(
    "--calendar",
    "calendar_path",
    type=_FILE,
    metavar="FILE.ics",
    help="Write the time to walk as a calendar file; needs --on-since.",
)
@options.overwrite_option
@options.json_option
def zone(
    farm: Path,
    drip_name: str | None,
    zone_name: str | None,
    flow: float,
    inlet: float | None,
    flush_line: float | None,
    meter_error_pct: float | None,
    limit_pct: float | None,
    gauge_error: float,
    change: Any,
    on_since: datetime | None,
    read_at: datetime | None,
    wait_h: float | None,
    calendar_path: Path | None,
    *,
    overwrite: bool,
    as_json: bool,
) -> None:
    """Hold a zone's meter and gauges against the zone as designed, and say when to walk it.

    A difference is called high or low only beyond your own limit or the meter's error; no
    percentage for it is published. No reading shows that there is no leak.

    \b
    Example:
        ringrow water zone my-farm --drip "North drip" --zone "Zone 1" --flow 250 --inlet 10
        ringrow water zone my-farm --zone "Zone 1" --flow 250 --inlet 10 --flush-line 7 \\
            --meter-error 2 --on-since 18:30 --calendar walk.ics
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.coverage.zone_reading import WAIT_H, zone_reading
    from ringrow.coverage.zone_water import zone_water
    from ringrow.farm.names import find_named
    from ringrow.handoff import zone_words

    loaded, layouts = options.read_farm(farm)
    units = loaded.units
    blocks: dict[str, DripLayout] = {block.name: block for layout in layouts for block in layout.drip}
    block = find_named(blocks, drip_name, what="drip block")
    chosen = find_named(
        {zone.name: zone for zone in block.block.zones}, zone_name, what=f'zone of "{block.name}"'
    )
    inlet_kpa = None if inlet is None else inlet * units.pressure_kpa
    reading = zone_reading(
        block,
        chosen,
        flow_lps=flow * units.flow_lps,
        inlet_kpa=inlet_kpa,
        flush_line_kpa=None if flush_line is None else flush_line * units.pressure_kpa,
        meter_error_pct=meter_error_pct,
        limit_pct=limit_pct,
        gauge_error_kpa=gauge_error * units.pressure_kpa,
        change=change,
    )
    now = datetime.now().replace(second=0, microsecond=0)
    read_time = _moment(read_at, now) or now
    clock = zone_words.watch(
        read_time,
        on_since=_moment(on_since, read_time),
        fill_min=zone_water(block, chosen, inlet_kpa=inlet_kpa).fill_min,
        wait_h=WAIT_H if wait_h is None else wait_h,
        wait_stated=wait_h is not None,
    )
    if calendar_path is not None:
        _write_calendar(calendar_path, chosen.name, block.name, clock.look_at, overwrite=overwrite)
    if as_json:
        names = {"name": chosen.name, "drip": block.name}
        options.show_json({"zone": {**names, **zone_words.zone_record(reading, clock, units)}})
        return
    title = f"{block.name}, {chosen.name}: the reading against the zone as designed"
    click.echo(zone_words.zone_text(title, reading, clock, units, width=options.width()))


def _moment(given: datetime | None, latest: datetime) -> datetime | None:
    """Return a time; one without a date is the last such time of day that is not later than `latest`."""
    if given is None or given.year > 1900:
        return given
    today = latest.replace(hour=given.hour, minute=given.minute)
    return today if today <= latest else today - timedelta(days=1)


def _write_calendar(path: Path, zone: str, block: str, look_at: datetime | None, *, overwrite: bool) -> None:
    from ringrow.handoff.files import check_target, open_whole
    from ringrow.handoff.zone_words import look_calendar

    if look_at is None:
        message = "--calendar: needs --on-since, and the bore of the tape for the time it takes to fill"
        raise click.UsageError(message)
    check_target(path, endings=(".ics",), overwrite=overwrite)
    text = look_calendar(zone, block, look_at, made_at=datetime.now(UTC).replace(microsecond=0)).decode()
    with open_whole(path) as stream:
        stream.write(text)
    options.say(f"Wrote {path}.")


@water.command()
@click.argument("cans", metavar="FILE.csv", type=_FILE)
@options.units_option
@click.option(
    "--gun-from",
    type=float,
    metavar="DISTANCE",
    help="Leave out cans from this distance outward: under the gun.",
)
@click.option("--mouth", type=float, help="Inside diameter of the cans' mouth, in or mm; needed for volumes.")
@click.option("--plot", "plot_path", type=_FILE, metavar="FILE.svg", help="Write a chart of the cans.")
@options.overwrite_option
@options.json_option
def catch(
    cans: Path,
    units: str,
    gun_from: float | None,
    mouth: float | None,
    plot_path: Path | None,
    *,
    overwrite: bool,
    as_json: bool,
) -> None:
    """Say how even a row of catch cans is: CU, low-quarter DU, and which cans stand out.

    FILE.csv has a row of names and columns distance and depth (or ml, with --mouth), and can
    if the cans have numbers. A name may end in its unit: distance_ft, depth_mm.

    \b
    Example:
        ringrow water catch cans.csv
        ringrow water catch cans.csv --gun-from 1290 --plot cans.svg
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.coverage.catch_cans import catch_result
    from ringrow.farm.water_files import read_cans
    from ringrow.handoff import catch_words
    from ringrow.handoff.files import check_target, open_whole
    from ringrow.handoff.water_plots import catch_plot
    from ringrow.units import get_units

    system = get_units(units)
    mouth_m = None if mouth is None else mouth * system.small_m
    rows = read_cans(cans, system, mouth_m=mouth_m)
    result = catch_result(rows, gun_from_m=None if gun_from is None else gun_from * system.length_m)
    notes = catch_words.catch_notes(result, system, mouth_m=mouth_m)
    title = f"Catch cans of {cans.name}"
    if plot_path is not None:
        check_target(plot_path, endings=(".svg",), overwrite=overwrite)
        with open_whole(plot_path) as stream:
            stream.write(catch_plot(title, result, system))
        options.say(f"Wrote {plot_path}.")
    if as_json:
        options.show_json({"catch": catch_words.catch_record(result, system, notes=notes)})
        return
    click.echo(catch_words.catch_text(title, result, system, notes=notes, width=options.width()))

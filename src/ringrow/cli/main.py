"""The ``ringrow`` command: gathers the commands and prints our own errors in plain words."""

from __future__ import annotations

from typing import Any

import click

import ringrow
from ringrow.cli import (
    acres,
    again,
    breakdown,
    bulk,
    demo,
    drip,
    farm_files,
    flag,
    machine,
    options,
    outputs,
    put_away,
    reading,
    ready,
    report,
    route,
    same,
    season,
    sheets,
    survey,
    water,
    where,
    year,
)
from ringrow.cli import round as rounds
from ringrow.errors import RingrowError, shortened

# Commands in the order of the job, each with what the list of commands says of it.
_SECTIONS: dict[str, tuple[tuple[click.Command, str], ...]] = {
    "Describe a farm": (
        (demo.demo, "Run the whole job on the sample farm."),
        (farm_files.new, "Start a farm's folder, from a boundary file if there is one."),
        (farm_files.check, "Find every fault in a farm's files."),
        (survey.survey, "Measure pivots, spans, tape lines and boundaries with a phone."),
    ),
    "Ask it": (
        (acres.acres, "Acres of each field: farmable, irrigated, dry, and where."),
        (machine.gun, "Where each end gun runs."),
        (machine.arm, "How far each corner arm is open, and where its wheels go."),
        (drip.drip, "Laterals, tape, emitters and acres of each drip zone."),
        (where.where, "What is at a place."),
        (water.water, "Flow, depth, hours and pressure; a zone's meter; catch cans."),
        (bulk.bulk, "Acres of thousands of pivots from one table."),
    ),
    "Flags": (
        (flag.flag, "Set, bring in, look at and change what is wrong."),
        (same.same, "Flags that may mark one fault."),
        (again.again, "Places and parts flagged in more than one year."),
    ),
    "The season": (
        (rounds.round_, "Walk the farm, by exception: what was looked at, what not."),
        (reading.reading, "Readings of meters and gauges, and what they are held against."),
        (ready.ready, "Who is ready for first water, what waits, what is owed."),
        (ready.fill, "Say that water was let into a drip zone."),
        (breakdown.breakdown, "What stopped, for how long, and the water not put on."),
        (put_away.put_away, "Put the farm away in the fall, and bring it back."),
        (year.year, "A year's acres watered and water used, for an office."),
        (report.report, "What was flagged, as charts and tables."),
        (season.season, "Keep the season log safe: back up, check, restore, merge."),
    ),
    "Hand over": (
        (route.route, "Order of stops for crews; plan of the first walk."),
        (outputs.map_, "The map as one file that needs no network."),
        (sheets.sheets, "Sheets to print: what to bring, map, stops, cautions."),
        (outputs.export, "Files for handhelds, globe viewers, desktop GIS, spreadsheets."),
    ),
}
# The same for the commands of a command.
_STEPS: dict[str, dict[str, str]] = {
    "survey": {
        "circle": "Pivot point and radius, from a drive round the circle.",
        "line": "Guidance line and spacing of laterals, from drives along them.",
        "outline": "A field's boundary and acres, from one drive round it.",
        "towers": "Spans, azimuth and panel zero, from a pin at every tower.",
    },
    "water": {
        "show": "Flow, rate, depth, hours and pressure of every system.",
        "zone": "A zone's meter and gauges against the zone as designed.",
        "catch": "How even a row of catch cans is.",
    },
    "flag": {
        "add": "Set one flag.",
        "dig": "Say where the hole behind a flag was.",
        "import": "Bring in flags from files of points, and from photos.",
        "list": "List flags with their places.",
        "set": "Change flags: status, note, kind, parts and more.",
        "show": "Show all about one flag, with its history.",
        "undo": "Take back what was last said of a flag.",
    },
    "round": {
        "end": "End the open round, and name what was not looked at.",
        "import": "Bring in a table of the round that was filled in.",
        "list": "List every round.",
        "look": "Say that a system was looked at, and what was not good.",
        "sheet": "Write a blank table of the round to fill in.",
        "show": "Show what a round has seen, and what not yet.",
        "start": "Start a round.",
        "undo": "Take back what was last said.",
    },
    "reading": {
        "add": "Keep one reading and judge it.",
        "list": "List readings by time, each judged.",
        "undo": "Take back what was last said of a reading.",
    },
    "breakdown": {
        "add": "Keep that a system broke down.",
        "list": "List breakdowns by what they cost a day.",
        "remove": "Take back that there was a breakdown.",
        "restart": "Say that a system runs again.",
        "set": "Correct a breakdown.",
    },
    "put-away": {
        "back": "Say that items were brought back in spring.",
        "done": "Say that items of a system are put away.",
        "list": "Print what is put away and what is not.",
        "undo": "Take back what was last said of an item.",
    },
    "season": {
        "backup": "Copy the season log whole, and read the copy back.",
        "check": "Name what is damaged or odd in the season log.",
        "dump": "Print the season log as lines of JSON.",
        "load": "Bring the events of a dump in.",
        "restore": "Put a backup in the log's place, or merge it in.",
        "salvage": "Save what can be read of a damaged log.",
    },
}


class _Group(click.Group):
    """A group that turns our own errors into one clear message and exit code 1."""

    def invoke(self, ctx: click.Context) -> Any:
        """Run the chosen command."""
        try:
            return super().invoke(ctx)
        except RingrowError as error:
            raise click.ClickException(options.for_terminal(str(error))) from error
        except OSError as error:
            # A name too long, links in a ring, a folder that may not be looked into. What has no file
            # of its own, such as a pipe whose reader went away, is for click to settle.
            if error.filename is None:
                raise
            name = shortened(error.filename, longest=100)
            message = (
                f"{name}: cannot be used ({error.strerror}); allowed: a file or folder within your reach"
            )
            raise click.ClickException(options.for_terminal(message)) from error

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002 - click's signature
        """Return the commands in the order of the job, not of the alphabet."""
        return list(self.commands)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002
        """Write the commands by what they are for."""
        widest = max(map(len, self.commands))
        for title, commands in _SECTIONS.items():
            with formatter.section(title):
                formatter.write_dl([(str(each.name).ljust(widest), words) for each, words in commands])


@click.group(cls=_Group, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(ringrow.__version__, prog_name="ringrow")
def cli() -> None:
    """Know what is wet, what is dry and what is broken on a farm of pivots and drip tape.

    FARM is a farm's folder: farm.toml, one file a field in fields/, boundaries in shapes/.
    Answers go to stdout, talk to stderr; --json prints any answer for other programs.

    \b
    Example:
        ringrow demo
        ringrow new my-farm --boundary fields.shp
        ringrow acres my-farm
    """  # noqa: D301 - the marks keep the example's lines apart


for _commands in _SECTIONS.values():
    for _command, _words in _commands:
        _command.short_help = _words
        cli.add_command(_command)
        for _name, _step in _STEPS.get(str(_command.name), {}).items():
            _command.commands[_name].short_help = _step  # type: ignore[attr-defined]

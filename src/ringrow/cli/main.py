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
from ringrow.errors import RingrowError


class _Group(click.Group):
    """A group that turns our own errors into one clear message and exit code 1."""

    def invoke(self, ctx: click.Context) -> Any:
        """Run the chosen command."""
        try:
            return super().invoke(ctx)
        except RingrowError as error:
            raise click.ClickException(options.for_terminal(str(error))) from error

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002 - click's signature
        """Return the commands in the order of the job, not of the alphabet."""
        return list(self.commands)


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


cli.add_command(demo.demo)
cli.add_command(farm_files.new)
cli.add_command(farm_files.check)
cli.add_command(survey.survey)
cli.add_command(acres.acres)
cli.add_command(machine.gun)
cli.add_command(machine.arm)
cli.add_command(drip.drip)
cli.add_command(where.where)
cli.add_command(water.water)
cli.add_command(flag.flag)
cli.add_command(rounds.round_)
cli.add_command(reading.reading)
cli.add_command(same.same)
cli.add_command(breakdown.breakdown)
cli.add_command(again.again)
cli.add_command(report.report)
cli.add_command(route.route)
cli.add_command(season.season)
cli.add_command(ready.ready)
cli.add_command(ready.fill)
cli.add_command(put_away.put_away)
cli.add_command(year.year)
cli.add_command(bulk.bulk)
cli.add_command(outputs.map_)
cli.add_command(sheets.sheets)
cli.add_command(outputs.export)

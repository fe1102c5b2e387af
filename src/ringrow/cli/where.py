"""``ringrow where``: what is at a place."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from ringrow.cli import options

if TYPE_CHECKING:
    from pathlib import Path


@click.command()
@options.farm_argument
@click.option(
    "--at",
    "at_text",
    required=True,
    metavar='"LAT, LON"',
    help="The place, latitude first, as a phone shows it: decimal degrees, or degrees, minutes, seconds.",
)
@click.option(
    "--accuracy",
    "accuracy_text",
    metavar='"16 ft r95"',
    help="How good the position is: size, ft or m, and r95, r68, rms or cep; left out, the farm's.",
)
@options.language_option
@options.json_option
def where(
    farm: Path, at_text: str, accuracy_text: str | None, language: str | None, *, as_json: bool
) -> None:
    """Say what is at a place: field, wet or dry, pivot and tower, lateral and station.

    A span or tower can be told from a phone's position; for a single outlet or tape line
    the likely ones are listed with their chances.

    \b
    Example:
        ringrow where my-farm --at "36.7512, -101.5034"
        ringrow where my-farm --at "36 45 4.3 N, 101 30 12.2 W" --accuracy "3.5 m r68" --json
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.coverage.accuracy import parse_accuracy
    from ringrow.coverage.layout import lay_out
    from ringrow.coverage.locate import locate
    from ringrow.coverage.locate_field import likely_slip, nearest_field
    from ringrow.farm.coordinates import parse_at
    from ringrow.farm.load import load_farm
    from ringrow.handoff import place_record, place_words

    lat, lon = parse_at(at_text)
    with options.progress("Reading the farm"):
        loaded = load_farm(farm)
        layouts = [lay_out(field) for field in loaded.fields]
    units = loaded.units
    accuracy = loaded.accuracy
    if accuracy_text is not None:
        accuracy = parse_accuracy(accuracy_text, default_unit=units.length)
    place = locate(layouts, lon, lat, accuracy=accuracy)
    nearest = nearest_field(layouts, lon, lat) if place.field is None else None
    meant = likely_slip(layouts, lon, lat) if place.field is None else None
    if meant is not None:
        options.say(f'Far from the farm: was "{meant[1]!r}, {meant[0]!r}" meant?')
    assumed = place_record.assumed_by_system(loaded.fields)
    if as_json:
        options.show_json(
            {
                "at": {"lat": lat, "lon": lon},
                "accuracy": place_record.accuracy_record(accuracy, units),
                **place_record.place_record(place, units, assumed=assumed),
                "nearest_field": place_record.nearest_field_record(nearest, units),
            }
        )
        return
    with options.crew_language(loaded, language):
        told = place_words.place_words(place, units, accuracy=accuracy, nearest=nearest, assumed=assumed)
    click.echo(told)

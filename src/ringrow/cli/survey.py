"""``ringrow survey``: pivot points, radii, spans, guidance lines and boundaries from GPS."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ringrow.cli import options
from ringrow.errors import FileError, PlaceError

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from ringrow.coverage.accuracy import Accuracy
    from ringrow.farm.survey_pieces import PieceFound
    from ringrow.farm.track_model import Track, TrackFile
    from ringrow.farm.write_toml import FieldHome
    from ringrow.units import UnitSystem

_OF = ("last-tower", "pipe-end", "wetted-edge")


@click.group()
def survey() -> None:
    """Find pivot points, spans, guidance lines and boundaries from tracks and points.

    FILES are GPX, NMEA logs, CSV, GeoJSON and other vector files. What is printed is a piece
    of a field file; --into puts it into one, where everything else stays as it is.

    \b
    Example:
        ringrow survey circle last_wheel_track.gpx
        ringrow survey circle last_wheel_track.gpx --into my-farm/fields/north.toml
    """  # noqa: D301 - the marks keep the example's lines apart


def _files_argument(*, required: bool = True) -> Callable[[options.CommandT], options.CommandT]:
    return click.argument("files", nargs=-1, required=required, type=click.Path(path_type=Path))


def _common(command: options.CommandT) -> options.CommandT:
    """Add the options that all surveys share."""
    for option in reversed(
        (
            click.option(
                "--where",
                "where_texts",
                multiple=True,
                metavar="COLUMN=VALUE",
                help="Of a vector file, only features with this value; may be repeated.",
            ),
            click.option("--layer", metavar="NAME", help="Layer of a vector file that has several."),
            click.option(
                "--crs",
                metavar="CRS",
                help='Coordinate system of a vector file that does not say it: "EPSG:26914".',
            ),
            click.option(
                "--accuracy",
                "accuracy_text",
                metavar='"16 ft r95"',
                help="How good a position is: size, ft or m, and r95, r68, rms or cep. Errors are never said "
                "smaller than this gives; left out, the farm's.",
            ),
            click.option(
                "--into",
                metavar="FIELD.toml",
                type=click.Path(path_type=Path),
                help="Field file of a farm to put the piece into: my-farm/fields/north.toml.",
            ),
            click.option(
                "--overwrite",
                is_flag=True,
                help="With --into, replace values that differ; with -o, a file that is already there.",
            ),
            options.units_option,
            options.json_option,
        )
    ):
        command = option(command)
    return command


def _machine(command: options.CommandT) -> options.CommandT:
    """Add ``--pivot`` and ``--new``."""
    command = click.option(
        "--new", "as_new", is_flag=True, help="With --into, add a machine beside those in the file."
    )(command)
    return click.option(
        "--pivot", "name", metavar="NAME", help="Name of the machine; with --into, the one that is meant."
    )(command)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Shared:
    """What every survey command is given."""

    where_texts: tuple[str, ...]
    layer: str | None
    crs: str | None
    accuracy_text: str | None
    into: Path | None
    overwrite: bool
    units: str
    as_json: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class _Desk:
    """Units, accuracy and the field file of one run."""

    shared: _Shared
    units: UnitSystem
    accuracy: Accuracy
    home: FieldHome | None

    def show(self, record: Mapping[str, Any], lines: Sequence[str], found: Sequence[PieceFound]) -> None:
        """Print the answer: JSON, or facts as comments above the piece."""
        from ringrow.farm.toml_pieces import piece_text

        if self.shared.as_json:
            options.show_json(dict(record))
            return
        for line in lines:
            click.echo(f"# {line}")
        click.echo("\n".join(piece_text(each.piece) for each in found), nl=False)

    def put(self, found: PieceFound, *, new: bool = False) -> None:
        """Say what the piece rests on, and put it into the field file, saying every change."""
        from ringrow.farm.write_toml import put_piece
        from ringrow.handoff.files import open_whole

        for text in found.said:
            options.say(text)
        if self.home is None:
            return
        with options.progress("Checking the farm"):
            edit = put_piece(self.home, found.piece, overwrite=self.shared.overwrite, new=new)
        if not edit.changes:
            options.say(f"{edit.path}: nothing changes: it says so already.")
            return
        with open_whole(edit.path.resolve()) as stream:
            stream.write(edit.text)
        for change in edit.changes:
            options.say(f"{edit.path}: {change}")
        for warning in edit.warnings:
            options.say(f"warning: {warning}")


def _desk(shared: _Shared, *, start: bool = False) -> _Desk:
    from ringrow.coverage.accuracy import DEFAULT_ACCURACY, parse_accuracy
    from ringrow.farm.write_toml import open_field
    from ringrow.handoff.number_words import accuracy_words
    from ringrow.units import get_units

    home = None if shared.into is None else open_field(shared.into, start=start)
    units = get_units(shared.units) if home is None else home.units
    accuracy = DEFAULT_ACCURACY if home is None else home.accuracy
    if shared.accuracy_text is not None:
        accuracy = parse_accuracy(shared.accuracy_text, default_unit=units.length)
    options.say(f"Positions taken as {accuracy_words(accuracy, units)}.")
    return _Desk(shared=shared, units=units, accuracy=accuracy, home=home)


def _read(files: Sequence[Path], shared: _Shared) -> list[TrackFile]:
    from ringrow.farm.tracks import read_tracks

    where = {}
    for text in shared.where_texts:
        column, equals, value = (part.strip() for part in text.partition("="))
        if not equals or not column:
            message = f'--where: found "{text}"; allowed: COLUMN=VALUE, such as id=3'
            raise click.UsageError(message)
        where[column] = value
    with options.progress("Reading tracks"):
        found = [read_tracks(path, where=where or None, layer=shared.layer, crs=shared.crs) for path in files]
    for file in found:
        for said in file.said:
            options.say(said)
        for row in file.refused[:5]:
            options.say(f"{file.file}: left out: {row.what}: {row.why}")
        if len(file.refused) > 5:
            options.say(f"{file.file}: left out: {len(file.refused) - 5} more")
    return found


def _say(texts: Sequence[str]) -> None:
    for text in texts:
        options.say(text)


def _typed(texts: Sequence[str]) -> list[Track]:
    """Return places typed on the command line as one set of points."""
    import numpy as np

    from ringrow.farm.coordinates import parse_at
    from ringrow.farm.track_model import Track

    if not texts:
        return []
    lat, lon = np.array([parse_at(text) for text in texts], float).T
    return [Track(name=f"{len(texts)} places typed", kind="points", lon=lon, lat=lat)]


@survey.command()
@_files_argument(required=False)
@click.option(
    "--at",
    "at_texts",
    multiple=True,
    metavar='"LAT, LON"',
    help="A place on the circle, as a phone or map shows it; three or more, far apart.",
)
@click.option(
    "--of",
    type=click.Choice(_OF),
    default="last-tower",
    show_default=True,
    help="What the largest circle is. Overhang and throw are taken from the field file.",
)
@click.option("--towers", type=click.IntRange(1, 60), help="How many towers the machine has.")
@_machine
@_common
def circle(
    *,
    files: tuple[Path, ...],
    at_texts: tuple[str, ...],
    of: str,
    towers: int | None,
    name: str | None,
    as_new: bool,
    **rest: Any,
) -> None:
    """Find pivot point and radius from a drive round the circle, or from three places on it.

    Several tracks about one centre give the distances of all towers. Points that stray are
    left out; a circle not known well enough is refused. Outlines drawn as polygons do too.

    \b
    Example:
        ringrow survey circle last_wheel_track.gpx
        ringrow survey circle --at "36.7571, -101.4954" --at "36.7536, -101.4911" --at "36.7502, -101.4954"
        ringrow survey circle fields.gpkg --where id=3 --of wetted-edge --json
    """  # noqa: D301 - the marks keep the example's lines apart
    if not files and not at_texts:
        message = "Missing argument 'FILES...': tracks, or three or more --at \"LAT, LON\"."
        raise click.UsageError(message)
    from itertools import groupby

    from ringrow.farm.survey import survey_circles
    from ringrow.farm.survey_pieces import circle_piece
    from ringrow.farm.track_model import drives
    from ringrow.farm.write_toml import table_of
    from ringrow.handoff.survey_record import circle_lines, circle_record

    shared = _Shared(**rest)
    desk = _desk(shared)
    tracks, said = drives(_read(files, shared))
    _say(said)
    found = survey_circles([*tracks, *_typed(at_texts)], sigma_m=desk.accuracy.sigma_m, units=desk.units)
    _say(found.said)
    _say([f"not taken: {text}" for text in found.refused])
    machines = [list(group) for _, group in groupby(found.circles, key=lambda each: each.number)]
    if desk.home is not None and len(machines) > 1:
        message = (
            f"found {len(machines)} machines; allowed with --into: one; give the tracks of one, or pick with "
            "--where; nothing was written"
        )
        raise FileError(message)
    present = table_of(desk.home, "pivot", name) if desk.home and not as_new else None
    pieces = [
        circle_piece(machine, units=desk.units, of=of, towers=towers, name=name, present=present)
        for machine in machines
    ]
    record = {"circles": [circle_record(each, desk.units) for each in found.circles]}
    lines = [line for machine in machines for line in circle_lines(machine, desk.units)]
    for piece in pieces:
        desk.put(piece, new=as_new)
    desk.show(record, lines, pieces)


@survey.command()
@_files_argument()
@click.option(
    "--pivot-point",
    "point_text",
    metavar='"LAT, LON"',
    help="The pivot point, when it is known better than by a pin.",
)
@click.option(
    "--panel-shows",
    "panel_shows",
    type=click.FloatRange(0, 360),
    metavar="DEG",
    help="What the panel showed while the machine stood there; gives panel_zero.",
)
@_machine
@_common
def towers(
    *,
    files: tuple[Path, ...],
    point_text: str | None,
    panel_shows: float | None,
    name: str | None,
    as_new: bool,
    **rest: Any,
) -> None:
    """Find spans, last tower, azimuth and panel zero from pins set at the towers.

    Stand the machine still, drive out along the pipe once and set a pin at every tower,
    the pivot point first (or name that pin "pivot").

    \b
    Example:
        ringrow survey towers pins.gpx --panel-shows 214
        ringrow survey towers pins.gpx --pivot-point "36.75367, -101.49544" --json
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.farm.coordinates import parse_at
    from ringrow.farm.survey import survey_towers
    from ringrow.farm.survey_pieces import towers_piece
    from ringrow.farm.track_model import pins
    from ringrow.handoff.survey_record import towers_lines, towers_record

    shared = _Shared(**rest)
    desk = _desk(shared)
    point = None if point_text is None else parse_at(point_text)
    marked, said = pins(_read(files, shared))
    found = survey_towers(
        marked,
        sigma_m=desk.accuracy.sigma_m,
        pivot_lonlat=None if point is None else (point[1], point[0]),
        panel_shows_deg=panel_shows,
    )
    _say([*said, *found.said])
    piece = towers_piece(found, units=desk.units, name=name)
    desk.put(piece, new=as_new)
    desk.show({"machine": towers_record(found, desk.units)}, towers_lines(found, desk.units), [piece])


@survey.command()
@_files_argument()
@click.option("--rows", "rows_text", metavar="1,3,5", help="Crop row of each track, in the order of tracks.")
@click.option("--laterals", "laterals_text", metavar="1,20", help="Lateral of each track, in that order.")
@click.option(
    "--rows-per-lateral",
    type=click.FloatRange(0.1, 50),
    metavar="N",
    help="Crop rows that share one lateral: 2 when there is tape in every other row.",
)
@click.option(
    "--row-spacing",
    type=click.FloatRange(0, min_open=True),
    metavar="N",
    help="Row spacing as planted, in or mm; it is written, and what was measured is held against it.",
)
@click.option("--drip", "name", metavar="NAME", help="Name of the block; with --into, the one that is meant.")
@click.option("--new", "as_new", is_flag=True, help="With --into, add a block beside those in the file.")
@_common
def line(
    *,
    files: tuple[Path, ...],
    rows_text: str | None,
    laterals_text: str | None,
    rows_per_lateral: float | None,
    row_spacing: float | None,
    name: str | None,
    as_new: bool,
    **rest: Any,
) -> None:
    """Find the guidance line and the spacing of laterals from drives along them.

    One track or segment a lateral; single points are parted by the number in their names
    ("12 west", "12 east"). The first track gives the line. Laterals far apart give the spacing.

    \b
    Example:
        ringrow survey line passes.gpx --laterals 1,40 --rows-per-lateral 2
        ringrow survey line rows.csv --rows 1,81 --accuracy "0.1 ft" --json
    """  # noqa: D301 - the marks keep the example's lines apart
    if rows_text is not None and laterals_text is not None:
        message = "--rows and --laterals exclude each other: say what the tracks lie on."
        raise click.UsageError(message)
    from ringrow.farm.survey_ground import by_line, survey_line
    from ringrow.farm.survey_pieces import line_piece
    from ringrow.farm.track_model import drives
    from ringrow.farm.write_toml import table_of
    from ringrow.handoff.survey_record import line_lines, line_record

    shared = _Shared(**rest)
    desk = _desk(shared)
    tracks, said = drives(_read(files, shared))
    parted, also = by_line(tracks)
    _say([*said, *also])
    nominal = None if row_spacing is None or rows_per_lateral is None else row_spacing * rows_per_lateral
    found = survey_line(
        parted,
        sigma_m=desk.accuracy.sigma_m,
        units=desk.units,
        frame=desk.home.frame if desk.home else None,
        rows=_numbers("--rows", rows_text),
        laterals=_numbers("--laterals", laterals_text),
        nominal_m=None if nominal is None else nominal * desk.units.small_m,
    )
    _say(found.said)
    present = table_of(desk.home, "drip", name) if desk.home and not as_new else None
    piece = line_piece(
        found,
        units=desk.units,
        name=name,
        rows_per_lateral=rows_per_lateral,
        row_spacing=row_spacing,
        present=present,
    )
    shared_rows = (
        rows_per_lateral if rows_per_lateral is not None else (present or {}).get("rows_per_lateral")
    )
    record = line_record(found, desk.units, rows_per_lateral=shared_rows)
    desk.put(piece, new=as_new)
    desk.show({"line": record}, line_lines(found, desk.units), [piece])


def _numbers(option: str, text: str | None) -> list[int] | None:
    if text is None:
        return None
    parts = [part.strip() for part in text.split(",")]
    if not all(part.isascii() and part.isdigit() and 0 < int(part) < 1_000_000 for part in parts):
        message = f'{option}: found "{text}"; allowed: whole numbers from 1 with commas, such as 1,3,5'
        raise PlaceError(message)
    return [int(part) for part in parts]


@survey.command()
@_files_argument()
@click.option("--track", "wanted", metavar="WORDS", help="Words in the name of the one drive that is meant.")
@click.option(
    "-o", "--output", "path", metavar="FILE.geojson", type=click.Path(path_type=Path), help="File to write."
)
@_common
def outline(*, files: tuple[Path, ...], wanted: str | None, path: Path | None, **rest: Any) -> None:
    """Find a field's boundary and acres from one drive round it.

    Gaps are closed by straight lines, a parked receiver's wandering and jumps are thinned out,
    and what was driven twice at the closing is cut off. With --into, a field file that is not
    there is started; with -o inside the farm's folder it points to that file.

    \b
    Example:
        ringrow survey outline round_the_field.gpx
        ringrow survey outline round.gpx -o my-farm/shapes/north.geojson --into my-farm/fields/north.toml
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.farm.survey_ground import one_drive, survey_outline
    from ringrow.farm.survey_pieces import outline_piece
    from ringrow.farm.track_model import drives
    from ringrow.handoff.files import check_target, open_whole
    from ringrow.handoff.survey_record import outline_geojson, outline_lines, outline_record

    shared = _Shared(**rest)
    if path is not None:
        check_target(path, endings=(".geojson", ".json"), overwrite=shared.overwrite)
    desk = _desk(shared, start=True)
    tracks, said = drives(_read(files, shared))
    drive, also = one_drive(tracks, wanted=wanted)
    _say([*said, *also])
    found = survey_outline(drive, sigma_m=desk.accuracy.sigma_m)
    file = _inside(path, desk.home)
    field = str(desk.home.raw.get("name", "")) if desk.home else ""
    piece = outline_piece(found, units=desk.units, file=file)
    if path is not None:
        with open_whole(path) as stream:
            stream.write(outline_geojson(found, field or drive.name, desk.units))
        options.say(f"Wrote {path}.")
    desk.put(piece)
    desk.show({"outline": outline_record(found, desk.units)}, outline_lines(found, desk.units), [piece])


def _inside(path: Path | None, home: FieldHome | None) -> str | None:
    """Return a file's path inside the farm's folder; None when it lies elsewhere."""
    if path is None or home is None:
        return None
    folder = home.folder.resolve()
    placed = path.resolve()
    return placed.relative_to(folder).as_posix() if placed.is_relative_to(folder) else None

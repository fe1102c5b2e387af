"""``ringrow flag``: set, bring in, look at and change flags."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ringrow.cli import options

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from ringrow.coverage.field import FieldLayout
    from ringrow.farm.flag_import import ImportPlan
    from ringrow.farm.flag_model import FlagState, LocatedFlag, Spot
    from ringrow.farm.flags import Stamp
    from ringrow.farm.model import Farm
    from ringrow.farm.parked import MachineLine
    from ringrow.farm.readers.photos import Photo
    from ringrow.farm.readers.rows import PointFile
    from ringrow.farm.season import Season

_CLASSES = ("unsafe", "stops", "wastes", "acres", "later")
_STATUSES = ("open", "fixed", "checked", "not-a-fault")
_WHEELS = ("inner-leading", "inner-trailing", "outer-leading", "outer-trailing")
_SIDES = ("left", "right")
_KIND_CLASS = "as-kind"

# Read with the command line, so that no command has to import the list for its help.
_KINDS_HELP = """\b
    Kinds of flag (a farm may add its own):
      ground   leak, wet-spot, burrow, rut, washout, rock, loose-part, other-ground
      machine  sprinkler, drop, regulator, span-leak, tire, wheel, gearbox,
               driveline, alignment, tower-box, cover, wiring, collector-ring,
               structure, end-gun, booster, other-machine
      works    power-unit, battery, fuel-supply, drive-shaft, pump, panel, filter,
               valve, air-vent, flush-valve, header-leak, meter, nest, other-works
"""


@click.group()
def flag() -> None:
    """Set, bring in, look at and change flags: what is wrong, and where.

    A flag on the ground stays at its latitude and longitude. A flag on a machine rides on
    it: tower 5, or so far from the pivot point. Every change is kept, with who and when.

    \b
    Example:
        ringrow flag import my-farm walk.gpx
        ringrow flag list my-farm --status open
    """  # noqa: D301 - the marks keep the example's lines apart


def _by_option(command: Callable[..., Any]) -> Callable[..., Any]:
    return click.option("--by", default="", metavar="WHO", help="Who says so.")(command)


def _photo_option(command: Callable[..., Any]) -> Callable[..., Any]:
    kept = "A photo (JPEG, PNG) of it; a small copy is kept in the farm's folder."
    return click.option("--photo", type=click.Path(path_type=Path), metavar="FILE", help=kept)(command)


def _class_option(*, reset: bool) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    choices = [*_CLASSES, _KIND_CLASS] if reset else list(_CLASSES)
    text = "How much this one matters, when not as its kind does." + (
        f" {_KIND_CLASS} goes back to that." if reset else ""
    )
    return click.option("--class", "flag_class", type=click.Choice(choices), help=text)


@flag.command(epilog=_KINDS_HELP)
@options.farm_argument
@click.option("--kind", required=True, metavar="KIND", help="What is wrong; the kinds stand below.")
@click.option("--at", "at_text", metavar='"LAT, LON"', help="On the ground, as a phone shows it.")
@click.option("--accuracy", metavar='"16 ft r95"', help="How good that position is.")
@click.option("--pivot", metavar="NAME", help="On this pivot; the farm's only pivot needs no name.")
@click.option("--move", metavar="NAME", help="On this lateral move.")
@click.option("--side", type=click.Choice(_SIDES), help="Which side of its cart, looking along its travel.")
@click.option("--travel", type=float, help="How far along its path the cart stood, ft or m.")
@click.option("--tower", type=int, metavar="N", help="At tower N, 1 nearest the pivot point or the cart.")
@click.option("--drop", type=int, metavar="+N", help="N drops past (+) or before (-) that tower.")
@click.option("--wheel", type=click.Choice(_WHEELS), help="Which wheel of that tower.")
@click.option("--span", type=int, metavar="N", help="On span N, 1 at the pivot point or the cart.")
@click.option("--outlet", type=int, metavar="N", help="At outlet N, 1 nearest the pivot point.")
@click.option(
    "--distance", type=float, help="So far from the pivot point or the cart, along the pipe, ft or m."
)
@click.option("--azimuth", type=float, help="True azimuth at which the machine stood, degrees.")
@click.option("--panel", type=float, help="What the panel showed, degrees, instead of --azimuth.")
@click.option("--drip", metavar="NAME", help="On this drip block; the farm's only one needs no name.")
@click.option("--lateral", type=int, metavar="N", help="At lateral N.")
@click.option("--row", type=int, metavar="N", help="At crop row N from the numbering edge, instead.")
@click.option("--station", type=float, help="So far along it from the header end, ft or m.")
@click.option("--well", metavar="NAME", help="At this well.")
@click.option("--name", default="", help="A short name.")
@click.option("--note", default="", help="What was seen.")
@_photo_option
@_class_option(reset=False)
@_by_option
@options.json_option
def add(
    farm: Path, kind: str, flag_class: str | None, photo: Path | None, *, as_json: bool, **said: Any
) -> None:
    """Set one flag: on the ground, on a pivot or lateral move, on drip tape or at a well.

    \b
    Example:
        ringrow flag add my-farm --kind burrow --at "36.7512, -101.5034" --note "by the road"
        ringrow flag add my-farm --kind tire --pivot "Windmill pivot" --tower 5 --wheel outer-trailing
        ringrow flag add my-farm --kind sprinkler --tower 5 --drop +3 --by Walker
        ringrow flag add my-farm --kind tire --move "Ditch move" --side left --tower 3 --travel 850
        ringrow flag add my-farm --kind leak --drip "Elevator drip" --lateral 43 --station 600
        ringrow flag add my-farm --kind cover --tower 3 --photo IMG_0412.jpg
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.farm.flag_places import kind_named
    from ringrow.farm.flags import NewFlag, add_flag, check_place
    from ringrow.farm.season import SEASON_FILE, open_season

    loaded, layouts = options.read_farm(farm)
    kind_found = kind_named(loaded, kind)
    spot = _spot(loaded, layouts, said, kind=kind_found.name)
    check_place(kind_found, spot)
    new = NewFlag(
        kind=kind_found.name, spot=spot, name=said["name"], note=said["note"], flag_class=flag_class
    )
    picture = _read_picture(photo)
    with open_season(farm / SEASON_FILE, create=True) as season:
        state = add_flag(season, new, stamp=_stamp(said["by"], "flag add"))
        _attach(season, [state], picture, _stamp(said["by"], "flag add"))
    _show_flags(loaded, layouts, [state], as_json=as_json)


@flag.command("import", epilog=_KINDS_HELP)
@options.farm_argument
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="FILE...")
@click.option(
    "--columns", metavar='"lat=Y,lon=X,note=Remarks"', help="Which columns are what, where guessing fails."
)
@click.option("--kind", metavar="KIND", help="Kind of every point in these files.")
@_by_option
@click.option("--dry-run", is_flag=True, help="Only say what would come in.")
@options.json_option
def import_(
    farm: Path,
    files: tuple[Path, ...],
    columns: str | None,
    kind: str | None,
    by: str,
    *,
    dry_run: bool,
    as_json: bool,
) -> None:
    """Bring in flags from files of points, and from photos.

    Takes waypoints of GPX and NMEA, CSV tables, GeoJSON, KML, KMZ, GeoPackage, shapefile
    (in any coordinate system), JPEG and PNG photos and folders of them: one flag a photo.

    Importing a file twice changes nothing. Columns, kinds and places are read from their
    words, English or Spanish, such as "P3 T5 gearbox" in a photo's caption or name, and
    every guess is shown. A point far from the farm is refused.

    \b
    Example:
        ringrow flag import my-farm walk.gpx table.csv
        ringrow flag import my-farm points.csv --columns "lat=Y,lon=X,note=Remarks" --dry-run
        ringrow flag import my-farm photos-of-monday
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.farm.flag_import import import_files, settle_kinds
    from ringrow.farm.flag_places import farm_lonlat, kind_named, surroundings_of
    from ringrow.farm.photo_words import settle_photos
    from ringrow.farm.readers import read_points
    from ringrow.farm.readers.columns import parse_columns
    from ringrow.farm.season import SEASON_FILE

    loaded, layouts = options.read_farm(farm)
    all_kind = kind_named(loaded, kind).name if kind else None
    stated = parse_columns(columns) if columns else None
    homes = farm_lonlat(loaded)
    ready = []
    with options.progress("Reading the files"):
        for path in files:
            file = read_points(path, unit=loaded.units.length, stated=stated, farm_lonlat=homes)
            around = surroundings_of(loaded, layouts, file.rows)
            rows = settle_kinds(file, kinds=loaded.kinds, around=around, all_kind=all_kind)
            ready.append((file, settle_photos(loaded, layouts, rows)))
        plans, numbers = import_files(
            farm / SEASON_FILE,
            ready,
            accuracy=loaded.accuracy,
            stamp=_stamp(by, "flag import"),
            dry_run=dry_run,
        )
    read = [file for file, _ in ready]
    if as_json:
        options.show_json(_import_record(read, plans, numbers, dry_run=dry_run, farm=loaded))
        return
    for file, plan in zip(read, plans, strict=True):
        _show_import(file, plan, numbers, farm=loaded)
    if dry_run:
        options.say("dry run: nothing was written")


@flag.command("list")
@options.farm_argument
@click.option("--status", "statuses", multiple=True, type=click.Choice(_STATUSES), help="Only these.")
@click.option("--kind", "kinds", multiple=True, metavar="KIND", help="Only flags of this kind.")
@options.field_option
@click.option("--system", metavar="NAME", help="Only flags of this machine, drip block or well.")
@click.option("--class", "classes", multiple=True, type=click.Choice(_CLASSES), help="Only these.")
@click.option(
    "--parked",
    multiple=True,
    is_flag=False,
    flag_value="",
    metavar='["NAME=AZIMUTH"]',
    help="Show machine flags where their machines stand now: as the farm's files say, or at the azimuth "
    "given here; NAME=panel:214 for what the panel shows.",
)
@options.language_option
@options.json_option
def list_(
    farm: Path,
    statuses: tuple[str, ...],
    kinds: tuple[str, ...],
    field_name: str | None,
    system: str | None,
    classes: tuple[str, ...],
    parked: tuple[str, ...],
    language: str | None,
    *,
    as_json: bool,
) -> None:
    """List flags with their places: by class, then by the ground they touch.

    A machine walks on after it was flagged. With --parked its flags are listed where it
    stands now, for the crew; where they were set is kept beside it.

    \b
    Example:
        ringrow flag list my-farm --status open
        ringrow flag list my-farm --parked "Windmill pivot=41.5" --parked "East pivot=panel:214"
        ringrow flag list my-farm --field "Windmill quarter" --class stops --json
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.farm.flag_places import kind_named, locate_flags
    from ringrow.farm.names import find_named
    from ringrow.farm.season import SEASON_FILE, read_states
    from ringrow.handoff.flag_table import by_class, flag_record, flag_table, line_record, system_of

    loaded, layouts = options.read_farm(farm)
    states = read_states(farm / SEASON_FILE)
    known = {state.kind: state.kind for state in states}
    chosen_kinds = {known.get(kind) or kind_named(loaded, kind).name for kind in kinds}
    fields = {field.name: field.name for field in loaded.fields}
    field = find_named(fields, field_name, what="field") if field_name else None
    chosen_systems = _chosen_systems(loaded, system)
    everything = locate_flags(loaded, layouts, states)
    lines: list[MachineLine] = []
    if parked:
        everything, lines = _parked(loaded, layouts, everything, [text for text in parked if text])
    flags = [
        located
        for located in by_class(everything)
        if (not statuses or located.state.status in statuses)
        and (not chosen_kinds or located.state.kind in chosen_kinds)
        and (not classes or located.flag_class in classes)
        and (field is None or located.field == field)
        and (not chosen_systems or system_of(located) in chosen_systems)
    ]
    if as_json:
        machines = {"machines": [line_record(line, loaded.units) for line in lines]} if parked else {}
        options.show_json({"flags": [flag_record(located, loaded.units) for located in flags], **machines})
        return
    if flags:
        with options.crew_language(loaded, language):
            table = flag_table(flags, loaded.units, width=options.width())
        click.echo(table)
    options.say(f"{len(flags)} of {len(states)} flags" if states else "no flags in this season yet")


@flag.command()
@options.farm_argument
@click.argument("number")
@options.language_option
@options.json_option
def show(farm: Path, number: str, language: str | None, *, as_json: bool) -> None:
    """Show all about one flag: its place, its words, everything that was ever said.

    NUMBER is the flag's number, or the first four or more characters of its id.

    \b
    Example:
        ringrow flag show my-farm 7
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.farm.dig_points import dig_points, own_record
    from ringrow.farm.events import event_to_json
    from ringrow.farm.flag_places import locate_flags
    from ringrow.farm.flags import find_flag
    from ringrow.farm.leak_hints import flag_leak_hint
    from ringrow.farm.photo_store import photo_lines
    from ringrow.farm.season import SEASON_FILE, open_season
    from ringrow.handoff.dig_words import dig_line, dig_record
    from ringrow.handoff.flag_table import flag_record, flag_sheet
    from ringrow.handoff.leak_words import leak_lines, leak_record

    loaded, layouts = options.read_farm(farm)
    with open_season(farm / SEASON_FILE) as season:
        states, everything = season.states(), season.events()
    state = find_flag(states, number)
    events = [event for event in everything if event.flag == state.id]
    # What speaks against a flag lies in the others of its round.
    located = next(flag for flag in locate_flags(loaded, layouts, states) if flag.state.id == state.id)
    holes = dig_points(loaded, layouts, states, everything)
    hint = flag_leak_hint(located, loaded, layouts, record=own_record(holes.values()))
    hole = holes.get(state.id)
    if as_json:
        options.show_json(
            {
                "flags": [flag_record(located, loaded.units)],
                "dig": None if hint is None else leak_record(hint, loaded.units),
                "dig_point": None if hole is None else dig_record(hole, loaded.units),
                "events": [event_to_json(event) for event in events],
            }
        )
        return
    photos = photo_lines(events, folder=farm)
    with options.crew_language(loaded, language):
        told = [] if hole is None else [dig_line(hole, loaded.units)]
        if hint is not None and hole is None and state.status == "open":
            told = leak_lines(hint, loaded.units)
        sheet = flag_sheet(located, events, loaded.units, photos=photos, dig=told)
    click.echo(sheet)


@flag.command()
@options.farm_argument
@click.argument("number")
@click.option("--at", "at_text", metavar='"LAT, LON"', help="The hole, as a phone shows it.")
@click.option("--accuracy", metavar='"16 ft r95"', help="How good that position is.")
@click.option("--drip", metavar="NAME", help="On this drip block; the farm's only one needs no name.")
@click.option("--lateral", type=int, metavar="N", help="On lateral N.")
@click.option("--row", type=int, metavar="N", help="On crop row N from the numbering edge, instead.")
@click.option("--station", type=float, help="So far along it from the header end, ft or m.")
@_by_option
def dig(farm: Path, number: str, *, by: str, **said: Any) -> None:
    """Say where the hole behind a flag was: the wet spot stays, the hole is kept beside it.

    NUMBER is the flag's number, or the first four or more characters of its id. Once five
    holes are known, the dig hint says how far they lay from their wet spots on this farm.

    \b
    Example:
        ringrow flag dig my-farm 12 --lateral 104 --station 663
        ringrow flag dig my-farm 12 --at "36.7621, -101.4812" --accuracy "1 ft r95"
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.farm.dig_points import dig_points, set_dig_point
    from ringrow.farm.season import SEASON_FILE, open_season
    from ringrow.handoff.dig_words import dig_line

    if _given(said, "at_text") == _given(said, "lateral", "row", "station"):
        message = "give --at, or --lateral (or --row) and --station"
        raise click.UsageError(message)
    loaded, layouts = options.read_farm(farm)
    on_tape = not _given(said, "at_text")
    spot: Any = _drip_spot(loaded, layouts, said) if on_tape else _ground_spot(loaded, said)
    with open_season(farm / SEASON_FILE) as season:
        state = set_dig_point(season, number, spot, stamp=_stamp(by, "flag dig"))
        events = season.events(flag=state.id)
    hole = dig_points(loaded, layouts, [state], events)[state.id]
    click.echo(f"flag {state.number}: {dig_line(hole, loaded.units)}")


@flag.command("set", epilog=_KINDS_HELP)
@options.farm_argument
@click.argument("numbers", nargs=-1, required=True, metavar="NUMBER...")
@click.option(
    "--status", type=click.Choice(_STATUSES), help="fixed: somebody says so; checked: seen to hold."
)
@click.option("--note", help="What is known now; replaces the note, the old one stays in the history.")
@click.option("--kind", metavar="KIND", help="What is wrong; the kinds stand below.")
@_class_option(reset=True)
@_photo_option
@_by_option
@options.json_option
def set_(
    farm: Path,
    numbers: tuple[str, ...],
    status: str | None,
    note: str | None,
    kind: str | None,
    flag_class: str | None,
    photo: Path | None,
    by: str,
    *,
    as_json: bool,
) -> None:
    """Change flags: status, note, kind or class, or add a photo. This also settles a clash.

    NUMBER is a flag's number, or the first four or more characters of its id. Several
    flags change together or, when one is not known, not at all.

    \b
    Example:
        ringrow flag set my-farm 7 --status fixed --note "new tube" --by Crew
        ringrow flag set my-farm 3 8 12 --status checked
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.farm.flag_places import kind_named
    from ringrow.farm.flags import find_flag, set_flags
    from ringrow.farm.season import SEASON_FILE, open_season

    loaded, layouts = options.read_farm(farm)
    changes: dict[str, Any] = {"status": status, "note": note}
    changes["kind"] = kind_named(loaded, kind).name if kind else None
    changes = {field: value for field, value in changes.items() if value is not None}
    if flag_class is not None:
        changes["class"] = None if flag_class == _KIND_CLASS else flag_class
    if not changes and photo is None:
        message = "nothing to change: give --status, --note, --kind, --class or --photo"
        raise click.UsageError(message)
    picture = _read_picture(photo)
    with open_season(farm / SEASON_FILE) as season:
        touched = {find_flag(season.states(), ref).number for ref in numbers}
        done = set_flags(season, numbers, changes, stamp=_stamp(by, "flag set")) if changes else []
        states = [state for state in season.states() if state.number in touched]
        _attach(season, states, picture, _stamp(by, "flag set"))
    for change in done:
        if not change.changed:
            options.say(f"flag {change.number}: {change.field} was so already")
    _show_flags(loaded, layouts, states, as_json=as_json)


@flag.command()
@options.farm_argument
@click.argument("number")
@click.argument("field", type=click.Choice(["status", "note", "kind", "class"]))
@_by_option
@options.json_option
def undo(farm: Path, number: str, field: str, by: str, *, as_json: bool) -> None:
    """Take back what was last said of a flag's FIELD; the history keeps both.

    NUMBER is the flag's number, or the first four or more characters of its id. Taken back
    twice, it shows the first again.

    \b
    Example:
        ringrow flag undo my-farm 7 status
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.farm.flags import undo_field
    from ringrow.farm.season import SEASON_FILE, open_season

    loaded, layouts = options.read_farm(farm)
    with open_season(farm / SEASON_FILE) as season:
        change = undo_field(season, number, field, stamp=_stamp(by, "flag undo"))
        states = [state for state in season.states() if state.number == change.number]
    _show_flags(loaded, layouts, states, as_json=as_json)


def _read_picture(path: Path | None) -> Photo | None:
    from ringrow.farm.readers.photos import read_photo

    return None if path is None else read_photo(path)


def _attach(season: Season, states: Sequence[FlagState], photo: Photo | None, stamp: Stamp) -> None:
    from ringrow.farm.photo_store import attach_photo

    if photo is None:
        return
    given = attach_photo(season, [state.id for state in states], photo, stamp=stamp)
    for state in states:
        words = "kept" if state.id in given else "was there already"
        options.say(f"flag {state.number}: photo {photo.name} {words}")


def _stamp(by: str, source: str) -> Stamp:
    from ringrow.farm.flags import Stamp

    return Stamp(when=datetime.now(UTC), who=by.strip(), source=source)


def _chosen_systems(farm: Farm, name: str | None) -> set[str]:
    """Return the names that ``--system`` stands for: a towed machine is all its points."""
    from ringrow.farm.names import find_named

    if not name:
        return set()
    points = {pivot.name: pivot.machine for field in farm.fields for pivot in field.pivots}
    names = [*points, *(machine for machine in points.values() if machine)]
    names += [move.name for field in farm.fields for move in field.lateral_moves]
    names += [block.name for field in farm.fields for block in field.drip]
    names += [well.name for well in farm.wells]
    found = find_named({each: each for each in names}, name, what="system")
    return {found, *(point for point, machine in points.items() if machine == found)}


def _parked(
    farm: Farm, layouts: Sequence[FieldLayout], flags: list[LocatedFlag], texts: Sequence[str]
) -> tuple[list[LocatedFlag], list[MachineLine]]:
    """Return flags with those of machines where they stand, and say which stand where."""
    from ringrow.farm.parked import not_standing, parked_flags, parked_lines, read_parked
    from ringrow.handoff.flag_table import line_sentence

    overrides = read_parked(farm, texts)
    lines = parked_lines(layouts, overrides)
    for line in lines:
        options.say(line_sentence(line))
    for name in not_standing(layouts, flags, overrides):
        options.say(f"{name}: not known where it stands; its flags are where they were set")
    return parked_flags(farm, layouts, flags, overrides), lines


def _show_flags(
    farm: Farm, layouts: Sequence[FieldLayout], states: Sequence[FlagState], *, as_json: bool
) -> None:
    from ringrow.farm.flag_places import locate_flags
    from ringrow.farm.season import SEASON_FILE, read_states
    from ringrow.handoff.fault_words import flag_notes
    from ringrow.handoff.flag_table import flag_record, flag_sentence

    # What speaks against a flag lies in the others of its round.
    wanted = {state.id for state in states}
    everything = locate_flags(farm, layouts, read_states(farm.folder / SEASON_FILE))
    located: list[LocatedFlag] = [flag for flag in everything if flag.state.id in wanted]
    if as_json:
        options.show_json({"flags": [flag_record(each, farm.units) for each in located]})
        return
    for each in located:
        click.echo(flag_sentence(each, farm.units))
        for note in flag_notes(each, farm.units):
            click.echo(f"  {note}")


def _spot(farm: Farm, layouts: Sequence[FieldLayout], said: dict[str, Any], *, kind: str) -> Spot:
    """Return the spot that the options describe, or say which of them do not go together."""
    on_machine = ("tower", "wheel", "span", "distance")
    on_pivot = ("pivot", "drop", "outlet", "azimuth", "panel")
    on_move = _given(said, "move", "side", "travel")
    ways = {
        "--at": _given(said, "at_text", "accuracy"),
        "--pivot": _given(said, *on_pivot) or (not on_move and _given(said, *on_machine)),
        "--move": on_move,
        "--drip": _given(said, "drip", "lateral", "row", "station"),
        "--well": _given(said, "well"),
    }
    chosen = [way for way, given in ways.items() if given]
    if len(chosen) != 1:
        found = " and ".join(chosen) if chosen else "no place"
        message = (
            f"found {found}; give one of --at, a place on a pivot, a place on a lateral move, "
            "a place on drip tape, or --well"
        )
        raise click.UsageError(message)
    if chosen[0] == "--at":
        return _ground_spot(farm, said)
    if chosen[0] == "--pivot":
        return _pivot_spot(farm, said, kind=kind)
    if chosen[0] == "--move":
        return _move_spot(farm, said)
    if chosen[0] == "--drip":
        return _drip_spot(farm, layouts, said)
    from ringrow.farm.flag_model import WellSpot
    from ringrow.farm.names import find_named

    wells = {well.name: well.name for well in farm.wells}
    return WellSpot(well=find_named(wells, said["well"], what="well"))


def _given(said: dict[str, Any], *names: str) -> bool:
    return any(said[name] is not None for name in names)


def _ground_spot(farm: Farm, said: dict[str, Any]) -> Spot:
    from ringrow.coverage.accuracy import parse_accuracy
    from ringrow.farm.coordinates import parse_at
    from ringrow.farm.flag_model import GroundSpot
    from ringrow.farm.flag_places import check_near

    if said["at_text"] is None:
        message = "found --accuracy alone; give --at beside it"
        raise click.UsageError(message)
    lat, lon = parse_at(said["at_text"])
    check_near(farm, lat=lat, lon=lon)
    stated = said["accuracy"]
    accuracy = parse_accuracy(stated, default_unit=farm.units.length) if stated else farm.accuracy
    return GroundSpot(lon=lon, lat=lat, accuracy=accuracy)


def _pivot_spot(farm: Farm, said: dict[str, Any], *, kind: str) -> Spot:
    from ringrow.farm.machine_spots import Said, pivot_named, spot_on_pivot

    distance = said["distance"]
    words = Said(
        tower=said["tower"],
        drop=said["drop"],
        wheel=said["wheel"] or "",
        span=said["span"],
        outlet=said["outlet"],
        distance_m=None if distance is None else distance * farm.units.length_m,
        azimuth_deg=said["azimuth"],
        panel_deg=said["panel"],
    )
    return spot_on_pivot(pivot_named(farm, said["pivot"], words), words, units=farm.units, kind=kind)


def _move_spot(farm: Farm, said: dict[str, Any]) -> Spot:
    from ringrow.farm.machine_spots import SaidOnMove, spot_on_move
    from ringrow.farm.names import find_named

    def metres(name: str) -> float | None:
        return None if said[name] is None else said[name] * farm.units.length_m

    moves = {move.name: move for field in farm.fields for move in field.lateral_moves}
    words = SaidOnMove(
        side=said["side"] or "",
        tower=said["tower"],
        span=said["span"],
        distance_m=metres("distance"),
        wheel=said["wheel"] or "",
        travel_m=metres("travel"),
    )
    return spot_on_move(find_named(moves, said["move"], what="lateral move"), words, units=farm.units)


def _drip_spot(farm: Farm, layouts: Sequence[FieldLayout], said: dict[str, Any]) -> Spot:
    from ringrow.farm.names import find_named
    from ringrow.farm.tape_spots import lateral_of_row, spot_on_tape

    blocks = {laid.block.name: laid for layout in layouts for laid in layout.drip}
    laid = find_named(blocks, said["drip"], what="drip block")
    lateral, row, station = said["lateral"], said["row"], said["station"]
    if (lateral is None) == (row is None) or station is None:
        message = f'on drip tape "{laid.block.name}": give --lateral (or --row) and --station'
        raise click.UsageError(message)
    if row is not None:
        lateral = lateral_of_row(laid.block, row)
        options.say(f"row {row} is served by lateral {lateral}")
    return spot_on_tape(laid, lateral, station * farm.units.length_m, units=farm.units)


def _show_import(file: PointFile, plan: ImportPlan, numbers: dict[str, int], *, farm: Farm) -> None:
    from ringrow.handoff.import_words import import_lines

    for line in file.said:
        options.say(f"{file.file}: {line}")
    for line in import_lines(file, plan, numbers, farm.units):
        click.echo(line)


def _import_record(
    files: Sequence[PointFile],
    plans: Sequence[ImportPlan],
    numbers: dict[str, int],
    *,
    dry_run: bool,
    farm: Farm,
) -> dict[str, Any]:
    from ringrow.handoff.import_words import import_record

    return {
        "dry_run": dry_run,
        "files": [
            import_record(file, plan, numbers, farm.units) for file, plan in zip(files, plans, strict=True)
        ],
    }

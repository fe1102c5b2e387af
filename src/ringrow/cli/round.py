"""``ringrow round``: one walk over everything, kept by exception."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ringrow.cli import options
from ringrow.cli.clock import farm_clock

if TYPE_CHECKING:
    from collections.abc import Sequence
    from contextlib import AbstractContextManager

    from ringrow.farm.flag_model import FlagState
    from ringrow.farm.flags import Stamp
    from ringrow.farm.model import Farm
    from ringrow.farm.records import Record
    from ringrow.farm.round_entries import Entry
    from ringrow.farm.round_log import Kept
    from ringrow.farm.rounds import RoundBook, SystemRound
    from ringrow.farm.season import Season

WHOSE = ("us", "dealer", "electrician", "well-driller", "supplier")

_ITEMS_HELP = """\b
    Items (a farm may add, leave out and reword them; only those a system has are asked):
      well    starts, battery, oil, coolant, belts-and-guards, fuel-supply, nests, volts
      pivot   volts, forward, reverse, tires, gearboxes, drive-shafts, boxes-and-covers,
              sprinklers-and-drops, corner-arm, gun, flow, pressure
      drip    pump, filters, filter-loss, valves, zone-pressure, zone-flow,
              walked-after-the-wait, ends-flushed
    Answers: yes, no, low, leaking, ..., "bad: what is wrong", none (it has none).
"""


@click.group("round")
def round_() -> None:
    """Walk the farm once, by exception: what was looked at, by whom, what not yet, what failed.

    \b
    Example:
        ringrow round start my-farm --name "Spring 2027" --who Ana
        ringrow round look my-farm "Windmill pivot" --towers 1-7 --except "tower 5: gearbox leaking"
        ringrow round show my-farm
    """  # noqa: D301 - the marks keep the example's lines apart


def who_option(command: options.CommandT) -> options.CommandT:
    """Add ``--who`` or ``--by``: the person who says it."""
    return click.option("--who", "--by", "who", default="", metavar="WHO", help="Who says so.")(command)


def at_option(command: options.CommandT) -> options.CommandT:
    """Add ``--at TIME``: when it was so, where that is not now."""
    text = "When, where not now: 2027-03-14, or 2027-03-14 13:05 (in the farm's time_zone)."
    return click.option("--at", "at_text", default="", metavar="TIME", help=text)(command)


def stamp_of(who: str, source: str) -> Stamp:
    """Return who says something now."""
    from datetime import UTC, datetime

    from ringrow.farm.flags import Stamp

    return Stamp(when=datetime.now(UTC), who=who.strip(), source=source)


@round_.command()
@options.farm_argument
@click.option("--name", required=True, help='What it is called, such as "Spring 2027".')
@who_option
@at_option
@options.language_option
@options.json_option
def start(farm: Path, name: str, who: str, at_text: str, language: str | None, *, as_json: bool) -> None:
    """Start a round; everything is then due to be looked at.

    \b
    Example:
        ringrow round start my-farm --name "Spring 2027" --who Ana
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.farm.load import load_farm
    from ringrow.farm.round_log import start_round
    from ringrow.farm.round_words import parse_moment
    from ringrow.farm.rounds import round_in_zone
    from ringrow.farm.season import SEASON_FILE, open_season
    from ringrow.handoff.round_record import round_record
    from ringrow.handoff.round_table import round_line
    from ringrow.handoff.round_words import safety_lines

    loaded = load_farm(farm)
    at = parse_moment(at_text, what="at", zone=farm_clock(loaded)) if at_text.strip() else None
    with open_season(farm / SEASON_FILE, create=True) as season:
        found = start_round(season, name, stamp=stamp_of(who, "round start"), at=at)
    with options.crew_language(loaded, language, as_json=as_json):
        if as_json:
            options.show_json({"round": round_record(found)})
        else:
            click.echo(round_line(round_in_zone(found, farm_clock(loaded))))
            for line in safety_lines():
                options.say(line)


@round_.command()
@options.farm_argument
@who_option
@options.language_option
@options.json_option
def end(farm: Path, who: str, language: str | None, *, as_json: bool) -> None:
    """End the round that is open, and name what was not looked at.

    \b
    Example:
        ringrow round end my-farm --who Ana
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.farm.load import load_farm
    from ringrow.farm.records import fold_records
    from ringrow.farm.round_log import end_round
    from ringrow.farm.rounds import book_in_zone, round_book
    from ringrow.handoff.round_record import round_record
    from ringrow.handoff.round_table import end_text

    loaded = load_farm(farm)
    with _open_log(farm) as season:
        found = end_round(season, stamp=stamp_of(who, "round end"))
        records = fold_records(season.events())
    book = book_in_zone(round_book(loaded, records, round_id=found.id), farm_clock(loaded))
    with options.crew_language(loaded, language, as_json=as_json):
        if as_json:
            missing = {each.system.name: [state.item.id for state in each.missing] for each in book.systems}
            left = [{"name": name, "missing": items} for name, items in missing.items() if items]
            options.show_json({"round": round_record(found), "systems": left})
        else:
            click.echo(end_text(book, width=options.width()))


@round_.command("list")
@options.farm_argument
@options.language_option
@options.json_option
def list_(farm: Path, language: str | None, *, as_json: bool) -> None:
    """List every round of this season log.

    \b
    Example:
        ringrow round list my-farm
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.farm.load import load_farm
    from ringrow.farm.rounds import round_in_zone, rounds_of
    from ringrow.handoff.round_record import round_record
    from ringrow.handoff.round_table import round_line

    loaded = load_farm(farm)
    rounds = rounds_of(records_of(farm))
    with options.crew_language(loaded, language, as_json=as_json):
        if as_json:
            options.show_json({"rounds": [round_record(each) for each in rounds]})
            return
        for each in rounds:
            click.echo(round_line(round_in_zone(each, farm_clock(loaded))))
    if not rounds:
        options.say("no round was started yet")


@round_.command()
@options.farm_argument
@click.option("--round", "round_name", metavar="NAME", help="This round; else the one that is open, or last.")
@click.option("--system", metavar="NAME", help="The checklist of this system, with its cautions.")
@options.language_option
@options.json_option
def show(
    farm: Path, round_name: str | None, system: str | None, language: str | None, *, as_json: bool
) -> None:
    """Show what a round has seen, by whom and when, what not yet, and what failed.

    \b
    Example:
        ringrow round show my-farm
        ringrow round show my-farm --system "Windmill pivot"
        ringrow round show my-farm --round "Spring 2027" --json
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.farm.load import load_farm
    from ringrow.farm.round_log import find_round
    from ringrow.farm.rounds import book_in_zone, round_book, rounds_of
    from ringrow.handoff.round_record import book_record
    from ringrow.handoff.round_table import round_text, system_text

    loaded = load_farm(farm)
    records, states = records_of(farm), _states(farm)
    chosen = find_round(rounds_of(records), round_name).id if round_name else None
    book = book_in_zone(round_book(loaded, records, round_id=chosen), farm_clock(loaded))
    one = _one_system(book, system) if system else None
    with options.crew_language(loaded, language, as_json=as_json):
        if as_json:
            told = book_record(book, states, loaded.units)
            if one is not None:
                told["systems"] = [each for each in told["systems"] if _is(each, one)]
            options.show_json(told)
        elif one is not None:
            click.echo(system_text(one, loaded.units, width=options.width()))
        else:
            click.echo(round_text(book, states, loaded.units, width=options.width()))


def _one_system(book: RoundBook, name: str) -> SystemRound:
    from ringrow.farm.names import find_named
    from ringrow.farm.systems import by_every_name

    found = by_every_name((each.system, each) for each in book.systems)
    return find_named(found, name, what="system")


def _is(told: dict[str, Any], one: SystemRound) -> bool:
    return bool(told["name"] == one.system.name and told["kind"] == one.system.kind)


@round_.command(epilog=_ITEMS_HELP)
@options.farm_argument
@click.argument("system")
@click.option("--towers", default="", metavar="1-8", help="Only these towers; left 1-3 on a lateral move.")
@click.option("--zone", "zones", default="", metavar="NAME", help="Only this zone, or several with commas.")
@click.option("--nothing-seen", is_flag=True, help="All that is looked at was good.")
@click.option(
    "--except",
    "exceptions",
    multiple=True,
    metavar='"tower 5: gearbox leaking"',
    help="But for this: it sets a flag, its kind guessed from the words and shown. The rest was good.",
)
@click.option("--item", "items", multiple=True, metavar="ITEM=ANSWER", help="One item, such as starts=yes.")
@click.option("--why", default="", help="Of what was tried and failed: why.")
@click.option("--next", "next_step", default="", metavar="STEP", help="Of what failed: what is done next.")
@click.option("--whose", default="", metavar="WHO", help=f"Of what failed: whose it is: {', '.join(WHOSE)}.")
@click.option("--needed-by", default="", metavar="DATE", help="Of what failed: by when, 2027-04-01.")
@click.option("--note", default="", help="Anything else.")
@click.option("--correct", metavar="ID", help="Take the place of the look of this id.")
@who_option
@at_option
@options.language_option
@options.json_option
def look(
    farm: Path,
    system: str,
    correct: str | None,
    who: str,
    at_text: str,
    language: str | None,
    *,
    as_json: bool,
    **said: Any,
) -> None:
    """Say that a system was looked at: one line, and what was not as it should be.

    Looking settles what is looked at; what is tried (starts, forward, reverse, gun, valves)
    needs a word of its own with --item, and what is read a number: ringrow reading add.

    \b
    Example:
        ringrow round look my-farm "Windmill pivot" --towers 1-7 --nothing-seen --who Ana
        ringrow round look my-farm "Windmill pivot" --except "tower 5: gearbox leaking"
        ringrow round look my-farm "North well" --nothing-seen --item starts=yes --item oil=low
        ringrow round look my-farm "Draw pivot" --item reverse=no --why "relay burnt" --next "new relay"
            --whose electrician --needed-by 2027-04-01
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.farm.load import load_farm
    from ringrow.farm.round_entries import SaidOfLook, look_entry, round_desk
    from ringrow.farm.round_log import keep_entries

    items = tuple(_pair(text) for text in said.pop("items"))
    loaded = load_farm(farm)
    desk = round_desk(loaded, (), zone=farm_clock(loaded))
    entry = look_entry(desk, system, SaidOfLook(items=items, at=at_text, **said))
    with _open_log(farm) as season:
        kept = keep_entries(season, [entry], stamps=[stamp_of(who, "round look")], correct=correct)
    with options.crew_language(loaded, language, as_json=as_json):
        _show_kept(farm, loaded, [entry], kept, as_json=as_json)


def _pair(text: str) -> tuple[str, str]:
    item, sign, answer = text.partition("=")
    if not sign:
        message = f'--item: found "{text[:40]}"; allowed: ITEM=ANSWER, such as starts=yes'
        raise click.UsageError(message)
    return item.strip(), answer.strip()


def _show_kept(
    farm: Path, loaded: Farm, entries: Sequence[Entry], kept: Sequence[Kept], *, as_json: bool
) -> None:
    from ringrow.farm.rounds import book_in_zone, round_book
    from ringrow.handoff.round_record import look_record, system_record
    from ringrow.handoff.round_table import flag_lines, look_line, system_lines

    records, states = records_of(farm), _states(farm)
    ids = {each.id for each in kept}
    names = {entry.system.name for entry in entries}
    book = book_in_zone(round_book(loaded, records), farm_clock(loaded))
    systems = [each for each in book.systems if each.system.name in names]
    looks = [look for each in systems for look in each.looks if look.id in ids]
    if as_json:
        told = [system_record(each, states, loaded.units) for each in systems]
        options.show_json({"looks": [look_record(each, states) for each in looks], "systems": told})
        return
    for found in looks:
        click.echo(f"{found.system}: {look_line(found)}")
    for line in flag_lines(entries, kept, states):
        click.echo(f"  {line}")
    for line in [line for each in systems for line in system_lines(each, loaded.units)]:
        click.echo(f"  {line}")


@round_.command()
@options.farm_argument
@click.argument("id", metavar="ID")
@who_option
def undo(farm: Path, id: str, who: str) -> None:  # noqa: A002 - the name of the argument
    """Take back what was last said in a look, or by starting or ending a round.

    ID is the first four or more characters of its id. Taken back twice, it stands again. Flags that
    a look had set stay: set them to not-a-fault when they are none.

    \b
    Example:
        ringrow round undo my-farm 3f9a01c2
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.farm.round_log import undo_record
    from ringrow.farm.rounds import LOOK, ROUND
    from ringrow.farm.season import SEASON_FILE, open_season

    with open_season(farm / SEASON_FILE) as season:
        before, after = undo_record(season, id, types=(LOOK, ROUND), stamp=stamp_of(who, "round undo"))
    click.echo(undo_sentence(before, after))
    flags = [each for each in (before or {}).get("except") or [] if isinstance(each, dict)]
    if flags and after is None:
        options.say(f"flags that it had set stay: {len(flags)}; set those to not-a-fault that are none")


def undo_sentence(before: Any, after: Any) -> str:
    """Return what taking back has done."""
    if after is None:
        return "taken back: it is as if it had not been said"
    return "stands again" if before is None else "taken back: it stands as it was said before"


@round_.command()
@options.farm_argument
@click.option(
    "-o", "--output", "path", required=True, type=click.Path(path_type=Path), metavar="FILE.csv",
    help="File to write.",
)  # fmt: skip
@options.language_option
@options.overwrite_option
def sheet(farm: Path, path: Path, language: str | None, *, overwrite: bool) -> None:
    """Write a blank table of the round to fill in, by hand or in a spreadsheet.

    Fill in Answer (yes, no, low, "bad: ...", a number with its unit), Except, and for what failed
    Why, Next step, Whose and Needed by; rows left blank say nothing. Bring it back with round import.

    \b
    Example:
        ringrow round sheet my-farm -o round.csv
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.farm.load import load_farm
    from ringrow.farm.round_sheet import blank_rows
    from ringrow.handoff.files import check_target
    from ringrow.handoff.round_sheet_file import write_sheet

    check_target(path, endings=(".csv",), overwrite=overwrite)
    loaded = load_farm(farm)
    with options.crew_language(loaded, language):
        count = write_sheet(blank_rows(loaded), path)
    options.say(f"Wrote {path}: {count} rows.")


@round_.command("import")
@options.farm_argument
@click.argument("file", type=click.Path(path_type=Path))
@who_option
@click.option("--dry-run", is_flag=True, help="Only say what would come in.")
@options.language_option
@options.json_option
def import_(farm: Path, file: Path, who: str, language: str | None, *, dry_run: bool, as_json: bool) -> None:
    """Bring in a table of the round that was filled in; all of it, or nothing.

    The first 20 rows that cannot be are named. Bringing it in again changes nothing: a row that was
    filled in since, or changed, comes in as something new that was said.

    \b
    Example:
        ringrow round import my-farm round.csv --who Ana
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.farm.round_entries import round_desk
    from ringrow.farm.round_log import keep_entries, round_id_for
    from ringrow.farm.round_sheet import read_sheet, sheet_stamps, sheet_subjects
    from ringrow.handoff.round_table import flag_lines

    loaded, layouts = options.read_farm(farm)
    with options.progress("Reading the table"):
        stamp = stamp_of(who, file.name)
        desk = round_desk(loaded, layouts, zone=farm_clock(loaded), now=stamp.when)
        rows, blank = read_sheet(file, desk)
    with _open_log(farm) as season:
        entries = [row.entry for row in rows]
        subjects = sheet_subjects(rows, round_id_for(entries, season.events()))
        stamps = sheet_stamps(rows, stamp)
        kept: list[Kept] = []
        if not dry_run:
            kept = keep_entries(season, entries, stamps=stamps, subjects=subjects)
    new = sum(each.new for each in kept)
    counts = {"rows": len(rows), "blank": blank, "new": new, "already": len(kept) - new}
    if as_json:
        options.show_json({"dry_run": dry_run, **counts, "flags": [f for each in kept for f in each.flags]})
        return
    click.echo(f"{file.name}: rows filled in: {counts['rows']}, left blank: {blank}")
    if dry_run:
        options.say("dry run: nothing was written")
        return
    click.echo(f"new: {new}, there already: {counts['already']}")
    with options.crew_language(loaded, language):
        for line in flag_lines(entries, kept, _states(farm)):
            click.echo(f"  {line}")


def _open_log(farm: Path) -> AbstractContextManager[Season]:
    """Open a farm's season log; a farm that has none has no round that is open."""
    from ringrow.farm.round_log import open_round
    from ringrow.farm.season import SEASON_FILE, open_season
    from ringrow.farm.season_disk import log_exists

    if not log_exists(farm / SEASON_FILE):
        open_round(())
    return open_season(farm / SEASON_FILE)


def records_of(farm: Path) -> list[Record]:
    """Return every record of a farm's season log."""
    from ringrow.farm.read_records import read_records
    from ringrow.farm.season import SEASON_FILE

    return read_records(farm / SEASON_FILE)


def _states(farm: Path) -> dict[str, FlagState]:
    from ringrow.farm.season import SEASON_FILE, read_states

    return {state.id: state for state in read_states(farm / SEASON_FILE)}

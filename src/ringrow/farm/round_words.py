"""Words of a round as people write them: towers, answers, exceptions, dates.

English and Spanish are understood, as among the words of imported flags.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, tzinfo
from typing import TYPE_CHECKING, Any, NoReturn

from ringrow.coverage.layout import lay_out
from ringrow.equipment.lateral_move import LateralMove
from ringrow.equipment.pivot import Pivot
from ringrow.errors import PlaceError
from ringrow.farm.faults import meant
from ringrow.farm.flag_model import WellSpot
from ringrow.farm.flags import check_place
from ringrow.farm.machine_spots import Said, pivot_named, spot_on_pivot
from ringrow.farm.move_spots import SaidOnMove, spot_on_move
from ringrow.farm.names import find_named
from ringrow.farm.place_terms import DROP, PLACE_TERMS, bare_letters, side_said
from ringrow.farm.readers.cells import plain_words, read_time
from ringrow.farm.readers.guess import Guess, guess_kind
from ringrow.farm.rounds import WHOSE
from ringrow.farm.system_checks import parts_for
from ringrow.farm.tape_spots import spot_on_tape

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ringrow.coverage.field import FieldLayout
    from ringrow.farm.flag_model import Spot
    from ringrow.farm.model import Farm
    from ringrow.farm.readers.guess import Around
    from ringrow.farm.system_checks import Thing
    from ringrow.farm.systems import FarmSystem

_GOOD = (
    "yes",
    "y",
    "ok",
    "okay",
    "good",
    "fine",
    "done",
    "full",
    "x",
    "si",
    "bien",
    "bueno",
    "buena",
    "listo",
)
_BAD = (
    *(
        "no",
        "n",
        "bad",
        "low",
        "empty",
        "dead",
        "weak",
        "flat",
        "leaking",
        "leaks",
        "worn",
        "broken",
        "loose",
    ),
    *("missing", "dirty", "plugged", "failed", "leak", "burnt", "stuck", "bent", "torn", "cracked", "cut"),
    *("mal", "malo", "mala", "bajo", "baja", "vacio", "vacia", "flojo", "floja", "suelto", "suelta", "roto"),
    *("rota", "falta", "sucio", "sucia", "tapado", "tapada", "gastado", "gastada", "ponchada", "fuga"),
    *("gotea", "tira", "muerto", "muerta", "descargada", "quemado", "quemada", "pegado", "pegada", "falla"),
)
_WHOSE_IN_SPANISH = {
    "nosotros": "us",
    "distribuidor": "dealer",
    "electricista": "electrician",
    "perforista": "well-driller",
    "proveedor": "supplier",
}
_NOTHING_SEEN = ("nothing seen", "nothing", "nada", "nada visto", "sin novedad")
_NONE = ("none", "na", "n a", "not there", "no hay", "no tiene")
_SIDES = {"left": "left", "right": "right", "izquierda": "left", "derecha": "right"}
_DAY = re.compile(r"\d{4}[-/]\d{1,2}[-/]\d{1,2}")
_NOON = 12
_LONG_AGO = 1900


@dataclass(frozen=True, slots=True, kw_only=True)
class ExceptionFlag:
    """What was not as it should be: the flag it sets.

    Parameters
    ----------
    said : str
        The words.
    kind : str
        Kind of the flag.
    guess : Guess
        Why that kind was taken.
    spot : GroundSpot, MachineSpot, MoveSpot, DripSpot or WellSpot
        Where it is.
    """

    said: str
    kind: str
    guess: Guess
    spot: Spot


def parse_parts(text: str, thing: Thing, per: str, *, system: str) -> tuple[str, ...]:
    """Return the towers or zones that a text names.

    Parameters
    ----------
    text : str
        Such as ``1-8``, ``1-3, 5``, ``left 1-2`` or names of zones between commas.
    thing : Well, Pivot, LateralMove or DripBlock
        The system.
    per : {"tower", "zone"}
        What is named.
    system : str
        Name of the system, for messages.

    Returns
    -------
    tuple of str
        Their names, in the order of the machine.

    Raises
    ------
    PlaceError
        If the system has none, or not these.

    Examples
    --------
    >>> from ringrow.equipment.pivot import Pivot
    >>> pivot = Pivot(name="P", x_m=0, y_m=0, spans_m=(50.0,) * 4)
    >>> parse_parts("1-2, 4", pivot, "tower", system="P")
    ('1', '2', '4')
    """
    known = parts_for(thing, per)
    if not known:
        message = f'{per}s of "{system}": found "{text[:40]}"; it has none; leave them out'
        raise PlaceError(message)
    named: set[str] = set()
    side = ""
    for piece in filter(None, (piece.strip() for piece in text.split(","))):
        names, side = ([piece], "") if per == "zone" else _tower_names(piece, side, thing)
        folded = {name.casefold(): name for name in known}
        strange = [name for name in names if name.casefold() not in folded]
        if strange or not names:
            allowed = f"{known[0]} to {known[-1]}" if per == "tower" else ", ".join(f'"{n}"' for n in known)
            message = f'{per}s of "{system}": found "{piece[:40]}"; allowed: {allowed}'
            raise PlaceError(message)
        named |= {folded[name.casefold()] for name in names}
    if not named:
        message = f'{per}s of "{system}": found none; allowed: {known[0]} to {known[-1]}'
        raise PlaceError(message)
    return tuple(name for name in known if name in named)


def _tower_names(piece: str, side: str, thing: Thing) -> tuple[list[str], str]:
    match = re.fullmatch(
        r"(?P<side>[a-z]+)?\s*(?P<first>\d{1,3})\s*(?:-|to|–|a)\s*(?P<last>\d{1,3})", piece.casefold()
    )
    match = match or re.fullmatch(r"(?P<side>[a-z]+)?\s*(?P<first>\d{1,3})(?P<last>)", piece.casefold())
    if match is None:
        return [], side
    said = (match["side"] or "").removeprefix("towers").removeprefix("tower")
    if isinstance(thing, LateralMove):
        side = _SIDES.get(said, said) or side
    elif said:
        return [], side
    first, last = int(match["first"]), int(match["last"] or match["first"])
    stem = f"{side} " if side else ""
    return [f"{stem}{number}" for number in range(first, min(last, first + 200) + 1)], side


def parse_answer(text: str, *, item: str) -> dict[str, Any]:
    """Return what was said of an item: good, bad or none, and the words for it.

    Parameters
    ----------
    text : str
        Such as ``yes``, ``low``, ``bad: bearing growls`` or ``none``.
    item : str
        The item, for messages.

    Returns
    -------
    dict
        ``answer`` and, where it is more than a plain yes, ``said``.

    Raises
    ------
    PlaceError
        If the first word is neither.

    Examples
    --------
    >>> parse_answer("Low", item="oil"), parse_answer("no: fuse blown", item="starts")
    ({'answer': 'bad', 'said': 'Low'}, {'answer': 'bad', 'said': 'no: fuse blown'})
    >>> parse_answer("sí", item="starts")
    {'answer': 'good'}
    """
    head = plain_words(re.split(r"[:;,]", text, maxsplit=1)[0])
    plain = plain_words(text)
    if plain in _NONE:
        return {"answer": "none"}
    answer = "good" if head in (*_GOOD, *_NOTHING_SEEN) else "bad" if head in _BAD else ""
    if not answer:
        found = f'"{text.strip()[:40]}"' if text.strip() else "nothing"
        hint = meant(head, (*_GOOD, *_BAD, "none")) if head else ""
        message = f"{item}: found {found}; allowed: yes, no, low, bad: ..., none (it has none)"
        raise PlaceError(f"{message}; {hint}" if hint else message)
    return (
        {"answer": answer} if plain in (*_GOOD, *_NOTHING_SEEN) else {"answer": answer, "said": text.strip()}
    )


def says_nothing_seen(text: str) -> bool:
    """Return whether a text says that nothing was seen.

    Parameters
    ----------
    text : str
        Such as ``Nothing seen`` or ``nada``.

    Returns
    -------
    bool
        True when it does.
    """
    return plain_words(text) in (*_NOTHING_SEEN, *_GOOD)


def parse_whose(text: str) -> str:
    """Return whose the next step is.

    Parameters
    ----------
    text : str
        Such as ``dealer`` or ``electricista``.

    Returns
    -------
    str
        One of `WHOSE`.

    Raises
    ------
    PlaceError
        If it is none of them.

    Examples
    --------
    >>> parse_whose("Well driller"), parse_whose("nosotros")
    ('well-driller', 'us')
    """
    plain = plain_words(text)
    known = {plain_words(each): each for each in WHOSE} | _WHOSE_IN_SPANISH
    if plain in known:
        return known[plain]
    return find_named({each: each for each in WHOSE}, text.strip(), what="whose")


def parse_day(text: str, *, what: str) -> str:
    """Return a date as year-month-day.

    Parameters
    ----------
    text : str
        The date.
    what : str
        What it is, for messages.

    Returns
    -------
    str
        Such as ``2027-04-01``.

    Raises
    ------
    PlaceError
        If it is no date, or its order cannot be told.

    Examples
    --------
    >>> parse_day("2027/4/1", what="needed by")
    '2027-04-01'
    """
    try:
        year, month, day = (int(part) for part in re.split(r"[-/]", text.strip()))
        said = date(year, month, day)
    except (ValueError, OverflowError):
        _no_day(text, what)
    return said.isoformat() if year > _LONG_AGO else _no_day(text, what)


def _no_day(text: str, what: str) -> NoReturn:
    message = f'{what}: found "{text.strip()[:40]}"; allowed: year-month-day, such as 2027-04-01'
    raise PlaceError(message)


def parse_moment(text: str, *, what: str, zone: tzinfo = UTC) -> datetime:
    """Return the moment a person says something was so.

    Parameters
    ----------
    text : str
        Date, or date and time.
    what : str
        What it is, for messages.
    zone : tzinfo, default UTC
        The farm's zone, for a time that names none.

    Returns
    -------
    datetime
        UTC; a day alone is its noon.

    Raises
    ------
    PlaceError
        If it is no time, or its order cannot be told.

    Examples
    --------
    >>> parse_moment("2027-04-01", what="at").isoformat()
    '2027-04-01T12:00:00+00:00'
    """
    if _DAY.fullmatch(text.strip()):
        day = date.fromisoformat(parse_day(text, what=what))
        try:
            return datetime(day.year, day.month, day.day, _NOON, tzinfo=zone).astimezone(UTC)
        except OverflowError:
            _no_day(text, what)
    moment, remark = read_time(_with_zone(text, zone))
    if moment is None or remark or moment.year <= _LONG_AGO:
        message = (
            f'{what}: found "{text.strip()[:40]}"; allowed: year-month-day and time, such as 2027-04-01 13:05'
        )
        raise PlaceError(message)
    return moment


def _with_zone(text: str, zone: tzinfo) -> str:
    """Return a time with its zone behind it, where it names none and can be read."""
    try:
        moment = datetime.fromisoformat(text.strip().replace("/", "-"))
        return text if moment.tzinfo else moment.replace(tzinfo=zone).astimezone(UTC).isoformat()
    except (ValueError, OverflowError):
        return text


def parse_exception(
    text: str,
    farm: Farm,
    layouts: Sequence[FieldLayout],
    system: FarmSystem,
    thing: Thing,
    *,
    tower: str = "",
) -> ExceptionFlag:
    """Return the flag that an exception sets: its place and kind by its words.

    Parameters
    ----------
    text : str
        Such as ``tower 5: gearbox leaking`` or ``lateral 43 station 600: leak``.
    farm : Farm
        The farm.
    layouts : sequence of FieldLayout
        Its fields, as far as they are laid out; one that is needed and not among them is then.
    system : FarmSystem
        The system that was looked at.
    thing : Well, Pivot, LateralMove or DripBlock
        What it is made of.
    tower : str, default ""
        The one tower that was looked at, for words that name no place.

    Returns
    -------
    ExceptionFlag
        The flag; its kind is guessed by the same table of words as that of imported flags.

    Raises
    ------
    PlaceError
        If the words name no place on the system, or a fault that cannot sit there.
    """
    said = text.strip()
    plain = bare_letters(said)
    numbers = {name: _number(word, plain) for name, word in PLACE_TERMS.items()}
    if tower and all(numbers[name] is None for name in ("tower", "span", "outlet")):
        hand, _blank, number = tower.rpartition(" ")
        plain, numbers["tower"] = f"{hand} tower {number} {plain}", int(number)
    guess = _kind(farm, system, _without_place(plain))
    try:
        spot = _spot(farm, layouts, system, thing, plain, numbers, guess.kind)
        check_place(farm.kinds[guess.kind], spot)
    except PlaceError as error:
        message = f'exception "{said[:60]}": {error}'
        raise PlaceError(message) from error
    return ExceptionFlag(said=said, kind=guess.kind, guess=guess, spot=spot)


def _number(word: str, plain: str) -> int | None:
    match = re.search(rf"(?<![a-z]){word}[\s.#]{{0,2}}(\d{{1,5}})(?!\d)", plain)
    return int(match[1]) if match else None


def _without_place(plain: str) -> str:
    """Return the words that say what is wrong: "drop +3" says where, "drop torn off" what."""
    text = DROP.sub(" ", plain)
    for word in PLACE_TERMS.values():
        text = re.sub(rf"(?<![a-z]){word}[\s.#]{{0,2}}\d{{1,5}}(?!\d)", " ", text)
    return text


def _kind(farm: Farm, system: FarmSystem, words: str) -> Guess:
    arounds: dict[str, Around] = {"well": "well", "drip": "drip"}
    around = arounds.get(system.kind, "pivot")
    guess = guess_kind({"note": words}, kinds=farm.kinds, around=around)
    if guess.kind == "other-ground" and around != "drip":
        kind = "other-works" if around == "well" else "other-machine"
        return Guess(kind=kind, why="no word told the kind")
    return guess


def _spot(
    farm: Farm,
    layouts: Sequence[FieldLayout],
    system: FarmSystem,
    thing: Thing,
    plain: str,
    numbers: dict[str, int | None],
    kind: str,
) -> Spot:
    if system.kind == "well":
        return WellSpot(well=system.name)
    tower, span = numbers["tower"], numbers["span"]
    if isinstance(thing, Pivot):
        drop = DROP.search(plain)
        said = Said(
            tower=tower,
            drop=int(drop[1]) if drop else None,
            span=None if tower else span,
            outlet=None if tower or span else numbers["outlet"],
        )
        return spot_on_pivot(pivot_named(farm, system.name, said), said, units=farm.units, kind=kind)
    if isinstance(thing, LateralMove):
        part = re.search(rf"(?<![a-z])(?:{PLACE_TERMS['tower']}|{PLACE_TERMS['span']})[\s.#]{{0,2}}\d", plain)
        side = side_said(plain, part)
        return spot_on_move(
            thing, SaidOnMove(side=side, tower=tower, span=None if tower else span), units=farm.units
        )
    return _spot_on_tape(farm, layouts, system, numbers, kind)


def _spot_on_tape(
    farm: Farm,
    layouts: Sequence[FieldLayout],
    system: FarmSystem,
    numbers: dict[str, int | None],
    kind: str,
) -> Spot:
    near = [layout for layout in layouts if layout.field.name == system.field]
    near = near or [lay_out(field) for field in farm.fields if field.name == system.field]
    laid = next(each for layout in near for each in layout.drip if each.block.name == system.name)
    lateral, station = numbers["lateral"], numbers["station"]
    if lateral is not None and station is not None:
        return spot_on_tape(laid, lateral, station * farm.units.length_m, units=farm.units)
    if farm.kinds[kind].on == "works" and len(system.wells) == 1:
        return WellSpot(well=system.wells[0])
    message = (
        f'found no place on "{system.name}"; allowed: lateral N station N, such as "lateral 43 station 600: '
        'leak", or a pump, filter or valve; for a place by GPS use: ringrow flag add --at'
    )
    raise PlaceError(message)

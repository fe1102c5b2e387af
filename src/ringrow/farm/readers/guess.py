"""Guessing what kind of fault a point means, from its words and from where it lies."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Literal

from ringrow.farm.readers.cells import plain_words

if TYPE_CHECKING:
    from collections.abc import Mapping

    from ringrow.equipment.kinds import FlagKind

Around = Literal["drip", "pivot", "well", ""]
"""What a place lies on or at: drip tape, ground a pivot wets, a well, or none of them."""

# Our own table, English and Spanish, without accents; plurals in s and es are understood.
_WORDS: dict[str, tuple[str, ...]] = {
    "leak": ("leak", "leaking", "leaks", "fuga", "gotera", "escape", "blowout", "hole in tape", "cinta rota"),
    "wet-spot": (
        "wet",
        "wet spot",
        "puddle",
        "mud",
        "muddy",
        "mojado",
        "charco",
        "encharcado",
        "humedo",
        "lodo",
    ),
    "burrow": (
        *("burrow", "gopher", "mole", "ground squirrel", "prairie dog", "badger", "digging", "rodent"),
        *("tuza", "topo", "ardilla", "madriguera", "tejon", "roedor", "hoyo de tuza"),
    ),
    "rut": ("rut", "rutted", "track deep", "huella", "rodada", "surco hondo"),
    "washout": ("washout", "wash out", "washed out", "gully", "erosion", "deslave", "socavon", "zanja"),
    "rock": ("rock", "stone", "boulder", "piedra", "roca"),
    "loose-part": ("loose part", "part on the ground", "pieza suelta"),
    "sprinkler": ("sprinkler", "nozzle", "spray", "aspersor", "boquilla", "regador"),
    "drop": ("drop", "drop hose", "hose", "bajante", "manguera"),
    "regulator": ("regulator", "regulador"),
    "span-leak": ("span leak", "joint leak", "pipe leak", "fuga en tramo", "fuga en el tramo"),
    "tire": (
        *("tire", "tyre", "flat", "flat tire", "flat tyre", "llanta", "llanta baja", "neumatico"),
        *("ponchada", "ponchado", "desinflada", "desinflado"),
    ),
    "wheel": ("wheel", "lug", "lug bolt", "lug nut", "rueda", "birlo"),
    "gearbox": (
        "gearbox",
        "gear box",
        "caja de engranes",
        "caja de engranajes",
        "caja reductora",
        "reductor",
    ),
    "driveline": ("driveline", "drive line", "coupler", "cardan", "flecha"),
    "alignment": ("alignment", "out of line", "misaligned", "desalineada", "desalineado"),
    "tower-box": ("tower box", "caja de torre", "caja de la torre"),
    "cover": ("cover", "guard", "tapa", "guarda"),
    "wiring": ("wire", "wiring", "cable", "alambre", "cableado", "cable pelado"),
    "collector-ring": ("collector ring", "anillo colector"),
    "structure": (
        "bent",
        "crack",
        "cracked",
        "truss",
        "doblada",
        "doblado",
        "torcida",
        "torcido",
        "grieta",
        "agrietada",
        "agrietado",
    ),
    "end-gun": ("end gun", "canon", "canon final"),
    "booster": ("booster", "booster pump", "bomba de refuerzo"),
    "power-unit": ("power unit", "engine", "motor"),
    "battery": ("battery", "batterie", "bateria", "acumulador"),
    "fuel-supply": ("fuel", "diesel", "fuel line", "fuel tank", "combustible", "tanque de diesel"),
    "drive-shaft": ("drive shaft", "driveshaft"),
    "pump": ("pump", "bomba"),
    "panel": ("panel", "tablero"),
    "filter": ("filter", "filtro"),
    "valve": ("valve", "valvula"),
    "air-vent": ("air vent", "vent", "ventosa"),
    "flush-valve": ("flush valve", "flush", "valvula de purga", "purga"),
    "header-leak": ("header leak", "riser leak", "fuga en cabezal", "fuga en el cabezal"),
    "meter": ("meter", "flow meter", "flowmeter", "medidor"),
    "nest": ("nest", "wasp", "bee", "nido", "avispa", "abeja"),
}

# The same word means another part elsewhere: where the point lies decides.
_ELSEWHERE: dict[tuple[str, str], str] = {
    ("leak", "pivot"): "span-leak",
    ("leak", "well"): "header-leak",
    ("drive-shaft", "pivot"): "driveline",
}
_AROUND_WORDS = {
    "drip": "on drip tape",
    "pivot": "on ground a pivot wets",
    "well": "at a well",
    "": "away from tape, pivots and wells",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Guess:
    """A kind of flag and why it was taken.

    Parameters
    ----------
    kind : str
        Name of the kind.
    why : str
        In plain words, such as ``guessed from "gopher" in the name``.
    stated : bool
        True when the file or the user named the kind itself.
    """

    kind: str
    why: str
    stated: bool = False


def guess_kind(texts: Mapping[str, str], *, kinds: Mapping[str, FlagKind], around: Around = "") -> Guess:
    """Return the kind of flag that a point most likely means.

    Parameters
    ----------
    texts : mapping of str to str
        The point's ``kind``, ``name``, ``symbol`` and ``note``, asked in that order; any may be missing.
    kinds : mapping of str to FlagKind
        Kinds of this farm.
    around : {"drip", "pivot", "well", ""}, default ""
        Where it lies.

    Returns
    -------
    Guess
        ``other-ground`` when no word tells.

    Examples
    --------
    >>> from ringrow.equipment.kinds import FLAG_KINDS
    >>> guess_kind({"name": "Fuga 3"}, kinds=FLAG_KINDS, around="pivot")
    Guess(kind='span-leak', why='guessed from "fuga" in the name, on ground a pivot wets', stated=False)
    """
    stated = {plain_words(name): name for name in kinds}
    named = stated.get(plain_words(texts.get("kind", "")))
    if named:
        return Guess(kind=named, why="as the file says", stated=True)
    pattern, meaning = _table(tuple(kinds))
    for part in ("kind", "name", "symbol", "note"):
        found = pattern.search(plain_words(texts.get(part, "")))
        if found is None:
            continue
        kind = meaning[found["word"]]
        here = _ELSEWHERE.get((kind, around))
        lies = f", {_AROUND_WORDS[around]}" if here in kinds else ""
        kind = here if here in kinds and here is not None else kind
        return Guess(kind=kind, why=f'guessed from "{found["word"]}" in the {part}{lies}')
    return Guess(kind="other-ground", why="no word told the kind")


@lru_cache(maxsize=8)
def _table(kinds: tuple[str, ...]) -> tuple[re.Pattern[str], dict[str, str]]:
    meaning = {plain_words(kind): kind for kind in kinds if not kind.startswith("other-")}
    meaning |= {plain_words(word): kind for kind, words in _WORDS.items() if kind in kinds for word in words}
    # Longest first: at one place in the text "wet spot" must win over "wet".
    words = "|".join(re.escape(word) for word in sorted(meaning, key=len, reverse=True))
    return re.compile(rf"\b(?P<word>{words})(?:e?s)?\b"), meaning

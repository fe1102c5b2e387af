"""Sentences that the layers below make in English, said again in the crew's language.

What a farm's files leave out is filled in and named by the reader of those files; what a person
said about a machine is kept in the season log. Neither may know of languages. Both are made of few
sentences, so here a text is matched against them and its parts are put into the translation.
"""

from __future__ import annotations

import re
from functools import cache
from typing import TYPE_CHECKING

from ringrow.handoff.languages import N_, _, spoken_language

if TYPE_CHECKING:
    from collections.abc import Iterable

SENTENCES: tuple[str, ...] = (
    # A place on a machine, as it was said.
    N_("tower {tower}"),
    N_("tower {tower}, drop {drop}"),
    N_("left tower {tower}"),
    N_("right tower {tower}"),
    N_("span {span}"),
    N_("left span {span}"),
    N_("right span {span}"),
    N_("outlet {outlet}"),
    N_("pivot point"),
    N_("pipe end"),
    N_("cart"),
    N_("steered wheels of the corner arm"),
    N_("{place}, inner-leading wheel"),
    N_("{place}, inner-trailing wheel"),
    N_("{place}, outer-leading wheel"),
    N_("{place}, outer-trailing wheel"),
    N_("{length} from the pivot point"),
    N_("left, {length} from the cart"),
    N_("right, {length} from the cart"),
    # What was taken for what no file states.
    N_("{assumed}, from [defaults]"),
    N_("{name} taken as {length}"),
    N_("overhang"),
    N_("throw"),
    N_("left overhang"),
    N_("right overhang"),
    N_("left throw"),
    N_("right throw"),
    N_("corner arm overhang"),
    N_("corner arm throw"),
    N_("setback"),
    N_("headland"),
    N_("end gun"),
    N_("corner arm end gun"),
    N_("{n} spans taken as {length} each: last tower at {last}, split evenly"),
    N_("left {n} spans taken as {length} each: last tower at {last}, split evenly"),
    N_("right {n} spans taken as {length} each: last tower at {last}, split evenly"),
    N_("{name} reach taken as {share} % of its wetted radius: {length}"),
    N_("{name} full wetted radius, for what it keeps off, taken as reach / {share}: {length}"),
    N_('{name} arcs taken as "auto"'),
    N_("gun arcs under {n} deg left out"),
    N_("panel zero taken as 0 deg"),
    N_("corner arm opening rate taken as {n} deg per deg of the main pipe"),
    N_("first lateral taken as {length} from the numbering edge, half the lateral spacing"),
    N_("laterals numbered from the north"),
    N_("laterals numbered from the west"),
    N_("header taken at the {side} end, where the heading starts"),
    N_("emitter exponent taken as 0.5"),
    N_("outlets not known: strip taken as 10 ft (3.05 m) wide"),
    N_("outlets not known: ring taken as 10 ft (3.05 m) wide"),
    # Pieces of dry ground, named by their numbers and corners.
    N_("dry {n}"),
    N_("{corners} corner"),
    N_("{corners} corner {n}"),
    N_("edge strips"),
    # Photos of a flag.
    N_("{file} (from {name})"),
    N_("{file} (from {name}; taken {time} UTC)"),
    N_("{file} (from {name}; NOT in this farm's folder)"),
    N_("{file} (from {name}; taken {time} UTC; NOT in this farm's folder)"),
    # A clock.
    N_("this computer's zone"),
    N_("{when}, this computer's zone)"),
    # Parts of those.
    N_("N"),
    N_("NE"),
    N_("E"),
    N_("SE"),
    N_("S"),
    N_("SW"),
    N_("W"),
    N_("NW"),
    N_("{n} ft"),
    N_("{n} in"),
)
"""What the layers below may say; a value may be another of these sentences."""

_VALUE = re.compile(r"\\{(\w+)\\}")


def said_again(text: str) -> str:
    """Return a text of the layers below in the spoken language.

    Parameters
    ----------
    text : str
        The text in English.

    Returns
    -------
    str
        The translation; the text itself when it is none of `SENTENCES`.

    Examples
    --------
    >>> from ringrow.handoff.languages import speaking
    >>> with speaking("es"):
    ...     said_again("overhang taken as 46 ft")
    'voladizo tomado como 46 pies'
    """
    if spoken_language() == "en":
        return text
    for sentence, pattern in _patterns():
        found = pattern.fullmatch(text)
        if found is not None:
            return _(sentence).format(
                **{name: said_again(value) for name, value in found.groupdict().items()}
            )
    # Compass points have messages of their own; several are joined by a plus.
    return "+".join(map(_, text.split("+"))) if text.replace("+", "").isalpha() else text


def assumed_words(assumed: Iterable[str]) -> str:
    """Return what was assumed as one text in the spoken language.

    Parameters
    ----------
    assumed : iterable of str
        What was assumed, in English.

    Returns
    -------
    str
        All of it, parted by semicolons.
    """
    return "; ".join(map(said_again, assumed))


@cache
def _patterns() -> tuple[tuple[str, re.Pattern[str]], ...]:
    """Return the sentences as patterns, those with most of their own words first."""

    def own_words(sentence: str) -> int:
        return len(re.sub(r"\{\w+\}", "", sentence))

    ordered = sorted(SENTENCES, key=own_words, reverse=True)
    return tuple(
        (sentence, re.compile(_VALUE.sub(r"(?P<\1>.+?)", re.escape(sentence)))) for sentence in ordered
    )

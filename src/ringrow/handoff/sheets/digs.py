"""Where to dig: the whole hint for every leak of a field, what holds for all of them said once."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ringrow.farm.dig_points import own_record
from ringrow.farm.leak_hints import flag_leak_hint
from ringrow.handoff.dig_words import dig_line
from ringrow.handoff.languages import _
from ringrow.handoff.leak_words import leak_lines
from ringrow.handoff.sheets.type import marked, words

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from ringrow.coverage.field import FieldLayout
    from ringrow.farm.dig_points import DigPoint
    from ringrow.farm.flag_model import LocatedFlag
    from ringrow.farm.model import Farm


def dig_sentences(
    farm: Farm,
    layouts: Sequence[FieldLayout],
    flags: Sequence[LocatedFlag],
    holes: Mapping[str, DigPoint],
) -> tuple[list[str], dict[int, list[str]]]:
    """Return the dig hints of some flags: what all of them say, and what each says beside it.

    Parameters
    ----------
    farm : Farm
        The farm.
    layouts : sequence of FieldLayout
        Its fields, laid out.
    flags : sequence of LocatedFlag
        The flags.
    holes : mapping of str to DigPoint
        Holes that were found, by flag; from them the farm's own distance to the hole.

    Returns
    -------
    shared : list of str
        Sentences that hold for every open leak.
    own : dict of int to list of str
        By the flag's number, sentences of its own; for a flag whose hole was found, where it is.
    """
    record = own_record(holes.values())
    hints: dict[int, list[str]] = {}
    found: dict[int, list[str]] = {}
    for flag in flags:
        if flag.state.id in holes:
            found[flag.state.number] = [dig_line(holes[flag.state.id], farm.units)]
            continue
        hint = flag_leak_hint(flag, farm, layouts, record=record) if flag.state.status == "open" else None
        if hint is not None:
            hints[flag.state.number] = _sentences(leak_lines(hint, farm.units))
    lists = list(hints.values())
    shared = (
        [line for line in lists[0] if all(line in lines for lines in lists[1:])] if len(lists) > 1 else []
    )
    own = {number: [line for line in lines if line not in shared] for number, lines in hints.items()}
    return shared, {number: lines for number, lines in (own | found).items() if lines}


def _sentences(lines: Sequence[str]) -> list[str]:
    """Return the lines of a hint without its headings, which stand less deep than what follows them."""
    deep = [len(line) - len(line.lstrip()) for line in lines]
    kept = zip(lines, deep, [*deep[1:], 0], strict=True)
    return [line.strip() for line, own, following in kept if following <= own]


def dig_block(
    farm: Farm,
    layouts: Sequence[FieldLayout],
    flags: Sequence[LocatedFlag],
    holes: Mapping[str, DigPoint],
) -> list[Any]:
    """Return where to dig at the flags of a field, as parts of a sheet.

    Parameters
    ----------
    farm : Farm
        The farm.
    layouts : sequence of FieldLayout
        Its fields, laid out.
    flags : sequence of LocatedFlag
        The field's flags, in the order of the stops.
    holes : mapping of str to DigPoint
        Holes that were found, by flag.

    Returns
    -------
    list
        Paragraphs; none without a flag to dig at.
    """
    shared, own = dig_sentences(farm, layouts, flags, holes)
    if not shared and not own:
        return []
    story = [words(f"<b>{_('To dig')}</b>", size=9, before=8)]
    if shared:
        at_each = " ".join(map(marked, shared))
        story.append(words(f"<b>{_('At each of them')}</b>: {at_each}", size=7, before=2))
    for number, lines in own.items():
        story.append(words(f"<b>{number}</b>: {' '.join(map(marked, lines))}", size=7, before=3))
    return story

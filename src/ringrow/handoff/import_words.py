"""What an import did, in lines and as plain values."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any

from ringrow.handoff.flag_history import value_words
from ringrow.handoff.number_words import length_words, one_line

if TYPE_CHECKING:
    from collections.abc import Mapping

    from ringrow.farm.import_model import ImportPlan, Outcome
    from ringrow.farm.readers.rows import PointFile
    from ringrow.units import UnitSystem

_RESULTS = ("new", "already there", "edited", "refused")


def import_lines(
    file: PointFile, plan: ImportPlan, numbers: Mapping[str, int], units: UnitSystem
) -> list[str]:
    """Return what became of a file's points: a line of counts, then one line a point.

    Parameters
    ----------
    file : PointFile
        What was read.
    plan : ImportPlan
        What became of it.
    numbers : mapping of str to int
        Local number of each flag.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    list of str
        Lines; points that were there already and say nothing new are only counted.
    """
    counts = Counter(outcome.result for outcome in plan.outcomes)
    total = len(plan.outcomes)
    tally = ", ".join(f"{counts[result]} {result}" for result in _RESULTS if counts[result])
    head = f"{one_line(file.file)}: {total} point{'' if total == 1 else 's'}" + (
        f": {tally}" if tally else ""
    )
    told = [
        outcome
        for outcome in plan.outcomes
        if outcome.result != "already there" or outcome.remarks or outcome.like
    ]
    return [head, *(f"  {_line(outcome, numbers, units)}" for outcome in told)]


def _line(outcome: Outcome, numbers: Mapping[str, int], units: UnitSystem) -> str:
    if outcome.record:
        # Said about a system: no flag and no number.
        return "; ".join(
            [
                f"{outcome.what}: {outcome.result} record ({one_line(outcome.record)})",
                *map(one_line, outcome.remarks),
            ]
        )
    number = numbers.get(outcome.flag)
    label = f" flag {number}" if number else " flag" if outcome.flag else ""
    parts = [f"{outcome.what}: {outcome.result}{label}"]
    if outcome.result == "new":
        parts.append(f"{one_line(outcome.kind)} ({one_line(outcome.why)})")
    elif outcome.why and outcome.result == "refused":
        parts.append(one_line(outcome.why))
    parts += [
        f"{edit.field} was {value_words(edit.field, edit.before, units)}, "
        f"now {value_words(edit.field, edit.after, units)}"
        for edit in outcome.edits
    ]
    parts += [one_line(remark) for remark in outcome.remarks]
    if outcome.like and outcome.like_m is not None:
        other = numbers.get(outcome.like)
        parts.append(
            f"same name as flag {other}, {length_words(outcome.like_m, units)} away; a point that moved "
            "comes in as a new flag: if both are one, set the wrong one to not-a-fault"
        )
    return "; ".join(parts)


def import_record(
    file: PointFile, plan: ImportPlan, numbers: Mapping[str, int], units: UnitSystem
) -> dict[str, Any]:
    """Return what became of a file as plain values.

    Parameters
    ----------
    file : PointFile
        What was read.
    plan : ImportPlan
        What became of it.
    numbers : mapping of str to int
        Local number of each flag.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    dict
        ``file``, ``form``, ``guessed``, counts, and ``points`` with what became of each.
    """
    counts = Counter(outcome.result for outcome in plan.outcomes)
    return {
        "file": file.file,
        "form": file.form,
        "guessed": list(file.said),
        **{result.replace(" ", "_"): counts[result] for result in _RESULTS},
        "points": [
            {
                "point": outcome.what,
                "result": outcome.result,
                "id": outcome.flag or None,
                "number": numbers.get(outcome.flag),
                "kind": outcome.kind or None,
                "record": outcome.record or None,
                "why": outcome.why or None,
                "edits": [
                    {"field": edit.field, "before": edit.before, "after": edit.after}
                    for edit in outcome.edits
                ],
                "remarks": list(outcome.remarks),
                "like": outcome.like or None,
                units.key("like_ft"): None if outcome.like_m is None else units.from_m(outcome.like_m),
            }
            for outcome in plan.outcomes
        ],
    }

"""Flags that may mark one fault: as JSON records and as a table."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ringrow.coverage.joint_chance import REPEAT_SHARE
from ringrow.handoff.languages import _
from ringrow.handoff.number_words import chance_words, length_words, one_line
from ringrow.handoff.place_words import flag_words
from ringrow.handoff.plain_table import TableBlock, block_text

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ringrow.farm.flag_model import LocatedFlag
    from ringrow.farm.proposals import Proposal
    from ringrow.units import UnitSystem


def proposal_record(proposal: Proposal, units: UnitSystem) -> dict[str, Any]:
    """Return two flags that may mark one fault as plain values.

    Parameters
    ----------
    proposal : Proposal
        The two.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    dict
        Numbers are not rounded; a distance that has no meaning, at a tower or a well, is None.
    """
    near = proposal.near
    return {
        "flags": [_flag_record(flag, units) for flag in (proposal.first, proposal.second)],
        units.key("apart_ft"): None if near.distance_m is None else units.from_m(near.distance_m),
        "p_value": near.p_value,
        "others": proposal.others,
        "chance": proposal.chance,
    }


def _flag_record(flag: LocatedFlag, units: UnitSystem) -> dict[str, Any]:
    return {
        "id": flag.state.id,
        "number": flag.state.number,
        "kind": flag.state.kind,
        "place": flag_words(flag, units),
    }


def proposal_table(proposals: Sequence[Proposal], units: UnitSystem, *, width: int | None) -> str:
    """Return pairs of flags that may mark one fault as a table, with what the chance rests on.

    Parameters
    ----------
    proposals : sequence of Proposal
        The pairs, in the order they are to be shown.
    units : UnitSystem
        The farm's units.
    width : int or None
        Columns of the terminal; None for plain lines. [-]

    Returns
    -------
    str
        The table, without a line break at the end.
    """
    block = TableBlock(
        title=_("Flags that may mark one fault"),
        head=(_("Flags"), _("Kinds"), _("Where the first is"), _("Apart"), _("Chance")),
        rows=[_row(proposal, units) for proposal in proposals],
        words=5,
    )
    return f"{block_text(block, width)}\n\n{prior_words()}"


def _row(proposal: Proposal, units: UnitSystem) -> tuple[str, ...]:
    first, second = proposal.first, proposal.second
    away = proposal.near.distance_m
    return (
        f"{first.state.number}, {second.state.number}",
        one_line(", ".join(dict.fromkeys((_(first.state.kind), _(second.state.kind))))),
        one_line(flag_words(first, units)),
        _("same part") if away is None else length_words(away, units),
        chance_words(proposal.chance),
    )


def prior_words() -> str:
    """Return what the chances rest on.

    Returns
    -------
    str
        One paragraph.
    """
    return _(
        "Taken before looking where they lie: {share} % of flags mark again what an earlier one marked, any "
        "of those of like kind alike; other faults lie anywhere on the field or machine alike. Faults that "
        "come in nests, as burrows do, are likelier to be two than this says."
    ).format(share=f"{100 * REPEAT_SHARE:.0f}")

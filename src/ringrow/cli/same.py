"""``ringrow same``: flags that may mark one fault, joined and taken apart again."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from ringrow.cli import flag_options, options

if TYPE_CHECKING:
    from pathlib import Path

    from ringrow.farm.model import Farm
    from ringrow.farm.proposals import Proposal


@click.command()
@options.farm_argument
@click.option(
    "--merge",
    nargs=2,
    metavar="NUMBER NUMBER",
    help="These two flags mark one fault: show them as one from now on.",
)
@click.option("--split", metavar="NUMBER", help="This flag is a fault of its own after all.")
@click.option(
    "--days",
    type=click.IntRange(1, 366),
    default=30,
    show_default=True,
    help="Longest time between the two, where they were not set in one round.",
)
@flag_options.by_option
@options.language_option
@options.json_option
def same(
    farm: Path,
    merge: tuple[str, str] | None,
    split: str | None,
    days: int,
    by: str,
    language: str | None,
    *,
    as_json: bool,
) -> None:
    """List flags that may mark one fault, each pair with its chance; join them, or take them apart.

    Two people on one round, or a photo beside a waypoint, often mark one fault twice. Pairs of
    like kind within their joint accuracy are listed: on the ground by distance, on a machine by
    the same tower or outlet, wherever it stood. Nothing is joined before --merge says so; the
    joined flag has one number and the history of both, and --split takes it back.

    \b
    Example:
        ringrow same my-farm
        ringrow same my-farm --merge 7 9 --by Walker
        ringrow same my-farm --split 9
    """  # noqa: D301 - the marks keep the example's lines apart
    from ringrow.farm.flags import find_flag
    from ringrow.farm.same_fault import merge_flags, split_flag
    from ringrow.farm.season import SEASON_FILE, open_season

    if merge and split:
        message = "found --merge and --split; give one of them"
        raise click.UsageError(message)
    loaded, layouts = options.read_farm(farm)
    if split:
        with open_season(farm / SEASON_FILE) as season:
            states = split_flag(season, split, stamp=flag_options.stamp_now(by, "same --split"))
        flag_options.show_flags(loaded, layouts, states, as_json=as_json)
        return
    if merge:
        proposals = _proposals(loaded, days)
        with open_season(farm / SEASON_FILE) as season:
            states = season.states()
            chance = _chance(proposals, {find_flag(states, ref).id for ref in merge})
            state = merge_flags(
                season, merge, chance=chance, stamp=flag_options.stamp_now(by, "same --merge")
            )
        if chance is None:
            options.say(
                "note: these two are not among the pairs that ringrow same lists (kinds not alike, too far "
                "apart, or set at different times); joined as you said; to take it back: "
                f"ringrow same FARM --split {merge[1]}"
            )
        flag_options.show_flags(loaded, layouts, [state], as_json=as_json)
        return
    with options.crew_language(loaded, language, as_json=as_json):
        _show(loaded, _proposals(loaded, days), as_json=as_json)


def _proposals(farm: Farm, days: int) -> list[Proposal]:
    from ringrow.coverage.layout import lay_out
    from ringrow.farm.flag_places import locate_flags
    from ringrow.farm.proposals import same_proposals
    from ringrow.farm.rebuilds import day_zone
    from ringrow.farm.season import SEASON_FILE, open_season
    from ringrow.farm.season_disk import log_exists

    path = farm.folder / SEASON_FILE
    if not log_exists(path):
        return []
    with open_season(path) as season:
        states, events = season.states(), season.events()
    layouts = [lay_out(field) for field in farm.fields]
    flags = locate_flags(farm, layouts, states)
    return same_proposals(flags, events, layouts, zone=day_zone(farm), days=days)


def _chance(proposals: list[Proposal], pair: set[str]) -> float | None:
    """Return the chance that was worked out for two flags, by their ids; None for a pair not proposed."""
    return next(
        (each.chance for each in proposals if {each.first.state.id, each.second.state.id} == pair), None
    )


def _show(farm: Farm, proposals: list[Proposal], *, as_json: bool) -> None:
    from ringrow.coverage.joint_chance import LEAST_P_VALUE, REPEAT_SHARE
    from ringrow.handoff.same_table import proposal_record, proposal_table

    if as_json:
        options.show_json(
            {
                "proposals": [proposal_record(each, farm.units) for each in proposals],
                "prior_repeat_share": REPEAT_SHARE,
                "least_p_value": LEAST_P_VALUE,
            }
        )
        return
    if proposals:
        click.echo(proposal_table(proposals, farm.units, width=options.width()))
        options.say("join two with: ringrow same FARM --merge NUMBER NUMBER")
    else:
        options.say("no two flags of like kind lie within their joint accuracy")

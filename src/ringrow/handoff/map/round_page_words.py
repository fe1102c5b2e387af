"""Words of the part of the page on which a round is walked."""

from __future__ import annotations

from ringrow.handoff.languages import _


def round_page_words() -> dict[str, str]:
    """Return what the page says while somebody walks a round.

    Returns
    -------
    dict of str to str
        By the script's own keys, in the spoken language.
    """
    return {**_list_words(), **_system_words(), **_answer_words(), **_reading_words(), **_kept_words()}


def _list_words() -> dict[str, str]:
    return {
        "round": _("Round"),
        "walk": _("Walk the round"),
        "round_line": _("Round {name}, started {day} by {who}, is open."),
        "no_round": _(
            "No round is open at the farm. What you say here is kept all the same and counts by its date."
        ),
        "cautions": _("Cautions of the walk"),
        "who": _("Your name, so that others can ask"),
        "who_is": _("As {who}"),
        "who_other": _("Somebody else"),
        "only_left": _("Only what is left"),
        "nothing_left": _("Nothing is left to look at."),
        "done_of": _("{done} of {all} done"),
        "all_done": _("All {all} done"),
        "bad_n": _("{n} not good"),
        "wells": _("Wells"),
        "typed": _("Typed there and not kept yet."),
        "all_systems": _("All systems"),
        "next_left": _("Next one left: {system}"),
    }


def _system_words() -> dict[str, str]:
    return {
        "from_tower": _("From tower"),
        "to_tower": _("to tower"),
        "left": _("left"),
        "right": _("right"),
        "zones": _("Which zone"),
        "all_zones": _("All zones"),
        "nothing_seen": _("Looked at, nothing seen"),
        "nothing_of": _("Looked at, nothing seen: {parts}"),
        "says_good_of": _("Says good of: {items}."),
        "not_by_tap": _("Tries and readings below are said one by one."),
        "except": _("Nothing seen, except…"),
        "caution": _("Caution: {text}"),
    }


def _answer_words() -> dict[str, str]:
    return {
        "good": _("Good"),
        "bad": _("Not good"),
        "none": _("None here"),
        "not_yet": _("Not yet"),
        "is_good": _("good"),
        "is_bad": _("not good"),
        "is_none": _("there is none"),
        "is_not_yet": _("not yet"),
        "part_is": _("{parts}: {answer}"),
        "by": _("{who}, {when}"),
        "not_said": _("name not said"),
        "what_wrong": _("What is wrong"),
        "why": _("Why it failed"),
        "next": _("Next step"),
        "whose": _("Whose it is"),
        "whose_unsaid": _("Not said yet"),
        "needed_by": _("Needed by"),
        "keep_it": _("Keep this"),
        "becomes": _("What becomes of it"),
        "set_flag": _("Set a flag for it"),
        "why_short": _("why: {why}"),
        "next_short": _("next step: {step}"),
        "whose_short": _("whose: {whose}"),
        "needed_short": _("needed by: {day}"),
        "bad_day": _("Say a date, such as 2027-04-01."),
    }


def _reading_words() -> dict[str, str]:
    return {
        "limits_both": _("Good from {low} to {high}."),
        "limits_low": _("Good at {low} and more."),
        "limits_high": _("Good up to {high}."),
        "number": _("Number read"),
        "unit": _("Unit"),
        "state": _("The machine is"),
        "walking": _("Walking"),
        "idle": _("Idle"),
        "value_walking": _("{value}, walking"),
        "value_idle": _("{value}, idle"),
        "zone": _("Zone"),
        "keep_reading": _("Keep this reading"),
        "keep_correction": _("Keep the correction"),
        "read_within": _("{value}: good, {low} to {high}"),
        "read_least": _("{value}: good, at least {low}"),
        "read_most": _("{value}: good, at most {high}"),
        "read_below": _("{value}: too low, at least {low}"),
        "read_above": _("{value}: too high, at most {high}"),
        "read_kept": _("kept; there is nothing to judge it against"),
        "read_unjudged": _("{value}; {why}"),
        "open_item": _("This becomes an open item."),
        "bad_number": _("Type the number as it is read, such as 478."),
        "bad_range": _("Say a number from {low} to {high} {unit}."),
        "ask_state": _("Say whether it walks or is idle: the motors pull the volts down."),
        "not_asked": _(
            "Not asked here: only a qualified person reads this, and the panel door stays shut. The reading "
            "is written down at the farm."
        ),
        "ask_zone": _("{item}, {zone}"),
    }


def _kept_words() -> dict[str, str]:
    return {
        "said_of_it": _("Said of it in this round"),
        "nothing_said": _("Nothing yet."),
        "seen_short": _("nothing seen"),
        "except_short": _("nothing seen, except {what}"),
        "flag_short": _("flag set: {what}"),
        "of_tower": _("tower {parts}"),
        "of_towers": _("towers {parts}"),
        "of_zones": _("zone {parts}"),
        "correct": _("Correct it"),
        "cancel": _("Cancel"),
        "take_back": _("Take back"),
        "take_back_what": _("Take back: {what}"),
        "correct_what": _("Correct: {what}"),
        "kept": _("{what}: kept on this phone. It is in no file yet."),
        "already": _("That is kept already."),
        "gone": _("Taken back: {what}."),
        "clash": _("Two people corrected this in two ways. What you say now settles it."),
        "on_phone": _("on this phone"),
        "did": _("{system}: {what}"),
        "did_undo": _("{system}: taken back"),
        "did_record": _("Said of a system: {type}"),
    }

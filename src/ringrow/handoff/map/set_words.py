"""Words of the part of the page that writes: set a flag, change it, send it back."""

from __future__ import annotations

from ringrow.handoff.languages import _, counted


def setting_words() -> dict[str, str]:
    """Return what the page says while somebody sets, changes and sends back flags.

    Returns
    -------
    dict of str to str
        By the script's own keys, in the spoken language. Keys that end in ``_1`` and ``_n`` are
        two forms of one message: for one, and for any other number.
    """
    return {**_place_words(), **_form_words(), **_keep_words(), **_send_words(), **_counts()}


def _place_words() -> dict[str, str]:
    return {
        "set": _("Set a flag"),
        "on_what": _("What is it on?"),
        "ground": _("On the ground"),
        "machine": _("On a machine"),
        "well": _("At a well"),
        "ground_hint": _("Hole, leak, rut: it stays where it is."),
        "machine_hint": _("Tire, gearbox, sprinkler: it walks on with the machine."),
        "well_hint": _("Engine, pump, panel, filter."),
        "placing": _("Tap the place, or move the map under the cross."),
        "placing_hole": _("Tap where the hole was, or move the map under the cross."),
        "here_centre": _("At the cross"),
        "here_me": _("Where I stand"),
        "cancel": _("Cancel"),
        "waiting": _("Looking for your position…"),
        "no_gps": _("This browser gives no position here. Tap the place on the map."),
        "gps_refused": _("The browser was told not to give the position. Tap the place on the map."),
        "gps_failed": _("No position came. Step into the open and try again, or tap the place on the map."),
        "gps_coarse": _(
            "The position is good to {accuracy} only. Tap the place on the map if you see it there."
        ),
        "place": _("Place"),
        "place_tap": _("Tapped on the map, good to about {accuracy}."),
        "place_centre": _("Under the cross, good to about {accuracy}."),
        "place_position": _("Your position, good to {accuracy}."),
        "other_place": _("Another place"),
        "which_machine": _("Machine"),
        "propose": _("By where I stand"),
        "proposed": _("Nearest here: {machine}, tower {tower}. Look whether that is right."),
        "proposed_side": _("Nearest here: {machine}, {side} tower {tower}. Look whether that is right."),
        "nothing_near": _("No machine reaches this place. Choose it in the list."),
        "said_how": _("Where on it"),
        "at_tower": _("At a tower"),
        "at_drop": _("At a drop"),
        "at_distance": _("By distance"),
        "tower": _("Tower"),
        "tower_n": _("Tower {number}"),
        "arm_wheels": _("Steered wheels of the corner arm"),
        "wheel": _("Wheel"),
        "no_wheel": _("The tower itself"),
        "inner-leading": _("Inner wheel, leading when it walks clockwise"),
        "inner-trailing": _("Inner wheel, trailing when it walks clockwise"),
        "outer-leading": _("Outer wheel, leading when it walks clockwise"),
        "outer-trailing": _("Outer wheel, trailing when it walks clockwise"),
        "inner-leading-move": _("Inner wheel, leading in its travel"),
        "inner-trailing-move": _("Inner wheel, trailing in its travel"),
        "outer-leading-move": _("Outer wheel, leading in its travel"),
        "outer-trailing-move": _("Outer wheel, trailing in its travel"),
        "drop_count": _("Drops counted from that tower"),
        "drop_hint": _("1, 2, 3 past the tower, outward; -1, -2 before it, toward the pivot point."),
        "distance_pivot": _("Distance from the pivot point along the pipe, {unit}"),
        "distance_cart": _("Distance from the cart, {unit}"),
        "side": _("Side of the cart, looking along its travel"),
        "left": _("Left"),
        "right": _("Right"),
        "stands_here": _("The machine stands here now"),
        "which_well": _("Well"),
        "at_tower_words": _("{machine}: tower {tower}"),
        "at_arm_words": _("{machine}: steered wheels of the corner arm"),
        "at_wheel_words": _("{place}, {wheel}"),
        "at_drop_words": _("{machine}: tower {tower}, drop {drop}"),
        "at_distance_words": _("{machine}: {distance} out"),
        "at_side_words": _("{machine}: {side} tower {tower}"),
        "at_side_distance_words": _("{machine}: {side}, {distance} from the cart"),
        "bad_drop": _("Tower {tower} has drops {allowed}."),
        "no_drops": _("Nobody wrote down the drops of this machine. Say a distance."),
        "bad_distance": _("Say a distance from 0 to {most} {unit}."),
    }


def _form_words() -> dict[str, str]:
    return {
        "kind": _("What is wrong"),
        "kinds_ground": _("On the ground"),
        "kinds_machine": _("On a machine"),
        "kinds_works": _("At a well, header or riser"),
        "choose": _("Choose"),
        "choose_kind": _("Choose what is wrong."),
        "note": _("Note"),
        "photo": _("Photo"),
        "photo_take": _("Take a photo"),
        "photo_pick": _("Choose a photo"),
        "photo_ready": _("{name}: {width} by {height} points, {kb} kB"),
        "photo_wait": _("Making the photo small…"),
        "photo_bad": _(
            "{name} is no photo that this browser can read. Choose another, or send it by itself."
        ),
        "photo_not_kept": _("This browser cannot keep photos here. Send the photo by itself."),
        "photo_gone": _("Leave this photo out"),
        "who": _("Your name, so that others can ask"),
        "who_is": _("As {who}"),
        "who_other": _("Somebody else"),
        "save_new": _("Set this flag"),
        "save": _("Save"),
        "change": _("Change flag {number}"),
        "status": _("How it is now"),
        "open": _("Open: still to do"),
        "fixed": _("Fixed: somebody says so"),
        "checked": _("Checked: seen to hold"),
        "not-a-fault": _("Not a fault"),
        "parts": _("Parts used on this visit"),
        "part": _("Part, with its size"),
        "quantity": _("How many"),
        "more_parts": _("One more part"),
        "parts_before": _("Used before: {list}."),
        "bad_parts": _("Each part needs its name and a whole number of 1 or more."),
        "dig": _("Hole found"),
        "dig_mark": _("Mark where the hole was"),
        "dig_known": _("The hole is marked."),
        "ground_flag": _("Flag on a wire in the ground"),
        "ground_unsaid": _("Not said"),
        "ground_set": _("It stands there"),
        "ground_pulled": _("It was pulled"),
        "begun": _("A flag was begun and is not kept: press Set a flag to go on."),
        "begun_is": _("Begun and not kept: {what}. A photo has to be taken again."),
        "go_on": _("Go on with it"),
        "throw_begun": _("Throw it away"),
        "nothing_new": _("Nothing was changed."),
        "was_set": _("Flag {number} is set and kept on this phone. It is in no file yet."),
        "was_changed": _("Flag {number} is changed and kept on this phone. It is in no file yet."),
        "was_taken_back": _("Taken back: {what}."),
        "title": _("Flag {number}: {kind}"),
        "changed_here": _("Changed on this phone."),
        "set_here": _("Set on this phone."),
        "hole_here": _("The hole is marked on this phone."),
        "used_here": _("Parts: {list}."),
        "photos_here": _("Photos on this phone: {count}."),
        "clash_here": _("Somebody else set this too: {field}. The later one is shown."),
        "field_status": _("how it is"),
        "field_kind": _("what is wrong"),
        "field_note": _("note"),
        "field_dig": _("where the hole is"),
        "field_ground_flag": _("flag on a wire"),
        "stake_set": _("A flag on a wire stands in the ground."),
        "stake_pulled": _("The flag on a wire was pulled."),
    }


def _keep_words() -> dict[str, str]:
    return {
        "all_saved": _("Everything you changed is in a file."),
        "none": _("Nothing was changed on this phone."),
        "full": _(
            "NOT KEPT: the browser's store on this phone is full. Send back now, then clear the changes "
            "that are in a file, and do this one again."
        ),
        "refused": _(
            "This browser keeps nothing for this page. What you change is lost when the page closes: "
            "send back before that."
        ),
        "slow": _("The browser's store is slow and can be emptied: the file you send back is the record."),
    }


def _send_words() -> dict[str, str]:
    return {
        "send": _("Send back"),
        "what_changed": _("What was changed"),
        "nothing_to_send": _("There is nothing to send back yet."),
        "building": _("Making the file…"),
        "file_is": _("File: {name}, {kb} kB"),
        "share": _("Send by message or mail"),
        "download": _("Save the file on this phone"),
        "copy": _("Copy the text"),
        "copied": _("Copied. Paste it into a message."),
        "not_copied": _("The browser did not copy. Hold a finger on the text, choose all and copy."),
        "text": _("The file as text, for a message"),
        "text_too_long": _(
            "With its photos the file is too long for a message as text: {kb} kB. Send the file, or the "
            "text without photos."
        ),
        "text_sent": _("The text is sent: count it as in a file"),
        "with_photos": _("Photos that went before, too"),
        "not_fitting": _(
            "Photos that do not fit into one file of {mb} MB: {count}. Save this one, then send back once "
            "more for the rest."
        ),
        "photo_lost": _("Photos that are no longer on this phone: {count}. Their flags go without them."),
        "saved_as": _("In a file: {name}. Send it to the farm, then look whether it arrived."),
        "share_failed": _("Nothing was sent. Save the file and attach it to a message."),
        "take_back": _("Take back the last change"),
        "taken_back": _("taken back"),
        "in_file": _("in a file"),
        "in_no_file": _("in no file"),
        "on_map": _("on this map already"),
        "clear": _("Clear what is in a file"),
        "clear_warning": _(
            "Did the file arrive? Ask first. Cleared changes are gone from this phone, and this map shows "
            "the flags as they were, until you get a new map."
        ),
        "clear_yes": _("It arrived: clear {count}"),
        "clear_none": _("No change is in a file yet: there is nothing to clear."),
        "clear_unsaved": _("Also throw away what is in no file"),
        "clear_unsaved_warning": _("These changes are nowhere else. They would be lost for good: {count}."),
        "clear_unsaved_yes": _("Throw away {count} for good"),
        "keep": _("Keep them"),
        "cleared": _("Cleared: {count}. Still in no file: {left}."),
        "did_set": _("Flag {number} set: {kind}"),
        "did_status": _("Flag {number}: {status}"),
        "did_kind": _("Flag {number} is now: {kind}"),
        "did_note": _("Flag {number}, note: {note}"),
        "did_photo": _("Flag {number}: a photo"),
        "did_parts": _("Flag {number}, parts: {list}"),
        "did_dig": _("Flag {number}: hole marked"),
        "did_ground_set": _("Flag {number}: wire flag stands"),
        "did_ground_pulled": _("Flag {number}: wire flag pulled"),
        "did_other": _("Flag {number}: {field}"),
        "did_undo": _("Flag {number}: taken back"),
        "gone_flag": _("of another map"),
    }


def _counts() -> dict[str, str]:
    return {
        "unsaved_1": counted("{n} change is in no file", "{n} changes are in no file", 1),
        "unsaved_n": counted("{n} change is in no file", "{n} changes are in no file", 2),
        "kept_1": counted("{n} change is kept on this phone.", "{n} changes are kept on this phone.", 1),
        "kept_n": counted("{n} change is kept on this phone.", "{n} changes are kept on this phone.", 2),
    }


def photo_way_lines() -> list[str]:
    """Return how to report faults with nothing but a camera, for who has no script on the page.

    Returns
    -------
    list of str
        One sentence or two each.
    """
    return [
        _(
            "This page runs without its scripts here, so flags cannot be set on it. Report with the camera "
            "instead; nothing is lost."
        ),
        _("Turn the camera's location on. Take one photo a fault, close enough to see it."),
        _(
            "Give each photo a caption, or send it with one line: machine, tower and what is wrong, such as "
            '"P3 T5 gearbox"; on the ground only what it is, such as "leak".'
        ),
        _("Send the photos as files, not as small pictures, so that they keep their place and time."),
        _("At the farm: put them into one folder, then"),
    ]

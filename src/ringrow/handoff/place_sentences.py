"""Sentences about places, as tables; `place_words` picks and fills them in."""

from __future__ import annotations

from ringrow.handoff.languages import N_

PARTS = {
    "span": N_("under span {span}"),
    "overhang": N_("past the last tower, under the overhang"),
    "throw": N_("past the pipe end, within throw of the last sprinkler"),
    "gun": N_("past the pipe end, within reach of the end gun"),
    "beyond": N_("beyond its water"),
    "arm": N_("past the last tower, under the corner arm"),
}
DRY_PARTS = {
    "span": N_("as far out as span {span}, where this machine does not walk"),
    "overhang": N_("as far out as the overhang, where this machine does not walk"),
    "throw": N_("as far out as the throw of the last sprinkler, where it does not reach"),
    "gun": N_("as far out as the end gun reaches, where it does not run"),
    "beyond": N_("beyond its water"),
    "arm": N_("as far out as the corner arm"),
}
MOVE_PARTS = {
    "span": N_("under span {span} on the {side}"),
    "overhang": N_("past the last tower on the {side}, under the overhang"),
    "throw": N_("past the pipe end on the {side}, within throw of the last sprinkler"),
    "beyond": N_("beyond its water"),
}
DRY_MOVE_PARTS = {
    "span": N_("as far from the cart as span {span} on the {side}, past an end of its path"),
    "overhang": N_("as far from the cart as the overhang on the {side}, past an end of its path"),
    "throw": N_("as far from the cart as the throw on the {side}, past an end of its path"),
    "beyond": N_("beyond its water"),
}
PART_NAMES = {
    "overhang": N_("overhang"),
    "throw": N_("throw"),
    "gun": N_("gun"),
    "beyond": N_("beyond"),
    "arm": N_("arm"),
}
MOVE_PART_NAMES = {
    ("left", "overhang"): N_("left overhang"),
    ("left", "throw"): N_("left throw"),
    ("left", "beyond"): N_("left beyond"),
    ("right", "overhang"): N_("right overhang"),
    ("right", "throw"): N_("right throw"),
    ("right", "beyond"): N_("right beyond"),
}
SIDES = {"left": N_("left"), "right": N_("right")}
SIDE_TOWERS = {"left": N_("left tower {tower}"), "right": N_("right tower {tower}")}
SIDE_SPANS = {"left": N_("left span {span}"), "right": N_("right span {span}")}
OFF_CART = {"left": N_("{length} left of the cart"), "right": N_("{length} right of the cart")}
TRACK = (
    N_("on its wheel track"),
    N_("{size} outside its wheel track"),
    N_("{size} inside its wheel track"),
)
TOWERS_TRACK = (
    N_("on the track of tower {tower}"),
    N_("{size} outside the track of tower {tower}"),
    N_("{size} inside the track of tower {tower}"),
)
NEAREST_TRACK = (
    N_("nearest tower {tower}: on its wheel track"),
    N_("nearest tower {tower}: {size} outside its wheel track"),
    N_("nearest tower {tower}: {size} inside its wheel track"),
)
LEFT_TRACK = (
    N_("nearest tower {tower} left: on its wheel track"),
    N_("nearest tower {tower} left: {size} outside its wheel track"),
    N_("nearest tower {tower} left: {size} inside its wheel track"),
)
RIGHT_TRACK = (
    N_("nearest tower {tower} right: on its wheel track"),
    N_("nearest tower {tower} right: {size} outside its wheel track"),
    N_("nearest tower {tower} right: {size} inside its wheel track"),
)
ARM_WHEELS = (
    N_("{length} along the corner arm from its hinge, at its steered wheels"),
    N_("{length} along the corner arm from its hinge, {size} outside its steered wheels"),
    N_("{length} along the corner arm from its hinge, {size} inside its steered wheels"),
)
BENT = {
    "stop": N_("past the stop: the spans past tower {tower} have walked on {turned} degrees"),
    "start": N_("past the start: the spans past tower {tower} have walked on {turned} degrees"),
}
INTO_BEND = {
    "stop": N_("past the stop, {turned} degrees into the bend"),
    "start": N_("past the start, {turned} degrees into the bend"),
}
WETS = N_("{name} (wets this place)")
WETS_NOT = N_("{name} (does not wet this place)")

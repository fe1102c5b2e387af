"""The usual cautions, in short sentences of our own; docs/cautions.md names where they come from."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """One danger and what to do about it.

    Parameters
    ----------
    key : str
        Short name, the same as in docs/cautions.md.
    title : str
        What it is about, two or three words.
    text : str
        What to do and what to leave alone.
    """

    key: str
    title: str
    text: str


GENERAL: tuple[Caution, ...] = (
    Caution(
        key="power",
        title="Power off, locked, tested",
        text="Lock the power off and have a qualified person test that it is off before anybody opens "
        "a panel or a tower box.",
    ),
    Caution(
        key="start",
        title="It can start by itself",
        text="A machine can start from a timer, a phone or another panel. Switch remote start off, let one "
        "person hold the start, and walk a machine only when everybody is clear.",
    ),
    Caution(
        key="shock",
        title="Wet machine, tingle, open cover",
        text="Treat a wet machine, a tingle or a missing cover as live. Do not touch it. Keep others away, "
        "and get the power off at the source by somebody who may do it.",
    ),
    Caution(
        key="shafts",
        title="Drive shafts and moving parts",
        text="A shaft may turn with the clutch out, and a tower may move. Engine off and key out first; hair "
        "and sleeves tied; shields back on before it runs.",
    ),
    Caution(
        key="dig",
        title="Before you dig",
        text="In the United States call 811 and wait as your state's law says; dig by hand near the marks. "
        "Private lines, such as your own wires, pipe and tape, are not marked. This map is no locate.",
    ),
    Caution(
        key="pressure",
        title="Water under pressure",
        text="Shut the valve, drain the line and see the pressure gone before you open a pipe, filter or "
        "riser. If chemicals or fertilizer were fed in, find out what is in the line first.",
    ),
    Caution(
        key="gas",
        title="Smell of gas",
        text="Leave, upwind and on foot. Start nothing, switch nothing, and call from far away. The valve at "
        "the supplier's meter is the supplier's.",
    ),
    Caution(
        key="alone",
        title="Alone out there",
        text="Tell somebody where you go and when you will call. Nobody climbs a machine or works under "
        "overhead lines alone.",
    ),
)
"""Cautions for any work on irrigation machines, wells and buried tape."""

CLOSING = "Local codes and licensed people come first."
"""The sentence that ends every list of cautions."""

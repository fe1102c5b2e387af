"""The usual cautions, in short sentences of our own; docs/cautions.md names where they come from."""

from __future__ import annotations

from dataclasses import dataclass

from ringrow.handoff.languages import N_, _


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """One danger and what to do about it.

    Parameters
    ----------
    key : str
        Short name, the same as in docs/cautions.md.
    title : str
        What it is about, two or three words; English, a message of the catalogs.
    text : str
        What to do and what to leave alone; likewise.
    """

    key: str
    title: str
    text: str


def caution_words(caution: Caution) -> str:
    """Return a caution as one text in the crew's language.

    Parameters
    ----------
    caution : Caution
        The caution.

    Returns
    -------
    str
        What it is about, a colon, and what to do.
    """
    return f"{_(caution.title)}: {_(caution.text)}"


GENERAL: tuple[Caution, ...] = (
    Caution(
        key="power",
        title=N_("Power off, locked, tested"),
        text=N_(
            "Lock the power off and have a qualified person test that it is off before anybody opens "
            "a panel or a tower box."
        ),
    ),
    Caution(
        key="start",
        title=N_("It can start by itself"),
        text=N_(
            "A machine can start from a timer, a phone or another panel. Switch remote start off, let one "
            "person hold the start, and walk a machine only when everybody is clear."
        ),
    ),
    Caution(
        key="shock",
        title=N_("Wet machine, tingle, open cover"),
        text=N_(
            "Treat a wet machine, a tingle or a missing cover as live. Do not touch it. Keep others away, "
            "and get the power off at the source by somebody who may do it."
        ),
    ),
    Caution(
        key="shafts",
        title=N_("Drive shafts and moving parts"),
        text=N_(
            "A shaft may turn with the clutch disengaged, and a tower may move. Engine off and key out "
            "first; hair and sleeves tied; shields back on before it runs."
        ),
    ),
    Caution(
        key="dig",
        title=N_("Before you dig"),
        text=N_(
            "In the United States call 811 and wait as your state's law says; dig by hand near the marks. "
            "Private lines, such as your own wires, pipe and tape, are not marked. This map is no locate."
        ),
    ),
    Caution(
        key="pressure",
        title=N_("Water under pressure"),
        text=N_(
            "Shut the valve, drain the line and see the pressure gone before you open a pipe, filter or "
            "riser. If chemicals or fertilizer were fed in, find out what is in the line first."
        ),
    ),
    Caution(
        key="gas",
        title=N_("Smell of gas"),
        text=N_(
            "Leave, upwind and on foot. Start nothing, switch nothing, and call from far away. The valve at "
            "the supplier's meter is the supplier's."
        ),
    ),
    Caution(
        key="alone",
        title=N_("Alone out there"),
        text=N_(
            "Tell somebody where you go and when you will call. Nobody climbs a machine or works under "
            "overhead lines alone."
        ),
    ),
)
"""Cautions for any work on irrigation machines, wells and buried tape."""

CLOSING = N_("Local codes and licensed people come first.")
"""The sentence that ends every list of cautions."""

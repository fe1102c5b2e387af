"""Flag symbols: one shape a status, in points about the flag's own place."""

from __future__ import annotations

from html import escape

from ringrow.handoff.languages import N_

SHAPES: dict[str, tuple[tuple[float, float], ...]] = {
    "open": ((0.0, -22.0), (22.0, 16.0), (-22.0, 16.0)),
    "fixed": ((0.0, -20.0), (20.0, 0.0), (0.0, 20.0), (-20.0, 0.0)),
    "not-a-fault": ((-15.0, -15.0), (15.0, -15.0), (15.0, 15.0), (-15.0, 15.0)),
}
"""Corners of each symbol, x right and y down [px]; a checked flag is a circle."""

CIRCLE_RADIUS = 17.0
"""Radius of the circle of a checked flag [px]."""

FILLS: dict[str, str] = {
    "open": "#d55e00",
    "fixed": "#f0e442",
    "checked": "#0072b2",
    "not-a-fault": "#ffffff",
}
"""Fills: vermillion, yellow and blue of the Okabe-Ito set, which stay apart for every kind of colour
vision; a hollow square for what is no fault."""

INKS: dict[str, str] = {"open": "#000000", "fixed": "#000000", "checked": "#ffffff", "not-a-fault": "#000000"}
"""Colour of the number on each fill; at least 5 to 1."""

TEXT_DOWN: dict[str, float] = {"open": 11.0, "fixed": 5.5, "checked": 5.5, "not-a-fault": 5.5}
"""How far below the centre the number's foot stands [px]."""

STATUS_WORDS: dict[str, str] = {
    "open": N_("Open"),
    "fixed": N_("Fixed (somebody says so)"),
    "checked": N_("Checked (seen to hold)"),
    "not-a-fault": N_("Not a fault"),
}
"""What each status is called on the page."""


def symbol_svg(
    status: str, number: str, *, x: float = 0.0, y: float = 0.0, scale: float = 1.0, flag_id: str = ""
) -> str:
    """Return one flag symbol as an SVG group.

    Parameters
    ----------
    status : str
        Status of the flag; an unknown one is drawn as open.
    number : str
        Label inside.
    x, y : float, default 0
        Where its centre stands. [px]
    scale : float, default 1
        Size; 1 is 44 px wide. [-]
    flag_id : str, default ""
        Id of the flag, by which a script finds its symbol.

    Returns
    -------
    str
        SVG text: white halo, black edge, fill, number.

    Examples
    --------
    >>> symbol_svg("checked", "7").count("<circle")
    2
    """
    status = status if status in FILLS else "open"
    halo, edge = (_outline(status, f'class="{name}" fill="{FILLS[status]}"') for name in ("halo", "edge"))
    size = 16 if len(number) < 3 else 12
    own = f' data-of="{escape(flag_id)}"' if flag_id else ""
    return (
        f'<g class="flag" transform="translate({x:.1f} {y:.1f}) scale({scale:g})"{own}>{halo}{edge}'
        f'<text y="{TEXT_DOWN[status]:g}" font-size="{size}" fill="{INKS[status]}">{escape(number)}</text>'
        "</g>"
    )


def symbol_icon(status: str, number: str, *, size_px: int = 40) -> str:
    """Return one flag symbol as a small drawing of its own, for tables and the key.

    Parameters
    ----------
    status : str
        Status of the flag.
    number : str
        Label inside.
    size_px : int, default 40
        Width and height. [px]

    Returns
    -------
    str
        An SVG element hidden from screen readers; the words stand beside it.
    """
    return (
        f'<svg class="icon" width="{size_px}" height="{size_px}" viewBox="-26 -27 52 52" aria-hidden="true">'
        f"{symbol_svg(status, number)}</svg>"
    )


def _outline(status: str, attributes: str) -> str:
    if status == "checked":
        return f'<circle r="{CIRCLE_RADIUS:g}" {attributes}/>'
    points = " ".join(f"{x:g},{y:g}" for x, y in SHAPES[status])
    return f'<polygon points="{points}" {attributes}/>'

"""The symbol of a flag on a printed sheet."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ringrow.handoff.map.symbols import SHAPES
from ringrow.handoff.sheets.type import BOLD

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

    from ringrow.farm.flag_model import LocatedFlag

FLAG_PT = 7.5
"""Half the width of a flag's symbol [pt]."""


def draw_symbol(pen: Canvas, flag: LocatedFlag, x: float, y: float) -> None:
    """Draw the symbol of a flag, its shape by status, with its number inside.

    Parameters
    ----------
    pen : Canvas
        Where to draw.
    flag : LocatedFlag
        The flag.
    x, y : float
        Its centre on the page. [pt]
    """
    pen.saveState()
    pen.translate(x, y)
    pen.setLineWidth(1.0)
    pen.setStrokeGray(0)
    pen.setFillGray(1)
    corners = SHAPES.get(flag.state.status)
    if corners is None and flag.state.status == "checked":
        pen.circle(0, 0, FLAG_PT, stroke=1, fill=1)
    else:
        path = pen.beginPath()
        scaled = [(px * 0.44, -py * 0.44) for px, py in corners or SHAPES["open"]]
        path.moveTo(*scaled[0])
        for corner in scaled[1:]:
            path.lineTo(*corner)
        path.close()
        pen.drawPath(path, stroke=1, fill=1)
    number = str(flag.state.number)
    pen.setFillGray(0)
    size = {1: 7.5, 2: 7.0}.get(len(number), 5.0)
    pen.setFont(BOLD, size)
    down = -5.4 if flag.state.status not in ("fixed", "checked", "not-a-fault") else -2.5
    pen.drawCentredString(0, down, number)
    pen.restoreState()

"""Where symbols and labels go so that none hides another."""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, hypot, pi, sin
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    Spot = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """An upright rectangle on the drawing, y down.

    Parameters
    ----------
    left, top, right, bottom : float
        Its sides. [px]
    """

    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: Box) -> bool:
        """Return whether two boxes share ground.

        Parameters
        ----------
        other : Box
            The other box.

        Returns
        -------
        bool
            False when they only touch.
        """
        return (
            self.left < other.right
            and other.left < self.right
            and self.top < other.bottom
            and other.top < self.bottom
        )


def spread(spots: Sequence[Spot], *, gap: float, fixed: Sequence[Spot] = ()) -> list[Spot]:
    """Return places for symbols so that no two stand closer than `gap` where that can be helped.

    A symbol with no other near keeps its own spot; the rest, first ones first, take theirs or
    the nearest free place on rings about it.

    Parameters
    ----------
    spots : sequence of (float, float)
        Where the symbols belong, x and y. [px]
    gap : float
        Distance between the centres of two symbols. [px]
    fixed : sequence of (float, float), default ()
        Where something else stands that must be seen too, such as a well. [px]

    Returns
    -------
    list of (float, float)
        Where to draw them, in the same order. [px]

    Examples
    --------
    >>> spread([(0.0, 0.0), (0.0, 0.0)], gap=40)
    [(0.0, 0.0), (40.0, 0.0)]
    """
    alone = [
        _free(spot, [*fixed, *spots[:index], *spots[index + 1 :]], gap) for index, spot in enumerate(spots)
    ]
    placed = {index: spot for index, spot in enumerate(spots) if alone[index]}
    for index, spot in enumerate(spots):
        if not alone[index]:
            others = [*fixed, *placed.values()]
            placed[index] = next((at for at in _choices(spot, gap) if _free(at, others, gap)), spot)
    return [placed[index] for index in range(len(spots))]


def _choices(spot: Spot, gap: float) -> list[Spot]:
    x, y = spot
    turns = [2 * pi * step / 16 for step in range(16)]
    reaches = [gap * half / 2 for half in range(1, 9)]
    return [spot, *((x + far * cos(turn), y + far * sin(turn)) for far in reaches for turn in turns)]


def _free(at: Spot, placed: Sequence[Spot], gap: float) -> bool:
    return all(hypot(at[0] - x, at[1] - y) >= gap - 1e-6 for x, y in placed)


def label_box(text_lines: Sequence[str], at: Spot, *, size: float) -> Box:
    """Return the box that a centred label of some lines takes up.

    Parameters
    ----------
    text_lines : sequence of str
        Lines of the label.
    at : (float, float)
        Centre of the label. [px]
    size : float
        Font size. [px]

    Returns
    -------
    Box
        A box a little larger than the text; width by a mean of 0.6 of the size a letter.
    """
    half_width = 0.31 * size * max(len(line) for line in text_lines) + 2
    half_height = 0.6 * size * len(text_lines)
    return Box(
        left=at[0] - half_width,
        top=at[1] - half_height,
        right=at[0] + half_width,
        bottom=at[1] + half_height,
    )

"""Which piece of tape is nearest to a place, for any number of places at once.

Straight laterals are evenly spaced, so the nearest one is a division and a rounding away. Only where
the place lies beside no tape of that lateral (in a gap, past an end) can another lateral be
nearer, and only there is it looked for, among neighbouring pieces bundled with their bounds.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ringrow.errors import DomainError
from ringrow.geometry.curved_grid import CurvedGrid
from ringrow.geometry.curved_nearest import nearest_on_curves

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from ringrow.geometry.lateral_grid import LateralGrid
    from ringrow.geometry.lateral_rows import LateralRows

TIE_M = 1e-9
"""Distances that differ by less than this [m] are equal: the lower number wins."""
_BLOCK = 32_768
"""Points worked at once: their arrays stay in the processor's cache."""
_ROUNDING = 1e-6
"""Part of an emitter spacing that rounding may be off by."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class NearestPieces:
    """The nearest piece of tape of each of n places, as arrays of shape (n,).

    Where there is no tape at all, or a place is not finite, `lateral` is 0, `piece` and
    `letter` are -1 and the lengths are NaN.

    Parameters
    ----------
    lateral : ndarray of int
        Lateral number. [-]
    piece : ndarray of int
        Index into the grid's piece arrays. [-]
    letter : ndarray of int
        0 for piece a, 1 for b, ... [-]
    offset_m : ndarray
        Distance across from that lateral's line, positive toward higher numbers. [m]
    station_m : ndarray
        Station of the piece's point nearest to the place. [m]
    distance_m : ndarray
        Distance to that point. [m]
    """

    lateral: NDArray[np.int64]
    piece: NDArray[np.int64]
    letter: NDArray[np.int64]
    offset_m: NDArray[np.float64]
    station_m: NDArray[np.float64]
    distance_m: NDArray[np.float64]


def nearest_pieces(grid: LateralGrid | CurvedGrid, x: ArrayLike, y: ArrayLike) -> NearestPieces:
    """Return the nearest piece of tape of each place.

    Parameters
    ----------
    grid : LateralGrid or CurvedGrid
        The laterals.
    x, y : array_like, shape (n,)
        The places, anywhere in the frame. [m]

    Returns
    -------
    NearestPieces
        One answer a place; ties go to the lower lateral, then to the piece nearer the header.

    Examples
    --------
    >>> import shapely
    >>> from ringrow.geometry.laterals import lay_laterals
    >>> block = shapely.box(0, 0, 100, 6)
    >>> grid = lay_laterals(block, block, heading_deg=90, number_from_deg=0, header_deg=270, spacing_m=3)
    >>> near = nearest_pieces(grid, [40, 103], [3.5, 5.5])
    >>> near.lateral, near.offset_m, near.station_m, near.distance_m
    (array([1, 1]), array([ 1., -1.]), array([ 40., 100.]), array([1. , 3.16]))
    """
    x, y = np.atleast_1d(np.asarray(x, float)), np.atleast_1d(np.asarray(y, float))
    finite = np.isfinite(x) & np.isfinite(y)
    if len(grid.piece_lateral) == 0 or not finite.all():
        return _with_unknown(grid, x, y, known=finite & (len(grid.piece_lateral) > 0))
    if isinstance(grid, CurvedGrid):
        return _on_curves(grid, x, y)
    table = _PieceTable.of(grid)
    found = _empty(len(x))
    blocks = [slice(at, at + _BLOCK) for at in range(0, len(x), _BLOCK)]
    off = [block.start + _answer(table, x[block], y[block], found, block) for block in blocks]
    if off:
        _look_wider(table, x, y, found, np.concatenate(off))
    return found


def _on_curves(grid: CurvedGrid, x: NDArray[np.float64], y: NDArray[np.float64]) -> NearestPieces:
    found = nearest_on_curves(grid, x, y)
    return NearestPieces(
        lateral=grid.piece_lateral[found.piece],
        piece=found.piece,
        letter=grid.piece_letter[found.piece],
        offset_m=found.offset_m,
        station_m=found.station_m,
        distance_m=found.distance_m,
    )


def _empty(size: int) -> NearestPieces:
    return NearestPieces(
        lateral=np.empty(size, np.int64),
        piece=np.empty(size, np.int64),
        letter=np.empty(size, np.int64),
        offset_m=np.empty(size),
        station_m=np.empty(size),
        distance_m=np.empty(size),
    )


def _with_unknown(
    grid: LateralGrid | CurvedGrid,
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    *,
    known: NDArray[np.bool_],
) -> NearestPieces:
    found = _empty(len(x))
    for values, nothing in (
        (found.lateral, 0), (found.piece, -1), (found.letter, -1),
        (found.offset_m, np.nan), (found.station_m, np.nan), (found.distance_m, np.nan),
    ):  # fmt: skip
        values[...] = nothing
    if known.any():
        part = nearest_pieces(grid, x[known], y[known])
        for name in NearestPieces.__slots__:
            getattr(found, name)[known] = getattr(part, name)
    return found


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _PieceTable:
    """A grid made ready for look-ups by row (lateral number less 1).

    One piece that does not exist stands at the end of the piece arrays, infinitely far off,
    for rows without tape.
    """

    grid: LateralGrid
    first_piece: NDArray[np.int64]
    start_m: NDArray[np.float64]
    stop_m: NDArray[np.float64]
    across_m: NDArray[np.float64]
    past_gap_m: NDArray[np.float64]
    letter: NDArray[np.int64]
    most_pieces: int

    @classmethod
    def of(cls, grid: LateralGrid) -> _PieceTable:
        """Return the table of a grid that holds at least one piece."""
        counts = grid.pieces_per_lateral
        first = np.where(counts > 0, np.cumsum(counts) - counts, len(grid.piece_lateral))
        start, stop = grid.piece_start_m, grid.piece_stop_m
        same = grid.piece_lateral[1:] == grid.piece_lateral[:-1]
        past_gap = np.full(len(start) + 1, np.inf)
        past_gap[:-2][same] = ((stop[:-1] + start[1:]) / 2.0 + TIE_M)[same]
        return cls(
            grid=grid,
            first_piece=first,
            start_m=np.append(start, np.inf),
            stop_m=np.append(stop, np.inf),
            across_m=np.append(grid.piece_across_m, np.inf),
            past_gap_m=past_gap,
            letter=np.append(grid.piece_letter, -1),
            most_pieces=int(counts.max()),
        )

    def nearest_in_row(self, row: NDArray[np.int64], s: NDArray[np.float64]) -> NDArray[np.int64]:
        """Return the piece nearest to `s` in each row; the one that does not exist in an empty row."""
        piece = self.first_piece.take(row)
        if self.most_pieces == 1:
            return piece
        # Step on to the next piece where s lies past the middle of the gap before it.
        going = np.flatnonzero(s > self.past_gap_m.take(piece))
        while len(going):
            piece[going] += 1
            going = going[s[going] > self.past_gap_m.take(piece[going])]
        return piece


def _answer(
    table: _PieceTable,
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    found: NearestPieces,
    block: slice,
) -> NDArray[np.int64]:
    """Write each place's nearest lateral by rounding; return those that lie beside no tape of it."""
    grid = table.grid
    s, level = grid.coordinates(x, y)
    level -= grid.first_m
    level /= grid.spacing_m
    # Halfway between two laterals, and a rounding error past it, the lower number wins.
    nearest = level - (0.5 + TIE_M / grid.spacing_m)
    np.clip(np.ceil(nearest, out=nearest), 0, grid.count - 1, out=nearest)
    row = nearest.astype(np.int64)
    piece = table.nearest_in_row(row, s)
    nearest_s = np.maximum(s, table.start_m.take(piece))
    np.minimum(nearest_s, table.stop_m.take(piece), out=nearest_s)
    level -= nearest
    level *= grid.spacing_m
    np.add(row, 1, out=found.lateral[block])
    found.piece[block] = piece
    found.letter[block] = table.letter.take(piece)
    found.offset_m[block] = level
    np.abs(level, out=found.distance_m[block])
    np.subtract(nearest_s, grid.station_zero_m.take(row), out=found.station_m[block])
    return np.flatnonzero(nearest_s != s)


def _look_wider(
    table: _PieceTable,
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    found: NearestPieces,
    off: NDArray[np.int64],
) -> None:
    """Write the answers of places that lie beside no tape of the lateral found by rounding."""
    grid = table.grid
    s, c = grid.coordinates(x[off], y[off])
    piece = found.piece[off]
    doubtful = np.flatnonzero(_may_be_nearer(table, s, c, found.lateral[off] - 1, piece))
    if len(doubtful):
        piece[doubtful] = _search(table, s[doubtful], c[doubtful])
    lateral = grid.piece_lateral[piece]
    found.lateral[off] = lateral
    found.piece[off] = piece
    found.letter[off] = table.letter[piece]
    found.offset_m[off] = c - table.across_m[piece]
    found.station_m[off] = (
        np.clip(s, table.start_m[piece], table.stop_m[piece]) - grid.station_zero_m[lateral - 1]
    )
    found.distance_m[off] = _distance(table, s, c, piece)


def _may_be_nearer(
    table: _PieceTable,
    s: NDArray[np.float64],
    c: NDArray[np.float64],
    row: NDArray[np.int64],
    piece: NDArray[np.int64],
) -> NDArray[np.bool_]:
    """Return whether a lateral other than that found by rounding can be as near as its nearest piece."""
    spacing = table.grid.spacing_m
    aside = np.abs(c - (table.grid.first_m + row * spacing))
    # Beyond the first or last lateral the next one lies a full spacing farther off.
    next_aside = spacing + np.where(aside > spacing * 0.51, aside, -aside)
    # Past the ends of all tape, every lateral is at least this far off along it.
    past = np.maximum(np.maximum(table.grid.piece_start_m.min() - s, s - table.grid.piece_stop_m.max()), 0.0)
    return np.asarray(_distance(table, s, c, piece) + TIE_M >= np.hypot(next_aside, past))


def _distance(
    table: _PieceTable,
    s: NDArray[np.float64],
    c: NDArray[np.float64],
    piece: NDArray[np.int64],
) -> NDArray[np.float64]:
    past = np.maximum(table.start_m.take(piece) - s, s - table.stop_m.take(piece))
    past, aside = np.maximum(past, 0.0), c - table.across_m.take(piece)
    # No length here is so long or short that squares lose it, and hypot takes ten times as long.
    return np.sqrt(past * past + aside * aside)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Bundles:
    """Pieces of like letter on neighbouring laterals, bundled, with each bundle's bounds.

    `members` holds one row of piece numbers a bundle, filled up with the piece that does not exist.
    """

    members: NDArray[np.int64]
    low_s: NDArray[np.float64]
    high_s: NDArray[np.float64]
    low_c: NDArray[np.float64]
    high_c: NDArray[np.float64]

    @classmethod
    def of(cls, table: _PieceTable) -> _Bundles:
        """Return about as many bundles as each has pieces, which costs least to search."""
        grid = table.grid
        size = max(math.isqrt(len(grid.piece_lateral)), 4)
        bundle = grid.piece_letter * (grid.count // size + 1) + grid.piece_lateral // size
        order = np.argsort(bundle, kind="stable")
        begins = np.append(True, np.diff(bundle[order]) != 0)
        first, number = np.flatnonzero(begins), np.cumsum(begins) - 1
        members = np.full((len(first), size), len(order), np.int64)
        members[number, np.arange(len(order)) - first[number]] = order
        c = grid.piece_across_m[order]
        return cls(
            members=members,
            low_s=np.minimum.reduceat(grid.piece_start_m[order], first),
            high_s=np.maximum.reduceat(grid.piece_stop_m[order], first),
            low_c=np.minimum.reduceat(c, first),
            high_c=np.maximum.reduceat(c, first),
        )


def _search(table: _PieceTable, s: NDArray[np.float64], c: NDArray[np.float64]) -> NDArray[np.int64]:
    """Return the nearest piece of each place: bundle by bundle, the nearest bundle first."""
    bundles = _Bundles.of(table)
    step = max(_BLOCK * 2 // len(bundles.low_s), 1)
    found = [
        _search_bundles(table, bundles, s[at : at + step, None], c[at : at + step, None])
        for at in range(0, len(s), step)
    ]
    return np.concatenate(found)


def _search_bundles(
    table: _PieceTable, bundles: _Bundles, s: NDArray[np.float64], c: NDArray[np.float64]
) -> NDArray[np.int64]:
    past_s = np.maximum(np.maximum(bundles.low_s - s, s - bundles.high_s), 0.0)
    past_c = np.maximum(np.maximum(bundles.low_c - c, c - bundles.high_c), 0.0)
    at_least = past_s * past_s + past_c * past_c
    point, nearest_bundle = np.arange(len(s)), at_least.argmin(axis=1)
    piece, best = _best_of(table, s, c, bundles.members[nearest_bundle])
    # Other bundles matter only where their bounds come nearer than that.
    at_least[point, nearest_bundle] = np.inf
    more, bundle = np.nonzero(at_least <= np.square(best + TIE_M)[:, None])
    other, distance = _best_of(table, s[more], c[more], bundles.members[bundle])
    np.minimum.at(best, more, distance)
    tied = distance <= best[more] + TIE_M
    piece[_distance(table, s[:, 0], c[:, 0], piece) > best + TIE_M] = len(table.letter)
    np.minimum.at(piece, more[tied], other[tied])
    return piece


def _best_of(
    table: _PieceTable, s: NDArray[np.float64], c: NDArray[np.float64], pieces: NDArray[np.int64]
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Return the nearest of each row of pieces, the lowest number of equals, and its distance."""
    distance = _distance(table, s, c, pieces)
    best = distance.min(axis=1)
    place = (distance <= best[:, None] + TIE_M).argmax(axis=1)
    return pieces[np.arange(len(pieces)), place], best


def emitters_at(grid: LateralRows, nearest: NearestPieces, emitter_spacing_m: float) -> NDArray[np.int64]:
    """Return the emitter nearest to each place, on its nearest piece of tape.

    Emitter n sits at station ``(n - 1/2) * spacing``; the numbers run on through gaps, so the
    first emitter of piece b is not number 1.

    Parameters
    ----------
    grid : LateralRows
        The laterals.
    nearest : NearestPieces
        Nearest pieces of the places, from `nearest_pieces`.
    emitter_spacing_m : float
        Distance between emitters, above 0. [m]

    Returns
    -------
    ndarray of int, shape (n,)
        Emitter number, halfway between two the lower; 0 where the piece is too short to hold
        an emitter or there is no tape at all. [-]

    Raises
    ------
    DomainError
        If `emitter_spacing_m` is not above 0.

    Examples
    --------
    >>> import shapely
    >>> from ringrow.geometry.laterals import lay_laterals
    >>> block = shapely.box(0, 0, 100, 6)
    >>> grid = lay_laterals(block, block, heading_deg=90, number_from_deg=0, header_deg=270, spacing_m=3)
    >>> emitters_at(grid, nearest_pieces(grid, [0.0, 1.1, 250.0], [2.0, 2.0, 2.0]), 0.5)
    array([  1,   3, 200])
    """
    lowest, highest = emitters_in_pieces(grid, emitter_spacing_m)
    emitter = np.zeros(len(nearest.piece), np.int64)
    on_tape = nearest.piece >= 0
    piece = nearest.piece[on_tape]
    number = np.ceil(nearest.station_m[on_tape] / emitter_spacing_m - _ROUNDING).astype(np.int64)
    number = np.minimum(np.maximum(number, lowest[piece]), highest[piece])
    emitter[on_tape] = np.where(highest[piece] >= lowest[piece], number, 0)
    return emitter


def emitters_in_pieces(
    grid: LateralRows, emitter_spacing_m: float
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return the lowest and the highest emitter number of each piece of tape.

    Parameters
    ----------
    grid : LateralRows
        The laterals.
    emitter_spacing_m : float
        Distance between emitters, above 0. [m]

    Returns
    -------
    lowest, highest : ndarray of int, shape (pieces,)
        Emitter numbers, both ends in; `highest` is below `lowest` where a piece is too short
        to hold one. [-]

    Raises
    ------
    DomainError
        If `emitter_spacing_m` is not above 0.

    Examples
    --------
    >>> import shapely
    >>> from ringrow.geometry.laterals import lay_laterals
    >>> block = shapely.box(0, 0, 100, 2)
    >>> pond = shapely.box(40, 0, 60, 2)
    >>> grid = lay_laterals(block, block.difference(pond), heading_deg=90, number_from_deg=0,
    ...     header_deg=270, spacing_m=2)
    >>> emitters_in_pieces(grid, 0.5)
    (array([  1, 121]), array([ 80, 200]))
    """
    if not 0 < emitter_spacing_m < np.inf:
        message = f"emitter spacing: found {emitter_spacing_m} m; allowed: above 0"
        raise DomainError(message)
    zero = grid.station_zero_m[grid.piece_lateral - 1]
    # Emitter n of a piece from station p to q: p <= (n - 1/2) spacing <= q, an emitter at a cut staying in.
    lowest = np.ceil((grid.piece_start_m - zero) / emitter_spacing_m + 0.5 - _ROUNDING)
    highest = np.floor((grid.piece_stop_m - zero) / emitter_spacing_m + 0.5 + _ROUNDING)
    return lowest.astype(np.int64), highest.astype(np.int64)

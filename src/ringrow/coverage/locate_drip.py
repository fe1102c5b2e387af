"""Where a point lies in a drip block: zone, lateral, piece, station, emitter, candidates."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ringrow.coverage.chances import lateral_chances
from ringrow.coverage.locate_field import covers
from ringrow.coverage.places import Candidate, DripPlace
from ringrow.geometry.laterals import emitters_at, nearest_pieces, piece_name, point_at

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

    from ringrow.coverage.field import DripLayout
    from ringrow.geometry.laterals import LateralRows


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DripPlaces:
    """Where n points lie as seen from one drip block; a block without tape answers 0 and NaN.

    Parameters
    ----------
    zone : ndarray of int, shape (n,)
        Index into the block's zones of the zone of the nearest lateral; -1 for none.
    lateral : ndarray of int, shape (n,)
        Nearest lateral with tape; 0 for none.
    letter : ndarray of int, shape (n,)
        Piece of that lateral, 0 for a; -1 when the lateral is in one piece.
    offset_m : ndarray, shape (n,)
        Distance across from that lateral, positive toward higher numbers. [m]
    station_m : ndarray, shape (n,)
        Station of the nearest point of tape. [m]
    emitter : ndarray of int, shape (n,)
        Nearest emitter on that piece; 0 where the spacing is not known or the piece is too
        short to hold one.
    distance_m : ndarray, shape (n,)
        Distance to the nearest point of tape; infinite without tape. [m]
    inside : ndarray of bool, shape (n,)
        Whether the block wets the point.
    """

    zone: NDArray[np.int64]
    lateral: NDArray[np.int64]
    letter: NDArray[np.int64]
    offset_m: NDArray[np.float64]
    station_m: NDArray[np.float64]
    emitter: NDArray[np.int64]
    distance_m: NDArray[np.float64]
    inside: NDArray[np.bool_]


def drip_places(layout_drip: DripLayout, x: ArrayLike, y: ArrayLike) -> DripPlaces:
    """Return where each point lies as seen from one drip block.

    Parameters
    ----------
    layout_drip : DripLayout
        The block with its laterals.
    x, y : array_like, shape (n,)
        Points in the field's frame. [m]

    Returns
    -------
    DripPlaces
        One entry for each point, in their order.

    Notes
    -----
    Closed form for straight laterals: no shape is measured. The nearest emitter is looked for on
    the nearest piece only, so that no emitter is named where a gap or a headland holds no tape.
    """
    x, y = np.atleast_1d(np.asarray(x, float)), np.atleast_1d(np.asarray(y, float))
    grid, tape = layout_drip.grid, layout_drip.block.tape
    spacing_m = None if tape is None else tape.emitter_spacing_m
    nearest = nearest_pieces(grid, x, y)
    found = nearest.lateral > 0
    return DripPlaces(
        zone=_zones(layout_drip, nearest.lateral),
        lateral=nearest.lateral,
        letter=np.where(_in_pieces(grid, nearest.lateral), nearest.letter, -1),
        offset_m=nearest.offset_m,
        station_m=nearest.station_m,
        emitter=np.zeros(x.size, np.int64) if spacing_m is None else emitters_at(grid, nearest, spacing_m),
        distance_m=np.where(found, nearest.distance_m, np.inf),
        inside=covers(layout_drip.wetted, x, y),
    )


def drip_place_list(
    layout_drip: DripLayout,
    places: DripPlaces,
    candidates: Sequence[tuple[Candidate, ...]],
    elsewhere: ArrayLike,
) -> list[DripPlace]:
    """Return array answers of one block as plain objects.

    Parameters
    ----------
    layout_drip : DripLayout
        The block the answers are about.
    places : DripPlaces
        Its answers.
    candidates : sequence of tuple of Candidate
        Candidate laterals of each point.
    elsewhere : array_like, shape (n,)
        Chance of each point that it belongs to none of them. [-]

    Returns
    -------
    list of DripPlace
        One for each point, in their order.
    """
    block = layout_drip.block
    columns = (
        places.zone, places.lateral, places.letter, places.offset_m, places.station_m, places.emitter,
        places.inside, np.asarray(elsewhere),
    )  # fmt: skip
    rows = zip(*(column.tolist() for column in columns), candidates, strict=True)
    return [
        DripPlace(
            name=block.name,
            zone=block.zones[zone].name if zone >= 0 else None,
            lateral=lateral or None,
            piece=piece_name(letter) if letter >= 0 else None,
            offset_m=offset if lateral else None,
            station_m=station if lateral else None,
            emitter=emitter or None,
            candidates=likely,
            elsewhere=none,
            inside=inside,
        )
        for zone, lateral, letter, offset, station, emitter, inside, none, likely in rows
    ]


def drip_points(
    layout_drip: DripLayout, x: ArrayLike, y: ArrayLike, sigma_m: ArrayLike
) -> tuple[list[DripPlace], NDArray[np.float64]]:
    """Return the places of points in one block as plain objects, and how far its tape is.

    Parameters
    ----------
    layout_drip : DripLayout
        The block with its laterals.
    x, y : array_like, shape (n,)
        Points in the field's frame. [m]
    sigma_m : array_like
        One-axis spread of each fix, or one for all. [m]

    Returns
    -------
    places : list of DripPlace
        One for each point, with candidate laterals.
    distance_m : ndarray, shape (n,)
        Distance to the nearest point of tape; infinite without tape. [m]
    """
    places = drip_places(layout_drip, x, y)
    chances = lateral_chances(layout_drip.grid, x, y, sigma_m)
    plain = drip_place_list(layout_drip, places, chances.candidates(), chances.elsewhere)
    return plain, places.distance_m


def drip_place_at(layout_drip: DripLayout, lateral: int, station_m: float) -> DripPlace:
    """Return a place named by lateral and station.

    Parameters
    ----------
    layout_drip : DripLayout
        The block with its laterals.
    lateral : int
        Lateral number.
    station_m : float
        Distance along the lateral from its header end. [m]

    Returns
    -------
    DripPlace
        The place, with that lateral as its only candidate.

    Raises
    ------
    PlaceError
        If the block has no such lateral or the station is not on it.
    """
    x, y = point_at(layout_drip.grid, lateral, station_m)
    places = drip_places(layout_drip, [x], [y])
    certain = [(Candidate(lateral=lateral, chance=1.0),)]
    return drip_place_list(layout_drip, places, certain, [0.0])[0]


def _zones(layout_drip: DripLayout, lateral: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return the index of the zone that holds each lateral, -1 for none."""
    zones = layout_drip.block.zones
    of_lateral = np.full(layout_drip.grid.count + 1, -1)
    # Backward, so that of two zones that overlap the first one wins, as in DripBlock.zone_of.
    for index in reversed(range(len(zones))):
        of_lateral[max(zones[index].first, 0) : zones[index].last + 1] = index
    return of_lateral[lateral]


def _in_pieces(grid: LateralRows, lateral: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Tell which laterals are cut into more than one piece; lateral 0 is none."""
    in_pieces: NDArray[np.bool_] = np.append(False, grid.pieces_per_lateral > 1)[lateral]
    return in_pieces

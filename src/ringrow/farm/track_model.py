"""Tracks as they were read, and which of them count: drives, or pins set one by one."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from ringrow.errors import FileError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from ringrow.farm.readers.rows import Refused


Kind = Literal["track", "route", "points", "polygon"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Track:
    """One drive, one route, one outline, or a set of single points, in file order.

    Parameters
    ----------
    name : str
        What to call it: the file and what it is in there.
    kind : {"track", "route", "points", "polygon"}
        What it was in the file; ``track`` for any line.
    lon, lat : ndarray of float, shape (n,)
        The points, WGS 84. [deg]
    labels : tuple of str, default ()
        Name of each single point; empty for tracks.
    group : str, default ""
        The same for parts of one drive that a lost signal cut apart.
    """

    name: str
    kind: Kind
    lon: NDArray[np.float64]
    lat: NDArray[np.float64]
    labels: tuple[str, ...] = ()
    group: str = ""

    def __len__(self) -> int:
        """Return how many points it has."""
        return len(self.lon)


@dataclass(frozen=True, slots=True, kw_only=True)
class TrackFile:
    """What a file of tracks held.

    Parameters
    ----------
    file : str
        Its name.
    tracks : tuple of Track
        Tracks and sets of points, in file order; empty ones left out.
    refused : tuple of Refused
        What could not be read.
    said : tuple of str
        What was guessed or left out, to be shown.
    """

    file: str
    tracks: tuple[Track, ...]
    refused: tuple[Refused, ...] = ()
    said: tuple[str, ...] = ()


def drives(files: Sequence[TrackFile]) -> tuple[list[Track], list[str]]:
    """Return what can be a drive: tracks, routes and outlines; sets of points where there is none.

    Parameters
    ----------
    files : sequence of TrackFile
        What was read.

    Returns
    -------
    tracks : list of Track
        In the order of the files.
    said : list of str
        What was left out, to be shown.
    """
    chosen: list[Track] = []
    said: list[str] = []
    for file in files:
        lines = [track for track in file.tracks if track.kind != "points"]
        recorded = [track for track in lines if track.kind != "route"] or lines
        mine = recorded or list(file.tracks)
        left = [track for track in file.tracks if track not in mine]
        said += [f"{track.name}: {len(track)} points left out, since the file holds tracks" for track in left]
        chosen += mine
    return chosen, said


def pins(files: Sequence[TrackFile]) -> tuple[Track, list[str]]:
    """Return single points set one by one: waypoints, rows of a table, or the points of a route.

    Parameters
    ----------
    files : sequence of TrackFile
        What was read.

    Returns
    -------
    track : Track
        The points in the order of the files.
    said : list of str
        What was left out, to be shown.

    Raises
    ------
    FileError
        If there are only recorded drives, in which nothing marks a tower.
    """
    chosen: list[Track] = []
    said: list[str] = []
    for file in files:
        points = [track for track in file.tracks if track.kind == "points"]
        few = [track for track in file.tracks if track.kind == "route"]
        few = few or [track for track in file.tracks if track.kind == "track" and len(track) <= _FEW_PINS]
        mine = points or few[:1]
        if not mine:
            message = (
                f"{file.file}: found recorded tracks but no single points; allowed: a pin (waypoint) set at "
                "each tower, or a table with a row for each"
            )
            raise FileError(message)
        left = [track for track in file.tracks if track not in mine]
        said += [f"{track.name}: left out, since the file holds pins" for track in left]
        chosen += mine
    labels = [label for track in chosen for label in (track.labels or ("",) * len(track))]
    return Track(
        name=", ".join(track.name for track in chosen),
        kind="points",
        lon=np.concatenate([track.lon for track in chosen]),
        lat=np.concatenate([track.lat for track in chosen]),
        labels=tuple(labels),
    ), said


_FEW_PINS = 61
"""A line of no more points than a machine can have towers is taken as pins."""

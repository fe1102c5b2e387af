"""Drives and pins for survey tests: exact places, noise added on purpose, written as files people bring."""

from __future__ import annotations

import functools
import operator
from typing import TYPE_CHECKING

import numpy as np

from ringrow.frame import Frame

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from pathlib import Path

LON, LAT = -101.4955, 36.7536

Place = tuple[float, float]


def places(x: Iterable[float], y: Iterable[float], lon: float = LON, lat: float = LAT) -> list[Place]:
    """Longitude and latitude of points given in metres east and north of a place."""
    lons, lats = Frame(lon=lon, lat=lat).to_lonlat(np.asarray(list(x)), np.asarray(list(y)))
    return list(zip(lons.tolist(), lats.tolist(), strict=True))


def ring(
    radius_m: float, *, start: float = 0.0, sweep: float = 360.0, count: int = 200, noise_m: float = 0.0
) -> list[Place]:
    """Points of a drive along a circle about the usual place."""
    turn = np.radians(start + np.linspace(0, sweep, count))
    noise = np.random.default_rng(int(radius_m * 1000) + count).normal(0, noise_m or 1e-12, (2, count))
    return places(radius_m * np.sin(turn) + noise[0], radius_m * np.cos(turn) + noise[1])


def _points(tag: str, points: Sequence[Place], names: Sequence[str] = ()) -> str:
    called = [f"<name>{name}</name>" for name in names] or [""] * len(points)
    return "".join(
        f'<{tag} lat="{lat:.9f}" lon="{lon:.9f}">{name}</{tag}>'
        for (lon, lat), name in zip(points, called, strict=True)
    )


def gpx(
    path: Path,
    *,
    tracks: Sequence[Sequence[Place]] = (),
    segments: Sequence[Sequence[Place]] = (),
    pins: Sequence[Place] = (),
    names: Sequence[str] = (),
) -> Path:
    """Write a GPX file: tracks of one segment each, one track of several segments, waypoints."""
    parts = [f"<trk><trkseg>{_points('trkpt', track)}</trkseg></trk>" for track in tracks]
    if segments:
        inner = "".join(f"<trkseg>{_points('trkpt', part)}</trkseg>" for part in segments)
        parts.append(f"<trk><name>round</name>{inner}</trk>")
    parts.insert(0, _points("wpt", pins, names))
    head = '<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1" creator="test">'
    path.write_text(f"{head}{''.join(parts)}</gpx>", encoding="utf-8")
    return path


def sentence(body: str) -> str:
    """An NMEA sentence with its checksum: the exclusive or of all letters between $ and *."""
    return f"${body}*{functools.reduce(operator.xor, body.encode()):02X}"


def nmea_angle(value: float, letters: str, digits: int) -> str:
    """Degrees as NMEA writes them: degrees and minutes in one number, then a letter."""
    degrees, minutes = divmod(abs(value) * 60, 60)
    return f"{int(degrees):0{digits}d}{minutes:010.7f},{letters[value < 0]}"


def gga(lon: float, lat: float, clock: str, quality: int = 1) -> str:
    """A GGA sentence of a fix."""
    at = f"{nmea_angle(lat, 'NS', 2)},{nmea_angle(lon, 'EW', 3)}"
    return sentence(f"GPGGA,{clock},{at},{quality},12,0.8,900.0,M,-20.0,M,,")


def rmc(lon: float, lat: float, clock: str, status: str = "A") -> str:
    """An RMC sentence of a fix."""
    at = f"{nmea_angle(lat, 'NS', 2)},{nmea_angle(lon, 'EW', 3)}"
    return sentence(f"GPRMC,{clock},{status},{at},004.0,090.0,120326,,,A")

"""Spots as JSON values: how the place of a flag is written in events and files."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ringrow.coverage.accuracy import KINDS, Accuracy
from ringrow.errors import PlaceError
from ringrow.farm.flag_model import DripSpot, GroundSpot, MachineSpot, MoveSpot, WellSpot

if TYPE_CHECKING:
    from ringrow.farm.flag_model import Spot

WHEELS: tuple[str, ...] = ("inner-leading", "inner-trailing", "outer-leading", "outer-trailing")
"""Wheels of a tower: side toward the pivot point or away, and leading or trailing when walking clockwise."""

MAX_TEXT = 200
"""Longest name or saying in a spot [characters]."""


def check_wheel(wheel: str) -> None:
    """Check that a wheel of a tower is one that there is.

    Parameters
    ----------
    wheel : str
        What was said; empty for no wheel in particular.

    Raises
    ------
    PlaceError
        If it is none of `WHEELS`.
    """
    if wheel and wheel not in WHEELS:
        message = f'wheel: found "{wheel}"; allowed: {", ".join(WHEELS)}'
        raise PlaceError(message)


def spot_to_json(spot: Spot | None) -> dict[str, Any] | None:
    """Return a spot as a JSON value.

    Parameters
    ----------
    spot : GroundSpot, MachineSpot, MoveSpot, DripSpot, WellSpot or None
        The spot.

    Returns
    -------
    dict or None
        Plain JSON with the key ``on``; None for no spot.

    Examples
    --------
    >>> spot_to_json(WellSpot(well="Home well"))
    {'on': 'well', 'well': 'Home well'}
    """
    if spot is None:
        return None
    if isinstance(spot, GroundSpot):
        return {
            "on": "ground",
            "lon": spot.lon,
            "lat": spot.lat,
            "accuracy_m": spot.accuracy.radius_m,
            "accuracy_kind": spot.accuracy.kind,
            "accuracy_assumed": spot.accuracy.assumed,
            **({"timed": True} if spot.timed else {}),
        }
    if isinstance(spot, MoveSpot):
        plain = {"on": "move", "move": spot.move, "said": spot.said, "side": spot.side}
        measured = {key: getattr(spot, key) for key in ("offset_m", "tower", "span", "travel_m")}
        return plain | {key: value for key, value in measured.items() if value is not None}
    if isinstance(spot, DripSpot):
        return {"on": "drip", "drip": spot.drip, "lateral": spot.lateral, "station_m": spot.station_m}
    if isinstance(spot, WellSpot):
        return {"on": "well", "well": spot.well}
    return _machine_to_json(spot)


def _machine_to_json(spot: MachineSpot) -> dict[str, Any]:
    plain: dict[str, Any] = {"on": "machine", "pivot": spot.pivot, "said": spot.said}
    for key in ("distance_m", "tower", "drop", "span", "outlet", "azimuth_deg"):
        value = getattr(spot, key)
        if value is not None:
            plain[key] = value
    if spot.wheel:
        plain["wheel"] = spot.wheel
    return plain


def spot_from_json(plain: Any) -> Spot | None:
    """Return the spot that a JSON value describes.

    Parameters
    ----------
    plain : object
        Parsed JSON, not trusted.

    Returns
    -------
    GroundSpot, MachineSpot, MoveSpot, DripSpot, WellSpot or None
        The spot; None for null.

    Raises
    ------
    PlaceError
        If it describes no spot, or one that cannot be.

    Examples
    --------
    >>> spot_from_json({"on": "drip", "drip": "Elevator drip", "lateral": 43, "station_m": 182.9})
    DripSpot(drip='Elevator drip', lateral=43, station_m=182.9)
    """
    if plain is None:
        return None
    on = plain.get("on") if isinstance(plain, dict) else None
    if on == "ground":
        return _ground(plain)
    if on == "machine":
        return _machine(plain)
    if on == "move":
        return _move(plain)
    if on == "drip":
        return DripSpot(
            drip=_text(plain, "drip"),
            lateral=_whole(plain, "lateral", least=1),
            station_m=_number(plain, "station_m", low=-1e5, high=1e5),
        )
    if on == "well":
        return WellSpot(well=_text(plain, "well"))
    message = (
        f'spot: found {str(plain)[:60]}; allowed: an object with "on": ground, machine, move, drip or well'
    )
    raise PlaceError(message)


def _ground(plain: dict[str, Any]) -> GroundSpot:
    kind = plain.get("accuracy_kind")
    if kind not in KINDS:
        message = f"spot accuracy_kind: found {str(kind)[:40]}; allowed: {', '.join(KINDS)}"
        raise PlaceError(message)
    accuracy = Accuracy(
        radius_m=_number(plain, "accuracy_m", low=1e-4, high=1000.0),
        kind=kind,
        assumed=plain.get("accuracy_assumed") is True,
    )
    return GroundSpot(
        lon=_number(plain, "lon", low=-180.0, high=180.0),
        lat=_number(plain, "lat", low=-90.0, high=90.0),
        accuracy=accuracy,
        timed=plain.get("timed") is True,
    )


def _move(plain: dict[str, Any]) -> MoveSpot:
    side = plain.get("side")
    if side not in ("left", "right"):
        message = f"spot side: found {str(side)[:40]}; allowed: left or right"
        raise PlaceError(message)
    named = {key: _whole(plain, key, least=1) for key in ("tower", "span") if plain.get(key) is not None}
    travel = plain.get("travel_m")
    return MoveSpot(
        move=_text(plain, "move"),
        said=_text(plain, "said"),
        side=side,
        offset_m=_number(plain, "offset_m", low=0.0, high=1e5),
        tower=named.get("tower"),
        span=named.get("span"),
        travel_m=None if travel is None else _number(plain, "travel_m", low=0.0, high=1e5),
    )


def _machine(plain: dict[str, Any]) -> MachineSpot:
    wheel = plain.get("wheel", "")
    if wheel not in ("", *WHEELS):
        message = f"spot wheel: found {str(wheel)[:40]}; allowed: {', '.join(WHEELS)}"
        raise PlaceError(message)
    named = {
        key: _whole(plain, key, least=least)
        for key, least in (("tower", 1), ("span", 1), ("outlet", 1), ("drop", -10_000))
        if plain.get(key) is not None
    }
    ranges = {"distance_m": (0.0, 1e5), "azimuth_deg": (0.0, 360.0)}
    measured = {
        key: _number(plain, key, low=low, high=high)
        for key, (low, high) in ranges.items()
        if plain.get(key) is not None
    }
    if not named.keys() & {"tower", "span", "outlet"} and "distance_m" not in measured:
        message = "spot on a machine: found no tower, span, outlet or distance_m; allowed: one of them"
        raise PlaceError(message)
    return MachineSpot(
        pivot=_text(plain, "pivot"),
        said=_text(plain, "said"),
        wheel=wheel,
        distance_m=measured.get("distance_m"),
        azimuth_deg=measured.get("azimuth_deg"),
        tower=named.get("tower"),
        drop=named.get("drop"),
        span=named.get("span"),
        outlet=named.get("outlet"),
    )


def _text(plain: dict[str, Any], key: str) -> str:
    value = plain.get(key)
    if isinstance(value, str) and len(value) <= MAX_TEXT:
        return value
    message = f"spot {key}: found {str(value)[:60]}; allowed: text up to {MAX_TEXT} characters"
    raise PlaceError(message)


def _whole(plain: dict[str, Any], key: str, *, least: int) -> int:
    value = plain.get(key)
    if isinstance(value, int) and not isinstance(value, bool) and least <= value <= 1_000_000:
        return value
    message = f"spot {key}: found {str(value)[:40]}; allowed: a whole number of {least} or more"
    raise PlaceError(message)


def _number(plain: dict[str, Any], key: str, *, low: float, high: float) -> float:
    value: Any = plain.get(key)
    is_number = isinstance(value, int | float) and not isinstance(value, bool)
    # Not a number and infinity fail the comparison too.
    if is_number and low <= value <= high:
        return float(value)
    message = f"spot {key}: found {str(value)[:40]}; allowed: a number from {low:g} to {high:g}"
    raise PlaceError(message)

"""Order of the flags along a route, for the page's list."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ringrow.handoff.route import plan_route, route_stops

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ringrow.coverage.field import FieldLayout
    from ringrow.farm.flag_model import LocatedFlag


def stop_order(
    layouts: Sequence[FieldLayout],
    flags: Sequence[LocatedFlag],
    *,
    start_lonlat: tuple[float, float] | None,
) -> tuple[str, ...]:
    """Return in which order one crew goes to all open flags, over bare ground and back to the start.

    Parameters
    ----------
    layouts : sequence of FieldLayout
        The farm's fields.
    flags : sequence of LocatedFlag
        The farm's flags.
    start_lonlat : tuple of float or None
        Longitude and latitude of the start; None = the first stop. [deg]

    Returns
    -------
    tuple of str
        The ids of the flags; those without a place and those not open are left out.
    """
    stops, _without = route_stops(layouts, [flag for flag in flags if flag.state.status == "open"])
    if not stops:
        return ()
    found = plan_route(layouts, stops, start_lonlat=start_lonlat)
    return tuple(stop.flag.state.id for stop in found.crews[0].stops)

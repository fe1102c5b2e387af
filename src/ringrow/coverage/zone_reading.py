"""A zone's meter and gauges held against the zone as designed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from ringrow.coverage.zone_water import zone_flow
from ringrow.errors import DomainError
from ringrow.water.diagnosis import diagnose, direction, flow_limit_pct
from ringrow.water.orifice import orifice_flow_lps

if TYPE_CHECKING:
    from ringrow.coverage.field import DripLayout
    from ringrow.equipment.drip import Zone
    from ringrow.water.diagnosis import Change, Finding

HOLES_M = (0.125 * 0.0254, 0.25 * 0.0254)
"""Holes that a zone's flow is shown beside [m]: 1/8 and 1/4 in, as in the hole tables of the sources."""

WAIT_H = 12.0
"""Hours buried water is given to show at the surface [h]: common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hole:
    """What one hole passes at the zone's inlet pressure.

    Parameters
    ----------
    bore_m : float
        Its diameter. [m]
    flow_lps : float
        Flow, sharp edge, into air; soil holds it back. [L/s]
    share_pct : float
        That flow as a share of the zone's. [%]
    """

    bore_m: float
    flow_lps: float
    share_pct: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ZoneReading:
    """A reading and what the zone should show.

    Parameters
    ----------
    flow_lps : float
        Flow read. [L/s]
    inlet_kpa, flush_line_kpa : float or None
        Pressures read. [kPa]
    usual_lps, usual_inlet_kpa, usual_far_kpa : float
        Flow, inlet and flush-line pressure of the zone as designed. [L/s, kPa]
    same_lps, same_far_kpa : float
        Flow and flush-line pressure of the zone as designed at the inlet pressure read; as usual
        where none was read. [L/s, kPa]
    limit_pct : float or None
        Difference in flow that counts; None when nobody stated one. [%]
    gauge_error_kpa : float
        Difference in pressure that does not count. [kPa]
    signs : tuple of int or None
        Flow, inlet and flush line against the zone as designed: 1 above, 0 within, -1 below; None
        where not read, or where no limit makes it one. [-]
    finding : str or None
        Pattern that fits; None where no limit was stated.
    holes : tuple of Hole
        What single holes would pass, for comparison.
    """

    flow_lps: float
    inlet_kpa: float | None
    flush_line_kpa: float | None
    usual_lps: float
    usual_inlet_kpa: float
    usual_far_kpa: float
    same_lps: float
    same_far_kpa: float
    limit_pct: float | None
    gauge_error_kpa: float
    signs: tuple[int | None, int | None, int | None]
    finding: Finding | None
    holes: tuple[Hole, ...]

    @property
    def off_pct(self) -> float:
        """Flow read against the zone as designed at the same inlet pressure [%]."""
        return 100.0 * (self.flow_lps / self.same_lps - 1.0)


def zone_reading(
    layout: DripLayout,
    zone: Zone,
    *,
    flow_lps: float,
    inlet_kpa: float | None = None,
    flush_line_kpa: float | None = None,
    meter_error_pct: float | None = None,
    limit_pct: float | None = None,
    gauge_error_kpa: float = 0.0,
    change: Change | None = None,
) -> ZoneReading:
    """Return a zone's reading beside the zone as designed.

    Parameters
    ----------
    layout : DripLayout
        The block, laid out.
    zone : Zone
        The zone.
    flow_lps : float
        Flow on the meter, above 0. [L/s]
    inlet_kpa, flush_line_kpa : float or None, default None
        Gauges at the zone's inlet and on its flush line; None = not read. [kPa]
    meter_error_pct, limit_pct : float or None, default None
        Stated error of the meter; the user's own limit. [%]
    gauge_error_kpa : float, default 0
        Error of the gauges, 0 or more. [kPa]
    change : {"sudden", "gradual"} or None, default None
        How a difference came, when that is known.

    Returns
    -------
    ZoneReading
        The comparison; gauges stand at the heights of the two ends of the laterals.

    Raises
    ------
    DomainError
        If the zone's tape or pressure is not known, or a reading is outside its range.
    """
    if zone.pressure_kpa is None and inlet_kpa is None:
        message = f'zone "{zone.name}": found no pressure; allowed: pressure in the field file, or --inlet'
        raise DomainError(message)
    if not flow_lps > 0 or gauge_error_kpa < 0 or min(inlet_kpa or 1.0, (flush_line_kpa or 0.0) + 1.0) <= 0:
        message = (
            f'zone "{zone.name}": found flow {flow_lps:g} L/s, gauge error {gauge_error_kpa:g} kPa; '
            "allowed: flow and inlet pressure above 0, gauge error and flush-line pressure 0 or more"
        )
        raise DomainError(message)
    limit = flow_limit_pct(limit_pct, meter_error_pct=meter_error_pct)
    usual_kpa = zone.pressure_kpa or inlet_kpa or 0.0
    usual = zone_flow(layout, zone, inlet_kpa=usual_kpa)
    same = zone_flow(layout, zone, inlet_kpa=inlet_kpa) if inlet_kpa else usual
    flow_sign = None if limit is None else _flow_sign(flow_lps, usual.flow_lps, same.flow_lps, limit)
    inlet = _sign(inlet_kpa, usual_kpa, gauge_error_kpa)
    far = _sign(flush_line_kpa, usual.far_kpa, gauge_error_kpa)
    return ZoneReading(
        flow_lps=flow_lps,
        inlet_kpa=inlet_kpa,
        flush_line_kpa=flush_line_kpa,
        usual_lps=usual.flow_lps,
        usual_inlet_kpa=usual_kpa,
        usual_far_kpa=usual.far_kpa,
        same_lps=same.flow_lps,
        same_far_kpa=same.far_kpa,
        limit_pct=limit,
        gauge_error_kpa=gauge_error_kpa,
        signs=(flow_sign, inlet, far),
        finding=None if flow_sign is None else diagnose(flow_sign, inlet, far, change=change),
        holes=_holes(same.inlet_kpa, same.flow_lps),
    )


def _flow_sign(flow_lps: float, usual_lps: float, same_lps: float, limit_pct: float) -> int:
    """Return the flow's sign: above for its own pressure, or below for that or for the usual one."""
    same = direction(flow_lps, same_lps, limit=limit_pct / 100 * same_lps)
    # More than usual at more than the usual pressure is what a sound zone gives.
    return same if same > 0 else min(same, direction(flow_lps, usual_lps, limit=limit_pct / 100 * usual_lps))


def _sign(reading: float | None, expected: float, limit: float) -> int | None:
    return None if reading is None else direction(reading, expected, limit=max(limit, 1e-6 * expected))


def _holes(pressure_kpa: float, zone_lps: float) -> tuple[Hole, ...]:
    flows = [orifice_flow_lps(bore_m, pressure_kpa) for bore_m in HOLES_M]
    return tuple(
        Hole(bore_m=bore_m, flow_lps=flow, share_pct=100 * flow / zone_lps)
        for bore_m, flow in zip(HOLES_M, flows, strict=True)
    )

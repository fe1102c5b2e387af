"""Pressure and flow along one tape lateral, emitter by emitter."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.linalg import solve_banded

from ringrow.errors import DomainError
from ringrow.water.constants import KINEMATIC_VISCOSITY_M2_S, KPA_PER_M
from ringrow.water.emitters import emitter_flow_lps
from ringrow.water.friction import darcy_weisbach_loss_m, hazen_williams_loss_m

if TYPE_CHECKING:
    from numpy.typing import NDArray

_ROUNDS = 100
_CLOSE_M = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class TapeLateral:
    """One lateral and how it is fed.

    Parameters
    ----------
    length_m : float
        Length of tape. [m]
    bore_m : float
        Inside diameter. [m]
    emitter_spacing_m : float
        Distance between emitters; the first lies half a spacing from the header. [m]
    flow_lps, at_pressure_kpa, exponent : float
        Emitter flow at a stated pressure, and its exponent. [L/s, kPa, -]
    inlet_kpa : float
        Pressure at the header. [kPa]
    rise_m : float, default 0
        Height of the far end over the header end. [m]
    far_kpa : float or None, default None
        Pressure at the far end when the lateral is fed from there too. [kPa]
    roughness : float or None, default None
        Hazen-Williams C; None = Darcy-Weisbach in smooth pipe. [-]
    viscosity_m2_s : float, default 1.004e-6
        Kinematic viscosity of the water. [m2/s]

    Raises
    ------
    DomainError
        If a length, pressure or flow cannot be.
    """

    length_m: float
    bore_m: float
    emitter_spacing_m: float
    flow_lps: float
    at_pressure_kpa: float
    exponent: float = 0.5
    inlet_kpa: float
    rise_m: float = 0.0
    far_kpa: float | None = None
    roughness: float | None = None
    viscosity_m2_s: float = KINEMATIC_VISCOSITY_M2_S

    def __post_init__(self) -> None:
        above = (self.length_m, self.bore_m, self.emitter_spacing_m, self.flow_lps, self.at_pressure_kpa)
        if not all(value > 0 for value in above) or self.inlet_kpa < 0 or (self.far_kpa or 0.0) < 0:
            message = (
                f"lateral: found length {self.length_m:g} m, bore {self.bore_m:g} m, emitters every "
                f"{self.emitter_spacing_m:g} m giving {self.flow_lps:g} L/s at {self.at_pressure_kpa:g} kPa, "
                f"inlet {self.inlet_kpa:g} kPa; allowed: all above 0, inlet 0 or more"
            )
            raise DomainError(message)

    @property
    def emitters(self) -> int:
        """Number of emitters."""
        return int(np.floor(self.length_m / self.emitter_spacing_m + 0.5 + 1e-9))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LateralFlow:
    """Pressure and flow along a lateral.

    Parameters
    ----------
    station_m : ndarray, shape (n,)
        Station of each emitter. [m]
    pressure_kpa : ndarray, shape (n,)
        Pressure at each emitter. [kPa]
    emitter_lps : ndarray, shape (n,)
        Flow of each emitter. [L/s]
    pipe_lps : ndarray, shape (n,)
        Flow in the tape just above each emitter, positive away from the header. [L/s]
    inlet_lps : float
        Flow from the header. [L/s]
    far_lps : float
        Flow from the far end, 0 when it is closed. [L/s]
    """

    station_m: NDArray[np.float64]
    pressure_kpa: NDArray[np.float64]
    emitter_lps: NDArray[np.float64]
    pipe_lps: NDArray[np.float64]
    inlet_lps: float
    far_lps: float


def solve_lateral(lateral: TapeLateral) -> LateralFlow:
    """Return pressure and flow at every emitter of a lateral.

    Every emitter is a node; between neighbours head is lost to friction and gained or lost to
    height, and what leaves an emitter depends on its pressure. The whole set is solved at once.

    Parameters
    ----------
    lateral : TapeLateral
        The lateral.

    Returns
    -------
    LateralFlow
        Pressure and flow along it.

    Raises
    ------
    DomainError
        If the lateral is shorter than half an emitter spacing, or no balance is found.

    Notes
    -----
    Newton's method on the heads (tridiagonal system), the way general pipe-network solvers
    work; the height rises evenly from end to end. Losses of the emitters' own barbs are not
    counted: real laterals lose somewhat more.

    Examples
    --------
    >>> flow = solve_lateral(TapeLateral(length_m=400, bore_m=0.022, emitter_spacing_m=0.6,
    ...                                  flow_lps=0.6e-3 / 3.6, at_pressure_kpa=55, inlet_kpa=83))
    >>> len(flow.station_m), round(flow.inlet_lps, 4), round(float(flow.pressure_kpa[-1]), 1)
    (667, 0.1287, 70.5)
    """
    count = lateral.emitters
    if count < 1:
        message = (
            f"lateral: found {lateral.length_m:g} m with emitters every {lateral.emitter_spacing_m:g} m; "
            "allowed: at least one emitter"
        )
        raise DomainError(message)
    station = np.asarray((np.arange(count) + 0.5) * lateral.emitter_spacing_m, np.float64)
    height = lateral.rise_m * station / lateral.length_m
    lengths = np.diff(station, prepend=0.0, append=lateral.length_m)
    heads = _balance(lateral, height, lengths)
    pressure = np.maximum((heads - height) * KPA_PER_M, 0.0)
    given = _emitters(lateral, pressure)
    pipe = _pipe_flows(lateral, given, heads, lengths)
    return LateralFlow(
        station_m=station,
        pressure_kpa=pressure,
        emitter_lps=given,
        pipe_lps=pipe,
        inlet_lps=float(pipe[0]),
        far_lps=float(given.sum() - pipe[0]),
    )


def _emitters(lateral: TapeLateral, pressure_kpa: NDArray[np.float64]) -> NDArray[np.float64]:
    return emitter_flow_lps(
        pressure_kpa,
        flow_lps=lateral.flow_lps,
        at_pressure_kpa=lateral.at_pressure_kpa,
        exponent=lateral.exponent,
    )


def _loss(
    lateral: TapeLateral, flow: NDArray[np.float64], lengths: NDArray[np.float64]
) -> NDArray[np.float64]:
    if lateral.roughness is None:
        return darcy_weisbach_loss_m(
            flow, bore_m=lateral.bore_m, length_m=lengths, viscosity_m2_s=lateral.viscosity_m2_s
        )
    unit = hazen_williams_loss_m(
        np.abs(flow), bore_m=lateral.bore_m, length_m=1.0, roughness=lateral.roughness
    )
    return np.asarray(np.sign(flow) * unit * lengths)


def _slopes(
    lateral: TapeLateral, flow: NDArray[np.float64], lengths: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return d loss / d flow, kept above 0 where the flow stands still."""
    step = np.maximum(np.abs(flow) * 1e-5, 1e-9)
    slope = (_loss(lateral, flow + step, lengths) - _loss(lateral, flow - step, lengths)) / (2 * step)
    return np.maximum(slope, 1e-9)


def _balance(
    lateral: TapeLateral, height: NDArray[np.float64], lengths: NDArray[np.float64]
) -> NDArray[np.float64]:
    inlet = lateral.inlet_kpa / KPA_PER_M
    far = None if lateral.far_kpa is None else lateral.far_kpa / KPA_PER_M + lateral.rise_m
    heads = np.full(len(height), inlet) + 0.0
    given = _emitters(lateral, np.maximum(heads - height, 0.0) * KPA_PER_M)
    flows = np.append(np.cumsum(given[::-1])[::-1], 0.0)
    if far is not None:
        flows -= flows[0] / 2
    for _ in range(_ROUNDS):
        again, flows = _newton_step(lateral, heads, flows, height, lengths, inlet, far)
        moved = float(np.abs(again - heads).max())
        heads = again
        if moved < _CLOSE_M:
            return heads
    message = (
        f"lateral of {lateral.length_m:g} m: no balance found at {lateral.inlet_kpa:g} kPa; check bore, "
        "emitter flow and pressure"
    )
    raise DomainError(message)


def _newton_step(
    lateral: TapeLateral,
    heads: NDArray[np.float64],
    flows: NDArray[np.float64],
    height: NDArray[np.float64],
    lengths: NDArray[np.float64],
    inlet: float,
    far: float | None,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    loss, slope = _loss(lateral, flows, lengths), _slopes(lateral, flows, lengths)
    ease = 1.0 / slope
    if far is None:
        ease[-1] = 0.0
    pushed = flows - ease * loss
    if far is None:
        pushed[-1] = 0.0
    pressure = (heads - height) * KPA_PER_M
    given = _emitters(lateral, pressure)
    # Below a pascal the square root's slope runs away; a straight line stands in for it.
    steep = np.maximum(pressure, 1e-3)
    gain = _emitters(lateral, steep) / steep * max(lateral.exponent, 1e-6) * KPA_PER_M
    right = pushed[:-1] - pushed[1:] - given + gain * heads
    right[0] += ease[0] * inlet
    if far is not None:
        right[-1] += ease[-1] * far
    bands = np.zeros((3, len(heads)))
    bands[0, 1:] = bands[2, :-1] = -ease[1:-1]
    bands[1] = ease[:-1] + ease[1:] + gain
    solved = np.asarray(solve_banded((1, 1), bands, right))
    ends = np.concatenate([[inlet], solved, [solved[-1] if far is None else far]])
    return solved, pushed - ease * np.diff(ends)


def _pipe_flows(
    lateral: TapeLateral,
    given: NDArray[np.float64],
    heads: NDArray[np.float64],
    lengths: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Return flow above each emitter by adding up what leaves below it."""
    total = given[::-1].cumsum()[::-1]
    if lateral.far_kpa is None:
        return np.asarray(total)
    # Fed from both ends: the first reach's own loss tells what the header gives.
    drop = lateral.inlet_kpa / KPA_PER_M - heads[0]
    low, high = -float(given.sum()), float(given.sum()) * 2
    for _ in range(80):
        middle = (low + high) / 2
        if float(_loss(lateral, np.array([middle]), lengths[:1])[0]) < drop:
            low = middle
        else:
            high = middle
    return np.asarray((low + high) / 2 - given.sum() + total)

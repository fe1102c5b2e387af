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
    from numpy.typing import ArrayLike, NDArray

_ROUNDS = 100
_CLOSE_M = 1e-9
_CLOSE_SHARE = 1e-3
_LEAST_SLOPE = 1e-6


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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LateralFlows:
    """Pressure and flow along many laterals: emitters of all of them in one row of arrays.

    Parameters
    ----------
    index : ndarray of int, shape (n + 1,)
        Emitters of lateral m, counted from 0, stand at ``index[m]:index[m + 1]``.
    station_m, pressure_kpa, emitter_lps, pipe_lps : ndarray
        As in `LateralFlow`, lateral after lateral. [m, kPa, L/s, L/s]
    inlet_lps, far_lps : ndarray, shape (n,)
        Flow into each lateral from the header and from the far end. [L/s]
    """

    index: NDArray[np.int64]
    station_m: NDArray[np.float64]
    pressure_kpa: NDArray[np.float64]
    emitter_lps: NDArray[np.float64]
    pipe_lps: NDArray[np.float64]
    inlet_lps: NDArray[np.float64]
    far_lps: NDArray[np.float64]

    def one(self, number: int) -> LateralFlow:
        """Return the flow of one of the laterals.

        Parameters
        ----------
        number : int
            Its place among them, from 0. [-]

        Returns
        -------
        LateralFlow
            Pressure and flow along it.
        """
        held = slice(self.index[number], self.index[number + 1])
        return LateralFlow(
            station_m=self.station_m[held],
            pressure_kpa=self.pressure_kpa[held],
            emitter_lps=self.emitter_lps[held],
            pipe_lps=self.pipe_lps[held],
            inlet_lps=float(self.inlet_lps[number]),
            far_lps=float(self.far_lps[number]),
        )


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
    return solve_laterals(lateral, [lateral.length_m]).one(0)


def solve_laterals(lateral: TapeLateral, lengths_m: ArrayLike) -> LateralFlows:
    """Return pressure and flow at every emitter of many laterals of one tape, all at once.

    Parameters
    ----------
    lateral : TapeLateral
        The tape and how it is fed; its own length only sets the slope: `rise_m` over it.
    lengths_m : array_like, shape (n,)
        Length of each lateral, one or more, each with room for an emitter. [m]

    Returns
    -------
    LateralFlows
        Pressure and flow along each, in the order of `lengths_m`.

    Raises
    ------
    DomainError
        If there is no lateral, one is shorter than half an emitter spacing, or no balance is found.

    Notes
    -----
    One tridiagonal system holds all laterals; nothing couples the end of one to the start of
    the next.

    Examples
    --------
    >>> tape = TapeLateral(length_m=400, bore_m=0.022, emitter_spacing_m=0.6,
    ...                    flow_lps=0.6e-3 / 3.6, at_pressure_kpa=55, inlet_kpa=83)
    >>> solve_laterals(tape, [400, 200]).inlet_lps
    array([0.129, 0.068])
    """
    nodes = _nodes(lateral, np.atleast_1d(np.asarray(lengths_m, float)))
    heads, entering = _balance(nodes)
    pressure = np.maximum((heads - nodes.height) * KPA_PER_M, 0.0)
    given = _emitters(lateral, pressure)
    total = np.add.reduceat(given, nodes.index[:-1])
    inlet = total if lateral.far_kpa is None else entering
    before = np.cumsum(given) - given
    pipe = np.repeat(inlet + before[nodes.index[:-1]], np.diff(nodes.index)) - before
    return LateralFlows(
        index=nodes.index,
        station_m=nodes.station,
        pressure_kpa=pressure,
        emitter_lps=given,
        pipe_lps=pipe,
        inlet_lps=np.asarray(inlet),
        far_lps=np.asarray(total - inlet),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Nodes:
    """Emitters of all laterals in one row, and the reach of tape that leads to each."""

    lateral: TapeLateral
    index: NDArray[np.int64]
    station: NDArray[np.float64]
    height: NDArray[np.float64]
    reach: NDArray[np.float64]
    far_reach: NDArray[np.float64]
    inlet_head: float
    far_head: NDArray[np.float64] | None

    @property
    def first(self) -> NDArray[np.int64]:
        """Position of each lateral's first emitter."""
        return self.index[:-1]

    @property
    def last(self) -> NDArray[np.int64]:
        """Position of each lateral's last emitter."""
        return self.index[1:] - 1


def _nodes(lateral: TapeLateral, lengths: NDArray[np.float64]) -> _Nodes:
    spacing = lateral.emitter_spacing_m
    counts = np.floor(lengths / spacing + 0.5 + 1e-9).astype(np.int64)
    if not lengths.size or counts.min() < 1:
        message = (
            f"lateral: found {lengths.min() if lengths.size else 0:g} m with emitters every {spacing:g} m; "
            "allowed: at least one emitter"
        )
        raise DomainError(message)
    index = np.concatenate([[0], counts.cumsum()]).astype(np.int64)
    number = np.arange(index[-1]) - np.repeat(index[:-1], counts)
    slope = lateral.rise_m / lateral.length_m
    far = None if lateral.far_kpa is None else lateral.far_kpa / KPA_PER_M + slope * lengths
    station = (number + 0.5) * spacing
    return _Nodes(
        lateral=lateral,
        index=index,
        station=station,
        height=slope * station,
        reach=np.where(number == 0, spacing / 2.0, spacing),
        far_reach=lengths - (counts - 0.5) * spacing,
        inlet_head=lateral.inlet_kpa / KPA_PER_M,
        far_head=far,
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


def _eased(
    lateral: TapeLateral, flow: NDArray[np.float64], lengths: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return d flow / d loss, and the flow that the straight line through it gives without loss."""
    # Hazen-Williams has no slope where the flow stands still; laminar water in tape has 1e-3 m a L/s.
    step = np.maximum(np.abs(flow) * 1e-5, 1e-9)
    slope = (_loss(lateral, flow + step, lengths) - _loss(lateral, flow - step, lengths)) / (2 * step)
    ease = 1.0 / np.maximum(slope, _LEAST_SLOPE)
    return ease, flow - ease * _loss(lateral, flow, lengths)


def _balance(nodes: _Nodes) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the head at every emitter, and what enters each lateral from the header."""
    lateral = nodes.lateral
    heads = np.full(len(nodes.height), nodes.inlet_head)
    given = _emitters(lateral, np.maximum(heads - nodes.height, 0.0) * KPA_PER_M)
    total = np.add.reduceat(given, nodes.first)
    before = np.cumsum(given) - given
    entering = total / 2 if lateral.far_kpa is not None else total
    flows = np.repeat(entering + before[nodes.first], np.diff(nodes.index)) - before
    far = entering - total
    for _ in range(_ROUNDS):
        again, turned, far = _newton_step(nodes, heads, flows, far)
        moved_m, moved_lps = float(np.abs(again - heads).max()), float(np.abs(turned - flows).max())
        heads, flows = again, turned
        # Heads settle first; flow between two ends follows where almost no head is lost.
        if moved_m < _CLOSE_M and moved_lps < _CLOSE_SHARE * lateral.flow_lps:
            return heads, flows[nodes.first]
    message = (
        f"lateral of {lateral.length_m:g} m: no balance found at {lateral.inlet_kpa:g} kPa; check bore, "
        "emitter flow and pressure"
    )
    raise DomainError(message)


def _newton_step(
    nodes: _Nodes, heads: NDArray[np.float64], flows: NDArray[np.float64], far: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Return heads, flow in the reach above each emitter and in the reach past each last one."""
    lateral, first, last = nodes.lateral, nodes.first, nodes.last
    ease, pushed = _eased(lateral, flows, nodes.reach)
    ease_far, pushed_far = np.zeros(len(last)), np.zeros(len(last))
    if nodes.far_head is not None:
        ease_far, pushed_far = _eased(lateral, far, nodes.far_reach)
    ease_on, pushed_on = np.append(ease[1:], 0.0), np.append(pushed[1:], 0.0)
    ease_on[last], pushed_on[last] = ease_far, pushed_far
    pressure = (heads - nodes.height) * KPA_PER_M
    given = _emitters(lateral, pressure)
    # Below a pascal the square root's slope runs away; a straight line stands in for it.
    steep = np.maximum(pressure, 1e-3)
    gain = _emitters(lateral, steep) / steep * max(lateral.exponent, 1e-6) * KPA_PER_M
    right = pushed - pushed_on - given + gain * heads
    right[first] += ease[first] * nodes.inlet_head
    if nodes.far_head is not None:
        right[last] += ease_far * nodes.far_head
    coupled = ease.copy()
    coupled[first] = 0.0
    bands = np.zeros((3, len(heads)))
    bands[0, 1:] = bands[2, :-1] = -coupled[1:]
    bands[1] = ease + ease_on + gain
    solved = np.asarray(solve_banded((1, 1), bands, right))
    above = np.append(0.0, solved[:-1])
    above[first] = nodes.inlet_head
    if nodes.far_head is not None:
        pushed_far = pushed_far - ease_far * (nodes.far_head - solved[last])
    return solved, pushed - ease * (solved - above), pushed_far

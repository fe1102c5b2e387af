"""A tape lateral against the same pipe network in the general library wntr (EPANET's solver)."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import wntr

from ringrow.errors import DomainError
from ringrow.water.constants import KPA_PER_M
from ringrow.water.lateral import TapeLateral, solve_lateral

TAPE = TapeLateral(
    length_m=300,
    bore_m=0.0349,
    emitter_spacing_m=0.6,
    flow_lps=0.6 / 3600,
    at_pressure_kpa=55,
    inlet_kpa=83,
    roughness=150,
)


def network_flow(lateral: TapeLateral) -> tuple[np.ndarray, np.ndarray]:
    """Pressure [kPa] and emitter flow [L/s] of the lateral as an EPANET network of pipes and emitters."""
    network = wntr.network.WaterNetworkModel()
    network.options.hydraulic.headloss = "H-W"
    network.options.hydraulic.emitter_exponent = lateral.exponent
    network.options.hydraulic.accuracy = 1e-8
    network.options.hydraulic.trials = 500
    # Kept well above 0 everywhere, since only differences in height matter to pressure.
    network.add_reservoir("header", base_head=100 + lateral.inlet_kpa / KPA_PER_M)
    constant = (lateral.flow_lps / 1000) / (lateral.at_pressure_kpa / KPA_PER_M) ** lateral.exponent
    before, at = "header", 0.0
    for index in range(lateral.emitters):
        station = (index + 0.5) * lateral.emitter_spacing_m
        name = f"e{index}"
        network.add_junction(
            name, base_demand=0.0, elevation=100 + lateral.rise_m * station / lateral.length_m
        )
        network.get_node(name).emitter_coefficient = constant
        network.add_pipe(
            f"p{index}",
            before,
            name,
            length=station - at,
            diameter=lateral.bore_m,
            roughness=lateral.roughness,
        )
        before, at = name, station
    if lateral.far_kpa is not None:
        network.add_reservoir("far", base_head=100 + lateral.rise_m + lateral.far_kpa / KPA_PER_M)
        network.add_pipe(
            "last",
            before,
            "far",
            length=lateral.length_m - at,
            diameter=lateral.bore_m,
            roughness=lateral.roughness,
        )
    results = wntr.sim.EpanetSimulator(network).run_sim()
    names = [f"e{index}" for index in range(lateral.emitters)]
    pressure = results.node["pressure"].loc[0, names].to_numpy() * KPA_PER_M
    return pressure, results.node["demand"].loc[0, names].to_numpy() * 1000


@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize(
    "change",
    [
        {},
        {"length_m": 400, "bore_m": 0.022},
        {"rise_m": -1.5},
        {"rise_m": 1.0, "length_m": 200},
        {"far_kpa": 83.0, "length_m": 500, "bore_m": 0.022},
        {"far_kpa": 75.0, "length_m": 500, "bore_m": 0.022, "rise_m": 0.5},
    ],
    ids=["level", "small bore", "falls", "rises", "both ends", "both ends, uneven"],
)
def test_lateral_equals_network(change: dict[str, float], tmp_path, monkeypatch) -> None:
    """Every emitter within 1 % in pressure and flow; the solver's own files stay in a temporary folder."""
    monkeypatch.chdir(tmp_path)
    lateral = replace(TAPE, **change)
    pressure, flow = network_flow(lateral)
    ours = solve_lateral(lateral)
    assert ours.pressure_kpa == pytest.approx(pressure, rel=0.01)
    assert ours.emitter_lps == pytest.approx(flow, rel=0.01)
    assert ours.inlet_lps + ours.far_lps == pytest.approx(flow.sum(), rel=0.01)


@pytest.mark.parametrize("exponent", [0.0, 0.5, 1.0])
@pytest.mark.parametrize("roughness", [None, 150])
def test_flow_closes_and_losses_add_up(exponent: float, roughness: float | None) -> None:
    lateral = replace(TAPE, exponent=exponent, roughness=roughness)
    flow = solve_lateral(lateral)
    assert flow.inlet_lps == pytest.approx(flow.emitter_lps.sum(), rel=1e-9)
    assert (np.diff(flow.pressure_kpa) <= 1e-9).all()
    assert flow.pressure_kpa[0] < lateral.inlet_kpa
    if exponent == 0.0:
        assert flow.emitter_lps == pytest.approx(np.full(lateral.emitters, lateral.flow_lps))


def test_dead_lateral_gives_nothing() -> None:
    flow = solve_lateral(replace(TAPE, inlet_kpa=0.0))
    assert flow.inlet_lps == pytest.approx(0.0, abs=1e-6)


def test_too_short_is_refused() -> None:
    with pytest.raises(DomainError, match="at least one emitter"):
        solve_lateral(replace(TAPE, length_m=0.2))
    with pytest.raises(DomainError, match="bore 0 m"):
        replace(TAPE, bore_m=0.0)

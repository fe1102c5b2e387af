"""Pipe networks for the general library wntr (EPANET's solver), to hold tape laterals against."""

from __future__ import annotations

from typing import TYPE_CHECKING

import wntr

from ringrow.water.constants import KPA_PER_M

if TYPE_CHECKING:
    import numpy as np

    from ringrow.water.lateral import TapeLateral

SMOOTH_M = 1e-7
"""Roughness of a smooth wall [m] for the network's own Darcy-Weisbach formula."""


def network_flow(lateral: TapeLateral) -> tuple[np.ndarray, np.ndarray]:
    """Pressure [kPa] and emitter flow [L/s] of the lateral as an EPANET network of pipes and emitters."""
    network = wntr.network.WaterNetworkModel()
    network.options.hydraulic.headloss = "D-W" if lateral.roughness is None else "H-W"
    network.options.hydraulic.emitter_exponent = lateral.exponent
    network.options.hydraulic.accuracy = 1e-8
    network.options.hydraulic.trials = 500
    roughness = SMOOTH_M if lateral.roughness is None else lateral.roughness
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
            roughness=roughness,
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
            roughness=roughness,
        )
    results = wntr.sim.EpanetSimulator(network).run_sim()
    names = [f"e{index}" for index in range(lateral.emitters)]
    pressure = results.node["pressure"].loc[0, names].to_numpy() * KPA_PER_M
    return pressure, results.node["demand"].loc[0, names].to_numpy() * 1000

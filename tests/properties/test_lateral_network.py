"""A tape lateral against the same pipe network in the general library wntr (EPANET's solver)."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from networks import network_flow
from ringrow.errors import DomainError
from ringrow.water.lateral import TapeLateral, solve_lateral, solve_laterals

TAPE = TapeLateral(
    length_m=300,
    bore_m=0.0349,
    emitter_spacing_m=0.6,
    flow_lps=0.6 / 3600,
    at_pressure_kpa=55,
    inlet_kpa=83,
    roughness=150,
)


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


@pytest.mark.parametrize("change", [{}, {"far_kpa": 83.0}, {"rise_m": -2.0}, {"roughness": None}])
def test_many_laterals_at_once_are_each_what_they_are_alone(change: dict[str, float]) -> None:
    lateral = replace(TAPE, **change)
    lengths = np.array([300.0, 12.3, 150.0, 0.4, 299.9])
    together = solve_laterals(lateral, lengths)
    for number, length in enumerate(lengths):
        rise = lateral.rise_m * length / lateral.length_m
        alone = solve_lateral(replace(lateral, length_m=float(length), rise_m=rise))
        one = together.one(number)
        assert one.pressure_kpa == pytest.approx(alone.pressure_kpa, rel=1e-7)
        assert one.emitter_lps == pytest.approx(alone.emitter_lps, rel=1e-7)
        assert one.pipe_lps == pytest.approx(alone.pipe_lps, abs=1e-6)
        assert (one.inlet_lps, one.far_lps) == pytest.approx((alone.inlet_lps, alone.far_lps), abs=1e-6)


def test_no_lateral_at_all_is_refused() -> None:
    with pytest.raises(DomainError, match="at least one emitter"):
        solve_laterals(TAPE, [])


def test_dead_lateral_gives_nothing() -> None:
    flow = solve_lateral(replace(TAPE, inlet_kpa=0.0))
    assert flow.inlet_lps == pytest.approx(0.0, abs=1e-6)


def test_too_short_is_refused() -> None:
    with pytest.raises(DomainError, match="at least one emitter"):
        solve_lateral(replace(TAPE, length_m=0.2))
    with pytest.raises(DomainError, match="bore 0 m"):
        replace(TAPE, bore_m=0.0)

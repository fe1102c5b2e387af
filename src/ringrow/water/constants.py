"""Physical constants the water formulas share, each with where it comes from."""

from __future__ import annotations

KPA_PER_M = 9.80665
"""Pressure of one metre of water at 1,000 kg/m3 and standard gravity [kPa/m], exact for that density."""

KINEMATIC_VISCOSITY_M2_S = 1.004e-6
"""Kinematic viscosity of water at 20 C [m2/s] (from memory, usual handbook figure)."""

TURBULENT_REYNOLDS = 3000.0
"""Reynolds number above which the Blasius formula is used [-]; a straight blend leads up to it."""

LAMINAR_REYNOLDS = 2000.0
"""Reynolds number below which flow is laminar [-]."""

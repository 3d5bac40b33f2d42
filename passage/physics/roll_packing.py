"""How the roll solver is fed: order of packed quantities and its settings."""

from __future__ import annotations

import numpy as np

HULL_IN = ("omega0", "zeta", "quadratic", "heel")
FINS_IN = (
    "moment",
    "inflow",
    "limit",
    "rate_limit",
    "lag",
    "stall",
    "fall",
    "k1",
    "k2",
    "k3",
    "offset",
    "rest",
)
HULL_OUT = ("m0", "m2", "m4", "heel", "damping", "residual", "iterations", "stable")
FINS_OUT = (
    "command",
    "angle",
    "mean",
    "incidence",
    "lift_mean",
    "lift",
    "rate",
    "travel",
    "gain",
    "lag",
    "lift_gain",
    "inflow_gain",
)
#: Unknowns a pair brings: log rms of command, of actuator rate and of the angle
#: before its limit, and the correlation of that angle with roll rate.
PER_PAIR = 4
MAX_ITERATIONS = 200
TOLERANCE = 1e-11
SMALLEST = 1e-12
#: A lag of nothing would leave the rate limit without a scale. [s]
SHORTEST_LAG_S = 1e-3

#: Gauss-Legendre points per panel of the stall integral.
PANEL_POINTS, PANEL_WEIGHTS = np.polynomial.legendre.leggauss(16)
#: How far out the bell curve is followed, in rms.
STALL_REACH = 5.0
#: Least scatter of the inflow at a given angle, as a share of its rms; keeps the
#: integral smooth where inflow and angle move as one.
STALL_SCATTER = 0.2

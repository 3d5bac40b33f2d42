"""Order of the packed inputs and outputs of the roll solver, for the hull and for fin pairs.

Frequencies [rad/s], angles rad, lag and inflow time [s], gains dimensionless, [s], [s2].
"""

from __future__ import annotations

#: The last two: row of the radiation table with its fraction, and the righting moment of that
#: table over the hull's.
HULL_IN = ("omega0", "zeta", "quadratic", "heel", "radiation_row", "radiation_share")
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
    "delay",
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
    "beyond",
)
#: Least lag: with none, the rate limit would have no time scale. [s]
SHORTEST_LAG_S = 1e-3

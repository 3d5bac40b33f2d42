"""The order of packed quantities in the roll solver: what goes in, per hull and per fin pair.

Frequencies [rad/s], angles rad, lag and inflow time [s], gains dimensionless, [s], [s2].
"""

from __future__ import annotations

#: The last two: row of the table of radiation, and the share of the righting moment by which
#: it is taken.
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
#: A lag of nothing would leave the rate limit without a scale. [s]
SHORTEST_LAG_S = 1e-3

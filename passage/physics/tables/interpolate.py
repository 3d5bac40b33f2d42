"""Fixed point of the roll equation on planes of tabulated variances: compiled loop.

The unknown is the rms roll rate. It gives the hull's damping, the command of the fins, and
their gains after angle limit, rate limit and stall; these are a position on the plane, and
the plane gives a new roll rate. Secant steps make the two agree. The equations are those of
``roll/response.py``. This module has the common parts; ``centred.py`` has the case of centred
fins, ``working.py`` that of working fins.
"""

from __future__ import annotations

import math

from passage.physics.compiled import compile_loop, compile_part
from passage.physics.roll.packing import FINS_OUT
from passage.physics.tables.levels import DAMPING_NODES

#: Use of the fins at a point: centred, active under way, driven at rest.
CENTRED, ACTIVE, AT_REST = 0, 1, 2
#: Order of the packed numbers of one speed, and of each pair.
SPEED_IN = ("omega0", "hull", "quadratic", "ratio", "rest_damping", "rest", "by_damping")
PAIR_IN = (
    "moment", "inflow", "limit", "rate_limit", "lag", "k1", "k2", "k3", "weight", "delay", "fall",
)  # fmt: skip
#: Order of the results of a point, and of a pair.
ROLL_OUT = ("m0", "m2", "m4", "held_heel", "damping", "steps")
PAIR_OUT = FINS_OUT
#: Relative change of roll rate below which the next secant value is final. There are at least
#: two steps, which is enough for nearly every point.
NEAR = 3e-3
#: The same where the rate limit has lengthened a fin's lag beyond a factor, so that commanded
#: and actual rate converge as well.
NEAR_LIMIT, LENGTHENED = 1e-3, 1.02
MAX_STEPS = 60
SMALLEST = 1e-9
#: Range to which secant slopes are limited.
SLOPES = (-4.0, 0.95)
#: Rate limit over rms demanded rate above which the limit has no effect.
RATE_FREE = 4.0

#: Factor on the mean square frequency of roll rate for the effect of the lag on fin rate,
#: whose energy is at higher frequencies; found by trial.
TAIL = 1.3

SIXTH = 1.0 / 6.0
ROOT_2_PI = math.sqrt(2.0 / math.pi)
ROOT_8_PI = math.sqrt(8.0 / math.pi)


@compile_part
def cubic(v):  # type: ignore[no-untyped-def]
    """Lagrange weights of four evenly spaced nodes, at v node steps from the first.

    [dimensionless]
    """
    a, b, c = v - 1.0, v - 2.0, v - 3.0
    bc, va = b * c, v * a
    return a * bc * -SIXTH, v * bc * 0.5, va * c * -0.5, va * b * SIXTH


@compile_loop
def start_node(damping, axes):  # type: ignore[no-untyped-def]
    """Column of roll variance at the node nearest a damping D [rad/s], with full feedback."""
    v = (1.0 / (damping + axes[0]) - axes[1]) / axes[2]
    nearest = min(max(int(v + 0.5), 0), DAMPING_NODES - 1)
    return DAMPING_NODES * (int(axes[3]) - 1) + nearest

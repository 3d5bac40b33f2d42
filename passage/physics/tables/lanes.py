"""Lanes of points that are solved together: their rows in the work arrays.

Each part of the work is one loop over all lanes without branches, which the compiler turns into
vector instructions. The work arrays have one row of lanes for each quantity, one after another in
a single dimension, so that the compiler sees that rows do not overlap: ``v`` those of a point,
``u`` (``w`` of all pairs) those of a pair at it, ``t`` the planes (float32) and ``s`` the weights
on them. All lanes have numbers, those left over the ones of the first point.
"""

from __future__ import annotations

from passage.physics.compiled import compile_part

#: Points in a group; each has one lane of the work arrays.
LANES = 32
#: First lane of the rows of a point; from ``M0`` on those of the result.
(
    RATE, SLOPE, BEFORE, BEFORE_ANSWER, PER0, PER4, DAMPING, FEEDBACK, STIFF, NEARNESS, MORE,
    DRIVEN, OPEN, PLACE, FIRST, M0, M2, M4, PER, DAMPED, LAST_SLOPE, STEPS, HELD, TOTAL, WEIGHT,
) = range(0, 25 * LANES, LANES)  # fmt: skip
POINT_ROWS = 25
#: The same of a pair; from ``LAG`` on those of the result.
(
    LAG_NOW, ASKED_NOW, PAST, NODE, SIDE, COMMAND, FAST, LEFT, FACTOR, BEND, SQUARE, LAGGING,
    MARGIN, GOING, TURNED1, TURNED2, LAG, ASKED,
) = range(0, 18 * LANES, LANES)  # fmt: skip
PAIR_ROWS = 18


@compile_part
def five_of(pairs, i):  # type: ignore[no-untyped-def]
    """Moment ratio, inflow time [s], angle limit, rate limit [rad/s] and lag [s] of a pair."""
    return pairs[0, i], pairs[1, i], pairs[2, i], pairs[3, i], pairs[4, i]


@compile_part
def any_lane(v, row):  # type: ignore[no-untyped-def]
    """Whether any lane of a row is above 0. [any unit]"""
    found = False
    for z in range(LANES):
        if v[row + z] > 0.0:
            found = True
            break
    return found

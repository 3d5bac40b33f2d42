"""Parts of the roll solver: limits, stall and stability, one point at a time.

Private to ``roll_solver.py``; compiled where numba is there.
"""

from __future__ import annotations

import math

import numpy as np

from passage.physics.compiled import compile_loop

_ROOT2 = math.sqrt(2.0)
_NORM = 1.0 / math.sqrt(2.0 * math.pi)

#: Places over the bell curve at which the stall is weighed, and their weights.
STALL_STEP = 0.15
STALL_PLACES = np.arange(-30, 31) * STALL_STEP
STALL_WEIGHTS = np.exp(-0.5 * STALL_PLACES**2)
STALL_WEIGHTS = STALL_WEIGHTS / STALL_WEIGHTS.sum()
#: Least scatter of incidence at one place, in steps; keeps the sum smooth.
STALL_SMOOTH = 0.45


@compile_loop
def clip_statistics(std, mean, limit):  # type: ignore[no-untyped-def]
    """Gain, mean and rms after a limit; see ``linearisation.py``."""
    if math.isinf(limit):
        return 1.0, mean, std
    above = (limit - mean) / std
    below = (limit + mean) / std
    high = 0.5 * (1.0 - math.erf(above / _ROOT2))
    low = 0.5 * (1.0 - math.erf(below / _ROOT2))
    inside = 1.0 - high - low
    pdf_high = _NORM * math.exp(-0.5 * min(above * above, 1400.0))
    pdf_low = _NORM * math.exp(-0.5 * min(below * below, 1400.0))
    d_high, d_low = limit - mean, limit + mean
    first = d_high * high - d_low * low + std * (pdf_low - pdf_high)
    second = d_high * d_high * high + d_low * d_low * low
    second += std * std * (inside - above * pdf_high - below * pdf_low)
    return inside, mean + first, math.sqrt(max(second - first * first, 0.0))


@compile_loop
def stall_statistics(std, mean, limit, std_inflow, correlation, stall):  # type: ignore[no-untyped-def]
    """What lies beyond the stall, of a clipped fin angle plus inflow.

    The angle before its limit and the inflow are jointly Gaussian. At each place
    of the angle the inflow that goes with it is a Gaussian with a closed form.

    Returns
    -------
    part, excess, with_angle, size, square
        Share of time beyond the stall; mean excess (signed); mean of excess x
        angle about its mean; mean size of the excess; mean square.
    """
    part = excess = with_angle = size = square = 0.0
    if math.isinf(stall):
        return part, excess, with_angle, size, square
    reach = min(limit, abs(mean) + 4.5 * std) + 6.0 * std_inflow
    if reach < stall:
        return part, excess, with_angle, size, square
    rho = min(max(correlation, -1.0), 1.0)
    slope = std + rho * std_inflow
    scatter = math.sqrt(std_inflow * std_inflow * (1.0 - rho * rho))
    scatter = max(scatter, STALL_SMOOTH * STALL_STEP * abs(slope), 1e-12)
    for n in range(STALL_PLACES.size):
        z = STALL_PLACES[n]
        angle = min(max(mean + std * z, -limit), limit)
        centre = angle + rho * std_inflow * z
        for side in (1.0, -1.0):
            over = side * centre - stall
            t = over / scatter
            if t < -6.0:
                continue
            q = 0.5 * math.erfc(-t / _ROOT2)
            bell = _NORM * math.exp(-0.5 * min(t * t, 1400.0))
            first = scatter * bell + over * q
            w = STALL_WEIGHTS[n]
            part += w * q
            excess += w * side * first
            with_angle += w * side * first * std * z
            size += w * first
            square += w * ((scatter * scatter + over * over) * q + over * scatter * bell)
    return part, excess, with_angle, size, square


@compile_loop
def stable(w0, damping, moment, inflow, k1, k2, k3, lag):  # type: ignore[no-untyped-def]
    """Routh-Hurwitz test of the loop; ``moment`` carries the gains left.

    One or two pairs: a polynomial in s of degree 3 or 4, made of
    (s^2/w0^2 + damping s/w0^2 + 1) and the fins with their lags.
    """
    n = moment.size
    base0, base1, base2 = 1.0, damping / (w0 * w0), 1.0 / (w0 * w0)
    for i in range(n):
        base1 += moment[i] * inflow[i]
    if n == 1:
        t = lag[0]
        p0 = base0 + moment[0] * k1[0]
        p1 = base1 + t * base0 + moment[0] * k2[0]
        p2 = base2 + t * base1 + moment[0] * k3[0]
        p3 = t * base2
        return p0 > 0.0 and p1 > 0.0 and p2 > 0.0 and p2 * p1 > p3 * p0
    s, q = lag[0] + lag[1], lag[0] * lag[1]
    p0 = base0
    p1 = base1 + s * base0
    p2 = base2 + s * base1 + q * base0
    p3 = s * base2 + q * base1
    p4 = q * base2
    for i in range(2):
        other = lag[1 - i]
        p0 += moment[i] * k1[i]
        p1 += moment[i] * (k2[i] + other * k1[i])
        p2 += moment[i] * (k3[i] + other * k2[i])
        p3 += moment[i] * other * k3[i]
    if p0 <= 0.0 or p1 <= 0.0 or p2 <= 0.0 or p3 <= 0.0:
        return False
    return p3 * p2 * p1 > p4 * p1 * p1 + p3 * p3 * p0

"""Fixed point of the linearised roll equation: the compiled loop.

Private to ``response.py``, which explains the equations. Inputs and outputs are packed in
the orders of ``packing.py``. The other compiled parts are in ``steadiness.py`` and
``radiation.py``.
"""

from __future__ import annotations

import math

import numpy as np

from passage.physics.compiled import compile_loop, compile_part, compile_sum
from passage.physics.roll.packing import SHORTEST_LAG_S
from passage.physics.roll.radiation import radiation_at
from passage.physics.roll.steadiness import stable, turned_gains

#: Unknowns of each pair: log rms of command, of actuator rate and of the angle before its
#: limit, and the correlation of that angle with roll rate.
PER_PAIR = 4
MAX_ITERATIONS = 200
TOLERANCE = 1e-11
SMALLEST = 1e-12
#: Gauss-Legendre points per panel of the stall integral.
PANEL_POINTS, PANEL_WEIGHTS = np.polynomial.legendre.leggauss(10)
#: Extent of the Gaussian in the stall integral, in rms.
STALL_REACH = 5.0
#: Least scatter of the inflow at a given angle, as a share of its rms; keeps the integral
#: smooth where inflow and angle are fully correlated.
STALL_SCATTER = 0.2

_ROOT2 = math.sqrt(2.0)
_ROOT_2_PI = math.sqrt(2.0 / math.pi)
_ROOT_8_PI = math.sqrt(8.0 / math.pi)
_NORM = 1.0 / math.sqrt(2.0 * math.pi)


@compile_loop
def clip_statistics(std, mean, limit):  # type: ignore[no-untyped-def]
    """Linear gain, mean and rms of a Gaussian after a limit, as in ``linearisation.py``.

    Scalars in rad; the gain is dimensionless.
    """
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
    """Statistics of incidence beyond the stall, for a clipped fin angle plus inflow.

    The angle before its limit and the inflow are jointly Gaussian. At each angle the inflow
    is a Gaussian, whose part beyond the stall has a closed form; the integral over angles
    runs in panels that end at the limit and on both sides of the stall.

    Scalars in rad; share and correlation dimensionless, ``with_angle`` and ``square`` in [rad2].

    Returns
    -------
    part, excess, with_angle, size, square
        Share of time beyond the stall; mean excess, signed; mean of excess x angle about its
        mean; mean magnitude of the excess; its mean square.
    """
    part = excess = with_angle = size = square = 0.0
    if math.isinf(stall):
        return part, excess, with_angle, size, square
    rho = min(max(correlation, -1.0), 1.0)
    tied = rho * std_inflow  # mean inflow at one rms of angle
    scatter = max(math.sqrt(1.0 - rho * rho), STALL_SCATTER) * std_inflow
    scatter = max(scatter, 1e-12)
    slope = std + tied
    for side in (1.0, -1.0):
        centre = side * mean
        if min(limit, centre + STALL_REACH * std) + STALL_REACH * abs(tied) + 6 * scatter < stall:
            continue
        last = min(max((limit - centre) / std, -STALL_REACH), STALL_REACH)
        first, middle = -STALL_REACH, last
        if slope > 1e-12:
            first = (stall - 6.0 * scatter - centre) / slope
            middle = (stall + 6.0 * scatter - centre) / slope
        first = min(max(first, -STALL_REACH), last)
        middle = min(max(middle, first), last)
        for panel in range(3):
            low, high = first, middle
            if panel == 1:
                low, high = middle, last
            elif panel == 2:
                low, high = last, STALL_REACH
            half = 0.5 * (high - low)
            if half <= 0.0:
                continue
            for n in range(PANEL_POINTS.size):
                z = low + half * (1.0 + PANEL_POINTS[n])
                over = min(max(centre + std * z, -limit), limit) + tied * z - stall
                t = over / scatter
                if t < -6.0:
                    continue
                w = PANEL_WEIGHTS[n] * half * _NORM * math.exp(-0.5 * z * z)
                q = 0.5 * math.erfc(-t / _ROOT2)
                bell = _NORM * math.exp(-0.5 * min(t * t, 1400.0))
                mean_over = scatter * bell + over * q
                part += w * q
                excess += w * side * mean_over
                with_angle += w * mean_over * std * z
                size += w * mean_over
                square += w * ((scatter * scatter + over * over) * q + over * scatter * bell)
    return part, excess, with_angle, size, square


@compile_part
def _pair(w2, k1, k2, k3, lag, cosine, sine):  # type: ignore[no-untyped-def]
    """Fin angle of a pair per roll at one frequency: real part, imaginary part over omega, and
    square of the magnitude. ``cosine`` and ``sine`` (over omega) are those of its delay."""
    ahead = k1 - w2 * k3
    stiff = ahead * cosine + w2 * k2 * sine
    damped = k2 * cosine - ahead * sine
    follow = 1.0 / (1.0 + w2 * lag * lag)
    return (
        (stiff + w2 * damped * lag) * follow,
        (damped - stiff * lag) * follow,
        (stiff * stiff + w2 * damped * damped) * follow,
    )


@compile_sum
def _sweep_one(energy, nodes, more, w0, damping, inflow, feeds, k1s, k2s, k3s, lags, late, sums):  # type: ignore[no-untyped-def]
    """Spectral moments of roll and fins with one pair; see ``_sweep_two``."""
    feed, k1, k2, k3, lag = feeds[0], k1s[0], k2s[0], k3s[0], lags[0]
    m0 = m2 = m4 = a0 = a2 = cross = 0.0
    inverse = 1.0 / (w0 * w0)
    damp = damping * inverse + inflow
    for j in range(nodes.size):
        w2 = nodes[j] * nodes[j]
        real, imag, square = _pair(w2, k1, k2, k3, lag, late[0, 0, j], late[0, 1, j])
        re = 1.0 - w2 * inverse + more[0, j] + feed * real
        im = damp + more[1, j] + feed * imag
        e = energy[j] / (re * re + w2 * im * im)
        m0 += e
        m2 += e * w2
        m4 += e * w2 * w2
        a0 += e * square
        a2 += e * square * w2
        cross += e * w2 * imag
    sums[0], sums[1], sums[2] = m0, m2, m4
    sums[3], sums[4], sums[5] = a0, a2, cross


@compile_sum
def _sweep_two(energy, nodes, more, w0, damping, inflow, feeds, k1s, k2s, k3s, lags, late, sums):  # type: ignore[no-untyped-def]
    """Spectral moments of roll and fins with two pairs.

    ``more`` (2, nodes) is the stiffness and damping of ``radiation_at``; ``feeds`` is moment
    ratio x lift gain of each pair; ``inflow`` is the moment of all pairs per roll rate;
    ``late`` (pairs, 2, nodes) is cos(w d) and sin(w d)/w of each pair's delay d. ``sums`` is
    filled with m0, m2 and m4 of roll, then for each pair the variance of the command after
    the actuator's lag, that of its rate, and its covariance with roll rate, all for a limit
    gain of one.
    """
    feed, k1, k2, k3, lag = feeds[0], k1s[0], k2s[0], k3s[0], lags[0]
    feedb, b1, b2, b3, lagb = feeds[1], k1s[1], k2s[1], k3s[1], lags[1]
    m0 = m2 = m4 = a0 = a2 = ca = g0 = g2 = cb = 0.0
    inverse = 1.0 / (w0 * w0)
    damp = damping * inverse + inflow
    for j in range(nodes.size):
        w2 = nodes[j] * nodes[j]
        real, imag, square = _pair(w2, k1, k2, k3, lag, late[0, 0, j], late[0, 1, j])
        realb, imagb, squareb = _pair(w2, b1, b2, b3, lagb, late[1, 0, j], late[1, 1, j])
        re = 1.0 - w2 * inverse + more[0, j] + feed * real + feedb * realb
        im = damp + more[1, j] + feed * imag + feedb * imagb
        e = energy[j] / (re * re + w2 * im * im)
        m0 += e
        m2 += e * w2
        m4 += e * w2 * w2
        a0 += e * square
        a2 += e * square * w2
        ca += e * w2 * imag
        g0 += e * squareb
        g2 += e * squareb * w2
        cb += e * w2 * imagb
    sums[0], sums[1], sums[2] = m0, m2, m4
    sums[3], sums[4], sums[5] = a0, a2, ca
    sums[6], sums[7], sums[8] = g0, g2, cb


@compile_loop
def solve_loop(  # type: ignore[no-untyped-def]
    energy, nodes, radiation, hull, fins, hull_out, fins_out
):
    """Solve every point for its fixed point, in the units and orders of ``packing.py``.

    Energy (P, nodes) [rad2], radiation (K, 2, nodes) as the table of ``RollRadiation``, hull
    (6, P), fins (13, P, n), outputs (8, P), (13, P, n).
    """
    points = energy.shape[0]
    n = fins.shape[2]
    size = 1 + PER_PAIR * n
    # Rows of few arrays: each further array would add to the time to compile.
    sums = np.zeros(9)
    work = np.zeros((5, size))
    y, g, f, f_old, g_old = work[0], work[1], work[2], work[3], work[4]
    pairs = np.zeros((10, n))
    gain, lift_gain, inflow_gain, share, mean = pairs[0], pairs[1], pairs[2], pairs[3], pairs[4]
    lag, rate_gain, nothing, feed, delay = pairs[5], pairs[6], pairs[7], pairs[8], pairs[9]
    for i in range(n):
        delay[i] = math.nan
    late = np.zeros((n, 2, nodes.size))
    water = np.zeros((2, nodes.size))
    for p in range(points):
        w0, zeta, b, heel = hull[0, p], hull[1, p], hull[2, p], hull[3, p]
        row, over, sea = hull[4, p], hull[5, p], energy[p]
        check = w0 + zeta + b + heel + row + over
        for i in range(n):
            for q in range(13):
                if not math.isinf(fins[q, p, i]):
                    check += fins[q, p, i]
        for j in range(nodes.size):
            check += sea[j]
        if not math.isfinite(check):
            for q in range(hull_out.shape[0]):
                hull_out[q, p] = math.nan
            hull_out[7, p] = 0.0
            for q in range(fins_out.shape[0]):
                for i in range(n):
                    fins_out[q, p, i] = math.nan
            continue
        radiation_at(radiation, nodes, row, over, w0, 2.0 * zeta / w0, water)
        for i in range(n):
            lag[i] = max(fins[4, p, i], SHORTEST_LAG_S)
            if fins[12, p, i] != delay[i]:
                delay[i] = fins[12, p, i]
                for j in range(nodes.size):
                    _, late[i, 0, j] = turned_gains(0.0, 1.0, nodes[j], delay[i])
                    _, late[i, 1, j] = turned_gains(-1.0, 0.0, nodes[j], delay[i])
        slow = 2.0 * max(zeta, 1e-6) * w0
        k1s, k2s, k3s = fins[7, p], fins[8, p], fins[9, p]
        steady = stable(w0, slow, fins[0, p], fins[1, p], k1s, k2s, k3s, lag, delay)
        for q in range(size):
            y[q] = math.log(SMALLEST)
        for i in range(n):
            y[4 + PER_PAIR * i] = 0.0
        residual = math.inf
        size_old = math.inf
        iteration = 0
        damping = 0.0
        held = 0.0
        while iteration < MAX_ITERATIONS:
            # Gains at the present estimate; in the first pass fins are free of their limits.
            rate = math.exp(y[0])
            damping = 2.0 * zeta * w0
            if iteration > 0:
                damping += _ROOT_8_PI * b * rate
            inflow = 0.0
            held = 0.0
            for i in range(n):
                if iteration > 0:
                    rest = fins[11, p, i]
                    damping += w0 * w0 * rest * _ROOT_2_PI / rate
                at = 1 + PER_PAIR * i
                std = math.exp(y[at])
                gain[i], mean[i], clipped = clip_statistics(std, fins[10, p, i], fins[2, p, i])
                share[i] = clipped / std
                speed = math.exp(y[at + 1])
                rate_gain[i] = max(math.erf(fins[3, p, i] / (_ROOT2 * speed)), 1e-9)
                lag[i] = max(fins[4, p, i], SHORTEST_LAG_S) / rate_gain[i]
                std = math.exp(y[at + 2])
                flow = fins[1, p, i] * rate
                part, excess, with_angle, size_, square = stall_statistics(
                    std, fins[10, p, i], fins[2, p, i], flow, y[at + 3], fins[5, p, i]
                )
                more = 1.0 + fins[6, p, i]
                inflow_gain[i] = 1.0 - more * part
                slant = part
                if std > 1e-6:
                    slant = (with_angle - part * y[at + 3] * std * flow) / (std * std)
                lift_gain[i] = gain[i] - more * slant
                feed[i] = fins[0, p, i] * lift_gain[i]
                lift = mean[i] - more * excess
                held += fins[0, p, i] * lift
                inflow += fins[0, p, i] * inflow_gain[i] * fins[1, p, i]
                fins_out[4, p, i] = lift
                fins_out[12, p, i] = math.sqrt(max(square, 0.0))
                fins_out[5, p, i] = more * (more * square - 2.0 * (square + fins[5, p, i] * size_))
                if math.isinf(fins[5, p, i]):
                    fins_out[5, p, i] = 0.0
            k1s, k2s, k3s = fins[7, p], fins[8, p], fins[9, p]
            if n == 1:
                _sweep_one(
                    sea, nodes, water, w0, damping, inflow, feed, k1s, k2s, k3s, lag, late, sums
                )
            else:
                _sweep_two(
                    sea, nodes, water, w0, damping, inflow, feed, k1s, k2s, k3s, lag, late, sums
                )
            m0, m2, m4 = sums[0], sums[1], sums[2]
            g[0] = math.log(max(math.sqrt(max(m2, 0.0)), SMALLEST))
            for i in range(n):
                k1, k2, k3 = fins[7, p, i], fins[8, p, i], fins[9, p, i]
                command = k1 * k1 * m0 + (k2 * k2 - 2.0 * k1 * k3) * m2 + k3 * k3 * m4
                follow = share[i] * math.sqrt(max(sums[4 + 3 * i], 0.0))
                r = fins[1, p, i]
                incidence = (
                    share[i] * share[i] * sums[3 + 3 * i]
                    + 2.0 * gain[i] * r * sums[5 + 3 * i]
                    + r * r * m2
                )
                fins_out[0, p, i] = math.sqrt(max(command, 0.0))
                fins_out[1, p, i] = share[i] * math.sqrt(max(sums[3 + 3 * i], 0.0))
                fins_out[3, p, i] = math.sqrt(max(incidence, 0.0))
                # Angle before its limit, as the stall statistics need it.
                before = math.sqrt(max(sums[3 + 3 * i], 0.0))
                at = 1 + PER_PAIR * i
                g[at] = math.log(max(fins_out[0, p, i], SMALLEST))
                g[at + 1] = math.log(max(follow / rate_gain[i], SMALLEST))
                g[at + 2] = math.log(max(before, SMALLEST))
                g[at + 3] = 0.0
                if before > SMALLEST and m2 > SMALLEST * SMALLEST:
                    g[at + 3] = sums[5 + 3 * i] / (before * math.sqrt(m2))
            iteration += 1
            residual = 0.0
            for q in range(size):
                f[q] = g[q] - y[q]
                residual = max(residual, abs(f[q]))
            if residual < TOLERANCE:
                break
            if iteration == 1:
                for q in range(size):
                    y[q] = g[q]
                continue
            top = bottom = 0.0
            for q in range(size):
                change = f[q] - f_old[q]
                top += f[q] * change
                bottom += change * change
            theta = 0.0
            if iteration > 2 and bottom > 0.0:
                theta = min(max(top / bottom, -4.0), 4.0)
            if residual > 2.0 * size_old:
                # The accelerated step has diverged: take half a plain step.
                for q in range(size):
                    y[q] = y[q] + 0.5 * f[q]
            else:
                for q in range(size):
                    y[q] = g[q] - theta * (g[q] - g_old[q])
            size_old = residual
            for q in range(size):
                f_old[q] = f[q]
                g_old[q] = g[q]
        total = damping
        for i in range(n):
            w2 = w0 * w0
            c1, k2 = turned_gains(fins[7, p, i] - w2 * fins[9, p, i], fins[8, p, i], w0, delay[i])
            imag = (k2 - c1 * lag[i]) / (1.0 + w2 * lag[i] * lag[i])
            part = inflow_gain[i] * fins[1, p, i] + lift_gain[i] * imag
            total += w2 * fins[0, p, i] * part
            speed = math.exp(y[2 + PER_PAIR * i])
            limit = fins[3, p, i]
            _, _, clipped = clip_statistics(speed, 0.0, limit)
            travel = speed * _ROOT_2_PI
            if not math.isinf(limit):
                x = limit / speed
                travel *= 1.0 - math.exp(-0.5 * min(x * x, 1400.0))
                travel += limit * (1.0 - math.erf(x / _ROOT2))
            seen = fins_out[3, p, i]
            lost = fins_out[5, p, i]
            square = seen * seen + mean[i] * mean[i] + lost - fins_out[4, p, i] ** 2
            fins_out[2, p, i] = mean[i]
            fins_out[5, p, i] = math.sqrt(max(square, 0.0))
            fins_out[6, p, i] = clipped
            fins_out[7, p, i] = travel
            fins_out[8, p, i] = gain[i]
            fins_out[9, p, i] = lag[i]
            fins_out[10, p, i] = lift_gain[i]
            fins_out[11, p, i] = inflow_gain[i]
        # Inflow has its own gain and counts as damping, apart from the feedback.
        through = damping + w0 * w0 * inflow
        steady = steady and stable(w0, through, feed, nothing, k1s, k2s, k3s, lag, delay)
        hull_out[0, p] = sums[0]
        hull_out[1, p] = sums[1]
        hull_out[2, p] = sums[2]
        hull_out[3, p] = heel - held
        hull_out[4, p] = total / (2.0 * w0)
        hull_out[5, p] = residual
        hull_out[6, p] = iteration
        hull_out[7, p] = 1.0 if steady else 0.0

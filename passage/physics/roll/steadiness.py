"""Stability of the loop of hull, fins, lags and delays: compiled.

Private to the roll solvers. Without delay it is Routh's test of a polynomial; with delay it
is Nyquist's criterion, which is exact in the delay.
"""

from __future__ import annotations

import math

from passage.physics.compiled import compile_loop

#: Steps of the Nyquist curve per natural frequency, and per radian of the longest delay;
#: between them the curve counts as straight.
_PER_NATURAL, _PER_RADIAN = 40.0, 10.0
#: Most steps of one curve; a loop that needs more counts as unstable.
_MOST = 20_000


@compile_loop
def turned_gains(c1, k2, omega, delay):  # type: ignore[no-untyped-def]
    """Effective gains, at one frequency, of a control that acts with a delay.

    ``(c1 + i w k2) exp(-i w delay)`` is ``c1' + i w k2'``.

    Parameters
    ----------
    c1 : float
        Gain in phase with the roll, ``k1 - w^2 k3``. [dimensionless]
    k2, omega, delay : float
        Rate gain [s], frequency w [rad/s], delay [s].

    Returns
    -------
    float, float
        ``c1'`` [dimensionless] and ``k2'`` [s].
    """
    if delay == 0.0:
        return c1, k2
    cos = math.cos(omega * delay)
    # sin(w d)/w, whose limit at zero frequency is the delay.
    sin = math.sin(omega * delay) / omega if omega > 0.0 else delay
    return c1 * cos + omega * omega * k2 * sin, k2 * cos - c1 * sin


@compile_loop
def _routh(base1, base2, moment, k1, k2, k3, lag):  # type: ignore[no-untyped-def]
    """Routh-Hurwitz test of a polynomial in s of degree 3 (one pair) or 4 (two pairs)."""
    n = moment.size
    second = lag[1] if n == 2 else 0.0
    s, q = lag[0] + second, lag[0] * second
    p0, p1, p2 = 1.0, base1 + s, base2 + s * base1 + q
    p3, p4 = s * base2 + q * base1, q * base2
    for i in range(n):
        other = lag[1 - i] if n == 2 else 0.0
        p0 += moment[i] * k1[i]
        p1 += moment[i] * (k2[i] + other * k1[i])
        p2 += moment[i] * (k3[i] + other * k2[i])
        p3 += moment[i] * other * k3[i]
    if p0 <= 0.0 or p1 <= 0.0 or p2 <= 0.0 or p3 <= 0.0:
        return False
    return p3 * p2 * p1 > p4 * p1 * p1 + p3 * p3 * p0


@compile_loop
def _root(square, slope, size):  # type: ignore[no-untyped-def]
    """Frequency, with a margin, above which ``square w^2 > slope w + size``. [rad/s]"""
    return 1.01 * (slope + math.sqrt(slope * slope + 4.0 * square * size)) / (2.0 * square)


@compile_loop
def _nyquist(w0, base1, base2, moment, k1, k2, k3, lag, delay):  # type: ignore[no-untyped-def]
    """Nyquist's criterion: the loop is stable if its curve does not encircle zero.

    The frequency runs from zero to where the hull's inertia exceeds anything the fins can do.
    Over that range D(i w) of a stable loop goes from the right of zero through the upper half
    plane to the left. Crossings of the positive real axis are counted with their direction;
    in a stable loop they sum to zero.
    """
    n = moment.size
    static, size, slope, longest = 1.0, 1.0, 0.0, 0.0
    slower, inertia = 0.0, base2
    for i in range(n):
        static += moment[i] * k1[i]
        size += abs(moment[i] * k1[i])
        slope += abs(moment[i] * k2[i])
        slower += abs(moment[i] * k3[i]) / lag[i]
        inertia -= abs(moment[i] * k3[i])
        longest = max(longest, delay[i])
    if static <= 0.0 or base1 <= 0.0:
        return False
    # Above ``last``, base2 w^2 > size + slope w; the gain on acceleration enters through its
    # lag or as inertia, whichever gives the lower frequency.
    last = _root(base2, slope + slower, size)
    if inertia > 0.0:
        last = min(last, _root(inertia, slope, size))
    step = w0 / _PER_NATURAL
    if longest > 0.0:
        step = min(step, 1.0 / (_PER_RADIAN * longest))
    count = int(last / step) + 2
    if count > _MOST:
        return False
    step = last / count
    turns = 0
    re_before, im_before = static, 0.0
    for m in range(1, count + 1):
        w = step * m
        w2 = w * w
        re, im = 1.0 - w2 * base2, base1  # im over w
        for i in range(n):
            c1, rate = turned_gains(k1[i] - w2 * k3[i], k2[i], w, delay[i])
            part = moment[i] / (1.0 + w2 * lag[i] * lag[i])
            re += part * (c1 + w2 * rate * lag[i])
            im += part * (rate - c1 * lag[i])
        if m == 1:
            if im < 0.0:
                turns -= 1
        elif (im < 0.0) != (im_before < 0.0):
            at = re_before + (re - re_before) * im_before / (im_before - im)
            if at > 0.0:
                turns += -1 if im < 0.0 else 1
        re_before, im_before = re, im
    return turns == 0


@compile_loop
def stable(w0, damping, moment, inflow, k1, k2, k3, lag, delay):  # type: ignore[no-untyped-def]
    """Whether small motions of the loop die out.

    The loop is s^2/w0^2 + damping s/w0^2 + 1 plus the fins with their lags and delays;
    ``moment`` is the moment ratio times the lift gain.

    w0 and damping in [rad/s]; moment dimensionless, inflow, lag and delay in [s], gains k1
    dimensionless, k2 [s], k3 [s2]; arrays (pairs,).
    """
    base1, base2 = damping / (w0 * w0), 1.0 / (w0 * w0)
    late = 0.0
    for i in range(moment.size):
        base1 += moment[i] * inflow[i]
        late = max(late, delay[i] * abs(moment[i]))
    if late > 0.0:
        return _nyquist(w0, base1, base2, moment, k1, k2, k3, lag, delay)
    return _routh(base1, base2, moment, k1, k2, k3, lag)

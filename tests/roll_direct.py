"""The fixed point of the linearised roll equation in plain numpy.

What the compiled ``passage.physics.roll.solver.solve_loop`` is held to: the same packing
and the same answers, written over whole arrays.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.special import erf, erfc

from passage.physics.roll.linearisation import (
    QUADRATIC_FACTOR,
    SIGN_FACTOR,
    clipped_mean_std,
    limit_gain,
    mean_absolute_clipped,
)
from passage.physics.roll.packing import SHORTEST_LAG_S
from passage.physics.roll.solver import (
    MAX_ITERATIONS,
    PANEL_POINTS,
    PANEL_WEIGHTS,
    PER_PAIR,
    SMALLEST,
    STALL_REACH,
    STALL_SCATTER,
    TOLERANCE,
)

FloatArray = NDArray[np.float64]
_BLOCK = 512
_NORM = 1.0 / np.sqrt(2.0 * np.pi)


def _sweep(
    energy: FloatArray,
    nodes: FloatArray,
    w0: FloatArray,
    damping: FloatArray,
    inflow: FloatArray,
    feed: FloatArray,
    k: tuple[FloatArray, FloatArray, FloatArray],
    lag: FloatArray,
    delay: FloatArray,
    more: FloatArray,
) -> tuple[FloatArray, ...]:
    """Moments m0, m2, m4 (P,) and per pair (P, n): feedback, rate, cross."""
    w = nodes
    w2 = w * w
    k1, k2, k3 = (a[..., None] for a in k)
    c1 = k1 - w2 * k3
    tau = lag[..., None]
    follow = 1.0 / (1.0 + w2 * tau * tau)
    seen = (c1 + 1j * w * k2) * np.exp(-1j * w * delay[..., None])
    # The imaginary part over w; at no frequency at all its limit.
    some = np.where(w > 0.0, w, 1.0)
    c1, k2 = seen.real, np.where(w > 0.0, seen.imag / some, k2 - c1 * delay[..., None])
    imag = (k2 - c1 * tau) * follow
    re = 1.0 - w2 / (w0 * w0)[:, None] + more[:, 0]
    re = re + np.sum(feed[..., None] * (c1 + w2 * k2 * tau) * follow, axis=1)
    im = (damping / (w0 * w0) + inflow)[:, None] + more[:, 1]
    im = im + np.sum(feed[..., None] * imag, axis=1)
    e = energy / (re * re + w2 * im * im)
    f = e[:, None, :] * (c1 * c1 + w2 * k2 * k2) * follow
    return (
        e.sum(-1),
        (e * w2).sum(-1),
        (e * w2 * w2).sum(-1),
        f.sum(-1),
        (f * w2).sum(-1),
        (e[:, None, :] * w2 * imag).sum(-1),
    )


def stable_direct(
    w0: FloatArray,
    damping: FloatArray,
    moment: FloatArray,
    inflow: FloatArray,
    k1: FloatArray,
    k2: FloatArray,
    k3: FloatArray,
    lag: FloatArray,
    delay: FloatArray,
) -> NDArray[np.bool_]:
    """Routh-Hurwitz test, or the count of turns where there is a delay."""
    late = np.any(delay * moment > 0.0, axis=1)
    if late.any():
        given = (w0, damping, moment, inflow, k1, k2, k3, lag)
        found = stable_direct(*given, np.zeros_like(delay))
        found[late] = _few_turns(*(a[late] for a in (*given, delay)))
        return found
    base0 = np.ones_like(w0)
    base1 = damping / w0**2 + np.sum(moment * inflow, axis=1)
    base2 = 1.0 / w0**2
    if moment.shape[1] == 1:
        t = lag[:, 0]
        p0 = base0 + (moment * k1)[:, 0]
        p1 = base1 + t * base0 + (moment * k2)[:, 0]
        p2 = base2 + t * base1 + (moment * k3)[:, 0]
        p3 = t * base2
        return np.asarray((p0 > 0) & (p1 > 0) & (p2 > 0) & (p2 * p1 > p3 * p0))
    s, q = lag.sum(axis=1), lag.prod(axis=1)
    other = lag[:, ::-1]
    p0 = base0 + np.sum(moment * k1, axis=1)
    p1 = base1 + s * base0 + np.sum(moment * (k2 + other * k1), axis=1)
    p2 = base2 + s * base1 + q * base0 + np.sum(moment * (k3 + other * k2), axis=1)
    p3 = s * base2 + q * base1 + np.sum(moment * other * k3, axis=1)
    p4 = q * base2
    positive = (p0 > 0) & (p1 > 0) & (p2 > 0) & (p3 > 0)
    return np.asarray(positive & (p3 * p2 * p1 > p4 * p1 * p1 + p3 * p3 * p0))


def _few_turns(
    w0: FloatArray,
    damping: FloatArray,
    moment: FloatArray,
    inflow: FloatArray,
    k1: FloatArray,
    k2: FloatArray,
    k3: FloatArray,
    lag: FloatArray,
    delay: FloatArray,
) -> NDArray[np.bool_]:
    """Half a turn of the loop's curve about zero, and no more, from 0 to 400 rad/s."""
    s = 1j * np.concatenate([np.linspace(0.0, 30.0, 6001), np.geomspace(30.1, 400.0, 2000)])
    curve = 1.0 + (damping / w0**2 + np.sum(moment * inflow, axis=1))[:, None] * s
    curve = curve + (s / w0[:, None]) ** 2
    for i in range(moment.shape[1]):
        m, a, b, c, t, d = (x[:, i : i + 1] for x in (moment, k1, k2, k3, lag, delay))
        curve = curve + m * (a + b * s + c * s**2) * np.exp(-s * d) / (1.0 + t * s)
    turned = np.unwrap(np.angle(curve), axis=1)
    return np.asarray((curve[:, 0].real > 0) & (np.abs(turned[:, -1] - np.pi) < 0.5 * np.pi))


def stall_statistics_direct(
    std: FloatArray,
    mean: FloatArray,
    limit: FloatArray,
    std_inflow: FloatArray,
    correlation: FloatArray,
    stall: FloatArray,
) -> tuple[FloatArray, ...]:
    """What lies beyond the stall; see ``solver.stall_statistics``."""
    out = [np.zeros(std.shape) for _ in range(5)]
    rho = np.clip(correlation, -1.0, 1.0)
    tied = rho * std_inflow
    scatter = np.maximum(np.sqrt(1.0 - rho * rho), STALL_SCATTER) * std_inflow
    scatter = np.maximum(scatter, 1e-12)
    for side in (1.0, -1.0):
        reach = np.minimum(limit, side * mean + STALL_REACH * std)
        reach = reach + STALL_REACH * np.abs(tied) + 6.0 * scatter
        near = ~np.isinf(stall) & (reach >= stall)
        if near.any():
            args = (std, side * mean, limit, tied, scatter, stall)
            sums = _stall_side(*(a[near] for a in args))
            for total, term, sign in zip(out, sums, (1.0, side, 1.0, 1.0, 1.0), strict=True):
                total[near] += sign * term
    return tuple(out)


def _stall_side(
    std: FloatArray,
    mean: FloatArray,
    limit: FloatArray,
    tied: FloatArray,
    scatter: FloatArray,
    stall: FloatArray,
) -> tuple[FloatArray, ...]:
    """One side of the stall, flat arrays: part, excess, with angle, size, square."""
    top = STALL_REACH
    last = np.clip((limit - mean) / std, -top, top)
    slope = std + tied
    rising = slope > 1e-12
    safe = np.where(rising, slope, 1.0)
    first = np.where(rising, (stall - 6.0 * scatter - mean) / safe, -top)
    middle = np.where(rising, (stall + 6.0 * scatter - mean) / safe, last)
    first = np.minimum(np.maximum(first, -top), last)
    middle = np.minimum(np.maximum(middle, first), last)
    low = np.stack([first, middle, last])
    half = 0.5 * (np.stack([middle, last, np.full_like(last, top)]) - low)
    z = low[..., None] + half[..., None] * (1.0 + PANEL_POINTS)
    s, d, r = std[:, None], limit[:, None], scatter[:, None]
    angle = np.clip(mean[:, None] + s * z, -d, d)
    over = angle + tied[:, None] * z - stall[:, None]
    t = over / r
    w = PANEL_WEIGHTS * half[..., None] * np.exp(-0.5 * z * z) * _NORM * (t >= -6.0)
    q = 0.5 * erfc(-t / np.sqrt(2.0))
    bell = _NORM * np.exp(-0.5 * np.minimum(t * t, 1400.0))
    size = r * bell + over * q
    square = (r * r + over * over) * q + over * r * bell
    part, mean_over, with_angle, second = (
        (w * a).sum(axis=(0, 2)) for a in (q, size, size * s * z, square)
    )
    return part, mean_over, with_angle, mean_over, second


def _one_pass(
    y: FloatArray,
    first: bool,
    energy: FloatArray,
    nodes: FloatArray,
    water: FloatArray,
    hull: FloatArray,
    fins: FloatArray,
) -> tuple[FloatArray, dict[str, FloatArray]]:
    """New estimate of the log rms values from the present one."""
    w0, zeta, b = hull[:3]
    moment, inflow, limit, rate_limit, lag0, stall, fall, k1, k2, k3, offset, rest, delay = fins
    rms = np.exp(y)
    command, demand, before = (rms[:, 1 + q :: PER_PAIR] for q in range(3))
    correlation = y[:, 4::PER_PAIR]
    damping = 2.0 * zeta * w0
    if not first:
        damping = damping + QUADRATIC_FACTOR * b * rms[:, 0]
        damping = damping + w0**2 * rest.sum(axis=1) * SIGN_FACTOR / rms[:, 0]
    gain = np.where(np.isinf(limit), 1.0, limit_gain(command, offset, limit))
    mean, clipped = clipped_mean_std(command, offset, limit)
    share = clipped / command
    rate_gain = np.maximum(erf(rate_limit / (np.sqrt(2.0) * demand)), 1e-9)
    lag = np.maximum(lag0, SHORTEST_LAG_S) / rate_gain
    flow = inflow * rms[:, :1]
    part, excess, with_angle, size, square = stall_statistics_direct(
        before, offset, limit, flow, correlation, stall
    )
    more = 1.0 + fall
    inflow_gain = 1.0 - more * part
    scale = np.where(before > 1e-6, before, 1.0)
    slant = (with_angle - part * correlation * before * flow) / scale**2
    lift_gain = gain - more * np.where(before > 1e-6, slant, part)
    lift = mean - more * excess
    edge = np.where(np.isinf(stall), 0.0, stall)
    lost = more * (more * square - 2.0 * (square + edge * size))
    held = np.sum(moment * lift, axis=1)
    passive = np.sum(moment * inflow_gain * inflow, axis=1)
    m0, m2, m4, a0, a2, cross = _sweep(
        energy,
        nodes,
        w0,
        damping,
        passive,
        moment * lift_gain,
        (k1, k2, k3),
        lag,
        delay,
        water,
    )
    c0, c2, c4 = (m[:, None] for m in (m0, m2, m4))
    asked = k1 * k1 * c0 + (k2 * k2 - 2.0 * k1 * k3) * c2 + k3 * k3 * c4
    new_command = np.sqrt(np.maximum(asked, 0.0))
    new_demand = share * np.sqrt(np.maximum(a2, 0.0)) / rate_gain
    seen = share**2 * a0 + 2.0 * gain * inflow * cross + inflow**2 * c2
    new_incidence = np.sqrt(np.maximum(seen, 0.0))
    new_before = np.sqrt(np.maximum(a0, 0.0))
    known = (new_before > SMALLEST) & (c2 > SMALLEST**2)
    scale = np.where(known, new_before * np.sqrt(np.where(known, c2, 1.0)), 1.0)
    g = np.empty_like(y)
    g[:, 0] = np.log(np.maximum(np.sqrt(np.maximum(m2, 0.0)), SMALLEST))
    for q, value in enumerate((new_command, new_demand, new_before)):
        g[:, 1 + q :: PER_PAIR] = np.log(np.maximum(value, SMALLEST))
    g[:, 4::PER_PAIR] = np.where(known, cross / scale, 0.0)
    state = {
        "m0": m0,
        "m2": m2,
        "m4": m4,
        "damping": damping,
        "held": held,
        "inflow": passive,
        "command": new_command,
        "angle": share * np.sqrt(np.maximum(a0, 0.0)),
        "mean": mean,
        "incidence": new_incidence,
        "gain": gain,
        "lag": lag,
        "lift_gain": lift_gain,
        "inflow_gain": inflow_gain,
        "beyond": np.sqrt(np.maximum(square, 0.0)),
        "lift_mean": lift,
        "lift": np.sqrt(np.maximum(seen_square(new_incidence, mean, lost, lift), 0.0)),
    }
    return g, state


def seen_square(
    incidence: FloatArray, mean: FloatArray, lost: FloatArray, lift: FloatArray
) -> FloatArray:
    """Variance of lift: that of incidence, less what the stall takes."""
    return np.asarray(incidence**2 + mean**2 + lost - lift**2)


def _solve_block(
    energy: FloatArray,
    nodes: FloatArray,
    more: FloatArray,
    hull: FloatArray,
    fins: FloatArray,
    hull_out: FloatArray,
    fins_out: FloatArray,
) -> None:
    points, n = fins.shape[1:]
    w0, zeta, _, heel = hull[:4]
    moment, inflow = fins[0], fins[1]
    k1, k2, k3, delay = fins[7], fins[8], fins[9], fins[12]
    steady = stable_direct(
        w0,
        2.0 * np.maximum(zeta, 1e-6) * w0,
        moment,
        inflow,
        k1,
        k2,
        k3,
        np.maximum(fins[4], SHORTEST_LAG_S),
        delay,
    )
    y = np.full((points, 1 + PER_PAIR * n), np.log(SMALLEST))
    y[:, 4::PER_PAIR] = 0.0
    f_old = np.zeros_like(y)
    g_old = np.zeros_like(y)
    size_old = np.full(points, np.inf)
    residual = np.full(points, np.inf)
    count = np.zeros(points)
    state: dict[str, FloatArray] = {}
    active = np.arange(points)
    for iteration in range(1, MAX_ITERATIONS + 1):
        g, part = _one_pass(
            y[active],
            iteration == 1,
            energy[active],
            nodes,
            more[active],
            hull[:, active],
            fins[:, active],
        )
        for name, value in part.items():
            if iteration == 1:
                state[name] = value
            else:
                state[name][active] = value
        f = g - y[active]
        residual[active] = np.abs(f).max(axis=1)
        count[active] = iteration
        going = residual[active] >= TOLERANCE
        active, g, f = active[going], g[going], f[going]
        if not active.size:
            break
        if iteration == 1:
            y[active] = g
            continue
        change = f - f_old[active]
        top, bottom = (f * change).sum(axis=1), (change * change).sum(axis=1)
        theta = np.zeros(active.size)
        if iteration > 2:
            safe = np.where(bottom > 0.0, bottom, 1.0)
            theta = np.where(bottom > 0.0, np.clip(top / safe, -4.0, 4.0), 0.0)
        stepped = g - theta[:, None] * (g - g_old[active])
        astray = residual[active] > 2.0 * size_old[active]
        y[active] = np.where(astray[:, None], y[active] + 0.5 * f, stepped)
        size_old[active] = residual[active]
        f_old[active], g_old[active] = f, g
    w2 = (w0 * w0)[:, None]
    lag, lift_gain, inflow_gain = state["lag"], state["lift_gain"], state["inflow_gain"]
    turned = (k1 - w2 * k3 + 1j * w0[:, None] * k2) * np.exp(-1j * w0[:, None] * delay)
    imag = (turned.imag / w0[:, None] - turned.real * lag) / (1.0 + w2 * lag * lag)
    part_of = moment * (inflow_gain * inflow + lift_gain * imag)
    total = state["damping"] + np.sum(w2 * part_of, axis=1)
    # The inflow acts with its own gain; it is damping, whatever the feedback.
    through = state["damping"] + w0 * w0 * state["inflow"]
    nothing = np.zeros_like(moment)
    steady &= stable_direct(w0, through, moment * lift_gain, nothing, k1, k2, k3, lag, delay)
    demand = np.exp(y[:, 2::PER_PAIR])
    hull_out[:] = (
        state["m0"],
        state["m2"],
        state["m4"],
        heel - state["held"],
        total / (2.0 * w0),
        residual,
        count,
        steady,
    )
    fins_out[:] = (
        state["command"],
        state["angle"],
        state["mean"],
        state["incidence"],
        state["lift_mean"],
        state["lift"],
        clipped_mean_std(demand, 0.0, fins[3])[1],
        mean_absolute_clipped(demand, fins[3]),
        state["gain"],
        lag,
        lift_gain,
        inflow_gain,
        state["beyond"],
    )


def _radiation(radiation: FloatArray, nodes: FloatArray, hull: FloatArray) -> FloatArray:
    """Stiffness and damping that the water adds to each point, (P, 2, nodes)."""
    w0, zeta, _, _, row, over = hull
    low = np.minimum(row.astype(int), radiation.shape[0] - 2)
    part = (row - low)[:, None, None]
    found = over[:, None, None] * ((1.0 - part) * radiation[low] + part * radiation[low + 1])
    at = np.clip(np.searchsorted(nodes, w0) - 1, 0, nodes.size - 2)
    along = ((w0 - nodes[at]) / (nodes[at + 1] - nodes[at]))[:, None]
    p = np.arange(w0.size)
    natural = (1.0 - along) * found[p, :, at] + along * found[p, :, at + 1]
    inertia, damping = natural[:, :1] / w0[:, None] ** 2, 2.0 * zeta / w0
    share = np.where(natural[:, 1] > damping, damping / np.maximum(natural[:, 1], 1e-300), 1.0)
    more = share[:, None] * (found[:, 1] - natural[:, 1:])
    return np.stack([nodes**2 * inertia - found[:, 0], more], axis=1)


def solve_direct(
    energy: FloatArray,
    nodes: FloatArray,
    radiation: FloatArray,
    hull: FloatArray,
    fins: FloatArray,
    hull_out: FloatArray,
    fins_out: FloatArray,
) -> None:
    """Every point to its fixed point, a block at a time."""
    finite = np.isfinite(hull).all(axis=0) & ~np.isnan(fins).any(axis=(0, 2))
    finite &= np.isfinite(energy).all(axis=1)
    hull_out[:] = np.nan
    hull_out[7] = 0.0
    fins_out[:] = np.nan
    rows = np.flatnonzero(finite)
    for start in range(0, rows.size, _BLOCK):
        part = rows[start : start + _BLOCK]
        out_hull = np.empty((hull_out.shape[0], part.size))
        out_fins = np.empty((fins_out.shape[0], part.size, fins.shape[2]))
        more = _radiation(radiation, nodes, hull[:, part])
        _solve_block(energy[part], nodes, more, hull[:, part], fins[:, part], out_hull, out_fins)
        hull_out[:, part] = out_hull
        fins_out[:, part] = out_fins

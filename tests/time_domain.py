"""Roll in the time domain, with nothing linearised.

A vessel rolling in an irregular short-crested sea made of many components, with a
real angle limit, rate limit, lag, stall and quadratic damping, stepped by the
classical fourth-order Runge-Kutta rule. Written apart from the package: it shares
only the equation of motion and the definition of the wave slope coefficient.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numba import njit
from roll_truth import Ship, System, cells


@dataclass(frozen=True)
class Run:
    """What the record says, after the start is thrown away."""

    roll_rms: float
    roll_rms_error: float
    mean_heel: float
    mean_heel_error: float
    lift_square: float
    fin_rms: float
    fin_rate_mean: float
    share_at_limit: float  # of angle or of rate
    share_angle: float
    share_rate: float
    share_stalled: float
    incidence_square: float
    beyond_square: float


def slope_record(
    systems: list[System], ship: Ship, samples: int, step: float, rng: np.random.Generator
) -> np.ndarray:
    """Effective wave slope as met: one period of a periodic realisation.

    Each of some 300 000 components of the directional spectrum goes to the
    Fourier frequency nearest to where it is met; those get random phases. The
    energy is kept exactly, so a mean over the whole period has no sampling error
    as long as the response is linear.
    """
    slope, met = cells(systems, ship)
    bins = np.fft.rfftfreq(samples, step) * 2 * np.pi
    width = bins[1]
    at = met / width
    low = np.minimum(at.astype(int), bins.size - 2)
    share = at - low
    variance = np.bincount(low, slope * (1 - share), bins.size)
    variance += np.bincount(low + 1, slope * share, bins.size)
    variance[0] = 0.0  # what is met at no frequency at all is a steady lean
    phase = rng.uniform(0, 2 * np.pi, bins.size)
    return np.fft.irfft(np.sqrt(variance / 2) * np.exp(1j * phase), samples) * samples


@njit(cache=False)
def _lift(x, stall, fall):
    size = abs(x)
    if size > stall:
        size = stall - fall * (size - stall)
    return size if x >= 0 else -size


@njit(cache=False)
def _step_all(slope, step, p, heel, out):
    """March; slope is sampled at half steps. p: parameters, see simulate."""
    w0, zeta, quad = p[0], p[1], p[2]
    moment, inflow, limit, rate_limit, lag = p[3], p[4], p[5], p[6], p[7]
    stall, fall, k1, k2, k3, offset, rest, smooth, delay = p[8:17]
    y = np.zeros(4)  # roll, rate, fin angle, slow mean of roll
    y[0] = heel
    y[3] = heel
    past = np.full(int(delay / step) + 4, offset)  # what was asked at whole steps
    back = delay / step
    d = np.zeros((4, 4))
    parts = (0.0, 0.5, 0.5, 1.0)
    for n in range(out.shape[0]):
        for stage in range(4):
            h = parts[stage] * step
            if stage == 0:
                phi, v, fin, slow = y
            else:
                phi = y[0] + h * d[stage - 1, 0]
                v = y[1] + h * d[stage - 1, 1]
                fin = y[2] + h * d[stage - 1, 2]
                slow = y[3] + h * d[stage - 1, 3]
            alpha = slope[2 * n + (0 if stage == 0 else (2 if stage == 3 else 1))]
            lift = _lift(fin + inflow * v, stall, fall)
            push = rest * np.tanh(v / 1e-4)
            acc = w0 * w0 * (alpha + heel - moment * lift - push - phi)
            acc -= 2 * zeta * w0 * v + quad * abs(v) * v
            want = offset + k1 * (phi - slow) + k2 * v + k3 * acc
            if delay > 0.0:
                # The control acts on what it saw a while ago: between whole steps a
                # straight line. The delay is a step or more, so all of it is known.
                if stage == 0:
                    past[n % past.size] = want
                at = max(n + parts[stage] - back, 0.0)
                whole = int(at)
                share = at - whole
                want = past[whole % past.size] * (1.0 - share)
                if share > 0.0:
                    want += past[(whole + 1) % past.size] * share
            asked = min(max(want, -limit), limit)
            turn = min(max((asked - fin) / lag, -rate_limit), rate_limit)
            d[stage, 0], d[stage, 1], d[stage, 2] = v, acc, turn
            d[stage, 3] = (phi - slow) / smooth
            if stage == 0:
                out[n, 0], out[n, 1], out[n, 2] = phi, v, fin
                out[n, 3], out[n, 4] = lift, turn
                out[n, 5] = abs(want) >= limit
                out[n, 6] = abs(asked - fin) >= rate_limit * lag
                beta = fin + inflow * v
                out[n, 7] = abs(beta) > stall
                out[n, 8] = beta * beta
                out[n, 9] = max(abs(beta) - stall, 0.0) ** 2
        for q in range(4):
            y[q] += step / 6 * (d[0, q] + 2 * d[1, q] + 2 * d[2, q] + d[3, q])


def simulate(
    systems: list[System],
    ship: Ship,
    heel: float = 0.0,
    rest: float = 0.0,
    *,
    records: int = 4,
    step: float = 0.1,
    seed: int = 1,
) -> Run:
    """Several records of the same sea, each with its own phases, 14 hours each.

    The control takes roll about its own slow mean (600 s), as a real one does.
    Errors are standard errors of the mean over the records.
    """
    if 0.0 < ship.delay < step:
        raise ValueError("a delay shorter than a step would need what is not yet known")
    rng = np.random.default_rng(seed)
    count = 2**19
    settle = int(3000 / step)
    p = np.array(
        [
            ship.omega0, ship.zeta, ship.quadratic, ship.moment, ship.inflow, ship.limit,
            ship.rate_limit, ship.lag, ship.stall, ship.fall, ship.k1, ship.k2, ship.k3,
            ship.offset, rest, 600.0, ship.delay,
        ]
    )  # fmt: skip
    rows = []
    for _ in range(records):
        slope = slope_record(systems, ship, 2 * count, step / 2, rng)
        # Start early on the same period, until the start is forgotten.
        slope = np.concatenate([slope[-2 * settle :], slope, slope[:2]])
        out = np.zeros((count + settle, 10))
        _step_all(slope, step, p, heel, out)
        kept = out[settle:]
        lift = kept[:, 3]
        rows.append(
            [
                kept[:, 0].var(),
                kept[:, 0].mean(),
                (lift**2).mean(),
                kept[:, 2].var(),
                np.abs(kept[:, 4]).mean(),
                ((kept[:, 5] > 0) | (kept[:, 6] > 0)).mean(),
                *kept[:, 5:10].mean(axis=0),
            ]
        )
    mean = np.mean(rows, axis=0)
    error = np.full(mean.size, np.nan)
    if records > 1:
        error = np.std(rows, axis=0, ddof=1) / np.sqrt(records)
    rms = np.sqrt(mean[0])
    return Run(
        roll_rms=rms,
        roll_rms_error=0.5 * error[0] / rms,
        mean_heel=mean[1],
        mean_heel_error=error[1],
        lift_square=mean[2],
        fin_rms=np.sqrt(mean[3]),
        fin_rate_mean=mean[4],
        share_at_limit=mean[5],
        share_angle=mean[6],
        share_rate=mean[7],
        share_stalled=mean[8],
        incidence_square=mean[9],
        beyond_square=mean[10],
    )


def without_control(ship: Ship) -> Ship:
    """The same ship with fins held at zero."""
    return replace(ship, k1=0.0, k2=0.0, k3=0.0, offset=0.0)

"""Roll by brute force: direct integration over 1000 frequencies and 720 directions.

Written apart from the package: own spectrum, own spreading, own linearisation, no
tables, no nodes, a plain damped iteration. One point at a time and slow. It is the
truth the tables are held against.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import erf

G = 9.80665
OMEGA = np.geomspace(0.12, 12.0, 1000)
THETA = (np.arange(720) + 0.5) * 2 * np.pi / 720


@dataclass(frozen=True)
class System:
    """One wave system: spread None is cos^2 over +-90 degrees, else s of cos-2s."""

    height_m: float
    peak_period_s: float
    mu_rad: float
    gamma: float
    s: float | None


@dataclass(frozen=True)
class Ship:
    """Hull and one pair of fins, in the terms of the roll equation."""

    omega0: float
    zeta: float
    quadratic: float
    beam: float
    speed: float
    slope: float | None = None
    moment: float = 0.0
    inflow: float = 0.0
    limit: float = np.inf
    rate_limit: float = np.inf
    lag: float = 0.2
    stall: float = np.inf
    fall: float = 0.5
    k1: float = 0.0
    k2: float = 0.0
    k3: float = 0.0
    offset: float = 0.0
    delay: float = 0.0


def wave_energy(system: System) -> np.ndarray:
    """Variance in each cell of OMEGA x THETA, adding up to Hs^2/16."""
    x = OMEGA * system.peak_period_s / (2 * np.pi)
    sigma = np.where(x > 1, 0.09, 0.07)
    with np.errstate(over="ignore", under="ignore"):
        base = x**-5.0 * np.exp(-1.25 * np.minimum(x**-4.0, 500.0))
    s = base * system.gamma ** np.exp(-((x - 1) ** 2) / (2 * sigma**2)) * OMEGA
    away = THETA - system.mu_rad
    if system.s is None:
        d = np.maximum(np.cos(away), 0) ** 2
    else:
        d = np.abs(np.cos(away / 2)) ** (2 * system.s)
    return system.height_m**2 / 16 * np.outer(s / s.sum(), d / d.sum())


def cells(systems: list[System], ship: Ship) -> tuple[np.ndarray, np.ndarray]:
    """Variance of effective slope and |encounter frequency| of every cell that counts."""
    k = OMEGA**2 / G
    half = k * ship.beam / 2
    r = np.exp(-0.42 * k * ship.beam) * np.sin(half) / half
    if ship.slope is not None:
        r = ship.slope * r  # its value for long waves
    energy = sum(wave_energy(s) for s in systems)
    slope = energy * (r * k)[:, None] ** 2 * np.sin(THETA)[None, :] ** 2
    met = np.abs(OMEGA[:, None] - np.outer(k, ship.speed * np.cos(THETA)))
    # Directions mirror about the keel: add the two sides, halving the work.
    slope = slope[:, :360] + slope[:, :359:-1]
    met = met[:, :360]
    keep = slope > 1e-9 * slope.max()
    return slope[keep], met[keep]


def direct(systems: list[System], ship: Ship) -> dict[str, float]:
    """Linearised roll with every sum taken over all cells."""
    e, w = cells(systems, ship)
    w2 = w * w
    phi_rate = command = demand = 0.0
    gain = share = rate_gain = lift_gain = inflow_gain = 1.0
    mean = ship.offset
    kept = ship.offset
    controlled = ship.moment != 0 and (ship.k1 or ship.k2 or ship.k3)
    # The control is c1 + i w k2, seen a delay late; fins follow by 1/(1 + i w lag).
    seen = (ship.k1 - w2 * ship.k3 + 1j * w * ship.k2) * np.exp(-1j * w * ship.delay)
    c1, k2 = seen.real, seen.imag / w
    control2 = c1**2 + w2 * k2**2
    spring = 1 - w2 / ship.omega0**2
    old = np.zeros(4)
    for step in range(400):
        c = 2 * ship.zeta * ship.omega0 + np.sqrt(8 / np.pi) * ship.quadratic * phi_rate
        lag = ship.lag / rate_gain
        follow2 = 1 / (1 + w2 * lag**2)
        in_phase = (c1 + w2 * k2 * lag) * follow2
        rate_phase = (k2 - c1 * lag) * follow2  # times w
        m = ship.moment if controlled else 0.0
        real = spring + m * lift_gain * in_phase
        damp = c / ship.omega0**2 + ship.moment * inflow_gain * ship.inflow
        imag2 = w2 * (damp + m * lift_gain * rate_phase) ** 2
        r = e / (real**2 + imag2)
        roll = np.sqrt(r.sum())
        fin2 = control2 * follow2 if controlled else np.zeros(1)
        before = np.sqrt((r * fin2).sum())
        cross = ship.inflow * (r * w2 * rate_phase).sum() if controlled else 0.0
        new = np.array(
            [
                np.sqrt((r * w2).sum()),
                np.sqrt((r * control2).sum()) if controlled else 0.0,
                share * np.sqrt((r * fin2 * w2).sum()) / rate_gain,
                before,
            ]
        )
        if np.all(np.abs(new - old) <= 1e-6 * new):
            break
        relaxed = new if step == 0 else 0.7 * new + 0.3 * old
        old = relaxed
        phi_rate, command, demand, _ = np.maximum(relaxed, 1e-12)
        gain, mean, clipped = clip(command, ship.offset, ship.limit)
        share = clipped / command
        rate_gain = erf(ship.rate_limit / np.sqrt(2) / demand)
        kept, lift_gain, inflow_gain = stalled(
            before, ship.offset, ship, ship.inflow * new[0], cross, mean, gain
        )
    else:
        raise RuntimeError("brute-force iteration did not settle")
    return {"roll": roll, "rate": new[0], "held": ship.moment * kept, "share": 1 - gain}


def clip(std: float, mean: float, limit: float) -> tuple[float, float, float]:
    """Gain, mean and rms after a limit, by quadrature over the bell curve."""
    if not np.isfinite(limit):
        return 1.0, mean, std
    inside = 0.5 * (erf((limit - mean) / std / np.sqrt(2)) + erf((limit + mean) / std / np.sqrt(2)))
    x = np.linspace(-8, 8, 4001)
    p = np.exp(-x * x / 2)
    p /= p.sum()
    y = np.clip(mean + std * x, -limit, limit)
    m = (p * y).sum()
    return float(inside), float(m), float(np.sqrt((p * (y - m) ** 2).sum()))


def stalled(
    angle: float,
    mean_asked: float,
    ship: Ship,
    inflow: float,
    cross: float,
    mean: float,
    gain: float,
) -> tuple[float, float, float]:
    """Mean lift and gains by summing over both Gaussians on a square grid.

    What the stall takes is counted apart from what the limit takes, because the
    limit acts on the angle asked for and the stall on the angle after the lag.
    """
    if not np.isfinite(ship.stall) or ship.moment == 0:
        return mean, gain, 1.0
    z = np.linspace(-6, 6, 301)
    p = np.exp(-z * z / 2)
    p /= p.sum()
    if angle < 1e-9:
        x, p2 = np.zeros((1, 1)), p[:, None]
        v = inflow * z[:, None]
    else:
        rho = np.clip(cross / (angle * inflow), -0.9999, 0.9999) if inflow > 0 else 0.0
        x = angle * z[None, :]
        v = inflow * (rho * z[None, :] + np.sqrt(1 - rho**2) * z[:, None])
        p2 = p[:, None] * p[None, :]
    beta = np.clip(mean_asked + x, -ship.limit, ship.limit) + v
    over = np.maximum(np.abs(beta) - ship.stall, 0) * np.sign(beta)
    lost = 1 + ship.fall
    beyond = (p2 * (over != 0)).sum()
    inflow_gain = 1 - lost * beyond
    kept = mean - lost * (p2 * over).sum()
    if angle < 1e-9:
        return kept, gain, inflow_gain
    lift_gain = gain - lost * ((p2 * over * x).sum() - beyond * cross) / angle**2
    return kept, lift_gain, inflow_gain
